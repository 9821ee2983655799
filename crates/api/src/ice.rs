//! How much of a pour is ice.

use super::{celsius, grams};
use crate::sentences::Sentence as _;
use pointage::error::Result;
use pointage::heat::capacities::HeatCapacities;
use pointage::heat::cautions::Limits;
use pointage::heat::ice as split;
use serde::{Deserialize, Serialize};

/// A pour and the temperature it shall have.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct IceRequest {
    /// Ice and tap water together.
    pub total_g: f64,
    /// Temperature of the tap.
    pub tap_c: f64,
    /// Wanted temperature of the pour; below 0 °C some ice melts in the dough.
    pub want_c: f64,
    /// Temperature of the ice, 0 °C when left out.
    #[serde(default, deserialize_with = "super::null_is_usual")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<f64>"))]
    pub ice_c: f64,
}

/// Ice and tap water to weigh.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct IceAnswer {
    /// Ice.
    pub ice_g: f64,
    /// Tap water.
    pub tap_g: f64,
    /// Cautions in words.
    pub warnings: Vec<String>,
}

/// Splits a pour into ice and tap water.
///
/// # Errors
/// A value out of its range; water colder than all ice can give.
///
/// ```
/// use pointage_api::ice::{IceRequest, ice};
/// let answer = ice(&IceRequest { total_g: 40e3, tap_c: 20.0, want_c: 10.0, ice_c: 0.0 })?;
/// assert!((answer.ice_g - 4012.3).abs() < 0.1);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn ice(request: &IceRequest) -> Result<IceAnswer> {
    let want = celsius(request.want_c, "want_c (--want)")?;
    let tap = celsius(request.tap_c, "tap_c (--tap)")?;
    let pour = split::split(
        grams(request.total_g, "total_g (--total)")?,
        tap,
        want,
        celsius(request.ice_c, "ice_c (--ice-temp)")?,
        &HeatCapacities::shipped()?,
    )?;
    let cautions = Limits::shipped()?.water_cautions(want);
    let mut warnings: Vec<_> = cautions.iter().map(|c| c.sentence().to_string()).collect();
    if want > tap {
        warnings.push(format!(
            "The wanted water, {:.1} °C, is warmer than the tap, {:.1} °C: no ice, warm it instead.",
            request.want_c, request.tap_c
        ));
    }
    Ok(IceAnswer {
        ice_g: pour.ice.as_grams(),
        tap_g: pour.tap.as_grams(),
        warnings,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hot_water_is_said_and_bad_input_is_named() {
        let ask = |tap_c, want_c, total_g| {
            ice(&IceRequest {
                total_g,
                tap_c,
                want_c,
                ice_c: -5.0,
            })
        };
        let answer = ask(12.0, 30.0, 1000.0).unwrap();
        assert_eq!((answer.ice_g, answer.tap_g), (0.0, 1000.0));
        assert!(answer.warnings[0].contains("warm it"));
        assert!(ask(12.0, -2.0, 1000.0).unwrap().warnings[0].contains("ice"));
        assert!(ask(12.0, -95.0, 1000.0).unwrap_err().is_unreachable());
        let error = ask(12.0, 5.0, -1.0).unwrap_err().to_string();
        assert!(
            error.starts_with("total_g (--total): mass is -1 g"),
            "{error}"
        );
    }
}
