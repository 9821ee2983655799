//! The day of a bake, told once: one list of steps, from which text, sheet, calendar and JSON are made.

use crate::sentences::{Message, Sentence};
use pointage::error::Result;
use pointage::formula::{Ingredient, MixStage, Role, yeast_slurry};
use pointage::heat::ice::Pour;
use pointage::plan::bake::{Bake, Joins, Room};
use pointage::plan::{Dent, Finding, HandsOn, Load, MixWater, Plan, StageTime, Task};
use pointage::units::Mass;
use serde::Serialize;

/// A fridge move so near to another step needs no alarm of its own, h.
const SAME_WALK_H: f64 = 10.0 / 60.0;

/// What is done, under a code that stays.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
#[allow(missing_docs)] // the names say all; `min` is a length in minutes
pub enum Action {
    MixPreferment {
        preferment: &'static str,
    },
    PrefermentIntoCold {
        preferment: &'static str,
    },
    PrefermentOutOfCold {
        preferment: &'static str,
    },
    Autolyse {
        min: f64,
        of_batch: OfBatch,
    },
    Mix {
        min: f64,
        of_batch: OfBatch,
    },
    DoughIntoCold {
        of_batch: OfBatch,
    },
    DoughOutOfCold {
        of_batch: OfBatch,
    },
    Fold {
        number: u32,
        of: u32,
        of_batch: OfBatch,
    },
    Divide {
        loads: Loads,
    },
    BenchRest {
        min: f64,
    },
    Shape {
        loads: Loads,
    },
    IntoRetarder {
        loads: Loads,
    },
    OutOfRetarder {
        loads: Loads,
    },
    Preheat,
    LoadIn {
        load: u32,
    },
    LoadOut {
        load: u32,
    },
    Cool,
}

/// Which mix batch, and of how many; null where the mixer takes the dough at once.
pub type OfBatch = Option<[u32; 2]>;

/// Neighbouring loads of the oven.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Loads {
    /// The first of them, counted from 1.
    pub first: u32,
    /// The last of them.
    pub last: u32,
    /// All loads of the bake.
    pub of: u32,
    /// Pieces in them.
    pub pieces: u32,
}

/// What to look for before a step is done, or right after it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Look {
    /// A temperature of the dough after its mix.
    Dough {
        /// °C.
        dough_c: f64,
    },
    /// A bulk that is ready to be divided.
    Risen {
        /// Its volume over that off the mixer.
        rise: f64,
    },
    /// A load that is ready for the oven.
    Proofed {
        /// Share of the proof's end point.
        share: f64,
        /// The share lies in the window.
        in_window: bool,
        /// What a dent does then.
        dent: Dent,
        /// Chance to be past the window at that hour, 0 to 1.
        past_chance: Option<f64>,
    },
}

/// Something that goes in.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Amount {
    /// What the baker calls it.
    pub name: String,
    /// Mass, g. Water is less what a yeast slurry brings.
    pub mass_g: f64,
    /// How warm it is poured, °C; missing where that is not set.
    pub pour_c: Option<f64>,
}

/// How to weigh yeast that is too little for the scale.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Slurry {
    /// The mix that it goes into, such as `poolish` or `mix`.
    pub goes_into: &'static str,
    /// Yeast to weigh, g.
    pub yeast_g: f64,
    /// Water to stir it into, g.
    pub water_g: f64,
    /// How much of the mixture goes in, g.
    pub weigh_in_g: f64,
}

/// When a dough is ready for a step, or by a step.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct ReadyAt<T = String> {
    /// By the plan.
    pub at: T,
    /// 4 times in 5 between these; a low end equal to the stage's start says that it may be ready by then.
    pub likely: Option<[T; 2]>,
    /// It may be used from and until; the end is missing when it never falls. Known of a preferment.
    pub usable: Option<(T, Option<T>)>,
}

