//! `pointage log`: rows of a baker's log.

use super::exit::Failure;
use super::learn::room;
use super::render::{NONE, Page, counted, output};
use super::write::{self, Target};
use super::{clock, files, plan_args};
use clap::{ArgGroup, Subcommand};
use jiff::civil::Date;
use pointage::Error;
use pointage::ferment::Kind;
use pointage::formula::YeastKind;
use pointage::learn::Refused;
use pointage::learn::log::{COLUMNS, Log};
use pointage::units::{ClockTime, Mass, Percent, Temperature, as_hours, parse_duration};
use pointage_api::Model;
use serde::Serialize;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Keep a log of your bakes
#[derive(clap::Args)]
pub struct LogCommand {
    #[command(subcommand)]
    task: LogTask,
}

#[derive(Subcommand)]
enum LogTask {
    /// Append a bake to a log
    Add(Box<Add>),
    /// List the rows of a log that cannot be used
    Check(Check),
}

impl LogCommand {
    pub fn run(&self, json: bool, model: &Model) -> Result<(String, Option<Failure>), Failure> {
        match &self.task {
            LogTask::Add(add) => Ok((add.run(json, model)?, None)),
            LogTask::Check(check) => check.run(json, model),
        }
    }
}

/// A log read, with rows that the model cannot follow among the refused.
fn read(path: &Path, text: &str, model: &Model) -> Result<Log, Failure> {
    let mut log = Log::from_csv(text, |file| room(path, file))
        .map_err(|e| e.at(path.display().to_string()))?;
    let mut refused = Vec::new();
    log.observations.retain(|o| {
        let fault = o.bake.ready(model.parameters()).err();
        refused.extend(fault.iter().map(|why| Refused {
            line: o.line,
            column: String::new(),
            why: why.to_string(),
        }));
        fault.is_none()
    });
    log.refused.append(&mut refused);
    log.refused.sort_by_key(|r| r.line);
    Ok(log)
}

/// List the rows of a log that cannot be used
#[derive(clap::Args)]
#[command(after_help = "Example:
  pointage log check log.csv

Exit code 2 when there are any.")]
struct Check {
    /// The log (CSV)
    log: PathBuf,
}

#[derive(Serialize)]
struct LogChecked {
    rows_good: usize,
    refused: Vec<Refused>,
    warnings: Vec<String>,
}

impl Check {
    fn run(&self, json: bool, model: &Model) -> Result<(String, Option<Failure>), Failure> {
        let name = self.log.display().to_string();
        let log = read(
            &self.log,
            &files::read(&self.log, files::RECORD_BYTES)?,
            model,
        )?;
        let answer = LogChecked {
            rows_good: log.observations.len(),
            refused: log.refused,
            warnings: Vec::new(),
        };
        let bad = answer.refused.len();
        let text = output(json, &answer, |a| {
            let mut page = Page::default();
            page.say(format!(
                "{name}: {} good, {bad} bad.",
                counted(a.rows_good, "row", "rows")
            ));
            for refused in &a.refused {
                page.say(refused.to_string());
            }
            page.finish()
        })?;
        let failure = answer
            .refused
            .first()
            .map(|first| Failure::of_input(format!("{name}: bad rows: {bad}; the first: {first}")));
        Ok((text, failure))
    }
}

