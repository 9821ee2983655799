//! Heat that a mix makes by itself: wetting of the flour and work of the mixer.

use crate::error::{Result, check};
use crate::table;
use crate::units::Percent;

/// What is assumed about wetting and mixing when the baker does not say.
#[derive(Debug, Clone, Copy, PartialEq, serde::Deserialize)]
pub struct MixingHeat {
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

impl MixingHeat {
    /// The figures of the table `properties`, which names the source of each.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn shipped() -> Result<Self> {
        table::get("properties")?.read()
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
    /// use pointage::heat::mixing_heat::MixingHeat;
    /// use pointage::units::Percent;
    /// let heat = MixingHeat::shipped()?;
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
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hydration_heat_falls_with_moisture_as_calorimetry_says() {
        let heat = MixingHeat::shipped().unwrap();
        let at = |w: f64| heat.hydration_kj_per_kg(Percent::new(w).unwrap());
        // Immersion calorimetry (Winkler and Geddes 1931, from memory): 90 to 115 bone dry, below 10 near 16 %.
        assert!((90.0..115.0).contains(&at(0.0).unwrap()));
        assert!(at(16.0).unwrap() < 10.0);
        assert!(at(20.1).is_err());
    }
}
