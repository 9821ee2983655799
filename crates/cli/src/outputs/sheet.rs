//! A plan as a sheet for the wall (HTML): one printed page, A4 or Letter, that needs nothing but itself.
//!
//! First three paragraphs that a tired reader can follow: evening, morning, oven. Then weights, water, the
//! clock with its ranges, and blanks for what is measured.

mod size;
mod story;

use super::Told;
use super::steps::{capital, ends_bulk, likely, pieces, preferment_name};
use crate::CARE;
use crate::render::mass;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use pointage::formula::{Ingredient, Role, Stage};
use pointage::plan::{Load, MixWater, StageTime};
use size::Content;

/// Most loads that are listed one by one; of more, the first ones and the last.
const MOST_LOADS: usize = 48;
/// Most cautions of the plan's own.
const MOST_CAUTIONS: usize = 8;
/// Most loads that stand beside the rest; more stand below, in two halves.
const FEW_LOADS: usize = 6;

const STYLE: &str = include_str!("sheet/style.css");

/// Writes the sheet.
pub fn sheet(told: Told<'_>) -> String {
    let Told {
        bake,
        plan,
        calendar,
        ..
    } = told;
    let paragraphs = story::paragraphs(told);
    let cautions = cautions(told);
    let reading = reading(told);
    let points = Content {
        told,
        paragraphs: &paragraphs,
        cautions: &cautions,
    }
    .points();
    let first_in = plan.loads.first().map_or(0.0, |l| l.oven_in_h);
    let date = calendar.at(first_in).strftime("%A %-d %B %Y").to_string();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (bake.name) ", " (date) }
                style { (PreEscaped(STYLE)) "@media print { html { font-size: " (points) "pt } }" }
            }
            body {
                main {
                    header {
                        h1 { (bake.name) }
                        p { (date) ": " (pieces(told)) "." }
                    }
                    @if let Some(problem) = &plan.problem {
                        p.problem { strong { "Does not fit: " } (problem.what) "; " (problem.nearest) "." }
                    }
                    @for (title, text) in &paragraphs {
                        section {
                            h2 { (title) }
                            p { (text) }
                        }
                    }
                    div.columns {
                        div {
                            (weights(told))
                            (water(told))
                            (measured(told))
                        }
                        div {
                            (clock(told))
                            @if plan.loads.len() <= FEW_LOADS { (oven(told)) }
                        }
                    }
                    @if plan.loads.len() > FEW_LOADS { (oven(told)) }
                    section.mind {
                        h2 { "Mind" }
                        ul {
                            @for caution in &cautions { li { (caution) } }
                        }
                        p { (reading) }
                    }
                }
            }
        }
    };
    page.into_string()
}

/// The name of an ingredient; the second water is water, in its own column.
fn called(ingredient: &Ingredient) -> &str {
    match ingredient.role {
        Role::Water => "water",
        _ => &ingredient.name,
    }
}

