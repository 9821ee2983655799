//! Fermentation: gas, growth, ripeness, dose.
//!
//! Per 100 g of flour, `X` g of fresh yeast make `G` mL of CO2:
//!
//! ```text
//! dX/dt = mu f_growth(T) s_growth X (1 - (X - X0)/D)     once the lag is over
//! dG/dt = q30 f_gas(T)/f_gas(30) s_gas X s/(s + K)       s: sugar left
//! dH/dt = retention(V) dG/dt                             H: gas still in the dough
//! ```
//!
//! * [`Kinetics`]: the two temperature curves and the rates; [`Medium`]: salt and sugar.
//! * [`Fermentation`] follows yeast, gas and heat along a [`TemperatureProfile`](crate::ambient::TemperatureProfile).
//! * [`Stage::ready`]: when is it ripe, and the window; [`Stage::dose_for`]: the inverse.
//! * [`Parameters`]: every number, from the tables; [`TimeUncertainty`]: how sure an answer is.
//! * [`equivalent_hours`]: the plain integral of one rate law.

mod correlations;
pub(crate) mod dose;
mod extrapolation;
mod kind;
mod kinetics;
mod medium;
mod parameters;
mod range;
mod ripening;
mod simulate;
mod thermal_time;
mod volume;

pub use correlations::Correlations;
pub(crate) use correlations::LEARNABLE;
#[cfg(feature = "learn")]
pub(crate) use correlations::{LEARNT, LEARNT_NAMES};
pub use dose::end_point_from_recipe;
pub use extrapolation::{Extrapolation, Support, beyond_published};
pub use kind::{EndPoint, Kind, parse_rise};
pub(crate) use kinetics::MOST_GAS_RATE;
pub use kinetics::{Bend, Kinetics, Rates};
pub use medium::{Composition, Medium, MediumEffects};
pub use parameters::{Level, Parameters, Spread, Window};
pub use range::{TimeUncertainty, Uncertain};
pub use ripening::{Ready, Stage};
pub(crate) use simulate::Trajectory;
pub use simulate::{Fermentation, Inoculum, Isothermal, LONGEST_H, Measurement, OwnHeat, State};
pub use thermal_time::{equivalent_hours, time_to_equivalent};
pub use volume::{GasSpace, Volume};
