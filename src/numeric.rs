//! Small numerical tools: a bracketed root, and Gauss-Legendre panels that integrate a function and
//! can say the integral at any point inside the panel. Knows `f64` only.

/// Points of a panel. Eight points integrate polynomials of degree 15 exactly; with panels short
/// enough that temperature moves by a few kelvin, rounding is all that is left.
pub(crate) const POINTS: usize = 8;

/// Gauss-Legendre nodes on [-1, 1] (Abramowitz & Stegun, table 25.4, n = 8).
const NODES: [f64; POINTS] = [
    -0.960_289_856_497_536_2,
    -0.796_666_477_413_626_7,
    -0.525_532_409_916_329,
    -0.183_434_642_495_649_8,
    0.183_434_642_495_649_8,
    0.525_532_409_916_329,
    0.796_666_477_413_626_7,
    0.960_289_856_497_536_2,
];

/// Gauss-Legendre weights on [-1, 1] (same table).
const WEIGHTS: [f64; POINTS] = [
    0.101_228_536_290_376_26,
    0.222_381_034_453_374_48,
    0.313_706_645_877_887_3,
    0.362_683_783_378_362,
    0.362_683_783_378_362,
    0.313_706_645_877_887_3,
    0.222_381_034_453_374_48,
    0.101_228_536_290_376_26,
];

/// `e^x` for `x` between -700 and 700, to one unit in the last place. The standard library's is a call, which no
/// compiler makes wide; this one is as many at a time as the machine can, each with the same bits as alone.
#[inline(always)]
pub(crate) fn exp(x: f64) -> f64 {
    // ln 2 in two parts, of which the first has room for the product with a whole number.
    const LN_2: [f64; 2] = [6.931_471_803_691_238e-1, 1.908_214_929_270_587_7e-10];
    // Added to a number, leaves it rounded in the low bits.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    let shifted = x * std::f64::consts::LOG2_E + ROUND;
    let n = shifted - ROUND;
    let r = (x - n * LN_2[0]) - n * LN_2[1];
    // (e^r - 1 - r) / r², |r| <= ln 2 / 2, by the series to r^13.
    let pair = |a: f64, b: f64| 1.0 / a + r * (1.0 / b);
    let (r2, r4) = (r * r, (r * r) * (r * r));
    let low = (pair(2.0, 6.0) + r2 * pair(24.0, 120.0))
        + r4 * (pair(720.0, 5_040.0) + r2 * pair(40_320.0, 362_880.0));
    let high = pair(3_628_800.0, 39_916_800.0) + r2 * pair(479_001_600.0, 6_227_020_800.0);
    let power = 1.0 + (r + r2 * (low + r4 * r4 * high));
    // Times 2^n.
    f64::from_bits(power.to_bits().wrapping_add(shifted.to_bits() << 52))
}

/// `e^-z`, for `z` of any size: no less than 1e-304.
#[inline(always)]
pub(crate) fn fade(z: f64) -> f64 {
    exp(-z.clamp(-700.0, 700.0))
}

/// Legendre polynomials P0..=P8 at `x`.
const fn legendre(x: f64) -> [f64; POINTS + 1] {
    let mut p = [1.0; POINTS + 1];
    p[1] = x;
    let mut k = 1;
    while k < POINTS {
        let n = k as f64;
        p[k + 1] = (2.0 * n + 1.0) / (n + 1.0) * x * p[k] - n / (n + 1.0) * p[k - 1];
        k += 1;
    }
    p
}

/// `PROJECT[j][k]`: what the value at node j adds to the Legendre coefficient k, times 2/(2k+1).
const PROJECT: [[f64; POINTS]; POINTS] = {
    let mut m = [[0.0; POINTS]; POINTS];
    let mut j = 0;
    while j < POINTS {
        let p = legendre(NODES[j]);
        let mut k = 0;
        while k < POINTS {
            m[j][k] = WEIGHTS[j] * p[k];
            k += 1;
        }
        j += 1;
    }
    m
};

/// The integrals of P_k from -1 to `x`, times (2k+1): P_{k+1} - P_{k-1}, and x + 1 for k = 0.
const fn legendre_integrals(x: f64) -> [f64; POINTS] {
    let p = legendre(x);
    let mut m = [x + 1.0; POINTS];
    let mut k = 1;
    while k < POINTS {
        m[k] = p[k + 1] - p[k - 1];
        k += 1;
    }
    m
}

