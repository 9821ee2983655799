//! Learning from what was measured: rate laws, mixer heat, and a baker's own log.
//!
//! * [`log`]: a baker's log; [`fit`]: what it teaches.
//! * [`friction`](mod@friction): the heat of a mixer, from a log of mixes.
//! * [`rate_fit`]: temperature laws fitted to measured speeds.

mod csv_log;
mod engine;
pub mod fit;
pub mod friction;
pub mod log;

pub mod published;
pub mod rate_fit;

mod random;

pub use csv_log::Refused;
pub use engine::{Estimate, Identifiability, Report, Termination};
