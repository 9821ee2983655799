//! `pointage log`: rows of a baker's log.

use super::exit::Failure;
use super::learn::room;
use super::plan_args::{self, DayFlags};
use super::render::{NONE, Page, counted, digits, minutes, output};
use super::write::GrowingFile;
use super::{clock, files};
use clap::{ArgGroup, Subcommand};
use jiff::civil::Date;
use pointage::Error;
use pointage::ferment::Kind;
use pointage::formula::YeastKind;
use pointage::learn::Refused;
use pointage::learn::log::{COLUMNS, Log, LoggedPlace, Observation, Seen};
use pointage::plan::{
    Checkpoint, Detail, LoggedStage, Measured, logged_stages, plan, planned_stages,
};
use pointage::rows::CellFormat;
use pointage::units::{ClockTime, Hours, Mass, Percent, Temperature};
use pointage_api::Model;
use serde::Serialize;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Keep a log of your bakes
#[derive(Subcommand)]
pub enum LogCommand {
    /// Append a bake to a log
    Add(Box<Add>),
    /// List the rows of a log that cannot be used
    Check(Check),
    /// Set a logged bake beside its plan
    Compare(Compare),
}

impl LogCommand {
    pub fn run(&self, json: bool, model: &Model) -> Result<(String, Option<Failure>), Failure> {
        match self {
            Self::Add(add) => Ok((add.run(json, model)?, None)),
            Self::Check(check) => check.run(json, model),
            Self::Compare(compare) => Ok((compare.run(json, model)?, None)),
        }
    }
}

/// A log read, with rows that the model cannot follow among the refused.
fn read(path: &Path, text: &str, model: &Model) -> Result<Log, Failure> {
    let mut log = Log::from_csv(text, |file| room(path, file))
        .map_err(|e| e.at(path.display().to_string()))?;
    log.observations.retain(|o| {
        let fault = o.bake.ready(model.parameters()).err();
        let refused = fault.map(|why| Refused {
            line: o.line,
            column: String::new(),
            why: why.to_string(),
        });
        let is_good = refused.is_none();
        log.refused.extend(refused);
        is_good
    });
    log.refused.sort_by_key(|r| r.line);
    Ok(log)
}

/// List the rows of a log that cannot be used
#[derive(clap::Args)]
#[command(after_help = "Example:
  pointage log check log.csv

Exit code 2 when there are any.")]
pub struct Check {
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
        let text = files::read(&self.log, files::RECORD_BYTES)?;
        let log = read(&self.log, &text, model)?;
        let answer = LogChecked {
            rows_good: log.observations.len(),
            refused: log.refused,
            warnings: Vec::new(),
        };
        let bad = answer.refused.len();
        let text = output(json, &answer, |a| {
            let mut page = Page::default();
            let good = counted(a.rows_good, "row", "rows");
            page.say(format!("{name}: {good} good, {bad} bad."));
            for refused in &a.refused {
                page.say(refused.to_string());
            }
            page.finish()
        })?;
        let failure =
            |first| Failure::Input(format!("{name}: bad rows: {bad}; the first: {first}"));
        Ok((text, answer.refused.first().map(failure)))
    }
}

/// Set a logged bake beside its plan
///
/// Times count from the start of each stage, and temperatures are the mean of the dough over it.
#[derive(clap::Args)]
#[command(after_help = "Example: the last day of the log
  pointage log compare bakes.csv my.toml

The log is one that `log add --bake` has written.")]
pub struct Compare {
    /// The log (CSV)
    log: PathBuf,
    /// The bake file (TOML)
    bake: PathBuf,
    /// Day of the bake, as the log has it; its last one without it
    #[arg(long, value_name = "DATE", value_parser = plan_args::date)]
    date: Option<Date>,
    /// Hour of the mix, for a room that changes with the clock
    #[arg(long, value_name = "HH:MM", default_value = "06:00")]
    mix_at: ClockTime,
}

#[derive(Serialize)]
struct LogCompared {
    date: String,
    stages: Vec<StageCompared>,
    warnings: Vec<String>,
}

/// A stage as it was planned and as it was; what one of both does not tell is null.
#[derive(Serialize)]
struct StageCompared {
    line: u64,
    stage: Kind,
    seen: Seen,
    planned_min: Option<f64>,
    actual_min: f64,
    /// How much longer it took; null where it was not seen at its end.
    difference_min: Option<f64>,
    planned_dough_c: Option<f64>,
    actual_dough_c: Option<f64>,
    planned_rise: Option<f64>,
    actual_rise: Option<f64>,
}

