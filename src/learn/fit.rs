//! From a log to parameters: the most probable ones, given the table before and what was seen.
//!
//! Learned are the numbers of [`Uncertain`] that have a place in a parameter file: the gas
//! at the end point of each kind (level), the tilt of the gas curve, growth with its cap and lag, and how times bend
//! away from the model ([`Bend`](crate::ferment::Bend)), so that a kitchen which follows another law of dose and time
//! is followed too. With `z` these parameters in prior standard deviations, `e` the log time that was seen less the
//! one predicted, and `N` and `Φ` the density and the share below of a normal distribution, the most probable ones
//! minimise
//!
//! ```text
//! sum_ready    -2 ln[0.97 N(e/s)/s + 0.03 N(e/1.5)/1.5]        a row is sound, or mistyped
//! sum_not-yet  -2 ln[0.97 Φ(-e/s) + 0.03 Φ(-e/1.5)]            it takes longer
//! sum_past     -2 ln[0.97 Φ(e/s) + 0.03 Φ(e/1.5)]              it took less
//! z' R⁻¹ z                                                     the numbers before, with standard deviations
//! ```
//!
//! with `R` the correlations of the numbers before (none as shipped): few rows move little and many
//! decide. Each enters the least squares as the square root of what it adds. The scatter `s` of a single observation
//! in log time starts at 0.12 and weighs as much as two rows; the rows seen ready move it, each with the weight `w` that
//! it has in the fit, by the probability that it is sound:
//! `s² = (2 · 0.12² + sum w e²)/(2 + sum w - k)`, `k` the parameters that the rows pay for. Standard errors
//! come from the curvature at the solution.

mod diagnostics;
mod file;
mod log_model;
mod map_fit;
mod next_bake;

pub use diagnostics::Diagnostic;
pub use next_bake::{NextBake, Offers};

use super::csv_log::Refused;
use super::engine::Termination;
use super::log::{LoggedDough, Observation, Seen};
use crate::budget;
use crate::error::{Error, Result, check};
use crate::ferment::{Kind, LEARNABLE, Parameters, Uncertain};
use diagnostics::Span;
use log_model::{LogModel, Vector};
use map_fit::{MapFit, map_fit, student_90};

/// Scatter of a single observation before the log has a say, in log time: a little more than the tenth that is usual,
/// for in simulated kitchens a log that scatters by a quarter is then known as such sooner.
const USUAL_SCATTER: f64 = 0.12;
/// Share of the prior variance that the log must take away, or nothing was learned.
const LEARNED: f64 = 0.02;
/// Beyond the doses and temperatures of a log a forecast is less sure: standard deviations in log time for each factor
/// e of the dose and for 10 K, by judgement.
const BEYOND_DOSE: f64 = 0.20;
const BEYOND_10K: f64 = 0.15;

/// A parameter before and after.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct LearnedParameter {
    /// Its name, as in a parameter file.
    pub name: &'static str,
    /// Before.
    pub prior: f64,
    /// Standard deviation before: of the logarithm where `on_log_scale`.
    pub prior_sd: f64,
    /// After.
    pub value: f64,
    /// Standard error after, on the same scale; `None` where the log does not tell the parameter.
    pub standard_error: Option<f64>,
    /// True where the errors are those of the logarithm.
    pub on_log_scale: bool,
    /// How far it moved, in prior standard deviations.
    pub moved: f64,
    /// Share of the prior variance that the log took away, 0 to 1.
    pub learned_share: f64,
}

/// A row and what the learned parameters make of it.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct FittedRow {
    /// Line of the log.
    pub line: u64,
    /// What it was.
    pub kind: Kind,
    /// What was seen.
    pub seen: Seen,
    /// V/V0 that the jar showed, of a row that tells a rise and no end point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rise: Option<f64>,
    /// When, h.
    pub seen_h: f64,
    /// When it should have been ready, h.
    pub predicted_h: f64,
    /// Seen minus predicted, minutes; `None` for a row of which only one side is known.
    pub residual_min: Option<f64>,
    /// The same in log time over the scatter; of a one-sided row how far it is on the wrong side, or 0.
    pub standardised: f64,
    /// Probability that it is not mistyped: below 0.5 it counts for little.
    pub weight: f64,
}

