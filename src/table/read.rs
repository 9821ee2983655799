//! Text to table: the form of the files, and what is refused in them.

use super::{Correlation, Interval, Knot, Law, Point, Purpose, Row, Standing, Table};
use super::{Uncertainty, Value};
use crate::error::{Error, Result, check, echo};
use crate::toml_text::{self, Lines};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The only form of file there is so far.
const FORMAT: i64 = 1;

/// What a file lists below its header.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Lists {
    values: BTreeMap<Spanned<String>, WrittenValue>,
    knots: Vec<Spanned<Knot>>,
    points: Vec<Spanned<Point>>,
    rows: Vec<Spanned<Row>>,
    correlations: Vec<Spanned<Correlation>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenValue {
    value: f64,
    se: Option<f64>,
    log_sd: Option<f64>,
    range: Option<Interval>,
    #[serde(default)]
    exact: bool,
    #[serde(default)]
    judged: bool,
    source: String,
    locus: String,
    standing: Standing,
    #[serde(default)]
    note: String,
}

/// Reads a table from the text of a file; the [module](super) shows the form.
///
/// # Errors
/// Not TOML, another format than 1, an unknown or missing key, a name without a known unit, a number
/// outside what its unit allows, not exactly one uncertainty for a value, a judged value without a
/// note, a law without its parameters, or more than 1 MiB. The message names the line.
///
/// ```
/// let e = pointage::table::parse("format = 2").unwrap_err();
/// assert_eq!(e.to_string(),
///     "this table has format 2, and this version reads format 1; use a newer version or rewrite the file");
/// ```
pub fn parse(text: &str) -> Result<Table> {
    let (mut file, lines) = toml_text::parse(text)?;
    // Before the rest, so that a file of a later form is refused for that and not for its content.
    let format: Option<i64> = file.remove("format").map(|f| lines.read(f)).transpose()?;
    if format != Some(FORMAT) {
        let format = format.map_or("no format".into(), |f| format!("format {f}"));
        return Err(Error::malformed(format!(
            "this table has {format}, and this version reads format {FORMAT}; use a newer version or rewrite the file"
        )));
    }
    inherit(&mut file);
    let lists = ["values", "knots", "points", "rows", "correlations"].into_iter();
    let lists: DeTable<'_> = lists.filter_map(|key| file.remove_entry(key)).collect();
    let mut table: Table = lines.read(Spanned::new(0..0, DeValue::Table(file)))?;
    let lists: Lists = lines.read(Spanned::new(0..0, DeValue::Table(lists)))?;

    let mut values: Vec<_> = lists.values.into_iter().collect();
    values.sort_by_key(|(name, _)| name.span().start);
    for (name, written) in values {
        let (line, name) = (lines.line(name.span().start), name.into_inner());
        let place = format!("line {line}: [values.{}]", echo(&name));
        let value = value(name, written).map_err(|e| e.at(place))?;
        table.values.push(value);
    }
    table.knots = each(&lines, lists.knots, |k| {
        check("temperature_c", k.temperature_c, -60.0, 150.0, "°C")?;
        check("relative_rate", k.relative_rate, 1e-6, 1e3, "as a ratio").map(drop)
    })?;
    table.points = each(&lines, lists.points, |p| {
        check("temperature_c", p.temperature_c, -60.0, 150.0, "°C")?;
        check("growth_rate_per_h", p.growth_rate_per_h, 0.0, 10.0, "1/h").map(drop)
    })?;
    rising("[[knots]]", table.knots.iter().map(|k| k.temperature_c))?;
    rising("[[points]]", table.points.iter().map(|p| p.temperature_c))?;
    let mut seen = BTreeSet::new();
    table.rows = each(&lines, lists.rows, |r| {
        if !seen.insert(r.id.clone()) {
            return Err(Error::malformed(format!(
                "there are two rows {:?}; give each its own id",
                echo(&r.id)
            )));
        }
        check_row(r)
    })?;
    let mut seen = BTreeSet::new();
    let correlations = each(&lines, lists.correlations, |c: &Correlation| {
        for name in &c.between {
            table.value(name)?;
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
        check("value", c.value, -0.999_999, 0.999_999, "").map(drop)
    })?;
    table.correlations = correlations;
    within("valid_c", table.valid_c, [-60.0, 150.0], "°C")?;
    if let Some(law) = table.law {
        for name in law.parameters() {
            table.value(name)?;
        }
        if law == Law::Tabulated && table.knots.len() < 2 {
            let why = "a tabulated law needs two [[knots]] or more; add them or drop `law`";
            return Err(Error::malformed(why));
        }
    }
    Ok(table)
}

/// Gives values and rows the origin of the header where they have none of their own.
fn inherit<'a>(file: &mut DeTable<'a>) {
    let header = ["source", "locus", "standing"];
    let header = header.iter().filter_map(|key| file.get_key_value(*key));
    let header = header.map(|(key, origin)| (key.clone(), origin.clone()));
    let header: Vec<_> = header.collect();
    let fill = |entry: &mut Spanned<DeValue<'a>>| {
        if let DeValue::Table(entry) = entry.get_mut() {
            for (key, origin) in &header {
                entry.entry(key.clone()).or_insert_with(|| origin.clone());
            }
        }
    };
    if let Some(DeValue::Table(values)) = file.get_mut("values").map(Spanned::get_mut) {
        values.iter_mut().for_each(|(_, value)| fill(value));
    }
    if let Some(DeValue::Array(rows)) = file.get_mut("rows").map(Spanned::get_mut) {
        rows.iter_mut().for_each(fill);
    }
}

