//! The dough from its first wetting to the end of its bulk.

use super::{Line, Part, Ripening};
use crate::ambient::{Ambient, Course};
use crate::error::{Error, Result};
use crate::ferment::{Composition, Fermentation, Inoculum, State};
use crate::formula::{Batch, Role, Stage};
use crate::numeric;
use crate::plan::bake::{Bulk, ColdStage, Joins};
use crate::plan::water::{self, Around, MixWater};
use crate::units::{Mass, Percent, Temperature, as_hours};

/// Least and most yeast that a dose at the mix is looked for in, fresh % of flour.
const DOSES: (f64, f64) = (1e-4, 20.0);

/// The dough up to the end of its bulk.
#[derive(Debug, Clone)]
pub(in crate::plan) struct Bulked {
    pub preferment: Option<Ripening>,
    pub water: MixWater,
    pub autolyse: Option<[f64; 2]>,
    /// Temperatures at start and end of the autolyse.
    pub autolyse_c: Option<[f64; 2]>,
    pub mix: [f64; 2],
    /// Temperatures at start and end of the mix.
    pub mix_c: [f64; 2],
    /// The bulk, in the cold and out of it.
    pub parts: Vec<Part>,
    pub state: State,
    pub batch: Batch,
    /// Yeast added at the mix, as fresh, % of all flour.
    pub added: f64,
    pub(super) composition: Composition,
    pub(super) inoculum: Inoculum,
}

impl Bulked {
    pub fn bulk_start(&self) -> f64 {
        self.mix[1]
    }

    pub fn bulk_end(&self) -> f64 {
        self.parts.last().map_or(self.mix[1], |p| p.end)
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
}

impl Line<'_> {
    /// Mixes at `mix`, with a preferment ripe for it, and follows the dough to the end of its bulk.
    pub fn bulk_from_mix(&self, mix: f64) -> Result<Bulked> {
        let start = mix - as_hours(self.bake.process.autolyse);
        let used = if self.joins_autolyse() { start } else { mix };
        self.bulk(mix, self.preferment_for(used)?, Known::default())
    }

    /// Begins at `start` with the preferment (or, without one, with the dough itself).
    pub fn bulk_from_start(&self, start: f64) -> Result<Bulked> {
        let ripe = self.preferment_from(start)?;
        let mix = self.mix_after(ripe.map_or(start, |r| r.used), ripe.is_some());
        self.bulk(mix, ripe, Known::default())
    }

    /// When the dough is mixed, if its first wetting, or the use of its preferment, is at an hour.
    pub fn mix_after(&self, used: f64, has_preferment: bool) -> f64 {
        let rest_first = !has_preferment || self.joins_autolyse();
        if rest_first {
            used + as_hours(self.bake.process.autolyse)
        } else {
            used
        }
    }

    pub(super) fn joins_autolyse(&self) -> bool {
        self.bake
            .preferment
            .as_ref()
            .is_some_and(|s| s.joins == Joins::Autolyse)
    }

