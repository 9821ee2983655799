//! Heat capacities of what goes into a dough, and the melting heat of ice.

use crate::error::{Result, check};
use crate::units::Percent;

/// Heat capacities in kJ/(kg K) and the melting heat of ice in kJ/kg.
///
/// They are taken as constant from 0 to 50 °C; for water that is good to 0.02 K on the answer.
/// Flour is the uncertain one (1.65 to 2.0). What counts most is to use one set throughout.
///
/// ```
/// use pointage::heat::capacities::HeatCapacities;
/// use pointage::units::Percent;
/// let c = HeatCapacities::default();
/// let poolish = c.dough(Percent::new(100.0)?, Percent::new(0.0)?);
/// assert!((poolish - (1.80 + 4.186) / 2.0).abs() < 1e-12);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatCapacities {
    /// Wheat flour at 12 to 15 % moisture.
    pub flour_kj_per_kg_k: f64,
    /// Liquid water.
    pub water_kj_per_kg_k: f64,
    /// Table salt.
    pub salt_kj_per_kg_k: f64,
    /// Fresh yeast.
    pub yeast_kj_per_kg_k: f64,
    /// Ice.
    pub ice_kj_per_kg_k: f64,
    /// A bowl of steel.
    pub steel_kj_per_kg_k: f64,
    /// Heat taken up by melting ice at 0 °C, kJ/kg.
    pub melting_kj_per_kg: f64,
}

impl Default for HeatCapacities {
    /// Flour 1.80 (Geankoplis, *Transport Processes*, table A.4-1: 1.80 to 1.88), water 4.186 and
    /// ice 2.05 (fits to IAPWS-95 and IAPWS R10-06 over the kitchen's range), melting 333.6
    /// (ASHRAE), salt 0.88, yeast 3.2 and steel 0.50 (handbook values, from memory).
    fn default() -> Self {
        Self {
            flour_kj_per_kg_k: 1.80,
            water_kj_per_kg_k: 4.186,
            salt_kj_per_kg_k: 0.88,
            yeast_kj_per_kg_k: 3.2,
            ice_kj_per_kg_k: 2.05,
            steel_kj_per_kg_k: 0.50,
            melting_kj_per_kg: 333.6,
        }
    }
}

impl HeatCapacities {
    /// Heat capacity of a dough or preferment of flour, water and salt, kJ/(kg K): the mean of its
    /// parts weighted by mass. Both percentages are of the flour.
    #[must_use]
    pub fn dough(&self, hydration: Percent, salt: Percent) -> f64 {
        let (water, salt) = (hydration.as_fraction(), salt.as_fraction());
        (self.flour_kj_per_kg_k + water * self.water_kj_per_kg_k + salt * self.salt_kj_per_kg_k)
            / (1.0 + water + salt)
    }

    /// Refuses values that no such material has; the formulas divide by them.
    pub(crate) fn checked(&self) -> Result<()> {
        for (what, value) in [
            ("heat capacity of flour", self.flour_kj_per_kg_k),
            ("heat capacity of water", self.water_kj_per_kg_k),
            ("heat capacity of salt", self.salt_kj_per_kg_k),
            ("heat capacity of yeast", self.yeast_kj_per_kg_k),
            ("heat capacity of ice", self.ice_kj_per_kg_k),
            ("heat capacity of the bowl", self.steel_kj_per_kg_k),
        ] {
            check_heat_capacity(what, value)?;
        }
        check(
            "melting heat of ice",
            self.melting_kj_per_kg,
            300.0,
            350.0,
            "kJ/kg",
        )?;
        Ok(())
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
        let c = HeatCapacities {
            water_kj_per_kg_k: 4.18,
            ..HeatCapacities::default()
        };
        // Arithmetic: (1.80 + h 4.18 + 0.02 * 0.88) / (1.02 + h), cut to three digits.
        for (hydration, expected) in [(50.0, 2.570), (60.0, 2.670), (65.0, 2.715), (80.0, 2.836)] {
            let got = c.dough(Percent::new(hydration).unwrap(), Percent::new(2.0).unwrap());
            assert!((got - expected).abs() < 1e-3, "{hydration}: {got}");
        }
    }

    #[test]
    fn a_melting_heat_in_the_wrong_unit_is_refused() {
        let c = HeatCapacities {
            melting_kj_per_kg: 79.7, // kcal/kg
            ..HeatCapacities::default()
        };
        assert!(c.checked().unwrap_err().to_string().contains("melting"));
        assert!(HeatCapacities::default().checked().is_ok());
    }
}
