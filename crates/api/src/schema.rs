//! The JSON Schema of what [`call`](super::call()) takes and gives, made from the types themselves.

use super::call::{VERSION, schemas};
use super::{Model, columns::Columns};
use schemars::generate::{SchemaGenerator, SchemaSettings};
use serde_json::{Value, json};

fn generators() -> (SchemaGenerator, SchemaGenerator) {
    let settings = SchemaSettings::draft2020_12();
    let answers = settings.clone().for_serialize();
    (settings.into_generator(), answers.into_generator())
}

/// The schema of a request: one of the commands, each with its own fields and no others.
#[must_use]
pub fn request() -> Value {
    let (mut generator, mut answers) = generators();
    let (requests, _) = schemas(&mut generator, &mut answers);
    let commands = requests.into_iter().map(|(command, schema)| {
        let mut schema = schema.to_value();
        schema["title"] = json!(command);
        schema["properties"]["version"] = json!({ "const": VERSION });
        schema["properties"]["command"] = json!({ "const": command });
        schema["properties"]["request_id"] = json!({
            "description": "A name for the request, which its answer repeats",
            "type": ["string", "number", "null"],
        });
        schema["properties"]["budget"] = json!({
            "description": "How many steps of work the answer may take; two million without it",
            "type": ["integer", "null"],
            "minimum": 0,
        });
        // What a row of a table is answered with; see `Columns`.
        let numbers = Model::shipped().ok().and_then(|model| {
            Columns::new(command, &[], &model, false).map(|columns| columns.numbers)
        });
        if let Some(numbers) = numbers {
            schema["x-columns"] = json!(numbers);
        }
        let mut required = vec![json!("version"), json!("command")];
        required.extend(schema["required"].as_array().into_iter().flatten().cloned());
        schema["required"] = Value::Array(required);
        schema
    });
    let commands: Vec<Value> = commands.collect();
    let all = json!({ "oneOf": commands });
    whole("A request to pointage", all, &mut generator)
}

/// The schema of an answer: `version`, and the keys of one of the answers or of an error.
#[must_use]
pub fn answer() -> Value {
    let (mut requests, mut generator) = generators();
    let (_, answers) = schemas(&mut requests, &mut generator);
    let all = json!({
        "type": "object",
        "properties": {
            "version": { "const": VERSION },
            "request_id": { "type": ["string", "number"] },
            "made_by": {
                "description": "The version of the program, and a hash of the tables and of the request's own parameters",
                "type": "object",
                "properties": { "program": { "type": "string" }, "parameters": { "type": "string" } },
            },
        },
        "required": ["version"],
        "anyOf": answers,
    });
    whole("An answer of pointage", all, &mut generator)
}

fn whole(title: &str, mut schema: Value, generator: &mut SchemaGenerator) -> Value {
    schema["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    schema["title"] = json!(title);
    schema["$defs"] = Value::Object(generator.take_definitions(true));
    without_formats(&mut schema);
    schema
}

/// Takes away the formats of numbers, such as `uint32`, which strict validators do not know.
fn without_formats(schema: &mut Value) {
    match schema {
        Value::Object(keys) => {
            keys.retain(|key, value| key != "format" || !value.is_string());
            keys.values_mut().for_each(without_formats);
        }
        Value::Array(items) => items.iter_mut().for_each(without_formats),
        _ => {}
    }
}
