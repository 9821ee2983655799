//! The most probable parameters (maximum a posteriori), and what a row adds to the sum.

use super::USUAL_SCATTER;
use super::log_model::{LogModel, Square, Vector};
use crate::ferment::LEARNT;
use crate::learn::engine::{BOLD, Fit, Termination, levenberg_marquardt};
use crate::learn::log::{Observation, Seen};
use crate::numeric;

/// Rows that the usual scatter weighs, by simulation: kitchens that scatter by a quarter are known as such after ten rows.
const SCATTER_ROWS: f64 = 2.0;
/// Share of rows that are mistyped before the log has a say, and how they scatter, in log time.
const MISTYPED: f64 = 0.03;
const MISTYPED_SCATTER: f64 = 1.5;
/// The search begins with these scatters: the one takes rows that are mistyped for what they are, the other
/// gives a log that scatters widely its chance. The more probable end wins.
const STARTS: [f64; 2] = [USUAL_SCATTER, 4.0 * USUAL_SCATTER];

/// The scatter is settled when the rows ask for one that differs by less than this share.
const SETTLED: f64 = 1e-8;
const SMALL_STEPS: usize = 200;

/// What rows and prior say at the most probable place.
#[derive(Debug, Clone)]
pub(super) struct MapFit {
    pub z: Vector,
    pub log_hours: Vec<f64>,
    /// Inverse of the information of rows and prior.
    pub covariance: Square,
    /// The scatter that the rows and the usual one make together, and its degrees of freedom.
    pub scatter: f64,
    pub freedom: f64,
    /// Probability of each row that it is not mistyped.
    pub sound: Vec<f64>,
    pub stop: Termination,
    /// Minus twice the logarithm of the posterior, up to a constant.
    cost: f64,
}

/// The fit. Where the scatter is not known, it and the parameters depend on each other; the fit is repeated until both agree.
/// `None` where not even the prior gives every row a time.
pub(super) fn map_fit(
    model: &LogModel<'_>,
    rows: &[Observation],
    known: Option<f64>,
) -> Option<MapFit> {
    let from = |start: f64| {
        let mut z = Vector::zeros();
        let mut found = None;
        // By how much the log scatter is more than the rows then ask for.
        let mut miss = |log_scatter: f64| {
            let scatter = log_scatter.exp();
            let posterior = Posterior {
                model,
                rows,
                scatter,
            };
            let (next, stop) = posterior.minimise(&z);
            let here = posterior.summary(next, stop).ok_or(())?;
            z = here.z;
            let asked = here.scatter.ln();
            found = Some(MapFit { scatter, ..here });
            Ok::<_, ()>(known.map_or(log_scatter - asked, |_| 0.0))
        };
        let mut met = numeric::meet(start.ln(), &mut miss).ok()?.is_some();
        if !met {
            // Where rows change sides on the way the secant may leap to and fro; small steps arrive.
            let mut log_scatter = start.ln();
            for _ in 0..SMALL_STEPS {
                let off = miss(log_scatter).ok()?;
                met = off.abs() < SETTLED;
                if met {
                    break;
                }
                log_scatter -= 0.5 * off;
            }
        }
        let mut found = found?;
        if !met {
            found.stop = Termination::OutOfSteps;
        }
        if known.is_some() {
            found.freedom = f64::INFINITY;
        }
        Some(found)
    };
    let starts = known.map_or(STARTS.to_vec(), |scatter| vec![scatter]);
    let found = starts.into_iter().filter_map(from);
    found.min_by(|a, b| {
        let settled = |m: &MapFit| m.stop != Termination::Converged;
        settled(a).cmp(&settled(b)).then(a.cost.total_cmp(&b.cost))
    })
}

/// Minus twice the logarithm of the posterior for one scatter.
struct Posterior<'m> {
    model: &'m LogModel<'m>,
    rows: &'m [Observation],
    scatter: f64,
}

