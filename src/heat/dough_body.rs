//! How fast a piece or a tub of dough follows the temperature around it.
//!
//! The mean temperature of a body in air of constant temperature nears it as `exp(-t/tau)` with
//!
//! ```text
//! tau = rho c V / sum(U_i A_i)        1/U = 1/h + L/(n k)
//! ```
//!
//! over its faces: `n` = 3 for a flat face (L half the thickness), 4 for the side of a cylinder
//! (L its radius), 5 for a sphere (L its radius). For a pure shape that is the plain lumped
//! `rho c V/(h A)` times `1 + Bi/n`, with `Bi = h L/k`; a short cylinder loses heat through its
//! side and its two ends side by side. Against the exact series the cooling times of the mean are
//! within 3 % to Bi 1.6 and within 7 % to Bi 2. Above, and wherever the *core* is asked for, solve
//! the [conduction](super::conduction) instead.

use super::conduction::Geometry;
use super::properties::ThermalProperties;
use crate::error::{Error, Result, check, named};
use crate::table;
use crate::units::{Mass, Percent, Temperature};
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Form of a dough.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Shape {
    /// A ball.
    Sphere,
    /// A tub or a cylinder that gives heat off all round.
    Cylinder {
        /// Height over diameter, 0.02 to 50.
        height_to_diameter: f64,
    },
    /// A sheet that gives heat off on both faces; its edges are not counted.
    Slab {
        /// Half its thickness, m, 0.001 to 1.
        half_thickness_m: f64,
    },
}

impl Shape {
    /// Dough in a tub: three times as wide as high.
    pub const TUB: Self = Self::Cylinder {
        height_to_diameter: 1.0 / 3.0,
    };
}

/// Where a dough stands and how it is covered, as one surface coefficient.
///
/// An uncovered dough also dries, which cools it further (by up to 6 K in a dry room) and is not
/// in these figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// Still air of a room, covered.
    StillRoom,
    /// Refrigerator without a fan.
    Fridge,
    /// Refrigerator or retarder with a fan.
    FanFridge,
    /// Proofer with dry air.
    DryProofer,
    /// Proofer with moist air, which condenses on a dough colder than its dew point.
    HumidProofer,
    /// Box of 20 mm expanded polystyrene.
    InsulatedBox,
}

named! { "place" Place {
    StillRoom = "still-room",
    Fridge = "fridge",
    FanFridge = "fan-fridge",
    DryProofer = "dry-proofer",
    HumidProofer = "humid-proofer",
    InsulatedBox = "insulated-box",
} }

impl Place {
    /// Heat exchange with the air, convection and radiation together, W/(m² K).
    ///
    /// From the table `places`: the usual correlations (Churchill, McAdams) with radiation at
    /// emissivity 0.95 and, for the moist proofer, the Lewis analogy; each may be off by a third.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn surface_w_per_m2_k(self) -> Result<f64> {
        table::get("places")?.number(match self {
            Self::StillRoom => "still_room_w_per_m2_k",
            Self::Fridge => "fridge_still_w_per_m2_k",
            Self::FanFridge => "fridge_fan_w_per_m2_k",
            Self::DryProofer => "proofer_dry_w_per_m2_k",
            Self::HumidProofer => "proofer_humid_w_per_m2_k",
            Self::InsulatedBox => "insulated_box_w_per_m2_k",
        })
    }
}

/// Thermal properties of a dough.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DoughProperties {
    /// Conductivity, W/(m K): 0.35 to 0.5 fresh, 0.12 to 0.3 proofed.
    pub conductivity_w_per_m_k: f64,
    /// Density, kg/m³: 1050 to 1200 from the mixer.
    pub density_kg_per_m3: f64,
    /// Heat capacity, kJ/(kg K).
    pub heat_capacity_kj_per_kg_k: f64,
}

impl DoughProperties {
    /// A fresh wheat dough: conductivity and density of the table `properties`, and the heat
    /// capacity of the usual dough of the table `compositions`.
    ///
    /// For a dough of known make, take its heat capacity from [`ThermalProperties::dough`].
    ///
    /// # Errors
    /// Only if an embedded table were damaged.
    pub fn shipped() -> Result<Self> {
        let properties = table::get("properties")?;
        let dough = table::get("compositions")?;
        let hydration = Percent::new(dough.number("dough_hydration_percent")?)?;
        let salt = Percent::new(dough.number("dough_salt_percent")?)?;
        Ok(Self {
            conductivity_w_per_m_k: properties.number("conductivity_w_per_m_k")?,
            density_kg_per_m3: properties.number("density_kg_per_m3")?,
            heat_capacity_kj_per_kg_k: ThermalProperties::shipped()?.dough(hydration, salt),
        })
    }

