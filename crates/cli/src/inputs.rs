//! What a command is asked about: a bake, of a file or the demo that travels in the program, and the parameters.

use super::exit::Failure;
use super::files;
use pointage::plan::bake::{Bake, DEMO};
use pointage_api::Model;
use std::path::{Path, PathBuf};

/// When the first load of the demo is out.
pub const FIRST_OUT: &str = "10:00";

/// The bake of a file, or the demo without one, and its name for messages.
pub fn bake(file: &Option<PathBuf>) -> Result<(Bake, String), Failure> {
    let name = file.as_deref().unwrap_or(Path::new("demo"));
    let name = name.display().to_string();
    let text = match file {
        Some(path) => files::read(path, files::BAKE_BYTES)?,
        None => DEMO.to_owned(),
    };
    Ok((Bake::from_toml(&text).map_err(|e| e.at(&name))?, name))
}

/// The shipped parameters, or those of a file in their place.
pub fn model(file: Option<&Path>) -> Result<Model, Failure> {
    let shipped = Model::shipped()?;
    let Some(path) = file else {
        return Ok(shipped);
    };
    let text = files::read(path, files::BAKE_BYTES)?;
    Ok(shipped.with_overrides(&text, &path.display().to_string())?)
}
