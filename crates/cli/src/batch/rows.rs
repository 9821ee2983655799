//! Rows to questions, answers to rows.

use super::super::exit::Failure;
use super::super::parse::refusal;
use super::super::render::counted;
use super::blocks::{Block, line_of_row, next_line, reader};
use super::columns::{Cell, Column, Command, Question};
use super::fault::Fault;
use csv::{ByteRecord, StringRecord};
use pointage::Error;
use pointage::ferment::Perturbations;
use pointage_api::dose::DoseRequest;
use pointage_api::ready::ReadyRequest;
use pointage_api::water::WaterRequest;
use pointage_api::{append_number, refuse};

/// A row is a line, so that a forgotten quote takes no other rows with it.
const OPEN_QUOTE: &str = "a quote opens and does not close on its line; close it, or take the line break out of the cell";

/// A header that cannot be used.
pub struct Unusable(String);

impl Unusable {
    pub fn of_file_line(self, file: &str) -> Failure {
        Failure::of_input(format!("{file}: {}", self.0))
    }
}

/// How a column of the file is read: as its key says, or as its flag does.
struct Known<Q: 'static> {
    column: &'static Column<Q>,
    as_flag: bool,
}

/// The columns of a file as one command sees them, and where its numbers stand in the answer.
struct Layout<Q: 'static> {
    columns: Vec<Option<Known<Q>>>,
    places: Vec<usize>,
}

/// The header, and what goes for every row.
pub struct Sheet<'n> {
    near: &'n Perturbations,
    header: Vec<String>,
    /// For all rows, or else the column that tells it.
    command: Option<Command>,
    command_column: Option<usize>,
    id_column: Option<usize>,
    /// Names of all numbers of an answer.
    numbers: Vec<&'static str>,
    ready: Layout<ReadyRequest>,
    dose: Layout<DoseRequest>,
    water: Layout<WaterRequest>,
    pub json: bool,
    pub strict: bool,
    pub own_numbers: Option<String>,
}

impl<'n> Sheet<'n> {
    /// Reads the header.
    pub fn read(
        bytes: &[u8],
        command: Option<Command>,
        near: &'n Perturbations,
    ) -> Result<Self, Unusable> {
        let mut header = ByteRecord::new();
        let _ = reader(bytes).read_byte_record(&mut header);
        let header: Vec<String> = header
            .iter()
            .map(|name| String::from_utf8_lossy(name.trim_ascii()).into_owned())
            .collect();
        let column = |name: &str| header.iter().position(|h| h == name);
        if let Some(twice) = header
            .iter()
            .enumerate()
            .find_map(|(i, h)| header[..i].contains(h).then_some(h))
        {
            return Err(Unusable(format!(
                "line 1: the column {twice:?} stands there twice; take one away"
            )));
        }
        let command_column = column("command");
        let commands = match (command, command_column) {
            (Some(command), None) => vec![command],
            (None, Some(_)) => Command::ALL.to_vec(),
            (Some(_), Some(_)) => {
                return Err(Unusable(
                    "line 1: a column command and --command both say what is asked: leave one of them out".into(),
                ));
            }
            (None, None) => {
                return Err(Unusable(
                    "line 1: no column command; add it, or say --command ready, dose or water"
                        .into(),
                ));
            }
        };
        let mut numbers = Vec::new();
        let sheet = Self {
            near,
            command,
            command_column,
            id_column: column("id"),
            ready: layout(&header, &commands, &mut numbers),
            dose: layout(&header, &commands, &mut numbers),
            water: layout(&header, &commands, &mut numbers),
            numbers,
            header,
            json: false,
            strict: false,
            own_numbers: None,
        };
        sheet.check(&commands)?;
        Ok(sheet)
    }

