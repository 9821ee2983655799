//! A plan as text for a terminal.

use super::Told;
use super::steps::{
    WORTH_A_WORD, bassinage, capital, cold_place, ends_bulk, likely, pour, preferment_mix,
    preferment_name, preferment_ripe,
};
use crate::CARE;
use crate::render::{Page, mass, temperature, time};
use pointage::formula::{Role, Stage};
use pointage::plan::bake::Joins;
use pointage::plan::{Load, Plan, Reason, StageTime};
use pointage_api::Sentence;
use pointage_api::plan::{DoseAt, PlanAnswer};

/// How to read ranges and chances.
const READING: &str = "Likely: 4 times out of 5, if you follow the dough. Too far: chance to be past the \
window if you keep to the clock.";

/// A line of the clock.
struct Event {
    hour: f64,
    what: String,
    text: String,
}

/// The plan in words; `explain` adds what moves its times, `written` are the files it went to.
pub fn text(told: Told<'_>, is_demo: bool, explain: bool, written: &[String]) -> String {
    let Told {
        bake,
        plan,
        answer,
        calendar,
        ..
    } = told;
    let mut page = Page::default();
    page.say(format!("{}: {}", bake.name, super::steps::pieces(told)));
    if is_demo {
        page.say("(A built-in demo bake. Your own: pointage plan BAKE.toml --first-out 07:30)");
    }
    let mut events = events(told);
    events.sort_by(|a, b| a.hour.total_cmp(&b.hour));
    let mut day = String::new();
    for event in events {
        let today = calendar.day(event.hour);
        if today != day {
            page.gap();
            page.line(&today);
            day = today;
        }
        page.item(
            &format!("  {}  {:<9} ", calendar.time(event.hour), event.what),
            &event.text,
        );
    }
    if answer.loads.iter().any(|l| l.past_chance.is_some()) {
        page.gap();
        page.say(READING);
    }
    if explain {
        explained(&mut page, told);
    }
    weights(&mut page, plan, answer);
    if let Some(problem) = &plan.problem {
        page.gap();
        page.item("Does not fit: ", &problem.sentence().to_string());
    }
    page.remarks(&answer.warnings, &answer.notes);
    page.gap();
    page.item("Usual care: ", CARE);
    if !written.is_empty() {
        page.gap();
        page.item("Written: ", &written.join(", "));
    }
    page.finish()
}

/// What moves the times, and what hides behind the temperature of a large dough.
fn explained(page: &mut Page, told: Told<'_>) {
    let Told { plan, calendar, .. } = told;
    page.gap();
    page.line("What moves these times most");
    for reason in &plan.reasons {
        page.item(&format!("  {:<10} ", reason.stage), &causes(reason));
    }
    if plan.cores.is_empty() {
        return;
    }
    page.gap();
    page.line("The dough is too thick to be one temperature");
    for core in &plan.cores {
        let time = calendar.time(core.hour);
        page.item(
            &format!("  {time}  {:<9} ", core.stage),
            &format!(
                "at its end {:.1} °C in the middle, {:.1} °C at the surface, {:.1} °C on average",
                core.core_c, core.surface_c, core.mean_c
            ),
        );
    }
}

/// `1 K warmer room: 9 min sooner; ...`
fn causes(reason: &Reason) -> String {
    let causes = reason.causes.iter().map(|cause| {
        let minutes = cause.minutes.abs();
        // Below a minute, the size matters less than that it is small.
        let size = if minutes < 1.0 {
            "less than 1 min".to_owned()
        } else {
            format!("{minutes:.0} min")
        };
        let way = if cause.minutes < 0.0 {
            "sooner"
        } else {
            "later"
        };
        format!("{}: {size} {way}", cause.change.sentence())
    });
    format!("{}.", causes.collect::<Vec<_>>().join("; "))
}

