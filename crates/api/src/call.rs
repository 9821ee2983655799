//! Any question as one JSON object, its answer as another: the door for every other language.

mod bake;
mod date;
mod plan;

#[cfg(feature = "schema")]
pub(super) use bake::ScaleRequest;
#[cfg(feature = "schema")]
pub(super) use plan::{AdjustRequest, CompareRequest, PlanRequest, When};

use super::{dose, friction, ice, ready, tables, to_line, water};
#[cfg(feature = "learn")]
use super::{fit_rate, learn};
use pointage::error::{Error, echo, words_of};
use serde::de::value::{MapAccessDeserializer, StrDeserializer};
use serde::de::{self, DeserializeSeed, IntoDeserializer, MapAccess, Visitor};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use std::borrow::Cow;
use std::cell::Cell;
use std::fmt;

/// Version of the form of requests and answers. A later one keeps every key of this one or takes
/// another number.
pub const VERSION: u32 = 1;

/// The commands that [`call`] knows. `learn` and `fit-rate` need the feature `learn`; a library without it
/// answers them with an error of kind `left-out`.
pub const COMMANDS: [&str; 12] = [
    "scale", "water", "ice", "friction", "dose", "ready", "plan", "adjust", "compare", "learn",
    "fit-rate", "tables",
];

/// Answers one request.
///
/// A request is one JSON object with `version` (1), `command` (one of [`COMMANDS`]) and the fields of
/// that command's request: those of [`WaterRequest`](super::water::WaterRequest),
/// [`IceRequest`](super::ice::IceRequest), [`FrictionRequest`](super::friction::FrictionRequest),
/// [`DoseRequest`](super::dose::DoseRequest) and [`ReadyRequest`](super::ready::ReadyRequest);
/// `learn` takes those of `json::learn::LearnRequest`, `fit-rate` those of `json::fit_rate::FitRateRequest`,
/// `tables` an `id`.
///
/// `scale`, `plan`, `adjust` and `compare` carry the bake with them, as the text of its file (`bake_toml`) or
/// as an object with the same keys (`bake`). `scale` takes `pieces` and `piece_g`. The others take one of
/// `first_out`, `last_out`, `start_at` and `mix_at` (`"07:30"`), `rooms` (records that the bake names, as pairs
/// of hour and °C), and `date` with `utc_offset`: with them times are RFC 3339, without them hours since
/// midnight of that day. `adjust` takes `measured`, texts such as `"mix 27.4C 04:52"`; `compare` takes `vary`,
/// such as `"room=18..26"`. Learnt numbers go into `dose`, `ready`, `plan`, `adjust`, `compare` and `learn` as
/// `params_toml`, the text that `learn` answers under the same key.
///
/// A field that is null counts as left out, and 24.0 is as whole as 24. What an error repeats of a request is
/// cut to 60 characters. The schema of requests and answers is in `data/schema`.
///
/// The answer is one JSON object on one line: `version` and the keys that `--json` of the same command
/// prints, or `version` and `error`, an object of `kind` (see [`Error::kind`]), `message` and `field`
/// (the key at fault, or null).
///
/// It never panics and always answers, whatever the text is.
///
/// ```
/// use pointage_api::call;
/// let answer = call(r#"{"version": 1, "command": "water", "dough_c": 24, "flour_c": 20,
///     "room_c": 21, "friction_factor_c": 2}"#);
/// assert!(answer.starts_with(r#"{"version":1,"ddt_formula":{"water_c":29.0,"#));
///
/// let answer = call(r#"{"version": 1, "command": "water", "dough_c": 24, "flour_c": 200,
///     "room_c": 21, "friction_factor_c": 2}"#);
/// assert_eq!(answer, "{\"version\":1,\"error\":{\"kind\":\"out-of-range\",\"message\":\"flour_c \
///     (--flour): temperature is 200 °C, but must lie between -100 and 150 °C\",\"field\":\"flour_c\"}}");
/// ```
#[must_use]
pub fn call(request: &str) -> String {
    answer(request).unwrap_or_else(|fault| fault.into_answer())
}

/// The answer of [`call`] to something that is no request at all, such as bytes that are no text.
///
/// ```
/// let error = pointage::Error::Malformed { why: "not UTF-8 text".into() };
/// assert_eq!(
///     pointage_api::refuse(&error),
///     r#"{"version":1,"error":{"kind":"malformed","message":"not UTF-8 text","field":null}}"#
/// );
/// ```
#[must_use]
pub fn refuse(error: &Error) -> String {
    Fault {
        error: error.clone(),
        field: None,
    }
    .into_answer()
}

