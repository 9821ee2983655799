//! Cautions: where an answer leaves what bakers do. None of them is a ruling on food safety.

use super::ddt_formula::Friction;
use crate::error::{Error, Result, check};
use crate::table;
use crate::units::{Temperature, TemperatureDifference};
use serde::{Deserialize, Serialize};
use std::sync::OnceLock;

/// What helps when the water cannot be made cold enough.
pub(crate) const COLDER: &str = "cool the flour, chill the preferment, shorten the mix, or accept a warmer dough (more ice does not help)";

/// Where water or dough leaves common practice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Caution {
    /// The water needs ice, the last of which melts in the dough.
    WaterBelowFreezing {
        /// Wanted water, °C.
        water_c: f64,
    },
    /// The water is colder than a chiller gives, and needs ice.
    WaterBelowChiller {
        /// Wanted water, °C.
        water_c: f64,
        /// Coldest water of a chiller, °C.
        coldest_c: f64,
    },
    /// The water kills yeast that it meets bare.
    WaterKillsYeast {
        /// Wanted water, °C.
        water_c: f64,
        /// Warmest water onto bare yeast, °C.
        warmest_c: f64,
    },
    /// The water harms instant yeast that it meets bare.
    InstantYeastInColdWater {
        /// Coldest water onto bare instant yeast, °C.
        coldest_c: f64,
    },
    /// The mixer warms the dough more than is usual.
    LargeFriction {
        /// Rise of the dough, °C: friction factor over terms.
        rise_c: f64,
        /// Largest usual rise, °C.
        usual_c: f64,
    },
    /// The dough is warmer than any wheat dough in the sources.
    WarmDough {
        /// The dough, °C.
        dough_c: f64,
        /// Warmest dough in the sources, °C.
        warmest_c: f64,
    },
    /// The dough is so warm that its yeast slows, and dies in time.
    HotDough {
        /// The dough, °C.
        dough_c: f64,
        /// Above it yeast slows, °C.
        warmest_c: f64,
    },
}

/// Where common practice ends. Not for what is impossible: that is an error.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct Limits {
    /// Coldest water of a bakery's water chiller; below it the pour needs ice.
    pub chilled_water_c: Temperature,
    /// Warmest water onto bare yeast.
    pub bare_yeast_c: Temperature,
    /// Coldest water onto bare instant yeast.
    pub instant_yeast_c: Temperature,
    /// Warmest wheat dough in the sources.
    pub warm_dough_c: Temperature,
    /// Above it yeast slows and dies in time.
    pub hot_dough_c: Temperature,
    /// A larger rise of the dough by mixing is asked about.
    pub mixing_rise_c: TemperatureDifference,
    /// And a larger one, either way, is refused: the readings are wrong.
    pub most_mixing_rise_c: TemperatureDifference,
    /// The DDT formula and the heat balance may differ by so much in the dough.
    pub methods_apart_c: TemperatureDifference,
}

impl Limits {
    /// The limits of the table `limits`, which names the source of each.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn shipped() -> Result<Self> {
        static SHIPPED: OnceLock<Result<Limits>> = OnceLock::new();
        let read = || table::read(&[table::get("limits")?]);
        SHIPPED.get_or_init(read).clone()
    }

    /// Cautions about water of this temperature; a reading below 0 °C stands for a pour with ice.
    ///
    /// ```
    /// use pointage::heat::{Caution, cautions::Limits};
    /// use pointage::units::Temperature;
    /// let limits = Limits::shipped()?;
    /// assert!(limits.water_cautions(Temperature::celsius(15.0)?).is_empty());
    /// let ice = limits.water_cautions(Temperature::celsius(-4.0)?);
    /// assert_eq!(ice, [Caution::WaterBelowFreezing { water_c: -4.0 }]);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    #[must_use]
    pub fn water_cautions(&self, water: Temperature) -> Vec<Caution> {
        let water_c = water.as_celsius();
        let mut cautions = Vec::new();
        if water_c < 0.0 {
            cautions.push(Caution::WaterBelowFreezing { water_c });
        } else if water < self.chilled_water_c {
            let coldest_c = self.chilled_water_c.as_celsius();
            cautions.push(Caution::WaterBelowChiller { water_c, coldest_c });
        }
        if water > self.bare_yeast_c {
            let warmest_c = self.bare_yeast_c.as_celsius();
            cautions.push(Caution::WaterKillsYeast { water_c, warmest_c });
        }
        cautions
    }

    /// A caution for instant yeast when cold water, or ice, would meet it bare.
    #[must_use]
    pub fn instant_yeast_caution(&self, water: Temperature) -> Option<Caution> {
        (water < self.instant_yeast_c).then(|| Caution::InstantYeastInColdWater {
            coldest_c: self.instant_yeast_c.as_celsius(),
        })
    }

    /// A caution where the mixer warms the dough more than is usual.
    #[must_use]
    pub fn friction_caution(&self, friction: &Friction) -> Option<Caution> {
        (friction.real_rise > self.mixing_rise_c).then(|| Caution::LargeFriction {
            rise_c: friction.real_rise.as_kelvin(),
            usual_c: self.mixing_rise_c.as_kelvin(),
        })
    }

    /// Cautions about a dough that shall leave the mixer at this temperature.
    #[must_use]
    pub fn dough_cautions(&self, dough: Temperature) -> Vec<Caution> {
        let dough_c = dough.as_celsius();
        if dough > self.hot_dough_c {
            let warmest_c = self.hot_dough_c.as_celsius();
            vec![Caution::HotDough { dough_c, warmest_c }]
        } else if dough > self.warm_dough_c {
            let warmest_c = self.warm_dough_c.as_celsius();
            vec![Caution::WarmDough { dough_c, warmest_c }]
        } else {
            Vec::new()
        }
    }
}

