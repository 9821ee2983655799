//! How much of the pour is ice.
//!
//! Ice replaces tap water, so that the mass of the pour stays what the formula says:
//!
//! ```text
//! ice = W c_water (T_tap - T_want) / (L + c_water T_tap - c_ice T_ice)
//! ```
//!
//! The trade writes the same with ice at 0 °C as `W (T_tap - T_want) / (T_tap + 80)`, in °F with
//! 112 in place of 80 (W. Gisslen, *Professional Baking*, from memory). Wanted water below 0 °C
//! is a pour whose last ice melts in the dough.

use super::cautions::{COLDER, check_liquid};
use super::properties::ThermalProperties;
use crate::error::{Error, Result, check};
use crate::units::{Mass, Temperature};

/// A pour, split.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Pour {
    /// Ice to weigh.
    pub ice: Mass,
    /// Tap water to weigh.
    pub tap: Mass,
}

/// Splits `total` water into ice at `ice` and tap water at `tap`, such that the pour acts like
/// water of temperature `want`.
///
/// When `want` is not colder than the tap there is no ice: the water has to be warmed instead.
///
/// # Errors
/// Tap outside 0 to 100 °C, ice outside -50 to 0 °C, `want` above 100 °C;
/// [`Unreachable`](Error::Unreachable) when ice in place of all the water is not cold enough.
///
/// ```
/// use pointage::heat::{properties::ThermalProperties, ice};
/// use pointage::units::{Mass, Temperature};
/// let pour = ice::split(
///     Mass::kilograms(40.0)?,
///     Temperature::celsius(20.0)?,
///     Temperature::celsius(10.0)?,
///     Temperature::celsius(0.0)?,
///     &ThermalProperties::shipped()?,
/// )?;
/// assert!((pour.ice.as_kilograms() - 4.0123).abs() < 1e-4);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn split(
    total: Mass,
    tap: Temperature,
    want: Temperature,
    ice: Temperature,
    capacities: &ThermalProperties,
) -> Result<Pour> {
    let tap_c = check_liquid("tap water", tap)?;
    check("wanted water", want.as_celsius(), -100.0, 100.0, "°C")?;
    check_obtainable(want, ice, capacities)?;
    // Where the tap is the warmer one, the share lies in 0..1 because `want` can be had.
    let surplus_kj_per_kg = capacities.c_water_kj_per_kg_k * (tap_c - want.as_celsius());
    let share = (surplus_kj_per_kg / cooling_kj_per_kg(tap_c, ice, capacities)).max(0.0);
    let ice_g = total.as_grams() * share;
    Ok(Pour {
        ice: Mass::grams(ice_g)?,
        tap: Mass::grams((total.as_grams() - ice_g).max(0.0))?,
    })
}

/// The temperature of water that a pour of ice and tap water acts like; below 0 °C some ice is left.
///
/// # Errors
/// Nothing poured, tap outside 0 to 100 °C, ice outside -50 to 0 °C.
pub fn pour_temperature(
    pour: Pour,
    tap: Temperature,
    ice: Temperature,
    capacities: &ThermalProperties,
) -> Result<Temperature> {
    capacities.checked()?;
    let tap_c = check_liquid("tap water", tap)?;
    check_ice(ice)?;
    let total_kg = pour.ice.as_kilograms() + pour.tap.as_kilograms();
    check("mass of the pour", total_kg, 1e-6, 2e5, "kg")?;
    let cooling_kj = pour.ice.as_kilograms() * cooling_kj_per_kg(tap_c, ice, capacities);
    Temperature::celsius(tap_c - cooling_kj / (total_kg * capacities.c_water_kj_per_kg_k))
}

/// The coldest water that ice alone can stand for: `(c_ice T_ice - L) / c_water`, °C.
///
/// About -80 °C (-111 °F) with ice at 0 °C, whatever the tap.
///
/// # Errors
/// Ice outside -50 to 0 °C.
fn coldest_c(ice: Temperature, capacities: &ThermalProperties) -> Result<f64> {
    capacities.checked()?;
    let ice_c = check_ice(ice)?;
    let below_melted = capacities.c_ice_kj_per_kg_k * ice_c - capacities.latent_heat_kj_per_kg;
    Ok(below_melted / capacities.c_water_kj_per_kg_k)
}

/// Refuses water colder than ice in place of all of it can give.
///
/// # Errors
/// [`Unreachable`](Error::Unreachable), with what would help; ice outside -50 to 0 °C.
pub fn check_obtainable(
    want: Temperature,
    ice: Temperature,
    capacities: &ThermalProperties,
) -> Result<()> {
    let coldest_c = coldest_c(ice, capacities)?;
    if want.as_celsius() < coldest_c {
        return Err(Error::unreachable(
            format!("water of {:.1} °C", want.as_celsius()),
            format!(
                "ice in place of all the water cools no more than water of {coldest_c:.1} °C would"
            ),
            COLDER,
        ));
    }
    Ok(())
}

/// Heat that a kilogram of ice takes up until it is water of the tap's temperature.
fn cooling_kj_per_kg(tap_c: f64, ice: Temperature, capacities: &ThermalProperties) -> f64 {
    capacities.latent_heat_kj_per_kg + capacities.c_water_kj_per_kg_k * tap_c
        - capacities.c_ice_kj_per_kg_k * ice.as_celsius()
}

fn check_ice(ice: Temperature) -> Result<f64> {
    check("temperature of the ice", ice.as_celsius(), -50.0, 0.0, "°C")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn c(value: f64) -> Temperature {
        Temperature::celsius(value).unwrap()
    }

    fn kg(value: f64) -> Mass {
        Mass::kilograms(value).unwrap()
    }

    fn split_c(total_kg: f64, tap_c: f64, want_c: f64, ice_c: f64) -> Result<Pour> {
        let capacities = ThermalProperties::shipped().unwrap();
        split(kg(total_kg), c(tap_c), c(want_c), c(ice_c), &capacities)
    }

    #[test]
    fn all_ice_is_the_end() {
        // -333.6 / 4.186 = -79.69 (arithmetic); below it there are words that help
        let all = split_c(2.0, 15.0, -333.6 / 4.186, 0.0).unwrap();
        assert!((all.ice.as_kilograms() - 2.0).abs() < 1e-12);
        let refused = split_c(2.0, 15.0, -79.8, 0.0).unwrap_err();
        assert!(refused.is_unreachable());
        assert_eq!(
            refused.to_string(),
            "water of -79.8 °C cannot be met: ice in place of all the water cools no more than water of -79.7 °C would; cool the flour, chill the preferment, shorten the mix, or accept a warmer dough (more ice does not help)"
        );
        assert!(split_c(2.0, 15.0, -79.8, -5.0).is_ok());
        assert!(split_c(2.0, -3.0, -4.0, 0.0).is_err());
        assert!(split_c(2.0, 15.0, 5.0, 2.0).is_err());
    }

    proptest! {
        #[test]
        fn the_pour_has_the_wanted_temperature(
            total in 0.1..500.0, tap in 0.0..35.0, want in -70.0..35.0, ice in -20.0..0.0,
        ) {
            prop_assume!(want <= tap);
            let pour = split_c(total, tap, want, ice).unwrap();
            let back = pour_temperature(pour, c(tap), c(ice), &ThermalProperties::shipped().unwrap()).unwrap();
            prop_assert!((back.as_celsius() - want).abs() < 1e-9);
        }
    }
}
