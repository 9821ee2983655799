//! Heat of the mixer and laws of speed: exact data give back what made them, and the order says nothing.

use super::{c, cases, close, is_one_line};
use pointage::heat::properties::ThermalProperties;
use pointage::learn::Estimate;
use pointage::learn::Termination;
use pointage::learn::friction::{FrictionReport, Method, Mix, MixedIn, friction};
use pointage::learn::rate_fit::{FitLaw, RateFit, Speed, Transform, fit_rate};
use pointage::units::{Mass, Percent};
use proptest::prelude::*;

/// A mix of two speeds; its dough is still to be set.
fn mix() -> impl Strategy<Value = Mix> {
    let preferment = prop::option::of((100.0..900.0f64, 10.0..28.0f64));
    (
        (500.0..2000.0f64, 5.0..32.0f64),
        (300.0..1400.0f64, 2.0..35.0f64),
        5.0..32.0f64,
        preferment,
        (1.0..8.0f64, 0.0..8.0f64),
    )
        .prop_map(
            |((flour, flour_c), (water, water_c), room, preferment, (slow, fast))| Mix {
                line: 0,
                flour: Mass::grams(flour).unwrap(),
                flour_temperature: c(flour_c),
                water: Mass::grams(water).unwrap(),
                water_temperature: c(water_c),
                room: c(room),
                preferment: preferment.map(|(mass, t)| MixedIn {
                    mass: Mass::grams(mass).unwrap(),
                    temperature: c(t),
                    hydration: Percent::new(100.0).unwrap(),
                }),
                dough: c(24.0),
                minutes: vec![slow, fast],
            },
        )
}

/// Mixes of which the minutes at one speed are no multiple of those at the other.
fn mixes() -> impl Strategy<Value = Vec<Mix>> {
    prop::collection::vec(mix(), 4..9).prop_filter("minutes that go together", |mixes| {
        let sum = |f: &dyn Fn(&Mix) -> f64| mixes.iter().map(f).sum::<f64>();
        let (a, b) = (
            sum(&|m| m.minutes[0].powi(2)),
            sum(&|m| m.minutes[1].powi(2)),
        );
        let both = sum(&|m| m.minutes[0] * m.minutes[1]);
        a * b - both * both > 0.05 * a * b
    })
}

fn speeds() -> [String; 2] {
    ["slow".into(), "fast".into()]
}

/// What the thermometer shows on the sum scale, minute by minute warmer by so many K; by the definition in words:
/// the mean of the temperatures that go in, and the rise.
fn on_the_sum_scale(mix: &Mix, k_per_min: [f64; 2], off: f64) -> Mix {
    let mut parts = vec![mix.flour_temperature, mix.water_temperature, mix.room];
    parts.extend(mix.preferment.map(|p| p.temperature));
    let mean = parts.iter().map(|t| t.as_celsius()).sum::<f64>() / parts.len() as f64;
    let rise = k_per_min[0] * mix.minutes[0] + k_per_min[1] * mix.minutes[1];
    Mix {
        dough: c(mean + rise + off),
        ..mix.clone()
    }
}

fn balance() -> Method {
    Method::HeatBalance {
        capacities: ThermalProperties::shipped().unwrap(),
        wetting_kj_per_kg: Some(9.0),
        bowl_kj_per_k: 0.0,
    }
}

fn heats(mixes: &[Mix], method: Method) -> FrictionReport {
    friction(mixes, &speeds(), method).unwrap()
}

/// The heats are the same up to `off`, and so are their errors.
fn same_heats(
    a: &FrictionReport,
    b: &FrictionReport,
    off: f64,
) -> std::result::Result<(), TestCaseError> {
    for (a, b) in a.heats.iter().zip(&b.heats) {
        prop_assert!((a.value - b.value).abs() < off, "{:?} and {:?}", a, b);
        let (a, b) = (a.standard_error.unwrap(), b.standard_error.unwrap());
        prop_assert!((a - b).abs() < off, "{} and {}", a, b);
    }
    Ok(())
}

