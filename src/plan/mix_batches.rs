//! More dough than the mixer takes at once: mix batches, each a dough of its own with its own loads, begun one after the
//! other.

use super::assemble::{assemble, wait_in_window};
use super::bake::Bake;
use super::environment::{Environment, RoomCourses};
use super::equipment;
use super::finding::Finding;
use super::keep_hour::UNSEEN_H;
use super::loads;
use super::model::{Anchor, Detail, Plan};
use super::process::DoughProcess;
use super::search::{self, Timeline};
use crate::error::{Error, Result};
use crate::ferment::Parameters;
use crate::formula::MixStage;
use crate::numeric;
use crate::units::{Mass, as_hours};

/// A batch begins so much later at a time, h, and so often at most, until the hands are free for it (by judgement).
const LATER_H: f64 = 1.0 / 6.0;
const MOST_TIMES: u32 = 18;

impl Bake {
    /// The doughs in which this one is mixed, in order, each with its pieces: as few as the mixer allows, of whole loads, and
    /// as equal as these. One, where the mixer takes all of it, or not even a load.
    pub(super) fn mix_batches(&self) -> Result<Vec<Self>> {
        let whole = self.batch()?;
        let (all, each) = (self.pieces, self.pieces_per_load().max(1));
        let loads = loads::count(self);
        let pieces = |from: u32, to: u32| (to * each).min(all) - from * each;
        let kg = |pieces: u32| whole.dough.as_kilograms() * f64::from(pieces) / f64::from(all);
        let mixer_kg = self.kitchen.mixer.map_or(f64::INFINITY, Mass::as_kilograms);
        let takes = |n: &u32| kg(pieces(0, loads.div_ceil(*n))) <= mixer_kg * (1.0 + 1e-9);
        let batches = (1..=loads).find(takes).unwrap_or(1);
        if batches == 1 {
            return Ok(vec![self.clone()]);
        }
        let ahead = |pieces: u32| {
            let share = f64::from(pieces) / f64::from(all);
            whole.stage_mass(MixStage::Preferment).as_grams() * share
        };
        // The larger ones first.
        let until = |n: u32| (n * loads).div_ceil(batches);
        let batch = |n: u32| {
            let mut batch = self.clone();
            batch.pieces = pieces(until(n), until(n + 1));
            let share = f64::from(batch.pieces) / f64::from(all);
            batch.process.divide = self.process.divide.mul_f64(share);
            // One preferment serves all of them.
            if let Some(step) = &mut batch.preferment {
                step.also = Mass::grams(step.also.as_grams() + ahead(all) - ahead(batch.pieces))?;
            }
            Ok(batch)
        };
        (0..batches).map(batch).collect()
    }
}

/// The hour for the first batch that brings the last load of the last one out at its hour; another anchor is the first
/// batch's own.
pub(super) fn anchor_of_first(
    batches: &[Bake],
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
) -> Result<Anchor> {
    let (Anchor::LastOut(hour), [first, _, ..]) = (anchor, batches) else {
        return Ok(anchor);
    };
    let mix = numeric::meet(hour - 8.0, |mix| {
        let (rooms, day) = search::timeline(first, places, Anchor::MixAt(mix), p, true)?;
        let later = later(batches, &rooms, &day, p, 1.0)?;
        let last = later.last().map_or(day.end(), Timeline::end);
        Ok::<_, Error>(last + as_hours(first.oven.bake) - hour)
    })?;
    let found = mix.ok_or(Error::not_settled("the hour to mix", numeric::MEET_STEPS))?;
    Ok(Anchor::MixAt(found))
}

/// The batches behind the first, with yeast so many times as fast. Each is mixed so that its first load comes to the oven
/// when that is free; but not before the mixer is, and later where the hands are at the pieces of those before it.
fn later(
    batches: &[Bake],
    rooms: &RoomCourses,
    first: &Timeline,
    p: &Parameters,
    speed: f64,
) -> Result<Vec<Timeline>> {
    let mut mixer_free = first.bulk.mix.end_h;
    let mut oven_free = first.end();
    let mut busy = at_pieces(first);
    let mut found = Vec::new();
    for bake in &batches[1..] {
        let process = DoughProcess::new(bake, p, rooms)?.faster(speed)?;
        let process = process.with_preferment(first.bulk.preferment);
        let out = oven_free + loads::cycle_h(bake) + as_hours(bake.oven.bake);
        let wanted = search::at(&process, Anchor::FirstOut(out), true)?;
        let soonest = mixer_free + as_hours(bake.process.autolyse);
        let mix = wanted.bulk.mix.start_h.max(soonest);
        let mut best: Option<(f64, Timeline)> = None;
        for times in 0..=MOST_TIMES {
            let mix = Anchor::MixAt(mix + LATER_H * f64::from(times));
            let day = search::at(&process, mix, true)?;
            let twice = overlap(&busy, &at_pieces(&day));
            // What the oven makes wait for it is no better than what the hands do.
            let in_turn = day
                .loads
                .first()
                .is_some_and(|l| l.oven_in >= out - as_hours(bake.oven.bake) - UNSEEN_H);
            let misses = if in_turn { twice } else { f64::INFINITY };
            if best.as_ref().is_none_or(|best| misses < best.0) {
                best = Some((misses, day));
            }
            if misses <= UNSEEN_H {
                break;
            }
        }
        let (_, day) = best.ok_or(Error::not_settled("the mix batches", 0))?;
        (mixer_free, oven_free) = (day.bulk.mix.end_h, day.end());
        busy.extend(at_pieces(&day));
        found.push(day);
    }
    Ok(found)
}

