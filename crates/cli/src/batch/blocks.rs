//! A CSV in blocks of whole rows.

use super::super::exit::Failure;
use super::fault::Fault;
use std::io::{Cursor, Read};

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
pub fn reader(bytes: &[u8]) -> csv::Reader<Cursor<&[u8]>> {
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .from_reader(Cursor::new(bytes))
}

/// Where the line of a row begins. The reader's position may be that of a remark or an empty line before it.
pub fn line_of_row(bytes: &[u8], position: &csv::Position) -> csv::Position {
    let mut place = position.clone();
    let from = usize::try_from(position.byte()).unwrap_or(bytes.len());
    for line in bytes
        .get(from..)
        .unwrap_or_default()
        .split_inclusive(|&b| b == b'\n')
    {
        if !(line.starts_with(b"#") || line == b"\n" || line == b"\r\n") {
            break;
        }
        let byte = place.byte() + line.len() as u64;
        let next = place.line() + 1;
        place.set_byte(byte).set_line(next);
    }
    place
}

/// Where the line behind this one begins.
pub fn next_line(bytes: &[u8], place: &csv::Position) -> csv::Position {
    let from = usize::try_from(place.byte()).unwrap_or(bytes.len());
    let rest = bytes.get(from..).unwrap_or_default();
    let length = rest
        .iter()
        .position(|&b| b == b'\n')
        .map_or(rest.len(), |at| at + 1);
    let mut next = place.clone();
    let (byte, line) = (place.byte() + length as u64, place.line() + 1);
    next.set_byte(byte).set_line(line);
    next
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
                end_of_lines(&block.bytes)
            };
            if end > 0 || self.ended {
                self.rest.extend_from_slice(&block.bytes[end..]);
                block.bytes.truncate(end);
                self.lines += lines(&block.bytes);
                return Ok(end > 0);
            }
            if wanted > ROW_BYTES {
                return Err(Failure::of_input(format!(
                    "{}: line {}: the row is longer than {} MiB; is it the right file?",
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

/// Where the last whole line ends, and with it a row; 0 when there is none.
fn end_of_lines(bytes: &[u8]) -> usize {
    let last = bytes.iter().rposition(|&b| b == b'\n');
    last.map_or(0, |at| at + 1)
}

fn lines(bytes: &[u8]) -> u64 {
    bytes.iter().filter(|&&b| b == b'\n').count() as u64
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A row stands on its own line, behind remarks and empty lines.
    #[test]
    fn the_line_of_a_row_is_its_own() {
        let text = b"a,1\r\n# x\r\n\r\n\n#\nb,2\nc";
        let mut reader = reader(text);
        let mut row = csv::ByteRecord::new();
        let mut places = Vec::new();
        while reader.read_byte_record(&mut row).unwrap() {
            let place = line_of_row(text, row.position().unwrap());
            places.push((place.line(), text[usize::try_from(place.byte()).unwrap()]));
            let next = next_line(text, &place);
            assert_eq!(next.line(), place.line() + 1);
        }
        assert_eq!(places, [(1, b'a'), (6, b'b'), (7, b'c')]);
    }

    #[test]
    fn a_line_that_may_go_on_waits() {
        for (text, end) in [("a,1\nb,2\nc", 8), ("a\n", 2), ("a", 0), ("", 0)] {
            assert_eq!(end_of_lines(text.as_bytes()), end, "{text:?}");
        }
    }
}
