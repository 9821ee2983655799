//! The program, run as its users run it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod batch;
mod class_bake;
mod cli;
mod cli_learn;
mod cli_plan;
mod cli_vs_json;
mod documents;
mod durability;
mod golden;
mod help;
mod invalid_input;
mod outputs;
mod program;
mod random;
