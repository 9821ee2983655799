//! Any question as one JSON object, its answer as another: the door for every other language.

mod bake;
mod date;
mod plan;

use super::request::{Fields, Request as _};
use super::{Model, dose, friction, ice, keys, new, ready, scale, tables, to_line, water};
#[cfg(feature = "learn")]
use super::{fit_rate, learn};
pub(crate) use bake::ScaleRequest;
use plan::{AdjustRequest, CompareRequest, PlanRequest};
use pointage::budget::within;
use pointage::error::{Error, ErrorKind, Result, echo, words_of};
use serde::Serialize;
use serde_json::Value;

/// Version of the form of requests and answers. A later one keeps every key of this one or takes
/// another number.
pub const VERSION: u32 = 1;

/// What takes an answer, of whichever command it is.
pub trait TakeAnswer {
    /// What it makes of it.
    type Made;
    /// Takes it.
    ///
    /// # Errors
    /// Only for an object that this form cannot express, which no answer of this crate is.
    fn take<A: Serialize + Send + 'static>(self, answer: A) -> Result<Self::Made>;
}

/// One line of JSON without `version`.
struct AsLine;

impl TakeAnswer for AsLine {
    type Made = String;
    fn take<A: Serialize + Send + 'static>(self, answer: A) -> Result<String> {
        to_line(&answer)
    }
}

