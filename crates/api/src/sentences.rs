//! The sentences: every finding in a baker's words, and nowhere else.
//!
//! A finding is a code with its numbers. What a person reads of it is a [`Message`], which can be shown and
//! serialised and nothing else, so that no code can come to depend on its wording. The words stand in
//! `sentences.toml`, by code.

use crate::assumption::Assumption;
use crate::rounded;
use crate::steps::{Action, Look, Slurry};
use minijinja::value::{Serde, Value};
use minijinja::{
    Environment, Template, UndefinedBehavior, filters, tests::is_defined, tests::is_none,
};
use pointage::error::{Error, ErrorKind, shown};
use pointage::formula::yeast_slurry::Pinch;
#[cfg(feature = "learn")]
use pointage::learn::{Termination, fit, friction};
use pointage::plan::{self, Change, Problem, Task};
use pointage::units::Mass;
use pointage::{ferment, heat};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt;
use std::sync::LazyLock;
use toml::Spanned;
use toml::de::DeTable;

/// A sentence for a person: it can be shown, and nothing else.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Message(String);

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// What can be said in a sentence.
pub trait Sentence {
    /// It, said.
    fn sentence(&self) -> Message;
}

/// A finding of any part of the library.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(untagged)]
#[non_exhaustive]
pub enum AnyFinding {
    /// Of a question itself.
    Assumption(Assumption),
    /// One that says itself what it is: an error beside an answer, by its kind.
    Error {
        /// Its kind.
        code: ErrorKind,
        /// What it says.
        #[serde(skip)]
        text: Message,
    },
    /// Of a plan.
    Plan(plan::Finding),
    /// Of water and dough.
    Heat(heat::Caution),
    /// Of a dough beyond the published recipes.
    Ferment(ferment::Extrapolation),
    /// Of a baker's log.
    #[cfg(feature = "learn")]
    Learn(fit::Diagnostic),
    /// Of a log of mixes.
    #[cfg(feature = "learn")]
    Friction(friction::FrictionDiagnostic),
}

/// Sections of `sentences.toml` and what they say; a finding is also known as a variant of [`AnyFinding`].
macro_rules! sentences {
    ($($of:ty = $section:literal $($variant:ident)?;)*) => {$(
        impl Sentence for $of {
            fn sentence(&self) -> Message {
                Message(said($section, &Value::from(Serde(self))))
            }
        }
        $(impl From<$of> for AnyFinding {
            fn from(finding: $of) -> Self {
                Self::$variant(finding)
            }
        })?
    )*};
}
sentences! {
    plan::Finding = "plan" Plan;
    heat::Caution = "heat" Heat;
    ferment::Extrapolation = "ferment" Ferment;
    Change = "change";
    Action = "action";
    Look = "look";
    Slurry = "slurry";
}
#[cfg(feature = "learn")]
sentences! {
    fit::Diagnostic = "learn" Learn;
    Termination = "fit";
    friction::FrictionDiagnostic = "friction" Friction;
}

impl From<Error> for AnyFinding {
    fn from(error: Error) -> Self {
        Self::Error {
            code: error.kind(),
            text: error.sentence(),
        }
    }
}

impl Sentence for Error {
    fn sentence(&self) -> Message {
        Message(self.to_string())
    }
}

// It is worded when it is shown: those of a table's rows never are.
/// A finding and its sentence.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(into = "Said")]
pub struct Remark(AnyFinding);

/// How a remark is written.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "Remark"))]
struct Said {
    #[serde(flatten)]
    finding: AnyFinding,
    /// The same in words.
    text: Message,
}

impl From<Remark> for Said {
    fn from(Remark(finding): Remark) -> Self {
        let text = finding.sentence();
        Self { finding, text }
    }
}

impl<F: Into<AnyFinding>> From<F> for Remark {
    fn from(finding: F) -> Self {
        Self(finding.into())
    }
}

/// Findings with their sentences.
pub(crate) fn remarks<F: Into<AnyFinding>>(findings: impl IntoIterator<Item = F>) -> Vec<Remark> {
    findings.into_iter().map(Remark::from).collect()
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.sentence().fmt(f)
    }
}

