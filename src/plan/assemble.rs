//! From a timeline to a plan in a baker's terms, with what to know and look out for.

use super::bake::{Bake, ColdStage, StageReference};
use super::environment::Environment;
use super::finding::Finding;
use super::keep_hour::UNSEEN_H;
use super::loads::Slot;
use super::model::{Anchor, Detail, Load, Plan, PrefermentTimes, StageTime};
use super::process::{BulkResult, DoughProcess, PieceCache};
use super::search::{Timeline, timeline};
use super::{core_temperature, equipment, feasibility, mix_batches, ranges, sensitivity};
use super::{trace, water, working_hours};
use crate::error::{Error, Result};
use crate::ferment::{Kind, Parameters, Support, beyond_published};
use crate::formula::{Batch, MixStage, Role, YeastKind};
use crate::heat::cautions::Limits;
use crate::units::{Percent, Temperature, as_hours};

/// Plans a bake, with more or less detail.
///
/// # Errors
/// Bad input; [`Error::Unreachable`](crate::Error::Unreachable) where dough or preferment never get ready. A load outside its
/// window, or one that rests too long, is no error: the plan is given with its [`Problem`](super::Problem).
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
    let batches = bake.mix_batches()?;
    let anchor = mix_batches::anchor_of_first(&batches, places, anchor, p)?;
    let is_one = batches.len() == 1;
    let bake = batches.first().unwrap_or(bake);
    let timeline = timeline(bake, places, anchor, p, true);
    let (rooms, timeline) =
        timeline.map_err(|error| feasibility::cold_that_lasts(bake, places, anchor, p, error))?;
    let process = DoughProcess::new(bake, p, &rooms)?;
    let mut plan = assemble(&process, &timeline, detail)?;
    mix_batches::append(&mut plan, &batches, &rooms, &timeline, (p, 1.0, detail))?;
    plan.problem = feasibility::problem(&process, &plan, is_one.then_some((places, anchor)))?;
    if bake.people.is_none() {
        let way = (detail.night && is_one).then_some((places, anchor));
        let night = working_hours::at_night(&process, &plan, way)?;
        plan.warnings.splice(0..0, night);
    }
    Ok(plan)
}

/// The plan of a timeline.
pub(super) fn assemble(
    process: &DoughProcess<'_>,
    timeline: &Timeline,
    detail: Detail,
) -> Result<Plan> {
    let (bake, bulk) = (process.bake, &timeline.bulk);
    let first = timeline.loads.first();
    let first = first.ok_or(Error::not_settled("the first load", 0))?;
    let preferment = preferment(process, bulk)?;
    let room =
        (process.rooms.kitchen).at(preferment.as_ref().map_or(bulk.mix.start_h, |p| p.mixed_h));
    let preferment_times = preferment_times(bake, &bulk.batch);
    let bulk_h = bulk.bulk_h();
    let folds = bake.process.folds.iter().map(|&f| as_hours(f));
    let folds = folds.filter(|&f| f < bulk_h).map(|f| bulk.bulk_start() + f);
    let reasons = || sensitivity::reasons(process, timeline);
    let reasons = detail.reasons.then(reasons);
    let trace = detail.trace.then(|| trace::trace(process, timeline));
    let cores = detail.cores.then(|| core_temperature::cores(process, bulk));
    let mut plan = Plan {
        stages: stages(process, timeline, first)?,
        preheat_h: (!bake.oven.preheat.is_zero())
            .then(|| first.oven_in - as_hours(bake.oven.preheat)),
        folds_h: folds.collect(),
        loads: loads(process, timeline)?,
        preferment,
        preferment_water: water::of_preferment(bake, &bulk.batch, preferment_times, room)?,
        preferment_times,
        water: bulk.water.clone(),
        batch: bulk.batch.clone(),
        yeast_at_mix: process.dose(bulk.added)?,
        bulk_rise: bulk.rise(&bulk.state),
        reasons: reasons.transpose()?.unwrap_or_default(),
        trace: trace.transpose()?,
        cores: cores.transpose()?.unwrap_or_default(),
        later_batches: Vec::new(),
        changes: Vec::new(),
        problem: None,
        notes: Vec::new(),
        warnings: Vec::new(),
    };
    findings(process, timeline, &mut plan)?;
    if detail.ranges {
        ranges::add(process, timeline, &mut plan)?;
    }
    Ok(plan)
}

