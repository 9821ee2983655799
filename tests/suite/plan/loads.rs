//! Loads: what waits, in which order, and the nearest plan where one does not fit.

use super::*;

/// The last load takes what is left.
#[test]
fn the_last_load_takes_the_rest() {
    let p = shipped();
    let text = DEMOS[2].1.replace("pieces = 16", "pieces = 13");
    let (bake, places) = demo(&text);
    let plan = plan(
        &bake,
        &places,
        Anchor::FirstOut(15.0),
        &p,
        Detail::default(),
    )
    .unwrap();
    let pieces: Vec<u32> = plan.loads.iter().map(|l| l.pieces).collect();
    assert_eq!(pieces, [8, 5]);
    let cycle = 40.0 / 60.0; // 34 min in the oven, 6 until it has recovered
    assert!(plan.loads[1].oven_in_h - plan.loads[0].oven_in_h >= cycle - 1e-9);
}

/// More loads than a plan has are refused with their number; as many as it has are not.
#[test]
fn a_plan_has_at_most_three_hundred_loads() {
    let with = |pieces: u32| {
        let text = straight(YEAST, "", "", "", "pieces_per_load = 1")
            .replace("pieces = 8", &format!("pieces = {pieces}"));
        let (bake, places) = demo(&text);
        plan(
            &bake,
            &places,
            Anchor::MixAt(8.0),
            &shipped(),
            Detail::default(),
        )
    };
    for pieces in [301, 302] {
        let refused = with(pieces).unwrap_err().to_string();
        assert!(refused.contains(&format!("{pieces} pieces make more than 300 loads of 1")));
    }
}

/// Loads of 8 pieces in an oven that is free again after so many minutes.
fn loads_of_eight(ways: &str, pieces: u32, bake_min: u32, process: &str) -> Plan {
    loads_with(YEAST, ways, pieces, bake_min, process)
}

fn loads_with(yeast: &str, ways: &str, pieces: u32, bake_min: u32, process: &str) -> Plan {
    let text = straight(
        yeast,
        "",
        &format!("hold_later_loads = [{ways}]\n{process}"),
        "",
        "pieces_per_load = 8",
    )
    .replace("bake_min = 40", &format!("bake_min = {bake_min}"))
    .replace("pieces = 8", &format!("pieces = {pieces}"));
    planned(&text, Anchor::FirstOut(16.0))
}

/// One pair of hands: a load may rest 40 min longer than the first, less the 10 min in which each load
/// behind it is shaped. It rests until it is at its best, or that long, or only until the hands are free.
#[test]
fn a_load_leaves_time_for_the_hands_behind_it() {
    let mut seen = [0; 3];
    for pieces in [16, 24, 32] {
        for bake_min in [10, 15, 20, 30] {
            let plan = loads_of_eight("\"shape-later\"", pieces, bake_min, "");
            if plan.problem.is_some() || plan.loads[0].ripeness < 0.94 {
                continue;
            }
            let n = plan.loads.len();
            for (i, pair) in plan.loads.windows(2).enumerate() {
                let rest = 60.0 * pair[1].waits_h[1];
                let forced = 60.0 * pair[0].waits_h[1] + 10.0;
                let allowed = 40.0 - 10.0 * (n - 2 - i) as f64;
                let ripe = pair[1].ripeness;
                let case = if (ripe - 1.0).abs() < 1e-4 {
                    assert!(forced - 1e-6 <= rest && rest <= allowed + 1e-6);
                    0
                } else if ripe > 1.0 {
                    assert!(
                        (rest - allowed).abs() < 1e-3,
                        "{pieces} {bake_min}: {rest} {allowed}"
                    );
                    1
                } else {
                    assert!((rest - forced).abs() < 1e-6);
                    2
                };
                seen[case] += 1;
            }
        }
    }
    assert!(seen[0] > 0 && seen[1] > 3, "{seen:?}");
}