/// The temperature of wanted water, refused where neither ice nor boiling can give it. The exact
/// lower limit depends on the ice: [`crate::heat::ice::check_obtainable`].
pub(crate) fn wanted_water(value_c: f64) -> Result<Temperature> {
    if value_c > 100.0 {
        return Err(Error::unreachable(
            format!("the dough you want, with water of {value_c:.0} °C,"),
            "water boils at 100 °C",
            "warm the flour, the preferment or the bowl, or accept a cooler dough",
        ));
    }
    if value_c < -100.0 || !value_c.is_finite() {
        return Err(Error::unreachable(
            format!("the dough you want, with water of {value_c:.0} °C,"),
            "ice in place of all the water cools no more than water of about -80 °C would",
            COLDER,
        ));
    }
    Temperature::celsius(value_c)
}

/// Refuses a reading that liquid water cannot have.
pub(crate) fn check_liquid(what: &str, temperature: Temperature) -> Result<f64> {
    check(what, temperature.as_celsius(), 0.0, 100.0, "°C")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn celsius(c: f64) -> Temperature {
        Temperature::celsius(c).unwrap()
    }

    #[test]
    fn cautions_begin_at_their_limits() {
        let limits = Limits::shipped().unwrap();
        for at in [limits.chilled_water_c, limits.bare_yeast_c] {
            assert!(limits.water_cautions(at).is_empty());
        }
        assert!(limits.dough_cautions(limits.warm_dough_c).is_empty());
        assert!(
            limits
                .instant_yeast_caution(limits.instant_yeast_c)
                .is_none()
        );
        let past = |t: Temperature, k: f64| celsius(t.as_celsius() + k);
        assert_eq!(
            limits
                .water_cautions(past(limits.chilled_water_c, -0.1))
                .len(),
            1
        );
        assert_eq!(
            limits.water_cautions(past(limits.bare_yeast_c, 0.1)).len(),
            1
        );
        assert_eq!(
            limits.dough_cautions(past(limits.warm_dough_c, 0.1)).len(),
            1
        );
        assert!(
            limits
                .instant_yeast_caution(past(limits.instant_yeast_c, -0.1))
                .is_some()
        );
    }

    #[test]
    fn impossible_water_is_refused_with_a_remedy() {
        let hot = wanted_water(130.0).unwrap_err();
        assert!(hot.is_unreachable() && hot.to_string().contains("warm the flour"));
        for cold in [-130.0, f64::NEG_INFINITY, f64::NAN] {
            let cold = wanted_water(cold).unwrap_err();
            assert!(cold.is_unreachable() && cold.to_string().contains("cool the flour"));
        }
    }

    /// Water of 0 °C is not below freezing yet; and cautions are read back as they were written.
    #[test]
    fn water_of_nought_degrees_is_colder_than_a_chiller_gives() {
        let cautions = Limits::shipped().unwrap().water_cautions(celsius(0.0));
        assert!(
            matches!(
                cautions[..],
                [Caution::WaterBelowChiller { water_c: 0.0, .. }]
            ),
            "{cautions:?}"
        );
        let text = serde_json::to_string(&cautions).unwrap();
        assert!(text.contains("\"code\":\"water-below-chiller\""), "{text}");
        assert_eq!(
            serde_json::from_str::<Vec<Caution>>(&text).unwrap(),
            cautions
        );
    }

    #[test]
    fn water_may_be_as_hot_as_it_boils() {
        assert_eq!(wanted_water(100.0).unwrap(), celsius(100.0));
        assert!(wanted_water(100.1).is_err());
        assert_eq!(wanted_water(-100.0).unwrap(), celsius(-100.0));
    }
}
