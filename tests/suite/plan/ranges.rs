//! Ranges, reasons, curves and cores.

use super::*;

/// Every hour and load has its range, the middle lies inside, and a colder room moves them later.
#[test]
fn ranges_and_reasons_come_on_request() {
    let p = shipped();
    let all = Detail {
        ranges: true,
        reasons: true,
        trace: true,
        cores: true,
        night: true,
    };
    for (name, text) in DEMOS {
        let (bake, places) = demo(text);
        let plan = plan(&bake, &places, Anchor::FirstOut(9.0), &p, all).unwrap();
        for stage in plan
            .stages
            .iter()
            .filter(|s| s.name == "bulk" || s.name == "proof" || s.name == "rest")
        {
            let (low, high) = stage.end_range_h.unwrap();
            assert!(
                low < stage.end_h && stage.end_h < high,
                "{name} {}",
                stage.name
            );
        }
        for load in &plan.loads {
            let (low, high) = load.ripeness_range.unwrap();
            assert!(low < load.ripeness && load.ripeness < high, "{name}");
            assert!((0.0..=1.0).contains(&load.past_chance.unwrap()), "{name}");
        }
        let bulk = plan.reasons.iter().find(|r| r.stage == "bulk").unwrap();
        assert!(
            bulk.causes.len() >= 2 && bulk.causes.iter().all(|c| c.minutes < 0.0),
            "{name}: {bulk:?}"
        );
        let trace = plan.trace.unwrap();
        let last = trace.bulk.last().unwrap();
        assert!(
            (last.ripeness + 1.0 - plan.bulk_rise).abs() < 1e-9,
            "{name}"
        );
        // A dough from which gas escapes is followed in steps: curve and load take different ones.
        for (proof, load) in trace.proofs.iter().zip(&plan.loads) {
            let end = proof.last().unwrap();
            assert!(
                (end.ripeness - load.ripeness).abs() < 1e-5 && end.hour == load.oven_in_h,
                "{name}"
            );
        }
    }
}

/// A tub of 25 kg put into the cold for ten hours: the core stays warmest, the surface nearly reaches the
/// fridge, and the mean of the conduction agrees with the corrected lumped form that the plan uses
/// (within 1.5 K: its published error at a Biot number of 2 is about 0.5 K of a 22 K step for each shape,
/// and the tub's own heat is evened out over the stage).
#[test]
fn a_cold_tub_has_a_warm_core() {
    let p = shipped();
    let text = published_market()
        .replace("yeast_percent = 0.4 ", "yeast_percent = 0.05 ")
        .replace(
            "[oven]",
            "[cold]\nstage = \"bulk\"\nhours = 10\nafter_min = 45\nroom_c = 5\n[oven]",
        );
    let (bake, places) = demo(&text);
    let detail = Detail {
        cores: true,
        ..Detail::default()
    };
    let plan = plan(&bake, &places, Anchor::FirstOut(9.0), &p, detail).unwrap();
    let cold = plan.cores.iter().find(|c| c.stage == "cold").unwrap();
    println!(
        "after 10 h at 5 °C: core {:.1}, mean {:.1}, surface {:.1} °C",
        cold.core_c, cold.mean_c, cold.surface_c
    );
    assert!(cold.core_c > cold.mean_c + 1.0 && cold.mean_c > cold.surface_c + 0.5);
    let lumped = stage(&plan, "cold").dough_end_c.unwrap();
    assert!(
        (cold.mean_c - lumped).abs() < 1.5,
        "{} against {lumped}",
        cold.mean_c
    );
}

/// What is known of a stage's end does not reach back before the stage begins.
#[test]
fn no_stage_is_likely_to_end_before_it_begins() {
    let p = shipped();
    let mut clipped = 0;
    for (name, text) in DEMOS {
        let (bake, places) = demo(text);
        let detail = Detail {
            ranges: true,
            ..Detail::default()
        };
        let plan = plan(&bake, &places, Anchor::FirstOut(7.0), &p, detail).unwrap();
        for stage in &plan.stages {
            let Some((low, high)) = stage.end_range_h else {
                continue;
            };
            assert!(
                stage.start_h <= low && low <= high,
                "{name}: {}",
                stage.name
            );
            clipped += u32::from(low == stage.start_h);
        }
    }
    assert!(clipped > 0, "no demo tries it");
}

