//! Intervals by profile and by bootstrap, and the comparison of rate laws.

use super::map_fit::{map_fit, residuals};
use super::model::{COUNT, Model, NAMES, on_log_scale};
use super::{FARTHEST, Learned, LearnedParameter, Options, student_90};
use crate::error::{Error, Result, check};
use crate::ferment::{Kinetics, Parameters, Rates};
use crate::learn::log::Seen;
use crate::learn::random::Random;
use crate::numeric;
use crate::rate::{GAS_CONSTANT, RateLaw, ZERO_CELSIUS_K};
use crate::units::Temperature;

/// The 10 and 90 % points of a parameter.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct LearnedInterval {
    /// Its name.
    pub name: &'static str,
    /// 10 % point.
    pub low: f64,
    /// 90 % point.
    pub high: f64,
}

/// How well a gas curve explains the log.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct LawScore {
    /// The law of the gas curve: `square-root` is the shipped one with its points for the cold.
    pub law: &'static str,
    /// Akaike's criterion with the correction for few rows: less is better, and less than two apart is
    /// no difference. `None` with too few rows.
    pub aicc: Option<f64>,
    /// Logarithm of the likelihood of the rows.
    pub log_likelihood: f64,
    /// Scatter that is left, in log time.
    pub scatter: f64,
}

impl Learned {
    /// Intervals by profile: how far each parameter can move, the others following as best they can,
    /// until minus twice the logarithm of the posterior has risen by the square of the 90 % point of
    /// Student's t. Not symmetric where the data are not. None for a parameter at its limit.
    ///
    /// # Errors
    /// Only what the fit itself would refuse.
    pub fn profile_intervals(&self) -> Result<Vec<LearnedInterval>> {
        let model = Model::new(&self.prior, &self.observations)?;
        let rise = student_90(self.found.freedom).powi(2);
        let mut intervals = Vec::new();
        for j in self.learned_indices() {
            let held = model.holding(j);
            let mut fault = None;
            let mut excess = |value: f64| {
                let mut from = self.found.z;
                from[j] = value;
                match map_fit(&held, self.known_scatter(), from, [0.0; COUNT]) {
                    Ok(found) => (found.cost - self.found.cost - rise).min(1e6),
                    Err(e) => {
                        fault.get_or_insert(e);
                        f64::NAN
                    }
                }
            };
            let ends = [-FARTHEST, FARTHEST]
                .map(|edge| numeric::root(&mut excess, self.found.z[j], edge).unwrap_or(edge));
            if let Some(e) = fault {
                return Err(e);
            }
            intervals.push(interval(&model, j, ends));
        }
        Ok(intervals)
    }

    /// Intervals by parametric bootstrap, seeded: each round draws new times for the ripe rows about
    /// their predictions and a new centre for the prior, and learns again. One-sided rows stay as they
    /// are. None for a parameter at its limit.
    ///
    /// # Errors
    /// Rounds outside 20 to 100 000.
    pub fn bootstrap_intervals(&self, rounds: usize, seed: u64) -> Result<Vec<LearnedInterval>> {
        check("rounds of the bootstrap", rounds as f64, 20.0, 1e5, "")?;
        let model = Model::new(&self.prior, &self.observations)?;
        let log_hours = model
            .log_hours(&self.found.z)
            .ok_or_else(|| Error::contradiction("the log cannot be predicted"))?;
        // Draws go by the rows' content, not by their lines: a shuffled log draws the same.
        let mut order: Vec<usize> = (0..log_hours.len()).collect();
        order.sort_by(|&i, &j| {
            let by_hours = self.observations[i]
                .hours
                .total_cmp(&self.observations[j].hours);
            by_hours.then(log_hours[i].total_cmp(&log_hours[j]))
        });
        let mut random = Random::seeded(seed);
        let mut draws: [Vec<f64>; COUNT] = Default::default();
        for _ in 0..rounds {
            let mut rows = self.observations.clone();
            for &i in &order {
                let drawn = (log_hours[i] + self.scatter * random.normal()).exp();
                if rows[i].seen == Seen::Ready {
                    rows[i].hours = drawn;
                }
            }
            let centre = model.correlated(&std::array::from_fn(|_| random.normal()));
            let redrawn = Model::new(&self.prior, &rows)?;
            let found = map_fit(&redrawn, self.known_scatter(), [0.0; COUNT], centre)?;
            for (draws, z) in draws.iter_mut().zip(found.z) {
                draws.push(z);
            }
        }
        let mut of = |j: usize| {
            draws[j].sort_by(f64::total_cmp);
            // Drawn about the truth of the world that was drawn from: the deviation is what counts.
            let off = self.found.z[j] - draws[j][rounds / 2];
            let ends = [0.1, 0.9].map(|share| off + point(&draws[j], share));
            interval(&model, j, ends)
        };
        Ok(self.learned_indices().into_iter().map(&mut of).collect())
    }