fn answer(request: &str) -> Answered<String> {
    let mut fields: Fields = serde_json::from_str(request).map_err(|e| not_an_object(&e))?;
    // JSON knows no difference between 1 and 1.0.
    if fields.take::<f64>("version", "1")? != f64::from(VERSION) {
        return Err(Error::malformed(format!(
            "only version {VERSION} is known; use a newer version of the library, or write the request in version {VERSION}"
        ))
        .at("version")
        .into());
    }
    let command: String = fields.take("command", "\"water\"")?;
    match command.as_str() {
        "scale" => reply(bake::scale(&fields.read()?)?),
        "water" => reply(water::water(&fields.read()?)?),
        "ice" => reply(ice::ice(&fields.read()?)?),
        "friction" => reply(friction::friction(&fields.read()?)?),
        "dose" => reply(dose::dose(&fields.read()?)?),
        "ready" => reply(ready::ready(&fields.read()?)?),
        "plan" => reply(plan::plan(&fields.read()?)?),
        "adjust" => reply(plan::adjust(&fields.read()?)?),
        "compare" => reply(plan::compare(&fields.read()?)?),
        #[cfg(feature = "learn")]
        "learn" => reply(learn::learn(&fields.read()?)?),
        #[cfg(feature = "learn")]
        "fit-rate" => reply(fit_rate::fit_rate_of(&fields.read()?)?),
        "tables" => {
            let TablesRequest { id } = fields.read()?;
            reply(tables::tables(id.as_deref())?)
        }
        #[cfg(not(feature = "learn"))]
        "learn" | "fit-rate" => {
            let (what, feature) = (command, "learn");
            Err(Error::LeftOut { what, feature }.at("command").into())
        }
        unknown => Err(Error::unknown_name("command", unknown, COMMANDS)
            .at("command")
            .into()),
    }
}

/// Which table; all of them when left out.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub(super) struct TablesRequest {
    /// Name of a table.
    id: Option<String>,
}

fn reply(answer: impl Serialize) -> Answered<String> {
    Ok(to_line(&Versioned {
        version: VERSION,
        answer,
    })?)
}

#[derive(Serialize)]
struct Versioned<A> {
    version: u32,
    #[serde(flatten)]
    answer: A,
}

/// An error and the key of the request that it is about.
#[derive(Debug, Clone, PartialEq)]
struct Fault {
    error: Error,
    field: Option<String>,
}

type Answered<T> = Result<T, Fault>;

/// In place of an answer: what is wrong.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(super) struct Refusal {
    error: Wrong,
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct Wrong {
    /// A short fixed name of what went wrong.
    kind: &'static str,
    /// One line: what, the allowed range, what to do.
    message: String,
    /// The key at fault, as a path where it lies deeper; null where it is none in particular.
    field: Option<String>,
}

impl Fault {
    fn into_answer(self) -> String {
        let error = Wrong {
            kind: self.error.kind(),
            message: self.error.to_string(),
            field: self.field.as_deref().map(echo),
        };
        // A number and two texts are always JSON.
        reply(Refusal { error }).unwrap_or_default()
    }
}

impl From<Error> for Fault {
    fn from(error: Error) -> Self {
        Self {
            field: key_in(&error).map(str::to_owned),
            error,
        }
    }
}

/// The key that an error is about: its place or its first words, as `dough_c` or `dough_c (--dough)`.
fn key_in(error: &Error) -> Option<&str> {
    let is_key = |text: &str| {
        let in_key = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_';
        !text.is_empty() && text.bytes().all(in_key)
    };
    match error {
        Error::At { place, source } => {
            let key = place.split(" (--").next().filter(|key| is_key(key));
            key.or_else(|| key_in(source))
        }
        Error::OutOfRange { what: text, .. }
        | Error::NotFinite { what: text }
        | Error::Text { what: text, .. }
        | Error::Contradiction { why: text } => text
            .split_once(" (--")
            .map(|(key, _)| key)
            .filter(|key| is_key(key)),
        _ => None,
    }
}

