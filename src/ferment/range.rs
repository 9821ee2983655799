//! How sure an answer is: a 10-90 % range from the parameters' standard deviations and correlations, by the slopes of
//! the answer's logarithm. How many of the published rows a range really covers is counted by the tests and stands in the
//! guide.

use super::correlations::{LEARNABLE, LEARNT, place};
use super::extrapolation::Published;
use super::ripening::never_ripe;
use super::simulate::{Direction, GasMoved, Trajectory};
use super::{EndPoint, Inoculum, Isothermal, Kind, OwnHeat, Parameters, Ready, Stage};
use crate::ambient::TemperatureProfile;
use crate::error::Result;
use crate::numeric::NORMAL_90;
use crate::units::Temperature;

/// A parameter that is not known exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Uncertain {
    /// The gas at the end point of a kind.
    Level(Kind),
    /// The tilt of the gas curve.
    Tilt,
    /// The growth rate.
    GrowthRate,
    /// The growth cap.
    GrowthCap,
    /// The lag.
    Lag,
    /// The three numbers of the bend: how the log time goes with the log dose, how that curves, and how it curves
    /// with the temperature.
    DoseSlope,
    /// See [`DoseSlope`](Self::DoseSlope).
    DoseCurve,
    /// See [`DoseSlope`](Self::DoseSlope).
    TemperatureCurve,
    /// The share of free gas kept at each handling.
    Kept,
    /// V/V0 at the end of the proof.
    ProofEnd,
}

impl Parameters {
    /// The parameters with one of them moved by `z` standard deviations.
    ///
    /// # Errors
    /// A parameter moved out of its range.
    pub fn moved(&self, which: Uncertain, z: f64) -> Result<Self> {
        let spread = self.spread;
        let by = |log_sd: f64| (z * log_sd).exp();
        let mut p = self.clone();
        let mut rates = p.kinetics.rates();
        match which {
            Uncertain::Level(kind) => {
                let level = &mut p.levels[kind.level()];
                level.gas *= by(level.log_sd);
            }
            Uncertain::Tilt => {
                let tilt = p.kinetics.tilt() + z * spread.tilt;
                p.kinetics = p.kinetics.with_tilt(tilt, spread.tilt_about)?;
            }
            Uncertain::GrowthRate => rates.growth_rate *= by(spread.growth_rate),
            Uncertain::GrowthCap => rates.growth_cap *= by(spread.growth_cap),
            Uncertain::Lag => rates.lag27_h *= by(spread.lag),
            Uncertain::DoseSlope | Uncertain::DoseCurve | Uncertain::TemperatureCurve => {
                let mut bend = p.kinetics.bend();
                let number = match which {
                    Uncertain::DoseSlope => &mut bend.dose_slope,
                    Uncertain::DoseCurve => &mut bend.dose_curve,
                    _ => &mut bend.temperature_curve,
                };
                *number += z * self.spread_of(which);
                p.kinetics = p.kinetics.with_bend(bend, spread.tilt_about)?;
            }
            Uncertain::Kept => p.kept = (p.kept * by(spread.kept)).min(1.0),
            Uncertain::ProofEnd => {
                // What is uncertain is how far the piece may rise, so the rise itself is moved.
                let moved = |ratio: f64| 1.0 + (ratio - 1.0) * by(spread.proof_rise);
                p.hearth_ratio = moved(p.hearth_ratio);
                p.tin_ratio = moved(p.tin_ratio);
            }
        }
        p.kinetics = p.kinetics.with_rates(rates)?;
        Ok(p)
    }

