//! Temperature against time: the room, and a dough that follows it.
//!
//! An [`Ambient`] is the course of a room, fridge or proofer. A [`TemperatureProfile`] is the temperature of a
//! dough in it: held at one temperature, equal to the room, or lagging behind the room with a time
//! constant (Newton's law, closed form on every piece):
//!
//! ```text
//! dT/dt = (T_room(t) - T) / tau
//! ```

mod course;

pub use course::TemperatureProfile;
pub(crate) use course::{DECAY_TAU, Piece, Pieces, Wave};

use crate::error::{Error, Result, check, shown};
use crate::rows::Rows;
use crate::units::{Temperature, TemperatureDifference};

/// Coldest and warmest room, fridge or proofer, °C.
const ROOM_C: (f64, f64) = (-40.0, 60.0);
/// Longer records are thinned, knots.
const LONG_RECORD: usize = 2000;
/// By how much what is left of one may differ from it, K h.
const AREA_K_H: f64 = 0.004;
/// The longest straight line in place of knots, h, and how many it skips at the most.
const LONGEST_LINE_H: f64 = 0.25;
const MOST_SKIPPED: usize = 512;
/// What no room has in °C and many have in °F.
const LIKE_FAHRENHEIT: std::ops::RangeInclusive<f64> = 60.0..=110.0;
/// Above this mean a record in °C is no room in which yeast lives, °C (judged: proofers end at 40).
const WARMEST_MEAN_C: f64 = 45.0;
/// A temperature this close to a kink of a law is taken to be on it, K.
pub(crate) const ON_KINK_K: f64 = 1e-9;
/// Largest record that is read, bytes: a year of one-minute rows is below it.
const LARGEST_RECORD: usize = 16 << 20;

/// The temperature of a place against time in hours.
///
/// ```
/// use pointage::{ambient::Ambient, units::Temperature};
/// let night = Ambient::ramps(&[(0.0, 21.0), (8.0, 17.0)])?; // cools by 4 K in 8 h, then stays
/// assert_eq!(night.at(4.0).as_celsius(), 19.0);
/// assert_eq!(night.at(30.0).as_celsius(), 17.0);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Ambient {
    shape: Course,
}

#[derive(Debug, Clone, PartialEq)]
enum Course {
    /// Each temperature holds from its hour on; the first one also before it.
    Steps(Vec<[f64; 2]>),
    /// Straight between the knots, level before the first and after the last.
    Ramps(Vec<[f64; 2]>),
    /// `mean + amplitude cos(omega (t - peak))`.
    Daily {
        mean: f64,
        amplitude: f64,
        omega: f64,
        peak_h: f64,
    },
}

impl Ambient {
    /// A place that keeps one temperature (-40 to 60 °C).
    ///
    /// # Errors
    /// Outside that range.
    pub fn constant(temperature: Temperature) -> Result<Self> {
        Self::steps(&[(0.0, temperature.as_celsius())])
    }

    /// A place that changes at once: pairs of hour and °C, each holding from its hour on. The first
    /// also holds before its hour, the last for ever.
    ///
    /// # Errors
    /// No pair, hours that do not rise, a temperature outside -40 to 60 °C.
    pub fn steps(knots: &[(f64, f64)]) -> Result<Self> {
        checked_knots(knots).map(|k| Self {
            shape: Course::Steps(k),
        })
    }

    /// A place that changes evenly between pairs of hour and °C, level before the first and after
    /// the last.
    ///
    /// # Errors
    /// No pair, hours that do not rise, a temperature outside -40 to 60 °C.
    pub fn ramps(knots: &[(f64, f64)]) -> Result<Self> {
        checked_knots(knots).map(|k| Self {
            shape: Course::Ramps(thinned(k)),
        })
    }

    /// A place that swings like a cosine: `mean + amplitude cos(2π (t - warmest_h) / period_h)`;
    /// for day and night `period_h` is 24 and `warmest_h` the hour of the afternoon's peak.
    ///
    /// # Errors
    /// Mean ± amplitude outside -40 to 60 °C, or a period outside 0.05 to 1000 h.
    pub fn daily(
        mean: Temperature,
        amplitude: TemperatureDifference,
        period_h: f64,
        warmest_h: f64,
    ) -> Result<Self> {
        let (mean, amplitude) = (mean.as_celsius(), amplitude.as_kelvin());
        check("amplitude", amplitude, 0.0, 50.0, "K")?;
        for (which, c) in [("coldest", mean - amplitude), ("warmest", mean + amplitude)] {
            let what = format!("{which} temperature of the place");
            check(&what, c, ROOM_C.0, ROOM_C.1, "°C")?;
        }
        check("period", period_h, 0.05, 1000.0, "h")?;
        check("hour of the warmest moment", warmest_h, -1e4, 1e4, "h")?;
        let omega = std::f64::consts::TAU / period_h;
        Ok(Self {
            shape: Course::Daily {
                mean,
                amplitude,
                omega,
                peak_h: warmest_h,
            },
        })
    }

