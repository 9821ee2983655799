//! A dough in its place: held, equal to the room, or lagging behind it, cut into pieces in closed form.

use super::Ambient;
use crate::error::{Result, check};
use crate::numeric;
use crate::units::Temperature;

/// Time constants of a decay that eight points follow to 1e-8 everywhere between them.
pub(crate) const DECAY_TAU: f64 = 1.25;

/// The temperature of a dough against time, counted in hours from its start.
#[derive(Debug, Clone, Copy)]
pub struct TemperatureProfile<'a> {
    pieces: Pieces<'a>,
}

/// Temperature at the start and time constant of something that lags behind its place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lag {
    from_c: f64,
    tau_h: f64,
}

impl<'a> TemperatureProfile<'a> {
    /// A dough held at one temperature.
    #[must_use]
    pub fn held(temperature: Temperature) -> Self {
        Self {
            pieces: Pieces {
                room: None,
                next: 0,
                hours: 0.0,
                held: temperature.as_celsius(),
                lag: None,
                moves: [None; 2],
                done: false,
            },
        }
    }

    /// A dough that is always as warm as its place; `start_h` is the place's hour at the start.
    #[must_use]
    pub fn of_room(room: &'a Ambient, start_h: f64) -> Self {
        Self {
            pieces: room.pieces_from(start_h),
        }
    }

    /// A dough that starts at `from` and follows its place with the time constant `tau_h` (h, at
    /// least 0.01; see [`crate::heat`] for that of a tub or piece).
    ///
    /// # Errors
    /// A time constant that is not finite, or outside 0.01 to 10 000 h.
    ///
    /// ```
    /// use pointage::{ambient::{Ambient, TemperatureProfile}, units::Temperature};
    /// // Newton cooling from 26 °C in a place at 4 °C, tau 3 h: 4 + 22 exp(-4/3) after 4 h.
    /// let fridge = Ambient::constant(Temperature::celsius(4.0)?)?;
    /// let dough = TemperatureProfile::following(&fridge, 0.0, Temperature::celsius(26.0)?, 3.0)?;
    /// assert!((dough.at(4.0) - 9.799_137_038_5).abs() < 1e-9);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn following(
        room: &'a Ambient,
        start_h: f64,
        from: Temperature,
        tau_h: f64,
    ) -> Result<Self> {
        check("time constant of the dough", tau_h, 0.01, 1e4, "h")?;
        Ok(Self::lagging(room, start_h, from, tau_h))
    }

    /// The same with any time constant above 0, as a mode of conduction has.
    pub(crate) fn lagging(room: &'a Ambient, start_h: f64, from: Temperature, tau_h: f64) -> Self {
        let from_c = from.as_celsius();
        let mut profile = Self::of_room(room, start_h);
        profile.pieces.lag = Some(Lag { from_c, tau_h });
        profile
    }

    /// The same dough, which is moved twice, each time at an hour of the places' clock to a place that it follows with a
    /// time constant, h: into a fridge and out again. A move before the start has been made.
    pub(crate) fn moved(mut self, moves: [(f64, &'a Ambient, f64); 2]) -> Result<Self> {
        for (.., tau_h) in moves {
            check("time constant of the dough", tau_h, 0.01, 1e4, "h")?;
        }
        self.pieces.moves = moves.map(Some);
        while let Some(to) = self.pieces.moves[0].filter(|to| to.0 <= self.pieces.hours) {
            self.pieces.move_to(to);
        }
        Ok(self)
    }

    /// The temperature of a dough that is held, °C.
    pub fn held_at(&self) -> Option<f64> {
        self.pieces.room.is_none().then_some(self.pieces.held)
    }

    /// The temperature after `hours`, °C.
    #[must_use]
    pub fn at(&self, hours: f64) -> f64 {
        let mut left = hours;
        for piece in self.pieces() {
            if left <= piece.length_h {
                return piece.at(left);
            }
            left -= piece.length_h;
        }
        f64::NAN // not reached: the last piece is endless
    }

    /// The pieces on which the temperature has a closed form; the last one is endless.
    pub(crate) fn pieces(&self) -> Pieces<'a> {
        self.pieces
    }
}