impl Compare {
    fn run(&self, json: bool, model: &Model) -> Result<String, Failure> {
        let name = self.log.display().to_string();
        let log = read(
            &self.log,
            &files::read(&self.log, files::RECORD_BYTES)?,
            model,
        )?;
        let is_stage = |o: &&Observation| o.bake.kind != Kind::Dough && !o.date.is_empty();
        let last = log.observations.iter().filter(is_stage).map(|o| &o.date);
        let date = self.date.map(|date| date.to_string());
        let date = date.or(last.max().cloned()).unwrap_or_default();
        let mut rows = log
            .observations
            .iter()
            .filter(|o| o.date == date)
            .peekable();
        if rows.peek().is_none() {
            let why = format!(
                "{name}: no bake of that day; log one with log add --bake, or give another --date"
            );
            return Err(Failure::Input(why));
        }
        let day = plan_args::date(&date).map_err(|e| Failure::Input(e.to_string()))?;
        let p = model.parameters();
        let asked = DayFlags::of_mix(self.bake.clone(), self.mix_at, day).read(0, p)?;
        let settled = &asked.settled;
        let planned = planned_stages(&settled.bake, &settled.places, settled.anchor, p);
        let planned = planned.map_err(|e| e.at(&asked.name))?;
        let stage = |row: &Observation| {
            let plan = planned.iter().find(|stage| stage.kind == row.bake.kind);
            let planned_min = plan.map(|stage| 60.0 * stage.hours);
            let actual_min = 60.0 * row.hours;
            let at_its_end = row.seen == Seen::Ready && row.bake.rise.is_none();
            let difference_min = planned_min.filter(|_| at_its_end);
            StageCompared {
                line: row.line,
                stage: row.bake.kind,
                seen: row.seen,
                planned_min,
                actual_min,
                difference_min: difference_min.map(|planned| actual_min - planned),
                planned_dough_c: plan.map(|stage| stage.temperature_c),
                actual_dough_c: match row.bake.place {
                    LoggedPlace::Held(t) => Some(t.as_celsius()),
                    _ => None,
                },
                planned_rise: plan.and_then(|stage| stage.rise),
                actual_rise: row.rise,
            }
        };
        let mut stages: Vec<_> = rows.map(stage).collect();
        // The rise of a jar is read as a row of its own, too.
        stages.dedup_by_key(|stage| stage.line);
        let refused = log.refused.iter().map(ToString::to_string);
        let answer = LogCompared {
            date,
            stages,
            warnings: refused.collect(),
        };
        Ok(output(json, &answer, |a| words(&settled.bake.name, a))?)
    }
}

fn words(name: &str, a: &LogCompared) -> String {
    let mut page = Page::default();
    page.say(format!(
        "{name}, {}: the plan, and the day as logged.",
        a.date
    ));
    page.gap();
    page.line("stage      planned            actual  difference   dough °C        rise");
    let shown = |value: Option<f64>, digits: usize| {
        value.map_or("-".to_owned(), |value| format!("{value:.digits$}"))
    };
    for s in &a.stages {
        let seen = match (s.seen, s.difference_min) {
            (Seen::NotYet, _) => "not yet ",
            (Seen::Past, _) => "past ",
            _ => "",
        };
        let difference = s
            .difference_min
            .map_or("-".to_owned(), |min| format!("{min:+.0} min"));
        page.line(format!(
            "{:<9} {:>8}  {:>16}  {difference:>10}  {:>4} / {:<4}  {:>4} / {:<4}",
            s.stage.name(),
            s.planned_min.map_or("-".to_owned(), minutes),
            seen.to_owned() + &minutes(s.actual_min),
            shown(s.planned_dough_c, 1),
            shown(s.actual_dough_c, 1),
            shown(s.planned_rise, 2),
            shown(s.actual_rise, 2),
        ));
    }
    page.cautions(&a.warnings, NONE);
    page.finish()
}

/// Append a bake to a log
///
/// The log is made when there is none. Its header stays, with its units.
#[derive(clap::Args)]
#[command(
    group = ArgGroup::new("water").args(["water_mass", "hydration", "bake"]).required(true),
    group = ArgGroup::new("amount").args(["yeast_mass", "dose", "bake"]).required(true),
    group = ArgGroup::new("length").args(["after", "ended", "bake"]).required(true),
    group = ArgGroup::new("place").args(["at", "room_record", "bake"]).required(true),
    after_help = "Examples:
  pointage log add log.csv --kind poolish --flour-mass 1kg --hydration 100% \\
      --yeast fresh --dose 0.3% --at 21 --after 11h30
  pointage log add log.csv --kind dough --flour-mass 5kg --water-mass 3.3kg \\
      --salt-mass 100g --yeast instant --yeast-mass 25g --at 25 \\
      --started 05:40 --ended 07:30 --seen not-yet
  pointage log add bakes.csv --bake my.toml --measured \"mix 25C 05:10\" \\
      --measured \"bulk ready 06:20\" --measured \"bulk 1.6x 06:20\" \\
      --measured \"proof ready 07:35\"

