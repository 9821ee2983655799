//! Published numbers with their origin, embedded in the crate.
