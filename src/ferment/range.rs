//! How sure an answer is: a 10-90 % range from the parameters' standard deviations.
//!
//! Each uncertain parameter is moved up and down by one standard deviation, one at a time, and the
//! moves of the answer's logarithm are added in squares, with the correlations of what was learnt from a
//! log. Deterministic: the same input gives the same range. The shipped parameters are taken as
//! independent, which they are not quite; how many of the published rows a range really covers is counted
//! by the tests and told in the README.

use super::correlations::{LEARNABLE, LEARNT, place};
use super::{EndPoint, Kind, Parameters};
use crate::error::Result;
use crate::numeric::NORMAL_90;
use std::sync::OnceLock;

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

/// Parameters with their neighbours: each uncertain one moved up and down by one standard deviation.
///
/// ```
/// use pointage::ferment::{EndPoint, Kind, Perturbations};
/// let near = Perturbations::shipped()?;
/// // The end point itself, as an "answer": its range is that of its log-sd, and the scatter of a single time.
/// let ripe = EndPoint::Ripe(Kind::Poolish);
/// let (low, high) = near.range(ripe, |p| Ok(p.level(Kind::Poolish).gas))?.unwrap();
/// let level = near.middle().level(Kind::Poolish);
/// let sd = level.log_sd.hypot(near.middle().spread.day);
/// assert!((high / level.gas - (1.2816 * sd).exp()).abs() < 1e-3);
/// assert!((low * high / level.gas.powi(2) - 1.0).abs() < 1e-9);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Perturbations {
    middle: Parameters,
    /// One up, one down, in the order of what a log can teach; `None` where the parameter would leave its range.
    moved: [[Option<Parameters>; 2]; LEARNT],
}

/// How many published end points come first in [`LEARNABLE`].
const END_POINTS: usize = 4;

impl Perturbations {
    /// The neighbours of these parameters.
    #[must_use]
    pub fn new(middle: Parameters) -> Self {
        Self {
            moved: LEARNABLE.map(|which| [1.0, -1.0].map(|z| middle.moved(which, z).ok())),
            middle,
        }
    }

    /// Those of the shipped parameters.
    ///
    /// # Errors
    /// Only if an embedded table were damaged.
    pub fn shipped() -> Result<&'static Self> {
        static SHIPPED: OnceLock<Result<Perturbations>> = OnceLock::new();
        SHIPPED
            .get_or_init(|| Parameters::shipped().map(Self::new))
            .as_ref()
            .map_err(Clone::clone)
    }

    /// The parameters themselves.
    #[must_use]
    pub fn middle(&self) -> &Parameters {
        &self.middle
    }

    /// The 10-90 % range of a positive answer that rests on an end point. `answer` is asked with the
    /// parameters moved; where one side has no answer (an error, or no finite number: never ripe), the
    /// other side's move is taken for both. `None` when neither has one.
    ///
    /// # Errors
    /// When the answer itself, with no parameter moved, cannot be had.
    pub fn range(
        &self,
        end: EndPoint,
        answer: impl Fn(&Parameters) -> Result<f64>,
    ) -> Result<Option<(f64, f64)>> {
        let middle = answer(&self.middle)?;
        Ok(self.range_about(middle, end, |p| answer(p).ok()))
    }

    /// [`range`](Self::range) for whoever has the answer with no parameter moved.
    pub fn range_about(
        &self,
        middle: f64,
        end: EndPoint,
        answer: impl Fn(&Parameters) -> Option<f64>,
    ) -> Option<(f64, f64)> {
        let level = match end {
            EndPoint::Ripe(kind) => place(Uncertain::Level(kind)),
            EndPoint::Doubled | EndPoint::Rise(_) => place(Uncertain::Level(Kind::Dough)),
            EndPoint::Gas(_) => None,
        };
        let parameters = level.into_iter().chain(END_POINTS..LEARNT);
        let day = self.middle.spread.day;
        self.spread(middle, day * day, parameters, &answer)
    }

    /// Like [`range`](Self::range), for an answer that rests on a baker's own recipe: the published end
    /// points do not enter; instead `answer` gets the factor on the recipe's end point.
    ///
    /// # Errors
    /// As for [`range`](Self::range).
    pub fn range_on_own_recipe(
        &self,
        answer: impl Fn(&Parameters, f64) -> Result<f64>,
    ) -> Result<Option<(f64, f64)>> {
        let p = &self.middle;
        let middle = answer(p, 1.0)?;
        let recipe = [1.0, -1.0].map(|z: f64| answer(p, (z * p.spread.own_recipe).exp()).ok());
        let Some(alone) = half_move(middle, recipe) else {
            return Ok(None);
        };
        let answer = |p: &Parameters| answer(p, 1.0).ok();
        Ok(self.spread(middle, alone * alone, END_POINTS..LEARNT, &answer))
    }

    /// The range of an answer that moves with some of the what a log can teach, and with what goes with nothing by that variance.
    fn spread(
        &self,
        middle: f64,
        alone: f64,
        parameters: impl Iterator<Item = usize>,
        answer: &impl Fn(&Parameters) -> Option<f64>,
    ) -> Option<(f64, f64)> {
        let mut moves = LEARNABLE.map(|which| (which, 0.0));
        let is_uncertain = |i: &usize| self.middle.spread_of(LEARNABLE[*i]) > 0.0;
        for i in parameters.filter(is_uncertain) {
            let of = |p: &Option<Parameters>| p.as_ref().and_then(answer);
            moves[i].1 = half_move(middle, self.moved[i].each_ref().map(of))?;
        }
        let variance = alone + self.middle.correlations.variance(&moves);
        let factor = (NORMAL_90 * variance.sqrt()).exp();
        Some((middle / factor, middle * factor))
    }
}

