//! What the guide says of the fridge, and the keys that it lists; the bake that begins with them.

use pointage::plan::bake::bake_sections;
use pointage_api::ready::ready;
use pointage_api::{Model, call};
use serde_json::{Value, json};

const TRUST: &str = include_str!("../../../../src/guide/trust.md");
const BAKE_FILE: &str = include_str!("../../../../src/guide/bake_file.md");

/// What bakers do in the fridge, without a source, beside the answers of the model, and by how much it misses.
#[test]
fn the_guide_shows_how_the_fridge_is_missed() {
    for (what, [low, high], request) in [
        (
            "poolish, 0.5 %, held at 5 °C",
            [24.0, 48.0],
            json!({"kind": "poolish", "dose_percent": "0.5%", "yeast": "fresh", "at_c": 5}),
        ),
        (
            "dough, 0.4 %, held at 4 °C",
            [36.0, 72.0],
            json!({"kind": "dough", "dose_percent": "0.4%", "yeast": "fresh", "at_c": 4}),
        ),
        (
            "the same, 6 kg of flour, mixed at 25 °C and carried into 4 °C",
            [36.0, 72.0],
            json!({"kind": "dough", "dose_percent": "0.4%", "yeast": "fresh", "mixed_at_c": 25, "room_c": 4,
                "flour_mass_g": "6kg"}),
        ),
    ] {
        let request = serde_json::from_value(request).unwrap();
        let hours = ready(&request, &Model::shipped().unwrap()).unwrap().ready_h;
        let miss = match hours {
            h if h > high => format!("{:.1} times as long", h / high),
            h if h < low => format!("{:.1} times as short", low / h),
            _ => "inside".to_owned(),
        };
        let line = format!("| {what} | {low} to {high} h | {hours:.0} h | {miss} |");
        assert!(TRUST.contains(&line), "guide: {line}");
    }
}

/// The keys of the bake file as the guide lists them: from the rows that read it.
#[test]
fn the_guide_lists_every_key() {
    let mut table = String::new();
    for section in bake_sections().unwrap() {
        let heading = match section.section {
            "" => "Top of the file".to_owned(),
            path => format!("`[{path}]`"),
        };
        table += &format!(
            "\n**{heading}** {}\n\n| key | meaning | range | default | example |\n|---|---|---|---|---|\n",
            section.about
        );
        for key in section.keys {
            let range = key.range.map_or(String::new(), |[low, high]| {
                format!("{low} to {high} {}", key.unit)
            });
            let (name, meaning, default, example) =
                (key.key, key.meaning, key.default, key.example);
            table += &format!("| `{name}` | {meaning} | {range} | {default} | `{example}` |\n");
        }
    }
    let (before, rest) = BAKE_FILE.split_once(BEGIN).unwrap();
    let (_, after) = rest.split_once(END).unwrap();
    if std::env::var_os("POINTAGE_BLESS").is_some() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../src/guide/bake_file.md");
        std::fs::write(path, format!("{before}{BEGIN}{table}{END}{after}")).unwrap();
        return;
    }
    let whole = format!("{before}{BEGIN}{table}{END}{after}");
    assert!(
        whole == BAKE_FILE,
        "src/guide/bake_file.md is stale; write it anew with POINTAGE_BLESS=1 cargo test guide"
    );
}

const BEGIN: &str = "<!-- written by POINTAGE_BLESS=1 cargo test guide -->\n";
const END: &str = "<!-- to here -->\n";

/// A bake to begin with plans as it is, whatever it begins with, and says it all in grams and minutes.
#[test]
fn a_new_bake_plans_as_it_is() {
    for kind in ["poolish", "biga", "sponge", "old-dough", "dough"] {
        for yeast in ["fresh", "instant", "active-dry"] {
            let asked = json!({"version": 1, "command": "new", "kind": kind, "yeast": yeast, "pieces": 12, "piece_g": "8oz", "pieces_per_load": 6});
            let answer: Value = serde_json::from_str(&call(&asked.to_string())).unwrap();
            let text = answer["bake_toml"].as_str().unwrap();
            assert!(
                text.contains("flour_g = 1000")
                    && text.contains("bulk_min = 90")
                    && !text.contains("_percent =")
            );
            let asked =
                json!({"version": 1, "command": "plan", "bake_toml": text, "first_out": "10:00"});
            let plan: Value = serde_json::from_str(&call(&asked.to_string())).unwrap();
            assert_eq!(plan["feasible"], true, "{kind} {plan}");
            let stages = plan["notes"]
                .as_array()
                .unwrap()
                .iter()
                .filter(|note| note["code"] == "from-reference");
            let preferment = usize::from(["poolish", "biga", "sponge"].contains(&kind));
            assert_eq!(stages.count(), 2 + preferment, "{kind}");
        }
    }
    let refused = call(&json!({"version": 1, "command": "new", "pieces": 0}).to_string());
    assert!(refused.contains("pieces: the value is 0"), "{refused}");
}
