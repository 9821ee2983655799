//! One step of a fermentation: a stretch of its profile, short enough to be followed in one go.

mod adjoint;

pub(super) use adjoint::Adjoint;

use super::growth::Growth;
use super::{Fermentation, State};
use crate::ambient::{DECAY_TAU, Piece};
use crate::budget;
use crate::error::{Error, Result};
use crate::numeric::{self, Integral, POINTS};

/// A panel is no longer than this, and its temperature moves by no more.
const PANEL_H: f64 = 6.0;
const PANEL_K: f64 = 9.0;
/// Nor does the yeast grow by more than this power of e.
const PANEL_GROWTH: f64 = 1.5;
/// Nor does the speed that the sugar allows fall below this share of what it was, but where it is below this
/// already.
const SUGAR_FALL: f64 = 0.5;
const SUGAR_GONE: f64 = 1e-4;
/// A panel that ends this near to the end of the lag was cut there, h at 27 °C.
const NEAR_LAG_H: f64 = 1e-5;
/// And this near it is on it, h: its yeast would not grow by 1e-9 in that time.
const ON_LAG_H: f64 = 1e-9;
/// A panel may run over a kink of a law by so much, K: the kink then counts for 1e-8 of a rate at the most.
const AT_KINK_K: f64 = 3e-4;
/// The last two of eight terms of a curve are no more than this share of its mean. Eight points integrate these
/// terms exactly, and what is left out counts for 1e-7 at the most.
const RESOLVED: f64 = 1e-4;
/// A relative rate below this need not be resolved: at the very limit of a law it is rounding.
const SLOWEST: f64 = 1e-6;
/// The own heat is settled when it will move by less, K: 1e-9 of the rates.
const SETTLED_K: f64 = 1e-8;

/// A stretch of time short enough to be followed in one go.
#[derive(Clone)]
pub(super) struct Panel<'f> {
    ferment: &'f Fermentation,
    start: State,
    pub end: State,
    growth: Growth,
    piece: Piece,
    at: f64,
    pub length_h: f64,
    /// Share of the yeast that makes gas: in the dead time after mixing only what was carried in.
    working: f64,
    /// Warming by its own heat at the start, K/h, and by how much that grows with the yeast, 1/h.
    warming: f64,
    quickening: f64,
    inside: Inside,
}

/// How the inside of a panel is known. (A panel lives on the stack of one step; its size is no matter.)
#[allow(clippy::large_enum_variant)]
#[derive(Clone)]
enum Inside {
    /// Constant temperature: relative rates of gas and growth.
    Level { gas: f64, growth: f64 },
    /// Relative rates, gas potential, and own heat multiplied by `exp(t/tau)`, from the panel's start on.
    Points {
        gas: Integral,
        growth: Integral,
        potential: Integral,
        heat: Integral,
        at: Points,
    },
}

/// What goes on at the points of a panel.
#[derive(Clone, Default)]
struct Points {
    temperature_c: [f64; POINTS],
    /// Relative rates.
    gas: [f64; POINTS],
    growth: [f64; POINTS],
    /// Growth by its own clock, since the panel's start.
    theta: [f64; POINTS],
    /// Share of full speed that the sugar allows.
    share: [f64; POINTS],
    /// `exp(-t/tau)`.
    fades: [f64; POINTS],
}

impl<'f> Panel<'f> {
    /// A panel of `most` hours that is not solved yet.
    fn begin(f: &'f Fermentation, start: &State, piece: &Piece, at: f64, most: f64) -> Self {
        // What can still grow: the ceiling counts what has grown since the start.
        let grown = start.yeast - (f.yeast.added + f.yeast.carried);
        let (m0, waiting) = if start.awake {
            (start.yeast, 0.0)
        } else {
            (start.growing, start.yeast - start.growing)
        };
        let growth = Growth {
            m0,
            waiting,
            ceiling: m0 + (f.cap - grown).max(0.0),
            cap: f.cap,
        };
        let dead_h = f.dead_h_after(start.hours);
        let (working, most) = if dead_h > 0.0 {
            let share = f.yeast.carried / (f.yeast.added + f.yeast.carried);
            (share, most.min(dead_h))
        } else {
            (1.0, most)
        };
        let mut panel = Self {
            ferment: f,
            start: *start,
            end: *start,
            growth,
            piece: *piece,
            at,
            length_h: most,
            working,
            warming: 0.0,
            quickening: 0.0,
            inside: Inside::Level {
                gas: 0.0,
                growth: 0.0,
            },
        };
        if let Some(own) = f.own_heat {
            let making = panel.gas_clock(f.kinetics.gas_rate(start.temperature_c)) * start.yeast;
            panel.warming = own.kelvin_per_ml * making * panel.sugar_share(start.gas);
            let growing = f.growth_clock(f.kinetics.growth().at(start.temperature_c));
            panel.quickening = growing * growth.speed(m0) / start.yeast;
        }
        panel
    }

