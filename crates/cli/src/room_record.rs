//! Records of rooms, and the times in them.

use super::exit::Failure;
use super::files;
use jiff::{Timestamp, civil::DateTime, tz::TimeZone};
use pointage::Error;
use pointage::ambient::Ambient;
use pointage::units::Temperature;
use std::cell::Cell;
use std::path::{Path, PathBuf};

/// The record of a room as a file, which a request carries as `room_course`.
#[derive(clap::Args)]
pub struct RoomRecord {
    /// Record of the room, from the mix on: CSV with hours or timestamp, and temperature_c
    #[arg(long, value_name = "FILE")]
    room_record: Option<PathBuf>,
}

impl RoomRecord {
    /// The record as pairs of hour and °C.
    pub fn course(&self) -> Result<Option<Vec<[f64; 2]>>, Failure> {
        let room = self.room_record.as_deref().map(record).transpose()?;
        Ok(room.map(|room| room.knots().unwrap_or_default().to_vec()))
    }

    /// Where a dough stands, after "ripe ...".
    pub fn words(
        &self,
        at: Option<Temperature>,
        mixed_at: Option<Temperature>,
        room: Option<Temperature>,
    ) -> String {
        let c = |t: Temperature| format!("{:.1} °C", t.as_celsius());
        let room = match (room, &self.room_record) {
            (Some(room), _) => format!("a room of {}", c(room)),
            (None, Some(file)) => format!("the room of {}", file.display()),
            (None, None) => "the places of the bake".to_owned(),
        };
        match (at, mixed_at) {
            (Some(at), _) => format!("held at {}", c(at)),
            (None, Some(mixed)) => format!("mixed at {} and drifting in {room}", c(mixed)),
            (None, None) => format!("drifting in {room}"),
        }
    }
}

/// A room's record; its first row is hour 0 when it carries timestamps.
pub fn record(path: &Path) -> Result<Ambient, Failure> {
    let text = files::read(path, files::RECORD_BYTES)?;
    let first = Cell::new(None);
    Ambient::from_csv_with(&text, |stamp| {
        let now = Moment::read(stamp)?;
        let start = first.get().unwrap_or(now);
        first.set(Some(start));
        now.hours_since(start, stamp)
    })
    .map_err(|e| e.at(path.display().to_string()).into())
}

/// A timestamp: of the clock on the wall, or of the world's when it carries an offset.
#[derive(Clone, Copy)]
pub enum Moment {
    Wall(DateTime),
    World(Timestamp),
}

impl Moment {
    /// Reads a timestamp, with an offset or without.
    pub fn read(text: &str) -> Result<Self, Error> {
        let expected = "date and time such as 2026-11-28T18:00 or 2026-11-28T18:00+01:00";
        let refuse = |_| Error::text("timestamp", text, expected);
        let world = text.parse().map(Self::World);
        world.or_else(|_| text.parse().map(Self::Wall).map_err(refuse))
    }

    /// The moment in the world; that of a clock on the wall is looked up in its zone.
    pub fn timestamp(self, zone: &TimeZone) -> Result<Timestamp, Error> {
        let outside = |_| Error::text("timestamp", "", "a date within the calendar");
        match self {
            Self::World(moment) => Ok(moment),
            Self::Wall(moment) => zone.to_timestamp(moment).map_err(outside),
        }
    }

    fn hours_since(self, first: Self, text: &str) -> Result<f64, Error> {
        let passed = match (self, first) {
            (Self::Wall(now), Self::Wall(then)) => now.duration_since(then),
            (Self::World(now), Self::World(then)) => now.duration_since(then),
            _ => {
                return Err(Error::contradiction(format!(
                    "{text:?} and the first row do not go together: write an offset such as +01:00 in all rows, or in none"
                )));
            }
        };
        Ok(passed.as_secs_f64() / 3600.0)
    }
}
