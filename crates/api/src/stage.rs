//! What `dose` and `ready` ask alike: the dough, its end point and its temperature.

use super::ready::ReadyRequest;
use super::request::{FieldValue, Input, values};
use super::working_recipe::WorkingRecipe;
use super::{Assumption, Remark, check_field};
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::error::{Error, Result};
use pointage::ferment::{
    Composition, EndPoint, Inoculum, Kind, OwnHeat, Parameters, Ready, Stage, State, Support,
    TimeUncertainty, beyond_published, parse_rise,
};
use pointage::heat::cautions::Limits;
use pointage::heat::dough_body::{Body, DoughProperties, Place, Shape};
use pointage::heat::properties::ThermalProperties;
use pointage::units::{Mass, Percent, Temperature};
use serde::Serialize;
use std::fmt;

/// When a stage counts as done: `ripe`, `doubled`, or a rise such as `1.7x`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(with = "String"))]
#[serde(into = "String")]
#[non_exhaustive]
pub enum Until {
    /// As its kind is.
    Ripe,
    /// Doubled, as a straight dough is.
    Doubled,
    /// Risen to so many times its volume, V/V0.
    Rise(f64),
}

impl fmt::Display for Until {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Ripe => f.write_str("ripe"),
            Self::Doubled => f.write_str("doubled"),
            Self::Rise(rise) => write!(f, "{rise}x"),
        }
    }
}

impl From<Until> for String {
    fn from(until: Until) -> Self {
        until.to_string()
    }
}

impl std::str::FromStr for Until {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        match text {
            "ripe" => Ok(Self::Ripe),
            "doubled" => Ok(Self::Doubled),
            _ => (parse_rise(text).map(Self::Rise))
                .ok_or_else(|| Error::text("end", text, "ripe, doubled, or a rise such as 1.7x")),
        }
    }
}

values! { Until, "END", true, Self::Ripe, |i| i.text()?.parse(); }

/// The stage that a question describes, all but its yeast.
pub(super) struct Setting {
    pub kind: Option<Kind>,
    pub composition: Composition,
    pub until: Until,
    pub end: EndPoint,
    pub flour: Option<Mass>,
    /// Of the dough, throughout or at its mix.
    from: Temperature,
    tub: Option<Tub>,
    /// Where it stands, when the question is not asked at its mix.
    pub state: Option<State>,
}

/// A dough that drifts toward its room and warms itself.
struct Tub {
    room: Ambient,
    time_constant_h: f64,
    own_heat: OwnHeat,
}

/// Flour of a dough of which no mass is given, g.
const USUAL_FLOUR_G: f64 = 1000.0;

impl Setting {
    /// Reads a question but for its dose; what had to be assumed goes into `notes`.
    pub fn new(asked: &ReadyRequest, p: &Parameters, notes: &mut Vec<Remark>) -> Result<Self> {
        // A dough of which no more is said is a straight one.
        let kind = asked.kind.unwrap_or(Kind::Dough);
        if matches!(kind, Kind::Bulk | Kind::Proof) {
            let why = "bulk and proof are stages of a bake; ask plan for their times";
            return Err(Error::contradiction(why).of_field("kind"));
        }
        let usual = kind.usual()?;
        let percent = |given: Option<Percent>, usual| given.map_or(usual, Percent::as_percent);
        let composition = Composition {
            hydration_percent: percent(asked.hydration_percent, usual.hydration_percent),
            salt_percent: percent(asked.salt_percent, usual.salt_percent),
            ..usual
        };
        let of_flour = "% of flour";
        let (water, salt) = (composition.hydration_percent, composition.salt_percent);
        let span = (30.0, 200.0);
        check_field("hydration_percent", "hydration", water, span, of_flour)?;
        check_field("salt_percent", "salt", salt, (0.0, 8.0), of_flour)?;
        if let Some(flour) = asked.flour_mass_g {
            check_field("flour_mass_g", "flour", flour.as_grams(), (1.0, 3e6), "g")?;
        }
        let until = asked.until.unwrap_or(match kind {
            Kind::Dough | Kind::OldDough => Until::Doubled,
            _ => Until::Ripe,
        });
        let (from, room) = standing(asked, notes)?;
        let tub = |room| in_tub(room, &composition, asked.flour_mass_g, p, notes);
        Ok(Self {
            kind: asked.kind,
            composition,
            until,
            end: match until {
                Until::Ripe => EndPoint::Ripe(kind),
                Until::Doubled => EndPoint::Doubled,
                Until::Rise(rise) => EndPoint::Rise(rise),
            },
            flour: asked.flour_mass_g,
            from,
            tub: room.map(tub).transpose()?,
            state: super::ready::state(asked)?,
        })
    }
}