/// What a log taught.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Learned {
    /// The parameters that concern this log.
    pub estimates: Vec<LearnedParameter>,
    /// Every row used, in the order of the log.
    pub rows: Vec<FittedRow>,
    /// Rows that could not be used.
    pub refused: Vec<Refused>,
    /// Lines of the three rows with the largest differences, the largest first.
    pub largest: Vec<u64>,
    /// Scatter of a single observation, in log time.
    pub scatter: f64,
    /// What this log cannot tell, and what is odd about it.
    pub findings: Vec<Diagnostic>,
    /// How the fit ended.
    pub stop: Termination,
    /// The learned parameters, for every other question.
    pub parameters: Parameters,
    observations: Vec<Observation>,
    /// With the deviations of what is learned.
    prior: Parameters,
    found: MapFit,
}

/// When a dough is ready, with the range in which a new observation lies four times of five.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
#[non_exhaustive]
pub struct Prediction {
    /// Hours until ready.
    pub hours: f64,
    /// 10 % point of a new observation, its own scatter included, h.
    pub low_h: f64,
    /// 90 % point, h.
    pub high_h: f64,
    /// Standard deviation of the prediction itself, in log time.
    pub log_sd: f64,
    /// True where the log has no such dose or temperature of this kind: the range is wider there.
    pub beyond_log: bool,
}

/// Learns from observations, beginning with `prior`. The scatter of a single observation in log time (0.001 to 2) is
/// learned too, unless it is known.
///
/// ```
/// use pointage::ferment::Parameters;
/// use pointage::learn::fit::learn;
/// use pointage::learn::log::Log;
/// let log = Log::from_csv("\
/// kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen
/// poolish,1000,1000,fresh,3,21,11.5,ripe
/// poolish,1000,1000,fresh,3,21,12,ripe
/// poolish,1000,1000,fresh,2,22,11,not-yet
/// ", |name| Err(pointage::table::get(name).unwrap_err()))?;
/// let learned = learn(&log.observations, &Parameters::shipped()?, None)?;
/// let level = &learned.estimates[0];
/// assert_eq!(level.name, "poolish_ml_per_100g");
/// assert!(level.value < level.prior);           // ripe sooner than the shipped table says
/// assert!(level.standard_error.unwrap() < level.prior_sd);
/// let again = learned.predict(&log.observations[0].bake)?;
/// assert!(again.low_h < 11.5 && 11.5 < again.high_h);
/// # Ok::<(), pointage::Error>(())
/// ```
///
/// # Errors
/// No usable row, or a scatter out of its range. All else stands in the report.
pub fn learn(
    observations: &[Observation],
    prior: &Parameters,
    scatter: Option<f64>,
) -> Result<Learned> {
    if let Some(scatter) = scatter {
        check("scatter", scatter, 1e-3, 2.0, "in log time")?;
    }
    let (usable, refused) = usable(observations, prior);
    if usable.is_empty() {
        let why = refused.first().map(|r| format!(" ({r})"));
        let why = why.unwrap_or_default();
        return Err(Error::contradiction(format!(
            "the log has no usable row{why}; log at least one bake with its dose, temperature and time"
        )));
    }
    let model = LogModel::new(prior, usable.iter().map(|o| &o.bake))?;
    let found = map_fit(&model, &usable, scatter);
    let learned = found.and_then(|found| Some((model.parameters(&found.z)?, found)));
    let Some((parameters, found)) = learned else {
        return Err(Error::contradiction(
            "the learned parameters leave their ranges; check the rows of the log",
        ));
    };
    let mut learned = Learned {
        estimates: Vec::new(),
        rows: fitted_rows(&usable, &found),
        refused,
        largest: Vec::new(),
        scatter: found.scatter,
        findings: Vec::new(),
        stop: found.stop,
        parameters,
        prior: model.prior.clone(),
        observations: usable,
        found,
    };
    learned.report(scatter.is_some());
    Ok(learned)
}

/// Rows that the model can follow at all, and those that it cannot, with the reason.
fn usable(observations: &[Observation], prior: &Parameters) -> (Vec<Observation>, Vec<Refused>) {
    let (mut usable, mut refused) = (Vec::new(), Vec::new());
    for o in observations {
        // Work beyond the budget refuses the whole log, not a row.
        let _ = budget::spend(1);
        let sound = check("time", o.hours, 0.1, 504.0, "h").and_then(|_| o.bake.ready(prior));
        match sound {
            Ok(_) => usable.push(o.clone()),
            Err(e) => refused.push(Refused::row(o.line, &e)),
        }
    }
    (usable, refused)
}

