//! How much of a pour is ice.

use super::request::{Answerable, Numbers, numbers, request};
use super::sentences::remarks;
use super::{Assumption, Model, Remark};
use pointage::error::Result;
use pointage::heat::cautions::Limits;
use pointage::heat::ice as split;
use pointage::heat::properties::ThermalProperties;
use pointage::units::{Mass, Temperature};
use serde::Serialize;

request! {
    /// A pour and the temperature it shall have.
    IceRequest = "ice" {
        /// Ice and tap water together
        total_g: Mass = "total",
        /// Temperature of the tap
        tap_c: Temperature = "tap",
        /// Desired temperature of the pour; below 0 °C the last ice melts in the dough
        want_c: Temperature = "want",
        /// Temperature of the ice [default: 0]
        ice_c: Option<Temperature> = "ice-temp",
    }
}

/// Ice and tap water to weigh.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct IceAnswer {
    /// Ice; none where it would be less than 0.05 g.
    pub ice_g: f64,
    /// Tap water.
    pub tap_g: f64,
    /// Cautions.
    pub warnings: Vec<Remark>,
}

/// Less ice than this no scale shows, g.
const LEAST_ICE_G: f64 = 0.05;

impl Answerable<IceAnswer> for IceRequest {
    const NUMBERS: Numbers<IceAnswer> = numbers! { ice_g tap_g;;; };
    fn answer(&self, _: &Model) -> Result<IceAnswer> {
        ice(self)
    }
}

/// Splits a pour into ice and tap water.
///
/// # Errors
/// A value out of its range; water colder than all ice can give.
///
/// ```
/// use pointage_api::ice::{IceRequest, ice};
/// let (total_g, tap_c, want_c) = ("40kg".parse()?, "20C".parse()?, "10C".parse()?);
/// let answer = ice(&IceRequest { total_g, tap_c, want_c, ice_c: None })?;
/// assert!((answer.ice_g - 4012.3).abs() < 0.1);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn ice(request: &IceRequest) -> Result<IceAnswer> {
    let (tap, want) = (request.tap_c, request.want_c);
    let ice_at = request.ice_c.unwrap_or(Temperature::ZERO);
    let capacities = ThermalProperties::shipped()?;
    let pour = split::split(request.total_g, tap, want, ice_at, &capacities)?;
    let mut warnings = remarks(Limits::shipped()?.water_cautions(want));
    if want > tap {
        let (water_c, tap_c) = (want.as_celsius(), tap.as_celsius());
        warnings.push(Assumption::WarmerThanTap { water_c, tap_c }.into());
    }
    let ice_g = pour.ice.as_grams();
    let ice_g = if ice_g < LEAST_ICE_G { 0.0 } else { ice_g };
    Ok(IceAnswer {
        ice_g,
        tap_g: request.total_g.as_grams() - ice_g,
        warnings,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sentences::codes;

    #[test]
    fn hot_water_is_said_and_bad_input_is_named() {
        let ask = |tap: &str, want: &str| {
            ice(&IceRequest {
                total_g: "1kg".parse().unwrap(),
                tap_c: tap.parse().unwrap(),
                want_c: want.parse().unwrap(),
                ice_c: Some("-5".parse().unwrap()),
            })
        };
        let answer = ask("12", "30").unwrap();
        assert_eq!((answer.ice_g, answer.tap_g), (0.0, 1000.0));
        assert_eq!(codes(&answer.warnings), ["warmer-than-tap"]);
        assert_eq!(ask("12", "-2").unwrap().warnings.len(), 1);
        // A kilogram from 12 to 11.9995 °C would take 4.186 · 0.0005 / (333.6 + 4.186 · 12 + 2.05 · 5) kg: 5 mg.
        let hardly = ask("12", "11.9995").unwrap();
        assert_eq!((hardly.ice_g, hardly.tap_g), (0.0, 1000.0));
        assert!(ask("12", "-95").unwrap_err().is_unreachable());
    }
}
