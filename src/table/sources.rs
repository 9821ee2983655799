//! The publications that the tables cite, from `data/sources.toml`.

use crate::error::{Error, Result};
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A publication.
#[derive(Debug, Clone, PartialEq, Eq, serde::Deserialize)]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Source {
    /// Authors, or the body that publishes it.
    pub author: String,
    /// Title.
    pub title: String,
    /// Year, where known.
    #[serde(default)]
    pub year: String,
    /// Journal with volume and pages, publisher, or kind of document.
    #[serde(default)]
    pub published: String,
    /// Address where it, or the passage, was read.
    #[serde(default)]
    pub url: String,
}

impl Source {
    /// The publication in one line.
    ///
    /// ```
    /// let harden = pointage::table::source("harden1914")?;
    /// assert!(harden.citation().starts_with("Harden, A. (1914). Alcoholic Fermentation, 2nd edition."));
    /// # Ok::<(), pointage::Error>(())
    /// ```
    #[must_use]
    pub fn citation(&self) -> String {
        let year = match self.year.as_str() {
            "" => "undated",
            year => year,
        };
        let mut text = format!("{} ({year}). {}.", self.author, self.title);
        if !self.published.is_empty() {
            text += &format!(" {}.", self.published);
        }
        if !self.url.is_empty() {
            text += &format!(" {}", self.url);
        }
        text
    }
}

/// The publication of this key.
///
/// # Errors
/// No such key; the message lists the keys there are.
pub fn source(key: &str) -> Result<&'static Source> {
    let all = sources()?;
    let known = || all.keys().map(String::as_str);
    all.get(key)
        .ok_or_else(|| Error::unknown_name("source", key, known()))
}

/// Every publication by the key under which tables cite it.
pub(super) fn sources() -> Result<&'static BTreeMap<String, Source>> {
    static SOURCES: LazyLock<Result<BTreeMap<String, Source>>> = LazyLock::new(|| {
        let why = |e: toml::de::Error| Error::malformed(e.to_string()).at("data/sources.toml");
        toml::from_str(include_str!("../../data/sources.toml")).map_err(why)
    });
    SOURCES.as_ref().map_err(Clone::clone)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_reads_into_one_line() {
        let text =
            "author = \"A, B.\"\ntitle = \"T\"\nyear = \"1900\"\npublished = \"P\"\nurl = \"u\"\n";
        let source: Source = toml::from_str(text).unwrap();
        assert_eq!(source.citation(), "A, B. (1900). T. P. u");
    }

    #[test]
    fn every_publication_is_named_in_full() {
        for (key, s) in sources().unwrap() {
            assert!(!s.author.is_empty() && !s.title.is_empty(), "{key}");
            assert!(!s.published.is_empty() || !s.url.is_empty(), "{key}");
        }
    }
}
