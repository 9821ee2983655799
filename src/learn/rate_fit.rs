//! Fits of the temperature laws to measured speeds.
//!
//! | law | equation | parameters |
//! |---|---|---|
//! | [`FitLaw::Cardinal`] | Rosso 1993, see [`crate::rate::RateLaw::cardinal`] | `rate_opt`, `t_min_c`, `t_opt_c`, `t_max_c` |
//! | [`FitLaw::SquareRoot`] | `[b (T - Tmin)(1 - exp(c (T - Tmax)))]²` (Ratkowsky 1983) | `b`, `t_min_c`, `c_per_k`, `t_max_c` |
//! | [`FitLaw::SharpeSchoolfield`] | `r20 exp[-Ea/R (1/T - 1/293.15)] / (1 + exp[Eh/R (1/Th - 1/T)])`, T in K | `rate20`, `activation_j_per_mol`, `high_j_per_mol`, `t_high_c` |
//! | [`FitLaw::Q10`] | `r20 q^((T - 20)/10)` | `rate20`, `q10` |
//! | [`FitLaw::Arrhenius`] | `r20 exp[-Ea/R (1/T - 1/293.15)]` | `rate20`, `activation_j_per_mol` |
//!
//! The laws with limits are 0 outside them. Starts come from the data: the fastest point, the straight
//! line through the square roots of the rising part, the slope of the logarithms.
//!
//! Sharpe-Schoolfield is the form with inactivation by heat alone (R. Schoolfield, P. Sharpe and
//! C. Magnuson 1981, J. Theor. Biol. 88:719).

mod bootstrap;
mod speeds;

pub use speeds::{Speed, read_speeds};

use super::engine::{Estimate, Fit, Identifiability, Minimum, Report, Termination, linear, settle};
use crate::error::{Error, Result, check, named};
use crate::rate::{GAS_CONSTANT, ZERO_CELSIUS_K};
use nalgebra::{DMatrix, DVector, SVector};

/// Reference temperature of the laws that need one, K: 20 °C.
const REFERENCE_K: f64 = 293.15;

/// A temperature law that can be fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum FitLaw {
    /// Cardinal temperatures with inflection.
    Cardinal,
    /// Square root with an upper limit.
    SquareRoot,
    /// Activation and inactivation by heat.
    SharpeSchoolfield,
    /// A constant factor for each 10 K.
    Q10,
    /// A constant activation energy.
    Arrhenius,
}

named! { "law" FitLaw {
    Cardinal = "cardinal", SquareRoot = "square-root", SharpeSchoolfield = "sharpe-schoolfield",
    Q10 = "q10", Arrhenius = "arrhenius",
} }

impl FitLaw {
    /// Names of its parameters, in the order of a report; `rate` ones have the unit of the data.
    #[must_use]
    pub fn parameters(self) -> &'static [&'static str] {
        const ENERGY: &str = "activation_j_per_mol";
        match self {
            Self::Cardinal => &["rate_opt", "t_min_c", "t_opt_c", "t_max_c"],
            Self::SquareRoot => &["b", "t_min_c", "c_per_k", "t_max_c"],
            Self::SharpeSchoolfield => &["rate20", ENERGY, "high_j_per_mol", "t_high_c"],
            Self::Q10 => &["rate20", "q10"],
            Self::Arrhenius => &["rate20", ENERGY],
        }
    }

    /// The speed at `t` °C with parameters in the order of [`parameters`](Self::parameters); not a number with
    /// more or fewer of them.
    #[must_use]
    pub fn rate(self, p: &[f64], t: f64) -> f64 {
        if p.len() == self.parameters().len() {
            self.rate_and_slopes(&in_four(p), t).0
        } else {
            f64::NAN
        }
    }

    /// The speed, and its derivatives by the parameters; those beyond the law's own are 0.
    fn rate_and_slopes(self, p: &[f64; 4], t: f64) -> (f64, [f64; 4]) {
        let kelvin = t + ZERO_CELSIUS_K;
        let inverse = (1.0 / kelvin - 1.0 / REFERENCE_K) / GAS_CONSTANT;
        match self {
            Self::Cardinal => {
                let [best_rate, low, best, high] = *p;
                if t <= low || t >= high {
                    return (0.0, [0.0; 4]);
                }
                let (rise, turn) = (best - low, best + low - 2.0 * t);
                let inner = rise * (t - best) - (best - high) * turn;
                let shape = (t - high) * (t - low).powi(2) / (rise * inner);
                // Logarithmic derivatives of numerator and denominator.
                let by_low = -2.0 / (t - low) + 1.0 / rise + (t - high) / inner;
                let by_best = -1.0 / rise - (3.0 * t - 4.0 * best + high) / inner;
                let by_high = -1.0 / (t - high) - turn / inner;
                let rate = best_rate * shape;
                (rate, [shape, rate * by_low, rate * by_best, rate * by_high])
            }
            Self::SquareRoot => {
                let [b, low, c, high] = *p;
                if t <= low || t >= high {
                    return (0.0, [0.0; 4]);
                }
                let falling = -(c * (t - high)).exp_m1();
                let near = 1.0 - falling;
                let root = b * (t - low) * falling;
                let slopes = [
                    (t - low) * falling,
                    -b * falling,
                    -b * (t - low) * (t - high) * near,
                    b * (t - low) * c * near,
                ];
                (root * root, slopes.map(|s| 2.0 * root * s))
            }
            Self::SharpeSchoolfield => {
                let [r20, energy, high_energy, t_high] = *p;
                let high_kelvin = t_high + ZERO_CELSIUS_K;
                let above = (1.0 / high_kelvin - 1.0 / kelvin) / GAS_CONSTANT;
                let hot = (high_energy * above).exp();
                // Share that the heat has switched off; right also where `hot` overflows.
                let off = 1.0 / (1.0 + 1.0 / hot);
                let shape = (-energy * inverse).exp() / (1.0 + hot);
                let rate = r20 * shape;
                let by_t_high = rate * off * high_energy / (GAS_CONSTANT * high_kelvin.powi(2));
                let by_high_energy = -rate * off * above;
                (rate, [shape, -rate * inverse, by_high_energy, by_t_high])
            }
            Self::Q10 => {
                let [r20, q, ..] = *p;
                let tens = (t - 20.0) / 10.0;
                let shape = q.powf(tens);
                (r20 * shape, [shape, r20 * tens * shape / q, 0.0, 0.0])
            }
            Self::Arrhenius => {
                let [r20, energy, ..] = *p;
                let shape = (-energy * inverse).exp();
                (r20 * shape, [shape, -r20 * shape * inverse, 0.0, 0.0])
            }
        }
    }
}

