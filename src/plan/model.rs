//! A plan and what it is made of, on the plan's clock.

use super::core_temperature::Core;
use super::feasibility::Problem;
use super::finding::Finding;
use super::sensitivity::Reason;
use super::trace::Trace;
use super::water::MixWater;
use crate::formula::Batch;
use crate::units::{ClockTime, Percent};
use serde::de::{Deserializer, Error};
use serde::{Deserialize, Serialize};

/// The one hour that is fixed, on the plan's clock.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Anchor {
    /// The first load leaves the oven.
    FirstOut(f64),
    /// The last load leaves the oven.
    LastOut(f64),
    /// Work begins: the preferment is mixed, or, without one, the dough.
    StartAt(f64),
    /// The first step that needs hands on the day of the mix; a preferment that is mixed long before does not count.
    ComeInAt(f64),
    /// The dough is mixed (after an autolyse, if there is one).
    MixAt(f64),
}

/// What an anchor fixes the hour of, in the order of the day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Occasion {
    /// [`Anchor::StartAt`].
    Start,
    /// [`Anchor::ComeInAt`].
    ComeIn,
    /// [`Anchor::MixAt`].
    Mix,
    /// [`Anchor::FirstOut`].
    FirstOut,
    /// [`Anchor::LastOut`].
    LastOut,
}

impl Occasion {
    /// The anchor at an hour.
    #[must_use]
    pub const fn at(self, hour: f64) -> Anchor {
        match self {
            Self::Start => Anchor::StartAt(hour),
            Self::ComeIn => Anchor::ComeInAt(hour),
            Self::Mix => Anchor::MixAt(hour),
            Self::FirstOut => Anchor::FirstOut(hour),
            Self::LastOut => Anchor::LastOut(hour),
        }
    }
}

impl Anchor {
    /// What it fixes the hour of.
    pub(crate) const fn occasion(self) -> Occasion {
        match self {
            Self::StartAt(_) => Occasion::Start,
            Self::ComeInAt(_) => Occasion::ComeIn,
            Self::MixAt(_) => Occasion::Mix,
            Self::FirstOut(_) => Occasion::FirstOut,
            Self::LastOut(_) => Occasion::LastOut,
        }
    }

    /// Its hour on the plan's clock.
    #[must_use]
    pub const fn hour(self) -> f64 {
        let (Self::FirstOut(h)
        | Self::LastOut(h)
        | Self::StartAt(h)
        | Self::ComeInAt(h)
        | Self::MixAt(h)) = self;
        h
    }

    /// Anchors of times of day, with that of the last one: it is on the plan's day 0, each before it at the most a day
    /// sooner. `None` without any.
    #[must_use]
    pub fn on_one_day(times: &[(Occasion, ClockTime)]) -> Option<(ClockTime, Vec<Self>)> {
        let mut times = times.to_vec();
        times.sort_by_key(|(occasion, _)| *occasion);
        let (_, last) = *times.last()?;
        let anchors = times.iter().map(|(occasion, time)| {
            let hour = time.as_hours();
            let is_before = hour > last.as_hours();
            occasion.at(if is_before { hour - 24.0 } else { hour })
        });
        Some((last, anchors.collect()))
    }
}

/// Every stage that a plan can have.
const STAGES: [&str; 13] = [
    "preferment",
    "autolyse",
    "mix",
    "bulk",
    "cold",
    "warm up",
    "divide",
    "rest",
    "shape",
    "first proof",
    "proof",
    "bake",
    "cool",
];

/// The name of a stage. An alias, since serde would borrow a plain `&str` from the text that it reads.
pub(super) type StageName = &'static str;

/// Reads the name of a stage.
pub(super) fn stage_name<'de, D: Deserializer<'de>>(from: D) -> Result<StageName, D::Error> {
    let name = String::deserialize(from)?;
    let known = STAGES.into_iter().find(|known| *known == name);
    known.ok_or_else(|| D::Error::unknown_variant(&name, &STAGES))
}

/// A stage of the first load, on the plan's clock.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct StageTime {
    /// `preferment`, `autolyse`, `mix`, `bulk`, `cold`, `warm up`, `divide`, `rest`, `shape`, `first proof` (before the
    /// cold), `proof`, `bake` or `cool`.
    #[serde(deserialize_with = "stage_name")]
    pub name: StageName,
    /// Its first hour.
    pub start_h: f64,
    /// Its last hour, the first of the next stage.
    pub end_h: f64,
    /// The dough at its start, °C.
    pub dough_start_c: Option<f64>,
    /// The dough at its end, °C.
    pub dough_end_c: Option<f64>,
    /// How far it has risen at its end: its volume over that off its mix, V/V0; before a handling drives out gas.
    pub rise: Option<f64>,
    /// When it is likely to end for a baker who follows the dough, 10-90 %, but not before `start_h`: a low
    /// end equal to it says that the dough may be as far by then. See [`Detail`].
    pub end_range_h: Option<(f64, f64)>,
}