impl Sentence for AnyFinding {
    fn sentence(&self) -> Message {
        match self {
            Self::Assumption(finding) => finding.sentence(),
            Self::Error { text, .. } => text.clone(),
            Self::Plan(finding) => finding.sentence(),
            Self::Heat(finding) => finding.sentence(),
            Self::Ferment(finding) => finding.sentence(),
            #[cfg(feature = "learn")]
            Self::Learn(finding) => finding.sentence(),
            #[cfg(feature = "learn")]
            Self::Friction(finding) => finding.sentence(),
        }
    }
}

/// The words of what has a code, or is one.
fn said(section: &str, of: &Value) -> String {
    // Looked up without a lock: in a process forked meanwhile it would stay locked.
    static TEMPLATES: LazyLock<Templates> = LazyLock::new(templates);
    let code = of.get_attr("code").unwrap_or_default();
    let code = code.as_str().or(of.as_str()).unwrap_or("text");
    let template = TEMPLATES.get(&(section, code));
    let words = template.and_then(|template| template.render(of).ok());
    words.unwrap_or_else(|| code.to_owned())
}

/// Templates by section and code.
type Templates = BTreeMap<(&'static str, &'static str), Template<'static, 'static>>;

/// `sentences.toml`.
fn templates() -> Templates {
    static WORDS: LazyLock<DeTable<'_>> = LazyLock::new(|| {
        let words = DeTable::parse(include_str!("sentences.toml"));
        words.map(Spanned::into_inner).unwrap_or_default()
    });
    static ENVIRONMENT: LazyLock<Environment<'_>> = LazyLock::new(environment);
    let sections = WORDS.iter().filter_map(|(section, words)| {
        let words = words.get_ref().as_table()?.iter();
        Some(words.filter_map(|(code, words)| {
            let template = ENVIRONMENT.template_from_str(words.get_ref().as_str()?);
            let key = (section.get_ref().as_ref(), code.get_ref().as_ref());
            Some((key, template.ok()?))
        }))
    });
    sections.flatten().collect()
}

/// How the numbers and words of a sentence are written.
fn environment() -> Environment<'static> {
    // With no more of the language than the sentences use: all of it is a tenth of the JavaScript package.
    let mut templates = Environment::empty();
    templates.set_undefined_behavior(UndefinedBehavior::SemiStrict);
    templates.add_test("none", is_none);
    templates.add_test("defined", is_defined);
    templates.add_filter("abs", filters::abs);
    templates.add_filter("count", filters::length);
    templates.add_filter("join", filters::join);
    templates.add_filter("round", filters::round);
    templates.add_filter("select", filters::select);
    templates.add_filter("capitalize", |mut words: String| {
        if let Some(first) = words.get_mut(..1) {
            first.make_ascii_uppercase();
        }
        words
    });
    templates.add_filter("lower", |words: String| words.to_ascii_lowercase());
    // As rounded in answers: in the middle between two prints, the last bits of a machine must not decide.
    templates.add_filter("fixed", |x: f64, decimals: usize| {
        format!("{:.decimals$}", rounded(x))
    });
    templates.add_filter("percent", |share: f64| {
        format!("{:.0}", rounded(100.0 * share))
    });
    templates.add_filter("shown", shown);
    templates.add_filter("dose", dose);
    // A dose in the grams of a recipe, or else in percent.
    templates.add_filter("weighed", |g: Option<f64>, percent: f64| match g {
        Some(g) => format!("{} g", shown((g * 100.0).round() / 100.0)),
        None => dose(percent),
    });
    templates.add_filter("clock", clock);
    templates.add_filter("length", length);
    templates.add_filter("minutes", |minutes: f64| length(minutes.abs() / 60.0));
    templates.add_filter("load_names", |loads: Vec<u32>| load_names(&loads));
    templates.add_filter("task_hours", |tasks: Serde<BTreeMap<Task, Vec<f64>>>| {
        list(tasks.iter().map(task_hours), "; ")
    });
    templates.add_filter("said", |of: Value, section: String| said(&section, &of));
    templates
}

impl From<Assumption> for AnyFinding {
    fn from(finding: Assumption) -> Self {
        Self::Assumption(finding)
    }
}

