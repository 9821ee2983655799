//! Many questions as columns.

use crate::{code, working};
use arrow_array::{
    Array, ArrayRef, Float64Array, RecordBatch, StringArray, cast::AsArray, types::Float64Type,
};
use arrow_cast::cast;
use arrow_schema::{ArrowError, DataType, Field, FieldRef, Schema};
use numpy::{IntoPyArray, PyArray1, PyReadonlyArray1};
use pointage::Error;
use pointage_api::columns::{COMMANDS, Columns, TableRow};
use pointage_api::request::Input;
use pointage_api::{Model, rounded};
use pyo3::prelude::*;
use pyo3_arrow::PyTable;
use pyo3_arrow::input::AnyRecordBatch;
use rayon::prelude::*;
use rayon::{ThreadPool, ThreadPoolBuilder};
use serde_json::Value;
use std::sync::{Arc, OnceLock};

/// Rows that a thread takes at a time: a millisecond of work. As few need no other thread.
const BLOCK: usize = 1024;

/// What is wrong with a row: its column where it has one.
type Fault = (usize, Option<usize>, Error);

/// The cells of a column.
enum Cells {
    Numbers(Float64Array),
    Texts(StringArray),
    /// The same in every row.
    Same(Value),
}

impl Cells {
    fn of(array: &ArrayRef) -> Result<Self, ArrowError> {
        if array.data_type().is_numeric() {
            let numbers = cast(array, &DataType::Float64)?;
            return Ok(Self::Numbers(numbers.as_primitive::<Float64Type>().clone()));
        }
        let texts = cast(array, &DataType::Utf8)?;
        Ok(Self::Texts(texts.as_string::<i32>().clone()))
    }
}

/// A row of them.
struct CellsAt<'a>(&'a [Cells], usize);

impl TableRow for CellsAt<'_> {
    fn cell(&self, column: usize) -> Option<Input<'_>> {
        match &self.0[column] {
            Cells::Numbers(numbers) => {
                (numbers.is_valid(self.1)).then(|| Input::Number(numbers.value(self.1)))
            }
            Cells::Texts(texts) if texts.is_null(self.1) => None,
            Cells::Texts(texts) => Some(texts.value(self.1).trim())
                .filter(|t| !t.is_empty())
                .map(Input::Text),
            Cells::Same(value) => Some(Input::Json(value)),
        }
    }
}

/// The threads of a process, and of those forked from it: threads do not live through a fork.
struct Pool {
    process: u32,
    threads: Option<ThreadPool>,
    next: OnceLock<Box<Pool>>,
}

/// The threads of this process, made when first needed.
fn pool() -> Option<&'static ThreadPool> {
    static FIRST: OnceLock<Box<Pool>> = OnceLock::new();
    let process = std::process::id();
    let mut slot = &FIRST;
    loop {
        let pool = slot.get_or_init(|| {
            let threads = ThreadPoolBuilder::new().build().ok();
            let next = OnceLock::new();
            Box::new(Pool {
                process,
                threads,
                next,
            })
        });
        if pool.process == process {
            return pool.threads.as_ref();
        }
        slot = &pool.next;
    }
}

/// Answers rows, side by side if asked: the numbers, column by column, NaN where there is none, and the faults.
fn answered(
    columns: &Columns<'_>,
    cells: &[Cells],
    rows: usize,
    parallel: bool,
) -> (Vec<Vec<f64>>, Vec<Fault>) {
    let width = columns.numbers.len();
    let mut numbers = vec![f64::NAN; rows * width];
    let work = |(nth, block): (usize, &mut [f64])| {
        let mut faults: Vec<Fault> = Vec::new();
        let long = block.len() / width;
        for at in 0..long {
            let row = nth * BLOCK + at;
            let answer = columns.answer(&CellsAt(cells, row), &mut |number, value| {
                block[number * long + at] = value.map_or(f64::NAN, rounded);
            });
            if let Err((column, error)) = answer {
                faults.push((row, column, error));
            }
        }
        faults
    };
    let faults = match (parallel && rows > BLOCK).then(pool).flatten() {
        Some(pool) => pool.install(|| {
            let blocks = numbers.par_chunks_mut(BLOCK * width).enumerate();
            blocks.flat_map_iter(work).collect()
        }),
        None => numbers
            .chunks_mut(BLOCK * width)
            .enumerate()
            .flat_map(work)
            .collect(),
    };
    let of = |number: usize| {
        let blocks = numbers.chunks(BLOCK * width);
        let parts = blocks.flat_map(|block| {
            let long = block.len() / width;
            &block[number * long..][..long]
        });
        parts.copied().collect()
    };
    ((0..width).map(of).collect(), faults)
}

