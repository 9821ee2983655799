//! Pointage held against what nobody here computed with it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[cfg(feature = "json")]
mod call;
#[cfg(feature = "cli")]
mod cli;
mod embed;
mod endpoints;
mod ferment;
#[cfg(feature = "json")]
mod fuzz;
mod heat_balance;
mod plan;
#[cfg(feature = "cli")]
mod readme;
mod reference;
#[cfg(feature = "json")]
mod schema;
mod water_rules;
