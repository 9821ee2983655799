//! What stands in a bake file: a section with its keys, and a value as written and as its key holds it.

#[cfg(feature = "schema")]
use super::keys::SECTIONS;
use super::keys::{Absent, Key, MEANT, Part, grams_of, keys, names};
use super::{ColdStage, HoldLaterLoads, Joins, ProofKind};
use crate::error::{Error, Result, shown};
use crate::ferment::Kind;
use crate::formula::YeastKind;
use crate::heat::dough_body::Place;
use crate::plan::levers::Lever;
use crate::table;
use crate::toml_text::Lines;
use crate::units::{ClockTime, Hours, Mass, Percent, Temperature, TemperatureDifference, hours};
use serde::de::{Deserialize, IntoDeserializer};
use std::collections::BTreeMap;
use std::str::FromStr;
use std::time::Duration;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value and the line it stands in, if it comes from a file.
#[derive(Debug, serde::Deserialize)]
#[serde(transparent)]
pub(super) struct Node {
    #[serde(skip)]
    line: Option<usize>,
    written: Written,
}

/// Any value, so that a wrong one is refused in the words of its key.
#[derive(Debug, serde::Deserialize)]
#[serde(untagged)]
pub(super) enum Written {
    Number(f64),
    Text(String),
    Truth(#[allow(dead_code)] bool),
    List(Vec<Node>),
    Section(BTreeMap<String, Node>),
    Nothing(()),
    #[serde(skip)]
    Date,
}

impl Node {
    /// A whole file.
    pub(super) fn file(table: DeTable<'_>, lines: &Lines) -> Self {
        Self::new(0, DeValue::Table(table), lines)
    }

    fn new(byte: usize, value: DeValue<'_>, lines: &Lines) -> Self {
        let number = |digits: &str| Written::Number(digits.parse().unwrap_or(f64::NAN));
        let written = match value {
            DeValue::String(text) => Written::Text(text.into_owned()),
            // A baker counts in tens, so that 0x24 is no number.
            DeValue::Integer(whole) if whole.radix() != 10 => Written::Text(whole.to_string()),
            DeValue::Integer(whole) => number(whole.as_str()),
            DeValue::Float(decimal) => number(decimal.as_str()),
            DeValue::Boolean(truth) => Written::Truth(truth),
            DeValue::Datetime(_) => Written::Date,
            DeValue::Array(items) => {
                let node = |i: Spanned<_>| Self::new(i.span().start, i.into_inner(), lines);
                Written::List(items.into_iter().map(node).collect())
            }
            DeValue::Table(keys) => {
                let keys = keys.into_iter().map(|(key, value)| {
                    let node = Self::new(key.span().start, value.into_inner(), lines);
                    (key.into_inner().into_owned(), node)
                });
                Written::Section(keys.collect())
            }
        };
        Self {
            line: Some(lines.line(byte)),
            written,
        }
    }
}

impl Written {
    fn must_be<T>(&self, what: &str, key: &Key) -> Result<T> {
        let (name, example) = (key.name, key.example);
        self.is_no(&format!("{what}, such as {name} = {example}"))
    }

    fn is_no<T>(&self, what: &str) -> Result<T> {
        let is = match self {
            Self::Number(_) => "a number",
            Self::Text(_) => "text",
            Self::Truth(_) => "true or false",
            Self::List(_) => "a list",
            Self::Section(_) => "a section",
            Self::Date => "a date or time",
            Self::Nothing(()) => "null",
        };
        Err(Error::malformed(format!("must be {what}, but is {is}")))
    }

    /// A number in the unit of its key and within its range.
    fn number(&self, key: &Key) -> Result<f64> {
        let Self::Number(number) = *self else {
            return self.must_be("a plain number", key);
        };
        key.check("the value", number)
    }

    /// The same, or text that carries its unit.
    fn quantity<T: FromStr<Err = Error>>(&self, key: &Key, of: impl Fn(T) -> f64) -> Result<f64> {
        let number = match self {
            Self::Number(number) => *number,
            Self::Text(text) if text.trim().parse::<f64>().is_err() => of(text.parse()?),
            _ => return self.must_be("a number, or text with a unit", key),
        };
        key.check("the value", number)
    }

    /// Text of one line, 1 to 200 characters.
    fn text(&self, key: &Key) -> Result<&str> {
        let Self::Text(text) = self else {
            return self.must_be("text in double quotes", key);
        };
        let length = text.chars().count();
        if text.trim().is_empty() || length > 200 || text.contains(char::is_control) {
            let expected = "one line of 1 to 200 characters";
            return Err(Error::text(key.name, text, expected));
        }
        Ok(text)
    }

