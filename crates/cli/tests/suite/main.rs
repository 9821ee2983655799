//! The program, run as its users run it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod bad;
mod batch;
mod cli;
mod cli_learn;
mod cli_plan;
mod golden;
mod outputs;
mod program;
mod readme;
mod same_answer;
