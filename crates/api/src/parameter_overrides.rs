//! The baker's own numbers, which travel as the text of their file.

use pointage::error::{Error, Result, words_of};
use pointage::ferment::{Parameters, Perturbations};
use pointage::table::{self, Table};

/// Numbers from the text of a parameter file, such as `learn` writes; see
/// [`Parameters::with_table`].
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct ParameterOverrides {
    /// The numbers to reckon with: those of the file in place of the ones before.
    pub parameters: Parameters,
    /// What the file holds.
    pub table: Table,
    /// Its name.
    pub name: String,
}

impl ParameterOverrides {
    /// Reads the text of a file of this name; what it leaves out stays as in `over`.
    ///
    /// # Errors
    /// What [`table::parse`] and [`Parameters::with_table`] refuse, with the name and the line.
    ///
    /// ```
    /// use pointage::ferment::Parameters;
    /// use pointage_api::ParameterOverrides;
    /// let shipped = Parameters::shipped()?;
    /// let text = "format = 1\nid = \"x\"\ntitle = \"Our cellar\"\nobserved = \"\"\nsource = \"our log\"\n\
    ///     locus = \"\"\nstanding = \"derived\"\n[values.poolish_ml_per_100g]\nvalue = 190.0\nlog_sd = 0.1\n";
    /// let own = ParameterOverrides::read(text, "cellar.toml", &shipped)?;
    /// assert_eq!(own.parameters.levels.poolish.gas, 190.0);
    /// assert_eq!(own.note(), "Own numbers from cellar.toml: Our cellar (our log).");
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn read(text: &str, name: &str, over: &Parameters) -> Result<Self> {
        let table = table::parse(text).map_err(|e| e.at(name))?;
        let parameters = over
            .with_table(&table)
            .map_err(|e| at_line(e, text).at(name))?;
        Ok(Self {
            parameters,
            table,
            name: name.to_owned(),
        })
    }

    /// Reads what a request brings along as `params_toml`, if it does.
    pub(super) fn of_request(text: Option<&str>, over: &Parameters) -> Result<Option<Self>> {
        text.map(|text| Self::read(text, "params_toml", over))
            .transpose()
    }

    /// The numbers with their neighbours, for ranges.
    pub(super) fn neighbourhood(&self) -> Perturbations {
        Perturbations::new(self.parameters.clone())
    }

    /// Whose numbers they are, in words.
    #[must_use]
    pub fn note(&self) -> String {
        let Self { table, name, .. } = self;
        format!(
            "Own numbers from {name}: {} ({}).",
            words_of(&table.title),
            words_of(&table.source)
        )
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
