//! The pieces: dividing, rest, shaping, the cold, and the proof.

use super::{BulkResult, DoughProcess, Part};
use crate::ambient::{Ambient, TemperatureProfile};
use crate::error::Result;
use crate::ferment::{Fermentation, State, Trajectory, Window};
use crate::plan::bake::ColdStage;
use crate::units::{Temperature, as_hours};

/// How long a load waits at each step beyond what the first load does, h.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(in crate::plan) struct Waits {
    pub bulk: f64,
    pub rest: f64,
    pub retarder: f64,
}

/// A load, shaped and in its proof place (after the cold, if it was there).
#[derive(Debug, Clone, PartialEq)]
pub(in crate::plan) struct Shaped {
    /// Dividing, the rest, and shaping.
    bench: [Part; 3],
    /// The stay in the cold or retarder.
    cold: Option<Part>,
    pub proof_from: f64,
    /// The dough when it is shaped, and when its proof begins.
    pub fresh: State,
    pub state: State,
}

impl Shaped {
    /// Its steps in order.
    pub fn parts(&self) -> impl Iterator<Item = &Part> {
        self.bench.iter().chain(&self.cold)
    }

    /// A step by its name.
    pub fn part(&self, name: &str) -> Option<&Part> {
        self.parts().find(|p| p.name == name)
    }
}

/// A dough along the last way it went in one place.
struct Kept<'b> {
    hour: f64,
    from: State,
    trail: Trajectory<'b>,
}

/// The pieces of one dough on their way from the bulk to the oven. Loads go much of it together, and the same
/// load is tried with many waits: what has been followed is kept.
pub(in crate::plan) struct PieceCache<'b> {
    pub line: &'b DoughProcess<'b>,
    /// The window of use.
    pub window: Window,
    pub bulked: &'b BulkResult,
    dough: &'b Fermentation,
    bulk: Option<Kept<'b>>,
    divide: Option<Kept<'b>>,
    rest: Option<Kept<'b>>,
    shape: Option<Kept<'b>>,
    cold: Option<Kept<'b>>,
    proof: Option<Kept<'b>>,
}

impl DoughProcess<'_> {
    /// The dough after its bulk as a fermentation, for a [`PieceCache`].
    pub fn dough(&self, bulked: &BulkResult) -> Result<Fermentation> {
        self.ferment(&bulked.composition, bulked.inoculum)
    }

    /// Hours that every load's proof stays in the cold.
    fn retarded_h(&self) -> f64 {
        let cold = self
            .bake
            .cold
            .as_ref()
            .filter(|c| c.stage == ColdStage::Proof);
        cold.map_or(0.0, |c| as_hours(c.time))
    }

    /// Where shaped pieces are held cold.
    fn cold_place(&self) -> Option<&Ambient> {
        if self.retarded_h() > 0.0 {
            self.rooms.cold.as_ref()
        } else {
            self.rooms.retarder.as_ref()
        }
    }
}

impl<'b> PieceCache<'b> {
    /// `dough` is that of the same line and bulk.
    pub fn new(
        line: &'b DoughProcess<'b>,
        bulked: &'b BulkResult,
        dough: &'b Fermentation,
    ) -> Self {
        Self {
            line,
            window: line.p.window,
            bulked,
            dough,
            bulk: None,
            divide: None,
            rest: None,
            shape: None,
            cold: None,
            proof: None,
        }
    }

    /// Divides, rests and shapes a load, with its waits, up to the start of its proof.
    pub fn shaped(&mut self, waits: Waits) -> Result<Shaped> {
        self.shaped_in(waits, as_hours(self.line.bake.process.shape))
    }

    /// Ripeness, at an hour in the oven, of the piece of a load that is shaped first.
    pub fn first_piece(&mut self, waits: Waits, pieces: u32, hour: f64) -> Result<f64> {
        let one = as_hours(self.line.bake.process.shape) / f64::from(pieces.max(1));
        let first = self.shaped_in(waits, one)?;
        Ok(self.proof_at(&first, hour)?.0)
    }

    fn shaped_in(&mut self, waits: Waits, shape_h: f64) -> Result<Shaped> {
        let line = self.line;
        let process = &line.bake.process;
        let kitchen = &line.rooms.kitchen;
        let dough = self.dough;
        let handled = |state: State| dough.handled(&state, line.p.proof.kept);
        let mut hour = self.bulked.bulk_end();
        let mut next = |hours: f64| {
            let from = hour;
            hour += hours;
            [from, hour]
        };
        let bulk = Stop::new("bulk", &line.rooms.bulk, line.tau_tub);
        let divide = Stop::new("divide", kitchen, line.tau_ball);
        let rest = Stop::new("rest", kitchen, line.tau_ball);
        let shape = Stop::new("shape", kitchen, line.tau_loaf);
        let (_, state) = bulk.stay(dough, &mut self.bulk, &self.bulked.state, next(waits.bulk))?;
        let (divided, state) = divide.stay(
            dough,
            &mut self.divide,
            &state,
            next(as_hours(process.divide)),
        )?;
        let hours = next(as_hours(process.rest) + waits.rest);
        let (rested, state) = rest.stay(dough, &mut self.rest, &handled(state), hours)?;
        let (shaped, state) = shape.stay(dough, &mut self.shape, &state, next(shape_h))?;
        let state = handled(state);
        let shaped = Shaped {
            proof_from: shaped.end,
            bench: [divided, rested, shaped],
            cold: None,
            fresh: state,
            state,
        };
        self.cooled(shaped, waits.retarder)
    }

