//! Plans that meet the dough: measurements and what follows from them.

use super::*;

/// A measurement equal to the forecast leaves every hour as it was, to 1 s; measuring twice is measuring
/// once with both; a warmer dough, up to 30 °C, never ends its bulk later.
#[test]
fn measurements_adjust_the_rest_and_only_that() {
    let p = shipped();
    for (name, text) in DEMOS {
        let (bake, places) = demo(text);
        let anchor = Anchor::FirstOut(9.0);
        let plain = plan(&bake, &places, anchor, &p, Detail::default()).unwrap();
        let mixed = stage(&plain, "mix").end_h;
        let as_planned = observed(Checkpoint::Mixed(bake.process.dough), mixed);
        let mut same = vec![as_planned];
        if let Some(preferment) = &plain.preferment {
            same.push(observed(Checkpoint::PrefermentRipe, preferment.used_h));
        }
        let now = adjust(&bake, &places, anchor, &p, &same).unwrap();
        for (a, b) in plain.stages.iter().zip(&now.after.stages) {
            let miss = (a.start_h - b.start_h).abs().max((a.end_h - b.end_h).abs()) * 3600.0;
            assert!(miss < 1.0, "{name} {}: {miss} s", a.name);
        }
        for (a, b) in plain.loads.iter().zip(&now.after.loads) {
            assert!(
                (a.oven_in_h - b.oven_in_h).abs() * 3600.0 < 1.0,
                "{name} load {}",
                a.number
            );
        }
        // Warmer is never later.
        let mut last = f64::MAX;
        for warmer in [-2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0] {
            let dough = Temperature::celsius(bake.process.dough.as_celsius() + warmer).unwrap();
            let one = adjust(
                &bake,
                &places,
                anchor,
                &p,
                &[observed(Checkpoint::Mixed(dough), mixed)],
            )
            .unwrap();
            let end = stage(&one.after, "divide").start_h;
            assert!(
                end < last,
                "{name}: {warmer} K warmer ends at {end}, not before {last}"
            );
            last = end;
        }
        // A rise and a temperature, in either order.
        let hour = mixed + 0.5 * (stage(&plain, "divide").start_h - mixed);
        let dough = Temperature::celsius(bake.process.dough.as_celsius() + 1.5).unwrap();
        let both = [
            observed(Checkpoint::Mixed(dough), mixed),
            observed(Checkpoint::BulkRise(1.4), hour),
        ];
        let there = adjust(&bake, &places, anchor, &p, &both).unwrap();
        let back = adjust(&bake, &places, anchor, &p, &[both[1], both[0]]).unwrap();
        let twice = adjust(&bake, &places, anchor, &p, &[both[0], both[1], both[1]]).unwrap();
        assert_eq!(there.after, back.after, "{name}");
        for (a, b) in there.after.loads.iter().zip(&twice.after.loads) {
            assert!((a.oven_in_h - b.oven_in_h).abs() * 3600.0 < 1.0, "{name}");
        }
    }
}

/// Not ripe before its window opens, and past after it has closed, is what was forecast.
#[test]
fn a_preferment_seen_as_forecast_stays_as_forecast() {
    let p = shipped();
    let (bake, places) = demo(DEMOS[0].1);
    let anchor = Anchor::FirstOut(7.5);
    let plain = plan(&bake, &places, anchor, &p, Detail::default()).unwrap();
    let preferment = plain.preferment.as_ref().unwrap();
    let open = preferment.window_open_h;
    for hour in [open - 2.0, open - 1.0, open - 0.01] {
        let seen = [observed(Checkpoint::PrefermentUnripe, hour)];
        let now = adjust(&bake, &places, anchor, &p, &seen).unwrap();
        the_same(&now.after, &plain);
    }
    // Later than that it is slower than forecast, the more so the later it is seen.
    let mut last = used(&plain) - 1.0 / 3600.0;
    for hour in [open + 0.01, open + 0.5, open + 1.0, open + 2.0] {
        let seen = [observed(Checkpoint::PrefermentUnripe, hour)];
        let now = adjust(&bake, &places, anchor, &p, &seen).unwrap();
        assert!(used(&now.after) > last, "{hour}");
        last = used(&now.after);
    }
    // Past its best later than forecast: used then, no less ripe, so the dough is no slower.
    let close = preferment.window_close_h.unwrap();
    let bulk = |hour: f64| {
        let seen = [observed(Checkpoint::PrefermentPast, hour)];
        let now = adjust(&bake, &places, anchor, &p, &seen).unwrap();
        assert!((used(&now.after) - hour).abs() < 1e-9);
        stage(&now.after, "divide").start_h - stage(&now.after, "mix").end_h
    };
    let lengths = [close, close + 0.5, close + 1.0].map(bulk);
    assert!(
        lengths[0] > lengths[1] && lengths[1] > lengths[2],
        "{lengths:?}"
    );
}

