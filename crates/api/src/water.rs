//! What water temperature, by both methods, and whether it takes ice.

use super::request::{Answerable, FieldValue, Input, Numbers, numbers, request, values};
use super::sentences::remarks;
use super::{Assumption, Model, Remark};
use pointage::error::{Error, Result};
use pointage::ferment::Kind;
use pointage::heat::balance::{Balanced, Mixing, Rest, ThermalMass};
use pointage::heat::cautions::Limits;
use pointage::heat::ddt_formula::{DdtFormula, Friction};
use pointage::heat::ice;
use pointage::heat::properties::ThermalProperties;
use pointage::units::{Hours, Mass, Percent, Temperature, TemperatureDifference};
use serde::{Serialize, Serializer};

request! {
    /// The water for a desired dough temperature.
    ///
    /// The desired-dough-temperature (DDT) formula needs `flour_c`, `room_c` and either `friction_factor_c`
    /// with `dough_c`, or `base_c`. The heat balance needs `dough_c`, `flour_c`, `flour_mass_g` and
    /// `water_mass_g`.
    WaterRequest = "water" {
        /// Desired dough temperature at the end of the mix
        dough_c: Option<Temperature> = "dough",
        /// Flour
        flour_c: Option<Temperature> = "flour",
        /// Room; also stands in for the bowl and for the room of the rest
        room_c: Option<Temperature> = "room",
        /// Preferment, the fourth term of the DDT formula
        preferment_c: Option<Temperature> = "preferment",
        /// Friction factor; a difference, so 20F is 11.1 °C
        friction_factor_c: Option<TemperatureDifference> = "friction",
        /// Base temperature, the sum of the terms, in place of the friction factor
        #[cfg_attr(feature = "schema", schemars(with = "Option<Temperature>"))]
        base_c: Option<BaseSum> = "base",
        /// Flour of this mix, without that of the preferment
        flour_mass_g: Option<Mass> = "flour-mass",
        /// Water of this mix, without that of the preferment and the bassinage
        water_mass_g: Option<Mass> = "water-mass",
        /// Salt
        salt_mass_g: Option<Mass> = "salt-mass",
        /// Temperature of the salt [default: the flour's]
        salt_c: Option<Temperature> = "salt",
        /// Preferment
        preferment_mass_g: Option<Mass> = "preferment-mass",
        /// Heat capacity of the preferment, kJ/(kg K) [default: from its hydration]
        preferment_heat_capacity_kj_per_kg_k: Option<f64> = "preferment-heat-capacity" (value_parser = super::request::number),
        /// Hydration of the preferment [default: that of a poolish]
        preferment_hydration_percent: Option<Percent> = "preferment-hydration",
        /// Yeast
        yeast_mass_g: Option<Mass> = "yeast-mass",
        /// Temperature of the yeast [default: the flour's]
        yeast_c: Option<Temperature> = "yeast-temp",
        /// Moisture of the flour, from which its heat of hydration follows [default: 14%]
        flour_moisture_percent: Option<Percent> = "flour-moisture",
        /// Heat of hydration, kJ per kg of flour, in place of its moisture
        hydration_heat_kj_per_kg: Option<f64> = "hydration-heat" (value_parser = super::request::number),
        /// Heat of mixing, kJ per kg of dough [default: 6]
        mixing_heat_kj_per_kg: Option<f64> = "mixing-heat" (value_parser = super::request::number),
        /// Bowl, of steel
        bowl_mass_g: Option<Mass> = "bowl-mass",
        /// Temperature of the bowl [default: the room's]
        bowl_c: Option<Temperature> = "bowl",
        /// Rest between the first mix and salt, yeast and bassinage
        rest_h: Option<Hours> = "rest",
        /// Where it rests [default: the room]
        rest_room_c: Option<Temperature> = "rest-room",
        /// Time constant of the resting mass [default: that of a covered tub]
        rest_time_constant_h: Option<Hours> = "rest-time-constant",
        /// Bassinage (held-back water), on top of the first water
        bassinage_g: Option<Mass> = "bassinage",
        /// Temperature of the bassinage [default: the tap's]
        bassinage_c: Option<Temperature> = "bassinage-temp",
        /// Tap, for the grams of ice
        tap_c: Option<Temperature> = "tap",
        /// Temperature of the ice [default: 0]
        ice_c: Option<Temperature> = "ice-temp",
    }
}

