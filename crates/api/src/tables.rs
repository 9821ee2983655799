//! Where does this number come from? The embedded tables as an answer.

use super::request::request;
use super::{Assumption, Remark};
use pointage::error::Result;
use pointage::table::{self, Interval, Knot, Law, Point, Row, Standing, Table, Uncertainty};
use serde::Serialize;

request! {
    /// Which table; all of them when left out.
    TablesRequest = "tables" {
        /// Name of a table
        #[cfg_attr(feature = "flags", arg(value_name = "ID"))]
        id: Option<String>,
    }
}

/// The answer to `tables`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(untagged)]
pub enum TablesAnswer {
    /// Every table, without an id in the question.
    All {
        /// The tables, in the order of `data/README.md`.
        tables: Vec<TableAnswer>,
        /// Always empty; each table carries its own.
        warnings: Vec<Remark>,
    },
    /// The table asked for.
    One(Box<TableAnswer>),
}

/// A table with the full text of its sources.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct TableAnswer {
    /// Name of the table.
    pub id: String,
    /// Content in one sentence.
    pub title: String,
    /// Temperature law that the values are the parameters of.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub law: Option<Law>,
    /// Temperatures between which the observations lie, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub valid_c: Option<Interval>,
    /// What was measured, on what, and how.
    pub observed: String,
    /// The publication, in one line.
    pub source: String,
    /// Page, table or address.
    pub locus: String,
    /// How most of the values were come by.
    pub standing: Standing,
    /// Deviations from the source, and what belongs together.
    pub note: String,
    /// The values.
    pub values: Vec<ValueAnswer>,
    /// Points of a tabulated law.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub knots: Vec<Knot>,
    /// Measured growth rates.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub points: Vec<Point>,
    /// Recipes with a time, each with the full text of its source.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub rows: Vec<Row>,
    /// What not to rely on.
    pub warnings: Vec<Remark>,
}

/// A value with the full text of its source.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct ValueAnswer {
    /// Name; ends in the unit.
    pub name: String,
    /// The number.
    pub value: f64,
    /// The unit in print; `1` for a ratio.
    pub unit: &'static str,
    /// How well the number is known.
    pub uncertainty: UncertaintyAnswer,
    /// The publication, in one line.
    pub source: String,
    /// Page, table or address.
    pub locus: String,
    /// How the number was come by.
    pub standing: Standing,
    /// What to know before relying on it; may be empty.
    pub note: String,
}

/// How well a value is known; `kind` says which fields there are.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum UncertaintyAnswer {
    /// One standard error, in the unit of the value.
    StandardError {
        /// The standard error.
        se: f64,
    },
    /// Standard deviation of the natural logarithm of the value.
    LogSd {
        /// The standard deviation.
        log_sd: f64,
    },
    /// A span read as 10 to 90 %.
    Range {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Exact by definition or by choice.
    Exact,
    /// How far the value may be off is a judgement that the note tells in words.
    Judged,
}

/// Every embedded table, or the one of this id, each value with its source and standing.
///
/// # Errors
/// No such table; the message lists the names there are.
///
/// ```
/// use pointage_api::tables::{TablesRequest, tables};
/// let kinds = TablesRequest { id: Some("kinds".into()) };
/// let answer = serde_json::to_value(tables(&kinds)?).unwrap();
/// assert_eq!(answer["values"][1]["name"], "instant");
/// assert_eq!(answer["values"][1]["uncertainty"]["kind"], "range");
/// assert_eq!(answer["values"][1]["standing"], "quoted");
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn tables(request: &TablesRequest) -> Result<TablesAnswer> {
    match &request.id {
        Some(id) => Ok(TablesAnswer::One(Box::new(answer(table::get(id)?)?))),
        None => Ok(TablesAnswer::All {
            tables: table::all()?
                .into_iter()
                .map(answer)
                .collect::<Result<_>>()?,
            warnings: Vec::new(),
        }),
    }
}