    /// The value of what a log can teach; of the rest nothing.
    #[cfg(feature = "learn")]
    pub(crate) fn learnt_value(&self, which: Uncertain) -> f64 {
        let (rates, bend) = (self.kinetics.rates(), self.kinetics.bend());
        match which {
            Uncertain::Level(kind) => self.level(kind).gas,
            Uncertain::Tilt => self.kinetics.tilt(),
            Uncertain::GrowthRate => rates.growth_rate,
            Uncertain::GrowthCap => rates.growth_cap,
            Uncertain::Lag => rates.lag27_h,
            Uncertain::DoseSlope => bend.dose_slope,
            Uncertain::DoseCurve => bend.dose_curve,
            Uncertain::TemperatureCurve => bend.temperature_curve,
            Uncertain::Kept | Uncertain::ProofEnd => f64::NAN,
        }
    }

    /// The standard deviation that [`moved`](Self::moved) counts in.
    pub(crate) fn spread_of(&self, which: Uncertain) -> f64 {
        let s = &self.spread;
        match which {
            Uncertain::Level(kind) => self.level(kind).log_sd,
            Uncertain::Tilt => s.tilt,
            Uncertain::GrowthRate => s.growth_rate,
            Uncertain::GrowthCap => s.growth_cap,
            Uncertain::Lag => s.lag,
            Uncertain::DoseSlope => s.bend[0],
            Uncertain::DoseCurve => s.bend[1],
            Uncertain::TemperatureCurve => s.bend[2],
            Uncertain::Kept => s.kept,
            Uncertain::ProofEnd => s.proof_rise,
        }
    }
}

/// How sure the hours until an end point are, or the dose that meets them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeUncertainty {
    /// Standard deviation of the logarithm of the hours.
    pub log_sd: f64,
    /// By how much that logarithm moves with the logarithm of the dose: below 0.
    pub per_log_dose: f64,
}

impl TimeUncertainty {
    /// The 10-90 % range of the hours; `None` where it cannot be said.
    #[must_use]
    pub fn of_hours(&self, hours: f64) -> Option<(f64, f64)> {
        let factor = (NORMAL_90 * self.log_sd).exp();
        factor.is_finite().then(|| (hours / factor, hours * factor))
    }

    /// The 10-90 % range of the dose that meets given hours, likewise.
    #[must_use]
    pub fn of_dose(&self, dose: f64) -> Option<(f64, f64)> {
        let of_dose = Self {
            log_sd: self.log_sd / self.per_log_dose.abs(),
            ..*self
        };
        of_dose.of_hours(dose)
    }
}

impl Stage {
    /// How sure it is that this stage of a kind has come to its end point after `hours` along the course, as
    /// [`ready`](Self::ready) says.
    ///
    /// ```text
    /// var ln t = J C J' + sigma² + (per_log_dose Δ ln dose)² + (per_10k ΔT/10 K)²        J = d ln t/d theta
    /// ```
    /// `C` is the covariance of the parameters; that of the level holds the deviation between sources. Δ counts from
    /// the edge of the doses and (mean) temperatures that are published for the kind. Beyond it `J C J'` is that of the
    /// least sure of the edge's corners: at the nearest point of the edge it could fall along a way out. Where the end point is that of a recipe of the baker's own, a stage with its temperature and
    /// hours, only the difference between both counts, the recipe widens what is published, and a day's scatter stands for sigma.
    ///
    /// ```
    /// use pointage::ambient::TemperatureProfile;
    /// use pointage::ferment::{EndPoint, Inoculum, Kind, Parameters, Stage};
    /// use pointage::units::Temperature;
    /// let p = Parameters::shipped()?;
    /// let night = TemperatureProfile::held(Temperature::celsius(21.0)?);
    /// let log_sd = |added| -> pointage::Result<f64> {
    ///     let kind = Kind::Poolish;
    ///     let yeast = Inoculum { added, carried: 0.0 };
    ///     let stage = Stage { composition: kind.usual()?, yeast, end: EndPoint::Ripe(kind), own_heat: None };
    ///     let hours = stage.ready(&p, &night)?.hours;
    ///     Ok(stage.uncertainty(&p, kind, &night, hours, None)?.log_sd)
    /// };
    /// assert!(log_sd(0.02)? > log_sd(0.2)?); // far from any recipe
    /// # Ok::<(), pointage::Error>(())
    /// ```
    ///
    /// # Errors
    /// As for [`ready`](Self::ready).
    pub fn uncertainty(
        &self,
        p: &Parameters,
        kind: Kind,
        course: &TemperatureProfile<'_>,
        hours: f64,
        recipe: Option<(&Self, Temperature, f64)>,
    ) -> Result<TimeUncertainty> {
        self.uncertainty_of(p, kind, self.gas_moved(p, course, hours)?, recipe)
    }

