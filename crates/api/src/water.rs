//! What water, by both methods, and whether it takes ice.

use super::{celsius, grams, required};
use crate::sentences::Sentence as _;
use pointage::error::{Error, Result};
use pointage::ferment::Kind;
use pointage::heat::balance::{Balanced, Ingredient, Mixing, Rest};
use pointage::heat::capacities::HeatCapacities;
use pointage::heat::cautions::Limits;
use pointage::heat::ddt_formula::{BaseTemperature, DdtFormula, Friction};
use pointage::heat::ice;
use pointage::heat::mixing_heat::MixingHeat;
use pointage::units::{Percent, Temperature, TemperatureDifference, hours};
use serde::{Deserialize, Serialize};

/// A mix and the dough that is wanted of it.
///
/// The sum rule needs `flour_c`, `room_c` and either `friction_factor_c` with `dough_c`, or `base_c`. The
/// heat balance needs `dough_c`, `flour_c`, `flour_mass_g` and `water_mass_g`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct WaterRequest {
    /// Wanted dough at the end of mixing.
    pub dough_c: Option<f64>,
    /// Flour.
    pub flour_c: Option<f64>,
    /// Room; also stands in for the bowl and for the room of the rest.
    pub room_c: Option<f64>,
    /// Preferment: a fourth term of the sum rule, an ingredient of the balance.
    pub preferment_c: Option<f64>,
    /// Friction on the scale of the sum, a difference.
    pub friction_factor_c: Option<f64>,
    /// Base temperature, the sum of the terms, in place of dough and friction.
    pub base_c: Option<f64>,
    /// Dry flour of this mix, without that of the preferment.
    pub flour_mass_g: Option<f64>,
    /// First water of this mix, without that of the preferment and without the second water.
    pub water_mass_g: Option<f64>,
    /// Salt.
    pub salt_mass_g: Option<f64>,
    /// Temperature of the salt; the flour's when left out.
    pub salt_c: Option<f64>,
    /// Preferment.
    pub preferment_mass_g: Option<f64>,
    /// Heat capacity of the preferment; from its hydration when left out.
    pub preferment_heat_capacity_kj_per_kg_k: Option<f64>,
    /// Hydration of the preferment, that of a poolish when left out.
    pub preferment_hydration_percent: Option<f64>,
    /// Yeast.
    pub yeast_mass_g: Option<f64>,
    /// Temperature of the yeast; the flour's when left out.
    pub yeast_c: Option<f64>,
    /// Moisture of the flour, from which the heat of hydration follows.
    pub flour_moisture_percent: Option<f64>,
    /// Heat of hydration per kg of dry flour, in place of the moisture.
    pub hydration_heat_kj_per_kg: Option<f64>,
    /// Heat of mixing per kg of whole dough.
    pub mixing_heat_kj_per_kg: Option<f64>,
    /// Bowl, of steel.
    pub bowl_mass_g: Option<f64>,
    /// Temperature of the bowl; the room's when left out.
    pub bowl_c: Option<f64>,
    /// Rest between the first mix and the addition of salt, yeast and second water.
    pub rest_h: Option<f64>,
    /// Where it rests; the room when left out.
    pub rest_room_c: Option<f64>,
    /// Time constant of the resting mass; that of a covered tub when left out.
    pub rest_time_constant_h: Option<f64>,
    /// Second water, on top of the first.
    pub bassinage_g: Option<f64>,
    /// Temperature of the second water; the tap's when left out.
    pub bassinage_c: Option<f64>,
    /// Tap, for the split into ice and tap water.
    pub tap_c: Option<f64>,
    /// Temperature of the ice, 0 °C when left out.
    pub ice_c: Option<f64>,
}