impl Posterior<'_> {
    fn residuals<'h>(&'h self, log_hours: &'h [f64]) -> impl Iterator<Item = Residual> + 'h {
        let rows = self.rows.iter().zip(log_hours);
        rows.map(|(row, predicted)| residual(row.seen, row.hours.ln() - predicted, self.scatter))
    }

    /// The most probable parameters for this scatter.
    fn minimise(&self, from: &Vector) -> (Vector, Termination) {
        let rows = self.model.len();
        let transposed = self.model.triangle.transpose();
        let fit = Fit::new(rows + LEARNT, |z, out| {
            let z = Vector::from_column_slice(z);
            let Some(hours) = self.model.log_hours(&z) else {
                return out.fill(f64::NAN);
            };
            let prior = transposed * z;
            let values = self
                .residuals(&hours)
                .map(|r| r.value)
                .chain(prior.iter().copied());
            out.iter_mut()
                .zip(values)
                .for_each(|(out, value)| *out = value);
        })
        .with_jacobian(|z, out| {
            let z = Vector::from_column_slice(z);
            let (Some(hours), Some(slopes)) = (self.model.log_hours(&z), self.model.slopes(&z))
            else {
                return out.fill(f64::NAN);
            };
            let (of_rows, of_prior) = out.split_at_mut(rows * LEARNT);
            let residuals = self.residuals(&hours).zip(slopes);
            for (out, (row, slope)) in of_rows.chunks_exact_mut(LEARNT).zip(residuals) {
                out.copy_from_slice((slope * row.slope).as_slice());
            }
            // By rows, where nalgebra stores by columns.
            of_prior.copy_from_slice(self.model.triangle.as_slice());
        });
        let found = levenberg_marquardt(&fit, from.as_slice(), BOLD);
        (Vector::from_column_slice(found.x.as_slice()), found.stop)
    }

    fn summary(&self, z: Vector, stop: Termination) -> Option<MapFit> {
        let log_hours = self.model.log_hours(&z)?;
        let slopes = self.model.slopes(&z)?;
        let mut of_rows = Square::zeros();
        let mut of_ready = Square::zeros();
        let usual = SCATTER_ROWS * USUAL_SCATTER * USUAL_SCATTER;
        let spread = |rows: f64| 2.0 * rows * self.scatter.ln();
        let mut cost = usual / self.scatter.powi(2) + spread(SCATTER_ROWS);
        let (mut count, mut squares, mut sound) = (0.0, 0.0, Vec::new());
        let effects = self.residuals(&log_hours).zip(slopes);
        for ((effect, slope), (row, predicted)) in effects.zip(self.rows.iter().zip(&log_hours)) {
            let term = slope * slope.transpose() * effect.information;
            of_rows += term;
            cost += effect.value * effect.value;
            sound.push(effect.sound);
            if row.seen == Seen::Ready {
                cost += spread(1.0);
                of_ready += term;
                let weight = effect.information * self.scatter * self.scatter;
                count += weight;
                squares += weight * (row.hours.ln() - predicted).powi(2);
            }
        }
        let prior = self.model.triangle.transpose() * z;
        let information = of_rows + self.model.triangle * self.model.triangle.transpose();
        let covariance = information.cholesky()?.inverse();
        let paid = (covariance * of_ready).trace().min(count);
        let freedom = SCATTER_ROWS + count - paid;
        Some(MapFit {
            z,
            log_hours,
            covariance,
            scatter: ((usual + squares) / freedom).sqrt(),
            freedom,
            sound,
            stop,
            cost: cost + prior.norm_squared(),
        })
    }
}

/// What a row adds to the fit.
struct Residual {
    /// Its square is minus twice the log likelihood, up to a constant.
    value: f64,
    /// Slope against the predicted log time.
    slope: f64,
    /// Information of the row on the log time.
    information: f64,
    /// Probability that it is not mistyped.
    sound: f64,
}

/// A row is sound and scatters by `scatter`, or it is mistyped and scatters widely.
/// `off` is the log time that was seen less the one predicted.
fn residual(seen: Seen, off: f64, scatter: f64) -> Residual {
    let parts = [(1.0 - MISTYPED, scatter), (MISTYPED, MISTYPED_SCATTER)];
    match seen {
        Seen::Ready => {
            let density =
                |off: f64| parts.map(|(share, sd)| share / sd * (-0.5 * (off / sd).powi(2)).exp());
            let [sound, mistyped] = density(off);
            let total = sound + mistyped;
            let most: f64 = density(0.0).iter().sum();
            let information =
                (sound / scatter.powi(2) + mistyped / MISTYPED_SCATTER.powi(2)) / total;
            let value = (2.0 * (most / total).ln()).max(0.0).sqrt().copysign(off);
            // Near 0 the square is that of the normal distribution.
            let slope = if value.abs() > 1e-6 {
                -information * off / value
            } else {
                -information.sqrt()
            };
            Residual {
                value,
                slope,
                information,
                sound: sound / total,
            }
        }
        Seen::NotYet | Seen::Past => {
            // By how much the prediction is on the right side.
            let sign = if seen == Seen::NotYet { -1.0 } else { 1.0 };
            let margin = sign * off;
            let chance = parts.map(|(share, sd)| share * numeric::normal_below(margin / sd));
            let density = parts.map(|(share, sd)| {
                share / sd * (-0.5 * (margin / sd).powi(2)).exp() / std::f64::consts::TAU.sqrt()
            });
            let total: f64 = chance.iter().sum();
            let steep = density.iter().sum::<f64>() / total;
            let bent: f64 = parts
                .iter()
                .zip(density)
                .map(|((_, sd), d)| d * margin / (sd * sd))
                .sum();
            let value = (-2.0 * total.ln()).max(0.0).sqrt();
            Residual {
                value,
                slope: if value > 0.0 {
                    sign * steep / value
                } else {
                    0.0
                },
                information: (steep * steep + bent / total).max(0.0),
                sound: chance[0] / total,
            }
        }
    }
}

