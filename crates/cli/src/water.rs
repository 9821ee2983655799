//! The answers of `water` and `ice` in words.

use super::render::{NONE, Page, difference, mass, temperature};
use pointage_api::ice::{IceAnswer, IceRequest};
use pointage_api::water::WaterAnswer;

pub const EXAMPLES: &str = "Examples:
  pointage water --dough 24 --flour 20 --room 21 --friction 2
  pointage water --dough 75F --flour 71F --room 71F --preferment 70F --friction 20F
  pointage water --dough 25 --flour 28 --room 29 --friction 12 --flour-mass 10kg \\
      --water-mass 6.5kg --salt-mass 200g --tap 18";

/// One pour: that of the balance where masses are known, else that of the formula.
pub fn words(a: &WaterAnswer) -> String {
    let mut page = Page::default();
    let pour = |water_c: f64, ice_g: Option<f64>, tap_g: Option<f64>| {
        let water = temperature(water_c);
        match (ice_g.map(mass), tap_g.map(mass)) {
            (Some(ice), Some(tap)) => format!("{water}: {ice} of ice and {tap} of tap water"),
            _ => water,
        }
    };
    let balance = a.heat_balance.as_ref();
    let balance = balance.map(|b| pour(b.water_c, b.ice_g, b.tap_g));
    let formula = a.ddt_formula.as_ref();
    let formula = formula.map(|f| pour(f.water_c, f.ice_g, f.tap_g));
    let mut pours = balance.into_iter().chain(formula);
    if let Some(water) = pours.next() {
        page.say(format!("Pour the dough water at {water}."));
    }
    for water in pours {
        page.say(format!("Cross-check, the DDT formula: {water}."));
    }
    if let Some(f) = &a.ddt_formula {
        let terms = match f.terms {
            4 => "flour, room, preferment",
            _ => "flour, room",
        };
        page.gap();
        let base = f.base_c;
        page.say(format!(
            "DDT formula: {terms} and water add up to {base:.1} °C."
        ));
        if let (Some(factor), Some(rise)) = (f.friction_factor_c, f.real_rise_c) {
            let (factor, rise) = (difference(factor), difference(rise));
            page.say(format!(
                "A friction factor of {factor} warms the dough by {rise}."
            ));
        }
    }
    if let Some(b) = &a.heat_balance {
        page.gap();
        page.say(format!(
            "Heat balance: wetting the flour warms the dough by {:.1} °C, the mixer by {:.1} °C. Water 1 °C warmer makes the dough {:.2} °C warmer.",
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
        page.say(reason.to_string());
    }
    page.cautions(&a.warnings, &a.notes);
    page.finish()
}

pub const ICE_EXAMPLES: &str = "Example: 40 kg of water at 10 °C from a tap of 20 °C
  pointage ice --total 40kg --tap 20 --want 10";

pub fn words_of_ice(request: &IceRequest, a: &IceAnswer) -> String {
    let mut page = Page::default();
    if a.ice_g > 0.0 {
        let (ice, tap) = (mass(a.ice_g), mass(a.tap_g));
        let all = mass(request.total_g.as_grams());
        let water = temperature(request.want_c.as_celsius());
        page.say(format!("Weigh {ice} of ice and {tap} of tap water."));
        page.say(format!(
            "Together they are {all} and act like water of {water}."
        ));
    } else {
        page.say(format!("No ice: {} of tap water.", mass(a.tap_g)));
    }
    page.cautions(&a.warnings, NONE);
    page.finish()
}
