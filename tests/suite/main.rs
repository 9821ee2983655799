//! Pointage held against what nobody here computed with it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod conduction;
mod endpoints;
mod ferment;
mod heat_balance;
mod plan;
mod reference;
mod water_rules;
