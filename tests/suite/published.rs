//! The shipped parameters are what the published log and the laboratory's values imply: refitted here, and held against
//! the bars that were set before the fit.
//!
//! Two readings of the log were changed after its first fit: a bulk that its source punches twice is followed with its
//! punches, and three poolishes whose source prints the warmth of the water start as warm. With them, and with bubbles
//! that begin in the air of mixing, the error of a source that was left out fell from 0.298 to 0.272 in log time.

use pointage::learn::published::{self, FittedRow, PublishedFit};
use pointage::table::{self, Uncertainty};
use std::sync::LazyLock;

static FIT: LazyLock<PublishedFit> = LazyLock::new(|| published::fit().unwrap());

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
    for (name, value) in [
        ("source_log_sd", FIT.scales.tau),
        ("row_log_sd", FIT.scales.sigma),
    ] {
        assert!(
            (shipped.number(name).unwrap() - value).abs() < 1e-3,
            "{name}: {value}"
        );
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
    let independent = [112.9, 0.176, 339.9, 794.9, 846.4, 0.5316, 1.985, 3.114];
    for (p, other) in FIT.parameters.iter().zip(independent) {
        assert!((p.value / other - 1.0).abs() < 5e-3, "{p:?} {other}");
    }
    assert!((FIT.scales.tau - 0.131).abs() < 2e-3);
    assert!((FIT.scales.sigma - 0.201).abs() < 2e-3);
}

fn is_biga(row: &FittedRow) -> bool {
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
