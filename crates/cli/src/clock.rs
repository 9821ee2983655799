//! Hours of a plan as clock times: the only place that knows date and time zone.

use super::exit::Failure;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{SignedDuration, Timestamp, ZonedDateTime};
use pointage::units::ClockTime;
use pointage_api::{Assumption, Remark};

/// The day that it is on this computer.
pub fn today() -> Date {
    ZonedDateTime::now().date()
}

/// The calendar of a plan: one hour of the plan's clock, and the moment it stands for.
pub struct Calendar {
    /// The anchor as it was asked for.
    asked: DateTime,
    moment: Timestamp,
    /// The plan's hour of the anchor.
    pub hour: f64,
    pub zone: TimeZone,
}

impl Calendar {
    /// Ties a time of day to its moment. Without a date it is the next that comes, or so many days later;
    /// without a zone, it is the computer's own.
    pub fn new(
        clock: ClockTime,
        date: Option<Date>,
        zone: Option<&str>,
        days_later: i32,
    ) -> Result<Self, Failure> {
        let zone = match zone {
            Some(name) => TimeZone::get(name).map_err(|_| {
                Failure::Input(format!(
                    "--zone: unknown time zone {name:?}; write a name of the IANA database such as Europe/Vienna"
                ))
            })?,
            None => match TimeZone::try_system() {
                Ok(zone) => zone,
                Err(_) if std::env::var_os("TZ").is_some() => {
                    let why = "TZ: unknown time zone; set it to a name of the IANA database such as Europe/Vienna, or give --zone";
                    return Err(Failure::Input(why.into()));
                }
                Err(_) => TimeZone::UTC,
            },
        };
        let minutes = clock.as_minutes();
        let time = Time::new((minutes / 60) as i8, (minutes % 60) as i8, 0, 0);
        let date = match date {
            Some(date) => Ok(date),
            None => {
                let now = ZonedDateTime::now().with_time_zone(zone.clone());
                let passed = time.as_ref().is_ok_and(|t| *t <= now.time());
                let days = days_later + i32::from(passed);
                now.date().checked_add(jiff::Span::new().days(days))
            }
        };
        let why = "--date: too near the end of the calendar; give a year from 1 to 9998";
        let outside = |_| Failure::Input(why.into());
        let asked = date.and_then(|date| Ok(date.to_datetime(time?)));
        let asked = asked.map_err(outside)?;
        // Of a repeated hour the first, and one that is left out as if the clock had not moved.
        let moment = zone.to_timestamp(asked).map_err(outside)?;
        Ok(Self {
            asked,
            moment,
            hour: clock.as_hours(),
            zone,
        })
    }

    /// True when an hour of the plan is still to come.
    pub fn is_ahead(&self, hour: f64) -> bool {
        self.at(hour).timestamp() >= Timestamp::now()
    }

    /// What to know about the clock between two hours of a plan, which was asked for a time of day.
    pub fn remarks(&self, from: f64, to: f64) -> Vec<Remark> {
        let seconds = |hour: f64| self.at(hour).offset().seconds();
        let minutes = (seconds(to) - seconds(from)) / 60;
        let changes = (minutes != 0).then_some(Assumption::ClockChanges { minutes });
        let taken = self.at(self.hour).datetime();
        let hours = |t: Time| f64::from(t.hour()) + f64::from(t.minute()) / 60.0;
        let (asked_h, taken_h) = (self.hour, hours(taken.time()));
        let anchor = if taken.time() != self.asked.time() {
            Some(Assumption::NoSuchHour { asked_h, taken_h })
        } else if taken.date() != self.asked.date() {
            let (asked, taken) = (self.asked.date().to_string(), taken.date().to_string());
            Some(Assumption::NoSuchDay { asked, taken })
        } else {
            let utc_offset = self.at(self.hour).strftime("%:z").to_string();
            let is_repeated = self.is_repeated(self.hour);
            is_repeated.then_some(Assumption::RepeatedHour {
                asked_h,
                utc_offset,
            })
        };
        let remarks = changes.into_iter().chain(anchor);
        remarks.map(Remark::from).collect()
    }