fn fitted_rows(observations: &[Observation], found: &MapFit) -> Vec<FittedRow> {
    let predicted = found.log_hours.iter().zip(&found.sound);
    let row = |(o, (log_hours, &weight)): (&Observation, (&f64, &f64))| {
        let e = (o.hours.ln() - log_hours) / found.scatter;
        let predicted_h = log_hours.exp();
        FittedRow {
            line: o.line,
            kind: o.bake.kind,
            seen: o.seen,
            rise: o.bake.rise,
            seen_h: o.hours,
            predicted_h,
            residual_min: (o.seen == Seen::Ready).then_some(60.0 * (o.hours - predicted_h)),
            standardised: match o.seen {
                Seen::Ready => e,
                Seen::NotYet => e.max(0.0),
                Seen::Past => e.min(0.0),
            },
            weight,
        }
    };
    observations.iter().zip(predicted).map(row).collect()
}

impl Learned {
    /// False where the fit did not settle: then nothing has an error, and the range of a prediction means nothing.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.stop.converged()
    }

    /// When a dough is ready, and the range of a new observation of it. The range means something only
    /// where [`Learned::is_sound`].
    ///
    /// The range is `exp(ln t ± q sqrt(g' C g + s²))` with the gradient `g` of the log time, the
    /// covariance `C` of the parameters, the scatter `s`, and `q` the 90 % point of Student's t with
    /// the degrees of freedom of the scatter. Beyond the doses and temperatures of the log for this kind
    /// `(0.20 Δln dose)² + (0.15 ΔT/10 K)²` come on top, `Δ` from the last of them.
    ///
    /// # Errors
    /// A dough that is never ready.
    pub fn predict(&self, bake: &LoggedDough) -> Result<Prediction> {
        let hours = bake.ready(&self.parameters)?;
        let [g] = self.slopes(&[bake])?[..] else {
            return Err(Error::contradiction(
                "the time of this dough has no slope here",
            ));
        };
        let (dose, kelvin) = Span::of(self.observations.iter(), bake.kind)
            .map_or((0.0, 0.0), |span| span.beyond(bake, hours));
        let beyond = (BEYOND_DOSE * dose).powi(2) + (BEYOND_10K * kelvin / 10.0).powi(2);
        let log_sd = (g.dot(&(self.found.covariance * g)).max(0.0) + beyond).sqrt();
        let width = student_90(self.found.freedom) * log_sd.hypot(self.scatter);
        Ok(Prediction {
            hours,
            low_h: hours * (-width).exp(),
            high_h: hours * width.exp(),
            log_sd,
            beyond_log: beyond > 0.0,
        })
    }

    /// Slopes of the log times of some doughs.
    fn slopes(&self, bakes: &[&LoggedDough]) -> Result<Vec<Vector>> {
        let model = LogModel::new(&self.prior, bakes.iter().copied())?;
        let slopes = model.slopes(&self.found.z);
        slopes.ok_or_else(|| Error::contradiction("the time of this dough has no slope here"))
    }

    /// The places of the parameters that this log can move: those of its kinds, what all kinds share, and a level
    /// without a row where the numbers before tie it to the others.
    fn concerned(&self) -> impl Iterator<Item = usize> {
        let logged = |kind| {
            self.observations
                .iter()
                .any(|o| log_model::level_of(o.bake.kind) == kind)
        };
        (0..LEARNABLE.len()).filter(move |&j| {
            let shared = match LEARNABLE[j] {
                Uncertain::Level(kind) => logged(kind),
                _ => true,
            };
            self.prior.spread_of(LEARNABLE[j]) > 0.0 && (shared || self.learned_share(j) >= LEARNED)
        })
    }

    /// Share of the variance before that the log took away.
    fn learned_share(&self, j: usize) -> f64 {
        (1.0 - self.found.covariance[(j, j)]).clamp(0.0, 1.0)
    }
}

/// True for parameters whose errors are those of their logarithm.
fn on_log_scale(which: Uncertain) -> bool {
    !matches!(
        which,
        Uncertain::Tilt | Uncertain::DoseSlope | Uncertain::DoseCurve | Uncertain::TemperatureCurve
    )
}
