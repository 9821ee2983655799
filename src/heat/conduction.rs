//! Conduction in a dough: core, surface and mean apart, while the place changes and the dough makes
//! heat of its own.
//!
//! ```text
//! rho c dT/dt = k (T'' + (d-1)/r T') + q(t)      inside; d = 1 slab, 2 cylinder, 3 sphere
//! -k T' = h (T - T_place(t))                     at the surface
//! ```
//!
//! # Which of the three
//! `Bi = h L/k`, with `L` half the thickness or the radius ([`Body::biot`]); errors are those of the
//! mean temperature after a step of 22 K, the largest over all time.
//!
//! | model | call | take it when | error of the mean (slab, cylinder, sphere) |
//! |---|---|---|---|
//! | plain lumped, `tau = rho c V/(h A)` | [`Body::lumped_time_constant_h`] | Bi below 0.1 | 0.27, 0.20, 0.16 K at Bi 0.1; 1.24, 0.95, 0.77 K at Bi 0.5 |
//! | corrected lumped, `tau (1 + Bi/n)` | [`Body::time_constant_h`] | only the mean matters and Bi is 1 or less | 0.20, 0.20, 0.17 K at Bi 1; 0.5 K at Bi 2; 1.1 K at Bi 5 |
//! | conduction | [`Conduction`] | Bi is above 1, or the core or the surface is asked for and Bi is above 0.1 | 1e-6 K |
//!
//! A probe in the middle reads the *core*: in the same step it lies above the mean by up to 0.3 to
//! 0.6 K at Bi 0.1, by 2 to 4 K at Bi 1 and by 5 to 9 K at Bi 5. A tub of 5 to 20 kg put into a
//! refrigerator at 26 °C has its core still at 19 to 24 °C two hours later, at 24 to 26 °C where it is
//! as high as wide. [`advised`] says the same in one call.
//!
//! # Method
//! The temperature is the place's plus a sum of modes, each a Newton cooling of its own; on every piece
//! of the place's [`TemperatureProfile`] (level, ramp, day and night, decay) it has a closed form, so no step of
//! time limits the accuracy. Modes too fast to be followed one by one answer the drive at once, and
//! their sum is known in closed form. A source that changes is taken as a parabola through three
//! values a minute. A short cylinder is the product of a slab and a cylinder: its modes are the pairs
//! of theirs, which holds for the uniform start, even source and common surface coefficient that are
//! assumed here.
//!
//! Source: Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed., chapters 1.15, 3, 7 and 9.

mod modes;

use super::dough_body::{Body, DoughProperties, Shape};
use crate::ambient::{Piece, Pieces, TemperatureProfile};
use crate::error::{Error, Result, check};
use crate::numeric::{self, POINTS};
use crate::units::Temperature;
use modes::Geometry;
use std::f64::consts::PI;

/// Biot number above which the mean asks for conduction.
const MEAN_BIOT: f64 = 1.0;
/// Biot number above which core and surface ask for it: below, they lie within 0.6 K of the mean in a
/// step of 22 K.
const CORE_BIOT: f64 = 0.1;
/// Longest time that is followed, h.
const LONGEST_H: f64 = 1e4;
/// Largest source, W/m³; a fast dough makes a thousand.
const LARGEST_SOURCE: f64 = 1e6;
/// Longest panel over which a changing source is a parabola, h.
const SOURCE_PANEL_H: f64 = 1.0 / 60.0;
/// A mode is over when it has decayed by exp(-30), 1e-13.
const OVER: f64 = 30.0;
/// Modes of one axis: at least, and at most where a jump is very recent.
const MODES: (usize, usize) = (60, 1600);
/// The same for each axis of a short cylinder, where their product counts.
const PAIRED_MODES: (usize, usize) = (40, 160);
/// Panels from core to surface on which a profile is kept.
const PROFILE_PANELS: usize = 32;
/// Modes that such a profile resolves.
const PROFILE_MODES: usize = 60;
/// A change of the place by more is a jump, K.
const JUMP_K: f64 = 1e-9;
/// A surface coefficient below is none, W/(m² K); its modes would be lost in rounding.
const SEALED: f64 = 1e-9;
/// Below this Biot number the answer of the modes left out is nil, and would be lost in rounding.
const NO_REST_BIOT: f64 = 1e-6;

