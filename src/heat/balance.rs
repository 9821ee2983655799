//! Heat balance of a mix: what goes in warm or cold comes out as dough.
//!
//! ```text
//! first mix   sum m_i c_i (T_1 - T_i) + m_w c_w (T_1 - T_w) + C_bowl (T_1 - T_bowl) = m_flour q_hydration
//! rest        T_2 = T_room + (T_1 - T_room) exp(-t/tau)
//! mix         C_1 (T - T_2) + sum m_j c_j (T - T_j) = m_dough q_mixing
//! ```
//!
//! `i` goes in with the water; `j` (salt, yeast, bassinage) follows after the rest. Without a
//! rest all of it is one equation. Every step is linear in the water's temperature, so the answer
//! is exact: water as warm as the dough you want misses it by so much, and one degree of water moves the
//! dough by a known share. Temperatures are counted from that of the water, and °C or K make no difference.
//!
//! Left out: heat of dissolving salt (about -0.3 K at 2 %), heat lost while mixing (give the
//! mixing heat net of it), and the work of the short first mix before a rest.
//! The basis is M. Cengel and M. Boles, *Thermodynamics*, 8th ed., problem 5-157.

use super::cautions::{check_liquid, wanted_water};
use super::ddt_formula::Friction;
use super::dough_body::{Body, DoughProperties, Place, Shape};
use super::properties::{ThermalProperties, check_heat_capacity};
use crate::error::{Error, Result, check};
use crate::units::{Mass, Temperature, TemperatureDifference, as_hours};
use std::time::Duration;

/// Something with a mass, a heat capacity and a temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThermalMass {
    mass: Mass,
    heat_capacity_kj_per_kg_k: f64,
    temperature: Temperature,
}

impl ThermalMass {
    /// An ingredient, or the bowl.
    ///
    /// # Errors
    /// Heat capacity outside 0.1 to 5 kJ/(kg K).
    pub fn new(
        mass: Mass,
        heat_capacity_kj_per_kg_k: f64,
        temperature: Temperature,
    ) -> Result<Self> {
        check_heat_capacity("heat capacity", heat_capacity_kj_per_kg_k)?;
        Ok(Self {
            mass,
            heat_capacity_kj_per_kg_k,
            temperature,
        })
    }

    fn capacity_kj_per_k(&self) -> f64 {
        self.mass.as_kilograms() * self.heat_capacity_kj_per_kg_k
    }

    /// Heat above a datum temperature.
    fn heat_kj(&self, datum_c: f64) -> f64 {
        self.capacity_kj_per_k() * (self.temperature.as_celsius() - datum_c)
    }
}

/// A rest between two mixings (autolyse), in which the mass drifts toward the room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// Its length.
    pub length: Duration,
    /// The room it stands in.
    pub room: Temperature,
    /// Time constant of the mass, h; left out, it is that of a covered tub in still air, from
    /// [`Body`], slowed by the bowl's heat capacity.
    pub time_constant_h: Option<f64>,
}

/// A mix, in one go or with a rest, of a dough or of a preferment.
///
/// ```
/// use pointage::heat::balance::{ThermalMass, Mixing};
/// use pointage::heat::properties::ThermalProperties;
/// use pointage::units::{Mass, Temperature};
/// // 1 kg of flour at 20 °C, 650 g of water, no heat of its own, dough wanted at 26 °C:
/// // 26 + 1.80 * 6 / (0.65 * 4.186) = 29.97 °C
/// let c = ThermalProperties::shipped()?;
/// let flour = ThermalMass::new(Mass::kilograms(1.0)?, c.c_flour_kj_per_kg_k, Temperature::celsius(20.0)?)?;
/// let mix = Mixing::new(flour, Mass::grams(650.0)?, c);
/// let answer = mix.water_for_dough(Temperature::celsius(26.0)?)?;
/// assert!((answer.water.as_celsius() - 29.969_275).abs() < 1e-6);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Mixing {
    /// The dry flour; it alone gives off heat of hydration.
    pub flour: ThermalMass,
    /// The (first) water, the temperature of which is asked or given.
    pub water: Mass,
    /// What goes in with flour and water: a preferment; salt and yeast when nothing rests.
    pub with_water: Vec<ThermalMass>,
    /// The bowl, when it is counted.
    pub bowl: Option<ThermalMass>,
    /// A rest after the first mix.
    pub rest: Option<Rest>,
    /// What is added after the rest: salt, yeast, bassinage.
    pub after_rest: Vec<ThermalMass>,
    /// Heat of hydration, kJ per kg of dry flour, 0 to 150.
    pub hydration_kj_per_kg: f64,
    /// Heat of mixing, kJ per kg of whole dough, -100 to 100 net of what a cooled bowl takes.
    pub mixing_kj_per_kg: f64,
    /// Heat capacities; of these only water's is used here, the others travel in the ingredients.
    pub capacities: ThermalProperties,
}

