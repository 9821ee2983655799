//! When is it ripe, and how long may it be used?

use super::ParameterOverrides;
use super::stage::{Question, Setting, Until};
use pointage::error::{Result, check};
use pointage::ferment::{Isothermal, Kind, Parameters, Perturbations};
use pointage::formula::{YeastFactors, YeastKind};
use pointage::units::Temperature;
use serde::{Deserialize, Serialize};

/// A stage with its yeast and its temperature.
///
/// The temperature is either `at_c`, held, or `mixed_at_c` in a room (`room_c` or `room_course`) that
/// the dough drifts towards while its own fermentation warms it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct ReadyRequest {
    /// What it is.
    pub kind: Kind,
    /// Yeast, % of the stage's own flour.
    pub dose_percent: f64,
    /// Kind of that yeast; instant when left out.
    pub yeast: Option<YeastKind>,
    /// Dough held at this temperature.
    pub at_c: Option<f64>,
    /// Dough at the end of its mix, then drifting; with a record, its first temperature when left out.
    pub mixed_at_c: Option<f64>,
    /// Room that stays at one temperature.
    pub room_c: Option<f64>,
    /// Room as pairs of hours since the mix and °C, straight lines between them.
    pub room_course: Option<Vec<[f64; 2]>>,
    /// Flour of the stage, from which the size of a drifting dough follows; 1 kg when left out.
    pub flour_mass_g: Option<f64>,
    /// Water, % of the stage's own flour; the usual of its kind when left out.
    pub hydration_percent: Option<f64>,
    /// Salt, % of the stage's own flour; the usual of its kind when left out.
    pub salt_percent: Option<f64>,
    /// When it counts as done; a dough and old dough when doubled, else when ripe.
    pub until: Option<Until>,
    /// Own numbers: the text of a parameter file, such as `learn` writes; the shipped ones without it.
    pub params_toml: Option<String>,
}

