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
pub struct Point {
    /// Hour on the plan's clock.
    pub hour: f64,
    /// Dough, °C.
    pub dough_c: f64,
    /// Its place, °C.
    pub room_c: f64,
    /// How far it has come, as a share of the end point of its stage; the window is the same for all.
    pub ripeness: f64,
}

/// The curves of a plan.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Trace {
    /// The preferment, from its mix to its use.
    pub preferment: Vec<Point>,
    /// The dough in bulk, from the mix to the first dividing.
    pub bulk: Vec<Point>,
    /// Each load's proof, from shaping to the oven.
    pub proofs: Vec<Vec<Point>>,
}

/// Hours from `start` to `end`, both included, evenly spaced by about [`STEP_H`].
fn hours(start: f64, end: f64) -> impl Iterator<Item = f64> {
    let span = (end - start).max(0.0);
    // Plans last days: a few thousand steps at the most.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let steps = ((span / STEP_H).ceil() as u32).clamp(1, 10_000);
    (0..=steps).map(move |i| start + span * f64::from(i) / f64::from(steps))
}

/// The curves of a plan that was found.
pub(super) fn trace(line: &DoughProcess<'_>, timeline: &Timeline) -> Result<Trace> {
    let bulked = &timeline.bulk;
    let mut trace = Trace::default();
    if let Some(ripening) = &bulked.preferment {
        let end = line.preferment_end()?;
        for hour in hours(ripening.mixed, ripening.used) {
            let state = line.preferment_at(ripening, hour)?;
            trace.preferment.push(Point {
                hour,
                dough_c: state.temperature_c,
                room_c: line.rooms.preferment.at(hour).as_celsius(),
                ripeness: state.gas / end,
            });
        }
    }
    for hour in hours(bulked.bulk_start(), bulked.bulk_end()) {
        let state = line.bulk_at(bulked, hour)?;
        trace.bulk.push(Point {
            hour,
            dough_c: state.temperature_c,
            room_c: line.bulk_place(bulked, hour).at(hour).as_celsius(),
            ripeness: state.gas / line.doubled(),
        });
    }
    let mut bench = PieceCache::new(line, bulked);
    for slot in &timeline.loads {
        let shaped = slot.shaped.part("shape");
        let from = shaped.map_or(slot.shaped.proof_from, |p| p.end_h);
        let mut proof = Vec::new();
        for hour in hours(from, slot.oven_in) {
            let (ripeness, dough_c, room_c) = bench.piece_at(&slot.shaped, hour)?;
            proof.push(Point {
                hour,
                dough_c,
                room_c,
                ripeness,
            });
        }
        trace.proofs.push(proof);
    }
    Ok(trace)
}
