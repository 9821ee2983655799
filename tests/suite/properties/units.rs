//! Readings, differences, masses, percentages and times: as numbers and as text.

use super::{cases, close, is_one_line};
use pointage::Result;
use pointage::units::{ClockTime, Hours, Mass, Percent, Temperature, TemperatureDifference};
use proptest::prelude::*;
use std::str::FromStr;

/// Numbers of every size and sign, and what is no number.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![prop::num::f64::ANY, -600.0..600.0f64, -1e9..1e9f64]
}

/// Text near to what is understood, and any other.
fn any_text() -> impl Strategy<Value = String> {
    let near = "[ ]?[-+]?[0-9]{0,4}[.,:]?[0-9]{0,3} ?(C|c|°C|F|°F|K|g|kg|lb|oz|%|h|min|s|h30|h5min|:30|)[ ]?";
    prop_oneof![near, "\\PC{0,12}", ".{0,6}"]
}

/// A blank or none before a unit.
fn gap() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec!["", " "])
}

/// What a text is read as; a refusal is one line.
fn read<T: FromStr<Err = pointage::Error>>(
    text: &str,
) -> std::result::Result<Option<T>, TestCaseError> {
    answered(text.parse())
}

fn answered<T>(answer: Result<T>) -> std::result::Result<Option<T>, TestCaseError> {
    if let Err(e) = &answer {
        prop_assert!(is_one_line(e), "{e:?}");
    }
    Ok(answer.ok())
}

