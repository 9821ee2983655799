//! BlockRows to questions, answers to rows.

use super::blocks::{Block, BlockRows};
use pointage::Error;
use pointage::rows::CellFormat;
use pointage_api::columns::{COMMANDS, Columns, RowError, TableRow};
use pointage_api::request::Input;
use pointage_api::{Model, append_number, refuse};
use std::borrow::Cow;
use std::iter::repeat_n;

impl TableRow for BlockRows<'_> {
    fn cell(&self, column: usize) -> Option<Input<'_>> {
        let cell = self.trimmed(column);
        (!cell.is_empty()).then_some(Input::Text(cell))
    }
}

/// The cells of a row with numbers as every table reads them.
struct PlainRow(Vec<String>);

impl TableRow for PlainRow {
    fn cell(&self, column: usize) -> Option<Input<'_>> {
        let cell = self.0.get(column).filter(|cell| !cell.is_empty());
        cell.map(|cell| Input::Text(cell))
    }
}

/// A command that rows may ask, and the places of its numbers in the row of the answer.
struct CommandColumns<'n>(Columns<'n>, Vec<usize>);

/// The header, and what goes for every row.
pub struct BatchSheet<'n> {
    header: Vec<String>,
    format: CellFormat,
    /// The commands that rows may ask; one for all rows without a column that tells it.
    commands: Vec<CommandColumns<'n>>,
    command_column: Option<usize>,
    id_column: Option<usize>,
    /// Names of all numbers of an answer.
    numbers: Vec<&'static str>,
    json: bool,
    pub strict: bool,
}

impl<'n> BatchSheet<'n> {
    /// Understands the header, or says what is wrong with it.
    pub fn new(
        header: Vec<String>,
        format: CellFormat,
        command: Option<&str>,
        model: &'n Model,
        (json, strict): (bool, bool),
    ) -> Result<Self, String> {
        let column = |name: &str| header.iter().position(|h| h == name);
        let mut twice = header.iter().enumerate();
        if let Some((_, twice)) = twice.find(|(i, h)| header[..*i].contains(h)) {
            return Err(format!(
                "the column {twice:?} stands there twice; take one away"
            ));
        }
        if command.is_some() == column("command").is_some() {
            let commands = COMMANDS.join(", ");
            return Err(match command {
                Some(_) => {
                    "a column command and --command both say what is asked: leave one of them out"
                        .into()
                }
                None => format!("no column command; add it, or say --command {commands}"),
            });
        }
        let mut sheet = Self {
            command_column: column("command"),
            id_column: column("id"),
            commands: Vec::new(),
            numbers: Vec::new(),
            header,
            format,
            json,
            strict,
        };
        let own = [sheet.command_column, sheet.id_column];
        let columns = sheet.header.iter().map(String::as_str).enumerate();
        let columns: Vec<_> = columns.filter(|(i, _)| !own.contains(&Some(*i))).collect();
        let is_asked = |name: &&&str| command.is_none_or(|command| command == **name);
        let asked = COMMANDS.iter().filter(is_asked);
        for columns in asked.filter_map(|name| Columns::new(name, &columns, model, json)) {
            let places = columns.numbers.iter().map(|name| {
                let place = sheet.numbers.iter().position(|n| n == name);
                place.unwrap_or_else(|| {
                    sheet.numbers.push(name);
                    sheet.numbers.len() - 1
                })
            });
            let places = places.collect();
            sheet.commands.push(CommandColumns(columns, places));
        }
        let unknown = |i: &usize| sheet.commands.iter().all(|c| c.0.unknown.contains(i));
        if let Some(i) = (0..sheet.header.len()).find(unknown) {
            let name: String = sheet.header[i].chars().take(60).collect();
            let of: Vec<&str> = sheet.commands.iter().map(|c| c.0.command).collect();
            let (first, of) = (of[0], of.join(", "));
            let more = format!("name it as a key or a flag of {of} (pointage {first} --help)");
            return Err(format!("unknown column {name:?}; {more}"));
        }
        let lacks = match &sheet.commands[..] {
            [CommandColumns(one, _)] => one.lacks.clone(),
            _ => None,
        };
        lacks.map_or(Ok(sheet), Err)
    }

    /// The header of the answer.
    pub fn head(&self) -> String {
        if self.json {
            return String::new();
        }
        let id = self.id_column.map(|_| "id");
        let own = id.into_iter().chain(self.command_column.map(|_| "command"));
        let names = own.chain(self.numbers.iter().copied()).chain(["error\n"]);
        names.collect::<Vec<_>>().join(",")
    }

