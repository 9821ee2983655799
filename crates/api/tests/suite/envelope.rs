//! What every request may carry and every answer tells: an id, a budget, what made it; and that no later release forgets
//! what this one answered.

use pointage_api::call;
use serde_json::{Value, json};

fn answered(request: &Value) -> Value {
    serde_json::from_str(&call(&request.to_string())).unwrap()
}

fn poolish() -> Value {
    json!({"version": 1, "command": "ready", "kind": "poolish", "dose_percent": 0.3, "at_c": 21})
}

#[test]
fn an_id_is_repeated_with_answers_and_refusals() {
    for id in [json!("bake \"7\""), json!(7), json!(-0.5)] {
        let mut request = poolish();
        request["request_id"] = id.clone();
        assert_eq!(answered(&request)["request_id"], id);
        request["at_c"] = json!(900);
        let refused = answered(&request);
        assert_eq!(
            (&refused["request_id"], &refused["error"]["kind"]),
            (&id, &json!("out-of-range"))
        );
    }
    for id in [json!([1]), json!(true), json!("x".repeat(101))] {
        let mut request = poolish();
        request["request_id"] = id;
        assert_eq!(answered(&request)["error"]["field"], "request_id");
    }
    assert!(answered(&poolish()).get("request_id").is_none());
}

#[test]
fn an_answer_says_what_made_it() {
    let shipped = answered(&poolish());
    assert_eq!(shipped["made_by"]["program"], env!("CARGO_PKG_VERSION"));
    let hash = shipped["made_by"]["parameters"].as_str().unwrap();
    assert!(
        hash.len() == 16 && hash.chars().all(|c| c.is_ascii_hexdigit()),
        "{hash}"
    );
    let other = answered(&json!({"version": 1, "command": "tables"}));
    assert_eq!(other["made_by"], shipped["made_by"]);
    let mut own = poolish();
    own["params_toml"] = "format = 1\nid = \"x\"\ntitle = \"t\"\nobserved = \"\"\nsource = \"s\"\nlocus = \"\"\nstanding = \"derived\"\n[values.poolish_ml_per_100g]\nvalue = 190.0\nlog_sd = 0.1\n".into();
    assert_ne!(
        answered(&own)["made_by"]["parameters"],
        shipped["made_by"]["parameters"]
    );
}

/// A request over its budget says so, and what to make smaller; the same request with enough is answered as without one.
#[test]
fn work_beyond_the_budget_is_refused() {
    let bake = include_str!("../../../../data/demo/summer-tin.toml");
    let log = include_str!("../../../../data/demo/stall-log.csv");
    let speeds =
        "temperature_c,rate\n5,0.1\n10,0.2\n15,0.35\n20,0.5\n25,0.8\n30,1\n35,0.9\n38,0.5\n";
    for mut request in [
        json!({"command": "plan", "bake_toml": bake, "first_out": "09:00"}),
        json!({"command": "compare", "bake_toml": bake, "first_out": "09:00", "vary": "room=18..26"}),
        json!({"command": "learn", "log_csv": log}),
        json!({"command": "fit-rate", "data_csv": speeds, "law": "cardinal"}),
        json!({"command": "dose", "kind": "biga", "for_h": 15, "mixed_at_c": 24, "room_course": [[0, 21], [6, 16], [20, 18]]}),
    ] {
        request["version"] = json!(1);
        let usual = answered(&request);
        assert!(usual.get("error").is_none(), "{usual}");
        request["budget"] = json!(3);
        let refused = answered(&request);
        assert_eq!(
            refused["error"]["kind"], "too-much-work",
            "{request}: {refused}"
        );
        assert!(
            refused["error"]["message"]
                .as_str()
                .unwrap()
                .contains("larger budget")
        );
        request["budget"] = json!(100_000_000);
        assert_eq!(answered(&request), usual);
    }
    let mut odd = poolish();
    odd["budget"] = json!(-1);
    assert_eq!(answered(&odd)["error"]["field"], "budget");
}

