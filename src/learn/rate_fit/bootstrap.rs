//! How far a fitted law would move with other scatter: fits to the curve with its residuals drawn anew.

use super::{RateFit, Speed, SpeedRow, down, fit_rate};
use crate::error::{Error, Result, check};
use crate::learn::engine::Termination;
use crate::learn::random::Random;

impl RateFit {
    /// The points that a round of [`bootstrap`](Self::bootstrap) with this seed sees: the curve, and at each
    /// point the residual of one drawn with replacement.
    ///
    /// # Errors
    /// Other points than those of the fit.
    pub fn redrawn(&self, points: &[Speed], seed: u64) -> Result<Vec<Speed>> {
        if points.len() != self.report.rows {
            return Err(Error::contradiction(format!(
                "the fit has {} points, not {}; give those it was made from",
                self.report.rows,
                points.len()
            )));
        }
        let values = self.report.values();
        let on_curve = |s: &Speed| {
            let rate = self.law.rate(&values, s.temperature.as_celsius());
            self.transform.on(rate)
        };
        let curve: Vec<f64> = points.iter().map(on_curve).collect();
        let mut random = Random::seeded(seed);
        let redrawn = points.iter().zip(&curve).map(|(s, on_curve)| {
            let drawn = random.below(points.len());
            let residual = self.transform.on(points[drawn].rate) - curve[drawn];
            let rate = self.transform.back(on_curve + residual);
            Speed { rate, ..*s }
        });
        Ok(redrawn.collect())
    }

    /// Fits the law again to so many sets of redrawn points, and gives the parameters of each round in the order
    /// of the report; `None` where no curve of the law fits its points.
    /// The same seed gives the same rounds.
    ///
    /// ```
    /// use pointage::learn::rate_fit::{FitLaw, Speed, Transform, fit_rate};
    /// use pointage::units::Temperature;
    /// let speeds = [(8.0, 0.05), (14.0, 0.13), (20.0, 0.22), (26.0, 0.37), (32.0, 0.44), (38.0, 0.25)];
    /// let points = speeds.map(|(c, rate)| Speed { temperature: Temperature::celsius(c).unwrap(), rate });
    /// let fit = fit_rate(&points, FitLaw::Cardinal, Transform::Sqrt)?;
    /// let best = fit.report.estimates[2].value;
    /// let rounds = fit.bootstrap(&points, 200, 1)?;
    /// let mut found: Vec<f64> = rounds.iter().flatten().map(|values| values[2]).collect();
    /// found.sort_by(f64::total_cmp);
    /// let [low, high] = [found[found.len() / 10], found[found.len() * 9 / 10]];
    /// assert!(low < best && best < high && high - low < 10.0);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    ///
    /// # Errors
    /// No round, more than a million, other points than those of the fit, or a fit that has not settled.
    pub fn bootstrap(
        &self,
        points: &[Speed],
        rounds: u32,
        seed: u64,
    ) -> Result<Vec<Option<Vec<f64>>>> {
        check("number of rounds", f64::from(rounds), 1.0, 1e6, "")?;
        if self.report.stop != Termination::Converged {
            return Err(Error::contradiction(
                "the fit has not settled, so that its residuals tell nothing; add points",
            ));
        }
        let again = |round| {
            let points = self.redrawn(points, seed.wrapping_add(u64::from(round)))?;
            Ok(self.again(&points))
        };
        (0..rounds).map(again).collect()
    }

