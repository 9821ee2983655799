//! What a piece loses in the oven.
//!
//! ```text
//! loss = (dough - baked) / dough      baked = dough (1 - loss)      dough = baked / (1 - loss)
//! ```
//!
//! The loss is a share of the *dough*, not of the baked weight: 50 g more dough for a loaf of 500 g
//! is a loss of 9.1 %, not of 10 %. Lean pan bread loses 10-13 % (W. Gisslen, *Professional Baking*,
//! 2008), small and crusty pieces 20 % and more.

use crate::error::{Error, Result, check};
use crate::units::{Mass, Percent};

/// Largest loss that is accepted, percent: a dough holds little more water than this.
pub const MAX_LOSS_PERCENT: f64 = 60.0;

fn remaining(loss: Percent) -> Result<f64> {
    let loss = check("bake loss", loss.as_percent(), 0.0, MAX_LOSS_PERCENT, "%")?;
    Ok(1.0 - loss / 100.0)
}

/// The weight out of the oven of a piece of dough.
///
/// # Errors
/// A loss above [`MAX_LOSS_PERCENT`].
///
/// ```
/// use pointage::{formula::loss, units::{Mass, Percent}};
/// let baked = loss::baked_mass(Mass::grams(640.0)?, Percent::new(12.5)?)?;
/// assert_eq!(baked, Mass::grams(560.0)?);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn baked_mass(dough: Mass, loss: Percent) -> Result<Mass> {
    Mass::grams(dough.as_grams() * remaining(loss)?)
}

/// The piece of dough to scale for a weight out of the oven.
///
/// # Errors
/// A loss above [`MAX_LOSS_PERCENT`], or a piece beyond what [`Mass`] holds.
pub fn piece_for_baked(baked: Mass, loss: Percent) -> Result<Mass> {
    Mass::grams(baked.as_grams() / remaining(loss)?)
}

/// The bake loss of a piece weighed before and after the oven.
///
/// # Errors
/// No dough, or a loaf heavier than its dough.
pub fn bake_loss(dough: Mass, baked: Mass) -> Result<Percent> {
    let (dough_g, baked_g) = (dough.as_grams(), baked.as_grams());
    if dough_g == 0.0 || baked_g > dough_g {
        return Err(Error::contradiction(format!(
            "a loaf of {baked_g} g cannot come from {dough_g} g of dough; give the weight of the \
             same piece before and after baking"
        )));
    }
    Percent::new(100.0 * (dough_g - baked_g) / dough_g)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn g(grams: f64) -> Mass {
        Mass::grams(grams).unwrap()
    }
    fn pct(percent: f64) -> Percent {
        Percent::new(percent).unwrap()
    }

    #[test]
    fn impossible_losses_are_refused() {
        assert!(bake_loss(g(0.0), g(0.0)).is_err());
        assert!(
            bake_loss(g(300.0), g(310.0))
                .unwrap_err()
                .to_string()
                .contains("310 g")
        );
        assert!(piece_for_baked(g(300.0), pct(100.0)).is_err());
        assert!(baked_mass(g(300.0), pct(61.0)).is_err());
    }

    #[test]
    fn a_piece_that_weighs_the_same_has_lost_nothing() {
        assert_eq!(bake_loss(g(300.0), g(300.0)).unwrap(), pct(0.0));
    }
}
