//! The log time of every row, and its slopes, as a function of the parameters in prior deviations.

use crate::error::Result;
use crate::ferment::{Kind, Level, Parameters, Rates, Stage};
use crate::learn::log::{Observation, Seen};

/// Parameters: four levels, the tilt, the growth rate.
pub(super) const COUNT: usize = 6;
pub(super) const TILT: usize = 4;
pub(super) const GROWTH: usize = 5;

/// Their names in a parameter file.
pub(super) const NAMES: [&str; COUNT] = [
    "poolish_ml_per_100g",
    "biga_ml_per_100g",
    "sponge_ml_per_100g",
    "dough_ml_per_100g",
    "gas_tilt_per_10k",
    "growth_rate_per_h",
];

/// The level that a kind ends at.
pub(super) fn level_of(kind: Kind) -> usize {
    match kind {
        Kind::Poolish => 0,
        Kind::Biga => 1,
        Kind::Sponge => 2,
        Kind::OldDough | Kind::Dough => 3,
    }
}

/// Step of the differences in the tilt, and in the logarithm of growth and time. The curves are smooth:
/// the error is of the order of the square, 1e-6 of the slope, and rounding stays far below.
const STEP: f64 = 1e-3;

pub(super) struct Model<'o> {
    prior: &'o Parameters,
    /// Standard deviations of the prior.
    sd: [f64; COUNT],
    rows: Vec<Row<'o>>,
}

struct Row<'o> {
    observation: &'o Observation,
    stage: Stage,
    level: usize,
    log_seen: f64,
}

impl<'o> Model<'o> {
    pub(super) fn new(prior: &'o Parameters, observations: &'o [Observation]) -> Result<Self> {
        let l = &prior.levels;
        Ok(Self {
            prior,
            sd: [
                l.poolish.log_sd,
                l.biga.log_sd,
                l.sponge.log_sd,
                l.doubled.log_sd,
                prior.spread.tilt,
                prior.spread.growth_rate,
            ],
            rows: observations
                .iter()
                .map(|o| {
                    o.bake.place.course()?; // the only thing that can be wrong with it later
                    Ok(Row {
                        observation: o,
                        stage: o.bake.stage(),
                        level: level_of(o.bake.kind),
                        log_seen: o.hours.ln(),
                    })
                })
                .collect::<Result<_>>()?,
        })
    }

    pub(super) fn len(&self) -> usize {
        self.rows.len()
    }

    pub(super) fn sd(&self, j: usize) -> f64 {
        self.sd[j]
    }

    /// A parameter that the prior does not hold to one value.
    pub(super) fn is_free(&self, j: usize) -> bool {
        self.sd[j] > 0.0
    }

    pub(super) fn seen(&self, i: usize) -> Seen {
        self.rows[i].observation.seen
    }

    pub(super) fn log_seen(&self, i: usize) -> f64 {
        self.rows[i].log_seen
    }

    /// Value of a parameter before learning.
    pub(super) fn prior_value(&self, j: usize) -> f64 {
        value_of(self.prior, j)
    }

    /// The model's parameters at `z`; `None` where they leave their ranges.
    pub(super) fn parameters(&self, z: &[f64; COUNT]) -> Option<Parameters> {
        let tilt = self.prior.kinetics.gas().tilt() + z[TILT] * self.sd[TILT];
        self.with(z, tilt, z[GROWTH] * self.sd[GROWTH])
    }

    fn with(&self, z: &[f64; COUNT], tilt: f64, log_growth: f64) -> Option<Parameters> {
        let mut p = self.prior.clone();
        let rates = p.kinetics.rates();
        let moved = |level: Level, j: usize| Level {
            gas: level.gas * (z[j] * self.sd[j]).exp(),
            ..level
        };
        p.levels.poolish = moved(p.levels.poolish, 0);
        p.levels.biga = moved(p.levels.biga, 1);
        p.levels.sponge = moved(p.levels.sponge, 2);
        p.levels.doubled = moved(p.levels.doubled, 3);
        p.kinetics = p
            .kinetics
            .with_tilt(tilt, p.spread.tilt_about)
            .and_then(|k| {
                k.with_rates(Rates {
                    growth_rate: rates.growth_rate * log_growth.exp(),
                    ..rates
                })
            })
            .ok()?;
        Some(p)
    }

