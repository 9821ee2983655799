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

/// Reads CSV with the columns `temperature_c` (or `_f`) and `rate`, and if need be `note`: the points, and the
/// rows that could not be used.
///
/// ```
/// use pointage::learn::rate_fit::read_speeds;
/// let (points, refused) = read_speeds("temperature_f,rate\n68,0.12\n86,-1\n")?;
/// assert!((points[0].temperature.as_celsius() - 20.0).abs() < 1e-12);
/// assert!(refused[0].to_string().starts_with("line 3, column rate: speed is -1"));
/// # Ok::<(), pointage::Error>(())
/// ```
///
/// # Errors
/// A column that is missing, unknown or double. Bad rows are no error.
pub fn read_speeds(text: &str) -> Result<(Vec<Speed>, Vec<Refused>)> {
    let log = CsvLog::read(text, &["temperature_c", "rate"], &["note"], |_| false)?;
    Ok(log.each(|row| {
        let temperature = row.needed("temperature_c", row.temperature("temperature_c")?)?;
        let what = ("temperature of a point", "°C");
        let celsius = temperature.as_celsius();
        row.check("temperature_c", what, celsius, (-20.0, 60.0))?;
        let rate = row.needed("rate", row.number("rate")?)?;
        row.check("rate", ("speed", "in its unit"), rate, (0.0, 1e12))?;
        Ok(Speed { temperature, rate })
    }))
}
