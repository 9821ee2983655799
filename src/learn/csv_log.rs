//! A log as CSV text: cells with their line and column. The header carries the units.

use crate::error::{Error, Result, check, echo};
use crate::rows::{CellFormat, Rows};
use crate::units::{Mass, Temperature};

/// Longest log that is read, bytes: a row a day for a thousand years.
const LARGEST: usize = 16 << 20;

/// A row that could not be used, and why.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Refused {
    /// Line of the log, the header being line 1.
    pub line: u64,
    /// Column as the header names it; empty when the whole row is meant.
    pub column: String,
    /// What is wrong and how to mend it.
    pub why: String,
}

impl Refused {
    /// A refusal of a whole row.
    pub(crate) fn row(line: u64, why: &Error) -> Self {
        Self {
            line,
            column: String::new(),
            why: why.to_string(),
        }
    }
}

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (line, why) = (self.line, &self.why);
        match self.column.as_str() {
            "" => write!(f, "line {line}: {why}"),
            column => write!(f, "line {line}, column {column}: {why}"),
        }
    }
}

/// What is read from a row, or why it cannot be used.
pub(crate) type Read<T> = std::result::Result<T, Refused>;

/// Endings of a mass, and the grams in one (pound and ounce: international avoirdupois, exact).
const MASSES: [(&str, f64); 4] = [
    ("_g", 1.0),
    ("_kg", 1000.0),
    ("_lb", 453.592_37),
    ("_oz", 453.592_37 / 16.0),
];
/// Endings of a temperature, which converts itself.
const TEMPERATURES: [(&str, f64); 2] = [("_c", 1.0), ("_f", 1.0)];
/// Names of a time, and the hours in one.
const TIMES: [(&str, f64); 2] = [("hours", 1.0), ("minutes", 1.0 / 60.0)];

/// What a column is called without its unit, and its units, by the name that it has with the first of them.
fn units(name: &str) -> (&str, &'static [(&'static str, f64)]) {
    [&MASSES[..], &TEMPERATURES, &TIMES]
        .into_iter()
        .find_map(|units| Some((name.strip_suffix(units[0].0)?, units)))
        .unwrap_or((name, &[("", 1.0)]))
}

/// A header and its rows. Columns are asked for by the name with their first unit, such as `flour_g`.
pub(crate) struct CsvLog {
    header: Vec<String>,
    format: CellFormat,
    /// Name, place and factor of the columns that are there.
    columns: Vec<(String, usize, f64)>,
    rows: Vec<(u64, csv::StringRecord)>,
}

impl CsvLog {
    /// Reads a log with the columns that it needs and those that it may have, in any of their units, and plain ones
    /// for which `is_more` holds.
    pub(crate) fn read(
        text: &str,
        needed: &[&str],
        more: &[&str],
        is_more: impl Fn(&str) -> bool,
    ) -> Result<Self> {
        if text.len() > LARGEST {
            return Err(Error::malformed(
                "the log is larger than 16 MiB; check that it is the right file",
            ));
        }
        let rows = Rows::begin(text)?;
        let header: Vec<String> = rows.header.iter().map(str::to_owned).collect();
        let mut columns: Vec<(String, usize, f64)> = Vec::new();
        for (index, header_name) in header.iter().enumerate() {
            let known = || needed.iter().chain(more).copied();
            let as_known = known().find_map(|name| {
                let (stem, units) = units(name);
                let ending = header_name.strip_prefix(stem)?;
                let (_, factor) = units.iter().find(|(unit, _)| *unit == ending)?;
                Some((name, *factor))
            });
            let (name, factor) = match as_known {
                Some(known) => known,
                None if is_more(header_name) => (header_name.as_str(), 1.0),
                None => {
                    return Err(Error::unknown_name("column", header_name, known()).at("line 1"));
                }
            };
            if let Some((_, other, _)) = columns.iter().find(|c| c.0 == name) {
                return Err(Error::contradiction(format!(
                    "line 1: {} is given twice, as {} and as {}; keep one column",
                    echo(if name == "hours" {
                        "time"
                    } else {
                        units(name).0
                    }),
                    echo(&header[*other]),
                    echo(header_name)
                )));
            }
            columns.push((name.to_owned(), index, factor));
        }
        let log = Self {
            format: rows.format,
            rows: rows.rest()?,
            columns,
            header,
        };
        match needed.iter().find(|name| log.column(name).is_none()) {
            None => Ok(log),
            Some(name) => Err(log.missing(name)),
        }
    }

    pub(crate) fn header(&self) -> &[String] {
        &self.header
    }

    /// Place and factor of a column.
    pub(crate) fn column(&self, name: &str) -> Option<(usize, f64)> {
        let column = self.columns.iter().find(|c| c.0 == name)?;
        Some((column.1, column.2))
    }

    pub(crate) fn missing(&self, name: &str) -> Error {
        Rows::missing(
            &self.header.iter().collect(),
            name,
            "the header carries the units",
        )
    }