/// Both methods side by side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct WaterAnswer {
    /// Answer of the trade's sum rule; null without friction or base.
    pub ddt_formula: Option<DdtFormulaAnswer>,
    /// Answer of the heat balance; null without masses.
    pub heat_balance: Option<HeatBalanceAnswer>,
    /// Water of the balance less water of the sum rule; null unless both answer.
    pub difference_c: Option<f64>,
    /// Why the two differ, in words.
    pub difference_reason: Option<String>,
    /// What was assumed, and why a method is null.
    pub notes: Vec<String>,
    /// Cautions in words.
    pub warnings: Vec<String>,
}

/// Answer of the sum rule.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct DdtFormulaAnswer {
    /// Water; below 0 °C the pour needs ice.
    pub water_c: f64,
    /// Temperatures in the sum, 3 or 4.
    pub terms: u8,
    /// Base temperature: the sum itself.
    pub base_c: f64,
    /// Friction on the scale of the sum; left out with a base and no dough.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub friction_factor_c: Option<f64>,
    /// Rise of the dough that this friction means.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub real_rise_c: Option<f64>,
    /// Ice; only when the water is colder than the tap and its mass is known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ice_g: Option<f64>,
    /// Tap water beside the ice.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tap_g: Option<f64>,
}

/// Answer of the heat balance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct HeatBalanceAnswer {
    /// (First) water; below 0 °C the pour needs ice.
    pub water_c: f64,
    /// Kelvin that the dough moves for each kelvin of water.
    pub dough_per_water: f64,
    /// Rise of the dough by wetting of the flour.
    pub hydration_rise_c: f64,
    /// Rise of the dough by the mixer.
    pub mixing_rise_c: f64,
    /// First mix at the start of the rest.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rest_start_c: Option<f64>,
    /// First mix at the end of the rest.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rest_end_c: Option<f64>,
    /// Ice; only when the water is colder than the tap.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ice_g: Option<f64>,
    /// Tap water beside the ice.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tap_g: Option<f64>,
}

/// The water for a dough, by the sum rule and by the heat balance.
///
/// # Errors
/// A value missing, contradictory or out of its range; water that neither ice nor boiling gives,
/// when no other method answers.
///
/// ```
/// use pointage_api::water::{WaterRequest, water};
/// let answer = water(&WaterRequest {
///     dough_c: Some(24.0),
///     flour_c: Some(20.0),
///     room_c: Some(21.0),
///     friction_factor_c: Some(2.0),
///     ..WaterRequest::default()
/// })?;
/// assert_eq!(answer.ddt_formula.unwrap().water_c, 29.0);
/// assert!(answer.heat_balance.is_none() && answer.notes[0].contains("--flour-mass"));
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn water(request: &WaterRequest) -> Result<WaterAnswer> {
    if request.base_c.is_none() {
        required(
            request.dough_c,
            "dough_c (--dough)",
            "the dough you want, or give base_c (--base)",
        )?;
    }
    if request.rest_h.is_none() && request.rest_room_c.is_some() {
        return Err(Error::contradiction(
            "rest_room_c (--rest-room) is the room of a rest: give rest_h (--rest) too, or neither",
        ));
    }
    // Without masses nothing else looks at them.
    optional_celsius(request.tap_c, "tap_c (--tap)")?;
    ice_temperature(request)?;
    let mut notes = Vec::new();
    let mut refused = Vec::new();
    let ddt_formula = or_refused(ddt_formula(request, &mut notes), &mut refused)?;
    let balanced = or_refused(heat_balance(request, &mut notes), &mut refused)?;
    if ddt_formula.is_none() && balanced.is_none() && !refused.is_empty() {
        return Err(refused.swap_remove(0));
    }
    let mut warnings: Vec<String> = refused.iter().map(ToString::to_string).collect();

    let (difference_c, difference_reason) = match (&ddt_formula, &balanced) {
        (Some(rule), Some(b)) => (
            Some(b.water.as_celsius() - rule.water_c),
            Some(reason(rule, b)),
        ),
        _ => (None, None),
    };
    let heat_balance = match balanced {
        Some(b) => Some(HeatBalanceAnswer::new(&b, pour(request, b.water)?.as_ref())),
        None => None,
    };

    let limits = Limits::shipped()?;
    let by_rule = ddt_formula.as_ref().map(|s| ("Sum rule", s.water_c));
    let by_balance = heat_balance.as_ref().map(|b| ("Heat balance", b.water_c));
    let mut coldest_c = f64::INFINITY;
    for (method, water_c) in by_rule.into_iter().chain(by_balance) {
        coldest_c = coldest_c.min(water_c);
        for caution in limits.water_cautions(Temperature::celsius(water_c)?) {
            warnings.push(format!("{method}: {}", caution.sentence()));
        }
        if let Some(tap_c) = request.tap_c.filter(|tap_c| water_c > *tap_c) {
            notes.push(format!(
                "{method}: the water is warmer than the tap ({tap_c:.1} °C): warm it to {water_c:.1} °C."
            ));
        }
    }
    if let Some(dough_c) = request.dough_c {
        let cautions = limits.dough_cautions(celsius(dough_c, "dough_c (--dough)")?);
        warnings.extend(cautions.iter().map(|c| c.sentence().to_string()));
    }
    if coldest_c.is_finite() && request.yeast_mass_g.is_some() {
        let caution = limits.instant_yeast_caution(Temperature::celsius(coldest_c)?);
        notes.extend(caution.map(|c| c.sentence().to_string()));
    }
    if request.tap_c.is_some() && request.water_mass_g.is_none() {
        notes.push("No ice in grams: give water_mass_g (--water-mass) along with the tap.".into());
    }
    if request.tap_c.is_none() && coldest_c < limits.chilled_water.as_celsius() {
        notes.push(
            "For the grams of ice give tap_c (--tap) and water_mass_g (--water-mass).".into(),
        );
    }
    Ok(WaterAnswer {
        ddt_formula,
        heat_balance,
        difference_c,
        difference_reason,
        notes,
        warnings,
    })
}

