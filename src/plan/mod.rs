//! The day: stages, clock times and oven loads.
//!
//! A [`Bake`](bake::Bake) (read from its file) and one [`Anchor`] become a [`Plan`]: every stage with
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
mod keep_hour;
mod levers;
mod loads;
mod logged;
mod manual_tasks;
mod measurement;
mod mix_batches;
mod model;
mod process;
mod ranges;
mod reconcile;
mod search;
mod sensitivity;
mod trace;
mod water;
mod working_hours;

pub use adjust::{Adjusted, adjust};
pub use assemble::plan;
pub use compare::{Compared, Condition, Vary, compare};
pub use core_temperature::Core;
pub use environment::Environment;
pub use feasibility::Problem;
pub use finding::Finding;
pub use keep_hour::KeptHour;
pub use levers::Lever;
pub use logged::{LoggedStage, logged_stages, planned_stages};
pub use manual_tasks::{HandsOn, Task};
pub use measurement::{Checkpoint, Dent, Measured};
pub use model::{Anchor, Detail, Load, Occasion, Plan, PrefermentTimes, StageTime};
pub use reconcile::{Reconciled, reconcile};
pub use sensitivity::{Cause, Change, Reason};
pub use trace::{Trace, TracePoint};
pub use water::{DdtWater, MixWater};
