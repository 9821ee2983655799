//! The answer of `plan`. Its hours are on the plan's clock; the caller, who knows date and zone, turns
//! them into text.

use super::scale::{IngredientAnswer, ingredients};
use super::sentences::{Remark, Sentence as _};
use super::steps::{Step, steps};
use super::water::{DdtFormulaAnswer, HeatBalanceAnswer};
use pointage::error::Result;
use pointage::formula::{MixStage, Role, yeast_slurry};
use pointage::plan::bake::Bake;
use pointage::plan::{Core, Load, MixWater, Plan, Reason, StageTime};
use pointage::units::{Mass, Percent, Temperature};
use serde::Serialize;

/// A plan with its times as clock times in text, or as `T`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct PlanAnswer<T = String> {
    /// Name of the bake.
    pub name: String,
    /// Stages of the first load; each ends when the next begins.
    pub stages: Vec<StageAnswer<T>>,
    /// Everything that is done, by its hour.
    pub steps: Vec<Step<T>>,
    /// When to fold.
    pub folds: Vec<T>,
    /// Loads of the oven.
    pub loads: Vec<LoadAnswer<T>>,
    /// The mix batches, where the mixer does not take the dough at once: `stages`, `folds`, `water`, `ingredients`, `dough_g`
    /// and the yeast at the mix are then those of the first.
    pub batches: Vec<BatchAnswer<T>>,
    /// The preferment, if there is one.
    pub preferment: Option<PrefermentAnswer<T>>,
    /// Water of the dough, by both methods.
    pub water: PlanWater,
    /// How many times the preferment among `ingredients` is made: 1, or more when another dough gets its
    /// part (`extra_preferment_g`). `preferment_water` and `yeast.preferment` are of all that is made.
    pub preferment_times: f64,
    /// Water of the preferment's own mix.
    pub preferment_water: Option<PlanWater>,
    /// Yeast, wherever it goes in.
    pub yeast: YeastAnswer,
    /// What to weigh.
    pub ingredients: Vec<IngredientAnswer>,
    /// All dough, g.
    pub dough_g: f64,
    /// How far the bulk rises: the volume at its end over that off the mixer.
    pub bulk_rise: f64,
    /// Core and surface of a bulk too thick to be one temperature.
    pub cores: Vec<CoreAnswer<T>>,
    /// When the oven is turned on, where it needs time to heat.
    pub preheat: Option<T>,
    /// What moves the times most; empty unless the plan was asked for it.
    pub reasons: Vec<Reason>,
    /// True when every load enters the oven inside its window.
    pub feasible: bool,
    /// What does not fit.
    pub problem: Vec<Remark>,
    /// What would mend it, the best first: at most three, each enough by itself.
    pub nearest: Vec<Remark>,
    /// What was changed of the bake to meet two hours at once; of a plan that keeps the oven's hour, its stay in the cold.
    pub changes: Vec<Remark>,
    /// What to know.
    pub notes: Vec<Remark>,
    /// What to look out for.
    pub warnings: Vec<Remark>,
}

/// A stage of the first load.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct StageAnswer<T = String> {
    /// Name.
    pub name: String,
    /// Start.
    pub start: T,
    /// End.
    pub end: T,
    /// When it is likely to end, 10-90 %, not before its start; missing where the clock ends it, or when the plan was not asked
    /// for it.
    pub end_range: Option<[T; 2]>,
    /// Dough at the start, °C.
    pub dough_start_c: Option<f64>,
    /// Dough at the end, °C.
    pub dough_end_c: Option<f64>,
    /// How far it has risen at the end: its volume over that off its mix, V/V0.
    pub rise: Option<f64>,
}

/// A mix batch.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BatchAnswer<T = String> {
    /// Counted from 1.
    pub number: u32,
    /// Pieces made of it.
    pub pieces: u32,
    /// Its dough, g.
    pub dough_g: f64,
    /// Stages of its first load.
    pub stages: Vec<StageAnswer<T>>,
    /// When to fold it.
    pub folds: Vec<T>,
    /// Water of its dough.
    pub water: PlanWater,
    /// What to weigh for it; the preferment is its share of that which is made at once for all.
    pub ingredients: Vec<IngredientAnswer>,
}

