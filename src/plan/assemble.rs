//! From a found course of events to a plan in a baker's terms, with what to know and look out for.

use super::loads::Slot;
use super::process::{BulkResult, DoughProcess, PieceCache};
use super::{
    Detail, Found, Load, Plan, PrefermentTimes, StageTime, core_temperature, feasibility, ranges,
    sensitivity, trace, water, working_hours,
};
use crate::error::{Error, Result};
use crate::ferment::{Parameters, beyond_published};
use crate::formula::{Batch, Role, Stage, YeastKind};
use crate::heat::cautions::Limits;
use crate::units::{Temperature, as_hours};

/// When a load's dividing or shaping begins.
fn start_of(slot: &Slot, name: &str) -> f64 {
    slot.shaped
        .part(name)
        .map_or(slot.shaped.proof_from, |p| p.start)
}

impl Found {
    /// Puts the course of events into a plan.
    pub(super) fn told(
        &self,
        line: &DoughProcess<'_>,
        p: &Parameters,
        detail: Detail,
    ) -> Result<Plan> {
        let mut plan = told(line, &self.bulked, &self.slots, self.share, p)?;
        if detail.ranges {
            let events = (&self.bulked, self.slots.as_slice(), self.share);
            ranges::ranges(line, &self.rooms, p, events)?.into_plan(&mut plan);
            if let (Some(times), Some(ripe)) = (&mut plan.preferment, &self.bulked.preferment) {
                times.ripe_range_h = ranges::ripe(line, p, ripe)?;
            }
        }
        if detail.reasons {
            plan.reasons = sensitivity::reasons(line, &self.rooms, p, &self.bulked, self.share)?;
        }
        if detail.cores {
            plan.cores = core_temperature::cores(line, &self.bulked, &plan)?;
        }
        if detail.trace {
            plan.trace = Some(trace::trace(line, &self.bulked, &self.slots)?);
        }
        Ok(plan)
    }
}

fn told(
    line: &DoughProcess<'_>,
    bulked: &BulkResult,
    slots: &[Slot],
    share: f64,
    p: &Parameters,
) -> Result<Plan> {
    let bake = line.bake;
    let first = slots.first().ok_or(Error::NotSettled {
        what: "the first load",
        steps: 0,
    })?;
    let last = slots.last().unwrap_or(first);
    let bake_h = as_hours(bake.oven.bake);
    let stage = |name, start_h, end_h, dough_start_c, dough_end_c| StageTime {
        name,
        start_h,
        end_h,
        dough_start_c,
        dough_end_c,
        end_range_h: None,
    };

    let mut stages = Vec::new();
    if let Some(ripe) = &bulked.preferment {
        // The preferment goes on ripening beside an autolyse that it does not join.
        let next = bulked.autolyse.map_or(bulked.mix[0], |a| a[0]);
        let from = bake.preferment.as_ref().map(|s| s.dough.as_celsius());
        stages.push(stage(
            "preferment",
            ripe.mixed,
            next,
            from,
            Some(ripe.state.temperature_c),
        ));
    }
    if let Some([start, end]) = bulked.autolyse {
        let c = bulked.autolyse_c;
        stages.push(stage(
            "autolyse",
            start,
            end,
            c.map(|c| c[0]),
            c.map(|c| c[1]),
        ));
    }
    let [from, to] = bulked.mix_c;
    stages.push(stage(
        "mix",
        bulked.mix[0],
        bulked.mix[1],
        Some(from),
        Some(to),
    ));
    for part in bulked.parts.iter().chain(first.shaped.parts()) {
        stages.push(stage(
            part.name,
            part.start,
            part.end,
            Some(part.from_c),
            Some(part.to_c),
        ));
    }
    let shaped_c = Some(first.shaped.state.temperature_c);
    stages.push(stage(
        "proof",
        first.shaped.proof_from,
        first.oven_in,
        shaped_c,
        Some(first.dough_c),
    ));
    let baked = last.oven_in + bake_h;
    stages.push(stage(
        "bake",
        first.oven_in,
        baked,
        Some(first.dough_c),
        None,
    ));
    stages.push(stage(
        "cool",
        baked,
        baked + as_hours(bake.process.cool),
        None,
        None,
    ));
    stages.retain(|s| s.end_h > s.start_h);

    let each = bake.pieces_per_load().max(1);
    let dough = line.dough(bulked)?;
    let mut bench = PieceCache::new(line, bulked, &dough);
    let mut loads = Vec::new();
    for (slot, i) in slots.iter().zip(0u32..) {
        let pieces = each.min(bake.pieces - i * each);
        loads.push(Load {
            number: i + 1,
            pieces,
            divide_h: start_of(slot, "divide"),
            shape_h: start_of(slot, "shape"),
            waits_h: [slot.waits.bulk, slot.waits.rest, slot.waits.retarder],
            retarder_h: slot.shaped.part("cold").map(|p| (p.start, p.end)),
            oven_in_h: slot.oven_in,
            oven_out_h: slot.oven_in + bake_h,
            ripeness: slot.ripeness,
            dough_c: slot.dough_c,
            in_window: slot.in_window(p.window),
            first_and_last: (
                bench.first_piece(slot.waits, pieces, slot.oven_in)?,
                slot.ripeness,
            ),
            ripeness_range: None,
            past_chance: None,
        });
    }
    let bulk_h = bulked.bulk_end() - bulked.bulk_start();
    let folds = bake.process.folds.iter().map(|&f| as_hours(f));
    let preferment = match &bulked.preferment {
        Some(ripe) => {
            let ready = line.preferment_ready(ripe)?;
            Some(PrefermentTimes {
                mixed_h: ripe.mixed,
                ripe_h: ripe.mixed + ready.hours,
                ripe_range_h: None,
                window_open_h: ripe.mixed + ready.window_h.0,
                window_close_h: ready.window_h.1.map(|h| ripe.mixed + h),
                used_h: ripe.used,
                dose: line.dose(ripe.fresh_percent)?,
                fresh_percent: ripe.fresh_percent,
            })
        }
        None => None,
    };
    let room = line.room_at(
        bulked
            .preferment
            .as_ref()
            .map_or(bulked.mix[0], |r| r.mixed),
    );
    let preferment_times = preferment_times(line, &bulked.batch);
    let mut plan = Plan {
        preheat_h: (!bake.oven.preheat.is_zero())
            .then(|| first.oven_in - as_hours(bake.oven.preheat)),
        folds_h: folds
            .clone()
            .filter(|&f| f < bulk_h)
            .map(|f| bulked.bulk_start() + f)
            .collect(),
        loads,
        preferment,
        preferment_water: water::of_preferment(bake, &bulked.batch, preferment_times, room)?,
        preferment_times,
        water: bulked.water.clone(),
        batch: bulked.batch.clone(),
        yeast_at_mix: line.dose(bulked.added)?,
        bulk_share: bulked.state.gas / line.doubled(),
        reasons: Vec::new(),
        trace: None,
        cores: Vec::new(),
        problem: None,
        notes: Vec::new(),
        warnings: Vec::new(),
        stages,
    };
    let late_folds = folds.filter(|&f| f >= bulk_h).count();
    // The gravest first, for where there is room for a few only: what is too small or too little, then
    // hours and hands, then what to watch.
    for_another_dough(&mut plan);
    means(line, &mut plan, line.litres(bulked)?);
    remarks(line, &mut plan, share, late_folds)?;
    Ok(plan)
}