    /// Answers the rows of a block; on request only to the first that has no answer.
    pub fn answer(&self, block: &mut Block) {
        let (mut answers, mut faults, mut count) = (std::mem::take(&mut block.answers), vec![], 0);
        answers.clear();
        let mut rows = block.rows(self.format.separator());
        let mut cells = vec![None; self.numbers.len()];
        while rows.advance() {
            count += 1;
            if let Err((column, error)) = self.one(&rows, &mut cells, &mut answers) {
                let column = column.and_then(|i| self.header.get(i));
                faults.push(self.without_answer(&rows, column, error, &mut answers));
                if self.strict {
                    break;
                }
            }
        }
        (block.answers, block.faults, block.rows) = (answers, faults, count);
    }

    fn one(
        &self,
        row: &BlockRows<'_>,
        cells: &mut [Option<f64>],
        out: &mut Vec<u8>,
    ) -> Result<(), RowError> {
        if row.is_open {
            let why = "a quote opens and does not close on its line; close it, or take the line break out of the cell";
            return Err((None, Error::malformed(why)));
        }
        let is_bad = |i: &usize| std::str::from_utf8(row.cell(*i)).is_err();
        if !row.is_ascii
            && let Some(i) = (0..row.width).find(is_bad)
        {
            let why = "the cell is not UTF-8 text; save the file as UTF-8";
            return Err((Some(i), Error::malformed(why)));
        }
        if row.width != self.header.len() {
            let cells = Error::cells(row.width as u64, self.header.len() as u64);
            return Err((None, cells));
        }
        let name = self.command_column.map(|i| row.trimmed(i));
        let asked = |asked: &&CommandColumns<'_>| name.is_none_or(|name| asked.0.command == name);
        let Some(CommandColumns(command, places)) = self.commands.iter().find(asked) else {
            let error = Error::unknown_name("command", name.unwrap_or_default(), COMMANDS);
            return Err((self.command_column, error));
        };
        cells.fill(None);
        let mut give = |number: usize, value| cells[places[number]] = value;
        let plain = |i| {
            let plain = self.format.plain(row.trimmed(i)).map(Cow::into_owned);
            plain.map_err(|e| (Some(i), e))
        };
        let answer = if self.format.separator() == b',' && !row.has_commas {
            command.answer(row, &mut give)
        } else {
            let cells = (0..row.width).map(plain).collect::<Result<_, _>>()?;
            command.answer(&PlainRow(cells), &mut give)
        };
        if let Some(line) = answer? {
            out.extend_from_slice(line.as_bytes());
        } else {
            self.begin(row, out);
            for cell in cells {
                if let Some(value) = cell {
                    append_number(out, *value);
                }
                out.push(b',');
            }
        }
        out.push(b'\n');
        Ok(())
    }

    /// What of a row goes into its answer as it is.
    fn begin(&self, row: &BlockRows<'_>, out: &mut Vec<u8>) {
        for i in [self.id_column, self.command_column].into_iter().flatten() {
            append_text(out, row.cell(i));
            out.push(b',');
        }
    }

    /// Writes why a row has no answer; gives it back with its place.
    fn without_answer(
        &self,
        row: &BlockRows<'_>,
        column: Option<&String>,
        error: Error,
        out: &mut Vec<u8>,
    ) -> Error {
        let place = column.map_or(String::new(), |column| format!(", column {column}"));
        let place = format!("line {}{place}", row.line);
        if self.json {
            let mut error = error.clone();
            if let Some(column) = column {
                error = error.of_field(column);
            }
            out.extend_from_slice(refuse(&error.at(&place)).as_bytes());
        } else {
            self.begin(row, out);
            out.extend(repeat_n(b',', self.numbers.len()));
            append_text(out, error.to_string().as_bytes());
        }
        out.push(b'\n');
        error.at(place)
    }
}

/// A text as a cell, in quotes where it needs them.
fn append_text(out: &mut Vec<u8>, text: &[u8]) {
    if !text.iter().any(|b| b",\"\r\n".contains(b)) {
        out.extend_from_slice(text);
        return;
    }
    let doubled = |&b: &u8| repeat_n(b, 1 + usize::from(b == b'"'));
    out.push(b'"');
    out.extend(text.iter().flat_map(doubled));
    out.push(b'"');
}
