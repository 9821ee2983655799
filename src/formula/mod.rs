//! Percentages and masses.