/// A load.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct LoadAnswer<T = String> {
    /// Counted from 1.
    pub number: u32,
    /// The mix batch that it comes from, counted from 1.
    pub batch: u32,
    /// Pieces in it.
    pub pieces: u32,
    /// Dividing begins.
    pub divide: T,
    /// Shaping begins.
    pub shape: T,
    /// How long it waits beyond what the first load does, min: in bulk, at rest, in the cold.
    pub waits_min: [f64; 3],
    /// Held in the retarder from and until.
    pub retarder: Option<[T; 2]>,
    /// Enters the oven.
    pub oven_in: T,
    /// Leaves it.
    pub oven_out: T,
    /// Share of the proof's end point on entering.
    pub ripeness: f64,
    /// The same of its pieces shaped first and last.
    pub ripeness_first_and_last: [f64; 2],
    /// The same of the load, 10-90 %.
    pub ripeness_range: Option<[f64; 2]>,
    /// Chance to be past the window on entering, 0 to 1.
    pub past_chance: Option<f64>,
    /// Dough on entering, °C.
    pub dough_c: f64,
    /// The ripeness lies in the window.
    pub in_window: bool,
}

/// A dough at the end of a stage.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct CoreAnswer<T = String> {
    /// The stage.
    pub stage: String,
    /// Its end.
    pub at: T,
    /// Mean, °C.
    pub mean_c: f64,
    /// Middle, °C.
    pub core_c: f64,
    /// Surface, °C.
    pub surface_c: f64,
}

/// The preferment.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct PrefermentAnswer<T = String> {
    /// Mixed.
    pub mixed: T,
    /// In the cold from and until.
    pub cold: Option<[T; 2]>,
    /// Ripe.
    pub ripe: T,
    /// When it is likely to be ripe, 10-90 %.
    pub ripe_range: Option<[T; 2]>,
    /// It may be used from and until; the end is missing when it never falls.
    pub window: [Option<T>; 2],
    /// Used.
    pub used: T,
}

/// Water for a mix, under the same keys as in the answer of `water`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct PlanWater {
    /// The (first) water, g.
    pub water_g: f64,
    /// Dough wanted, °C.
    pub dough_c: f64,
    /// What the pour acts like, °C, by the heat balance where it answers, else by the DDT formula.
    pub water_c: Option<f64>,
    /// Ice, g, when it is colder than the tap.
    pub ice_g: Option<f64>,
    /// Tap water beside the ice, g.
    pub tap_g: Option<f64>,
    /// DDT formula.
    pub ddt_formula: Option<DdtFormulaAnswer>,
    /// Heat balance.
    pub heat_balance: Option<HeatBalanceAnswer>,
}

/// Yeast.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct YeastAnswer {
    /// Its kind.
    pub kind: String,
    /// In the preferment.
    pub preferment: Option<DoseAt>,
    /// At the mix.
    pub mix: Option<DoseAt>,
}

/// A dose somewhere.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct DoseAt {
    /// Mass, g.
    pub yeast_g: f64,
    /// % of the flour of that stage; at the mix, of all flour.
    pub dose_percent: f64,
    /// g per litre of the water of that stage, as some recipes count.
    pub per_litre_g: Option<f64>,
    /// How to weigh it when it is too small for the scale.
    pub weigh: Option<String>,
}

