//! The learned parameters as a parameter file.

use super::Learned;
use super::model::{COUNT, JOINT, Model, NAMES, TILT, level_of, on_log_scale, value_of};
use crate::ferment::Parameters;
use crate::learn::log::Seen;
use crate::table::{Standing, Table, Uncertainty, Value};
use std::fmt::Write as _;

/// Where learned parameters come from, for the head of their file.
#[derive(Debug, Clone, PartialEq)]
pub struct Provenance {
    /// Name of the log.
    pub log: String,
    /// Date of the learning, as the caller writes it.
    pub date: String,
    /// Version of the program or library.
    pub version: String,
    /// The file of own parameters that the learning began from, if it began from one.
    pub base: Option<BaseTable>,
}

/// A file of own parameters that learning began from.
#[derive(Debug, Clone, PartialEq)]
pub struct BaseTable {
    /// Name of the file.
    pub name: String,
    /// What it holds.
    pub table: Table,
}

impl Learned {
    /// The text of a parameter file in the form of `data/`, for
    /// [`Parameters::with_table`](crate::ferment::Parameters::with_table).
    ///
    /// It holds what the log could move, with errors and correlations after it, and every other value of the
    /// file that the learning began from, which goes with none; the rest stays with the shipped table.
    /// The `log_sd` of a level joins its own error and the scatter of a single observation, so that a
    /// range drawn from the file holds four new observations of five. Numbers have six
    /// digits.
    ///
    /// ```
    /// use pointage::ferment::Parameters;
    /// use pointage::learn::fit::{Options, Provenance, learn};
    /// use pointage::learn::log::Log;
    /// use pointage::table;
    /// let log = Log::from_csv("\
    /// kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen
    /// poolish,1000,1000,fresh,3,21,11.5,ripe
    /// poolish,1000,1000,fresh,3,17,20,ripe
    /// ", |name| Err(table::get(name).unwrap_err()))?;
    /// let shipped = Parameters::shipped()?;
    /// let learned = learn(&log.observations, &shipped, Options::default())?;
    /// let text = learned.to_table_text(&Provenance {
    ///     log: "log.csv".into(),
    ///     date: "3 May".into(),
    ///     version: "0.1.0".into(),
    ///     base: None,
    /// });
    /// let kitchen = shipped.with_table(&table::parse(&text)?)?;
    /// let miss = kitchen.levels.poolish.gas / learned.parameters().levels.poolish.gas - 1.0;
    /// assert!(miss.abs() < 1e-5);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    #[must_use]
    pub fn to_table_text(&self, from: &Provenance) -> String {
        let lines = self.rows.iter().map(|r| r.line);
        let (first, last) = (lines.clone().min(), lines.max());
        let count = |seen| self.rows.iter().filter(|r| r.seen == seen).count();
        let mut text = String::new();
        let mut line = |key: &str, value: &str| {
            let _ = writeln!(text, "{key} = {}", quoted(value));
        };
        line("id", "kitchen");
        line("title", "Parameters learned from a log");
        line(
            "observed",
            &format!(
                "{} {}: {} seen ready, {} not yet, {} past; single times scatter by {} in log time",
                self.rows.len(),
                if self.rows.len() == 1 { "row" } else { "rows" },
                count(Seen::Ready),
                count(Seen::NotYet),
                count(Seen::Past),
                digits(self.scatter)
            ),
        );
        let began = match &from.base {
            Some(base) => format!("; began from {}", base.name),
            None => String::new(),
        };
        line(
            "source",
            &format!("{}, learned {}{began}", from.log, from.date),
        );
        line(
            "locus",
            &format!("lines {} to {}", first.unwrap_or(0), last.unwrap_or(0)),
        );
        line("standing", "derived");
        line(
            "note",
            &format!(
                "Learned by Pointage {} with {} as prior. Belongs with the rates of that version. The log_sd of a level includes the scatter of a single observation.{}",
                from.version,
                self.prior_in_words(from),
                match &from.base {
                    Some(base) => format!(
                        " What this log does not tell is carried over from {}.",
                        base.name
                    ),
                    None => String::new(),
                }
            ),
        );
        let mut text = format!("format = 1\n{text}");
        // The log made this model before: it does so again.
        let written = Model::new(&self.prior, &self.observations)
            .map_or_else(|_| Vec::new(), |model| self.values(&model, &mut text));
        if let Some(base) = &from.base {
            let kept = |v: &&Value| !written.iter().any(|(j, _)| NAMES[*j] == v.name);
            for value in base.table.values.iter().filter(kept) {
                text.push_str(&carried(&base.name, value));
            }
        }
        text.push_str(&self.correlations(&written));
        text
    }

