//! The rise of a dough, as a jar shows it: told, asked for, measured.

use super::*;

/// A dough that has risen as its plan forecasts, on the way or at the end of its bulk, is on plan.
#[test]
fn a_dough_at_its_forecast_rise_is_on_plan() {
    let detail = Detail {
        trace: true,
        ..Detail::default()
    };
    for process in ["", "bulk_rise = 1.7"] {
        let text = straight(YEAST, "", process, "", "");
        let (bake, places) = demo(&text);
        let anchor = Anchor::MixAt(8.0);
        let before = plan(&bake, &places, anchor, &shipped(), detail).unwrap();
        let bulk = stage(&before, "bulk");
        let wanted = if process.is_empty() { 2.0 } else { 1.7 };
        assert!((bulk.rise.unwrap() - wanted).abs() < 1e-6);
        let trace = before.trace.as_ref().unwrap();
        let middle = trace.bulk[2 * trace.bulk.len() / 3];
        for (rise, hour) in [
            (bulk.rise.unwrap(), bulk.end_h),
            (1.0 + middle.ripeness, middle.hour),
        ] {
            let seen = [observed(Checkpoint::BulkRise(rise), hour)];
            let now = adjusted(&text, anchor, &seen);
            let speed =
                find!(now.changes, Finding::DoughSpeed { speed_percent, .. } => *speed_percent);
            assert!((speed.unwrap() - 100.0).abs() < 1e-3, "{speed:?}");
            for (a, b) in now.before.stages.iter().zip(&now.after.stages) {
                assert!((a.end_h - b.end_h).abs() < 1e-4, "{a:?} {b:?}");
            }
        }
    }
}

/// A dough carried into a fridge cools over hours and rises on the way: the more of it there is, the slower it cools
/// and the more it rises; less than it would have risen in its room.
#[test]
fn a_dough_rises_while_it_cools() {
    let rise = |pieces: u32, cold_c: f64| {
        let cold = format!("[cold]\nstage = \"bulk\"\nhours = 8\nroom_c = {cold_c}\n");
        let text = straight("yeast_percent = 0.15", "", "", &cold, "")
            .replace("pieces = 8", &format!("pieces = {pieces}"));
        let plan = planned(&text, Anchor::MixAt(20.0));
        let cold = stage(&plan, "cold");
        let (from, to) = (cold.dough_start_c.unwrap(), cold.dough_end_c.unwrap());
        assert_eq!(from, 25.0);
        assert!(to >= cold_c - 1e-9 && to < 25.0);
        cold.rise.unwrap()
    };
    let (little, much) = (rise(1, 4.0), rise(40, 4.0));
    assert!(1.0 < little && little + 0.02 < much, "{little} {much}");
    assert!(much < rise(40, 12.0));
}