    /// The law fitted to other speeds: from the values of this fit, and where that leads nowhere, from the
    /// beginning.
    fn again(&self, points: &[Speed]) -> Option<Vec<f64>> {
        let values = self.report.values();
        if values.len() == 4 {
            let row = |s: &Speed| {
                SpeedRow::new(self.law, self.transform, s.temperature.as_celsius(), s.rate)
            };
            let rows: Vec<SpeedRow> = points.iter().map(row).collect();
            if let Some((at, _)) = down(&rows, &values) {
                return Some(at.as_slice().to_vec());
            }
        }
        let report = fit_rate(points, self.law, self.transform).ok()?.report;
        (report.stop == Termination::Converged).then(|| report.values())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::learn::rate_fit::{FitLaw, Transform};
    use crate::units::Temperature;

    fn points() -> Vec<Speed> {
        let truth = [0.46, 2.6, 32.4, 41.3];
        (0..20)
            .map(|i| {
                let t = 5.0 + 1.8 * f64::from(i);
                let scatter = 0.012 * f64::from(i * 7 + 3).sin();
                Speed {
                    temperature: Temperature::celsius(t).unwrap(),
                    rate: (FitLaw::Cardinal.rate(&truth, t) + scatter).max(0.0),
                }
            })
            .collect()
    }

    #[test]
    fn rounds_are_those_of_whole_fits_to_the_same_points() {
        let points = points();
        for (law, transform) in [
            (FitLaw::Cardinal, Transform::None),
            (FitLaw::Cardinal, Transform::Sqrt),
            (FitLaw::SquareRoot, Transform::None),
            (FitLaw::Q10, Transform::None),
        ] {
            let fit = fit_rate(&points, law, transform).unwrap();
            let found = fit.bootstrap(&points, 30, 9).unwrap();
            assert_eq!(found.len(), 30, "{law:?}");
            let rss = |p: &[f64], points: &[Speed]| -> f64 {
                let miss = |s: &Speed| {
                    transform.on(law.rate(p, s.temperature.as_celsius())) - transform.on(s.rate)
                };
                points.iter().map(|s| miss(s).powi(2)).sum()
            };
            for (round, seed) in found.iter().zip(9..) {
                let round = round.as_ref().unwrap();
                let redrawn = fit.redrawn(&points, seed).unwrap();
                let whole = fit_rate(&redrawn, law, transform).unwrap().report.values();
                let (ours, theirs) = (rss(round, &redrawn), rss(&whole, &redrawn));
                assert!(
                    ours <= theirs * (1.0 + 1e-9),
                    "{law:?} {seed}: {ours} {theirs}"
                );
            }
            assert_eq!(fit.bootstrap(&points, 30, 9).unwrap(), found);
        }
    }

    #[test]
    fn the_spread_is_about_the_standard_error() {
        let points = points();
        let fit = fit_rate(&points, FitLaw::Cardinal, Transform::None).unwrap();
        let found = fit.bootstrap(&points, 2000, 3).unwrap();
        for (i, e) in fit.report.estimates.iter().enumerate() {
            let mut drawn: Vec<f64> = found.iter().flatten().map(|values| values[i]).collect();
            drawn.sort_by(f64::total_cmp);
            let [low, high] = [drawn[200], drawn[1799]];
            let sd = (high - low) / (2.0 * crate::numeric::NORMAL_90);
            // Residuals are smaller than scatter by sqrt(16/20); the rest is the curve's bend.
            let share = sd / e.standard_error.unwrap();
            assert!((0.6..1.3).contains(&share), "{}: {share}", e.name);
        }
        assert!(fit.bootstrap(&points[1..], 10, 1).is_err());
        assert!(fit.bootstrap(&points, 0, 1).is_err());
    }

    /// One point that alone is fast: rounds in which it is not drawn have no curve, and are counted.
    #[test]
    fn rounds_without_a_curve_are_counted() {
        let points: Vec<Speed> = [(10.0, 0.0), (20.0, 0.0), (30.0, 1.0), (35.0, 0.0)]
            .map(|(t, rate)| Speed {
                temperature: Temperature::celsius(t).unwrap(),
                rate,
            })
            .to_vec();
        let mut fit = fit_rate(&self::points(), FitLaw::Q10, Transform::None).unwrap();
        // A curve of next to nothing: the residuals are the speeds themselves.
        fit.report.rows = points.len();
        fit.report.estimates[0].value = 0.0;
        let found = fit.bootstrap(&points, 40, 5).unwrap();
        let mut lost = 0;
        for seed in 5..45 {
            let drawn = fit.redrawn(&points, seed).unwrap();
            let moving = drawn.iter().filter(|s| s.rate > 0.0).count();
            lost += usize::from(moving < 2);
        }
        assert!(lost > 5 && lost < 40, "{lost}");
        let settled = found.iter().flatten().count();
        assert_eq!((settled, found.len()), (40 - lost, 40));
    }
}
