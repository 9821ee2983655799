//! The oven takes so many pieces at a time; the others wait and go on rising. Here each load is given
//! its hour in the oven, and as much waiting as brings it there at its best.

use super::bake::{Bake, ColdStage, HoldLaterLoads};
use super::process::{BulkResult, DoughProcess, PieceCache, Shaped, Waits};
use crate::budget;
use crate::error::{Error, Result};
use crate::ferment::Window;
use crate::numeric;
use crate::units::as_hours;

/// A load with its place in the oven.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slot {
    pub waits: Waits,
    pub shaped: Shaped,
    pub oven_in: f64,
    /// Share of the proof's end point when it enters the oven, and temperature of the dough.
    pub ripeness: f64,
    pub dough_c: f64,
}

impl Slot {
    pub fn in_window(&self, window: Window) -> bool {
        // A millionth is the rounding of the hour, not a fault of the plan.
        (window.open - 1e-6..=window.close + 1e-6).contains(&self.ripeness)
    }

    /// True when it enters in its window and no piece of it rests too long before.
    pub fn fits(&self, line: &DoughProcess<'_>) -> bool {
        self.in_window(line.p.rise_window) && self.waits.rest <= longest_rest(line) + 1e-6
    }
}

/// How much longer than the first load's a rest may be, h.
fn longest_rest(line: &DoughProcess<'_>) -> f64 {
    as_hours(line.bake.process.rest_max) - as_hours(line.bake.process.rest)
}

/// Hours from one load's entry to the next one's.
pub(super) fn cycle_h(bake: &Bake) -> f64 {
    as_hours(bake.oven.bake) + as_hours(bake.oven.recover)
}

/// How many loads the pieces make.
pub(super) fn count(bake: &Bake) -> u32 {
    bake.pieces.div_ceil(bake.pieces_per_load().max(1))
}

/// A load with these waits, as it enters the oven.
fn enters(bench: &mut PieceCache<'_>, waits: Waits, oven_in: f64) -> Result<Slot> {
    budget::spend(1)?;
    let shaped = bench.shaped(waits)?;
    let (ripeness, dough_c) = bench.proof_at(&shaped, oven_in)?;
    Ok(Slot {
        waits,
        shaped,
        oven_in,
        ripeness,
        dough_c,
    })
}

/// The first load, which does not wait; it enters the oven at the share `first` of its proof.
pub(super) fn first(line: &DoughProcess<'_>, bulked: &BulkResult, first: f64) -> Result<Slot> {
    let mut bench = PieceCache::new(line, bulked);
    let shaped = bench.shaped(Waits::default())?;
    if let Some(out_h) = bench.out_h {
        return enters(&mut bench, Waits::default(), shaped.proof_from + out_h);
    }
    let oven_in = bench.proof_until(&shaped, first)?.ok_or_else(|| {
        Error::unreachable(
            "the end of the proof",
            "in three weeks the pieces do not get there",
            "proof in a warmer place (proof_c; above 40 °C in a cooler one) or use more yeast",
        )
    })?;
    enters(&mut bench, Waits::default(), oven_in)
}

/// The first load as it enters the oven at an hour; `None` where it is not shaped by then.
pub(super) fn first_at(
    line: &DoughProcess<'_>,
    bulked: &BulkResult,
    hour: f64,
) -> Result<Option<Slot>> {
    let slot = enters(&mut PieceCache::new(line, bulked), Waits::default(), hour)?;
    Ok(Some(slot).filter(|slot| slot.shaped.proof_from <= hour + 1e-9))
}

/// All loads behind a first one of a dough whose pieces are on their way at an hour: divided and shaped as planned,
/// they leave the cold and enter the oven when they are ready for it, and not before that hour.
pub(super) fn under_way(
    line: &DoughProcess<'_>,
    bulked: &BulkResult,
    first: Slot,
    planned: &[Slot],
    now: f64,
) -> Result<Vec<Slot>> {
    let mut bench = PieceCache::new(line, bulked);
    let mut oven_free = first.oven_in;
    let mut slots = vec![first];
    for waits in planned.iter().skip(1).map(|slot| slot.waits) {
        oven_free += cycle_h(line.bake);
        let shaped = bench.shaped(waits)?;
        oven_free = oven_free.max(now);
        let mut slot = enters(&mut bench, waits, oven_free.max(shaped.proof_from))?;
        if shaped.part("cold").is_some_and(|cold| cold.end_h > now) {
            // It is in the cold, or will be: out of it in time for the oven.
            let with = |retarder| Waits { retarder, ..waits };
            let least = (waits.retarder - (shaped.proof_from - now)).max(0.0);
            let most = (waits.retarder + oven_free - shaped.proof_from).max(least);
            let mut over =
                |hours| Ok::<_, Error>(enters(&mut bench, with(hours), oven_free)?.ripeness - 1.0);
            let stay = match over(least)? > 0.0 {
                true => numeric::try_root(over, least, most)?.unwrap_or(most),
                false => least,
            };
            let oven_in = oven_free.max(bench.shaped(with(stay))?.proof_from);
            slot = enters(&mut bench, with(stay), oven_in)?;
        }
        let open = bench.window.open;
        if slot.ripeness < open {
            let ready = bench.proof_until(&slot.shaped, open)?;
            let oven_in = ready.unwrap_or(oven_free).max(oven_free);
            slot = enters(&mut bench, slot.waits, oven_in)?;
        }
        oven_free = slot.oven_in;
        slots.push(slot);
    }
    Ok(slots)
}

