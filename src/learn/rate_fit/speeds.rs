//! Measured speeds, and their text.

use crate::error::{Result, check};
use crate::learn::csv_log::{Refused, Sheet, is_temperature};
use crate::units::Temperature;

/// A measured speed; any unit of speed will do, as long as it is one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Speed {
    /// Where it was measured.
    pub temperature: Temperature,
    /// The speed, 0 or more.
    pub rate: f64,
}

/// Speeds read from a text.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct SpeedLog {
    /// The points.
    pub points: Vec<Speed>,
    /// Rows that could not be used.
    pub refused: Vec<Refused>,
}

impl SpeedLog {
    /// Reads CSV with the columns `temperature_c` (or `_f`) and `rate`, and if need be `note`.
    ///
    /// # Errors
    /// A column that is missing, unknown or double. Bad rows are no error: they are in `refused`.
    ///
    /// ```
    /// use pointage::learn::rate_fit::SpeedLog;
    /// let log = SpeedLog::from_csv("temperature_f,rate\n68,0.12\n86,-1\n")?;
    /// assert!((log.points[0].temperature.as_celsius() - 20.0).abs() < 1e-12);
    /// assert!(log.refused[0].to_string().starts_with("line 3, column rate: speed is -1"));
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn from_csv(text: &str) -> Result<Self> {
        const COLUMNS: [&str; 3] = ["temperature_c", "rate", "note"];
        let sheet = Sheet::read(text)?;
        sheet.only(&COLUMNS, |h| {
            COLUMNS.contains(&h) || is_temperature(h, "temperature")
        })?;
        let temperature = sheet.temperature("temperature")?;
        let rate = sheet.plain("rate");
        for (name, column) in [("temperature_c", temperature), ("rate", rate)] {
            if column.is_none() {
                return Err(sheet.missing(name));
            }
        }
        let mut log = Self {
            points: Vec::new(),
            refused: Vec::new(),
        };
        for row in sheet.rows() {
            let read = || {
                row.check_length()?;
                let t = row.needed(temperature, row.temperature(temperature)?)?;
                check("temperature of a point", t.as_celsius(), -20.0, 60.0, "°C")
                    .map_err(|e| row.refuse(temperature, &e))?;
                let speed = row.needed(rate, row.number(rate)?)?;
                check("speed", speed, 0.0, 1e12, "in its unit")
                    .map_err(|e| row.refuse(rate, &e))?;
                Ok(Speed {
                    temperature: t,
                    rate: speed,
                })
            };
            match read() {
                Ok(point) => log.points.push(point),
                Err(refused) => log.refused.push(refused),
            }
        }
        Ok(log)
    }
}
