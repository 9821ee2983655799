//! `pointage water`

use super::exit::Failure;
use super::parse::{Base, number};
use super::render::{Page, flags_only, mass, output, temperature};
use pointage::units::{
    Mass, Percent, Temperature, TemperatureDifference, as_hours, parse_duration,
};
use pointage_api::water::{WaterAnswer, WaterRequest, water};
use std::time::Duration;

/// What water, and whether it takes ice
///
/// Two methods: the trade's sum rule, with --friction or --base, and the heat balance, with
/// --flour-mass and --water-mass.
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage water --dough 24 --flour 20 --room 21 --friction 2
  pointage water --dough 75F --flour 71F --room 71F --preferment 70F --friction 20F
  pointage water --dough 25 --flour 28 --room 29 --friction 12 --flour-mass 10kg \\
      --water-mass 6.5kg --salt-mass 200g --tap 18")]
pub struct Args {
    /// Wanted dough at the end of the mix
    #[arg(long, value_name = "TEMPERATURE")]
    dough: Option<Temperature>,
    /// Flour
    #[arg(long, value_name = "TEMPERATURE")]
    flour: Option<Temperature>,
    /// Room
    #[arg(long, value_name = "TEMPERATURE")]
    room: Option<Temperature>,
    /// Preferment, the fourth term of the sum
    #[arg(long, value_name = "TEMPERATURE")]
    preferment: Option<Temperature>,
    /// Friction on the scale of the sum; a difference, so 20F is 11.1 K
    #[arg(long, value_name = "DIFFERENCE")]
    friction: Option<TemperatureDifference>,
    /// Base temperature, a sum, in place of --friction
    #[arg(long, value_name = "SUM")]
    base: Option<Base>,
    /// Flour of this mix, without that of the preferment
    #[arg(long, value_name = "MASS")]
    flour_mass: Option<Mass>,
    /// Water of this mix, without that of the preferment and the second water
    #[arg(long, value_name = "MASS")]
    water_mass: Option<Mass>,
    /// Salt
    #[arg(long, value_name = "MASS")]
    salt_mass: Option<Mass>,
    /// Temperature of the salt [default: the flour's]
    #[arg(long, value_name = "TEMPERATURE")]
    salt: Option<Temperature>,
    /// Preferment
    #[arg(long, value_name = "MASS")]
    preferment_mass: Option<Mass>,
    /// Heat capacity of the preferment, kJ/(kg K) [default: that of a poolish]
    #[arg(long, value_name = "NUMBER", value_parser = number)]
    preferment_heat_capacity: Option<f64>,
    /// Yeast
    #[arg(long, value_name = "MASS")]
    yeast_mass: Option<Mass>,
    /// Temperature of the yeast [default: the flour's]
    #[arg(long, value_name = "TEMPERATURE")]
    yeast_temp: Option<Temperature>,
    /// Moisture of the flour, from which its heat of hydration follows [default: 14%]
    #[arg(long, value_name = "PERCENT")]
    flour_moisture: Option<Percent>,
    /// Heat of hydration, kJ per kg of flour, in place of --flour-moisture
    #[arg(long, value_name = "NUMBER", value_parser = number)]
    hydration_heat: Option<f64>,
    /// Heat of mixing, kJ per kg of dough [default: 6]
    #[arg(long, value_name = "NUMBER", value_parser = number)]
    mixing_heat: Option<f64>,
    /// Bowl, of steel
    #[arg(long, value_name = "MASS")]
    bowl_mass: Option<Mass>,
    /// Temperature of the bowl [default: the room's]
    #[arg(long, value_name = "TEMPERATURE")]
    bowl: Option<Temperature>,
    /// Rest between the first mix and salt, yeast and second water
    #[arg(long, value_name = "TIME", value_parser = parse_duration)]
    rest: Option<Duration>,
    /// Where it rests [default: the room]
    #[arg(long, value_name = "TEMPERATURE")]
    rest_room: Option<Temperature>,
    /// Second water, on top of the first
    #[arg(long, value_name = "MASS")]
    bassinage: Option<Mass>,
    /// Temperature of the second water [default: the tap's]
    #[arg(long, value_name = "TEMPERATURE")]
    bassinage_temp: Option<Temperature>,
    /// Tap, for the grams of ice
    #[arg(long, value_name = "TEMPERATURE")]
    tap: Option<Temperature>,
    /// Temperature of the ice [default: 0]
    #[arg(long, value_name = "TEMPERATURE")]
    ice_temp: Option<Temperature>,
}

