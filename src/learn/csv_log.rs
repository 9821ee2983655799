//! A log as text: CSV in memory to cells with their line and column. The header carries the units.

use crate::error::{Error, Result, echo};
use crate::rows::Rows;
use crate::units::{Mass, Temperature};

/// Longest log that is read, bytes: a row a day for a thousand years.
const LARGEST: usize = 16 << 20;

/// A row that could not be used, and why.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
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
    #[must_use]
    pub fn row(line: u64, why: impl Into<String>) -> Self {
        Self {
            line,
            column: String::new(),
            why: why.into(),
        }
    }
}

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.column.is_empty() {
            write!(f, "line {}: {}", self.line, self.why)
        } else {
            write!(
                f,
                "line {}, column {}: {}",
                self.line, self.column, self.why
            )
        }
    }
}

/// A header and its rows.
pub(crate) struct Sheet {
    header: Vec<String>,
    rows: Vec<(u64, csv::StringRecord)>,
}

/// A column that may be written in several units: its name and the factor or unit that it brings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Column {
    index: usize,
    unit: Unit,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Unit {
    None,
    /// Grams in one.
    Grams(f64),
    Celsius,
    Fahrenheit,
    /// Hours in one.
    Hours(f64),
}

/// Endings of a mass, and the grams in one (pound and ounce: international avoirdupois, exact).
const MASSES: [(&str, f64); 4] = [
    ("_g", 1.0),
    ("_kg", 1000.0),
    ("_lb", 453.592_37),
    ("_oz", 453.592_37 / 16.0),
];

impl Sheet {
    pub(crate) fn read(text: &str) -> Result<Self> {
        if text.len() > LARGEST {
            return Err(Error::malformed(
                "the log is larger than 16 MiB; check that it is the right file",
            ));
        }
        let rows = Rows::begin(text)?;
        let header: Vec<String> = rows.header.iter().map(str::to_owned).collect();
        for (i, name) in header.iter().enumerate() {
            if header[..i].contains(name) {
                return Err(Error::malformed(format!(
                    "line 1: there are two columns {:?}; drop one",
                    echo(name)
                )));
            }
        }
        let rows = rows.collect::<Result<_>>()?;
        Ok(Self { header, rows })
    }

    pub(crate) fn header(&self) -> &[String] {
        &self.header
    }

    pub(crate) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|(line, cells)| Row {
            sheet: self,
            line: *line,
            cells,
        })
    }

    fn find(&self, name: &str) -> Option<usize> {
        self.header.iter().position(|h| h == name)
    }

    pub(crate) fn plain(&self, name: &str) -> Option<Column> {
        self.find(name).map(|index| Column {
            index,
            unit: Unit::None,
        })
    }

    /// The mass column of this name, in whichever unit it has.
    pub(crate) fn mass(&self, name: &str) -> Result<Option<Column>> {
        self.one_of(
            name,
            MASSES.map(|(ending, grams)| (format!("{name}{ending}"), Unit::Grams(grams))),
        )
    }

    /// The temperature column of this name, `_c` or `_f`.
    pub(crate) fn temperature(&self, name: &str) -> Result<Option<Column>> {
        self.one_of(
            name,
            [
                (format!("{name}_c"), Unit::Celsius),
                (format!("{name}_f"), Unit::Fahrenheit),
            ],
        )
    }

    /// The column `hours` or `minutes`.
    pub(crate) fn time(&self) -> Result<Option<Column>> {
        self.one_of(
            "time",
            [
                ("hours".to_owned(), Unit::Hours(1.0)),
                ("minutes".to_owned(), Unit::Hours(1.0 / 60.0)),
            ],
        )
    }

    fn one_of<const N: usize>(
        &self,
        what: &str,
        choices: [(String, Unit); N],
    ) -> Result<Option<Column>> {
        let mut found: Option<(String, Column)> = None;
        for (name, unit) in choices {
            if let Some(index) = self.find(&name) {
                if let Some((other, _)) = &found {
                    return Err(Error::contradiction(format!(
                        "line 1: {what} is given twice, as {other} and as {name}; keep one column"
                    )));
                }
                found = Some((name, Column { index, unit }));
            }
        }
        Ok(found.map(|(_, column)| column))
    }

    /// Refuses columns that mean nothing here.
    pub(crate) fn only(&self, known: &[&str], is_known: impl Fn(&str) -> bool) -> Result<()> {
        match self.header.iter().find(|h| !is_known(h)) {
            None => Ok(()),
            Some(name) => {
                Err(Error::unknown_name("column", name, known.iter().copied()).at("line 1"))
            }
        }
    }

    pub(crate) fn missing(&self, name: &str) -> Error {
        let found: Vec<String> = self.header.iter().take(12).map(|h| echo(h)).collect();
        Error::malformed(format!(
            "line 1: no column {name} (found: {}); the header carries the units",
            found.join(", ")
        ))
    }
}

