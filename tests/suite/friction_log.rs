//! Mixer heat from a log: against numpy's least squares, and against heats that are known.

use super::noise::Noise;
use pointage::heat::properties::ThermalProperties;
use pointage::learn::friction::{
    FrictionDiagnostic, FrictionReport, Method, Mix, MixLog, friction,
};
use pointage::units::{Mass, Temperature};

fn capacities() -> ThermalProperties {
    ThermalProperties {
        c_flour_kj_per_kg_k: 1.80,
        c_water_kj_per_kg_k: 4.186,
        ..ThermalProperties::shipped().unwrap()
    }
}

fn balance(wetting_kj_per_kg: Option<f64>, bowl_kj_per_k: f64) -> Method {
    Method::HeatBalance {
        capacities: capacities(),
        wetting_kj_per_kg,
        bowl_kj_per_k,
    }
}

/// Values and errors that `tests/reference/friction_lstsq.py` printed (numpy 2.4.6) for the same rows.
#[test]
fn numpy_gives_the_same_heats_and_errors() {
    let log = MixLog::from_csv(include_str!("../reference/friction_log.csv")).unwrap();
    assert!(log.refused.is_empty());
    let check = |method, expected: &[(f64, f64)], sd: f64| {
        let report = friction(&log.mixes, &log.speeds, method).unwrap();
        assert_eq!(report.heats.len(), expected.len());
        for (heat, (value, error)) in report.heats.iter().zip(expected) {
            assert!(
                (heat.value / value - 1.0).abs() < 1e-9,
                "{}: {}",
                heat.name,
                heat.value
            );
            let se = heat.standard_error.unwrap();
            assert!((se / error - 1.0).abs() < 1e-9, "{}: {se}", heat.name);
        }
        assert!((report.residual_sd_k.unwrap() / sd - 1.0).abs() < 1e-9);
    };
    check(
        balance(None, 2.0),
        &[
            (0.8462759470974122, 0.393284438438517),
            (2.958020080291549, 0.4501663191011006),
            (-1.408062536952476, 6.682476347145185),
        ],
        0.4618151242693205,
    );
    check(
        balance(Some(9.9), 2.0),
        &[
            (0.233304928079517, 0.1753435303452285),
            (2.249466938453112, 0.1892398722157626),
        ],
        0.5286902059924973,
    );
    check(
        Method::SumScale,
        &[
            (0.418646091668963, 0.0781362415399469),
            (0.4642383117479565, 0.08397374255978597),
        ],
        0.6656730874262201,
    );
}

/// What the synthetic mixer does: kJ per kg of dough and minute, slow and fast; kJ per kg of flour.
const TRUE_HEATS: [f64; 3] = [0.55, 1.4, 9.9];

fn c(t: f64) -> Temperature {
    Temperature::celsius(t).unwrap()
}

/// A mix whose dough comes out as the balance says, written out here by itself, plus noise.
fn mix(noise: &mut Noise, line: u64, sd_k: f64) -> Mix {
    let (flour_kg, water_kg) = (noise.between(5.0, 15.0), noise.between(3.0, 10.0));
    let (flour_c, water_c) = (noise.between(17.0, 26.0), noise.between(4.0, 20.0));
    let minutes = vec![noise.between(2.0, 9.0), noise.between(0.0, 8.0)];
    let heat = flour_kg * 1.80 + water_kg * 4.186;
    let made = (flour_kg + water_kg) * (TRUE_HEATS[0] * minutes[0] + TRUE_HEATS[1] * minutes[1])
        + flour_kg * TRUE_HEATS[2];
    let mixed = (flour_kg * 1.80 * flour_c + water_kg * 4.186 * water_c) / heat;
    Mix {
        line,
        flour: Mass::kilograms(flour_kg).unwrap(),
        flour_temperature: c(flour_c),
        water: Mass::kilograms(water_kg).unwrap(),
        water_temperature: c(water_c),
        room: c(22.0),
        preferment: None,
        dough: c(mixed + made / heat + sd_k * noise.normal()),
        minutes,
    }
}

fn learned(mixes: &[Mix]) -> FrictionReport {
    friction(mixes, &["slow".into(), "fast".into()], balance(None, 0.0)).unwrap()
}

