//! The JSON Schema of what [`call`](super::call()) takes and gives, made from the types themselves.

use super::adjust::AdjustAnswer;
use super::call::{
    AdjustRequest, COMMANDS, CompareRequest, PlanRequest, Refusal, ScaleRequest, VERSION, When,
};
use super::compare::CompareAnswer;
use super::dose::{DoseAnswer, DoseRequest};
use super::fit_rate::{FitRateAnswer, FitRateRequest};
use super::friction::{FrictionAnswer, FrictionRequest};
use super::ice::{IceAnswer, IceRequest};
use super::learn::{LearnAnswer, LearnRequest};
use super::plan::PlanAnswer;
use super::ready::{ReadyAnswer, ReadyRequest};
use super::scale::ScaleAnswer;
use super::tables::{TablesAnswer, TablesRequest};
use super::water::{WaterAnswer, WaterRequest};
use schemars::generate::{SchemaGenerator, SchemaSettings};
use schemars::{JsonSchema, Schema};
use serde_json::{Value, json};

/// The schema of a request: one of the commands, each with its own fields and no others.
#[must_use]
pub fn request() -> Value {
    let mut generator = SchemaSettings::draft2020_12().into_generator();
    let commands: Vec<Value> = COMMANDS
        .iter()
        .map(|&command| {
            let mut schema = fields(command, &mut generator).to_value();
            schema["title"] = json!(command);
            schema["properties"]["version"] = json!({ "const": VERSION });
            schema["properties"]["command"] = json!({ "const": command });
            let mut required = vec![json!("version"), json!("command")];
            required.extend(schema["required"].as_array().into_iter().flatten().cloned());
            schema["required"] = Value::Array(required);
            schema
        })
        .collect();
    whole(
        "A request to pointage",
        json!({ "oneOf": commands }),
        &mut generator,
    )
}

fn fields(command: &str, generator: &mut SchemaGenerator) -> Schema {
    match command {
        "scale" => ScaleRequest::json_schema(generator),
        "water" => WaterRequest::json_schema(generator),
        "ice" => IceRequest::json_schema(generator),
        "friction" => FrictionRequest::json_schema(generator),
        "dose" => DoseRequest::json_schema(generator),
        "ready" => ReadyRequest::json_schema(generator),
        "plan" => PlanRequest::json_schema(generator),
        "adjust" => AdjustRequest::json_schema(generator),
        "compare" => CompareRequest::json_schema(generator),
        "learn" => LearnRequest::json_schema(generator),
        "fit-rate" => FitRateRequest::json_schema(generator),
        "tables" => TablesRequest::json_schema(generator),
        // A command without a schema: nothing meets it, and the test of the schema fails.
        _ => false.into(),
    }
}

/// The schema of an answer: `version`, and the keys of one of the answers or of an error.
#[must_use]
pub fn answer() -> Value {
    let mut generator = SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator();
    let g = &mut generator;
    let answers: Vec<Schema> = vec![
        g.subschema_for::<ScaleAnswer>(),
        g.subschema_for::<WaterAnswer>(),
        g.subschema_for::<IceAnswer>(),
        g.subschema_for::<FrictionAnswer>(),
        g.subschema_for::<DoseAnswer>(),
        g.subschema_for::<ReadyAnswer>(),
        g.subschema_for::<PlanAnswer<When>>(),
        g.subschema_for::<AdjustAnswer<When>>(),
        g.subschema_for::<CompareAnswer<When>>(),
        g.subschema_for::<LearnAnswer>(),
        g.subschema_for::<FitRateAnswer>(),
        g.subschema_for::<TablesAnswer>(),
        g.subschema_for::<Refusal>(),
    ];
    let all = json!({
        "type": "object",
        "properties": { "version": { "const": VERSION } },
        "required": ["version"],
        "anyOf": answers,
    });
    whole("An answer of pointage", all, &mut generator)
}

fn whole(title: &str, mut schema: Value, generator: &mut SchemaGenerator) -> Value {
    schema["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    schema["title"] = json!(title);
    schema["$defs"] = Value::Object(generator.take_definitions(true));
    schema
}
