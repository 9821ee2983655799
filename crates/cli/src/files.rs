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
    Failure::of_file(format!("{}: {why}", path.display()))
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
    let name = path.display();
    let unreadable = |error| unreadable(path, &error);
    let too_large = || {
        Failure::of_input(format!(
            "{name}: larger than {} MiB, the most that is read; is it the right file?",
            most >> 20
        ))
    };
    // Asked before anything is read: a pipe tells no length and is cut off below.
    let about = std::fs::metadata(path).map_err(unreadable)?;
    if about.is_dir() {
        return Err(unreadable(ErrorKind::IsADirectory.into()));
    }
    if about.len() > most {
        return Err(too_large());
    }
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(most + 1).read_to_end(&mut bytes))
        .map_err(unreadable)?;
    if bytes.len() as u64 > most {
        return Err(too_large());
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let good = &error.as_bytes()[..error.utf8_error().valid_up_to()];
        let line = 1 + good.iter().filter(|&&b| b == b'\n').count();
        Failure::of_input(format!(
            "{name}: line {line}: not UTF-8 text; save the file as UTF-8"
        ))
    })?;
    if text.trim().is_empty() {
        return Err(Failure::of_input(format!(
            "{name}: the file is empty; is it the right file?"
        )));
    }
    if let Some(at) = text.find('\0') {
        let line = 1 + text[..at].matches('\n').count();
        return Err(Failure::of_input(format!(
            "{name}: line {line}: zero bytes, so this is no text file; is it the right file?"
        )));
    }
    // Spreadsheets put a byte order mark in front.
    Ok(match text.strip_prefix('\u{feff}') {
        Some(rest) => rest.to_owned(),
        None => text,
    })
}
