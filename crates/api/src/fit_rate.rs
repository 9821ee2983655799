//! A temperature law fitted to measured speeds.

use pointage::error::Result;
use pointage::learn::fit::sentences;
use pointage::learn::rate_fit::{FitLaw, Transform, fit_rate, read_speeds};
use pointage::learn::{Estimate, Identifiability, Refused, Termination};
use serde::{Deserialize, Serialize};

/// Speeds and the law to fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct FitRateRequest {
    /// The points as CSV text, columns `temperature_c` and `rate`, see [`read_speeds`].
    pub data_csv: String,
    /// The law.
    pub law: FitLaw,
    /// The scale of the residuals; that of the speeds themselves when left out.
    #[serde(default, deserialize_with = "super::null_is_usual")]
    #[cfg_attr(feature = "schema", schemars(with = "Option<Transform>"))]
    pub transform: Transform,
}

/// The fitted law.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct FitRateAnswer {
    /// The law.
    pub law: FitLaw,
    /// The scale of the residuals.
    pub transform: Transform,
    /// Its parameters.
    pub parameters: Vec<ParameterAnswer>,
    /// Points used.
    pub rows_used: usize,
    /// Sum of squares, on the scale of the residuals.
    pub rss: f64,
    /// Residual standard deviation on that scale; missing without a degree of freedom.
    pub residual_sd: Option<f64>,
    /// Akaike's criterion; missing where the points lie on the curve to the last digit.
    pub aic: Option<f64>,
    /// The same with the correction for few points; missing where there are too few.
    pub aicc: Option<f64>,
    /// Coldest and warmest point, °C: the law holds between them.
    pub valid_c: [f64; 2],
    /// How the fit ended.
    pub stop: Termination,
    /// Rows that could not be used.
    pub refused: Vec<Refused>,
    /// What the points cannot tell.
    pub warnings: Vec<String>,
}

/// A parameter of the law.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct ParameterAnswer {
    /// Its name; a rate has the unit of the data.
    pub name: String,
    /// Its value.
    pub value: f64,
    /// Standard error; missing where the points give none.
    pub standard_error: Option<f64>,
    /// What the points say about it.
    pub standing: Identifiability,
    /// Correlations with the parameters in order; missing where there is none.
    pub correlations: Vec<Option<f64>>,
}

/// Fits a law.
///
/// # Errors
/// Points that cannot be read, or too few of them.
///
/// ```
/// use pointage_api::fit_rate::{FitRateRequest, fit_rate_of};
/// let request: FitRateRequest = serde_json::from_str(
///     r#"{"data_csv":"temperature_c,rate\n10,1.0\n20,2.1\n30,4.0\n","law":"q10"}"#).unwrap();
/// let answer = fit_rate_of(&request)?;
/// assert_eq!(answer.parameters[1].name, "q10");
/// assert!((answer.parameters[1].value - 2.0).abs() < 0.1);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn fit_rate_of(request: &FitRateRequest) -> Result<FitRateAnswer> {
    let (points, refused) = read_speeds(&request.data_csv)?;
    let fit = fit_rate(&points, request.law, request.transform)?;
    let report = &fit.report;
    let parameters = report
        .estimates
        .iter()
        .zip(&report.correlations)
        .map(|(e, correlations)| ParameterAnswer {
            name: e.name.to_owned(),
            value: e.value,
            standard_error: e.standard_error,
            standing: e.standing,
            correlations: correlations.clone(),
        })
        .collect();
    let undetermined = |e: &&Estimate| e.standing == Identifiability::Undetermined;
    let undetermined = report.estimates.iter().filter(undetermined);
    let mut warnings: Vec<String> = undetermined
        .map(|e| format!("the points do not determine {}; measure at more temperatures, on both sides of the optimum", e.name))
        .collect();
    if report.stop != Termination::Converged {
        warnings.push(format!("the fit {}", sentences::stop(report.stop)));
    }
    if fit.aic.is_none() {
        warnings.push("the points lie on the curve to the last digit: they do not scatter, so nothing tells how sure a number is".into());
    }
    if report.residual_sd.is_none() {
        warnings
            .push("as many parameters as points: nothing is left to judge the errors by".into());
    }
    Ok(FitRateAnswer {
        law: fit.law,
        transform: fit.transform,
        parameters,
        rows_used: points.len(),
        rss: report.rss,
        residual_sd: report.residual_sd,
        aic: fit.aic,
        aicc: fit.aicc,
        valid_c: fit.span_c,
        stop: report.stop,
        refused,
        warnings,
    })
}