/// A dough that is mixed and too warm for its night comes out of the cold when it is done.
#[test]
fn a_warm_dough_comes_out_of_the_cold_when_it_is_done() {
    let p = shipped();
    let (bake, places) = demo(COLD_BULK);
    let anchor = Anchor::FirstOut(7.0);
    let plain = plan(&bake, &places, anchor, &p, Detail::default()).unwrap();
    let hour = stage(&plain, "mix").end_h;
    let planned = stage(&plain, "cold").end_h;
    let mut last = f64::MAX;
    for dough in [24.0, 25.0, 26.0, 27.0, 28.0, 29.0, 30.0] {
        let dough = Temperature::celsius(dough).unwrap();
        let seen = [observed(Checkpoint::Mixed(dough), hour)];
        let now = adjust(&bake, &places, anchor, &p, &seen).unwrap();
        let divide = stage(&now.after, "divide").start_h;
        assert!(divide < last, "{dough:?}");
        last = divide;
        assert_eq!(now.out_of_cold_h.is_some(), divide < planned - 1e-9);
        assert!(now.out_of_cold_h.is_none_or(|h| h == divide));
    }
    assert!(last < planned - 1.0);
    // Planned from scratch, such a dough is still refused.
    let warm = COLD_BULK.replace("dough_c = 25", "dough_c = 29");
    let (bake, places) = demo(&warm);
    let refused = plan(&bake, &places, Anchor::FirstOut(7.0), &p, Detail::default()).unwrap_err();
    assert!(refused.is_unreachable(), "{refused}");
}

/// What cannot have been seen in this order is refused; of one thing the last reading counts.
#[test]
fn readings_that_contradict_each_other_are_refused() {
    let p = shipped();
    let (bake, places) = demo(DEMOS[0].1);
    let anchor = Anchor::FirstOut(7.5);
    let plain = plan(&bake, &places, anchor, &p, Detail::default()).unwrap();
    let (ready, mixed) = (used(&plain), stage(&plain, "mix").end_h);
    let adjusted = |seen: &[Measured]| adjust(&bake, &places, anchor, &p, seen);
    let dough = bake.process.dough;
    let mix = observed(Checkpoint::Mixed(dough), mixed);
    let ripe = |hour| observed(Checkpoint::PrefermentRipe, hour);
    let unripe = |hour| observed(Checkpoint::PrefermentUnripe, hour);
    let rise = |ratio, hour| observed(Checkpoint::BulkRise(ratio), hour);
    for seen in [
        [mix, ripe(mixed + 0.25)],
        [ripe(ready), unripe(ready + 0.5)],
        [
            observed(Checkpoint::PrefermentPast, ready),
            ripe(ready + 0.5),
        ],
        [rise(1.4, mixed - 0.5), mix],
    ] {
        let refused = adjusted(&seen).unwrap_err().to_string();
        assert!(refused.contains("cannot come before"), "{refused}");
    }
    for (first, last) in [
        (unripe(ready), ripe(ready + 0.5)),
        (rise(1.3, mixed + 0.75), rise(1.6, mixed + 1.25)),
    ] {
        assert_eq!(adjusted(&[first, last]), adjusted(&[last]));
    }
}

/// A bulk that was to take three hours takes less when the dough comes off the mixer warmer, and three hours
/// when it is as warm as planned: once mixed, the dough decides.
#[test]
fn a_bulk_of_so_many_hours_follows_a_warmer_dough() {
    let (bake, places) = demo(&straight("", "", "bulk_h = 3", "", ""));
    let p = shipped();
    let mixed = |k: f64| {
        let dough = Temperature::celsius(25.0 + k).unwrap();
        let hour = 8.0 + 10.0 / 60.0;
        let seen = [observed(Checkpoint::Mixed(dough), hour)];
        let now = adjust(&bake, &places, Anchor::MixAt(8.0), &p, &seen).unwrap();
        stage(&now.after, "divide").start_h - stage(&now.after, "mix").end_h
    };
    assert!((mixed(0.0) - 3.0).abs() < 1.0 / 60.0, "{}", mixed(0.0));
    assert!(
        mixed(2.0) < 2.8 && mixed(-2.0) > 3.2,
        "{} {}",
        mixed(2.0),
        mixed(-2.0)
    );
}

