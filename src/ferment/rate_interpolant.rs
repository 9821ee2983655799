//! The two temperature curves once more, as polynomials of half a kelvin each: the same numbers, nearly to the last
//! digit, without the exponentials of a law. A dough that warms itself asks for them a hundred times an hour.

use crate::numeric::{self, POINTS};
use std::sync::OnceLock;

/// Where the first cell begins, °C.
const FROM_C: f64 = -5.0;
const CELLS_PER_K: f64 = 2.0;
const CELLS: usize = 140;

/// Coefficients of both curves on one cell, side by side, so that they are summed together.
#[derive(Debug)]
struct Cell([[f64; 2]; POINTS]);

impl Cell {
    fn new(i: usize, kinks: &[f64], exact: impl Fn(f64) -> (f64, f64)) -> Option<Self> {
        let at = |x: f64| FROM_C + (i as f64 + x) / CELLS_PER_K;
        if kinks.iter().any(|&k| at(0.0) < k && k < at(1.0)) {
            return None;
        }
        let both = numeric::fractions().map(|x| exact(at(x)));
        let sound = both.iter().all(|b| b.0.is_finite() && b.1.is_finite());
        let gas = numeric::powers(&both.map(|b| b.0));
        let growth = numeric::powers(&both.map(|b| b.1));
        sound.then(|| Self(std::array::from_fn(|k| [gas[k], growth[k]])))
    }

    /// At a fraction of the cell.
    #[inline]
    fn at(&self, x: f64) -> (f64, f64) {
        let u = 2.0 * x - 1.0;
        let [mut gas, mut growth] = self.0[POINTS - 1];
        for k in (0..POINTS - 1).rev() {
            let [a, b] = self.0[k];
            (gas, growth) = (gas * u + a, growth * u + b);
        }
        (gas, growth)
    }
}

/// The cells that have been asked for. Not a part of what a curve is: two are always equal, and none shows.
pub(super) struct Cells([OnceLock<Option<Cell>>; CELLS]);

impl std::fmt::Debug for Cells {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Cells")
    }
}

impl PartialEq for Cells {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Cells {
    pub fn new() -> Self {
        Self([const { OnceLock::new() }; CELLS])
    }

    /// Both curves at `t` °C; `exact` has them from their laws. `None` where the cells do not reach, a curve is
    /// refused, or has a kink.
    #[inline]
    pub fn at(
        &self,
        t: f64,
        kinks: &[f64],
        exact: impl Fn(f64) -> (f64, f64),
    ) -> Option<(f64, f64)> {
        let place = (t - FROM_C) * CELLS_PER_K;
        // Also what is not a number has no cell.
        if place.is_nan() || place < 0.0 {
            return None;
        }
        // By way of a narrow integer, which takes one instruction each way.
        let i = place as i32;
        let slot = self.0.get(i as usize)?;
        let cell = match slot.get() {
            Some(cell) => cell,
            None => Self::filled(slot, i as usize, kinks, exact),
        };
        cell.as_ref().map(|c| c.at(place - f64::from(i)))
    }

    /// A cell that is asked for the first time.
    #[cold]
    #[inline(never)]
    fn filled<'c>(
        slot: &'c OnceLock<Option<Cell>>,
        i: usize,
        kinks: &[f64],
        exact: impl Fn(f64) -> (f64, f64),
    ) -> &'c Option<Cell> {
        slot.get_or_init(|| Cell::new(i, kinks, exact))
    }
}

#[cfg(test)]
mod tests {
    use crate::ferment::Parameters;
    use proptest::prelude::*;

    proptest! {
        /// The cells are the curves, to 1e-10 of the rate at 30 °C, as the own heat settles; a tilt that multiplies
        /// the curve multiplies what is missing with it.
        #[test]
        fn cells_are_the_curves(t in -20.0..80.0_f64, tilt in -1.0..1.0_f64) {
            let p = Parameters::shipped().unwrap();
            let about = crate::units::Temperature::celsius(21.0).unwrap();
            for kinetics in [p.kinetics.clone(), p.kinetics.with_tilt(tilt, about).unwrap()] {
                let near = kinetics.rates_nearly_at(t);
                match kinetics.rates_at(t) {
                    Ok(exact) => {
                        let tilted = (kinetics.gas().tilt() * (t - 21.0) / 10.0).exp();
                        prop_assert!((exact.0 - near.0).abs() <= 1e-10 * tilted.max(1.0));
                        prop_assert!((exact.1 - near.1).abs() <= 1e-10);
                    }
                    Err(_) => prop_assert!(near.0.is_nan() || near.1.is_nan()),
                }
            }
        }
    }

    /// A cell asks the laws at its eight points when it is first asked itself, and never again. There is none below
    /// the first and beyond the last, nor with a kink inside it.
    #[test]
    fn a_cell_asks_the_laws_once() {
        let asked = std::cell::Cell::new(0);
        let laws = |t: f64| {
            asked.set(asked.get() + 1);
            (2.0 * t, 50.0 - t)
        };
        let cells = super::Cells::new();
        for t in [20.0, 20.4, 20.1, 20.0] {
            let (gas, growth) = cells.at(t, &[], laws).unwrap();
            // Rounding.
            assert!((gas - 2.0 * t).abs() < 1e-11 && (growth - 50.0 + t).abs() < 1e-11);
        }
        assert_eq!(asked.get(), crate::numeric::POINTS);
        for t in [-5.1, 65.0, f64::NAN] {
            assert_eq!(cells.at(t, &[], laws), None, "{t}");
        }
        assert_eq!(cells.at(30.2, &[30.1], laws), None);
        assert_eq!(asked.get(), crate::numeric::POINTS);
        assert_eq!(format!("{cells:?}"), "Cells");
    }
}
