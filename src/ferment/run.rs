//! The fermentation itself: yeast, gas and heat along a temperature course.
//!
//! On a piece of constant temperature everything has a closed form. Elsewhere the course is cut into
//! panels of a few kelvin; on each the two curves are taken at eight points and integrated (see
//! `numeric`), growth stays in closed form against its own clock. The dough's own heat is an excess
//! over the course that decays with the dough's time constant; it is found on the same points by
//! repeating until it no longer moves.

use super::volume::Volume;
use super::{Kinetics, Medium};
use crate::ambient::{Course, ON_KINK_K, PANEL_K, Piece};
use crate::error::{Error, Result, check};
use crate::numeric::{self, POINTS};

/// Longest fermentation that is followed, h: three weeks.
pub const LONGEST_H: f64 = 504.0;

/// A panel that ends this near to the end of the lag was cut there, h at 27 °C.
const NEAR_LAG_H: f64 = 1e-5;

/// The own heat is settled when it moves by less, K.
const SETTLED_K: f64 = 1e-12;

/// Heat that a dough makes and keeps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnHeat {
    /// Warming by a mL of CO2 made per 100 g flour, were no heat lost, K.
    pub kelvin_per_ml: f64,
}

impl OwnHeat {
    /// From the heat of fermentation (kJ per mol CO2), the molar volume of the gas (mL/mol), the dough
    /// made from 100 g flour (kg) and its heat capacity (kJ/(kg K)).
    ///
    /// ```
    /// use pointage::ferment::OwnHeat;
    /// // 200 mL of CO2 in 165 g of dough (2.7 kJ/(kg K)) warm it by 0.92 K.
    /// let heat = OwnHeat::new(50.0, 24_465.0, 0.165, 2.7)?;
    /// assert!((200.0 * heat.kelvin_per_ml - 0.92).abs() < 0.005);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    ///
    /// # Errors
    /// A number out of its range.
    pub fn new(
        kj_per_mol: f64,
        molar_volume: f64,
        dough_kg: f64,
        heat_capacity: f64,
    ) -> Result<Self> {
        check("heat of fermentation", kj_per_mol, 0.0, 300.0, "kJ/mol")?;
        check("molar volume", molar_volume, 2e4, 3e4, "mL/mol")?;
        check("dough from 100 g flour", dough_kg, 0.1, 1.0, "kg")?;
        check(
            "heat capacity of dough",
            heat_capacity,
            1.0,
            5.0,
            "kJ/(kg K)",
        )?;
        Ok(Self {
            kelvin_per_ml: kj_per_mol / molar_volume / (dough_kg * heat_capacity),
        })
    }
}

/// Where a fermentation stands. Amounts are per 100 g flour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Hours since the start.
    pub hours: f64,
    /// Temperature of the dough, °C.
    pub temperature_c: f64,
    /// Living yeast, as fresh, g.
    pub yeast: f64,
    /// CO2 made, mL.
    pub gas: f64,
    /// CO2 still in the dough, mL.
    pub held: f64,
    /// Hours at 27 °C that would have had the same effect on the lag.
    pub lag_hours: f64,
    /// Yeast that already grows; the rest waits for the end of the lag.
    growing: f64,
    /// True once the lag is over.
    awake: bool,
    /// Gas that would have been made with sugar without end, mL.
    potential: f64,
    /// Own heat still in the dough, K above the course.
    excess_k: f64,
}

/// A fermentation: rates, medium, gas space, and the yeast it starts with.
#[derive(Debug, Clone, PartialEq)]
pub struct Fermentation<'a> {
    kinetics: &'a Kinetics,
    medium: Medium,
    volume: Volume,
    own_heat: Option<OwnHeat>,
    start: State,
    /// Growth cap, from the fresh flour, g per 100 g of all flour.
    cap: f64,
}

/// When to stop following a dough, beside the end of the time.
#[derive(Clone, Copy)]
enum Goal<'m> {
    /// At the end of the time only.
    Hours,
    /// At this potential gas, mL.
    Potential(f64),
    /// When this, which must not fall, is zero.
    Measure(&'m dyn Fn(&State) -> f64),
}

