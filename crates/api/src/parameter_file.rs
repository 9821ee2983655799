//! The text of a parameter file, with where its numbers come from.

use super::ParameterOverrides;
use super::learn::LearnRequest;
use pointage::error::Result;
use pointage::learn::fit::{Learned, LearnedParameter};
use pointage::learn::log::Seen;
use pointage::table::{Correlation, Table, Uncertainty, Value};

/// What was learned, and every other value of the file that the learning began from.
pub(super) fn of_learned(
    learned: &Learned,
    request: &LearnRequest,
    own: Option<&ParameterOverrides>,
) -> Result<String> {
    let mut table = learned.table()?;
    let lines = || learned.rows.iter().map(|r| r.line);
    let count = |seen| learned.rows.iter().filter(|r| r.seen == seen).count();
    table.title = "Parameters learned from a log".into();
    let rows = learned.rows.len();
    table.observed = format!(
        "{rows} {}: {} seen ready, {} not yet, {} past; single times scatter by {:.3} in log time",
        if rows == 1 { "row" } else { "rows" },
        count(Seen::Ready),
        count(Seen::NotYet),
        count(Seen::Past),
        learned.scatter
    );
    let log = request.log_name.as_deref().unwrap_or("a log");
    let date = request.date.as_deref();
    let date = date.unwrap_or("on a day that was not given");
    table.source = format!("{log}, learned {date}");
    let [first, last] = [lines().min(), lines().max()].map(|line| line.unwrap_or(0));
    table.locus = format!("lines {first} to {last}");
    let (mut prior, mut kept) = ("the shipped table".to_owned(), String::new());
    if let Some(ParameterOverrides { name, table, .. }) = own {
        kept = format!(" What this log does not tell is carried over from {name}.");
        let source = &table.source;
        prior = format!("the numbers of {name} ({source}) and, for the rest, {prior}");
    }
    table.note = format!(
        "Learned by Pointage {} with {prior} as prior. Belongs with the rates of that version.{kept}",
        env!("CARGO_PKG_VERSION")
    );
    for value in &mut table.values {
        (value.source, value.locus) = (table.source.clone(), table.locus.clone());
        let before = learned.estimates.iter().find(|e| e.name == value.name);
        value.note = before.map_or_else(|| "the scatter of a single time".to_owned(), moved);
    }
    if let Some(own) = own {
        let is_left = |v: &&Value| table.value(&v.name).is_err();
        let kept: Vec<&Value> = own.table.values.iter().filter(is_left).collect();
        table.values.extend(kept.into_iter().cloned());
    }
    Ok(text(&table))
}

fn moved(e: &LearnedParameter) -> String {
    let how = match e.moved {
        0.0 => "the log tells little of it".to_owned(),
        moved => format!("the log moved it by {moved:.2} of its error"),
    };
    let (prior, sd) = (e.prior, e.prior_sd);
    format!("before: {prior:.4} with an error of {sd:.4}; {how}")
}

/// A table of values as the text that `pointage::table::parse` reads.
fn text(table: &Table) -> String {
    let mut file = toml::Table::from_iter([("format".to_owned(), 1.into())]);
    let mut head = |key: &str, value: &str| file.insert(key.into(), value.into());
    head("id", &table.id);
    head("title", &table.title);
    head("observed", &table.observed);
    head("source", &table.source);
    head("locus", &table.locus);
    head("standing", table.standing.name());
    head("note", &table.note);
    let value = |v: &Value| {
        let (how, much) = match v.uncertainty {
            Uncertainty::StandardError { se } => ("se", se.into()),
            Uncertainty::LogSd { log_sd } => ("log_sd", log_sd.into()),
            Uncertainty::Range { low, high } => ("range", vec![low, high].into()),
            Uncertainty::Exact => ("exact", true.into()),
            Uncertainty::Judged => ("judged", true.into()),
        };
        let mut value = toml::Table::from_iter([("value".to_owned(), v.value.into())]);
        value.insert(how.into(), much);
        for (key, own, above) in [
            ("source", v.source.as_str(), table.source.as_str()),
            ("locus", &v.locus, &table.locus),
            ("standing", v.standing.name(), table.standing.name()),
            ("note", &v.note, ""),
        ] {
            if own != above {
                value.insert(key.into(), own.into());
            }
        }
        (v.name.clone(), toml::Value::from(value))
    };
    let values: toml::Table = table.values.iter().map(value).collect();
    file.insert("values".into(), values.into());
    let correlation = |c: &Correlation| {
        let between = c.between.to_vec().into();
        toml::Table::from_iter([
            ("between".into(), between),
            ("value".into(), c.value.into()),
        ])
    };
    let correlations: Vec<_> = table.correlations.iter().map(correlation).collect();
    if !correlations.is_empty() {
        file.insert("correlations".into(), correlations.into());
    }
    file.to_string()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::learn::learn_log;
    use std::fmt::Write as _;

    /// The text is the table: read back it is the same to its last digit, with values of each sort of uncertainty.
    #[test]
    fn a_parameter_file_reads_back_as_it_was() {
        let log = "kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen\n\
                   poolish,1000,1000,fresh,3,21,11.5,ripe\npoolish,1000,1000,fresh,2,17,24,ripe\n";
        let request = LearnRequest {
            log_csv: Some(log.into()),
            log_name: Some("our \"bakes\"\n.csv".into()),
            date: Some("2026-05-03".into()),
            ..LearnRequest::default()
        };
        let none = |name: &str| Err(pointage::table::get(name).unwrap_err());
        let (answer, _) = learn_log(&request, &crate::Model::shipped().unwrap(), none).unwrap();
        let mut written = answer.params_toml;
        let first = pointage::table::parse(&written).unwrap();
        assert_eq!(first.source, "our \"bakes\"\n.csv, learned 2026-05-03");
        assert!(!first.correlations.is_empty());
        assert_eq!(text(&first), written);
        for (name, uncertainty) in [
            (
                "window_open",
                "judged = true\nnote = \"by judgement\"\nstanding = \"assumed\"",
            ),
            (
                "dough_ml_per_100g",
                "range = [100.5, 1e3]\nsource = \"elsewhere\"",
            ),
            ("biga_ml_per_100g", "exact = true\nlocus = \"page 3\""),
        ] {
            let _ = write!(written, "\n[values.{name}]\nvalue = 200.0\n{uncertainty}\n");
        }
        let table = pointage::table::parse(&written).unwrap();
        assert_eq!(pointage::table::parse(&text(&table)).unwrap(), table);
    }
}
