//! Requests and answers of `pointage_api::call` against their schema in `data/schema`.

use serde_json::Value;

const REQUEST: &str = include_str!("../../../../data/schema/request.json");
const ANSWER: &str = include_str!("../../../../data/schema/answer.json");

/// One side of [`pointage_api::call`], as published.
pub struct Schema {
    root: Value,
}

impl Schema {
    pub fn of_requests() -> Self {
        let root = serde_json::from_str(REQUEST).unwrap();
        Self { root }
    }

    pub fn of_answers() -> Self {
        let root = serde_json::from_str(ANSWER).unwrap();
        Self { root }
    }

    /// What of `value` the schema does not allow.
    pub fn check(&self, value: &Value) -> Result<(), String> {
        self.meets(value, &self.root)
    }

    /// The part of JSON Schema (2020-12) that these two files use; any other keyword is a failure.
    fn meets(&self, value: &Value, schema: &Value) -> Result<(), String> {
        let Value::Object(schema) = schema else {
            return match schema {
                Value::Bool(true) => Ok(()),
                _ => Err(format!("nothing is allowed here, found {value}")),
            };
        };
        let branch = |branches: &Value| -> (usize, String) {
            let all: Vec<_> = branches
                .as_array()
                .unwrap()
                .iter()
                .map(|s| self.meets(value, s))
                .collect();
            let why = all
                .iter()
                .filter_map(|r| r.as_ref().err())
                .cloned()
                .collect::<Vec<_>>();
            (all.len() - why.len(), why.join(" | "))
        };
        for (keyword, rule) in schema {
            let fits = match keyword.as_str() {
                "$ref" => {
                    let name = rule.as_str().unwrap().strip_prefix("#/$defs/").unwrap();
                    self.meets(value, &self.root["$defs"][name])?;
                    true
                }
                "anyOf" => {
                    let (met, why) = branch(rule);
                    if met == 0 {
                        return Err(why);
                    }
                    true
                }
                "oneOf" => {
                    let (met, why) = branch(rule);
                    if met != 1 {
                        return Err(format!("{met} branches met: {why}"));
                    }
                    true
                }
                "type" => match rule {
                    Value::String(name) => is_of(value, name),
                    names => names
                        .as_array()
                        .unwrap()
                        .iter()
                        .any(|n| is_of(value, n.as_str().unwrap())),
                },
                // A number is its value, however it is written.
                "const" => value == rule || value.is_number() && value.as_f64() == rule.as_f64(),
                "enum" => rule.as_array().unwrap().contains(value),
                "minimum" => value.as_f64().is_none_or(|v| v >= rule.as_f64().unwrap()),
                "maximum" => value.as_f64().is_none_or(|v| v <= rule.as_f64().unwrap()),
                "minItems" => value
                    .as_array()
                    .is_none_or(|v| v.len() as u64 >= rule.as_u64().unwrap()),
                "maxItems" => value
                    .as_array()
                    .is_none_or(|v| v.len() as u64 <= rule.as_u64().unwrap()),
                "required" => value.as_object().is_none_or(|v| {
                    rule.as_array()
                        .unwrap()
                        .iter()
                        .all(|key| v.contains_key(key.as_str().unwrap()))
                }),
                "properties" => {
                    for (key, item) in value.as_object().into_iter().flatten() {
                        if let Some(rule) = rule.get(key) {
                            self.meets(item, rule).map_err(|e| format!("{key}: {e}"))?;
                        }
                    }
                    true
                }
                "additionalProperties" => {
                    for (key, item) in value.as_object().into_iter().flatten() {
                        if schema
                            .get("properties")
                            .is_none_or(|known| known.get(key).is_none())
                        {
                            self.meets(item, rule).map_err(|e| format!("{key}: {e}"))?;
                        }
                    }
                    true
                }
                "prefixItems" => {
                    for (item, rule) in value
                        .as_array()
                        .into_iter()
                        .flatten()
                        .zip(rule.as_array().unwrap())
                    {
                        self.meets(item, rule)?;
                    }
                    true
                }
                "items" => {
                    let first = schema
                        .get("prefixItems")
                        .map_or(0, |p| p.as_array().unwrap().len());
                    for item in value.as_array().into_iter().flatten().skip(first) {
                        self.meets(item, rule)?;
                    }
                    true
                }
                // They say something about the value without limiting it.
                "$schema" | "$defs" | "title" | "description" | "format" | "default"
                | "readOnly" | "x-columns" => true,
                other => return Err(format!("a keyword unknown to this test: {other}")),
            };
            if !fits {
                return Err(format!("{keyword} {rule} is not met by {value}"));
            }
        }
        Ok(())
    }
}

fn is_of(value: &Value, name: &str) -> bool {
    match name {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.as_f64().is_some_and(|v| v.fract() == 0.0),
        "array" => value.is_array(),
        "object" => value.is_object(),
        other => panic!("no type of JSON: {other}"),
    }
}

