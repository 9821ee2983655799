//! Where the model is asked beyond every published recipe it was made from.

use super::Kind;
use crate::error::{Error, Result};
use crate::table::{self, Interval, Row};
use serde::{Deserialize, Serialize};
use std::sync::OnceLock;

/// Where a dough stands beyond every published recipe of its kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
#[allow(missing_docs)] // the names of the fields say all
pub enum Extrapolation {
    /// It is colder.
    ColderThanPublished { kind: Kind, coldest_c: f64 },
    /// It is warmer.
    WarmerThanPublished { kind: Kind, warmest_c: f64 },
    /// It has less yeast, as fresh.
    LessYeastThanPublished { kind: Kind, least_percent: f64 },
    /// It has more yeast, as fresh.
    MoreYeastThanPublished { kind: Kind, most_percent: f64 },
    /// It takes longer.
    LongerThanPublished { kind: Kind, longest_h: f64 },
    /// Its yeast multiplies more often than anybody counted.
    MoreGrowthThanCounted { growth: f64 },
    /// It takes less yeast than a fine scale shows.
    LessYeastThanScalesShow { yeast_g: f64 },
}

/// How far beyond observation an answer is given.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct Support {
    /// Yeast that multiplies more often than this carries a caution.
    pub warned_growth: f64,
    /// And more often than this has no answer.
    pub most_growth: f64,
    /// Less yeast than this carries a caution.
    pub warned_yeast_g: f64,
    /// And less than this is no answer.
    pub least_yeast_g: f64,
}

impl Support {
    /// The limits of the table `support`.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn shipped() -> Result<Self> {
        static SHIPPED: OnceLock<Result<Support>> = OnceLock::new();
        SHIPPED
            .get_or_init(|| table::read(&[table::get("support")?]))
            .clone()
    }

    /// A caution about yeast that multiplies so many times.
    ///
    /// # Errors
    /// [`Error::Unreachable`] where it multiplies so often that a forecast means nothing.
    pub fn caution_of_growth(&self, growth: f64) -> Result<Option<Extrapolation>> {
        if growth > self.most_growth {
            let most = self.most_growth;
            return Err(Error::unreachable(
                "a forecast",
                format!(
                    "the yeast would have to multiply {growth:.0}-fold, and beyond {most}-fold there is none"
                ),
                "use more yeast with a shorter time, or a colder place",
            ));
        }
        Ok(
            (growth > self.warned_growth)
                .then_some(Extrapolation::MoreGrowthThanCounted { growth }),
        )
    }

    /// A caution about so little yeast.
    ///
    /// # Errors
    /// [`Error::Unreachable`] where no balance shows it.
    pub fn caution_of_yeast(&self, yeast_g: f64) -> Result<Option<Extrapolation>> {
        if yeast_g < self.least_yeast_g {
            let least = self.least_yeast_g;
            return Err(Error::unreachable(
                "a dose that can be weighed",
                format!("it is {yeast_g:.1e} g of yeast, and below {least} g there is none"),
                "make more of it, or allow less time or a colder place",
            ));
        }
        let is_small = yeast_g < self.warned_yeast_g;
        Ok(is_small.then_some(Extrapolation::LessYeastThanScalesShow { yeast_g }))
    }
}

/// Cautions about a dough of a kind that stands between two temperatures (°C) for some hours with so much yeast (fresh,
/// % of its flour; `None` when the dose is not its own), where no published recipe goes.
///
/// ```
/// use pointage::ferment::{Extrapolation, Kind, beyond_published};
/// let kind = Kind::Poolish;
/// assert!(beyond_published(kind, (21.0, 23.0), 12.0, Some(0.3))?.is_empty());
/// let cold = Extrapolation::ColderThanPublished { kind, coldest_c: 20.0 };
/// assert_eq!(beyond_published(kind, (8.0, 23.0), 12.0, None)?, [cold]);
/// # Ok::<(), pointage::Error>(())
/// ```
///
/// # Errors
/// Only if an embedded table were damaged.
pub fn beyond_published(
    kind: Kind,
    span_c: (f64, f64),
    hours: f64,
    fresh_percent: Option<f64>,
) -> Result<Vec<Extrapolation>> {
    let Published {
        temperature_c,
        dose_percent,
        hours: published_h,
    } = Published::of(kind)?;
    let longest_h = published_h.map_or(f64::INFINITY, |published| published.high);
    let mut beyond = Vec::new();
    beyond.extend(
        (hours > longest_h).then_some(Extrapolation::LongerThanPublished { kind, longest_h }),
    );
    if let Some(published) = temperature_c {
        let (coldest_c, warmest_c) = (published.low, published.high);
        if span_c.0 < coldest_c {
            beyond.push(Extrapolation::ColderThanPublished { kind, coldest_c });
        }
        if span_c.1 > warmest_c {
            beyond.push(Extrapolation::WarmerThanPublished { kind, warmest_c });
        }
    }
    if let (Some(published), Some(dose)) = (dose_percent, fresh_percent) {
        let (least_percent, most_percent) = (published.low, published.high);
        beyond.extend(
            (dose < least_percent).then_some(Extrapolation::LessYeastThanPublished {
                kind,
                least_percent,
            }),
        );
        beyond.extend(
            (dose > most_percent)
                .then_some(Extrapolation::MoreYeastThanPublished { kind, most_percent }),
        );
    }
    Ok(beyond)
}

/// The spans of temperature, dose and time that the published recipes of a kind cover.
#[derive(Debug, Clone, Copy)]
pub(super) struct Published {
    temperature_c: Option<Interval>,
    dose_percent: Option<Interval>,
    hours: Option<Interval>,
}

