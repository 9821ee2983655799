//! Speed of yeast against temperature: the relative rate `f(T)`, 1 at the law's reference temperature.
//!
//! | law | equation | outside its range |
//! |---|---|---|
//! | [`q10`](RateLaw::q10) | `q^((T - Tref)/10)` | refused |
//! | [`arrhenius`](RateLaw::arrhenius) | `exp(-Ea/R (1/T - 1/Tref))`, T in K | refused |
//! | [`square_root`](RateLaw::square_root) | `[(T - Tmin)(1 - exp(c (T - Tmax)))]²`, scaled to 1 at the reference | 0 |
//! | [`cardinal`](RateLaw::cardinal) | the cardinal temperature model with inflection, scaled likewise | 0 |
//! | [`tabulated`](RateLaw::tabulated) | straight in log rate between the knots | 0 |
//!
//! *Which one?* Q10 and Arrhenius have two numbers and no upper limit: fine within a few kelvin
//! of a baker's own log, wrong in a fridge and above 35 °C, which is why each carries the range it was
//! made for and is refused outside it. The square-root law follows gas making from 10 °C to its peak near
//! 40 °C; the cardinal one has an optimum and two limits that one can read off and suits growth;
//! the tabulated one repeats a published table exactly.

use crate::error::{Error, Result, check};
use crate::numeric::exp;
use crate::units::Temperature;
#[cfg(feature = "simd")]
use fearless_simd::{Level, dispatch};
use serde::{Deserialize, Serialize};

/// Without the feature a slice is as wide as the compiler's target.
#[cfg(not(feature = "simd"))]
macro_rules! dispatch {
    ($level:expr, _ => $rates:expr) => {
        $rates
    };
}

/// Molar gas constant, J/(mol K): exact in the SI of 2019.
pub(crate) const GAS_CONSTANT: f64 = 8.314_462_618_153_24;
/// 0 °C in K, by definition of the degree Celsius.
pub(crate) const ZERO_CELSIUS_K: f64 = 273.15;

/// A law for the relative rate of yeast at a temperature.
///
/// Serialises with the name of the law and keys that carry their unit:
///
/// ```
/// use pointage::{rate::RateLaw, units::Temperature};
/// let law: RateLaw = toml_from(r#"law = "cardinal"
/// t_min_c = 2.6
/// t_opt_c = 32.4
/// t_max_c = 41.3
/// reference_c = 32.4"#);
/// assert_eq!(law.relative_rate(Temperature::celsius(32.4)?)?, 1.0);
/// assert_eq!(law.relative_rate(Temperature::celsius(45.0)?)?, 0.0);
/// # fn toml_from(s: &str) -> RateLaw { toml::from_str(s).unwrap() }
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Equation", into = "Equation")]
pub struct RateLaw {
    law: Equation,
    /// What makes the law 1 at its reference; of a Q10 its logarithm per kelvin.
    constant: f64,
}

