//! The oven's hour, kept: what to cool, warm or shorten from now on so that the first load enters as planned.
//!
//! Each lever moves the load one way only. They are taken one after the other, the least trouble first: one that
//! reaches the hour is set to do just that, one that does not is set to its end. What is left, the window takes.

use super::assemble::assemble;
use super::bake::Bake;
use super::finding::Finding;
use super::levers::Lever;
use super::loads;
use super::model::{Detail, Plan};
use super::process::{BulkResult, DoughProcess, Known, Ripening};
use super::search::Timeline;
use super::water;
use crate::error::Result;
use crate::numeric;
use crate::table;
use crate::units::{Temperature, as_hours};
use serde::{Deserialize, Serialize};

/// A plan that keeps the oven's hour.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct KeptHour {
    /// What to do for it, in order.
    pub ways: Vec<Finding>,
    /// The rest of the day.
    pub plan: Plan,
}

/// How far a dough is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Phase {
    Preferment,
    Bulk,
    Proof,
}

/// A dough on its way, as it is known at an hour.
#[derive(Clone, Copy)]
pub(super) struct Present<'a> {
    pub process: &'a DoughProcess<'a>,
    pub planned: &'a Timeline,
    pub ripening: Option<Ripening>,
    pub mix: f64,
    pub known: Known,
    /// How much faster the dough makes gas than forecast.
    pub speed: f64,
    pub phase: Phase,
    pub at: f64,
}

/// What may still be set, with its unit.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Means {
    /// Desired dough temperature, °C.
    Dough,
    /// Yeast at the mix, as fresh, % of all flour.
    Yeast,
    /// The place of dough and pieces from now on, °C.
    Place,
    /// Hours in the cold from now on.
    Chill,
    /// Share of its rise, or of its minutes, at which the bulk ends.
    BulkShare,
}

/// All of them, set.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Levers {
    dough_c: f64,
    added: f64,
    place_c: f64,
    chill_h: f64,
    bulk_share: f64,
}

impl Means {
    fn of(self, setting: &mut Levers) -> &mut f64 {
        match self {
            Self::Dough => &mut setting.dough_c,
            Self::Yeast => &mut setting.added,
            Self::Place => &mut setting.place_c,
            Self::Chill => &mut setting.chill_h,
            Self::BulkShare => &mut setting.bulk_share,
        }
    }

    fn set(self, mut setting: Levers, value: f64) -> Levers {
        *self.of(&mut setting) = value;
        setting
    }
}

/// So near to its end point a proof is as good as at it (by judgement).
const GOOD_SHARE: std::ops::RangeInclusive<f64> = 0.93..=1.08;
/// Parts into which the way of a lever is cut where no lever by itself keeps the hour.
const PARTS: u32 = 12;
/// As good as for ever, h.
const REST_OF_DAY_H: f64 = 200.0;
/// A deviation that nobody sees, h.
pub(super) const UNSEEN_H: f64 = 1.0 / 60.0;

/// True where the first load enters so near to its end point.
fn good(kept: &KeptHour) -> bool {
    GOOD_SHARE.contains(&kept.plan.loads[0].ripeness)
}

