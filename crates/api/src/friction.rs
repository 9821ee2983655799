//! Friction of one mix.

use super::request::request;
use super::sentences::remarks;
use super::water::BaseSum;
use super::{Assumption, Remark};
use pointage::error::{Error, Result};
use pointage::heat::ddt_formula::{DdtFormula, Friction};
use pointage::units::Temperature;
use serde::Serialize;

request! {
    /// A mix as it was: either its temperatures, or the base temperature it was made by.
    FrictionRequest = "friction" {
        /// Dough at the end of the mix
        dough_c: Option<Temperature> = "dough",
        /// Flour
        flour_c: Option<Temperature> = "flour",
        /// Room
        room_c: Option<Temperature> = "room",
        /// Preferment, if there was one
        preferment_c: Option<Temperature> = "preferment",
        /// Water that was poured
        water_c: Option<Temperature> = "water",
        /// Base temperature, the sum of flour, room and water, in their place
        #[cfg_attr(feature = "schema", schemars(with = "Option<Temperature>"))]
        base_c: Option<BaseSum> = "base",
    }
}

/// Friction on both scales.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct FrictionAnswer {
    /// Friction factor of the DDT formula.
    pub sum_scale_c: f64,
    /// Rise of the dough itself: the sum scale over the number of terms.
    pub real_rise_c: f64,
    /// Temperatures in the sum, 3 or 4.
    pub terms: u8,
    /// Base temperature that this dough and this friction make.
    pub base_c: f64,
    /// Cautions.
    pub warnings: Vec<Remark>,
}

/// The friction of one mix.
///
/// # Errors
/// A temperature missing or out of range; a base together with the temperatures it sums.
///
/// ```
/// use pointage_api::friction::{FrictionRequest, friction};
/// let answer = friction(&FrictionRequest {
///     base_c: Some("62".parse()?),
///     dough_c: Some("24".parse()?),
///     ..FrictionRequest::default()
/// })?;
/// assert_eq!(answer.sum_scale_c, 10.0);
/// assert!((answer.real_rise_c - 10.0 / 3.0).abs() < 1e-12);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn friction(request: &FrictionRequest) -> Result<FrictionAnswer> {
    let need = |value: Option<Temperature>, field| {
        value.ok_or_else(|| Error::missing(field, "for the friction of a mix"))
    };
    let dough = need(request.dough_c, "dough_c")?;
    let friction = match request.base_c {
        Some(base) => {
            let summed = [
                ("flour_c", request.flour_c),
                ("room_c", request.room_c),
                ("water_c", request.water_c),
                ("preferment_c", request.preferment_c),
            ];
            if let Some((other, _)) = summed.iter().find(|(_, given)| given.is_some()) {
                let why = "both give flour, room and water, of which the base is the sum";
                return Err(Error::excludes(&["base_c", other], why));
            }
            Friction::from_base(base.of_terms(3)?, dough, 3)?
        }
        None => DdtFormula {
            flour: need(request.flour_c, "flour_c")?,
            room: need(request.room_c, "room_c")?,
            preferment: request.preferment_c,
        }
        .friction(dough, need(request.water_c, "water_c")?)?,
    };
    let sum_scale_c = friction.sum_scale.as_kelvin();
    let negative = (sum_scale_c < 0.0).then_some(Assumption::NegativeFriction);
    Ok(FrictionAnswer {
        sum_scale_c,
        real_rise_c: friction.real_rise.as_kelvin(),
        terms: friction.terms,
        base_c: friction.base_c(dough),
        warnings: remarks(negative),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Request as _;

    fn ask(json: &str) -> Result<FrictionAnswer> {
        friction(&serde_json::from_str(json).unwrap())
    }

    #[test]
    fn a_trial_mix_gives_its_friction() {
        // Lehmann, Pizza Today 2018-06 p. 29, read backwards: 240 - (65 + 75 + 65) = 35 °F
        let answer =
            ask(r#"{"dough_c": "80F", "flour_c": "65F", "room_c": "75F", "water_c": "65F"}"#);
        let answer = answer.unwrap();
        assert!((answer.sum_scale_c * 1.8 - 35.0).abs() < 1e-9);
        assert_eq!(answer.terms, 3);
        assert!(answer.warnings.is_empty());
    }

    #[test]
    fn what_is_missing_or_double_is_named() {
        let error = ask(r#"{"dough_c": 24, "flour_c": 20, "room_c": 20}"#).unwrap_err();
        assert_eq!(
            error.to_string(),
            "water_c is missing: give it for the friction of a mix"
        );
        let error = ask(r#"{"dough_c": 24, "flour_c": 20, "base_c": 60}"#).unwrap_err();
        let flags = error.with_names(&FrictionRequest::flag).to_string();
        assert!(flags.starts_with("--base and --flour both"), "{flags}");
    }
}
