//! `pointage compare`

use super::exit::Failure;
use super::outputs::chart::{Panel, panels};
use super::plan_args::{DayFlags, DayQuestion};
use super::progress;
use super::render::{Page, output};
use super::write::{self, Target};
use pointage::plan::{Vary, compare};
use pointage_api::Model;
use pointage_api::compare::{self as json, CompareAnswer, CompareRow};
use std::path::PathBuf;

/// How water, dose and clock move with one condition
#[derive(clap::Args)]
#[command(after_help = "Example: the stall's bake in rooms from 18 to 26 °C
  pointage compare stall.toml --first-out 09:00 --vary room=18..26

Conditions: room, dough, flour, tap (°C), yeast (% at the mix). A third number is
the step: room=18..26..2")]
pub struct CompareCommand {
    #[command(flatten)]
    plan: DayFlags,
    /// What varies, from where to where
    #[arg(long, value_name = "NAME=A..B")]
    vary: Vary,
    /// Write it as a chart too (SVG)
    #[arg(long, value_name = "FILE")]
    chart: Option<PathBuf>,
    /// Replace a chart that exists
    #[arg(long, requires = "chart")]
    force: bool,
}

impl CompareCommand {
    pub fn run(&self, as_json: bool, model: &Model) -> Result<String, Failure> {
        let asked = self.plan.read()?;
        let Vary {
            condition, values, ..
        } = &self.vary;
        let compared = progress::during("comparing", || {
            compare(
                &asked.bake,
                &asked.places,
                asked.anchor,
                model.parameters(),
                *condition,
                values,
            )
        })
        .map_err(|e| e.at("--vary"))?;
        let mut answer = json::compare(*condition, &compared, &|h| asked.calendar.rfc3339(h));
        answer.notes.extend(model.note());
        if let Some(path) = &self.chart {
            let target = Target::of_form(path, self.force, write::CHART)?;
            let title = format!("{} by {}", asked.bake.name, answer.condition);
            let axis = format!("{}, {}", answer.condition, answer.unit);
            write::all(&[(&target, panels(&title, &axis, &drawn(&answer.rows)))])?;
        }
        Ok(output(as_json, &answer, |a| words(&asked, a))?)
    }
}

/// What moves, as panels.
fn drawn(rows: &[CompareRow]) -> Vec<Panel> {
    let panel = |name, of: &dyn Fn(&CompareRow) -> Option<f64>| Panel {
        name,
        points: rows
            .iter()
            .filter_map(|r| of(r).map(|y| (r.value, y)))
            .collect(),
    };
    vec![
        panel("water, °C", &|r| r.water_c),
        panel("yeast of the preferment, % of its flour", &|r| {
            r.preferment_dose_percent
        }),
        panel("bulk, min", &|r| r.bulk_h.map(|h| 60.0 * h)),
        panel("proof, min", &|r| r.proof_h.map(|h| 60.0 * h)),
    ]
}

fn words(asked: &DayQuestion, answer: &CompareAnswer) -> String {
    let mut page = Page::default();
    page.say(format!(
        "{}, by {} in {}",
        asked.bake.name, answer.condition, answer.unit
    ));
    page.gap();
    page.line(format!(
        "{:>7}  {:>6} {:>6}  {:>8} {:>6}  {:>5} {:>5}  start        out",
        answer.condition, "water", "ice", "dose", "ripe", "bulk", "proof"
    ));
    page.line(format!(
        "{:>7}  {:>6} {:>6}  {:>8} {:>6}  {:>5} {:>5}",
        answer.unit, "°C", "g", "%", "h", "min", "min"
    ));
    let number = |v: Option<f64>, digits: usize| v.map_or("-".into(), |v| format!("{v:.digits$}"));
    let minutes = |v: Option<f64>| number(v.map(|h| 60.0 * h), 0);
    let clock = |text: &Option<String>| {
        text.as_ref()
            .and_then(|t| t.get(11..16))
            .unwrap_or("  -  ")
            .to_owned()
    };
    // The evening before is another day.
    let day = |text: &Option<String>| {
        text.as_ref()
            .and_then(|t| t.get(5..10))
            .unwrap_or("")
            .to_owned()
    };
    for r in &answer.rows {
        page.line(format!(
            "{:>7.2}  {:>6} {:>6}  {:>8} {:>6}  {:>5} {:>5}  {:>5} {}  {}{}",
            r.value,
            number(r.water_c, 1),
            number(r.ice_g, 0),
            number(r.preferment_dose_percent, 3),
            number(r.preferment_h, 1),
            minutes(r.bulk_h),
            minutes(r.proof_h),
            day(&r.start),
            clock(&r.start),
            clock(&r.first_out),
            if r.feasible { "" } else { "  *" }
        ));
    }
    for r in answer.rows.iter().filter(|r| !r.feasible) {
        if let Some(why) = &r.why {
            page.gap();
            page.item(&format!("* {:.2}: ", r.value), why);
        }
    }
    page.cautions(&answer.warnings, &answer.notes);
    page.finish()
}