/// True when this dough asks for [`Conduction`] rather than for [`Body::time_constant_h`]: Bi is above
/// 1, or its core or surface is asked for and Bi is above 0.1.
///
/// # Errors
/// A surface coefficient outside 0.1 to 200 W/(m² K).
///
/// ```
/// use pointage::heat::{dough_body::{Body, DoughProperties, Shape}, conduction::advised};
/// use pointage::units::Mass;
/// let tub = Body::new(Mass::kilograms(5.0)?, Shape::TUB, DoughProperties::shipped()?)?;
/// assert!(!advised(&tub, 7.0, false)?); // its mean is well described by one time constant
/// assert!(advised(&tub, 7.0, true)?); // its core is not
/// assert!(advised(&tub, 15.0, false)?);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn advised(body: &Body, surface_w_per_m2_k: f64, core_asked: bool) -> Result<bool> {
    let limit = if core_asked { CORE_BIOT } else { MEAN_BIOT };
    Ok(body.biot(surface_w_per_m2_k)? > limit)
}

/// The bodies that can be followed; depths of 0.5 mm to 2 m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Form {
    /// A sheet cooled on both faces (or of twice the thickness, cooled on one).
    Slab {
        /// Half its thickness, m.
        half_thickness_m: f64,
    },
    /// A long cylinder; its ends are not counted.
    Cylinder {
        /// Its radius, m.
        radius_m: f64,
    },
    /// A ball.
    Sphere {
        /// Its radius, m.
        radius_m: f64,
    },
    /// A tub, or a cylinder cooled at its side and both ends. Its *surface* is the side at half height.
    ShortCylinder {
        /// Its radius, m.
        radius_m: f64,
        /// Its height, m: 0.02 to 50 times its diameter.
        height_m: f64,
    },
}

/// Heat made inside, the same everywhere in the dough, W/m³: heat of fermentation (W/kg) times density.
///
/// The hours of a changing source count from the start, like those of the course. It should be smooth
/// over a few minutes; a jump is spread over one.
#[derive(Clone, Copy)]
pub enum Source<'a> {
    /// No heat.
    None,
    /// Always the same.
    Constant(f64),
    /// Against the hours since the start.
    Changing(&'a dyn Fn(f64) -> f64),
}

/// Temperatures of a body at an hour, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Hours since the start.
    pub hours: f64,
    /// Mean over the volume.
    pub mean_c: f64,
    /// In the middle.
    pub core_c: f64,
    /// At the surface.
    pub surface_c: f64,
}

/// The temperature from core to surface, as a start.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    core_c: f64,
    surface_c: f64,
    /// At the points of the panels, from the core outwards; none where all is `surface_c`.
    points: Vec<f64>,
}

impl Profile {
    /// The same temperature everywhere.
    #[must_use]
    pub fn uniform(temperature: Temperature) -> Self {
        let t = temperature.as_celsius();
        Self {
            core_c: t,
            surface_c: t,
            points: Vec::new(),
        }
    }

    /// A temperature (°C) against the place `x`, 0 at the core and 1 at the surface. Finer detail than
    /// a fortieth of the depth is not resolved.
    ///
    /// # Errors
    /// A temperature that is not finite or outside -100 to 150 °C.
    pub fn new(at: impl Fn(f64) -> f64) -> Result<Self> {
        let value = |x: f64| check("temperature of the profile", at(x), -100.0, 150.0, "°C");
        Ok(Self {
            core_c: value(0.0)?,
            surface_c: value(1.0)?,
            points: profile_places().map(value).collect::<Result<_>>()?,
        })
    }

    /// In the middle, °C.
    #[must_use]
    pub fn core_c(&self) -> f64 {
        self.core_c
    }

    /// At the surface, °C.
    #[must_use]
    pub fn surface_c(&self) -> f64 {
        self.surface_c
    }

    /// Integral over x, weighted with `weight(x)`, of what lies above the surface's temperature.
    fn integral_above_surface(&self, weight: impl Fn(f64) -> f64) -> f64 {
        let mut places = profile_places();
        let mut sum = 0.0;
        for panel in self.points.chunks_exact(POINTS) {
            let mut values = [0.0; POINTS];
            for ((value, t), x) in values.iter_mut().zip(panel).zip(places.by_ref()) {
                *value = (t - self.surface_c) * weight(x);
            }
            sum += numeric::integral(&values, 1.0 / PROFILE_PANELS as f64);
        }
        sum
    }
}

