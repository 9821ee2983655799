//! The parameters of fermentation, for many questions.

use crate::assumption::Assumption;
use crate::sentences::Remark;
use pointage::error::{Error, Result, words_of};
use pointage::ferment::Parameters;
use pointage::table::{self, Table};
use std::borrow::Cow;

/// The parameters of the model. Make it once and ask it as often as you like.
///
/// ```
/// use pointage::ferment::Kind;
/// use pointage_api::{Model, ready::{ReadyRequest, ready}};
/// let text = "format = 1\nid = \"x\"\ntitle = \"Our cellar\"\nobserved = \"\"\nsource = \"our log\"\n\
///     locus = \"\"\nstanding = \"derived\"\n[values.poolish_ml_per_100g]\nvalue = 190.0\nlog_sd = 0.1\n";
/// let ours = Model::shipped()?.with_overrides(text, "cellar.toml")?;
/// assert_eq!(ours.parameters().level(Kind::Poolish).gas, 190.0);
/// let poolish = ReadyRequest { at_c: Some("21".parse()?), ..ReadyRequest::new(Kind::Poolish, "0.1%".parse()?) };
/// assert!(ready(&poolish, &ours)?.ready_h < ready(&poolish, &Model::shipped()?)?.ready_h);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    shipped: &'static Parameters,
    /// What a file brought: in a box, for a model is handed on with every row.
    own: Option<Box<ParameterOverrides>>,
}

impl Model {
    /// The shipped parameters.
    ///
    /// # Errors
    /// Only if an embedded table were damaged.
    pub fn shipped() -> Result<Self> {
        Ok(Self {
            shipped: Parameters::shared()?,
            own: None,
        })
    }

    /// The same with the parameters of a file, such as `learn` writes, in place of its own.
    ///
    /// # Errors
    /// What [`table::parse`] and [`Parameters::with_table`] refuse, with the name and the line.
    pub fn with_overrides(&self, text: &str, name: &str) -> Result<Self> {
        let overrides = ParameterOverrides::read(text, name, self.parameters());
        Ok(self.with(overrides.map_err(|e| e.at(name))?))
    }

    fn with(&self, overrides: ParameterOverrides) -> Self {
        Self {
            shipped: self.shipped,
            own: Some(Box::new(overrides)),
        }
    }

    /// The model of a question that may bring parameters of its own.
    pub(crate) fn of_request(&self, params_toml: Option<&String>) -> Result<Cow<'_, Self>> {
        let Some(text) = params_toml else {
            return Ok(Cow::Borrowed(self));
        };
        let field = "params_toml";
        let brought = ParameterOverrides::read(text, field, self.parameters());
        Ok(Cow::Owned(
            self.with(brought.map_err(|e| e.of_field(field))?),
        ))
    }

    /// The parameters.
    #[must_use]
    pub fn parameters(&self) -> &Parameters {
        self.overrides().map_or(self.shipped, |own| &own.parameters)
    }

    /// The file that the parameters come from, when it is not the shipped one.
    #[must_use]
    pub fn overrides(&self) -> Option<&ParameterOverrides> {
        self.own.as_deref()
    }

    /// Whose parameters they are, when they are not the shipped ones.
    #[must_use]
    pub fn note(&self) -> Option<Remark> {
        self.overrides().map(ParameterOverrides::note)
    }
}

/// Parameters from the text of a file, such as `learn` writes; see [`Parameters::with_table`].
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct ParameterOverrides {
    /// Those of the file in place of the ones before.
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
    /// As [`Model::with_overrides`], without the name.
    pub fn read(text: &str, name: &str, over: &Parameters) -> Result<Self> {
        let table = table::parse(text)?;
        let parameters = over.with_table(&table).map_err(|e| at_line(e, text))?;
        Ok(Self {
            parameters,
            table,
            name: name.to_owned(),
        })
    }

    /// Whose parameters they are.
    #[must_use]
    pub fn note(&self) -> Remark {
        Remark::from(Assumption::OwnParameters {
            name: self.name.clone(),
            title: words_of(&self.table.title),
            source: words_of(&self.table.source),
        })
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
