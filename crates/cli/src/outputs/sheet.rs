//! A plan as a sheet for the wall (HTML): a timeline to tick off, that needs nothing but itself.

use super::PlanView;
use crate::CARE;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use pointage_api::steps::Step;
use pointage_api::{Remark, Sentence};

const STYLE: &str = include_str!("sheet/style.css");
/// Most cautions of the plan's own.
const MOST_CAUTIONS: usize = 5;
/// Steps that stand in two columns: fewer fill a page in one, more go over many pages.
const IN_HALVES: std::ops::RangeInclusive<usize> = 23..=62;
/// Types to choose from, points.
const TYPES: [f64; 7] = [12.0, 11.5, 11.0, 10.5, 10.0, 9.5, 9.0];

/// Writes the sheet.
pub fn sheet(view: PlanView<'_>) -> String {
    let (bake, plan, calendar) = (view.bake, view.plan, view.calendar);
    let steps: Vec<&Step<f64>> = view.listed().collect();
    let cautions = cautions(view);
    let points = points(view, &steps, &cautions);
    let first_in = plan.loads.first().map_or(0.0, |l| l.oven_in_h);
    let date = calendar.at(first_in).strftime("%A %-d %B %Y").to_string();
    let parts = columns(view, &steps);
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
                        p { (date) ": " (view.pieces()) ". " strong { (view.summary()) } }
                    }
                    @if let Some(problem) = &plan.problem {
                        p.problem { strong { "Does not fit: " } (problem.sentence().to_string()) }
                    }
                    div.top { (weights(view)) (measured(view)) }
                    section {
                        h2 { "Steps" }
                        div.halves[parts.len() > 1] {
                            @for part in &parts { (timeline(view, part)) }
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

fn weights(view: PlanView<'_>) -> Markup {
    let weights = view.weights();
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
            @for slurry in view.steps.iter().filter_map(|s| s.slurry) {
                p.small { (slurry.sentence()) }
            }
        }
    }
}

/// How warm to pour, and blanks for what is measured.
fn measured(view: PlanView<'_>) -> Markup {
    let waters = view.steps.iter().flat_map(|s| {
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

fn timeline(view: PlanView<'_>, steps: &[&Step<f64>]) -> Markup {
    let calendar = view.calendar;
    let mut days = steps.chunk_by(|a, b| calendar.day(a.start) == calendar.day(b.start));
    html! {
        table.timeline {
            thead {
                tr {
                    @for title in ["Done", "Time", "What to do, what to look for", "Actual"] {
                        th scope="col" { (title) }
                    }
                }
            }
            @for day in &mut days {
                tbody {
                    tr.day { th colspan="4" scope="rowgroup" { (calendar.day(day[0].start)) } }
                    @for step in day {
                        tr {
                            td.box { @if step.hands { i { } } }
                            td.time { (calendar.time(step.start)) }
                            td { strong { (step.text) } " " (view.details(step)) }
                            td.blank { }
                        }
                    }
                }
            }
        }
    }
}

/// What to look out for, the plan's own first, as far as a page holds them.
fn cautions(view: PlanView<'_>) -> Vec<String> {
    let own = view.answer.warnings.iter().chain(&view.answer.notes);
    let own: Vec<String> = own.map(Remark::to_string).collect();
    let mut cautions: Vec<String> = own.iter().take(MOST_CAUTIONS).cloned().collect();
    if let Some(more) = own.len().checked_sub(MOST_CAUTIONS).filter(|n| *n > 0) {
        cautions.push(format!("{more} more cautions stand in the plan's text."));
    }
    let zone = view.calendar.zone.iana_name();
    let zone = zone.map_or(String::new(), |zone| format!(" Times of {zone}."));
    cautions.push(format!(
        "Judge the dough, not the clock: likely times hold 4 times in 5.{zone}"
    ));
    cautions.push(format!("Do not taste raw dough; {CARE}"));
    cautions
}

/// Lines of a step where so many characters stand in one.
fn lines(view: PlanView<'_>, step: &Step<f64>, chars: f64) -> f64 {
    let text = format!("{} {}", step.text, view.details(step));
    (text.chars().count() as f64 / chars).ceil()
}

/// The timeline, or its two halves: equally long.
fn columns<'a>(view: PlanView<'_>, steps: &'a [&'a Step<f64>]) -> Vec<&'a [&'a Step<f64>]> {
    if !IN_HALVES.contains(&steps.len()) {
        return vec![steps];
    }
    let height = |part: &[&Step<f64>]| part.iter().map(|s| lines(view, s, 38.0)).sum::<f64>();
    let whole = height(steps);
    let splits = (0..steps.len()).find(|&i| 2.0 * height(&steps[..i]) >= whole);
    let (left, right) = steps.split_at(splits.unwrap_or(0));
    vec![left, right]
}

/// The largest type with which the sheet is one page. HTML cannot say "as large as fits", so the lines are counted from
/// the texts, on the wide side, and laid on the lower and the narrower of the two papers.
fn points(view: PlanView<'_>, steps: &[&Step<f64>], cautions: &[String]) -> f64 {
    const HEIGHT_PT: f64 = (279.4 - 2.0 * 9.0) / 25.4 * 72.0;
    const WIDTH_PT: f64 = (210.0 - 2.0 * 11.0) / 25.4 * 72.0;
    let weights = view.weights().rows.len() as f64;
    let slurries = view.steps.iter().filter_map(|s| s.slurry).count() as f64;
    let top = (2.8 + 1.6 * weights + 3.2 * slurries).max(11.0);
    let problem = view.plan.problem.as_ref();
    let problem = problem.map_or(0, |p| p.sentence().to_string().chars().count()) as f64;
    // Columns of the timeline, what stands beside its texts, and its lowest row, in units of the type.
    let (columns, beside, row) = if IN_HALVES.contains(&steps.len()) {
        (2.0, 10.5, 1.66)
    } else {
        (1.0, 17.0, 2.03)
    };
    let height = |points: f64| {
        let width = WIDTH_PT / points;
        let chars = 1.95 * (width / columns - beside);
        let step = |step: &&Step<f64>| (lines(view, step, chars) * 1.25 + 0.5).max(row);
        let steps: f64 = steps.iter().map(step).sum::<f64>() / columns;
        let mind = cautions.iter().map(|c| c.chars().count() as f64);
        let mind: f64 = mind.map(|n| 1.12 * (n / (2.1 * width)).ceil()).sum();
        let problem = 1.3 * (problem / (1.9 * width)).ceil();
        (10.4 + problem + top + steps + mind) * points
    };
    let fits = |points: &f64| height(*points) <= HEIGHT_PT;
    TYPES.into_iter().find(fits).unwrap_or(TYPES[6])
}