fn profile_places() -> impl Iterator<Item = f64> {
    (0..PROFILE_PANELS)
        .flat_map(|panel| numeric::fractions().map(|x| (panel as f64 + x) / PROFILE_PANELS as f64))
}

/// A body of dough whose inside is followed.
///
/// ```
/// use pointage::ambient::{Ambient, TemperatureProfile};
/// use pointage::heat::dough_body::DoughProperties;
/// use pointage::heat::conduction::{Conduction, Form, Profile, Source};
/// use pointage::units::Temperature;
/// // A ball of 12 cm (k 0.4, 1100 kg/m³, 2.8 kJ/(kg K), h 8) from 26 °C into a refrigerator at 4 °C:
/// // the series gives 13.559 °C in the middle and 11.098 °C for the mean after 3 h.
/// let properties = DoughProperties {
///     conductivity_w_per_m_k: 0.4, density_kg_per_m3: 1100.0, heat_capacity_kj_per_kg_k: 2.8,
/// };
/// let ball = Conduction::new(Form::Sphere { radius_m: 0.06 }, properties, 8.0)?;
/// let fridge = Ambient::constant(Temperature::celsius(4.0)?)?;
/// let start = Profile::uniform(Temperature::celsius(26.0)?);
/// let course = TemperatureProfile::of_room(&fridge, 0.0);
/// let night = ball.follow(&start, &course, Source::None, &[3.0, 6.0, 12.0])?;
/// assert!((night[0].core_c - 13.559_311).abs() < 1e-6);
/// assert!((night[0].mean_c - 11.098_038).abs() < 1e-6);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conduction {
    axis: Axis,
    /// Half the height of a short cylinder.
    ends: Option<Axis>,
    /// Warming by a watt per cubic metre, K/h.
    k_per_h_per_w_per_m3: f64,
}

/// A way from core to surface.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Axis {
    geometry: Geometry,
    biot: f64,
    /// `L² rho c/k`, h: the time that counts as Fo 1.
    diffusion_h: f64,
}

/// A mode of the body, or a pair of modes; 1 at the core.
#[derive(Debug, Clone, Copy)]
struct Mode {
    rate_per_h: f64,
    /// What of this rate belongs to the ends of a short cylinder.
    ends_per_h: f64,
    share: f64,
    surface: f64,
    mean: f64,
}

/// Answer of all modes left out to a drive of 1 K/h, K.
#[derive(Debug, Clone, Copy, Default)]
struct Rest {
    core: f64,
    surface: f64,
    mean: f64,
}

impl Conduction {
    /// A body with a surface coefficient of 0 (sealed) to 10 000 W/(m² K), the same on all faces.
    ///
    /// # Errors
    /// A length, property or surface coefficient out of its range.
    pub fn new(form: Form, properties: DoughProperties, surface_w_per_m2_k: f64) -> Result<Self> {
        properties.check()?;
        let given = surface_w_per_m2_k;
        check("surface coefficient", given, 0.0, 1e4, "W/(m² K)")?;
        let h = if given < SEALED { 0.0 } else { given };
        let k = properties.conductivity_w_per_m_k;
        let capacity_j_per_m3_k =
            properties.density_kg_per_m3 * properties.heat_capacity_kj_per_kg_k * 1e3;
        let axis = |geometry, what: &str, depth_m: f64| {
            let depth_m = check(what, depth_m, 0.0005, 2.0, "m")?;
            Ok::<_, Error>(Axis {
                geometry,
                biot: h * depth_m / k,
                diffusion_h: depth_m * depth_m * capacity_j_per_m3_k / k / 3600.0,
            })
        };
        let (main, ends) = match form {
            Form::Slab { half_thickness_m } => (
                axis(Geometry::Slab, "half thickness", half_thickness_m)?,
                None,
            ),
            Form::Cylinder { radius_m } => (axis(Geometry::Cylinder, "radius", radius_m)?, None),
            Form::Sphere { radius_m } => (axis(Geometry::Sphere, "radius", radius_m)?, None),
            Form::ShortCylinder { radius_m, height_m } => (
                axis(Geometry::Cylinder, "radius", radius_m)?,
                Some(axis(Geometry::Slab, "half height", 0.5 * height_m)?),
            ),
        };
        Ok(Self {
            axis: main,
            ends,
            k_per_h_per_w_per_m3: 3600.0 / capacity_j_per_m3_k,
        })
    }

