//! The pieces: dividing, rest, shaping, the cold, and the proof.

use super::{BulkResult, DoughProcess, mean_c};
use crate::ambient::{Ambient, TemperatureProfile};
use crate::error::Result;
use crate::ferment::{Fermentation, State, Trajectory, Window};
use crate::plan::bake::ColdStage;
use crate::plan::model::StageTime;
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
    /// A longer bulk, dividing, the rest, shaping, and the stay in the cold or retarder, if there is one.
    pub parts: Vec<StageTime>,
    pub proof_from: f64,
    /// The dough when it is shaped, and when its (last) proof begins.
    pub fresh: State,
    pub state: State,
}

impl Shaped {
    /// A step by its name.
    pub fn part(&self, name: &str) -> Option<&StageTime> {
        self.parts.iter().find(|p| p.name == name)
    }
}

/// A place, how slowly the dough follows it, and the last way it went there, with its first hour and state.
struct Stop<'b> {
    name: &'static str,
    room: &'b Ambient,
    tau_h: f64,
    dough: &'b Fermentation,
    kept: Option<(f64, State, Trajectory<'b>)>,
}

impl<'b> Stop<'b> {
    /// The dough from an hour on: what is kept, if that is it.
    fn from(&mut self, from: &State, hour: f64) -> Result<&mut Trajectory<'b>> {
        self.kept = self.kept.take().filter(|k| k.0 == hour && k.1 == *from);
        let (.., trail) = match self.kept {
            Some(ref mut same) => same,
            None => {
                let warm = Temperature::celsius(from.temperature_c)?;
                let course = TemperatureProfile::following(self.room, hour, warm, self.tau_h)?;
                let trail = Trajectory::new(self.dough, from, &course);
                self.kept.insert((hour, *from, trail))
            }
        };
        Ok(trail)
    }

    /// A stretch of time there.
    fn stay(&mut self, from: &State, [start, end]: [f64; 2]) -> Result<(StageTime, State)> {
        let state = self.from(from, start)?.at(end - start)?;
        let c = [from.temperature_c, state.temperature_c].map(Some);
        Ok((StageTime::new(self.name, [start, end], c), state))
    }
}

/// The pieces of one dough on their way from the bulk to the oven. Loads go much of it together, and the same
/// load is tried with many waits: what has been followed is kept.
pub(in crate::plan) struct PieceCache<'b> {
    pub line: &'b DoughProcess<'b>,
    /// The window of use.
    pub window: Window,
    pub bulked: &'b BulkResult,
    /// Hours that every load's proof stays in the cold.
    retarded_h: f64,
    /// Hours of proof before that.
    proofed_h: f64,
    /// Hours out of the cold before the oven, where the baker says so.
    pub out_h: Option<f64>,
    bulk: Stop<'b>,
    divide: Stop<'b>,
    rest: Stop<'b>,
    shape: Stop<'b>,
    cold: Option<Stop<'b>>,
    proof: Stop<'b>,
}

impl<'b> PieceCache<'b> {
    /// The dough is one of the same line.
    pub fn new(line: &'b DoughProcess<'b>, bulked: &'b BulkResult) -> Self {
        let rooms = line.rooms;
        let retarded = line.bake.cold_of(ColdStage::Proof);
        let retarded_h = retarded.map_or(0.0, |c| as_hours(c.time));
        let cold = match retarded_h > 0.0 {
            true => rooms.cold.as_ref(),
            false => rooms.retarder.as_ref(),
        };
        let stop = |name, room, tau_h| Stop {
            name,
            room,
            tau_h,
            dough: &bulked.dough,
            kept: None,
        };
        Self {
            line,
            window: line.p.rise_window,
            bulked,
            retarded_h,
            proofed_h: retarded.map_or(0.0, |c| as_hours(c.after)),
            out_h: retarded.and_then(|c| c.out.map(as_hours)),
            bulk: stop("bulk", &rooms.bulk, line.tau_tub),
            divide: stop("divide", &rooms.kitchen, line.tau_ball),
            rest: stop("rest", &rooms.kitchen, line.tau_ball),
            shape: stop("shape", &rooms.kitchen, line.tau_loaf),
            cold: cold.map(|room| stop("cold", room, line.tau_loaf_in_cold)),
            proof: stop("proof", &rooms.proof, line.tau_loaf_in_proof),
        }
    }

    /// True where every load's proof stays in the cold anyway, so that a longer stay there is no move.
    pub fn is_retarded(&self) -> bool {
        self.retarded_h > 0.0
    }

