//! Fermentation: gas, growth, ripeness, dose.

mod kinetics;
mod medium;
mod run;
mod thermal;
mod volume;

pub use kinetics::{GasCurve, Kinetics, Rates};
pub use medium::{Composition, Effects, Medium};
pub use run::{Fermentation, Inoculum, LONGEST_H, OwnHeat, State};
pub use thermal::{equivalent_hours, time_to_equivalent};
pub use volume::{GasSpace, Volume};
