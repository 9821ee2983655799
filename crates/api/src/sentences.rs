//! The sentences: every finding in a baker's words, and nowhere else.
//!
//! A finding is a code with its numbers. What a person reads of it is a [`Message`], which can be shown and
//! serialised and nothing else, so that no code can come to depend on its wording.

use crate::assumption::Assumption;
use crate::steps::{Action, Loads, Look, Slurry};
use pointage::error::{Error, ErrorKind, shown};
use pointage::formula::yeast_slurry::Pinch;
#[cfg(feature = "learn")]
use pointage::learn::{fit, friction};
use pointage::plan::{self, BetterPlace, Change, Problem, Task, TaskHours};
use pointage::table::Standing;
use pointage::units::Mass;
use pointage::{ferment, heat};
use serde::{Serialize, Serializer};
use std::fmt;

/// Chance of over-proofing from which on it is said: below, it is much the same for every load.
const WORTH_A_WORD: f64 = 0.35;

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
    /// Of a plan.
    Plan(plan::Finding),
    /// Of water and dough.
    Heat(heat::Caution),
    /// Of a dough beyond the published recipes.
    Ferment(ferment::Caution),
    /// Of a baker's log.
    #[cfg(feature = "learn")]
    Learn(fit::Diagnostic),
    /// Of a log of mixes.
    #[cfg(feature = "learn")]
    Friction(friction::FrictionDiagnostic),
}

