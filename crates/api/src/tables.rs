//! Where does this number come from? The embedded tables as an answer.

use super::request::request;
use super::{Assumption, Remark};
use pointage::error::Result;
use pointage::table::{self, Standing, Table};
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

/// A table with the full text of its sources in place of their keys.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct TableAnswer {
    /// What it holds.
    #[serde(flatten)]
    pub table: Table,
    /// What not to rely on.
    pub warnings: Vec<Remark>,
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
        None => {
            let tables = table::all()?.into_iter().map(answer);
            let (tables, warnings) = (tables.collect::<Result<_>>()?, Vec::new());
            Ok(TablesAnswer::All { tables, warnings })
        }
    }
}

fn answer(table: &Table) -> Result<TableAnswer> {
    let warnings = warnings(table);
    let mut table = table.clone();
    let values = table.values.iter_mut().map(|v| &mut v.source);
    let rows = table.rows.iter_mut().map(|r| &mut r.source);
    for source in values.chain(rows).chain([&mut table.source]) {
        *source = table::source(source)?.citation();
    }
    Ok(TableAnswer { table, warnings })
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
        assert!(names(1).contains(&"rise_open".into()));
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
    fn the_standing_of_the_window_is_told() {
        let answer = json(Some("defaults"));
        let values = answer["values"].as_array().unwrap();
        let open = values.iter().find(|v| v["name"] == "window_open").unwrap();
        assert_eq!(open["standing"], "from-memory");
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