/// A time of day is taken for the day on which its event is expected: a rise in the middle of the bulk, the
/// mix at its end, the preferment at its use.
#[test]
fn a_reading_is_expected_when_its_event_is() {
    use pointage::units::ClockTime;
    let plan = planned(DEMOS[0].1, Anchor::FirstOut(9.0));
    let expected = |text: &str| {
        let asked = std::cell::Cell::new(f64::NAN);
        let reading: Measured<ClockTime> = text.parse().unwrap();
        let near = |_, hour: f64| {
            asked.set(hour);
            Ok::<_, pointage::Error>(hour)
        };
        reading.on(&plan, near).unwrap();
        asked.get()
    };
    let (mixed, divided) = (stage(&plan, "mix").end_h, stage(&plan, "divide").start_h);
    let middle = mixed + (divided - mixed) / 2.0;
    assert!((expected("bulk 1.6x 06:00") - middle).abs() < 1e-9);
    assert!((expected("mix 25C 06:00") - mixed).abs() < 1e-9);
    assert!((expected("preferment past 06:00") - used(&plan)).abs() < 1e-9);
}

/// A measurement belongs to a plan from a day before its start to a day after its last load is in, whatever day of
/// the clock that is.
#[test]
fn a_measurement_is_of_the_days_of_its_plan() {
    let (bake, places) = demo(&straight(YEAST, "", "", "", ""));
    let p = shipped();
    let anchor = Anchor::MixAt(40.0);
    let plain = plan(&bake, &places, anchor, &p, Detail::default()).unwrap();
    let mixed = |hour: f64| {
        let dough = bake.process.dough;
        adjust(
            &bake,
            &places,
            anchor,
            &p,
            &[observed(Checkpoint::Mixed(dough), hour)],
        )
    };
    the_same(&mixed(stage(&plain, "mix").end_h).unwrap().after, &plain);
    for hour in [40.0 - 24.1, plain.loads[0].oven_in_h + 24.1] {
        let refused = mixed(hour).unwrap_err().to_string();
        assert!(refused.contains("hour of the measurement"), "{refused}");
    }
}

/// A preferment that is used later than planned is riper, and the dough works faster; one that is used sooner
/// makes it slower. It is used when the dough is begun.
#[test]
fn a_mix_at_another_hour_has_another_preferment() {
    let (bake, places) = demo(&straight("yeast_percent = 0", "", "", POOLISH, ""));
    let (p, anchor) = (shipped(), Anchor::MixAt(8.0));
    let plain = plan(&bake, &places, anchor, &p, Detail::default()).unwrap();
    let bulk = |late: f64| {
        let (dough, hour) = (bake.process.dough, stage(&plain, "mix").end_h + late);
        let now = adjust(
            &bake,
            &places,
            anchor,
            &p,
            &[observed(Checkpoint::Mixed(dough), hour)],
        )
        .unwrap();
        assert!((used(&now.after) - stage(&now.after, "mix").start_h).abs() < 1e-9);
        assert!((used(&now.after) - used(&plain) - late).abs() < 1e-6);
        bulk_h(&now.after)
    };
    let (sooner, later) = (bulk(-2.0), bulk(2.0));
    assert!((bulk(0.0) - bulk_h(&plain)).abs() < 1e-6);
    // By more than a quarter of an hour for two.
    let plain = bulk_h(&plain);
    assert!(
        sooner > plain + 0.25 && later < plain - 0.25,
        "{sooner} {later}"
    );
}

/// Doubled is the same in plan and jar: a dough that has doubled when the plan divides it is as fast as planned, to 1 %.
#[test]
fn a_dough_that_doubles_when_it_should_is_on_plan() {
    let anchor = Anchor::MixAt(8.0);
    for preferment in ["", POOLISH] {
        let text = straight(YEAST, "", "bulk_rise = 2.0", preferment, "");
        let hour = stage(&planned(&text, anchor), "bulk").end_h;
        let seen = [observed(Checkpoint::BulkRise(2.0), hour)];
        let now = adjusted(&text, anchor, &seen);
        let speed = find!(now.changes, Finding::DoughSpeed { speed_percent, .. } => *speed_percent);
        assert!((speed.unwrap() - 100.0).abs() < 1.0, "{speed:?}");
    }
}

