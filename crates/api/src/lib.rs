//! Questions and answers as serialisable objects, the same that `--json` prints.
//!
//! Keys carry their unit; an unknown key is refused. Every temperature is in °C, every mass in g.
//! [`call`](call()) takes any question as text and is the door for every other language.

pub mod adjust;
mod call;
pub mod compare;
pub mod dose;
#[cfg(feature = "learn")]
pub mod fit_rate;
pub mod friction;
#[cfg(feature = "learn")]
pub mod friction_log;
pub mod ice;
#[cfg(feature = "learn")]
pub mod learn;
#[cfg(feature = "learn")]
mod parameter_file;
mod parameter_overrides;
pub mod plan;
pub mod ready;
pub mod scale;
#[cfg(feature = "schema")]
pub mod schema;
mod sentences;
mod stage;
pub mod tables;
pub mod water;

pub use call::{COMMANDS, VERSION, call, refuse};
pub use parameter_overrides::ParameterOverrides;
pub use sentences::{Finding, Message, Remark, Sentence};
pub use stage::Until;

use pointage::ambient::Ambient;
use pointage::error::{Error, Result, echo};
use pointage::formula::YeastKind;
use pointage::units::{Mass, Temperature};
use serde::{Deserialize, Serialize};

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
    let mut line = Vec::new();
    let mut serializer = serde_json::Serializer::with_formatter(&mut line, Rounded);
    answer
        .serialize(&mut serializer)
        .map_err(|e| Error::malformed(e.to_string()))?;
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

struct Rounded;

impl serde_json::ser::Formatter for Rounded {
    fn write_f64<W: ?Sized + std::io::Write>(
        &mut self,
        to: &mut W,
        value: f64,
    ) -> std::io::Result<()> {
        // A huge number has no such digits, and would overflow.
        let rounded = if value.abs() < 1e15 {
            (value * 1e9).round() / 1e9
        } else {
            value
        };
        // The addition turns -0.0 into 0.0.
        serde_json::ser::CompactFormatter.write_f64(to, rounded + 0.0)
    }
}

/// The kind of yeast asked for; instant, and said so, when none is.
fn yeast_kind(asked: Option<YeastKind>, notes: &mut Vec<String>) -> YeastKind {
    asked.unwrap_or_else(|| {
        notes.push("Assumed: instant yeast; otherwise give yeast (--yeast).".into());
        YeastKind::Instant
    })
}

/// Reads a field that has a usual value; null counts as left out.
fn null_is_usual<'d, T, D>(from: D) -> std::result::Result<T, D::Error>
where
    T: Default + Deserialize<'d>,
    D: serde::Deserializer<'d>,
{
    Option::deserialize(from).map(Option::unwrap_or_default)
}

/// Reads a whole number, which JSON may write as 24 or as 24.0; null counts as left out.
fn whole<'d, T, D>(from: D) -> std::result::Result<Option<T>, D::Error>
where
    T: TryFrom<u64>,
    D: serde::Deserializer<'d>,
{
    let Some(number) = Option::<serde_json::Number>::deserialize(from)? else {
        return Ok(None);
    };
    // Beyond 2^53 an f64 no longer tells whole numbers apart.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let decimal = number
        .as_f64()
        .filter(|v| v.fract() == 0.0 && (0.0..9_007_199_254_740_992.0).contains(v))
        .map(|v| v as u64);
    let whole = number.as_u64().or(decimal).and_then(|n| n.try_into().ok());
    let refuse = || {
        let given = pointage::error::shown(number.as_f64().unwrap_or(f64::NAN));
        serde::de::Error::custom(format!("{given} is no whole number that is allowed here"))
    };
    whole.map(Some).ok_or_else(refuse)
}

/// Rooms by their names, each as pairs of hour and °C with straight lines between them.
pub type Rooms = std::collections::BTreeMap<String, Vec<[f64; 2]>>;

/// The room of a name.
fn room(rooms: &Rooms, name: &str) -> Result<Ambient> {
    let Some(course) = rooms.get(name) else {
        let name = echo(name);
        return Err(Error::contradiction(format!(
            "the room_record {name:?} is missing; give it as {{{name:?}: [[0, 20], [8, 17]]}}, pairs of hour and °C"
        ))
        .at("rooms"));
    };
    let knots: Vec<(f64, f64)> = course.iter().map(|&[h, c]| (h, c)).collect();
    Ambient::ramps(&knots).map_err(|e| e.at("rooms"))
}

/// Refuses a room that nobody asked for: its name is a mistake.
fn no_other_rooms(rooms: &Rooms, asked: &[String]) -> Result<()> {
    match rooms.keys().find(|name| !asked.contains(name)) {
        Some(name) => {
            Err(
                Error::unknown_name("room_record", name, asked.iter().map(String::as_str))
                    .at("rooms"),
            )
        }
        None => Ok(()),
    }
}

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