fn events(told: Told<'_>) -> Vec<Event> {
    let Told { bake, plan, .. } = told;
    let mut events = Vec::new();
    let mut add = |hour: f64, what: &str, text: String| {
        events.push(Event {
            hour,
            what: what.into(),
            text,
        })
    };
    if let Some(times) = &plan.preferment {
        let text = format!("{}. {}", preferment_mix(told), preferment_ripe(told));
        add(times.mixed_h, preferment_name(bake), text);
    }
    for stage in &plan.stages {
        if let Some(text) = stage_text(told, stage) {
            add(stage.start_h, stage.name, text);
        }
    }
    if let Some(hour) = plan.preheat_h {
        add(hour, "oven", "turn it on".into());
    }
    // What later loads do beside the first, whose own steps are the stages.
    let pieces = |group: &[Load]| group.iter().map(|l| l.pieces).sum::<u32>();
    for group in plan.at_once(|l| Some(l.divide_h)) {
        if group[0].number > 1 {
            let text = format!("divide {} pieces", pieces(group));
            add(group[0].divide_h, &name(group), text);
        }
    }
    for group in plan.at_once(|l| Some(l.shape_h)) {
        if group[0].number > 1 {
            let text = format!("shape {} pieces", pieces(group));
            add(group[0].shape_h, &name(group), text);
        }
    }
    for group in plan.at_once(|l| l.retarder_h.map(|c| c.0)) {
        if let Some((from, to)) = group[0].retarder_h {
            let place = cold_place(bake);
            let text = match group {
                [_] => format!("into {place} for {}", length(to - from)),
                _ => format!("into {place}"),
            };
            add(from, &name(group), text);
        }
    }
    for group in plan.at_once(Load::back_h) {
        if let Some(hour) = group[0].back_h() {
            add(hour, &name(group), "back to the proof place".into());
        }
    }
    for load in &plan.loads {
        let name = format!("load {}", load.number);
        let risk = match (load.in_window, load.past_chance) {
            (false, _) => " - OUTSIDE the window".to_owned(),
            (true, Some(chance)) if chance >= WORTH_A_WORD => {
                format!(" (too far: {:.0} %)", 100.0 * chance)
            }
            _ => String::new(),
        };
        let text = format!(
            "{} pieces into the oven at {:.0} % of proof{risk}",
            load.pieces,
            100.0 * load.ripeness
        );
        add(load.oven_in_h, &name, text);
        add(load.oven_out_h, &name, "out".into());
    }
    if let Some(cool) = plan.stages.iter().find(|s| s.name == "cool") {
        let text = "last load is cool enough to pack".into();
        add(cool.end_h, "cool", text);
    }
    events
}

/// `load 2`, `loads 2-3`: as short as the column.
fn name(group: &[Load]) -> String {
    match group {
        [one] => format!("load {}", one.number),
        [a, .., b] => format!("loads {}-{}", a.number, b.number),
        [] => String::new(),
    }
}

/// Minutes as far as they can be grasped, then hours.
fn length(hours: f64) -> String {
    if hours < 3.0 {
        format!("{:.0} min", 60.0 * hours)
    } else {
        time(hours)
    }
}

