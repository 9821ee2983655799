//! Requests and answers, of every kind and damaged in every way.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod call;
mod columns;
#[cfg(feature = "learn")]
mod corpus;
mod embed;
mod fuzz;
mod guide;
mod properties;
mod schema;
mod wording;
