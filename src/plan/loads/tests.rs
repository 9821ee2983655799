//! Random kitchens: a plan is a plan, and what is called infeasible is.

use super::*;
use crate::ferment::Parameters;
use crate::plan::bake::Bake;
use crate::plan::environment::RoomCourses;
use crate::plan::search::meeting;
use crate::plan::{Anchor, Detail, Environment, Finding, Plan, plan};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, TestRunner};

/// A kitchen, as text, so that the reader is tried along.
fn kitchens() -> impl Strategy<Value = String> {
    (
        (1u32..=72, 60.0..1500.0f64, 55.0..85.0f64, 0.05..1.2f64, 15.0..30.0f64),
        (0.0..45.0f64, 0.15..0.4f64, 8.0..18.0f64, prop::bool::ANY, 22.0..28.0f64),
        (1.5..2.2f64, 5.0..30.0f64, 5.0..40.0f64, 0.0..60.0f64, 15.0..30.0f64),
        (prop::sample::subsequence(vec!["shape-later", "divide-later", "retarder"], 0..=3), 2.0..18.0f64),
        (6u32..=12, 15.0..60.0f64, 0.0..20.0f64, prop::bool::ANY),
    )
        .prop_map(|(a, b, c, (ways, retarder), (each, bake, recover, tin))| {
            let preferment = if b.3 {
                format!(
                    "[preferment]\nkind = \"poolish\"\nflour_percent = {:.1}\nripe_after_h = {:.2}\n",
                    100.0 * b.1, b.2
                )
            } else {
                String::new()
            };
            let listed: Vec<String> = ways.iter().map(|w| format!("{w:?}")).collect();
            let retarder = if ways.contains(&"retarder") { format!("retarder_c = {retarder:.1}\n") } else { String::new() };
            format!(
                "format = 1\nname = \"random\"\n[formula]\npieces = {}\npiece_g = {:.0}\nhydration_percent = {:.1}\nyeast_percent = {:.3}\n{preferment}[kitchen]\nroom_c = {:.1}\n[process]\ndough_c = {:.1}\nautolyse_min = {:.0}\nbulk_rise = {:.2}\ndivide_min = {:.0}\nbench_rest_min = {:.0}\nbench_rest_max_min = {:.0}\nproof_c = {:.1}\nproof = {:?}\nhold_later_loads = [{}]\n{retarder}[oven]\npieces_per_load = {each}\nbake_min = {bake:.0}\noven_recovery_min = {recover:.0}\n",
                a.0, a.1, a.2, a.3, a.4, b.4, b.0, c.0, c.1, c.2, c.2 + c.3, c.4,
                if tin { "tin" } else { "hearth" },
                listed.join(", ")
            )
        })
}

fn places(bake: &Bake) -> Environment {
    bake.places(|_| Err(Error::malformed("no records here")))
        .unwrap()
}

/// No overlap, a clock that runs one way, loads divided in their order, and every load in its window and not
/// resting too long unless a problem is told.
fn check_plan(bake: &Bake, plan: &Plan, window: Window) -> std::result::Result<(), TestCaseError> {
    for pair in plan.stages.windows(2) {
        prop_assert_eq!(pair[0].end_h, pair[1].start_h);
        prop_assert!(pair[0].start_h < pair[0].end_h);
    }
    let cycle = as_hours(bake.oven.bake) + as_hours(bake.oven.recover);
    for pair in plan.loads.windows(2) {
        prop_assert!(pair[1].oven_in_h >= pair[0].oven_in_h + cycle - 1e-9);
    }
    prop_assert_eq!(
        plan.loads.iter().map(|l| l.pieces).sum::<u32>(),
        bake.pieces
    );
    for pair in plan.loads.windows(2) {
        prop_assert!(pair[1].divide_h >= pair[0].divide_h - 1e-9);
        let shape_h = as_hours(bake.process.shape);
        prop_assert!(pair[1].shape_h >= pair[0].shape_h + shape_h - 1e-9);
    }
    let longest = as_hours(bake.process.divide) + as_hours(bake.process.rest_max);
    let fails = |l: &&crate::plan::Load| {
        !(window.open - 1e-6..=window.close + 1e-6).contains(&l.ripeness)
            || l.shape_h - l.divide_h > longest + 2e-6
    };
    let failing: Vec<u32> = plan.loads.iter().filter(fails).map(|l| l.number).collect();
    let loads = |finding: &Finding| match finding {
        Finding::OutsideWindow { loads, .. } | Finding::LongRest { loads, .. } => loads.clone(),
        _ => Vec::new(),
    };
    let findings = plan.problem.iter().flat_map(|p| &p.findings);
    let mut told: Vec<u32> = findings.flat_map(loads).collect();
    told.sort_unstable();
    told.dedup();
    prop_assert_eq!(failing, told);
    Ok(())
}