fn answer(t: &Table) -> Result<TableAnswer> {
    let citation = |key: &str| table::source(key).map(table::Source::citation);
    let values = t
        .values
        .iter()
        .map(|v| {
            Ok(ValueAnswer {
                name: v.name.clone(),
                value: v.value,
                unit: v.unit,
                uncertainty: match v.uncertainty {
                    Uncertainty::StandardError(se) => UncertaintyAnswer::StandardError { se },
                    Uncertainty::LogSd(log_sd) => UncertaintyAnswer::LogSd { log_sd },
                    Uncertainty::Range(low, high) => UncertaintyAnswer::Range { low, high },
                    Uncertainty::Exact => UncertaintyAnswer::Exact,
                    Uncertainty::Judged => UncertaintyAnswer::Judged,
                },
                source: citation(&v.source)?,
                locus: v.locus.clone(),
                standing: v.standing,
                note: v.note.clone(),
            })
        })
        .collect::<Result<_>>()?;
    let rows = t
        .rows
        .iter()
        .map(|r| {
            let mut row = r.clone();
            row.source = citation(&r.source)?;
            Ok(row)
        })
        .collect::<Result<_>>()?;
    Ok(TableAnswer {
        id: t.id.clone(),
        title: t.title.clone(),
        law: t.law,
        valid_c: t.valid_c,
        observed: t.observed.clone(),
        source: citation(&t.source)?,
        locus: t.locus.clone(),
        standing: t.standing,
        note: t.note.clone(),
        values,
        knots: t.knots.clone(),
        points: t.points.clone(),
        rows,
        warnings: warnings(t),
    })
}

/// Names the values that no publication stands behind.
fn warnings(t: &Table) -> Vec<Remark> {
    let unverified = |standing| {
        let values = t.values.iter().filter(move |v| v.standing == standing);
        let rows = t.rows.iter().filter(move |r| r.standing == standing);
        let names = values.map(|v| &v.name).chain(rows.map(|r| &r.id));
        let names: Vec<String> = names.cloned().collect();
        (!names.is_empty()).then(|| Assumption::Unverified { standing, names }.into())
    };
    let standings = [Standing::FromMemory, Standing::Assumed];
    standings.into_iter().filter_map(unverified).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn json(id: Option<&str>) -> serde_json::Value {
        let id = id.map(str::to_owned);
        serde_json::to_value(tables(&TablesRequest { id }).unwrap()).unwrap()
    }

    #[test]
    fn every_value_comes_with_its_source_and_standing() {
        let all = json(None);
        let tables = all["tables"].as_array().unwrap();
        assert_eq!(tables.len(), table::ids().count());
        assert!(all["warnings"].is_array());
        let mut count = 0;
        for t in tables {
            assert!(t["warnings"].is_array());
            let values = t["values"].as_array().unwrap().iter();
            for v in values.chain(t["rows"].as_array().into_iter().flatten()) {
                for key in ["source", "locus", "standing"] {
                    assert!(!v[key].as_str().unwrap().is_empty(), "{v}");
                }
                count += 1;
            }
            assert_eq!(&json(t["id"].as_str()), t);
        }
        assert!(count > 100, "{count}");
    }

    #[test]
    fn what_has_no_publication_is_warned_of() {
        let answer = json(Some("defaults"));
        let warnings = answer["warnings"].as_array().unwrap();
        let names = |i: usize| warnings[i]["names"].as_array().unwrap();
        assert_eq!(warnings[0]["standing"], "from-memory");
        assert!(names(0).contains(&"sugar_half_rate_ml_per_100g".into()));
        assert!(names(1).contains(&"window_open".into()));
        assert_eq!(
            json(Some("zakhartsev2015"))["warnings"]
                .as_array()
                .unwrap()
                .len(),
            0
        );
    }

    /// What nothing calculates with has words in place of numbers.
    #[test]
    fn a_judged_value_has_no_bounds_but_a_note() {
        let answer = json(Some("defaults"));
        let values = answer["values"].as_array().unwrap();
        let salt = values.iter().find(|v| v["name"] == "salt_per_percent");
        let salt = salt.unwrap();
        assert_eq!(salt["uncertainty"], serde_json::json!({"kind": "judged"}));
        assert!(salt["note"].as_str().unwrap().contains("By judgement"));
    }

    #[test]
    fn the_miss_of_the_window_is_told() {
        let answer = json(Some("defaults"));
        let values = answer["values"].as_array().unwrap();
        let open = values.iter().find(|v| v["name"] == "window_open").unwrap();
        assert!(
            open["note"]
                .as_str()
                .unwrap()
                .contains("misses the short one")
        );
    }

    #[test]
    fn an_unknown_table_is_refused_with_the_names() {
        let e = tables(&TablesRequest {
            id: Some("poolis".into()),
        });
        let e = e.unwrap_err().to_string();
        assert!(
            e.contains("did you mean \"poolish\"?") && e.contains("zakhartsev2015"),
            "{e}"
        );
    }
}