impl Goal<'_> {
    fn is_met_by(self, state: &State) -> bool {
        match self {
            Self::Hours => false,
            Self::Potential(wanted) => state.potential >= wanted,
            Self::Measure(measure) => measure(state) >= 0.0,
        }
    }
}

/// Yeast at the start of a stage, g fresh yeast per 100 g flour.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Inoculum {
    /// Added now: it has its lag before it.
    pub added: f64,
    /// Carried in alive by a ripe preferment or old dough: it has had its lag.
    pub carried: f64,
}

impl<'a> Fermentation<'a> {
    /// Begins a fermentation; nothing has been made yet.
    ///
    /// # Errors
    /// Yeast outside 1e-6 to 50 g per 100 g flour.
    pub fn new(
        kinetics: &'a Kinetics,
        medium: Medium,
        volume: Volume,
        yeast: Inoculum,
    ) -> Result<Self> {
        check(
            "added yeast",
            yeast.added,
            0.0,
            50.0,
            "% of flour, as fresh",
        )?;
        check(
            "carried yeast",
            yeast.carried,
            0.0,
            50.0,
            "% of flour, as fresh",
        )?;
        let total = yeast.added + yeast.carried;
        check("yeast", total, 1e-6, 50.0, "% of flour, as fresh")?;
        let start = State {
            hours: 0.0,
            temperature_c: f64::NAN,
            yeast: total,
            gas: 0.0,
            held: 0.0,
            lag_hours: 0.0,
            growing: yeast.carried,
            awake: yeast.added == 0.0,
            potential: 0.0,
            excess_k: 0.0,
        };
        let cap = kinetics.rates().growth_cap * medium.fresh_flour;
        Ok(Self {
            kinetics,
            medium,
            volume,
            own_heat: None,
            start,
            cap,
        })
    }

    /// The same, with the dough warmed by its own fermentation.
    #[must_use]
    pub fn with_own_heat(mut self, heat: OwnHeat) -> Self {
        self.own_heat = Some(heat);
        self
    }

    /// The state at the start.
    #[must_use]
    pub fn start(&self) -> State {
        self.start
    }

    /// The state at the start of a dough that already holds some gas (mL per 100 g flour).
    #[must_use]
    pub fn start_holding(&self, held: f64) -> State {
        State {
            held: held.max(0.0),
            ..self.start
        }
    }

    /// The gas space of this dough.
    #[must_use]
    pub fn volume(&self) -> &Volume {
        &self.volume
    }

    /// V/V0 of a state.
    #[must_use]
    pub fn volume_ratio(&self, state: &State) -> f64 {
        self.volume.ratio(state.held, state.temperature_c)
    }

    /// The state after dividing or shaping, which keeps a share of the free gas.
    #[must_use]
    pub fn handled(&self, state: &State, kept: f64) -> State {
        State {
            held: self.volume.handled(state.held, kept, state.temperature_c),
            ..*state
        }
    }

    /// Follows the dough along a course that begins now, for `hours`.
    ///
    /// # Errors
    /// A negative or endless time, or a temperature that the rate law refuses.
    pub fn after(&self, from: &State, course: &Course<'_>, hours: f64) -> Result<State> {
        check("time of the stage", hours, 0.0, LONGEST_H, "h")?;
        self.follow(from, course, hours, Goal::Hours)
            .map(|(state, _)| state)
    }

