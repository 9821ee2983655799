//! The most probable parameters (maximum a posteriori), and what a row adds to the sum.

use super::model::{COUNT, JOINT, Joint, Model, Square};
use super::{FARTHEST, Options, USUAL_SCATTER};
use crate::error::{Error, Result};
use crate::learn::engine::{BOLD, Fit, Termination, levenberg_marquardt};
use crate::learn::log::Seen;
use crate::learn::normal::{log_cdf, log_cdf_slope};
use crate::numeric;
use nalgebra::{SMatrix, SVector};
use std::cell::RefCell;

/// Rows that the usual scatter weighs, by judgement.
const SCATTER_ROWS: f64 = 8.0;
/// Standard deviations up to which a row counts in full with Huber's loss: 95 % efficient on normal
/// data (P. Huber 1964).
const HUBER: f64 = 1.345;
/// Mean of the square of Huber's bounded residual under the normal distribution, for 1.345.
const HUBER_SQUARE: f64 = 0.710_164;
/// The scatter is settled when the rows ask for one that differs by less than this share: single times scatter
/// by a tenth.
const SETTLED: f64 = 1e-8;
/// The search has arrived where the slope of the cost asks for no longer step, in prior deviations.
const NEAR: f64 = 1e-4;
/// A start at a limit would have no slope; it is moved in by this share of the range.
const INSIDE: f64 = 1e-3;

/// What rows and prior say at one place: at the end of a fit, its solution.
#[derive(Debug, Clone)]
pub(super) struct MapFit {
    pub z: [f64; COUNT],
    pub log_hours: Vec<f64>,
    /// Inverse of the information of rows and prior; nothing for what is held.
    pub covariance: Square,
    /// The same with cap and lag as uncertain as they were: with the information `I` of rows and prior, the learnt
    /// parameters `a` move by `D = -C I_ab` with these two, `b`; so they covary by `D R_bb`, and `C` grows by
    /// `D R_bb D'`.
    pub joint: Joint,
    /// The move to where the slope of the cost would vanish: nothing at a minimum, but not where the search ends
    /// beside a place in which a dough is never ready.
    step: SVector<f64, COUNT>,
    /// Minus twice the logarithm of the posterior, up to a constant.
    pub cost: f64,
    /// The scatter that the ripe rows and the usual one make together, and its degrees of freedom.
    pub scatter: f64,
    pub freedom: f64,
    pub stop: Termination,
}

/// The fit, beginning at `from`. The parameters depend on the scatter and the scatter on what they leave; the
/// fit is repeated until both agree. What the model holds stays as in `from`.
pub(super) fn map_fit(
    model: &Model<'_>,
    options: Options,
    from: [f64; COUNT],
    centre: [f64; COUNT],
) -> Result<MapFit> {
    let mut z = from;
    let mut found = None;
    let usual = options.scatter.unwrap_or(USUAL_SCATTER);
    let met = numeric::meet(usual.ln(), |log_scatter| {
        let scatter = log_scatter.exp();
        let cost = Cost {
            model,
            options,
            scatter,
            centre,
        };
        let (next, stop) = cost.minimise(&z);
        let here = cost.refined(next, stop).ok_or_else(|| {
            Error::contradiction("the learned parameters leave their ranges; check the log")
        })?;
        let miss = (scatter / here.scatter).ln();
        z = here.z;
        found = Some(MapFit { scatter, ..here });
        let met = options.scatter.is_some() || miss.abs() < SETTLED;
        Ok::<_, Error>(if met { 0.0 } else { miss })
    })?;
    let mut found =
        found.ok_or_else(|| Error::contradiction("the times of this log have no slope here"))?;
    let at_rest = met.is_some() && found.step.amax() < NEAR;
    if !at_rest && z.iter().all(|z| z.abs() < FARTHEST - 1e-3) {
        found.stop = Termination::OutOfSteps;
    }
    if options.scatter.is_some() {
        found.freedom = f64::INFINITY;
    }
    Ok(found)
}

/// Minus twice the logarithm of the posterior for one scatter, about a centre of the prior.
struct Cost<'m> {
    model: &'m Model<'m>,
    options: Options,
    scatter: f64,
    centre: [f64; COUNT],
}

