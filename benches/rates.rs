//! The relative rate: one value, and a slice of 4096 temperatures, by the cardinal and the Q10 law.

mod answers;

use criterion::{Criterion, Throughput};
use pointage::Result;
use pointage::rate::RateLaw;
use pointage::units::Temperature;
use serde_json::json;
use std::error::Error;
use std::hint::black_box;

/// Temperatures in the slice: 32 KiB each way, so that memory is not what is measured.
const LENGTH: u32 = 4096;

fn main() -> std::result::Result<(), Box<dyn Error>> {
    let mut c = Criterion::default().configure_from_args();
    // 3 to 40 °C, in an order in which branches on the temperature cannot be guessed from the last one.
    let celsius: Vec<f64> = (0..LENGTH)
        .map(|i| 3.0 + 37.0 * f64::from(i * 2_531 % LENGTH) / f64::from(LENGTH))
        .collect();
    let temperatures = celsius
        .iter()
        .map(|&t| Temperature::celsius(t))
        .collect::<Result<Vec<_>>>()?;
    let laws = [
        ("cardinal", RateLaw::cardinal(2.6, 32.4, 41.3, 24.0)?),
        ("q10", RateLaw::q10(2.3, 24.0, [0.0, 42.0])?),
    ];
    let mut told = json!({
        "celsius": celsius,
        "cardinal": {"low": 2.6, "best": 32.4, "high": 41.3, "reference": 24.0},
        "q10": {"factor": 2.3, "reference": 24.0},
    });
    let mut group = c.benchmark_group("rates");
    for (name, law) in &laws {
        let one = Temperature::celsius(27.5)?;
        group.throughput(Throughput::Elements(1));
        group.bench_function(format!("{name}_one"), |b| {
            b.iter(|| black_box(law).relative_rate(black_box(one)))
        });

        let mut out = vec![0.0; temperatures.len()];
        let fill = |out: &mut [f64]| black_box(law).relative_rates(black_box(&temperatures), out);
        fill(&mut out)?;
        told[*name]["rates"] = json!(out);
        group.throughput(Throughput::Elements(u64::from(LENGTH)));
        group.bench_function(format!("{name}_slice"), |b| b.iter(|| fill(&mut out)));
    }
    group.finish();
    answers::write("rates", &told)?;
    c.final_summary();
    Ok(())
}
