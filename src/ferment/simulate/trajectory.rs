//! A dough followed panel by panel, and kept, so that it can be asked at any hour of its course.

use super::panel::{Adjoint, Panel};
use super::sensitivity::{Direction, GasMoved};
use super::{Fermentation, LONGEST_H, State};
use crate::ambient::{Piece, Pieces, TemperatureProfile};
use crate::error::Result;

/// A dough on its way along a profile.
pub(crate) struct Trajectory<'f> {
    ferment: &'f Fermentation,
    pieces: Pieces<'f>,
    /// The piece it is on; none at the end of the profile.
    piece: Option<Piece>,
    /// Hours gone in the piece, and in all.
    at: f64,
    gone: f64,
    start: State,
    state: State,
    /// With the hours at which they begin.
    panels: Vec<(f64, Panel<'f>)>,
}

impl<'f> Trajectory<'f> {
    pub(crate) fn new(
        ferment: &'f Fermentation,
        from: &State,
        profile: &TemperatureProfile<'f>,
    ) -> Self {
        let mut pieces = profile.pieces();
        let piece = pieces.next();
        // The profile says how warm the dough is now; heat of its own comes on top from here on.
        let start = State {
            temperature_c: piece.map_or(from.temperature_c, |p| p.at(0.0)),
            excess_k: 0.0,
            ..*from
        };
        Self {
            ferment,
            pieces,
            piece,
            at: 0.0,
            gone: 0.0,
            start,
            state: start,
            panels: Vec::new(),
        }
    }

    /// Follows one panel more, of `most` hours at the most; false at the end of the profile.
    fn step(&mut self, most: f64) -> Result<bool> {
        while let Some(piece) = self.piece {
            let left = piece.length_h - self.at;
            if left <= 0.0 {
                (self.piece, self.at) = (self.pieces.next(), 0.0);
                continue;
            }
            let panel = Panel::solve(self.ferment, &self.state, &piece, self.at, most.min(left))?;
            self.state = panel.end;
            // A panel that fills the piece, or the time, ends on its end, whatever rounding says.
            self.at = if panel.length_h >= left {
                piece.length_h
            } else {
                self.at + panel.length_h
            };
            let from = self.gone;
            self.gone += panel.length_h;
            self.panels.push((from, panel));
            return Ok(true);
        }
        Ok(false)
    }

    /// The dough after so many hours.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub(crate) fn at(&mut self, hours: f64) -> Result<State> {
        while self.gone < hours && self.step(hours - self.gone)? {}
        let next = self.panels.partition_point(|(from, _)| *from < hours);
        Ok(match next.checked_sub(1).map(|i| &self.panels[i]) {
            Some((from, panel)) => panel.state_at(((hours - from) / panel.length_h).min(1.0)),
            None => self.start,
        })
    }

    /// The dough when `measure`, which must not fall, is zero; `None` when it is not after three weeks.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub(crate) fn until(&mut self, measure: &dyn Fn(&State) -> f64) -> Result<Option<State>> {
        self.search(measure, |panel| {
            panel.meets(|x| measure(&panel.state_at(x)))
        })
    }

    /// The dough when the gas made has reached `gas`; see [`Fermentation::until_gas`]. Asked of the potential gas, a
    /// straighter road to the root than the gas, which the sugar bends.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub(crate) fn until_gas(&mut self, gas: f64) -> Result<Option<State>> {
        let Some(wanted) = self.ferment.medium.potential_of(gas) else {
            return Ok(None);
        };
        self.search(&|state| state.potential - wanted, |panel| {
            panel.meets(|x| panel.potential_at(x) - wanted)
        })
    }

    /// The dough when so many hours have gone, counted at 27 °C.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub(crate) fn until_lag_hours(&mut self, wanted: f64) -> Result<Option<State>> {
        self.search(&|state| state.lag_hours - wanted, |panel| {
            panel.meets(|x| panel.lag_hours(x) - wanted)
        })
    }

    fn search(
        &mut self,
        measure: &dyn Fn(&State) -> f64,
        meet: impl Fn(&Panel<'_>) -> State,
    ) -> Result<Option<State>> {
        if measure(&self.start) >= 0.0 {
            return Ok(Some(self.start));
        }
        for i in 0.. {
            if i == self.panels.len()
                && !(self.gone < LONGEST_H && self.step(LONGEST_H - self.gone)?)
            {
                break;
            }
            let panel = &self.panels[i].1;
            if measure(&panel.end) >= 0.0 {
                return Ok(Some(meet(panel)));
            }
        }
        Ok(None)
    }
}

