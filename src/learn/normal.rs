//! The normal and Student's t distribution, as far as censored rows and intervals need them.

pub(crate) use crate::numeric::NORMAL_90;

fn density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt()
}

/// Below here `Φ` is told by its asymptotic series, because it underflows soon.
const FAR_OUT: f64 = -30.0;

/// `ln Φ(x)`, without loss in either tail.
pub(crate) fn log_cdf(x: f64) -> f64 {
    let above = |x: f64| 0.5 * libm::erfc(x / std::f64::consts::SQRT_2);
    if x < FAR_OUT {
        -0.5 * x * x - 0.5 * std::f64::consts::TAU.ln() - (-x).ln() - x.powi(-2)
    } else if x < 0.0 {
        above(-x).ln()
    } else {
        (-above(x)).ln_1p()
    }
}

/// `φ(x)/Φ(x)`, the slope of `ln Φ`.
pub(crate) fn log_cdf_slope(x: f64) -> f64 {
    if x < FAR_OUT {
        -x - 1.0 / x + 2.0 * x.powi(-3)
    } else {
        density(x) / log_cdf(x).exp()
    }
}

/// The 90 % point of Student's t with so many degrees of freedom, 3 or more or infinitely many: the normal one and the
/// first terms of its expansion in 1/freedom (Abramowitz & Stegun 26.7.5).
pub(crate) fn student_90(freedom: f64) -> f64 {
    let (z, n) = (NORMAL_90, freedom);
    let p = |k: i32| z.powi(k);
    z + (p(3) + z) / (4.0 * n)
        + (5.0 * p(5) + 16.0 * p(3) + 3.0 * z) / (96.0 * n * n)
        + (3.0 * p(7) + 19.0 * p(5) + 17.0 * p(3) - 15.0 * z) / (384.0 * n.powi(3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_those_of_the_tables() {
        // Abramowitz & Stegun, table 26.1 and 26.2; ten digits there.
        for (x, share) in [
            (0.0, 0.5),
            (1.0, 0.841_344_746_1),
            (-1.0, 0.158_655_253_9),
            (-2.0, 0.022_750_131_95),
            (2.9, 0.998_134_186_7),
            (-4.0, 3.167_124_18e-5),
            (-5.0, 2.866_515_72e-7),
        ] {
            assert!(
                (log_cdf(x).exp() / share - 1.0).abs() < 3e-9,
                "{x}: {}",
                log_cdf(x).exp()
            );
        }
        // Student's t, 90 % point: 1.397 (8), 1.372 (10), 1.310 (30), tables of three decimals.
        for (n, t) in [(8.0, 1.397), (10.0, 1.372), (30.0, 1.310)] {
            assert!((student_90(n) - t).abs() < 6e-4, "{n}: {}", student_90(n));
        }
    }

    #[test]
    fn the_slope_is_the_slope() {
        for x in [-12.0, -3.2, -3.0, -0.5, 0.0, 2.0, 3.0, 5.0] {
            let h = 1e-5;
            let by_difference = (log_cdf(x + h) - log_cdf(x - h)) / (2.0 * h);
            let slope = log_cdf_slope(x);
            assert!(
                (slope - by_difference).abs() < 1e-8 + 1e-6 * slope,
                "{x}: {slope}"
            );
        }
    }

    /// Few degrees of freedom: 1.638 (3), 1.533 (4), 1.476 (5), 1.440 (6), tables of three decimals. The
    /// expansion is short by 0.001 at 3.
    #[test]
    fn few_degrees_of_freedom() {
        for (n, t, off) in [
            (3.0, 1.638, 2e-3),
            (4.0, 1.533, 1e-3),
            (5.0, 1.476, 8e-4),
            (6.0, 1.440, 8e-4),
        ] {
            assert!((student_90(n) - t).abs() < off, "{n}: {}", student_90(n));
        }
    }

    /// Student's t with an even number of degrees of freedom has a closed form (Abramowitz & Stegun 26.7.4):
    /// with `θ = atan(t/sqrt n)` the share within ±t is `sin θ (1 + cos²θ/2 + (1·3)/(2·4) cos⁴θ + ...)`, up to
    /// the power n - 2. At the 90 % point it is 0.8.
    #[test]
    fn the_point_is_that_of_the_closed_form() {
        // The expansion leaves 0.055/n⁴ of the point: times twice the density, at most 0.34.
        for n in [6_i32, 8, 12, 20, 40] {
            let angle = (student_90(f64::from(n)) / f64::from(n).sqrt()).atan();
            let (mut term, mut sum) = (1.0, 1.0);
            for k in 1..n / 2 {
                term *= f64::from(2 * k - 1) / f64::from(2 * k) * angle.cos().powi(2);
                sum += term;
            }
            let off = angle.sin() * sum - 0.8;
            let allowed = 0.03 / f64::from(n).powi(4) + 1e-9;
            assert!(off.abs() < allowed, "{n}: {off}");
        }
    }

    /// Far out the share is less than any number, and its slope is still one: `x + 1/x` and less than `2/x³` less.
    #[test]
    fn the_slope_has_no_end() {
        for x in [40.0_f64, 1000.0] {
            let short = x + 1.0 / x - log_cdf_slope(-x);
            assert!(short.abs() < 2.0 * x.powi(-3) + 1e-15 * x, "{x}: {short}");
        }
    }
}
