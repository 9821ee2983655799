//! The table of fields: what a question may say, read alike from flags, JSON, TOML and the cells of a table.
//!
//! `request!` makes a struct and the table of its fields from one list. The struct is what the command
//! line fills (with feature `flags`); the table reads everything else, one field after the other, so that an
//! error knows its field and a million rows need no parser of their own. A value is a number in the unit
//! that ends its key, or a text that carries its unit.

use pointage::budget::USUAL;
use pointage::error::{Error, Result, echo, words_of};
use pointage::ferment::Kind;
use pointage::formula::YeastKind;
use pointage::units::{Hours, Mass, Percent, Temperature, TemperatureDifference};
use serde::de::{self, DeserializeOwned, MapAccess, Visitor};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;
use std::sync::LazyLock;

/// A value as it comes in.
#[derive(Debug, Clone, Copy)]
pub enum Input<'a> {
    /// A number in the unit of the key.
    Number(f64),
    /// A text, with its unit where it has one.
    Text(&'a str),
    /// Anything that JSON can say.
    Json(&'a Value),
}

impl<'a> Input<'a> {
    /// A number or a text of JSON as such.
    fn plain(self) -> Self {
        match self {
            Self::Json(Value::String(text)) => Self::Text(text),
            Self::Json(Value::Number(n)) => n.as_f64().map_or(self, Self::Number),
            other => other,
        }
    }

    pub(crate) fn quantity<T: FromStr<Err = Error>>(
        self,
        of: impl Fn(f64) -> Result<T>,
    ) -> Result<T> {
        match self.plain() {
            Self::Number(value) => of(value),
            Self::Text(text) => text.parse(),
            Self::Json(other) => Err(unlike("a number, or a text with its unit", other)),
        }
    }

    pub(crate) fn text(self) -> Result<&'a str> {
        match self.plain() {
            Self::Text(text) => Ok(text),
            Self::Number(value) => Err(unlike("a text", &value.into())),
            Self::Json(other) => Err(unlike("a text", other)),
        }
    }

    /// Whole numbers of JSON may be written as 24.0.
    fn whole<T: TryFrom<u64>>(self) -> Result<T> {
        let value = match self {
            Self::Number(value) => value.into(),
            Self::Text(text) => text.trim().parse().unwrap_or(Value::Null),
            Self::Json(value) => value.clone(),
        };
        // Beyond 2^53 an f64 no longer tells whole numbers apart.
        let decimal = value
            .as_f64()
            .filter(|v| v.fract() == 0.0 && (0.0..9_007_199_254_740_992.0).contains(v))
            .map(|v| v as u64);
        let whole = value.as_u64().or(decimal).and_then(|n| n.try_into().ok());
        whole.ok_or_else(|| unlike("a whole number that is allowed here", &value))
    }

    pub(crate) fn json<T: DeserializeOwned>(self) -> Result<T> {
        match self {
            Self::Number(value) => T::deserialize(Value::from(value)),
            Self::Text(text) => serde_json::from_str(text),
            Self::Json(value) => T::deserialize(value),
        }
        .map_err(|e| Error::malformed(words_of(e)))
    }
}

fn unlike(expected: &str, value: &Value) -> Error {
    Error::malformed(format!("{} is not {expected}", echo(&value.to_string())))
}

