//! A temperature law fitted to measured speeds.

use super::request::{FieldValue, Input, request, values};
use super::sentences::remarks;
use super::{Assumption, Remark};
use pointage::error::Result;
use pointage::learn::rate_fit::{FitLaw, Transform, fit_rate, read_speeds};
use pointage::learn::{Estimate, Identifiability, Refused, Termination};
use serde::Serialize;

request! {
    /// Speeds and the law to fit.
    FitRateRequest = "fit-rate" {
        /// The points as CSV text, columns `temperature_c` and `rate`, see [`read_speeds`]
        data_csv: String as skip,
        /// cardinal, square-root, sharpe-schoolfield, q10 or arrhenius
        law: FitLaw = "law",
        /// The scale of the residuals [default: that of the speeds themselves]
        #[serde(default)]
        #[cfg_attr(feature = "schema", schemars(with = "Option<Transform>"))]
        transform: Transform as skip,
    }
}

values! {
    FitLaw, "LAW", true, Self::Cardinal, |i| i.text()?.parse();
    Transform, "", false, Self::default(), |i| i.json();
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
    pub warnings: Vec<Remark>,
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
    let answer = |(e, correlations): (&Estimate, &Vec<Option<f64>>)| ParameterAnswer {
        name: e.name.to_owned(),
        value: e.value,
        standard_error: e.standard_error,
        standing: e.standing,
        correlations: correlations.clone(),
    };
    let estimates = report.estimates.iter();
    let undetermined = |e: &&Estimate| e.standing == Identifiability::Undetermined;
    let names = estimates
        .clone()
        .filter(undetermined)
        .map(|e| e.name.to_owned());
    let undetermined = names.map(|parameter| Assumption::Undetermined { parameter });
    let unsettled = report.stop != Termination::Converged;
    let others = [
        unsettled.then_some(Assumption::NotConverged),
        fit.aic.is_none().then_some(Assumption::NoScatter),
        (report.residual_sd.is_none()).then_some(Assumption::NoFreedom),
    ];
    let warnings = remarks(undetermined.chain(others.into_iter().flatten()));
    Ok(FitRateAnswer {
        law: fit.law,
        transform: fit.transform,
        parameters: estimates.zip(&report.correlations).map(answer).collect(),
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