impl Cost<'_> {
    fn rows(&self, log_hours: &[f64]) -> Vec<Residual> {
        residuals(self.model, self.options, self.scatter, log_hours)
    }

    /// Gauss-Newton steps for the last digits, in which the sum of squares is flat: as long as each is a fraction
    /// of the one before.
    fn refined(&self, z: [f64; COUNT], stop: Termination) -> Option<MapFit> {
        let mut here = self.posterior(z, stop)?;
        while (SETTLED..NEAR).contains(&here.step.amax()) {
            let next = std::array::from_fn(|j| here.z[j] + here.step[j]);
            let there = self.posterior(next, stop);
            let Some(there) = there.filter(|p| p.step.amax() < 0.5 * here.step.amax()) else {
                break;
            };
            here = there;
        }
        Some(here)
    }

    fn posterior(&self, z: [f64; COUNT], stop: Termination) -> Option<MapFit> {
        let (model, scatter) = (self.model, self.scatter);
        const REST: usize = JOINT - COUNT;
        let log_hours = model.log_hours(&z)?;
        let gradients = model.slopes(&z, &log_hours, JOINT)?;
        let mut information = *model.precision();
        let off = SVector::from(z) - SVector::from(self.centre);
        let mut slope = information.fixed_view::<COUNT, COUNT>(0, 0) * off;
        let mut of_ripe = Joint::zeros();
        let (mut cost, mut count, mut squares) = (0.0, 0.0, 0.0);
        let rows = self.rows(&log_hours);
        for (i, (row, g)) in rows.iter().zip(&gradients).enumerate() {
            let g = SVector::from(*g);
            let term = g * g.transpose() * row.information;
            cost += row.value * row.value;
            information += term;
            slope += g.fixed_rows::<COUNT>(0) * (row.value * row.slope);
            if model.seen(i) == Seen::Ready {
                let e = model.log_seen(i) - log_hours[i];
                of_ripe += term;
                count += 1.0;
                squares += if self.options.robust {
                    e.clamp(-HUBER * scatter, HUBER * scatter).powi(2) / HUBER_SQUARE
                } else {
                    e * e
                };
            }
        }
        // What is held neither moves nor lets others move.
        let held = || (0..COUNT).filter(|&j| !model.is_free(j));
        for j in held() {
            information.row_mut(j).fill(0.0);
            information.column_mut(j).fill(0.0);
            information[(j, j)] = 1.0;
            of_ripe.row_mut(j).fill(0.0);
            slope[j] = 0.0;
        }
        let learnt: Square = information.fixed_view::<COUNT, COUNT>(0, 0).into();
        let mut covariance = learnt.cholesky()?.inverse();
        let paid = (covariance * of_ripe.fixed_view::<COUNT, COUNT>(0, 0)).trace();
        held().for_each(|j| covariance[(j, j)] = 0.0);
        let mut moves = SMatrix::<f64, JOINT, REST>::zeros();
        let with_rest = -covariance * information.fixed_view::<COUNT, REST>(0, COUNT);
        moves.fixed_rows_mut::<COUNT>(0).copy_from(&with_rest);
        moves.fixed_rows_mut::<REST>(COUNT).fill_with_identity();
        let rest = model.correlations();
        let mut joint = moves * rest.fixed_view::<REST, REST>(COUNT, COUNT) * moves.transpose();
        let mut block = joint.fixed_view_mut::<COUNT, COUNT>(0, 0);
        block += covariance;
        let freedom = SCATTER_ROWS + (count - paid).max(0.0);
        let usual = SCATTER_ROWS * USUAL_SCATTER * USUAL_SCATTER;
        Some(MapFit {
            z,
            log_hours,
            covariance,
            joint,
            step: -covariance * slope,
            cost: cost + model.parted(&off.into()).iter().map(|d| d * d).sum::<f64>(),
            scatter: ((usual + squares) / freedom).sqrt(),
            freedom,
            stop,
        })
    }

    /// The most probable values of the free parameters, the others as in `from`. The search goes in `u`,
    /// `z = FARTHEST sin u`, so that no parameter leaves its limits.
    fn minimise(&self, from: &[f64; COUNT]) -> ([f64; COUNT], Termination) {
        let model = self.model;
        let free: Vec<usize> = (0..COUNT).filter(|&j| model.is_free(j)).collect();
        let (rows, n) = (model.len(), free.len());
        if n == 0 {
            return (*from, Termination::Converged);
        }
        let all = |u: &[f64]| {
            let mut z = *from;
            for (&j, u) in free.iter().zip(u) {
                z[j] = FARTHEST * u.sin();
            }
            z
        };
        // The Jacobian is asked for where the residuals were asked last.
        let last = RefCell::new(([f64::NAN; COUNT], None));
        let hours_at = |z: &[f64; COUNT]| -> Option<Vec<f64>> {
            if last.borrow().0 != *z {
                last.replace((*z, model.log_hours(z)));
            }
            last.borrow().1.clone()
        };
        let fit = Fit::new(rows + COUNT, |u, out| {
            let z = all(u);
            let Some(hours) = hours_at(&z) else {
                return out.fill(f64::NAN);
            };
            let of_rows = self.rows(&hours);
            let prior = model.parted(&std::array::from_fn(|j| z[j] - self.centre[j]));
            let values = of_rows.iter().map(|r| r.value).chain(prior);
            for (out, value) in out.iter_mut().zip(values) {
                *out = value;
            }
        })
        .with_jacobian(|u, out| {
            let z = all(u);
            let hours = hours_at(&z);
            let slopes = hours.and_then(|hours| Some((model.slopes(&z, &hours, COUNT)?, hours)));
            let Some((slopes, hours)) = slopes else {
                return out.fill(f64::NAN);
            };
            let of_rows = self.rows(&hours);
            for (i, out) in out.chunks_exact_mut(n).enumerate() {
                for ((out, &j), u) in out.iter_mut().zip(&free).zip(u) {
                    let by_z = match of_rows.get(i) {
                        Some(row) => row.slope * slopes[i][j],
                        None => model.part(i - rows, j),
                    };
                    *out = by_z * FARTHEST * u.cos();
                }
            }
        });
        let inward = |&j: &usize| {
            let most = 1.0 - 2.0 * INSIDE;
            (from[j] / FARTHEST).clamp(-most, most).asin()
        };
        let start: Vec<f64> = free.iter().map(inward).collect();
        let found = levenberg_marquardt(&fit, &start, BOLD);
        (all(found.x.as_slice()), found.stop)
    }
}

