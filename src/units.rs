//! Temperatures, temperature differences, masses, percentages and times, each a type of its own.
//!
//! A *reading* and a *difference* of temperature are two types, because they convert differently:
//! 75 °F is 23.9 °C, but a friction of 20 °F is 11.1 K. Two readings cannot be added:
//!
//! ```compile_fail
//! use pointage::units::Temperature;
//! let sum = Temperature::celsius(20.0).unwrap() + Temperature::celsius(4.0).unwrap();
//! ```
//!
//! Constructors name the unit and refuse what is not finite or absurd; text is read with [`str::parse`]. In
//! JSON, TOML and the like a value is a number in °C, g, % or h, or a text that carries its unit.

use crate::error::{Error, Result, check};
use std::str::FromStr;
use std::time::Duration;

/// Kelvin per degree Fahrenheit.
const K_PER_F: f64 = 1.0 / 1.8;
/// Grams per international avoirdupois pound (exact).
const G_PER_LB: f64 = 453.592_37;
/// Grams per ounce (exact: a sixteenth of a pound).
const G_PER_OZ: f64 = G_PER_LB / 16.0;

/// A temperature reading, -100 to 150 °C.
///
/// Values below 0 °C occur for ice, cold rooms, and as the *wanted water* of a dough that needs ice.
///
/// ```
/// use pointage::units::Temperature;
/// let t: Temperature = "75F".parse().unwrap();
/// assert!((t.as_celsius() - 23.888_888_9).abs() < 1e-6);
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd)]
pub struct Temperature(f64);

impl Temperature {
    /// The ice point, 0 °C.
    pub const ZERO: Self = Self(0.0);

    /// A reading in °C.
    ///
    /// # Errors
    /// Not finite, or outside -100 to 150 °C.
    pub fn celsius(value: f64) -> Result<Self> {
        check("temperature", value, Self::LEAST, Self::MOST, "°C").map(Self)
    }

    /// A reading in °F, -148 to 302 °F.
    ///
    /// # Errors
    /// Not finite, or outside the range.
    pub fn fahrenheit(value: f64) -> Result<Self> {
        Self::celsius((value - 32.0) * K_PER_F)
    }

    /// The reading in °C.
    #[must_use]
    pub fn as_celsius(self) -> f64 {
        self.0
    }

    /// The reading in °F.
    #[must_use]
    pub fn as_fahrenheit(self) -> f64 {
        self.0 / K_PER_F + 32.0
    }
}

impl std::ops::Sub for Temperature {
    type Output = TemperatureDifference;
    fn sub(self, other: Self) -> TemperatureDifference {
        TemperatureDifference(self.0 - other.0)
    }
}

/// A difference of two temperatures, -250 to 250 K.
///
/// ```
/// use pointage::units::TemperatureDifference;
/// let friction: TemperatureDifference = "18F".parse().unwrap();
/// assert!((friction.as_kelvin() - 10.0).abs() < 1e-12); // no offset of 32
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd)]
pub struct TemperatureDifference(f64);

impl TemperatureDifference {
    /// A difference in K (the same as in °C).
    ///
    /// # Errors
    /// Not finite, or outside -250 to 250 K.
    pub fn kelvin(value: f64) -> Result<Self> {
        let what = "temperature difference";
        check(what, value, Self::LEAST, Self::MOST, "K").map(Self)
    }

    /// A difference in degrees Fahrenheit, which are 1/1.8 K each.
    ///
    /// # Errors
    /// Not finite, or outside -450 to 450 °F.
    pub fn fahrenheit(value: f64) -> Result<Self> {
        Self::kelvin(value * K_PER_F)
    }

    /// The difference in K.
    #[must_use]
    pub fn as_kelvin(self) -> f64 {
        self.0
    }

    /// The difference in degrees Fahrenheit.
    #[must_use]
    pub fn as_fahrenheit(self) -> f64 {
        self.0 / K_PER_F
    }
}

/// A mass, 0 to 100 t.
///
/// ```
/// use pointage::units::Mass;
/// assert_eq!("1.2kg".parse::<Mass>().unwrap(), Mass::grams(1200.0).unwrap());
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd)]
pub struct Mass(f64);