fn value(name: String, written: WrittenValue) -> Result<Value> {
    let (unit, low, high) = unit_of(&name)?;
    // In a message "1" would read as a digit.
    let spoken = if unit == "1" { "as a ratio" } else { unit };
    let value = check("value", written.value, low, high, spoken)?;
    let range = written.range;
    let given = [
        written.se.map(|se| Uncertainty::StandardError { se }),
        written.log_sd.map(|log_sd| Uncertainty::LogSd { log_sd }),
        range.map(|Interval { low, high }| Uncertainty::Range { low, high }),
        written.exact.then_some(Uncertainty::Exact),
        written.judged.then_some(Uncertainty::Judged),
    ];
    let given: Vec<_> = given.into_iter().flatten().collect();
    let [uncertainty] = given[..] else {
        return Err(Error::malformed(
            "a value needs exactly one uncertainty; write one of se = …, log_sd = …, range = [low, high], exact = true, judged = true",
        ));
    };
    match uncertainty {
        // The largest allowed error is generous: it only has to catch slips of the pen.
        Uncertainty::StandardError { se } => drop(check("se", se, 1e-9, high - low, spoken)?),
        Uncertainty::LogSd { log_sd } => drop(check("log_sd", log_sd, 1e-9, 3.0, "as a ratio")?),
        Uncertainty::Range {
            low: from,
            high: to,
        } => {
            within("range", written.range, [low, high], spoken)?;
            check("value", value, from, to, spoken)?;
        }
        Uncertainty::Judged if written.note.trim().is_empty() => {
            return Err(Error::malformed(
                "judged = true leaves it to the note how far the value may be off; add note = \"…\" with it",
            ));
        }
        Uncertainty::Exact | Uncertainty::Judged => {}
    }
    Ok(Value {
        name,
        value,
        unit,
        uncertainty,
        source: written.source,
        locus: written.locus,
        standing: written.standing,
        note: written.note,
    })
}

fn check_row(row: &Row) -> Result<()> {
    let seen = row.standing != Standing::FromMemory;
    if row.purpose == Purpose::Fit && !(row.dose_percent.is_some() && seen) {
        return Err(Error::malformed(
            "a row for the fit needs a dose and a source that was seen; add dose_percent, or write use = \"held-out\"",
        ));
    }
    let one = |number: Option<f64>| number.map(|n| Interval { low: n, high: n });
    let [water, salt] = [row.hydration_percent, row.salt_percent].map(one);
    let (course, proof) = (Some(row.temperature_c), row.proof_temperature_c);
    for (what, given, span, unit) in [
        ("dose_percent", row.dose_percent, [0.001, 20.0], "%"),
        ("hours", Some(row.hours), [0.1, 504.0], "h"),
        ("temperature_c", course, [-5.0, 45.0], "°C"),
        ("hydration_percent", water, [30.0, 300.0], "%"),
        ("salt_percent", salt, [0.0, 10.0], "%"),
        ("proof_hours", row.proof_hours, [0.1, 504.0], "h"),
        ("proof_temperature_c", proof, [-5.0, 50.0], "°C"),
    ] {
        within(what, given, span, unit)?;
    }
    Ok(())
}