/// What a row adds to the fit.
pub(super) struct Residual {
    /// Its square is minus twice the log likelihood.
    pub value: f64,
    /// Slope against the predicted log time.
    pub slope: f64,
    /// Information of the row on the log time: the curvature of half the square, save under Huber's loss.
    pub information: f64,
    /// 1, or less where Huber's loss holds it back.
    pub weight: f64,
}

pub(super) fn residual(
    seen: Seen,
    log_seen: f64,
    log_hours: f64,
    scatter: f64,
    options: Options,
) -> Residual {
    let e = (log_seen - log_hours) / scatter;
    let precision = 1.0 / (scatter * scatter);
    let (value, slope, weight, information) = match seen {
        Seen::Ready if options.robust && e.abs() > HUBER => {
            let value = (2.0 * HUBER * e.abs() - HUBER * HUBER).sqrt();
            let weight = HUBER / e.abs();
            let slope = -HUBER / (value * scatter);
            (value.copysign(e), slope, weight, weight * precision)
        }
        Seen::Ready => (e, -1.0 / scatter, 1.0, precision),
        Seen::NotYet | Seen::Past => {
            let sign = if seen == Seen::NotYet { 1.0 } else { -1.0 };
            let margin = -sign * e;
            let value = (-2.0 * log_cdf(margin)).max(0.0).sqrt();
            let by_margin = log_cdf_slope(margin);
            let slope = if value > 0.0 {
                -sign * by_margin / (value * scatter)
            } else {
                0.0
            };
            let bend = (by_margin * (by_margin + margin)).max(0.0);
            (value, slope, 1.0, bend * precision)
        }
    };
    Residual {
        value,
        slope,
        information,
        weight,
    }
}

