//! A value of the bake file: as written, and as what its key holds.

use super::keys::{Absent, Key, names};
use super::{ColdStage, HoldLaterLoads, Joins, Proof};
use crate::error::{Error, Result, check, shown};
use crate::ferment::Kind;
use crate::formula::YeastKind;
use crate::heat::dough_body::Place;
use crate::table;
use crate::units::{ClockTime, Mass, Percent, Temperature, TemperatureDifference};
use crate::units::{as_hours, hours, parse_duration};
use serde::Deserialize;
use serde::de::IgnoredAny;
use std::collections::BTreeMap;
use std::marker::PhantomData;
use std::time::Duration;

/// What is wrong, and where in the bake.
#[derive(Debug)]
pub(super) struct Misread {
    pub(super) section: Option<&'static str>,
    /// Which of the sections of this name, from 0.
    pub(super) item: usize,
    /// Empty: the section as a whole.
    pub(super) key: String,
    pub(super) error: Error,
}

pub(super) type Read<T> = std::result::Result<T, Misread>;

impl Misread {
    pub(super) fn at(key: impl Into<String>, error: Error) -> Self {
        Self {
            key: key.into(),
            ..error.into()
        }
    }
}

impl From<Error> for Misread {
    fn from(error: Error) -> Self {
        Self {
            section: None,
            item: 0,
            key: String::new(),
            error,
        }
    }
}

/// Any value, so that a wrong one is refused in the words of its key.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
pub(super) enum Written {
    Number(f64),
    Text(String),
    Truth(#[allow(dead_code)] bool),
    List(Vec<Written>),
    Section(BTreeMap<String, IgnoredAny>),
    Nothing(()),
}

impl Written {
    fn is(&self) -> &'static str {
        match self {
            Self::Number(_) => "a number",
            Self::Text(_) => "text",
            Self::Truth(_) => "true or false",
            Self::List(_) => "a list",
            Self::Section(keys) if keys.contains_key("$__toml_private_datetime") => {
                "a date or time"
            }
            Self::Section(_) => "a section",
            Self::Nothing(()) => "null",
        }
    }

    fn must_be<T>(&self, what: &str, key: &Key) -> Result<T> {
        let (name, example, is) = (key.name, key.example, self.is());
        Err(Error::malformed(format!(
            "must be {what}, such as {name} = {example}, but is {is}"
        )))
    }

    /// A number in the unit of its key and within its range; `parse` reads text with a unit.
    fn number(&self, key: &Key, parse: Option<ReadText>) -> Result<f64> {
        let number = match (self, parse) {
            (Self::Number(number), _) => *number,
            (Self::Text(text), Some(parse)) if text.trim().parse::<f64>().is_err() => {
                parse(text, key)?
            }
            (_, Some(_)) => self.must_be("a number, or text with a unit", key)?,
            (_, None) => self.must_be("a plain number", key)?,
        };
        check("the value", number, key.low, key.high, key.unit)
    }

    /// Text of one line, 1 to 200 characters.
    fn text(&self, key: &Key) -> Result<&str> {
        let Self::Text(text) = self else {
            return self.must_be("text in double quotes", key);
        };
        let (length, expected) = (text.chars().count(), "one line of 1 to 200 characters");
        if text.trim().is_empty() || length > 200 || text.contains(char::is_control) {
            return Err(Error::text(key.name, text, expected));
        }
        Ok(text)
    }