/// Append a bake to a log
///
/// The log is made when there is none. Its header stays, with its units.
#[derive(clap::Args)]
#[command(
    group = ArgGroup::new("water").args(["water_mass", "hydration"]).required(true),
    group = ArgGroup::new("amount").args(["yeast_mass", "dose"]).required(true),
    group = ArgGroup::new("length").args(["after", "ended"]).required(true),
    group = ArgGroup::new("place").args(["at", "room_record"]).required(true),
    after_help = "Examples:
  pointage log add log.csv --kind poolish --flour-mass 1kg --hydration 100% \\
      --yeast fresh --dose 0.3% --at 21 --after 11h30
  pointage log add log.csv --kind dough --flour-mass 5kg --water-mass 3.3kg \\
      --salt-mass 100g --yeast instant --yeast-mass 25g --at 25 \\
      --started 05:40 --ended 07:30 --seen not-yet"
)]
struct Add {
    /// The log (CSV)
    log: PathBuf,
    /// poolish, biga, sponge, old-dough or dough
    #[arg(long, value_name = "KIND")]
    kind: Kind,
    /// Its own flour
    #[arg(long, value_name = "MASS")]
    flour_mass: Mass,
    /// Its own water
    #[arg(long, value_name = "MASS")]
    water_mass: Option<Mass>,
    /// Or its water in percent of its flour
    #[arg(long, value_name = "PERCENT")]
    hydration: Option<Percent>,
    /// Its own salt
    #[arg(long, value_name = "MASS")]
    salt_mass: Option<Mass>,
    /// fresh, instant or active-dry
    #[arg(long, value_name = "KIND")]
    yeast: YeastKind,
    /// Yeast
    #[arg(long, value_name = "MASS")]
    yeast_mass: Option<Mass>,
    /// Or yeast in percent of its flour
    #[arg(long, value_name = "PERCENT")]
    dose: Option<Percent>,
    /// Temperature that the dough was held at
    #[arg(long, value_name = "TEMPERATURE")]
    at: Option<Temperature>,
    /// Or the record of its room, beside the log; hour 0 is the mix
    #[arg(long, value_name = "FILE")]
    room_record: Option<String>,
    /// Temperature of the dough at its mix, with a record
    #[arg(long, value_name = "TEMPERATURE", requires = "room_record")]
    mixed_at: Option<Temperature>,
    /// Time from the mix to what was seen, such as 11h30
    #[arg(long, value_name = "TIME", value_parser = parse_duration)]
    after: Option<Duration>,
    /// Or when it was mixed
    #[arg(long, value_name = "HH:MM", requires = "ended")]
    started: Option<ClockTime>,
    /// and when it was seen, within a day
    #[arg(long, value_name = "HH:MM", requires = "started")]
    ended: Option<ClockTime>,
    /// ripe, doubled, not-yet or past [default: doubled for dough and old-dough, else ripe]
    #[arg(long, value_name = "WORD")]
    seen: Option<String>,
    /// Day of the bake; today without it
    #[arg(long, value_name = "DATE", value_parser = plan_args::date)]
    date: Option<Date>,
    /// Anything else
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

#[derive(Serialize)]
struct Added {
    log: String,
    line: u64,
    hours: f64,
    row: String,
    warnings: Vec<String>,
}

impl Add {
    fn run(&self, json: bool, model: &Model) -> Result<String, Failure> {
        if let (Some(start), Some(end)) = (self.started, self.ended)
            && start == end
        {
            return Err(Failure::of_input(
                "nothing was added; --started and --ended are the same time: give the length, such as --after 24h",
            ));
        }
        let name = self.log.display().to_string();
        // Or a row that is added meanwhile would be lost.
        let _alone = write::alone(&self.log);
        let is_new = std::fs::metadata(&self.log)
            .map_or(!self.log.is_symlink(), |m| m.is_file() && m.len() == 0);
        let mut text = if is_new {
            let mut header = COLUMNS.join(",");
            header.push('\n');
            header
        } else {
            files::read(&self.log, files::RECORD_BYTES)?
        };
        let before = read(&self.log, &text, model)?;
        let newline = if text.contains("\r\n") { "\r\n" } else { "\n" };
        if !text.ends_with('\n') {
            text.push_str(newline);
        }
        let line = 1 + text.matches('\n').count() as u64;
        let row = self.row(&text).map_err(|e| e.at(&name))?;
        text.push_str(&row);
        text.push_str(newline);
        let after = read(&self.log, &text, model)?;
        if let Some(fault) = after.refused.iter().find(|r| r.line >= line) {
            return Err(Failure::of_input(format!(
                "{name}: nothing was added; the row would be refused: {fault}"
            )));
        }
        let Some(added) = after
            .observations
            .last()
            .filter(|_| after.observations.len() == before.observations.len() + 1)
        else {
            return Err(Failure::of_input(format!(
                "{name}: nothing was added; the row does not fit the log, see pointage log check"
            )));
        };
        let hours = added.hours;
        write::all(&[(&Target::new(&self.log, true)?, text)])?;
        let answer = Added {
            log: name,
            line,
            hours,
            row,
            warnings: after.refused.iter().map(ToString::to_string).collect(),
        };
        Ok(output(json, &answer, |a| {
            let mut page = Page::default();
            page.say(format!("{}, line {}: {}", a.log, a.line, a.row));
            page.cautions(&a.warnings, NONE);
            page.finish()
        })?)
    }

    fn hours(&self) -> f64 {
        match (self.after, self.started, self.ended) {
            (Some(after), ..) => as_hours(after),
            (None, Some(start), Some(end)) => {
                let minutes = i32::from(end.as_minutes()) - i32::from(start.as_minutes());
                f64::from(if minutes > 0 { minutes } else { minutes + 1440 }) / 60.0
            }
            _ => 0.0, // the parser asks for one of the two
        }
    }

