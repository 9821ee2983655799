//! Where the stages of a recipe end, by a bake that worked, and by a log of bakes.
//!
//! The reference is this bake in rooms made so much warmer or colder that the mean of its dough over the stage is the
//! baker's: what it has come to after the baker's time is the end point. So a plan whose dough is as warm as the
//! reference's takes the reference's time, and every other plan goes to the same end point at its own temperatures.
//!
//! A log has taught how much gas a bulk and a proof make until the baker ends them. Beside a reference, which is one
//! bake, each weighs by how sure it is.

use super::bulk::{DoneAt, ProofEnd, gas_at_rise};
use super::{DoughProcess, Known};
use crate::ambient::{Ambient, TemperatureProfile};
use crate::error::{Error, Result};
use crate::ferment::{Fermentation, Kind, Level, Parameters, State, Trajectory};
use crate::numeric;
use crate::plan::bake::{ProofKind, StageReference};
use crate::units::{Temperature, TemperatureDifference, as_hours};

/// Where the bulk and the proof of a plan end.
#[derive(Debug, Clone, Copy)]
pub(super) struct EndPoints {
    pub bulk: DoneAt,
    pub proof: ProofEnd,
    /// How many times as fast as in the table the baker's dough makes gas.
    pub speed: f64,
}

/// A dough as it enters a stage, in rooms so many kelvin warmer.
type Enters<'m> = dyn Fn(f64) -> Result<(Fermentation, State)> + 'm;

/// A dough off its mixer with yeast so many times as fast, in rooms so many kelvin warmer.
pub(super) type OffMixer<'m> = dyn Fn(f64, f64) -> Result<(Fermentation, State)> + 'm;

/// A place in which the dough of a stage stands from an hour on, and the time constant with which it follows it, h.
type Stand<'m> = (&'m Ambient, f64, f64);

/// Mean of the dough over its first hours on a way, °C.
pub(super) fn mean_c(way: &mut Trajectory<'_>, hours: f64) -> Result<f64> {
    // A tub goes most of the way to its room in some hours; the panels are shorter.
    let panels = hours.max(1.0).ceil();
    let (mut sum, mut panel) = (0.0, 0.0);
    while panel < panels {
        let mut c = numeric::fractions();
        for at in &mut c {
            *at = way.at(hours * (panel + *at) / panels)?.temperature_c;
        }
        sum += numeric::integral(&c, 1.0 / panels);
        panel += 1.0;
    }
    Ok(sum)
}

/// A dough before and after a stage of the reference, in rooms so many kelvin warmer.
type Stood = (f64, Fermentation, [State; 2]);

/// A dough through the time of a reference, in rooms so much warmer that its mean is the reference's.
fn stood(
    own: StageReference,
    (place, hour, tau_h): Stand<'_>,
    enters: &Enters<'_>,
) -> Result<Stood> {
    let (mut warmer, hours) = (0.0, as_hours(own.time));
    for _ in 0..numeric::MEET_STEPS {
        let (dough, before) = enters(warmer)?;
        let from = Temperature::celsius(before.temperature_c)?;
        let place = (place.clone()).warmer(TemperatureDifference::kelvin(warmer)?);
        let course = TemperatureProfile::following(&place, hour, from, tau_h)?;
        let mut way = Trajectory::new(&dough, &before, &course);
        // A warmer dough also makes more heat of its own, so that the shift settles in a few steps.
        let miss = own.dough.as_celsius() - mean_c(&mut way, hours)?;
        if miss.abs() < 1e-7 {
            let after = way.at(hours)?;
            drop(way);
            return Ok((warmer, dough, [before, after]));
        }
        warmer += miss;
    }
    Err(Error::not_settled(
        "the temperature of the reference",
        numeric::MEET_STEPS,
    ))
}

/// A state in rooms so many kelvin warmer.
fn warmed(mut state: State, warmer: f64) -> State {
    state.temperature_c += warmer;
    state
}