macro_rules! finding {
    ($($(#[$when:meta])? $variant:ident($of:ty);)*) => {
        $($(#[$when])?
        impl From<$of> for Finding {
            fn from(finding: $of) -> Self {
                Self::$variant(finding)
            }
        })*
    };
}
finding! {
    Assumption(Assumption);
    Plan(plan::Finding);
    Heat(heat::Caution);
    Ferment(ferment::Caution);
    #[cfg(feature = "learn")] Learn(fit::Diagnostic);
    #[cfg(feature = "learn")] Friction(friction::FrictionDiagnostic);
}

impl From<Error> for Finding {
    fn from(error: Error) -> Self {
        Self::Error {
            code: error.kind(),
            error: Box::new(error),
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
            Self::Plan(finding) => finding.sentence(),
            Self::Heat(caution) => caution.sentence(),
            Self::Ferment(caution) => caution.sentence(),
            #[cfg(feature = "learn")]
            Self::Learn(finding) => say(fit::sentences::diagnostic(finding)),
            #[cfg(feature = "learn")]
            Self::Friction(finding) => say(fit::sentences::friction(finding)),
        }
    }
}

impl Sentence for Assumption {
    fn sentence(&self) -> Message {
        use Assumption as A;
        say(match self {
            A::ClockChanges { minutes } => format!(
                "The clock goes {} by {} min during this plan: later times are by the new clock.",
                if *minutes < 0 { "back" } else { "forward" },
                minutes.abs()
            ),
            A::NoSuchHour { asked_h, taken_h } => format!(
                "There is no {} on that day, because the clock goes forward: {} is taken.",
                clock(*asked_h),
                clock(*taken_h)
            ),
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
impl Sentence for Change {
    fn sentence(&self) -> Message {
        say(match self {
            Self::WarmerDough => "dough 1 °C warmer off the mixer",
            Self::WarmerRoom => "room 1 °C warmer",
            Self::MoreYeastAtMix => "10 % more yeast at the mix",
            Self::MoreYeastInPreferment => "10 % more yeast in the preferment",
            _ => "another change",
        })
    }
}

impl Sentence for Problem {
    fn sentence(&self) -> Message {
        let all = self.findings.iter().chain([&self.nearest]);
        let all: Vec<String> = all.map(|f| f.sentence().to_string()).collect();
        say(all.join(" "))
    }
}

impl Sentence for plan::Finding {
    fn sentence(&self) -> Message {
        let said = of_equipment(self)
            .or_else(|| of_times(self))
            .or_else(|| of_fit(self))
            .or_else(|| of_measurement(self));
        say(said.unwrap_or_default())
    }
}

fn of_equipment(finding: &plan::Finding) -> Option<String> {
    use plan::Finding as F;
    Some(match finding {
        F::ExtraPreferment { all_g, own_g } => format!(
            "Make {all_g:.0} g of preferment in all: {own_g:.0} g for this dough and {:.0} g for the other.",
            all_g - own_g
        ),
        F::SmallMixer {
            mixer_kg,
            mixes,
            mix_kg,
            first_older_min,
        } => format!(
            "Make {mixes:.0} mixes of {mix_kg:.1} kg: the mixer takes {mixer_kg:.1} kg. Begin the first one {first_older_min:.0} min earlier and bake it first; the plan's times are those of the last one. From the second mix on the bowl is warm: measure, and make the water a little colder."
        ),
        F::SmallTub { needed_l, tub_l } => format!(
            "Use a larger tub, or two: the dough rises to about {needed_l:.0} L, and the tub holds {tub_l:.0} L."
        ),
        F::FullBoards { capacity, pieces } => format!(
            "Find room, or make two doughs: the boards hold {capacity} pieces, and {pieces} stand there at one time."
        ),
        F::FullRetarder { capacity, pieces } => format!(
            "Find room, or make two doughs: the retarder holds {capacity} pieces, and {pieces} stand there at one time."
        ),
        F::FastHands {
            task,
            pieces,
            length_min,
            piece_s,
        } => {
            let key = match task {
                Task::Divide => "divide_s_per_piece",
                _ => "shape_s_per_piece",
            };
            format!(
                "Give {key}: {} {pieces} pieces in {length_min:.0} min leaves {piece_s:.1} s for each.",
                doing(*task)
            )
        }
        _ => return None,
    })
}

fn of_times(finding: &plan::Finding) -> Option<String> {
    use plan::Finding as F;
    Some(match finding {
        F::FirstLoadEarly { ripeness } => format!(
            "The first load enters the oven at {:.0} % of its proof, so that the last one is still in its window.",
            100.0 * ripeness
        ),
        F::OutsideWorkingHours {
            outside,
            steps,
            from_h,
            until_h,
            tasks,
            shift_h,
            first_out_h,
            cold,
        } => {
            let remedy = match (shift_h, first_out_h) {
                (Some(by), Some(out)) => format!(
                    "Move everything {} {} (first load out at {}) to bring all inside.",
                    length(by.abs()),
                    if *by > 0.0 { "later" } else { "earlier" },
                    clock(*out)
                ),
                _ if *cold => "No shift of the whole plan helps. Change hours in [cold], bulk or proof temperatures, or ripe_after_h.".into(),
                _ => "No shift of the whole plan helps. Change ripe_after_h, bulk or proof temperatures, or put a night in the cold ([cold]).".into(),
            };
            format!(
                "{outside} of {steps} hands-on steps {} outside your working hours, {} to {}. They are: {}. {remedy}",
                if *outside == 1 { "falls" } else { "fall" },
                clock(*from_h),
                clock(*until_h),
                list(tasks.iter().map(task_hours), "; ")
            )
        }
        F::LateFolds { folds: 1 } => "The plan leaves out 1 fold: the bulk ends before it.".into(),
        F::LateFolds { folds } => {
            format!("The plan leaves out {folds} folds: the bulk ends before them.")
        }
        F::UnusualBulk { doubled_percent } => format!(
            "Check the end of the bulk: it makes {doubled_percent:.0} % of the gas that doubles a dough."
        ),
        F::ShortRecord => {
            "The room record does not cover the whole plan. Its first and last reading stand for the rest.".into()
        }
        F::NoWater { why } => format!("One way to the water has no answer: {why}."),
        F::Water {
            for_preferment,
            caution,
        } => format!(
            "Water of the {}: {}",
            if *for_preferment { "preferment" } else { "dough" },
            caution.sentence()
        ),
        F::InstantYeast { caution } | F::WarmDough { caution } => caution.sentence().0,
        F::BeyondRecipes { caution } => caution.sentence().0,
        F::ColdDough { dough_c } => format!(
            "Trust these hours less: the dough cools to {dough_c:.0} °C outside the cold. No published recipe of a straight dough is as cold."
        ),
        F::ShortProof { proof_min } => format!(
            "The proof takes only {proof_min:.0} min: most of it happens on the bench. Shape earlier, or use less yeast or a cooler dough."
        ),
        F::NoProof => {
            "No time is left for a final proof: the pieces are ready when they are shaped or leave the cold. Use less yeast, a cooler dough, or less time.".into()
        }
        F::UnevenLoads {
            loads,
            first_ripeness,
            last_ripeness,
        } => {
            let [first, last] = [first_ripeness, last_ripeness].map(|share| 100.0 * share);
            format!(
                "Shape faster, or in two goes: {} {} not all inside the window. In load {} the first piece is at {first:.0} % of its proof, the last at {last:.0} %.",
                load_names(loads),
                if loads.len() == 1 { "is" } else { "are" },
                loads.first().copied().unwrap_or(1)
            )
        }
        _ => return None,
    })
}

fn of_fit(finding: &plan::Finding) -> Option<String> {
    use plan::Finding as F;
    let capital = |text: String| text.replacen('l', "L", 1);
    Some(match finding {
        F::OutsideWindow {
            loads,
            of,
            ripeness,
            window_open,
            window_close,
        } => format!(
            "{} of {of} would enter the oven at up to {:.0} % of the proof. The window is {:.0} to {:.0} %.",
            capital(load_names(loads)),
            100.0 * ripeness,
            100.0 * window_open,
            100.0 * window_close
        ),
        F::LongRest {
            loads,
            of,
            rest_min,
            most_min,
        } => format!(
            "{} of {of} would rest up to {rest_min:.0} min until your hands are free. That is longer than bench_rest_max_min, {most_min:.0} min.",
            capital(load_names(loads))
        ),
        F::HoldLaterLoads {
            shape_later,
            divide_later,
            retarder_c,
        } => {
            let steps = [
                shape_later.then(|| "shape the later loads later".to_owned()),
                divide_later.then(|| "divide the later loads later".to_owned()),
                retarder_c.map(|c| format!("hold the later loads at {c:.0} °C after shaping")),
            ];
            let retarder = retarder_c.map(|c| format!("\"retarder\" (retarder_c = {c:.0})"));
            let ways = [
                shape_later.then(|| "\"shape-later\"".to_owned()),
                divide_later.then(|| "\"divide-later\"".to_owned()),
                retarder,
            ];
            format!(
                "It works if you {}. Add {} to hold_later_loads.",
                list(steps.into_iter().flatten(), " and "),
                list(ways.into_iter().flatten(), " and ")
            )
        }
        F::LessYeast {
            yeast_percent,
            given_percent,
        } => format!(
            "It works with less yeast and an earlier start: yeast_percent = {yeast_percent:.3} in place of {given_percent}."
        ),
        F::SeveralDoughs {
            doughs,
            loads,
            pieces,
            every_min,
        } => format!(
            "It works as {doughs} doughs of at most {loads} {} ({pieces} pieces) each. Begin each one {} after the one before.",
            if *loads == 1 { "load" } else { "loads" },
            length(every_min / 60.0)
        ),
        F::LongerRest { rest_min } => format!(
            "It works if the pieces may rest {rest_min:.0} min (bench_rest_max_min), or with more hands at the shaping."
        ),
        F::NoNearPlan => {
            "No plan near this one works. Use less yeast, a colder dough or a colder proof place."
                .into()
        }
        _ => return None,
    })
}

fn of_measurement(finding: &plan::Finding) -> Option<String> {
    use plan::Finding as F;
    let than = |minutes: f64| if minutes < 0.0 { "earlier" } else { "later" };
    let warmer = |c: f64| if c > 0.0 { "warmer" } else { "colder" };
    Some(match finding {
        F::UnripeAsForecast => "The preferment is not ripe yet, as forecast.".into(),
        F::PrefermentUsed { later_min } if later_min.abs() < 0.5 => {
            "The preferment is used when it was forecast.".into()
        }
        F::PrefermentUsed { later_min } => format!(
            "The preferment is used {} {} than forecast.",
            minutes(*later_min),
            than(*later_min)
        ),
        F::DoughOffMixer { warmer_c } if warmer_c.abs() < 0.05 => {
            "The dough came off the mixer as warm as planned.".into()
        }
        F::DoughOffMixer { warmer_c } => format!(
            "The dough came off the mixer {:.1} °C {} than planned.",
            warmer_c.abs(),
            warmer(*warmer_c)
        ),
        F::RiseTooSmall {
            ratio,
            forecast_ratio,
        } => format!(
            "A {ratio:.2}-fold rise, where {forecast_ratio:.2} was forecast, is too small to show the dough's speed. Its water still takes up the gas."
        ),
        F::DoughSpeed {
            ratio,
            forecast_ratio,
            speed_percent,
        } => format!(
            "The dough has risen {ratio:.2}-fold where {forecast_ratio:.2} was forecast: it works {speed_percent:.0} % as fast."
        ),
        F::WaterNextTime { warmer_c, dough_c } => format!(
            "Next time, pour the water {:.1} °C {}, for a dough of {dough_c:.1} °C.",
            warmer_c.abs(),
            warmer(*warmer_c)
        ),
        F::MeasureAgain { wait_min } => {
            format!("Measure the rise again in {}.", minutes(*wait_min))
        }
        F::WaitForPreferment { wait_min } => format!(
            "Wait: at this pace the preferment is ripe in {}. The times below wait for it.",
            minutes(*wait_min)
        ),
        F::AddYeast {
            yeast_g,
            kind,
            bulk_min,
            at_once,
        } => format!(
            "Or {} {yeast_g:.1} g more {kind} yeast at the mix: the bulk then keeps its {}.",
            if *at_once { "go on now with" } else { "add" },
            minutes(*bulk_min)
        ),
        F::GoOnUnripe => {
            "Or go on now as it is, and give the bulk longer. Look at the dough, not the clock."
                .into()
        }
        F::UsePrefermentNow {
            bulk_min,
            planned_min,
        } => format!(
            "Use the preferment now: it is past its best. With all of it the bulk takes {}, where {} were planned.",
            minutes(*bulk_min),
            minutes(*planned_min)
        ),
        F::UseLessPreferment {
            less_g,
            less_percent,
            flour_g,
            water_g,
        } => format!(
            "Or, if it smells sharp or runs, use {less_g:.0} g ({less_percent:.0} %) less of it. Add {flour_g:.0} g of flour and {water_g:.0} g of water at the mix: it then brings the planned yeast."
        ),
        F::EndColdSooner { sooner_min } => format!(
            "Take the dough out of the cold {} earlier than planned: it is done before its time there is over.",
            minutes(*sooner_min)
        ),
        F::Divide { later_min, or_keep } => format!(
            "Divide {} {} than planned{}.",
            minutes(*later_min),
            than(*later_min),
            match or_keep {
                Some(BetterPlace::Retarder) => ", or keep the dough in a retarder",
                Some(_) => ", or keep the dough in a warmer place",
                None => "",
            }
        ),
        F::HoldLoads { loads } => format!(
            "Divide or shape {} later, or hold cold: otherwise the oven comes outside the window.",
            load_names(loads)
        ),
        _ => return None,
    })
}

fn list(items: impl Iterator<Item = String>, between: &str) -> String {
    items.collect::<Vec<_>>().join(between)
}

/// `load 2`, `loads 2 to 4, 6`.
fn load_names(loads: &[u32]) -> String {
    let runs = loads.chunk_by(|a, b| a + 1 == *b).map(|run| match run {
        [one] => one.to_string(),
        run => format!("{} to {}", run[0], run[run.len() - 1]),
    });
    let name = if loads.len() == 1 { "load" } else { "loads" };
    format!("{name} {}", list(runs, ", "))
}

/// Most hours of one task that are named one by one.
const FEW: usize = 3;

/// A task with its hours, or with their number and span.
fn task_hours(TaskHours { task, hours, .. }: &TaskHours) -> String {
    match hours.as_slice() {
        [first, .., last] if hours.len() > FEW => format!(
            "{} {} times from {} to {}",
            doing(*task),
            hours.len(),
            clock(*first),
            clock(*last)
        ),
        hours => {
            let hours = list(hours.iter().map(|&h| clock(h)), ", ");
            format!("{} at {hours}", doing(*task))
        }
    }
}

fn doing(task: Task) -> &'static str {
    match task {
        Task::Preferment => "mixing the preferment",
        Task::Autolyse => "flour and water",
        Task::Mix => "mixing",
        Task::DoughIntoCold => "dough into the cold",
        Task::DoughFromCold => "dough out of the cold",
        Task::Fold => "folding",
        Task::Divide => "dividing",
        Task::Shape => "shaping",
        Task::IntoCold => "loads into the cold",
        Task::FromCold => "loads back from the cold",
        Task::Preheat => "turning on the oven",
        Task::IntoOven => "loads into the oven",
        Task::FromOven => "loads out of the oven",
        _ => "another step",
    }
}

fn clock(hour: f64) -> String {
    let minutes = (hour * 60.0).round().rem_euclid(1440.0);
    format!("{:02.0}:{:02.0}", (minutes / 60.0).floor(), minutes % 60.0)
}

/// A length without its sign.
fn minutes(minutes: f64) -> String {
    length(minutes.abs() / 60.0)
}

/// `85 min`; above 90 minutes `1 h 53`.
fn length(hours: f64) -> String {
    let minutes = (hours * 60.0).round();
    if minutes <= 90.0 {
        format!("{minutes:.0} min")
    } else {
        format!("{:.0} h {:02.0}", (minutes / 60.0).floor(), minutes % 60.0)
    }
}
impl Sentence for Action {
    fn sentence(&self) -> Message {
        Message(match self {
            Self::MixPreferment { preferment } => format!("Mix the {preferment}"),
            Self::Autolyse { min } => format!("Autolyse {min:.0} min"),
            Self::Mix { min } => format!("Mix the dough {min:.0} min"),
            Self::DoughIntoCold => "Dough into the cold".into(),
            Self::DoughOutOfCold => "Dough out of the cold".into(),
            Self::Fold { of: 1, .. } => "Fold".into(),
            Self::Fold { number, of } => format!("Fold {number} of {of}"),
            Self::Divide { loads } => format!("Divide and pre-shape{}", loads.unless_all()),
            Self::BenchRest { min } => format!("Bench rest {min:.0} min"),
            Self::Shape { loads } => format!("Shape{}", loads.unless_all()),
            Self::IntoRetarder { loads } => format!("{} into the retarder", capital(loads)),
            Self::OutOfRetarder { loads } => format!("{} out of the retarder", capital(loads)),
            Self::Preheat => "Turn on the oven".into(),
            Self::LoadIn { load } => format!("Load {load} into the oven"),
            Self::LoadOut { load } => format!("Load {load} out of the oven"),
            Self::Cool => "Cool enough to pack".into(),
        })
    }
}

impl Sentence for Look {
    fn sentence(&self) -> Message {
        Message(match *self {
            Self::Dough { dough_c } => format!("dough at {} °C", shown(tenth(dough_c))),
            Self::Risen { of_doubled } => {
                format!("risen {:.0} % of the way to doubled", 100.0 * of_doubled)
            }
            Self::Proofed {
                share, in_window, ..
            } if !in_window => {
                format!("OUTSIDE its window: {:.0} % of its proof", 100.0 * share)
            }
            Self::Proofed { past_chance, .. } => match past_chance {
                Some(chance) if chance >= WORTH_A_WORD => format!(
                    "a dent springs back slowly; {:.0} in 10 chance of over-proofing",
                    10.0 * chance
                ),
                _ => "a dent springs back slowly".into(),
            },
        })
    }
}

impl Sentence for Slurry {
    fn sentence(&self) -> Message {
        Message(format!(
            "Yeast slurry for the {}: stir {} g of yeast into {} g of water, weigh {} g of it in, discard the rest (the water on the list is already reduced).",
            self.goes_into,
            shown(self.yeast_g),
            shown(self.water_g),
            shown(self.weigh_in_g)
        ))
    }
}

impl Loads {
    /// ` load 2`; nothing where it is the whole bake.
    fn unless_all(self) -> String {
        if self.last - self.first + 1 == self.of {
            String::new()
        } else {
            format!(" {self}")
        }
    }
}

impl fmt::Display for Loads {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { first, last, .. } = self;
        match last - first {
            0 => write!(f, "load {first}"),
            1 => write!(f, "loads {first} and {last}"),
            _ => write!(f, "loads {first} to {last}"),
        }
    }
}

fn capital(loads: &Loads) -> String {
    loads.to_string().replacen('l', "L", 1)
}

fn tenth(value: f64) -> f64 {
    (10.0 * value).round() / 10.0
}

impl Sentence for heat::Caution {
    fn sentence(&self) -> Message {
        use heat::Caution as C;
        Message(match *self {
            C::WaterBelowFreezing { water_c } => format!(
                "The water at {water_c:.1} °C needs ice: put flaked or crushed ice in first. The last of it melts in the dough."
            ),
            C::WaterBelowChiller { water_c, coldest_c } => format!(
                "The water at {water_c:.1} °C needs ice: a water chiller gives {coldest_c:.0} °C at best."
            ),
            C::WaterKillsYeast { water_c, warmest_c } => format!(
                "Blend the yeast into the flour first: water at {water_c:.1} °C kills bare yeast (above {warmest_c:.0} °C). Warmer flour needs less hot water."
            ),
            C::InstantYeastInColdWater { coldest_c } => format!(
                "Blend instant yeast into the flour first: keep it off ice and off water below {coldest_c:.0} °C."
            ),
            C::WarmDough { dough_c, warmest_c } => format!(
                "A dough at {dough_c:.1} °C will run ahead of every table: published wheat doughs end at {warmest_c:.0} °C."
            ),
            C::HotDough { dough_c, warmest_c } => format!(
                "Do not rely on these hours: above {warmest_c:.0} °C yeast slows and dies in time. The dough is at {dough_c:.1} °C."
            ),
            _ => String::new(),
        })
    }
}

impl Sentence for ferment::Caution {
    fn sentence(&self) -> Message {
        use ferment::Caution as C;
        let name = |kind: &ferment::Kind| match kind {
            ferment::Kind::OldDough | ferment::Kind::Dough => "straight dough",
            kind => kind.name(),
        };
        let (name, what, limit) = match self {
            C::ColderThanPublished { kind, coldest_c } => {
                (name(kind), "is as cold", format!("coldest: {coldest_c} °C"))
            }
            C::WarmerThanPublished { kind, warmest_c } => {
                (name(kind), "is as warm", format!("warmest: {warmest_c} °C"))
            }
            C::LessYeastThanPublished {
                kind,
                least_percent,
            } => (
                name(kind),
                "takes as little yeast",
                format!("least: {least_percent} %, as fresh"),
            ),
            C::MoreYeastThanPublished { kind, most_percent } => (
                name(kind),
                "takes as much yeast",
                format!("most: {most_percent} %, as fresh"),
            ),
            _ => return Message(String::new()),
        };
        Message(format!(
            "No published recipe of a {name} {what} ({limit}): trust this answer less."
        ))
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
        };
        let slurry = Slurry {
            goes_into: "poolish",
            yeast_g: 5.0,
            water_g: 22.0,
            weigh_in_g: 20.0,
        };
        let said: [(&dyn Sentence, &str); 9] = [
            (&Action::Fold { number: 1, of: 1 }, "Fold"),
            (&Action::Fold { number: 2, of: 3 }, "Fold 2 of 3"),
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
            (C::WaterBelowFreezing { water_c: -4.0 }, "needs ice"),
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
        use ferment::{Caution as C, Kind};
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
        ] {
            let said = caution.sentence().to_string();
            assert!(said.contains(words), "{said}");
        }
    }
}
