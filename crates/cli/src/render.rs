//! Numbers and sentences for a baker.

use super::exit::Failure;
use pointage::Result;
use pointage_api::{Request, to_line};
use serde::Serialize;
use std::fmt::Display;
use std::io::{self, IsTerminal};

/// Columns of a line: those of a terminal within reason, and 80 where the text goes elsewhere.
fn width() -> usize {
    match io::stdout().is_terminal() {
        true => textwrap::termwidth().clamp(60, 120),
        false => 80,
    }
}

/// True for a character that steers a terminal: a control, or a mark that turns the direction of what follows.
pub fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// The answer as JSON, or else in words.
pub fn output<T: Serialize>(
    json: bool,
    answer: &T,
    words: impl FnOnce(&T) -> String,
) -> Result<String> {
    match json {
        true => to_line(answer),
        false => Ok(words(answer)),
    }
}

/// The answer to a request as JSON, or else in words; its error names flags in place of keys.
pub fn answered<R: Request, A: Serialize>(
    json: bool,
    answer: Result<A>,
    words: impl FnOnce(&A) -> String,
) -> std::result::Result<String, Failure> {
    let answer = answer.map_err(Failure::of_request::<R>)?;
    Ok(output(json, &answer, words)?)
}

/// No cautions, or no notes.
pub const NONE: &[&str] = &[];

/// A text that is built line by line, none wider than the terminal.
#[derive(Default)]
pub struct Page(String);

impl Page {
    /// Adds a sentence, broken between words.
    pub fn say(&mut self, sentence: impl AsRef<str>) {
        self.wrapped("", "", sentence.as_ref());
    }

    /// Adds a text beside its label; further lines stand below the text.
    pub fn item(&mut self, label: &str, text: &str) {
        self.wrapped(label, &" ".repeat(label.chars().count()), text);
    }

    /// Adds a line as it is.
    pub fn line(&mut self, line: impl AsRef<str>) {
        for part in line.as_ref().trim_end().split('\n') {
            self.0.push_str(&part.replace(steers, " "));
            self.0.push('\n');
        }
    }

    /// Adds an empty line.
    pub fn gap(&mut self) {
        self.0.push('\n');
    }

    /// Adds cautions, then what was assumed.
    pub fn cautions<W: Display, N: Display>(&mut self, warnings: &[W], notes: &[N]) {
        self.titled("Caution: ", warnings);
        match warnings {
            [] => self.titled("Note: ", notes),
            _ => self.sentences("Note: ", notes),
        }
    }

    /// Adds cautions of an answer, behind the rows that were not used.
    pub fn refused<R: Display, W: Display>(&mut self, refused: &[R], warnings: &[W]) {
        let refused = refused.iter().map(|row| format!("Not used: {row}."));
        let warnings = warnings.iter().map(W::to_string);
        self.titled("Caution: ", &refused.chain(warnings).collect::<Vec<_>>());
    }

    /// Adds a sentence that lists things, if there are any.
    pub fn list(&mut self, label: &str, things: impl IntoIterator<Item = String>) {
        let things: Vec<String> = things.into_iter().collect();
        if !things.is_empty() {
            self.say(format!("{label}: {}.", things.join("; ")));
        }
    }

    fn titled(&mut self, title: &str, sentences: &[impl Display]) {
        if !sentences.is_empty() {
            self.gap();
        }
        self.sentences(title, sentences);
    }

    fn sentences(&mut self, title: &str, sentences: &[impl Display]) {
        for sentence in sentences {
            self.wrapped(title, "  ", &sentence.to_string());
        }
    }

    /// The whole text.
    pub fn finish(self) -> String {
        self.0
    }

    fn wrapped(&mut self, label: &str, indent: &str, text: &str) {
        let lines = textwrap::Options::new(width())
            .initial_indent(label)
            .subsequent_indent(indent)
            .word_splitter(textwrap::WordSplitter::NoHyphenation)
            .break_words(false);
        match bound(text) {
            text if text.is_empty() => self.line(label),
            text => self.line(textwrap::fill(&text, lines).replace(BOUND, " ")),
        }
    }
}

/// A blank where no line ends.
const BOUND: char = '\u{a0}';

