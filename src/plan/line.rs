//! One dough on its way from the preferment to the oven: what happens between any two hours.
//!
//! Hours are on the plan's clock. A stage begins where the one before it ended, with the dough as it
//! was then; in each place the dough follows the room with its own time constant and its own heat.

use super::bake::{Bake, Bulk, Joins, Proof};
use super::places::Rooms;
use super::water::{self, Around, MixWater};
use crate::ambient::{Ambient, Course};
use crate::error::{Error, Result};
use crate::ferment::{
    Composition, EndPoint, Fermentation, Inoculum, OwnHeat, Parameters, Ready, State, Volume,
};
use crate::formula::{Batch, Preferment, Role, Stage, YeastFactors};

use crate::heat::body::{Body, DoughProperties, Place, Shape};
use crate::numeric;
use crate::units::{Mass, Percent, Temperature, as_hours};

/// A loaf in its proof, three times as long as thick; balls and tubs have shapes of their own.
const LOAF: Shape = Shape::Cylinder {
    height_to_diameter: 3.0,
};

/// The preferment of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ripening {
    pub mixed: f64,
    pub used: f64,
    /// The preferment when it is used.
    pub state: State,
    /// Dose as fresh yeast, % of its flour.
    pub fresh_percent: f64,
}

/// The dough up to the end of its bulk.
#[derive(Debug, Clone)]
pub(super) struct Bulked {
    pub preferment: Option<Ripening>,
    pub water: MixWater,
    pub autolyse: Option<[f64; 2]>,
    /// Temperatures at start and end of the autolyse and at the start of the mix.
    pub autolyse_c: Option<[f64; 2]>,
    pub mix: [f64; 2],
    pub mix_start_c: f64,
    pub bulk: [f64; 2],
    pub state: State,
    pub batch: Batch,
    /// Yeast added at the mix, as fresh, % of all flour.
    pub added_fresh_percent: f64,
    composition: Composition,
    inoculum: Inoculum,
}

/// How long a load waits at each step beyond what the first load does, h.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Waits {
    pub bulk: f64,
    pub rest: f64,
    pub cooler: f64,
}

/// A load, shaped and in its proof place (after the cooler, if it was there).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shaped {
    /// End of dividing, of the rest and of shaping, and of the stay in the cooler.
    pub divide: [f64; 2],
    pub rest: [f64; 2],
    pub shape: [f64; 2],
    pub proof_from: f64,
    /// The dough at the start of dividing, of the rest, of shaping and of the proof.
    pub divide_c: f64,
    pub rest_c: f64,
    pub shape_c: f64,
    pub state: State,
}

/// Everything that stays the same while clock times are looked for.
pub(super) struct Line<'a> {
    pub bake: &'a Bake,
    p: &'a Parameters,
    rooms: &'a Rooms,
    factors: YeastFactors,
    /// Time constants, h.
    tau_preferment: f64,
    tau_tub: f64,
    tau_ball: f64,
    tau_loaf: f64,
    preferment_heat: OwnHeat,
    dough_heat: OwnHeat,
}

impl<'a> Line<'a> {
    pub fn new(bake: &'a Bake, p: &'a Parameters, rooms: &'a Rooms) -> Result<Self> {
        let batch = bake.batch()?;
        let still = Place::StillRoom.surface_w_per_m2_k()?;
        let c_dough = water::dough_capacity(&batch)?;
        let tau = |mass: Mass, shape: Shape, c: f64| {
            let properties = DoughProperties {
                heat_capacity_kj_per_kg_k: c,
                ..DoughProperties::shipped()?
            };
            Body::new(mass, shape, properties)?.time_constant_h(still)
        };
        let heat = |mass: Mass, flour: Mass, c: f64| {
            let kg = mass.as_kilograms() / (flour.as_grams() / 100.0);
            OwnHeat::new(p.heat_kj_per_mol, p.space.molar_volume, kg, c)
        };
        let dough_heat = heat(batch.dough, batch.flour, c_dough)?;
        let (mut tau_preferment, mut preferment_heat) = (1.0, dough_heat);
        if let Some(own) = &bake.formula.preferment {
            let c =
                crate::heat::capacities::HeatCapacities::shipped()?.dough(own.hydration, own.salt);
            let mass = batch.stage_mass(Stage::Preferment);
            tau_preferment = tau(mass, Shape::TUB, c)?;
            preferment_heat = heat(mass, batch.mass_of(Role::Flour, Stage::Preferment), c)?;
        }
        Ok(Self {
            bake,
            p,
            rooms,
            factors: YeastFactors::shipped()?,
            tau_preferment,
            tau_tub: tau(batch.dough, Shape::TUB, c_dough)?,
            tau_ball: tau(bake.piece, Shape::Sphere, c_dough)?,
            tau_loaf: tau(bake.piece, LOAF, c_dough)?,
            preferment_heat,
            dough_heat,
        })
    }

