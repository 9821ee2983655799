//! A bake file, and the plan of it.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pointage::Error;
use pointage::ambient::Ambient;
use pointage::ferment::Parameters;
use pointage::plan::{Anchor, Detail, bake::Bake, plan};
use pointage::units::Temperature;
use pointage_fuzz::answered;

fuzz_target!(|text: &str| {
    let Some(bake) = answered(Bake::from_toml(text)) else {
        return;
    };
    answered(bake.batch());
    let record = |_: &str| Temperature::celsius(21.0).and_then(Ambient::constant);
    let Some(places) = answered(bake.places(record)) else {
        return;
    };
    let Some(p) = answered(Parameters::shipped()) else {
        return;
    };
    // The length of the text chooses, so that the same text always asks the same.
    let anchor = match text.len() % 4 {
        0 => Anchor::StartAt(20.0),
        1 => Anchor::FirstOut(7.5),
        2 => Anchor::LastOut(31.5),
        _ => Anchor::MixAt(-3.0),
    };
    let detail = Detail {
        trace: text.len() % 8 == 0,
        ..Detail::default()
    };
    let plan = match plan(&bake, &places, anchor, &p, detail) {
        Ok(plan) => plan,
        Err(e @ Error::NotFinite { .. }) => panic!("{e}"),
        Err(e) => return pointage_fuzz::one_line(&e),
    };
    let mut last = f64::NEG_INFINITY;
    for stage in &plan.stages {
        assert!(
            stage.start_h.is_finite() && stage.end_h.is_finite(),
            "{stage:?}"
        );
        assert!(stage.start_h <= stage.end_h + 1e-9, "{stage:?}");
        assert!(stage.start_h >= last - 1e-6, "{:?}", plan.stages);
        last = stage.start_h;
    }
    assert!(!plan.loads.is_empty());
    for load in &plan.loads {
        assert!(
            load.ripeness.is_finite() && load.dough_c.is_finite(),
            "{load:?}"
        );
        assert!(load.oven_in_h <= load.oven_out_h, "{load:?}");
    }
    for pair in plan.loads.windows(2) {
        assert!(pair[0].oven_out_h <= pair[1].oven_in_h + 1e-6, "{pair:?}");
    }
    for line in plan.notes.iter().chain(&plan.warnings) {
        assert!(!line.contains("NaN") && !line.contains('\n'), "{line}");
    }
});