/// A piece of a course: `base + slope u + decay exp(-u/tau) + A cos(omega u + phase)` for
/// `0 <= u <= length_h`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Piece {
    pub length_h: f64,
    pub base: f64,
    pub slope: f64,
    pub decay: f64,
    /// Time constant of the decay; endless where nothing decays.
    pub tau_h: f64,
    pub wave: Wave,
}

/// `A cos(omega u + phase)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Wave {
    pub amplitude: f64,
    pub omega: f64,
    pub phase: f64,
}

impl Piece {
    pub(super) fn level(base: f64) -> Self {
        let wave = Wave {
            amplitude: 0.0,
            omega: 0.0,
            phase: 0.0,
        };
        Self {
            length_h: f64::INFINITY,
            base,
            slope: 0.0,
            decay: 0.0,
            tau_h: f64::INFINITY,
            wave,
        }
    }

    /// Temperature at `u` hours into the piece, °C.
    pub(crate) fn at(&self, u: f64) -> f64 {
        let mut t = self.base;
        if self.decay != 0.0 {
            t += self.decay * numeric::fade(u / self.tau_h);
        }
        if self.slope != 0.0 {
            t += self.slope * u;
        }
        if self.wave.amplitude != 0.0 {
            t += self.wave.amplitude * (self.wave.omega * u + self.wave.phase).cos();
        }
        t
    }

    /// Start and slope (K/h) of a piece that is straight.
    pub(crate) fn ramp(&self) -> Option<(f64, f64)> {
        let straight = self.decay == 0.0 && self.wave.amplitude == 0.0;
        straight.then_some((self.base, self.slope))
    }

    /// Slope of the temperature at `u`, K/h.
    pub(crate) fn slope_at(&self, u: f64) -> f64 {
        let mut s = self.slope;
        if self.decay != 0.0 {
            s -= self.decay / self.tau_h * (-u / self.tau_h).exp();
        }
        if self.wave.amplitude != 0.0 {
            let Wave {
                amplitude,
                omega,
                phase,
            } = self.wave;
            s -= amplitude * omega * (omega * u + phase).sin();
        }
        s
    }

    /// How far one can go from `at`, at most `most`, while the temperature moves by so many kelvin, runs
    /// one way (so that no kink of a law is met twice) and bends little: the length of a panel.
    pub(crate) fn smooth_length(&self, at: f64, most: f64, kelvin: f64) -> f64 {
        let mut h = most;
        if self.slope != 0.0 {
            h = h.min(kelvin / self.slope.abs());
        }
        let decaying = self.decay.abs() * (-at / self.tau_h).exp();
        if decaying > 1e-9 {
            let most = if decaying > kelvin {
                -(-kelvin / decaying).ln_1p()
            } else {
                DECAY_TAU
            };
            h = h.min(self.tau_h * most.min(DECAY_TAU));
        }
        let Wave {
            amplitude, omega, ..
        } = self.wave;
        if amplitude != 0.0 {
            h = h
                .min(std::f64::consts::TAU / omega / 8.0)
                .min(kelvin / (amplitude * omega));
        }
        if self.slope_at(at) * self.slope_at(at + h) < 0.0
            && let Some(turn) = numeric::root(|u| self.slope_at(u), at, at + h)
            && turn - at > 1e-6 * h
        {
            h = turn - at;
        }
        h
    }

    /// What follows this piece of the room with a lag, starting at `from_c`.
    ///
    /// A ramp `a + b u` is followed by `a + b (u - tau)`; a wave comes smaller by
    /// `1/sqrt(1 + (omega tau)²)` and later by `atan(omega tau)`; the rest of the start decays.
    fn followed(&self, lag: Lag) -> Self {
        let Lag { from_c, tau_h } = lag;
        let delay = self.wave.omega * tau_h;
        let mut wave = self.wave;
        if wave.amplitude != 0.0 {
            wave.amplitude /= delay.hypot(1.0);
            wave.phase -= delay.atan();
        }
        let base = self.base - self.slope * tau_h;
        let start = base + wave.amplitude * wave.phase.cos();
        Self {
            base,
            decay: from_c - start,
            tau_h,
            wave,
            ..*self
        }
    }
}

