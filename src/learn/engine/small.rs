//! Least squares of a few parameters with exact derivatives, without a matrix on the heap: for fits that are
//! made by the thousand. Levenberg-Marquardt on the normal equations, which decide only how fast it arrives;
//! where it arrives the gradient says.

use super::ROWS_A_STEP;
use crate::budget;
use nalgebra::{SMatrix, SVector};

/// Steps allowed on the way down, and for the last digits.
const STEPS: usize = 200;
const LAST_STEPS: usize = 30;
/// Steps of less than this share of the values are near the end: from here on their length tells.
const NEAR: f64 = 1e-6;
/// Below this share a step moves rounding only.
const STILL: f64 = 1e-14;

/// `JᵀJ`, `Jᵀr` and `rᵀr` at a place.
struct Normal<const N: usize> {
    matrix: SMatrix<f64, N, N>,
    gradient: SVector<f64, N>,
    rss: f64,
}

/// Goes down from `start`; `row` gives a residual and its derivatives. Gives the place and its sum; `None` when it does not settle, or
/// the rows do not tell the parameters apart.
pub(crate) fn settle<const N: usize>(
    start: [f64; N],
    rows: usize,
    row: impl Fn(usize, &[f64; N]) -> (f64, [f64; N]),
) -> Option<(SVector<f64, N>, f64)> {
    let normal_at = |at: &SVector<f64, N>| {
        let mut normal = Normal {
            matrix: SMatrix::zeros(),
            gradient: SVector::zeros(),
            rss: 0.0,
        };
        if budget::spend(1 + rows / ROWS_A_STEP).is_err() {
            normal.rss = f64::NAN;
            return normal;
        }
        for i in 0..rows {
            let (r, slopes) = row(i, &at.data.0[0]);
            let slopes = SVector::from(slopes);
            normal.rss += r * r;
            normal.gradient += slopes * r;
            normal.matrix += slopes * slopes.transpose();
        }
        normal
    };
    let mut at = SVector::from(start);
    let mut now = normal_at(&at);
    let mut damping = 1e-3;
    for step in 0.. {
        if step == STEPS || !now.rss.is_finite() {
            return None;
        }
        let Some(move_by) = now.step(damping) else {
            damping = (damping * 10.0).max(1e-10);
            continue;
        };
        let next_at = at + move_by;
        let next = normal_at(&next_at);
        // Not a number is not better.
        if next.rss <= now.rss {
            (at, now) = (next_at, next);
            damping *= 0.1;
            if length(&move_by, &at) < NEAR {
                break;
            }
        } else if length(&move_by, &at) < NEAR * NEAR {
            break; // nowhere lower
        } else {
            damping *= 4.0;
        }
    }
    // The sum is flat to its last bits here; a step shorter than the one before is what counts.
    let mut last = f64::INFINITY;
    for _ in 0..LAST_STEPS {
        let move_by = now.step(0.0)?;
        let shorter = length(&move_by, &at);
        if shorter.is_nan() || shorter >= last {
            break;
        }
        last = shorter;
        at += move_by;
        now = normal_at(&at);
        if shorter < STILL {
            break;
        }
    }
    (last < 1e-8 && now.rss.is_finite()).then_some((at, now.rss))
}

impl<const N: usize> Normal<N> {
    /// The step to the least sum, were the rows straight, with the diagonal raised by a share; by Cholesky's
    /// method on columns of unit length. `None` where the rows do not tell the parameters apart.
    fn step(&self, damping: f64) -> Option<SVector<f64, N>> {
        let scale = self.matrix.diagonal().map(|d| 1.0 / d.sqrt());
        if scale.iter().any(|s| !s.is_finite()) {
            return None;
        }
        let raised = |i, j| if i == j { 1.0 + damping } else { 1.0 };
        let scaled: SMatrix<f64, N, N> =
            SMatrix::from_fn(|i, j| raised(i, j) * self.matrix[(i, j)] * scale[i] * scale[j]);
        let root = scaled.cholesky()?;
        let told = root.l_dirty().diagonal().iter().all(|l| l * l > 1e-14);
        let downhill = || root.solve(&self.gradient.component_mul(&scale));
        told.then(|| -downhill().component_mul(&scale))
    }
}

