//! The published log, and the one fit that makes the shipped parameters.
//!
//! ```text
//! ln y = m(theta, e) + noise of variance w²       theta ~ N(prior), e ~ N(0, tau² + extra²), one e a source
//! times          w² = sigma² + (range of the hours)² + (slope times range of the dose)² + log_sd²
//! other values   w² = log_sd² + (slope times range of the dose)²
//! ```
//! `m` is the fermentation of this library. `exp(e)` multiplies the gas at an end point, and divides the specific gas
//! rate where something was seen at an hour; a proof is compared with its own bulk and has no `e`. The scales `tau` and
//! `sigma` maximise the marginal likelihood by Laplace's approximation. `data/observations/README.md` explains the
//! columns, `tests/reference/joint_fit.py` is the same fit by other means.

mod row;

use super::engine::{BOLD, Fit, Minimum, levenberg_marquardt};
use crate::error::{Error, Result};
use crate::ferment::Parameters;
use crate::numeric::NORMAL_90;
use crate::table::{self, Uncertainty};
use nalgebra::{DMatrix, Matrix2, SMatrix, Vector2};
use row::{PublishedRow, Quantity};

const LOG: &str = include_str!("../../data/observations/published.csv");

/// How many parameters are fitted.
pub const COUNT: usize = 8;
/// Their names in the shipped tables.
pub const NAMES: [&str; COUNT] = [
    "q30_ml_per_g_h",
    "dead_time_h",
    "poolish_ml_per_100g",
    "biga_ml_per_100g",
    "sponge_ml_per_100g",
    "kept",
    "hearth_ratio",
    "tin_ratio",
];
/// Half-normal prior of both scales.
const SCALE_PRIOR: f64 = 0.4;
/// Step of a central difference, in standard deviations of the prior: the model's curvature then counts for 1e-6 of a
/// slope, and the rounding of its roots for 1e-9.
const STEP: f64 = 1e-3;
/// Step of the scales' logarithms, likewise; the scales are found to 1e-4 of themselves.
const SCALE_STEP: f64 = 0.02;
const SCALE_NEAR: f64 = 1e-5;

/// A parameter before the log: its logarithm, or itself, is normal.
#[derive(Debug, Clone, Copy)]
struct Prior {
    value: f64,
    sd: f64,
    logarithmic: bool,
}

impl Prior {
    fn shipped(name: &str) -> Result<Self> {
        let value = table::get("prior")?.value(name)?;
        let (sd, logarithmic) = match value.uncertainty {
            Uncertainty::LogSd { log_sd } => (log_sd, true),
            Uncertainty::StandardError { se } => (se, false),
            _ => {
                return Err(Error::malformed(format!(
                    "the prior of {name} needs log_sd or se"
                )));
            }
        };
        Ok(Self {
            value: value.value,
            sd,
            logarithmic,
        })
    }

    /// The value so many standard deviations away.
    fn at(&self, z: f64) -> f64 {
        if self.logarithmic {
            self.value * (z * self.sd).exp()
        } else {
            (self.value + z * self.sd).max(0.0)
        }
    }
}

/// Deviations between and within sources, in log gas and in log time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scales {
    /// Between sources.
    pub tau: f64,
    /// Within a source.
    pub sigma: f64,
    /// Standard deviations of their logarithms.
    pub log_sd: [f64; 2],
}

/// The rows that are fitted, and the priors.
struct PublishedLog {
    base: Parameters,
    priors: Vec<Prior>,
    rows: Vec<PublishedRow>,
    /// Variance of each row but for sigma.
    own: Vec<f64>,
}

impl PublishedLog {
    fn shipped() -> Result<Self> {
        let malformed = |e: csv::Error| Error::malformed(format!("the published log: {e}"));
        let mut reader = csv::Reader::from_reader(LOG.as_bytes());
        let header = reader.headers().map_err(malformed)?.clone();
        let role = header.iter().position(|name| name == "role");
        let mut rows: Vec<PublishedRow> = Vec::new();
        for record in reader.into_records() {
            let record = record.map_err(malformed)?;
            if matches!(role.and_then(|i| record.get(i)), Some("fit" | "shape")) {
                rows.push(record.deserialize(Some(&header)).map_err(malformed)?);
            }
        }
        let priors = NAMES.into_iter().map(Prior::shipped);
        let mut log = Self {
            base: Parameters::shipped()?,
            priors: priors.collect::<Result<_>>()?,
            rows,
            own: Vec::new(),
        };
        let p = log.parameters(&[0.0; COUNT])?;
        let own = log.rows.iter().map(|row| own_variance(row, &p));
        log.own = own.collect::<Result<_>>()?;
        Ok(log)
    }

