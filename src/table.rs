//! Published numbers with their origin, embedded in the crate.
//!
//! Every default of the crate stands in a small TOML file under `data/`: a value with its unit, its
//! uncertainty, where it was published, and how it was come by ([`Standing`]). `data/README.md` lists
//! the files and `data/sources.toml` the publications. [`get`] returns one table, [`parse`] reads a
//! user's own file of the same form.
//!
//! ```
//! use pointage::table;
//! let growth = table::get("zakhartsev2015")?;
//! let t_max = growth.value("t_max_c")?;
//! assert_eq!((t_max.value, t_max.unit), (41.3, "°C"));
//! assert!(table::source(&t_max.source)?.citation().contains("Journal of Thermal Biology"));
//! # Ok::<(), pointage::Error>(())
//! ```
//!
//! # The form of a file
//! ```
//! let own = pointage::table::parse(r#"
//! format = 1
//! id = "my_kitchen"
//! title = "My refrigerator"
//! observed = "a cup of water, ten readings in one night"
//! source = "my notes, May"
//! locus = "page 3"
//! standing = "quoted"
//!
//! [values.refrigerator_c]    # the name ends in the unit; without one it is a ratio
//! value = 5.5
//! se = 0.4                   # or log_sd = 0.1, range = [5.0, 6.2], exact = true, judged = true
//! note = "lower shelf"       # source, locus and standing, too, may differ from the header's
//! "#)?;
//! assert_eq!(own.value("refrigerator_c")?.unit, "°C");
//! # Ok::<(), pointage::Error>(())
//! ```
//! With `judged = true` the note says in words how far the number may be off.
//!
//! A table of a temperature law adds `law`, `valid_c` and, if tabulated, `[[knots]]`; measured growth
//! rates are `[[points]]`, and recipes with a time are `[[rows]]`. `[[correlations]]` say how the errors of
//! two values go together: `between = ["a", "b"]` and `value = -0.6`.

mod read;
mod sources;

pub use read::parse;
#[cfg(feature = "learn")]
pub(crate) use read::unit_of;
pub use sources::{Source, source};

use crate::error::{Error, Result, named};
use crate::numeric::NORMAL_90;
use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

/// A set of published values, with what was observed and where it is written.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Table {
    /// Unique name; of an embedded table also the name of its file.
    pub id: String,
    /// The content in one sentence.
    pub title: String,
    /// The temperature law that the values are the parameters of, if they are.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub law: Option<Law>,
    /// Temperatures between which the observations lie, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub valid_c: Option<Interval>,
    /// What was measured, on what, and how.
    pub observed: String,
    /// Key of the publication, see [`source`]; in a user's own file any text.
    pub source: String,
    /// Page, table or address.
    pub locus: String,
    /// How most of the values were come by.
    pub standing: Standing,
    /// Deviations from the source, and what belongs together.
    #[serde(default)]
    pub note: String,
    /// The values, in the order of the file.
    #[serde(skip_deserializing)]
    pub values: Vec<Value>,
    /// Points of a tabulated law, by rising temperature.
    #[serde(skip_deserializing, skip_serializing_if = "Vec::is_empty")]
    pub knots: Vec<Knot>,
    /// Measured growth rates, by rising temperature.
    #[serde(skip_deserializing, skip_serializing_if = "Vec::is_empty")]
    pub points: Vec<Point>,
    /// Recipes with a time, in the order of the file.
    #[serde(skip_deserializing, skip_serializing_if = "Vec::is_empty")]
    pub rows: Vec<Row>,
    /// How the errors of two values go together; none where they are independent.
    #[serde(skip)]
    pub correlations: Vec<Correlation>,
}

impl Table {
    /// The value of this name.
    ///
    /// # Errors
    /// No such value; the message lists the names there are.
    ///
    /// ```
    /// let e = pointage::table::get("kinds")?.value("instnt").unwrap_err();
    /// assert!(e.to_string().contains(r#"did you mean "instant"?"#));
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn value(&self, name: &str) -> Result<&Value> {
        self.values.iter().find(|v| v.name == name).ok_or_else(|| {
            let known = self.values.iter().map(|v| v.name.as_str());
            Error::unknown_name(&format!("value of the table {:?}", self.id), name, known)
        })
    }

    /// The number of the value of this name.
    ///
    /// # Errors
    /// No such value.
    pub fn number(&self, name: &str) -> Result<f64> {
        self.value(name).map(|v| v.value)
    }
}

/// One number with its unit, uncertainty and origin.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Value {
    /// Name; ends in the unit.
    pub name: String,
    /// The number, in `unit`.
    pub value: f64,
    /// The unit in print, such as `1/h`; `1` for a ratio.
    pub unit: &'static str,
    /// How well the number is known.
    pub uncertainty: Uncertainty,
    /// Key of the publication, see [`source`]; in a user's own file any text.
    pub source: String,
    /// Page, table or address.
    pub locus: String,
    /// How the number was come by.
    pub standing: Standing,
    /// What to know before relying on it; may be empty.
    pub note: String,
}

