//! The kinds of dough that ripen, and where each ends.

use super::Composition;
use crate::error::{Error, Result};
use serde::{Deserialize, Serialize};

/// A dough with an end point of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Kind {
    /// Equal flour and water, a pinch of yeast; ripe when it is at its height and about to sink.
    Poolish,
    /// Stiff preferment of 44 to 60 % water.
    Biga,
    /// Yeasted preferment of about 62 % water; ripe at its first drop.
    Sponge,
    /// A piece of salted dough kept for the next one.
    OldDough,
    /// A salted dough in bulk, to doubled.
    Dough,
}

impl Kind {
    /// All kinds.
    pub const ALL: [Self; 5] = [
        Self::Poolish,
        Self::Biga,
        Self::Sponge,
        Self::OldDough,
        Self::Dough,
    ];

    /// The name on the command line and in files.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Poolish => "poolish",
            Self::Biga => "biga",
            Self::Sponge => "sponge",
            Self::OldDough => "old-dough",
            Self::Dough => "dough",
        }
    }

    /// What a baker makes when nothing else is said: hydration and salt in % of its flour.
    #[must_use]
    pub fn usual(self) -> Composition {
        match self {
            Self::Poolish => Composition::lean(100.0, 0.0),
            Self::Biga => Composition::lean(45.0, 0.0),
            Self::Sponge => Composition::lean(62.0, 0.0),
            Self::OldDough => Composition::lean(66.0, 2.0),
            Self::Dough => Composition::lean(65.0, 2.0),
        }
    }
}

impl std::str::FromStr for Kind {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        let known = Self::ALL.map(Self::name);
        Self::ALL
            .into_iter()
            .find(|k| k.name() == text)
            .ok_or_else(|| Error::unknown_name("kind", text, known))
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
    /// An amount of CO2 made, mL per 100 g flour, such as that of a baker's own working recipe.
    Gas(f64),
}
