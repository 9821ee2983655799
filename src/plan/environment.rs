//! Where the dough stands: the rooms of a bake as temperature courses on the plan's clock.

use super::bake::{Bake, ColdStay, Room};
use crate::ambient::Ambient;
use crate::error::Result;
use crate::units::{Temperature, TemperatureDifference};

/// The rooms of a bake.
#[derive(Debug, Clone, PartialEq)]
pub struct Environment {
    kitchen: DatedRoom,
    /// Where a preferment stands that is not in the kitchen.
    preferment: Option<DatedRoom>,
    /// Where it is chilled.
    preferment_cold: Option<DatedRoom>,
    cold: Option<DatedRoom>,
}

/// A room, and whether its record, which has no dates of its own, moves with the day of the bake.
type DatedRoom = (Ambient, bool);

/// A room on the plan's clock, when the bake is `day` days after the plan's day 0.
fn on_day((course, moves): &DatedRoom, day: f64) -> Ambient {
    course.clone().delayed(24.0 * day * f64::from(*moves))
}

impl Bake {
    /// The rooms of this bake. A record is fetched with `read`, by its name in the bake file; its hour
    /// 0 must be the record's first moment, or, for a record with dates, midnight of the day of the
    /// plan's anchor.
    ///
    /// # Errors
    /// Whatever `read` refuses, or a room outside -40 to 60 °C.
    pub fn places(&self, mut read: impl FnMut(&str) -> Result<Ambient>) -> Result<Environment> {
        let mut place = |room: &Room| -> Result<DatedRoom> {
            Ok(match room {
                Room::Constant(t) => (Ambient::constant(*t)?, false),
                Room::Daily {
                    mean,
                    amplitude,
                    warmest,
                } => {
                    let wave = Ambient::daily(*mean, *amplitude, 24.0, warmest.as_hours())?;
                    (wave, false)
                }
                Room::Record {
                    file,
                    from,
                    days_before,
                } => {
                    let begins = from.map(|from| from.as_hours() - 24.0 * f64::from(*days_before));
                    (read(file)?.delayed(begins.unwrap_or(0.0)), begins.is_some())
                }
            })
        };
        let kitchen = place(&self.kitchen.room)?;
        let own = self.preferment.as_ref().and_then(|p| p.room.as_ref());
        let preferment = own.map(&mut place).transpose()?;
        let mut chilled = |cold: Option<&ColdStay>| cold.map(|c| place(&c.room)).transpose();
        let preferment_cold = chilled(self.preferment_cold())?;
        let cold = chilled(self.cold.as_ref())?;
        Ok(Environment {
            kitchen,
            preferment,
            preferment_cold,
            cold,
        })
    }
}

/// The rooms on the plan's clock.
#[derive(Debug, Clone)]
pub(super) struct RoomCourses {
    pub kitchen: Ambient,
    pub preferment: Ambient,
    pub bulk: Ambient,
    pub proof: Ambient,
    pub retarder: Option<Ambient>,
    /// Where the preferment is chilled.
    pub preferment_cold: Option<Ambient>,
    /// Where the bulk or the shaped pieces are retarded.
    pub cold: Option<Ambient>,
    /// Hours between which the records hold measured values.
    pub recorded: Option<(f64, f64)>,
}

impl RoomCourses {
    /// The same rooms, all but the cold ones warmer by `k` kelvin.
    pub fn warmer(&self, k: f64) -> Result<Self> {
        let by = TemperatureDifference::kelvin(k)?;
        let warmer = |room: &Ambient| room.clone().warmer(by);
        Ok(Self {
            kitchen: warmer(&self.kitchen),
            preferment: warmer(&self.preferment),
            bulk: warmer(&self.bulk),
            proof: warmer(&self.proof),
            ..self.clone()
        })
    }
}

/// A room in which the dough is not from one hour to another, but where it is `c` °C.
fn without(room: &Ambient, c: f64, from: f64, until: f64) -> Result<Ambient> {
    /// A room that changes is taken by the quarter hour.
    const STEP_H: f64 = 0.25;
    const BEYOND_H: f64 = 96.0;
    let there = |hour: f64| (hour, room.at(hour + 0.5 * STEP_H).as_celsius());
    let mut knots: Vec<(f64, f64)> = match room.knots() {
        Some([[_, c]]) => vec![(from - 1.0, *c), (until, *c)],
        _ => (0..=(2.0 * BEYOND_H / STEP_H) as u32)
            .map(|i| there(from - BEYOND_H + STEP_H * f64::from(i)))
            .collect(),
    };
    knots.retain(|knot| knot.0 < from || knot.0 > until);
    knots.extend([(from, c), (until, room.at(until).as_celsius())]);
    knots.sort_by(|a, b| a.0.total_cmp(&b.0));
    Ambient::steps(&knots)
}