/// Requests of 64 kB that took minutes before there was a budget. A clock has no place in a test: that they end at all is
/// what it shows.
#[test]
fn no_request_of_64_kb_goes_on_for_ever() {
    let zigzag: Vec<[f64; 2]> = (0..4500)
        .map(|i| [0.05 * f64::from(i), 18.0 + 8.0 * f64::from(i % 2)])
        .collect();
    let offers = |from: f64, step: f64| -> Vec<f64> {
        (0..4000).map(|i| from + step * f64::from(i)).collect()
    };
    let log = "kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen\npoolish,1000,1000,fresh,3,21,11.5,ripe\n";
    for request in [
        json!({"command": "learn", "log_csv": log, "offer_fresh_percent": offers(0.1, 1e-3), "offer_at_c": offers(16.0, 3e-3)}),
        json!({"command": "dose", "kind": "poolish", "for_h": 200, "mixed_at_c": 24, "room_course": zigzag}),
    ] {
        let mut request = request;
        request["version"] = json!(1);
        let answer = answered(&request);
        let kind = answer["error"]["kind"].as_str();
        assert!(
            ["too-much-work", "unreachable"].map(Some).contains(&kind),
            "{answer}"
        );
    }
}

/// Progress at given hours, and a dough that goes on from where it stood: as far as one that was never interrupted.
#[test]
fn a_dough_goes_on_from_a_saved_state() {
    for place in [
        json!({"at_c": 21}),
        json!({"mixed_at_c": 25, "room_course": [[0, 22], [8, 17]], "flour_mass_g": 3000}),
    ] {
        let mut request = poolish();
        request.as_object_mut().unwrap().remove("at_c");
        for (key, value) in place.as_object().unwrap() {
            request[key] = value.clone();
        }
        request["progress_at_h"] = json!([0, 4, 9]);
        let whole = answered(&request);
        let progress = whole["progress"].as_array().unwrap();
        let share = |i: usize| progress[i]["gas_share"].as_f64().unwrap();
        assert!(
            share(0) == 0.0 && share(0) < share(1) && share(1) < share(2),
            "{whole}"
        );
        assert!((progress[0]["rise"].as_f64().unwrap() - 1.0).abs() < 1e-9);
        // From its fourth hour on.
        request["state"] = progress[1]["state"].clone();
        if request.get("mixed_at_c").is_some() {
            request["mixed_at_c"] = progress[1]["dough_c"].clone();
        }
        request["progress_at_h"] = json!([9]);
        let rest = answered(&request);
        let near = |a: &Value, b: &Value| (a.as_f64().unwrap() - b.as_f64().unwrap()).abs() < 2e-3;
        assert!(near(&rest["ready_h"], &whole["ready_h"]), "{rest} {whole}");
        assert!(
            near(&rest["progress"][0]["gas_share"], &progress[2]["gas_share"]),
            "{rest}"
        );
    }
    let mut odd = poolish();
    odd["state"] = json!({"hours": -1});
    assert_eq!(answered(&odd)["error"]["field"], "state");
    let mut early = poolish();
    early["progress_at_h"] = json!([-1]);
    assert_eq!(answered(&early)["error"]["field"], "progress_at_h");
}

/// Beyond what anybody baked there is a caution, and further on no answer.
#[test]
fn sense_has_limits() {
    let dose = |for_h: f64, at_c: f64, flour_g: f64| {
        answered(
            &json!({"version": 1, "command": "dose", "kind": "poolish", "for_h": for_h, "at_c": at_c, "flour_mass_g": flour_g, "yeast": "fresh"}),
        )
    };
    let codes = |answer: &Value| -> Vec<String> {
        let warnings = answer["warnings"].as_array().unwrap().iter();
        warnings
            .map(|w| w["code"].as_str().unwrap().to_owned())
            .collect()
    };
    let absurd = dose(53.0, 21.0, 500.0);
    assert_eq!(absurd["error"]["kind"], "unreachable", "{absurd}");
    assert!(
        absurd["error"]["message"]
            .as_str()
            .unwrap()
            .contains("multiply"),
        "{absurd}"
    );
    assert!(codes(&dose(12.0, 21.0, 500.0)).is_empty());
    assert!(codes(&dose(30.0, 16.0, 5000.0)).contains(&"longer-than-published".to_owned()));
    assert!(codes(&dose(16.0, 24.0, 6.0)).contains(&"less-yeast-than-scales-show".to_owned()));
    let mut bake: Value = json!(include_str!("../../../../data/demo/market-poolish.toml"));
    bake = bake
        .as_str()
        .unwrap()
        .replace("mix_min = ", "mix_min = 1000 # ")
        .into();
    let mixed = answered(
        &json!({"version": 1, "command": "plan", "bake_toml": bake, "first_out": "09:00"}),
    );
    assert_eq!(mixed["error"]["kind"], "out-of-range", "{mixed}");
}

