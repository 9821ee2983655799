//! Whether mixer, tub, boards, retarder and hands suffice.

use super::bake::ColdStage;
use super::finding::Finding;
use super::manual_tasks::Task;
use super::model::{Load, Plan};
use super::process::DoughProcess;
use crate::units::as_hours;

/// Hands are not faster than this, s a piece (by judgement).
const FASTEST_S: f64 = 2.0;
/// A proof shorter than this is no proof of its own, h (by judgement).
const SHORT_PROOF_H: f64 = 0.25;

pub(super) fn findings(
    process: &DoughProcess<'_>,
    plan: &Plan,
    needed_l: f64,
    warnings: &mut Vec<Finding>,
) {
    let (bake, kitchen) = (process.bake, &process.bake.kitchen);
    let dough_kg = plan.batch.dough.as_kilograms();
    if let Some(mixer) = kitchen.mixer.filter(|m| m.as_kilograms() < dough_kg) {
        let mixes = (dough_kg / mixer.as_kilograms()).ceil();
        warnings.push(Finding::SmallMixer {
            mixer_kg: mixer.as_kilograms(),
            mixes,
            mix_kg: dough_kg / mixes,
            first_older_min: 60.0 * as_hours(bake.process.mix) * (mixes - 1.0),
        });
    }
    let tub = kitchen.tub_l.filter(|&tub_l| needed_l > tub_l);
    warnings.extend(tub.map(|tub_l| Finding::SmallTub { needed_l, tub_l }));
    of_loads(process, plan, warnings);
    for (task, time, pieces) in [
        (Task::Divide, bake.process.divide, bake.pieces),
        (Task::Shape, bake.process.shape, bake.pieces_per_load()),
    ] {
        let length_min = 60.0 * as_hours(time);
        let piece_s = 60.0 * length_min / f64::from(pieces.max(1));
        if length_min > 0.0 && piece_s < FASTEST_S {
            warnings.push(Finding::FastHands {
                task,
                pieces,
                length_min,
                piece_s,
            });
        }
    }
    let proof_h = |l: &Load| l.oven_in_h - l.shape_h - as_hours(bake.process.shape);
    let proofs = plan.loads.iter().map(proof_h);
    let shortest = proofs.fold(f64::INFINITY, f64::min);
    // What stood in the cold has had its proof there.
    let cold = bake.cold_of(ColdStage::Proof).is_some();
    warnings.extend(match plan.stage("proof") {
        _ if cold || shortest >= SHORT_PROOF_H => None,
        Some(_) => Some(Finding::ShortProof {
            proof_min: 60.0 * shortest.max(0.0),
        }),
        None => Some(Finding::NoProof),
    });
}

/// What is found of all loads together: whether boards and retarder hold them, and whether each is even and rested.
pub(super) fn of_loads(process: &DoughProcess<'_>, plan: &Plan, warnings: &mut Vec<Finding>) {
    let (kitchen, loads) = (&process.bake.kitchen, &plan.loads);
    // On boards from shaping on, but for the time in the cold.
    let on_boards = |l: &Load| {
        let from = l.retarder_h.map_or(l.shape_h, |c| c.1);
        (from, l.oven_in_h, l.pieces)
    };
    let in_cold = |l: &Load| l.retarder_h.map(|(from, to)| (from, to, l.pieces));
    let pieces = most_at_once(loads.iter().map(on_boards));
    let full = kitchen.board_capacity.filter(|&most| most < pieces);
    warnings.extend(full.map(|capacity| Finding::FullBoards { capacity, pieces }));
    let pieces = most_at_once(loads.iter().filter_map(in_cold));
    let full = kitchen.retarder_capacity.filter(|&most| most < pieces);
    warnings.extend(full.map(|capacity| Finding::FullRetarder { capacity, pieces }));
    warnings.extend(long_rest(process, plan));
    warnings.extend(uneven(process, plan));
}

/// True for what [`of_loads`] finds.
pub(super) fn is_of_loads(finding: &Finding) -> bool {
    use Finding::{FullBoards, FullRetarder, LongRest, UnevenLoads};
    matches!(
        finding,
        FullBoards { .. } | FullRetarder { .. } | LongRest { .. } | UnevenLoads { .. }
    )
}

/// Loads that rest longer before they are shaped than they may.
pub(super) fn long_rest(process: &DoughProcess<'_>, plan: &Plan) -> Option<Finding> {
    let work = &process.bake.process;
    let (rest, most) = (as_hours(work.rest), as_hours(work.rest_max));
    let rested = |l: &Load| rest + l.waits_h[1];
    let weary = plan.loads.iter().filter(|l| rested(l) > most + 1e-6);
    let longest = weary.clone().map(rested).reduce(f64::max)?;
    Some(Finding::LongRest {
        loads: weary.map(|l| l.number).collect(),
        of: plan.loads.len(),
        longest_rest_min: 60.0 * longest,
        most_min: 60.0 * most,
    })
}

/// Loads in their window whose first or last piece is not.
fn uneven(process: &DoughProcess<'_>, plan: &Plan) -> Option<Finding> {
    let window = process.p.rise_window;
    // A percent or two are no news (by judgement).
    let inside = |share: f64| (window.open - 0.015..=window.close + 0.015).contains(&share);
    let is_uneven = |l: &&Load| l.in_window && !(inside(l.first_ripeness) && inside(l.ripeness));
    let mut uneven = plan.loads.iter().filter(is_uneven).peekable();
    let load = uneven.peek()?;
    Some(Finding::UnevenLoads {
        first_ripeness: load.first_ripeness,
        last_ripeness: load.ripeness,
        loads: uneven.map(|l| l.number).collect(),
    })
}

/// Most pieces that stand in one place at one time, of spans with their pieces; what leaves makes room for what
/// comes at that hour.
fn most_at_once(spans: impl Iterator<Item = (f64, f64, u32)> + Clone) -> u32 {
    let at = |hour: f64| -> u32 {
        let there = spans.clone().filter(|s| s.0 <= hour && hour < s.1);
        there.map(|s| s.2).sum()
    };
    spans.clone().map(|s| at(s.0)).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::most_at_once;

    /// By hand: each list is drawn as a row of bars, and the highest stack counted.
    #[test]
    fn pieces_that_leave_make_room() {
        for (spans, most) in [
            (&[] as &[(f64, f64, u32)], 0),
            (&[(1.0, 2.0, 8)], 8),
            // One after the other, and a quarter of an hour together.
            (&[(1.0, 2.0, 8), (2.0, 3.0, 6)], 8),
            (&[(1.0, 2.0, 8), (1.75, 3.0, 6)], 14),
            // Three loads, of which the second comes first and stays longest.
            (&[(2.0, 3.0, 5), (1.0, 6.0, 4), (3.0, 5.0, 7)], 11),
            // In at the same hour.
            (&[(1.0, 2.0, 3), (1.0, 4.0, 3), (2.0, 4.0, 2)], 6),
        ] {
            assert_eq!(most_at_once(spans.iter().copied()), most, "{spans:?}");
        }
    }
}
