//! Text to table: the form of the files, and what is refused in them.

use super::{
    Correlation, Grade, Interval, Knot, Law, Point, Purpose, Row, Standing, Table, Uncertainty,
    Value,
};
use crate::error::{Error, Result, check, echo, words_of};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use toml::Spanned;

/// The only form of file there is so far.
const FORMAT: i64 = 1;
/// Longest text that is read as a table, in bytes; the longest of our own is a fiftieth of it.
pub const MAX_BYTES: usize = 1_000_000;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawTable {
    format: i64,
    id: String,
    title: String,
    law: Option<Law>,
    valid_c: Option<[f64; 2]>,
    observed: String,
    source: String,
    locus: String,
    standing: Standing,
    #[serde(default)]
    note: String,
    #[serde(default)]
    values: BTreeMap<Spanned<String>, RawValue>,
    #[serde(default)]
    knots: Vec<Spanned<Knot>>,
    #[serde(default)]
    points: Vec<Spanned<Point>>,
    #[serde(default)]
    rows: Vec<Spanned<RawRow>>,
    #[serde(default)]
    correlations: Vec<Spanned<Correlation>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawValue {
    value: f64,
    se: Option<f64>,
    log_sd: Option<f64>,
    range: Option<[f64; 2]>,
    exact: Option<bool>,
    judged: Option<bool>,
    source: Option<String>,
    locus: Option<String>,
    standing: Option<Standing>,
    #[serde(default)]
    note: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRow {
    id: String,
    source: Option<String>,
    locus: Option<String>,
    standing: Option<Standing>,
    grade: Grade,
    dose_percent: Option<[f64; 2]>,
    hours: [f64; 2],
    temperature_c: [f64; 2],
    hydration_percent: Option<f64>,
    salt_percent: Option<f64>,
    proof_hours: Option<[f64; 2]>,
    proof_temperature_c: Option<[f64; 2]>,
    #[serde(rename = "use")]
    purpose: Purpose,
    note: String,
}

/// Only the version, so that a file of a later form is refused for that and not for its content.
#[derive(Deserialize)]
struct Head {
    format: Option<i64>,
}

/// Reads a table from the text of a file; the [module](super) shows the form.
///
/// # Errors
/// Not TOML, another format than 1, an unknown or missing key, a name without a known unit, a number
/// outside what its unit allows, not exactly one uncertainty for a value, a judged value without a
/// note, a law without its parameters, or more than [`MAX_BYTES`]. The message names the line.
///
/// ```
/// let e = pointage::table::parse("format = 2").unwrap_err();
/// assert_eq!(e.to_string(),
///     "this table has format 2, and this version reads format 1; use a newer version or rewrite the file");
/// ```
pub fn parse(text: &str) -> Result<Table> {
    if text.len() > MAX_BYTES {
        return Err(Error::malformed(format!(
            "a table may have {MAX_BYTES} bytes and this text has {}; check that it is the right file",
            text.len()
        )));
    }
    let raw: RawTable = toml::from_str(text).map_err(|e| {
        match toml::from_str(text) {
            Ok(Head { format: Some(n) }) if n != FORMAT => return wrong_format(n),
            _ => {}
        }
        let why = Error::malformed(words_of(e.message()));
        match e.span() {
            Some(span) => why.at(line(text, span.start)),
            None => why,
        }
    })?;
    if raw.format != FORMAT {
        return Err(wrong_format(raw.format));
    }
    let header = Header {
        source: raw.source,
        locus: raw.locus,
        standing: raw.standing,
    };

    let mut values: Vec<_> = raw.values.into_iter().collect();
    values.sort_by_key(|(name, _)| name.span().start);
    let values = values
        .into_iter()
        .map(|(name, raw)| {
            let start = name.span().start;
            value(name.as_ref(), raw, &header).map_err(|e| {
                e.at(format!(
                    "{}: [values.{}]",
                    line(text, start),
                    echo(name.as_ref())
                ))
            })
        })
        .collect::<Result<Vec<_>>>()?;
    let knots = each(text, raw.knots, |k| {
        check("temperature_c", k.temperature_c, -60.0, 150.0, "°C")?;
        check("relative_rate", k.relative_rate, 1e-6, 1e3, "as a ratio")?;
        Ok(k)
    })?;
    let points = each(text, raw.points, |p| {
        check("temperature_c", p.temperature_c, -60.0, 150.0, "°C")?;
        check("growth_rate_per_h", p.growth_rate_per_h, 0.0, 10.0, "1/h")?;
        Ok(p)
    })?;
    rising("[[knots]]", knots.iter().map(|k| k.temperature_c))?;
    rising("[[points]]", points.iter().map(|p| p.temperature_c))?;
    let mut seen = BTreeSet::new();
    let rows = each(text, raw.rows, |r| {
        if !seen.insert(r.id.clone()) {
            return Err(Error::malformed(format!(
                "there are two rows {:?}; give each its own id",
                echo(&r.id)
            )));
        }
        row(r, &header)
    })?;
    let mut seen = BTreeSet::new();
    let correlations = each(text, raw.correlations, |c| {
        for name in &c.between {
            if !values.iter().any(|v| v.name == *name) {
                let known = values.iter().map(|v| v.name.as_str());
                return Err(Error::unknown_name("value of this table", name, known));
            }
        }
        let mut pair = c.between.clone();
        pair.sort();
        if pair[0] == pair[1] || !seen.insert(pair) {
            return Err(Error::malformed(format!(
                "the correlation of {:?} and {:?} is given already; name each pair of two values once",
                c.between[0], c.between[1]
            )));
        }
        // Errors that go together wholly would be those of one number.
        check("value", c.value, -0.999_999, 0.999_999, "")?;
        Ok(c)
    })?;

    let table = Table {
        id: raw.id,
        title: raw.title,
        law: raw.law,
        valid_c: raw
            .valid_c
            .map(|v| interval("valid_c", v, -60.0, 150.0, "°C"))
            .transpose()?,
        observed: raw.observed,
        source: header.source,
        locus: header.locus,
        standing: header.standing,
        note: raw.note,
        values,
        knots,
        points,
        rows,
        correlations,
    };
    if let Some(law) = table.law {
        for name in law.parameters() {
            table.value(name)?;
        }
        if law == Law::Tabulated && table.knots.len() < 2 {
            return Err(Error::malformed(
                "a tabulated law needs two [[knots]] or more; add them or drop `law`",
            ));
        }
    }
    Ok(table)
}

/// Origin that values and rows take over unless they give their own.
struct Header {
    source: String,
    locus: String,
    standing: Standing,
}

fn value(name: &str, raw: RawValue, header: &Header) -> Result<Value> {
    let Unit {
        unit, low, high, ..
    } = unit_of(name)?;
    // In a message "1" would read as a digit.
    let spoken = if unit == "1" { "as a ratio" } else { unit };
    let value = check("value", raw.value, low, high, spoken)?;
    let uncertainty = match (raw.se, raw.log_sd, raw.range, raw.exact, raw.judged) {
        // The largest allowed error is generous: it only has to catch slips of the pen.
        (Some(se), None, None, None, None) => {
            Uncertainty::StandardError(check("se", se, 1e-9, high - low, spoken)?)
        }
        (None, Some(sd), None, None, None) => {
            Uncertainty::LogSd(check("log_sd", sd, 1e-9, 3.0, "as a ratio")?)
        }
        (None, None, Some(range), None, None) => {
            let range = interval("range", range, low, high, spoken)?;
            check("value", value, range.low, range.high, spoken)?;
            Uncertainty::Range(range.low, range.high)
        }
        (None, None, None, Some(true), None) => Uncertainty::Exact,
        (None, None, None, None, Some(true)) => {
            if raw.note.trim().is_empty() {
                return Err(Error::malformed(
                    "judged = true leaves it to the note how far the value may be off; add note = \"…\" with it",
                ));
            }
            Uncertainty::Judged
        }
        _ => {
            return Err(Error::malformed(
                "a value needs exactly one uncertainty; write one of se = …, log_sd = …, range = [low, high], exact = true, judged = true",
            ));
        }
    };
    Ok(Value {
        name: name.to_owned(),
        value,
        unit,
        uncertainty,
        source: raw.source.unwrap_or_else(|| header.source.clone()),
        locus: raw.locus.unwrap_or_else(|| header.locus.clone()),
        standing: raw.standing.unwrap_or(header.standing),
        note: raw.note,
    })
}

fn row(raw: RawRow, header: &Header) -> Result<Row> {
    let dose_percent = raw
        .dose_percent
        .map(|d| interval("dose_percent", d, 0.001, 20.0, "%"))
        .transpose()?;
    let standing = raw.standing.unwrap_or(header.standing);
    if raw.purpose == Purpose::Fit && (dose_percent.is_none() || standing == Standing::FromMemory) {
        return Err(Error::malformed(
            "a row for the fit needs a dose and a source that was seen; add dose_percent, or write use = \"held-out\"",
        ));
    }
    Ok(Row {
        id: raw.id,
        source: raw.source.unwrap_or_else(|| header.source.clone()),
        locus: raw.locus.unwrap_or_else(|| header.locus.clone()),
        standing,
        grade: raw.grade,
        dose_percent,
        hours: interval("hours", raw.hours, 0.1, 504.0, "h")?,
        temperature_c: interval("temperature_c", raw.temperature_c, -5.0, 45.0, "°C")?,
        hydration_percent: raw
            .hydration_percent
            .map(|h| check("hydration_percent", h, 30.0, 300.0, "%"))
            .transpose()?,
        salt_percent: raw
            .salt_percent
            .map(|s| check("salt_percent", s, 0.0, 10.0, "%"))
            .transpose()?,
        proof_hours: raw
            .proof_hours
            .map(|p| interval("proof_hours", p, 0.1, 504.0, "h"))
            .transpose()?,
        proof_temperature_c: raw
            .proof_temperature_c
            .map(|t| interval("proof_temperature_c", t, -5.0, 50.0, "°C"))
            .transpose()?,
        purpose: raw.purpose,
        note: raw.note,
    })
}

/// A unit, as the end of a name and in print, with the range that any value in it must lie in.
pub(crate) struct Unit {
    suffix: &'static str,
    pub unit: &'static str,
    low: f64,
    high: f64,
}

/// All known units. The ranges are wide: they catch a misplaced decimal point, not a bad measurement.
const UNITS: [Unit; 26] = {
    const fn u(suffix: &'static str, unit: &'static str, low: f64, high: f64) -> Unit {
        Unit {
            suffix,
            unit,
            low,
            high,
        }
    }
    [
        u("_c", "°C", -60.0, 150.0),
        u("_k", "K", -1e4, 1e4),
        u("_h", "h", 0.0, 504.0),
        u("_min", "min", 0.0, 30_240.0),
        u("_g", "g", 0.0, 1e8),
        u("_percent", "%", 0.0, 1000.0),
        u("_log_sd", "1", 0.0, 3.0),
        u("_pa", "Pa", 1e4, 1e6),
        u("_per_h", "1/h", 0.0, 10.0),
        u("_per_k", "1/K", 0.0, 10.0),
        u("_per_10k", "per 10 K", -1.0, 1.0),
        u("_per_percent", "1/%", 0.0, 10.0),
        u("_ml_per_g_h", "mL/(g h)", 0.0, 1000.0),
        u("_ml_per_g", "mL/g", 1.0, 1000.0),
        u("_ml_per_mol", "mL/mol", 1e4, 1e5),
        u("_ml_per_100g", "mL per 100 g flour", 0.0, 1e4),
        u("_g_per_100g", "g per 100 g flour", 0.0, 100.0),
        u("_g_per_ml", "g/mL", 0.05, 5.0),
        u("_kg_per_m3", "kg/m³", 50.0, 5000.0),
        u("_osmol_per_kg", "osmol/kg", 0.0, 20.0),
        u("_mol_per_m3_pa", "mol/(m³ Pa)", 1e-7, 1.0),
        u("_kj_per_mol", "kJ/mol", 0.0, 1000.0),
        u("_kj_per_kg", "kJ/kg", 0.0, 1000.0),
        u("_kj_per_kg_k", "kJ/(kg K)", 0.1, 10.0),
        u("_w_per_m_k", "W/(m K)", 0.01, 5.0),
        u("_w_per_m2_k", "W/(m² K)", 0.1, 500.0),
    ]
};

/// The unit that a name ends in; a name with none is a ratio.
pub(crate) fn unit_of(name: &str) -> Result<Unit> {
    let longest = UNITS
        .into_iter()
        .filter(|u| name.ends_with(u.suffix))
        .max_by_key(|u| u.suffix.len());
    match longest {
        // `_min_per_g` is not grams.
        Some(unit) if !name[..name.len() - unit.suffix.len()].ends_with("_per") => return Ok(unit),
        _ => {}
    }
    // A ratio is named by whole words, so `_mm` or `_per_min` is a unit that we do not know.
    let last = name.rsplit('_').next().unwrap_or(name);
    let like_a_unit = last.len() <= 2 && !last.starts_with(|c: char| c.is_ascii_digit());
    if like_a_unit || name.contains("_per_") {
        let known: Vec<_> = UNITS.iter().map(|u| u.suffix).collect();
        return Err(Error::malformed(format!(
            "this name ends in no known unit; end it in one of {}, or, for a ratio, in a word of three letters or more",
            known.join(" ")
        )));
    }
    Ok(Unit {
        suffix: "",
        unit: "1",
        low: 0.0,
        high: 1000.0,
    })
}

fn interval(
    what: &str,
    [low, high]: [f64; 2],
    min: f64,
    max: f64,
    unit: &'static str,
) -> Result<Interval> {
    check(what, low, min, max, unit)?;
    check(what, high, min, max, unit)?;
    if low > high {
        return Err(Error::malformed(format!(
            "{what} is [{low}, {high}]; write the lower number first"
        )));
    }
    Ok(Interval { low, high })
}

/// Converts each entry of an array, and puts its line in front of an error.
fn each<R, T>(
    text: &str,
    raw: Vec<Spanned<R>>,
    mut convert: impl FnMut(R) -> Result<T>,
) -> Result<Vec<T>> {
    raw.into_iter()
        .map(|entry| {
            let place = entry.span().start;
            convert(entry.into_inner()).map_err(|e| e.at(line(text, place)))
        })
        .collect()
}

fn rising(what: &str, temperatures_c: impl Iterator<Item = f64>) -> Result<()> {
    let mut previous = f64::NEG_INFINITY;
    for t in temperatures_c {
        if t <= previous {
            return Err(Error::malformed(format!(
                "{what} must go by rising temperature, but {t} °C follows {previous} °C; sort them"
            )));
        }
        previous = t;
    }
    Ok(())
}

fn wrong_format(format: i64) -> Error {
    Error::malformed(format!(
        "this table has format {format}, and this version reads format {FORMAT}; use a newer version or rewrite the file"
    ))
}

fn line(text: &str, offset: usize) -> String {
    let before = text.as_bytes().iter().take(offset);
    format!("line {}", before.filter(|&&b| b == b'\n').count() + 1)
}
