//! The day: stages, clock times and oven loads.

pub mod bake;
