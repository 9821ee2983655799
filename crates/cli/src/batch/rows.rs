//! BlockRows to questions, answers to rows.

use super::super::render::counted;
use super::blocks::{Block, BlockRows};
use pointage::Error;
use pointage_api::dose::{DoseAnswer, DoseRequest};
use pointage_api::ready::{ReadyAnswer, ReadyRequest};
use pointage_api::request::{Answerable, Field, Input, Request};
use pointage_api::water::{WaterAnswer, WaterRequest};
use pointage_api::{Model, append_number, refuse, to_line};
use serde::Serialize;
use std::iter::repeat_n;

/// The commands that take rows.
pub const COMMANDS: [&str; 3] = ["ready", "dose", "water"];

/// What is wrong with a row, and in which column.
type CellError = (Option<usize>, Error);

/// Asks with a row, and keeps the numbers in the cells of the answer or gives the whole answer as JSON.
type Ask<'n> = dyn Fn(&BlockRows<'_>, &mut [Option<f64>]) -> Result<Option<String>, CellError>
    + Send
    + Sync
    + 'n;

/// The columns of a file as one command sees them.
struct CommandColumns<'n> {
    name: &'static str,
    /// Columns that it does not know.
    unknown: Vec<usize>,
    /// A field that it needs and that has no column, as a complaint.
    lacks: Option<String>,
    ask: Box<Ask<'n>>,
}

/// A column: its place, its name, and its field. One named by the key of a field has numbers in the key's
/// unit; true for one named by its flag, with values as on the command line.
struct Column<Q: 'static>(usize, String, Option<(&'static Field<Q>, bool)>);

impl<Q: Request> Column<Q> {
    fn new(place: usize, name: &str) -> Self {
        let flag = name.replace('_', "-");
        let by_key = Q::FIELDS.iter().find(|f| f.key == name);
        let mut fields = Q::FIELDS.iter();
        let by_flag = fields.find(|f| !f.flag.is_empty() && f.flag == flag);
        let field = by_key.or(by_flag).map(|field| (field, by_key.is_none()));
        Self(place, name.to_owned(), field)
    }

    fn is(&self, key: &str) -> bool {
        self.2.is_some_and(|(field, _)| field.key == key)
    }

    fn read(&self, row: &BlockRows<'_>, question: &mut Q) -> Result<(), Error> {
        let cell = row.trimmed(self.0);
        if cell.is_empty() {
            return Ok(());
        }
        let Some((field, as_flag)) = self.2 else {
            let command = Q::COMMAND;
            let why = format!("{command} does not know this column; leave the cell empty");
            return Err(Error::contradiction(why));
        };
        let input = match cell.parse::<f64>() {
            Ok(value) if value.is_finite() && !as_flag => Input::Number(value),
            _ => Input::Text(cell),
        };
        (field.set)(question, input)
    }
}

/// The error in the words of the header, and its column.
fn refusal<Q: Request>(columns: &[Column<Q>], error: Error) -> CellError {
    let column_of = |key: &str| columns.iter().find(|column| column.is(key));
    let column = error.field().and_then(|key| column_of(&key));
    let error = match error {
        // The column says it already.
        Error::At {
            field: Some(_),
            source,
            ..
        } if column.is_some() => *source,
        error => error.with_names(&|key| {
            column_of(key).map_or_else(|| key.to_owned(), |column| column.1.clone())
        }),
    };
    (column.map(|column| column.0), error)
}

