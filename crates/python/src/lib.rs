//! Pointage for Python: one question as a dict, many as columns of NumPy or Arrow.
//!
//! No panic crosses the boundary. The interpreter's lock is released while questions are answered, and a process
//! that is forked meanwhile can go on asking: no lock is taken on the way, and each process has threads of its own.

mod columns;
mod object;

use object::Keep;
use pointage::Error;
use pointage_api::request::Fields;
use pyo3::create_exception;
use pyo3::exceptions::{PyTypeError, PyValueError};
use pyo3::intern;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyDict, PyFloat, PyInt, PyList, PyString, PyTuple};
use serde_json::{Map, Value};
use std::borrow::Cow;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;

create_exception!(
    pointage,
    PointageError,
    PyValueError,
    "What cannot be answered: a message for people, `code` for programs, `field` the key at fault."
);

/// The exception of an error.
fn raised(py: Python<'_>, code: &str, field: Option<&str>, message: String) -> PyErr {
    let error = PointageError::new_err(message);
    let value = error.value(py);
    let set = value.setattr(intern!(py, "code"), code);
    match set.and_then(|()| value.setattr(intern!(py, "field"), field)) {
        Ok(()) => error,
        Err(other) => other,
    }
}

/// Works without the interpreter's lock; a panic is an error like any other.
fn working<T: Send>(py: Python<'_>, work: impl FnOnce() -> Result<T, Error> + Send) -> PyResult<T> {
    match py.detach(|| catch_unwind(AssertUnwindSafe(work))) {
        Ok(Ok(done)) => Ok(done),
        Ok(Err(error)) => {
            let field = error.field();
            Err(raised(
                py,
                &code(&error),
                field.as_deref(),
                error.to_string(),
            ))
        }
        Err(_) => {
            let why = "the library failed on this request; this is a fault of the library, please report it";
            Err(raised(py, "fault", None, why.to_owned()))
        }
    }
}

/// The code of an error, as JSON has it.
fn code(error: &Error) -> String {
    let code = serde_json::to_value(error.kind()).unwrap_or_default();
    code.as_str().unwrap_or_default().to_owned()
}

/// Lists and dicts in each other; a bake has five.
const DEEPEST: usize = 32;

/// A value of Python as JSON has it; nothing for an array. A path stands for the text of its file.
fn value_of(object: &Bound<'_, PyAny>, depth: usize) -> PyResult<Option<Value>> {
    let py = object.py();
    if depth > DEEPEST {
        return Err(PyTypeError::new_err(
            "lists and dicts in each other, too many",
        ));
    }
    if let Ok(text) = object.cast::<PyString>() {
        Ok(Some(text.to_string_lossy().into_owned().into()))
    } else if object.is_instance_of::<PyFloat>() {
        finite(object).map(Some)
    } else if object.is_none() {
        Ok(Some(Value::Null))
    } else if let Ok(yes) = object.cast::<PyBool>() {
        Ok(Some(yes.is_true().into()))
    } else if object.is_instance_of::<PyInt>() {
        if let Ok(whole) = object.extract::<i64>() {
            return Ok(Some(whole.into()));
        }
        match object.extract::<u64>() {
            Ok(whole) => Ok(Some(whole.into())),
            Err(_) => finite(object).map(Some),
        }
    } else if object.is_instance_of::<PyList>() || object.is_instance_of::<PyTuple>() {
        let items = object.try_iter()?.map(|item| value_of(&item?, depth + 1));
        let items: Option<Vec<Value>> = items.collect::<PyResult<_>>()?;
        Ok(items.map(Value::Array))
    } else if let Ok(dict) = object.cast::<PyDict>() {
        let mut map = Map::new();
        for (key, value) in dict {
            let Some(value) = value_of(&value, depth + 1)? else {
                return Ok(None);
            };
            map.insert(key.extract()?, value);
        }
        Ok(Some(Value::Object(map)))
    } else if object.hasattr(intern!(py, "__array__"))?
        && object.getattr(intern!(py, "shape"))?.len()? > 0
    {
        Ok(None)
    } else if object.hasattr(intern!(py, "__fspath__"))? {
        let path: PathBuf = object.extract()?;
        Ok(Some(std::fs::read_to_string(path)?.into()))
    } else if object.extract::<f64>().is_ok() {
        finite(object).map(Some)
    } else {
        let kind = object.get_type();
        let why = format!("{kind} is none of number, text, list, dict, path or array");
        Err(PyTypeError::new_err(why))
    }
}

