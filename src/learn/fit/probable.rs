//! The most probable parameters: the search, its last digits, and what a row adds to the sum.

use super::model::{COUNT, JOINT, Model, NAMES};
use super::{FARTHEST, Options, USUAL_SCATTER};
use crate::error::{Error, Result};
use crate::learn::engine::{self, Fit, Parameter, Stop};
use crate::learn::log::Seen;
use crate::numeric;
use std::cell::RefCell;

/// Rows that the usual scatter weighs, by judgement.
const SCATTER_ROWS: f64 = 8.0;
/// Standard deviations up to which a row counts in full with Huber's loss: 95 % efficient on normal
/// data (P. Huber 1964).
const HUBER: f64 = 1.345;
/// Mean of the square of Huber's bounded residual under the normal distribution, for 1.345.
const HUBER_SQUARE: f64 = 0.710_164;
/// Most steps of the last digits.
const ROUNDS: usize = 80;
/// Parameters (in prior deviations) and scatter (in logarithm) are settled when they move less.
const SETTLED: f64 = 1e-10;
/// How near the engine has to come before that.
const NEAR: f64 = 1e-4;

/// The solution of one fit.
pub(super) struct Found {
    pub z: [f64; COUNT],
    pub covariance: Vec<Vec<f64>>,
    /// The same with cap and lag as uncertain as before.
    pub joint: Vec<Vec<f64>>,
    pub scatter: f64,
    pub freedom: f64,
    pub cost: f64,
    pub stop: Stop,
    pub log_hours: Vec<f64>,
}

/// The fit, beginning at `from`: the engine finds the place, and the last digits of parameters and scatter
/// follow together. What the model holds stays as in `from`.
pub(super) fn most_probable(
    model: &Model<'_>,
    options: Options,
    from: [f64; COUNT],
    centre: [f64; COUNT],
) -> Result<Found> {
    let mut scatter = options.scatter.unwrap_or(USUAL_SCATTER);
    let (mut z, mut stop) = for_scatter(model, options, scatter, &from, &centre)?;
    let mut at = View::look(model, options, scatter, &z);
    // Parameters and the logarithm of the scatter settle together: each view says where both should go.
    // Newton's step leaves out how the slopes bend, so that it may overshoot; the secant learns that on
    // the way. What runs away is taken back to the engine.
    let mut secant = numeric::Secant::new();
    let mut last = [f64::INFINITY; 2];
    let mut settled = false;
    let mut seen = (from, scatter);
    for _ in 0..ROUNDS {
        let Some(here) = &at else {
            // Beyond some place such a dough is never ready: back to the last that could be seen.
            (z, scatter) = seen;
            break;
        };
        seen = (z, scatter);
        let mut wanted = [0.0; COUNT + 1];
        wanted[..COUNT].copy_from_slice(&here.step(model, &z, &centre));
        wanted[COUNT] = options
            .scatter
            .map_or((here.scatter / scatter).ln(), |_| 0.0);
        let moved = wanted.iter().map(|w| w.abs()).fold(0.0, f64::max);
        // What the differences in the slopes leave may be a little above that, and no longer falls.
        if moved < SETTLED || (moved < 100.0 * SETTLED && moved >= last[0]) {
            settled = true;
            break;
        }
        let step = secant.step(&wanted);
        let next: [f64; COUNT] = std::array::from_fn(|j| z[j] + step[j]);
        let near = moved < 10.0 * last[1] && next.iter().all(|z| z.abs() < FARTHEST);
        if near && step[COUNT].abs() < 1.0 {
            z = next;
            scatter *= step[COUNT].exp();
        } else {
            secant = numeric::Secant::new();
            scatter *= wanted[COUNT].exp();
            (z, stop) = for_scatter(model, options, scatter, &z, &centre)?;
        }
        last = [last[1], moved];
        at = View::look(model, options, scatter, &z);
    }
    let Some(here) = at.or_else(|| View::look(model, options, scatter, &z)) else {
        return Err(Error::contradiction(
            "the learned parameters leave their ranges; check the rows of the log",
        ));
    };
    if !settled && stop == Stop::Converged && z.iter().all(|z| z.abs() < FARTHEST - 1e-3) {
        stop = Stop::OutOfSteps;
    }
    let prior = prior_cost(model, &z, &centre);
    let mut covariance = here.covariance;
    for j in (0..COUNT).filter(|&j| !model.is_free(j)) {
        covariance[j].fill(0.0);
        covariance.iter_mut().for_each(|row| row[j] = 0.0);
    }
    Ok(Found {
        joint: joint(model, options, scatter, &z, &here.log_hours, &covariance)
            .ok_or_else(|| Error::contradiction("the times of this log have no slope here"))?,
        z,
        covariance,
        scatter,
        freedom: if options.scatter.is_some() {
            f64::INFINITY
        } else {
            here.freedom
        },
        cost: here.rows_cost + prior,
        stop,
        log_hours: here.log_hours,
    })
}