/// A load that rests in a cool kitchen for half an hour more, while the one before it is in a warm proofer, may
/// not be in its window yet when oven and hands are free: the oven waits until just then, and no longer.
#[test]
fn the_oven_waits_for_a_load_that_is_not_ready() {
    let mut waited = 0;
    for (bake_min, shape_min) in [(5, 10), (5, 30), (10, 30), (20, 30), (60, 30)] {
        let process = format!(
            "hold_later_loads = []\nshape_min = {shape_min}\nbench_rest_min = 5\nbulk_c = 25\nproof_c = 38\nbulk_rise = 1.6"
        );
        let text = straight(YEAST, "", &process, "", "pieces_per_load = 8")
            .replace("pieces = 8", "pieces = 16")
            .replace("room_c = 22", "room_c = 8")
            .replace("bake_min = 40", &format!("bake_min = {bake_min}"));
        let plan = planned(&text, Anchor::FirstOut(16.0));
        let [one, two] = &plan.loads[..] else {
            panic!("{:?}", plan.loads)
        };
        let free = one
            .oven_out_h
            .max(two.shape_h + f64::from(shape_min) / 60.0);
        let idle = 60.0 * (two.oven_in_h - free);
        assert!(idle > -1e-6 && two.ripeness > 0.85 - 1e-6, "{idle}");
        assert!(idle < 1e-6 || (two.ripeness - 0.85).abs() < 1e-4, "{idle}");
        waited += u32::from(idle > 2.0);
    }
    assert!(waited > 0 && waited < 5, "{waited}");
}

/// Twenty loads in a hot room wait in every way at once, and of many mixtures several free the hands as soon. Which is
/// taken does not depend on the hour from which the day is counted.
#[test]
fn the_same_day_has_the_same_waits_from_any_anchor() {
    let text = r#"format = 1
name = "Twenty loads in the heat"
[formula]
pieces = 80
piece_g = 5000
hydration_percent = 80
salt_percent = 3
yeast_percent = 0.01
[kitchen]
yeast = "instant"
room_c = 38.44
flour_c = 20
tap_c = 4
[process]
dough_c = 34
autolyse_min = 25
bulk_rise = 2.0
divide_min = 0
bench_rest_min = 20
shape_min = 12
bench_rest_max_min = 180
proof = "tin"
hold_later_loads = ["shape-later", "divide-later", "retarder"]
retarder_c = 1
[oven]
pieces_per_load = 4
bake_min = 40
oven_recovery_min = 8
"#;
    let days = [
        Anchor::FirstOut(6.0),
        Anchor::FirstOut(7.5),
        Anchor::MixAt(6.0),
        Anchor::LastOut(6.0),
    ]
    .map(|anchor| planned(text, anchor));
    for day in &days[1..] {
        assert_eq!(day.loads.len(), 20);
        for (a, b) in day.loads.iter().zip(&days[0].loads) {
            // Waits are found to a second or two.
            for (a_h, b_h) in a.waits_h.iter().zip(b.waits_h) {
                assert!((a_h - b_h).abs() < 1e-3, "load {}: {a_h} {b_h}", a.number);
            }
            assert!((a.ripeness - b.ripeness).abs() < 1e-4, "load {}", a.number);
        }
    }
}

/// Loads that come as fast as the hands shape them, 10 min each: none rests longer than 40 min more than the first,
/// so the sixth is divided 10 min later, the seventh 20 and so on, and none sooner or later than that.
#[test]
fn loads_are_divided_just_so_late_that_none_rests_too_long() {
    let text = straight(
        "yeast_percent = 0.2",
        "",
        "hold_later_loads = [\"divide-later\"]",
        "",
        "pieces_per_load = 1",
    )
    .replace("bake_min = 40", "bake_min = 1");
    let slow = text
        .replace("yeast_percent = 0.2", "yeast_percent = 0.01")
        .replace("_c = 22", "_c = 14")
        .replace("dough_c = 25", "dough_c = 14");
    for (text, each, longest) in [
        (text.clone(), 10.0, 40.0),
        // An hour for each, in a dough so slow that its bulk may go on for hours.
        (
            slow.replace(
                "hold_later_loads",
                "bulk_rise = 1.5\nshape_min = 60\nbench_rest_max_min = 200\nhold_later_loads",
            ),
            60.0,
            180.0,
        ),
    ] {
        let plan = planned(&text, Anchor::FirstOut(16.0));
        assert!(plan.problem.is_none(), "{:?}", plan.problem);
        for (load, n) in plan.loads.iter().zip(0..) {
            let free = each * f64::from(n);
            let [bulk, rest, cooler] = load.waits_h.map(|h| 60.0 * h);
            let later = (free - longest).max(0.0);
            assert!((bulk - later).abs() < 1e-6 && cooler == 0.0, "{n} {bulk}");
            assert!((rest - (free - later)).abs() < 1e-6, "{n} {rest}");
        }
    }
}

