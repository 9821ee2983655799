//! The sentences: every finding in a baker's words, and nowhere else.
//!
//! A finding is a code with its numbers. What a person reads of it is a [`Message`], which can be shown and
//! serialised and nothing else, so that no code can come to depend on its wording.

use pointage::{ferment, heat};
use serde::Serialize;
use std::fmt;

/// A sentence for a person: it can be shown, and nothing else.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Message(String);

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What can be said in a sentence.
pub trait Sentence {
    /// It, said.
    fn sentence(&self) -> Message;
}

impl Sentence for heat::Caution {
    fn sentence(&self) -> Message {
        use heat::Caution as C;
        Message(match *self {
            C::WaterBelowFreezing { water_c } => format!(
                "The water at {water_c:.1} °C needs ice: put flaked or crushed ice in first. The last of it melts in the dough."
            ),
            C::WaterBelowChiller { water_c, coldest_c } => format!(
                "The water at {water_c:.1} °C needs ice: a water chiller gives {coldest_c:.0} °C at best."
            ),
            C::WaterKillsYeast { water_c, warmest_c } => format!(
                "Blend the yeast into the flour first: water at {water_c:.1} °C kills bare yeast (above {warmest_c:.0} °C). Warmer flour needs less hot water."
            ),
            C::InstantYeastInColdWater { coldest_c } => format!(
                "Blend instant yeast into the flour first: keep it off ice and off water below {coldest_c:.0} °C."
            ),
            C::WarmDough { dough_c, warmest_c } => format!(
                "A dough at {dough_c:.1} °C will run ahead of every table: published wheat doughs end at {warmest_c:.0} °C."
            ),
            C::HotDough { dough_c, warmest_c } => format!(
                "Do not rely on these hours: above {warmest_c:.0} °C yeast slows and dies in time. The dough is at {dough_c:.1} °C."
            ),
            _ => String::new(),
        })
    }
}

impl Sentence for ferment::Caution {
    fn sentence(&self) -> Message {
        use ferment::Caution as C;
        let name = |kind: &ferment::Kind| match kind {
            ferment::Kind::OldDough | ferment::Kind::Dough => "straight dough",
            kind => kind.name(),
        };
        let (name, what, limit) = match self {
            C::ColderThanPublished { kind, coldest_c } => {
                (name(kind), "is as cold", format!("coldest: {coldest_c} °C"))
            }
            C::WarmerThanPublished { kind, warmest_c } => {
                (name(kind), "is as warm", format!("warmest: {warmest_c} °C"))
            }
            C::LessYeastThanPublished {
                kind,
                least_percent,
            } => (
                name(kind),
                "takes as little yeast",
                format!("least: {least_percent} %, as fresh"),
            ),
            C::MoreYeastThanPublished { kind, most_percent } => (
                name(kind),
                "takes as much yeast",
                format!("most: {most_percent} %, as fresh"),
            ),
            _ => return Message(String::new()),
        };
        Message(format!(
            "No published recipe of a {name} {what} ({limit}): trust this answer less."
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cautions_of_water_and_dough() {
        use heat::Caution as C;
        for (caution, words) in [
            (C::WaterBelowFreezing { water_c: -4.0 }, "needs ice"),
            (
                C::WaterBelowChiller {
                    water_c: 0.5,
                    coldest_c: 1.0,
                },
                "gives 1 °C",
            ),
            (
                C::WaterKillsYeast {
                    water_c: 49.0,
                    warmest_c: 43.0,
                },
                "kills bare yeast",
            ),
            (
                C::InstantYeastInColdWater { coldest_c: 21.0 },
                "below 21 °C",
            ),
            (
                C::WarmDough {
                    dough_c: 33.0,
                    warmest_c: 30.0,
                },
                "end at 30 °C",
            ),
            (
                C::HotDough {
                    dough_c: 42.0,
                    warmest_c: 40.0,
                },
                "above 40 °C yeast slows",
            ),
        ] {
            let said = caution.sentence().to_string();
            assert!(said.contains(words), "{said}");
        }
    }

    #[test]
    fn cautions_beyond_recipes() {
        use ferment::{Caution as C, Kind};
        let kind = Kind::OldDough;
        for (caution, words) in [
            (
                C::ColderThanPublished {
                    kind,
                    coldest_c: 20.0,
                },
                "of a straight dough is as cold (coldest: 20 °C)",
            ),
            (
                C::WarmerThanPublished {
                    kind,
                    warmest_c: 30.0,
                },
                "is as warm (warmest: 30 °C)",
            ),
            (
                C::LessYeastThanPublished {
                    kind,
                    least_percent: 0.1,
                },
                "takes as little yeast (least: 0.1 %",
            ),
            (
                C::MoreYeastThanPublished {
                    kind,
                    most_percent: 3.0,
                },
                "takes as much yeast (most: 3 %",
            ),
        ] {
            let said = caution.sentence().to_string();
            assert!(said.contains(words), "{said}");
        }
    }
}