    /// The same for a [`Body`]; its cylinders are short ones.
    ///
    /// # Errors
    /// A surface coefficient outside 0 to 10 000 W/(m² K).
    pub fn of_body(body: &Body, surface_w_per_m2_k: f64) -> Result<Self> {
        let volume = body.volume_m3();
        let form = match body.shape {
            Shape::Sphere => Form::Sphere {
                radius_m: (3.0 * volume / (4.0 * PI)).cbrt(),
            },
            Shape::Cylinder { height_to_diameter } => {
                let radius_m = (volume / (2.0 * PI * height_to_diameter)).cbrt();
                Form::ShortCylinder {
                    radius_m,
                    height_m: 2.0 * radius_m * height_to_diameter,
                }
            }
            Shape::Slab { half_thickness_m } => Form::Slab { half_thickness_m },
        };
        Self::new(form, body.properties, surface_w_per_m2_k)
    }

    /// Biot number `h L/k`, `L` half the thickness or the radius.
    #[must_use]
    pub fn biot(&self) -> f64 {
        self.axis.biot
    }

    /// The body at the given hours (0 to 10 000, in rising order), which count from the start; the
    /// course says how warm the *place* is ([`TemperatureProfile::of_room`], or [`TemperatureProfile::following`] for a
    /// container or cabinet that itself lags behind the room).
    ///
    /// Good to 1e-6 K for a uniform start and a smooth source, from `Fo = t k/(rho c L²)` = 2e-6 after
    /// the last jump of the place on, a short cylinder from Fo 2e-4 on along each of its ways; before
    /// that, the answer along that way is the one of that moment. A start with a given profile is good
    /// from Fo 1e-3 on.
    ///
    /// # Errors
    /// Hours that fall or are out of range, a source that is not finite or beyond ±1e6 W/m³, a short
    /// cylinder with a start that is not uniform.
    pub fn follow(
        &self,
        start: &Profile,
        place: &TemperatureProfile<'_>,
        source: Source<'_>,
        hours: &[f64],
    ) -> Result<Vec<Reading>> {
        let mut run = Run::begin(self, start, place, source, hours)?;
        let mut readings = Vec::with_capacity(hours.len());
        for &hour in hours {
            run.advance_to(hour)?;
            readings.push(run.reading(start)?);
        }
        Ok(readings)
    }

    /// The temperature from core to surface after `hours`: the start in the next place, with its other
    /// surface coefficient.
    ///
    /// # Errors
    /// As for [`follow`](Self::follow), and for any short cylinder.
    pub fn profile_after(
        &self,
        start: &Profile,
        place: &TemperatureProfile<'_>,
        source: Source<'_>,
        hours: f64,
    ) -> Result<Profile> {
        if self.ends.is_some() {
            return Err(no_profile());
        }
        if hours == 0.0 {
            return Ok(start.clone());
        }
        let mut run = Run::begin(self, start, place, source, &[hours])?;
        run.advance_to(hours)?;
        run.profile()
    }

    /// Modes enough for what is `age_h` after a jump, as far as their number is limited.
    fn modes(&self, age_h: f64) -> Result<Vec<Mode>> {
        let (least, most) = self.mode_limits();
        let of = |axis: &Axis| {
            let wanted = (OVER * axis.diffusion_h / age_h).sqrt() / PI + 2.0;
            let count = wanted.clamp(least as f64, most as f64) as usize;
            let diffusion_h = axis.diffusion_h;
            let modes = axis.geometry.modes(axis.biot, count)?;
            Ok::<_, Error>(modes.into_iter().map(move |m| Mode {
                rate_per_h: m.z * m.z / diffusion_h,
                ends_per_h: 0.0,
                share: m.share,
                surface: m.surface,
                mean: m.mean,
            }))
        };
        let main = of(&self.axis)?;
        let Some(ends) = &self.ends else {
            return Ok(main.collect());
        };
        let slabs: Vec<Mode> = of(ends)?.collect();
        let pairs = main.flat_map(|a| {
            slabs.iter().map(move |b| Mode {
                rate_per_h: a.rate_per_h + b.rate_per_h,
                ends_per_h: b.rate_per_h,
                share: a.share * b.share,
                surface: a.surface,
                mean: a.mean * b.mean,
            })
        });
        Ok(pairs.collect())
    }