/// A step.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Step<T = String> {
    /// A name that stays the same when the plan moves, such as `fold-2` or `load-3-in`.
    pub key: String,
    /// What is done.
    pub action: Action,
    /// It begins.
    pub start: T,
    /// It is done; the same as `start` for what takes a moment.
    pub end: T,
    /// What it starts lasts until then: a rest, a stay in the cold, the baking.
    pub until: Option<T>,
    /// What goes in.
    pub amounts: Vec<Amount>,
    /// How to weigh yeast that is too little for the scale.
    pub slurry: Option<Slurry>,
    /// What to look for.
    pub look: Option<Look>,
    /// When the preferment that it starts is ripe, or the dough that it ends is ready.
    pub ready: Option<ReadyAt<T>>,
    /// The place where the dough stands next, where that has one temperature, °C.
    pub place_c: Option<f64>,
    /// Somebody has to be there.
    pub hands: bool,
    /// It is worth an alarm: hands are needed, and it is no fridge move beside another step.
    pub alarm: bool,
    /// The action in words.
    pub text: Message,
    /// What to look for, in words.
    pub look_for: Option<Message>,
}

/// The steps of a plan by their hours; `clock` writes an hour of the plan's clock, or leaves it as it is.
///
/// # Errors
/// None for a plan that [`plan`](pointage::plan::plan) has made.
pub fn steps<T>(bake: &Bake, plan: &Plan, clock: &dyn Fn(f64) -> T) -> Result<Vec<Step<T>>> {
    let of = |dough| Day {
        bake,
        plan: dough,
        all: plan,
        clock,
    };
    let days: Vec<_> = plan.batches().map(of).collect();
    let day = of(plan);
    let mut folds = vec![0; days.len()];
    let mut steps = Vec::new();
    for task in plan.hands_on() {
        let batch = task.batch as usize - 1;
        let (Some(day), Some(fold)) = (days.get(batch), folds.get_mut(batch)) else {
            continue;
        };
        *fold += u32::from(task.task == Task::Fold);
        if let Some(step) = day.step(task, *fold)? {
            steps.push((task.start_h, step));
        }
    }
    if let Some(rest) = plan.stage("rest") {
        let min = 60.0 * rest.hours();
        let step = day.waiting("rest", Action::BenchRest { min }, rest.start_h);
        steps.push((rest.start_h, step));
    }
    if let Some(cool) = plan.stage("cool") {
        steps.push((cool.end_h, day.waiting("cool", Action::Cool, cool.end_h)));
    }
    for change in &plan.changes {
        let Finding::Chill {
            pieces,
            from_h,
            until_h,
            ..
        } = *change
        else {
            continue;
        };
        let (loads, of_batch) = (day.loads(&plan.loads), None);
        let [into, out] = match pieces {
            true => [
                Action::IntoRetarder { loads },
                Action::OutOfRetarder { loads },
            ],
            false => [
                Action::DoughIntoCold { of_batch },
                Action::DoughOutOfCold { of_batch },
            ],
        };
        for (key, action, hour) in [("chill-in", into, from_h), ("chill-out", out, until_h)] {
            let hands = true;
            let step = day.waiting(key, action, hour);
            steps.push((hour, Step { hands, ..step }));
        }
    }
    // To the second: what happens at once stays in the order of the work.
    steps.sort_by(|a, b| (a.0 * 3600.0).round().total_cmp(&(b.0 * 3600.0).round()));
    for i in 0..steps.len() {
        let (hour, step) = &steps[i];
        let near = |other: &(f64, Step<T>)| other.1.alarm && (other.0 - hour).abs() < SAME_WALK_H;
        let quiet = step.action.moves_fridge() && steps.iter().any(near);
        steps[i].1.alarm = steps[i].1.alarm || (steps[i].1.hands && !quiet);
    }
    Ok(steps.into_iter().map(|(_, step)| step).collect())
}

impl Action {
    fn moves_fridge(self) -> bool {
        use Action as A;
        matches!(
            self,
            A::PrefermentIntoCold { .. }
                | A::PrefermentOutOfCold { .. }
                | A::DoughIntoCold { .. }
                | A::DoughOutOfCold { .. }
                | A::IntoRetarder { .. }
                | A::OutOfRetarder { .. }
        )
    }
}

struct Day<'a, T> {
    bake: &'a Bake,
    /// The dough of one mix batch, and that of all.
    plan: &'a Plan,
    all: &'a Plan,
    clock: &'a dyn Fn(f64) -> T,
}