/// Sets aside the error of a method whose aim cannot be met, so that the other may still answer.
fn or_refused<T>(result: Result<Option<T>>, refused: &mut Vec<Error>) -> Result<Option<T>> {
    match result {
        Err(error) if error.is_unreachable() => {
            refused.push(error);
            Ok(None)
        }
        other => other,
    }
}

fn ddt_formula(
    request: &WaterRequest,
    notes: &mut Vec<String>,
) -> Result<Option<DdtFormulaAnswer>> {
    if request.friction_factor_c.is_some() && request.base_c.is_some() {
        return Err(Error::contradiction(
            "friction_factor_c (--friction) and base_c (--base) both fix the sum rule: leave one of them out",
        ));
    }
    if request.friction_factor_c.is_none() && request.base_c.is_none() {
        notes.push(
            "No sum rule: give friction_factor_c (--friction) or base_c (--base); `friction` finds it from one mix."
                .into(),
        );
        return Ok(None);
    }
    let need = |value, name| celsius(required(value, name, "the sum rule")?, name);
    let rule = DdtFormula {
        flour: need(request.flour_c, "flour_c (--flour)")?,
        room: need(request.room_c, "room_c (--room)")?,
        preferment: optional_celsius(request.preferment_c, "preferment_c (--preferment)")?,
    };
    let dough = optional_celsius(request.dough_c, "dough_c (--dough)")?;
    let (base, friction) = if let Some(base_c) = request.base_c {
        let base = BaseTemperature::celsius(base_c).map_err(|e| e.at("base_c (--base)"))?;
        let friction = dough
            .map(|dough| Friction::from_base(base, dough, rule.terms()))
            .transpose()?;
        (base, friction)
    } else {
        let dough = required(dough, "dough_c (--dough)", "the sum rule")?;
        let friction_factor_c = required(
            request.friction_factor_c,
            "friction_factor_c (--friction)",
            "the sum rule",
        )?;
        let sum_scale = TemperatureDifference::kelvin(friction_factor_c)
            .map_err(|e| e.at("friction_factor_c (--friction)"))?;
        let friction = Friction::on_sum_scale(sum_scale, rule.terms())?;
        (BaseTemperature::of_dough(dough, friction), Some(friction))
    };
    let water = rule
        .water_for_base(base)
        .and_then(|water| obtainable(request, water))
        .map_err(|e| e.at("sum rule"))?;
    let pour = pour(request, water)?;
    Ok(Some(DdtFormulaAnswer {
        water_c: water.as_celsius(),
        terms: rule.terms(),
        base_c: base.as_celsius(),
        friction_factor_c: friction.map(|f| f.sum_scale().as_kelvin()),
        real_rise_c: friction.map(|f| f.real_rise().as_kelvin()),
        ice_g: pour.map(|p| p.ice.as_grams()),
        tap_g: pour.map(|p| p.tap.as_grams()),
    }))
}