/// What moves the times of a plan is told too where one of the changes would not go with it.
#[test]
fn a_plan_near_its_limit_has_its_reasons() {
    let p = shipped();
    let (bake, places) = demo(COLD_BULK);
    let all = Detail {
        ranges: true,
        reasons: true,
        trace: true,
        cores: true,
        night: true,
    };
    let anchor = Anchor::FirstOut(7.0);
    let plain = plan(&bake, &places, anchor, &p, Detail::default()).unwrap();
    let told = plan(&bake, &places, anchor, &p, all).unwrap();
    assert_eq!(
        plain.loads.iter().map(|l| l.oven_in_h).collect::<Vec<_>>(),
        told.loads.iter().map(|l| l.oven_in_h).collect::<Vec<_>>()
    );
    assert!(!told.reasons.is_empty());
}

/// The end of a bulk is uncertain by a factor of the time since the mix, and what follows by the clock moves
/// with it.
#[test]
fn ranges_go_by_the_time_since_the_mix() {
    let p = shipped();
    let (bake, places) = demo(DEMOS[2].1);
    let detail = Detail {
        ranges: true,
        ..Detail::default()
    };
    let plan = plan(&bake, &places, Anchor::FirstOut(15.0), &p, detail).unwrap();
    let mix = stage(&plan, "mix").start_h;
    let bulk = stage(&plan, "bulk");
    let (low, high) = bulk.end_range_h.unwrap();
    let end = bulk.end_h - mix;
    assert!(((low - mix) * (high - mix) / (end * end) - 1.0).abs() < 1e-9);
    let shift = (low - bulk.end_h, high - bulk.end_h);
    assert!(shift.0 < -0.1 && shift.1 > 0.1);
    let later = plan
        .stages
        .iter()
        .skip_while(|s| s.name != "divide")
        .take_while(|s| s.name != "proof");
    let mut seen = 0;
    for stage in later {
        let (low, high) = stage.end_range_h.unwrap();
        assert!((low - (stage.end_h + shift.0).max(stage.start_h)).abs() < 1e-9);
        assert!((high - stage.end_h - shift.1).abs() < 1e-9);
        seen += 1;
    }
    assert!(seen >= 2);
    let proof = stage(&plan, "proof");
    let (low, high) = proof.end_range_h.unwrap();
    let end = proof.end_h - mix;
    assert!(((low - mix) * (high - mix) / (end * end) - 1.0).abs() < 1e-9);
}

/// The curves of a bulk that goes into the cold and comes out again go through the temperatures of its stages,
/// and name the place where it stands; so do those of pieces in the cold.
#[test]
fn curves_go_through_the_stages_in_the_cold() {
    let detail = Detail {
        trace: true,
        ..Detail::default()
    };
    let p = shipped();
    let told = |text: &str| {
        let (bake, places) = demo(text);
        plan(&bake, &places, Anchor::MixAt(18.0), &p, detail).unwrap()
    };
    let plan = told(COLD_BULK);
    let trace = plan.trace.as_ref().unwrap();
    let (bulk, cold, warm) = (
        stage(&plan, "bulk"),
        stage(&plan, "cold"),
        stage(&plan, "warm up"),
    );
    let first = trace.bulk[0];
    assert!((first.dough_c - bulk.dough_start_c.unwrap()).abs() < 1e-9);
    for pair in trace.bulk.windows(2) {
        // 5 min or a little less between two points; the dough neither jumps nor goes back.
        let step = 60.0 * (pair[1].hour - pair[0].hour);
        assert!(step > 4.5 && step < 5.0 + 1e-6, "{step}");
        assert!(pair[1].ripeness >= pair[0].ripeness);
        assert!((pair[1].dough_c - pair[0].dough_c).abs() < 0.5);
    }
    for point in &trace.bulk {
        let room = if point.hour < cold.start_h || point.hour >= cold.end_h {
            22.0
        } else {
            4.0
        };
        assert_eq!(point.room_c, room, "{}", point.hour);
        // Colder and colder in the cold, and warmer again after it.
        let c = point.dough_c;
        if point.hour >= cold.start_h && point.hour <= cold.end_h {
            assert!(c < cold.dough_start_c.unwrap() + 1e-9 && c > cold.dough_end_c.unwrap() - 1e-9);
        }
    }
    let last = trace.bulk.last().unwrap();
    assert!(last.hour == warm.end_h && (last.dough_c - warm.dough_end_c.unwrap()).abs() < 1e-9);

    let night = "[cold]\nstage = \"proof\"\nhours = 9\nroom_c = 4\n";
    let plan = told(&straight(
        "yeast_percent = 0.2",
        "",
        "proof_c = 23",
        night,
        "",
    ));
    let cold = stage(&plan, "cold");
    let points = &plan.trace.as_ref().unwrap().proofs[0];
    assert!((points[0].dough_c - cold.dough_start_c.unwrap()).abs() < 1e-9);
    for point in points {
        let room = if point.hour < cold.end_h { 4.0 } else { 23.0 };
        assert_eq!(point.room_c, room, "{}", point.hour);
    }
    assert!(
        points
            .windows(2)
            .all(|p| (p[1].dough_c - p[0].dough_c).abs() < 2.0)
    );
}

