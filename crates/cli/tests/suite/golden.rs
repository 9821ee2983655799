//! The golden cases: what others printed, measured or computed, against what Pointage answers.
//!
//! `tests/golden/README.md` describes the files. A case of the command line is asked twice, of the
//! program and of the library; the other cases call the library alone (`calls`).

mod calls;
mod doors;
mod table;

use serde::Deserialize;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// One file: one subject.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Subject {
    subject: String,
    /// Whether its cases depend on time: such a subject needs two held-out cases.
    timed: bool,
    case: Vec<Case>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    id: String,
    /// The command line, without `--json`.
    args: Option<String>,
    /// Or a call of the library, with its input.
    call: Option<String>,
    #[serde(default)]
    input: Value,
    /// A second command line: what is held is the first answer over this one.
    over: Option<String>,
    /// Path in the answer, and what shall stand there.
    #[serde(default)]
    expect: BTreeMap<String, f64>,
    /// Path in the answer, and the range that it shall lie in.
    #[serde(default)]
    band: BTreeMap<String, [f64; 2]>,
    tolerance: Tolerance,
    source: String,
    locus: String,
    /// What is assumed, or what the case cannot show.
    #[serde(rename = "note")]
    _note: Option<String>,
    standing: Standing,
    role: Role,
    /// How the expectation follows from the source; evaluated by `tests/reference/golden.py`.
    #[serde(rename = "derivation")]
    _derivation: Option<String>,
    /// Why a case is missed that is missed.
    known_miss: Option<String>,
    /// The miss in a baker's words, for the guide; `{}` stands for answer and expectation.
    in_words: Option<String>,
}

/// How far an answer may lie from the value, or outside the band.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Tolerance {
    #[serde(default)]
    abs: f64,
    /// Share of the expected value.
    #[serde(default)]
    rel: f64,
    why: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Standing {
    Quoted,
    Derived,
    #[serde(rename = "common practice")]
    CommonPractice,
    #[serde(rename = "from memory")]
    FromMemory,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Role {
    /// Used to set a default: agreeing with it proves little.
    Calibration,
    HeldOut,
}

/// What came of a case.
struct Outcome {
    /// Largest relative error: of the expected value, or of 1 where that is smaller; of a band,
    /// outside it.
    error: f64,
    /// The paths that lie outside their tolerance, in words.
    missed: Vec<String>,
    /// The first of them, as short as the guide has it: "1.95, not 3".
    short: Option<String>,
}

fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
}

/// The files in the order of their names.
fn subjects() -> &'static [Subject] {
    static SUBJECTS: OnceLock<Vec<Subject>> = OnceLock::new();
    SUBJECTS.get_or_init(|| {
        let mut files: Vec<PathBuf> = fs::read_dir(root().join("tests/golden"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|e| e == "toml"))
            .collect();
        files.sort();
        files
            .iter()
            .map(|path| {
                let text = fs::read_to_string(path).unwrap();
                toml::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
            })
            .collect()
    })
}

/// The value at a path: keys, indices and `@name` joined by points; two paths may be subtracted or
/// divided.
fn at_path(answer: &Value, path: &str) -> f64 {
    if let Some((a, b)) = path.split_once(" - ") {
        return at_path(answer, a) - at_path(answer, b);
    }
    if let Some((a, b)) = path.split_once(" / ") {
        return at_path(answer, a) / at_path(answer, b);
    }
    let found = path.split('.').fold(answer, |value, key| {
        if let Some(name) = key.strip_prefix('@') {
            let list = value.as_array().unwrap();
            return list.iter().find(|v| v["name"] == name).unwrap();
        }
        key.parse::<usize>()
            .map_or_else(|_| &value[key], |i| &value[i])
    });
    match found {
        Value::Bool(yes) => Some(f64::from(u8::from(*yes))),
        // Plan: an hour of the clock, in hours since midnight.
        Value::String(text) => clock_hours(text),
        _ => found.as_f64(),
    }
    .unwrap_or_else(|| panic!("no number at {path} of {answer}"))
}

/// `2026-11-28T06:57:00+01:00` -> hours since the midnight of the 1st of that month.
fn clock_hours(text: &str) -> Option<f64> {
    let (date, time) = text.split_once('T')?;
    let day: f64 = date.rsplit('-').next()?.parse().ok()?;
    let mut parts = time.split(':');
    let hour: f64 = parts.next()?.parse().ok()?;
    let minute: f64 = parts.next()?.get(..2)?.parse().ok()?;
    Some(24.0 * day + hour + minute / 60.0)
}

impl Case {
    /// The answers to compare: of the program and of the library.
    fn answers(&self) -> Vec<Value> {
        match (&self.args, &self.call) {
            (Some(args), None) => {
                let mut answers = vec![program(args)];
                answers.extend(calls::command(args));
                answers
            }
            (None, Some(call)) => vec![calls::library(call, &self.input)],
            _ => panic!("{}: give either args or call", self.id),
        }
    }

