//! The search for the hours that meet the anchor.

use super::bake::Bake;
use super::environment::{Environment, RoomCourses};
use super::loads::{self, Slot};
use super::model::{Anchor, Occasion};
use super::process::{BulkResult, DoughProcess, Ripening};
use crate::error::{Error, Result, check};
use crate::ferment::Parameters;
use crate::numeric;
use crate::table;
use crate::units::as_hours;

/// Most loads of one plan.
const MOST_LOADS: u32 = 300;

/// A course of events that meets the anchor.
pub(super) struct Timeline {
    pub bulk: BulkResult,
    pub loads: Vec<Slot>,
    /// The share of its proof at which the first load enters.
    pub first_share: f64,
    /// True when every load comes in.
    pub fits: bool,
}

impl Timeline {
    /// First hour of work.
    pub fn start(&self) -> f64 {
        let dough = self.bulk.autolyse.unwrap_or(self.bulk.mix).start_h;
        self.bulk.preferment.map_or(dough, |r| r.mixed)
    }

    /// When something of it is.
    pub fn hour_of(&self, occasion: Occasion, bake: &Bake) -> Result<f64> {
        let dough = self.bulk.autolyse.unwrap_or(self.bulk.mix).start_h;
        let first_in = self.loads.first().map_or(dough, |s| s.oven_in);
        Ok(match (occasion, &self.bulk.preferment) {
            (Occasion::Start, _) => self.start(),
            (Occasion::ComeIn, Some(ripe)) if is_same_shift(ripe, dough)? => ripe.mixed,
            (Occasion::ComeIn, _) => dough,
            (Occasion::Mix, _) => self.bulk.mix.start_h,
            (Occasion::FirstOut, _) => first_in + as_hours(bake.oven.bake),
            (Occasion::LastOut, _) => self.end() + as_hours(bake.oven.bake),
        })
    }

    /// The last load enters the oven.
    pub fn end(&self) -> f64 {
        let last = self.loads.last();
        last.map_or(self.bulk.bulk_end(), |s| s.oven_in)
    }
}

/// True where a preferment is mixed so shortly before the dough that work begins with it.
fn is_same_shift(ripe: &Ripening, dough: f64) -> Result<bool> {
    Ok(dough - ripe.mixed <= table::get("day")?.number("same_shift_h")?)
}

