//! What can go wrong, in words that help.
//!
//! One [`Error`] for the whole crate. Each variant carries its facts, so that a program can act on
//! them, and prints as one line that a baker can act on: what is wrong, the allowed range, what to do.
//! Where it happened (a key, a flag, a line of a file) is put in front with [`Error::at`].

/// Names, for flags and files, of the variants of an enum: `ALL`, `name`, and reading and writing by name.
macro_rules! named {
    ($what:literal $kind:ident { $($variant:ident = $name:literal),* $(,)? }) => {
        impl $kind {
            /// Every one.
            pub const ALL: [Self; [$($name),*].len()] = [$(Self::$variant),*];

            /// The name in flags, files and lists.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self {
                    $(Self::$variant => $name),*
                }
            }
        }

        impl std::fmt::Display for $kind {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.name())
            }
        }

        impl std::str::FromStr for $kind {
            type Err = $crate::error::Error;
            fn from_str(text: &str) -> $crate::error::Result<Self> {
                let found = Self::ALL.into_iter().find(|one| one.name() == text);
                found.ok_or_else(|| Self::Err::unknown_name($what, text, Self::ALL.map(Self::name)))
            }
        }
    };
}
pub(crate) use named;

/// The result of everything in this crate that can fail.
pub type Result<T> = std::result::Result<T, Error>;

/// Something that Pointage cannot accept or cannot do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// A number outside the range in which it makes sense.
    #[error("{what} is {} {unit}, but must lie between {low} and {high} {unit}", shown(*value))]
    OutOfRange {
        /// The quantity, in words.
        what: String,
        /// The number given.
        value: f64,
        /// Smallest allowed value.
        low: f64,
        /// Largest allowed value.
        high: f64,
        /// Unit of all three numbers.
        unit: &'static str,
    },
    /// Not a number, or infinite.
    #[error("{what} is not a finite number; give an ordinary number")]
    NotFinite {
        /// The quantity, in words.
        what: String,
    },
    /// Text that cannot be read as the value it should be.
    #[error("cannot read {what} from {input:?}; write {expected}")]
    Text {
        /// The quantity, in words.
        what: String,
        /// The text given.
        input: String,
        /// What is understood, with an example.
        expected: String,
    },
    /// A name that is not in the list of known names.
    #[error("unknown {what} {name:?}; {}known: {known}", nearest.as_ref().map_or(String::new(), |n| format!("did you mean {n:?}? ")))]
    UnknownName {
        /// What the name should name.
        what: String,
        /// The name given.
        name: String,
        /// The closest known name, if one is close.
        nearest: Option<String>,
        /// All known names.
        known: String,
    },
    /// A file, table or record whose form is wrong.
    #[error("{why}")]
    Malformed {
        /// What is wrong and how to mend it.
        why: String,
    },
    /// Two inputs that cannot both hold, or one that is missing.
    #[error("{why}")]
    Contradiction {
        /// Which inputs, and which to leave out or add.
        why: String,
    },
    /// The input is sound, but the aim cannot be met.
    #[error("{aim} cannot be met: {why}; {remedy}")]
    Unreachable {
        /// What was wanted.
        aim: String,
        /// What stands in the way, with numbers.
        why: String,
        /// What would help.
        remedy: String,
    },
    /// A temperature law was asked outside the range it holds for.
    #[error(
        "the {law} law holds from {low_c} to {high_c} °C and was asked at {at_c:.1} °C; stay within, or use a curve with limits of its own"
    )]
    LawRange {
        /// Name of the law.
        law: &'static str,
        /// Lower end of its range, °C.
        low_c: f64,
        /// Upper end of its range, °C.
        high_c: f64,
        /// The temperature asked for, °C.
        at_c: f64,
    },
    /// A numerical method that did not settle.
    #[error(
        "the calculation of {what} did not settle within {steps} steps; this is a fault of the program, please report it with its input"
    )]
    NotSettled {
        /// What was being calculated.
        what: &'static str,
        /// Steps spent.
        steps: usize,
    },
    /// Something that this build of the library was made without.
    #[error("{what} is not in this build of the library; build it with its feature {feature}")]
    LeftOut {
        /// What was asked for.
        what: String,
        /// The feature that brings it.
        feature: &'static str,
    },
    /// A value that the question cannot do without, or values that exclude each other.
    #[error("{} {why}", fields.join(" and "))]
    Fields {
        /// Their keys.
        fields: Vec<String>,
        /// What is wrong with them, and what to do.
        why: String,
    },
    /// The answer takes more work than its budget; see [`crate::budget`].
    #[error(
        "too much work for one question: plan fewer loads, compare fewer values, thin out the record, learn from fewer rows or offers, or give a larger budget"
    )]
    TooMuchWork,
    /// An error with the place where it happened.
    #[error("{place}: {source}")]
    At {
        /// A file and its line, a section of a bake, a key.
        place: String,
        /// The key that the place is or names, with a point in front of each deeper one.
        field: Option<String>,
        /// What happened there.
        source: Box<Error>,
    },
}

