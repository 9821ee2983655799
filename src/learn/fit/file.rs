//! The learned parameters as a parameter file.

use super::Learned;
use super::model::{COUNT, JOINT, Model, NAMES, TILT, level_of, on_log_scale, value_of};
use crate::error::Result;
use crate::table::{Correlation, Standing, Table, Uncertainty, Value, unit_of};

impl Learned {
    /// What a parameter file holds of it, for
    /// [`Parameters::with_table`](crate::ferment::Parameters::with_table): what the log could move, with errors and
    /// correlations after it, and growth cap and lag, which stay, for the errors that go with them. Nothing where
    /// the fit is not sound. Whose log it was is left to the caller, who fills in title and source.
    ///
    /// The `log_sd` of a level joins its own error and the scatter of a single observation, so that a
    /// range drawn from the file holds four new observations of five. Numbers have six
    /// digits.
    ///
    /// ```
    /// use pointage::ferment::{Kind, Parameters};
    /// use pointage::learn::fit::{Options, learn};
    /// use pointage::learn::log::Log;
    /// let log = Log::from_csv("\
    /// kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen
    /// poolish,1000,1000,fresh,3,21,11.5,ripe
    /// poolish,1000,1000,fresh,3,17,20,ripe
    /// ", |name| Err(pointage::table::get(name).unwrap_err()))?;
    /// let shipped = Parameters::shipped()?;
    /// let learned = learn(&log.observations, &shipped, Options::default())?;
    /// let kitchen = shipped.with_table(&learned.table()?)?;
    /// let miss = kitchen.level(Kind::Poolish).gas / learned.parameters.level(Kind::Poolish).gas - 1.0;
    /// assert!(miss.abs() < 1e-5);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    ///
    /// # Errors
    /// None: the log made a model before.
    pub fn table(&self) -> Result<Table> {
        let model = Model::new(&self.prior, &self.observations)?;
        let rest = (COUNT..JOINT).filter(|&j| model.sd(j) > 0.0);
        let inside = self.concerned(&model).chain(rest);
        let (mut values, mut shares) = (Vec::new(), Vec::new());
        for j in inside.filter(|_| self.sound) {
            let own = model.sd(j) * self.found.joint[(j, j)].sqrt();
            // What the log does not tell holds the scatter of the table or of the logs before.
            let error = if j < TILT {
                own.hypot(self.scatter * self.gas_for_time(&model, j) * self.told[j].sqrt())
            } else {
                own
            };
            shares.push((j, own / error));
            let se = six_digits(error);
            let uncertainty = if on_log_scale(j) {
                Uncertainty::LogSd { log_sd: se }
            } else {
                Uncertainty::StandardError { se }
            };
            values.push(Value {
                name: NAMES[j].into(),
                value: six_digits(value_of(&self.parameters, j)),
                unit: unit_of(NAMES[j])?.0,
                uncertainty,
                source: String::new(),
                locus: String::new(),
                standing: Standing::Derived,
                note: String::new(),
            });
        }
        Ok(Table {
            id: "kitchen".into(),
            values,
            correlations: self.correlations(&shares),
            ..Table::default()
        })
    }

    /// How the errors of values go together, given which they are and the share of each error that is the
    /// parameter's own. The scatter of a single observation, which a level's error holds besides, goes with nothing.
    fn correlations(&self, written: &[(usize, f64)]) -> Vec<Correlation> {
        let c = &self.found.joint;
        let mut found = Vec::new();
        for (n, &(i, own_i)) in written.iter().enumerate() {
            for &(j, own_j) in &written[n + 1..] {
                let value = own_i * own_j * c[(i, j)] / (c[(i, i)] * c[(j, j)]).sqrt();
                found.push(Correlation {
                    between: [NAMES[i].into(), NAMES[j].into()],
                    value: six_digits(value),
                });
            }
        }
        found
    }

    /// By how much the log of the gas moves for a move of the log time, at the end point of a level:
    /// the mean over its rows.
    fn gas_for_time(&self, model: &Model<'_>, level: usize) -> f64 {
        let log_hours: Vec<f64> = self.rows.iter().map(|r| r.predicted_h.ln()).collect();
        let slopes = model.slopes(&self.told_z, &log_hours, TILT);
        let slopes = slopes.unwrap_or_default();
        let of_level = slopes.iter().zip(&self.observations);
        let slopes: Vec<f64> = of_level
            .filter(|(_, o)| level_of(o.bake.kind) == level)
            .map(|(g, _)| model.sd(level) / g[level])
            .collect();
        // A level without a row was learned through the others, and holds its scatter from before.
        slopes.iter().sum::<f64>() / slopes.len().max(1) as f64
    }
}