/// All loads behind a first one: as the baker prefers, or, where that leaves one outside its window or
/// resting too long, with the hands free as soon as can be. No load goes to the retarder where waiting will do.
/// Where nothing fits and they need not be shown `whole`, those up to the first that does not.
pub(super) fn all(
    line: &DoughProcess<'_>,
    bulked: &BulkResult,
    first: Slot,
    whole: bool,
) -> Result<Vec<Slot>> {
    let mut bench = PieceCache::new(line, bulked);
    let ways = ways(line);
    let mut waiting = ways.clone();
    waiting.retain(|way| *way != HoldLaterLoads::Retarder || bench.is_retarded());
    if waiting != ways {
        for hands_first in [false, true] {
            let slots = chain(&mut bench, first.clone(), &waiting, hands_first, true)?;
            if fits(line, &slots) {
                return Ok(slots);
            }
        }
    }
    let preferred = chain(&mut bench, first.clone(), &ways, false, !whole)?;
    if fits(line, &preferred) {
        return Ok(preferred);
    }
    let other = chain(&mut bench, first, &ways, true, true)?;
    Ok(if fits(line, &other) { other } else { preferred })
}

/// True when every load has its place, in its window and without too long a rest.
pub(super) fn fits(line: &DoughProcess<'_>, slots: &[Slot]) -> bool {
    slots.len() == count(line.bake) as usize && slots.iter().all(|s| s.fits(line))
}

/// How far the worst load is outside its window, as a share of its proof; endless where not all loads are there.
pub(super) fn outside(line: &DoughProcess<'_>, slots: &[Slot]) -> f64 {
    let window = line.p.rise_window;
    let by = |s: &Slot| (s.ripeness - window.close).max(window.open - s.ripeness);
    match slots.len() == count(line.bake) as usize {
        true => slots.iter().map(by).fold(0.0, f64::max),
        false => f64::INFINITY,
    }
}

/// One load after the other, behind a first one: each waits in the baker's order, each way only as far as needed, or so
/// that the hands are free again soonest, for the sake of the loads behind; to the end, or as long as all fit.
fn chain(
    bench: &mut PieceCache<'_>,
    first: Slot,
    ways: &[HoldLaterLoads],
    hands_first: bool,
    while_fits: bool,
) -> Result<Vec<Slot>> {
    let mut slots = vec![first];
    while let Some(last) = slots.last()
        && slots.len() < count(bench.line.bake) as usize
        && (last.fits(bench.line) || !while_fits)
    {
        let slot = next(bench, last, slots.len(), ways, hands_first)?;
        slots.push(slot);
    }
    Ok(slots)
}

