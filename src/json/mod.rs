//! Questions and answers as serialisable objects, the same that `--json` prints.
//!
//! Keys carry their unit; an unknown key is refused. Every temperature is in °C, every mass in g.

pub mod friction;
pub mod ice;
pub mod plan;
pub mod scale;
pub mod tables;
pub mod water;

use crate::error::{Error, Result};
use crate::units::{Mass, Temperature};

/// A number that the question cannot do without; `name` is its key and flag.
fn required<T>(value: Option<T>, name: &str, for_what: &str) -> Result<T> {
    value.ok_or_else(|| Error::contradiction(format!("{name} is missing: give it for {for_what}")))
}

/// Reads a number as a temperature and names it when that fails.
fn celsius(value: f64, name: &str) -> Result<Temperature> {
    Temperature::celsius(value).map_err(|e| e.at(name))
}

/// Reads a number as a mass and names it when that fails.
fn grams(value: f64, name: &str) -> Result<Mass> {
    Mass::grams(value).map_err(|e| e.at(name))
}
