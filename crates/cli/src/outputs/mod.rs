//! What a plan becomes: text for a terminal, a calendar with alarms, a chart, a sheet for the wall.

mod calendar;
pub mod chart;
mod layout;
mod sheet;
pub mod text;

use super::clock::Calendar;
use super::exit::Failure;

use super::write::{self, Target};
use pointage::Error;
use pointage::ferment::Window;
use pointage::plan::Plan;
use pointage::plan::bake::Bake;
use pointage::units::Hours;
use pointage_api::plan::PlanAnswer;
use pointage_api::steps::Step;
use std::path::PathBuf;
use std::time::Duration;

/// Longest time from an alarm to its step.
const MAX_ALARM: Duration = Duration::from_secs(24 * 3600);

/// The files that a plan may be written to.
#[derive(clap::Args)]
pub struct Outputs {
    /// Write a calendar (iCalendar, .ics) with an alarm before each step that needs hands
    #[arg(long, value_name = "FILE")]
    calendar: Option<PathBuf>,
    /// How long before a step its alarm comes
    #[arg(long, value_name = "TIME", default_value = "10min", value_parser = alarm, requires = "calendar")]
    alarm: Duration,
    /// Write a chart (.svg): when each dough is ready, how long it is good, and the temperatures
    #[arg(long, value_name = "FILE")]
    chart: Option<PathBuf>,
    /// Write a sheet for the wall (.html): one page, A4 or Letter
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    /// Replace files that exist
    #[arg(long)]
    force: bool,
}

fn alarm(text: &str) -> Result<Duration, Error> {
    let time = text.parse::<Hours>().ok().map(Duration::from);
    let time = time.filter(|time| *time <= MAX_ALARM);
    time.ok_or_else(|| Error::text("alarm", text, "a time up to 24h, such as 10min"))
}

/// A plan with everything that rendering it takes.
#[derive(Clone, Copy)]
pub struct PlanView<'a> {
    pub bake: &'a Bake,
    pub plan: &'a Plan,
    pub answer: &'a PlanAnswer,
    /// Its steps, on the plan's clock.
    pub steps: &'a [Step<f64>],
    pub calendar: &'a Calendar,
    pub window: Window,
}

impl Outputs {
    /// True when the plan needs its curves.
    pub fn wants_trace(&self) -> bool {
        self.chart.is_some()
    }

    /// Looks at all targets before any work is done.
    pub fn check(&self) -> Result<[Option<Target>; 3], Failure> {
        let target = |path, form| Target::of_form(path, self.force, form);
        let targets = [
            target(&self.calendar, write::CALENDAR)?,
            target(&self.chart, write::CHART)?,
            target(&self.sheet, write::SHEET)?,
        ];
        write::apart(&targets)?;
        Ok(targets)
    }

    /// Writes what is asked for to the targets, and gives the names of the files.
    pub fn write(
        &self,
        targets: &[Option<Target>; 3],
        view: PlanView<'_>,
    ) -> Result<Vec<String>, Failure> {
        let texts: [&dyn Fn() -> String; 3] = [
            &|| calendar::calendar(view, self.alarm),
            &|| chart::day(view),
            &|| sheet::sheet(view),
        ];
        let files = targets.iter().zip(texts);
        let files = files.filter_map(|(target, text)| Some((target.as_ref()?, text())));
        write::all(&files.collect::<Vec<_>>())
    }
}
