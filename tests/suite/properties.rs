//! What must hold of any input: inverses, monotone answers, invariances, and refusals that never panic.
//! More of them stand beside the code that they hold to.

mod body;
#[cfg(feature = "learn")]
mod fits;
#[cfg(feature = "learn")]
mod learn;
mod loss;
mod plan;
mod room;
mod thermal;
mod units;

use pointage::Error;
use pointage::units::Temperature;
use proptest::prelude::*;

/// So many random inputs a property.
fn cases(count: u32) -> ProptestConfig {
    let config = ProptestConfig::with_cases(count);
    // Where a property fails, a smaller input is looked for, but not for hours.
    ProptestConfig {
        max_shrink_iters: 200,
        ..config
    }
}

fn c(celsius: f64) -> Temperature {
    Temperature::celsius(celsius).unwrap()
}

/// `a` is `b` up to `share` of the larger one.
fn close(a: f64, b: f64, share: f64) -> bool {
    (a - b).abs() <= share * a.abs().max(b.abs())
}

/// A refusal is one line that says something.
fn is_one_line(error: &Error) -> bool {
    let text = error.to_string();
    !text.trim().is_empty() && !text.chars().any(char::is_control)
}
