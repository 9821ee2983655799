//! `pointage compare`

use super::failure::Failure;
use super::outputs::panels::{self, Panel};
use super::params::Numbers;
use super::progress;
use super::question::{Asked, Question};
use super::words::{Page, output};
use super::write::{self, Target};
use pointage::Error;
use pointage::plan::{Compared, Condition, Plan, compare};
use serde::Serialize;
use std::path::PathBuf;

/// How water, dose and clock move with one condition
#[derive(clap::Args)]
#[command(after_help = "Example: the stall's bake in rooms from 18 to 26 °C
  pointage compare stall.toml --first-out 09:00 --vary room=18..26

Conditions: room, dough, flour, tap (°C), yeast (% at the mix). A third number is
the step: room=18..26..2")]
pub struct Args {
    #[command(flatten)]
    plan: Question,
    /// What varies, from where to where
    #[arg(long, value_name = "NAME=A..B", value_parser = vary)]
    vary: Vary,
    /// Write it as a chart too (SVG)
    #[arg(long, value_name = "FILE")]
    chart: Option<PathBuf>,
    /// Replace a chart that exists
    #[arg(long, requires = "chart")]
    force: bool,
}

#[derive(Debug, Clone)]
struct Vary {
    condition: Condition,
    values: Vec<f64>,
}

/// Most values that are compared at once.
const MOST: f64 = 60.0;

fn vary(text: &str) -> Result<Vary, Error> {
    let refuse = || {
        super::parse::refusal(
            "what varies",
            text,
            "a condition and its span such as room=18..26 or room=18..26..2",
        )
    };
    let (name, span) = text.split_once('=').ok_or_else(refuse)?;
    let condition: Condition = name.trim().parse()?;
    let numbers: Vec<f64> = span
        .split("..")
        .map(|n| n.trim().parse().ok().filter(|v: &f64| v.is_finite()))
        .collect::<Option<_>>()
        .ok_or_else(refuse)?;
    let (from, to, step) = match numbers.as_slice() {
        [from, to] => (*from, *to, (to - from) / 8.0),
        [from, to, step] => (*from, *to, *step),
        _ => return Err(refuse()),
    };
    let count = (to - from) / step;
    if !(step > 0.0 && (0.0..=MOST).contains(&count)) {
        return Err(refuse());
    }
    // At most sixty values.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let last = (count + 1e-9) as u32;
    let values = (0..=last).map(|i| from + f64::from(i) * step).collect();
    Ok(Vary { condition, values })
}

/// A line of the table.
#[derive(Serialize)]
struct Row {
    value: f64,
    water_c: Option<f64>,
    ice_g: Option<f64>,
    preferment_dose_percent: Option<f64>,
    preferment_h: Option<f64>,
    bulk_h: Option<f64>,
    proof_h: Option<f64>,
    start: Option<String>,
    first_out: Option<String>,
    feasible: bool,
    why: Option<String>,
}

#[derive(Serialize)]
struct Answer {
    condition: &'static str,
    unit: &'static str,
    rows: Vec<Row>,
    warnings: Vec<String>,
    notes: Vec<String>,
}

impl Args {
    pub fn run(&self, json: bool, numbers: &Numbers) -> Result<String, Failure> {
        let asked = self.plan.read()?;
        let Vary { condition, values } = &self.vary;
        let compared = progress::during("comparing", || {
            compare(
                &asked.bake,
                &asked.places,
                asked.anchor,
                &numbers.parameters,
                *condition,
                values,
            )
        })
        .map_err(|e| e.at("--vary"))?;
        let rows: Vec<Row> = compared.iter().map(|c| row(&asked, c)).collect();
        if let Some(path) = &self.chart {
            let target = Target::of_form(path, self.force, write::CHART)?;
            let title = format!("{} by {}", asked.bake.name, condition.name());
            let axis = format!("{}, {}", condition.name(), condition.unit());
            write::all(&[(&target, panels::panels(&title, &axis, &drawn(&rows)))])?;
        }
        let answer = Answer {
            condition: condition.name(),
            unit: condition.unit(),
            rows,
            warnings: Vec::new(),
            notes: numbers.note.clone().into_iter().collect(),
        };
        Ok(output(json, &answer, |a| words(&asked, a))?)
    }
}

fn row(asked: &Asked, compared: &Compared) -> Row {
    let plan = compared.plan.as_ref();
    let of = |f: &dyn Fn(&Plan) -> Option<f64>| plan.ok().and_then(f);
    let length = |name: &'static str| {
        move |plan: &Plan| {
            let parts = plan.stages.iter().filter(|s| s.name == name);
            parts.map(|s| s.end_h - s.start_h).reduce(|a, b| a + b)
        }
    };
    let clock = |h: Option<f64>| h.map(|h| asked.calendar.rfc3339(h));
    Row {
        value: compared.value,
        water_c: of(&|p| p.water.pour_c()),
        ice_g: of(&|p| p.water.balance_pour.map(|pour| pour.ice.as_grams())),
        preferment_dose_percent: of(&|p| p.preferment.as_ref().map(|f| f.dose.as_percent())),
        preferment_h: of(&|p| p.preferment.as_ref().map(|f| f.ripe_h - f.mixed_h)),
        bulk_h: of(&length("bulk")),
        proof_h: of(&length("proof")),
        start: clock(of(&|p| p.stages.first().map(|s| s.start_h))),
        first_out: clock(of(&|p| p.loads.first().map(|l| l.oven_out_h))),
        feasible: plan.is_ok_and(|p| p.problem.is_none()),
        why: match plan {
            Ok(plan) => plan
                .problem
                .as_ref()
                .map(|p| format!("{}; {}", p.what, p.nearest)),
            Err(e) => Some(e.to_string()),
        },
    }
}

/// What moves, as panels.
fn drawn(rows: &[Row]) -> Vec<Panel> {
    let panel = |name: &str, of: &dyn Fn(&Row) -> Option<f64>| Panel {
        name: name.into(),
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

fn words(asked: &Asked, answer: &Answer) -> String {
    let mut page = Page::default();
    page.say(format!(
        "{}, by {} in {}",
        asked.bake.name, answer.condition, answer.unit
    ));
    page.gap();
    page.line(format!(
        "{:>7}  {:>6} {:>6}  {:>8} {:>6}  {:>5} {:>5}  start  out",
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
    for r in &answer.rows {
        page.line(format!(
            "{:>7.2}  {:>6} {:>6}  {:>8} {:>6}  {:>5} {:>5}  {}  {}{}",
            r.value,
            number(r.water_c, 1),
            number(r.ice_g, 0),
            number(r.preferment_dose_percent, 3),
            number(r.preferment_h, 1),
            minutes(r.bulk_h),
            minutes(r.proof_h),
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
