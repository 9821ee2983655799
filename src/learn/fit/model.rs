//! The log time of every row, and its slopes, as a function of the parameters in prior deviations.

use crate::error::{Error, Result};
use crate::ferment::{Kind, LEARNT, LEARNT_NAMES, Parameters, Rates};
use crate::learn::log::{Observation, Seen};
use nalgebra::{SMatrix, SVector};

/// Parameters that are learnt: four levels, the tilt, the growth rate.
pub(super) const COUNT: usize = 6;
pub(super) const TILT: usize = 4;
pub(super) const GROWTH: usize = 5;
/// With the growth cap and the lag, which hardly any log tells apart from these. They stay as they were, but
/// what is learnt would have come out otherwise with others: their errors go together.
pub(super) const JOINT: usize = LEARNT;
const CAP: usize = 6;

/// Over the learnt parameters.
pub(super) type Square = SMatrix<f64, COUNT, COUNT>;
/// Over these, the growth cap and the lag.
pub(super) type Joint = SMatrix<f64, JOINT, JOINT>;

/// Their names in a parameter file.
pub(super) const NAMES: [&str; JOINT] = LEARNT_NAMES;

/// The level that a kind ends at.
pub(super) fn level_of(kind: Kind) -> usize {
    match kind {
        Kind::Poolish => 0,
        Kind::Biga => 1,
        Kind::Sponge => 2,
        Kind::OldDough | Kind::Dough => 3,
    }
}

/// Step of the differences in the tilt, and in the logarithms of growth, cap, lag and time. The curves are smooth:
/// the error is of the order of the square, 1e-6 of the slope, and rounding stays far below.
const STEP: f64 = 1e-3;

#[derive(Clone)]
pub(super) struct Model<'o> {
    prior: &'o Parameters,
    /// Standard deviations of the prior.
    sd: [f64; JOINT],
    /// Inverse of the prior's correlations, cap and lag included.
    precision: Joint,
    /// Lower triangle of what of it is for the learnt parameters, cap and lag as they are.
    triangle: Square,
    held: Option<usize>,
    rows: &'o [Observation],
}

impl<'o> Model<'o> {
    pub(super) fn new(prior: &'o Parameters, observations: &'o [Observation]) -> Result<Self> {
        let s = &prior.spread;
        let levels = prior.levels.map(|level| level.log_sd);
        let kinetics = [s.tilt, s.growth_rate, s.growth_cap, s.lag];
        let mut sd = [0.0; JOINT];
        sd[..TILT].copy_from_slice(&levels);
        sd[TILT..].copy_from_slice(&kinetics);
        // Correlations that were read make sense; those that a caller put together may not.
        let senseless =
            || Error::contradiction("the correlations of the parameters contradict each other");
        let correlations = Joint::from(prior.correlations.matrix);
        let precision = correlations.cholesky().ok_or_else(senseless)?.inverse();
        let learnt: Square = precision.fixed_view::<COUNT, COUNT>(0, 0).into();
        Ok(Self {
            prior,
            precision,
            triangle: learnt.cholesky().ok_or_else(senseless)?.l(),
            sd,
            held: None,
            rows: observations,
        })
    }

    pub(super) fn len(&self) -> usize {
        self.rows.len()
    }

    pub(super) fn sd(&self, j: usize) -> f64 {
        self.sd[j]
    }

    /// Deviations that go together as the prior's do, from independent ones.
    pub(super) fn correlated(&self, independent: &[f64; COUNT]) -> [f64; COUNT] {
        let mut deviations = SVector::from(*independent);
        self.triangle.tr_solve_lower_triangular_mut(&mut deviations);
        deviations.into()
    }

    /// Independent deviations from those of the prior: the sum of their squares is what the prior costs.
    pub(super) fn parted(&self, deviations: &[f64; COUNT]) -> [f64; COUNT] {
        self.triangle.tr_mul(&SVector::from(*deviations)).into()
    }

    /// Variance of a parameter before the log, growth cap and lag being what they are: 1 in prior deviations,
    /// less where it goes together with these two.
    pub(super) fn variance(&self, j: usize) -> f64 {
        let mut inverse = Square::identity();
        self.triangle.solve_lower_triangular_mut(&mut inverse);
        inverse.column(j).norm_squared()
    }

    /// How independent deviation `i` moves with parameter `j`.
    pub(super) fn part(&self, i: usize, j: usize) -> f64 {
        self.triangle[(j, i)]
    }