impl Sentence for Assumption {
    fn sentence(&self) -> Message {
        let words = said("assumption", &Value::from(Serde(self)));
        Message(match self {
            Self::TooLittleForScale { slurry, .. } => format!("{words} {}", slurry.sentence()),
            _ => words,
        })
    }
}

/// A dose, three digits that count.
fn dose(percent: f64) -> String {
    let decimals = match percent {
        p if p < 0.1 => 4,
        p if p < 1.0 => 3,
        _ => 2,
    };
    format!("{percent:.decimals$} %")
}

impl Sentence for Pinch {
    fn sentence(&self) -> Message {
        // Weighed masses are whole steps of a scale: six decimals hide only binary fractions.
        let exact = |m: Mass| (m.as_grams() * 1e6).round() / 1e6;
        Message(format!(
            "Yeast slurry: stir {} g of yeast into {} g of water, weigh {} g of it in, discard the rest. Pour {:.1} g less water.",
            exact(self.yeast),
            exact(self.water),
            exact(self.take),
            self.water_taken.as_grams()
        ))
    }
}

impl Sentence for Problem {
    fn sentence(&self) -> Message {
        let all = self.findings.iter().chain(&self.nearest);
        Message(list(all.map(|f| f.sentence().0), " "))
    }
}

fn list(items: impl Iterator<Item = String>, between: &str) -> String {
    items.collect::<Vec<_>>().join(between)
}

/// `load 2`, `loads 2 to 4, 6`.
fn load_names(loads: &[u32]) -> String {
    let runs = loads.chunk_by(|a, b| a + 1 == *b).map(|run| match run {
        [one] => one.to_string(),
        [one, other] if loads.len() == 2 => format!("{one} and {other}"),
        run => format!("{} to {}", run[0], run[run.len() - 1]),
    });
    let name = if loads.len() == 1 { "load" } else { "loads" };
    format!("{name} {}", list(runs, ", "))
}

/// Most hours of one task that are named one by one.
const FEW: usize = 3;

/// A task with its hours, or with their number and span.
fn task_hours((task, hours): (&Task, &Vec<f64>)) -> String {
    let doing = said("doing", &Value::from(Serde(task)));
    match hours.as_slice() {
        [first, .., last] if hours.len() > FEW => format!(
            "{} {} times from {} to {}",
            doing,
            hours.len(),
            clock(*first),
            clock(*last)
        ),
        hours => {
            let hours = list(hours.iter().map(|&h| clock(h)), ", ");
            format!("{} at {hours}", doing)
        }
    }
}

fn clock(hour: f64) -> String {
    // Midnight is no negative zero.
    let minutes = (hour * 60.0).round().rem_euclid(1440.0) + 0.0;
    format!("{:02.0}:{:02.0}", (minutes / 60.0).floor(), minutes % 60.0)
}

