//! How sure the hours of a plan are, and how likely a load is past its window.
//!
//! Each uncertain parameter is moved up and down by one standard deviation and the plan is replayed with
//! the same weights: once as a baker does who follows the dough (the bulk ends when the dough says so),
//! once by the clock (to see how ripe each load is at its hour). Moves of logarithms are added in
//! squares and with their correlations, as in [`range`](fn@crate::ferment::range).

use super::Plan;
use super::bake::Bulk;
use super::environment::Rooms;
use super::loads::Slot;
use super::process::{BulkResult, DoughProcess, Known, PieceCache, Ripening};
use crate::error::Result;
use crate::ferment::{EndPoint, Kind, Parameters, Uncertain, range};
use crate::numeric;

/// What is moved. The end points of preferments are not: the preferment is used at its hour.
const MOVED: [Uncertain; 7] = [
    Uncertain::Level(Kind::Dough),
    Uncertain::Tilt,
    Uncertain::GrowthRate,
    Uncertain::GrowthCap,
    Uncertain::Lag,
    Uncertain::Kept,
    Uncertain::ProofEnd,
];

/// Ranges (10-90 %) of a plan.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Ranges {
    /// End of the bulk; missing when its minutes are fixed.
    pub bulk_end: Option<(f64, f64)>,
    /// The first load enters the oven.
    pub first_in: Option<(f64, f64)>,
    /// Each load's ripeness at its hour.
    pub loads: Vec<LoadRange>,
}

/// How sure a load's ripeness is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LoadRange {
    pub ripeness: (f64, f64),
    /// Chance that it is past the window at its hour, 0 to 1.
    pub past: f64,
}

impl Ranges {
    /// Tells the ranges beside the plan's times. What follows a stage by the clock moves with it.
    pub fn into_plan(self, plan: &mut Plan) {
        let mut shift = None;
        // Of the parts of a bulk only the last ends when the dough says so.
        let bulk = plan.stages.iter().rposition(|s| {
            matches!(s.name, "bulk" | "cold" | "warm up") && {
                plan.stages
                    .iter()
                    .any(|d| d.name == "divide" && s.end_h <= d.start_h)
            }
        });
        for (i, stage) in plan.stages.iter_mut().enumerate() {
            let found = match stage.name {
                "proof" => self.first_in,
                _ if Some(i) == bulk => self.bulk_end,
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
        for (load, range) in plan.loads.iter_mut().zip(&self.loads) {
            load.ripeness_range = Some(range.ripeness);
            load.past_chance = Some(range.past);
        }
    }
}

/// Logarithms of what a replay gives: hours from the mix to the end of the bulk and to the oven, and the
/// ripeness of each load.
fn replay(
    line: &DoughProcess<'_>,
    ripening: Option<Ripening>,
    bulked: &BulkResult,
    slots: &[Slot],
    share: f64,
) -> Result<Vec<f64>> {
    let mix = bulked.mix[0];
    let known = Known {
        added: Some(bulked.added),
        by_dough: true,
        ..Known::default()
    };
    let by_dough = line.bulk(mix, ripening, known)?;
    let first = super::loads::first(line, &by_dough, share)?;
    let mut logs = vec![(by_dough.bulk_end() - mix).ln(), (first.oven_in - mix).ln()];
    let planned = bulked.bulk_end() - bulked.bulk_start();
    let by_clock = line.bulk(
        mix,
        ripening,
        Known {
            bulk_h: Some(planned),
            ..known
        },
    )?;
    let dough = line.dough(&by_clock)?;
    let mut bench = PieceCache::new(line, &by_clock, &dough);
    for slot in slots {
        let shaped = bench.shaped(slot.waits)?;
        let (ripeness, _) = bench.proof_at(&shaped, slot.oven_in)?;
        logs.push(ripeness.max(1e-3).ln());
    }
    Ok(logs)
}

/// When a preferment is likely to be ripe.
pub(super) fn ripe(
    line: &DoughProcess<'_>,
    p: &Parameters,
    ripening: &Ripening,
) -> Result<Option<(f64, f64)>> {
    let end = EndPoint::Ripe(line.preferment()?.kind);
    let likely = range(p, end, |p| line.ripe_hours(p, ripening))?;
    Ok(likely.map(|(low, high)| (ripening.mixed + low, ripening.mixed + high)))
}

/// The ranges of a plan whose first load enters at a share of its proof.
pub(super) fn ranges(
    line: &DoughProcess<'_>,
    rooms: &Rooms,
    p: &Parameters,
    (bulked, slots, share): (&BulkResult, &[Slot], f64),
) -> Result<Ranges> {
    let planned = bulked.preferment;
    let middle = replay(line, planned, bulked, slots, share)?;
    let mut moved = vec![Vec::with_capacity(MOVED.len()); middle.len()];
    for which in MOVED {
        let side = |z: f64| -> Option<Vec<f64>> {
            let moved = p.moved(which, z).ok()?;
            let line = DoughProcess::new(line.bake, &moved, rooms).ok()?;
            // End points are no part of how a preferment gets to its hour: it need not be followed anew.
            let ripening = match (which, planned) {
                (Uncertain::Level(_) | Uncertain::Kept | Uncertain::ProofEnd, _) | (_, None) => {
                    planned
                }
                (_, Some(r)) => Some(line.preferment_used_at(&r, r.used).ok()?),
            };
            let logs = replay(&line, ripening, bulked, slots, share).ok()?;
            Some(logs.iter().zip(&middle).map(|(l, m)| z * (l - m)).collect())
        };
        let moves: Vec<f64> = match (side(1.0), side(-1.0)) {
            (Some(a), Some(b)) => a.iter().zip(&b).map(|(a, b)| 0.5 * (a + b)).collect(),
            (Some(one), None) | (None, Some(one)) => one,
            // Neither side has a plan: nothing honest can be said.
            (None, None) => return Ok(Ranges::default()),
        };
        for (all, shift) in moved.iter_mut().zip(moves) {
            all.push((which, shift));
        }
    }
    let variance: Vec<f64> = moved.iter().map(|m| p.correlations.variance(m)).collect();
    let span = |i: usize| {
        let width = numeric::NORMAL_90 * variance[i].sqrt();
        ((middle[i] - width).exp(), (middle[i] + width).exp())
    };
    let hours = |i: usize| {
        let (low, high) = span(i);
        (bulked.mix[0] + low, bulked.mix[0] + high)
    };
    let close = p.window.close.ln();
    let loads = (0..slots.len()).map(|n| {
        let i = n + 2;
        let sd = variance[i].sqrt().max(1e-9);
        LoadRange {
            ripeness: span(i),
            past: 1.0 - numeric::normal_below((close - middle[i]) / sd),
        }
    });
    let fixed = matches!(line.bake.process.bulk, Bulk::Fixed(_));
    Ok(Ranges {
        bulk_end: (!fixed).then(|| hours(0)),
        first_in: Some(hours(1)),
        loads: loads.collect(),
    })
}