/// A range of a load's ripeness is that at its hour by the clock: a bulk that ends at a share, and one of the
/// minutes that this takes, have the same; only the first has a range of its end.
#[test]
fn ranges_of_loads_are_by_the_clock() {
    let detail = Detail {
        ranges: true,
        ..Detail::default()
    };
    let told = |process: &str| {
        let (bake, places) = demo(&straight(YEAST, "", process, "", "pieces_per_load = 4"));
        plan(&bake, &places, Anchor::MixAt(8.0), &shipped(), detail).unwrap()
    };
    let share = told("bulk_rise = 1.9");
    let bulk = stage(&share, "bulk");
    let minutes = told(&format!(
        "bulk_min = {}",
        60.0 * (bulk.end_h - bulk.start_h)
    ));
    assert!(bulk.end_range_h.is_some() && stage(&minutes, "bulk").end_range_h.is_none());
    assert_eq!(share.loads.len(), 2);
    for (a, b) in share.loads.iter().zip(&minutes.loads) {
        assert!((a.oven_in_h - b.oven_in_h).abs() < 1e-6);
        let (one, other) = (a.ripeness_range.unwrap(), b.ripeness_range.unwrap());
        assert!((one.0 - other.0).abs() < 1e-4 && (one.1 - other.1).abs() < 1e-4);
        assert!((a.past_chance.unwrap() - b.past_chance.unwrap()).abs() < 1e-4);
    }
}

/// Only a dough so large that core and surface differ is told with both; and one that stands in a place as
/// warm as itself is warmed by nothing but its own heat, in which conduction and the plan's own form agree in
/// each part of the bulk.
#[test]
fn a_core_has_the_heat_of_its_own_part_of_the_bulk() {
    let detail = Detail {
        cores: true,
        ..Detail::default()
    };
    let told = |pieces: u32, piece_g: u32| {
        let cold = "[cold]\nstage = \"bulk\"\nhours = 1\nafter_min = 120\nroom_c = 25\n";
        let text = straight(
            "yeast_percent = 0.6",
            "",
            "bulk_rise = 3.0\nbulk_c = 25",
            cold,
            "",
        )
        .replace("pieces = 8", &format!("pieces = {pieces}"))
        .replace("piece_g = 800", &format!("piece_g = {piece_g}"))
        .replace("room_c = 22", "room_c = 25");
        let (bake, places) = demo(&text);
        plan(&bake, &places, Anchor::MixAt(8.0), &shipped(), detail).unwrap()
    };
    assert!(told(1, 2).cores.is_empty());
    let plan = told(40, 800);
    assert!(plan.cores.len() >= 2);
    for core in &plan.cores {
        let lumped = stage(&plan, core.stage).dough_end_c.unwrap();
        assert!(
            (core.mean_c - lumped).abs() < 0.1,
            "{} {}",
            core.mean_c,
            lumped
        );
    }
}

