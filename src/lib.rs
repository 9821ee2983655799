//! Pointage times dough fermentation by temperature: what water, how much yeast, when ripe, when to bake.
//!
//! | question | where |
//! |---|---|
//! | when is it ripe, how much yeast | [`ferment`] |
//! | percentages, masses, a dose too small for the scale | [`formula`] |
//! | water, ice, friction, how fast a dough follows its room | [`heat`] |
//! | the whole day, from the preferment to the last load | [`plan`] |
//! | speed of yeast against temperature | [`rate`] |
//! | a room or a dough against time | [`ambient`] |
//! | every number with its source | [`table`] |
//!
//! The [`guide`] has a first bake, the keys of a bake file, how-tos, the model and how far to trust it.
//!
//! The library opens no file, asks no clock, prints nothing and does not panic; every failure is an
//! [`Error`] of one readable line. Formulas count time in `f64` hours and temperature in °C; where a
//! reading and a difference could be confused they are types of [`units`].
//!
//! Whole questions as structs or as JSON text, and C functions, are in the crate `pointage-api`; the
//! program `pointage` is the crate `pointage-cli`.
//!
//! # Features
//! * `learn` (default): learning from a baker's log, and fits of rate laws; it brings linear algebra along.
//! * `schema`: JSON Schemas of the types that stand in requests and answers.
//!
//! Without them the crate depends on little more than `serde`, `toml` and `csv`.
#![forbid(unsafe_code)]
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod ambient;
pub mod budget;
pub mod error;
pub mod ferment;
pub mod formula;
pub mod guide;
pub mod heat;
#[cfg(feature = "learn")]
pub mod learn;
pub mod plan;
pub mod rate;
pub mod rows;
pub mod table;
pub mod units;

mod numeric;
mod toml_text;

pub use error::{Error, Result};

/// The README, whose examples run as tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
