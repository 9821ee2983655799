//! Learning from a baker's log.

use super::{ParameterOverrides, Rooms, parameter_file};
use pointage::ambient::Ambient;
use pointage::error::{Error, Result, check};
use pointage::ferment::{Kind, Parameters};
use pointage::formula::YeastKind;
use pointage::learn::Refused;
use pointage::learn::Termination;
use pointage::learn::fit::{
    self, FittedRow, LawScore, Learned, LearnedInterval, LearnedParameter, NextBake, Offers,
    Options, Together, sentences,
};
use pointage::learn::log::{COLUMNS, Log, Observation};
use pointage::units::Temperature;
use serde::{Deserialize, Serialize};

/// A log and what to do with it. The log is either `log_csv` or `rows`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct LearnRequest {
    /// The log as CSV text: columns `kind`, `flour_g`, `water_g`, `salt_g`, `yeast`, `yeast_g`,
    /// `temperature_c` or `room_record`, `hours`, `seen`; see [`Log::from_csv`].
    pub log_csv: Option<String>,
    /// The log as rows. In the answer the first is line 2, as in a file with a header.
    pub rows: Option<Vec<LogRow>>,
    /// The rooms that the log names in `room_record`, each as pairs of hours since the mix and °C, straight
    /// lines between them.
    #[serde(deserialize_with = "super::null_is_usual")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<Rooms>"))]
    pub rooms: Rooms,
    /// Own numbers to begin from: the text of a parameter file; the shipped ones without it.
    pub params_toml: Option<String>,
    /// Huber's loss, so that one mistyped row does not decide.
    #[serde(deserialize_with = "super::null_is_usual")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<bool>"))]
    pub robust: bool,
    /// Scatter of a single time, in log time, when it is known.
    pub scatter: Option<f64>,
    /// Intervals by profile.
    #[serde(deserialize_with = "super::null_is_usual")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<bool>"))]
    pub profile: bool,
    /// Intervals by bootstrap, with so many rounds.
    #[serde(deserialize_with = "super::whole")]
    pub bootstrap_rounds: Option<usize>,
    /// Seed of the bootstrap; 1 when left out.
    #[serde(deserialize_with = "super::whole")]
    pub seed: Option<u64>,
    /// Comparison of rate laws.
    #[serde(deserialize_with = "super::null_is_usual")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<bool>"))]
    pub compare_laws: bool,
    /// Doses that may be logged next, fresh yeast in % of the flour; the usual ones when empty.
    #[serde(deserialize_with = "super::null_is_usual")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<Vec<f64>>"))]
    pub offer_fresh_percent: Vec<f64>,
    /// Temperatures that may be logged next, °C; the usual ones when empty.
    #[serde(deserialize_with = "super::null_is_usual")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<Vec<f64>>"))]
    pub offer_at_c: Vec<f64>,
    /// Name of the log, for the head of the parameter file.
    pub log_name: Option<String>,
    /// Day of the learning, for the same head, as it shall be written there.
    pub date: Option<String>,
}

/// A row of a log: a dough, where it stood, and what was seen of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct LogRow {
    /// What it is.
    pub kind: Kind,
    /// Its own flour.
    pub flour_g: f64,
    /// Its own water.
    pub water_g: f64,
    /// Its own salt; none when left out.
    pub salt_g: Option<f64>,
    /// Kind of yeast.
    pub yeast: YeastKind,
    /// How much of it.
    pub yeast_g: f64,
    /// The temperature that the dough was held about; with a record, that at its mix.
    pub temperature_c: Option<f64>,
    /// Or the name of its room in `rooms`.
    pub room_record: Option<String>,
    /// From mixing to what was seen.
    pub hours: f64,
    /// What was seen.
    pub seen: Word,
    /// Free text.
    pub date: Option<String>,
    /// Free text.
    pub note: Option<String>,
}

/// What was seen, as it is written in a log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Word {
    /// A preferment at its end point.
    Ripe,
    /// A dough at its end point.
    Doubled,
    /// Not there yet when last looked at.
    NotYet,
    /// Past it already when first looked at.
    Past,
}