/// The scale on which residuals are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Transform {
    /// The speeds as they are: fast points decide.
    #[default]
    None,
    /// Their square roots: slow points count as well, and the lowest temperature is told better.
    Sqrt,
}

impl Transform {
    /// A speed on this scale.
    fn on(self, rate: f64) -> f64 {
        match self {
            Self::None => rate,
            Self::Sqrt => rate.abs().sqrt().copysign(rate),
        }
    }

    /// Back from this scale; a speed is never below 0.
    fn back(self, value: f64) -> f64 {
        match self {
            Self::None => value.max(0.0),
            Self::Sqrt => value.max(0.0).powi(2),
        }
    }
}

/// A fitted law.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct RateFit {
    /// The law.
    pub law: FitLaw,
    /// The scale of the residuals.
    pub transform: Transform,
    /// Parameters with standard errors, in the order of [`FitLaw::parameters`].
    pub report: Report,
    /// Akaike's criterion, `n ln(RSS/n) + n (1 + ln 2π) + 2 (k + 1)`; `None` where the points lie on the curve
    /// to the last digit, and no parameter has an error then. Less is better. Only fits to the
    /// same points on the same scale compare.
    pub aic: Option<f64>,
    /// The same with the correction for few points, `+ 2 (k+1)(k+2)/(n - k - 2)`; `None` where there
    /// are too few.
    pub aicc: Option<f64>,
    /// Coldest and warmest point, °C.
    pub span_c: [f64; 2],
}

/// Fits a law to measured speeds.
///
/// ```
/// use pointage::learn::rate_fit::{FitLaw, Speed, Transform, fit_rate};
/// use pointage::table;
/// use pointage::units::Temperature;
/// let points = table::get("zakhartsev2015")?.points.iter().map(|p| {
///     Ok(Speed { temperature: Temperature::celsius(p.temperature_c)?, rate: p.growth_rate_per_h })
/// }).collect::<Result<Vec<_>, pointage::Error>>()?;
/// let fit = fit_rate(&points, FitLaw::Cardinal, Transform::Sqrt)?;
/// // the table's own figures: 2.6, 32.4 and 41.3 °C
/// for (estimate, shipped) in fit.report.estimates[1..].iter().zip([2.6, 32.4, 41.3]) {
///     assert!((estimate.value - shipped).abs() < 0.05);
/// }
/// # Ok::<(), pointage::Error>(())
/// ```
///
/// # Errors
/// Fewer points than parameters, points at fewer than two temperatures, a speed below 0, no speed
/// above 0, or for Q10 and Arrhenius fewer than two points above 0.
pub fn fit_rate(points: &[Speed], law: FitLaw, transform: Transform) -> Result<RateFit> {
    let names = law.parameters();
    if points.len() < names.len() {
        return Err(Error::contradiction(format!(
            "the {} law has {} parameters and there are {} points; measure at more temperatures or choose a law with fewer",
            law.name(),
            names.len(),
            points.len()
        )));
    }
    let checked = |point: &Speed| {
        let t = point.temperature.as_celsius();
        check("temperature of a point", t, -20.0, 60.0, "°C")?;
        check("speed", point.rate, 0.0, 1e12, "in its unit")?;
        Ok([t, point.rate])
    };
    let mut data = points.iter().map(checked).collect::<Result<Vec<_>>>()?;
    data.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let span_c = [data[0][0], data[data.len() - 1][0]];
    let fastest = data.iter().copied().max_by(|a, b| a[1].total_cmp(&b[1]));
    let fastest = fastest.filter(|p| p[1] > 0.0);
    let (Some(fastest), true) = (fastest, span_c[0] < span_c[1]) else {
        return Err(Error::contradiction(
            "a law needs speeds above 0 at two temperatures or more; add points",
        ));
    };
    let scale = fastest[1];
    // Speeds are taken against the fastest, so that the unit does not matter to the search.
    let row = |&[t, rate]: &[f64; 2]| SpeedRow::new(law, transform, t, rate / scale);
    let rows: Vec<SpeedRow> = data.iter().map(row).collect();
    let fit = Fit::new(rows.len(), |p, out| {
        for (r, row) in out.iter_mut().zip(&rows) {
            *r = row.residual(&in_four(p)).0;
        }
    })
    .with_jacobian(|p, out| {
        for (slopes, row) in out.chunks_exact_mut(names.len()).zip(&rows) {
            let all = row.residual(&in_four(p)).1;
            slopes.copy_from_slice(&all[..names.len()]);
        }
    });
    let starts = starts(law, &data, fastest)?;
    let report = match quickly(&rows, &fit, &starts) {
        Some(report) => report,
        None => {
            let mut best: Option<(f64, Report)> = None;
            for start in &starts {
                let report = fit.run(names, start)?;
                let is_law = is_sensible(law, &report.values());
                let rss = if is_law { report.rss } else { f64::INFINITY };
                if best.as_ref().is_none_or(|(least, _)| rss < *least) {
                    best = Some((rss, report));
                }
            }
            let no_start = || Error::contradiction("no start was found; add points");
            best.ok_or_else(no_start)?.1
        }
    };
    Ok(in_unit(report, law, transform, scale, span_c))
}