/// A jar that shows no rise yet tells nothing of the speed.
#[test]
fn a_rise_too_small_to_read_waits_for_a_better_one() {
    let text = published_market();
    let plain = planned(&text, Anchor::FirstOut(7.5));
    let hour = stage(&plain, "mix").end_h + 0.25;
    for ratio in [1.0, 1.01, 1.05] {
        let seen = [observed(Checkpoint::BulkRise(ratio), hour)];
        let now = adjusted(&text, Anchor::FirstOut(7.5), &seen);
        the_same(&now.after, &plain);
        assert!(
            matches!(now.changes[..], [Finding::RiseTooSmall { .. }]),
            "{ratio}"
        );
        assert!(
            matches!(now.advice[0], Finding::MeasureAgain { .. }),
            "{ratio}"
        );
    }
}

/// A dough that came off the mixer too cold keeps the oven's hour in a warmer place, one too warm in the cold: the first
/// load enters when it was planned to, in its window, and a change of a degree does not move the morning.
#[test]
fn the_hour_of_the_oven_can_be_kept() {
    let (text, anchor) = (DEMOS[0].1, Anchor::FirstOut(7.5));
    let plain = planned(text, anchor);
    let hour = stage(&plain, "mix").end_h;
    for (warmer, cools) in [(-3.0, false), (-1.5, false), (1.5, true), (3.0, true)] {
        let dough = demo(text).0.process.dough.as_celsius() + warmer;
        let dough = Temperature::celsius(dough).unwrap();
        let now = adjusted(text, anchor, &[observed(Checkpoint::Mixed(dough), hour)]);
        let kept = now.kept.unwrap();
        assert!((kept.plan.loads[0].oven_in_h - plain.loads[0].oven_in_h).abs() < 1e-6);
        assert!(kept.plan.loads.iter().all(|load| load.in_window));
        let (chills, warms) = (
            has!(kept.ways, Finding::Chill { .. }),
            has!(kept.ways, Finding::ChangePlace { .. }),
        );
        let waits = has!(kept.ways, Finding::BakeAt { .. });
        assert!(
            waits || (chills == cools && warms != cools),
            "{:?}",
            kept.ways
        );
        // The other way moves it, sooner where the dough is warm.
        let moved = now.after.loads[0].oven_in_h - plain.loads[0].oven_in_h;
        assert!(moved * warmer < 0.0 && moved.abs() > 0.05, "{moved}");
    }
}

/// A preferment that is ripe three hours early is put in the cold and used when it was planned to: the oven stays where
/// it was. Ripe a little early, it is left where it is.
#[test]
fn an_early_preferment_waits_for_its_hour() {
    let (text, anchor) = (DEMOS[0].1, Anchor::FirstOut(7.5));
    let plain = planned(text, anchor);
    for (early, cold) in [(0.3, false), (3.0, true)] {
        let hour = used(&plain) - early;
        let now = adjusted(text, anchor, &[observed(Checkpoint::PrefermentRipe, hour)]);
        let Some(Finding::HoldPreferment {
            until_h,
            good_until_h,
            cold_c,
            as_planned,
        }) = now.now
        else {
            panic!("{:?}", now.now)
        };
        assert!(as_planned && (until_h - used(&plain)).abs() < 1e-9);
        assert_eq!(cold_c.is_some(), cold);
        assert!(good_until_h.is_none_or(|good| good > hour && (cold || good >= until_h)));
        let moved = now.after.loads[0].oven_in_h - plain.loads[0].oven_in_h;
        assert!(moved.abs() < 0.5, "{moved}");
        // A cold preferment takes warmer water, or the dough is wanted a little cooler.
        let cooler = now
            .kept
            .is_some_and(|kept| has!(kept.ways, Finding::ChangeDough { .. }));
        assert_eq!(cooler || has!(now.advice, Finding::PourNow { .. }), cold);
    }
}

