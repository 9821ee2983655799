//! The plan meets the dough: what was measured on the way, and what it means for the rest.
//!
//! A measurement replaces what the plan had forecast for that moment: the dough off the mixer is as warm
//! as it was measured, the preferment was ripe when it was seen to be, the dough in bulk or proof makes gas as
//! fast as it has risen. Weights stay as they were weighed, and nothing is advised for an hour that is past. A
//! measurement equal to the forecast changes nothing.

use super::assemble::assemble;
use super::bake::{Bake, StageReference};
use super::environment::Environment;
use super::feasibility::{self, Problem};
use super::finding::Finding;
use super::keep_hour::{KeptHour, Phase, Present, UNSEEN_H};
use super::loads;
use super::measurement::{Checkpoint, Dent, Measured};
use super::mix_batches;
use super::model::{Anchor, Detail, Plan};
use super::process::{BulkResult, DoughProcess, Known, PieceCache, Ripening, Waits};
use super::search::{Timeline, first_that_fits, timeline};
use super::water;
use crate::error::{Error, Result, check};
use crate::ferment::{Extrapolation, Parameters};
use crate::formula::MixStage;
use crate::numeric;
use crate::table;
use crate::units::{Temperature, as_hours};
use serde::{Deserialize, Serialize};

/// A plan before and after what was measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Adjusted {
    /// As it was.
    pub before: Plan,
    /// As it is now, with the oven's hour moved; where a load does not fit, with its [`Problem`].
    pub after: Plan,
    /// The oven's hour kept, where that is another plan and something still does it.
    pub kept: Option<KeptHour>,
    /// What to do first: never before the last measurement.
    pub now: Option<Finding>,
    /// What changed, one for each measurement.
    pub changes: Vec<Finding>,
    /// What to do.
    pub advice: Vec<Finding>,
    /// The water that helps another day.
    pub next_time: Option<Finding>,
    /// When the dough comes out of the cold because it is done there before its time.
    pub out_of_cold_h: Option<f64>,
}

/// Forecasts the rest of a plan from what was measured on the way.
///
/// # Errors
/// No measurement, one that cannot belong to this plan, or whatever planning refuses.
///
/// ```
/// # use pointage::ferment::Parameters;
/// use pointage::plan::{Anchor, Measured, Checkpoint, adjust, bake::Bake};
/// use pointage::units::Temperature;
/// # let bake = Bake::from_toml("format = 1\nname = \"x\"\n[formula]\npieces = 4\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.5\n[kitchen]\nroom_c = 22\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n")?;
/// # let places = bake.places(|f| Err(pointage::Error::NotFinite { what: f.into() }))?;
/// let p = Parameters::shipped()?;
/// let what = Checkpoint::Mixed(Temperature::celsius(27.4)?);
/// let warm = Measured { what, at: 8.0 + 10.0 / 60.0 };
/// let adjusted = adjust(&bake, &places, Anchor::MixAt(8.0), &p, &[warm])?;
/// assert!(adjusted.after.loads[0].oven_in_h < adjusted.before.loads[0].oven_in_h);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn adjust(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
    measured: &[Measured],
) -> Result<Adjusted> {
    if measured.is_empty() {
        return Err(Error::contradiction(
            "nothing was measured; say what, such as \"mix 27.4C 19:40\"",
        ));
    }
    // What is measured is the first mix batch; those behind it follow.
    let batches = bake.mix_batches()?;
    let anchor = mix_batches::anchor_of_first(&batches, places, anchor, p)?;
    let (rooms, planned) = timeline(batches.first().unwrap_or(bake), places, anchor, p, true)?;
    let process = DoughProcess::new(batches.first().unwrap_or(bake), p, &rooms)?;
    let detail = Detail::default();
    let mut before = assemble(&process, &planned, detail)?;
    mix_batches::append(&mut before, &batches, &rooms, &planned, (p, 1.0, detail))?;
    let mut seen = Progress::new(&process, &planned.bulk);
    for one in in_order(measured)? {
        let (from, to) = (planned.start() - 24.0, planned.end() + 24.0);
        check("hour of the measurement", one.at, from, to, "h of the plan")?;
        seen.take(one)?;
    }
    let present = seen.present(&planned);
    let faster = process.clone().faster(seen.speed)?;
    let bulk = present.bulk(&faster)?;
    // The first load at its best again, or sooner for the sake of the last one.
    let moved = first_that_fits(&faster, true, |share, _| {
        let first = loads::first(&faster, &bulk, share)?;
        let hot = present.oven_hot_h();
        let first = match first.oven_in < hot {
            true => loads::first_at(&faster, &bulk, hot)?.unwrap_or(first),
            false => first,
        };
        let loads = present.loads(&faster, &bulk, first)?;
        Ok((bulk.clone(), loads))
    })?;
    let mut after = assemble(&faster, &moved, detail)?;
    mix_batches::append(
        &mut after,
        &batches,
        &rooms,
        &moved,
        (p, seen.speed, detail),
    )?;
    after.problem = unfit(&faster, &after, &present);
    // How far the bulk went is known no better than before by what a proof shows, and a preferment that waits in the cold is
    // no recipe.
    after.warnings.retain(|warning| match warning {
        Finding::UnusualBulk { .. } => present.phase < Phase::Proof,
        // By the forecast, which is no longer what is known of it once it was seen.
        Finding::PrefermentOffWindow { .. } => seen.ripening == planned.bulk.preferment,
        Finding::BeyondRecipes {
            caution: Extrapolation::ColderThanPublished { .. },
        } => before.warnings.contains(warning),
        _ => true,
    });
    let out_of_cold = faster.cut_short(&moved.bulk);
    let oven_in = |plan: &Plan| plan.loads.first().map_or(0.0, |load| load.oven_in_h);
    let kept = match (oven_in(&after) - oven_in(&before)).abs() < UNSEEN_H {
        true => None,
        false => present.keep(oven_in(&before))?,
    };
    let advice = seen.advice(&before, &after, kept.as_ref(), out_of_cold.map(|out| out.1));
    Ok(Adjusted {
        now: first_thing(&advice, kept.as_ref(), &after, present.at),
        out_of_cold_h: out_of_cold.map(|(end, _)| end),
        next_time: seen.next_time,
        changes: seen.changes,
        before,
        after,
        kept,
        advice,
    })
}

