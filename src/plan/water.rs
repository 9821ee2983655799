//! The water of a bake: of the preferment's own mix and of the dough, by both methods.

use super::bake::{Bake, Joins};
use super::finding::Finding;
use crate::error::{Error, Result};
use crate::formula::{Batch, MixStage, Role};
use crate::heat::balance::{Balanced, Mixing, Rest, ThermalMass};
use crate::heat::cautions::Limits;
use crate::heat::ddt_formula::{DdtFormula, Friction};
use crate::heat::ice::{self, Pour};
use crate::heat::properties::ThermalProperties;
use crate::table;
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
    /// By the DDT formula of the trade; missing without a friction or a base temperature, or when no ice
    /// makes water so cold.
    pub ddt_formula: Option<DdtWater>,
    /// By the heat balance; missing when no water or ice does it.
    pub balance: Option<Balanced>,
    /// Ice and tap water for the pour, when it is colder than the tap.
    pub pour: Option<Pour>,
    /// What a method could not do.
    pub problems: Vec<String>,
}

/// The answer of the DDT formula.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct DdtWater {
    /// The water; below 0 °C it means ice.
    pub water: Temperature,
    /// Temperatures in the sum.
    pub terms: u8,
    /// Friction factor.
    pub friction: Friction,
}

/// The water of the dough, with the room as it is while that is mixed, and the ripe preferment.
pub(super) fn of_dough(
    bake: &Bake,
    batch: &Batch,
    room: Temperature,
    preferment: Option<Temperature>,
) -> Result<MixWater> {
    use MixStage::{Bassinage, Mix};
    let c = ThermalProperties::shipped()?;
    let (kitchen, process) = (&bake.kitchen, &bake.process);
    let mut mix = flour_and_water(bake, room, |role| Ok(batch.mass_of(role, MixStage::Mix)))?;
    if let (Some(own), Some(step), Some(t)) =
        (&bake.formula.preferment, &bake.preferment, preferment)
    {
        let mass = batch.stage_mass(MixStage::Preferment);
        let part = ThermalMass::new(mass, c.dough(own.hydration, own.salt), t)?;
        match step.joins {
            Joins::Autolyse => mix.with_water.push(part),
            Joins::Mix => mix.after_rest.push(part),
        }
    }
    let flour_c = kitchen.flour.unwrap_or(room);
    let yeast_c = kitchen.yeast.unwrap_or(room);
    let old = bake.formula.old_dough.as_ref();
    let old_dough = old.map_or(0.0, |old| c.dough(old.hydration, old.salt));
    let bassinage_c = process.bassinage.unwrap_or(kitchen.tap);
    for (role, stage, capacity, t) in [
        (Role::Salt, Mix, c.c_salt_kj_per_kg_k, flour_c),
        (Role::Sugar, Mix, c.c_sugar_kj_per_kg_k, flour_c),
        (Role::Fat, Mix, c.c_fat_kj_per_kg_k, flour_c),
        (Role::Yeast, Mix, c.c_yeast_kj_per_kg_k, yeast_c),
        (Role::Extra, Mix, c.c_flour_kj_per_kg_k, room),
        (Role::OldDough, Mix, old_dough, room),
        (Role::Water, Bassinage, c.c_water_kj_per_kg_k, bassinage_c),
    ] {
        let mass = batch.mass_of(role, stage);
        if mass.as_grams() > 0.0 {
            mix.after_rest.push(ThermalMass::new(mass, capacity, t)?);
        }
    }
    if !process.autolyse.is_zero() {
        mix.rest = Some(Rest {
            length: process.autolyse,
            room,
            time_constant_h: None,
        });
    }
    let formula = DdtFormula {
        flour: flour_c,
        room,
        preferment,
    };
    let terms = formula.terms();
    let friction = match (process.friction_factor, process.base_c) {
        (Some(factor), _) => Some(Friction::of_factor(factor, terms)?),
        (_, Some(base)) => Some(Friction::from_base(base, process.dough, terms)?),
        _ => None,
    };
    mix.mixing_kj_per_kg = match (process.mixing_heat_kj_per_kg, &friction) {
        (Some(given), _) => given,
        (None, Some(friction)) => mix.mixing_heat_of_friction(friction)?,
        (None, None) => c.mixing_gentle_kj_per_kg,
    };
    let mut problems = Vec::new();
    let water = friction.map(|friction| {
        let water = formula.water_for_base(friction.base_c(process.dough))?;
        Ok(DdtWater {
            water,
            terms,
            friction,
        })
    });
    let by_formula = or_problem(water.transpose(), &mut problems)?.flatten();
    solve(bake, &mix, process.dough, by_formula, problems)
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
    let mass = |role| Mass::grams(times * batch.mass_of(role, MixStage::Preferment).as_grams());
    let mut mix = flour_and_water(bake, room, mass)?;
    mix.mixing_kj_per_kg = step.mixing_heat_kj_per_kg;
    let c = mix.capacities;
    for (role, capacity, t) in [
        (Role::Yeast, c.c_yeast_kj_per_kg_k, bake.kitchen.yeast),
        (Role::Salt, c.c_salt_kj_per_kg_k, bake.kitchen.flour),
    ] {
        if mass(role)?.as_grams() > 0.0 {
            let part = ThermalMass::new(mass(role)?, capacity, t.unwrap_or(room))?;
            mix.with_water.push(part);
        }
    }
    solve(bake, &mix, step.dough, None, Vec::new()).map(Some)
}