fn with_ranges(text: &str, anchor: Anchor) -> Plan {
    let (bake, places) = demo(text);
    let detail = Detail {
        ranges: true,
        ..Detail::default()
    };
    plan(&bake, &places, anchor, &shipped(), detail).unwrap()
}

/// A record without dates goes by the day of the anchor, or else by that on which the first load is out, just after
/// midnight and before it too.
#[test]
fn a_record_goes_by_the_day_of_the_first_load() {
    let record = Ambient::from_csv(WINTER_ROOM).unwrap();
    let (bake, places) = demo(DEMOS[1].1);
    let p = shipped();
    let detail = Detail {
        trace: true,
        ..Detail::default()
    };
    let mix = |out: f64| {
        let plan = plan(&bake, &places, Anchor::FirstOut(out), &p, Detail::default()).unwrap();
        Anchor::MixAt(stage(&plan, "mix").start_h)
    };
    for (anchor, day) in [
        (Anchor::FirstOut(0.5), 0.0),
        (Anchor::LastOut(0.5), 0.0),
        (mix(0.3), 0.0),
        (mix(22.5), 0.0),
        (Anchor::MixAt(20.0), 1.0),
    ] {
        let plan = plan(&bake, &places, anchor, &p, detail).unwrap();
        if let Anchor::MixAt(_) = anchor {
            assert_eq!((plan.loads[0].oven_out_h / 24.0).floor(), day);
        }
        for point in &plan.trace.unwrap().preferment {
            // Hour 0 of the record is six o'clock on the day before.
            let there = record.at(point.hour - 24.0 * day + 18.0).as_celsius();
            assert!(
                (point.room_c - there).abs() < 1e-9,
                "{anchor:?} {}",
                point.hour
            );
        }
    }
}

/// When a preferment is likely to be ripe: by a factor of the hours since its mix, about as much sooner as later.
#[test]
fn the_range_of_a_preferment_is_about_its_hour() {
    for text in [DEMOS[0].1.to_owned(), straight(YEAST, "", "", POOLISH, "")] {
        let plan = with_ranges(&text, Anchor::FirstOut(9.0));
        let preferment = plan.preferment.as_ref().unwrap();
        let (low, high) = preferment.ripe_range_h.unwrap();
        let [low, ripe, high] = [low, preferment.ripe_h, high].map(|h| h - preferment.mixed_h);
        assert!(
            low < 0.95 * ripe && high > 1.05 * ripe && low > 0.5 * ripe,
            "{low} {ripe} {high}"
        );
        assert!((low * high / (ripe * ripe) - 1.0).abs() < 1e-6);
    }
}

/// The dough decides when its bulk ends, not when its night in the cold does: of a bake whose pieces stand in the
/// cold the bulk has the same range as of one that is baked at once.
#[test]
fn a_night_of_the_pieces_leaves_the_range_of_the_bulk() {
    let night = "[cold]\nstage = \"proof\"\nhours = 9\nroom_c = 4\n";
    let [(low, high), (cold_low, cold_high)] = ["", night].map(|cold| {
        let text = straight("yeast_percent = 0.2", "", "proof_c = 23", cold, "");
        let plan = with_ranges(&text, Anchor::MixAt(18.0));
        stage(&plan, "bulk").end_range_h.unwrap()
    });
    assert!((low - cold_low).abs() < 1e-9 && (high - cold_high).abs() < 1e-9);
}