    /// Refuses a column that no command knows, and a missing one that the command needs.
    fn check(&self, commands: &[Command]) -> Result<(), Unusable> {
        let known = |i: usize| {
            self.ready.columns[i].is_some()
                || self.dose.columns[i].is_some()
                || self.water.columns[i].is_some()
                || Some(i) == self.command_column
                || Some(i) == self.id_column
        };
        if let Some(i) = (0..self.header.len()).find(|&i| !known(i)) {
            let name: String = self.header[i].chars().take(60).collect();
            let of = commands.iter().map(|c| c.name()).collect::<Vec<_>>();
            let more = if name.starts_with("room_course") || name.starts_with("room-record") {
                "a record of the room fits no cell: ask pointage call".to_owned()
            } else {
                format!(
                    "name it as a key or a flag of {} (pointage {} --help)",
                    of.join(", "),
                    of[0]
                )
            };
            return Err(Unusable(format!("line 1: unknown column {name:?}; {more}")));
        }
        match self.command {
            Some(Command::Ready) => self.ready.has_needed(),
            Some(Command::Dose) => self.dose.has_needed(),
            Some(Command::Water) => self.water.has_needed(),
            None => Ok(()),
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
                Some((None, Error::Malformed { why }))
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
                        Some((known.then_some(column), Error::Malformed { why }))
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
    ) -> Result<(), Refusal> {
        if row.len() != self.header.len() {
            let why = format!(
                "{} where the header has {}; add or remove commas",
                counted(row.len(), "cell", "cells"),
                self.header.len()
            );
            return Err((None, Error::Malformed { why }));
        }
        let command = match (self.command, self.command_column) {
            (Some(command), _) => command,
            (None, Some(i)) => row[i].trim_ascii().parse().map_err(|e| (Some(i), e))?,
            (None, None) => return Ok(()), // not met: `read` asks for one of them
        };
        match command {
            Command::Ready => self.ask(&self.ready, row, cells, out),
            Command::Dose => self.ask(&self.dose, row, cells, out),
            Command::Water => self.ask(&self.water, row, cells, out),
        }
    }

    fn ask<Q: Question>(
        &self,
        layout: &Layout<Q>,
        row: &StringRecord,
        cells: &mut [Option<f64>],
        out: &mut Vec<u8>,
    ) -> Result<(), Refusal> {
        let question = self.question(layout, row)?;
        let refused = |e: Error| (self.column_of(&e), e);
        if self.json {
            let line = question.line(self.near, self.own_numbers.as_ref());
            out.extend_from_slice(line.map_err(refused)?.as_bytes());
            out.push(b'\n');
            return Ok(());
        }
        cells.fill(None);
        let mut places = layout.places.iter();
        let keep = |value| {
            if let Some(&place) = places.next() {
                cells[place] = value;
            }
        };
        question.numbers(self.near, keep).map_err(refused)?;
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

    fn question<Q: Question>(&self, layout: &Layout<Q>, row: &StringRecord) -> Result<Q, Refusal> {
        let mut question = Q::blank();
        let mut needed = 0;
        for (i, known) in layout.columns.iter().enumerate() {
            let cell = row[i].trim_ascii();
            if cell.is_empty() || Some(i) == self.command_column || Some(i) == self.id_column {
                continue;
            }
            let Some(known) = known else {
                let why = format!(
                    "{} does not know this column; leave the cell empty",
                    Q::NAME
                );
                return Err((Some(i), Error::Contradiction { why }));
            };
            known.set(&mut question, cell).map_err(|e| (Some(i), e))?;
            needed += usize::from(known.column.needed);
        }
        // Counting is enough as long as nothing is missing.
        if needed < Q::COLUMNS.iter().filter(|c| c.needed).count() {
            return Err(layout.missing(row));
        }
        Ok(question)
    }

    /// The column that an error of the whole question names first.
    fn column_of(&self, error: &Error) -> Option<usize> {
        let said = error.to_string();
        let names = |name: &str| {
            let rest = said.strip_prefix(name.replace('-', "_").as_str());
            rest.is_some_and(|rest| rest.starts_with([' ', ':', '_']))
        };
        let named = (0..self.header.len()).filter(|&i| names(&self.header[i]));
        named.max_by_key(|&i| self.header[i].len())
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
            out.extend_from_slice(refuse(&fault.error.clone().at(fault.place())).as_bytes());
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

/// What is wrong with a row, and in which column.
type Refusal = (Option<usize>, Error);

fn layout<Q: Question>(
    header: &[String],
    commands: &[Command],
    numbers: &mut Vec<&'static str>,
) -> Layout<Q> {
    let asked = commands.iter().any(|c| c.name() == Q::NAME);
    let find = |name: &String| {
        let as_key = Q::COLUMNS.iter().find(|c| c.key == name);
        let flag = || {
            Q::COLUMNS.iter().find(|c| {
                !c.flag.is_empty() && (c.flag == name || c.flag.replace('-', "_") == *name)
            })
        };
        let column = as_key.or_else(flag).filter(|_| asked)?;
        Some(Known {
            column,
            as_flag: as_key.is_none(),
        })
    };
    let mut places = Vec::new();
    for name in Q::NUMBERS.iter().filter(|_| asked) {
        places.push(match numbers.iter().position(|n| n == name) {
            Some(place) => place,
            None => {
                numbers.push(name);
                numbers.len() - 1
            }
        });
    }
    Layout {
        columns: header.iter().map(find).collect(),
        places,
    }
}

impl<Q: Question> Layout<Q> {
    fn has(&self, column: &Column<Q>) -> bool {
        let known = self.columns.iter().flatten();
        known.into_iter().any(|k| k.column.key == column.key)
    }

    fn has_needed(&self) -> Result<(), Unusable> {
        match Q::COLUMNS.iter().find(|c| c.needed && !self.has(c)) {
            Some(c) => Err(Unusable(format!(
                "line 1: no column {} (or {}); {} needs it",
                c.key,
                c.flag,
                Q::NAME
            ))),
            None => Ok(()),
        }
    }

    /// The first value that the question needs and the row does not have.
    fn missing(&self, row: &StringRecord) -> Refusal {
        for (i, known) in self.columns.iter().enumerate() {
            if known.as_ref().is_some_and(|k| k.column.needed) && row[i].trim_ascii().is_empty() {
                let why = format!("the cell is empty, and {} needs it", Q::NAME);
                return (Some(i), Error::Malformed { why });
            }
        }
        let lost = Q::COLUMNS.iter().find(|c| c.needed && !self.has(c));
        let why = lost.map_or_else(String::new, |c| {
            format!("{} needs a column {}", Q::NAME, c.key)
        });
        (None, Error::Malformed { why })
    }
}

impl<Q> Known<Q> {
    fn set(&self, question: &mut Q, text: &str) -> Result<(), Error> {
        match self.column.cell {
            Cell::Name(set) => set(question, text),
            Cell::Number(unit, set) if self.as_flag => {
                set(question, unit.read(text)?);
                Ok(())
            }
            Cell::Number(_, set) => {
                let value = text.parse::<f64>().ok().filter(|v| v.is_finite());
                let refuse = || refusal(self.column.key, text, "a plain number such as 19.5");
                set(question, value.ok_or_else(refuse)?);
                Ok(())
            }
        }
    }
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