/// The numbers of each law, as in a parameter file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "law", rename_all = "kebab-case", deny_unknown_fields)]
enum Equation {
    Q10(Q10),
    Arrhenius(Arrhenius),
    SquareRoot(SquareRoot),
    Cardinal(Cardinal),
    Tabulated {
        knots: Vec<[f64; 2]>,
    },
    /// A law with a smooth curve in its place below a temperature: °C, log rate and its slope at each knot, of which the
    /// last is where the two meet.
    #[serde(skip)]
    Joined {
        law: Box<RateLaw>,
        cold: Vec<[f64; 3]>,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Q10 {
    q10: f64,
    reference_c: f64,
    valid_c: [f64; 2],
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Arrhenius {
    activation_kj_per_mol: f64,
    reference_c: f64,
    valid_c: [f64; 2],
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SquareRoot {
    t_min_c: f64,
    t_max_c: f64,
    c_per_k: f64,
    reference_c: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Cardinal {
    t_min_c: f64,
    t_opt_c: f64,
    t_max_c: f64,
    reference_c: f64,
}

impl From<RateLaw> for Equation {
    fn from(law: RateLaw) -> Self {
        law.law
    }
}

impl TryFrom<Equation> for RateLaw {
    type Error = Error;

    fn try_from(law: Equation) -> Result<Self> {
        let constant = match law {
            Equation::Q10(l) => {
                check("q10", l.q10, 1.0, 10.0, "")?;
                check_valid(l.reference_c, l.valid_c)?;
                l.q10.ln() / 10.0
            }
            Equation::Arrhenius(l) => {
                let energy = l.activation_kj_per_mol;
                check("activation_kj_per_mol", energy, 0.0, 300.0, "kJ/mol")?;
                check_valid(l.reference_c, l.valid_c)?;
                1.0
            }
            Equation::SquareRoot(l) => {
                check_limits(l.t_min_c, l.t_max_c, l.reference_c)?;
                check("c_per_k", l.c_per_k, 0.01, 10.0, "1/K")?;
                scale(square_root(l, l.reference_c))?
            }
            Equation::Cardinal(l) => {
                let (t_opt_c, t_max_c) = (l.t_opt_c, l.t_max_c);
                check_limits(l.t_min_c, t_max_c, l.reference_c)?;
                let middle = 0.5 * (l.t_min_c + t_max_c);
                if !(t_opt_c > middle && t_opt_c < t_max_c) {
                    return Err(Error::contradiction(format!(
                        "t_opt_c is {t_opt_c} °C, but must lie above the middle of t_min_c and t_max_c ({middle} °C) and below t_max_c ({t_max_c} °C)"
                    )));
                }
                scale(cardinal(l, l.reference_c))?
            }
            Equation::Tabulated { ref knots } => {
                check("number of knots", knots.len() as f64, 2.0, 1000.0, "")?;
                for knot in knots {
                    check("knot temperature", knot[0], -20.0, 60.0, "°C")?;
                    check("knot rate", knot[1], 1e-9, 1e6, "")?;
                }
                if let Some(pair) = knots.windows(2).find(|p| p[1][0] <= p[0][0]) {
                    return Err(Error::malformed(format!(
                        "the temperatures of the knots must rise, but {} °C follows {} °C; sort the table",
                        pair[1][0], pair[0][0]
                    )));
                }
                1.0
            }
            Equation::Joined { .. } => 1.0,
        };
        Ok(Self { law, constant })
    }
}

fn check_valid(reference_c: f64, valid_c: [f64; 2]) -> Result<()> {
    check("reference_c", reference_c, -20.0, 60.0, "°C")?;
    check("lower end of valid_c", valid_c[0], -20.0, 60.0, "°C")?;
    check("upper end of valid_c", valid_c[1], valid_c[0], 60.0, "°C")?;
    Ok(())
}

/// Limits of a law that is 0 outside them, and its reference between them.
fn check_limits(t_min_c: f64, t_max_c: f64, reference_c: f64) -> Result<()> {
    check("t_min_c", t_min_c, -20.0, 40.0, "°C")?;
    check("t_max_c", t_max_c, t_min_c + 1.0, 60.0, "°C")?;
    check("reference_c", reference_c, t_min_c, t_max_c, "°C")?;
    Ok(())
}

/// What makes a law 1 at its reference, where it is still `at_reference`.
fn scale(at_reference: f64) -> Result<f64> {
    if at_reference <= 0.0 {
        return Err(Error::contradiction(
            "reference_c must lie inside the limits t_min_c and t_max_c, not on one of them",
        ));
    }
    Ok(1.0 / at_reference)
}

/// `(T - Tmin)(1 - exp(c (T - Tmax)))` inside `(Tmin, Tmax)`, 0 outside, where the bare square of it would turn
/// positive again.
#[inline(always)]
fn square_root(l: SquareRoot, t: f64) -> f64 {
    if t <= l.t_min_c || t >= l.t_max_c {
        return 0.0;
    }
    let x = l.c_per_k * (t - l.t_max_c);
    // Far from its upper limit nothing cancels.
    let short = if (-700.0..-0.5).contains(&x) {
        1.0 - exp(x)
    } else {
        -x.exp_m1()
    };
    (t - l.t_min_c) * short
}

/// `(T-Tmax)(T-Tmin)² / {(Topt-Tmin)[(Topt-Tmin)(T-Topt) - (Topt-Tmax)(Topt+Tmin-2T)]}` inside `(Tmin, Tmax)`, 0
/// outside.
#[inline(always)]
fn cardinal(l: Cardinal, t: f64) -> f64 {
    let (low, best, high) = (l.t_min_c, l.t_opt_c, l.t_max_c);
    let below = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2.0 * t));
    let rate = (t - high) * (t - low).powi(2) / below;
    // Chosen after the fact: a slice of rates then needs no branch.
    if t > low && t < high { rate } else { 0.0 }
}

/// Where the square below the first knot, `((T - zero)/(T0 - zero))²`, ends.
fn zero_c([first_c, _, slope]: [f64; 3]) -> f64 {
    first_c - 2.0 / slope
}

/// The cubic through knots with their slopes, and the logarithm of that square below the first.
fn cubic(knots: &[[f64; 3]], t: f64) -> f64 {
    let i = knots.partition_point(|k| k[0] <= t);
    let ([t0, y0, m0], Some(&[t1, y1, m1])) = (knots[i.saturating_sub(1)], knots.get(i)) else {
        return f64::NAN;
    };
    if i == 0 {
        return y0 + 2.0 * (1.0 + 0.5 * m0 * (t - t0)).max(0.0).ln();
    }
    let (h, x) = (t1 - t0, (t - t0) / (t1 - t0));
    let step = (y1 - y0) / h;
    y0 + h * x * (m0 + x * (3.0 * step - 2.0 * m0 - m1 + x * (m0 + m1 - 2.0 * step)))
}

/// `exp(log_per_k (T - Tref))`, refused outside its range.
#[inline(always)]
fn q10(l: Q10, log_per_k: f64, t: f64) -> f64 {
    let rate = exp(log_per_k * (t - l.reference_c));
    let holds = t >= l.valid_c[0] && t <= l.valid_c[1];
    if holds { rate } else { f64::NAN }
}

impl RateLaw {
    /// A constant factor `q10` (1 to 10) per 10 K, the reference (°C), and the range in which the law is
    /// meant to hold (°C, within -20 to 60): `f(T) = q^((T - Tref)/10)`.
    ///
    /// # Errors
    /// A number out of its range.
    pub fn q10(q10: f64, reference_c: f64, valid_c: [f64; 2]) -> Result<Self> {
        Self::try_from(Equation::Q10(Q10 {
            q10,
            reference_c,
            valid_c,
        }))
    }

    /// A constant activation energy (0 to 300 kJ/mol), the reference (°C), and the range in which the law
    /// is meant to hold (°C, within -20 to 60): `f(T) = exp(-Ea/R (1/T - 1/Tref))`, temperatures in K.
    ///
    /// # Errors
    /// A number out of its range.
    pub fn arrhenius(
        activation_kj_per_mol: f64,
        reference_c: f64,
        valid_c: [f64; 2],
    ) -> Result<Self> {
        Self::try_from(Equation::Arrhenius(Arrhenius {
            activation_kj_per_mol,
            reference_c,
            valid_c,
        }))
    }

    /// The square-root law with an upper limit (Ratkowsky, Lowry, McMeekin, Stokes & Chandler 1983,
    /// J. Bacteriol. 154:1222): `[b (T - Tmin)(1 - exp(c (T - Tmax)))]²` inside `(Tmin, Tmax)`, 0 outside; `b`
    /// drops out, because the rate is relative.
    ///
    /// The lower and upper limit (°C), the steepness `c` below the upper limit (1/K, 0.01 to 10) and
    /// the reference (°C, inside the limits).
    ///
    /// # Errors
    /// A number out of its range, or limits in the wrong order.
    pub fn square_root(t_min_c: f64, t_max_c: f64, c_per_k: f64, reference_c: f64) -> Result<Self> {
        Self::try_from(Equation::SquareRoot(SquareRoot {
            t_min_c,
            t_max_c,
            c_per_k,
            reference_c,
        }))
    }

    /// The cardinal temperature model with inflection (Rosso, Lobry & Flandrois 1993, J. Theor. Biol.
    /// 162:447): inside `(Tmin, Tmax)`
    /// `(T-Tmax)(T-Tmin)² / {(Topt-Tmin)[(Topt-Tmin)(T-Topt) - (Topt-Tmax)(Topt+Tmin-2T)]}`, 0 outside.
    ///
    /// Lowest, best and highest temperature, and the reference (all °C). The best one must lie above
    /// the middle of the other two, or the law would have a pole inside its range.
    ///
    /// # Errors
    /// A number out of its range, or temperatures in the wrong order.
    pub fn cardinal(t_min_c: f64, t_opt_c: f64, t_max_c: f64, reference_c: f64) -> Result<Self> {
        Self::try_from(Equation::Cardinal(Cardinal {
            t_min_c,
            t_opt_c,
            t_max_c,
            reference_c,
        }))
    }

    /// A published table, straight in log rate between its knots, 0 outside. Knots of temperature (°C, rising)
    /// and relative rate (above 0); at least two, at most 1000.
    ///
    /// # Errors
    /// Too few or too many knots, temperatures that do not rise, or a rate that is not positive.
    ///
    /// ```
    /// use pointage::{rate::RateLaw, units::Temperature};
    /// let law = RateLaw::tabulated(vec![[20.0, 0.5], [30.0, 2.0]])?;
    /// assert!((law.relative_rate(Temperature::celsius(25.0)?)? - 1.0).abs() < 1e-15); // geometric mean
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn tabulated(knots: Vec<[f64; 2]>) -> Result<Self> {
        Self::try_from(Equation::Tabulated { knots })
    }

    /// The law from `join` on, and below it a monotone cubic in log rate through the `points` (°C, rate; rising), which
    /// meets the law with its slope: the square-root law reads up to 18 % low in a fridge. Below the coldest point a square
    /// of its own goes on with the slope that the first four points have there, and so has its own zero.
    ///
    /// # Errors
    /// Fewer than four points, or two below the join, or ones that do not rise to the law's rate there.
    pub(crate) fn below(self, join: Temperature, points: &[[f64; 2]]) -> Result<Self> {
        /// Half the step over which the law's slope is taken, K.
        const STEP_K: f64 = 1e-3;
        let join_c = join.as_celsius();
        let [before, there, after] = [-STEP_K, 0.0, STEP_K].map(|k| self.at(join_c + k).ln());
        let colder = points.iter().filter(|p| p[0] < join_c);
        let mut cold: Vec<[f64; 3]> = colder.map(|p| [p[0], p[1].ln(), 0.0]).collect();
        cold.push([join_c, there, (after - before) / (2.0 * STEP_K)]);
        let step = |k: &[[f64; 3]]| (k[1][1] - k[0][1]) / (k[1][0] - k[0][0]);
        let steps: Vec<f64> = cold.windows(2).map(step).collect();
        let rises = |slope: &f64| slope.is_finite() && *slope > 0.0;
        if points.len() < 4
            || steps.len() < 2
            || !steps.iter().chain([&cold[cold.len() - 1][2]]).all(rises)
        {
            return Err(Error::contradiction(format!(
                "the law and the points for the cold cannot be joined at {join_c} °C: they must rise to it, and the law have a rate there"
            )));
        }
        // Newton's polynomial through the first four points, derived at the first.
        let log = |i: usize| points[i][1].ln();
        let one = |i: usize| (log(i + 1) - log(i)) / (points[i + 1][0] - points[i][0]);
        let two = |i: usize| (one(i + 1) - one(i)) / (points[i + 2][0] - points[i][0]);
        let three = (two(1) - two(0)) / (points[3][0] - points[0][0]);
        let back = |i: usize| points[0][0] - points[i][0];
        cold[0][2] = one(0) + back(1) * (two(0) + back(2) * three);
        // The harmonic mean of two steps keeps a cubic monotone (Fritsch and Butland 1984).
        for (knot, step) in cold[1..].iter_mut().zip(steps.windows(2)) {
            knot[2] = 2.0 * step[0] * step[1] / (step[0] + step[1]);
        }
        Self::try_from(Equation::Joined {
            law: Box::new(self),
            cold,
        })
    }

    /// The relative rate at a temperature: 0 or more, 1 at the reference.
    ///
    /// # Errors
    /// [`Error::LawRange`] where a law without limits of its own (Q10, Arrhenius) is asked
    /// outside the range it was made for.
    pub fn relative_rate(&self, temperature: Temperature) -> Result<f64> {
        let t = temperature.as_celsius();
        let rate = self.at(t);
        let held = (!rate.is_nan()).then_some(rate);
        held.ok_or_else(|| self.refusal(t))
    }

    /// The relative rates at many temperatures: the same numbers as [`relative_rate`](Self::relative_rate),
    /// sooner. `rates` must be as long as `temperatures`.
    ///
    /// ```
    /// use pointage::{rate::RateLaw, units::Temperature};
    /// let law = RateLaw::cardinal(2.6, 32.4, 41.3, 24.0)?;
    /// let day = [18.0, 24.0, 50.0].map(|c| Temperature::celsius(c).unwrap());
    /// let mut rates = [0.0; 3];
    /// law.relative_rates(&day, &mut rates)?;
    /// assert!(rates[0] < 1.0 && rates[1] == 1.0 && rates[2] == 0.0);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    ///
    /// # Errors
    /// As for [`relative_rate`](Self::relative_rate), at the first temperature that is refused; slices of
    /// unequal length.
    pub fn relative_rates(&self, temperatures: &[Temperature], rates: &mut [f64]) -> Result<()> {
        if temperatures.len() != rates.len() {
            return Err(Error::contradiction(format!(
                "{} temperatures and room for {} rates; give slices of equal length",
                temperatures.len(),
                rates.len()
            )));
        }
        #[inline(always)]
        fn fill(temperatures: &[Temperature], rates: &mut [f64], at: impl Fn(f64) -> f64) {
            for (rate, t) in rates.iter_mut().zip(temperatures) {
                *rate = at(t.as_celsius());
            }
        }
        let constant = self.constant;
        match self.law {
            // A loop of its own, so that the compiler sees one formula and makes it as wide as the machine is.
            Equation::Cardinal(l) => dispatch!(Level::new(), _ => fill(temperatures, rates, |t| {
                cardinal(l, t) * constant
            })),
            Equation::Q10(l) => dispatch!(Level::new(), _ => fill(temperatures, rates, |t| {
                q10(l, constant, t)
            })),
            _ => fill(temperatures, rates, |t| self.at(t)),
        }
        match rates.iter().position(|rate| rate.is_nan()) {
            Some(i) => Err(self.refusal(temperatures[i].as_celsius())),
            None => Ok(()),
        }
    }

    /// The law along a temperature that starts at `from` °C and moves evenly by `slope` K/h for `hours`, where
    /// that is an exponential of time; `None` where it is not, or the law ends on the way. `known` is a
    /// temperature with its rate, such as those at the end of the ramp before.
    pub(crate) fn along_ramp(
        &self,
        from: f64,
        slope: f64,
        hours: f64,
        known: (f64, f64),
    ) -> Option<Exponential> {
        if slope == 0.0 {
            let start = self.at(from);
            return (!start.is_nan()).then_some(Exponential { start, growth: 0.0 });
        }
        if !matches!(self.law, Equation::Q10(_)) {
            return None;
        }
        let (low, high) = self.limits_c();
        let inside = |t: f64| t >= low && t <= high;
        (inside(from) && inside(from + slope * hours)).then(|| Exponential {
            // A difference of rounding moves the rate in its last digits only.
            start: if (from - known.0).abs() < 1e-12 {
                known.1
            } else {
                self.at(from)
            },
            growth: self.constant * slope,
        })
    }

    /// The relative rate at `t` °C, NaN where the law is refused: the form for inner loops.
    pub(crate) fn at(&self, t: f64) -> f64 {
        match self.law {
            Equation::Q10(l) => q10(l, self.constant, t),
            Equation::Arrhenius(l) if t < l.valid_c[0] || t > l.valid_c[1] => f64::NAN,
            Equation::Arrhenius(l) => {
                let inverse = 1.0 / (t + ZERO_CELSIUS_K) - 1.0 / (l.reference_c + ZERO_CELSIUS_K);
                (-1e3 * l.activation_kj_per_mol / GAS_CONSTANT * inverse).exp()
            }
            Equation::SquareRoot(l) => (square_root(l, t) * self.constant).powi(2),
            Equation::Cardinal(l) => cardinal(l, t) * self.constant,
            Equation::Tabulated { ref knots } => {
                let (low, high) = self.limits_c();
                if !(low..=high).contains(&t) {
                    return 0.0;
                }
                let i = knots.partition_point(|k| k[0] <= t);
                let i = i.clamp(1, knots.len() - 1);
                let [t0, r0] = knots[i - 1];
                let [t1, r1] = knots[i];
                r0 * (r1 / r0).powf((t - t0) / (t1 - t0))
            }
            Equation::Joined { ref cold, .. } if t < cold[cold.len() - 1][0] => {
                cubic(cold, t).exp()
            }
            Equation::Joined { ref law, .. } => law.at(t),
        }
    }

    /// The error for a temperature at which [`at`](Self::at) gave NaN.
    pub(crate) fn refusal(&self, at_c: f64) -> Error {
        let (low_c, high_c) = self.limits_c();
        Error::LawRange {
            law: self.name(),
            low_c,
            high_c,
            at_c,
        }
    }

    /// The law's name, as in a parameter file.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self.law {
            Equation::Q10(_) => "q10",
            Equation::Arrhenius(_) => "arrhenius",
            Equation::SquareRoot(_) => "square-root",
            Equation::Cardinal(_) => "cardinal",
            Equation::Tabulated { .. } => "tabulated",
            Equation::Joined { ref law, .. } => law.name(),
        }
    }

    /// The temperatures between which the law gives a rate, °C.
    #[must_use]
    pub fn limits_c(&self) -> (f64, f64) {
        match self.law {
            Equation::Q10(l) => l.valid_c.into(),
            Equation::Arrhenius(l) => l.valid_c.into(),
            Equation::SquareRoot(l) => (l.t_min_c, l.t_max_c),
            Equation::Cardinal(l) => (l.t_min_c, l.t_max_c),
            Equation::Tabulated { ref knots } => (knots[0][0], knots[knots.len() - 1][0]),
            Equation::Joined { ref law, ref cold } => (zero_c(cold[0]), law.limits_c().1),
        }
    }

    /// Temperatures at which the law has a kink: an integral over temperature is split there.
    pub(crate) fn kinks(&self) -> Vec<f64> {
        match &self.law {
            Equation::Tabulated { knots } => knots.iter().map(|k| k[0]).collect(),
            Equation::Joined { law, cold } => {
                let knots = cold.iter().map(|k| k[0]);
                let join_c = cold[cold.len() - 1][0];
                let warm = law.kinks().into_iter().filter(|k| *k > join_c);
                let zero = std::iter::once(zero_c(cold[0]));
                zero.chain(knots).chain(warm).collect()
            }
            _ => <[f64; 2]>::from(self.limits_c()).into(),
        }
    }

    /// The factor by which the rate grows for each 10 K, taken between two temperatures:
    /// `(f(b)/f(a))^(10/(b - a))`.
    ///
    /// # Errors
    /// A temperature outside the law's range, equal temperatures, or no rate at one of them.
    ///
    /// ```
    /// use pointage::{rate::RateLaw, units::Temperature};
    /// let law = RateLaw::q10(2.3, 24.0, [0.0, 40.0])?;
    /// let (a, b) = (Temperature::celsius(18.0)?, Temperature::celsius(30.0)?);
    /// assert!((law.equivalent_q10(a, b)? - 2.3).abs() < 1e-12);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn equivalent_q10(&self, a: Temperature, b: Temperature) -> Result<f64> {
        let ratio = self.relative_rate(b)? / self.relative_rate(a)?;
        let q10 = ratio.powf(10.0 / (b - a).as_kelvin());
        if a != b && q10.is_finite() && q10 > 0.0 {
            Ok(q10)
        } else {
            Err(Error::contradiction(format!(
                "no Q10 between {} and {} °C: the temperatures must differ and both have a rate",
                a.as_celsius(),
                b.as_celsius()
            )))
        }
    }
}

