//! `pointage friction`

use super::exit::Failure;
use super::files;
use super::parse::Base;
use super::render::{Page, counted, difference, output};
use pointage::units::{Mass, Percent, Temperature};
use pointage_api::friction::{FrictionAnswer, FrictionRequest, friction};
use pointage_api::friction_log::{FrictionLogAnswer, FrictionLogRequest, friction_log};
use std::path::{Path, PathBuf};

/// How warm mixing makes the dough
///
/// Of one mix: give its temperatures, or the base temperature it was made by. Of a log of mixes (CSV
/// with flour_g, flour_c, water_g, water_c, room_c, dough_c and a column such as slow_min for the
/// minutes at each speed): the heat of a minute at each speed.
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage friction --dough 80F --flour 65F --room 75F --water 65F
  pointage friction --base 62 --dough 24
  pointage friction mixes.csv")]
pub struct Args {
    /// Log of mixes (CSV), in place of one mix
    #[arg(conflicts_with_all = ["dough", "flour", "room", "preferment", "water", "base"])]
    log: Option<PathBuf>,
    /// With a log: friction on the scale of the trade's sum, not by the heat balance
    #[arg(long, requires = "log")]
    sum: bool,
    /// With a log: learn the heat of wetting too
    #[arg(long, requires = "log")]
    learn_wetting: bool,
    /// With a log: moisture of the flour, for the heat of wetting
    #[arg(long, value_name = "PERCENT", requires = "log")]
    flour_moisture: Option<Percent>,
    /// With a log: steel bowl that comes as warm as the room
    #[arg(long, value_name = "MASS", requires = "log")]
    bowl_mass: Option<Mass>,
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
        if let Some(log) = &self.log {
            return self.of_log(json, log);
        }
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

    fn of_log(&self, json: bool, log: &Path) -> Result<String, Failure> {
        let name = log.display().to_string();
        let answer = friction_log(&FrictionLogRequest {
            log_csv: files::read(log, files::RECORD_BYTES)?,
            sum_scale: self.sum,
            learn_wetting: self.learn_wetting,
            flour_moisture_percent: self.flour_moisture.map(Percent::as_percent),
            bowl_kg: self.bowl_mass.map(|m| m.as_grams() / 1000.0),
        })
        .map_err(|e| e.at(&name))?;
        Ok(output(json, &answer, |a| self.words_of_log(&name, a))?)
    }

    fn words_of_log(&self, name: &str, a: &FrictionLogAnswer) -> String {
        let mut page = Page::default();
        let scatter = a.report.residual_sd_k.map_or(String::new(), |sd| {
            format!(" The dough temperatures scatter by {sd:.2} K.")
        });
        page.say(format!(
            "{name}: {}.{scatter}",
            counted(a.rows_used, "mix", "mixes")
        ));
        page.gap();
        for heat in &a.report.heats {
            let error = match heat.standard_error {
                Some(e) => format!("± {e:.4}"),
                None => "not told".into(),
            };
            page.line(format!(
                "{:<10} {:>9.4} {error:<8} {:<12} {:>7.2} K in the dough",
                heat.name, heat.value, heat.unit, heat.rise_k
            ));
        }
        page.gap();
        page.say(if self.sum {
            format!(
                "Minutes times heat, added up, is the warming; times {} it is the friction for water --friction.",
                a.report.terms
            )
        } else {
            "Minutes times heat, added up, is what water --mixing-heat asks for, in kJ/kg.".into()
        });
        let mut off = a.report.residuals_k.clone();
        off.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        let off: Vec<String> = off
            .iter()
            .take(3)
            .filter(|(_, k)| k.abs() >= 0.05)
            .map(|(line, k)| format!("line {line}, {k:+.1} K"))
            .collect();
        if !off.is_empty() {
            page.say(format!("Farthest off: {}.", off.join("; ")));
        }
        let refused = a.refused.iter().map(|r| format!("Not used: {r}."));
        let warnings: Vec<String> = refused
            .chain(a.warnings.iter().map(|w| format!("{w}.")))
            .collect();
        page.cautions(&warnings, &[]);
        page.finish()
    }
}

fn words(a: &FrictionAnswer) -> String {
    let mut page = Page::default();
    page.say(format!(
        "Friction on the scale of the sum: {}; use it with --friction.",
        difference(a.sum_scale_c)
    ));
    page.say(format!(
        "The dough itself was warmed by {}: the sum has {} terms.",
        difference(a.real_rise_c),
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
