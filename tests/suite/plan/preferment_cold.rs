//! A preferment begun warm and finished in the cold.

use super::*;
use pointage::heat::properties::ThermalProperties;

/// A dough whose poolish has these keys and these of its stay in the cold.
fn chilled(own: &str, cold: &str) -> String {
    let poolish = format!(
        "[preferment]\nkind = \"poolish\"\nflour_percent = 30\n{own}\n[preferment.cold]\n{cold}\n"
    );
    straight("yeast_percent = 0.2", "", "", &poolish, "")
}

fn times(plan: &Plan) -> &pointage::plan::PrefermentTimes {
    plan.preferment.as_ref().unwrap()
}

/// Both moves by the clock: an hour and a half warm, ten hours cold, forty minutes out, whatever the dose.
#[test]
fn the_clock_says_when_it_is_moved_and_used() {
    let cold = "after_min = 90\nhours = 10\nout_min = 40\nroom_c = 4";
    for dose in ["dose_percent = 0.4", "dose_percent = 1.2", ""] {
        for anchor in [
            Anchor::FirstOut(9.0),
            Anchor::MixAt(6.0),
            Anchor::StartAt(-7.0),
        ] {
            let plan = planned(&chilled(dose, cold), anchor);
            let own = times(&plan);
            let (into, out) = own.cold_h.unwrap();
            let from_mix = [into, out, own.used_h].map(|hour| hour - own.mixed_h);
            for (hour, by_hand) in from_mix.into_iter().zip([1.5, 11.5, 11.5 + 40.0 / 60.0]) {
                assert!((hour - by_hand).abs() < 1e-6, "{dose} {anchor:?} {hour}");
            }
            assert!((own.used_h - stage(&plan, "mix").start_h).abs() < 1e-9);
            let moves = plan.hands_on().into_iter();
            let moves = moves.filter_map(|step| match step.task {
                Task::PrefermentIntoCold | Task::PrefermentFromCold => Some(step.start_h),
                _ => None,
            });
            let moves: Vec<f64> = moves.collect();
            assert_eq!(moves, [into, out]);
        }
    }
}

/// Where no dose is given it is found so that the preferment is ripe at its use; less is not, more is past.
#[test]
fn the_dose_is_found_for_the_hours() {
    let cold = "after_min = 60\nhours = 12\nout_min = 60\nroom_c = 5";
    let found = planned(&chilled("", cold), Anchor::MixAt(6.0));
    assert!((times(&found).ripe_h - times(&found).used_h).abs() < 1.0 / 3600.0);
    assert!(!has!(found.warnings, Finding::PrefermentOffWindow { .. }));
    let dose = times(&found).dose.as_percent();
    let with = |times: f64| {
        let own = format!("dose_percent = {}", dose * times);
        let plan = planned(&chilled(&own, cold), Anchor::MixAt(6.0));
        find!(plan.warnings, Finding::PrefermentOffWindow { early_h } => *early_h)
    };
    assert!(with(0.5).unwrap() > 0.0);
    assert!(with(3.0).unwrap() < 0.0);
    assert_eq!(with(1.0), None);
    // The same hours said in one number.
    let in_all = chilled(
        "ripe_after_h = 14",
        "after_min = 60\nhours = 12\nroom_c = 5",
    );
    the_same(&planned(&in_all, Anchor::MixAt(6.0)), &found);
}

/// A cold place as warm as the room is no other place; the colder it is, the longer the same poolish takes.
#[test]
fn the_cold_slows_it_by_what_it_cools() {
    let hours = |cold: &str| {
        let plan = planned(&chilled("dose_percent = 0.3", cold), Anchor::MixAt(6.0));
        let own = times(&plan);
        assert!((own.ripe_h - own.used_h).abs() < 1e-6);
        own.used_h - own.mixed_h
    };
    let at = |c: f64| {
        hours(&format!(
            "after_min = 120\nhours = 3\nroom_c = {c}\nstands_in = \"still-room\""
        ))
    };
    let poolish = "[preferment]\nkind = \"poolish\"\nflour_percent = 30\ndose_percent = 0.3\n";
    let plain = planned(
        &straight("yeast_percent = 0.2", "", "", poolish, ""),
        Anchor::MixAt(6.0),
    );
    let plain = used(&plain) - times(&plain).mixed_h;
    assert!((at(22.0) - plain).abs() < 1e-6);
    assert!(plain < at(14.0) && at(14.0) < at(4.0));
    // It loses no more than the time in the cold and what it takes to warm up again.
    assert!(at(4.0) < plain + 3.0 + 4.0);
    // A fan takes the warmth away sooner.
    let fan = hours("after_min = 120\nhours = 3\nroom_c = 4\nstands_in = \"fan-fridge\"");
    assert!(fan > at(4.0));
}