/// A base temperature as it is written: a sum of readings, of which one in °F means what its number of
/// terms makes of it.
///
/// ```
/// use pointage_api::water::BaseSum;
/// let base: BaseSum = "204F".parse()?;
/// assert!((base.of_terms(3)? - 60.0).abs() < 1e-12); // 60 * 1.8 + 3 * 32 = 204
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BaseSum {
    /// A sum in °C.
    Celsius(f64),
    /// A sum in °F.
    Fahrenheit(f64),
}

impl BaseSum {
    /// The base temperature (°C) of a sum of so many terms, each with its own offset in °F.
    ///
    /// # Errors
    /// Outside -100 to 400 °C.
    pub fn of_terms(self, terms: u8) -> Result<f64> {
        let base_c = match self {
            Self::Celsius(sum) => sum,
            Self::Fahrenheit(sum) => (sum - 32.0 * f64::from(terms)) / 1.8,
        };
        super::check_field("base_c", "base temperature", base_c, (-100.0, 400.0), "°C")
    }
}

impl std::str::FromStr for BaseSum {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        let number = text.trim().trim_end_matches(['F', 'f', 'C', 'c']);
        let sum = number.trim_end().trim_end_matches('°').trim();
        let sum = sum.parse::<f64>();
        match (sum, text.trim()[number.len()..].trim()) {
            (Ok(sum), "" | "C" | "c") if sum.is_finite() => Ok(Self::Celsius(sum)),
            (Ok(sum), "F" | "f") if sum.is_finite() => Ok(Self::Fahrenheit(sum)),
            _ => {
                let expected = "a sum of temperatures such as 60 or 204F";
                Err(Error::text("base temperature", text, expected))
            }
        }
    }
}

impl Serialize for BaseSum {
    fn serialize<S: Serializer>(&self, to: S) -> std::result::Result<S::Ok, S::Error> {
        match self {
            Self::Celsius(sum) => to.serialize_f64(*sum),
            Self::Fahrenheit(sum) => to.collect_str(&format_args!("{sum}F")),
        }
    }
}

values! { BaseSum, "SUM", true, Self::Celsius(0.0), |i| i.quantity(|sum| Ok(BaseSum::Celsius(sum))); }

/// The water to pour, and what each method says.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct WaterAnswer {
    /// What the pour acts like, by the heat balance where it answers, else by the DDT formula; below 0 °C its last
    /// ice melts in the dough.
    pub water_c: f64,
    /// Ice; only when the water is colder than the tap and its mass is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ice_g: Option<f64>,
    /// Tap water beside the ice.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tap_g: Option<f64>,
    /// Answer of the desired-dough-temperature (DDT) formula; null without friction or base.
    pub ddt_formula: Option<DdtFormulaAnswer>,
    /// Answer of the heat balance; null without masses.
    pub heat_balance: Option<HeatBalanceAnswer>,
    /// Water of the balance less water of the DDT formula; null unless both answer.
    pub difference_c: Option<f64>,
    /// Why the two differ; null where that makes less than 1 °C in the dough.
    pub difference_reason: Option<Remark>,
    /// What was assumed, and why a method is null.
    pub notes: Vec<Remark>,
    /// Cautions.
    pub warnings: Vec<Remark>,
}

/// Answer of the DDT formula.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct DdtFormulaAnswer {
    /// Water; below 0 °C the pour needs ice.
    pub water_c: f64,
    /// Temperatures in the sum, 3 or 4.
    pub terms: u8,
    /// Base temperature: the sum itself.
    pub base_c: f64,
    /// Friction factor; left out with a base and no dough.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub friction_factor_c: Option<f64>,
    /// Rise of the dough that this friction means.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub real_rise_c: Option<f64>,
}

