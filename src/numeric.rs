//! Small numerical tools; knows `f64` only.
