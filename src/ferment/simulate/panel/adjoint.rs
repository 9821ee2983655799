//! Derivatives of what a dough has come to, by its state and by the numbers of the model: carried back along the panels
//! of a dough that has been followed, in one pass for all numbers.

use super::{Growth, Inside, Panel, Points, array};
use crate::error::Result;
use crate::ferment::simulate::Direction;
use crate::ferment::simulate::growth::MassSlopes;
use crate::numeric::{self, POINTS};

/// The derivatives, by the state at an hour, of what is asked for at the end.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::ferment::simulate) struct Adjoint {
    pub growing: f64,
    pub waiting: f64,
    pub potential: f64,
    pub lag_hours: f64,
    pub excess_k: f64,
}

impl Panel<'_> {
    /// Carries the adjoint from the panel's end to its start, and adds to the derivatives by each direction what that
    /// moves on the way; the degree hours of the panel.
    ///
    /// Each array has, for an hour at each point, the derivative by what goes on there: what that does at the end, and
    /// what it still does on the way.
    pub fn carry_back(
        &self,
        adjoint: &mut Adjoint,
        by: &mut [f64; Direction::COUNT],
    ) -> Result<f64> {
        /// The adjoint of the own heat is settled when it moves by less, mL/(K h).
        const SETTLED: f64 = 1e-6;
        let Inside::Points { at, .. } = &self.inside else {
            return Ok(f64::NAN);
        };
        let (f, h, t) = (self.ferment, self.length_h, at.temperature_c);
        self.wake_back(adjoint, by)?;
        let end = *adjoint;
        let integral = |values: [f64; POINTS]| numeric::integral(&values, h);
        let from_end = |end: f64, values: [f64; POINTS]| {
            let all = end + integral(values);
            numeric::cumulated(&values, h).map(|before| all - before)
        };
        let steepness = self.steepness(at)?;
        let slopes = at.theta.map(|theta| self.growth.mass_slopes(theta));
        let last_theta = f.growth_clock(self.growth_hours(1.0));
        let last_slopes = self.growth.mass_slopes(last_theta);
        let ml_per_g = at.gas.map(|gas| self.gas_clock(gas));
        let making = array(|i| ml_per_g[i] * self.growth.yeast(at.theta[i]));
        let warming = array(|i| f.kelvin_per_ml() * at.share[i] / at.fades[i]);
        // The share falls by its own share of what it lacks over the sugar of half speed.
        let lacking = array(|i| (1.0 - at.share[i]).powi(2) / f.medium.sugar_half);
        let fade = numeric::fade(h / self.piece.tau_h);
        let lag = at.gas.map(|gas| end.lag_hours * f.kinetics.lag_scale * gas);
        let mut excess = [0.0; POINTS];
        // The own heat moves what makes it: found by repeating, as the heat.
        for _ in 0..20 {
            let heat = from_end(fade * end.excess_k, array(|i| at.fades[i] * excess[i]));
            let spent = array(|i| -lacking[i] * warming[i] * making[i] * heat[i]);
            let potential = from_end(end.potential, spent);
            let made = array(|i| warming[i] * heat[i] + potential[i]);
            let yeast = array(|i| ml_per_g[i] * made[i]);
            let grown = array(|i| slopes[i].theta * yeast[i]);
            let clock = from_end(last_slopes.theta * end.growing, grown);
            // Of the logarithms of the rates.
            let gas = array(|i| making[i] * made[i]);
            let growth = array(|i| f.growth_clock(at.growth[i]) * clock[i]);
            let next = array(|i| {
                let (by_gas, by_growth) = steepness[i];
                by_gas * (gas[i] + lag[i]) + by_growth * growth[i]
            });
            let is_settled = (0..POINTS).all(|i| (next[i] - excess[i]).abs() < SETTLED);
            excess = next;
            if !is_settled {
                continue;
            }
            let grown = |of: fn(&MassSlopes) -> f64| {
                end.growing * of(&last_slopes) + integral(array(|i| yeast[i] * of(&slopes[i])))
            };
            for direction in Direction::ALL {
                let moved = t.map(|t| f.kinetics.log_rates_moved(direction, f.yeast, t));
                let by_gas = array(|i| moved[i].0 * (gas[i] + lag[i]));
                let by_growth = array(|i| moved[i].1 * growth[i]);
                by[direction as usize] += integral(by_gas) + integral(by_growth);
            }
            let by_ceiling = grown(|slopes| slopes.ceiling);
            // What can still grow is counted from what there was; in the dead time more yeast is at work none the more.
            let counted = if self.start.awake { f.yeast.added } else { 0.0 };
            by[Direction::Dose as usize] +=
                counted * by_ceiling + (self.working - 1.0) * integral(gas);
            by[Direction::GrowthCap as usize] +=
                f.cap * by_ceiling + grown(|slopes| slopes.log_cap);
            *adjoint = Adjoint {
                growing: grown(|slopes| slopes.m0),
                waiting: end.waiting + integral(yeast),
                potential: end.potential + integral(spent),
                lag_hours: end.lag_hours,
                excess_k: fade * end.excess_k + integral(array(|i| at.fades[i] * excess[i])),
            };
            return Ok(integral(t));
        }
        adjoint.potential = f64::NAN;
        Ok(f64::NAN)
    }

    /// Slopes of the logarithms of the rates of gas and growth at the points, 1/K.
    fn steepness(&self, at: &Points) -> Result<[(f64, f64); POINTS]> {
        /// The step of the slopes: they are good to 1e-6 of themselves.
        const NEAR_K: f64 = 1e-5;
        let slope = |above: f64, here: f64| match here > 0.0 {
            true => (above / here - 1.0) / NEAR_K,
            false => 0.0,
        };
        let mut slopes = [(0.0, 0.0); POINTS];
        for (i, t) in at.temperature_c.into_iter().enumerate() {
            let above = self.ferment.kinetics.rates_at(t + NEAR_K)?;
            slopes[i] = (slope(above.0, at.gas[i]), slope(above.1, at.growth[i]));
        }
        Ok(slopes)
    }

    /// The yeast that waited grows from the end of the lag on: where that comes later, there is less of it.
    fn wake_back(&self, adjoint: &mut Adjoint, by: &mut [f64; Direction::COUNT]) -> Result<()> {
        let f = self.ferment;
        if self.start.awake || !self.end.awake {
            return Ok(());
        }
        let (gas, growth) = f.kinetics.rates_at(self.end.temperature_c)?;
        let ceiling = f.yeast.added + f.yeast.carried + f.cap;
        let awake = Growth::of(self.end.yeast, ceiling, f.cap);
        let more = awake.speed(self.end.yeast) - self.growth.speed(self.end.growing);
        // By an hour of the lag.
        let later = adjoint.growing * f.growth_clock(growth) * more / (f.kinetics.lag_scale * gas);
        by[Direction::Lag as usize] -= f.kinetics.rates().lag27_h * later;
        adjoint.lag_hours += later;
        adjoint.waiting = adjoint.growing;
        Ok(())
    }

    /// Gas made and warming, an hour, at the end of the panel.
    pub fn per_hour(&self) -> Result<(f64, f64)> {
        let (f, state) = (self.ferment, &self.end);
        let clock = self.gas_clock(f.kinetics.rates_at(state.temperature_c)?.0);
        let gas = clock * state.yeast * self.sugar_share(state.gas);
        let fading = state.excess_k / self.piece.tau_h;
        let room = self.piece.slope_at(self.at + self.length_h);
        Ok((gas, room + f.kelvin_per_ml() * gas - fading))
    }
}