/// How many times this dough's preferment is made: more than once when another dough gets its part.
fn preferment_times(line: &DoughProcess<'_>, batch: &Batch) -> f64 {
    let own = batch.stage_mass(Stage::Preferment).as_grams();
    match &line.bake.preferment {
        Some(step) if own > 0.0 => 1.0 + step.also.as_grams() / own,
        _ => 1.0,
    }
}

/// What a preferment for two doughs comes to.
fn for_another_dough(plan: &mut Plan) {
    let own = plan.batch.stage_mass(Stage::Preferment).as_grams();
    let all = own * plan.preferment_times;
    if plan.preferment_times > 1.0 {
        plan.warnings.push(format!(
            "Make {all:.0} g of preferment in all: {own:.0} g of it go into this dough and {:.0} g into the other.",
            all - own
        ));
    }
}

/// What to know about a plan, and what to look out for.
fn remarks(line: &DoughProcess<'_>, plan: &mut Plan, share: f64, late_folds: usize) -> Result<()> {
    if share < 1.0 {
        plan.notes.push(format!(
            "The first load enters at {share:.2} of its proof, so that the last one is still in its window."
        ));
    }
    if let Some(hours) = line.bake.people {
        plan.warnings
            .extend(working_hours::remark(plan, line.bake, hours));
    }
    if late_folds > 0 {
        plan.warnings.push(format!(
            "{late_folds} of the folds would come after the end of the bulk and are left out."
        ));
    }
    if !(0.5..=1.25).contains(&plan.bulk_share) {
        plan.warnings.push(format!(
            "The bulk comes to {:.0} % of doubled: see that this is meant.",
            100.0 * plan.bulk_share
        ));
    }
    if let (Some((from, to)), Some(start), Some(end)) =
        (line.recorded(), plan.stages.first(), plan.loads.last())
        && (start.start_h < from || end.oven_in_h > to)
    {
        plan.warnings.push(
            "The room's record does not cover the whole plan: its first and last temperature are taken to go on.".into(),
        );
    }
    let limits = Limits::shipped()?;
    for (name, mix) in [
        ("preferment", &plan.preferment_water),
        ("dough", &Some(plan.water.clone())),
    ] {
        let Some(mix) = mix else { continue };
        plan.warnings.extend(mix.problems.iter().cloned());
        if let Some(water) = mix
            .balance
            .map(|b| b.water)
            .or(mix.ddt_formula.map(|r| r.water))
        {
            let cautions = limits.water_cautions(water);
            plan.warnings.extend(
                cautions
                    .into_iter()
                    .map(|c| format!("Water of the {name}: {c:?}")),
            );
            if line.bake.formula.yeast_kind == YeastKind::Instant
                && plan.batch.mass_of(Role::Yeast, Stage::Mix).as_grams() > 0.0
                && name == "dough"
            {
                let caution = limits.instant_yeast_caution(water);
                plan.notes.extend(caution.map(|c| format!("{c:?}")));
            }
        }
    }
    let span = |names: &[&str]| {
        let stages = plan.stages.iter().filter(|s| names.contains(&s.name));
        let ends = stages
            .flat_map(|s| [s.dough_start_c, s.dough_end_c])
            .flatten();
        ends.fold((f64::MAX, f64::MIN), |(low, high), c| {
            (low.min(c), high.max(c))
        })
    };
    if let (Some(own), Some(times)) = (&line.bake.formula.preferment, &plan.preferment) {
        let c = span(&["preferment"]);
        let beyond = beyond_published(own.kind, c, Some(times.fresh_percent))?;
        plan.warnings
            .extend(beyond.iter().map(|c| format!("{c:?}")));
    }
    // A proof that begins in the cold and warms up is not one in a cold place.
    let from_cold = plan
        .stages
        .windows(2)
        .any(|s| s[0].name == "cold" && s[1].name == "proof");
    let cold = match from_cold {
        true => span(&["bulk"]).0,
        false => span(&["bulk", "proof"]).0,
    };
    if cold < 10.0 {
        plan.warnings.push(format!(
            "The dough comes down to {cold:.0} °C outside the cold: no published recipe of a straight dough is as cold, trust these hours less."
        ));
    }
    let hot = span(&["bulk", "warm up", "divide", "rest", "shape", "proof"]).1;
    let dough = line.bake.process.dough;
    let hottest = if hot > limits.hot_dough.as_celsius().max(dough.as_celsius()) {
        Temperature::celsius(hot)?
    } else {
        dough
    };
    let cautions = limits.dough_cautions(hottest);
    plan.warnings
        .extend(cautions.iter().map(|c| format!("{c:?}")));
    Ok(())
}