    /// Follows the dough along a course that begins now until `measure`, which must not fall, reaches
    /// zero; `None` when it has not after three weeks.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub fn until(
        &self,
        from: &State,
        course: &Course<'_>,
        measure: &dyn Fn(&State) -> f64,
    ) -> Result<Option<State>> {
        let (state, reached) = self.follow(from, course, LONGEST_H, Goal::Measure(measure))?;
        Ok(reached.then_some(state))
    }

    /// The state when the gas made has reached `gas` (mL per 100 g flour); `None` when the sugar does
    /// not last for it or three weeks do not suffice.
    ///
    /// # Errors
    /// A temperature that the rate law refuses.
    pub fn until_gas(&self, from: &State, course: &Course<'_>, gas: f64) -> Result<Option<State>> {
        // Told through the potential gas, which the sugar does not bend: a straighter road to the root.
        match self.potential_of(gas) {
            Some(wanted) => {
                let goal = Goal::Potential(wanted);
                let (state, reached) = self.follow(from, course, LONGEST_H, goal)?;
                Ok(reached.then_some(state))
            }
            None => Ok(None),
        }
    }

    /// Gas that is really made when sugar without end would have given `potential`:
    /// `s + K ln s = s0 + K ln s0 - potential` with `s` the sugar left.
    fn gas_of(&self, potential: f64) -> f64 {
        let Medium {
            sugar, sugar_half, ..
        } = self.medium;
        if sugar == f64::INFINITY {
            potential
        } else {
            sugar - sugar_left(sugar, sugar_half, potential)
        }
    }

    fn potential_of(&self, gas: f64) -> Option<f64> {
        let Medium {
            sugar, sugar_half, ..
        } = self.medium;
        if sugar == f64::INFINITY {
            return Some(gas);
        }
        (gas < sugar).then(|| gas + sugar_half * (sugar / (sugar - gas)).ln())
    }

    /// Share of full speed that the sugar left allows.
    fn sugar_factor(&self, potential: f64) -> f64 {
        let Medium {
            sugar, sugar_half, ..
        } = self.medium;
        if sugar == f64::INFINITY {
            return 1.0;
        }
        let left = sugar_left(sugar, sugar_half, potential);
        left / (left + sugar_half)
    }

    fn follow(
        &self,
        from: &State,
        course: &Course<'_>,
        hours: f64,
        goal: Goal<'_>,
    ) -> Result<(State, bool)> {
        // The course says how warm the dough is now; heat of its own comes on top from here on.
        let mut state = State {
            excess_k: 0.0,
            ..*from
        };
        let mut pieces = course.pieces();
        let Some(mut piece) = pieces.next() else {
            return Ok((state, false));
        };
        state.temperature_c = piece.at(0.0);
        if goal.is_met_by(&state) {
            return Ok((state, true));
        }
        let mut at = 0.0; // in the piece
        let mut gone = 0.0; // in all
        while gone < hours {
            if at >= piece.length_h {
                let Some(next) = pieces.next() else { break };
                (piece, at) = (next, 0.0);
                continue;
            }
            let most = (hours - gone).min(piece.length_h - at);
            let panel = Panel::solve(self, &state, &piece, at, most)?;
            if goal.is_met_by(&panel.end) {
                let x = panel.meets(goal).unwrap_or(1.0);
                return Ok((panel.state_at(x), true));
            }
            state = panel.end;
            // A panel that fills the piece ends on its end, whatever rounding says.
            at = if panel.length_h >= piece.length_h - at {
                piece.length_h
            } else {
                at + panel.length_h
            };
            gone = if panel.length_h >= hours - gone {
                hours
            } else {
                gone + panel.length_h
            };
        }
        Ok((state, false))
    }
}

/// Sugar left (as gas) after `potential`: Newton's method on its logarithm `y`, where
/// `exp(y) + K y` rises and bends one way, so that the steps come down to the root from above.
fn sugar_left(sugar: f64, half: f64, potential: f64) -> f64 {
    if sugar <= 0.0 {
        return 0.0;
    }
    let goal = sugar + half * sugar.ln() - potential;
    let mut y = sugar.ln();
    for _ in 0..100 {
        let e = y.exp();
        let step = (e + half * y - goal) / (e + half);
        y -= step;
        if step.abs() < 1e-15 * y.abs().max(1.0) {
            break;
        }
    }
    y.exp()
}

/// Growth against its own clock `theta = integral of mu f_growth s_growth dt`.
///
/// `dm/dtheta = m (C - m)/D`, where `m` grows, and `C` is what it can become: a logistic.
#[derive(Debug, Clone, Copy)]
struct Growth {
    m0: f64,
    /// Yeast that does not grow yet.
    waiting: f64,
    ceiling: f64,
    cap: f64,
}

