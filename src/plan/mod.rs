//! The day: stages, clock times and oven loads.
//!
//! A [`Bake`] (read from its file) and one [`Anchor`] become a [`Plan`]: every stage with
//! its hours and dough temperatures, every load with its hour in the oven. Hours are counted on the
//! plan's clock from midnight of the anchor's day; the evening before is negative. The library knows
//! no time zone: whoever shows the plan turns its hours into clock times.

mod adjust;
mod assemble;
pub mod bake;
mod compare;
mod core_temperature;
mod environment;
mod feasibility;
mod loads;
mod manual_tasks;
mod measurement;
mod process;
mod ranges;
mod sensitivity;
mod trace;
mod water;
mod working_hours;

pub use adjust::{Adjusted, Measured, adjust};
pub use compare::{Compared, Condition, Vary, compare};
pub use core_temperature::Core;
pub use environment::Environment;
pub use feasibility::Problem;
pub use manual_tasks::{HandsOn, Task};
pub use measurement::Reading;
pub use sensitivity::{Cause, Reason};
pub use trace::{Point, Trace};
pub use water::{DdtWater, MixWater};

use crate::error::{Error, Result, check};
use crate::ferment::Parameters;
use crate::formula::Batch;
use crate::numeric;
use crate::units::{Percent, as_hours};
use bake::Bake;
use environment::Rooms;
use loads::Slot;
use process::{BulkResult, DoughProcess};

/// Most loads of one plan.
const MOST_LOADS: u32 = 300;

/// The one hour that is fixed, on the plan's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Anchor {
    /// The first load leaves the oven.
    FirstOut(f64),
    /// The last load leaves the oven.
    LastOut(f64),
    /// Work begins: the preferment is mixed, or, without one, the dough.
    StartAt(f64),
    /// The dough is mixed (after an autolyse, if there is one).
    MixAt(f64),
}

impl Anchor {
    fn hour(self) -> f64 {
        match self {
            Self::FirstOut(h) | Self::LastOut(h) | Self::StartAt(h) | Self::MixAt(h) => h,
        }
    }
}

/// A stage of the first load, on the plan's clock.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct StageTime {
    /// `preferment`, `autolyse`, `mix`, `bulk`, `divide`, `rest`, `shape`, `proof`, `bake` or `cool`.
    pub name: &'static str,
    /// Its first hour.
    pub start_h: f64,
    /// Its last hour, the first of the next stage.
    pub end_h: f64,
    /// The dough at its start, °C.
    pub dough_start_c: Option<f64>,
    /// The dough at its end, °C.
    pub dough_end_c: Option<f64>,
    /// When it is likely to end for a baker who follows the dough, 10-90 %, but not before `start_h`: a low
    /// end equal to it says that the dough may be as far by then. See [`Detail`].
    pub end_range_h: Option<(f64, f64)>,
}

/// A load of the oven.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Load {
    /// Counted from 1.
    pub number: u32,
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
    /// The same of the piece that was shaped first, and of the last one, which the load's own is.
    pub first_and_last: (f64, f64),
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
}

/// The preferment of a plan.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct PrefermentTimes {
    /// It is mixed.
    pub mixed_h: f64,
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
}

/// A bake on the clock.
#[derive(Debug, Clone, PartialEq)]
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
    /// How far the bulk comes, as a share of doubled.
    pub bulk_share: f64,
    /// What moves the times most; see [`Detail`].
    pub reasons: Vec<Reason>,
    /// Temperature and ripeness against the clock; see [`Detail`].
    pub trace: Option<Trace>,
    /// Core and surface of the bulk where they differ; see [`Detail`].
    pub cores: Vec<Core>,
    /// What cannot be met, if anything.
    pub problem: Option<Problem>,
    /// What to know about this plan.
    pub notes: Vec<String>,
    /// What to look out for.
    pub warnings: Vec<String>,
}