/// Answer of the heat balance.
#[derive(Debug, Clone, PartialEq, Serialize)]
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
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rest_start_c: Option<f64>,
    /// First mix at the end of the rest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rest_end_c: Option<f64>,
}

impl Answerable<WaterAnswer> for WaterRequest {
    const NUMBERS: Numbers<WaterAnswer> = numbers! {
        water_c ice_g tap_g;;
        ddt_formula { water_c base_c friction_factor_c real_rise_c }
        heat_balance {
            water_c dough_per_water hydration_rise_c mixing_rise_c rest_start_c rest_end_c
        };
        difference_c
    };
    fn answer(&self, _: &Model) -> Result<WaterAnswer> {
        water(self)
    }
}

/// The water for a dough, by the DDT formula and by the heat balance.
///
/// # Errors
/// A value missing, contradictory or out of its range; water that neither ice nor boiling gives,
/// when no other method answers.
///
/// ```
/// use pointage_api::water::{WaterRequest, water};
/// let answer = water(&WaterRequest {
///     dough_c: Some("24C".parse()?),
///     flour_c: Some("20C".parse()?),
///     room_c: Some("21C".parse()?),
///     friction_factor_c: Some("2C".parse()?),
///     ..WaterRequest::default()
/// })?;
/// assert_eq!(answer.ddt_formula.unwrap().water_c, 29.0);
/// assert!(answer.heat_balance.is_none());
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn water(request: &WaterRequest) -> Result<WaterAnswer> {
    if request.base_c.is_none() && request.dough_c.is_none() {
        let purpose = "for the dough you want, or give the base temperature";
        return Err(Error::missing("dough_c", purpose));
    }
    if request.rest_h.is_none() && request.rest_room_c.is_some() {
        return Err(Error::missing("rest_h", "with the room of the rest"));
    }
    let mut notes = Vec::new();
    let mut refused = Vec::new();
    let ddt_formula = or_refused(ddt_formula(request, &mut notes), &mut refused)?;
    let balanced = or_refused(heat_balance(request, &mut notes), &mut refused)?;
    if ddt_formula.is_none() && balanced.is_none() {
        let masses = request.flour_mass_g.and(request.water_mass_g);
        let either = "with flour and room, or give the masses of flour and water";
        return Err(match (refused.is_empty(), masses) {
            (false, _) => refused.swap_remove(0),
            (true, Some(_)) => Error::missing("preferment_mass_g", "with its temperature"),
            (true, None) => Error::missing("friction_factor_c", either),
        });
    }
    let mut warnings = remarks(refused);
    let by_balance = balanced.map(|b| b.water.as_celsius());
    let by_formula = ddt_formula.as_ref().map(|f| f.water_c);
    let difference_c = by_balance.zip(by_formula).map(|(b, f)| b - f);
    let water_c = by_balance.or(by_formula).unwrap_or_default();
    let water = Temperature::celsius(water_c)?;
    let pour = pour(request, water)?;
    cautions(request, water, &mut notes, &mut warnings)?;
    let reason = ddt_formula.as_ref().zip(balanced);
    Ok(WaterAnswer {
        water_c: water.as_celsius(),
        ice_g: pour.map(|pour| pour.ice.as_grams()),
        tap_g: pour.map(|pour| pour.tap.as_grams()),
        difference_reason: reason.and_then(|(f, b)| methods_differ(f, &b)),
        heat_balance: balanced.as_ref().map(HeatBalanceAnswer::from),
        ddt_formula,
        difference_c,
        notes,
        warnings,
    })
}

