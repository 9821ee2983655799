//! The rows of a table as people save it. A row is a line: a forgotten quote takes no other row with it unsaid.

use crate::error::{Error, Result, echo};
use std::borrow::Cow;

/// How a table separates its cells and writes its numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CellFormat {
    separator: u8,
    decimal_commas: bool,
}

impl CellFormat {
    /// Sees it from a text, or from its beginning: commas, semicolons or tabs in the header, and the numbers below.
    ///
    /// # Errors
    /// A header with commas and semicolons.
    ///
    /// ```
    /// use pointage::rows::CellFormat;
    /// let german = CellFormat::of("hours;temperature_c\n0;19,5\n")?;
    /// assert_eq!((german.separator(), &*german.plain("19,5")?), (b';', "19.5"));
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn of(text: &str) -> Result<Self> {
        let is_header = |line: &&str| !line.trim().is_empty() && !line.starts_with('#');
        let mut lines = text.lines().zip(1_u64..);
        let (header, line) = lines.find(|(line, _)| is_header(line)).unwrap_or(("", 1));
        // What stands in quotes separates nothing.
        let bare: String = header.split('"').step_by(2).collect();
        let separator = match (bare.contains('\t'), bare.contains(';'), bare.contains(',')) {
            (true, ..) => b'\t',
            (_, true, false) => b';',
            (_, true, true) => {
                let why = "the header has commas and semicolons; separate its cells by one of them, and put a name with the other in quotes";
                return Err(Error::malformed(why).at(format!("line {line}")));
            }
            _ => b',',
        };
        let body = text.as_bytes();
        let digit = |i: usize| body.get(i).is_some_and(u8::is_ascii_digit);
        let marks = |mark: u8| {
            let at = move |i: &usize| body[*i] == mark && *i > 0 && digit(i - 1) && digit(i + 1);
            (0..body.len()).filter(at)
        };
        // Three digits behind a comma may as well be thousands.
        let is_decimal = |i: usize| !(digit(i + 2) && digit(i + 3)) || digit(i + 4);
        let decimal_commas = match separator {
            b',' => false,
            // Semicolons are what a spreadsheet writes where the comma is a decimal one.
            b';' => marks(b',').next().is_some() || marks(b'.').next().is_none(),
            _ => marks(b',').any(is_decimal),
        };
        Ok(Self {
            separator,
            decimal_commas,
        })
    }

    /// What stands between two cells.
    #[must_use]
    pub fn separator(self) -> u8 {
        self.separator
    }

    /// A cell with its number, if it begins with one, written with a decimal point.
    ///
    /// # Errors
    /// A number whose mark may be that of decimals or of thousands.
    pub fn plain(self, cell: &str) -> Result<Cow<'_, str>> {
        if !self.decimal_commas && !cell.as_bytes().contains(&b',') {
            return Ok(cell.into());
        }
        let is_number = |c: char| c.is_ascii_digit() || "+-.,".contains(c);
        let number = cell.trim_start_matches(is_number);
        let number = &cell[..cell.len() - number.len()];
        let (mark, sure) = match (number.matches(',').count(), number.contains('.')) {
            (1, false) => (',', self.decimal_commas),
            (0, true) => ('.', !self.decimal_commas),
            _ => return Ok(cell.into()),
        };
        let (whole, rest) = number.split_once(mark).unwrap_or_default();
        let digits = whole.trim_start_matches(['+', '-']);
        let is_grouped = rest.len() == 3 && (1..4).contains(&digits.len()) && digits != "0";
        if is_grouped && !sure {
            let (cell, fraction) = (echo(cell), &rest[..3]);
            return Err(Error::malformed(format!(
                "{cell:?} is {whole}.{fraction} or {whole}{fraction}: write a whole number without a mark, a fraction with one digit more or fewer"
            )));
        }
        Ok(match mark {
            ',' => cell.replacen(',', ".", 1).into(),
            _ => cell.into(),
        })
    }

    /// A number with a decimal point as this table writes it.
    #[must_use]
    pub fn written(self, number: &str) -> String {
        match self.decimal_commas {
            true => number.replace('.', ","),
            false => number.to_owned(),
        }
    }
}

/// The rows behind the header, each with the line on which it stands.
pub(crate) struct Rows<'t> {
    text: &'t str,
    reader: csv::Reader<&'t [u8]>,
    pub format: CellFormat,
    /// The cells of the first row.
    pub header: csv::StringRecord,
}

impl<'t> Rows<'t> {
    /// Reads the header.
    pub(crate) fn begin(text: &'t str) -> Result<Self> {
        // Spreadsheets put a byte order mark in front.
        let text = text.trim_start_matches('\u{feff}');
        let format = CellFormat::of(text)?;
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(format.separator())
            .comment(Some(b'#'))
            .flexible(true)
            .from_reader(text.as_bytes());
        let fault = |e: csv::Error| Error::malformed(e.to_string()).at("line 1");
        let header = reader.headers().map_err(fault)?.clone();
        let mut rows = Self {
            text,
            reader,
            format,
            header,
        };
        ends_with_its_line(&rows.header, rows.line_of(&rows.header))?;
        rows.header.trim();
        Ok(rows)
    }

    /// The error for a column that is not there. Names that are none are not repeated: the file may be no table at all.
    pub(crate) fn missing(header: &csv::StringRecord, name: &str, hint: &str) -> Error {
        let is_name = |h: &&str| h.chars().all(|c| c.is_alphanumeric() || "_- ".contains(c));
        let found = header.iter().filter(is_name).take(12).map(echo);
        let found = found.collect::<Vec<_>>().join(", ");
        Error::malformed(format!("line 1: no column {name} (found: {found}); {hint}"))
    }

