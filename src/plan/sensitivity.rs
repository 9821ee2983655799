//! Why a time is what it is: how far it moves with each of the things that a baker can change or that
//! change by themselves.

use super::environment::Rooms;
use super::process::{BulkResult, DoughProcess, Known};
use crate::error::Result;
use crate::ferment::Parameters;
use crate::units::Temperature;

/// A time and what moves it most.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Reason {
    /// `preferment`, `bulk` or `proof`: the end of that stage.
    pub stage: &'static str,
    /// The three causes that matter most, the strongest first.
    pub causes: Vec<Cause>,
}

/// A change and what it does to a time.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Cause {
    /// The change, such as `1 K warmer dough`.
    pub change: &'static str,
    /// Minutes by which the stage becomes longer; negative is shorter.
    pub minutes: f64,
}

/// A change, and the lengths of the stages with it.
struct Change {
    name: &'static str,
    dough_k: f64,
    room_k: f64,
    yeast_at_mix: f64,
    yeast_ahead: f64,
}

impl Change {
    const NONE: Self = Self {
        name: "",
        dough_k: 0.0,
        room_k: 0.0,
        yeast_at_mix: 1.0,
        yeast_ahead: 1.0,
    };
}

const CHANGES: [Change; 4] = [
    Change {
        name: "1 K warmer dough off the mixer",
        dough_k: 1.0,
        ..Change::NONE
    },
    Change {
        name: "1 K warmer room",
        room_k: 1.0,
        ..Change::NONE
    },
    Change {
        name: "10 % more yeast at the mix",
        yeast_at_mix: 1.1,
        ..Change::NONE
    },
    Change {
        name: "10 % more yeast in the preferment",
        yeast_ahead: 1.1,
        ..Change::NONE
    },
];

/// Hours of the preferment, of the bulk and of the proof with a change.
fn lengths(
    line: &DoughProcess<'_>,
    rooms: &Rooms,
    p: &Parameters,
    bulked: &BulkResult,
    share: f64,
    change: &Change,
) -> Result<[Option<f64>; 3]> {
    let warmer = rooms.warmer(change.room_k)?;
    let line = DoughProcess::new(line.bake, p, &warmer)?;
    let mut ripe_h = None;
    let mut ripening = None;
    if let Some(mut one) = bulked.preferment {
        one.fresh_percent *= change.yeast_ahead;
        ripe_h = Some(line.ripe_hours(p, &one)?);
        ripening = Some(line.preferment_used_at(&one, one.used)?);
    }
    let mixed = Temperature::celsius(bulked.mix_c[1] + change.dough_k)?;
    let known = Known {
        added: Some(bulked.added * change.yeast_at_mix),
        mixed: Some(mixed),
        by_dough: true,
        ..Known::default()
    };
    let new = line.bulk(bulked.mix[0], ripening, known)?;
    let first = super::loads::first(&line, &new, share)?;
    let bulk_h = new.bulk_end() - new.bulk_start();
    Ok([
        ripe_h,
        Some(bulk_h),
        Some(first.oven_in - first.shaped.proof_from),
    ])
}

/// The reasons of a plan's times.
pub(super) fn reasons(
    line: &DoughProcess<'_>,
    rooms: &Rooms,
    p: &Parameters,
    bulked: &BulkResult,
    share: f64,
) -> Result<Vec<Reason>> {
    let plain = lengths(line, rooms, p, bulked, share, &Change::NONE)?;
    let mut reasons: Vec<Reason> = ["preferment", "bulk", "proof"]
        .map(|stage| Reason {
            stage,
            causes: Vec::new(),
        })
        .into();
    for change in CHANGES {
        // A change that this plan cannot have, such as a dough done in the cold, is no cause of its times.
        let changed = match lengths(line, rooms, p, bulked, share, &change) {
            Err(e) if e.is_unreachable() => continue,
            changed => changed?,
        };
        for ((reason, a), b) in reasons.iter_mut().zip(plain).zip(changed) {
            if let (Some(a), Some(b)) = (a, b) {
                let minutes = 60.0 * (b - a);
                if minutes.abs() >= 0.05 {
                    reason.causes.push(Cause {
                        change: change.name,
                        minutes,
                    });
                }
            }
        }
    }
    for reason in &mut reasons {
        reason
            .causes
            .sort_by(|a, b| b.minutes.abs().total_cmp(&a.minutes.abs()));
        reason.causes.truncate(3);
    }
    reasons.retain(|r| !r.causes.is_empty());
    Ok(reasons)
}