impl Growth {
    fn steepness(&self) -> f64 {
        if self.cap == f64::INFINITY {
            1.0
        } else {
            self.ceiling / self.cap
        }
    }

    /// Growing yeast at `theta`.
    fn mass(&self, theta: f64) -> f64 {
        if self.m0 == 0.0 {
            0.0
        } else if self.cap == f64::INFINITY {
            self.m0 * theta.exp()
        } else if self.cap == 0.0 {
            self.m0
        } else {
            let fade = (-self.steepness() * theta).exp();
            self.ceiling * self.m0 / (self.m0 + (self.ceiling - self.m0) * fade)
        }
    }

    /// Integral of the growing yeast over `theta` from 0.
    fn integral(&self, theta: f64) -> f64 {
        if self.m0 == 0.0 {
            0.0
        } else if self.cap == f64::INFINITY {
            self.m0 * theta.exp_m1()
        } else if self.cap == 0.0 {
            self.m0 * theta
        } else {
            let z = self.steepness() * theta;
            let share = self.m0 / self.ceiling;
            // Two forms of ln(1 + share (e^z - 1)): exact for small z, no overflow for large.
            let log = if z < 1.0 {
                (share * z.exp_m1()).ln_1p()
            } else {
                z + (share + (1.0 - share) * (-z).exp()).ln()
            };
            self.cap * log
        }
    }

    /// The clock at which the integral has come to `integral`.
    fn clock_at(&self, integral: f64) -> f64 {
        if self.cap == f64::INFINITY {
            (integral / self.m0).ln_1p()
        } else if self.cap == 0.0 {
            integral / self.m0
        } else {
            let log = integral / self.cap;
            let share = self.m0 / self.ceiling;
            // ln(1 + (e^log - 1)/share), again in two forms.
            let z = if log < 1.0 {
                (log.exp_m1() / share).ln_1p()
            } else {
                log + ((1.0 - (1.0 - share) * (-log).exp()) / share).ln()
            };
            z / self.steepness()
        }
    }
}

/// A stretch of time short enough to be followed in one go.
struct Panel<'f> {
    ferment: &'f Fermentation<'f>,
    start: State,
    end: State,
    growth: Growth,
    piece: Piece,
    at: f64,
    length_h: f64,
    inside: Inside,
}

/// How the inside of a panel is known. (A panel lives on the stack of one step; its size is no matter.)
#[allow(clippy::large_enum_variant)]
enum Inside {
    /// Constant temperature: relative rates of gas and growth.
    Level { gas: f64, growth: f64 },
    /// Values at the points: relative rates, gas potential per hour, and own heat per hour,
    /// multiplied by `exp(t/tau)`.
    Points {
        gas: [f64; POINTS],
        growth: [f64; POINTS],
        potential: [f64; POINTS],
        heat: [f64; POINTS],
    },
}

impl<'f> Panel<'f> {
    fn solve(
        f: &'f Fermentation<'f>,
        start: &State,
        piece: &Piece,
        at: f64,
        most: f64,
    ) -> Result<Self> {
        // What can still grow: the ceiling counts what has grown since the start.
        let grown = start.yeast - f.start.yeast;
        let (m0, waiting) = if start.awake {
            (start.yeast, 0.0)
        } else {
            (start.growing, start.yeast - start.growing)
        };
        let ceiling = m0 + (f.cap - grown).max(0.0);
        let growth = Growth {
            m0,
            waiting,
            ceiling,
            cap: f.cap,
        };
        let mut panel = Self {
            ferment: f,
            start: *start,
            end: *start,
            growth,
            piece: *piece,
            at,
            length_h: most,
            inside: Inside::Level {
                gas: 0.0,
                growth: 0.0,
            },
        };
        if piece.is_level() && f.own_heat.is_none() {
            panel.solve_level()?;
        } else {
            panel.length_h = panel.fitting_length(most);
            // Own heat that does not settle, or moves the dough by more than a panel may, asks for
            // shorter panels: only a runaway in a test tube comes to that.
            let mut halvings = 0;
            while !panel.solve_points()? {
                halvings += 1;
                if halvings > 40 {
                    return Err(Error::NotSettled {
                        what: "the dough's own heat",
                        steps: halvings,
                    });
                }
                panel.length_h *= 0.5;
            }
            // A kink of a law, or the end of the lag, must fall between two panels, not inside one.
            if let Some(x) = panel.first_break() {
                panel.length_h *= x;
                panel.solve_points()?;
                panel.end_with_the_lag()?;
            }
        }
        let lag = f.kinetics.rates().lag27_h;
        // The last bits of the root must not hide that the lag is over.
        if !panel.end.awake && panel.end.lag_hours >= lag * (1.0 - 1e-12) - 1e-12 {
            panel.end.awake = true;
        }
        Ok(panel)
    }