/// The fit as it looks from one place.
struct View {
    log_hours: Vec<f64>,
    /// Slope of half the cost of the rows.
    slope: [f64; COUNT],
    /// Inverse of the information of rows and prior.
    covariance: Vec<Vec<f64>>,
    /// Inverse of the curvature of half the cost: a row held back by Huber's loss bends it no more, but
    /// still informs.
    newton: Vec<Vec<f64>>,
    rows_cost: f64,
    /// The scatter that the ripe rows and the usual one make together, and its degrees of freedom.
    scatter: f64,
    freedom: f64,
}

impl View {
    fn look(model: &Model<'_>, options: Options, scatter: f64, z: &[f64; COUNT]) -> Option<Self> {
        let log_hours = model.log_hours(z)?;
        let gradients = model.gradients(z, &log_hours)?;
        let mut slope = [0.0; COUNT];
        let mut information = vec![vec![0.0; COUNT]; COUNT];
        let mut of_ripe = information.clone();
        let mut curvature = information.clone();
        let (mut rows_cost, mut count, mut squares) = (0.0, 0.0, 0.0);
        for (i, g) in gradients.iter().enumerate() {
            let row = residual(
                model.seen(i),
                model.log_seen(i),
                log_hours[i],
                scatter,
                options,
            );
            let is_ripe = model.seen(i) == Seen::Ready;
            rows_cost += row.value * row.value;
            for a in 0..COUNT {
                slope[a] += row.value * row.slope * g[a];
                for b in 0..COUNT {
                    let term = row.information * g[a] * g[b];
                    information[a][b] += term;
                    if row.weight == 1.0 {
                        curvature[a][b] += term;
                    }
                    if is_ripe {
                        of_ripe[a][b] += term;
                    }
                }
            }
            if is_ripe {
                let e = model.log_seen(i) - log_hours[i];
                count += 1.0;
                squares += if options.robust {
                    e.clamp(-HUBER * scatter, HUBER * scatter).powi(2) / HUBER_SQUARE
                } else {
                    e * e
                };
            }
        }
        for a in 0..COUNT {
            for b in 0..COUNT {
                information[a][b] += model.precision()[a][b];
                curvature[a][b] += model.precision()[a][b];
            }
        }
        // What is held neither moves nor lets others move.
        let free: Vec<usize> = (0..COUNT).filter(|&j| model.is_free(j)).collect();
        for matrix in [&mut information, &mut curvature] {
            for j in (0..COUNT).filter(|&j| !model.is_free(j)) {
                matrix[j].fill(0.0);
                matrix.iter_mut().for_each(|row| row[j] = 0.0);
                matrix[j][j] = 1.0;
            }
        }
        let covariance = engine::inverse(&information);
        let paid: f64 = free
            .iter()
            .map(|&a| {
                free.iter()
                    .map(|&b| covariance[a][b] * of_ripe[b][a])
                    .sum::<f64>()
            })
            .sum();
        let freedom = SCATTER_ROWS + (count - paid).max(0.0);
        let usual = SCATTER_ROWS * USUAL_SCATTER * USUAL_SCATTER;
        Some(Self {
            log_hours,
            slope,
            covariance,
            newton: engine::inverse(&curvature),
            rows_cost,
            scatter: ((usual + squares) / freedom).sqrt(),
            freedom,
        })
    }

