//! The sentences: every finding in a baker's words, and nowhere else.
//!
//! A finding is a code with its numbers. What a person reads of it is a [`Message`], which can be shown and
//! serialised and nothing else, so that no code can come to depend on its wording.

use crate::assumption::Assumption;
use pointage::error::{Error, ErrorKind};
use pointage::formula::yeast_slurry::Pinch;
use pointage::table::Standing;
use pointage::units::Mass;
use serde::{Serialize, Serializer};
use std::fmt;

/// A sentence for a person: it can be shown, and nothing else.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Message(String);

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
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
pub enum Finding {
    /// Of a question itself.
    Assumption(Assumption),
    /// One that says itself what it is: an error beside an answer, by its kind.
    Error {
        /// Its kind.
        code: ErrorKind,
        /// What it says.
        #[serde(skip)]
        error: Box<Error>,
    },
    /// A caution that has no code of its own.
    Uncoded {
        /// Always `caution`.
        code: &'static str,
        /// What it says.
        #[serde(skip)]
        words: String,
    },
}

impl From<Assumption> for Finding {
    fn from(finding: Assumption) -> Self {
        Self::Assumption(finding)
    }
}

impl From<Error> for Finding {
    fn from(error: Error) -> Self {
        Self::Error {
            code: error.kind(),
            error: Box::new(error),
        }
    }
}

impl From<String> for Finding {
    fn from(words: String) -> Self {
        Self::Uncoded {
            code: "caution",
            words,
        }
    }
}

/// A finding with its sentence: in JSON its code, its numbers and `text`.
#[derive(Debug, Clone, PartialEq)]
pub struct Remark(Finding);

impl Remark {
    /// What it is about.
    #[must_use]
    pub fn finding(&self) -> &Finding {
        &self.0
    }
}

impl<F: Into<Finding>> From<F> for Remark {
    fn from(finding: F) -> Self {
        Self(finding.into())
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.sentence().fmt(f)
    }
}

/// A finding and its sentence.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct Worded<'f> {
    #[serde(flatten)]
    finding: &'f Finding,
    /// The same in words.
    text: Message,
}

impl Serialize for Remark {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let (finding, text) = (&self.0, self.0.sentence());
        Worded { finding, text }.serialize(to)
    }
}

#[cfg(feature = "schema")]
impl schemars::JsonSchema for Remark {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Remark".into()
    }

    fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
        Worded::json_schema(generator)
    }
}

fn say(words: impl Into<String>) -> Message {
    Message(words.into())
}

impl Sentence for Finding {
    fn sentence(&self) -> Message {
        match self {
            Self::Assumption(finding) => finding.sentence(),
            Self::Error { error, .. } => say(error.to_string()),
            Self::Uncoded { words, .. } => say(words),
        }
    }
}

