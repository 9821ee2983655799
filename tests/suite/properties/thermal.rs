//! Hours that count, and the laws that they are counted by.

use super::{c, cases, close, is_one_line};
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::ferment::{equivalent_hours, time_to_equivalent};
use pointage::rate::RateLaw;
use pointage::units::TemperatureDifference;
use proptest::prelude::*;

/// What an integral over panels is good for, h: 1e-8 a panel, some ten panels.
const PANELS_H: f64 = 1e-7;

/// The whole range in which a law may be said to hold.
const EVERYWHERE: [f64; 2] = [-20.0, 60.0];

/// Laws that only rise between 5 and 35 °C, 1 at the reference given with them.
fn rising() -> impl Strategy<Value = (RateLaw, f64)> {
    let q10 = (1.0..6.0f64, 10.0..35.0f64).prop_map(|(q, reference)| {
        let law = RateLaw::q10(q, reference, EVERYWHERE).unwrap();
        (law, reference)
    });
    let arrhenius = (0.0..120.0f64, 10.0..35.0f64).prop_map(|(energy, reference)| {
        let law = RateLaw::arrhenius(energy, reference, EVERYWHERE).unwrap();
        (law, reference)
    });
    // The best temperature of either form is above 35 °C.
    let cardinal = (-10.0..4.0f64, 36.0..40.0f64, 41.0..48.0f64, 10.0..35.0f64).prop_map(
        |(low, best, high, reference)| {
            let law = RateLaw::cardinal(low, best, high, reference).unwrap();
            (law, reference)
        },
    );
    let root = (-15.0..4.0f64, 46.0..60.0f64, 0.4..1.0f64, 10.0..35.0f64).prop_map(
        |(low, high, steep, reference)| {
            let law = RateLaw::square_root(low, high, steep, reference).unwrap();
            (law, reference)
        },
    );
    // 1 at its middle knot, whichever that is.
    let table = (0.01..0.9f64, 12.0..30.0f64, 1.1..5.0f64).prop_map(|(low, middle, high)| {
        let knots = vec![[0.0, low], [middle, 1.0], [45.0, high]];
        (RateLaw::tabulated(knots).unwrap(), middle)
    });
    prop_oneof![q10, arrhenius, cardinal, root, table]
}

/// Rooms between 5 and 35 °C.
fn room() -> impl Strategy<Value = Ambient> {
    let knots = prop::collection::vec((0.2..9.0f64, 5.0..35.0f64), 1..6).prop_map(|steps| {
        let mut at = -3.0;
        let knot = |(step, t)| {
            at += step;
            (at, t)
        };
        steps.into_iter().map(knot).collect::<Vec<(f64, f64)>>()
    });
    prop_oneof![
        knots.clone().prop_map(|k| Ambient::steps(&k).unwrap()),
        knots.prop_map(|k| Ambient::ramps(&k).unwrap()),
        (12.0..28.0f64, 0.0..7.0f64, 2.0..30.0f64).prop_map(|(mean, swing, period)| {
            let swing = TemperatureDifference::kelvin(swing).unwrap();
            Ambient::daily(c(mean), swing, period, 1.0).unwrap()
        }),
    ]
}

/// The time constant of a dough in its room; none where it is as warm as the room.
fn tau() -> impl Strategy<Value = Option<f64>> {
    prop::option::of(0.1..12.0f64)
}

fn course(room: &Ambient, from_h: f64, start_c: f64, tau: Option<f64>) -> TemperatureProfile<'_> {
    match tau {
        Some(tau) => TemperatureProfile::following(room, from_h, c(start_c), tau).unwrap(),
        None => TemperatureProfile::of_room(room, from_h),
    }
}

