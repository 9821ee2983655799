//! `pointage adjust`

use super::exit::Failure;
use super::plan_args::{DayFlags, DayQuestion};
use super::progress;
use super::render::{Page, output};
use pointage::Error;
use pointage::plan::{Adjusted, Detail, Measured, Plan, Problem, adjust};
use pointage::units::ClockTime;
use pointage_api::adjust::{self as json, AdjustAnswer};
use pointage_api::{Model, Remark, Sentence};

/// What a measurement on the way means for the rest
#[derive(clap::Args)]
#[command(
    after_help = "Example: the dough of stall.toml came off the mixer too warm
  pointage adjust stall.toml --first-out 09:00 --measured \"mix 27.4C 04:52\"

Measurements: \"mix 27.4C 04:52\", \"bulk 1.6x 06:00\" (in a straight-sided jar,
against the dough off the mixer), \"preferment ripe 04:10\", \"preferment unripe
04:10\", \"preferment past 04:10\", \"proof 1.5x 07:10\" (against the shaped piece),
\"proof springs back slowly 07:10\" (at once, quickly), \"proof dent stays 07:10\".
The flag may be given several times."
)]
pub struct AdjustCommand {
    #[command(flatten)]
    plan: DayFlags,
    /// What was measured or seen, and when
    #[arg(long, value_name = "TEXT", required = true)]
    measured: Vec<Measured<ClockTime>>,
}

impl AdjustCommand {
    pub fn run(&self, as_json: bool, model: &Model) -> Result<(String, Option<Failure>), Failure> {
        let p = model.parameters();
        let asked = self.plan.read(0, p)?;
        let name = |e: Error| e.at(&asked.name);
        let settled = &asked.settled;
        let (bake, places, anchor) = (&settled.bake, &settled.places, settled.anchor);
        let plan =
            pointage::plan::plan(bake, places, anchor, p, Detail::default()).map_err(name)?;
        let near = |clock, expected| asked.calendar.hour_near(clock, expected);
        let measured = self.measured.iter().map(|reading| reading.on(&plan, near));
        let measured: Vec<Measured> = measured.collect::<Result<_, _>>()?;
        let adjusted = progress::during("adjusting", || adjust(bake, places, anchor, p, &measured));
        let adjusted = adjusted.map_err(name)?;
        let mut answer = json::adjust(bake, &adjusted, &|h| asked.calendar.rfc3339(h))?;
        let own = model.note();
        answer.after.notes.extend(own.clone());
        let text = output(as_json, &answer, |a| words(&asked, &adjusted, a, own))?;
        // As for a plan: where neither way fits, it ends with 1.
        let unmet = unmet(&adjusted).map(|_| {
            Failure::Aim(format!(
                "{}: the rest of this plan does not fit: it says why",
                asked.name
            ))
        });
        Ok((text, unmet))
    }
}

/// What keeps both ways from working.
fn unmet(adjusted: &Adjusted) -> Option<&Problem> {
    let problem = adjusted.after.problem.as_ref();
    problem.filter(|_| adjusted.kept.is_none())
}

fn words(
    asked: &DayQuestion,
    adjusted: &Adjusted,
    answer: &AdjustAnswer,
    own: Option<Remark>,
) -> String {
    let mut page = Page::default();
    if let Some(now) = &answer.now {
        page.item("Now: ", &now.to_string());
    }
    let changes: Vec<String> = answer.changes.iter().map(Remark::to_string).collect();
    page.say(format!(
        "{}: {}",
        asked.settled.bake.name,
        changes.join(" ")
    ));
    for line in answer
        .advice
        .iter()
        .filter(|line| Some(*line) != answer.now.as_ref())
    {
        page.item("Do: ", &line.to_string());
    }
    if let Some(problem) = unmet(adjusted) {
        page.item("Does not fit: ", &problem.sentence().to_string());
    }
    let time = |hour| asked.calendar.time_beside(hour, asked.calendar.hour);
    if let Some(out) = adjusted.out_of_cold_h.map(time) {
        page.item("Do: ", &format!("Have the dough out of the cold at {out}."));
    }
    let (before, moved) = (&adjusted.before, &adjusted.after);
    let kept = adjusted.kept.as_ref().map(|kept| &kept.plan);
    if let Some((kept, first)) = answer.kept.as_ref().zip(before.loads.first()) {
        page.gap();
        page.line(format!(
            "To keep the oven's hour, {}:",
            time(first.oven_in_h)
        ));
        for way in &kept.ways {
            page.item("  ", &way.to_string());
        }
    }
    page.gap();
    let title = if kept.is_some() {
        "kept      moved"
    } else {
        "new"
    };
    page.line(format!("             planned   {title}"));
    for (name, hour_of) in rows(moved) {
        let cell = |plan: &Plan| hour_of(plan).map_or("  -  ".into(), time);
        let kept = kept.map(|plan| format!("{:<9} ", cell(plan)));
        let by = match hour_of(before).zip(hour_of(moved)) {
            Some((a, b)) if (b - a).abs() >= 1.0 / 120.0 => format!("{:+.0} min", 60.0 * (b - a)),
            _ => String::new(),
        };
        let (old, new) = (cell(before), cell(moved));
        page.line(format!(
            "  {name:<10} {old:<9} {}{new:<9} {by}",
            kept.unwrap_or_default()
        ));
    }
    if let Some(next_time) = &answer.next_time {
        page.gap();
        page.say(next_time.to_string());
    }
    page.cautions(&answer.warnings, own.as_slice());
    page.finish()
}

/// An hour that a plan may have.
type HourOf = Box<dyn Fn(&Plan) -> Option<f64>>;

/// The hours of a plan that are set beside those of another.
fn rows(plan: &Plan) -> Vec<(String, HourOf)> {
    let mut rows: Vec<(String, HourOf)> = Vec::new();
    for name in plan.stages.iter().map(|stage| stage.name) {
        if !["preferment", "bake", "cool"].contains(&name) {
            rows.push((
                name.into(),
                Box::new(move |plan| Some(plan.stage(name)?.start_h)),
            ));
        }
    }
    for i in 0..plan.loads.len() {
        let (into, out) = (format!("load {} in", i + 1), format!("load {} out", i + 1));
        rows.push((
            into,
            Box::new(move |plan| Some(plan.loads.get(i)?.oven_in_h)),
        ));
        rows.push((
            out,
            Box::new(move |plan| Some(plan.loads.get(i)?.oven_out_h)),
        ));
    }
    rows
}
