//! The cardinal law fitted to 20 speeds with standard errors, and 1000 fits to the same curve with its residuals
//! drawn anew.

mod answers;

use criterion::Criterion;
use pointage::Result;
use pointage::learn::rate_fit::{FitLaw, Speed, Transform, fit_rate};
use pointage::units::Temperature;
use serde_json::json;
use std::error::Error;
use std::hint::black_box;

const POINTS: u32 = 20;
const ROUNDS: u32 = 1000;
const SEED: u64 = 6;

fn main() -> std::result::Result<(), Box<dyn Error>> {
    let mut c = Criterion::default().configure_from_args();
    let truth = [0.46, 2.6, 32.4, 41.3];
    let celsius: Vec<f64> = (0..POINTS).map(|i| 5.0 + 1.8 * f64::from(i)).collect();
    // Scatter of some 2 % of the fastest speed, without a trend; four digits, as in a published table.
    let speeds: Vec<f64> = celsius
        .iter()
        .zip(0..)
        .map(|(&t, i)| {
            let scatter = 0.012 * f64::from(i * 7 + 3).sin();
            ((FitLaw::Cardinal.rate(&truth, t) + scatter).max(0.0) * 1e4).round() / 1e4
        })
        .collect();
    let points = celsius
        .iter()
        .zip(&speeds)
        .map(|(&t, &rate)| {
            Ok(Speed {
                temperature: Temperature::celsius(t)?,
                rate,
            })
        })
        .collect::<Result<Vec<_>>>()?;
    let fit = fit_rate(&points, FitLaw::Cardinal, Transform::None)?;
    let report = &fit.report;
    let values: Vec<f64> = report.estimates.iter().map(|e| e.value).collect();
    let errors: Vec<_> = report.estimates.iter().map(|e| e.standard_error).collect();

    let samples = (0..ROUNDS)
        .map(|round| {
            let redrawn = fit.redrawn(&points, SEED + u64::from(round))?;
            Ok(redrawn.iter().map(|s| s.rate).collect())
        })
        .collect::<Result<Vec<Vec<f64>>>>()?;
    let bootstrap = fit.bootstrap(&points, ROUNDS, SEED)?;
    // A round that has not settled would be missing in its row.
    assert!(bootstrap.iter().all(Option::is_some));
    let optima = &bootstrap;
    answers::write(
        "fit",
        &json!({
            "celsius": celsius, "speeds": speeds, "values": values, "errors": errors,
            "samples": samples, "optima": optima,
        }),
    )?;

    let mut group = c.benchmark_group("fit");
    group.bench_function("cardinal_20", |b| {
        b.iter(|| fit_rate(black_box(&points), FitLaw::Cardinal, Transform::None))
    });
    group.bench_function("residual_bootstrap_1000", |b| {
        b.iter(|| fit.bootstrap(black_box(&points), ROUNDS, SEED))
    });
    group.finish();
    c.final_summary();
    Ok(())
}