    /// Reads a record: CSV with the columns `hours` and `temperature_c`, in any order, other columns
    /// ignored; straight lines between the rows.
    ///
    /// # Errors
    /// A missing column, a cell that is no number or out of range, a row that goes back in time: each
    /// is named with its line and column. No row, or more than 16 MiB.
    ///
    /// ```
    /// use pointage::ambient::Ambient;
    /// let record = Ambient::from_csv("hours,temperature_c\n0,19.5\n6,14\n")?;
    /// assert_eq!(record.at(3.0).as_celsius(), 16.75);
    /// let error = Ambient::from_csv("hours,temperature_c\n1,19\n0.5,18\n").unwrap_err();
    /// assert_eq!(error.to_string(),
    ///     "line 3, column hours: 0.5 h comes after 1 h; the rows of a record must go forward in time");
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn from_csv(text: &str) -> Result<Self> {
        Self::from_csv_with(text, |_| {
            Err(Error::malformed(
                "a record with a timestamp column needs a calendar, which this call does not have; use a column hours",
            ))
        })
    }

    /// Like [`from_csv`](Self::from_csv), and reads a column `timestamp` in place of `hours` with the
    /// help of the caller's calendar: `hours_of` turns a timestamp into hours on the caller's clock.
    ///
    /// # Errors
    /// As for [`from_csv`](Self::from_csv), and whatever `hours_of` refuses.
    pub fn from_csv_with(text: &str, hours_of: impl Fn(&str) -> Result<f64>) -> Result<Self> {
        if text.len() > LARGEST_RECORD {
            return Err(Error::malformed(
                "the record is larger than 16 MiB; thin it out to a row a minute",
            ));
        }
        let mut rows = Rows::begin(text)?;
        let (header, format) = (rows.header.clone(), rows.format);
        let missing = |name: &str| {
            Rows::missing(
                &header,
                name,
                "the header carries the units: `hours,temperature_c`",
            )
        };
        let column = |name: &str| header.iter().position(|h| h == name);
        let (time, stamped) = match (column("hours"), column("timestamp")) {
            (Some(i), None) => (i, false),
            (None, Some(i)) => (i, true),
            (Some(_), Some(_)) => {
                return Err(Error::contradiction(
                    "line 1: give a column hours or a column timestamp, not both",
                ));
            }
            (None, None) => return Err(missing("hours")),
        };
        let (value, value_name) = match (column("temperature_c"), column("temperature_f")) {
            (Some(i), None) => (i, "temperature_c"),
            (None, Some(i)) => (i, "temperature_f"),
            (Some(_), Some(_)) => {
                return Err(Error::contradiction(
                    "line 1: give a column temperature_c or a column temperature_f, not both",
                ));
            }
            (None, None) => return Err(missing("temperature_c")),
        };
        let is_fahrenheit = value_name == "temperature_f";
        let time_name = if stamped { "timestamp" } else { "hours" };
        let mut knots: Vec<[f64; 2]> = Vec::new();
        let mut row = csv::StringRecord::new();
        while let Some(line) = rows.read(&mut row)? {
            if row.len() != header.len() {
                let (have, need) = (row.len() as u64, header.len() as u64);
                return Err(Error::cells(have, need).at(format!("line {line}")));
            }
            let place = |name: &str| format!("line {line}, column {name}");
            let number = |text: &str, name: &str| {
                let refuse = || Error::text(name, text, "a plain number such as 19.5");
                let value = format.plain(text)?.parse::<f64>().ok();
                value.filter(|v| v.is_finite()).ok_or_else(refuse)
            };
            let hours = if stamped {
                hours_of(&row[time])
            } else {
                number(&row[time], "hours")
            }
            .and_then(|h| check("time", h, -1e5, 1e5, "h"))
            .map_err(|e| e.at(place(time_name)))?;
            let celsius = |t: f64| match is_fahrenheit {
                true => (t - 32.0) / 1.8,
                false => t,
            };
            let temperature = number(&row[value], value_name)
                .and_then(|t| check("temperature", celsius(t), ROOM_C.0, ROOM_C.1, "°C"))
                .map_err(|e| match row[value].parse() {
                    Ok(t) if !is_fahrenheit && LIKE_FAHRENHEIT.contains(&t) => as_fahrenheit(t),
                    _ => e,
                })
                .map_err(|e| e.at(place(value_name)))?;
            if let Some(&[last, _]) = knots.last().filter(|k| k[0] >= hours) {
                return Err(Error::malformed(format!(
                    "{hours} h comes after {last} h; the rows of a record must go forward in time"
                ))
                .at(place(time_name)));
            }
            knots.push([hours, temperature]);
        }
        if knots.is_empty() {
            return Err(Error::malformed(
                "the record has no rows; write a header `hours,temperature_c` and at least one row such as `0,19.5`",
            ));
        }
        let mean = knots.iter().map(|k| k[1]).sum::<f64>() / knots.len() as f64;
        if !is_fahrenheit && mean > WARMEST_MEAN_C {
            return Err(as_fahrenheit(mean).at(format!("column {value_name}")));
        }
        Ok(Self {
            shape: Course::Ramps(thinned(knots)),
        })
    }

