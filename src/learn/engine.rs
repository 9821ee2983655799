//! Least squares: the one door to the numerics.
//!
//! [`Fit`] minimises `sum r_i(x)²` by Levenberg-Marquardt, inside bounds if there are any, and reports
//! values, standard errors, and what could not be determined. [`linear`] does the same for a model that
//! is linear in all its parameters.
//!
//! * *Derivatives* come from the caller or from central differences extrapolated to step zero (C. Ridders,
//!   Adv. Eng. Softw. 4:75, 1982), row by row; about ten digits.
//! * *Bounds* are a change of variable: `x = (low + high)/2 + (high - low)/2 sin u`, and
//!   `x = low + scale (sqrt(u² + 1) - 1)` where there is one bound only.
//! * *A poor start*: parameters in which the model is linear are found by trial and solved out, and the
//!   fit is repeated in the others alone (variable projection). Where the two roads disagree or end with
//!   a parameter without effect, a simplex and a seeded set of other starts join in; the least sum wins.
//! * *Standard errors*: `sqrt(diag((JᵀJ)⁻¹) RSS/(n - k))` with the Jacobian at the solution.
//!
//! A fit that stops early is a [`Report`] with a reason, not an error.
//!
//! ```
//! use pointage::learn::engine::{Fit, Parameter};
//! let hours = [0.0, 1.0, 2.0, 3.0];
//! let grams = [2.0, 3.0, 4.4, 6.7];
//! let report = Fit::new(4, |x, out| {
//!     for (r, (t, y)) in out.iter_mut().zip(hours.iter().zip(grams)) {
//!         *r = x[0] * (x[1] * t).exp() - y;
//!     }
//! })
//! .run(&[Parameter::free("at_start", 1.0), Parameter::free("rate", 0.1)])?;
//! assert!(report.stop.converged());
//! assert!((report.estimates[1].value - 0.405).abs() < 0.01); // half as much again in an hour
//! # Ok::<(), pointage::Error>(())
//! ```

mod derivative;
mod linear;
mod search;
mod small;

pub(crate) use linear::inverse;
pub use linear::{LinearReport, linear};
pub(crate) use small::{Settled, settle};

use crate::error::{Error, Result, check};
use derivative::{Derivative, Scale};
use nalgebra::{DMatrix, DVector};
use search::Minimum;

/// A parameter to be found: its name for the report, where to start, and its bounds.
#[derive(Debug, Clone, PartialEq)]
pub struct Parameter {
    /// Name in the report; ends in the unit.
    pub name: String,
    /// Where the search starts, inside the bounds.
    pub start: f64,
    /// Lower bound; may be minus infinity.
    pub low: f64,
    /// Upper bound; may be infinity.
    pub high: f64,
}

impl Parameter {
    /// A parameter without bounds.
    #[must_use]
    pub fn free(name: &str, start: f64) -> Self {
        Self::within(name, start, f64::NEG_INFINITY, f64::INFINITY)
    }

    /// A parameter kept between two bounds, either of which may be infinite.
    #[must_use]
    pub fn within(name: &str, start: f64, low: f64, high: f64) -> Self {
        Self {
            name: name.to_owned(),
            start,
            low,
            high,
        }
    }
}

/// Why a fit ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Stop {
    /// At a minimum: no step makes the sum of squares smaller.
    Converged,
    /// The steps allowed were used up.
    OutOfSteps,
    /// The model gave no number at the start, or on every step from it.
    NotANumber,
}

impl Stop {
    /// True when the values are those of a minimum.
    #[must_use]
    pub fn converged(self) -> bool {
        self == Self::Converged
    }

    /// The reason in words.
    #[must_use]
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Converged => "settled at the least sum of squares",
            Self::OutOfSteps => "stopped before it settled: the values are the best so far",
            Self::NotANumber => "the model gives no number at the start: the values are the start",
        }
    }
}