impl Sentence for Assumption {
    fn sentence(&self) -> Message {
        use Assumption as A;
        say(match self {
            A::InstantYeast => "Assumed: instant yeast.".into(),
            A::MixedAtRoom { room_c } => {
                format!("Assumed: mixed as warm as the room, {room_c:.1} °C.")
            }
            A::InTub {
                dough_kg,
                time_constant_h,
                flour_assumed,
            } => format!(
                "{} {dough_kg:.1} kg of dough in a covered tub goes two thirds of the way to the room in {time_constant_h:.1} h.",
                if *flour_assumed {
                    "Assumed: 1 kg of flour."
                } else {
                    "Assumed:"
                }
            ),
            A::RecordEnds { hours_short } => format!(
                "The room record ends {hours_short:.1} h before the dough is done. The last reading stands for the rest."
            ),
            A::RecordBegins { hours_late } => format!(
                "The room record begins {hours_late:.1} h after the mix. The first reading stands for the time before."
            ),
            A::NoRange => "No range: with a little less gas than expected it never gets there.".into(),
            A::RecipeElsewhere { recipe_c } => format!(
                "The rule of thumb ignores temperature: your recipe is for {recipe_c:.1} °C, and this dough is not held there."
            ),
            A::RuleOfThumb {
                percent,
                difference_percent,
                growth,
                recipe_growth,
            } => {
                let apart = match difference_percent {
                    d if d.abs() < 0.5 => "the same".to_owned(),
                    d if *d > 0.0 => format!("{d:.0} % more"),
                    d => format!("{:.0} % less", -d),
                };
                let rule = format!(
                    "The rule of thumb dose x time = constant gives {}, {apart}.",
                    dose(*percent)
                );
                let recipe = recipe_growth.map_or(String::new(), |g| {
                    format!(" ({g:.1}-fold in your recipe)")
                });
                if difference_percent.abs() < 0.5 || *growth < 1.05 {
                    format!("{rule} In so short a time the yeast hardly multiplies.")
                } else {
                    format!(
                        "{rule} It ignores that the yeast multiplies: {growth:.1}-fold here{recipe}."
                    )
                }
            }
            A::WarmerThanTap { water_c, tap_c } => format!(
                "Warm the water to {water_c:.1} °C: the tap gives {tap_c:.1} °C. It needs no ice."
            ),
            A::NoDdtFormula => {
                "No cross-check by the DDT formula: give the friction factor or a base temperature; `friction` finds it from one mix.".into()
            }
            A::NoHeatBalance { missing } => format!(
                "No heat balance: give the {}.",
                match *missing {
                    "dough_c" => "desired dough temperature",
                    "preferment_mass_g" => "mass of the preferment with its temperature",
                    _ => "masses of flour and water",
                }
            ),
            A::NoIceMass => "For the grams of ice give the mass of water with the tap.".into(),
            A::NoTap => "For the grams of ice give the tap temperature and the mass of water.".into(),
            A::PrefermentHydration { percent } => {
                format!("Assumed: a preferment with {percent:.0} % water.")
            }
            A::FlourMoisture { percent, kj_per_kg } => format!(
                "Assumed: flour of {percent:.0} % moisture. Wetting it gives off {kj_per_kg:.1} kJ/kg."
            ),
            A::MixingHeat { kj_per_kg } => format!(
                "Assumed: a gentle planetary or spiral mix, {kj_per_kg:.0} kJ per kg of dough."
            ),
            A::Unused { field, .. } => format!(
                "The temperature of the {} is not used: give its mass too.",
                field.trim_end_matches("_c")
            ),
            A::MethodsDiffer {
                terms,
                real_rise_c,
                water_per_dough,
                hydration_rise_c,
                mixing_rise_c,
                formula_dough_c,
            } => format!(
                "The DDT formula weighs {terms} temperatures alike, so {terms} °C of water move the dough by 1 °C. It has one friction for all heat, {real_rise_c:.1} °C in the dough. The balance weighs by mass: {water_per_dough:.1} °C of water for 1 °C of dough, {hydration_rise_c:.1} °C from wetting the flour, {mixing_rise_c:.1} °C from the mixer. By the balance, the formula's water gives a dough of {formula_dough_c:.1} °C."
            ),
            A::NegativeFriction => {
                "The friction is negative: the mix would have cooled the dough. Check the readings; a cold bowl or cold yeast can do it.".into()
            }
            A::DoseFromPlan { name, stage } => {
                format!("The plan finds the dose: {name} ({stage}) counts as 0 g here.")
            }
            A::TooLittleForScale {
                name,
                stage,
                yeast_g,
                step_g,
                slurry,
            } => format!(
                "{name} ({stage}): {yeast_g:.2} g is too little for a scale of {step_g} g. {}",
                slurry.sentence()
            ),
            A::Unverified { standing, names } => format!(
                "{}: {}.",
                match standing {
                    Standing::FromMemory => "From memory, not seen in print",
                    _ => "Assumed by judgement",
                },
                names.join(", ")
            ),
            A::OwnParameters {
                name,
                title,
                source,
            } => format!("Fermentation parameters of {name}: {title} ({source})."),
            A::CarriedOver => {
                "The new file replaces the one before: what this log did not teach is carried over. A log that the old file was learned from would count twice.".into()
            }
            A::Undetermined { parameter } => format!(
                "The points do not determine {parameter}: measure at more temperatures, on both sides of the optimum."
            ),
            A::NotConverged => "The fit did not settle.".into(),
            A::NoScatter => {
                "The points lie on the curve to the last digit, so nothing tells how sure a number is.".into()
            }
            A::NoFreedom => "There are as many parameters as points: nothing is left to judge the errors by.".into(),
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
        say(format!(
            "Yeast slurry: stir {} g of yeast into {} g of the water, weigh {} g of it in, discard the rest. Pour {:.1} g less water.",
            exact(self.yeast),
            exact(self.water),
            exact(self.take),
            self.water_taken.as_grams()
        ))
    }
}

/// The codes of remarks, for tests.
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
}
