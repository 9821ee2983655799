//! Plans: the demo bakes, an overfull one, and the agreement of planning backward and forward.

use pointage::Result;
use pointage::ambient::Ambient;
use pointage::ferment::Parameters;
use pointage::plan::bake::Bake;
use pointage::plan::{Anchor, Places, Plan, plan};
use pointage::units::Mass;

const DEMOS: [(&str, &str); 3] = [
    (
        "market-poolish",
        include_str!("../../data/demo/market-poolish.toml"),
    ),
    (
        "winter-biga",
        include_str!("../../data/demo/winter-biga.toml"),
    ),
    (
        "summer-tin",
        include_str!("../../data/demo/summer-tin.toml"),
    ),
];
const WINTER_ROOM: &str = include_str!("../../data/demo/winter-room.csv");

fn read(file: &str) -> Result<Ambient> {
    assert_eq!(file, "winter-room.csv");
    Ambient::from_csv(WINTER_ROOM)
}

fn demo(text: &str) -> (Bake, Places) {
    let bake = Bake::from_toml(text).unwrap();
    let places = bake.places(read).unwrap();
    (bake, places)
}

fn shipped() -> Parameters {
    Parameters::shipped().unwrap()
}

fn stage<'a>(plan: &'a Plan, name: &str) -> &'a pointage::plan::StageTime {
    plan.stages.iter().find(|s| s.name == name).unwrap()
}

#[test]
fn every_demo_is_feasible_and_chains() {
    let p = shipped();
    for (name, text) in DEMOS {
        let (bake, places) = demo(text);
        let plan = plan(&bake, &places, Anchor::FirstOut(9.0), &p).unwrap();
        assert!(plan.problem.is_none(), "{name}: {:?}", plan.problem);
        for pair in plan.stages.windows(2) {
            assert_eq!(
                pair[0].end_h, pair[1].start_h,
                "{name}: {} to {}",
                pair[0].name, pair[1].name
            );
            assert!(pair[0].start_h < pair[0].end_h, "{name}");
        }
        assert!(
            (plan.loads[0].oven_out_h - 9.0).abs() < 1.0 / 3600.0,
            "{name}"
        );
        assert_eq!(
            plan.loads.iter().map(|l| l.pieces).sum::<u32>(),
            bake.pieces,
            "{name}"
        );
        for load in &plan.loads {
            assert!(
                (0.85..=1.20).contains(&load.ripeness),
                "{name} load {}: {}",
                load.number,
                load.ripeness
            );
        }
        let cycle = (bake.oven.bake + bake.oven.recover).as_secs_f64() / 3600.0;
        for pair in plan.loads.windows(2) {
            assert!(
                pair[1].oven_in_h >= pair[0].oven_in_h + cycle - 1e-9,
                "{name}: oven not recovered"
            );
        }
        if let Some(preferment) = &plan.preferment {
            let mix = preferment.used_h;
            assert!(
                preferment.window_open_h <= mix && mix <= preferment.window_close_h.unwrap(),
                "{name}"
            );
        }
        let total: f64 = plan
            .batch
            .ingredients
            .iter()
            .map(|i| i.mass.as_grams())
            .sum();
        assert!(
            (total - plan.batch.dough.as_grams()).abs() < 1e-6,
            "{name}: weights do not add up"
        );
    }
}

#[test]
fn the_summer_demo_needs_ice_and_the_winter_one_warm_water() {
    let p = shipped();
    let (bake, places) = demo(DEMOS[2].1);
    let hot = plan(&bake, &places, Anchor::FirstOut(16.0), &p).unwrap();
    assert!(hot.water.balance_pour.unwrap().ice.as_grams() > 100.0);
    let (bake, places) = demo(DEMOS[1].1);
    let cold = plan(&bake, &places, Anchor::FirstOut(9.0), &p).unwrap();
    assert!(
        cold.water.balance_pour.is_none() && cold.water.balance.unwrap().water > bake.kitchen.tap
    );
}