/// The load after the last of `n` that have their place.
fn next(
    bench: &mut PieceCache<'_>,
    last: &Slot,
    n: usize,
    ways: &[HoldLaterLoads],
    hands_first: bool,
) -> Result<Slot> {
    let line = bench.line;
    let process = &line.bake.process;
    // One pair of hands: a load is shaped after the one before it, and leaves time for those behind it.
    let shape_h = as_hours(process.shape);
    let least = last.waits.bulk + last.waits.rest + shape_h;
    let longest = longest_rest(line);
    let most = longest - (count(line.bake) as usize - 1 - n) as f64 * shape_h;
    // Loads are divided in order, and, where they may be divided later, so late that none rests too long
    // until the hands are free, as far as the bulk lasts.
    let mut bulk = last.waits.bulk;
    let may_be_later = ways.contains(&HoldLaterLoads::DivideLater);
    if may_be_later && least - longest > bulk {
        bulk = bulk.max(bench.longest_bulk(least - longest)?);
    }
    // The oven takes it when it has recovered, and when the hands have it ready.
    let hands = Hands {
        bulk,
        least,
        most,
        longest,
    };
    let soonest = bench.shaped(hands.waits(Waits::default()))?;
    let mut oven_in = last.oven_in + cycle_h(line.bake);
    // Baked from the cold, it leaves that just in time.
    if let Some(out_h) = bench.out_h {
        oven_in = oven_in.max(soonest.proof_from + out_h);
        let chosen = Waits {
            retarder: oven_in - out_h - soonest.proof_from,
            ..Waits::default()
        };
        return enters(bench, hands.waits(chosen), oven_in);
    }
    if oven_in < soonest.proof_from || bench.proof_at(&soonest, oven_in)?.0 < bench.window.open {
        let proofed = bench.proof_until(&soonest, bench.window.open)?;
        let latest = soonest.proof_from + 24.0;
        oven_in = oven_in.max(proofed.unwrap_or(latest).min(latest));
    }
    if hands_first && let Some(slot) = any_waiting(bench, oven_in, ways, hands)? {
        return Ok(slot);
    }
    // Behind a load that does not fit the others do not either: no need to try everything for them.
    if last.fits(line) {
        waiting(bench, oven_in, ways, hands)
    } else {
        waiting_in_order(bench, oven_in, ways, hands)
    }
}

/// What the loads before and behind leave to one.
#[derive(Debug, Clone, Copy)]
struct Hands {
    /// The dough before it is divided so much later than the first.
    bulk: f64,
    /// The hands are free so long after the first load's shaping.
    least: f64,
    /// The longest extra rest by choice, for the sake of those behind.
    most: f64,
    /// The longest extra rest that is allowed.
    longest: f64,
}

impl Hands {
    /// A load's waits, with what it waits for the hands beside what is chosen.
    fn waits(self, chosen: Waits) -> Waits {
        let bulk = self.bulk + chosen.bulk;
        Waits {
            bulk,
            rest: (self.least - bulk).max(0.0) + chosen.rest,
            retarder: chosen.retarder,
        }
    }
}

/// A load that enters the oven at a given hour. The ways of waiting that the baker allows are used in
/// their order, each only as far as needed; where that leaves it past its window, in any other order. It is
/// shaped when the hands are free.
fn waiting(
    bench: &mut PieceCache<'_>,
    oven_in: f64,
    ways: &[HoldLaterLoads],
    hands: Hands,
) -> Result<Slot> {
    let mut past = Vec::new();
    for order in orders(ways) {
        let slot = waiting_in_order(bench, oven_in, &order, hands)?;
        if slot.fits(bench.line) {
            return Ok(slot);
        }
        past.push(slot);
    }
    if let Some(slot) = any_waiting(bench, oven_in, ways, hands)? {
        return Ok(slot);
    }
    let by_ripeness = |a: &Slot, b: &Slot| a.ripeness.total_cmp(&b.ripeness);
    let nearest = past.into_iter().min_by(by_ripeness);
    nearest.ok_or(Error::not_settled("the waiting of a load", 0))
}

/// Steps into which each way of waiting is cut when nothing simpler works.
const STEPS: u32 = 8;

/// Hands that are free no sooner than by this, h, are free as soon: which of two is taken is not left to rounding.
const AS_SOON_H: f64 = 1e-6;

/// The last resort: any mixture of the ways, on a grid, that brings the load into its window; of several
/// the one that frees the hands soonest.
fn any_waiting(
    bench: &mut PieceCache<'_>,
    oven_in: f64,
    ways: &[HoldLaterLoads],
    hands: Hands,
) -> Result<Option<Slot>> {
    let base = bench.shaped(hands.waits(Waits::default()))?;
    let slack = (oven_in - base.proof_from).max(0.0);
    let shortest = bench.shortest_stay_h();
    let grid = |way: HoldLaterLoads, most: f64| {
        let allowed = most > 0.0 && ways.contains(&way);
        let steps = if allowed { STEPS } else { 0 };
        (0..=steps).map(move |i| most.max(0.0) * f64::from(i) / f64::from(STEPS))
    };
    let longest = bench.longest_bulk(slack + hands.least.max(hands.bulk))?;
    let mut best: Option<Slot> = None;
    for bulk in grid(HoldLaterLoads::DivideLater, longest - hands.bulk) {
        let forced = hands.waits(Waits {
            bulk,
            ..Waits::default()
        });
        if forced.rest > hands.longest + 1e-6 {
            continue;
        }
        let left = slack - (forced.bulk - hands.least.max(hands.bulk)).max(0.0);
        let longest = (hands.longest - forced.rest).min(left);
        for extra in grid(HoldLaterLoads::ShapeLater, longest) {
            for held in grid(HoldLaterLoads::Retarder, left - extra) {
                let waits = Waits {
                    rest: forced.rest + extra,
                    retarder: if held > 0.0 { held.max(shortest) } else { 0.0 },
                    ..forced
                };
                let freed = waits.bulk + waits.rest;
                let frees_as_soon = |b: &Slot| b.waits.bulk + b.waits.rest <= freed + AS_SOON_H;
                if best.as_ref().is_some_and(frees_as_soon) {
                    continue;
                }
                let slot = enters(bench, waits, oven_in)?;
                if slot.shaped.proof_from <= oven_in + 1e-9 && slot.in_window(bench.window) {
                    best = Some(slot);
                }
            }
        }
    }
    Ok(best)
}