/// The range of a load's hour, worked out anew: each uncertain parameter is moved up and down by one deviation, the
/// bake is planned with it, and half of what lies between the two is added in squares, and so is the scatter of a single time.
#[test]
fn a_range_is_that_of_plans_with_moved_parameters() {
    use pointage::ferment::{Kind, Uncertain};
    let (bake, places) = demo(&straight(YEAST, "", "", "", ""));
    let p = shipped();
    let mix = 8.0;
    let log_hours = |p: &Parameters| {
        let plan = plan(&bake, &places, Anchor::MixAt(mix), p, Detail::default()).unwrap();
        (plan.loads[0].oven_in_h - mix).ln()
    };
    let moves = [
        Uncertain::Level(Kind::Dough),
        Uncertain::Tilt,
        Uncertain::GrowthRate,
        Uncertain::GrowthCap,
        Uncertain::Lag,
        Uncertain::Kept,
        Uncertain::ProofEnd,
    ]
    .map(|which| {
        let side = |z: f64| log_hours(&p.moved(which, z).unwrap());
        0.5 * (side(1.0) - side(-1.0))
    });
    let of_moves = moves.iter().map(|m| m * m).sum::<f64>().sqrt();
    let sd = of_moves.hypot(p.spread.day);
    let plan = with_ranges(&straight(YEAST, "", "", "", ""), Anchor::MixAt(mix));
    let (low, high) = stage(&plan, "proof").end_range_h.unwrap();
    // 10 to 90 % are 1.2816 deviations to either side, and no proof ends before it begins.
    let width = ((high - mix).ln() - log_hours(&p)) / 1.281_551_6;
    assert!((width / sd - 1.0).abs() < 1e-6, "{width} {sd}");
    let earliest = (log_hours(&p) - 1.281_551_6 * sd).exp() + mix;
    assert!(
        (low - earliest.max(stage(&plan, "proof").start_h)).abs() < 1e-6,
        "{low} {earliest}"
    );
}

/// The chance that a load is past its window goes with the range of its ripeness, which is a normal one of the
/// logarithm: above 1.20.
#[test]
fn the_chance_of_being_past_goes_with_the_range() {
    // Share of a normal distribution above z, by summing its density up to 8 deviations.
    let above = |z: f64| {
        let step = (8.0 - z) / 4000.0;
        let density = |i: u32| (-0.5 * (z + (f64::from(i) + 0.5) * step).powi(2)).exp();
        (0..4000).map(density).sum::<f64>() * step / std::f64::consts::TAU.sqrt()
    };
    let text = straight(
        YEAST,
        "",
        "hold_later_loads = []",
        "",
        "pieces_per_load = 4",
    );
    for bake_min in [20, 40, 60] {
        let text = text.replace("bake_min = 40", &format!("bake_min = {bake_min}"));
        for load in with_ranges(&text, Anchor::MixAt(8.0)).loads {
            let (low, high) = load.ripeness_range.unwrap();
            let sd = 0.5 * (high / low).ln() / 1.281_551_6;
            let middle = 0.5 * (high * low).ln();
            let chance = load.past_chance.unwrap();
            let expected = above((1.2f64.ln() - middle) / sd);
            assert!((chance - expected).abs() < 1e-5, "{chance} {expected}");
        }
    }
}

/// Where a parameter moved one way leaves no plan, the other side alone gives the range: near the limit of its night
/// in the cold a dough is about as sure as one with half the yeast.
#[test]
fn a_range_near_a_limit_is_that_of_one_side() {
    use pointage::ferment::{Kind, Uncertain};
    let p = shipped();
    let anchor = Anchor::MixAt(18.0);
    let factor = |yeast: f64, both: bool| {
        let text = COLD_BULK.replace("yeast_percent = 0.3", &format!("yeast_percent = {yeast}"));
        let (bake, places) = demo(&text);
        let less = p.moved(Uncertain::Level(Kind::Dough), -1.0).unwrap();
        assert_eq!(
            plan(&bake, &places, anchor, &less, Detail::default()).is_ok(),
            both,
            "{yeast}"
        );
        let plan = with_ranges(&text, anchor);
        let bulk = stage(&plan, "warm up");
        (bulk.end_range_h.unwrap().1 - 18.0) / (bulk.end_h - 18.0)
    };
    let (far, near) = (factor(0.2, true), factor(0.35, false));
    assert!(near > 1.1 && near < 1.5 * far, "{far} {near}");
}