/// A day that is a day sooner is the same day: a load that is not ready is waited for before midnight too.
#[test]
fn a_plan_before_midnight_is_that_of_the_day_after() {
    let process = "hold_later_loads = []\nshape_min = 30\nbench_rest_min = 5\nbulk_c = 25\nproof_c = 38\nbulk_rise = 1.6";
    let text = straight(YEAST, "", process, "", "pieces_per_load = 8")
        .replace("pieces = 8", "pieces = 16")
        .replace("room_c = 22", "room_c = 8")
        .replace("bake_min = 40", "bake_min = 5");
    let (day, before) = (
        planned(&text, Anchor::FirstOut(16.0)),
        planned(&text, Anchor::FirstOut(-8.0)),
    );
    for (a, b) in day.loads.iter().zip(&before.loads) {
        assert!((a.oven_in_h - b.oven_in_h - 24.0).abs() < 1e-6);
        assert!((a.ripeness - b.ripeness).abs() < 1e-6);
    }
}

/// Pieces that are in their window when they are shaped go into the oven at once, but not before.
#[test]
fn no_load_is_in_the_oven_before_it_is_shaped() {
    let mut at_once = 0;
    for rest in [60, 65, 70, 75, 80] {
        let process =
            format!("bench_rest_min = {rest}\nproof_c = 30\nshape_min = 20\nhold_later_loads = []");
        let text = straight(
            "yeast_percent = 0.8",
            "",
            &process,
            "",
            "pieces_per_load = 8",
        )
        .replace("pieces = 8", "pieces = 16")
        .replace("bake_min = 40", "bake_min = 5");
        let plan = planned(&text, Anchor::MixAt(8.0));
        for load in &plan.loads {
            let wait = load.oven_in_h - load.shape_h - 20.0 / 60.0;
            assert!(wait > -1e-9, "{rest} {wait}");
            at_once += u32::from(wait < 1e-9);
        }
    }
    assert!(at_once > 0);
}

/// A load that does not wait in the cooler has no hours there.
#[test]
fn only_what_waits_in_the_cooler_goes_there() {
    let mut cooled = [0; 2];
    for bake_min in [20, 40, 60] {
        let process = "retarder_c = 6\nproof_c = 25";
        let plan = loads_of_eight("\"retarder\"", 24, bake_min, process);
        for load in &plan.loads {
            let waits = load.waits_h[2] > 0.0;
            assert_eq!(load.retarder_h.is_some(), waits, "{load:?}");
            cooled[usize::from(waits)] += 1;
        }
    }
    assert!(cooled[0] > 2 && cooled[1] > 2, "{cooled:?}");
}

/// Pieces with all their yeast from a preferment, in a warm kitchen and a warm proof, where nothing that waits helps.
fn hurried(pieces: u32, bake_min: u32, rest: &str) -> String {
    let poolish = "[preferment]\nkind = \"poolish\"\nflour_percent = 45\ndose_percent = 1.6\n";
    let process = format!(
        "{rest}\nproof_c = 32\nhold_later_loads = [\"divide-later\", \"shape-later\", \"retarder\"]\nretarder_c = 25"
    );
    straight(
        "yeast_percent = 0",
        "yeast = \"fresh\"",
        &process,
        poolish,
        "pieces_per_load = 8\noven_recovery_min = 5",
    )
    .replace("bake_min = 40", &format!("bake_min = {bake_min}"))
    .replace("pieces = 8", &format!("pieces = {pieces}"))
    .replace("room_c = 22", "room_c = 28")
}

