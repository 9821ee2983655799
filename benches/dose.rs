//! The dose with which a poolish is ripe after 13 h: at one temperature, and in a record of 24 h with a row
//! each 5 minutes.

use criterion::Criterion;
use pointage::Result;
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::ferment::{EndPoint, Inoculum, Kind, Parameters, Stage};
use pointage::units::Temperature;
use std::hint::black_box;

fn main() -> Result<()> {
    let mut c = Criterion::default().configure_from_args();
    let p = Parameters::shipped()?;
    let poolish = Stage {
        composition: Kind::Poolish.usual()?,
        yeast: Inoculum::default(),
        end: EndPoint::Ripe(Kind::Poolish),
        own_heat: None,
    };
    let knots: Vec<(f64, f64)> = (0..=288)
        .map(|i| {
            let h = f64::from(i) / 12.0;
            (h, 21.0 + 3.0 * (std::f64::consts::TAU * h / 24.0).sin())
        })
        .collect();
    let room = Ambient::ramps(&knots)?;
    let courses = [
        (
            "held",
            TemperatureProfile::held(Temperature::celsius(21.0)?),
        ),
        ("record_24h", TemperatureProfile::of_room(&room, 0.0)),
    ];
    let mut group = c.benchmark_group("dose");
    for (name, course) in &courses {
        poolish.dose_for(&p, course, 13.0)?;
        group.bench_function(*name, |b| {
            b.iter(|| poolish.dose_for(black_box(&p), black_box(course), 13.0))
        });
    }
    group.finish();
    c.final_summary();
    Ok(())
}
