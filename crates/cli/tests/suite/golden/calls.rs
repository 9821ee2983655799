//! What a golden case may ask of the library: a command with the program's own flags, or one of a few
//! named calls for what has no command.

use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::ferment::{
    Composition, EndPoint, Fermentation, Inoculum, Kind, Kinetics, Medium, OwnHeat, Parameters,
    Rates, Stage,
};
use pointage::formula::{YeastFactors, YeastKind, loss};
use pointage::heat::conduction::{Conduction, Geometry};
use pointage::heat::dough_body::{Body, DoughProperties, Shape};
use pointage::heat::properties::ThermalProperties;
use pointage::plan::bake::Bake;
use pointage::rate::RateLaw;
use pointage::table;
use pointage::units::{Hours, Mass, Percent, Temperature, TemperatureDifference};
use pointage_api::Request;
use pointage_api::water::BaseSum;
use serde::Serialize;
use serde_json::{Map, Value, json};

/// The library's answer to a command line, where the library has the whole question: `plan` needs the
/// program's calendar and is asked of the program alone.
pub fn command(args: &str) -> Option<Value> {
    let mut words = args.split_whitespace();
    let command = words.next().unwrap();
    let words: Vec<&str> = words.collect();
    let request = || Value::Object(request(command, &words));
    let model = || pointage_api::Model::shipped().unwrap();
    match command {
        "water" => Some(value(pointage_api::water::water(&read(request())))),
        "ice" => Some(value(pointage_api::ice::ice(&read(request())))),
        "friction" => Some(value(pointage_api::friction::friction(&read(request())))),
        "dose" => Some(value(pointage_api::dose::dose(&read(request()), &model()))),
        "ready" => Some(value(pointage_api::ready::ready(
            &read(request()),
            &model(),
        ))),
        "scale" => {
            let text = std::fs::read_to_string(super::root().join(words[0])).unwrap();
            let bake = Bake::from_toml(&text).unwrap();
            Some(value(pointage_api::scale::scale(&bake, None, None)))
        }
        "plan" => None,
        other => panic!("{other} is no command of a golden case"),
    }
}

/// The request of a command line as `pointage_api::call` takes it.
pub fn json_request(args: &str) -> String {
    let words: Vec<&str> = args.split_whitespace().collect();
    let mut request = match words[0] {
        "scale" | "plan" => {
            let bake = std::fs::read_to_string(super::root().join(words[1])).unwrap();
            let flags = words[2..].chunks(2).filter(|pair| pair[0] != "--zone");
            let named = flags.map(|pair| (pair[0][2..].replace('-', "_"), pair[1].into()));
            let mut request: Map<String, Value> = named.collect();
            request.insert("bake_toml".to_owned(), bake.into());
            request
        }
        command => request(command, &words[1..]),
    };
    if words[0] == "plan" {
        // The cases are planned in UTC, which `call` takes as an offset.
        assert!(args.ends_with("--zone UTC"), "{args}");
        request.insert("utc_offset".to_owned(), "+00:00".into());
    }
    request.insert("command".to_owned(), words[0].into());
    request.insert("version".to_owned(), pointage_api::VERSION.into());
    Value::Object(request).to_string()
}

fn read<T: serde::de::DeserializeOwned>(request: Value) -> T {
    serde_json::from_value(request).unwrap()
}

fn value<T: Serialize>(answer: pointage::Result<T>) -> Value {
    serde_json::to_value(answer.unwrap()).unwrap()
}

/// The flags under their keys, each value a number in the unit of its key.
fn request(command: &str, words: &[&str]) -> Map<String, Value> {
    fn keyed<R: Request + Serialize>(words: &[&str]) -> Map<String, Value> {
        let key = |flag: &str| {
            let field = R::FIELDS.iter().find(|f| f.flag == flag);
            field.unwrap_or_else(|| panic!("--{flag} is unknown"))
        };
        let mut request = R::default();
        let mut given = Map::new();
        for pair in words.chunks(2) {
            let field = key(pair[0].strip_prefix("--").unwrap());
            (field.set)(&mut request, pointage_api::request::Input::Text(pair[1])).unwrap();
            given.insert(field.key.to_owned(), Value::Null);
        }
        let all = serde_json::to_value(&request).unwrap();
        let terms = if given.contains_key("preferment_c") {
            4
        } else {
            3
        };
        for (key, value) in &mut given {
            *value = all[key].clone();
            // A sum in °F means what its number of terms makes of it.
            if let Some(Ok(sum)) = value.as_str().map(str::parse::<BaseSum>) {
                *value = sum.of_terms(terms).unwrap().into();
            }
        }
        given
    }
    match command {
        "water" => keyed::<pointage_api::water::WaterRequest>(words),
        "ice" => keyed::<pointage_api::ice::IceRequest>(words),
        "friction" => keyed::<pointage_api::friction::FrictionRequest>(words),
        "dose" => keyed::<pointage_api::dose::DoseRequest>(words),
        "ready" => keyed::<pointage_api::ready::ReadyRequest>(words),
        other => panic!("{other} is no command of a golden case"),
    }
}