/// When the hands divide and shape.
fn at_pieces(day: &Timeline) -> Vec<(f64, f64)> {
    let parts = day.loads.iter().flat_map(|slot| &slot.shaped.parts);
    let work = parts.filter(|part| ["divide", "shape"].contains(&part.name));
    let mut spans: Vec<_> = work.map(|part| (part.start_h, part.end_h)).collect();
    // Loads are divided together.
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    spans.dedup_by(|a, b| (a.0 - b.0).abs() < UNSEEN_H);
    spans
}

/// How long the hands would be at two of these things at once, h.
fn overlap(some: &[(f64, f64)], others: &[(f64, f64)]) -> f64 {
    let both = |a: &(f64, f64), b: &(f64, f64)| (a.1.min(b.1) - a.0.max(b.0)).max(0.0);
    let all = some
        .iter()
        .flat_map(|a| others.iter().map(move |b| both(a, b)));
    all.sum()
}

/// Adds the batches behind the first to its plan: their loads to its own, and what else is theirs.
pub(super) fn append(
    plan: &mut Plan,
    batches: &[Bake],
    rooms: &RoomCourses,
    first: &Timeline,
    (p, speed, detail): (&Parameters, f64, Detail),
) -> Result<()> {
    let [bake, _, ..] = batches else {
        return Ok(());
    };
    let close = plan.preferment.as_ref().and_then(|own| own.window_close_h);
    let days = later(batches, rooms, first, p, speed)?;
    let mut late: Option<(u32, f64)> = None;
    for (batch, (bake, day)) in (2..).zip(batches[1..].iter().zip(&days)) {
        let process = DoughProcess::new(bake, p, rooms)?.faster(speed)?;
        let mut own = assemble(&process, day, detail)?;
        let before = plan.loads.len() as u32;
        for load in &mut own.loads {
            (load.number, load.batch) = (load.number + before, batch);
        }
        own.stages.retain(|stage| stage.name != "preferment");
        (own.preferment, own.preferment_water, own.preheat_h) = (None, None, None);
        plan.loads.extend(own.loads.iter().cloned());
        if let (Some(all), Some(trace)) = (&mut plan.trace, own.trace.take()) {
            all.proofs.extend(trace.proofs);
        }
        let used = day.bulk.preferment.map_or(f64::NEG_INFINITY, |r| r.used);
        let late_h = close.map_or(0.0, |close| used - close);
        if late_h > UNSEEN_H {
            late = Some((late.map_or(batch, |(first, _)| first), late_h));
        }
        // What is found of several batches is said once.
        let kind = std::mem::discriminant::<Finding>;
        for found in own.warnings.drain(..) {
            let known = plan
                .warnings
                .iter()
                .any(|known| kind(known) == kind(&found));
            if !known && !matches!(found, Finding::PrefermentOffWindow { .. }) {
                plan.warnings.push(found);
            }
        }
        plan.later_batches.push(own);
    }
    // The oven goes on until the last load is out.
    let out = plan.loads.last().map_or(0.0, |load| load.oven_out_h);
    for stage in &mut plan.stages {
        let hours = stage.hours();
        match stage.name {
            "bake" => stage.end_h = out,
            "cool" => (stage.start_h, stage.end_h) = (out, out + hours),
            _ => {}
        }
    }
    // The preferment of all batches is none for another dough.
    let ahead = |own: &Plan| own.batch.stage_mass(MixStage::Preferment).as_grams();
    let ahead_g: f64 = plan.batches().map(ahead).sum();
    plan.warnings.retain_mut(|found| match found {
        Finding::ExtraPreferment { all_g, own_g } => {
            *own_g = ahead_g;
            *all_g > ahead_g * (1.0 + 1e-6)
        }
        found => !equipment::is_of_loads(found),
    });
    let process = DoughProcess::new(bake, p, rooms)?;
    let mut of_loads = Vec::new();
    equipment::of_loads(&process, plan, &mut of_loads);
    plan.warnings.extend(of_loads);
    plan.notes
        .retain(|found| !matches!(found, Finding::WaitInWindow { .. }));
    plan.notes.extend(wait_in_window(bake, plan));
    let late = late.map(|(from_batch, late_h)| Finding::LateBatches { from_batch, late_h });
    plan.warnings.extend(late);
    let mix_kg = plan.batch.dough.as_kilograms();
    let mixer_kg = bake.kitchen.mixer.map_or(mix_kg, Mass::as_kilograms);
    plan.notes.insert(
        0,
        Finding::MixBatches {
            batches: batches.len(),
            mix_kg,
            mixer_kg,
        },
    );
    Ok(())
}
