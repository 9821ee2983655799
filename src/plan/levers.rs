//! What a baker can change so that a day fits: each lever with its reach, and the finding that names its setting.

use super::bake::{Bake, ColdStay, Joins, Room};
use super::environment::Environment;
use super::finding::Finding;
use super::search::Timeline;
use super::water;
use crate::error::Result;
use crate::formula::{MixStage, Role};
use crate::heat::dough_body::Place;
use crate::table;
use crate::units::{Percent, Temperature, as_hours, hours};
use serde::Deserialize;
use std::time::Duration;

/// Something that may be changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Lever {
    /// `"preferment"`: its dose, so that it ripens in another time, h.
    Preferment,
    /// `"yeast"`: the dose at the mix, % of all flour.
    Yeast,
    /// `"dough_c"`: the desired dough temperature, as far as tap and ice give it, °C.
    DoughC,
    /// `"warm_place"`: how warm it is where dough and pieces stand, °C.
    WarmPlace,
    /// `"retarder"`: hours in the cold, of the shaped pieces unless the bake says otherwise.
    Retarder,
    /// `"autolyse"`: its length, min.
    Autolyse,
}

/// Shortest and longest stay in the cold, h: what the bake file allows.
const RETARD_H: (f64, f64) = (0.5, 72.0);
/// The same of a preferment.
const RIPE_H: (f64, f64) = (0.5, 96.0);

/// How far a lever goes: as it is now, and where the day is shortest and longest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reach {
    pub now: f64,
    pub fast: f64,
    pub slow: f64,
}

impl Reach {
    /// Its values from the slow end to the fast one, in so many parts.
    pub fn parts(self, parts: u32) -> impl Iterator<Item = f64> {
        let at = move |n| self.slow + (self.fast - self.slow) * f64::from(n) / f64::from(parts);
        (0..=parts).map(at)
    }
}

/// How long a preferment with a stay in the cold stands out of it, h.
fn warm_h(cold: &ColdStay) -> f64 {
    as_hours(cold.after + cold.out.unwrap_or_default())
}

impl Bake {
    /// The same bake with another time for its preferment, h, for which the dose is found.
    pub(super) fn with_ripening(&self, ripe_after_h: f64) -> Result<Self> {
        let mut bake = self.clone();
        if let (Some(step), Some(own)) = (&mut bake.preferment, &mut bake.formula.preferment) {
            step.ripe_after = Some(hours(ripe_after_h)?);
            own.dose = None;
            // It is in the cold that it stands longer or shorter.
            if let Some(cold) = &mut step.cold {
                cold.time = hours((ripe_after_h - warm_h(cold)).max(RETARD_H.0))?;
            }
        }
        Ok(bake)
    }

    /// What may be changed, in this order.
    pub(super) fn may_change(&self) -> &[Lever] {
        use Lever::{DoughC, Retarder, WarmPlace, Yeast};
        let given = self.process.may_change.as_deref();
        given.unwrap_or(&[Yeast, DoughC, WarmPlace, Retarder])
    }
}

impl Lever {
    /// Every lever, the least trouble first.
    pub(super) const ALL: [Self; 6] = {
        use Lever::{Autolyse, DoughC, Preferment, Retarder, WarmPlace, Yeast};
        [Preferment, Yeast, DoughC, WarmPlace, Retarder, Autolyse]
    };

