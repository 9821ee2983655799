//! A value of the bake file: as written, and as what its key holds.

use super::keys::{Absent, Key, SECTIONS, names_in};
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

/// Most sections of one kind (flours, extras).
const MOST_SECTIONS: usize = 100;

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

    fn must_be(&self, what: &str) -> Error {
        Error::malformed(format!("must be {what}, but is {}", self.is()))
    }

    /// A number in the unit of its key and within its range; `parse` reads text with a unit.
    fn number(&self, key: &Key, parse: Option<ReadText>) -> Result<f64> {
        let example = format!("such as {} = {}", key.name, key.example);
        let number = match (self, parse) {
            (Self::Number(number), _) => *number,
            (Self::Text(text), Some(parse)) if text.trim().parse::<f64>().is_err() => {
                parse(text, key)?
            }
            (_, Some(_)) => {
                return Err(self.must_be(&format!("a number, or text with a unit, {example}")));
            }
            (_, None) => return Err(self.must_be(&format!("a plain number, {example}"))),
        };
        check("the value", number, key.low, key.high, key.unit)
    }

    /// Text of one line, 1 to 200 characters.
    fn text(&self, key: &Key) -> Result<&str> {
        let Self::Text(text) = self else {
            let what = format!(
                "text in double quotes, such as {} = {}",
                key.name, key.example
            );
            return Err(self.must_be(&what));
        };
        let length = text.chars().count();
        if text.trim().is_empty() || length > 200 || text.contains(char::is_control) {
            return Err(Error::text(
                key.name,
                text,
                "one line of 1 to 200 characters",
            ));
        }
        Ok(text)
    }
}

/// Reads text with a unit as a number in the unit of the key.
type ReadText = fn(&str, &Key) -> Result<f64>;

/// What a key can hold.
pub(super) trait KeyValue: Sized {
    /// The types of JSON in which it is written.
    #[cfg(feature = "schema")]
    fn schema() -> schemars::Schema;

    fn read(written: &Written, key: &Key) -> Result<Self>;
}

macro_rules! numbers {
    ($($of:ty, $types:tt, $parse:expr, $make:expr;)*) => {$(
        impl KeyValue for $of {
            #[cfg(feature = "schema")]
            fn schema() -> schemars::Schema {
                schemars::json_schema!({ "type": $types })
            }

            fn read(written: &Written, key: &Key) -> Result<Self> {
                let (parse, make): (Option<ReadText>, fn(f64, &Key) -> Result<Self>) = ($parse, $make);
                make(written.number(key, parse)?, key)
            }
        }
    )*};
}

numbers! {
    Temperature, ["number", "string"],
        Some(|text, _| text.parse().map(Self::as_celsius)), |number, _| Self::celsius(number);
    TemperatureDifference, ["number", "string"],
        Some(|text, _| text.parse().map(Self::as_kelvin)), |number, _| Self::kelvin(number);
    Percent, ["number", "string"],
        Some(|text, _| text.parse().map(Self::as_percent)), |number, _| Self::new(number);
    Mass, ["number", "string"],
        Some(|text, key| text.parse().map(|mass: Self| mass.as_grams() / grams_per(key.unit))),
        |number, key| Self::grams(number * grams_per(key.unit));
    Duration, ["number", "string"],
        Some(|text, key| parse_duration(text).map(|time| as_hours(time) * per_hour(key.unit))),
        |number, key| hours(number / per_hour(key.unit));
    f64, "number", None, |number, _| Ok(number);
    u32, "integer", None, |number, _| whole(number);
}

fn grams_per(unit: &str) -> f64 {
    if unit == "kg" { 1e3 } else { 1.0 }
}

fn per_hour(unit: &str) -> f64 {
    if unit == "min" { 60.0 } else { 1.0 }
}

fn whole(number: f64) -> Result<u32> {
    if number.fract() != 0.0 {
        let why = format!("is {}, but must be a whole number", shown(number));
        return Err(Error::malformed(why));
    }
    // Within the range of its key and whole: the conversion is exact.
    Ok(number as u32)
}

macro_rules! texts {
    ($($of:ty, $read:expr;)*) => {$(
        impl KeyValue for $of {
            #[cfg(feature = "schema")]
            fn schema() -> schemars::Schema {
                schemars::json_schema!({ "type": "string" })
            }

            fn read(written: &Written, key: &Key) -> Result<Self> {
                let read: fn(&str) -> Result<Self> = $read;
                read(written.text(key)?)
            }
        }
    )*};
}