#[cfg(feature = "schema")]
#[test]
fn the_published_schema_is_that_of_the_types() {
    use pointage_api::schema;
    let mut stale = Vec::new();
    for (name, published, made) in [
        ("request", REQUEST, schema::request()),
        ("answer", ANSWER, schema::answer()),
    ] {
        let made = serde_json::to_string_pretty(&made).unwrap() + "\n";
        if made != published {
            let path = format!("{}/{name}.json", env!("CARGO_TARGET_TMPDIR"));
            std::fs::write(&path, made).unwrap();
            stale.push(path);
        }
    }
    assert!(
        stale.is_empty(),
        "data/schema is not current: look at {stale:?}, and copy them there"
    );
}

#[test]
fn every_command_has_a_request_and_the_examples_meet_it() {
    let schema = Schema::of_requests();
    for command in pointage_api::COMMANDS {
        let branches = schema.root["oneOf"].as_array().unwrap();
        let of_command = branches.iter().filter(|s| s["title"] == *command).count();
        assert_eq!(of_command, 1, "{command}");
        assert!(
            super::call::EXAMPLES
                .lines()
                .any(|l| l.contains(&format!("\"{command}\"")))
        );
    }
    for line in super::call::EXAMPLES.lines() {
        let request: Value = serde_json::from_str(line).unwrap();
        // The schema knows the ranges of a bake: what it refuses, `call` refuses.
        if let Err(e) = schema.check(&request) {
            let answer = pointage_api::call(line);
            assert!(answer.contains("\"error\":"), "{line}\n{e}");
        }
    }
}

/// 24.0 is an integer in JSON Schema, and `call` takes it for one: every whole number of every request.
#[cfg(feature = "learn")]
#[test]
fn a_whole_number_may_have_a_point() {
    let schema = Schema::of_requests();
    let mut keys = 0;
    for branch in schema.root["oneOf"].as_array().unwrap() {
        for (key, rule) in branch["properties"].as_object().unwrap() {
            let names = rule["type"].as_array().cloned().unwrap_or_default();
            if !names.contains(&"integer".into()) && rule["type"] != "integer" && key != "version" {
                continue;
            }
            keys += 1;
            let command = branch["title"].as_str().unwrap();
            let examples = super::call::EXAMPLES.lines().map(serde_json::from_str);
            let examples = examples.map(|l: Result<Value, _>| l.unwrap());
            let ask = |request: &Value| {
                schema.check(request).unwrap();
                pointage_api::call(&request.to_string())
            };
            let mut whole = examples
                .filter(|r| r["command"] == command)
                .find(|r| !pointage_api::call(&r.to_string()).contains("\"error\""))
                .unwrap();
            let number = match key.as_str() {
                "version" => 1,
                "budget" => 1_000_000,
                _ => 24,
            };
            whole[key] = number.into();
            let mut point = whole.clone();
            point[key] = f64::from(number).into();
            assert_ne!(whole.to_string(), point.to_string());
            assert_eq!(ask(&whole), ask(&point), "{command} {key}");
            assert!(!ask(&point).contains("\"error\""), "{command} {key}");
            // What is no whole number is none for either.
            point[key] = 1.5.into();
            assert!(schema.check(&point).is_err(), "{command} {key}");
            assert!(pointage_api::call(&point.to_string()).contains("\"error\""));
        }
    }
    assert!(keys > pointage_api::COMMANDS.len());
    // Inside a bake, which the schema leaves to the reader of its file, it is the same.
    let bake = |pieces: &str| {
        format!(
            r#"{{"version": 1, "command": "scale", "bake": {{"format": 1, "name": "x", "formula": {{"pieces": {pieces},
            "piece_g": 90, "hydration_percent": 66, "yeast_percent": 0.4}}, "kitchen": {{"room_c": 20}},
            "process": {{"dough_c": 25}}, "oven": {{"bake_min": 18}}}}}}"#
        )
    };
    let answer = pointage_api::call(&bake("24"));
    assert!(answer.contains("\"pieces\":24"), "{answer}");
    assert_eq!(pointage_api::call(&bake("24.0")), answer);
}

#[test]
fn the_schema_refuses_what_call_refuses() {
    let schema = Schema::of_requests();
    for bad in [
        r#"{"command": "tables"}"#,
        r#"{"version": 2, "command": "tables"}"#,
        r#"{"version": 1, "command": "table"}"#,
        r#"{"version": 1, "command": "tables", "name": "kinds"}"#,
        r#"{"version": 1, "command": "ice", "total_g": 1000, "tap_c": 20}"#,
        r#"{"version": 1, "command": "ice", "total_g": [1000], "tap_c": 20, "want_c": 5}"#,
        r#"{"version": 1, "command": "ready", "kind": "polish", "dose_percent": 0.3, "at_c": 20}"#,
        r#"{"version": 1, "command": "plan", "bake": [], "first_out": "07:30"}"#,
        r#"{"version": 1, "command": "adjust", "bake": {}, "first_out": "07:30", "measured": "mix 27C 04:52"}"#,
        r#"{"version": 1, "command": "learn", "rows": [{"kind": "poolish"}]}"#,
        r#"{"version": 1, "command": "fit-rate", "data_csv": "", "law": "linear"}"#,
        r#"[]"#,
    ] {
        assert!(
            schema.check(&serde_json::from_str(bad).unwrap()).is_err(),
            "{bad}"
        );
        assert!(pointage_api::call(bad).contains("\"error\""), "{bad}");
    }
}
