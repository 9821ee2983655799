//! `pointage friction`

use super::failure::Failure;
use super::parse::Base;
use super::words::{Page, difference, output};
use pointage::json::friction::{FrictionAnswer, FrictionRequest, friction};
use pointage::units::Temperature;

/// How warm one mix has made the dough
///
/// Give the temperatures of the mix, or the base temperature it was made by.
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage friction --dough 80F --flour 65F --room 75F --water 65F
  pointage friction --base 62 --dough 24")]
pub struct Args {
    /// Dough at the end of the mix
    #[arg(long, value_name = "TEMPERATURE")]
    dough: Option<Temperature>,
    /// Flour
    #[arg(long, value_name = "TEMPERATURE")]
    flour: Option<Temperature>,
    /// Room
    #[arg(long, value_name = "TEMPERATURE")]
    room: Option<Temperature>,
    /// Preferment, if there was one
    #[arg(long, value_name = "TEMPERATURE")]
    preferment: Option<Temperature>,
    /// Water that was poured
    #[arg(long, value_name = "TEMPERATURE")]
    water: Option<Temperature>,
    /// Base temperature, the sum of flour, room and water, in their place
    #[arg(long, value_name = "SUM")]
    base: Option<Base>,
}

impl Args {
    pub fn run(&self, json: bool) -> Result<String, Failure> {
        let c = |t: Option<Temperature>| t.map(Temperature::as_celsius);
        let answer = friction(&FrictionRequest {
            dough_c: c(self.dough),
            flour_c: c(self.flour),
            room_c: c(self.room),
            preferment_c: c(self.preferment),
            water_c: c(self.water),
            base_c: self.base.map(|base| base.celsius(3)).transpose()?,
        })?;
        Ok(output(json, &answer, words)?)
    }
}

fn words(a: &FrictionAnswer) -> String {
    let mut page = Page::default();
    page.say(format!(
        "Friction on the scale of the sum: {}; use it with --friction.",
        difference(a.sum_scale_k)
    ));
    page.say(format!(
        "The dough itself was warmed by {}: the sum has {} terms.",
        difference(a.real_rise_k),
        a.terms
    ));
    page.say(format!(
        "Base temperature of this mix: {:.1} °C ({:.0} °F).",
        a.base_c,
        a.base_c * 1.8 + 32.0 * f64::from(a.terms)
    ));
    page.cautions(&a.warnings, &[]);
    page.finish()
}
