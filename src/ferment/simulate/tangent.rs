//! How a dough moves with the numbers of the model: derivatives of its state, carried along the panels of a dough that
//! has been followed, in one pass.

use crate::ferment::correlations::LEARNABLE;
use crate::ferment::{Parameters, Uncertain};

/// What a dough is moved by: the logarithm of its dose of added yeast or of a number of the model, or the number itself
/// where it may be 0 or below.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Direction {
    Dose,
    Tilt,
    GrowthRate,
    GrowthCap,
    Lag,
    DoseSlope,
    DoseCurve,
    TemperatureCurve,
}

impl Direction {
    pub const COUNT: usize = 8;

    /// The dose, and what is uncertain of these parameters.
    pub fn uncertain(p: &Parameters) -> Vec<Self> {
        let is_uncertain = LEARNABLE.into_iter().filter(|w| p.spread_of(*w) > 0.0);
        std::iter::once(Self::Dose)
            .chain(is_uncertain.filter_map(Self::of))
            .collect()
    }

    /// That of an uncertain parameter, where it moves how a dough goes and not where it ends.
    pub fn of(which: Uncertain) -> Option<Self> {
        match which {
            Uncertain::Tilt => Some(Self::Tilt),
            Uncertain::GrowthRate => Some(Self::GrowthRate),
            Uncertain::GrowthCap => Some(Self::GrowthCap),
            Uncertain::Lag => Some(Self::Lag),
            Uncertain::DoseSlope => Some(Self::DoseSlope),
            Uncertain::DoseCurve => Some(Self::DoseCurve),
            Uncertain::TemperatureCurve => Some(Self::TemperatureCurve),
            Uncertain::Level(_) | Uncertain::Kept | Uncertain::ProofEnd => None,
        }
    }
}

/// The derivative of a [`State`](super::State) in a direction.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Moved {
    pub growing: f64,
    pub yeast: f64,
    pub potential: f64,
    pub lag_hours: f64,
    pub excess_k: f64,
}

/// How the gas made after some hours moves, less what the end point asks for.
#[derive(Debug, Clone, Copy)]
pub(crate) struct GasMoved {
    /// By each direction.
    pub by: [f64; Direction::COUNT],
    /// By an hour.
    pub per_hour: f64,
    /// The gas of the end point.
    pub end: f64,
    pub hours: f64,
    /// The mean temperature of these hours.
    pub mean_c: f64,
}