/// Temperatures of some 30 with 1e-15 each, over minutes that are told apart to a twentieth.
const LINEAR: f64 = 1e-10;

proptest! {
    #![proptest_config(cases(96))]

    /// Doughs made by the DDT formula give back the heat of a minute, and no scatter.
    #[test]
    fn exact_mixes_give_their_heats(mixes in mixes(), slow in 0.0..1.0f64, fast in 0.0..2.0f64) {
        let made: Vec<Mix> = mixes.iter().map(|m| on_the_sum_scale(m, [slow, fast], 0.0)).collect();
        let report = heats(&made, Method::SumScale);
        prop_assert!((report.heats[0].value - slow).abs() < LINEAR && (report.heats[1].value - fast).abs() < LINEAR, "{:?}", report.heats);
        prop_assert!(report.residual_sd_k.unwrap() < LINEAR);
    }

    /// The order of the mixes says nothing; on the sum scale a shift of all temperatures and on the balance another
    /// size of every mix, or a shift, say nothing either: both use differences and shares.
    #[test]
    fn order_size_and_shift_say_nothing(
        (mixes, other) in mixes().prop_flat_map(|m| (Just(m.clone()), Just(m).prop_shuffle())),
        off in prop::collection::vec(-1.5..1.5f64, 9), times in 0.1..10.0f64, shift in -2.0..30.0f64,
    ) {
        let noisy = |m: &Mix| {
            // The same reading for the same mix, wherever it stands.
            let i = mixes.iter().position(|x| x == m).unwrap();
            on_the_sum_scale(m, [0.2, 0.6], off[i])
        };
        let (one, other): (Vec<Mix>, Vec<Mix>) = (mixes.iter().map(noisy).collect(), other.iter().map(noisy).collect());
        let warmer = |m: &Mix| {
            let by = |t: pointage::units::Temperature| c(t.as_celsius() + shift);
            Mix {
                flour_temperature: by(m.flour_temperature),
                water_temperature: by(m.water_temperature),
                room: by(m.room),
                dough: by(m.dough),
                preferment: m.preferment.map(|p| MixedIn { temperature: by(p.temperature), ..p }),
                ..m.clone()
            }
        };
        let larger = |m: &Mix| {
            let by = |mass: Mass| Mass::grams(times * mass.as_grams()).unwrap();
            Mix {
                flour: by(m.flour),
                water: by(m.water),
                preferment: m.preferment.map(|p| MixedIn { mass: by(p.mass), ..p }),
                ..m.clone()
            }
        };
        for method in [Method::SumScale, balance()] {
            let as_is = heats(&one, method);
            same_heats(&heats(&other, method), &as_is, LINEAR)?;
            same_heats(&heats(&one.iter().map(warmer).collect::<Vec<_>>(), method), &as_is, LINEAR)?;
            same_heats(&heats(&one.iter().map(larger).collect::<Vec<_>>(), method), &as_is, LINEAR)?;
        }
    }

    /// Every mix twice: the heats stay; the sum of squares doubles, so does the information, and the degrees of
    /// freedom are `2n - k`: the variance is `(n - k)/(2n - k)` of what it was.
    #[test]
    fn every_mix_twice_halves_the_variance(mixes in mixes(), off in prop::collection::vec(-1.5..1.5f64, 9)) {
        let noisy: Vec<Mix> = mixes.iter().zip(&off).map(|(m, off)| on_the_sum_scale(m, [0.2, 0.6], *off)).collect();
        let twice: Vec<Mix> = noisy.iter().chain(&noisy).cloned().collect();
        let n = noisy.len() as f64;
        for method in [Method::SumScale, balance()] {
            let (one, two) = (heats(&noisy, method), heats(&twice, method));
            for (one, two) in one.heats.iter().zip(&two.heats) {
                prop_assert!((one.value - two.value).abs() < LINEAR);
                let (one, two) = (one.standard_error.unwrap(), two.standard_error.unwrap());
                prop_assert!((two * two - one * one * (n - 2.0) / (2.0 * n - 2.0)).abs() < LINEAR);
            }
        }
    }

    /// Any mixes: every number told is one, and a speed that was never used is said not to be told.
    #[test]
    fn any_mixes_are_told_in_numbers(mut mixes in prop::collection::vec(mix(), 1..6), unused in any::<bool>()) {
        if unused {
            mixes.iter_mut().for_each(|m| m.minutes[1] = 0.0);
        }
        let learning = Method::HeatBalance {
            capacities: ThermalProperties::shipped().unwrap(),
            wetting_kj_per_kg: None,
            bowl_kj_per_k: 1.5,
        };
        for method in [Method::SumScale, balance(), learning] {
            let report = heats(&mixes, method);
            for heat in &report.heats {
                prop_assert!(heat.value.is_finite() && heat.rise_k.is_finite(), "{:?}", heat);
                prop_assert!(heat.standard_error.is_none_or(f64::is_finite), "{:?}", heat);
                prop_assert!(!(unused && heat.name == "fast" && heat.standard_error.is_some()), "{:?}", heat);
            }
            prop_assert!(report.residuals_k.iter().all(|r| r.1.is_finite()));
            let found = format!("{:?}", report.diagnostics);
            prop_assert!(!found.contains("NaN"), "{}", found);
        }
        prop_assert!(friction(&[], &speeds(), Method::SumScale).is_err());
    }
}