/// What a corrected plan does not manage; for another one it looks no further than to keep the oven's hour.
fn unfit(process: &DoughProcess<'_>, plan: &Plan, present: &Present<'_>) -> Option<Problem> {
    let findings: Vec<_> = (feasibility::unfit(process, plan).into_iter().flatten()).collect();
    // One that enters the oven at once is not held, nor one that the plan chills anyway.
    let outside = plan
        .loads
        .iter()
        .filter(|l| !l.in_window && l.oven_in_h > present.at && l.retarder_h.is_none());
    let loads: Vec<u32> = outside.map(|l| l.number).collect();
    let shaped = present.phase == Phase::Proof;
    let nearest = (!loads.is_empty()).then_some(Finding::HoldLoads { loads, shaped });
    let nearest = Vec::from_iter(nearest);
    (!findings.is_empty()).then_some(Problem { findings, nearest })
}

/// The first thing to do: hold the preferment, move the dough, or else the next step that needs hands.
fn first_thing(
    advice: &[Finding],
    kept: Option<&KeptHour>,
    after: &Plan,
    at: f64,
) -> Option<Finding> {
    let ways = kept.iter().flat_map(|kept| &kept.ways);
    let at_once = |finding: &&Finding| match finding {
        Finding::HoldPreferment { .. } | Finding::UsePrefermentNow { .. } => true,
        Finding::Chill { from_h, .. } => (*from_h - at).abs() < UNSEEN_H,
        Finding::ChangePlace { from_h, .. } => from_h.is_some_and(|h| (h - at).abs() < UNSEEN_H),
        _ => false,
    };
    let plan = kept.map_or(after, |kept| &kept.plan);
    let steps = plan.hands_on().into_iter();
    let next = steps.map(|step| Finding::NextStep {
        task: step.task,
        loads: step.loads.iter().map(|l| l.number).collect(),
        at_h: step.start_h,
    });
    // What begins at the very hour of the measurement is still to do, what it measured the end of is not.
    let mut next = next.filter(|next| match next {
        Finding::NextStep { at_h, .. } => *at_h >= at - 1e-6,
        _ => false,
    });
    (advice.iter().chain(ways).find(at_once).cloned()).or_else(|| next.next())
}

/// What was measured of one dough, by the hour; of several readings of preferment, mix or bulk the last one, which holds
/// what the others told.
fn in_order(measured: &[Measured]) -> Result<Vec<Measured>> {
    let step = |m: &Measured| m.what.step();
    let mut measured = measured.to_vec();
    measured.sort_by(|a, b| a.at.total_cmp(&b.at).then(step(a).cmp(&step(b))));
    for pair in measured.windows(2) {
        let ((a, before), (b, after)) = (step(&pair[0]), step(&pair[1]));
        if a > b {
            return Err(Error::contradiction(format!(
                "{before} cannot come before {after}; check the hours"
            )));
        }
    }
    let preferment = Checkpoint::PrefermentPast.step().0;
    measured.reverse();
    measured.dedup_by_key(|m| step(m).0.max(preferment));
    measured.reverse();
    Ok(measured)
}

/// What is known by now, and what it means.
struct Progress<'a> {
    process: &'a DoughProcess<'a>,
    ripening: Option<Ripening>,
    mix: f64,
    known: Known,
    /// How much faster the dough makes gas than forecast.
    speed: f64,
    phase: Phase,
    /// The hour of the last measurement.
    at: f64,
    planned: &'a BulkResult,
    changes: Vec<Finding>,
    advice: Vec<Finding>,
    next_time: Option<Finding>,
}

