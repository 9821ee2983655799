//! When is it ripe, and how long may it be used?

use super::request::{Answerable, Numbers, request};
use super::stage::{Setting, Until};
use super::{Assumption, Model, Remark, check_field};
use pointage::error::Result;
use pointage::ferment::{Isothermal, Kind, Parameters, within_reach};
use pointage::formula::{YeastFactors, YeastKind};
use pointage::units::{Mass, Percent, Temperature};
use serde::Serialize;

request! {
    /// When a stage is ripe: its yeast and its temperature.
    ///
    /// The temperature is either `at_c`, held, or `mixed_at_c` in a room (`room_c` or `room_course`) that
    /// the dough drifts towards while its own fermentation warms it.
    ReadyRequest = "ready" {
        /// What it is: poolish, biga, sponge, old-dough or dough
        kind: Kind = "kind",
        /// Yeast, percent of the stage's own flour
        dose_percent: Percent = "dose",
        /// Kind of yeast: fresh, instant or active-dry [default: instant]
        yeast: Option<YeastKind> = "yeast",
        /// Hold the dough at this temperature
        at_c: Option<Temperature> = "at",
        /// Dough at the end of its mix; it then drifts toward the room
        mixed_at_c: Option<Temperature> = "mixed-at",
        /// Room that stays at one temperature
        room_c: Option<Temperature> = "room",
        /// Room as pairs of hours since the mix and °C, straight lines between them
        room_course: Option<Vec<[f64; 2]>> as skip,
        /// Flour of the stage; a large dough follows the room slowly [default: 1kg]
        flour_mass_g: Option<Mass> = "flour-mass",
        /// Water, percent of the stage's own flour [default: usual for its kind]
        hydration_percent: Option<Percent> = "hydration",
        /// Salt, percent of the stage's own flour [default: usual for its kind]
        salt_percent: Option<Percent> = "salt",
        /// When it counts as done: ripe or doubled [default: doubled for dough and old-dough]
        until: Option<Until> = "until",
        /// Fermentation parameters: the text of a file such as `learn` writes
        params_toml: Option<String> as skip,
    }
}

impl ReadyRequest {
    /// A stage of a kind with so much yeast; the temperature is still to be set.
    #[must_use]
    pub fn new(kind: Kind, dose_percent: Percent) -> Self {
        Self {
            kind,
            dose_percent,
            ..Self::default()
        }
    }
}

/// Hours from the mix.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct ReadyAnswer {
    /// The end point.
    pub ready_h: f64,
    /// Where it lies four times out of five (10 to 90 %); null when it cannot be said.
    pub range_h: Option<[f64; 2]>,
    /// From when to when it may be used; the end is null when it does not begin to fall.
    pub window_h: (f64, Option<f64>),
    /// Temperature of the dough at the end point.
    pub dough_end_c: f64,
    /// What it is.
    pub kind: Kind,
    /// When it counts as done.
    pub until: Until,
    /// What was assumed.
    pub notes: Vec<Remark>,
    /// Cautions.
    pub warnings: Vec<Remark>,
}

impl Answerable<ReadyAnswer> for ReadyRequest {
    const NUMBERS: Numbers<ReadyAnswer> = &[
        ("ready_h", |a| Some(a.ready_h)),
        ("range_low_h", |a| a.range_h.map(|[low, _]| low)),
        ("range_high_h", |a| a.range_h.map(|[_, high]| high)),
        ("window_open_h", |a| Some(a.window_h.0)),
        ("window_close_h", |a| a.window_h.1),
        ("dough_end_c", |a| Some(a.dough_end_c)),
    ];
    fn answer(&self, model: &Model) -> Result<ReadyAnswer> {
        ready(self, model)
    }
}

/// When a stage is ripe.
///
/// # Errors
/// A value missing, contradictory or out of its range; [`Unreachable`](pointage::Error::Unreachable)
/// when it is never ripe.
///
/// ```
/// use pointage::ferment::Kind;
/// use pointage::formula::YeastKind;
/// use pointage_api::{Model, ready::{ReadyRequest, ready}};
/// let poolish = ReadyRequest {
///     at_c: Some("21C".parse()?),
///     yeast: Some(YeastKind::Fresh),
///     ..ReadyRequest::new(Kind::Poolish, "0.3%".parse()?)
/// };
/// let answer = ready(&poolish, &Model::shipped()?)?;
/// assert!((11.0..16.0).contains(&answer.ready_h)); // overnight
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn ready(request: &ReadyRequest, model: &Model) -> Result<ReadyAnswer> {
    let model = model.of_request(request.params_toml.as_ref())?;
    let (mut notes, mut warnings) = (Vec::new(), Vec::new());
    let setting = Setting::new(request, model.parameters(), &mut notes)?;
    let yeast = super::yeast_kind(request.yeast, &mut notes);
    let fresh_percent = fresh_dose(request.dose_percent, yeast, "dose_percent")?;
    within_reach(request.kind, fresh_percent)?;
    let hours = times(&setting, fresh_percent, model.parameters())?;
    if hours.range_h.is_none() {
        warnings.push(Assumption::NoRange.into());
    }
    let (ready_h, end_c) = (hours.ready_h, hours.dough_end_c);
    setting.caution(ready_h, end_c, fresh_percent, &mut warnings)?;
    notes.extend(model.note());
    Ok(ReadyAnswer {
        ready_h: hours.ready_h,
        range_h: hours.range_h,
        window_h: hours.window_h,
        dough_end_c: hours.dough_end_c,
        kind: request.kind,
        until: setting.until,
        notes,
        warnings,
    })
}

