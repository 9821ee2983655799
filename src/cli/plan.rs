//! `pointage plan`

use super::clock::Calendar;
use super::failure::Failure;
use super::place::Moment;
use super::words::{Page, mass, output, percent, temperature};
use super::{demo, files};
use clap::ArgGroup;
use jiff::civil::Date;
use pointage::Error;
use pointage::ambient::Ambient;
use pointage::ferment::Parameters;
use pointage::formula::{Role, Stage};
use pointage::json::plan::{DoseAt, PlanAnswer};
use pointage::plan::bake::{Bake, Room};
use pointage::plan::{self, Anchor, MixWater, Plan};
use pointage::units::ClockTime;
use std::path::{Path, PathBuf};

/// When to do what, from the evening before to the last load
#[derive(clap::Args)]
#[command(
    group = ArgGroup::new("anchor").args(["first_out", "last_out", "start_at", "mix_at"]),
    after_help = "Example: the bake in stall.toml, first loaves out at half past seven
  pointage plan stall.toml --first-out 07:30

Without FILE it plans a built-in demo bake."
)]
pub struct Args {
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
    /// Day of that hour, such as 2026-11-28; the next one that comes without it
    #[arg(long, value_name = "DATE", value_parser = date)]
    date: Option<Date>,
    /// Time zone, such as Europe/Vienna; the computer's own without it
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
}

fn date(text: &str) -> Result<Date, Error> {
    let refuse = || super::parse::refusal("date", text, "a day such as 2026-11-28");
    text.trim().parse().map_err(|_| refuse())
}

