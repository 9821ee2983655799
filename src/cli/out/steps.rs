//! The steps of a plan that need hands, in the order of the clock; and the words that text, calendar and
//! sheet share.

use super::Told;
use crate::cli::words::{mass, percent};
use pointage::formula::{Role, Stage};
use pointage::plan::bake::{Bake, ColdStage, Room};
use pointage::plan::{Load, MixWater, Plan, StageTime};

/// A step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// A name that stays the same when the plan moves, such as `fold-2` or `load-3-in`.
    pub key: String,
    pub start_h: f64,
    /// The end, or the start when it is done at once.
    pub end_h: f64,
    /// What to do, such as `Fold (2 of 3)`.
    pub title: String,
    /// What to know about it.
    pub note: String,
}

/// The hands-on steps, by their hour.
pub fn steps(told: Told<'_>) -> Vec<Step> {
    let Told {
        bake,
        plan,
        calendar,
        ..
    } = told;
    let mut steps = Vec::new();
    let mut add = |key: &str, start_h: f64, end_h: f64, title: &str, note: String| {
        steps.push(Step {
            key: key.to_owned(),
            start_h,
            end_h,
            title: title.to_owned(),
            note,
        });
    };
    for stage in &plan.stages {
        let (from, to) = (stage.start_h, stage.end_h);
        match stage.name {
            "preferment" => {
                let kind = preferment_name(bake);
                add(
                    "preferment",
                    from,
                    from,
                    &format!("Mix the {kind}"),
                    format!("{}. {}", preferment_mix(told), preferment_ripe(told)),
                );
            }
            "autolyse" => add(
                "autolyse",
                from,
                from,
                "Stir flour and water together",
                format!("Water {}; then it rests.", pour(&plan.water, bake)),
            ),
            "mix" => add("mix", from, to, "Mix the dough", mix_note(told)),
            // The pieces' stay in the cold is told with their loads.
            "cold" if bulk_in_cold(bake) => {
                add("cold-in", from, from, "Dough into the cold", String::new());
                add("cold-out", to, to, "Dough out of the cold", String::new());
            }
            _ => {}
        }
    }
    if let Some(hour) = plan.preheat_h {
        add("preheat", hour, hour, "Turn on the oven", String::new());
    }
    let folds = plan.folds_h.len();
    for (&hour, i) in plan.folds_h.iter().zip(1..) {
        let title = if folds == 1 {
            "Fold".to_owned()
        } else {
            format!("Fold ({i} of {folds})")
        };
        add(&format!("fold-{i}"), hour, hour, &title, String::new());
    }
    let minutes = |name: &str| {
        let stage = plan.stages.iter().find(|s| s.name == name);
        stage.map(|s| s.end_h - s.start_h)
    };
    if let Some(length) = minutes("divide") {
        for (i, group) in groups(plan, |l| Some(l.divide_h)) {
            let from = group[0].divide_h;
            add(
                &format!("divide-{i}"),
                from,
                from + length,
                &format!("Divide and pre-shape {}", of_loads(plan, group)),
                pieces_note(bake, group),
            );
        }
    }
    if let Some(length) = minutes("shape") {
        for (i, group) in groups(plan, |l| Some(l.shape_h)) {
            let from = group[0].shape_h;
            add(
                &format!("shape-{i}"),
                from,
                from + length,
                &format!("Shape {}", of_loads(plan, group)),
                pieces_note(bake, group),
            );
        }
    }
    for (i, group) in groups(plan, |l| l.cooler_h.map(|c| c.0)) {
        if let Some((from, _)) = group[0].cooler_h {
            let title = format!("{} into {}", capital(&loads(group)), cold_place(bake));
            add(&format!("cooler-{i}-in"), from, from, &title, String::new());
        }
    }
    for (i, group) in groups(plan, warmed) {
        if let Some(hour) = warmed(&group[0]) {
            let title = format!("{} back to the proof place", capital(&loads(group)));
            add(
                &format!("cooler-{i}-out"),
                hour,
                hour,
                &title,
                String::new(),
            );
        }
    }
    for load in &plan.loads {
        let n = load.number;
        add(
            &format!("load-{n}-in"),
            load.oven_in_h,
            load.oven_in_h,
            &format!("Load {n} into the oven"),
            format!(
                "{} pieces, at {:.0} % of their proof{}.",
                load.pieces,
                100.0 * load.ripeness,
                past_window(load)
            ),
        );
        add(
            &format!("load-{n}-out"),
            load.oven_out_h,
            load.oven_out_h,
            &format!("Load {n} out of the oven"),
            match plan.loads.get(load.number as usize) {
                Some(next) => format!(
                    "Load {} in at {}.",
                    next.number,
                    calendar.time(next.oven_in_h)
                ),
                None => String::new(),
            },
        );
    }
    steps.sort_by(|a, b| a.start_h.total_cmp(&b.start_h));
    steps
}