    /// The shortest wait in the retarder that is worth the move, h.
    pub fn shortest_stay_h(&self) -> f64 {
        match self.is_retarded() {
            true => 0.0,
            false => as_hours(self.line.bake.process.shortest_retard),
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
        let process = &self.line.bake.process;
        let (mut hour, mut state) = (self.bulked.bulk_end(), self.bulked.state);
        let mut parts = Vec::with_capacity(5);
        for (stop, hours, handled) in [
            (&mut self.bulk, waits.bulk, false),
            (&mut self.divide, as_hours(process.divide), true),
            (&mut self.rest, as_hours(process.rest) + waits.rest, false),
            (&mut self.shape, shape_h, true),
        ] {
            let (mut part, after) = stop.stay(&state, [hour, hour + hours])?;
            part.rise = Some(self.bulked.rise(&after));
            state = match handled {
                true => self.bulked.dough.handled(&after, self.line.p.kept),
                false => after,
            };
            hour = part.end_h;
            parts.push(part);
        }
        let fresh = state;
        let cold_h = self.retarded_h + waits.retarder;
        for (stop, name, hours) in [
            (Some(&mut self.proof), "first proof", self.proofed_h),
            (self.cold.as_mut(), "cold", cold_h),
        ] {
            if let Some(stop) = stop.filter(|_| hours > 0.0) {
                let (part, after) = stop.stay(&state, [hour, hour + hours])?;
                let rise = Some(self.bulked.rise(&after));
                parts.push(StageTime { name, rise, ..part });
                (hour, state) = (part.end_h, after);
            }
        }
        Ok(Shaped {
            parts,
            proof_from: hour,
            fresh,
            state,
        })
    }

    /// The hour when a load's proof has come to a share of its end point; `None` when never.
    pub fn proof_until(&mut self, shaped: &Shaped, share: f64) -> Result<Option<f64>> {
        let bulked = self.bulked;
        let proof = self.proof.from(&shaped.state, shaped.proof_from)?;
        let end = proof.until(&|s| bulked.ripeness(s) - share)?;
        Ok(end.map(|s| shaped.proof_from + (s.hours - shaped.state.hours)))
    }

    /// How far a piece of some °C has risen whose proof has come to a share of its end point: its volume over that
    /// off the mixer.
    pub fn rise(&self, ripeness: f64, t: f64) -> f64 {
        let ratio = 1.0 + ripeness * self.bulked.full_proof(t);
        ratio / self.bulked.dough.volume_ratio(&self.bulked.mixed)
    }

    /// The share of its end point of a proof that has risen to so many times the volume of the shaped piece.
    pub fn share_of_rise(&self, shaped: &Shaped, rise: f64) -> f64 {
        let ratio = rise * self.bulked.dough.volume_ratio(&shaped.fresh);
        (ratio - 1.0) / self.bulked.full_proof(shaped.state.temperature_c)
    }

    /// Ripeness and temperature of a load's proof at an hour, which must not lie before the proof.
    pub fn proof_at(&mut self, shaped: &Shaped, hour: f64) -> Result<(f64, f64)> {
        let hours = (hour - shaped.proof_from).max(0.0);
        let proof = self.proof.from(&shaped.state, shaped.proof_from)?;
        let state = proof.at(hours)?;
        Ok((self.bulked.ripeness(&state), state.temperature_c))
    }

    /// Mean of a load over its proof up to an hour, °C.
    pub fn proof_mean_c(&mut self, shaped: &Shaped, hour: f64) -> Result<f64> {
        let proof = self.proof.from(&shaped.state, shaped.proof_from)?;
        mean_c(proof, hour - shaped.proof_from)
    }

    /// A load at an hour between shaping and oven: ripeness, temperature, and that of its place.
    pub fn piece_at(&mut self, shaped: &Shaped, hour: f64) -> Result<(f64, f64, f64)> {
        let (mut state, mut room) = (shaped.fresh, self.proof.room);
        let stay = shaped.part("cold").filter(|cold| hour < cold.end_h);
        let Some(stay) = stay else {
            let (ripeness, dough_c) = self.proof_at(shaped, hour)?;
            return Ok((ripeness, dough_c, room.at(hour).as_celsius()));
        };
        let first = shaped.part("first proof");
        if let Some(first) = first {
            let hours = [first.start_h, hour.clamp(first.start_h, first.end_h)];
            (_, state) = self.proof.stay(&state, hours)?;
        }
        let is_cold = first.is_none_or(|first| hour >= first.end_h);
        if let Some(cold) = self.cold.as_mut().filter(|_| is_cold) {
            (_, state) = cold.stay(&state, [stay.start_h, hour.max(stay.start_h)])?;
            room = cold.room;
        }
        let room_c = room.at(hour).as_celsius();
        Ok((self.bulked.ripeness(&state), state.temperature_c, room_c))
    }

    /// How much longer the bulk may go on before it is past its window; at the most so long.
    pub fn longest_bulk(&mut self, most: f64) -> Result<f64> {
        let (bulked, close) = (self.bulked, 1.0 + self.window.close);
        let (end_h, end) = (bulked.bulk_end(), &bulked.state);
        let closed = self.bulk.from(end, end_h)?;
        let closed = closed.until(&|s| bulked.rise(s) - close)?;
        Ok(closed.map_or(most, |s| (s.hours - end.hours).min(most)))
    }
}

#[cfg(test)]
mod tests {
    impl super::PieceCache<'_> {
        /// Share of its end point that the bulk has come to after a longer stay.
        pub fn bulk_share(&mut self, longer: f64) -> crate::Result<f64> {
            let from = self.bulked.bulk_end();
            let (_, state) = self.bulk.stay(&self.bulked.state, [from, from + longer])?;
            Ok(self.bulked.rise(&state) - 1.0)
        }
    }
}
