//! One section of a bake file, read key by key with the line of each.
//!
//! A hand-written reader over the parsed TOML instead of a derived one, because a baker needs the line
//! and the nearest key for *every* mistake, and derived readers lose the line of a value that reads
//! well but makes no sense.

use crate::error::{Error, Result, check, echo, shown};
use crate::table::Table;
use crate::units::{ClockTime, Mass, Percent, Temperature, TemperatureDifference, hours};
use std::time::Duration;
use toml::de::{DeTable, DeValue};

/// Every section of the file and its keys. The first is the top of the file.
const SECTIONS: [(&str, &[&str]); 11] = [
    (
        "",
        &[
            "format",
            "name",
            "formula",
            "preferment",
            "kitchen",
            "process",
            "cold",
            "working_hours",
            "oven",
        ],
    ),
    (
        "formula",
        &[
            "pieces",
            "piece_g",
            "scrap_percent",
            "bake_loss_percent",
            "hydration_percent",
            "salt_percent",
            "sugar_percent",
            "fat_percent",
            "yeast_percent",
            "bassinage_percent",
            "flour",
            "extra",
            "old_dough",
        ],
    ),
    ("formula.flour", &["name", "share_percent"]),
    ("formula.extra", &["name", "percent", "water_percent"]),
    (
        "formula.old_dough",
        &[
            "percent",
            "hydration_percent",
            "salt_percent",
            "yeast_percent",
        ],
    ),
    (
        "preferment",
        &[
            "kind",
            "flour_percent",
            "flour",
            "hydration_percent",
            "salt_percent",
            "dose_percent",
            "ripe_after_h",
            "dough_c",
            "extra_preferment_g",
            "stands_in",
            "joins",
            "mixing_heat_kj_per_kg",
            "room_c",
            "room_record",
            "room_record_from",
            "room_record_days_before",
            "room_mean_c",
            "room_amplitude_c",
            "room_warmest",
        ],
    ),
    (
        "kitchen",
        &[
            "yeast",
            "room_c",
            "room_record",
            "room_record_from",
            "room_record_days_before",
            "room_mean_c",
            "room_amplitude_c",
            "room_warmest",
            "flour_c",
            "tap_c",
            "yeast_c",
            "ice_c",
            "scale_step_g",
            "altitude_m",
            "flour_moisture_percent",
            "mixer_kg",
            "board_capacity",
            "retarder_capacity",
            "tub_l",
        ],
    ),
    (
        "process",
        &[
            "dough_c",
            "friction_factor_c",
            "base_c",
            "mixing_heat_kj_per_kg",
            "autolyse_min",
            "mix_min",
            "bassinage_c",
            "bulk_min",
            "bulk_percent",
            "bulk_h",
            "bulk_c",
            "bulk_in",
            "folds_min",
            "divide_min",
            "bench_rest_min",
            "bench_rest_max_min",
            "shape_min",
            "divide_s_per_piece",
            "shape_s_per_piece",
            "proof",
            "proof_c",
            "proof_in",
            "loaf_length_to_diameter",
            "hold_later_loads",
            "retarder_c",
            "cool_min",
        ],
    ),
    (
        "cold",
        &[
            "stage",
            "hours",
            "after_min",
            "stands_in",
            "room_c",
            "room_record",
            "room_record_from",
            "room_record_days_before",
            "room_mean_c",
            "room_amplitude_c",
            "room_warmest",
        ],
    ),
    ("working_hours", &["from", "until"]),
    (
        "oven",
        &[
            "pieces_per_load",
            "bake_min",
            "oven_recovery_min",
            "preheat_min",
        ],
    ),
];

/// Most sections of one kind (flours, extras).
const MOST_SECTIONS: usize = 100;

/// A section, its keys known to be known.
pub(super) struct Section<'a> {
    text: &'a str,
    path: &'static str,
    line: usize,
    table: &'a DeTable<'a>,
}

/// The line of a byte, counted from 1.
pub(super) fn line_of(text: &str, byte: usize) -> usize {
    let before = &text.as_bytes()[..byte.min(text.len())];
    1 + before.iter().filter(|b| **b == b'\n').count()
}

/// Where something stands: line, section and key.
fn place(line: usize, path: &str, key: &str) -> String {
    match (path, key) {
        ("", "") => format!("line {line}"),
        ("", key) => format!("line {line}: {key}"),
        (path, "") => format!("line {line}: [{path}]"),
        (path, key) => format!("line {line}: [{path}] {key}"),
    }
}