/// A load of the oven.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Load {
    /// Counted from 1.
    pub number: u32,
    /// The mix batch that it comes from, counted from 1.
    pub batch: u32,
    /// Pieces in it.
    pub pieces: u32,
    /// Its dividing begins.
    pub divide_h: f64,
    /// Its shaping begins.
    pub shape_h: f64,
    /// How long it waits beyond what the first load does: in bulk, at rest, in the cold.
    pub waits_h: [f64; 3],
    /// From when until when it is held in the retarder.
    pub retarder_h: Option<(f64, f64)>,
    /// It enters the oven.
    pub oven_in_h: f64,
    /// It leaves the oven.
    pub oven_out_h: f64,
    /// How far its proof has come when it enters, as a share of the end point.
    pub ripeness: f64,
    /// Its dough when it enters, °C.
    pub dough_c: f64,
    /// True when the ripeness lies in the window.
    pub in_window: bool,
    /// The same of the piece that was shaped first; the load's own is that of the last one.
    pub first_ripeness: f64,
    /// Its ripeness at that hour, 10-90 %; see [`Detail`].
    pub ripeness_range: Option<(f64, f64)>,
    /// Chance that it is past its window at that hour, 0 to 1; see [`Detail`].
    pub past_chance: Option<f64>,
}

/// What a plan tells beyond its times; each costs some replays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Detail {
    /// Ranges of the times and chances of the loads.
    pub ranges: bool,
    /// Reasons of the times.
    pub reasons: bool,
    /// Curves for a chart.
    pub trace: bool,
    /// Core and surface of a thick dough, by conduction.
    pub cores: bool,
    /// What would free a night in which hands are needed.
    pub night: bool,
}

/// The preferment of a plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct PrefermentTimes {
    /// It is mixed.
    pub mixed_h: f64,
    /// From when until when it is in the cold.
    pub cold_h: Option<(f64, f64)>,
    /// It is ripe.
    pub ripe_h: f64,
    /// When it is likely to be ripe: 10-90 %; see [`Detail`].
    pub ripe_range_h: Option<(f64, f64)>,
    /// It may be used from here ...
    pub window_open_h: f64,
    /// ... to here (missing when it never falls).
    pub window_close_h: Option<f64>,
    /// It is used.
    pub used_h: f64,
    /// Dose, in the bake's kind of yeast, % of its own flour.
    pub dose: Percent,
    /// The same as fresh yeast.
    pub fresh_percent: f64,
    /// How many times the yeast has become when it is used.
    pub growth: f64,
}

/// A bake on the clock.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Plan {
    /// The stages of the first load, each beginning where the one before ends.
    pub stages: Vec<StageTime>,
    /// When the oven is turned on, where it needs time to heat.
    pub preheat_h: Option<f64>,
    /// When the dough is folded.
    pub folds_h: Vec<f64>,
    /// The loads, in order.
    pub loads: Vec<Load>,
    /// The preferment, if there is one.
    pub preferment: Option<PrefermentTimes>,
    /// How many times the preferment in `batch` is made: 1, or more when another dough gets its part.
    pub preferment_times: f64,
    /// Water of the preferment's own mix, of all that is made.
    pub preferment_water: Option<MixWater>,
    /// Water of the dough.
    pub water: MixWater,
    /// What to weigh for this dough, with every dose filled in.
    pub batch: Batch,
    /// Yeast added at the mix, in the bake's kind, % of all flour.
    pub yeast_at_mix: Percent,
    /// How far the bulk rises: the volume at its end over that off the mixer.
    pub bulk_rise: f64,
    /// What moves the times most; see [`Detail`].
    pub reasons: Vec<Reason>,
    /// Temperature and ripeness against the clock; see [`Detail`].
    pub trace: Option<Trace>,
    /// Core and surface of the bulk where they differ; see [`Detail`].
    pub cores: Vec<Core>,
    /// The mix batches behind the first, whose stages, water and weights stand above: each with its own, and with its loads,
    /// which are among `loads` too.
    pub later_batches: Vec<Plan>,
    /// What was changed of the bake to meet two hours at once; in a plan that keeps the oven's hour, the stay in the cold
    /// that it takes.
    pub changes: Vec<Finding>,
    /// What cannot be met, if anything.
    pub problem: Option<Problem>,
    /// What to know about this plan.
    pub notes: Vec<Finding>,
    /// What to look out for.
    pub warnings: Vec<Finding>,
}

impl Plan {
    /// Its mix batches, in order.
    pub fn batches(&self) -> impl Iterator<Item = &Self> {
        std::iter::once(self).chain(&self.later_batches)
    }

    /// The loads of its own dough, without those of later batches.
    #[must_use]
    pub fn own_loads(&self) -> &[Load] {
        let own = self.loads.chunk_by(|a, b| a.batch == b.batch).next();
        own.unwrap_or_default()
    }

    /// The first stage of a name.
    #[must_use]
    pub fn stage(&self, name: &str) -> Option<&StageTime> {
        self.stages.iter().find(|s| s.name == name)
    }
}

impl StageTime {
    /// A stage with its hours, and the dough at its start and end, °C.
    pub(super) fn new(name: StageName, hours: [f64; 2], dough_c: [Option<f64>; 2]) -> Self {
        let ([start_h, end_h], [dough_start_c, dough_end_c]) = (hours, dough_c);
        Self {
            name,
            start_h,
            end_h,
            dough_start_c,
            dough_end_c,
            rise: None,
            end_range_h: None,
        }
    }

    /// Its length, h.
    #[must_use]
    pub fn hours(&self) -> f64 {
        self.end_h - self.start_h
    }
}
