//! Friction of one mix.

use super::request::request;
use super::sentences::remarks;
use super::water::{BaseSum, WaterRequest, mixing};
use super::{Assumption, Remark};
use pointage::error::{Error, Result};
use pointage::heat::cautions::Limits;
use pointage::heat::ddt_formula::{DdtFormula, Friction};
use pointage::units::{Hours, Mass, Percent, Temperature};
use serde::Serialize;

request! {
    /// A mix as it was: its temperatures, or the base temperature it was made by; with the masses of flour and
    /// water its heat of mixing too.
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
        /// Flour of this mix, without that of the preferment
        flour_mass_g: Option<Mass> = "flour-mass",
        /// Water of this mix, without that of the preferment and the bassinage
        water_mass_g: Option<Mass> = "water-mass",
        /// Salt, as warm as the flour
        salt_mass_g: Option<Mass> = "salt-mass",
        /// Preferment
        preferment_mass_g: Option<Mass> = "preferment-mass",
        /// Hydration of the preferment [default: that of a poolish]
        preferment_hydration_percent: Option<Percent> = "preferment-hydration",
        /// Bowl, of steel
        bowl_mass_g: Option<Mass> as skip,
        /// Moisture of the flour, from which its heat of hydration follows [default: 14%]
        flour_moisture_percent: Option<Percent> as skip,
        /// Temperature of the bowl [default: the room's]
        bowl_c: Option<Temperature> = "bowl",
        /// Rest (autolyse) between the first mix and salt and bassinage
        rest_h: Option<Hours> = "rest",
        /// Bassinage (held-back water), on top of the first water
        bassinage_g: Option<Mass> = "bassinage",
        /// Temperature of the bassinage
        bassinage_c: Option<Temperature> = "bassinage-temp",
    }
}

/// Friction of one mix, as `water` and a bake take it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct FrictionAnswer {
    /// Friction factor of the DDT formula.
    pub friction_factor_c: f64,
    /// Rise of the dough itself: the factor over the number of terms.
    pub real_rise_c: f64,
    /// Temperatures in the sum, 3 or 4.
    pub terms: u8,
    /// Base temperature that this dough and this friction make.
    pub base_c: f64,
    /// Heat of mixing by the heat balance, kJ per kg of dough; null without the masses of flour and water.
    pub mixing_heat_kj_per_kg: Option<f64>,
    /// What was assumed.
    pub notes: Vec<Remark>,
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
/// assert_eq!(answer.friction_factor_c, 10.0);
/// assert!((answer.real_rise_c - 10.0 / 3.0).abs() < 1e-12);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn friction(request: &FrictionRequest) -> Result<FrictionAnswer> {
    let needed = [
        ("dough_c", request.dough_c),
        ("flour_c", request.flour_c),
        ("room_c", request.room_c),
        ("water_c", request.water_c),
    ];
    // A base stands for all but the dough.
    let needed = &needed[..if request.base_c.is_some() { 1 } else { 4 }];
    let missing = needed.iter().filter(|(_, given)| given.is_none());
    let missing: Vec<&str> = missing.map(|(field, _)| *field).collect();
    let incomplete = || Error::all_missing(&missing, "for the friction of a mix");
    let need = |value: Option<Temperature>| match missing[..] {
        [] => value.ok_or_else(incomplete),
        _ => Err(incomplete()),
    };
    let dough = need(request.dough_c)?;
    let mut notes = Vec::new();
    let mut mixing_heat_kj_per_kg = None;
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
        None => {
            let water = need(request.water_c)?;
            if let (Some(flour), Some(mass)) = (request.flour_mass_g, request.water_mass_g) {
                let mix = mixing(&request.as_water(), flour, mass, &mut notes)?;
                mixing_heat_kj_per_kg = Some(mix.mixing_heat(water, dough)?);
            }
            DdtFormula {
                flour: need(request.flour_c)?,
                room: need(request.room_c)?,
                preferment: request.preferment_c,
            }
            .friction(dough, water)?
        }
    };
    let friction_factor_c = friction.factor.as_kelvin();
    let negative = (friction_factor_c < 0.0).then_some(Assumption::NegativeFriction);
    let mut warnings = remarks(negative);
    warnings.extend(remarks(Limits::shipped()?.friction_caution(&friction)));
    Ok(FrictionAnswer {
        friction_factor_c,
        real_rise_c: friction.real_rise.as_kelvin(),
        terms: friction.terms,
        base_c: friction.base_c(dough),
        mixing_heat_kj_per_kg,
        notes,
        warnings,
    })
}

impl FrictionRequest {
    /// What goes into the mix, as the question for its water describes it.
    fn as_water(&self) -> WaterRequest {
        WaterRequest {
            flour_c: self.flour_c,
            room_c: self.room_c,
            preferment_c: self.preferment_c,
            salt_mass_g: self.salt_mass_g,
            preferment_mass_g: self.preferment_mass_g,
            preferment_hydration_percent: self.preferment_hydration_percent,
            flour_moisture_percent: self.flour_moisture_percent,
            bowl_mass_g: self.bowl_mass_g,
            bowl_c: self.bowl_c,
            rest_h: self.rest_h,
            bassinage_g: self.bassinage_g,
            bassinage_c: self.bassinage_c,
            ..WaterRequest::default()
        }
    }
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
        assert!((answer.friction_factor_c * 1.8 - 35.0).abs() < 1e-9);
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