impl<'a> Progress<'a> {
    fn new(process: &'a DoughProcess<'a>, bulk: &'a BulkResult) -> Self {
        Self {
            process,
            ripening: bulk.preferment,
            mix: bulk.mix.start_h,
            known: Known {
                added: Some(bulk.added),
                by_dough: true,
                out_when_done: true,
                ..Known::default()
            },
            speed: 1.0,
            phase: Phase::Preferment,
            at: f64::NEG_INFINITY,
            planned: bulk,
            changes: Vec::new(),
            advice: Vec::new(),
            next_time: None,
        }
    }

    /// All that is known by now.
    fn present<'p>(&'p self, planned: &'p Timeline) -> Present<'p> {
        Present {
            process: self.process,
            planned,
            ripening: self.ripening,
            mix: self.mix,
            known: Known {
                not_before: Some(self.at).filter(|_| self.phase < Phase::Proof),
                ..self.known
            },
            speed: self.speed,
            phase: self.phase,
            at: self.at,
        }
    }

    /// What to do.
    fn advice(
        &self,
        before: &Plan,
        after: &Plan,
        kept: Option<&KeptHour>,
        sooner_h: Option<f64>,
    ) -> Vec<Finding> {
        let mut advice = self.advice.clone();
        advice.extend(sooner_h.map(|h| Finding::EndColdSooner {
            sooner_min: 60.0 * h,
        }));
        let poured = |plan: &Plan| plan.water.pour_temperature().map(Temperature::as_celsius);
        let mixes = |way: &Finding| matches!(way, Finding::ChangeDough { .. });
        if self.phase == Phase::Preferment
            && !kept.is_some_and(|kept| kept.ways.iter().any(mixes))
            && let Some((water_c, planned_c)) = poured(after).zip(poured(before))
            && (water_c - planned_c).abs() >= 0.5
        {
            let pour = after.water.pour;
            advice.push(Finding::PourNow {
                water_c,
                planned_c,
                ice_g: pour.map_or(0.0, |p| p.ice.as_grams()),
            });
        }
        let in_h = |plan: &Plan| plan.loads.first().map_or(0.0, |load| load.oven_in_h);
        let moves = kept.is_none() && (in_h(after) - in_h(before)).abs() >= UNSEEN_H;
        advice.extend(moves.then_some(Finding::OvenMoves));
        advice
    }

    fn bulk(&self, process: &DoughProcess<'_>) -> Result<BulkResult> {
        process.bulk(self.mix, self.ripening, self.known)
    }

    fn take(&mut self, Measured { what, at }: Measured) -> Result<()> {
        self.at = at;
        match what {
            Checkpoint::PrefermentRipe => self.ripe(at),
            Checkpoint::PrefermentUnripe => self.unripe(at),
            Checkpoint::PrefermentPast => self.past(at),
            Checkpoint::Mixed(dough) => self.mixed(dough, at),
            Checkpoint::BulkRise(ratio) => self.risen(ratio, at),
            Checkpoint::ProofRise(_) | Checkpoint::ProofDent(_) => self.proofed(what, at),
            Checkpoint::BulkUnready | Checkpoint::BulkReady | Checkpoint::BulkPast => {
                self.bulk_seen(what, at)
            }
        }
    }

    /// The preferment is ripe at an hour. Early, it waits for its own, where it stands or in the cold, as long as it is good.
    fn ripe(&mut self, hour: f64) -> Result<()> {
        let (process, planned) = (self.process, self.preferment()?);
        let vigour = process.preferment_vigour(&planned, hour, 1.0)?;
        let ripe = process.preferment_used_at(planned.livelier(vigour), hour)?;
        let later_h = hour - planned.used;
        self.changes.push(Finding::PrefermentRipe {
            later_min: 60.0 * later_h,
        });
        let mut used = ripe;
        if later_h < -UNSEEN_H {
            let best = process.p.window.close;
            let (mut place, mut good_h) = (None, process.preferment_lasts(&ripe, None, best)?);
            let mut usable_h = good_h;
            if good_h < -later_h {
                // In the cold it may well be a little past its best.
                place = Some(process.bake.coldest_place()?);
                good_h = process.preferment_lasts(&ripe, place, best)?;
                let most = table::get("day")?.number("held_preferment_share")?;
                usable_h = process.preferment_lasts(&ripe, place, most)?;
            }
            let until_h = planned.used.min(hour + usable_h);
            used = process.preferment_held_until(&ripe, until_h, place)?;
            self.advice.push(Finding::HoldPreferment {
                until_h,
                good_until_h: good_h.is_finite().then_some(hour + good_h),
                cold_c: place.map(Temperature::as_celsius),
                as_planned: until_h == planned.used,
            });
        }
        // Its weights stay those that were weighed.
        used.fresh_percent = planned.fresh_percent;
        self.ripening = Some(used);
        self.mix = process.mix_after(used.used);
        Ok(())
    }

