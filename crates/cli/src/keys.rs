//! The answer of `keys` in words.

use super::render::Page;
use pointage_api::keys::KeysAnswer;

pub const EXAMPLES: &str = "Examples: one key, one section of the bake file
  pointage keys bulk_min
  pointage keys reference";

/// Columns of a key.
const KEY: usize = 26;

pub fn words(answer: &KeysAnswer) -> String {
    let mut page = Page::default();
    for (i, section) in answer.sections.iter().enumerate() {
        if i > 0 {
            page.gap();
        }
        match section.section {
            "" => page.say(section.about),
            path => page.item(&format!("[{path}] "), section.about),
        }
        for key in &section.keys {
            let choices = match key.choices.split_last() {
                Some((last, others)) => format!(" {} or {last};", others.join(", ")),
                None => String::new(),
            };
            let range = key.range.map_or(String::new(), |[low, high]| {
                format!(" {low} to {high} {};", key.unit)
            });
            let (meaning, default, example) = (key.meaning, &key.default, key.example);
            let label = format!("  {:<KEY$} ", key.key);
            let default = match default.as_str() {
                required if required.starts_with("required") => required.to_owned(),
                default => format!("default: {default}"),
            };
            let text = format!("{meaning}{range}{choices} {default}; e.g. {example}");
            page.item(&label, &text);
        }
    }
    page.finish()
}
