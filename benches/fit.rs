//! The cardinal law fitted to 20 speeds with standard errors, and 1000 fits to the same curve with resampled
//! residuals.

mod answers;

use criterion::Criterion;
use pointage::Result;
use pointage::learn::rate_fit::{Law, Speed, Transform, fit_rate};
use pointage::units::Temperature;
use serde_json::json;
use std::error::Error;
use std::hint::black_box;

const POINTS: u32 = 20;
const ROUNDS: usize = 1000;

/// A generator good enough to draw rows with (Knuth's MMIX constants); the benchmark needs the same rows in
/// every run and no further dependency.
struct Draw(u64);

impl Draw {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap_or(0) % n
    }
}

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
            ((Law::Cardinal.rate(&truth, t) + scatter).max(0.0) * 1e4).round() / 1e4
        })
        .collect();
    let with = |rates: &[f64]| -> Result<Vec<Speed>> {
        celsius
            .iter()
            .zip(rates)
            .map(|(&t, &rate)| {
                Ok(Speed {
                    temperature: Temperature::celsius(t)?,
                    rate,
                })
            })
            .collect()
    };
    let points = with(&speeds)?;
    let report = fit_rate(&points, Law::Cardinal, Transform::None)?.report;
    let values = report.values();
    let errors: Vec<_> = report.estimates.iter().map(|e| e.standard_error).collect();

    let fitted: Vec<f64> = celsius
        .iter()
        .map(|&t| Law::Cardinal.rate(&values, t))
        .collect();
    let mut draw = Draw(6);
    // A speed is never below 0, which `fit_rate` would refuse.
    let samples: Vec<Vec<f64>> = (0..ROUNDS)
        .map(|_| {
            fitted
                .iter()
                .map(|f| {
                    let i = draw.below(speeds.len());
                    (f + speeds[i] - fitted[i]).max(0.0)
                })
                .collect()
        })
        .collect();
    let logs = samples
        .iter()
        .map(|s| with(s))
        .collect::<Result<Vec<_>>>()?;
    let optima = logs
        .iter()
        .map(|l| Ok(fit_rate(l, Law::Cardinal, Transform::None)?.report.values()))
        .collect::<Result<Vec<_>>>()?;
    answers::write(
        "fit",
        &json!({
            "celsius": celsius, "speeds": speeds, "values": values, "errors": errors,
            "samples": samples, "optima": optima,
        }),
    )?;

    let mut group = c.benchmark_group("fit");
    group.bench_function("cardinal_20", |b| {
        b.iter(|| fit_rate(black_box(&points), Law::Cardinal, Transform::None))
    });
    group.sample_size(10);
    // The library has no call for this yet: these are as many whole fits, each from its own starts.
    group.bench_function("residual_bootstrap_1000", |b| {
        b.iter(|| {
            black_box(&logs)
                .iter()
                .filter(|l| fit_rate(l, Law::Cardinal, Transform::None).is_ok())
                .count()
        })
    });
    group.finish();
    c.final_summary();
    Ok(())
}
