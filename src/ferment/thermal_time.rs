//! Hours that count: the integral of the relative rate along a course, and its inverse.
//!
//! `I(t) = integral of f(T(u)) du`: an hour at the law's reference temperature counts as one, an hour
//! in a cold room as less. No growth, no lag: the arithmetic for anything that runs with one curve.

use super::LONGEST_H;
use crate::ambient::{ON_KINK_K, Piece, TemperatureProfile};
use crate::error::{Result, check};
use crate::numeric::{self, Integral};
use crate::rate::RateCurve;

/// Temperature move across one panel of the integral, K: with eight points rounding is all that is left, whatever
/// the law.
const PANEL_K: f64 = 3.0;

/// Hours at the law's reference temperature that have the same effect as `hours` along the course.
///
/// # Errors
/// A time outside 0 to 504 h, or a temperature that the law refuses.
///
/// ```
/// use pointage::{ambient::TemperatureProfile, ferment::equivalent_hours, rate::RateLaw, units::Temperature};
/// let law = RateLaw::q10(2.0, 24.0, [0.0, 40.0])?;
/// let cool = TemperatureProfile::held(Temperature::celsius(14.0)?);
/// assert!((equivalent_hours(&law, &cool, 6.0)? - 3.0).abs() < 1e-12); // 10 K colder: half
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn equivalent_hours(
    curve: &(impl RateCurve + ?Sized),
    course: &TemperatureProfile<'_>,
    hours: f64,
) -> Result<f64> {
    check("time", hours, 0.0, LONGEST_H, "h")?;
    scan(curve, course, hours, f64::INFINITY).map(|(_, total)| total)
}

/// When the course has counted for `target_h` hours at the law's reference temperature, in hours from
/// its start; `None` when not within three weeks.
///
/// # Errors
/// A target outside 0 to 1e5 h, or a temperature that the law refuses.
pub fn time_to_equivalent(
    curve: &(impl RateCurve + ?Sized),
    course: &TemperatureProfile<'_>,
    target_h: f64,
) -> Result<Option<f64>> {
    let unit = "h at the reference temperature";
    check("target", target_h, 0.0, 1e5, unit)?;
    let (hours, total) = scan(curve, course, LONGEST_H, target_h)?;
    Ok((total >= target_h).then_some(hours))
}

/// Integrates until `hours` are gone or `target` is reached; gives both where it stopped.
fn scan(
    curve: &(impl RateCurve + ?Sized),
    course: &TemperatureProfile<'_>,
    hours: f64,
    target: f64,
) -> Result<(f64, f64)> {
    let (mut gone, mut total) = (0.0, 0.0);
    let mut knot = (f64::NAN, f64::NAN); // temperature and rate at the end of a ramp
    for piece in course.pieces() {
        let most = piece.length_h.min(hours - gone);
        if most <= 0.0 || total >= target {
            break;
        }
        let left = target - total;
        let plain = piece.ramp().filter(|_| curve.is_law());
        let ramp = plain.and_then(|(from, slope)| {
            let rate = curve.law().along_ramp(from, slope, most, knot)?;
            Some((rate, from + slope * most))
        });
        let (made, reached) = match ramp {
            Some((rate, end_c)) => {
                let made = rate.integral(most);
                knot = (end_c, rate.rate_after(made));
                (made, (made >= left).then(|| rate.hours_for(left)))
            }
            None => by_panels(curve, &piece, most, left)?,
        };
        if let Some(u) = reached {
            return Ok((gone + u.min(most), target));
        }
        total += made;
        gone = if most < piece.length_h {
            hours
        } else {
            gone + most
        };
    }
    Ok((gone, total))
}

/// The integral over the first `most` hours of a piece, panel by panel, and the hour at which it has come
/// to `target`, where it does.
fn by_panels(
    curve: &(impl RateCurve + ?Sized),
    piece: &Piece,
    most: f64,
    target: f64,
) -> Result<(f64, Option<f64>)> {
    let (mut at, mut total) = (0.0, 0.0);
    while at < most {
        let h = unbroken_length(piece, curve, at, most - at);
        let temperatures = numeric::fractions().map(|x| piece.at(at + x * h));
        let rates = temperatures.map(|t| curve.at_celsius(t));
        if let Some(i) = rates.iter().position(|rate| rate.is_nan()) {
            return Err(curve.law().refusal(temperatures[i]));
        }
        let sum = numeric::integral(&rates, h);
        if total + sum >= target {
            let integral = Integral::of(&rates, h);
            let x = numeric::root(|x| total + integral.to(x) - target, 0.0, 1.0).unwrap_or(1.0);
            return Ok((target, Some(at + h * x)));
        }
        total += sum;
        at = if h >= most - at { most } else { at + h };
    }
    Ok((total, None))
}