proptest! {
    #![proptest_config(cases(256))]

    /// A reading of either scale comes back, as a number and from its text. 1e-12: three roundings of numbers
    /// below 512, half of 1.1e-13 each.
    #[test]
    fn readings_come_back(celsius in -100.0..150.0f64, f in -147.9..301.9f64, gap in gap()) {
        let t = Temperature::celsius(celsius).unwrap();
        prop_assert_eq!(t.as_celsius(), celsius);
        for unit in ["", "C", "c", "°C"] {
            prop_assert_eq!(format!(" {celsius}{gap}{unit} ").parse(), Ok(t));
        }
        let t = Temperature::fahrenheit(f).unwrap();
        prop_assert!((t.as_fahrenheit() - f).abs() < 1e-12);
        for unit in ["F", "f", "°F"] {
            prop_assert_eq!(format!("{f}{gap}{unit}").parse(), Ok(t));
        }
    }

    /// The scale is the straight line through its two fixed points, 32 °F for 0 °C and 212 °F for 100 °C: the
    /// line written as a mean of the two. A step of it is a difference.
    #[test]
    fn fahrenheit_is_the_line_through_its_fixed_points(a in -148.0..302.0f64, b in -148.0..302.0f64) {
        let at = |f: f64| Temperature::fahrenheit(f.clamp(-147.9, 301.9)).unwrap();
        let (a, b) = (a.clamp(-147.9, 301.9), b.clamp(-147.9, 301.9));
        let (low, high) = (212.0 - a, a - 32.0);
        prop_assert!((at(a).as_celsius() - (0.0 * low + 100.0 * high) / 180.0).abs() < 1e-12);
        let step = TemperatureDifference::fahrenheit(a - b).unwrap();
        prop_assert!(((at(a) - at(b)).as_kelvin() - step.as_kelvin()).abs() < 1e-12);
        prop_assert_eq!(at(a) < at(b), a < b);
    }

    /// A difference comes back from either unit, and has no offset: it goes with its sign and with a factor.
    #[test]
    fn differences_come_back(kelvin in -250.0..250.0f64, f in -449.9..449.9f64, gap in gap()) {
        let d = TemperatureDifference::kelvin(kelvin).unwrap();
        prop_assert_eq!(d.as_kelvin(), kelvin);
        for unit in ["", "K", "k", "C", "°C"] {
            prop_assert_eq!(format!("{kelvin}{gap}{unit}").parse(), Ok(d));
        }
        let d = TemperatureDifference::fahrenheit(f).unwrap();
        prop_assert!(close(d.as_fahrenheit(), f, 1e-15));
        prop_assert_eq!(format!("{f}{gap}F").parse(), Ok(d));
        let opposite = TemperatureDifference::fahrenheit(-f).unwrap();
        prop_assert_eq!(opposite.as_kelvin(), -d.as_kelvin());
        let half = TemperatureDifference::fahrenheit(f / 2.0).unwrap();
        prop_assert_eq!(half.as_kelvin(), d.as_kelvin() / 2.0);
    }

    /// A mass comes back in g and kg and from its text. The pound is 0.45359237 kg by its definition of 1959, and
    /// has 16 ounces. 1e-15: a rounding or two.
    #[test]
    fn masses_come_back(grams in 0.0..1e8f64, pounds in 0.0..2e5f64, gap in gap()) {
        let m = Mass::grams(grams).unwrap();
        prop_assert_eq!(m.as_grams(), grams);
        prop_assert!(close(Mass::kilograms(m.as_kilograms()).unwrap().as_grams(), grams, 1e-15));
        for unit in ["", "g"] {
            prop_assert_eq!(format!("{grams}{gap}{unit}").parse(), Ok(m));
        }
        let kg: Mass = format!("{}{gap}kg", m.as_kilograms()).parse().unwrap();
        prop_assert!(close(kg.as_grams(), grams, 1e-15));
        let lb: Mass = format!("{pounds}{gap}lb").parse().unwrap();
        prop_assert!(close(lb.as_kilograms(), 0.453_592_37 * pounds, 1e-15));
        let oz: Mass = format!("{}{gap}oz", 16.0 * pounds).parse().unwrap();
        prop_assert!(close(oz.as_grams(), lb.as_grams(), 1e-15));
    }

    #[test]
    fn percentages_come_back(percent in 0.0..1000.0f64, gap in gap()) {
        let p = Percent::new(percent).unwrap();
        prop_assert_eq!(p.as_percent(), percent);
        // One rounding of the division, one of the product.
        prop_assert!(close(100.0 * p.as_fraction(), percent, 1e-15));
        for unit in ["", "%"] {
            prop_assert_eq!(format!("{percent}{gap}{unit}").parse(), Ok(p));
        }
    }

    /// Any number makes a quantity exactly where it is finite and in the range of the type.
    #[test]
    fn numbers_out_of_range_are_refused(x in any_number()) {
        let within = |low: f64, high: f64| x >= low && x <= high;
        let kept = |answer: Result<f64>, allowed: bool| {
            prop_assert_eq!(answer.is_ok(), allowed, "{}: {:?}", x, answer);
            answered(answer).map(|_| ())
        };
        kept(Temperature::celsius(x).map(Temperature::as_celsius), within(-100.0, 150.0))?;
        kept(TemperatureDifference::kelvin(x).map(TemperatureDifference::as_kelvin), within(-250.0, 250.0))?;
        kept(Mass::grams(x).map(Mass::as_grams), within(0.0, 1e8))?;
        kept(Percent::new(x).map(Percent::as_percent), within(0.0, 1000.0))?;
        kept(Hours::new(x).map(Hours::as_hours), within(0.0, 504.0))?;
        // Where the limit itself is converted, its last digit may fall to either side.
        prop_assume!(![-148.0f64, 302.0, -450.0, 450.0, 1e5].iter().any(|end| close(x, *end, 1e-12)));
        kept(Temperature::fahrenheit(x).map(Temperature::as_celsius), within(-148.0, 302.0))?;
        kept(TemperatureDifference::fahrenheit(x).map(TemperatureDifference::as_kelvin), within(-450.0, 450.0))?;
        kept(Mass::kilograms(x).map(Mass::as_kilograms), within(0.0, 1e5))?;
    }

    /// A time of day prints as it is read, the hour with or without its zero, and later is more.
    #[test]
    fn times_of_day_come_back(hour in 0..30_u16, minute in 0..70_u16, other in 0..1440_u16) {
        let clock = ClockTime::new(hour, minute);
        prop_assert_eq!(clock.is_ok(), hour < 24 && minute < 60);
        let text = format!("{hour}:{minute:02}");
        prop_assert_eq!(read::<ClockTime>(&text)?, clock.clone().ok());
        if let Ok(clock) = clock {
            prop_assert_eq!(clock.to_string(), format!("{hour:02}:{minute:02}"));
            prop_assert_eq!(clock.to_string().parse(), Ok(clock));
            prop_assert_eq!(clock.as_minutes(), 60 * hour + minute);
            prop_assert!((60.0 * clock.as_hours() - f64::from(clock.as_minutes())).abs() < 1e-9);
            let other = ClockTime::new(other / 60, other % 60).unwrap();
            prop_assert_eq!(clock < other, clock.as_minutes() < other.as_minutes());
        }
    }

    /// A length of time comes back, and is the same
    /// in hours, minutes and seconds (a rounding of 504 h is 6e-14 h).
    #[test]
    fn lengths_of_time_come_back(h in 0.0..504.0f64, more in 0.0..504.0f64, gap in gap()) {
        let time = Hours::new(h).unwrap();
        prop_assert!((time.as_hours() - h).abs() < 1e-12);
        for (value, unit) in [(h, "h"), (60.0 * h, "min"), (3600.0 * h, "s")] {
            let read = format!("{value}{gap}{unit}").parse::<Hours>();
            // The last digit of 504 h in minutes may be past the limit.
            prop_assume!(h < 503.999_999);
            prop_assert!((read.unwrap().as_hours() - h).abs() < 1e-12, "{}{}", value, unit);
        }
        prop_assert_eq!(Hours::new(h.min(more)).unwrap() <= Hours::new(h.max(more)).unwrap(), true);
    }

    /// Hours and minutes together are what they say; 60 minutes are refused.
    #[test]
    fn hours_with_minutes_are_read(whole in 0..504_u32, minutes in 0..70_u32, tail in prop::sample::select(vec!["", "min", " min"])) {
        let read = answered(format!("{whole}h{minutes:02}{tail}").parse::<Hours>())?;
        prop_assert_eq!(read.is_some(), minutes < 60);
        if let Some(time) = read {
            let expected = f64::from(60 * whole + minutes);
            // 30 000 minutes with a few roundings.
            prop_assert!((60.0 * time.as_hours() - expected).abs() < 1e-9);
        }
    }
}