    fn solve_level(&mut self) -> Result<()> {
        let f = self.ferment;
        let t = self.piece.base;
        let (gas, growth) = f.rates_at(t)?;
        self.inside = Inside::Level { gas, growth };
        let lag = f.kinetics.rates().lag27_h;
        if !self.start.awake && gas > 0.0 {
            let left = (lag - self.start.lag_hours).max(0.0) / (gas * f.kinetics.lag_scale);
            // A lag that ends within a second of the end of the stay ends with it.
            self.length_h = self.length_h.min(left.max(1e-9));
        }
        self.end = self.state_at(1.0);
        Ok(())
    }

    /// A length in which temperature, own heat and growth move little.
    fn fitting_length(&self, most: f64) -> f64 {
        let f = self.ferment;
        let mut h = self.piece.smooth_length(self.at, most.min(4.0));
        if f.own_heat.is_some() {
            h = h.min(self.piece.tau_h).min(1.0);
        }
        if self.growth.m0 > 0.0 {
            let speed =
                f.kinetics.rates().growth_rate * f.medium.growth_factor * self.growth.steepness();
            if speed > 0.0 && speed.is_finite() {
                h = h.min(1.5 / speed);
            }
        }
        h
    }

    /// False when the own heat does not settle, or warms the dough too fast for this length.
    fn solve_points(&mut self) -> Result<bool> {
        let f = self.ferment;
        let fractions = numeric::fractions();
        let h = self.length_h;
        let base = fractions.map(|x| self.piece.at(self.at + x * h));
        let grow_with = fractions.map(|x| (x * h / self.piece.tau_h).exp());
        let kelvin_per_ml = f.own_heat.map_or(0.0, |o| o.kelvin_per_ml);
        let mut excess = grow_with.map(|e| self.start.excess_k / e);
        let mut heat = [0.0; POINTS];
        for step in 0..=60 {
            let mut gas = [0.0; POINTS];
            let mut growth = [0.0; POINTS];
            for i in 0..POINTS {
                (gas[i], growth[i]) = f.rates_at(base[i] + excess[i])?;
            }
            let theta = numeric::cumulated(&growth, h);
            let mut rate = [0.0; POINTS];
            for i in 0..POINTS {
                let yeast = self.growth.mass(f.growth_clock(theta[i])) + self.growth.waiting;
                rate[i] = f.gas_clock(gas[i]) * yeast;
            }
            self.inside = Inside::Points {
                gas,
                growth,
                potential: rate,
                heat,
            };
            if kelvin_per_ml == 0.0 {
                break;
            }
            let made = numeric::cumulated(&rate, h);
            for i in 0..POINTS {
                let sugar = f.sugar_factor(self.start.potential + made[i]);
                heat[i] = kelvin_per_ml * rate[i] * sugar * grow_with[i];
            }
            let warmed = numeric::cumulated(&heat, h);
            let mut moved: f64 = 0.0;
            for i in 0..POINTS {
                let next = (self.start.excess_k + warmed[i]) / grow_with[i];
                moved = moved.max((next - excess[i]).abs());
                excess[i] = next;
            }
            self.inside = Inside::Points {
                gas,
                growth,
                potential: rate,
                heat,
            };
            if moved < SETTLED_K {
                break;
            }
            if step == 60 {
                return Ok(false);
            }
        }
        self.end = self.state_at(1.0);
        Ok((self.end.temperature_c - self.start.temperature_c).abs() <= 2.0 * PANEL_K)
    }