    /// The row under the header of the log, in its units.
    fn row(&self, log: &str) -> Result<String, Error> {
        let malformed = |why: String| Error::Malformed(why);
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .from_reader(log.as_bytes());
        let header = reader
            .headers()
            .map_err(|e| malformed(e.to_string()))?
            .clone();
        let flour_g = self.flour_mass.as_grams();
        let share = |p: Percent| flour_g * p.as_percent() / 100.0;
        let water_g = self
            .water_mass
            .map(Mass::as_grams)
            .or(self.hydration.map(share));
        let yeast_g = self.yeast_mass.map(Mass::as_grams).or(self.dose.map(share));
        let is_dough = matches!(self.kind, Kind::Dough | Kind::OldDough);
        let ready = if is_dough { "doubled" } else { "ripe" };
        // Quantity, its value in the base unit, and whether the log must have a column for it.
        let (g, c, h) = (LogUnit::Grams, LogUnit::Celsius, LogUnit::Hours);
        let amounts = [
            ("flour", g, Some(flour_g)),
            ("water", g, water_g),
            ("salt", g, self.salt_mass.map(Mass::as_grams)),
            ("yeast", g, yeast_g),
            (
                "temperature",
                c,
                self.at.or(self.mixed_at).map(Temperature::as_celsius),
            ),
            ("", h, Some(self.hours())),
        ];
        let date = self.date.unwrap_or_else(clock::today).to_string();
        let texts = [
            ("date", Some(date.as_str())),
            ("kind", Some(self.kind.name())),
            ("yeast", Some(self.yeast.name())),
            ("room_record", self.room_record.as_deref()),
            ("seen", Some(self.seen.as_deref().unwrap_or(ready))),
            ("note", self.note.as_deref()),
        ];
        let mut given: Vec<(&str, bool)> = amounts.iter().map(|a| (a.0, a.2.is_some())).collect();
        let mut cells = Vec::new();
        for column in &header {
            let cell = if let Some((_, text)) = texts.iter().find(|t| t.0 == column) {
                // A row is a line.
                text.unwrap_or_default().replace(['\n', '\r'], " ")
            } else {
                let found = amounts
                    .iter()
                    .enumerate()
                    .find_map(|(i, (name, unit, value))| {
                        Some((i, unit.factor(column.strip_prefix(name)?)?, value))
                    });
                match found {
                    Some((i, (factor, offset), value)) => {
                        given[i].1 = false;
                        value.map_or(String::new(), |v| plain(v * factor + offset))
                    }
                    None => String::new(),
                }
            };
            cells.push(cell);
        }
        let homeless = given.iter().find(|(_, left)| *left).map(|(name, _)| *name);
        let silent = |t: &&(&str, Option<&str>)| {
            t.1.is_some_and(|v| !v.is_empty())
                && !header.iter().any(|h| h == t.0)
                && (t.0 != "date" || self.date.is_some())
        };
        if let Some(name) = homeless.or(texts.iter().find(silent).map(|t| t.0)) {
            return Err(malformed(format!(
                "line 1: no column for {}; add one to the header and an empty cell to every row",
                if name.is_empty() { "hours" } else { name }
            )));
        }
        let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
        writer
            .write_record(&cells)
            .map_err(|e| malformed(e.to_string()))?;
        let bytes = writer.into_inner().map_err(|e| malformed(e.to_string()))?;
        let row = String::from_utf8(bytes).map_err(|e| malformed(e.to_string()))?;
        Ok(row.trim_end().to_owned())
    }
}

#[derive(Clone, Copy)]
enum LogUnit {
    Grams,
    Celsius,
    Hours,
}

impl LogUnit {
    /// From the base unit to that of a column's ending: factor and offset.
    fn factor(self, ending: &str) -> Option<(f64, f64)> {
        Some(match (self, ending) {
            (Self::Grams, "_g") | (Self::Celsius, "_c") | (Self::Hours, "hours") => (1.0, 0.0),
            (Self::Grams, "_kg") => (1e-3, 0.0),
            (Self::Grams, "_lb") => (1.0 / 453.592_37, 0.0),
            (Self::Grams, "_oz") => (16.0 / 453.592_37, 0.0),
            (Self::Celsius, "_f") => (1.8, 32.0),
            (Self::Hours, "minutes") => (60.0, 0.0),
            _ => return None,
        })
    }
}

/// Eight digits that count, which no scale or clock exceeds.
fn plain(value: f64) -> String {
    let rounded: f64 = format!("{value:.7e}").parse().unwrap_or(value);
    format!("{rounded}")
}