    fn mode_limits(&self) -> (usize, usize) {
        if self.ends.is_some() {
            PAIRED_MODES
        } else {
            MODES
        }
    }

    /// How long after a jump the greatest number of modes of an axis suffices, h.
    fn youngest_h(&self, axis: &Axis) -> f64 {
        OVER * axis.diffusion_h / (PI * self.mode_limits().1 as f64).powi(2)
    }

    /// What a drive of 1 K/h, held for ever, leaves at a place `x`, K, were there no ends:
    /// `(1 - x²)/(2d) + 1/(d Bi)` times `L² rho c/k`.
    fn steady(&self, x: f64) -> f64 {
        let Axis {
            geometry,
            biot,
            diffusion_h,
        } = self.axis;
        let d = geometry.dimension();
        diffusion_h * ((1.0 - x * x) / (2.0 * d) + 1.0 / (d * biot))
    }

    fn has_rest(&self) -> bool {
        let enough = |axis: &Axis| axis.biot >= NO_REST_BIOT;
        enough(&self.axis) && self.ends.as_ref().is_none_or(enough)
    }

    /// The answer of all modes, less that of the modes followed.
    fn rest(&self, modes: &[Mode]) -> Result<Rest> {
        if !self.has_rest() {
            return Ok(Rest::default());
        }
        let d = self.axis.geometry.dimension();
        let mean = self.steady(1.0) + self.axis.diffusion_h / (d * (d + 2.0));
        let mut rest = Rest {
            core: self.steady(0.0),
            surface: self.steady(1.0),
            mean,
        };
        if let Some(ends) = &self.ends {
            self.cool_ends(ends, &mut rest)?;
        }
        for m in modes {
            let answer = m.share / m.rate_per_h;
            rest.core -= answer;
            rest.surface -= answer * m.surface;
            rest.mean -= answer * m.mean;
        }
        Ok(rest)
    }

    /// What the ends of a short cylinder take off the steady answer: along each mode of the cylinder
    /// `Bi cosh(kappa x)/(kappa sinh(kappa) + Bi cosh(kappa))`, x from half height 0 to the end 1, Bi
    /// that of the ends, `kappa²` the mode's rate times the ends' own `L² rho c/k`.
    fn cool_ends(&self, ends: &Axis, steady: &mut Rest) -> Result<()> {
        let slenderness = (ends.diffusion_h / self.axis.diffusion_h).sqrt();
        // Enough for kappa of 30, where half height no longer feels the ends.
        let count = (OVER / (PI * slenderness)).clamp(20.0, 2000.0) as usize;
        for m in self.axis.geometry.modes(self.axis.biot, count)? {
            let kappa = m.z * slenderness;
            let answer = m.share * self.axis.diffusion_h / (m.z * m.z);
            // All hyperbolic functions times 2 exp(-kappa).
            let twice = (-2.0 * kappa).exp();
            let (sinh, cosh) = (1.0 - twice, 1.0 + twice);
            let felt = ends.biot / (kappa * sinh + ends.biot * cosh);
            let at_half_height = answer * felt * 2.0 * (-kappa).exp();
            steady.core -= at_half_height;
            steady.surface -= at_half_height * m.surface;
            steady.mean -= answer * m.mean * felt * sinh / kappa;
        }
        Ok(())
    }
}

fn no_profile() -> Error {
    Error::contradiction(
        "a short cylinder has no profile along one line; give it a uniform start, or take a slab or a long cylinder",
    )
}

/// A body on its way: the amplitude of each mode above the place's temperature.
struct Run<'r> {
    body: &'r Conduction,
    source: Source<'r>,
    modes: Vec<Mode>,
    amplitudes: Vec<f64>,
    rest: Rest,
    pieces: Pieces<'r>,
    piece: Piece,
    piece_starts_h: f64,
    now_h: f64,
    jumped_h: f64,
}