    /// Newton's step toward the most probable parameters.
    fn step(&self, model: &Model<'_>, z: &[f64; COUNT], centre: &[f64; COUNT]) -> [f64; COUNT] {
        let precision = model.precision();
        let prior: [f64; COUNT] = std::array::from_fn(|a| {
            (0..COUNT)
                .map(|b| precision[a][b] * (z[b] - centre[b]))
                .sum()
        });
        std::array::from_fn(|a| {
            if !model.is_free(a) {
                return 0.0;
            }
            -(0..COUNT)
                .map(|b| self.newton[a][b] * (self.slope[b] + prior[b]))
                .sum::<f64>()
        })
    }
}

/// The covariance with cap and lag as uncertain as they were: with the information `I` of rows and prior, the
/// learnt parameters `a` move by `D = -C I_ab` with these two, `b`; so they covary by `D R_bb`, and
/// `C` grows by `D R_bb D'`.
fn joint(
    model: &Model<'_>,
    options: Options,
    scatter: f64,
    z: &[f64; COUNT],
    log_hours: &[f64],
    covariance: &[Vec<f64>],
) -> Option<Vec<Vec<f64>>> {
    let mut information = *model.precision();
    let gradients = model.joint_gradients(z, log_hours)?;
    for (row, g) in residuals(model, options, scatter, log_hours)
        .iter()
        .zip(&gradients)
    {
        for a in 0..COUNT {
            for b in COUNT..JOINT {
                information[a][b] += row.information * g[a] * g[b];
            }
        }
    }
    let rest = |a: usize, b: usize| model.correlation(COUNT + a, COUNT + b);
    let moves: [[f64; JOINT - COUNT]; COUNT] = std::array::from_fn(|a| {
        std::array::from_fn(|b| {
            -(0..COUNT)
                .map(|c| covariance[a][c] * information[c][COUNT + b])
                .sum::<f64>()
        })
    });
    // Their covariance with the two that stay.
    let along: [[f64; JOINT - COUNT]; COUNT] = std::array::from_fn(|a| {
        std::array::from_fn(|b| (0..JOINT - COUNT).map(|k| moves[a][k] * rest(k, b)).sum())
    });
    let mut joint = vec![vec![0.0; JOINT]; JOINT];
    for a in 0..COUNT {
        for b in 0..COUNT {
            let more: f64 = (0..JOINT - COUNT).map(|k| along[a][k] * moves[b][k]).sum();
            joint[a][b] = covariance[a][b] + more;
        }
        for b in 0..JOINT - COUNT {
            joint[a][COUNT + b] = along[a][b];
            joint[COUNT + b][a] = along[a][b];
        }
    }
    for a in 0..JOINT - COUNT {
        for b in 0..JOINT - COUNT {
            joint[COUNT + a][COUNT + b] = rest(a, b);
        }
    }
    Some(joint)
}

fn for_scatter(
    model: &Model<'_>,
    options: Options,
    scatter: f64,
    from: &[f64; COUNT],
    centre: &[f64; COUNT],
) -> Result<([f64; COUNT], Stop)> {
    let free: Vec<usize> = (0..COUNT).filter(|&j| model.is_free(j)).collect();
    minimise(model, options, scatter, from, centre, &free)
}