/// The stages of the first load that take any time.
fn stages(process: &DoughProcess<'_>, timeline: &Timeline, first: &Slot) -> Result<Vec<StageTime>> {
    let (bake, bulk) = (process.bake, &timeline.bulk);
    let preferment = bulk.preferment.map(|ripe| -> Result<_> {
        // The preferment goes on ripening beside an autolyse that it does not join.
        let next = bulk.autolyse.unwrap_or(bulk.mix).start_h;
        let from = bake.preferment.as_ref().map(|s| s.dough.as_celsius());
        let c = [from, Some(ripe.state.temperature_c)];
        Ok(StageTime {
            rise: Some(process.preferment_rise(&ripe)?),
            ..StageTime::new("preferment", [ripe.mixed, next], c)
        })
    });
    let proofed = PieceCache::new(process, bulk).rise(first.ripeness, first.dough_c);
    let (proofs, oven_in) = (first.shaped.proof_from, first.oven_in);
    let baked = timeline.end() + as_hours(bake.oven.bake);
    let cooled = baked + as_hours(bake.process.cool);
    let [proof_c, oven_c] = [first.shaped.state.temperature_c, first.dough_c].map(Some);
    let last = [
        StageTime {
            rise: Some(proofed),
            ..StageTime::new("proof", [proofs, oven_in], [proof_c, oven_c])
        },
        StageTime::new("bake", [oven_in, baked], [oven_c, None]),
        StageTime::new("cool", [baked, cooled], [None; 2]),
    ];
    let ahead = preferment.transpose()?.into_iter();
    let dough = ahead.chain(bulk.autolyse).chain([bulk.mix]);
    let pieces = first.shaped.parts.iter().copied().chain(last);
    let all = dough.chain(bulk.parts.iter().copied()).chain(pieces);
    let mut stages: Vec<_> = all.filter(|stage| stage.end_h > stage.start_h).collect();
    if bake.reference.hides_rise(bake.reference.bulk) {
        let dough = stages.iter_mut().filter(|s| s.name != "preferment");
        dough.for_each(|stage| stage.rise = None);
    }
    Ok(stages)
}

fn loads(process: &DoughProcess<'_>, timeline: &Timeline) -> Result<Vec<Load>> {
    let (bake, bulk) = (process.bake, &timeline.bulk);
    let each = bake.pieces_per_load().max(1);
    let mut bench = PieceCache::new(process, bulk);
    let load = |(slot, i): (&Slot, u32)| {
        let pieces = each.min(bake.pieces - i * each);
        let start_of = |name| {
            let part = slot.shaped.part(name);
            part.map_or(slot.shaped.proof_from, |p| p.start_h)
        };
        Ok(Load {
            number: i + 1,
            batch: 1,
            pieces,
            divide_h: start_of("divide"),
            shape_h: start_of("shape"),
            waits_h: [slot.waits.bulk, slot.waits.rest, slot.waits.retarder],
            retarder_h: slot.shaped.part("cold").map(|p| (p.start_h, p.end_h)),
            oven_in_h: slot.oven_in,
            oven_out_h: slot.oven_in + as_hours(bake.oven.bake),
            ripeness: slot.ripeness,
            dough_c: slot.dough_c,
            in_window: slot.in_window(process.p.rise_window),
            first_ripeness: bench.first_piece(slot.waits, pieces, slot.oven_in)?,
            ripeness_range: None,
            past_chance: None,
        })
    };
    timeline.loads.iter().zip(0..).map(load).collect()
}

fn preferment(process: &DoughProcess<'_>, bulk: &BulkResult) -> Result<Option<PrefermentTimes>> {
    let Some(ripe) = &bulk.preferment else {
        return Ok(None);
    };
    let ready = process.preferment_ready(ripe)?;
    // It may be used before its time in the cold is over.
    let cold = process.preferment_in_cold(ripe.mixed);
    let cold = cold.map(|[into, out]| (into, out.min(ripe.used)));
    Ok(Some(PrefermentTimes {
        mixed_h: ripe.mixed,
        cold_h: cold.filter(|(into, out)| into < out),
        ripe_h: ripe.mixed + ready.hours,
        ripe_range_h: None,
        window_open_h: ripe.mixed + ready.window_h.0,
        window_close_h: ready.window_h.1.map(|h| ripe.mixed + h),
        used_h: ripe.used,
        dose: process.dose(ripe.fresh_percent)?,
        fresh_percent: ripe.fresh_percent,
        growth: ripe.state.yeast() / ripe.fresh_percent,
    }))
}

/// How many times this dough's preferment is made: more than once when another dough gets its part.
fn preferment_times(bake: &Bake, batch: &Batch) -> f64 {
    let own = batch.stage_mass(MixStage::Preferment).as_grams();
    match &bake.preferment {
        Some(step) if own > 0.0 => 1.0 + step.also.as_grams() / own,
        _ => 1.0,
    }
}