/// A call that has no command.
pub fn library(call: &str, input: &Value) -> Value {
    let ask = Input(input);
    match call {
        "units" => units(&ask),
        "yeast" => yeast(&ask),
        "loss" => bake_loss(&ask),
        "table" => {
            let table = table::get(ask.word("id")).unwrap();
            json!({ "value": table.number(ask.word("name")).unwrap() })
        }
        "rate_law" => rate_law(&ask),
        "curve" => curve(&ask),
        "best" => best(&ask),
        "solubility" => solubility(&ask),
        "gas_space" => gas_space(&ask),
        "sugar" => sugar(&ask),
        "dough_heat_capacity" => {
            let percent = |key| Percent::new(ask.number(key)).unwrap();
            let dough = ThermalProperties::shipped().unwrap();
            json!({ "kj_per_kg_k": dough.dough(percent("hydration_percent"), percent("salt_percent")) })
        }
        "newton" => newton(&ask),
        "conduction" => conduction(&ask),
        "body" => body(&ask),
        "growth" => growth(&ask),
        "lag" => {
            let gas = shipped().kinetics;
            let at = |t| gas.gas().relative_rate(celsius(t)).unwrap();
            json!({ "hours": gas.rates().lag27_h * at(27.0) / at(ask.number("at_c")) })
        }
        "fermented" => fermented(&ask),
        "own_heat" => own_heat(&ask),
        "self_heating" => self_heating(&ask),
        "salt" => salt(&ask),
        other => panic!("no call {other}"),
    }
}

struct Input<'i>(&'i Value);

impl Input<'_> {
    fn get(&self, key: &str) -> Option<f64> {
        self.0.get(key).map(|v| v.as_f64().unwrap())
    }

    fn number(&self, key: &str) -> f64 {
        self.get(key).unwrap_or_else(|| panic!("{key} is missing"))
    }

    fn or(&self, key: &str, usual: f64) -> f64 {
        self.get(key).unwrap_or(usual)
    }

    fn word(&self, key: &str) -> &str {
        self.0[key]
            .as_str()
            .unwrap_or_else(|| panic!("{key} is missing"))
    }

    fn celsius(&self, key: &str) -> Temperature {
        celsius(self.number(key))
    }
}

fn celsius(t: f64) -> Temperature {
    Temperature::celsius(t).unwrap()
}

fn grams(g: f64) -> Mass {
    Mass::grams(g).unwrap()
}

fn shipped() -> Parameters {
    Parameters::shipped().unwrap()
}

/// `text` read as what `as` says.
fn units(ask: &Input<'_>) -> Value {
    let text = ask.word("text");
    match ask.word("as") {
        "temperature" => {
            let t: Temperature = text.parse().unwrap();
            json!({ "celsius": t.as_celsius(), "fahrenheit": t.as_fahrenheit() })
        }
        "difference" => {
            let d: TemperatureDifference = text.parse().unwrap();
            json!({ "kelvin": d.as_kelvin(), "fahrenheit": d.as_fahrenheit() })
        }
        "mass" => json!({ "grams": text.parse::<Mass>().unwrap().as_grams() }),
        "time" => json!({ "hours": text.parse::<Hours>().unwrap().as_hours() }),
        other => panic!("no unit of {other}"),
    }
}

fn yeast(ask: &Input<'_>) -> Value {
    let kind = |key| ask.word(key).parse::<YeastKind>().unwrap();
    let factors = YeastFactors::shipped().unwrap();
    let converted = factors.convert(grams(ask.number("grams")), kind("from"), kind("to"));
    json!({ "grams": converted.unwrap().as_grams() })
}