    /// The predicted log time of every row; `None` where a row has none.
    pub(super) fn log_hours(&self, z: &[f64; COUNT]) -> Option<Vec<f64>> {
        let p = self.parameters(z)?;
        self.rows
            .iter()
            .map(|row| {
                let course = row.observation.bake.place.course().ok()?;
                let ferment = row.stage.fermentation(&p).ok()?;
                let end = ferment
                    .until_gas(&ferment.start(), &course, p.gas_at(row.stage.end))
                    .ok()??;
                Some(end.hours.ln())
            })
            .collect()
    }

    /// `d ln t / dz` of every row at its predicted log time.
    ///
    /// The time is where the gas `G(t)` meets the level, so `d ln t = (d ln level - d ln G)/(d ln G/d ln t)`:
    /// slopes of the gas at a known time, which need no search.
    pub(super) fn gradients(
        &self,
        z: &[f64; COUNT],
        log_hours: &[f64],
    ) -> Option<Vec<[f64; COUNT]>> {
        let tilt = self.prior.kinetics.gas().tilt() + z[TILT] * self.sd[TILT];
        let growth = z[GROWTH] * self.sd[GROWTH];
        let here = self.with(z, tilt, growth)?;
        let tilted = [
            self.with(z, tilt - STEP, growth)?,
            self.with(z, tilt + STEP, growth)?,
        ];
        let grown = [
            self.with(z, tilt, growth - STEP)?,
            self.with(z, tilt, growth + STEP)?,
        ];
        self.rows
            .iter()
            .zip(log_hours)
            .map(|(row, log_hours)| {
                let course = row.observation.bake.place.course().ok()?;
                let log_gas = |p: &Parameters, log_hours: f64| {
                    let ferment = row.stage.fermentation(p).ok()?;
                    let state = ferment
                        .after(&ferment.start(), &course, log_hours.exp())
                        .ok()?;
                    Some(state.gas.ln())
                };
                let slope = |low: f64, high: f64| (high - low) / (2.0 * STEP);
                let by_time = slope(
                    log_gas(&here, log_hours - STEP)?,
                    log_gas(&here, log_hours + STEP)?,
                );
                let mut gradient = [0.0; COUNT];
                gradient[row.level] = self.sd[row.level] / by_time;
                for (j, moved) in [(TILT, &tilted), (GROWTH, &grown)] {
                    let by_parameter = slope(
                        log_gas(&moved[0], *log_hours)?,
                        log_gas(&moved[1], *log_hours)?,
                    );
                    gradient[j] = -self.sd[j] * by_parameter / by_time;
                }
                gradient.iter().all(|g| g.is_finite()).then_some(gradient)
            })
            .collect()
    }
}

/// The value of a parameter by its place in [`NAMES`].
pub(super) fn value_of(p: &Parameters, j: usize) -> f64 {
    match j {
        0 => p.levels.poolish.gas,
        1 => p.levels.biga.gas,
        2 => p.levels.sponge.gas,
        3 => p.levels.doubled.gas,
        TILT => p.kinetics.gas().tilt(),
        _ => p.kinetics.rates().growth_rate,
    }
}

/// True for parameters whose errors are those of their logarithm.
pub(super) fn on_log_scale(j: usize) -> bool {
    j != TILT
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::learn::log::{Bake, Place};
    use crate::units::Temperature;

    /// Slopes by the implicit rule against differences of the times themselves, in and out of lag, at
    /// temperatures on both sides of the pivot, along a record too.
    #[test]
    fn slopes_agree_with_differences_of_the_times() {
        let prior = Parameters::shipped().unwrap();
        let c = |t: f64| Temperature::celsius(t).unwrap();
        let room = crate::ambient::Ambient::ramps(&[(0.0, 25.0), (9.0, 18.0)]).unwrap();
        let places = [
            Place::Held(c(17.0)),
            Place::Held(c(27.0)),
            Place::Room {
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
                        bake: Bake {
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
        let slopes = model.gradients(&z, &hours).unwrap();
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