/// A dose as fresh yeast, % of flour.
pub(super) fn fresh_dose(dose: Percent, yeast: YeastKind, field: &str) -> Result<f64> {
    let fresh = dose.as_percent() / YeastFactors::shipped()?.factor(yeast);
    check_field(
        field,
        "dose as fresh yeast",
        fresh,
        (1e-4, 20.0),
        "% of flour",
    )
}

struct Times {
    ready_h: f64,
    range_h: Option<[f64; 2]>,
    window_h: (f64, Option<f64>),
    dough_end_c: f64,
}

fn times(setting: &Setting, fresh_percent: f64, p: &Parameters) -> Result<Times> {
    let stage = setting.stage(fresh_percent);
    let course = setting.course()?;
    let range = |hours| -> Result<Option<[f64; 2]>> {
        let sure = stage.uncertainty(p, setting.kind, &course, hours, None)?;
        Ok(sure.of_hours(hours).map(Into::into))
    };
    if let Some(held) = Isothermal::new(&stage, p, &course)?
        && let Some(t) = course.held_at()
        && let gas = stage.end_gas(p, t)
        && let Some(ready_h) = held.hours_until_gas(&p.kinetics, gas)
    {
        let open = held.hours_until_gas(&p.kinetics, p.window.open * gas);
        return Ok(Times {
            ready_h,
            range_h: range(ready_h)?,
            window_h: (
                open.unwrap_or(ready_h),
                held.hours_until_gas(&p.kinetics, p.window.close * gas),
            ),
            dough_end_c: setting.held_at().map_or(f64::NAN, Temperature::as_celsius),
        });
    }
    let ready = stage.ready(p, &course)?;
    Ok(Times {
        ready_h: ready.hours,
        range_h: range(ready.hours)?,
        window_h: ready.window_h,
        dough_end_c: ready.at_end.temperature_c(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sentences::codes;
    use serde_json::{Value, json};

    fn ask(mut request: Value) -> Result<ReadyAnswer> {
        request["kind"] = "poolish".into();
        request["dose_percent"] = "0.3%".into();
        request["yeast"] = "fresh".into();
        let request = serde_json::from_value(request).unwrap();
        ready(&request, &Model::shipped().unwrap())
    }

    #[test]
    fn a_level_record_is_a_room() {
        let by_record = ask(json!({"room_course": [[0, 20], [40, 20]]})).unwrap();
        let by_room = ask(json!({"mixed_at_c": 20, "room_c": "68F"})).unwrap();
        assert!((by_record.ready_h - by_room.ready_h).abs() < 1e-9);
        assert_eq!(codes(&by_record.notes), ["mixed-at-room", "in-tub"]);
        // Its own heat warms it above the room, and so it is sooner ripe than held there.
        assert!((20.1..23.0).contains(&by_room.dough_end_c));
        let held = ask(json!({"at_c": 20})).unwrap();
        assert!(by_room.ready_h < held.ready_h && held.dough_end_c == 20.0);
    }

    #[test]
    fn a_record_that_ends_early_is_said() {
        let answer = ask(json!({"room_course": [[0, 20], [2, 19]]})).unwrap();
        assert!(codes(&answer.warnings).contains(&"record-ends".to_owned()));
    }

    #[test]
    fn the_range_holds_the_answer_inside_the_window() {
        let answer = ask(json!({"room_course": [[0, 20]]})).unwrap();
        let [low, high] = answer.range_h.unwrap();
        assert!(low < answer.ready_h && answer.ready_h < high);
        let (open, close) = answer.window_h;
        assert!(open < answer.ready_h && answer.ready_h < close.unwrap());
    }

    #[test]
    fn temperatures_that_do_not_go_together_are_refused() {
        for (request, field, says) in [
            (json!({}), "at_c", "is missing"),
            (json!({"at_c": 20, "room_c": 20}), "at_c", "and room_c both"),
            (json!({"room_c": 20}), "mixed_at_c", "is missing"),
            (json!({"mixed_at_c": 20}), "room_c", "is missing"),
            (json!({"at_c": 60}), "at_c", "must lie between"),
        ] {
            let error = ask(request).unwrap_err();
            assert_eq!(error.field().as_deref(), Some(field), "{error}");
            assert!(error.to_string().contains(says), "{error}");
        }
    }
}
