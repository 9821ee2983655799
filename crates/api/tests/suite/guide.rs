//! What the guide says of the fridge.

use pointage_api::Model;
use pointage_api::ready::ready;
use serde_json::json;

const GUIDE: &str = include_str!("../../../../src/guide.md");

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
        assert!(GUIDE.contains(&line), "guide: {line}");
    }
}
