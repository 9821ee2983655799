//! The library held against what nobody here computed with it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[cfg(feature = "learn")]
mod bake_kitchens;
mod conduction;
mod defaults;
mod ferment;
#[cfg(feature = "learn")]
mod figures;
#[cfg(feature = "learn")]
mod friction_log;
mod heat_balance;
#[cfg(feature = "learn")]
mod learn;
#[cfg(feature = "learn")]
mod learn_kitchens;
#[cfg_attr(not(feature = "learn"), allow(dead_code))]
mod noise;
mod plan;
mod properties;
#[cfg(feature = "learn")]
mod published;
#[cfg(feature = "learn")]
mod rate_fits;
mod reference;
mod source_values;
#[cfg(feature = "learn")]
mod trust;
mod uncertainty_bounds;
mod water_rules;