/// Goes through the pieces of a course one after the other.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pieces<'a> {
    pub(super) room: Option<&'a Ambient>,
    /// First knot after the present hour.
    pub(super) next: usize,
    pub(super) hours: f64,
    pub(super) held: f64,
    pub(super) lag: Option<Lag>,
    /// Hours at which the dough comes to other places, in order, each with its time constant, h.
    pub(super) moves: [Option<(f64, &'a Ambient, f64)>; 2],
    pub(super) done: bool,
}

impl<'a> Pieces<'a> {
    fn move_to(&mut self, (_, room, tau_h): (f64, &'a Ambient, f64)) {
        self.next = room.pieces_from(self.hours).next;
        self.room = Some(room);
        self.moves = [self.moves[1], None];
        if let Some(lag) = &mut self.lag {
            lag.tau_h = tau_h;
        }
    }
}

impl Iterator for Pieces<'_> {
    type Item = Piece;

    fn next(&mut self) -> Option<Piece> {
        if self.done {
            return None;
        }
        let mut piece = match self.room {
            Some(room) => room.piece(self.hours, self.next),
            None => Piece::level(self.held),
        };
        let ends = self.hours + piece.length_h;
        let moved = self.moves[0].filter(|to| to.0 <= ends);
        if let Some((hour, ..)) = moved {
            piece.length_h = hour - self.hours;
        }
        if let Some(lag) = &mut self.lag {
            piece = piece.followed(*lag);
            if piece.length_h.is_finite() {
                lag.from_c = piece.at(piece.length_h);
            }
        }
        match moved {
            // On the hour itself, not beside it by rounding.
            Some(to) => {
                self.hours = to.0;
                self.move_to(to);
            }
            None if piece.length_h.is_finite() => {
                self.hours = ends;
                self.next += 1;
            }
            None => self.done = true,
        }
        Some(piece)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Newton's law by hand: 22 °C in a room of 26 °C with tau 2 h for three hours, then a fridge of 4 °C with tau 5 h for
    /// ten, then the room again; beside it a room that warms by 1 K an hour, by small steps.
    #[test]
    fn a_dough_goes_into_the_cold_and_out_again() {
        let c = |c: f64| Temperature::celsius(c).unwrap();
        let room = Ambient::constant(c(26.0)).unwrap();
        let cold = Ambient::constant(c(4.0)).unwrap();
        let moved = |room, start: f64, from: f64| {
            let course = TemperatureProfile::following(room, start, c(from), 2.0).unwrap();
            course
                .moved([(13.0, &cold, 5.0), (23.0, room, 2.0)])
                .unwrap()
        };
        let dough = moved(&room, 10.0, 22.0);
        let to = |place: f64, from: f64, hours: f64, tau: f64| {
            place + (from - place) * (-hours / tau).exp()
        };
        let warm = to(26.0, 22.0, 3.0, 2.0);
        let chilled = to(4.0, warm, 10.0, 5.0);
        for (hours, at) in [
            (1.0, to(26.0, 22.0, 1.0, 2.0)),
            (3.0, warm),
            (7.0, to(4.0, warm, 4.0, 5.0)),
            (13.0, chilled),
            (14.5, to(26.0, chilled, 1.5, 2.0)),
        ] {
            assert!(
                (dough.at(hours) - at).abs() < 1e-9,
                "{hours}: {}",
                dough.at(hours)
            );
        }
        // Begun after the first move, it is in the cold already.
        assert!((moved(&room, 17.0, 12.0).at(2.0) - to(4.0, 12.0, 2.0, 5.0)).abs() < 1e-9);
        let warming = Ambient::ramps(&[(10.0, 16.0), (30.0, 36.0)]).unwrap();
        let dough = moved(&warming, 10.0, 22.0);
        let (mut t, step) = (22.0, 1e-4);
        for n in 0..160_000 {
            let hour = 10.0 + step * (f64::from(n) + 0.5);
            let (place, tau) = match hour {
                13.0..23.0 => (4.0, 5.0),
                _ => (hour + 6.0, 2.0),
            };
            t += step * (place - t) / tau;
        }
        assert!((dough.at(16.0) - t).abs() < 1e-3, "{} {t}", dough.at(16.0));
    }
}
