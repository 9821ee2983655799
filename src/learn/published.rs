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

use super::engine::{BOLD, Fit, Minimum, levenberg_marquardt};
use crate::ambient::{Ambient, TemperatureProfile};
use crate::error::{Error, Result};
use crate::ferment::{
    Composition, EndPoint, Fermentation, Inoculum, OwnHeat, Parameters, Rates, Stage, State, Volume,
};
use crate::heat::properties::ThermalProperties;
use crate::numeric::{self, NORMAL_90};
use crate::table::{self, Uncertainty};
use crate::units::{Percent, Temperature};
use nalgebra::{DMatrix, Matrix2, SMatrix, Vector2};
use serde::Deserialize;

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

/// Low and high as printed, `2-2.5`; the same where one number stands.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(try_from = "String")]
struct Span {
    low: f64,
    high: f64,
}

impl TryFrom<String> for Span {
    type Error = std::num::ParseFloatError;

    fn try_from(text: String) -> std::result::Result<Self, Self::Error> {
        let (low, high) = text.split_once('-').unwrap_or((&text, &text));
        Ok(Self {
            low: low.parse()?,
            high: high.parse()?,
        })
    }
}

impl Span {
    fn middle(self) -> f64 {
        0.5 * (self.low + self.high)
    }

    fn log_middle(self) -> f64 {
        (self.low * self.high).sqrt()
    }

    /// Its ends are 10 and 90 % of a normal in the logarithm.
    fn log_sd(self) -> f64 {
        (self.high / self.low).ln() / (2.0 * NORMAL_90)
    }
}

/// Minutes one after the other, `10+20+10`.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(try_from = "String")]
struct Minutes(Vec<f64>);

impl TryFrom<String> for Minutes {
    type Error = std::num::ParseFloatError;

