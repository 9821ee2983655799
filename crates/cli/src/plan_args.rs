//! The bake and the hour that `plan` and its kin are asked about.

use super::clock::Calendar;
use super::exit::Failure;
use super::room_record::Moment;
use super::{demo, files};
use clap::ArgGroup;
use jiff::civil::Date;
use pointage::Error;
use pointage::ambient::Ambient;
use pointage::plan::bake::{Bake, Room};
use pointage::plan::{Anchor, Environment};
use pointage::units::ClockTime;
use std::path::{Path, PathBuf};

/// A bake file and one hour of it.
#[derive(clap::Args)]
#[command(group = ArgGroup::new("anchor").args(["first_out", "last_out", "start_at", "mix_at"]))]
pub struct DayFlags {
    /// Bake file (TOML); a built-in demo without it
    file: Option<PathBuf>,
    /// The first load leaves the oven
    #[arg(long, value_name = "HH:MM")]
    first_out: Option<ClockTime>,
    /// The last load leaves the oven
    #[arg(long, value_name = "HH:MM")]
    last_out: Option<ClockTime>,
    /// Work begins: the preferment is mixed, or without one the dough
    #[arg(long, value_name = "HH:MM")]
    start_at: Option<ClockTime>,
    /// The dough is mixed
    #[arg(long, value_name = "HH:MM")]
    mix_at: Option<ClockTime>,
    /// Day of that hour, such as 2026-11-28; without it the next for which there is time
    #[arg(long, value_name = "DATE", value_parser = date)]
    date: Option<Date>,
    /// Time zone, such as Europe/Vienna; the computer's own without it
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
}

/// A question read: everything that planning needs.
pub struct DayQuestion {
    pub bake: Bake,
    pub places: Environment,
    pub anchor: Anchor,
    pub calendar: Calendar,
    /// The files that were read.
    pub sources: Vec<PathBuf>,
    /// The file's name, for messages.
    pub name: String,
    pub is_demo: bool,
}

/// Reads a day.
pub fn date(text: &str) -> Result<Date, Error> {
    let refuse = || Error::text("date", text, "a day such as 2026-11-28");
    text.trim().parse().map_err(|_| refuse())
}

impl DayFlags {
    /// Reads the files and ties the hour to the calendar.
    pub fn read(&self) -> Result<DayQuestion, Failure> {
        self.read_later(0)
    }

    /// True when the day is given, not to be found.
    pub fn has_date(&self) -> bool {
        self.date.is_some()
    }

    /// The same so many days later, where the day is not given.
    pub fn read_later(&self, days: i32) -> Result<DayQuestion, Failure> {
        let is_demo = self.file.is_none();
        let (clock, anchor): (ClockTime, fn(f64) -> Anchor) = match (
            self.first_out,
            self.last_out,
            self.start_at,
            self.mix_at,
        ) {
            (Some(t), ..) => (t, Anchor::FirstOut),
            (_, Some(t), ..) => (t, Anchor::LastOut),
            (_, _, Some(t), _) => (t, Anchor::StartAt),
            (_, _, _, Some(t)) => (t, Anchor::MixAt),
            _ if is_demo => (demo::FIRST_OUT.parse()?, Anchor::FirstOut),
            _ => {
                return Err(Failure::of_input(
                    "no hour to plan for; give one of --first-out, --last-out, --start-at or --mix-at, such as --first-out 07:30",
                ));
            }
        };
        let calendar = Calendar::new(clock, self.date, self.zone.as_deref(), days)?;
        let (text, name) = match &self.file {
            Some(path) => (
                files::read(path, files::BAKE_BYTES)?,
                path.display().to_string(),
            ),
            None => (demo::MARKET.to_owned(), "demo".to_owned()),
        };
        let bake = Bake::from_toml(&text).map_err(|e| e.at(&name))?;
        let mut unreadable = None;
        let folder = self
            .file
            .as_deref()
            .and_then(Path::parent)
            .unwrap_or(Path::new(""));
        let mut sources: Vec<PathBuf> = self.file.iter().cloned().collect();
        let places = bake.places(|record| {
            let path = folder.join(record);
            let room = room_record(&bake, &path, record, &calendar, &mut unreadable);
            sources.push(path);
            room
        });
        if let Some(failure) = unreadable {
            return Err(failure);
        }
        let places = places.map_err(|e| e.at(&name))?;
        let anchor = anchor(calendar.hour());
        Ok(DayQuestion {
            bake,
            places,
            anchor,
            calendar,
            sources,
            name,
            is_demo,
        })
    }
}

/// Reads a room's record. With a column `hours` it is tied to the bake by `room_record_from`; with
/// timestamps it needs none.
fn room_record(
    bake: &Bake,
    path: &Path,
    record: &str,
    calendar: &Calendar,
    unreadable: &mut Option<Failure>,
) -> Result<Ambient, Error> {
    let text = match files::read(path, files::RECORD_BYTES) {
        Ok(text) => text,
        Err(failure) => {
            // The caller tells it; what is returned here never shows.
            *unreadable = Some(failure);
            return Err(Error::NotFinite {
                what: record.into(),
            });
        }
    };
    let rooms = [
        Some(&bake.kitchen.room),
        bake.preferment.as_ref().and_then(|p| p.room.as_ref()),
        bake.cold.as_ref().map(|c| &c.room),
    ];
    let tied = rooms
        .into_iter()
        .flatten()
        .any(|room| matches!(room, Room::Record { file, from: Some(_), .. } if file == record));
    let stamped = std::cell::Cell::new(false);
    let room = Ambient::from_csv_with(&text, |stamp| {
        stamped.set(true);
        Ok(calendar.hour_of(Moment::read(stamp)?.timestamp(calendar.zone())?))
    })
    .map_err(|e| e.at(path.display().to_string()))?;
    let contradiction = |why: &str| Err(Error::contradiction(format!("{}: {why}", path.display())));
    match (stamped.get(), tied) {
        (true, true) => contradiction(
            "the record carries dates of its own: leave room_record_from out of the bake file",
        ),
        (false, false) => contradiction(
            "the record counts hours: say with room_record_from at what time of day its hour 0 is",
        ),
        _ => Ok(room),
    }
}
