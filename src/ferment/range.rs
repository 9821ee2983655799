//! How sure an answer is: a 10-90 % range from the parameters' standard deviations.
//!
//! Each uncertain parameter is moved up and down by one standard deviation, one at a time, and the
//! moves of the answer's logarithm are added in squares. Deterministic: the same input gives the same
//! range. The parameters are taken as independent, which they are not quite; how many of the published
//! rows a range really covers is counted by the tests and told in the README.

use super::{Level, Parameters, Rates};
use crate::error::Result;
use crate::numeric::NORMAL_90;
use std::sync::OnceLock;

/// A parameter that is not known exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Uncertain {
    /// The end points of preferments.
    Ripeness,
    /// The end point of a bulk.
    Doubling,
    /// The tilt of the gas curve.
    Tilt,
    /// The growth rate.
    GrowthRate,
    /// The growth cap.
    GrowthCap,
    /// The lag.
    Lag,
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
        let rates = self.kinetics.rates();
        let spread = self.spread;
        let level = |l: Level| Level {
            gas: l.gas * (z * l.log_sd).exp(),
            ..l
        };
        let mut p = self.clone();
        match which {
            Uncertain::Ripeness => {
                p.levels.poolish = level(p.levels.poolish);
                p.levels.biga = level(p.levels.biga);
                p.levels.sponge = level(p.levels.sponge);
            }
            Uncertain::Doubling => p.levels.doubled = level(p.levels.doubled),
            Uncertain::Tilt => {
                let tilt = p.kinetics.gas().tilt() + z * spread.tilt;
                p.kinetics = p.kinetics.with_tilt(tilt, spread.tilt_about)?;
            }
            Uncertain::GrowthRate => {
                let growth_rate = rates.growth_rate * (z * spread.growth_rate).exp();
                p.kinetics = p.kinetics.with_rates(Rates {
                    growth_rate,
                    ..rates
                })?;
            }
            Uncertain::GrowthCap => {
                let growth_cap = rates.growth_cap * (z * spread.growth_cap).exp();
                p.kinetics = p.kinetics.with_rates(Rates {
                    growth_cap,
                    ..rates
                })?;
            }
            Uncertain::Kept => p.proof.kept = (p.proof.kept * (z * spread.kept).exp()).min(1.0),
            Uncertain::ProofEnd => {
                // What is uncertain is how far the piece may rise, so the rise itself is moved.
                let moved = |ratio: f64| 1.0 + (ratio - 1.0) * (z * spread.proof_rise).exp();
                p.proof.hearth_ratio = moved(p.proof.hearth_ratio);
                p.proof.tin_ratio = moved(p.proof.tin_ratio);
            }
            Uncertain::Lag => {
                let lag27_h = rates.lag27_h * (z * spread.lag).exp();
                p.kinetics = p.kinetics.with_rates(Rates { lag27_h, ..rates })?;
            }
        }
        Ok(p)
    }
}

/// Parameters with their neighbours: each uncertain one moved up and down by one standard deviation.
///
/// Whoever asks for many ranges makes it once; [`range`](fn@range) makes it for one.
///
/// ```
/// use pointage::ferment::Neighbourhood;
/// let near = Neighbourhood::shipped()?;
/// // The end point itself, as an "answer": its range is that of its log-sd.
/// let (low, high) = near.range(|p| Ok(p.levels.poolish.gas))?.unwrap();
/// let level = near.middle().levels.poolish;
/// assert!((high / level.gas - (1.2816 * level.log_sd).exp()).abs() < 1e-3);
/// assert!((low * high / level.gas.powi(2) - 1.0).abs() < 1e-9);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Neighbourhood {
    middle: Parameters,
    /// One up, one down, in the order of [`MOVED`]; `None` where the parameter would leave its range.
    moved: [[Option<Parameters>; 2]; MOVED.len()],
}

/// What an answer rests on.
const MOVED: [Uncertain; 6] = [
    Uncertain::Ripeness,
    Uncertain::Doubling,
    Uncertain::Tilt,
    Uncertain::GrowthRate,
    Uncertain::GrowthCap,
    Uncertain::Lag,
];
/// The first of them are the published end points.
const END_POINTS: usize = 2;

impl Neighbourhood {
    /// The neighbours of these parameters.
    #[must_use]
    pub fn new(middle: Parameters) -> Self {
        Self {
            moved: MOVED.map(|which| [1.0, -1.0].map(|z| middle.moved(which, z).ok())),
            middle,
        }
    }

    /// Those of the shipped parameters.
    ///
    /// # Errors
    /// Only if an embedded table were damaged.
    pub fn shipped() -> Result<&'static Self> {
        static SHIPPED: OnceLock<Result<Neighbourhood>> = OnceLock::new();
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

    /// The 10-90 % range of a positive answer. `answer` is asked with the parameters moved; where one side
    /// has no answer (an error, or no finite number: never ripe), the other side's move is taken for both.
    /// `None` when neither has one.
    ///
    /// # Errors
    /// When the answer itself, with no parameter moved, cannot be had.
    pub fn range(&self, answer: impl Fn(&Parameters) -> Result<f64>) -> Result<Option<(f64, f64)>> {
        let middle = answer(&self.middle)?;
        let moves = self.moved.iter().map(|sides| {
            sides
                .each_ref()
                .map(|p| p.as_ref().and_then(|p| answer(p).ok()))
        });
        Ok(spread(middle, moves))
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
        let moves = self.moved[END_POINTS..].iter().map(|sides| {
            sides
                .each_ref()
                .map(|p| p.as_ref().and_then(|p| answer(p, 1.0).ok()))
        });
        Ok(spread(middle, std::iter::once(recipe).chain(moves)))
    }
}

/// The range about an answer from those with each parameter moved up and down.
fn spread(middle: f64, moves: impl Iterator<Item = [Option<f64>; 2]>) -> Option<(f64, f64)> {
    let mut variance = 0.0;
    for sides in moves {
        let [up, down] = sides.map(|a| a.filter(|a| a.is_finite()));
        let moved = match (up, down) {
            (Some(up), Some(down)) => 0.5 * (up / down).ln(),
            (Some(up), None) => (up / middle).ln(),
            (None, Some(down)) => (middle / down).ln(),
            (None, None) => return None,
        };
        variance += moved * moved;
    }
    let factor = (NORMAL_90 * variance.sqrt()).exp();
    Some((middle / factor, middle * factor))
}

/// The range of one answer; see [`Neighbourhood::range`].
///
/// # Errors
/// When the answer itself, with no parameter moved, cannot be had.
pub fn range(
    p: &Parameters,
    answer: impl Fn(&Parameters) -> Result<f64>,
) -> Result<Option<(f64, f64)>> {
    Neighbourhood::new(p.clone()).range(answer)
}