/// What the data say about a parameter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "ParameterStanding"))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Standing {
    /// It has a value and a standard error.
    Determined,
    /// It was pushed against its lower bound.
    AtLowerBound,
    /// It was pushed against its upper bound.
    AtUpperBound,
    /// The data do not tell it, or not apart from others of the same standing: no standard error.
    Undetermined,
}

/// One parameter found.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Estimate {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: f64,
    /// Where the search began.
    pub start: f64,
    /// Standard error; `None` where the data give none.
    pub standard_error: Option<f64>,
    /// What the data say about it.
    pub standing: Standing,
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
    /// `(JᵀJ)⁻¹`, row by row; zero for parameters without a standard error.
    pub unscaled_covariance: Vec<Vec<f64>>,
    /// Why it ended.
    pub stop: Stop,
    /// Times that the model was evaluated.
    pub evaluations: usize,
}

impl Report {
    /// The values alone.
    #[must_use]
    pub fn values(&self) -> Vec<f64> {
        self.estimates.iter().map(|e| e.value).collect()
    }

    /// Correlation of two parameters; `None` where one has no standard error.
    #[must_use]
    pub fn correlation(&self, i: usize, j: usize) -> Option<f64> {
        let c = &self.unscaled_covariance;
        let product = c.get(i)?.get(i)? * c.get(j)?.get(j)?;
        (product > 0.0).then(|| c[i][j] / product.sqrt())
    }

    /// Names of the parameters that the data do not determine, or that lie at a bound.
    pub fn stuck(&self) -> impl Iterator<Item = &str> {
        self.estimates
            .iter()
            .filter(|e| e.standing != Standing::Determined)
            .map(|e| e.name.as_str())
    }
}

type Function<'a> = Box<dyn Fn(&[f64], &mut [f64]) + 'a>;

/// A least-squares problem: residuals as a function of the parameters.
pub struct Fit<'a> {
    rows: usize,
    residuals: Function<'a>,
    jacobian: Option<Function<'a>>,
    search: bool,
    tolerance: f64,
}

impl<'a> Fit<'a> {
    /// A problem of so many rows; `residuals` writes one number a row. Where the model has no number
    /// it writes NaN, and the search turns back.
    pub fn new(rows: usize, residuals: impl Fn(&[f64], &mut [f64]) + 'a) -> Self {
        Self {
            rows,
            residuals: Box::new(residuals),
            jacobian: None,
            search: true,
            tolerance: 0.0,
        }
    }

    /// The same with exact derivatives: `jacobian` writes `dr_i/dx_j` at `[i * parameters + j]`.
    #[must_use]
    pub fn with_jacobian(mut self, jacobian: impl Fn(&[f64], &mut [f64]) + 'a) -> Self {
        self.jacobian = Some(Box::new(jacobian));
        self
    }

    /// The same from the given start only, and only until a step changes less than the share
    /// `tolerance`: for a start that is known to be good, in a fit that is refined elsewhere.
    #[must_use]
    pub fn from_start_only(mut self, tolerance: f64) -> Self {
        self.search = false;
        self.tolerance = tolerance.clamp(0.0, 0.1);
        self
    }

    /// The report of a fit that has settled at the start of its parameters, none of which has a bound.
    pub(crate) fn report_at(
        &self,
        parameters: &[Parameter],
        rss: f64,
        evaluations: usize,
    ) -> Report {
        let problem = Problem {
            fit: self,
            maps: parameters.iter().map(Map::of).collect(),
            scales: parameters.iter().map(Map::scale_of).collect(),
            evaluations: std::cell::Cell::new(evaluations),
        };
        let minimum = Minimum {
            u: parameters.iter().map(|p| p.start).collect(),
            rss,
            stop: Stop::Converged,
        };
        report(&problem, parameters, &minimum)
    }