    /// Correlations of the prior.
    pub(super) fn correlations(&self) -> Joint {
        Joint::from(self.prior.correlations.matrix)
    }

    /// Inverse of the prior's correlations: what the prior adds to the curvature of half the cost.
    pub(super) fn precision(&self) -> &Joint {
        &self.precision
    }

    /// The same with a parameter that stays where it is.
    pub(super) fn holding(&self, j: usize) -> Self {
        Self {
            held: Some(j),
            ..self.clone()
        }
    }

    /// A parameter that neither the prior nor the caller holds to one value.
    pub(super) fn is_free(&self, j: usize) -> bool {
        self.sd[j] > 0.0 && self.held != Some(j)
    }

    pub(super) fn seen(&self, i: usize) -> Seen {
        self.rows[i].seen
    }

    pub(super) fn log_seen(&self, i: usize) -> f64 {
        self.rows[i].hours.ln()
    }

    /// Value of a parameter before learning.
    pub(super) fn prior_value(&self, j: usize) -> f64 {
        value_of(self.prior, j)
    }

    /// The model's parameters at `z`; `None` where they leave their ranges.
    pub(super) fn parameters(&self, z: &[f64; COUNT]) -> Option<Parameters> {
        self.with(z, self.kinetics(z))
    }

    /// What makes the yeast faster or slower: the tilt, and the logarithms of the moves of growth rate, cap
    /// and lag.
    fn kinetics(&self, z: &[f64; COUNT]) -> [f64; JOINT - TILT] {
        let tilt = self.prior.kinetics.tilt() + z[TILT] * self.sd[TILT];
        [tilt, z[GROWTH] * self.sd[GROWTH], 0.0, 0.0]
    }

    fn with(&self, z: &[f64; COUNT], kinetics: [f64; JOINT - TILT]) -> Option<Parameters> {
        let [tilt, log_growth, log_cap, log_lag] = kinetics;
        let mut p = self.prior.clone();
        let rates = p.kinetics.rates();
        for (level, (z, sd)) in p.levels.iter_mut().zip(z.iter().zip(self.sd)) {
            level.gas *= (z * sd).exp();
        }
        let rates = Rates {
            growth_rate: rates.growth_rate * log_growth.exp(),
            growth_cap: rates.growth_cap * log_cap.exp(),
            lag27_h: rates.lag27_h * log_lag.exp(),
            ..rates
        };
        let tilted = p.kinetics.with_tilt(tilt, p.spread.tilt_about).ok()?;
        p.kinetics = tilted.with_rates(rates).ok()?;
        Some(p)
    }

    /// The predicted log time of every row; `None` where a row has none.
    pub(super) fn log_hours(&self, z: &[f64; COUNT]) -> Option<Vec<f64>> {
        let p = self.parameters(z)?;
        let log_hours = |row: &Observation| {
            let (course, stage) = (row.bake.place.course().ok()?, row.bake.stage());
            Some(stage.ripe(&p, &course).ok()?.hours.ln())
        };
        self.rows.iter().map(log_hours).collect()
    }

    /// `d ln t / dz` of every row at its predicted log time, for the parameters before `end`.
    /// The time is where the gas `G(t)` meets the level, so `d ln t = (d ln level - d ln G)/(d ln G/d ln t)`:
    /// slopes of the gas at a known time, which need no search.
    pub(super) fn slopes(
        &self,
        z: &[f64; COUNT],
        log_hours: &[f64],
        end: usize,
    ) -> Option<Vec<[f64; JOINT]>> {
        let kinetics = self.kinetics(z);
        let here = self.with(z, kinetics)?;
        let side = |j: usize, step: f64| {
            let mut moved = kinetics;
            moved[j - TILT] += step;
            self.with(z, moved)
        };
        let sides = |j| Some((j, side(j, -STEP)?, side(j, STEP)?));
        let moved = (TILT..end).map(sides).collect::<Option<Vec<_>>>()?;
        self.rows
            .iter()
            .zip(log_hours)
            .map(|(row, log_hours)| {
                let (course, stage) = (row.bake.place.course().ok()?, row.bake.stage());
                let log_gas = |p: &Parameters, log_hours: f64| {
                    let ferment = stage.fermentation(p).ok()?;
                    let state = ferment
                        .after(&ferment.start(), &course, log_hours.exp())
                        .ok()?;
                    Some((state.gas / stage.end_gas(p, state.temperature_c)).ln())
                };
                let [before, after] = [log_hours - STEP, log_hours + STEP];
                let by_time = log_gas(&here, after)? - log_gas(&here, before)?;
                let mut gradient = [0.0; JOINT];
                let level = level_of(row.bake.kind);
                gradient[level] = self.sd[level] * 2.0 * STEP / by_time;
                for (j, low, high) in &moved {
                    let by_parameter = log_gas(high, *log_hours)? - log_gas(low, *log_hours)?;
                    gradient[*j] = -self.sd[*j] * by_parameter / by_time;
                }
                gradient.iter().all(|g| g.is_finite()).then_some(gradient)
            })
            .collect()
    }
}

