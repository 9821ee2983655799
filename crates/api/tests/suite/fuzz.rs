//! Requests with random damage: always an answer, always JSON, always what the schema allows.

use super::call::EXAMPLES;
use super::schema::Schema;
use pointage_api::call;
use serde_json::{Value, json};

/// Random numbers, the same ones for the same seed (splitmix64: Steele, Lea & Flood 2014).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, end: usize) -> usize {
        (self.next() % end as u64) as usize
    }

    fn of<'t, T>(&mut self, items: &'t [T]) -> &'t T {
        &items[self.below(items.len())]
    }

    /// From everyday to absurd, of either sign.
    fn number(&mut self) -> f64 {
        let share = self.next() as f64 / u64::MAX as f64;
        match self.below(8) {
            0..4 => 40.0 * share,
            4 => 2.0 * share,
            5 => -50.0 * share,
            6 => 10f64.powf(20.0 * share - 6.0),
            _ => *self.of(&[
                0.0,
                -0.0,
                1e308,
                -1e308,
                5e-324,
                100.0,
                504.0,
                1e9,
                f64::MAX,
            ]),
        }
    }

    fn value(&mut self) -> Value {
        match self.below(12) {
            0..6 => json!(self.number()),
            6 => json!(self.next()),
            7 => Value::Null,
            8 => json!(self.of(&[
                "poolish",
                "fresh",
                "07:30",
                "2026-02-29",
                "+01:00",
                "",
                "ripe",
                "\u{0}é\n"
            ])),
            9 => json!([[0, self.number()], [self.number(), self.number()]]),
            10 => json!([self.number()]),
            _ => json!({"room_c": self.number()}),
        }
    }
}

/// Damages a request that was sound: its values, or its text.
fn damaged(seeds: &[Value], random: &mut Random) -> String {
    let mut request = random.of(seeds).clone();
    if random.below(4) > 0 {
        for _ in 0..=random.below(3) {
            let other = random.of(seeds).clone();
            change(&mut request, &other, random);
        }
        return request.to_string();
    }
    let mut text: Vec<char> = request.to_string().chars().collect();
    for _ in 0..=random.below(4) {
        let at = random.below(text.len().max(1)).min(text.len());
        match random.below(4) {
            0 => text.truncate(at),
            1 => drop(text.splice(at..(at + random.below(6)).min(text.len()), [])),
            2 => {
                let token = random.of(&[
                    "\"", "{", "}", "[", ",", ":", "null", "1e400", "-", "\\u", "\\", "\u{0}", "é",
                    "  ",
                ]);
                drop(text.splice(at..at, token.chars()));
            }
            _ => {
                let end = (at + random.below(40)).min(text.len());
                let piece = text[at..end].to_vec();
                drop(text.splice(at..at, piece));
            }
        }
    }
    text.into_iter().collect()
}

/// Changes one value somewhere inside, takes one out, or puts in one of another request.
fn change(value: &mut Value, other: &Value, random: &mut Random) {
    match value {
        Value::Object(fields) if !fields.is_empty() && random.below(10) > 0 => {
            let key = fields
                .keys()
                .nth(random.below(fields.len()))
                .unwrap()
                .clone();
            match (random.below(12), other.as_object()) {
                (0, _) => drop(fields.remove(&key)),
                (1, Some(other)) => {
                    let (key, value) = other.iter().nth(random.below(other.len())).unwrap();
                    fields.insert(key.clone(), value.clone());
                }
                (2, Some(other)) if key != "command" && other.contains_key(&key) => {
                    fields.insert(key.clone(), other[&key].clone());
                }
                _ if key == "version" || key == "command" => {}
                _ => change(&mut fields[&key], other, random),
            }
        }
        Value::Array(items) if !items.is_empty() && random.below(10) > 0 => {
            let at = random.below(items.len());
            change(&mut items[at], other, random);
        }
        // Near its old value half of the time, so that much remains to be answered.
        Value::Number(number) if random.below(2) == 0 => {
            let share = random.next() as f64 / u64::MAX as f64;
            *value = json!(number.as_f64().unwrap() * (0.7 + 0.6 * share));
        }
        leaf => *leaf = random.value(),
    }
}

fn fuzz(seed: u64, count: usize) {
    let schema = Schema::of_answers();
    let seeds: Vec<Value> = EXAMPLES
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect();
    // These take a thousand times as long as the rest: they come less often.
    let slow = ["plan", "adjust", "compare", "learn", "fit-rate", "tables"];
    let (slow, quick): (Vec<Value>, Vec<Value>) = seeds
        .into_iter()
        .partition(|s| slow.iter().any(|command| s["command"] == *command));
    let mut random = Random(seed);
    let (mut answers, mut errors) = (0, 0);
    for _ in 0..count {
        let seeds = if random.below(100) == 0 {
            &slow
        } else {
            &quick
        };
        let request = damaged(seeds, &mut random);
        let answer = std::panic::catch_unwind(|| call(&request));
        let answer = answer.unwrap_or_else(|_| panic!("panic on {request}"));
        let answer: Value =
            serde_json::from_str(&answer).unwrap_or_else(|e| panic!("{e}: {request}\n{answer}"));
        schema
            .check(&answer)
            .unwrap_or_else(|e| panic!("{request:.200}\n{e:.400}"));
        if answer.get("error").is_some() {
            errors += 1;
        } else {
            answers += 1;
        }
    }
    println!("seed {seed}: {answers} answers, {errors} errors");
    // A damage that leaves nothing to answer, or everything as it was, would test nothing.
    assert!(
        answers > count / 10 && errors > count / 10,
        "{answers} {errors}"
    );
}

#[test]
fn damaged_requests_are_answered() {
    fuzz(1, 20_000);
}

/// `cargo test --release --test suite a_million -- --ignored --nocapture`
#[test]
#[ignore = "minutes"]
fn a_million_damaged_requests_are_answered() {
    fuzz(2, 1_000_000);
}