/// The largest move as a share of its value.
fn length<const N: usize>(step: &SVector<f64, N>, at: &SVector<f64, N>) -> f64 {
    let share = step.zip_map(at, |s, x| (s / x.abs().max(1e-300)).abs());
    // NaN stays, other than with `max`.
    let longer = |a: f64, b: f64| if b <= a || a.is_nan() { a } else { b };
    share.fold(0.0, longer)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_decay_is_found_from_afar_to_the_last_digits() {
        // Rows made without scatter: the truth is the least sum.
        let truth = [2.0, 0.3];
        let y: Vec<f64> = (0..9)
            .map(|t| truth[0] * (-truth[1] * f64::from(t)).exp())
            .collect();
        let row = |i: usize, x: &[f64; 2]| {
            let t = i as f64;
            let fade = (-x[1] * t).exp();
            (x[0] * fade - y[i], [fade, -x[0] * t * fade])
        };
        for start in [[1.0, 1.0], [20.0, 0.01], [0.1, 2.0]] {
            let found = settle(start, y.len(), row).unwrap();
            for (value, truth) in found.0.iter().zip(truth) {
                assert!((value / truth - 1.0).abs() < 1e-12, "{start:?}: {value}");
            }
        }
    }

    #[test]
    fn what_cannot_be_told_apart_does_not_settle() {
        let alike = settle([1.0, 1.0], 5, |i, x: &[f64; 2]| {
            let t = i as f64;
            ((x[0] + x[1]) * t - 3.0, [t, t])
        });
        assert!(alike.is_none());
        assert!(settle([1.0], 5, |_, _| (f64::NAN, [1.0])).is_none());
    }

    /// A matrix and a step: the gradient that asks for it is minus their product, with the diagonal raised.
    #[test]
    fn the_step_solves_its_equations() {
        let full = [[4.0, 1.0, -2.0], [1.0, 9.0, 3.0], [-2.0, 3.0, 25.0]];
        let step = [1.0, -2.0, 3.0];
        for damping in [0.0, 0.5, 10.0] {
            let gradient: [f64; 3] = std::array::from_fn(|j| {
                let straight: f64 = (0..3).map(|k| full[j][k] * step[k]).sum();
                -(straight + damping * full[j][j] * step[j])
            });
            let normal = Normal {
                matrix: SMatrix::from(full),
                gradient: gradient.into(),
                rss: 1.0,
            };
            for (got, expected) in normal.step(damping).unwrap().iter().zip(step) {
                assert!((got - expected).abs() < 1e-12, "{damping}: {got}");
            }
        }
    }

    #[test]
    fn a_length_is_the_largest_share() {
        let length = |step: [f64; 2], at: [f64; 2]| length(&step.into(), &at.into());
        assert_eq!(length([0.5, 3.0], [1.0, -12.0]), 0.5);
        assert_eq!(length([0.5, -3.0], [8.0, 4.0]), 0.75);
        assert_eq!(length([0.0, 0.0], [0.0, 1.0]), 0.0);
        assert!(length([1.0, 0.0], [0.0, 1.0]) > 1e299);
        assert!(length([f64::NAN, 1.0], [1.0, 1.0]).is_nan());
        assert!(length([1.0, f64::NAN], [1.0, 1.0]).is_nan());
    }

    /// A straight line with equal weights: the fit of the textbook, and the squares that it leaves.
    #[test]
    fn a_straight_line_settles_at_its_normal_equations() {
        // Through (0, 1), (1, 3), (2, 4), (3, 4): slope 5/5 = 1, mean 3 at 1.5, so 1.5 + t; left are
        // -0.5, 0.5, 0.5, -0.5.
        let y = [1.0, 3.0, 4.0, 4.0];
        let line = |i: usize, x: &[f64; 2]| (x[0] + x[1] * i as f64 - y[i], [1.0, i as f64]);
        let found = settle([20.0, -7.0], 4, line).unwrap();
        assert!((found.0[0] - 1.5).abs() < 1e-13 && (found.0[1] - 1.0).abs() < 1e-13);
        assert!((found.1 - 1.0).abs() < 1e-13);
    }

    /// J. Dennis and R. Schnabel's example of a residual that bends too much, its least moved to 1: with
    /// `y = x - 1` the rows `y + 1` and `l y² + y - 1` have least squares at y = 0 for l below 1, and there
    /// Gauss-Newton's step multiplies y by l. For l below -1 the last digits are not found, and nothing is claimed.
    #[test]
    fn where_the_last_steps_lead_away_nothing_is_claimed() {
        let from = |l: f64, start: f64| {
            settle([start], 2, move |i, x: &[f64; 1]| {
                let y = x[0] - 1.0;
                if i == 0 {
                    (y + 1.0, [1.0])
                } else {
                    (l * y * y + y - 1.0, [2.0 * l * y + 1.0])
                }
            })
        };
        for start in [0.5, 2.0, 3.0] {
            let found = from(-0.5, start).unwrap();
            assert!((found.0[0] - 1.0).abs() < 1e-10, "{start}");
            for l in [-2.0, -3.0] {
                assert!(from(l, start).is_none(), "{l} {start}");
            }
        }
    }

    /// A double root is come near by halves of the way, which never is near as a share of what is left: the
    /// steps end, and each has been counted.
    #[test]
    fn the_steps_are_counted_and_end() {
        let asked = std::cell::Cell::new(0_usize);
        let counted = |r: f64, slope: f64| {
            asked.set(asked.get() + 1);
            assert!(asked.get() < 1000, "it goes on");
            (r, [slope])
        };
        assert!(settle([1.0], 1, |_, x: &[f64; 1]| counted(x[0] * x[0], 2.0 * x[0])).is_none());
        assert!(asked.get() > 100);
        asked.set(0);
        // A straight row is met at once, and left when the steps have come to nothing.
        settle([5.0], 3, |i, x: &[f64; 1]| counted(x[0] - i as f64, 1.0)).unwrap();
        assert!(asked.get() < 60, "{}", asked.get());
    }

    /// The line of the textbook again, 1.5 + t, with the time in another unit: the slope has the inverse one.
    #[test]
    fn the_unit_of_a_parameter_does_not_matter() {
        let y = [1.0, 3.0, 4.0, 4.0];
        for unit in [1e-10, 1.0, 1e10] {
            let found = settle([20.0, -7.0 / unit], 4, |i, x: &[f64; 2]| {
                let t = unit * i as f64;
                (x[0] + x[1] * t - y[i], [1.0, t])
            })
            .unwrap();
            assert!((found.0[0] - 1.5).abs() < 1e-12, "{unit}");
            assert!((found.0[1] * unit - 1.0).abs() < 1e-12, "{unit}");
        }
    }
}
