//! Every sentence by its rules: one example of each finding of a plan, none of them held to its words.

use pointage::formula::YeastKind;
use pointage::plan::{Change, Finding, Task};
use pointage_api::{Remark, Sentence};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// Most words of a sentence.
const MOST_WORDS: usize = 22;

/// One example of each code, and a second one where a number changes the words.
fn examples() -> Vec<Finding> {
    let one = |value: Value| serde_json::from_value(value).unwrap();
    let hours = json!({"shape": [1.0, 2.5, 3.0, 26.0], "divide": [2.0]});
    [
        json!({"code": "first-load-early", "ripeness": 0.85}),
        json!({"code": "from-reference", "stage": "bulk", "min": 50.2, "dough_c": 26.5, "reference_min": 60.0, "reference_c": 24.0}),
        json!({"code": "from-log", "stage": "proof", "min": 50.2, "dough_c": 26.5}),
        json!({"code": "published-times", "wider": 2.7}),
        json!({"code": "wait-in-window", "loads": [2], "ripeness": 1.13}),
        json!({"code": "wait-in-window", "loads": [2, 3], "ripeness": 1.13}),
        json!({"code": "scaled-recipe", "times": 1.01, "pieces": 8, "piece_g": 210.0}),
        json!({"code": "extra-preferment", "all_g": 5000.0, "own_g": 2000.0}),
        json!({"code": "outside-working-hours", "outside": 5, "steps": 12, "from_h": 5.0, "until_h": 22.0, "tasks": hours}),
        json!({"code": "outside-working-hours", "outside": 1, "steps": 12, "from_h": 5.0, "until_h": 22.0, "tasks": hours}),
        json!({"code": "hands-at-night", "outside": 5, "from_h": 22.0, "until_h": 5.0, "tasks": hours}),
        json!({"code": "hands-at-night", "outside": 1, "from_h": 22.0, "until_h": 5.0, "tasks": {"fold": [23.5]},
            "way": {"code": "move-all", "shift_h": -1.5, "first_out_h": 30.75}}),
        json!({"code": "no-free-hours"}),
        json!({"code": "move-all", "shift_h": -1.5, "first_out_h": 30.75}),
        json!({"code": "change-preferment", "dose_percent": 0.12, "ripe_after_h": 13.5}),
        json!({"code": "change-preferment", "dose_percent": 0.12, "ripe_after_h": 13.5, "cold_h": 11.5}),
        json!({"code": "preferment-off-window", "early_h": 2.5}),
        json!({"code": "preferment-off-window", "early_h": -2.5}),
        json!({"code": "change-cold", "hours": 9.0, "given_h": null, "place_c": 4.0}),
        json!({"code": "change-cold", "hours": 9.0, "given_h": 12.0, "place_c": 4.0}),
        json!({"code": "change-autolyse", "autolyse_min": 60.0, "given_min": 25.0}),
        json!({"code": "cannot-meet", "held": "come-in", "held_h": 10.0, "missed": "last-out", "wanted_h": 13.0, "reached_h": 13.6}),
        json!({"code": "nearest-hours", "held": "start", "held_h": 9.3, "missed": "first-out", "missed_h": 13.6}),
        json!({"code": "nearest-hours", "held": "come-in", "held_h": null, "missed": "mix", "missed_h": 13.6}),
        json!({"code": "late-folds", "folds": 1}),
        json!({"code": "late-folds", "folds": 2}),
        json!({"code": "unusual-bulk", "rise": 1.3}),
        json!({"code": "short-record"}),
        json!({"code": "no-water", "why": "water boils"}),
        json!({"code": "water", "for_preferment": true, "caution": {"code": "water-kills-yeast", "water_c": 49.0, "warmest_c": 43.0}}),
        json!({"code": "instant-yeast", "caution": {"code": "instant-yeast-in-cold-water", "coldest_c": 21.0}}),
        json!({"code": "beyond-recipes", "caution": {"code": "less-yeast-than-published", "kind": "poolish", "least_percent": 0.1}}),
        json!({"code": "warm-dough", "caution": {"code": "hot-dough", "dough_c": 42.0, "warmest_c": 40.0}}),
        json!({"code": "cold-dough", "dough_c": 8.0}),
        json!({"code": "fridge"}),
        json!({"code": "mix-batches", "batches": 3, "mix_kg": 6.5, "mixer_kg": 8.0}),
        json!({"code": "late-batches", "from_batch": 3, "late_h": 0.75}),
        json!({"code": "small-mixer", "mixer_kg": 8.0, "mixes": 3.0, "mix_kg": 6.5, "first_older_min": 20.0}),
        json!({"code": "small-tub", "needed_l": 19.4, "tub_l": 12.0}),
        json!({"code": "full-boards", "capacity": 7, "pieces": 8}),
        json!({"code": "full-retarder", "capacity": 7, "pieces": 8}),
        json!({"code": "long-rest", "loads": [2, 3, 5], "of": 12, "longest_rest_min": 70.0, "most_min": 60.0}),
        json!({"code": "fast-hands", "task": "shape", "pieces": 24, "length_min": 0.4, "piece_s": 1.0}),
        json!({"code": "short-proof", "proof_min": 9.0}),
        json!({"code": "no-proof"}),
        json!({"code": "uneven-loads", "loads": [1], "first_ripeness": 1.25, "last_ripeness": 1.0}),
        json!({"code": "uneven-loads", "loads": [1, 2, 3], "first_ripeness": 1.25, "last_ripeness": 1.0}),
        json!({"code": "outside-window", "loads": [9, 10, 11, 12], "of": 12, "ripeness": 1.62, "window_open": 0.85,
            "window_close": 1.2}),
        json!({"code": "hold-later-loads", "shape_later": false, "divide_later": true, "retarder_c": 4.0}),
        json!({"code": "hold-later-loads", "shape_later": true, "divide_later": false, "retarder_c": null}),
        json!({"code": "change-yeast", "yeast_percent": 0.35, "given_percent": 1.0}),
        json!({"code": "change-dough", "dough_c": 22.0, "given_c": 25.0, "water_c": -2.0, "ice_g": 480.0}),
        json!({"code": "change-dough", "dough_c": 27.0, "given_c": 25.0, "water_c": 34.0, "ice_g": 0.0}),
        json!({"code": "change-dough", "dough_c": 27.0, "given_c": 25.0, "water_c": null, "ice_g": 0.0}),
        json!({"code": "change-place", "place_c": 28.0, "from_h": 5.5}),
        json!({"code": "change-place", "place_c": 28.0, "from_h": null}),
        json!({"code": "chill", "pieces": true, "place_c": 4.0, "from_h": 5.5, "until_h": 6.25}),
        json!({"code": "divide-at", "at_h": 5.5, "rise": 1.6}),
        json!({"code": "bake-at", "ripeness": 1.12}),
        json!({"code": "proof-seen", "share": 1.0, "forecast_share": 1.0, "speed_percent": 100.0}),
        json!({"code": "proof-seen", "share": 1.0, "forecast_share": 0.7, "speed_percent": 122.0}),
        json!({"code": "preferment-ripe", "later_min": 0.0}),
        json!({"code": "preferment-ripe", "later_min": -182.0}),
        json!({"code": "hold-preferment", "until_h": 3.7, "good_until_h": 6.0, "cold_c": 4.0, "as_planned": true}),
        json!({"code": "hold-preferment", "until_h": 3.7, "good_until_h": null, "cold_c": null, "as_planned": false}),
        json!({"code": "pour-now", "water_c": 32.0, "planned_c": 26.0, "ice_g": 0.0}),
        json!({"code": "pour-now", "water_c": 2.0, "planned_c": 6.0, "ice_g": 200.0}),
        json!({"code": "next-step", "task": "fold", "loads": [], "at_h": 4.75}),
        json!({"code": "next-step", "task": "into-oven", "loads": [1], "at_h": 8.3}),
        json!({"code": "oven-moves"}),
        json!({"code": "several-doughs", "doughs": 6, "loads": 2, "pieces": 8, "every_min": 100.0}),
        json!({"code": "longer-rest", "longest_rest_min": 75.0}),
        json!({"code": "no-near-plan"}),
        json!({"code": "unripe-as-forecast"}),
        json!({"code": "preferment-used", "later_min": 0.0}),
        json!({"code": "preferment-used", "later_min": -113.0}),
        json!({"code": "dough-off-mixer", "warmer_c": 0.0}),
        json!({"code": "dough-off-mixer", "warmer_c": -2.4}),
        json!({"code": "rise-too-small", "rise": 1.05, "forecast_rise": 1.08}),
        json!({"code": "dough-speed", "rise": 1.6, "forecast_rise": 1.5, "speed_percent": 118.0}),
        json!({"code": "water-next-time", "warmer_c": -8.1, "water_c": 9.0, "ice_g": 0.0, "dough_c": 25.0, "reaches_c": 25.0}),
        json!({"code": "water-next-time", "warmer_c": -20.1, "water_c": -15.0, "ice_g": 1800.0, "dough_c": 25.0, "reaches_c": 28.0}),
        json!({"code": "measure-again", "wait_min": 40.0}),
        json!({"code": "wait-for-preferment", "wait_min": 95.0}),
        json!({"code": "go-on-unripe"}),
        json!({"code": "use-preferment-now", "bulk_min": 92.0, "planned_min": 118.0}),
        json!({"code": "use-less-preferment", "less_g": 640.0, "less_percent": 12.0, "flour_g": 320.0, "water_g": 320.0}),
        json!({"code": "end-cold-sooner", "sooner_min": 47.0}),
        json!({"code": "hold-loads", "loads": [2, 3], "shaped": false}),
        json!({"code": "hold-loads", "loads": [2], "shaped": true}),
        json!({"code": "bulk-seen", "done": true, "later_min": -12.0}),
        json!({"code": "bulk-seen", "done": true, "later_min": 0.0}),
        json!({"code": "bulk-seen", "done": false, "later_min": 14.0}),
        json!({"code": "bulk-seen", "done": false, "later_min": 0.0}),
    ]
    .map(one)
    .into_iter()
    .chain([true, false].map(|at_once| Finding::AddYeast {
        yeast_g: 4.2,
        kind: YeastKind::ActiveDry,
        bulk_min: 130.0,
        at_once,
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
    let mut codes = BTreeSet::new();
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
    let all = codes_of(include_str!("../../../../src/plan/finding.rs"), "Finding");
    assert!(all.len() > 40, "{all:?}");
    assert_eq!(codes, all);
}

/// The codes of an enum, as its own source lists them.
fn codes_of(source: &str, name: &str) -> BTreeSet<String> {
    let list = source
        .split(&format!("pub enum {name} {{\n"))
        .nth(1)
        .unwrap();
    let list = list.split("\n}\n").next().unwrap();
    let variant = |line: &str| {
        let name = line.strip_prefix("    ")?;
        let name = name.split([' ', ',']).next()?;
        name.chars()
            .next()?
            .is_ascii_uppercase()
            .then(|| name.to_owned())
    };
    let kebab = |name: String| {
        name.chars().fold(String::new(), |mut kebab, c| {
            if c.is_ascii_uppercase() && !kebab.is_empty() {
                kebab.push('-');
            }
            kebab.push(c.to_ascii_lowercase());
            kebab
        })
    };
    list.lines().filter_map(variant).map(kebab).collect()
}

/// Each section of the file has a sentence for each code of its enum, and for no other.
#[test]
fn every_code_has_its_sentence_and_every_sentence_its_code() {
    let sentences: toml::Table = toml::from_str(include_str!("../../src/sentences.toml")).unwrap();
    for (section, name, source) in [
        (
            "assumption",
            "Assumption",
            include_str!("../../src/assumption.rs"),
        ),
        (
            "heat",
            "Caution",
            include_str!("../../../../src/heat/cautions.rs"),
        ),
        (
            "ferment",
            "Extrapolation",
            include_str!("../../../../src/ferment/extrapolation.rs"),
        ),
        (
            "plan",
            "Finding",
            include_str!("../../../../src/plan/finding.rs"),
        ),
        (
            "learn",
            "Diagnostic",
            include_str!("../../../../src/learn/fit/diagnostics.rs"),
        ),
        (
            "friction",
            "FrictionDiagnostic",
            include_str!("../../../../src/learn/friction.rs"),
        ),
    ] {
        let codes = codes_of(source, name);
        assert!(codes.len() >= 4, "{name}: {codes:?}");
        let told: BTreeSet<String> = sentences[section]
            .as_table()
            .unwrap()
            .keys()
            .cloned()
            .collect();
        assert_eq!(told, codes, "[{section}] of sentences.toml against {name}");
    }
}

/// Where nothing is left of a template, and its numbers are in it.
fn check_said(remark: &Value, numbers: &[&str]) {
    let (code, text) = (
        remark["code"].as_str().unwrap(),
        remark["text"].as_str().unwrap(),
    );
    assert!(
        text.ends_with(['.', '?']) && text.len() > code.len() && text.contains(' '),
        "{remark}"
    );
    assert!(
        !text.contains(['{', '}', '|', '\n']) && !text.contains("none"),
        "{remark}"
    );
    for number in numbers {
        assert!(text.contains(number), "{number} in {text}");
    }
}

/// A template whose numbers are misnamed would give its bare code: one example of each code shows that none does.
#[test]
fn every_assumption_is_said_with_its_numbers() {
    use pointage::table::Standing;
    use pointage_api::Assumption as A;
    let name = || "yeast".to_owned();
    let examples: [(A, &[&str]); 33] = [
        (A::ClockChanges { minutes: -60 }, &["back by 60 min"]),
        (
            A::NoSuchDay {
                asked: "2011-12-30".into(),
                taken: "2011-12-31".into(),
            },
            &["no 2011-12-30", "2011-12-31 is taken"],
        ),
        (
            A::RepeatedHour {
                asked_h: 2.5,
                utc_offset: "+02:00".into(),
            },
            &["02:30 comes twice", "+02:00"],
        ),
        (
            A::NoSuchHour {
                asked_h: 2.5,
                taken_h: 3.5,
            },
            &["02:30", "03:30"],
        ),
        (A::InstantYeast, &[]),
        (A::MixedAtRoom { room_c: 18.25 }, &["18.2 °C"]),
        (
            A::InTub {
                dough_kg: 2.0,
                time_constant_h: 3.75,
                flour_assumed: true,
            },
            &["1 kg of flour", "2.0 kg", "3.8 h"],
        ),
        (A::RecordEnds { hours_short: 4.5 }, &["4.5 h"]),
        (A::RecordBegins { hours_late: 1.5 }, &["1.5 h"]),
        (A::NoRange, &[]),
        (A::GasCurveAlone, &["kind and dose"]),
        (A::RecipeElsewhere { recipe_c: 22.0 }, &["22.0 °C"]),
        (
            A::RuleOfThumb {
                percent: 0.25,
                difference_percent: -14.0,
                growth: 2.9,
                recipe_growth: Some(1.8),
            },
            &["0.250 %", "14 % less", "2.9-fold", "1.8-fold"],
        ),
        (
            A::WarmerThanTap {
                water_c: 30.0,
                tap_c: 12.0,
            },
            &["30.0 °C", "12.0 °C"],
        ),
        (A::NoDdtFormula, &[]),
        (
            A::NoHeatBalance { missing: "dough_c" },
            &["desired dough temperature"],
        ),
        (A::NoIceMass, &[]),
        (A::NoTap, &[]),
        (A::PrefermentHydration { percent: 100.0 }, &["100 %"]),
        (
            A::FlourMoisture {
                percent: 14.0,
                kj_per_kg: 15.1,
            },
            &["14 %", "15.1 kJ/kg"],
        ),
        (A::MixingHeat { kj_per_kg: 6.0 }, &["6 kJ"]),
        (
            A::MixingHeatOfFriction { kj_per_kg: 8.3 },
            &["8.3 kJ", "equally warm"],
        ),
        (A::BaseOfFourTerms, &["four terms"]),
        (
            A::Unused {
                field: "salt_c",
                without: "salt_mass_g",
            },
            &["the salt "],
        ),
        (
            A::MethodsDiffer {
                terms: 4,
                real_rise_c: 2.5,
                water_per_dough: 1.75,
                hydration_rise_c: 3.25,
                mixing_rise_c: 1.5,
                formula_dough_c: 23.5,
            },
            &["4 temperatures", "2.5 °C", "1.5 °C", "23.5 °C"],
        ),
        (A::NegativeFriction, &[]),
        (
            A::DoseFromPlan {
                name: name(),
                stage: "mix",
            },
            &["yeast (mix)"],
        ),
        (
            A::Unverified {
                standing: Standing::FromMemory,
                names: vec![name(), "salt".into()],
            },
            &["From memory", "yeast, salt"],
        ),
        (
            A::OwnParameters {
                name: "a.toml".into(),
                title: "Cellar".into(),
                source: "our log".into(),
            },
            &["a.toml: Cellar (our log)"],
        ),
        (A::CarriedOver, &[]),
        (
            A::Undetermined {
                parameter: "q10".into(),
            },
            &["q10"],
        ),
        (A::NotConverged, &[]),
        (A::NoScatter, &[]),
    ];
    let others = [A::NoFreedom, too_little()].map(|a| (a, &[][..]));
    let mut codes = BTreeSet::new();
    for (finding, numbers) in examples.into_iter().chain(others) {
        let remark = serde_json::to_value(Remark::from(finding)).unwrap();
        check_said(&remark, numbers);
        codes.insert(remark["code"].as_str().unwrap().to_owned());
    }
    assert_eq!(
        codes,
        codes_of(include_str!("../../src/assumption.rs"), "Assumption")
    );
}

fn too_little() -> pointage_api::Assumption {
    let g = |grams| pointage::units::Mass::grams(grams).unwrap();
    let slurry = pointage::formula::yeast_slurry::weigh_in_water(g(0.4), g(1.0), g(600.0));
    pointage_api::Assumption::TooLittleForScale {
        name: "yeast".into(),
        stage: "mix",
        yeast_g: 0.4,
        step_g: 1.0,
        slurry: Box::new(slurry.unwrap().unwrap()),
    }
}

#[cfg(feature = "learn")]
#[test]
fn every_diagnostic_of_a_log_is_said_with_its_numbers() {
    use pointage::ferment::Kind;
    use pointage::learn::fit::Diagnostic as D;
    use pointage::learn::friction::FrictionDiagnostic as F;
    let (kind, parameter) = (Kind::Biga, "gas_tilt_per_10k");
    let slope = "the temperature slope";
    let of_log: [(D, &[&str]); 17] = [
        (D::NoRipeRow, &[]),
        (D::SingleRow, &[]),
        (D::OneTemperature { about_c: 21.4 }, &["21 °C"]),
        (D::OneDose { kind }, &["a biga"]),
        (D::NotInformed { parameter }, &[slope]),
        (
            D::MovedFar {
                parameter,
                deviations: 3.25,
            },
            &[slope, "3.2 standard"],
        ),
        (D::NotSettled, &[]),
        (D::NothingToLearn, &[]),
        (D::Exact { parameter }, &[slope]),
        (
            D::Contradiction {
                lines: [2, 9],
                kind,
                hours: [12.0, 6.5],
            },
            &["2 and 9", "12.0 h", "6.5 h"],
        ),
        (
            D::Mistyped {
                line: 7,
                fits_with: Some(("yeast_g", 0.1)),
            },
            &["line 7", "a tenth of the yeast"],
        ),
        (
            D::MoveTogether {
                parameters: [parameter, "growth_rate_per_h"],
                correlation: -0.95,
            },
            &[slope, "the growth rate"],
        ),
        (
            D::ResidualsFollowDose {
                longer_per_doubling: 0.12,
            },
            &["12 % longer"],
        ),
        (
            D::ResidualsFollowTemperature {
                longer_per_5_c: -0.2,
            },
            &["20 % less"],
        ),
        (
            D::OddDay {
                date: "2026-02-03".into(),
                longer: 0.3,
            },
            &["2026-02-03", "30 %"],
        ),
        (
            D::Covers {
                kind,
                fresh_percent: [0.2, 0.5],
                temperature_c: [16.0, 22.0],
            },
            &["0.2", "0.5", "16 to 22"],
        ),
        (D::LargeScatter { scatter: 0.25 }, &["25 %"]),
    ];
    let heat = || "slow".to_owned();
    let heats = [heat(), "fast".into()];
    let of_mixes: [(F, &[&str]); 4] = [
        (F::NeverUsed { heat: heat() }, &["slow"]),
        (
            F::MoveTogether {
                heats,
                always: true,
            },
            &["slow", "fast"],
        ),
        (F::NoFreedom { mixes: 2, heats: 2 }, &["2"]),
        (F::NegativeHeat { heat: heat() }, &["slow"]),
    ];
    let of_log = of_log.map(|(finding, numbers)| (Remark::from(finding), numbers));
    let of_mixes = of_mixes.map(|(finding, numbers)| (Remark::from(finding), numbers));
    let mut codes = BTreeSet::new();
    for (remark, numbers) in of_log.into_iter().chain(of_mixes) {
        let remark = serde_json::to_value(remark).unwrap();
        check_said(&remark, numbers);
        codes.insert(remark["code"].as_str().unwrap().to_owned());
    }
    let mut all = codes_of(
        include_str!("../../../../src/learn/fit/diagnostics.rs"),
        "Diagnostic",
    );
    all.extend(codes_of(
        include_str!("../../../../src/learn/friction.rs"),
        "FrictionDiagnostic",
    ));
    assert_eq!(codes, all);
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