    pub(super) fn check(&self) -> Result<()> {
        let (conductivity, density) = (self.conductivity_w_per_m_k, self.density_kg_per_m3);
        let capacity = self.heat_capacity_kj_per_kg_k;
        check("conductivity of dough", conductivity, 0.01, 10.0, "W/(m K)")?;
        check("density of dough", density, 50.0, 2000.0, "kg/m³")?;
        check("heat capacity of dough", capacity, 0.5, 5.0, "kJ/(kg K)")?;
        Ok(())
    }
}

/// A dough of a mass and a shape.
///
/// ```
/// use pointage::heat::dough_body::{Body, DoughProperties, Place, Shape};
/// use pointage::units::Mass;
/// let ball = Body::new(Mass::grams(500.0)?, Shape::Sphere, DoughProperties::shipped()?)?;
/// let plain = ball.lumped_time_constant_h(7.0)?;
/// assert!((1.8..2.0).contains(&plain));
/// assert!(ball.time_constant_h(7.0)? > plain); // heat has to reach the surface first
/// let h = Place::FanFridge.surface_w_per_m2_k()?;
/// assert!(ball.time_constant_h(h)? < plain);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    mass: Mass,
    shape: Shape,
    pub(super) properties: DoughProperties,
}

/// A part of the surface: its area, and the geometry and length `L` of its way to the core.
pub(super) struct Face {
    area_m2: f64,
    pub geometry: Geometry,
    pub depth_m: f64,
}

impl Body {
    /// A body of dough, 1 g to 10 t.
    ///
    /// # Errors
    /// Mass, shape or a property out of its range.
    pub fn new(mass: Mass, shape: Shape, properties: DoughProperties) -> Result<Self> {
        check("mass of the dough", mass.as_grams(), 1.0, 1e7, "g")?;
        match shape {
            Shape::Sphere => {}
            Shape::Cylinder { height_to_diameter } => {
                check("height over diameter", height_to_diameter, 0.02, 50.0, "")?;
            }
            Shape::Slab { half_thickness_m } => {
                check("half thickness", half_thickness_m, 0.001, 1.0, "m")?;
            }
        }
        properties.check()?;
        Ok(Self {
            mass,
            shape,
            properties,
        })
    }

    /// Time constant of the mean temperature, h, for a surface coefficient of 0.1 to 200 W/(m² K).
    ///
    /// # Errors
    /// Surface coefficient out of range.
    pub fn time_constant_h(&self, surface_w_per_m2_k: f64) -> Result<f64> {
        let k = self.properties.conductivity_w_per_m_k;
        self.time_constant_with(surface_w_per_m2_k, |face, h| {
            let n = face.geometry.dimension() + 2.0;
            1.0 / (1.0 / h + face.depth_m / (n * k))
        })
    }

    /// Time constant as if the dough conducted perfectly, h: `rho c V/(h A)`.
    ///
    /// # Errors
    /// Surface coefficient out of range.
    pub fn lumped_time_constant_h(&self, surface_w_per_m2_k: f64) -> Result<f64> {
        self.time_constant_with(surface_w_per_m2_k, |_, h| h)
    }

    /// Biot number `h L/k` of the shortest way to the core: `L` is the radius, half the thickness,
    /// or the smaller of a cylinder's radius and half height. Up to 2 the corrected time constant
    /// gives cooling times within 7 %.
    ///
    /// # Errors
    /// Surface coefficient out of range.
    pub fn biot(&self, surface_w_per_m2_k: f64) -> Result<f64> {
        let h = check_surface(surface_w_per_m2_k)?;
        let faces = self.faces();
        let depth_m = (faces.iter().map(|f| f.depth_m)).fold(f64::INFINITY, f64::min);
        Ok(h * depth_m / self.properties.conductivity_w_per_m_k)
    }