/// Hands are not faster than this, s a piece (by judgement).
const FASTEST_S: f64 = 2.0;
/// A proof shorter than this is no proof of its own, h (by judgement).
const SHORT_PROOF_H: f64 = 0.25;

/// Whether mixer, tub and hands suffice.
fn means(line: &DoughProcess<'_>, plan: &mut Plan, litres: f64) {
    let dough = plan.batch.dough.as_kilograms();
    let kitchen = &line.bake.kitchen;
    if let Some(mixer) = kitchen.mixer.filter(|m| m.as_kilograms() < dough) {
        let mixes = (dough / mixer.as_kilograms()).ceil();
        let minutes = 60.0 * as_hours(line.bake.process.mix);
        plan.warnings.push(format!(
            "The mixer takes {:.1} kg: make {mixes:.0} mixes of {:.1} kg. The plan's hours are those of the last one; the first is {:.0} min older, so begin it that much sooner and bake it first. From the second mix on the bowl is warm: measure, and make the water a little colder.",
            mixer.as_kilograms(),
            dough / mixes,
            minutes * (mixes - 1.0)
        ));
    }
    if let Some(tub_l) = kitchen.tub_l
        && litres > tub_l
    {
        plan.warnings.push(format!(
                "At the end of its bulk the dough takes up about {litres:.0} L, and the tub holds {tub_l:.0} L: use a larger one, or two."
            ));
    }
    let process = &line.bake.process;
    crowding(line, plan);
    let rest_max = as_hours(process.rest_max);
    let rests = plan
        .loads
        .iter()
        .map(|l| l.shape_h - l.divide_h - as_hours(process.divide));
    let longest = rests.clone().fold(0.0, f64::max);
    if longest > rest_max + 1e-6 {
        plan.warnings.push(format!(
            "Before the hands are free to shape them, {} of the loads rest longer than bench_rest_max_min, up to {:.0} min.",
            rests.filter(|&r| r > rest_max + 1e-6).count(),
            60.0 * longest
        ));
    }
    for (what, hours, pieces, key) in [
        (
            "Dividing",
            as_hours(process.divide),
            line.bake.pieces,
            "divide",
        ),
        (
            "Shaping",
            as_hours(process.shape),
            line.bake.pieces_per_load(),
            "shape",
        ),
    ] {
        let seconds = 3600.0 * hours / f64::from(pieces.max(1));
        if hours > 0.0 && seconds < FASTEST_S {
            plan.warnings.push(format!(
                "{what} {pieces} pieces in {:.0} min leaves {seconds:.1} s for each: give {key}_s_per_piece.",
                60.0 * hours
            ));
        }
    }
    if let Some(proof) = plan.stages.iter().find(|s| s.name == "proof")
        && proof.end_h - proof.start_h < SHORT_PROOF_H
    {
        plan.warnings.push(format!(
            "The proof takes only {:.0} min: most of it happens on the bench. Shape sooner, or use less yeast or a cooler dough.",
            60.0 * (proof.end_h - proof.start_h)
        ));
    } else if plan.stages.iter().all(|s| s.name != "proof") {
        plan.warnings.push(
            "The pieces are at their proof when they are shaped, or come from the cold: no time is left for one. Use less yeast, a cooler dough, or less time.".into(),
        );
    }
    let inside = |share: f64| (line.window().open..=line.window().close).contains(&share);
    let torn: Vec<_> = plan
        .loads
        .iter()
        .filter(|l| l.in_window && !(inside(l.first_and_last.0) && inside(l.first_and_last.1)))
        .collect();
    if let (Some(one), all) = (torn.first(), torn.len()) {
        let which = feasibility::numbers(torn.iter().map(|l| l.number));
        let (first, last) = one.first_and_last;
        plan.warnings.push(format!(
            "{} {which}: {}first piece comes to {:.0} % of its proof and {}last to {:.0} %, not all inside the window: shape faster, or in two goes.",
            if all == 1 { "Load" } else { "Loads" },
            if all == 1 { "its ".to_owned() } else { format!("of load {} the ", one.number) },
            100.0 * first,
            if all == 1 { "its " } else { "the " },
            100.0 * last
        ));
    }
}