texts! {
    String, |text| Ok(text.to_owned());
    ClockTime, str::parse;
}

/// One of a few names.
macro_rules! choices {
    ($($of:ty, $known:expr;)*) => {$(
        impl KeyValue for $of {
            #[cfg(feature = "schema")]
            fn schema() -> schemars::Schema {
                schemars::json_schema!({ "enum": $known.map(|(name, _)| name) })
            }

            fn read(written: &Written, key: &Key) -> Result<Self> {
                let given = written.text(key)?;
                let mut known = $known.into_iter();
                let chosen = known.find(|(name, _)| *name == given).map(|(_, chosen)| chosen);
                chosen.ok_or_else(|| Error::unknown_name("name", given, $known.map(|(name, _)| name)))
            }
        }
    )*};
}

choices! {
    // Old dough is no kind here: it is made with an earlier dough, in [formula.old_dough].
    Kind, [Kind::Poolish, Kind::Biga, Kind::Sponge].map(|kind| (kind.name(), kind));
    YeastKind, YeastKind::ALL.map(|kind| (kind.name(), kind));
    Place, Place::ALL.map(|place| (place.name(), place));
    Joins, [("autolyse", Joins::Autolyse), ("mix", Joins::Mix)];
    Proof, [("hearth", Proof::Hearth), ("tin", Proof::Tin)];
    ColdStage, [("bulk", ColdStage::Bulk), ("proof", ColdStage::Proof)];
    HoldLaterLoads, [
        ("shape-later", HoldLaterLoads::ShapeLater),
        ("retarder", HoldLaterLoads::Retarder),
        ("divide-later", HoldLaterLoads::DivideLater),
    ];
}

impl<T: KeyValue + PartialEq> KeyValue for Vec<T> {
    #[cfg(feature = "schema")]
    fn schema() -> schemars::Schema {
        schemars::json_schema!({ "type": "array", "items": T::schema() })
    }

    fn read(written: &Written, key: &Key) -> Result<Self> {
        let Written::List(items) = written else {
            return Err(written.must_be(&format!("a list such as {} = {}", key.name, key.example)));
        };
        items.iter().map(|item| T::read(item, key)).collect()
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

/// What a key was given, if it was.
pub(super) struct Given<'a, T> {
    written: Option<&'a Written>,
    key: &'static Key,
    holds: PhantomData<T>,
}

impl<'a, T: KeyValue> Given<'a, T> {
    pub(super) fn new(entry: Option<&'a Entry<T>>, key: &'static Key) -> Self {
        Self {
            written: entry.map(|entry| &entry.written),
            key,
            holds: PhantomData,
        }
    }

    /// The name of the key, if it is given.
    pub(super) fn name(&self) -> Option<&'static str> {
        self.written.map(|_| self.key.name)
    }

    fn read(&self, written: &Written) -> Read<T> {
        T::read(written, self.key).map_err(|error| self.refuse(error))
    }

    /// The value given.
    pub(super) fn get(&self) -> Read<Option<T>> {
        self.written.map(|written| self.read(written)).transpose()
    }

    /// The value given, or that of a key left out.
    pub(super) fn value(&self) -> Read<T> {
        match (self.written, self.key.absent) {
            (Some(written), _) => self.read(written),
            (None, Absent::Number(number)) => self.read(&Written::Number(number)),
            (None, Absent::Table(id, name)) => {
                self.read(&Written::Number(table::get(id)?.number(name)?))
            }
            (None, Absent::Name(name)) => self.read(&Written::Text(name.into())),
            (None, Absent::Required | Absent::Means(_)) => {
                let (name, example) = (self.key.name, self.key.example);
                let why = format!("missing key {name:?}; add a line such as {name} = {example}");
                Err(Error::malformed(why).into())
            }
        }
    }

    /// What is wrong with this key.
    pub(super) fn refuse(&self, error: Error) -> Misread {
        Misread::at(self.key.name, error)
    }

    /// What this key contradicts, and what to do.
    pub(super) fn contradicts<V>(&self, why: impl Into<String>) -> Read<V> {
        Err(self.refuse(Error::contradiction(why)))
    }
}

/// The keys of a section.
pub(super) trait Section {
    /// Its heading without brackets; empty for the top of the file.
    const PATH: &'static str;

    fn unknown(&self) -> &Unknown;

    /// Reads the section, once its keys are known ones.
    fn read<T>(&self, read: impl FnOnce(&Self) -> Read<T>) -> Read<T> {
        let read = self.unknown().refuse(Self::PATH).and_then(|()| read(self));
        read.map_err(|misread| Misread {
            section: misread.section.or(Some(Self::PATH)),
            ..misread
        })
    }
}