    /// Writes what the log could move, and the two that it leaves alone for the sake of the errors that go
    /// with them; gives their places, and the share of each error that is the parameter's own.
    fn values(&self, model: &Model<'_>, text: &mut String) -> Vec<(usize, f64)> {
        let mut written: Vec<(usize, f64)> = Vec::new();
        let rest = (COUNT..JOINT).filter(|&j| model.sd(j) > 0.0);
        let inside = self.concerned(model).filter(|_| self.sound);
        for j in inside.chain(rest.filter(|_| self.sound)) {
            let own = model.sd(j) * self.joint[(j, j)].sqrt();
            // What the log does not tell holds the scatter of the table or of the logs before.
            let error = if j < TILT {
                own.hypot(self.scatter * self.gas_for_time(model, j) * self.told[j].sqrt())
            } else {
                own
            };
            written.push((j, own / error));
            let key = if on_log_scale(j) { "log_sd" } else { "se" };
            let moved = match self.told_z.get(j) {
                None | Some(0.0) => "the log tells little of it".to_owned(),
                Some(z) => format!("the log moved it by {z:.2} of that"),
            };
            let _ = write!(
                text,
                "\n[values.{}]\nvalue = {}\n{key} = {}\nnote = {}\n",
                NAMES[j],
                digits(value_of(&self.parameters, j)),
                digits(error),
                quoted(&format!(
                    "before: {}, {key} {}; {moved}",
                    digits(value_of(&self.prior, j)),
                    digits(model.sd(j)),
                ))
            );
        }
        written
    }

    /// How the errors of what is written go together. The scatter of a single observation, which a level's
    /// error holds besides, goes with nothing.
    fn correlations(&self, written: &[(usize, f64)]) -> String {
        let c = &self.joint;
        let mut text = String::new();
        for (n, &(i, own_i)) in written.iter().enumerate() {
            for &(j, own_j) in &written[n + 1..] {
                let value = own_i * own_j * c[(i, j)] / (c[(i, i)] * c[(j, j)]).sqrt();
                let _ = write!(
                    text,
                    "\n[[correlations]]\nbetween = [\"{}\", \"{}\"]\nvalue = {}\n",
                    NAMES[i],
                    NAMES[j],
                    digits(value)
                );
            }
        }
        text
    }

    fn prior_in_words(&self, from: &Provenance) -> String {
        match &from.base {
            Some(base) => format!(
                "the numbers of {} ({}) and, for the rest, the shipped table",
                base.name, base.table.source
            ),
            None if Parameters::shipped().is_ok_and(|shipped| shipped == self.prior) => {
                "the shipped table".to_owned()
            }
            None => "other numbers than the shipped table".to_owned(),
        }
    }

    /// By how much the log of the gas moves for a move of the log time, at the end point of a level:
    /// the mean over its rows.
    fn gas_for_time(&self, model: &Model<'_>, level: usize) -> f64 {
        let log_hours: Vec<f64> = self.rows.iter().map(|r| r.predicted_h.ln()).collect();
        let slopes: Vec<f64> = model
            .gradients(&self.told_z, &log_hours)
            .unwrap_or_default()
            .iter()
            .zip(&self.observations)
            .filter(|(_, o)| level_of(o.bake.kind) == level)
            .map(|(g, _)| model.sd(level) / g[level])
            .collect();
        // A level without a row was learned through the others, and holds its scatter from before.
        if slopes.is_empty() {
            0.0
        } else {
            slopes.iter().sum::<f64>() / slopes.len() as f64
        }
    }
}