fn bake_loss(ask: &Input<'_>) -> Value {
    let mass = |key| ask.get(key).map(grams);
    let percent = ask.get("loss_percent").map(|p| Percent::new(p).unwrap());
    match (mass("dough_g"), mass("baked_g"), percent) {
        (Some(dough), Some(baked), None) => {
            json!({ "loss_percent": loss::bake_loss(dough, baked).unwrap().as_percent() })
        }
        (None, Some(baked), Some(percent)) => {
            json!({ "dough_g": loss::piece_for_baked(baked, percent).unwrap().as_grams() })
        }
        (Some(dough), None, Some(percent)) => {
            json!({ "baked_g": loss::baked_mass(dough, percent).unwrap().as_grams() })
        }
        _ => panic!("give two of the three"),
    }
}

/// A law as in a parameter file; its rate at one temperature over that at another.
fn rate_law(ask: &Input<'_>) -> Value {
    let law: RateLaw = serde_json::from_value(ask.0["law"].clone()).unwrap();
    let (a, b) = (ask.celsius("from_c"), ask.celsius("to_c"));
    let at = |t| law.relative_rate(t).unwrap();
    json!({ "ratio": at(b) / at(a), "q10": law.equivalent_q10(a, b).unwrap() })
}

/// A shipped curve, `gas` or `growth`.
fn shipped_curve(which: &str) -> impl Fn(f64) -> f64 + use<> {
    let kinetics = shipped().kinetics;
    let gas = match which {
        "gas" => true,
        "growth" => false,
        other => panic!("no curve {other}"),
    };
    move |t| {
        let t = celsius(t);
        if gas {
            kinetics.gas().relative_rate(t).unwrap()
        } else {
            kinetics.growth().relative_rate(t).unwrap()
        }
    }
}

fn curve(ask: &Input<'_>) -> Value {
    let at = shipped_curve(ask.word("of"));
    let (from, to) = (ask.number("from_c"), ask.number("to_c"));
    let ratio = at(to) / at(from);
    json!({ "ratio": ratio, "q10": ratio.powf(10.0 / (to - from)) })
}

/// The temperature at which a shipped curve is highest, to 0.1 K.
fn best(ask: &Input<'_>) -> Value {
    let at = shipped_curve(ask.word("of"));
    let tenths = (0..=500).map(|i| f64::from(i) / 10.0);
    json!({ "celsius": tenths.max_by(|a, b| at(*a).total_cmp(&at(*b))).unwrap() })
}

/// Carbon dioxide in 100 mL of water, flour's own moisture included.
fn solubility(ask: &Input<'_>) -> Value {
    let space = shipped().space;
    let water_percent = 100.0 - space.flour_moisture_percent;
    let dough = Composition::lean(water_percent, 0.0);
    let t = ask.number("at_c");
    let altitude_m = ask.or("altitude_m", 0.0);
    let counted_ml = space.of(&dough, altitude_m).dissolved(t);
    let mol_per_l = counted_ml / space.molar_volume / 0.1;
    json!({
        "mol_per_l": mol_per_l,
        "ml_per_ml": counted_ml / 100.0 * (t + 273.15) / 298.15,
        "of_sea_level": counted_ml / space.of(&dough, 0.0).dissolved(t),
    })
}

fn composition(ask: &Input<'_>) -> Composition {
    Composition {
        sugar_percent: ask.or("sugar_percent", 0.0),
        ..Composition::lean(ask.number("hydration_percent"), ask.or("salt_percent", 0.0))
    }
}

/// Volume of 100 g flour made into dough, and what it has risen to with so much gas in its bubbles.
fn gas_space(ask: &Input<'_>) -> Value {
    let volume = shipped()
        .space
        .of(&composition(ask), ask.or("altitude_m", 0.0));
    let t = ask.number("at_c");
    let bubbles_ml = ask.or("bubbles_ml", 0.0);
    json!({
        "gas_free_ml": volume.gas_free(),
        "dissolved_ml": volume.dissolved(t),
        "ratio": volume.ratio(volume.dissolved(t) + bubbles_ml, t),
        "to_double_ml": volume.held_at_ratio(2.0, t),
    })
}

/// All the gas that a dough's sugar can give, mL per 100 g flour.
fn sugar(ask: &Input<'_>) -> Value {
    let of = |percent| {
        let composition = Composition {
            sugar_percent: percent,
            ..Composition::lean(62.0, 0.0)
        };
        shipped().effects.medium(&composition).unwrap().sugar
    };
    let added = ask.number("sugar_percent");
    json!({ "ml": of(added), "added_ml": of(added) - of(0.0) })
}

fn salt(ask: &Input<'_>) -> Value {
    let medium = shipped().effects.medium(&composition(ask)).unwrap();
    json!({ "gas": medium.gas_factor, "growth": medium.growth_factor })
}

