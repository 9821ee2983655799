//! How sure an answer is: a 10-90 % range from the parameters' standard deviations.
//!
//! Each uncertain parameter is moved up and down by one standard deviation, one at a time, and the
//! moves of the answer's logarithm are added in squares, with the correlations of what was learnt from a
//! log. Deterministic: the same input gives the same range. The shipped parameters are taken as
//! independent, which they are not quite; how many of the published rows a range really covers is counted
//! by the tests and told in the README.

use super::{EndPoint, Kind, Level, Parameters, Rates};
use crate::error::Result;
use crate::numeric::NORMAL_90;

/// A parameter that is not known exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Uncertain {
    /// The gas at the end point of a kind.
    Level(Kind),
    /// The baker's own recipe, read as an end point; see [`range_on_own_recipe`].
    OwnRecipe,
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
            Uncertain::Level(Kind::Poolish) => p.levels.poolish = level(p.levels.poolish),
            Uncertain::Level(Kind::Biga) => p.levels.biga = level(p.levels.biga),
            Uncertain::Level(Kind::Sponge) => p.levels.sponge = level(p.levels.sponge),
            Uncertain::Level(Kind::OldDough | Kind::Dough) => {
                p.levels.doubled = level(p.levels.doubled);
            }
            Uncertain::OwnRecipe => {}
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

/// The 10-90 % range of a positive answer that rests on an end point. `answer` is asked with the
/// parameters moved; where one side has no answer (never ripe), the other side's move is taken for both.
/// `None` when neither has one.
///
/// ```
/// use pointage::ferment::{EndPoint, Kind, Parameters, range};
/// let p = Parameters::shipped()?;
/// // The end point itself, as an "answer": its range is that of its log-sd.
/// let ripe = EndPoint::Ripe(Kind::Poolish);
/// let (low, high) = range(&p, ripe, |p| Ok(p.gas_at(ripe)))?.unwrap();
/// let level = p.levels.poolish;
/// assert!((high / level.gas - (1.2816 * level.log_sd).exp()).abs() < 1e-3);
/// assert!((low * high / level.gas.powi(2) - 1.0).abs() < 1e-9);
/// # Ok::<(), pointage::Error>(())
/// ```
///
/// # Errors
/// When the answer itself, with no parameter moved, cannot be had.
pub fn range(
    p: &Parameters,
    end: EndPoint,
    answer: impl Fn(&Parameters) -> Result<f64>,
) -> Result<Option<(f64, f64)>> {
    use Uncertain::{GrowthCap, GrowthRate, Lag, Level, Tilt};
    let rest = [Tilt, GrowthRate, GrowthCap, Lag];
    let level = match end {
        EndPoint::Ripe(kind) => Some(Level(kind)),
        EndPoint::Doubled => Some(Level(Kind::Dough)),
        EndPoint::Gas(_) => None,
    };
    let uncertain: Vec<Uncertain> = level.into_iter().chain(rest).collect();
    spread(p, &uncertain, |p, _| answer(p))
}

/// Like [`range`], for an answer that rests on a baker's own recipe: the published end points do not
/// enter; instead `answer` gets the factor on the recipe's end point.
///
/// # Errors
/// As for [`range`].
pub fn range_on_own_recipe(
    p: &Parameters,
    answer: impl Fn(&Parameters, f64) -> Result<f64>,
) -> Result<Option<(f64, f64)>> {
    use Uncertain::{GrowthCap, GrowthRate, Lag, OwnRecipe, Tilt};
    spread(p, &[OwnRecipe, Tilt, GrowthRate, GrowthCap, Lag], answer)
}

fn spread(
    p: &Parameters,
    uncertain: &[Uncertain],
    answer: impl Fn(&Parameters, f64) -> Result<f64>,
) -> Result<Option<(f64, f64)>> {
    let middle = answer(p, 1.0)?.ln();
    let mut moves = Vec::with_capacity(uncertain.len());
    for &which in uncertain {
        let side = |z: f64| {
            let factor = if which == Uncertain::OwnRecipe {
                (z * p.spread.own_recipe).exp()
            } else {
                1.0
            };
            p.moved(which, z)
                .and_then(|p| answer(&p, factor))
                .ok()
                .map(|a| (a.ln() - middle) * z.signum())
        };
        let moved = match (side(1.0), side(-1.0)) {
            (Some(a), Some(b)) => 0.5 * (a + b),
            (Some(a), None) | (None, Some(a)) => a,
            (None, None) => return Ok(None),
        };
        moves.push((which, moved));
    }
    let width = NORMAL_90 * p.correlations.variance(&moves).sqrt();
    Ok(Some(((middle - width).exp(), (middle + width).exp())))
}
