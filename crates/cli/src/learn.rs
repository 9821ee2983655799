//! `pointage learn`

mod chart;

use super::exit::Failure;
use super::render::{NONE, Page, about, counted, minutes, output, percent, time};
use super::room_record::record;
use super::write::{self, Target};
use super::{clock, files, plan_args, progress};
use pointage::Error;
use pointage::ambient::Ambient;
use pointage::error::check;
use pointage::ferment::Kind;
use pointage::heat::dough_body::time_constant_of_readings;
use pointage::learn::Termination;
use pointage::learn::fit::{FittedRow, LearnedParameter};
use pointage::learn::log::Seen;
use pointage::units::{Hours, Percent, Temperature};
use pointage_api::learn::{LearnAnswer, LearnRequest, learn_log};
use pointage_api::{Model, Sentence};
use serde::Serialize;
use serde_json::json;
use std::path::{Path, PathBuf};

/// What your own bakes teach
///
/// The log is CSV with a header: kind, flour_g, water_g, salt_g, yeast, yeast_g, temperature_c (or
/// room_record), hours, seen (ripe, doubled, ready, not-yet or past). `pointage log add` writes its rows.
#[derive(clap::Args)]
#[command(
    after_help = "Example: learn from the log, then ask with the numbers of this kitchen
  pointage learn log.csv --out kitchen.toml
  pointage ready --kind poolish --dose 0.3% --at 21 --params kitchen.toml

How fast a dough follows its room, from two readings of it:
  pointage learn --reading 0min=25 --reading 2h=23.1 --room 19"
)]
pub struct LearnCommand {
    /// The log (CSV)
    #[arg(required_unless_present = "reading", conflicts_with = "reading")]
    log: Option<PathBuf>,
    /// In place of a log: an hour and the dough's temperature then, such as 2h=23.1; give it twice
    #[arg(long, value_name = "TIME=TEMPERATURE", value_parser = reading, requires = "room")]
    reading: Vec<(f64, Temperature)>,
    /// With readings: the room's temperature, the same all the time
    #[arg(long, value_name = "TEMPERATURE", requires = "reading")]
    room: Option<Temperature>,
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
    /// Show every number of the model, before and after
    #[arg(long)]
    explain: bool,
    #[command(flatten)]
    request: LearnRequest,
}

#[derive(Serialize)]
struct LearnReport<'a> {
    #[serde(flatten)]
    learned: &'a LearnAnswer,
    written: Vec<String>,
}

impl LearnCommand {
    pub fn run(mut self, json: bool, model: &Model) -> Result<String, Failure> {
        let Some(log) = self.log else {
            return Ok(self.time_constant(json)?);
        };
        let name = log.display().to_string();
        let out = self.out.as_deref();
        let out = out.map(|path| Target::new(path, self.force)).transpose()?;
        let chart = Target::of_form(&self.chart, self.force, write::CHART)?;
        write::apart([&out, &chart])?;
        let request = &mut self.request;
        request.log_csv = Some(files::read(&log, files::RECORD_BYTES)?);
        request.scatter = self.scatter.map(scatter).transpose()?;
        let file = log.file_name().map(|n| n.to_string_lossy().into_owned());
        request.log_name = file.or_else(|| Some(name.clone()));
        let date = request.date.as_deref().map(plan_args::date);
        let date = date.unwrap_or_else(|| Ok(clock::today()))?;
        request.date = Some(date.to_string());
        let request = &self.request;
        let (answer, _) = progress::during("learning", || {
            learn_log(request, model, |file| room(&log, file))
        })
        .map_err(|e| Failure::of_request::<LearnRequest>(e.at(&name)))?;

        let params = |target| (target, answer.params_toml.clone());
        let title = request.log_name.as_deref().unwrap_or(&name);
        let drawn = |target| (target, chart::chart(title, &answer));
        let files = out.iter().map(params).chain(chart.iter().map(drawn));
        let written = write::all(&files.collect::<Vec<_>>())?;
        let learned = &answer;
        let report = LearnReport { learned, written };
        Ok(output(json, &report, |report| {
            words(&name, report, request, self.explain)
        })?)
    }