/// The room: `room_c`, `ramps` or `steps` of hour and °C, or `mean_c` with a swing.
fn room(ask: &Input<'_>) -> Ambient {
    let knots = |key: &str| -> Vec<(f64, f64)> {
        serde_json::from_value(ask.0.get(key).cloned().unwrap_or_default()).unwrap_or_default()
    };
    let (ramps, steps) = (knots("ramps"), knots("steps"));
    if !ramps.is_empty() {
        return Ambient::ramps(&ramps).unwrap();
    }
    if !steps.is_empty() {
        return Ambient::steps(&steps).unwrap();
    }
    match ask.get("mean_c") {
        None => Ambient::constant(celsius(ask.or("room_c", ask.or("from_c", 20.0)))).unwrap(),
        Some(mean_c) => {
            let swing = TemperatureDifference::kelvin(ask.number("swing_k")).unwrap();
            let (period_h, peak_h) = (ask.number("period_h"), ask.number("warmest_h"));
            Ambient::daily(celsius(mean_c), swing, period_h, peak_h).unwrap()
        }
    }
}

fn newton(ask: &Input<'_>) -> Value {
    let place = room(ask);
    let start = ask.celsius("from_c");
    let dough = TemperatureProfile::following(&place, 0.0, start, ask.number("tau_h")).unwrap();
    json!({ "celsius": dough.at(ask.number("hours")) })
}

fn properties(ask: &Input<'_>) -> DoughProperties {
    DoughProperties {
        conductivity_w_per_m_k: ask.or("conductivity", 0.40),
        density_kg_per_m3: ask.or("density", 1100.0),
        heat_capacity_kj_per_kg_k: ask.or("heat_capacity", 2.8),
    }
}

fn shape(ask: &Input<'_>) -> Shape {
    match ask.word("shape") {
        "sphere" => Shape::Sphere,
        "cylinder" => Shape::Cylinder {
            height_to_diameter: ask.number("height_to_diameter"),
        },
        other => panic!("no shape {other}"),
    }
}

/// A step into a room: of a body of some `kg`, or of a `form` of that `biot` number after a Fourier
/// number. `root` is the first root of its series, read off the fall between `fourier` and 0.1 more.
fn conduction(ask: &Input<'_>) -> Value {
    let properties = properties(ask);
    if let Some(kg) = ask.get("kg") {
        let body = Body::new(grams(1e3 * kg), shape(ask), properties).unwrap();
        let body = Conduction::of_body(&body, ask.number("surface")).unwrap();
        let source = ask.or("source_w_per_m3", 0.0);
        let from = celsius(ask.number("from_c"));
        let r = body.after(from, &room(ask), 0.0, source, ask.number("hours"));
        return json!({ "core_c": r.core_c, "mean_c": r.mean_c, "surface_c": r.surface_c });
    }
    let depth_m = ask.or("depth_m", 0.05);
    let geometry = match ask.word("form") {
        "slab" => Geometry::Slab,
        "cylinder" => Geometry::Cylinder,
        "sphere" => Geometry::Sphere,
        other => panic!("no form {other}"),
    };
    let k = properties.conductivity_w_per_m_k;
    let surface = ask.number("biot") * k / depth_m;
    let body = Conduction::new(&[(geometry, depth_m)], properties, surface).unwrap();
    let capacity = properties.density_kg_per_m3 * properties.heat_capacity_kj_per_kg_k * 1e3;
    let hours_of = |fourier: f64| fourier * depth_m * depth_m * capacity / k / 3600.0;
    let fourier = ask.number("fourier");
    // From 1 to 0: what is read is the part of the step that is left.
    let cold = Ambient::constant(celsius(0.0)).unwrap();
    let [r, later] = [fourier, fourier + 0.1]
        .map(|fourier| body.after(celsius(1.0), &cold, 0.0, 0.0, hours_of(fourier)));
    json!({
        "core": r.core_c,
        "mean": r.mean_c,
        "surface": r.surface_c,
        "root": ((r.mean_c / later.mean_c).ln() / 0.1).sqrt(),
    })
}

/// Time constant of a body.
fn body(ask: &Input<'_>) -> Value {
    let body = Body::new(grams(1e3 * ask.number("kg")), shape(ask), properties(ask)).unwrap();
    let surface = ask.number("surface");
    json!({
        "lumped_h": body.lumped_time_constant_h(surface).unwrap(),
        "hours": body.time_constant_h(surface).unwrap(),
        "biot": body.volume_biot(surface).unwrap(),
    })
}