impl Mass {
    /// A mass in grams.
    ///
    /// # Errors
    /// Not finite, negative, or above 1e8 g.
    pub fn grams(value: f64) -> Result<Self> {
        check("mass", value, Self::LEAST, Self::MOST, "g").map(Self)
    }

    /// A mass in kilograms.
    ///
    /// # Errors
    /// Not finite, negative, or above 1e5 kg.
    pub fn kilograms(value: f64) -> Result<Self> {
        Self::grams(value * 1e3)
    }

    /// A mass worked out from checked ones, known to be in range.
    pub(crate) const fn literal(grams: f64) -> Self {
        Self(grams)
    }

    /// The mass in grams.
    #[must_use]
    pub fn as_grams(self) -> f64 {
        self.0
    }

    /// The mass in kilograms.
    #[must_use]
    pub fn as_kilograms(self) -> f64 {
        self.0 / 1e3
    }
}

/// A percentage, 0 to 1000 %; a dose is a percentage of its own stage's flour.
///
/// ```
/// use pointage::units::Percent;
/// assert_eq!("0.5%".parse::<Percent>().unwrap().as_percent(), 0.5);
/// assert_eq!("0.5".parse::<Percent>().unwrap().as_percent(), 0.5);
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd)]
pub struct Percent(f64);

impl Percent {
    /// A percentage.
    ///
    /// # Errors
    /// Not finite, negative, or above 1000 %.
    pub fn new(value: f64) -> Result<Self> {
        check("percentage", value, Self::LEAST, Self::MOST, "%").map(Self)
    }

    /// A percentage written in the code, known to be in range.
    pub(crate) const fn literal(value: f64) -> Self {
        Self(value)
    }

    /// The number in front of the percent sign.
    #[must_use]
    pub fn as_percent(self) -> f64 {
        self.0
    }

    /// The percentage as a fraction of one.
    #[must_use]
    pub fn as_fraction(self) -> f64 {
        self.0 / 100.0
    }
}

/// A length of time, 0 to 504 h (three weeks): longer than any dough.
///
/// ```
/// use pointage::units::Hours;
/// assert_eq!("1h30".parse::<Hours>().unwrap().as_hours(), 1.5);
/// assert!("12".parse::<Hours>().unwrap_err().to_string().contains("12h"));
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd)]
pub struct Hours(f64);

impl Hours {
    /// A length of time in hours.
    ///
    /// # Errors
    /// Not finite, negative, or longer than three weeks.
    pub fn new(value: f64) -> Result<Self> {
        check("time", value, Self::LEAST, Self::MOST, "h").map(Self)
    }

    /// The time in hours.
    #[must_use]
    pub fn as_hours(self) -> f64 {
        self.0
    }
}

/// A time of day to the minute, 00:00 to 23:59.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct ClockTime {
    minutes: u16,
}

impl ClockTime {
    /// A time of day from its hour (0 to 23) and minute (0 to 59).
    ///
    /// # Errors
    /// Hour or minute out of range.
    pub fn new(hour: u16, minute: u16) -> Result<Self> {
        check("hour", f64::from(hour), 0.0, 23.0, "h")?;
        check("minute", f64::from(minute), 0.0, 59.0, "min")?;
        Ok(Self {
            minutes: hour * 60 + minute,
        })
    }

    /// Minutes since midnight.
    #[must_use]
    pub fn as_minutes(self) -> u16 {
        self.minutes
    }

    /// Hours since midnight.
    #[must_use]
    pub fn as_hours(self) -> f64 {
        f64::from(self.minutes) / 60.0
    }
}

impl FromStr for ClockTime {
    type Err = Error;
    /// Reads `07:30` or `7:30`.
    fn from_str(text: &str) -> Result<Self> {
        let refuse = || Error::text("time of day", text, "hours and minutes such as 07:30");
        let (hour, minute) = text.trim().split_once(':').ok_or_else(refuse)?;
        let digits = |s: &str, most: usize| {
            !s.is_empty() && s.len() <= most && s.bytes().all(|b| b.is_ascii_digit())
        };
        if !digits(hour, 2) || !digits(minute, 2) || minute.len() != 2 {
            return Err(refuse());
        }
        let hour = hour.parse().map_err(|_| refuse())?;
        let minute = minute.parse().map_err(|_| refuse())?;
        Self::new(hour, minute).map_err(|_| refuse())
    }
}

