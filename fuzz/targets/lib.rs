//! What must hold of every answer, whatever was asked.

use pointage::{Error, Result};

/// The answer, if there is one; a refusal must be one line that says something.
pub fn answered<T>(answer: Result<T>) -> Option<T> {
    answer.inspect_err(one_line).ok()
}

/// A message is one line that can be printed.
pub fn one_line(error: &Error) {
    let text = error.to_string();
    assert!(!text.trim().is_empty());
    assert!(!text.chars().any(char::is_control), "{text:?}");
}