/// What the log taught.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct LearnAnswer {
    /// Rows used.
    pub rows_used: usize,
    /// The parameters before and after.
    pub estimates: Vec<LearnedParameter>,
    /// Scatter of a single time, in log time.
    pub scatter: f64,
    /// The rows with their residuals.
    pub rows: Vec<FittedRow>,
    /// For the last row of each kind, what the numbers said before and what they say now.
    pub forecasts: Vec<Forecast>,
    /// Lines of the three rows farthest off.
    pub largest: Vec<u64>,
    /// Parameters that go together.
    pub together: Vec<Together>,
    /// The bake to log next, of the kinds in the log; none where a parameter is at its limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_bake: Option<NextBake>,
    /// 10-90 % intervals by profile, when asked.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub profile: Vec<LearnedInterval>,
    /// 10-90 % intervals by bootstrap, when asked.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub bootstrap: Vec<LearnedInterval>,
    /// Rate laws, the best first, when asked.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub laws: Vec<LawScore>,
    /// Rows that could not be used.
    pub refused: Vec<Refused>,
    /// How the fit ended.
    pub stop: Termination,
    /// The numbers learned, as the text of a parameter file: `params_toml` of later questions.
    pub params_toml: String,
    /// Whose numbers the learning began from.
    pub notes: Vec<String>,
    /// What this log cannot tell, and what is odd about it.
    pub warnings: Vec<String>,
}

/// When the dough of a row is ready.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Forecast {
    /// Line of the row.
    pub line: u64,
    /// What it is.
    pub kind: Kind,
    /// Hours by the numbers that learning began from.
    pub before_h: f64,
    /// Hours by those that were learned.
    pub now_h: f64,
    /// Where a new one of its kind lies four times out of five (10 to 90 %); `None` where a parameter
    /// that it depends on was pushed to its limit.
    pub range_h: Option<[f64; 2]>,
}

/// Learns from a log that has its rooms with it.
///
/// # Errors
/// As [`learn_log`]; a room that no row names.
///
/// ```
/// use pointage_api::learn::{LearnRequest, learn};
/// let request: LearnRequest = serde_json::from_str(r#"{"rows": [{"kind": "poolish", "flour_g": 1000,
///     "water_g": 1000, "yeast": "fresh", "yeast_g": 3, "temperature_c": 21, "hours": 11.5, "seen": "ripe"}]}"#)
///     .unwrap();
/// let answer = learn(&request)?;
/// assert_eq!(answer.rows[0].line, 2);
/// assert!(answer.params_toml.contains("[values.poolish_ml_per_100g]"));
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn learn(request: &LearnRequest) -> Result<LearnAnswer> {
    let mut asked = Vec::new();
    let (answer, _) = learn_log(request, None, |name| {
        asked.push(name.to_owned());
        super::room(&request.rooms, name)
    })?;
    super::no_other_rooms(&request.rooms, &asked)?;
    Ok(answer)
}

/// Learns from a log, beginning from the shipped numbers or from `own`; gives the answer and what was
/// learned, which predicts. `room` fetches a room's record by its name in the log, hour 0 the start of the
/// dough.
///
/// # Errors
/// A log that cannot be read or has no usable row; numbers of the request out of range.
///
/// ```
/// use pointage_api::learn::{LearnRequest, learn_log};
/// let log = "kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen\n\
///            poolish,1000,1000,fresh,3,21,11.5,ripe\n";
/// let request = LearnRequest { log_csv: Some(log.into()), ..LearnRequest::default() };
/// let none = |name: &str| Err(pointage::table::get(name).unwrap_err());
/// let (answer, learned) = learn_log(&request, None, none)?;
/// assert_eq!(answer.rows_used, 1);
/// assert!(answer.warnings.iter().any(|w| w.contains("one row")));
/// assert!(learned.parameters.levels.poolish.gas < 210.6);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn learn_log(
    request: &LearnRequest,
    own: Option<&ParameterOverrides>,
    room: impl FnMut(&str) -> Result<Ambient>,
) -> Result<(LearnAnswer, Learned)> {
    let shipped = Parameters::shipped()?;
    let before = own.map_or(&shipped, |own| &own.parameters);
    let brought = ParameterOverrides::of_request(request.params_toml.as_deref(), before)?;
    let own = brought.as_ref().or(own);
    let prior = own.map_or(&shipped, |own| &own.parameters);
    let log = match (&request.log_csv, &request.rows) {
        (Some(text), None) => Log::from_csv(text, room)?,
        (None, Some(rows)) => Log::from_csv(&sheet(rows)?, room)?,
        (None, None) => {
            return Err(Error::contradiction(
                "no log; give its text as log_csv, or its rows as rows",
            ));
        }
        (Some(_), Some(_)) => {
            let why = "log_csv and rows both give the log; leave one of them out";
            return Err(Error::contradiction(why).at("rows"));
        }
    };
    let options = Options {
        robust: request.robust,
        scatter: request.scatter,
    };
    if let (true, Some(first)) = (log.observations.is_empty(), log.refused.first()) {
        return Err(Error::contradiction(format!(
            "the log has no usable row; the first that is at fault: {first}"
        )));
    }
    let learned = fit::learn(&log.observations, prior, options)?;
    let mut forecasts = Vec::new();
    for kind in Kind::ALL {
        let used =
            |o: &&Observation| o.bake.kind == kind && learned.rows.iter().any(|r| r.line == o.line);
        if let Some(last) = log.observations.iter().rfind(used) {
            let bake = &last.bake;
            let now = learned.predict(bake)?;
            forecasts.push(Forecast {
                line: last.line,
                kind,
                before_h: bake.ready(prior)?,
                now_h: now.hours,
                range_h: learned.sound.then_some([now.low_h, now.high_h]),
            });
        }
    }
    let mut refused = log.refused;
    refused.extend(learned.refused.iter().cloned());
    refused.sort_by_key(|r| r.line);
    let kinds: Vec<Kind> = Kind::ALL
        .into_iter()
        .filter(|kind| learned.rows.iter().any(|r| r.kind == *kind))
        .collect();
    let answer = LearnAnswer {
        rows_used: learned.rows.len(),
        estimates: learned.estimates.clone(),
        scatter: learned.scatter,
        rows: learned.rows.clone(),
        forecasts,
        largest: learned.largest.clone(),
        together: learned.together.clone(),
        // What it would teach follows from the errors.
        next_bake: if learned.sound {
            learned.next_bake(&offers(request, kinds)?)?
        } else {
            None
        },
        profile: if request.profile {
            learned.profile_intervals()?
        } else {
            Vec::new()
        },
        bootstrap: match request.bootstrap_rounds {
            Some(rounds) => learned.bootstrap_intervals(rounds, request.seed.unwrap_or(1))?,
            None => Vec::new(),
        },
        laws: if request.compare_laws {
            learned.compare_laws()?
        } else {
            Vec::new()
        },
        refused,
        stop: learned.stop,
        params_toml: parameter_file::of_learned(&learned, request, own)?,
        notes: own.map_or(Vec::new(), |own| vec![own.note(), CARRIED.to_owned()]),
        warnings: learned
            .cannot_tell
            .iter()
            .map(sentences::diagnostic)
            .collect(),
    };
    Ok((answer, learned))
}