    /// Biot number `h V/(A k)` of volume over surface. Below about 0.2 the whole dough has one
    /// temperature, core included, within 1 K of a step of 22 K.
    ///
    /// # Errors
    /// Surface coefficient out of range.
    pub fn volume_biot(&self, surface_w_per_m2_k: f64) -> Result<f64> {
        let h = check_surface(surface_w_per_m2_k)?;
        let area_m2: f64 = self.faces().iter().map(|f| f.area_m2).sum();
        Ok(h * self.volume_m3() / (area_m2 * self.properties.conductivity_w_per_m_k))
    }

    pub(super) fn volume_m3(&self) -> f64 {
        self.mass.as_kilograms() / self.properties.density_kg_per_m3
    }

    fn time_constant_with(&self, surface: f64, u: impl Fn(&Face, f64) -> f64) -> Result<f64> {
        let h = check_surface(surface)?;
        let conductance_w_per_k: f64 = self.faces().iter().map(|f| f.area_m2 * u(f, h)).sum();
        let capacity_j_per_k =
            self.mass.as_kilograms() * self.properties.heat_capacity_kj_per_kg_k * 1e3;
        Ok(capacity_j_per_k / conductance_w_per_k / 3600.0)
    }

    /// The ways to the core; of a short cylinder its side comes first.
    pub(super) fn faces(&self) -> Vec<Face> {
        let volume = self.volume_m3();
        let face = |geometry, area_m2: f64, depth_m: f64| Face {
            area_m2,
            geometry,
            depth_m,
        };
        match self.shape {
            Shape::Sphere => {
                let radius = (3.0 * volume / (4.0 * PI)).cbrt();
                vec![face(Geometry::Sphere, 4.0 * PI * radius * radius, radius)]
            }
            Shape::Cylinder { height_to_diameter } => {
                let radius = (volume / (2.0 * PI * height_to_diameter)).cbrt();
                let height = 2.0 * radius * height_to_diameter;
                let ends = 2.0 * PI * radius * radius;
                vec![
                    face(Geometry::Cylinder, 2.0 * PI * radius * height, radius),
                    face(Geometry::Slab, ends, height / 2.0),
                ]
            }
            Shape::Slab { half_thickness_m } => {
                let area_m2 = volume / half_thickness_m;
                vec![face(Geometry::Slab, area_m2, half_thickness_m)]
            }
        }
    }
}

pub(super) fn check_surface(h: f64) -> Result<f64> {
    check("surface coefficient", h, 0.1, 200.0, "W/(m² K)")
}

/// How fast a dough has followed its room between two readings, each an hour and the temperature then: the time constant
/// `tau = (t2 - t1)/ln((T1 - T_room)/(T2 - T_room))`, h. What warms it of its own is not in it: a dough that hardly
/// ferments yet, or a tub of water, tells it best.
///
/// # Errors
/// Readings that cannot tell: the second not after the first, less than 1 °C apart, or going away from the room or past it;
/// a time constant outside 0.05 to 100 h.
///
/// ```
/// use pointage::heat::dough_body::time_constant_of_readings;
/// use pointage::units::Temperature;
/// let c = Temperature::celsius;
/// let tau_h = time_constant_of_readings([(0.0, c(25.0)?), (2.0, c(23.1)?)], c(19.0)?)?;
/// assert!((tau_h - 2.0 / (6.0f64 / 4.1).ln()).abs() < 1e-9); // 5.25 h
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn time_constant_of_readings(
    readings: [(f64, Temperature); 2],
    room: Temperature,
) -> Result<f64> {
    let [(from_h, from), (until_h, until)] = readings.map(|(h, t)| (h, t.as_celsius()));
    let [before, after] = [from, until].map(|t| t - room.as_celsius());
    let why = if until_h <= from_h {
        "the second reading must be later than the first"
    } else if (from - until).abs() < LEAST_CHANGE_K {
        "the dough has changed by less than 1 °C between the readings; wait longer, or take a dough farther from its room"
    } else if after / before <= 0.0 || after / before >= 1.0 {
        "between the readings the dough has not come nearer to its room; check them and the room, or take a dough that does not ferment yet"
    } else {
        let tau_h = (until_h - from_h) / (before / after).ln();
        return check("time constant", tau_h, 0.05, 100.0, "h");
    };
    Err(Error::contradiction(why))
}

/// A change that two usual thermometers tell for certain, K (by judgement).
const LEAST_CHANGE_K: f64 = 1.0;

