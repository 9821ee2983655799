//! The course of a room: as it is written, later, and warmer.

use super::{c, cases};
use pointage::ambient::Ambient;
use pointage::units::TemperatureDifference;
use proptest::prelude::*;

/// Hours in steps of a sixty-fourth: sums and differences of them have no rounding.
fn exact_h(from: i32, to: i32) -> impl Strategy<Value = f64> {
    (64 * from..64 * to).prop_map(|n| f64::from(n) / 64.0)
}

/// Knots with rising hours, in sixty-fourths.
fn knots() -> impl Strategy<Value = Vec<(f64, f64)>> {
    let step = (
        exact_h(-40, 40),
        prop::collection::vec((exact_h(0, 9), -40.0..60.0f64), 1..12),
    );
    step.prop_map(|(start, steps)| {
        let mut at = start;
        let knot = |(step, t): (f64, f64)| {
            at += step + 1.0 / 64.0;
            (at, t)
        };
        steps.into_iter().map(knot).collect()
    })
}

/// A room of any shape.
fn room() -> impl Strategy<Value = Ambient> {
    let daily = (0.0..35.0f64, 0.0..20.0f64, 1.0..48.0f64, exact_h(0, 24));
    prop_oneof![
        knots().prop_map(|k| Ambient::steps(&k).unwrap()),
        knots().prop_map(|k| Ambient::ramps(&k).unwrap()),
        daily.prop_map(|(mean, swing, period, warmest)| {
            let swing = TemperatureDifference::kelvin(swing).unwrap();
            Ambient::daily(c(mean), swing, period, warmest).unwrap()
        }),
    ]
}

proptest! {
    #![proptest_config(cases(256))]

    /// A course that is printed as a record reads back the same, to the last digit, whatever the order of its
    /// columns, its blanks, its line ends, and whatever else stands there.
    #[test]
    fn a_printed_course_is_read_back(knots in knots(), form in 0..4_usize) {
        // A hotter record is asked whether it is one in °F.
        prop_assume!(knots.iter().map(|k| k.1).sum::<f64>() / knots.len() as f64 <= 45.0);
        let mut text = String::from(["hours,temperature_c\n", "temperature_c,hours\n", " hours , note,temperature_c\r\n", "# a night\nhours,temperature_c\n"][form]);
        for (h, t) in &knots {
            text += &match form {
                1 => format!("{t},{h}\n"),
                2 => format!("{h},\"door open, so\", {t} \r\n"),
                _ => format!("{h},{t}\n"),
            };
        }
        let read = Ambient::from_csv(&text).unwrap();
        prop_assert_eq!(&read, &Ambient::ramps(&knots).unwrap());
        let again: Vec<(f64, f64)> = read.knots().unwrap().iter().map(|k| (k[0], k[1])).collect();
        prop_assert_eq!(again, knots);
    }

    /// Rows out of their order are refused, with the line.
    #[test]
    fn a_record_that_goes_back_is_refused(
        knots in knots(), at in 0..11_usize, end in prop::sample::select(vec!["\n", "\r\n"]), remarks in 0..3_usize,
    ) {
        prop_assume!(knots.len() > 1);
        let at = at % (knots.len() - 1);
        let mut rows: Vec<String> = knots.iter().map(|(h, t)| format!("{h},{t}")).collect();
        rows.swap(at, at + 1);
        let remarks = format!("# a remark{end}{end}").repeat(remarks);
        // The remarks stand before the row at fault, as they may.
        rows[at + 1] = format!("{remarks}{}", rows[at + 1]);
        let error = Ambient::from_csv(&format!("hours,temperature_c{end}{}{end}", rows.join(end))).unwrap_err();
        // The header is line 1; the second of the two is the one that goes back.
        let place = format!("line {}, column hours", at + 3 + remarks.matches('\n').count());
        prop_assert!(error.to_string().contains(&place), "{}", error);
    }

    /// Any text is a course or refused in one line.
    #[test]
    fn any_text_is_a_course_or_refused(rows in "([-0-9a-z.,\"# ]{0,9}\n){0,4}", header in 0..3_usize) {
        let text = format!("{}{rows}", ["hours,temperature_c\n", "temperature_c, x,hours\n", ""][header]);
        match Ambient::from_csv(&text) {
            Ok(room) => prop_assert!(room.at(1.0).as_celsius().is_finite() && room.knots().is_some()),
            Err(e) => prop_assert!(super::is_one_line(&e), "{:?}", e),
        }
    }

    /// A course that comes later is the same at the later hour; twice later is later by both; back again is the
    /// same course. The hours are without rounding, so that nothing else may move a digit.
    #[test]
    fn later_is_the_same_later(room in room(), by in exact_h(-90, 90), more in exact_h(-90, 90), at in exact_h(-99, 150)) {
        let later = room.clone().delayed(by);
        prop_assert_eq!(later.at(at + by), room.at(at));
        prop_assert_eq!(later.clone().delayed(more), room.clone().delayed(by + more));
        prop_assert_eq!(&later.clone().delayed(-by), &room);
        prop_assert_eq!(later.span_h(), room.span_h().map(|(a, b)| (a + by, b + by)));
    }

    /// Warmer throughout is warmer by the same at every hour. 1e-12: roundings of numbers below 128.
    #[test]
    fn warmer_is_warmer_everywhere(room in room(), by in -30.0..30.0f64, at in -99.0..150.0f64) {
        let warmer = room.clone().warmer(TemperatureDifference::kelvin(by).unwrap());
        let rise = (warmer.at(at) - room.at(at)).as_kelvin();
        prop_assert!((rise - by).abs() < 1e-12, "{} for {}", rise, by);
        prop_assert_eq!(warmer.span_h(), room.span_h());
    }

    /// A room never leaves what it was made of.
    #[test]
    fn a_room_stays_between_its_knots(knots in knots(), at in -99.0..150.0f64) {
        let low = knots.iter().map(|k| k.1).fold(f64::INFINITY, f64::min);
        let high = knots.iter().map(|k| k.1).fold(f64::NEG_INFINITY, f64::max);
        for room in [Ambient::steps(&knots).unwrap(), Ambient::ramps(&knots).unwrap()] {
            let t = room.at(at).as_celsius();
            // A ramp rounds in its last digits.
            prop_assert!(t >= low - 1e-12 && t <= high + 1e-12, "{}", t);
        }
        let first = Ambient::steps(&knots).unwrap().at(knots[0].0 - 1.0);
        prop_assert_eq!(first.as_celsius(), knots[0].1);
    }
}
