//! Pointage held against what nobody here computed with it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[cfg(feature = "cli")]
mod cli;
mod endpoints;
mod heat_balance;
mod reference;