impl<'r> Run<'r> {
    fn begin(
        body: &'r Conduction,
        start: &Profile,
        place: &TemperatureProfile<'r>,
        source: Source<'r>,
        hours: &[f64],
    ) -> Result<Self> {
        for &hour in hours {
            check("hour", hour, 0.0, LONGEST_H, "h")?;
        }
        if let Some(pair) = hours.windows(2).find(|p| p[1] < p[0]) {
            return Err(Error::malformed(format!(
                "the hours asked for must rise, but {} h follows {} h",
                pair[1], pair[0]
            )));
        }
        if let Source::Constant(w_per_m3) = source {
            checked_source(w_per_m3)?;
        }
        if body.ends.is_some() && !start.points.is_empty() {
            return Err(no_profile());
        }
        let modes = body.modes(youngest_age_h(place, hours))?;
        let mut pieces = place.pieces();
        let piece = pieces
            .next()
            .ok_or_else(|| Error::malformed("the course of the place has no pieces"))?;
        let mut run = Self {
            body,
            source,
            rest: body.rest(&modes)?,
            amplitudes: vec![0.0; modes.len()],
            modes,
            pieces,
            piece,
            piece_starts_h: 0.0,
            now_h: 0.0,
            jumped_h: 0.0,
        };
        run.set_out(start)?;
        Ok(run)
    }

    /// Sealed bodies know no place; their modes count from 0 °C.
    fn sealed(&self) -> bool {
        self.body.axis.biot == 0.0
    }

    fn place_c(&self) -> f64 {
        if self.sealed() {
            0.0
        } else {
            self.piece.at(self.now_h - self.piece_starts_h)
        }
    }

    /// The amplitudes of the start: those of its surface temperature, exactly, and what the core is
    /// warmer, as far as the profile resolves it.
    fn set_out(&mut self, start: &Profile) -> Result<()> {
        let above = start.surface_c - self.place_c();
        for (a, mode) in self.amplitudes.iter_mut().zip(&self.modes) {
            *a = above * mode.share;
        }
        if start.points.is_empty() {
            return Ok(());
        }
        let Axis { geometry, biot, .. } = self.body.axis;
        let modes = geometry.modes(biot, PROFILE_MODES)?;
        for (a, mode) in self.amplitudes.iter_mut().zip(modes) {
            let weight = |x: f64| geometry.shape(mode.z * x) * x.powf(geometry.dimension() - 1.0);
            *a += start.integral_above_surface(weight) / mode.square;
        }
        Ok(())
    }

    fn advance_to(&mut self, hour: f64) -> Result<()> {
        while self.now_h < hour {
            let ends_h = self.piece_starts_h + self.piece.length_h;
            if self.now_h >= ends_h {
                let before = self.place_c();
                let Some(next) = self.pieces.next() else {
                    return Ok(()); // not reached: the last piece is endless
                };
                (self.piece, self.piece_starts_h) = (next, ends_h);
                let jump = self.place_c() - before;
                if jump.abs() > JUMP_K {
                    self.jumped_h = self.now_h;
                }
                for (a, mode) in self.amplitudes.iter_mut().zip(&self.modes) {
                    *a -= jump * mode.share;
                }
                continue;
            }
            let to = hour.min(ends_h);
            self.stretch(to)?;
            self.now_h = to;
        }
        Ok(())
    }

    /// Follows the amplitudes to a moment of the present piece.
    fn stretch(&mut self, to_h: f64) -> Result<()> {
        let length = to_h - self.now_h;
        let panels = match self.source {
            Source::Changing(_) => (length / SOURCE_PANEL_H).ceil().max(1.0),
            _ => 1.0,
        };
        let h = length / panels;
        let panels = panels as usize;
        let own: Vec<([f64; 3], f64)> = self
            .modes
            .iter()
            .map(|m| (phi(m.rate_per_h * h), (-m.rate_per_h * h).exp()))
            .collect();
        let from = self.now_h;
        for panel in 0..panels {
            let start = from + panel as f64 * h;
            // The drive: what the source warms, less what the place runs away.
            let mut drive = self.source_parabola(start, h)?;
            let mut swing = Swing::NONE;
            if !self.sealed() {
                drive[0] -= self.piece.slope;
                swing = Swing::of(&self.piece, start - self.piece_starts_h, h);
            }
            for ((a, mode), (phi, decay)) in self.amplitudes.iter_mut().zip(&self.modes).zip(&own) {
                let driven = h * (drive[0] * phi[0] + drive[1] * phi[1] + 2.0 * drive[2] * phi[2])
                    + swing.driven(mode.rate_per_h, h, *decay);
                *a = *a * decay + mode.share * driven;
            }
        }
        Ok(())
    }