proptest! {
    #![proptest_config(cases(128))]

    /// At the reference an hour is an hour, and the two questions answer each other. 1e-12: a rate of 1 is right to
    /// a few roundings.
    #[test]
    fn at_the_reference_hours_are_themselves((law, reference) in rising(), h in 0.0..504.0f64) {
        let held = TemperatureProfile::held(c(reference));
        prop_assert!(close(equivalent_hours(&law, &held, h).unwrap(), h, 1e-12));
        let back = time_to_equivalent(&law, &held, h).unwrap();
        // Three weeks is the most that is looked ahead.
        prop_assume!(h < 503.0);
        prop_assert!(close(back.unwrap(), h, 1e-12), "{:?}", back);
    }

    /// The time in which so many hours count, counts for so many; and it is the time itself, for no rate here is 0:
    /// its error is that of the integral over the least rate.
    #[test]
    fn counting_and_waiting_are_inverse(
        (law, _) in rising(), room in room(), start in 5.0..35.0f64, tau in tau(), h in 0.0..60.0f64,
    ) {
        let course = course(&room, 0.0, start, tau);
        let counted = equivalent_hours(&law, &course, h).unwrap();
        prop_assert!(counted.is_finite() && counted >= 0.0);
        let back = time_to_equivalent(&law, &course, counted).unwrap().unwrap();
        prop_assert!((equivalent_hours(&law, &course, back).unwrap() - counted).abs() < PANELS_H);
        let least = law.relative_rate(c(5.0)).unwrap();
        prop_assert!((back - h).abs() < PANELS_H / least, "{} for {}", back, h);
    }

    /// A stage in two parts counts as the whole, wherever it is cut.
    #[test]
    fn a_stage_in_two_parts_counts_as_the_whole(
        (law, _) in rising(), room in room(), start in 5.0..35.0f64, tau in tau(),
        first in 0.0..20.0f64, second in 0.0..20.0f64,
    ) {
        let whole = course(&room, 0.5, start, tau);
        let rest = course(&room, 0.5 + first, whole.at(first), tau);
        let all = equivalent_hours(&law, &whole, first + second).unwrap();
        let parts = equivalent_hours(&law, &whole, first).unwrap() + equivalent_hours(&law, &rest, second).unwrap();
        prop_assert!((all - parts).abs() < PANELS_H, "{} and {}", all, parts);
    }

    /// Longer counts for more; warmer counts for more and is sooner there.
    #[test]
    fn warmer_is_sooner(
        (law, _) in rising(), room in room(), start in 5.0..30.0f64, tau in tau(),
        by in 0.0..5.0f64, h in 0.1..30.0f64,
    ) {
        // Not above 35 °C, where a law may fall again.
        let room = room.warmer(TemperatureDifference::kelvin(-5.0).unwrap());
        let warm = room.clone().warmer(TemperatureDifference::kelvin(by).unwrap());
        prop_assume!(law.relative_rate(c(0.5)).unwrap_or(0.0) > 0.0);
        let (cool, warm) = (course(&room, 0.0, start, tau), course(&warm, 0.0, start + by, tau));
        let counted = equivalent_hours(&law, &cool, h).unwrap();
        prop_assert!(equivalent_hours(&law, &warm, h).unwrap() >= counted - PANELS_H);
        prop_assert!(equivalent_hours(&law, &cool, 1.1 * h).unwrap() > counted - PANELS_H);
        let at = |course: &TemperatureProfile<'_>| time_to_equivalent(&law, course, counted).unwrap();
        let (sooner, later) = (at(&warm).unwrap(), at(&cool).unwrap());
        let least = law.relative_rate(c(0.5)).unwrap();
        prop_assert!(sooner <= later + PANELS_H / least, "{} after {}", sooner, later);
    }

    /// A law is 1 at its reference, never below 0 and never no number, inside its limits or out; outside those
    /// that it has of its own it is 0.
    #[test]
    fn a_law_is_a_rate_everywhere((law, reference) in rising(), t in -100.0..150.0f64) {
        prop_assert!(close(law.relative_rate(c(reference)).unwrap(), 1.0, 1e-14));
        let (low, high) = law.limits_c();
        match law.relative_rate(c(t)) {
            Ok(rate) => {
                prop_assert!(rate.is_finite() && rate >= 0.0, "{}", rate);
                prop_assert!((low..=high).contains(&t) || rate == 0.0);
            }
            Err(e) => prop_assert!(!(low..=high).contains(&t) && is_one_line(&e), "{:?}", e),
        }
    }

    /// The Q10 between two temperatures is the law's own where it has one, does not ask which comes first, and the
    /// ratios of two steps multiply to that of both. 1e-9: at a tenth of a kelvin the power of 100 makes a rounding
    /// of 1e-16 a hundred times as large, and the third one divides by it again.
    #[test]
    fn a_q10_is_the_ratio_of_the_rates((law, _) in rising(), a in 5.0..35.0f64, b in 5.0..35.0f64, d in 5.0..35.0f64) {
        prop_assume!((a - b).abs() > 0.1 && (b - d).abs() > 0.1 && (a - d).abs() > 0.1);
        let q10 = |x: f64, y: f64| law.equivalent_q10(c(x), c(y)).unwrap();
        prop_assert!(close(q10(a, b), q10(b, a), 1e-9));
        let ratio = |x: f64, y: f64| q10(x, y).powf((y - x) / 10.0);
        prop_assert!(close(ratio(a, d), ratio(a, b) * ratio(b, d), 1e-9));
        prop_assert!(q10(a, b) >= 1.0 - 1e-9, "the law rises: {}", q10(a, b));
        prop_assert!(law.equivalent_q10(c(a), c(a)).is_err());
    }

    #[test]
    fn the_q10_law_has_its_own_q10(q in 1.0..10.0f64, reference in -20.0..60.0f64, a in -20.0..60.0f64, b in -20.0..60.0f64) {
        prop_assume!((a - b).abs() > 0.1);
        let law = RateLaw::q10(q, reference, EVERYWHERE).unwrap();
        prop_assert!(close(law.equivalent_q10(c(a), c(b)).unwrap(), q, 1e-9));
        prop_assert!(law.equivalent_q10(c(61.0), c(b)).is_err());
    }

    /// Times and targets that make no sense are refused in one line.
    #[test]
    fn odd_hours_are_refused((law, _) in rising(), h in prop_oneof![prop::num::f64::ANY, -10.0..600.0f64]) {
        let held = TemperatureProfile::held(c(20.0));
        let counted = equivalent_hours(&law, &held, h);
        prop_assert_eq!(counted.is_ok(), (0.0..=504.0).contains(&h));
        let waited = time_to_equivalent(&law, &held, h);
        prop_assert_eq!(waited.is_ok(), (0.0..=1e5).contains(&h));
        if let Ok(Some(at)) = waited {
            prop_assert!((0.0..=504.0).contains(&at));
        }
        for e in counted.err().iter().chain(&waited.err()) {
            prop_assert!(is_one_line(e), "{:?}", e);
        }
    }
}