impl Trajectory<'_> {
    /// How the gas moves at an hour up to which the dough has been followed. The end point moves by `end_per_k` with the
    /// temperature.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub(in crate::ferment) fn gas_moved(&mut self, hours: f64, end_per_k: f64) -> Result<GasMoved> {
        let end = self.at(hours)?;
        let mut adjoint = Adjoint {
            potential: self.ferment.medium.sugar_share(end.gas),
            excess_k: -end_per_k,
            ..Adjoint::default()
        };
        let mut by = [0.0; Direction::COUNT];
        let (mut degree_hours, mut per_hour) = (0.0, 0.0);
        let last = self.panels.partition_point(|(from, _)| *from < hours);
        if let Some(((from, panel), before)) = self.panels[..last].split_last() {
            let mut cut = panel.clone();
            cut.solve_shorter(((hours - from) / panel.length_h).min(1.0))?;
            let (gas, warming) = cut.per_hour()?;
            per_hour = gas - end_per_k * warming;
            for panel in std::iter::once(&cut).chain(before.iter().rev().map(|(_, panel)| panel)) {
                degree_hours += panel.carry_back(&mut adjoint, &mut by)?;
            }
        }
        by[Direction::Dose as usize] += self.ferment.yeast.added * adjoint.waiting;
        Ok(GasMoved {
            by,
            per_hour,
            end: end.gas,
            hours,
            mean_c: degree_hours / hours,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ambient::Ambient;
    use crate::ferment::{Composition, Inoculum, Parameters};

    fn dough(p: &Parameters) -> Fermentation {
        let lean = Composition::lean(62.0, 1.8);
        let medium = p.effects.medium(&lean).unwrap();
        let yeast = Inoculum {
            added: 1.0,
            carried: 0.0,
        };
        Fermentation::new(&p.kinetics, medium, p.space.of(&lean, 0.0), yeast).unwrap()
    }

    /// Asked at the hour at which its place jumps, a dough is that of the moment before, as when it is followed up
    /// to there; whether or not it has been followed further already.
    #[test]
    fn at_a_jump_of_its_place_a_dough_is_that_of_before() {
        let p = Parameters::shipped().unwrap();
        let ferment = dough(&p);
        let room = Ambient::steps(&[(0.0, 20.0), (5.0, 26.0)]).unwrap();
        let course = TemperatureProfile::of_room(&room, 0.0);
        let start = ferment.start();
        let mut trail = Trajectory::new(&ferment, &start, &course);
        for hours in [8.0, 5.0, 5.001, 2.0] {
            let (asked, followed) = (
                trail.at(hours).unwrap(),
                ferment.after(&start, &course, hours).unwrap(),
            );
            let warm = if hours > 5.0 { 26.0 } else { 20.0 };
            assert_eq!(asked.temperature_c, warm, "{hours}");
            assert_eq!(followed.temperature_c, warm, "{hours}");
            // Rounding.
            assert!((asked.gas - followed.gas).abs() < 1e-9, "{hours}");
        }
    }

    /// Three weeks are the end, also where the place changes in that very hour.
    #[test]
    fn nothing_is_followed_beyond_three_weeks() {
        let p = Parameters::shipped().unwrap();
        let ferment = dough(&p);
        let room = Ambient::steps(&[(0.0, -10.0), (LONGEST_H, 30.0)]).unwrap();
        let course = TemperatureProfile::of_room(&room, 0.0);
        let mut trail = Trajectory::new(&ferment, &ferment.start(), &course);
        assert_eq!(trail.until_gas(100.0).unwrap(), None);
    }
}