fn inoculum(ask: &Input<'_>) -> Inoculum {
    Inoculum {
        added: ask.number("fresh_percent"),
        carried: 0.0,
    }
}

/// Yeast after some hours over yeast at the start, in a lean dough.
fn growth(ask: &Input<'_>) -> Value {
    let p = shipped();
    let composition = composition(ask);
    let medium = p.effects.medium(&composition).unwrap();
    let volume = p.space.of(&composition, 0.0);
    let dough = Fermentation::new(&p.kinetics, medium, volume, inoculum(ask)).unwrap();
    let course = TemperatureProfile::held(ask.celsius("at_c"));
    let end = dough
        .after(&dough.start(), &course, ask.number("hours"))
        .unwrap();
    json!({ "times": end.yeast() / ask.number("fresh_percent") })
}

/// A stage after some hours: its volume, its gas and its ripeness (gas over that of its end point).
fn fermented(ask: &Input<'_>) -> Value {
    let p = shipped();
    let kind: Kind = ask.word("kind").parse().unwrap();
    let composition = composition(ask);
    let own_heat = ask.get("keeps_heat").map(|share| {
        let percent = |v| Percent::new(v).unwrap();
        let c = ThermalProperties::shipped().unwrap().dough(
            percent(composition.hydration_percent),
            percent(composition.salt_percent),
        );
        let kg = 0.1 + (composition.hydration_percent + composition.salt_percent) / 1e3;
        OwnHeat::new(share * p.heat_kj_per_mol, p.space.molar_volume, kg, c).unwrap()
    });
    let stage = Stage {
        composition,
        yeast: inoculum(ask),
        end: EndPoint::Ripe(kind),
        own_heat,
    };
    let dough = stage.fermentation(&p).unwrap();
    let from_c = ask.number("from_c");
    let place = room(ask);
    let course = match ask.get("tau_h") {
        Some(tau_h) => TemperatureProfile::following(&place, 0.0, celsius(from_c), tau_h).unwrap(),
        None => TemperatureProfile::held(celsius(from_c)),
    };
    let end = dough
        .after(&dough.start(), &course, ask.number("hours"))
        .unwrap();
    json!({
        "times": dough.volume_ratio(&end),
        "gas_ml": end.gas(),
        "ripeness": end.gas() / p.level(kind).gas,
        "rise_k": end.temperature_c() - from_c,
    })
}

/// Warming by so much gas, were no heat lost.
fn own_heat(ask: &Input<'_>) -> Value {
    let p = shipped();
    let (kg, c) = (ask.number("dough_kg"), ask.number("heat_capacity"));
    let heat = OwnHeat::new(p.heat_kj_per_mol, p.space.molar_volume, kg, c).unwrap();
    json!({ "rise_k": heat.kelvin_per_ml * ask.number("gas_ml") })
}

/// A dough whose yeast neither grows nor starves, with Q10 kinetics: what it warms by itself to.
fn self_heating(ask: &Input<'_>) -> Value {
    let p = shipped();
    let law = json!({ "law": "q10", "q10": ask.number("q10"), "reference_c": 25.0, "valid_c": [0.0, 50.0] });
    let rates = Rates {
        specific_gas_rate: 100.0,
        growth_rate: 0.0,
        growth_cap: 1.0,
        lag27_h: 0.0,
    };
    let law: RateLaw = serde_json::from_value(law).unwrap();
    let kinetics = Kinetics::new(law.clone(), law, rates).unwrap();
    let volume = p.space.of(&Composition::lean(65.0, 0.0), 0.0);
    let yeast = Inoculum {
        added: 1.0,
        carried: 0.0,
    };
    // 100 mL/h at 30 °C; the heat of a mL is chosen so that it warms by `k_per_h` at 25 °C.
    let ml_per_h = 100.0 * ask.number("q10").powf(-0.5);
    let heat = OwnHeat {
        kelvin_per_ml: ask.number("k_per_h") / ml_per_h,
    };
    let dough = Fermentation::new(&kinetics, Medium::NEUTRAL, volume, yeast).unwrap();
    let dough = dough.with_own_heat(heat);
    let place = room(ask);
    let from = ask.celsius("from_c");
    let course = match ask.get("tau_h") {
        Some(tau_h) => TemperatureProfile::following(&place, 0.0, from, tau_h).unwrap(),
        None => TemperatureProfile::held(from),
    };
    let end = dough
        .after(&dough.start(), &course, ask.number("hours"))
        .unwrap();
    json!({ "celsius": end.temperature_c() })
}