/// `CUMULATE[j][i]`: weight of the value at node j in the integral from the panel's start to node i,
/// for a panel of unit length.
const CUMULATE: [[f64; POINTS]; POINTS] = {
    let mut m = [[0.0; POINTS]; POINTS];
    let mut i = 0;
    while i < POINTS {
        let q = legendre_integrals(NODES[i]);
        let mut j = 0;
        while j < POINTS {
            let mut k = 0;
            while k < POINTS {
                m[j][i] += 0.25 * q[k] * PROJECT[j][k];
                k += 1;
            }
            j += 1;
        }
        i += 1;
    }
    m
};

/// Places of the points in a panel, as fractions of its length.
pub(crate) fn fractions() -> [f64; POINTS] {
    NODES.map(|x| 0.5 * (x + 1.0))
}

/// The integral over a panel of length `length` of the function with these values at the points.
pub(crate) fn integral(values: &[f64; POINTS], length: f64) -> f64 {
    0.5 * length * values.iter().zip(WEIGHTS).map(|(v, w)| v * w).sum::<f64>()
}

/// The integrals from the panel's start to each of its points.
pub(crate) fn cumulated(values: &[f64; POINTS], length: f64) -> [f64; POINTS] {
    times(&CUMULATE, values).map(|sum| length * sum)
}

/// What the values at the points make with weights for each; in columns, which the compiler makes wide.
fn times(weights: &[[f64; POINTS]; POINTS], values: &[f64; POINTS]) -> [f64; POINTS] {
    let mut sums = [0.0; POINTS];
    for (column, v) in weights.iter().zip(values) {
        for (sum, w) in sums.iter_mut().zip(column) {
            *sum += w * v;
        }
    }
    sums
}

/// The integral of a function with these values at the points, to be asked at many places.
#[derive(Clone)]
pub(crate) struct Integral {
    coefficients: [f64; POINTS],
    quarter: f64,
}

impl Integral {
    pub(crate) fn of(values: &[f64; POINTS], length: f64) -> Self {
        Self {
            coefficients: times(&PROJECT, values),
            quarter: 0.25 * length,
        }
    }

    /// Truncation estimate: the two highest Legendre coefficients relative to the mean, or to `least` where the
    /// mean is below it.
    pub(crate) fn unresolved(&self, least: f64) -> f64 {
        let [mean, .., before, last] = self.coefficients;
        // The coefficients are those of Legendre's polynomials times 2/(2k + 1).
        let k = POINTS as f64;
        let tail = (2.0 * k - 3.0) * before.abs() + (2.0 * k - 1.0) * last.abs();
        tail / mean.abs().max(2.0 * least)
    }

    /// From the panel's start to the fraction `x` (0..=1) of it.
    pub(crate) fn to(&self, x: f64) -> f64 {
        if x == 1.0 {
            // Only the mean is left of all terms.
            return 2.0 * self.quarter * self.coefficients[0];
        }
        let integrals = legendre_integrals(2.0 * x - 1.0);
        let products = integrals.iter().zip(self.coefficients).map(|(q, c)| q * c);
        self.quarter * products.sum::<f64>()
    }
}

/// A root of `f` between `a` and `b`, whose signs at `a` and `b` must differ (or be zero), to the last
/// bits of `x`. Chandrupatla's method (Advances in Engineering Software 28 (1997) 145): inverse
/// quadratic steps where they can be trusted, bisection where not, so that it always ends.
/// `None` when the signs do not differ or `f` is not a number.
pub(crate) fn root(mut f: impl FnMut(f64) -> f64, a: f64, b: f64) -> Option<f64> {
    let ends = ((a, f(a)), (b, f(b)));
    root_between(f, ends.0, ends.1, 0.0)
}

/// [`root`] of a function that may fail, which ends the search.
pub(crate) fn try_root<E>(
    mut f: impl FnMut(f64) -> Result<f64, E>,
    a: f64,
    b: f64,
) -> Result<Option<f64>, E> {
    let mut fault = None;
    let or_nan = |x| {
        f(x).unwrap_or_else(|e| {
            fault.get_or_insert(e);
            f64::NAN
        })
    };
    let found = root(or_nan, a, b);
    fault.map_or(Ok(found), Err)
}

