//! What water, by the DDT formula and by the heat balance?
use pointage::heat::balance::{Mixing, ThermalMass};
use pointage::heat::ddt_formula::DdtFormula;
use pointage::heat::properties::ThermalProperties;
use pointage::units::{Mass, Temperature, TemperatureDifference};

fn main() -> pointage::Result<()> {
    let (dough, flour) = (Temperature::celsius(24.0)?, Temperature::celsius(20.0)?);
    let room = Temperature::celsius(21.0)?;
    let rule = DdtFormula {
        flour,
        room,
        preferment: None,
    };
    let by_rule = rule.water_for_dough(dough, TemperatureDifference::kelvin(12.0)?)?;

    let c = ThermalProperties::shipped()?;
    let flour = ThermalMass::new(Mass::kilograms(10.0)?, c.c_flour_kj_per_kg_k, flour)?;
    let mut mix = Mixing::new(flour, Mass::kilograms(6.5)?, c);
    mix.hydration_kj_per_kg = 9.9; // flour of 14 % moisture
    mix.mixing_kj_per_kg = 6.0; // a gentle mixer
    let balance = mix.water_for_dough(dough)?;
    println!(
        "water of {:.1} °C by the rule, {:.1} °C by the balance",
        by_rule.as_celsius(),
        balance.water.as_celsius()
    );
    Ok(())
}