impl Published {
    /// Those of a kind; found once.
    pub fn of(kind: Kind) -> Result<Self> {
        static SPANS: [OnceLock<Result<Published>>; 4] = [const { OnceLock::new() }; 4];
        const TABLES: [&str; 4] = ["poolish", "biga", "sponge", "straight-dough"];
        let place = kind.level().min(3);
        let read = || {
            let rows = &table::get(TABLES[place])?.rows;
            Ok(Self {
                temperature_c: span(rows, |r| Some(r.temperature_c)),
                dose_percent: span(rows, |r| r.dose_percent),
                hours: span(rows, |r| Some(r.hours)),
            })
        };
        SPANS[place].get_or_init(read).clone()
    }

    /// With one recipe more.
    pub fn with(self, at_c: f64, dose: f64) -> Self {
        let with = |span: Option<Interval>, x: f64| {
            span.map(|span| Interval {
                low: span.low.min(x),
                high: span.high.max(x),
            })
        };
        Self {
            temperature_c: with(self.temperature_c, at_c),
            dose_percent: with(self.dose_percent, dose),
            ..self
        }
    }

    /// How far it is beyond them, K and in log dose.
    pub fn distance(&self, at_c: f64, dose: Option<f64>) -> (f64, f64) {
        let nearest = |span: Option<Interval>, x: f64| span.map_or(x, |s| x.clamp(s.low, s.high));
        let log_dose = dose.map_or(0.0, |dose| (dose / nearest(self.dose_percent, dose)).ln());
        (
            (at_c - nearest(self.temperature_c, at_c)).abs(),
            log_dose.abs(),
        )
    }

    /// Their edges: temperatures, with the doses at their ends; where no dose is published, with this one.
    pub fn corners(&self, dose: f64) -> impl Iterator<Item = (f64, [f64; 2])> {
        let doses = self.dose_percent.map_or([dose; 2], |s| [s.low, s.high]);
        let edges = self.temperature_c.map(|s| [s.low, s.high]);
        edges.into_iter().flatten().map(move |at| (at, doses))
    }
}

fn span(rows: &[Row], of: impl Fn(&Row) -> Option<Interval>) -> Option<Interval> {
    rows.iter().filter_map(of).reduce(|a, b| Interval {
        low: a.low.min(b.low),
        high: a.high.max(b.high),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Caution first, then none; the limits are those of `data/ferment/support.toml`.
    #[test]
    fn beyond_the_support_a_caution_and_then_nothing() {
        let support = Support::shipped().unwrap();
        let growth = |growth| support.caution_of_growth(growth).map(|c| c.is_some());
        assert_eq!(
            [growth(50.0), growth(50.1), growth(250.0)],
            [Ok(false), Ok(true), Ok(true)]
        );
        assert!(growth(250.1).unwrap_err().is_unreachable());
        let yeast = |g| support.caution_of_yeast(g).map(|c| c.is_some());
        assert_eq!(
            [yeast(0.01), yeast(0.0099), yeast(0.001)],
            [Ok(false), Ok(true), Ok(true)]
        );
        assert!(yeast(0.00099).unwrap_err().is_unreachable());
    }

    /// A caution begins beyond the rows of the table, not at its last one.
    #[test]
    fn what_was_published_is_asked_without_a_caution() {
        for (kind, table) in [
            (Kind::Poolish, "poolish"),
            (Kind::Biga, "biga"),
            (Kind::Sponge, "sponge"),
            (Kind::Dough, "straight-dough"),
        ] {
            let rows = &table::get(table).unwrap().rows;
            let all = |of: &dyn Fn(&Row) -> Option<Interval>| {
                let spans: Vec<Interval> = rows.iter().filter_map(of).collect();
                let low = spans.iter().map(|s| s.low).fold(f64::MAX, f64::min);
                let high = spans.iter().map(|s| s.high).fold(f64::MIN, f64::max);
                (low, high)
            };
            let warm = all(&|r| Some(r.temperature_c));
            let dose = all(&|r| r.dose_percent);
            let longest_h = all(&|r| Some(r.hours)).1;
            let of = |span, dose| beyond_published(kind, span, longest_h, Some(dose)).unwrap();
            assert_eq!(of(warm, dose.0), []);
            assert_eq!(of(warm, dose.1), []);
            let (coldest_c, warmest_c) = warm;
            let (least_percent, most_percent) = dose;
            for (span, dose, caution) in [
                (
                    (warm.0 - 0.1, warm.1),
                    dose.0,
                    Extrapolation::ColderThanPublished { kind, coldest_c },
                ),
                (
                    (warm.0, warm.1 + 0.1),
                    dose.0,
                    Extrapolation::WarmerThanPublished { kind, warmest_c },
                ),
                (
                    warm,
                    0.9 * dose.0,
                    Extrapolation::LessYeastThanPublished {
                        kind,
                        least_percent,
                    },
                ),
                (
                    warm,
                    1.1 * dose.1,
                    Extrapolation::MoreYeastThanPublished { kind, most_percent },
                ),
            ] {
                assert_eq!(of(span, dose), [caution]);
            }
            assert!(beyond_published(kind, warm, 1.0, None).unwrap().is_empty());
            let late = beyond_published(kind, warm, 1.01 * longest_h, None).unwrap();
            assert_eq!(
                late,
                [Extrapolation::LongerThanPublished { kind, longest_h }]
            );
        }
    }
}
