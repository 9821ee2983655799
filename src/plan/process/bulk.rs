//! The dough from its first wetting to the end of its bulk.

use super::{DoughProcess, Ripening, mean_c, sped};
use crate::ambient::{Ambient, TemperatureProfile};
use crate::error::{Error, Result};
use crate::ferment::dose::{MOST, Search, search};
use crate::ferment::{Composition, Fermentation, Inoculum, Kind, Kinetics, State, Trajectory};
use crate::formula::{Batch, MixStage, Role};
use crate::plan::bake::ColdStage;
use crate::plan::model::StageTime;
use crate::plan::water::{self, MixWater};
use crate::units::{Mass, Percent, Temperature, as_hours};

/// The dough up to the end of its bulk.
#[derive(Debug, Clone)]
pub(in crate::plan) struct BulkResult {
    pub preferment: Option<Ripening>,
    pub water: MixWater,
    pub autolyse: Option<StageTime>,
    pub mix: StageTime,
    pub off_mixer: Temperature,
    /// The dough off the mixer.
    pub mixed: State,
    /// The bulk, in the cold and out of it.
    pub parts: Vec<StageTime>,
    pub state: State,
    pub batch: Batch,
    /// Yeast added at the mix, as fresh, % of all flour.
    pub added: f64,
    /// The dough as a fermentation.
    pub dough: Fermentation,
    /// Where the proof of its pieces ends.
    pub proof_end: ProofEnd,
}

impl BulkResult {
    pub fn bulk_start(&self) -> f64 {
        self.mix.end_h
    }

    pub fn bulk_end(&self) -> f64 {
        self.parts.last().map_or(self.mix.end_h, |p| p.end_h)
    }

    pub fn bulk_h(&self) -> f64 {
        self.bulk_end() - self.bulk_start()
    }

    /// How far a dough has risen: its volume over that off the mixer.
    pub fn rise(&self, state: &State) -> f64 {
        self.dough.volume_ratio(state) / self.dough.volume_ratio(&self.mixed)
    }

    /// How far a piece has risen at the end of its proof where it is so warm (°C): V/V0 - 1.
    pub fn full_proof(&self, t: f64) -> f64 {
        match self.proof_end {
            ProofEnd::Ratio(ratio) => ratio - 1.0,
            ProofEnd::Held(gas) => self.dough.volume().ratio(gas, t) - 1.0,
        }
    }

    /// Share of its end point that a proof has come to: free gas over free gas at the end.
    pub fn ripeness(&self, state: &State) -> f64 {
        let rise = self.dough.volume_ratio(state) - 1.0;
        rise / self.full_proof(state.temperature_c)
    }

    /// Volume of all the dough at the end of its bulk, L.
    pub fn litres(&self) -> f64 {
        let ml_per_100g = self.dough.volume_ratio(&self.state) * self.dough.volume().gas_free();
        self.batch.flour.as_grams() / 100.0 * ml_per_100g / 1000.0
    }
}

/// What is already known of a dough, and not to be found out again.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::plan) struct Known {
    /// Yeast added at the mix, as fresh, % of all flour.
    pub added: Option<f64>,
    /// The dough off the mixer, when it was measured.
    pub mixed: Option<Temperature>,
    /// The bulk ends by the clock, so long after the mix.
    pub bulk_h: Option<f64>,
    /// The dough decides when its bulk ends, where the baker has not fixed its minutes.
    pub by_dough: bool,
    /// Mixed already: a dough that is done in the cold comes out of it then.
    pub out_when_done: bool,
    /// The dough is known to be in bulk still at this hour.
    pub not_before: Option<f64>,
}

/// When the bulk ends.
#[derive(Clone, Copy)]
pub(super) enum BulkEnd {
    /// So many hours after the mix.
    After(f64),
    /// When the dough is done; in the cold only where it may come out of it before its time.
    Done { at: DoneAt, out_when_done: bool },
}