    fn try_from(text: String) -> std::result::Result<Self, Self::Error> {
        let parts = text.split('+').filter(|part| !part.is_empty());
        parts
            .map(str::parse)
            .collect::<std::result::Result<_, _>>()
            .map(Self)
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Quantity {
    Time,
    Volume,
    VolumeAtEnd,
    Warming,
    Gas,
    Proof,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Heat {
    /// At one temperature throughout.
    Held,
    /// Warms by its own heat and loses none.
    Kept,
    /// Warms by its own heat and follows the room.
    Room,
}

/// A row that is fitted. What a quantity does not have is empty.
#[derive(Debug, Clone, Deserialize)]
struct Observation {
    id: String,
    source: String,
    role: String,
    quantity: Quantity,
    stage: String,
    end: String,
    fresh_percent: Option<Span>,
    temperature_c: Span,
    room_c: Option<Span>,
    heat: Heat,
    tau_h: Option<f64>,
    water_percent: Span,
    salt_percent: Span,
    bulk_h: Option<Span>,
    bulk_c: Option<Span>,
    handling_min: Minutes,
    punched_min: Minutes,
    hours: Option<Span>,
    value: Option<Span>,
    assumed: String,
    extra_log_sd: Option<f64>,
    log_sd: Option<f64>,
}

impl Observation {
    /// True for the times that the errors are counted of.
    fn is_counted(&self) -> bool {
        self.role == "fit" && self.quantity == Quantity::Time
    }

    fn assumes(&self, column: &str) -> bool {
        self.assumed.split(' ').any(|a| a == column)
    }

    fn missing(&self, column: &str) -> Error {
        Error::malformed(format!(
            "row {} of the published log has no {column}",
            self.id
        ))
    }

    fn hours(&self) -> Result<f64> {
        Ok(self
            .hours
            .ok_or_else(|| self.missing("hours"))?
            .log_middle())
    }

    fn dose(&self) -> Result<f64> {
        Ok(self
            .fresh_percent
            .ok_or_else(|| self.missing("fresh_percent"))?
            .log_middle())
    }

    /// Logarithm of what was observed.
    fn log_observed(&self) -> Result<f64> {
        Ok(match self.quantity {
            Quantity::Time | Quantity::Proof => self.hours()?,
            _ => self
                .value
                .ok_or_else(|| self.missing("value"))?
                .log_middle(),
        }
        .ln())
    }

    /// Which of the parameters it can depend on.
    fn depends_on(&self, parameter: usize) -> bool {
        match NAMES[parameter] {
            "kept" => self.quantity == Quantity::Proof || !self.punched_min.0.is_empty(),
            "q30_ml_per_g_h" | "dead_time_h" => self.quantity != Quantity::VolumeAtEnd,
            of_stage => of_stage.starts_with(&self.stage),
        }
    }

    fn composition(&self) -> Composition {
        Composition::lean(self.water_percent.middle(), self.salt_percent.middle())
    }

    fn stage(&self, p: &Parameters, dose: f64) -> Result<Stage> {
        let composition = self.composition();
        let (water, salt) = (composition.hydration_percent, composition.salt_percent);
        let capacity =
            ThermalProperties::shipped()?.dough(Percent::new(water)?, Percent::new(salt)?);
        let kg = (100.0 + water + salt) / 1000.0;
        let heat = OwnHeat::new(p.heat_kj_per_mol, p.space.molar_volume, kg, capacity)?;
        Ok(Stage {
            composition,
            yeast: Inoculum {
                added: dose,
                carried: 0.0,
            },
            end: EndPoint::Doubled,
            own_heat: (self.heat != Heat::Held).then_some(heat),
        })
    }

    /// Where the dough stands.
    fn room(&self) -> Result<Ambient> {
        Ambient::constant(Temperature::celsius(self.end_c())?)
    }

    fn profile<'a>(&self, room: &'a Ambient) -> Result<TemperatureProfile<'a>> {
        let start = Temperature::celsius(self.temperature_c.middle())?;
        match self.tau_h {
            Some(tau_h) => TemperatureProfile::following(room, 0.0, start, tau_h),
            None => Ok(TemperatureProfile::held(start)),
        }
    }

    /// Temperature at its end but for its own heat, °C.
    fn end_c(&self) -> f64 {
        self.room_c.unwrap_or(self.temperature_c).middle()
    }

    /// Gas made up to the end point, by a source whose effect is `e`.
    fn end_gas(&self, p: &Parameters, volume: &Volume, e: f64) -> Result<f64> {
        let made = |ratio| volume.made_for_ratio(ratio, self.end_c());
        let gas = match (self.stage.as_str(), self.end.strip_prefix("rise ")) {
            (_, Some(ratio)) => made(ratio.parse().map_err(|_| self.missing("end"))?),
            _ if self.end == "doubled" || self.stage == "dough" => made(2.0),
            ("poolish", _) => p.levels[0].gas,
            ("biga", _) => p.levels[1].gas,
            ("sponge", _) => p.levels[2].gas,
            _ => return Err(self.missing("end")),
        };
        Ok(gas * e.exp())
    }

    /// Logarithm of what is to be observed, by a dose and a source whose effect is `e`.
    fn predict(&self, p: &Parameters, e: f64, dose: f64) -> Result<f64> {
        let room = self.room()?;
        let profile = self.profile(&room)?;
        let faster = Rates {
            specific_gas_rate: p.kinetics.rates().specific_gas_rate * (-e).exp(),
            ..p.kinetics.rates()
        };
        let at_hour = || -> Result<(State, Volume)> {
            let f = self.stage(p, dose)?.fermentation(&p.with_rates(faster)?)?;
            Ok((f.after(&f.start(), &profile, self.hours()?)?, *f.volume()))
        };
        Ok(match self.quantity {
            Quantity::Time => self.hours_until_end(p, &profile, e, dose)?,
            Quantity::Proof => self.hours_of_proof(p)?,
            Quantity::VolumeAtEnd => {
                let volume = p.space.of(&self.composition(), 0.0);
                let held = volume.hold(0.0, self.end_gas(p, &volume, e)?, self.end_c());
                volume.ratio(held, self.end_c())
            }
            Quantity::Gas => at_hour()?.0.gas,
            Quantity::Warming => {
                let state = at_hour()?.0;
                state.temperature_c - self.temperature_c.middle()
            }
            Quantity::Volume => {
                let (state, volume) = at_hour()?;
                volume.ratio(state.held, state.temperature_c)
            }
        }
        .ln())
    }

    /// Hours until the end point; a dough that is punched on its way loses gas and comes back to it.
    fn hours_until_end(
        &self,
        p: &Parameters,
        profile: &TemperatureProfile<'_>,
        e: f64,
        dose: f64,
    ) -> Result<f64> {
        let f = self.stage(p, dose)?.fermentation(p)?;
        let gas = self.end_gas(p, f.volume(), e)?;
        let state = self.punched(p, &f, profile)?;
        let ended = if self.punched_min.0.is_empty() {
            f.until_gas(&state, profile, gas)?
        } else {
            let held = f.volume().hold(0.0, gas, self.end_c());
            f.until(&state, profile, &|s| s.held - held)?
        };
        ended
            .map(|s| s.hours)
            .ok_or_else(|| Error::contradiction("an end point beyond the sugar"))
    }

    /// The dough after its last punch, or at its start where nobody punches it.
    fn punched(
        &self,
        p: &Parameters,
        f: &Fermentation,
        profile: &TemperatureProfile<'_>,
    ) -> Result<State> {
        self.punched_min.0.iter().try_fold(f.start(), |state, at| {
            let risen = f.after(&state, profile, at / 60.0 - state.hours)?;
            Ok(f.handled(&risen, p.kept))
        })
    }

    /// Hours of proof after a bulk whose dose is the one that doubles the dough in its time: only the proof in
    /// proportion to its bulk counts.
    fn hours_of_proof(&self, p: &Parameters) -> Result<f64> {
        let bulk_h = self
            .bulk_h
            .ok_or_else(|| self.missing("bulk_h"))?
            .log_middle();
        let bulk = Self {
            temperature_c: self.bulk_c.ok_or_else(|| self.missing("bulk_c"))?,
            stage: "dough".to_owned(),
            ..self.clone()
        };
        let bulk_c = Temperature::celsius(bulk.end_c())?;
        let warm = TemperatureProfile::held(bulk_c);
        let late = |log_dose: f64| -> Result<f64> {
            Ok(bulk.hours_until_end(p, &warm, 0.0, log_dose.exp())? - bulk_h)
        };
        let log_dose = numeric::try_root(late, 0.02f64.ln(), 20f64.ln())?
            .ok_or_else(|| self.missing("dose that doubles it"))?;
        let f = bulk.stage(p, log_dose.exp())?.fermentation(p)?;
        let mut state = bulk.punched(p, &f, &warm)?;
        state = f.after(&state, &warm, bulk_h - state.hours)?;
        let [divide, rest, shape] = self.handling_min.0[..] else {
            return Err(self.missing("handling_min"));
        };
        for minutes in [divide, rest + shape] {
            state = f.after(&state, &warm, minutes / 60.0)?;
            state = f.handled(&state, p.kept);
        }
        let ratio = match self.stage.as_str() {
            "tin" => p.tin_ratio,
            _ => p.hearth_ratio,
        };
        let proof = TemperatureProfile::held(Temperature::celsius(self.end_c())?);
        let proofed = f.until(&state, &proof, &|s| f.volume_ratio(s) - ratio)?;
        let hours = proofed.ok_or_else(|| self.missing("end"))?.hours - state.hours;
        // A piece that is proofed when it is shaped still has a time to compare.
        Ok(hours.max(0.05))
    }
}

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
struct Log {
    base: Parameters,
    priors: [Prior; COUNT],
    rows: Vec<Observation>,
    /// Variance of each row but for sigma.
    own: Vec<f64>,
}

impl Log {
    fn shipped() -> Result<Self> {
        let malformed = |e: csv::Error| Error::malformed(format!("the published log: {e}"));
        let mut reader = csv::Reader::from_reader(LOG.as_bytes());
        let header = reader.headers().map_err(malformed)?.clone();
        let role = header.iter().position(|name| name == "role");
        let mut rows: Vec<Observation> = Vec::new();
        for record in reader.into_records() {
            let record = record.map_err(malformed)?;
            if matches!(role.and_then(|i| record.get(i)), Some("fit" | "shape")) {
                rows.push(record.deserialize(Some(&header)).map_err(malformed)?);
            }
        }
        let priors = NAMES.map(Prior::shipped);
        let mut log = Self {
            base: Parameters::shipped()?,
            priors: array(priors)?,
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
        let rates = Rates {
            specific_gas_rate: value(0),
            ..p.kinetics.rates()
        };
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

fn array<T: std::fmt::Debug, const N: usize>(results: [Result<T>; N]) -> Result<[T; N]> {
    let all: Vec<T> = results.into_iter().collect::<Result<_>>()?;
    all.try_into()
        .map_err(|_| Error::contradiction("a list of another length"))
}

/// What a row's printed ranges and its judged scatter make. A range of what is assumed counts as nothing: the source's
/// `extra_log_sd` stands for it.
fn own_variance(row: &Observation, p: &Parameters) -> Result<f64> {
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
struct Problem<'a> {
    log: &'a Log,
    /// Row, its logarithm, its standard deviation, and the place of its source's effect.
    rows: Vec<(&'a Observation, f64, f64, Option<usize>)>,
    /// Standard deviation of each source's effect.
    sources: Vec<f64>,
}

/// The most probable unknowns, and what is known of the parameters then.
struct Solution {
    at: Vec<f64>,
    covariance: SMatrix<f64, COUNT, COUNT>,
    minus_log_likelihood: f64,
}

impl<'a> Problem<'a> {
    /// All rows but those of a source.
    fn new(log: &'a Log, scales: Scales, but: Option<&str>) -> Result<Self> {
        let mut names: Vec<&str> = Vec::new();
        let mut extras: Vec<f64> = Vec::new();
        let mut rows = Vec::new();
        for (row, own) in log.rows.iter().zip(&log.own) {
            if but == Some(row.source.as_str()) {
                continue;
            }
            let place = (row.quantity != Quantity::Proof).then(|| {
                names
                    .iter()
                    .position(|s| *s == row.source)
                    .unwrap_or_else(|| {
                        names.push(&row.source);
                        extras.push(0.0);
                        names.len() - 1
                    })
            });
            if let (Some(i), Some(extra)) = (place, row.extra_log_sd) {
                extras[i] = extras[i].max(extra);
            }
            let within = if row.quantity == Quantity::Time {
                scales.sigma
            } else {
                0.0
            };
            rows.push((row, row.log_observed()?, own.sqrt().hypot(within), place));
        }
        let sources = extras
            .iter()
            .map(|extra| scales.tau.hypot(*extra))
            .collect();
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
            let predicted = p.as_ref().ok().and_then(|p| {
                let dose = row.fresh_percent.map_or(f64::NAN, Span::log_middle);
                row.predict(p, self.effect(x, *place), dose).ok()
            });
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
                    let dose = row.fresh_percent.map_or(f64::NAN, Span::log_middle);
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
            return Err(Error::contradiction(
                "the fit of the published log finds no minimum",
            ));
        }
        let mut flat = vec![0.0; (self.rows.len() + n) * n];
        self.jacobian(x.as_slice(), &mut flat);
        let jacobian = DMatrix::from_row_slice(self.rows.len() + n, n, &flat);
        let information = (jacobian.transpose() * &jacobian)
            .cholesky()
            .ok_or_else(|| Error::contradiction("the published log leaves a parameter open"))?;
        let log_root = |m: &DMatrix<f64>| m.diagonal().iter().map(|d| d.ln()).sum::<f64>();
        let log_w = self.rows.iter().map(|(_, _, w, _)| w.ln()).sum::<f64>();
        Ok(Solution {
            minus_log_likelihood: 0.5 * rss + log_w + log_root(&information.l()),
            covariance: information
                .inverse()
                .fixed_view::<COUNT, COUNT>(0, 0)
                .into_owned(),
            at: x.as_slice().to_vec(),
        })
    }
}

/// The scales that maximise the marginal likelihood, by Newton's method in their logarithms, and the fit with them.
fn with_likely_scales(log: &Log) -> Result<(Scales, Solution)> {
    let scales_at = |at: &Vector2<f64>| Scales {
        tau: at[0].exp(),
        sigma: at[1].exp(),
        log_sd: [0.0; 2],
    };
    let mut start = vec![0.0; Problem::new(log, scales_at(&Vector2::zeros()), None)?.unknowns()];
    let mut solve = |at: Vector2<f64>| -> Result<(f64, Solution)> {
        let scales = scales_at(&at);
        let solution = Problem::new(log, scales, None)?.solve(&start)?;
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
        let bend = Matrix2::new(
            up + down - 2.0 * middle,
            cross,
            cross,
            right + left - 2.0 * middle,
        );
        let step = bend.cholesky().map(|b| -b.solve(&slope) * SCALE_STEP);
        // Where the likelihood is no bowl yet, a step downhill.
        let step = step.unwrap_or(-0.2 * slope.normalize()).cap_magnitude(0.4);
        if let (true, Some(inverse)) = (step.norm() < SCALE_NEAR, bend.try_inverse()) {
            let log_sd = [0, 1].map(|i| SCALE_STEP * inverse[(i, i)].sqrt());
            return Ok((
                Scales {
                    log_sd,
                    ..scales_at(&at)
                },
                solution,
            ));
        }
        at += step;
    }
    Err(Error::NotSettled {
        what: "the scales of the published log",
        steps: 20,
    })
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
pub struct FittedRow {
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
    pub rows: Vec<FittedRow>,
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
    pub fn left_out(&self, is_chosen: impl Fn(&FittedRow) -> bool) -> LeftOut {
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
        let mut text = shipped
            .split("[values")
            .next()
            .unwrap_or_default()
            .to_owned();
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
        for (name, value, sd, note) in [
            (
                "source",
                tau,
                log_sd[0],
                "between sources, of the log gas at an end point or of the log rate",
            ),
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
    let log = Log::shipped()?;
    let (scales, solution) = with_likely_scales(&log)?;
    let p = log.parameters(&solution.at)?;
    let mut rows = Vec::new();
    for row in &log.rows {
        let dose = row.fresh_percent.map_or(f64::NAN, Span::log_middle);
        rows.push(FittedRow {
            id: row.id.clone(),
            source: row.source.clone(),
            stage: row.stage.clone(),
            end: row.end.clone(),
            observed: row.log_observed()?.exp(),
            predicted: row.predict(&p, 0.0, dose)?.exp(),
            left_out: None,
        });
    }
    for i in 0..rows.len() {
        if log.rows[i].is_counted() {
            rows[i].left_out = Some(left_out(&log, scales, i)?);
        }
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
fn left_out(log: &Log, scales: Scales, i: usize) -> Result<(f64, f64)> {
    let row = &log.rows[i];
    let problem = Problem::new(log, scales, Some(&row.source))?;
    let solution = problem.solve(&vec![0.0; problem.unknowns()])?;
    let dose = row.dose()?;
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