    /// One of a few names.
    fn choice<T: Copy, const N: usize>(
        &self,
        key: &Key,
        known: [(&'static str, T); N],
    ) -> Result<T> {
        let given = self.text(key)?;
        let chosen = known
            .iter()
            .find(|(name, _)| *name == given)
            .map(|(_, chosen)| *chosen);
        chosen.ok_or_else(|| Error::unknown_name("name", given, known.map(|(name, _)| name)))
    }
}

/// Reads text with a unit as a number in the unit of the key.
type ReadText = fn(&str, &Key) -> Result<f64>;

/// What a key can hold.
pub(super) trait KeyValue: Sized {
    #[cfg(feature = "schema")]
    fn schema() -> schemars::Schema;

    fn read(written: &Written, key: &Key) -> Result<Self>;

    /// What holds where the key is left out.
    fn absent(key: &Key) -> Read<Self> {
        let (name, example) = (key.name, key.example);
        let written = match key.absent {
            Absent::Number(number) => Written::Number(number),
            Absent::Table(id, name) => Written::Number(table::get(id)?.number(name)?),
            Absent::Name(name) => Written::Text(name.into()),
            Absent::Required | Absent::Means(_) => {
                let why = format!("missing key {name:?}; add a line such as {name} = {example}");
                return Err(missing(&why));
            }
        };
        Self::read(&written, key).map_err(|error| Misread::at(name, error))
    }
}

/// What can be written for each type, as a schema, and how it is read.
macro_rules! values {
    ($($of:ty, $schema:tt, |$written:ident, $key:ident| $read:expr;)*) => {$(
        impl KeyValue for $of {
            #[cfg(feature = "schema")]
            fn schema() -> schemars::Schema {
                schemars::json_schema!($schema)
            }

            fn read($written: &Written, $key: &Key) -> Result<Self> {
                $read
            }
        }
    )*};
}

values! {
    Temperature, { "type": ["number", "string"] }, |written, key|
        Self::celsius(written.number(key, Some(|text, _| text.parse().map(Self::as_celsius)))?);
    TemperatureDifference, { "type": ["number", "string"] }, |written, key|
        Self::kelvin(written.number(key, Some(|text, _| text.parse().map(Self::as_kelvin)))?);
    Percent, { "type": ["number", "string"] }, |written, key|
        Self::new(written.number(key, Some(|text, _| text.parse().map(Self::as_percent)))?);
    Mass, { "type": ["number", "string"] }, |written, key| {
        let parse: ReadText = |text, key| text.parse().map(|mass: Self| mass.as_grams() / scale(key));
        Self::grams(written.number(key, Some(parse))? * scale(key))
    };
    Duration, { "type": ["number", "string"] }, |written, key| {
        let parse: ReadText = |text, key| Ok(as_hours(parse_duration(text)?) * scale(key));
        hours(written.number(key, Some(parse))? / scale(key))
    };
    f64, { "type": "number" }, |written, key| written.number(key, None);
    u32, { "type": "integer" }, |written, key| whole(written.number(key, None)?);
    String, { "type": "string" }, |written, key| written.text(key).map(str::to_owned);
    ClockTime, { "type": "string" }, |written, key| written.text(key)?.parse();
    // Old dough is no kind here: it is made with an earlier dough, in [formula.old_dough].
    Kind, { "enum": ["poolish", "biga", "sponge"] }, |written, key|
        written.choice(key, [Kind::Poolish, Kind::Biga, Kind::Sponge].map(|kind| (kind.name(), kind)));
    YeastKind, { "enum": YeastKind::ALL.map(YeastKind::name) }, |written, key|
        written.choice(key, YeastKind::ALL.map(|kind| (kind.name(), kind)));
    Place, { "enum": Place::ALL.map(Place::name) }, |written, key|
        written.choice(key, Place::ALL.map(|place| (place.name(), place)));
    Joins, { "enum": ["autolyse", "mix"] }, |written, key|
        written.choice(key, [("autolyse", Joins::Autolyse), ("mix", Joins::Mix)]);
    Proof, { "enum": ["hearth", "tin"] }, |written, key|
        written.choice(key, [("hearth", Proof::Hearth), ("tin", Proof::Tin)]);
    ColdStage, { "enum": ["bulk", "proof"] }, |written, key|
        written.choice(key, [("bulk", ColdStage::Bulk), ("proof", ColdStage::Proof)]);
    HoldLaterLoads, { "enum": ["shape-later", "retarder", "divide-later"] }, |written, key|
        written.choice(key, [("shape-later", HoldLaterLoads::ShapeLater),
            ("retarder", HoldLaterLoads::Retarder), ("divide-later", HoldLaterLoads::DivideLater)]);
}

/// Grams in the unit of a mass, or how many of a unit of time make an hour.
fn scale(key: &Key) -> f64 {
    match key.unit {
        "kg" => 1e3,
        "min" => 60.0,
        _ => 1.0,
    }
}

fn whole(number: f64) -> Result<u32> {
    if number.fract() != 0.0 {
        let why = format!("is {}, but must be a whole number", shown(number));
        return Err(Error::malformed(why));
    }
    // Within the range of its key and whole: the conversion is exact.
    Ok(number as u32)
}

impl<T: KeyValue> KeyValue for Option<T> {
    #[cfg(feature = "schema")]
    fn schema() -> schemars::Schema {
        T::schema()
    }

    fn read(written: &Written, key: &Key) -> Result<Self> {
        T::read(written, key).map(Some)
    }

    fn absent(_: &Key) -> Read<Self> {
        Ok(None)
    }
}

impl<T: KeyValue> KeyValue for Vec<T> {
    #[cfg(feature = "schema")]
    fn schema() -> schemars::Schema {
        schemars::json_schema!({ "type": "array", "items": T::schema() })
    }

    fn read(written: &Written, key: &Key) -> Result<Self> {
        match written {
            Written::List(items) => items.iter().map(|item| T::read(item, key)).collect(),
            other => other.must_be("a list", key),
        }
    }
}

/// A key of the bake with its value, not checked yet.
#[derive(Debug, Deserialize)]
#[serde(transparent, bound = "")]
pub(super) struct Entry<T> {
    written: Written,
    #[serde(skip)]
    holds: PhantomData<T>,
}

#[cfg(feature = "schema")]
impl<T: KeyValue> schemars::JsonSchema for Entry<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Entry".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        T::schema()
    }
}

