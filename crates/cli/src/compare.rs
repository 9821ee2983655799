//! `pointage compare`

use super::exit::Failure;
use super::outputs::chart::{Subplot, panels};
use super::plan_args::{DayFlags, DayQuestion};
use super::progress;
use super::render::{Page, output, time};
use super::write::{self, Target};
use pointage::error::shown;
use pointage::plan::{Compared, Detail, Plan, Vary, compare};
use pointage::units::Hours;
use pointage_api::compare::{self as json, CompareAnswer, CompareRow};
use pointage_api::{Model, Sentence};
use std::path::PathBuf;

/// How water, dose and clock move with one condition
#[derive(clap::Args)]
#[command(
    after_help = "Examples: times against temperature, with the doses of the bake
  pointage compare my.toml --first-out 09:00 --vary room=18..26
Doses against temperature, for a poolish of 12 hours and a bulk of 90 minutes
  pointage compare my.toml --first-out 09:00 --vary room=18..26..2 \\
      --ripe-after 12h --bulk 90min

Conditions: room, dough, flour, tap (°C), yeast (% at the mix). A third number
is the step: room=18..26..2"
)]
pub struct CompareCommand {
    #[command(flatten)]
    plan: DayFlags,
    /// What varies, from where to where
    #[arg(long, value_name = "NAME=A..B")]
    vary: Vary,
    /// The preferment is to be ripe in this time: its dose is found
    #[arg(long, value_name = "TIME")]
    ripe_after: Option<Hours>,
    /// The bulk is to take this time: the yeast at the mix is found
    #[arg(long, value_name = "TIME")]
    bulk: Option<Hours>,
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
        let asked = planned.map(|planned| planned.0);
        let asked = asked.or_else(|_| self.plan.read(0, p))?;
        let (condition, values) = (self.vary.condition, &self.vary.values);
        let settled = &asked.settled;
        let mut bake = settled.bake.clone();
        if let Some(time) = self.ripe_after {
            bake = bake
                .with_ripe_after(time)
                .map_err(|e| e.at("--ripe-after"))?;
        }
        if let Some(time) = self.bulk {
            bake = bake.with_bulk_for(time).map_err(|e| e.at("--bulk"))?;
        }
        let places = &settled.places;
        let compared = progress::during("comparing", || {
            compare(&bake, places, settled.anchor, p, condition, values)
        });
        let compared = compared.map_err(|e| e.at("--vary"))?;
        let mut answer = json::compare(condition, &compared, &|h| asked.calendar.rfc3339(h));
        answer.notes.extend(model.note());
        if let Some(target) = Target::of_form(&self.chart, self.force, write::CHART)? {
            let title = format!("{} by {}", bake.name, answer.condition);
            let axis = format!("{}, {}", answer.condition, answer.unit);
            write::all(&[(&target, panels(&title, &axis, &drawn(&answer.rows)))])?;
        }
        Ok(output(as_json, &answer, |a| {
            self.words(&asked, &compared, a)
        })?)
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

impl CompareCommand {
    fn words(&self, asked: &DayQuestion, compared: &[Compared], answer: &CompareAnswer) -> String {
        let mut page = Page::default();
        let bake = &asked.settled.bake;
        let (name, condition, unit) = (&bake.name, answer.condition, answer.unit);
        let fixed = [("preferment", self.ripe_after), ("bulk", self.bulk)];
        let fixed = fixed
            .into_iter()
            .filter_map(|(what, for_h)| Some((what, for_h?.as_hours())));
        let fixed: Vec<_> = fixed
            .map(|(what, hours)| format!(", {what} {}", time(hours)))
            .collect();
        page.say(format!("{name}, by {condition} ({unit}){}", fixed.concat()));
        for change in &asked.settled.changes {
            page.item("Changed in all rows: ", &change.sentence().to_string());
        }
        page.gap();
        // A bake in grams is read in grams.
        let weighed = bake.preferment_g(1.0).is_some();
        let dose = if weighed { "yeast g" } else { "dose %" };
        // What is to take a given time is shown by its yeast.
        let bulk = match (self.bulk, bake.recipe_g(1.0)) {
            (None, _) => "bulk",
            (_, Some(_)) => "at mix g",
            _ => "at mix %",
        };
        page.line(format!(
            "{condition:>6}   water    ice  {dose:>8}     ripe {bulk:>8}    proof  start      out"
        ));
        let clock = |hour: Option<f64>| hour.map_or("-".into(), |hour| asked.calendar.time(hour));
        let length = |hours: Option<f64>| hours.map_or("-".into(), time);
        let yeast = |percent: Option<f64>, grams: &dyn Fn(f64) -> Option<f64>| {
            percent.map_or("-".into(), |percent| match grams(percent) {
                Some(g) => format!("{g:.2}"),
                None => format!("{percent:.3}"),
            })
        };
        for (r, c) in answer.rows.iter().zip(compared) {
            let of = |hour: fn(&Plan) -> Option<f64>| c.plan.as_ref().ok().and_then(hour);
            let start = of(|p| p.stages.first().map(|s| s.start_h));
            let water = r
                .water_c
                .map_or("-".into(), |c| format!("{:.0} °C", c.round() + 0.0));
            let ice = r.ice_g.filter(|g| *g >= 0.5);
            let ice = ice.map_or("-".into(), |g| format!("{g:.0} g"));
            let dose = yeast(r.preferment_dose_percent, &|percent| {
                bake.preferment_g(percent)
            });
            let bulk = match self.bulk {
                Some(_) => yeast(r.yeast_percent, &|percent| bake.recipe_g(percent)),
                None => length(r.bulk_h),
            };
            page.line(format!(
                "{:>6} {water:>7} {ice:>6}  {dose:>8} {:>8} {bulk:>8} {:>8}  {:<3} {:>5}  {:>5}{}",
                shown(r.value),
                length(r.preferment_h),
                length(r.proof_h),
                start.map_or(String::new(), |hour| asked.calendar.weekday(hour)),
                clock(start),
                clock(of(|p| p.loads.first().map(|l| l.oven_out_h))),
                if r.feasible { "" } else { "  *" }
            ));
        }
        for r in answer.rows.iter().filter(|r| !r.feasible) {
            if let Some(why) = &r.why {
                page.gap();
                page.item(&format!("* {}: ", shown(r.value)), why);
            }
        }
        page.cautions(&answer.warnings, &answer.notes);
        page.finish()
    }
}