fn heat_balance(request: &WaterRequest, notes: &mut Vec<String>) -> Result<Option<Balanced>> {
    let (Some(flour_g), Some(water_g)) = (request.flour_mass_g, request.water_mass_g) else {
        notes.push(
            "No heat balance: give flour_mass_g (--flour-mass) and water_mass_g (--water-mass)."
                .into(),
        );
        return Ok(None);
    };
    let Some(dough_c) = request.dough_c else {
        notes.push("No heat balance: give dough_c (--dough), the dough you want.".into());
        return Ok(None);
    };
    if request.preferment_c.is_some() && request.preferment_mass_g.is_none() {
        notes.push(
            "No heat balance: give preferment_mass_g (--preferment-mass) along with its temperature."
                .into(),
        );
        return Ok(None);
    }
    let mix = mixing(request, flour_g, water_g, notes)?;
    mix.water_for_dough(celsius(dough_c, "dough_c (--dough)")?)
        .and_then(|b| obtainable(request, b.water).map(|_| Some(b)))
        .map_err(|e| e.at("heat balance"))
}

impl HeatBalanceAnswer {
    pub(super) fn new(b: &Balanced, pour: Option<&ice::Pour>) -> Self {
        Self {
            water_c: b.water.as_celsius(),
            dough_per_water: b.dough_per_water,
            hydration_rise_c: b.hydration_rise.as_kelvin(),
            mixing_rise_c: b.mixing_rise.as_kelvin(),
            rest_start_c: b.rest.map(|[start, _]| start.as_celsius()),
            rest_end_c: b.rest.map(|[_, end]| end.as_celsius()),
            ice_g: pour.map(|p| p.ice.as_grams()),
            tap_g: pour.map(|p| p.tap.as_grams()),
        }
    }
}

