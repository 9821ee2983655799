//! Two hours at once: what makes a bake that begins at one of them end at the other.

use super::bake::Bake;
use super::environment::Environment;
use super::feasibility::{MOST_WAYS, Problem};
use super::finding::Finding;
use super::keep_hour::UNSEEN_H;
use super::levers::Lever;
use super::model::{Anchor, Occasion, Plan};
use super::search::{Timeline, timeline};
use crate::error::{Error, Result};
use crate::ferment::Parameters;
use crate::numeric;

/// A bake that meets its hours, or comes as near as it can.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Reconciled {
    /// The bake, with what was changed of it.
    pub bake: Bake,
    /// Its places.
    pub places: Environment,
    /// The hour to plan it for.
    pub anchor: Anchor,
    /// What was changed, and by how much.
    pub changes: Vec<Finding>,
    /// Why both hours are not met, and the nearest that are.
    pub problem: Option<Problem>,
}

impl Reconciled {
    /// A plan of it, which says what was changed and what is not met.
    #[must_use]
    pub fn annotate(&self, mut plan: Plan) -> Plan {
        plan.changes.clone_from(&self.changes);
        let both = self.problem.clone().into_iter().chain(plan.problem.take());
        plan.problem = both.reduce(|mut one, other| {
            one.findings.extend(other.findings);
            one.nearest.extend(other.nearest);
            one.nearest.truncate(MOST_WAYS);
            one
        });
        plan
    }
}

/// A bake with its places, its day, and how much later than wanted the second hour is, h.
struct Tried {
    bake: Bake,
    places: Environment,
    day: Timeline,
    late: f64,
}

/// Finds what makes a bake meet one hour or two, in the order that it allows (`may_change`). With one there is nothing
/// to find.
///
/// # Errors
/// No hour, more than two, or the same twice; whatever planning refuses.
pub fn reconcile(
    bake: &Bake,
    places: &Environment,
    anchors: &[Anchor],
    p: &Parameters,
) -> Result<Reconciled> {
    let (held, wanted) = match *anchors {
        [anchor] => (anchor, None),
        [a, b] if a.occasion() < b.occasion() => (a, Some(b)),
        [a, b] if b.occasion() < a.occasion() => (b, Some(a)),
        _ => {
            return Err(Error::contradiction(
                "one hour can be fixed, or two different ones; keep one or two",
            ));
        }
    };
    let mut done = Reconciled {
        bake: bake.clone(),
        places: places.clone(),
        anchor: held,
        changes: Vec::new(),
        problem: None,
    };
    let Some(wanted) = wanted else {
        return Ok(done);
    };
    // The hours between the first work and the mix are those of the preferment.
    let ripening = held.occasion() == Occasion::Start && bake.preferment.is_some();
    let preferment =
        Some(Lever::Preferment).filter(|_| ripening && bake.may_change().contains(&Lever::Yeast));
    let levers: Vec<Lever> = (preferment.iter().chain(bake.may_change()).copied()).collect();
    let given = (bake.clone(), places.clone());
    let (mut now, changes) = stacked(given.clone(), [held, wanted], &levers, p, false)?;
    done.changes = changes;
    if now.late.abs() >= UNSEEN_H {
        let (nearer, changes) = stacked(given, [held, wanted], &levers, p, true)?;
        if nearer.late.abs() < now.late.abs() {
            (now, done.changes) = (nearer, changes);
        }
    }
    if now.late.abs() >= UNSEEN_H {
        let (held, missed) = (held.occasion(), wanted.occasion());
        let reached_h = wanted.hour() + now.late;
        let other = timeline(&now.bake, &now.places, wanted, p, true);
        let held_h = other.and_then(|(_, day)| day.hour_of(held, &now.bake));
        done.problem = Some(Problem {
            findings: vec![Finding::CannotMeet {
                held,
                held_h: done.anchor.hour(),
                missed,
                wanted_h: wanted.hour(),
                reached_h,
            }],
            nearest: vec![Finding::NearestHours {
                held,
                held_h: held_h.ok(),
                missed,
                missed_h: reached_h,
            }],
        });
    }
    (done.bake, done.places) = (now.bake, now.places);
    Ok(done)
}

/// Levers set one after the other, each to its end or to where the second hour is met. One that the day's jumps (loads
/// that come in or do not) keep from meeting it is set as near as it goes only where that is wanted, `partly`.
fn stacked(
    given: (Bake, Environment),
    [held, wanted]: [Anchor; 2],
    levers: &[Lever],
    p: &Parameters,
    partly: bool,
) -> Result<(Tried, Vec<Finding>)> {
    let attempt = |(bake, places): (Bake, Environment)| -> Result<Tried> {
        let (_, day) = timeline(&bake, &places, held, p, true)?;
        let late = day.hour_of(wanted.occasion(), &bake)? - wanted.hour();
        Ok(Tried {
            bake,
            places,
            day,
            late,
        })
    };
    let (mut now, mut changes) = (attempt(given)?, Vec::new());
    for lever in levers {
        if now.late.abs() < UNSEEN_H {
            break;
        }
        let Some(reach) = lever.reach(&now.bake, &now.places, &now.day)? else {
            continue;
        };
        let set = |value: f64| attempt(lever.set(&now.bake, &now.places, value)?);
        let end = if now.late > 0.0 {
            reach.fast
        } else {
            reach.slow
        };
        // A lever that leads to an error is no lever, and none goes so far that a load does not fit any more.
        let quarters = (1..=4)
            .rev()
            .map(|n| reach.now + (end - reach.now) * f64::from(n) / 4.0);
        let mut tried = quarters.filter_map(|value| Some((value, set(value).ok()?)));
        let fits = |next: &Tried| next.day.fits || !now.day.fits;
        let Some((end, mut next)) = tried.find(|(_, next)| fits(next)) else {
            continue;
        };
        if next.late * now.late <= 0.0 {
            let late = |value| Ok::<_, Error>(set(value)?.late);
            if let Ok(Some(value)) = numeric::try_root(late, reach.now, end) {
                next = set(value)?;
            }
            if !fits(&next) || !(partly || next.late.abs() < UNSEEN_H) {
                continue;
            }
        }
        if next.late.abs() < now.late.abs() {
            changes.push(lever.finding(&now.bake, &next.bake, &next.day)?);
            now = next;
        }
    }
    Ok((now, changes))
}