    /// The source as warming, `c0 + c1 x + c2 x²` K/h with x from 0 to 1 over the panel.
    fn source_parabola(&self, start: f64, h: f64) -> Result<[f64; 3]> {
        let scale = self.body.k_per_h_per_w_per_m3;
        match self.source {
            Source::None => Ok([0.0; 3]),
            Source::Constant(w) => Ok([w * scale, 0.0, 0.0]),
            Source::Changing(at) => {
                let value = |x: f64| checked_source(at(start + x * h)).map(|w| w * scale);
                let (a, m, b) = (value(0.0)?, value(0.5)?, value(1.0)?);
                Ok([a, 4.0 * m - 3.0 * a - b, 2.0 * (a + b) - 4.0 * m])
            }
        }
    }

    /// The drive at this moment, K/h.
    fn drive(&self) -> Result<f64> {
        let scale = self.body.k_per_h_per_w_per_m3;
        let source = match self.source {
            Source::None => 0.0,
            Source::Constant(w) => w * scale,
            Source::Changing(at) => checked_source(at(self.now_h))? * scale,
        };
        let place = if self.sealed() {
            0.0
        } else {
            self.piece.slope_at(self.now_h - self.piece_starts_h)
        };
        Ok(source - place)
    }

    /// Sum of the modes, each with its value at some place.
    fn sum(&self, value: impl Fn(usize, &Mode) -> f64) -> f64 {
        // So soon after a jump the modes of an axis do not suffice: along it as a moment later.
        let age_h = self.now_h - self.jumped_h;
        let wait_h = |axis: &Axis| (self.body.youngest_h(axis) - age_h).max(0.0);
        let main_h = wait_h(&self.body.axis);
        let ends_h = self.body.ends.as_ref().map_or(0.0, wait_h);
        let faded = |m: &Mode| {
            if main_h == 0.0 && ends_h == 0.0 {
                return 1.0;
            }
            (-(m.rate_per_h - m.ends_per_h) * main_h - m.ends_per_h * ends_h).exp()
        };
        let terms = self.modes.iter().zip(&self.amplitudes).enumerate();
        terms.map(|(n, (m, a))| a * value(n, m) * faded(m)).sum()
    }

    fn reading(&self, start: &Profile) -> Result<Reading> {
        let hours = self.now_h;
        if hours == 0.0 {
            let d = self.body.axis.geometry.dimension();
            let mean = d * start.integral_above_surface(|x| x.powf(d - 1.0));
            return Ok(Reading {
                hours,
                mean_c: start.surface_c + mean,
                core_c: start.core_c,
                surface_c: start.surface_c,
            });
        }
        let (place, drive) = (self.place_c(), self.drive()?);
        Ok(Reading {
            hours,
            mean_c: place + drive * self.rest.mean + self.sum(|_, m| m.mean),
            core_c: place + drive * self.rest.core + self.sum(|_, _| 1.0),
            surface_c: place + drive * self.rest.surface + self.sum(|_, m| m.surface),
        })
    }

    fn profile(&self) -> Result<Profile> {
        let (place, drive) = (self.place_c(), self.drive()?);
        let Axis { geometry, biot, .. } = self.body.axis;
        let roots = geometry.modes(biot, self.modes.len())?;
        let has_rest = self.body.has_rest();
        let at = |x: f64| {
            let shape = |n: usize| geometry.shape(roots[n].z * x);
            let mut t = place + self.sum(|n, _| shape(n));
            if has_rest {
                let followed: f64 = self
                    .modes
                    .iter()
                    .enumerate()
                    .map(|(n, m)| m.share * shape(n) / m.rate_per_h)
                    .sum();
                t += drive * (self.body.steady(x) - followed);
            }
            t
        };
        Profile::new(at)
    }
}

fn checked_source(w_per_m3: f64) -> Result<f64> {
    check(
        "source of heat",
        w_per_m3,
        -LARGEST_SOURCE,
        LARGEST_SOURCE,
        "W/m³",
    )
}

