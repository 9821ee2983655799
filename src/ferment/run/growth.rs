//! How yeast grows up to what the flour allows: a logistic against its own clock, in closed form.

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
            let fade = (-self.steepness() * theta).exp();
            self.ceiling * self.m0 / (self.m0 + (self.ceiling - self.m0) * fade)
        }
    }

    /// How fast it grows by its clock, where it has come to `mass`, and how fast that changes.
    pub fn slope(&self, mass: f64) -> (f64, f64) {
        if self.cap == f64::INFINITY {
            (mass, mass)
        } else if self.cap == 0.0 {
            (0.0, 0.0)
        } else {
            let slope = mass * (self.ceiling - mass) / self.cap;
            (slope, slope * (self.ceiling - 2.0 * mass) / self.cap)
        }
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