/// A panel's length that does not run over a kink of the law.
fn unbroken_length(piece: &Piece, curve: &(impl RateCurve + ?Sized), at: f64, most: f64) -> f64 {
    let mut h = piece.smooth_length(at, most.min(4.0), PANEL_K);
    let start = piece.at(at);
    for kink in curve.kinks_c() {
        if (start - kink).abs() > ON_KINK_K
            && (start - kink) * (piece.at(at + h) - kink) < 0.0
            && let Some(u) = numeric::root(|u| piece.at(u) - kink, at, at + h)
        {
            h = h.min((u - at).max(1e-12));
        }
    }
    h
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ambient::Ambient;
    use crate::rate::RateLaw;
    use crate::units::Temperature;

    /// A dough that follows its room over the limits and corners of its law, up and down: against a plain
    /// sum over very many points.
    #[test]
    fn corners_of_a_law_are_not_run_over() {
        let c = |t: f64| Temperature::celsius(t).unwrap();
        let warming = Ambient::steps(&[(0.0, 38.0), (3.0, 4.0), (9.0, 21.5)]).unwrap();
        let drifting = Ambient::ramps(&[(0.0, 3.0), (5.0, 44.0), (9.0, -4.0)]).unwrap();
        let laws = [
            RateLaw::cardinal(8.0, 28.0, 34.0, 24.0).unwrap(),
            RateLaw::square_root(12.0, 33.0, 0.48, 24.0).unwrap(),
            RateLaw::tabulated(vec![[7.0, 0.1], [15.0, 0.9], [16.0, 0.3], [36.0, 2.0]]).unwrap(),
            RateLaw::q10(2.4, 24.0, [-20.0, 60.0]).unwrap(),
            RateLaw::arrhenius(70.0, 24.0, [-20.0, 60.0]).unwrap(),
        ];
        let courses = [
            TemperatureProfile::following(&warming, 0.0, c(2.0), 1.3).unwrap(),
            TemperatureProfile::following(&warming, 2.0, c(30.0), 0.4).unwrap(),
            TemperatureProfile::following(&drifting, 0.0, c(20.0), 0.7).unwrap(),
            TemperatureProfile::of_room(&drifting, 1.0),
        ];
        for law in &laws {
            for (i, course) in courses.iter().enumerate() {
                let (hours, n) = (11.0, 300_000);
                let h = hours / f64::from(n);
                let mut sum = 0.0;
                let mut half = 0.0;
                for k in 0..n {
                    let t = course.at((f64::from(k) + 0.5) * h);
                    sum += h * law.relative_rate(c(t)).unwrap();
                    if k == n / 2 - 1 {
                        half = sum;
                    }
                }
                // The table's rate jumps to 0 at its ends, within one of the points.
                let off = if law.name() == "tabulated" {
                    1e-4
                } else {
                    1e-6
                };
                let found = equivalent_hours(law, course, hours).unwrap();
                assert!(
                    (found - sum).abs() < off,
                    "{} {i}: {found} {sum}",
                    law.name()
                );
                // And back again, from the hour at which half of it had counted; panels know an
                // integral to 1e-8.
                if half > 0.0 && half < sum {
                    let hour = time_to_equivalent(law, course, half).unwrap().unwrap();
                    let again = equivalent_hours(law, course, hour).unwrap();
                    assert!(
                        (again - half).abs() < 1e-7,
                        "{} {i}: {again} {half}",
                        law.name()
                    );
                }
            }
        }
    }

    /// A place that warms or cools by 1 K/h over the knot of a table: on each side the rate is an exponential of
    /// time, whose integral is (last rate - first rate)/(slope of its logarithm).
    #[test]
    fn a_ramp_over_a_knot_has_the_integral_of_both_sides() {
        let hours_along = |knots: [[f64; 2]; 3], from: f64, to: f64, hours: f64| {
            let law = RateLaw::tabulated(knots.to_vec()).unwrap();
            let room = Ambient::ramps(&[(0.0, from), (hours, to)]).unwrap();
            equivalent_hours(&law, &TemperatureProfile::of_room(&room, 0.0), hours).unwrap()
        };
        let (ln2, ln3, ln10) = (2.0_f64.ln(), 3.0_f64.ln(), 10.0_f64.ln());
        // From 1 °C down over -1 to -3: 2^(1/5) to 1, and on to 10^(-1/5).
        let knots = [[-11.0, 0.1], [-1.0, 1.0], [9.0, 2.0]];
        let down =
            (2.0_f64.powf(0.2) - 1.0) * 10.0 / ln2 + (1.0 - 10.0_f64.powf(-0.2)) * 10.0 / ln10;
        assert!((hours_along(knots, 1.0, -3.0, 4.0) - down).abs() < 1e-9);
        // From 0 °C up over 1 to 3: 2^(-1/11) to 1, and on to 3^(1/5).
        let knots = [[-10.0, 0.5], [1.0, 1.0], [11.0, 3.0]];
        let up =
            (1.0 - 2.0_f64.powf(-1.0 / 11.0)) * 11.0 / ln2 + (3.0_f64.powf(0.2) - 1.0) * 10.0 / ln3;
        assert!((hours_along(knots, 0.0, 3.0, 3.0) - up).abs() < 1e-9);
        // A dough that begins on the knot has the one side only.
        let right = (3.0_f64.powf(0.2) - 1.0) * 10.0 / ln3;
        assert!((hours_along(knots, 1.0, 3.0, 2.0) - right).abs() < 1e-9);
    }
}
