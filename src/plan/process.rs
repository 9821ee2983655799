//! One dough on its way from the preferment to the oven: what happens between any two hours.
//!
//! Hours are on the plan's clock. A stage begins where the one before it ended, with the dough as it
//! was then; in each place the dough follows the room with its own time constant and its own heat.

mod bulk;
mod pieces;
mod preferment;
mod reference;

pub(super) use bulk::{BulkResult, Known};
pub(super) use pieces::{PieceCache, Shaped, Waits};
pub(super) use preferment::Ripening;
use reference::mean_c;

use super::bake::{Bake, Joins};
use super::environment::RoomCourses;
use super::water;
use crate::error::Result;
use crate::ferment::{Kinetics, MOST_GAS_RATE, OwnHeat, Parameters};
use crate::formula::{MixStage, Role, YeastFactors};
use crate::heat::dough_body::{Body, DoughProperties, Place, Shape};
use crate::heat::properties::ThermalProperties;
use crate::units::{Mass, as_hours};
use std::cell::Cell;

/// Everything that stays the same while clock times are looked for.
#[derive(Clone)]
pub(super) struct DoughProcess<'a> {
    pub bake: &'a Bake,
    pub p: &'a Parameters,
    pub rooms: &'a RoomCourses,
    /// The yeast of the dough: as in `p`, and as fast as it has been seen to be.
    usual: Kinetics,
    kinetics: Kinetics,
    factors: YeastFactors,
    /// The autolyse of a preferment that joins it, h.
    joined_rest_h: f64,
    /// The preferment that another dough is made of too: it is used when this one is mixed, ripe or not.
    shared: Option<Ripening>,
    /// How long the preferment took when it was last asked for: where the next search begins, h.
    preferment_h: Cell<f64>,
    /// Time constants, h.
    tau_preferment: f64,
    tau_preferment_in_cold: f64,
    tau_tub: f64,
    tau_tub_in_cold: f64,
    tau_ball: f64,
    tau_loaf: f64,
    tau_loaf_in_cold: f64,
    tau_loaf_in_proof: f64,
    preferment_heat: OwnHeat,
    dough_heat: OwnHeat,
    /// The dough in its tub, and what conducts and stores its heat.
    pub tub: Body,
    properties: DoughProperties,
    /// Surface coefficients around the tub, W/(m² K), in the bulk's place and in the cold.
    surface_of_bulk: f64,
    surface_of_cold: f64,
}

