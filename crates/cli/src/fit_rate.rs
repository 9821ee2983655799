//! `pointage fit-rate`

use super::exit::Failure;
use super::files;
use super::render::{Page, answered, digits};
use pointage::learn::rate_fit::Transform;
use pointage_api::fit_rate::{FitRateAnswer, FitRateRequest, fit_rate_of};
use std::path::PathBuf;

/// Fit a temperature law to measured speeds
///
/// The points are CSV with a header: temperature_c (or temperature_f), rate, and if need be note.
#[derive(clap::Args)]
#[command(after_help = "Example: growth rates at several temperatures
  pointage fit-rate rates.csv --law cardinal --sqrt")]
pub struct FitRateCommand {
    /// The points (CSV)
    data: PathBuf,
    #[command(flatten)]
    request: FitRateRequest,
    /// Fit the square roots of the speeds: slow points count as well
    #[arg(long)]
    sqrt: bool,
}

impl FitRateCommand {
    pub fn run(mut self, json: bool) -> Result<String, Failure> {
        let name = self.data.display().to_string();
        self.request.data_csv = files::read(&self.data, files::RECORD_BYTES)?;
        if self.sqrt {
            self.request.transform = Transform::Sqrt;
        }
        let answer = fit_rate_of(&self.request).map_err(|e| e.at(&name));
        answered::<FitRateRequest, _>(json, answer, |a| words(&name, a))
    }
}

fn words(name: &str, a: &FitRateAnswer) -> String {
    let mut page = Page::default();
    let (law, points, [low, high]) = (a.law.name(), a.rows_used, a.valid_c);
    page.say(format!(
        "{name}: {law} law through {points} points from {low:.1} to {high:.1} °C; it holds between them."
    ));
    page.gap();
    for p in &a.parameters {
        let error = p.standard_error.map(|e| format!("± {}", digits(e, 3)));
        let error = error.unwrap_or("no standard error".into());
        page.line(format!("{:<22} {:>12} {error}", p.name, digits(p.value, 6)));
    }
    page.gap();
    let of = match a.transform {
        Transform::Sqrt => " of the square roots",
        _ => "",
    };
    let rss = digits(a.rss, 4);
    let [aic, aicc] = [("AIC", a.aic), ("AICc", a.aicc)]
        .map(|(name, v)| v.map_or(String::new(), |v| format!(", {name} {v:.3}")));
    page.say(format!(
        "Sum of squares{of} {rss}{aic}{aicc}. ± is one standard error."
    ));
    page.refused(&a.refused, &a.warnings);
    page.finish()
}