    /// The proof of the first load has been seen: the dough works so much faster or slower that it is as far.
    fn proofed(&mut self, what: Checkpoint, hour: f64) -> Result<()> {
        let plain = self.process.clone().faster(self.speed)?;
        let bulk_h = self.bulk(&plain)?.bulk_h();
        // The bulk is over, when it was planned to be or when it was said to.
        self.known.bulk_h = Some(bulk_h);
        self.phase = Phase::Proof;
        let proof = |times: f64| -> Result<(f64, f64)> {
            let process = self.process.clone().faster(self.speed * times)?;
            let bulk = self.bulk(&process)?;
            let mut bench = PieceCache::new(&process, &bulk);
            let shaped = bench.shaped(Waits::default())?;
            if hour < shaped.proof_from {
                return Err(Error::contradiction(
                    "the proof has not begun at the hour of this reading; check the hour, or give the mix first",
                ));
            }
            let now = bench.proof_at(&shaped, hour)?.0;
            // A dent tells no more than which of four it is.
            let seen = match what {
                Checkpoint::ProofRise(rise) => {
                    self.rise_is_known(self.process.bake.reference.proof)?;
                    check(
                        "rise of the proof",
                        rise,
                        1.0,
                        5.0,
                        "times the volume of the shaped piece",
                    )?;
                    bench.share_of_rise(&shaped, rise)
                }
                // One that is gone is no sign of speed: a piece just shaped springs back like that.
                Checkpoint::ProofDent(Dent::GoneAtOnce | Dent::GoneQuickly)
                    if now < Dent::GoneQuickly.share()? =>
                {
                    now
                }
                Checkpoint::ProofDent(dent) if Dent::of(now)? != dent => dent.share()?,
                _ => now,
            };
            Ok((now, seen))
        };
        let (forecast_share, share) = proof(1.0)?;
        let miss = |log_times: f64| Ok(proof(log_times.exp())?.0 - share);
        let times = match (forecast_share - share).abs() < 1e-9 {
            true => 1.0,
            false => speed_between(miss, "a proof as far at that hour")?,
        };
        self.speed *= times;
        self.changes.push(Finding::ProofSeen {
            share,
            forecast_share,
            speed_percent: 100.0 * times,
        });
        Ok(())
    }

    /// The dough came off the mixer at this temperature and hour.
    fn mixed(&mut self, dough: Temperature, hour: f64) -> Result<()> {
        check("dough off the mixer", dough.as_celsius(), 0.0, 45.0, "°C")?;
        self.phase = Phase::Bulk;
        let (process, bake) = (self.process, self.process.bake);
        self.mix = hour - as_hours(bake.process.mix);
        // A preferment that was seen stays as it was.
        if let Some(ripening) = self
            .ripening
            .filter(|r| Some(*r) == self.planned.preferment)
        {
            let used = process.preferment_used(self.mix);
            self.ripening = Some(process.preferment_used_at(ripening, used)?);
        }
        self.known.mixed = Some(dough);
        let warmer_c = dough.as_celsius() - bake.process.dough.as_celsius();
        self.changes.push(Finding::DoughOffMixer { warmer_c });
        if warmer_c.abs() >= 0.2 {
            self.next_time = water::next_time(bake, &self.planned.water, warmer_c)?;
        }
        Ok(())
    }

    /// The dough in bulk has risen to so many times its volume.
    fn risen(&mut self, rise: f64, hour: f64) -> Result<()> {
        let times = "times the volume off the mixer";
        check("rise of the bulk", rise, 1.0, 5.0, times)?;
        self.rise_is_known(self.process.bake.reference.bulk)?;
        self.phase = Phase::Bulk;
        let plain = self.bulk(self.process)?;
        if hour <= plain.bulk_start() {
            return Err(Error::contradiction(
                "the bulk has not begun at the hour of this rise; check the hour, or give the mix first",
            ));
        }
        let forecast_rise = self.process.rise_at(&plain, hour)?;
        if rise < NO_RISE || rise.max(forecast_rise) < LEAST_RISE {
            self.changes.push(Finding::RiseTooSmall {
                rise,
                forecast_rise,
            });
            self.advice.push(Finding::MeasureAgain {
                wait_min: 60.0 * wait_to_measure(self.process, &plain, hour)?,
            });
            return Ok(());
        }
        self.speed = self.speed_of_rise(rise, hour)?;
        self.changes.push(Finding::DoughSpeed {
            rise,
            forecast_rise,
            speed_percent: 100.0 * self.speed,
        });
        Ok(())
    }

