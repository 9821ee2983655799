//! The calendar of a plan without a calendar: a date and a fixed offset from UTC.
//!
//! Just enough to write an hour of the plan as RFC 3339. Time zones with a summer time are for whoever
//! asks: they know the offset that holds on their day.

use pointage::error::{Error, Result};
use pointage::units::ClockTime;

/// A time of day on a date, at an offset from UTC: where the plan's clock is tied to the world's.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Calendar {
    /// Days since 1970-01-01.
    day: i64,
    anchor: ClockTime,
    /// `+01:00`
    offset: String,
}

impl Calendar {
    /// Ties a time of day to a date such as `2026-11-28` and an offset such as `+01:00`.
    pub fn new(anchor: ClockTime, date: &str, utc_offset: &str) -> Result<Self> {
        Ok(Self {
            day: day_number(date).map_err(|e| e.of_field("date"))?,
            anchor,
            offset: offset(utc_offset).map_err(|e| e.of_field("utc_offset"))?,
        })
    }

    /// RFC 3339 to the second, such as `2026-11-28T07:30:00+01:00`.
    pub fn rfc3339(&self, hour: f64) -> String {
        // Plans reach over weeks: whole seconds of them are exact in an f64 and in an i64.
        #[allow(clippy::cast_possible_truncation)]
        let since = ((hour - self.anchor.as_hours()) * 3600.0).round() as i64;
        let second = since + 60 * i64::from(self.anchor.as_minutes());
        let (year, month, day) = civil(self.day + second.div_euclid(86_400));
        let second = second.rem_euclid(86_400);
        format!(
            "{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}{}",
            second / 3600,
            second / 60 % 60,
            second % 60,
            self.offset
        )
    }
}

/// First and last year that is read: Gregorian, and with room for a plan of weeks on either side.
const YEARS: std::ops::RangeInclusive<i64> = 1600..=9998;

fn day_number(text: &str) -> Result<i64> {
    let refuse = || {
        Error::text(
            "date",
            text,
            "a day of the years 1600 to 9998 such as 2026-11-28",
        )
    };
    let [year, month, day] = numbers(text, '-', [4, 2, 2]).ok_or_else(refuse)?;
    let number = days(year, month, day);
    // A day that the calendar does not have (30 February) comes back as another one.
    if !YEARS.contains(&year) || civil(number) != (year, month, day) {
        return Err(refuse());
    }
    Ok(number)
}

fn offset(text: &str) -> Result<String> {
    let refuse = || Error::text("offset from UTC", text, "it as +01:00, -03:30 or Z");
    if text == "Z" {
        return Ok("+00:00".into());
    }
    let digits = text.strip_prefix(['+', '-']).ok_or_else(refuse)?;
    match numbers(digits, ':', [2, 2]) {
        Some([hours, minutes]) if hours < 24 && minutes < 60 => Ok(text.into()),
        _ => Err(refuse()),
    }
}

/// Numbers of fixed length between separators.
fn numbers<const N: usize>(text: &str, separator: char, digits: [usize; N]) -> Option<[i64; N]> {
    let mut parts = text.split(separator);
    let mut read = [0; N];
    for (number, digits) in read.iter_mut().zip(digits) {
        let part = parts.next()?;
        if part.len() != digits || !part.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        *number = part.parse().ok()?;
    }
    parts.next().is_none().then_some(read)
}

/// Days of 400 years, after which the Gregorian calendar repeats.
const CYCLE: i64 = 146_097;
/// From 1 March of the year 0 to 1970-01-01.
const EPOCH: i64 = 719_468;

/// Days since 1970-01-01. Years begin in March here, so that the leap day is their last.
fn days(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let (cycle, year) = (year.div_euclid(400), year.rem_euclid(400));
    let day_of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    CYCLE * cycle + 365 * year + year / 4 - year / 100 + day_of_year - EPOCH
}

/// Year, month and day of a number of days since 1970-01-01.
fn civil(days: i64) -> (i64, i64, i64) {
    let days = days + EPOCH;
    let (cycle, day) = (days.div_euclid(CYCLE), days.rem_euclid(CYCLE));
    // Leap days that have gone by are taken out; what remains are years of 365 days.
    let year = (day - day / 1460 + day / 36_524 - day / 146_096) / 365;
    let day_of_year = day - (365 * year + year / 4 - year / 100);
    let month = (5 * day_of_year + 2) / 153; // from March
    let day = day_of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    let year = year + 400 * cycle + i64::from(month <= 2);
    (year, month, day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_days_have_their_known_numbers() {
        // Unix times of well-known moments over 86 400 s: 2^31 s is 2038-01-19 03:14:08 UTC, 10^9 s is
        // 2001-09-09 01:46:40 UTC; GPS began on 1980-01-06, Unix second 315 964 800.
        for (date, number) in [
            ("1970-01-01", 0),
            ("2038-01-19", (1 << 31) / 86_400),
            ("2001-09-09", 1_000_000_000 / 86_400),
            ("1980-01-06", 315_964_800 / 86_400),
            ("1969-12-31", -1),
        ] {
            assert_eq!(day_number(date).unwrap(), number, "{date}");
        }
    }

    #[test]
    fn every_day_follows_the_one_before_by_the_rules_of_the_calendar() {
        // An independent count: the lengths of the months, leap years by their definition.
        let leap = |y: i64| y % 4 == 0 && (y % 100 != 0 || y % 400 == 0);
        let length = |y, m| match m {
            4 | 6 | 9 | 11 => 30,
            2 => 28 + i64::from(leap(y)),
            _ => 31,
        };
        let (mut year, mut month, mut day) = (1600, 1, 1);
        let mut number = days(1600, 1, 1);
        while year < 2401 {
            assert_eq!(civil(number), (year, month, day));
            assert_eq!(days(year, month, day), number);
            number += 1;
            day += 1;
            if day > length(year, month) {
                (month, day) = (month + 1, 1);
            }
            if month > 12 {
                (year, month) = (year + 1, 1);
            }
        }
    }

    #[test]
    fn hours_before_midnight_and_after_it_are_other_days() {
        let out: ClockTime = "07:30".parse().unwrap();
        let calendar = Calendar::new(out, "2028-03-01", "-03:30").unwrap();
        assert_eq!(calendar.rfc3339(7.5), "2028-03-01T07:30:00-03:30");
        // 2028 is a leap year.
        assert_eq!(calendar.rfc3339(-1.0), "2028-02-29T23:00:00-03:30");
        assert_eq!(
            calendar.rfc3339(31.0 + 1.0 / 7200.0),
            "2028-03-02T07:00:01-03:30"
        );
        let utc = Calendar::new(out, "2027-01-01", "Z").unwrap();
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
            assert!(day_number(bad).is_err(), "{bad}");
        }
        for bad in [
            "",
            "1",
            "01:00",
            "+1:00",
            "+24:00",
            "+01:60",
            "+0100",
            "z",
            "+01:00:00",
            "++1:00",
        ] {
            assert!(offset(bad).is_err(), "{bad}");
        }
    }
}
