//! The DDT formula (desired dough temperature) of the trade: water from the mean of three or four temperatures.
//!
//! ```text
//! T_water = n T_dough - (T_flour + T_room [+ T_preferment]) - friction        n = 3 [4]
//! T_water = base - (T_flour + T_room [+ T_preferment])                        base = n T_dough - friction
//! ```
//!
//! The *friction factor* belongs to the sum: the mix itself warms the dough by `friction / n`. It
//! also carries what the rule leaves out (wetting heat, bowl, unequal masses), so it is a number of
//! one mixer with one dough. Sources: H. Wihlfahrt, *A Treatise on Baking* (the mean of three);
//! T. Lehmann, *In Lehmann's Terms*, PMQ, spring 2003 (friction from a trial mix).

use super::cautions::{Limits, wanted_water};
use crate::error::{Result, check};
use crate::units::{Temperature, TemperatureDifference};

/// What the rule counts beside the water.
///
/// ```
/// use pointage::heat::ddt_formula::DdtFormula;
/// use pointage::units::{Temperature, TemperatureDifference};
/// // T. Lehmann, Pizza Today, June 2018, p. 29: 240 - (65 + 75 + 35) = 65 °F
/// let rule = DdtFormula {
///     flour: Temperature::fahrenheit(65.0)?,
///     room: Temperature::fahrenheit(75.0)?,
///     preferment: None,
/// };
/// let dough = Temperature::fahrenheit(80.0)?;
/// let water = rule.water_for_dough(dough, TemperatureDifference::fahrenheit(35.0)?)?;
/// assert!((water.as_fahrenheit() - 65.0).abs() < 1e-9);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DdtFormula {
    /// Flour.
    pub flour: Temperature,
    /// Room, which stands for the bowl and the air.
    pub room: Temperature,
    /// Preferment, when there is one: the rule then has four terms.
    pub preferment: Option<Temperature>,
}

impl DdtFormula {
    /// Temperatures counted, water included: 3, or 4 with a preferment.
    #[must_use]
    pub fn terms(&self) -> u8 {
        if self.preferment.is_some() { 4 } else { 3 }
    }

    /// Water for a desired dough temperature, with the friction factor.
    ///
    /// An answer below 0 °C means that the pour needs ice ([`crate::heat::ice`]).
    ///
    /// # Errors
    /// [`Unreachable`](crate::Error::Unreachable) above 100 °C or below -100 °C.
    pub fn water_for_dough(
        &self,
        dough: Temperature,
        friction: TemperatureDifference,
    ) -> Result<Temperature> {
        let sum_c = f64::from(self.terms()) * dough.as_celsius();
        wanted_water(sum_c - self.known_c() - friction.as_kelvin())
    }

    /// Water for a base temperature (°C), the sum that flour, room, water (and preferment) shall make: one for
    /// as many terms as are counted here.
    ///
    /// # Errors
    /// As [`water_for_dough`](Self::water_for_dough).
    ///
    /// ```
    /// use pointage::heat::ddt_formula::DdtFormula;
    /// use pointage::units::Temperature;
    /// // É. Dufour (1930s), as reported by M. Dewalque: base 60, flour 5, room 6, water 49 °C
    /// let rule = DdtFormula {
    ///     flour: Temperature::celsius(5.0)?,
    ///     room: Temperature::celsius(6.0)?,
    ///     preferment: None,
    /// };
    /// let water = rule.water_for_base(60.0)?;
    /// assert_eq!(water.as_celsius(), 49.0);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn water_for_base(&self, base_c: f64) -> Result<Temperature> {
        wanted_water(base_c - self.known_c())
    }

    /// Friction of one mix, from the water that was used and the dough that came of it.
    ///
    /// # Errors
    /// As [`Friction::of_factor`].
    ///
    /// ```
    /// use pointage::heat::ddt_formula::DdtFormula;
    /// use pointage::units::Temperature;
    /// let f = |value| Temperature::fahrenheit(value);
    /// let rule = DdtFormula { flour: f(65.0)?, room: f(75.0)?, preferment: None };
    /// let friction = rule.friction(f(80.0)?, f(65.0)?)?;
    /// assert!((friction.factor.as_fahrenheit() - 35.0).abs() < 1e-9);
    /// assert!((friction.real_rise.as_fahrenheit() - 35.0 / 3.0).abs() < 1e-9);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn friction(&self, dough: Temperature, water: Temperature) -> Result<Friction> {
        Friction::from_base(self.known_c() + water.as_celsius(), dough, self.terms())
    }

    fn known_c(&self) -> f64 {
        let preferment_c = self.preferment.map_or(0.0, Temperature::as_celsius);
        self.flour.as_celsius() + self.room.as_celsius() + preferment_c
    }
}

