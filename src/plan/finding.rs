//! What there is to say about a plan, with its numbers; the words stand with whoever shows it.

use super::manual_tasks::Task;
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
    /// The preferment is made for two doughs.
    ExtraPreferment { all_g: f64, own_g: f64 },
    /// Steps outside the working hours; the smallest shift of the whole plan that brings all inside, and when the
    /// first load is out then.
    OutsideWorkingHours {
        outside: usize,
        steps: usize,
        from_h: f64,
        until_h: f64,
        /// Each time that a task begins, on the plan's clock.
        tasks: BTreeMap<Task, Vec<f64>>,
        shift_h: Option<f64>,
        first_out_h: Option<f64>,
        /// The bake has a stay in the cold already.
        cold: bool,
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
    /// A preferment beyond the published recipes.
    BeyondRecipes { caution: ferment::Extrapolation },
    /// A dough that is too warm.
    WarmDough { caution: heat::Caution },
    /// A dough colder than in any published recipe, outside the cold.
    ColdDough { dough_c: f64 },
    /// The mixer does not take the dough at once.
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
        rest_min: f64,
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
    /// It works with less yeast at the mix.
    LessYeast {
        yeast_percent: f64,
        given_percent: f64,
    },
    /// It works as several doughs.
    SeveralDoughs {
        doughs: u32,
        loads: u32,
        pieces: u32,
        every_min: f64,
    },
    /// It works if the pieces may rest longer.
    LongerRest { rest_min: f64 },
    /// No plan near this one works.
    NoNearPlan,
    /// The preferment is not ripe yet, as forecast.
    UnripeAsForecast,
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
    /// Water that brings the dough to its temperature next time.
    WaterNextTime { warmer_c: f64, dough_c: f64 },
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
    /// Divide at another hour than planned, or keep the dough in a retarder or in a warmer place.
    Divide {
        later_min: f64,
        or_retarder: bool,
        or_warmer: bool,
    },
    /// Loads that need to be held.
    HoldLoads { loads: Vec<u32> },
}
