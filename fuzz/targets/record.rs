//! A record of a room.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pointage::ambient::Ambient;
use pointage_fuzz::answered;

fuzz_target!(|text: &str| {
    answered(Ambient::from_csv(text));
    let hours_of =
        |stamp: &str| stamp.parse().map(pointage::units::Hours::as_hours);
    let Some(room) = answered(Ambient::from_csv_with(text, hours_of)) else {
        return;
    };
    let knots = room.knots().expect("a record has knots");
    assert!(knots.windows(2).all(|k| k[0][0] < k[1][0]), "{knots:?}");
    for [hours, temperature_c] in knots {
        // A ramp may be so steep that the last digit of the hour counts.
        let there = room.at(*hours).as_celsius();
        assert!(
            (there - temperature_c).abs() < 1e-6,
            "{there} for {temperature_c}"
        );
    }
    let low = knots.iter().map(|k| k[1]).fold(f64::INFINITY, f64::min);
    let high = knots.iter().map(|k| k[1]).fold(f64::NEG_INFINITY, f64::max);
    for at in [-1e6, -1.0, 0.0, 0.3, 7.7, 1e6] {
        let there = room.at(at).as_celsius();
        assert!(
            there >= low - 1e-6 && there <= high + 1e-6,
            "{there} at {at} h"
        );
    }
});
