//! The three paragraphs of the sheet: evening, morning, oven.

use crate::outputs::Told;
use crate::outputs::steps::{
    WORTH_A_WORD, bassinage, capital, cold_place, ends_bulk, likely, loads, pour, preferment_mix,
    preferment_name, preferment_ripe,
};
use crate::render::time;
use pointage::plan::bake::Joins;
use pointage::plan::{Load, StageTime};
use pointage::units::as_hours;

/// Most loads that are told one by one.
const MANY: usize = 3;

/// A sentence, and the hour that decides in which paragraph it stands.
struct Sentence {
    hour: f64,
    text: String,
}

/// Titles and texts.
pub fn paragraphs(told: Told<'_>) -> [(&'static str, String); 3] {
    let Told { plan, calendar, .. } = told;
    let first_in = plan.loads.first().map_or(0.0, |l| l.oven_in_h);
    let oven_day = calendar.at(first_in).date();
    let mut sentences = sentences(told);
    sentences.sort_by(|a, b| a.hour.total_cmp(&b.hour));
    let start = plan.stages.first().map_or(first_in, |s| s.start_h);
    let is_before = |s: &Sentence| calendar.at(s.hour).date() < oven_day;
    let (evening, morning): (Vec<_>, Vec<_>) = sentences.into_iter().partition(is_before);
    let text = |sentences: Vec<Sentence>| {
        let from = sentences.first()?.hour;
        let texts: Vec<String> = sentences.into_iter().map(|s| s.text).collect();
        Some(format!("{}. {}", calendar.day(from), texts.join(" ")))
    };
    let evening = text(evening).unwrap_or_else(|| {
        format!(
            "Nothing has to be mixed the evening before. Weigh what keeps, and see that flour and water are as cold or warm as planned; work begins on {} at {}.",
            calendar.day(start),
            calendar.time(start)
        )
    });
    let morning = text(morning)
        .unwrap_or_else(|| "Nothing to do to the dough before it is baked.".to_owned());
    [
        ("Evening", evening),
        ("Morning", morning),
        ("Oven", oven(told)),
    ]
}

fn sentences(told: Told<'_>) -> Vec<Sentence> {
    let Told {
        bake,
        plan,
        calendar,
        ..
    } = told;
    let mut sentences = Vec::new();
    let mut say = |hour: f64, text: String| sentences.push(Sentence { hour, text });
    let at = |h: f64| calendar.time(h);
    let water = pour(&plan.water, bake);
    let autolyse = plan.stages.iter().any(|s| s.name == "autolyse");
    let joins = bake.preferment.as_ref().map(|p| p.joins);
    let kind = preferment_name(bake);
    for stage in &plan.stages {
        let from = at(stage.start_h);
        let until = calendar.time_beside(stage.end_h, stage.start_h);
        let length = time(stage.end_h - stage.start_h);
        let likely = likely(told, stage).map_or(String::new(), |l| format!(" (likely {l})"));
        let text = match stage.name {
            "preferment" => format!(
                "Mix the {kind} at {from}: {}. {}",
                preferment_mix(told),
                preferment_ripe(told)
            ),
            "autolyse" => {
                let with = match joins {
                    Some(Joins::Autolyse) => format!(" and the {kind}"),
                    _ => String::new(),
                };
                format!(
                    "Stir flour, water ({water}){with} together at {from} and let it rest {length}."
                )
            }
            "mix" => {
                let all = match (autolyse, joins) {
                    (false, Some(_)) => format!("everything with the {kind} and water ({water})"),
                    (false, None) => format!("everything with water ({water})"),
                    (true, Some(Joins::Mix)) => format!("with the {kind} and all the rest"),
                    (true, _) => "with all the rest".to_owned(),
                };
                let late = bassinage(told).map_or(String::new(), |w| format!(", the {w} last"));
                format!(
                    "Mix {all} at {from} for {length}{late}; it should leave the mixer at {:.1} °C.",
                    bake.process.dough.as_celsius()
                )
            }
            "bulk" | "cold" | "warm up" if !stage_of_pieces(told, stage) => {
                let place = match stage.name {
                    "cold" => "in the cold",
                    "warm up" => "in its place again",
                    _ => "in bulk",
                };
                let done = if ends_bulk(plan, stage) {
                    let share = 100.0 * plan.bulk_share;
                    format!(" to {share:.0} % of doubled, until about {until}{likely}")
                } else {
                    format!(" until {until}")
                };
                format!("It rises {place}{done}{}.", folds(told, stage))
            }
            "divide" => format!("Divide and pre-shape at {from}."),
            "shape" => {
                let group = plan.at_once(|l| Some(l.shape_h))[0];
                if group.len() == plan.loads.len() {
                    format!("Shape at {from}.")
                } else {
                    format!("Shape {} at {from}.", loads(group))
                }
            }
            _ => continue,
        };
        say(stage.start_h, text);
    }
    for group in plan.at_once(|l| Some(l.divide_h)) {
        if group[0].number > 1 {
            let hour = group[0].divide_h;
            say(hour, format!("Divide {} at {}.", loads(group), at(hour)));
        }
    }
    let shaped: Vec<_> = plan.at_once(|l| Some(l.shape_h)).split_off(1);
    if let (Some(first), Some(last), true) = (shaped.first(), shaped.last(), shaped.len() > MANY) {
        let (from, to) = (first[0].shape_h, last[0].shape_h);
        say(
            from,
            format!(
                "Shape the other loads one after the other, from {} to {}: see the table.",
                at(from),
                at(to)
            ),
        );
    } else {
        for group in shaped {
            let hour = group[0].shape_h;
            say(hour, format!("Shape {} at {}.", loads(group), at(hour)));
        }
    }
    cooled(told, &mut say);
    if let Some(hour) = plan.preheat_h {
        say(hour, format!("Turn on the oven at {}.", at(hour)));
    }
    back(told, &mut say);
    sentences
}