#[test]
fn known_heats_are_recovered_exactly_without_noise() {
    let mut noise = Noise::seeded(5);
    let mixes: Vec<Mix> = (0..12).map(|i| mix(&mut noise, i, 0.0)).collect();
    let report = learned(&mixes);
    for (heat, truth) in report.heats.iter().zip(TRUE_HEATS) {
        assert!(
            (heat.value - truth).abs() < 1e-9,
            "{}: {}",
            heat.name,
            heat.value
        );
    }
    assert!(report.diagnostics.is_empty());
}

/// Two standard errors hold 95.1 % of the cases with 37 degrees of freedom (Student's t). Of 2000 logs
/// and three heats, 1 % either way is two standard errors of the count and more.
#[test]
fn known_heats_lie_within_two_standard_errors() {
    let mut noise = Noise::seeded(6);
    let mut inside = [0; 3];
    for _ in 0..2000 {
        let mixes: Vec<Mix> = (0..40).map(|i| mix(&mut noise, i, 0.3)).collect();
        for (k, heat) in learned(&mixes).heats.iter().enumerate() {
            let miss = (heat.value - TRUE_HEATS[k]).abs();
            inside[k] += u32::from(miss <= 2.0 * heat.standard_error.unwrap());
        }
    }
    println!("within two standard errors, of 2000 (slow, fast, wetting): {inside:?}");
    for count in inside {
        let share = f64::from(count) / 2000.0;
        assert!((0.94..=0.965).contains(&share), "{inside:?}");
    }
}

#[test]
fn minutes_that_move_together_are_told_so() {
    let mut noise = Noise::seeded(7);
    let mut mixes: Vec<Mix> = (0..10).map(|i| mix(&mut noise, i, 0.2)).collect();
    for m in &mut mixes {
        m.minutes[1] = 1.5 * m.minutes[0];
    }
    let report = learned(&mixes);
    let together = FrictionDiagnostic::MoveTogether {
        heats: ["slow", "fast"].map(str::to_owned),
        always: true,
    };
    assert_eq!(report.diagnostics[0], together);
    assert_eq!(report.heats[0].standard_error, None);
    assert_eq!(report.heats[1].standard_error, None);
    assert!(report.heats[2].standard_error.is_some());

    // The same mix over and over: nothing can be told apart, and no error bar is made up.
    let same = vec![mixes[0].clone(); 6];
    let report = learned(&same);
    assert!(report.heats.iter().all(|h| h.standard_error.is_none()));
    assert!(!report.diagnostics.is_empty());

    // One mix.
    let report = learned(&mixes[..1]);
    assert!(report.residual_sd_k.is_none());
    assert!(report.heats.iter().all(|h| h.standard_error.is_none()));
}

#[test]
fn units_and_order_do_not_matter() {
    let text = include_str!("../reference/friction_log.csv");
    let log = MixLog::from_csv(text).unwrap();
    let other = {
        let mut lines: Vec<String> = text
            .lines()
            .skip(1)
            .map(|line| {
                line.split(',')
                    .enumerate()
                    .map(|(i, cell)| match (i, cell.parse::<f64>()) {
                        (1 | 3 | 6, Ok(kg)) => (kg * 1000.0).to_string(),
                        (2 | 4 | 5 | 7 | 9, Ok(t)) => (t * 1.8 + 32.0).to_string(),
                        _ => cell.to_owned(),
                    })
                    .collect::<Vec<_>>()
                    .join(",")
            })
            .collect();
        lines.reverse();
        let header = text.lines().next().unwrap();
        let header = header.replace("_kg", "_g").replace("_c", "_f");
        MixLog::from_csv(&format!("{header}\n{}\n", lines.join("\n"))).unwrap()
    };
    let heats = |log: &MixLog| {
        friction(&log.mixes, &log.speeds, balance(None, 2.0))
            .unwrap()
            .heats
    };
    for (a, b) in heats(&log).iter().zip(heats(&other)) {
        assert!((a.value / b.value - 1.0).abs() < 1e-9);
        assert!((a.standard_error.unwrap() / b.standard_error.unwrap() - 1.0).abs() < 1e-9);
    }
}