fn model(params_toml: Option<&str>) -> Result<Model, Error> {
    let shipped = Model::shipped()?;
    match params_toml {
        Some(text) => {
            let own = shipped.with_overrides(text, "params_toml");
            own.map_err(|e| e.of_field("params_toml"))
        }
        None => Ok(shipped),
    }
}

/// The columns as the command sees them, and the places of those that it does not know, which must be kept.
fn understood<'m>(
    command: &str,
    names: &[&str],
    keep: &[String],
    model: &'m Model,
) -> Result<(Columns<'m>, Vec<usize>), Error> {
    let all: Vec<(usize, &str)> = names.iter().copied().enumerate().collect();
    let columns = |names: &[(usize, &str)]| {
        Columns::new(command, names, model, false)
            .ok_or_else(|| Error::unknown_name("command", command, COMMANDS).of_field("command"))
    };
    if let Some(i) = (0..names.len()).find(|&i| names[..i].contains(&names[i])) {
        let why = "the column stands there twice; take one away";
        return Err(Error::contradiction(why).of_field(names[i]));
    }
    let unknown = columns(&all)?.unknown;
    let is_kept = |name: &str| keep.iter().any(|keep| keep == name);
    if let Some(&i) = unknown.iter().find(|&&i| !is_kept(names[i])) {
        let why = format!("it is no key or flag of {command}; name it so, or keep it");
        return Err(Error::contradiction(why).of_field(names[i]));
    }
    let known: Vec<_> = all
        .into_iter()
        .filter(|(i, _)| !unknown.contains(i))
        .collect();
    let columns = columns(&known)?;
    match &columns.lacks {
        Some(lacks) => Err(Error::malformed(lacks.clone())),
        None => Ok((columns, unknown)),
    }
}

/// The field of a fault: its column, or the key of the error.
fn field(fault: &Fault, names: &[&str]) -> Option<String> {
    let column = fault.1.map(|column| names[column].to_owned());
    column.or_else(|| fault.2.field())
}