/// A type that a field may have.
pub trait FieldValue: Sized {
    /// What stands for it in the help of a flag.
    const NAME: &'static str;
    /// True when a question cannot do without it.
    const NEEDED: bool = true;
    /// What stands in its place until it is read.
    fn blank() -> Self;
    /// Reads it.
    ///
    /// # Errors
    /// A value that is none of this type, or out of its range.
    fn read(input: Input<'_>) -> Result<Self>;
}

impl<T: FieldValue> FieldValue for Option<T> {
    const NAME: &'static str = T::NAME;
    const NEEDED: bool = false;
    fn blank() -> Self {
        None
    }
    fn read(input: Input<'_>) -> Result<Self> {
        T::read(input).map(Some)
    }
}

/// `values! { Type "NAME" needed blank |input| reading; }`
macro_rules! values {
    ($($type:ty, $name:literal, $needed:literal, $blank:expr, $read:expr;)*) => {$(
        impl FieldValue for $type {
            const NAME: &'static str = $name;
            const NEEDED: bool = $needed;
            fn blank() -> Self {
                $blank
            }
            fn read(input: Input<'_>) -> Result<Self> {
                let read: fn(Input<'_>) -> Result<Self> = $read;
                read(input)
            }
        }
    )*};
}
pub(crate) use values;

values! {
    Temperature, "TEMPERATURE", true, Self::default(), |i| i.quantity(Temperature::celsius);
    TemperatureDifference, "DIFFERENCE", true, Self::default(), |i| i.quantity(TemperatureDifference::kelvin);
    Mass, "MASS", true, Self::default(), |i| i.quantity(Mass::grams);
    Percent, "PERCENT", true, Self::default(), |i| i.quantity(Percent::new);
    Hours, "TIME", true, Self::default(), |i| i.quantity(Hours::new);
    f64, "NUMBER", true, 0.0, |i| match i.plain() {
        Input::Number(value) if value.is_finite() => Ok(value),
        Input::Text(text) => number(text),
        _ => i.json(),
    };
    Kind, "KIND", true, Kind::Poolish, |i| i.text()?.parse();
    YeastKind, "KIND", true, YeastKind::Instant, |i| i.text()?.parse();
    String, "TEXT", true, Self::new(), |i| i.text().map(str::to_owned);
    bool, "", false, false, |i| i.json();
    u32, "NUMBER", true, 0, |i| i.whole();
    u64, "NUMBER", true, 0, |i| i.whole();
    usize, "NUMBER", true, 0, |i| i.whole();
    serde_json::Map<String, Value>, "", true, Self::new(), |i| i.json();
    crate::Rooms, "", false, Self::new(), |i| i.json();
}

impl<T: DeserializeOwned> FieldValue for Vec<T> {
    const NAME: &'static str = "VALUE,...";
    const NEEDED: bool = false;
    fn blank() -> Self {
        Self::new()
    }
    fn read(input: Input<'_>) -> Result<Self> {
        input.json()
    }
}

/// Reads a plain number, such as a heat capacity.
///
/// # Errors
/// No number, or none that is finite.
pub fn number(text: &str) -> Result<f64> {
    let value = text.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    value.ok_or_else(|| Error::text("number", text, "a plain number such as 15.1"))
}

/// A field of a question.
pub struct Field<R> {
    /// Its key in JSON, TOML and the header of a table; ends in its unit.
    pub key: &'static str,
    /// Its flag on the command line, without the dashes; empty when it has none.
    pub flag: &'static str,
    /// True when the question cannot do without it.
    pub needed: bool,
    /// Reads it into the question.
    pub set: fn(&mut R, Input<'_>) -> Result<()>,
}

/// A question: a struct with the table of its fields.
pub trait Request: Default + 'static {
    /// The command that asks it.
    const COMMAND: &'static str;
    /// Its fields, in the order of the struct.
    const FIELDS: &'static [Field<Self>];

    /// The flag of a key as it is typed, or the key itself when it has none.
    fn flag(key: &str) -> String {
        let field = Self::FIELDS.iter().find(|f| f.key == key);
        match field.map(|f| f.flag).filter(|flag| !flag.is_empty()) {
            Some(flag) => format!("--{flag}"),
            None => key.to_owned(),
        }
    }

    /// Reads a question from its fields; one that is null counts as left out.
    ///
    /// # Errors
    /// A key that is unknown, given twice or missing; a value that cannot be read. The error has its field.
    fn from_fields(fields: &Fields<'_>) -> Result<Self> {
        let mut request = Self::default();
        let mut given = [false; MOST_FIELDS];
        for (key, value) in fields.0.iter().filter(|(key, _)| key != BUDGET) {
            let Some(at) = Self::FIELDS.iter().position(|f| f.key == key) else {
                let known = Self::FIELDS.iter().map(|f| f.key);
                return Err(Error::unknown_name("key", key, known));
            };
            if std::mem::replace(&mut given[at], true) {
                let why = "it is given twice; leave one of them out";
                return Err(Error::contradiction(why).of_field(&**key));
            }
            if value.is_null() {
                given[at] = !Self::FIELDS[at].needed;
                continue;
            }
            (Self::FIELDS[at].set)(&mut request, Input::Json(value))
                .map_err(|e| e.of_field(Self::FIELDS[at].key))?;
        }
        let missing = |(field, given): &(&Field<Self>, bool)| field.needed && !given;
        match Self::FIELDS.iter().zip(given).find(missing) {
            Some((field, _)) => Err(Error::missing(field.key, "for this question")),
            None => Ok(request),
        }
    }
}

/// Most keys of a question; none has half as many.
const MOST_FIELDS: usize = 64;

/// The key of a name that the asker gives a request.
const REQUEST_ID: &str = "request_id";
/// The key of the budget, which every question has.
const BUDGET: &str = "budget";

fn made_by(own: &str) -> String {
    let hash = pointage::table::fingerprint(own);
    let program = env!("CARGO_PKG_VERSION");
    format!(",\"made_by\":{{\"program\":\"{program}\",\"parameters\":\"{hash:016x}\"}}")
}

/// The fields of a question before they are read, in the order in which they came.
#[derive(Debug, Clone, Default)]
pub struct Fields<'a>(Vec<(Cow<'a, str>, Value)>);