    /// How fast a dough follows its room.
    fn time_constant(&self, json: bool) -> Result<String, Error> {
        let readings = <[_; 2]>::try_from(self.reading.clone());
        let two = |_| Error::contradiction("give two of them, such as 0min=25 and 2h=23.1");
        let (readings, room) = (readings.map_err(two), self.room.unwrap_or_default());
        let found = readings.and_then(|two| time_constant_of_readings(two, room));
        let hours = found.map_err(|e| e.of_field("--reading"))?;
        output(json, &json!({ "tub_time_constant_h": hours }), |_| {
            let mut page = Page::default();
            page.say(format!(
                "The dough goes two thirds of the way to its room in {}. For a tub of so much dough: tub_time_constant_h = {hours:.2} in [process] of the bake.",
                about(hours)
            ));
            page.finish()
        })
    }
}

/// Reads `2h=23.1`.
fn reading(text: &str) -> Result<(f64, Temperature), Error> {
    let refuse = || Error::text("reading", text, "a time and a temperature: 2h=23.1");
    let (hour, at) = text.split_once('=').ok_or_else(refuse)?;
    Ok((hour.parse::<Hours>()?.as_hours(), at.parse()?))
}

/// The scatter of a single time as the share that it is.
fn scatter(percent: Percent) -> Result<f64, Error> {
    let checked = check("scatter", percent.as_percent(), 0.1, 200.0, "%");
    checked
        .map(|percent| percent / 100.0)
        .map_err(|e| e.of_field("--scatter"))
}

/// A room's record, beside the log. What is wrong with it is told of the row.
pub fn room(log: &Path, file: &str) -> Result<Ambient, Error> {
    let folder = log.parent().unwrap_or(Path::new(""));
    record(&folder.join(file)).map_err(|failure| Error::malformed(failure.line()))
}

/// A parameter as a baker calls it.
fn spoken(name: &str) -> &'static str {
    match name {
        "poolish_ml_per_100g" => "gas of a ripe poolish",
        "biga_ml_per_100g" => "gas of a ripe biga",
        "sponge_ml_per_100g" => "gas of a ripe sponge",
        "dough_ml_per_100g" => "gas of a doubled dough",
        "bulk_ml_per_100g" => "gas of your bulk",
        "proof_ml_per_100g" => "gas of your proof",
        "gas_tilt_per_10k" => "slope with temperature",
        "growth_rate_per_h" => "growth of the yeast",
        "growth_cap_g_per_100g" => "most growth of the yeast",
        "lag27_h" => "lag before growth",
        "dose_slope_bend" => "bend with dose",
        "dose_curve_bend" => "curve of that bend",
        _ => "bend with temperature",
    }
}

fn value(p: &LearnedParameter, value: f64) -> String {
    match p.name {
        name if name.ends_with("_ml_per_100g") => format!("{value:.0} mL"),
        name if name.ends_with("_per_h") => format!("{value:.3}/h"),
        name if name.ends_with("_g_per_100g") => format!("{value:.2} g"),
        name if name.ends_with("_h") => format!("{value:.2} h"),
        _ => format!("{value:+.3}"),
    }
}

const SEEN: [(Seen, &str); 3] = [
    (Seen::Ready, "ready"),
    (Seen::NotYet, "not yet"),
    (Seen::Past, "past"),
];

fn done(kind: Kind) -> &'static str {
    match kind {
        Kind::Dough | Kind::OldDough => "has doubled",
        Kind::Bulk | Kind::Proof => "is done",
        _ => "is ripe",
    }
}

/// Most rows that are listed; `--json` has them all.
const LISTED: usize = 60;