/// The commands, each with its request, its answer and what answers it; and the same for their schema.
macro_rules! commands {
    ($($(#[$cfg:meta])* $request:ty => $answer:ty = $ask:expr;)*) => {
        /// The commands that [`call`] knows. `learn` and `fit-rate` need the feature `learn`; a library
        /// without it answers them with an error of kind `left-out`.
        pub const COMMANDS: &[&str] = &[$($(#[$cfg])* <$request>::COMMAND),*];

        /// Answers a command with its fields; `taker` gives the answer its form.
        ///
        /// # Errors
        /// What [`call`] answers with an `error`.
        pub fn ask<T: TakeAnswer>(command: &str, fields: &Fields<'_>, taker: T) -> Result<T::Made> {
            $($(#[$cfg])* if command == <$request>::COMMAND {
                let ask: fn($request) -> Result<$answer> = $ask;
                let request = <$request>::from_fields(fields)?;
                return taker.take(within(fields.budget()?, || ask(request))?);
            })*
            let left_out = ["learn", "fit-rate"].contains(&command);
            let error = if left_out {
                let (what, feature) = (command.to_owned(), "learn");
                Error::LeftOut { what, feature }
            } else {
                Error::unknown_name("command", command, COMMANDS.iter().copied())
            };
            Err(error.of_field("command"))
        }

        /// The schemas of the requests by their commands, and those of the answers.
        #[cfg(feature = "schema")]
        pub(super) fn schemas(
            requests: &mut schemars::SchemaGenerator,
            answers: &mut schemars::SchemaGenerator,
        ) -> (Vec<(&'static str, schemars::Schema)>, Vec<schemars::Schema>) {
            use schemars::JsonSchema as _;
            (
                vec![$((<$request>::COMMAND, <$request>::json_schema(requests))),*],
                vec![$(answers.subschema_for::<$answer>(),)* answers.subschema_for::<Refusal>()],
            )
        }
    };
}

commands! {
    new::NewRequest => new::NewAnswer = |r| new::new(&r);
    keys::KeysRequest => keys::KeysAnswer = |r| keys::keys(&r);
    ScaleRequest => scale::ScaleAnswer = |r| bake::scale(&r);
    water::WaterRequest => water::WaterAnswer = |r| water::water(&r);
    ice::IceRequest => ice::IceAnswer = |r| ice::ice(&r);
    friction::FrictionRequest => friction::FrictionAnswer = |r| friction::friction(&r);
    dose::DoseRequest => dose::DoseAnswer = |r| dose::dose(&r, &Model::shipped()?);
    ready::ReadyRequest => ready::ReadyAnswer = |r| ready::ready(&r, &Model::shipped()?);
    PlanRequest => super::plan::PlanAnswer<plan::When> = |r| plan::plan(&r);
    AdjustRequest => super::adjust::AdjustAnswer<plan::When> = |r| plan::adjust(&r);
    CompareRequest => super::compare::CompareAnswer<plan::When> = |r| plan::compare(&r);
    #[cfg(feature = "learn")]
    learn::LearnRequest => learn::LearnAnswer = |r| learn::learn(&r, &Model::shipped()?);
    #[cfg(feature = "learn")]
    fit_rate::FitRateRequest => fit_rate::FitRateAnswer = |r| fit_rate::fit_rate_of(&r);
    tables::TablesRequest => tables::TablesAnswer = |r| tables::tables(&r);
}

/// Answers one request.
///
/// A request is one JSON object with `version` (1), `command` (one of [`COMMANDS`]) and the fields of
/// that command's request: those of [`WaterRequest`](super::water::WaterRequest),
/// [`IceRequest`](super::ice::IceRequest), [`FrictionRequest`](super::friction::FrictionRequest),
/// [`DoseRequest`](super::dose::DoseRequest) and [`ReadyRequest`](super::ready::ReadyRequest);
/// `learn` takes those of its `LearnRequest`, `fit-rate` those of its `FitRateRequest` (with the feature `learn`),
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
/// Every request may have a `request_id`, a text or a number, which the answer repeats. An answer ends with what
/// made it, `made_by`: the `program`'s version and, as `parameters`, a hash of the tables that it rests on with the
/// request's own. Every request may have a `budget`: how many steps of work it may take, [`USUAL`](pointage::budget::USUAL) without
/// it. One that takes more is answered by an error of kind `too-much-work`.
///
/// A temperature, mass, percentage or time is a number in the unit that ends its key, or a text with its
/// unit (`"75F"`, `"1.2kg"`, `"0.5%"`, `"1h30"`). A field that is null counts as left out, and 24.0 is as
/// whole as 24. What an error repeats of a request is
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
/// assert!(answer.starts_with(r#"{"version":1,"water_c":29.0,"#));
///
/// let answer = call(r#"{"version": 1, "command": "water", "dough_c": 24, "flour_c": 200,
///     "room_c": 21, "friction_factor_c": 2}"#);
/// assert_eq!(answer, "{\"version\":1,\"error\":{\"kind\":\"out-of-range\",\"message\":\"flour_c: \
///     temperature is 200 °C, but must lie between -100 and 150 °C\",\"field\":\"flour_c\"}}");
/// ```
#[must_use]
pub fn call(request: &str) -> String {
    let mut fields: Fields<'_> = match serde_json::from_str(request) {
        Ok(fields) => fields,
        Err(error) => {
            return refuse(&Error::malformed(format!(
                "the request cannot be read ({}); it is one JSON object such as {{\"version\": 1, \"command\": \"tables\"}}, each key once",
                words_of(error)
            )));
        }
    };
    let id = match fields.id() {
        Ok(id) => id,
        Err(error) => return refuse(&error),
    };
    match answer(&mut fields) {
        Ok(line) => enveloped(&line, id, &fields.origin()),
        Err(error) => enveloped(&refusal(&error), id, ""),
    }
}

/// The answer of [`call`] to something that is no request at all, such as bytes that are no text.
///
/// ```
/// let error = pointage::Error::malformed("not UTF-8 text");
/// assert_eq!(
///     pointage_api::refuse(&error),
///     r#"{"version":1,"error":{"kind":"malformed","message":"not UTF-8 text","field":null}}"#
/// );
/// ```
#[must_use]
pub fn refuse(error: &Error) -> String {
    enveloped(&refusal(error), None, "")
}

fn refusal(error: &Error) -> String {
    let error = Wrong {
        kind: error.kind(),
        message: error.to_string(),
        field: error.field().as_deref().map(echo),
    };
    // A number and two texts are always JSON.
    to_line(&Refusal { error }).unwrap_or_default()
}

fn answer(fields: &mut Fields<'_>) -> Result<String> {
    // JSON knows no difference between 1 and 1.0.
    if fields.take::<f64>("version", "1")? != f64::from(VERSION) {
        return Err(Error::malformed(format!(
            "only version {VERSION} is known; use a newer version of the library, or write the request in version {VERSION}"
        ))
        .of_field("version"));
    }
    let command: String = fields.take("command", "\"water\"")?;
    ask(&command, fields, AsLine)
}

/// A line of JSON with the version and the id of its request before its keys, and what made it behind them.
fn enveloped(line: &str, id: Option<Value>, origin: &str) -> String {
    let keys = line.strip_prefix('{').unwrap_or_default();
    let keys = keys.strip_suffix('}').unwrap_or_default();
    let id = id.map_or_else(String::new, |id| format!("\"request_id\":{id},"));
    let version = format!("{{\"version\":{VERSION},");
    [&version, &id, keys, origin, "}"].concat()
}

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
    /// What went wrong, one of a closed list.
    kind: ErrorKind,
    /// One line: what, the allowed range, what to do.
    message: String,
    /// The key at fault, as a path where it lies deeper; null where it is none in particular.
    field: Option<String>,
}
