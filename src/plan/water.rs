//! The water of a bake: of the preferment's own mix and of the dough, by both methods.

use super::bake::{Bake, DdtFormula as Given, Joins};
use crate::error::{Error, Result};
use crate::formula::{Batch, Role, Stage};
use crate::heat::balance::{Balanced, Ingredient, Mixing, Rest};
use crate::heat::capacities::HeatCapacities;
use crate::heat::ddt_formula::{BaseTemperature, DdtFormula, Friction};
use crate::heat::ice::{self, Pour};
use crate::heat::mixing_heat::MixingHeat;
use crate::units::{Mass, Percent, Temperature};
use serde::{Deserialize, Serialize};

/// Water for one mix.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct MixWater {
    /// Mass of the (first) water.
    pub water: Mass,
    /// The dough wanted.
    pub dough: Temperature,
    /// By the sum rule of the trade; missing without a friction or a base temperature, or when no ice
    /// makes water so cold.
    pub ddt_formula: Option<DdtWater>,
    /// By the heat balance; missing when no water or ice does it.
    pub balance: Option<Balanced>,
    /// Ice and tap water for the balance, when it asks for less than the tap gives.
    pub balance_pour: Option<Pour>,
    /// What a method could not do.
    pub problems: Vec<String>,
}

/// The sum rule's answer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct DdtWater {
    /// The water; below 0 °C it means ice.
    pub water: Temperature,
    /// Temperatures in the sum.
    pub terms: u8,
    /// Friction on the sum scale.
    pub friction: Friction,
    /// Ice and tap water, when it asks for less than the tap gives.
    pub pour: Option<Pour>,
}

/// The water of the dough.
pub(super) fn of_dough(
    bake: &Bake,
    batch: &Batch,
    room: Temperature,
    preferment: Option<Temperature>,
) -> Result<MixWater> {
    let capacities = HeatCapacities::shipped()?;
    let flour_c = bake.kitchen.flour.unwrap_or(room);
    let mass = |role, stage| batch.mass_of(role, stage);
    let mut mix = Mixing::new(
        Ingredient::new(
            mass(Role::Flour, Stage::Mix),
            capacities.flour_kj_per_kg_k,
            flour_c,
        )?,
        mass(Role::Water, Stage::Mix),
        capacities,
    );
    mix.hydration_kj_per_kg = hydration(bake)?;
    mix.mixing_kj_per_kg = bake.process.mixing_heat_kj_per_kg;

    let mut late = Vec::new();
    if let (Some(own), Some(step), Some(t)) =
        (&bake.formula.preferment, &bake.preferment, preferment)
    {
        let capacity = capacities.dough(own.hydration, own.salt);
        let part = Ingredient::new(batch.stage_mass(Stage::Preferment), capacity, t)?;
        match step.joins {
            Joins::Autolyse => mix.with_water.push(part),
            Joins::Mix => late.push(part),
        }
    }
    let mut add = |role, capacity: f64, t: Temperature| -> Result<()> {
        if mass(role, Stage::Mix).as_grams() > 0.0 {
            late.push(Ingredient::new(mass(role, Stage::Mix), capacity, t)?);
        }
        Ok(())
    };
    add(Role::Salt, capacities.salt_kj_per_kg_k, flour_c)?;
    add(Role::Sugar, capacities.sugar_kj_per_kg_k, flour_c)?;
    add(Role::Fat, capacities.fat_kj_per_kg_k, flour_c)?;
    add(
        Role::Yeast,
        capacities.yeast_kj_per_kg_k,
        bake.kitchen.yeast.unwrap_or(room),
    )?;
    add(Role::Extra, capacities.flour_kj_per_kg_k, room)?;
    if let Some(old) = &bake.formula.old_dough {
        add(
            Role::OldDough,
            capacities.dough(old.hydration, old.salt),
            room,
        )?;
    }
    let second = mass(Role::Water, Stage::Bassinage);
    if second.as_grams() > 0.0 {
        let t = bake.process.bassinage.unwrap_or(bake.kitchen.tap);
        late.push(Ingredient::new(second, capacities.water_kj_per_kg_k, t)?);
    }
    mix.after_rest = late;
    if !bake.process.autolyse.is_zero() {
        mix.rest = Some(Rest {
            length: bake.process.autolyse,
            room,
            time_constant_h: None,
        });
    }

    let mut problems = Vec::new();
    let rule = DdtFormula {
        flour: flour_c,
        room,
        preferment,
    };
    let ddt_formula = match bake.process.ddt_formula {
        Some(given) => or_problem(
            rule_water(bake, &rule, given, mix.water, &capacities),
            &mut problems,
        )?,
        None => None,
    };
    solve(bake, &mix, bake.process.dough, ddt_formula, problems)
}

