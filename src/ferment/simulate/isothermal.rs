//! A dough held at one temperature: the hours of its end points in closed form, without following it.

use super::LONGEST_H;
use super::growth::Growth;
use crate::ambient::TemperatureProfile;
use crate::error::Result;
use crate::ferment::{Inoculum, Kinetics, Medium, Parameters, Stage};

/// A stage held at one temperature, from its start.
#[derive(Debug, Clone)]
pub struct Isothermal<'p> {
    kinetics: &'p Kinetics,
    medium: Medium,
    yeast: Inoculum,
    pub(crate) t: f64,
    /// Relative rates of gas (before a tilt) and growth.
    rates: (f64, f64),
    /// The gas of its end point, and its potential: most questions are about it.
    end: (f64, Option<f64>),
}

impl<'p> Isothermal<'p> {
    /// The stage on a course; `None` where there is no closed form: the temperature changes, or some of
    /// the yeast grows while some waits.
    ///
    /// # Errors
    /// A percentage out of its range, or a temperature that the rate law refuses.
    pub fn new(
        stage: &Stage,
        p: &'p Parameters,
        course: &TemperatureProfile<'_>,
    ) -> Result<Option<Self>> {
        let yeast = stage.yeast;
        let mixed = yeast.added > 0.0 && yeast.carried > 0.0;
        let (Some(t), None, false) = (course.held_at(), stage.own_heat, mixed) else {
            return Ok(None);
        };
        yeast.checked_total()?;
        let medium = p.effects.medium(&stage.composition)?;
        let gas = stage.end_gas(p, t);
        Ok(Some(Self {
            kinetics: &p.kinetics,
            medium,
            yeast,
            t,
            rates: p.kinetics.untilted_rates_at(t)?,
            end: (gas, medium.potential_of(gas)),
        }))
    }

    /// Hours until `gas` has been made (mL per 100 g flour), with these kinetics, its own or others; `None` when
    /// the sugar does not last for it, three weeks do not suffice, or their rate law refuses the temperature.
    #[must_use]
    pub fn hours_until_gas(&self, kinetics: &Kinetics, gas: f64) -> Option<f64> {
        let (untilted, growth_rate) = if kinetics.shares_curves_with(self.kinetics) {
            self.rates
        } else {
            kinetics.untilted_rates_at(self.t).ok()?
        };
        let gas_rate = kinetics.tilted(untilted, self.t);
        let rates = kinetics.rates();
        let cap = rates.growth_cap_with(self.medium.fresh_flour);
        let yeast = self.yeast.added + self.yeast.carried;
        // All but the dead time, which goes by the clock, takes so many times as long.
        let longer = kinetics.longer(yeast, self.t);
        let ml_per_g_h = kinetics.gas_scale * self.medium.gas_factor * gas_rate;
        let potential = match self.end {
            (end, potential) if end == gas => potential,
            _ => self.medium.potential_of(gas),
        };
        let (lag_h, dead_h) = if self.yeast.added > 0.0 {
            let lag_h = rates.lag27_h / (gas_rate * kinetics.lag_scale);
            (lag_h, kinetics.dead_time_h / longer)
        } else {
            (0.0, 0.0)
        };
        let speed = rates.growth_rate * self.medium.growth_factor * growth_rate;
        let growth = Growth::of(yeast, yeast + cap, cap);
        // What the yeast would have made in the dead time is not made.
        let idle = if dead_h <= lag_h || speed == 0.0 {
            yeast * dead_h
        } else {
            yeast * lag_h + growth.integral((dead_h - lag_h) * speed) / speed
        };
        let yeast_hours = potential? / ml_per_g_h + idle;
        let hours = if yeast_hours <= yeast * lag_h || speed == 0.0 {
            yeast_hours / yeast
        } else {
            lag_h + growth.clock_at((yeast_hours - yeast * lag_h) * speed) / speed
        };
        let hours = hours * longer;
        (hours <= LONGEST_H).then_some(hours)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ferment::{Composition, EndPoint, Rates};
    use crate::rate::RateLaw;
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
            dead in prop_oneof![Just(0.0), 0.01..3.0_f64],
        ) {
            let shipped = Parameters::shipped().unwrap();
            let rates = Rates { growth_rate: mu, ..shipped.kinetics.rates() };
            let mut p = shipped.with_rates(rates).unwrap();
            p.kinetics = p.kinetics.with_tilt(tilt, p.spread.tilt_about).unwrap();
            p.kinetics = p.kinetics.with_dead_time(dead).unwrap();
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
                    let hours = held.hours_until_gas(&p.kinetics, gas);
                    match (hours, followed.map(|s| s.hours)) {
                        // Rounding of the hours, and of the end of the lag.
                        (Some(a), Some(b)) => prop_assert!((a - b).abs() < 1e-9 * b.max(1.0), "{a} {b}"),
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
        let gas = stage.end_gas(&p, 21.0);
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
        let hours = held.hours_until_gas(&other.kinetics, gas).unwrap();
        // Rounding, as above.
        assert!((hours - followed.hours).abs() < 1e-9 * hours);
        assert!(hours < 0.95 * held.hours_until_gas(&p.kinetics, gas).unwrap());
        let warm_only = RateLaw::q10(2.0, 30.0, [25.0, 40.0]).unwrap();
        let long_lag = Rates {
            lag27_h: 48.0,
            ..rates
        };
        let refused = Kinetics::new(p.kinetics.gas().clone(), warm_only, long_lag).unwrap();
        assert_eq!(held.hours_until_gas(&refused, 10.0), None);
    }
}
