//! How much yeast, so that it is ripe at the wanted hour: the inverse of ripening.

use super::{EndPoint, Inoculum, Isothermal, Parameters, Stage};
use crate::ambient::TemperatureProfile;
use crate::error::{Error, Result, check};
use crate::numeric;

/// Most and least yeast that a dose is looked for in, g fresh per 100 g flour.
pub(crate) const MOST: f64 = 20.0;
const LEAST: f64 = 1e-4;

/// A dose to begin the search with for a time, % fresh yeast.
const A_PINCH: f64 = 0.3;

impl Stage {
    /// The dose of added yeast, as fresh in % of the stage's own flour, with which the stage is ripe after `hours` along the course; the added
    /// yeast of `self` is ignored, the carried one kept.
    ///
    /// # Errors
    /// [`Error::Unreachable`] when no dose from 0.0001 to 20 % does it, with the reason; other errors
    /// for bad input.
    ///
    /// ```
    /// use pointage::ambient::TemperatureProfile;
    /// use pointage::ferment::{EndPoint, Inoculum, Kind, Parameters, Rates, Stage};
    /// use pointage::units::Temperature;
    /// let p = Parameters::shipped()?;
    /// let poolish = Stage {
    ///     composition: Kind::Poolish.usual()?,
    ///     yeast: Inoculum::default(),
    ///     end: EndPoint::Ripe(Kind::Poolish),
    ///     own_heat: None,
    /// };
    /// let night = TemperatureProfile::held(Temperature::celsius(21.0)?);
    /// let dose = poolish.dose_for(&p, &night, 13.0)?;
    /// // Growth overnight replaces part of the yeast that `dose x time = constant` would ask for.
    /// let still = p.with_rates(Rates { growth_rate: 0.0, ..p.kinetics.rates() })?;
    /// assert!(dose < poolish.dose_for(&still, &night, 13.0)?);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn dose_for(
        &self,
        p: &Parameters,
        course: &TemperatureProfile<'_>,
        hours: f64,
    ) -> Result<f64> {
        check("time until ripe", hours, 0.05, super::LONGEST_H, "h")?;
        let pinch = Self {
            yeast: Inoculum {
                added: A_PINCH,
                ..self.yeast
            },
            ..*self
        };
        let held = Isothermal::new(&pinch, p, course)?;
        let log_excess = |added: f64| -> Result<f64> {
            if let Some(held) = &held {
                return Ok(held.potential_share(added, hours).ln());
            }
            let stage = Self {
                yeast: Inoculum {
                    added,
                    ..self.yeast
                },
                ..*self
            };
            let f = stage.fermentation(p)?;
            let then = f.after(&f.start(), course, hours)?;
            let end = p.gas_at(self.end, f.volume(), then.temperature_c);
            Ok((then.gas / end).ln())
        };
        match search(A_PINCH, log_excess)? {
            Search::Dose(dose) => Ok(dose),
            Search::LeastIsTooMuch => Err(Error::unreachable(
                format!("a dose for {hours:.1} h"),
                format!("even {LEAST} % fresh yeast, or the yeast carried in, is ripe sooner"),
                "shorten the time or use a colder place",
            )),
            Search::MostIsTooLittle { share } => Err(Error::unreachable(
                format!("a dose for {hours:.1} h"),
                format!(
                    "with {MOST} % fresh yeast it comes to {:.0} % of its end point in that time",
                    100.0 * share
                ),
                if super::ripening::too_hot(p, course.at(hours)) {
                    "allow more time or use a colder place"
                } else {
                    "allow more time or use a warmer place"
                },
            )),
        }
    }
}

/// What a search for a dose came to.
pub(crate) enum Search {
    /// The dose, g fresh per 100 g flour.
    Dose(f64),
    /// The least dose does more than is wanted.
    LeastIsTooMuch,
    /// The most dose does less: this share of it.
    MostIsTooLittle { share: f64 },
}

/// The dose at which `log_share`, the logarithm of what a dose does over what it shall do, is zero. It
/// must rise with the dose.
pub(crate) fn search(
    first_guess: f64,
    mut log_share: impl FnMut(f64) -> Result<f64>,
) -> Result<Search> {
    let (least, most) = (LEAST.ln(), MOST.ln());
    let mut miss = |log_dose: f64| log_share(log_dose.exp().clamp(LEAST, MOST));
    // Gas follows the dose nearly one to one in the logarithm: the secant needs a few steps. Where it
    // leaves the range of doses, bracketing decides whether there is a dose at all.
    if let Some(log_dose) = numeric::meet(first_guess.ln(), &mut miss)?
        && (least..=most).contains(&log_dose)
    {
        return Ok(Search::Dose(log_dose.exp()));
    }
    if miss(least)? > 0.0 {
        return Ok(Search::LeastIsTooMuch);
    }
    let at_most = miss(most)?;
    if at_most < 0.0 {
        return Ok(Search::MostIsTooLittle {
            share: at_most.exp(),
        });
    }
    let found = numeric::root(|x| miss(x).unwrap_or(f64::NAN), least, most);
    let dose = found.map(f64::exp);
    let dose = dose.ok_or(Error::not_settled("the dose", 200))?;
    Ok(Search::Dose(dose))
}

/// A recipe that works in the baker's own kitchen: it fixes the end point.
///
/// # Errors
/// A dose or a time out of range, or a temperature that the rate law refuses.
pub fn end_point_from_recipe(
    p: &Parameters,
    recipe: &Stage,
    course: &TemperatureProfile<'_>,
    hours: f64,
) -> Result<EndPoint> {
    let what = "time of the working recipe";
    check(what, hours, 0.05, super::LONGEST_H, "h")?;
    let ferment = recipe.fermentation(p)?;
    let gas = ferment.after(&ferment.start(), course, hours)?.gas;
    if gas <= 0.0 {
        return Err(Error::unreachable(
            "an anchor on the working recipe",
            "at its temperature the yeast makes no gas",
            "check the temperature of the working recipe",
        ));
    }
    Ok(EndPoint::Gas(gas))
}