    /// When it is ready and how sure that is: the dough is followed once for both.
    ///
    /// # Errors
    /// As for [`ready`](Self::ready).
    pub fn ready_with_uncertainty(
        &self,
        p: &Parameters,
        kind: Kind,
        course: &TemperatureProfile<'_>,
        recipe: Option<(&Self, Temperature, f64)>,
    ) -> Result<(Ready, TimeUncertainty)> {
        if self.own_heat.is_none() {
            let ready = self.ready(p, course)?;
            return Ok((
                ready,
                self.uncertainty(p, kind, course, ready.hours, recipe)?,
            ));
        }
        let ferment = self.fermentation(p)?;
        let mut trail = Trajectory::new(&ferment, &ferment.start(), course);
        let Some(ready) = self.ready_along(p, &mut trail)? else {
            return Err(never_ripe(p, self, &ferment, course)?);
        };
        let moved = self.gas_moved_along(p, &mut trail, ready.hours)?;
        Ok((ready, self.uncertainty_of(p, kind, moved, recipe)?))
    }

    fn uncertainty_of(
        &self,
        p: &Parameters,
        kind: Kind,
        mut moved: GasMoved,
        recipe: Option<(&Self, Temperature, f64)>,
    ) -> Result<TimeUncertainty> {
        let (mut edge, mut day) = (Published::of(kind)?, p.spread.day);
        if let Some((stage, at, hours)) = recipe {
            let recipe = stage.gas_moved(p, &TemperatureProfile::held(at), hours)?;
            moved = moved.beside(&recipe);
            edge = edge.with(at.as_celsius(), stage.yeast.added);
            day = p.spread.own_recipe;
        }
        // A dough whose yeast was carried in has no dose of its own.
        let dose = (self.yeast.carried == 0.0).then_some(self.yeast.added);
        let (kelvin, log_dose) = edge.distance(moved.mean_c, dose);
        let mut variance = moved.variance(p, self.end);
        if (kelvin > 0.0 || log_dose > 0.0) && recipe.is_none() {
            variance = self.at_corners(p, &edge)?.unwrap_or(variance);
        }
        let by_dose = p.spread.per_log_dose * log_dose;
        let by_kelvin = p.spread.per_10k * kelvin / 10.0;
        Ok(TimeUncertainty {
            log_sd: (variance + day * day + by_dose * by_dose + by_kelvin * by_kelvin).sqrt(),
            per_log_dose: moved.log_hours(moved.by[Direction::Dose as usize]),
        })
    }

    /// The largest variance at the corners of what is published.
    fn at_corners(&self, p: &Parameters, edge: &Published) -> Result<Option<f64>> {
        let mut most: Option<f64> = None;
        for (at, doses) in edge.corners(self.yeast.added) {
            let corner = Self {
                yeast: Inoculum {
                    added: doses[0],
                    carried: 0.0,
                },
                own_heat: None,
                ..*self
            };
            let held = TemperatureProfile::held(Temperature::celsius(at)?);
            let Some(isothermal) = Isothermal::new(&corner, p, &held)? else {
                continue;
            };
            let end = corner.end_gas(p, at);
            for corner in doses.map(|added| isothermal.with_added(added)) {
                let hours = corner.hours_until_gas(&p.kinetics, end);
                if let Some(moved) = hours.and_then(|hours| corner.gas_moved(hours)) {
                    let variance = moved.variance(p, self.end);
                    most = Some(most.map_or(variance, |most| most.max(variance)));
                }
            }
        }
        Ok(most)
    }

