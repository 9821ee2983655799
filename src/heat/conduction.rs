//! Conduction in a thick dough: core, surface and mean apart.
//!
//! ```text
//! rho c dT/dt = k (T'' + (d-1)/r T') + q      inside; d = 1 slab, 2 cylinder, 3 sphere
//! -k T' = h (T - T_place(t))                  at the surface
//! ```
//! The modes of the body (Carslaw & Jaeger, *Conduction of Heat in Solids*, 2nd ed., chapters 1.15, 3, 7
//! and 9) each follow the place as a lumped body does, `dy/dt = rate (T_place - y) + q/(rho c)`, so that
//! `T(x, t) = sum of C X(x) y(t)`, with `C` the share of the mode in a body of one temperature. A short
//! cylinder is the product of a cylinder and a slab: its modes are the pairs of theirs.
//!
//! | body | X | roots z |
//! |---|---|---|
//! | slab | cos(z x) | z sin z = Bi cos z |
//! | cylinder | J0(z x) | z J1(z) = Bi J0(z) |
//! | sphere | sin(z x)/(z x) | sin z - z cos z = Bi sin z |

use super::dough_body::{Body, DoughProperties, check_surface};
use crate::ambient::{Ambient, TemperatureProfile};
use crate::error::{Error, Result, check};
use crate::numeric;
use crate::units::Temperature;
use std::f64::consts::PI;

/// Biot number above which core and surface lie apart: below, they are within 0.6 K of the mean in a
/// step of 22 K.
pub(crate) const CORE_BIOT: f64 = 0.1;
/// Modes of each axis: what they leave out is below 1e-4 K from `Fo = t k/(rho c L²)` = 0.002 on, 40 s in
/// a ball of 10 cm.
const MODES: u8 = 40;

/// A body with one way from its core to its surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Geometry {
    /// A sheet cooled on both faces; its depth is half the thickness.
    Slab,
    /// A long cylinder; its depth is the radius.
    Cylinder,
    /// A ball; its depth is the radius.
    Sphere,
}

/// Temperatures of a body, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Mean over the volume.
    pub mean_c: f64,
    /// In the middle.
    pub core_c: f64,
    /// At the surface; of a short cylinder, at its side at half height.
    pub surface_c: f64,
}

/// A body of dough as the sum of its modes.
///
/// ```
/// use pointage::ambient::Ambient;
/// use pointage::heat::conduction::{Conduction, Geometry};
/// use pointage::heat::dough_body::DoughProperties;
/// use pointage::units::Temperature;
/// // A ball of 12 cm (k 0.4, 1100 kg/m³, 2.8 kJ/(kg K), h 8) from 26 °C into a refrigerator at 4 °C:
/// // the series gives 13.559 °C in the middle and 11.098 °C for the mean after 3 h.
/// let properties = DoughProperties {
///     conductivity_w_per_m_k: 0.4, density_kg_per_m3: 1100.0, heat_capacity_kj_per_kg_k: 2.8,
/// };
/// let ball = Conduction::new(&[(Geometry::Sphere, 0.06)], properties, 8.0)?;
/// let fridge = Ambient::constant(Temperature::celsius(4.0)?)?;
/// let night = ball.after(Temperature::celsius(26.0)?, &fridge, 0.0, 0.0, 3.0);
/// assert!((night.core_c - 13.559_311).abs() < 1e-6);
/// assert!((night.mean_c - 11.098_038).abs() < 1e-6);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Conduction {
    modes: Vec<Mode>,
    /// Warming by a watt per cubic metre, K/h.
    k_per_h_per_w_per_m3: f64,
}

/// A mode of the body, 1 at the core.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Mode {
    rate_per_h: f64,
    /// Its amplitude in a body that is 1 everywhere.
    share: f64,
    surface: f64,
    mean: f64,
}