impl<'a> Fields<'a> {
    /// The fields by their keys.
    #[must_use]
    pub const fn new(fields: Vec<(Cow<'a, str>, Value)>) -> Self {
        Self(fields)
    }

    /// How much work the question may take; the usual where it does not say.
    pub(crate) fn budget(&self) -> Result<u64> {
        let mut fields = self.0.iter().filter(|(_, value)| !value.is_null());
        let given = fields.find(|(key, _)| key == BUDGET);
        let budget = given.map_or(Ok(USUAL), |(_, value)| u64::read(Input::Json(value)));
        budget.map_err(|e| e.of_field(BUDGET))
    }

    /// Takes out the name that the asker gave the request.
    pub(crate) fn id(&mut self) -> Result<Option<Value>> {
        let Some(at) = self.0.iter().position(|(name, _)| name == REQUEST_ID) else {
            return Ok(None);
        };
        let id = self.0.remove(at).1;
        match &id {
            Value::Null => Ok(None),
            Value::Number(_) => Ok(Some(id)),
            Value::String(text) if text.len() <= 100 => Ok(Some(id)),
            _ => {
                let why = "it is neither a number nor a text of at most 100 bytes";
                Err(Error::malformed(why).of_field(REQUEST_ID))
            }
        }
    }

    /// What makes the answer, as the last key of its object: the program, and a hash of the tables with the request's own
    /// parameters (FNV-1a, 64 bits).
    pub(crate) fn origin(&self) -> Cow<'static, str> {
        static SHIPPED: LazyLock<String> = LazyLock::new(|| made_by(""));
        let own = self.0.iter().find(|(key, _)| key == "params_toml");
        match own.and_then(|(_, value)| value.as_str()) {
            Some(own) => made_by(own).into(),
            None => Cow::Borrowed(&SHIPPED),
        }
    }

    /// Takes out a field that every request has.
    pub(crate) fn take<T: FieldValue>(&mut self, key: &str, example: &str) -> Result<T> {
        let Some(at) = self.0.iter().position(|(name, _)| name == key) else {
            let why = format!("it is missing; add \"{key}\": {example}");
            return Err(Error::contradiction(why).of_field(key));
        };
        T::read(Input::Json(&self.0.remove(at).1)).map_err(|e| e.of_field(key))
    }
}

/// A key as it stands in the text, where nothing in it is escaped.
#[derive(Deserialize)]
struct BorrowedKey<'a>(#[serde(borrow)] Cow<'a, str>);

