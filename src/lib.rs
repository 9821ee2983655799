//! Pointage times dough fermentation by temperature.
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod ambient;
pub mod error;
pub mod ferment;
pub mod formula;
pub mod heat;
#[cfg(feature = "json")]
pub mod json;
#[cfg(feature = "learn")]
pub mod learn;
pub mod plan;
pub mod rate;
pub mod table;
pub mod units;

mod numeric;

pub use error::{Error, Result};