/// A section or a list of them, or something else in its place.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
pub(super) enum Part<T> {
    Keys(T),
    Other(Written),
}

impl<T> Part<T> {
    fn keys(&self, path: &str, heading: &str) -> Read<&T> {
        match self {
            Self::Keys(keys) => Ok(keys),
            Self::Other(other) => {
                let name = path.rsplit('.').next().unwrap_or(path);
                let error = other.must_be(&format!("a section headed {heading}"));
                Err(Misread::at(name, error))
            }
        }
    }
}

/// A section that must be there.
pub(super) fn required<S: Section>(part: Option<&Part<S>>) -> Read<&S> {
    let heading = format!("[{}]", S::PATH);
    let missing = || Error::malformed(format!("missing section {heading}; add it with its keys"));
    part.ok_or_else(missing)?.keys(S::PATH, &heading)
}

/// A section that may be left out.
pub(super) fn optional<S: Section, T>(
    part: Option<&Part<S>>,
    read: impl FnOnce(&S) -> Read<T>,
) -> Read<Option<T>> {
    part.map(|_| required(part)?.read(read)).transpose()
}

/// Sections of one kind, each read with its number.
pub(super) fn each<S: Section, T>(
    part: Option<&Part<Vec<S>>>,
    read: impl Fn(&S) -> Read<T>,
) -> Read<Vec<T>> {
    let heading = format!("[[{}]]", S::PATH);
    let Some(part) = part else {
        return Ok(Vec::new());
    };
    let sections = part.keys(S::PATH, &heading)?;
    if sections.len() > MOST_SECTIONS {
        let count = sections.len();
        let why = format!(
            "{heading} is listed {count} times, at most {MOST_SECTIONS} are read; join some of them"
        );
        return Err(Error::malformed(why).into());
    }
    let numbered = |(item, section): (usize, &S)| {
        let read = section.read(&read);
        read.map_err(|misread| Misread { item, ..misread })
    };
    sections.iter().enumerate().map(numbered).collect()
}

/// The keys that a section does not know.
#[derive(Debug, Deserialize)]
#[serde(transparent)]
pub(super) struct Unknown(BTreeMap<String, Option<Written>>);

impl Unknown {
    /// Refuses the first of them, with the nearest known one or the section it belongs in.
    fn refuse(&self, section: &str) -> Read<()> {
        let Some((name, _)) = self.0.iter().find(|(_, written)| written.is_some()) else {
            return Ok(());
        };
        let here = SECTIONS.iter().find(|(path, ..)| *path == section);
        let mut error = Error::unknown_name("key", name, here.into_iter().flat_map(names_in));
        let homes: Vec<String> = SECTIONS
            .iter()
            .filter(|other| names_in(other).any(|known| known == name))
            .map(|(path, ..)| match *path {
                "" => "the top of the file, above the first section".into(),
                path => format!("[{path}]"),
            })
            .collect();
        if matches!(error, Error::UnknownName { nearest: None, .. }) && !homes.is_empty() {
            error = Error::malformed(format!("belongs in {}; move it there", homes.join(", ")));
        }
        Err(Misread::at(name, error))
    }
}

/// Refuses two keys that contradict each other.
pub(super) fn at_most_one<const N: usize>(given: [Option<&'static str>; N]) -> Read<()> {
    let mut given = given.into_iter().flatten();
    let (Some(first), Some(second)) = (given.next(), given.next()) else {
        return Ok(());
    };
    let why = format!("{first} and {second} contradict each other; keep one of them");
    Err(Misread::at(second, Error::contradiction(why)))
}

#[cfg(feature = "schema")]
mod schema {
    use super::{Entry, KeyValue, Part};
    use schemars::{JsonSchema, Schema, SchemaGenerator};
    use std::borrow::Cow;

    impl<T: KeyValue> JsonSchema for Entry<T> {
        fn inline_schema() -> bool {
            true
        }

        fn schema_name() -> Cow<'static, str> {
            "Entry".into()
        }

        fn json_schema(_: &mut SchemaGenerator) -> Schema {
            T::schema()
        }
    }

    impl<T: JsonSchema> JsonSchema for Part<T> {
        fn inline_schema() -> bool {
            true
        }

        fn schema_name() -> Cow<'static, str> {
            T::schema_name()
        }

        fn json_schema(generator: &mut SchemaGenerator) -> Schema {
            generator.subschema_for::<T>()
        }
    }
}
