//! What `dose` and `ready` ask alike: the dough, its end point and its temperature.

use super::{celsius, grams};
use crate::sentences::Sentence as _;
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::error::{Error, Result, check};
use pointage::ferment::{
    Composition, EndPoint, Inoculum, Kind, OwnHeat, Parameters, Stage, beyond_published,
};
use pointage::heat::capacities::HeatCapacities;
use pointage::heat::cautions::Limits;
use pointage::heat::dough_body::{Body, DoughProperties, Place, Shape};
use pointage::table::Interval;
use pointage::units::{Mass, Percent, Temperature};
use serde::{Deserialize, Serialize};

/// When a stage counts as done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Until {
    /// As its kind is.
    Ripe,
    /// Doubled, as a straight dough is.
    Doubled,
}

impl Until {
    /// The name on the command line and in JSON.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Ripe => "ripe",
            Self::Doubled => "doubled",
        }
    }
}

impl std::str::FromStr for Until {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        match text {
            "ripe" => Ok(Self::Ripe),
            "doubled" => Ok(Self::Doubled),
            _ => Err(Error::unknown_name("end", text, ["ripe", "doubled"])),
        }
    }
}

/// The fields that both questions have.
pub(super) struct Question<'q> {
    pub kind: Kind,
    pub until: Option<Until>,
    pub hydration_percent: Option<f64>,
    pub salt_percent: Option<f64>,
    pub flour_mass_g: Option<f64>,
    pub at_c: Option<f64>,
    pub mixed_at_c: Option<f64>,
    pub room_c: Option<f64>,
    pub room_course: Option<&'q [[f64; 2]]>,
}

/// The stage that a question describes, all but its yeast.
pub(super) struct Setting {
    kind: Kind,
    pub composition: Composition,
    pub until: Until,
    pub end: EndPoint,
    pub flour: Option<Mass>,
    own_heat: Option<OwnHeat>,
    standing: Standing,
}

/// Where the dough stands.
enum Standing {
    /// Held at a temperature.
    Held(Temperature),
    /// Mixed at a temperature, then following the room.
    Drifting {
        room: Ambient,
        from: Temperature,
        tau_h: f64,
    },
}

/// The temperature of a dough: yeast has died above this range and does nothing below it.
fn dough_celsius(value: f64, name: &str) -> Result<Temperature> {
    check(name, value, -20.0, 50.0, "°C")?;
    celsius(value, name)
}

/// Flour of a dough of which no mass is given, g.
const USUAL_FLOUR_G: f64 = 1000.0;

impl Question<'_> {
    /// Reads the question; what had to be assumed goes into `notes`.
    pub fn setting(&self, p: &Parameters, notes: &mut Vec<String>) -> Result<Setting> {
        let usual = self.kind.usual()?;
        let composition = Composition {
            hydration_percent: self.hydration_percent.unwrap_or(usual.hydration_percent),
            salt_percent: self.salt_percent.unwrap_or(usual.salt_percent),
            ..usual
        };
        check(
            "hydration_percent (--hydration)",
            composition.hydration_percent,
            30.0,
            200.0,
            "% of flour",
        )?;
        check(
            "salt_percent (--salt)",
            composition.salt_percent,
            0.0,
            8.0,
            "% of flour",
        )?;
        let flour = match self.flour_mass_g {
            Some(given) => {
                let name = "flour_mass_g (--flour-mass)";
                check(name, grams(given, name)?.as_grams(), 1.0, 3e6, "g")?;
                Some(grams(given, name)?)
            }
            None => None,
        };
        let until = self.until.unwrap_or(match self.kind {
            Kind::Dough | Kind::OldDough => Until::Doubled,
            _ => Until::Ripe,
        });
        let (standing, own_heat) = self.standing(p, &composition, flour, notes)?;
        Ok(Setting {
            kind: self.kind,
            composition,
            until,
            end: match until {
                Until::Ripe => EndPoint::Ripe(self.kind),
                Until::Doubled => EndPoint::Doubled,
            },
            flour,
            own_heat,
            standing,
        })
    }

    fn standing(
        &self,
        p: &Parameters,
        dough: &Composition,
        flour: Option<Mass>,
        notes: &mut Vec<String>,
    ) -> Result<(Standing, Option<OwnHeat>)> {
        let room = match (self.room_c, self.room_course) {
            (Some(_), Some(_)) => {
                return Err(Error::contradiction(
                    "room_c (--room) and room_course (--room-record) both give the room: leave one of them out",
                ));
            }
            (Some(room_c), None) => {
                let name = "room_c (--room)";
                Some(Ambient::constant(celsius(room_c, name)?).map_err(|e| e.at(name))?)
            }
            (None, Some(course)) => {
                let knots: Vec<(f64, f64)> = course.iter().map(|&[h, c]| (h, c)).collect();
                let name = "room_course (--room-record)";
                Some(Ambient::ramps(&knots).map_err(|e| e.at(name))?)
            }
            (None, None) => None,
        };
        let (from, room) = match (self.at_c, self.mixed_at_c, room) {
            (Some(at_c), None, None) => {
                let at = dough_celsius(at_c, "at_c (--at)")?;
                return Ok((Standing::Held(at), None));
            }
            (Some(_), _, _) => {
                return Err(Error::contradiction(
                    "at_c (--at) holds the dough at one temperature: leave it out, or leave out mixed_at_c (--mixed-at), room_c (--room) and room_course (--room-record)",
                ));
            }
            (None, Some(from_c), Some(room)) => {
                (dough_celsius(from_c, "mixed_at_c (--mixed-at)")?, room)
            }
            (None, None, Some(room)) if self.room_course.is_some() => {
                let from = room.at(0.0);
                notes.push(format!(
                    "Assumed: mixed as warm as the room, {:.1} °C; otherwise give mixed_at_c (--mixed-at).",
                    from.as_celsius()
                ));
                (from, room)
            }
            (None, None, Some(_)) => {
                return Err(Error::contradiction(
                    "mixed_at_c (--mixed-at) is missing: give the temperature of the mixed dough with the room, or at_c (--at) alone for a dough held at one temperature",
                ));
            }
            (None, Some(_), None) => {
                return Err(Error::contradiction(
                    "room_c (--room) is missing: give it, or room_course (--room-record), with mixed_at_c (--mixed-at)",
                ));
            }
            (None, None, None) => {
                return Err(Error::contradiction(
                    "at_c (--at) is missing: give it for a dough held at one temperature, or mixed_at_c (--mixed-at) and room_c (--room) for one that drifts",
                ));
            }
        };
        let parts = 1.0 + (dough.hydration_percent + dough.salt_percent) / 100.0;
        let flour_g = flour.map_or(USUAL_FLOUR_G, Mass::as_grams);
        let heat_capacity_kj_per_kg_k = HeatCapacities::shipped()?.dough(
            Percent::new(dough.hydration_percent)?,
            Percent::new(dough.salt_percent)?,
        );
        let tub = Body::new(
            Mass::grams(flour_g * parts)?,
            Shape::TUB,
            DoughProperties {
                heat_capacity_kj_per_kg_k,
                ..DoughProperties::shipped()?
            },
        )?;
        let tau_h = tub.time_constant_h(Place::StillRoom.surface_w_per_m2_k()?)?;
        let own_heat = OwnHeat::new(
            p.heat_kj_per_mol,
            p.space.molar_volume,
            0.1 * parts,
            heat_capacity_kj_per_kg_k,
        )?;
        let (begins, size) = match flour {
            Some(_) => ("In", format!("{:.1} kg", flour_g * parts / 1000.0)),
            None => (
                "Assumed: 1 kg of flour, give flour_mass_g (--flour-mass) otherwise; in",
                format!("{:.1} kg", flour_g * parts / 1000.0),
            ),
        };
        notes.push(format!(
            "{begins} a covered tub, {size} of dough nears the room by two thirds in {tau_h:.1} h."
        ));
        Ok((Standing::Drifting { room, from, tau_h }, Some(own_heat)))
    }
}