/// The water of the preferment's own mix: flour, water and a pinch of yeast, by the heat balance.
pub(super) fn of_preferment(
    bake: &Bake,
    batch: &Batch,
    times: f64,
    room: Temperature,
) -> Result<Option<MixWater>> {
    let Some(step) = &bake.preferment else {
        return Ok(None);
    };
    let capacities = HeatCapacities::shipped()?;
    let mass = |role| Mass::grams(times * batch.mass_of(role, Stage::Preferment).as_grams());
    let flour_c = bake.kitchen.flour.unwrap_or(room);
    let flour = Ingredient::new(mass(Role::Flour)?, capacities.flour_kj_per_kg_k, flour_c)?;
    let mut mix = Mixing::new(flour, mass(Role::Water)?, capacities);
    mix.hydration_kj_per_kg = hydration(bake)?;
    mix.mixing_kj_per_kg = step.mixing_heat_kj_per_kg;
    let yeast_c = bake.kitchen.yeast.unwrap_or(room);
    for (role, capacity, t) in [
        (Role::Yeast, capacities.yeast_kj_per_kg_k, yeast_c),
        (Role::Salt, capacities.salt_kj_per_kg_k, flour_c),
    ] {
        if mass(role)?.as_grams() > 0.0 {
            mix.with_water
                .push(Ingredient::new(mass(role)?, capacity, t)?);
        }
    }
    solve(bake, &mix, step.dough, None, Vec::new()).map(Some)
}

fn hydration(bake: &Bake) -> Result<f64> {
    MixingHeat::shipped()?.hydration_kj_per_kg(bake.kitchen.flour_moisture)
}

fn solve(
    bake: &Bake,
    mix: &Mixing,
    dough: Temperature,
    ddt_formula: Option<DdtWater>,
    mut problems: Vec<String>,
) -> Result<MixWater> {
    let balance = or_problem(mix.water_for_dough(dough), &mut problems)?;
    let balance_pour = match balance {
        Some(b) => or_problem(
            pour(bake, mix.water, b.water, &mix.capacities),
            &mut problems,
        )?
        .flatten(),
        None => None,
    };
    Ok(MixWater {
        water: mix.water,
        dough,
        ddt_formula,
        balance,
        balance_pour,
        problems,
    })
}

fn rule_water(
    bake: &Bake,
    rule: &DdtFormula,
    given: Given,
    mass: Mass,
    capacities: &HeatCapacities,
) -> Result<DdtWater> {
    let dough = bake.process.dough;
    let friction = match given {
        Given::Friction(k) => Friction::on_sum_scale(k, rule.terms())?,
        Given::Base(base) => {
            Friction::from_base(BaseTemperature::celsius(base)?, dough, rule.terms())?
        }
    };
    let water = rule.water_for_base(BaseTemperature::of_dough(dough, friction))?;
    let pour = pour(bake, mass, water, capacities)?;
    Ok(DdtWater {
        water,
        terms: rule.terms(),
        friction,
        pour,
    })
}

/// Ice and tap water, when the tap is not cold enough.
fn pour(
    bake: &Bake,
    mass: Mass,
    want: Temperature,
    capacities: &HeatCapacities,
) -> Result<Option<Pour>> {
    let tap = bake.kitchen.tap;
    if want >= tap {
        return Ok(None);
    }
    ice::split(mass, tap, want, bake.kitchen.ice, capacities).map(Some)
}

/// A method that cannot reach its aim is a problem, not an error: the other one may.
fn or_problem<T>(result: Result<T>, problems: &mut Vec<String>) -> Result<Option<T>> {
    match result {
        Ok(value) => Ok(Some(value)),
        Err(e) if e.is_unreachable() => {
            problems.push(e.to_string());
            Ok(None)
        }
        Err(e) => Err(e),
    }
}

/// Heat capacity of the whole dough, kJ/(kg K), for its own heat and its time constant.
pub(super) fn dough_capacity(batch: &Batch) -> Result<f64> {
    let percent = |m: Mass| Percent::new(batch.percent_of_flour(m));
    Ok(HeatCapacities::shipped()?.dough(percent(batch.water)?, percent(batch.salt)?))
}

impl MixWater {
    /// The water to pour: the balance's, or the rule's when there is no balance.
    #[must_use]
    pub fn pour_temperature(&self) -> Option<Temperature> {
        let balance = self.balance.map(|b| b.water);
        balance.or(self.ddt_formula.map(|r| r.water))
    }

    /// The error to give when neither method has an answer.
    pub(super) fn answered(self) -> Result<Self> {
        if self.balance.is_none() && self.ddt_formula.is_none() {
            return Err(Error::unreachable(
                format!("a dough of {} °C", self.dough.as_celsius()),
                self.problems.join("; "),
                "cool or warm the flour, chill the preferment, or ask for another dough temperature",
            ));
        }
        Ok(self)
    }
}
