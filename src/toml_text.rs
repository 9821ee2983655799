//! Reading TOML so that a mistake is named by its line.

use crate::error::{Error, Result, words_of};
use serde::de::{DeserializeOwned, IntoDeserializer};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Largest text that is read, bytes; the longest of our own is a fiftieth of it.
pub(crate) const MAX_BYTES: usize = 1 << 20;

/// Where the lines of a text end.
pub(crate) struct Lines(Vec<usize>);

impl Lines {
    /// The line of a byte, counted from 1.
    pub(crate) fn line(&self, byte: usize) -> usize {
        1 + self.0.partition_point(|end| *end < byte)
    }

    /// A part of the text as what it should be.
    pub(crate) fn read<T: DeserializeOwned>(&self, part: Spanned<DeValue<'_>>) -> Result<T> {
        T::deserialize(part.into_deserializer()).map_err(|error| {
            let line = error.span().map_or(1, |span| self.line(span.start));
            Error::malformed(words_of(error.message())).at(format!("line {line}"))
        })
    }
}

/// A text as a table of values that know their place.
pub(crate) fn parse(text: &str) -> Result<(DeTable<'_>, Lines)> {
    // Before the parser: it would read a wrong file to its end.
    if text.len() > MAX_BYTES {
        return Err(Error::malformed(format!(
            "the text holds {} bytes, at most {MAX_BYTES} are read; is it the right file?",
            text.len()
        )));
    }
    let lines = Lines(text.match_indices('\n').map(|(end, _)| end).collect());
    match DeTable::parse(text) {
        Ok(table) => Ok((table.into_inner(), lines)),
        Err(error) => {
            let line = error.span().map_or(1, |span| lines.line(span.start));
            let why = format!(
                "cannot be read ({}); write key = value, text in double quotes, decimals with a \
                 point, each key once",
                words_of(error.message())
            );
            Err(Error::malformed(why).at(format!("line {line}")))
        }
    }
}
