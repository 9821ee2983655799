//! A row of a table is answered as the same question in JSON, whether its cells are numbers or texts.

use pointage_api::columns::{COMMANDS, Columns, TableRow};
use pointage_api::request::Input;
use pointage_api::{Model, call, rounded};
use serde_json::Value;

const REQUESTS: [&str; 2] = [
    include_str!("../../../../tests/requests.jsonl"),
    include_str!("../../../../tests/golden/requests.jsonl"),
];

/// A row as CSV or Arrow have it.
struct Cells(Vec<String>, Vec<Option<f64>>);

impl TableRow for Cells {
    fn cell(&self, column: usize) -> Option<Input<'_>> {
        let text = Some(self.0[column].as_str()).filter(|text| !text.is_empty());
        let number = self.1[column].map(Input::Number);
        number.or(text.map(Input::Text))
    }
}

/// The number of an answer in JSON that stands in a table under this name.
fn number(answer: &Value, name: &str) -> Option<f64> {
    let pairs = [("low", 0), ("high", 1), ("open", 0), ("close", 1)];
    for (end, at) in pairs {
        if let Some((of, unit)) = name.split_once(&format!("_{end}_")) {
            return answer[format!("{of}_{unit}")][at].as_f64();
        }
    }
    let parts = name.match_indices('_');
    let part = parts.map(|(at, _)| answer[&name[..at]][&name[at + 1..]].as_f64());
    answer[name].as_f64().or(part.flatten().next())
}

#[test]
fn a_row_is_answered_as_its_request() {
    let model = Model::shipped().unwrap();
    let mut asked = std::collections::BTreeSet::new();
    for line in REQUESTS.iter().flat_map(|text| text.lines()) {
        let request: Value = serde_json::from_str(line).unwrap();
        let command = request["command"].as_str().unwrap();
        let fields = request.as_object().unwrap().iter();
        let fields: Vec<(&String, &Value)> = fields
            .filter(|(key, _)| !["version", "command"].contains(&key.as_str()))
            .collect();
        let names: Vec<(usize, &str)> = fields
            .iter()
            .map(|(key, _)| key.as_str())
            .enumerate()
            .collect();
        let Some(columns) = Columns::new(command, &names, &model, false) else {
            assert!(!COMMANDS.contains(&command));
            continue;
        };
        let texts = fields.iter().map(|(_, value)| match value {
            Value::String(text) => text.clone(),
            Value::Null => String::new(),
            other => other.to_string(),
        });
        let texts: Vec<String> = texts.collect();
        let numbers = fields.iter().map(|(_, value)| value.as_f64()).collect();
        let answer: Value = serde_json::from_str(&call(line)).unwrap();
        for row in [
            Cells(texts.clone(), vec![None; texts.len()]),
            Cells(texts.clone(), numbers),
        ] {
            let mut numbers = vec![None; columns.numbers.len()];
            let result = columns.answer(&row, &mut |at, number| numbers[at] = number.map(rounded));
            let expected = columns.numbers.iter().map(|name| number(&answer, name));
            let expected: Vec<Option<f64>> = expected.collect();
            assert_eq!(numbers, expected, "{line}");
            assert_eq!(
                result.is_err(),
                answer.get("error").is_some(),
                "{line}: {result:?}"
            );
            asked.insert(columns.command);
        }
    }
    assert_eq!(asked.len(), COMMANDS.len(), "{asked:?}");
}
