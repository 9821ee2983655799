//! Rows to questions, answers to rows.

use super::super::exit::Failure;
use super::super::render::counted;
use super::blocks::{Block, line_of_row, next_line, reader};
use super::fault::Fault;
use csv::{ByteRecord, StringRecord};
use pointage::Error;
use pointage_api::dose::{DoseAnswer, DoseRequest};
use pointage_api::ready::{ReadyAnswer, ReadyRequest};
use pointage_api::request::{Answerable, Field, Input, Numbers};
use pointage_api::water::{WaterAnswer, WaterRequest};
use pointage_api::{Model, append_number, refuse, to_line};
use serde::Serialize;

/// A row is a line, so that a forgotten quote takes no other rows with it.
const OPEN_QUOTE: &str = "a quote opens and does not close on its line; close it, or take the line break out of the cell";

/// The commands that take rows.
const COMMANDS: [(&str, Layout); 3] = [
    ("ready", CommandColumns::<ReadyRequest, ReadyAnswer>::boxed),
    ("dose", CommandColumns::<DoseRequest, DoseAnswer>::boxed),
    ("water", CommandColumns::<WaterRequest, WaterAnswer>::boxed),
];

/// Finds the columns of a header; adds the numbers of an answer to those of other commands.
type Layout = fn(&[String], &mut Vec<&'static str>) -> Box<dyn Asks>;

/// What is wrong with a row, and in which column.
type CellError = (Option<usize>, Error);

/// A command that asks a question with each row.
trait Asks: Sync + Send {
    fn knows(&self, column: usize) -> bool;
    /// A field that the question needs and that has no column.
    fn lacks(&self) -> Option<String>;
    /// Asks, and keeps the numbers in `cells` or the whole answer as JSON.
    fn ask(
        &self,
        sheet: &BatchSheet<'_>,
        row: &StringRecord,
        cells: &mut [Option<f64>],
    ) -> Result<Option<String>, CellError>;
}

/// The columns of a file as one command sees them, and where its numbers stand in the answer. A column is
/// named by its key, with numbers in the key's unit, or by its flag, with values as on the command line.
struct CommandColumns<Q: 'static, A: 'static> {
    fields: Vec<Option<(&'static Field<Q>, bool)>>,
    numbers: Numbers<A>,
    places: Vec<usize>,
}

impl<Q: Answerable<A> + Sync, A: Serialize + 'static> CommandColumns<Q, A> {
    fn boxed(header: &[String], numbers: &mut Vec<&'static str>) -> Box<dyn Asks> {
        let find = |name: &String| {
            let by_key = Q::FIELDS.iter().find(|f| f.key == name);
            let flag = name.replace('_', "-");
            let by_flag = || {
                let mut fields = Q::FIELDS.iter();
                fields.find(|f| !f.flag.is_empty() && f.flag == flag)
            };
            let as_flag = by_key.is_none();
            Some((by_key.or_else(by_flag)?, as_flag))
        };
        let places = Q::NUMBERS.iter().map(|(name, _)| {
            let place = numbers.iter().position(|n| n == name);
            place.unwrap_or_else(|| {
                numbers.push(name);
                numbers.len() - 1
            })
        });
        Box::new(Self {
            numbers: Q::NUMBERS,
            places: places.collect(),
            fields: header.iter().map(find).collect(),
        })
    }

    fn question(&self, sheet: &BatchSheet<'_>, row: &StringRecord) -> Result<Q, CellError> {
        let mut question = Q::blank();
        let mut given = 0;
        for (i, field) in self.fields.iter().enumerate() {
            let cell = row[i].trim_ascii();
            if cell.is_empty() || sheet.is_own(i) {
                continue;
            }
            let Some((field, as_flag)) = field else {
                let command = Q::COMMAND;
                let why = format!("{command} does not know this column; leave the cell empty");
                return Err((Some(i), Error::contradiction(why)));
            };
            let number = || cell.parse::<f64>().ok().filter(|v| v.is_finite());
            let input = match number() {
                Some(value) if !as_flag => Input::Number(value),
                _ => Input::Text(cell),
            };
            (field.set)(&mut question, input).map_err(|e| (Some(i), e))?;
            given += usize::from(field.needed);
        }
        // Counting is enough as long as nothing is missing.
        if given < Q::FIELDS.iter().filter(|f| f.needed).count() {
            let needed = |i: &usize| self.fields[*i].is_some_and(|(field, _)| field.needed);
            let empty = (0..row.len()).filter(needed);
            let empty = empty.into_iter().find(|&i| row[i].trim_ascii().is_empty());
            let why = match empty {
                Some(_) => format!("the cell is empty, and {} needs it", Q::COMMAND),
                None => self.lacks().unwrap_or_default(),
            };
            return Err((empty, Error::malformed(why)));
        }
        Ok(question)
    }

    /// The column of a field.
    fn column_of(&self, key: &str) -> Option<usize> {
        let is_it = |field: &Option<(&Field<Q>, bool)>| field.is_some_and(|(f, _)| f.key == key);
        self.fields.iter().position(is_it)
    }

    /// The error in the words of the header, and its column.
    fn refusal(&self, sheet: &BatchSheet<'_>, error: Error) -> CellError {
        let column = error.field().and_then(|key| self.column_of(&key));
        let error = match error {
            // The column says it already.
            Error::At {
                field: Some(_),
                source,
                ..
            } if column.is_some() => *source,
            error => error.with_names(&|key| match self.column_of(key) {
                Some(i) => sheet.header[i].clone(),
                None => key.to_owned(),
            }),
        };
        (column, error)
    }
}

impl<Q: Answerable<A> + Sync, A: Serialize + 'static> Asks for CommandColumns<Q, A> {
    fn knows(&self, column: usize) -> bool {
        self.fields[column].is_some()
    }

    fn lacks(&self) -> Option<String> {
        let missing = |f: &&Field<Q>| f.needed && self.column_of(f.key).is_none();
        let field = Q::FIELDS.iter().find(missing)?;
        let (key, flag, command) = (field.key, field.flag, Q::COMMAND);
        Some(format!("no column {key} (or {flag}); {command} needs it"))
    }

    fn ask(
        &self,
        sheet: &BatchSheet<'_>,
        row: &StringRecord,
        cells: &mut [Option<f64>],
    ) -> Result<Option<String>, CellError> {
        let question = self.question(sheet, row)?;
        let answer = question.answer(sheet.model);
        let answer = answer.map_err(|e| self.refusal(sheet, e))?;
        if sheet.json {
            return to_line(&answer).map(Some).map_err(|e| (None, e));
        }
        for (&place, (_, number)) in self.places.iter().zip(self.numbers) {
            cells[place] = number(&answer);
        }
        Ok(None)
    }
}

