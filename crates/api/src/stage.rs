//! What `dose` and `ready` ask alike: the dough, its end point and its temperature.

use super::ready::ReadyRequest;
use super::request::{FieldValue, Input, values};
use super::{Assumption, Remark, check_field};
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::error::{Error, Result};
use pointage::ferment::{
    Composition, EndPoint, Inoculum, Kind, OwnHeat, Parameters, Stage, beyond_published,
};
use pointage::heat::cautions::Limits;
use pointage::heat::dough_body::{Body, DoughProperties, Place, Shape};
use pointage::heat::properties::ThermalProperties;
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

values! { Until, "END", true, Self::Ripe, |i| i.text()?.parse(); }

/// The stage that a question describes, all but its yeast.
pub(super) struct Setting {
    kind: Kind,
    pub composition: Composition,
    pub until: Until,
    pub end: EndPoint,
    pub flour: Option<Mass>,
    own_heat: Option<OwnHeat>,
    standing: DoughPlace,
}

/// Where the dough stands.
enum DoughPlace {
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
fn dough_temperature(at: Temperature, field: &str) -> Result<Temperature> {
    check_field(field, "temperature", at.as_celsius(), (-20.0, 50.0), "°C")?;
    Ok(at)
}

/// Flour of a dough of which no mass is given, g.
const USUAL_FLOUR_G: f64 = 1000.0;

impl Setting {
    /// Reads a question but for its dose; what had to be assumed goes into `notes`.
    pub fn new(asked: &ReadyRequest, p: &Parameters, notes: &mut Vec<Remark>) -> Result<Self> {
        let usual = asked.kind.usual()?;
        let percent = |given: Option<Percent>, usual| given.map_or(usual, Percent::as_percent);
        let composition = Composition {
            hydration_percent: percent(asked.hydration_percent, usual.hydration_percent),
            salt_percent: percent(asked.salt_percent, usual.salt_percent),
            ..usual
        };
        let of_flour = "% of flour";
        let (water, salt) = (composition.hydration_percent, composition.salt_percent);
        check_field(
            "hydration_percent",
            "hydration",
            water,
            (30.0, 200.0),
            of_flour,
        )?;
        check_field("salt_percent", "salt", salt, (0.0, 8.0), of_flour)?;
        if let Some(flour) = asked.flour_mass_g {
            check_field("flour_mass_g", "flour", flour.as_grams(), (1.0, 3e6), "g")?;
        }
        let until = asked.until.unwrap_or(match asked.kind {
            Kind::Dough | Kind::OldDough => Until::Doubled,
            _ => Until::Ripe,
        });
        let mut standing = standing(asked, notes)?;
        let own_heat = match &mut standing {
            DoughPlace::Held(_) => None,
            DoughPlace::Drifting { tau_h, .. } => {
                let (time_constant_h, own_heat) =
                    in_tub(&composition, asked.flour_mass_g, p, notes)?;
                *tau_h = time_constant_h;
                Some(own_heat)
            }
        };
        Ok(Self {
            kind: asked.kind,
            composition,
            until,
            end: match until {
                Until::Ripe => EndPoint::Ripe(asked.kind),
                Until::Doubled => EndPoint::Doubled,
            },
            flour: asked.flour_mass_g,
            own_heat,
            standing,
        })
    }
}

/// Where the dough stands; the time constant is still to be found.
fn standing(asked: &ReadyRequest, notes: &mut Vec<Remark>) -> Result<DoughPlace> {
    let room = match (asked.room_c, &asked.room_course) {
        (Some(_), Some(_)) => {
            let fields = ["room_c", "room_course"];
            return Err(Error::excludes(&fields, "both give the room"));
        }
        (Some(room), None) => Some(Ambient::constant(room).map_err(|e| e.of_field("room_c"))?),
        (None, Some(course)) => Some(crate::ramps(course, "room_course")?),
        (None, None) => None,
    };
    let drifting = |room, from| DoughPlace::Drifting {
        room,
        from,
        tau_h: f64::NAN,
    };
    match (asked.at_c, asked.mixed_at_c, room) {
        (Some(at), None, None) => Ok(DoughPlace::Held(dough_temperature(at, "at_c")?)),
        (Some(_), mixed_at, _) => {
            let other = match (mixed_at, asked.room_c) {
                (Some(_), _) => "mixed_at_c",
                (None, Some(_)) => "room_c",
                (None, None) => "room_course",
            };
            let why = "both say how warm the dough is";
            Err(Error::excludes(&["at_c", other], why))
        }
        (None, Some(from), Some(room)) => {
            let from = dough_temperature(from, "mixed_at_c")?;
            Ok(drifting(room, from))
        }
        (None, None, Some(room)) if asked.room_course.is_some() => {
            let from = room.at(0.0);
            let room_c = from.as_celsius();
            notes.push(Assumption::MixedAtRoom { room_c }.into());
            Ok(drifting(room, from))
        }
        (None, None, Some(_)) => Err(Error::missing(
            "mixed_at_c",
            "with the room: the temperature of the mixed dough",
        )),
        (None, Some(_), None) => Err(Error::missing(
            "room_c",
            "with the temperature of the mixed dough",
        )),
        (None, None, None) => Err(Error::missing(
            "at_c",
            "for a dough held at one temperature, or give the mixed dough and its room for one that drifts",
        )),
    }
}

/// Time constant and own heat of a dough in a covered tub in still air.
fn in_tub(
    dough: &Composition,
    flour: Option<Mass>,
    p: &Parameters,
    notes: &mut Vec<Remark>,
) -> Result<(f64, OwnHeat)> {
    let parts = 1.0 + (dough.hydration_percent + dough.salt_percent) / 100.0;
    let flour_g = flour.map_or(USUAL_FLOUR_G, Mass::as_grams);
    let heat_capacity_kj_per_kg_k = ThermalProperties::shipped()?.dough(
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
    let time_constant_h = tub.time_constant_h(Place::StillRoom.surface_w_per_m2_k()?)?;
    let own_heat = OwnHeat::new(
        p.heat_kj_per_mol,
        p.space.molar_volume,
        0.1 * parts,
        heat_capacity_kj_per_kg_k,
    )?;
    let in_tub = Assumption::InTub {
        dough_kg: flour_g * parts / 1000.0,
        time_constant_h,
        flour_assumed: flour.is_none(),
    };
    notes.push(in_tub.into());
    Ok((time_constant_h, own_heat))
}

impl Setting {
    /// The temperature of the dough against time, before its own heat.
    pub fn course(&self) -> Result<TemperatureProfile<'_>> {
        match &self.standing {
            DoughPlace::Held(at) => Ok(TemperatureProfile::held(*at)),
            DoughPlace::Drifting { room, from, tau_h } => {
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
            DoughPlace::Held(at) => Some(*at),
            DoughPlace::Drifting { .. } => None,
        }
    }

    /// Cautions about a dough that is done after `hours` with so much fresh yeast.
    pub fn cautions(&self, hours: f64, end_c: f64, fresh_percent: f64) -> Result<Vec<Remark>> {
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
        let cautions = Limits::shipped()?.dough_cautions(Temperature::celsius(span_c.high)?);
        let beyond = beyond_published(self.kind, (span_c.low, span_c.high), Some(fresh_percent))?;
        let cautions = cautions
            .into_iter()
            .map(Remark::from)
            .chain(beyond.into_iter().map(Remark::from));
        Ok(cautions.chain(self.record_caution(hours)).collect())
    }

    /// A caution when the record of the room does not cover the time of the dough.
    fn record_caution(&self, hours: f64) -> Option<Remark> {
        let DoughPlace::Drifting { room, .. } = &self.standing else {
            return None;
        };
        let (first, last) = room.span_h()?;
        let caution = if hours > last {
            Assumption::RecordEnds {
                hours_short: hours - last,
            }
        } else if first > 0.0 {
            Assumption::RecordBegins { hours_late: first }
        } else {
            return None;
        };
        Some(caution.into())
    }
}