    /// One of a few names.
    fn choice<'de, T: Deserialize<'de>>(&'de self, key: &Key) -> Result<T> {
        T::deserialize(self.text(key)?.into_deserializer())
    }
}

/// What a key can hold.
pub(super) trait KeyValue: Sized {
    #[cfg(feature = "schema")]
    fn schema() -> schemars::Schema;

    fn read(value: &Written, key: &Key) -> Result<Self>;

    /// The names that a key can be, as a name that is none of them is refused with them.
    fn choices(key: &Key) -> Vec<String> {
        match Self::read(&Written::Text("?".into()), key) {
            Err(Error::UnknownName { known, .. }) => known.split(", ").map(str::to_owned).collect(),
            _ => Vec::new(),
        }
    }

    /// What holds where the key is left out.
    fn absent(key: &Key) -> Result<Self> {
        let (name, example) = (key.name, key.example);
        let written = match key.absent {
            Absent::Number(number) => Written::Number(number),
            Absent::Table(id, name) => Written::Number(table::get(id)?.number(name)?),
            Absent::Name(name) => Written::Text(name.into()),
            Absent::Required | Absent::Means(_) => {
                let why = format!("missing key {name:?}; add a line such as {name} = {example}");
                return Err(Error::malformed(why));
            }
        };
        Self::read(&written, key)
    }
}

/// What can be written for each type, as a schema, and how it is read.
macro_rules! values {
    ($($of:ty, $schema:expr, |$value:ident, $key:ident| $read:expr;)*) => {$(
        impl KeyValue for $of {
            #[cfg(feature = "schema")]
            fn schema() -> schemars::Schema {
                $schema
            }

            fn read($value: &Written, $key: &Key) -> Result<Self> {
                $read
            }
        }
    )*};
}

values! {
    Temperature, of_type("number, string"), |value, key| Self::celsius(value.quantity(key, Self::as_celsius)?);
    TemperatureDifference, of_type("number, string"), |value, key| Self::kelvin(value.quantity(key, Self::as_kelvin)?);
    Percent, of_type("number, string"), |value, key| Self::new(value.quantity(key, Self::as_percent)?);
    Mass, of_type("number, string"), |value, key|
        Self::grams(value.quantity(key, |mass: Self| mass.as_grams() / scale(key))? * scale(key));
    Duration, of_type("number, string"), |value, key|
        hours(value.quantity(key, |time: Hours| time.as_hours() * scale(key))? / scale(key));
    f64, of_type("number"), |value, key| value.number(key);
    u32, of_type("integer"), |value, key| whole(value.number(key)?);
    String, of_type("string"), |value, key| value.text(key).map(str::to_owned);
    ClockTime, of_type("string"), |value, key| value.text(key)?.parse();
    Kind, schemars::json_schema!({ "enum": MADE_AHEAD.map(Self::name) }), |value, key| {
        let given = value.text(key)?;
        let kind = MADE_AHEAD.into_iter().find(|kind| kind.name() == given);
        kind.ok_or_else(|| Error::unknown_name("name", given, MADE_AHEAD.map(Self::name)))
    };
    YeastKind, one_of::<Self>(), |value, key| value.choice(key);
    Place, one_of::<Self>(), |value, key| value.choice(key);
    Joins, one_of::<Self>(), |value, key| value.choice(key);
    ProofKind, one_of::<Self>(), |value, key| value.choice(key);
    ColdStage, one_of::<Self>(), |value, key| value.choice(key);
    HoldLaterLoads, one_of::<Self>(), |value, key| value.choice(key);
    Lever, one_of::<Self>(), |value, key| value.choice(key);
}

/// Old dough is none: it is made with an earlier dough, in `[formula.old_dough]`.
const MADE_AHEAD: [Kind; 3] = [Kind::Poolish, Kind::Biga, Kind::Sponge];

#[cfg(feature = "schema")]
fn of_type(names: &str) -> schemars::Schema {
    let names: Vec<_> = names.split(", ").collect();
    schemars::json_schema!({ "type": names })
}

#[cfg(feature = "schema")]
fn one_of<T: schemars::JsonSchema>() -> schemars::Schema {
    T::json_schema(&mut schemars::SchemaGenerator::default())
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

    fn read(value: &Written, key: &Key) -> Result<Self> {
        T::read(value, key).map(Some)
    }

    fn absent(key: &Key) -> Result<Self> {
        match key.absent {
            Absent::Means(_) => Ok(None),
            _ => T::absent(key).map(Some),
        }
    }
}

impl<T: KeyValue> KeyValue for Vec<T> {
    #[cfg(feature = "schema")]
    fn schema() -> schemars::Schema {
        schemars::json_schema!({ "type": "array", "items": T::schema() })
    }

