//! The fermentation itself: yeast, gas and heat along a temperature course.
//!
//! On a piece of constant temperature everything has a closed form. Elsewhere the course is cut into
//! panels of a few kelvin; on each the two curves are taken at eight points and integrated (see
//! `numeric`), growth stays in closed form against its own clock. The dough's own heat is an excess
//! over the course that decays with the dough's time constant; it is found on the same points by
//! repeating until it no longer moves.

mod growth;
mod isothermal;
mod panel;
mod trajectory;

pub use isothermal::Isothermal;
pub(crate) use trajectory::Trajectory;

use super::volume::Volume;
use super::{Kinetics, Medium};
use crate::ambient::TemperatureProfile;
use crate::error::{Result, check};
use trajectory::Integrator;

/// Longest fermentation that is followed, h: three weeks.
pub const LONGEST_H: f64 = crate::units::MAX_HOURS;

/// Heat that a dough makes and keeps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnHeat {
    /// Warming by a mL of CO2 made per 100 g flour, were no heat lost, K.
    pub kelvin_per_ml: f64,
}

impl OwnHeat {
    /// From the heat of fermentation (kJ per mol CO2), the molar volume of the gas (mL/mol), the dough
    /// made from 100 g flour (kg) and its heat capacity (kJ/(kg K)).
    ///
    /// ```
    /// use pointage::ferment::OwnHeat;
    /// // 200 mL of CO2 in 165 g of dough (2.7 kJ/(kg K)) warm it by 0.92 K.
    /// let heat = OwnHeat::new(50.0, 24_465.0, 0.165, 2.7)?;
    /// assert!((200.0 * heat.kelvin_per_ml - 0.92).abs() < 0.005);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    ///
    /// # Errors
    /// A number out of its range.
    pub fn new(
        kj_per_mol: f64,
        molar_volume: f64,
        dough_kg: f64,
        heat_capacity: f64,
    ) -> Result<Self> {
        check("heat of fermentation", kj_per_mol, 0.0, 300.0, "kJ/mol")?;
        check("molar volume", molar_volume, 2e4, 3e4, "mL/mol")?;
        check("dough from 100 g flour", dough_kg, 0.1, 1.0, "kg")?;
        check(
            "heat capacity of dough",
            heat_capacity,
            1.0,
            5.0,
            "kJ/(kg K)",
        )?;
        Ok(Self {
            kelvin_per_ml: kj_per_mol / molar_volume / (dough_kg * heat_capacity),
        })
    }
}

/// Where a fermentation stands. Amounts are per 100 g flour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Hours since the start.
    pub hours: f64,
    /// Temperature of the dough, °C.
    pub temperature_c: f64,
    /// Living yeast, as fresh, g.
    pub yeast: f64,
    /// CO2 made, mL.
    pub gas: f64,
    /// CO2 still in the dough, mL.
    pub held: f64,
    /// Hours at 27 °C that would have had the same effect on the lag.
    pub lag_hours: f64,
    /// Yeast that already grows; the rest waits for the end of the lag.
    growing: f64,
    /// True once the lag is over.
    awake: bool,
    /// Gas that would have been made with sugar without end, mL.
    potential: f64,
    /// Own heat still in the dough, K above the course.
    excess_k: f64,
}

/// A fermentation: rates, medium, gas space, and the yeast it starts with.
#[derive(Debug, Clone, PartialEq)]
pub struct Fermentation<'a> {
    kinetics: &'a Kinetics,
    medium: Medium,
    volume: Volume,
    own_heat: Option<OwnHeat>,
    start: State,
    /// Growth cap, from the fresh flour, g per 100 g of all flour.
    cap: f64,
}

/// When to stop following a dough, beside the end of the time.
#[derive(Clone, Copy)]
enum Goal<'m> {
    /// At the end of the time only.
    Hours,
    /// At this potential gas, mL.
    Potential(f64),
    /// When this, which must not fall, is zero.
    Measure(&'m dyn Fn(&State) -> f64),
}

impl Goal<'_> {
    fn is_met_by(self, state: &State) -> bool {
        match self {
            Self::Hours => false,
            Self::Potential(wanted) => state.potential >= wanted,
            Self::Measure(measure) => measure(state) >= 0.0,
        }
    }
}

/// Yeast at the start of a stage, g fresh yeast per 100 g flour.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Inoculum {
    /// Added now: it has its lag before it.
    pub added: f64,
    /// Carried in alive by a ripe preferment or old dough: it has had its lag.
    pub carried: f64,
}

