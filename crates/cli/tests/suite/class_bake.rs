//! A bake for a class, from `pointage new` in ten edits: what its plans say in a cold, a usual and a hot kitchen.
//! The bands are common practice, no source: a bulk goes about 2.3 times as fast where the dough is 10 °C warmer.

use crate::program::{file, run, text};
use serde_json::Value;

/// What is written over, each one line for another.
const EDITS: [(&str, &str); 10] = [
    ("name = \"My bread\"", "name = \"Class loaf\""),
    ("bassinage_g = 0", "bassinage_g = 50"),
    ("preferment_h = 12", "preferment_h = 10"),
    ("room_c = 22", "room_c = 24"),
    ("bulk_min = 90", "bulk_min = 70"),
    ("proof_min = 60", "proof_min = 50"),
    ("mix_min = 10", "mix_min = 9 # 4 slow, 5 fast"),
    ("folds_min = [30, 60]", "folds_min = [25, 50]"),
    (
        "shape_min = 10",
        "shape_min = 8\nhold_later_loads = [\"divide-later\", \"shape-later\"]",
    ),
    ("bake_min = 30", "bake_min = 25"),
];

/// The bake, in a kitchen of some °C.
fn class_bake(room_c: f64) -> String {
    let new = text("new --kind poolish --pieces 8 --piece 210g --per-load 4");
    let written = EDITS.iter().fold(new, |bake, (from, to)| {
        assert_eq!(bake.matches(from).count(), 1, "{from}");
        bake.replace(from, to)
    });
    written.replace("room_c = 24", &format!("room_c = {room_c}"))
}

/// Minutes of a stage of the reference as planned, and what its dough is on average.
fn stage(plan: &Value, name: &str) -> (f64, f64) {
    let notes = plan["notes"].as_array().unwrap();
    let note = notes
        .iter()
        .find(|n| n["code"] == "from-reference" && n["stage"] == name)
        .unwrap();
    (
        note["min"].as_f64().unwrap(),
        note["dough_c"].as_f64().unwrap(),
    )
}

fn planned(room_c: f64, flags: &str) -> Value {
    let name = format!("class-{room_c}.toml");
    let bake = file(&name, class_bake(room_c).as_bytes());
    // A load that does not fit ends with 1, and is planned all the same.
    let out = run(&format!(
        "plan {bake} --date 2026-11-28 --zone UTC {flags} --json"
    ));
    serde_json::from_slice(&out.stdout).unwrap()
}

#[test]
fn each_kitchen_has_a_plan_that_a_baker_believes() {
    let plans = [18.0, 24.0, 30.0].map(|room| planned(room, "--mix-at 10:00"));
    for plan in &plans {
        assert_eq!(plan["loads"].as_array().unwrap().len(), 2);
        for (name, own) in [("preferment", 600.0), ("bulk", 70.0), ("proof", 50.0)] {
            let own_c = if name == "preferment" { 21.0 } else { 24.0 };
            let (min, c) = stage(plan, name);
            // As by a Q10 of 2.3 from the reference, give or take a quarter: the bench is as warm as the kitchen.
            let expected = own * 2.3f64.powf((own_c - c) / 10.0);
            assert!(
                (0.75..1.33).contains(&(min / expected)),
                "{name}: {min} min at {c} °C, by rule {expected}"
            );
        }
    }
    for name in ["preferment", "bulk", "proof"] {
        let [cold, usual, hot] = [0, 1, 2].map(|i| stage(&plans[i], name).0);
        assert!(cold > usual && usual > hot, "{name}: {cold} {usual} {hot}");
    }
    let (bulk, _) = stage(&plans[1], "bulk");
    assert!((63.0..77.0).contains(&bulk), "{bulk}");
}

/// Grams are the recipe: twelve pieces take half as much again as eight, and the plan says by how much it scaled.
#[test]
fn tonight_it_is_twelve_pieces() {
    let [eight, twelve] =
        ["", "--pieces 12"].map(|more| planned(24.0, &format!("--mix-at 10:00 {more}")));
    let ratio = twelve["dough_g"].as_f64().unwrap() / eight["dough_g"].as_f64().unwrap();
    assert!((ratio - 1.5).abs() < 1e-6, "{ratio}");
    let times = |plan: &Value| {
        let notes = plan["notes"].as_array().unwrap();
        let note = notes.iter().find(|n| n["code"] == "scaled-recipe").unwrap();
        note["times"].as_f64().unwrap()
    };
    assert!((times(&twelve) / times(&eight) - 1.5).abs() < 1e-6);
    assert_eq!(twelve["loads"].as_array().unwrap().len(), 3);
}

/// A key by its name, and one that is none.
#[test]
fn a_key_says_what_it_means() {
    let said = text("keys bulk_min");
    for part in ["[reference]", "[process]", "5 to 5760 min", "e.g. 60"] {
        assert!(said.contains(part), "{said}");
    }
    assert!(said.lines().all(|line| line.chars().count() <= 80));
    let said = crate::program::refusal("keys bluk_min", 2);
    assert!(said.contains("did you mean \"bulk_min\"?"), "{said}");
}
