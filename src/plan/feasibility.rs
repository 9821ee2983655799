//! When a plan cannot be: which load does not fit, and the nearest plan that can.

use super::bake::{Bake, ColdStage, ColdStay, HoldLaterLoads};
use super::environment::Environment;
use super::finding::Finding;
use super::levers::Lever;
use super::model::{Anchor, Plan};
use super::process::DoughProcess;
use super::{equipment, loads, search, working_hours};
use crate::error::{Error, Result, shown};
use crate::ferment::Parameters;
use crate::units::{Percent, as_hours};
use serde::{Deserialize, Serialize};
use std::time::Duration;

/// What does not fit, and what would.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Problem {
    /// What is wrong: loads outside their window, a rest too long, hands outside the working hours, or two hours that do
    /// not go together.
    pub findings: Vec<Finding>,
    /// What would mend it, the best first: at most three, each enough by itself.
    pub nearest: Vec<Finding>,
}

/// Most ways that are proposed.
pub(super) const MOST_WAYS: usize = 3;

/// Loads outside their window, or resting too long before they are shaped.
pub(super) fn unfit(process: &DoughProcess<'_>, plan: &Plan) -> [Option<Finding>; 2] {
    let (p, outside) = (process.p, plan.loads.iter().filter(|l| !l.in_window));
    let off = |share: f64| share.ln().abs();
    let farther = |a: f64, b: f64| if off(a) > off(b) { a } else { b };
    let farthest = outside.clone().map(|l| l.ripeness).reduce(farther);
    let outside = farthest.map(|ripeness| Finding::OutsideWindow {
        loads: outside.map(|l| l.number).collect(),
        of: plan.loads.len(),
        ripeness,
        window_open: p.rise_window.open,
        window_close: p.rise_window.close,
    });
    [outside, equipment::long_rest(process, plan)]
}

/// The problem of a plan, if some load does not fit, or hands are needed outside the working hours.
pub(super) fn problem(
    process: &DoughProcess<'_>,
    plan: &Plan,
    anew: Option<(&Environment, Anchor)>,
) -> Result<Option<Problem>> {
    let bake = process.bake;
    let [outside, rest] = unfit(process, plan);
    let hours = (bake.people).and_then(|people| working_hours::finding(plan, people));
    let Some((places, anchor)) = anew else {
        // Of several mix batches none is moved by itself.
        let findings: Vec<_> = outside.into_iter().chain(rest).chain(hours).collect();
        let nearest = Vec::new();
        return Ok((!findings.is_empty()).then_some(Problem { findings, nearest }));
    };
    let otherwise = match (&outside, &rest) {
        (None, None) => {
            let Some(hours) = hours else {
                return Ok(None);
            };
            return Ok(Some(Problem {
                findings: vec![hours],
                nearest: working_hours::ways(process, plan, places, anchor)?,
            }));
        }
        (
            None,
            Some(Finding::LongRest {
                longest_rest_min, ..
            }),
        ) => Finding::LongerRest {
            longest_rest_min: longest_rest_min.ceil(),
        },
        _ => Finding::NoNearPlan,
    };
    let early = matches!(outside, Some(Finding::OutsideWindow { ripeness, .. }) if ripeness < 1.0);
    let mut nearest = nearest(bake, places, anchor, process.p, early)?;
    if nearest.is_empty() {
        nearest.push(otherwise);
    }
    Ok(Some(Problem {
        findings: outside.into_iter().chain(rest).chain(hours).collect(),
        nearest,
    }))
}

/// What makes a bulk last its stay in the cold, where it is done before: less yeast at the mix, straight into the cold,
/// or else the longest stay.
pub(super) fn cold_that_lasts(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
    error: Error,
) -> Error {
    let cold = bake.cold_of(ColdStage::Bulk);
    let (Error::Unreachable { aim, why, .. }, Some(cold)) = (&error, cold) else {
        return error;
    };
    let lasts = |yeast: Option<Percent>, after: Duration, time: Duration| {
        let mut changed = bake.clone();
        changed.formula.yeast = yeast;
        changed.cold = Some(ColdStay {
            after,
            time,
            ..cold.clone()
        });
        search::timeline(&changed, places, anchor, p, true).is_ok()
    };
    let by_clock = |to_end: String| {
        let remedy = format!(
            "add out_min = 30 to divide it that long after its cold, however far it has risen; to its end point, {to_end}"
        );
        Error::unreachable(aim, why, remedy)
    };
    let (yeast, now) = (bake.formula.yeast, [cold.after, Duration::ZERO]);
    let given = yeast.map_or(0.0, Percent::as_percent);
    let less = [0.75, 0.5, 0.35, 0.2, 0.1].map(|less| Percent::new(less * given));
    let less = less.into_iter().flatten().filter(|_| given > 0.0);
    for (less, after) in less.flat_map(|less| now.map(|after| (less, after))) {
        if lasts(Some(less), after, cold.time) {
            let straight = match after.is_zero() && !cold.after.is_zero() {
                true => " and after_min = 0",
                false => "",
            };
            let less = less.as_percent();
            let less = match bake.recipe_g(less) {
                Some(g) => format!("yeast_g = {}", shown((g * 100.0).round() / 100.0)),
                None => format!("yeast_percent = {}", shown((less * 1e3).round() / 1e3)),
            };
            return by_clock(format!("it lasts with {less}{straight}"));
        }
    }
    // Whole half hours, so that what is proposed works.
    let halves = (2.0 * as_hours(cold.time)).floor() as u32;
    let mut longest = (1..halves)
        .rev()
        .map(|n| Duration::from_secs(1800 * u64::from(n)));
    let longest = longest.find(|time| lasts(yeast, cold.after, *time));
    match longest {
        Some(time) => by_clock(format!(
            "hours = {} lasts at most, and no less yeast at the mix is enough",
            shown(as_hours(time))
        )),
        None => error.clone(),
    }
}

