//! What the program reads from files, `pointage_api::call` takes along in the request: the answers are the same,
//! key for key and digit for digit. (The commands without files: `golden::doors`.)

use crate::program::{file, json};
use pointage_api::call;
use serde_json::{Value, json};

const MARKET: &str = include_str!("../../../../data/demo/market-poolish.toml");
const LOG: &str = include_str!("../../../../data/demo/stall-log.csv");
const OWN: &str = "format = 1\nid = \"kitchen\"\ntitle = \"Our cellar\"\nobserved = \"nights\"\nsource = \"our log\"\n\
    locus = \"all\"\nstanding = \"derived\"\n[values.poolish_ml_per_100g]\nvalue = 190.0\nlog_sd = 0.08\n\
    [values.dough_ml_per_100g]\nvalue = 250.0\nlog_sd = 0.1\n";

/// The program's answer to a line, against that of `call` to the command's fields.
fn same(line: &str, fields: Value) {
    let mut request = json!({"version": 1, "command": line.split(' ').next().unwrap()});
    for (key, value) in fields.as_object().unwrap() {
        request[key] = value.clone();
    }
    let mut answer: Value = serde_json::from_str(&call(&request.to_string())).unwrap();
    let answer = answer.as_object_mut().unwrap();
    assert!(!answer.contains_key("error"), "{answer:?}");
    answer.remove("version");
    // The program names the file of own numbers; only it has a demo and writes files.
    let printed = json(line)
        .to_string()
        .replace("same-own.toml", "params_toml")
        .replace("same-kitchen.toml", "params_toml");
    let mut printed: Value = serde_json::from_str(&printed).unwrap();
    for own in ["demo", "written"] {
        printed.as_object_mut().unwrap().remove(own);
    }
    for (key, value) in printed.as_object().unwrap() {
        assert_eq!(answer.get(key), Some(value), "{line}: {key}");
    }
    assert_eq!(answer.len(), printed.as_object().unwrap().len(), "{line}");
}

fn asked(extra: Value) -> Value {
    let mut fields = json!({"bake_toml": MARKET, "first_out": "09:00", "date": "2026-11-28", "utc_offset": "+01:00"});
    for (key, value) in extra.as_object().unwrap() {
        fields[key] = value.clone();
    }
    fields
}

#[test]
fn plans_and_what_becomes_of_them() {
    let market = file("same-market.toml", MARKET.as_bytes());
    let own = file("same-own.toml", OWN.as_bytes());
    let day = "--first-out 09:00 --date 2026-11-28 --zone Europe/Vienna";
    let own = format!("--params {own}");
    same(
        &format!("plan {market} {day} {own}"),
        asked(json!({"params_toml": OWN})),
    );
    for (flags, readings) in [
        (vec!["mix 27.4C 04:52"], json!(["mix 27.4C 04:52"])),
        (
            vec!["preferment ripe 04:10", "bulk 1.6x 06:00"],
            json!(["preferment ripe 04:10", "bulk 1.6x 06:00"]),
        ),
    ] {
        let mut command = crate::program::pointage(&format!("adjust {market} {day} {own} --json"));
        for reading in &flags {
            command.args(["--measured", reading]);
        }
        let out = command.output().unwrap();
        let printed = String::from_utf8(out.stdout)
            .unwrap()
            .replace("same-own.toml", "params_toml");
        let mut request = asked(json!({"measured": readings, "params_toml": OWN}));
        request["version"] = 1.into();
        request["command"] = "adjust".into();
        let answer = call(&request.to_string());
        assert_eq!(answer.replace("{\"version\":1,", "{"), printed.trim_end());
    }
    for span in ["room=18..26..4", "yeast=0.2..0.4"] {
        same(
            &format!("compare {market} {day} --vary {span} {own}"),
            asked(json!({"vary": span, "params_toml": OWN})),
        );
    }
}

/// A corrected plan whose loads miss their window is not called feasible.
#[test]
fn an_adjusted_plan_that_fails_is_not_feasible() {
    let crowded = MARKET
        .replace("hold_later_loads", "# hold_later_loads")
        .replace("retarder_c", "# retarder_c")
        .replace("room_c = 20", "room_c = 30")
        .replace("pieces = 24", "pieces = 64");
    let request = json!({"version": 1, "command": "adjust", "bake_toml": crowded, "first_out": "09:00",
        "measured": ["mix 29C 04:30"]});
    let answer: Value = serde_json::from_str(&call(&request.to_string())).unwrap();
    let loads = answer["after"]["loads"].as_array().unwrap();
    assert!(loads.iter().any(|l| l["in_window"] == false), "{answer}");
    assert_eq!(answer["after"]["feasible"], false);
}