With --bake each stage that was measured is a row: preferment, bulk, proof. Write
measurements as for adjust; bulk and proof may be ready, unready or past, too. Say
with --preferment-mixed when the preferment was mixed. A new log has all their
columns."
)]
pub struct Add {
    /// The log (CSV)
    log: PathBuf,
    /// A bake file: its stages, as they were measured, make the rows
    #[arg(long, value_name = "FILE", requires = "measured")]
    bake: Option<PathBuf>,
    /// What was measured or seen of the bake, and when; the mix is needed
    #[arg(long, value_name = "TEXT", requires = "bake")]
    measured: Vec<Measured<ClockTime>>,
    /// When its preferment was mixed [default: as planned]
    #[arg(long, value_name = "HH:MM", requires = "bake")]
    preferment_mixed: Option<ClockTime>,
    /// poolish, biga, sponge, old-dough, dough, or a stage of a dough: bulk or proof
    #[arg(long, value_name = "KIND", required_unless_present = "bake")]
    kind: Option<Kind>,
    /// Its own flour
    #[arg(long, value_name = "MASS", required_unless_present = "bake")]
    flour_mass: Option<Mass>,
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
    #[arg(long, value_name = "KIND", required_unless_present = "bake")]
    yeast: Option<YeastKind>,
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
    #[arg(
        long,
        value_name = "TEMPERATURE",
        requires = "room_record",
        conflicts_with = "at"
    )]
    mixed_at: Option<Temperature>,
    /// Time from the mix to the start of a bulk or a proof, such as 1h50
    #[arg(long, value_name = "TIME", conflicts_with = "bake")]
    before: Option<Hours>,
    /// Time from there (or from the mix) to what was seen, such as 11h30
    #[arg(long, value_name = "TIME")]
    after: Option<Hours>,
    /// Or when it was mixed
    #[arg(long, value_name = "HH:MM", requires = "ended")]
    started: Option<ClockTime>,
    /// and when it was seen, within a day
    #[arg(long, value_name = "HH:MM", requires = "started")]
    ended: Option<ClockTime>,
    /// ripe, doubled, ready, not-yet or past [default: at its end point]
    #[arg(long, value_name = "WORD", conflicts_with = "bake")]
    seen: Option<String>,
    /// How far it had risen in a straight-sided jar, such as 1.7
    #[arg(long, value_name = "RATIO", conflicts_with = "bake")]
    rise: Option<f64>,
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
    #[serde(flatten)]
    first: AddedRow,
    /// Further rows, of the same bake.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    more: Vec<AddedRow>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct AddedRow {
    line: u64,
    hours: f64,
    row: String,
}

impl Add {
    fn run(&self, json: bool, model: &Model) -> Result<String, Failure> {
        if let (Some(start), Some(end)) = (self.started, self.ended)
            && start == end
        {
            let why = "nothing was added; --started and --ended are the same time: give the length, such as --after 24h";
            return Err(Failure::Input(why.into()));
        }
        // A row that no log would take makes none.
        if !self.log.exists() {
            self.added_to(String::new(), model)?;
        }
        let mut log = GrowingFile::open(&self.log)?;
        let (more, mut answer) = self.added_to(log.text(files::RECORD_BYTES)?, model)?;
        log.add(&more)?;
        answer.warnings.extend(log.unlocked.as_ref().map(|why| {
            format!("this file system has no locks ({why}): add one row after the other")
        }));
        Ok(output(json, &answer, |a| {
            let mut page = Page::default();
            for AddedRow { line, row, .. } in std::iter::once(&a.first).chain(&a.more) {
                page.say(format!("{}, line {line}: {row}", a.log));
            }
            page.cautions(&a.warnings, NONE);
            page.finish()
        })?)
    }