proptest! {
    #![proptest_config(cases(1024))]

    /// Whatever the text is, it is read as something in range that prints and reads back, or refused in a line that
    /// names the kind of quantity.
    #[test]
    fn any_text_is_read_or_refused(text in any_text()) {
        if let Some(t) = read::<Temperature>(&text)? {
            prop_assert!((-100.0..=150.0).contains(&t.as_celsius()));
            prop_assert_eq!(t.as_celsius().to_string().parse(), Ok(t));
        }
        if let Some(d) = read::<TemperatureDifference>(&text)? {
            prop_assert!(d.as_kelvin().abs() <= 250.0);
            prop_assert_eq!(d.as_kelvin().to_string().parse(), Ok(d));
        }
        if let Some(m) = read::<Mass>(&text)? {
            prop_assert!((0.0..=1e8).contains(&m.as_grams()));
            prop_assert_eq!(format!("{}g", m.as_grams()).parse(), Ok(m));
        }
        if let Some(p) = read::<Percent>(&text)? {
            prop_assert!((0.0..=1000.0).contains(&p.as_percent()));
            prop_assert_eq!(format!("{}%", p.as_percent()).parse(), Ok(p));
        }
        if let Some(clock) = read::<ClockTime>(&text)? {
            prop_assert_eq!(clock.to_string().parse(), Ok(clock));
        }
        if let Some(time) = answered(text.parse::<Hours>())? {
            prop_assert!((0.0..=504.0).contains(&time.as_hours()));
        }
        // A number without its unit is no length of time, and nothing without a digit is any quantity.
        if !text.chars().any(|c| c.is_ascii_digit()) {
            prop_assert!(text.parse::<Temperature>().is_err() && text.parse::<Mass>().is_err());
            prop_assert!(text.parse::<Percent>().is_err() && text.parse::<Hours>().is_err());
        }
        if !text.contains(['h', 'n', 's']) {
            prop_assert!(text.parse::<Hours>().is_err());
        }
    }
}