    /// The gas curve of the log against other laws of the same slope at 24 °C, each learned anew.
    ///
    /// # Errors
    /// Only what the fit itself would refuse.
    pub fn compare_laws(&self) -> Result<Vec<LawScore>> {
        let mut scores = Vec::new();
        let plain = Options {
            robust: false,
            ..self.options
        };
        for (law, prior) in other_curves(&self.prior)? {
            let model = Model::new(&prior, &self.observations)?;
            if model.log_hours(&[0.0; COUNT]).is_none() {
                continue;
            }
            let found = map_fit(&model, self.options, [0.0; COUNT], [0.0; COUNT])?;
            let mut log_likelihood = 0.0;
            let rows = residuals(&model, plain, found.scatter, &found.log_hours);
            for (i, r) in rows.iter().enumerate() {
                log_likelihood -= 0.5 * r.value * r.value;
                if model.seen(i) == Seen::Ready {
                    log_likelihood -= found.scatter.ln() + 0.5 * std::f64::consts::TAU.ln();
                }
            }
            let n = self.observations.len() as f64;
            let k = (self.estimates.len() + usize::from(self.options.scatter.is_none())) as f64;
            let left = n - k - 1.0;
            let aicc = -2.0 * log_likelihood + 2.0 * k + 2.0 * k * (k + 1.0) / left;
            scores.push(LawScore {
                law,
                aicc: (left > 0.0).then_some(aicc),
                log_likelihood,
                scatter: found.scatter,
            });
        }
        scores.sort_by(|a, b| b.log_likelihood.total_cmp(&a.log_likelihood));
        Ok(scores)
    }

    fn known_scatter(&self) -> Options {
        Options {
            scatter: Some(self.scatter),
            ..self.options
        }
    }

    /// Parameters that have an error.
    fn learned_indices(&self) -> Vec<usize> {
        let told = self.estimates.iter().filter(|e| e.standard_error.is_some());
        let place = |e: &LearnedParameter| NAMES.iter().position(|name| *name == e.name);
        told.filter_map(place).collect()
    }
}

/// Where a share of what was drawn and sorted lies below: the draw nearest to it.
fn point(sorted: &[f64], share: f64) -> f64 {
    let last = sorted.len() - 1;
    sorted[((share * last as f64).round() as usize).min(last)]
}

fn interval(model: &Model<'_>, j: usize, ends: [f64; 2]) -> LearnedInterval {
    let prior = model.prior_value(j);
    let [low, high] = ends.map(|z| match z * model.sd(j) {
        moved if on_log_scale(j) => prior * moved.exp(),
        moved => prior + moved,
    });
    LearnedInterval {
        name: NAMES[j],
        low,
        high,
    }
}

