//! A dough held at one temperature: the hours of its end points in closed form, without following it.

use super::LONGEST_H;
use super::growth::Growth;
use super::sensitivity::{Direction, GasMoved};
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
        let potential = match self.end {
            (end, potential) if end == gas => potential,
            _ => self.medium.potential_of(gas),
        };
        let held = self.with(kinetics, self.yeast)?;
        let hours = held.hours_until(potential? / held.ml_per_g_h + held.yeast_hours(held.dead_h));
        (hours <= LONGEST_H).then_some(hours)
    }

    /// Yeast after some hours, g fresh per 100 g flour; `None` where the rate law refuses the temperature.
    #[must_use]
    pub fn yeast_after(&self, hours: f64) -> Option<f64> {
        Some(self.with(self.kinetics, self.yeast)?.yeast(hours))
    }

    /// Gas made after some hours with these kinetics, mL per 100 g flour; `None` as above.
    #[cfg(feature = "learn")]
    pub(crate) fn gas_after(&self, kinetics: &Kinetics, hours: f64) -> Option<f64> {
        let held = self.with(kinetics, self.yeast)?;
        Some(self.medium.gas_after(0.0, held.potential(hours).max(0.0)))
    }

    /// Gas that sugar without end would have given after some hours, over that of the end point, with another
    /// dose of added yeast; not a number where the sugar does not last for the end point.
    pub(in crate::ferment) fn potential_share(&self, added: f64, hours: f64) -> f64 {
        let yeast = Inoculum {
            added,
            ..self.yeast
        };
        let (Some(held), Some(wanted)) = (self.with(self.kinetics, yeast), self.end.1) else {
            return f64::NAN;
        };
        held.ml_per_g_h * (held.yeast_hours(hours) - held.yeast_hours(held.dead_h)).max(0.0)
            / wanted
    }

    /// How its gas moves after some hours; see [`GasMoved`].
    pub(in crate::ferment) fn gas_moved(&self, hours: f64) -> Option<GasMoved> {
        /// A dough whose potential is this near to that of its end point is there.
        const AT_END: f64 = 1e-12;
        let held = self.with(self.kinetics, self.yeast)?;
        let potential = held.potential(hours);
        let end = match self.end {
            (gas, Some(wanted)) if (potential / wanted - 1.0).abs() < AT_END => gas,
            _ => self.medium.gas_after(0.0, potential),
        };
        let share = self.medium.sugar_share(end);
        let (then, dead) = (
            held.yeast_hours_moved(hours),
            held.yeast_hours_moved(held.dead_h),
        );
        let [dose, cap, growth, lag] =
            std::array::from_fn(|i| held.ml_per_g_h * (then[i] - dead[i]));
        let by = Direction::ALL.map(|by| {
            let (log_gas, log_growth) = self.kinetics.log_rates_moved(by, self.yeast, self.t);
            let alone = match by {
                Direction::Dose => dose,
                Direction::GrowthCap => cap,
                Direction::Lag => lag,
                _ => 0.0,
            };
            // A dough that makes gas faster is also sooner through its lag.
            share * (alone + log_gas * (potential - lag) + log_growth * growth)
        });
        Some(GasMoved {
            by,
            per_hour: share * held.ml_per_g_h * held.yeast(hours),
            end,
            hours,
            mean_c: self.t,
        })
    }

    /// The same with this yeast alone.
    pub(in crate::ferment) fn with_added(&self, added: f64) -> Self {
        let yeast = Inoculum {
            added,
            carried: 0.0,
        };
        Self {
            yeast,
            ..self.clone()
        }
    }

    /// What goes on in it, with these kinetics and this yeast.
    fn with(&self, kinetics: &Kinetics, yeast: Inoculum) -> Option<Held> {
        let (untilted, growth_rate) = if kinetics.shares_curves_with(self.kinetics) {
            self.rates
        } else {
            kinetics.untilted_rates_at(self.t).ok()?
        };
        let total = yeast.added + yeast.carried;
        let longer = kinetics.longer(total, self.t);
        let gas_rate = kinetics.tilted(untilted, self.t) / longer;
        let rates = kinetics.rates();
        let cap = rates.growth_cap_with(self.medium.fresh_flour);
        let (lag_h, dead_h) = if yeast.added > 0.0 {
            let lag_h = rates.lag27_h / (gas_rate * kinetics.lag_scale);
            (lag_h, kinetics.dead_time_h)
        } else {
            (0.0, 0.0)
        };
        Some(Held {
            growth: Growth::of(total, total + cap, cap),
            speed: rates.growth_rate * self.medium.growth_factor * growth_rate / longer,
            ml_per_g_h: kinetics.gas_scale * self.medium.gas_factor * gas_rate,
            lag_h,
            dead_h,
        })
    }
}

/// A dough at one temperature: its yeast waits for the end of the lag, then grows; it makes gas from the end of the dead
/// time on.
struct Held {
    growth: Growth,
    /// Of the clock of growth.
    speed: f64,
    ml_per_g_h: f64,
    lag_h: f64,
    dead_h: f64,
}

impl Held {
    fn yeast(&self, hours: f64) -> f64 {
        let grown_h = (hours - self.lag_h).max(0.0);
        self.growth.mass(self.speed * grown_h)
    }

    /// Integral of the yeast over the hours.
    fn yeast_hours(&self, hours: f64) -> f64 {
        let grown_h = (hours - self.lag_h).max(0.0);
        self.growth.m0 * hours.min(self.lag_h) + self.growth.yeast_hours(self.speed, grown_h)
    }

    /// Gas that sugar without end would have given.
    fn potential(&self, hours: f64) -> f64 {
        self.ml_per_g_h * (self.yeast_hours(hours) - self.yeast_hours(self.dead_h))
    }

    /// How the integral of the yeast over the hours moves with the logarithms of the yeast, its cap, the speed of growth
    /// and the lag.
    fn yeast_hours_moved(&self, hours: f64) -> [f64; 4] {
        let (growth, grown_h) = (&self.growth, hours - self.lag_h);
        if grown_h <= 0.0 || self.speed == 0.0 {
            return [growth.m0 * hours, 0.0, 0.0, 0.0];
        }
        let theta = self.speed * grown_h;
        let mass = growth.mass(theta);
        let grown = growth.integral(theta) / self.speed;
        let by_dose = growth.integral_by_dose(theta) / self.speed;
        // Twice the yeast with twice the cap is twice the dough.
        let by_cap = grown - by_dose;
        [
            growth.m0 * self.lag_h + by_dose,
            by_cap,
            grown_h * mass - grown,
            self.lag_h * (growth.m0 - mass),
        ]
    }

    /// The hours at which that integral has come to so much.
    fn hours_until(&self, yeast_hours: f64) -> f64 {
        let growing = yeast_hours - self.growth.m0 * self.lag_h;
        if growing <= 0.0 || self.speed == 0.0 {
            yeast_hours / self.growth.m0
        } else {
            self.lag_h + self.growth.clock_at(growing * self.speed) / self.speed
        }
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
