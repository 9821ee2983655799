//! Measured speeds, and their text.

use crate::error::Result;
use crate::learn::csv_log::{CsvLog, Refused};
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
        let log = CsvLog::read(text, &COLUMNS, &COLUMNS[..2], |_| false)?;
        let (points, refused) = log.each(|row| {
            let temperature = row.needed("temperature_c", row.temperature("temperature_c")?)?;
            let what = ("temperature of a point", "°C");
            row.within(
                "temperature_c",
                what,
                temperature.as_celsius(),
                (-20.0, 60.0),
            )?;
            let rate = row.needed("rate", row.number("rate")?)?;
            row.within("rate", ("speed", "in its unit"), rate, (0.0, 1e12))?;
            Ok(Speed { temperature, rate })
        });
        Ok(Self { points, refused })
    }
}