    fn read(value: &Written, key: &Key) -> Result<Self> {
        match value {
            Written::List(items) => items.iter().map(|i| T::read(&i.written, key)).collect(),
            _ => value.must_be("a list", key),
        }
    }

    fn choices(key: &Key) -> Vec<String> {
        T::choices(key)
    }

    /// None, or the one that holds by default.
    fn absent(key: &Key) -> Result<Self> {
        Ok(Option::<T>::absent(key)?.into_iter().collect())
    }
}

/// Most sections of one kind.
const MOST_SECTIONS: usize = 100;

/// The keys of a section.
#[derive(Clone, Copy)]
pub(super) struct Section<'a> {
    /// Its heading without brackets; empty for the top of the file.
    path: &'static str,
    line: Option<usize>,
    /// None where the section is left out.
    keys: Option<&'a BTreeMap<String, Node>>,
    /// The flour of which its percentages are, where the recipe is in grams.
    flour: Option<Mass>,
}

impl<'a> Section<'a> {
    pub(super) fn at(path: &'static str, node: &'a Node) -> Result<Self> {
        let Written::Section(keys) = &node.written else {
            return node.written.is_no("a section with its keys");
        };
        Ok(Self {
            path,
            line: node.line,
            keys: Some(keys),
            flour: None,
        })
    }

    /// The same with percentages of so much flour.
    pub(super) fn of_flour(self, flour: Option<Mass>) -> Self {
        Self { flour, ..self }
    }

    /// Reads the section, once its keys are known ones.
    pub(super) fn read<T>(self, read: impl FnOnce(&Self) -> Result<T>) -> Result<T> {
        let mut given = self.keys.into_iter().flatten();
        let known = |name: &str| names().any(|known| known == (self.path, name));
        if let Some((name, _)) = given.find(|(name, _)| self.has(name) && !known(name)) {
            return Err(self.unknown(name));
        }
        // What has no place yet is about the section as a whole.
        read(&self).map_err(|error| match error {
            Error::At { .. } => error,
            error => self.placed("", error),
        })
    }

    /// An unknown key, with the nearest known one or the section it belongs in.
    fn unknown(&self, name: &str) -> Error {
        let known = names().filter(|(path, _)| *path == self.path);
        let mut error = Error::unknown_name("key", name, known.map(|(_, known)| known));
        let homes = names().filter(|(_, known)| *known == name);
        let homes: Vec<_> = homes.map(|(path, _)| format!("[{path}]")).collect();
        let meant = |row: &&(&str, &str, &str)| (row.0, row.1) == (self.path, name);
        if let Some((.., meant)) = MEANT.iter().find(meant) {
            error = Error::malformed(format!("is no key here; write {meant}"));
        } else if !homes.is_empty() {
            let top = "the top of the file, above the first section";
            let homes = homes.join(", ").replace("[]", top);
            error = Error::malformed(format!("belongs in {homes}; move it there"));
        }
        self.placed(name, error)
    }

    /// An error about a key, or with an empty name about the section.
    pub(super) fn placed(&self, key: &str, error: Error) -> Error {
        let line = self.given(key).map_or(self.line, |node| node.line);
        error.in_bake(line, self.path, key)
    }

