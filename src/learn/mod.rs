//! Learning from what was measured: rate laws, mixer heat, and a baker's own log.
//!
//! * [`engine`]: nonlinear and linear least squares with standard errors, on plain slices.

pub mod engine;

mod random;