/// A proof at the end of the plan's own forecast changes nothing; one further along than forecast is baked sooner, and
/// never before it was seen.
#[test]
fn a_proof_can_be_reported() {
    let (text, anchor) = (published_market(), Anchor::FirstOut(7.5));
    let text = text.as_str();
    let plain = planned(text, anchor);
    let proof = stage(&plain, "proof");
    let seen = |dent: Dent, hour: f64| {
        let what = Checkpoint::ProofDent(dent);
        adjusted(text, anchor, &[observed(what, hour)])
    };
    let same = seen(Dent::GoneSlowly, proof.end_h - 1.0 / 60.0);
    the_same(&same.after, &plain);
    assert!(
        same.advice.is_empty() && same.kept.is_none(),
        "{:?}",
        same.advice
    );
    let middle = 0.5 * (proof.start_h + proof.end_h);
    for (dent, sooner) in [(Dent::GoneSlowly, true), (Dent::Stays, true)] {
        let now = seen(dent, middle);
        let load = &now.after.loads[0];
        assert_eq!(load.oven_in_h < plain.loads[0].oven_in_h - 0.05, sooner);
        assert!(load.oven_in_h >= middle - 1e-9);
    }
    let slow = seen(Dent::GoneAtOnce, proof.end_h);
    assert!(slow.after.loads[0].oven_in_h > plain.loads[0].oven_in_h + 0.1);
    // What the jar shows is worked out by hand: V/V0 of the shaped piece and of the end of the proof, both against the
    // dough off the mixer.
    let shaped = stage(&plain, "shape").rise.unwrap();
    assert!(stage(&plain, "proof").rise.unwrap() > 1.0 && shaped > 1.0);
    let now = adjusted(
        text,
        anchor,
        &[observed(Checkpoint::ProofRise(1.3), middle)],
    );
    let share = find!(now.changes, Finding::ProofSeen { share, .. } => *share).unwrap();
    assert!(share > 0.0 && share < 1.5, "{share}");
    // The readings of a proof before it has begun are refused.
    let (bake, places) = demo(text);
    let early = [observed(
        Checkpoint::ProofDent(Dent::Stays),
        proof.start_h - 1.0,
    )];
    let refused = adjust(&bake, &places, anchor, &shipped(), &early).unwrap_err();
    assert!(refused.to_string().contains("has not begun"), "{refused}");
}

/// A preferment past its best comes with numbers: how long the bulk takes now, and how much less to use.
#[test]
fn a_preferment_past_its_best_comes_with_numbers() {
    let (text, anchor) = (DEMOS[0].1, Anchor::FirstOut(7.5));
    let plain = planned(text, anchor);
    let hour = plain.preferment.as_ref().unwrap().window_close_h.unwrap() + 0.5;
    let now = adjusted(text, anchor, &[observed(Checkpoint::PrefermentPast, hour)]);
    let Finding::UsePrefermentNow {
        bulk_min,
        planned_min,
    } = now.advice[0]
    else {
        panic!("{:?}", now.advice)
    };
    assert!((bulk_min - 60.0 * bulk_h(&now.after)).abs() < 1e-6);
    assert!((planned_min - 60.0 * bulk_h(&plain)).abs() < 1e-6);
    // What is left out is made up for in kind, flour and water alike in a poolish, and is that share of the whole.
    let Finding::UseLessPreferment {
        less_g,
        less_percent,
        flour_g,
        water_g,
    } = now.advice[1]
    else {
        panic!("{:?}", now.advice)
    };
    let all = now
        .after
        .batch
        .stage_mass(pointage::formula::MixStage::Preferment)
        .as_grams();
    assert!(less_percent > 1.0 && (less_g / all - less_percent / 100.0).abs() < 1e-9);
    assert!((flour_g - water_g).abs() < 1e-6 && (flour_g + water_g - less_g).abs() < 1e-6);
}

/// A dough off the mixer too warm or too cold has another water the next time, as far as tap and ice can give it; one
/// that is late, but as warm as planned, has none.
#[test]
fn the_next_water_goes_by_what_was_wrong() {
    let (text, anchor) = (DEMOS[2].1, Anchor::FirstOut(15.0));
    let plain = planned(text, anchor);
    let mixed = stage(&plain, "mix").end_h;
    let wanted = demo(text).0.process.dough.as_celsius();
    for (c, late) in [
        (2.0, 0.0),
        (-2.0, 0.0),
        (0.0, 0.5),
        (0.0, -0.5),
        (2.0, -0.1),
        (13.0, 0.0),
    ] {
        let dough = Temperature::celsius(wanted + c).unwrap();
        let now = adjusted(
            text,
            anchor,
            &[observed(Checkpoint::Mixed(dough), mixed + late)],
        );
        let Finding::DoughOffMixer { warmer_c } = now.changes[0] else {
            panic!("{:?}", now.changes)
        };
        assert!((warmer_c - c).abs() < 1e-9);
        assert_eq!(now.next_time.is_some(), c != 0.0);
        let Some(Finding::WaterNextTime {
            warmer_c,
            water_c,
            ice_g,
            dough_c,
            reaches_c,
        }) = now.next_time
        else {
            continue;
        };
        assert!(warmer_c * c < 0.0 && (dough_c - wanted).abs() < 1e-9);
        // The water is only a part of the dough.
        let enough = (reaches_c - dough_c).abs() < 1e-9;
        assert!(!enough || warmer_c.abs() > c.abs(), "{warmer_c}");
        // No more than three tenths of the water is ice, and no water is above 43 °C.
        let water_g = plain.water.water.as_grams();
        assert!(ice_g <= 0.3 * water_g + 1e-6 && water_c <= 43.0 + 1e-9);
        assert_eq!(enough, c < 13.0, "{c}: {reaches_c}");
    }
}

