//! A CSV in blocks of whole rows.

use super::super::failure::Failure;
use super::fault::Fault;
use std::io::Read;

/// Bytes read at a time: large enough that a block outweighs its handling, small enough that all cores'
/// blocks together are a few megabytes.
const BLOCK_BYTES: usize = 1 << 17;
/// Longest row, bytes.
const ROW_BYTES: usize = 1 << 20;

/// Whole rows, and what became of them.
#[derive(Default)]
pub struct Block {
    bytes: Vec<u8>,
    /// Where the rows begin; the header, if any, stands before it.
    from: usize,
    /// Lines in front of the rows.
    pub lines_before: u64,
    /// The answers, as they are written.
    pub answers: Vec<u8>,
    /// Rows answered.
    pub rows: usize,
    pub faults: Vec<Fault>,
}

impl Block {
    pub fn header(&self) -> &[u8] {
        &self.bytes[..self.from]
    }

    pub fn rows(&self) -> &[u8] {
        &self.bytes[self.from..]
    }
}

/// How every reader here understands a CSV.
pub fn reader(bytes: &[u8]) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .from_reader(bytes)
}

/// Cuts what it reads into blocks.
pub struct Blocks {
    input: Box<dyn Read + Send>,
    name: String,
    /// What was read beyond the last block.
    rest: Vec<u8>,
    lines: u64,
    ended: bool,
}

impl Blocks {
    /// Reads the first block, which has the header.
    pub fn begin(input: Box<dyn Read + Send>, name: &str) -> Result<(Self, Block), Failure> {
        let mut blocks = Self {
            input,
            name: name.to_owned(),
            rest: Vec::new(),
            lines: 0,
            ended: false,
        };
        let mut first = Block::default();
        blocks.fill(&mut first)?;
        // Spreadsheets put a byte order mark in front.
        if first.bytes.starts_with(b"\xef\xbb\xbf") {
            first.bytes.drain(..3);
        }
        if first.bytes.trim_ascii().is_empty() {
            return Err(Failure::of_input(format!(
                "{name}: the file is empty; is it the right file?"
            )));
        }
        let mut reader = reader(&first.bytes);
        let mut header = csv::ByteRecord::new();
        // What cannot be read as a header is refused by whoever looks for its columns.
        let _ = reader.read_byte_record(&mut header);
        first.from = usize::try_from(reader.position().byte()).unwrap_or(first.bytes.len());
        first.lines_before = lines(&first.bytes[..first.from]);
        Ok((blocks, first))
    }

    /// Fills a block with the next rows; false at the end.
    pub fn fill(&mut self, block: &mut Block) -> Result<bool, Failure> {
        block.bytes.clear();
        block.bytes.append(&mut self.rest);
        block.from = 0;
        block.lines_before = self.lines;
        let mut wanted = BLOCK_BYTES;
        loop {
            self.read_to(&mut block.bytes, wanted)?;
            let end = if self.ended {
                block.bytes.len()
            } else {
                end_of_rows(&block.bytes)
            };
            if end > 0 || self.ended {
                self.rest.extend_from_slice(&block.bytes[end..]);
                block.bytes.truncate(end);
                self.lines += lines(&block.bytes);
                return Ok(end > 0);
            }
            if wanted > ROW_BYTES {
                return Err(Failure::of_input(format!(
                    "{}: line {}: the row is longer than {} MiB; is a quote missing?",
                    self.name,
                    self.lines + 1,
                    ROW_BYTES >> 20
                )));
            }
            wanted *= 2;
        }
    }

    fn read_to(&mut self, bytes: &mut Vec<u8>, wanted: usize) -> Result<(), Failure> {
        let missing = wanted.saturating_sub(bytes.len()) as u64;
        let got = self.input.by_ref().take(missing).read_to_end(bytes);
        match got {
            Ok(got) => self.ended |= (got as u64) < missing,
            Err(e) => {
                return Err(Failure::of_file(format!(
                    "{}: it cannot be read: {e}",
                    self.name
                )));
            }
        }
        Ok(())
    }
}

/// Where the last whole row ends; 0 when there is none.
fn end_of_rows(bytes: &[u8]) -> usize {
    if !bytes.contains(&b'"') {
        return bytes
            .iter()
            .rposition(|&b| b == b'\n')
            .map_or(0, |at| at + 1);
    }
    // A line may end inside quotes: the reader knows. Of whole lines only, lest it meet half a comment; a row that
    // reaches to the end may go on, and waits.
    let Some(last) = bytes.iter().rposition(|&b| b == b'\n') else {
        return 0;
    };
    let bytes = &bytes[..=last];
    let mut reader = reader(bytes);
    let mut row = csv::ByteRecord::new();
    let (mut end, mut cut) = (0, false);
    while reader.read_byte_record(&mut row).unwrap_or(false) {
        let here = usize::try_from(reader.position().byte()).unwrap_or(bytes.len());
        cut = here >= bytes.len();
        if !cut {
            end = here;
        }
    }
    // Behind a row that has ended there are only comments and blank lines.
    if cut { end } else { bytes.len() }
}

fn lines(bytes: &[u8]) -> u64 {
    bytes.iter().filter(|&&b| b == b'\n').count() as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whole rows are handed over, and whatever is no row with them; a row that may go on waits.
    #[test]
    fn rows_end_where_the_next_begins() {
        for (text, end) in [
            ("a,1\nb,2\nc", 8),
            ("a,\"1\"\nb,2\nc", 6),
            ("a,\"1\"\n\"b\n2", 6),
            ("a,\"1\"\n\n\n\n", 9),
            ("a,\"1\"\n# \"x\n# y", 11),
            ("# \"x\n# y", 5),
            ("\"a\n", 0),
            ("", 0),
        ] {
            assert_eq!(end_of_rows(text.as_bytes()), end, "{text:?}");
        }
    }
}