    /// Runs the fit.
    ///
    /// # Errors
    /// No parameter, fewer rows than parameters, a start that is not finite, or bounds that are in the
    /// wrong order or leave out the start. Everything else is told in the report.
    pub fn run(&self, parameters: &[Parameter]) -> Result<Report> {
        if parameters.is_empty() || self.rows < parameters.len() {
            return Err(Error::contradiction(format!(
                "{} rows cannot determine {} parameters; give at least as many rows as parameters",
                self.rows,
                parameters.len()
            )));
        }
        for p in parameters {
            check(&p.name, p.start, p.low, p.high, "")?;
            if p.low >= p.high {
                return Err(Error::contradiction(format!(
                    "the lower bound of {} is not below its upper bound",
                    p.name
                )));
            }
        }
        let problem = Problem {
            fit: self,
            maps: parameters.iter().map(Map::of).collect(),
            scales: parameters.iter().map(Map::scale_of).collect(),
            evaluations: std::cell::Cell::new(0),
        };
        let start: Vec<f64> = problem
            .maps
            .iter()
            .zip(parameters)
            .map(|(m, p)| m.inward(p.start))
            .collect();
        let minimum = search::minimum(&problem, &start, self.search);
        Ok(report(&problem, parameters, &minimum))
    }
}

/// From the free variable `u` of the search to the bounded parameter `x`.
#[derive(Debug, Clone, Copy)]
enum Map {
    Free,
    Above { low: f64, scale: f64 },
    Below { high: f64, scale: f64 },
    Between { middle: f64, half: f64 },
}

/// A start on a bound would have no slope; it is moved in by this share of the range.
const INSIDE: f64 = 1e-3;
/// `|cos u|` below which a parameter counts as at its bound.
const AT_BOUND: f64 = 1e-5;

impl Map {
    fn of(p: &Parameter) -> Self {
        let scale = if p.start == 0.0 { 1.0 } else { p.start.abs() };
        match (p.low.is_finite(), p.high.is_finite()) {
            (false, false) => Self::Free,
            (true, false) => Self::Above { low: p.low, scale },
            (false, true) => Self::Below {
                high: p.high,
                scale,
            },
            (true, true) => Self::Between {
                middle: f64::midpoint(p.low, p.high),
                half: 0.5 * (p.high - p.low),
            },
        }
    }

    /// The size of a usual step in `u`: of a free parameter that of its start, else one.
    fn scale_of(p: &Parameter) -> Scale {
        match Self::of(p) {
            Self::Free => Scale::Relative(if p.start == 0.0 { 1.0 } else { p.start.abs() }),
            _ => Scale::Absolute,
        }
    }

    fn outward(self, u: f64) -> f64 {
        match self {
            Self::Free => u,
            Self::Above { low, scale } => low + scale * (u.hypot(1.0) - 1.0),
            Self::Below { high, scale } => high - scale * (u.hypot(1.0) - 1.0),
            Self::Between { middle, half } => middle + half * u.sin(),
        }
    }

    fn slope(self, u: f64) -> f64 {
        match self {
            Self::Free => 1.0,
            Self::Above { scale, .. } => scale * u / u.hypot(1.0),
            Self::Below { scale, .. } => -scale * u / u.hypot(1.0),
            Self::Between { half, .. } => half * u.cos(),
        }
    }

    fn inward(self, x: f64) -> f64 {
        let one_sided = |over: f64| ((1.0 + over.max(INSIDE)).powi(2) - 1.0).sqrt();
        match self {
            Self::Free => x,
            Self::Above { low, scale } => one_sided((x - low) / scale),
            Self::Below { high, scale } => one_sided((high - x) / scale),
            Self::Between { middle, half } => {
                let most = 1.0 - 2.0 * INSIDE;
                ((x - middle) / half).clamp(-most, most).asin()
            }
        }
    }

    fn standing(self, u: f64) -> Standing {
        match self {
            Self::Above { .. } if u.abs() < AT_BOUND => Standing::AtLowerBound,
            Self::Below { .. } if u.abs() < AT_BOUND => Standing::AtUpperBound,
            Self::Between { .. } if u.cos().abs() < AT_BOUND => {
                if u.sin() < 0.0 {
                    Standing::AtLowerBound
                } else {
                    Standing::AtUpperBound
                }
            }
            _ => Standing::Determined,
        }
    }
}