/// A preferment used later than forecast is said to be, by as much.
#[test]
fn a_late_preferment_is_said_to_be_late() {
    let (text, anchor) = (DEMOS[0].1, Anchor::FirstOut(7.5));
    let plain = planned(text, anchor);
    for by in [0.5, -0.25, 0.0] {
        let hour = used(&plain) + by;
        let now = adjusted(text, anchor, &[observed(Checkpoint::PrefermentRipe, hour)]);
        let Finding::PrefermentRipe { later_min } = now.changes[0] else {
            panic!("{:?}", now.changes)
        };
        assert!((later_min - 60.0 * by).abs() < 1e-6);
    }
}

/// Where the first load enters sooner for the sake of the last, it still does when all is measured as forecast; and
/// no load is said to be outside its window.
#[test]
fn a_first_load_that_enters_sooner_does_so_after_a_measurement() {
    let process = "hold_later_loads = []";
    let text = straight(YEAST, "", process, "", "pieces_per_load = 8")
        .replace("pieces = 8", "pieces = 16");
    let anchor = Anchor::MixAt(8.0);
    let plain = planned(&text, anchor);
    assert!(plain.problem.is_none() && plain.loads[0].ripeness < 0.96);
    let (dough, hour) = (
        Temperature::celsius(25.0).unwrap(),
        stage(&plain, "mix").end_h,
    );
    let seen = [observed(Checkpoint::Mixed(dough), hour)];
    let now = adjusted(&text, anchor, &seen);
    the_same(&now.after, &plain);
    assert!(now.after.problem.is_none());
    // Where the second load is past its window anyway, its number says so.
    let late = text.replace("bake_min = 40", "bake_min = 120");
    let now = adjusted(&late, anchor, &seen);
    let nearest = now.after.problem.unwrap().nearest;
    assert_eq!(
        nearest,
        [Finding::HoldLoads {
            loads: vec![2],
            shaped: false
        }]
    );
}

/// A preferment that is not ripe is waited for, as long as is said.
#[test]
fn a_preferment_is_waited_for_as_long_as_is_said() {
    let (text, anchor) = (DEMOS[0].1, Anchor::FirstOut(7.5));
    let hour = used(&planned(text, anchor));
    let now = adjusted(
        text,
        anchor,
        &[observed(Checkpoint::PrefermentUnripe, hour)],
    );
    let wait = 60.0 * (used(&now.after) - hour);
    let said = find!(now.advice, Finding::WaitForPreferment { wait_min } => *wait_min).unwrap();
    assert!(wait > 5.0 && (wait - said).abs() < 1e-6, "{wait} {said}");
}

/// A strong preferment is past its best before any yeast has grown, in less than the lag of 2.8 h: less of it would
/// only bring less than was planned, and is not advised.
#[test]
fn less_is_advised_only_of_a_preferment_that_has_grown() {
    let less = |dose: f64| {
        let preferment = POOLISH.replace(
            "dose_percent = 0.1",
            &format!("dose_percent = {dose}\ndough_c = 27"),
        );
        let text = straight(YEAST, "yeast = \"fresh\"", "", &preferment, "");
        let anchor = Anchor::MixAt(8.0);
        let plain = planned(&text, anchor);
        let preferment = plain.preferment.as_ref().unwrap();
        let hour = preferment.window_close_h.unwrap() + 0.05;
        let now = adjusted(&text, anchor, &[observed(Checkpoint::PrefermentPast, hour)]);
        let told = has!(now.advice, Finding::UseLessPreferment { .. });
        (hour - preferment.mixed_h, told)
    };
    let (hours, told) = less(10.0);
    assert!(hours < 2.0 && !told, "{hours}");
    let (hours, told) = less(0.3);
    assert!(hours > 5.0 && told, "{hours}");
}