/// How far the logarithm of an answer moves with one standard deviation: half the way from side to side, or the way
/// to the one side that has an answer.
fn half_move(middle: f64, sides: [Option<f64>; 2]) -> Option<f64> {
    match sides.map(|a| a.filter(|a| a.is_finite())) {
        [Some(up), Some(down)] => Some(0.5 * (up / down).ln()),
        [Some(up), None] => Some((up / middle).ln()),
        [None, Some(down)] => Some((middle / down).ln()),
        [None, None] => None,
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

    /// A move is half the way from side to side, or the way to the one side that has an answer.
    #[test]
    fn a_side_without_an_answer_is_made_up_for_by_the_other() {
        let log = |x: f64| Some(x.ln());
        let close = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => (a - b).abs() < 1e-12,
            (a, b) => a == b,
        };
        let of = |sides| half_move(2.0, sides);
        assert!(close(of([Some(4.0), Some(1.0)]), log(2.0)));
        assert!(close(of([Some(5.0), None]), log(2.5)));
        assert!(close(of([None, Some(0.5)]), log(4.0)));
        assert!(close(of([Some(f64::INFINITY), Some(0.5)]), log(4.0)));
        assert!(close(of([None, None]), None));
    }

    /// `answer · exp(±1.2816 sqrt(sum of squares))`, what goes with nothing included.
    #[test]
    fn moves_add_in_squares() {
        let p = Parameters::shipped().unwrap();
        let near = Perturbations::new(p.clone());
        let (rate, lag) = (p.kinetics.rates().growth_rate, p.kinetics.rates().lag27_h);
        // An answer whose logarithm moves by 0.3 with the growth rate and by -0.4 with the lag.
        let answer = |p: &Parameters| {
            let rates = p.kinetics.rates();
            let by = 0.3 * (rates.growth_rate / rate).ln() / p.spread.growth_rate
                - 0.4 * (rates.lag27_h / lag).ln() / p.spread.lag;
            Some(10.0 * by.exp())
        };
        let (low, high) = near
            .spread(10.0, 1.44, END_POINTS..LEARNT, &answer)
            .unwrap();
        assert!((high / 10.0 - (1.281_55 * 1.3_f64).exp()).abs() < 1e-3);
        assert!((low * high / 100.0 - 1.0).abs() < 1e-12);
        assert_eq!(near.spread(10.0, 0.0, 0..1, &|_| None), None);
    }
}