impl<'a> Section<'a> {
    /// The top of the file, its keys not yet checked.
    pub(super) fn top(text: &'a str, table: &'a DeTable<'a>) -> Self {
        Self {
            text,
            path: "",
            line: 1,
            table,
        }
    }

    fn open(
        text: &'a str,
        path: &'static str,
        line: usize,
        table: &'a DeTable<'a>,
    ) -> Result<Self> {
        let section = Self {
            text,
            path,
            line,
            table,
        };
        section.refuse_unknown_keys()?;
        Ok(section)
    }

    /// Refuses the first unknown key, with the nearest known one or the section it belongs in.
    pub(super) fn refuse_unknown_keys(&self) -> Result<()> {
        let section = SECTIONS.iter().find(|(path, _)| *path == self.path);
        let known = section.map_or(&[] as &[&str], |(_, keys)| *keys);
        let unknown = self
            .table
            .keys()
            .filter(|key| !known.contains(&key.get_ref().as_ref()))
            .min_by_key(|key| key.span().start);
        let Some(key) = unknown else {
            return Ok(());
        };
        let name = key.get_ref().as_ref();
        let mut error = Error::unknown_name("key", name, known.iter().copied());
        let homes: Vec<String> = SECTIONS
            .iter()
            .filter(|(_, keys)| keys.contains(&name))
            .map(|(path, _)| match *path {
                "" => "the top of the file, above the first section".into(),
                path => format!("[{path}]"),
            })
            .collect();
        let no_near_key = matches!(&error, Error::UnknownName { nearest: None, .. });
        if no_near_key && !homes.is_empty() {
            error = Error::malformed(format!(
                "key {name:?} does not belong here, but in: {}; move it there",
                homes.join(", ")
            ));
        }
        let line = line_of(self.text, key.span().start);
        Err(error.at(place(line, self.path, "")))
    }

    /// The error with line and key in front.
    pub(super) fn at(&self, key: &str, error: Error) -> Error {
        let line = self.find(key).map_or(self.line, |(line, _)| line);
        error.at(place(line, self.path, key))
    }

    /// The error with the line of the section in front.
    pub(super) fn at_section(&self, error: Error) -> Error {
        error.at(place(self.line, self.path, ""))
    }

    fn find(&self, key: &str) -> Option<(usize, &'a DeValue<'a>)> {
        let (key, value) = self.table.iter().find(|(k, _)| k.get_ref() == key)?;
        Some((line_of(self.text, key.span().start), value.get_ref()))
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.find(key).is_some()
    }

    /// Refuses a key that is not there; `example` is a value it could have.
    pub(super) fn required<T>(&self, key: &str, example: &str, value: Option<T>) -> Result<T> {
        value.ok_or_else(|| {
            let write = if example.is_empty() {
                format!("section [{key}]; add it with its keys")
            } else {
                format!("key {key:?}; add a line such as {key} = {example}")
            };
            self.at_section(Error::malformed(format!("missing {write}")))
        })
    }

