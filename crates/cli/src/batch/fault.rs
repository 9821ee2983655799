//! A row without an answer.

use super::super::exit::Failure;
use pointage::Error;

/// A row that has no answer.
pub struct Fault {
    pub line: u64,
    pub column: Option<String>,
    pub error: Error,
}

impl Fault {
    /// Where it stands in its file.
    pub fn place(&self) -> String {
        match &self.column {
            Some(column) => format!("line {}, column {column}", self.line),
            None => format!("line {}", self.line),
        }
    }

    /// As a failure of the whole file.
    pub fn failure(&self, file: &str) -> Failure {
        self.error.clone().at(self.place()).at(file).into()
    }
}