/// What went wrong: the kinds of an [`Error`], and no others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ErrorKind {
    /// A number outside the range in which it makes sense.
    OutOfRange,
    /// Not a number, or infinite.
    NotFinite,
    /// Text that cannot be read as the value it should be.
    Text,
    /// A name that is not in the list of known names.
    UnknownName,
    /// A file, table or request whose form is wrong.
    Malformed,
    /// Inputs that cannot all hold, or one that is missing.
    Contradiction,
    /// The input is sound, but the aim cannot be met.
    Unreachable,
    /// A temperature law was asked outside its range.
    LawRange,
    /// A numerical method that did not settle.
    NotSettled,
    /// Something that this build of the library was made without.
    LeftOut,
    /// The answer takes more work than the budget of its question.
    TooMuchWork,
    /// The library itself failed.
    Fault,
}

impl Error {
    /// The same error with the place where it happened in front.
    ///
    /// ```
    /// use pointage::units::Temperature;
    /// let e = Temperature::celsius(300.0).unwrap_err().at("[kitchen] room_c");
    /// assert_eq!(e.to_string(),
    ///     "[kitchen] room_c: temperature is 300 °C, but must lie between -100 and 150 °C");
    /// ```
    #[must_use]
    pub fn at(self, place: impl Into<String>) -> Self {
        self.placed(place.into(), None)
    }

    fn placed(self, place: String, field: Option<String>) -> Self {
        Self::At {
            place: one_line(place),
            field,
            source: Box::new(self),
        }
    }

    /// The same error about a key of a question.
    ///
    /// ```
    /// use pointage::units::Temperature;
    /// let e = Temperature::celsius(300.0).unwrap_err().of_field("room_c");
    /// assert_eq!(e.field().as_deref(), Some("room_c"));
    /// ```
    #[must_use]
    pub fn of_field(self, field: impl Into<String>) -> Self {
        let field = one_line(field.into());
        match self {
            // A key within a key is one path.
            Self::At {
                place,
                field: Some(inner),
                source,
            } if place == inner && inner != field => source.of_field(format!("{field}.{inner}")),
            error => error.placed(field.clone(), Some(field)),
        }
    }

    /// The same error about a key of a bake; both names are empty where they say nothing.
    pub(crate) fn in_bake(self, line: Option<usize>, section: &str, key: &str) -> Self {
        // An unknown key is named by the error itself.
        let unknown = matches!(&self, Self::UnknownName { name, .. } if name == key);
        let key = echo(if unknown { "" } else { key });
        let names = [section, key.as_str()];
        let path: Vec<_> = names.into_iter().filter(|name| !name.is_empty()).collect();
        let path = path.join(".");
        let heading = [format!("[{section}] "), String::new()];
        let heading = &heading[usize::from(section.is_empty())];
        let shown = match line {
            Some(line) => format!("line {line}: {heading}{}", names[1]),
            None if path.is_empty() => return self,
            None => path.clone(),
        };
        let field = (!path.is_empty()).then(|| one_line(path));
        self.placed(shown.trim_end_matches([':', ' ']).into(), field)
    }

    /// The key that the error is about, with a point in front of each deeper one.
    #[must_use]
    pub fn field(&self) -> Option<String> {
        match self {
            Self::At { field, source, .. } => match (field, source.field()) {
                (Some(outer), Some(inner)) if *outer != inner => Some(format!("{outer}.{inner}")),
                (outer, inner) => outer.clone().or(inner),
            },
            Self::Fields { fields, .. } => fields.first().cloned(),
            Self::UnknownName { what, name, .. } if what == "key" => Some(name.clone()),
            _ => None,
        }
    }

    /// The same error with another name for each key, such as that of its flag.
    #[must_use]
    pub fn with_names(self, name: &dyn Fn(&str) -> String) -> Self {
        match self {
            Self::Fields { fields, why } => Self::Fields {
                fields: fields.iter().map(|field| name(field)).collect(),
                why,
            },
            Self::At {
                place,
                source,
                field,
            } => {
                let source = source.with_names(name);
                match field {
                    Some(field) if field == place => source.of_field(name(&field)),
                    field => source.placed(place, field),
                }
            }
            other => other,
        }
    }

    /// The error itself, without the places and keys put in front of it.
    pub(crate) fn root(&self) -> &Self {
        match self {
            Self::At { source, .. } => source.root(),
            other => other,
        }
    }

