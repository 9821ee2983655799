//! The pieces: dividing, rest, shaping, the cold, and the proof.

use super::{Bulked, Line, Part};
use crate::ambient::{Ambient, Course};
use crate::error::Result;
use crate::ferment::{Fermentation, State};
use crate::plan::bake::ColdStage;
use crate::units::{Temperature, as_hours};

/// How long a load waits at each step beyond what the first load does, h.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(in crate::plan) struct Waits {
    pub bulk: f64,
    pub rest: f64,
    pub cooler: f64,
}

/// A load, shaped and in its proof place (after the cold, if it was there).
#[derive(Debug, Clone, PartialEq)]
pub(in crate::plan) struct Shaped {
    /// Dividing, the rest, shaping, and the stay in the cold or cooler, if any.
    pub parts: Vec<Part>,
    pub proof_from: f64,
    /// The dough when it is shaped, and when its proof begins.
    pub fresh: State,
    pub state: State,
}

impl Shaped {
    /// A step by its name.
    pub fn part(&self, name: &str) -> Option<&Part> {
        self.parts.iter().find(|p| p.name == name)
    }
}

impl Line<'_> {
    /// Divides, rests and shapes a load, with its waits, up to the start of its proof.
    pub fn shaped(&self, bulked: &Bulked, waits: Waits) -> Result<Shaped> {
        self.shaped_in(bulked, waits, as_hours(self.bake.process.shape))
    }

    /// Ripeness, at an hour in the oven, of the piece of a load that is shaped first and of the last one.
    pub fn first_and_last(
        &self,
        bulked: &Bulked,
        waits: Waits,
        pieces: u32,
        hour: f64,
    ) -> Result<(f64, f64)> {
        let all = as_hours(self.bake.process.shape);
        let one = all / f64::from(pieces.max(1));
        let first = self.shaped_in(bulked, waits, one)?;
        let last = Waits {
            rest: waits.rest + all - one,
            ..waits
        };
        let last = self.shaped_in(bulked, last, one)?;
        Ok((
            self.proof_at(bulked, &first, hour)?.0,
            self.proof_at(bulked, &last, hour)?.0,
        ))
    }

    fn shaped_in(&self, bulked: &Bulked, waits: Waits, shape_h: f64) -> Result<Shaped> {
        let process = &self.bake.process;
        let f = self.ferment(&bulked.composition, bulked.inoculum)?;
        let kept = self.p.proof.kept;
        let mut hour = bulked.bulk_end();
        let mut state = bulked.state;
        let mut parts = Vec::new();
        let kitchen = &self.rooms.kitchen;
        for (name, room, tau, hours, handled) in [
            ("bulk", &self.rooms.bulk, self.tau_tub, waits.bulk, false),
            (
                "divide",
                kitchen,
                self.tau_ball,
                as_hours(process.divide),
                true,
            ),
            (
                "rest",
                kitchen,
                self.tau_ball,
                as_hours(process.rest) + waits.rest,
                false,
            ),
            ("shape", kitchen, self.tau_loaf, shape_h, true),
        ] {
            let part;
            (part, state) = self.stay(&f, &state, name, room, tau, [hour, hour + hours])?;
            parts.push(part);
            hour += hours;
            if handled {
                state = f.handled(&state, kept);
            }
        }
        parts.retain(|p| p.name != "bulk");
        let shaped = Shaped {
            parts,
            proof_from: hour,
            fresh: state,
            state,
        };
        self.cooled(bulked, shaped, waits.cooler)
    }

    /// The same load with another wait in the cooler: what is before it stays as it is.
    pub fn cooled(&self, bulked: &Bulked, mut shaped: Shaped, cooler: f64) -> Result<Shaped> {
        shaped.parts.retain(|p| p.name != "cold");
        let from = shaped.parts.last().map_or(bulked.bulk_end(), |p| p.end);
        (shaped.proof_from, shaped.state) = (from, shaped.fresh);
        let cold_h = self.retarded_h() + cooler;
        if let Some(place) = self.cold_place().filter(|_| cold_h > 0.0) {
            let f = self.ferment(&bulked.composition, bulked.inoculum)?;
            let hours = [from, from + cold_h];
            let (part, state) = self.stay(
                &f,
                &shaped.fresh,
                "cold",
                place,
                self.tau_loaf_in_cold,
                hours,
            )?;
            shaped.parts.push(part);
            (shaped.proof_from, shaped.state) = (from + cold_h, state);
        }
        Ok(shaped)
    }

    /// A stretch of time in one place.
    fn stay(
        &self,
        f: &Fermentation<'_>,
        state: &State,
        name: &'static str,
        room: &Ambient,
        tau: f64,
        [start, end]: [f64; 2],
    ) -> Result<(Part, State)> {
        let from = Temperature::celsius(state.temperature_c)?;
        let course = Course::following(room, start, from, tau)?;
        let state = f.after(state, &course, end - start)?;
        let part = Part::new(name, start, end, from.as_celsius(), state.temperature_c);
        Ok((part, state))
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
            self.rooms.cooler.as_ref()
        }
    }

    /// A load at an hour between shaping and oven: ripeness, temperature, and that of its place.
    pub fn piece_at(&self, bulked: &Bulked, shaped: &Shaped, hour: f64) -> Result<(f64, f64, f64)> {
        match (shaped.part("cold"), self.cold_place()) {
            (Some(cold), Some(place)) if hour < cold.end => {
                let f = self.ferment(&bulked.composition, bulked.inoculum)?;
                let from = Temperature::celsius(shaped.fresh.temperature_c)?;
                let course = Course::following(place, cold.start, from, self.tau_loaf_in_cold)?;
                let state = f.after(&shaped.fresh, &course, (hour - cold.start).max(0.0))?;
                let ripeness = self.ripeness(&f, &state);
                Ok((ripeness, state.temperature_c, place.at(hour).as_celsius()))
            }
            _ => {
                let (ripeness, dough_c) = self.proof_at(bulked, shaped, hour)?;
                Ok((ripeness, dough_c, self.rooms.proof.at(hour).as_celsius()))
            }
        }
    }

    fn proof_course(&self, shaped: &Shaped) -> Result<Course<'_>> {
        let from = Temperature::celsius(shaped.state.temperature_c)?;
        Course::following(
            &self.rooms.proof,
            shaped.proof_from,
            from,
            self.tau_loaf_in_proof,
        )
    }

    /// Share of its end point that a proof has come to: free gas over free gas at the end.
    fn ripeness(&self, f: &Fermentation<'_>, state: &State) -> f64 {
        (f.volume_ratio(state) - 1.0) / (self.proof_ratio() - 1.0)
    }

    /// The hour when a load's proof has come to a share of its end point; `None` when never.
    pub fn proof_until(&self, bulked: &Bulked, shaped: &Shaped, share: f64) -> Result<Option<f64>> {
        let f = self.ferment(&bulked.composition, bulked.inoculum)?;
        let course = self.proof_course(shaped)?;
        let end = f.until(&shaped.state, &course, &|s| self.ripeness(&f, s) - share)?;
        Ok(end.map(|s| shaped.proof_from + (s.hours - shaped.state.hours)))
    }

    /// Ripeness and temperature of a load's proof at an hour, which must not lie before the proof.
    pub fn proof_at(&self, bulked: &Bulked, shaped: &Shaped, hour: f64) -> Result<(f64, f64)> {
        let f = self.ferment(&bulked.composition, bulked.inoculum)?;
        let hours = (hour - shaped.proof_from).max(0.0);
        let state = f.after(&shaped.state, &self.proof_course(shaped)?, hours)?;
        Ok((self.ripeness(&f, &state), state.temperature_c))
    }
}