    /// How the gas made after some hours moves, less that of the end point.
    pub(crate) fn gas_moved(
        &self,
        p: &Parameters,
        course: &TemperatureProfile<'_>,
        hours: f64,
    ) -> Result<GasMoved> {
        if let Some(held) = Isothermal::new(self, p, course)?
            && let Some(moved) = held.gas_moved(hours)
        {
            return Ok(moved);
        }
        // Derivatives are carried over points, which a dough that warms itself has, be it by nothing.
        let own_heat = self.own_heat.unwrap_or(OwnHeat { kelvin_per_ml: 0.0 });
        let ferment = self.fermentation(p)?.with_own_heat(own_heat);
        let mut trail = Trajectory::new(&ferment, &ferment.start(), course);
        self.gas_moved_along(p, &mut trail, hours)
    }

    /// The same of a dough that is followed, with its own heat.
    fn gas_moved_along(
        &self,
        p: &Parameters,
        trail: &mut Trajectory<'_>,
        hours: f64,
    ) -> Result<GasMoved> {
        /// Half the step of the slope of the end point.
        const NEAR_K: f64 = 0.01;
        let t = trail.at(hours)?.temperature_c;
        let end = |t| self.end_gas(p, t);
        let end_per_k = (end(t + NEAR_K) - end(t - NEAR_K)) / (2.0 * NEAR_K);
        trail.gas_moved(hours, end_per_k)
    }
}

impl Isothermal<'_> {
    /// How sure it is that this stage, held, has come to its end point after `hours`; see [`Stage::uncertainty`].
    ///
    /// # Errors
    /// As there.
    pub fn uncertainty(
        &self,
        stage: &Stage,
        p: &Parameters,
        kind: Kind,
        hours: f64,
    ) -> Result<Option<TimeUncertainty>> {
        let moved = self.gas_moved(hours);
        let sure = moved.map(|moved| stage.uncertainty_of(p, kind, moved, None));
        sure.transpose()
    }
}

impl GasMoved {
    /// By how much the logarithm of the hours moves where the gas moves by so much.
    fn log_hours(&self, gas: f64) -> f64 {
        -gas / (self.per_hour * self.hours)
    }

    /// Where the end point is the gas that a recipe makes with the same parameters.
    fn beside(mut self, recipe: &Self) -> Self {
        let dose = Direction::Dose as usize;
        for (_, (gas, of_recipe)) in self
            .by
            .iter_mut()
            .zip(recipe.by)
            .enumerate()
            .filter(|(i, _)| *i != dose)
        {
            *gas -= of_recipe;
        }
        self
    }

    /// The same counted from an hour before.
    #[cfg(feature = "learn")]
    pub(crate) fn since(mut self, before: &Self) -> Self {
        // In the dead time nothing has moved yet.
        if before.end > 0.0 {
            for (gas, of_before) in self.by.iter_mut().zip(before.by) {
                *gas -= of_before;
            }
            self.end -= before.end;
        }
        self.hours -= before.hours;
        self
    }

    /// Slopes of the logarithm of the hours by a standard deviation of what a log can teach.
    pub(crate) fn slopes(&self, p: &Parameters, end: EndPoint) -> [f64; LEARNT] {
        let of = |kind| place(Uncertain::Level(kind));
        let levels = match end {
            // A kitchen's speed and where its baker ends the stage.
            EndPoint::Ripe(kind @ (Kind::Bulk | Kind::Proof)) => [of(kind), of(Kind::Dough)],
            EndPoint::Ripe(kind) => [of(kind), None],
            EndPoint::Doubled | EndPoint::Rise(_) => [of(Kind::Dough), None],
            EndPoint::Gas(_) => [None; 2],
        };
        let per_gas = self.log_hours(1.0);
        std::array::from_fn(|i| {
            let sd = p.spread_of(LEARNABLE[i]);
            let gas = match Direction::of(LEARNABLE[i]) {
                Some(direction) if sd > 0.0 => self.by[direction as usize],
                None if levels.contains(&Some(i)) => -self.end,
                _ => 0.0,
            };
            sd * per_gas * gas
        })
    }