    /// The bulk has been seen to be done, past that, or not done yet: at the most where its window opens, at the least
    /// where it closes.
    fn bulk_seen(&mut self, what: Checkpoint, hour: f64) -> Result<()> {
        self.phase = Phase::Bulk;
        let plain = self.bulk(self.process)?;
        let (start, forecast) = (plain.bulk_start(), plain.bulk_end());
        if hour <= start {
            return Err(Error::contradiction(
                "the bulk has not begun at that hour; check the hour, or say when the dough was mixed",
            ));
        }
        let (done, window) = (what != Checkpoint::BulkUnready, self.process.p.window);
        let end = match what {
            Checkpoint::BulkUnready if hour < start + window.open * (forecast - start) => forecast,
            Checkpoint::BulkUnready => start + (hour - start) / window.open,
            Checkpoint::BulkPast => start + (hour - start) / window.close,
            _ => hour,
        };
        let later_min = 60.0 * (end - forecast);
        self.changes.push(Finding::BulkSeen { done, later_min });
        let miss = |log_speed: f64| -> Result<f64> {
            let faster = self.process.clone().faster(log_speed.exp())?;
            Ok(self.bulk(&faster)?.bulk_end() - end)
        };
        if miss(0.0)?.abs() > 1e-9 {
            // One that ends by the clock tells nothing of the speed.
            let found = numeric::try_root(miss, 0.2f64.ln(), 5f64.ln())?;
            self.speed = found.map_or(1.0, f64::exp);
        }
        if done || self.speed == 1.0 {
            self.known.bulk_h = Some(end.max(hour) - start);
        }
        Ok(())
    }

    /// Refuses a rise where a plan goes by the minutes of a reference, and nothing is known of its rise.
    fn rise_is_known(&self, stage: Option<StageReference>) -> Result<()> {
        if self.process.bake.reference.hides_rise(stage) {
            return Err(Error::contradiction(
                "this plan goes by the minutes of [reference], and no rise is known to go with them; add bulk_rise there, what the jar shows at the end of bulk_min",
            ));
        }
        Ok(())
    }

    fn preferment(&self) -> Result<Ripening> {
        self.ripening.ok_or_else(|| {
            Error::contradiction("this bake has no preferment; leave the measurement of one out")
        })
    }

    /// The preferment has been at a share of its end point at an hour, and is used then.
    fn preferment_at(&mut self, hour: f64, share: f64) -> Result<()> {
        let ripening = self.preferment()?;
        self.ripening = Some(self.process.preferment_seen(&ripening, hour, share)?);
        self.mix = self.process.mix_after(hour);
        self.changes.push(Finding::PrefermentUsed {
            later_min: 60.0 * (hour - ripening.used),
        });
        Ok(())
    }

    /// Share of its end point that the preferment should have come to at an hour.
    fn forecast_share(&self, hour: f64) -> Result<f64> {
        let ripening = self.preferment()?;
        Ok(self.process.preferment_at(&ripening, hour)?.gas / ripening.ripe.gas)
    }

    /// The preferment is not ripe when it should be used: wait for it, or go on with more yeast or more time.
    fn unripe(&mut self, hour: f64) -> Result<()> {
        let (process, ripening) = (self.process, self.preferment()?);
        // Not ripe: at the most where its window opens, and not further than forecast.
        let (open_h, _) = process.preferment_ready(&ripening)?.window_h;
        if hour <= ripening.mixed + open_h {
            self.changes.push(Finding::UnripeAsForecast);
            return Ok(());
        }
        let open = self.forecast_share(ripening.mixed + open_h)?;
        let lively = ripening.livelier(process.preferment_vigour(&ripening, hour, open)?);
        let ripe = ripening.mixed + process.ripe_hours(&lively)?;
        self.advice.push(Finding::WaitForPreferment {
            wait_min: 60.0 * (ripe - hour),
        });
        let now = process.preferment_seen(&ripening, hour, open)?;
        let plain = self.bulk(process)?;
        let more = self.add_yeast(Some(now), process.mix_after(hour), &plain, true)?;
        self.advice.extend(more);
        self.advice.push(Finding::GoOnUnripe);
        self.preferment_at(ripe, 1.0)
    }

    /// The preferment is past its best: all of it now, or less of it, or more yeast beside it.
    fn past(&mut self, hour: f64) -> Result<()> {
        // At the least where its window closes, and not less far than forecast.
        let (planned, before) = (self.preferment()?, self.bulk(self.process)?);
        let (_, close_h) = self.process.preferment_ready(&planned)?.window_h;
        let closes = close_h.map_or(hour, |h| planned.mixed + h);
        let share = self.forecast_share(hour.max(closes))?;
        self.preferment_at(hour, share)?;
        let (seen, now) = (self.preferment()?, self.bulk(self.process)?);
        self.advice.push(Finding::UsePrefermentNow {
            bulk_min: 60.0 * now.bulk_h(),
            planned_min: 60.0 * before.bulk_h(),
        });
        // It has grown on: less of it brings the yeast that was planned.
        let less = 1.0 - planned.state.yeast / seen.state.yeast;
        if less > 0.0 {
            let less_g = less * now.batch.stage_mass(MixStage::Preferment).as_grams();
            let flour_g = less_g / (1.0 + self.process.preferment()?.hydration.as_fraction());
            self.advice.push(Finding::UseLessPreferment {
                less_g,
                less_percent: 100.0 * less,
                flour_g,
                water_g: less_g - flour_g,
            });
        }
        if now.bulk_h() > before.bulk_h() {
            let more = self.add_yeast(self.ripening, self.mix, &before, false)?;
            self.advice.extend(more);
        }
        Ok(())
    }