impl Value {
    /// Standard deviation of the logarithm of the value, for a value and bounds above 0. A judged value
    /// has none.
    ///
    /// A range is read as reaching from the 10 % to the 90 % point of a log-normal distribution,
    /// `ln(high/low) / (2 * 1.2816)`; a standard error as `se/value`.
    ///
    /// ```
    /// let instant = pointage::table::get("kinds")?.value("instant")?;
    /// // 0.30 to 0.40: ln(4/3) / 2.5631 = 0.1122, by hand
    /// assert!((instant.log_sd().unwrap() - 0.1122).abs() < 1e-4);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    #[must_use]
    pub fn log_sd(&self) -> Option<f64> {
        match self.uncertainty {
            Uncertainty::Exact => Some(0.0),
            Uncertainty::LogSd { log_sd } => Some(log_sd),
            Uncertainty::StandardError { se } => (self.value > 0.0).then(|| se / self.value),
            Uncertainty::Range { low, high } => {
                (low > 0.0).then(|| (high / low).ln() / (2.0 * NORMAL_90))
            }
            Uncertainty::Judged => None,
        }
    }
}

/// How well a value is known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[allow(missing_docs)] // the variants say what their numbers are
pub enum Uncertainty {
    /// One standard error, in the unit of the value.
    StandardError { se: f64 },
    /// Standard deviation of the natural logarithm of the value.
    LogSd { log_sd: f64 },
    /// Lowest and highest plausible value, read as 10 to 90 %.
    Range { low: f64, high: f64 },
    /// Exact by definition or by choice.
    Exact,
    /// How far the value may be off is a judgement that the note tells in words; nothing calculates with it.
    Judged,
}

/// How a number was come by.
#[derive(Default, Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Printed in the source.
    Quoted,
    /// Calculated from what is printed in the source; the note says how.
    #[default]
    Derived,
    /// Set by judgement; the source gives its direction or its order of magnitude, if anything.
    Assumed,
    /// Recalled by people of the trade or science, not seen in print: never a test of anything.
    FromMemory,
}

named! { "standing" Standing {
    Quoted = "quoted",
    Derived = "derived",
    Assumed = "assumed",
    FromMemory = "from-memory",
} }

/// The temperature law that a table gives the parameters of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Law {
    /// A fixed factor for each 10 K.
    Q10,
    /// An activation energy.
    Arrhenius,
    /// The square-root law with an upper limit (Ratkowsky 1983).
    SquareRoot,
    /// The cardinal temperature law (Rosso 1993).
    Cardinal,
    /// Log-linear between the knots.
    Tabulated,
}

impl Law {
    /// Names of the values that a table of this law must have.
    pub(crate) fn parameters(self) -> &'static [&'static str] {
        match self {
            Self::Q10 => &["q10", "reference_c"],
            Self::Arrhenius => &["activation_kj_per_mol", "reference_c"],
            Self::SquareRoot => &["t_min_c", "t_max_c", "c_per_k", "reference_c"],
            Self::Cardinal => &["t_min_c", "t_opt_c", "t_max_c"],
            Self::Tabulated => &[],
        }
    }
}

/// A pair of bounds; both are the same where the source gives one number.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(into = "[f64; 2]", try_from = "[f64; 2]")]
pub struct Interval {
    /// Lower bound.
    pub low: f64,
    /// Upper bound.
    pub high: f64,
}

impl Interval {
    /// The arithmetic mean of the bounds.
    #[must_use]
    pub fn middle(self) -> f64 {
        f64::midpoint(self.low, self.high)
    }
}

impl From<Interval> for [f64; 2] {
    fn from(i: Interval) -> Self {
        [i.low, i.high]
    }
}

/// A point of a tabulated law.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Knot {
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Speed against that at the reference temperature.
    pub relative_rate: f64,
    /// How the speed was come by.
    pub standing: Standing,
}

/// A measured growth rate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Point {
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Specific growth rate, 1/h.
    pub growth_rate_per_h: f64,
}

/// The correlation of the errors of two values of a table.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Correlation {
    /// Names of the values.
    pub between: [String; 2],
    /// The correlation, -1 to 1; of the errors as the values have them, of the logarithm for a `log_sd`.
    pub value: f64,
}

