//! The sentences of what learning found, one for each code.

use super::{Diagnostic, Together};
use crate::learn::Termination;
use crate::learn::fit::diagnostics::{GROWTH_NAME, NOT_APART, TILT_NAME};
use crate::learn::friction::FrictionDiagnostic;

/// Why a fit ended.
#[must_use]
pub fn stop(stop: Termination) -> &'static str {
    match stop {
        Termination::Converged => "settled at the least sum of squares",
        Termination::OutOfSteps => "stopped before it settled: the values are the best so far",
        Termination::NotANumber => {
            "the model gives no number at the start: the values are the start"
        }
    }
}

fn parameter(name: &str) -> &'static str {
    match name {
        "poolish_ml_per_100g" => "the end point of the poolish",
        "biga_ml_per_100g" => "the end point of the biga",
        "sponge_ml_per_100g" => "the end point of the sponge",
        "dough_ml_per_100g" => "the end point of the dough",
        TILT_NAME => "the temperature slope",
        _ => "the growth rate",
    }
}

/// Two parameters that go together in a log.
#[must_use]
pub fn together(pair: &Together) -> String {
    let how = if pair.correlation.abs() >= NOT_APART {
        "cannot be told apart"
    } else {
        "are only partly told apart"
    };
    let trade = if pair.correlation > 0.0 {
        "a higher"
    } else {
        "a lower"
    };
    format!(
        "{} and {} {how}: with {trade} value of the one, a higher value of the other explains the same rows",
        parameter(pair.a),
        parameter(pair.b)
    )
}

/// What a log cannot tell, or what is odd about it.
#[must_use]
pub fn diagnostic(found: &Diagnostic) -> String {
    match found {
        Diagnostic::NoRipeRow => "no row tells when a dough was ready, only that it was not yet or already past: the scatter is the usual one, and the parameters have one-sided evidence; log the moment it is ripe or doubled".into(),
        Diagnostic::SingleRow => "one row moves the end point a little and cannot be checked against another; log a second bake".into(),
        Diagnostic::OneTemperature { about_c } => format!("all rows are at about one temperature ({about_c:.0} °C): they tell little or nothing of the temperature slope; log a bake 5 K colder or warmer"),
        Diagnostic::OneDose { kind } => format!("every {kind} has about the same dose: they tell little or nothing of how growth changes the time; log one with half or twice the yeast"),
        Diagnostic::NotInformed { parameter: name } => {
            let what = match *name {
                TILT_NAME => "a bake at another temperature",
                GROWTH_NAME => "a bake with much less yeast",
                _ => "a bake of that kind seen ripe",
            };
            format!("this log says nothing about {}: it keeps the value and the error of the table; log {what}", parameter(name))
        }
        Diagnostic::AtLimit { parameter: name } => format!("{} was pushed as far from the table as it may go: nothing has an error here, and forecasts have no range; check the units and the readings of the log", parameter(name)),
        Diagnostic::MovedFar { parameter: name, deviations } => format!("{} moved {deviations:.1} standard deviations from the table; check the yeast's kind and the temperatures before trusting it", parameter(name)),
        Diagnostic::NotSettled => "the fit did not settle: these rows pull the numbers to where such a dough is hardly ever ready; nothing has an error, and forecasts have no range; check the units and the readings of the log".into(),
        Diagnostic::FileKeepsPrior => "a file of these numbers (--out) leaves out what has no error: it keeps what was before".into(),
        Diagnostic::NothingToLearn => "every number that this log concerns is given as exact: nothing is left to learn".into(),
        Diagnostic::Exact { parameter: name } => format!("{} is given as exact and not learned", parameter(name)),
        Diagnostic::Contradiction { lines: [a, b], kind, hours: [first, second] } => format!("lines {a} and {b} contradict each other: the same {kind} at {first:.1} h and at {second:.1} h"),
        Diagnostic::OddRows { lines, robust_helps } => {
            let numbers: Vec<String> = lines.iter().map(u64::to_string).collect();
            let which = match numbers.as_slice() {
                [one] => format!("the row in line {one} does not fit the others; check it"),
                _ => format!("the rows in lines {} do not fit the others; check them", numbers.join(", ")),
            };
            which + if *robust_helps { ", or learn with the robust loss" } else { "" }
        }
        Diagnostic::LargeScatter { scatter } => format!("single times scatter by {:.0} %, twice the usual or more: the rows contradict each other, or something that is not logged changes from bake to bake", 100.0 * scatter),
    }
}

/// What a log of mixes cannot tell.
#[must_use]
pub fn friction(found: &FrictionDiagnostic) -> String {
    let plural = |n: usize| if n == 1 { "" } else { "s" };
    match found {
        FrictionDiagnostic::NeverUsed { heat } => {
            format!("{heat} was never used in this log, so nothing is known of its heat")
        }
        FrictionDiagnostic::MoveTogether {
            heats: [a, b],
            always,
        } => {
            let (how, told) = if *always {
                ("always", "so it tells what they add up to and not each")
            } else {
                ("nearly always", "so it hardly tells one from the other")
            };
            format!(
                "{a} and {b} {how} move together in this log, {told}; log a few mixes with more of one and less of the other"
            )
        }
        FrictionDiagnostic::NoFreedom { mixes, heats } => format!(
            "{mixes} mix{} for {heats} heat{} leave nothing to judge the errors by; log more mixes with other minutes",
            if *mixes == 1 { "" } else { "es" },
            plural(*heats)
        ),
        FrictionDiagnostic::NegativeHeat { heat } => format!(
            "the heat of {heat} is negative; check the readings, and that the bowl is counted if it is cold"
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_has_its_numbers_and_its_remedy() {
        for (found, sentence) in [
            (
                Diagnostic::NotInformed {
                    parameter: "poolish_ml_per_100g",
                },
                "this log says nothing about the end point of the poolish: it keeps the value and the error of the table; log a bake of that kind seen ripe",
            ),
            (
                Diagnostic::NotInformed {
                    parameter: TILT_NAME,
                },
                "this log says nothing about the temperature slope: it keeps the value and the error of the table; log a bake at another temperature",
            ),
            (
                Diagnostic::NotInformed {
                    parameter: GROWTH_NAME,
                },
                "this log says nothing about the growth rate: it keeps the value and the error of the table; log a bake with much less yeast",
            ),
            (
                Diagnostic::Exact {
                    parameter: "biga_ml_per_100g",
                },
                "the end point of the biga is given as exact and not learned",
            ),
            (
                Diagnostic::Contradiction {
                    lines: [2, 3],
                    kind: crate::ferment::Kind::Poolish,
                    hours: [12.0, 6.0],
                },
                "lines 2 and 3 contradict each other: the same poolish at 12.0 h and at 6.0 h",
            ),
            (
                Diagnostic::OddRows {
                    lines: vec![3],
                    robust_helps: false,
                },
                "the row in line 3 does not fit the others; check it",
            ),
            (
                Diagnostic::OddRows {
                    lines: vec![3, 7],
                    robust_helps: true,
                },
                "the rows in lines 3, 7 do not fit the others; check them, or learn with the robust loss",
            ),
        ] {
            assert_eq!(diagnostic(&found), sentence);
        }
    }
}