/// `85 min`; above 90 minutes `1 h 53`.
fn length(hours: f64) -> String {
    let minutes = (hours * 60.0).round();
    let (h, min) = ((minutes / 60.0).floor(), minutes % 60.0);
    match minutes {
        ..=90.0 => format!("{minutes:.0} min"),
        _ if min == 0.0 => format!("{h:.0} h"),
        _ => format!("{h:.0} h {min:02.0}"),
    }
}
#[cfg(test)]
pub(crate) fn codes(remarks: &[Remark]) -> Vec<String> {
    let code = |remark| serde_json::to_value(remark).unwrap()["code"].clone();
    let codes = remarks.iter().map(code);
    codes
        .map(|code| code.as_str().unwrap().to_owned())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::steps::Loads;

    #[test]
    fn a_remark_carries_its_code_its_numbers_and_its_sentence() {
        let remark = Remark::from(Assumption::MixedAtRoom { room_c: 20.0 });
        assert_eq!(
            serde_json::to_value(&remark).unwrap(),
            serde_json::json!({"code": "mixed-at-room", "room_c": 20.0, "text": remark.to_string()})
        );
        assert!(remark.to_string().contains("as warm as the room, 20.0 °C"));
        let error = Remark::from(Error::unreachable(
            "ripe dough",
            "the room is cold",
            "warm it",
        ));
        let error = serde_json::to_value(&error).unwrap();
        assert_eq!(error["code"], "unreachable");
        assert!(error["text"].as_str().unwrap().ends_with("warm it"));
    }

    #[test]
    fn the_rule_of_thumb_says_how_far_it_is_off() {
        let rule = |difference_percent, growth, recipe_growth| {
            let percent = 0.25;
            let rule = Assumption::RuleOfThumb {
                percent,
                difference_percent,
                growth,
                recipe_growth,
            };
            rule.sentence().to_string()
        };
        assert!(rule(14.0, 2.9, Some(1.8)).contains("14 % more"));
        assert!(rule(-14.0, 2.9, Some(1.8)).contains("14 % less"));
        assert!(rule(0.1, 2.9, None).contains("hardly multiplies"));
    }

    #[test]
    fn a_slurry_says_what_to_weigh() {
        let g = |grams| Mass::grams(grams).unwrap();
        let slurry = pointage::formula::yeast_slurry::weigh_in_water(g(0.4), g(1.0), g(600.0));
        let words = slurry.unwrap().unwrap().sentence().to_string();
        for said in ["stir 5 g of yeast into 245 g", "weigh 20 g"] {
            assert!(words.contains(said), "{words}");
        }
    }

    #[test]
    fn steps_read_as_a_baker_says_them() {
        let loads = |first, last| Loads {
            first,
            last,
            of: 4,
            pieces: 8,
        };
        let proofed = |in_window, chance| Look::Proofed {
            share: 1.3,
            in_window,
            past_chance: Some(chance),
            dent: pointage::plan::Dent::GoneSlowly,
        };
        let slurry = Slurry {
            goes_into: "poolish",
            yeast_g: 5.0,
            water_g: 22.0,
            weigh_in_g: 20.0,
        };
        let said: [(&dyn Sentence, &str); 10] = [
            (
                &Action::Fold {
                    number: 1,
                    of: 1,
                    of_batch: None,
                },
                "Fold",
            ),
            (
                &Action::Fold {
                    number: 2,
                    of: 3,
                    of_batch: None,
                },
                "Fold 2 of 3",
            ),
            (
                &Action::Fold {
                    number: 2,
                    of: 3,
                    of_batch: Some([3, 4]),
                },
                "Fold 2 of 3, batch 3",
            ),
            (&Action::Shape { loads: loads(1, 4) }, "Shape"),
            (&Action::Shape { loads: loads(2, 3) }, "Shape loads 2 and 3"),
            (
                &Action::IntoRetarder { loads: loads(2, 4) },
                "Loads 2 to 4 into the retarder",
            ),
            (&Look::Dough { dough_c: 23.449 }, "dough at 23.4 °C"),
            (
                &proofed(false, 0.9),
                "OUTSIDE its window: 130 % of its proof",
            ),
            (
                &proofed(true, 0.41),
                "a dent springs back slowly; 4 in 10 chance of over-proofing",
            ),
            (
                &slurry,
                "Yeast slurry for the poolish: stir 5 g of yeast into 22 g of water, weigh 20 g of it in, discard the rest (the water on the list is already reduced).",
            ),
        ];
        for (what, words) in said {
            assert_eq!(what.sentence().to_string(), words);
        }
    }

    #[test]
    fn cautions_of_water_and_dough() {
        use heat::Caution as C;
        for (caution, words) in [
            (C::WaterBelowFreezing { water_c: -4.0 }, "crushed ice"),
            (
                C::WaterBelowChiller {
                    water_c: 0.5,
                    coldest_c: 1.0,
                },
                "gives 1 °C",
            ),
            (
                C::WaterKillsYeast {
                    water_c: 49.0,
                    warmest_c: 43.0,
                },
                "kills bare yeast",
            ),
            (
                C::InstantYeastInColdWater { coldest_c: 21.0 },
                "below 21 °C",
            ),
            (
                C::LargeFriction {
                    rise_c: 12.0,
                    usual_c: 10.0,
                },
                "by 12.0 °C, where 10 °C",
            ),
            (
                C::WarmDough {
                    dough_c: 33.0,
                    warmest_c: 30.0,
                },
                "end at 30 °C",
            ),
            (
                C::HotDough {
                    dough_c: 42.0,
                    warmest_c: 40.0,
                },
                "above 40 °C yeast slows",
            ),
        ] {
            let said = caution.sentence().to_string();
            assert!(said.contains(words), "{said}");
        }
    }

    #[test]
    fn cautions_beyond_recipes() {
        use ferment::{Extrapolation as C, Kind};
        let kind = Kind::OldDough;
        for (caution, words) in [
            (
                C::ColderThanPublished {
                    kind,
                    coldest_c: 20.0,
                },
                "of a straight dough is as cold (coldest: 20 °C)",
            ),
            (
                C::WarmerThanPublished {
                    kind,
                    warmest_c: 30.0,
                },
                "is as warm (warmest: 30 °C)",
            ),
            (
                C::LessYeastThanPublished {
                    kind,
                    least_percent: 0.1,
                },
                "takes as little yeast (least: 0.1 %",
            ),
            (
                C::MoreYeastThanPublished {
                    kind,
                    most_percent: 3.0,
                },
                "takes as much yeast (most: 3 %",
            ),
            (
                C::LongerThanPublished {
                    kind,
                    longest_h: 16.0,
                },
                "takes as long (longest: 16 h)",
            ),
            (
                C::MoreGrowthThanCounted { growth: 61.4 },
                "multiply 61-fold",
            ),
            (
                C::LessYeastThanScalesShow { yeast_g: 0.0061 },
                "0.006 g of yeast is less",
            ),
        ] {
            let said = caution.sentence().to_string();
            assert!(said.contains(words), "{said}");
        }
    }

    #[cfg(feature = "learn")]
    #[test]
    fn findings_of_a_log_have_their_numbers_and_their_remedy() {
        use fit::Diagnostic as D;
        let parameter = |parameter| D::NotInformed { parameter };
        let kind = ferment::Kind::Poolish;
        let (lines, hours) = ([2, 3], [12.0, 6.0]);
        let mistyped = |fits_with| D::Mistyped { line: 3, fits_with };
        for (found, words) in [
            (
                parameter("poolish_ml_per_100g"),
                "Log a bake of that kind seen ripe: this log says nothing about the end point of the poolish.",
            ),
            (
                parameter("gas_tilt_per_10k"),
                "Log a bake at another temperature: this log says nothing about the temperature slope.",
            ),
            (
                parameter("growth_rate_per_h"),
                "Log a bake with much less yeast: this log says nothing about the growth rate.",
            ),
            (
                D::Contradiction { lines, kind, hours },
                "Lines 2 and 3 contradict each other: the same poolish at 12.0 h and at 6.0 h.",
            ),
            (
                mistyped(None),
                "Check line 3: it does not fit the others and does not count.",
            ),
            (
                mistyped(Some(("yeast_g", 0.1))),
                "Check line 3: it does not fit the others and does not count. With a tenth of the yeast it would fit: did a digit slip?",
            ),
            (
                mistyped(Some(("hours", 10.0))),
                "Check line 3: it does not fit the others and does not count. With ten times the hours it would fit: did a digit slip?",
            ),
            (
                D::ResidualsFollowDose {
                    longer_per_doubling: -0.12,
                },
                "Doughs with twice the yeast take 12 % less than forecast.",
            ),
            (
                D::ResidualsFollowTemperature {
                    longer_per_5_c: 0.08,
                },
                "Doughs 5 °C warmer take 8 % longer than forecast.",
            ),
            (
                D::OddDay {
                    date: "3 May".into(),
                    longer: 0.31,
                },
                "The rows of 3 May took 31 % longer than forecast.",
            ),
            (
                D::Covers {
                    kind,
                    fresh_percent: [0.2, 0.5],
                    temperature_c: [18.0, 23.5],
                },
                "The log has poolish with 0.200 % to 0.500 % fresh yeast at 18 to 24 °C.",
            ),
        ] {
            let said = found.sentence().to_string();
            assert!(said.starts_with(words), "{said}");
        }
    }
}
