//! The baker's own numbers, `--params`.

use super::failure::Failure;
use super::files;
use pointage::Error;
use pointage::ferment::Parameters;
use pointage::learn::fit::Base;
use pointage::table;
use std::path::Path;

/// The numbers to reckon with.
pub struct Numbers {
    /// The shipped ones, with those of a file in their place.
    pub parameters: Parameters,
    /// Whose numbers they are, when they are not the shipped ones.
    pub note: Option<String>,
    /// Their file, when they are not the shipped ones.
    pub base: Option<Base>,
}

impl Numbers {
    /// The shipped numbers, with those of `file` in their place.
    pub fn read(file: Option<&Path>) -> Result<Self, Failure> {
        let shipped = Parameters::shipped()?;
        let Some(path) = file else {
            return Ok(Self {
                parameters: shipped,
                note: None,
                base: None,
            });
        };
        let name = path.display().to_string();
        let text = files::read(path, files::BAKE_BYTES)?;
        let own = table::parse(&text).map_err(|e| e.at(&name))?;
        let parameters = shipped
            .with_table(&own)
            .map_err(|e| at_line(e, &text).at(&name))?;
        Ok(Self {
            parameters,
            note: Some(format!(
                "Own numbers from {name}: {} ({}).",
                own.title, own.source
            )),
            base: Some(Base { name, table: own }),
        })
    }

    /// Adds whose numbers they are.
    pub fn tell(&self, notes: &mut Vec<String>) {
        notes.extend(self.note.clone());
    }
}

/// The error with the line of the table that it names.
fn at_line(error: Error, text: &str) -> Error {
    let line = match &error {
        Error::At { place, .. } => text.lines().position(|l| l.trim_start().starts_with(place)),
        _ => None,
    };
    match line {
        Some(before) => error.at(format!("line {}", before + 1)),
        None => error,
    }
}