    /// The same course, later by `hours`: its hour 0 becomes hour `hours`.
    #[must_use]
    pub fn delayed(mut self, hours: f64) -> Self {
        match &mut self.shape {
            Course::Steps(knots) | Course::Ramps(knots) => {
                knots.iter_mut().for_each(|k| k[0] += hours)
            }
            Course::Daily { peak_h, .. } => *peak_h += hours,
        }
        self
    }

    /// The same course, warmer by `by` throughout.
    #[must_use]
    pub fn warmer(mut self, by: TemperatureDifference) -> Self {
        let k = by.as_kelvin();
        match &mut self.shape {
            Course::Steps(knots) | Course::Ramps(knots) => knots.iter_mut().for_each(|n| n[1] += k),
            Course::Daily { mean, .. } => *mean += k,
        }
        self
    }

    /// The temperature at an hour.
    #[must_use]
    pub fn at(&self, hours: f64) -> Temperature {
        let value = match self.pieces_from(hours).next() {
            Some(piece) => piece.at(0.0),
            None => f64::NAN,
        };
        // Every constructor keeps its temperatures inside the range of the type.
        Temperature::celsius(value).unwrap_or(Temperature::ZERO)
    }

    /// The hours covered by knots; `None` for a course without them.
    #[must_use]
    pub fn span_h(&self) -> Option<(f64, f64)> {
        match &self.shape {
            Course::Steps(k) | Course::Ramps(k) if k.len() > 1 => {
                Some((k[0][0], k[k.len() - 1][0]))
            }
            _ => None,
        }
    }

    /// Hours and °C of a course given by knots, such as a record; `None` for a daily swing.
    #[must_use]
    pub fn knots(&self) -> Option<&[[f64; 2]]> {
        match &self.shape {
            Course::Steps(k) | Course::Ramps(k) => Some(k),
            Course::Daily { .. } => None,
        }
    }

    /// The pieces of the room's own course from an hour on; the last one is endless.
    fn pieces_from(&self, hours: f64) -> Pieces<'_> {
        let next = match &self.shape {
            Course::Steps(k) | Course::Ramps(k) => k.partition_point(|k| k[0] <= hours),
            Course::Daily { .. } => 0,
        };
        Pieces {
            room: Some(self),
            next,
            hours,
            held: f64::NAN,
            lag: None,
            moves: [None; 2],
            done: false,
        }
    }

    /// The piece that begins at `hours`, of which `next` is the first knot after it.
    fn piece(&self, hours: f64, next: usize) -> Piece {
        let (knots, sloping) = match &self.shape {
            Course::Steps(knots) => (knots, false),
            Course::Ramps(knots) => (knots, true),
            Course::Daily {
                mean,
                amplitude,
                omega,
                peak_h,
            } => {
                let wave = Wave {
                    amplitude: *amplitude,
                    omega: *omega,
                    phase: omega * (hours - peak_h),
                };
                return Piece {
                    wave,
                    ..Piece::level(*mean)
                };
            }
        };
        let (before, after) = (next.checked_sub(1).map(|i| &knots[i]), knots.get(next));
        let mut piece = Piece::level(before.or(after).map_or(f64::NAN, |k| k[1]));
        if let Some(after) = after {
            piece.length_h = after[0] - hours;
            if let Some(before) = before.filter(|_| sloping) {
                piece.slope = (after[1] - before[1]) / (after[0] - before[0]);
                piece.base = before[1] + piece.slope * (hours - before[0]);
            }
        }
        piece
    }
}