    /// What each row is read as, and the rows that could not be used.
    pub(crate) fn each<T>(
        &self,
        mut read: impl FnMut(&CsvRow<'_>) -> Read<T>,
    ) -> (Vec<T>, Vec<Refused>) {
        let (mut good, mut refused) = (Vec::new(), Vec::new());
        let need = self.header.len();
        for (line, cells) in &self.rows {
            let (log, line) = (self, *line);
            let read = if cells.len() == need {
                read(&CsvRow { log, line, cells })
            } else {
                let why = Error::cells(cells.len() as u64, need as u64);
                Err(Refused::row(line, &why))
            };
            match read {
                Ok(value) => good.push(value),
                Err(why) => refused.push(why),
            }
        }
        (good, refused)
    }
}

/// One row.
pub(crate) struct CsvRow<'l> {
    log: &'l CsvLog,
    pub(crate) line: u64,
    cells: &'l csv::StringRecord,
}

impl CsvRow<'_> {
    /// A refusal of this row for a cell of it.
    pub(crate) fn refuse(&self, name: &str) -> impl Fn(Error) -> Refused {
        let column = self.log.column(name);
        let column = column.map_or_else(String::new, |(i, _)| self.log.header[i].clone());
        let line = self.line;
        move |why| Refused {
            line,
            column: column.clone(),
            why: why.to_string(),
        }
    }

    /// The text of a cell; empty where the column is missing.
    pub(crate) fn text(&self, name: &str) -> &str {
        let column = self.log.column(name);
        column.and_then(|(i, _)| self.cells.get(i)).unwrap_or("")
    }

    /// A number in the column's first unit; `None` for an empty cell.
    pub(crate) fn number(&self, name: &str) -> Read<Option<f64>> {
        let text = self.text(name);
        if text.is_empty() {
            return Ok(None);
        }
        let factor = self.log.column(name).map_or(1.0, |(_, factor)| factor);
        let plain = self.log.format.plain(text).map_err(self.refuse(name))?;
        let value = plain.parse::<f64>().ok().filter(|v| v.is_finite());
        let why = || Error::text("a number", text, "a plain number such as 19.5");
        let value = value.ok_or_else(why).map_err(self.refuse(name))?;
        Ok(Some(value * factor))
    }

    pub(crate) fn mass(&self, name: &str) -> Read<Option<Mass>> {
        let mass = self.number(name)?.map(Mass::grams);
        mass.transpose().map_err(self.refuse(name))
    }

    /// A mass above 0 of what went into `what`.
    pub(crate) fn ingredient(&self, name: &str, what: &str) -> Read<Mass> {
        let mass = self.needed(name, self.mass(name)?)?;
        if mass.as_grams() > 0.0 {
            return Ok(mass);
        }
        let why = Error::malformed(format!("is 0; give what went into the {what}"));
        Err(self.refuse(name)(why))
    }

    pub(crate) fn temperature(&self, name: &str) -> Read<Option<Temperature>> {
        let column = self.log.column(name);
        let fahrenheit = column.is_some_and(|(i, _)| self.log.header[i].ends_with("_f"));
        let read = if fahrenheit {
            Temperature::fahrenheit
        } else {
            Temperature::celsius
        };
        let temperature = self.number(name)?.map(read);
        temperature.transpose().map_err(self.refuse(name))
    }

    /// The value, or a refusal because the cell is empty.
    pub(crate) fn needed<T>(&self, name: &str, value: Option<T>) -> Read<T> {
        value.ok_or_else(|| self.refuse(name)(Error::malformed("the cell is empty; fill it in")))
    }

    /// The value where it lies in its range.
    pub(crate) fn check(
        &self,
        name: &str,
        (what, unit): (&str, &'static str),
        value: f64,
        (low, high): (f64, f64),
    ) -> Read<f64> {
        check(what, value, low, high, unit).map_err(self.refuse(name))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One column in every unit it may have is the same number in the first.
    #[test]
    fn units_are_in_the_header() {
        for (name, header, cell, value) in [
            ("flour_g", "flour_g", "2", 2.0),
            ("flour_g", "flour_kg", "2", 2000.0),
            ("flour_g", "flour_lb", "2", 907.184_74),
            ("flour_g", "flour_oz", "16", 453.592_37),
            ("hours", "hours", "2", 2.0),
            ("hours", "minutes", "90", 1.5),
            ("rate", "rate", "7", 7.0),
        ] {
            let log = CsvLog::read(&format!("{header}\n{cell}\n"), &[name], &[], |_| false);
            let (values, _) = log.unwrap().each(|row| row.number(name));
            assert!((values[0].unwrap() - value).abs() < 1e-9, "{header}");
        }
        let log = CsvLog::read("room_f\n68\n", &["room_c"], &[], |_| false).unwrap();
        let (values, _) = log.each(|row| row.temperature("room_c"));
        assert!((values[0].unwrap().as_celsius() - 20.0).abs() < 1e-12);
        for header in [
            "flour",
            "flour_",
            "flourg",
            "flour_g_",
            "flour_min",
            "water_g",
        ] {
            let log = CsvLog::read(&format!("{header}\n"), &[], &["flour_g", "flour_c"], |_| {
                false
            });
            assert!(log.is_err(), "{header}");
        }
    }

    /// 16 MiB, 16 777 216 bytes, are read; a byte more is not.
    #[test]
    fn a_file_that_is_no_log_is_refused_for_its_size() {
        let mut text = String::from("a\n#");
        text.extend(std::iter::repeat_n('x', 16_777_216 - text.len()));
        assert!(CsvLog::read(&text, &["a"], &[], |_| false).is_ok());
        for more in ["x", "xx"] {
            text += more;
            let error = CsvLog::read(&text, &["a"], &[], |_| false).err().unwrap();
            assert!(error.to_string().contains("larger than 16 MiB"), "{error}");
        }
    }
}
