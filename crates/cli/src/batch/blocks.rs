//! A CSV in blocks of whole lines, and lines in cells.

use super::super::exit::Failure;
use csv_core::{ReadRecordResult, Reader, ReaderBuilder};
use pointage::Error;
use pointage::rows::CellFormat;
use std::io::{BufRead, Read};

/// Bytes read at a time: large enough that a block outweighs its handling, small enough that all cores'
/// blocks together are a few megabytes.
const BLOCK_BYTES: u64 = 1 << 17;
/// Longest row, bytes.
const ROW_BYTES: usize = 1 << 20;

/// Whole lines, and what became of them.
#[derive(Default)]
pub struct Block {
    bytes: Vec<u8>,
    lines_before: u64,
    /// The answers, as they are written.
    pub answers: Vec<u8>,
    /// BlockRows answered.
    pub rows: u64,
    /// What is wrong with those that have none, with line and column.
    pub faults: Vec<Error>,
}

impl Block {
    /// How the table is written, of which this is the beginning.
    pub fn format(&self) -> Result<CellFormat, Error> {
        CellFormat::of(&String::from_utf8_lossy(&self.bytes))
    }

    /// Takes off its first row, the header.
    pub fn take_header(&mut self, separator: u8) -> Option<Vec<String>> {
        let mut rows = self.rows(separator);
        let name = |cell: &[u8]| String::from_utf8_lossy(cell.trim_ascii()).into_owned();
        let header =
            (rows.advance()).then(|| (0..rows.width).map(|i| name(rows.cell(i))).collect());
        let (left, lines) = (rows.rest.len(), rows.next_line - 1);
        self.bytes.drain(..self.bytes.len() - left);
        self.lines_before = lines;
        header
    }

    pub fn rows(&self, separator: u8) -> BlockRows<'_> {
        BlockRows {
            rest: &self.bytes,
            next_line: self.lines_before + 1,
            core: ReaderBuilder::new()
                .delimiter(separator)
                .comment(Some(b'#'))
                .build(),
            text: Vec::new(),
            ends: Vec::new(),
            width: 0,
            line: 0,
            is_open: false,
            is_ascii: true,
            has_commas: false,
        }
    }
}

/// The rows of a block. A row is a line, so that a forgotten quote takes no other rows with it.
pub struct BlockRows<'a> {
    rest: &'a [u8],
    next_line: u64,
    core: Reader,
    text: Vec<u8>,
    /// Where its cells end in `text`, and how many they are.
    ends: Vec<usize>,
    pub width: usize,
    /// The line of the row.
    pub line: u64,
    /// A quote opens in the row and does not close.
    pub is_open: bool,
    /// The row is plain ASCII, and so certainly text.
    pub is_ascii: bool,
    /// A cell of the row has a comma.
    pub has_commas: bool,
}

impl BlockRows<'_> {
    /// Goes to the next row; false behind the last. Blank lines and comments are none.
    pub fn advance(&mut self) -> bool {
        while !self.rest.is_empty() {
            let end = self.rest.iter().position(|&b| b == b'\n');
            let line = &self.rest[..end.map_or(self.rest.len(), |at| at + 1)];
            if self.ends.len() <= line.len() {
                self.text.resize(line.len(), 0);
                self.ends.resize(line.len() + 1, 0);
            }
            let (result, read, written, mut cells) =
                (self.core).read_record(line, &mut self.text, &mut self.ends);
            self.line = self.next_line;
            self.next_line += u64::from(line[..read].ends_with(b"\n"));
            self.rest = &self.rest[read..];
            self.is_open = matches!(result, ReadRecordResult::InputEmpty) && written > 0;
            if self.is_open {
                self.ends[cells] = self.text[..written].trim_ascii_end().len();
                cells += 1;
                self.core.reset();
            }
            self.width = cells;
            self.is_ascii = self.text[..written].is_ascii();
            self.has_commas = self.text[..written].contains(&b',');
            if cells > 0 {
                return true;
            }
        }
        false
    }

    /// A cell as it stands there; nothing where the row is too short.
    pub fn cell(&self, i: usize) -> &[u8] {
        &self.text[self.end_of(i)..self.end_of(i + 1)]
    }

    /// Where the first cells of the row end.
    fn end_of(&self, cells: usize) -> usize {
        let last = cells.min(self.width).checked_sub(1);
        last.map_or(0, |last| self.ends[last])
    }

    /// A cell that is known to be text, without the blanks around it.
    pub fn trimmed(&self, i: usize) -> &str {
        std::str::from_utf8(self.cell(i).trim_ascii()).unwrap_or_default()
    }
}

/// Cuts what it reads into blocks.
pub struct Blocks {
    input: Box<dyn BufRead + Send>,
    name: String,
    lines: u64,
    /// Reported when the lines before it are answered.
    failed: Option<Failure>,
}

impl Blocks {
    pub fn new(input: Box<dyn BufRead + Send>, name: &str) -> Self {
        Self {
            input,
            name: name.to_owned(),
            lines: 0,
            failed: None,
        }
    }

    /// Fills a block with the next lines; false at the end.
    pub fn fill(&mut self, block: &mut Block) -> Result<bool, Failure> {
        let bytes = &mut block.bytes;
        bytes.clear();
        block.lines_before = self.lines;
        if self.failed.is_none() {
            let input = &mut self.input;
            let got = input.take(BLOCK_BYTES).read_to_end(bytes);
            let got = got.and_then(|_| input.take(ROW_BYTES as u64).read_until(b'\n', bytes));
            let end = bytes.iter().rposition(|&b| b == b'\n');
            let end = end.map_or(0, |at| at + 1);
            let is_long = bytes.len() - end >= ROW_BYTES;
            if got.is_ok() && !is_long && end < bytes.len() {
                bytes.push(b'\n');
            } else {
                bytes.truncate(end);
            }
            self.lines += bytes.iter().filter(|&&b| b == b'\n').count() as u64;
            let (name, line) = (&self.name, self.lines + 1);
            self.failed = match got {
                Err(e) => Some(Failure::File(format!("{name}: it cannot be read: {e}"))),
                Ok(_) if is_long => Some(Failure::Input(format!(
                    "{name}: line {line}: the row is longer than {} MiB; is it the right file?",
                    ROW_BYTES >> 20
                ))),
                Ok(_) => None,
            };
        }
        match self.failed.take_if(|_| bytes.is_empty()) {
            Some(failure) => Err(failure),
            None => Ok(!bytes.is_empty()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A row stands on its own line, behind remarks and empty lines; an open quote ends with it.
    #[test]
    fn the_line_of_a_row_is_its_own() {
        let block = Block {
            bytes: b"a,1\r\n# x\r\n\r\n\n#\nb,\"2\nc, \"\"\"d\"\n".to_vec(),
            ..Block::default()
        };
        let mut rows = block.rows(b',');
        let mut places = Vec::new();
        while rows.advance() {
            places.push((
                rows.line,
                rows.cell(0).to_vec(),
                rows.cell(1).to_vec(),
                rows.is_open,
            ));
        }
        let row = |line, a: &[u8], b: &[u8], open| (line, a.to_vec(), b.to_vec(), open);
        let expected = [row(1, b"a", b"1", false), row(6, b"b", b"2", true)];
        assert_eq!(places[..2], expected);
        assert_eq!((places[2].0, places[2].3), (7, false));
    }
}
