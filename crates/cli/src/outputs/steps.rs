//! The steps of a plan that need hands, in the order of the clock; and the words that text, calendar and
//! sheet share.

use super::Told;
use crate::render::{mass, percent};
use pointage::formula::{Role, Stage};
use pointage::plan::bake::{Bake, ColdStage, Room};
use pointage::plan::{Load, MixWater, Plan, StageTime, Task};

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
    let folds = plan.folds_h.len();
    let mut fold = 0;
    for step in plan.hands_on() {
        let (from, to) = (step.start_h, step.end_h);
        let first = step.loads.first().map_or(0, |l| l.number);
        let mut say = |key: &str, title: &str, note: String| add(key, from, to, title, note);
        match step.task {
            Task::Preferment => say(
                "preferment",
                &format!("Mix the {}", preferment_name(bake)),
                format!("{}. {}", preferment_mix(told), preferment_ripe(told)),
            ),
            Task::Autolyse => say(
                "autolyse",
                "Stir flour and water together",
                format!("Water {}; then it rests.", pour(&plan.water, bake)),
            ),
            Task::Mix => say("mix", "Mix the dough", mix_note(told)),
            Task::DoughIntoCold => say("cold-in", "Dough into the cold", String::new()),
            Task::DoughFromCold => say("cold-out", "Dough out of the cold", String::new()),
            Task::Preheat => say("preheat", "Turn on the oven", String::new()),
            Task::Fold => {
                fold += 1;
                let title = if folds == 1 {
                    "Fold".to_owned()
                } else {
                    format!("Fold ({fold} of {folds})")
                };
                say(&format!("fold-{fold}"), &title, String::new());
            }
            Task::Divide => say(
                &format!("divide-{first}"),
                &format!("Divide and pre-shape {}", of_loads(plan, step.loads)),
                pieces_note(bake, step.loads),
            ),
            Task::Shape => say(
                &format!("shape-{first}"),
                &format!("Shape {}", of_loads(plan, step.loads)),
                pieces_note(bake, step.loads),
            ),
            Task::IntoCold => say(
                &format!("retarder-{first}-in"),
                &format!("{} into {}", capital(&loads(step.loads)), cold_place(bake)),
                String::new(),
            ),
            Task::FromCold => say(
                &format!("retarder-{first}-out"),
                &format!("{} back to the proof place", capital(&loads(step.loads))),
                String::new(),
            ),
            Task::IntoOven => {
                for load in step.loads {
                    let note = format!(
                        "{} pieces, at {:.0} % of their proof{}.",
                        load.pieces,
                        100.0 * load.ripeness,
                        past_window(load)
                    );
                    say(
                        &format!("load-{first}-in"),
                        &format!("Load {first} into the oven"),
                        note,
                    );
                }
            }
            Task::FromOven => {
                let next = plan.loads.get(first as usize);
                let note = next.map_or(String::new(), |next| {
                    format!(
                        "Load {} in at {}.",
                        next.number,
                        calendar.time(next.oven_in_h)
                    )
                });
                say(
                    &format!("load-{first}-out"),
                    &format!("Load {first} out of the oven"),
                    note,
                );
            }
            _ => {}
        }
    }
    steps
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

/// `2.0 kg of it for this dough`, when another dough gets a part of the preferment.
pub fn for_this_dough(plan: &Plan) -> Option<String> {
    let own = plan.batch.stage_mass(Stage::Preferment).as_grams();
    (plan.preferment_times > 1.0).then(|| format!("{} of it for this dough", mass(own)))
}

/// What goes into the preferment, all that is made.
pub fn preferment_mix(told: Told<'_>) -> String {
    let Told { bake, plan, .. } = told;
    let water = plan
        .preferment_water
        .as_ref()
        .map_or(String::new(), |w| pour(w, bake));
    let dose = plan.preferment.as_ref().map_or(String::new(), |p| {
        format!(" ({} of its flour)", percent(p.dose.as_percent()))
    });
    let all =
        |role| mass(plan.preferment_times * plan.batch.mass_of(role, Stage::Preferment).as_grams());
    let own = for_this_dough(plan).map_or(String::new(), |own| format!("; {own}"));
    format!(
        "{} flour, water {water}, {} {} yeast{dose}, to {:.0} °C{own}",
        all(Role::Flour),
        all(Role::Yeast),
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
pub fn bassinage(told: Told<'_>) -> Option<String> {
    let Told { bake, plan, .. } = told;
    let second = plan.batch.mass_of(Role::Water, Stage::Bassinage);
    (second.as_grams() > 0.0).then(|| {
        let water = bake.process.bassinage.unwrap_or(bake.kitchen.tap);
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
    let late = bassinage(told).map_or(String::new(), |w| format!("; {w}"));
    format!(
        "{first}{late}; off the mixer at {:.1} °C.",
        bake.process.dough.as_celsius()
    )
}

/// The water of a mix: how much and how warm, with its ice.
pub fn pour(water: &MixWater, bake: &Bake) -> String {
    let all = mass(water.water.as_grams());
    match (&water.balance, &water.balance_pour, &water.ddt_formula) {
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
    match (retarded.map(|c| &c.room), bake.process.retarder) {
        (Some(Room::Constant(t)), _) => format!("the cold of {:.0} °C", t.as_celsius()),
        (Some(_), _) => "the cold".to_owned(),
        (None, Some(t)) => format!("the retarder of {:.0} °C", t.as_celsius()),
        (None, None) => "the retarder".to_owned(),
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
        if low <= stage.start_h {
            format!("at its start to {}", beside(high))
        } else {
            format!("{} to {}", beside(low), beside(high))
        }
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
