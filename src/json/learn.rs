//! Learning from a baker's log.

use crate::ambient::Ambient;
use crate::error::{Error, Result, check};
use crate::ferment::{Kind, Parameters};
use crate::learn::Refused;
use crate::learn::engine::Stop;
use crate::learn::fit::{
    FittedRow, Interval, LawScore, Learned, LearnedParameter, NextBake, Offers, Options, Together,
    learn,
};
use crate::learn::log::{Log, Observation};
use crate::units::Temperature;
use serde::{Deserialize, Serialize};

/// A log and what to do with it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LearnRequest {
    /// The log as CSV text, see [`Log::from_csv`].
    pub log_csv: String,
    /// Huber's loss, so that one mistyped row does not decide.
    pub robust: bool,
    /// Scatter of a single time, in log time, when it is known.
    pub scatter: Option<f64>,
    /// Intervals by profile.
    pub profile: bool,
    /// Intervals by bootstrap, with so many rounds.
    pub bootstrap_rounds: Option<usize>,
    /// Seed of the bootstrap.
    pub seed: u64,
    /// Comparison of rate laws.
    pub compare_laws: bool,
    /// Doses that may be logged next, fresh yeast in % of the flour; the usual ones when empty.
    pub offer_fresh_percent: Vec<f64>,
    /// Temperatures that may be logged next, °C; the usual ones when empty.
    pub offer_at_c: Vec<f64>,
}

/// What the log taught.
#[derive(Debug, Clone, PartialEq, Serialize)]
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
    pub profile: Vec<Interval>,
    /// 10-90 % intervals by bootstrap, when asked.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub bootstrap: Vec<Interval>,
    /// Rate laws, the best first, when asked.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub laws: Vec<LawScore>,
    /// Rows that could not be used.
    pub refused: Vec<Refused>,
    /// How the fit ended.
    pub stop: Stop,
    /// What this log cannot tell, and what is odd about it.
    pub warnings: Vec<String>,
}

/// When the dough of a row is ready.
#[derive(Debug, Clone, PartialEq, Serialize)]
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

/// Learns from a log; gives the answer and what was learned, which writes the parameter file and
/// predicts. `room` fetches a room's record by its name in the log, hour 0 the start of the dough.
///
/// # Errors
/// A log that cannot be read or has no usable row; numbers of the request out of range.
///
/// ```
/// use pointage::ferment::Parameters;
/// use pointage::json::learn::{LearnRequest, learn_log};
/// let request = LearnRequest {
///     log_csv: "kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen\n\
///               poolish,1000,1000,fresh,3,21,11.5,ripe\n".into(),
///     ..LearnRequest::default()
/// };
/// let none = |name: &str| Err(pointage::table::get(name).unwrap_err());
/// let (answer, learned) = learn_log(&request, &Parameters::shipped()?, none)?;
/// assert_eq!(answer.rows_used, 1);
/// assert!(answer.warnings.iter().any(|w| w.contains("one row")));
/// assert!(learned.parameters().levels.poolish.gas < 210.6);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn learn_log(
    request: &LearnRequest,
    prior: &Parameters,
    room: impl FnMut(&str) -> Result<Ambient>,
) -> Result<(LearnAnswer, Learned)> {
    let log = Log::from_csv(&request.log_csv, room)?;
    let options = Options {
        robust: request.robust,
        scatter: request.scatter,
    };
    if let (true, Some(first)) = (log.observations.is_empty(), log.refused.first()) {
        return Err(Error::contradiction(format!(
            "the log has no usable row; the first that is at fault: {first}"
        )));
    }
    let learned = learn(&log.observations, prior, options)?;
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
                before_h: bake.stage().ready(prior, &bake.place.course()?)?.hours,
                now_h: now.hours,
                range_h: learned.tells_range(kind).then_some([now.low_h, now.high_h]),
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
        // What it would teach follows from the errors, and there are none at a limit.
        next_bake: if learned.estimates.iter().any(|e| e.at_limit) {
            None
        } else {
            learned.next_bake(&offers(request, kinds)?)?
        },
        profile: if request.profile {
            learned.profile_intervals()?
        } else {
            Vec::new()
        },
        bootstrap: match request.bootstrap_rounds {
            Some(rounds) => learned.bootstrap_intervals(rounds, request.seed)?,
            None => Vec::new(),
        },
        laws: if request.compare_laws {
            learned.compare_laws()?
        } else {
            Vec::new()
        },
        refused,
        stop: learned.stop,
        warnings: learned.cannot_tell.clone(),
    };
    Ok((answer, learned))
}

fn offers(request: &LearnRequest, kinds: Vec<Kind>) -> Result<Offers> {
    let mut offers = Offers::usual(kinds)?;
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
