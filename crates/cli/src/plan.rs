//! `pointage plan`

use super::exit::Failure;
use super::outputs::{Outputs, PlanView, text};
use super::plan_args::DayFlags;
use super::render::output;
use pointage::plan::Detail;
use pointage_api::Model;
use pointage_api::plan::PlanAnswer;
use pointage_api::steps::steps;

/// When to do what, from the evening before to the last load
#[derive(clap::Args)]
#[command(
    after_help = "Examples: the bake in stall.toml, first loaves out at half past seven
  pointage plan stall.toml --first-out 07:30
  pointage plan stall.toml --first-out 07:30 \\
      --sheet wall.html --calendar bake.ics
Two hours at once: what the bake allows is changed until they go together
  pointage plan stall.toml --come-in-at 05:00 --last-out 12:30

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
            night: true,
        };
        let targets = self.outputs.check()?;
        let (asked, plan) = self.plan.planned(p, detail)?;
        let clock = |h| asked.calendar.rfc3339(h);
        let bake = &asked.settled.bake;
        let mut answer = pointage_api::plan::plan(bake, &plan, &clock)?;
        answer.notes.extend(model.note());
        if let (Some(first), Some(last)) = (plan.stages.first(), plan.stages.last()) {
            let remarks = asked.calendar.remarks(first.start_h, last.end_h);
            answer.notes.extend(remarks);
        }
        let view = PlanView {
            bake,
            plan: &plan,
            answer: &answer,
            steps: &steps(bake, &plan, &|h| h)?,
            calendar: &asked.calendar,
            window: p.rise_window,
        };
        let written = self.outputs.write(&targets, view)?;
        let answer = Answer {
            demo: asked.is_demo,
            plan: &answer,
            written: &written,
        };
        let text = output(json, &answer, |a| {
            text::text(view, a.demo, self.explain, a.written)
        })?;
        // A plan that does not fit is shown, and ends with 1.
        let name = &asked.name;
        let why = format!("{name}: this plan does not fit");
        let unmet = plan.problem.as_ref().map(|_| Failure::Aim(why));
        Ok((text, unmet))
    }
}
