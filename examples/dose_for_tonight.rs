//! How much yeast, so that tonight's poolish is ripe in the morning, in a cellar that cools overnight?
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::ferment::{EndPoint, Inoculum, Kind, Parameters, Stage};
use pointage::formula::yeast_slurry::weigh_in_water;
use pointage::formula::{YeastFactors, YeastKind};
use pointage::units::{Mass, Temperature};

fn main() -> pointage::Result<()> {
    let numbers = Parameters::shipped()?;
    let hours = 11.5; // from 18:30 to 06:00
    let cellar = Ambient::ramps(&[(0.0, 21.0), (8.0, 16.0)])?;
    let tub = TemperatureProfile::following(&cellar, 0.0, Temperature::celsius(24.0)?, 2.0)?;
    let flour = Mass::kilograms(1.0)?;

    let poolish = |fresh_percent| -> pointage::Result<Stage> {
        Ok(Stage {
            composition: Kind::Poolish.usual()?,
            yeast: Inoculum {
                added: fresh_percent,
                carried: 0.0,
            },
            end: EndPoint::Ripe(Kind::Poolish),
            own_heat: None,
        })
    };
    let dose = poolish(0.0)?.dose_for(&numbers, &tub, hours)?;
    let instant = YeastFactors::shipped()?.factor(YeastKind::Instant);
    let yeast = Mass::grams(flour.as_grams() * dose * instant / 100.0)?;
    println!(
        "{:.2} g of instant yeast for 1 kg of flour",
        yeast.as_grams()
    );
    if let Some(pinch) = weigh_in_water(yeast, Mass::grams(1.0)?, flour)? {
        let [yeast, water, take] = [pinch.yeast, pinch.water, pinch.take].map(Mass::as_grams);
        println!("stir {yeast:.0} g of yeast into {water:.0} g of water, use {take:.0} g of it");
    }

    let ready = poolish(dose)?.ready(&numbers, &tub)?;
    let (open, close) = ready.window_h;
    println!("ripe after {:.1} h, good from {open:.1} h", ready.hours);
    if let Some(close) = close {
        println!("to {close:.1} h, at {:.1} °C", ready.at_end.temperature_c());
    }
    Ok(())
}
