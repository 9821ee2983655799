//! Where the model is asked beyond every published recipe it was made from.

use super::Kind;
use crate::error::Result;
use crate::table::{self, Interval, Row};
use std::sync::OnceLock;

/// What the recipes of a table span: read once, asked with every answer.
struct Published {
    table: &'static str,
    spans: OnceLock<Result<Spans>>,
}

#[derive(Clone, Copy)]
struct Spans {
    temperature_c: Option<Interval>,
    dose_percent: Option<Interval>,
}

static POOLISH: Published = Published::new("poolish");
static BIGA: Published = Published::new("biga");
static SPONGE: Published = Published::new("sponge");
static STRAIGHT_DOUGH: Published = Published::new("straight-dough");

impl Published {
    const fn new(table: &'static str) -> Self {
        Self {
            table,
            spans: OnceLock::new(),
        }
    }

    fn spans(&self) -> Result<Spans> {
        let read = || {
            let rows = &table::get(self.table)?.rows;
            let span = |of: &dyn Fn(&Row) -> Option<Interval>| {
                rows.iter().filter_map(of).reduce(|a, b| Interval {
                    low: a.low.min(b.low),
                    high: a.high.max(b.high),
                })
            };
            Ok(Spans {
                temperature_c: span(&|r| Some(r.temperature_c)),
                dose_percent: span(&|r| r.dose_percent),
            })
        };
        self.spans.get_or_init(read).clone()
    }
}

/// Cautions about a dough of a kind that stands between two temperatures (°C) with so much yeast (fresh,
/// % of its flour; `None` when the dose is not its own), where no published recipe goes.
///
/// ```
/// use pointage::ferment::{Kind, beyond_published};
/// assert!(beyond_published(Kind::Poolish, (21.0, 23.0), Some(0.3))?.is_empty());
/// assert!(beyond_published(Kind::Poolish, (8.0, 23.0), None)?[0].contains("coldest: 20 °C"));
/// # Ok::<(), pointage::Error>(())
/// ```
///
/// # Errors
/// Only if an embedded table were damaged.
pub fn beyond_published(
    kind: Kind,
    span_c: (f64, f64),
    fresh_percent: Option<f64>,
) -> Result<Vec<String>> {
    let (table, name) = match kind {
        Kind::Poolish => (&POOLISH, "poolish"),
        Kind::Biga => (&BIGA, "biga"),
        Kind::Sponge => (&SPONGE, "sponge"),
        Kind::OldDough | Kind::Dough => (&STRAIGHT_DOUGH, "straight dough"),
    };
    let published = table.spans()?;
    let mut beyond = Vec::new();
    if let Some(known) = published.temperature_c {
        if span_c.0 < known.low {
            beyond.push(("is as cold", format!("coldest: {} °C", known.low)));
        }
        if span_c.1 > known.high {
            beyond.push(("is as warm", format!("warmest: {} °C", known.high)));
        }
    }
    if let (Some(known), Some(dose)) = (published.dose_percent, fresh_percent) {
        if dose < known.low {
            beyond.push((
                "takes as little yeast",
                format!("least: {} %, as fresh", known.low),
            ));
        }
        if dose > known.high {
            beyond.push((
                "takes as much yeast",
                format!("most: {} %, as fresh", known.high),
            ));
        }
    }
    let caution = |(what, limit): (&str, String)| {
        format!("No published recipe of a {name} {what} ({limit}): trust this answer less.")
    };
    Ok(beyond.into_iter().map(caution).collect())
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
            let says = |span: (f64, f64), dose: f64| {
                beyond_published(kind, span, Some(dose)).unwrap().join("\n")
            };
            assert_eq!(says(warm, dose.0), "");
            assert_eq!(says(warm, dose.1), "");
            for (span, dose, part, limit) in [
                (
                    (warm.0 - 0.1, warm.1),
                    dose.0,
                    "is as cold (coldest: ",
                    warm.0,
                ),
                (
                    (warm.0, warm.1 + 0.1),
                    dose.0,
                    "is as warm (warmest: ",
                    warm.1,
                ),
                (warm, 0.9 * dose.0, "takes as little yeast (least: ", dose.0),
                (warm, 1.1 * dose.1, "takes as much yeast (most: ", dose.1),
            ] {
                let said = says(span, dose);
                assert!(said.contains(&format!("{part}{limit} ")), "{said}");
                assert_eq!(said.lines().count(), 1);
            }
            assert!(beyond_published(kind, warm, None).unwrap().is_empty());
        }
    }
}