    /// Variance of the logarithm of the hours, `J C J'`.
    fn variance(&self, p: &Parameters, end: EndPoint) -> f64 {
        p.correlations.of_learnt(self.slopes(p, end))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each parameter is moved alone, by its standard deviation: a logarithm, or the tilt itself.
    #[test]
    fn one_parameter_is_moved_at_a_time() {
        let mut p = Parameters::shipped().unwrap();
        p.kept = 0.6;
        let s = p.spread;
        let values = |p: &Parameters| {
            let (level, r) = (|kind| p.level(kind).gas, p.kinetics.rates());
            [
                level(Kind::Poolish),
                level(Kind::Biga),
                level(Kind::Sponge),
                level(Kind::Dough),
                p.kinetics.tilt().exp(),
                r.growth_rate,
                r.growth_cap,
                r.lag27_h,
                p.kept,
                p.hearth_ratio - 1.0,
                p.tin_ratio - 1.0,
            ]
        };
        let before = values(&p);
        for (which, first, last, sd) in [
            (
                Uncertain::Level(Kind::Poolish),
                0,
                0,
                p.level(Kind::Poolish).log_sd,
            ),
            (
                Uncertain::Level(Kind::Biga),
                1,
                1,
                p.level(Kind::Biga).log_sd,
            ),
            (
                Uncertain::Level(Kind::Sponge),
                2,
                2,
                p.level(Kind::Sponge).log_sd,
            ),
            (
                Uncertain::Level(Kind::Dough),
                3,
                3,
                p.level(Kind::Dough).log_sd,
            ),
            (
                Uncertain::Level(Kind::OldDough),
                3,
                3,
                p.level(Kind::Dough).log_sd,
            ),
            (Uncertain::Tilt, 4, 4, s.tilt),
            (Uncertain::GrowthRate, 5, 5, s.growth_rate),
            (Uncertain::GrowthCap, 6, 6, s.growth_cap),
            (Uncertain::Lag, 7, 7, s.lag),
            (Uncertain::Kept, 8, 8, s.kept),
            (Uncertain::ProofEnd, 9, 10, s.proof_rise),
        ] {
            assert!(sd > 0.0);
            for z in [-1.0, 0.5] {
                let after = values(&p.moved(which, z).unwrap());
                for (i, (a, b)) in after.iter().zip(before).enumerate() {
                    let by = if (first..=last).contains(&i) {
                        z * sd
                    } else {
                        0.0
                    };
                    assert!(((a / b).ln() - by).abs() < 1e-12, "{which:?} {i}");
                }
            }
        }
        // No more than all of the gas is kept.
        assert_eq!(p.moved(Uncertain::Kept, 100.0).unwrap().kept, 1.0);
    }

    use crate::ambient::Ambient;
    use crate::ferment::{Bend, Composition};
    use proptest::prelude::*;

    /// Directions with what a log can teach of them.
    fn directions() -> impl Iterator<Item = (Direction, Option<Uncertain>)> {
        let learnable = LEARNABLE
            .into_iter()
            .filter_map(|w| Some((Direction::of(w)?, Some(w))));
        std::iter::once((Direction::Dose, None)).chain(learnable)
    }

    /// Slope of the log hours by a standard deviation of what a log can teach, or by the log dose: a central difference
    /// of the dough that is followed.
    fn difference(
        stage: &Stage,
        p: &Parameters,
        course: &TemperatureProfile<'_>,
        which: Option<Uncertain>,
    ) -> Option<f64> {
        const STEP: f64 = 1e-3;
        let hours = |step: f64| {
            let (mut stage, mut p) = (*stage, p.clone());
            match which {
                Some(which) => p = p.moved(which, step).unwrap(),
                None => stage.yeast.added *= step.exp(),
            }
            Some(stage.ripe(&p, course).ok()?.hours)
        };
        Some((hours(STEP)? / hours(-STEP)?).ln() / (2.0 * STEP))
    }

    proptest! {
        /// Derivatives in one pass are those of central differences: of doughs held, in a room that changes, and warmed
        /// by themselves; with yeast added and carried in; to an end point with and without a temperature of its own.
        #[test]
        fn slopes_are_those_of_central_differences(
            log_added in -6.0..1.5_f64,
            carried in prop_oneof![Just(0.0), 0.01..1.0_f64],
            at in 5.0..35.0_f64,
            room in 5.0..35.0_f64,
            tau in 0.5..6.0_f64,
            way in 0..4_u8,
            salt in 0.0..2.5_f64,
            doubled in any::<bool>(),
            gas in 60.0..900.0_f64,
            tilt in -0.2..0.2_f64,
        ) {
            // Where the bend ends, at a tenth of its dose and at ten times it, a difference sees both of its slopes.
            let reach = ((log_added.exp() + carried) / 0.6).ln().abs();
            prop_assume!((reach - 10f64.ln()).abs() > 0.01);
            let mut p = Parameters::shipped().unwrap();
            let bend = Bend { dose_slope: tilt, dose_curve: 0.3 * tilt, temperature_curve: -tilt };
            p.spread.bend = [0.1; 3];
            p.kinetics = p.kinetics.with_tilt(tilt, p.spread.tilt_about).unwrap();
            p.kinetics = p.kinetics.with_bend(bend, p.spread.tilt_about).unwrap();
            let c = |t| Temperature::celsius(t).unwrap();
            let stage = Stage {
                composition: Composition::lean(62.0, salt),
                yeast: Inoculum { added: log_added.exp(), carried },
                // Where its place jumps a dough may double by the jump alone, whatever its parameters.
                end: if doubled && way != 1 { EndPoint::Doubled } else { EndPoint::Gas(gas) },
                own_heat: (way == 3).then(|| OwnHeat::new(50.0, 24_465.0, 0.165, 2.7).unwrap()),
            };
            let place = if way == 1 {
                Ambient::steps(&[(0.0, at), (3.0, room), (9.0, at)]).unwrap()
            } else {
                Ambient::constant(c(room)).unwrap()
            };
            let course = match way {
                0 => TemperatureProfile::held(c(at)),
                1 => TemperatureProfile::of_room(&place, 0.0),
                _ => TemperatureProfile::following(&place, 0.0, c(at), tau).unwrap(),
            };
            let Ok(ripe) = stage.ripe(&p, &course) else {
                return Ok(());
            };
            // Nor does a difference know on which side of the jump it is.
            let jumps = [3.0_f64, 9.0];
            prop_assume!(way != 1 || jumps.iter().all(|jump| (ripe.hours - jump).abs() > 0.02));
            let moved = stage.gas_moved(&p, &course, ripe.hours).unwrap();
            for (direction, which) in directions() {
                let sd = which.map_or(1.0, |which| p.spread_of(which));
                let slope = sd * moved.log_hours(moved.by[direction as usize]);
                if let Some(expected) = difference(&stage, &p, &course, which) {
                    // What a difference leaves out is of the order of the square of its step; the panels, cut anew for
                    // each neighbour, are good to 1e-7 of an hour, 1e-4 of a slope.
                    prop_assert!((slope - expected).abs() < 5e-4 * (1.0 + expected.abs()), "{direction:?}: {slope} {expected}");
                }
            }
        }
    }
}