/// What to say of a stage of the first load; nothing of those that are told otherwise.
fn stage_text(told: Told<'_>, stage: &StageTime) -> Option<String> {
    let Told {
        bake,
        plan,
        calendar,
        ..
    } = told;
    let length = length(stage.end_h - stage.start_h);
    let between = match (stage.dough_start_c, stage.dough_end_c) {
        (Some(a), Some(b)) => format!("dough {a:.1} to {b:.1} °C"),
        _ => String::new(),
    };
    let water = pour(&plan.water, bake);
    let likely = likely(told, stage).map_or(String::new(), |l| format!(" (likely ready {l})"));
    Some(match stage.name {
        "preferment" | "bake" | "cool" => return None,
        // The pieces' stay in the cold is told with their loads.
        "cold"
            if plan
                .loads
                .iter()
                .any(|l| l.retarder_h.is_some_and(|c| c.0 == stage.start_h)) =>
        {
            return None;
        }
        "autolyse" => {
            let joins = with_preferment(told, Joins::Autolyse);
            format!("flour, water {water}{joins}; rest {length}, {between}")
        }
        "mix" => {
            let first = if plan.stages.iter().any(|s| s.name == "autolyse") {
                "salt".to_owned()
            } else {
                format!("flour, water {water}, salt")
            };
            let yeast = if plan.batch.mass_of(Role::Yeast, Stage::Mix).as_grams() > 0.0 {
                ", yeast"
            } else {
                ""
            };
            let first = format!("{first}{yeast}{}", with_preferment(told, Joins::Mix));
            let late = bassinage(told).map_or(String::new(), |w| format!("; {w}"));
            let dough = bake.process.dough.as_celsius();
            format!("{first}{late}; {length}, off the mixer at {dough:.1} °C")
        }
        "bulk" | "cold" | "warm up" => {
            let done = if ends_bulk(plan, stage) {
                format!(" to {:.0} % of doubled", 100.0 * plan.bulk_share)
            } else {
                String::new()
            };
            let within = |h: &&f64| (stage.start_h..stage.end_h).contains(*h);
            let folds = plan.folds_h.iter().filter(within);
            let folds: Vec<String> = folds.map(|&h| calendar.time(h)).collect();
            let fold = if folds.is_empty() {
                String::new()
            } else {
                format!("; fold {}", folds.join(", "))
            };
            format!("{length}{done}{likely}, {between}{fold}")
        }
        "divide" => format!("and pre-shape, {length}"),
        "proof" => format!("{length}{likely}, {between}"),
        _ => length,
    })
}

/// `, the poolish`, where it goes in at this step.
fn with_preferment(told: Told<'_>, step: Joins) -> String {
    match (&told.bake.formula.preferment, &told.bake.preferment) {
        (Some(own), Some(held)) if held.joins == step => format!(", the {}", own.kind.name()),
        _ => String::new(),
    }
}

fn weights(page: &mut Page, plan: &Plan, answer: &PlanAnswer) {
    let of = |stage: Stage, times: f64| {
        let used = plan.batch.ingredients.iter();
        let used = used.filter(|i| i.stage == stage && i.mass.as_grams() > 0.0);
        let items = used.map(|i| format!("{} {}", i.name, mass(times * i.mass.as_grams())));
        items.collect::<Vec<_>>().join(", ")
    };
    for stage in Stage::ALL {
        let mut lines = vec![(capital(stage.name()), of(stage, 1.0))];
        if stage == Stage::Preferment && plan.preferment_times > 1.0 {
            let title = format!("{} for both doughs", capital(stage.name()));
            lines.insert(0, (title, of(stage, plan.preferment_times)));
            lines[1].0 = "Of it for this dough".to_owned();
        }
        for (title, items) in lines.iter().filter(|l| !l.1.is_empty()) {
            page.gap();
            page.item(&format!("{title}: "), items);
        }
    }
    let weigh = |d: &Option<DoseAt>| d.as_ref().and_then(|d| d.weigh.clone());
    for (name, recipe) in [
        ("preferment", weigh(&answer.yeast.preferment)),
        ("mix", weigh(&answer.yeast.mix)),
    ] {
        if let Some(recipe) = recipe {
            page.gap();
            page.item(&format!("Yeast of the {name}: "), &format!("{recipe}."));
        }
    }
    let doses = [
        ("preferment", &answer.yeast.preferment),
        ("mix", &answer.yeast.mix),
    ];
    let per_litre: Vec<String> = doses
        .into_iter()
        .filter_map(|(name, dose)| Some((name, dose.as_ref()?.per_litre_g?)))
        .map(|(name, g)| format!("{name} {}", mass(g)))
        .collect();
    if !per_litre.is_empty() {
        page.gap();
        page.item(
            "Yeast to a litre of its own water: ",
            &format!("{}.", per_litre.join(", ")),
        );
    }
    let (balance, rule) = (&answer.water.heat_balance, &answer.water.ddt_formula);
    if let (Some(b), Some(r)) = (balance, rule) {
        page.gap();
        page.say(format!(
            "Water of the dough by the heat balance {}, by the sum rule {}: the rule weighs flour, room and water alike, the balance by their heat. 1 K in the water moves the dough by {:.2} K.",
            temperature(b.water_c),
            temperature(r.water_c),
            b.dough_per_water
        ));
    }
}
