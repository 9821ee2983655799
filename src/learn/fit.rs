//! From a log to parameters: the most probable ones, given the shipped table and what was seen.
//!
//! Learned on the log scale: the gas at the end point of each kind (level), the growth rate; and the
//! tilt of the gas curve (see [`crate::ferment::Kinetics::gas`]). Everything else stays as shipped, because
//! times alone do not tell it apart from these. With `z` the parameters in prior standard deviations,
//! the most probable ones minimise
//!
//! ```text
//! sum_ripe     ((ln t_seen - ln t(z))/s)²
//! sum_not-yet  -2 ln Φ((ln t(z) - ln t_seen)/s)      it takes longer
//! sum_past     -2 ln Φ((ln t_seen - ln t(z))/s)      it took less
//! z' R⁻¹ z                                           the numbers before, with standard deviations
//! ```
//!
//! with `R` the correlations of the numbers before (none as shipped): few rows move little and many
//! decide. A censored row enters the least squares as the residual `sqrt(-2 ln Φ)`, which is its exact
//! likelihood. The scatter `s` of a single observation in log time starts at 0.10 and weighs as much as
//! eight rows; the ripe rows move it:
//! `s² = (8 · 0.10² + sum e²)/(8 + n - k)`, `k` the parameters that the rows pay for. Standard errors
//! come from the curvature at the solution (Gauss-Newton; for censored rows the exact curvature of
//! `ln Φ`). Huber's loss, by choice, lets a row count in full up to 1.345 `s` and linearly beyond.

mod diagnostics;
mod file;
mod intervals;
mod map_fit;
mod model;
mod next_bake;

pub use diagnostics::{Diagnostic, Together};
pub use intervals::{LawScore, LearnedInterval};
pub use next_bake::{NextBake, Offers};

use super::csv_log::Refused;
use super::engine::Termination;
use super::log::{LoggedDough, Observation, Seen};
use super::normal::student_90;
use crate::error::{Error, Result, check};
use crate::ferment::{Kind, Parameters};
use map_fit::{MapFit, map_fit, residuals};
use model::{COUNT, Model};
use nalgebra::SVector;

/// Scatter of a single observation before the log has a say, in log time: a tenth of the time, by judgement.
pub const USUAL_SCATTER: f64 = 0.10;
/// How far a parameter may go, in prior standard deviations.
const FARTHEST: f64 = 6.0;
/// Nearer than this to [`FARTHEST`] it is at its limit.
const AT_LIMIT: f64 = 0.01;
/// Share of the prior variance that the log must take away, or nothing was learned.
const TOLD: f64 = 0.02;

/// How to learn.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Options {
    /// The scatter of a single observation in log time, 0.001 to 2, when it is known; else it is learned.
    pub scatter: Option<f64>,
    /// Huber's loss: one mistyped row does not decide.
    pub robust: bool,
}

/// A parameter before and after.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct LearnedParameter {
    /// Its name, as in a parameter file.
    pub name: &'static str,
    /// Before.
    pub prior: f64,
    /// Standard deviation before, growth cap and lag being what they are: of the logarithm where
    /// `on_log_scale`.
    pub prior_sd: f64,
    /// After.
    pub value: f64,
    /// Standard error after, on the same scale; `None` where the log does not tell the
    /// parameter, or pushed it to its limit.
    pub standard_error: Option<f64>,
    /// True where the errors are those of the logarithm.
    pub on_log_scale: bool,
    /// How far it moved, in prior standard deviations.
    pub moved: f64,
    /// Share of the prior variance that the log took away, 0 to 1.
    pub told: f64,
    /// True where it was pushed as far as it may go: it has no standard error and no interval.
    pub at_limit: bool,
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
    /// When, h.
    pub seen_h: f64,
    /// When it should have been ready, h.
    pub predicted_h: f64,
    /// Seen minus predicted, minutes; `None` for a row of which only one side is known.
    pub residual_min: Option<f64>,
    /// The same in log time over the scatter; of a one-sided row how far it is on the wrong side, or 0.
    pub standardised: f64,
    /// How much it counted, 1 in full; less only with Huber's loss.
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
    /// Lines of the three rows farthest off, the farthest first.
    pub largest: Vec<u64>,
    /// Parameters that go together.
    pub together: Vec<Together>,
    /// Scatter of a single observation, in log time.
    pub scatter: f64,
    /// What this log cannot tell, and what is odd about it.
    pub cannot_tell: Vec<Diagnostic>,
    /// How the fit ended.
    pub stop: Termination,
    /// The learned parameters, for every other question.
    pub parameters: Parameters,
    /// False where a parameter was pushed to its limit, or the fit did not settle: then nothing has an
    /// error, and the range of a prediction means nothing.
    pub sound: bool,
    observations: Vec<Observation>,
    options: Options,
    prior: Parameters,
    /// The most probable place.
    found: MapFit,
    /// The same with what the log does not tell left where it was: the place of `parameters`.
    told_z: [f64; COUNT],
    /// Share of the variance before that the log took away.
    told: [f64; COUNT],
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
}

