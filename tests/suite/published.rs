//! The shipped parameters are what the published log and the laboratory's values imply: refitted here, and held against
//! the bars that were set before the fit.
//!
//! Two readings of the log were changed after its first fit: a bulk that its source punches twice is followed with its
//! punches, and three poolishes whose source prints the warmth of the water start as warm. With them, and with bubbles
//! that begin in the air of mixing, the error of a source that was left out fell from 0.298 to 0.272 in log time.

use pointage::ambient::TemperatureProfile;
use pointage::ferment::{EndPoint, Inoculum, Kind, Parameters, Stage, State};
use pointage::learn::published::{self, FittedRow, PublishedFit, Scales};
use pointage::table::{self, Uncertainty};
use pointage::units::Temperature;
use std::sync::LazyLock;

fn c(t: f64) -> Temperature {
    Temperature::celsius(t).unwrap()
}

pub static FIT: LazyLock<PublishedFit> = LazyLock::new(|| published::fit().unwrap());

/// The table is printed to four digits, and deviations and correlations to three decimals: half a unit of the last one,
/// and 1e-3 for the minimum that another machine finds.
#[test]
fn the_shipped_table_is_the_fit() {
    let shipped = table::get("fitted").unwrap();
    for p in &FIT.parameters {
        let value = shipped.value(p.name).unwrap();
        assert!(
            (value.value - p.value).abs() < 1e-3 * p.value.max(1.0),
            "{p:?} {value:?}"
        );
        let sd = match value.uncertainty {
            Uncertainty::LogSd { log_sd } => log_sd,
            Uncertainty::StandardError { se } => se,
            ref other => panic!("{}: {other:?}", p.name),
        };
        assert!((sd - p.sd).abs() < 1e-3, "{p:?} {sd}");
    }
    let Scales { tau, sigma, log_sd } = FIT.scales;
    for (name, scale, sd) in [
        ("source_log_sd", tau, log_sd[0]),
        ("row_log_sd", sigma, log_sd[1]),
    ] {
        let value = shipped.value(name).unwrap();
        assert!((value.value - scale).abs() < 1e-3, "{name}: {scale}");
        assert!((value.log_sd().unwrap() - sd).abs() < 0.01, "{name}: {sd}");
    }
    let place = |name: &String| FIT.parameters.iter().position(|p| p.name == name).unwrap();
    assert_eq!(
        shipped.correlations.len(),
        28,
        "8 parameters, each pair once"
    );
    for c in &shipped.correlations {
        let fitted = FIT.correlations[place(&c.between[0])][place(&c.between[1])];
        assert!((c.value - fitted).abs() < 2e-3, "{c:?} {fitted}");
    }
    // And the command prints a table that reads back as the shipped one.
    let printed = table::parse(&FIT.table()).unwrap();
    assert_eq!(printed.values.len(), shipped.values.len());
    assert_eq!(printed.note, shipped.note);
}

/// `tests/reference/joint_fit.py`, an implementation of its own, gives these: agreement to the fourth digit, but for the
/// scales, which its simplex finds to 0.4 %, and what hangs on them.
#[test]
fn an_independent_fit_agrees() {
    let independent = [114.1, 0.1932, 341.8, 783.9, 849.1, 0.5283, 1.986, 3.122];
    for (p, other) in FIT.parameters.iter().zip(independent) {
        assert!((p.value / other - 1.0).abs() < 5e-3, "{p:?} {other}");
    }
    assert!((FIT.scales.tau - 0.129).abs() < 2e-3);
    assert!((FIT.scales.sigma - 0.205).abs() < 2e-3);
}

pub fn is_biga(row: &FittedRow) -> bool {
    row.stage == "biga"
}

/// One source left out, on the 21 counted times but those of biga, whose only source is left out then: at most 0.28 in
/// log time, and 14 to 20 of 21 in their 80 % intervals.
#[test]
fn a_source_that_is_left_out_is_predicted() {
    let all = FIT.left_out(|row| !is_biga(row));
    println!(
        "without its source: {all:?}; biga {:?}",
        FIT.left_out(is_biga)
    );
    assert_eq!(all.rows, 21);
    assert!(all.rms <= 0.28, "{all:?}");
    assert!((14..=20).contains(&all.inside), "{all:?}");
    assert_eq!(FIT.left_out(is_biga).rows, 2);
}