/// A point of a fit, with its speed on the scale of the residuals.
struct SpeedRow {
    law: FitLaw,
    transform: Transform,
    t: f64,
    target: f64,
}

impl SpeedRow {
    fn new(law: FitLaw, transform: Transform, t: f64, rate: f64) -> Self {
        let target = transform.on(rate);
        Self {
            law,
            transform,
            t,
            target,
        }
    }

    fn residual(&self, p: &[f64; 4]) -> (f64, [f64; 4]) {
        let (rate, slopes) = self.law.rate_and_slopes(p, self.t);
        let value = self.transform.on(rate);
        let slopes = match self.transform {
            Transform::None => slopes,
            Transform::Sqrt if value == 0.0 => [0.0; 4],
            Transform::Sqrt => slopes.map(|s| s / (2.0 * value.abs())),
        };
        (value - self.target, slopes)
    }
}

fn in_four(p: &[f64]) -> [f64; 4] {
    std::array::from_fn(|j| p.get(j).copied().unwrap_or(0.0))
}

/// Goes down from one start; only laws of four parameters.
fn down(rows: &[SpeedRow], start: &[f64]) -> Option<(SVector<f64, 4>, f64)> {
    let found = settle(in_four(start), rows.len(), |i, p| rows[i].residual(p))?;
    is_sensible(rows.first()?.law, found.0.as_slice()).then_some(found)
}

/// The usual case: from two starts the same minimum, and it tells every parameter. Then no other road is
/// tried; `None` sends the caller on the long one.
fn quickly(rows: &[SpeedRow], fit: &Fit<'_>, starts: &[Vec<f64>]) -> Option<Report> {
    let (at, rss) = down(rows, starts.first()?)?;
    let (_, other) = down(rows, starts.get(1)?)?;
    // Sums without scatter are noise, and whatever is as small agrees with them.
    if (rss - other).abs() > 1e-9 * rss + 1e-24 {
        return None;
    }
    let minimum = Minimum {
        x: DVector::from_column_slice(at.as_slice()),
        rss,
        stop: Termination::Converged,
    };
    let report = fit.report(rows.first()?.law.parameters(), &minimum);
    let told = |e: &Estimate| e.standing == Identifiability::Determined;
    report.estimates.iter().all(told).then_some(report)
}

/// Mean square of residuals, speeds against the fastest, below which they are rounding.
const EXACT: f64 = 1e-28;

/// Back from speeds against the fastest to the unit of the data.
fn in_unit(
    mut report: Report,
    law: FitLaw,
    transform: Transform,
    scale: f64,
    span_c: [f64; 2],
) -> RateFit {
    // What is left is rounding: the points do not scatter, and nothing says how sure anything is.
    let exact = report.rss <= EXACT * report.rows as f64;
    // The first parameter is the rate, except `b` of the square-root law, which is its root, and of which only
    // the square enters.
    let first = &mut report.estimates[0];
    let unit = match law {
        FitLaw::SquareRoot => scale.sqrt().copysign(first.value),
        _ => scale,
    };
    first.value *= unit;
    first.standard_error = first.standard_error.map(|se| se * unit.abs());
    for e in report.estimates.iter_mut().filter(|_| exact) {
        e.standard_error = None;
    }
    let residual = transform.on(scale);
    let (n, k) = (report.rows as f64, report.estimates.len() as f64);
    report.rss *= residual.powi(2);
    report.residual_sd = report.residual_sd.map(|sd| sd * residual);
    let aic = n * (report.rss / n).ln() + n * (1.0 + std::f64::consts::TAU.ln()) + 2.0 * (k + 1.0);
    let left = n - k - 2.0;
    RateFit {
        law,
        transform,
        aic: (!exact).then_some(aic),
        aicc: (left > 0.0 && !exact).then(|| aic + 2.0 * (k + 1.0) * (k + 2.0) / left),
        report,
        span_c,
    }
}

/// Parameters that draw a curve of the law and not a mirror image of it.
fn is_sensible(law: FitLaw, p: &[f64]) -> bool {
    match (law, p) {
        (FitLaw::Cardinal, &[rate, low, best, high]) => {
            rate > 0.0 && high > best && best > f64::midpoint(low, high)
        }
        (FitLaw::SquareRoot, &[_, low, c, high]) => high > low && c > 0.0,
        (FitLaw::SharpeSchoolfield, &[rate, _, high, _]) => rate > 0.0 && high > 0.0,
        (_, p) => p.iter().all(|v| v.is_finite()) && p[0] > 0.0,
    }
}