/// The words that `learn` gives are words that it takes.
#[test]
fn learn_takes_the_words_it_gives() {
    let row = |kind: &str, seen: &str| json!({"kind": kind, "flour_g": 1000, "water_g": 650, "yeast": "fresh", "yeast_g": 10, "temperature_c": 24, "hours": 3, "seen": seen});
    for kind in ["poolish", "dough"] {
        for seen in ["ready", "not-yet", "past"] {
            let answer =
                answered(&json!({"version": 1, "command": "learn", "rows": [row(kind, seen)]}));
            assert_eq!(answer["rows"][0]["seen"], seen, "{answer}");
        }
    }
}

/// The form of a value: what a caller can rely on whatever its numbers are.
fn misses(path: &str, recorded: &Value, now: &Value, found: &mut Vec<String>) {
    match (recorded, now) {
        (Value::Object(recorded), Value::Object(now)) => {
            for (key, value) in recorded {
                match now.get(key) {
                    Some(now) => misses(&format!("{path}.{key}"), value, now, found),
                    None => found.push(format!("{path}.{key} is gone")),
                }
            }
        }
        (Value::Array(recorded), Value::Array(now)) => {
            for (a, b) in recorded.iter().zip(now) {
                misses(&format!("{path}[]"), a, b, found);
            }
        }
        (Value::Null, _) | (_, Value::Null) => {}
        (a, b) if std::mem::discriminant(a) == std::mem::discriminant(b) => {}
        _ => found.push(format!("{path} is of another type")),
    }
}

/// Every request that a release answered is answered by every later one, with the keys it had then. Numbers may get
/// better, sentences too; what was refused may be answered.
#[test]
fn recorded_requests_are_still_answered() {
    let recorded = include_str!("../../../../tests/recorded/0.1.0.jsonl");
    let mut found = Vec::new();
    for line in recorded.lines() {
        let pair: Value = serde_json::from_str(line).unwrap();
        let (was, now) = (&pair["answer"], answered(&pair["request"]));
        if was.get("error").is_none() {
            let mut here = Vec::new();
            misses("", was, &now, &mut here);
            found.extend(
                here.into_iter()
                    .map(|why| format!("{why}: {}", pair["request"])),
            );
        }
    }
    assert!(
        recorded.lines().count() > 100 && found.is_empty(),
        "{}",
        found.join("\n")
    );
}

/// `POINTAGE_SECONDS=3600 cargo test --release -p pointage-api --test suite a_soak -- --ignored --nocapture`
#[test]
#[ignore = "a minute, or POINTAGE_SECONDS"]
fn a_soak_of_calls_gives_the_same_answers_and_keeps_its_size() {
    let requests: Vec<Value> = include_str!("../../../../tests/recorded/0.1.0.jsonl")
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap()["request"].clone())
        .collect();
    let ask = || -> Vec<String> { requests.iter().map(|r| call(&r.to_string())).collect() };
    // Pages in memory; nothing where the system does not tell.
    let pages = || -> u64 {
        let about = std::fs::read_to_string("/proc/self/statm").unwrap_or_default();
        about
            .split(' ')
            .nth(1)
            .and_then(|n| n.parse().ok())
            .unwrap_or(0)
    };
    let seconds = std::env::var("POINTAGE_SECONDS")
        .ok()
        .and_then(|s| s.parse().ok());
    let end = std::time::Instant::now() + std::time::Duration::from_secs(seconds.unwrap_or(60));
    let first = ask();
    let before = pages();
    let mut rounds = 0;
    while std::time::Instant::now() < end {
        assert_eq!(ask(), first);
        rounds += 1;
    }
    let (after, calls) = (pages(), rounds * requests.len());
    println!("{calls} calls, {before} pages before and {after} after");
    assert!(rounds > 1 && after < before + 2000, "{before} {after}");
}