/// The header, and what goes for every row.
pub struct BatchSheet<'n> {
    model: &'n Model,
    header: Vec<String>,
    /// The commands that rows may ask; one for all rows without a column that tells it.
    commands: Vec<(&'static str, Box<dyn Asks>)>,
    command_column: Option<usize>,
    id_column: Option<usize>,
    /// Names of all numbers of an answer.
    numbers: Vec<&'static str>,
    json: bool,
    pub strict: bool,
}

impl<'n> BatchSheet<'n> {
    /// Reads the header; what is wrong with it is said of the file `name`.
    pub fn read(
        bytes: &[u8],
        command: Option<&str>,
        model: &'n Model,
        (json, strict): (bool, bool),
        name: &str,
    ) -> Result<Self, Failure> {
        let unusable = |why: String| Failure::of_input(format!("{name}: line 1: {why}"));
        let mut header = ByteRecord::new();
        let _ = reader(bytes).read_byte_record(&mut header);
        let header: Vec<String> = header
            .iter()
            .map(|name| String::from_utf8_lossy(name.trim_ascii()).into_owned())
            .collect();
        let column = |name: &str| header.iter().position(|h| h == name);
        let mut columns = header.iter().enumerate();
        if let Some((_, twice)) = columns.find(|(i, h)| header[..*i].contains(h)) {
            return Err(unusable(format!(
                "the column {twice:?} stands there twice; take one away"
            )));
        }
        let command_column = column("command");
        let asked = |name: &str| command.is_none_or(|command| command == name);
        match (command, command_column) {
            (Some(_), Some(_)) => {
                return Err(unusable(
                    "a column command and --command both say what is asked: leave one of them out"
                        .into(),
                ));
            }
            (None, None) => {
                return Err(unusable(
                    "no column command; add it, or say --command ready, dose or water".into(),
                ));
            }
            _ => {}
        }
        let mut numbers = Vec::new();
        let commands = COMMANDS.into_iter().filter(|(name, _)| asked(name));
        let sheet = Self {
            model,
            command_column,
            id_column: column("id"),
            commands: commands
                .map(|(name, columns)| (name, columns(&header, &mut numbers)))
                .collect(),
            numbers,
            header,
            json,
            strict,
        };
        sheet.check().map_err(unusable)?;
        Ok(sheet)
    }

