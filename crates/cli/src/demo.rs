//! The demo bake that travels in the program, and the reading of others.

use super::exit::Failure;
use super::files;
use pointage::plan::bake::{Bake, DEMO};
use std::path::PathBuf;

/// When the first load of the demo is out.
pub const FIRST_OUT: &str = "09:00";

/// The bake of a file, or the demo without one, and its name for messages.
pub fn bake(file: &Option<PathBuf>) -> Result<(Bake, String), Failure> {
    let (text, name) = match file {
        Some(path) => (
            files::read(path, files::BAKE_BYTES)?,
            path.display().to_string(),
        ),
        None => (DEMO.to_owned(), "demo".to_owned()),
    };
    Ok((Bake::from_toml(&text).map_err(|e| e.at(&name))?, name))
}
