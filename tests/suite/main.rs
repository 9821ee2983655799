//! Pointage held against what nobody here computed with it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[cfg(feature = "cli")]
mod bad;
#[cfg(feature = "cli")]
mod batch;
#[cfg(feature = "json")]
mod call;
#[cfg(feature = "cli")]
mod cli;
#[cfg(feature = "cli")]
mod cli_learn;
#[cfg(feature = "cli")]
mod cli_plan;
mod conduction;
#[cfg(all(feature = "json", feature = "learn"))]
mod corpus;
mod doubts;
mod embed;
mod endpoints;
mod ferment;
#[cfg(feature = "learn")]
mod friction_log;
#[cfg(feature = "json")]
mod fuzz;
#[cfg(feature = "cli")]
mod golden;
mod heat_balance;
#[cfg(feature = "learn")]
mod learn;
#[cfg(feature = "learn")]
#[cfg(feature = "learn")]
mod noise;
#[cfg(feature = "cli")]
mod outputs;
mod plan;
mod printed;
#[cfg(feature = "cli")]
mod program;
mod properties;
#[cfg(feature = "learn")]
mod rate_fits;
#[cfg(feature = "cli")]
mod readme;
mod reference;
#[cfg(feature = "cli")]
mod same_answer;
#[cfg(feature = "json")]
mod schema;
mod usual;
mod water_rules;