impl Conduction {
    /// A body of one axis (geometry and depth in m), or the product of two, as a short cylinder is that of
    /// a cylinder and a slab; with a surface coefficient of 0.1 to 200 W/(m² K), the same on all faces.
    ///
    /// # Errors
    /// A depth, property or surface coefficient out of its range.
    pub fn new(
        axes: &[(Geometry, f64)],
        properties: DoughProperties,
        surface_w_per_m2_k: f64,
    ) -> Result<Self> {
        properties.check()?;
        let h = check_surface(surface_w_per_m2_k)?;
        let k = properties.conductivity_w_per_m_k;
        let j_per_m3_k = properties.density_kg_per_m3 * properties.heat_capacity_kj_per_kg_k * 1e3;
        let mut modes = vec![Mode {
            rate_per_h: 0.0,
            share: 1.0,
            surface: 1.0,
            mean: 1.0,
        }];
        for &(geometry, depth_m) in axes {
            let depth_m = check("depth of the dough", depth_m, 0.0005, 3.0, "m")?;
            let diffusion_h = depth_m * depth_m * j_per_m3_k / k / 3600.0;
            let own = geometry.modes(h * depth_m / k, diffusion_h)?;
            // The surface is that of the first axis, at the core of the second.
            let is_first = modes.len() == 1;
            let pairs = modes.iter().flat_map(|a| {
                own.iter().map(move |b| Mode {
                    rate_per_h: a.rate_per_h + b.rate_per_h,
                    share: a.share * b.share,
                    surface: if is_first { b.surface } else { a.surface },
                    mean: a.mean * b.mean,
                })
            });
            modes = pairs.collect();
        }
        Ok(Self {
            modes,
            k_per_h_per_w_per_m3: 3600.0 / j_per_m3_k,
        })
    }

    /// The same for a [`Body`]; its cylinders are short ones.
    ///
    /// # Errors
    /// A surface coefficient outside 0.1 to 200 W/(m² K).
    pub fn of_body(body: &Body, surface_w_per_m2_k: f64) -> Result<Self> {
        let faces = body.faces();
        let axes: Vec<_> = faces.iter().map(|f| (f.geometry, f.depth_m)).collect();
        Self::new(&axes, body.properties, surface_w_per_m2_k)
    }

    /// The body after some hours in a place, whose hour at the start is `start_h`; it begins at one
    /// temperature and makes the same heat (W/m³) everywhere, all the time.
    #[must_use]
    pub fn after(
        &self,
        from: Temperature,
        place: &Ambient,
        start_h: f64,
        source_w_per_m3: f64,
        hours: f64,
    ) -> Reading {
        let place_c = TemperatureProfile::of_room(place, start_h).at(hours);
        let heating_k_per_h = source_w_per_m3 * self.k_per_h_per_w_per_m3;
        let [mut mean_c, mut core_c, mut surface_c] = [place_c; 3];
        for m in &self.modes {
            let lagging = TemperatureProfile::lagging(place, start_h, from, 1.0 / m.rate_per_h);
            let heated_k = heating_k_per_h / m.rate_per_h * -(-m.rate_per_h * hours).exp_m1();
            let above_k = m.share * (lagging.at(hours) + heated_k - place_c);
            mean_c += m.mean * above_k;
            core_c += above_k;
            surface_c += m.surface * above_k;
        }
        Reading {
            mean_c,
            core_c,
            surface_c,
        }
    }
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

    /// The shape `X(z)` of a mode at the surface, and `-X'(z)`.
    fn shape(self, z: f64) -> (f64, f64) {
        match self {
            Self::Slab => (z.cos(), z.sin()),
            Self::Cylinder => (libm::j0(z), libm::j1(z)),
            Self::Sphere => (z.sin() / z, (z.sin() / z - z.cos()) / z),
        }
    }

    /// The slowest modes: `z X'(z) + Bi X(z) = 0`, of which one root lies between each two zeros of `X`.
    /// With `N = z² + Bi² + (2 - d) Bi` the share is `2 Bi/(N X)` and the mean of the shape `d Bi X/z²`.
    fn modes(self, biot: f64, diffusion_h: f64) -> Result<Vec<Mode>> {
        let failed = Error::not_settled("the modes of conduction", MODES.into());
        let d = self.dimension();
        // The first root is at least sqrt(Bi) for Bi up to 1.
        let mut low = 0.8 * biot.min(1.0).sqrt();
        let mode = |n: u8| {
            let zero = (f64::from(n) + 0.25 * (d - 3.0)) * PI; // that of J0 to a hundredth
            let high = numeric::root(|z| self.shape(z).0, zero - 0.1, zero + 0.1)?;
            let miss = |z: f64| {
                let (shape, fall) = self.shape(z);
                z * fall - biot * shape
            };
            let z = numeric::root(miss, low, high)?;
            low = high;
            let surface = self.shape(z).0;
            let norm = z * z + biot * biot + (2.0 - d) * biot;
            Some(Mode {
                rate_per_h: z * z / diffusion_h,
                share: 2.0 * biot / (norm * surface),
                surface,
                mean: d * biot * surface / (z * z),
            })
        };
        (1..=MODES).map(mode).collect::<Option<_>>().ok_or(failed)
    }
}