/// The 90 % point of Student's t with so many degrees of freedom, 2 or more or infinitely many: the normal one and the
/// first terms of its expansion in 1/freedom (Abramowitz & Stegun 26.7.5).
pub(super) fn student_90(freedom: f64) -> f64 {
    let (z, n) = (numeric::NORMAL_90, freedom);
    let p = |k: i32| z.powi(k);
    z + (p(3) + z) / (4.0 * n)
        + (5.0 * p(5) + 16.0 * p(3) + 3.0 * z) / (96.0 * n * n)
        + (3.0 * p(7) + 19.0 * p(5) + 17.0 * p(3) - 15.0 * z) / (384.0 * n.powi(3))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half a square, slope and information of what a row adds, by the likelihood in the documentation of the fit.
    #[test]
    fn a_row_adds_its_likelihood() {
        let s = 0.13;
        let normal = |x: f64, sd: f64| (-0.5 * (x / sd).powi(2)).exp() / sd;
        for seen in [Seen::Ready, Seen::NotYet, Seen::Past] {
            let likelihood = |off: f64| match seen {
                Seen::Ready => 0.97 * normal(off, s) + 0.03 * normal(off, 1.5),
                // It takes longer, or it took less.
                Seen::NotYet => {
                    0.97 * numeric::normal_below(-off / s)
                        + 0.03 * numeric::normal_below(-off / 1.5)
                }
                Seen::Past => {
                    0.97 * numeric::normal_below(off / s) + 0.03 * numeric::normal_below(off / 1.5)
                }
            };
            let most = if seen == Seen::Ready {
                likelihood(0.0)
            } else {
                1.0
            };
            for off in [-3.0, -0.5, -0.2, -0.05, 0.03, 0.15, 0.4, 2.0] {
                let row = residual(seen, off, s);
                let cost = |off: f64| -2.0 * (likelihood(off) / most).ln();
                let case = format!("{seen:?} {off}");
                assert!((row.value.powi(2) - cost(off)).abs() < 1e-9, "{case}");
                // Against the predicted time, which goes the other way.
                let h = 1e-5;
                let by_difference = -(residual(seen, off + h, s).value
                    - residual(seen, off - h, s).value)
                    / (2.0 * h);
                let near = (row.slope - by_difference).abs() < 1e-4 * row.slope.abs().max(1e-2);
                assert!(near, "{case}: {} {by_difference}", row.slope);
                if seen == Seen::Ready {
                    // The probability of being sound, by Bayes; the information that it leaves.
                    let sound = 0.97 * normal(off, s) / likelihood(off);
                    assert!((row.sound - sound).abs() < 1e-12, "{case}");
                    let weight = sound + (1.0 - sound) * (s / 1.5).powi(2);
                    assert!((row.information * s * s - weight).abs() < 1e-12, "{case}");
                }
            }
        }
    }

    /// Student's t, 90 % point, tables of three decimals; the expansion is short by 0.01 at 2 and 0.002 at 3.
    #[test]
    fn the_point_is_that_of_the_tables() {
        for (n, t, off) in [
            (2.0, 1.886, 1e-2),
            (3.0, 1.638, 2e-3),
            (4.0, 1.533, 1e-3),
            (10.0, 1.372, 6e-4),
            (30.0, 1.310, 6e-4),
            (f64::INFINITY, 1.282, 6e-4),
        ] {
            assert!((student_90(n) - t).abs() < off, "{n}: {}", student_90(n));
        }
    }
}
