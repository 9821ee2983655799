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
