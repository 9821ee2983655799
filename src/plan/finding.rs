//! What there is to say about a plan, with its numbers; the words stand with whoever shows it.

use super::manual_tasks::Task;
use super::model::{Occasion, StageName, stage_name};
use crate::formula::YeastKind;
use crate::{ferment, heat};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A note, a warning, a problem, a change or an advice: which of them, says the list it stands in.
///
/// ```
/// use pointage::plan::Finding;
/// let tub = Finding::SmallTub { needed_l: 19.5, tub_l: 15.0 };
/// assert_eq!(serde_json::to_string(&tub)?, r#"{"code":"small-tub","needed_l":19.5,"tub_l":15.0}"#);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
#[allow(missing_docs)] // each field is named by what it is and its unit
pub enum Finding {
    /// The first load enters sooner than at its best, so that the last one is still in its window.
    FirstLoadEarly { ripeness: f64 },
    /// A stage of the plan beside that of the baker's reference, each with the mean of its dough.
    FromReference {
        #[serde(deserialize_with = "stage_name")]
        stage: StageName,
        min: f64,
        dough_c: f64,
        reference_min: f64,
        reference_c: f64,
        reference_percent: Option<f64>,
        reference_g: Option<f64>,
    },
    /// A stage that ends where those of the baker's log have ended, with the mean of its dough.
    FromLog {
        #[serde(deserialize_with = "stage_name")]
        stage: StageName,
        min: f64,
        dough_c: f64,
    },
    /// No reference: how many times as wide the ranges are for that.
    PublishedTimes { wider: f64 },
    /// Later loads wait in their window, though there is a retarder, and enter at up to this share of the proof.
    WaitInWindow { loads: Vec<u32>, ripeness: f64 },
    /// The weights are so many times the recipe's grams.
    ScaledRecipe {
        times: f64,
        pieces: u32,
        piece_g: f64,
    },
    /// The preferment is made for two doughs.
    ExtraPreferment { all_g: f64, own_g: f64 },
    /// Steps outside the working hours.
    OutsideWorkingHours {
        outside: usize,
        steps: usize,
        from_h: f64,
        until_h: f64,
        /// Each time that a task begins, on the plan's clock.
        tasks: BTreeMap<Task, Vec<f64>>,
    },
    /// Folds after the end of the bulk, which are left out.
    LateFolds { folds: usize },
    /// A bulk that ends far from doubled.
    UnusualBulk { rise: f64 },
    /// The record of the room does not cover the plan.
    ShortRecord,
    /// A way to compute the water that has no answer, and why.
    NoWater { why: String },
    /// Water that is no everyday water.
    Water {
        for_preferment: bool,
        caution: heat::Caution,
    },
    /// Water that instant yeast should not meet bare.
    InstantYeast { caution: heat::Caution },
    /// A preferment that leaves the cold so long before its window of use opens; below 0, after it has closed.
    PrefermentOffWindow { early_h: f64 },
    /// A preferment beyond the published recipes.
    BeyondRecipes { caution: ferment::Extrapolation },
    /// A dough that is too warm.
    WarmDough { caution: heat::Caution },
    /// A dough colder than in any published recipe, outside the cold.
    ColdDough { dough_c: f64 },
    /// A stay in the cold, of which no source tells how long a dough takes.
    Fridge,
    /// The dough is mixed in so many batches, the first of so much.
    MixBatches {
        batches: usize,
        mix_kg: f64,
        mixer_kg: f64,
    },
    /// From a mix batch on each gets its preferment after that has begun to fall, the last one so long after it.
    LateBatches { from_batch: u32, late_h: f64 },
    /// The mixer does not take a load's dough at once.
    SmallMixer {
        mixer_kg: f64,
        mixes: f64,
        mix_kg: f64,
        first_older_min: f64,
    },
    /// The risen dough is larger than the tub.
    SmallTub { needed_l: f64, tub_l: f64 },
    /// More pieces than the boards hold.
    FullBoards { capacity: u32, pieces: u32 },
    /// More pieces than the retarder holds.
    FullRetarder { capacity: u32, pieces: u32 },
    /// Loads whose pieces rest longer than they may.
    LongRest {
        loads: Vec<u32>,
        of: usize,
        longest_rest_min: f64,
        most_min: f64,
    },
    /// Hands that would have to be faster than hands are.
    FastHands {
        task: Task,
        pieces: u32,
        length_min: f64,
        piece_s: f64,
    },
    /// Hardly any proof.
    ShortProof { proof_min: f64 },
    /// No proof at all.
    NoProof,
    /// Loads whose first and last pieces are not both inside the window.
    UnevenLoads {
        loads: Vec<u32>,
        first_ripeness: f64,
        last_ripeness: f64,
    },
    /// Loads that enter the oven outside their window.
    OutsideWindow {
        loads: Vec<u32>,
        of: usize,
        ripeness: f64,
        window_open: f64,
        window_close: f64,
    },
    /// It works if later loads are held in these ways.
    HoldLaterLoads {
        shape_later: bool,
        divide_later: bool,
        retarder_c: Option<f64>,
    },
    /// Another dose at the mix.
    ChangeYeast {
        yeast_percent: f64,
        given_percent: f64,
        yeast_g: Option<f64>,
        given_g: Option<f64>,
    },
    /// Another desired dough temperature, and its pour where there is one.
    ChangeDough {
        dough_c: f64,
        given_c: f64,
        water_c: Option<f64>,
        ice_g: f64,
    },
    /// Another place for the dough and its pieces, from now on or all day.
    ChangePlace { place_c: f64, from_h: Option<f64> },
    /// Into the cold for a while, the dough or its pieces.
    Chill {
        pieces: bool,
        place_c: f64,
        from_h: f64,
        until_h: f64,
    },
    /// Another dose of the preferment, which ripens in another time.
    ChangePreferment {
        dose_percent: f64,
        yeast_g: Option<f64>,
        ripe_after_h: f64,
        cold_h: Option<f64>,
    },
    /// So many hours in the cold, of the shaped pieces where the bake has none.
    ChangeCold {
        hours: f64,
        given_h: Option<f64>,
        place_c: f64,
    },
    /// Another autolyse.
    ChangeAutolyse { autolyse_min: f64, given_min: f64 },
    /// Two hours do not go together: when the one is held, the other is missed.
    CannotMeet {
        held: Occasion,
        held_h: f64,
        missed: Occasion,
        wanted_h: f64,
        reached_h: f64,
    },
    /// The nearest hours that do: for either of two, that at which the other is met.
    NearestHours {
        held: Occasion,
        held_h: Option<f64>,
        missed: Occasion,
        missed_h: f64,
    },
    /// Hands at night, where the bake names no working hours, and the smallest change that frees the night.
    HandsAtNight {
        outside: usize,
        from_h: f64,
        until_h: f64,
        tasks: BTreeMap<Task, Vec<f64>>,
        way: Option<Box<Finding>>,
    },
    /// No change by itself brings all hands inside the working hours.
    NoFreeHours,
    /// Move the whole plan.
    MoveAll { shift_h: f64, first_out_h: f64 },
    /// Divide at another rise than planned.
    DivideAt { at_h: f64, rise: f64 },
    /// Bake at another share of the proof than planned.
    BakeAt { ripeness: f64 },
    /// It works as several doughs.
    SeveralDoughs {
        doughs: u32,
        loads: u32,
        pieces: u32,
        every_min: f64,
    },
    /// It works if the pieces may rest longer.
    LongerRest { longest_rest_min: f64 },
    /// No plan near this one works.
    NoNearPlan,
    /// The preferment is not ripe yet, as forecast.
    UnripeAsForecast,
    /// The preferment was ripe at another hour than forecast; 0 is just then.
    PrefermentRipe { later_min: f64 },
    /// A ripe preferment waits for its hour, where it stands or in the cold.
    HoldPreferment {
        until_h: f64,
        good_until_h: Option<f64>,
        cold_c: Option<f64>,
        /// It is used as planned.
        as_planned: bool,
    },
    /// The pour for a preferment that is colder or warmer than planned.
    PourNow {
        water_c: f64,
        planned_c: f64,
        ice_g: f64,
    },
    /// What needs hands next.
    NextStep {
        task: Task,
        loads: Vec<u32>,
        at_h: f64,
    },
    /// Nothing that is left keeps the oven's hour.
    OvenMoves,
    /// The preferment is used at another hour than forecast; 0 is just then.
    PrefermentUsed { later_min: f64 },
    /// The dough came off the mixer warmer than planned; 0 is as planned.
    DoughOffMixer { warmer_c: f64 },
    /// A rise that says nothing yet of the speed of the dough.
    RiseTooSmall { rise: f64, forecast_rise: f64 },
    /// The speed of the dough by its rise.
    DoughSpeed {
        rise: f64,
        forecast_rise: f64,
        speed_percent: f64,
    },
    /// What a bulk showed.
    BulkSeen { done: bool, later_min: f64 },
    /// What a proof showed.
    ProofSeen {
        share: f64,
        forecast_share: f64,
        speed_percent: f64,
    },
    /// Water that brings the dough to its temperature next time, or as near as tap and ice can.
    WaterNextTime {
        warmer_c: f64,
        water_c: f64,
        ice_g: f64,
        dough_c: f64,
        reaches_c: f64,
    },
    /// When a rise says something.
    MeasureAgain { wait_min: f64 },
    /// Wait for the preferment.
    WaitForPreferment { wait_min: f64 },
    /// More yeast at the mix keeps the length of the bulk.
    AddYeast {
        yeast_g: f64,
        kind: YeastKind,
        bulk_min: f64,
        /// In place of waiting for the preferment.
        at_once: bool,
    },
    /// Go on with a preferment that is not ripe.
    GoOnUnripe,
    /// Use an over-ripe preferment now.
    UsePrefermentNow { bulk_min: f64, planned_min: f64 },
    /// Less of an over-ripe preferment brings the yeast that was planned.
    UseLessPreferment {
        less_g: f64,
        less_percent: f64,
        flour_g: f64,
        water_g: f64,
    },
    /// The dough is done before its time in the cold is over.
    EndColdSooner { sooner_min: f64 },
    /// Loads that need to be held.
    HoldLoads { loads: Vec<u32>, shaped: bool },
}