    /// V/V0 at the end of the proof.
    fn proof_ratio(&self) -> f64 {
        match self.bake.process.proof {
            Proof::Hearth => self.p.proof.hearth_ratio,
            Proof::Tin => self.p.proof.tin_ratio,
        }
    }

    // ---- the preferment

    fn preferment_stage(&self, own: &Preferment, fresh_percent: f64) -> crate::ferment::Stage {
        crate::ferment::Stage {
            composition: Composition::lean(own.hydration.as_percent(), own.salt.as_percent()),
            yeast: Inoculum {
                added: fresh_percent,
                carried: 0.0,
            },
            end: EndPoint::Ripe(own.kind),
            own_heat: Some(self.preferment_heat),
        }
    }

    fn preferment_course(&self, mixed: f64) -> Result<Course<'_>> {
        let from = self
            .bake
            .preferment
            .as_ref()
            .map_or(Temperature::ZERO, |s| s.dough);
        Course::following(&self.rooms.preferment, mixed, from, self.tau_preferment)
    }

    /// The preferment mixed at an hour; used when it is ripe, or after the hours the baker wants.
    pub fn preferment_from(&self, mixed: f64) -> Result<Option<Ripening>> {
        let (Some(own), Some(step)) = (&self.bake.formula.preferment, &self.bake.preferment) else {
            return Ok(None);
        };
        let course = self.preferment_course(mixed)?;
        let fresh_percent = match (own.dose, step.ripe_after) {
            (Some(dose), _) => {
                dose.as_percent() / self.factors.factor(self.bake.formula.yeast_kind)
            }
            (None, Some(after)) => self
                .preferment_stage(own, 0.1)
                .fresh_dose_for(self.p, &course, as_hours(after))
                .map_err(|e| e.at("[preferment] ripe_after_h"))?,
            (None, None) => {
                return Err(Error::contradiction(
                    "the preferment has neither a dose nor a time",
                ));
            }
        };
        let ripe = self
            .preferment_stage(own, fresh_percent)
            .ripe(self.p, &course);
        let state = ripe.map_err(|e| e.at("[preferment]"))?;
        Ok(Some(Ripening {
            mixed,
            used: mixed + state.hours,
            state,
            fresh_percent,
        }))
    }

    /// The preferment for use at an hour: mixed so that it is ripe just then.
    fn preferment_for(&self, used: f64) -> Result<Option<Ripening>> {
        let Some(step) = &self.bake.preferment else {
            return Ok(None);
        };
        if let Some(after) = step.ripe_after {
            return self.preferment_from(used - as_hours(after));
        }
        let mut ripening = None;
        numeric::meet(used - 12.0, |mixed| {
            ripening = self.preferment_from(mixed)?;
            Ok::<_, Error>(ripening.map_or(0.0, |r| r.used - used))
        })?
        .ok_or(Error::NotSettled {
            what: "the hour to mix the preferment",
            steps: numeric::MEET_STEPS,
        })?;
        Ok(ripening)
    }

    /// When a preferment of this plan is ripe, and its window.
    pub fn preferment_ready(&self, ripening: &Ripening) -> Result<Ready> {
        let course = self.preferment_course(ripening.mixed)?;
        self.preferment_stage(self.preferment()?, ripening.fresh_percent)
            .ready(self.p, &course)
    }

    /// Hours until a preferment of this plan is ripe, with other parameters.
    pub fn ripe_hours(&self, p: &Parameters, ripening: &Ripening) -> Result<f64> {
        let course = self.preferment_course(ripening.mixed)?;
        let stage = self.preferment_stage(self.preferment()?, ripening.fresh_percent);
        stage.ripe(p, &course).map(|s| s.hours)
    }

    fn preferment(&self) -> Result<&Preferment> {
        let own = self.bake.formula.preferment.as_ref();
        own.ok_or_else(|| Error::contradiction("this bake has no preferment"))
    }

    /// The kitchen at an hour.
    pub fn room_at(&self, hour: f64) -> Temperature {
        self.rooms.kitchen.at(hour)
    }

    /// Hours between which the rooms' records hold measured values.
    pub fn recorded(&self) -> Option<(f64, f64)> {
        self.rooms.recorded
    }

    // ---- the dough

    /// Mixes at `mix`, with a preferment ripe for it, and follows the dough to the end of its bulk.
    pub fn bulk_from_mix(&self, mix: f64) -> Result<Bulked> {
        let start = mix - as_hours(self.bake.process.autolyse);
        let used = match self.bake.preferment.as_ref().map(|s| s.joins) {
            Some(Joins::Autolyse) => start,
            _ => mix,
        };
        self.bulk(mix, self.preferment_for(used)?)
    }

    /// Begins at `start` with the preferment (or, without one, with the dough itself).
    pub fn bulk_from_start(&self, start: f64) -> Result<Bulked> {
        let autolyse = as_hours(self.bake.process.autolyse);
        match self.preferment_from(start)? {
            None => self.bulk(start + autolyse, None),
            Some(ripe) => {
                let joins_autolyse =
                    self.bake.preferment.as_ref().map(|s| s.joins) == Some(Joins::Autolyse);
                let mix = if joins_autolyse {
                    ripe.used + autolyse
                } else {
                    ripe.used
                };
                self.bulk(mix, Some(ripe))
            }
        }
    }

    fn bulk(&self, mix: f64, preferment: Option<Ripening>) -> Result<Bulked> {
        let bake = self.bake;
        let process = &bake.process;
        let autolyse_h = as_hours(process.autolyse);
        let start = mix - autolyse_h;
        let mixed = mix + as_hours(process.mix);

        // Weights with every dose known; a dose at the mix that is still to be found weighs nothing yet.
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

        let target = process.dough.as_celsius();
        let balance = water.balance;
        let autolyse_c = balance
            .and_then(|b| b.rest)
            .map(|[a, b]| [a.as_celsius(), b.as_celsius()]);
        // Without a rest the dough warms from what flour and water make to what the mixer makes of it.
        let mix_start_c = match (autolyse_c, balance) {
            (Some([_, end]), _) => end,
            (None, Some(b)) => target - b.mixing_rise.as_kelvin(),
            (None, None) => target,
        };

        let composition = self.composition(&batch, preferment.as_ref());
        let carried = self.carried(&batch, preferment.as_ref());
        let resting = (preferment.is_some()
            && bake.preferment.as_ref().map(|s| s.joins) == Some(Joins::Autolyse))
        .then_some(autolyse_c)
        .flatten();
        // From the first wetting to the end of the bulk, for a dose at the mix.
        let work = |added: f64, until: BulkEnd| -> Result<(f64, State)> {
            let inoculum = Inoculum { added, carried };
            let f = self.ferment(&composition, inoculum)?;
            let mut state =
                f.start_holding(self.held_by_preferment(&f, &batch, preferment.as_ref()));
            if let Some([from, to]) = resting {
                let course = Ambient::ramps(&[(0.0, from), (autolyse_h.max(1e-3), to)])?;
                state = f.after(&state, &Course::of_room(&course, 0.0), autolyse_h)?;
            }
            let mix_h = mixed - mix;
            if mix_h > 0.0 {
                let course = Ambient::ramps(&[(0.0, mix_start_c), (mix_h, target)])?;
                state = f.after(&state, &Course::of_room(&course, 0.0), mix_h)?;
            }
            let course = Course::following(&self.rooms.bulk, mixed, process.dough, self.tau_tub)?;
            match until {
                BulkEnd::After(h) => Ok((mixed + h, f.after(&state, &course, h)?)),
                BulkEnd::AtGas(gas) => {
                    let end = f.until_gas(&state, &course, gas)?.ok_or_else(|| {
                        let cold = self.rooms.bulk.at(mixed).as_celsius();
                        Error::unreachable(
                            "the end of the bulk",
                            format!("in three weeks at {cold:.1} °C the dough does not get there"),
                            "bulk in a warmer place (bulk_c), use more yeast, or set bulk_min",
                        )
                    })?;
                    Ok((mixed + (end.hours - state.hours), end))
                }
            }
        };
        let doubled = self.p.levels.doubled.gas;
        let at_mix = bake.formula.yeast.map_or(0.0, Percent::as_percent);
        let mut added = at_mix / self.factors.factor(bake.formula.yeast_kind);
        let (bulk_end, state) = match process.bulk {
            Bulk::Fixed(time) => work(added, BulkEnd::After(as_hours(time)))?,
            Bulk::Until(share) => work(added, BulkEnd::AtGas(share.as_fraction() * doubled))?,
            Bulk::DoseFor(time) => {
                let after = BulkEnd::After(as_hours(time));
                added = self.dose_at_mix(|added| Ok((work(added, after)?.1.gas / doubled).ln()))?;
                work(added, after)?
            }
        };
        // The weights again, now that the dose at the mix is known too.
        formula.yeast = Some(self.dose(added)?);
        let batch = formula.for_pieces(bake.pieces, bake.piece, bake.scrap)?;
        Ok(Bulked {
            preferment,
            water,
            autolyse: (autolyse_h > 0.0).then_some([start, mix]),
            autolyse_c,
            mix: [mix, mixed],
            mix_start_c,
            bulk: [mixed, bulk_end],
            state,
            batch,
            added_fresh_percent: added,
            composition,
            inoculum: Inoculum { added, carried },
        })
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
        let share = batch.mass_of(Role::Water, Stage::Preferment).as_grams()
            / batch.water.as_grams().max(1e-9);
        share * f.volume().dissolved(ripe.state.temperature_c)
    }

    fn ferment(&self, composition: &Composition, inoculum: Inoculum) -> Result<Fermentation<'_>> {
        let medium = self.p.effects.medium(composition)?;
        let volume: Volume = self.p.space.of(composition, self.bake.kitchen.altitude_m);
        let f = Fermentation::new(&self.p.kinetics, medium, volume, inoculum)?;
        Ok(f.with_own_heat(self.dough_heat))
    }

    fn dose_at_mix(&self, mut log_share: impl FnMut(f64) -> Result<f64>) -> Result<f64> {
        let (least, most) = (1e-4f64, 20.0f64);
        let at = "[process] bulk_h";
        if log_share(least)? > 0.0 {
            return Err(Error::unreachable(
                "the bulk in this time",
                "the yeast carried in by the preferment alone is faster",
                "shorten bulk_h, use less preferment, or a cooler place",
            )
            .at(at));
        }
        if log_share(most)? < 0.0 {
            return Err(Error::unreachable(
                "the bulk in this time",
                format!("even {most} % fresh yeast is slower"),
                "lengthen bulk_h or use a warmer place",
            )
            .at(at));
        }
        let mut fault = None;
        let found = numeric::root(
            |x| {
                log_share(x.exp()).unwrap_or_else(|e| {
                    fault.get_or_insert(e);
                    f64::NAN
                })
            },
            least.ln(),
            most.ln(),
        );
        match (found, fault) {
            (Some(x), None) => Ok(x.exp()),
            (_, Some(e)) => Err(e),
            (None, None) => Err(Error::NotSettled {
                what: "the dose at the mix",
                steps: 200,
            }),
        }
    }

    // ---- the pieces

    /// Divides, rests and shapes a load, with its waits, up to the start of its proof.
    pub fn shaped(&self, bulked: &Bulked, waits: Waits) -> Result<Shaped> {
        let process = &self.bake.process;
        let f = self.ferment(&bulked.composition, bulked.inoculum)?;
        let kept = self.p.proof.kept;
        let here = |s: &State| Temperature::celsius(s.temperature_c);
        let stay = |s: &State, room: &Ambient, from: f64, tau: f64, hours: f64| {
            let course = Course::following(room, from, here(s)?, tau)?;
            f.after(s, &course, hours)
        };
        let kitchen = &self.rooms.kitchen;

        let mut hour = bulked.bulk[1];
        let mut state = stay(
            &bulked.state,
            &self.rooms.bulk,
            hour,
            self.tau_tub,
            waits.bulk,
        )?;
        hour += waits.bulk;
        let divide_c = state.temperature_c;
        let divide = [hour, hour + as_hours(process.divide)];
        state = stay(
            &state,
            kitchen,
            divide[0],
            self.tau_ball,
            divide[1] - divide[0],
        )?;
        state = f.handled(&state, kept);
        let rest_c = state.temperature_c;
        let rest = [divide[1], divide[1] + as_hours(process.rest) + waits.rest];
        state = stay(&state, kitchen, rest[0], self.tau_ball, rest[1] - rest[0])?;
        let shape_c = state.temperature_c;
        let shape = [rest[1], rest[1] + as_hours(process.shape)];
        state = stay(
            &state,
            kitchen,
            shape[0],
            self.tau_loaf,
            shape[1] - shape[0],
        )?;
        state = f.handled(&state, kept);
        let mut proof_from = shape[1];
        if waits.cooler > 0.0
            && let Some(cooler) = &self.rooms.cooler
        {
            state = stay(&state, cooler, proof_from, self.tau_loaf, waits.cooler)?;
            proof_from += waits.cooler;
        }
        Ok(Shaped {
            divide,
            rest,
            shape,
            proof_from,
            divide_c,
            rest_c,
            shape_c,
            state,
        })
    }

    fn proof_course(&self, shaped: &Shaped) -> Result<Course<'_>> {
        let from = Temperature::celsius(shaped.state.temperature_c)?;
        Course::following(&self.rooms.proof, shaped.proof_from, from, self.tau_loaf)
    }

    /// Share of its end point that a load's proof has come to.
    fn ripeness(&self, f: &Fermentation<'_>, state: &State) -> f64 {
        (f.volume_ratio(state) - 1.0) / (self.proof_ratio() - 1.0)
    }

    /// The hour when a load's proof has come to a share of its end point; `None` when never.
    pub fn proof_until(&self, bulked: &Bulked, shaped: &Shaped, share: f64) -> Result<Option<f64>> {
        let f = self.ferment(&bulked.composition, bulked.inoculum)?;
        let end = f.until(&shaped.state, &self.proof_course(shaped)?, &|s| {
            self.ripeness(&f, s) - share
        })?;
        Ok(end.map(|s| shaped.proof_from + (s.hours - shaped.state.hours)))
    }

    /// Ripeness and temperature of a load's proof at an hour, which must not lie before the proof.
    pub fn proof_at(&self, bulked: &Bulked, shaped: &Shaped, hour: f64) -> Result<(f64, f64)> {
        let f = self.ferment(&bulked.composition, bulked.inoculum)?;
        let hours = (hour - shaped.proof_from).max(0.0);
        let state = f.after(&shaped.state, &self.proof_course(shaped)?, hours)?;
        Ok((self.ripeness(&f, &state), state.temperature_c))
    }

    /// Share of its end point that the bulk has come to after a longer stay.
    pub fn bulk_share(&self, bulked: &Bulked, longer: f64) -> Result<f64> {
        let f = self.ferment(&bulked.composition, bulked.inoculum)?;
        let from = Temperature::celsius(bulked.state.temperature_c)?;
        let course = Course::following(&self.rooms.bulk, bulked.bulk[1], from, self.tau_tub)?;
        Ok(f.after(&bulked.state, &course, longer)?.gas / self.p.levels.doubled.gas)
    }
}

/// When the bulk ends.
#[derive(Clone, Copy)]
enum BulkEnd {
    After(f64),
    AtGas(f64),
}