impl std::fmt::Display for ClockTime {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:02}:{:02}", self.minutes / 60, self.minutes % 60)
    }
}

/// Longest time that is accepted, in hours (three weeks): longer than any dough.
pub(crate) const MAX_HOURS: f64 = 504.0;

/// A length of time from hours, 0 to 504 h.
pub(crate) fn hours(value: f64) -> Result<Duration> {
    Hours::new(value).map(Duration::from)
}

/// The hours of a length of time.
pub(crate) fn as_hours(time: Duration) -> f64 {
    time.as_secs_f64() / 3600.0
}

impl From<Hours> for Duration {
    fn from(time: Hours) -> Self {
        Self::from_secs_f64(time.0 * 3600.0)
    }
}

impl FromStr for Hours {
    type Err = Error;
    /// Reads `12h`, `90min`, `1h30`, `1h30min`, `1.5h` or `45s`. The unit is required.
    fn from_str(text: &str) -> Result<Self> {
        let expected = "it with its unit, such as 12h, 90min or 1h30";
        let refuse = || Error::text("length of time", text, expected);
        let (number, rest) = split_number(text.trim()).ok_or_else(refuse)?;
        let value = match rest.trim_start() {
            "h" => number,
            "min" => number / 60.0,
            "s" => number / 3600.0,
            tail => {
                // `1h30` or `1h30min`: whole hours, then minutes below 60.
                let minutes = tail.strip_prefix('h').ok_or_else(refuse)?.trim();
                let minutes = minutes.strip_suffix("min").unwrap_or(minutes).trim_end();
                let plain =
                    (1..=2).contains(&minutes.len()) && minutes.bytes().all(|b| b.is_ascii_digit());
                let minutes = minutes.parse::<f64>().ok().filter(|m| plain && *m < 60.0);
                let whole = number.fract() == 0.0;
                number + minutes.filter(|_| whole).ok_or_else(refuse)? / 60.0
            }
        };
        Self::new(value)
    }
}

/// A number as it stands in JSON or TOML, or a text.
#[derive(serde::Deserialize)]
#[serde(untagged)]
enum NumberOrText {
    Number(f64),
    Text(String),
}

/// The range of a quantity. Serialises it as a number in its base unit, and reads it from such a number or from a text
/// that carries its unit.
macro_rules! quantity {
    ($name:ident, $from:ident, $as:ident, $least:expr, $most:expr) => {
        impl $name {
            const LEAST: f64 = $least;
            const MOST: f64 = $most;
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(
                &self,
                to: S,
            ) -> std::result::Result<S::Ok, S::Error> {
                to.serialize_f64(self.$as())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(
                from: D,
            ) -> std::result::Result<Self, D::Error> {
                match NumberOrText::deserialize(from)? {
                    NumberOrText::Number(value) => Self::$from(value),
                    NumberOrText::Text(text) => text.parse(),
                }
                .map_err(serde::de::Error::custom)
            }
        }

        #[cfg(feature = "schema")]
        impl schemars::JsonSchema for $name {
            fn inline_schema() -> bool {
                true
            }

            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({
                    "type": ["number", "string"],
                    "minimum": Self::LEAST,
                    "maximum": Self::MOST,
                })
            }
        }
    };
    // And its units, with what a number of each is in the base unit, which is also that of a bare number.
    ($name:ident, $from:ident, $as:ident, $least:expr, $most:expr, $what:literal, $expected:literal,
     |$value:ident| { $($($unit:literal)|+ => $base:expr),+ }) => {
        quantity!($name, $from, $as, $least, $most);

        impl FromStr for $name {
            type Err = Error;
            fn from_str(text: &str) -> Result<Self> {
                let refuse = || Error::text($what, text, $expected);
                let (number, unit) = split_number(text.trim()).ok_or_else(refuse)?;
                let $value = Some(number).filter(|n| n.is_finite()).ok_or_else(refuse)?;
                Self::$from(match unit.trim() {
                    $($($unit)|+ => $base,)+
                    _ => return Err(refuse()),
                })
            }
        }
    };
}

