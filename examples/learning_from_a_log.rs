//! What do a few logged bakes say about this kitchen, and when is the next poolish ripe?
use pointage::ferment::{Kind, Parameters};
use pointage::learn::fit::learn;
use pointage::learn::log::Log;

/// As a spreadsheet would save it.
const LOG: &str = "\
kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen
poolish,2000,2000,fresh,6,20,12.5,ripe
poolish,2000,2000,fresh,6,23,9.5,ripe
poolish,2000,2000,fresh,4,20,14.5,ripe
poolish,2000,2000,fresh,4,18,13,not-yet
";

fn main() -> pointage::Result<()> {
    let shipped = Parameters::shipped()?;
    // This log names no record of a room, so none is ever asked for.
    let log = Log::from_csv(LOG, |name| {
        Err(pointage::Error::malformed(format!("no record {name}")))
    })?;
    for refused in &log.refused {
        println!("not used: {refused}");
    }
    let learned = learn(&log.observations, &shipped, None)?;
    println!(
        "gas of a ripe poolish: {:.0} mL per 100 g of flour, shipped {:.0}",
        learned.parameters.level(Kind::Poolish).gas,
        shipped.level(Kind::Poolish).gas
    );
    for warning in &learned.findings {
        println!("{warning:?}");
    }
    let next = learned.predict(&log.observations[2].bake)?;
    println!(
        "such a poolish again: {:.1} h, four times in five {:.1} to {:.1} h",
        next.hours, next.low_h, next.high_h
    );
    Ok(())
}