fn cautions(
    request: &WaterRequest,
    water: Temperature,
    notes: &mut Vec<Remark>,
    warnings: &mut Vec<Remark>,
) -> Result<()> {
    let limits = Limits::shipped()?;
    if let Some(dough) = request.dough_c {
        warnings.extend(remarks(limits.dough_cautions(dough)));
    }
    if request.tap_c.is_some() && request.water_mass_g.is_none() {
        notes.push(Assumption::NoIceMass.into());
    }
    warnings.extend(remarks(limits.water_cautions(water)));
    if let Some(tap) = request.tap_c.filter(|tap| water > *tap) {
        let (water_c, tap_c) = (water.as_celsius(), tap.as_celsius());
        notes.push(Assumption::WarmerThanTap { water_c, tap_c }.into());
    }
    if request.yeast_mass_g.is_some() {
        notes.extend(limits.instant_yeast_caution(water).map(Remark::from));
    }
    if request.tap_c.is_none() && water < limits.chilled_water_c {
        notes.push(Assumption::NoTap.into());
    }
    let friction = friction(request)?;
    warnings.extend(friction.and_then(|f| limits.friction_caution(&f).map(Remark::from)));
    if request.base_c.is_some() && request.preferment_c.is_some() {
        notes.push(Assumption::BaseOfFourTerms.into());
    }
    Ok(())
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
    notes: &mut Vec<Remark>,
) -> Result<Option<DdtFormulaAnswer>> {
    if request.friction_factor_c.is_some() && request.base_c.is_some() {
        let fields = ["friction_factor_c", "base_c"];
        return Err(Error::excludes(&fields, "both fix the DDT formula"));
    }
    if request.friction_factor_c.is_none() && request.base_c.is_none() {
        let own = request.mixing_heat_kj_per_kg.is_some();
        notes.extend((!own).then(|| Assumption::NoDdtFormula.into()));
        return Ok(None);
    }
    let missing = |field| Error::missing(field, "for the DDT formula");
    let formula = DdtFormula {
        flour: request.flour_c.ok_or_else(|| missing("flour_c"))?,
        room: request.room_c.ok_or_else(|| missing("room_c"))?,
        preferment: request.preferment_c,
    };
    let terms = formula.terms();
    let friction = friction(request)?;
    let base = match (request.base_c, friction, request.dough_c) {
        (Some(base), ..) => base.of_terms(terms)?,
        (_, Some(friction), Some(dough)) => friction.base_c(dough),
        _ => return Err(missing("dough_c")),
    };
    let water = formula.water_for_base(base);
    let water = water.and_then(|water| obtainable(request, water));
    let water = water.map_err(|e| e.at("DDT formula"))?;
    Ok(Some(DdtFormulaAnswer {
        water_c: water.as_celsius(),
        terms,
        base_c: base,
        friction_factor_c: friction.map(|f| f.factor.as_kelvin()),
        real_rise_c: friction.map(|f| f.real_rise.as_kelvin()),
    }))
}

/// The friction factor that was given, or that a base temperature holds for this dough.
fn friction(request: &WaterRequest) -> Result<Option<Friction>> {
    let terms = if request.preferment_c.is_some() { 4 } else { 3 };
    let friction = match (request.friction_factor_c, request.base_c, request.dough_c) {
        (Some(factor), ..) => Some(Friction::of_factor(factor, terms)),
        (_, Some(base), Some(dough)) => {
            let base = base.of_terms(terms)?;
            Some(Friction::from_base(base, dough, terms).map_err(|e| e.of_field("base_c")))
        }
        _ => None,
    };
    friction.transpose()
}

fn heat_balance(request: &WaterRequest, notes: &mut Vec<Remark>) -> Result<Option<Balanced>> {
    let mut lacks = |missing| {
        notes.push(Assumption::NoHeatBalance { missing }.into());
        Ok(None)
    };
    let (Some(flour), Some(water)) = (request.flour_mass_g, request.water_mass_g) else {
        return lacks("flour_mass_g");
    };
    let Some(dough) = request.dough_c else {
        return lacks("dough_c");
    };
    if request.preferment_c.is_some() && request.preferment_mass_g.is_none() {
        return lacks("preferment_mass_g");
    }
    let mut mix = mixing(request, flour, water, notes)?;
    mix.mixing_kj_per_kg = mixing_heat(request, &mix, notes)?;
    mix.water_for_dough(dough)
        .and_then(|b| obtainable(request, b.water).map(|_| Some(b)))
        .map_err(|e| e.at("heat balance"))
}