/// The answer for a plan; `clock` writes an hour of the plan's clock, or leaves it as the number it is.
///
/// # Errors
/// None for a plan that [`plan`](pointage::plan::plan) has made.
pub fn plan<T>(bake: &Bake, plan: &Plan, clock: &dyn Fn(f64) -> T) -> Result<PlanAnswer<T>> {
    let mut warnings = remarks(&plan.warnings);
    let yeast = yeast(bake, plan, &mut warnings)?;
    let problem = plan.problem.as_ref();
    let range = |(low, high)| [clock(low), clock(high)];
    let stage = |s: &StageTime| StageAnswer {
        name: s.name.into(),
        start: clock(s.start_h),
        end: clock(s.end_h),
        end_range: s.end_range_h.map(range),
        dough_start_c: s.dough_start_c,
        dough_end_c: s.dough_end_c,
        rise: s.rise,
    };
    let load = |l: &Load| LoadAnswer {
        number: l.number,
        batch: l.batch,
        pieces: l.pieces,
        divide: clock(l.divide_h),
        shape: clock(l.shape_h),
        waits_min: l.waits_h.map(|h| 60.0 * h),
        retarder: l.retarder_h.map(range),
        oven_in: clock(l.oven_in_h),
        oven_out: clock(l.oven_out_h),
        ripeness: l.ripeness,
        ripeness_first_and_last: [l.first_ripeness, l.ripeness],
        ripeness_range: l.ripeness_range.map(Into::into),
        past_chance: l.past_chance,
        dough_c: l.dough_c,
        in_window: l.in_window,
    };
    let batch = |(number, own): (u32, &Plan)| BatchAnswer {
        number,
        pieces: own.own_loads().iter().map(|load| load.pieces).sum(),
        dough_g: own.batch.dough.as_grams(),
        stages: own.stages.iter().map(stage).collect(),
        folds: own.folds_h.iter().map(|&h| clock(h)).collect(),
        water: mix_water(&own.water),
        ingredients: ingredients(&own.batch),
    };
    let several = !plan.later_batches.is_empty();
    let batches = (1..).zip(plan.batches().filter(|_| several));
    let core = |c: &Core| CoreAnswer {
        stage: c.stage.into(),
        at: clock(c.hour),
        mean_c: c.mean_c,
        core_c: c.core_c,
        surface_c: c.surface_c,
    };
    Ok(PlanAnswer {
        name: bake.name.clone(),
        stages: plan.stages.iter().map(stage).collect(),
        steps: steps(bake, plan, clock)?,
        folds: plan.folds_h.iter().map(|&h| clock(h)).collect(),
        loads: plan.loads.iter().map(load).collect(),
        batches: batches.map(batch).collect(),
        preferment: plan.preferment.as_ref().map(|p| PrefermentAnswer {
            mixed: clock(p.mixed_h),
            cold: p.cold_h.map(range),
            ripe: clock(p.ripe_h),
            ripe_range: p.ripe_range_h.map(range),
            window: [Some(clock(p.window_open_h)), p.window_close_h.map(clock)],
            used: clock(p.used_h),
        }),
        water: mix_water(&plan.water),
        preferment_times: plan.preferment_times,
        preferment_water: plan.preferment_water.as_ref().map(mix_water),
        yeast,
        ingredients: ingredients(&plan.batch),
        dough_g: plan.batch.dough.as_grams(),
        bulk_rise: plan.bulk_rise,
        cores: plan.cores.iter().map(core).collect(),
        preheat: plan.preheat_h.map(clock),
        reasons: plan.reasons.clone(),
        feasible: plan.problem.is_none() && plan.loads.iter().all(|l| l.in_window),
        problem: problem.map_or(Vec::new(), |p| remarks(&p.findings)),
        nearest: problem.map_or(Vec::new(), |p| remarks(&p.nearest)),
        changes: remarks(&plan.changes),
        notes: remarks(&plan.notes),
        warnings,
    })
}

/// Yeast wherever it goes in; too little water for its slurry is a warning.
fn yeast(bake: &Bake, plan: &Plan, warnings: &mut Vec<Remark>) -> Result<YeastAnswer> {
    let mut dose_at = |stage: MixStage, times: f64, dose: Percent| -> Result<Option<DoseAt>> {
        let mass = |role| Mass::grams(times * plan.batch.mass_of(role, stage).as_grams());
        let (yeast, water) = (mass(Role::Yeast)?, mass(Role::Water)?);
        if yeast.as_grams() <= 0.0 {
            return Ok(None);
        }
        let slurry = yeast_slurry::weigh_in_water(yeast, bake.kitchen.scale_step, water);
        let slurry = slurry.unwrap_or_else(|too_little_water| {
            warnings.push(too_little_water.into());
            None
        });
        Ok(Some(DoseAt {
            yeast_g: yeast.as_grams(),
            dose_percent: dose.as_percent(),
            per_litre_g: (water.as_grams() > 0.0).then(|| yeast.as_grams() / water.as_kilograms()),
            weigh: slurry.map(|slurry| slurry.sentence().to_string()),
        }))
    };
    let ahead = plan.preferment.as_ref();
    let ahead = ahead.map(|p| dose_at(MixStage::Preferment, plan.preferment_times, p.dose));
    Ok(YeastAnswer {
        kind: bake.formula.yeast_kind.name().into(),
        preferment: ahead.transpose()?.flatten(),
        mix: dose_at(MixStage::Mix, 1.0, plan.yeast_at_mix)?,
    })
}

/// Findings with their sentences.
pub(super) fn remarks(findings: &[pointage::plan::Finding]) -> Vec<Remark> {
    findings.iter().cloned().map(Remark::from).collect()
}

fn mix_water(w: &MixWater) -> PlanWater {
    PlanWater {
        water_g: w.water.as_grams(),
        dough_c: w.dough.as_celsius(),
        water_c: w.pour_temperature().map(Temperature::as_celsius),
        ice_g: w.pour.map(|pour| pour.ice.as_grams()),
        tap_g: w.pour.map(|pour| pour.tap.as_grams()),
        ddt_formula: w.ddt_formula.map(|r| DdtFormulaAnswer {
            water_c: r.water.as_celsius(),
            terms: r.terms,
            base_c: r.friction.base_c(w.dough),
            friction_factor_c: Some(r.friction.factor.as_kelvin()),
            real_rise_c: Some(r.friction.real_rise.as_kelvin()),
        }),
        heat_balance: w.balance.as_ref().map(HeatBalanceAnswer::from),
    }
}