    /// The parameters, each so many standard deviations of its prior away.
    fn parameters(&self, z: &[f64]) -> Result<Parameters> {
        let value = |i: usize| self.priors[i].at(z[i]);
        let mut p = self.base.clone();
        let mut rates = p.kinetics.rates();
        rates.specific_gas_rate = value(0);
        p.kinetics = p.kinetics.with_rates(rates)?.with_dead_time(value(1))?;
        p.levels[0].gas = value(2);
        p.levels[1].gas = value(3);
        p.levels[2].gas = value(4);
        p.kept = value(5).min(1.0);
        p.hearth_ratio = value(6);
        p.tin_ratio = value(7);
        Ok(p)
    }
}

/// What a row's printed ranges and its judged scatter make. A range of what is assumed counts as nothing: the source's
/// `extra_log_sd` stands for it.
fn own_variance(row: &PublishedRow, p: &Parameters) -> Result<f64> {
    const NEAR: f64 = 1.02;
    let mut variance = row.log_sd.unwrap_or(0.0).powi(2);
    if let (Quantity::Time, Some(hours), false) = (row.quantity, row.hours, row.assumes("hours")) {
        variance += hours.log_sd().powi(2);
    }
    if let (Some(dose), false) = (row.fresh_percent, row.assumes("fresh_percent"))
        && row.quantity != Quantity::Proof
    {
        let at = |by: f64| row.predict(p, 0.0, by * dose.log_middle());
        let slope = (at(NEAR)? - at(1.0 / NEAR)?) / (2.0 * NEAR.ln());
        variance += (slope * dose.log_sd()).powi(2);
    }
    Ok(variance)
}

/// Rows with their sources, to be fitted with given scales. The unknowns are counted in standard deviations of their
/// prior: first the parameters, then one effect a source.
struct JointFit<'a> {
    log: &'a PublishedLog,
    /// Row, its logarithm, its standard deviation, and the place of its source's effect.
    rows: Vec<(&'a PublishedRow, f64, f64, Option<usize>)>,
    /// Standard deviation of each source's effect.
    sources: Vec<f64>,
}

/// The most probable unknowns, and what is known of the parameters then.
struct Solution {
    at: Vec<f64>,
    covariance: SMatrix<f64, COUNT, COUNT>,
    minus_log_likelihood: f64,
}

impl<'a> JointFit<'a> {
    /// All rows but those of a source.
    fn new(log: &'a PublishedLog, scales: Scales, but: Option<&str>) -> Result<Self> {
        let mut names: Vec<&str> = Vec::new();
        let mut extras: Vec<f64> = Vec::new();
        let mut rows = Vec::new();
        for (row, own) in log.rows.iter().zip(&log.own) {
            if but == Some(row.source.as_str()) {
                continue;
            }
            let place = (row.quantity != Quantity::Proof).then(|| {
                let known = names.iter().position(|s| *s == row.source);
                known.unwrap_or_else(|| {
                    names.push(&row.source);
                    extras.push(0.0);
                    names.len() - 1
                })
            });
            if let (Some(i), Some(extra)) = (place, row.extra_log_sd) {
                extras[i] = extras[i].max(extra);
            }
            let within = match row.quantity {
                Quantity::Time => scales.sigma,
                _ => 0.0,
            };
            rows.push((row, row.log_observed()?, own.sqrt().hypot(within), place));
        }
        let sources = extras.iter().map(|extra| scales.tau.hypot(*extra));
        let sources = sources.collect();
        Ok(Self { log, rows, sources })
    }

    fn unknowns(&self) -> usize {
        COUNT + self.sources.len()
    }