/// The most probable values of the `free` parameters, the others as in `from`.
fn minimise(
    model: &Model<'_>,
    options: Options,
    scatter: f64,
    from: &[f64; COUNT],
    centre: &[f64; COUNT],
    free: &[usize],
) -> Result<([f64; COUNT], Stop)> {
    let rows = model.len();
    let n = free.len();
    let all = |x: &[f64]| {
        let mut z = *from;
        for (&j, &value) in free.iter().zip(x) {
            z[j] = value;
        }
        z
    };
    // The Jacobian is asked for where the residuals were asked last.
    let last: RefCell<Option<([f64; COUNT], Vec<f64>)>> = RefCell::new(None);
    let hours_at = |z: &[f64; COUNT]| -> Option<Vec<f64>> {
        if let Some((at, hours)) = &*last.borrow()
            && at == z
        {
            return Some(hours.clone());
        }
        let hours = model.log_hours(z)?;
        *last.borrow_mut() = Some((*z, hours.clone()));
        Some(hours)
    };
    let fit = Fit::new(rows + COUNT, |x, out| {
        let z = all(x);
        let Some(hours) = hours_at(&z) else {
            out.fill(f64::NAN);
            return;
        };
        for (i, hours) in hours.iter().enumerate() {
            out[i] = residual(model.seen(i), model.log_seen(i), *hours, scatter, options).value;
        }
        let prior = model.parted(&std::array::from_fn(|j| z[j] - centre[j]));
        out[rows..].copy_from_slice(&prior);
    })
    .with_jacobian(|x, out| {
        let z = all(x);
        out.fill(f64::NAN);
        let Some(hours) = hours_at(&z) else { return };
        let Some(gradients) = model.gradients(&z, &hours) else {
            return;
        };
        out.fill(0.0);
        for (i, gradient) in gradients.iter().enumerate() {
            let slope =
                residual(model.seen(i), model.log_seen(i), hours[i], scatter, options).slope;
            for (k, &j) in free.iter().enumerate() {
                out[i * n + k] = slope * gradient[j];
            }
        }
        for i in 0..COUNT {
            for (k, &j) in free.iter().enumerate() {
                out[(rows + i) * n + k] = model.part(i, j);
            }
        }
    })
    .from_start_only(NEAR);
    let parameters: Vec<Parameter> = free
        .iter()
        .map(|&j| Parameter::within(NAMES[j], from[j], -FARTHEST, FARTHEST))
        .collect();
    let report = fit.run(&parameters)?;
    Ok((all(&report.values()), report.stop))
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
    use crate::learn::normal::{log_cdf, log_cdf_slope};
    let e = (log_seen - log_hours) / scatter;
    let one_sided = |margin: f64, sign: f64| {
        let value = (-2.0 * log_cdf(margin)).max(0.0).sqrt();
        let slope = log_cdf_slope(margin);
        Residual {
            value,
            slope: if value > 0.0 {
                -sign * slope / (value * scatter)
            } else {
                0.0
            },
            information: (slope * (slope + margin)).max(0.0) / (scatter * scatter),
            weight: 1.0,
        }
    };
    match seen {
        Seen::NotYet => one_sided(-e, 1.0),
        Seen::Past => one_sided(e, -1.0),
        Seen::Ready if options.robust && e.abs() > HUBER => {
            let value = (2.0 * HUBER * e.abs() - HUBER * HUBER).sqrt();
            let weight = HUBER / e.abs();
            Residual {
                value: value.copysign(e),
                slope: -HUBER / (value * scatter),
                information: weight / (scatter * scatter),
                weight,
            }
        }
        Seen::Ready => Residual {
            value: e,
            slope: -1.0 / scatter,
            information: 1.0 / (scatter * scatter),
            weight: 1.0,
        },
    }
}

pub(super) fn residuals(
    model: &Model<'_>,
    options: Options,
    scatter: f64,
    log_hours: &[f64],
) -> Vec<Residual> {
    log_hours
        .iter()
        .enumerate()
        .map(|(i, hours)| residual(model.seen(i), model.log_seen(i), *hours, scatter, options))
        .collect()
}

