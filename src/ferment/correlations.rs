//! How the errors of learnt numbers go together.

use super::{Kind, Uncertain};
use crate::error::{Error, Result, check};
use crate::numeric;
use crate::table::Table;

/// How many numbers a log can teach.
pub(crate) const LEARNT: usize = 13;

/// Their names in a parameter file.
pub(crate) const LEARNT_NAMES: [&str; LEARNT] = [
    "poolish_ml_per_100g",
    "biga_ml_per_100g",
    "sponge_ml_per_100g",
    "dough_ml_per_100g",
    "bulk_ml_per_100g",
    "proof_ml_per_100g",
    "gas_tilt_per_10k",
    "growth_rate_per_h",
    "growth_cap_g_per_100g",
    "lag27_h",
    "dose_slope_bend",
    "dose_curve_bend",
    "temperature_curve_bend",
];

/// What they are, in the same order; the first are the published end points.
pub(crate) const LEARNABLE: [Uncertain; LEARNT] = [
    Uncertain::Level(Kind::Poolish),
    Uncertain::Level(Kind::Biga),
    Uncertain::Level(Kind::Sponge),
    Uncertain::Level(Kind::Dough),
    Uncertain::Level(Kind::Bulk),
    Uncertain::Level(Kind::Proof),
    Uncertain::Tilt,
    Uncertain::GrowthRate,
    Uncertain::GrowthCap,
    Uncertain::Lag,
    Uncertain::DoseSlope,
    Uncertain::DoseCurve,
    Uncertain::TemperatureCurve,
];

/// Correlations of the errors of what a log teaches: the level of each kind, the tilt of the gas curve,
/// growth with its cap and lag, and the bend of the times. As shipped there are none; a file of learnt numbers brings its own
/// (`[[correlations]]`, see [`Parameters::with_table`](super::Parameters::with_table)).
///
/// ```
/// use pointage::ferment::{Kind, Parameters, Uncertain};
/// let shipped = Parameters::shipped()?;
/// let (level, tilt) = (Uncertain::Level(Kind::Poolish), Uncertain::Tilt);
/// assert_eq!(shipped.correlations.between(level, tilt), 0.0);
/// assert_eq!(shipped.correlations.between(tilt, tilt), 1.0);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correlations {
    /// In the order of the names.
    pub(crate) matrix: [[f64; LEARNT]; LEARNT],
}

impl Default for Correlations {
    /// Each error alone.
    fn default() -> Self {
        let row = |i| std::array::from_fn(|j| f64::from(u8::from(i == j)));
        Self {
            matrix: std::array::from_fn(row),
        }
    }
}

impl Correlations {
    /// The correlation of two parameters, -1 to 1; 0 where nothing is known of it.
    #[must_use]
    pub fn between(&self, a: Uncertain, b: Uncertain) -> f64 {
        match (place(a), place(b)) {
            (Some(i), Some(j)) => self.matrix[i][j],
            _ => f64::from(u8::from(a == b)),
        }
    }

    /// Variance of an answer that moves so far with one standard deviation of each parameter.
    pub(crate) fn variance(&self, moves: &[(Uncertain, f64)]) -> f64 {
        // By places: what a log does not teach goes with nothing.
        let mut by_place = [0.0; LEARNT];
        let mut sum = 0.0;
        for &(which, x) in moves {
            match place(which) {
                Some(i) => by_place[i] += x,
                None => sum += x * x,
            }
        }
        sum + self.of_learnt(by_place)
    }

    /// The same of what a log can teach alone, in its order.
    pub(super) fn of_learnt(&self, moves: [f64; LEARNT]) -> f64 {
        let with = |row: &[f64]| row.iter().zip(moves).map(|(r, y)| r * y).sum::<f64>();
        let rows = (0..LEARNT).filter(|&i| moves[i] != 0.0);
        let shares = rows.map(|i| moves[i] * (moves[i] + 2.0 * with(&self.matrix[i][..i])));
        // Rounded correlations near 1 may leave a little less than nothing.
        shares.sum::<f64>().max(0.0)
    }

    /// The same with the values of a table in place of what they were: alone, but for the correlations
    /// that the table gives.
    pub(super) fn with_table(self, table: &Table) -> Result<Self> {
        let mut matrix = self.matrix;
        let place = |name: &str| LEARNT_NAMES.iter().position(|known| *known == name);
        for i in table.values.iter().filter_map(|v| place(&v.name)) {
            for j in (0..LEARNT).filter(|&j| j != i) {
                (matrix[i][j], matrix[j][i]) = (0.0, 0.0);
            }
        }
        for c in &table.correlations {
            let [i, j] = [&c.between[0], &c.between[1]].map(|name| match place(name) {
                Some(i) => Ok(i),
                None => Err(Error::unknown_name("learnt value", name, LEARNT_NAMES)),
            });
            let (i, j) = (i?, j?);
            let value = check("value of a correlation", c.value, -1.0, 1.0, "")?;
            (matrix[i][j], matrix[j][i]) = (value, value);
        }
        if !numeric::is_positive_definite(matrix) {
            return Err(Error::contradiction(
                "the [[correlations]] contradict each other: no errors can go together like that; take over all of them from one learning",
            ));
        }
        Ok(Self { matrix })
    }
}

/// Place in [`LEARNABLE`].
pub(super) fn place(which: Uncertain) -> Option<usize> {
    let which = match which {
        Uncertain::Level(Kind::OldDough) => Uncertain::Level(Kind::Dough),
        other => other,
    };
    LEARNABLE.iter().position(|known| *known == which)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `x' R x`, with each parameter at the place of its name.
    #[test]
    fn the_variance_is_the_quadratic_form() {
        let matrix: [[f64; LEARNT]; LEARNT] = std::array::from_fn(|i| {
            std::array::from_fn(|j| match i == j {
                true => 1.0,
                false => 0.02 * (i.max(j) * LEARNT + i.min(j)) as f64 - 0.3,
            })
        });
        let r = Correlations { matrix };
        let x = [
            1.0, -0.5, 0.25, 2.0, 0.75, 0.1, -0.3, 0.6, -0.2, 0.4, 0.3, -0.7, 0.15,
        ];
        let mut wanted = 0.0;
        for i in 0..LEARNT {
            for j in 0..LEARNT {
                assert_eq!(r.between(LEARNABLE[i], LEARNABLE[j]), matrix[i][j]);
                wanted += x[i] * x[j] * matrix[i][j];
            }
        }
        let moves: Vec<_> = LEARNABLE.into_iter().zip(x).collect();
        assert!(wanted > 0.0);
        assert!((r.variance(&moves) - wanted).abs() < 1e-12);
        let squares = x.iter().map(|x| x * x).sum::<f64>();
        assert!((Correlations::default().variance(&moves) - squares).abs() < 1e-12);
        // What no log teaches goes with nothing but itself: its square comes on top.
        let more = [moves, vec![(Uncertain::Kept, 0.7)]].concat();
        assert!((r.variance(&more) - wanted - 0.49).abs() < 1e-12);
        assert_eq!(r.between(Uncertain::Kept, Uncertain::Tilt), 0.0);
        assert_eq!(r.between(Uncertain::Kept, Uncertain::Kept), 1.0);
    }
}