    /// What went wrong, for programs.
    #[must_use]
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::OutOfRange { .. } => ErrorKind::OutOfRange,
            Self::NotFinite { .. } => ErrorKind::NotFinite,
            Self::Text { .. } => ErrorKind::Text,
            Self::UnknownName { .. } => ErrorKind::UnknownName,
            Self::Malformed { .. } => ErrorKind::Malformed,
            Self::Contradiction { .. } | Self::Fields { .. } => ErrorKind::Contradiction,
            Self::Unreachable { .. } => ErrorKind::Unreachable,
            Self::LawRange { .. } => ErrorKind::LawRange,
            Self::NotSettled { .. } => ErrorKind::NotSettled,
            Self::LeftOut { .. } => ErrorKind::LeftOut,
            Self::TooMuchWork => ErrorKind::TooMuchWork,
            Self::At { source, .. } => source.kind(),
        }
    }

    /// True when the input was fine and only the aim cannot be met (exit code 1 of the program);
    /// otherwise the input is at fault (exit code 2).
    #[must_use]
    pub fn is_unreachable(&self) -> bool {
        matches!(self.root(), Self::Unreachable { .. })
    }

    /// Input that cannot be read, and why.
    pub fn malformed(why: impl Into<String>) -> Self {
        let why = one_line(why.into());
        Self::Malformed { why }
    }

    /// Inputs that do not go together, and what to do.
    pub fn contradiction(why: impl Into<String>) -> Self {
        let why = one_line(why.into());
        Self::Contradiction { why }
    }

    /// An aim that is not met, and what would help.
    pub fn unreachable(
        aim: impl Into<String>,
        why: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self::Unreachable {
            aim: aim.into(),
            why: why.into(),
            remedy: remedy.into(),
        }
    }

    /// A calculation that did not settle within so many steps.
    pub(crate) fn not_settled(what: &'static str, steps: usize) -> Self {
        Self::NotSettled { what, steps }
    }

    /// A row of a CSV text that is longer or shorter than its header.
    pub fn cells(have: u64, need: u64) -> Self {
        let cells = if have == 1 { "cell" } else { "cells" };
        Self::malformed(format!(
            "{have} {cells} where the header has {need}; add or remove separators (a decimal comma needs quotes, or semicolons between the cells)"
        ))
    }

    /// A value that the question cannot do without; `purpose` begins with "for" or the like.
    pub fn missing(field: &str, purpose: &str) -> Self {
        Self::all_missing(&[field], purpose)
    }

    /// Values that the question cannot do without.
    pub fn all_missing(fields: &[&str], purpose: &str) -> Self {
        let are = match fields {
            [_] => "is missing: give it",
            _ => "are missing: give them",
        };
        Self::Fields {
            fields: fields.iter().map(|&field| field.into()).collect(),
            why: format!("{are} {purpose}"),
        }
    }

    /// Values that exclude each other, and why.
    pub fn excludes(fields: &[&str], why: &str) -> Self {
        Self::Fields {
            fields: fields.iter().map(|&field| field.into()).collect(),
            why: format!("{why}: leave one of them out"),
        }
    }

    /// A value that is not written as `expected`.
    pub fn text(what: &str, input: &str, expected: &str) -> Self {
        Self::Text {
            what: what.into(),
            input: echo(input),
            expected: expected.into(),
        }
    }

    /// Refuses a name that is not in `known`, and offers the nearest.
    pub fn unknown_name<'a>(
        what: &str,
        name: &str,
        known: impl IntoIterator<Item = &'a str>,
    ) -> Self {
        let known: Vec<&str> = known.into_iter().collect();
        // An ending that both have, such as a unit, makes them no more alike.
        let own = |k: &str| {
            let ends = k.chars().rev().zip(name.chars().rev());
            k.chars().count() - ends.take_while(|(a, b)| a == b).count()
        };
        let distances = known.iter().map(|k| (edit_distance(name, k), *k));
        let near = distances.filter(|(d, k)| *d <= own(k).max(3) / 3 + 1);
        let nearest = near.min_by_key(|(d, _)| *d);
        Self::UnknownName {
            what: what.into(),
            name: echo(name),
            nearest: nearest.map(|(_, k)| k.to_owned()),
            known: one_line(known.into_iter().map(echo).collect::<Vec<_>>().join(", ")),
        }
    }
}

/// What serde says of text that should be one of a few names.
impl serde::de::Error for Error {
    fn custom<T: std::fmt::Display>(words: T) -> Self {
        Self::malformed(words_of(words))
    }

    fn unknown_variant(name: &str, known: &'static [&'static str]) -> Self {
        Self::unknown_name("name", name, known.iter().copied())
    }
}