/// What the prior adds to minus twice the logarithm of the posterior.
fn prior_cost(model: &Model<'_>, z: &[f64; COUNT], centre: &[f64; COUNT]) -> f64 {
    let parted = model.parted(&std::array::from_fn(|j| z[j] - centre[j]));
    parted.iter().map(|d| d * d).sum()
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
                Options::default().robust()
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
                Options::default().robust(),
                Options::default().with_scatter(0.07),
            ] {
                let found = most_probable(&model, options, [0.0; COUNT], centre).unwrap();
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
                            sum += model.precision()[a][b] * both;
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
                check_view(&model, &rows, options, &found);
            }
        }
    }

    fn check_view(model: &Model<'_>, rows: &[Observation], options: Options, found: &Found) {
        let gradients = model.gradients(&found.z, &found.log_hours).unwrap();
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
                        paid += term * found.covariance[a][b];
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
                    .map(|c| found.covariance[a][c] * (row[c] + model.precision()[b][c]))
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
        let found = most_probable(&held, Options::default(), from, [0.0; COUNT]).unwrap();
        assert_eq!(found.z[1], 0.8);
        assert!((0..COUNT).all(|j| found.covariance[1][j] == 0.0 && found.covariance[j][1] == 0.0));
        assert!(found.z[0] != 0.0 && found.covariance[0][0] > 0.0);
    }

    /// How what is learned goes with cap and lag: learned anew with each of them a little larger, the prior
    /// of the others moved to what it is then.
    #[test]
    fn cap_and_lag_move_what_is_learned() {
        let scatter = 0.1;
        let options = Options::default().with_scatter(scatter);
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
            let found = most_probable(&model, options, [0.0; COUNT], [0.0; COUNT]).unwrap();
            let r = |a: usize, b: usize| model.correlation(a, b);
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
                most_probable(&model, options, [0.0; COUNT], centre)
                    .unwrap()
                    .z
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
                    assert!(close(found.joint[a][COUNT + k], with(k)), "{a} {k}");
                    assert_eq!(found.joint[a][COUNT + k], found.joint[COUNT + k][a]);
                }
                for (b, (of_cap, of_lag)) in d[0].iter().zip(&d[1]).enumerate() {
                    let more = with(0) * of_cap + with(1) * of_lag;
                    let wanted = found.covariance[a][b] + more;
                    assert!(close(found.joint[a][b], wanted), "{a} {b}");
                }
            }
            assert_eq!(found.joint[cap][lag], r(cap, lag));
            assert_eq!(found.joint[lag][lag], 1.0);
            assert!(d[0].iter().chain(&d[1]).any(|x| x.abs() > 0.05), "{d:?}");
        }
    }

    /// Rows that are certain anyway leave the prior alone: the search ends at its centre, and what is not free
    /// where it began.
    #[test]
    fn without_a_say_of_the_rows_the_centre_is_found() {
        let early = [observation(Kind::Poolish, 18.0, 0.1, 0.2, Seen::NotYet)];
        let centre = [0.5, -1.5, 0.25, 1.0, -0.75, 0.4];
        let from = [0.1, 0.2, 0.3, -0.4, 0.0, 0.6];
        for prior in [Parameters::shipped().unwrap(), learned_together()] {
            let model = Model::new(&prior, &early).unwrap();
            let options = Options::default();
            let all: Vec<usize> = (0..COUNT).collect();
            let (z, stop) = minimise(&model, options, 0.1, &from, &centre, &all).unwrap();
            assert!(stop.converged());
            for (z, centre) in z.iter().zip(centre) {
                assert!((z - centre).abs() < 0.01, "{z} {centre}");
            }
        }
        // Nothing goes with anything as shipped: what is free goes to its centre alone.
        let prior = Parameters::shipped().unwrap();
        let model = Model::new(&prior, &early).unwrap();
        let (z, _) = minimise(&model, Options::default(), 0.1, &from, &centre, &[1, 4]).unwrap();
        for j in 0..COUNT {
            let wanted = if j == 1 || j == 4 { centre[j] } else { from[j] };
            assert!((z[j] - wanted).abs() < 0.01, "{j}: {}", z[j]);
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
        let options = Options::default().with_scatter(0.01);
        for factor in [0.2, 0.3] {
            let rows = model_rows(factor);
            let model = Model::new(&prior, &rows).unwrap();
            let found = most_probable(&model, options, [0.0; COUNT], [0.0; COUNT]).unwrap();
            let farthest = found.z.iter().map(|z| z.abs()).fold(0.0, f64::max);
            assert!((5.99..=6.0 + 1e-9).contains(&farthest), "{:?}", found.z);
            // That is where it has to stop, and not a search cut short.
            assert!(found.stop.converged(), "{factor}");
        }
    }

    /// At what was found the next step is shorter than a move that counts, 1e-10.
    #[test]
    fn what_is_found_has_settled() {
        let rows = rows();
        for prior in [Parameters::shipped().unwrap(), learned_together()] {
            let model = Model::new(&prior, &rows).unwrap();
            for options in [
                Options::default(),
                Options::default().robust(),
                Options::default().with_scatter(0.07),
                Options::default().with_scatter(0.2),
            ] {
                let centre = [0.4, -0.2, 0.1, 0.3, -0.5, 0.2];
                let found = most_probable(&model, options, [0.0; COUNT], centre).unwrap();
                let view = View::look(&model, options, found.scatter, &found.z).unwrap();
                let step = view.step(&model, &found.z, &centre);
                assert!(step.iter().all(|s| s.abs() < 1e-10), "{options:?} {step:?}");
            }
        }
    }
}