/// A mix that balances.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[non_exhaustive]
pub struct Balanced {
    /// Temperature of the (first) water; below 0 °C the pour needs ice.
    pub water: Temperature,
    /// Temperature of the dough at the end of mixing.
    pub dough: Temperature,
    /// Temperature at the start and at the end of the rest.
    pub rest: Option<[Temperature; 2]>,
    /// Kelvin that the dough moves for each kelvin of water.
    pub dough_per_water: f64,
    /// Share of wetting in the dough's temperature.
    pub hydration_rise: TemperatureDifference,
    /// Share of the mixer in the dough's temperature.
    pub mixing_rise: TemperatureDifference,
}

/// What comes of a mix, above the temperature of its water.
struct Chain {
    /// Start and end of the rest.
    rest_k: Option<[f64; 2]>,
    dough_k: f64,
    dough_per_water: f64,
    hydration_k: f64,
    mixing_k: f64,
}

impl Mixing {
    /// Flour and water alone, with no heat of their own; fill in the rest by field.
    #[must_use]
    pub fn new(flour: ThermalMass, water: Mass, capacities: ThermalProperties) -> Self {
        Self {
            flour,
            water,
            with_water: Vec::new(),
            bowl: None,
            rest: None,
            after_rest: Vec::new(),
            hydration_kj_per_kg: 0.0,
            mixing_kj_per_kg: 0.0,
            capacities,
        }
    }

    /// The water that brings the dough to a wanted temperature, 0 to 100 °C.
    ///
    /// # Errors
    /// A value out of its range; [`Unreachable`](Error::Unreachable) where the water would have to
    /// be hotter than 100 °C or below what ice can give, or the first mix would freeze.
    pub fn water_for_dough(&self, dough: Temperature) -> Result<Balanced> {
        check_liquid("desired dough temperature", dough)?;
        let trial = self.chain(dough.as_celsius())?;
        // A rest so long that the water is forgotten makes the share vanish; the quotient is then infinite
        // and refused as such.
        let water = wanted_water(dough.as_celsius() - trial.dough_k / trial.dough_per_water)?;
        self.balanced(water, Some(dough))
    }

    /// The dough that comes of water at a given temperature; below 0 °C it stands for a pour with
    /// ice.
    ///
    /// # Errors
    /// A value out of its range; [`Unreachable`](Error::Unreachable) where the mass would freeze.
    pub fn dough_from_water(&self, water: Temperature) -> Result<Balanced> {
        self.balanced(water, None)
    }

