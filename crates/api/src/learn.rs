//! Learning from a baker's log.

use super::request::request;
use super::sentences::remarks;
use super::{Assumption, Model, Remark, Rooms, check_field, parameter_file};
use pointage::ambient::Ambient;
use pointage::error::{Error, Result};
use pointage::ferment::Kind;
use pointage::formula::YeastKind;
use pointage::learn::Refused;
use pointage::learn::Termination;
use pointage::learn::fit::{
    self, Diagnostic, FittedRow, Learned, LearnedParameter, NextBake, Offers,
};
use pointage::learn::log::{COLUMNS, Log, Observation};
use pointage::units::{Hours, Mass, Percent, Temperature};
use serde::{Deserialize, Serialize};
use serde_json::Value;

request! {
    /// A log and what to do with it. The log is either `log_csv` or `rows`.
    LearnRequest = "learn" {
        /// The log as CSV text: columns `kind`, `flour_g`, `water_g`, `salt_g`, `yeast`, `yeast_g`,
        /// `temperature_c` or `room_record`, `hours`, `seen` or `rise`, and others; see [`Log::from_csv`]
        log_csv: Option<String> as skip,
        /// The log as rows. In the answer the first is line 2, as in a file with a header
        rows: Option<Vec<LogRow>> as skip,
        /// The rooms that the log names in `room_record`, each as pairs of hours since the mix and °C,
        /// straight lines between them
        #[serde(default)]
        #[cfg_attr(feature = "schema", schemars(with = "Option<Rooms>"))]
        rooms: Rooms as skip,
        /// Fermentation parameters to begin from: the text of a file; the shipped ones without it
        params_toml: Option<String> as skip,
        /// Scatter of a single time, in log time, when it is known
        scatter: Option<f64> as skip,
        /// Doses that you could log next, as fresh yeast, such as 0.2%,0.4% [default: usual ones]
        #[serde(default)]
        #[cfg_attr(feature = "schema", schemars(with = "Option<Vec<Percent>>"))]
        offer_fresh_percent: Vec<Percent> = "offer-dose" (value_delimiter = ','),
        /// Temperatures that you could log next, such as 16,20 [default: usual ones]
        #[serde(default)]
        #[cfg_attr(feature = "schema", schemars(with = "Option<Vec<Temperature>>"))]
        offer_at_c: Vec<Temperature> = "offer-at" (value_delimiter = ','),
        /// Name of the log, for the head of the parameter file
        log_name: Option<String> as skip,
        /// Day of the learning, for the same head; today without it
        date: Option<String> = "date",
    }
}

/// A row of a log: a dough, where it stood, and what was seen of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct LogRow {
    /// What it is.
    pub kind: Kind,
    /// Its own flour.
    pub flour_g: Mass,
    /// Its own water.
    pub water_g: Mass,
    /// Its own salt; none when left out.
    pub salt_g: Option<Mass>,
    /// Kind of yeast.
    pub yeast: YeastKind,
    /// How much of it was added.
    pub yeast_g: Mass,
    /// How much of the flour a preferment or old dough has brought; none when left out.
    pub preferment_flour_g: Option<Mass>,
    /// Living yeast that they have brought, as fresh; none when left out.
    pub living_yeast_g: Option<Mass>,
    /// The temperature that the dough was held about; with a record, that at its mix.
    pub temperature_c: Option<Temperature>,
    /// Or the name of its room in `rooms`.
    pub room_record: Option<String>,
    /// From mixing to the start of a bulk or a proof; 0 when left out.
    pub before_hours: Option<Hours>,
    /// From mixing, or from the start of the bulk or the proof, to what was seen.
    pub hours: Hours,
    /// What was seen; it may be left out beside a rise.
    pub seen: Option<Word>,
    /// V/V0 that a straight-sided jar showed then, 1.05 to 5.
    pub rise: Option<f64>,
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
    /// Any of them at its end point, as the answer has it; a bulk or a proof that its baker ends then.
    Ready,
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
    /// Lines of the three rows with the largest differences.
    pub largest: Vec<u64>,
    /// The bake to log next, of the kinds in the log; none where the fit did not settle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_bake: Option<NextBake>,
    /// Rows that could not be used.
    pub refused: Vec<Refused>,
    /// How the fit ended.
    pub stop: Termination,
    /// The numbers learned, as the text of a parameter file: `params_toml` of later questions.
    pub params_toml: String,
    /// Whose numbers the learning began from, and the doses and temperatures that the log holds.
    pub notes: Vec<Remark>,
    /// What this log cannot tell, and what is odd about it.
    pub warnings: Vec<Remark>,
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
    /// Where a new one of its kind lies four times out of five (10 to 90 %); `None` where the fit did not settle.
    pub range_h: Option<[f64; 2]>,
}

/// Learns from a log that has its rooms with it.
///
/// # Errors
/// As [`learn_log`]; a room that no row names.
///
/// ```
/// use pointage_api::{Model, learn::{LearnRequest, learn}};
/// let request: LearnRequest = serde_json::from_str(r#"{"rows": [{"kind": "poolish", "flour_g": 1000,
///     "water_g": 1000, "yeast": "fresh", "yeast_g": 3, "temperature_c": 21, "hours": 11.5, "seen": "ripe"}]}"#)
///     .unwrap();
/// let answer = learn(&request, &Model::shipped()?)?;
/// assert_eq!(answer.rows[0].line, 2);
/// assert!(answer.params_toml.contains("[values.poolish_ml_per_100g]"));
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn learn(request: &LearnRequest, model: &Model) -> Result<LearnAnswer> {
    let mut asked = Vec::new();
    let (answer, _) = learn_log(request, model, |name| {
        asked.push(name.to_owned());
        super::room(&request.rooms, name)
    })?;
    super::no_other_rooms(&request.rooms, &asked)?;
    Ok(answer)
}

