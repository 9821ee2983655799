//! The answer of `ice` in words.

use super::render::{NONE, Page, mass, temperature};
use pointage_api::ice::{IceAnswer, IceRequest};

pub const EXAMPLES: &str = "Example: 40 kg of water at 10 °C from a tap of 20 °C
  pointage ice --total 40kg --tap 20 --want 10";

pub fn words(request: &IceRequest, a: &IceAnswer) -> String {
    let mut page = Page::default();
    if a.ice_g > 0.0 {
        let (ice, tap) = (mass(a.ice_g), mass(a.tap_g));
        page.say(format!("Weigh {ice} of ice and {tap} of tap water."));
        page.say(format!(
            "Together they are {} and act like water of {}.",
            mass(request.total_g.as_grams()),
            temperature(request.want_c.as_celsius())
        ));
    } else {
        page.say(format!("No ice: {} of tap water.", mass(a.tap_g)));
    }
    page.cautions(&a.warnings, NONE);
    page.finish()
}