/// The mix that the request describes, with what had to be assumed in `notes`.
fn mixing(
    request: &WaterRequest,
    flour_g: f64,
    water_g: f64,
    notes: &mut Vec<String>,
) -> Result<Mixing> {
    let capacities = HeatCapacities::shipped()?;
    let usual = MixingHeat::shipped()?;
    let flour_c = required(request.flour_c, "flour_c (--flour)", "the heat balance")?;
    let flour = Ingredient::new(
        grams(flour_g, "flour_mass_g (--flour-mass)")?,
        capacities.flour_kj_per_kg_k,
        celsius(flour_c, "flour_c (--flour)")?,
    )?;
    let mut mix = Mixing::new(
        flour,
        grams(water_g, "water_mass_g (--water-mass)")?,
        capacities,
    );

    let preferment_capacity = match request.preferment_heat_capacity_kj_per_kg_k {
        Some(given) => given,
        None => {
            let poolish = Kind::Poolish.usual()?;
            let given = request.preferment_hydration_percent;
            if given.is_none() && request.preferment_mass_g.is_some() {
                notes.push(format!(
                    "Assumed: a preferment with {:.0} % water; otherwise give preferment_heat_capacity_kj_per_kg_k (--preferment-heat-capacity).",
                    poolish.hydration_percent
                ));
            }
            let hydration = Percent::new(given.unwrap_or(poolish.hydration_percent))
                .map_err(|e| e.at("preferment_hydration_percent"))?;
            capacities.dough(hydration, Percent::new(poolish.salt_percent)?)
        }
    };
    mix.with_water.extend(ingredient(
        (
            request.preferment_mass_g,
            "preferment_mass_g (--preferment-mass)",
        ),
        preferment_capacity,
        (request.preferment_c, "preferment_c (--preferment)"),
        None,
        notes,
    )?);
    mix.bowl = ingredient(
        (request.bowl_mass_g, "bowl_mass_g (--bowl-mass)"),
        capacities.steel_kj_per_kg_k,
        (request.bowl_c, "bowl_c (--bowl)"),
        request.room_c,
        notes,
    )?;
    let salt = ingredient(
        (request.salt_mass_g, "salt_mass_g (--salt-mass)"),
        capacities.salt_kj_per_kg_k,
        (request.salt_c, "salt_c (--salt)"),
        Some(flour_c),
        notes,
    )?;
    let yeast = ingredient(
        (request.yeast_mass_g, "yeast_mass_g (--yeast-mass)"),
        capacities.yeast_kj_per_kg_k,
        (request.yeast_c, "yeast_c (--yeast-temp)"),
        Some(flour_c),
        notes,
    )?;
    let bassinage = ingredient(
        (request.bassinage_g, "bassinage_g (--bassinage)"),
        capacities.water_kj_per_kg_k,
        (request.bassinage_c, "bassinage_c (--bassinage-temp)"),
        request.tap_c,
        notes,
    )?;
    mix.after_rest = [salt, yeast, bassinage].into_iter().flatten().collect();

    if let Some(rest_h) = request.rest_h {
        let name = "rest_room_c (--rest-room)";
        let room_c = required(request.rest_room_c.or(request.room_c), name, "the rest")?;
        mix.rest = Some(Rest {
            length: hours(rest_h).map_err(|e| e.at("rest_h (--rest)"))?,
            room: celsius(room_c, name)?,
            time_constant_h: request.rest_time_constant_h,
        });
    }

    mix.hydration_kj_per_kg = match (
        request.hydration_heat_kj_per_kg,
        request.flour_moisture_percent,
    ) {
        (Some(_), Some(_)) => {
            return Err(Error::contradiction(
                "hydration_heat_kj_per_kg (--hydration-heat) and flour_moisture_percent (--flour-moisture) fix the same heat: leave one of them out",
            ));
        }
        (Some(heat), None) => heat,
        (None, moisture) => {
            let percent = moisture.unwrap_or(usual.usual_moisture_percent);
            let heat = Percent::new(percent)
                .and_then(|w| usual.hydration_kj_per_kg(w))
                .map_err(|e| e.at("flour_moisture_percent (--flour-moisture)"))?;
            if moisture.is_none() {
                notes.push(format!(
                    "Assumed: flour of {percent:.0} % moisture, which gives off {heat:.1} kJ/kg when wetted; change it with flour_moisture_percent (--flour-moisture)."
                ));
            }
            heat
        }
    };
    mix.mixing_kj_per_kg = request.mixing_heat_kj_per_kg.unwrap_or_else(|| {
        notes.push(format!(
            "Assumed: a gentle planetary or spiral mix, {:.0} kJ per kg of dough; change it with mixing_heat_kj_per_kg (--mixing-heat).",
            usual.usual_mixing_kj_per_kg
        ));
        usual.usual_mixing_kj_per_kg
    });
    Ok(mix)
}

