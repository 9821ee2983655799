//! The hour at which a course has counted for a given time at the reference temperature: a room of four
//! straight pieces, and a record of 24, 48 and 96 h with a row each 5 minutes.

mod answers;

use criterion::Criterion;
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::ferment::time_to_equivalent;
use pointage::rate::RateLaw;
use serde_json::{Map, json};
use std::error::Error;
use std::hint::black_box;

/// A room that swings over the day, with the short ripple of a thermostat, as a logger shows it: to 0.1 °C.
fn record(hours: u32) -> Vec<(f64, f64)> {
    (0..=hours * 12)
        .map(|i| {
            let h = f64::from(i) / 12.0;
            let day = (std::f64::consts::TAU * h / 24.0).sin();
            let ripple = (std::f64::consts::TAU * h / 0.7).sin();
            (h, ((21.0 + 3.0 * day + 0.4 * ripple) * 10.0).round() / 10.0)
        })
        .collect()
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut c = Criterion::default().configure_from_args();
    // The target is met on the last piece, so that all of them are used.
    let rooms = [
        (
            "pieces",
            vec![
                (0.0, 26.0),
                (3.0, 20.0),
                (8.0, 17.0),
                (10.0, 24.0),
                (14.0, 27.0),
            ],
            10.0,
        ),
        ("record_24h", record(24), 17.0),
        ("record_48h", record(48), 35.0),
        ("record_96h", record(96), 71.0),
    ];
    let laws = [
        ("cardinal", RateLaw::cardinal(2.6, 32.4, 41.3, 24.0)?),
        ("q10", RateLaw::q10(2.3, 24.0, [0.0, 42.0])?),
    ];
    let mut told = Map::new();
    let mut group = c.benchmark_group("time_to_target");
    for (room_name, knots, target) in &rooms {
        let room = Ambient::ramps(knots)?;
        let course = TemperatureProfile::of_room(&room, 0.0);
        for (law_name, law) in &laws {
            let hours = time_to_equivalent(law, &course, *target)?.ok_or("never reached")?;
            let (last, _) = knots[knots.len() - 1];
            assert!(hours < last, "{room_name}: {hours} h is beyond the record");
            let name = format!("{room_name}_{law_name}");
            told.insert(
                name.clone(),
                json!({"knots": knots, "target": target, "hours": hours}),
            );
            group.bench_function(name, |b| {
                b.iter(|| time_to_equivalent(black_box(law), black_box(&course), *target))
            });
        }
    }
    group.finish();
    answers::write("time_to_target", &told.into())?;
    c.final_summary();
    Ok(())
}
