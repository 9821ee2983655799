//! Who is there, and when: hands-on steps outside the hours of work are said, with the nearest shift of
//! the whole plan that would bring all of them inside.

use super::Plan;
use super::bake::People;

/// A step that needs hands.
struct Step {
    what: String,
    hour: f64,
}

fn steps(plan: &Plan) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut add = |what: String, hour: f64| steps.push(Step { what, hour });
    for stage in &plan.stages {
        let what = match stage.name {
            "preferment" => "mixing the preferment",
            "autolyse" => "flour and water",
            "mix" => "mixing",
            "divide" => "dividing",
            "shape" => "shaping",
            _ => continue,
        };
        add(what.into(), stage.start_h);
    }
    for &hour in &plan.folds_h {
        add("folding".into(), hour);
    }
    for load in &plan.loads {
        add(
            format!("load {} into the oven", load.number),
            load.oven_in_h,
        );
        add(format!("load {} out of it", load.number), load.oven_out_h);
    }
    steps
}

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
pub(super) fn remarks(plan: &Plan, people: People) -> Vec<String> {
    let steps = steps(plan);
    let outside: Vec<&Step> = steps.iter().filter(|s| !at_work(people, s.hour)).collect();
    if outside.is_empty() {
        return Vec::new();
    }
    let mut remarks: Vec<String> = outside
        .iter()
        .map(|s| {
            format!(
                "{}{} at {} falls outside the hours of work, {} to {}.",
                s.what[..1].to_uppercase(),
                &s.what[1..],
                clock(s.hour),
                people.from,
                people.until
            )
        })
        .collect();
    // The smallest shift, in steps of five minutes, either way.
    let shift = (1..=144)
        .flat_map(|i| [f64::from(i) / 12.0, -f64::from(i) / 12.0])
        .find(|by| steps.iter().all(|s| at_work(people, s.hour + by)));
    remarks.push(match (shift, plan.loads.first()) {
        (Some(by), Some(first)) => format!(
            "With everything {} {} (first load out at {}) all of it falls inside.",
            length(by.abs()),
            if by > 0.0 { "later" } else { "sooner" },
            clock(first.oven_out_h + by)
        ),
        _ => "No shift of the whole plan brings all steps inside: change ripe_after_h, bulk or proof temperatures, or put a night in the cold ([cold]).".into(),
    });
    remarks
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
}