fn bulk_in_cold(bake: &Bake) -> bool {
    bake.cold
        .as_ref()
        .is_some_and(|c| c.stage == ColdStage::Bulk)
}

/// When a load comes back from the cooler place, if that is a step of its own and not its way to the oven.
pub fn warmed(load: &Load) -> Option<f64> {
    let (_, to) = load.cooler_h?;
    (load.oven_in_h - to > 1.0 / 60.0).then_some(to)
}

/// Neighbouring loads whose hour is the same to the minute, each group with the number of its first.
pub fn groups(plan: &Plan, hour: impl Fn(&Load) -> Option<f64>) -> Vec<(u32, &[Load])> {
    let minute = |load: &Load| hour(load).map(|h| (h * 60.0).round());
    plan.loads
        .chunk_by(|a, b| minute(a) == minute(b))
        .filter(|group| hour(&group[0]).is_some())
        .map(|group| (group[0].number, group))
        .collect()
}

/// `load 2`, `loads 2 and 3`, `loads 2 to 5`.
pub fn loads(group: &[Load]) -> String {
    match group {
        [one] => format!("load {}", one.number),
        [a, b] => format!("loads {} and {}", a.number, b.number),
        [a, .., b] => format!("loads {} to {}", a.number, b.number),
        [] => String::new(),
    }
}

/// `all pieces`, or the loads.
fn of_loads(plan: &Plan, group: &[Load]) -> String {
    if group.len() == plan.loads.len() {
        "all pieces".to_owned()
    } else {
        loads(group)
    }
}

fn pieces_note(bake: &Bake, group: &[Load]) -> String {
    let pieces: u32 = group.iter().map(|l| l.pieces).sum();
    format!("{pieces} pieces of {}.", mass(bake.piece.as_grams()))
}

/// `24 pieces of 780 g in 3 loads`
pub fn pieces(told: Told<'_>) -> String {
    let loads = match told.plan.loads.len() {
        1 => "one load".to_owned(),
        n => format!("{n} loads"),
    };
    format!(
        "{} pieces of {} in {loads}",
        told.bake.pieces,
        mass(told.bake.piece.as_grams())
    )
}

/// With a capital letter in front.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(chars).collect()
    })
}

/// The kind of the preferment.
pub fn preferment_name(bake: &Bake) -> &'static str {
    let own = bake.formula.preferment.as_ref();
    own.map_or("preferment", |own| own.kind.name())
}

fn weight(plan: &Plan, role: Role, stage: Stage) -> String {
    mass(plan.batch.mass_of(role, stage).as_grams())
}

/// What goes into the preferment.
pub fn preferment_mix(told: Told<'_>) -> String {
    let Told { bake, plan, .. } = told;
    let water = plan
        .preferment_water
        .as_ref()
        .map_or(String::new(), |w| pour(w, bake));
    let dose = plan.preferment.as_ref().map_or(String::new(), |p| {
        format!(" ({} of its flour)", percent(p.dose.as_percent()))
    });
    format!(
        "{} flour, water {water}, {} {} yeast{dose}, to {:.0} °C",
        weight(plan, Role::Flour, Stage::Preferment),
        weight(plan, Role::Yeast, Stage::Preferment),
        bake.formula.yeast_kind.name(),
        bake.preferment
            .as_ref()
            .map_or(0.0, |p| p.dough.as_celsius()),
    )
}