impl<T> Day<'_, T> {
    fn waiting(&self, key: &str, action: Action, hour: f64) -> Step<T> {
        Step {
            key: key.into(),
            text: action.sentence(),
            action,
            start: (self.clock)(hour),
            end: (self.clock)(hour),
            until: None,
            amounts: Vec::new(),
            slurry: None,
            look: None,
            ready: None,
            place_c: None,
            hands: false,
            alarm: false,
            look_for: None,
        }
    }

    /// A step that needs hands; `fold` counts the folds so far.
    fn step(&self, task: HandsOn<'_>, fold: u32) -> Result<Option<Step<T>>> {
        let (bake, plan, clock) = (self.bake, self.plan, self.clock);
        let first = task.loads.first();
        let n = first.map_or(0, |l| l.number);
        let loads = self.loads(task.loads);
        let min = |name| 60.0 * plan.stage(name).map_or(0.0, StageTime::hours);
        let own = bake.formula.preferment.as_ref();
        let preferment = own.map_or("preferment", |own| own.kind.name());
        let batches = self.all.later_batches.len() as u32 + 1;
        let of_batch = (batches > 1).then_some([task.batch, batches]);
        let of_mix = |key: &str| match task.batch {
            1 => key.to_owned(),
            batch => format!("{key}-of-batch-{batch}"),
        };
        let (key, action) = match task.task {
            Task::Preferment => ("preferment".into(), Action::MixPreferment { preferment }),
            Task::PrefermentIntoCold => {
                let action = Action::PrefermentIntoCold { preferment };
                ("preferment-cold-in".into(), action)
            }
            Task::PrefermentFromCold => {
                let action = Action::PrefermentOutOfCold { preferment };
                ("preferment-cold-out".into(), action)
            }
            Task::Autolyse => {
                let min = min("autolyse");
                (of_mix("autolyse"), Action::Autolyse { min, of_batch })
            }
            Task::Mix => {
                let min = min("mix");
                (of_mix("mix"), Action::Mix { min, of_batch })
            }
            Task::DoughIntoCold => (of_mix("cold-in"), Action::DoughIntoCold { of_batch }),
            Task::DoughFromCold => (of_mix("cold-out"), Action::DoughOutOfCold { of_batch }),
            Task::Fold => (of_mix(&format!("fold-{fold}")), {
                let of = u32::try_from(plan.folds_h.len()).unwrap_or(u32::MAX);
                Action::Fold {
                    number: fold,
                    of,
                    of_batch,
                }
            }),
            Task::Divide => (format!("divide-{n}"), Action::Divide { loads }),
            Task::Shape => (format!("shape-{n}"), Action::Shape { loads }),
            Task::IntoCold => (format!("retarder-{n}-in"), Action::IntoRetarder { loads }),
            Task::FromCold => (format!("retarder-{n}-out"), Action::OutOfRetarder { loads }),
            Task::Preheat => ("preheat".into(), Action::Preheat),
            Task::IntoOven => (format!("load-{n}-in"), Action::LoadIn { load: n }),
            Task::FromOven => (format!("load-{n}-out"), Action::LoadOut { load: n }),
            _ => return Ok(None),
        };
        let look = self.look(action, first);
        let until = match action {
            Action::Autolyse { .. } => self.plan.stage("autolyse").map(|s| s.end_h),
            Action::PrefermentIntoCold { .. } => {
                let stay = plan.preferment.as_ref().and_then(|p| p.cold_h);
                stay.map(|(_, out)| out)
            }
            Action::IntoRetarder { loads } if loads.first == loads.last => {
                first.and_then(|l| l.retarder_h).map(|c| c.1)
            }
            Action::LoadIn { .. } => first.map(|l| l.oven_out_h),
            _ => None,
        };
        let (amounts, slurry) = match task.task {
            Task::Preferment | Task::Autolyse | Task::Mix => self.amounts(task.task)?,
            _ => (Vec::new(), None),
        };
        Ok(Some(Step {
            end: clock(task.end_h),
            until: until.map(clock),
            amounts,
            slurry,
            look,
            ready: self.ready(action),
            place_c: self.place_c(action),
            hands: true,
            alarm: !action.moves_fridge(),
            look_for: look.map(|l| l.sentence()),
            ..self.waiting(&key, action, task.start_h)
        }))
    }

    /// The first load of its dough.
    fn first_load(&self) -> u32 {
        self.plan.loads.first().map_or(1, |load| load.number)
    }

    fn loads(&self, group: &[Load]) -> Loads {
        Loads {
            first: group.first().map_or(0, |l| l.number),
            last: group.last().map_or(0, |l| l.number),
            of: self.all.loads.last().map_or(0, |l| l.number),
            pieces: group.iter().map(|l| l.pieces).sum(),
        }
    }

    fn look(&self, action: Action, load: Option<&Load>) -> Option<Look> {
        let dough_c = match action {
            Action::MixPreferment { .. } => self.bake.preferment.as_ref()?.dough.as_celsius(),
            Action::Autolyse { .. } => self.plan.stage("autolyse")?.dough_start_c?,
            Action::Mix { .. } => self.plan.water.dough.as_celsius(),
            Action::Divide { loads } if loads.first == self.first_load() => {
                let mut stages = self.plan.stages.iter();
                let divide = stages.position(|s| s.name == "divide")?;
                let rise = self.plan.stages[..divide].last()?.rise?;
                return Some(Look::Risen { rise });
            }
            Action::LoadIn { .. } => {
                return load.map(|l| Look::Proofed {
                    share: l.ripeness,
                    in_window: l.in_window,
                    dent: Dent::of(l.ripeness).unwrap_or(Dent::GoneSlowly),
                    past_chance: l.past_chance,
                });
            }
            _ => return None,
        };
        Some(Look::Dough { dough_c })
    }

    fn ready(&self, action: Action) -> Option<ReadyAt<T>> {
        let clock = self.clock;
        let ready = |at: f64, likely: Option<(f64, f64)>| ReadyAt {
            at: clock(at),
            likely: likely.map(|(low, high)| [clock(low), clock(high)]),
            usable: None,
        };
        let ends = |stage: &StageTime| stage.end_range_h.map(|r| ready(stage.end_h, Some(r)));
        match action {
            Action::MixPreferment { .. } => self.plan.preferment.as_ref().map(|p| ReadyAt {
                usable: Some((clock(p.window_open_h), p.window_close_h.map(clock))),
                ..ready(p.ripe_h, p.ripe_range_h)
            }),
            // Of a bulk in parts, only the last one ends when the dough is ready.
            Action::Divide { loads } if loads.first == self.first_load() => {
                let before = self.plan.stages.iter().take_while(|s| s.name != "divide");
                before.last().and_then(ends)
            }
            Action::LoadIn { load } if load == self.first_load() => {
                self.plan.stage("proof").and_then(ends)
            }
            _ => None,
        }
    }

    fn place_c(&self, action: Action) -> Option<f64> {
        let (process, kitchen) = (&self.bake.process, &self.bake.kitchen);
        let room = |room: &Room| match room {
            Room::Constant(t) => Some(*t),
            _ => None,
        };
        let cold = self.bake.cold.as_ref().and_then(|c| room(&c.room));
        let own = self.bake.preferment.as_ref();
        let place = match action {
            Action::MixPreferment { .. } | Action::PrefermentOutOfCold { .. } => {
                room(own?.room.as_ref().unwrap_or(&kitchen.room))
            }
            Action::PrefermentIntoCold { .. } => room(&own?.cold.as_ref()?.room),
            Action::Mix { .. } => process.bulk_place.or(room(&kitchen.room)),
            Action::Shape { .. } | Action::OutOfRetarder { .. } => {
                process.proof_place.or(room(&kitchen.room))
            }
            Action::DoughIntoCold { .. } => cold,
            Action::IntoRetarder { .. } => cold.or(process.retarder),
            _ => None,
        };
        place.map(|t| t.as_celsius())
    }

    /// The mix at which an ingredient goes in; flour and water rest before the others join them.
    fn goes_in(&self, ingredient: &Ingredient) -> Task {
        let rests = self.plan.stage("autolyse").is_some();
        match (ingredient.stage, ingredient.role) {
            (MixStage::Preferment, _) => Task::Preferment,
            (MixStage::Mix, Role::Flour | Role::Water) if rests => Task::Autolyse,
            _ => Task::Mix,
        }
    }

    /// What goes in, and how the yeast of it is weighed.
    fn amounts(&self, task: Task) -> Result<(Vec<Amount>, Option<Slurry>)> {
        let (plan, batch) = (self.plan, &self.plan.batch);
        let (stage, times, water) = match task {
            Task::Preferment => {
                let own = plan.preferment_water.as_ref();
                (MixStage::Preferment, plan.preferment_times, own)
            }
            _ => (MixStage::Mix, 1.0, Some(&plan.water)),
        };
        let of = |role| Mass::grams(times * batch.mass_of(role, stage).as_grams());
        let (yeast, in_water) = (of(Role::Yeast)?, of(Role::Water)?);
        // Where the water is too little for a slurry, the plan's warnings say so.
        let step = self.bake.kitchen.scale_step;
        let pinch = yeast_slurry::weigh_in_water(yeast, step, in_water);
        let pinch = pinch.ok().flatten();
        let amount = |name: &str, mass_g: f64, pour_c| Amount {
            name: name.into(),
            mass_g,
            pour_c,
        };
        let (mut amounts, mut slurry) = (Vec::new(), None);
        let used = batch.ingredients.iter();
        for i in used.filter(|i| i.mass.as_grams() > 0.0 && self.goes_in(i) == task) {
            let mass_g = times * i.mass.as_grams();
            match (i.role, i.stage, pinch) {
                (Role::Water, MixStage::Bassinage, _) => {
                    let water = self.bake.process.bassinage;
                    let pour_c = water.unwrap_or(self.bake.kitchen.tap).as_celsius();
                    amounts.push(amount("bassinage", mass_g, Some(pour_c)));
                }
                (Role::Water, ..) => {
                    let (ice_g, pour_c) = water.map_or((0.0, None), |w| self.pour(w));
                    if ice_g > 0.0 {
                        amounts.push(amount("ice", ice_g, None));
                    }
                    let taken_g = pinch.map_or(0.0, |p| p.water_taken.as_grams());
                    let left_g = (mass_g - ice_g - taken_g).max(0.0);
                    amounts.push(amount("water", left_g, pour_c));
                }
                (Role::Yeast, _, Some(pinch)) => {
                    let weigh_in_g = pinch.take.as_grams();
                    amounts.push(amount("yeast slurry", weigh_in_g, None));
                    let own = self.bake.formula.preferment.as_ref();
                    let own = own.filter(|_| stage == MixStage::Preferment);
                    slurry = Some(Slurry {
                        goes_into: own.map_or("mix", |own| own.kind.name()),
                        yeast_g: pinch.yeast.as_grams(),
                        water_g: pinch.water.as_grams(),
                        weigh_in_g,
                    });
                }
                _ => amounts.push(amount(&i.name, mass_g, None)),
            }
        }
        let ripe = (self.bake.preferment.as_ref()).zip(self.bake.formula.preferment.as_ref());
        let rests = plan.stage("autolyse").is_some();
        let joins = |joins| match joins {
            Joins::Autolyse if rests => Task::Autolyse,
            _ => Task::Mix,
        };
        if let Some((_, own)) = ripe.filter(|(held, _)| joins(held.joins) == task) {
            let mass_g = batch.stage_mass(MixStage::Preferment).as_grams();
            amounts.push(amount(own.kind.name(), mass_g, None));
        }
        Ok((amounts, slurry))
    }

    /// Ice in a water, g, and how warm its rest is poured, °C.
    fn pour(&self, water: &MixWater) -> (f64, Option<f64>) {
        match water.pour {
            Some(Pour { ice, .. }) if ice.as_grams() > 0.0 => {
                (ice.as_grams(), Some(self.bake.kitchen.tap.as_celsius()))
            }
            _ => (0.0, water.pour_temperature().map(|t| t.as_celsius())),
        }
    }
}
