//! A dough held at one temperature: the hours of its end points in closed form, without following it.

use super::LONGEST_H;
use super::panel::Growth;
use crate::ambient::Course;
use crate::error::Result;
use crate::ferment::{Kinetics, Medium, Parameters, Stage};

/// A stage held at one temperature, from its start.
#[derive(Debug, Clone, Copy)]
pub struct Held<'k> {
    kinetics: &'k Kinetics,
    medium: Medium,
    /// g fresh yeast per 100 g flour, and whether it has its lag before it.
    yeast: f64,
    asleep: bool,
    t: f64,
    gas_rate: f64,
    growth_rate: f64,
    /// An amount of gas and its potential: many questions are about the same end point.
    known: (f64, f64),
}

impl<'k> Held<'k> {
    /// The stage on a course; `None` where there is no closed form: the temperature changes, or some of
    /// the yeast grows while some waits.
    ///
    /// # Errors
    /// A percentage out of its range, or a temperature that the rate law refuses.
    pub fn new(stage: &Stage, p: &'k Parameters, course: &Course<'_>) -> Result<Option<Self>> {
        let yeast = stage.yeast;
        let mixed = yeast.added > 0.0 && yeast.carried > 0.0;
        let (Some(t), None, false) = (course.held_at(), stage.own_heat, mixed) else {
            return Ok(None);
        };
        let (gas_rate, growth_rate) = p.kinetics.rates_at(t)?;
        let medium = p.effects.medium(&stage.composition)?;
        let end = p.gas_at(stage.end);
        Ok(Some(Self {
            kinetics: &p.kinetics,
            medium,
            known: (end, medium.potential_of(end).unwrap_or(f64::INFINITY)),
            yeast: yeast.checked_total()?,
            asleep: yeast.added > 0.0,
            t,
            gas_rate,
            growth_rate,
        }))
    }

    /// The same dough with other kinetics.
    ///
    /// # Errors
    /// A temperature that their rate law refuses.
    pub fn with<'b>(&self, kinetics: &'b Kinetics) -> Result<Held<'b>> {
        let (gas_rate, growth_rate) = if kinetics.shares_curves_with(self.kinetics) {
            (self.gas_rate, self.growth_rate)
        } else {
            kinetics.rates_at(self.t)?
        };
        Ok(Held {
            kinetics,
            gas_rate,
            growth_rate,
            ..*self
        })
    }

    /// Hours until `gas` has been made (mL per 100 g flour); `None` when the sugar does not last for it or
    /// three weeks do not suffice.
    #[must_use]
    pub fn hours_until_gas(&self, gas: f64) -> Option<f64> {
        let wanted = if gas == self.known.0 {
            self.known.1
        } else {
            self.medium.potential_of(gas)?
        };
        let rates = self.kinetics.rates();
        let gas_clock = self.kinetics.gas_scale * self.medium.gas_factor * self.gas_rate;
        let yeast_hours = wanted / gas_clock;
        let lag_h = if self.asleep {
            rates.lag27_h / (self.gas_rate * self.kinetics.lag_scale)
        } else {
            0.0
        };
        // As if it never grew; true up to the end of the lag.
        let plain = yeast_hours / self.yeast;
        let speed = rates.growth_rate * self.medium.growth_factor * self.growth_rate;
        let hours = if plain <= lag_h || speed == 0.0 {
            plain
        } else {
            let cap = rates.growth_cap * self.medium.fresh_flour;
            let growth = Growth::of(self.yeast, self.yeast + cap, cap);
            lag_h + growth.clock_at((yeast_hours - self.yeast * lag_h) * speed) / speed
        };
        (hours <= LONGEST_H).then_some(hours)
    }
}
