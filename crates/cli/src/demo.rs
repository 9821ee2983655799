//! The demo bakes that travel in the program.

/// The bake that is planned when no file is named.
pub const MARKET: &str = pointage::plan::bake::DEMO;
/// When its first load is out.
pub const FIRST_OUT: &str = "09:00";
