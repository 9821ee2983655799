//! A plan as a sheet for the wall (HTML): a timeline to tick off, that needs nothing but itself.

use super::Told;
use crate::CARE;
use crate::render::flags_only;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use pointage_api::sentences::Sentence;
use pointage_api::steps::Step;

const STYLE: &str = include_str!("sheet/style.css");
/// Most cautions of the plan's own.
const MOST_CAUTIONS: usize = 5;
/// Steps from which on the timeline stands in two columns.
const MANY: usize = 22;
/// Types to choose from, points.
const TYPES: [f64; 7] = [12.0, 11.5, 11.0, 10.5, 10.0, 9.5, 9.0];

/// Writes the sheet.
pub fn sheet(told: Told<'_>) -> String {
    let Told {
        bake,
        plan,
        calendar,
        ..
    } = told;
    let steps: Vec<&Step<f64>> = told.listed().collect();
    let cautions = cautions(told);
    let points = points(told, &steps, &cautions);
    let first_in = plan.loads.first().map_or(0.0, |l| l.oven_in_h);
    let date = calendar.at(first_in).strftime("%A %-d %B %Y").to_string();
    let halves = steps.len().div_ceil(if steps.len() > MANY { 2 } else { 1 });
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
                        p { (date) ": " (told.pieces()) ". " strong { (told.summary()) } }
                    }
                    @if let Some(problem) = &plan.problem {
                        p.problem { strong { "Does not fit: " } (problem.what) "; " (problem.nearest) "." }
                    }
                    div.top { (weights(told)) (measured(told)) }
                    section {
                        h2 { "Steps" }
                        div.halves[steps.len() > MANY] {
                            @for part in steps.chunks(halves.max(1)) { (timeline(told, part)) }
                        }
                    }
                    section.mind {
                        h2 { "Mind" }
                        ul { @for caution in &cautions { li { (caution) } } }
                    }
                }
            }
        }
    };
    page.into_string()
}

fn weights(told: Told<'_>) -> Markup {
    let weights = told.weights();
    html! {
        section {
            h2 { "Weights" }
            table {
                thead {
                    tr {
                        th scope="col" { "Ingredient" }
                        @for title in &weights.columns { th.number scope="col" { (title) } }
                    }
                }
                tbody {
                    @for (name, cells) in &weights.rows {
                        tr {
                            th.free scope="row" { (name) }
                            @for cell in cells { td.number { (cell) } }
                        }
                    }
                }
            }
            @for slurry in told.steps.iter().filter_map(|s| s.slurry) {
                p.small { (slurry.sentence()) }
            }
        }
    }
}

/// How warm to pour, and blanks for what is measured.
fn measured(told: Told<'_>) -> Markup {
    let waters = told.steps.iter().flat_map(|s| {
        let waters = s.amounts.iter().filter(|a| a.name == "water");
        waters.filter_map(move |a| Some((&s.text, a.pour_c?)))
    });
    html! {
        section {
            h2 { "Water" }
            table {
                tbody {
                    @for (text, c) in waters {
                        tr {
                            th.free scope="row" { (text) }
                            td.number { "pour at " strong.large { (format!("{c:.0} °C")) } }
                        }
                    }
                }
            }
            h2 { "Measured, °C" }
            table.blanks {
                tbody {
                    @for pair in [["Room", "Flour"], ["Tap", "Dough"]] {
                        tr { @for name in pair { th scope="row" { (name) } td { } } }
                    }
                }
            }
        }
    }
}

fn timeline(told: Told<'_>, steps: &[&Step<f64>]) -> Markup {
    let calendar = told.calendar;
    let mut days = steps.chunk_by(|a, b| calendar.day(a.start) == calendar.day(b.start));
    html! {
        table.timeline {
            thead {
                tr {
                    th scope="col" { "Done" }
                    th scope="col" { "Time" }
                    th scope="col" { "What to do, what to look for" }
                    th scope="col" { "Actual" }
                }
            }
            @for day in &mut days {
                tbody {
                    tr.day { th colspan="4" scope="rowgroup" { (calendar.day(day[0].start)) } }
                    @for step in day {
                        tr {
                            td.box { @if step.hands { i { } } }
                            td.time { (calendar.time(step.start)) }
                            td { strong { (step.text) } " " (told.details(step)) }
                            td.blank { }
                        }
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
    let shown = own.iter().take(MOST_CAUTIONS);
    let mut cautions: Vec<String> = shown.map(|text| flags_only(text)).collect();
    if let Some(more) = own.len().checked_sub(MOST_CAUTIONS).filter(|n| *n > 0) {
        cautions.push(format!("{more} more cautions stand in the plan's text."));
    }
    let zone = told.calendar.zone().iana_name();
    let zone = zone.map_or(String::new(), |zone| format!(" Times of {zone}."));
    cautions.push(format!(
        "Judge the dough, not the clock: likely times hold 4 times in 5.{zone}"
    ));
    cautions.push(format!("Do not taste raw dough; {CARE}"));
    cautions
}

/// The largest type with which the sheet is one page. HTML cannot say "as large as fits", so the lines are counted from
/// the texts, on the wide side, and laid on the lower and the narrower of the two papers.
fn points(told: Told<'_>, steps: &[&Step<f64>], cautions: &[String]) -> f64 {
    const HEIGHT_PT: f64 = (279.4 - 2.0 * 9.0) / 25.4 * 72.0;
    const WIDTH_PT: f64 = (210.0 - 2.0 * 11.0) / 25.4 * 72.0;
    let height = |points: f64| {
        let width = WIDTH_PT / points;
        let lines = |text: &str, room: f64| (text.chars().count() as f64 / (room * 1.95)).ceil();
        let weights = told.weights();
        let slurries = told.steps.iter().filter_map(|s| s.slurry).count() as f64;
        let top = (2.8 + 1.6 * weights.rows.len() as f64 + 3.2 * slurries).max(11.0);
        let halves = if steps.len() > MANY { 2.0 } else { 1.0 };
        let room = width / halves - if halves > 1.0 { 12.0 } else { 17.0 };
        let row = |step: &&Step<f64>| {
            let text = format!("{} {}", step.text, told.details(step));
            (lines(&text, room) * 1.25 + 0.5).max(2.03)
        };
        let rows: f64 = steps.iter().map(row).sum::<f64>() / halves;
        let mind: f64 = cautions.iter().map(|c| lines(c, width * 1.1) * 1.12).sum();
        let problem = told.plan.problem.as_ref();
        let problem = problem.map_or(0.0, |p| {
            2.0 + 1.3 * lines(&(p.what.clone() + &p.nearest), width)
        });
        (3.6 + problem + top + 6.6 + rows + 2.0 + mind) * points
    };
    let fits = |points: &f64| height(*points) <= HEIGHT_PT;
    TYPES
        .into_iter()
        .find(fits)
        .unwrap_or(TYPES[TYPES.len() - 1])
}