/// A bulk of fixed minutes keeps them whatever its preferment is like, past its best or behind: yeast is not added
/// for their sake.
#[test]
fn no_yeast_is_added_to_a_bulk_by_the_clock() {
    let anchor = Anchor::MixAt(8.0);
    let text = straight("yeast_percent = 0", "", "bulk_min = 90", POOLISH, "");
    let plain = planned(&text, anchor);
    let hour = plain.preferment.as_ref().unwrap().window_close_h.unwrap() + 0.5;
    let now = adjusted(&text, anchor, &[observed(Checkpoint::PrefermentPast, hour)]);
    assert!(has!(now.advice, Finding::UsePrefermentNow { .. }));
    assert!(!has!(now.advice, Finding::AddYeast { .. }));
    for (process, advised) in [("", 1), ("bulk_min = 90", 0)] {
        let text = straight("yeast_percent = 0.3", "", process, POOLISH, "");
        let open_h = planned(&text, anchor).preferment.unwrap().window_open_h;
        let unripe = observed(Checkpoint::PrefermentUnripe, open_h + 0.1);
        let now = adjusted(&text, anchor, &[unripe]);
        let yeast = |a: &&Finding| matches!(a, Finding::AddYeast { .. });
        assert_eq!(
            now.advice.iter().filter(yeast).count(),
            advised,
            "{:?}",
            now.advice
        );
    }
}

/// Old flour has little sugar left: where much of the flour was in a preferment that stood for long, the bulk takes
/// longer though there is more yeast, and yeast to add at the mix is told; a fresher one needs none.
#[test]
fn yeast_is_advised_for_a_spent_preferment() {
    let preferment = "[preferment]\nkind = \"biga\"\nflour_percent = 40\nhydration_percent = 60\ndose_percent = 0.5\n";
    let fresh = "yeast = \"fresh\"";
    let text = straight("yeast_percent = 0.3", fresh, "", preferment, "");
    let anchor = Anchor::MixAt(8.0);
    let plain = planned(&text, anchor);
    let closed = plain.preferment.as_ref().unwrap().window_close_h.unwrap();
    for (after, longer) in [(0.1, false), (20.0, true)] {
        let hour = closed + after;
        let now = adjusted(&text, anchor, &[observed(Checkpoint::PrefermentPast, hour)]);
        assert_eq!(bulk_h(&now.after) > bulk_h(&plain), longer, "{after}");
        let keeps = find!(now.advice, Finding::AddYeast { bulk_min, .. } => *bulk_min);
        assert_eq!(keeps.is_some(), longer, "{:?}", now.advice);
        assert!(keeps.is_none_or(|min| (min - 60.0 * bulk_h(&plain)).abs() < 1e-6));
    }
}

/// A dough that is done before its night is over comes out of the cold so many minutes sooner; one that is done just
/// then is not told to.
#[test]
fn the_end_of_a_night_is_told_in_minutes() {
    let anchor = Anchor::MixAt(18.0);
    let plain = planned(COLD_BULK, anchor);
    let hour = stage(&plain, "mix").end_h;
    let mixed = |c: f64| {
        let dough = Temperature::celsius(c).unwrap();
        [observed(Checkpoint::Mixed(dough), hour)]
    };
    let now = adjusted(COLD_BULK, anchor, &mixed(30.0));
    let sooner = 60.0 * (stage(&plain, "cold").end_h - stage(&now.after, "divide").start_h);
    let said = find!(now.advice, Finding::EndColdSooner { sooner_min } => *sooner_min).unwrap();
    assert!(
        sooner > 5.0 && (said - sooner).abs() < 1e-6,
        "{said} {sooner}"
    );
    // Divided when it comes out of the cold.
    let cold = "[cold]\nstage = \"bulk\"\nhours = 10\nroom_c = 6\n";
    let text = straight("yeast_percent = 0.2", "", "bulk_min = 0", cold, "");
    let now = adjusted(&text, anchor, &mixed(25.0));
    assert!(now.out_of_cold_h.is_none() && !has!(now.advice, Finding::EndColdSooner { .. }));
}