/// When a dough in bulk is done.
#[derive(Debug, Clone, Copy)]
pub(super) enum DoneAt {
    /// Its volume is so many times that off the mixer, as a jar shows.
    Rise(f64),
    /// It has made so much gas since the mixer as that of the reference, mL per 100 g flour.
    Gas(f64),
}

impl DoneAt {
    /// The gas made since its start by a dough off the mixer in a state that is done at some °C.
    fn gas(self, f: &Fermentation, mixed: &State, t: f64) -> f64 {
        match self {
            Self::Rise(rise) => gas_at_rise(f, mixed, rise, t),
            Self::Gas(made) => mixed.gas + made,
        }
    }
}

/// When a proof ends.
#[derive(Debug, Clone, Copy)]
pub(in crate::plan) enum ProofEnd {
    /// V/V0 of the piece.
    Ratio(f64),
    /// Gas held as in the reference, mL per 100 g flour.
    Held(f64),
}

impl DoughProcess<'_> {
    /// Mixes at `mix`, with a preferment ripe for it, and follows the dough to the end of its bulk.
    pub fn bulk_from_mix(&self, mix: f64) -> Result<BulkResult> {
        let preferment = self.preferment_for(self.preferment_used(mix))?;
        self.bulk(mix, preferment, Known::default())
    }

    /// Begins at `start` with the preferment (or, without one, with the dough itself).
    pub fn bulk_from_start(&self, start: f64) -> Result<BulkResult> {
        let preferment = self.preferment_from(start)?;
        let mix = match &preferment {
            Some(ripe) => self.mix_after(ripe.used),
            None => start + as_hours(self.bake.process.autolyse),
        };
        self.bulk(mix, preferment, Known::default())
    }

    /// When the dough is mixed whose preferment is used at an hour.
    pub fn mix_after(&self, used: f64) -> f64 {
        used + self.joined_rest_h
    }

    /// When the preferment of a dough is used that is mixed at an hour.
    pub fn preferment_used(&self, mix: f64) -> f64 {
        mix - self.joined_rest_h
    }

    /// Mixes at `mix` with this preferment, and follows the dough to the end of its bulk.
    pub fn bulk(&self, mix: f64, preferment: Option<Ripening>, known: Known) -> Result<BulkResult> {
        let (bake, ripe) = (self.bake, preferment.as_ref());
        let start = mix - as_hours(bake.process.autolyse);
        let off_mixer = known.mixed.unwrap_or(bake.process.dough);
        // A dose that is still to be found weighs nothing yet.
        let mut formula = bake.formula.clone();
        if let (Some(own), Some(ripe)) = (&mut formula.preferment, ripe) {
            own.dose = Some(self.dose(ripe.fresh_percent)?);
        }
        let batch = formula.for_pieces(bake.pieces, bake.piece, bake.scrap)?;
        let preferment_c = ripe.map(|r| Temperature::celsius(r.state.temperature_c));
        let room = self.rooms.kitchen.at(start);
        let water = water::of_dough(bake, &batch, room, preferment_c.transpose()?)?.answered()?;
        let rest_c = water.balance.and_then(|b| b.rest);
        let rest_c = rest_c.map(|c| c.map(Temperature::as_celsius));
        // Without a rest the dough warms from what flour and water make to what the mixer makes of it.
        let from_c = match (rest_c, water.balance) {
            (Some([_, end]), _) => end,
            (None, Some(b)) => off_mixer.as_celsius() - b.mixing_rise.as_kelvin(),
            (None, None) => off_mixer.as_celsius(),
        };
        let autolyse_c = rest_c.map_or([None; 2], |c| c.map(Some));
        let autolyse = StageTime::new("autolyse", [start, mix], autolyse_c);
        let mixing_c = [from_c, off_mixer.as_celsius()].map(Some);
        let mixing = StageTime::new("mix", [mix, mix + as_hours(bake.process.mix)], mixing_c);
        // Mixing drives out the free gas of a preferment; what its water holds dissolved stays.
        let ahead = batch.mass_of(Role::Water, MixStage::Preferment).as_grams();
        let saturated = ahead / batch.water.as_grams().max(1e-9);
        let off_the_mixer = |added: f64,
                             ripe: Option<&Ripening>,
                             kinetics: &Kinetics,
                             warmer: f64|
         -> Result<(Fermentation, State)> {
            let f = self.ferment(&batch, added, ripe, kinetics)?;
            let held = |r: &Ripening| saturated * f.volume().dissolved(r.state.temperature_c);
            let mut state = f.start_at(off_mixer);
            state.temperature_c += warmer;
            state.held = ripe.map_or(0.0, held);
            let rest = Some(autolyse).filter(|_| self.joined_rest_h > 0.0);
            for stage in rest.into_iter().chain([mixing]) {
                let ends = stage.dough_start_c.zip(stage.dough_end_c);
                if let Some((from, to)) = ends.filter(|_| stage.hours() > 0.0) {
                    let ends = [(0.0, from + warmer), (stage.hours(), to + warmer)];
                    let course = Ambient::ramps(&ends)?;
                    let course = TemperatureProfile::of_room(&course, 0.0);
                    state = f.after(&state, &course, stage.hours())?;
                }
            }
            Ok((f, state))
        };
        // The reference had the yeast of the recipe, and its preferment was ripe.
        let usual = preferment.map(|r| Ripening { state: r.ripe, ..r });
        let usual_dose = self.as_fresh(bake.reference.yeast);
        let ends = self.end_points(mixing.end_h, &|warmer, speed| {
            let kinetics = sped(&self.usual, speed)?;
            off_the_mixer(usual_dose, usual.as_ref(), &kinetics, warmer)
        })?;
        let kinetics = sped(&self.kinetics, ends.speed)?;
        let end = self.bulk_end(known, ends.bulk)?;
        let not_before = known.not_before.unwrap_or(f64::NEG_INFINITY);
        let work = |added: f64| -> Result<(Fermentation, State, (Vec<StageTime>, State))> {
            let (f, mixed) = off_the_mixer(added, ripe, &kinetics, 0.0)?;
            let bulk = self.stand(&f, mixed, (mixing.end_h, off_mixer), end, not_before)?;
            Ok((f, mixed, bulk))
        };
        let added = match (known.added, bake.process.bulk_dose_for) {
            (Some(added), _) => added,
            (None, Some(_)) => dose_at_mix(|dose| {
                let (f, mixed, (_, state)) = work(dose)?;
                Ok((state.gas / ends.bulk.gas(&f, &mixed, state.temperature_c)).ln())
            })?,
            (None, _) => self.as_fresh(bake.formula.yeast.unwrap_or_default()),
        };
        let (dough, mixed, (parts, state)) = work(added)?;
        let ended = parts.last().map_or(mixing.end_h, |part| part.end_h);
        let proof_end = self.proof_end(ends.proof, &dough, state, ended)?;
        // The weights again, now that the dose at the mix is known too.
        formula.yeast = Some(self.dose(added)?);
        Ok(BulkResult {
            batch: formula.for_pieces(bake.pieces, bake.piece, bake.scrap)?,
            autolyse: (start < mix).then_some(autolyse),
            mix: mixing,
            preferment,
            water,
            off_mixer,
            mixed,
            parts,
            state,
            added,
            dough,
            proof_end,
        })
    }

    /// When the bulk ends whose dough is done at a point.
    pub(super) fn bulk_end(&self, known: Known, at: DoneAt) -> Result<BulkEnd> {
        let done = BulkEnd::Done {
            at,
            out_when_done: known.out_when_done,
        };
        let process = &self.bake.process;
        let retarded_h: f64 = self.retarding().map(|r| r.2).sum();
        let [by_clock, dose_for] =
            [process.bulk_time, process.bulk_dose_for].map(|t| t.map(as_hours));
        Ok(match (known.bulk_h, by_clock, dose_for) {
            (Some(hours), ..) => BulkEnd::After(hours),
            // Minutes fixed by the baker are those outside the cold.
            (_, Some(hours), _) => {
                let cold = self.retarding().filter(|r| r.0 == "cold");
                BulkEnd::After(hours + cold.map(|r| r.2).sum::<f64>())
            }
            (_, _, Some(_)) if known.by_dough => done,
            (_, _, Some(hours)) if hours < retarded_h => {
                return Err(Error::contradiction(format!(
                    "[process] bulk_h: {hours} h is shorter than the {retarded_h} h of the bulk in [cold]; lengthen it"
                )));
            }
            (_, _, Some(hours)) => BulkEnd::After(hours),
            _ => (self.bake.out_of_cold())
                .map_or(done, |out| BulkEnd::After(retarded_h + as_hours(out))),
        })
    }

    /// The bulk itself: in its place, or first there, then in the cold, then there again.
    pub(super) fn stand(
        &self,
        f: &Fermentation,
        mut state: State,
        (start, off_mixer): (f64, Temperature),
        end: BulkEnd,
        not_before: f64,
    ) -> Result<(Vec<StageTime>, State)> {
        let mut parts = Vec::new();
        let mixed = state;
        let beyond = |s: &State, at: DoneAt| s.gas - at.gas(f, &mixed, s.temperature_c);
        let part = |name, hours, from: Temperature, to: &State| StageTime {
            rise: Some(f.volume_ratio(to) / f.volume_ratio(&mixed)),
            ..StageTime::new(name, hours, [from.as_celsius(), to.temperature_c].map(Some))
        };
        let (mut hour, mut from) = (start, off_mixer);
        let most = match end {
            BulkEnd::After(hours) => not_before.max(start + hours),
            BulkEnd::Done { .. } => f64::INFINITY,
        };
        for (name, place, hours) in self.retarding() {
            let hours = hours.min(most - hour);
            if hours <= 0.0 {
                continue;
            }
            let tau = match name {
                "cold" => self.tau_tub_in_cold,
                _ => self.tau_tub,
            };
            let course = TemperatureProfile::following(place, hour, from, tau)?;
            let before = state;
            state = f.after(&state, &course, hours)?;
            if let BulkEnd::Done { at, out_when_done } = end
                && beyond(&state, at) >= 0.0
                && hour + hours > not_before
            {
                let ready = f.until(&before, &course, &|s| beyond(s, at))?;
                let mut ready = ready.unwrap_or(before);
                let mut done = ready.hours - before.hours;
                if hour + done < not_before {
                    done = not_before - hour;
                    ready = f.after(&before, &course, done)?;
                }
                if !out_when_done {
                    return Err(Error::unreachable(
                        "so long a bulk in the cold",
                        format!(
                            "the dough is done after {done:.1} of the {hours:.1} h of its {name}"
                        ),
                        "use a colder place, a shorter time in [cold], or less yeast, in the preferment too",
                    ));
                }
                parts.push(part(name, [hour, hour + done], from, &ready));
                return Ok((parts, ready));
            }
            parts.push(part(name, [hour, hour + hours], from, &state));
            hour += hours;
            from = Temperature::celsius(state.temperature_c)?;
        }
        let course = TemperatureProfile::following(&self.rooms.bulk, hour, from, self.tau_tub)?;
        let done = match end {
            BulkEnd::After(_) => f.after(&state, &course, most - hour)?,
            BulkEnd::Done { at, .. } => {
                let done = f.until(&state, &course, &|s| beyond(s, at))?;
                done.ok_or_else(|| {
                let cold = self.rooms.bulk.at(hour).as_celsius();
                Error::unreachable(
                    "the end of the bulk",
                    format!("in three weeks at {cold:.1} °C the dough does not get there"),
                    "bulk in a warmer place (bulk_c; above 40 °C in a cooler one), use more yeast, or set bulk_min",
                )
                })?
            }
        };
        let done = match hour + (done.hours - state.hours) < not_before {
            true => f.after(&state, &course, not_before - hour)?,
            false => done,
        };
        let last = hour + (done.hours - state.hours);
        if last > hour || parts.is_empty() {
            let name = if parts.is_empty() { "bulk" } else { "warm up" };
            parts.push(part(name, [hour, last], from, &done));
        }
        Ok((parts, done))
    }

    /// The parts of a bulk before its last one: in its place and in the cold, with their hours.
    fn retarding(&self) -> impl Iterator<Item = (&'static str, &Ambient, f64)> {
        let of_bulk = self.bake.cold_of(ColdStage::Bulk);
        let parts = of_bulk.zip(self.rooms.cold.as_ref()).map(|(cold, room)| {
            [
                ("bulk", &self.rooms.bulk, as_hours(cold.after)),
                ("cold", room, as_hours(cold.time)),
            ]
        });
        parts.into_iter().flatten()
    }

    /// When a bulk ends that is done before its cold is over, and how long before, h.
    pub fn cut_short(&self, bulk: &BulkResult) -> Option<(f64, f64)> {
        let cold_end = bulk.bulk_start() + self.retarding().map(|r| r.2).sum::<f64>();
        let end = bulk.bulk_end();
        (end < cold_end - 1e-9).then_some((end, cold_end - end))
    }

    /// Fresh yeast as a dose of the baker's kind.
    pub fn dose(&self, fresh_percent: f64) -> Result<Percent> {
        Percent::new(fresh_percent * self.factors.factor(self.bake.formula.yeast_kind))
    }

    /// A dose of the baker's kind as fresh yeast, %.
    pub(super) fn as_fresh(&self, dose: Percent) -> f64 {
        dose.as_percent() / self.factors.factor(self.bake.formula.yeast_kind)
    }

    /// Shares of the flour that are a preferment's and old dough's.
    pub(in crate::plan) fn fermented_flour(batch: &Batch) -> [f64; 2] {
        let share = |m: Mass| m.as_grams() / batch.flour.as_grams();
        let ahead = share(batch.mass_of(Role::Flour, MixStage::Preferment));
        [ahead, batch.old_dough.map_or(0.0, |o| share(o.flour))]
    }

    fn composition(&self, batch: &Batch, preferment: Option<&Ripening>) -> Composition {
        let [ahead, old] = Self::fermented_flour(batch);
        Composition {
            hydration_percent: batch.percent_of_flour(batch.water),
            salt_percent: batch.percent_of_flour(batch.salt),
            sugar_percent: batch.percent_of_flour(batch.mass_of(Role::Sugar, MixStage::Mix)),
            fresh_flour: (1.0 - ahead - old).clamp(0.0, 1.0),
            // Old dough is taken to have doubled.
            gas_spent: preferment.map_or(0.0, |r| ahead * r.state.gas)
                + old * self.p.level(Kind::Dough).gas,
        }
    }

    /// Living yeast that preferment and old dough bring, g fresh per 100 g of all flour.
    pub(in crate::plan) fn carried(&self, batch: &Batch, preferment: Option<&Ripening>) -> f64 {
        let flour = batch.flour.as_grams();
        let ahead = batch.mass_of(Role::Flour, MixStage::Preferment).as_grams() / flour;
        let old = batch.old_dough;
        preferment.map_or(0.0, |r| ahead * r.state.yeast)
            + old.map_or(0.0, |o| 100.0 * o.yeast.as_grams() / flour)
    }

    /// The dough of a batch, with so much yeast added at the mix, as fresh, % of all flour.
    fn ferment(
        &self,
        batch: &Batch,
        added: f64,
        preferment: Option<&Ripening>,
        kinetics: &Kinetics,
    ) -> Result<Fermentation> {
        let dough = self.composition(batch, preferment);
        let carried = self.carried(batch, preferment);
        let medium = self.p.effects.medium(&dough)?;
        let volume = self.p.space.of(&dough, self.bake.kitchen.altitude_m);
        let f = Fermentation::new(kinetics, medium, volume, Inoculum { added, carried })?;
        Ok(f.with_own_heat(self.dough_heat))
    }

    /// The dough at an hour of its bulk.
    pub fn bulk_at(&self, bulk: &BulkResult, hour: f64) -> Result<State> {
        let start = bulk.bulk_start();
        let end = BulkEnd::After((hour - start).max(0.0));
        let from = (start, bulk.off_mixer);
        let (_, state) = self.stand(&bulk.dough, bulk.mixed, from, end, f64::NEG_INFINITY)?;
        Ok(state)
    }

    /// Mean of the dough over its bulk, °C.
    pub fn bulk_mean_c(&self, bulk: &BulkResult) -> Result<f64> {
        let (mut state, mut sum) = (bulk.mixed, 0.0);
        for part in &bulk.parts {
            let (place, tau) = match part.name {
                "cold" => (self.rooms.cold.as_ref(), self.tau_tub_in_cold),
                _ => (Some(&self.rooms.bulk), self.tau_tub),
            };
            let from = Temperature::celsius(part.dough_start_c.unwrap_or(state.temperature_c))?;
            let place = place.unwrap_or(&self.rooms.bulk);
            let course = TemperatureProfile::following(place, part.start_h, from, tau)?;
            let mut way = Trajectory::new(&bulk.dough, &state, &course);
            sum += mean_c(&mut way, part.hours())? * part.hours();
            state = way.at(part.hours())?;
        }
        Ok(sum / bulk.bulk_h())
    }

    /// How far the dough has risen at an hour of its bulk.
    pub fn rise_at(&self, bulk: &BulkResult, hour: f64) -> Result<f64> {
        Ok(bulk.rise(&self.bulk_at(bulk, hour)?))
    }

    /// Where the bulk stands at an hour; once out of the cold, in its place.
    pub fn bulk_place(&self, bulk: &BulkResult, hour: f64) -> &Ambient {
        let mut until = bulk.bulk_start();
        let mut parts = self.retarding().filter(|_| hour < bulk.bulk_end());
        let here = parts.find(|(_, _, hours)| {
            until += hours;
            hour < until
        });
        here.map_or(&self.rooms.bulk, |(_, place, _)| place)
    }
}

