//! `pointage adjust`

use super::exit::Failure;
use super::plan_args::{DayFlags, DayQuestion};
use super::progress;
use super::render::{Page, output};
use pointage::Error;
use pointage::plan::bake::Bake;
use pointage::plan::{Adjusted, Detail, Measured, Plan, Problem, adjust};
use pointage::units::ClockTime;
use pointage_api::adjust::{self as json, AdjustAnswer};
use pointage_api::steps::steps;
use pointage_api::{Model, Remark, Sentence};

/// What a measurement on the way means for the rest
#[derive(clap::Args)]
#[command(
    after_help = "Example: the dough of stall.toml came off the mixer too warm
  pointage adjust stall.toml --first-out 09:00 --measured \"mix 27.4C 04:52\"

Measurements: \"mix 27.4C 04:52\", \"bulk 1.6x 06:00\" (in a straight-sided jar,
against the dough off the mixer), \"bulk ready 06:40\" (unready, past), \"preferment
ripe 04:10\" (unripe, past), \"proof 1.5x 07:10\" (against the shaped
piece), \"proof springs back slowly 07:10\" (at once, quickly), \"proof dent stays
07:10\".
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
        let from = measured.iter().map(|m| m.at).fold(f64::MIN, f64::max);
        let kept = adjusted.kept.as_ref().map(|kept| &kept.plan);
        let plans = [Some(&adjusted.before), kept, Some(&adjusted.after)];
        let rows = to_come(bake, plans.into_iter().flatten(), from)?;
        let text = output(as_json, &answer, |a| {
            words(&asked, &adjusted, a, own, &rows)
        })?;
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
    rows: &[ToCome],
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
    if let Some((kept, first)) = (answer.kept.as_ref()).zip(adjusted.before.loads.first()) {
        page.gap();
        let hour = time(first.oven_in_h);
        page.line(format!("To keep the oven's hour, {hour}:"));
        for way in &kept.ways {
            page.item("  ", &way.to_string());
        }
    }
    page.gap();
    let wide = rows.iter().map(|row| row.text.chars().count()).max();
    let wide = wide.unwrap_or(0);
    let line = |name: &str, cells: &[&str], by: &str| {
        let cells: String = cells.iter().map(|cell| format!("{cell:<9} ")).collect();
        format!("  {name:<wide$}  {cells}{by}")
    };
    let titles: &[&str] = match &adjusted.kept {
        Some(_) => &["planned", "kept", "moved"],
        None => &["planned", "new"],
    };
    page.line(line("", titles, ""));
    for ToCome { text, hours, .. } in rows {
        let by = match hours.first().zip(hours.last()) {
            Some((Some(a), Some(b))) if (b - a).abs() >= 1.0 / 120.0 => {
                format!("{:+.0} min", 60.0 * (b - a))
            }
            _ => String::new(),
        };
        let cells: Vec<String> = hours.iter().map(|h| h.map_or("-".into(), time)).collect();
        let cells: Vec<&str> = cells.iter().map(String::as_str).collect();
        page.line(line(text, &cells, &by));
    }
    if let Some(next_time) = &answer.next_time {
        page.gap();
        page.say(next_time.to_string());
    }
    page.cautions(&answer.warnings, own.as_slice());
    page.finish()
}

/// A step that is still to be done, with its hours in the plans that have it.
struct ToCome {
    key: String,
    text: String,
    hours: Vec<Option<f64>>,
}

impl ToCome {
    fn latest(&self) -> f64 {
        let hours = self.hours.iter().flatten();
        hours.copied().fold(f64::MIN, f64::max)
    }
}

/// What is still to be done after the last measurement, in the order of the first plan.
fn to_come<'a>(
    bake: &Bake,
    plans: impl Iterator<Item = &'a Plan> + Clone,
    from: f64,
) -> Result<Vec<ToCome>, Error> {
    let mut rows: Vec<ToCome> = Vec::new();
    let none = vec![None; plans.clone().count()];
    for (i, plan) in plans.enumerate() {
        for step in steps(bake, plan, &|hour| hour)? {
            let row = rows.iter().position(|row| row.key == step.key);
            let row = row.unwrap_or_else(|| {
                rows.push(ToCome {
                    key: step.key,
                    text: step.text.to_string(),
                    hours: none.clone(),
                });
                rows.len() - 1
            });
            rows[row].hours[i] = step.hands.then_some(step.start);
        }
    }
    rows.retain(|row| row.latest() >= from);
    let first = |row: &ToCome| row.hours.iter().find_map(|h| *h).unwrap_or(from);
    rows.sort_by(|a, b| first(a).total_cmp(&first(b)));
    Ok(rows)
}
