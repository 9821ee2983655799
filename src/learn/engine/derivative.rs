//! Central differences extrapolated to step zero, row by row.

/// How large a first step is sensible.
#[derive(Debug, Clone, Copy)]
pub(super) enum Scale {
    /// A share of the value, or of this usual size where the value is near zero.
    Relative(f64),
    /// A share of one: the variable is an angle or the like.
    Absolute,
}

/// First step, as a share of the scale.
const FIRST: f64 = 0.05;
/// Each step is the last one over this.
const SHRINK: f64 = 2.0;
/// Most steps tried.
const STEPS: usize = 20;
/// Steps in one extrapolation: more add rounding and no order.
const ORDERS: usize = 7;
/// Good enough, relative to the length of the column.
const FINE: f64 = 1e-13;
/// Good enough to give up refining.
const FAIR: f64 = 1e-7;
/// Below this share of its usual size a value counts as near zero.
const NEAR_ZERO: f64 = 1e-6;

/// Room for the extrapolation of one column, used again for the next.
pub(super) struct Derivative {
    up: Vec<f64>,
    down: Vec<f64>,
    previous: Vec<Vec<f64>>,
    current: Vec<Vec<f64>>,
    best: Vec<f64>,
    error: Vec<f64>,
}

impl Derivative {
    pub(super) fn new(rows: usize) -> Self {
        let table = || vec![vec![0.0; rows]; ORDERS];
        Self {
            up: vec![0.0; rows],
            down: vec![0.0; rows],
            previous: table(),
            current: table(),
            best: vec![0.0; rows],
            error: vec![0.0; rows],
        }
    }

    /// `df/du_j` of every row; `None` where no step gave numbers.
    pub(super) fn column(
        &mut self,
        u: &[f64],
        j: usize,
        scale: Scale,
        f: &dyn Fn(&[f64], &mut [f64]),
    ) -> Option<&[f64]> {
        let size = match scale {
            Scale::Relative(usual) => u[j].abs().max(NEAR_ZERO * usual),
            Scale::Absolute => 1.0,
        };
        self.error.fill(f64::INFINITY);
        self.best.fill(0.0);
        let mut at = u.to_vec();
        let mut step = FIRST * size;
        let mut levels = 0;
        let (mut least, mut stale) = (f64::INFINITY, 0);
        for _ in 0..STEPS {
            at[j] = u[j] + step;
            let over = at[j];
            f(&at, &mut self.up);
            at[j] = u[j] - step;
            let width = over - at[j]; // as rounded
            f(&at, &mut self.down);
            step /= SHRINK;
            let finite = |v: &[f64]| v.iter().all(|x| x.is_finite());
            if width == 0.0 || !finite(&self.up) || !finite(&self.down) {
                levels = 0; // over an edge: begin again with a smaller step
                continue;
            }
            std::mem::swap(&mut self.previous, &mut self.current);
            for (d, (up, down)) in self.current[0]
                .iter_mut()
                .zip(self.up.iter().zip(&self.down))
            {
                *d = (up - down) / width;
            }
            if levels == 0 {
                self.best.copy_from_slice(&self.current[0]);
            }
            self.extrapolate(levels.min(ORDERS - 1));
            levels += 1;
            if levels < 2 {
                continue;
            }
            let length = norm(&self.best);
            let error = norm(&self.error);
            if error <= FINE * length {
                break;
            }
            if error < 0.5 * least {
                (least, stale) = (error, 0);
            } else {
                stale += 1;
                if stale >= 3 && least <= FAIR * length {
                    break;
                }
            }
        }
        (levels > 0).then_some(&self.best[..])
    }

