//! Requests in JSON: every sound one has one answer in finite numbers, however it is written, and a number out of
//! range is refused by its key.

use pointage_api::dose::{DoseRequest, dose};
use pointage_api::friction::{FrictionRequest, friction};
use pointage_api::ice::{IceRequest, ice};
use pointage_api::ready::{ReadyRequest, ready};
use pointage_api::water::{WaterRequest, water};
use pointage_api::{Model, call};
use proptest::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};

fn cases(count: u32) -> ProptestConfig {
    let config = ProptestConfig::with_cases(count);
    ProptestConfig {
        max_shrink_iters: 200,
        ..config
    }
}

/// `a` is `b` up to `share` of the larger one.
fn close(a: f64, b: f64, share: f64) -> bool {
    (a - b).abs() <= share * a.abs().max(b.abs())
}

/// Requests without a bake, all of them legal; not every one can be met.
fn request() -> impl Strategy<Value = Value> {
    prop_oneof![
        water_request(),
        ice_request(),
        friction_request(),
        dose_request(),
        ready_request()
    ]
}

fn water_request() -> impl Strategy<Value = Value> {
    let temperatures = (
        18.0..30.0f64,
        2.0..35.0f64,
        2.0..35.0f64,
        prop::option::of(4.0..28.0f64),
    );
    let masses = (
        prop::option::of((100.0..5e4f64, 0.5..0.9f64)),
        0.0..30.0f64,
        prop::option::of(0.0..20.0f64),
    );
    (temperatures, masses, -2.0..30.0f64).prop_map(|((dough, flour, room, preferment), (masses, friction, moisture), tap)| {
        let mut r = json!({
            "version": 1, "command": "water", "dough_c": dough, "flour_c": flour, "room_c": room, "friction_factor_c": friction, "tap_c": tap.max(0.0),
        });
        if let Some((flour_g, share)) = masses {
            r["flour_mass_g"] = json!(flour_g);
            r["water_mass_g"] = json!(flour_g * share);
            r["flour_moisture_percent"] = json!(moisture);
            r["preferment_mass_g"] = json!(preferment.map(|_| 0.4 * flour_g));
        }
        r["preferment_c"] = json!(preferment);
        r
    })
}

fn ice_request() -> impl Strategy<Value = Value> {
    (1.0..1e6f64, 0.0..40.0f64, -60.0..40.0f64, -20.0..0.0f64).prop_map(|(total, tap, want, ice)| {
        json!({"version": 1, "command": "ice", "total_g": total, "tap_c": tap, "want_c": want, "ice_c": ice})
    })
}

fn friction_request() -> impl Strategy<Value = Value> {
    let t = || 0.0..35.0f64;
    (t(), t(), t(), t(), prop::option::of(t())).prop_map(|(dough, flour, room, water, preferment)| {
        json!({"version": 1, "command": "friction", "dough_c": dough, "flour_c": flour, "room_c": room,
            "water_c": water, "preferment_c": preferment})
    })
}