    fn given(&self, key: &str) -> Option<&'a Node> {
        let node = self.keys?.get(key)?;
        (!matches!(node.written, Written::Nothing(()))).then_some(node)
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.given(key).is_some()
    }

    /// The value of a key, checked.
    pub(super) fn get<T: KeyValue>(&self, name: &str) -> Result<T> {
        let mut listed = keys().filter(|(path, key)| *path == self.path && key.name == name);
        let (_, key) = listed.next().ok_or_else(|| self.unknown(name))?;
        match (self.given(name), self.weighed(name)?) {
            (Some(node), _) => {
                T::read(&node.written, key).map_err(|error| self.placed(name, error))
            }
            (None, Some((grams, percent))) => {
                T::read(&Written::Number(percent), key).map_err(|error| self.placed(grams, error))
            }
            (None, None) => T::absent(key),
        }
    }

    /// A percentage that is given in grams, and the key of these.
    fn weighed(&self, name: &str) -> Result<Option<(&'static str, f64)>> {
        let Some(grams) = grams_of(self.path, name).filter(|grams| self.has(grams)) else {
            return Ok(None);
        };
        self.at_most_one(&[name, grams])?;
        let mass: Mass = self.get(grams)?;
        match self.flour {
            Some(flour) => Ok(Some((grams, 100.0 * mass.as_grams() / flour.as_grams()))),
            None => {
                let why = "grams need the flour of the recipe; add flour_g in [formula]";
                self.refuse(grams, why)
            }
        }
    }

    /// The section below with this path; where it is left out, so are all its keys.
    pub(super) fn below(&self, path: &'static str) -> Result<Self> {
        let name = path.rsplit('.').next().unwrap_or(path);
        let below = match self.given(name) {
            Some(node) => Self::at(path, node).map_err(|error| self.placed(name, error))?,
            None => Self {
                path,
                keys: None,
                ..*self
            },
        };
        Ok(below.of_flour(self.flour))
    }

    /// Reads the section unless it is left out.
    pub(super) fn optional<T>(self, read: impl FnOnce(&Self) -> Result<T>) -> Result<Option<T>> {
        self.keys.map(|_| self.read(read)).transpose()
    }

    /// The sections of this path, each listed with double brackets.
    pub(super) fn list<T: Part>(&self, path: &'static str) -> Result<Vec<T>> {
        self.each(path, T::read)
    }

    /// Something of each of the sections of this path.
    pub(super) fn each<T>(
        &self,
        path: &'static str,
        read: impl Fn(&Self) -> Result<T>,
    ) -> Result<Vec<T>> {
        let name = path.rsplit('.').next().unwrap_or(path);
        let Some(node) = self.given(name) else {
            return Ok(Vec::new());
        };
        let Written::List(items) = &node.written else {
            let expected = format!("a list of sections [[{path}]]");
            let refused = node.written.is_no(&expected);
            return refused.map_err(|error| self.placed(name, error));
        };
        if items.len() > MOST_SECTIONS {
            return Err(Error::malformed(format!(
                "[[{path}]] is listed {} times, at most {MOST_SECTIONS} are read; join some of them",
                items.len()
            )));
        }
        let section = |item| Self::at(path, item).map_err(|error| self.placed(name, error));
        let read = |item| section(item)?.of_flour(self.flour).read(&read);
        items.iter().map(read).collect()
    }

    /// Refuses what a key contradicts, and says what to do.
    pub(super) fn refuse<T>(&self, key: &str, why: &str) -> Result<T> {
        Err(self.placed(key, Error::contradiction(why)))
    }

    /// Refuses two keys that contradict each other.
    pub(super) fn at_most_one(&self, keys: &[&str]) -> Result<()> {
        let mut given = keys.iter().filter(|key| self.has(key));
        let (Some(first), Some(second)) = (given.next(), given.next()) else {
            return Ok(());
        };
        let why = format!("{first} and {second} contradict each other; keep one of them");
        self.refuse(second, &why)
    }
}

/// The schema of a section with those below it.
#[cfg(feature = "schema")]
pub(super) fn schema(path: &str) -> schemars::Schema {
    let mut properties = schemars::Schema::default();
    for (_, key) in keys().filter(|(at, _)| *at == path) {
        let mut value = (key.schema)();
        value.insert("description".into(), key.meaning.trim().into());
        if key.low.is_finite() {
            // Of a list each item has the range.
            let ranged = match value
                .get_mut("items")
                .and_then(|items| items.as_object_mut())
            {
                Some(items) => items,
                None => value.ensure_object(),
            };
            ranged.insert("minimum".into(), key.low.into());
            ranged.insert("maximum".into(), key.high.into());
        }
        properties.insert(key.name.into(), value.into());
    }
    let mut about = "";
    for (below, tells, _) in SECTIONS {
        let (parent, name) = below.rsplit_once('.').unwrap_or(("", below));
        if below == path {
            about = tells;
        } else if parent == path {
            let list = ["flour", "extra"].contains(&name);
            let mut section = schema(below);
            if list {
                section = schemars::json_schema!({ "type": "array", "items": section });
            }
            properties.insert(name.into(), section.into());
        }
    }
    schemars::json_schema!({
        "type": "object", "title": path, "description": about,
        "properties": properties, "additionalProperties": false,
    })
}