/// A law with parameters that yeast could have.
fn law() -> impl Strategy<Value = (FitLaw, Vec<f64>)> {
    prop_oneof![
        (0.1..2.0f64, 0.0..4.0f64, 30.0..35.0f64, 40.0..46.0f64)
            .prop_map(|(best, low, t, high)| (FitLaw::Cardinal, vec![best, low, t, high])),
        (0.01..0.05f64, -3.0..3.0f64, 0.1..0.6f64, 42.0..47.0f64)
            .prop_map(|(b, low, steep, high)| (FitLaw::SquareRoot, vec![b, low, steep, high])),
        (0.05..1.0f64, 4e4..7e4f64, 2e5..4e5f64, 34.0..39.0f64)
            .prop_map(|(r, e, high, t)| (FitLaw::SharpeSchoolfield, vec![r, e, high, t])),
        (0.05..1.0f64, 1.3..4.0f64).prop_map(|(r, q)| (FitLaw::Q10, vec![r, q])),
        (0.05..1.0f64, 2e4..1e5f64).prop_map(|(r, e)| (FitLaw::Arrhenius, vec![r, e])),
    ]
}

fn transform() -> impl Strategy<Value = Transform> {
    prop::sample::select(vec![Transform::None, Transform::Sqrt])
}

/// The law at 14 temperatures from 4 to about 44 °C, so that a fall is seen; each speed off by a share, the same for all where `scatter` is 0.
fn points(law: FitLaw, p: &[f64], scatter: &[f64]) -> Vec<Speed> {
    let at = |i: usize| 4.0 + 3.1 * i as f64;
    let speed = |i: usize| Speed {
        temperature: c(at(i)),
        rate: law.rate(p, at(i)) * (1.0 + scatter.get(i).copied().unwrap_or(0.0)),
    };
    (0..14).map(speed).collect()
}

/// Parameters are the same up to a share of themselves, temperatures (which may be 0 °C) up to the share of 10 K.
fn same_values(law: FitLaw, a: &[f64], b: &[f64], share: f64) -> bool {
    let allowed = |i: usize| {
        share
            * if law.parameters()[i].ends_with("_c") {
                10.0
            } else {
                a[i].abs()
            }
    };
    a.len() == b.len() && (0..a.len()).all(|i| (a[i] - b[i]).abs() <= allowed(i))
}

fn errors(fit: &RateFit) -> Vec<f64> {
    fit.report
        .estimates
        .iter()
        .filter_map(|e| e.standard_error)
        .collect()
}

