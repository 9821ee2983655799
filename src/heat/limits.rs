//! Cautions: where an answer leaves what bakers do, in plain sentences.
//!
//! They say what is known and what to do. None of them is a ruling on food safety.

use crate::error::{Error, Result, check};
use crate::units::Temperature;

/// Coldest water that comes out of a bakery's water chiller, °C (makers state 1 to 4 °C).
const CHILLED_WATER_C: f64 = 1.0;
/// Warmest water onto bare yeast, °C: 110 °F, US Armed Forces Recipe Service, card D01000
/// ("105 to 110 °F", not above, for active dry yeast), rounded down.
const BARE_YEAST_C: f64 = 43.0;
/// Coldest water onto bare instant yeast, °C: 70 °F, common practice, from memory.
const INSTANT_YEAST_C: f64 = 21.0;
/// Warmest wheat dough in the sources, °C: rye doughs and plant buns alone are set warmer.
const WARM_DOUGH_C: f64 = 30.0;

/// What helps when the water cannot be made cold enough.
pub(crate) const COLDER: &str = "cool the flour, chill the preferment, shorten the mix, or accept a warmer dough (more ice does not help)";

/// Cautions about water of this temperature; a reading below 0 °C stands for a pour with ice.
///
/// ```
/// use pointage::heat::limits::water_cautions;
/// use pointage::units::Temperature;
/// assert!(water_cautions(Temperature::celsius(15.0)?).is_empty());
/// assert!(water_cautions(Temperature::celsius(-4.0)?)[0].contains("ice"));
/// assert!(water_cautions(Temperature::celsius(49.0)?)[0].contains("bare yeast"));
/// # Ok::<(), pointage::Error>(())
/// ```
#[must_use]
pub fn water_cautions(water: Temperature) -> Vec<String> {
    let c = water.as_celsius();
    let f = water.as_fahrenheit();
    let mut cautions = Vec::new();
    if c < 0.0 {
        cautions.push(format!(
            "The wanted water is {c:.1} °C ({f:.0} °F), below freezing: it needs ice, the last of which melts in the dough; put the ice in first, flaked or crushed."
        ));
    } else if c < CHILLED_WATER_C {
        cautions.push(format!(
            "The wanted water is {c:.1} °C ({f:.0} °F), colder than a water chiller gives (1 to 4 °C): it needs ice."
        ));
    }
    if c > BARE_YEAST_C {
        cautions.push(format!(
            "Water of {c:.0} °C ({f:.0} °F) is above 43 °C (110 °F) and kills bare yeast: blend the yeast into the flour, or let water and flour come together first; warmer flour needs less hot water."
        ));
    }
    cautions
}

/// A caution for instant yeast when water below 21 °C, or ice, would meet it bare.
#[must_use]
pub fn instant_yeast_caution(water: Temperature) -> Option<String> {
    (water.as_celsius() < INSTANT_YEAST_C).then(|| {
        "If the yeast is instant, keep it off water below about 21 °C (70 °F) and off ice: blend it into the flour first (common practice, from memory).".to_owned()
    })
}

/// Cautions about a dough that shall leave the mixer at this temperature.
#[must_use]
pub fn dough_cautions(dough: Temperature) -> Vec<String> {
    let c = dough.as_celsius();
    if c > WARM_DOUGH_C {
        vec![format!(
            "A dough of {c:.1} °C ({:.0} °F) is warmer than any wheat dough in the sources (they end at 30 °C, 86 °F, plant buns apart): expect it to run ahead of every table.",
            dough.as_fahrenheit()
        )]
    } else {
        Vec::new()
    }
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
        assert_eq!(water_cautions(celsius(0.9)).len(), 1);
        assert!(water_cautions(celsius(1.0)).is_empty());
        assert!(water_cautions(celsius(43.0)).is_empty());
        // 110 °F is the upper limit of the recipe card, so 43.4 °C is past it
        assert_eq!(water_cautions(celsius(43.4)).len(), 1);
        assert!(dough_cautions(celsius(30.0)).is_empty());
        assert_eq!(dough_cautions(celsius(30.5)).len(), 1);
        assert!(instant_yeast_caution(celsius(21.0)).is_none());
        assert!(instant_yeast_caution(celsius(8.0)).is_some());
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
}