/// [`root`] where `f` is known at both ends already; it ends sooner where `f` is no more than `small`.
pub(crate) fn root_between(
    mut f: impl FnMut(f64) -> f64,
    (a, fa): (f64, f64),
    (b, fb): (f64, f64),
    small: f64,
) -> Option<f64> {
    // The root lies between `a`, the newest point, and `b`; `c` is the point before.
    let (mut a, mut b) = (a, b);
    let (mut fa, mut fb) = (fa, fb);
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if fa.is_nan() || fb.is_nan() || (fa > 0.0) == (fb > 0.0) {
        return None;
    }
    // Of the way from a to b: as a straight line would have it, but some way from both.
    let mut share = (fa / (fa - fb)).clamp(0.05, 0.95);
    if share.is_nan() {
        share = 0.5;
    }
    for _ in 0..200 {
        let x = a + share * (b - a);
        let fx = f(x);
        if fx.is_nan() {
            return None;
        }
        if fx.abs() <= small {
            return Some(x);
        }
        let (c, fc);
        if (fx > 0.0) == (fa > 0.0) {
            (c, fc) = (a, fa);
        } else {
            (c, fc) = (b, fb);
            (b, fb) = (a, fa);
        }
        (a, fa) = (x, fx);
        let nearest = if fa.abs() < fb.abs() { a } else { b };
        let width = (b - a).abs();
        let near = 2.0 * f64::EPSILON * nearest.abs() + 1e-300;
        let least = near / width;
        if least > 0.5 {
            return Some(nearest);
        }
        let xi = (a - b) / (c - b);
        let phi = (fa - fb) / (fc - fb);
        let trusted = phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi;
        share = if trusted {
            fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
        } else {
            0.5
        };
        // A step to beyond the root by a hair closes the bracket from its other side.
        share = share.clamp(least, 1.0 - least);
    }
    Some(a)
}

/// The 90 % point of the standard normal distribution.
pub(crate) const NORMAL_90: f64 = 1.281_551_565_544_600_4;

/// Share of a normal distribution below `z`.
pub(crate) fn normal_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

/// Steps that [`meet`] spends at the most.
pub(crate) const MEET_STEPS: usize = 60;
/// [`meet`] ends when the miss is below this, h: a few microseconds.
const MET_H: f64 = 1e-9;

/// Looks for the `x` at which `miss(x)` is zero, for a miss that follows `x` nearly one to one, as the
/// hour of an event follows the hour of its start: the secant, beginning with slope 1. The last call of
/// `miss` is the one that met. `None` when it does not settle; errors of `miss` end the search.
pub(crate) fn meet<E>(
    guess: f64,
    mut miss: impl FnMut(f64) -> Result<f64, E>,
) -> Result<Option<f64>, E> {
    let mut x = guess;
    let mut last: Option<(f64, f64)> = None;
    for _ in 0..MEET_STEPS {
        let m = miss(x)?;
        if m.abs() < MET_H {
            return Ok(Some(x));
        }
        if !m.is_finite() {
            return Ok(None);
        }
        let slope = match last {
            // A slope far from 1 comes from a jump or from rounding; do not follow it.
            Some((x0, m0)) if x != x0 => ((m - m0) / (x - x0)).clamp(0.2, 5.0),
            _ => 1.0,
        };
        last = Some((x, m));
        x -= m / slope;
    }
    Ok(None)
}