    /// The names of the commands that take rows.
    pub fn commands() -> [&'static str; COMMANDS.len()] {
        COMMANDS.map(|(name, _)| name)
    }

    /// True for the columns that go into the answer as they are.
    fn is_own(&self, column: usize) -> bool {
        [self.command_column, self.id_column].contains(&Some(column))
    }

    /// Refuses a column that no command knows, and a missing one that the command needs.
    fn check(&self) -> Result<(), String> {
        let known = |i: usize| self.is_own(i) || self.commands.iter().any(|(_, c)| c.knows(i));
        if let Some(i) = (0..self.header.len()).find(|&i| !known(i)) {
            let name: String = self.header[i].chars().take(60).collect();
            let of: Vec<&str> = self.commands.iter().map(|(name, _)| *name).collect();
            let first = of.first().unwrap_or(&"");
            let of = of.join(", ");
            let more = format!("name it as a key or a flag of {of} (pointage {first} --help)");
            return Err(format!("unknown column {name:?}; {more}"));
        }
        match self
            .commands
            .first()
            .and_then(|(_, columns)| columns.lacks())
        {
            Some(missing) if self.command_column.is_none() => Err(missing),
            _ => Ok(()),
        }
    }

    /// The header of the answer.
    pub fn head(&self) -> String {
        if self.json {
            return String::new();
        }
        let id = self.id_column.map(|_| "id");
        let command = self.command_column.map(|_| "command");
        let names = id.into_iter().chain(command);
        let names = names.chain(self.numbers.iter().copied());
        let mut head: Vec<&str> = names.collect();
        head.push("error");
        head.join(",") + "\n"
    }

    /// Answers the rows of a block; on request only to the first that has no answer.
    pub fn answer(&self, block: &mut Block) {
        let mut answers = std::mem::take(&mut block.answers);
        answers.clear();
        block.faults.clear();
        block.rows = 0;
        let mut faults = Vec::new();
        let mut rows = 0;
        let bytes = block.rows();
        let quoted = bytes.contains(&b'"');
        let mut reader = reader(bytes);
        // Two records by turns, so that none is made anew for each row.
        let (mut row, mut spare) = (ByteRecord::new(), ByteRecord::new());
        let mut cells = vec![None; self.numbers.len()];
        while reader.read_byte_record(&mut row).unwrap_or(false) {
            rows += 1;
            let refused = if quoted && row.as_slice().contains(&b'\n') {
                // The quote has swallowed the rows behind it: only its own line is refused.
                if let Some(position) = row.position() {
                    let place = line_of_row(bytes, position);
                    let _ = reader.seek(next_line(bytes, &place));
                    row = first_line(&row);
                    row.set_position(Some(place));
                }
                let why = OPEN_QUOTE.into();
                Some((None, Error::Malformed(why)))
            } else {
                // Looked through once as a whole, not cell by cell.
                let read = std::mem::replace(&mut row, spare);
                match StringRecord::from_byte_record(read) {
                    Ok(text) => {
                        let refused = self.one(&text, &mut cells, &mut answers).err();
                        spare = std::mem::replace(&mut row, text.into_byte_record());
                        refused
                    }
                    Err(e) => {
                        let column = e.utf8_error().field();
                        spare = std::mem::replace(&mut row, e.into_byte_record());
                        let why = "the cell is not UTF-8 text; save the file as UTF-8".into();
                        let known = column < self.header.len();
                        Some((known.then_some(column), Error::Malformed(why)))
                    }
                }
            };
            if let Some((column, error)) = refused {
                let place = row.position().map(|p| line_of_row(bytes, p));
                let fault = Fault {
                    line: block.lines_before + place.map_or(0, |p| p.line()),
                    column: column.map(|i| self.header[i].clone()),
                    error,
                };
                self.without_answer(&row, &fault, &mut answers);
                faults.push(fault);
                if self.strict {
                    break;
                }
            }
        }
        block.answers = answers;
        block.faults = faults;
        block.rows = rows;
    }