/// The water makes up for the cold preferment: by the balance m c dT of the one is that of the other.
#[test]
fn the_water_meets_the_preferment_as_cold_as_it_is() {
    let c = ThermalProperties::shipped().unwrap();
    let [out, straight] = [180, 0].map(|out| {
        let cold = format!("after_min = 60\nhours = 8\nout_min = {out}\nroom_c = 4");
        planned(&chilled("dose_percent = 0.5", &cold), Anchor::MixAt(6.0))
    });
    let preferment_c = |plan: &Plan| stage(plan, "preferment").dough_end_c.unwrap();
    let water_c = |plan: &Plan| plan.water.balance.unwrap().water.as_celsius();
    let colder = preferment_c(&out) - preferment_c(&straight);
    assert!(colder > 3.0, "{colder}");
    // 30 parts of flour and 30 of water; 38 of water are left for the mix.
    let (flour, water) = (c.c_flour_kj_per_kg_k, c.c_water_kj_per_kg_k);
    let by_hand = colder * 30.0 * (flour + water) / (38.0 * water);
    let warmer = water_c(&straight) - water_c(&out);
    assert!((warmer / by_hand - 1.0).abs() < 0.02, "{warmer} {by_hand}");
}

/// Put in at once and used straight from there: no step of its own takes it out, and thirty hours make it as cold as the place.
#[test]
fn straight_from_the_cold_there_is_one_move() {
    let cold = "hours = 30\nout_min = 0\nroom_c = 4";
    let plan = planned(&chilled("dose_percent = 0.1", cold), Anchor::MixAt(6.0));
    let own = times(&plan);
    assert_eq!(own.cold_h, Some((own.mixed_h, own.used_h)));
    assert!(
        plan.hands_on()
            .iter()
            .all(|step| step.task != Task::PrefermentFromCold)
    );
    let end_c = stage(&plan, "preferment").dough_end_c.unwrap();
    assert!((4.0..4.5).contains(&end_c), "{end_c}");
}

/// A preferment that is ripe when it was planned to be changes nothing; ripe an hour sooner, while it is still in the cold,
/// it stays there. Its range covers its hour, and every room of a bake is asked for.
#[test]
fn a_day_under_way_knows_of_the_cold() {
    let text = chilled(
        "",
        "after_min = 60\nhours = 12\nout_min = 30\nroom_record = \"winter-room.csv\"\nroom_record_from = \"12:00\"",
    );
    let bake = Bake::from_toml(&text).unwrap();
    assert_eq!(bake.rooms().count(), 2);
    let text = text.replace(
        "room_record = \"winter-room.csv\"\nroom_record_from = \"12:00\"",
        "room_c = 6",
    );
    let (bake, places) = demo(&text);
    let p = shipped();
    let detail = Detail {
        ranges: true,
        ..Detail::default()
    };
    let planned = plan(&bake, &places, Anchor::MixAt(6.0), &p, detail).unwrap();
    let (low, high) = times(&planned).ripe_range_h.unwrap();
    assert!(low < times(&planned).used_h && times(&planned).used_h < high);
    let seen = |what, at| {
        adjust(
            &bake,
            &places,
            Anchor::MixAt(6.0),
            &p,
            &[Measured { what, at }],
        )
        .unwrap()
    };
    let on_time = seen(Checkpoint::PrefermentRipe, used(&planned));
    assert!((used(&on_time.after) - used(&planned)).abs() < 1e-6);
    let soon = seen(Checkpoint::PrefermentRipe, used(&planned) - 1.0);
    let held = find!(soon.advice, Finding::HoldPreferment { cold_c, as_planned, .. } => (*cold_c, *as_planned));
    assert_eq!(held, Some((None, true)));
}

/// What was forecast of a preferment is not said any more once it was seen to be ripe.
#[test]
fn a_ripe_preferment_is_not_called_unripe() {
    let text = chilled(
        "dose_percent = 0.4",
        "after_min = 60\nhours = 10\nout_min = 60\nroom_c = 4",
    );
    let (bake, places) = demo(&text);
    let (p, anchor) = (shipped(), Anchor::MixAt(6.0));
    let seen = |what, at| {
        let adjusted = adjust(&bake, &places, anchor, &p, &[Measured { what, at }]).unwrap();
        let said = |plan: &Plan| has!(plan.warnings, Finding::PrefermentOffWindow { .. });
        (said(&adjusted.before), said(&adjusted.after))
    };
    assert_eq!(seen(Checkpoint::PrefermentRipe, 5.5), (true, false));
    let warm = Checkpoint::Mixed(Temperature::celsius(26.0).unwrap());
    assert!(seen(warm, 6.2).0);
}

#[test]
fn what_contradicts_a_stay_in_the_cold_is_refused() {
    for (own, cold, why) in [
        (
            "ripe_after_h = 10",
            "hours = 9\nout_min = 30\nroom_c = 4",
            "out_min",
        ),
        (
            "ripe_after_h = 10",
            "hours = 9.5\nafter_min = 60\nroom_c = 4",
            "lengthen it",
        ),
        ("", "hours = 9\nroom_c = 4", "dose_percent"),
        (
            "dose_percent = 0.1",
            "hours = 9",
            "[preferment.cold]: missing how cold",
        ),
        (
            "dose_percent = 0.1",
            "stage = \"bulk\"\nhours = 9\nroom_c = 4",
            "belongs in [cold]",
        ),
        (
            "dose_percent = 0.1\ncold_c = 4",
            "hours = 9\nroom_c = 4",
            "[preferment.cold]",
        ),
    ] {
        let error = Bake::from_toml(&chilled(own, cold))
            .unwrap_err()
            .to_string();
        assert!(error.contains(why), "{error}");
    }
}