fn names(all: &[&'static str]) -> impl Strategy<Value = &'static str> {
    prop::sample::select(all.to_vec())
}

const KINDS: [&str; 5] = ["poolish", "biga", "sponge", "old-dough", "dough"];
const YEASTS: [&str; 3] = ["fresh", "instant", "active-dry"];

/// Where a dough stands: held, in a room, or in one that changes.
fn place() -> impl Strategy<Value = Value> {
    prop_oneof![
        (8.0..32.0f64).prop_map(|t| json!({"at_c": t})),
        (18.0..28.0f64, 8.0..32.0f64)
            .prop_map(|(mixed, room)| json!({"mixed_at_c": mixed, "room_c": room})),
        prop::collection::vec(8.0..32.0f64, 1..5).prop_map(|t| {
            let knots: Vec<[f64; 2]> = (0..4)
                .map(|i| 3.0 * f64::from(i))
                .zip(t)
                .map(|(h, t)| [h, t])
                .collect();
            json!({"room_course": knots})
        }),
    ]
}

fn with(mut request: Value, more: Value) -> Value {
    let more: Map<String, Value> = serde_json::from_value(more).unwrap();
    request.as_object_mut().unwrap().extend(more);
    request
}

fn dose_request() -> impl Strategy<Value = Value> {
    (names(&KINDS), names(&YEASTS), 1.0..30.0f64, place(), prop::option::of(50.0..2e4f64)).prop_map(|(kind, yeast, h, place, flour)| {
        with(json!({"version": 1, "command": "dose", "kind": kind, "yeast": yeast, "for_h": h, "flour_mass_g": flour}), place)
    })
}

fn ready_request() -> impl Strategy<Value = Value> {
    (names(&KINDS), names(&YEASTS), 0.01..3.0f64, place(), prop::option::of(50.0..2e4f64)).prop_map(|(kind, yeast, dose, place, flour)| {
        with(json!({"version": 1, "command": "ready", "kind": kind, "yeast": yeast, "dose_percent": dose, "flour_mass_g": flour}), place)
    })
}

/// A bake as an object, and a question about it.
fn bake_request() -> impl Strategy<Value = Value> {
    let bake = (
        2..30_u32,
        100.0..1500.0f64,
        58.0..78.0f64,
        0.3..1.5f64,
        16.0..30.0f64,
        22.0..27.0f64,
    );
    (bake, 1..=3_u32, names(&["scale", "plan", "adjust", "compare"])).prop_map(|((pieces, piece_g, hydration, yeast, room, dough), loads, command)| {
        let bake = json!({
            "format": 1, "name": "x",
            "formula": {"pieces": pieces, "piece_g": piece_g, "hydration_percent": hydration, "yeast_percent": yeast},
            "kitchen": {"room_c": room},
            "process": {"dough_c": dough, "friction_factor_c": 8, "bulk_rise": 1.8},
            "oven": {"pieces_per_load": pieces.div_ceil(loads), "bake_min": 35},
        });
        let request = json!({"version": 1, "command": command, "bake": bake});
        match command {
            "scale" => with(request, json!({"pieces": 2 * pieces})),
            "plan" => with(request, json!({"first_out": "11:30"})),
            "adjust" => with(request, json!({"mix_at": "05:00", "measured": ["mix 25.5C 05:10"]})),
            _ => with(request, json!({"mix_at": "05:00", "vary": "room=18..24..3"})),
        }
    })
}

/// The answer as one object on one line.
fn answer(request: &str) -> std::result::Result<Value, TestCaseError> {
    let line = call(request);
    prop_assert!(!line.contains('\n'), "{}", line);
    let value: Value = serde_json::from_str(&line).unwrap();
    prop_assert_eq!(&value["version"], 1, "{}", line);
    Ok(value)
}

/// Every number of an answer.
fn numbers(value: &Value) -> Vec<f64> {
    match value {
        Value::Number(n) => vec![n.as_f64().unwrap()],
        Value::Array(items) => items.iter().flat_map(numbers).collect(),
        Value::Object(fields) => fields.values().flat_map(numbers).collect(),
        _ => Vec::new(),
    }
}

/// An answer in finite numbers, or an aim that cannot be met: never that something is wrong with the request.
fn answered(answer: &Value) -> std::result::Result<(), TestCaseError> {
    if let Some(error) = answer.get("error") {
        prop_assert!(error["kind"] == "unreachable", "{}", answer);
    }
    prop_assert!(numbers(answer).iter().all(|n| n.is_finite()), "{}", answer);
    prop_assert!(!answer.to_string().contains("NaN"), "{}", answer);
    Ok(())
}

/// The same request in other words: keys the other way round, blanks, nulls where nothing is said.
fn rewritten(request: &Value) -> String {
    let fields = request.as_object().unwrap().iter().rev();
    let fields = fields.map(|(k, v)| {
        format!(
            "{} :\t{}",
            json!(k),
            serde_json::to_string_pretty(v).unwrap()
        )
    });
    format!(" {{\n{}\n}} ", fields.collect::<Vec<_>>().join(" ,\n"))
}

/// A request through its Rust type and back, and the answer to it as the same object that `call` gives.
fn typed<R: Serialize + DeserializeOwned + PartialEq + std::fmt::Debug, A: Serialize>(
    request: &Value,
    ask: impl Fn(&R) -> pointage::Result<A>,
) -> std::result::Result<(), TestCaseError> {
    let mut fields = request.clone();
    for key in ["version", "command"] {
        fields.as_object_mut().unwrap().remove(key);
    }
    let read: R = serde_json::from_value(fields).unwrap();
    let again: R = serde_json::from_str(&serde_json::to_string(&read).unwrap()).unwrap();
    prop_assert_eq!(&read, &again);
    let expected = answer(&request.to_string())?;
    match ask(&again) {
        Ok(a) => {
            let line = pointage_api::to_line(&a).unwrap();
            let mut own: Value = serde_json::from_str(&line).unwrap();
            own["version"] = json!(1);
            prop_assert_eq!(own, expected);
        }
        Err(e) => prop_assert_eq!(&expected["error"]["message"], &json!(e.to_string())),
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(256))]

    /// A legal request is answered, in numbers, and the same whichever way it is written.
    #[test]
    fn a_legal_request_has_one_answer(request in request()) {
        let first = answer(&request.to_string())?;
        answered(&first)?;
        prop_assert_eq!(&answer(&request.to_string())?, &first);
        prop_assert_eq!(&answer(&rewritten(&request))?, &first);
        let again: Value = serde_json::from_str(&request.to_string()).unwrap();
        prop_assert_eq!(&answer(&again.to_string())?, &first);
        match request["command"].as_str().unwrap() {
            "water" => typed::<WaterRequest, _>(&request, water)?,
            "ice" => typed::<IceRequest, _>(&request, ice)?,
            "friction" => typed::<FrictionRequest, _>(&request, friction)?,
            "dose" => typed::<DoseRequest, _>(&request, |r| dose(r, &Model::shipped()?))?,
            _ => typed::<ReadyRequest, _>(&request, |r| ready(r, &Model::shipped()?))?,
        }
    }

    /// A number that no key can hold: one error, of that key.
    #[test]
    fn a_number_out_of_range_is_refused_by_its_key(request in request(), at in any::<prop::sample::Index>(), size in 1e13..1e300f64, below in any::<bool>()) {
        let keys: Vec<String> = request.as_object().unwrap().iter().filter(|(k, v)| v.is_number() && *k != "version").map(|(k, _)| k.clone()).collect();
        let key = at.get(&keys);
        let mut odd = request.clone();
        odd[key] = json!(if below { -size } else { size });
        let answer = answer(&odd.to_string())?;
        prop_assert_eq!(&answer["error"]["kind"], "out-of-range", "{}", answer);
        prop_assert_eq!(&answer["error"]["field"], &json!(key), "{}", answer);
        prop_assert!(answer["error"]["message"].as_str().unwrap().contains("must lie between"));
        prop_assert_eq!(answer.as_object().unwrap().len(), 2, "nothing but version and error: {}", answer);
    }

    /// The ice and the water are the pour, and more of it is more of both in proportion.
    #[test]
    fn a_larger_pour_is_split_alike(request in ice_request(), times in 0.01..50.0f64) {
        let first = answer(&request.to_string())?;
        prop_assume!(first.get("error").is_none());
        let mut larger = request.clone();
        let total = request["total_g"].as_f64().unwrap();
        larger["total_g"] = json!(times * total);
        let larger = answer(&larger.to_string())?;
        for key in ["ice_g", "tap_g"] {
            let (a, b) = (first[key].as_f64().unwrap(), larger[key].as_f64().unwrap());
            // Answers are written to nine decimals; the share of either is a difference of two numbers of its size.
            let off = (1.0 + times) * 1e-9 + 1e-12 * times * total;
            prop_assert!((times * a - b).abs() < off, "{} {}", a, b);
        }
        let sum = first["ice_g"].as_f64().unwrap() + first["tap_g"].as_f64().unwrap();
        prop_assert!((sum - total).abs() < 2e-9 + 1e-12 * total, "{} for {}", sum, total);
    }

    /// A number is written to nine decimals, or to its last digit where that comes sooner, and read back.
    #[test]
    fn a_number_is_written_to_nine_decimals(x in prop_oneof![-1e3..1e3f64, -1e18..1e18f64, prop::num::f64::NORMAL]) {
        let mut line = Vec::new();
        pointage_api::append_number(&mut line, x);
        let back: f64 = String::from_utf8(line).unwrap().parse().unwrap();
        prop_assert!((back - x).abs() <= 5.1e-10 + 1e-15 * x.abs(), "{} for {}", back, x);
    }

    /// The dose for a time is ripe at that time: one question answers the other. A time is found to 1e-6 or better;
    /// near the top of the growth it hangs on the dose by up to some hundred times as much.
    #[test]
    fn the_dose_for_a_time_is_ripe_then(request in dose_request()) {
        let dosed = answer(&request.to_string())?;
        prop_assume!(dosed.get("error").is_none());
        let mut back = request.clone();
        let fields = back.as_object_mut().unwrap();
        fields.remove("for_h");
        fields.insert("command".into(), json!("ready"));
        fields.insert("dose_percent".into(), dosed["dose_percent"].clone());
        let back = answer(&back.to_string())?;
        prop_assert!(close(back["ready_h"].as_f64().unwrap(), request["for_h"].as_f64().unwrap(), 1e-4), "{} {}", dosed, back);
    }
}

proptest! {
    #![proptest_config(cases(32))]

    /// The same of a bake: as an object, in other words, and as the text of its file.
    #[test]
    fn a_bake_in_a_request_has_one_answer(request in bake_request()) {
        let first = answer(&request.to_string())?;
        answered(&first)?;
        prop_assert_eq!(&answer(&rewritten(&request))?, &first);
        let mut as_text = request.clone();
        let bake = as_text.as_object_mut().unwrap().remove("bake").unwrap();
        let mut text = String::new();
        for (key, value) in bake.as_object().unwrap().iter().filter(|(_, v)| !v.is_object()) {
            text += &format!("{key} = {value}\n");
        }
        for (name, section) in bake.as_object().unwrap().iter().filter(|(_, v)| v.is_object()) {
            text += &format!("[{name}]\n");
            for (key, value) in section.as_object().unwrap() {
                text += &format!("{key} = {value}\n");
            }
        }
        as_text["bake_toml"] = json!(text);
        prop_assert_eq!(&answer(&as_text.to_string())?, &first);
    }

    /// A number of a bake that no key can hold is refused by its section and key.
    #[test]
    fn a_bake_out_of_range_is_refused_by_its_key(request in bake_request(), size in 1e13..1e300f64, below in any::<bool>(), at in 0..8_usize) {
        let (section, key) = [
            ("formula", "piece_g"), ("formula", "hydration_percent"), ("formula", "yeast_percent"), ("kitchen", "room_c"),
            ("process", "dough_c"), ("process", "friction_factor_c"), ("process", "bulk_rise"), ("oven", "bake_min"),
        ][at];
        let mut odd = request;
        odd["bake"][section][key] = json!(if below { -size } else { size });
        let answer = answer(&odd.to_string())?;
        prop_assert!(answer["error"]["field"].as_str().is_some_and(|f| f.contains(key)), "{}", answer);
        prop_assert_eq!(&answer["error"]["kind"], "out-of-range", "{}", answer);
    }
}
