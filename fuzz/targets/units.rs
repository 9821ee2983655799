//! Temperatures, masses, percentages and times as text.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pointage::units::{
    ClockTime, Hours, Mass, Percent, Temperature, TemperatureDifference,
};
use pointage_fuzz::answered;

fuzz_target!(|text: &str| {
    if let Some(t) = answered(text.parse::<Temperature>()) {
        let back =
            Temperature::fahrenheit(t.as_fahrenheit()).map_or(f64::NAN, Temperature::as_celsius);
        // The very limits may fall outside by the last digit of the conversion.
        assert!(
            (back - t.as_celsius()).abs() < 1e-9
                || t.as_celsius() <= -100.0
                || t.as_celsius() >= 150.0
        );
        let again: Temperature = t
            .as_celsius()
            .to_string()
            .parse()
            .expect("printed numbers are read");
        assert_eq!(again, t);
    }
    if let Some(d) = answered(text.parse::<TemperatureDifference>()) {
        assert!(d.as_kelvin().is_finite());
    }
    if let Some(m) = answered(text.parse::<Mass>()) {
        assert!(m.as_grams() >= 0.0);
    }
    if let Some(p) = answered(text.parse::<Percent>()) {
        assert!((p.as_fraction() * 100.0 - p.as_percent()).abs() <= 1e-9 * p.as_percent().abs());
    }
    if let Some(clock) = answered(text.parse::<ClockTime>()) {
        assert_eq!(clock.to_string().parse::<ClockTime>().ok(), Some(clock));
    }
    if let Some(time) = answered(text.parse::<Hours>()) {
        assert!((0.0..=504.0).contains(&time.as_hours()));
    }
});
