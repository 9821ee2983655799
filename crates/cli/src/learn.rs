//! `pointage learn`

mod chart;

use super::exit::Failure;
use super::render::{Page, about, counted, minutes, output, percent, time};
use super::room_record::record;
use super::write::{self, Target};
use super::{clock, files, plan_args, progress};
use pointage::Error;
use pointage::ambient::Ambient;
use pointage::ferment::Kind;
use pointage::learn::Termination;
use pointage::learn::fit::{Diagnostic, FittedRow, LearnedParameter, sentences};
use pointage::learn::log::Seen;
use pointage::units::Percent;
use pointage_api::Model;
use pointage_api::learn::{LearnAnswer, LearnRequest, learn_log};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// What your own bakes teach
///
/// The log is CSV with a header: kind, flour_g, water_g, salt_g, yeast, yeast_g, temperature_c (or
/// room_record), hours, seen (ripe, doubled, not-yet or past). `pointage log add` writes its rows.
#[derive(clap::Args)]
#[command(
    after_help = "Example: learn from the log, then ask with the numbers of this kitchen
  pointage learn log.csv --out kitchen.toml
  pointage ready --kind poolish --dose 0.3% --at 21 --params kitchen.toml"
)]
pub struct LearnCommand {
    /// The log (CSV)
    log: PathBuf,
    /// Write the learned parameters (TOML), for --params
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write a chart (.svg) of observed against predicted times
    #[arg(long, value_name = "FILE")]
    chart: Option<PathBuf>,
    /// Replace files that exist
    #[arg(long)]
    force: bool,
    /// How much single times scatter, when you know it, such as 10%; else it is learned
    #[arg(long, value_name = "PERCENT")]
    scatter: Option<Percent>,
    #[command(flatten)]
    request: LearnRequest,
}

#[derive(Serialize)]
struct LearnReport<'a> {
    #[serde(flatten)]
    learned: &'a LearnAnswer,
    written: Vec<&'a str>,
    #[serde(skip)]
    offered: &'static str,
    #[serde(skip)]
    one_temperature: bool,
}

impl LearnCommand {
    pub fn run(mut self, json: bool, model: &Model) -> Result<String, Failure> {
        let name = self.log.display().to_string();
        let target = |path: &Option<PathBuf>, form| {
            let path = path.as_deref();
            path.map(|path| Target::of_form(path, self.force, form))
                .transpose()
        };
        let out = self.out.as_deref();
        let out = out.map(|path| Target::new(path, self.force)).transpose()?;
        let chart = target(&self.chart, write::CHART)?;
        write::apart(&[&out, &chart], &[&self.log])?;
        let request = &mut self.request;
        request.log_csv = Some(files::read(&self.log, files::RECORD_BYTES)?);
        request.scatter = self.scatter.map(Percent::as_fraction);
        request.log_name = Some(name.clone());
        let date = request.date.take();
        request.date = Some(match date {
            Some(date) => plan_args::date(&date)?.to_string(),
            None => clock::today().to_string(),
        });
        let request = &self.request;
        let (answer, learned) = progress::during("learning", || {
            learn_log(request, model, |file| room(&self.log, file))
        })
        .map_err(|e| Failure::of::<LearnRequest>(e.at(&name)))?;

        let mut files = Vec::new();
        if let Some(target) = &out {
            files.push((target, answer.params_toml.clone()));
        }
        if let Some(target) = &chart {
            files.push((target, chart::chart(&name, &answer)));
        }
        write::all(&files)?;
        let told = LearnReport {
            learned: &answer,
            offered: if request.offer_fresh_percent.is_empty() && request.offer_at_c.is_empty() {
                "usual"
            } else {
                "offered"
            },
            one_temperature: learned
                .cannot_tell
                .iter()
                .any(|found| matches!(found, Diagnostic::OneTemperature { .. })),
            written: files.iter().map(|(target, _)| target.name()).collect(),
        };
        Ok(output(json, &told, |told| words(&name, told))?)
    }
}

/// A room's record, beside the log. What is wrong with it is told of the row.
pub fn room(log: &Path, file: &str) -> Result<Ambient, Error> {
    let folder = log.parent().unwrap_or(Path::new(""));
    record(&folder.join(file)).map_err(|failure| Error::malformed(failure.line()))
}

fn spoken(name: &str) -> &'static str {
    match name {
        "poolish_ml_per_100g" => "gas of a ripe poolish",
        "biga_ml_per_100g" => "gas of a ripe biga",
        "sponge_ml_per_100g" => "gas of a ripe sponge",
        "dough_ml_per_100g" => "gas of a doubled dough",
        "gas_tilt_per_10k" => "slope with temperature",
        _ => "growth of the yeast",
    }
}

fn seen(seen: Seen) -> &'static str {
    match seen {
        Seen::Ready => "ready",
        Seen::NotYet => "not yet",
        Seen::Past => "past",
    }
}

fn value(p: &LearnedParameter, value: f64) -> String {
    match p.name {
        name if name.ends_with("_ml_per_100g") => format!("{value:.0} mL"),
        "gas_tilt_per_10k" => format!("{value:+.3}"),
        _ => format!("{value:.3}/h"),
    }
}

fn error(p: &LearnedParameter, error: f64) -> String {
    if p.on_log_scale {
        format!("{:.0} %", 100.0 * error)
    } else {
        format!("{error:.3}")
    }
}

fn done(kind: Kind) -> &'static str {
    match kind {
        Kind::Dough | Kind::OldDough => "has doubled",
        _ => "is ripe",
    }
}

