//! Where the model is asked beyond every published recipe it was made from.

use super::Kind;
use crate::error::Result;
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
}

/// Cautions about a dough of a kind that stands between two temperatures (°C) with so much yeast (fresh,
/// % of its flour; `None` when the dose is not its own), where no published recipe goes.
///
/// ```
/// use pointage::ferment::{Extrapolation, Kind, beyond_published};
/// let kind = Kind::Poolish;
/// assert!(beyond_published(kind, (21.0, 23.0), Some(0.3))?.is_empty());
/// let cold = Extrapolation::ColderThanPublished { kind, coldest_c: 20.0 };
/// assert_eq!(beyond_published(kind, (8.0, 23.0), None)?, [cold]);
/// # Ok::<(), pointage::Error>(())
/// ```
///
/// # Errors
/// Only if an embedded table were damaged.
pub fn beyond_published(
    kind: Kind,
    span_c: (f64, f64),
    fresh_percent: Option<f64>,
) -> Result<Vec<Extrapolation>> {
    let [temperature_c, dose_percent] = published(kind)?;
    let mut beyond = Vec::new();
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

/// The spans of temperature and dose that the published recipes of a kind cover; found once.
fn published(kind: Kind) -> Result<[Option<Interval>; 2]> {
    type Spans = OnceLock<Result<[Option<Interval>; 2]>>;
    static SPANS: [Spans; 4] = [const { OnceLock::new() }; 4];
    let (spans, id) = match kind {
        Kind::Poolish => (&SPANS[0], "poolish"),
        Kind::Biga => (&SPANS[1], "biga"),
        Kind::Sponge => (&SPANS[2], "sponge"),
        Kind::OldDough | Kind::Dough => (&SPANS[3], "straight-dough"),
    };
    let read = || {
        let rows = &table::get(id)?.rows;
        let temperature_c = span(rows, |r| Some(r.temperature_c));
        Ok([temperature_c, span(rows, |r| r.dose_percent)])
    };
    spans.get_or_init(read).clone()
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
            let of = |span, dose| beyond_published(kind, span, Some(dose)).unwrap();
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
            assert!(beyond_published(kind, warm, None).unwrap().is_empty());
        }
    }
}