/// True when some start of the first load in its window, and some waits on a grid for each later one,
/// bring every load in, divided in order and without too long a rest. Of the waits that do, those are kept
/// that free the hands sooner, or leave the dough to be divided sooner, than all others.
fn any_start_works(line: &DoughProcess<'_>) -> bool {
    let ways = &line.bake.process.hold_later_loads;
    let grid = |way: HoldLaterLoads, most: f64| -> Vec<f64> {
        if ways.contains(&way) && most > 0.0 {
            (0..=5).map(|i| most * f64::from(i) / 5.0).collect()
        } else {
            vec![0.0]
        }
    };
    let shape_h = as_hours(line.bake.process.shape);
    let longest = as_hours(line.bake.process.rest_max) - as_hours(line.bake.process.rest);
    [0.86, 0.95, 1.0, 1.1, 1.19].into_iter().any(|share| {
        let Ok((bulked, first)) = meeting(line, Anchor::MixAt(6.0), share) else {
            return false;
        };
        let mut bench = PieceCache::new(line, &bulked);
        // Nobody waits before the first load: past its window at once, it is so with every start.
        if !first.in_window(line.p.rise_window) {
            return false;
        }
        // When the hands are free, and how late the load before was divided.
        let mut before = vec![(shape_h, 0.0)];
        let mut oven_free = first.oven_in + cycle_h(line.bake);
        (1..count(line.bake)).all(|_| {
            let slack = (oven_free - first.shaped.proof_from).max(0.0);
            let most_bulk = bench.longest_bulk(slack).unwrap_or(0.0);
            let mut now: Vec<(f64, f64)> = Vec::new();
            for &(freed, divided) in &before {
                for more in grid(HoldLaterLoads::DivideLater, most_bulk - divided) {
                    let bulk = divided + more;
                    let forced = (freed - bulk).max(0.0);
                    if forced > longest + 1e-6 {
                        continue;
                    }
                    for extra in grid(HoldLaterLoads::ShapeLater, (longest - forced).min(slack)) {
                        let rest = forced + extra;
                        let after = (bulk + rest + shape_h, bulk);
                        if now.iter().any(|n| n.0 <= after.0 && n.1 <= after.1) {
                            continue;
                        }
                        for retarder in grid(HoldLaterLoads::Retarder, slack - bulk - rest) {
                            let waits = Waits {
                                bulk,
                                rest,
                                retarder,
                            };
                            let Ok(shaped) = bench.shaped(waits) else {
                                continue;
                            };
                            let short = retarder > 0.0 && retarder < bench.shortest_stay_h();
                            if short || shaped.proof_from > oven_free {
                                continue;
                            }
                            let ripeness = bench.proof_at(&shaped, oven_free).map(|r| r.0);
                            let window = bench.window.open..=bench.window.close;
                            if ripeness.is_ok_and(|r| window.contains(&r)) {
                                now.push(after);
                                break;
                            }
                        }
                    }
                }
            }
            oven_free += cycle_h(line.bake);
            before = now;
            !before.is_empty()
        })
    })
}