/// A text with bound blanks between numbers and their units, as in `1 h 17`.
pub fn bound(text: &str) -> String {
    const UNITS: [&str; 9] = ["°C", "°F", "K", "g", "kg", "%", "h", "min", "mL"];
    let words = text.split_whitespace();
    words.fold(String::new(), |mut text, word| {
        let unit = UNITS.contains(&word.trim_end_matches(['.', ',', ';', ':', ')']));
        let minutes = text.ends_with("\u{a0}h") && word.starts_with(|c: char| c.is_ascii_digit());
        match text.chars().last() {
            Some(last) if minutes || unit && last.is_ascii_digit() => text.push(BOUND),
            Some(_) => text.push(' '),
            None => {}
        }
        text + word
    })
}

/// A temperature on both scales.
pub fn temperature(c: f64) -> String {
    format!("{} °C ({:.0} °F)", decimals(c, 1), c * 1.8 + 32.0)
}

/// A temperature difference on both scales.
pub fn difference(k: f64) -> String {
    format!("{} °C ({} °F)", decimals(k, 1), decimals(k * 1.8, 1))
}

/// A number without a minus sign in front of zero.
fn decimals(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.chars().all(|c| c == '0' || c == '.') => zero.to_owned(),
        _ => text,
    }
}

/// A number with so many digits that count.
pub fn digits(value: f64, count: usize) -> String {
    let rounded: f64 = format!("{value:.*e}", count - 1).parse().unwrap_or(value);
    format!("{rounded}")
}

/// A mass as precise as a scale can use it.
pub fn mass(g: f64) -> String {
    match g {
        g if g >= 10_000.0 => format!("{:.2} kg", g / 1000.0),
        g if g >= 100.0 => format!("{g:.0} g"),
        g if g >= 10.0 => format!("{g:.1} g"),
        g if g >= 0.1 => format!("{g:.2} g"),
        g => format!("{g:.3} g"),
    }
}

/// A dose, three digits that count.
pub fn percent(value: f64) -> String {
    let digits = match value {
        v if v < 0.1 => 4,
        v if v < 1.0 => 3,
        _ => 2,
    };
    format!("{value:.digits$} %")
}

/// A forecast time: to five minutes, and above two days to the hour.
pub fn about(hours: f64) -> String {
    match hours {
        h if h >= 48.0 => format!("{h:.0} h ({:.1} days)", h / 24.0),
        h if h >= 2.0 => time((h * 12.0).round() / 12.0),
        h => time(h),
    }
}

/// What a stage does when it is done.
pub fn done(until: &str, rise: Option<f64>) -> String {
    match (until, rise) {
        ("own-recipe", _) => "matches your recipe".to_owned(),
        ("doubled", _) => "has doubled".to_owned(),
        ("ripe", Some(rise)) => format!("is ripe, risen {rise:.1}-fold,"),
        ("ripe", None) => "is ripe".to_owned(),
        (rise, _) => format!("has risen {}-fold", rise.trim_end_matches('x')),
    }
}

/// So many of a thing whose plural is `things`.
pub fn counted(count: usize, thing: &str, things: &str) -> String {
    match count {
        1 => format!("1 {thing}"),
        n => format!("{n} {things}"),
    }
}

/// Minutes, and from two hours on the hours.
pub fn minutes(min: f64) -> String {
    match min < 119.5 {
        true => format!("{min:.0} min"),
        false => time(min / 60.0),
    }
}

/// A length of time, to the minute.
pub fn time(hours: f64) -> String {
    let minutes = (hours * 60.0).round();
    let (h, min) = ((minutes / 60.0).floor(), minutes % 60.0);
    match (h, min) {
        (0.0, _) => format!("{min:.0} min"),
        (_, 0.0) => format!("{h:.0} h"),
        _ => format!("{h:.0} h {min:02.0}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_and_lines_read_well() {
        assert_eq!(time(12.999), "13 h");
        assert_eq!(time(1.5), "1 h 30");
        assert_eq!(time(0.1), "6 min");
        assert_eq!(temperature(-0.01), "0.0 °C (32 °F)");
        let mut page = Page::default();
        page.cautions(&["word ".repeat(40)], NONE);
        assert!(page.finish().lines().all(|l| l.chars().count() <= 80));
    }
}