    /// Mixes at `mix` with this preferment, and follows the dough to the end of its bulk.
    pub fn bulk(&self, mix: f64, preferment: Option<Ripening>, known: Known) -> Result<Bulked> {
        let bake = self.bake;
        let process = &bake.process;
        let autolyse_h = as_hours(process.autolyse);
        let start = mix - autolyse_h;
        let mixed = mix + as_hours(process.mix);

        // Weights; a dose at the mix that is still to be found weighs nothing yet.
        let mut formula = bake.formula.clone();
        if let (Some(own), Some(ripe)) = (&mut formula.preferment, &preferment) {
            own.dose = Some(self.dose(ripe.fresh_percent)?);
        }
        let batch = formula.for_pieces(bake.pieces, bake.piece, bake.scrap)?;
        let around = Around {
            room: self.rooms.kitchen.at(start),
            preferment: preferment
                .map(|r| Temperature::celsius(r.state.temperature_c))
                .transpose()?,
        };
        let water = water::of_dough(bake, &batch, around)?.answered()?;
        let autolyse_c = water
            .balance
            .and_then(|b| b.rest)
            .map(|[a, b]| [a.as_celsius(), b.as_celsius()]);
        let off_mixer = known.mixed.unwrap_or(process.dough);
        // Without a rest the dough warms from what flour and water make to what the mixer makes of it.
        let from_c = match (autolyse_c, water.balance) {
            (Some([_, end]), _) => end,
            (None, Some(b)) => off_mixer.as_celsius() - b.mixing_rise.as_kelvin(),
            (None, None) => off_mixer.as_celsius(),
        };
        let mix_c = [from_c, off_mixer.as_celsius()];

        let composition = self.composition(&batch, preferment.as_ref());
        let carried = self.carried(&batch, preferment.as_ref());
        let resting = autolyse_c.filter(|_| preferment.is_some() && self.joins_autolyse());
        // From the first wetting to the end of the bulk, for a dose at the mix.
        let work = |added: f64, end: BulkEnd| -> Result<(Vec<Part>, State)> {
            let f = self.ferment(&composition, Inoculum { added, carried })?;
            let held = self.held_by_preferment(&f, &batch, preferment.as_ref());
            let mut state = f.start_holding(held);
            for (hours, [from, to]) in [(autolyse_h, resting), (mixed - mix, Some(mix_c))]
                .into_iter()
                .filter_map(|(h, c)| c.filter(|_| h > 0.0).map(|c| (h, c)))
            {
                let course = Ambient::ramps(&[(0.0, from), (hours, to)])?;
                state = f.after(&state, &Course::of_room(&course, 0.0), hours)?;
            }
            self.stand(&f, state, mixed, off_mixer, end)
        };
        let doubled = self.p.levels.doubled.gas;
        let at_mix = bake.formula.yeast.map_or(0.0, Percent::as_percent);
        let mut added = known
            .added
            .unwrap_or(at_mix / self.factors.factor(bake.formula.yeast_kind));
        let cold_h = bake
            .cold
            .as_ref()
            .filter(|c| c.stage == ColdStage::Bulk)
            .map_or(0.0, |c| as_hours(c.time));
        let end = match (known.bulk_h, process.bulk) {
            (Some(hours), _) => BulkEnd::After(hours),
            // Minutes fixed by the baker are those outside the cold.
            (None, Bulk::Fixed(time)) => BulkEnd::After(as_hours(time) + cold_h),
            (None, Bulk::DoseFor(time)) => BulkEnd::After(as_hours(time)),
            (None, Bulk::Until(share)) => BulkEnd::AtGas(share.as_fraction() * doubled),
        };
        if known.added.is_none() && matches!(process.bulk, Bulk::DoseFor(_)) {
            added = dose_at_mix(|added| Ok((work(added, end)?.1.gas / doubled).ln()))?;
        }
        let (parts, state) = work(added, end)?;
        // The weights again, now that the dose at the mix is known too.
        formula.yeast = Some(self.dose(added)?);
        let batch = formula.for_pieces(bake.pieces, bake.piece, bake.scrap)?;
        Ok(Bulked {
            preferment,
            water,
            autolyse: (autolyse_h > 0.0).then_some([start, mix]),
            autolyse_c,
            mix: [mix, mixed],
            mix_c,
            parts,
            state,
            batch,
            added,
            composition,
            inoculum: Inoculum { added, carried },
        })
    }