impl From<&Balanced> for HeatBalanceAnswer {
    fn from(b: &Balanced) -> Self {
        Self {
            water_c: b.water.as_celsius(),
            dough_per_water: b.dough_per_water,
            hydration_rise_c: b.hydration_rise.as_kelvin(),
            mixing_rise_c: b.mixing_rise.as_kelvin(),
            rest_start_c: b.rest.map(|[start, _]| start.as_celsius()),
            rest_end_c: b.rest.map(|[_, end]| end.as_celsius()),
        }
    }
}

/// The mix that the request describes, with what had to be assumed in `notes`.
pub(super) fn mixing(
    request: &WaterRequest,
    flour: Mass,
    water: Mass,
    notes: &mut Vec<Remark>,
) -> Result<Mixing> {
    let capacities = ThermalProperties::shipped()?;
    let missing = |field| Error::missing(field, "for the heat balance");
    let flour_at = request.flour_c.ok_or_else(|| missing("flour_c"))?;
    let flour = ThermalMass::new(flour, capacities.c_flour_kj_per_kg_k, flour_at)?;
    let mut mix = Mixing::new(flour, water, capacities);
    // An ingredient that has a mass; one with only a temperature is noted.
    macro_rules! ingredient {
        ($mass:ident, $temperature:ident, $capacity:expr, $or:expr) => {
            match request.$mass {
                Some(mass) => {
                    let at = request.$temperature.or($or);
                    let at = at.ok_or_else(|| missing(stringify!($temperature)))?;
                    let ingredient = ThermalMass::new(mass, $capacity, at);
                    Some(ingredient.map_err(|e| e.of_field(stringify!($mass)))?)
                }
                None => {
                    let (field, without) = (stringify!($temperature), stringify!($mass));
                    let unused = request.$temperature.is_some();
                    notes.extend(unused.then(|| Assumption::Unused { field, without }.into()));
                    None
                }
            }
        };
    }
    let (r, c, flour_at) = (request, capacities, Some(flour_at));
    let capacity = preferment_capacity(request, capacities)?;
    let preferment = ingredient!(preferment_mass_g, preferment_c, capacity, None);
    mix.bowl = ingredient!(bowl_mass_g, bowl_c, c.c_steel_kj_per_kg_k, r.room_c);
    let salt = ingredient!(salt_mass_g, salt_c, c.c_salt_kj_per_kg_k, flour_at);
    let yeast = ingredient!(yeast_mass_g, yeast_c, c.c_yeast_kj_per_kg_k, flour_at);
    let bassinage = ingredient!(bassinage_g, bassinage_c, c.c_water_kj_per_kg_k, r.tap_c);
    mix.with_water.extend(preferment);
    mix.after_rest = [salt, yeast, bassinage].into_iter().flatten().collect();
    let no_capacity = r.preferment_heat_capacity_kj_per_kg_k.is_none();
    if r.preferment_mass_g.is_some() && no_capacity && r.preferment_hydration_percent.is_none() {
        let percent = Kind::Poolish.usual()?.hydration_percent;
        notes.push(Assumption::PrefermentHydration { percent }.into());
    }
    if let Some(rest) = request.rest_h {
        let room = request.rest_room_c.or(request.room_c);
        mix.rest = Some(Rest {
            length: rest.into(),
            room: room.ok_or_else(|| Error::missing("rest_room_c", "for the rest"))?,
            time_constant_h: request.rest_time_constant_h.map(Hours::as_hours),
        });
    }
    mix.hydration_kj_per_kg = hydration_heat(request, notes)?;
    Ok(mix)
}

