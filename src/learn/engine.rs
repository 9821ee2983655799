//! Least squares: Levenberg-Marquardt with variable projection and several starts.
//!
//! [`Fit`] minimises `sum r_i(x)²` and reports values, standard errors, and what could not be determined.
//! [`linear`] does the same for a model that is linear in all its parameters; [`settle`] for a few parameters
//! with exact derivatives, without a matrix on the heap.
//!
//! * *Derivatives* come from the caller or from central differences of the fourth order.
//! * *A poor start*: parameters in which the model is linear are found by trial and solved out, and the fit is
//!   repeated in the others alone (variable projection). Where the two fits disagree or leave a parameter
//!   without effect, seeded starts around the first join in; the least sum wins.
//! * *Standard errors*: `sqrt(diag((JᵀJ)⁻¹) RSS/(n - k))` with the Jacobian at the solution.
//!
//! A fit that stops early is a [`Report`] with a reason, not an error.

mod linear;
#[cfg(test)]
mod nist_tests;
mod search;
mod small;

pub(crate) use linear::{Covariance, linear};
pub(crate) use search::{BOLD, Minimum, levenberg_marquardt};
pub(crate) use small::settle;

use crate::budget;
use crate::error::{Error, Result, check};
use nalgebra::{DMatrix, DVector};

/// Why a fit ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Termination {
    /// At a minimum: no step makes the sum of squares smaller.
    Converged,
    /// The steps allowed were used up.
    OutOfSteps,
    /// The model gave no number at the start, or on every step from it.
    NotANumber,
}

impl Termination {
    /// True when the values are those of a minimum.
    pub(crate) fn converged(self) -> bool {
        self == Self::Converged
    }
}

/// What the data say about a parameter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "ParameterStanding"))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Identifiability {
    /// It has a value and a standard error.
    Determined,
    /// The data do not determine it, or not apart from others of the same standing: no standard error.
    Undetermined,
}

/// One fitted parameter.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Estimate {
    /// Its name; ends in the unit.
    pub name: &'static str,
    /// Its value.
    pub value: f64,
    /// Standard error; `None` where the data give none.
    pub standard_error: Option<f64>,
    /// What the data say about it.
    pub standing: Identifiability,
}

/// The outcome of a fit.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Report {
    /// The parameters, in the order they were given.
    pub estimates: Vec<Estimate>,
    /// Sum of squares.
    pub rss: f64,
    /// Rows.
    pub rows: usize,
    /// Residual standard deviation, `sqrt(RSS/(n - k))`; `None` without a degree of freedom.
    pub residual_sd: Option<f64>,
    /// Correlations of the parameters; `None` where one has no standard error.
    pub correlations: Vec<Vec<Option<f64>>>,
    /// Why it ended.
    pub stop: Termination,
}

impl Report {
    pub(crate) fn values(&self) -> Vec<f64> {
        self.estimates.iter().map(|e| e.value).collect()
    }
}

type Function<'a> = Box<dyn Fn(&[f64], &mut [f64]) + 'a>;

/// A least-squares problem: residuals as a function of the parameters.
pub(crate) struct Fit<'a> {
    rows: usize,
    residuals: Function<'a>,
    jacobian: Option<Function<'a>>,
}

/// Stands for a residual that is no number: far above any real one, and its square still finite.
const NO_NUMBER: f64 = 1e120;
/// Step of a central difference of the fourth order as a share of the value: rounding then leaves 1e-12 of the
/// derivative, and truncation as much where the model swings through a hundred radians.
const STEP: f64 = 2e-4;

/// Rows of a fit that are as much work as a step of a dough.
pub(super) const ROWS_A_STEP: usize = 32;

impl<'a> Fit<'a> {
    /// A problem of so many rows; `residuals` writes one number a row. Where the model has no number
    /// it writes NaN, and the search turns back.
    pub(crate) fn new(rows: usize, residuals: impl Fn(&[f64], &mut [f64]) + 'a) -> Self {
        Self {
            rows,
            residuals: Box::new(residuals),
            jacobian: None,
        }
    }

    /// The same with exact derivatives: `jacobian` writes `dr_i/dx_j` at `[i * parameters + j]`.
    pub(crate) fn with_jacobian(mut self, jacobian: impl Fn(&[f64], &mut [f64]) + 'a) -> Self {
        self.jacobian = Some(Box::new(jacobian));
        self
    }