/// True where errors can go together like that: the matrix has no pivot of 0 or below.
pub(crate) fn is_positive_definite<const N: usize>(mut matrix: [[f64; N]; N]) -> bool {
    (0..N).all(|i| {
        let pivot = matrix[i];
        for row in &mut matrix[i + 1..] {
            let share = row[i] / pivot[i];
            for (value, above) in row.iter_mut().zip(pivot) {
                *value -= share * above;
            }
        }
        pivot[i] > 1e-9
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exponential_is_good_to_one_unit_in_the_last_place() {
        for i in -70_000..=70_000 {
            let x = f64::from(i) * 0.01 + 1e-4;
            let (ours, theirs) = (exp(x), x.exp());
            assert!(
                (ours / theirs - 1.0).abs() <= 2.0 * f64::EPSILON,
                "{x}: {ours}"
            );
        }
        assert_eq!(exp(0.0), 1.0);
    }

    #[test]
    fn a_panel_integrates_polynomials_of_degree_15_exactly() {
        for n in 0..=15 {
            let values = fractions().map(|x| x.powi(n));
            let exact = 1.0 / f64::from(n + 1);
            assert!((integral(&values, 1.0) - exact).abs() < 1e-15, "degree {n}");
        }
    }

    /// Of 4 + 3 P5 + 0.2 P6 - 0.1 P7 the last two terms are 0.3 of 4, whatever the length; of nothing, nothing.
    #[test]
    fn what_is_unresolved_is_the_share_of_the_last_terms() {
        let values = fractions().map(|x| {
            let p = legendre(2.0 * x - 1.0);
            4.0 + 3.0 * p[5] + 0.2 * p[6] - 0.1 * p[7]
        });
        for length in [0.5, 6.0] {
            let share = Integral::of(&values, length).unresolved(1e-9);
            assert!((share - 0.075).abs() < 1e-13, "{share}");
        }
        assert_eq!(Integral::of(&[0.0; POINTS], 1.0).unresolved(1e-9), 0.0);
        // Beside 100 times the mean it is a hundredth of that.
        let values = fractions().map(|x| 4.0 + 3.0 * legendre(2.0 * x - 1.0)[6]);
        let share = Integral::of(&values, 1.0).unresolved(400.0);
        assert!((share - 0.0075).abs() < 1e-13, "{share}");
    }

    #[test]
    fn the_running_integral_is_exact_for_degree_7_at_points_and_between() {
        let values = fractions().map(|x| 8.0 * x.powi(7) - 3.0 * x * x);
        let exact = |x: f64| x.powi(8) - x.powi(3);
        for (c, x) in cumulated(&values, 1.0).iter().zip(fractions()) {
            assert!((c - exact(x)).abs() < 1e-14);
        }
        for x in [0.0, 0.1, 0.37, 0.5, 0.99, 1.0] {
            assert!((Integral::of(&values, 2.0).to(x) - 2.0 * exact(x)).abs() < 1e-14);
        }
    }

    #[test]
    fn normal_shares() {
        // The points of the normal distribution: 0.9 at 1.28155, 0.975 at 1.95996.
        for (z, share) in [
            (0.0, 0.5),
            (NORMAL_90, 0.9),
            (1.959_963_984_540_054, 0.975),
            (-NORMAL_90, 0.1),
        ] {
            assert!((normal_below(z) - share).abs() < 1e-15);
        }
    }

    #[test]
    fn a_start_is_found_for_an_event_that_follows_it() {
        // The event comes 3 h and a tenth of a sine later.
        let event = |x: f64| x + 3.0 + 0.5 * (x / 4.0).sin();
        let x = meet(0.0, |x| Ok::<_, ()>(event(x) - 20.0))
            .unwrap()
            .unwrap();
        assert!((event(x) - 20.0).abs() < 1e-9);
        assert_eq!(meet(0.0, |_| Ok::<_, ()>(1.0)).unwrap(), None);
        assert_eq!(meet(0.0, |_| Err::<f64, _>("no")), Err("no"));
    }

    #[test]
    fn roots_of_known_functions() {
        let r = root(|x| x.cos(), 0.0, 3.0).unwrap();
        assert!((r - std::f64::consts::FRAC_PI_2).abs() < 2e-15); // a few last bits
        let r = root(|x| x.powi(9) - 1e-9, 0.0, 10.0).unwrap(); // flat, then steep
        assert!((r - 0.1).abs() < 1e-15);
        assert_eq!(root(|x| x - 2.0, 0.0, 2.0), Some(2.0));
        // A smooth function costs a dozen evaluations, not one for each bit.
        let mut asked = 0;
        let r = root(
            |x| {
                asked += 1;
                x.exp() - 2.0
            },
            -1.0,
            5.0,
        );
        assert!(
            (r.unwrap() - 2.0_f64.ln()).abs() < 1e-15 && asked <= 15,
            "{asked}"
        );
        assert_eq!(root(|x| x * x + 1.0, -1.0, 1.0), None);
        assert_eq!(root(|_| f64::NAN, -1.0, 1.0), None);
    }

    #[test]
    fn a_covariance_has_no_pivot_below_zero() {
        // L L' with L = [[2,0,0],[6,1,0],[-8,5,3]], the textbook example of the factorisation; less 9 in the
        // corner its last pivot is 0.
        let matrix = |corner: f64| {
            [
                [4.0, 12.0, -16.0],
                [12.0, 37.0, -43.0],
                [-16.0, -43.0, corner],
            ]
        };
        assert!(is_positive_definite(matrix(98.0)) && is_positive_definite(matrix(89.1)));
        assert!(!is_positive_definite(matrix(89.0)) && !is_positive_definite(matrix(88.0)));
        assert!(!is_positive_definite([[1.0, 2.0], [2.0, 1.0]]));
    }
}
