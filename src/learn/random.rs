//! Numbers that look random and are the same for the same seed.

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

pub(crate) struct Random(Xoshiro256PlusPlus);

impl Random {
    pub(crate) fn seeded(seed: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    /// Above 0 and below 1.
    pub(crate) fn uniform(&mut self) -> f64 {
        // With one bit more the largest would be rounded to 1.
        ((self.0.next_u64() >> 12) as f64 + 0.5) / (1u64 << 52) as f64
    }

    /// Below `n`, which is at least 1.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        // The product may be rounded up to n.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let drawn = (self.uniform() * n as f64) as usize;
        drawn.min(n - 1)
    }

    /// Mean 0, standard deviation 1 (Box and Muller).
    pub(crate) fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform(), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn normal_numbers_have_their_mean_and_spread() {
        let mut r = Random::seeded(3);
        let v: Vec<f64> = (0..20_000).map(|_| r.normal()).collect();
        let mean = v.iter().sum::<f64>() / 20_000.0;
        let var = v.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 20_000.0;
        // Four standard errors: 4/sqrt(20000) and 4 sqrt(2/20000).
        assert!(mean.abs() < 0.0283 && (var - 1.0).abs() < 0.04);
    }

    /// Each of six faces comes up a sixth of the time: four standard errors of 60 000 throws.
    #[test]
    fn numbers_below_are_even() {
        let mut r = Random::seeded(5);
        let mut faces = [0_u32; 6];
        (0..60_000).for_each(|_| faces[r.below(6)] += 1);
        let sd = (60_000.0 * (1.0 / 6.0) * (5.0 / 6.0_f64)).sqrt();
        for count in faces {
            assert!((f64::from(count) - 10_000.0).abs() < 4.0 * sd, "{faces:?}");
        }
        assert_eq!(r.below(1), 0);
    }
}
