//! `pointage friction`

use super::exit::Failure;
use super::files;
use super::render::{Page, answered, counted, difference};
use pointage_api::friction::{FrictionAnswer, FrictionRequest, friction};
use pointage_api::friction_log::{FrictionLogAnswer, FrictionLogRequest, friction_log};
use std::path::PathBuf;

/// How warm mixing makes the dough
///
/// Of one mix: give its temperatures, or the base temperature it was made by. Of a log of mixes (CSV
/// with flour_g, flour_c, water_g, water_c, room_c, dough_c and a column such as slow_min for the
/// minutes at each speed): the heat of a minute at each speed.
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage friction --dough 80F --flour 65F --room 75F --water 65F
  pointage friction --base 62 --dough 24
  pointage friction --dough 25.4 --flour 20 --room 21 --water 18 \\
      --flour-mass 10kg --water-mass 6.5kg
  pointage friction mixes.csv")]
pub struct FrictionCommand {
    /// Log of mixes (CSV), in place of one mix
    #[arg(conflicts_with = "FrictionRequest")]
    log: Option<PathBuf>,
    #[command(flatten)]
    of_log: FrictionLogRequest,
    #[command(flatten)]
    of_mix: FrictionRequest,
}

impl FrictionCommand {
    pub fn run(mut self, json: bool) -> Result<String, Failure> {
        let Some(log) = &self.log else {
            self.of_mix.bowl_mass_g = self.of_log.bowl_mass_g;
            self.of_mix.flour_moisture_percent = self.of_log.flour_moisture_percent;
            return answered::<FrictionRequest, _>(json, friction(&self.of_mix), words);
        };
        let name = log.display().to_string();
        self.of_log.log_csv = files::read(log, files::RECORD_BYTES)?;
        let answer = friction_log(&self.of_log).map_err(|e| e.at(&name));
        answered::<FrictionLogRequest, _>(json, answer, |a| self.words_of_log(&name, a))
    }

    fn words_of_log(&self, name: &str, a: &FrictionLogAnswer) -> String {
        let mut page = Page::default();
        let used = counted(a.rows_used, "mix", "mixes");
        let scatter = a.report.residual_sd_k.map_or(String::new(), |sd| {
            format!(" The dough temperatures scatter by {sd:.2} °C.")
        });
        page.say(format!("{name}: {used}.{scatter}"));
        page.gap();
        for heat in &a.report.heats {
            let error = heat.standard_error.map(|e| format!("± {e:.4}"));
            let error = error.unwrap_or("unknown".into());
            page.line(format!(
                "{:<10} {:>9.4} {error:<8} {:<12} {:>7.2} °C in the dough",
                heat.name, heat.value, heat.unit, heat.rise_k
            ));
        }
        page.gap();
        let (heat, terms) = ("Minutes times heat, added up, is", a.report.terms);
        page.say(match self.of_log.sum_scale {
            true => format!(
                "{heat} the warming; times {terms} it is the friction for water --friction."
            ),
            false => format!("{heat} what water --mixing-heat asks for, in kJ/kg."),
        });
        let mut off = a.report.residuals_k.clone();
        off.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        let off = off.iter().take(3).filter(|(_, k)| k.abs() >= 0.05);
        let off = off.map(|(line, k)| format!("line {line}, {k:+.1} °C"));
        page.list("Largest differences", off);
        page.refused(&a.refused, &a.warnings);
        page.finish()
    }
}

fn words(a: &FrictionAnswer) -> String {
    let mut page = Page::default();
    let [factor, rise] = [a.friction_factor_c, a.real_rise_c].map(difference);
    let terms = a.terms;
    let (c, f) = (a.base_c, a.base_c * 1.8 + 32.0 * f64::from(terms));
    for sentence in [
        format!("Friction factor: {factor}. Use it as --friction of water."),
        format!("The mix warmed the dough by {rise}: the factor over {terms} terms."),
        format!("Base temperature of this mix: {c:.1} °C ({f:.0} °F)."),
    ] {
        page.say(sentence);
    }
    if let Some(heat) = a.mixing_heat_kj_per_kg.filter(|heat| *heat > 0.0) {
        page.say(format!("Heat of mixing: {heat:.1} kJ per kg of dough. Use it as --mixing-heat of water, or as mixing_heat_kj_per_kg of a bake: it holds for other masses and temperatures too."));
    }
    page.cautions(&a.warnings, &a.notes);
    page.finish()
}
