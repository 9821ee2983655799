//! The modes in which a slab, a long cylinder and a sphere even out: roots of the Biot equations and
//! the constants that belong to them. Dimensionless: `Bi = h L/k`, place `x` from 0 (core) to 1
//! (surface).
//!
//! | body | shape X | equation of the roots z |
//! |---|---|---|
//! | slab | cos(z x) | z sin z = Bi cos z |
//! | cylinder | J0(z x) | z J1(z) = Bi J0(z) |
//! | sphere | sin(z x)/(z x) | sin z - z cos z = Bi sin z |
//!
//! With `d` = 1, 2, 3 and `N = z² + Bi² + (2 - d) Bi` the rest is common to all three: the share of a
//! uniform start `C = 2 Bi/(N X(1))`, the mean of the shape `d Bi X(1)/z²`, and the integral of
//! `X² x^(d-1)` over x, `N X(1)²/(2 z²)`. Source: Carslaw & Jaeger, Conduction of Heat in Solids, 2nd
//! ed., 3.11, 7.7, 9.4; the equality of the three forms is ours.

use crate::error::{Error, Result};
use crate::numeric;
use std::f64::consts::{FRAC_PI_4, PI};

/// The three bodies of one dimension.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Geometry {
    Slab,
    Cylinder,
    Sphere,
}

/// A mode: its root and its constants.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mode {
    pub z: f64,
    /// Amplitude in a body that is uniformly 1.
    pub share: f64,
    /// The shape at the surface; 1 at the core.
    pub surface: f64,
    /// Volume mean of the shape.
    pub mean: f64,
    /// Integral of the squared shape times x^(d-1), from core to surface.
    pub square: f64,
}

impl Geometry {
    /// 1, 2 or 3: the volume inside `x` grows as `x^d`.
    pub(super) fn dimension(self) -> f64 {
        match self {
            Self::Slab => 1.0,
            Self::Cylinder => 2.0,
            Self::Sphere => 3.0,
        }
    }

    /// Shape of a mode; the argument is `z x`.
    pub(super) fn shape(self, zx: f64) -> f64 {
        match self {
            Self::Slab => zx.cos(),
            Self::Cylinder => bessel(zx).0,
            Self::Sphere if zx == 0.0 => 1.0,
            Self::Sphere => zx.sin() / zx,
        }
    }

    /// The first `count` modes, slowest first. With `biot` = 0 the first is the mean itself.
    pub(super) fn modes(self, biot: f64, count: usize) -> Result<Vec<Mode>> {
        let mut modes = Vec::with_capacity(count);
        let d = self.dimension();
        let mut low = 0.0;
        for n in 1..=count {
            let high = self.upper(n);
            if n == 1 && biot == 0.0 {
                modes.push(Mode {
                    z: 0.0,
                    share: 1.0,
                    surface: 1.0,
                    mean: 1.0,
                    square: 1.0 / d,
                });
                low = high;
                continue;
            }
            let from = if n == 1 { self.lower(biot) } else { low };
            let z = numeric::root(|z| self.miss(z, biot), from, high).ok_or(Error::NotSettled {
                what: "the modes of conduction",
                steps: n,
            })?;
            let surface = self.shape(z);
            let norm = z * z + biot * biot + (2.0 - d) * biot;
            modes.push(Mode {
                z,
                share: 2.0 * biot / (norm * surface),
                surface,
                mean: d * biot * surface / (z * z),
                square: 0.5 * norm * surface * surface / (z * z),
            });
            low = high;
        }
        Ok(modes)
    }

    /// A place below the first root, which is at least `sqrt(Bi)` for Bi up to 1 and 0.8 above.
    fn lower(self, biot: f64) -> f64 {
        0.8 * biot.min(1.0).sqrt()
    }

    /// A place above root `n` and below root `n + 1`: where the root of an endless Biot number is.
    fn upper(self, n: usize) -> f64 {
        let n = n as f64;
        match self {
            Self::Slab => (n - 0.5) * PI,
            Self::Sphere => n * PI,
            Self::Cylinder => {
                // McMahon's expansion of the zeros of J0, then Newton's method: J0' = -J1.
                let beta = (n - 0.25) * PI;
                let mut zero = beta + 1.0 / (8.0 * beta);
                for _ in 0..4 {
                    let (j0, j1) = bessel(zero);
                    zero += j0 / j1;
                }
                zero
            }
        }
    }

