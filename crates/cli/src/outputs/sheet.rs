//! A plan as a sheet for the wall (HTML): a timeline to tick off, that needs nothing but itself.

use super::PlanView;
use crate::CARE;
use crate::render::bound;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use pointage::plan::Finding;
use pointage_api::Sentence;
use pointage_api::steps::{Look, Step};

const STYLE: &str = include_str!("sheet/style.css");
/// Smallest type, smallest in which one column is better than a larger one in two, and largest, in half points.
const TYPES: [u32; 3] = [18, 22, 30];

/// Writes the sheet.
pub fn sheet(view: PlanView<'_>) -> String {
    let (bake, calendar) = (view.bake, view.calendar);
    let first_in = view.plan.loads.first().map_or(0.0, |l| l.oven_in_h);
    let date = calendar.at(first_in).strftime("%A %-d %B %Y").to_string();
    let [single, halves] = &[false, true].map(|halves| Sheet::new(view, halves));
    let [least, good, most] = TYPES;
    let large = (good..=most).rev().map(|n| (n, single));
    let all = (least..=most)
        .rev()
        .flat_map(|n| [(n, single), (n, halves)]);
    let fits = large
        .chain(all)
        .find(|(n, sheet)| sheet.fits(0.5 * f64::from(*n)));
    let densest = if view.plan.loads.len() > 12 {
        single
    } else {
        halves
    };
    let (half_points, sheet) = fits.unwrap_or((least, densest));
    let points = 0.5 * f64::from(half_points);
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
                main.one-page[fits.is_some()] {
                    header {
                        h1 { (bake.name) }
                        p { (date) ": " (view.pieces()) ". " strong { (view.summary()) } }
                        @if let Some(problem) = &sheet.problem {
                            p.problem { strong { "Does not fit: " } (problem) }
                        }
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

fn weights(view: PlanView<'_>) -> Markup {
    let weights = view.weights();
    html! {
        section {
            table {
                thead {
                    tr {
                        th scope="col" { "Weigh" }
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

/// How warm to pour and how warm the dough shall be, and blanks for what is measured.
fn measured(view: PlanView<'_>) -> Markup {
    let mixes = view.steps.iter().filter(|s| !s.amounts.is_empty());
    let waters = mixes.zip(view.weights().columns).flat_map(|(step, mix)| {
        step.amounts.iter().filter_map(move |a| {
            let name = if a.name == "water" { mix } else { &*a.name };
            Some((name, a.pour_c?, step.look))
        })
    });
    html! {
        section {
            table {
                thead {
                    tr {
                        th scope="col" { "Water" }
                        @for title in ["pour at", "dough to"] { th.number scope="col" { (title) } }
                    }
                }
                tbody {
                    @for (name, c, look) in waters {
                        tr {
                            th.free scope="row" { (name) }
                            td.number.large { (format!("{c:.0} °C")) }
                            td.number {
                                @if let Some(Look::Dough { dough_c }) = look {
                                    (0.1 * (10.0 * dough_c).round()) " °C"
                                }
                            }
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

/// What to look out for at the work; what concerns the plan stands in its text.
fn cautions(view: PlanView<'_>) -> Vec<String> {
    use Finding::{
        ExtraPreferment, FullBoards, FullRetarder, InstantYeast, SmallMixer, SmallTub, UnevenLoads,
        WarmDough, Water,
    };
    let plan = view.plan;
    let found = plan.warnings.iter().chain(&plan.notes).filter(|finding| {
        matches!(
            finding,
            ExtraPreferment { .. }
                | FullBoards { .. }
                | FullRetarder { .. }
                | InstantYeast { .. }
                | SmallMixer { .. }
                | SmallTub { .. }
                | UnevenLoads { .. }
                | WarmDough { .. }
                | Water { .. }
        )
    });
    // Behind the plan's own warnings stand those of weighing.
    let weighing = view.answer.warnings.iter().skip(plan.warnings.len());
    let own = found
        .map(|f| f.sentence().to_string())
        .chain(weighing.map(ToString::to_string));
    let zone = view.calendar.zone.iana_name();
    let zone = zone.map_or(String::new(), |zone| format!(" Times of {zone}."));
    let judge = format!("Judge the dough, not the clock: likely times hold 4 times in 5.{zone}");
    own.chain([judge, format!("Do not taste raw dough; {CARE}")])
        .collect()
}

/// The texts of a sheet whose lengths decide its type.
struct Sheet<'a> {
    view: PlanView<'a>,
    problem: Option<String>,
    columns: Vec<Vec<&'a Step<f64>>>,
    cautions: Vec<String>,
}

impl<'a> Sheet<'a> {
    fn new(view: PlanView<'a>, halves: bool) -> Self {
        let steps: Vec<&Step<f64>> = view.listed().collect();
        let mut sheet = Self {
            view,
            problem: view.plan.problem.as_ref().map(|p| p.sentence().to_string()),
            columns: vec![steps.clone()],
            cautions: cautions(view),
        };
        if halves {
            // The left column is as high as the right, or a step higher.
            let height = |steps: &[&Step<f64>]| -> f64 {
                steps.iter().map(|s| sheet.row(s, 59.0, true)).sum()
            };
            let split = (1..steps.len()).find(|n| height(&steps[..*n]) >= height(&steps[*n..]));
            let (left, right) = steps.split_at(split.unwrap_or(steps.len()));
            sheet.columns = vec![left.to_vec(), right.to_vec()];
        }
        sheet
    }

    fn timeline(&self, steps: &[&Step<f64>]) -> Markup {
        let calendar = self.view.calendar;
        let halves = self.columns.len() > 1;
        let mut days = steps.chunk_by(|a, b| calendar.day(a.start) == calendar.day(b.start));
        let titles = ["Done", "Time", "What to do", "What to look for", "Actual"];
        let titles: Vec<_> = (titles.into_iter())
            .filter(|t| !halves || *t != "What to look for")
            .collect();
        html! {
            table.timeline {
                thead { tr { @for title in &titles { th scope="col" { (title) } } } }
                @for day in &mut days {
                    tbody {
                        tr.day { th colspan=(titles.len()) scope="rowgroup" { (calendar.day(day[0].start)) } }
                        @for step in day {
                            tr {
                                td.box { @if step.hands { i { } } }
                                td.time {
                                    (calendar.clock(step.start))
                                    @if let Some(offset) = calendar.offset(step.start) { small { (offset) } }
                                }
                                @let [doing, looking] = self.words(step, halves);
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
        let (wide, least) = match halves {
            true => ([0.5 * width - 11.7, width], 1.6),
            false => ([0.71 * width - 15.2, 0.29 * width - 0.6], 1.75),
        };
        (1.25 * lines(&doing, wide[0]).max(lines(&looking, wide[1])) + 0.25).max(least)
    }

    /// True when the sheet is one page. HTML cannot say "as large as fits", so the lines are counted from the texts,
    /// on the wide side, and laid on the lower and the narrower of the two papers.
    fn fits(&self, points: f64) -> bool {
        const HEIGHT_PT: f64 = (279.4 - 2.0 * 9.0) / 25.4 * 72.0;
        const WIDTH_PT: f64 = (210.0 - 2.0 * 11.0) / 25.4 * 72.0;
        let (view, width) = (self.view, WIDTH_PT / points);
        let small = (9.0 / points).max(0.85);
        let small_lines = |text: &str, width| 1.25 * small * lines(text, width / small);
        let halves = self.columns.len() > 1;
        let column = |steps: &Vec<&Step<f64>>| {
            let day = |i: usize| view.calendar.day(steps[i].start);
            let days = (1..steps.len()).filter(|i| day(i - 1) != day(*i)).count();
            let rows = steps.iter().map(|s| self.row(s, width, halves));
            3.4 + 1.85 * days as f64 + rows.sum::<f64>()
        };
        let steps = self.columns.iter().map(column).fold(0.0, f64::max);
        let slurries = view.steps.iter().filter_map(|s| s.slurry);
        let slurries = slurries.map(|s| small_lines(&s.sentence().to_string(), 0.56 * width));
        let poured = view.steps.iter().flat_map(|s| &s.amounts);
        let poured = poured.filter(|a| a.pour_c.is_some()).count() as f64;
        let weights = 1.42 * view.weights().rows.len() as f64 + slurries.sum::<f64>();
        let top = 1.7 + weights.max(1.75 * poured + 5.6);
        let name = 1.92 * lines(&view.bake.name, width / 1.75);
        let about = format!(
            "Wednesday 30 September 2026: {}. {}",
            view.pieces(),
            view.summary()
        );
        let problem = self
            .problem
            .as_ref()
            .map_or(0.0, |p| 1.25 * lines(p, width - 2.0) + 1.0);
        let head = 0.3 + name + 1.25 * lines(&about, width - 2.0) + problem;
        let foot = self.cautions.iter().map(|c| small_lines(c, width - 2.0));
        (head + top + steps + foot.sum::<f64>() + 2.6) * points <= HEIGHT_PT
    }
}

/// Lines of a text in a column so many times as wide as its type.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // some ten to a hundred characters
fn lines(text: &str, width: f64) -> f64 {
    textwrap::wrap(text, (2.08 * width) as usize).len() as f64
}