/// A bulk is divided when it is seen to be done, sooner or later than planned; one that is not done yet before its hour is as
/// planned, and after it is divided later than it was seen.
#[test]
fn a_bulk_is_divided_when_it_is_seen_to_be_done() {
    let text = straight(YEAST, "", "", "", "");
    let anchor = Anchor::MixAt(8.0);
    let plain = planned(&text, anchor);
    let done = stage(&plain, "divide").start_h;
    let divided = |what, at| {
        let now = adjusted(&text, anchor, &[observed(what, at)]);
        let later = find!(now.changes, Finding::BulkSeen { later_min, .. } => *later_min);
        (stage(&now.after, "divide").start_h, later.unwrap(), now)
    };
    for off in [-0.4, 0.3] {
        let (divide, later_min, now) = divided(Checkpoint::BulkReady, done + off);
        assert!((divide - done - off).abs() < 1e-6 && (later_min / 60.0 - off).abs() < 1e-6);
        // A dough that is ahead in its bulk is ahead in its proof too.
        let proof = |plan: &Plan| stage(plan, "proof").hours();
        assert_eq!(proof(&now.after) < proof(&plain), off < 0.0);
    }
    let (divide, later_min, now) = divided(Checkpoint::BulkUnready, done - 0.5);
    assert!((divide - done).abs() < 1e-6 && later_min == 0.0);
    the_same(&now.after, &plain);
    let (divide, later_min, _) = divided(Checkpoint::BulkUnready, done + 0.2);
    assert!(
        divide > done + 0.2 && later_min > 12.0,
        "{divide} {later_min}"
    );
    let (divide, later_min, _) = divided(Checkpoint::BulkPast, done + 0.2);
    assert!(
        (divide - done - 0.2).abs() < 1e-6 && later_min < 12.0,
        "{divide} {later_min}"
    );
}

/// A piece just shaped springs back at once whatever its dough: that tells nothing. Where the proof should be nearly over,
/// it tells that the dough is behind.
#[test]
fn a_dent_that_is_gone_early_tells_nothing() {
    let text = straight(YEAST, "", "", "", "");
    let anchor = Anchor::MixAt(8.0);
    let plain = planned(&text, anchor);
    let (from, until) = (stage(&plain, "proof").start_h, plain.loads[0].oven_in_h);
    let seen = |share: f64| {
        let at = from + share * (until - from);
        let dent = Checkpoint::ProofDent(Dent::GoneQuickly);
        adjusted(&text, anchor, &[observed(dent, at)]).after
    };
    the_same(&seen(0.1), &plain);
    assert!(seen(0.99).loads[0].oven_in_h > until + 0.02);
}

/// A load that is ready ahead of its hour waits for the oven: it is hot at the hour of the plan, or when it has been on for
/// the time it takes. What enters at once is not told to wait in the cold.
#[test]
fn a_load_waits_for_an_oven_that_is_not_hot() {
    let of = |preheat: &str| straight(YEAST, "", "", "", preheat);
    let anchor = Anchor::MixAt(8.0);
    let plain = planned(&of(""), anchor);
    let (from, oven_in) = (stage(&plain, "proof").start_h, plain.loads[0].oven_in_h);
    let stays = [observed(
        Checkpoint::ProofDent(Dent::Stays),
        from + 0.5 * (oven_in - from),
    )];
    let at = stays[0].at;
    let enters = |text: &str| adjusted(text, anchor, &stays).after.loads[0].oven_in_h;
    assert!((enters(&of("")) - at).abs() < 1e-6);
    let minutes = 60.0 * (oven_in - at);
    // Half of the time that is left, and more than there is.
    let soon = enters(&of(&format!("preheat_min = {}", (0.5 * minutes).round())));
    assert!(
        (soon - at - (0.5 * minutes).round() / 60.0).abs() < 1e-6,
        "{soon}"
    );
    let planned = enters(&of(&format!("preheat_min = {}", (minutes + 30.0).round())));
    assert!((planned - oven_in).abs() < 1e-6, "{planned}");
    let now = adjusted(&of(""), anchor, &stays);
    assert!(!has!(
        now.after.problem.unwrap().nearest,
        Finding::HoldLoads { .. }
    ));
}

/// A preferment that waits in the cold is no recipe of a colder one.
#[test]
fn a_preferment_in_the_cold_is_no_recipe() {
    let (text, anchor) = (DEMOS[0].1, Anchor::FirstOut(7.5));
    let hour = used(&planned(text, anchor)) - 3.0;
    let now = adjusted(text, anchor, &[observed(Checkpoint::PrefermentRipe, hour)]);
    assert!(has!(
        now.advice,
        Finding::HoldPreferment {
            cold_c: Some(_),
            ..
        }
    ));
    assert!(
        !has!(now.after.warnings, Finding::BeyondRecipes { .. }),
        "{:?}",
        now.after.warnings
    );
}
