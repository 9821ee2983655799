//! `pointage adjust`

use super::clock::Calendar;
use super::failure::Failure;
use super::params::Numbers;
use super::parse::refusal;
use super::progress;
use super::question::{Asked, Question};
use super::words::{Page, output};
use pointage::Error;
use pointage::json::plan::PlanAnswer;
use pointage::plan::{Adjusted, Measured, Plan, adjust};
use pointage::units::{ClockTime, Temperature};
use serde::Serialize;

/// What a measurement on the way means for the rest
#[derive(clap::Args)]
#[command(
    after_help = "Example: the dough of stall.toml came off the mixer too warm
  pointage adjust stall.toml --first-out 09:00 --measured \"mix 27.4C 04:52\"

Measurements: \"mix 27.4C 04:52\", \"bulk rise 1.6 06:00\" (in a straight-sided jar,
against the dough off the mixer), \"preferment ripe 04:10\", \"preferment unripe
04:10\", \"preferment past 04:10\". The flag may be given several times."
)]
pub struct Args {
    #[command(flatten)]
    plan: Question,
    /// What was measured or seen, and when
    #[arg(long, value_name = "TEXT", required = true, value_parser = reading)]
    measured: Vec<Reading>,
}

/// A measurement with its time of day.
#[derive(Debug, Clone, Copy)]
struct Reading {
    what: What,
    clock: ClockTime,
}

#[derive(Debug, Clone, Copy)]
enum What {
    Ripe,
    Unripe,
    Past,
    Mixed(Temperature),
    Rise(f64),
}

fn reading(text: &str) -> Result<Reading, Error> {
    let refuse = || {
        refusal(
            "measurement",
            text,
            "\"mix 27.4C 04:52\", \"bulk rise 1.6 06:00\", or \"preferment ripe 04:10\" (unripe, past)",
        )
    };
    // "the preferment was ripe at 04:10" says no more than "preferment ripe 04:10".
    let words: Vec<&str> = text
        .split_whitespace()
        .filter(|word| !["the", "was", "is", "at"].contains(word))
        .collect();
    let (what, clock) = match words.as_slice() {
        ["preferment", "ripe", clock] => (What::Ripe, clock),
        ["preferment", "unripe", clock] => (What::Unripe, clock),
        ["preferment", "past", clock] => (What::Past, clock),
        ["mix", dough, clock] => (What::Mixed(dough.parse()?), clock),
        ["bulk", "rise", ratio, clock] => {
            let ratio = ratio.parse().ok().filter(|r: &f64| (1.0..=5.0).contains(r));
            (What::Rise(ratio.ok_or_else(refuse)?), clock)
        }
        _ => return Err(refuse()),
    };
    Ok(Reading {
        what,
        clock: clock.parse()?,
    })
}

impl Reading {
    /// On the plan's clock: of the days around, the one on which the hour is nearest to where the plan has
    /// the event.
    fn placed(self, plan: &Plan, calendar: &Calendar) -> Result<Measured, Failure> {
        let stage = |name: &str| plan.stages.iter().find(|s| s.name == name);
        let expected = match self.what {
            What::Ripe | What::Unripe | What::Past => plan.preferment.as_ref().map(|p| p.used_h),
            What::Mixed(_) => stage("mix").map(|s| s.end_h),
            What::Rise(_) => stage("mix")
                .zip(stage("divide"))
                .map(|(a, b)| 0.5 * (a.end_h + b.start_h)),
        };
        let hour = calendar.hour_near(self.clock, expected.unwrap_or(calendar.hour()))?;
        Ok(match self.what {
            What::Ripe => Measured::PrefermentRipe { hour },
            What::Unripe => Measured::PrefermentUnripe { hour },
            What::Past => Measured::PrefermentPast { hour },
            What::Mixed(dough) => Measured::Mixed { dough, hour },
            What::Rise(ratio) => Measured::BulkRise { ratio, hour },
        })
    }
}

/// Both plans under the keys of `plan`.
#[derive(Serialize)]
struct Answer {
    before: PlanAnswer,
    after: PlanAnswer,
    changes: Vec<String>,
    advice: Vec<String>,
    warnings: Vec<String>,
}

impl Args {
    pub fn run(&self, json: bool, numbers: &Numbers) -> Result<String, Failure> {
        let asked = self.plan.read()?;
        let p = &numbers.parameters;
        let name = |e: Error| e.at(&asked.name);
        let plan =
            pointage::plan::plan(&asked.bake, &asked.places, asked.anchor, p).map_err(name)?;
        let measured: Vec<Measured> = self
            .measured
            .iter()
            .map(|r| r.placed(&plan, &asked.calendar))
            .collect::<Result<_, _>>()?;
        let mut adjusted = progress::during("adjusting", || {
            adjust(&asked.bake, &asked.places, asked.anchor, p, &measured)
        })
        .map_err(name)?;
        numbers.tell(&mut adjusted.after.notes);
        let told = |plan: &Plan| {
            pointage::json::plan::plan(&asked.bake, plan, &|h| asked.calendar.rfc3339(h))
        };
        let answer = Answer {
            before: told(&adjusted.before)?,
            after: told(&adjusted.after)?,
            warnings: adjusted.after.warnings.clone(),
            changes: adjusted.changes.clone(),
            advice: adjusted.advice.clone(),
        };
        Ok(output(json, &answer, |_| words(&asked, &adjusted))?)
    }
}

fn words(asked: &Asked, adjusted: &Adjusted) -> String {
    let mut page = Page::default();
    page.say(format!(
        "{}: {}",
        asked.bake.name,
        adjusted.changes.join(" ")
    ));
    for line in &adjusted.advice {
        page.item("Do: ", line);
    }
    page.gap();
    page.line("             planned   now");
    let calendar = &asked.calendar;
    let mut row = |name: &str, old: Option<f64>, new: Option<f64>| {
        let time = |h: Option<f64>| h.map_or("  -  ".into(), |h| calendar.time(h));
        let moved = match (old, new) {
            (Some(a), Some(b)) if (b - a).abs() >= 1.0 / 120.0 => {
                format!("{:+.0} min", 60.0 * (b - a))
            }
            _ => String::new(),
        };
        page.line(format!(
            "  {name:<10} {}     {}   {moved}",
            time(old),
            time(new)
        ));
    };
    let start = |plan: &Plan, name: &str| {
        plan.stages
            .iter()
            .find(|s| s.name == name)
            .map(|s| s.start_h)
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
    for (old, new) in before.loads.iter().zip(&after.loads) {
        row(
            &format!("load {} in", new.number),
            Some(old.oven_in_h),
            Some(new.oven_in_h),
        );
        row(
            &format!("load {} out", new.number),
            Some(old.oven_out_h),
            Some(new.oven_out_h),
        );
    }
    page.cautions(&after.warnings, &after.notes);
    page.finish()
}
