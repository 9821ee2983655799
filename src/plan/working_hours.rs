//! Who is there, and when: hands-on steps outside the working hours or at night, and what would bring all of them inside.

use super::assemble::assemble;
use super::bake::People;
use super::environment::Environment;
use super::feasibility::MOST_WAYS;
use super::finding::Finding;
use super::keep_hour::UNSEEN_H;
use super::levers::Lever;
use super::manual_tasks::Task;
use super::model::{Anchor, Detail, Plan};
use super::process::DoughProcess;
use super::search::timeline;
use crate::error::Result;
use crate::table;
use crate::units::ClockTime;
use std::collections::BTreeMap;

/// True when an hour of the plan falls into the hours of work; these may run over midnight.
fn at_work(people: People, hour: f64) -> bool {
    let (from, until) = (people.from.as_hours(), people.until.as_hours());
    let now = hour.rem_euclid(24.0);
    // Half a minute of grace, so that a step at the very hour is inside.
    let inside = |from: f64, until: f64| now >= from - 1.0 / 120.0 && now <= until + 1.0 / 120.0;
    if from < until {
        inside(from, until)
    } else {
        inside(from, 24.0) || inside(0.0, until)
    }
}

/// Hours at which tasks begin outside the hours of work.
fn outside(plan: &Plan, people: People) -> BTreeMap<Task, Vec<f64>> {
    let mut tasks = BTreeMap::<_, Vec<f64>>::new();
    for step in plan.hands_on() {
        if !at_work(people, step.start_h) {
            tasks.entry(step.task).or_default().push(step.start_h);
        }
    }
    tasks
}

/// The steps outside the working hours.
pub(super) fn finding(plan: &Plan, people: People) -> Option<Finding> {
    let tasks = outside(plan, people);
    (!tasks.is_empty()).then(|| Finding::OutsideWorkingHours {
        outside: tasks.values().map(Vec::len).sum(),
        steps: plan.hands_on().len(),
        from_h: people.from.as_hours(),
        until_h: people.until.as_hours(),
        tasks,
    })
}

/// Hands at night where nobody said when someone is there; for a bake that may be planned anew, with the smallest
/// change that frees the night.
pub(super) fn at_night(
    process: &DoughProcess<'_>,
    plan: &Plan,
    anew: Option<(&Environment, Anchor)>,
) -> Result<Option<Finding>> {
    let day = awake()?;
    let tasks = outside(plan, day);
    if tasks.is_empty() {
        return Ok(None);
    }
    let ways = anew.map(|(places, anchor)| ways(process, plan, places, anchor));
    let way = ways.transpose()?.and_then(|ways| ways.into_iter().next());
    Ok(Some(Finding::HandsAtNight {
        outside: tasks.values().map(Vec::len).sum(),
        from_h: day.until.as_hours(),
        until_h: day.from.as_hours(),
        tasks,
        way: way.filter(|way| *way != Finding::NoFreeHours).map(Box::new),
    }))
}

/// When nobody is asleep.
fn awake() -> Result<People> {
    let clock = |name| {
        let hour = table::get("day")?.number(name)?;
        // Whole hours of a table.
        ClockTime::new(hour as u16, 0)
    };
    Ok(People {
        from: clock("night_until_h")?,
        until: clock("night_from_h")?,
    })
}

/// A shift of the whole day that is less trouble than any change, h (by judgement).
const SMALL_SHIFT_H: f64 = 0.5;

/// Steps into which the reach of a lever is cut, each way.
const STEPS: u32 = 8;

