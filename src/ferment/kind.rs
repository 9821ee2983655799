//! The kinds of dough that ripen, and where each ends.

use super::Composition;
use crate::error::{Result, named};
use crate::table;
use serde::{Deserialize, Serialize};
use std::sync::OnceLock;

/// A dough with an end point of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Kind {
    /// Equal flour and water, a pinch of yeast; ripe when it is at its height and about to sink.
    Poolish,
    /// Stiff preferment of 44 to 60 % water.
    Biga,
    /// Yeasted preferment of about 62 % water; ripe at its first drop.
    Sponge,
    /// A whole dough with salt, made ahead or kept back for the next one.
    OldDough,
    /// A salted dough in bulk, until it has doubled.
    Dough,
    /// A dough in bulk, until its baker divides it.
    Bulk,
    /// Shaped pieces, until their baker puts them into the oven.
    Proof,
}

named! { "kind" Kind {
    Poolish = "poolish",
    Biga = "biga",
    Sponge = "sponge",
    OldDough = "old-dough",
    Dough = "dough",
    Bulk = "bulk",
    Proof = "proof",
} }

impl Kind {
    /// Place of its end point among those of [`Parameters::levels`](super::Parameters::levels).
    pub(crate) fn level(self) -> usize {
        match self {
            Self::Poolish => 0,
            Self::Biga => 1,
            Self::Sponge => 2,
            Self::OldDough | Self::Dough => 3,
            Self::Bulk => 4,
            Self::Proof => 5,
        }
    }

    /// What a baker makes when nothing else is said: water and salt of the table `compositions`. That is, in
    /// percent of flour, 100 and 0 for a poolish, 45 and 0 for a biga, 62 and 0 for a sponge, 66 and 2 for
    /// old dough, 65 and 2 for a dough in any stage.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn usual(self) -> Result<Composition> {
        // Asked by every row of a batch.
        static USUAL: [OnceLock<Result<Composition>>; 7] = [const { OnceLock::new() }; 7];
        let read = || {
            let (hydration, salt) = match self {
                Self::Poolish => ("poolish_hydration_percent", "poolish_salt_percent"),
                Self::Biga => ("biga_hydration_percent", "biga_salt_percent"),
                Self::Sponge => ("sponge_hydration_percent", "sponge_salt_percent"),
                Self::OldDough => ("old_dough_hydration_percent", "old_dough_salt_percent"),
                Self::Dough | Self::Bulk | Self::Proof => {
                    ("dough_hydration_percent", "dough_salt_percent")
                }
            };
            let table = table::get("compositions")?;
            Ok(Composition::lean(
                table.number(hydration)?,
                table.number(salt)?,
            ))
        };
        USUAL[self as usize].get_or_init(read).clone()
    }
}

/// When a stage counts as done.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum EndPoint {
    /// Ripe, as its kind is.
    Ripe(Kind),
    /// Doubled, as a straight dough is.
    Doubled,
    /// Risen to so many times its volume, V/V0, 1 to 5.
    Rise(f64),
    /// An amount of CO2 made, mL per 100 g flour, such as that of a baker's own working recipe.
    Gas(f64),
}

/// Reads a rise, V/V0, as bakers write it: `1.7x` or `1.7-fold`; `None` where it is none, or outside 1 to 5.
#[must_use]
pub fn parse_rise(text: &str) -> Option<f64> {
    let number = (text.strip_suffix('x')).or_else(|| text.strip_suffix("-fold"))?;
    number
        .parse()
        .ok()
        .filter(|rise| (1.0..=5.0).contains(rise))
}