/// A recipe with a time: this dose at this temperature is ready after so many hours.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Row {
    /// Name within the table.
    pub id: String,
    /// Key of the publication, see [`source`]; in an answer of `tables` the publication in one line.
    pub source: String,
    /// Page, table or address.
    pub locus: String,
    /// How the row was come by.
    pub standing: Standing,
    /// Kind of publication: `A` textbook or institute, `B` trade, `C` blog or forum, `M` from memory.
    pub grade: Grade,
    /// Fresh yeast, % of the stage's own flour; `None` where the source gives no dose.
    pub dose_percent: Option<Interval>,
    /// Time to the end point, h.
    pub hours: Interval,
    /// Temperature of the stage, °C.
    pub temperature_c: Interval,
    /// Water, % of the stage's own flour.
    pub hydration_percent: Option<f64>,
    /// Salt, % of the stage's own flour.
    pub salt_percent: Option<f64>,
    /// Time of the final proof that follows, h.
    pub proof_hours: Option<Interval>,
    /// Temperature of that final proof, °C.
    pub proof_temperature_c: Option<Interval>,
    /// What the row is for.
    #[serde(rename = "use")]
    pub purpose: Purpose,
    /// Why it is used so, and what was converted or assumed.
    pub note: String,
}

/// What kind of publication a row comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub enum Grade {
    /// Textbook, school, institute, standard, patent.
    A,
    /// Trade magazine, baking school note, mill, old bakers' manual.
    B,
    /// Blog, forum, handout of unknown author.
    C,
    /// From memory.
    M,
}

/// What a row is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Purpose {
    /// The shipped end points are fitted to it.
    Fit,
    /// Kept out of the fit, to compare with afterwards.
    HeldOut,
    /// Not comparable; the note says why.
    Excluded,
}

/// A file of `data/`: its folder, the name of its table, the table, parsed at its first use, and its text.
type Embedded = (
    &'static str,
    &'static str,
    LazyLock<Result<Table>>,
    &'static str,
);

macro_rules! embed {
    ($($folder:literal $id:literal),* $(,)?) => {
        [$(($folder, $id, LazyLock::new(|| {
            let text = include_str!(concat!("../data/", $folder, "/", $id, ".toml"));
            parse(text).map_err(|e| e.at(concat!("data/", $folder, "/", $id, ".toml")))
        }), include_str!(concat!("../data/", $folder, "/", $id, ".toml")))),*]
    };
}

/// Every table of `data/`; the order is that of `data/README.md`.
static FILES: [Embedded; 20] = embed![
    "gas-rate" "slator1906",
    "gas-rate" "slator1906_square_root",
    "growth-rate" "zakhartsev2015",
    "growth-rate" "caspeta2015",
    "ferment" "defaults",
    "ferment" "compositions",
    "ferment" "support",
    "yeast" "kinds",
    "gas" "co2",
    "endpoints" "fitted",
    "endpoints" "prior",
    "dose-time" "poolish",
    "dose-time" "biga",
    "dose-time" "sponge",
    "dose-time" "straight-dough",
    "heat" "properties",
    "heat" "places",
    "heat" "limits",
    "plan" "bake-file",
    "plan" "day",
];

/// The names of all embedded tables.
pub fn ids() -> impl Iterator<Item = &'static str> {
    FILES.iter().map(|(_, id, ..)| *id)
}

/// The embedded table of this name.
///
/// # Errors
/// No such table; the message lists the names there are.
///
/// ```
/// let e = pointage::table::get("slater1906").unwrap_err();
/// assert!(e.to_string().contains(r#"did you mean "slator1906"?"#));
/// ```
pub fn get(id: &str) -> Result<&'static Table> {
    let found = FILES.iter().find(|(_, known, ..)| *known == id);
    let (.., table, _) = found.ok_or_else(|| Error::unknown_name("table", id, ids()))?;
    table.as_ref().map_err(Clone::clone)
}

/// A short name for all embedded tables and a text of one's own: the same for the same numbers, another for others.
#[must_use]
pub fn fingerprint(own: &str) -> u64 {
    static SHIPPED: LazyLock<u64> = LazyLock::new(|| {
        let add = |hash, (.., text): &Embedded| fnv1a(hash, text);
        FILES.iter().fold(FNV_START, add)
    });
    fnv1a(*SHIPPED, own)
}

/// The hash that a text is added to.
pub const FNV_START: u64 = 0xcbf2_9ce4_8422_2325;

/// A hash with a text added to it: FNV-1a, 64 bits.
#[must_use]
pub fn fnv1a(hash: u64, text: &str) -> u64 {
    let add = |hash: u64, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    text.bytes().fold(hash, add)
}

/// The numbers of some tables, as the fields of a struct that bear their names.
pub(crate) fn read<T: serde::de::DeserializeOwned>(tables: &[&Table]) -> Result<T> {
    let values = tables.iter().flat_map(|t| &t.values);
    let numbers = values.map(|v| (v.name.as_str(), v.value));
    T::deserialize(serde::de::value::MapDeserializer::<_, Error>::new(numbers))
}

/// All embedded tables.
///
/// # Errors
/// None in a released crate: a test parses every file.
pub fn all() -> Result<Vec<&'static Table>> {
    ids().map(get).collect()
}

#[cfg(test)]
mod tests;
