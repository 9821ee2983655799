//! One step of a fermentation: a stretch of its course, short enough to be followed in one go.

use super::{Fermentation, Goal, State};
use crate::ambient::{ON_KINK_K, PANEL_K, Piece};
use crate::error::{Error, Result};
use crate::numeric::{self, POINTS};

/// A panel that ends this near to the end of the lag was cut there, h at 27 °C.
const NEAR_LAG_H: f64 = 1e-5;
/// The own heat is settled when it moves by less, K: 1e-11 of the rates.
const SETTLED_K: f64 = 1e-10;

/// Growth against its own clock `theta = integral of mu f_growth s_growth dt`.
///
/// `dm/dtheta = m (C - m)/D`, where `m` grows, and `C` is what it can become: a logistic.
#[derive(Debug, Clone, Copy)]
pub(super) struct Growth {
    m0: f64,
    /// Yeast that does not grow yet.
    waiting: f64,
    ceiling: f64,
    cap: f64,
}

impl Growth {
    /// Yeast that grows all at once.
    pub fn of(m0: f64, ceiling: f64, cap: f64) -> Self {
        Self {
            m0,
            waiting: 0.0,
            ceiling,
            cap,
        }
    }

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
    pub fn clock_at(&self, integral: f64) -> f64 {
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
pub(super) struct Panel<'f> {
    ferment: &'f Fermentation<'f>,
    start: State,
    pub end: State,
    growth: Growth,
    piece: Piece,
    at: f64,
    pub length_h: f64,
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
    pub fn solve(
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
            h = h.min(3.0 * self.piece.tau_h);
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
        // Heat goes on as it comes now: a near guess.
        let warming = if kelvin_per_ml == 0.0 {
            0.0
        } else {
            let gas = f.rates_at(self.start.temperature_c)?.0;
            let made = f.gas_clock(gas) * (self.growth.m0 + self.growth.waiting);
            kelvin_per_ml * made - self.start.excess_k / self.piece.tau_h
        };
        let mut excess = fractions.map(|x| self.start.excess_k + warming * x * h);
        let mut last_move = [0.0; POINTS];
        let mut sugar_near = [f.sugar_at(&self.start); POINTS];
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
                let share = sugar_near[i].share_after(self.start.potential + made[i]);
                heat[i] = kelvin_per_ml * rate[i] * share * grow_with[i];
            }
            let warmed = numeric::cumulated(&heat, h);
            let mut moved: f64 = 0.0;
            for i in 0..POINTS {
                let next = (self.start.excess_k + warmed[i]) / grow_with[i];
                let by = next - excess[i];
                moved = moved.max(by.abs());
                // Moves shrink by the same share each time: what is still to come is known (Aitken).
                let share = by / last_move[i];
                let to_come = if share.abs() < 0.3 {
                    by * share / (1.0 - share)
                } else {
                    0.0
                };
                excess[i] = next + to_come;
                last_move[i] = if to_come == 0.0 { by } else { 0.0 };
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
        for &kink in f.kinetics.kinks() {
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
    pub fn meets(&self, goal: Goal<'_>) -> Option<f64> {
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
    pub fn state_at(&self, x: f64) -> State {
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