#[cfg(test)]
mod tests {
    use super::*;

    /// Those of the independent calculation below.
    const CALCULATED: DoughProperties = DoughProperties {
        conductivity_w_per_m_k: 0.40,
        density_kg_per_m3: 1100.0,
        heat_capacity_kj_per_kg_k: 2.8,
    };

    fn body(kg: f64, shape: Shape) -> Body {
        let mass = Mass::kilograms(kg).unwrap();
        Body::new(mass, shape, CALCULATED).unwrap()
    }

    fn cylinder(height_to_diameter: f64) -> Shape {
        Shape::Cylinder { height_to_diameter }
    }

    /// Bodies from 26 °C in air of 4 °C: kg, shape, h, plain tau in h, Biot of volume, and the
    /// hours until the *mean* is 10, 7 and 5 °C. Independent calculation: exact series of
    /// conduction (60 terms, product solution for the short cylinders) in scipy, k 0.40 W/(m K),
    /// rho 1100 kg/m³, c 2800 J/(kg K).
    fn cooling_table() -> Vec<(f64, Shape, f64, f64, f64, [f64; 3])> {
        let (upright, tub) = (cylinder(1.0), cylinder(1.0 / 3.0));
        vec![
            (0.25, Shape::Sphere, 7.0, 1.54, 0.22, [2.27, 3.49, 5.42]),
            (0.50, Shape::Sphere, 7.0, 1.94, 0.28, [2.95, 4.54, 7.05]),
            (1.0, Shape::Sphere, 7.0, 2.45, 0.35, [3.86, 5.94, 9.24]),
            (1.0, Shape::Sphere, 15.0, 1.14, 0.75, [2.16, 3.37, 5.28]),
            (2.0, upright, 7.0, 2.69, 0.39, [4.57, 7.08, 11.05]),
            (5.0, upright, 7.0, 3.66, 0.52, [6.68, 10.4, 16.4]),
            (10.0, upright, 7.0, 4.61, 0.66, [9.0, 14.1, 22.3]),
            (20.0, upright, 7.0, 5.81, 0.83, [12.3, 19.4, 30.7]),
            (20.0, upright, 15.0, 2.71, 1.78, [8.0, 13.1, 21.3]),
            (100.0, upright, 15.0, 4.63, 3.05, [18.6, 31.5, 52.4]),
            (1.0, tub, 7.0, 1.85, 0.27, [2.89, 4.46, 6.95]),
            (5.0, tub, 7.0, 3.16, 0.45, [5.45, 8.49, 13.3]),
            (5.0, tub, 15.0, 1.48, 0.97, [3.16, 5.02, 8.00]),
            (20.0, tub, 15.0, 2.34, 1.54, [6.06, 9.76, 15.8]),
        ]
    }

    #[test]
    fn plain_time_constants_and_biot_numbers_as_printed() {
        for (kg, shape, h, tau, biot, _) in cooling_table() {
            let b = body(kg, shape);
            let got = b.lumped_time_constant_h(h).unwrap();
            assert!(
                (got - tau).abs() <= 0.005 + 1e-9,
                "{kg} kg: {got} against {tau}"
            );
            let got = b.volume_biot(h).unwrap();
            assert!(
                (got - biot).abs() <= 0.005 + 1e-9,
                "{kg} kg: Bi {got} against {biot}"
            );
        }
    }

    #[test]
    fn corrected_time_constants_meet_the_exact_cooling_times() {
        for (kg, shape, h, _, _, hours) in cooling_table() {
            let tau = body(kg, shape).time_constant_h(h).unwrap();
            let bi = body(kg, shape).biot(h).unwrap();
            for (to_c, exact) in [10.0_f64, 7.0, 5.0].into_iter().zip(hours) {
                let got = tau * (22.0 / (to_c - 4.0)).ln();
                // One exponential for a whole series: 3 % to Bi 1.6, 7 % to Bi 2, as the module
                // says. Beyond that it is not the tool; 14 % keeps watch over gross errors.
                let allowed = match bi {
                    _ if bi < 1.6 => 0.03,
                    _ if bi < 2.0 => 0.07,
                    _ => 0.14,
                };
                assert!(
                    (got / exact - 1.0).abs() < allowed,
                    "{kg} kg, h {h}, to {to_c}: {got:.3} against {exact}"
                );
            }
        }
    }

