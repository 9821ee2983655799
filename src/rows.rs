//! The rows of a CSV text. A row is a line: a forgotten quote takes no other row with it unsaid.

use crate::error::{Error, Result};

/// The rows behind the header, each with the line on which it stands.
pub(crate) struct Rows<'t> {
    text: &'t str,
    reader: csv::Reader<&'t [u8]>,
    /// The cells of the first row.
    pub header: csv::StringRecord,
}

impl<'t> Rows<'t> {
    /// Reads the header.
    pub(crate) fn begin(text: &'t str) -> Result<Self> {
        // Spreadsheets put a byte order mark in front.
        let text = text.trim_start_matches('\u{feff}');
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .flexible(true)
            .from_reader(text.as_bytes());
        let header = reader
            .headers()
            .map_err(|e| Error::malformed(e.to_string()).at("line 1"))?
            .clone();
        let mut rows = Self {
            text,
            reader,
            header,
        };
        ends_with_its_line(&rows.header, rows.line_of(&rows.header))?;
        rows.header.trim();
        Ok(rows)
    }

    /// The line of a record. The reader's position may be that of a remark or an empty line before it.
    fn line_of(&self, record: &csv::StringRecord) -> u64 {
        let Some(position) = record.position() else {
            return 1;
        };
        let from = usize::try_from(position.byte()).unwrap_or(usize::MAX);
        let rest = self.text.get(from..).unwrap_or("");
        let no_row = |line: &&str| line.is_empty() || line.starts_with('#');
        position.line() + rest.lines().take_while(no_row).count() as u64
    }
}

impl Iterator for Rows<'_> {
    type Item = Result<(u64, csv::StringRecord)>;

    fn next(&mut self) -> Option<Self::Item> {
        let mut record = csv::StringRecord::new();
        match self.reader.read_record(&mut record) {
            Ok(false) => None,
            Ok(true) => {
                let line = self.line_of(&record);
                let ends = ends_with_its_line(&record, line);
                // Not before: a line break at the end of a cell would be trimmed away.
                record.trim();
                Some(ends.map(|()| (line, record)))
            }
            Err(e) => Some(Err(Error::malformed(e.to_string()))),
        }
    }
}

fn ends_with_its_line(record: &csv::StringRecord, line: u64) -> Result<()> {
    if !record.as_slice().contains(['\n', '\r']) {
        return Ok(());
    }
    let why = "a quote opens and does not close on its line; close it, or take the line break out of the cell";
    Err(Error::malformed(why).at(format!("line {line}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_know_their_lines() {
        let text = "\u{feff}# first\na, b\r\n\n# x\n1, 2\n\"3, 4\" ,5\n#\n6";
        let rows = Rows::begin(text).unwrap();
        assert_eq!(rows.header, vec!["a", "b"]);
        let rows: Vec<_> = rows.map(|row| row.unwrap()).collect();
        let cells: Vec<Vec<&str>> = rows.iter().map(|(_, row)| row.iter().collect()).collect();
        assert_eq!(cells, [vec!["1", "2"], vec!["3, 4", "5"], vec!["6"]]);
        let lines: Vec<u64> = rows.iter().map(|(line, _)| *line).collect();
        assert_eq!(lines, [5, 6, 8]);
    }

    /// A quote that stays open, whether another one closes it by chance or none does.
    #[test]
    fn an_open_quote_is_told_by_its_line() {
        let told = |text: &str| match Rows::begin(text) {
            Ok(rows) => rows
                .map(|row| row.err())
                .find_map(|e| e)
                .unwrap()
                .to_string(),
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
