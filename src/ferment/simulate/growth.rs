//! How yeast grows up to what the flour allows: a logistic against its own clock, in closed form.

use crate::numeric::fade;

/// Growth against its own clock `theta = integral of mu f_growth s_growth dt`.
///
/// `dm/dtheta = m (C - m)/D`, where `m` grows, and `C` is what it can become: a logistic.
#[derive(Debug, Clone, Copy)]
pub(super) struct Growth {
    pub m0: f64,
    /// Yeast that does not grow yet.
    pub waiting: f64,
    pub ceiling: f64,
    pub cap: f64,
}

/// Derivatives of the mass by the numbers of its growth.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct MassSlopes {
    pub m0: f64,
    pub ceiling: f64,
    pub log_cap: f64,
    pub theta: f64,
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

    pub fn steepness(&self) -> f64 {
        if self.cap == f64::INFINITY {
            1.0
        } else {
            self.ceiling / self.cap
        }
    }

    /// Growing yeast at `theta`.
    pub fn mass(&self, theta: f64) -> f64 {
        if self.m0 == 0.0 {
            0.0
        } else if self.cap == f64::INFINITY {
            self.m0 * theta.exp()
        } else if self.cap == 0.0 {
            self.m0
        } else {
            let fade = fade(self.steepness() * theta);
            self.ceiling * self.m0 / (self.m0 + (self.ceiling - self.m0) * fade)
        }
    }

    /// All yeast at `theta`.
    pub fn yeast(&self, theta: f64) -> f64 {
        self.mass(theta) + self.waiting
    }

    /// Integral of the growing yeast over `theta` from 0.
    pub fn integral(&self, theta: f64) -> f64 {
        if self.m0 == 0.0 {
            0.0
        } else if self.cap == f64::INFINITY {
            self.m0 * theta.exp_m1()
        } else if self.cap == 0.0 {
            self.m0 * theta
        } else {
            let z = self.steepness() * theta;
            let share = self.m0 / self.ceiling;
            // ln(1 + share (e^z - 1)), in a second form where e^z would overflow.
            let log = if z < 700.0 {
                (share * z.exp_m1()).ln_1p()
            } else {
                z + (share + (1.0 - share) * (-z).exp()).ln()
            };
            self.cap * log
        }
    }

    /// How that integral moves with the logarithm of the yeast at its start, which moves the ceiling along.
    pub fn integral_by_dose(&self, theta: f64) -> f64 {
        if self.m0 == 0.0 || self.cap == f64::INFINITY || self.cap == 0.0 {
            return self.integral(theta);
        }
        let (share, free) = (self.m0 / self.ceiling, self.cap / self.ceiling);
        let gone = -(-self.steepness() * theta).exp_m1();
        self.m0 * (free * free * gone + share * theta) / (1.0 - gone + share * gone)
    }

    /// Integral of all the yeast over so many hours, when the clock goes at a speed.
    pub fn yeast_hours(&self, speed: f64, hours: f64) -> f64 {
        let growing = if speed == 0.0 {
            self.m0 * hours
        } else {
            self.integral(speed * hours) / speed
        };
        growing + self.waiting * hours
    }

    /// What grows at a clock of speed 1.
    pub fn speed(&self, mass: f64) -> f64 {
        if self.cap == f64::INFINITY {
            mass
        } else if self.cap == 0.0 {
            0.0
        } else {
            mass * (self.ceiling - mass) / self.cap
        }
    }

    /// How the mass at `theta` moves with the numbers of the growth and with the clock.
    pub fn mass_slopes(&self, theta: f64) -> MassSlopes {
        if self.cap == f64::INFINITY {
            return MassSlopes {
                m0: theta.exp(),
                theta: self.m0 * theta.exp(),
                ..MassSlopes::default()
            };
        } else if self.cap == 0.0 || self.m0 == 0.0 {
            return MassSlopes {
                m0: 1.0,
                ..MassSlopes::default()
            };
        }
        let (m0, c, z) = (self.m0, self.ceiling, self.steepness() * theta);
        let fade = fade(z);
        let all = m0 + (c - m0) * fade;
        let by_z = c * m0 * (c - m0) * fade / (all * all);
        MassSlopes {
            m0: (c / all).powi(2) * fade,
            ceiling: (m0 / all).powi(2) * (1.0 - fade) + by_z * theta / self.cap,
            log_cap: -by_z * z,
            theta: by_z * self.steepness(),
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
            // ln(1 + (e^log - 1) C/m0), in a second form where e^log would overflow.
            let fold = self.ceiling / self.m0;
            let z = if log < 0.05 {
                (log.exp_m1() * fold).ln_1p()
            } else {
                log + (fold - (fold - 1.0) * (-log).exp()).ln()
            };
            z * (self.cap / self.ceiling)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// The clock is the integral turned round, with a cap of any size: to 1e-13, some hundred last places.
        #[test]
        fn the_clock_at_an_integral_gives_that_integral(
            log_m0 in -13.0..4.0_f64,
            log_integral in -20.0..8.0_f64,
            cap in prop_oneof![
                Just(f64::INFINITY),
                Just(0.0),
                (-4.0..13.0_f64).prop_map(f64::exp),
            ],
        ) {
            let m0 = log_m0.exp();
            let integral = log_integral.exp() * m0.max(cap.min(1.0));
            let growth = Growth::of(m0, m0 + cap, cap);
            let clock = growth.clock_at(integral);
            let again = growth.integral(clock);
            prop_assert!((again / integral - 1.0).abs() < 1e-13, "{integral} {clock} {again}");
            // And it is the mass that is integrated: the slope of the integral.
            let near = 1e-4 * clock.min(1.0);
            let slope = (growth.integral(clock + near) - growth.integral(clock - near)) / (2.0 * near);
            prop_assert!((slope / growth.mass(clock) - 1.0).abs() < 1e-5, "{slope}");
        }
    }

    /// Next to no yeast stays next to none until `e^z` has made up for it, however large that is: what grows is
    /// `m0 (e^theta - 1)` as long as the cap is far.
    #[test]
    fn next_to_no_yeast_takes_its_time() {
        let (m0, cap) = (1e-310, 20.0);
        let growth = Growth::of(m0, m0 + cap, cap);
        for theta in [690.0, 699.9, 700.1, 703.0] {
            let wanted = m0 * f64::exp(theta);
            assert!(
                (growth.integral(theta) / wanted - 1.0).abs() < 1e-6,
                "{theta}"
            );
        }
    }
}