impl Args {
    pub fn run(&self, json: bool) -> Result<String, Failure> {
        let c = |t: Option<Temperature>| t.map(Temperature::as_celsius);
        let g = |m: Option<Mass>| m.map(Mass::as_grams);
        let terms = if self.preferment.is_some() { 4 } else { 3 };
        let answer = water(&WaterRequest {
            dough_c: c(self.dough),
            flour_c: c(self.flour),
            room_c: c(self.room),
            preferment_c: c(self.preferment),
            friction_factor_c: self.friction.map(TemperatureDifference::as_kelvin),
            base_c: self.base.map(|base| base.celsius(terms)).transpose()?,
            flour_mass_g: g(self.flour_mass),
            water_mass_g: g(self.water_mass),
            salt_mass_g: g(self.salt_mass),
            salt_c: c(self.salt),
            preferment_mass_g: g(self.preferment_mass),
            preferment_heat_capacity_kj_per_kg_k: self.preferment_heat_capacity,
            preferment_hydration_percent: None,
            yeast_mass_g: g(self.yeast_mass),
            yeast_c: c(self.yeast_temp),
            flour_moisture_percent: self.flour_moisture.map(Percent::as_percent),
            hydration_heat_kj_per_kg: self.hydration_heat,
            mixing_heat_kj_per_kg: self.mixing_heat,
            bowl_mass_g: g(self.bowl_mass),
            bowl_c: c(self.bowl),
            rest_h: self.rest.map(as_hours),
            rest_room_c: c(self.rest_room),
            rest_time_constant_h: None,
            bassinage_g: g(self.bassinage),
            bassinage_c: c(self.bassinage_temp),
            tap_c: c(self.tap),
            ice_c: c(self.ice_temp),
        })?;
        Ok(output(json, &answer, words)?)
    }
}

fn words(a: &WaterAnswer) -> String {
    let mut page = Page::default();
    let pour = |ice_g: Option<f64>, tap_g: Option<f64>| match (ice_g, tap_g) {
        (Some(ice), Some(tap)) => format!(": {} of ice and {} of tap water", mass(ice), mass(tap)),
        _ => String::new(),
    };
    let balance = a.heat_balance.as_ref();
    let balance = balance.map(|b| (temperature(b.water_c), pour(b.ice_g, b.tap_g)));
    let rule = a.ddt_formula.as_ref();
    let rule = rule.map(|r| (temperature(r.water_c), pour(r.ice_g, r.tap_g)));
    match (balance, rule) {
        (Some((water, ice)), other) => {
            page.say(format!("Pour water at {water} by the heat balance{ice}."));
            if let Some((water, ice)) = other {
                page.say(format!("The sum rule says {water}{ice}."));
            }
        }
        (None, Some((water, ice))) => {
            page.say(format!("Pour water at {water} by the sum rule{ice}."));
        }
        (None, None) => page.say("No answer yet: each method lacks something."),
    }
    if let Some(r) = &a.ddt_formula {
        let friction = match (r.friction_factor_c, r.real_rise_c) {
            (Some(sum), Some(real)) => {
                format!(" Friction {sum:.1} K on the sum is {real:.1} K in the dough.")
            }
            _ => String::new(),
        };
        page.gap();
        page.say(format!(
            "Sum rule: {} and water add up to {:.1} °C.{friction}",
            if r.terms == 4 {
                "flour, room, preferment"
            } else {
                "flour, room"
            },
            r.base_c
        ));
    }
    if let Some(b) = &a.heat_balance {
        page.gap();
        page.say(format!(
            "Heat balance: wetting the flour warms the dough by {:.1} K, the mixer by {:.1} K; 1 K more in the water makes the dough {:.2} K warmer.",
            b.hydration_rise_c, b.mixing_rise_c, b.dough_per_water
        ));
        if let (Some(start), Some(end)) = (b.rest_start_c, b.rest_end_c) {
            page.say(format!(
                "The first mix begins its rest at {start:.1} °C and ends it at {end:.1} °C."
            ));
        }
    }
    if let Some(reason) = &a.difference_reason {
        page.gap();
        page.say(format!("Why they differ: {}", flags_only(reason)));
    }
    page.cautions(&a.warnings, &a.notes);
    page.finish()
}