fn six_digits(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ferment::Parameters;
    use crate::learn::log::Seen;

    /// The range that the file gives at the one place of its log: the errors of all eight parameters
    /// together, by the slopes of the time itself, and the scatter of a single observation as far as the log
    /// tells the level.
    #[test]
    fn the_range_from_a_file_has_errors_and_scatter() {
        use crate::ferment::{Kind, Perturbations, Uncertain};
        use crate::learn::fit::model::tests::bake;
        use crate::learn::fit::{Options, learn};
        use crate::learn::log::Observation;
        let prior = Parameters::shipped().unwrap();
        let bake = bake(Kind::Poolish, 22.0, 0.3);
        let course = bake.place.course().unwrap();
        let hours = |p: &Parameters| bake.stage().ready(p, &course).map(|r| r.hours);
        let row = Observation {
            line: 2,
            bake: bake.clone(),
            hours: hours(&prior).unwrap(),
            seen: Seen::Ready,
        };
        let scatter = 0.15;
        let options = Options {
            scatter: Some(scatter),
            ..Options::default()
        };
        let l = learn(&[row.clone(), row.clone(), row], &prior, options).unwrap();
        let own = prior.with_table(&l.table().unwrap()).unwrap();
        let all = [
            Uncertain::Level(Kind::Poolish),
            Uncertain::Level(Kind::Biga),
            Uncertain::Level(Kind::Sponge),
            Uncertain::Level(Kind::Dough),
            Uncertain::Tilt,
            Uncertain::GrowthRate,
            Uncertain::GrowthCap,
            Uncertain::Lag,
        ];
        let slope = all.map(|which| {
            let at = |z: f64| hours(&prior.moved(which, z).unwrap()).unwrap().ln();
            (at(1e-2) - at(-1e-2)) / 2e-2
        });
        let mut variance = scatter * scatter * l.told[0];
        for a in 0..JOINT {
            for b in 0..JOINT {
                variance += slope[a] * l.found.joint[(a, b)] * slope[b];
            }
        }
        let (low, high) = Perturbations::new(own.clone())
            .range(bake.stage().end, hours)
            .unwrap()
            .unwrap();
        let width = 0.5 * (high / low).ln() / 1.281_55;
        assert!(l.told[0] > 0.3 && scatter * scatter * l.told[0] > 0.2 * variance);
        // A whole standard deviation bends the time a little.
        assert!(
            (width / variance.sqrt() - 1.0).abs() < 0.03,
            "{width} {}",
            variance.sqrt()
        );
    }

    /// By hand: 3/sqrt(4 · 9) = 0.5 and -1/sqrt(4 · 16) = -0.125, times the shares of each error that are its
    /// own.
    #[test]
    fn correlations_are_written_without_the_scatter() {
        use crate::ferment::Kind;
        use crate::learn::fit::model::tests::bake;
        use crate::learn::fit::{Options, learn};
        use crate::learn::log::Observation;
        let row = Observation {
            line: 2,
            bake: bake(Kind::Poolish, 22.0, 0.3),
            hours: 11.0,
            seen: Seen::Ready,
        };
        let prior = Parameters::shipped().unwrap();
        let mut l = learn(&[row], &prior, Options::default()).unwrap();
        l.found.joint.fill(0.0);
        for (i, j, c) in [
            (0, 0, 4.0),
            (4, 4, 9.0),
            (5, 5, 16.0),
            (0, 4, 3.0),
            (0, 5, -1.0),
        ] {
            l.found.joint[(i, j)] = c;
            l.found.joint[(j, i)] = c;
        }
        let found = l.correlations(&[(0, 0.8), (4, 1.0), (5, 0.5)]);
        let told = |c: &Correlation| (c.between.clone(), c.value);
        let written: Vec<([String; 2], f64)> = found.iter().map(told).collect();
        let pair = |a: usize, b: usize, r| ([NAMES[a].to_owned(), NAMES[b].to_owned()], r);
        assert_eq!(
            written,
            [pair(0, 4, 0.4), pair(0, 5, -0.05), pair(4, 5, 0.0)]
        );
    }

    fn learned(prior: &Parameters) -> Learned {
        use crate::learn::fit::{Options, learn, model::tests::bake};
        let row = crate::learn::log::Observation {
            line: 2,
            bake: bake(crate::ferment::Kind::Poolish, 22.0, 0.3),
            hours: 11.0,
            seen: Seen::Ready,
        };
        learn(&[row], prior, Options::default()).unwrap()
    }

    /// Cap and lag are written for the errors that go with them; one that is exact has none.
    #[test]
    fn what_is_exact_is_not_written() {
        let mut prior = Parameters::shipped().unwrap();
        let written = |prior: &Parameters| {
            let table = learned(prior).table().unwrap();
            NAMES[COUNT..]
                .iter()
                .map(|n| table.value(n).is_ok())
                .collect::<Vec<_>>()
        };
        assert_eq!(written(&prior), [true, true]);
        prior.spread.lag = 0.0;
        assert_eq!(written(&prior), [true, false]);
        prior.spread.growth_cap = 0.0;
        assert_eq!(written(&prior), [false, false]);
    }
}
