//! From a timeline to a plan in a baker's terms, with what to know and look out for.

use super::bake::Bake;
use super::finding::Finding;
use super::loads::Slot;
use super::model::{Detail, Load, Plan, PrefermentTimes, StageTime};
use super::process::{BulkResult, DoughProcess, PieceCache};
use super::search::Timeline;
use super::water::MixWater;
use super::{core_temperature, equipment, ranges, sensitivity, trace, water, working_hours};
use crate::error::{Error, Result};
use crate::ferment::beyond_published;
use crate::formula::{Batch, Role, Stage, YeastKind};
use crate::heat::cautions::Limits;
use crate::units::{Temperature, as_hours};

/// The plan of a timeline.
pub(super) fn plan(
    process: &DoughProcess<'_>,
    timeline: &Timeline,
    detail: Detail,
) -> Result<Plan> {
    let mut plan = with_times(process, timeline)?;
    findings(process, timeline, &mut plan)?;
    if detail.ranges {
        ranges::add(process, timeline, &mut plan)?;
    }
    if detail.reasons {
        plan.reasons = sensitivity::reasons(process, timeline)?;
    }
    if detail.cores {
        plan.cores = core_temperature::cores(process, &timeline.bulk, &plan)?;
    }
    if detail.trace {
        plan.trace = Some(trace::trace(process, timeline)?);
    }
    Ok(plan)
}

fn with_times(process: &DoughProcess<'_>, timeline: &Timeline) -> Result<Plan> {
    let (bake, bulk) = (process.bake, &timeline.bulk);
    let first = timeline.loads.first().ok_or(Error::NotSettled {
        what: "the first load",
        steps: 0,
    })?;
    let preferment = preferment(process, bulk)?;
    let room =
        (process.rooms.kitchen).at(preferment.as_ref().map_or(bulk.mix.start_h, |p| p.mixed_h));
    let preferment_times = preferment_times(bake, &bulk.batch);
    let bulk_h = bulk.bulk_h();
    let folds = bake.process.folds.iter().map(|&f| as_hours(f));
    Ok(Plan {
        stages: stages(bake, timeline, first),
        preheat_h: (!bake.oven.preheat.is_zero())
            .then(|| first.oven_in - as_hours(bake.oven.preheat)),
        folds_h: folds
            .filter(|&f| f < bulk_h)
            .map(|f| bulk.bulk_start() + f)
            .collect(),
        loads: loads(process, timeline)?,
        preferment,
        preferment_water: water::of_preferment(bake, &bulk.batch, preferment_times, room)?,
        preferment_times,
        water: bulk.water.clone(),
        batch: bulk.batch.clone(),
        yeast_at_mix: process.dose(bulk.added)?,
        bulk_share: bulk.state.gas / process.doubled(),
        reasons: Vec::new(),
        trace: None,
        cores: Vec::new(),
        problem: None,
        notes: Vec::new(),
        warnings: Vec::new(),
    })
}

/// The stages of the first load that take any time.
fn stages(bake: &Bake, timeline: &Timeline, first: &Slot) -> Vec<StageTime> {
    let bulk = &timeline.bulk;
    let preferment = bulk.preferment.map(|ripe| {
        // The preferment goes on ripening beside an autolyse that it does not join.
        let next = bulk.autolyse.unwrap_or(bulk.mix).start_h;
        let from = bake.preferment.as_ref().map(|s| s.dough.as_celsius());
        let c = [from, Some(ripe.state.temperature_c)];
        StageTime::new("preferment", [ripe.mixed, next], c)
    });
    let (proofs, oven_in) = (first.shaped.proof_from, first.oven_in);
    let baked = timeline.end() + as_hours(bake.oven.bake);
    let [proof_c, oven_c] = [first.shaped.state.temperature_c, first.dough_c].map(Some);
    let last = [
        StageTime::new("proof", [proofs, oven_in], [proof_c, oven_c]),
        StageTime::new("bake", [oven_in, baked], [oven_c, None]),
        StageTime::new(
            "cool",
            [baked, baked + as_hours(bake.process.cool)],
            [None; 2],
        ),
    ];
    let dough = preferment
        .into_iter()
        .chain(bulk.autolyse)
        .chain([bulk.mix]);
    let pieces = first.shaped.parts.iter().copied().chain(last);
    dough
        .chain(bulk.parts.iter().copied())
        .chain(pieces)
        .filter(|stage| stage.end_h > stage.start_h)
        .collect()
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
            pieces,
            divide_h: start_of("divide"),
            shape_h: start_of("shape"),
            waits_h: [slot.waits.bulk, slot.waits.rest, slot.waits.retarder],
            retarder_h: slot.shaped.part("cold").map(|p| (p.start_h, p.end_h)),
            oven_in_h: slot.oven_in,
            oven_out_h: slot.oven_in + as_hours(bake.oven.bake),
            ripeness: slot.ripeness,
            dough_c: slot.dough_c,
            in_window: slot.in_window(process.p.window),
            first_and_last: (
                bench.first_piece(slot.waits, pieces, slot.oven_in)?,
                slot.ripeness,
            ),
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
    Ok(Some(PrefermentTimes {
        mixed_h: ripe.mixed,
        ripe_h: ripe.mixed + ready.hours,
        ripe_range_h: None,
        window_open_h: ripe.mixed + ready.window_h.0,
        window_close_h: ready.window_h.1.map(|h| ripe.mixed + h),
        used_h: ripe.used,
        dose: process.dose(ripe.fresh_percent)?,
        fresh_percent: ripe.fresh_percent,
    }))
}

