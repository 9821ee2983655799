//! How sure the hours of a plan are, and how likely a load is past its window.
//!
//! Each uncertain parameter is moved up and down by one standard deviation and the plan is replayed with
//! the same weights: once as a baker does who follows the dough (the bulk ends when the dough says so),
//! once by the clock (to see how ripe each load is at its hour). Moves of logarithms are added in
//! squares and with their correlations, as in [`Stage::uncertainty`](crate::ferment::Stage::uncertainty).

use super::finding::Finding;
use super::model::Plan;
use super::process::{DoughProcess, Known, PieceCache, Ripening};
use super::search::Timeline;
use crate::error::Result;
use crate::ferment::{Kind, LEARNABLE, Uncertain};
use crate::numeric;

/// What is moved: what a log can teach, and a proof. The end points of preferments are not, for a preferment is used at
/// its hour.
fn moved() -> impl Iterator<Item = Uncertain> {
    let learnable = LEARNABLE.into_iter();
    let learnable = learnable.skip_while(|&which| which != Uncertain::Level(Kind::Dough));
    learnable.chain([Uncertain::Kept, Uncertain::ProofEnd])
}

/// True for what this plan goes by: the end of a stage that no log has taught is published, or that of a reference.
fn counts(process: &DoughProcess<'_>, which: Uncertain) -> bool {
    match which {
        Uncertain::Level(stage @ (Kind::Bulk | Kind::Proof)) => process.learnt(stage).is_some(),
        _ => process.p.spread_of(which) > 0.0,
    }
}

/// Adds the ranges (10-90 %) to a plan.
pub(super) fn add(process: &DoughProcess<'_>, timeline: &Timeline, plan: &mut Plan) -> Result<()> {
    if let (Some(times), Some(ripening)) = (&mut plan.preferment, &timeline.bulk.preferment) {
        let likely = process.ripe_range(ripening)?;
        times.ripe_range_h =
            likely.map(|(low, high)| (ripening.mixed + low, ripening.mixed + high));
    }
    let middle = replay(process, timeline, timeline.bulk.preferment)?;
    let Some(variance) = variances(process, timeline, &middle)? else {
        return Ok(());
    };
    let reference = &process.bake.reference;
    let learnt = [Kind::Bulk, Kind::Proof].map(|stage| process.learnt(stage));
    if reference.bulk.or(reference.proof).is_none() && learnt == [None; 2] {
        let wider = variance[1].sqrt() / process.p.spread.own_recipe;
        plan.warnings.push(Finding::PublishedTimes { wider });
    }
    let span = |i: usize| {
        let width = numeric::NORMAL_90 * variance[i].sqrt();
        ((middle[i] - width).exp(), (middle[i] + width).exp())
    };
    let hours = |i: usize| {
        let (low, high) = span(i);
        let mix = timeline.bulk.mix.start_h;
        (mix + low, mix + high)
    };
    let by_clock = process.bake.process.bulk_time.is_some() || process.bake.out_of_cold().is_some();
    of_stages(plan, (!by_clock).then(|| hours(0)), hours(1));
    let close = process.p.rise_window.close.ln();
    for (i, load) in (2..).zip(&mut plan.loads) {
        let sd = variance[i].sqrt().max(1e-9);
        load.ripeness_range = Some(span(i));
        load.past_chance = Some(1.0 - numeric::normal_below((close - middle[i]) / sd));
    }
    Ok(())
}

/// Ranges of the stages: what follows one by the clock moves with it.
fn of_stages(plan: &mut Plan, bulk_end: Option<(f64, f64)>, first_in: (f64, f64)) {
    // Of the parts of a bulk only the last ends when the dough says so.
    let divide_h = plan.stage("divide").map(|d| d.start_h);
    let bulk = plan.stages.iter().rposition(|s| {
        matches!(s.name, "bulk" | "cold" | "warm up") && divide_h.is_some_and(|h| s.end_h <= h)
    });
    let mut shift = None;
    for (i, stage) in plan.stages.iter_mut().enumerate() {
        let found = match stage.name {
            "proof" => Some(first_in),
            _ if Some(i) == bulk => bulk_end,
            _ => None,
        };
        if let Some((low, high)) = found {
            shift = Some((low - stage.end_h, high - stage.end_h));
        }
        // The dough may be ahead of the clock, but no stage ends before it begins.
        let within = |h: f64| h.max(stage.start_h);
        stage.end_range_h =
            shift.map(|(low, high)| (within(stage.end_h + low), within(stage.end_h + high)));
    }
}

