//! The learned parameters as a parameter file.

use super::{Learned, on_log_scale};
use crate::error::Result;
use crate::ferment::{LEARNABLE, LEARNT_NAMES};
use crate::table::{Correlation, Standing, Table, Uncertainty, Value, unit_of};

impl Learned {
    /// What a parameter file holds of it, for
    /// [`Parameters::with_table`](crate::ferment::Parameters::with_table): what the log could move, with errors and
    /// correlations after it, and the scatter of a single observation (`day_log_sd`), so that a range drawn from the
    /// file holds four new observations of five. Nothing where the fit did not settle. Whose log it was is left to
    /// the caller, who fills in title and source. Numbers have six digits.
    ///
    /// ```
    /// use pointage::ferment::{Kind, Parameters};
    /// use pointage::learn::fit::learn;
    /// use pointage::learn::log::Log;
    /// let log = Log::from_csv("\
    /// kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen
    /// poolish,1000,1000,fresh,3,21,11.5,ripe
    /// poolish,1000,1000,fresh,3,17,20,ripe
    /// ", |name| Err(pointage::table::get(name).unwrap_err()))?;
    /// let shipped = Parameters::shipped()?;
    /// let learned = learn(&log.observations, &shipped, None)?;
    /// let kitchen = shipped.with_table(&learned.table()?)?;
    /// let miss = kitchen.level(Kind::Poolish).gas / learned.parameters.level(Kind::Poolish).gas - 1.0;
    /// assert!(miss.abs() < 1e-5);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    ///
    /// # Errors
    /// None: the log made a model before.
    pub fn table(&self) -> Result<Table> {
        let value = |name: &str, value: f64, uncertainty| -> Result<Value> {
            Ok(Value {
                name: name.into(),
                value: six_digits(value),
                unit: unit_of(name)?.0,
                uncertainty,
                source: String::new(),
                locus: String::new(),
                standing: Standing::Derived,
                note: String::new(),
            })
        };
        let mut table = Table {
            id: "kitchen".into(),
            ..Table::default()
        };
        if !self.is_sound() {
            return Ok(table);
        }
        let c = &self.found.covariance;
        let concerned: Vec<usize> = self.concerned().collect();
        for (n, &i) in concerned.iter().enumerate() {
            let which = LEARNABLE[i];
            let error = six_digits(self.prior.spread_of(which) * c[(i, i)].sqrt());
            let uncertainty = if on_log_scale(which) {
                Uncertainty::LogSd { log_sd: error }
            } else {
                Uncertainty::StandardError { se: error }
            };
            let learned = self.parameters.learnt_value(which);
            table
                .values
                .push(value(LEARNT_NAMES[i], learned, uncertainty)?);
            for &j in &concerned[n + 1..] {
                table.correlations.push(Correlation {
                    between: [LEARNT_NAMES[i].into(), LEARNT_NAMES[j].into()],
                    value: six_digits(c[(i, j)] / (c[(i, i)] * c[(j, j)]).sqrt()),
                });
            }
        }
        table
            .values
            .push(value("day_log_sd", self.scatter, Uncertainty::Exact)?);
        Ok(table)
    }
}

fn six_digits(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}