/// A number. JSON has no other than finite ones, and would take them as left out.
fn finite(object: &Bound<'_, PyAny>) -> PyResult<Value> {
    let number = serde_json::Number::from_f64(object.extract()?).map(Value::Number);
    let why = || format!("{object} is not a finite number");
    number.ok_or_else(|| raised(object.py(), "not-finite", None, why()))
}

/// A field of a question; nothing for an array. A bake that is a text is the text of its file.
fn field_of<'a>(
    key: &'a Bound<'_, PyAny>,
    value: &Bound<'_, PyAny>,
) -> PyResult<Option<(Cow<'a, str>, Value)>> {
    let py = key.py();
    let mut key = key.cast::<PyString>()?.to_string_lossy();
    if key == "bake" && !value.is_instance_of::<PyDict>() {
        key += "_toml";
    }
    match value_of(value, 0) {
        Ok(value) => Ok(value.map(|value| (key, value))),
        Err(error) => {
            if error.is_instance_of::<PointageError>(py) {
                error.value(py).setattr(intern!(py, "field"), key)?;
            }
            Err(error)
        }
    }
}

/// Answers a question, its fields a dict; `args` are more of them, whose keys are `names`. None counts as left
/// out. Arrays among them make it many questions.
#[pyfunction]
#[pyo3(signature = (command, fields, names = None, args = None))]
fn ask<'py>(
    py: Python<'py>,
    command: &str,
    fields: &Bound<'py, PyDict>,
    names: Option<&Bound<'py, PyTuple>>,
    args: Option<&Bound<'py, PyTuple>>,
) -> PyResult<Bound<'py, PyAny>> {
    let none = PyTuple::empty(py);
    let (names, args) = (names.unwrap_or(&none), args.unwrap_or(&none));
    if args.len() > names.len() {
        let (most, given) = (names.len(), args.len());
        let why = format!("{command} takes at most {most} fields without their names, not {given}");
        return Err(PyTypeError::new_err(why));
    }
    let given: Vec<_> = names.iter().zip(args).chain(fields).collect();
    let mut asked = Vec::with_capacity(given.len());
    for (key, value) in &given {
        if value.is_none() {
            continue;
        }
        let Some(field) = field_of(key, value)? else {
            let many = py.import(intern!(py, "pointage._arrays"))?;
            return many.call_method1(intern!(py, "columns"), (command, given));
        };
        asked.push(field);
    }
    let answer = working(py, || pointage_api::ask(command, &Fields::new(asked), Keep))?;
    answer.object(py)
}

/// Answers a request that is JSON text, as JSON text; see `data/schema`. What is wrong with it stands in the answer.
#[pyfunction]
fn call(py: Python<'_>, request: &str) -> PyResult<String> {
    working(py, || Ok(pointage_api::call(request)))
}

/// The native half of the package `pointage`.
#[pymodule]
mod _pointage {
    #[pymodule_export]
    use super::columns::{answer, numbers, rows};
    #[pymodule_export]
    use super::{PointageError, ask, call};
    use pyo3::prelude::*;

    /// What is read once is read now, by a question of each kind with a remark, and one of water: who is forked while
    /// another thread reads it would wait for ever.
    #[pymodule_init]
    fn init(module: &Bound<'_, PyModule>) -> PyResult<()> {
        let kinds = ["poolish", "biga", "sponge", "old-dough", "dough"]
            .map(|kind| format!(r#""ready", "kind": "{kind}", "dose_percent": 1, "at_c": 25"#));
        let water = r#""water", "dough_c": 25, "flour_c": 20, "room_c": 20, "flour_mass_g": 1, "water_mass_g": 1"#;
        super::working(module.py(), || {
            for question in kinds.iter().map(String::as_str).chain([water]) {
                drop(pointage_api::call(&format!(
                    r#"{{"version": 1, "command": {question}}}"#
                )));
            }
            Ok(())
        })?;
        module.add("__version__", env!("CARGO_PKG_VERSION"))
    }
}