    /// What goes to the end of a log of this text, and the answer.
    fn added_to(&self, log: String, model: &Model) -> Result<(String, Added), Failure> {
        let name = self.log.display().to_string();
        let is_new = log.is_empty();
        let mut text = if is_new {
            COLUMNS.join(",") + "\n"
        } else {
            log
        };
        let held = if is_new { 0 } else { text.len() };
        let before = read(&self.log, &text, model)?.observations.len();
        let newline = if text.contains("\r\n") { "\r\n" } else { "\n" };
        if !text.ends_with('\n') {
            text.push_str(newline);
        }
        let first = 1 + text.matches('\n').count() as u64;
        let mut added = Vec::new();
        for (line, row) in (first..).zip(self.rows(model)?) {
            let row = written(&row, self.date.is_some(), &text).map_err(|e| e.at(&name))?;
            text += &format!("{row}{newline}");
            added.push((line, row));
        }
        let after = read(&self.log, &text, model)?;
        let refuse = |why| Err(Failure::Input(format!("{name}: nothing was added; {why}")));
        if let Some(fault) = after.refused.iter().find(|r| r.line >= first) {
            return refuse(format!("the row would be refused: {fault}"));
        }
        let rows = added.into_iter().filter_map(|(line, row)| {
            let read = after.observations[before..].iter().find(|o| o.line == line);
            read.map(|read| AddedRow {
                line,
                hours: read.hours,
                row,
            })
        });
        let mut rows = rows.collect::<Vec<_>>().into_iter();
        let Some(first) = rows.next() else {
            return refuse("the row does not fit the log, see pointage log check".into());
        };
        let answer = Added {
            log: name,
            first,
            more: rows.collect(),
            warnings: after.refused.iter().map(ToString::to_string).collect(),
        };
        Ok((text.split_off(held), answer))
    }

    /// The new rows by their columns.
    fn rows(&self, model: &Model) -> Result<Vec<Value>, Failure> {
        let mut rows = match &self.bake {
            Some(bake) => self.rows_of_bake(bake, model)?,
            None => vec![self.row_of_flags()],
        };
        let date = self.date.unwrap_or_else(clock::today).to_string();
        for row in &mut rows {
            row["date"] = json!(date);
            if let Some(note) = &self.note {
                row["note"] = json!(note);
            }
        }
        Ok(rows)
    }

    /// The stages of a bake, measured on the clock of its day.
    fn rows_of_bake(&self, file: &Path, model: &Model) -> Result<Vec<Value>, Failure> {
        let p = model.parameters();
        let mixed = |m: &&Measured<ClockTime>| matches!(m.what, Checkpoint::Mixed(_));
        let mix = self.measured.iter().find(mixed);
        let mix_at = mix.map_or_else(|| "00:00".parse(), |mix| Ok(mix.at))?;
        let date = self.date.unwrap_or_else(clock::today);
        let asked = DayFlags::of_mix(file.to_owned(), mix_at, date).read(0, p)?;
        let name = |e: Error| e.at(&asked.name);
        let (bake, places) = (&asked.settled.bake, &asked.settled.places);
        let planned = plan(bake, places, asked.settled.anchor, p, Detail::default());
        let planned = planned.map_err(name)?;
        let near = |clock, expected| asked.calendar.hour_near(clock, expected);
        let measured = self
            .measured
            .iter()
            .map(|reading| reading.on(&planned, near));
        let measured: Vec<Measured> = measured.collect::<Result<_, _>>()?;
        let stages = logged_stages(bake, places, p, &measured).map_err(name)?;
        // When the preferment was to be mixed, and when it was; the plan begins its mix when the dough came off it.
        let mix_h = bake.process.mix.as_secs_f64() / 3600.0;
        let ahead = planned.preferment.as_ref();
        let ahead = ahead.map(|times| times.mixed_h - mix_h);
        let ahead = ahead.map(|planned| {
            let at = |clock| asked.calendar.hour_near(clock, planned);
            Ok::<_, Failure>((planned, self.preferment_mixed.map(at).transpose()?))
        });
        let ahead = ahead.transpose()?;
        let row = |mut stage: LoggedStage| {
            let ahead = ahead.filter(|_| !matches!(stage.kind, Kind::Bulk | Kind::Proof));
            if let Some((planned, at)) = ahead {
                stage.hours += planned - at.unwrap_or(planned);
            }
            let mut row = json!(stage);
            // What comes from the plan is no surer than a scale and a clock.
            for value in row
                .as_object_mut()
                .into_iter()
                .flat_map(|row| row.values_mut())
            {
                let number = value
                    .as_f64()
                    .and_then(|v| digits(v, 5).parse::<f64>().ok());
                *value = number.map_or(value.take(), Value::from);
            }
            row["yeast"] = json!(bake.formula.yeast_kind);
            if let Some((planned, None)) = ahead {
                let clock = asked.calendar.time(planned);
                row["note"] = json!(format!("mixed at {clock} by the plan"));
            }
            row
        };
        Ok(stages.into_iter().map(row).collect())
    }