/// The value of a key, checked.
pub(super) fn value<T: KeyValue>(entry: Option<&Entry<T>>, key: &Key) -> Read<T> {
    let read = |entry: &Entry<T>| T::read(&entry.written, key);
    entry.map_or_else(
        || T::absent(key),
        |entry| read(entry).map_err(|error| Misread::at(key.name, error)),
    )
}

/// What is missing.
pub(super) fn missing(why: &str) -> Misread {
    Error::malformed(why).into()
}

/// What a key contradicts, and what to do.
pub(super) fn contradiction<T>(key: &str, why: &str) -> Read<T> {
    Err(Misread::at(key, Error::contradiction(why)))
}

/// The keys of a section.
pub(super) trait Section {
    /// Its heading without brackets; empty for the top of the file.
    const PATH: &'static str = "";

    fn has(&self, key: &str) -> bool;

    /// The first key that the section does not know.
    fn unknown(&self) -> Option<&str> {
        None
    }

    /// Reads the section, once its keys are known ones.
    fn read<T>(&self, read: impl FnOnce(&Self) -> Read<T>) -> Read<T> {
        let known = self
            .unknown()
            .map_or(Ok(()), |name| Err(unknown(Self::PATH, name)));
        known.and_then(|()| read(self)).map_err(|misread| Misread {
            section: misread.section.or(Some(Self::PATH)),
            ..misread
        })
    }

    /// Refuses two keys that contradict each other.
    fn at_most_one(&self, keys: &[&str]) -> Read<()> {
        let mut given = keys.iter().filter(|key| self.has(key));
        let (Some(first), Some(second)) = (given.next(), given.next()) else {
            return Ok(());
        };
        let why = format!("{first} and {second} contradict each other; keep one of them");
        contradiction(second, &why)
    }
}

/// The keys that a section does not know.
#[derive(Debug, Default, Deserialize)]
#[serde(transparent)]
pub(super) struct Unknown(BTreeMap<String, Option<Written>>);

impl Unknown {
    pub(super) fn first(&self) -> Option<&str> {
        let mut given = self.0.iter().filter(|(_, written)| written.is_some());
        given.next().map(|(name, _)| name.as_str())
    }
}

/// Refuses an unknown key, with the nearest known one or the section it belongs in.
fn unknown(section: &str, name: &str) -> Misread {
    let known = names()
        .filter(|(path, _)| *path == section)
        .map(|(_, known)| known);
    let mut error = Error::unknown_name("key", name, known);
    let homes = names().filter(|(_, known)| *known == name);
    let homes: Vec<_> = homes.map(|(path, _)| format!("[{path}]")).collect();
    if matches!(error, Error::UnknownName { nearest: None, .. }) && !homes.is_empty() {
        let homes = homes
            .join(", ")
            .replace("[]", "the top of the file, above the first section");
        error = Error::malformed(format!("belongs in {homes}; move it there"));
    }
    Misread::at(name, error)
}
