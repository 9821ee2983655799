//! Friction of one mix.

use super::{celsius, required};
use pointage::error::{Error, Result};
use pointage::heat::ddt_formula::{BaseTemperature, DdtFormula, Friction};
use serde::{Deserialize, Serialize};

/// A mix as it was: either its temperatures, or the base temperature it was made by.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct FrictionRequest {
    /// Dough at the end of mixing.
    pub dough_c: Option<f64>,
    /// Flour.
    pub flour_c: Option<f64>,
    /// Room.
    pub room_c: Option<f64>,
    /// Preferment, when there was one.
    pub preferment_c: Option<f64>,
    /// Water that was poured.
    pub water_c: Option<f64>,
    /// Base temperature instead of flour, room and water: a sum of three readings.
    pub base_c: Option<f64>,
}

/// Friction on both scales.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct FrictionAnswer {
    /// Friction as the sum rule uses it.
    pub sum_scale_c: f64,
    /// Rise of the dough itself: the sum scale over the number of terms.
    pub real_rise_c: f64,
    /// Temperatures in the sum, 3 or 4.
    pub terms: u8,
    /// Base temperature that this dough and this friction make.
    pub base_c: f64,
    /// Cautions in words.
    pub warnings: Vec<String>,
}

/// The friction of one mix.
///
/// # Errors
/// A temperature missing or out of range; a base together with the temperatures it sums.
///
/// ```
/// use pointage_api::friction::{FrictionRequest, friction};
/// let answer = friction(&FrictionRequest {
///     base_c: Some(62.0),
///     dough_c: Some(24.0),
///     ..FrictionRequest::default()
/// })?;
/// assert_eq!(answer.sum_scale_c, 10.0);
/// assert!((answer.real_rise_c - 10.0 / 3.0).abs() < 1e-12);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn friction(request: &FrictionRequest) -> Result<FrictionAnswer> {
    let need = |value, name| celsius(required(value, name, "the friction of a mix")?, name);
    let dough = need(request.dough_c, "dough_c (--dough)")?;
    let friction = match request.base_c {
        Some(base_c) => {
            let summed = [
                request.flour_c,
                request.room_c,
                request.water_c,
                request.preferment_c,
            ];
            if summed.iter().any(Option::is_some) {
                return Err(Error::contradiction(
                    "base_c (--base) already is the sum of flour, room and water: give it with the dough alone, or leave it out",
                ));
            }
            let base = BaseTemperature::celsius(base_c).map_err(|e| e.at("base_c (--base)"))?;
            Friction::from_base(base, dough, 3)?
        }
        None => DdtFormula {
            flour: need(request.flour_c, "flour_c (--flour)")?,
            room: need(request.room_c, "room_c (--room)")?,
            preferment: request
                .preferment_c
                .map(|c| celsius(c, "preferment_c (--preferment)"))
                .transpose()?,
        }
        .friction(dough, need(request.water_c, "water_c (--water)")?)?,
    };
    let sum_scale_c = friction.sum_scale().as_kelvin();
    let mut warnings = Vec::new();
    if sum_scale_c < 0.0 {
        warnings.push(
            "The friction is negative: the mix would have cooled the dough. Check the readings; a cold bowl or cold yeast can do it.".to_owned(),
        );
    }
    Ok(FrictionAnswer {
        sum_scale_c,
        real_rise_c: friction.real_rise().as_kelvin(),
        terms: friction.terms(),
        base_c: BaseTemperature::of_dough(dough, friction).as_celsius(),
        warnings,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trial_mix_gives_its_friction() {
        // Lehmann, Pizza Today 2018-06 p. 29, read backwards: 240 - (65 + 75 + 65) = 35 °F
        let f = |value: f64| Some((value - 32.0) / 1.8);
        let answer = friction(&FrictionRequest {
            dough_c: f(80.0),
            flour_c: f(65.0),
            room_c: f(75.0),
            water_c: f(65.0),
            ..FrictionRequest::default()
        })
        .unwrap();
        assert!((answer.sum_scale_c * 1.8 - 35.0).abs() < 1e-9);
        assert_eq!(answer.terms, 3);
        assert!(answer.warnings.is_empty());
    }

    #[test]
    fn what_is_missing_or_double_is_named() {
        let error = friction(&FrictionRequest {
            dough_c: Some(24.0),
            flour_c: Some(20.0),
            room_c: Some(20.0),
            ..FrictionRequest::default()
        });
        assert_eq!(
            error.unwrap_err().to_string(),
            "water_c (--water) is missing: give it for the friction of a mix"
        );
        let error = friction(&FrictionRequest {
            dough_c: Some(24.0),
            flour_c: Some(20.0),
            base_c: Some(60.0),
            ..FrictionRequest::default()
        });
        assert!(
            error
                .unwrap_err()
                .to_string()
                .contains("already is the sum")
        );
    }
}