    /// How far it goes on a day that was found; `None` where the bake has no such thing.
    pub(super) fn reach(
        self,
        bake: &Bake,
        places: &Environment,
        day: &Timeline,
    ) -> Result<Option<Reach>> {
        let number = |name| table::get("day")?.number(name);
        let reach = |now: f64, fast: f64, slow: f64| Some(Reach { now, fast, slow });
        Ok(match self {
            Self::Preferment => {
                let now = day.bulk.preferment.map(|r| r.used - r.mixed);
                // Half its time, or twice: the recipe stays one that a baker knows.
                let least = RIPE_H.0 + bake.preferment_cold().map_or(0.0, warm_h);
                let ends = |now: f64| ((now / 2.0).max(least), (now * 2.0).min(RIPE_H.1));
                now.and_then(|now| reach(now, ends(now).0, ends(now).1))
            }
            Self::Yeast => {
                let now = bake.formula.yeast.map(Percent::as_percent);
                let times = number("yeast_times")?;
                let little = number("little_yeast_percent")?;
                now.and_then(|now| reach(now, (times * now).max(little), now / times))
            }
            Self::DoughC => {
                let ends = water::reachable_dough(bake, &day.bulk.water)?;
                let now = bake.process.dough.as_celsius();
                ends.and_then(|(coldest, warmest)| reach(now, warmest, coldest))
            }
            Self::WarmPlace => {
                let room = places.rooms(bake, 0.0)?.bulk;
                let now = room.at(day.bulk.bulk_start()).as_celsius();
                let (coolest, warmest) = (number("coolest_place_c")?, number("warmest_place_c")?);
                reach(now, warmest.max(now), coolest.min(now))
            }
            Self::Retarder => match &bake.cold {
                Some(cold) => reach(as_hours(cold.time), RETARD_H.0, RETARD_H.1),
                None => {
                    let shortest = number("shortest_new_retard_h")?;
                    reach(shortest, shortest, number("longest_new_retard_h")?)
                }
            },
            Self::Autolyse => {
                let now = 60.0 * as_hours(bake.process.autolyse);
                let least = match &bake.preferment {
                    Some(step) if step.joins == Joins::Autolyse => 5.0,
                    _ => 0.0,
                };
                let most = number("longest_autolyse_min")?.max(now);
                reach(now, least, most).filter(|_| now > 0.0)
            }
        })
    }

    /// The bake and its places with this lever at a value.
    pub(super) fn set(
        self,
        bake: &Bake,
        places: &Environment,
        value: f64,
    ) -> Result<(Bake, Environment)> {
        let (mut bake, mut places) = (bake.clone(), places.clone());
        match self {
            Self::Preferment => bake = bake.with_ripening(value)?,
            Self::Yeast => bake.formula.yeast = Some(Percent::new(value)?),
            Self::DoughC => bake.process.dough = Temperature::celsius(value)?,
            Self::WarmPlace => {
                let place = Some(Temperature::celsius(value)?);
                (bake.process.bulk_place, bake.process.proof_place) = (place, place);
            }
            Self::Retarder => {
                let time = hours(value)?;
                match &mut bake.cold {
                    Some(cold) => cold.time = time,
                    None => {
                        let place = bake.coldest_place()?;
                        places = places.with_cold(place)?;
                        bake.cold = Some(ColdStay {
                            time,
                            after: Duration::ZERO,
                            out: None,
                            stands_in: Place::Fridge,
                            room: Room::Constant(place),
                        });
                    }
                }
            }
            Self::Autolyse => bake.process.autolyse = hours(value / 60.0)?,
        }
        Ok((bake, places))
    }

    /// What a bake with this lever set has that the given one has not.
    pub(super) fn finding(self, given: &Bake, set: &Bake, day: &Timeline) -> Result<Finding> {
        let percent = |bake: &Bake| bake.formula.yeast.map_or(0.0, Percent::as_percent);
        Ok(match self {
            Self::Preferment => {
                let batch = &day.bulk.batch;
                let ahead = |role| batch.mass_of(role, MixStage::Preferment).as_grams();
                let dose_percent = 100.0 * ahead(Role::Yeast) / ahead(Role::Flour).max(1e-9);
                Finding::ChangePreferment {
                    dose_percent,
                    yeast_g: given.preferment_g(dose_percent),
                    cold_h: set.preferment_cold().map(|cold| as_hours(cold.time)),
                    ripe_after_h: day.bulk.preferment.map_or(0.0, |r| r.used - r.mixed),
                }
            }
            Self::Yeast => given.change_yeast(percent(set), percent(given)),
            Self::DoughC => {
                water::change_of_dough(set, &day.bulk.water, given.process.dough.as_celsius())
            }
            Self::WarmPlace => Finding::ChangePlace {
                place_c: set.process.bulk_place.map_or(0.0, Temperature::as_celsius),
                from_h: None,
            },
            Self::Retarder => Finding::ChangeCold {
                hours: set.cold.as_ref().map_or(0.0, |cold| as_hours(cold.time)),
                given_h: given.cold.as_ref().map(|cold| as_hours(cold.time)),
                place_c: set.coldest_place()?.as_celsius(),
            },
            Self::Autolyse => Finding::ChangeAutolyse {
                autolyse_min: 60.0 * as_hours(set.process.autolyse),
                given_min: 60.0 * as_hours(given.process.autolyse),
            },
        })
    }
}
