//! `pointage compare`

use super::exit::Failure;
use super::outputs::chart::{Subplot, panels};
use super::plan_args::{DayFlags, DayQuestion};
use super::progress;
use super::render::{Page, output, time};
use super::write::{self, Target};
use pointage::error::shown;
use pointage::plan::{Compared, Detail, Plan, Vary, compare};
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
        // The day of `plan`; where the bake as it stands has no plan, the next.
        let p = model.parameters();
        let planned = self.plan.planned(p, Detail::default());
        let asked = planned
            .map(|planned| planned.0)
            .or_else(|_| self.plan.read(0, p))?;
        let Vary {
            condition, values, ..
        } = &self.vary;
        let settled = &asked.settled;
        let (bake, places) = (&settled.bake, &settled.places);
        let compared = progress::during("comparing", || {
            compare(bake, places, settled.anchor, p, *condition, values)
        })
        .map_err(|e| e.at("--vary"))?;
        let mut answer = json::compare(*condition, &compared, &|h| asked.calendar.rfc3339(h));
        answer.notes.extend(model.note());
        if let Some(target) = Target::of_form(&self.chart, self.force, write::CHART)? {
            let title = format!("{} by {}", bake.name, answer.condition);
            let axis = format!("{}, {}", answer.condition, answer.unit);
            write::all(&[(&target, panels(&title, &axis, &drawn(&answer.rows)))])?;
        }
        Ok(output(as_json, &answer, |a| words(&asked, &compared, a))?)
    }
}

/// What moves, as panels.
fn drawn(rows: &[CompareRow]) -> Vec<Subplot> {
    let panel = |name, of: fn(&CompareRow) -> Option<f64>| {
        let points = rows.iter().filter_map(|r| Some((r.value, of(r)?)));
        let points = points.collect();
        Subplot { name, points }
    };
    let yeast = "yeast of the preferment, % of its flour";
    vec![
        panel("water, °C", |r| r.water_c),
        panel(yeast, |r| r.preferment_dose_percent),
        panel("bulk, min", |r| r.bulk_h.map(|h| 60.0 * h)),
        panel("proof, min", |r| r.proof_h.map(|h| 60.0 * h)),
    ]
}

fn words(asked: &DayQuestion, compared: &[Compared], answer: &CompareAnswer) -> String {
    let mut page = Page::default();
    let (name, condition, unit) = (&asked.settled.bake.name, answer.condition, answer.unit);
    page.say(format!("{name}, by {condition} in {unit}"));
    page.gap();
    page.line(format!(
        "{condition:>7}   water    ice      dose   ripe   bulk proof  start        out"
    ));
    page.line(format!(
        "{unit:>7}      °C      g         %      h    min   min"
    ));
    let number = |v: Option<f64>, digits: usize| v.map_or("-".into(), |v| format!("{v:.digits$}"));
    let minutes = |v: Option<f64>| number(v.map(|h| 60.0 * h), 0);
    let calendar = &asked.calendar;
    for (r, c) in answer.rows.iter().zip(compared) {
        let clock =
            |hour: Option<f64>, form: &dyn Fn(f64) -> String| hour.map_or("  -  ".into(), form);
        let of = |hour: fn(&Plan) -> Option<f64>| c.plan.as_ref().ok().and_then(hour);
        let start = of(|p| p.stages.first().map(|s| s.start_h));
        let out = of(|p| p.loads.first().map(|l| l.oven_out_h));
        // The evening before is another day.
        let day = |h| calendar.at(h).strftime("%m-%d").to_string();
        page.line(format!(
            "{:>7.2}  {:>6} {:>6}  {:>8} {:>6}  {:>5} {:>5}  {:>5} {}  {}{}",
            r.value,
            number(r.water_c, 1),
            number(r.ice_g, 0),
            number(r.preferment_dose_percent, 3),
            number(r.preferment_h, 1),
            minutes(r.bulk_h),
            minutes(r.proof_h),
            clock(start, &day),
            clock(start, &|h| calendar.time(h)),
            clock(out, &|h| calendar.time(h)),
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