/// An ingredient that has a mass. Its temperature falls back to `or_c`; one given without a mass
/// is noted, because the balance cannot use it.
fn ingredient(
    (mass_g, mass_name): (Option<f64>, &str),
    heat_capacity: f64,
    (given_c, temperature_name): (Option<f64>, &str),
    or_c: Option<f64>,
    notes: &mut Vec<String>,
) -> Result<Option<Ingredient>> {
    let Some(mass_g) = mass_g else {
        if given_c.is_some() {
            notes.push(format!(
                "{temperature_name} is not used: give {mass_name} with it."
            ));
        }
        return Ok(None);
    };
    let at_c = required(given_c.or(or_c), temperature_name, "the heat balance")?;
    let mass = grams(mass_g, mass_name)?;
    Ingredient::new(mass, heat_capacity, celsius(at_c, temperature_name)?)
        .map(Some)
        .map_err(|e| e.at(mass_name))
}

fn optional_celsius(value: Option<f64>, name: &str) -> Result<Option<Temperature>> {
    value.map(|c| celsius(c, name)).transpose()
}

fn ice_temperature(request: &WaterRequest) -> Result<Temperature> {
    celsius(request.ice_c.unwrap_or(0.0), "ice_c (--ice-temp)")
}

fn obtainable(request: &WaterRequest, water: Temperature) -> Result<Temperature> {
    ice::check_obtainable(
        water,
        ice_temperature(request)?,
        &HeatCapacities::shipped()?,
    )?;
    Ok(water)
}

/// Ice and tap water, when the tap and the mass are known and the water is colder than the tap.
fn pour(request: &WaterRequest, water: Temperature) -> Result<Option<ice::Pour>> {
    let (Some(tap_c), Some(water_g)) = (request.tap_c, request.water_mass_g) else {
        return Ok(None);
    };
    let tap = celsius(tap_c, "tap_c (--tap)")?;
    if water >= tap {
        return Ok(None);
    }
    let total = grams(water_g, "water_mass_g (--water-mass)")?;
    let ice_temperature = ice_temperature(request)?;
    ice::split(
        total,
        tap,
        water,
        ice_temperature,
        &HeatCapacities::shipped()?,
    )
    .map(Some)
}