impl Inoculum {
    /// All yeast, 1e-6 to 50.
    fn checked_total(&self) -> Result<f64> {
        const UNIT: &str = "% of flour, as fresh";
        check("added yeast", self.added, 0.0, 50.0, UNIT)?;
        check("carried yeast", self.carried, 0.0, 50.0, UNIT)?;
        check("yeast", self.added + self.carried, 1e-6, 50.0, UNIT)
    }
}

impl<'a> Fermentation<'a> {
    /// Begins a fermentation; nothing has been made yet.
    ///
    /// # Errors
    /// Yeast outside 1e-6 to 50 g per 100 g flour.
    pub fn new(
        kinetics: &'a Kinetics,
        medium: Medium,
        volume: Volume,
        yeast: Inoculum,
    ) -> Result<Self> {
        let total = yeast.checked_total()?;
        let start = State {
            hours: 0.0,
            temperature_c: f64::NAN,
            yeast: total,
            gas: 0.0,
            held: 0.0,
            lag_hours: 0.0,
            growing: yeast.carried,
            awake: yeast.added == 0.0,
            potential: 0.0,
            excess_k: 0.0,
        };
        let cap = kinetics.rates().growth_cap_with(medium.fresh_flour);
        Ok(Self {
            kinetics,
            medium,
            volume,
            own_heat: None,
            start,
            cap,
        })
    }

    /// The same, with the dough warmed by its own fermentation.
    #[must_use]
    pub fn with_own_heat(mut self, heat: OwnHeat) -> Self {
        self.own_heat = Some(heat);
        self
    }

    /// The state at the start.
    #[must_use]
    pub fn start(&self) -> State {
        self.start
    }

    /// The state at the start of a dough that already holds some gas (mL per 100 g flour).
    #[must_use]
    pub fn start_holding(&self, held: f64) -> State {
        State {
            held: held.max(0.0),
            ..self.start
        }
    }

    /// The gas space of this dough.
    #[must_use]
    pub fn volume(&self) -> &Volume {
        &self.volume
    }

    /// V/V0 of a state.
    #[must_use]
    pub fn volume_ratio(&self, state: &State) -> f64 {
        self.volume.ratio(state.held, state.temperature_c)
    }

    /// The state after dividing or shaping, which keeps a share of the free gas.
    #[must_use]
    pub fn handled(&self, state: &State, kept: f64) -> State {
        State {
            held: self.volume.handled(state.held, kept, state.temperature_c),
            ..*state
        }
    }

    /// Follows the dough along a course that begins now, for `hours`.
    ///
    /// # Errors
    /// A negative or endless time, or a temperature that the rate law refuses.
    pub fn after(
        &self,
        from: &State,
        course: &TemperatureProfile<'_>,
        hours: f64,
    ) -> Result<State> {
        check("time of the stage", hours, 0.0, LONGEST_H, "h")?;
        self.follow(from, course, hours, Goal::Hours)
            .map(|(state, _)| state)
    }

    /// Follows the dough along a course that begins now until `measure`, which must not fall, reaches
    /// zero; `None` when it has not after three weeks.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub fn until(
        &self,
        from: &State,
        course: &TemperatureProfile<'_>,
        measure: &dyn Fn(&State) -> f64,
    ) -> Result<Option<State>> {
        let (state, reached) = self.follow(from, course, LONGEST_H, Goal::Measure(measure))?;
        Ok(reached.then_some(state))
    }

    /// The state when the gas made has reached `gas` (mL per 100 g flour); `None` when the sugar does
    /// not last for it or three weeks do not suffice.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub fn until_gas(
        &self,
        from: &State,
        course: &TemperatureProfile<'_>,
        gas: f64,
    ) -> Result<Option<State>> {
        // Told through the potential gas, which the sugar does not bend: a straighter road to the root.
        match self.potential_of(gas) {
            Some(wanted) => {
                let goal = Goal::Potential(wanted);
                let (state, reached) = self.follow(from, course, LONGEST_H, goal)?;
                Ok(reached.then_some(state))
            }
            None => Ok(None),
        }
    }

    fn potential_of(&self, gas: f64) -> Option<f64> {
        self.medium.potential_of(gas)
    }

    /// The sugar left in a state.
    fn sugar_at(&self, state: &State) -> Sugar {
        let Medium {
            sugar, sugar_half, ..
        } = self.medium;
        let left = sugar - state.gas;
        Sugar {
            all: sugar,
            half: sugar_half,
            log_all: sugar.ln(),
            left,
            log_left: left.ln(),
            at: state.potential,
        }
    }

    fn follow(
        &self,
        from: &State,
        course: &TemperatureProfile<'_>,
        hours: f64,
        goal: Goal<'_>,
    ) -> Result<(State, bool)> {
        let mut walk = Integrator::new(self, from, course);
        if goal.is_met_by(&walk.state) {
            return Ok((walk.state, true));
        }
        let mut left = hours;
        while left > 0.0 {
            let Some(panel) = walk.step(left)? else {
                break;
            };
            if goal.is_met_by(&panel.end) {
                let x = panel.meets(goal).unwrap_or(1.0);
                return Ok((panel.state_at(x), true));
            }
            left -= panel.length_h;
        }
        Ok((walk.state, false))
    }
}