pub(super) fn residuals(
    model: &Model<'_>,
    options: Options,
    scatter: f64,
    log_hours: &[f64],
) -> Vec<Residual> {
    let of = |(i, hours): (usize, &f64)| {
        residual(model.seen(i), model.log_seen(i), *hours, scatter, options)
    };
    log_hours.iter().enumerate().map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::super::model::tests::{bake, learned_together};
    use super::*;
    use crate::ferment::{Kind, Parameters, Rates};
    use crate::learn::log::Observation;
    use crate::learn::normal::log_cdf;

    fn observation(kind: Kind, celsius: f64, percent: f64, hours: f64, seen: Seen) -> Observation {
        Observation {
            line: 0,
            bake: bake(kind, celsius, percent),
            hours,
            seen,
        }
    }

    /// Ripe rows beside and on what the model says, one far off, and some of one side.
    fn rows() -> Vec<Observation> {
        use Kind::{Biga, Dough, Poolish};
        use Seen::{NotYet, Past, Ready};
        [
            (Poolish, 18.0, 0.3, 14.0, Ready),
            (Poolish, 24.0, 0.3, 8.5, Ready),
            (Poolish, 21.0, 0.5, 9.0, NotYet),
            (Dough, 25.0, 1.5, 1.7, Ready),
            (Dough, 22.0, 1.5, 3.0, Ready),
            (Dough, 27.0, 2.0, 2.2, Ready),
            (Biga, 18.0, 1.0, 14.0, Past),
        ]
        .map(|(kind, celsius, percent, hours, seen)| {
            observation(kind, celsius, percent, hours, seen)
        })
        .to_vec()
    }

    /// Half a square, slope and curvature of what a row costs, by the likelihood in the documentation.
    #[test]
    fn a_row_adds_its_likelihood() {
        let (s, log_seen) = (0.13, 2.0);
        for robust in [false, true] {
            let options = if robust {
                Options {
                    robust: true,
                    ..Options::default()
                }
            } else {
                Options::default()
            };
            for seen in [Seen::Ready, Seen::NotYet, Seen::Past] {
                for e in [-4.0, -2.0, -1.2, -0.3, 0.4, 1.3, 1.5, 3.5] {
                    let predicted = log_seen - s * e;
                    let at = |log_hours: f64| residual(seen, log_seen, log_hours, s, options);
                    let bounded = robust && f64::abs(e) > 1.345;
                    let cost = match seen {
                        // It takes longer, or it took less.
                        Seen::NotYet => -2.0 * log_cdf(-e),
                        Seen::Past => -2.0 * log_cdf(e),
                        Seen::Ready if bounded => 1.345 * (2.0 * f64::abs(e) - 1.345),
                        Seen::Ready => e * e,
                    };
                    let row = at(predicted);
                    let case = format!("{seen:?} {e} {robust}");
                    assert!(
                        (row.value.powi(2) - cost).abs() < 1e-12 * (1.0 + cost),
                        "{case}"
                    );
                    let h = 1e-4 * s;
                    let (low, high) = (at(predicted - h), at(predicted + h));
                    let slope = (high.value - low.value) / (2.0 * h);
                    assert!((row.slope / slope - 1.0).abs() < 1e-5, "{case}");
                    let half = |r: &Residual| 0.5 * r.value * r.value;
                    let bend = (half(&high) - 2.0 * half(&row) + half(&low)) / (h * h);
                    if seen == Seen::Ready && bounded {
                        // Such a row bends nothing; it informs by its weight.
                        assert!(bend.abs() < 1e-3 / (s * s), "{case}");
                        assert!((row.weight - 1.345 / e.abs()).abs() < 1e-12);
                        assert!((row.information * s * s - row.weight).abs() < 1e-12);
                    } else {
                        assert_eq!(row.weight, 1.0);
                        assert!((row.information - bend).abs() < 1e-4 / (s * s), "{case}");
                    }
                }
            }
        }
    }

    /// A side that is as good as certain neither costs nor pulls.
    #[test]
    fn what_is_certain_anyway_says_nothing() {
        let row = residual(Seen::NotYet, 0.0, 9.0, 0.1, Options::default());
        assert_eq!((row.value, row.slope, row.information), (0.0, 0.0, 0.0));
    }

    /// What is found is a minimum of minus twice the log posterior, written down anew: its slope vanishes,
    /// and every way from it goes up. The covariance is the inverse of the information, and the scatter
    /// that of the formula in the documentation.
    #[test]
    fn the_most_probable_is_a_minimum_of_what_it_costs() {
        let rows = rows();
        let centre = [0.4, -0.2, 0.1, 0.3, -0.5, 0.2];
        for prior in [Parameters::shipped().unwrap(), learned_together()] {
            let model = Model::new(&prior, &rows).unwrap();
            for options in [
                Options::default(),
                Options {
                    robust: true,
                    ..Options::default()
                },
                Options {
                    scatter: Some(0.07),
                    ..Options::default()
                },
            ] {
                let found = map_fit(&model, options, [0.0; COUNT], centre).unwrap();
                let s = found.scatter;
                assert!(
                    found.stop.converged(),
                    "{options:?} {:?} {:?} {s}",
                    found.z,
                    found.log_hours
                );
                let cost = |z: &[f64; COUNT]| {
                    let mut sum = 0.0;
                    for (i, log_hours) in model.log_hours(z).unwrap().into_iter().enumerate() {
                        let e = (rows[i].hours.ln() - log_hours) / s;
                        sum += match rows[i].seen {
                            Seen::NotYet => -2.0 * log_cdf(-e),
                            Seen::Past => -2.0 * log_cdf(e),
                            Seen::Ready if options.robust && e.abs() > 1.345 => {
                                1.345 * (2.0 * e.abs() - 1.345)
                            }
                            Seen::Ready => e * e,
                        };
                    }
                    for a in 0..COUNT {
                        for b in 0..COUNT {
                            let both = (z[a] - centre[a]) * (z[b] - centre[b]);
                            sum += model.precision()[(a, b)] * both;
                        }
                    }
                    sum
                };
                let least = cost(&found.z);
                assert!((found.cost - least).abs() < 1e-9 * least);
                for j in 0..COUNT {
                    let moved = |by: f64| {
                        let mut z = found.z;
                        z[j] += by;
                        cost(&z)
                    };
                    let (low, high) = (moved(-1e-3), moved(1e-3));
                    if model.is_free(j) {
                        assert!(low > least && high > least);
                        // Bends of the third order leave 1e-6 of the curvature.
                        assert!(
                            ((high - low) / 2e-3).abs() < 1e-3,
                            "{j}: {}",
                            (high - low) / 2e-3
                        );
                    }
                }
                check_posterior(&model, &rows, options, &found);
            }
        }
    }

    fn check_posterior(model: &Model<'_>, rows: &[Observation], options: Options, found: &MapFit) {
        let gradients = model.slopes(&found.z, &found.log_hours, COUNT).unwrap();
        let s = found.scatter;
        let mut information = [[0.0; COUNT]; COUNT];
        let (mut squares, mut paid, mut ripe) = (0.0, 0.0, 0.0);
        for (i, g) in gradients.iter().enumerate() {
            let e = (rows[i].hours.ln() - found.log_hours[i]) / s;
            let row = residual(
                rows[i].seen,
                rows[i].hours.ln(),
                found.log_hours[i],
                s,
                options,
            );
            for a in 0..COUNT {
                for b in 0..COUNT {
                    let term = row.information * g[a] * g[b];
                    information[a][b] += term;
                    if rows[i].seen == Seen::Ready {
                        paid += term * found.covariance[(a, b)];
                    }
                }
            }
            if rows[i].seen == Seen::Ready {
                ripe += 1.0;
                squares += s
                    * s
                    * if options.robust {
                        // The mean of this bounded square under the normal distribution is 0.7102.
                        e.abs().min(1.345).powi(2) / 0.710_16
                    } else {
                        e * e
                    };
            }
        }
        for a in 0..COUNT {
            for (b, row) in information.iter().enumerate() {
                let unit: f64 = (0..COUNT)
                    .map(|c| found.covariance[(a, c)] * (row[c] + model.precision()[(b, c)]))
                    .sum();
                assert!((unit - f64::from(u8::from(a == b))).abs() < 1e-8);
            }
        }
        if options.scatter.is_none() {
            let freedom = 8.0 + ripe - paid;
            assert!((found.freedom - freedom).abs() < 1e-6);
            let wanted = (8.0 * 0.01 + squares) / freedom;
            assert!((s * s / wanted - 1.0).abs() < 1e-5);
        } else {
            assert_eq!((s, found.freedom), (0.07, f64::INFINITY));
        }
    }

    /// What is held stays, and has no error.
    #[test]
    fn a_parameter_that_is_held_stays() {
        let prior = Parameters::shipped().unwrap();
        let rows = rows();
        let held = Model::new(&prior, &rows).unwrap().holding(1);
        let from = [0.0, 0.8, 0.0, 0.0, 0.0, 0.0];
        let found = map_fit(&held, Options::default(), from, [0.0; COUNT]).unwrap();
        assert_eq!(found.z[1], 0.8);
        assert!(
            (0..COUNT).all(|j| found.covariance[(1, j)] == 0.0 && found.covariance[(j, 1)] == 0.0)
        );
        assert!(found.z[0] != 0.0 && found.covariance[(0, 0)] > 0.0);
    }

    /// How what is learned goes with cap and lag: learned anew with each of them a little larger, the prior
    /// of the others moved to what it is then.
    #[test]
    fn cap_and_lag_move_what_is_learned() {
        let scatter = 0.1;
        let options = Options {
            scatter: Some(scatter),
            ..Options::default()
        };
        for prior in [Parameters::shipped().unwrap(), learned_together()] {
            // Seen as forecast, so that nothing is left over that would bend.
            let mut rows: Vec<Observation> = rows()
                .into_iter()
                .filter(|r| r.seen == Seen::Ready)
                .collect();
            let log_hours = {
                let model = Model::new(&prior, &rows).unwrap();
                model.log_hours(&[0.0; COUNT]).unwrap()
            };
            for (row, log_hours) in rows.iter_mut().zip(&log_hours) {
                row.hours = log_hours.exp();
            }
            let model = Model::new(&prior, &rows).unwrap();
            let found = map_fit(&model, options, [0.0; COUNT], [0.0; COUNT]).unwrap();
            let r = |a: usize, b: usize| model.correlations()[(a, b)];
            let [cap, lag] = [COUNT, COUNT + 1];
            let both = 1.0 - r(cap, lag).powi(2);
            let h = 1e-2;
            let along = |which: usize, by: f64| {
                let rates = prior.kinetics.rates();
                let moved = if which == cap {
                    Rates {
                        growth_cap: rates.growth_cap * (by * prior.spread.growth_cap).exp(),
                        ..rates
                    }
                } else {
                    Rates {
                        lag27_h: rates.lag27_h * (by * prior.spread.lag).exp(),
                        ..rates
                    }
                };
                let moved = prior.with_rates(moved).unwrap();
                let other = cap + lag - which;
                let centre =
                    std::array::from_fn(|a| by * (r(a, which) - r(a, other) * r(cap, lag)) / both);
                let model = Model::new(&moved, &rows).unwrap();
                map_fit(&model, options, [0.0; COUNT], centre).unwrap().z
            };
            let slope = |which: usize| {
                let (low, high) = (along(which, -h), along(which, h));
                std::array::from_fn::<f64, COUNT, _>(|a| (high[a] - low[a]) / (2.0 * h))
            };
            let d = [slope(cap), slope(lag)];
            let close = |a: f64, b: f64| (a - b).abs() < 2e-3;
            for a in 0..COUNT {
                let with = |k: usize| d[0][a] * r(cap, COUNT + k) + d[1][a] * r(lag, COUNT + k);
                for k in 0..2 {
                    assert!(close(found.joint[(a, COUNT + k)], with(k)), "{a} {k}");
                    assert_eq!(found.joint[(a, COUNT + k)], found.joint[(COUNT + k, a)]);
                }
                for (b, (of_cap, of_lag)) in d[0].iter().zip(&d[1]).enumerate() {
                    let more = with(0) * of_cap + with(1) * of_lag;
                    let wanted = found.covariance[(a, b)] + more;
                    assert!(close(found.joint[(a, b)], wanted), "{a} {b}");
                }
            }
            assert_eq!(found.joint[(cap, lag)], r(cap, lag));
            assert_eq!(found.joint[(lag, lag)], 1.0);
            assert!(d[0].iter().chain(&d[1]).any(|x| x.abs() > 0.05), "{d:?}");
        }
    }

    /// Rows that are certain anyway leave the prior alone: the search ends at its centre, and what is not free
    /// where it began.
    #[test]
    fn without_a_say_of_the_rows_the_centre_is_found() {
        let early = [observation(Kind::Poolish, 18.0, 0.1, 0.2, Seen::NotYet)];
        let centre = [0.5, -1.5, 0.25, 1.0, -0.75, 0.4];
        fn cost<'m>(model: &'m Model<'m>, options: Options) -> Cost<'m> {
            Cost {
                model,
                options,
                scatter: 0.1,
                centre: [0.5, -1.5, 0.25, 1.0, -0.75, 0.4],
            }
        }
        let from = [0.1, 0.2, 0.3, -0.4, 0.0, 0.6];
        for prior in [Parameters::shipped().unwrap(), learned_together()] {
            let model = Model::new(&prior, &early).unwrap();
            let options = Options::default();
            let (z, stop) = cost(&model, options).minimise(&from);
            assert!(stop.converged());
            for (z, centre) in z.iter().zip(centre) {
                assert!((z - centre).abs() < 0.01, "{z} {centre}");
            }
        }
        // Nothing goes with anything as shipped: what is free goes to its centre alone.
        let prior = Parameters::shipped().unwrap();
        let model = Model::new(&prior, &early).unwrap().holding(1);
        let (z, _) = cost(&model, Options::default()).minimise(&from);
        for j in 0..COUNT {
            let wanted = if j == 1 { from[j] } else { centre[j] };
            assert!((z[j] - wanted).abs() < 1e-6, "{j}: {}", z[j]);
        }
    }

    /// Rows that ask for more than six deviations get six, and no more.
    #[test]
    fn nothing_goes_farther_than_it_may() {
        let prior = Parameters::shipped().unwrap();
        let model_rows = |factor: f64| -> Vec<Observation> {
            [16.0, 20.0, 24.0, 28.0]
                .map(|t| {
                    let row = observation(Kind::Poolish, t, 0.3, 10.0, Seen::Ready);
                    let course = row.bake.place.course().unwrap();
                    let hours = row.bake.stage().ready(&prior, &course).unwrap().hours;
                    Observation {
                        hours: hours * factor,
                        ..row.clone()
                    }
                })
                .to_vec()
        };
        let options = Options {
            scatter: Some(0.01),
            ..Options::default()
        };
        for factor in [0.2, 0.3] {
            let rows = model_rows(factor);
            let model = Model::new(&prior, &rows).unwrap();
            let found = map_fit(&model, options, [0.0; COUNT], [0.0; COUNT]).unwrap();
            let farthest = found.z.iter().map(|z| z.abs()).fold(0.0, f64::max);
            assert!((5.99..=6.0 + 1e-9).contains(&farthest), "{:?}", found.z);
            // That is where it has to stop, and not a search cut short.
            assert!(found.stop.converged(), "{factor}");
        }
    }

    /// From wherever the search begins it ends at the same place, as far as the sum of squares can tell: it is flat
    /// to its last bits within 1e-7 of a prior deviation, a millionth of what single times scatter by.
    #[test]
    fn the_start_does_not_matter() {
        let rows = rows();
        for prior in [Parameters::shipped().unwrap(), learned_together()] {
            let model = Model::new(&prior, &rows).unwrap();
            for options in [
                Options::default(),
                Options {
                    robust: true,
                    ..Options::default()
                },
                Options {
                    scatter: Some(0.07),
                    ..Options::default()
                },
                Options {
                    scatter: Some(0.2),
                    ..Options::default()
                },
            ] {
                let centre = [0.4, -0.2, 0.1, 0.3, -0.5, 0.2];
                let a = map_fit(&model, options, [0.0; COUNT], centre).unwrap();
                let b = map_fit(&model, options, [1.0, 0.5, 0.0, -1.0, 0.8, -0.6], centre).unwrap();
                for (a, b) in a.z.iter().zip(b.z) {
                    assert!((a - b).abs() < 1e-6, "{options:?}: {a} {b}");
                }
                assert!((a.scatter / b.scatter - 1.0).abs() < 1e-6);
            }
        }
    }
}