impl DoughProcess<'_> {
    /// The reference's preferment after its time, mixed at an hour; `None` without one.
    pub(super) fn reference_preferment(&self, p: &Parameters, mixed: f64) -> Result<Option<State>> {
        let reference = &self.bake.reference;
        let (Some(own), Some(dose)) = (reference.preferment, reference.dose) else {
            return Ok(None);
        };
        let stage = self.preferment_stage(self.as_fresh(dose))?;
        let f = stage.fermentation(p)?;
        let start = f.start_at(self.preferment_dough());
        let stand = (&self.rooms.preferment, mixed, self.tau_preferment);
        let enters = |warmer: f64| Ok((f.clone(), warmed(start, warmer)));
        let (.., [_, ripe]) = stood(own, stand, &enters)?;
        Ok(Some(ripe))
    }

    /// Where bulk and proof end of a dough that comes off the mixer at an hour.
    pub(super) fn end_points(&self, hour: f64, mixed: &OffMixer<'_>) -> Result<EndPoints> {
        let reference = &self.bake.reference;
        let mut ends = EndPoints {
            bulk: match self.learnt_bulk() {
                Some(own) => DoneAt::Gas(own.gas),
                None => DoneAt::Rise(self.bake.process.bulk_rise),
            },
            proof: ProofEnd::Ratio(match self.bake.process.proof {
                ProofKind::Hearth => self.p.hearth_ratio,
                ProofKind::Tin => self.p.tin_ratio,
            }),
            speed: 1.0,
        };
        let (warmer, dough, [off_mixer, bulked]) = match (reference.bulk, reference.proof) {
            (None, None) => return Ok(ends),
            (Some(own), _) => {
                let stand = (&self.rooms.bulk, hour, self.tau_tub);
                if let Some(rise) = reference.bulk_rise {
                    ends.speed = speed_of_reference(own, stand, rise, mixed)?;
                }
                let bulk = stood(own, stand, &|warmer| mixed(warmer, ends.speed))?;
                if reference.bulk_rise.is_none() {
                    let made = some_gas("bulk_min", &bulk)?;
                    let own = self.learnt_bulk();
                    ends.bulk = DoneAt::Gas(own.map_or(made, |own| self.weighed(made, own)));
                }
                bulk
            }
            // Its bulk ended as this one does.
            (None, Some(_)) => {
                let (dough, before) = mixed(0.0, 1.0)?;
                let from = Temperature::celsius(before.temperature_c)?;
                let as_planned = Known {
                    by_dough: true,
                    out_when_done: true,
                    ..Known::default()
                };
                let end = self.bulk_end(as_planned, ends.bulk)?;
                let (_, after) =
                    self.stand(&dough, before, (hour, from), end, f64::NEG_INFINITY)?;
                (0.0, dough, [before, after])
            }
        };
        if let Some(own) = reference.proof {
            let rooms = self.rooms.warmer(warmer)?;
            let there = DoughProcess {
                rooms: &rooms,
                ..self.clone()
            };
            let (hour, shaped) =
                there.shaped_from(&dough, bulked, hour + bulked.hours - off_mixer.hours)?;
            let enters = |warmer: f64| Ok((dough.clone(), warmed(shaped, warmer)));
            let proof = stood(own, (&rooms.proof, hour, self.tau_loaf_in_proof), &enters)?;
            some_gas("proof_min", &proof)?;
            ends.proof = ProofEnd::Held(proof.2[1].held);
        }
        Ok(ends)
    }

    /// What the log has taught of a stage's end; nothing where the file says how far a bulk rises.
    pub fn learnt(&self, stage: Kind) -> Option<Level> {
        let given = stage == Kind::Bulk && self.bake.reference.rise_is_given;
        self.p.learnt_end(stage).filter(|_| !given)
    }

    /// The gas of a bulk by the log: all of it, or what is left of it to keep the oven's hour.
    fn learnt_bulk(&self) -> Option<Level> {
        let own = self.learnt(Kind::Bulk)?;
        let share = self.bake.process.bulk_rise - 1.0;
        Some(Level {
            gas: own.gas * share,
            ..own
        })
    }

    /// Gas made in a stage by the reference and by the log, each logarithm weighed by its variance.
    fn weighed(&self, reference: f64, own: Level) -> f64 {
        let [a, b] = [self.p.spread.own_recipe, own.log_sd].map(|sd| sd * sd);
        own.gas * (reference / own.gas).powf(b / (a + b))
    }

    /// Where the proof of a dough ends whose bulk is over at an hour, by its reference or its ratio and by the log.
    pub(super) fn proof_end(
        &self,
        end: ProofEnd,
        dough: &Fermentation,
        bulked: State,
        hour: f64,
    ) -> Result<ProofEnd> {
        let Some(own) = self.learnt(Kind::Proof) else {
            return Ok(end);
        };
        let (_, shaped) = self.shaped_from(dough, bulked, hour)?;
        let held = |made| (dough.volume()).hold(shaped.held, made, shaped.temperature_c);
        Ok(ProofEnd::Held(match end {
            ProofEnd::Held(gas) if gas > shaped.held => held(self.weighed(gas - shaped.held, own)),
            _ => held(own.gas),
        }))
    }

    /// Divides, rests and shapes a dough from an hour on; until when, and how it is then.
    fn shaped_from(
        &self,
        dough: &Fermentation,
        mut state: State,
        mut hour: f64,
    ) -> Result<(f64, State)> {
        let process = &self.bake.process;
        for (tau_h, time, handled) in [
            (self.tau_ball, process.divide, true),
            (self.tau_ball, process.rest, false),
            (self.tau_loaf, process.shape, true),
        ] {
            let from = Temperature::celsius(state.temperature_c)?;
            let course = TemperatureProfile::following(&self.rooms.kitchen, hour, from, tau_h)?;
            state = dough.after(&state, &course, as_hours(time))?;
            if handled {
                state = dough.handled(&state, self.p.kept);
            }
            hour += as_hours(time);
        }
        Ok((hour, state))
    }
}

