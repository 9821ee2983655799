//! Learning from what was measured: rate laws, mixer heat, and a baker's own log.
//!
//! * [`engine`]: nonlinear and linear least squares with standard errors, on plain slices.
//! * [`rate_fit`]: temperature laws fitted to measured speeds.

pub mod engine;

pub mod rate_fit;

mod random;