/// Changes with which every load fits, from the smallest on; `early` where the loads are not proofed enough.
fn nearest(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
    early: bool,
) -> Result<Vec<Finding>> {
    let mut found = Vec::new();
    // A change that leads to an error is simply no answer.
    let fits = |changed: &Bake| {
        let found = search::timeline(changed, places, anchor, p, false);
        found.is_ok_and(|(_, timeline)| timeline.fits)
    };
    let retarder = bake.coldest_place()?;
    use HoldLaterLoads::{DivideLater, Retarder, ShapeLater};
    let ways: [&[_]; 4] = [
        &[ShapeLater],
        &[Retarder],
        &[DivideLater],
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
            found.push(Finding::HoldLaterLoads {
                shape_later: ways.contains(&ShapeLater),
                divide_later: ways.contains(&DivideLater),
                retarder_c: ways.contains(&Retarder).then_some(retarder_c),
            });
            break;
        }
    }
    if bake.process.hold_later_loads.contains(&ShapeLater) {
        // Pieces may rest half again as long, or twice (by judgement).
        for times in [1.5, 2.0] {
            let mut changed = bake.clone();
            changed.process.rest_max = bake.process.rest_max.mul_f64(times);
            if fits(&changed) {
                let longest_rest_min = 60.0 * as_hours(changed.process.rest_max);
                found.push(Finding::LongerRest { longest_rest_min });
                break;
            }
        }
    }
    // Less yeast at the mix: everything slower, every window wider. More of it where the proof falls short.
    if let Some(yeast) = bake.formula.yeast.filter(|y| y.as_percent() > 0.0) {
        let given_percent = yeast.as_percent();
        let times = match early {
            true => [1.25, 1.5, 2.0, 3.0],
            false => [0.75, 0.5, 0.35, 0.2],
        };
        for times in times {
            let yeast_percent = given_percent * times;
            let mut changed = bake.clone();
            changed.formula.yeast = Some(Percent::new(yeast_percent)?);
            if fits(&changed) {
                found.push(bake.change_yeast(yeast_percent, given_percent));
                break;
            }
        }
    }
    // A colder or warmer place for dough and pieces does the same, to all yeast.
    if let Ok((_, day)) = search::timeline(bake, places, anchor, p, true)
        && let Some(reach) = Lever::WarmPlace.reach(bake, places, &day)?
    {
        let end = if early { reach.fast } else { reach.slow };
        for step in 1..=3 {
            let place_c = reach.now + (end - reach.now) * f64::from(step) / 3.0;
            let (changed, _) = Lever::WarmPlace.set(bake, places, place_c)?;
            if place_c != reach.now && fits(&changed) {
                found.push(Finding::ChangePlace {
                    place_c,
                    from_h: None,
                });
                break;
            }
        }
    }
    if found.len() >= MOST_WAYS {
        found.truncate(MOST_WAYS);
        return Ok(found);
    }
    // Fewer loads from one dough, and so several doughs. Fewer loads are never harder: halving the span.
    let each = bake.pieces_per_load().max(1);
    let all = loads::count(bake);
    let works = |n: u32| -> Result<bool> { Ok(fits(&bake.with_pieces(Some(n * each), None)?)) };
    if all < 2 || !works(1)? {
        return Ok(found);
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
    found.push(Finding::SeveralDoughs {
        doughs: all.div_ceil(good),
        loads: good,
        pieces: good * each,
        every_min: 60.0 * f64::from(good) * loads::cycle_h(bake),
    });
    Ok(found)
}