/// True for the name with one of the endings of a mass.
pub(crate) fn is_mass(header: &str, name: &str) -> bool {
    header
        .strip_prefix(name)
        .is_some_and(|rest| MASSES.iter().any(|(ending, _)| *ending == rest))
}

/// True for the name with one of the endings of a temperature.
pub(crate) fn is_temperature(header: &str, name: &str) -> bool {
    matches!(header.strip_prefix(name), Some("_c" | "_f"))
}

/// One row.
pub(crate) struct Row<'s> {
    sheet: &'s Sheet,
    pub(crate) line: u64,
    cells: &'s csv::StringRecord,
}

impl Row<'_> {
    /// A refusal of this row for a cell of it.
    pub(crate) fn refuse(&self, column: Option<Column>, why: &Error) -> Refused {
        Refused {
            line: self.line,
            column: column.map_or_else(String::new, |c| self.sheet.header[c.index].clone()),
            why: why.to_string(),
        }
    }

    /// Too many or too few cells.
    pub(crate) fn check_length(&self) -> std::result::Result<(), Refused> {
        let (have, need) = (self.cells.len(), self.sheet.header.len());
        if have == need {
            return Ok(());
        }
        let why = Error::cells(have as u64, need as u64);
        Err(self.refuse(None, &why))
    }

    /// The text of a cell; empty where the column is missing.
    pub(crate) fn text(&self, column: Option<Column>) -> &str {
        column.and_then(|c| self.cells.get(c.index)).unwrap_or("")
    }

    /// A number; `None` for an empty cell.
    pub(crate) fn number(
        &self,
        column: Option<Column>,
    ) -> std::result::Result<Option<f64>, Refused> {
        let text = self.text(column);
        if text.is_empty() {
            return Ok(None);
        }
        match text.parse::<f64>().ok().filter(|v| v.is_finite()) {
            Some(v) => Ok(Some(v)),
            None => {
                let why = Error::text("a number", text, "a plain number such as 19.5");
                Err(self.refuse(column, &why))
            }
        }
    }

    pub(crate) fn mass(
        &self,
        column: Option<Column>,
    ) -> std::result::Result<Option<Mass>, Refused> {
        let Some(value) = self.number(column)? else {
            return Ok(None);
        };
        let grams = match column.map(|c| c.unit) {
            Some(Unit::Grams(grams)) => value * grams,
            _ => value,
        };
        match Mass::grams(grams) {
            Ok(mass) => Ok(Some(mass)),
            Err(e) => Err(self.refuse(column, &e)),
        }
    }

    pub(crate) fn temperature(
        &self,
        column: Option<Column>,
    ) -> std::result::Result<Option<Temperature>, Refused> {
        let Some(value) = self.number(column)? else {
            return Ok(None);
        };
        let read = match column.map(|c| c.unit) {
            Some(Unit::Fahrenheit) => Temperature::fahrenheit(value),
            _ => Temperature::celsius(value),
        };
        match read {
            Ok(t) => Ok(Some(t)),
            Err(e) => Err(self.refuse(column, &e)),
        }
    }

    pub(crate) fn hours(
        &self,
        column: Option<Column>,
    ) -> std::result::Result<Option<f64>, Refused> {
        let Some(value) = self.number(column)? else {
            return Ok(None);
        };
        Ok(Some(match column.map(|c| c.unit) {
            Some(Unit::Hours(hours)) => value * hours,
            _ => value,
        }))
    }

    /// The value, or a refusal because the cell is empty.
    pub(crate) fn needed<T>(
        &self,
        column: Option<Column>,
        value: Option<T>,
    ) -> std::result::Result<T, Refused> {
        value.ok_or_else(|| self.refuse(column, &Error::malformed("the cell is empty; fill it in")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_of_masses_and_temperatures() {
        for header in ["flour_g", "flour_kg", "flour_lb", "flour_oz"] {
            assert!(is_mass(header, "flour"), "{header}");
            assert!(!is_mass(header, "water"), "{header}");
            assert!(!is_temperature(header, "flour"), "{header}");
        }
        for header in ["flour_c", "flour_f"] {
            assert!(is_temperature(header, "flour"), "{header}");
            assert!(!is_temperature(header, "water"), "{header}");
            assert!(!is_mass(header, "flour"), "{header}");
        }
        for header in ["flour", "flour_", "flourg", "flour_g_", "flour_min"] {
            assert!(!is_mass(header, "flour") && !is_temperature(header, "flour"));
        }
    }

    /// 16 MiB, 16 777 216 bytes, are read; a byte more is not.
    #[test]
    fn a_file_that_is_no_log_is_refused_for_its_size() {
        let mut text = String::from("a\n#");
        text.extend(std::iter::repeat_n('x', 16_777_216 - text.len()));
        assert!(Sheet::read(&text).is_ok());
        for more in ["x", "xx"] {
            text += more;
            let error = Sheet::read(&text).err().unwrap();
            assert!(error.to_string().contains("larger than 16 MiB"), "{error}");
        }
    }
}