/// Refuses a temperature at which yeast has died, or does nothing.
pub(super) fn within_life(field: &str, at: Temperature) -> Result<Temperature> {
    check_field(field, "temperature", at.as_celsius(), (-20.0, 50.0), "°C").map(|_| at)
}

/// How warm the dough is, throughout or at its mix, and the room that it then follows.
fn standing(
    asked: &ReadyRequest,
    notes: &mut Vec<Remark>,
) -> Result<(Temperature, Option<Ambient>)> {
    let (at, mixed_at) = (asked.at_c, asked.mixed_at_c);
    let (room, course) = (asked.room_c, asked.room_course.as_deref());
    let places = [
        ("mixed_at_c", mixed_at.is_some()),
        ("room_c", room.is_some()),
        ("room_course", course.is_some()),
    ];
    if room.is_some() && course.is_some() {
        let fields = ["room_c", "room_course"];
        return Err(Error::excludes(&fields, "both give the room"));
    }
    if let (Some(_), Some((other, _))) = (at, places.into_iter().find(|place| place.1)) {
        let why = "both say how warm the dough is";
        return Err(Error::excludes(&["at_c", other], why));
    }
    let room = match (room, course) {
        (Some(room), _) => Some(Ambient::constant(room).map_err(|e| e.of_field("room_c"))?),
        (None, Some(course)) => Some(crate::ramps(course, "room_course")?),
        (None, None) => None,
    };
    match (at, mixed_at, room) {
        (Some(at), ..) => Ok((within_life("at_c", at)?, None)),
        (_, Some(from), Some(room)) => Ok((within_life("mixed_at_c", from)?, Some(room))),
        (_, None, Some(room)) if course.is_some() => {
            let from = room.at(0.0);
            let room_c = from.as_celsius();
            notes.push(Assumption::MixedAtRoom { room_c }.into());
            Ok((from, Some(room)))
        }
        (_, None, Some(_)) => Err(Error::missing(
            "mixed_at_c",
            "with the room: the temperature of the mixed dough",
        )),
        (_, Some(_), None) => Err(Error::missing(
            "room_c",
            "with the temperature of the mixed dough",
        )),
        (None, None, None) => Err(Error::missing(
            "at_c",
            "for a dough held at one temperature, or give the mixed dough and its room for one that drifts",
        )),
    }
}

/// A dough in a covered tub in still air.
fn in_tub(
    room: Ambient,
    dough: &Composition,
    flour: Option<Mass>,
    p: &Parameters,
    notes: &mut Vec<Remark>,
) -> Result<Tub> {
    let (hydration, salt) = (dough.hydration_percent, dough.salt_percent);
    let parts = 1.0 + (hydration + salt) / 100.0;
    let dough_g = flour.map_or(USUAL_FLOUR_G, Mass::as_grams) * parts;
    let capacities = ThermalProperties::shipped()?;
    let mut properties = DoughProperties::shipped()?;
    properties.heat_capacity_kj_per_kg_k =
        capacities.dough(Percent::new(hydration)?, Percent::new(salt)?);
    let body = Body::new(Mass::grams(dough_g)?, Shape::TUB, properties)?;
    let time_constant_h = body.time_constant_h(Place::StillRoom.surface_w_per_m2_k()?)?;
    let in_tub = Assumption::InTub {
        dough_kg: dough_g / 1000.0,
        time_constant_h,
        flour_assumed: flour.is_none(),
    };
    notes.push(in_tub.into());
    let (heat, volume) = (p.heat_kj_per_mol, p.space.molar_volume);
    let capacity = properties.heat_capacity_kj_per_kg_k;
    Ok(Tub {
        room,
        time_constant_h,
        own_heat: OwnHeat::new(heat, volume, 0.1 * parts, capacity)?,
    })
}