impl<'a> DoughProcess<'a> {
    pub fn new(bake: &'a Bake, p: &'a Parameters, rooms: &'a RoomCourses) -> Result<Self> {
        let batch = bake.batch()?;
        let shipped = DoughProperties::shipped()?;
        let c_dough = water::dough_capacity(&batch)?;
        let with_capacity = |c: f64| DoughProperties {
            heat_capacity_kj_per_kg_k: c,
            ..shipped
        };
        let properties = with_capacity(c_dough);
        let shape = Shape::Cylinder {
            height_to_diameter: bake.process.loaf_length_to_diameter,
        };
        let tub = Body::new(batch.dough, Shape::TUB, properties)?;
        let ball = Body::new(bake.piece, Shape::Sphere, properties)?;
        let loaf = Body::new(bake.piece, shape, properties)?;
        let still = Place::StillRoom.surface_w_per_m2_k()?;
        let surface_of_bulk = bake.process.bulk_in.surface_w_per_m2_k()?;
        let in_cold = bake.cold.as_ref().map_or(Place::Fridge, |c| c.stands_in);
        let surface_of_cold = in_cold.surface_w_per_m2_k()?;
        let in_proof = bake.process.proof_in.surface_w_per_m2_k()?;
        let heat = |mass: Mass, flour: Mass, c: f64| {
            let kg = mass.as_kilograms() / (flour.as_grams() / 100.0);
            OwnHeat::new(p.heat_kj_per_mol, p.space.molar_volume, kg, c)
        };
        let dough_heat = heat(batch.dough, batch.flour, c_dough)?;
        let joins = (bake.preferment.as_ref()).filter(|step| step.joins == Joins::Autolyse);
        let (mut tau_preferment, mut tau_preferment_in_cold) = (1.0, 1.0);
        let mut preferment_heat = dough_heat;
        let preferment = bake.formula.preferment.as_ref();
        if let Some((own, step)) = preferment.zip(bake.preferment.as_ref()) {
            let c = ThermalProperties::shipped()?.dough(own.hydration, own.salt);
            let mass = batch.stage_mass(MixStage::Preferment);
            // What is made for another dough stands in the same tub.
            let together = Mass::grams(mass.as_grams() + step.also.as_grams())?;
            let body = Body::new(together, Shape::TUB, with_capacity(c))?;
            let tau = |place: Place| body.time_constant_h(place.surface_w_per_m2_k()?);
            tau_preferment = tau(step.stands_in)?;
            tau_preferment_in_cold =
                tau(step.cold.as_ref().map_or(Place::Fridge, |c| c.stands_in))?;
            preferment_heat = heat(mass, batch.mass_of(Role::Flour, MixStage::Preferment), c)?;
        }
        // A kitchen whose dough takes longer to double has slower yeast: a rise is a rise everywhere.
        let kinetics = sped(&p.kinetics, 1.0 / p.own_doubled())?;
        Ok(Self {
            bake,
            p,
            rooms,
            usual: kinetics.clone(),
            kinetics,
            factors: YeastFactors::shipped()?,
            joined_rest_h: joins.map_or(0.0, |_| as_hours(bake.process.autolyse)),
            tau_preferment,
            tau_preferment_in_cold,
            shared: None,
            preferment_h: Cell::new(12.0),
            tau_tub: match bake.process.tub_time_constant {
                Some(own) => as_hours(own),
                None => tub.time_constant_h(surface_of_bulk)?,
            },
            tau_tub_in_cold: tub.time_constant_h(surface_of_cold)?,
            tau_ball: ball.time_constant_h(still)?,
            tau_loaf: loaf.time_constant_h(still)?,
            tau_loaf_in_cold: loaf.time_constant_h(surface_of_cold)?,
            tau_loaf_in_proof: loaf.time_constant_h(in_proof)?,
            preferment_heat,
            dough_heat,
            tub,
            properties,
            surface_of_bulk,
            surface_of_cold,
        })
    }

    /// The same, with the yeast of the dough faster by a factor.
    pub fn faster(mut self, speed: f64) -> Result<Self> {
        self.kinetics = sped(&self.kinetics, speed)?;
        Ok(self)
    }

    /// The same, with the preferment of another dough.
    pub fn with_preferment(mut self, shared: Option<Ripening>) -> Self {
        self.shared = shared;
        self
    }

    /// Surface coefficient around the tub in a part of the bulk, W/(m² K).
    pub fn surface(&self, part: &str) -> f64 {
        match part {
            "cold" => self.surface_of_cold,
            _ => self.surface_of_bulk,
        }
    }

    /// Heat of a dough that makes so many mL of gas an hour per 100 g flour, W/m³.
    pub fn watts_per_m3(&self, ml_per_h: f64) -> f64 {
        let joules_per_m3_k = 1e3 * self.properties.heat_capacity_kj_per_kg_k;
        let joules_per_m3_k = self.properties.density_kg_per_m3 * joules_per_m3_k;
        joules_per_m3_k * (ml_per_h * self.dough_heat.kelvin_per_ml) / 3600.0
    }
}

/// Yeast that makes gas faster by a factor, as far as that is believed.
fn sped(kinetics: &Kinetics, speed: f64) -> Result<Kinetics> {
    let mut rates = kinetics.rates();
    rates.specific_gas_rate = (rates.specific_gas_rate * speed).min(MOST_GAS_RATE);
    kinetics.with_rates(rates)
}