/// Gas made in a stage of a reference, which must be some, mL per 100 g flour.
fn some_gas(key: &str, (.., [before, after]): &Stood) -> Result<f64> {
    let made = after.gas - before.gas;
    if made > 1e-3 {
        return Ok(made);
    }
    let none = Error::contradiction(
        "by then this dough makes no gas yet; check yeast, time and temperature, or leave it out",
    );
    Err(none.at(format!("[reference] {key}")))
}

/// How many times as fast as in the table a dough works that has risen so far at the end of its reference's bulk.
fn speed_of_reference(
    own: StageReference,
    stand: Stand<'_>,
    rise: f64,
    mixed: &OffMixer<'_>,
) -> Result<f64> {
    let found = numeric::meet(0.0, |log_speed: f64| {
        let speed = log_speed.exp().clamp(0.9 * SLOWEST, 1.1 / SLOWEST);
        let (_, dough, [before, after]) = stood(own, stand, &|warmer| mixed(warmer, speed))?;
        let gas = gas_at_rise(&dough, &before, rise, after.temperature_c);
        Ok::<_, Error>((after.gas / gas).ln())
    })?;
    let speed = found.map_or(f64::NAN, f64::exp);
    if (SLOWEST..=1.0 / SLOWEST).contains(&speed) {
        return Ok(speed);
    }
    let impossible = Error::contradiction(format!(
        "a rise to {rise} times in bulk_min does not go with the yeast of this recipe; check both, or leave one out"
    ));
    Err(impossible.at("[reference] bulk_rise"))
}

/// No dough works so many times as slowly as in the table, or as fast (by judgement).
const SLOWEST: f64 = 0.2;