/// What to know of a file that goes on from another one.
const CARRIED: &str = "The numbers learned are what this log taught and, carried over, the other values of the own numbers: their file replaces the one before. A log that that one was learned from would count twice.";

/// The reader of logs knows every column and its range, so that rows go through it too.
fn sheet(rows: &[LogRow]) -> Result<String> {
    let malformed = |e: &dyn std::fmt::Display| Error::malformed(e.to_string());
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Date and note are for the reader of a log; nothing is learned from them.
    let header = COLUMNS.iter().filter(|c| !["date", "note"].contains(c));
    writer.write_record(header).map_err(|e| malformed(&e))?;
    for row in rows {
        let number = |n: Option<f64>| n.map_or(String::new(), |n| n.to_string());
        let seen = match row.seen {
            Word::Ripe => "ripe",
            Word::Doubled => "doubled",
            Word::NotYet => "not-yet",
            Word::Past => "past",
        };
        // A line break inside a cell would shift the lines that refusals name.
        let room = row.room_record.as_deref().unwrap_or_default();
        let cells = [
            row.kind.name().to_owned(),
            number(Some(row.flour_g)),
            number(Some(row.water_g)),
            number(row.salt_g),
            row.yeast.name().to_owned(),
            number(Some(row.yeast_g)),
            number(row.temperature_c),
            room.replace(['\n', '\r'], " "),
            number(Some(row.hours)),
            seen.to_owned(),
        ];
        writer.write_record(cells).map_err(|e| malformed(&e))?;
    }
    let bytes = writer.into_inner().map_err(|e| malformed(&e))?;
    String::from_utf8(bytes).map_err(|e| malformed(&e))
}

fn offers(request: &LearnRequest, kinds: Vec<Kind>) -> Result<Offers> {
    let mut offers = Offers {
        kinds,
        ..Offers::default()
    };
    if !request.offer_fresh_percent.is_empty() {
        for &dose in &request.offer_fresh_percent {
            let name = "offer_fresh_percent (--offer-dose)";
            check(name, dose, 1e-4, 20.0, "% of flour")?;
        }
        offers
            .fresh_percent
            .clone_from(&request.offer_fresh_percent);
    }
    if !request.offer_at_c.is_empty() {
        let at = |&c: &f64| {
            let c = check("offer_at_c (--offer-at)", c, -5.0, 45.0, "°C")?;
            Temperature::celsius(c)
        };
        offers.temperatures = request.offer_at_c.iter().map(at).collect::<Result<_>>()?;
    }
    Ok(offers)
}