/// Twelve loads for a small oven: named with their numbers, and the nearest plan that is named works. Once the
/// fridge is the answer; once even a cool cellar is allowed already, and only more doughs are.
#[test]
fn an_overfull_bake_has_a_nearest_plan_that_works() {
    let overfull = |ways: &str| {
        published_market()
            .replace("pieces = 24", "pieces = 48")
            .replace("pieces_per_load = 8", "pieces_per_load = 4")
            .replace("shape_min = 15", "shape_min = 2")
            .replace(
                "hold_later_loads = [\"shape-later\", \"retarder\"]\nretarder_c = 6",
                ways,
            )
    };
    let problem = |text: &str| planned(text, Anchor::FirstOut(9.0)).problem;
    let shaped = problem(&overfull("hold_later_loads = [\"shape-later\"]")).unwrap();
    let outside =
        find!(shaped.findings, Finding::OutsideWindow { loads, of, .. } => (loads.clone(), *of));
    assert!(matches!(outside, Some((loads, 12)) if loads.last() == Some(&12)));
    assert_eq!(shaped.nearest[0], held(false, false, Some(4.0)));
    assert!(
        problem(&overfull(
            "hold_later_loads = [\"shape-later\", \"retarder\"]\nretarder_c = 4"
        ))
        .is_none()
    );

    let ways =
        "hold_later_loads = [\"shape-later\", \"divide-later\", \"retarder\"]\nretarder_c = 17";
    let cellar = problem(&overfull(ways)).unwrap();
    let past = find!(cellar.findings, Finding::OutsideWindow { loads, .. } => loads.clone());
    assert_eq!(past.unwrap().last(), Some(&12));
    // One dough of the size that is named works, and one load more in it does not.
    let Finding::SeveralDoughs {
        doughs,
        loads,
        pieces,
        every_min,
    } = *cellar.nearest.last().unwrap()
    else {
        panic!("{:?}", cellar.nearest)
    };
    let of = |pieces: u32| overfull(ways).replace("pieces = 48", &format!("pieces = {pieces}"));
    assert!(problem(&of(pieces)).is_none());
    assert!(problem(&of(pieces + 4)).is_some());
    assert!(pieces == 4 * loads && doughs * pieces >= 48 && (doughs - 1) * pieces < 48);
    // The next dough's first load follows the last one of this: 42 min in the oven and 8 until it has
    // recovered, for each load.
    assert!((every_min - f64::from(loads * 50)).abs() < 1e-9);
}

/// Twelve loads whose shaping queues for an hour and more: divided in waves no piece rests longer than it may;
/// where nothing may be divided later, the plan does not fit, and says so.
#[test]
fn no_piece_rests_longer_than_it_may() {
    let waves = |ways: &str| {
        let process = format!("bulk_rise = 1.9\nhold_later_loads = [{ways}]\nretarder_c = 5");
        let oven = "pieces_per_load = 6\noven_recovery_min = 5";
        let text = straight("yeast_percent = 0.1", "", &process, "", oven)
            .replace("pieces = 8", "pieces = 72")
            .replace("piece_g = 800", "piece_g = 700")
            .replace("hydration_percent = 68", "hydration_percent = 66")
            .replace("room_c = 22", "room_c = 21")
            .replace("dough_c = 25", "dough_c = 24")
            .replace("bake_min = 40", "bake_min = 25");
        let (bake, _) = demo(&text);
        let plan = planned(&text, Anchor::FirstOut(7.0));
        let divide = bake.process.divide.as_secs_f64() / 3600.0;
        let rests = plan
            .loads
            .iter()
            .map(|l| 60.0 * (l.shape_h - l.divide_h - divide));
        let rests: Vec<f64> = rests.collect();
        (plan, rests)
    };
    let (fits, rests) = waves("\"shape-later\", \"divide-later\", \"retarder\"");
    assert!(fits.problem.is_none(), "{:?}", fits.problem);
    assert!(rests.iter().all(|&r| r < 60.001), "{rests:?}");
    assert!(fits.loads.is_sorted_by_key(|l| l.divide_h));
    let (queue, rests) = waves("\"shape-later\", \"retarder\"");
    let problem = queue.problem.unwrap();
    let longest = rests.iter().copied().fold(0.0, f64::max);
    assert!(longest > 60.001);
    let (weary, rest, most) =
        find!(problem.findings, Finding::LongRest { loads, longest_rest_min, most_min, .. } => (loads.clone(), *longest_rest_min, *most_min)).unwrap();
    assert!((rest - longest).abs() < 1e-6 && (most - 60.0).abs() < 1e-9);
    assert_eq!(problem.nearest[0], held(false, true, None));
    for (load, rest) in queue.loads.iter().zip(&rests) {
        assert_eq!(weary.contains(&load.number), *rest > 60.001);
    }
}

