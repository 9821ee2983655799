//! The publications that the tables cite, from `data/sources.bib`.

use crate::error::{Error, Result};
use std::sync::OnceLock;

/// A publication.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Source {
    /// Name by which tables cite it.
    pub key: String,
    /// Authors, or the body that publishes it.
    pub author: String,
    /// Title.
    pub title: String,
    /// Year, where known.
    pub year: String,
    /// Journal with volume and pages, publisher, or kind of document.
    pub published: String,
    /// Address where it, or the passage, was read.
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
    all.iter()
        .find(|s| s.key == key)
        .ok_or_else(|| Error::unknown_name("source", key, all.iter().map(|s| s.key.as_str())))
}

pub(super) fn sources() -> Result<&'static [Source]> {
    static SOURCES: OnceLock<Result<Vec<Source>>> = OnceLock::new();
    SOURCES
        .get_or_init(|| {
            parse(include_str!("../../data/sources.bib")).map_err(|e| e.at("data/sources.bib"))
        })
        .as_deref()
        .map_err(Clone::clone)
}

/// Reads the part of the BibTeX form that our own file uses: `@kind{key,`, one `field = {text},` a
/// line, `}`; lines that start with `%` are remarks.
fn parse(text: &str) -> Result<Vec<Source>> {
    let mut all: Vec<Source> = Vec::new();
    let mut open = false;
    for (i, line) in text.lines().map(str::trim).enumerate() {
        let refuse =
            || Error::malformed(format!("cannot read {line:?}")).at(format!("line {}", i + 1));
        if line.is_empty() || line.starts_with('%') {
            continue;
        }
        if !open {
            let key = line.strip_prefix('@').and_then(|l| l.split_once('{'));
            let key = key.and_then(|(_, key)| key.strip_suffix(','));
            all.push(Source {
                key: key.ok_or_else(refuse)?.into(),
                ..Source::default()
            });
            open = true;
        } else if line == "}" {
            open = false;
        } else if let Some(entry) = all.last_mut() {
            let field = line.strip_suffix("},").and_then(|l| l.split_once(" = {"));
            let (field, content) = field.ok_or_else(refuse)?;
            *match field {
                "author" => &mut entry.author,
                "title" => &mut entry.title,
                "year" => &mut entry.year,
                "journal" | "publisher" | "howpublished" => &mut entry.published,
                "url" => &mut entry.url,
                _ => return Err(refuse()),
            } = content.into();
        }
    }
    match all.last() {
        Some(Source { key, .. }) if open => Err(Error::malformed(format!(
            "the entry {key:?} is not closed by a line with a brace"
        ))),
        _ => Ok(all),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_reads_into_one_line() {
        let text = "% remark\n@book{a1900,\n  author = {A, B.},\n  title = {T},\n  year = {1900},\n  publisher = {P},\n  url = {u},\n}\n";
        let all = parse(text).unwrap();
        assert_eq!(all.len(), 1);
        assert_eq!(all[0].citation(), "A, B. (1900). T. P. u");
    }

    #[test]
    fn a_slip_is_named_by_its_line() {
        for (text, at) in [
            ("x", "line 1"),
            ("@book{a,\n  colour = {red},\n}", "line 2"),
            ("@book{a,\n  title = {T}\n}", "line 2"),
            ("@book{a,\n", "\"a\""),
        ] {
            let e = parse(text).unwrap_err().to_string();
            assert!(e.contains(at), "{e}");
        }
    }

    #[test]
    fn every_publication_is_named_in_full_and_once() {
        let all = sources().unwrap();
        for (i, s) in all.iter().enumerate() {
            assert!(!s.author.is_empty() && !s.title.is_empty(), "{}", s.key);
            assert!(!s.published.is_empty() || !s.url.is_empty(), "{}", s.key);
            assert!(all[..i].iter().all(|o| o.key != s.key), "{} twice", s.key);
        }
    }
}