/// When loads go into the cold.
fn cooled(told: Told<'_>, say: &mut impl FnMut(f64, String)) {
    let place = cold_place(told.bake);
    let at = |h: f64| told.calendar.time(h);
    let cooled = told.plan.at_once(|l| l.retarder_h.map(|c| c.0));
    let from = |group: &[Load]| group[0].retarder_h.map_or(0.0, |c| c.0);
    if let (Some(first), true) = (cooled.first(), cooled.len() > MANY) {
        let text = format!(
            "They go into {place} as they are shaped, the first at {}.",
            at(from(first))
        );
        say(from(first), text);
        return;
    }
    for group in cooled {
        let who = capital(&loads(group));
        let verb = if group.len() == 1 { "goes" } else { "go" };
        let hour = from(group);
        say(hour, format!("{who} {verb} into {place} at {}.", at(hour)));
    }
}

/// When loads come out of the cold, in as few words as it takes.
fn back(told: Told<'_>, say: &mut impl FnMut(f64, String)) {
    let all: Vec<(u32, f64)> = told
        .plan
        .loads
        .iter()
        .filter_map(|l| Some((l.number, l.back_h()?)))
        .collect();
    let at = |h: f64| told.calendar.time(h);
    let Some(&(_, first)) = all.first() else {
        return;
    };
    if all.len() <= MANY {
        let each: Vec<String> = all
            .iter()
            .map(|(n, h)| format!("load {n} at {}", at(*h)))
            .collect();
        say(
            first,
            format!("Back to the proof place: {}.", each.join(", ")),
        );
    } else {
        let last = all[all.len() - 1].1;
        say(
            first,
            format!(
                "One after the other they come back to the proof place, from {} to {}: see the table.",
                at(first),
                at(last)
            ),
        );
    }
}

/// The pieces' stay in the cold, which is told with their loads.
fn stage_of_pieces(told: Told<'_>, stage: &StageTime) -> bool {
    let starts = |l: &Load| l.retarder_h.is_some_and(|c| c.0 == stage.start_h);
    told.plan.loads.iter().any(starts)
}

fn folds(told: Told<'_>, stage: &StageTime) -> String {
    let within = |h: &&f64| (stage.start_h..stage.end_h).contains(*h);
    let folds = told.plan.folds_h.iter().filter(within);
    let folds: Vec<String> = folds.map(|&h| told.calendar.time(h)).collect();
    match folds.as_slice() {
        [] => String::new(),
        all => format!("; fold it at {}", listed(all)),
    }
}

/// `a`, `a and b`, `a, b and c`
fn listed(all: &[String]) -> String {
    match all.split_last() {
        Some((last, before)) if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        Some((last, _)) => last.clone(),
        None => String::new(),
    }
}

fn oven(told: Told<'_>) -> String {
    let Told {
        bake,
        plan,
        calendar,
        ..
    } = told;
    let at = |h: f64| calendar.time(h);
    let (Some(first), Some(last)) = (plan.loads.first(), plan.loads.last()) else {
        return String::new();
    };
    let proof = plan.stages.iter().find(|s| s.name == "proof");
    let likely = proof.and_then(|s| likely(told, s));
    let likely = likely.map_or(String::new(), |l| format!(" (likely ready {l})"));
    let bake_time = time(as_hours(bake.oven.bake));
    let mut text = format!("{}. ", calendar.day(first.oven_in_h));
    if plan.loads.len() <= 4 {
        let each: Vec<String> = plan
            .loads
            .iter()
            .map(|l| {
                let likely = if l.number == 1 { likely.as_str() } else { "" };
                format!("load {} at {}{likely}", l.number, at(l.oven_in_h))
            })
            .collect();
        let out: Vec<String> = plan.loads.iter().map(|l| at(l.oven_out_h)).collect();
        text += &format!(
            "Into the oven: {}. Each bakes {bake_time}: out at {}.",
            listed(&each),
            listed(&out)
        );
    } else {
        let cycle = plan.loads[1].oven_in_h - first.oven_in_h;
        text += &format!(
            "Load 1 goes in at {}{likely}, then a load every {}, the last (load {}) at {}. Each bakes {bake_time}; the first is out at {}, the last at {}.",
            at(first.oven_in_h),
            time(cycle),
            last.number,
            at(last.oven_in_h),
            at(first.oven_out_h),
            at(last.oven_out_h)
        );
    }
    if let Some(cool) = plan.stages.iter().find(|s| s.name == "cool") {
        text += &format!(" The last is cool enough to pack at {}.", at(cool.end_h));
    }
    let risk = |l: &&Load| l.past_chance.is_some_and(|c| c >= WORTH_A_WORD);
    let worst = plan.loads.iter().filter(risk).max_by(|a, b| {
        a.past_chance
            .partial_cmp(&b.past_chance)
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    if let Some((load, chance)) = worst.and_then(|l| Some((l, l.past_chance?))) {
        text += &format!(
            " By the clock alone, load {} is past its window with a chance of {:.0} %: look at the dough before its hour.",
            load.number,
            100.0 * chance
        );
    }
    text
}