/// The nearest plan that is named works. Less yeast, where every way of waiting is allowed already: to the
/// percentage that is said, and less than given.
#[test]
fn the_less_yeast_that_is_named_works() {
    let problem = |yeast: f64| {
        let process =
            "hold_later_loads = [\"shape-later\", \"divide-later\", \"retarder\"]\nretarder_c = 18";
        let yeast = format!("yeast_percent = {yeast}");
        let text = straight(&yeast, "", process, "", "pieces_per_load = 8")
            .replace("pieces = 8", "pieces = 24")
            .replace("piece_g = 800", "piece_g = 700")
            .replace("hydration_percent = 68", "hydration_percent = 66")
            .replace("room_c = 22", "room_c = 24")
            .replace("dough_c = 25", "dough_c = 26")
            .replace("bake_min = 40", "bake_min = 60");
        planned(&text, Anchor::FirstOut(12.0)).problem
    };
    let nearest = problem(0.8).unwrap().nearest.swap_remove(0);
    let Finding::ChangeYeast {
        yeast_percent: less,
        given_percent: given,
        ..
    } = nearest
    else {
        panic!("{nearest:?}")
    };
    let parts = [0.75, 0.5, 0.35, 0.2].map(|part| part * 0.8);
    assert!(given == 0.8 && parts.contains(&less));
    assert!(problem(less).is_none());
    // None of those above it does.
    for more in parts.into_iter().filter(|&more| more > less) {
        assert!(problem(more).is_some(), "{more}");
    }
}

/// Where nothing may wait, the first load enters sooner for the sake of the last one, no sooner than needed:
/// the plan says at what share of its proof, and says nothing when it is all of it.
#[test]
fn a_first_load_that_enters_sooner_is_told() {
    let mut shares = Vec::new();
    for (pieces, bake_min) in [(16, 10), (16, 40), (24, 20), (24, 25), (32, 15)] {
        let plan = loads_with("yeast_percent = 0.3", "", pieces, bake_min, "");
        assert!(plan.problem.is_none());
        let first = plan.loads[0].ripeness;
        let told = find!(plan.notes, Finding::FirstLoadEarly { ripeness } => *ripeness);
        assert_eq!(told.is_some(), first < 0.99, "{:?}", plan.notes);
        assert!(told.is_none_or(|share| (share - first).abs() < 1e-6));
        // At 5 % more, which is at the least as much for the last load, that one would be past its window.
        let last = plan.loads.last().unwrap().ripeness;
        assert!(first > 0.99 || last > 1.10, "{first} {last}");
        shares.push((100.0 * first).round());
    }
    for share in [100.0, 95.0, 90.0, 85.0] {
        assert!(shares.contains(&share), "{shares:?}");
    }
}

/// Where nothing brings a load into its window, two ways of waiting together leave it less past it than
/// either alone, in whichever order they are listed.
#[test]
fn a_load_that_does_not_fit_is_as_little_past_as_can_be() {
    let ripeness = |ways: &str, process: &str| {
        let plan = loads_of_eight(ways, 16, 120, process);
        let problem = plan.problem.as_ref().unwrap();
        assert!(
            matches!(&problem.findings[0], Finding::OutsideWindow { loads, of: 2, .. } if *loads == [2])
        );
        plan.loads[1].ripeness
    };
    let retarder = "retarder_c = 20";
    let (rest, cold) = (
        ripeness("\"shape-later\"", ""),
        ripeness("\"retarder\"", retarder),
    );
    for ways in [
        "\"shape-later\", \"retarder\"",
        "\"retarder\", \"shape-later\"",
    ] {
        let both = ripeness(ways, retarder);
        assert!(both < rest.min(cold) - 0.005, "{both} {rest} {cold}");
    }
}

/// A dough that would rest too long before it is shaped is told with the numbers of its loads; one that does not is
/// not told.
#[test]
fn a_rest_that_is_too_long_is_told() {
    for (loads, expected) in [(5, None), (6, Some((1, 70.0))), (8, Some((3, 90.0)))] {
        let process = "hold_later_loads = []";
        let oven = "pieces_per_load = 1";
        let text = straight("yeast_percent = 0.2", "", process, "", oven)
            .replace("pieces = 8", &format!("pieces = {loads}"))
            .replace("bake_min = 40", "bake_min = 1");
        let warnings = planned(&text, Anchor::FirstOut(16.0)).warnings;
        let told = find!(warnings, Finding::LongRest { loads, longest_rest_min, .. } => (loads.len(), longest_rest_min.round()));
        assert_eq!(told, expected, "{warnings:?}");
    }
}

