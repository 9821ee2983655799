//! Who is there, and when: hands-on steps outside the hours of work are said in one line, with the nearest
//! shift of the whole plan that would bring all of them inside.

use super::bake::{Bake, People};
use super::{HandsOn, Plan, Task};

/// Most hours of one task that are told one by one.
const FEW: usize = 3;

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

fn clock(hour: f64) -> String {
    let minutes = (hour * 60.0).round().rem_euclid(1440.0);
    format!("{:02.0}:{:02.0}", (minutes / 60.0).floor(), minutes % 60.0)
}

/// What to say about the hours of work.
pub(super) fn remark(plan: &Plan, bake: &Bake, people: People) -> Option<String> {
    let steps = plan.hands_on();
    let outside: Vec<&HandsOn<'_>> = steps
        .iter()
        .filter(|s| !at_work(people, s.start_h))
        .collect();
    if outside.is_empty() {
        return None;
    }
    // The smallest shift, in steps of five minutes, either way.
    let shift = (1..=144)
        .flat_map(|i| [f64::from(i) / 12.0, -f64::from(i) / 12.0])
        .find(|by| steps.iter().all(|s| at_work(people, s.start_h + by)));
    let way_out = match (shift, plan.loads.first(), &bake.cold) {
        (Some(by), Some(first), _) => format!(
            "With everything {} {} (first load out at {}) all of it falls inside.",
            length(by.abs()),
            if by > 0.0 { "later" } else { "sooner" },
            clock(first.oven_out_h + by)
        ),
        (.., Some(_)) => "No shift of the whole plan brings all steps inside: change the hours in the cold ([cold] hours), bulk or proof temperatures, or ripe_after_h.".into(),
        _ => "No shift of the whole plan brings all steps inside: change ripe_after_h, bulk or proof temperatures, or put a night in the cold ([cold]).".into(),
    };
    Some(format!(
        "{} of {} hands-on steps {} outside the hours of work, {} to {}: {}. {way_out}",
        outside.len(),
        steps.len(),
        if outside.len() == 1 { "falls" } else { "fall" },
        people.from,
        people.until,
        grouped(&outside)
    ))
}

/// The steps in words: each task once, with its hours, or with their number and span.
fn grouped(steps: &[&HandsOn<'_>]) -> String {
    let mut tasks: Vec<Task> = Vec::new();
    for step in steps {
        if !tasks.contains(&step.task) {
            tasks.push(step.task);
        }
    }
    let told = tasks.iter().map(|&task| {
        let of_task: Vec<_> = steps.iter().filter(|s| s.task == task).collect();
        let hours: Vec<String> = of_task.iter().map(|s| clock(s.start_h)).collect();
        match (hours.as_slice(), of_task.as_slice()) {
            ([first, .., last], all) if all.len() > FEW => {
                format!("{} {} times from {first} to {last}", name(task), all.len())
            }
            _ => format!("{} at {}", name(task), hours.join(", ")),
        }
    });
    told.collect::<Vec<_>>().join("; ")
}

fn name(task: Task) -> &'static str {
    match task {
        Task::Preferment => "mixing the preferment",
        Task::Autolyse => "flour and water",
        Task::Mix => "mixing",
        Task::DoughIntoCold => "dough into the cold",
        Task::DoughFromCold => "dough out of the cold",
        Task::Fold => "folding",
        Task::Divide => "dividing",
        Task::Shape => "shaping",
        Task::IntoCold => "loads into the cold",
        Task::FromCold => "loads back from the cold",
        Task::Preheat => "turning on the oven",
        Task::IntoOven => "loads into the oven",
        Task::FromOven => "loads out of the oven",
    }
}

fn length(hours: f64) -> String {
    let minutes = (hours * 60.0).round();
    if minutes < 60.0 {
        format!("{minutes:.0} min")
    } else {
        format!("{:.0} h {:02.0}", (minutes / 60.0).floor(), minutes % 60.0)
    }
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

    #[test]
    fn clock_and_length_read_well() {
        assert_eq!(
            (clock(-0.5), clock(23.9999), clock(9.25)),
            ("23:30".into(), "00:00".into(), "09:15".into())
        );
        assert_eq!(
            (length(0.75), length(1.5)),
            ("45 min".into(), "1 h 30".into())
        );
    }

    #[test]
    fn a_task_of_many_hours_is_told_by_its_first_and_last() {
        let step = |task, start_h: f64| HandsOn {
            task,
            loads: &[],
            start_h,
            end_h: start_h,
        };
        let steps = [
            step(Task::Shape, 1.0),
            step(Task::Divide, 2.0),
            step(Task::Shape, 2.5),
            step(Task::Shape, 3.0),
        ];
        let few: Vec<_> = steps.iter().collect();
        assert_eq!(
            grouped(&few),
            "shaping at 01:00, 02:30, 03:00; dividing at 02:00"
        );
        let last = step(Task::Shape, 26.0);
        let many: Vec<_> = steps.iter().chain([&last]).collect();
        assert_eq!(
            grouped(&many),
            "shaping 4 times from 01:00 to 02:00; dividing at 02:00"
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
