//! What a question assumes, and what its answer cannot tell: a code with its numbers.

use pointage::formula::yeast_slurry::Pinch;
use pointage::table::Standing;
use serde::Serialize;

/// A note or a caution about one question.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
#[allow(missing_docs)] // the names of the numbers say what they are
pub enum Assumption {
    /// The clock is put on by so many minutes during a plan; back where negative.
    ClockChanges { minutes: i32 },
    /// The hour asked for does not exist on that day; hours since midnight.
    NoSuchHour { asked_h: f64, taken_h: f64 },
    /// No kind of yeast was given.
    InstantYeast,
    /// The dough is mixed as warm as its room.
    MixedAtRoom { room_c: f64 },
    /// The dough stands in a covered tub.
    InTub {
        dough_kg: f64,
        time_constant_h: f64,
        flour_assumed: bool,
    },
    /// The record of the room ends before the dough is done.
    RecordEnds { hours_short: f64 },
    /// The record of the room begins after the mix.
    RecordBegins { hours_late: f64 },
    /// With a little less gas than expected the end point is never reached.
    NoRange,
    /// Dose x time x rate of gas making is taken as constant.
    GasCurveAlone,
    /// The working recipe is held at another temperature than the dough.
    RecipeElsewhere { recipe_c: f64 },
    /// What `dose x time = constant` gives, and how far the yeast multiplies meanwhile.
    RuleOfThumb {
        percent: f64,
        difference_percent: f64,
        growth: f64,
        recipe_growth: Option<f64>,
    },
    /// The water is to be warmed.
    WarmerThanTap { water_c: f64, tap_c: f64 },
    /// Neither friction nor base temperature.
    NoDdtFormula,
    /// The heat balance lacks a value.
    NoHeatBalance { missing: &'static str },
    /// A tap but no mass of water.
    NoIceMass,
    /// Cold water but no tap.
    NoTap,
    /// No hydration of the preferment was given.
    PrefermentHydration { percent: f64 },
    /// No moisture of the flour was given.
    FlourMoisture { percent: f64, kj_per_kg: f64 },
    /// No heat of the mixer was given.
    MixingHeat { kj_per_kg: f64 },
    /// A temperature without its mass.
    Unused {
        field: &'static str,
        without: &'static str,
    },
    /// Why the DDT formula and the heat balance differ.
    MethodsDiffer {
        terms: u8,
        real_rise_c: f64,
        water_per_dough: f64,
        hydration_rise_c: f64,
        mixing_rise_c: f64,
        formula_dough_c: f64,
    },
    /// The mix would have cooled the dough.
    NegativeFriction,
    /// Yeast whose dose the plan finds.
    DoseFromPlan { name: String, stage: &'static str },
    /// Yeast that the scale cannot weigh.
    TooLittleForScale {
        name: String,
        stage: &'static str,
        yeast_g: f64,
        step_g: f64,
        #[serde(skip)]
        slurry: Box<Pinch>,
    },
    /// Values that no publication stands behind.
    Unverified {
        standing: Standing,
        names: Vec<String>,
    },
    /// The parameters are those of a file.
    OwnParameters {
        name: String,
        title: String,
        source: String,
    },
    /// A learnt file goes on from another one.
    CarriedOver,
    /// The points do not determine a parameter.
    Undetermined { parameter: String },
    /// The fit did not settle.
    NotConverged,
    /// The points do not scatter.
    NoScatter,
    /// As many parameters as points.
    NoFreedom,
}
