//! When is it ripe, and for how long may it be used?

use super::simulate::{LONGEST_H, Trajectory};
use super::{EndPoint, Fermentation, Inoculum, Kind, OwnHeat, Parameters, State};
use crate::ambient::TemperatureProfile;
use crate::error::{Error, Result};
use crate::ferment::Composition;

/// A stage that ripens: what it is made of, its yeast, and its end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stage {
    /// Flour, water, salt, sugar.
    pub composition: Composition,
    /// Yeast at its start, g fresh per 100 g flour.
    pub yeast: Inoculum,
    /// When it counts as done.
    pub end: EndPoint,
    /// The dough's own heat, where it matters.
    pub own_heat: Option<OwnHeat>,
}

/// The answer to "when is it ripe?".
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Ready {
    /// Hours until the end point.
    pub hours: f64,
    /// First and last hour of the window in which it may be used: shares of the time to the end point, hours weighted with
    /// the speed of the yeast. The last is missing when it does not come within three weeks.
    pub window_h: (f64, Option<f64>),
    /// The dough at the end point.
    pub at_end: State,
}

impl Stage {
    /// The fermentation of this stage.
    ///
    /// # Errors
    /// A percentage or a dose out of its range.
    pub fn fermentation(&self, p: &Parameters) -> Result<Fermentation> {
        let medium = p.effects.medium(&self.composition)?;
        let volume = p.space.of(&self.composition, 0.0);
        let plain = Fermentation::new(&p.kinetics, medium, volume, self.yeast)?;
        Ok(match self.own_heat {
            Some(heat) => plain.with_own_heat(heat),
            None => plain,
        })
    }

    /// When the stage is ripe along a course that begins with it.
    ///
    /// # Errors
    /// [`Error::Unreachable`] when it is never ripe, with the reason: too cold or too little yeast for
    /// three weeks, or an end point beyond the sugar; other errors for bad input.
    ///
    /// ```
    /// use pointage::ambient::TemperatureProfile;
    /// use pointage::ferment::{EndPoint, Inoculum, Kind, Parameters, Stage};
    /// use pointage::units::Temperature;
    /// let p = Parameters::shipped()?;
    /// let poolish = Stage {
    ///     composition: Kind::Poolish.usual()?,
    ///     yeast: Inoculum { added: 0.3, carried: 0.0 }, // % of its flour, as fresh
    ///     end: EndPoint::Ripe(Kind::Poolish),
    ///     own_heat: None,
    /// };
    /// let night = TemperatureProfile::held(Temperature::celsius(21.0)?);
    /// let ready = poolish.ready(&p, &night)?;
    /// assert!((11.0..16.0).contains(&ready.hours)); // overnight
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn ready(&self, p: &Parameters, course: &TemperatureProfile<'_>) -> Result<Ready> {
        self.ready_from(p, &self.fermentation(p)?.start(), course)
    }

    /// The same for a dough that stands where `from` says when the course begins; its hours count from its start.
    ///
    /// # Errors
    /// As for [`ready`](Self::ready).
    pub fn ready_from(
        &self,
        p: &Parameters,
        from: &State,
        course: &TemperatureProfile<'_>,
    ) -> Result<Ready> {
        let ferment = self.fermentation(p)?;
        let mut trail = Trajectory::new(&ferment, from, course);
        match self.ready_along(p, &mut trail)? {
            Some(ready) => Ok(ready),
            None => Err(never_ripe(p, self, &ferment, course)?),
        }
    }

    /// When a dough that is followed is ripe; `None` when it never is.
    pub(super) fn ready_along(
        &self,
        p: &Parameters,
        trail: &mut Trajectory<'_>,
    ) -> Result<Option<Ready>> {
        let Some(at_end) = self.reach_end(p, 0.0, trail)? else {
            return Ok(None);
        };
        let mut reach = |share: f64| trail.until_lag_hours(share * at_end.lag_hours);
        let open = reach(p.window.open)?.map_or(at_end.hours, |s| s.hours);
        let close = reach(p.window.close)?.map(|s| s.hours);
        Ok(Some(Ready {
            hours: at_end.hours,
            window_h: (open, close),
            at_end,
        }))
    }

    /// The dough when it is ripe, without its window; see [`ready`](Self::ready).
    ///
    /// # Errors
    /// As for [`ready`](Self::ready).
    pub fn ripe(&self, p: &Parameters, course: &TemperatureProfile<'_>) -> Result<State> {
        self.ripe_after(p, course, 0.0)
    }

    /// The same where the gas of its end point counts from some hours on.
    pub(crate) fn ripe_after(
        &self,
        p: &Parameters,
        course: &TemperatureProfile<'_>,
        hours: f64,
    ) -> Result<State> {
        let ferment = self.fermentation(p)?;
        let mut trail = Trajectory::new(&ferment, &ferment.start(), course);
        let made = trail.at(hours)?.gas;
        match self.reach_end(p, made, &mut trail)? {
            Some(state) => Ok(state),
            None => Err(never_ripe(p, self, &ferment, course)?),
        }
    }