    /// The same load with another wait in the retarder: what is before it stays as it is.
    pub fn cooled(&mut self, mut shaped: Shaped, retarder: f64) -> Result<Shaped> {
        let from = shaped.bench[2].end;
        (shaped.proof_from, shaped.state, shaped.cold) = (from, shaped.fresh, None);
        let line = self.line;
        let cold_h = line.retarded_h() + retarder;
        if let Some(place) = line.cold_place().filter(|_| cold_h > 0.0) {
            let cold = Stop::new("cold", place, line.tau_loaf_in_cold);
            let hours = [from, from + cold_h];
            let (part, state) = cold.stay(self.dough, &mut self.cold, &shaped.fresh, hours)?;
            shaped.cold = Some(part);
            (shaped.proof_from, shaped.state) = (from + cold_h, state);
        }
        Ok(shaped)
    }

    fn proof(&mut self, shaped: &Shaped) -> Result<&mut Kept<'b>> {
        let line = self.line;
        let proof = Stop::new("proof", &line.rooms.proof, line.tau_loaf_in_proof);
        proof.kept(
            self.dough,
            &mut self.proof,
            &shaped.state,
            shaped.proof_from,
        )
    }

    /// Share of its end point that a proof has come to: free gas over free gas at the end.
    fn ripeness(&self, state: &State) -> f64 {
        (self.dough.volume_ratio(state) - 1.0) / (self.line.proof_ratio() - 1.0)
    }

    /// The hour when a load's proof has come to a share of its end point; `None` when never.
    pub fn proof_until(&mut self, shaped: &Shaped, share: f64) -> Result<Option<f64>> {
        let (dough, full) = (self.dough, self.line.proof_ratio() - 1.0);
        let over = |s: &State| (dough.volume_ratio(s) - 1.0) / full - share;
        let end = self.proof(shaped)?.trail.until(&over)?;
        Ok(end.map(|s| shaped.proof_from + (s.hours - shaped.state.hours)))
    }

    /// Ripeness and temperature of a load's proof at an hour, which must not lie before the proof.
    pub fn proof_at(&mut self, shaped: &Shaped, hour: f64) -> Result<(f64, f64)> {
        let hours = (hour - shaped.proof_from).max(0.0);
        let state = self.proof(shaped)?.trail.at(hours)?;
        Ok((self.ripeness(&state), state.temperature_c))
    }

    /// A load at an hour between shaping and oven: ripeness, temperature, and that of its place.
    pub fn piece_at(&mut self, shaped: &Shaped, hour: f64) -> Result<(f64, f64, f64)> {
        let line = self.line;
        match (shaped.part("cold"), line.cold_place()) {
            (Some(cold), Some(place)) if hour < cold.end => {
                let there = Stop::new("cold", place, line.tau_loaf_in_cold);
                let hours = [cold.start, hour.max(cold.start)];
                let (_, state) = there.stay(self.dough, &mut self.cold, &shaped.fresh, hours)?;
                let room_c = place.at(hour).as_celsius();
                Ok((self.ripeness(&state), state.temperature_c, room_c))
            }
            _ => {
                let (ripeness, dough_c) = self.proof_at(shaped, hour)?;
                Ok((ripeness, dough_c, line.rooms.proof.at(hour).as_celsius()))
            }
        }
    }

    /// Share of its end point that the bulk has come to after a longer stay.
    pub fn bulk_share(&mut self, longer: f64) -> Result<f64> {
        let line = self.line;
        let bulk = Stop::new("bulk", &line.rooms.bulk, line.tau_tub);
        let from = self.bulked.bulk_end();
        let hours = [from, from + longer];
        let (_, state) = bulk.stay(self.dough, &mut self.bulk, &self.bulked.state, hours)?;
        Ok(state.gas / line.doubled())
    }
}

/// A place, the name of the stay there, and how slowly the dough follows it.
struct Stop<'b> {
    name: &'static str,
    room: &'b Ambient,
    tau_h: f64,
}

impl<'b> Stop<'b> {
    fn new(name: &'static str, room: &'b Ambient, tau_h: f64) -> Self {
        Self { name, room, tau_h }
    }

    /// A stretch of time there.
    fn stay(
        &self,
        dough: &'b Fermentation,
        kept: &mut Option<Kept<'b>>,
        from: &State,
        hours: [f64; 2],
    ) -> Result<(Part, State)> {
        let [start, end] = hours;
        let state = self.kept(dough, kept, from, start)?.trail.at(end - start)?;
        let c = [from.temperature_c, state.temperature_c];
        Ok((Part::new(self.name, hours, c), state))
    }

    /// The dough from an hour on: what is kept, if that is it.
    fn kept<'k>(
        &self,
        dough: &'b Fermentation,
        kept: &'k mut Option<Kept<'b>>,
        from: &State,
        hour: f64,
    ) -> Result<&'k mut Kept<'b>> {
        if kept
            .as_ref()
            .is_some_and(|k| k.hour != hour || k.from != *from)
        {
            *kept = None;
        }
        Ok(match kept {
            Some(same) => same,
            None => {
                let warm = Temperature::celsius(from.temperature_c)?;
                let course = TemperatureProfile::following(self.room, hour, warm, self.tau_h)?;
                kept.insert(Kept {
                    hour,
                    from: *from,
                    trail: Trajectory::new(dough, from, &course),
                })
            }
        })
    }
}