/// Friction of a mix: its friction factor, with the number of terms of the sum.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Friction {
    /// The friction factor, as the DDT formula uses it.
    pub factor: TemperatureDifference,
    /// The rise of the dough itself: the factor divided by the number of terms.
    pub real_rise: TemperatureDifference,
    /// Number of temperatures in the sum.
    pub terms: u8,
}

impl Friction {
    /// The friction factor of the DDT formula, for 3 or 4 terms.
    ///
    /// # Errors
    /// Another number of terms; a rise of the dough, factor over terms, of more than 20 K either way.
    pub fn of_factor(factor: TemperatureDifference, terms: u8) -> Result<Self> {
        let what = "number of terms of the DDT formula";
        let n = check(what, f64::from(terms), 3.0, 4.0, "terms")?;
        let what = "rise of the dough by mixing (friction factor over terms)";
        let rise = factor.as_kelvin() / n;
        let most = Limits::shipped()?.most_mixing_rise_c.as_kelvin();
        let real_rise = check(what, rise, -most, most, "°C")?;
        Ok(Self {
            factor,
            real_rise: TemperatureDifference::kelvin(real_rise)?,
            terms,
        })
    }

    /// Friction hidden in a base temperature (°C): `n T_dough - base`.
    ///
    /// # Errors
    /// As [`of_factor`](Self::of_factor).
    pub fn from_base(base_c: f64, dough: Temperature, terms: u8) -> Result<Self> {
        let sum_c = f64::from(terms) * dough.as_celsius();
        Self::of_factor(TemperatureDifference::kelvin(sum_c - base_c)?, terms)
    }

    /// The base temperature (°C) that a dough and this friction imply: `n T_dough - friction`.
    #[must_use]
    pub fn base_c(self, dough: Temperature) -> f64 {
        f64::from(self.terms) * dough.as_celsius() - self.factor.as_kelvin()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn c(value: f64) -> Temperature {
        Temperature::celsius(value).unwrap()
    }

    // The printed examples of the trade stand in tests/suite/water_rules.rs.

    #[test]
    fn base_and_friction_say_the_same() {
        let friction = Friction::from_base(62.0, c(24.0), 3).unwrap();
        assert_eq!(friction.base_c(c(24.0)), 62.0);
        assert!(Friction::from_base(62.0, c(24.0), 5).is_err());
    }

    proptest! {
        #[test]
        fn friction_of_the_answer_is_the_friction_of_the_question(
            dough in 15.0..32.0, flour in 0.0..35.0, room in 0.0..40.0,
            preferment in proptest::option::of(2.0..32.0), friction in -5.0..30.0,
        ) {
            let rule = DdtFormula { flour: c(flour), room: c(room), preferment: preferment.map(c) };
            let asked = TemperatureDifference::kelvin(friction).unwrap();
            if let Ok(water) = rule.water_for_dough(c(dough), asked) {
                let back = rule.friction(c(dough), water).unwrap().factor;
                prop_assert!((back.as_kelvin() - friction).abs() < 1e-9);
            }
        }
    }
}
