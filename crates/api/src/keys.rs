//! The keys of a bake file, each with its meaning.

use super::Remark;
use super::request::request;
use pointage::error::{Error, Result};
use pointage::plan::bake::{BakeKey, BakeSection, bake_sections};
use serde::Serialize;

request! {
    /// Which key or section; all of them when left out.
    KeysRequest = "keys" {
        /// A key such as `bulk_min`, a section such as `reference`, or a word such as `oven`
        #[cfg_attr(feature = "flags", arg(value_name = "KEY"))]
        key: Option<String>,
    }
}

/// The answer to `keys`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct KeysAnswer {
    /// The sections of the bake file that have such keys, with those keys.
    pub sections: Vec<BakeSection>,
    /// Always empty.
    pub warnings: Vec<Remark>,
}

/// Every key of the bake file, or those of a name or a section.
///
/// # Errors
/// No such key; the message names the nearest.
///
/// ```
/// use pointage_api::keys::{KeysRequest, keys};
/// let answer = keys(&KeysRequest { key: Some("bulk_rise".into()) })?;
/// let of = answer.sections.iter().map(|s| s.section).collect::<Vec<_>>();
/// assert_eq!(of, ["reference", "process"]);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn keys(request: &KeysRequest) -> Result<KeysAnswer> {
    let mut sections = bake_sections()?;
    if let Some(asked) = &request.key {
        let asked = asked.trim_matches(['[', ']']);
        let headings = sections.iter().map(|section| section.section);
        let headings: Vec<&str> = headings.filter(|heading| !heading.is_empty()).collect();
        let keys = sections.iter().flat_map(|section| &section.keys);
        let names = keys.map(|key| key.key);
        let mut unknown = Error::unknown_name("key", asked, names.chain(headings.clone()));
        // There are too many keys to list them all.
        if let Error::UnknownName { known, .. } = &mut unknown {
            *known = headings.join(", ");
        }
        // A key alone, or behind its section.
        let (path, name) = match asked.rsplit_once('.') {
            Some((path, name)) if headings.contains(&path) => (Some(path), name),
            _ => (None, asked),
        };
        for section in sections.iter_mut().filter(|s| s.section != asked) {
            let here = path.is_none_or(|path| path == section.section);
            section.keys.retain(|key| here && key.key == name);
        }
        sections.retain(|section| !section.keys.is_empty());
        if sections.is_empty() {
            // Those that speak of it.
            let word = asked.to_ascii_lowercase();
            let speaks = |key: &BakeKey| {
                let text = format!("{} {}", key.key, key.meaning).to_ascii_lowercase();
                word.len() > 2 && text.contains(&word)
            };
            sections = bake_sections()?;
            for section in &mut sections {
                section.keys.retain(speaks);
            }
            sections.retain(|section| !section.keys.is_empty());
        }
        if sections.is_empty() {
            return Err(unknown.of_field("key"));
        }
    }
    Ok(KeysAnswer {
        sections,
        warnings: Vec::new(),
    })
}