/// The shortest time from a jump of the place, or from the start, to an hour asked for.
fn youngest_age_h(place: &TemperatureProfile<'_>, hours: &[f64]) -> f64 {
    let mut youngest = LONGEST_H;
    let mut left = hours.iter().filter(|&&h| h > 0.0).peekable();
    let (mut starts_h, mut jumped_h, mut before) = (0.0, 0.0, f64::NAN);
    for piece in place.pieces() {
        if (piece.at(0.0) - before).abs() > JUMP_K {
            jumped_h = starts_h;
        }
        starts_h += piece.length_h;
        while let Some(hour) = left.next_if(|&&h| h <= starts_h) {
            youngest = f64::min(youngest, hour - jumped_h);
        }
        if left.peek().is_none() {
            break;
        }
        before = piece.at(piece.length_h);
    }
    youngest
}

/// What a place that swings or decays drives, over a panel.
struct Swing {
    /// `amplitude omega sin(phase + omega u)`, K/h, at both ends of the panel as sine and cosine.
    wave: Option<Wave>,
    /// Drive at the panel's start, K/h, and its rate of decay, 1/h.
    decay: Option<(f64, f64)>,
}

struct Wave {
    k_per_h: f64,
    omega: f64,
    start: (f64, f64),
    end: (f64, f64),
}

impl Swing {
    const NONE: Self = Self {
        wave: None,
        decay: None,
    };

    fn of(piece: &Piece, at: f64, h: f64) -> Self {
        let w = piece.wave;
        let phase = |u: f64| (w.omega * u + w.phase).sin_cos();
        let wave = (w.amplitude != 0.0).then(|| Wave {
            k_per_h: w.amplitude * w.omega,
            omega: w.omega,
            start: phase(at),
            end: phase(at + h),
        });
        let decay = (piece.decay != 0.0).then(|| {
            let rate = 1.0 / piece.tau_h;
            (piece.decay * rate * (-at * rate).exp(), rate)
        });
        Self { wave, decay }
    }

    /// What it leaves in a mode of that rate at the panel's end; `own` is the mode's own decay.
    fn driven(&self, rate: f64, h: f64, own: f64) -> f64 {
        let mut sum = 0.0;
        if let Some(w) = &self.wave {
            let settled = |(sin, cos): (f64, f64)| rate * sin - w.omega * cos;
            let scale = w.k_per_h / (rate * rate + w.omega * w.omega);
            sum += scale * (settled(w.end) - settled(w.start) * own);
        }
        if let Some((drive, decay)) = self.decay {
            // (exp(-a h) - exp(-b h))/(b - a), a the slower: whole also where the two are equal.
            let (a, b) = (rate.min(decay), rate.max(decay));
            sum += drive * h * (-a * h).exp() * phi((b - a) * h)[0];
        }
        sum
    }
}

/// Integrals of `exp(-z (1 - x)) x^k / k!` over x from 0 to 1, for k = 0, 1, 2.
fn phi(z: f64) -> [f64; 3] {
    if z < 0.5 {
        // The last by its series 1/3! - z/4! + z²/5! - ..., the others upwards from it.
        let third = (4..=16)
            .rev()
            .fold(1.0, |sum, n| 1.0 - z / f64::from(n) * sum)
            / 6.0;
        let second = 0.5 - z * third;
        [1.0 - z * second, second, third]
    } else {
        let first = -(-z).exp_m1() / z;
        let second = (1.0 - first) / z;
        [first, second, (0.5 - second) / z]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against Simpson's rule, in both forms and where they meet.
    #[test]
    fn phi_is_its_integral() {
        for z in [0.0, 1e-6, 0.1, 0.49, 0.51, 1.0, 2.5, 7.0, 40.0] {
            let n = 20_000;
            let mut sums = [0.0; 3];
            for i in 0..=n {
                let x = f64::from(i) / f64::from(n);
                let weight = match i {
                    0 => 1.0,
                    i if i == n => 1.0,
                    i if i % 2 == 1 => 4.0,
                    _ => 2.0,
                };
                let e = weight * (-z * (1.0 - x)).exp() / (3.0 * f64::from(n));
                sums[0] += e;
                sums[1] += e * x;
                sums[2] += e * x * x / 2.0;
            }
            for (value, sum) in phi(z).into_iter().zip(sums) {
                assert!((value - sum).abs() < 1e-11, "{z}: {value} {sum}");
            }
        }
    }

    #[test]
    fn a_uniform_body_has_one_temperature() {
        let t = Temperature::celsius(23.5).unwrap();
        let p = Profile::uniform(t);
        assert_eq!((p.core_c(), p.surface_c()), (23.5, 23.5));
    }
}