fn values(fit: &RateFit) -> Vec<f64> {
    fit.report.estimates.iter().map(|e| e.value).collect()
}

/// The values are those of the fit, up to `MINIMUM` and a hundredth of their error: along a valley of which the points
/// tell little the place is loose, and the error says so. Nothing is asked of one that they do not tell.
fn same_fit(fit: &RateFit, values: &[f64]) -> bool {
    let fitted = &fit.report.estimates;
    let scale = |i: usize| {
        if fit.law.parameters()[i].ends_with("_c") {
            10.0
        } else {
            values[i].abs()
        }
    };
    (0..values.len()).all(|i| {
        let error = fitted[i].standard_error;
        error.is_none_or(|e| (fitted[i].value - values[i]).abs() <= MINIMUM * scale(i) + 0.01 * e)
    })
}

/// True where the points tell every parameter to a tenth of it, or to a kelvin.
fn is_told(fit: &RateFit) -> bool {
    let told = |(i, e): (usize, &Estimate)| {
        let scale = if fit.law.parameters()[i].ends_with("_c") {
            10.0
        } else {
            e.value.abs()
        };
        e.standard_error.is_some_and(|error| error < 0.1 * scale)
    };
    (fit.report.stop == Termination::Converged) && fit.report.estimates.iter().enumerate().all(told)
}

/// A minimum is flat: where it lies is known to the root of a rounding, 1e-8, times what little the points tell some
/// parameters apart.
const MINIMUM: f64 = 1e-5;

proptest! {
    #![proptest_config(cases(96))]

    /// Speeds of a law give back its parameters, on either scale, and leave no sum of squares.
    #[test]
    fn exact_speeds_give_their_law((law, truth) in law(), transform in transform()) {
        let fit = fit_rate(&points(law, &truth, &[]), law, transform).unwrap();
        prop_assert!((fit.report.stop == Termination::Converged));
        prop_assert!(same_values(law, &values(&fit), &truth, MINIMUM), "{:?} for {:?}", values(&fit), truth);
        // And so the curve between the points and a little beyond.
        for t in [3.5, 15.3, 29.9] {
            prop_assert!(close(law.rate(&values(&fit), t), law.rate(&truth, t), 10.0 * MINIMUM));
        }
    }
}

