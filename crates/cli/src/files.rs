//! Reading files: the only place that opens one.

use super::exit::Failure;
use encoding_rs_io::{DecodeReaderBytes, DecodeReaderBytesBuilder};
use same_file::Handle;
use std::collections::BTreeSet;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

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

/// What this run has read.
static READ: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

/// True for a file that this run has read, by whatever name: what is written must not take its place.
pub fn is_read(file: &Handle) -> bool {
    let read = READ.lock().unwrap_or_else(PoisonError::into_inner);
    // A pipe is no file that could be written over, and opening it again may wait for ever.
    let mut files = read.iter().filter(|path| path.is_file());
    files.any(|path| Handle::from_path(path).is_ok_and(|read| read == *file))
}

/// Bytes as UTF-8, whether they are that or begin with the mark of UTF-16; without the mark. What is neither stays.
pub fn decoded<R: Read>(bytes: R) -> DecodeReaderBytes<R, Vec<u8>> {
    let mut builder = DecodeReaderBytesBuilder::new();
    builder
        .bom_sniffing(true)
        .strip_bom(true)
        .utf8_passthru(true)
        .build(bytes)
}

/// Opens a file that is read piece by piece.
pub fn open(path: &Path) -> Result<File, Failure> {
    let file = File::open(path).map_err(|e| unreadable(path, &e))?;
    let mut read = READ.lock().unwrap_or_else(PoisonError::into_inner);
    read.insert(path.to_owned());
    match file.metadata() {
        Ok(about) if about.is_dir() => Err(unreadable(path, &ErrorKind::IsADirectory.into())),
        _ => Ok(file),
    }
}

/// Reads a text file of at most `most` bytes; the file name is in front of every failure.
pub fn read(path: &Path, most: u64) -> Result<String, Failure> {
    text(open(path)?, path, most)
}

/// The same of a file that is open.
pub fn text(file: impl Read, path: &Path, most: u64) -> Result<String, Failure> {
    let unusable = |why: &str| Failure::Input(why.into()).of(&path.display().to_string());
    let mut bytes = Vec::new();
    let got = decoded(file).take(most + 1).read_to_end(&mut bytes);
    if got.map_err(|e| unreadable(path, &e))? as u64 > most {
        let most = format!("larger than {} MiB, the most that is read", most >> 20);
        return Err(unusable(&format!("{most}; is it the right file?")));
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
    Ok(text)
}
