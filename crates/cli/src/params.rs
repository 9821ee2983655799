//! Fermentation parameters of a file, `--params`.

use super::exit::Failure;
use super::files;
use pointage_api::Model;
use std::path::Path;

/// The shipped parameters, or those of a file in their place.
pub fn model(file: Option<&Path>) -> Result<Model, Failure> {
    let shipped = Model::shipped()?;
    let Some(path) = file else {
        return Ok(shipped);
    };
    let text = files::read(path, files::BAKE_BYTES)?;
    Ok(shipped.with_overrides(&text, &path.display().to_string())?)
}
