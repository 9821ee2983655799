//! Learning from what was measured: rate laws, mixer heat, and a baker's own log.
//!
//! * [`engine`]: nonlinear and linear least squares with standard errors, on plain slices.
//! * [`log`]: a baker's log; [`fit`]: what it teaches.
//! * [`friction`](mod@friction): the heat of a mixer, from a log of mixes.
//! * [`rate_fit`]: temperature laws fitted to measured speeds.

pub mod engine;
pub mod fit;
pub mod friction;
pub mod log;

pub mod rate_fit;

mod normal;
mod random;
mod sheet;

pub use sheet::Refused;
