//! Who is there, and when: hands-on steps outside the working hours, and the nearest shift of the whole plan that would
//! bring all of them inside.

use super::bake::{Bake, People};
use super::finding::Finding;
use super::model::Plan;
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

/// The steps outside the working hours.
pub(super) fn finding(plan: &Plan, bake: &Bake, people: People) -> Option<Finding> {
    let steps = plan.hands_on();
    let mut tasks = BTreeMap::<_, Vec<f64>>::new();
    for step in steps.iter().filter(|s| !at_work(people, s.start_h)) {
        tasks.entry(step.task).or_default().push(step.start_h);
    }
    if tasks.is_empty() {
        return None;
    }
    // The smallest shift, in steps of five minutes, either way.
    let shift_h = (1..=144)
        .flat_map(|i| [f64::from(i) / 12.0, -f64::from(i) / 12.0])
        .find(|by| steps.iter().all(|s| at_work(people, s.start_h + by)));
    let first_out_h = shift_h.and_then(|by| Some(plan.loads.first()?.oven_out_h + by));
    Some(Finding::OutsideWorkingHours {
        outside: tasks.values().map(Vec::len).sum(),
        steps: steps.len(),
        from_h: people.from.as_hours(),
        until_h: people.until.as_hours(),
        tasks,
        shift_h,
        first_out_h,
        cold: bake.cold.is_some(),
    })
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