    /// Fits from a start, and from others around it where the first ways do not agree.
    ///
    /// # Errors
    /// No parameter, fewer rows than parameters, or a start that is not finite. Everything else is in the
    /// report.
    pub(crate) fn run(&self, names: &[&'static str], start: &[f64]) -> Result<Report> {
        if start.is_empty() || self.rows < start.len() {
            return Err(Error::contradiction(format!(
                "{} rows cannot determine {} parameters; give at least as many rows as parameters",
                self.rows,
                start.len()
            )));
        }
        for (name, &value) in names.iter().zip(start) {
            check(name, value, f64::NEG_INFINITY, f64::INFINITY, "")?;
        }
        let minimum = search::multistart(self, start);
        Ok(self.report(names, &minimum))
    }

    /// What a minimum says about the parameters.
    pub(crate) fn report(&self, names: &[&'static str], minimum: &Minimum) -> Report {
        let (rows, n) = (self.rows, names.len());
        let jacobian = self.jacobian(minimum.x.as_slice());
        let found = jacobian.and_then(linear::covariance);
        let residual_sd = (rows > n).then(|| (minimum.rss / (rows - n) as f64).sqrt());
        let variance = |i: usize, j: usize| found.as_ref().map_or(0.0, |f| f.matrix[(i, j)]);
        let correlation = |i, j| {
            let product = variance(i, i) * variance(j, j);
            (product > 0.0).then(|| variance(i, j) / product.sqrt())
        };
        let row = |i| (0..n).map(|j| correlation(i, j)).collect();
        let is_lost = |j: usize| found.as_ref().is_none_or(|f| f.undetermined[j]);
        let is_sure = |j: usize| !is_lost(j) && minimum.stop.converged();
        let error = |j: usize| residual_sd.map(|sd| sd * variance(j, j).sqrt());
        let estimate = |(j, &name): (usize, &&'static str)| Estimate {
            name,
            value: minimum.x[j],
            standard_error: error(j).filter(|_| is_sure(j)),
            standing: match is_lost(j) {
                true => Identifiability::Undetermined,
                false => Identifiability::Determined,
            },
        };
        Report {
            estimates: names.iter().enumerate().map(estimate).collect(),
            rss: minimum.rss,
            rows,
            residual_sd,
            correlations: (0..n).map(row).collect(),
            stop: minimum.stop,
        }
    }

    /// The residuals, with a huge number in place of none.
    fn residuals(&self, x: &[f64]) -> DVector<f64> {
        let mut out = DVector::from_element(self.rows, NO_NUMBER);
        if budget::spend(1 + self.rows / ROWS_A_STEP).is_ok() {
            (self.residuals)(x, out.as_mut_slice());
        }
        let is_number = |r: f64| r.abs() <= NO_NUMBER;
        out.map(|r| if is_number(r) { r } else { NO_NUMBER })
    }

    /// `dr/dx`; `None` where it has no number.
    fn jacobian(&self, x: &[f64]) -> Option<DMatrix<f64>> {
        let jacobian = match &self.jacobian {
            Some(given) => {
                let mut flat = vec![0.0; self.rows * x.len()];
                given(x, &mut flat);
                DMatrix::from_row_slice(self.rows, x.len(), &flat)
            }
            None => differences(x, |x| self.residuals(x)),
        };
        jacobian.iter().all(|d| d.is_finite()).then_some(jacobian)
    }
}

/// `df/dx` by central differences of the fourth order, `(8 (f₁ - f₋₁) - (f₂ - f₋₂))/(12 h)`.
fn differences(x: &[f64], f: impl Fn(&[f64]) -> DVector<f64>) -> DMatrix<f64> {
    let columns: Vec<DVector<f64>> = (0..x.len())
        .map(|j| {
            let step = STEP * if x[j] == 0.0 { 1.0 } else { x[j].abs() };
            let at = |k: f64| {
                let mut moved = x.to_vec();
                moved[j] += k * step;
                f(&moved)
            };
            ((at(1.0) - at(-1.0)) * 8.0 - (at(2.0) - at(-2.0))) / (12.0 * step)
        })
        .collect();
    DMatrix::from_columns(&columns)
}

#[cfg(test)]
mod tests {
    use super::*;

    const T: [f64; 6] = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0];

    fn decay(x: &[f64], out: &mut [f64]) {
        for (r, t) in out.iter_mut().zip(T) {
            *r = x[0] * (-x[1] * t).exp() - 2.0 * (-0.3 * t).exp() - 0.01 * (7.0 * t).sin();
        }
    }

    #[test]
    fn what_the_data_do_not_tell_has_no_error() {
        // Only the product of the first two enters; the last one not at all.
        let report = Fit::new(6, |x, out| {
            for (r, t) in out.iter_mut().zip(T) {
                *r = x[0] * x[1] * t - 3.0 * t + 0.1 * (5.0 * t).cos() + 0.0 * x[2];
            }
        })
        .run(&["a", "b", "c"], &[1.0; 3])
        .unwrap();
        assert!(
            report
                .estimates
                .iter()
                .all(|e| e.standing == Identifiability::Undetermined)
        );
        assert!(report.estimates.iter().all(|e| e.standard_error.is_none()));
        assert!((report.estimates[0].value * report.estimates[1].value - 3.0).abs() < 0.1);
    }

    #[test]
    fn a_model_without_numbers_is_a_report_and_misuse_an_error() {
        let nothing = Fit::new(6, |_, out| out.fill(f64::NAN));
        let report = nothing.run(&["a"], &[1.0]).unwrap();
        assert_eq!(report.stop, Termination::NotANumber);
        assert_eq!(report.estimates[0].standard_error, None);
        assert_eq!(report.estimates[0].value, 1.0);
        // A model that has numbers on one side of an edge only.
        let edge = Fit::new(6, |x, out| {
            for (r, t) in out.iter_mut().zip(T) {
                *r = (x[0] - 1.0).sqrt() * t - 0.5 * t;
            }
        });
        let report = edge.run(&["a"], &[9.0]).unwrap();
        assert!((report.estimates[0].value - 1.25).abs() < 1e-9);
        assert!(edge.run(&["a"], &[f64::NAN]).is_err());
        assert!(edge.run(&[], &[]).is_err());
        assert!(edge.run(&["a"; 7], &[2.0; 7]).is_err());
    }

    /// Errors are those of a minimum: not of a place where the search was cut short, nor without a row to
    /// spare.
    #[test]
    fn errors_are_told_at_a_minimum_only() {
        // Two rows of a mean: 1 and 3; the mean 2, squares 2, its error sqrt(2/1)/sqrt(2) = 1.
        let mean = Fit::new(2, |x, out| {
            out[0] = x[0] - 1.0;
            out[1] = x[0] - 3.0;
        });
        for (stop, told) in [
            (Termination::Converged, true),
            (Termination::OutOfSteps, false),
            (Termination::NotANumber, false),
        ] {
            let minimum = Minimum {
                x: DVector::from_element(1, 2.0),
                rss: 2.0,
                stop,
            };
            let report = mean.report(&["mean"], &minimum);
            assert_eq!(report.residual_sd, Some(2f64.sqrt()));
            let error = report.estimates[0].standard_error;
            assert_eq!(error.is_some(), told, "{stop:?}");
            assert!(error.is_none_or(|e| (e - 1.0).abs() < 1e-9));
        }
        let one = Fit::new(1, |x, out| out[0] = x[0] - 1.0);
        let report = one.run(&["a"], &[5.0]).unwrap();
        assert_eq!(report.residual_sd, None);
        assert_eq!(report.estimates[0].standard_error, None);
        assert!((report.estimates[0].value - 1.0).abs() < 1e-12);
    }

    /// Of `a + b t` at t = 0 to 5: `-sum t/sqrt(n sum t²) = -15/sqrt(6 · 55)`. What is not told goes with nothing.
    #[test]
    fn a_correlation_is_that_of_what_is_told() {
        let report = Fit::new(6, |x, out| {
            for (r, t) in out.iter_mut().zip(T) {
                *r = x[0] + x[1] * t - 0.1 * (5.0 * t).cos() + 0.0 * x[2];
            }
        })
        .run(&["a", "b", "c"], &[1.0; 3])
        .unwrap();
        let together = report.correlations[0][1].unwrap();
        assert!((together + 15.0 / 330f64.sqrt()).abs() < 1e-9, "{together}");
        assert_eq!(report.correlations[0][2], None);
        assert_eq!(report.correlations[2][2], None);
    }

    /// A residual that is no number, or larger than any real one, stands for none: huge, and its square finite.
    #[test]
    fn what_is_no_number_is_huge() {
        let fit = Fit::new(5, |_, out| {
            out.copy_from_slice(&[f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1e200, 3.0]);
        });
        let r = fit.residuals(&[1.0]);
        assert_eq!(r.as_slice(), [1e120, 1e120, 1e120, 1e120, 3.0]);
        assert!(r.norm_squared().is_finite());
    }

    /// Derivatives by calculus, and the same by differences to ten digits of the longest.
    #[test]
    fn differences_agree_with_calculus() {
        let given = Fit::new(6, decay).with_jacobian(|x, out| {
            for (row, t) in out.chunks_exact_mut(2).zip(T) {
                let fade = (-x[1] * t).exp();
                row.copy_from_slice(&[fade, -x[0] * t * fade]);
            }
        });
        for x in [[0.7, 0.3], [1e6, 2.0], [-3.0, 0.0]] {
            let a = Fit::new(6, decay).jacobian(&x).unwrap();
            let b = given.jacobian(&x).unwrap();
            for (a, b) in a.column_iter().zip(b.column_iter()) {
                assert!((a - b).norm() <= 1e-10 * b.norm(), "{x:?}: {a} {b}");
            }
        }
    }
}