impl RoomCourses {
    /// The same rooms for a bulk that stands at `c` °C from one hour to another.
    pub fn with_bulk_at(mut self, c: f64, [from, until]: [f64; 2]) -> Result<Self> {
        self.bulk = without(&self.bulk, c, from, until)?;
        Ok(self)
    }

    /// The same of a proof.
    pub fn with_proof_at(mut self, c: f64, [from, until]: [f64; 2]) -> Result<Self> {
        self.proof = without(&self.proof, c, from, until)?;
        Ok(self)
    }
}

impl Environment {
    /// The same places with a cold one.
    pub(super) fn with_cold(mut self, cold: Temperature) -> Result<Self> {
        self.cold = Some((Ambient::constant(cold)?, false));
        Ok(self)
    }

    /// The same places with another kitchen.
    pub(super) fn with_kitchen(mut self, room: Temperature) -> Result<Self> {
        self.kitchen = (Ambient::constant(room)?, false);
        Ok(self)
    }

    /// The rooms when the day of the bake is `day` days after the plan's day 0.
    pub(super) fn rooms(&self, bake: &Bake, day: f64) -> Result<RoomCourses> {
        let kitchen = on_day(&self.kitchen, day);
        let preferment = on_day(self.preferment.as_ref().unwrap_or(&self.kitchen), day);
        let own = |t: Option<Temperature>| t.map_or(Ok(kitchen.clone()), Ambient::constant);
        let recorded = match (kitchen.span_h(), preferment.span_h()) {
            (Some(a), Some(b)) => Some((a.0.max(b.0), a.1.min(b.1))),
            (a, b) => a.or(b),
        };
        Ok(RoomCourses {
            bulk: own(bake.process.bulk_place)?,
            proof: own(bake.process.proof_place)?,
            retarder: bake.process.retarder.map(Ambient::constant).transpose()?,
            preferment_cold: (self.preferment_cold.as_ref()).map(|place| on_day(place, day)),
            cold: self.cold.as_ref().map(|place| on_day(place, day)),
            kitchen,
            preferment,
            recorded,
        })
    }

    /// True when the plan has to find the day of the bake for its records.
    pub(super) fn moves_with_bake(&self) -> bool {
        let others = self.preferment.iter().chain(&self.preferment_cold);
        let others = others.chain(&self.cold);
        others.chain([&self.kitchen]).any(|(_, moves)| *moves)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RoomCourses that are warmer by 2 K are so everywhere but in the cold.
    #[test]
    fn warmer_rooms_leave_the_cold_as_it_is() {
        let room = |c: f64| Ambient::constant(Temperature::celsius(c).unwrap()).unwrap();
        let rooms = RoomCourses {
            kitchen: room(20.0),
            preferment: room(18.0),
            bulk: room(24.0),
            proof: room(26.0),
            retarder: Some(room(8.0)),
            preferment_cold: Some(room(5.0)),
            cold: Some(room(4.0)),
            recorded: Some((1.0, 2.0)),
        };
        let warmer = rooms.warmer(2.0).unwrap();
        let at = |room: &Ambient| room.at(3.0).as_celsius();
        let warm = [
            &warmer.kitchen,
            &warmer.preferment,
            &warmer.bulk,
            &warmer.proof,
        ]
        .map(at);
        assert_eq!(warm, [22.0, 20.0, 26.0, 28.0]);
        let cold = [warmer.retarder, warmer.preferment_cold, warmer.cold];
        assert_eq!(cold.map(|room| at(&room.unwrap())), [8.0, 5.0, 4.0]);
        assert_eq!(warmer.recorded, rooms.recorded);
    }

    /// A record that begins at six in the morning two days before the bake has its hour 0 at 6 - 48 = -42 on the
    /// plan's clock, a day later where the bake is a day later.
    #[test]
    fn a_record_begins_so_many_days_before_the_bake() {
        let text = |days: u32| {
            format!(
                "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.3\n[kitchen]\nroom_record = \"room.csv\"\nroom_record_from = \"06:00\"\nroom_record_days_before = {days}\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n"
            )
        };
        for (days, begins) in [(0, 6.0), (1, -18.0), (2, -42.0), (3, -66.0)] {
            let bake = Bake::from_toml(&text(days)).unwrap();
            // Ten degrees at its beginning, and half a degree more each hour.
            let record = |_: &str| Ambient::ramps(&[(0.0, 10.0), (80.0, 50.0)]);
            let places = bake.places(record).unwrap();
            assert!(places.moves_with_bake());
            for day in [0.0, 1.0] {
                let kitchen = places.rooms(&bake, day).unwrap().kitchen;
                for (after, warm) in [(0.0, 10.0), (8.0, 14.0), (48.0, 34.0)] {
                    let there = kitchen.at(begins + 24.0 * day + after).as_celsius();
                    assert!((there - warm).abs() < 1e-9, "{days} {day} {after}: {there}");
                }
            }
        }
    }
}
