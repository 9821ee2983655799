//! A dough held at one temperature: the hours of its end points in closed form, without following it.

use super::LONGEST_H;
use super::growth::Growth;
use crate::ambient::TemperatureProfile;
use crate::error::Result;
use crate::ferment::{Kinetics, Medium, Parameters, Stage};

/// A stage held at one temperature, from its start.
#[derive(Debug, Clone, Copy)]
pub struct Isothermal<'k> {
    kinetics: &'k Kinetics,
    medium: Medium,
    /// g fresh yeast per 100 g flour, and whether it has its lag before it.
    yeast: f64,
    asleep: bool,
    t: f64,
    /// Relative rates of gas and growth, and what they come to.
    rates: (f64, f64),
    pace: Pace,
    /// An amount of gas and its potential: many questions are about the same end point.
    known: (f64, f64),
}

impl<'k> Isothermal<'k> {
    /// The stage on a course; `None` where there is no closed form: the temperature changes, or some of
    /// the yeast grows while some waits.
    ///
    /// # Errors
    /// A percentage out of its range, or a temperature that the rate law refuses.
    pub fn new(
        stage: &Stage,
        p: &'k Parameters,
        course: &TemperatureProfile<'_>,
    ) -> Result<Option<Self>> {
        let yeast = stage.yeast;
        let mixed = yeast.added > 0.0 && yeast.carried > 0.0;
        let (Some(t), None, false) = (course.held_at(), stage.own_heat, mixed) else {
            return Ok(None);
        };
        let rates = p.kinetics.rates_at(t)?;
        let medium = p.effects.medium(&stage.composition)?;
        let end = p.gas_at(stage.end);
        let (yeast, asleep) = (yeast.checked_total()?, yeast.added > 0.0);
        Ok(Some(Self {
            kinetics: &p.kinetics,
            medium,
            known: (end, medium.potential_of(end).unwrap_or(f64::INFINITY)),
            yeast,
            asleep,
            t,
            rates,
            pace: Pace::new(&p.kinetics, rates, &medium, yeast, asleep),
        }))
    }

    /// Hours until `gas` has been made (mL per 100 g flour); `None` when the sugar does not last for it or
    /// three weeks do not suffice.
    #[must_use]
    pub fn hours_until_gas(&self, gas: f64) -> Option<f64> {
        self.pace.hours_until(self.potential_of(gas)?)
    }

    /// The same with other kinetics, for a range: their curves, where they are not its own, are taken to
    /// 1e-10 of the rate at 30 °C, before a tilt. `None` also where their rate law refuses the temperature.
    #[must_use]
    pub fn hours_until_gas_with(&self, kinetics: &Kinetics, gas: f64) -> Option<f64> {
        let rates = if kinetics.shares_curves_with(self.kinetics) {
            if kinetics.rates() == self.kinetics.rates() {
                return self.hours_until_gas(gas);
            }
            self.rates
        } else {
            let near = kinetics.rates_nearly_at(self.t);
            if near.0.is_nan() || near.1.is_nan() {
                kinetics.rates_at(self.t).ok()?
            } else {
                near
            }
        };
        let pace = Pace::new(kinetics, rates, &self.medium, self.yeast, self.asleep);
        pace.hours_until(self.potential_of(gas)?)
    }

    fn potential_of(&self, gas: f64) -> Option<f64> {
        if gas == self.known.0 {
            Some(self.known.1)
        } else {
            self.medium.potential_of(gas)
        }
    }
}

/// How fast a dough goes at its one temperature.
#[derive(Debug, Clone, Copy)]
struct Pace {
    /// Hours in which 1 g of yeast makes a mL.
    hours_per_ml: f64,
    lag_h: f64,
    /// Growth rate after the lag, 1/h.
    speed: f64,
    growth: Growth,
}

impl Pace {
    fn new(
        kinetics: &Kinetics,
        (gas_rate, growth_rate): (f64, f64),
        medium: &Medium,
        yeast: f64,
        asleep: bool,
    ) -> Self {
        let rates = kinetics.rates();
        let cap = rates.growth_cap_with(medium.fresh_flour);
        Self {
            hours_per_ml: 1.0 / (kinetics.gas_scale * medium.gas_factor * gas_rate),
            lag_h: if asleep {
                rates.lag27_h / (gas_rate * kinetics.lag_scale)
            } else {
                0.0
            },
            speed: rates.growth_rate * medium.growth_factor * growth_rate,
            growth: Growth::of(yeast, yeast + cap, cap),
        }
    }

