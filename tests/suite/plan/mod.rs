//! Plans of whole bakes. One builder makes them: [`straight`], a plain dough with more lines for its sections.

mod adjust;
mod findings;
mod loads;
mod mix_batches;
mod preferment_cold;
mod ranges;
mod reference;
mod rise;
mod stages;

use pointage::Result;
use pointage::ambient::Ambient;
use pointage::ferment::Parameters;
use pointage::plan::bake::Bake;
use pointage::plan::{
    Adjusted, Anchor, Change, Checkpoint, Dent, Detail, Environment, Finding, Measured, Plan, Task,
    adjust, plan, planned_stages, reconcile,
};
use pointage::units::{Mass, Temperature};

/// True when a list holds a finding of a form.
macro_rules! has {
    ($list:expr, $form:pat) => {
        $list.iter().any(|finding| matches!(finding, $form))
    };
}

/// The numbers of the first finding of a form.
macro_rules! find {
    ($list:expr, $form:pat => $numbers:expr) => {
        $list.iter().find_map(|finding| match finding {
            $form => Some($numbers),
            _ => None,
        })
    };
}

use {find, has};

const DEMOS: [(&str, &str); 3] = [
    (
        "market-poolish",
        include_str!("../../../data/demo/market-poolish.toml"),
    ),
    (
        "winter-biga",
        include_str!("../../../data/demo/winter-biga.toml"),
    ),
    (
        "summer-tin",
        include_str!("../../../data/demo/summer-tin.toml"),
    ),
];

/// The first of them by published end points: without its reference, its bulk to a rise.
fn published_market() -> String {
    let (recipe, rest) = DEMOS[0].1.split_once("[reference]").unwrap();
    let (_, rest) = rest.split_once("[kitchen]").unwrap();
    format!("{recipe}[kitchen]{rest}")
        .replace("[process]", "[process]\nbulk_rise = 1.85")
        .replace("retarder_c = 4", "retarder_c = 6")
}

const WINTER_ROOM: &str = include_str!("../../../data/demo/winter-room.csv");

fn read(file: &str) -> Result<Ambient> {
    assert_eq!(file, "winter-room.csv");
    Ambient::from_csv(WINTER_ROOM)
}

fn demo(text: &str) -> (Bake, Environment) {
    let bake = Bake::from_toml(text).unwrap();
    let places = bake.places(read).unwrap();
    (bake, places)
}

fn shipped() -> Parameters {
    Parameters::shipped().unwrap()
}

fn stage<'a>(plan: &'a Plan, name: &str) -> &'a pointage::plan::StageTime {
    plan.stage(name).unwrap()
}

fn used(plan: &Plan) -> f64 {
    plan.preferment.as_ref().unwrap().used_h
}

/// Two plans have the same stages and loads, to the rounding of an hour of the clock.
fn the_same(one: &Plan, other: &Plan) {
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
    assert_eq!(one.stages.len(), other.stages.len());
    for (a, b) in one.stages.iter().zip(&other.stages) {
        assert_eq!(a.name, b.name);
        near(a.start_h, b.start_h);
        near(a.end_h, b.end_h);
    }
    assert_eq!(one.loads.len(), other.loads.len());
    for (a, b) in one.loads.iter().zip(&other.loads) {
        near(a.divide_h, b.divide_h);
        near(a.shape_h, b.shape_h);
        near(a.oven_in_h, b.oven_in_h);
        near(a.ripeness, b.ripeness);
        near(a.dough_c, b.dough_c);
    }
}

const COLD_BULK: &str = "format = 1\nname = \"Cold bulk\"\n[formula]\npieces = 36\npiece_g = 900\n\
    hydration_percent = 68\nyeast_percent = 0.3\n[preferment]\nkind = \"poolish\"\nflour_percent = 25\n\
    hydration_percent = 100\ndose_percent = 0.1\nextra_preferment_g = 4000\n[kitchen]\nyeast = \"fresh\"\nroom_c = 22\n\
    [process]\ndough_c = 25\nbulk_rise = 2.0\nbench_rest_min = 15\nshape_min = 12\n\
    hold_later_loads = [\"shape-later\", \"retarder\"]\nretarder_c = 5\n[cold]\nstage = \"bulk\"\nhours = 10\n\
    after_min = 45\nroom_c = 4\n[oven]\npieces_per_load = 12\nbake_min = 40\noven_recovery_min = 8\n";

/// A straight dough of 8 pieces of 800 g, with more lines for its sections.
fn straight(formula: &str, kitchen: &str, process: &str, more: &str, oven: &str) -> String {
    format!(
        "format = 1\nname = \"straight\"\n[formula]\npieces = 8\npiece_g = 800\nhydration_percent = 68\n{formula}\n[kitchen]\nroom_c = 22\n{kitchen}\n[process]\ndough_c = 25\n{process}\n{more}\n[oven]\nbake_min = 40\n{oven}\n"
    )
}

fn planned(text: &str, anchor: Anchor) -> Plan {
    let (bake, places) = demo(text);
    plan(&bake, &places, anchor, &shipped(), Detail::default()).unwrap()
}

const YEAST: &str = "yeast_percent = 0.4";

const POOLISH: &str = "[preferment]\nkind = \"poolish\"\nflour_percent = 30\ndose_percent = 0.1\n";

fn bulk_h(plan: &Plan) -> f64 {
    stage(plan, "divide").start_h - stage(plan, "mix").end_h
}

/// Ten pieces of a kilogram, without scrap.
fn ten_kilograms(kitchen: &str, process: &str) -> String {
    straight(YEAST, kitchen, process, "", "")
        .replace("pieces = 8", "pieces = 10")
        .replace("piece_g = 800", "piece_g = 1000\nscrap_percent = 0")
}

fn observed(what: Checkpoint, at: f64) -> Measured {
    Measured { what, at }
}

fn adjusted(text: &str, anchor: Anchor, measured: &[Measured]) -> Adjusted {
    let (bake, places) = demo(text);
    adjust(&bake, &places, anchor, &shipped(), measured).unwrap()
}

/// A plan with everything that can be told of it.
fn with_detail(text: &str, anchor: Anchor) -> Plan {
    let (bake, places) = demo(text);
    let all = Detail {
        ranges: true,
        reasons: true,
        trace: true,
        cores: true,
        night: true,
    };
    plan(&bake, &places, anchor, &shipped(), all).unwrap()
}

/// By how many minutes a change moves the end of a stage, where it is one of its reasons.
fn minutes_of(plan: &Plan, stage: &str, change: Change) -> Option<f64> {
    let reason = plan.reasons.iter().find(|r| r.stage == stage)?;
    let cause = reason.causes.iter().find(|c| c.change == change)?;
    Some(cause.minutes)
}

/// A nearest plan in which later loads are held.
fn held(shape_later: bool, divide_later: bool, retarder_c: Option<f64>) -> Finding {
    Finding::HoldLaterLoads {
        shape_later,
        divide_later,
        retarder_c,
    }
}