/// A mix of flour and water, with the heat of the flour's wetting.
fn flour_and_water(
    bake: &Bake,
    room: Temperature,
    mass: impl Fn(Role) -> Result<Mass>,
) -> Result<Mixing> {
    let (c, kitchen) = (ThermalProperties::shipped()?, &bake.kitchen);
    let flour_c = kitchen.flour.unwrap_or(room);
    let flour = ThermalMass::new(mass(Role::Flour)?, c.c_flour_kj_per_kg_k, flour_c)?;
    let mut mix = Mixing::new(flour, mass(Role::Water)?, c);
    mix.hydration_kj_per_kg = c.hydration_kj_per_kg(kitchen.flour_moisture)?;
    Ok(mix)
}

fn solve(
    bake: &Bake,
    mix: &Mixing,
    dough: Temperature,
    ddt_formula: Option<DdtWater>,
    mut problems: Vec<String>,
) -> Result<MixWater> {
    let balance = or_problem(mix.water_for_dough(dough), &mut problems)?;
    let mut answer = MixWater {
        water: mix.water,
        dough,
        ddt_formula,
        balance,
        pour: None,
        problems,
    };
    let (tap, ice) = (bake.kitchen.tap, bake.kitchen.ice);
    let colder = answer.pour_temperature().filter(|want| *want < tap);
    let split = colder.map(|want| ice::split(mix.water, tap, want, ice, &mix.capacities));
    answer.pour = or_problem(split.transpose(), &mut answer.problems)?.flatten();
    Ok(answer)
}

/// The coldest water that tap and a fair share of ice give, and the warmest that bare yeast meets, °C.
fn water_limits(bake: &Bake) -> Result<(f64, f64)> {
    let tap = bake.kitchen.tap.as_celsius();
    let share = table::get("day")?.number("ice_share")?;
    // The short form: ice melts as if it were water of -80 °C.
    let coldest = tap - share * (tap + 80.0);
    Ok((coldest, Limits::shipped()?.bare_yeast_c.as_celsius()))
}

/// The coldest and the warmest dough that water can give, °C, within what is proposed at all; `None` without a balance.
pub(super) fn reachable_dough(bake: &Bake, planned: &MixWater) -> Result<Option<(f64, f64)>> {
    let Some(balance) = planned.balance else {
        return Ok(None);
    };
    let (coldest, warmest) = water_limits(bake)?;
    let dough = planned.dough.as_celsius();
    let by = |water: f64| dough + (water - balance.water.as_celsius()) * balance.dough_per_water;
    let day = table::get("day")?;
    let (least, most) = (
        day.number("coolest_dough_c")?,
        day.number("hottest_dough_c")?,
    );
    let (coldest, warmest) = (by(coldest).max(least), by(warmest).min(most));
    Ok(Some((coldest.min(dough), warmest.max(dough))))
}

/// What to pour for the next dough after one that came off the mixer so many °C too warm.
pub(super) fn next_time(
    bake: &Bake,
    planned: &MixWater,
    too_warm_c: f64,
) -> Result<Option<Finding>> {
    let Some(balance) = planned.balance else {
        return Ok(None);
    };
    let (coldest, warmest) = water_limits(bake)?;
    let poured = balance.water.as_celsius();
    let wanted = poured - too_warm_c / balance.dough_per_water;
    // What was planned may lie beyond already.
    let water_c = wanted.clamp(coldest.min(poured), warmest.max(poured));
    let dough_c = planned.dough.as_celsius();
    Ok(Some(Finding::WaterNextTime {
        warmer_c: water_c - poured,
        water_c,
        ice_g: ice_g(bake, planned.water, water_c),
        dough_c,
        reaches_c: dough_c + (water_c - wanted) * balance.dough_per_water,
    }))
}

/// Ice in a water that is to act as if so cold, by the short form, g.
fn ice_g(bake: &Bake, water: Mass, water_c: f64) -> f64 {
    let tap = bake.kitchen.tap.as_celsius();
    water.as_grams() * ((tap - water_c) / (tap + 80.0)).max(0.0)
}

/// Another desired dough temperature than the bake's, with its pour.
pub(super) fn change_of_dough(bake: &Bake, mix: &MixWater, given_c: f64) -> Finding {
    let water_c = mix.pour_temperature().map(Temperature::as_celsius);
    Finding::ChangeDough {
        dough_c: mix.dough.as_celsius(),
        given_c,
        water_c,
        ice_g: water_c.map_or(0.0, |water_c| ice_g(bake, mix.water, water_c)),
    }
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
    Ok(ThermalProperties::shipped()?.dough(percent(batch.water)?, percent(batch.salt)?))
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