fn words(log: &str, report: &LearnReport<'_>, request: &LearnRequest, explain: bool) -> String {
    let a = report.learned;
    let mut page = Page::default();
    for f in &a.forecasts {
        let range = match f.range_h.map(|range| range.map(about)) {
            Some([low, high]) => {
                format!("4 times in 5 a new one is done between {low} and {high}.")
            }
            None => "This log gives no range for a new one.".to_owned(),
        };
        let (kind, line, done) = (f.kind, f.line, done(f.kind));
        let (now, before) = (about(f.now_h), about(f.before_h));
        page.say(format!(
            "The {kind} of line {line} {done} after {now}; before the log it was {before}. {range}"
        ));
    }
    page.gap();
    let (used, refused) = (counted(a.rows_used, "row", "rows"), a.refused.len());
    let count = |seen| a.rows.iter().filter(|r| r.seen == seen).count();
    let [ready, early, past] = SEEN.map(|(seen, _)| count(seen));
    let scatter = 100.0 * a.scatter;
    page.say(format!(
        "{log}: {used} used ({ready} seen ready, {early} not yet, {past} past), {refused} refused. A single time scatters by {scatter:.0} %."
    ));
    if explain {
        parameters(&mut page, a);
    }
    rows(&mut page, &a.rows);
    let mut largest: Vec<_> = a
        .largest
        .iter()
        .filter_map(|&line| apart(a, line))
        .collect();
    largest.sort_by(|a, b| b.0.total_cmp(&a.0));
    page.list(
        "Largest differences",
        largest.into_iter().map(|(_, words)| words),
    );
    if a.next_bake.is_some() || !report.written.is_empty() {
        page.gap();
    }
    if let Some(next) = &a.next_bake {
        let usual = request.offer_fresh_percent.is_empty() && request.offer_at_c.is_empty();
        let offered = if usual { "usual" } else { "offered" };
        let (kind, done) = (next.kind, done(next.kind));
        let (dose, after) = (percent(next.fresh_percent), about(next.expected_h));
        let (now, then) = (100.0 * next.log_sd_now, 100.0 * next.log_sd_then);
        page.say(format!(
            "Log next: a {kind} with {dose} fresh yeast, held at {:.0} °C, which {done} after about {after}. Of the {offered} bakes it teaches most: the error of a forecast falls from {now:.1} to {then:.1} %.",
            next.temperature_c
        ));
    }
    for file in &report.written {
        page.say(format!("Written: {file}"));
    }
    if a.stop != Termination::Converged {
        page.say(a.stop.sentence().to_string());
    }
    page.refused(&a.refused, &a.warnings);
    page.cautions(NONE, &a.notes);
    if !explain {
        page.gap();
        page.line("Every number of the model: --explain");
    }
    page.finish()
}

fn parameters(page: &mut Page, a: &LearnAnswer) {
    page.gap();
    page.line(format!("{:>41}{:>17}{:>10}", "before", "now", "change"));
    // A bend of which the log tells little stands in the JSON only.
    let said = |p: &&LearnedParameter| !p.name.ends_with("_bend") || p.learned_share > 0.2;
    for p in a.estimates.iter().filter(said) {
        let with = |v: f64, e: Option<f64>| match e {
            Some(e) if p.on_log_scale => format!("{} ± {:.0} %", value(p, v), 100.0 * e),
            Some(e) => format!("{} ± {e:.3}", value(p, v)),
            // One of which the log tells nothing keeps its own.
            None if a.stop == Termination::Converged => "as before".to_owned(),
            None => "unknown".to_owned(),
        };
        let (before, now) = (
            with(p.prior, Some(p.prior_sd)),
            with(p.value, p.standard_error),
        );
        let (name, moved) = (spoken(p.name), p.moved + 0.0);
        page.line(format!("{name:<24}{before:>17}{now:>17}{moved:>+10.2}"));
    }
    page.say("± one standard error; change in standard errors of the prior. Gas for 100 g of flour; slope for 10 K.");
}

fn rows(page: &mut Page, rows: &[FittedRow]) {
    page.gap();
    page.line("line  what       observed             predicted  difference");
    for r in rows.iter().take(LISTED) {
        let apart = r.residual_min.map_or("-".into(), |m| match m.round() {
            0.0 => "0 min".into(),
            m if m < 0.0 => format!("-{}", minutes(-m)),
            m => format!("+{}", minutes(m)),
        });
        let seen = SEEN.iter().find(|(seen, _)| *seen == r.seen);
        let seen = seen.map_or("", |s| s.1).to_owned();
        let seen = r.rise.map_or(seen, |rise| format!("{rise:.2}x"));
        let (line, kind) = (r.line, r.kind.name());
        let (observed, predicted) = (time(r.seen_h), time(r.predicted_h));
        page.line(format!(
            "{line:>4}  {kind:<10} {seen:<8} {observed:<11} {predicted:<11} {apart:>8}"
        ));
    }
    if rows.len() > LISTED {
        page.say(format!("and {} more: --json", rows.len() - LISTED));
    }
}

/// How far a row is from what was predicted, in minutes and in words.
fn apart(a: &LearnAnswer, line: u64) -> Option<(f64, String)> {
    let row = a.rows.iter().find(|r| r.line == line)?;
    // What rounds to nothing is no difference.
    let off = Some(60.0 * (row.seen_h - row.predicted_h)).filter(|off| off.abs() >= 0.5)?;
    let way = if off < 0.0 { "sooner" } else { "later" };
    Some((
        off.abs(),
        format!("line {line}, {} {way}", minutes(off.abs())),
    ))
}