    /// True for an hour that the clock shows twice that day.
    fn is_repeated(&self, hour: f64) -> bool {
        let shown = self.at(hour).datetime();
        let offset = self.zone.to_ambiguous_timestamp(shown).offset();
        matches!(offset, AmbiguousOffset::Fold { .. })
    }

    /// The clock at an hour of the plan, to the second.
    pub fn at(&self, hour: f64) -> ZonedDateTime {
        // Plans reach over weeks: rounding to whole seconds is exact far beyond that.
        let seconds = ((hour - self.hour) * 3600.0).round() as i64;
        let moment = self.moment.checked_add(SignedDuration::from_secs(seconds));
        (moment.unwrap_or(self.moment)).to_zoned_datetime(self.zone.clone())
    }

    /// The hour of the plan at a moment.
    pub fn hour_of(&self, moment: Timestamp) -> f64 {
        self.hour + moment.duration_since(self.moment).as_secs_f64() / 3600.0
    }

    /// Of the days around, the hour of the plan at which a time of day comes nearest to an expected hour.
    pub fn hour_near(&self, clock: ClockTime, expected: f64) -> Result<f64, Failure> {
        let outside = |_| Failure::Input("the measurement's hour is outside the calendar".into());
        let minutes = clock.as_minutes();
        let time = Time::new((minutes / 60) as i8, (minutes % 60) as i8, 0, 0).map_err(outside)?;
        let middle = self.at(expected).date();
        let hour = |day: Date| Ok(self.hour_of(self.zone.to_timestamp(day.to_datetime(time))?));
        let days = [Ok(middle), middle.yesterday(), middle.tomorrow()].into_iter();
        let hours = days.map(|day| day.and_then(hour)).collect::<Result<_, _>>();
        let hours: Vec<f64> = hours.map_err(outside)?;
        let off = |hour: &f64| (hour - expected).abs();
        let nearest = hours.into_iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        Ok(nearest.unwrap_or(expected))
    }

    /// RFC 3339 with offset, to the second.
    pub fn rfc3339(&self, hour: f64) -> String {
        self.at(hour).strftime("%Y-%m-%dT%H:%M:%S%:z").to_string()
    }

    /// The clock at an hour of the plan, to the nearest minute and in some form.
    fn minute(&self, hour: f64, form: &str) -> String {
        let minute = self.at((hour * 60.0).round() / 60.0);
        minute.strftime(form).to_string()
    }

    /// A time of day in some form; one that comes twice that day has its offset beside it.
    fn time_as(&self, hour: f64, form: &str) -> String {
        let offset = self.offset(hour).map(|offset| format!(" ({offset})"));
        self.minute(hour, form) + &offset.unwrap_or_default()
    }

    /// `+01:00` of a time that comes twice that day.
    pub fn offset(&self, hour: f64) -> Option<String> {
        let is_repeated = self.is_repeated((hour * 60.0).round() / 60.0);
        is_repeated.then(|| self.minute(hour, "%:z"))
    }

    /// `07:30`, to the nearest minute.
    pub fn clock(&self, hour: f64) -> String {
        self.minute(hour, "%H:%M")
    }

    /// `07:30`, or `02:30 (+01:00)` where that comes twice.
    pub fn time(&self, hour: f64) -> String {
        self.time_as(hour, "%H:%M")
    }

    /// `07:30`, with the day in front when it is not the day of `beside`: `Sun 07:30`.
    pub fn time_beside(&self, hour: f64, beside: f64) -> String {
        let is_same = self.day(hour) == self.day(beside);
        self.time_as(hour, if is_same { "%H:%M" } else { "%a %H:%M" })
    }

    /// `Sat 28 Nov 07:30`, to the nearest minute.
    pub fn dated(&self, hour: f64) -> String {
        self.time_as(hour, "%a %-d %b %H:%M")
    }

    /// `Sat`, of the nearest minute.
    pub fn weekday(&self, hour: f64) -> String {
        self.minute(hour, "%a")
    }

    /// `Saturday 28 November`, of the nearest minute.
    pub fn day(&self, hour: f64) -> String {
        self.minute(hour, "%A %-d %B")
    }
}
