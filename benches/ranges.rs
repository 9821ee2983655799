//! The range of an hour at which a poolish is ripe, at one temperature and in a drifting room while it warms itself:
//! by its slopes, found in one pass, and, for reference, by following the dough with each uncertain number moved up and
//! down. The hour itself is part of both. Prints how many times as many the first answers.

use criterion::Criterion;
use pointage::Result;
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::ferment::{EndPoint, Inoculum, Kind, OwnHeat, Parameters, Stage, Uncertain};
use pointage::units::Temperature;
use std::hint::black_box;

const KIND: Kind = Kind::Poolish;
const MOVED: [Uncertain; 5] = [
    Uncertain::Level(KIND),
    Uncertain::Tilt,
    Uncertain::GrowthRate,
    Uncertain::GrowthCap,
    Uncertain::Lag,
];

fn by_slopes(
    stage: &Stage,
    p: &Parameters,
    course: &TemperatureProfile<'_>,
) -> Result<Option<(f64, f64)>> {
    let hours = stage.ripe(p, course)?.hours();
    Ok(stage
        .uncertainty(p, KIND, course, hours, None)?
        .of_hours(hours))
}

fn by_neighbours(
    stage: &Stage,
    near: &[[Parameters; 2]],
    p: &Parameters,
    course: &TemperatureProfile<'_>,
) -> Result<f64> {
    let mut variance = p.spread.day.powi(2);
    for [up, down] in near {
        let ratio = stage.ripe(up, course)?.hours() / stage.ripe(down, course)?.hours();
        variance += (0.5 * ratio.ln()).powi(2);
    }
    Ok(stage.ripe(p, course)?.hours() * (1.2816 * variance.sqrt()).exp())
}

fn main() -> Result<()> {
    let mut c = Criterion::default().configure_from_args();
    let p = Parameters::shipped()?;
    let mut near = Vec::new();
    for which in MOVED {
        near.push([p.moved(which, 1.0)?, p.moved(which, -1.0)?]);
    }
    let knots = [(0.0, 22.0), (4.0, 19.0), (10.0, 18.0), (14.0, 23.0)];
    let room = Ambient::ramps(&knots)?;
    let from = Temperature::celsius(24.0)?;
    let held = Stage {
        composition: KIND.usual()?,
        yeast: Inoculum {
            added: 0.3,
            carried: 0.0,
        },
        end: EndPoint::Ripe(KIND),
        own_heat: None,
    };
    let heat = OwnHeat::new(50.0, 24_465.0, 0.2, 3.0)?;
    let drifting = Stage {
        own_heat: Some(heat),
        ..held
    };
    let courses = [
        ("held", held, TemperatureProfile::held(from)),
        (
            "drifting",
            drifting,
            TemperatureProfile::following(&room, 0.0, from, 3.0)?,
        ),
    ];
    for (name, stage, course) in &courses {
        // Both say the same, but for what a whole standard deviation bends.
        let high = by_slopes(stage, &p, course)?.map_or(f64::NAN, |(_, high)| high);
        let reference = by_neighbours(stage, &near, &p, course)?;
        assert!(
            (high / reference - 1.0).abs() < 0.02,
            "{name}: {high} {reference}"
        );
        let mut group = c.benchmark_group(format!("ranges_{name}"));
        group.bench_function("slopes", |b| {
            b.iter(|| by_slopes(black_box(stage), &p, black_box(course)))
        });
        group.bench_function("neighbours", |b| {
            b.iter(|| by_neighbours(black_box(stage), &near, &p, black_box(course)))
        });
        group.finish();
        println!(
            "{name}: {:.1} times as many",
            ratio(
                || by_slopes(stage, &p, course).is_ok(),
                || by_neighbours(stage, &near, &p, course).is_ok()
            )
        );
    }
    c.final_summary();
    Ok(())
}

/// How many times as often the first is done as the second, in turns.
fn ratio(first: impl Fn() -> bool, second: impl Fn() -> bool) -> f64 {
    let time = |work: &dyn Fn() -> bool| {
        let start = std::time::Instant::now();
        (0..200).for_each(|_| assert!(black_box(work())));
        start.elapsed().as_secs_f64()
    };
    let mut times = [0.0; 2];
    for _ in 0..20 {
        times[0] += time(&first);
        times[1] += time(&second);
    }
    times[1] / times[0]
}