impl Setting {
    /// The temperature of the dough against time, before its own heat.
    pub fn course(&self) -> Result<TemperatureProfile<'_>> {
        match &self.tub {
            None => Ok(TemperatureProfile::held(self.from)),
            Some(tub) => {
                let hour = self.state.map_or(0.0, |state| state.hours());
                TemperatureProfile::following(&tub.room, hour, self.from, tub.time_constant_h)
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
            own_heat: self.tub.as_ref().map(|tub| tub.own_heat),
        }
    }

    /// The temperature of a dough that is held.
    pub fn held_at(&self) -> Option<Temperature> {
        self.tub.is_none().then_some(self.from)
    }

    /// How sure the hours of a stage are, where its kind is known.
    pub fn uncertainty(
        &self,
        p: &Parameters,
        stage: &Stage,
        hours: f64,
        recipe: Option<&WorkingRecipe>,
    ) -> Result<Option<TimeUncertainty>> {
        let course = self.course()?;
        let own = recipe.map(|recipe| (recipe.stage(self), recipe.at, recipe.hours));
        let own = own.as_ref().map(|(stage, at, hours)| (stage, *at, *hours));
        let sure = |kind| stage.uncertainty(p, kind, &course, hours, own);
        self.kind.map(sure).transpose()
    }

    /// When a stage is ready, and the range of that where its kind is known.
    pub fn ready(
        &self,
        p: &Parameters,
        stage: &Stage,
        recipe: Option<&WorkingRecipe>,
    ) -> Result<(Ready, Option<[f64; 2]>)> {
        let course = self.course()?;
        let Some(kind) = self.kind else {
            return Ok((stage.ready(p, &course)?, None));
        };
        let own = recipe.map(|recipe| (recipe.stage(self), recipe.at, recipe.hours));
        let own = own.as_ref().map(|(stage, at, hours)| (stage, *at, *hours));
        let (ready, sure) = stage.ready_with_uncertainty(p, kind, &course, own)?;
        Ok((ready, sure.of_hours(ready.hours).map(Into::into)))
    }

    /// Adds cautions about a dough that is done after `hours` with so much fresh yeast.
    pub fn caution(
        &self,
        hours: f64,
        end_c: f64,
        fresh_percent: Option<f64>,
        p: &Parameters,
        warnings: &mut Vec<Remark>,
    ) -> Result<()> {
        let course = self.course()?;
        let last = self.held_at().map_or(end_c, Temperature::as_celsius);
        let hour = std::iter::successors(Some(0.0), |hour| Some(hour + 1.0));
        let hour = hour.take_while(|hour| self.tub.is_some() && *hour <= hours);
        let (low, high) = hour.fold((last, last), |(low, high), hour| {
            let c = course.at(hour);
            (low.min(c), high.max(c))
        });
        let cautions = Limits::shipped()?.dough_cautions(Temperature::celsius(high)?);
        warnings.extend(cautions.into_iter().map(Remark::from));
        if let Some(kind) = self.kind {
            let beyond = beyond_published(kind, (low, high), hours, fresh_percent)?;
            warnings.extend(beyond.into_iter().map(Remark::from));
            let support = Support::shipped()?;
            // No dough is followed whose yeast cannot multiply so often.
            let most = |fresh: &f64| 1.0 + p.kinetics.rates().growth_cap / fresh;
            let may_be_too_much =
                |fresh: &f64| !matches!(support.caution_of_growth(most(fresh)), Ok(None));
            if let Some(fresh) = fresh_percent.filter(may_be_too_much) {
                let f = self.stage(fresh).fermentation(p)?;
                let growth = f.after(&f.start(), &course, hours)?.yeast() / fresh;
                warnings.extend(support.caution_of_growth(growth)?.map(Remark::from));
            }
        }
        warnings.extend(self.record_caution(hours).map(Remark::from));
        Ok(())
    }

    /// A caution when the record of the room does not cover the time of the dough.
    fn record_caution(&self, hours: f64) -> Option<Assumption> {
        let (first, last) = self.tub.as_ref()?.room.span_h()?;
        if hours > last {
            let hours_short = hours - last;
            return Some(Assumption::RecordEnds { hours_short });
        }
        (first > 0.0).then_some(Assumption::RecordBegins { hours_late: first })
    }
}