/// Learns from observations, beginning with `prior`.
///
/// ```
/// use pointage::ferment::Parameters;
/// use pointage::learn::fit::{Options, learn};
/// use pointage::learn::log::Log;
/// let log = Log::from_csv("\
/// kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen
/// poolish,1000,1000,fresh,3,21,11.5,ripe
/// poolish,1000,1000,fresh,3,21,12,ripe
/// poolish,1000,1000,fresh,2,22,11,not-yet
/// ", |name| Err(pointage::table::get(name).unwrap_err()))?;
/// let learned = learn(&log.observations, &Parameters::shipped()?, Options::default())?;
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
/// No usable row, or a scatter out of its range. All else is told in the report.
pub fn learn(
    observations: &[Observation],
    prior: &Parameters,
    options: Options,
) -> Result<Learned> {
    let scatter = options.scatter.unwrap_or(USUAL_SCATTER);
    check("scatter", scatter, 1e-3, 2.0, "in log time")?;
    let (usable, refused) = usable(observations, prior);
    if usable.is_empty() {
        let why = refused.first().map(|r| format!(" ({r})"));
        let why = why.unwrap_or_default();
        return Err(Error::contradiction(format!(
            "the log has no usable row{why}; log at least one bake with its dose, temperature and time"
        )));
    }
    let model = Model::new(prior, &usable)?;
    let found = map_fit(&model, options, [0.0; COUNT], [0.0; COUNT])?;
    // What the log says nothing about stays where it was, in forecasts as in the file.
    let told: [f64; COUNT] = std::array::from_fn(|j| {
        (1.0 - found.covariance[(j, j)] / model.variance(j)).clamp(0.0, 1.0)
    });
    let mut told_z = found.z;
    for (z, told) in told_z.iter_mut().zip(told) {
        if !is_told(told) && !is_at_limit(*z) {
            *z = 0.0;
        }
    }
    if model.log_hours(&told_z).is_none() {
        told_z = [0.0; COUNT];
    }
    let (Some(parameters), Some(log_hours)) = (model.parameters(&told_z), model.log_hours(&told_z))
    else {
        return Err(Error::contradiction(
            "the learned parameters leave their ranges; check the rows of the log",
        ));
    };
    let mut learned = Learned {
        estimates: Vec::new(),
        rows: Vec::new(),
        refused,
        largest: Vec::new(),
        together: Vec::new(),
        scatter: found.scatter,
        cannot_tell: Vec::new(),
        stop: found.stop,
        observations: usable.clone(),
        options,
        prior: prior.clone(),
        parameters,
        told_z,
        told,
        sound: found.stop == Termination::Converged && !found.z.iter().any(|&z| is_at_limit(z)),
        found,
    };
    learned.rows = fitted_rows(&model, &learned, &log_hours);
    learned.tell(&model);
    Ok(learned)
}

/// Rows that the model can follow at all, and those that it cannot, with the reason.
fn usable(observations: &[Observation], prior: &Parameters) -> (Vec<Observation>, Vec<Refused>) {
    let (mut usable, mut refused) = (Vec::new(), Vec::new());
    for o in observations {
        let sound = check("time", o.hours, 0.1, 504.0, "h").and_then(|_| o.bake.ready(prior));
        match sound {
            Ok(_) => usable.push(o.clone()),
            Err(e) => refused.push(Refused::row(o.line, &e)),
        }
    }
    (usable, refused)
}

fn fitted_rows(model: &Model<'_>, learned: &Learned, log_hours: &[f64]) -> Vec<FittedRow> {
    let residuals = residuals(model, learned.options, learned.scatter, log_hours);
    let mut rows = Vec::new();
    for (o, (log_hours, residual)) in learned
        .observations
        .iter()
        .zip(log_hours.iter().zip(residuals))
    {
        let e = (o.hours.ln() - log_hours) / learned.scatter;
        let predicted_h = log_hours.exp();
        rows.push(FittedRow {
            line: o.line,
            kind: o.bake.kind,
            seen: o.seen,
            seen_h: o.hours,
            predicted_h,
            residual_min: (o.seen == Seen::Ready).then_some(60.0 * (o.hours - predicted_h)),
            standardised: match o.seen {
                Seen::Ready => e,
                Seen::NotYet => e.max(0.0),
                Seen::Past => e.min(0.0),
            },
            weight: residual.weight,
        });
    }
    rows
}

impl Learned {
    /// When a dough is ready, and the range of a new observation of it. The range means something only
    /// where [`Learned::sound`].
    ///
    /// The range is `exp(ln t ± q sqrt(g' C g + s²))` with the gradient `g` of the log time, the
    /// covariance `C` of the parameters, the scatter `s`, and `q` the 90 % point of Student's t with
    /// the degrees of freedom of the scatter.
    ///
    /// # Errors
    /// A dough that is never ready.
    pub fn predict(&self, bake: &LoggedDough) -> Result<Prediction> {
        let hours = bake.ready(&self.parameters)?;
        let g = self.gradient(bake, hours)?;
        let log_sd = g.dot(&(self.found.covariance * g)).max(0.0).sqrt();
        let width = student_90(self.found.freedom) * log_sd.hypot(self.scatter);
        Ok(Prediction {
            hours,
            low_h: hours * (-width).exp(),
            high_h: hours * width.exp(),
            log_sd,
        })
    }

    /// Slopes of the log time of a dough.
    fn gradient(&self, bake: &LoggedDough, hours: f64) -> Result<SVector<f64, COUNT>> {
        let row = [Observation {
            line: 0,
            bake: bake.clone(),
            hours,
            seen: Seen::Ready,
        }];
        let model = Model::new(&self.prior, &row)?;
        let slopes = model.slopes(&self.told_z, &[hours.ln()], COUNT);
        let first = slopes.and_then(|s| Some(SVector::from_row_slice(&s.first()?[..COUNT])));
        first.ok_or_else(|| Error::contradiction("the time of this dough has no slope here"))
    }
}

/// Whether the log took enough of the variance before away.
fn is_told(share: f64) -> bool {
    share >= TOLD
}

/// Whether a parameter at `z` prior deviations went as far as it may.
fn is_at_limit(z: f64) -> bool {
    z.abs() > FARTHEST - AT_LIMIT
}