/// The course of events of a bake; one that does not fit has all its loads only where it shall be shown `whole`.
pub(super) fn timeline(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
    whole: bool,
) -> Result<(RoomCourses, Timeline)> {
    if loads::count(bake) > MOST_LOADS {
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
    let known = out_side || !places.moves_with_bake();
    let mut day = if known { 0.0 } else { 1.0 };
    for _ in 0..6 {
        let rooms = places.rooms(bake, day)?;
        let process = DoughProcess::new(bake, p, &rooms)?;
        let timeline = at(&process, anchor, whole)?;
        let out = timeline.loads.first().map_or(0.0, |s| s.oven_in) + as_hours(bake.oven.bake);
        let out_day = (out / 24.0).floor();
        if known || out_day == day {
            return Ok((rooms, timeline));
        }
        day = out_day;
    }
    Err(Error::contradiction(
        "the room's record cannot be tied to the day of this bake; give it timestamps, or anchor the plan on --first-out",
    ))
}

/// The course of events that meets an anchor in rooms that are known.
pub(super) fn at(process: &DoughProcess<'_>, anchor: Anchor, whole: bool) -> Result<Timeline> {
    first_that_fits(process, whole, |share, whole| {
        let (bulk, first) = meeting(process, anchor, share)?;
        let loads = loads::all(process, &bulk, first, whole)?;
        Ok((bulk, loads))
    })
}

/// Up to so many loads it is looked how a day that does not fit does so least badly, and what two levers at once do; with
/// more it would take too long.
pub(super) const FEW_LOADS: usize = 12;

/// The bulk and all loads, with the first load at its best or as little sooner as lets all others come in; where nothing
/// does, so that the worst load is as little outside its window as can be.
pub(super) fn first_that_fits(
    process: &DoughProcess<'_>,
    whole: bool,
    mut with_first: impl FnMut(f64, bool) -> Result<(BulkResult, Vec<Slot>)>,
) -> Result<Timeline> {
    let shares = [1.0, 0.95, 0.90, process.p.rise_window.open];
    let several = loads::count(process.bake) > 1;
    let few = loads::count(process.bake) as usize <= FEW_LOADS;
    let mut best: Option<(f64, Timeline)> = None;
    for first_share in shares.into_iter().take(if several { 4 } else { 1 }) {
        let (bulk, loads) = with_first(first_share, whole && (few || best.is_none()))?;
        let timeline = Timeline {
            fits: loads::fits(process, &loads),
            bulk,
            loads,
            first_share,
        };
        if timeline.fits {
            return Ok(timeline);
        }
        let outside = loads::outside(process, &timeline.loads);
        let is_better = |best: &(f64, Timeline)| few && outside < best.0;
        if best.as_ref().is_none_or(is_better) {
            best = Some((outside, timeline));
        }
    }
    let best = best.map(|(_, timeline)| timeline);
    best.ok_or(Error::not_settled("the plan", 4))
}

/// Finds the hours that meet the anchor, with the first load entering at a share of its proof.
pub(super) fn meeting(
    process: &DoughProcess<'_>,
    anchor: Anchor,
    share: f64,
) -> Result<(BulkResult, Slot)> {
    let with_first =
        |bulk: BulkResult| loads::first(process, &bulk, share).map(|first| (bulk, first));
    let out = match anchor {
        Anchor::MixAt(hour) => return with_first(process.bulk_from_mix(hour)?),
        Anchor::StartAt(hour) => return with_first(process.bulk_from_start(hour)?),
        Anchor::ComeInAt(hour) => {
            let bulk = process.bulk_from_mix(hour + as_hours(process.bake.process.autolyse))?;
            return with_first(match bulk.preferment {
                Some(ripe) if is_same_shift(&ripe, hour)? => process.bulk_from_start(hour)?,
                _ => bulk,
            });
        }
        Anchor::FirstOut(hour) | Anchor::LastOut(hour) => hour,
    };
    let entry = out - as_hours(process.bake.oven.bake);
    let mut found: Option<(BulkResult, Slot)> = None;
    numeric::meet(entry - 5.0, |mix| {
        let (bulk, first) = with_first(process.bulk_from_mix(mix)?)?;
        let entered = match anchor {
            Anchor::LastOut(_) => {
                let loads = loads::all(process, &bulk, first.clone(), true)?;
                loads.last().map_or(first.oven_in, |last| last.oven_in)
            }
            _ => first.oven_in,
        };
        found = Some((bulk, first));
        Ok::<_, Error>(entered - entry)
    })?;
    found.ok_or(Error::not_settled("the hour to mix", numeric::MEET_STEPS))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of a day that does not fit, the one is planned whose worst load is least outside its window.
    #[test]
    fn a_day_that_does_not_fit_does_so_least_badly() {
        let text = "format = 1\nname = \"x\"\n[formula]\npieces = 24\npiece_g = 800\nhydration_percent = 68\n\
            yeast_percent = 1\n[kitchen]\nroom_c = 26\n[process]\ndough_c = 26\nhold_later_loads = []\n[oven]\n\
            pieces_per_load = 8\nbake_min = 40\n";
        let bake = Bake::from_toml(text).unwrap();
        let places = bake
            .places(|_| Err(Error::malformed("no records")))
            .unwrap();
        let (p, anchor) = (Parameters::shipped().unwrap(), Anchor::MixAt(8.0));
        let (rooms, day) = timeline(&bake, &places, anchor, &p, true).unwrap();
        assert!(!day.fits);
        let process = DoughProcess::new(&bake, &p, &rooms).unwrap();
        let outside = |share: f64| {
            let (bulk, first) = meeting(&process, anchor, share).unwrap();
            loads::outside(&process, &loads::all(&process, &bulk, first, true).unwrap())
        };
        let least = [1.0, 0.95, 0.9, p.rise_window.open].map(outside);
        let least = least.into_iter().fold(f64::INFINITY, f64::min);
        assert!((loads::outside(&process, &day.loads) - least).abs() < 1e-9);
        assert!(outside(1.0) > least + 0.02);
    }
}
