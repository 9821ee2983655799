//! A plan as a sheet for the wall (HTML): a timeline to tick off, that needs nothing but itself.

use super::PlanView;
use crate::CARE;
use crate::render::bound;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use pointage::plan::Finding;
use pointage_api::Sentence;
use pointage_api::steps::Step;

const STYLE: &str = include_str!("sheet/style.css");
/// Smallest type, smallest in which one column is better than a larger one in two, and largest, in half points.
const TYPES: [u32; 3] = [18, 22, 28];
/// Most loads on one page.
const ONE_PAGE: usize = 12;

/// Writes the sheet.
pub fn sheet(view: PlanView<'_>) -> String {
    let first_in = view.plan.loads.first().map_or(0.0, |l| l.oven_in_h);
    let date = view
        .calendar
        .at(first_in)
        .strftime("%A %-d %B %Y")
        .to_string();
    let [single, halves] = &[false, true].map(|halves| Sheet::new(view, halves));
    let [least, good, most] = TYPES;
    let large = (good..=most).rev().map(|n| (n, single));
    let all = (least..=most)
        .rev()
        .flat_map(|n| [(n, single), (n, halves)]);
    let fits = large
        .chain(all)
        .find(|(n, sheet)| sheet.fits(0.5 * f64::from(*n)));
    let is_short = view.plan.loads.len() <= ONE_PAGE;
    let densest = if is_short { halves } else { single };
    let (half_points, sheet) = fits.unwrap_or((least, densest));
    let points = 0.5 * f64::from(half_points);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (view.bake.name) ", " (date) }
                style { (PreEscaped(STYLE)) "@media print { html { font-size: " (points) "pt } }" }
            }
            body {
                main.one-page[is_short || fits.is_some()] {
                    h1 { (view.bake.name) }
                    p { (date) ": " (view.pieces()) "." }
                    p { strong { (view.summary()) } }
                    @if let Some(problem) = &sheet.problem {
                        p.problem { strong { "Does not fit: " } (problem) }
                    }
                    div.top { (weights(view)) (measured(view)) }
                    div.steps.halves[sheet.columns.len() > 1] {
                        @for column in &sheet.columns { (sheet.timeline(column)) }
                    }
                    section.foot {
                        h2 { "Cautions" }
                        ul { @for caution in &sheet.cautions { li { (caution) } } }
                    }
                }
            }
        }
    };
    page.into_string()
}

/// The titles of a table.
fn head(titles: &[impl AsRef<str>]) -> Markup {
    html! { thead { tr { @for title in titles { th scope="col" { (title.as_ref()) } } } } }
}

fn weights(view: PlanView<'_>) -> Markup {
    let weights = view.weights();
    html! {
        section {
            table.numbers {
                (head(&[&["Weigh".to_owned()], &weights.columns[..]].concat()))
                tbody {
                    @for (name, cells) in &weights.rows {
                        tr { th scope="row" { (name) } @for cell in cells { td { (cell) } } }
                    }
                }
            }
            @for slurry in view.steps.iter().filter_map(|s| s.slurry) {
                p.small { (slurry.sentence()) }
            }
        }
    }
}

/// How warm to pour and how warm the dough shall be, and blanks for what is measured.
fn measured(view: PlanView<'_>) -> Markup {
    let waters = view.mixes().flat_map(|(step, mix)| {
        step.amounts.iter().filter_map(move |a| {
            let is_water = a.name == "water";
            let name = if is_water {
                mix.clone()
            } else {
                a.name.clone()
            };
            Some((name, a.pour_c?, &step.look_for))
        })
    });
    html! {
        section {
            table.numbers {
                (head(&["Water", "pour at", "then"]))
                tbody {
                    @for (name, pour_c, look) in waters {
                        tr {
                            th scope="row" { (name) }
                            td.large { (format!("{pour_c:.0} °C")) }
                            td { @if let Some(dough) = look { (dough) } }
                        }
                    }
                }
            }
            h2 { "Measured, °C" }
            table.blanks {
                @for pair in [["Room", "Flour"], ["Tap", "Dough"]] {
                    tr { @for name in pair { th scope="row" { (name) } td { } } }
                }
            }
        }
    }
}

/// What to look out for at the work, and what was changed but for the weights; the rest stands in the plan's text.
fn cautions(view: PlanView<'_>) -> Vec<String> {
    use Finding as F;
    let plan = view.plan;
    let found = plan.warnings.iter().chain(&plan.notes);
    let found = found.filter(|finding| {
        matches!(
            finding,
            F::ExtraPreferment { .. }
                | F::SmallMixer { .. }
                | F::SmallTub { .. }
                | F::FullBoards { .. }
                | F::FullRetarder { .. }
                | F::UnevenLoads { .. }
                | F::InstantYeast { .. }
                | F::WarmDough { .. }
                | F::Water { .. }
                | F::Fridge
                | F::LateFolds { .. }
        )
    });
    // Behind the plan's own warnings stand those of weighing.
    let weighing = view.answer.warnings.iter().skip(plan.warnings.len());
    let day = plan.stages.first().zip(plan.stages.last());
    let clock = day.map(|(first, last)| view.calendar.remarks(first.start_h, last.end_h));
    let clock = clock.unwrap_or_default();
    let remarks = weighing.chain(&clock);
    // Changed yeast stands in the weights.
    let is_weighed = |f: &&F| matches!(f, F::ChangeYeast { .. } | F::ChangePreferment { .. });
    let changes = plan.changes.iter().filter(|f| !is_weighed(f));
    let own = changes.chain(found).map(|f| f.sentence().to_string());
    let own = own.chain(remarks.map(ToString::to_string));
    let zone = view.calendar.zone.iana_name();
    let zone = zone.map_or(String::new(), |zone| format!(" Times of {zone}."));
    let judge = format!("Judge the dough, not the clock: likely times hold 4 times in 5.{zone}");
    let care = format!("Do not taste raw dough; {CARE}");
    own.chain([judge, care]).collect()
}

