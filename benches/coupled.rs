//! A dough that drifts in a room of straight pieces while its own fermentation warms it: the hour at which its
//! gas has come to a target, with lag, growth and its cap.

mod answers;

use criterion::Criterion;
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::ferment::{
    Composition, Fermentation, Inoculum, Kinetics, Medium, OwnHeat, Parameters, Rates,
};
use pointage::rate::RateLaw;
use pointage::units::Temperature;
use serde_json::json;
use std::error::Error;
use std::hint::black_box;

fn main() -> Result<(), Box<dyn Error>> {
    let mut c = Criterion::default().configure_from_args();
    let knots = [(0.0, 22.0), (4.0, 19.0), (10.0, 18.0), (14.0, 23.0)];
    let (from_c, tau_h, target, added) = (25.0, 3.0, 230.0, 0.5);
    let rates = Rates {
        specific_gas_rate: 70.0,
        growth_rate: 0.39,
        growth_cap: 0.6,
        lag27_h: 2.8,
    };
    let gas = RateLaw::square_root(-0.9, 47.0, 0.48, 30.0)?;
    let growth = RateLaw::cardinal(2.6, 32.4, 41.3, 32.4)?;
    let kinetics = Kinetics::new(gas, growth, rates)?;
    let heat = OwnHeat {
        kelvin_per_ml: 0.0046,
    };
    let room = Ambient::ramps(&knots)?;
    let from = Temperature::celsius(from_c)?;
    let course = TemperatureProfile::following(&room, 0.0, from, tau_h)?;
    let volume = Parameters::shipped()?
        .space
        .of(&Composition::lean(62.0, 0.0), 0.0);
    let yeast = Inoculum {
        added,
        carried: 0.0,
    };
    let dough = Fermentation::new(&kinetics, Medium::NEUTRAL, volume, yeast)?.with_own_heat(heat);
    let end = dough
        .until_gas(&dough.start(), &course, target)?
        .ok_or("never reached")?;
    answers::write(
        "coupled",
        &json!({
            "knots": knots, "from_c": from_c, "tau_h": tau_h, "target": target, "added": added,
            "q30": rates.specific_gas_rate, "mu": rates.growth_rate, "cap": rates.growth_cap,
            "lag27_h": rates.lag27_h, "kelvin_per_ml": heat.kelvin_per_ml,
            "gas_law": {"low": -0.9, "high": 47.0, "c": 0.48},
            "growth_law": {"low": 2.6, "best": 32.4, "high": 41.3},
            "hours": end.hours(), "dough_c": end.temperature_c(), "yeast": end.yeast(),
        }),
    )?;
    let mut group = c.benchmark_group("coupled");
    group.bench_function("until_gas", |b| {
        b.iter(|| dough.until_gas(&dough.start(), black_box(&course), target))
    });
    group.finish();
    c.final_summary();
    Ok(())
}