    pub fn solve(
        f: &'f Fermentation,
        start: &State,
        piece: &Piece,
        at: f64,
        most: f64,
    ) -> Result<Self> {
        let mut panel = Self::begin(f, start, piece, at, most);
        if piece.ramp().is_some_and(|(_, slope)| slope == 0.0) && f.own_heat.is_none() {
            panel.solve_level()?;
        } else {
            panel.length_h = panel.fitting_length(panel.length_h);
            // Own heat that does not settle, or moves the dough by more than a panel may, asks for
            // shorter panels: only a runaway in a test tube comes to that.
            let mut halvings = 0;
            while !panel.solve_points(|panel, hours| panel.likely_excess(hours))? {
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
                panel.solve_shorter(x)?;
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
        budget::spend(1)?;
        let f = self.ferment;
        let (gas, growth) = f.kinetics.rates_at(self.piece.base)?;
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
        let mut h = self
            .piece
            .smooth_length(self.at, most.min(PANEL_H), PANEL_K);
        if f.own_heat.is_some() {
            h = h.min(DECAY_TAU * self.piece.tau_h);
        }
        let after = |h: f64| self.piece.at(self.at + h) + self.likely_excess(h);
        let (a, b) = (self.start.temperature_c, after(h));
        if self.growth.m0 > 0.0 {
            let growth = f.kinetics.growth();
            let speed = f.growth_clock(growth.at(a).max(growth.at(b))) * self.growth.steepness();
            if speed > 0.0 && speed.is_finite() {
                h = h.min(PANEL_GROWTH / speed);
            }
        }
        // As far as the next kink, where the guess of the own heat is good enough to meet it.
        for &kink in f.kinetics.kinks() {
            if (a - kink) * (b - kink) < 0.0 && (a - kink).abs() > AT_KINK_K {
                h = numeric::root(|h| after(h) - kink, 0.0, h).unwrap_or(h);
            }
        }
        h
    }

    /// A guess of the own heat after some hours, as if it and the yeast that makes it went on as at the start.
    fn likely_excess(&self, hours: f64) -> f64 {
        if self.ferment.own_heat.is_none() {
            return 0.0;
        }
        let faded = numeric::fade(hours / self.piece.tau_h);
        let faster = self.quickening + 1.0 / self.piece.tau_h;
        let made = if faster > 0.0 {
            self.warming * (numeric::fade(-self.quickening * hours) - faded) / faster
        } else {
            self.warming * hours
        };
        self.start.excess_k * faded + if made.is_finite() { made } else { 0.0 }
    }

    /// Own heat at a fraction of the panel, K.
    fn excess_at(&self, x: f64) -> f64 {
        match &self.inside {
            Inside::Points { heat, .. } => {
                let fade = numeric::fade(x * self.length_h / self.piece.tau_h);
                (self.start.excess_k + heat.to(x)) * fade
            }
            Inside::Level { .. } => 0.0,
        }
    }

    /// A panel that is solved, cut (or lengthened by a hair) to a fraction of itself.
    pub fn solve_shorter(&mut self, fraction: f64) -> Result<bool> {
        let excess = numeric::fractions().map(|x| self.excess_at(fraction * x));
        self.length_h *= fraction;
        let mut at = excess.into_iter();
        self.solve_points(|_, _| at.next().unwrap_or(0.0))
    }

    /// Solves the panel from a guess of the own heat at the hours of its points. False when it does not settle,
    /// or warms the dough too fast for this length.
    fn solve_points(&mut self, mut guess: impl FnMut(&Self, f64) -> f64) -> Result<bool> {
        let f = self.ferment;
        let h = self.length_h;
        let hours = numeric::fractions().map(|x| x * h);
        let base = hours.map(|hour| self.piece.at(self.at + hour));
        let fades = hours.map(|hour| numeric::fade(hour / self.piece.tau_h));
        let mut excess = hours.map(|hour| guess(self, hour));
        let mut settled = f.own_heat.is_none();
        let mut moved_before = 0.0;
        for _ in 0..=60 {
            budget::spend(1)?;
            let (mut gas, mut growth) = ([0.0; POINTS], [0.0; POINTS]);
            let temperature_c = array(|i| base[i] + excess[i]);
            for i in 0..POINTS {
                (gas[i], growth[i]) = f.kinetics.rates_at(temperature_c[i])?;
            }
            let theta = numeric::cumulated(&growth, h).map(|hours| f.growth_clock(hours));
            let potential = array(|i| self.gas_clock(gas[i]) * self.growth.yeast(theta[i]));
            let made = numeric::cumulated(&potential, h);
            let share = match f.own_heat {
                Some(_) => made.map(|made| self.sugar_share(self.gas_after(made))),
                None => [1.0; POINTS],
            };
            let heat = array(|i| f.kelvin_per_ml() * potential[i] * share[i] / fades[i]);
            if settled {
                self.inside = Inside::Points {
                    gas: Integral::of(&gas, h),
                    growth: Integral::of(&growth, h),
                    potential: Integral::of(&potential, h),
                    heat: Integral::of(&heat, h),
                    at: Points {
                        temperature_c,
                        gas,
                        growth,
                        theta,
                        share,
                        fades,
                    },
                };
                self.end = self.state_at(1.0);
                // Not counting a jump before it.
                let moved_k = (self.end.temperature_c - self.temperature(0.0)).abs();
                return Ok(moved_k <= 2.0 * PANEL_K && self.is_resolved() && !self.sugar_ends());
            }
            let warmed = numeric::cumulated(&heat, h);
            let mut moved = 0.0;
            for i in 0..POINTS {
                let next = (self.start.excess_k + warmed[i]) * fades[i];
                moved = f64::max(moved, (next - excess[i]).abs());
                excess[i] = next;
            }
            // Each pass moves it by a smaller share of what the one before did.
            settled = f64::min(moved, moved * (moved / moved_before)) < SETTLED_K;
            moved_before = moved;
        }
        Ok(false)
    }

    /// True when the points show all that the curves do: where a law falls steeply, near the end of its range, a
    /// panel of some kelvin is too long.
    fn is_resolved(&self) -> bool {
        match &self.inside {
            Inside::Level { .. } => true,
            Inside::Points {
                gas,
                growth,
                potential,
                ..
            } => {
                let slowest = self.ferment.gas_clock(SLOWEST) * self.start.yeast;
                gas.unresolved(SLOWEST) <= RESOLVED
                    && growth.unresolved(SLOWEST) <= RESOLVED
                    && potential.unresolved(slowest) <= RESOLVED
            }
        }
    }

    /// Gas made since the start of the dough when sugar without end would have given so much more in the panel.
    fn gas_after(&self, more: f64) -> f64 {
        self.ferment.medium.gas_after(self.start.gas, more)
    }

    fn sugar_share(&self, gas: f64) -> f64 {
        self.ferment.medium.sugar_share(gas)
    }

    /// True when the sugar gives out on the way: heat and gas then fall too steeply for one panel.
    fn sugar_ends(&self) -> bool {
        let [before, after] = [self.start.gas, self.end.gas].map(|gas| self.sugar_share(gas));
        before > SUGAR_GONE && after < SUGAR_FALL * before
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
            let speed = f.kinetics.lag_scale * f.kinetics.rates_at(self.end.temperature_c)?.0;
            let miss_h = (lag - self.end.lag_hours) / speed;
            if !miss_h.is_finite() || miss_h.abs() <= ON_LAG_H {
                break;
            }
            self.solve_shorter(1.0 + miss_h / self.length_h)?;
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
            let at_end = [a, b].iter().any(|t| (t - kink).abs() <= AT_KINK_K);
            if (a - kink) * (b - kink) < 0.0 && !at_end {
                meet(numeric::root(|x| self.temperature(x) - kink, 0.0, 1.0));
            }
        }
        let lag = f.kinetics.rates().lag27_h;
        if !self.start.awake && self.end.lag_hours > lag {
            meet(numeric::root(|x| self.lag_hours(x) - lag, 0.0, 1.0));
        }
        first
    }

    /// The state at the fraction at which a measure is zero that the end has reached: the start, where a jump of the
    /// temperature brought it there.
    pub fn meets(&self, measure: impl Fn(f64) -> f64) -> State {
        self.state_at(numeric::root(measure, 0.0, 1.0).unwrap_or(0.0))
    }

    /// Potential gas made since the start of the dough, at a fraction of the panel.
    pub fn potential_at(&self, x: f64) -> f64 {
        self.start.potential + self.potential(x)
    }

    /// Gas that a gram of yeast makes, see [`Fermentation::gas_clock`]; nothing of what is not at work yet.
    fn gas_clock(&self, relative_hours: f64) -> f64 {
        self.working * self.ferment.gas_clock(relative_hours)
    }

    /// Potential gas made up to a fraction of the panel.
    fn potential(&self, x: f64) -> f64 {
        match &self.inside {
            Inside::Level { gas, growth } => {
                let speed = self.ferment.growth_clock(*growth);
                self.gas_clock(*gas) * self.growth.yeast_hours(speed, x * self.length_h)
            }
            Inside::Points { potential, .. } => potential.to(x),
        }
    }

    /// Gas held at a fraction of the panel, where so much has been made and the dough is so warm. How much a
    /// dough can hold depends on its temperature: once some escapes, it is followed in steps.
    fn held(&self, x: f64, gas: f64, temperature_c: f64) -> f64 {
        const STEPS: u32 = 16;
        let (volume, s) = (&self.ferment.volume, &self.start);
        let made = (gas - s.gas).max(0.0);
        if matches!(self.inside, Inside::Level { .. }) {
            return volume.hold(s.held, made, temperature_c);
        }
        if let Some(held) = volume.hold_all(s.held, made, s.temperature_c.max(temperature_c)) {
            return held;
        }
        let (mut held, mut before) = (s.held, s.gas);
        for step in 1..=STEPS {
            let end = x * f64::from(step) / f64::from(STEPS);
            // As warm as in the middle of the step.
            let t = self.temperature(end - 0.5 * x / f64::from(STEPS));
            let gas = self.gas_after(self.potential(end));
            held = volume.hold(held, (gas - before).max(0.0), t);
            before = gas;
        }
        held
    }

    /// Hours at 27 °C up to a fraction of the panel.
    pub fn lag_hours(&self, x: f64) -> f64 {
        let hours = match &self.inside {
            Inside::Level { gas, .. } => gas * x * self.length_h,
            Inside::Points { gas, .. } => gas.to(x),
        };
        self.start.lag_hours + self.ferment.kinetics.lag_scale * hours
    }

    /// Hours of growth at full relative speed up to a fraction of the panel.
    fn growth_hours(&self, x: f64) -> f64 {
        match &self.inside {
            Inside::Level { growth, .. } => growth * x * self.length_h,
            Inside::Points { growth, .. } => growth.to(x),
        }
    }

    fn temperature(&self, x: f64) -> f64 {
        self.piece.at(self.at + x * self.length_h) + self.excess_at(x)
    }

    /// The state at a fraction of the panel.
    pub fn state_at(&self, x: f64) -> State {
        let (f, s) = (self.ferment, &self.start);
        let hours = x * self.length_h;
        let more = self.potential(x);
        let growing = self.growth.mass(f.growth_clock(self.growth_hours(x)));
        let excess_k = self.excess_at(x);
        let temperature_c = self.piece.at(self.at + hours) + excess_k;
        let gas = self.gas_after(more);
        State {
            hours: s.hours + hours,
            temperature_c,
            yeast: growing + self.growth.waiting,
            gas,
            held: self.held(x, gas, temperature_c),
            lag_hours: self.lag_hours(x),
            growing,
            awake: s.awake,
            potential: s.potential + more,
            excess_k,
        }
    }
}

fn array(of: impl FnMut(usize) -> f64) -> [f64; POINTS] {
    std::array::from_fn(of)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ambient::{Ambient, TemperatureProfile};
    use crate::ferment::{Composition, Inoculum, Kinetics, OwnHeat, Parameters, Rates};
    use crate::rate::RateLaw;
    use crate::units::Temperature;

    /// A dough of 100 g flour that warms itself, with yeast that is awake or asleep.
    fn dough(p: &Parameters, yeast: Inoculum) -> Fermentation {
        let lean = Composition::lean(62.0, 1.8);
        let medium = p.effects.medium(&lean).unwrap();
        let heat = OwnHeat::new(50.0, 24_465.0, 0.165, 2.7).unwrap();
        let rates = Rates {
            specific_gas_rate: 70.0,
            ..p.kinetics.rates()
        };
        let kinetics = p.kinetics.with_rates(rates).unwrap();
        let kinetics = kinetics.with_dead_time(0.0).unwrap();
        Fermentation::new(&kinetics, medium, p.space.of(&lean, 0.0), yeast)
            .unwrap()
            .with_own_heat(heat)
    }

    const AWAKE: Inoculum = Inoculum {
        added: 0.0,
        carried: 2.0,
    };

    /// A dough of so many degrees in a room of others, which it follows slowly.
    fn piece(dough_c: f64, room_c: f64, tau_h: f64) -> Piece {
        let room = Ambient::constant(Temperature::celsius(room_c).unwrap()).unwrap();
        let from = Temperature::celsius(dough_c).unwrap();
        let course = TemperatureProfile::following(&room, 0.0, from, tau_h).unwrap();
        course.pieces().next().unwrap()
    }

    fn state(f: &Fermentation, t: f64) -> State {
        State {
            temperature_c: t,
            ..f.start()
        }
    }

    /// A panel comes as far as the next kink of a law and no further, from both sides; one that begins on a kink
    /// goes on, to the next.
    #[test]
    fn a_panel_ends_on_a_kink() {
        let p = Parameters::shipped().unwrap();
        let f = dough(&p, AWAKE);
        let kinks = p.kinetics.kinks();
        assert!(!kinks.is_empty());
        for &kink in kinks {
            for side in [-1.0, 1.0] {
                let start = kink + 0.4 * side;
                let beyond = piece(start, kink - 3.0 * side, 2.0);
                let panel = Panel::begin(&f, &state(&f, start), &beyond, 0.0, 5.0);
                let h = panel.fitting_length(5.0);
                let there = beyond.at(h) + panel.likely_excess(h);
                assert!((there - kink).abs() <= AT_KINK_K, "{kink}: {there}");
                // By Newton's law alone 0.25 h (from 3.4 K to 3.0 K off the room), but for warmth of its own.
                assert!((0.1..0.8).contains(&h), "{kink}: {h}");
                let solved = Panel::solve(&f, &state(&f, start), &beyond, 0.0, 5.0).unwrap();
                let end = solved.end.temperature_c;
                // Never beyond it; a guess of the own heat that is off leaves the rest to the next panel.
                let short = side * (end - kink);
                assert!((-2.0 * AT_KINK_K..0.02).contains(&short), "{kink}: {end}");
                let on = state(&f, kink + 0.5 * AT_KINK_K * side);
                let beyond = piece(on.temperature_c, kink - 3.0 * side, 2.0);
                let panel = Panel::begin(&f, &on, &beyond, 0.0, 5.0);
                let h = panel.fitting_length(5.0);
                assert!(h > 0.2, "{kink} {side}: {h}");
            }
        }
    }

    /// Where nothing else stands in the way the growth of the yeast does: by no more than its power of e, at the
    /// speed of its warmer end.
    #[test]
    fn a_panel_is_as_long_as_its_yeast_may_grow() {
        let shipped = Parameters::shipped().unwrap();
        let rates = Rates {
            growth_cap: 0.5,
            ..shipped.kinetics.rates()
        };
        let p = shipped.with_rates(rates).unwrap();
        let f = dough(&p, AWAKE);
        for (start, end) in [(25.0, 28.0), (28.0, 25.0)] {
            let piece = piece(start, end, 100.0);
            let panel = Panel::begin(&f, &state(&f, start), &piece, 0.0, 6.0);
            let h = panel.fitting_length(6.0);
            let speed = |t: f64| {
                let (_, growth) = p.kinetics.rates_at(t).unwrap();
                // The logistic towards a ceiling: its yeast and what the flour allows, over what it allows.
                let cap = 0.5 * f.medium.fresh_flour;
                rates.growth_rate * f.medium.growth_factor * growth * (2.0 + cap) / cap
            };
            let (slowest, fastest) = (PANEL_GROWTH / speed(28.0), PANEL_GROWTH / speed(25.0));
            assert!(
                h < 6.0 && h > 0.9 * slowest && h < 1.1 * fastest,
                "{h} {slowest} {fastest}"
            );
        }
        // Yeast that sleeps does not shorten a panel; the decay of its excess does, and the time that is left.
        let asleep = dough(
            &p,
            Inoculum {
                added: 2.0,
                carried: 0.0,
            },
        );
        let still = piece(25.0, 25.0, 2.0);
        let panel = Panel::begin(&asleep, &state(&asleep, 25.0), &still, 0.0, 6.0);
        assert_eq!(panel.fitting_length(6.0), 2.0 * DECAY_TAU);
        assert_eq!(panel.fitting_length(1.5), 1.5);
    }

    /// The same for a panel that begins some way into a ramp of its place.
    #[test]
    fn a_panel_within_a_ramp_ends_on_a_kink() {
        let p = Parameters::shipped().unwrap();
        let f = dough(&p, AWAKE);
        for kink in [10.0, 41.3] {
            assert!(p.kinetics.kinks().contains(&kink));
            let room = Ambient::ramps(&[(0.0, kink - 3.0), (10.0, kink + 7.0)]).unwrap();
            let ramp = TemperatureProfile::of_room(&room, 0.0)
                .pieces()
                .next()
                .unwrap();
            let at = 2.6;
            let panel = Panel::begin(&f, &state(&f, ramp.at(at)), &ramp, at, 5.0);
            let h = panel.fitting_length(5.0);
            let there = ramp.at(at + h) + panel.likely_excess(h);
            assert!((there - kink).abs() <= AT_KINK_K, "{kink}: {there}");
        }
    }

    /// A panel that ends within a hair of a kink is left as it is; one that runs over it is to be cut there.
    #[test]
    fn a_panel_is_cut_where_it_runs_over_a_kink() {
        let p = Parameters::shipped().unwrap();
        let f = dough(&p, AWAKE);
        let kink = 10.0;
        assert!(p.kinetics.kinks().contains(&kink));
        // From 9 °C in a room of 12 °C: 12 - 3 exp(-u/2) is at `t` after 2 ln(3/(12 - t)).
        let beyond = piece(kink - 1.0, kink + 2.0, 2.0);
        let broken_at = |end: f64| {
            let hours = 2.0 * (3.0 / (kink + 2.0 - end)).ln();
            let mut panel = Panel::begin(&f, &state(&f, kink - 1.0), &beyond, 0.0, hours);
            panel.end.temperature_c = end;
            panel.first_break().map(|x| x * hours)
        };
        assert_eq!(broken_at(kink - 0.5 * AT_KINK_K), None);
        assert_eq!(broken_at(kink + 0.5 * AT_KINK_K), None);
        let hour = broken_at(kink + 0.5).unwrap();
        assert!((hour - 2.0 * 1.5_f64.ln()).abs() < 1e-12, "{hour}");
    }

    /// Both what makes gas and what it makes must be shown by the points: a jump in either is not.
    #[test]
    fn a_panel_is_resolved_where_all_its_curves_are() {
        let p = Parameters::shipped().unwrap();
        let f = dough(&p, AWAKE);
        let level = piece(25.0, 25.0, 2.0);
        let mut panel = Panel::begin(&f, &state(&f, 25.0), &level, 0.0, 1.0);
        assert!(panel.is_resolved());
        let even = numeric::fractions().map(|x| 1.0 + x);
        let jump = numeric::fractions().map(|x| if x < 0.5 { 1.0 } else { 2.0 });
        for (gas, potential, resolved) in [
            (even, even, true),
            (jump, even, false),
            (even, jump, false),
            (jump, jump, false),
        ] {
            let of = |values| Integral::of(values, 1.0);
            panel.inside = Inside::Points {
                gas: of(&gas),
                growth: of(&even),
                potential: of(&potential),
                heat: of(&[0.0; POINTS]),
                at: Points::default(),
            };
            assert_eq!(panel.is_resolved(), resolved, "{gas:?} {potential:?}");
        }
    }

    /// Where the sugar gives out, a panel ends before the speed it allows has fallen to less than half.
    #[test]
    fn a_panel_is_short_where_the_sugar_gives_out() {
        let p = Parameters::shipped().unwrap();
        let f = dough(&p, AWAKE);
        let warm = TemperatureProfile::held(Temperature::celsius(30.0).unwrap());
        let sugar = f.medium.sugar;
        for left in [200.0, 100.0, 30.0, 3.0] {
            let state = f
                .until_gas(&f.start(), &warm, sugar - left)
                .unwrap()
                .unwrap();
            let start = State {
                temperature_c: 30.0,
                excess_k: 0.0,
                ..state
            };
            let panel = Panel::solve(&f, &start, &warm.pieces().next().unwrap(), 0.0, 6.0).unwrap();
            let share = |s: &State| (sugar - s.gas) / (sugar - s.gas + f.medium.sugar_half);
            let (before, after) = (share(&start), share(&panel.end));
            assert!(after >= 0.5 * before, "{left}: {before} {after}");
        }
    }

    /// A panel that ends with the lag ends on it, and its yeast is awake; one that has come off it by a hair is brought
    /// back, and one that ends somewhere else is left there.
    #[test]
    fn a_panel_ends_with_the_lag() {
        let p = Parameters::shipped().unwrap();
        let asleep = Inoculum {
            added: 2.0,
            carried: 0.0,
        };
        let f = dough(&p, asleep);
        let lag = p.kinetics.rates().lag27_h;
        let miss_h = |end: &State| {
            let (gas, _) = p.kinetics.rates_at(end.temperature_c).unwrap();
            (end.lag_hours - lag) / (p.kinetics.lag_scale * gas)
        };
        for (dough_c, room_c, tau_h) in [(21.0, 27.0, 3.0), (24.0, 20.0, 3.0), (11.0, 14.0, 1.5)] {
            let start = State {
                lag_hours: lag - 0.3,
                ..state(&f, dough_c)
            };
            let piece = piece(dough_c, room_c, tau_h);
            let mut panel = Panel::solve(&f, &start, &piece, 0.0, 6.0).unwrap();
            assert!(panel.end.awake && miss_h(&panel.end).abs() <= ON_LAG_H);
            for off_h in [-5e-6, 5e-6] {
                panel.solve_shorter(1.0 + off_h / panel.length_h).unwrap();
                assert!(!panel.end.awake && (miss_h(&panel.end) / off_h - 1.0).abs() < 0.01);
                panel.end_with_the_lag().unwrap();
                let miss_h = miss_h(&panel.end);
                assert!(panel.end.awake && miss_h.abs() <= ON_LAG_H, "{miss_h}");
            }
            panel.solve_shorter(0.9).unwrap();
            let short_h = panel.length_h;
            panel.end_with_the_lag().unwrap();
            assert!(!panel.end.awake && panel.length_h == short_h);
        }
    }

    /// At one temperature a panel ends with the lag, 27 °C hours by the speed of gas making, and each part of it is
    /// that part of the lag.
    #[test]
    fn a_level_panel_ends_with_the_lag() {
        let p = Parameters::shipped().unwrap();
        let asleep = Inoculum {
            added: 2.0,
            carried: 0.0,
        };
        let f = Fermentation {
            own_heat: None,
            ..dough(&p, asleep)
        };
        let c = |t: f64| Temperature::celsius(t).unwrap();
        let rate = |t: f64| p.kinetics.gas().relative_rate(c(t)).unwrap();
        let lag = p.kinetics.rates().lag27_h;
        let level = TemperatureProfile::held(c(20.0)).pieces().next().unwrap();
        let panel = Panel::solve(&f, &state(&f, 20.0), &level, 0.0, 100.0).unwrap();
        let expected = lag * rate(27.0) / rate(20.0);
        assert!((panel.length_h / expected - 1.0).abs() < 1e-12);
        assert!(panel.end.awake);
        assert!((panel.state_at(0.25).lag_hours - 0.25 * lag).abs() < 1e-12);
    }

    /// A dough that is too warm for a law of its own is refused at the temperature it has.
    #[test]
    fn a_panel_beyond_its_law_is_refused_there() {
        let shipped = Parameters::shipped().unwrap();
        let law = || RateLaw::q10(2.0, 24.0, [10.0, 30.0]).unwrap();
        let mut p = shipped.clone();
        p.kinetics = Kinetics::new(law(), law(), shipped.kinetics.rates()).unwrap();
        let f = dough(&p, AWAKE);
        let start = State {
            excess_k: 0.5,
            ..state(&f, 33.5)
        };
        match Panel::solve(&f, &start, &piece(33.0, 32.0, 2.0), 0.0, 1.0) {
            Err(Error::LawRange { at_c, .. }) => assert!((30.0..34.0).contains(&at_c), "{at_c}"),
            other => panic!("{:?}", other.map(|panel| panel.end)),
        }
    }
}
