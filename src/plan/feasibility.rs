//! When a plan cannot be: which load does not fit, and the nearest plan that can.

use super::bake::{Bake, HoldLaterLoads};
use super::environment::Environment;
use super::finding::Finding;
use super::model::{Anchor, Plan};
use super::process::DoughProcess;
use super::{equipment, loads, search};
use crate::error::Result;
use crate::ferment::Parameters;
use crate::table;
use crate::units::{Percent, Temperature};
use serde::{Deserialize, Serialize};

/// What does not fit, and what would.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Problem {
    /// What is wrong: [`Finding::OutsideWindow`], [`Finding::LongRest`] or both.
    pub findings: Vec<Finding>,
    /// The nearest plan that can be met.
    pub nearest: Finding,
}

/// The problem of a plan, if some load is outside its window, or rests too long before it is shaped.
pub(super) fn problem(
    process: &DoughProcess<'_>,
    plan: &Plan,
    places: &Environment,
    anchor: Anchor,
) -> Result<Option<Problem>> {
    let (p, outside) = (process.p, plan.loads.iter().filter(|l| !l.in_window));
    let ripest = outside.clone().map(|l| l.ripeness).reduce(f64::max);
    let outside = ripest.map(|ripeness| Finding::OutsideWindow {
        loads: outside.map(|l| l.number).collect(),
        of: plan.loads.len(),
        ripeness,
        window_open: p.rise_window.open,
        window_close: p.rise_window.close,
    });
    let rest = equipment::long_rest(process, plan);
    let otherwise = match (&outside, &rest) {
        (None, None) => return Ok(None),
        (None, Some(Finding::LongRest { rest_min, .. })) => Finding::LongerRest {
            rest_min: rest_min.ceil(),
        },
        _ => Finding::NoNearPlan,
    };
    let nearest = nearest(process.bake, places, anchor, p)?;
    Ok(Some(Problem {
        findings: outside.into_iter().chain(rest).collect(),
        nearest: nearest.unwrap_or(otherwise),
    }))
}

/// The first change, from the smallest on, with which every load fits.
fn nearest(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
) -> Result<Option<Finding>> {
    // A change that leads to an error is simply no answer.
    let fits = |changed: &Bake| {
        let found = search::timeline(changed, places, anchor, p);
        found.is_ok_and(|(_, timeline)| timeline.fits)
    };
    let retarder = match bake.process.retarder {
        Some(retarder) => retarder,
        None => Temperature::celsius(table::get("bake-file")?.number("fridge_c")?)?,
    };
    use HoldLaterLoads::{DivideLater, Retarder, ShapeLater};
    let ways: [&[_]; 4] = [
        &[ShapeLater],
        &[DivideLater],
        &[Retarder],
        &[DivideLater, Retarder],
    ];
    for ways in ways {
        let mut changed = bake.clone();
        let allowed = &mut changed.process.hold_later_loads;
        // Dividing later and the retarder together are tried where the retarder is new.
        if ways.last().is_some_and(|last| allowed.contains(last)) {
            continue;
        }
        for way in ways {
            if !allowed.contains(way) {
                allowed.push(*way);
            }
        }
        if allowed.contains(&Retarder) {
            changed.process.retarder = Some(retarder);
        }
        if fits(&changed) {
            let retarder_c = retarder.as_celsius();
            return Ok(Some(Finding::HoldLaterLoads {
                shape_later: ways.contains(&ShapeLater),
                divide_later: ways.contains(&DivideLater),
                retarder_c: ways.contains(&Retarder).then_some(retarder_c),
            }));
        }
    }
    // Less yeast at the mix: everything slower, every window wider.
    if let Some(yeast) = bake.formula.yeast.filter(|y| y.as_percent() > 0.0) {
        let given_percent = yeast.as_percent();
        for less in [0.75, 0.5, 0.35, 0.2] {
            let yeast_percent = given_percent * less;
            let mut changed = bake.clone();
            changed.formula.yeast = Some(Percent::new(yeast_percent)?);
            if fits(&changed) {
                return Ok(Some(Finding::LessYeast {
                    yeast_percent,
                    given_percent,
                }));
            }
        }
    }
    // Fewer loads from one dough, and so several doughs. Fewer loads are never harder: halving the span.
    let each = bake.pieces_per_load().max(1);
    let all = loads::count(bake);
    let works = |n: u32| -> Result<bool> { Ok(fits(&bake.with_pieces(Some(n * each), None)?)) };
    if all < 2 || !works(1)? {
        return Ok(None);
    }
    let (mut good, mut bad) = (1, all);
    while bad - good > 1 {
        let middle = good + (bad - good) / 2;
        if works(middle)? {
            good = middle
        } else {
            bad = middle
        }
    }
    Ok(Some(Finding::SeveralDoughs {
        doughs: all.div_ceil(good),
        loads: good,
        pieces: good * each,
        every_min: 60.0 * f64::from(good) * loads::cycle_h(bake),
    }))
}
