//! The command lines of the golden cases, asked as JSON: the program, the library and `pointage_api::call` must give
//! the same answer, digit for digit.
//!
//! `tests/golden/requests.jsonl` holds those requests; `.ci/embed` sends them through the C functions, the
//! Python module and `pointage call`, whose answers must be the same bytes.

use super::{calls, program, root, subjects};
use serde_json::{Map, Value};

fn lines() -> Vec<&'static str> {
    let cases = subjects().iter().flat_map(|s| &s.case);
    cases.filter_map(|case| case.args.as_deref()).collect()
}

#[test]
fn the_program_and_a_json_request_give_the_same_answer() {
    for args in lines() {
        let answer: Map<String, Value> =
            serde_json::from_str(&pointage_api::call(&calls::json_request(args))).unwrap();
        let mut answer = Value::Object(answer);
        assert_eq!(
            answer.as_object_mut().unwrap().remove("version"),
            Some(1.into())
        );
        answer.as_object_mut().unwrap().remove("made_by");
        let mut of_program = program(args);
        // Only the program has a demo and writes files.
        for own in ["demo", "written"] {
            of_program.as_object_mut().unwrap().remove(own);
        }
        assert_eq!(answer, of_program, "{args}");
        if let Some(library) = calls::command(args) {
            // What is printed is rounded to 1e-9 of the unit.
            let printed = pointage_api::to_line(&library).unwrap();
            let printed: Value = serde_json::from_str(&printed).unwrap();
            assert_eq!(answer, printed, "{args}");
        }
    }
}

#[test]
fn the_requests_for_other_doors_are_current() {
    let requests: String = lines()
        .into_iter()
        .map(|args| calls::json_request(args) + "\n")
        .collect();
    let path = root().join("tests/golden/requests.jsonl");
    if std::env::var_os("POINTAGE_BLESS").is_some() {
        std::fs::write(&path, &requests).unwrap();
    }
    assert!(
        std::fs::read_to_string(&path).unwrap() == requests,
        "tests/golden/requests.jsonl is stale; write it anew with POINTAGE_BLESS=1 cargo test golden"
    );
}
