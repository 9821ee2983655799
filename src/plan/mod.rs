//! The day: stages, clock times and oven loads.
//!
//! A [`Bake`] (read from its file) and one [`Anchor`] become a [`Plan`]: every stage with
//! its hours and dough temperatures, every load with its hour in the oven. Hours are counted on the
//! plan's clock from midnight of the anchor's day; the evening before is negative. The library knows
//! no time zone: whoever shows the plan turns its hours into clock times.

mod adjust;
mod assemble;
pub mod bake;
mod compare;
mod core_temperature;
mod environment;
mod equipment;
mod feasibility;
mod finding;
mod loads;
mod manual_tasks;
mod measurement;
mod model;
mod process;
mod ranges;
mod search;
mod sensitivity;
mod trace;
mod water;
mod working_hours;

pub use adjust::{Adjusted, adjust};
pub use compare::{Compared, Condition, Vary, compare};
pub use core_temperature::Core;
pub use environment::Environment;
pub use feasibility::Problem;
pub use finding::Finding;
pub use manual_tasks::{HandsOn, Task};
pub use measurement::{Checkpoint, Measured};
pub use model::{Anchor, Detail, Load, Plan, PrefermentTimes, StageTime};
pub use sensitivity::{Cause, Change, Reason};
pub use trace::{Trace, TracePoint};
pub use water::{DdtWater, MixWater};

use crate::error::Result;
use crate::ferment::Parameters;
use bake::Bake;
use process::DoughProcess;

/// Plans a bake, with more or less detail.
///
/// # Errors
/// Bad input; [`Error::Unreachable`](crate::Error::Unreachable) where dough or preferment never get ready. A load outside its
/// window, or one that rests too long, is no error: the plan is given with its [`Problem`].
///
/// ```
/// use pointage::ambient::Ambient;
/// use pointage::ferment::Parameters;
/// use pointage::plan::{Anchor, Detail, bake::Bake, plan};
/// let bake = Bake::from_toml(r#"
///     format = 1
///     name = "Two batches of hearth loaves"
///     [formula]
///     pieces = 12
///     piece_g = 800
///     hydration_percent = 68
///     yeast_percent = 0.4
///     [kitchen]
///     room_c = 22
///     [process]
///     dough_c = 25
///     [oven]
///     pieces_per_load = 6
///     bake_min = 40
/// "#)?;
/// let places = bake.places(|file| Err(pointage::Error::NotFinite { what: file.into() }))?;
/// let plan = plan(&bake, &places, Anchor::FirstOut(7.5), &Parameters::shipped()?, Detail::default())?;
/// assert_eq!(plan.loads.len(), 2);
/// assert!((plan.loads[0].oven_out_h - 7.5).abs() < 1e-6);
/// assert!(plan.problem.is_none());
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn plan(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
    detail: Detail,
) -> Result<Plan> {
    let (rooms, timeline) = search::timeline(bake, places, anchor, p)?;
    let process = DoughProcess::new(bake, p, &rooms)?;
    let mut plan = assemble::plan(&process, &timeline, detail)?;
    plan.problem = feasibility::problem(&process, &plan, places, anchor)?;
    Ok(plan)
}