    fn one(
        &self,
        row: &StringRecord,
        cells: &mut [Option<f64>],
        out: &mut Vec<u8>,
    ) -> Result<(), CellError> {
        if row.len() != self.header.len() {
            let have = counted(row.len(), "cell", "cells");
            let need = self.header.len();
            let why = format!("{have} where the header has {need}; add or remove commas");
            return Err((None, Error::malformed(why)));
        }
        let name = self.command_column.map(|i| row[i].trim_ascii());
        let asked = |(command, _): &&(&str, _)| name.is_none_or(|name| *command == name);
        let Some((_, columns)) = self.commands.iter().find(asked) else {
            let error = Error::unknown_name("command", name.unwrap_or_default(), Self::commands());
            return Err((self.command_column, error));
        };
        cells.fill(None);
        if let Some(line) = columns.ask(self, row, cells)? {
            out.extend_from_slice(line.as_bytes());
            out.push(b'\n');
            return Ok(());
        }
        self.begin(row.as_byte_record(), out);
        for cell in cells {
            if let Some(value) = cell {
                append_number(out, *value);
            }
            out.push(b',');
        }
        out.push(b'\n');
        Ok(())
    }

    /// What of a row goes into its answer as it is.
    fn begin(&self, row: &ByteRecord, out: &mut Vec<u8>) {
        for i in [self.id_column, self.command_column].into_iter().flatten() {
            append_text(out, row.get(i).unwrap_or_default());
            out.push(b',');
        }
    }

    fn without_answer(&self, row: &ByteRecord, fault: &Fault, out: &mut Vec<u8>) {
        if self.json {
            let error = fault.error.clone();
            let error = match &fault.column {
                Some(column) => error.of_field(column),
                None => error,
            };
            out.extend_from_slice(refuse(&error.at(fault.place())).as_bytes());
            out.push(b'\n');
            return;
        }
        self.begin(row, out);
        out.extend(std::iter::repeat_n(b',', self.numbers.len()));
        append_text(out, fault.error.to_string().as_bytes());
        out.push(b'\n');
    }
}

/// What is left of a row when the quote that swallowed its end is taken as closed with the line.
fn first_line(row: &ByteRecord) -> ByteRecord {
    let mut cells = ByteRecord::new();
    for cell in row {
        match cell.iter().position(|&b| b == b'\n') {
            None => cells.push_field(cell),
            Some(end) => {
                cells.push_field(cell[..end].trim_ascii_end());
                break;
            }
        }
    }
    cells
}

/// A text as a cell, in quotes where it needs them.
fn append_text(out: &mut Vec<u8>, text: &[u8]) {
    if !text.iter().any(|b| b",\"\r\n".contains(b)) {
        out.extend_from_slice(text);
        return;
    }
    out.push(b'"');
    for &byte in text {
        if byte == b'"' {
            out.push(b'"');
        }
        out.push(byte);
    }
    out.push(b'"');
}