/// In sample, the ripe poolishes: at most 0.27 in log time.
#[test]
fn poolish_is_met_in_sample() {
    let ripe =
        |row: &&FittedRow| row.stage == "poolish" && row.end == "ripe" && row.left_out.is_some();
    let errors: Vec<f64> = FIT
        .rows
        .iter()
        .filter(ripe)
        .map(|row| (row.observed / row.predicted).ln())
        .collect();
    let rms = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
    assert_eq!(errors.len(), 12);
    assert!(rms <= 0.27, "{rms}");
}

/// What the jar and the laboratory show, by the shipped parameters: a ripe poolish at 2.0 to 2.6 times its volume, a
/// sponge at its drop at 4.0 to 4.9, and a pup loaf that makes 820 mL of gas or more.
#[test]
fn volumes_and_gas_lie_in_their_bands() {
    let predicted = |id: &str| FIT.rows.iter().find(|row| row.id == id).unwrap().predicted;
    let poolish = predicted("poolish-volume-double");
    assert!((2.0..=2.6).contains(&poolish), "{poolish}");
    let sponge = predicted("sponge-volume-drop");
    assert!((4.0..=4.9).contains(&sponge), "{sponge}");
    let gas = predicted("gas-pup");
    assert!(gas >= 820.0, "{gas}");
}

/// Bands set beforehand from common practice: a straight dough of 1.5 to 2 % fresh yeast and 2 % salt at
/// 25 to 27 °C doubles in 1.4 to 3 h and, shaped, proofs at 25 °C in 30 to 80 min.
#[test]
fn a_straight_dough_keeps_to_common_practice() {
    let p = Parameters::shipped().unwrap();
    let bulk_h = |dose: f64, t: f64| {
        let stage = Stage {
            composition: Kind::Dough.usual().unwrap(),
            yeast: Inoculum {
                added: dose,
                carried: 0.0,
            },
            end: EndPoint::Doubled,
            own_heat: None,
        };
        stage
            .ready(&p, &TemperatureProfile::held(c(t)))
            .unwrap()
            .hours
    };
    let proof_h = |dose: f64, t: f64, proof_c: f64| {
        let stage = Stage {
            composition: Kind::Dough.usual().unwrap(),
            yeast: Inoculum {
                added: dose,
                carried: 0.0,
            },
            end: EndPoint::Doubled,
            own_heat: None,
        };
        let f = stage.fermentation(&p).unwrap();
        let warm = TemperatureProfile::held(c(t));
        let bulk = f.after(&f.start(), &warm, bulk_h(dose, t)).unwrap();
        // Handling as a plan has it where nothing else is said.
        let usual = table::get("bake-file").unwrap();
        let [divide, rest, shape] = ["divide_min", "bench_rest_min", "shape_min"]
            .map(|name| usual.number(name).unwrap() / 60.0);
        let divided = f.handled(&f.after(&bulk, &warm, divide).unwrap(), p.kept);
        let shaped = f.handled(&f.after(&divided, &warm, rest + shape).unwrap(), p.kept);
        let proof = TemperatureProfile::held(c(proof_c));
        let ripe = |s: &State| f.volume_ratio(s) - p.hearth_ratio;
        f.until(&shaped, &proof, &ripe).unwrap().unwrap().hours() - shaped.hours()
    };
    for dose in [1.5, 1.75, 2.0] {
        for t in [25.0, 26.0, 27.0] {
            let (bulk, proof) = (bulk_h(dose, t), proof_h(dose, t, 25.0));
            println!(
                "{dose} % at {t} °C: doubled in {bulk:.2} h, proofed at 25 °C in {:.0} min",
                60.0 * proof
            );
            assert!(
                (1.4..=3.0).contains(&bulk),
                "{dose} % at {t} °C doubles in {bulk} h"
            );
            assert!(
                (0.5..=80.0 / 60.0).contains(&proof),
                "{dose} % at {t} °C proofs in {proof} h"
            );
        }
    }
    let bulk = bulk_h(2.0, 20.0) / bulk_h(2.0, 25.0);
    let proof = proof_h(2.0, 25.0, 20.0) / proof_h(2.0, 25.0, 25.0);
    println!("at 20 °C instead of 25: bulk {bulk:.2} times as long, proof {proof:.2} times");
    assert!(bulk > 1.2 && proof > 1.2);
}