/// The shipped parameters with other gas curves: of the same speed at the pivot of the tilt, and where
/// they have a slope to choose, of the same slope between 18 and 30 °C.
fn other_curves(p: &Parameters) -> Result<Vec<(&'static str, Parameters)>> {
    let (low, high) = (Temperature::celsius(18.0)?, Temperature::celsius(30.0)?);
    let (shipped, rates) = (p.kinetics.gas(), p.kinetics.rates());
    let log_ratio = (shipped.relative_rate(high)? / shipped.relative_rate(low)?).ln();
    let pivot = p.spread.tilt_about;
    let (pivot_c, valid) = (pivot.as_celsius(), [-20.0, 60.0]);
    let inverse_k = |t: Temperature| 1.0 / (t.as_celsius() + ZERO_CELSIUS_K);
    let energy_kj = log_ratio / (inverse_k(low) - inverse_k(high)) * GAS_CONSTANT / 1e3;
    // The specific rate holds for the curve before its tilt.
    let at_pivot =
        |c: &RateLaw| -> Result<f64> { Ok(c.relative_rate(pivot)? / c.at(high.as_celsius())) };
    let mut curves = vec![("square-root", p.clone())];
    for law in [
        RateLaw::q10((log_ratio / 1.2).exp(), pivot_c, valid)?,
        RateLaw::arrhenius(energy_kj, pivot_c, valid)?,
        p.kinetics.growth().clone(),
    ] {
        let name = law.name();
        let curve = law;
        let same_speed = at_pivot(shipped)? / at_pivot(&curve)?;
        let rates = Rates {
            specific_gas_rate: rates.specific_gas_rate * same_speed,
            ..rates
        };
        let mut other = p.clone();
        other.kinetics = Kinetics::new(curve, p.kinetics.growth().clone(), rates)?;
        curves.push((name, other));
    }
    Ok(curves)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_curves_are_as_fast_at_the_pivot() {
        // Whatever tilt was learnt before.
        for tilt in [0.0, 0.2] {
            let mut p = Parameters::shipped().unwrap();
            p.kinetics = p.kinetics.with_tilt(tilt, p.spread.tilt_about).unwrap();
            for (law, q) in other_curves(&p).unwrap() {
                let speed = |p: &Parameters| {
                    let rate = p.kinetics.gas().relative_rate(p.spread.tilt_about).unwrap();
                    rate * p.kinetics.gas_scale
                };
                assert!((speed(&q) / speed(&p) - 1.0).abs() < 1e-12, "{law}");
            }
        }
    }

    use crate::ferment::Kind;
    use crate::learn::fit::model::tests::bake;
    use crate::learn::fit::{Learned, learn};
    use crate::learn::log::Observation;

    fn log(off: &[f64]) -> Vec<Observation> {
        let p = Parameters::shipped().unwrap();
        off.iter()
            .enumerate()
            .map(|(i, off)| {
                let bake = bake(Kind::Poolish, 17.0 + 1.5 * i as f64, 0.3);
                let course = bake.place.course().unwrap();
                let forecast = bake.stage().ready(&p, &course).unwrap().hours;
                Observation {
                    line: i as u64 + 2,
                    bake,
                    hours: forecast * off.exp(),
                    seen: Seen::Ready,
                }
            })
            .collect()
    }

    fn learned(off: &[f64], options: Options) -> Learned {
        learn(&log(off), &Parameters::shipped().unwrap(), options).unwrap()
    }

    const OFF: [f64; 8] = [0.05, -0.09, 0.11, 0.02, -0.12, 0.07, 0.0, -0.04];

    /// Likelihood and criterion of the shipped curve, from the rows of the report: `ln N(e; 0, s)` of each,
    /// and -2 ln L + 2k + 2k(k + 1)/(n - k - 1), the scatter being one parameter more where it is learned.
    #[test]
    fn the_score_of_a_law_is_that_of_its_rows() {
        for (options, scatters) in [
            (Options::default(), 1.0),
            (
                Options {
                    scatter: Some(0.08),
                    ..Options::default()
                },
                0.0,
            ),
        ] {
            let l = learned(&OFF, options);
            let scores = l.compare_laws().unwrap();
            let own = scores.iter().find(|s| s.law == "square-root").unwrap();
            assert_eq!(own.scatter, l.scatter);
            let n = OFF.len() as f64;
            let k = l.estimates.len() as f64 + scatters;
            let model = Model::new(&l.prior, &l.observations).unwrap();
            let sum: f64 = model
                .log_hours(&l.found.z)
                .unwrap()
                .iter()
                .zip(&l.observations)
                .map(|(predicted, o)| {
                    let e = (o.hours.ln() - predicted) / l.scatter;
                    let width = l.scatter * (2.0 * std::f64::consts::PI).sqrt();
                    ((-0.5 * e * e).exp() / width).ln()
                })
                .sum();
            assert!((own.log_likelihood - sum).abs() < 1e-8);
            let aicc = -2.0 * sum + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0);
            assert!((own.aicc.unwrap() - aicc).abs() < 1e-7);
            assert!(
                scores
                    .windows(2)
                    .all(|s| s[0].log_likelihood >= s[1].log_likelihood)
            );
        }
        // As many rows as parameters and one: no criterion.
        let few = learned(
            &OFF[..4],
            Options {
                scatter: Some(0.08),
                ..Options::default()
            },
        );
        assert_eq!(few.estimates.len(), 3);
        assert!(few.compare_laws().unwrap().iter().all(|s| s.aicc.is_none()));
    }

    /// Rows as forecast and a small scatter leave a posterior that is all but normal: 1.2816 standard errors
    /// to either side, by profile exactly so, by a hundred draws within what they know.
    #[test]
    fn intervals_of_a_normal_posterior() {
        let l = learned(
            &[0.0; 8],
            Options {
                scatter: Some(0.02),
                ..Options::default()
            },
        );
        let profile = l.profile_intervals().unwrap();
        let drawn = l.bootstrap_intervals(100, 3).unwrap();
        assert!(!profile.is_empty() && profile.len() == drawn.len());
        for (p, b) in profile.iter().zip(&drawn) {
            assert_eq!(p.name, b.name);
            let e = l.estimates.iter().find(|e| e.name == p.name).unwrap();
            let far = 1.281_55 * e.standard_error.unwrap();
            let way = |to: f64| {
                let way = if e.on_log_scale {
                    (to / e.value).ln()
                } else {
                    to - e.value
                };
                way / far
            };
            // The tilt and growth bend the times a little.
            assert!(
                (way(p.low) + 1.0).abs() < 0.06,
                "{}: {}",
                p.name,
                way(p.low)
            );
            assert!(
                (way(p.high) - 1.0).abs() < 0.06,
                "{}: {}",
                p.name,
                way(p.high)
            );
            // A hundred draws know a 10 % point to a sixth of the deviation; twice that, and the middle's.
            assert!((way(b.low) + 1.0).abs() < 0.4, "{}: {}", b.name, way(b.low));
            assert!(
                (way(b.high) - 1.0).abs() < 0.4,
                "{}: {}",
                b.name,
                way(b.high)
            );
        }
    }

    /// What the next bake is said to spare is spared once it is logged, just as forecast: the error that
    /// was promised is then the error that is.
    #[test]
    fn the_next_bake_keeps_its_promise() {
        use crate::learn::fit::Offers;
        let options = Options {
            scatter: Some(0.1),
            ..Options::default()
        };
        let offers = Offers {
            kinds: vec![Kind::Poolish],
            ..Offers::default()
        };
        let prior = Parameters::shipped().unwrap();
        let mut rows: Vec<Observation> = log(&[0.0; 2]);
        let mut promised: Option<f64> = None;
        for _ in 0..3 {
            let l = learn(&rows, &prior, options).unwrap();
            let next = l.next_bake(&offers).unwrap().unwrap();
            if let Some(promised) = promised {
                let now = next.log_sd_now;
                assert!((now / promised - 1.0).abs() < 1e-3, "{now} {promised}");
            }
            assert!(next.log_sd_then < next.log_sd_now);
            promised = Some(next.log_sd_then);
            rows.push(Observation {
                line: 9,
                bake: bake(next.kind, next.temperature_c, next.fresh_percent),
                hours: next.expected_h,
                seen: Seen::Ready,
            });
        }
    }

    /// A prediction lies in the middle of its range, which holds the scatter of an observation besides its
    /// own error.
    #[test]
    fn a_prediction_has_its_error_and_the_scatter() {
        let l = learned(
            &OFF,
            Options {
                scatter: Some(0.1),
                ..Options::default()
            },
        );
        let p = l.predict(&bake(Kind::Poolish, 25.0, 0.2)).unwrap();
        assert!((p.low_h * p.high_h / (p.hours * p.hours) - 1.0).abs() < 1e-12);
        let width = 1.281_55 * (0.01 + p.log_sd * p.log_sd).sqrt();
        assert!(((p.high_h / p.hours).ln() - width).abs() < 1e-4);
        // One more such row is worth what it is: 1/v' = 1/v + 1/s² at its own place.
        let bake = bake(Kind::Poolish, 25.0, 0.2);
        let mut rows = log(&[0.0; 8]);
        let prior = Parameters::shipped().unwrap();
        let error = |rows: &[Observation]| {
            let l = learn(
                rows,
                &prior,
                Options {
                    scatter: Some(0.1),
                    ..Options::default()
                },
            )
            .unwrap();
            let p = l.predict(&bake).unwrap();
            (p.log_sd.powi(-2), p.hours)
        };
        let (before, hours) = error(&rows);
        rows.push(Observation {
            line: 12,
            bake: bake.clone(),
            hours,
            seen: Seen::Ready,
        });
        let (after, _) = error(&rows);
        assert!(
            ((after - before) / 100.0 - 1.0).abs() < 1e-3,
            "{before} {after}"
        );
    }

    #[test]
    fn a_share_of_the_draws_is_counted_from_the_first() {
        let sorted: Vec<f64> = (0..=20).map(f64::from).collect();
        for (share, expected) in [
            (0.0, 0.0),
            (0.1, 2.0),
            (0.5, 10.0),
            (0.9, 18.0),
            (1.0, 20.0),
        ] {
            assert_eq!(point(&sorted, share), expected, "{share}");
        }
        // Between two draws the nearer one: 0.1 and 0.9 of 10 steps, 0.1 and 0.9 of 14 are 1.4 and 12.6.
        assert_eq!(
            (point(&sorted[..11], 0.1), point(&sorted[..11], 0.9)),
            (1.0, 9.0)
        );
        assert_eq!(
            (point(&sorted[..15], 0.1), point(&sorted[..15], 0.9)),
            (1.0, 13.0)
        );
        assert_eq!(point(&[7.0], 0.9), 7.0);
    }

    /// Laws with a slope to choose have that of the shipped curve between 18 and 30 °C, over all of these
    /// 12 K: Q10 by equal factors, so its root of 1.2 powers; Arrhenius by equal ones against 1/T.
    #[test]
    fn other_curves_are_as_steep() {
        let p = Parameters::shipped().unwrap();
        let rate = |p: &Parameters, t: f64| {
            let t = Temperature::celsius(t).unwrap();
            p.kinetics.gas().relative_rate(t).unwrap()
        };
        let ratio = rate(&p, 30.0) / rate(&p, 18.0);
        assert!(ratio > 1.5);
        let curves = other_curves(&p).unwrap();
        let of = |name: &str| &curves.iter().find(|(law, _)| *law == name).unwrap().1;
        for law in ["square-root", "q10", "arrhenius"] {
            let own = rate(of(law), 30.0) / rate(of(law), 18.0);
            assert!((own / ratio - 1.0).abs() < 1e-12, "{law}: {own} {ratio}");
        }
        let ten = rate(of("q10"), 28.0) / rate(of("q10"), 18.0);
        assert!((ten.powf(1.2) / ratio - 1.0).abs() < 1e-12);
        // Half way between 18 and 30 °C in 1/T: 2/(1/291.15 + 1/303.15) = 297.0288 K.
        let half = rate(
            of("arrhenius"),
            2.0 / (1.0 / 291.15 + 1.0 / 303.15) - 273.15,
        );
        let root = (rate(of("arrhenius"), 18.0) * rate(of("arrhenius"), 30.0)).sqrt();
        assert!((half / root - 1.0).abs() < 1e-12);
    }

    /// Bakes that teach as good as the same: the first one that was offered. One that cannot be made is an
    /// error, one that is ready too late none.
    #[test]
    fn of_equal_offers_the_first_is_proposed() {
        use crate::learn::fit::Offers;
        let l = learned(&OFF, Options::default());
        let doses = |fresh_percent: Vec<f64>| {
            let offers = Offers {
                fresh_percent,
                temperatures: vec![Temperature::celsius(22.0).unwrap()],
                kinds: vec![Kind::Poolish],
                ..Offers::default()
            };
            l.next_bake(&offers)
        };
        let (less, more) = (0.3, 0.3 * (1.0 + 1e-9));
        for pair in [vec![less, more], vec![more, less]] {
            let first = pair[0];
            let next = doses(pair).unwrap().unwrap();
            assert_eq!(next.fresh_percent, first);
        }
        assert!(doses(vec![0.3, 1000.0]).is_err());
        assert!(doses(vec![0.001]).unwrap().is_none());
    }

    /// Rows a quarter slower than forecast: the interval lies about what was learned, and the scatter of the
    /// rounds is that of the log. Where the log has told it, they are the same as with that scatter given.
    #[test]
    fn drawn_intervals_lie_about_the_value() {
        let late = OFF.map(|off| 0.25 + off);
        let own = learned(&late, Options::default());
        let given = learned(
            &late,
            Options {
                scatter: Some(own.scatter),
                ..Options::default()
            },
        );
        let drawn = own.bootstrap_intervals(60, 5).unwrap();
        for (a, b) in drawn.iter().zip(&given.bootstrap_intervals(60, 5).unwrap()) {
            assert!((a.low / b.low - 1.0).abs() < 1e-6, "{a:?} {b:?}");
            assert!((a.high / b.high - 1.0).abs() < 1e-6, "{a:?} {b:?}");
        }
        let level = own.estimates.iter().find(|e| e.name == NAMES[0]).unwrap();
        let interval = drawn.iter().find(|i| i.name == NAMES[0]).unwrap();
        let far = 1.281_55 * level.standard_error.unwrap();
        // Sixty draws know a 10 % point to a quarter of the deviation; twice that, and the middle's.
        for (end, way) in [(interval.low, -1.0), (interval.high, 1.0)] {
            let off = (end / level.value).ln() / far - way;
            assert!(off.abs() < 0.5, "{interval:?} {level:?}");
        }
    }

    /// The end of an interval is where the best of all others costs more by the square of the 90 % point; the
    /// scatter is that of the log all the way.
    #[test]
    fn a_profile_ends_where_it_costs_enough() {
        let l = learned(&OFF.map(|off| 0.25 + off), Options::default());
        let model = Model::new(&l.prior, &l.observations).unwrap();
        let options = Options {
            scatter: Some(l.scatter),
            ..l.options
        };
        let intervals = l.profile_intervals().unwrap();
        let level = intervals.iter().find(|i| i.name == NAMES[0]).unwrap();
        for end in [level.low, level.high] {
            let mut from = l.found.z;
            from[0] = (end / model.prior_value(0)).ln() / model.sd(0);
            let found = map_fit(&model.holding(0), options, from, [0.0; COUNT]).unwrap();
            let more = found.cost - l.found.cost;
            assert!(
                (more / student_90(l.found.freedom).powi(2) - 1.0).abs() < 1e-6,
                "{more}"
            );
        }
        assert!(level.low < l.estimates[0].value && l.estimates[0].value < level.high);
    }

    /// A law is scored by all rows in full, also where Huber's loss held one back in the fit.
    #[test]
    fn a_robust_fit_is_scored_by_all_its_rows() {
        let mut off = OFF;
        off[3] = 0.8;
        let l = learned(
            &off,
            Options {
                robust: true,
                ..Options::default()
            },
        );
        assert!(l.rows[3].weight < 0.5);
        let scores = l.compare_laws().unwrap();
        let own = scores.iter().find(|s| s.law == "square-root").unwrap();
        let model = Model::new(&l.prior, &l.observations).unwrap();
        let log_hours = model.log_hours(&l.found.z).unwrap();
        let width = l.scatter * (2.0 * std::f64::consts::PI).sqrt();
        let log_density = |(o, predicted): (&Observation, &f64)| {
            let e = (o.hours.ln() - predicted) / l.scatter;
            -0.5 * e * e - width.ln()
        };
        let sum: f64 = l.observations.iter().zip(&log_hours).map(log_density).sum();
        assert!(
            (own.log_likelihood - sum).abs() < 1e-7,
            "{} {sum}",
            own.log_likelihood
        );
    }
}