/// A value of the file before, with its own origin.
fn carried(file: &str, value: &Value) -> String {
    const CARRIED: &str = "carried over from ";
    // Of a value that was carried before, the first note alone.
    let note = match value.note.strip_prefix(CARRIED) {
        Some(rest) => rest.split_once("; ").map_or("", |(_, note)| note),
        None => &value.note,
    };
    let note = if note.is_empty() {
        format!("{CARRIED}{file}")
    } else {
        format!("{CARRIED}{file}; {note}")
    };
    let uncertainty = match value.uncertainty {
        Uncertainty::StandardError { se } => format!("se = {se:?}"),
        Uncertainty::LogSd { log_sd: sd } => format!("log_sd = {sd:?}"),
        Uncertainty::Range { low, high } => format!("range = [{low:?}, {high:?}]"),
        Uncertainty::Exact => "exact = true".to_owned(),
        Uncertainty::Judged => "judged = true".to_owned(),
    };
    let standing = match value.standing {
        Standing::Quoted => "quoted",
        Standing::Derived => "derived",
        Standing::Assumed => "assumed",
        Standing::FromMemory => "from-memory",
    };
    format!(
        "\n[values.{}]\nvalue = {:?}\n{uncertainty}\nsource = {}\nlocus = {}\nstanding = \"{standing}\"\nnote = {}\n",
        value.name,
        value.value,
        quoted(&value.source),
        quoted(&value.locus),
        quoted(&note)
    )
}

/// Six significant digits, without an exponent where that can be.
fn digits(value: f64) -> String {
    let rounded: f64 = format!("{value:.5e}").parse().unwrap_or(value);
    // TOML tells 1 from 1.0; all our numbers are of the second sort.
    if rounded.fract() == 0.0 && rounded.abs() < 1e15 {
        format!("{rounded:.1}")
    } else {
        format!("{rounded}")
    }
}

