//! Fermentation: gas, growth, ripeness, dose.