    fn effect(&self, x: &[f64], place: Option<usize>) -> f64 {
        place.map_or(0.0, |i| x[COUNT + i] * self.sources[i])
    }

    /// `(ln y - m)/w` of each row, then the unknowns themselves, which are their own priors.
    fn residuals(&self, x: &[f64], out: &mut [f64]) {
        let p = self.log.parameters(&x[..COUNT]);
        for ((row, y, w, place), r) in self.rows.iter().zip(&mut *out) {
            let at = |p| row.predict(p, self.effect(x, *place), row.dose()).ok();
            let predicted = p.as_ref().ok().and_then(at);
            *r = (y - predicted.unwrap_or(f64::NAN)) / w;
        }
        out[self.rows.len()..].copy_from_slice(x);
    }

    /// By central differences; a source's effect moves its own rows only.
    fn jacobian(&self, x: &[f64], out: &mut [f64]) {
        let n = self.unknowns();
        let moved = |i: usize, by: f64| {
            let mut x = x.to_vec();
            x[i] += by;
            x
        };
        for j in 0..n {
            let sides = [STEP, -STEP].map(|by| moved(j, by));
            let p = sides.each_ref().map(|x| self.log.parameters(&x[..COUNT]));
            for (i, (row, _, w, place)) in self.rows.iter().enumerate() {
                let moves = match j.checked_sub(COUNT) {
                    Some(source) => *place == Some(source),
                    None => row.depends_on(j),
                };
                if moves {
                    let dose = row.dose();
                    let side = |k: usize| {
                        let p = p[k].as_ref().ok()?;
                        row.predict(p, self.effect(&sides[k], *place), dose).ok()
                    };
                    let rise = side(0).zip(side(1)).map_or(f64::NAN, |(a, b)| a - b);
                    out[i * n + j] = -rise / (2.0 * STEP * w);
                }
            }
            out[(self.rows.len() + j) * n + j] = 1.0;
        }
    }

    fn solve(&self, start: &[f64]) -> Result<Solution> {
        let n = self.unknowns();
        let fit = Fit::new(self.rows.len() + n, |x, out| self.residuals(x, out))
            .with_jacobian(|x, out| self.jacobian(x, out));
        let Minimum { x, rss, stop } = levenberg_marquardt(&fit, start, BOLD);
        if !stop.converged() {
            let why = "the fit of the published log finds no minimum";
            return Err(Error::contradiction(why));
        }
        let mut flat = vec![0.0; (self.rows.len() + n) * n];
        self.jacobian(x.as_slice(), &mut flat);
        let jacobian = DMatrix::from_row_slice(self.rows.len() + n, n, &flat);
        let information = (jacobian.transpose() * &jacobian).cholesky();
        let is_open = || Error::contradiction("the published log leaves a parameter open");
        let information = information.ok_or_else(is_open)?;
        let log_root = |m: &DMatrix<f64>| m.diagonal().iter().map(|d| d.ln()).sum::<f64>();
        let log_w = self.rows.iter().map(|(_, _, w, _)| w.ln()).sum::<f64>();
        let inverse = information.inverse();
        Ok(Solution {
            minus_log_likelihood: 0.5 * rss + log_w + log_root(&information.l()),
            covariance: inverse.fixed_view::<COUNT, COUNT>(0, 0).into_owned(),
            at: x.as_slice().to_vec(),
        })
    }
}