/// What to know about a plan, and what to look out for. The gravest first, for where there is room for a few only:
/// what is too small or too little, then hours and hands, then what to watch.
fn findings(process: &DoughProcess<'_>, timeline: &Timeline, plan: &mut Plan) -> Result<()> {
    let bake = process.bake;
    let own_g = plan.batch.stage_mass(MixStage::Preferment).as_grams();
    let extra = (plan.preferment_times > 1.0).then_some(Finding::ExtraPreferment {
        all_g: own_g * plan.preferment_times,
        own_g,
    });
    let mut warnings = Vec::from_iter(extra);
    equipment::findings(process, plan, timeline.bulk.litres(), &mut warnings);
    let ripeness = timeline.first_share;
    let early = (ripeness < 1.0).then_some(Finding::FirstLoadEarly { ripeness });
    let mut notes = Vec::from_iter(early);
    notes.extend(from_reference(process, timeline)?);
    let scaled = bake.recipe_flour.map(|flour| Finding::ScaledRecipe {
        times: plan.batch.flour.as_grams() / flour.as_grams(),
        pieces: bake.pieces,
        piece_g: bake.piece.as_grams(),
    });
    notes.extend(scaled);
    notes.extend(wait_in_window(bake, plan));
    let folds = bake.process.folds.len() - plan.folds_h.len();
    warnings.extend((folds > 0).then_some(Finding::LateFolds { folds }));
    let rise = plan.bulk_rise;
    // By its own reference or log a bulk ends where the baker ends it, unless it comes out of the cold by the clock.
    let own = bake.reference.bulk.is_some() || process.learnt(Kind::Bulk).is_some();
    let usual = match (bake.out_of_cold(), own) {
        (Some(_), _) => 1.15..=2.5,
        (None, true) => 1.0..=f64::INFINITY,
        (None, false) => 1.5..=2.25,
    };
    let unusual = !usual.contains(&rise);
    warnings.extend(unusual.then_some(Finding::UnusualBulk { rise }));
    let recorded = process.rooms.recorded;
    let short = recorded.is_some_and(|(a, b)| timeline.start() < a || timeline.end() > b);
    warnings.extend(short.then_some(Finding::ShortRecord));
    let limits = Limits::shipped()?;
    let yeast_at_mix = plan.batch.mass_of(Role::Yeast, MixStage::Mix).as_grams() > 0.0;
    let instant = bake.formula.yeast_kind == YeastKind::Instant && yeast_at_mix;
    let ahead = plan.preferment_water.iter().map(|mix| (true, mix));
    for (for_preferment, mix) in ahead.chain([(false, &plan.water)]) {
        let problems = mix.problems.iter().cloned();
        warnings.extend(problems.map(|why| Finding::NoWater { why }));
        let Some(water) = mix.pour_temperature() else {
            continue;
        };
        let cautions = limits.water_cautions(water).into_iter();
        warnings.extend(cautions.map(|caution| Finding::Water {
            for_preferment,
            caution,
        }));
        if instant && !for_preferment {
            let caution = limits.instant_yeast_caution(water);
            notes.extend(caution.map(|caution| Finding::InstantYeast { caution }));
        }
    }
    if let (Some(own), Some(times)) = (&bake.formula.preferment, &plan.preferment) {
        let c = span_c(plan, &["preferment"]);
        let hours = times.used_h - times.mixed_h;
        let early_h = times.window_open_h - times.used_h;
        let late_h = times
            .window_close_h
            .map_or(0.0, |close| times.used_h - close);
        let is_off = bake.preferment_cold().is_some() && early_h.max(late_h) > UNSEEN_H;
        warnings.extend(is_off.then_some(Finding::PrefermentOffWindow {
            early_h: if early_h > 0.0 { early_h } else { -late_h },
        }));
        let beyond = beyond_published(own.kind, c, hours, Some(times.fresh_percent))?;
        let grown = Support::shipped()?.caution_of_growth(times.growth);
        let grown = grown.map_err(|e| e.at("[preferment]"))?;
        let beyond = beyond.into_iter().chain(grown);
        warnings.extend(beyond.map(|caution| Finding::BeyondRecipes { caution }));
    }
    // A proof that begins in the cold and warms up is not one in a cold place.
    let mut pairs = plan.stages.windows(2);
    let from_cold = pairs.any(|s| s[0].name == "cold" && s[1].name == "proof");
    let places = if from_cold { 1 } else { 2 };
    let (dough_c, _) = span_c(plan, &["bulk", "proof"][..places]);
    warnings.extend((dough_c < 10.0).then_some(Finding::ColdDough { dough_c }));
    let cold = bake.cold.as_ref().or(bake.preferment_cold());
    warnings.extend(cold.map(|_| Finding::Fridge));
    let warm = ["bulk", "warm up", "divide", "rest", "shape", "proof"];
    let (_, hot_c) = span_c(plan, &warm);
    let mut hottest = bake.process.dough;
    if hot_c > limits.hot_dough_c.as_celsius().max(hottest.as_celsius()) {
        hottest = Temperature::celsius(hot_c)?;
    }
    let cautions = limits.dough_cautions(hottest).into_iter();
    warnings.extend(cautions.map(|caution| Finding::WarmDough { caution }));
    (plan.notes, plan.warnings) = (notes, warnings);
    Ok(())
}