/// Starts read off the sorted data, with speeds against the fastest.
fn starts(law: FitLaw, data: &[[f64; 2]], fastest: [f64; 2]) -> Result<Vec<Vec<f64>>> {
    let scale = fastest[1];
    let (coldest, warmest) = (data[0][0], data[data.len() - 1][0]);
    // The rising part: up to the fastest point.
    let rises = |all: bool| -> Vec<[f64; 2]> {
        let rises = |p: &&[f64; 2]| p[1] > 0.0 && (all || p[0] <= fastest[0]);
        let kept = data.iter().filter(rises);
        kept.map(|p| [p[0], p[1] / scale]).collect()
    };
    let rising = rises(false);
    let line = |points: &[[f64; 2]], f: fn([f64; 2]) -> [f64; 2]| -> Result<[f64; 2]> {
        let at: Vec<[f64; 2]> = points.iter().map(|&p| f(p)).collect();
        let x = DMatrix::from_fn(at.len(), 2, |i, j| if j == 0 { 1.0 } else { at[i][0] });
        let y = DVector::from_iterator(at.len(), at.iter().map(|p| p[1]));
        let fit = linear(&x, &y)?;
        Ok([fit.values[0], fit.values[1]])
    };
    // Square roots on a straight line cross zero at the lowest temperature.
    let [at_zero, b] = line(&rising, |[t, r]| [t, r.sqrt()])?;
    let low = if b > 0.0 && rising.len() > 1 {
        (-at_zero / b).clamp(coldest - 15.0, fastest[0] - 2.0)
    } else {
        coldest - 5.0
    };
    // Logarithms on a straight line in -1/(R T) have the activation energy as slope.
    let takes_all = matches!(law, FitLaw::Q10 | FitLaw::Arrhenius);
    let positive = rises(takes_all);
    if takes_all && positive.len() < 2 {
        return Err(Error::contradiction(format!(
            "the {} law needs two speeds above 0; add points",
            law.name()
        )));
    }
    let [log20, energy] = line(&positive, |[t, r]| {
        let inverse = 1.0 / REFERENCE_K - 1.0 / (t + ZERO_CELSIUS_K);
        [inverse / GAS_CONSTANT, r.ln()]
    })?;
    let b = if b > 0.0 { b } else { 0.03 };
    Ok(match law {
        FitLaw::Q10 => {
            let [log, per_k] = line(&positive, |[t, r]| [t - 20.0, r.ln()])?;
            vec![vec![log.exp(), (10.0 * per_k).exp()]]
        }
        FitLaw::Arrhenius => vec![vec![log20.exp(), energy]],
        FitLaw::SharpeSchoolfield => {
            let energy = energy.max(2e4);
            let with = |by: f64, above| vec![log20.exp(), energy, by * energy, fastest[0] + above];
            let of = |by| [with(by, 1.0), with(by, 4.0)];
            [2.0, 4.0, 8.0].into_iter().flat_map(of).collect()
        }
        FitLaw::Cardinal => {
            let best = |high| fastest[0].max(f64::midpoint(low, high) + 1.0);
            let highs = [1.0, 4.0, 10.0].map(|over| warmest + over);
            highs.map(|high| vec![1.0, low, best(high), high]).to_vec()
        }
        FitLaw::SquareRoot => {
            let of = |c| [1.0, 6.0].map(|over| vec![b, low, c, warmest + over]);
            [0.1, 0.3, 1.0].into_iter().flat_map(of).collect()
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Temperature;

    #[test]
    fn too_little_is_refused_by_name() {
        let p = |t: f64, rate: f64| Speed {
            temperature: Temperature::celsius(t).unwrap(),
            rate,
        };
        let error = fit_rate(
            &[p(20.0, 1.0), p(30.0, 2.0)],
            FitLaw::Cardinal,
            Transform::None,
        );
        assert_eq!(
            error.unwrap_err().to_string(),
            "the cardinal law has 4 parameters and there are 2 points; measure at more temperatures or choose a law with fewer"
        );
        let same = [p(20.0, 1.0), p(20.0, 1.2)];
        let still = [p(20.0, 0.0), p(30.0, 0.0)];
        for points in [&same, &still] {
            let error = fit_rate(points, FitLaw::Q10, Transform::None).unwrap_err();
            assert_eq!(
                error.to_string(),
                "a law needs speeds above 0 at two temperatures or more; add points"
            );
        }
        assert!(fit_rate(&[p(20.0, -1.0), p(30.0, 1.0)], FitLaw::Q10, Transform::None).is_err());
        // Two points and two parameters: a law, and no error bar.
        let fit = fit_rate(&[p(20.0, 1.0), p(30.0, 2.0)], FitLaw::Q10, Transform::None).unwrap();
        assert!((fit.report.estimates[1].value - 2.0).abs() < 1e-9);
        assert_eq!(fit.report.estimates[1].standard_error, None);
    }

    #[test]
    fn slopes_are_those_of_differences() {
        let at = [
            (FitLaw::Cardinal, [0.46, 2.6, 32.4, 41.3]),
            (FitLaw::SquareRoot, [0.03, -0.9, 0.3, 43.0]),
            (FitLaw::SharpeSchoolfield, [0.2, 6e4, 2.4e5, 36.0]),
            (FitLaw::Q10, [0.2, 2.3, 0.0, 0.0]),
            (FitLaw::Arrhenius, [0.2, 6e4, 0.0, 0.0]),
        ];
        for (law, p) in at {
            let n = law.parameters().len();
            for t in [5.0, 20.0, 31.0, 39.0, 60.0] {
                let (rate, slopes) = law.rate_and_slopes(&p, t);
                let plain = law.rate(&p[..n], t);
                assert!((rate - plain).abs() <= 1e-14 * plain.abs(), "{law:?} {t}");
                for j in 0..n {
                    let h = 1e-5 * p[j].abs();
                    let moved = |by: f64| {
                        let mut p = p;
                        p[j] += by;
                        law.rate(&p[..n], t)
                    };
                    let difference = (moved(h) - moved(-h)) / (2.0 * h);
                    // Error of the difference: its square step and the rounding over the step.
                    let allowed = 1e-6 * slopes[j].abs() + 1e-10 * plain / p[j].abs();
                    assert!(
                        (slopes[j] - difference).abs() <= allowed,
                        "{law:?} {t} {j}: {} for {difference}",
                        slopes[j]
                    );
                }
            }
        }
    }

    #[test]
    fn the_unit_of_the_speeds_does_not_matter() {
        let points = |unit: f64| -> Vec<Speed> {
            [
                (10.0, 0.1),
                (15.0, 0.21),
                (20.0, 0.36),
                (25.0, 0.6),
                (30.0, 0.8),
                (35.0, 0.7),
            ]
            .iter()
            .map(|&(t, r)| Speed {
                temperature: Temperature::celsius(t).unwrap(),
                rate: r * unit,
            })
            .collect()
        };
        for law in FitLaw::ALL {
            let a = fit_rate(&points(1.0), law, Transform::None).unwrap();
            let b = fit_rate(&points(3600.0), law, Transform::None).unwrap();
            for (x, y) in a.report.estimates.iter().zip(&b.report.estimates).skip(1) {
                assert!((x.value / y.value - 1.0).abs() < 1e-7, "{law:?} {}", x.name);
            }
        }
    }

    /// Data without scatter that the start can read off: it is then the law that made them.
    #[test]
    fn starts_are_read_off_the_data() {
        let made = |law: FitLaw, f: &dyn Fn(f64) -> f64| {
            let data: Vec<[f64; 2]> = [8.0, 12.0, 17.0, 23.0, 30.0].map(|t| [t, f(t)]).to_vec();
            let fastest = data[4];
            (starts(law, &data, fastest).unwrap(), fastest[1])
        };
        let close = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-9;
        let (found, top) = made(FitLaw::Q10, &|t| 3.0 * f64::powf(2.2, (t - 20.0) / 10.0));
        assert_eq!(found.len(), 1);
        assert!(close(found[0][0], 3.0 / top) && close(found[0][1], 2.2));
        // 60 kJ/mol about 20 °C.
        let (found, top) = made(FitLaw::Arrhenius, &|t| {
            3.0 * f64::exp(6e4 / 8.314_462_618 * (1.0 / 293.15 - 1.0 / (t + 273.15)))
        });
        assert_eq!(found.len(), 1);
        assert!(
            close(found[0][0], 3.0 / top) && close(found[0][1], 6e4),
            "{found:?}"
        );
        let (found, top) = made(FitLaw::SquareRoot, &|t| (0.05 * (t - 4.0)).powi(2));
        for start in &found {
            assert!(
                close(start[0], 0.05 / top.sqrt()) && close(start[1], 4.0),
                "{start:?}"
            );
            assert!(start[2] > 0.0 && start[3] > 30.0 && is_sensible(FitLaw::SquareRoot, start));
        }
        let (found, _) = made(FitLaw::Cardinal, &|t| (0.05 * (t - 4.0)).powi(2));
        for start in &found {
            assert!(close(start[1], 4.0) && start[3] > 30.0, "{start:?}");
            assert!(is_sensible(FitLaw::Cardinal, start), "{start:?}");
        }
        let (found, _) = made(FitLaw::SharpeSchoolfield, &|t| (0.05 * (t - 4.0)).powi(2));
        for start in &found {
            assert!(
                start[2] > start[1] && start[1] > 0.0 && start[3] > 30.0,
                "{start:?}"
            );
        }
    }

    #[test]
    fn a_mirror_image_is_no_law() {
        for (law, good) in [
            (FitLaw::Cardinal, [1.0, 2.0, 30.0, 40.0]),
            (FitLaw::SquareRoot, [1.0, 2.0, 0.3, 40.0]),
            (FitLaw::SharpeSchoolfield, [1.0, 5e4, 2e5, 35.0]),
        ] {
            assert!(is_sensible(law, &good));
        }
        for (law, bad) in [
            (FitLaw::Cardinal, [-1.0, 2.0, 30.0, 40.0]),
            (FitLaw::Cardinal, [1.0, 2.0, 41.0, 40.0]),
            (FitLaw::Cardinal, [1.0, 2.0, 20.0, 40.0]),
            // At the middle the curve has no peak.
            (FitLaw::Cardinal, [1.0, 2.0, 21.0, 40.0]),
            (FitLaw::SquareRoot, [1.0, 42.0, 0.3, 40.0]),
            (FitLaw::SquareRoot, [1.0, 2.0, -0.3, 40.0]),
            // What is 0 everywhere is no curve either.
            (FitLaw::Cardinal, [0.0, 2.0, 30.0, 40.0]),
            (FitLaw::SquareRoot, [1.0, 2.0, 0.0, 40.0]),
            (FitLaw::SquareRoot, [1.0, 40.0, 0.3, 40.0]),
            (FitLaw::Cardinal, [1.0, 2.0, 40.0, 40.0]),
            (FitLaw::SharpeSchoolfield, [0.0, 5e4, 2e5, 35.0]),
            (FitLaw::SharpeSchoolfield, [1.0, 5e4, 0.0, 35.0]),
            (FitLaw::SharpeSchoolfield, [-1.0, 5e4, 2e5, 35.0]),
            (FitLaw::SharpeSchoolfield, [1.0, 5e4, -2e5, 35.0]),
        ] {
            assert!(!is_sensible(law, &bad), "{bad:?}");
        }
        assert!(is_sensible(FitLaw::Q10, &[1.0, 2.0]) && !is_sensible(FitLaw::Q10, &[-1.0, 2.0]));
        assert!(
            !is_sensible(FitLaw::Q10, &[1.0, f64::NAN]) && !is_sensible(FitLaw::Q10, &[0.0, 2.0])
        );
    }

    /// A cardinal law with some scatter, in a unit.
    fn speeds(unit: f64) -> Vec<Speed> {
        (0..20)
            .map(|i| {
                let t = 5.0 + 1.8 * f64::from(i);
                let rate = FitLaw::Cardinal.rate(&[0.46, 2.6, 32.4, 41.3], t);
                Speed {
                    temperature: Temperature::celsius(t).unwrap(),
                    rate: unit * (rate + 0.01 * f64::from(i * 7 + 3).sin()).max(0.001),
                }
            })
            .collect()
    }

    /// In another unit the first parameter and its error have that factor, or its root where the
    /// residuals or the law take one; all else is the same.
    #[test]
    fn what_is_told_is_in_the_unit_of_the_data() {
        let unit = 3600.0;
        for (law, transform) in [
            (FitLaw::Q10, Transform::None),
            (FitLaw::Q10, Transform::Sqrt),
            (FitLaw::Cardinal, Transform::None),
            (FitLaw::Cardinal, Transform::Sqrt),
            (FitLaw::SquareRoot, Transform::None),
            (FitLaw::SquareRoot, Transform::Sqrt),
        ] {
            let a = fit_rate(&speeds(1.0), law, transform).unwrap();
            let b = fit_rate(&speeds(unit), law, transform).unwrap();
            let first = if law == FitLaw::SquareRoot {
                60.0
            } else {
                unit
            };
            let residual = if transform == Transform::Sqrt {
                60.0
            } else {
                unit
            };
            let same = |x: f64, y: f64| (x / y - 1.0).abs() < 1e-6;
            let case = format!("{law:?} {transform:?}");
            for (j, (x, y)) in a
                .report
                .estimates
                .iter()
                .zip(&b.report.estimates)
                .enumerate()
            {
                let factor = if j == 0 { first } else { 1.0 };
                assert!(same(y.value, factor * x.value), "{case} {j}");
                let (x, y) = (x.standard_error.unwrap(), y.standard_error.unwrap());
                assert!(same(y, factor * x), "{case} {j}");
            }
            assert!(
                same(b.report.rss, residual * residual * a.report.rss),
                "{case}"
            );
            let together = |fit: &RateFit| fit.report.correlations[0][1].unwrap();
            assert!((together(&a) - together(&b)).abs() < 1e-6, "{case}");
        }
    }

    /// What the short way finds in speeds against 1.
    fn by_the_short_way(points: &[Speed], law: FitLaw) -> Option<Report> {
        let data: Vec<[f64; 2]> = points
            .iter()
            .map(|s| [s.temperature.as_celsius(), s.rate])
            .collect();
        let rows: Vec<SpeedRow> = data
            .iter()
            .map(|&[t, rate]| SpeedRow::new(law, Transform::None, t, rate))
            .collect();
        let fit = Fit::new(rows.len(), |p, out| {
            for (r, row) in out.iter_mut().zip(&rows) {
                *r = row.residual(&in_four(p)).0;
            }
        });
        let of_fastest = |a: &&[f64; 2], b: &&[f64; 2]| a[1].total_cmp(&b[1]);
        let fastest = *data.iter().max_by(of_fastest).unwrap();
        let starts: Vec<Vec<f64>> = starts(law, &data, fastest).unwrap();
        quickly(&rows, &fit, &starts)
    }

    /// The short way arrives where the search from many starts does; with speeds about 1 it begins as near.
    #[test]
    fn the_usual_case_is_quick() {
        for law in [FitLaw::Cardinal, FitLaw::SquareRoot] {
            let points = speeds(2.0);
            let found = by_the_short_way(&points, law).unwrap();
            let searched = Fit::new(points.len(), |p, out| {
                for (r, s) in out.iter_mut().zip(&points) {
                    *r = law.rate(p, s.temperature.as_celsius()) - s.rate;
                }
            });
            let searched = searched.run(law.parameters(), &found.values()).unwrap();
            assert!((found.rss / searched.rss - 1.0).abs() < 1e-9, "{law:?}");
        }
    }

    /// The temperatures that a start begins with, by hand from five points.
    #[test]
    fn limits_of_starts_lie_above_the_data() {
        let data: Vec<[f64; 2]> = [
            (8.0, 0.2),
            (16.0, 0.6),
            (24.0, 1.2),
            (32.0, 2.0),
            (36.0, 1.0),
        ]
        .map(|(t, rate)| [t, rate])
        .to_vec();
        let at = |law: FitLaw, j: usize| -> Vec<f64> {
            let found = starts(law, &data, [32.0, 2.0]).unwrap();
            found.iter().map(|start| start[j]).collect()
        };
        assert_eq!(
            at(FitLaw::SquareRoot, 3),
            [37.0, 42.0, 37.0, 42.0, 37.0, 42.0]
        );
        assert_eq!(at(FitLaw::SquareRoot, 2), [0.1, 0.1, 0.3, 0.3, 1.0, 1.0]);
        assert_eq!(at(FitLaw::Cardinal, 3), [37.0, 40.0, 46.0]);
        // The fastest point, which lies above the middle of the limits and one.
        assert_eq!(at(FitLaw::Cardinal, 2), [32.0, 32.0, 32.0]);
        assert_eq!(
            at(FitLaw::SharpeSchoolfield, 3),
            [33.0, 36.0, 33.0, 36.0, 33.0, 36.0]
        );
        for (by, (low, high)) in [2.0, 2.0, 4.0, 4.0, 8.0, 8.0].iter().zip(
            at(FitLaw::SharpeSchoolfield, 1)
                .into_iter()
                .zip(at(FitLaw::SharpeSchoolfield, 2)),
        ) {
            assert!((high / low - by).abs() < 1e-12);
        }
    }

    /// Speeds that fall from the first point on: no line rises through them, so the low limit is 5 K below
    /// the data. Q10 and Arrhenius take all points, and find the factor of one half for 10 K.
    #[test]
    fn falling_speeds_have_a_start_too() {
        let data: Vec<[f64; 2]> = [10.0, 20.0, 30.0, 40.0]
            .map(|t: f64| [t, 4.0 * f64::powf(0.5, (t - 10.0) / 10.0)])
            .to_vec();
        let fastest = [10.0, 4.0];
        let found = starts(FitLaw::Q10, &data, fastest).unwrap();
        // Against the fastest, at 20 °C.
        assert!((found[0][0] - 0.5).abs() < 1e-12 && (found[0][1] - 0.5).abs() < 1e-12);
        let found = starts(FitLaw::Arrhenius, &data, fastest).unwrap();
        assert!(found[0][1] < -3e4, "{found:?}");
        for law in [FitLaw::Cardinal, FitLaw::SquareRoot] {
            for start in starts(law, &data, fastest).unwrap() {
                assert_eq!(start[1], 5.0, "{law:?}");
            }
        }
    }

    /// Rounding is a mean square of 1e-28 against the fastest speed: with less left no error is claimed, and no
    /// criterion. Of the factor of the square-root law only the square enters, so it is told above 0.
    #[test]
    fn what_is_told_of_a_perfect_fit() {
        let told = |law: FitLaw, first: f64, mean_square: f64| {
            let estimate = |name, value: f64| crate::learn::Estimate {
                name,
                value,
                standard_error: Some(0.1),
                standing: crate::learn::Identifiability::Determined,
            };
            let report = Report {
                estimates: vec![estimate("first", first), estimate("second", -3.0)],
                rss: 8.0 * mean_square,
                rows: 8,
                residual_sd: Some((8.0 * mean_square / 6.0).sqrt()),
                correlations: vec![vec![Some(1.0), Some(0.0)], vec![Some(0.0), Some(1.0)]],
                stop: Termination::Converged,
            };
            in_unit(report, law, Transform::None, 9.0, [10.0, 30.0])
        };
        for (mean_square, scatters) in [(0.9e-28, false), (1.1e-28, true), (1e-3, true)] {
            let fit = told(FitLaw::Q10, 0.5, mean_square);
            assert_eq!(fit.aic.is_some(), scatters, "{mean_square}");
            assert_eq!(fit.aicc.is_some(), scatters, "{mean_square}");
            let errors = fit
                .report
                .estimates
                .iter()
                .map(|e| e.standard_error.is_some());
            assert!(errors.eq([scatters; 2]), "{mean_square}");
        }
        // The root of the unit with the square-root law, else the unit.
        for (law, first, expected) in [
            (FitLaw::SquareRoot, -0.5, 1.5),
            (FitLaw::SquareRoot, 0.5, 1.5),
            (FitLaw::Q10, 0.5, 4.5),
            (FitLaw::Q10, -0.5, -4.5),
        ] {
            let values = told(law, first, 1e-3).report.values();
            assert_eq!(values, [expected, -3.0], "{law:?}");
        }
    }

    /// The line through the square roots takes the rising part alone, without points that stand still: 0.05 a
    /// kelvin above 4 °C. A curve that falls from the first point on has its best above the middle of its limits,
    /// 5 and 41, 44 or 50 °C, by one.
    #[test]
    fn starts_are_of_the_rising_part() {
        let data: Vec<[f64; 2]> = [2.0, 8.0, 16.0, 24.0, 32.0, 36.0, 40.0]
            .map(|t: f64| match t {
                2.0 => [t, 0.0],
                36.0 => [t, 1.5],
                40.0 => [t, 0.4],
                _ => [t, (0.05 * (t - 4.0)).powi(2)],
            })
            .to_vec();
        let fastest = data[4];
        for start in starts(FitLaw::SquareRoot, &data, fastest).unwrap() {
            assert!(
                (start[0] - 0.05 / fastest[1].sqrt()).abs() < 1e-12,
                "{start:?}"
            );
            assert!((start[1] - 4.0).abs() < 1e-9, "{start:?}");
        }
        let falling: Vec<[f64; 2]> = [10.0, 20.0, 30.0, 40.0]
            .map(|t: f64| [t, 4.0 - 0.05 * t])
            .to_vec();
        let found = starts(FitLaw::Cardinal, &falling, falling[0]).unwrap();
        let best: Vec<f64> = found.iter().map(|start| start[2]).collect();
        assert_eq!(best, [24.0, 25.5, 28.5]);
    }

    /// Beyond its limits a curve is 0 and stays so, on either scale.
    #[test]
    fn beyond_the_limits_nothing_moves() {
        for (law, p) in [
            (FitLaw::Cardinal, [0.46, 2.6, 32.4, 41.3]),
            (FitLaw::SquareRoot, [0.03, -0.9, 0.3, 43.0]),
        ] {
            for transform in [Transform::None, Transform::Sqrt] {
                for t in [-5.0, 50.0] {
                    let row = SpeedRow::new(law, transform, t, 0.25);
                    assert_eq!(row.residual(&p), (-transform.on(0.25), [0.0; 4]));
                }
            }
        }
    }

    /// Points without scatter leave rounding, in which two ways do not agree: that sends nobody on the long one.
    #[test]
    fn exact_points_are_quick() {
        for (law, p) in [
            (FitLaw::Cardinal, [0.96, 2.6, 32.4, 41.3]),
            (FitLaw::SquareRoot, [0.03, -0.9, 0.3, 43.0]),
        ] {
            let points: Vec<Speed> = (0..20)
                .map(|i| {
                    let t = 5.0 + 1.8 * f64::from(i);
                    Speed {
                        temperature: Temperature::celsius(t).unwrap(),
                        rate: law.rate(&p, t),
                    }
                })
                .collect();
            assert!(by_the_short_way(&points, law).is_some(), "{law:?}");
        }
    }

    /// A line so steep that it crosses zero at 29.9 °C: the lowest temperature begins 2 K below the fastest point.
    /// One so flat that it crosses at -20 °C: 15 K below the coldest.
    #[test]
    fn the_lowest_temperature_begins_near_the_data() {
        let low = |data: &[[f64; 2]]| {
            let found = starts(FitLaw::SquareRoot, data, data[data.len() - 1]).unwrap();
            found.iter().map(|start| start[1]).collect::<Vec<_>>()
        };
        assert_eq!(low(&[[30.0, 0.01], [31.0, 1.0]]), [29.0; 6]);
        let flat = [10.0, 20.0, 30.0].map(|t: f64| [t, (0.05 * (t + 20.0)).powi(2)]);
        assert_eq!(low(&flat), [-5.0; 6]);
    }

    /// Six points from which the first start leads to the mirror image of a curve; the others find one.
    #[test]
    fn a_start_that_leads_to_no_curve_is_passed_over() {
        let data = [
            [4.0, 0.0],
            [11.0, 0.22],
            [18.0, 0.26],
            [26.0, 0.98],
            [33.0, 1.11],
            [40.0, 0.47],
        ];
        let points = data.map(|[t, rate]| Speed {
            temperature: Temperature::celsius(t).unwrap(),
            rate,
        });
        let found = fit_rate(&points, FitLaw::Cardinal, Transform::None).unwrap();
        let p = found.report.values();
        assert!(is_sensible(FitLaw::Cardinal, &p), "{p:?}");
        // Its fastest place lies by the fastest points, its limits about them.
        assert!(
            p[1] < 18.0 && (26.0..40.0).contains(&p[2]) && p[3] > 40.0,
            "{p:?}"
        );
        assert_eq!(found.law.rate(&p, p[3] + 1.0), 0.0);
    }

    /// Six points with two hollows in the sum of squares. The first start ends in the shallow one, the second in
    /// the other: the answer is that of the deepest.
    #[test]
    fn of_two_roads_that_end_apart_the_lower_is_told() {
        let law = FitLaw::SquareRoot;
        let data = [
            [4.0, 0.08],
            [11.0, 0.09],
            [18.0, 0.4],
            [26.0, 0.81],
            [33.0, 0.99],
            [40.0, 0.24],
        ];
        let rows = data.map(|[t, rate]| SpeedRow::new(law, Transform::None, t, rate / 0.99));
        let found = starts(law, &data, data[4]).unwrap();
        let sums: Vec<f64> = found
            .iter()
            .filter_map(|start| down(&rows, start))
            .map(|(_, rss)| rss)
            .collect();
        let least = sums.iter().copied().fold(f64::INFINITY, f64::min);
        assert!(sums[0] > 2.0 * least, "{sums:?}");
        let points = data.map(|[t, rate]| Speed {
            temperature: Temperature::celsius(t).unwrap(),
            rate,
        });
        let fit = fit_rate(&points, law, Transform::None).unwrap();
        let rss = fit.report.rss / (0.99 * 0.99);
        assert!(rss <= least * (1.0 + 1e-6), "{rss} {sums:?}");
    }
}