/// Sugar left (as gas) after `potential`: Newton's method on its logarithm `y`, where
/// `exp(y) + K y` rises and bends one way, so that the steps come down to the root from above.
fn sugar_left(sugar: f64, half: f64, potential: f64) -> f64 {
    if sugar <= 0.0 {
        return 0.0;
    }
    let mut y = sugar.ln();
    let goal = sugar + half * y - potential;
    for _ in 0..100 {
        let e = y.exp();
        let step = (e + half * y - goal) / (e + half);
        // The error after a step is about its square: this one ends below the last bit.
        if step.abs() < 1e-8 {
            return e * (1.0 - step + 0.5 * step * step);
        }
        y -= step;
    }
    y.exp()
}

/// The sugar of a dough, with what is known of how much is left.
#[derive(Debug, Clone, Copy)]
struct Sugar {
    all: f64,
    half: f64,
    log_all: f64,
    /// What was left last, its logarithm, and the potential at which it was.
    left: f64,
    log_left: f64,
    at: f64,
}

impl Sugar {
    /// Gas that is really made when sugar without end would have given `potential`:
    /// `s + K ln s = s0 + K ln s0 - potential` with `s` the sugar left.
    fn gas_of(mut self, potential: f64) -> f64 {
        if self.all == f64::INFINITY {
            potential
        } else {
            self.all - self.left_after(potential)
        }
    }

    /// Share of full speed that the sugar left after `potential` allows, with its slope and bend.
    fn share_after(&mut self, potential: f64) -> [f64; 3] {
        let left = if self.all == f64::INFINITY {
            self.all
        } else {
            self.left_after(potential)
        };
        self.share(left)
    }

    /// The logarithm of what is left after `potential`, by its first three derivatives from where it was last.
    fn log_near(&self, potential: f64) -> f64 {
        let per = 1.0 / (self.left + self.half);
        let on = (potential - self.at) * per;
        let bent = 0.5 - on * per * (self.half - 2.0 * self.left) / 6.0;
        self.log_left - on * (1.0 + on * self.left * per * bent)
    }

    /// The root of [`sugar_left`] begun at the answer before, which is near, with steps of third order
    /// (Halley): one exponential is the rule.
    fn left_after(&mut self, potential: f64) -> f64 {
        let goal = self.all + self.half * self.log_all - potential;
        let mut y = self.log_near(potential);
        for _ in 0..20 {
            let e = y.exp();
            let newton = (e + self.half * y - goal) / (e + self.half);
            let bend = 0.5 * newton * e / (e + self.half);
            let step = if bend.abs() < 0.25 {
                newton / (1.0 - bend)
            } else {
                newton
            };
            y -= step;
            // The error after a step is below a tenth of its cube: 1e-13.
            if step.abs() < 1e-4 {
                self.left = e * (1.0 - step + 0.5 * step * step);
                (self.log_left, self.at) = (y, potential);
                return self.left;
            }
        }
        sugar_left(self.all, self.half, potential)
    }

    /// The share with so much left, its slope over the potential, and how fast that changes.
    fn share(&self, left: f64) -> [f64; 3] {
        if left == f64::INFINITY {
            return [1.0, 0.0, 0.0];
        }
        // With s left and K at half speed: s/(s + K), and ds/dP = -s/(s + K).
        let all = left + self.half;
        let share = left / all;
        let slope = -share * self.half / (all * all);
        [share, slope, slope * (2.0 * left - self.half) / (all * all)]
    }
}