    /// A panel cut at the end of the lag is solved anew, on other points, and then ends a little beside
    /// it. Brings its end onto it: a panel that fell short by 1e-9 h would leave the yeast asleep for all
    /// of the next.
    fn end_with_the_lag(&mut self) -> Result<()> {
        let f = self.ferment;
        let lag = f.kinetics.rates().lag27_h;
        if self.start.awake || (self.end.lag_hours - lag).abs() > NEAR_LAG_H {
            return Ok(());
        }
        for _ in 0..4 {
            let speed = f.kinetics.lag_scale * f.rates_at(self.end.temperature_c)?.0;
            let miss_h = (lag - self.end.lag_hours) / speed;
            if !miss_h.is_finite() || miss_h.abs() <= 1e-15 * self.length_h {
                break;
            }
            self.length_h += miss_h;
            self.solve_points()?;
        }
        self.end.awake = true;
        Ok(())
    }

    /// The first fraction of the panel at which a law has a kink or the lag ends.
    fn first_break(&self) -> Option<f64> {
        let f = self.ferment;
        let mut first: Option<f64> = None;
        let mut meet = |x: Option<f64>| {
            if let Some(x) = x.filter(|&x| x > 1e-9 && x < 1.0) {
                first = Some(first.map_or(x, |y: f64| y.min(x)));
            }
        };
        let (a, b) = (self.start.temperature_c, self.end.temperature_c);
        for &kink in &f.kinetics.kinks {
            if (a - kink) * (b - kink) < 0.0 && (a - kink).abs() > ON_KINK_K {
                meet(numeric::root(
                    |x| self.state_at(x).temperature_c - kink,
                    0.0,
                    1.0,
                ));
            }
        }
        let lag = f.kinetics.rates().lag27_h;
        if !self.start.awake && self.end.lag_hours > lag {
            meet(numeric::root(
                |x| self.state_at(x).lag_hours - lag,
                0.0,
                1.0,
            ));
        }
        first
    }

    /// The fraction of the panel at which a goal is met that its end has reached.
    fn meets(&self, goal: Goal<'_>) -> Option<f64> {
        match goal {
            Goal::Hours => None,
            Goal::Measure(measure) => numeric::root(|x| measure(&self.state_at(x)), 0.0, 1.0),
            Goal::Potential(wanted) => {
                let more = wanted - self.start.potential;
                self.level_fraction(more)
                    .or_else(|| numeric::root(|x| self.potential(x) - more, 0.0, 1.0))
            }
        }
    }

    /// The same in closed form, for so much more potential gas on a level panel; `None` where there is
    /// no such form, because some of the yeast grows and some waits.
    fn level_fraction(&self, more: f64) -> Option<f64> {
        let Inside::Level { gas, growth } = self.inside else {
            return None;
        };
        let f = self.ferment;
        let yeast_hours = more / f.gas_clock(gas);
        let speed = f.growth_clock(growth);
        let hours = if speed == 0.0 || self.growth.m0 == 0.0 {
            yeast_hours / (self.growth.m0 + self.growth.waiting)
        } else if self.growth.waiting == 0.0 {
            self.growth.clock_at(yeast_hours * speed) / speed
        } else {
            return None;
        };
        let x = hours / self.length_h;
        x.is_finite().then(|| x.clamp(0.0, 1.0))
    }

    /// Potential gas made up to a fraction of the panel.
    fn potential(&self, x: f64) -> f64 {
        match &self.inside {
            Inside::Level { gas, growth } => {
                let f = self.ferment;
                let h = x * self.length_h;
                let speed = f.growth_clock(*growth);
                let yeast_hours = if speed == 0.0 {
                    self.growth.m0 * h
                } else {
                    self.growth.integral(speed * h) / speed
                };
                f.gas_clock(*gas) * (yeast_hours + self.growth.waiting * h)
            }
            Inside::Points { potential, .. } => numeric::integral_to(potential, self.length_h, x),
        }
    }

