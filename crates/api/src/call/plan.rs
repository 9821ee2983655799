//! Questions about the day of a bake: `plan`, `adjust` and `compare`.

use super::bake::bake;
use super::date::FixedCalendar;
use crate::adjust::{self as json_adjust, AdjustAnswer};
use crate::compare::{self as json_compare, CompareAnswer};
use crate::plan::{self as json_plan, PlanAnswer};
use crate::request::request;
use crate::{Model, Rooms};
use pointage::error::{Error, Result};
use pointage::plan::bake::Bake;
use pointage::plan::{self, Anchor, Detail, Environment, Measured, Occasion, Reconciled, Vary};
use pointage::units::{ClockTime, Hours};
use serde::Serialize;
use serde_json::{Map, Value};

/// A request about a plan: what they all carry, and what is this one's own.
macro_rules! day_request {
    ($(#[$about:meta])* $name:ident = $command:literal { $($own:tt)* }) => {
        request! {
            $(#[$about])*
            ///
            /// One hour is fixed, or two: `first_out`, `last_out`, `start_at`, `come_in_at` or `mix_at`. For two, what
            /// the bake allows is changed until they go together. With `date` and `utc_offset` the times of the answer
            /// are texts (RFC 3339), without them numbers: hours since midnight of the day of the (later) fixed hour.
            $name = $command {
                /// The bake: the text of its file (TOML)
                #[cfg_attr(feature = "flags", arg(skip))]
                bake_toml: Option<String>,
                /// The bake as an object with the keys of its file, in place of the text
                #[cfg_attr(feature = "schema", schemars(with = "Option<pointage::plan::bake::Bake>"))]
                #[cfg_attr(feature = "flags", arg(skip))]
                bake: Option<Map<String, Value>>,
                /// The records of rooms that the bake names in `room_record`, each as pairs of hour and °C
                /// with straight lines between them. Hour 0 is that of `room_record_from`, or, without it,
                /// midnight of the day of the fixed hour
                #[serde(default)]
                #[cfg_attr(feature = "schema", schemars(with = "Option<Rooms>"))]
                #[cfg_attr(feature = "flags", arg(skip))]
                rooms: Rooms,
                /// The first load leaves the oven, such as `07:30`
                first_out: Option<String> = "first-out",
                /// The last load leaves the oven
                last_out: Option<String> = "last-out",
                /// Work begins: the preferment is mixed, or without one the dough
                start_at: Option<String> = "start-at",
                /// You come in: the first step that needs hands on the day of the mix
                come_in_at: Option<String> = "come-in-at",
                /// The dough is mixed
                mix_at: Option<String> = "mix-at",
                /// Day of that hour, such as `2026-11-28`
                date: Option<String> = "date",
                /// What the clock of the answer is ahead of UTC, such as `+01:00`
                #[cfg_attr(feature = "flags", arg(skip))]
                utc_offset: Option<String>,
                /// Number of pieces, in place of the bake's
                pieces: Option<u32> = "pieces",
                /// Fermentation parameters: the text of a file such as `learn` writes
                #[cfg_attr(feature = "flags", arg(skip))]
                params_toml: Option<String>,
                $($own)*
            }
        }

        impl $name {
            fn read(&self) -> Result<Asked> {
                let bake = bake(self.bake_toml.as_deref(), self.bake.as_ref())?;
                let bake = bake.with_pieces(self.pieces, None).map_err(|e| e.of_field("pieces"))?;
                let (clock, anchors) = anchors([
                    ("first_out", &self.first_out, Occasion::FirstOut),
                    ("last_out", &self.last_out, Occasion::LastOut),
                    ("start_at", &self.start_at, Occasion::Start),
                    ("come_in_at", &self.come_in_at, Occasion::ComeIn),
                    ("mix_at", &self.mix_at, Occasion::Mix),
                ])?;
                let calendar = calendar(clock, self.date.as_deref(), self.utc_offset.as_deref())?;
                let places = places(&bake, &self.rooms)?;
                let model = Model::shipped()?.of_request(self.params_toml.as_ref())?.into_owned();
                Ok(Asked {
                    settled: plan::reconcile(&bake, &places, &anchors, model.parameters())?,
                    calendar,
                    model,
                })
            }
        }
    };
}

day_request! {
    /// A bake and the one hour that is fixed.
    PlanRequest = "plan" {}
}

day_request! {
    /// A bake that is under way, and what was measured of it.
    AdjustRequest = "adjust" {
        /// What was measured or seen, and when: `mix 27.4C 04:52`, `bulk 1.6x 06:00` (in a
        /// straight-sided jar, against the dough off the mixer), `preferment ripe 04:10` (`unripe`, `past`)
        #[serde(default)]
        #[cfg_attr(feature = "schema", schemars(with = "Option<Vec<String>>"))]
        measured: Vec<String> = "measured",
    }
}

day_request! {
    /// A bake and a condition that varies.
    CompareRequest = "compare" {
        /// The condition (`room`, `dough`, `flour`, `tap` in °C, `yeast` in % at the mix) and its span:
        /// `room=18..26`, or with a step `room=18..26..2`
        vary: Option<String> = "vary",
        /// The preferment is to be ripe in this time: its dose is found for each value
        ripe_after_h: Option<Hours> = "ripe-after",
        /// The bulk is to take this time: the yeast at the mix is found for each value
        bulk_h: Option<Hours> = "bulk",
    }
}

/// A question read: everything that planning needs.
struct Asked {
    settled: Reconciled,
    calendar: Option<FixedCalendar>,
    model: Model,
}

/// A time of an answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(untagged)]
pub(crate) enum When {
    /// RFC 3339, when the request has `date` and `utc_offset`.
    Dated(String),
    /// Else hours since midnight of the day of the fixed hour.
    Hours(f64),
}

impl Asked {
    fn when(&self, hour: f64) -> When {
        match &self.calendar {
            Some(calendar) => When::Dated(calendar.rfc3339(hour)),
            None => When::Hours(hour),
        }
    }
}

/// All but the course of each stage, which the answer has no place for.
const DETAIL: Detail = Detail {
    ranges: true,
    reasons: true,
    trace: false,
    cores: true,
    night: true,
};

pub(super) fn plan(request: &PlanRequest) -> Result<PlanAnswer<When>> {
    let asked = request.read()?;
    let (settled, p) = (&asked.settled, asked.model.parameters());
    let Reconciled { bake, places, .. } = settled;
    let plan = settled.annotate(plan::plan(bake, places, settled.anchor, p, DETAIL)?);
    let mut answer = json_plan::plan(bake, &plan, &|h| asked.when(h))?;
    answer.notes.extend(asked.model.note());
    Ok(answer)
}

pub(super) fn adjust(request: &AdjustRequest) -> Result<AdjustAnswer<When>> {
    let asked = request.read()?;
    let (settled, p) = (&asked.settled, asked.model.parameters());
    let (bake, places, anchor) = (&settled.bake, &settled.places, settled.anchor);
    let plan = plan::plan(bake, places, anchor, p, Detail::default())?;
    let read = |text: &String| text.parse::<Measured<ClockTime>>()?.on(&plan, nearest);
    let measured: Result<Vec<Measured>> = request.measured.iter().map(read).collect();
    let measured = measured.map_err(|e| e.of_field("measured"))?;
    let adjusted = plan::adjust(bake, places, anchor, p, &measured)?;
    let mut answer = json_adjust::adjust(bake, &adjusted, &|h| asked.when(h))?;
    answer.after.notes.extend(asked.model.note());
    Ok(answer)
}

pub(super) fn compare(request: &CompareRequest) -> Result<CompareAnswer<When>> {
    let asked = request.read()?;
    let p = asked.model.parameters();
    let Some(text) = &request.vary else {
        let why = "it is missing; say what varies, such as \"room=18..26\"";
        return Err(Error::contradiction(why).of_field("vary"));
    };
    let vary: Vary = text.parse().map_err(|e: Error| e.of_field("vary"))?;
    let settled = &asked.settled;
    let mut bake = settled.bake.clone();
    if let Some(time) = request.ripe_after_h {
        let of_field = |e: Error| e.of_field("ripe_after_h");
        bake = bake.with_ripe_after(time).map_err(of_field)?;
    }
    if let Some(time) = request.bulk_h {
        bake = bake.with_bulk_for(time).map_err(|e| e.of_field("bulk_h"))?;
    }
    let (places, anchor) = (&settled.places, settled.anchor);
    let (condition, values) = (vary.condition, &vary.values);
    let compared = plan::compare(&bake, places, anchor, p, condition, values);
    let compared = compared.map_err(|e| e.of_field("vary"))?;
    let mut answer = json_compare::compare(condition, &compared, &|h| asked.when(h));
    answer.notes.extend(asked.model.note());
    Ok(answer)
}

/// Of the days around, the hour of the plan at which a time of day comes nearest to an expected hour. At a
/// fixed offset from UTC every day has 24 hours.
fn nearest(clock: ClockTime, expected: f64) -> Result<f64> {
    let hour = clock.as_hours();
    Ok(hour + 24.0 * ((expected - hour) / 24.0).round())
}

/// The hours that are fixed.
fn anchors(given: [(&str, &Option<String>, Occasion); 5]) -> Result<(ClockTime, Vec<Anchor>)> {
    let mut times = Vec::new();
    for (key, text, occasion) in given {
        if let Some(text) = text {
            let time = text.parse().map_err(|e: Error| e.of_field(key))?;
            times.push((occasion, time));
        }
    }
    let why = "no hour to plan for; give one of first_out, last_out, start_at, come_in_at and mix_at, such as \"first_out\": \"07:30\"";
    Anchor::on_one_day(&times).ok_or_else(|| Error::contradiction(why))
}

fn calendar(
    clock: ClockTime,
    date: Option<&str>,
    utc_offset: Option<&str>,
) -> Result<Option<FixedCalendar>> {
    match (date, utc_offset) {
        (None, None) => Ok(None),
        (Some(date), Some(offset)) => FixedCalendar::new(clock, date, offset).map(Some),
        (date, _) => {
            let missing = if date.is_none() { "date" } else { "utc_offset" };
            let why =
                "date and utc_offset go together; give both, or neither for an answer in hours";
            Err(Error::contradiction(why).of_field(missing))
        }
    }
}

/// The rooms of the bake, with the records of the request.
fn places(bake: &Bake, rooms: &Rooms) -> Result<Environment> {
    let mut asked = Vec::new();
    let places = bake.places(|name| {
        asked.push(name.to_owned());
        crate::room(rooms, name)
    })?;
    crate::no_other_rooms(rooms, &asked)?;
    Ok(places)
}