/// The ways of waiting that the baker allows.
fn ways(line: &DoughProcess<'_>) -> Vec<HoldLaterLoads> {
    let mut ways = line.bake.process.hold_later_loads.clone();
    // What is in the cold already may simply stay there longer.
    let retarded = line.bake.cold_of(ColdStage::Proof).is_some();
    if retarded && !ways.contains(&HoldLaterLoads::Retarder) {
        ways.insert(0, HoldLaterLoads::Retarder);
    }
    ways
}

/// All orders of up to three ways, the given one first.
fn orders(ways: &[HoldLaterLoads]) -> Vec<Vec<HoldLaterLoads>> {
    if ways.len() < 2 {
        return vec![ways.to_vec()];
    }
    let beginning_with = |i: usize| {
        let mut rest = ways.to_vec();
        let first = rest.remove(i);
        let tails = orders(&rest).into_iter();
        tails.map(move |tail| [vec![first], tail].concat())
    };
    (0..ways.len()).flat_map(beginning_with).collect()
}

/// A load that waits in these ways, one after the other, until its proof is just at its end point at its
/// hour in the oven. It goes to the retarder only where it would leave its window, and for long enough to be worth it.
fn waiting_in_order(
    bench: &mut PieceCache<'_>,
    oven_in: f64,
    ways: &[HoldLaterLoads],
    hands: Hands,
) -> Result<Slot> {
    let at = |bench: &mut PieceCache<'_>, chosen| enters(bench, hands.waits(chosen), oven_in);
    // Waiting by one's own choice: longer bulk, longer rest than the hands ask for, retarder.
    let mut chosen = Waits::default();
    let mut best = at(bench, chosen)?;
    for way in ways {
        if best.ripeness <= 1.0 + 1e-9 {
            break;
        }
        let moves = *way == HoldLaterLoads::Retarder && !bench.is_retarded();
        // It may wait beside the oven while the piece that was shaped first is in its window too.
        if moves && best.in_window(bench.window) {
            let pieces = bench.line.bake.pieces_per_load();
            let first = bench.first_piece(best.waits, pieces, oven_in)?;
            if first <= bench.window.close {
                continue;
            }
        }
        let least = if moves { bench.shortest_stay_h() } else { 0.0 };
        let with = |hours: f64| {
            let mut waits = chosen;
            match way {
                HoldLaterLoads::ShapeLater => waits.rest = hours,
                HoldLaterLoads::Retarder => waits.retarder = hours,
                HoldLaterLoads::DivideLater => waits.bulk = hours,
            }
            waits
        };
        let slack = (oven_in - best.shaped.proof_from).max(0.0);
        let most = match way {
            HoldLaterLoads::ShapeLater => slack.min(hands.most - best.waits.rest),
            HoldLaterLoads::Retarder => slack,
            HoldLaterLoads::DivideLater => {
                // A later dividing takes its time from the rest that the hands ask for anyway.
                let slack = slack + (hands.least - hands.bulk).max(0.0);
                slack.min(bench.longest_bulk(hands.bulk + slack)? - hands.bulk)
            }
        };
        if most <= least.max(1e-6) {
            continue;
        }
        let full = at(bench, with(most))?;
        if full.ripeness > 1.0 {
            // Not enough by itself; take all of it, if it helps, and go on to the next way.
            if full.ripeness < best.ripeness {
                (best, chosen) = (full, with(most));
            }
            continue;
        }
        let over = |hours| Ok::<_, Error>(at(bench, with(hours))?.ripeness - 1.0);
        let hours = numeric::try_root(over, 0.0, most)?;
        let hours = hours.unwrap_or(most).max(least);
        let slot = at(bench, with(hours))?;
        // The shortest stay may be too long.
        if slot.ripeness > bench.window.open {
            (best, chosen) = (slot, with(hours));
        }
    }
    Ok(best)
}

#[cfg(test)]
mod tests;