/// Plans a bake.
///
/// # Errors
/// Bad input; [`Error::Unreachable`] where dough or preferment never get ready. A load outside its
/// window, or one that rests too long, is no error: the plan is given with its [`Problem`].
///
/// ```
/// use pointage::ambient::Ambient;
/// use pointage::ferment::Parameters;
/// use pointage::plan::{Anchor, bake::Bake, plan};
/// let bake = Bake::from_toml(r#"
///     format = 1
///     name = "Two batches of hearth loaves"
///     [formula]
///     pieces = 12
///     piece_g = 800
///     hydration_percent = 68
///     yeast_percent = 0.4
///     [kitchen]
///     room_c = 22
///     [process]
///     dough_c = 25
///     [oven]
///     pieces_per_load = 6
///     bake_min = 40
/// "#)?;
/// let places = bake.places(|file| Err(pointage::Error::NotFinite { what: file.into() }))?;
/// let plan = plan(&bake, &places, Anchor::FirstOut(7.5), &Parameters::shipped()?)?;
/// assert_eq!(plan.loads.len(), 2);
/// assert!((plan.loads[0].oven_out_h - 7.5).abs() < 1e-6);
/// assert!(plan.problem.is_none());
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn plan(bake: &Bake, places: &Environment, anchor: Anchor, p: &Parameters) -> Result<Plan> {
    plan_with(bake, places, anchor, p, Detail::default())
}

/// Plans a bake, with more or less detail.
///
/// # Errors
/// As for [`plan`](fn@plan).
pub fn plan_with(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
    detail: Detail,
) -> Result<Plan> {
    let found = find(bake, places, anchor, p)?;
    let mut plan = found.told(&DoughProcess::new(bake, p, &found.rooms)?, p, detail)?;
    plan.problem = feasibility::problem(&plan, bake, places, anchor, p)?;
    Ok(plan)
}

/// A course of events that meets the anchor.
struct Found {
    rooms: Rooms,
    bulked: BulkResult,
    slots: Vec<Slot>,
    /// The share of its proof at which the first load enters.
    share: f64,
}

impl Found {
    /// First hour of work.
    fn start(&self) -> f64 {
        let dough = self.bulked.autolyse.map_or(self.bulked.mix[0], |a| a[0]);
        self.bulked.preferment.map_or(dough, |r| r.mixed)
    }

    /// The last load enters the oven.
    fn end(&self) -> f64 {
        self.slots
            .last()
            .map_or(self.bulked.bulk_end(), |s| s.oven_in)
    }

    fn fits(&self, line: &DoughProcess<'_>) -> bool {
        loads::fits(line, &self.slots)
    }
}

fn find(bake: &Bake, places: &Environment, anchor: Anchor, p: &Parameters) -> Result<Found> {
    if bake.pieces.div_ceil(bake.pieces_per_load().max(1)) > MOST_LOADS {
        return Err(Error::contradiction(format!(
            "[oven] pieces_per_load: {} pieces make more than {MOST_LOADS} loads of {}; plan a part of them, or give the oven's real size",
            bake.pieces,
            bake.pieces_per_load()
        )));
    }
    check("hour of the anchor", anchor.hour(), -1000.0, 1000.0, "h")?;
    // A record without dates belongs to the day when the first load is out. With an anchor on the out
    // side that day is the anchor's; otherwise it is found by trying.
    let out_side = matches!(anchor, Anchor::FirstOut(_) | Anchor::LastOut(_));
    let mut day = if out_side || !places.moves_with_bake() {
        0.0
    } else {
        1.0
    };
    for _ in 0..6 {
        let rooms = places.rooms(bake, day)?;
        let (bulked, slots, share) = on_rooms(&DoughProcess::new(bake, p, &rooms)?, anchor, p)?;
        let out = slots
            .first()
            .map_or(0.0, |s| s.oven_in + as_hours(bake.oven.bake));
        let out_day = (out / 24.0).floor();
        if out_side || !places.moves_with_bake() || out_day == day {
            return Ok(Found {
                rooms,
                bulked,
                slots,
                share,
            });
        }
        day = out_day;
    }
    Err(Error::contradiction(
        "the room's record cannot be tied to the day of this bake; give it timestamps, or anchor the plan on --first-out",
    ))
}

