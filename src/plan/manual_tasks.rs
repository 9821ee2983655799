//! The steps of a plan that need hands, in one place: hours of work, calendar and words go by this list.

use super::model::{Load, Plan};
use serde::{Deserialize, Serialize};

/// What is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Task {
    /// The preferment is mixed.
    Preferment,
    /// The preferment goes into the cold.
    PrefermentIntoCold,
    /// The preferment comes out of the cold before it is used.
    PrefermentFromCold,
    /// Flour and water are stirred together for the autolyse.
    Autolyse,
    /// The dough is mixed.
    Mix,
    /// The dough goes into the cold.
    DoughIntoCold,
    /// The dough comes out of the cold.
    DoughFromCold,
    /// The dough is folded.
    Fold,
    /// Loads are divided.
    Divide,
    /// Loads are shaped.
    Shape,
    /// Loads go into the cold or the retarder.
    IntoCold,
    /// Loads come back from there before they are baked.
    FromCold,
    /// The oven is turned on.
    Preheat,
    /// A load enters the oven.
    IntoOven,
    /// A load leaves the oven.
    FromOven,
}

/// A step that needs hands.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct HandsOn<'a> {
    /// What is done.
    pub task: Task,
    /// To which mix batch, counted from 1.
    pub batch: u32,
    /// To which loads; empty where it is the whole dough, or the oven.
    pub loads: &'a [Load],
    /// Its first hour.
    pub start_h: f64,
    /// Its last hour, or the first when it is done at once.
    pub end_h: f64,
}

impl Load {
    /// When it comes back from the retarder, if that is a step of its own and not its way to the oven.
    pub(super) fn back_h(&self) -> Option<f64> {
        let (_, to) = self.retarder_h?;
        (self.oven_in_h - to > 1.0 / 60.0).then_some(to)
    }
}

impl Plan {
    /// Neighbouring loads of its dough whose hour is the same to the minute.
    fn at_once(&self, hour: impl Fn(&Load) -> Option<f64>) -> Vec<&[Load]> {
        let minute = |load: &Load| hour(load).map(|h| (h * 60.0).round());
        let groups = self.own_loads().chunk_by(|a, b| minute(a) == minute(b));
        groups.filter(|group| hour(&group[0]).is_some()).collect()
    }

    /// All steps that need hands, by their hour.
    pub fn hands_on(&self) -> Vec<HandsOn<'_>> {
        let batches = (1..).zip(self.batches());
        let steps = batches.flat_map(|(batch, dough)| dough.hands_on_dough(batch));
        let mut steps: Vec<_> = steps.collect();
        // To the second: what happens at once stays in the order of the work.
        let second = |step: &HandsOn<'_>| (step.start_h * 3600.0).round();
        steps.sort_by(|a, b| second(a).total_cmp(&second(b)));
        steps
    }

    /// Those of one mix batch.
    fn hands_on_dough(&self, batch: u32) -> Vec<HandsOn<'_>> {
        let mut steps = Vec::new();
        let mut add = |task, loads, start_h, end_h| {
            steps.push(HandsOn {
                task,
                batch,
                loads,
                start_h,
                end_h,
            });
        };
        let none: &[Load] = &[];
        let mut in_tub = true;
        for stage in &self.stages {
            let (from, to) = (stage.start_h, stage.end_h);
            match stage.name {
                "preferment" => add(Task::Preferment, none, from, from),
                "autolyse" => add(Task::Autolyse, none, from, from),
                "mix" => add(Task::Mix, none, from, to),
                "cold" if in_tub => {
                    add(Task::DoughIntoCold, none, from, from);
                    add(Task::DoughFromCold, none, to, to);
                }
                // What comes after is told of each load.
                "divide" | "rest" | "shape" => in_tub = false,
                _ => {}
            }
        }
        if let Some((own, (into, out))) =
            self.preferment.as_ref().and_then(|p| Some((p, p.cold_h?)))
        {
            add(Task::PrefermentIntoCold, none, into, into);
            // Straight from the cold it is fetched for the mix.
            if own.used_h - out > 1.0 / 60.0 {
                add(Task::PrefermentFromCold, none, out, out);
            }
        }
        for &hour in &self.folds_h {
            add(Task::Fold, none, hour, hour);
        }
        type Hour = fn(&Load) -> Option<f64>;
        let each: [(Task, &str, Hour); 4] = [
            (Task::Divide, "divide", |l| Some(l.divide_h)),
            (Task::Shape, "shape", |l| Some(l.shape_h)),
            (Task::IntoCold, "", |l| l.retarder_h.map(|c| c.0)),
            (Task::FromCold, "", Load::back_h),
        ];
        for (task, stage, hour) in each {
            let length = match self.stage(stage) {
                Some(stage) => stage.hours(),
                None if stage.is_empty() => 0.0,
                // What takes no time is no step.
                None => continue,
            };
            for group in self.at_once(hour) {
                let from = hour(&group[0]).unwrap_or_default();
                add(task, group, from, from + length);
            }
        }
        if let Some(hour) = self.preheat_h {
            add(Task::Preheat, none, hour, hour);
        }
        for load in self.own_loads().chunks(1) {
            let (into, out) = (load[0].oven_in_h, load[0].oven_out_h);
            add(Task::IntoOven, load, into, into);
            add(Task::FromOven, load, out, out);
        }
        steps
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn load(number: u32, retarder_h: Option<(f64, f64)>, oven_in_h: f64) -> Load {
        Load {
            number,
            batch: 1,
            pieces: 4,
            divide_h: 1.0,
            shape_h: 2.0,
            waits_h: [0.0; 3],
            retarder_h,
            oven_in_h,
            oven_out_h: oven_in_h + 0.5,
            ripeness: 1.0,
            dough_c: 20.0,
            in_window: true,
            first_ripeness: 1.0,
            ripeness_range: None,
            past_chance: None,
        }
    }

    /// A load that goes from the cold into the oven is not fetched before.
    #[test]
    fn what_comes_back_before_the_oven_is_a_step() {
        assert_eq!(load(1, None, 6.0).back_h(), None);
        assert_eq!(load(1, Some((3.0, 5.0)), 6.0).back_h(), Some(5.0));
        assert_eq!(load(1, Some((3.0, 6.0)), 6.0).back_h(), None);
        assert_eq!(load(1, Some((3.0, 5.99)), 6.0).back_h(), None);
        assert_eq!(load(1, Some((3.0, 5.98)), 6.0).back_h(), Some(5.98));
    }
}