    /// The one row that the flags give.
    fn row_of_flags(&self) -> Value {
        let flour_g = self.flour_mass.map_or(f64::NAN, Mass::as_grams);
        let grams = |mass: Option<Mass>, of_flour: Option<Percent>| {
            let share = of_flour.map(|p| flour_g * p.as_percent() / 100.0);
            mass.map(Mass::as_grams).or(share)
        };
        let ready = match self.kind {
            Some(Kind::Dough | Kind::OldDough) => "doubled",
            Some(Kind::Bulk | Kind::Proof) => "ready",
            _ => "ripe",
        };
        json!({
            "kind": self.kind,
            "flour_g": flour_g,
            "water_g": grams(self.water_mass, self.hydration),
            "salt_g": grams(self.salt_mass, None),
            "yeast": self.yeast,
            "yeast_g": grams(self.yeast_mass, self.dose),
            "temperature_c": self.at.or(self.mixed_at).map(Temperature::as_celsius),
            "room_record": self.room_record,
            "before_hours": self.before.map(Hours::as_hours),
            "hours": self.hours(),
            "seen": self.seen.as_deref().unwrap_or(ready),
            "rise": self.rise,
        })
    }

    fn hours(&self) -> f64 {
        let minutes = |clock: Option<ClockTime>| i32::from(clock.map_or(0, ClockTime::as_minutes));
        let between = minutes(self.ended) - minutes(self.started);
        let between = if between > 0 { between } else { between + 1440 };
        (self.after).map_or(f64::from(between) / 60.0, Hours::as_hours)
    }
}

/// A row under the header of the log, in its units; a date that nobody asked for may go without a column.
fn written(row: &Value, is_dated: bool, log: &str) -> Result<String, Error> {
    let malformed = |e: csv::Error| Error::malformed(e.to_string());
    let format = CellFormat::of(log)?;
    let mut reader = csv::ReaderBuilder::new();
    reader
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .delimiter(format.separator());
    let mut reader = reader.from_reader(log.as_bytes());
    let header = reader.headers().map_err(malformed)?;
    // What stands in a column of the shipped header, or of its unit.
    let value = |name: &str, unit: &dyn Fn(f64) -> f64| match &row[name] {
        // Eight digits that count, which no scale or clock exceeds.
        Value::Number(number) => {
            let number = unit(number.as_f64()?);
            Some(format.written(&digits(number, 8)))
        }
        // A row is a line.
        Value::String(text) => Some(text.replace(['\n', '\r'], " ")),
        _ => None,
    };
    let (mut names, mut cells) = (Vec::new(), Vec::new());
    for column in header {
        let other = UNITS.iter().find(|unit| column.ends_with(unit.0));
        let (own, first, factor, offset) = other.unwrap_or(&("", "", 1.0, 0.0));
        let name = column.strip_suffix(own).unwrap_or_default().to_owned() + first;
        let cell = value(&name, &|v| v * factor + offset);
        cells.push(cell.unwrap_or_default());
        names.push(name);
    }
    let is_homeless = |name: &&&str| {
        let given = value(name, &|v| v).is_some_and(|cell| !cell.is_empty());
        let asked = **name != "date" || is_dated;
        given && asked && !names.iter().any(|n| n == **name)
    };
    if let Some(name) = COLUMNS.iter().find(is_homeless) {
        return Err(Error::malformed(format!(
            "line 1: no column for {name}; add one to the header and an empty cell to every row"
        )));
    }
    let mut row = Vec::new();
    let mut writer = csv::WriterBuilder::new();
    let mut writer = writer.delimiter(format.separator()).from_writer(&mut row);
    writer.write_record(cells).map_err(malformed)?;
    drop(writer);
    Ok(String::from_utf8_lossy(&row).trim_end().to_owned())
}

/// The ending of a column in another unit than the shipped header's, that in its place there, and how its values
/// follow from those: factor and offset.
const UNITS: [(&str, &str, f64, f64); 5] = [
    ("_kg", "_g", 1e-3, 0.0),
    ("_lb", "_g", 1.0 / 453.592_37, 0.0),
    ("_oz", "_g", 16.0 / 453.592_37, 0.0),
    ("_f", "_c", 1.8, 32.0),
    ("minutes", "hours", 60.0, 0.0),
];
