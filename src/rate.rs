//! Speed of yeast against temperature.