/// When the preferment is ripe, as a sentence.
pub fn preferment_ripe(told: Told<'_>) -> String {
    let Some(times) = &told.plan.preferment else {
        return String::new();
    };
    let beside = |h: f64| told.calendar.time_beside(h, times.mixed_h);
    let range = times.ripe_range_h.map_or(String::new(), |(low, high)| {
        format!(" (likely {} to {})", beside(low), beside(high))
    });
    let close = times
        .window_close_h
        .map_or(String::new(), |h| format!(" to {}", beside(h)));
    format!(
        "Ripe {}{range}, good from {}{close}.",
        beside(times.ripe_h),
        beside(times.window_open_h)
    )
}

/// The second water, if there is one: how much and how warm.
pub fn second_water(told: Told<'_>) -> Option<String> {
    let Told { bake, plan, .. } = told;
    let second = plan.batch.mass_of(Role::Water, Stage::SecondWater);
    (second.as_grams() > 0.0).then(|| {
        let water = bake.process.second_water.unwrap_or(bake.kitchen.tap);
        format!(
            "second water {} at {:.0} °C",
            mass(second.as_grams()),
            water.as_celsius()
        )
    })
}

fn mix_note(told: Told<'_>) -> String {
    let Told { bake, plan, .. } = told;
    let autolyse = plan.stages.iter().any(|s| s.name == "autolyse");
    let first = if autolyse {
        "All the rest".to_owned()
    } else {
        format!("Water {}", pour(&plan.water, bake))
    };
    let late = second_water(told).map_or(String::new(), |w| format!("; {w}"));
    format!(
        "{first}{late}; off the mixer at {:.1} °C.",
        bake.process.dough.as_celsius()
    )
}

/// The water of a mix: how much and how warm, with its ice.
pub fn pour(water: &MixWater, bake: &Bake) -> String {
    let all = mass(water.water.as_grams());
    match (&water.balance, &water.balance_pour, &water.sum_rule) {
        (Some(_), Some(pour), _) if pour.ice.as_grams() > 0.0 => format!(
            "{all}, of it {} ice and {} tap water of {:.0} °C",
            mass(pour.ice.as_grams()),
            mass(pour.tap.as_grams()),
            bake.kitchen.tap.as_celsius()
        ),
        (Some(b), ..) => format!("{all} at {:.1} °C", b.water.as_celsius()),
        (None, _, Some(rule)) => format!("{all} at {:.1} °C (sum rule)", rule.water.as_celsius()),
        (None, _, None) => all,
    }
}

/// Where loads wait, with its temperature when it is one.
pub fn cold_place(bake: &Bake) -> String {
    let retarded = bake.cold.as_ref();
    let retarded = retarded.filter(|c| c.stage == ColdStage::Proof);
    match (retarded.map(|c| &c.room), bake.process.cooler) {
        (Some(Room::Constant(t)), _) => format!("the cold of {:.0} °C", t.as_celsius()),
        (Some(_), _) => "the cold".to_owned(),
        (None, Some(t)) => format!("the cooler place of {:.0} °C", t.as_celsius()),
        (None, None) => "the cooler place".to_owned(),
    }
}

/// True for the part of a bulk that ends when the dough is ready: the last one.
pub fn ends_bulk(plan: &Plan, stage: &StageTime) -> bool {
    let bulk = plan.stages.iter().take_while(|s| s.name != "divide");
    let parts = bulk.filter(|s| matches!(s.name, "bulk" | "cold" | "warm up"));
    parts.last() == Some(stage)
}

/// `06:22 to 07:10`: when a stage is likely to end, if the dough has a say in it.
pub fn likely(told: Told<'_>, stage: &StageTime) -> Option<String> {
    // The parts of a bulk before its last one end by the clock.
    if matches!(stage.name, "bulk" | "cold") && !ends_bulk(told.plan, stage) {
        return None;
    }
    let (low, high) = stage.end_range_h?;
    // A minute either way is no news.
    (high - low >= 2.0 / 60.0).then(|| {
        let beside = |h| told.calendar.time_beside(h, stage.end_h);
        format!("{} to {}", beside(low), beside(high))
    })
}

/// A chance from which on it is told.
pub const WORTH_A_WORD: f64 = 0.05;

/// `; chance 12 % to be past its window` when that is worth a word.
fn past_window(load: &Load) -> String {
    if !load.in_window {
        return " - OUTSIDE the window".to_owned();
    }
    match load.past_chance {
        Some(chance) if chance >= WORTH_A_WORD => {
            format!("; chance {:.0} % to be past its window", 100.0 * chance)
        }
        _ => String::new(),
    }
}