/// A speed against temperature whose hours can be counted
/// ([`equivalent_hours`](crate::ferment::equivalent_hours)): a law, or the gas making of
/// [`Kinetics`](crate::ferment::Kinetics).
pub trait RateCurve {
    /// The relative rate at a temperature in °C; not a number where the curve is not meant to hold.
    fn at_celsius(&self, t: f64) -> f64;
    /// Temperatures at which the curve has a kink, °C.
    fn kinks_c(&self) -> Vec<f64>;
    /// The law that it is, or that it is made from.
    fn law(&self) -> &RateLaw;
    /// True when it is that law and nothing else, whose closed forms then hold.
    fn is_law(&self) -> bool {
        false
    }
}

impl RateCurve for RateLaw {
    fn at_celsius(&self, t: f64) -> f64 {
        self.at(t)
    }
    fn kinks_c(&self) -> Vec<f64> {
        self.kinks()
    }
    fn law(&self) -> &RateLaw {
        self
    }
    fn is_law(&self) -> bool {
        true
    }
}

/// `start exp(growth u)` against hours `u`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Exponential {
    start: f64,
    growth: f64,
}

impl Exponential {
    /// Its integral from 0 to `hours`.
    pub(crate) fn integral(self, hours: f64) -> f64 {
        let x = self.growth * hours;
        // Without growth the time counts in proportion, also when it is endless.
        if self.growth == 0.0 {
            self.start * hours
        } else {
            self.start * (x.exp_m1() / self.growth)
        }
    }