fn checked_knots(knots: &[(f64, f64)]) -> Result<Vec<[f64; 2]>> {
    if knots.is_empty() {
        return Err(Error::malformed(
            "a temperature course needs at least one pair of hour and temperature",
        ));
    }
    for &(hours, temperature) in knots {
        check("hour of the course", hours, -1e5, 1e5, "h")?;
        let what = "temperature of the course";
        check(what, temperature, ROOM_C.0, ROOM_C.1, "°C")?;
    }
    if let Some(pair) = knots.windows(2).find(|p| p[1].0 <= p[0].0) {
        return Err(Error::malformed(format!(
            "the hours of a course must rise, but {} h follows {} h",
            shown(pair[1].0),
            shown(pair[0].0)
        )));
    }
    Ok(knots.iter().map(|&(h, t)| [h, t]).collect())
}

/// A long record without the knots that no answer can tell: a straight line may skip knots as long as the area between
/// the record and what is left of it, summed from the beginning, stays within [`AREA_K_H`] at every knot.
///
/// Gas and growth are integrals of a rate that changes by at most 12 % for 1 K below 40 °C, so that such an area moves
/// them as much as 0.0005 h would: less than two seconds. A dough that follows the room with a time constant is moved by
/// no more than the undamped room would move it.
fn thinned(knots: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    if knots.len() <= LONG_RECORD {
        return knots;
    }
    let mut kept = vec![knots[0]];
    let (mut at, mut area) = (0, 0.0);
    while at + 1 < knots.len() {
        let from = knots[at];
        let within = |to: usize| {
            let slope = (knots[to][1] - from[1]) / (knots[to][0] - from[0]);
            let off = |[hour, c]: [f64; 2]| c - from[1] - slope * (hour - from[0]);
            let mut stretches = knots[at..=to].windows(2);
            stretches.try_fold(area, |area, k| {
                let area: f64 = area + 0.5 * (off(k[0]) + off(k[1])) * (k[1][0] - k[0][0]);
                (area.abs() <= AREA_K_H).then_some(area)
            })
        };
        let last = knots.len().min(at + MOST_SKIPPED) - 1;
        let farther = (at + 2..=last).rev();
        let found = farther
            .filter(|&to| knots[to][0] - from[0] <= LONGEST_LINE_H)
            .find_map(|to| Some((to, within(to)?)));
        (at, area) = found.unwrap_or((at + 1, area));
        kept.push(knots[at]);
    }
    kept
}