    fn outcome(&self) -> Outcome {
        let mut outcome = Outcome {
            error: 0.0,
            missed: Vec::new(),
            short: None,
        };
        let over = self.over.as_deref().map(program);
        let bands = self.band.iter().map(|(path, band)| (path, *band));
        let values = self.expect.iter().map(|(path, v)| (path, [*v, *v]));
        let wanted: Vec<_> = values.chain(bands).collect();
        assert!(!wanted.is_empty(), "{}: nothing is expected", self.id);
        for answer in self.answers() {
            for (path, [low, high]) in &wanted {
                let got =
                    at_path(&answer, path) / over.as_ref().map_or(1.0, |over| at_path(over, path));
                let nearest = got.clamp(*low, *high);
                let off = (got - nearest).abs();
                outcome.error = outcome.error.max(off / nearest.abs().max(1.0));
                let allowed = self.tolerance.abs + self.tolerance.rel * nearest.abs();
                if off > allowed || got.is_nan() {
                    let range = if low == high {
                        format!("{low}")
                    } else {
                        format!("{low} to {high}")
                    };
                    let ratio = if over.is_some() { "ratio of " } else { "" };
                    let miss = format!("{ratio}{path} {} for {range}", three_digits(got));
                    let wanted = match low == high {
                        true => short(*low),
                        false => format!("{} to {}", short(*low), short(*high)),
                    };
                    outcome
                        .short
                        .get_or_insert(format!("{}, not {wanted}", short(got)));
                    if !outcome.missed.contains(&miss) {
                        outcome.missed.push(miss);
                    }
                }
            }
        }
        outcome
    }
}

/// A number for people: three digits or so.
fn three_digits(value: f64) -> String {
    match value.abs() {
        v if v >= 100.0 => format!("{value:.0}"),
        v if v >= 10.0 => format!("{value:.1}"),
        v if v >= 0.1 => format!("{value:.2}"),
        _ => format!("{value:.3}"),
    }
}

/// Three digits at most, without zeros at the end.
fn short(value: f64) -> String {
    let before = value.abs().max(1e-9).log10().floor();
    let places = (2.0 - before).max(0.0) as usize;
    let text = format!("{value:.places$}");
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// The one name of a source: what stands before the first comma, or the host of a bare address.
fn name(source: &str) -> &str {
    let bare = source
        .split_once("://")
        .filter(|(scheme, _)| !scheme.contains(' '));
    match bare {
        Some((_, rest)) => rest.split(['/', ',']).next().unwrap(),
        None => source.split(',').next().unwrap(),
    }
    .trim_start_matches("www.")
}

/// The program's answer; it runs where the repository is, so that demo bakes can be named.
fn program(args: &str) -> Value {
    let out = Command::new(env!("CARGO_BIN_EXE_pointage"))
        .args(args.split_whitespace())
        .arg("--json")
        .current_dir(root())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "{args}: {said}");
    serde_json::from_slice(&out.stdout).unwrap()
}

/// Every case with what came of it.
fn outcomes() -> &'static [(&'static Subject, &'static Case, Outcome)] {
    static ALL: OnceLock<Vec<(&Subject, &Case, Outcome)>> = OnceLock::new();
    ALL.get_or_init(|| {
        let each = |s: &'static Subject| s.case.iter().map(move |c| (s, c, c.outcome()));
        subjects().iter().flat_map(each).collect()
    })
}

fn held_out() -> impl Iterator<Item = &'static Case> {
    let cases = subjects().iter().flat_map(|s| &s.case);
    cases.filter(|c| c.role == Role::HeldOut)
}

/// A miss is recorded beside its case with the reason; a recorded one that passes is as wrong.
#[test]
fn every_miss_is_a_known_one() {
    let outcomes = outcomes();
    let missed = outcomes.iter().filter(|o| !o.2.missed.is_empty());
    println!(
        "{} cases, {} held-out, {} missed",
        outcomes.len(),
        held_out().count(),
        missed.count()
    );
    let mut changed = Vec::new();
    for (_, case, outcome) in outcomes {
        let what = outcome.missed.join("; ");
        assert_eq!(
            case.known_miss.is_some(),
            case.in_words.as_ref().is_some_and(|w| w.contains("{}")),
            "{}: a known miss needs `in_words` with {{}}, and nothing else has it",
            case.id
        );
        match (&case.known_miss, outcome.missed.is_empty()) {
            (None, true) => {}
            (Some(why), false) => println!("  missed: {}: {what}: {why}", case.id),
            (None, false) => changed.push(format!("{} is missed: {what}", case.id)),
            (Some(_), true) => changed.push(format!("{} passes, but is a known miss", case.id)),
        }
    }
    assert!(changed.is_empty(), "{}", changed.join("\n"));
}

#[test]
fn the_cases_are_many_and_of_many_sources() {
    let cases: Vec<&Case> = subjects().iter().flat_map(|s| &s.case).collect();
    assert!(cases.len() >= 150, "{} cases", cases.len());
    let held_out = held_out().count();
    assert!(held_out * 10 >= cases.len() * 4, "{held_out} held out");
    let mut ids = BTreeSet::new();
    let mut sources: BTreeMap<&str, u32> = BTreeMap::new();
    for case in &cases {
        assert!(ids.insert(&case.id), "{} is there twice", case.id);
        *sources.entry(name(&case.source)).or_default() += 1;
        if case.standing == Standing::FromMemory {
            assert!(case.locus.contains("from memory"), "{}", case.id);
        }
        assert!(!case.locus.is_empty() && !case.tolerance.why.is_empty());
        let Tolerance { abs, rel, .. } = case.tolerance;
        assert!(abs > 0.0 || rel > 0.0, "{}: no tolerance", case.id);
    }
    // One work under two names would be counted twice: no name begins like another.
    for (a, b) in sources.keys().zip(sources.keys().skip(1)) {
        let first = |name: &str| name.split([' ', ',']).next().unwrap().to_lowercase();
        let apart = ["a", "cap", "cengel", "iapws", "nist", "yeast", "french"];
        assert!(
            first(a) != first(b) || apart.contains(&first(a).as_str()),
            "{a} and {b} are one source?"
        );
    }
    for (source, count) in sources {
        assert!(count <= 8, "{count} cases from {source}");
    }
    for subject in subjects().iter().filter(|s| s.timed) {
        let held_out = subject.case.iter().filter(|c| c.role == Role::HeldOut);
        assert!(held_out.count() >= 2, "{}", subject.subject);
    }
}