impl Fermentation<'_> {
    /// Relative rates of gas and growth at a temperature.
    fn rates_at(&self, t: f64) -> Result<(f64, f64)> {
        self.kinetics.rates_at(t)
    }

    fn growth_clock(&self, relative_hours: f64) -> f64 {
        self.kinetics.rates().growth_rate * self.medium.growth_factor * relative_hours
    }

    fn gas_clock(&self, relative: f64) -> f64 {
        self.kinetics.gas_scale * self.medium.gas_factor * relative
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ferment::{Inoculum, Parameters};
    use crate::units::Temperature;
    use proptest::prelude::*;

    proptest! {
        /// The closed form and the search on the state itself find the same hour.
        #[test]
        fn gas_is_reached_at_the_hour_that_its_state_says(
            added in 1e-3..5.0_f64,
            carried in prop_oneof![Just(0.0), 1e-3..5.0_f64],
            at in -5.0..50.0_f64,
            gas in 1.0..1500.0_f64,
            cap in prop_oneof![Just(f64::INFINITY), 0.01..3.0_f64],
        ) {
            let p = Parameters::shipped().unwrap();
            let rates = crate::ferment::Rates { growth_cap: cap, ..p.kinetics.rates() };
            let p = p.with_rates(rates).unwrap();
            let dough = crate::ferment::Composition::lean(62.0, 1.8);
            let medium = p.effects.medium(&dough).unwrap();
            let yeast = Inoculum { added, carried };
            let ferment = Fermentation::new(&p.kinetics, medium, p.space.of(&dough, 0.0), yeast).unwrap();
            let course = TemperatureProfile::held(Temperature::celsius(at).unwrap());
            let direct = ferment.until_gas(&ferment.start(), &course, gas).unwrap();
            let wanted = ferment.potential_of(gas).unwrap();
            let searched = ferment.until(&ferment.start(), &course, &|s| s.potential - wanted).unwrap();
            prop_assert_eq!(direct.is_some(), searched.is_some());
            if let (Some(direct), Some(searched)) = (direct, searched) {
                // Rounding of the potential over its speed, nothing else.
                prop_assert!((direct.hours - searched.hours).abs() < 1e-11 * searched.hours.max(1.0));
                prop_assert!((direct.gas - gas).abs() < 1e-9 * gas);
            }
        }
    }

    /// The sugar left meets the law it comes from, `S0 - S + K ln(S0/S)` = potential, from none gone to all
    /// but gone; and the quicker search that begins at the answer before finds the same, whatever that was.
    #[test]
    fn sugar_left_is_that_of_its_law() {
        for (all, half) in [(800.0, 20.0), (100.0, 100.0), (1.0, 50.0)] {
            let mut sugar = Sugar {
                all,
                half,
                log_all: f64::ln(all),
                left: all,
                log_left: f64::ln(all),
                at: 0.0,
            };
            for potential in [0.0, 1e-9, 0.3, 30.0, 90.0, 700.0, 900.0, 5.0, 1200.0, 0.0] {
                let left = sugar_left(all, half, potential);
                let met = all - left + half * (all / left).ln();
                assert!(
                    (met - potential).abs() < 1e-9 * (1.0 + potential),
                    "{all} {potential}"
                );
                let [share, slope, _] = sugar.share_after(potential);
                assert!(
                    (share - left / (left + half)).abs() < 1e-12,
                    "{all} {potential}"
                );
                // Slope and bend against the shares a little before and after.
                let at = |p: f64| sugar_left(all, half, p) / (sugar_left(all, half, p) + half);
                let by = 1e-3 * half;
                let slope_there = (at(potential + by) - at(potential - by)) / (2.0 * by);
                assert!(
                    (slope - slope_there).abs() * half < 1e-5,
                    "{all} {potential}: {slope} {slope_there}"
                );
                let [.., bend] = sugar.share_after(potential);
                let [_, after, _] = sugar.share_after(potential + by);
                let [_, before, _] = sugar.share_after(potential - by);
                let bend_there = (after - before) / (2.0 * by);
                assert!(
                    (bend - bend_there).abs() * half * half < 1e-5,
                    "{all} {potential}: {bend} {bend_there}"
                );
            }
        }
        assert_eq!(sugar_left(0.0, 20.0, 1.0), 0.0);
    }

    /// What three derivatives leave out is of the fourth order: below `on^4`, since by its own measure (the
    /// potential over what is left and K) no further derivative of the logarithm exceeds 6.
    #[test]
    fn sugar_near_by_is_known_to_the_fourth_order() {
        for (all, half, at) in [
            (800.0, 20.0, 100.0),
            (100.0, 30.0, 90.0),
            (50.0, 50.0, 120.0),
        ] {
            let left = sugar_left(all, half, at);
            let sugar = Sugar {
                all,
                half,
                log_all: f64::ln(all),
                left,
                log_left: left.ln(),
                at,
            };
            for on in [-0.05_f64, 0.05] {
                let potential = at + on * (left + half);
                let there = sugar_left(all, half, potential).ln();
                let miss = (sugar.log_near(potential) - there).abs();
                assert!(miss < on.powi(4), "{all} {half} {at} {on}: {miss}");
            }
        }
    }
}
