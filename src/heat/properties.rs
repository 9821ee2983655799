//! Heat capacities of what goes into a dough, the melting heat of ice, and the heat that a mix makes by itself:
//! wetting of the flour and work of the mixer.

use crate::error::{Result, check};
use crate::table;
use crate::units::Percent;

/// Heat capacities in kJ/(kg K), the melting heat of ice, and what is assumed about wetting and mixing when the
/// baker does not say.
///
/// They are taken as constant from 0 to 50 °C; for water that is good to 0.02 K on the answer.
/// Flour is the uncertain one (1.65 to 2.0). What counts most is to use one set throughout.
///
/// ```
/// use pointage::heat::properties::ThermalProperties;
/// use pointage::units::Percent;
/// let c = ThermalProperties::shipped()?;
/// let poolish = c.dough(Percent::new(100.0)?, Percent::new(0.0)?);
/// assert!((poolish - (c.c_flour_kj_per_kg_k + c.c_water_kj_per_kg_k) / 2.0).abs() < 1e-12);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, serde::Deserialize)]
pub struct ThermalProperties {
    /// Wheat flour at 12 to 15 % moisture.
    pub c_flour_kj_per_kg_k: f64,
    /// Liquid water.
    pub c_water_kj_per_kg_k: f64,
    /// Table salt.
    pub c_salt_kj_per_kg_k: f64,
    /// Fresh yeast.
    pub c_yeast_kj_per_kg_k: f64,
    /// Sugar.
    pub c_sugar_kj_per_kg_k: f64,
    /// Fat; its melting is not counted.
    pub c_fat_kj_per_kg_k: f64,
    /// Ice.
    pub c_ice_kj_per_kg_k: f64,
    /// A bowl of steel.
    pub c_steel_kj_per_kg_k: f64,
    /// Heat taken up by melting ice at 0 °C, kJ/kg.
    pub latent_heat_kj_per_kg: f64,
    /// Heat of wetting flour of the published moisture, kJ per kg of flour.
    pub hydration_heat_kj_per_kg: f64,
    /// Moisture of the flour of the published figure, %.
    pub hydration_reference_percent: f64,
    /// Relative fall of that heat for each further percent of moisture.
    pub hydration_slope_per_percent: f64,
    /// Moisture of a flour of which nothing is known, %.
    pub flour_moisture_percent: f64,
    /// Work of a gentle planetary or spiral mix, kJ per kg of whole dough.
    pub mixing_gentle_kj_per_kg: f64,
    /// Work of mixing by hand, kJ per kg of whole dough.
    pub mixing_hand_kj_per_kg: f64,
}

impl ThermalProperties {
    /// The figures of the table `properties`, which names the source of each.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn shipped() -> Result<Self> {
        table::read(&[table::get("properties")?])
    }

    /// Heat capacity of a dough or preferment of flour, water and salt, kJ/(kg K): the mean of its
    /// parts weighted by mass. Both percentages are of the flour.
    #[must_use]
    pub fn dough(&self, hydration: Percent, salt: Percent) -> f64 {
        let (water, salt) = (hydration.as_fraction(), salt.as_fraction());
        (self.c_flour_kj_per_kg_k
            + water * self.c_water_kj_per_kg_k
            + salt * self.c_salt_kj_per_kg_k)
            / (1.0 + water + salt)
    }

    /// Heat set free when dry flour takes up water, kJ per kg of flour as it is:
    /// `published exp(-fall (w - published moisture))` with the moisture `w` in percent.
    ///
    /// Valid from 0 to 20 % moisture. Only the one point is published; the fall is this project's
    /// own and may be off by half. Flour that is already wet, as in a preferment, has given its
    /// heat away.
    ///
    /// # Errors
    /// Moisture above 20 %.
    ///
    /// ```
    /// use pointage::heat::properties::ThermalProperties;
    /// use pointage::units::Percent;
    /// let heat = ThermalProperties::shipped()?;
    /// let published = heat.hydration_kj_per_kg(Percent::new(heat.hydration_reference_percent)?)?;
    /// assert_eq!(published, heat.hydration_heat_kj_per_kg);
    /// assert!(heat.hydration_kj_per_kg(Percent::new(14.0)?)? < published);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn hydration_kj_per_kg(&self, moisture: Percent) -> Result<f64> {
        let w = check("flour moisture", moisture.as_percent(), 0.0, 20.0, "%")?;
        let beyond = w - self.hydration_reference_percent;
        Ok(self.hydration_heat_kj_per_kg * (-self.hydration_slope_per_percent * beyond).exp())
    }

    /// Refuses values that no such material has; the formulas divide by them.
    pub(crate) fn checked(&self) -> Result<()> {
        for (what, value) in [
            ("heat capacity of flour", self.c_flour_kj_per_kg_k),
            ("heat capacity of water", self.c_water_kj_per_kg_k),
            ("heat capacity of salt", self.c_salt_kj_per_kg_k),
            ("heat capacity of yeast", self.c_yeast_kj_per_kg_k),
            ("heat capacity of sugar", self.c_sugar_kj_per_kg_k),
            ("heat capacity of fat", self.c_fat_kj_per_kg_k),
            ("heat capacity of ice", self.c_ice_kj_per_kg_k),
            ("heat capacity of the bowl", self.c_steel_kj_per_kg_k),
        ] {
            check_heat_capacity(what, value)?;
        }
        let melting = self.latent_heat_kj_per_kg;
        check("melting heat of ice", melting, 300.0, 350.0, "kJ/kg").map(|_| ())
    }
}