/// The names of what is weighed, each once.
fn ingredients(told: Told<'_>) -> Vec<&str> {
    let mut names: Vec<&str> = Vec::new();
    for ingredient in &told.plan.batch.ingredients {
        let name = called(ingredient);
        if ingredient.mass.as_grams() > 0.0 && !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

fn weights(told: Told<'_>) -> Markup {
    let batch = &told.plan.batch;
    let used = |stage: Stage| batch.stage_mass(stage).as_grams() > 0.0;
    let stages: Vec<Stage> = Stage::ALL.into_iter().filter(|s| used(*s)).collect();
    let names = ingredients(told);
    let times = told.plan.preferment_times;
    // A preferment for two doughs: all of it, and this dough's part beside it.
    let mut columns: Vec<(String, Stage, f64)> = Vec::new();
    for &stage in &stages {
        match stage {
            Stage::Preferment => {
                let name = capital(preferment_name(told.bake));
                if times > 1.0 {
                    columns.push((format!("{name}, both doughs"), stage, times));
                    columns.push(("of it here".to_owned(), stage, 1.0));
                } else {
                    columns.push((name, stage, 1.0));
                }
            }
            _ => columns.push((capital(stage.name()), stage, 1.0)),
        }
    }
    let of = |name: &str, stage: Stage, times: f64| {
        let found = batch.ingredients.iter();
        let mut found = found.filter(|i| called(i) == name && i.stage == stage);
        let found = found.find(|i| i.mass.as_grams() > 0.0);
        found.map_or(String::new(), |i| mass(times * i.mass.as_grams()))
    };
    html! {
        section {
            h2 { "Weights" }
            table {
                thead {
                    tr {
                        th scope="col" { "Ingredient" }
                        @for (title, ..) in &columns { th.number scope="col" { (title) } }
                    }
                }
                tbody.free {
                    @for name in &names {
                        tr {
                            th scope="row" { (name) }
                            @for (_, stage, times) in &columns { td.number { (of(name, *stage, *times)) } }
                        }
                    }
                }
            }
            @for recipe in recipes(told) { p.small { (recipe) } }
        }
    }
}

/// How to weigh what is too little for the scale.
fn recipes(told: Told<'_>) -> Vec<String> {
    let yeast = &told.answer.yeast;
    let doses = [
        (preferment_name(told.bake), &yeast.preferment),
        ("mix", &yeast.mix),
    ];
    let recipes = doses.into_iter().filter_map(|(name, dose)| {
        let recipe = dose.as_ref()?.weigh.as_ref()?;
        Some(format!("Yeast of the {name}: {recipe}."))
    });
    recipes.collect()
}

/// How to read the times.
fn reading(told: Told<'_>) -> String {
    let zone = told.calendar.zone().iana_name();
    let zone = zone.map_or(String::new(), |zone| format!("Times of {zone}. "));
    format!(
        "{zone}Likely: 4 times out of 5, if you follow the dough. Chances: if you keep to the clock."
    )
}

fn water(told: Told<'_>) -> Markup {
    let plan = told.plan;
    let ahead = plan.preferment_water.as_ref();
    let ahead = ahead.map(|w| (capital(preferment_name(told.bake)), w));
    let mixes: Vec<(String, &MixWater)> = ahead
        .into_iter()
        .chain([("Dough".to_owned(), &plan.water)])
        .collect();
    let ice = mixes.iter().any(|(_, w)| w.balance_pour.is_some());
    let celsius = |c: Option<f64>| c.map_or("–".to_owned(), |c| format!("{c:.1} °C"));
    let weight = |g: Option<f64>| g.map_or("–".to_owned(), mass);
    html! {
        section {
            h2 { "Water and ice" }
            table {
                thead {
                    tr {
                        th scope="col" { "For the" }
                        th.number scope="col" { "Water" }
                        th.number scope="col" { "by heat" }
                        th.number scope="col" { "by sum rule" }
                        @if ice {
                            th.number scope="col" { "Ice" }
                            th.number scope="col" { "Tap" }
                        }
                    }
                }
                tbody {
                    @for (name, w) in &mixes {
                        tr {
                            th scope="row" { (name) }
                            td.number { (mass(w.water.as_grams())) }
                            td.number { (celsius(w.balance.map(|b| b.water.as_celsius()))) }
                            td.number { (celsius(w.ddt_formula.map(|r| r.water.as_celsius()))) }
                            @if ice {
                                td.number { (weight(w.balance_pour.map(|p| p.ice.as_grams()))) }
                                td.number { (weight(w.balance_pour.map(|p| p.tap.as_grams()))) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Blanks for what the plan was reckoned with.
fn measured(told: Told<'_>) -> Markup {
    let ahead = if told.bake.preferment.is_some() {
        "Preferment"
    } else {
        "Proof"
    };
    html! {
        section {
            h2 { "Measured °C" }
            table.blanks {
                tbody {
                    @for pair in [["Room", "Flour"], ["Tap", "Poured"], [ahead, "Dough"]] {
                        tr {
                            @for name in pair {
                                th scope="row" { (name) }
                                td { }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn clock(told: Told<'_>) -> Markup {
    let Told { plan, calendar, .. } = told;
    let first_in = plan.loads.first().map_or(0.0, |l| l.oven_in_h);
    let name = |stage: &StageTime| match stage.name {
        "preferment" => capital(preferment_name(told.bake)),
        "proof" if plan.loads.len() > 1 => "Proof, load 1".to_owned(),
        "bulk" if !ends_bulk(plan, stage) => "Bulk, first part".to_owned(),
        name => capital(name),
    };
    let folds = |stage: &StageTime| {
        let within = |h: &&f64| (stage.start_h..stage.end_h).contains(*h);
        let bulk = matches!(stage.name, "bulk" | "cold" | "warm up");
        let folds = plan.folds_h.iter().filter(within).filter(|_| bulk);
        folds
            .map(|&h| calendar.time(h))
            .collect::<Vec<_>>()
            .join(", ")
    };
    let stages = plan.stages.iter();
    let stages = stages.filter(|s| !matches!(s.name, "bake" | "cool"));
    html! {
        section {
            h2 { "Clock" }
            table {
                thead {
                    tr {
                        th scope="col" { "From" }
                        th scope="col" { "Stage" }
                        th scope="col" { "Ready" }
                        th scope="col" { "Likely ready" }
                        th.number scope="col" { "Dough °C" }
                        th.blank scope="col" { "Measured" }
                    }
                }
                tbody {
                    @for stage in stages {
                        tr {
                            td.time { (calendar.time_beside(stage.start_h, first_in)) }
                            th scope="row" {
                                (name(stage))
                                @let folds = folds(stage);
                                @if !folds.is_empty() { " " span.small { "fold " (folds) } }
                            }
                            td.time { (calendar.time_beside(stage.end_h, stage.start_h)) }
                            td.time { (ready(told, stage)) }
                            td.number { (degrees(stage)) }
                            td.blank { }
                        }
                    }
                }
            }
        }
    }
}

/// When a stage is likely to be ready, with days where they are not those of its start.
fn ready(told: Told<'_>, stage: &StageTime) -> String {
    let span = |(low, high)| {
        let beside = |h| told.calendar.time_beside(h, stage.start_h);
        if low <= stage.start_h {
            format!("start–{}", beside(high))
        } else {
            format!("{}–{}", beside(low), beside(high))
        }
    };
    let range = match (stage.name, &told.plan.preferment) {
        ("preferment", Some(p)) => p.ripe_range_h,
        _ => likely(told, stage).and(stage.end_range_h),
    };
    range.map(span).unwrap_or_default()
}

/// `25.0 to 24.2`
fn degrees(stage: &StageTime) -> String {
    match (stage.dough_start_c, stage.dough_end_c) {
        (Some(a), Some(b)) => format!("{a:.1} to {b:.1}"),
        (Some(one), None) | (None, Some(one)) => format!("{one:.1}"),
        (None, None) => String::new(),
    }
}

/// The loads to list: all, or the first ones and the last.
fn listed(loads: &[Load]) -> Vec<&Load> {
    match loads.split_last() {
        Some((last, _)) if loads.len() > MOST_LOADS => {
            loads[..MOST_LOADS - 1].iter().chain([last]).collect()
        }
        _ => loads.iter().collect(),
    }
}

fn oven(told: Told<'_>) -> Markup {
    let all = &told.plan.loads;
    let listed = listed(all);
    let half = listed.len().div_ceil(2);
    html! {
        section {
            h2 { "Loads" }
            @if all.len() <= FEW_LOADS {
                (loads(told, &listed))
            } @else {
                div.halves {
                    (loads(told, &listed[..half]))
                    (loads(told, &listed[half..]))
                }
            }
            p.small {
                "Proof: share of the end point on entering"
                @if all.iter().any(|l| !l.in_window) { " (! outside the window)" }
                ". Past: chance to be past the window."
                @if listed.len() < all.len() { " The loads between follow at the same distance." }
            }
        }
    }
}

fn loads(told: Told<'_>, listed: &[&Load]) -> Markup {
    let Told { plan, calendar, .. } = told;
    let time = |h: f64| calendar.time(h);
    let cold = plan.loads.iter().any(|l| l.retarder_h.is_some());
    let span = |span: Option<(f64, f64)>| {
        span.map_or(String::new(), |(a, b)| format!("{}–{}", time(a), time(b)))
    };
    let chance = |load: &Load| {
        let chance = load.past_chance;
        chance.map_or(String::new(), |c| format!("{:.0} %", 100.0 * c))
    };
    html! {
        table {
            thead {
                tr {
                    th scope="col" { "Load" }
                    th.number scope="col" { "Pieces" }
                    th scope="col" { "Shape" }
                    @if cold { th scope="col" { "Cool" } }
                    th scope="col" { "In" }
                    th scope="col" { "Out" }
                    th.number scope="col" { "Proof" }
                    th.number scope="col" { "Past" }
                }
            }
            tbody {
                @for load in listed {
                    tr {
                        th scope="row" { (load.number) }
                        td.number { (load.pieces) }
                        td { (time(load.shape_h)) }
                        @if cold { td { (span(load.retarder_h)) } }
                        td { strong { (time(load.oven_in_h)) } }
                        td { (time(load.oven_out_h)) }
                        td.number { (format!("{:.0} %", 100.0 * load.ripeness)) @if !load.in_window { " !" } }
                        td.number { (chance(load)) }
                    }
                }
            }
        }
    }
}

/// What to look out for, the plan's own first, as far as a page holds them.
fn cautions(told: Told<'_>) -> Vec<String> {
    let own = told.answer.warnings.iter().chain(&told.answer.notes);
    let own: Vec<&String> = own.collect();
    let mut cautions: Vec<String> = own
        .iter()
        .take(MOST_CAUTIONS)
        .map(ToString::to_string)
        .collect();
    if let Some(more) = own.len().checked_sub(MOST_CAUTIONS).filter(|n| *n > 0) {
        cautions.push(format!(
            "{more} more of the plan's cautions stand in its text."
        ));
    }
    cautions.push("Judge the dough, not the clock: the times tell you when to look.".to_owned());
    cautions.push(format!("Do not taste raw dough; {CARE}"));
    cautions
}
