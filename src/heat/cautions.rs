//! Cautions: where an answer leaves what bakers do, in plain sentences.
//!
//! They say what is known and what to do. None of them is a ruling on food safety.

use crate::error::{Error, Result, check};
use crate::table;
use crate::units::Temperature;
use std::sync::OnceLock;

/// What helps when the water cannot be made cold enough.
pub(crate) const COLDER: &str = "cool the flour, chill the preferment, shorten the mix, or accept a warmer dough (more ice does not help)";

/// Where common practice ends. Not for what is impossible: that is an error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Coldest water of a bakery's water chiller; below it the pour needs ice.
    pub chilled_water: Temperature,
    /// Warmest water onto bare yeast.
    pub bare_yeast: Temperature,
    /// Coldest water onto bare instant yeast.
    pub instant_yeast: Temperature,
    /// Warmest wheat dough in the sources.
    pub warm_dough: Temperature,
    /// Above it yeast slows and dies in time.
    pub hot_dough: Temperature,
}

impl Limits {
    /// The limits of the table `limits`, which names the source of each.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn shipped() -> Result<Self> {
        static SHIPPED: OnceLock<Result<Limits>> = OnceLock::new();
        SHIPPED.get_or_init(Self::from_table).clone()
    }

    fn from_table() -> Result<Self> {
        let t = table::get("limits")?;
        Ok(Self {
            chilled_water: Temperature::celsius(t.number("chilled_water_c")?)?,
            bare_yeast: Temperature::celsius(t.number("bare_yeast_c")?)?,
            instant_yeast: Temperature::celsius(t.number("instant_yeast_c")?)?,
            warm_dough: Temperature::celsius(t.number("warm_dough_c")?)?,
            hot_dough: Temperature::celsius(t.number("hot_dough_c")?)?,
        })
    }

    /// Cautions about water of this temperature; a reading below 0 °C stands for a pour with ice.
    ///
    /// ```
    /// use pointage::heat::cautions::Limits;
    /// use pointage::units::Temperature;
    /// let limits = Limits::shipped()?;
    /// assert!(limits.water_cautions(Temperature::celsius(15.0)?).is_empty());
    /// assert!(limits.water_cautions(Temperature::celsius(-4.0)?)[0].contains("ice"));
    /// assert!(limits.water_cautions(Temperature::celsius(49.0)?)[0].contains("bare yeast"));
    /// # Ok::<(), pointage::Error>(())
    /// ```
    #[must_use]
    pub fn water_cautions(&self, water: Temperature) -> Vec<String> {
        let c = water.as_celsius();
        let f = water.as_fahrenheit();
        let mut cautions = Vec::new();
        if c < 0.0 {
            cautions.push(format!(
                "The wanted water is {c:.1} °C ({f:.0} °F), below freezing: it needs ice, the last of which melts in the dough; put the ice in first, flaked or crushed."
            ));
        } else if water < self.chilled_water {
            cautions.push(format!(
                "The wanted water is {c:.1} °C ({f:.0} °F), colder than a water chiller gives ({} at best): it needs ice.",
                whole(self.chilled_water)
            ));
        }
        if water > self.bare_yeast {
            cautions.push(format!(
                "Water of {c:.1} °C ({f:.0} °F) is above {} and kills bare yeast: blend the yeast into the flour, or let water and flour come together first; warmer flour needs less hot water.",
                whole(self.bare_yeast)
            ));
        }
        cautions
    }

    /// A caution for instant yeast when cold water, or ice, would meet it bare.
    #[must_use]
    pub fn instant_yeast_caution(&self, water: Temperature) -> Option<String> {
        (water < self.instant_yeast).then(|| {
            format!(
                "If the yeast is instant, keep it off water below about {} and off ice: blend it into the flour first (common practice, from memory).",
                whole(self.instant_yeast)
            )
        })
    }

    /// Cautions about a dough that shall leave the mixer at this temperature.
    #[must_use]
    pub fn dough_cautions(&self, dough: Temperature) -> Vec<String> {
        if dough <= self.warm_dough {
            return Vec::new();
        }
        if dough > self.hot_dough {
            return vec![format!(
                "A dough of {:.1} °C ({:.0} °F) is above {}: there yeast slows instead of hurrying, and dies in time; do not rely on these hours.",
                dough.as_celsius(),
                dough.as_fahrenheit(),
                whole(self.hot_dough)
            )];
        }
        vec![format!(
            "A dough of {:.1} °C ({:.0} °F) is warmer than any wheat dough in the sources (they end at {}, plant buns apart): expect it to run ahead of every table.",
            dough.as_celsius(),
            dough.as_fahrenheit(),
            whole(self.warm_dough)
        )]
    }
}

/// A limit in whole degrees of both scales.
fn whole(limit: Temperature) -> String {
    format!(
        "{:.0} °C ({:.0} °F)",
        limit.as_celsius(),
        limit.as_fahrenheit()
    )
}

/// The temperature of wanted water, refused where neither ice nor boiling can give it. The exact
/// lower limit depends on the ice: [`crate::heat::ice::check_obtainable`].
pub(crate) fn wanted_water(value_c: f64) -> Result<Temperature> {
    if value_c > 100.0 {
        return Err(Error::unreachable(
            format!("the wanted dough, with water of {value_c:.0} °C,"),
            "water boils at 100 °C",
            "warm the flour, the preferment or the bowl, or accept a cooler dough",
        ));
    }
    if value_c < -100.0 || !value_c.is_finite() {
        return Err(Error::unreachable(
            format!("the wanted dough, with water of {value_c:.0} °C,"),
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
        for at in [limits.chilled_water, limits.bare_yeast] {
            assert!(limits.water_cautions(at).is_empty());
        }
        assert!(limits.dough_cautions(limits.warm_dough).is_empty());
        assert!(limits.instant_yeast_caution(limits.instant_yeast).is_none());
        let past = |t: Temperature, k: f64| celsius(t.as_celsius() + k);
        assert_eq!(
            limits
                .water_cautions(past(limits.chilled_water, -0.1))
                .len(),
            1
        );
        assert_eq!(limits.water_cautions(past(limits.bare_yeast, 0.1)).len(), 1);
        assert_eq!(limits.dough_cautions(past(limits.warm_dough, 0.1)).len(), 1);
        assert!(
            limits
                .instant_yeast_caution(past(limits.instant_yeast, -0.1))
                .is_some()
        );
    }

    #[test]
    fn a_caution_names_its_limit_in_both_scales() {
        let limits = Limits {
            warm_dough: celsius(35.0),
            ..Limits::shipped().unwrap()
        };
        let words = limits.dough_cautions(celsius(36.0));
        assert!(words[0].contains("they end at 35 °C (95 °F)"), "{words:?}");
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

    /// Water of 0 °C is not below freezing yet.
    #[test]
    fn water_of_nought_degrees_is_colder_than_a_chiller_gives() {
        let words = Limits::shipped().unwrap().water_cautions(celsius(0.0));
        assert_eq!(words.len(), 1);
        assert!(words[0].contains("water chiller"), "{words:?}");
    }

    #[test]
    fn water_may_be_as_hot_as_it_boils() {
        assert_eq!(wanted_water(100.0).unwrap(), celsius(100.0));
        assert!(wanted_water(100.1).is_err());
        assert_eq!(wanted_water(-100.0).unwrap(), celsius(-100.0));
    }
}