    /// Zero at the roots.
    fn miss(self, z: f64, biot: f64) -> f64 {
        match self {
            Self::Slab => z * z.sin() - biot * z.cos(),
            Self::Cylinder => {
                let (j0, j1) = bessel(z);
                z * j1 - biot * j0
            }
            Self::Sphere => {
                // Near 0 the two cancel: the power series in z².
                let bend = if z < 0.5 {
                    let s = z * z;
                    let ratios = [130.0, 88.0, 54.0, 28.0, 10.0];
                    z * s / 3.0 * ratios.iter().fold(1.0, |sum, r| 1.0 - s / r * sum)
                } else {
                    z.sin() - z * z.cos()
                };
                bend - biot * z.sin()
            }
        }
    }
}

/// The Bessel functions J0 and J1 of `x >= 0`, to some 1e-15 (1e-13 where x is in the thousands).
///
/// Power series below 2; up to 25 the recurrence downwards from an order where J is nil, normed by
/// `J0 + 2 J2 + 2 J4 + ... = 1`; above, Hankel's expansion (Abramowitz & Stegun 9.1.10, 9.1.27, 9.1.46,
/// 9.2.5).
fn bessel(x: f64) -> (f64, f64) {
    if x < 2.0 {
        let q = -0.25 * x * x;
        let (mut j0, mut j1) = (1.0, 1.0);
        let (mut t0, mut t1) = (1.0, 1.0);
        for k in 1..=16 {
            let k = f64::from(k);
            t0 *= q / (k * k);
            t1 *= q / (k * (k + 1.0));
            j0 += t0;
            j1 += t1;
        }
        (j0, 0.5 * x * j1)
    } else if x < 25.0 {
        let (mut above, mut here, mut sum) = (0.0, 1e-60, 0.0);
        for order in (1..=70).rev() {
            let below = 2.0 * f64::from(order) / x * here - above;
            (above, here) = (here, below);
            if order % 2 == 1 && order > 1 {
                sum += 2.0 * here; // now of the even order below
            }
        }
        let norm = sum + here;
        (here / norm, above / norm)
    } else {
        let of = |order: f64| {
            let (mut term, mut p, mut q) = (1.0, 1.0, 0.0);
            for k in 1..=20 {
                let odd = f64::from(2 * k - 1);
                term *= (4.0 * order * order - odd * odd) / (f64::from(k) * 8.0 * x);
                match k % 4 {
                    1 => q += term,
                    2 => p -= term,
                    3 => q -= term,
                    _ => p += term,
                }
            }
            let turn = x - (2.0 * order + 1.0) * FRAC_PI_4;
            (2.0 / (PI * x)).sqrt() * (p * turn.cos() - q * turn.sin())
        };
        (of(0.0), of(1.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// z1 and C1 of slab, cylinder and sphere: Cengel, table 4-2, which prints four decimals, worked
    /// out to six with scipy's `brentq` and `jv`.
    #[allow(clippy::approx_constant)] // printed figures, one of which is near pi/2
    const FIRST: [(f64, [f64; 6]); 19] = [
        (
            0.01,
            [0.099834, 1.001661, 0.141245, 1.002496, 0.173032, 1.002998],
        ),
        (
            0.02,
            [0.140952, 1.003310, 0.199501, 1.004983, 0.244460, 1.005992],
        ),
        (
            0.05,
            [0.221760, 1.008189, 0.314262, 1.012395, 0.385368, 1.014951],
        ),
        (
            0.1,
            [0.311053, 1.016094, 0.441682, 1.024579, 0.542281, 1.029798],
        ),
        (
            0.2,
            [0.432841, 1.031088, 0.616975, 1.048304, 0.759308, 1.059155],
        ),
        (
            0.3,
            [0.521791, 1.045047, 0.746461, 1.071162, 0.920787, 1.088021],
        ),
        (
            0.4,
            [0.593242, 1.058039, 0.851578, 1.093145, 1.052794, 1.116351],
        ),
        (
            0.5,
            [0.653271, 1.070128, 0.940771, 1.114255, 1.165561, 1.144106],
        ),
        (
            0.6,
            [0.705065, 1.081378, 1.018442, 1.134498, 1.264404, 1.171252],
        ),
        (
            0.8,
            [0.791034, 1.101595, 1.148972, 1.172434, 1.432032, 1.223605],
        ),
        (
            1.0,
            [0.860334, 1.119132, 1.255784, 1.207092, 1.570796, 1.273240],
        ),
        (
            1.5,
            [0.988241, 1.153670, 1.456949, 1.280677, 1.836597, 1.384963],
        ),
        (
            2.0,
            [1.076874, 1.178456, 1.599449, 1.338377, 2.028758, 1.479319],
        ),
        (
            3.0,
            [1.192459, 1.210226, 1.788657, 1.419095, 2.288930, 1.622681],
        ),
        (
            4.0,
            [1.264592, 1.228708, 1.908079, 1.469796, 2.455644, 1.720172],
        ),
        (
            5.0,
            [1.313838, 1.240249, 1.989815, 1.502869, 2.570432, 1.787001],
        ),
        (
            10.0,
            [1.428870, 1.261963, 2.179497, 1.567692, 2.836300, 1.924909],
        ),
        (
            20.0,
            [1.496129, 1.269916, 2.288048, 1.591944, 2.985724, 1.978138],
        ),
        (
            100.0,
            [1.555245, 1.273088, 2.380902, 1.601524, 3.110187, 1.999033],
        ),
    ];

    const ALL: [Geometry; 3] = [Geometry::Slab, Geometry::Cylinder, Geometry::Sphere];

    #[test]
    fn first_modes_as_printed() {
        for (bi, row) in FIRST {
            for (geometry, pair) in ALL.into_iter().zip(row.chunks(2)) {
                let first = geometry.modes(bi, 1).unwrap()[0];
                // Six printed decimals: half of the last, and a little for rounding at the half.
                assert!(
                    (first.z - pair[0]).abs() < 5.1e-7,
                    "{geometry:?} Bi {bi}: {}",
                    first.z
                );
                assert!(
                    (first.share - pair[1]).abs() < 5.1e-7,
                    "{geometry:?} Bi {bi}: {}",
                    first.share
                );
            }
        }
        // A sphere of Bi 1: cos z = 0.
        let exact = Geometry::Sphere.modes(1.0, 1).unwrap()[0];
        assert!((exact.z - PI / 2.0).abs() < 1e-14);
        assert!((exact.share - 4.0 / PI).abs() < 1e-14);
    }

    /// Zeros and values of Abramowitz & Stegun, tables 9.1 and 9.5, to ten decimals or as printed.
    #[test]
    fn bessel_functions_as_tabled() {
        for (x, j0, j1) in [
            (0.0, 1.0, 0.0),
            (1.0, 0.765_197_686_6, 0.440_050_585_7),
            (2.0, 0.223_890_779_1, 0.576_724_807_8),
            (5.0, -0.177_596_771_3, -0.327_579_137_6),
            (10.0, -0.245_935_764_5, 0.043_472_746_2),
        ] {
            let got = bessel(x);
            assert!(
                (got.0 - j0).abs() < 6e-11 && (got.1 - j1).abs() < 6e-11,
                "{x}: {got:?}"
            );
        }
        for (n, zero) in [2.404_825_557_7, 5.520_078_110_3, 8.653_727_912_9]
            .into_iter()
            .enumerate()
        {
            assert!((Geometry::Cylinder.upper(n + 1) - zero).abs() < 6e-11);
        }
    }

    /// Where one way to a Bessel function gives over to the next, both must say the same.
    #[test]
    fn bessel_functions_join() {
        for x in [2.0, 25.0] {
            let (a, b) = (bessel(x - 1e-9), bessel(x));
            assert!((a.0 - b.0 - 1e-9 * b.1).abs() < 1e-14, "{x}: {a:?} {b:?}");
            assert!(
                (a.1 - b.1 + 1e-9 * (b.0 - b.1 / x)).abs() < 1e-14,
                "{x}: {a:?} {b:?}"
            );
        }
    }

    /// A uniform body of 1 is the sum of its modes: the mean to 1, whatever the Biot number.
    #[test]
    fn shares_add_up_to_the_uniform_body() {
        for bi in [1e-9, 1e-3, 0.1, 1.0, 1.0 + 1e-9, 10.0, 1000.0] {
            for geometry in ALL {
                let modes = geometry.modes(bi, 1500).unwrap();
                assert!(modes.windows(2).all(|w| w[0].z < w[1].z));
                let mean: f64 = modes.iter().map(|m| m.share * m.mean).sum();
                // The rest of the sum is below 2 d Bi² times the sum of z^-4 beyond mode 1500.
                let rest = 6.0 * bi * bi / (3.0 * PI.powi(4) * 1500f64.powi(3));
                assert!(
                    (mean - 1.0).abs() < rest + 1e-12,
                    "{geometry:?} {bi}: {mean}"
                );
            }
        }
    }
}
