//! How a dough moves with its dose and the numbers of the model.

use crate::ferment::Uncertain;

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
    pub const ALL: [Self; 8] = [
        Self::Dose,
        Self::Tilt,
        Self::GrowthRate,
        Self::GrowthCap,
        Self::Lag,
        Self::DoseSlope,
        Self::DoseCurve,
        Self::TemperatureCurve,
    ];
    pub const COUNT: usize = Self::ALL.len();

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
