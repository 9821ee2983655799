//! `pointage ice`

use super::exit::Failure;
use super::render::{Page, mass, output, temperature};
use pointage::units::{Mass, Temperature};
use pointage_api::ice::{IceAnswer, IceRequest, ice};

/// How much of a pour is ice
///
/// The ice replaces as much tap water, so that the pour keeps its mass.
#[derive(clap::Args)]
#[command(after_help = "Example: 40 kg of water at 10 °C from a tap of 20 °C
  pointage ice --total 40kg --tap 20 --want 10")]
pub struct Args {
    /// Ice and tap water together
    #[arg(long, value_name = "MASS")]
    total: Mass,
    /// Temperature of the tap
    #[arg(long, value_name = "TEMPERATURE")]
    tap: Temperature,
    /// Wanted temperature of the pour; below 0 °C the last ice melts in the dough
    #[arg(long, value_name = "TEMPERATURE")]
    want: Temperature,
    /// Temperature of the ice
    #[arg(long, value_name = "TEMPERATURE", default_value = "0")]
    ice_temp: Temperature,
}

impl Args {
    pub fn run(&self, json: bool) -> Result<String, Failure> {
        let answer = ice(&IceRequest {
            total_g: self.total.as_grams(),
            tap_c: self.tap.as_celsius(),
            want_c: self.want.as_celsius(),
            ice_c: self.ice_temp.as_celsius(),
        })?;
        Ok(output(json, &answer, |a| self.words(a))?)
    }

    fn words(&self, a: &IceAnswer) -> String {
        let mut page = Page::default();
        if a.ice_g > 0.0 {
            page.say(format!(
                "Weigh {} of ice and {} of tap water.",
                mass(a.ice_g),
                mass(a.tap_g)
            ));
            page.say(format!(
                "Together they are {} and act like water of {}.",
                mass(self.total.as_grams()),
                temperature(self.want.as_celsius())
            ));
        } else {
            page.say(format!("No ice: {} of tap water.", mass(a.tap_g)));
        }
        page.cautions(&a.warnings, &[]);
        page.finish()
    }
}
