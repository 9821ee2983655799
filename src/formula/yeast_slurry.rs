//! A dose too small for the scale, weighed in water.
//!
//! A scale that shows steps of `d` grams can be wrong by half a step. On a dose of `n` steps that is
//! an error of `1/(2n)`: 50 % at one step, 10 % at [`FEWEST_STEPS`] = 5. Below that, stir more yeast
//! than is needed into water and use part of it:
//!
//! ```text
//! yeast in the part used = take * yeast / (yeast + water)
//! ```

use crate::error::{Error, Result, check};
use crate::units::Mass;

/// Scale steps below which a dose is not weighed directly (error of half a step: 10 %).
pub const FEWEST_STEPS: f64 = 5.0;

/// Scale steps of the part used: 20 at best (error of half a step 2.5 %), 10 at least (5 %).
const TAKE_STEPS: std::ops::RangeInclusive<u32> = 10..=20;

/// Scale steps of water that are at hand for any stage (by judgement): a litre on a kitchen scale.
pub const CUP_STEPS: f64 = 1000.0;

/// How to weigh a small dose: stir `yeast` into `water`, use `take` of it.
///
/// Every mass the baker weighs is a whole number of scale steps.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Pinch {
    /// Yeast to weigh, [`FEWEST_STEPS`] scale steps.
    pub yeast: Mass,
    /// Water to stir it into.
    pub water: Mass,
    /// How much of the mixture goes into the dough.
    pub take: Mass,
    /// Yeast in the part used: the dose, as near as whole scale steps allow.
    pub yeast_taken: Mass,
    /// Water in the part used; weigh this much less water into the dough.
    pub water_taken: Mass,
    /// What stays in the cup, to be thrown away.
    pub left: Mass,
}

