//! `pointage plan`

use super::exit::Failure;
use super::outputs::{Outputs, Told, text};
use super::plan_args::DayFlags;
use super::progress;
use super::render::output;
use pointage::plan::{Detail, Problem, plan};
use pointage_api::Model;
use pointage_api::Sentence;
use pointage_api::plan::PlanAnswer;
use pointage_api::steps::steps;

/// When to do what, from the evening before to the last load
#[derive(clap::Args)]
#[command(
    after_help = "Examples: the bake in stall.toml, first loaves out at half past seven
  pointage plan stall.toml --first-out 07:30
  pointage plan stall.toml --first-out 07:30 --sheet wall.html --calendar bake.ics

Without FILE it plans a built-in demo bake."
)]
pub struct Args {
    #[command(flatten)]
    plan: DayFlags,
    /// Say what moves each time most
    #[arg(long)]
    explain: bool,
    #[command(flatten)]
    outputs: Outputs,
}

/// Days ahead that a plan without a date may have to go: longer than any preferment.
const MOST_DAYS: i32 = 10;

/// The answer as JSON: whether it is the demo's, and the files that were written.
#[derive(serde::Serialize)]
struct Answer<'a> {
    demo: bool,
    #[serde(flatten)]
    plan: &'a PlanAnswer,
    written: &'a [String],
}

impl Args {
    pub fn run(&self, json: bool, model: &Model) -> Result<(String, Option<Failure>), Failure> {
        let p = model.parameters();
        let detail = Detail {
            ranges: true,
            reasons: json || self.explain,
            trace: self.outputs.wants_trace(),
            cores: json || self.explain,
        };
        // Without a date, the next day for which there is still time to begin.
        let mut days = 0;
        let (asked, targets, plan) = loop {
            let asked = self.plan.read(days)?;
            let targets = self.outputs.check(&asked.sources)?;
            let plan = progress::during("planning", || {
                plan(&asked.bake, &asked.places, asked.anchor, p, detail)
            })
            .map_err(|e| e.at(&asked.name))?;
            let start = plan.stages.first().map_or(0.0, |s| s.start_h);
            if self.plan.date.is_some() || days == MOST_DAYS || asked.calendar.is_ahead(start) {
                break (asked, targets, plan);
            }
            days += 1;
        };
        let clock = |h| asked.calendar.rfc3339(h);
        let mut answer = pointage_api::plan::plan(&asked.bake, &plan, &clock)?;
        answer.notes.extend(model.note());
        if let (Some(first), Some(last)) = (plan.stages.first(), plan.stages.last()) {
            let remarks = asked.calendar.remarks(first.start_h, last.end_h);
            answer.notes.extend(remarks);
        }
        let told = Told {
            bake: &asked.bake,
            plan: &plan,
            answer: &answer,
            steps: &steps(&asked.bake, &plan, &|h| h)?,
            calendar: &asked.calendar,
            window: p.rise_window,
        };
        let written = self.outputs.write(&targets, told)?;
        let demo = asked.is_demo;
        let (plan, written) = (&answer, &written[..]);
        let answer = Answer {
            demo,
            plan,
            written,
        };
        let text = output(json, &answer, |_| {
            text::text(told, demo, self.explain, written)
        })?;
        // A plan that does not fit is shown, and told on stderr with exit code 1.
        let unmet = |p: &Problem| Failure::Aim(format!("{}: {}", asked.name, p.sentence()));
        Ok((text, told.plan.problem.as_ref().map(unmet)))
    }
}