/// `POINTAGE_KITCHENS` sets the number of cases; 10 000 were run for the first release.
#[test]
fn random_kitchens() {
    let cases = std::env::var("POINTAGE_KITCHENS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(100);
    let p = Parameters::shipped().unwrap();
    let (mut feasible, mut problems, mut unreachable, mut searched) = (0, 0, 0, 0);
    let mut runner = TestRunner::new_with_rng(
        Config {
            cases,
            failure_persistence: None,
            ..Config::default()
        },
        proptest::test_runner::TestRng::deterministic_rng(
            proptest::test_runner::RngAlgorithm::ChaCha,
        ),
    );
    let counts = std::cell::RefCell::new((
        &mut feasible,
        &mut problems,
        &mut unreachable,
        &mut searched,
    ));
    runner
        .run(&kitchens(), |text| {
            let bake =
                Bake::from_toml(&text).map_err(|e| TestCaseError::fail(format!("{e}\n{text}")))?;
            let places = places(&bake);
            let mut counts = counts.borrow_mut();
            match plan(&bake, &places, Anchor::MixAt(6.0), &p, Detail::default()) {
                Err(e) => {
                    prop_assert!(e.is_unreachable(), "{e}\n{text}");
                    *counts.2 += 1;
                }
                Ok(plan) => {
                    check_plan(&bake, &plan, p.rise_window)?;
                    if let Some(problem) = &plan.problem {
                        prop_assert!(!problem.findings.is_empty());
                        *counts.1 += 1;
                        if plan.loads.len() <= 4 {
                            *counts.3 += 1;
                            let rooms: RoomCourses = places.rooms(&bake, 0.0).unwrap();
                            let line = DoughProcess::new(&bake, &p, &rooms).unwrap();
                            prop_assert!(
                                !any_start_works(&line),
                                "called infeasible, and is not:\n{text}"
                            );
                        }
                    } else {
                        *counts.0 += 1;
                    }
                }
            }
            Ok(())
        })
        .unwrap();
    println!(
        "random kitchens: {feasible} feasible, {problems} not ({searched} of them searched through and confirmed), {unreachable} never ready, of {cases}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]
    /// What a bench keeps of earlier questions changes no answer: whatever was asked before, a load comes out as
    /// on a bench that was asked nothing yet. (Gas that escapes is followed in steps, which begin elsewhere: 1e-5.)
    #[test]
    fn a_bench_answers_the_same_whatever_it_was_asked_before(
        text in kitchens(),
        asked in prop::collection::vec((0.0..0.8f64, 0.0..0.8f64, 0.0..2.0f64, 0.0..2.5f64), 1..8),
    ) {
        let bake = Bake::from_toml(&text).unwrap();
        let p = Parameters::shipped().unwrap();
        let places = places(&bake);
        let rooms = places.rooms(&bake, 0.0).unwrap();
        let line = DoughProcess::new(&bake, &p, &rooms).unwrap();
        if let Ok((bulked, _)) = meeting(&line, Anchor::MixAt(6.0), 1.0) {
            let mut kept = PieceCache::new(&line, &bulked);
            for (bulk, rest, retarder, proof_h) in asked {
                let mut fresh = PieceCache::new(&line, &bulked);
                let retarder = if rooms.retarder.is_some() { retarder } else { 0.0 };
                // Now and then a load that differs in one wait only, so that much of its way is kept.
                let waits = Waits { bulk: (4.0 * bulk).round() / 4.0, rest: (4.0 * rest).round() / 4.0, retarder };
                let (a, b) = (kept.shaped(waits).unwrap(), fresh.shaped(waits).unwrap());
                prop_assert_eq!(a.proof_from, b.proof_from);
                let hour = a.proof_from + proof_h;
                let (a_ripe, a_c) = kept.proof_at(&a, hour).unwrap();
                let (b_ripe, b_c) = fresh.proof_at(&b, hour).unwrap();
                prop_assert!((a_ripe - b_ripe).abs() < 1e-5 && (a_c - b_c).abs() < 1e-6, "{a_ripe} {b_ripe}\n{text}");
                let until = |bench: &mut PieceCache<'_>, shaped: &Shaped| bench.proof_until(shaped, 0.9).unwrap();
                match (until(&mut kept, &a), until(&mut fresh, &b)) {
                    (Some(a), Some(b)) => prop_assert!((a - b).abs() < 1e-4, "{a} {b}\n{text}"),
                    (a, b) => prop_assert_eq!(a, b),
                }
                let share = (kept.bulk_share(bulk).unwrap(), fresh.bulk_share(bulk).unwrap());
                prop_assert!((share.0 - share.1).abs() < 1e-5);
            }
        }
    }
}

/// A kitchen's loads go to the retarder for half an hour and more, and only where the same load, waiting beside the
/// oven, would be past its window, or its first piece would; where a plan without the retarder fits and has all its
/// pieces in the window, none goes there. Gives how many go.
fn check_retarder(text: &str, p: &Parameters) -> usize {
    let bake = Bake::from_toml(text).unwrap();
    let places = places(&bake);
    let anchor = Anchor::MixAt(6.0);
    let Ok((rooms, found)) = crate::plan::search::timeline(&bake, &places, anchor, p, true) else {
        return 0;
    };
    let line = DoughProcess::new(&bake, p, &rooms).unwrap();
    let mut bench = PieceCache::new(&line, &found.bulk);
    let (pieces, close) = (bake.pieces_per_load(), p.rise_window.close);
    let chilled = found.loads.iter().filter(|slot| slot.waits.retarder > 0.0);
    for slot in chilled.clone() {
        assert!(
            slot.waits.retarder >= 0.5 - 1e-9,
            "{:?}\n{text}",
            slot.waits
        );
        let waits = Waits {
            retarder: 0.0,
            ..slot.waits
        };
        let beside = enters(&mut bench, waits, slot.oven_in).unwrap().ripeness;
        let first = bench.first_piece(waits, pieces, slot.oven_in).unwrap();
        assert!(beside.max(first) > close, "{beside} {first}\n{text}");
    }
    let chilled = chilled.count();
    if chilled > 0 && found.fits {
        let mut without = bake.clone();
        let ways = &mut without.process.hold_later_loads;
        ways.retain(|way| *way != HoldLaterLoads::Retarder);
        let line = DoughProcess::new(&without, p, &rooms).unwrap();
        let first = found.loads[0].clone();
        let loads = all(&line, &found.bulk, first, true).unwrap();
        let mut bench = PieceCache::new(&line, &found.bulk);
        let mut first = |s: &Slot| bench.first_piece(s.waits, pieces, s.oven_in).unwrap();
        let whole = loads.iter().all(|slot| first(slot) <= close);
        assert!(!(fits(&line, &loads) && whole), "{text}");
    }
    chilled
}

fn retarders_of(kitchens_tried: u32) {
    let p = Parameters::shipped().unwrap();
    let rng = proptest::test_runner::RngAlgorithm::ChaCha;
    let rng = proptest::test_runner::TestRng::deterministic_rng(rng);
    let mut runner = TestRunner::new_with_rng(Config::default(), rng);
    let mut chilled = 0;
    for _ in 0..kitchens_tried {
        let text = kitchens().new_tree(&mut runner).unwrap().current();
        chilled += check_retarder(&text, &p);
    }
    assert!(
        chilled as f64 > 0.1 * f64::from(kitchens_tried),
        "{chilled}"
    );
}

#[test]
fn a_load_goes_to_the_retarder_only_where_it_must() {
    retarders_of(60);
}

#[test]
#[ignore = "minutes"]
fn a_thousand_kitchens_use_the_retarder_only_where_they_must() {
    retarders_of(1000);
}

const THREE_LOADS: &str = "format = 1\nname = \"three\"\n[formula]\npieces = 24\npiece_g = 700\nhydration_percent = 66\nyeast_percent = 0.6\n[kitchen]\nroom_c = 24\n[process]\ndough_c = 26\nhold_later_loads = [\"shape-later\", \"divide-later\", \"retarder\"]\nretarder_c = 12\n[oven]\npieces_per_load = 8\nbake_min = 40\n";

/// Does something with the bench of a bake that is mixed at six, and with its first load.
fn on_bench<T>(text: &str, with: impl FnOnce(&mut PieceCache<'_>, Slot) -> T) -> T {
    let p = Parameters::shipped().unwrap();
    let bake = Bake::from_toml(text).unwrap();
    let rooms: RoomCourses = places(&bake).rooms(&bake, 0.0).unwrap();
    let line = DoughProcess::new(&bake, &p, &rooms).unwrap();
    let (bulked, first) = meeting(&line, Anchor::MixAt(6.0), 1.0).unwrap();
    with(&mut PieceCache::new(&line, &bulked), first)
}

/// The window holds its own ends, to the rounding of an hour.
#[test]
fn the_ends_of_the_window_are_inside() {
    on_bench(THREE_LOADS, |bench, first| {
        let window = bench.window;
        let inside = |ripeness: f64| {
            let slot = Slot {
                ripeness,
                ..first.clone()
            };
            slot.in_window(window)
        };
        assert!(inside(window.open) && inside(1.0) && inside(window.close));
        assert!(!inside(window.open - 1e-5) && !inside(window.close + 1e-5));
    });
}

/// The ways are those that are listed. What is in the cold anyway may stay there, before anything else unless
/// the list has its own place for it.
#[test]
fn what_is_cold_already_may_stay_there() {
    use HoldLaterLoads::{DivideLater, Retarder, ShapeLater};
    let plain = THREE_LOADS.replace(", \"retarder\"]\nretarder_c = 12", "]");
    let night = "[cold]\nstage = \"proof\"\nhours = 8\nroom_c = 4\n[oven]";
    let tub = night.replace("proof", "bulk");
    for (text, expected) in [
        (
            THREE_LOADS.to_owned(),
            vec![ShapeLater, DivideLater, Retarder],
        ),
        (plain.clone(), vec![ShapeLater, DivideLater]),
        (
            plain.replace("[oven]", night),
            vec![Retarder, ShapeLater, DivideLater],
        ),
        (plain.replace("[oven]", &tub), vec![ShapeLater, DivideLater]),
        (
            THREE_LOADS.replace("[oven]", night),
            vec![ShapeLater, DivideLater, Retarder],
        ),
    ] {
        let text = text.replace("yeast_percent = 0.6", "yeast_percent = 0.1");
        on_bench(&text, |bench, _| {
            assert_eq!(ways(bench.line), expected, "{text}")
        });
    }
}

/// A bulk may go on to where its window closes, or as long as there is time.
#[test]
fn a_bulk_goes_on_to_the_end_of_its_window() {
    on_bench(THREE_LOADS, |bench, _| {
        let window = bench.window;
        // Doubled, as is usual.
        assert!((bench.bulk_share(0.0).unwrap() - 1.0).abs() < 1e-9);
        let longest = bench.longest_bulk(24.0).unwrap();
        assert!(longest > 0.1);
        assert!((bench.bulk_share(longest).unwrap() - window.close).abs() < 1e-6);
        assert_eq!(bench.longest_bulk(0.1).unwrap(), 0.1);
        // A window that is closed already, or just then.
        for close in [0.9, bench.bulk_share(0.0).unwrap()] {
            bench.window.close = close;
            assert_eq!(bench.longest_bulk(24.0).unwrap(), 0.0);
        }
    });
}

/// A stay in the retarder, h: none, or no shorter than the half hour that is worth the move.
fn no_short_stay(hours: f64) -> f64 {
    if hours > 0.0 { hours.max(0.5) } else { 0.0 }
}

/// The soonest hour at which the hands are free again, in hours after the first load's shaping, by trying all
/// mixtures of the ways in eighths of their longest.
fn soonest_free(
    bench: &mut PieceCache<'_>,
    oven_in: f64,
    ways: &[HoldLaterLoads],
    hands: Hands,
) -> Option<f64> {
    let window = bench.window;
    let eighths = |way: HoldLaterLoads, most: f64| -> Vec<f64> {
        match ways.contains(&way) {
            true => (0..=8)
                .map(|i| most.max(0.0) * f64::from(i) / 8.0)
                .collect(),
            false => vec![0.0],
        }
    };
    // Hours between the shaping of a load that does not wait and the oven: any wait takes its time from these.
    let time = oven_in - bench.shaped(Waits::default()).unwrap().proof_from;
    let (mut bulk_most, mut too_long) = (0.0, time);
    if bench.bulk_share(time).unwrap() <= window.close {
        bulk_most = time;
    }
    for _ in 0..60 {
        let middle = 0.5 * (bulk_most + too_long);
        match bench.bulk_share(middle).unwrap() <= window.close {
            true => bulk_most = middle,
            false => too_long = middle,
        }
    }
    let mut soonest: Option<f64> = None;
    for more in eighths(HoldLaterLoads::DivideLater, bulk_most - hands.bulk) {
        let bulk = hands.bulk + more;
        let forced = (hands.least - bulk).max(0.0);
        if forced > hands.longest + 1e-6 {
            continue;
        }
        let left = time - bulk - forced;
        for extra in eighths(
            HoldLaterLoads::ShapeLater,
            (hands.longest - forced).min(left),
        ) {
            for retarder in eighths(HoldLaterLoads::Retarder, left - extra) {
                let retarder = no_short_stay(retarder);
                let rest = forced + extra;
                let shaped = bench
                    .shaped(Waits {
                        bulk,
                        rest,
                        retarder,
                    })
                    .unwrap();
                let ripeness = bench.proof_at(&shaped, oven_in).unwrap().0;
                if shaped.proof_from <= oven_in + 1e-9
                    && (window.open - 1e-6..=window.close + 1e-6).contains(&ripeness)
                {
                    soonest = Some(soonest.map_or(bulk + rest, |s| s.min(bulk + rest)));
                }
            }
        }
    }
    soonest
}

/// The last resort finds what trying every mixture finds, and of those the one that frees the hands soonest.
#[test]
fn the_last_resort_frees_the_hands_soonest() {
    use HoldLaterLoads::{DivideLater, Retarder, ShapeLater};
    on_bench(THREE_LOADS, |bench, first| {
        let window = bench.window;
        let (mut none, mut found) = (0, [0; 3]);
        for ways in [
            &[ShapeLater][..],
            &[Retarder, ShapeLater],
            &[DivideLater],
            &[DivideLater, ShapeLater],
            &[DivideLater, Retarder],
            &[ShapeLater, DivideLater, Retarder],
        ] {
            for (bulk, least, longest) in [
                (0.0, 0.2, 1.5),
                (0.0, 0.6, 0.7),
                (0.0, 1.0, 0.7),
                (0.3, 0.8, 0.7),
            ] {
                for later in [0.3, 0.4, 0.5, 0.7, 1.2, 2.0] {
                    if ways.len() == 3 && later != 1.2 {
                        continue;
                    }
                    let oven_in = first.oven_in + later;
                    let hands = Hands {
                        bulk,
                        least,
                        most: 0.5,
                        longest,
                    };
                    if bench
                        .shaped(hands.waits(Waits::default()))
                        .unwrap()
                        .proof_from
                        > oven_in
                    {
                        continue;
                    }
                    let expected = soonest_free(bench, oven_in, ways, hands);
                    let slot = any_waiting(bench, oven_in, ways, hands).unwrap();
                    let free = slot.as_ref().map(|s| s.waits.bulk + s.waits.rest);
                    let Some((free, expected)) = free.zip(expected) else {
                        assert_eq!(free, expected, "{ways:?} {bulk} {least} {later}");
                        none += 1;
                        continue;
                    };
                    assert!(
                        (free - expected).abs() < 1e-6,
                        "{ways:?} {bulk} {least} {later}: {free} {expected}"
                    );
                    let slot = slot.unwrap();
                    assert!(slot.in_window(window) && slot.shaped.proof_from <= oven_in + 1e-9);
                    let forced = (least - slot.waits.bulk).max(0.0);
                    found[0] += u32::from(slot.waits.bulk > bulk + 1e-6);
                    found[1] += u32::from(slot.waits.rest > forced + 1e-6);
                    found[2] += u32::from(slot.waits.retarder > 1e-6);
                }
            }
        }
        // Each way is needed somewhere, and sometimes none helps.
        assert!(none > 2 && found.iter().all(|&n| n > 2), "{none} {found:?}");
    });
}

/// A load that may only be divided later goes so as long as it is past its best, until it is at it; or as long as
/// bulk and oven leave it, where that is not enough.
#[test]
fn a_load_is_divided_later_as_far_as_it_helps() {
    on_bench(THREE_LOADS, |bench, first| {
        let (mut at_best, mut to_the_end) = (0, 0);
        for (bulk, least) in [(0.0, 0.0), (0.0, 0.8), (0.2, 0.2), (0.5, 0.5), (0.3, 0.8)] {
            for close in [1.2, 3.0] {
                for over in [1.02, 1.3] {
                    bench.window.close = close;
                    let hands = Hands {
                        bulk,
                        least,
                        most: 0.0,
                        longest: 2.0,
                    };
                    let plain = bench.shaped(hands.waits(Waits::default())).unwrap();
                    let oven_in = bench.proof_until(&plain, over).unwrap().unwrap();
                    let ways = [HoldLaterLoads::DivideLater];
                    let slot = waiting_in_order(bench, oven_in, &ways, hands).unwrap();
                    // The hours from the first load's shaping to the oven, and those to the end of the window.
                    let time = oven_in - first.shaped.part("shape").unwrap().end_h;
                    let (mut inside, mut past) = (0.0, 24.0);
                    for _ in 0..60 {
                        let middle = 0.5 * (inside + past);
                        match bench.bulk_share(middle).unwrap() <= close {
                            true => inside = middle,
                            false => past = middle,
                        }
                    }
                    let longest = time.min(inside.max(bulk));
                    let case = format!("{bulk} {least} {close} {over}: {slot:?} {longest}");
                    assert!((slot.waits.rest - (least - slot.waits.bulk).max(0.0)).abs() < 1e-9);
                    if (slot.ripeness - 1.0).abs() < 1e-4 {
                        assert!(slot.waits.bulk <= longest + 1e-6, "{case}");
                        at_best += 1;
                    } else {
                        assert!(slot.ripeness > 1.0, "{case}");
                        assert!((slot.waits.bulk - longest).abs() < 1e-6, "{case}");
                        to_the_end += 1;
                    }
                }
            }
        }
        assert!(at_best > 4 && to_the_end > 4, "{at_best} {to_the_end}");
    });
}

/// A "retarder" place that is warmer than the proof makes a load riper: it does not go there, and a cold one is not
/// left out.
#[test]
fn a_load_waits_nowhere_that_makes_it_riper() {
    let cold = THREE_LOADS.replace("retarder_c = 12", "retarder_c = 25\nproof_c = 15");
    for (text, waits) in [(cold.as_str(), false), (THREE_LOADS, true)] {
        on_bench(text, |bench, _| {
            let hands = Hands {
                bulk: 0.0,
                least: 0.2,
                most: 0.0,
                longest: 2.0,
            };
            let plain = bench.shaped(hands.waits(Waits::default())).unwrap();
            // Past its window: inside it no load goes anywhere.
            let oven_in = bench.proof_until(&plain, 1.25).unwrap().unwrap();
            let ways = [HoldLaterLoads::Retarder];
            let slot = waiting_in_order(bench, oven_in, &ways, hands).unwrap();
            assert_eq!(slot.waits.retarder > 0.01, waits, "{slot:?}");
            assert!(slot.ripeness < 1.25 + 1e-6);
        });
    }
}

/// The last resort takes no more time in the retarder than brings the load into its window, in eighths of what there
/// is; a rest that is just as long as it may be is allowed.
#[test]
fn the_last_resort_takes_the_shortest_time_in_the_retarder() {
    on_bench(THREE_LOADS, |bench, first| {
        let window = bench.window;
        let mut longer = 0;
        for least in [0.2, 0.5] {
            let hands = Hands {
                bulk: 0.0,
                least,
                most: 0.0,
                longest: least,
            };
            for later in [0.5, 0.7, 0.9] {
                let oven_in = first.oven_in + later;
                let slack = oven_in
                    - bench
                        .shaped(hands.waits(Waits::default()))
                        .unwrap()
                        .proof_from;
                let expected = (0..=8)
                    .map(|i| no_short_stay(slack * f64::from(i) / 8.0))
                    .find(|&retarder| {
                        let chosen = Waits {
                            retarder,
                            ..Waits::default()
                        };
                        let shaped = bench.shaped(hands.waits(chosen)).unwrap();
                        let ripeness = bench.proof_at(&shaped, oven_in).unwrap().0;
                        shaped.proof_from <= oven_in + 1e-9
                            && (window.open..=window.close).contains(&ripeness)
                    });
                let ways = [HoldLaterLoads::Retarder];
                let slot = any_waiting(bench, oven_in, &ways, hands).unwrap();
                let Some(expected) = expected else {
                    assert_eq!(slot, None);
                    continue;
                };
                let retarder = slot.unwrap().waits.retarder;
                assert!((retarder - expected).abs() < 1e-6, "{retarder} {expected}");
                longer += u32::from(expected > 0.0 && expected < slack - 1e-6);
            }
        }
        assert!(longer > 1, "{longer}");
    });
}

/// Where only the longest rest and all the time that is left in the retarder bring a load in, the last resort finds
/// it.
#[test]
fn the_last_resort_tries_the_longest_waits() {
    use HoldLaterLoads::{Retarder, ShapeLater};
    on_bench(THREE_LOADS, |bench, first| {
        let hands = Hands {
            bulk: 0.0,
            least: 0.2,
            most: 0.5,
            longest: 0.7,
        };
        let oven_in = first.oven_in + 1.2;
        let slack = oven_in
            - bench
                .shaped(hands.waits(Waits::default()))
                .unwrap()
                .proof_from;
        let all = hands.waits(Waits {
            rest: 0.5,
            retarder: slack - 0.5,
            ..Waits::default()
        });
        let shaped = bench.shaped(all).unwrap();
        assert!((shaped.proof_from - oven_in).abs() < 1e-9);
        let ripeness = bench.proof_at(&shaped, oven_in).unwrap().0;
        // A window of its own, too narrow for anything else.
        bench.window = Window {
            open: ripeness - 1e-5,
            close: ripeness + 1e-5,
        };
        let found = any_waiting(bench, oven_in, &[ShapeLater, Retarder], hands).unwrap();
        let waits = found.unwrap().waits;
        assert!((waits.rest - 0.7).abs() < 1e-9 && (waits.retarder - (slack - 0.5)).abs() < 1e-9);
    });
}

/// A load that is in its window when it is shaped may enter the oven then, and not before.
#[test]
fn no_load_enters_the_oven_before_it_is_shaped() {
    on_bench(THREE_LOADS, |bench, _| {
        let window = bench.window;
        let hands = |least: f64| Hands {
            bulk: 0.0,
            least,
            most: 0.0,
            longest: 3.0,
        };
        let shaped_after = |bench: &mut PieceCache<'_>, least: f64| {
            let shaped = bench.shaped(hands(least).waits(Waits::default())).unwrap();
            let ripeness = bench.proof_at(&shaped, shaped.proof_from).unwrap().0;
            (ripeness, shaped.proof_from)
        };
        let least = (0..30)
            .map(|tenths| f64::from(tenths) / 10.0)
            .find(|&least| shaped_after(bench, least).0 > window.open + 0.01)
            .unwrap();
        let (ripeness, ready) = shaped_after(bench, least);
        assert!(ripeness < window.close);
        for (oven_in, enters) in [(ready, true), (ready - 0.1, false)] {
            let slot = any_waiting(bench, oven_in, &[], hands(least)).unwrap();
            assert_eq!(slot.is_some(), enters, "{oven_in} {ready}");
        }
    });
}

/// A load that comes out of the cold at an hour stands in the proof place from that hour on.
#[test]
fn a_load_leaves_the_cold_at_its_hour() {
    on_bench(THREE_LOADS, |bench, _| {
        let waits = Waits {
            retarder: 0.5,
            ..Waits::default()
        };
        let shaped = bench.shaped(waits).unwrap();
        let out = shaped.part("cold").unwrap().end_h;
        assert_eq!(out, shaped.proof_from);
        for (hour, room_c) in [(out - 0.01, 12.0), (out, 24.0), (out + 0.01, 24.0)] {
            assert_eq!(bench.piece_at(&shaped, hour).unwrap().2, room_c, "{hour}");
        }
    });
}