    /// The advice to add yeast at the mix so that a bulk keeps its length, where it needs more.
    fn add_yeast(
        &self,
        ripening: Option<Ripening>,
        mix: f64,
        keeps: &BulkResult,
        at_once: bool,
    ) -> Result<Option<Finding>> {
        let found = numeric::meet(keeps.added.max(1e-3).ln(), |log_added: f64| {
            let known = Known {
                added: Some(log_added.exp().clamp(1e-4, 20.0)),
                ..self.known
            };
            let bulk = self.process.bulk(mix, ripening, known)?;
            Ok::<_, Error>((keeps.bulk_h() / bulk.bulk_h()).ln())
        })?;
        let more = found.map_or(0.0, |log_added| log_added.exp() - keeps.added);
        let dose = self.process.dose(more.max(0.0))?;
        let yeast_g = keeps.batch.flour.as_grams() * dose.as_fraction();
        // What is shown as 0.0 g is no advice.
        Ok((yeast_g >= 0.05).then(|| Finding::AddYeast {
            yeast_g,
            kind: self.process.bake.formula.yeast_kind,
            bulk_min: 60.0 * keeps.bulk_h(),
            at_once,
        }))
    }

    /// How fast the dough works, from its rise: the factor at which the forecast rise is the measured one.
    fn speed_of_rise(&self, ratio: f64, hour: f64) -> Result<f64> {
        let miss = |log_speed: f64| -> Result<f64> {
            let faster = self.process.clone().faster(log_speed.exp())?;
            Ok(faster.rise_at(&self.bulk(&faster)?, hour)? - ratio)
        };
        // A rise as forecast must leave everything as it was, to the last digit.
        if miss(0.0)?.abs() < 1e-9 {
            return Ok(1.0);
        }
        speed_between(
            miss,
            &format!("a rise to {ratio} times the volume at that hour"),
        )
    }
}

/// The factor by which a dough works faster that was seen so far, in logarithms of which `miss` is the difference.
fn speed_between(miss: impl FnMut(f64) -> Result<f64>, seen: &str) -> Result<f64> {
    let (slow, fast) = (0.2f64, 5.0f64);
    let found = numeric::try_root(miss, slow.ln(), fast.ln())?;
    found.map(f64::exp).ok_or_else(|| Error::contradiction(format!(
        "{seen} does not go with this dough, not even if it worked {slow} or {fast} times as fast; check the reading and the hour"
    )))
}

/// Below this a jar shows no rise, and any low speed would go with it (by judgement).
const NO_RISE: f64 = 1.02;
/// Below this a jar, read to a few hundredths, says little of the speed (by judgement).
const LEAST_RISE: f64 = 1.1;

