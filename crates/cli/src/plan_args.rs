//! The bake and the hour that `plan` and its kin are asked about.

use super::clock::Calendar;
use super::exit::Failure;
use super::room_record::Moment;
use super::{files, inputs, progress, scale};
use jiff::civil::Date;
use pointage::Error;
use pointage::ambient::Ambient;
use pointage::ferment::Parameters;
use pointage::plan::bake::Room;
use pointage::plan::{Anchor, Detail, Occasion, Plan, Reconciled, plan, reconcile};
use pointage::units::ClockTime;
use std::path::{Path, PathBuf};

/// A bake file and one hour of it, or two.
#[derive(clap::Args, Default)]
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
    /// You come in: the first step that needs hands on the day of the mix
    #[arg(long, value_name = "HH:MM")]
    come_in_at: Option<ClockTime>,
    /// The dough is mixed
    #[arg(long, value_name = "HH:MM")]
    mix_at: Option<ClockTime>,
    /// Day of that hour, such as 2026-11-28; without it the next for which there is time
    #[arg(long, value_name = "DATE", value_parser = date)]
    date: Option<Date>,
    /// Number of pieces, in place of the file's
    #[arg(long, value_name = "NUMBER", value_parser = scale::pieces)]
    pieces: Option<u32>,
    /// Time zone, such as Europe/Vienna; the computer's own without it
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
}

/// A question read: everything that planning needs.
pub struct DayQuestion {
    /// The bake, its places and the hour to plan it for, once both hours go together.
    pub settled: Reconciled,
    pub calendar: Calendar,
    /// The file's name, for messages.
    pub name: String,
    pub is_demo: bool,
}

/// Reads a day.
pub fn date(text: &str) -> Result<Date, Error> {
    let refuse = || Error::text("date", text, "a day such as 2026-11-28");
    text.trim().parse().map_err(|_| refuse())
}

/// Days ahead that a plan without a date may have to go: longer than any preferment.
const MOST_DAYS: i32 = 10;

impl DayFlags {
    /// A day that is over, by the hour of its mix.
    pub fn of_mix(file: PathBuf, mix_at: ClockTime, date: Date) -> Self {
        Self {
            file: Some(file),
            mix_at: Some(mix_at),
            date: Some(date),
            ..Self::default()
        }
    }

    /// Reads the files and plans; without a date, for the next day for which there is still time to begin.
    pub fn planned(&self, p: &Parameters, detail: Detail) -> Result<(DayQuestion, Plan), Failure> {
        let mut days = 0;
        loop {
            let asked = self.read(days, p)?;
            let planned = progress::during("planning", || {
                let settled = &asked.settled;
                plan(&settled.bake, &settled.places, settled.anchor, p, detail)
            });
            let planned = planned.map_err(|e| e.at(&asked.name))?;
            let planned = asked.settled.annotate(planned);
            let start = planned.stages.first().map_or(0.0, |s| s.start_h);
            if self.date.is_some() || days == MOST_DAYS || asked.calendar.is_ahead(start) {
                return Ok((asked, planned));
            }
            days += 1;
        }
    }

    /// Reads the files and ties the hour to the calendar; so many days later, where the day is not given.
    pub fn read(&self, days: i32, p: &Parameters) -> Result<DayQuestion, Failure> {
        let is_demo = self.file.is_none();
        let hours = [
            (Occasion::FirstOut, self.first_out),
            (Occasion::LastOut, self.last_out),
            (Occasion::Start, self.start_at),
            (Occasion::ComeIn, self.come_in_at),
            (Occasion::Mix, self.mix_at),
        ];
        let given = |(occasion, time): (_, Option<_>)| Some((occasion, time?));
        let mut times: Vec<_> = hours.into_iter().filter_map(given).collect();
        if times.is_empty() && is_demo {
            times.push((Occasion::FirstOut, inputs::FIRST_OUT.parse()?));
        }
        let Some((clock, anchors)) = Anchor::on_one_day(&times) else {
            let why = "no hour to plan for; give one of --first-out, --last-out, --start-at, --come-in-at or --mix-at, such as --first-out 07:30";
            return Err(Failure::Input(why.into()));
        };
        let calendar = Calendar::new(clock, self.date, self.zone.as_deref(), days)?;
        let (bake, name) = inputs::bake(&self.file)?;
        let bake = bake.with_pieces(self.pieces, None)?;
        let folder = self.file.as_deref().and_then(Path::parent);
        let folder = folder.unwrap_or(Path::new(""));
        let mut records = Vec::new();
        for room in bake.rooms() {
            if let Room::Record { file, from, .. } = room {
                let path = folder.join(file);
                let text = files::read(&path, files::RECORD_BYTES)?;
                records.push((file, path, text, from.is_some()));
            }
        }
        let places = bake.places(|name| {
            let mut of = records.iter().filter(|(file, ..)| *file == name);
            let tied = of.clone().any(|(.., tied)| *tied);
            let record = of.next();
            let (_, path, text, _) = record.ok_or_else(|| Error::missing(name, "for this bake"))?;
            room_record(text, tied, &calendar).map_err(|e| e.at(path.display().to_string()))
        });
        let places = places.map_err(|e| e.at(&name))?;
        Ok(DayQuestion {
            settled: reconcile(&bake, &places, &anchors, p).map_err(|e| e.at(&name))?,
            calendar,
            name,
            is_demo,
        })
    }
}

/// Reads a room's record. With a column `hours` it is tied to the bake by `room_record_from`; with
/// timestamps it needs none.
fn room_record(text: &str, tied: bool, calendar: &Calendar) -> Result<Ambient, Error> {
    let stamped = std::cell::Cell::new(false);
    let room = Ambient::from_csv_with(text, |stamp| {
        stamped.set(true);
        Ok(calendar.hour_of(Moment::read(stamp)?.timestamp(&calendar.zone)?))
    })?;
    match (stamped.get(), tied) {
        (true, true) => Err(Error::contradiction(
            "the record carries dates of its own: leave room_record_from out of the bake file",
        )),
        (false, false) => Err(Error::contradiction(
            "the record counts hours: say with room_record_from at what time of day its hour 0 is",
        )),
        _ => Ok(room),
    }
}