fn preferment_capacity(request: &WaterRequest, capacities: ThermalProperties) -> Result<f64> {
    let poolish = Kind::Poolish.usual()?;
    let hydration = match request.preferment_hydration_percent {
        Some(given) => given,
        None => Percent::new(poolish.hydration_percent)?,
    };
    let by_hydration = capacities.dough(hydration, Percent::new(poolish.salt_percent)?);
    let given = request.preferment_heat_capacity_kj_per_kg_k;
    Ok(given.unwrap_or(by_hydration))
}

/// The heat of wetting, kJ per kg of flour.
fn hydration_heat(request: &WaterRequest, notes: &mut Vec<Remark>) -> Result<f64> {
    let usual = ThermalProperties::shipped()?;
    let heat = request.hydration_heat_kj_per_kg;
    Ok(match (heat, request.flour_moisture_percent) {
        (Some(_), Some(_)) => {
            let fields = ["hydration_heat_kj_per_kg", "flour_moisture_percent"];
            return Err(Error::excludes(&fields, "fix the same heat"));
        }
        (Some(heat), None) => heat,
        (None, Some(moisture)) => usual
            .hydration_kj_per_kg(moisture)
            .map_err(|e| e.of_field("flour_moisture_percent"))?,
        (None, None) => {
            let percent = usual.flour_moisture_percent;
            let kj_per_kg = usual.hydration_kj_per_kg(Percent::new(percent)?)?;
            notes.push(Assumption::FlourMoisture { percent, kj_per_kg }.into());
            kj_per_kg
        }
    })
}

/// The heat of mixing, kJ per kg of dough: as given, or that of the friction, or the usual one.
fn mixing_heat(request: &WaterRequest, mix: &Mixing, notes: &mut Vec<Remark>) -> Result<f64> {
    Ok(match (request.mixing_heat_kj_per_kg, friction(request)?) {
        (Some(given), _) => given,
        (None, Some(friction)) => {
            let kj_per_kg = mix.mixing_heat_of_friction(&friction)?;
            notes.push(Assumption::MixingHeatOfFriction { kj_per_kg }.into());
            kj_per_kg
        }
        (None, None) => {
            let kj_per_kg = ThermalProperties::shipped()?.mixing_gentle_kj_per_kg;
            notes.push(Assumption::MixingHeat { kj_per_kg }.into());
            kj_per_kg
        }
    })
}

fn obtainable(request: &WaterRequest, water: Temperature) -> Result<Temperature> {
    let ice_at = request.ice_c.unwrap_or(Temperature::ZERO);
    ice::check_obtainable(water, ice_at, &ThermalProperties::shipped()?)?;
    Ok(water)
}

/// Ice and tap water, when the tap and the mass are known and the water is colder than the tap.
fn pour(request: &WaterRequest, water: Temperature) -> Result<Option<ice::Pour>> {
    let tap = request.tap_c.filter(|tap| water < *tap);
    let Some((tap, total)) = tap.zip(request.water_mass_g) else {
        return match water < Temperature::ZERO {
            true => Err(Error::unreachable(
                format!("water of {:.1} °C", water.as_celsius()),
                "that is a pour with ice, whose grams follow from the tap and the mass of the water",
                "give both, or cool the flour, chill the preferment, or ask for a warmer dough",
            )),
            false => Ok(None),
        };
    };
    let ice_at = request.ice_c.unwrap_or(Temperature::ZERO);
    ice::split(total, tap, water, ice_at, &ThermalProperties::shipped()?).map(Some)
}