/// Names and texts of a file may hold line ends and other control characters: a message shows them as
/// escapes, so that it stays one line and says nothing to a terminal.
fn one_line(text: String) -> String {
    if !text.contains(char::is_control) {
        return text;
    }
    let escaped = text.chars().map(|c| match c.is_control() {
        true => c.escape_default().to_string(),
        false => c.to_string(),
    });
    escaped.collect()
}

/// A number without the digits that a conversion of units leaves behind (204.44444444444446), and with an
/// exponent where it would be long.
pub fn shown(value: f64) -> String {
    let rounded = (value * 1e6).round() / 1e6;
    if value != 0.0 && (rounded == 0.0 || value.abs() >= 1e15) {
        format!("{value:e}")
    } else {
        rounded.to_string()
    }
}

/// Most characters of an input that a message repeats.
const MOST_SHOWN: usize = 60;

/// Text of an input for a message: a long one is cut, so that the message stays one readable line.
pub fn echo(text: &str) -> String {
    let mut shown: String = text.chars().take(MOST_SHOWN).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    shown
}

/// The words of another library about an input, one line; it may repeat the input at any length and place,
/// so that the middle of a long one is cut out.
pub fn words_of(error: impl std::fmt::Display) -> String {
    let words = error.to_string();
    let words: Vec<&str> = words.split_whitespace().collect();
    let words: Vec<char> = words.join(" ").chars().collect();
    let half = 2 * MOST_SHOWN;
    if words.len() <= 2 * half {
        return words.iter().collect();
    }
    let (head, tail) = (&words[..half], &words[words.len() - half..]);
    head.iter().chain(&['…']).chain(tail).collect()
}

/// Refuses a number that is not finite or not in `low..=high`.
pub fn check(what: &str, value: f64, low: f64, high: f64, unit: &'static str) -> Result<f64> {
    if !value.is_finite() {
        return Err(Error::NotFinite { what: what.into() });
    }
    if value < low || value > high {
        return Err(Error::OutOfRange {
            what: what.into(),
            value,
            low,
            high,
            unit,
        });
    }
    Ok(value)
}

/// Edits (insert, delete, replace) between two short names.
fn edit_distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().take(60).enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, cb) in b.iter().enumerate() {
            let replace = corner + usize::from(ca != *cb);
            corner = row[j + 1];
            row[j + 1] = replace.min(row[j] + 1).min(row[j + 1] + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_near_name_is_offered_and_a_far_one_is_not() {
        let near = Error::unknown_name("key", "salt_percnt", ["salt_percent", "hydration_percent"]);
        assert_eq!(
            near.to_string(),
            "unknown key \"salt_percnt\"; did you mean \"salt_percent\"? known: salt_percent, hydration_percent"
        );
        let other = Error::unknown_name("key", "yeast_percent", ["salt_percent"]);
        assert!(!other.to_string().contains("did you mean"), "{other}");
        let far = Error::unknown_name("key", "zzz", ["salt_percent"]);
        assert_eq!(far.to_string(), "unknown key \"zzz\"; known: salt_percent");
    }

    #[test]
    fn the_root_shows_through_any_number_of_places() {
        let e = Error::unreachable("ripe dough", "the room is cold", "warm it")
            .at("a")
            .at("b");
        assert!(e.is_unreachable());
        assert_eq!(
            e.to_string(),
            "b: a: ripe dough cannot be met: the room is cold; warm it"
        );
        assert!(!Error::malformed("x").at("a").is_unreachable());
    }

    /// Found by random damage to tables and records.
    #[test]
    fn what_a_file_holds_cannot_break_the_line() {
        let table = crate::table::parse("format = 1\nstanding = \"de\\trived\\n\\u001b[2J\"\n");
        let record = crate::ambient::Ambient::from_csv("a\0b,c\u{7f}d\n1,2\n");
        for (error, shown) in [
            (table.unwrap_err(), "`de rived \\u{1b}[2J`"),
            (record.unwrap_err(), "(found: )"),
            (Error::malformed("x").at("a\rb"), "a\\rb: x"),
            (Error::contradiction("one\ntwo"), "one\\ntwo"),
            (Error::unknown_name("flour", "a", ["b\nc"]), "known: b\\nc"),
        ] {
            let line = error.to_string();
            assert!(
                line.contains(shown) && !line.contains(char::is_control),
                "{line:?}"
            );
        }
    }

    #[test]
    fn numbers_are_checked_at_both_ends() {
        assert!(check("x", 1.0, 1.0, 2.0, "g").is_ok());
        assert!(check("x", 0.9, 1.0, 2.0, "g").is_err());
        assert!(check("x", 2.1, 1.0, 2.0, "g").is_err());
        assert!(matches!(
            check("x", f64::NAN, 1.0, 2.0, "g"),
            Err(Error::NotFinite { .. })
        ));
    }
}