/// Why the two methods differ, with the numbers of this mix.
fn reason(rule: &DdtFormulaAnswer, b: &Balanced) -> String {
    let wrong_by_k = (rule.water_c - b.water.as_celsius()) * b.dough_per_water;
    format!(
        "The sum rule weighs {terms} temperatures alike, so that {terms} K of water move the dough by 1 K, and has one friction for all heat ({friction:.1} K in the dough). The balance weighs by mass and heat capacity: {leverage:.1} K of water for 1 K of dough, {hydration:.1} K from wetting the flour, {mixing:.1} K from the mixer. By the balance, the sum rule's water gives a dough of {dough:.1} °C.",
        terms = rule.terms,
        friction = rule.real_rise_c.unwrap_or(0.0),
        leverage = 1.0 / b.dough_per_water,
        hydration = b.hydration_rise.as_kelvin(),
        mixing = b.mixing_rise.as_kelvin(),
        dough = b.dough.as_celsius() + wrong_by_k,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(json: &str) -> Result<WaterAnswer> {
        water(&serde_json::from_str(json).unwrap())
    }

    fn message(json: &str) -> String {
        ask(json).unwrap_err().to_string()
    }

    #[test]
    fn four_terms_and_a_base() {
        // Hamelman, Bread (from memory): 304 - (72 + 68 + 70 + 26) = 68 °F
        let c = |f: f64| (f - 32.0) / 1.8;
        let answer = water(&WaterRequest {
            dough_c: Some(c(76.0)),
            flour_c: Some(c(72.0)),
            room_c: Some(c(68.0)),
            preferment_c: Some(c(70.0)),
            friction_factor_c: Some(26.0 / 1.8),
            ..WaterRequest::default()
        })
        .unwrap();
        let rule = answer.ddt_formula.unwrap();
        assert!((rule.water_c - 20.0).abs() < 1e-9);
        assert_eq!(rule.terms, 4);
        // Dufour, reported by Dewalque: base 60, flour 5, room 6; 49 °C is hot for bare yeast
        let answer = ask(r#"{"base_c": 60, "flour_c": 5, "room_c": 6}"#).unwrap();
        assert_eq!(answer.ddt_formula.as_ref().unwrap().water_c, 49.0);
        assert!(answer.warnings[0].contains("bare yeast"));
        let json = serde_json::to_value(&answer).unwrap();
        assert!(json["heat_balance"].is_null() && json["difference_c"].is_null());
        assert!(json["ddt_formula"].get("friction_factor_c").is_none());
        // his hottest day: 0 °C is called what it is
        let answer = ask(r#"{"base_c": 60, "flour_c": 30, "room_c": 30}"#).unwrap();
        assert!(answer.warnings[0].contains("ice"));
    }

    #[test]
    fn both_methods_with_ice() {
        // The balance is W7 of tests/reference/mixing_chain.py, the rule is arithmetic:
        // 3 * 24 - 30 - 28 - 10 = 4
        let answer = ask(
            r#"{"dough_c": 24, "flour_c": 30, "room_c": 28, "friction_factor_c": 10,
                "flour_mass_g": 50000, "water_mass_g": 30000, "salt_mass_g": 1000,
                "yeast_mass_g": 1000, "yeast_c": 5, "hydration_heat_kj_per_kg": 15.1,
                "mixing_heat_kj_per_kg": 12, "tap_c": 18, "ice_c": -5}"#,
        )
        .unwrap();
        let (rule, balance) = (answer.ddt_formula.unwrap(), answer.heat_balance.unwrap());
        assert_eq!(rule.water_c, 4.0);
        assert!((balance.water_c - 6.294_314).abs() < 1e-5);
        assert!((balance.ice_g.unwrap() - 3506.696).abs() < 1e-2);
        assert!((balance.tap_g.unwrap() + balance.ice_g.unwrap() - 30e3).abs() < 1e-6);
        // 30 * 4.186 * 14 / (333.6 + 4.186 * 18 + 2.05 * 5) kg (arithmetic)
        let expected = 30e3 * 4.186 * 14.0 / (333.6 + 4.186 * 18.0 + 2.05 * 5.0);
        assert!((rule.ice_g.unwrap() - expected).abs() < 1e-6);
        assert!((answer.difference_c.unwrap() - 2.294_314).abs() < 1e-5);
        assert!(
            answer
                .difference_reason
                .unwrap()
                .contains("weighs 3 temperatures")
        );
        assert!(answer.warnings.is_empty(), "{:?}", answer.warnings);
        assert!(answer.notes.iter().all(|n| !n.contains("Assumed")));
        assert!(answer.notes.iter().any(|n| n.contains("instant")));
    }

    #[test]
    fn heats_left_out_are_assumed_and_said() {
        let masses = r#""dough_c": 26, "flour_c": 20, "flour_mass_g": 1000, "water_mass_g": 650"#;
        let bare = ask(&format!(
            r#"{{{masses}, "hydration_heat_kj_per_kg": 0, "mixing_heat_kj_per_kg": 0}}"#
        ))
        .unwrap();
        // 26 + 1.80 * 6 / (0.65 * 4.186) (arithmetic)
        assert!((bare.heat_balance.unwrap().water_c - 29.969_275).abs() < 1e-5);
        assert!(bare.ddt_formula.is_none() && bare.notes[0].contains("--friction"));

        let usual = ask(&format!("{{{masses}}}")).unwrap();
        let balance = usual.heat_balance.unwrap();
        // 9.87 kJ and 1.65 * 6 kJ into 1.80 + 0.65 * 4.186 kJ/K (arithmetic)
        assert!((balance.hydration_rise_c - 2.18).abs() < 0.01);
        assert!((balance.mixing_rise_c - 2.19).abs() < 0.01);
        assert_eq!(
            usual
                .notes
                .iter()
                .filter(|n| n.starts_with("Assumed"))
                .count(),
            2
        );
    }

    #[test]
    fn a_rest_needs_a_room_and_is_shown() {
        let rest = r#""dough_c": 24, "flour_c": 20, "flour_mass_g": 1000, "water_mass_g": 610,
            "rest_h": 0.5, "bassinage_g": 40, "bassinage_c": 6"#;
        let answer = ask(&format!("{{{rest}, \"rest_room_c\": 21}}")).unwrap();
        let balance = answer.heat_balance.unwrap();
        assert!(balance.rest_start_c.is_some() && balance.rest_end_c.is_some());
        assert_eq!(
            message(&format!("{{{rest}}}")),
            "rest_room_c (--rest-room) is missing: give it for the rest"
        );
        let no_rest = r#"{"dough_c": 24, "flour_c": 20, "room_c": 21, "friction_factor_c": 2, "rest_room_c": 18}"#;
        assert!(message(no_rest).contains("give rest_h (--rest) too, or neither"));
    }

    #[test]
    fn without_anything_to_go_by_both_methods_are_null_and_say_so() {
        let answer = ask(r#"{"dough_c": 24, "flour_c": 20, "room_c": 21, "tap_c": 12}"#).unwrap();
        assert!(answer.ddt_formula.is_none() && answer.heat_balance.is_none());
        let notes = answer.notes.join(" ");
        for flag in ["--friction", "--base", "--flour-mass", "--water-mass"] {
            assert!(notes.contains(flag), "{notes}");
        }
        // a preferment of unknown mass cannot be weighed in
        let answer = ask(
            r#"{"dough_c": 24, "flour_c": 20, "room_c": 21, "preferment_c": 21, "friction_factor_c": 5,
                "flour_mass_g": 1000, "water_mass_g": 500}"#,
        )
        .unwrap();
        assert!(answer.heat_balance.is_none() && answer.notes[0].contains("--preferment-mass"));
    }

    #[test]
    fn one_method_out_of_reach_leaves_the_other() {
        let rule = r#""dough_c": 24, "flour_c": 40, "room_c": 40, "friction_factor_c": 80"#;
        assert!(ask(&format!("{{{rule}}}")).unwrap_err().is_unreachable());
        let answer = ask(&format!(
            r#"{{{rule}, "flour_mass_g": 1000, "water_mass_g": 650}}"#
        ))
        .unwrap();
        assert!(answer.ddt_formula.is_none() && answer.heat_balance.is_some());
        assert!(answer.warnings[0].starts_with("sum rule: water of -88.0 °C cannot be met"));
    }

    #[test]
    fn errors_name_the_key_and_the_flag() {
        assert!(message(r#"{"flour_c": 20}"#).starts_with("dough_c (--dough) is missing"));
        for (json, begins) in [
            (
                r#"{"dough_c": 24, "friction_factor_c": 2, "room_c": 20}"#,
                "flour_c (--flour) is missing",
            ),
            (
                r#"{"dough_c": 24, "friction_factor_c": 2, "flour_c": 300, "room_c": 20}"#,
                "flour_c (--flour): temperature is 300 °C",
            ),
            (
                r#"{"dough_c": 24, "friction_factor_c": 2, "base_c": 60}"#,
                "friction_factor_c (--friction) and base_c (--base) both",
            ),
            (
                r#"{"dough_c": 24, "flour_c": 20, "flour_mass_g": 1000, "water_mass_g": -1}"#,
                "water_mass_g (--water-mass): mass is -1 g",
            ),
            (
                r#"{"dough_c": 24, "flour_c": 20, "flour_mass_g": 1000, "water_mass_g": 600, "bowl_mass_g": 9}"#,
                "bowl_c (--bowl) is missing",
            ),
        ] {
            assert!(message(json).starts_with(begins), "{}", message(json));
        }
        assert!(serde_json::from_str::<WaterRequest>(r#"{"dough": 24}"#).is_err());
    }
}