/// A layout of the sheet, with the texts whose lengths decide its type.
struct Sheet<'a> {
    view: PlanView<'a>,
    problem: Option<String>,
    columns: Vec<Vec<&'a Step<f64>>>,
    cautions: Vec<String>,
}

impl<'a> Sheet<'a> {
    fn new(view: PlanView<'a>, halves: bool) -> Self {
        let steps: Vec<&Step<f64>> = view.listed().collect();
        let problem = view.plan.problem.as_ref();
        let mut sheet = Self {
            view,
            problem: problem.map(|p| bound(&p.sentence().to_string())),
            columns: vec![steps.clone()],
            cautions: cautions(view),
        };
        if halves {
            // The left column is as high as the right, or a step higher.
            let heights: Vec<f64> = steps.iter().map(|s| sheet.row(s, 59.0, true)).collect();
            let all: f64 = heights.iter().sum();
            let left = |n: &usize| 2.0 * heights[..*n].iter().sum::<f64>() >= all;
            let (left, right) = steps.split_at((0..steps.len()).find(left).unwrap_or(0));
            sheet.columns = vec![left.to_vec(), right.to_vec()];
        }
        sheet
    }

    fn timeline(&self, steps: &[&Step<f64>]) -> Markup {
        let (calendar, halves) = (self.view.calendar, self.columns.len() > 1);
        let look = (!halves).then_some("What to look for");
        let titles = ["Done", "Time", "What to do"].into_iter().chain(look);
        let titles: Vec<&str> = titles.chain(["Actual"]).collect();
        html! {
            table.timeline {
                (head(&titles))
                @for day in steps.chunk_by(|a, b| calendar.day(a.start) == calendar.day(b.start)) {
                    tbody {
                        tr.day { th colspan=(titles.len()) scope="rowgroup" { (calendar.day(day[0].start)) } }
                        @for step in day {
                            @let [doing, looking] = self.words(step, halves);
                            tr {
                                td.box { @if step.hands { i { } } }
                                td.time {
                                    (calendar.clock(step.start))
                                    @if let Some(offset) = calendar.offset(step.start) { small { (offset) } }
                                }
                                td { strong { (step.text) } " " (doing) }
                                @if !halves { td { (looking) } }
                                td.blank { }
                            }
                        }
                    }
                }
            }
        }
    }

    /// What stands beside a step's action and what in a column of its own, where there is one.
    fn words(&self, step: &Step<f64>, halves: bool) -> [String; 2] {
        let (doing, looking) = (self.view.doing(step), self.view.looking(step));
        let parts = match halves {
            true => [[doing, looking].concat(), Vec::new()],
            false => [doing, looking],
        };
        parts.map(|parts| bound(&parts.join("; ")))
    }

    /// Height of a step in units of the type, on a page so many wide.
    fn row(&self, step: &Step<f64>, width: f64, halves: bool) -> f64 {
        let [doing, looking] = self.words(step, halves);
        let doing = format!("{} {doing}", step.text);
        let ([wide, beside], least) = match halves {
            true => ([0.5 * width - 11.9, width], 1.6),
            false => ([0.71 * width - 15.2, 0.29 * width - 0.6], 1.75),
        };
        (1.25 * lines(&doing, wide).max(lines(&looking, beside)) + 0.3).max(least)
    }

    /// True when the sheet is one page. HTML cannot say "as large as fits", so the lines are counted from the texts,
    /// on the wide side, and laid on the lower and the narrower of the two papers.
    fn fits(&self, points: f64) -> bool {
        const HEIGHT_PT: f64 = (279.4 - 2.0 * 9.0) / 25.4 * 72.0;
        const WIDTH_PT: f64 = (210.0 - 2.0 * 11.0) / 25.4 * 72.0;
        let (view, width) = (self.view, WIDTH_PT / points);
        // Cautions are small, and never below 9 points.
        let size = (9.0 / points).max(0.85);
        let small = |text: &str, width: f64| 1.25 * size * lines(text, width / size);
        let halves = self.columns.len() > 1;
        let column = |steps: &Vec<&Step<f64>>| {
            let days =
                steps.chunk_by(|a, b| view.calendar.day(a.start) == view.calendar.day(b.start));
            let rows = steps.iter().map(|s| self.row(s, width, halves));
            1.85 * days.count() as f64 + rows.sum::<f64>()
        };
        let steps = self.columns.iter().map(column).fold(0.0, f64::max);
        let slurries = view.steps.iter().filter_map(|s| s.slurry);
        let slurries = slurries.map(|s| small(&s.sentence().to_string(), 0.56 * width));
        let weights = 1.42 * view.weights().rows.len() as f64 + slurries.sum::<f64>();
        let name = 1.92 * lines(&view.bake.name, width / 1.75);
        let problem = self.problem.as_ref();
        let problem = problem.map_or(0.0, |p| 1.25 * lines(p, width - 2.0) + 1.0);
        let cautions = self.cautions.iter().map(|c| small(c, width - 2.0));
        // Beside what is weighed stand three waters at most, and what is measured.
        let top = weights.max(10.9);
        (name + problem + top + steps + cautions.sum::<f64>() + 9.3) * points <= HEIGHT_PT
    }
}

/// Lines of a text in a column so many times as wide as its type.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // some ten to a hundred characters
fn lines(text: &str, width: f64) -> f64 {
    textwrap::wrap(text, (2.08 * width) as usize).len() as f64
}
