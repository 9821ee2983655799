//! `pointage adjust`

use super::exit::Failure;
use super::plan_args::{DayFlags, DayQuestion};
use super::progress;
use super::render::{Page, output};
use pointage::Error;
use pointage::plan::{Adjusted, Detail, Measured, Plan, Problem, StageTime, adjust};
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
        let name = &asked.name;
        let why = format!("{name}: the rest of this plan does not fit");
        let unmet = unmet(&adjusted).map(|_| Failure::Aim(why));
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
    let (name, changes) = (&asked.settled.bake.name, changes.join(" "));
    page.say(format!("{name}: {changes}"));
    let is_later = |line: &&Remark| Some(*line) != answer.now.as_ref();
    for line in answer.advice.iter().filter(is_later) {
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
        let hour = time(first.oven_in_h);
        page.line(format!("To keep the oven's hour, {hour}:"));
        for way in &kept.ways {
            page.item("  ", &way.to_string());
        }
    }
    page.gap();
    let title = kept.map_or("new", |_| "kept      moved");
    page.line(format!("             planned   {title}"));
    let (before, kept) = (hours(before), kept.map(hours));
    let hour_of = |hours: &[(String, f64)], name: &str| {
        let mut named = hours.iter().filter(|(of, _)| of == name);
        named.next().map(|(_, hour)| *hour)
    };
    let cell = |hour: Option<f64>| hour.map_or("  -  ".into(), time);
    let moved = hours(moved);
    for name in moved.iter().map(|(name, _)| name) {
        let (old, new) = (hour_of(&before, name), hour_of(&moved, name));
        let kept = kept.as_ref().map(|kept| cell(hour_of(kept, name)));
        let kept = kept.map(|kept| format!("{kept:<9} "));
        let by = match old.zip(new) {
            Some((a, b)) if (b - a).abs() >= 1.0 / 120.0 => format!("{:+.0} min", 60.0 * (b - a)),
            _ => String::new(),
        };
        let (old, kept, new) = (cell(old), kept.unwrap_or_default(), cell(new));
        page.line(format!("  {name:<10} {old:<9} {kept}{new:<9} {by}"));
    }
    if let Some(next_time) = &answer.next_time {
        page.gap();
        page.say(next_time.to_string());
    }
    page.cautions(&answer.warnings, own.as_slice());
    page.finish()
}

/// The hours of a plan that are set beside those of another, by their names.
fn hours(plan: &Plan) -> Vec<(String, f64)> {
    let is_moved = |stage: &&StageTime| !["preferment", "bake", "cool"].contains(&stage.name);
    let stages = plan.stages.iter().filter(is_moved);
    let mut hours: Vec<_> = stages.map(|s| (s.name.into(), s.start_h)).collect();
    for (load, number) in plan.loads.iter().zip(1..) {
        hours.push((format!("load {number} in"), load.oven_in_h));
        hours.push((format!("load {number} out"), load.oven_out_h));
    }
    hours
}