/// A record in °C that reads like °F.
fn as_fahrenheit(value: f64) -> Error {
    let (value, c) = (shown(value), ((value - 32.0) / 1.8).round());
    Error::malformed(format!(
        "{value} °C is too hot for a room of dough; if it is {value} °F ({c} °C), name the column temperature_f"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn c(t: f64) -> Temperature {
        Temperature::celsius(t).unwrap()
    }

    #[test]
    fn steps_ramps_and_waves_give_their_values() {
        let steps = Ambient::steps(&[(0.0, 24.0), (2.0, 4.0)]).unwrap();
        assert_eq!(
            [-1.0, 0.0, 1.9, 2.0, 9.0].map(|h| steps.at(h).as_celsius()),
            [24.0, 24.0, 24.0, 4.0, 4.0]
        );
        let ramps = Ambient::ramps(&[(1.0, 20.0), (3.0, 24.0)]).unwrap();
        assert_eq!(
            [0.0, 1.0, 2.0, 3.0, 9.0].map(|h| ramps.at(h).as_celsius()),
            [20.0, 20.0, 22.0, 24.0, 24.0]
        );
        let day = Ambient::daily(
            c(21.0),
            TemperatureDifference::kelvin(3.0).unwrap(),
            24.0,
            15.0,
        )
        .unwrap();
        assert_eq!(day.at(15.0).as_celsius(), 24.0);
        assert!((day.at(3.0).as_celsius() - 18.0).abs() < 1e-12);
        assert!((day.clone().delayed(2.0).at(17.0).as_celsius() - 24.0).abs() < 1e-12);
    }

    /// A room that swings by 3 K with the noise of a thermometer, read each second for two days: a tenth of the rows is
    /// enough, and no time to an end point moves by two seconds.
    #[test]
    fn a_long_record_is_thinned_where_no_answer_can_tell() {
        let mut state = 7_u64;
        let knots = (0..172_800_u32).map(|i| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let noise = (state >> 40) as f64 / f64::from(1_u32 << 24) - 0.5;
            let hour = f64::from(i) / 3600.0;
            [hour, 21.0 + 3.0 * (hour / 4.0).sin() + 0.4 * noise]
        });
        let knots: Vec<[f64; 2]> = knots.collect();
        let left = thinned(knots.clone());
        assert!(left.len() < 17_280, "{}", left.len());
        let area = |knots: &[[f64; 2]], until: f64| -> f64 {
            let before = knots.windows(2).take_while(|k| k[1][0] <= until);
            before
                .map(|k| 0.5 * (k[0][1] + k[1][1]) * (k[1][0] - k[0][0]))
                .sum()
        };
        for knot in left.iter().step_by(97) {
            let off = area(&knots, knot[0]) - area(&left, knot[0]);
            assert!(off.abs() <= AREA_K_H + 1e-9, "{knot:?} {off}");
        }
        use crate::ferment::{EndPoint, Inoculum, Kind, Parameters, Stage};
        let stage = Stage {
            composition: Kind::Poolish.usual().unwrap(),
            yeast: Inoculum {
                added: 0.2,
                carried: 0.0,
            },
            end: EndPoint::Ripe(Kind::Poolish),
            own_heat: None,
        };
        let ready = |knots: Vec<[f64; 2]>| {
            let room = Ambient {
                shape: Course::Ramps(knots),
            };
            let course = TemperatureProfile::following(&room, 0.0, c(23.0), 1.5).unwrap();
            stage
                .ripe(&Parameters::shipped().unwrap(), &course)
                .unwrap()
                .hours()
        };
        let (whole, thin) = (ready(knots[..60_000].to_vec()), ready(left));
        assert!((whole - thin).abs() < 2.0 / 3600.0, "{whole} {thin}");
        // A zigzag that matters stays, and so does every short record.
        let zigzag: Vec<[f64; 2]> = (0..3000)
            .map(|i| [0.02 * f64::from(i), 20.0 + f64::from(i % 2)])
            .collect();
        assert!(thinned(zigzag.clone()).len() > 1000);
        assert_eq!(thinned(zigzag[..2000].to_vec()), zigzag[..2000]);
    }

    /// Newton cooling, closed forms checked against scipy's DOP853 at rtol 1e-12 by their author; the
    /// figures are those of an independent calculation, printed to ten decimals.
    #[test]
    fn newton_closed_forms() {
        let ramp = |from: f64, per_h: f64| {
            Ambient::ramps(&[(0.0, from), (20.0, from + 20.0 * per_h)]).unwrap()
        };
        let k = |x| TemperatureDifference::kelvin(x).unwrap();
        let cases: [(&str, Ambient, f64, f64, [f64; 6]); 4] = [
            (
                "cooling 26 to 4, tau 3",
                Ambient::constant(c(4.0)).unwrap(),
                26.0,
                3.0,
                [
                    22.6225979476,
                    19.7636888326,
                    15.2951766187,
                    9.7991370385,
                    5.5286359269,
                    4.4029440556,
                ],
            ),
            (
                "a room that cools by 1.5 K/h, tau 3",
                ramp(22.0, -1.5),
                26.0,
                3.0,
                [
                    25.3267591376,
                    24.6417343447,
                    23.2432914405,
                    20.3682014309,
                    14.4652582744,
                    8.4908421806,
                ],
            ),
            (
                "day and night, sine of 4 K, tau 3",
                Ambient::daily(c(21.0), k(4.0), 24.0, 6.0).unwrap(),
                25.0,
                3.0,
                [
                    24.4271735414,
                    24.0218478877,
                    23.6055120307,
                    23.7375500442,
                    24.5269586051,
                    23.0518829507,
                ],
            ),
            (
                "a fridge that cycles every half hour, tau 3",
                Ambient::daily(c(4.0), k(2.0), 0.5, 0.125).unwrap(),
                26.0,
                3.0,
                [
                    22.6144592767,
                    19.7486609255,
                    15.2693807456,
                    9.7600971226,
                    5.4793052008,
                    4.3509007014,
                ],
            ),
        ];
        for (name, room, from, tau, expected) in cases {
            let dough = TemperatureProfile::following(&room, 0.0, c(from), tau).unwrap();
            for (h, value) in [0.5, 1.0, 2.0, 4.0, 8.0, 12.0].into_iter().zip(expected) {
                assert!(
                    (dough.at(h) - value).abs() < 1e-9,
                    "{name} at {h} h: {}",
                    dough.at(h)
                );
            }
        }
        // In steps: 2 h at 24 °C, 16 h at 4 °C, 4 h at 26 °C; tau 2.5 h.
        let places = Ambient::steps(&[(0.0, 24.0), (2.0, 4.0), (18.0, 26.0)]).unwrap();
        let dough = TemperatureProfile::following(&places, 0.0, c(26.0), 2.5).unwrap();
        for (h, value) in [
            (2.0, 24.8986579282),
            (18.0, 4.0347243171),
            (22.0, 21.5652873228),
        ] {
            assert!((dough.at(h) - value).abs() < 1e-9, "{h}");
        }
    }

    #[test]
    fn records_are_read_and_refused_by_line_and_column() {
        let record =
            Ambient::from_csv("temperature_c, note, hours\n19.5,door open,0\n14.0,,6\n").unwrap();
        assert_eq!(record.at(3.0).as_celsius(), 16.75);
        assert_eq!(record.span_h(), Some((0.0, 6.0)));
        for (text, expected) in [
            ("", "line 1: no column hours"),
            (
                "hours,temperature\n0,20\n",
                "no column temperature_c (found: hours, temperature)",
            ),
            ("hours,temperature_c\n", "the record has no rows"),
            (
                "hours,temperature_c\n0,warm\n",
                "line 2, column temperature_c: cannot read temperature_c from \"warm\"",
            ),
            (
                "hours,temperature_c\n0,nan\n",
                "line 2, column temperature_c",
            ),
            (
                "hours,temperature_c\n0,300\n",
                "temperature is 300 °C, but must lie between -40 and 60 °C",
            ),
            (
                "hours,temperature_c\n0,20\n0,20\n",
                "line 3, column hours: 0 h comes after 0 h",
            ),
            (
                "hours,temperature_c\n0,20,5\n",
                "line 2: 3 cells where the header has 2",
            ),
            (
                "timestamp,temperature_c\n2026-01-01T00:00,20\n",
                "needs a calendar",
            ),
            ("hours,timestamp,temperature_c\n", "not both"),
        ] {
            let error = Ambient::from_csv(text).unwrap_err().to_string();
            assert!(error.contains(expected), "{text:?} gave {error:?}");
        }
    }

    #[test]
    fn absurd_courses_are_refused() {
        assert!(Ambient::constant(c(61.0)).is_err());
        assert!(Ambient::ramps(&[]).is_err());
        assert!(Ambient::ramps(&[(1.0, 20.0), (1.0, 21.0)]).is_err());
        assert!(Ambient::ramps(&[(f64::NAN, 20.0)]).is_err());
        let room = Ambient::constant(c(20.0)).unwrap();
        for tau in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(TemperatureProfile::following(&room, 0.0, c(25.0), tau).is_err());
        }
    }

    proptest! {
        #[test]
        fn a_dough_never_leaves_the_span_of_its_start_and_its_rooms(
            start in 0.0..40.0f64,
            temperatures in proptest::collection::vec(0.0..40.0f64, 1..6),
            tau in 0.05..20.0f64,
            hours in 0.0..30.0f64,
        ) {
            let knots: Vec<(f64, f64)> =
                temperatures.iter().enumerate().map(|(i, &t)| (3.0 * i as f64, t)).collect();
            let room = Ambient::ramps(&knots).unwrap();
            let dough = TemperatureProfile::following(&room, -1.0, c(start), tau).unwrap();
            let low = temperatures.iter().fold(start, |a, &b| a.min(b));
            let high = temperatures.iter().fold(start, |a, &b| a.max(b));
            let t = dough.at(hours);
            prop_assert!(t >= low - 1e-9 && t <= high + 1e-9);
        }

        #[test]
        fn splitting_a_stay_changes_nothing(split in 0.1..5.0f64, rest in 0.1..5.0f64, tau in 0.1..9.0f64) {
            let room = Ambient::daily(c(20.0), TemperatureDifference::kelvin(4.0).unwrap(), 24.0, 15.0).unwrap();
            let whole = TemperatureProfile::following(&room, 18.0, c(26.0), tau).unwrap();
            let middle = c(whole.at(split));
            let second = TemperatureProfile::following(&room, 18.0 + split, middle, tau).unwrap();
            prop_assert!((whole.at(split + rest) - second.at(rest)).abs() < 1e-9);
        }
    }
}
