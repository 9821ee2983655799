//! Two hours at once: what makes a bake that begins at one of them end at the other.

use super::bake::Bake;
use super::environment::Environment;
use super::feasibility::{MOST_WAYS, Problem};
use super::finding::Finding;
use super::keep_hour::UNSEEN_H;
use super::levers::Lever;
use super::model::{Anchor, Occasion, Plan};
use super::search::{FEW_LOADS, Timeline, timeline};
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
    if bake.mix_batches()?.len() > 1 {
        let error = Error::contradiction(
            "two hours at once are not found for a dough that the mixer takes in several batches; give one of them",
        );
        return Err(error.at("[kitchen] mixer_kg"));
    }
    // The hours between the first work and the mix are those of the preferment.
    let ripening = held.occasion() == Occasion::Start && bake.preferment.is_some();
    let preferment =
        Some(Lever::Preferment).filter(|_| ripening && bake.may_change().contains(&Lever::Yeast));
    let levers: Vec<Lever> = (preferment.iter().chain(bake.may_change()).copied()).collect();
    let given = (bake.clone(), places.clone());
    let both = [held, wanted];
    let (mut now, changes) = stacked(given.clone(), both, &levers, p, false)?;
    done.changes = changes;
    if now.late.abs() >= UNSEEN_H {
        if let Some((met, changes)) = on_grid(given.clone(), both, &levers, p)? {
            (now, done.changes) = (met, changes);
        } else {
            let (nearer, changes) = stacked(given, both, &levers, p, true)?;
            if nearer.late.abs() < now.late.abs() {
                (now, done.changes) = (nearer, changes);
            }
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

/// A bake begun at one hour, against the other.
fn attempt(
    (bake, places): (Bake, Environment),
    [held, wanted]: [Anchor; 2],
    p: &Parameters,
) -> Result<Tried> {
    let (_, day) = timeline(&bake, &places, held, p, true)?;
    let late = day.hour_of(wanted.occasion(), &bake)? - wanted.hour();
    Ok(Tried {
        bake,
        places,
        day,
        late,
    })
}

/// Parts into which the way of a lever is cut where levers set one after the other do not meet both hours.
const PARTS: u32 = 8;

/// One lever by itself, or two, between whose settings the second hour is met, all loads in their windows.
fn on_grid(
    given: (Bake, Environment),
    both: [Anchor; 2],
    levers: &[Lever],
    p: &Parameters,
) -> Result<Option<(Tried, Vec<Finding>)>> {
    let plain = attempt(given, both, p)?;
    if plain.day.loads.len() > FEW_LOADS {
        return Ok(None);
    }
    // A lever that leads to an error is no lever.
    let set = |from: &Tried, lever: Lever, value: f64| -> Option<Tried> {
        let set = lever.set(&from.bake, &from.places, value).ok()?;
        attempt(set, both, p).ok().filter(|tried| tried.day.fits)
    };
    let along = |from: &Tried, lever: Lever| -> Result<Option<Tried>> {
        let Some(reach) = lever.reach(&from.bake, &from.places, &from.day)? else {
            return Ok(None);
        };
        let mut before: Option<(f64, f64)> = None;
        for value in reach.parts(PARTS) {
            let Some(tried) = set(from, lever, value) else {
                before = None;
                continue;
            };
            if let Some((last, _)) = before.filter(|(_, late)| late * tried.late <= 0.0) {
                let late = |value| set(from, lever, value).map_or(f64::NAN, |tried| tried.late);
                let met = numeric::root(late, last, value);
                let met = met.and_then(|value| set(from, lever, value));
                if let Some(met) = met.filter(|met| met.late.abs() < UNSEEN_H) {
                    return Ok(Some(met));
                }
            }
            before = Some((value, tried.late));
        }
        Ok(None)
    };
    for &lever in levers {
        if let Some(met) = along(&plain, lever)? {
            let change = lever.finding(&plain.bake, &met.bake, &met.day)?;
            return Ok(Some((met, vec![change])));
        }
    }
    for &one in levers {
        let Some(reach) = one.reach(&plain.bake, &plain.places, &plain.day)? else {
            continue;
        };
        for first in reach
            .parts(PARTS)
            .filter_map(|value| set(&plain, one, value))
        {
            for &other in levers.iter().filter(|other| **other != one) {
                if let Some(met) = along(&first, other)? {
                    let changes = [
                        one.finding(&plain.bake, &first.bake, &first.day)?,
                        other.finding(&first.bake, &met.bake, &met.day)?,
                    ];
                    return Ok(Some((met, changes.into())));
                }
            }
        }
    }
    Ok(None)
}

/// Levers set one after the other, each to its end or to where the second hour is met. One that the day's jumps (loads
/// that come in or do not) keep from meeting it is set as near as it goes only where that is wanted, `partly`.
fn stacked(
    given: (Bake, Environment),
    both: [Anchor; 2],
    levers: &[Lever],
    p: &Parameters,
    partly: bool,
) -> Result<(Tried, Vec<Finding>)> {
    let (mut now, mut changes) = (attempt(given, both, p)?, Vec::new());
    for lever in levers {
        if now.late.abs() < UNSEEN_H {
            break;
        }
        let Some(reach) = lever.reach(&now.bake, &now.places, &now.day)? else {
            continue;
        };
        let set = |value: f64| attempt(lever.set(&now.bake, &now.places, value)?, both, p);
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
        type Settings = Vec<(Bake, Environment)>;
        let settings = |lever: Lever, bake: &Bake, places: &Environment| -> Settings {
            let day = late(bake, places).map(|(.., day)| day);
            let reach = day.and_then(|day| lever.reach(bake, places, &day).ok().flatten());
            let values = reach.into_iter().flat_map(|reach| reach.parts(STEPS));
            let set = values.map(|value| lever.set(bake, places, value));
            set.filter_map(Result::ok).collect()
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
            let along = settings(one, bake, places);
            let others = levers.iter().filter(|other| **other != one);
            let mut both = others.flat_map(|&other| {
                let settings = &settings;
                along
                    .iter()
                    .map(move |(bake, places)| settings(other, bake, places))
            });
            crosses(&along) || both.any(|along| crosses(&along))
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
