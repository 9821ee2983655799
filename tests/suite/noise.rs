//! Seeded noise for synthetic data: the same on every machine.

/// xorshift64* (S. Vigna, ACM Trans. Math. Softw. 42:30, 2016) and Box and Muller on it.
pub struct Noise(u64);

impl Noise {
    pub fn seeded(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    /// Above 0 and below 1.
    pub fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let word = self.0.wrapping_mul(0x2545_f491_4f6c_dd1d);
        ((word >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// Mean 0, standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform(), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }

    /// Between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }
}