    /// The rate when the integral has come to `integral`.
    pub(crate) fn rate_after(self, integral: f64) -> f64 {
        self.start + self.growth * integral
    }

    /// The hours at which the integral has come to `integral`.
    pub(crate) fn hours_for(self, integral: f64) -> f64 {
        if self.growth == 0.0 {
            integral / self.start
        } else {
            (integral * self.growth / self.start).ln_1p() / self.growth
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn c(t: f64) -> Temperature {
        Temperature::celsius(t).unwrap()
    }

    #[test]
    fn cardinal_identities() {
        // Rosso et al. 1993: 0 at both limits, 1 and flat at the optimum, 0 outside.
        let law = RateLaw::cardinal(2.6, 32.4, 41.3, 32.4).unwrap();
        for t in [2.6, 41.3, 0.0, 60.0, -5.0] {
            assert_eq!(law.at(t), 0.0);
        }
        assert!((law.at(32.4) - 1.0).abs() < 1e-12);
        // The slope by central difference: its own error is of the order h² f'''.
        let h = 1e-6;
        assert!(((law.at(32.4 + h) - law.at(32.4 - h)) / (2.0 * h)).abs() < 1e-9);
        assert!(law.at(2.6 + 1e-9) > 0.0 && law.at(41.3 - 1e-9) > 0.0);
        assert!(
            RateLaw::cardinal(2.6, 20.0, 41.3, 20.0).is_err(),
            "optimum below the middle"
        );
    }

    #[test]
    fn the_square_does_not_turn_positive_again() {
        let law = RateLaw::square_root(-0.9, 47.0, 0.48, 30.0).unwrap();
        assert_eq!(law.at(30.0), 1.0);
        for t in [-0.9, -10.0, 47.0, 47.1, 60.0] {
            assert_eq!(law.at(t), 0.0, "{t}");
        }
    }

    #[test]
    fn an_activation_energy_has_the_q10_of_arithmetic() {
        // 34.96 kJ/mol (Phisalaphong et al. 2006) is a Q10 of 1.605 from 20 to 30 °C and 1.557 from 30
        // to 40 °C: arithmetic on the published energy, printed to 4 digits.
        let law = RateLaw::arrhenius(34.96, 25.0, [0.0, 45.0]).unwrap();
        assert!(law.equivalent_q10(c(20.0), c(20.0)).is_err());
        assert!((law.equivalent_q10(c(20.0), c(30.0)).unwrap() - 1.605).abs() < 5e-4);
        assert!((law.equivalent_q10(c(30.0), c(40.0)).unwrap() - 1.557).abs() < 5e-4);
    }

    #[test]
    fn unlimited_laws_are_refused_outside_their_range() {
        let law = RateLaw::q10(2.3, 24.0, [5.0, 35.0]).unwrap();
        let error = law.relative_rate(c(36.0)).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the q10 law holds from 5 to 35 °C and was asked at 36.0 °C; stay within, or use a curve with limits of its own"
        );
        assert!(law.relative_rate(c(4.9)).is_err());
        assert!(law.relative_rate(c(5.0)).is_ok());
    }

    #[test]
    fn laws_read_back_as_written() {
        let laws = [
            RateLaw::q10(2.3, 24.0, [0.0, 40.0]).unwrap(),
            RateLaw::arrhenius(60.0, 24.0, [0.0, 40.0]).unwrap(),
            RateLaw::square_root(-0.9, 47.0, 0.48, 30.0).unwrap(),
            RateLaw::cardinal(2.6, 32.4, 41.3, 30.0).unwrap(),
            RateLaw::tabulated(vec![[5.0, 0.04], [10.0, 0.12]]).unwrap(),
        ];
        for law in laws {
            let text = serde_json::to_string(&law).unwrap();
            assert!(text.contains(law.name()));
            assert_eq!(serde_json::from_str::<RateLaw>(&text).unwrap(), law);
        }
        let bad = r#"{"law":"cardinal","t_min_c":50,"t_opt_c":32,"t_max_c":41,"reference_c":30}"#;
        assert!(
            serde_json::from_str::<RateLaw>(bad)
                .unwrap_err()
                .to_string()
                .contains("t_min_c is 50 °C")
        );
    }

    #[test]
    fn a_slice_has_the_rates_of_its_temperatures_one_by_one() {
        let temperatures: Vec<Temperature> = (-300..=700).map(|i| c(f64::from(i) / 10.0)).collect();
        let mut rates = vec![0.0; temperatures.len()];
        for law in [
            RateLaw::square_root(-0.9, 47.0, 0.48, 30.0).unwrap(),
            RateLaw::cardinal(2.6, 32.4, 41.3, 24.0).unwrap(),
            RateLaw::tabulated(vec![[5.0, 0.04], [10.0, 0.12]]).unwrap(),
        ] {
            law.relative_rates(&temperatures, &mut rates).unwrap();
            for (t, rate) in temperatures.iter().zip(&rates) {
                assert_eq!(
                    law.relative_rate(*t).unwrap(),
                    *rate,
                    "{} {t:?}",
                    law.name()
                );
            }
        }
        for law in [
            RateLaw::q10(2.3, 24.0, [5.0, 35.0]).unwrap(),
            RateLaw::arrhenius(60.0, 24.0, [5.0, 35.0]).unwrap(),
        ] {
            let inside = &temperatures[350..=650];
            law.relative_rates(inside, &mut rates[..301]).unwrap();
            for (t, rate) in inside.iter().zip(&rates) {
                assert_eq!(
                    law.relative_rate(*t).unwrap(),
                    *rate,
                    "{} {t:?}",
                    law.name()
                );
            }
            // Refused at the first temperature that is.
            let refused = law.relative_rates(&temperatures[400..], &mut rates[400..]);
            assert_eq!(refused.unwrap_err(), law.refusal(35.1));
        }
        let law = RateLaw::cardinal(2.6, 32.4, 41.3, 24.0).unwrap();
        assert!(law.relative_rates(&temperatures, &mut rates[1..]).is_err());
    }

    proptest! {
        #[test]
        fn every_law_is_finite_and_not_negative_or_refused(t in -100.0..150.0f64) {
            for law in [
                RateLaw::q10(10.0, 24.0, [-20.0, 60.0]).unwrap(),
                RateLaw::arrhenius(300.0, 24.0, [-20.0, 60.0]).unwrap(),
                RateLaw::square_root(-0.9, 47.0, 0.48, 30.0).unwrap(),
                RateLaw::cardinal(2.6, 32.4, 41.3, 32.4).unwrap(),
                RateLaw::tabulated(vec![[5.0, 0.04], [10.0, 0.12]]).unwrap(),
            ] {
                match law.relative_rate(c(t)) {
                    Ok(rate) => prop_assert!(rate.is_finite() && rate >= 0.0),
                    Err(e) => {
                        let refused = matches!(e, Error::LawRange { .. });
                        prop_assert!(refused);
                    }
                }
                let (low, high) = law.limits_c();
                if t < low || t > high {
                    prop_assert!(!law.relative_rate(c(t)).is_ok_and(|r| r != 0.0));
                }
            }
        }
    }

    /// Relative rates are 1 at the reference, and follow their formula from there, worked out by hand.
    #[test]
    fn a_law_is_one_at_its_reference() {
        for law in [
            RateLaw::q10(2.3, 24.0, [0.0, 40.0]).unwrap(),
            RateLaw::arrhenius(60.0, 24.0, [0.0, 40.0]).unwrap(),
            RateLaw::square_root(-0.9, 47.0, 0.48, 24.0).unwrap(),
            RateLaw::cardinal(2.6, 32.4, 41.3, 24.0).unwrap(),
        ] {
            let rate = law.relative_rate(c(24.0)).unwrap();
            assert!((rate - 1.0).abs() < 1e-12, "{}: {rate}", law.name());
        }
        // 60 kJ/mol from 24 to 34 °C: exp(60000/8.314463 (1/297.15 - 1/307.15)) = 2.2049.
        let law = RateLaw::arrhenius(60.0, 24.0, [0.0, 40.0]).unwrap();
        assert!((law.relative_rate(c(34.0)).unwrap() - 2.2049).abs() < 1e-4);
    }

    /// A ramp that leaves the range of a law has no closed form: the law is refused on the way.
    #[test]
    fn a_ramp_stays_within_the_range_of_its_law() {
        let law = RateLaw::q10(2.0, 24.0, [10.0, 40.0]).unwrap();
        let known = (f64::NAN, f64::NAN);
        assert!(law.along_ramp(30.0, 2.0, 5.0, known).is_some());
        assert!(law.along_ramp(30.0, 2.0, 6.0, known).is_none());
        assert!(law.along_ramp(20.0, -2.0, 5.0, known).is_some());
        assert!(law.along_ramp(20.0, -2.0, 6.0, known).is_none());
        assert!(law.along_ramp(9.0, 2.0, 1.0, known).is_none());
        // So has a level.
        assert!(law.along_ramp(30.0, 0.0, 1.0, known).is_some());
        assert!(law.along_ramp(41.0, 0.0, 1.0, known).is_none());
    }

    /// References from -20 °C on, and limits that leave at least a kelvin between them.
    #[test]
    fn a_law_takes_what_its_ranges_say() {
        let q10 = |reference_c| RateLaw::q10(2.0, reference_c, [-20.0, 60.0]);
        let arrhenius = |reference_c| RateLaw::arrhenius(60.0, reference_c, [-20.0, 60.0]);
        for t in [-20.0, 4.0, 60.0] {
            assert!(q10(t).is_ok() && arrhenius(t).is_ok(), "{t}");
        }
        for t in [-20.1, 60.1] {
            assert!(q10(t).is_err() && arrhenius(t).is_err(), "{t}");
        }
        for valid_c in [[40.0, 10.0], [-20.1, 40.0], [0.0, 60.1], [f64::NAN, 40.0]] {
            assert!(RateLaw::q10(2.0, 24.0, valid_c).is_err(), "{valid_c:?}");
            assert!(
                RateLaw::arrhenius(60.0, 24.0, valid_c).is_err(),
                "{valid_c:?}"
            );
        }
        let between = |t_max_c| RateLaw::square_root(10.0, t_max_c, 0.48, 10.5);
        assert!(between(11.0).is_ok());
        assert!(between(10.9).is_err());
    }

    /// Rosso's formula by hand, wherever the least temperature lies.
    #[test]
    fn a_cardinal_law_may_begin_at_or_below_freezing() {
        // (20-40) 20²/{30 [30 (20-30) - (30-40)(30-40)]} = -8000/-12000.
        let law = RateLaw::cardinal(0.0, 30.0, 40.0, 30.0).unwrap();
        assert!((law.at(20.0) - 2.0 / 3.0).abs() < 1e-12);
        // 10 K lower throughout, the same.
        let law = RateLaw::cardinal(-10.0, 20.0, 30.0, 20.0).unwrap();
        assert!((law.at(10.0) - 2.0 / 3.0).abs() < 1e-12);
    }

    /// No factor from a rate to none, or from none.
    #[test]
    fn no_q10_to_or_from_a_temperature_without_a_rate() {
        let law = RateLaw::cardinal(2.6, 32.4, 41.3, 30.0).unwrap();
        for (a, b) in [
            (20.0, 45.0),
            (45.0, 20.0),
            (0.0, 20.0),
            (20.0, 0.0),
            (0.0, 45.0),
        ] {
            let error = law.equivalent_q10(c(a), c(b)).unwrap_err();
            assert!(error.to_string().contains("both have a rate"), "{error}");
        }
    }
}
