//! `pointage adjust`

use super::exit::Failure;
use super::plan_args::{DayFlags, DayQuestion};
use super::progress;
use super::render::{Page, output};
use pointage::Error;
use pointage::plan::{Adjusted, Detail, Measured, Plan, adjust};
use pointage::units::ClockTime;
use pointage_api::adjust::{self as json, AdjustAnswer};
use pointage_api::{Model, Remark};

/// What a measurement on the way means for the rest
#[derive(clap::Args)]
#[command(
    after_help = "Example: the dough of stall.toml came off the mixer too warm
  pointage adjust stall.toml --first-out 09:00 --measured \"mix 27.4C 04:52\"

Measurements: \"mix 27.4C 04:52\", \"bulk 1.6x 06:00\" (in a straight-sided jar,
against the dough off the mixer), \"preferment ripe 04:10\", \"preferment unripe
04:10\", \"preferment past 04:10\". The flag may be given several times."
)]
pub struct AdjustCommand {
    #[command(flatten)]
    plan: DayFlags,
    /// What was measured or seen, and when
    #[arg(long, value_name = "TEXT", required = true)]
    measured: Vec<Measured<ClockTime>>,
}

impl AdjustCommand {
    pub fn run(&self, as_json: bool, model: &Model) -> Result<String, Failure> {
        let asked = self.plan.read(0)?;
        let p = model.parameters();
        let name = |e: Error| e.at(&asked.name);
        let (bake, places, anchor) = (&asked.bake, &asked.places, asked.anchor);
        let plan =
            pointage::plan::plan(bake, places, anchor, p, Detail::default()).map_err(name)?;
        let near = |clock, expected| asked.calendar.hour_near(clock, expected);
        let measured = self.measured.iter().map(|reading| reading.on(&plan, near));
        let measured: Vec<Measured> = measured.collect::<Result<_, _>>()?;
        let adjusted = progress::during("adjusting", || adjust(bake, places, anchor, p, &measured));
        let adjusted = adjusted.map_err(name)?;
        let mut answer = json::adjust(bake, &adjusted, &|h| asked.calendar.rfc3339(h))?;
        answer.after.notes.extend(model.note());
        Ok(output(as_json, &answer, |a| words(&asked, &adjusted, a))?)
    }
}

fn words(asked: &DayQuestion, adjusted: &Adjusted, answer: &AdjustAnswer) -> String {
    let mut page = Page::default();
    let changes: Vec<String> = answer.changes.iter().map(Remark::to_string).collect();
    page.say(format!("{}: {}", asked.bake.name, changes.join(" ")));
    for line in &answer.advice {
        page.item("Do: ", &line.to_string());
    }
    let time = |hour| asked.calendar.time_beside(hour, asked.calendar.hour);
    if let Some(out) = adjusted.out_of_cold_h.map(time) {
        page.item("Do: ", &format!("Have the dough out of the cold at {out}."));
    }
    page.gap();
    page.line("             planned       now");
    let mut row = |name: &str, old: Option<f64>, new: Option<f64>| {
        let time = |h: Option<f64>| h.map_or("  -  ".into(), time);
        let moved = match (old, new) {
            (Some(a), Some(b)) if (b - a).abs() >= 1.0 / 120.0 => {
                format!("{:+.0} min", 60.0 * (b - a))
            }
            _ => String::new(),
        };
        let (old, new) = (time(old), time(new));
        page.line(format!("  {name:<10} {old:<9}     {new:<9}   {moved}"));
    };
    let start = |plan: &Plan, name: &str| {
        let stage = plan.stages.iter().find(|s| s.name == name);
        stage.map(|s| s.start_h)
    };
    let (before, after) = (&adjusted.before, &adjusted.after);
    let used = |plan: &Plan| plan.preferment.as_ref().map(|p| p.used_h);
    if used(before).is_some() {
        row("preferment", used(before), used(after));
    }
    for stage in &after.stages {
        if stage.name != "preferment" && stage.name != "bake" && stage.name != "cool" {
            row(stage.name, start(before, stage.name), Some(stage.start_h));
        }
    }
    for (a, b) in before.loads.iter().zip(&after.loads) {
        let n = b.number;
        row(
            &format!("load {n} in"),
            Some(a.oven_in_h),
            Some(b.oven_in_h),
        );
        row(
            &format!("load {n} out"),
            Some(a.oven_out_h),
            Some(b.oven_out_h),
        );
    }
    page.cautions(&answer.warnings, &answer.after.notes);
    page.finish()
}
