//! A plan as curves: temperature and ripeness of the dough against the clock, for charts.

use super::process::{DoughProcess, PieceCache};
use super::search::Timeline;
use crate::error::Result;
use serde::{Deserialize, Serialize};

/// Minutes between two points.
const STEP_H: f64 = 5.0 / 60.0;

/// A point of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct TracePoint {
    /// Hour on the plan's clock.
    pub hour: f64,
    /// Dough, °C.
    pub dough_c: f64,
    /// Its place, °C.
    pub room_c: f64,
    /// How far it has come, as a share of the end point of its stage; for a bulk, doubled.
    pub ripeness: f64,
}

/// The curves of a plan.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Trace {
    /// The preferment, from its mix to its use.
    pub preferment: Vec<TracePoint>,
    /// The dough in bulk, from the mix to the first dividing.
    pub bulk: Vec<TracePoint>,
    /// Each load's proof, from shaping to the oven.
    pub proofs: Vec<Vec<TracePoint>>,
}

/// Ripeness, dough and place from `start` to `end`, both included, evenly spaced by about [`STEP_H`].
fn curve(
    [start, end]: [f64; 2],
    mut at: impl FnMut(f64) -> Result<(f64, f64, f64)>,
) -> Result<Vec<TracePoint>> {
    let span = (end - start).max(0.0);
    // Plans last days: a few thousand steps at the most.
    let steps = ((span / STEP_H).ceil() as u32).clamp(1, 10_000);
    let hours = (0..=steps).map(|i| start + span * f64::from(i) / f64::from(steps));
    let points = hours.map(|hour| {
        let (ripeness, dough_c, room_c) = at(hour)?;
        Ok(TracePoint {
            hour,
            dough_c,
            room_c,
            ripeness,
        })
    });
    points.collect()
}

/// The curves of a plan that was found.
pub(super) fn trace(line: &DoughProcess<'_>, timeline: &Timeline) -> Result<Trace> {
    let bulk = &timeline.bulk;
    let mut trace = Trace::default();
    if let Some(ripening) = &bulk.preferment {
        trace.preferment = curve([ripening.mixed, ripening.used], |hour| {
            let state = line.preferment_at(ripening, hour)?;
            let room_c = line
                .preferment_place(ripening.mixed, hour)
                .at(hour)
                .as_celsius();
            Ok((state.gas / ripening.ripe.gas, state.temperature_c, room_c))
        })?;
    }
    trace.bulk = curve([bulk.bulk_start(), bulk.bulk_end()], |hour| {
        let state = line.bulk_at(bulk, hour)?;
        let room_c = line.bulk_place(bulk, hour).at(hour).as_celsius();
        Ok((bulk.rise(&state) - 1.0, state.temperature_c, room_c))
    })?;
    let mut bench = PieceCache::new(line, bulk);
    for slot in &timeline.loads {
        let shaped = &slot.shaped;
        let from = shaped.part("shape").map_or(shaped.proof_from, |p| p.end_h);
        let proof = curve([from, slot.oven_in], |hour| bench.piece_at(shaped, hour))?;
        trace.proofs.push(proof);
    }
    Ok(trace)
}