impl Setting {
    /// The temperature of the dough against time, before its own heat.
    pub fn course(&self) -> Result<TemperatureProfile<'_>> {
        match &self.standing {
            Standing::Held(at) => Ok(TemperatureProfile::held(*at)),
            Standing::Drifting { room, from, tau_h } => {
                TemperatureProfile::following(room, 0.0, *from, *tau_h)
            }
        }
    }

    /// The stage with fresh yeast in % of its flour.
    pub fn stage(&self, fresh_percent: f64) -> Stage {
        Stage {
            composition: self.composition,
            yeast: Inoculum {
                added: fresh_percent,
                carried: 0.0,
            },
            end: self.end,
            own_heat: self.own_heat,
        }
    }

    /// The temperature of a dough that is held.
    pub fn held_at(&self) -> Option<Temperature> {
        match &self.standing {
            Standing::Held(at) => Some(*at),
            Standing::Drifting { .. } => None,
        }
    }

    /// Cautions about a dough that is done after `hours` with so much fresh yeast.
    pub fn cautions(&self, hours: f64, end_c: f64, fresh_percent: f64) -> Result<Vec<String>> {
        let course = self.course()?;
        let c = course.held_at().unwrap_or(end_c);
        let mut span_c = Interval { low: c, high: c };
        let mut hour = 0.0;
        while course.held_at().is_none() && hour <= hours {
            let c = course.at(hour);
            span_c = Interval {
                low: span_c.low.min(c),
                high: span_c.high.max(c),
            };
            hour += 1.0;
        }
        let warm = Limits::shipped()?.dough_cautions(Temperature::celsius(span_c.high)?);
        let span_c = (span_c.low, span_c.high);
        let beyond = beyond_published(self.kind, span_c, Some(fresh_percent))?;
        let warm = warm.iter().map(|c| c.sentence().to_string());
        let mut cautions: Vec<_> = warm.collect();
        cautions.extend(beyond.iter().map(|c| c.sentence().to_string()));
        cautions.extend(self.record_caution(hours));
        Ok(cautions)
    }

    /// A caution when the record of the room does not cover the time of the dough.
    fn record_caution(&self, hours: f64) -> Option<String> {
        let Standing::Drifting { room, .. } = &self.standing else {
            return None;
        };
        let (first, last) = room.span_h()?;
        let missing = if hours > last {
            format!("ends {:.1} h before the dough does", hours - last)
        } else if first > 0.0 {
            format!("begins {first:.1} h after the dough is mixed")
        } else {
            return None;
        };
        Some(format!(
            "The record of the room {missing}; there the room is taken to stay at its nearest reading."
        ))
    }
}

/// A dose in print: three digits that count.
pub(super) fn dose_text(percent: f64) -> String {
    let decimals = match percent {
        p if p < 0.1 => 4,
        p if p < 1.0 => 3,
        _ => 2,
    };
    format!("{percent:.decimals$} %")
}