/// Logarithms of what a replay gives: hours from the mix to the end of the bulk and to the oven, and the
/// ripeness of each load.
fn replay(
    process: &DoughProcess<'_>,
    timeline: &Timeline,
    ripening: Option<Ripening>,
) -> Result<Vec<f64>> {
    let mix = timeline.bulk.mix.start_h;
    let known = Known {
        added: Some(timeline.bulk.added),
        by_dough: true,
        ..Known::default()
    };
    let by_dough = process.bulk(mix, ripening, known)?;
    let first = super::loads::first(process, &by_dough, timeline.first_share)?;
    let mut logs = vec![(by_dough.bulk_end() - mix).ln(), (first.oven_in - mix).ln()];
    let bulk_h = Some(timeline.bulk.bulk_h());
    let by_clock = process.bulk(mix, ripening, Known { bulk_h, ..known })?;
    let mut bench = PieceCache::new(process, &by_clock);
    for slot in &timeline.loads {
        let shaped = bench.shaped(slot.waits)?;
        let (ripeness, _) = bench.proof_at(&shaped, slot.oven_in)?;
        logs.push(ripeness.max(1e-3).ln());
    }
    Ok(logs)
}

/// Variances of these logarithms; `None` where a parameter moved either way leaves no plan, and nothing honest can be
/// said.
fn variances(
    process: &DoughProcess<'_>,
    timeline: &Timeline,
    middle: &[f64],
) -> Result<Option<Vec<f64>>> {
    let planned = timeline.bulk.preferment;
    let mut moves = vec![Vec::new(); middle.len()];
    let p = process.p;
    for which in moved().filter(|&w| counts(process, w)) {
        let side = |z: f64| -> Option<Vec<f64>> {
            let moved = process.p.moved(which, z).ok()?;
            let process = DoughProcess::new(process.bake, &moved, process.rooms).ok()?;
            // End points are no part of how a preferment gets to its hour: it need not be followed anew.
            use Uncertain::{Kept, Level, ProofEnd};
            let anew = !matches!(which, Level(_) | Kept | ProofEnd);
            let ripening = match planned {
                Some(r) if anew => Some(process.preferment_anew(r).ok()?),
                planned => planned,
            };
            let logs = replay(&process, timeline, ripening).ok()?;
            Some(logs.iter().zip(middle).map(|(l, m)| z * (l - m)).collect())
        };
        let sides: Vec<Vec<f64>> = [1.0, -1.0].into_iter().filter_map(side).collect();
        if sides.is_empty() {
            return Ok(None);
        }
        for (i, all) in moves.iter_mut().enumerate() {
            let sum: f64 = sides.iter().map(|side| side[i]).sum();
            all.push((which, sum / sides.len() as f64));
        }
    }
    // The end of the bulk stands first; all else is about pieces.
    let of_bulk = day(process, timeline, true);
    let of_pieces = day(process, timeline, false);
    let days = std::iter::once(of_bulk).chain(std::iter::repeat(of_pieces));
    let variances = (moves.iter().zip(days)).map(|(m, day)| day * day + p.correlations.variance(m));
    Ok(Some(variances.collect()))
}

/// The scatter of a single time from the mix to the end of the bulk, or else to the oven. That of a baker's own
/// stages stands for what published ones scatter, each for its share of the time.
fn day(process: &DoughProcess<'_>, timeline: &Timeline, of_bulk: bool) -> f64 {
    let (spread, bake) = (&process.p.spread, process.bake);
    let own = |known: bool| match known {
        true => spread.day.min(spread.own_recipe),
        false => spread.day,
    };
    let reference = &bake.reference;
    // A bulk by the clock was the same before the proof of the reference.
    let by_clock = bake.process.bulk_time.is_some() && reference.proof.is_some();
    let bulk = own(reference.bulk.is_some() || by_clock);
    let mix = timeline.bulk.mix.start_h;
    let oven = timeline.loads.first().map_or(mix, |first| first.oven_in);
    let share = (timeline.bulk.bulk_end() - mix) / (oven - mix).max(1e-9);
    match of_bulk {
        true => bulk,
        false => share * bulk + (1.0 - share) * own(reference.proof.is_some()),
    }
}
