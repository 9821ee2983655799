//! Every sentence that a person reads, by what it says: one `match` for each kind of finding.

use crate::steps::{Action, Loads, Look, Slurry};
use pointage::error::shown;
use serde::Serialize;
use std::fmt;

/// Chance of over-proofing from which on it is said: below, it is much the same for every load.
const WORTH_A_WORD: f64 = 0.35;

/// A text for people: it can be shown and serialised, and no code can read it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Message(String);

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// What can be said.
pub trait Sentence {
    /// It in words.
    fn sentence(&self) -> Message;
}

impl Sentence for Action {
    fn sentence(&self) -> Message {
        Message(match self {
            Self::MixPreferment { preferment } => format!("Mix the {preferment}"),
            Self::Autolyse { min } => format!("Autolyse {min:.0} min"),
            Self::Mix { min } => format!("Mix the dough {min:.0} min"),
            Self::DoughIntoCold => "Dough into the cold".into(),
            Self::DoughOutOfCold => "Dough out of the cold".into(),
            Self::Fold { of: 1, .. } => "Fold".into(),
            Self::Fold { number, of } => format!("Fold {number} of {of}"),
            Self::Divide { loads } => format!("Divide and pre-shape{}", loads.unless_all()),
            Self::BenchRest { min } => format!("Bench rest {min:.0} min"),
            Self::Shape { loads } => format!("Shape{}", loads.unless_all()),
            Self::IntoRetarder { loads } => format!("{} into the retarder", capital(loads)),
            Self::OutOfRetarder { loads } => format!("{} out of the retarder", capital(loads)),
            Self::Preheat => "Turn on the oven".into(),
            Self::LoadIn { load } => format!("Load {load} into the oven"),
            Self::LoadOut { load } => format!("Load {load} out of the oven"),
            Self::Cool => "Cool enough to pack".into(),
        })
    }
}

impl Sentence for Look {
    fn sentence(&self) -> Message {
        Message(match *self {
            Self::Dough { dough_c } => format!("dough at {} °C", shown(tenth(dough_c))),
            Self::Risen { of_doubled } => {
                format!("risen {:.0} % of the way to doubled", 100.0 * of_doubled)
            }
            Self::Proofed {
                share, in_window, ..
            } if !in_window => {
                format!("OUTSIDE its window: {:.0} % of its proof", 100.0 * share)
            }
            Self::Proofed { past_chance, .. } => match past_chance {
                Some(chance) if chance >= WORTH_A_WORD => format!(
                    "a dent springs back slowly; {:.0} in 10 chance of over-proofing",
                    10.0 * chance
                ),
                _ => "a dent springs back slowly".into(),
            },
        })
    }
}

impl Sentence for Slurry {
    fn sentence(&self) -> Message {
        Message(format!(
            "Yeast slurry for the {}: stir {} g of yeast into {} g of water, weigh {} g of it in, discard the rest (the water on the list is already reduced).",
            self.goes_into,
            shown(self.yeast_g),
            shown(self.water_g),
            shown(self.weigh_in_g)
        ))
    }
}

impl Loads {
    /// ` load 2`; nothing where it is the whole bake.
    fn unless_all(self) -> String {
        if self.last - self.first + 1 == self.of {
            String::new()
        } else {
            format!(" {self}")
        }
    }
}

impl fmt::Display for Loads {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { first, last, .. } = self;
        match last - first {
            0 => write!(f, "load {first}"),
            1 => write!(f, "loads {first} and {last}"),
            _ => write!(f, "loads {first} to {last}"),
        }
    }
}

fn capital(loads: &Loads) -> String {
    loads.to_string().replacen('l', "L", 1)
}

fn tenth(value: f64) -> f64 {
    (10.0 * value).round() / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_read_as_a_baker_says_them() {
        let loads = |first, last| Loads {
            first,
            last,
            of: 4,
            pieces: 8,
        };
        let proofed = |in_window, chance| Look::Proofed {
            share: 1.3,
            in_window,
            past_chance: Some(chance),
        };
        let slurry = Slurry {
            goes_into: "poolish",
            yeast_g: 5.0,
            water_g: 22.0,
            weigh_in_g: 20.0,
        };
        let said: [(&dyn Sentence, &str); 9] = [
            (&Action::Fold { number: 1, of: 1 }, "Fold"),
            (&Action::Fold { number: 2, of: 3 }, "Fold 2 of 3"),
            (&Action::Shape { loads: loads(1, 4) }, "Shape"),
            (&Action::Shape { loads: loads(2, 3) }, "Shape loads 2 and 3"),
            (
                &Action::IntoRetarder { loads: loads(2, 4) },
                "Loads 2 to 4 into the retarder",
            ),
            (&Look::Dough { dough_c: 23.449 }, "dough at 23.4 °C"),
            (
                &proofed(false, 0.9),
                "OUTSIDE its window: 130 % of its proof",
            ),
            (
                &proofed(true, 0.41),
                "a dent springs back slowly; 4 in 10 chance of over-proofing",
            ),
            (
                &slurry,
                "Yeast slurry for the poolish: stir 5 g of yeast into 22 g of water, weigh 20 g of it in, discard the rest (the water on the list is already reduced).",
            ),
        ];
        for (what, words) in said {
            assert_eq!(what.sentence().to_string(), words);
        }
    }
}