    /// The bulk itself: in its place, or first there, then in the cold, then there again.
    fn stand(
        &self,
        f: &Fermentation<'_>,
        mut state: State,
        mixed: f64,
        off_mixer: Temperature,
        end: BulkEnd,
    ) -> Result<(Vec<Part>, State)> {
        let mut parts = Vec::new();
        let (mut hour, mut from) = (mixed, off_mixer);
        if let (Some(cold), Some(room)) = (
            self.bake
                .cold
                .as_ref()
                .filter(|c| c.stage == ColdStage::Bulk),
            &self.rooms.cold,
        ) {
            for (name, place, hours) in [
                ("bulk", &self.rooms.bulk, as_hours(cold.after)),
                ("cold", room, as_hours(cold.time)),
            ] {
                if hours == 0.0 {
                    continue;
                }
                let course = Course::following(place, hour, from, self.tau_tub)?;
                let before = state;
                state = f.after(&state, &course, hours)?;
                if let BulkEnd::AtGas(gas) = end
                    && state.gas >= gas
                {
                    let done = f
                        .until_gas(&before, &course, gas)?
                        .map_or(0.0, |s| s.hours - before.hours);
                    return Err(Error::unreachable(
                        "a bulk in the cold of this length",
                        format!(
                            "the dough is done after {done:.1} of the {hours:.1} h of its {name}"
                        ),
                        "use less yeast, a colder place, or a shorter time in [cold]",
                    ));
                }
                parts.push(Part::new(
                    name,
                    hour,
                    hour + hours,
                    from.as_celsius(),
                    state.temperature_c,
                ));
                hour += hours;
                from = Temperature::celsius(state.temperature_c)?;
            }
        }
        let course = Course::following(&self.rooms.bulk, hour, from, self.tau_tub)?;
        let done = match end {
            BulkEnd::After(hours) => {
                let left = mixed + hours - hour;
                if left < 0.0 {
                    return Err(Error::contradiction(format!(
                        "the bulk of {hours:.1} h is shorter than its time in the cold; lengthen it, or shorten [cold]"
                    )));
                }
                f.after(&state, &course, left)?
            }
            BulkEnd::AtGas(gas) => f.until_gas(&state, &course, gas)?.ok_or_else(|| {
                let cold = self.rooms.bulk.at(hour).as_celsius();
                Error::unreachable(
                    "the end of the bulk",
                    format!("in three weeks at {cold:.1} °C the dough does not get there"),
                    "bulk in a warmer place (bulk_c), use more yeast, or set bulk_min",
                )
            })?,
        };
        let last = hour + (done.hours - state.hours);
        if last > hour || parts.is_empty() {
            let name = if parts.is_empty() { "bulk" } else { "warm up" };
            parts.push(Part::new(
                name,
                hour,
                last,
                from.as_celsius(),
                done.temperature_c,
            ));
        }
        Ok((parts, done))
    }

    /// Fresh yeast as a dose of the baker's kind.
    pub fn dose(&self, fresh_percent: f64) -> Result<Percent> {
        Percent::new(fresh_percent * self.factors.factor(self.bake.formula.yeast_kind))
    }

    fn composition(&self, batch: &Batch, preferment: Option<&Ripening>) -> Composition {
        let share = |m: Mass| m.as_grams() / batch.flour.as_grams();
        let ahead = share(batch.mass_of(Role::Flour, Stage::Preferment));
        let old = batch.old_dough.map_or(0.0, |o| share(o.flour));
        Composition {
            hydration_percent: batch.percent_of_flour(batch.water),
            salt_percent: batch.percent_of_flour(batch.salt),
            sugar_percent: batch.percent_of_flour(batch.mass_of(Role::Sugar, Stage::Mix)),
            fresh_flour: (1.0 - ahead - old).clamp(0.0, 1.0),
            // Old dough is taken to have come to doubled.
            gas_spent: preferment.map_or(0.0, |r| ahead * r.state.gas)
                + old * self.p.levels.doubled.gas,
        }
    }

    /// Living yeast that preferment and old dough bring, g fresh per 100 g of all flour.
    fn carried(&self, batch: &Batch, preferment: Option<&Ripening>) -> f64 {
        let flour = batch.flour.as_grams();
        let ahead = batch.mass_of(Role::Flour, Stage::Preferment).as_grams() / flour;
        let old = batch
            .old_dough
            .map_or(0.0, |o| 100.0 * o.yeast.as_grams() / flour);
        preferment.map_or(0.0, |r| ahead * r.state.yeast) + old
    }