/// How to weigh `dose` on a scale that shows steps of `scale_step`, with at most the `water` of the stage that the
/// yeast goes into, or [`CUP_STEPS`] where that is less: most of it is thrown away. `None` when the scale can weigh the
/// dose itself, which it shows as [`FEWEST_STEPS`] or more.
///
/// # Errors
/// A dose of nothing, a scale step outside 0.001 to 1000 g, or [`Error::Unreachable`] when that water is too little to
/// thin the yeast enough.
///
/// ```
/// use pointage::{formula::yeast_slurry::weigh_in_water, units::Mass};
/// let g = |grams| Mass::grams(grams);
/// let pinch = weigh_in_water(g(0.4)?, g(1.0)?, g(600.0)?)?.unwrap();
/// assert_eq!((pinch.yeast, pinch.water, pinch.take), (g(5.0)?, g(245.0)?, g(20.0)?));
/// assert_eq!(weigh_in_water(g(4.9)?, g(1.0)?, g(600.0)?)?, None);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn weigh_in_water(dose: Mass, scale_step: Mass, water: Mass) -> Result<Option<Pinch>> {
    let dose_g = check("dose of yeast", dose.as_grams(), 1e-9, 1e8, "g")?;
    let step_g = check("scale step", scale_step.as_grams(), 0.001, 1000.0, "g")?;
    let yeast_g = FEWEST_STEPS * step_g;
    if (dose_g / step_g).round() >= FEWEST_STEPS {
        return Ok(None);
    }
    // Water for a part of so many steps to hold the dose, in whole steps of the scale. With ten
    // steps or more the water is at least as heavy as the yeast, so that it can be stirred.
    let water_g = |steps: u32| {
        let mixture_g = yeast_g * f64::from(steps) * step_g / dose_g;
        ((mixture_g - yeast_g) / step_g).round() * step_g
    };
    let at_hand = water.as_grams().max(CUP_STEPS * step_g);
    let is_there =
        |&steps: &u32| water_g(steps) <= at_hand && f64::from(steps) * step_g <= water.as_grams();
    let Some(steps) = TAKE_STEPS.rev().find(is_there) else {
        return Err(Error::unreachable(
            format!("a dose of {dose_g:.3} g of yeast on a scale of {step_g} g"),
            format!(
                "it takes {:.0} g of water to thin {yeast_g} g of yeast enough, of which {} g go into the {:.0} g of the stage",
                water_g(*TAKE_STEPS.start()),
                f64::from(*TAKE_STEPS.start()) * step_g,
                water.as_grams()
            ),
            "use a finer scale, a larger batch, or a larger dose for a shorter or cooler time",
        ));
    };
    let water_g = water_g(steps);
    let take_g = f64::from(steps) * step_g;
    let mixture_g = yeast_g + water_g;
    Ok(Some(Pinch {
        yeast: Mass::grams(yeast_g)?,
        water: Mass::grams(water_g)?,
        take: Mass::grams(take_g)?,
        yeast_taken: Mass::grams(take_g * yeast_g / mixture_g)?,
        water_taken: Mass::grams(take_g * water_g / mixture_g)?,
        left: Mass::grams((mixture_g - take_g).max(0.0))?,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn g(grams: f64) -> Mass {
        Mass::grams(grams).unwrap()
    }

    /// 0.4 g on a scale of 1 g: 5 g in 245 g, of which 20 g bring 20 * 245/250 = 19.6 g of water; 230 g are left.
    #[test]
    fn a_slurry_worked_by_hand() {
        let pinch = weigh_in_water(g(0.4), g(1.0), g(600.0)).unwrap().unwrap();
        let weighed = [pinch.yeast, pinch.water, pinch.take, pinch.left];
        assert_eq!(weighed, [5.0, 245.0, 20.0, 230.0].map(g));
        assert!((pinch.water_taken.as_grams() - 19.6).abs() < 1e-9);
    }

    #[test]
    fn too_little_water_is_said_with_its_numbers() {
        let e = weigh_in_water(g(0.02), g(1.0), g(500.0)).unwrap_err();
        assert!(e.is_unreachable());
        let text = e.to_string();
        assert!(
            text.contains("2495 g of water") && text.contains("500 g"),
            "{text}"
        );
        // Half the part used is enough where the full one needs too much water.
        assert!(weigh_in_water(g(0.02), g(1.0), g(2500.0)).is_ok());
        // A small stage borrows the water: 0.3 g as 15 g of 5 g in 245 g.
        let small = weigh_in_water(g(0.3), g(1.0), g(15.0)).unwrap().unwrap();
        assert_eq!(
            [small.yeast, small.water, small.take],
            [5.0, 245.0, 15.0].map(g)
        );
        assert!(weigh_in_water(g(0.3), g(1.0), g(9.0)).is_err());
    }

    #[test]
    fn nothing_cannot_be_weighed() {
        assert!(weigh_in_water(g(0.0), g(1.0), g(500.0)).is_err());
        assert!(weigh_in_water(g(1.0), g(0.0), g(500.0)).is_err());
    }

    proptest! {
        #[test]
        fn the_part_used_holds_the_dose(
            steps in 0.02..4.49_f64,
            step_g in prop::sample::select(vec![0.01, 0.1, 1.0, 2.0, 5.0]),
            water_steps in 30.0..1e5_f64,
        ) {
            let dose_g = steps * step_g;
            match weigh_in_water(g(dose_g), g(step_g), g(water_steps * step_g)) {
                Ok(Some(p)) => {
                    // Rounding the water to a step moves a mixture of at least 10 steps by at most
                    // half a step.
                    prop_assert!((p.yeast_taken.as_grams() / dose_g - 1.0).abs() <= 0.053);
                    prop_assert!(p.water.as_grams() <= water_steps.max(CUP_STEPS) * step_g + 1e-9);
                    prop_assert!(p.take.as_grams() <= water_steps * step_g);
                    let parts = p.yeast_taken.as_grams() + p.water_taken.as_grams();
                    prop_assert!((parts - p.take.as_grams()).abs() < 1e-9);
                    let whole = p.take.as_grams() + p.left.as_grams();
                    prop_assert!((whole - p.yeast.as_grams() - p.water.as_grams()).abs() < 1e-9);
                    for mass in [p.yeast, p.water, p.take] {
                        let n = mass.as_grams() / step_g;
                        prop_assert!((n - n.round()).abs() < 1e-6 && n > 4.9);
                    }
                }
                Ok(None) => prop_assert!(false, "a dose below five steps was weighed directly"),
                Err(e) => prop_assert!(e.is_unreachable()),
            }
        }
    }
}