/// Refuses a heat capacity outside 0.1 to 5 kJ/(kg K); water has the largest in a kitchen.
pub(crate) fn check_heat_capacity(what: &str, value: f64) -> Result<f64> {
    check(what, value, 0.1, 5.0, "kJ/(kg K)")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dough_is_the_mean_of_its_parts() {
        let c = ThermalProperties {
            c_flour_kj_per_kg_k: 1.80,
            c_water_kj_per_kg_k: 4.18,
            c_salt_kj_per_kg_k: 0.88,
            ..ThermalProperties::shipped().unwrap()
        };
        // Arithmetic: (1.80 + h 4.18 + 0.02 * 0.88) / (1.02 + h), cut to three digits.
        for (hydration, expected) in [(50.0, 2.570), (60.0, 2.670), (65.0, 2.715), (80.0, 2.836)] {
            let got = c.dough(Percent::new(hydration).unwrap(), Percent::new(2.0).unwrap());
            assert!((got - expected).abs() < 1e-3, "{hydration}: {got}");
        }
    }

    #[test]
    fn a_melting_heat_in_the_wrong_unit_is_refused() {
        let c = ThermalProperties {
            latent_heat_kj_per_kg: 79.7, // kcal/kg
            ..ThermalProperties::shipped().unwrap()
        };
        assert!(c.checked().unwrap_err().to_string().contains("melting"));
        assert!(ThermalProperties::shipped().unwrap().checked().is_ok());
    }

    /// 4186 J/(kg K) in place of 4.186 kJ, or nothing at all.
    #[test]
    fn a_heat_capacity_in_the_wrong_unit_is_refused() {
        for wrong in [4186.0, 0.0, -1.0, f64::NAN] {
            let c = ThermalProperties {
                c_water_kj_per_kg_k: wrong,
                ..ThermalProperties::shipped().unwrap()
            };
            let error = c.checked().unwrap_err().to_string();
            assert!(error.contains("heat capacity of water"), "{error}");
        }
        assert!(check_heat_capacity("heat capacity", 0.1).is_ok());
        assert!(check_heat_capacity("heat capacity", 5.0).is_ok());
    }

    #[test]
    fn hydration_heat_falls_with_moisture_as_calorimetry_says() {
        let heat = ThermalProperties::shipped().unwrap();
        let at = |w: f64| heat.hydration_kj_per_kg(Percent::new(w).unwrap());
        // Immersion calorimetry (Winkler and Geddes 1931, from memory): 90 to 115 bone dry, below 10 near 16 %.
        assert!((90.0..115.0).contains(&at(0.0).unwrap()));
        assert!(at(16.0).unwrap() < 10.0);
        assert!(at(20.1).is_err());
    }
}