/// The stages of a plan beside those of the baker's reference, and those that end as in his log.
fn from_reference(process: &DoughProcess<'_>, timeline: &Timeline) -> Result<Vec<Finding>> {
    let (bulk, bake) = (&timeline.bulk, process.bake);
    let own = &bake.reference;
    // The reference's yeast is worth a word where the bake has another now.
    let moved = |own: Percent, now: Percent| {
        let own = own.as_percent();
        ((now.as_percent() / own - 1.0).abs() > 1e-9).then_some(own)
    };
    let preferment = bake.formula.preferment.as_ref();
    let of_preferment = own.dose.zip(preferment.and_then(|own| own.dose));
    let of_preferment = of_preferment.and_then(|(own, now)| moved(own, now));
    let at_mix = moved(own.yeast, bake.formula.yeast.unwrap_or(own.yeast));
    let preferment_g = of_preferment.and_then(|percent| bake.preferment_g(percent));
    let mix_g = at_mix.and_then(|percent| bake.recipe_g(percent));
    let beside = |stage, hours: f64, dough_c, own: StageReference| {
        let (reference_percent, reference_g) = match stage {
            "preferment" => (of_preferment, preferment_g),
            _ => (at_mix, mix_g),
        };
        Finding::FromReference {
            stage,
            min: 60.0 * hours,
            dough_c,
            reference_min: 60.0 * as_hours(own.time),
            reference_c: own.dough.as_celsius(),
            reference_percent,
            reference_g,
        }
    };
    let by_log = |stage, kind, hours: f64, dough_c| {
        process.learnt(kind).map(|_| Finding::FromLog {
            stage,
            min: 60.0 * hours,
            dough_c,
        })
    };
    let mut found = Vec::new();
    let ripe = bulk.preferment.filter(|_| bake.preferment_cold().is_none());
    if let (Some(own), Some(ripe)) = (own.preferment, &ripe) {
        let mean_c = process.preferment_mean_c(ripe)?;
        found.push(beside("preferment", ripe.used - ripe.mixed, mean_c, own));
    }
    // Hours in the cold are no measure of the baker's own.
    let cold = |stage| bake.cold_of(stage).is_some();
    let by_clock = bake.process.bulk_time.is_some() || cold(ColdStage::Bulk);
    if !by_clock && own.bulk.is_some() | process.learnt(Kind::Bulk).is_some() {
        let (hours, mean_c) = (bulk.bulk_h(), process.bulk_mean_c(bulk)?);
        found.extend(own.bulk.map(|own| beside("bulk", hours, mean_c, own)));
        found.extend(by_log("bulk", Kind::Bulk, hours, mean_c));
    }
    if let Some(first) = timeline.loads.first().filter(|_| !cold(ColdStage::Proof)) {
        let mut pieces = PieceCache::new(process, bulk);
        let mean_c = pieces.proof_mean_c(&first.shaped, first.oven_in)?;
        let hours = first.oven_in - first.shaped.proof_from;
        found.extend(own.proof.map(|own| beside("proof", hours, mean_c, own)));
        found.extend(by_log("proof", Kind::Proof, hours, mean_c));
    }
    Ok(found)
}

/// What waiting in the window costs where there is a retarder: loads further along than the end point, by what a baker sees.
pub(super) fn wait_in_window(bake: &Bake, plan: &Plan) -> Option<Finding> {
    bake.process.retarder?;
    let riper = |l: &&Load| l.in_window && l.retarder_h.is_none() && l.ripeness > 1.01;
    let loads = plan.loads.iter().filter(riper);
    Some(Finding::WaitInWindow {
        ripeness: loads.clone().map(|l| l.ripeness).reduce(f64::max)?,
        loads: loads.map(|l| l.number).collect(),
    })
}

/// Coldest and warmest dough at the ends of some stages, °C.
fn span_c(plan: &Plan, names: &[&str]) -> (f64, f64) {
    let stages = plan.stages.iter().filter(|s| names.contains(&s.name));
    let ends = stages.flat_map(|s| [s.dough_start_c, s.dough_end_c]);
    ends.flatten().fold((f64::MAX, f64::MIN), |(low, high), c| {
        (low.min(c), high.max(c))
    })
}