/// The header, and what goes for every row.
pub struct BatchSheet<'n> {
    header: Vec<String>,
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
            let why = match command {
                Some(_) => {
                    "a column command and --command both say what is asked: leave one of them out"
                }
                None => "no column command; add it, or say --command ready, dose or water",
            };
            return Err(why.into());
        }
        let mut sheet = Self {
            command_column: column("command"),
            id_column: column("id"),
            commands: Vec::new(),
            numbers: Vec::new(),
            header,
            json,
            strict,
        };
        for name in COMMANDS {
            if command.is_none_or(|command| command == name) {
                match name {
                    "ready" => sheet.add::<ReadyRequest, ReadyAnswer>(model),
                    "dose" => sheet.add::<DoseRequest, DoseAnswer>(model),
                    _ => sheet.add::<WaterRequest, WaterAnswer>(model),
                }
            }
        }
        let unknown = |i: &usize| sheet.commands.iter().all(|c| c.unknown.contains(i));
        if let Some(i) = (0..sheet.header.len()).find(unknown) {
            let name: String = sheet.header[i].chars().take(60).collect();
            let of: Vec<&str> = sheet.commands.iter().map(|c| c.name).collect();
            let (first, of) = (of[0], of.join(", "));
            let more = format!("name it as a key or a flag of {of} (pointage {first} --help)");
            return Err(format!("unknown column {name:?}; {more}"));
        }
        match &sheet.commands[..] {
            [one] if one.lacks.is_some() => Err(one.lacks.clone().unwrap_or_default()),
            _ => Ok(sheet),
        }
    }

    /// Adds a command.
    fn add<Q: Answerable<A> + Sync, A: Serialize + 'static>(&mut self, model: &'n Model) {
        let own = [self.command_column, self.id_column];
        let columns = self.header.iter().enumerate();
        let columns = columns.filter(|(i, _)| !own.contains(&Some(*i)));
        let columns: Vec<Column<Q>> = columns.map(|(i, name)| Column::new(i, name)).collect();
        // A field may have two columns, one by its key and one by its flag.
        let needed = Q::FIELDS.iter().filter(|f| f.needed).map(|f| {
            let columns = columns.iter().filter(|c| c.is(f.key));
            (f, columns.map(|c| c.0).collect())
        });
        let needed: Vec<(&Field<Q>, Vec<usize>)> = needed.collect();
        let lack = |f: &Field<Q>| {
            let (key, flag, command) = (f.key, f.flag, Q::COMMAND);
            format!("no column {key} (or {flag}); {command} needs it")
        };
        let lacks = needed.iter().find(|(_, columns)| columns.is_empty());
        let lacks = lacks.map(|(f, _)| lack(f));
        let places = Q::NUMBERS.iter().map(|(name, _)| {
            let place = self.numbers.iter().position(|n| n == name);
            place.unwrap_or_else(|| {
                self.numbers.push(name);
                self.numbers.len() - 1
            })
        });
        let places: Vec<usize> = places.collect();
        let json = self.json;
        let unknown = columns.iter().filter(|c| c.2.is_none()).map(|c| c.0);
        self.commands.push(CommandColumns {
            name: Q::COMMAND,
            unknown: unknown.collect(),
            lacks,
            ask: Box::new(move |row, cells| {
                let mut question = Q::default();
                for column in &columns {
                    let read = column.read(row, &mut question);
                    read.map_err(|e| (Some(column.0), e))?;
                }
                let is_empty = |&i: &usize| row.cell(i).trim_ascii().is_empty();
                if let Some((f, of)) = needed.iter().find(|(_, of)| of.iter().all(is_empty)) {
                    let why = match of.first() {
                        Some(_) => format!("the cell is empty, and {} needs it", Q::COMMAND),
                        None => lack(f),
                    };
                    return Err((of.first().copied(), Error::malformed(why)));
                }
                let answer = question.answer(model);
                let answer = answer.map_err(|e| refusal(&columns, e))?;
                if json {
                    return to_line(&answer).map(Some).map_err(|e| (None, e));
                }
                for (&place, (_, number)) in places.iter().zip(Q::NUMBERS) {
                    cells[place] = number(&answer);
                }
                Ok(None)
            }),
        });
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
        let mut rows = block.rows();
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
    ) -> Result<(), CellError> {
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
            let have = counted(row.width, "cell", "cells");
            let need = self.header.len();
            let why = format!("{have} where the header has {need}; add or remove commas");
            return Err((None, Error::malformed(why)));
        }
        let name = self.command_column.map(|i| row.trimmed(i));
        let asked = |command: &&CommandColumns<'_>| name.is_none_or(|name| command.name == name);
        let Some(command) = self.commands.iter().find(asked) else {
            let error = Error::unknown_name("command", name.unwrap_or_default(), COMMANDS);
            return Err((self.command_column, error));
        };
        cells.fill(None);
        if let Some(line) = (command.ask)(row, cells)? {
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
            let error = error.clone();
            let error = match column {
                Some(column) => error.of_field(column),
                None => error,
            };
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