/// The fit in the free variables.
struct Problem<'f, 'a> {
    fit: &'f Fit<'a>,
    maps: Vec<Map>,
    scales: Vec<Scale>,
    evaluations: std::cell::Cell<usize>,
}

/// Stands for a residual that is no number: far above any real one, and its square still finite.
const NO_NUMBER: f64 = 1e120;

impl Problem<'_, '_> {
    fn rows(&self) -> usize {
        self.fit.rows
    }

    fn parameters(&self, u: &[f64]) -> Vec<f64> {
        self.maps
            .iter()
            .zip(u)
            .map(|(m, &u)| m.outward(u))
            .collect()
    }

    /// The residuals as the model gives them.
    fn raw(&self, u: &[f64], out: &mut [f64]) {
        self.evaluations.set(self.evaluations.get() + 1);
        (self.fit.residuals)(&self.parameters(u), out);
    }

    /// The residuals, with a huge number in place of none.
    fn residuals(&self, u: &[f64]) -> DVector<f64> {
        let mut out = DVector::zeros(self.rows());
        self.raw(u, out.as_mut_slice());
        for r in out.iter_mut() {
            if r.is_nan() || r.abs() > NO_NUMBER {
                *r = NO_NUMBER;
            }
        }
        out
    }

    fn sum_of_squares(&self, u: &[f64]) -> f64 {
        self.residuals(u).norm_squared()
    }

    /// `dr/du`; `None` where it has no number.
    fn jacobian(&self, u: &[f64]) -> Option<DMatrix<f64>> {
        let (rows, n) = (self.rows(), u.len());
        let mut jacobian = DMatrix::zeros(rows, n);
        if let Some(given) = &self.fit.jacobian {
            let mut flat = vec![0.0; rows * n];
            given(&self.parameters(u), &mut flat);
            for j in 0..n {
                let slope = self.maps[j].slope(u[j]);
                for i in 0..rows {
                    jacobian[(i, j)] = flat[i * n + j] * slope;
                }
            }
        } else {
            let mut derivative = Derivative::new(rows);
            for j in 0..n {
                let column = derivative.column(u, j, self.scales[j], &|u, out| self.raw(u, out))?;
                jacobian.column_mut(j).copy_from_slice(column);
            }
        }
        jacobian.iter().all(|d| d.is_finite()).then_some(jacobian)
    }
}