    /// The gas made at its end, mL per 100 g flour, where it is so warm then (°C).
    #[must_use]
    pub fn end_gas(&self, p: &Parameters, t: f64) -> f64 {
        p.gas_at(self.end, &p.space.of(&self.composition, 0.0), t)
    }

    /// How far it has risen at its end, V/V0, where it is so warm then (°C).
    #[must_use]
    pub fn end_rise(&self, p: &Parameters, t: f64) -> f64 {
        match self.end {
            EndPoint::Rise(ratio) => ratio,
            EndPoint::Doubled | EndPoint::Ripe(Kind::Dough | Kind::OldDough) => 2.0,
            _ => {
                let volume = p.space.of(&self.composition, 0.0);
                volume.ratio(volume.hold(0.0, self.end_gas(p, t), t), t)
            }
        }
    }

    /// Where it comes to its end after so much gas, mL per 100 g flour.
    fn reach_end(
        &self,
        p: &Parameters,
        made: f64,
        trail: &mut Trajectory<'_>,
    ) -> Result<Option<State>> {
        let volume = p.space.of(&self.composition, 0.0);
        let gas = |t: f64| made + p.gas_at(self.end, &volume, t);
        match self.end {
            // How much doubles it depends on how warm it is then.
            EndPoint::Doubled
            | EndPoint::Rise(_)
            | EndPoint::Ripe(Kind::Dough | Kind::OldDough) => {
                trail.until(&|s| s.gas - gas(s.temperature_c))
            }
            _ => trail.until_gas(gas(f64::NAN)),
        }
    }
}

/// Why a stage never gets there.
pub(crate) fn never_ripe(
    p: &Parameters,
    stage: &Stage,
    ferment: &Fermentation,
    course: &TemperatureProfile<'_>,
) -> Result<Error> {
    let last = ferment.after(&ferment.start(), course, LONGEST_H)?;
    let end = stage.end_gas(p, last.temperature_c);
    let medium = p.effects.medium(&stage.composition)?;
    if end >= medium.sugar {
        return Ok(Error::unreachable(
            "ripeness",
            format!(
                "the end point of {end:.0} mL CO2 per 100 g flour lies beyond the sugar, which gives {:.0} mL",
                medium.sugar
            ),
            "choose an earlier end point, or check the sugar and the gas already made",
        ));
    }
    let share = 100.0 * last.gas / end;
    let warmest = (0..=504)
        .map(|h| course.at(f64::from(h)))
        .fold(f64::MIN, f64::max);
    Ok(Error::unreachable(
        "ripeness",
        format!(
            "after three weeks the dough has come to {share:.0} % of it (its temperature never passes {warmest:.1} °C)"
        ),
        if too_hot(p, warmest) {
            "use a colder place"
        } else {
            "use a warmer place or more yeast"
        },
    ))
}

/// True where yeast makes more gas a few kelvin below.
pub(super) fn too_hot(p: &Parameters, t: f64) -> bool {
    const BELOW_K: f64 = 5.0;
    p.kinetics.gas_rate(t) < p.kinetics.gas_rate(t - BELOW_K)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Temperature;

    /// Yeast makes most gas at some 40 °C (White and Munns 1951): only above that does a colder place help.
    #[test]
    fn a_dough_is_too_hot_above_the_best_temperature_only() {
        let p = Parameters::shipped().unwrap();
        for (t, hot) in [
            (-5.0, false),
            (4.0, false),
            (38.0, false),
            (44.0, true),
            (50.0, true),
        ] {
            assert_eq!(too_hot(&p, t), hot, "{t}");
        }
    }

    /// A dough that shall make twice what it makes in three weeks has come to half of it.
    #[test]
    fn what_is_never_ripe_says_how_far_it_comes() {
        let p = Parameters::shipped().unwrap();
        let mut stage = Stage {
            composition: Composition::lean(62.0, 1.8),
            yeast: Inoculum {
                added: 0.05,
                carried: 0.0,
            },
            end: EndPoint::Doubled,
            own_heat: None,
        };
        let fridge = TemperatureProfile::held(Temperature::celsius(2.0).unwrap());
        let ferment = stage.fermentation(&p).unwrap();
        let made = ferment.after(&ferment.start(), &fridge, LONGEST_H).unwrap();
        stage.end = EndPoint::Gas(2.0 * made.gas);
        let error = stage.ripe(&p, &fridge).unwrap_err().to_string();
        assert!(error.contains("has come to 50 % of it"), "{error}");
        assert!(error.contains("warmer place or more yeast"), "{error}");
    }
}
