//! The answer of `compare`: one condition varied, a row for each of its values.

use super::sentences::{Remark, Sentence};
use pointage::plan::{Compared, Condition, Plan, StageTime};
use pointage::units::Temperature;
use serde::Serialize;

/// A bake under several values of a condition, its times in text or as `T`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct CompareAnswer<T = String> {
    /// What varies.
    pub condition: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// A row for each value.
    pub rows: Vec<CompareRow<T>>,
    /// Always empty; what a row has to say is in its `why`.
    pub warnings: Vec<Remark>,
    /// What to know.
    pub notes: Vec<Remark>,
}

/// A bake under one value. What the bake does not have is null; where there is no plan, all but the first
/// and the last two.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct CompareRow<T = String> {
    /// The value, in the unit of the condition.
    pub value: f64,
    /// Water to pour, °C.
    pub water_c: Option<f64>,
    /// Ice in it, g.
    pub ice_g: Option<f64>,
    /// Yeast of the preferment, % of its own flour.
    pub preferment_dose_percent: Option<f64>,
    /// Yeast weighed at the mix, % of all flour.
    pub yeast_percent: Option<f64>,
    /// Time of the preferment until it is ripe.
    pub preferment_h: Option<f64>,
    /// Time of the bulk.
    pub bulk_h: Option<f64>,
    /// Time of the proof.
    pub proof_h: Option<f64>,
    /// Work begins.
    pub start: Option<T>,
    /// The first load leaves the oven.
    pub first_out: Option<T>,
    /// True when every load enters the oven inside its window.
    pub feasible: bool,
    /// Why there is no plan, or what in it does not fit.
    pub why: Option<String>,
}

/// The answer for a condition; `clock` writes an hour of the plan's clock, or leaves it as the number it is.
#[must_use]
pub fn compare<T>(
    condition: Condition,
    compared: &[Compared],
    clock: &dyn Fn(f64) -> T,
) -> CompareAnswer<T> {
    let yeast = condition == Condition::Yeast;
    let unit = if yeast { "%" } else { "°C" };
    CompareAnswer {
        condition: condition.name(),
        unit,
        rows: compared.iter().map(|c| row(c, clock)).collect(),
        warnings: Vec::new(),
        notes: Vec::new(),
    }
}

fn row<T>(compared: &Compared, clock: &dyn Fn(f64) -> T) -> CompareRow<T> {
    let plan = compared.plan.as_ref();
    let of = |f: &dyn Fn(&Plan) -> Option<f64>| plan.ok().and_then(f);
    let proof_h = |plan: &Plan| plan.stage("proof").map(StageTime::hours);
    // A bulk in the cold is three stages; the cold of shaped pieces comes after dividing.
    let bulk_h = |plan: &Plan| {
        let stages = plan.stages.iter().take_while(|s| s.name != "divide");
        let parts = stages.filter(|s| ["bulk", "cold", "warm up"].contains(&s.name));
        parts.map(StageTime::hours).reduce(|a, b| a + b)
    };
    CompareRow {
        value: compared.value,
        water_c: of(&|p| p.water.pour_temperature().map(Temperature::as_celsius)),
        ice_g: of(&|p| p.water.pour.map(|pour| pour.ice.as_grams())),
        preferment_dose_percent: of(&|p| p.preferment.as_ref().map(|f| f.dose.as_percent())),
        yeast_percent: of(&|p| Some(p.yeast_at_mix.as_percent())),
        preferment_h: of(&|p| p.preferment.as_ref().map(|f| f.ripe_h - f.mixed_h)),
        bulk_h: of(&bulk_h),
        proof_h: of(&proof_h),
        start: of(&|p| p.stages.first().map(|s| s.start_h)).map(clock),
        first_out: of(&|p| p.loads.first().map(|l| l.oven_out_h)).map(clock),
        feasible: plan.is_ok_and(|p| p.problem.is_none()),
        why: match plan {
            Ok(plan) => plan.problem.as_ref().map(|p| p.sentence().to_string()),
            Err(why) => Some(why.clone()),
        },
    }
}