    /// The heat of mixing (kJ per kg of dough) with which this water came out as that dough; what the mix
    /// says of its own heat of mixing is not used.
    ///
    /// # Errors
    /// A value out of its range; a heat beyond 100 kJ/kg, which only wrong readings give.
    ///
    /// ```
    /// use pointage::heat::balance::{ThermalMass, Mixing};
    /// use pointage::heat::properties::ThermalProperties;
    /// use pointage::units::{Mass, Temperature};
    /// let (c, at) = (ThermalProperties::shipped()?, Temperature::celsius);
    /// let flour = ThermalMass::new(Mass::kilograms(1.0)?, c.c_flour_kj_per_kg_k, at(20.0)?)?;
    /// let mix = Mixing::new(flour, Mass::grams(650.0)?, c);
    /// // 1.65 kg of dough, 1.80 + 0.65 * 4.186 kJ/K, all at 20 °C, and 5 °C warmer in the end:
    /// let heat = mix.mixing_heat(at(20.0)?, at(25.0)?)?;
    /// assert!((heat - 5.0 * (1.80 + 0.65 * 4.186) / 1.65).abs() < 1e-9);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn mixing_heat(&self, water: Temperature, dough: Temperature) -> Result<f64> {
        let rise_k = dough.as_celsius() - water.as_celsius();
        self.heat_for(water, |unit| rise_k - (unit.dough_k - unit.mixing_k))
    }

    /// The heat of mixing (kJ per kg of dough) that a friction factor stands for in this mix: what, beside wetting,
    /// warms it by factor over terms when flour, water and room are equally warm.
    ///
    /// # Errors
    /// As [`mixing_heat`](Self::mixing_heat).
    pub fn mixing_heat_of_friction(&self, friction: &Friction) -> Result<f64> {
        let rise_k = friction.real_rise.as_kelvin();
        self.heat_for(Temperature::ZERO, |unit| rise_k - unit.hydration_k)
    }

    /// The heat with which the mixer warms this mix by so much, as the chain with 1 kJ to a kg of dough tells.
    fn heat_for(&self, water: Temperature, rise_k: impl Fn(&Chain) -> f64) -> Result<f64> {
        let mut unit = self.clone();
        unit.mixing_kj_per_kg = 1.0;
        let unit = unit.chain(water.as_celsius())?;
        let heat = rise_k(&unit) / unit.mixing_k;
        check("heat of mixing", heat, -100.0, 100.0, "kJ/kg")
    }

    /// Mass of the first mix and what follows.
    fn mass_with(&self, later: &[ThermalMass]) -> Result<Mass> {
        let others = self.with_water.iter().chain(later);
        let others_g: f64 = others.map(|i| i.mass.as_grams()).sum();
        Mass::grams(self.flour.mass.as_grams() + self.water.as_grams() + others_g)
    }

    fn chain(&self, water_c: f64) -> Result<Chain> {
        self.capacities.checked()?;
        check("mass of the water", self.water.as_grams(), 1e-3, 1e8, "g")?;
        let (hydration, mixing) = (self.hydration_kj_per_kg, self.mixing_kj_per_kg);
        check("heat of hydration", hydration, 0.0, 150.0, "kJ/kg")?;
        check("heat of mixing", mixing, -100.0, 100.0, "kJ/kg")?;

        let water_kj_per_k = self.water.as_kilograms() * self.capacities.c_water_kj_per_kg_k;
        let flour = std::iter::once(&self.flour);
        let first = flour.chain(&self.with_water).chain(&self.bowl);
        let others_kj_per_k: f64 = first.clone().map(ThermalMass::capacity_kj_per_k).sum();
        let first_kj_per_k = water_kj_per_k + others_kj_per_k;
        let first_kj: f64 = first.map(|i| i.heat_kj(water_c)).sum();
        let hydration_kj = self.flour.mass.as_kilograms() * hydration;
        let mut mass_k = (first_kj + hydration_kj) / first_kj_per_k;

        let mut kept = 1.0;
        let mut rest_k = None;
        if let Some(r) = &self.rest {
            kept = (-as_hours(r.length) / self.rest_time_constant_h(r, first_kj_per_k)?).exp();
            let room_k = r.room.as_celsius() - water_c;
            let start_k = mass_k;
            mass_k = room_k + (mass_k - room_k) * kept;
            rest_k = Some([start_k, mass_k]);
        }

        let later = self.after_rest.iter();
        let later_kj_per_k: f64 = later.clone().map(ThermalMass::capacity_kj_per_k).sum();
        let later_kj: f64 = later.map(|i| i.heat_kj(water_c)).sum();
        let mixing_kj = self.mass_with(&self.after_rest)?.as_kilograms() * mixing;
        let all_kj_per_k = first_kj_per_k + later_kj_per_k;
        Ok(Chain {
            rest_k,
            dough_k: (first_kj_per_k * mass_k + later_kj + mixing_kj) / all_kj_per_k,
            dough_per_water: water_kj_per_k * kept / all_kj_per_k,
            hydration_k: hydration_kj * kept / all_kj_per_k,
            mixing_k: mixing_kj / all_kj_per_k,
        })
    }

    fn rest_time_constant_h(&self, rest: &Rest, first_kj_per_k: f64) -> Result<f64> {
        let value_h = if let Some(given_h) = rest.time_constant_h {
            given_h
        } else {
            let mass = self.mass_with(&[])?;
            let bowl_kj_per_k = self.bowl.map_or(0.0, |b| b.capacity_kj_per_k());
            let dough_kj_per_k = first_kj_per_k - bowl_kj_per_k;
            let properties = DoughProperties {
                heat_capacity_kj_per_kg_k: dough_kj_per_k / mass.as_kilograms(),
                ..DoughProperties::shipped()?
            };
            let surface = Place::StillRoom.surface_w_per_m2_k()?;
            let tub_h = Body::new(mass, Shape::TUB, properties)?.time_constant_h(surface)?;
            tub_h * first_kj_per_k / dough_kj_per_k
        };
        check("time constant of the rest", value_h, 0.01, 1e4, "h")
    }

    /// The mix with this water; its dough where that is known to the last digit.
    fn balanced(&self, water: Temperature, dough: Option<Temperature>) -> Result<Balanced> {
        let chain = self.chain(water.as_celsius())?;
        let above = |k: f64| Temperature::celsius(water.as_celsius() + k);
        let rest = match chain.rest_k {
            Some([start, end]) => Some([above(start)?, above(end)?]),
            None => None,
        };
        let dough = dough.map_or_else(|| above(chain.dough_k), Ok)?;
        // Below freezing the heat of melting would have to be counted on the dough's side too.
        let ends = rest.iter().flatten().map(|t| t.as_celsius());
        let coldest_c = ends.fold(dough.as_celsius(), f64::min);
        if coldest_c < 0.0 {
            return Err(Error::unreachable(
                format!("a mix with water of {:.1} °C", water.as_celsius()),
                format!("it would come to {coldest_c:.1} °C, where its water freezes"),
                "cool the flour instead, put ice into the second mix, or make the rest shorter",
            ));
        }
        Ok(Balanced {
            water,
            dough,
            rest,
            dough_per_water: chain.dough_per_water,
            hydration_rise: TemperatureDifference::kelvin(chain.hydration_k)?,
            mixing_rise: TemperatureDifference::kelvin(chain.mixing_k)?,
        })
    }
}