impl ReadyRequest {
    /// A stage of a kind with so much yeast; the temperature is still to be set.
    #[must_use]
    pub fn new(kind: Kind, dose_percent: f64) -> Self {
        Self {
            kind,
            dose_percent,
            yeast: None,
            at_c: None,
            mixed_at_c: None,
            room_c: None,
            room_course: None,
            flour_mass_g: None,
            hydration_percent: None,
            salt_percent: None,
            until: None,
            params_toml: None,
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
    pub notes: Vec<String>,
    /// Cautions in words.
    pub warnings: Vec<String>,
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
/// use pointage_api::ready::{ReadyRequest, ready};
/// let answer = ready(&ReadyRequest {
///     at_c: Some(21.0),
///     yeast: Some(YeastKind::Fresh),
///     ..ReadyRequest::new(Kind::Poolish, 0.3)
/// })?;
/// assert!((11.0..16.0).contains(&answer.ready_h)); // overnight
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn ready(request: &ReadyRequest) -> Result<ReadyAnswer> {
    ready_among(request, Perturbations::shipped()?)
}

/// The same as [`ready`] with other numbers than the shipped ones; those that the request brings along still
/// stand in their place.
///
/// # Errors
/// As [`ready`].
pub fn ready_with(request: &ReadyRequest, p: &Parameters) -> Result<ReadyAnswer> {
    ready_among(request, &Perturbations::new(p.clone()))
}

/// The same for whoever asks many questions and has the neighbours of the parameters at hand.
///
/// # Errors
/// As [`ready`].
pub fn ready_among(request: &ReadyRequest, near: &Perturbations) -> Result<ReadyAnswer> {
    let own = ParameterOverrides::of_request(request.params_toml.as_deref(), near.middle())?;
    let theirs = own.as_ref().map(ParameterOverrides::neighbourhood);
    let near = theirs.as_ref().unwrap_or(near);
    let mut notes = Vec::new();
    let (setting, fresh_percent) = understood(request, near.middle(), &mut notes)?;
    let hours = reckoned(&setting, fresh_percent, near)?;
    let mut warnings = Vec::new();
    if hours.range_h.is_none() {
        warnings.push("No range: a little less gas than expected and it is never ripe.".into());
    }
    warnings.extend(setting.cautions(hours.ready_h, hours.dough_end_c, fresh_percent)?);
    notes.extend(own.as_ref().map(ParameterOverrides::note));
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

/// The numbers of a [`ReadyAnswer`] alone.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct ReadyHours {
    /// See [`ReadyAnswer::ready_h`].
    pub ready_h: f64,
    /// See [`ReadyAnswer::range_h`].
    pub range_h: Option<[f64; 2]>,
    /// See [`ReadyAnswer::window_h`].
    pub window_h: (f64, Option<f64>),
    /// See [`ReadyAnswer::dough_end_c`].
    pub dough_end_c: f64,
}

/// The numbers of an answer without its words: cautions and assumptions cost as much again.
///
/// # Errors
/// As [`ready`].
///
/// ```
/// use pointage::ferment::{Kind, Perturbations};
/// use pointage_api::ready::{ReadyRequest, ready, ready_hours};
/// let near = Perturbations::shipped()?; // made once for all questions
/// let question = ReadyRequest { at_c: Some(21.0), ..ReadyRequest::new(Kind::Poolish, 0.1) };
/// assert_eq!(ready_hours(&question, near)?.ready_h, ready(&question)?.ready_h);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn ready_hours(request: &ReadyRequest, near: &Perturbations) -> Result<ReadyHours> {
    let own = ParameterOverrides::of_request(request.params_toml.as_deref(), near.middle())?;
    let theirs = own.as_ref().map(ParameterOverrides::neighbourhood);
    let near = theirs.as_ref().unwrap_or(near);
    let (setting, fresh_percent) = understood(request, near.middle(), &mut Vec::new())?;
    reckoned(&setting, fresh_percent, near)
}

/// The stage that is asked about and its dose as fresh yeast.
fn understood(
    request: &ReadyRequest,
    p: &Parameters,
    notes: &mut Vec<String>,
) -> Result<(Setting, f64)> {
    let setting = Question {
        kind: request.kind,
        until: request.until,
        hydration_percent: request.hydration_percent,
        salt_percent: request.salt_percent,
        flour_mass_g: request.flour_mass_g,
        at_c: request.at_c,
        mixed_at_c: request.mixed_at_c,
        room_c: request.room_c,
        room_course: request.room_course.as_deref(),
    }
    .setting(p, notes)?;
    let yeast = super::yeast_kind(request.yeast, notes);
    let fresh_percent = check(
        "dose_percent (--dose) as fresh yeast",
        request.dose_percent / YeastFactors::shipped()?.factor(yeast),
        1e-4,
        20.0,
        "% of flour",
    )?;
    Ok((setting, fresh_percent))
}

fn reckoned(setting: &Setting, fresh_percent: f64, near: &Perturbations) -> Result<ReadyHours> {
    let p = near.middle();
    let stage = setting.stage(fresh_percent);
    let course = setting.course()?;
    let gas = p.gas_at(stage.end);
    if let Some(held) = Isothermal::new(&stage, p, &course)?
        && let Some(ready_h) = held.hours_until_gas(&p.kinetics, gas)
    {
        let range_h = near.range_about(ready_h, stage.end, |moved| {
            held.hours_until_gas(&moved.kinetics, moved.gas_at(stage.end))
        });
        let open = held.hours_until_gas(&p.kinetics, p.window.open * gas);
        return Ok(ReadyHours {
            ready_h,
            range_h: range_h.map(Into::into),
            window_h: (
                open.unwrap_or(ready_h),
                held.hours_until_gas(&p.kinetics, p.window.close * gas),
            ),
            dough_end_c: setting.held_at().map_or(f64::NAN, Temperature::as_celsius),
        });
    }
    let ready = stage.ready(p, &course)?;
    let range_h = near.range(stage.end, |p| stage.ripe(p, &course).map(|s| s.hours()))?;
    Ok(ReadyHours {
        ready_h: ready.hours,
        range_h: range_h.map(Into::into),
        window_h: ready.window_h,
        dough_end_c: ready.at_end.temperature_c(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drifting(room_course: Vec<[f64; 2]>) -> ReadyRequest {
        ReadyRequest {
            room_course: Some(room_course),
            yeast: Some(YeastKind::Fresh),
            ..ReadyRequest::new(Kind::Poolish, 0.3)
        }
    }

    #[test]
    fn a_level_record_is_a_room() {
        let by_record = ready(&drifting(vec![[0.0, 20.0], [40.0, 20.0]])).unwrap();
        let by_room = ready(&ReadyRequest {
            mixed_at_c: Some(20.0),
            room_c: Some(20.0),
            room_course: None,
            ..drifting(Vec::new())
        })
        .unwrap();
        assert!((by_record.ready_h - by_room.ready_h).abs() < 1e-9);
        assert!(by_record.notes[0].contains("as warm as the room, 20.0"));
        // Its own heat warms it above the room, and so it is sooner ripe than held there.
        assert!((20.1..23.0).contains(&by_room.dough_end_c));
        let held = ready(&ReadyRequest {
            at_c: Some(20.0),
            mixed_at_c: None,
            room_c: None,
            room_course: None,
            ..drifting(Vec::new())
        })
        .unwrap();
        assert!(by_room.ready_h < held.ready_h && held.dough_end_c == 20.0);
    }

    #[test]
    fn a_record_that_ends_early_is_said() {
        let answer = ready(&drifting(vec![[0.0, 20.0], [2.0, 19.0]])).unwrap();
        assert!(
            answer
                .warnings
                .iter()
                .any(|w| w.starts_with("The record of the room ends")),
            "{answer:?}"
        );
    }

    #[test]
    fn the_range_holds_the_answer_inside_the_window() {
        let answer = ready(&drifting(vec![[0.0, 20.0]])).unwrap();
        let [low, high] = answer.range_h.unwrap();
        assert!(low < answer.ready_h && answer.ready_h < high);
        let (open, close) = answer.window_h;
        assert!(open < answer.ready_h && answer.ready_h < close.unwrap());
    }

    #[test]
    fn temperatures_that_do_not_go_together_are_refused() {
        let ask = |at_c, mixed_at_c, room_c| {
            let request = ReadyRequest {
                at_c,
                mixed_at_c,
                room_c,
                ..ReadyRequest::new(Kind::Biga, 0.3)
            };
            ready(&request).unwrap_err().to_string()
        };
        for (error, says) in [
            (ask(None, None, None), "at_c (--at) is missing"),
            (ask(Some(20.0), None, Some(20.0)), "leave it out"),
            (
                ask(None, None, Some(20.0)),
                "mixed_at_c (--mixed-at) is missing",
            ),
            (ask(None, Some(20.0), None), "room_c (--room) is missing"),
        ] {
            assert!(error.contains(says), "{error}");
        }
    }
}