fn not_an_object(error: &serde_json::Error) -> Fault {
    Fault {
        error: Error::malformed(format!(
            "the request cannot be read ({}); it is one JSON object such as {{\"version\": 1, \"command\": \"tables\"}}, each key once",
            words_of(error)
        )),
        field: None,
    }
}

/// Most keys of a request; none has half as many.
const MOST_FIELDS: usize = 64;

/// The fields of a request, each still as its text: only its command tells how to read them.
struct Fields<'r>(Vec<(Cow<'r, str>, &'r RawValue)>);

impl<'r> Deserialize<'r> for Fields<'r> {
    fn deserialize<D: de::Deserializer<'r>>(from: D) -> Result<Self, D::Error> {
        struct Collect;
        /// A key, borrowed unless it is written with escapes.
        #[derive(Deserialize)]
        struct Key<'r>(#[serde(borrow)] Cow<'r, str>);
        impl<'r> Visitor<'r> for Collect {
            type Value = Fields<'r>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("one object")
            }
            fn visit_map<M: MapAccess<'r>>(self, mut map: M) -> Result<Fields<'r>, M::Error> {
                let mut fields = Vec::with_capacity(16);
                while let Some((Key(key), value)) = map.next_entry()? {
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

impl<'r> Fields<'r> {
    /// Takes out a field that every request has.
    fn take<T: Deserialize<'r>>(&mut self, name: &str, example: &str) -> Answered<T> {
        let Some(at) = self.0.iter().position(|(key, _)| key == name) else {
            let why = format!("it is missing; add \"{name}\": {example}");
            return Err(Error::contradiction(why).at(name).into());
        };
        let (_, value) = self.0.remove(at);
        T::deserialize(value).map_err(|e| unreadable(&e).at(name).into())
    }

    /// Reads what is left as the request of a command. The error names its field.
    fn read<T: Deserialize<'r>>(&self) -> Answered<T> {
        let at = Cell::new(None);
        let rest = Rest {
            fields: self.0.iter(),
            value: None,
            at: &at,
        };
        T::deserialize(MapAccessDeserializer::new(rest)).map_err(|Unread(error)| {
            let mut fault = Fault::from(error);
            fault.field = fault.field.or_else(|| at.get().map(str::to_owned));
            fault
        })
    }
}

/// A value that is not of its type, in the words of the JSON reader but without the Rust in them.
fn unreadable(error: &serde_json::Error) -> Error {
    let text = words_of(error);
    // The line and column would be those within the one value.
    let what = text
        .rsplit_once(" at line ")
        .map_or(text.as_str(), |(what, _)| what);
    Error::malformed(what.replace("expected f64", "expected a number"))
}

/// Fields one by one; `at` tells which was read last.
struct Rest<'f, 'r> {
    fields: std::slice::Iter<'f, (Cow<'r, str>, &'r RawValue)>,
    value: Option<&'r RawValue>,
    at: &'f Cell<Option<&'f str>>,
}

impl<'f, 'r> MapAccess<'r> for Rest<'f, 'r> {
    type Error = Unread;

    fn next_key_seed<K: DeserializeSeed<'r>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, Unread> {
        let Some((key, value)) = self.fields.next() else {
            self.at.set(None);
            return Ok(None);
        };
        self.at.set(Some(key.as_ref()));
        self.value = Some(value);
        let key: StrDeserializer<'_, Unread> = key.as_ref().into_deserializer();
        seed.deserialize(key).map(Some)
    }

    fn next_value_seed<V: DeserializeSeed<'r>>(&mut self, seed: V) -> Result<V::Value, Unread> {
        let value = self.value.take().unwrap_or(RawValue::NULL);
        let key = self.at.get().unwrap_or_default();
        seed.deserialize(value)
            .map_err(|e| Unread(unreadable(&e).at(echo(key))))
    }
}

/// What is wrong with a field, in the words of this crate.
#[derive(Debug)]
struct Unread(Error);

impl fmt::Display for Unread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl std::error::Error for Unread {}

impl de::Error for Unread {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self(Error::malformed(words_of(message)))
    }

    fn unknown_field(field: &str, expected: &'static [&'static str]) -> Self {
        Self(Error::unknown_name("key", field, expected.iter().copied()))
    }

    fn missing_field(field: &'static str) -> Self {
        Self(Error::contradiction("it is missing; this command needs it").at(field))
    }

    fn duplicate_field(field: &'static str) -> Self {
        Self(Error::contradiction("it is given twice; leave one of them out").at(field))
    }
}