fn report(problem: &Problem<'_, '_>, parameters: &[Parameter], minimum: &Minimum) -> Report {
    let n = parameters.len();
    let rows = problem.rows();
    let values = problem.parameters(&minimum.u);
    let mut standings: Vec<Standing> = problem
        .maps
        .iter()
        .zip(&minimum.u)
        .map(|(m, &u)| m.standing(u))
        .collect();
    let inside: Vec<usize> = (0..n)
        .filter(|&j| standings[j] == Standing::Determined)
        .collect();
    let mut covariance = vec![vec![0.0; n]; n];
    match problem.jacobian(&minimum.u) {
        Some(jacobian) if !inside.is_empty() => {
            let mut free = jacobian.select_columns(&inside);
            for (k, &j) in inside.iter().enumerate() {
                let slope = problem.maps[j].slope(minimum.u[j]);
                free.column_mut(k).unscale_mut(slope);
            }
            let found = linear::covariance(free);
            for (a, &j) in inside.iter().enumerate() {
                if found.undetermined[a] {
                    standings[j] = Standing::Undetermined;
                    continue;
                }
                for (b, &k) in inside.iter().enumerate() {
                    if !found.undetermined[b] {
                        covariance[j][k] = found.covariance[(a, b)];
                    }
                }
            }
        }
        _ => inside
            .iter()
            .for_each(|&j| standings[j] = Standing::Undetermined),
    }
    let rss = minimum.rss;
    let residual_sd = (rows > n).then(|| (rss / (rows - n) as f64).sqrt());
    let estimates = parameters
        .iter()
        .enumerate()
        .map(|(j, p)| Estimate {
            name: p.name.clone(),
            value: values[j],
            start: p.start,
            standard_error: match (standings[j], residual_sd) {
                (Standing::Determined, Some(sd)) if minimum.stop.converged() => {
                    Some(covariance[j][j].sqrt() * sd)
                }
                _ => None,
            },
            standing: standings[j],
        })
        .collect();
    Report {
        estimates,
        rss,
        rows,
        residual_sd,
        unscaled_covariance: covariance,
        stop: minimum.stop,
        evaluations: problem.evaluations.get(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const T: [f64; 6] = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0];

    fn decay(scale: f64) -> impl Fn(&[f64], &mut [f64]) {
        move |x, out| {
            for (r, t) in out.iter_mut().zip(T) {
                *r = x[0] * (-x[1] * t).exp() - scale * (-0.3 * t).exp() - 0.01 * (7.0 * t).sin();
            }
        }
    }

    #[test]
    fn bounds_hold_and_are_named() {
        for (low, high, standing, at) in [
            (0.4, 2.0, Standing::AtLowerBound, 0.4),
            (0.05, 0.2, Standing::AtUpperBound, 0.2),
            (0.4, f64::INFINITY, Standing::AtLowerBound, 0.4),
            (f64::NEG_INFINITY, 0.2, Standing::AtUpperBound, 0.2),
        ] {
            let start = if low.is_finite() {
                low + 0.1
            } else {
                high - 0.1
            };
            let report = Fit::new(6, decay(2.0))
                .run(&[
                    Parameter::free("amount", 1.0),
                    Parameter::within("rate_per_h", start, low, high),
                ])
                .unwrap();
            let rate = &report.estimates[1];
            assert_eq!(rate.standing, standing, "{low} {high}: {rate:?}");
            assert!((rate.value - at).abs() < 1e-8, "{}", rate.value);
            assert_eq!(rate.standard_error, None);
            assert_eq!(report.stuck().collect::<Vec<_>>(), ["rate_per_h"]);
            assert!(report.estimates[0].standard_error.is_some());
        }
    }

    #[test]
    fn bounds_far_away_change_nothing() {
        let free = [Parameter::free("amount", 1.0), Parameter::free("rate", 1.0)];
        let held = [
            Parameter::within("amount", 1.0, 0.0, f64::INFINITY),
            Parameter::within("rate", 1.0, -3.0, 5.0),
        ];
        let a = Fit::new(6, decay(2.0)).run(&free).unwrap();
        let b = Fit::new(6, decay(2.0)).run(&held).unwrap();
        for (a, b) in a.estimates.iter().zip(&b.estimates) {
            assert!((a.value - b.value).abs() < 1e-9);
            let (a, b) = (a.standard_error.unwrap(), b.standard_error.unwrap());
            assert!((a / b - 1.0).abs() < 1e-7);
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
        .run(&["a", "b", "c"].map(|name| Parameter::free(name, 1.0)))
        .unwrap();
        assert!(report.stuck().eq(["a", "b", "c"]));
        assert!(report.estimates.iter().all(|e| e.standard_error.is_none()));
        assert!((report.estimates[0].value * report.estimates[1].value - 3.0).abs() < 0.1);
    }

    #[test]
    fn a_model_without_numbers_is_a_report_and_misuse_an_error() {
        let nothing = Fit::new(6, |_, out| out.fill(f64::NAN));
        let report = nothing.run(&[Parameter::free("a", 1.0)]).unwrap();
        assert_eq!(report.stop, Stop::NotANumber);
        assert_eq!(report.estimates[0].standard_error, None);
        assert_eq!(report.estimates[0].value, 1.0);
        // A model that has numbers on one side of an edge only.
        let edge = Fit::new(6, |x, out| {
            for (r, t) in out.iter_mut().zip(T) {
                *r = (x[0] - 1.0).sqrt() * t - 0.5 * t;
            }
        });
        let report = edge.run(&[Parameter::free("a", 9.0)]).unwrap();
        assert!((report.estimates[0].value - 1.25).abs() < 1e-9);
        for bad in [
            Parameter::free("a", f64::NAN),
            Parameter::within("a", 2.0, 0.0, 1.0),
            Parameter::within("a", 1.0, 1.0, 1.0),
        ] {
            assert!(edge.run(&[bad]).is_err());
        }
        assert!(edge.run(&[]).is_err());
        assert!(edge.run(&vec![Parameter::free("a", 2.0); 7]).is_err());
    }

    /// Every way of keeping a parameter within bounds: there and back again, with the slope by difference.
    #[test]
    fn bounded_parameters_go_there_and_back() {
        let inf = f64::INFINITY;
        for (low, high, start) in [
            (-inf, inf, 3.0),
            (2.0, inf, 7.0),
            (2.0, inf, 2.5),
            (-inf, 9.0, 4.0),
            (-inf, 9.0, -8.0),
            (2.0, 9.0, 5.5),
            (2.0, 9.0, 8.9),
            (-9.0, -2.0, -8.0),
            (-4.0, inf, 0.0),
        ] {
            let map = Map::of(&Parameter::within("x", start, low, high));
            let u = map.inward(start);
            assert!((map.outward(u) - start).abs() < 1e-12, "{map:?}");
            let h = 1e-6;
            let slope = (map.outward(u + h) - map.outward(u - h)) / (2.0 * h);
            assert!(
                (map.slope(u) - slope).abs() < 1e-8 * (1.0 + slope.abs()),
                "{map:?}"
            );
            assert_eq!(map.standing(u), Standing::Determined);
            for i in -40..40 {
                assert!(
                    (low..=high).contains(&map.outward(0.25 * f64::from(i))),
                    "{map:?}"
                );
            }
        }
        // A start on a bound is moved in, by a thousandth of the range or of its own size.
        for (low, high, start, moved) in [
            (2.0, inf, 2.0, 2.002),
            (-inf, 9.0, 9.0, 8.991),
            (2.0, 9.0, 2.0, 2.007),
            (2.0, 9.0, 9.0, 8.993),
        ] {
            let map = Map::of(&Parameter::within("x", start, low, high));
            assert!(
                (map.outward(map.inward(start)) - moved).abs() < 1e-9,
                "{map:?}"
            );
        }
    }

    #[test]
    fn evaluations_are_counted() {
        let asked = std::cell::Cell::new(0);
        let fit = Fit::new(T.len(), |x, out| {
            asked.set(asked.get() + 1);
            decay(1.0)(x, out);
        });
        let report = fit
            .run(&[Parameter::free("a", 2.0), Parameter::free("b", 0.2)])
            .unwrap();
        assert_eq!(report.evaluations, asked.get());
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
        let parameters = [Parameter::free("mean", 2.0)];
        let problem = Problem {
            fit: &mean,
            maps: parameters.iter().map(Map::of).collect(),
            scales: parameters.iter().map(Map::scale_of).collect(),
            evaluations: std::cell::Cell::new(0),
        };
        for (stop, told) in [
            (Stop::Converged, true),
            (Stop::OutOfSteps, false),
            (Stop::NotANumber, false),
        ] {
            let minimum = Minimum {
                u: vec![2.0],
                rss: 2.0,
                stop,
            };
            let report = report(&problem, &parameters, &minimum);
            assert_eq!(report.residual_sd, Some(2f64.sqrt()));
            let error = report.estimates[0].standard_error;
            assert_eq!(error.is_some(), told, "{stop:?}");
            assert!(error.is_none_or(|e| (e - 1.0).abs() < 1e-9));
        }
        let one = Fit::new(1, |x, out| out[0] = x[0] - 1.0);
        let report = one.run(&[Parameter::free("a", 5.0)]).unwrap();
        assert_eq!(report.residual_sd, None);
        assert_eq!(report.estimates[0].standard_error, None);
        assert!((report.estimates[0].value - 1.0).abs() < 1e-12);
    }

    #[test]
    fn an_end_is_told_in_its_own_words() {
        for (stop, word) in [
            (Stop::Converged, "settled at"),
            (Stop::OutOfSteps, "before it settled"),
            (Stop::NotANumber, "no number"),
        ] {
            assert!(stop.in_words().contains(word), "{}", stop.in_words());
        }
    }

    /// Of `a + b t` at t = 0 to 5: `-sum t/sqrt(n sum t²) = -15/sqrt(6 · 55)`. What is not told goes with nothing.
    #[test]
    fn a_correlation_is_that_of_what_is_told() {
        let report = Fit::new(6, |x, out| {
            for (r, t) in out.iter_mut().zip(T) {
                *r = x[0] + x[1] * t - 0.1 * (5.0 * t).cos() + 0.0 * x[2];
            }
        })
        .run(&["a", "b", "c"].map(|name| Parameter::free(name, 1.0)))
        .unwrap();
        let together = report.correlation(0, 1).unwrap();
        assert!((together + 15.0 / 330f64.sqrt()).abs() < 1e-9, "{together}");
        assert_eq!(report.correlation(0, 2), None);
        assert_eq!(report.correlation(2, 2), None);
        assert_eq!(report.correlation(0, 3), None);
    }

    /// A residual that is no number, or larger than any real one, stands for none: huge, and its square finite.
    #[test]
    fn what_is_no_number_is_huge() {
        let fit = Fit::new(5, |_, out| {
            out.copy_from_slice(&[f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1e200, 3.0]);
        });
        let parameters = [Parameter::free("a", 1.0)];
        let r = of(&fit, &parameters).residuals(&[1.0]);
        assert_eq!(r.as_slice(), [1e120, 1e120, 1e120, 1e120, 3.0]);
        assert!(r.norm_squared().is_finite());
    }

    fn of<'f, 'a>(fit: &'f Fit<'a>, parameters: &[Parameter]) -> Problem<'f, 'a> {
        Problem {
            fit,
            maps: parameters.iter().map(Map::of).collect(),
            scales: parameters.iter().map(Map::scale_of).collect(),
            evaluations: std::cell::Cell::new(0),
        }
    }

    /// Derivatives that are given are taken to the bounded variables as those by difference are.
    #[test]
    fn given_derivatives_are_those_of_differences() {
        let by_difference = Fit::new(6, decay(2.0));
        let given = Fit::new(6, decay(2.0)).with_jacobian(|x, out| {
            for (row, t) in out.chunks_exact_mut(2).zip(T) {
                let fade = (-x[1] * t).exp();
                row.copy_from_slice(&[fade, -x[0] * t * fade]);
            }
        });
        let parameters = [
            Parameter::within("amount", 1.0, 0.0, f64::INFINITY),
            Parameter::within("rate", 0.5, 0.1, 5.0),
        ];
        let u = [0.7, 0.3];
        let [a, b] = [&by_difference, &given].map(|fit| of(fit, &parameters).jacobian(&u).unwrap());
        assert!((&a - &b).amax() < 1e-9 * b.amax(), "{a} {b}");
    }

    /// With its one parameter at a bound a fit has nothing left to be sure of.
    #[test]
    fn all_that_is_sought_may_lie_at_a_bound() {
        let report = Fit::new(6, |x, out| {
            for (r, t) in out.iter_mut().zip(T) {
                *r = (x[0] - 3.0) * (1.0 + t);
            }
        })
        .run(&[Parameter::within("a", 5.0, 4.0, 9.0)])
        .unwrap();
        assert_eq!(report.estimates[0].standing, Standing::AtLowerBound);
        assert_eq!(report.estimates[0].standard_error, None);
        assert_eq!(report.unscaled_covariance, [[0.0]]);
    }
}