/// In a fridge with a fan the surface of a tub is colder than in one without, and conduction agrees with the plan's
/// own form there as in the other.
#[test]
fn a_fan_cools_the_surface_of_a_tub() {
    let detail = Detail {
        cores: true,
        ..Detail::default()
    };
    let surface = |place: &str| {
        let text = COLD_BULK
            .replace(
                "hours = 10",
                &format!("hours = 10\nstands_in = \"{place}\""),
            )
            .replace("yeast_percent = 0.3", "yeast_percent = 0.1");
        let (bake, places) = demo(&text);
        let plan = plan(&bake, &places, Anchor::MixAt(18.0), &shipped(), detail).unwrap();
        let core = plan.cores.iter().find(|c| c.stage == "cold").unwrap();
        let lumped = stage(&plan, "cold").dough_end_c.unwrap();
        // As for the tub with a warm core above.
        assert!(
            (core.mean_c - lumped).abs() < 1.5,
            "{} {lumped}",
            core.mean_c
        );
        core.surface_c
    };
    let (still, fan) = (surface("fridge"), surface("fan-fridge"));
    assert!(fan < still - 0.5, "{still} {fan}");
}

/// What a reason says of a warmer dough is what comes of one that is measured warmer.
#[test]
fn a_reason_is_what_the_measurement_does() {
    let (text, anchor) = (DEMOS[2].1, Anchor::FirstOut(15.0));
    let plan = with_detail(text, anchor);
    let dough = Temperature::celsius(demo(text).0.process.dough.as_celsius() + 1.0).unwrap();
    let hour = stage(&plan, "mix").end_h;
    let warmer = adjusted(text, anchor, &[observed(Checkpoint::Mixed(dough), hour)]);
    for name in ["bulk", "proof"] {
        let minutes = 60.0 * (stage(&warmer.after, name).hours() - stage(&plan, name).hours());
        let said = minutes_of(&plan, name, Change::WarmerDough).unwrap();
        assert!(
            minutes < -0.5 && (said - minutes).abs() < 0.2,
            "{name}: {said} {minutes}"
        );
    }
}

/// A dose that was found for the hours of a bulk is weighed once: ranges and reasons are those of the same dough
/// with this dose written down.
#[test]
fn a_dose_that_was_found_is_as_sure_as_one_that_was_given() {
    let told = |yeast: &str, bulk: &str| {
        with_detail(&straight(yeast, "", bulk, "", ""), Anchor::MixAt(8.0))
    };
    let found = told("", "bulk_h = 3");
    let dose = found.yeast_at_mix.as_percent();
    let given = told(&format!("yeast_percent = {dose}"), "bulk_rise = 2.0");
    for name in ["bulk", "proof"] {
        let (a, b) = (stage(&found, name), stage(&given, name));
        let ((a_low, a_high), (b_low, b_high)) = (a.end_range_h.unwrap(), b.end_range_h.unwrap());
        assert!(
            (a_low - b_low).abs() < 1e-3 && (a_high - b_high).abs() < 1e-3,
            "{name}"
        );
        for change in [
            Change::WarmerDough,
            Change::WarmerRoom,
            Change::MoreYeastAtMix,
        ] {
            let (a, b) = (
                minutes_of(&found, name, change),
                minutes_of(&given, name, change),
            );
            assert_eq!(a.is_some(), b.is_some(), "{name} {change:?}");
            assert!(
                a.zip(b).is_none_or(|(a, b)| (a - b).abs() < 0.05),
                "{a:?} {b:?}"
            );
        }
    }
    let (a, b) = (&found.loads[0], &given.loads[0]);
    assert!((a.past_chance.unwrap() - b.past_chance.unwrap()).abs() < 1e-3);
}

/// What a tenth more yeast does to a bulk is what comes of weighing it.
#[test]
fn a_reason_is_what_more_yeast_does() {
    let with = |yeast: f64| {
        let text = straight(&format!("yeast_percent = {yeast}"), "", "", "", "");
        with_detail(&text, Anchor::MixAt(8.0))
    };
    let (plain, more) = (with(0.4), with(0.44));
    let said = minutes_of(&plain, "bulk", Change::MoreYeastAtMix).unwrap();
    let minutes = 60.0 * (bulk_h(&more) - bulk_h(&plain));
    // The heavier dough of the other bake has a little less flour.
    assert!(minutes < -5.0 && (said - minutes).abs() < 0.1, "{minutes}");
}