/// Backward to the start, forward from it: every hour agrees to 1 s, from each anchor.
#[test]
fn planning_backward_and_forward_agrees() {
    let p = shipped();
    for (name, text) in DEMOS {
        let (bake, places) = demo(text);
        let back = plan(&bake, &places, Anchor::FirstOut(9.0), &p).unwrap();
        for anchor in [
            Anchor::StartAt(back.stages[0].start_h),
            Anchor::MixAt(stage(&back, "mix").start_h),
            Anchor::LastOut(back.loads.last().unwrap().oven_out_h),
        ] {
            let forth = plan(&bake, &places, anchor, &p).unwrap();
            for (a, b) in back.stages.iter().zip(&forth.stages) {
                let miss = (a.start_h - b.start_h).abs().max((a.end_h - b.end_h).abs()) * 3600.0;
                assert!(miss < 1.0, "{name} {anchor:?} {}: {miss} s", a.name);
            }
            for (a, b) in back.loads.iter().zip(&forth.loads) {
                assert!(
                    (a.oven_in_h - b.oven_in_h).abs() * 3600.0 < 1.0,
                    "{name} {anchor:?}"
                );
                assert!((a.ripeness - b.ripeness).abs() < 1e-3, "{name} {anchor:?}");
            }
        }
    }
}

/// Twelve loads for a small oven: answered in words, and the nearest plan that is named works. Once the
/// fridge is the answer; once even a cool cellar is allowed already, and only fewer loads are.
#[test]
fn an_overfull_bake_is_answered_in_words() {
    let p = shipped();
    for (ways, answer) in [
        (
            r#"later_loads = ["shape-later"]"#,
            "hold the later loads at 4 °C",
        ),
        (
            "later_loads = [\"shape-later\", \"divide-later\", \"cooler\"]\ncooler_c = 17",
            "loads (",
        ),
    ] {
        let text = DEMOS[0]
            .1
            .replace("pieces = 24", "pieces = 48")
            .replace("pieces_per_load = 8", "pieces_per_load = 4")
            .replace(
                "later_loads = [\"shape-later\", \"cooler\"]\ncooler_c = 6",
                ways,
            );
        let (bake, places) = demo(&text);
        let overfull = plan(&bake, &places, Anchor::FirstOut(9.0), &p).unwrap();
        let problem = overfull
            .problem
            .as_ref()
            .expect("twelve loads cannot all wait");
        println!("{}; {}", problem.what, problem.nearest);
        assert!(!problem.loads.is_empty());
        assert!(problem.what.contains("of 12 would enter the oven at up to"));
        assert!(problem.nearest.contains(answer), "{}", problem.nearest);
        // The plan it names is a plan that works, and one load more is not.
        let works = |bake: &Bake| {
            plan(bake, &places, Anchor::FirstOut(9.0), &p)
                .unwrap()
                .problem
                .is_none()
        };
        let pieces = problem
            .nearest
            .split('(')
            .nth(1)
            .and_then(|s| s.split(' ').next())
            .unwrap();
        if let Ok(pieces) = pieces.parse() {
            assert!(works(&bake.with_pieces(Some(pieces), None).unwrap()));
            assert!(!works(&bake.with_pieces(Some(pieces + 4), None).unwrap()));
        } else {
            let held = text.replace(
                ways,
                "later_loads = [\"shape-later\", \"cooler\"]\ncooler_c = 4",
            );
            assert!(works(&demo(&held).0));
        }
    }
}

#[test]
fn ten_times_the_bake_has_the_same_hours_but_for_its_mass() {
    // A larger tub keeps its heat better; the weights scale, and the clock moves by minutes only.
    let p = shipped();
    let (bake, places) = demo(DEMOS[2].1);
    let small = plan(&bake, &places, Anchor::MixAt(8.0), &p).unwrap();
    let heavy = bake
        .with_pieces(None, Some(Mass::grams(5200.0).unwrap()))
        .unwrap();
    let big = plan(&heavy, &places, Anchor::MixAt(8.0), &p).unwrap();
    assert!((big.batch.dough.as_grams() / small.batch.dough.as_grams() - 10.0).abs() < 1e-9);
    let shift = stage(&big, "bulk").end_h - stage(&small, "bulk").end_h;
    assert!(shift.abs() < 0.5, "{shift}");
}

#[test]
fn a_bake_that_cannot_rise_says_so() {
    let p = shipped();
    let never = DEMOS[0].1.replace("room_c = 20\n", "room_c = -5\n");
    let (bake, places) = demo(&never);
    let e = plan(&bake, &places, Anchor::FirstOut(9.0), &p).unwrap_err();
    assert!(e.is_unreachable(), "{e}");
}