/// Learns from a log, beginning from the parameters of `model`; gives the answer and what was
/// learned, which predicts. `room` fetches a room's record by its name in the log, hour 0 the start of the
/// dough.
///
/// # Errors
/// A log that cannot be read or has no usable row; numbers of the request out of range.
///
/// ```
/// use pointage_api::{Model, learn::{LearnRequest, learn_log}};
/// let log = "kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen\n\
///            poolish,1000,1000,fresh,3,21,11.5,ripe\n";
/// let request = LearnRequest { log_csv: Some(log.into()), ..LearnRequest::default() };
/// let none = |name: &str| Err(pointage::table::get(name).unwrap_err());
/// let (answer, learned) = learn_log(&request, &Model::shipped()?, none)?;
/// assert_eq!(answer.rows_used, 1);
/// // Half an hour sooner than the published recipes: it is ripe with less gas.
/// let gas = |p: &pointage::ferment::Parameters| p.level(pointage::ferment::Kind::Poolish).gas;
/// assert!(gas(&learned.parameters) < gas(Model::shipped()?.parameters()));
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn learn_log(
    request: &LearnRequest,
    model: &Model,
    room: impl FnMut(&str) -> Result<Ambient>,
) -> Result<(LearnAnswer, Learned)> {
    let model = model.of_request(request.params_toml.as_ref())?;
    let (prior, own) = (model.parameters(), model.overrides());
    let log = match (&request.log_csv, &request.rows) {
        (Some(text), None) => Log::from_csv(text, room)?,
        (None, Some(rows)) => Log::from_csv(&sheet(rows)?, room)?,
        (None, None) => {
            return Err(Error::missing(
                "log_csv",
                "as the text of the log, or its rows as rows",
            ));
        }
        (Some(_), Some(_)) => {
            let fields = ["rows", "log_csv"];
            return Err(Error::excludes(&fields, "both give the log"));
        }
    };
    if let (true, Some(first)) = (log.observations.is_empty(), log.refused.first()) {
        return Err(Error::contradiction(format!(
            "the log has no usable row; the first that is at fault: {first}"
        )));
    }
    let learned = fit::learn(&log.observations, prior, request.scatter)?;
    let mut forecasts = Vec::new();
    for kind in Kind::ALL {
        let used = |o: &&Observation| {
            let of_end = o.bake.kind == kind && o.bake.rise.is_none();
            of_end && learned.rows.iter().any(|r| r.line == o.line)
        };
        if let Some(last) = log.observations.iter().rfind(used) {
            let bake = &last.bake;
            let now = learned.predict(bake)?;
            forecasts.push(Forecast {
                line: last.line,
                kind,
                before_h: bake.ready(prior)?,
                now_h: now.hours,
                range_h: learned.is_sound().then_some([now.low_h, now.high_h]),
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
    let (covers, warnings): (Vec<Diagnostic>, _) = (learned.findings.iter().cloned())
        .partition(|found| matches!(found, Diagnostic::Covers { .. }));
    let mut notes = own.map_or(Vec::new(), |own| {
        vec![own.note(), Assumption::CarriedOver.into()]
    });
    notes.extend(remarks(covers));
    let answer = LearnAnswer {
        rows_used: learned.rows.len(),
        estimates: learned.estimates.clone(),
        scatter: learned.scatter,
        rows: learned.rows.clone(),
        forecasts,
        largest: learned.largest.clone(),
        // What it would teach follows from the errors.
        next_bake: if learned.is_sound() {
            learned.next_bake(&offers(request, kinds)?)?
        } else {
            None
        },
        refused,
        stop: learned.stop,
        params_toml: parameter_file::of_learned(&learned, request, own)?,
        notes,
        warnings: remarks(warnings),
    };
    Ok((answer, learned))
}

/// The reader of logs knows every column and its range, so that rows go through it too.
fn sheet(rows: &[LogRow]) -> Result<String> {
    let malformed = |e: &dyn std::fmt::Display| Error::malformed(e.to_string());
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS).map_err(|e| malformed(&e))?;
    for row in rows {
        let row = serde_json::to_value(row).map_err(|e| malformed(&e))?;
        let cells = COLUMNS.map(|column| match &row[column] {
            // A line break inside a cell would shift the lines that refusals name.
            Value::String(text) if column != "note" => text.replace(['\n', '\r'], " "),
            Value::Number(number) => number.to_string(),
            _ => String::new(),
        });
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
        let dose = |dose: &Percent| {
            let (dose, what) = (dose.as_percent(), "dose");
            check_field(
                "offer_fresh_percent",
                what,
                dose,
                (1e-4, 20.0),
                "% of flour",
            )
        };
        let doses = request.offer_fresh_percent.iter().map(dose);
        offers.fresh_percent = doses.collect::<Result<_>>()?;
    }
    for at in &request.offer_at_c {
        let c = at.as_celsius();
        check_field("offer_at_c", "temperature", c, (-5.0, 45.0), "°C")?;
    }
    if !request.offer_at_c.is_empty() {
        offers.temperatures.clone_from(&request.offer_at_c);
    }
    Ok(offers)
}