    /// The line of a record. The reader's position may be that of a remark or an empty line before it.
    fn line_of(&self, record: &csv::StringRecord) -> u64 {
        let Some(position) = record.position() else {
            return 1;
        };
        let from = usize::try_from(position.byte()).unwrap_or(usize::MAX);
        let rest = self.text.get(from..).unwrap_or("");
        // Of most records the position is their own: no line of them is looked at.
        if !rest.starts_with(['\n', '\r', '#']) {
            return position.line();
        }
        let no_row = |line: &&str| line.is_empty() || line.starts_with('#');
        position.line() + rest.lines().take_while(no_row).count() as u64
    }
}

impl Rows<'_> {
    /// Reads the next row into one that is used again; the line on which it stands, `None` behind the last.
    pub(crate) fn read(&mut self, row: &mut csv::StringRecord) -> Result<Option<u64>> {
        let fault = |e: csv::Error| Error::malformed(e.to_string());
        if !self.reader.read_record(row).map_err(fault)? {
            return Ok(None);
        }
        let line = self.line_of(row);
        // Most rows have no line break in a cell, and nothing to trim.
        if !row.as_slice().bytes().all(|b| b.is_ascii_graphic()) {
            // Not before: a line break at the end of a cell would be trimmed away.
            ends_with_its_line(row, line)?;
            row.trim();
        }
        Ok(Some(line))
    }

    /// All rows that are left.
    #[cfg(any(feature = "learn", test))]
    pub(crate) fn rest(mut self) -> Result<Vec<(u64, csv::StringRecord)>> {
        let (mut all, mut row) = (Vec::new(), csv::StringRecord::new());
        while let Some(line) = self.read(&mut row)? {
            all.push((line, row.clone()));
        }
        Ok(all)
    }
}

fn ends_with_its_line(record: &csv::StringRecord, line: u64) -> Result<()> {
    let breaks = |byte: &u8| matches!(byte, b'\n' | b'\r');
    if !record.as_slice().as_bytes().iter().any(breaks) {
        return Ok(());
    }
    let why = "a quote opens and does not close on its line; close it, or take the line break out of the cell";
    Err(Error::malformed(why).at(format!("line {line}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What spreadsheets and loggers save; the readings are those of the places where they do.
    #[test]
    fn numbers_are_read_as_their_table_writes_them() {
        for (table, cell, read) in [
            ("a,b\n", "19.125", Some("19.125")),
            ("a,b\n", "19,5", Some("19.5")),
            ("a,b\n", "1,250", None),
            ("a;b\n1;2,5\n", "19,125", Some("19.125")),
            ("a;b\n1;2,5\n", "1.250", None),
            ("a;b\n1;2,5\n", "0.250", Some("0.250")),
            ("a;b\n1;2.5\n", "1.250", Some("1.250")),
            ("a;b\n1;2\n", "-0,3%", Some("-0.3%")),
            ("a\tb\n1\t2,5\n", "19,125", Some("19.125")),
            ("a\tb\n1\t2\n", "19,125", None),
            ("a\tb\n1\t19,125\n", "19,125", None),
            ("a;b\n", "07:30", Some("07:30")),
            ("a;b\n", "1,2,3", Some("1,2,3")),
            ("a;b\n", "28.11.2026", Some("28.11.2026")),
            ("a;b\n", "mild, 1,250", Some("mild, 1,250")),
        ] {
            let plain = CellFormat::of(table).unwrap().plain(cell).ok();
            assert_eq!(plain.as_deref(), read, "{table:?} {cell}");
        }
        let error = CellFormat::of("# x\na,b;c\n").unwrap_err().to_string();
        assert!(
            error.starts_with("line 2: the header has commas and"),
            "{error}"
        );
        assert_eq!(CellFormat::of("\"a,b\";c\n").unwrap().separator(), b';');
    }

    #[test]
    fn rows_know_their_lines() {
        let text = "\u{feff}# first\na, b\r\n\n# x\n1, 2\n\"3, 4\" ,5\n#\n6";
        let rows = Rows::begin(text).unwrap();
        assert_eq!(rows.header, vec!["a", "b"]);
        let rows = rows.rest().unwrap();
        let cells: Vec<Vec<&str>> = rows.iter().map(|(_, row)| row.iter().collect()).collect();
        assert_eq!(cells, [vec!["1", "2"], vec!["3, 4", "5"], vec!["6"]]);
        let lines: Vec<u64> = rows.iter().map(|(line, _)| *line).collect();
        assert_eq!(lines, [5, 6, 8]);
    }

    /// A quote that stays open, whether another one closes it by chance or none does.
    #[test]
    fn an_open_quote_is_told_by_its_line() {
        let told = |text: &str| match Rows::begin(text) {
            Ok(rows) => rows.rest().unwrap_err().to_string(),
            Err(e) => e.to_string(),
        };
        for (text, line) in [
            ("a,b\n1,2\n\n3,\"4\n5,6\n", 4),
            ("a,b\n3,\"4\n5,\"6\"\n", 2),
            ("a,b\r\n3,\"4\r\n5,6\r\n", 2),
            ("# x\na,\"b\n3,4\n", 2),
            ("a,b\n1,2\n3,\"\n5,6\n", 3),
            ("a,b\n1,\"\n3,4\n5,\"\n", 2),
            ("a,b\n1,\"2\n", 2),
        ] {
            let said = told(text);
            let wanted = format!("line {line}: a quote opens and does not close on its line");
            assert!(said.contains(&wanted), "{said}");
        }
    }
}