/// Why the two methods differ, with the numbers of this mix, where that is more than a dough thermometer misses.
fn methods_differ(formula: &DdtFormulaAnswer, b: &Balanced) -> Option<Remark> {
    let off_by_k = (formula.water_c - b.water.as_celsius()) * b.dough_per_water;
    let apart = Limits::shipped().map(|limits| limits.methods_apart_c.as_kelvin());
    let is_seen = apart.is_ok_and(|apart| off_by_k.abs() > apart);
    let differ = Assumption::MethodsDiffer {
        terms: formula.terms,
        real_rise_c: formula.real_rise_c.unwrap_or(0.0),
        water_per_dough: 1.0 / b.dough_per_water,
        hydration_rise_c: b.hydration_rise.as_kelvin(),
        mixing_rise_c: b.mixing_rise.as_kelvin(),
        formula_dough_c: b.dough.as_celsius() + off_by_k,
    };
    is_seen.then(|| differ.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sentences::codes;

    fn ask(json: &str) -> Result<WaterAnswer> {
        water(&serde_json::from_str(json).unwrap())
    }

    fn message(json: &str) -> String {
        ask(json).unwrap_err().to_string()
    }

    #[test]
    fn four_terms_and_a_base() {
        // Hamelman, Bread (from memory): 304 - (72 + 68 + 70 + 26) = 68 °F
        let answer = ask(
            r#"{"dough_c": "76F", "flour_c": "72F", "room_c": "68F", "preferment_c": "70F", "friction_factor_c": "26F"}"#,
        )
        .unwrap();
        let rule = answer.ddt_formula.unwrap();
        assert!((rule.water_c - 20.0).abs() < 1e-9);
        assert_eq!(rule.terms, 4);
        // Dufour, reported by Dewalque: base 60, flour 5, room 6; 49 °C is hot for bare yeast
        let answer = ask(r#"{"base_c": 60, "flour_c": 5, "room_c": 6}"#).unwrap();
        assert_eq!(answer.ddt_formula.as_ref().unwrap().water_c, 49.0);
        assert!(!answer.warnings.is_empty());
        let json = serde_json::to_value(&answer).unwrap();
        assert!(json["heat_balance"].is_null() && json["difference_c"].is_null());
        assert!(json["ddt_formula"].get("friction_factor_c").is_none());
        // his hottest day: 0 °C is called what it is
        let answer = ask(r#"{"base_c": 60, "flour_c": 30, "room_c": 30}"#).unwrap();
        assert_eq!(codes(&answer.warnings), ["water-below-chiller"]);
        let four = r#"{"base_c": 80, "flour_c": 20, "room_c": 20, "preferment_c": 20}"#;
        assert_eq!(
            codes(&ask(four).unwrap().notes),
            ["no-heat-balance", "base-of-four-terms"]
        );
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
        assert_eq!(answer.ddt_formula.as_ref().unwrap().water_c, 4.0);
        let balance_c = answer.heat_balance.as_ref().unwrap().water_c;
        assert!((balance_c - 6.294_314).abs() < 1e-5 && answer.water_c == balance_c);
        let (ice_g, tap_g) = (answer.ice_g.unwrap(), answer.tap_g.unwrap());
        assert!((ice_g - 3506.696).abs() < 1e-2 && (tap_g + ice_g - 30e3).abs() < 1e-6);
        assert!((answer.difference_c.unwrap() - 2.294_314).abs() < 1e-5);
        assert_eq!(
            codes(&[answer.difference_reason.unwrap()]),
            ["methods-differ"]
        );
        assert!(answer.warnings.is_empty(), "{:?}", answer.warnings);
        assert_eq!(codes(&answer.notes), ["instant-yeast-in-cold-water"]);
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
        assert!(bare.ddt_formula.is_none() && codes(&bare.notes).is_empty());

        let usual = ask(&format!("{{{masses}}}")).unwrap();
        let balance = usual.heat_balance.unwrap();
        // 9.87 kJ and 1.65 * 6 kJ into 1.80 + 0.65 * 4.186 kJ/K (arithmetic)
        assert!((balance.hydration_rise_c - 2.18).abs() < 0.01);
        assert!((balance.mixing_rise_c - 2.19).abs() < 0.01);
        let notes = codes(&usual.notes);
        assert_eq!(notes, ["no-ddt-formula", "flour-moisture", "mixing-heat"]);
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
            "rest_room_c is missing: give it for the rest"
        );
        let no_rest = r#"{"dough_c": 24, "flour_c": 20, "room_c": 21, "friction_factor_c": 2, "rest_room_c": 18}"#;
        assert!(message(no_rest).starts_with("rest_h is missing"));
    }

    #[test]
    fn without_anything_to_go_by_what_to_give_is_said() {
        for (json, field) in [
            (r#"{"dough_c": 24}"#, "friction_factor_c"),
            (
                r#"{"dough_c": 24, "flour_c": 20, "room_c": 21, "tap_c": 12, "flour_mass_g": 1000}"#,
                "friction_factor_c",
            ),
            (
                r#"{"dough_c": 24, "flour_c": 20, "preferment_c": 21, "flour_mass_g": 1000, "water_mass_g": 500}"#,
                "preferment_mass_g",
            ),
        ] {
            let error = ask(json).unwrap_err();
            assert_eq!(error.field().as_deref(), Some(field), "{error}");
        }
        // a preferment of unknown mass cannot be weighed in
        let answer = ask(
            r#"{"dough_c": 24, "flour_c": 20, "room_c": 21, "preferment_c": 21, "friction_factor_c": 5,
                "flour_mass_g": 1000, "water_mass_g": 500}"#,
        )
        .unwrap();
        assert!(answer.heat_balance.is_none() && codes(&answer.notes) == ["no-heat-balance"]);
    }

    #[test]
    fn one_method_out_of_reach_leaves_the_other() {
        let rule =
            r#""dough_c": 24, "flour_c": 60, "room_c": 60, "friction_factor_c": 40, "tap_c": 15"#;
        assert!(ask(&format!("{{{rule}}}")).unwrap_err().is_unreachable());
        let answer = ask(&format!(
            r#"{{{rule}, "flour_mass_g": 1000, "water_mass_g": 650, "mixing_heat_kj_per_kg": 7}}"#
        ))
        .unwrap();
        assert!(answer.ddt_formula.is_none() && answer.heat_balance.is_some());
        assert_eq!(codes(&answer.warnings)[0], "unreachable");
        let said = answer.warnings[0].to_string();
        assert!(
            said.starts_with("DDT formula: water of -88.0 °C cannot be met"),
            "{said}"
        );
    }

    #[test]
    fn errors_name_the_key() {
        assert!(message(r#"{"flour_c": 20}"#).starts_with("dough_c is missing"));
        for (json, begins) in [
            (
                r#"{"dough_c": 24, "friction_factor_c": 2, "room_c": 20}"#,
                "flour_c is missing",
            ),
            (
                r#"{"dough_c": 24, "friction_factor_c": 2, "base_c": 60}"#,
                "friction_factor_c and base_c both",
            ),
            (
                r#"{"dough_c": 24, "flour_c": 20, "flour_mass_g": 1000, "water_mass_g": 600, "bowl_mass_g": 9}"#,
                "bowl_c is missing",
            ),
        ] {
            assert!(message(json).starts_with(begins), "{}", message(json));
        }
        for (json, says) in [
            (r#"{"dough": 24}"#, "did you mean"),
            (r#"{"flour_c": 300}"#, "flour_c: temperature is 300 °C"),
            (r#"{"water_mass_g": -1}"#, "water_mass_g: mass is -1 g"),
            (
                r#"{"base_c": "60K"}"#,
                "base_c: cannot read base temperature",
            ),
        ] {
            let error = serde_json::from_str::<WaterRequest>(json).unwrap_err();
            assert!(error.to_string().contains(says), "{error}");
        }
    }

    #[test]
    fn a_base_of_three_terms_converts_with_three_times_the_offset() {
        let base = |text: &str, terms| {
            let base = text.parse::<BaseSum>().unwrap().of_terms(terms);
            base.unwrap()
        };
        // 60 * 1.8 + 3 * 32 = 204; with four terms 96 + 128 (arithmetic)
        for (text, terms) in [
            ("60", 3),
            ("60 °C", 3),
            ("204F", 3),
            ("204 °F", 3),
            ("236f", 4),
        ] {
            assert!((base(text, terms) - 60.0).abs() < 1e-12, "{text}");
        }
        for bad in ["", "F", "nan", "60K", "inf F", "6CF"] {
            assert!(bad.parse::<BaseSum>().is_err(), "{bad}");
        }
    }
}
