//! Every sentence by its rules: one example of each finding of a plan, none of them held to its words.

use pointage::formula::YeastKind;
use pointage::plan::{Change, Finding, Task};
use pointage_api::{Remark, Sentence};
use serde_json::{Value, json};

/// Most words of a sentence.
const MOST_WORDS: usize = 22;

/// One example of each code, and a second one where a number changes the words.
fn examples() -> Vec<Finding> {
    let one = |value: Value| serde_json::from_value(value).unwrap();
    let hours = json!({"shape": [1.0, 2.5, 3.0, 26.0], "divide": [2.0]});
    [
        json!({"code": "first-load-early", "ripeness": 0.85}),
        json!({"code": "extra-preferment", "all_g": 5000.0, "own_g": 2000.0}),
        json!({"code": "outside-working-hours", "outside": 5, "steps": 12, "from_h": 5.0, "until_h": 22.0, "tasks": hours,
            "shift_h": -1.5, "first_out_h": 30.75, "cold": false}),
        json!({"code": "outside-working-hours", "outside": 1, "steps": 12, "from_h": 5.0, "until_h": 22.0, "tasks": hours,
            "shift_h": null, "first_out_h": null, "cold": true}),
        json!({"code": "outside-working-hours", "outside": 1, "steps": 12, "from_h": 5.0, "until_h": 22.0, "tasks": hours,
            "shift_h": null, "first_out_h": null, "cold": false}),
        json!({"code": "late-folds", "folds": 1}),
        json!({"code": "late-folds", "folds": 2}),
        json!({"code": "unusual-bulk", "doubled_percent": 40.0}),
        json!({"code": "short-record"}),
        json!({"code": "no-water", "why": "water boils"}),
        json!({"code": "water", "for_preferment": true, "caution": {"code": "water-kills-yeast", "water_c": 49.0, "warmest_c": 43.0}}),
        json!({"code": "instant-yeast", "caution": {"code": "instant-yeast-in-cold-water", "coldest_c": 21.0}}),
        json!({"code": "beyond-recipes", "caution": {"code": "less-yeast-than-published", "kind": "poolish", "least_percent": 0.1}}),
        json!({"code": "warm-dough", "caution": {"code": "hot-dough", "dough_c": 42.0, "warmest_c": 40.0}}),
        json!({"code": "cold-dough", "dough_c": 8.0}),
        json!({"code": "small-mixer", "mixer_kg": 8.0, "mixes": 3.0, "mix_kg": 6.5, "first_older_min": 20.0}),
        json!({"code": "small-tub", "needed_l": 19.4, "tub_l": 12.0}),
        json!({"code": "full-boards", "capacity": 7, "pieces": 8}),
        json!({"code": "full-retarder", "capacity": 7, "pieces": 8}),
        json!({"code": "long-rest", "loads": [2, 3, 5], "of": 12, "rest_min": 70.0, "most_min": 60.0}),
        json!({"code": "fast-hands", "task": "shape", "pieces": 24, "length_min": 0.4, "piece_s": 1.0}),
        json!({"code": "short-proof", "proof_min": 9.0}),
        json!({"code": "no-proof"}),
        json!({"code": "uneven-loads", "loads": [1], "first_ripeness": 1.25, "last_ripeness": 1.0}),
        json!({"code": "uneven-loads", "loads": [1, 2, 3], "first_ripeness": 1.25, "last_ripeness": 1.0}),
        json!({"code": "outside-window", "loads": [9, 10, 11, 12], "of": 12, "ripeness": 1.62, "window_open": 0.85,
            "window_close": 1.2}),
        json!({"code": "hold-later-loads", "shape_later": false, "divide_later": true, "retarder_c": 4.0}),
        json!({"code": "hold-later-loads", "shape_later": true, "divide_later": false, "retarder_c": null}),
        json!({"code": "less-yeast", "yeast_percent": 0.35, "given_percent": 1.0}),
        json!({"code": "several-doughs", "doughs": 6, "loads": 2, "pieces": 8, "every_min": 100.0}),
        json!({"code": "longer-rest", "rest_min": 75.0}),
        json!({"code": "no-near-plan"}),
        json!({"code": "unripe-as-forecast"}),
        json!({"code": "preferment-used", "later_min": 0.0}),
        json!({"code": "preferment-used", "later_min": -113.0}),
        json!({"code": "dough-off-mixer", "warmer_c": 0.0}),
        json!({"code": "dough-off-mixer", "warmer_c": -2.4}),
        json!({"code": "rise-too-small", "ratio": 1.05, "forecast_ratio": 1.08}),
        json!({"code": "dough-speed", "ratio": 1.6, "forecast_ratio": 1.5, "speed_percent": 118.0}),
        json!({"code": "water-next-time", "warmer_c": -8.1, "dough_c": 25.0}),
        json!({"code": "measure-again", "wait_min": 40.0}),
        json!({"code": "wait-for-preferment", "wait_min": 95.0}),
        json!({"code": "go-on-unripe"}),
        json!({"code": "use-preferment-now", "bulk_min": 92.0, "planned_min": 118.0}),
        json!({"code": "use-less-preferment", "less_g": 640.0, "less_percent": 12.0, "flour_g": 320.0, "water_g": 320.0}),
        json!({"code": "end-cold-sooner", "sooner_min": 47.0}),
        json!({"code": "hold-loads", "loads": [2]}),
    ]
    .map(one)
    .into_iter()
    .chain([true, false].map(|at_once| Finding::AddYeast {
        yeast_g: 4.2,
        kind: YeastKind::ActiveDry,
        bulk_min: 130.0,
        at_once,
    }))
    .chain([(false, false), (true, false), (false, true)].map(|(or_retarder, or_warmer)| {
        Finding::Divide {
            later_min: -35.0,
            or_retarder,
            or_warmer,
        }
    }))
    .chain([Finding::FastHands {
        task: Task::Divide,
        pieces: 24,
        length_min: 0.5,
        piece_s: 1.2,
    }])
    .collect()
}