/// The scales that maximise the marginal likelihood, by Newton's method in their logarithms, and the fit with them.
fn with_likely_scales(log: &PublishedLog) -> Result<(Scales, Solution)> {
    let scales_at = |at: &Vector2<f64>| Scales {
        tau: at[0].exp(),
        sigma: at[1].exp(),
        log_sd: [0.0; 2],
    };
    let mut start = vec![0.0; JointFit::new(log, scales_at(&Vector2::zeros()), None)?.unknowns()];
    let mut solve = |at: Vector2<f64>| -> Result<(f64, Solution)> {
        let scales = scales_at(&at);
        let solution = JointFit::new(log, scales, None)?.solve(&start)?;
        start.clone_from(&solution.at);
        let far = scales.tau.hypot(scales.sigma) / SCALE_PRIOR;
        Ok((solution.minus_log_likelihood + 0.5 * far * far, solution))
    };
    let mut at = Vector2::new(0.18f64.ln(), 0.21f64.ln());
    for _ in 0..20 {
        let (middle, solution) = solve(at)?;
        let mut cost =
            |a: f64, b: f64| Ok::<_, Error>(solve(at + SCALE_STEP * Vector2::new(a, b))?.0);
        let [[up, down], [right, left]] = [
            [cost(1.0, 0.0)?, cost(-1.0, 0.0)?],
            [cost(0.0, 1.0)?, cost(0.0, -1.0)?],
        ];
        let cross =
            0.25 * (cost(1.0, 1.0)? + cost(-1.0, -1.0)? - cost(1.0, -1.0)? - cost(-1.0, 1.0)?);
        let slope = 0.5 * Vector2::new(up - down, right - left);
        let [by_tau, by_sigma] = [up + down, right + left].map(|sum| sum - 2.0 * middle);
        let bend = Matrix2::new(by_tau, cross, cross, by_sigma);
        let step = bend.cholesky().map(|b| -b.solve(&slope) * SCALE_STEP);
        // Where the likelihood is no bowl yet, a step downhill.
        let step = step.unwrap_or(-0.2 * slope.normalize()).cap_magnitude(0.4);
        if let (true, Some(inverse)) = (step.norm() < SCALE_NEAR, bend.try_inverse()) {
            let mut scales = scales_at(&at);
            scales.log_sd = [0, 1].map(|i| SCALE_STEP * inverse[(i, i)].sqrt());
            return Ok((scales, solution));
        }
        at += step;
    }
    Err(Error::not_settled("the scales of the published log", 20))
}

/// One fitted parameter.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Fitted {
    /// Its name in the shipped tables.
    pub name: &'static str,
    /// Its value.
    pub value: f64,
    /// Standard deviation of its logarithm; of the dead time itself.
    pub sd: f64,
}

/// A row of the log beside its fit.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct RowFit {
    /// Its id in the log.
    pub id: String,
    /// Its source.
    pub source: String,
    /// Its stage.
    pub stage: String,
    /// What it ends with.
    pub end: String,
    /// What was observed.
    pub observed: f64,
    /// What the fit says of an unknown source.
    pub predicted: f64,
    /// Of a counted time: what the fit without its source says, and the standard deviation of its logarithm there,
    /// effect of the source included.
    pub left_out: Option<(f64, f64)>,
}

/// The fit of the published log.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct PublishedFit {
    /// The parameters.
    pub parameters: [Fitted; COUNT],
    /// Their correlations.
    pub correlations: [[f64; COUNT]; COUNT],
    /// The scales.
    pub scales: Scales,
    /// Every fitted row.
    pub rows: Vec<RowFit>,
}

/// Errors of counted times that were predicted without their source.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct LeftOut {
    /// Root mean square in log time.
    pub rms: f64,
    /// What that would be if the model were right: so far apart are the sources themselves.
    pub expected: f64,
    /// How many lie in their 80 % intervals.
    pub inside: usize,
    /// How many there are.
    pub rows: usize,
}

impl PublishedFit {
    /// The errors of some of the counted times, each predicted without its source.
    #[must_use]
    pub fn left_out(&self, is_chosen: impl Fn(&RowFit) -> bool) -> LeftOut {
        let chosen = self.rows.iter().filter(|row| is_chosen(row));
        let (mut squares, mut variances, mut inside, mut rows) = (0.0, 0.0, 0, 0);
        for (row, (predicted, sd)) in chosen.filter_map(|row| Some((row, row.left_out?))) {
            let error = (row.observed / predicted).ln();
            squares += error * error;
            variances += sd * sd;
            inside += usize::from(error.abs() <= NORMAL_90 * sd);
            rows += 1;
        }
        LeftOut {
            rms: (squares / rows as f64).sqrt(),
            expected: (variances / rows as f64).sqrt(),
            inside,
            rows,
        }
    }

