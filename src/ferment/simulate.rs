//! The fermentation itself: yeast, gas and heat along a temperature profile.
//!
//! On a piece of constant temperature everything has a closed form. Elsewhere the profile is cut into
//! panels of a few kelvin; on each the two curves are taken at eight points and integrated (see
//! `numeric`), growth stays in closed form against its own clock. The dough's own heat is an excess
//! over the profile that decays with the dough's time constant; it is found on the same points by
//! repeating until it no longer moves.

mod growth;
mod isothermal;
mod panel;
mod sensitivity;
mod state;
mod trajectory;

pub use isothermal::Isothermal;
pub(super) use sensitivity::{Direction, GasMoved};
pub use state::{Measurement, State};
pub(crate) use trajectory::Trajectory;

use super::volume::Volume;
use super::{Kinetics, Medium};
use crate::ambient::TemperatureProfile;
use crate::error::{Result, check};
use crate::units::Temperature;

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
        let what = "heat capacity of dough";
        check(what, heat_capacity, 1.0, 5.0, "kJ/(kg K)")?;
        Ok(Self {
            kelvin_per_ml: kj_per_mol / molar_volume / (dough_kg * heat_capacity),
        })
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

/// A fermentation: rates, medium, gas space, and the yeast it starts with.
#[derive(Debug, Clone, PartialEq)]
pub struct Fermentation {
    kinetics: Kinetics,
    medium: Medium,
    volume: Volume,
    own_heat: Option<OwnHeat>,
    yeast: Inoculum,
    /// Growth cap, from the fresh flour, g per 100 g of all flour.
    cap: f64,
}

impl Fermentation {
    /// Begins a fermentation; nothing has been made yet.
    ///
    /// # Errors
    /// Yeast outside 1e-6 to 50 g per 100 g flour.
    pub fn new(
        kinetics: &Kinetics,
        medium: Medium,
        volume: Volume,
        yeast: Inoculum,
    ) -> Result<Self> {
        yeast.checked_total()?;
        Ok(Self {
            cap: kinetics.rates().growth_cap_with(medium.fresh_flour),
            kinetics: kinetics.for_dose(yeast.added + yeast.carried),
            medium,
            volume,
            own_heat: None,
            yeast,
        })
    }

    /// The same, with the dough warmed by its own fermentation.
    #[must_use]
    pub fn with_own_heat(mut self, heat: OwnHeat) -> Self {
        self.own_heat = Some(heat);
        self
    }

    /// The state at the start of a dough of this temperature.
    #[must_use]
    pub fn start_at(&self, dough: Temperature) -> State {
        State {
            temperature_c: dough.as_celsius(),
            ..self.start()
        }
    }

    /// The state at the start, at the 25 °C at which gas is counted until a profile says otherwise.
    #[must_use]
    pub fn start(&self) -> State {
        State {
            hours: 0.0,
            temperature_c: 25.0,
            yeast: self.yeast.added + self.yeast.carried,
            gas: 0.0,
            held: 0.0,
            lag_hours: 0.0,
            growing: self.yeast.carried,
            awake: self.yeast.added == 0.0,
            potential: 0.0,
            excess_k: 0.0,
        }
    }

    /// The gas space of this dough.
    #[must_use]
    pub(crate) fn volume(&self) -> &Volume {
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

    /// Follows the dough along a profile that begins now, for `hours`.
    ///
    /// # Errors
    /// A negative or endless time, or a temperature that the rate law refuses.
    pub fn after(
        &self,
        from: &State,
        profile: &TemperatureProfile<'_>,
        hours: f64,
    ) -> Result<State> {
        check("time of the stage", hours, 0.0, LONGEST_H, "h")?;
        Trajectory::new(self, from, profile).at(hours)
    }

    /// Follows the dough along a profile that begins now until `measure`, which must not fall, reaches
    /// zero; `None` when it has not after three weeks.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub fn until(
        &self,
        from: &State,
        profile: &TemperatureProfile<'_>,
        measure: &dyn Fn(&State) -> f64,
    ) -> Result<Option<State>> {
        Trajectory::new(self, from, profile).until(measure)
    }

    /// The state when the gas made has reached `gas` (mL per 100 g flour); `None` when the sugar does
    /// not last for it or three weeks do not suffice.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub fn until_gas(
        &self,
        from: &State,
        profile: &TemperatureProfile<'_>,
        gas: f64,
    ) -> Result<Option<State>> {
        Trajectory::new(self, from, profile).until_gas(gas)
    }

    /// Warming by a mL of gas, were no heat lost; see [`OwnHeat`].
    fn kelvin_per_ml(&self) -> f64 {
        self.own_heat.map_or(0.0, |own| own.kelvin_per_ml)
    }

    /// Growth counted by its own clock, after so many hours at full relative speed.
    fn growth_clock(&self, relative_hours: f64) -> f64 {
        self.kinetics.rates().growth_rate * self.medium.growth_factor * relative_hours
    }

    /// Hours of the dead time that are left so many hours after mixing; none where no yeast was added.
    fn dead_h_after(&self, hours: f64) -> f64 {
        const ROUNDING_H: f64 = 1e-9;
        let left = self.kinetics.dead_time_h - hours;
        if self.yeast.added > 0.0 && left > ROUNDING_H {
            left
        } else {
            0.0
        }
    }

    /// Gas that a gram of yeast makes, likewise.
    fn gas_clock(&self, relative_hours: f64) -> f64 {
        self.kinetics.gas_scale * self.medium.gas_factor * relative_hours
    }
}

/// Sugar left (as gas) when there was `from` of it and sugar without end would have given `more` gas since:
/// `s + K ln s = from + K ln(from) - more`, by Newton's method on the logarithm of the share that is left.
pub(super) fn sugar_left(from: f64, half: f64, more: f64) -> f64 {
    /// From here one step of the next order ends below the last bit.
    const NEAR: f64 = 1e-5;
    if from <= 0.0 {
        return 0.0;
    }
    let (half, more) = (half / from, more / from);
    // By the first terms of its series, where they are a good guess; else from above.
    let gone = more / (1.0 + half);
    let curved = 0.5 * gone * gone * half / (1.0 + half);
    let mut left = if gone < 0.5 { 1.0 - gone + curved } else { 1.0 };
    let mut y = left.ln();
    for _ in 0..100 {
        let slope = left + half;
        let step = (left + half * y - 1.0 + more) / slope;
        if step.abs() < NEAR {
            let step = step * (1.0 + 0.5 * step * left / slope);
            return from * left * (1.0 - step + 0.5 * step * step);
        }
        y -= step;
        left = y.exp();
    }
    from * left
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
            let wanted = medium.potential_of(gas).unwrap();
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
    /// but gone; in one step or in two.
    #[test]
    fn sugar_left_is_that_of_its_law() {
        for (all, half) in [(800.0, 20.0), (100.0, 100.0), (1.0, 50.0)] {
            for potential in [0.0, 1e-9, 0.3, 30.0, 90.0, 700.0, 900.0, 1200.0] {
                let left = sugar_left(all, half, potential);
                let met = all - left + half * (all / left).ln();
                assert!(
                    (met - potential).abs() < 1e-9 * (1.0 + potential),
                    "{all} {potential}"
                );
                let midway = sugar_left(all, half, 0.4 * potential);
                let again = sugar_left(midway, half, 0.6 * potential);
                assert!((again / left - 1.0).abs() < 1e-9, "{all} {potential}");
            }
        }
        assert_eq!(sugar_left(0.0, 20.0, 1.0), 0.0);
    }
}