/// What brings all hands inside the hours of work, the least trouble first; each by itself, and at most three.
pub(super) fn ways(
    process: &DoughProcess<'_>,
    plan: &Plan,
    places: &Environment,
    anchor: Anchor,
) -> Result<Vec<Finding>> {
    let (bake, p) = (process.bake, process.p);
    let people = bake.people.map_or_else(awake, Ok)?;
    let (_, day) = timeline(bake, places, anchor, p, true)?;
    let now_h = day.bulk.mix.start_h;
    // What does not fit does not fit later either.
    let (little, much) = match shift(plan, people).filter(|_| day.fits) {
        Some((by, way)) if by.abs() <= SMALL_SHIFT_H => (Some(way), None),
        shifted => (None, shifted.map(|(_, way)| way)),
    };
    let mut found = Vec::from_iter(little);
    // A change that leads to an error is simply no answer.
    let works = |lever: Lever, value: f64| -> Result<Option<Finding>> {
        let (set, places) = lever.set(bake, places, value)?;
        let (rooms, day) = timeline(&set, &places, anchor, p, false)?;
        let process = DoughProcess::new(&set, p, &rooms)?;
        let plan = assemble(&process, &day, Detail::default())?;
        // Another preferment must not move the dough: one of a few hours would be begun when the baker comes in.
        let mix_h = day.bulk.mix.start_h;
        let is_kept = lever != Lever::Preferment || (mix_h - now_h).abs() < UNSEEN_H;
        let works = day.fits && is_kept && outside(&plan, people).is_empty();
        works.then(|| lever.finding(bake, &set, &day)).transpose()
    };
    let own = [
        Task::Preferment,
        Task::PrefermentIntoCold,
        Task::PrefermentFromCold,
    ];
    let with_preferment = outside(plan, people).keys().any(|task| own.contains(task));
    let levers: &[Lever] = match bake.people {
        Some(_) => &Lever::ALL,
        None if with_preferment => &[Lever::Preferment, Lever::Retarder],
        None => &[Lever::Retarder],
    };
    for lever in levers {
        let Some(reach) = lever.reach(bake, places, &day)? else {
            continue;
        };
        // From where it is, a step each way; a preferment is rather begun the evening before than at dawn.
        let to = |end: f64, step: u32| {
            reach.now + (end - reach.now) * f64::from(step) / f64::from(STEPS)
        };
        let steps = (1..=STEPS).flat_map(|step| [(reach.slow, step), (reach.fast, step)]);
        let mut steps: Vec<_> = steps.collect();
        if *lever == Lever::Preferment {
            steps.sort_by_key(|(end, _)| *end != reach.slow);
        }
        let values = steps.into_iter().map(|(end, step)| to(end, step));
        let values = values.filter(|value| *value != reach.now);
        let mut tried = values.filter_map(|value| works(*lever, value).ok().flatten());
        found.extend(tried.next());
        if found.len() == MOST_WAYS {
            return Ok(found);
        }
    }
    found.extend(much);
    if found.is_empty() {
        found.push(Finding::NoFreeHours);
    }
    Ok(found)
}

/// The smallest shift of the whole plan that brings all hands inside, in steps of five minutes, either way: hours later,
/// and the way.
fn shift(plan: &Plan, people: People) -> Option<(f64, Finding)> {
    let steps = plan.hands_on();
    let shift_h = (1..=144)
        .flat_map(|i| [f64::from(i) / 12.0, -f64::from(i) / 12.0])
        .find(|by| steps.iter().all(|s| at_work(people, s.start_h + by)))?;
    let first_out_h = plan.loads.first()?.oven_out_h + shift_h;
    Some((
        shift_h,
        Finding::MoveAll {
            shift_h,
            first_out_h,
        },
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::ClockTime;

    fn people(from: (u16, u16), until: (u16, u16)) -> People {
        People {
            from: ClockTime::new(from.0, from.1).unwrap(),
            until: ClockTime::new(until.0, until.1).unwrap(),
        }
    }

    #[test]
    fn hours_of_work_may_run_over_midnight() {
        let day = people((5, 0), (22, 0));
        assert!(
            at_work(day, 5.0)
                && at_work(day, 22.0)
                && at_work(day, -19.0)
                && !at_work(day, 4.9)
                && !at_work(day, 23.0)
        );
        let night = people((22, 0), (6, 0));
        assert!(
            at_work(night, 23.0)
                && at_work(night, 24.5)
                && at_work(night, 6.0)
                && !at_work(night, 7.0)
        );
    }

    /// All day is all day, and half a minute beside the hour is still inside.
    #[test]
    fn the_very_hour_of_work_is_inside() {
        let day = people((5, 0), (22, 0));
        assert!(at_work(day, 5.0 - 0.007) && at_work(day, 22.0 + 0.007));
        assert!(!at_work(day, 5.0 - 0.01) && !at_work(day, 22.0 + 0.01));
        let night = people((22, 0), (6, 0));
        assert!(at_work(night, 22.0 - 0.007) && at_work(night, 6.0 + 0.007));
        assert!(!at_work(night, 22.0 - 0.01) && !at_work(night, 6.0 + 0.01));
        let around = people((6, 0), (6, 0));
        assert!((0..24).all(|h| at_work(around, f64::from(h))));
    }
}