/// How many times this dough's preferment is made: more than once when another dough gets its part.
fn preferment_times(bake: &Bake, batch: &Batch) -> f64 {
    let own = batch.stage_mass(Stage::Preferment).as_grams();
    match &bake.preferment {
        Some(step) if own > 0.0 => 1.0 + step.also.as_grams() / own,
        _ => 1.0,
    }
}

/// What to know about a plan, and what to look out for. The gravest first, for where there is room for a few only:
/// what is too small or too little, then hours and hands, then what to watch.
fn findings(process: &DoughProcess<'_>, timeline: &Timeline, plan: &mut Plan) -> Result<()> {
    let bake = process.bake;
    let (mut notes, mut warnings) = (Vec::new(), Vec::new());
    if plan.preferment_times > 1.0 {
        let own_g = plan.batch.stage_mass(Stage::Preferment).as_grams();
        warnings.push(Finding::ExtraPreferment {
            all_g: own_g * plan.preferment_times,
            own_g,
        });
    }
    equipment::findings(process, plan, timeline.bulk.litres(), &mut warnings);
    if timeline.first_share < 1.0 {
        notes.push(Finding::FirstLoadEarly {
            ripeness: timeline.first_share,
        });
    }
    if let Some(hours) = bake.people {
        warnings.extend(working_hours::finding(plan, bake, hours));
    }
    let folds = bake.process.folds.len() - plan.folds_h.len();
    if folds > 0 {
        warnings.push(Finding::LateFolds { folds });
    }
    if !(0.5..=1.25).contains(&plan.bulk_share) {
        warnings.push(Finding::UnusualBulk {
            doubled_percent: 100.0 * plan.bulk_share,
        });
    }
    if process
        .rooms
        .recorded
        .is_some_and(|(from, to)| timeline.start() < from || timeline.end() > to)
    {
        warnings.push(Finding::ShortRecord);
    }
    let mixes = [
        (true, plan.preferment_water.as_ref()),
        (false, Some(&plan.water)),
    ];
    for (for_preferment, mix) in mixes {
        let Some(mix) = mix else { continue };
        of_water(plan, bake, mix, for_preferment, &mut notes, &mut warnings)?;
    }
    if let (Some(own), Some(times)) = (&bake.formula.preferment, &plan.preferment) {
        let c = span_c(plan, &["preferment"]);
        let beyond = beyond_published(own.kind, c, Some(times.fresh_percent))?;
        warnings.extend(
            beyond
                .into_iter()
                .map(|caution| Finding::BeyondRecipes { caution }),
        );
    }
    of_dough(plan, bake.process.dough, &mut warnings)?;
    (plan.notes, plan.warnings) = (notes, warnings);
    Ok(())
}

fn of_water(
    plan: &Plan,
    bake: &Bake,
    mix: &MixWater,
    for_preferment: bool,
    notes: &mut Vec<Finding>,
    warnings: &mut Vec<Finding>,
) -> Result<()> {
    let why = mix.problems.iter().cloned();
    warnings.extend(why.map(|why| Finding::NoWater { why }));
    let Some(water) = mix.pour_temperature() else {
        return Ok(());
    };
    let limits = Limits::shipped()?;
    let cautions = limits.water_cautions(water).into_iter();
    warnings.extend(cautions.map(|caution| Finding::Water {
        for_preferment,
        caution,
    }));
    let yeast_at_mix = plan.batch.mass_of(Role::Yeast, Stage::Mix).as_grams() > 0.0;
    if bake.formula.yeast_kind == YeastKind::Instant && yeast_at_mix && !for_preferment {
        let caution = limits.instant_yeast_caution(water);
        notes.extend(caution.map(|caution| Finding::InstantYeast { caution }));
    }
    Ok(())
}

/// Coldest and warmest dough at the ends of some stages, °C.
fn span_c(plan: &Plan, names: &[&str]) -> (f64, f64) {
    let stages = plan.stages.iter().filter(|s| names.contains(&s.name));
    let ends = stages
        .flat_map(|s| [s.dough_start_c, s.dough_end_c])
        .flatten();
    ends.fold((f64::MAX, f64::MIN), |(low, high), c| {
        (low.min(c), high.max(c))
    })
}

fn of_dough(plan: &Plan, wanted: Temperature, warnings: &mut Vec<Finding>) -> Result<()> {
    // A proof that begins in the cold and warms up is not one in a cold place.
    let mut pairs = plan.stages.windows(2);
    let from_cold = pairs.any(|s| s[0].name == "cold" && s[1].name == "proof");
    let places: &[&str] = if from_cold {
        &["bulk"]
    } else {
        &["bulk", "proof"]
    };
    let (dough_c, _) = span_c(plan, places);
    if dough_c < 10.0 {
        warnings.push(Finding::ColdDough { dough_c });
    }
    let limits = Limits::shipped()?;
    let (_, hot) = span_c(
        plan,
        &["bulk", "warm up", "divide", "rest", "shape", "proof"],
    );
    let hottest = if hot > limits.hot_dough.as_celsius().max(wanted.as_celsius()) {
        Temperature::celsius(hot)?
    } else {
        wanted
    };
    let cautions = limits.dough_cautions(hottest).into_iter();
    warnings.extend(cautions.map(|caution| Finding::WarmDough { caution }));
    Ok(())
}
