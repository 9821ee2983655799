//! How far a fitted law would move with other scatter: fits to the curve with its residuals drawn anew.

use super::{RateFit, Row, Speed, down, fit_rate, in_four};
use crate::error::{Error, Result, check};
use crate::learn::random::Random;

/// Fits to redrawn points.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Bootstrap {
    /// Parameters of each round, in the order of [`Law::parameters`](super::Law::parameters).
    pub rounds: Vec<Vec<f64>>,
    /// Rounds whose points no curve of the law fits; they have no parameters.
    pub unsettled: usize,
}

impl Bootstrap {
    /// Where a parameter lies in 80 % of the rounds (10 to 90 %); `None` without such a parameter or with
    /// fewer than ten rounds.
    #[must_use]
    pub fn interval(&self, parameter: usize) -> Option<[f64; 2]> {
        let mut values: Vec<f64> = self
            .rounds
            .iter()
            .filter_map(|round| round.get(parameter).copied())
            .collect();
        if values.len() < 10 {
            return None;
        }
        values.sort_by(f64::total_cmp);
        Some([
            values[values.len() / 10],
            values[values.len() - 1 - values.len() / 10],
        ])
    }
}

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
        let residuals: Vec<f64> = points
            .iter()
            .zip(&curve)
            .map(|(s, on_curve)| self.transform.on(s.rate) - on_curve)
            .collect();
        let mut random = Random::seeded(seed);
        let redrawn = points.iter().zip(&curve).map(|(s, on_curve)| Speed {
            rate: self
                .transform
                .back(on_curve + residuals[random.below(residuals.len())]),
            ..*s
        });
        Ok(redrawn.collect())
    }

    /// Fits the law again to so many sets of redrawn points; the same seed gives the same rounds.
    ///
    /// ```
    /// use pointage::learn::rate_fit::{Law, Speed, Transform, fit_rate};
    /// use pointage::units::Temperature;
    /// let speeds = [(8.0, 0.05), (14.0, 0.13), (20.0, 0.22), (26.0, 0.37), (32.0, 0.44), (38.0, 0.25)];
    /// let points = speeds.map(|(c, rate)| Speed { temperature: Temperature::celsius(c).unwrap(), rate });
    /// let fit = fit_rate(&points, Law::Cardinal, Transform::Sqrt)?;
    /// let best = fit.report.estimates[2].value;
    /// let [low, high] = fit.bootstrap(&points, 200, 1)?.interval(2).unwrap();
    /// assert!(low < best && best < high && high - low < 10.0);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    ///
    /// # Errors
    /// No round, more than a million, other points than those of the fit, or a fit that has not settled.
    pub fn bootstrap(&self, points: &[Speed], rounds: u32, seed: u64) -> Result<Bootstrap> {
        check("number of rounds", f64::from(rounds), 1.0, 1e6, "")?;
        if !self.report.stop.converged() {
            return Err(Error::contradiction(
                "the fit has not settled, so that its residuals tell nothing; add points",
            ));
        }
        let mut found = Bootstrap {
            rounds: Vec::with_capacity(rounds as usize),
            unsettled: 0,
        };
        for round in 0..rounds {
            let points = self.redrawn(points, seed.wrapping_add(u64::from(round)))?;
            match self.again(&points) {
                Some(values) => found.rounds.push(values),
                None => found.unsettled += 1,
            }
        }
        Ok(found)
    }

    /// The law fitted to other speeds: from the values of this fit, and where that leads nowhere, from the
    /// beginning.
    fn again(&self, points: &[Speed]) -> Option<Vec<f64>> {
        let values = self.report.values();
        let rows: Vec<Row> = points
            .iter()
            .map(|s| Row {
                t: s.temperature.as_celsius(),
                target: self.transform.on(s.rate),
            })
            .collect();
        let near = match values.len() {
            4 => down(self.law, self.transform, &rows, in_four(&values)),
            _ => None,
        };
        match near {
            Some(found) => Some(found.at.to_vec()),
            None => {
                let fit = fit_rate(points, self.law, self.transform).ok()?;
                fit.report.stop.converged().then(|| fit.report.values())
            }
        }
    }
}