/// Ends with a stop, begins with a capital, is short, and has no word that is retired.
fn check_words(text: &str) {
    assert!(text.ends_with('.') && !text.contains('\n'), "{text}");
    assert!(!text.starts_with(char::is_lowercase), "{text}");
    for sentence in text
        .split_inclusive(['.', '!', '?'])
        .collect::<String>()
        .split(". ")
    {
        let words = sentence.split_whitespace().count();
        assert!(words <= MOST_WORDS, "{words} words: {sentence}");
    }
    let lower = text.to_lowercase();
    for retired in [
        "sum rule",
        "second water",
        "wanted dough",
        "cooler place",
        "too far",
        "of doubled",
        "to doubled",
        "reckon",
        "hangs on",
        "hang on",
        "knows nothing",
        "own numbers",
        "trade's rule",
        "later_loads ",
        "throw ",
        "farthest",
        "is told",
        "teaches",
        " k warmer",
        " k colder",
        "nan",
        "cooler_c",
    ] {
        assert!(!lower.contains(retired), "{retired:?} in {text}");
    }
}

#[test]
fn every_finding_of_a_plan_is_a_sentence_by_the_rules() {
    let mut codes = std::collections::BTreeSet::new();
    for finding in examples() {
        let remark = serde_json::to_value(Remark::from(finding.clone())).unwrap();
        let code = remark["code"].as_str().unwrap().to_owned();
        let text = remark["text"].as_str().unwrap();
        check_words(text);
        assert_eq!(text, finding.sentence().to_string());
        // What is serialised is the finding, with its text beside it.
        let back: Finding = serde_json::from_value(remark.clone()).unwrap();
        assert_eq!(back, finding);
        codes.insert(code);
    }
    // All codes of the schema, as the library's own source lists them.
    let source = include_str!("../../../../src/plan/finding.rs");
    let list = source.split("pub enum Finding {").nth(1).unwrap();
    let list = list.split("\n}\n").next().unwrap();
    let variant = |line: &str| {
        let name = line.strip_prefix("    ")?;
        let name = name.split([' ', ',']).next()?;
        name.chars()
            .next()?
            .is_ascii_uppercase()
            .then(|| name.to_owned())
    };
    let variants: Vec<String> = list.lines().filter_map(variant).collect();
    assert!(variants.len() > 40, "{variants:?}");
    for name in variants {
        let kebab = name.chars().fold(String::new(), |mut kebab, c| {
            if c.is_ascii_uppercase() && !kebab.is_empty() {
                kebab.push('-');
            }
            kebab.push(c.to_ascii_lowercase());
            kebab
        });
        assert!(codes.contains(&kebab), "no example of {kebab}");
    }
}

#[test]
fn every_change_has_a_name() {
    for change in [
        Change::WarmerDough,
        Change::WarmerRoom,
        Change::MoreYeastAtMix,
        Change::MoreYeastInPreferment,
    ] {
        let name = change.sentence().to_string();
        assert!(
            !name.ends_with('.') && !name.contains(" K ") && name.len() < 40,
            "{name}"
        );
    }
}