    #[test]
    fn pure_shapes_follow_the_slowest_term_of_the_series() {
        // tau_1/tau_lumped = Bi/z1² (slab), Bi/z1² times 2 (cylinder) or 3 (sphere): exact roots of
        // the Biot equations, as in Cengel, table 4-2. 5 % at Bi 2 is the stated range.
        for (bi, slab, cylinder_ratio, sphere) in [
            (0.5, 1.1716, 1.1299, 1.1041),
            (1.0, 1.3510, 1.2682, 1.2159),
            (2.0, 1.7246, 1.5636, 1.4578),
        ] {
            let k = CALCULATED.conductivity_w_per_m_k;
            let sheet = Shape::Slab {
                half_thickness_m: 0.05,
            };
            for (shape, exact) in [
                (sheet, slab),
                (cylinder(50.0), cylinder_ratio),
                (Shape::Sphere, sphere),
            ] {
                let b = body(1.0, shape);
                let h = bi / b.biot(k).unwrap() * k;
                let got = b.time_constant_h(h).unwrap() / b.lumped_time_constant_h(h).unwrap();
                let allowed = if bi < 2.0 { 0.02 } else { 0.05 };
                assert!(
                    (got / exact - 1.0).abs() < allowed,
                    "{shape:?} Bi {bi}: {got} {exact}"
                );
                // and the closed form of the correction itself
                let n = match shape {
                    Shape::Slab { .. } => Some(3.0),
                    Shape::Sphere => Some(5.0),
                    Shape::Cylinder { .. } => None, // its ends count too
                };
                if let Some(n) = n {
                    assert!((got - (1.0 + bi / n)).abs() < 1e-12);
                }
            }
        }
    }

    #[test]
    fn perfect_conduction_is_the_plain_form() {
        let properties = DoughProperties {
            conductivity_w_per_m_k: 10.0,
            ..CALCULATED
        };
        let mass = Mass::kilograms(0.1).unwrap();
        let b = Body::new(mass, Shape::TUB, properties).unwrap();
        let ratio = b.time_constant_h(0.1).unwrap() / b.lumped_time_constant_h(0.1).unwrap();
        assert!((1.0..1.0002).contains(&ratio), "{ratio}");
    }

    #[test]
    fn nonsense_is_refused() {
        let mass = Mass::kilograms(1.0).unwrap();
        let p = CALCULATED;
        assert!(Body::new(Mass::grams(0.0).unwrap(), Shape::Sphere, p).is_err());
        assert!(Body::new(mass, cylinder(0.0), p).is_err());
        assert!(Body::new(mass, cylinder(f64::NAN), p).is_err());
        assert!(body(1.0, Shape::Sphere).time_constant_h(0.0).is_err());
    }

    /// Two readings give the constant that they were made with; those that cannot tell are refused.
    #[test]
    fn two_readings_tell_the_time_constant() {
        let c = |celsius: f64| Temperature::celsius(celsius).unwrap();
        let of = |a: (f64, f64), b: (f64, f64), room: f64| {
            time_constant_of_readings([(a.0, c(a.1)), (b.0, c(b.1))], c(room))
        };
        for tau in [0.3, 2.4, 12.0] {
            for (from, room) in [(29.0, 19.0), (14.0, 30.0)] {
                let at = |h: f64| room + (from - room) * f64::exp(-h / tau);
                let got = of((0.5, at(0.5)), (2.5, at(2.5)), room).unwrap();
                assert!((got / tau - 1.0).abs() < 1e-9, "{got} {tau}");
            }
        }
        for (a, b, room, said) in [
            ((2.0, 25.0), (0.0, 23.0), 19.0, "later"),
            ((0.0, 25.0), (2.0, 24.5), 19.0, "less than 1 °C"),
            ((0.0, 25.0), (2.0, 27.0), 19.0, "not come nearer"),
            ((0.0, 25.0), (2.0, 18.0), 19.0, "not come nearer"),
            ((0.0, 19.0), (2.0, 25.0), 19.0, "not come nearer"),
            ((0.0, 25.0), (2.0, 19.0), 19.0, "not come nearer"),
            ((0.0, 45.0), (200.0, 40.0), 0.0, "time constant"),
        ] {
            let why = of(a, b, room).unwrap_err().to_string();
            assert!(why.contains(said), "{a:?} {b:?}: {why}");
        }
    }
}