/// The nearest plan is looked for from the smallest change on: another way to wait, less yeast at the mix, several
/// doughs; and none is named where even one load does not fit.
#[test]
fn the_nearest_plan_is_the_smallest_change() {
    let two = |yeast: f64, bake_min: u32, ways: &str| {
        straight(
            &format!("yeast_percent = {yeast}"),
            "",
            ways,
            "",
            "pieces_per_load = 8",
        )
        .replace("bake_min = 40", &format!("bake_min = {bake_min}"))
        .replace("pieces = 8", "pieces = 16")
    };
    let problem = |text: &str| planned(text, Anchor::FirstOut(16.0)).problem;
    let retarder = "hold_later_loads = [\"retarder\"]\nretarder_c = 21";
    let less = Finding::ChangeYeast {
        yeast_percent: 0.25,
        given_percent: 0.5,
        yeast_g: None,
        given_g: None,
    };
    for (text, nearest) in [
        (
            two(0.8, 40, "hold_later_loads = []"),
            held(true, false, None),
        ),
        (two(0.4, 120, ""), held(false, false, Some(4.0))),
        (two(0.5, 60, retarder), less),
    ] {
        assert_eq!(problem(&text).unwrap().nearest[0], nearest);
    }
    assert!(problem(&two(0.8, 40, "hold_later_loads = [\"shape-later\"]")).is_none());
    assert!(problem(&two(0.375, 60, retarder)).is_some());
    assert!(problem(&two(0.25, 60, retarder)).is_none());

    let rest = "bench_rest_max_min = 20";
    for (pieces, bake_min, outside, doughs, loads) in
        [(16, 120, vec![2], 2, 1), (32, 60, vec![3, 4], 2, 2)]
    {
        let problem = problem(&hurried(pieces, bake_min, rest)).unwrap();
        let past = find!(problem.findings, Finding::OutsideWindow { loads, .. } => loads.clone());
        assert_eq!(past.unwrap(), outside);
        let nearest = problem.nearest.last().unwrap();
        let Finding::SeveralDoughs { every_min, .. } = *nearest else {
            panic!("{nearest:?}")
        };
        let expected = Finding::SeveralDoughs {
            doughs,
            loads,
            pieces: 8 * loads,
            every_min,
        };
        assert_eq!(*nearest, expected);
        assert!((every_min - f64::from((bake_min + 5) * loads)).abs() < 1e-9);
    }
    assert!(problem(&hurried(16, 60, rest)).is_none());
    assert!(problem(&hurried(24, 60, rest)).is_some());
    // Past its window when it is shaped.
    for pieces in [8, 16] {
        let problem = problem(&hurried(pieces, 40, "bench_rest_min = 360"));
        assert_eq!(problem.unwrap().nearest, [Finding::NoNearPlan]);
    }
}

/// A longer rest that is proposed works.
#[test]
fn a_longer_rest_that_is_named_works() {
    let mut named = 0;
    for (yeast, most) in [(0.4, 20), (0.6, 20), (0.4, 30), (0.6, 30)] {
        let rests = |most: f64| {
            straight(
                &format!("yeast_percent = {yeast}"),
                "",
                &format!("bench_rest_max_min = {most}\nhold_later_loads = [\"shape-later\"]"),
                "",
                "pieces_per_load = 8",
            )
            .replace("pieces = 8", "pieces = 16")
        };
        let problem = planned(&rests(f64::from(most)), Anchor::FirstOut(16.0)).problem;
        let ways = problem.map_or(Vec::new(), |problem| problem.nearest);
        let longer = find!(ways, Finding::LongerRest { longest_rest_min } => *longest_rest_min);
        if let Some(longer) = longer {
            named += 1;
            assert!(
                planned(&rests(longer), Anchor::FirstOut(16.0))
                    .problem
                    .is_none()
            );
        }
    }
    assert!(named > 0, "no bake tries it");
}