/// How long to wait until a rise is forecast that tells something, by tens of minutes, h.
fn wait_to_measure(line: &DoughProcess<'_>, bulked: &BulkResult, hour: f64) -> Result<f64> {
    for tens in 2..=36 {
        let wait = f64::from(tens) / 6.0;
        if line.rise_at(bulked, hour + wait)? >= 2.0 * LEAST_RISE - 1.0 {
            return Ok(wait);
        }
    }
    Ok(6.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const POOLISH: &str = "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.3\n[preferment]\nkind = \"poolish\"\nflour_percent = 30\ndose_percent = 0.1\n[kitchen]\nroom_c = 21\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n";

    /// Does something with a plan that was found, and what is known of it before anything is measured.
    fn seeing(with: impl FnOnce(&DoughProcess<'_>, &Timeline, Progress<'_>)) {
        let p = Parameters::shipped().unwrap();
        let bake = Bake::from_toml(POOLISH).unwrap();
        let places = bake
            .places(|_| Err(Error::malformed("no records")))
            .unwrap();
        let (rooms, planned) = timeline(&bake, &places, Anchor::MixAt(8.0), &p, true).unwrap();
        let process = DoughProcess::new(&bake, &p, &rooms).unwrap();
        with(&process, &planned, Progress::new(&process, &planned.bulk));
    }

    /// The yeast that is advised for a preferment that is behind does what is said of it: weighed at the mix in
    /// the baker's kind, the bulk keeps its length. One as forecast, or livelier, needs none.
    #[test]
    fn more_yeast_keeps_the_length_of_the_bulk() {
        seeing(|line, planned, seen| {
            let plain = seen.bulk(line).unwrap();
            let ripe = planned.bulk.preferment.unwrap();
            let of_share = |share| line.preferment_seen(&ripe, ripe.used, share).unwrap();
            let behind = of_share(0.85);
            let more = |r| match seen.add_yeast(Some(r), seen.mix, &plain, false).unwrap() {
                Some(Finding::AddYeast { yeast_g, .. }) => Some(yeast_g),
                _ => None,
            };
            let grams = more(behind).unwrap();
            assert!(grams > 0.01, "{grams}");
            // As fresh, % of all flour: one of fresh yeast is so many of the baker's kind.
            let kind = line.dose(1.0).unwrap().as_percent();
            let fresh = 100.0 * grams / plain.batch.flour.as_grams() / kind;
            let with = |added: f64| {
                let known = Known {
                    added: Some(added),
                    ..seen.known
                };
                line.bulk(seen.mix, Some(behind), known).unwrap().bulk_h()
            };
            assert!((with(plain.added + fresh) - plain.bulk_h()).abs() < 1e-3);
            assert!(with(plain.added) > plain.bulk_h() + 0.05);
            assert_eq!(more(of_share(1.2)), None);
        });
    }

    /// A rise just as forecast is a dough just as fast, to the last digit; a higher one is a faster dough, which
    /// has that rise.
    #[test]
    fn the_speed_of_a_rise_gives_that_rise() {
        seeing(|line, planned, seen| {
            let hour = planned.bulk.bulk_start() + 0.6 * planned.bulk.bulk_h();
            let forecast = line.rise_at(&seen.bulk(line).unwrap(), hour).unwrap();
            assert_eq!(seen.speed_of_rise(forecast, hour).unwrap(), 1.0);
            for more in [-0.05, 0.05, 0.2] {
                let speed = seen.speed_of_rise(forecast + more, hour).unwrap();
                assert_eq!(speed > 1.0, more > 0.0);
                let faster = line.clone().faster(speed).unwrap();
                let rise = faster.rise_at(&seen.bulk(&faster).unwrap(), hour).unwrap();
                assert!((rise - forecast - more).abs() < 1e-6);
            }
        });
    }

    /// The wait for a better reading is the first of 20, 30, 40 ... min after which a fifth of rise is forecast,
    /// twice what can be read at all; six hours where that is further off.
    #[test]
    fn a_better_reading_is_where_a_fifth_is_forecast() {
        seeing(|line, _, seen| {
            let bulked = seen.bulk(line).unwrap();
            let rise = |hour: f64| line.rise_at(&bulked, hour).unwrap();
            let mut longer = 0;
            for after in [0.1, 0.3, 0.5, 1.0, 1.5] {
                let hour = bulked.bulk_start() + after;
                let wait = wait_to_measure(line, &bulked, hour).unwrap();
                let tens = 6.0 * wait;
                assert!((tens - tens.round()).abs() < 1e-9 && (2.0..=36.0).contains(&tens.round()));
                assert!(rise(hour + wait) >= 1.2);
                if tens > 2.5 {
                    assert!(rise(hour + wait - 1.0 / 6.0) < 1.2);
                    longer += 1;
                }
            }
            assert!(longer > 1, "{longer}");
            // Long before the mix nothing rises for more than six hours.
            assert_eq!(
                wait_to_measure(line, &bulked, bulked.bulk_start() - 7.0).unwrap(),
                6.0
            );
        });
    }

    /// Of a preferment past its best so much less is used that the rest brings the yeast that was planned.
    #[test]
    fn less_of_a_preferment_past_its_best_brings_the_yeast_that_was_planned() {
        seeing(|line, planned, mut seen| {
            let planned = planned.bulk.preferment.unwrap();
            let closed = line.preferment_ready(&planned).unwrap().window_h.1.unwrap();
            let hour = planned.mixed + closed + 1.0;
            seen.past(hour).unwrap();
            let percent = seen.advice.iter().find_map(|a| match a {
                Finding::UseLessPreferment { less_percent, .. } => Some(*less_percent),
                _ => None,
            });
            let rest = (1.0 - percent.unwrap() / 100.0) * seen.preferment().unwrap().state.yeast;
            assert!(
                (rest / planned.state.yeast - 1.0).abs() < 1e-9,
                "{percent:?}"
            );
        });
    }

    /// Where a rise is forecast, a jar that shows less than a fiftieth of one tells nothing; one that shows it does.
    /// So does one that shows a tenth where less is forecast.
    #[test]
    fn a_fiftieth_of_rise_is_a_rise() {
        seeing(|line, planned, seen| {
            let bulked = seen.bulk(line).unwrap();
            let when = |rise: f64| {
                let mut hours = (1..120).map(|i| bulked.bulk_start() + f64::from(i) / 24.0);
                hours.find(|&hour| line.rise_at(&bulked, hour).unwrap() > rise)
            };
            let (little, much) = (when(1.06).unwrap(), when(LEAST_RISE).unwrap());
            assert!(line.rise_at(&bulked, little).unwrap() < 1.09);
            for (hour, ratio, tells) in [
                (much, 1.019, false),
                (much, 1.02, true),
                (little, 1.09, false),
                (little, 1.1, true),
            ] {
                let mut seen = Progress::new(line, &planned.bulk);
                seen.risen(ratio, hour).unwrap();
                let cannot_tell = matches!(seen.changes[0], Finding::RiseTooSmall { .. });
                assert_eq!(cannot_tell, !tells, "{:?}", seen.changes);
                assert_eq!(seen.speed != 1.0, tells);
            }
        });
    }

    /// What is seen at the same hour may be told in any order; later than what follows it, it is refused.
    #[test]
    fn what_is_seen_at_once_may_be_told_in_any_order() {
        let dough = Temperature::celsius(25.0).unwrap();
        let (what, at) = (Checkpoint::Mixed(dough), 8.0);
        let mixed = Measured { what, at };
        let what = Checkpoint::PrefermentRipe;
        let ripe = |at| Measured { what, at };
        let both = vec![ripe(8.0), mixed];
        assert_eq!(in_order(&[mixed, ripe(8.0)]).unwrap(), both);
        assert_eq!(in_order(&both).unwrap(), both);
        assert!(in_order(&[mixed, ripe(8.01)]).is_err());
    }

    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig {
            cases: std::env::var("POINTAGE_CASES").map_or(6, |n| n.parse().unwrap()),
            max_global_rejects: 1_000_000,
            ..ProptestConfig::default()
        })]

        /// The oven's hour is kept wherever a finer search over two levers keeps it with a percent to spare: doughs too warm or too cold off
        /// the mixer, ahead or behind in the bulk, on preferments that are early.
        #[test]
        fn the_hour_is_kept_where_a_search_keeps_it(
            room in 16.0..28.0_f64,
            yeast in 0.2..1.2_f64,
            loads in 1..4_u32,
            poolish in any::<bool>(),
            retarder in any::<bool>(),
            what in 0..3_u8,
            by in -1.0..1.0_f64,
        ) {
            let p = Parameters::shipped().unwrap();
            let pieces = format!("pieces = {}", 6 * loads);
            let holds = match retarder {
                true => "hold_later_loads = [\"shape-later\", \"retarder\"]\nretarder_c = 5\n",
                false => "",
            };
            let mut text = POOLISH
                .replace("pieces = 8", &pieces)
                .replace("room_c = 21", &format!("room_c = {room}"))
                .replace("yeast_percent = 0.3", &format!("yeast_percent = {yeast}"))
                .replace("[oven]", &format!("{holds}[oven]\npieces_per_load = 6"));
            if !poolish {
                let (from, to) = (text.find("[preferment]").unwrap(), text.find("[kitchen]").unwrap());
                text.replace_range(from..to, "");
            }
            let bake = Bake::from_toml(&text).unwrap();
            let places = bake.places(|_| Err(Error::malformed("no records"))).unwrap();
            let Ok((rooms, planned)) = timeline(&bake, &places, Anchor::MixAt(8.0), &p, true) else {
                return Ok(());
            };
            prop_assume!(planned.fits);
            let process = DoughProcess::new(&bake, &p, &rooms).unwrap();
            let bulk = &planned.bulk;
            let half = (bulk.bulk_start() + bulk.bulk_end()) / 2.0;
            let (checkpoint, at) = match (what, bulk.preferment) {
                (0, Some(ripe)) => (Checkpoint::PrefermentRipe, ripe.used - 3.0 * by.abs()),
                (1, _) => {
                    let rise = process.rise_at(bulk, half).unwrap() * (1.0 + 0.15 * by);
                    (Checkpoint::BulkRise(rise.max(1.0)), half)
                }
                _ => (Checkpoint::Mixed(Temperature::celsius(25.0 + 4.0 * by).unwrap()), bulk.bulk_start()),
            };
            let measured = Measured { what: checkpoint, at };
            let mut seen = Progress::new(&process, bulk);
            prop_assume!(seen.take(measured).is_ok());
            // What a finer search finds with less than a percent to spare at an edge of the window, no baker can keep to.
            let mut strict = p.clone();
            strict.rise_window.open += 0.01;
            strict.rise_window.close -= 0.01;
            let strict = DoughProcess::new(&bake, &strict, &rooms).unwrap();
            let present = Present { process: &strict, ..seen.present(&planned) };
            let hour = planned.loads[0].oven_in;
            if present.kept_on_fine_grid(hour).unwrap() {
                let found = adjust(&bake, &places, Anchor::MixAt(8.0), &p, &[measured]).unwrap();
                let moved = found.after.loads[0].oven_in_h - hour;
                prop_assert!(found.kept.is_some() || moved.abs() < UNSEEN_H, "{measured:?} {moved}\n{text}");
            }
        }
    }
}