// Where a curve does not fit, a search is made of it: fewer of these.
proptest! {
    #![proptest_config(cases(8))]

    /// Every point twice: the law stays, and each variance is `(n - k)/(2n - k)` of what it was.
    #[test]
    fn every_point_twice_halves_the_variance((law, truth) in law(), transform in transform(), scatter in prop::collection::vec(-0.03..0.03f64, 14)) {
        let points = points(law, &truth, &scatter);
        let twice: Vec<Speed> = points.iter().chain(&points).copied().collect();
        let (one, two) = (fit_rate(&points, law, transform).unwrap(), fit_rate(&twice, law, transform).unwrap());
        prop_assume!((one.report.stop == Termination::Converged) && (two.report.stop == Termination::Converged));
        prop_assert!(same_fit(&one, &values(&two)));
        prop_assume!(is_told(&one));
        let (n, k) = (points.len() as f64, truth.len() as f64);
        let share = ((n - k) / (2.0 * n - k)).sqrt();
        for (one, two) in errors(&one).iter().zip(&errors(&two)) {
            prop_assert!(close(*two, share * one, 1e-3), "{} for {}", two, share * one);
        }
    }

    /// The order of the points and the unit of the speed say nothing about the law: in another unit the rate is in
    /// that unit (`b` of the square-root law in its root) and everything else stays.
    #[test]
    fn order_and_unit_say_nothing(
        (law, truth) in law(), transform in transform(), scatter in prop::collection::vec(-0.03..0.03f64, 14),
        order in Just((0..14).collect::<Vec<usize>>()).prop_shuffle(), unit in 0.01..100.0f64,
    ) {
        let points = points(law, &truth, &scatter);
        let fit = fit_rate(&points, law, transform).unwrap();
        prop_assume!((fit.report.stop == Termination::Converged));
        let other: Vec<Speed> = order.iter().map(|&i| Speed { rate: unit * points[i].rate, ..points[i] }).collect();
        let other = fit_rate(&other, law, transform).unwrap();
        let by = if law == FitLaw::SquareRoot { unit.sqrt() } else { unit };
        let mut values = values(&other);
        values[0] /= by;
        prop_assert!(same_fit(&fit, &values), "{:?} for {:?}", values, fit.report);
        // The sum of squares is flat there.
        let squares = if transform == Transform::Sqrt { unit } else { unit * unit };
        prop_assert!(close(other.report.rss / squares, fit.report.rss, 1e-6));
        if is_told(&fit) {
            let mut found = errors(&other);
            found[0] /= by;
            // The slopes at the minimum are those of a place known to MINIMUM.
            prop_assert!(found.iter().zip(&errors(&fit)).all(|(a, b)| close(*a, *b, 1e-3)), "{:?} for {:?}", found, fit.report);
        }
    }

    /// Any speeds give a law in numbers or a refusal in a line.
    #[test]
    fn any_speeds_are_fitted_or_refused(
        law in prop::sample::select(FitLaw::ALL.to_vec()), transform in transform(),
        speeds in prop::collection::vec((-20.0..60.0f64, prop_oneof![Just(0.0), 0.0..3.0f64, 0.0..1e9f64]), 0..9),
    ) {
        let points: Vec<Speed> = speeds.iter().map(|&(t, rate)| Speed { temperature: c(t), rate }).collect();
        match fit_rate(&points, law, transform) {
            Ok(fit) => {
                prop_assert!(values(&fit).iter().all(|v| v.is_finite()), "{:?}", fit.report);
                prop_assert!(errors(&fit).iter().all(|e| e.is_finite() && *e >= 0.0), "{:?}", fit.report);
                prop_assert!(fit.aic.is_none_or(f64::is_finite) && fit.aicc.is_none_or(f64::is_finite));
                prop_assert!(fit.report.rss.is_finite() && fit.report.rss >= 0.0);
            }
            Err(e) => prop_assert!(is_one_line(&e), "{:?}", e),
        }
    }
}

proptest! {
    #![proptest_config(cases(8))]

    /// Every round is counted, the same seed gives the same rounds, and seeds that follow each other share all but
    /// one; points on the curve leave nothing to draw from.
    #[test]
    fn rounds_are_counted_and_repeat(
        (law, truth) in law(), scatter in prop::collection::vec(-0.03..0.03f64, 14), rounds in 1..16_u32, seed in any::<u64>(),
    ) {
        let points_of = |scatter: &[f64]| points(law, &truth, scatter);
        let points = points_of(&scatter);
        let fit = fit_rate(&points, law, Transform::Sqrt).unwrap();
        prop_assume!((fit.report.stop == Termination::Converged));
        let found = fit.bootstrap(&points, rounds, seed).unwrap();
        prop_assert_eq!(found.len(), rounds as usize);
        prop_assert!(found.iter().flatten().flatten().all(|v| v.is_finite()));
        prop_assert_eq!(&fit.bootstrap(&points, rounds, seed).unwrap(), &found);
        let later = fit.bootstrap(&points, rounds, seed.wrapping_add(1)).unwrap();
        prop_assert_eq!(&later[..rounds as usize - 1], &found[1..]);
        prop_assert!(fit.bootstrap(&points[1..], rounds, seed).is_err());

        let exact = points_of(&[]);
        let fit = fit_rate(&exact, law, Transform::Sqrt).unwrap();
        for round in fit.bootstrap(&exact, rounds.min(3), seed).unwrap().into_iter().flatten() {
            prop_assert!(same_values(law, &round, &truth, MINIMUM), "{:?} for {:?}", round, truth);
        }
    }
}