    /// The one of these keys that is given, if any; two of them contradict each other.
    pub(super) fn one_of(&self, keys: &[&'static str]) -> Result<Option<&'static str>> {
        let mut given = keys.iter().copied().filter(|key| self.has(key));
        match (given.next(), given.next()) {
            (Some(first), Some(second)) => Err(self.at(
                second,
                Error::contradiction(format!(
                    "{first} and {second} contradict each other; keep one of them"
                )),
            )),
            (first, _) => Ok(first),
        }
    }

    fn wrong_type(&self, key: &str, value: &DeValue<'_>, expected: &str) -> Error {
        let found = match value {
            DeValue::String(_) => "text",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date or time",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a section",
        };
        self.at(
            key,
            Error::malformed(format!("must be {expected}, but is {found}")),
        )
    }

    fn as_number(&self, key: &str, value: &DeValue<'_>) -> Result<f64> {
        let digits = match value {
            DeValue::Integer(i) if i.radix() == 10 => i.as_str(),
            DeValue::Float(f) => f.as_str(),
            other => {
                let example = if key == "format" { 1 } else { 20 };
                let expected =
                    format!("a plain number, without quotes and unit, such as {key} = {example}");
                return Err(self.wrong_type(key, other, &expected));
            }
        };
        digits.parse().map_err(|_| {
            self.at(
                key,
                Error::text("a number", digits, "a plain number such as 20 or 1.5"),
            )
        })
    }

    /// A number within `low..=high`.
    pub(super) fn number(
        &self,
        key: &str,
        low: f64,
        high: f64,
        unit: &'static str,
    ) -> Result<Option<f64>> {
        let Some((_, value)) = self.find(key) else {
            return Ok(None);
        };
        let value = self.as_number(key, value)?;
        let value =
            check("the value", value, low, high, unit).map_err(|error| self.at(key, error))?;
        Ok(Some(value))
    }

    /// Turns a number within bounds into its type.
    fn typed<T>(
        &self,
        key: &str,
        (low, high, unit): (f64, f64, &'static str),
        make: impl Fn(f64) -> Result<T>,
    ) -> Result<Option<T>> {
        let value = self.number(key, low, high, unit)?;
        value
            .map(make)
            .transpose()
            .map_err(|error| self.at(key, error))
    }

    pub(super) fn celsius(&self, key: &str, low: f64, high: f64) -> Result<Option<Temperature>> {
        self.typed(key, (low, high, "°C"), Temperature::celsius)
    }

    pub(super) fn kelvin(
        &self,
        key: &str,
        low: f64,
        high: f64,
    ) -> Result<Option<TemperatureDifference>> {
        self.typed(key, (low, high, "K"), TemperatureDifference::kelvin)
    }

    pub(super) fn grams(&self, key: &str, low: f64, high: f64) -> Result<Option<Mass>> {
        self.typed(key, (low, high, "g"), Mass::grams)
    }

    pub(super) fn percent(&self, key: &str, low: f64, high: f64) -> Result<Option<Percent>> {
        self.typed(key, (low, high, "%"), Percent::new)
    }

    pub(super) fn hours(&self, key: &str, low: f64, high: f64) -> Result<Option<Duration>> {
        self.typed(key, (low, high, "h"), hours)
    }

    pub(super) fn minutes(&self, key: &str, low: f64, high: f64) -> Result<Option<Duration>> {
        self.typed(key, (low, high, "min"), |minutes| hours(minutes / 60.0))
    }

    /// Minutes, up to a day; none where the key is left out.
    pub(super) fn minutes_or_none(&self, key: &str) -> Result<Duration> {
        Ok(self.minutes(key, 0.0, 1440.0)?.unwrap_or_default())
    }

    /// Minutes, up to a day; those of the table where the key is left out.
    pub(super) fn minutes_or(&self, key: &str, usual: &Table) -> Result<Duration> {
        match self.minutes(key, 0.0, 1440.0)? {
            Some(given) => Ok(given),
            None => hours(usual.number(key)? / 60.0),
        }
    }

    /// A whole number.
    pub(super) fn whole(
        &self,
        key: &str,
        low: u32,
        high: u32,
        unit: &'static str,
    ) -> Result<Option<u32>> {
        let Some(value) = self.number(key, f64::from(low), f64::from(high), unit)? else {
            return Ok(None);
        };
        if value.fract() != 0.0 {
            let error =
                Error::malformed(format!("is {}, but must be a whole number", shown(value)));
            return Err(self.at(key, error));
        }
        // In range and whole: the conversion is exact.
        Ok(Some(value as u32))
    }

    /// A list of numbers within `low..=high`.
    pub(super) fn numbers(
        &self,
        key: &str,
        low: f64,
        high: f64,
        unit: &'static str,
    ) -> Result<Vec<f64>> {
        let items = self.list(key, "a list of numbers such as [30, 60]")?;
        let read = |item| {
            check("a value", self.as_number(key, item)?, low, high, unit)
                .map_err(|error| self.at(key, error))
        };
        items.into_iter().map(read).collect()
    }

    fn list(&self, key: &str, expected: &str) -> Result<Vec<&'a DeValue<'a>>> {
        match self.find(key) {
            None => Ok(Vec::new()),
            Some((_, DeValue::Array(items))) => {
                Ok(items.iter().map(|item| item.get_ref()).collect())
            }
            Some((_, other)) => Err(self.wrong_type(key, other, expected)),
        }
    }

    /// Text of one line, 1 to 200 characters.
    pub(super) fn text(&self, key: &str) -> Result<Option<&'a str>> {
        let text = match self.find(key) {
            None => return Ok(None),
            Some((_, DeValue::String(text))) => text.as_ref(),
            Some((_, other)) => {
                let expected = format!("text in double quotes, such as {key} = \"...\"");
                return Err(self.wrong_type(key, other, &expected));
            }
        };
        let length = text.chars().count();
        if text.trim().is_empty() || length > 200 || text.contains(char::is_control) {
            let error = Error::text(key, text, "one line of 1 to 200 characters");
            return Err(self.at(key, error));
        }
        Ok(Some(text))
    }

    /// A time of day in quotes.
    pub(super) fn clock(&self, key: &str) -> Result<Option<ClockTime>> {
        let time = self.text(key)?.map(str::parse).transpose();
        time.map_err(|error| self.at(key, error))
    }

    /// One of a few names.
    pub(super) fn choice<T: Copy>(&self, key: &str, known: &[(&str, T)]) -> Result<Option<T>> {
        let Some(name) = self.text(key)? else {
            return Ok(None);
        };
        self.pick(key, name, known).map(Some)
    }

    /// A list of some of a few names, each at most once. `None` where the key is left out.
    pub(super) fn choices<T: Copy>(
        &self,
        key: &str,
        known: &[(&str, T)],
    ) -> Result<Option<Vec<T>>> {
        if !self.has(key) {
            return Ok(None);
        }
        let example = format!("a list of names such as {key} = [\"{}\"]", known[0].0);
        let mut names = Vec::new();
        let mut picked = Vec::new();
        for item in self.list(key, &example)? {
            let DeValue::String(name) = item else {
                return Err(self.wrong_type(key, item, &example));
            };
            if names.contains(&name) {
                let error =
                    Error::contradiction(format!("{:?} is listed twice; list it once", echo(name)));
                return Err(self.at(key, error));
            }
            names.push(name);
            picked.push(self.pick(key, name, known)?);
        }
        Ok(Some(picked))
    }

    fn pick<T: Copy>(&self, key: &str, name: &str, known: &[(&str, T)]) -> Result<T> {
        known
            .iter()
            .find(|(known, _)| *known == name)
            .map(|(_, value)| *value)
            .ok_or_else(|| {
                let names = known.iter().map(|(name, _)| *name);
                self.at(key, Error::unknown_name("name", name, names))
            })
    }

    /// A section below this one; `path` is its full name.
    pub(super) fn section(&self, path: &'static str) -> Result<Option<Section<'a>>> {
        let key = last(path);
        match self.find(key) {
            None => Ok(None),
            Some((line, DeValue::Table(table))) => {
                Self::open(self.text, path, line, table).map(Some)
            }
            Some((_, other)) => {
                Err(self.wrong_type(key, other, &format!("a section headed [{path}]")))
            }
        }
    }

    /// The sections below this one that are headed `[[path]]`.
    pub(super) fn sections(&self, path: &'static str) -> Result<Vec<Section<'a>>> {
        let key = last(path);
        let expected = format!("sections headed [[{path}]]");
        let items = match self.find(key) {
            None => return Ok(Vec::new()),
            Some((_, DeValue::Array(items))) => items,
            Some((_, other)) => return Err(self.wrong_type(key, other, &expected)),
        };
        if items.len() > MOST_SECTIONS {
            let error = Error::malformed(format!(
                "is listed {} times, at most {MOST_SECTIONS} are read; join some of them",
                items.len()
            ));
            return Err(self.at(key, error));
        }
        let open = |item: &'a toml::Spanned<DeValue<'a>>| match item.get_ref() {
            DeValue::Table(table) => {
                let line = line_of(self.text, item.span().start);
                Self::open(self.text, path, line, table)
            }
            other => Err(self.wrong_type(key, other, &expected)),
        };
        items.iter().map(open).collect()
    }
}

fn last(path: &str) -> &str {
    path.rsplit('.').next().unwrap_or(path)
}

#[cfg(test)]
mod tests {
    use super::SECTIONS;

    /// A key that is known but never read would be accepted and have no effect.
    #[test]
    fn every_known_key_is_read() {
        let reader = include_str!("read.rs");
        for (path, keys) in SECTIONS {
            for key in keys {
                let plain = format!("\"{key}\"");
                let section = format!("\"{path}.{key}\"");
                assert!(
                    reader.contains(&plain) || reader.contains(&section),
                    "{path} {key}"
                );
            }
        }
    }
}