    /// The shipped table `data/endpoints/fitted.toml` with the numbers of this fit: the larger ones to four digits, the
    /// deviations and correlations to three decimals.
    #[must_use]
    pub fn table(&self) -> String {
        let shipped = include_str!("../../data/endpoints/fitted.toml");
        let head = shipped.split("[values").next();
        let mut text = head.unwrap_or_default().to_owned();
        for p in &self.parameters {
            let (digits, sd) = match (p.value, p.name) {
                (_, "dead_time_h") => (3, "se"),
                (100.0.., _) => (1, "log_sd"),
                _ => (4, "log_sd"),
            };
            text += &format!(
                "[values.{}]\nvalue = {:.digits$}\n{sd} = {:.3}\n\n",
                p.name, p.value, p.sd
            );
        }
        let Scales { tau, sigma, log_sd } = self.scales;
        let between = "between sources (log gas or rate)";
        for (name, value, sd, note) in [
            ("source", tau, log_sd[0], between),
            ("row", sigma, log_sd[1], "within a source, of a log time"),
        ] {
            text += &format!(
                "[values.{name}_log_sd]\nvalue = {value:.3}\nlog_sd = {sd:.2}\nnote = \"{note}\"\n\n"
            );
        }
        for (i, a) in NAMES.iter().enumerate() {
            for (j, b) in NAMES.iter().enumerate().skip(i + 1) {
                let r = self.correlations[i][j];
                text +=
                    &format!("[[correlations]]\nbetween = [\"{a}\", \"{b}\"]\nvalue = {r:.3}\n\n");
            }
        }
        text.truncate(text.trim_end().len());
        text + "\n"
    }
}

/// Fits the published log: seconds.
///
/// # Errors
/// Only if an embedded table were damaged.
pub fn fit() -> Result<PublishedFit> {
    let log = PublishedLog::shipped()?;
    let (scales, solution) = with_likely_scales(&log)?;
    let p = log.parameters(&solution.at)?;
    let mut rows = Vec::new();
    for (i, row) in log.rows.iter().enumerate() {
        let left_out = row.is_counted().then(|| left_out(&log, scales, i));
        rows.push(RowFit {
            id: row.id.clone(),
            source: row.source.clone(),
            stage: row.stage.clone(),
            end: row.end.clone(),
            observed: row.log_observed()?.exp(),
            predicted: row.predict(&p, 0.0, row.dose())?.exp(),
            left_out: left_out.transpose()?,
        });
    }
    let sd = |i: usize| solution.covariance[(i, i)].sqrt();
    Ok(PublishedFit {
        parameters: std::array::from_fn(|i| Fitted {
            name: NAMES[i],
            value: log.priors[i].at(solution.at[i]),
            sd: sd(i) * log.priors[i].sd,
        }),
        correlations: std::array::from_fn(|i| {
            std::array::from_fn(|j| solution.covariance[(i, j)] / (sd(i) * sd(j)))
        }),
        scales,
        rows,
    })
}

/// A counted row predicted without its source: what it says, and the standard deviation of its logarithm.
fn left_out(log: &PublishedLog, scales: Scales, i: usize) -> Result<(f64, f64)> {
    let row = &log.rows[i];
    let problem = JointFit::new(log, scales, Some(&row.source))?;
    let solution = problem.solve(&vec![0.0; problem.unknowns()])?;
    let dose = row.dose();
    let predict = |z: &[f64], e: f64| row.predict(&log.parameters(z)?, e, dose);
    let mut slopes = [0.0; COUNT];
    for (j, slope) in slopes.iter_mut().enumerate() {
        let side = |by: f64| {
            let mut z = solution.at.clone();
            z[j] += by;
            predict(&z, 0.0)
        };
        *slope = (side(STEP)? - side(-STEP)?) / (2.0 * STEP);
    }
    let effect = (predict(&solution.at, STEP)? - predict(&solution.at, -STEP)?) / (2.0 * STEP);
    let slopes = nalgebra::SVector::from(slopes);
    let between = effect * scales.tau.hypot(row.extra_log_sd.unwrap_or(0.0));
    let variance = (slopes.transpose() * solution.covariance * slopes)[0]
        + between.powi(2)
        + scales.sigma.powi(2)
        + log.own[i];
    Ok((predict(&solution.at, 0.0)?.exp(), variance.sqrt()))
}