impl<'de> Deserialize<'de> for Fields<'de> {
    fn deserialize<D: de::Deserializer<'de>>(from: D) -> std::result::Result<Self, D::Error> {
        struct Collect;
        impl<'de> Visitor<'de> for Collect {
            type Value = Fields<'de>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("one object")
            }
            fn visit_map<M: MapAccess<'de>>(
                self,
                mut map: M,
            ) -> std::result::Result<Fields<'de>, M::Error> {
                let mut fields = Vec::with_capacity(16);
                while let Some((BorrowedKey(key), value)) = map.next_entry()? {
                    if fields.len() == MOST_FIELDS {
                        return Err(de::Error::custom(format!("more than {MOST_FIELDS} keys")));
                    }
                    fields.push((key, value));
                }
                Ok(Fields(fields))
            }
        }
        from.deserialize_map(Collect)
    }
}

/// Makes a question from the list of its fields: the struct with its documentation, which is also the help
/// of the flags and the description in the schema, and the table that reads it. A field is
/// `key: Type = "flag" (more of the flag),`; without a flag it is `key: Type as skip,`.
macro_rules! request {
    ($(#[$about:meta])* $name:ident = $command:literal {$(
        $(#[$doc:meta])* $key:ident: $type:ty $(as $skip:ident)? $(= $flag:literal $(($($more:tt)*))?)?,
    )*}) => {
        $(#[$about])*
        #[derive(Debug, Clone, PartialEq, serde::Serialize)]
        #[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
        #[cfg_attr(feature = "flags", derive(clap::Args))]
        #[serde(deny_unknown_fields)]
        pub struct $name {$(
            $(#[$doc])*
            $(#[cfg_attr(feature = "flags", arg($skip))])?
            $(#[cfg_attr(feature = "flags", arg(
                long = $flag,
                value_name = <$type as $crate::request::FieldValue>::NAME
                $(, $($more)*)?
            ))])?
            pub $key: $type,
        )*}

        impl $crate::request::Request for $name {
            const COMMAND: &'static str = $command;
            const FIELDS: &'static [$crate::request::Field<Self>] = &[$($crate::request::Field {
                key: stringify!($key),
                flag: concat!($($flag)?),
                needed: <$type as $crate::request::FieldValue>::NEEDED,
                set: |request, input| {
                    request.$key = $crate::request::FieldValue::read(input)?;
                    Ok(())
                },
            }),*];
        }

        impl Default for $name {
            fn default() -> Self {
                Self { $($key: $crate::request::FieldValue::blank()),* }
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(
                from: D,
            ) -> std::result::Result<Self, D::Error> {
                let fields = <$crate::request::Fields as serde::Deserialize>::deserialize(from)?;
                $crate::request::Request::from_fields(&fields).map_err(serde::de::Error::custom)
            }
        }
    };
}
pub(crate) use request;

/// Numbers of an answer by their names, as they stand in a row of a table.
pub type Numbers<A> = &'static [(&'static str, fn(&A) -> Option<f64>)];

/// The numbers of an answer by the names of its fields: its own; the ends of a range, and more of its own;
/// those of parts that may be missing, `part { key ... }`; its last.
macro_rules! numbers {
    (
        $($own:ident)*; $([$range:ident $low:ident $high:ident])? $($more:ident)*;
        $($part:ident { $($key:ident)* })*; $($last:ident)*
    ) => {&[
        $((stringify!($own), |a| a.$own.into()),)*
        $((stringify!($low), |a| a.$range.map(|[low, _]| low)),
        (stringify!($high), |a| a.$range.map(|[_, high]| high)),)?
        $((stringify!($more), |a| a.$more.into()),)*
        $($((concat!(stringify!($part), "_", stringify!($key)), |a| {
            a.$part.as_ref().and_then(|part| part.$key.into())
        }),)*)*
        $((stringify!($last), |a| a.$last.into()),)*
    ]};
}
pub(crate) use numbers;

/// A question that a row of a table can ask.
pub trait Answerable<A: Serialize + 'static>: Request {
    /// The numbers of the answer.
    const NUMBERS: Numbers<A>;
    /// Answers it.
    ///
    /// # Errors
    /// As the function of the question.
    fn answer(&self, model: &crate::Model) -> Result<A>;
}
