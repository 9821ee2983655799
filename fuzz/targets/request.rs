//! A request in JSON: always an answer, and always JSON.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pointage_api::call;

fuzz_target!(|text: &str| {
    let answer = call(text);
    assert!(!answer.contains('\n'), "{answer}");
    let answer: serde_json::Value = serde_json::from_str(&answer).expect("an answer is JSON");
    assert!(answer.is_object(), "{answer}");
});
