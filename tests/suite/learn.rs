//! Learning from a log, held against simulated kitchens of which the truth is known.

use super::noise::Noise;
use pointage::Error;
use pointage::ambient::Course;
use pointage::ferment::{Composition, Kind, Parameters, Rates};
use pointage::learn::fit::{Learned, Options, Provenance, learn};
use pointage::learn::log::{Bake, Log, Observation, Place, Seen};
use pointage::table;
use pointage::units::Temperature;

/// Scatter of the simulated times, in log time.
const SCATTER: f64 = 0.10;

fn shipped() -> Parameters {
    Parameters::shipped().unwrap()
}

/// A kitchen whose parameters lie `z` prior standard deviations from the shipped ones: level of every
/// kind, tilt, growth.
fn kitchen(z: [f64; 3]) -> Parameters {
    let mut p = shipped();
    for level in [
        &mut p.levels.poolish,
        &mut p.levels.biga,
        &mut p.levels.sponge,
        &mut p.levels.doubled,
    ] {
        level.gas *= (z[0] * level.log_sd).exp();
    }
    let rates = p.kinetics.rates();
    p.kinetics = p
        .kinetics
        .with_tilt(z[1] * p.spread.tilt, p.spread.tilt_about)
        .unwrap()
        .with_rates(Rates {
            growth_rate: rates.growth_rate * (z[2] * p.spread.growth_rate).exp(),
            ..rates
        })
        .unwrap();
    p
}

fn hours(p: &Parameters, bake: &Bake) -> f64 {
    let course = bake.place.course().unwrap();
    bake.stage().ready(p, &course).unwrap().hours
}

/// A dough of the kind as bakers make it, at a dose and temperature drawn from the usual.
fn bake(noise: &mut Noise, kind: Kind) -> Bake {
    let (least, most, coldest, warmest) = match kind {
        Kind::Poolish => (0.1, 1.0, 17.0, 27.0),
        Kind::Biga => (0.3, 1.5, 16.0, 22.0),
        _ => (0.6, 2.5, 20.0, 28.0),
    };
    Bake {
        kind,
        composition: kind.usual().unwrap(),
        fresh_percent: least * (most / least as f64).powf(noise.uniform()),
        place: Place::Held(Temperature::celsius(noise.between(coldest, warmest)).unwrap()),
    }
}

fn observe(
    noise: &mut Noise,
    truth: &Parameters,
    line: u64,
    bake: Bake,
    scatter: f64,
) -> Observation {
    Observation {
        line,
        hours: hours(truth, &bake) * (scatter * noise.normal()).exp(),
        bake,
        seen: Seen::Ready,
    }
}

fn median(mut v: Vec<f64>) -> f64 {
    v.sort_by(f64::total_cmp);
    v[v.len() / 2]
}

/// What a thousand simulated logs of so many rows come to.
struct Outcome {
    median_error: f64,
    coverage: f64,
}

fn simulate(seed: u64, rows: u64, draw: impl Fn(&mut Noise) -> [f64; 3]) -> Outcome {
    let mut noise = Noise::seeded(seed);
    let prior = shipped();
    let (mut errors, mut inside) = (Vec::new(), 0);
    for k in 0..1000 {
        let kind = [Kind::Poolish, Kind::Biga, Kind::Dough][k % 3];
        let truth = kitchen(draw(&mut noise));
        let log: Vec<Observation> = (0..rows)
            .map(|i| {
                let b = bake(&mut noise, kind);
                observe(&mut noise, &truth, i + 2, b, SCATTER)
            })
            .collect();
        let learned = learn(&log, &prior, Options::default()).unwrap();
        assert!(learned.stop.converged());
        let unseen = bake(&mut noise, kind);
        let predicted = learned.predict(&unseen).unwrap();
        let true_hours = hours(&truth, &unseen);
        errors.push((predicted.hours / true_hours).ln().abs());
        let seen = true_hours * (SCATTER * noise.normal()).exp();
        inside += u32::from((predicted.low_h..=predicted.high_h).contains(&seen));
    }
    Outcome {
        median_error: median(errors),
        coverage: f64::from(inside) / 1000.0,
    }
}

fn sign(noise: &mut Noise) -> f64 {
    if noise.uniform() < 0.5 { -1.0 } else { 1.0 }
}

/// Truths drawn from the prior, and every parameter one and two prior standard deviations away, to
/// either side; a thousand logs each. Median error of the predicted time at an unseen dose and
/// temperature, and how many new observations, scatter included, the 80 % range holds.
fn check_kitchens(name: &str, draw: impl Fn(&mut Noise) -> f64) {
    let mut missed = Vec::new();
    for (rows, most) in [(3, 0.15), (10, 0.08), (30, 0.05)] {
        let outcome = simulate(100 + rows, rows, |noise| {
            std::array::from_fn(|_| draw(noise))
        });
        println!(
            "truth {name}, {rows:>2} rows: median error {:.1} %, 80 % range holds {:.1} %",
            100.0 * outcome.median_error,
            100.0 * outcome.coverage
        );
        if outcome.median_error > most || !(0.75..=0.85).contains(&outcome.coverage) {
            missed.push(rows);
        }
    }
    assert!(missed.is_empty(), "{name}: {missed:?}");
}

#[test]
fn kitchens_drawn_from_the_prior_are_learned() {
    check_kitchens("from the prior", |noise| noise.normal());
}

#[test]
fn kitchens_one_deviation_away_are_learned() {
    check_kitchens("1 deviation away", sign);
}

#[test]
fn kitchens_two_deviations_away_are_learned() {
    check_kitchens("2 deviations away", |noise| 2.0 * sign(noise));
}