    /// The state at a fraction of the panel.
    fn state_at(&self, x: f64) -> State {
        let f = self.ferment;
        let s = &self.start;
        let h = x * self.length_h;
        let to = |values: &[f64; POINTS]| numeric::integral_to(values, self.length_h, x);
        let (lag, theta, excess_k);
        match &self.inside {
            Inside::Level { gas, growth } => {
                lag = gas * h;
                theta = f.growth_clock(growth * h);
                excess_k = 0.0;
            }
            Inside::Points {
                gas, growth, heat, ..
            } => {
                lag = to(gas);
                theta = f.growth_clock(to(growth));
                let warmed = if f.own_heat.is_some() { to(heat) } else { 0.0 };
                excess_k = (s.excess_k + warmed) * (-h / self.piece.tau_h).exp();
            }
        }
        let growing = self.growth.mass(theta);
        let temperature_c = self.piece.at(self.at + h) + excess_k;
        let potential = s.potential + self.potential(x);
        let gas = f.gas_of(potential);
        State {
            hours: s.hours + h,
            temperature_c,
            yeast: growing + self.growth.waiting,
            gas,
            held: f.volume.hold(s.held, (gas - s.gas).max(0.0), temperature_c),
            lag_hours: s.lag_hours + f.kinetics.lag_scale * lag,
            growing,
            awake: s.awake,
            potential,
            excess_k,
        }
    }
}

impl Fermentation<'_> {
    /// Relative rates of gas and growth at a temperature.
    fn rates_at(&self, t: f64) -> Result<(f64, f64)> {
        let gas = self.kinetics.gas().at(t);
        let growth = self.kinetics.growth().at(t);
        if gas.is_nan() {
            return Err(self.kinetics.gas().refusal(t));
        }
        if growth.is_nan() {
            return Err(self.kinetics.growth().refusal(t));
        }
        Ok((gas, growth))
    }

    fn growth_clock(&self, relative_hours: f64) -> f64 {
        self.kinetics.rates().growth_rate * self.medium.growth_factor * relative_hours
    }

    fn gas_clock(&self, relative: f64) -> f64 {
        self.kinetics.gas_scale * self.medium.gas_factor * relative
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ferment::{Inoculum, Parameters};
    use crate::units::Temperature;
    use proptest::prelude::*;

    proptest! {
        /// The closed form and the search on the state itself find the same hour.
        #[test]
        fn gas_is_reached_at_the_hour_that_its_state_says(
            added in 1e-3..5.0_f64,
            carried in prop_oneof![Just(0.0), 1e-3..5.0_f64],
            at in -5.0..50.0_f64,
            gas in 1.0..1500.0_f64,
            cap in prop_oneof![Just(f64::INFINITY), 0.01..3.0_f64],
        ) {
            let p = Parameters::shipped().unwrap();
            let rates = crate::ferment::Rates { growth_cap: cap, ..p.kinetics.rates() };
            let p = p.with_rates(rates).unwrap();
            let dough = crate::ferment::Composition::lean(62.0, 1.8);
            let medium = p.effects.medium(&dough).unwrap();
            let yeast = Inoculum { added, carried };
            let ferment = Fermentation::new(&p.kinetics, medium, p.space.of(&dough, 0.0), yeast).unwrap();
            let course = Course::held(Temperature::celsius(at).unwrap());
            let direct = ferment.until_gas(&ferment.start(), &course, gas).unwrap();
            let wanted = ferment.potential_of(gas).unwrap();
            let searched = ferment.until(&ferment.start(), &course, &|s| s.potential - wanted).unwrap();
            prop_assert_eq!(direct.is_some(), searched.is_some());
            if let (Some(direct), Some(searched)) = (direct, searched) {
                // Rounding of the potential over its speed, nothing else.
                prop_assert!((direct.hours - searched.hours).abs() < 1e-11 * searched.hours.max(1.0));
                prop_assert!((direct.gas - gas).abs() < 1e-9 * gas);
            }
        }
    }
}