/// The names of the numbers of an answer, as they stand in a table.
#[pyfunction]
pub fn numbers(py: Python<'_>, command: &str) -> PyResult<Vec<&'static str>> {
    working(py, || {
        let model = Model::shipped()?;
        let columns = Columns::new(command, &[], &model, false);
        let unknown = || Error::unknown_name("command", command, COMMANDS).of_field("command");
        columns.map(|columns| columns.numbers).ok_or_else(unknown)
    })
}

type NamedArray<'py> = (&'static str, Bound<'py, PyArray1<f64>>);
/// Place of a row, code, field and message.
type RowFault = (usize, String, Option<String>, String);

/// A column of NumPy.
#[derive(FromPyObject)]
pub enum Given<'py> {
    Numbers(PyReadonlyArray1<'py, f64>),
    Texts(Vec<Option<String>>),
}

/// Answers rows whose cells are in columns, or the same in every row: the numbers by their names, and of each
/// row without an answer its place, code, field and message.
#[pyfunction]
pub fn rows<'py>(
    py: Python<'py>,
    command: &str,
    arrays: Vec<(String, Given<'py>)>,
    same: Vec<(Bound<'py, PyAny>, Bound<'py, PyAny>)>,
    rows: usize,
) -> PyResult<(Vec<NamedArray<'py>>, Vec<RowFault>)> {
    let (mut names, mut cells, mut params_toml) = (Vec::new(), Vec::new(), None);
    for (name, given) in arrays {
        names.push(name);
        cells.push(match given {
            Given::Numbers(numbers) => Cells::Numbers(numbers.as_array().iter().copied().collect()),
            Given::Texts(texts) => Cells::Texts(texts.into_iter().collect()),
        });
    }
    for (name, value) in same {
        match crate::field_of(&name, &value)? {
            None | Some((_, Value::Null)) => {}
            Some((name, Value::String(text))) if name == "params_toml" => params_toml = Some(text),
            Some((name, value)) => {
                names.push(name.into_owned());
                cells.push(Cells::Same(value));
            }
        }
    }
    let (numbers, faults) = working(py, || {
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let model = model(params_toml.as_deref())?;
        let (columns, _) = understood(command, &names, &[], &model)?;
        let (numbers, faults) = answered(&columns, &cells, rows, true);
        let faults = faults.iter().map(|fault| {
            let (row, _, error) = fault;
            (*row, code(error), field(fault, &names), error.to_string())
        });
        let faults: Vec<RowFault> = faults.collect();
        let numbers: Vec<_> = columns.numbers.iter().copied().zip(numbers).collect();
        Ok((numbers, faults))
    })?;
    let numbers = numbers.into_iter();
    let numbers = numbers.map(|(name, numbers)| (name, numbers.into_pyarray(py)));
    Ok((numbers.collect(), faults))
}

/// Answers a table of questions by a table: what is kept of it, the numbers of the answers, and `error`,
/// `error_code` and `error_field`, which are null where there is an answer.
///
/// Parameters
/// ----------
/// command : str
///     ready, dose, water, ice or scale.
/// table
///     Anything with the Arrow C data interface, such as a table of pyarrow, pandas, Polars or DuckDB. A column
///     is named by a key of the question (`at_c`) or by its flag (`at`), as in `pointage batch`.
/// keep : sequence of str
///     Columns that go into the answer as they are; `id` always does.
/// params_toml : str, optional
///     Fermentation parameters: the text of a file such as `learn` writes.
/// parallel : bool, default True
///     Use all cores.
///
/// Returns
/// -------
/// A table with the Arrow C data interface: `pyarrow.table(...)`, `polars.DataFrame(...)`,
/// `pandas.DataFrame.from_arrow(...)`.
#[pyfunction]
#[pyo3(signature = (command, table, *, keep = Vec::new(), params_toml = None, parallel = true))]
pub fn answer(
    py: Python<'_>,
    command: &str,
    table: AnyRecordBatch,
    mut keep: Vec<String>,
    params_toml: Option<&str>,
    parallel: bool,
) -> PyResult<PyTable> {
    keep.push("id".to_owned());
    let reader = table.into_reader()?;
    let (batches, schema) = working(py, || {
        let from = reader.schema();
        let names: Vec<&str> = from.fields().iter().map(|f| f.name().as_str()).collect();
        let model = model(params_toml)?;
        let (columns, unknown) = understood(command, &names, &keep, &model)?;
        let kept = |name: &&str| keep.iter().any(|keep| keep == name);
        let kept: Vec<usize> = (0..names.len()).filter(|&i| kept(&names[i])).collect();
        let is_own = |name: &str| columns.numbers.contains(&name) || ERRORS.contains(&name);
        if let Some(&twice) = kept.iter().find(|&&i| is_own(names[i])) {
            let why = "the answer has a column of this name; rename it, or keep it elsewhere";
            return Err(Error::contradiction(why).of_field(names[twice]));
        }
        let own = columns
            .numbers
            .iter()
            .map(|name| (*name, DataType::Float64));
        let own = own.chain(ERRORS.map(|name| (name, DataType::Utf8)));
        let own = own.map(|(name, of)| Arc::new(Field::new(name, of, true)));
        let fields = kept.iter().map(|&i| from.fields()[i].clone()).chain(own);
        let schema = Arc::new(Schema::new(fields.collect::<Vec<FieldRef>>()));
        let answer = |batch: Result<RecordBatch, ArrowError>| -> Result<RecordBatch, Error> {
            let batch = batch.map_err(unreadable)?;
            let cells = batch
                .columns()
                .iter()
                .zip(&names)
                .enumerate()
                .map(|(i, (array, name))| {
                    // What is only kept may be of any type.
                    if unknown.contains(&i) {
                        return Ok(Cells::Same(Value::Null));
                    }
                    Cells::of(array).map_err(|e| unreadable(e).of_field(*name))
                });
            let cells = cells.collect::<Result<Vec<Cells>, Error>>()?;
            let rows = batch.num_rows();
            let (numbers, faults) = answered(&columns, &cells, rows, parallel);
            let kept = kept.iter().map(|&i| batch.column(i).clone());
            let numbers = numbers.into_iter().map(|numbers| -> ArrayRef {
                let some = |value: f64| (!value.is_nan()).then_some(value);
                Arc::new(numbers.into_iter().map(some).collect::<Float64Array>())
            });
            let errors = errors(&faults, &names, rows).map(|texts| Arc::new(texts) as ArrayRef);
            let arrays = kept.chain(numbers).chain(errors).collect();
            RecordBatch::try_new(schema.clone(), arrays).map_err(unreadable)
        };
        let batches = reader.map(answer).collect::<Result<Vec<_>, _>>()?;
        Ok((batches, schema.clone()))
    })?;
    PyTable::try_new(batches, schema)
}

/// Names of the columns that say why a row has no answer.
const ERRORS: [&str; 3] = ["error", "error_code", "error_field"];

/// What they hold.
fn errors(faults: &[Fault], names: &[&str], rows: usize) -> [StringArray; 3] {
    let column = |of: &dyn Fn(&Fault) -> Option<String>| {
        if faults.is_empty() {
            return StringArray::new_null(rows);
        }
        let mut texts = vec![None; rows];
        for fault in faults {
            texts[fault.0] = of(fault);
        }
        StringArray::from(texts)
    };
    [
        column(&|fault| Some(fault.2.to_string())),
        column(&|fault| Some(code(&fault.2))),
        column(&|fault| field(fault, names)),
    ]
}

fn unreadable(error: ArrowError) -> Error {
    Error::malformed(error.to_string())
}