    /// Mixing drives out the free gas of a preferment; what its water holds dissolved stays.
    fn held_by_preferment(
        &self,
        f: &Fermentation<'_>,
        batch: &Batch,
        preferment: Option<&Ripening>,
    ) -> f64 {
        let Some(ripe) = preferment else { return 0.0 };
        let ahead = batch.mass_of(Role::Water, Stage::Preferment).as_grams();
        ahead / batch.water.as_grams().max(1e-9) * f.volume().dissolved(ripe.state.temperature_c)
    }

    pub(super) fn ferment(&self, dough: &Composition, yeast: Inoculum) -> Result<Fermentation<'_>> {
        let medium = self.p.effects.medium(dough)?;
        let volume = self.p.space.of(dough, self.bake.kitchen.altitude_m);
        let f = Fermentation::new(&self.kinetics, medium, volume, yeast)?;
        Ok(f.with_own_heat(self.dough_heat))
    }

    /// The dough of a bulk at an hour of it, and how far it has risen since the mix.
    pub fn bulk_at(&self, bulked: &Bulked, hour: f64) -> Result<(State, f64)> {
        let known = Known {
            added: Some(bulked.added),
            mixed: Some(Temperature::celsius(bulked.mix_c[1])?),
            bulk_h: Some((hour - bulked.bulk_start()).max(0.0)),
        };
        let now = self.bulk(bulked.mix[0], bulked.preferment, known)?;
        let just_mixed = self.bulk(
            bulked.mix[0],
            bulked.preferment,
            Known {
                bulk_h: Some(0.0),
                ..known
            },
        )?;
        let f = self.ferment(&bulked.composition, bulked.inoculum)?;
        Ok((
            now.state,
            f.volume_ratio(&now.state) / f.volume_ratio(&just_mixed.state),
        ))
    }

    /// Share of its end point that the bulk has come to after a longer stay.
    pub fn bulk_share(&self, bulked: &Bulked, longer: f64) -> Result<f64> {
        let f = self.ferment(&bulked.composition, bulked.inoculum)?;
        let from = Temperature::celsius(bulked.state.temperature_c)?;
        let course = Course::following(&self.rooms.bulk, bulked.bulk_end(), from, self.tau_tub)?;
        Ok(f.after(&bulked.state, &course, longer)?.gas / self.p.levels.doubled.gas)
    }
}

/// When the bulk ends.
#[derive(Clone, Copy)]
enum BulkEnd {
    /// So many hours after the mix.
    After(f64),
    AtGas(f64),
}

/// The dose at the mix with which the bulk comes to its end in time.
fn dose_at_mix(mut log_share: impl FnMut(f64) -> Result<f64>) -> Result<f64> {
    let at = "[process] bulk_h";
    let (least, most) = DOSES;
    let mut miss = |log_dose: f64| log_share(log_dose.exp().clamp(least, most));
    // Gas follows the dose nearly one to one in the logarithm: the secant, and bracketing behind it.
    if let Some(log_dose) = numeric::meet(0f64, &mut miss)?
        && (least.ln()..=most.ln()).contains(&log_dose)
    {
        return Ok(log_dose.exp());
    }
    if miss(least.ln())? > 0.0 {
        return Err(Error::unreachable(
            "the bulk in this time",
            "the yeast carried in by the preferment alone is faster",
            "shorten bulk_h, use less preferment, or a cooler place",
        )
        .at(at));
    }
    if miss(most.ln())? < 0.0 {
        return Err(Error::unreachable(
            "the bulk in this time",
            format!("even {most} % fresh yeast is slower"),
            "lengthen bulk_h or use a warmer place",
        )
        .at(at));
    }
    let found = numeric::root(|x| miss(x).unwrap_or(f64::NAN), least.ln(), most.ln());
    found.map(f64::exp).ok_or(Error::NotSettled {
        what: "the dose at the mix",
        steps: 200,
    })
}
