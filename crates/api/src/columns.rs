//! A table of questions, a row each: what its columns mean, and what a row of cells answers.
//!
//! CSV, NumPy and Arrow are read through here. A column is named by the key of a field or by its flag; a cell
//! is a number or a text, or empty. A row has the numbers of its answer, or an error that knows its column.

use crate::dose::{DoseAnswer, DoseRequest};
use crate::ice::{IceAnswer, IceRequest};
use crate::ready::{ReadyAnswer, ReadyRequest};
use crate::request::{Answerable, Field, Input, Request};
use crate::scale::ScaleAnswer;
use crate::water::{WaterAnswer, WaterRequest};
use crate::{Model, call::ScaleRequest, to_line};
use pointage::Error;
use serde::Serialize;

/// The commands that rows can ask.
pub const COMMANDS: [&str; 5] = ["ready", "dose", "water", "ice", "scale"];

/// A row of a table.
pub trait TableRow {
    /// A cell by the place of its column; nothing when it is empty.
    fn cell(&self, column: usize) -> Option<Input<'_>>;
}

/// Why a row has no answer, and the column at fault.
pub type RowError = (Option<usize>, Error);

/// Asks with a row. Gives the numbers of the answer to whoever collects them, in the order of their names,
/// or the whole answer as a line of JSON.
type Ask<'m> = dyn Fn(&dyn TableRow, &mut dyn FnMut(usize, Option<f64>)) -> Result<Option<String>, RowError>
    + Send
    + Sync
    + 'm;

/// The columns of a table as one command sees them.
pub struct Columns<'m> {
    /// The command.
    pub command: &'static str,
    /// Places of columns that it does not know.
    pub unknown: Vec<usize>,
    /// A field that it needs and that has no column, as a complaint.
    pub lacks: Option<String>,
    /// Names of the numbers of an answer.
    pub numbers: Vec<&'static str>,
    ask: Box<Ask<'m>>,
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

    fn read(&self, row: &dyn TableRow, question: &mut Q) -> Result<(), Error> {
        let Some(cell) = row.cell(self.0) else {
            return Ok(());
        };
        let Some((field, as_flag)) = self.2 else {
            let command = Q::COMMAND;
            let why = format!("{command} does not know this column; leave the cell empty");
            return Err(Error::contradiction(why));
        };
        match cell {
            Input::Number(value) if as_flag => {
                (field.set)(question, Input::Text(&value.to_string()))
            }
            Input::Text(text) if !as_flag => match text.parse() {
                Ok(value) if f64::is_finite(value) => (field.set)(question, Input::Number(value)),
                _ => (field.set)(question, cell),
            },
            _ => (field.set)(question, cell),
        }
    }
}

/// The error in the words of the header, and its column.
fn refusal<Q: Request>(columns: &[Column<Q>], error: Error) -> RowError {
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

impl<'m> Columns<'m> {
    /// Understands the columns of a table for a command; nothing for one that takes no rows. With `json` a
    /// row is answered by a line of JSON.
    #[must_use]
    pub fn new(
        command: &str,
        names: &[(usize, &str)],
        model: &'m Model,
        json: bool,
    ) -> Option<Self> {
        match command {
            "ready" => Some(Self::of::<ReadyRequest, ReadyAnswer>(names, model, json)),
            "dose" => Some(Self::of::<DoseRequest, DoseAnswer>(names, model, json)),
            "water" => Some(Self::of::<WaterRequest, WaterAnswer>(names, model, json)),
            "ice" => Some(Self::of::<IceRequest, IceAnswer>(names, model, json)),
            "scale" => Some(Self::of::<ScaleRequest, ScaleAnswer>(names, model, json)),
            _ => None,
        }
    }

    fn of<Q, A>(names: &[(usize, &str)], model: &'m Model, json: bool) -> Self
    where
        Q: Answerable<A> + Sync,
        A: Serialize + 'static,
    {
        let columns = names.iter().map(|(place, name)| Column::new(*place, name));
        let columns: Vec<Column<Q>> = columns.collect();
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
        let unknown = columns.iter().filter(|c| c.2.is_none()).map(|c| c.0);
        Self {
            command: Q::COMMAND,
            unknown: unknown.collect(),
            lacks,
            numbers: Q::NUMBERS.iter().map(|(name, _)| *name).collect(),
            ask: Box::new(move |row, give| {
                let mut question = Q::default();
                for column in &columns {
                    let read = column.read(row, &mut question);
                    read.map_err(|e| (Some(column.0), e))?;
                }
                let is_empty = |&i: &usize| row.cell(i).is_none();
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
                for (i, (_, number)) in Q::NUMBERS.iter().enumerate() {
                    give(i, number(&answer));
                }
                Ok(None)
            }),
        }
    }

    /// Answers a row: its numbers go to `give`, with the place of their name.
    ///
    /// # Errors
    /// A cell that cannot be read or is missing; what the command refuses.
    pub fn answer(
        &self,
        row: &dyn TableRow,
        give: &mut dyn FnMut(usize, Option<f64>),
    ) -> Result<Option<String>, RowError> {
        (self.ask)(row, give)
    }
}
