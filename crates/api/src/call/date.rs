//! The calendar of a plan without a calendar: a date and a fixed offset from UTC.
//!
//! Time zones with a summer time are for whoever asks: they know the offset that holds on their day.

use chrono::{DateTime, Datelike, FixedOffset, TimeDelta};
use pointage::error::{Error, Result};
use pointage::units::ClockTime;

/// A time of day on a date, at an offset from UTC: where the plan's clock is tied to the world's.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct FixedCalendar {
    anchor: DateTime<FixedOffset>,
    hour: f64,
}

/// First and last year that is read: Gregorian, and with room for a plan of weeks on either side.
const YEARS: std::ops::RangeInclusive<i32> = 1600..=9998;

impl FixedCalendar {
    /// Ties a time of day to a date such as `2026-11-28` and an offset such as `+01:00`.
    pub fn new(anchor: ClockTime, date: &str, utc_offset: &str) -> Result<Self> {
        let at = |utc_offset| {
            DateTime::parse_from_rfc3339(&format!("{date}T{anchor}:00{utc_offset}")).ok()
        };
        let day = at("Z").filter(|day| YEARS.contains(&day.year()));
        day.ok_or_else(|| {
            let expected = "a day of the years 1600 to 9998 such as 2026-11-28";
            Error::text("date", date, expected).of_field("date")
        })?;
        let no_offset = || {
            let expected = "it as +01:00, -03:30 or Z";
            Error::text("offset from UTC", utc_offset, expected).of_field("utc_offset")
        };
        Ok(Self {
            anchor: at(utc_offset).ok_or_else(no_offset)?,
            hour: anchor.as_hours(),
        })
    }

    /// RFC 3339 to the second, such as `2026-11-28T07:30:00+01:00`.
    pub fn rfc3339(&self, hour: f64) -> String {
        // Plans reach over weeks: whole seconds of them are exact in an f64 and in an i64.
        let since = TimeDelta::try_seconds(((hour - self.hour) * 3600.0).round() as i64);
        let at = since.and_then(|since| self.anchor.checked_add_signed(since));
        at.unwrap_or(self.anchor).to_rfc3339()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn calendar(date: &str, offset: &str) -> Result<FixedCalendar> {
        FixedCalendar::new("07:30".parse().unwrap(), date, offset)
    }

    #[test]
    fn hours_before_midnight_and_after_it_are_other_days() {
        let leap = calendar("2028-03-01", "-03:30").unwrap();
        assert_eq!(leap.rfc3339(7.5), "2028-03-01T07:30:00-03:30");
        // 2028 is a leap year.
        assert_eq!(leap.rfc3339(-1.0), "2028-02-29T23:00:00-03:30");
        assert_eq!(
            leap.rfc3339(31.0 + 1.0 / 7200.0),
            "2028-03-02T07:00:01-03:30"
        );
        let utc = calendar("2027-01-01", "Z").unwrap();
        assert_eq!(utc.rfc3339(-0.25), "2026-12-31T23:45:00+00:00");
    }

    #[test]
    fn what_is_no_date_is_refused() {
        for bad in [
            "2026-02-29",
            "1900-02-29",
            "2026-13-01",
            "2026-00-10",
            "2026-01-00",
            "2026-1-1",
            "26-01-01",
            "2026-01-01T",
            "2026/01/01",
            "0001-01-01",
            "9999-12-31",
            "+026-01-01",
            "",
            "2026-01-01-01",
        ] {
            let error = calendar(bad, "Z").unwrap_err();
            assert_eq!(error.field().as_deref(), Some("date"), "{bad}");
        }
        for bad in [
            "", "1", "01:00", "+1:00", "+26:00", "+01:60", "+01:00x", "++1:00",
        ] {
            let error = calendar("2026-01-01", bad).unwrap_err();
            assert_eq!(error.field().as_deref(), Some("utc_offset"), "{bad}");
        }
    }
}