/// Most pieces that stand in one place at one time, of spans with their pieces; what leaves makes room for what
/// comes at that hour.
fn most_at_once(spans: &[(f64, f64, u32)]) -> u32 {
    let at = |hour: f64| {
        let there = spans.iter().filter(|s| s.0 <= hour && hour < s.1);
        there.map(|s| s.2).sum::<u32>()
    };
    spans.iter().map(|s| at(s.0)).max().unwrap_or(0)
}

/// Whether boards and cold place hold the pieces that stand there at one time.
fn crowding(line: &DoughProcess<'_>, plan: &mut Plan) {
    let kitchen = &line.bake.kitchen;
    let cold = |l: &Load| l.retarder_h.map(|(from, to)| (from, to, l.pieces));
    let in_cold: Vec<_> = plan.loads.iter().filter_map(cold).collect();
    // On boards from shaping on, but for the time in the cold.
    let on_boards: Vec<_> = plan
        .loads
        .iter()
        .map(|l| {
            (
                l.retarder_h.map_or(l.shape_h, |c| c.1),
                l.oven_in_h,
                l.pieces,
            )
        })
        .collect();
    for (place, room, needed) in [
        (
            "The boards hold",
            kitchen.board_capacity,
            most_at_once(&on_boards),
        ),
        (
            "The cold place holds",
            kitchen.retarder_capacity,
            most_at_once(&in_cold),
        ),
    ] {
        if let Some(room) = room.filter(|&room| room < needed) {
            plan.warnings.push(format!(
                "{place} {room} pieces, and {needed} stand there at one time: divide them into two doughs, or find room."
            ));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::most_at_once;

    /// By hand: each list is drawn as a row of bars, and the highest stack counted.
    #[test]
    fn pieces_that_leave_make_room() {
        for (spans, most) in [
            (&[] as &[(f64, f64, u32)], 0),
            (&[(1.0, 2.0, 8)], 8),
            // One after the other, and a quarter of an hour together.
            (&[(1.0, 2.0, 8), (2.0, 3.0, 6)], 8),
            (&[(1.0, 2.0, 8), (1.75, 3.0, 6)], 14),
            // Three loads, of which the second comes first and stays longest.
            (&[(2.0, 3.0, 5), (1.0, 6.0, 4), (3.0, 5.0, 7)], 11),
            // In at the same hour.
            (&[(1.0, 2.0, 3), (1.0, 4.0, 3), (2.0, 4.0, 2)], 6),
        ] {
            assert_eq!(most_at_once(spans), most, "{spans:?}");
        }
    }
}
