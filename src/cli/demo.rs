//! The demo bakes that travel in the program.

/// The bake that is planned when no file is named.
pub const MARKET: &str = include_str!("../../data/demo/market-poolish.toml");
/// When its first load is out.
pub const FIRST_OUT: &str = "09:00";