/// True when a plan exists in which every load comes in; does not finish one that does not.
fn fits(bake: &Bake, places: &Environment, anchor: Anchor, p: &Parameters) -> Result<bool> {
    // The day of a record moves no load out of its window by itself.
    let rooms = places.rooms(bake, 0.0)?;
    let line = DoughProcess::new(bake, p, &rooms)?;
    for share in first_shares(p) {
        let (bulked, first) = end_point_from_recipe(&line, anchor, share, p)?;
        if loads::all_fit(&line, &bulked, first, p.window)? {
            return Ok(true);
        }
        if loads::count(&line) == 1 {
            break;
        }
    }
    Ok(false)
}

/// Shares of the proof at which the first load may enter the oven: at its best, or sooner, so that
/// later loads are still in time.
fn first_shares(p: &Parameters) -> [f64; 4] {
    [1.0, 0.95, 0.90, p.window.open]
}

fn on_rooms(
    line: &DoughProcess<'_>,
    anchor: Anchor,
    p: &Parameters,
) -> Result<(BulkResult, Vec<Slot>, f64)> {
    let mut best = None;
    for share in first_shares(p) {
        let (bulked, first) = end_point_from_recipe(line, anchor, share, p)?;
        let slots = loads::all(line, &bulked, first, p.window)?;
        let fits = loads::fits(line, &slots);
        // A plan that does not fit is told with the first load at its best.
        if fits || best.is_none() {
            best = Some((bulked, slots, share));
        }
        if fits || loads::count(line) == 1 {
            break;
        }
    }
    best.ok_or(Error::NotSettled {
        what: "the plan",
        steps: 4,
    })
}

/// Finds the hours that meet the anchor, with the first load entering at a share of its proof.
fn end_point_from_recipe(
    line: &DoughProcess<'_>,
    anchor: Anchor,
    share: f64,
    p: &Parameters,
) -> Result<(BulkResult, Slot)> {
    let with_first =
        |bulked: BulkResult| loads::first(line, &bulked, share).map(|slot| (bulked, slot));
    let out = match anchor {
        Anchor::MixAt(hour) => return with_first(line.bulk_from_mix(hour, None)?),
        Anchor::StartAt(hour) => return with_first(line.bulk_from_start(hour)?),
        Anchor::FirstOut(hour) | Anchor::LastOut(hour) => hour,
    };
    let entry = out - as_hours(line.bake.oven.bake);
    let entered = |bulked: &BulkResult, first: &Slot| -> Result<f64> {
        if let Anchor::LastOut(_) = anchor {
            let slots = loads::all(line, bulked, first.clone(), p.window)?;
            return Ok(slots.last().map_or(first.oven_in, |last| last.oven_in));
        }
        Ok(first.oven_in)
    };
    let guess = entry - 5.0;
    if line.is_steady() {
        let (bulked, first) = with_first(line.bulk_from_mix(guess, None)?)?;
        let later = entry - entered(&bulked, &first)?;
        return Ok((bulked.later(later), first.later(later)));
    }
    let mut found: Option<(BulkResult, Slot)> = None;
    numeric::meet(guess, |mix| {
        let near = found.as_ref().map(|f| &f.0);
        let (bulked, first) = with_first(line.bulk_from_mix(mix, near)?)?;
        let met = entered(&bulked, &first)?;
        found = Some((bulked, first));
        Ok::<_, Error>(met - entry)
    })?;
    found.ok_or(Error::NotSettled {
        what: "the hour to mix",
        steps: numeric::MEET_STEPS,
    })
}

/// Hours from one load's entry to the next one's.
fn cycle_of(bake: &Bake) -> f64 {
    as_hours(bake.oven.bake) + as_hours(bake.oven.recover)
}