impl Present<'_> {
    /// The dough to the end of its bulk, as everything that was seen says.
    pub fn bulk(&self, process: &DoughProcess<'_>) -> Result<BulkResult> {
        process.bulk(self.mix, self.ripening, self.known)
    }

    /// All loads behind a first one.
    pub fn loads(
        &self,
        process: &DoughProcess<'_>,
        bulk: &BulkResult,
        first: loads::Slot,
    ) -> Result<Vec<loads::Slot>> {
        match self.phase {
            Phase::Proof => loads::under_way(process, bulk, first, &self.planned.loads, self.at),
            _ => loads::all(process, bulk, first, true),
        }
    }

    /// When the oven can be hot at the earliest: by the plan's hour to turn it on, or by now.
    pub fn oven_hot_h(&self) -> f64 {
        let preheat_h = as_hours(self.process.bake.oven.preheat);
        let first = self.planned.loads.first();
        let planned = first.map_or(self.at, |load| load.oven_in);
        self.at.max(planned.min(self.at + preheat_h))
    }

    /// When a change of place takes effect.
    fn acts_h(&self) -> f64 {
        self.at
            .max(self.mix + as_hours(self.process.bake.process.mix))
    }

    fn unchanged(&self) -> Levers {
        let (process, from) = (self.process, self.acts_h());
        let place = match self.phase {
            Phase::Proof => &process.rooms.proof,
            _ => &process.rooms.bulk,
        };
        Levers {
            dough_c: process.bake.process.dough.as_celsius(),
            added: self.planned.bulk.added,
            place_c: place.at(from).as_celsius(),
            chill_h: 0.0,
            bulk_share: 1.0,
        }
    }

    /// The levers that are left and allowed, each with its end, the least trouble first.
    fn levers(&self, late: bool, hour: f64) -> Result<Vec<(Means, f64)>> {
        let (bake, day) = (self.process.bake, table::get("day")?);
        let mut levers = Vec::new();
        let now = self.unchanged();
        let may = |lever| bake.may_change().contains(&lever);
        let mixed = self.phase != Phase::Preferment;
        if !mixed && may(Lever::DoughC) {
            let ends = water::reachable_dough(bake, &self.planned.bulk.water)?;
            let end = ends.map(|(coldest, warmest)| if late { warmest } else { coldest });
            levers.extend(end.map(|end| (Means::Dough, end)));
        }
        if !mixed && may(Lever::Yeast) {
            let times = day.number("yeast_times")?;
            levers.push((
                Means::Yeast,
                now.added * if late { times } else { 1.0 / times },
            ));
        }
        if !late && may(Lever::Retarder) {
            levers.push((Means::Chill, hour - self.acts_h()));
        }
        if may(Lever::WarmPlace) {
            let place_c = match late {
                true => day.number("warmest_place_c")?.max(now.place_c),
                false => day.number("coolest_place_c")?.min(now.place_c),
            };
            levers.push((Means::Place, place_c));
        }
        if late && self.phase != Phase::Proof {
            levers.push((Means::BulkShare, day.number("least_rise_share")?));
        }
        levers.retain(|(means, end)| *means.of(&mut self.unchanged()) != *end);
        Ok(levers)
    }

    /// Does something with the dough under a setting.
    fn with<T>(
        &self,
        set: &Levers,
        then: impl FnOnce(&DoughProcess<'_>, BulkResult) -> Result<T>,
    ) -> Result<T> {
        let (now, from) = (self.unchanged(), self.acts_h());
        let mut bake = self.process.bake.clone();
        let work = &mut bake.process;
        work.dough = Temperature::celsius(set.dough_c)?;
        work.bulk_rise = 1.0 + set.bulk_share * (work.bulk_rise - 1.0);
        work.bulk_time = work.bulk_time.map(|time| time.mul_f64(set.bulk_share));
        let mut rooms = self.process.rooms.clone();
        if set.place_c != now.place_c {
            let rest = [from, from + REST_OF_DAY_H];
            rooms = (rooms.with_bulk_at(set.place_c, rest)?).with_proof_at(set.place_c, rest)?;
        }
        if set.chill_h > 0.0 {
            let cold_c = self.process.bake.coldest_place()?.as_celsius();
            let stay = [from, from + set.chill_h];
            rooms = match self.phase {
                Phase::Proof => rooms.with_proof_at(cold_c, stay)?,
                _ => rooms.with_bulk_at(cold_c, stay)?,
            };
        }
        let process = DoughProcess::new(&bake, self.process.p, &rooms)?.faster(self.speed)?;
        let added = Some(set.added);
        let known = Known {
            added,
            ..self.known
        };
        let bulk = process.bulk(self.mix, self.ripening, known)?;
        then(&process, bulk)
    }

    /// How much later than at an hour the first load comes to a share of its proof under a setting, h.
    fn late(&self, set: &Levers, share: f64, hour: f64) -> Result<f64> {
        self.with(set, |process, bulk| {
            let first = loads::first(process, &bulk, share)?;
            Ok(first.oven_in.max(self.at) - hour)
        })
    }

    /// The day under a setting, if its first load is in its window at an hour, and all others in theirs.
    fn entering(&self, set: &Levers, hour: f64) -> Result<Option<KeptHour>> {
        self.with(set, |process, bulk| {
            let first = loads::first_at(process, &bulk, hour)?;
            let Some(first) = first.filter(|f| f.in_window(process.p.rise_window)) else {
                return Ok(None);
            };
            let loads = self.loads(process, &bulk, first)?;
            if !loads::fits(process, &loads) {
                return Ok(None);
            }
            let timeline = Timeline {
                first_share: loads[0].ripeness,
                fits: true,
                bulk,
                loads,
            };
            let ways = self.ways(set, process, &timeline)?;
            let mut plan = assemble(process, &timeline, Detail::default())?;
            let chills = |way: &&Finding| matches!(way, Finding::Chill { .. });
            plan.changes.extend(ways.iter().filter(chills).cloned());
            Ok(Some(KeptHour { ways, plan }))
        })
    }

    /// What keeps the first load's hour in the oven, if anything does.
    pub fn keep(&self, hour: f64) -> Result<Option<KeptHour>> {
        let plain = self.unchanged();
        if hour < self.at {
            return Ok(None);
        }
        let late = self.late(&plain, self.planned.first_share, hour)?;
        if let Some(kept) = self.entering(&plain, hour)?.filter(good) {
            return Ok(Some(kept));
        }
        let levers = self.levers(late > 0.0, hour)?;
        // The first load as planned, at its best, or a little sooner for the sake of the others.
        let mut ends = plain;
        for share in [self.planned.first_share, 1.0, 0.95, 0.90] {
            let (kept, set) = self.keep_at(share, hour, &levers)?;
            if kept.is_some() {
                return Ok(kept);
            }
            ends = set;
        }
        for set in [plain, ends] {
            if let Some(kept) = self.entering(&set, hour)? {
                return Ok(Some(kept));
            }
        }
        self.on_grid(hour, &levers, PARTS)
    }

    /// What keeps an hour among the settings of one lever, or of two, on a grid of so many parts of their ways.
    fn on_grid(&self, hour: f64, levers: &[(Means, f64)], parts: u32) -> Result<Option<KeptHour>> {
        let shortest = as_hours(self.process.bake.process.shortest_retard);
        let part = |set: Levers, (means, end): (Means, f64), n: u32| {
            let start = *means.of(&mut self.unchanged());
            means.set(set, start + (end - start) * f64::from(n) / f64::from(parts))
        };
        for (i, &one) in levers.iter().enumerate() {
            for m in 1..=parts {
                let first = part(self.unchanged(), one, m);
                let others = levers[..i].iter();
                let both =
                    others.flat_map(|&other| (1..=parts).map(move |n| part(first, other, n)));
                for set in [first].into_iter().chain(both) {
                    // A lever that leads to an error is no lever.
                    let moved = set.place_c != self.unchanged().place_c;
                    if (set.chill_h == 0.0 || set.chill_h >= shortest && !moved)
                        && let Ok(Some(kept)) = self.entering(&set, hour)
                    {
                        return Ok(Some(kept));
                    }
                }
            }
        }
        Ok(None)
    }

    /// The levers set one after the other until the first load is at a share of its proof at an hour: the day, or else all
    /// that they do.
    fn keep_at(
        &self,
        share: f64,
        hour: f64,
        levers: &[(Means, f64)],
    ) -> Result<(Option<KeptHour>, Levers)> {
        let mut set = self.unchanged();
        for &(means, end) in levers {
            // A dough stands in one place at a time.
            if means == Means::Place && set.chill_h > 0.0 {
                continue;
            }
            let start = *means.of(&mut set);
            let miss = |value| self.late(&means.set(set, value), share, hour);
            // A lever that leads to an error is no lever.
            let (Ok(before), Ok(after)) = (miss(start), miss(end)) else {
                continue;
            };
            if before * after <= 0.0 {
                let mut value = numeric::try_root(miss, start, end)?.unwrap_or(end);
                if means == Means::Chill {
                    value = value.max(as_hours(self.process.bake.process.shortest_retard));
                }
                let found = means.set(set, value);
                if let Some(kept) = self.entering(&found, hour)? {
                    return Ok((Some(kept), found));
                }
            } else if after.abs() < before.abs() {
                set = means.set(set, end);
                // Near enough is better than one more thing to do.
                if let Some(kept) = self.entering(&set, hour)?.filter(good) {
                    return Ok((Some(kept), set));
                }
            }
        }
        Ok((None, set))
    }

    /// A setting in words: what it changes.
    fn ways(
        &self,
        set: &Levers,
        process: &DoughProcess<'_>,
        timeline: &Timeline,
    ) -> Result<Vec<Finding>> {
        let (now, bulk) = (self.unchanged(), &timeline.bulk);
        let mut ways = Vec::new();
        if set.dough_c != now.dough_c {
            ways.push(water::change_of_dough(
                process.bake,
                &bulk.water,
                now.dough_c,
            ));
        }
        if set.added != now.added {
            ways.push(process.bake.change_yeast(
                process.dose(set.added)?.as_percent(),
                process.dose(now.added)?.as_percent(),
            ));
        }
        let from_h = self.acts_h();
        if set.place_c != now.place_c {
            ways.push(Finding::ChangePlace {
                place_c: set.place_c,
                from_h: Some(from_h),
            });
        }
        if set.chill_h > 0.0 {
            let pieces = self.phase == Phase::Proof;
            let ends = if pieces {
                f64::INFINITY
            } else {
                bulk.bulk_end()
            };
            ways.push(Finding::Chill {
                pieces,
                place_c: process.bake.coldest_place()?.as_celsius(),
                from_h,
                until_h: ends.min(from_h + set.chill_h),
            });
        }
        if set.bulk_share != now.bulk_share {
            ways.push(Finding::DivideAt {
                at_h: bulk.bulk_end(),
                rise: bulk.rise(&bulk.state),
            });
        }
        let ripeness = timeline.first_share;
        let as_planned = (ripeness - self.planned.first_share).abs() < 0.02;
        if ways.is_empty() || !(as_planned || (0.98..=1.02).contains(&ripeness)) {
            ways.push(Finding::BakeAt { ripeness });
        }
        Ok(ways)
    }
}

#[cfg(test)]
impl Present<'_> {
    /// Whether any setting of one lever or two keeps an hour, on a grid finer than the one that is searched.
    pub fn kept_on_fine_grid(&self, hour: f64) -> Result<bool> {
        let late = self.late(&self.unchanged(), self.planned.first_share, hour)?;
        let levers = self.levers(late > 0.0, hour)?;
        Ok(self.on_grid(hour, &levers, 2 * PARTS - 1)?.is_some())
    }
}

impl Bake {
    /// The coldest place that this bakery has: its retarder, or a usual fridge.
    pub(super) fn coldest_place(&self) -> Result<Temperature> {
        match self.process.retarder {
            Some(retarder) => Ok(retarder),
            None => Temperature::celsius(table::get("bake-file")?.number("fridge_c")?),
        }
    }
}
