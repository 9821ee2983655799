//! The baker's own numbers, `--params`.

use super::exit::Failure;
use super::files;
use pointage::ferment::Parameters;
use pointage_api::ParameterOverrides;
use std::path::Path;

/// The numbers to reckon with.
pub struct Numbers {
    /// The shipped ones, with those of a file in their place.
    pub parameters: Parameters,
    /// The file, when there is one.
    pub own: Option<ParameterOverrides>,
}

impl Numbers {
    /// The shipped numbers, with those of `file` in their place.
    pub fn read(file: Option<&Path>) -> Result<Self, Failure> {
        let shipped = Parameters::shipped()?;
        let Some(path) = file else {
            return Ok(Self {
                parameters: shipped,
                own: None,
            });
        };
        let text = files::read(path, files::BAKE_BYTES)?;
        let own = ParameterOverrides::read(&text, &path.display().to_string(), &shipped)?;
        Ok(Self {
            parameters: own.parameters.clone(),
            own: Some(own),
        })
    }

    /// Adds whose numbers they are.
    pub fn tell<N: From<String>>(&self, notes: &mut Vec<N>) {
        notes.extend(self.own.as_ref().map(|own| own.note().into()));
    }
}
