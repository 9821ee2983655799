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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Values of a lever between which a search looks for the second hour.
    const STEPS: u32 = 12;

    /// Whether two hours are met somewhere on a grid of one lever, or of two: between two neighbours that fit, one too
    /// early and one too late.
    fn met_on_grid(
        bake: &Bake,
        places: &Environment,
        [held, wanted]: [Anchor; 2],
        p: &Parameters,
    ) -> bool {
        let late = |bake: &Bake, places: &Environment| {
            let (_, day) = timeline(bake, places, held, p, true).ok()?;
            let late = day.hour_of(wanted.occasion(), bake).ok()? - wanted.hour();
            Some((late, day.fits, day))
        };
        let Some((.., day)) = late(bake, places) else {
            return false;
        };
        let settings = |lever: Lever| -> Vec<(Bake, Environment)> {
            let Ok(Some(reach)) = lever.reach(bake, places, &day) else {
                return Vec::new();
            };
            let value =
                |n: u32| reach.slow + (reach.fast - reach.slow) * f64::from(n) / f64::from(STEPS);
            (0..=STEPS)
                .filter_map(|n| lever.set(bake, places, value(n)).ok())
                .collect()
        };
        let crosses = |along: &[(Bake, Environment)]| {
            let tried: Vec<_> = along
                .iter()
                .map(|(bake, places)| late(bake, places))
                .collect();
            tried.windows(2).any(|pair| match pair {
                [Some((a, true, _)), Some((b, true, _))] => a * b <= 0.0 && (a - b).abs() < 1.0,
                _ => false,
            })
        };
        let levers = bake.may_change();
        levers.iter().any(|&one| {
            let along = settings(one);
            crosses(&along)
                || levers.iter().filter(|other| **other != one).any(|other| {
                    along.iter().any(|(bake, places)| {
                        let Some((.., day)) = late(bake, places) else {
                            return false;
                        };
                        let Ok(Some(reach)) = other.reach(bake, places, &day) else {
                            return false;
                        };
                        let value = |n: u32| {
                            reach.slow + (reach.fast - reach.slow) * f64::from(n) / f64::from(STEPS)
                        };
                        let both: Vec<_> = (0..=STEPS)
                            .filter_map(|n| other.set(bake, places, value(n)).ok())
                            .collect();
                        crosses(&both)
                    })
                })
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            cases: std::env::var("POINTAGE_CASES").map_or(4, |n| n.parse().unwrap()),
            max_global_rejects: 1_000_000,
            ..ProptestConfig::default()
        })]

        /// Two hours that a search over a grid of levers brings together are brought together.
        #[test]
        fn two_hours_meet_where_a_search_meets_them(
            room in 16.0..28.0_f64,
            yeast in 0.2..1.2_f64,
            loads in 1..3_u32,
            off in -2.0..2.0_f64,
        ) {
            let text = format!(
                "format = 1\nname = \"x\"\n[formula]\npieces = {}\npiece_g = 700\nhydration_percent = 68\n\
                yeast_percent = {yeast}\n[kitchen]\nroom_c = {room}\n[process]\ndough_c = 25\n[oven]\n\
                pieces_per_load = 6\nbake_min = 35\n",
                6 * loads
            );
            let p = Parameters::shipped().unwrap();
            let bake = Bake::from_toml(&text).unwrap();
            let places = bake.places(|_| Err(Error::malformed("no records"))).unwrap();
            let held = Anchor::ComeInAt(8.0);
            let (_, day) = timeline(&bake, &places, held, &p, true).unwrap();
            prop_assume!(day.fits);
            let out = day.hour_of(Occasion::LastOut, &bake).unwrap();
            let both = [held, Anchor::LastOut((out + off).max(9.0))];
            let found = reconcile(&bake, &places, &both, &p).unwrap();
            if found.problem.is_some() {
                prop_assert!(!met_on_grid(&bake, &places, both, &p), "{both:?} {:?}\n{text}", found.changes);
            }
        }
    }
}