/// A basic string of TOML.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_survives_quotes_and_lines() {
        let odd = "a \"log\" of C:\\bread\nsecond line\u{7f}";
        let parsed: toml::Table = toml::from_str(&format!("x = {}", quoted(odd))).unwrap();
        assert_eq!(parsed["x"].as_str(), Some(odd));
        assert_eq!(digits(210.600_04), "210.6");
        assert_eq!(digits(200.0), "200.0");
        assert_eq!(digits(-0.012_345_678), "-0.0123457");
    }

    /// The range that the file gives at the one place of its log: the errors of all eight parameters
    /// together, by the slopes of the time itself, and the scatter of a single observation as far as the log
    /// tells the level.
    #[test]
    fn the_range_from_a_file_has_errors_and_scatter() {
        use crate::ferment::{Kind, Uncertain, range};
        use crate::learn::fit::model::tests::bake;
        use crate::learn::fit::{Options, learn};
        use crate::learn::log::Observation;
        let prior = Parameters::shipped().unwrap();
        let bake = bake(Kind::Poolish, 22.0, 0.3);
        let course = bake.place.course().unwrap();
        let hours = |p: &Parameters| bake.stage().ready(p, &course).map(|r| r.hours);
        let row = Observation {
            line: 2,
            bake: bake.clone(),
            hours: hours(&prior).unwrap(),
            seen: Seen::Ready,
        };
        let scatter = 0.15;
        let options = Options::default().with_scatter(scatter);
        let l = learn(&[row.clone(), row.clone(), row], &prior, options).unwrap();
        let text = l.to_table_text(&Provenance {
            log: "simulated".into(),
            date: "today".into(),
            version: "0".into(),
            base: None,
        });
        let own = prior
            .with_table(&crate::table::parse(&text).unwrap())
            .unwrap();
        let all = [
            Uncertain::Level(Kind::Poolish),
            Uncertain::Level(Kind::Biga),
            Uncertain::Level(Kind::Sponge),
            Uncertain::Level(Kind::Dough),
            Uncertain::Tilt,
            Uncertain::GrowthRate,
            Uncertain::GrowthCap,
            Uncertain::Lag,
        ];
        let slope = all.map(|which| {
            let at = |z: f64| hours(&prior.moved(which, z).unwrap()).unwrap().ln();
            (at(1e-2) - at(-1e-2)) / 2e-2
        });
        let mut variance = scatter * scatter * l.told[0];
        for a in 0..JOINT {
            for b in 0..JOINT {
                variance += slope[a] * l.joint[(a, b)] * slope[b];
            }
        }
        let (low, high) = range(&own, bake.stage().end, hours).unwrap().unwrap();
        let width = 0.5 * (high / low).ln() / 1.281_55;
        assert!(l.told[0] > 0.3 && scatter * scatter * l.told[0] > 0.2 * variance);
        // A whole standard deviation bends the time a little.
        assert!(
            (width / variance.sqrt() - 1.0).abs() < 0.03,
            "{width} {}",
            variance.sqrt()
        );
    }

    /// By hand: 3/sqrt(4 · 9) = 0.5 and -1/sqrt(4 · 16) = -0.125, times the shares of each error that are its
    /// own.
    #[test]
    fn correlations_are_written_without_the_scatter() {
        use crate::ferment::Kind;
        use crate::learn::fit::model::tests::bake;
        use crate::learn::fit::{Options, learn};
        use crate::learn::log::Observation;
        let row = Observation {
            line: 2,
            bake: bake(Kind::Poolish, 22.0, 0.3),
            hours: 11.0,
            seen: Seen::Ready,
        };
        let prior = Parameters::shipped().unwrap();
        let mut l = learn(&[row], &prior, Options::default()).unwrap();
        l.joint.fill(0.0);
        for (i, j, c) in [
            (0, 0, 4.0),
            (4, 4, 9.0),
            (5, 5, 16.0),
            (0, 4, 3.0),
            (0, 5, -1.0),
        ] {
            l.joint[(i, j)] = c;
            l.joint[(j, i)] = c;
        }
        let text = l.correlations(&[(0, 0.8), (4, 1.0), (5, 0.5)]);
        let table: toml::Table = toml::from_str(&text).unwrap();
        let written: Vec<(&str, &str, f64)> = table["correlations"]
            .as_array()
            .unwrap()
            .iter()
            .map(|c| {
                let name = |k: usize| c["between"][k].as_str().unwrap();
                (name(0), name(1), c["value"].as_float().unwrap())
            })
            .collect();
        assert_eq!(
            written,
            [
                (NAMES[0], NAMES[4], 0.4),
                (NAMES[0], NAMES[5], -0.05),
                (NAMES[4], NAMES[5], 0.0),
            ]
        );
    }

    fn learned(prior: &Parameters) -> Learned {
        use crate::learn::fit::{Options, learn, model::tests::bake};
        let row = crate::learn::log::Observation {
            line: 2,
            bake: bake(crate::ferment::Kind::Poolish, 22.0, 0.3),
            hours: 11.0,
            seen: Seen::Ready,
        };
        learn(&[row], prior, Options::default()).unwrap()
    }

    fn provenance() -> Provenance {
        Provenance {
            log: "log.csv".into(),
            date: "today".into(),
            version: "1".into(),
            base: None,
        }
    }

    #[test]
    fn the_file_says_what_was_before() {
        let note = |prior: &Parameters| {
            let table: toml::Table =
                toml::from_str(&learned(prior).to_table_text(&provenance())).unwrap();
            table["note"].as_str().unwrap().to_owned()
        };
        let shipped = Parameters::shipped().unwrap();
        let words = note(&shipped);
        assert!(words.contains("with the shipped table as prior"), "{words}");
        let mut other = shipped;
        other.levels.poolish.gas *= 1.1;
        let words = note(&other);
        assert!(
            words.contains("with other numbers than the shipped table as prior"),
            "{words}"
        );
    }

    /// Cap and lag are written for the errors that go with them; one that is exact has none.
    #[test]
    fn what_is_exact_is_not_written() {
        let mut prior = Parameters::shipped().unwrap();
        let written = |prior: &Parameters| {
            let text = learned(prior).to_table_text(&provenance());
            let table = crate::table::parse(&text).unwrap();
            NAMES[COUNT..]
                .iter()
                .map(|n| table.value(n).is_ok())
                .collect::<Vec<_>>()
        };
        assert_eq!(written(&prior), [true, true]);
        prior.spread.lag = 0.0;
        assert_eq!(written(&prior), [true, false]);
        prior.spread.growth_cap = 0.0;
        assert_eq!(written(&prior), [false, false]);
    }
}