/// Most rows that are listed; `--json` has them all.
const LISTED: usize = 60;

fn words(log: &str, told: &LearnReport<'_>) -> String {
    let a = told.learned;
    let mut page = Page::default();
    let count = |seen| a.rows.iter().filter(|r| r.seen == seen).count();
    page.say(format!(
        "{log}: {} used ({} seen ready, {} not yet, {} past), {} refused. A single time scatters by {:.0} %.",
        counted(a.rows_used, "row", "rows"),
        count(Seen::Ready),
        count(Seen::NotYet),
        count(Seen::Past),
        a.refused.len(),
        100.0 * a.scatter
    ));
    page.gap();
    for f in &a.forecasts {
        let range = match f.range_h {
            Some([low, high]) => format!(
                "4 times in 5 a new one is done between {} and {}.",
                about(low),
                about(high)
            ),
            None => "This log gives no range for a new one.".to_owned(),
        };
        page.say(format!(
            "The {} of line {} {} after {}; before the log it was {}. {range}",
            f.kind,
            f.line,
            done(f.kind),
            about(f.now_h),
            about(f.before_h)
        ));
    }
    parameters(&mut page, a);
    rows(&mut page, &a.rows);
    let largest: Vec<String> = a
        .largest
        .iter()
        .filter_map(|&line| apart(a, line))
        .collect();
    if !largest.is_empty() {
        page.say(format!("Largest differences: {}.", largest.join("; ")));
    }
    page.gap();
    for pair in &a.together {
        page.say(format!("In this log {}.", sentences::together(pair)));
    }
    for (how, intervals) in [("profile", &a.profile), ("bootstrap", &a.bootstrap)] {
        for i in intervals {
            if let Some(p) = a.estimates.iter().find(|p| p.name == i.name) {
                page.say(format!(
                    "By {how}, 10 to 90 %: {} {} to {}.",
                    spoken(i.name),
                    value(p, i.low),
                    value(p, i.high)
                ));
            }
        }
    }
    if !a.laws.is_empty() && told.one_temperature {
        page.say("At one temperature every law says the same: this log cannot compare them.");
    }
    for law in &a.laws {
        page.say(format!(
            "Law {}: AICc {}, leaves a scatter of {:.1} %.",
            law.law,
            law.aicc
                .map_or("not to be had from so few rows".into(), |v| format!(
                    "{v:.1}"
                )),
            100.0 * law.scatter
        ));
    }
    let offered = told.offered;
    if let Some(next) = &a.next_bake {
        page.say(format!(
            "Log next: a {} with {} fresh yeast, held at {:.0} °C, which {} after about {}. Of the {offered} bakes it teaches most: the error of a forecast falls from {:.1} to {:.1} %.",
            next.kind,
            percent(next.fresh_percent),
            next.temperature_c,
            done(next.kind),
            about(next.expected_h),
            100.0 * next.log_sd_now,
            100.0 * next.log_sd_then
        ));
    }
    for file in &told.written {
        page.say(format!("Written: {file}"));
    }
    if a.stop != Termination::Converged {
        page.say(format!("The fit {}.", sentences::stop(a.stop)));
    }
    let refused = a.refused.iter().map(|r| format!("Not used: {r}."));
    let warnings: Vec<String> = refused
        .chain(a.warnings.iter().map(|w| sentence(&w.to_string())))
        .collect();
    page.cautions(&warnings, &a.notes);
    page.finish()
}

/// With a capital and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    format!("{}{}.", first.unwrap_or_default(), letters.as_str())
}

fn parameters(page: &mut Page, a: &LearnAnswer) {
    page.gap();
    page.line(format!(
        "{:<24}{:>17}{:>17}{:>10}",
        "", "before", "now", "change"
    ));
    for p in &a.estimates {
        let with = |v: f64, e: Option<f64>| match e {
            Some(e) => format!("{} ± {}", value(p, v), error(p, e)),
            None if p.at_limit => "at its limit".to_owned(),
            None => "unknown".to_owned(),
        };
        let now = with(p.value, p.standard_error);
        page.line(format!(
            "{:<24}{:>17}{:>17}{:>+10.2}",
            spoken(p.name),
            with(p.prior, Some(p.prior_sd)),
            now,
            p.moved + 0.0
        ));
    }
    page.say("± one standard error; change in standard errors of the prior. Gas for 100 g of flour; slope for 10 K.");
}

fn rows(page: &mut Page, rows: &[FittedRow]) {
    page.gap();
    page.line("line  what       observed             predicted  difference");
    for r in rows.iter().take(LISTED) {
        let apart = r.residual_min.map_or("-".into(), |m| {
            let sign = if m < 0.0 { '-' } else { '+' };
            format!("{sign}{}", minutes(m.abs()))
        });
        page.line(format!(
            "{:>4}  {:<10} {:<8} {:<11} {:<11} {apart:>8}",
            r.line,
            r.kind.name(),
            seen(r.seen),
            time(r.seen_h),
            time(r.predicted_h),
        ));
    }
    if rows.len() > LISTED {
        page.say(format!("and {} more: --json", rows.len() - LISTED));
    }
}

fn apart(a: &LearnAnswer, line: u64) -> Option<String> {
    let row = a.rows.iter().find(|r| r.line == line)?;
    let off = 60.0 * (row.seen_h - row.predicted_h);
    Some(format!(
        "line {line}, {} {}",
        minutes(off.abs()),
        if off < 0.0 { "sooner" } else { "later" }
    ))
}
