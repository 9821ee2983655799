//! An answer as objects of Python, with no text between: structs and maps are dicts, sequences are lists.

use pointage_api::{TakeAnswer, rounded};
use pyo3::exceptions::PyRuntimeError;
use pyo3::types::{PyDict, PyList, PyString};
use pyo3::{IntoPyObjectExt, prelude::*};
use rustc_hash::FxHashMap;
use serde::ser::{self, Error as _, Impossible, Serialize, Serializer};
use serde_json::Error;
use std::cell::RefCell;

/// An answer that is still to become an object, for that needs the interpreter's lock.
pub trait Answer: Send {
    /// It, as an object.
    fn object<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>>;
}

impl<A: Serialize + Send> Answer for A {
    fn object<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let made = self.serialize(ToObject(py));
        made.map_err(|e| PyRuntimeError::new_err(e.to_string()))
    }
}

/// Takes an answer while the lock is released.
pub struct Keep;

impl TakeAnswer for Keep {
    type Made = Box<dyn Answer>;

    fn take<A: Serialize + Send + 'static>(self, answer: A) -> pointage::Result<Box<dyn Answer>> {
        Ok(Box::new(answer))
    }
}

type Object<'py> = Result<Bound<'py, PyAny>, Error>;

fn object<T>(made: PyResult<T>) -> Result<T, Error> {
    made.map_err(Error::custom)
}

/// A key or a word of the library's own. It is made once a thread: making it costs as much as the rest of its entry.
fn word<'py>(py: Python<'py>, text: &'static str) -> Bound<'py, PyString> {
    thread_local! {
        static WORDS: RefCell<FxHashMap<(usize, usize), Py<PyString>>> = RefCell::default();
    }
    WORDS.with_borrow_mut(|words| {
        let made = words.entry((text.as_ptr() as usize, text.len()));
        let made = made.or_insert_with(|| PyString::intern(py, text).unbind());
        made.bind(py).clone()
    })
}

/// Makes objects of Python. No answer has the kinds of Rust that it refuses.
#[derive(Clone, Copy)]
struct ToObject<'py>(Python<'py>);

/// Values that Python has as they are: a method and a type each.
macro_rules! as_they_are {
    ($($method:ident $type:ty),*) => {$(
        fn $method(self, value: $type) -> Object<'py> {
            object(value.into_bound_py_any(self.0))
        }
    )*};
}

impl<'py> Serializer for ToObject<'py> {
    type Ok = Bound<'py, PyAny>;
    type Error = Error;
    type SerializeSeq = ListBuilder<'py>;
    type SerializeTuple = ListBuilder<'py>;
    type SerializeTupleStruct = Impossible<Self::Ok, Error>;
    type SerializeTupleVariant = Impossible<Self::Ok, Error>;
    type SerializeMap = DictBuilder<'py>;
    type SerializeStruct = DictBuilder<'py>;
    type SerializeStructVariant = Impossible<Self::Ok, Error>;

    as_they_are! {
        serialize_bool bool, serialize_i8 i8, serialize_i16 i16, serialize_i32 i32, serialize_i64 i64,
        serialize_u8 u8, serialize_u16 u16, serialize_u32 u32, serialize_u64 u64,
        serialize_char char, serialize_str &str, serialize_bytes &[u8]
    }