    /// Hours until so much potential gas.
    fn hours_until(&self, wanted: f64) -> Option<f64> {
        let yeast = self.growth.m0;
        let yeast_hours = wanted * self.hours_per_ml;
        let in_lag = yeast * self.lag_h;
        let hours = if yeast_hours <= in_lag || self.speed == 0.0 {
            yeast_hours / yeast
        } else {
            let clock = self.growth.clock_at((yeast_hours - in_lag) * self.speed);
            self.lag_h + clock / self.speed
        };
        (hours <= LONGEST_H).then_some(hours)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ferment::{Composition, EndPoint, Inoculum, Rates};
    use crate::rate::{Q10, RateLaw};
    use crate::units::Temperature;
    use proptest::prelude::*;

    proptest! {
        /// The closed form and the dough that is followed agree, also with other kinetics.
        #[test]
        fn the_hour_is_that_of_the_dough_that_is_followed(
            yeast in 1e-3..5.0_f64,
            carried in any::<bool>(),
            at in -5.0..50.0_f64,
            gas in 1.0..1500.0_f64,
            salt in 0.0..3.0_f64,
            mu in prop_oneof![Just(0.0), 0.05..0.6_f64],
            tilt in -0.3..0.3_f64,
        ) {
            let shipped = Parameters::shipped().unwrap();
            let rates = Rates { growth_rate: mu, ..shipped.kinetics.rates() };
            let mut p = shipped.with_rates(rates).unwrap();
            p.kinetics = p.kinetics.with_tilt(tilt, p.spread.tilt_about).unwrap();
            let (added, carried) = if carried { (0.0, yeast) } else { (yeast, 0.0) };
            let stage = Stage {
                composition: Composition::lean(62.0, salt),
                yeast: Inoculum { added, carried },
                end: EndPoint::Gas(gas),
                own_heat: None,
            };
            let course = TemperatureProfile::held(Temperature::celsius(at).unwrap());
            let held = Isothermal::new(&stage, &shipped, &course).unwrap().unwrap();
            for p in [&shipped, &p] {
                let ferment = stage.fermentation(p).unwrap();
                for gas in [gas, 0.9 * gas] {
                    let followed = ferment.until_gas(&ferment.start(), &course, gas).unwrap();
                    // Other curves are known to 1e-10 of the rate at 30 °C, which counts for more in the cold.
                    let (hours, near) = if std::ptr::eq(p, &shipped) {
                        (held.hours_until_gas(gas), 0.0)
                    } else {
                        let slow = p.kinetics.rates_at(at).unwrap();
                        let near = 1e-10 / slow.0 + 1e-10 / slow.1;
                        (held.hours_until_gas_with(&p.kinetics, gas), near)
                    };
                    match (hours, followed.map(|s| s.hours)) {
                        // Rounding of the hours, and of the end of the lag.
                        (Some(a), Some(b)) => prop_assert!((a - b).abs() < (1e-9 + near) * b.max(1.0), "{a} {b}"),
                        (a, b) => prop_assert_eq!(a, b),
                    }
                }
            }
        }
    }

    #[test]
    fn a_dough_that_drifts_warms_itself_or_is_mixed_has_no_closed_form() {
        let p = Parameters::shipped().unwrap();
        let stage = |added, carried| Stage {
            composition: Composition::lean(62.0, 0.0),
            yeast: Inoculum { added, carried },
            end: EndPoint::Doubled,
            own_heat: None,
        };
        let course = TemperatureProfile::held(Temperature::celsius(21.0).unwrap());
        assert!(
            Isothermal::new(&stage(0.5, 0.5), &p, &course)
                .unwrap()
                .is_none()
        );
        assert!(
            Isothermal::new(&stage(0.5, 0.0), &p, &course)
                .unwrap()
                .is_some()
        );
        let room = crate::ambient::Ambient::ramps(&[(0.0, 20.0), (5.0, 22.0)]).unwrap();
        let drifting = TemperatureProfile::of_room(&room, 0.0);
        assert!(
            Isothermal::new(&stage(0.5, 0.0), &p, &drifting)
                .unwrap()
                .is_none()
        );
    }

    /// Other rates with the same curves count; and where the other growth law is refused there is no answer, also
    /// for what is made before anything grows.
    #[test]
    fn other_rates_count_and_a_law_that_is_refused_gives_no_hour() {
        let p = Parameters::shipped().unwrap();
        let stage = Stage {
            composition: Composition::lean(62.0, 1.8),
            yeast: Inoculum {
                added: 0.5,
                carried: 0.0,
            },
            end: EndPoint::Doubled,
            own_heat: None,
        };
        let course = TemperatureProfile::held(Temperature::celsius(21.0).unwrap());
        let held = Isothermal::new(&stage, &p, &course).unwrap().unwrap();
        let gas = p.gas_at(EndPoint::Doubled);
        let rates = Rates {
            growth_rate: 2.0 * p.kinetics.rates().growth_rate,
            lag27_h: 0.5,
            ..p.kinetics.rates()
        };
        let other = p.with_rates(rates).unwrap();
        let ferment = stage.fermentation(&other).unwrap();
        let followed = ferment
            .until_gas(&ferment.start(), &course, gas)
            .unwrap()
            .unwrap();
        let hours = held.hours_until_gas_with(&other.kinetics, gas).unwrap();
        // Rounding, as above.
        assert!((hours - followed.hours).abs() < 1e-9 * hours);
        assert!(hours < 0.95 * held.hours_until_gas(gas).unwrap());
        let warm_only = RateLaw::Q10(Q10::new(2.0, 30.0, [25.0, 40.0]).unwrap());
        let long_lag = Rates {
            lag27_h: 48.0,
            ..rates
        };
        let refused = Kinetics::new(p.kinetics.gas().clone(), warm_only, long_lag).unwrap();
        assert_eq!(held.hours_until_gas_with(&refused, 10.0), None);
    }
}
