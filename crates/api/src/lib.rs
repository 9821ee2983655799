//! Questions and answers as serialisable objects, the same that `--json` prints.
//!
//! Keys carry their unit; an unknown key is refused. A value is a number in that unit, or a text with its own.
//! [`call`](call()) takes any question as text and is the door for every other language.

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod adjust;
mod assumption;
mod call;
#[cfg(feature = "capi")]
pub mod capi;
pub mod columns;
pub mod compare;
pub mod dose;
#[cfg(feature = "learn")]
pub mod fit_rate;
pub mod friction;
#[cfg(feature = "learn")]
pub mod friction_log;
pub mod ice;
pub mod keys;
#[cfg(feature = "learn")]
pub mod learn;
mod model;
pub mod new;
#[cfg(feature = "learn")]
mod parameter_file;
pub mod plan;
pub mod ready;
pub mod request;
pub mod scale;
#[cfg(feature = "schema")]
pub mod schema;
mod sentences;
mod stage;
pub mod steps;
pub mod tables;
pub mod water;
mod working_recipe;

pub use assumption::Assumption;
pub use call::{COMMANDS, TakeAnswer, VERSION, ask, call, refuse};
pub use model::{Model, ParameterOverrides};
pub use request::Request;
pub use sentences::{AnyFinding, Message, Remark, Sentence};
pub use stage::Until;

use pointage::ambient::Ambient;
use pointage::error::{Error, Result, check, echo};
use pointage::formula::YeastKind;
use serde::Serialize;

/// An answer as one line of JSON, its numbers rounded to 1e-9 of their unit, so that a sum of decimal
/// fractions prints as it was written.
///
/// # Errors
/// Only for an object that JSON cannot express, which no answer of this crate is.
///
/// ```
/// let line = pointage_api::to_line(&[0.1 + 0.2, 29.000000000000004])?;
/// assert_eq!(line, "[0.3,29.0]");
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn to_line<T: Serialize>(answer: &T) -> Result<String> {
    let mut line = Vec::with_capacity(512);
    let mut serializer = serde_json::Serializer::with_formatter(&mut line, Rounded);
    let written = answer.serialize(&mut serializer);
    written.map_err(|e| Error::malformed(e.to_string()))?;
    String::from_utf8(line).map_err(|e| Error::malformed(e.to_string()))
}

/// Appends a number as it stands in every answer; see [`to_line`].
///
/// ```
/// let mut row = b"29.0,".to_vec();
/// pointage_api::append_number(&mut row, 0.1 + 0.2);
/// assert_eq!(row, b"29.0,0.3");
/// ```
pub fn append_number(line: &mut Vec<u8>, value: f64) {
    use serde_json::ser::Formatter as _;
    // Writing to a vector does not fail.
    let _ = Rounded.write_f64(line, value);
}

/// A number as it stands in every answer: to 1e-9 of its unit.
#[must_use]
pub fn rounded(value: f64) -> f64 {
    // A huge number has no such digits, and would overflow.
    let rounded = match value.abs() < 1e15 {
        true => (value * 1e9).round() / 1e9,
        false => value,
    };
    // The addition turns -0.0 into 0.0.
    rounded + 0.0
}

struct Rounded;

impl serde_json::ser::Formatter for Rounded {
    fn write_f64<W: ?Sized + std::io::Write>(
        &mut self,
        to: &mut W,
        value: f64,
    ) -> std::io::Result<()> {
        serde_json::ser::CompactFormatter.write_f64(to, rounded(value))
    }
}

/// Refuses a number of a field that is not in `low..=high`.
fn check_field(
    field: &str,
    what: &str,
    value: f64,
    (low, high): (f64, f64),
    unit: &'static str,
) -> Result<f64> {
    check(what, value, low, high, unit).map_err(|e| e.of_field(field))
}

/// The kind of yeast asked for; instant, and said so, when none is.
fn yeast_kind(asked: Option<YeastKind>, notes: &mut Vec<Remark>) -> YeastKind {
    asked.unwrap_or_else(|| {
        notes.push(Assumption::InstantYeast.into());
        YeastKind::Instant
    })
}

/// Rooms by their names, each as pairs of hour and °C with straight lines between them.
pub type Rooms = std::collections::BTreeMap<String, Vec<[f64; 2]>>;

/// The room of a name.
fn room(rooms: &Rooms, name: &str) -> Result<Ambient> {
    let Some(course) = rooms.get(name) else {
        let name = echo(name);
        let why = format!(
            "the room_record {name:?} is missing; give it as {{{name:?}: [[0, 20], [8, 17]]}}, pairs of hour and °C"
        );
        return Err(Error::contradiction(why).of_field("rooms"));
    };
    ramps(course, "rooms")
}

/// A room from pairs of hour and °C.
fn ramps(course: &[[f64; 2]], field: &str) -> Result<Ambient> {
    let knots: Vec<(f64, f64)> = course.iter().map(|&[h, c]| (h, c)).collect();
    Ambient::ramps(&knots).map_err(|e| e.of_field(field))
}

/// Refuses a room that nobody asked for: its name is a mistake.
fn no_other_rooms(rooms: &Rooms, asked: &[String]) -> Result<()> {
    let Some(name) = rooms.keys().find(|name| !asked.contains(name)) else {
        return Ok(());
    };
    let asked = asked.iter().map(String::as_str);
    Err(Error::unknown_name("room_record", name, asked).of_field("rooms"))
}