    fn serialize_f32(self, value: f32) -> Object<'py> {
        self.serialize_f64(value.into())
    }

    fn serialize_f64(self, value: f64) -> Object<'py> {
        // JSON has null for what is no number.
        let finite = value.is_finite().then(|| rounded(value));
        object(finite.into_bound_py_any(self.0))
    }

    fn serialize_none(self) -> Object<'py> {
        self.serialize_unit()
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Object<'py> {
        value.serialize(self)
    }

    fn serialize_unit(self) -> Object<'py> {
        Ok(self.0.None().into_bound(self.0))
    }

    fn serialize_unit_struct(self, _: &'static str) -> Object<'py> {
        self.serialize_unit()
    }

    fn serialize_unit_variant(self, _: &'static str, _: u32, name: &'static str) -> Object<'py> {
        Ok(word(self.0, name).into_any())
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        value: &T,
    ) -> Object<'py> {
        value.serialize(self)
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        name: &'static str,
        _: u32,
        variant: &'static str,
        value: &T,
    ) -> Object<'py> {
        let mut dict = self.serialize_struct(name, 1)?;
        ser::SerializeStruct::serialize_field(&mut dict, variant, value)?;
        ser::SerializeStruct::end(dict)
    }

    fn serialize_seq(self, length: Option<usize>) -> Result<ListBuilder<'py>, Error> {
        let items = Vec::with_capacity(length.unwrap_or_default());
        Ok(ListBuilder(self, items))
    }

    fn serialize_tuple(self, length: usize) -> Result<ListBuilder<'py>, Error> {
        self.serialize_seq(Some(length))
    }

    fn serialize_tuple_struct(
        self,
        name: &'static str,
        _: usize,
    ) -> Result<Self::SerializeTupleStruct, Error> {
        Err(Error::custom(name))
    }

    fn serialize_tuple_variant(
        self,
        name: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self::SerializeTupleVariant, Error> {
        Err(Error::custom(name))
    }

    fn serialize_map(self, _: Option<usize>) -> Result<DictBuilder<'py>, Error> {
        Ok(DictBuilder(self, PyDict::new(self.0), None))
    }

    fn serialize_struct(self, _: &'static str, _: usize) -> Result<DictBuilder<'py>, Error> {
        self.serialize_map(None)
    }

    fn serialize_struct_variant(
        self,
        name: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self::SerializeStructVariant, Error> {
        Err(Error::custom(name))
    }
}

/// A list and its items so far.
struct ListBuilder<'py>(ToObject<'py>, Vec<Bound<'py, PyAny>>);

impl<'py> ser::SerializeSeq for ListBuilder<'py> {
    type Ok = Bound<'py, PyAny>;
    type Error = Error;

    fn serialize_element<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Error> {
        self.1.push(value.serialize(self.0)?);
        Ok(())
    }

    fn end(self) -> Object<'py> {
        object(PyList::new(self.0.0, self.1)).map(Bound::into_any)
    }
}

impl<'py> ser::SerializeTuple for ListBuilder<'py> {
    type Ok = Bound<'py, PyAny>;
    type Error = Error;

    fn serialize_element<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Error> {
        ser::SerializeSeq::serialize_element(self, value)
    }

    fn end(self) -> Object<'py> {
        ser::SerializeSeq::end(self)
    }
}

/// A dict, and the key whose value is still to come.
struct DictBuilder<'py>(ToObject<'py>, Bound<'py, PyDict>, Option<Bound<'py, PyAny>>);

impl<'py> ser::SerializeMap for DictBuilder<'py> {
    type Ok = Bound<'py, PyAny>;
    type Error = Error;

    fn serialize_key<T: Serialize + ?Sized>(&mut self, key: &T) -> Result<(), Error> {
        self.2 = Some(key.serialize(self.0)?);
        Ok(())
    }

    fn serialize_value<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Error> {
        object(self.1.set_item(self.2.take(), value.serialize(self.0)?))
    }

    fn end(self) -> Object<'py> {
        Ok(self.1.into_any())
    }
}

impl<'py> ser::SerializeStruct for DictBuilder<'py> {
    type Ok = Bound<'py, PyAny>;
    type Error = Error;

    fn serialize_field<T: Serialize + ?Sized>(
        &mut self,
        key: &'static str,
        value: &T,
    ) -> Result<(), Error> {
        object(
            self.1
                .set_item(word(self.0.0, key), value.serialize(self.0)?),
        )
    }

    fn end(self) -> Object<'py> {
        Ok(self.1.into_any())
    }
}
