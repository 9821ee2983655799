//! Reading files: the only place that opens one.

use super::exit::Failure;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

/// Largest bake file, bytes.
pub const BAKE_BYTES: u64 = 1 << 20;
/// Largest record of a room, bytes.
pub const RECORD_BYTES: u64 = 16 << 20;

fn unreadable(path: &Path, error: &std::io::Error) -> Failure {
    let why = match error.kind() {
        ErrorKind::NotFound => "there is no such file; check its name".to_owned(),
        ErrorKind::PermissionDenied => "it may not be read; change its permissions".to_owned(),
        ErrorKind::IsADirectory => "it is a directory; name a file in it".to_owned(),
        _ => format!("it cannot be read: {error}"),
    };
    Failure::File(format!("{}: {why}", path.display()))
}

/// Opens a file that is read piece by piece.
pub fn open(path: &Path) -> Result<File, Failure> {
    let file = File::open(path).map_err(|e| unreadable(path, &e))?;
    match file.metadata() {
        Ok(about) if about.is_dir() => Err(unreadable(path, &ErrorKind::IsADirectory.into())),
        _ => Ok(file),
    }
}

/// Reads a text file of at most `most` bytes; the file name is in front of every failure.
pub fn read(path: &Path, most: u64) -> Result<String, Failure> {
    let unusable = |why: &str| Failure::Input(why.into()).of(&path.display().to_string());
    let mut bytes = Vec::new();
    let got = open(path)?.take(most + 1).read_to_end(&mut bytes);
    if got.map_err(|e| unreadable(path, &e))? as u64 > most {
        let most = most >> 20;
        return Err(unusable(&format!(
            "larger than {most} MiB, the most that is read; is it the right file?"
        )));
    }
    let line_at = |bytes: &[u8]| 1 + bytes.iter().filter(|&&b| b == b'\n').count();
    let text = String::from_utf8(bytes).map_err(|error| {
        let line = line_at(&error.as_bytes()[..error.utf8_error().valid_up_to()]);
        unusable(&format!(
            "line {line}: not UTF-8 text; save the file as UTF-8"
        ))
    })?;
    if text.trim().is_empty() {
        return Err(unusable("the file is empty; is it the right file?"));
    }
    if let Some(at) = text.find('\0') {
        let line = line_at(&text.as_bytes()[..at]);
        return Err(unusable(&format!(
            "line {line}: zero bytes, so this is no text file; is it the right file?"
        )));
    }
    // Spreadsheets put a byte order mark in front.
    Ok(text.trim_start_matches('\u{feff}').to_owned())
}