/// All known units, as the end of a name and in print, with the range that any value must lie in. The ranges
/// are wide: they catch a misplaced decimal point, not a bad measurement.
const UNITS: [(&str, &str, f64, f64); 27] = [
    ("_c", "°C", -60.0, 150.0),
    ("_k", "K", -1e4, 1e4),
    ("_h", "h", 0.0, 504.0),
    ("_min", "min", 0.0, 30_240.0),
    ("_g", "g", 0.0, 1e8),
    ("_percent", "%", 0.0, 1000.0),
    ("_log_sd", "1", 0.0, 3.0),
    ("_pa", "Pa", 1e4, 1e6),
    ("_per_h", "1/h", 0.0, 10.0),
    ("_per_k", "1/K", 0.0, 10.0),
    ("_per_10k", "per 10 K", -1.0, 1.0),
    ("_per_percent", "1/%", 0.0, 10.0),
    ("_bend", "in log time", -2.0, 2.0),
    ("_ml_per_g_h", "mL/(g h)", 0.0, 1000.0),
    ("_ml_per_g", "mL/g", 1.0, 1000.0),
    ("_ml_per_mol", "mL/mol", 1e4, 1e5),
    ("_ml_per_100g", "mL per 100 g flour", 0.0, 1e4),
    ("_g_per_100g", "g per 100 g flour", 0.0, 100.0),
    ("_g_per_ml", "g/mL", 0.05, 5.0),
    ("_kg_per_m3", "kg/m³", 50.0, 5000.0),
    ("_osmol_per_kg", "osmol/kg", 0.0, 20.0),
    ("_mol_per_m3_pa", "mol/(m³ Pa)", 1e-7, 1.0),
    ("_kj_per_mol", "kJ/mol", 0.0, 1000.0),
    ("_kj_per_kg", "kJ/kg", 0.0, 1000.0),
    ("_kj_per_kg_k", "kJ/(kg K)", 0.1, 10.0),
    ("_w_per_m_k", "W/(m K)", 0.01, 5.0),
    ("_w_per_m2_k", "W/(m² K)", 0.1, 500.0),
];

/// The unit that a name ends in; a name with none is a ratio.
pub(crate) fn unit_of(name: &str) -> Result<(&'static str, f64, f64)> {
    let fitting = (UNITS.into_iter()).filter(|(suffix, ..)| name.ends_with(suffix));
    let longest = fitting.max_by_key(|(suffix, ..)| suffix.len());
    // `_min_per_g` is not grams.
    if let Some((suffix, unit, low, high)) = longest
        && !name[..name.len() - suffix.len()].ends_with("_per")
    {
        return Ok((unit, low, high));
    }
    // A ratio is named by whole words, so `_mm` or `_per_min` is a unit that we do not know.
    let last = name.rsplit('_').next().unwrap_or(name);
    let like_a_unit = last.len() <= 2 && !last.starts_with(|c: char| c.is_ascii_digit());
    if like_a_unit || name.contains("_per_") {
        let known: Vec<_> = UNITS.iter().map(|(suffix, ..)| *suffix).collect();
        return Err(Error::malformed(format!(
            "this name ends in no known unit; end it in one of {}, or, for a ratio, in a word of three letters or more",
            known.join(" ")
        )));
    }
    Ok(("1", 0.0, 1000.0))
}

fn within(what: &str, given: Option<Interval>, span: [f64; 2], unit: &'static str) -> Result<()> {
    for number in given.into_iter().flat_map(<[f64; 2]>::from) {
        check(what, number, span[0], span[1], unit)?;
    }
    Ok(())
}

impl TryFrom<[f64; 2]> for Interval {
    type Error = Error;

    fn try_from([low, high]: [f64; 2]) -> Result<Self> {
        if low > high {
            let why = format!("the bounds are [{low}, {high}]; write the lower number first");
            return Err(Error::malformed(why));
        }
        Ok(Self { low, high })
    }
}

/// Checks each entry of a list, and puts its line in front of an error.
fn each<T>(
    lines: &Lines,
    list: Vec<Spanned<T>>,
    mut check: impl FnMut(&T) -> Result<()>,
) -> Result<Vec<T>> {
    let checked = list.into_iter().map(|entry| {
        let line = lines.line(entry.span().start);
        let entry = entry.into_inner();
        check(&entry).map_err(|e| e.at(format!("line {line}")))?;
        Ok(entry)
    });
    checked.collect()
}

fn rising(what: &str, temperatures_c: impl Iterator<Item = f64>) -> Result<()> {
    let temperatures_c: Vec<f64> = temperatures_c.collect();
    match temperatures_c.windows(2).find(|pair| pair[1] <= pair[0]) {
        None => Ok(()),
        Some(pair) => Err(Error::malformed(format!(
            "{what} must go by rising temperature, but {} °C follows {} °C; sort them",
            pair[1], pair[0]
        ))),
    }
}
