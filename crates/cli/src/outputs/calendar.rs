//! A plan as a calendar (RFC 5545): an event for each step that needs hands, with an alarm. A way to or from the fridge
//! beside another step is part of its event.
//!
//! Times are in UTC, so that no rule of a time zone can be missed by the program that reads them; it shows
//! them in its own zone. Nothing depends on when or where the file is made: the same plan gives the same
//! bytes. An event keeps its name (UID) when the bake is planned anew for the same day, so that reading
//! the new file moves the old events.

use super::PlanView;
use icalendar::{Alarm, Calendar, Component, Event, EventLike, Property, Trigger};
use jiff::tz::TimeZone;
use pointage::table::{FNV_START, fnv1a};
use pointage_api::Sentence;
use pointage_api::steps::Step;
use std::time::Duration;

/// Shown length of a step that is done at once, h.
const TOUCH_H: f64 = 5.0 / 60.0;

/// Writes the calendar; each alarm comes `before` its step.
pub fn calendar(view: PlanView<'_>, before: Duration) -> String {
    // Without control characters, which a line of a calendar cannot hold.
    let name = view.bake.name.replace(char::is_control, " ");
    let mut alarms = view.steps.iter().filter(|s| s.alarm).peekable();
    let mut calendar = Calendar::empty();
    calendar
        .append_property(("VERSION", "2.0"))
        .append_property(("PRODID", "-//pointage//plan//EN"))
        .append_property(("METHOD", "PUBLISH"));
    // Stamped with the plan's own first hour: the time of writing would change the bytes.
    let stamp = (alarms.peek()).map_or(String::new(), |s| utc(view, s.start));
    let first_in = view.plan.loads.first().map_or(0.0, |l| l.oven_in_h);
    let day = view.calendar.at(first_in).date();
    for step in alarms {
        let uid = format!(
            "{day}-{:016x}-{}@pointage",
            fnv1a(FNV_START, &name),
            step.key
        );
        // The step, and what is done on the same walk.
        let joined = view.steps.iter().filter(|s| s.hands && !s.alarm);
        let joined = joined.filter(|s| nearest(view, s) == Some(step));
        let steps: Vec<_> = std::iter::once(step).chain(joined).collect();
        calendar.push(event(view, &steps, &name, &uid, &stamp, before));
    }
    folded(&calendar.to_string())
}

/// With lines of at most 75 bytes, as RFC 5545 (3.1) has it: the writer forgets the blank before a last part of just
/// as many.
fn folded(text: &str) -> String {
    const LONGEST: usize = 75;
    let mut out = String::with_capacity(text.len());
    for line in text.replace("\r\n ", "").split_terminator("\r\n") {
        let mut used = 0;
        for c in line.chars() {
            if used + c.len_utf8() > LONGEST {
                out.push_str("\r\n ");
                used = 1;
            }
            out.push(c);
            used += c.len_utf8();
        }
        out.push_str("\r\n");
    }
    out
}

/// The step with an alarm that is nearest to a move of the fridge.
fn nearest<'a>(view: PlanView<'a>, fridge: &Step<f64>) -> Option<&'a Step<f64>> {
    let off = |s: &Step<f64>| (s.start - fridge.start).abs();
    let alarms = view.steps.iter().filter(|s| s.alarm);
    alarms.min_by(|a, b| off(a).total_cmp(&off(b)))
}

fn event(
    view: PlanView<'_>,
    steps: &[&Step<f64>],
    bake: &str,
    uid: &str,
    stamp: &str,
    before: Duration,
) -> Event {
    let step = steps[0];
    let titles: Vec<String> = steps.iter().map(|s| s.text.to_string()).collect();
    let title = titles.join("; ");
    let minutes = before.as_secs() / 60;
    // The writer would stamp what carries no stamp with the clock, and name what has no name by chance.
    let alarm = Alarm::display(&title, Trigger::before_start(Default::default()))
        .add_property("TRIGGER", format!("-PT{minutes}M"))
        .add_property("UID", format!("alarm-{uid}"))
        .add_property("DTSTAMP", stamp)
        .done();
    let slurry = step.slurry.map(|s| s.sentence().to_string());
    let mut about = vec![bake.to_owned(), view.details(step), view.amounts(step)];
    about.extend(slurry);
    about.extend(steps[1..].iter().map(|s| {
        let (time, details) = (view.calendar.time(s.start), view.details(s));
        format!("{time} {} {details}", s.text).trim_end().to_owned()
    }));
    about.retain(|line| !line.is_empty());
    Event::new()
        .uid(uid)
        .add_property("DTSTAMP", stamp)
        .add_property("DTSTART", utc(view, step.start))
        .add_property("DTEND", utc(view, step.end.max(step.start + TOUCH_H)))
        .append_property(Property::new("TRANSP", "TRANSPARENT"))
        .summary(&title)
        .description(&about.join("\n"))
        .alarm(alarm)
        .done()
}

/// `20261128T032000Z`, to the nearest minute.
fn utc(view: PlanView<'_>, hour: f64) -> String {
    view.calendar
        .at((hour * 60.0).round() / 60.0)
        .with_time_zone(TimeZone::UTC)
        .strftime("%Y%m%dT%H%M%SZ")
        .to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 5545, 3.1: no line is longer than 75 bytes without its end, and lines that begin with a blank go on with
    /// the one before.
    #[test]
    fn lines_are_folded_at_75_bytes() {
        let long = format!("SUMMARY:{}", "p\u{e2}te ".repeat(40));
        let text = format!(
            "BEGIN:VEVENT\r\n{}\r\n {}\r\nEND:VEVENT\r\n",
            &long[..98],
            &long[98..]
        );
        let folded = folded(&text);
        assert!(folded.ends_with("\r\n"));
        assert!(folded.split("\r\n").all(|line| line.len() <= 75));
        assert!(folded.split("\r\n").any(|line| line.len() >= 74));
        assert_eq!(folded.replace("\r\n ", ""), text.replace("\r\n ", ""));
    }

    #[test]
    fn the_short_name_is_fnv1a() {
        // test vectors of the algorithm's authors, isthe.com/chongo/tech/comp/fnv
        for (text, hash) in [
            ("", 0xcbf2_9ce4_8422_2325),
            ("a", 0xaf63_dc4c_8601_ec8c),
            ("foobar", 0x8594_4171_f739_67e8),
        ] {
            assert_eq!(fnv1a(FNV_START, text), hash, "{text}");
        }
    }
}