/// The gas made since its start by a dough that has risen since a state, at some °C.
pub(super) fn gas_at_rise(f: &Fermentation, from: &State, rise: f64, t: f64) -> f64 {
    from.gas + (f.volume()).made_from(from.held, rise * f.volume_ratio(from), t)
}

/// The dose at the mix with which the bulk comes to its end in time.
fn dose_at_mix(log_share: impl FnMut(f64) -> Result<f64>) -> Result<f64> {
    let (why, remedy) = match search(1.0, log_share)? {
        Search::Dose(dose) => return Ok(dose),
        Search::LeastIsTooMuch => (
            "the yeast carried in by the preferment alone is faster".to_owned(),
            "shorten bulk_h, use less preferment, or a retarder",
        ),
        Search::MostIsTooLittle { .. } => (
            format!("even {MOST} % fresh yeast is slower"),
            "lengthen bulk_h or use a warmer place",
        ),
    };
    Err(Error::unreachable("the bulk in this time", why, remedy).at("[process] bulk_h"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ferment::Parameters;
    use crate::plan::bake::Bake;

    /// The gas that the flour of a preferment and of old dough has made is spent: by hand, old dough of 20 % of
    /// all flour with 60 % water, 2 % salt and no yeast is 20 / 1.62 = 12.35 % of flour, and has doubled.
    #[test]
    fn flour_that_has_worked_has_spent_its_gas() {
        let text = |old: &str, preferment: &str| {
            format!(
                "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.3\n{old}{preferment}[kitchen]\nroom_c = 21\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n"
            )
        };
        let old = "[formula.old_dough]\npercent = 20\nhydration_percent = 60\nsalt_percent = 2\nyeast_percent = 0\n";
        let poolish = "[preferment]\nkind = \"poolish\"\nflour_percent = 30\ndose_percent = 0.1\n";
        let p = Parameters::shipped().unwrap();
        let doubled = p.level(Kind::Dough).gas;
        for (old, preferment, shares) in [
            ("", "", (0.0, 0.0)),
            (old, "", (0.2 / 1.62, 0.0)),
            ("", poolish, (0.0, 0.3)),
            (old, poolish, (0.2 / 1.62, 0.3)),
        ] {
            let bake = Bake::from_toml(&text(old, preferment)).unwrap();
            let places = bake
                .places(|_| Err(Error::malformed("no records")))
                .unwrap();
            let rooms = places.rooms(&bake, 0.0).unwrap();
            let line = DoughProcess::new(&bake, &p, &rooms).unwrap();
            let bulked = line.bulk_from_mix(8.0).unwrap();
            let ahead = bulked.preferment.map_or(0.0, |r| r.state.gas);
            let spent = shares.0 * doubled + shares.1 * ahead;
            let Composition {
                gas_spent,
                fresh_flour,
                ..
            } = line.composition(&bulked.batch, bulked.preferment.as_ref());
            assert!(
                (gas_spent - spent).abs() < 1e-6 * doubled,
                "{gas_spent} {spent}"
            );
            assert!((fresh_flour - (1.0 - shares.0 - shares.1)).abs() < 1e-9);
        }
    }

    /// The yeast that is carried in: by hand, old dough of 20 % of all flour with 60 % water, 2 % salt and 1 % yeast
    /// holds 20 / 1.63 of flour and a hundredth of that of yeast; a poolish of 30 % of the flour brings 0.3 of what
    /// lives in 100 g of it.
    #[test]
    fn old_dough_and_preferment_bring_their_yeast() {
        let old = "[formula.old_dough]\npercent = 20\nhydration_percent = 60\nsalt_percent = 2\nyeast_percent = 1\n";
        let poolish = "[preferment]\nkind = \"poolish\"\nflour_percent = 30\ndose_percent = 0.1\n";
        let p = Parameters::shipped().unwrap();
        for (old, preferment, of_old) in [
            ("", poolish, 0.0),
            (old, "", 0.01 * 20.0 / 1.63),
            (old, poolish, 0.01 * 20.0 / 1.63),
        ] {
            let bake = Bake::from_toml(&format!(
                "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.3\n{old}{preferment}[kitchen]\nroom_c = 21\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n"
            ))
            .unwrap();
            let places = bake
                .places(|_| Err(Error::malformed("no records")))
                .unwrap();
            let rooms = places.rooms(&bake, 0.0).unwrap();
            let line = DoughProcess::new(&bake, &p, &rooms).unwrap();
            let bulked = line.bulk_from_mix(8.0).unwrap();
            let ahead = bulked.preferment.map_or(0.0, |r| 0.3 * r.state.yeast);
            let carried = line.carried(&bulked.batch, bulked.preferment.as_ref());
            assert!((carried - of_old - ahead).abs() < 1e-9, "{carried}");
        }
    }

    /// A rise counts from the dough off the mixer, which a preferment that worked in a warm autolyse has raised a
    /// little already.
    #[test]
    fn a_rise_begins_at_the_mixer() {
        let p = Parameters::shipped().unwrap();
        let bake = Bake::from_toml(
            "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.3\n[preferment]\nkind = \"poolish\"\nflour_percent = 40\ndose_percent = 2\njoins = \"autolyse\"\n[kitchen]\nroom_c = 28\n[process]\ndough_c = 30\nautolyse_min = 30\n[oven]\nbake_min = 40\n",
        )
        .unwrap();
        let places = bake
            .places(|_| Err(Error::malformed("no records")))
            .unwrap();
        let rooms = places.rooms(&bake, 0.0).unwrap();
        let line = DoughProcess::new(&bake, &p, &rooms).unwrap();
        let bulked = line.bulk_from_mix(8.0).unwrap();
        assert!(bulked.dough.volume_ratio(&bulked.mixed) > 1.01);
        let rise = line.rise_at(&bulked, bulked.bulk_start()).unwrap();
        // But for the tenth of a kelvin by which its own heat has warmed it in the mix.
        assert!((rise - 1.0).abs() < 2e-3, "{rise}");
    }
}
