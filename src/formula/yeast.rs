//! Kinds of baker's yeast and how much of one replaces another.

use crate::error::{Result, check, named};
use crate::table;
use crate::units::Mass;
use serde::{Deserialize, Serialize};
use std::sync::OnceLock;

/// The form in which baker's yeast is bought.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum YeastKind {
    /// Compressed yeast, about 70 % water. Doses "as fresh" are given in it.
    Fresh,
    /// Dry yeast that goes into the flour as it is.
    Instant,
    /// Dry yeast that is first woken in warm water.
    ActiveDry,
}

named! { "yeast" YeastKind { Fresh = "fresh", Instant = "instant", ActiveDry = "active-dry" } }

/// How many grams of a dry yeast do the work of one gram of fresh yeast.
///
/// `m_kind = factor(kind) * m_fresh`, with `factor(fresh) = 1`.
///
/// ```
/// use pointage::formula::{YeastFactors, YeastKind};
/// use pointage::units::Mass;
/// let factors = YeastFactors::shipped()?;
/// let fresh = Mass::grams(100.0)?;
/// let instant = factors.convert(fresh, YeastKind::Fresh, YeastKind::Instant)?;
/// assert!((instant.as_grams() - 33.0).abs() < 1e-9);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YeastFactors {
    instant: f64,
    active_dry: f64,
}

impl YeastFactors {
    /// The factors of the table `kinds`, which names the source and what others print.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn shipped() -> Result<Self> {
        static SHIPPED: OnceLock<Result<YeastFactors>> = OnceLock::new();
        let read = || {
            let t = table::get("kinds")?;
            Self::new(t.number("instant")?, t.number("active_dry")?)
        };
        SHIPPED.get_or_init(read).clone()
    }

    /// Factors of one's own, each 0.1 to 1.
    ///
    /// # Errors
    /// Not finite, or out of range: no dry yeast is weaker than fresh yeast or ten times as strong.
    pub fn new(instant: f64, active_dry: f64) -> Result<Self> {
        check("factor of instant yeast", instant, 0.1, 1.0, "g per g")?;
        let what = "factor of active dry yeast";
        check(what, active_dry, 0.1, 1.0, "g per g")?;
        Ok(Self {
            instant,
            active_dry,
        })
    }

    /// Grams of this kind that replace one gram of fresh yeast.
    #[must_use]
    pub fn factor(&self, kind: YeastKind) -> f64 {
        match kind {
            YeastKind::Fresh => 1.0, // the measure itself
            YeastKind::Instant => self.instant,
            YeastKind::ActiveDry => self.active_dry,
        }
    }

    /// The mass of `to` that does the work of this mass of `from`.
    ///
    /// # Errors
    /// A result beyond what [`Mass`] holds.
    pub fn convert(&self, mass: Mass, from: YeastKind, to: YeastKind) -> Result<Mass> {
        Mass::grams(mass.as_grams() * self.factor(to) / self.factor(from))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_read_back_and_a_near_miss_is_offered() {
        for kind in YeastKind::ALL {
            assert_eq!(kind.to_string().parse::<YeastKind>().unwrap(), kind);
        }
        assert_eq!(
            "instnat".parse::<YeastKind>().unwrap_err().to_string(),
            "unknown yeast \"instnat\"; did you mean \"instant\"? known: fresh, instant, active-dry"
        );
    }

    #[test]
    fn absurd_factors_are_refused() {
        for (instant, dry) in [(0.0, 0.4), (0.33, f64::NAN), (3.0, 0.4), (0.33, -0.4)] {
            assert!(YeastFactors::new(instant, dry).is_err());
        }
    }

    proptest! {
        #[test]
        fn there_and_back_is_the_same(grams in 0.0..1e5_f64, instant in 0.1..1.0_f64, dry in 0.1..1.0_f64) {
            let factors = YeastFactors::new(instant, dry).unwrap();
            let mass = Mass::grams(grams).unwrap();
            for from in YeastKind::ALL {
                for to in YeastKind::ALL {
                    let back = factors
                        .convert(factors.convert(mass, from, to).unwrap(), to, from)
                        .unwrap();
                    prop_assert!((back.as_grams() - grams).abs() <= 1e-12 * grams);
                }
            }
        }
    }
}
