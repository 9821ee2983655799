//! The answer of `adjust`: the plan before and after what was measured.

use super::plan::{PlanAnswer, plan, remarks};
use super::sentences::Remark;
use pointage::error::Result;
use pointage::plan::Adjusted;
use pointage::plan::bake::Bake;
use serde::Serialize;

/// Both plans under the keys of `plan`, their times in text or as `T`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct AdjustAnswer<T = String> {
    /// As it was.
    pub before: PlanAnswer<T>,
    /// As it is now.
    pub after: PlanAnswer<T>,
    /// The oven's hour kept, where something still keeps it.
    pub kept: Option<KeptAnswer<T>>,
    /// What to do first.
    pub now: Option<Remark>,
    /// What changed, one for each measurement.
    pub changes: Vec<Remark>,
    /// What to do.
    pub advice: Vec<Remark>,
    /// The water that helps another day.
    pub next_time: Option<Remark>,
    /// When the dough comes out of the cold because it is done there before its time.
    pub out_of_cold: Option<T>,
    /// What to look out for now.
    pub warnings: Vec<Remark>,
}

/// A plan that keeps the oven's hour.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct KeptAnswer<T = String> {
    /// What to do for it.
    pub ways: Vec<Remark>,
    /// The rest of the day.
    pub plan: PlanAnswer<T>,
}

/// The answer for an adjusted plan; `clock` writes an hour of the plan's clock, or leaves it as the number
/// it is.
///
/// # Errors
/// None for a plan that [`adjust`](pointage::plan::adjust) has made.
pub fn adjust<T>(
    bake: &Bake,
    adjusted: &Adjusted,
    clock: &dyn Fn(f64) -> T,
) -> Result<AdjustAnswer<T>> {
    let kept = adjusted.kept.as_ref().map(|kept| {
        Ok(KeptAnswer {
            ways: remarks(&kept.ways),
            plan: plan(bake, &kept.plan, clock)?,
        })
    });
    Ok(AdjustAnswer {
        kept: kept.transpose()?,
        now: adjusted.now.clone().map(Remark::from),
        next_time: adjusted.next_time.clone().map(Remark::from),
        before: plan(bake, &adjusted.before, clock)?,
        after: plan(bake, &adjusted.after, clock)?,
        changes: remarks(&adjusted.changes),
        advice: remarks(&adjusted.advice),
        out_of_cold: adjusted.out_of_cold_h.map(clock),
        warnings: remarks(&adjusted.after.warnings),
    })
}