    /// Neville's rule in the square of the step; keeps the entry that its neighbours confirm best.
    fn extrapolate(&mut self, orders: usize) {
        let mut factor = 1.0;
        for m in 1..=orders {
            factor *= SHRINK * SHRINK;
            let (done, rest) = self.current.split_at_mut(m);
            let last = &done[m - 1];
            for (i, value) in rest[0].iter_mut().enumerate() {
                let before = self.previous[m - 1][i];
                *value = last[i] + (last[i] - before) / (factor - 1.0);
                let error = (*value - last[i]).abs().max((*value - before).abs());
                if error < self.error[i] {
                    self.error[i] = error;
                    self.best[i] = *value;
                }
            }
        }
    }
}

fn norm(v: &[f64]) -> f64 {
    v.iter().map(|x| x * x).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_agree_with_calculus_to_ten_digits() {
        // Steep, oscillating, and with an edge at zero: derivatives by hand.
        let f = |u: &[f64], out: &mut [f64]| {
            out[0] = (300.0 * u[0]).sin();
            out[1] = (-u[0] * 20.0).exp();
            out[2] = u[0].sqrt();
        };
        for x in [0.01, 0.3, 2.0_f64] {
            let exact = [
                300.0 * (300.0 * x).cos(),
                -20.0 * (-x * 20.0).exp(),
                0.5 / x.sqrt(),
            ];
            let mut d = Derivative::new(3);
            let got = d.column(&[x], 0, Scale::Relative(x), &f).unwrap();
            for (g, e) in got.iter().zip(exact) {
                assert!((g - e).abs() <= 1e-10 * norm(&exact), "{x}: {g} for {e}");
            }
        }
    }

    /// Just below an edge, above which there is no number: `-1/(2 sqrt(2 - u))`.
    #[test]
    fn an_edge_above_is_not_crossed() {
        let f = |u: &[f64], out: &mut [f64]| out[0] = (2.0 - u[0]).sqrt();
        for u in [1.99, 1.999, 1.5] {
            let exact = -0.5 / (2.0_f64 - u).sqrt();
            let mut d = Derivative::new(1);
            let got = d.column(&[u], 0, Scale::Relative(1.0), &f).unwrap()[0];
            assert!((got / exact - 1.0).abs() < 1e-10, "{u}: {got} for {exact}");
        }
        // Numbers on one side alone, or nowhere.
        let below = |u: &[f64], out: &mut [f64]| out[0] = (1.0 - u[0]).sqrt();
        let above = |u: &[f64], out: &mut [f64]| out[0] = (u[0] - 1.0).sqrt();
        let nothing = |_: &[f64], out: &mut [f64]| out[0] = f64::NAN;
        for side in 0..3 {
            let f = |u: &[f64], out: &mut [f64]| match side {
                0 => below(u, out),
                1 => above(u, out),
                _ => nothing(u, out),
            };
            let mut d = Derivative::new(1);
            assert!(d.column(&[1.0], 0, Scale::Absolute, &f).is_none());
        }
    }

    /// A straight line is known from two steps to either side. Where rounding is all that is left, 1e-10 of a
    /// million over the step, the steps end: after five, what the truncation leaves is below that, and some
    /// more do not come nearer; 20 could be made.
    #[test]
    fn no_step_is_made_for_nothing() {
        let asked = |f: &dyn Fn(f64) -> f64, u: f64| {
            let count = std::cell::Cell::new(0);
            let counted = |u: &[f64], out: &mut [f64]| {
                count.set(count.get() + 1);
                out[0] = f(u[0]);
            };
            let mut d = Derivative::new(1);
            let got = d.column(&[u], 0, Scale::Relative(1.0), &counted).unwrap()[0];
            (count.get(), got)
        };
        let (count, slope) = asked(&|u| 3.0 * u, 2.0);
        assert_eq!(count, 4);
        assert!((slope - 3.0).abs() < 1e-12);
        for unit in [1e-6, 1.0, 1e6] {
            let (count, slope) = asked(&|u| unit * (1e6 + u.sin()), 1.0);
            assert!(count < 30, "{unit}: {count}");
            assert!((slope / unit - 1f64.cos()).abs() < 1e-7, "{unit}: {slope}");
        }
    }
}