#[test]
fn learning_and_what_was_learned() {
    let log = file("same-log.csv", LOG.as_bytes());
    let own = file("same-kitchen.toml", OWN.as_bytes());
    let head = json!({"log_csv": LOG, "log_name": "same-log.csv", "date": "2026-11-28"});
    same(&format!("learn {log} --date 2026-11-28"), head.clone());
    let mut more = head;
    for (key, value) in [
        ("scatter", json!(0.1)),
        ("offer_fresh_percent", json!([0.2, 0.4])),
        ("offer_at_c", json!([16, 20])),
        ("params_toml", json!(OWN)),
    ] {
        more[key] = value;
    }
    same(
        &format!(
            "learn {log} --date 2026-11-28 --scatter 10% \
             --offer-dose 0.2%,0.4% --offer-at 16,20 --params {own}"
        ),
        more,
    );

    // What was learned is asked with: by the file, and by its text.
    let request = json!({"version": 1, "command": "learn", "log_csv": LOG}).to_string();
    let learned: Value = serde_json::from_str(&call(&request)).unwrap();
    let text = learned["params_toml"].as_str().unwrap();
    let own = file("same-kitchen.toml", text.as_bytes());
    same(
        &format!("ready --kind poolish --dose 0.3% --at 18 --yeast fresh --params {own}"),
        json!({"kind": "poolish", "dose_percent": 0.3, "at_c": 18, "yeast": "fresh", "params_toml": text}),
    );
    same(
        &format!("dose --kind poolish --for 12h --at 18 --yeast fresh --params {own}"),
        json!({"kind": "poolish", "for_h": 12, "at_c": 18, "yeast": "fresh", "params_toml": text}),
    );
}

#[test]
fn rows_are_the_log_that_they_would_be_as_text() {
    let row = |room: Option<&str>| {
        json!({"kind": "poolish", "flour_g": 1000, "water_g": 990.5, "salt_g": null,
        "yeast": "instant", "yeast_g": 0.9, "temperature_c": 21, "room_record": room, "hours": 11.5, "seen": "ripe",
        "note": "a, \"b\"\nc"})
    };
    let rooms = json!({"cellar": [[0, 20], [9, 17.5]]});
    let text = "kind,flour_g,water_g,yeast,yeast_g,temperature_c,room_record,hours,seen\n\
        poolish,1000,990.5,instant,0.9,21,,11.5,ripe\n\
        poolish,1000,990.5,instant,0.9,21,cellar,11.5,ripe\n\
        poolish,1000,990.5,instant,0.9,21,attic,11.5,ripe\n";
    let ask = |log: (&str, Value)| {
        let mut request = json!({"version": 1, "command": "learn", "rooms": rooms});
        request[log.0] = log.1;
        serde_json::from_str::<Value>(&call(&request.to_string())).unwrap()
    };
    let rows = ask((
        "rows",
        json!([row(None), row(Some("cellar")), row(Some("attic"))]),
    ));
    assert_eq!(rows, ask(("log_csv", json!(text))));
    assert_eq!(rows["rows_used"], 2);
    assert_eq!(rows["refused"][0]["line"], 4);
    assert!(
        rows["refused"][0]["why"]
            .as_str()
            .unwrap()
            .contains("\"attic\" is missing")
    );
    // A room that no row names is a mistake.
    let unasked = ask(("rows", json!([row(None)])));
    assert_eq!(unasked["error"]["field"], "rooms");
}

#[test]
fn a_law_fitted() {
    let points = "temperature_c,rate\n8,0.05\n14,0.13\n20,0.26\n26,0.41\n32,0.5\n36,0.44\n40,0.1\n";
    let rates = file("same-rates.csv", points.as_bytes());
    same(
        &format!("fit-rate {rates} --law cardinal --sqrt"),
        json!({"data_csv": points, "law": "cardinal", "transform": "sqrt"}),
    );
}