impl Args {
    pub fn run(&self, json: bool) -> Result<(String, Option<Failure>), Failure> {
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
        let out_side = matches!(anchor(0.0), Anchor::FirstOut(_) | Anchor::LastOut(_));
        let calendar = Calendar::new(clock, self.date, self.zone.as_deref(), out_side)?;

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
        let places = bake.places(|record| {
            room_record(
                &bake,
                &folder.join(record),
                record,
                &calendar,
                &mut unreadable,
            )
        });
        if let Some(failure) = unreadable {
            return Err(failure);
        }
        let plan = plan::plan(
            &bake,
            &places.map_err(|e| e.at(&name))?,
            anchor(calendar.hour()),
            &Parameters::shipped()?,
        )
        .map_err(|e| e.at(&name))?;
        let mut answer = pointage::json::plan::plan(&bake, &plan, &|h| calendar.rfc3339(h))?;
        answer.demo = is_demo;
        let text = output(json, &answer, |a| words(&bake, &plan, a, &calendar))?;
        // A plan that does not fit is shown, and told on stderr with exit code 1.
        let unmet = plan
            .problem
            .as_ref()
            .map(|p| Failure::of_aim(format!("{name}: {}; nearest plan: {}", p.what, p.nearest)));
        Ok((text, unmet))
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
    let tied = [
        Some(&bake.kitchen.room),
        bake.preferment.as_ref().and_then(|p| p.room.as_ref()),
    ]
    .into_iter()
    .flatten()
    .any(|room| matches!(room, Room::Record { file, from: Some(_), .. } if file == record));
    let stamped = std::cell::Cell::new(false);
    let room = Ambient::from_csv_with(&text, |stamp| {
        stamped.set(true);
        Ok(calendar.hour_of(Moment::read(stamp)?.timestamp(calendar.zone())?))
    })
    .map_err(|e| e.at(path.display().to_string()))?;
    let contradiction = |why: &str| {
        Err(Error::Contradiction {
            why: format!("{}: {why}", path.display()),
        })
    };
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

/// A line of the clock.
struct Event {
    hour: f64,
    what: String,
    text: String,
}

fn words(bake: &Bake, plan: &Plan, answer: &PlanAnswer, calendar: &Calendar) -> String {
    let mut page = Page::default();
    let loads = plan.loads.len();
    page.say(format!(
        "{}: {} pieces of {} in {}",
        bake.name,
        bake.pieces,
        mass(bake.piece.as_grams()),
        if loads == 1 {
            "one load".into()
        } else {
            format!("{loads} loads")
        }
    ));
    if answer.demo {
        page.say("(A built-in demo bake. Your own: pointage plan BAKE.toml --first-out 07:30)");
    }
    let mut events = events(bake, plan, calendar);
    events.sort_by(|a, b| a.hour.total_cmp(&b.hour));
    let mut day = String::new();
    for event in events {
        let today = calendar.day(event.hour);
        if today != day {
            page.gap();
            page.line(&today);
            day = today;
        }
        page.item(
            &format!("  {}  {:<9} ", calendar.time(event.hour), event.what),
            &event.text,
        );
    }
    weights(&mut page, plan, answer);
    if let Some(problem) = &plan.problem {
        page.gap();
        page.item(
            "Does not fit: ",
            &format!("{}; {}.", problem.what, problem.nearest),
        );
    }
    page.cautions(&answer.warnings, &answer.notes);
    page.gap();
    page.item("Usual care: ", super::CARE);
    page.finish()
}

fn events(bake: &Bake, plan: &Plan, calendar: &Calendar) -> Vec<Event> {
    let mut events = Vec::new();
    let mut add = |hour: f64, what: &str, text: String| {
        events.push(Event {
            hour,
            what: what.into(),
            text,
        })
    };
    let minutes = |start: f64, end: f64| format!("{:.0} min", 60.0 * (end - start));
    let weight = |role, stage| mass(plan.batch.mass_of(role, stage).as_grams());
    let kind = bake.formula.yeast_kind.name();
    if let (Some(times), Some(own)) = (&plan.preferment, &bake.formula.preferment) {
        let water = plan
            .preferment_water
            .as_ref()
            .map_or(String::new(), |w| pour(w, bake));
        let beside = |h: f64| calendar.time_beside(h, times.mixed_h);
        let range = times.ripe_range_h.map_or(String::new(), |(low, high)| {
            format!(" (likely {} to {})", beside(low), beside(high))
        });
        let close = times
            .window_close_h
            .map_or(String::new(), |h| format!(" to {}", beside(h)));
        add(
            times.mixed_h,
            own.kind.name(),
            format!(
                "{} flour, water {water}, {} {kind} yeast ({} of its flour), to {:.0} °C. Ripe {}{range}, good from {}{close}.",
                weight(Role::Flour, Stage::Preferment),
                weight(Role::Yeast, Stage::Preferment),
                percent(times.dose.as_percent()),
                bake.preferment
                    .as_ref()
                    .map_or(0.0, |p| p.dough.as_celsius()),
                beside(times.ripe_h),
                beside(times.window_open_h),
            ),
        );
    }
    let water = pour(&plan.water, bake);
    let second = plan.batch.mass_of(Role::Water, Stage::SecondWater);
    for stage in &plan.stages {
        let length = minutes(stage.start_h, stage.end_h);
        let between = match (stage.dough_start_c, stage.dough_end_c) {
            (Some(a), Some(b)) => format!("dough {a:.1} to {b:.1} °C"),
            _ => String::new(),
        };
        let text = match stage.name {
            "preferment" | "bake" | "cool" => continue,
            "autolyse" => format!("flour and water {water}; rest {length}, {between}"),
            "mix" => {
                let first = if plan.stages.iter().any(|s| s.name == "autolyse") {
                    "all the rest".to_owned()
                } else {
                    format!("water {water}")
                };
                let late = if second.as_grams() > 0.0 {
                    let t = bake
                        .process
                        .second_water
                        .unwrap_or(bake.kitchen.tap)
                        .as_celsius();
                    format!("; second water {} at {t:.0} °C", mass(second.as_grams()))
                } else {
                    String::new()
                };
                format!(
                    "{first}{late}; {length}, off the mixer at {:.1} °C",
                    bake.process.dough.as_celsius()
                )
            }
            "bulk" => {
                let folds: Vec<String> = plan.folds_h.iter().map(|&h| calendar.time(h)).collect();
                let fold = if folds.is_empty() {
                    String::new()
                } else {
                    format!("; fold {}", folds.join(", "))
                };
                format!(
                    "{length} to {:.0} % of doubled, {between}{fold}",
                    100.0 * plan.bulk_share
                )
            }
            "divide" => format!("and pre-shape, {length}"),
            "proof" => format!("{length}, {between}"),
            _ => length,
        };
        add(stage.start_h, stage.name, text);
    }
    for load in &plan.loads {
        let name = format!("load {}", load.number);
        if load.number > 1 {
            let first = &plan.loads[0];
            if load.divide_h > first.divide_h {
                add(
                    load.divide_h,
                    &name,
                    format!("divide {} pieces", load.pieces),
                );
            }
            if load.shape_h > first.shape_h {
                add(load.shape_h, &name, format!("shape {} pieces", load.pieces));
            }
        }
        if let Some((from, to)) = load.cooler_h {
            let t = bake.process.cooler.map_or(0.0, |t| t.as_celsius());
            add(from, &name, format!("into the cooler place of {t:.0} °C"));
            if load.oven_in_h - to > 1.0 / 60.0 {
                add(to, &name, "back to the proof place".into());
            }
        }
        add(
            load.oven_in_h,
            &name,
            format!(
                "{} pieces into the oven, at {:.0} % of their proof{}",
                load.pieces,
                100.0 * load.ripeness,
                if load.in_window {
                    ""
                } else {
                    " - OUTSIDE the window"
                }
            ),
        );
        add(load.oven_out_h, &name, "out".into());
    }
    if let Some(cool) = plan.stages.iter().find(|s| s.name == "cool") {
        add(
            cool.end_h,
            "cool",
            "last load is cool enough to pack".into(),
        );
    }
    events
}

/// The water of a mix: how much and how warm, with its ice.
fn pour(water: &MixWater, bake: &Bake) -> String {
    let all = mass(water.water.as_grams());
    match (&water.balance, &water.balance_pour, &water.sum_rule) {
        (Some(_), Some(pour), _) if pour.ice.as_grams() > 0.0 => format!(
            "{all}, of it {} ice and {} tap water of {:.0} °C",
            mass(pour.ice.as_grams()),
            mass(pour.tap.as_grams()),
            bake.kitchen.tap.as_celsius()
        ),
        (Some(b), ..) => format!("{all} at {:.1} °C", b.water.as_celsius()),
        (None, _, Some(rule)) => format!("{all} at {:.1} °C (sum rule)", rule.water.as_celsius()),
        (None, _, None) => all,
    }
}

fn weights(page: &mut Page, plan: &Plan, answer: &PlanAnswer) {
    for stage in Stage::ALL {
        let items: Vec<String> = plan
            .batch
            .ingredients
            .iter()
            .filter(|i| i.stage == stage && i.mass.as_grams() > 0.0)
            .map(|i| format!("{} {}", i.name, mass(i.mass.as_grams())))
            .collect();
        if !items.is_empty() {
            page.gap();
            let name = stage.name();
            page.item(
                &format!("{}{}: ", name[..1].to_uppercase(), &name[1..]),
                &items.join(", "),
            );
        }
    }
    let weigh = |d: &Option<DoseAt>| d.as_ref().and_then(|d| d.weigh.clone());
    for (name, recipe) in [
        ("preferment", weigh(&answer.yeast.preferment)),
        ("mix", weigh(&answer.yeast.mix)),
    ] {
        if let Some(recipe) = recipe {
            page.gap();
            page.item(&format!("Yeast of the {name}: "), &format!("{recipe}."));
        }
    }
    let (balance, rule) = (&answer.water.heat_balance, &answer.water.sum_rule);
    if let (Some(b), Some(r)) = (balance, rule) {
        page.gap();
        page.say(format!(
            "Water of the dough by the heat balance {}, by the sum rule {}: the rule weighs flour, room and water alike, the balance by their heat. 1 K in the water moves the dough by {:.2} K.",
            temperature(b.water_c),
            temperature(r.water_c),
            b.dough_per_water
        ));
    }
}