quantity! { Temperature, celsius, as_celsius, -100.0, 150.0, "temperature", "a temperature such as 24, 24C or 75F", |t| {
    "" | "C" | "c" | "°C" | "°c" => t,
    "F" | "f" | "°F" | "°f" => (t - 32.0) * K_PER_F
} }
quantity! { TemperatureDifference, kelvin, as_kelvin, -250.0, 250.0,
"temperature difference", "a temperature difference such as 2, 2K or 20F", |k| {
    "" | "K" | "k" | "C" | "c" | "°C" => k,
    "F" | "f" | "°F" => k * K_PER_F
} }
quantity! { Mass, grams, as_grams, 0.0, 1e8, "mass", "a mass such as 500g, 1.2kg, 3lb or 8oz", |m| {
    "" | "g" => m,
    "kg" => m * 1e3,
    "lb" => m * G_PER_LB,
    "oz" => m * G_PER_OZ
} }
quantity! { Percent, new, as_percent, 0.0, 1000.0, "percentage", "a percentage such as 0.5%", |p| {
    "" | "%" => p
} }
quantity!(Hours, new, as_hours, 0.0, MAX_HOURS);

/// A leading decimal number (sign, digits, one point) and what follows it. A comma is no decimal
/// point here, and words like `nan` and `inf` are no numbers.
fn split_number(text: &str) -> Option<(f64, &str)> {
    let is_part = |i, c: char| c.is_ascii_digit() || c == '.' || (i == 0 && "+-".contains(c));
    let end = text.char_indices().find(|&(i, c)| !is_part(i, c));
    let (number, rest) = text.split_at(end.map_or(text.len(), |(i, _)| i));
    Some((number.parse().ok()?, rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_and_differences_convert_differently() {
        let reading: Temperature = "75F".parse().unwrap();
        assert!((reading.as_celsius() - 23.888_888_888_9).abs() < 1e-9);
        let difference: TemperatureDifference = "75F".parse().unwrap();
        assert!((difference.as_kelvin() - 41.666_666_666_7).abs() < 1e-9);
    }

    #[test]
    fn masses_read_in_four_units() {
        for (text, grams) in [
            ("500", 500.0),
            ("500 g", 500.0),
            ("1.2kg", 1200.0),
            ("3lb", 1_360.777_11),
            ("8oz", 226.796_185),
        ] {
            assert!(
                (text.parse::<Mass>().unwrap().as_grams() - grams).abs() < 1e-9,
                "{text}"
            );
        }
    }

    #[test]
    fn times_need_a_unit() {
        for (text, h) in [
            ("12h", 12.0),
            ("90min", 1.5),
            ("1h30", 1.5),
            ("1h05min", 1.0 + 5.0 / 60.0),
            ("1.5 h", 1.5),
            ("36s", 0.01),
        ] {
            assert!(
                (text.parse::<Hours>().unwrap().as_hours() - h).abs() < 1e-9,
                "{text}"
            );
        }
        for bad in [
            "12", "", "h", "1h60", "1.5h30", "-2h", "nanh", "1e3h", "1h3m", "600h", "1h-5",
        ] {
            assert!(bad.parse::<Hours>().is_err(), "{bad}");
        }
    }

    #[test]
    fn clock_times_read_and_print() {
        assert_eq!("7:05".parse::<ClockTime>().unwrap().to_string(), "07:05");
        for bad in ["24:00", "7", "7:5", "07:60", "-1:00", "007:00", "a:b"] {
            assert!(bad.parse::<ClockTime>().is_err(), "{bad}");
        }
    }

    #[test]
    fn nonsense_is_refused() {
        for bad in ["", "nan", "inf", "24,5", "24X", "--3", "1e9", "300"] {
            assert!(bad.parse::<Temperature>().is_err(), "{bad}");
        }
        for bad in ["-5g", "5stone", "nan"] {
            assert!(bad.parse::<Mass>().is_err(), "{bad}");
        }
    }

    #[test]
    fn a_sign_may_come_first() {
        for (text, c) in [("+5", 5.0), ("-5C", -5.0), ("+41F", 5.0)] {
            let read: Temperature = text.parse().unwrap();
            assert!((read.as_celsius() - c).abs() < 1e-12, "{text}");
        }
        assert!("2-3".parse::<Temperature>().is_err());
    }
}