/// The value of a parameter by its place in [`NAMES`].
pub(super) fn value_of(p: &Parameters, j: usize) -> f64 {
    match j {
        0..TILT => p.levels[j].gas,
        TILT => p.kinetics.tilt(),
        GROWTH => p.kinetics.rates().growth_rate,
        CAP => p.kinetics.rates().growth_cap,
        _ => p.kinetics.rates().lag27_h,
    }
}

/// True for parameters whose errors are those of their logarithm.
pub(super) fn on_log_scale(j: usize) -> bool {
    j != TILT
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::learn::log::{LoggedDough, LoggedPlace};
    use crate::units::Temperature;

    /// Each by its own name, as a file of learnt numbers has it.
    #[test]
    fn values_stand_at_the_places_of_their_names() {
        for (j, name) in NAMES
            .iter()
            .enumerate()
            .take(JOINT)
            .filter(|&(j, _)| j != TILT)
        {
            let text = format!(
                "format = 1\nid = \"k\"\ntitle = \"t\"\nobserved = \"o\"\nsource = \"s\"\nlocus = \"l\"\nstanding = \"derived\"\n[values.{name}]\nvalue = 1.75\nlog_sd = 0.1\n"
            );
            let table = crate::table::parse(&text).unwrap();
            let p = Parameters::shipped().unwrap().with_table(&table).unwrap();
            assert_eq!(value_of(&p, j), 1.75, "{name}");
        }
    }

    /// The shipped numbers as if a log had taught some of them together.
    pub fn learned_together() -> Parameters {
        let p = Parameters::shipped().unwrap();
        let mut text = String::from(
            "format = 1\nid = \"k\"\ntitle = \"t\"\nobserved = \"o\"\nsource = \"s\"\nlocus = \"l\"\nstanding = \"derived\"\n",
        );
        for j in (0..JOINT).filter(|&j| j != TILT) {
            let value = value_of(&p, j);
            text += &format!(
                "[values.{}]\nvalue = {value:?}\nlog_sd = 0.{}\n",
                NAMES[j],
                j + 2
            );
        }
        for (a, b, r) in [
            (0, 3, 0.4),
            (0, 5, -0.3),
            (5, 6, 0.5),
            (1, 7, 0.2),
            (6, 7, -0.3),
        ] {
            let (a, b) = (NAMES[a], NAMES[b]);
            text += &format!("[[correlations]]\nbetween = [\"{a}\", \"{b}\"]\nvalue = {r}\n");
        }
        p.with_table(&crate::table::parse(&text).unwrap()).unwrap()
    }

    pub fn bake(kind: Kind, celsius: f64, fresh_percent: f64) -> LoggedDough {
        LoggedDough {
            kind,
            composition: kind.usual().unwrap(),
            fresh_percent,
            place: LoggedPlace::Held(Temperature::celsius(celsius).unwrap()),
        }
    }

    /// What the names in a parameter file stand for.
    #[test]
    fn values_are_those_of_their_names() {
        for p in [Parameters::shipped().unwrap(), learned_together()] {
            let rates = p.kinetics.rates();
            for (name, value) in [
                ("poolish_ml_per_100g", p.level(Kind::Poolish).gas),
                ("biga_ml_per_100g", p.level(Kind::Biga).gas),
                ("sponge_ml_per_100g", p.level(Kind::Sponge).gas),
                ("dough_ml_per_100g", p.level(Kind::Dough).gas),
                ("gas_tilt_per_10k", p.kinetics.tilt()),
                ("growth_rate_per_h", rates.growth_rate),
                ("growth_cap_g_per_100g", rates.growth_cap),
                ("lag27_h", rates.lag27_h),
            ] {
                let j = NAMES.iter().position(|n| *n == name).unwrap();
                assert_eq!(value_of(&p, j), value, "{name}");
            }
            for kind in [
                Kind::Poolish,
                Kind::Biga,
                Kind::Sponge,
                Kind::OldDough,
                Kind::Dough,
            ] {
                assert_eq!(value_of(&p, level_of(kind)), p.level(kind).gas);
            }
        }
    }

    /// The matrices of the prior against its correlations: each undoes the other.
    #[test]
    fn what_goes_together_is_parted_and_put_together_again() {
        let prior = learned_together();
        let model = Model::new(&prior, &[]).unwrap();
        let unit = |i: usize, j: usize| f64::from(u8::from(i == j));
        for i in 0..JOINT {
            for j in 0..JOINT {
                let product: f64 = (0..JOINT)
                    .map(|k| model.correlations()[(i, k)] * model.precision()[(k, j)])
                    .sum();
                assert!((product - unit(i, j)).abs() < 1e-12);
            }
        }
        let v = [0.3, -1.0, 0.7, 2.0, -0.4, 1.1];
        for (back, v) in model.parted(&model.correlated(&v)).iter().zip(v) {
            assert!((back - v).abs() < 1e-12);
        }
        // Cap and lag being what they are, `a` varies by `R_aa - R_ab R_bb⁻¹ R_ba`.
        let [cap, lag] = [CAP, CAP + 1];
        let r = |a, b| model.correlations()[(a, b)];
        let both = 1.0 - r(cap, lag) * r(cap, lag);
        for a in 0..COUNT {
            let (c, l) = (r(a, cap), r(a, lag));
            let told = (c * c + l * l - 2.0 * c * l * r(cap, lag)) / both;
            assert!((model.variance(a) - (1.0 - told)).abs() < 1e-12);
            // The same spread by drawing: `correlated` takes independent deviations to it.
            let drawn: f64 = (0..COUNT)
                .map(|i| model.correlated(&std::array::from_fn(|j| unit(i, j)))[a].powi(2))
                .sum();
            assert!((drawn - model.variance(a)).abs() < 1e-12);
        }
    }

    /// Slopes by the implicit rule against differences of the times themselves, in and out of lag, at
    /// temperatures on both sides of the pivot, along a record too.
    #[test]
    fn slopes_agree_with_differences_of_the_times() {
        let prior = Parameters::shipped().unwrap();
        let c = |t: f64| Temperature::celsius(t).unwrap();
        let room = crate::ambient::Ambient::ramps(&[(0.0, 25.0), (9.0, 18.0)]).unwrap();
        let places = [
            LoggedPlace::Held(c(17.0)),
            LoggedPlace::Held(c(27.0)),
            LoggedPlace::Room {
                room,
                start: Some(c(22.0)),
                time_constant_h: 2.5,
            },
        ];
        let mut rows = Vec::new();
        for kind in [Kind::Poolish, Kind::Biga, Kind::Dough] {
            for place in &places {
                for fresh_percent in [0.2, 0.7, 2.0] {
                    rows.push(Observation {
                        line: 0,
                        bake: LoggedDough {
                            kind,
                            composition: kind.usual().unwrap(),
                            fresh_percent,
                            place: place.clone(),
                        },
                        hours: 10.0,
                        seen: Seen::Ready,
                    });
                }
            }
        }
        let model = Model::new(&prior, &rows).unwrap();
        let z = [0.3, -0.4, 0.1, 0.2, -0.6, 0.5];
        let hours = model.log_hours(&z).unwrap();
        let slopes = model.slopes(&z, &hours, COUNT).unwrap();
        for j in 0..COUNT {
            let moved = |by: f64| {
                let mut z = z;
                z[j] += by;
                model.log_hours(&z).unwrap()
            };
            let (low, high) = (moved(-1e-3), moved(1e-3));
            for (i, slope) in slopes.iter().enumerate() {
                let difference = (high[i] - low[i]) / 2e-3;
                // Both differ from the slope by the square of their steps, more where growth sets in.
                assert!(
                    (slope[j] - difference).abs() < 1e-5,
                    "row {i}, {}: {} and {difference}",
                    NAMES[j],
                    slope[j]
                );
            }
        }
    }
}
