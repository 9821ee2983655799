//! How much yeast, so that it is ripe in time?

use super::stage::{Question, Setting, Until, dose_text};
use super::{ParameterOverrides, celsius, required, yeast_kind};
use pointage::ambient::TemperatureProfile;
use pointage::error::{Error, Result, check};
use pointage::ferment::{
    EndPoint, LONGEST_H, Parameters, Perturbations, Stage, end_point_from_recipe,
};
use pointage::ferment::{Inoculum, Kind};
use pointage::formula::yeast_slurry::weigh_in_water;
use pointage::formula::{YeastFactors, YeastKind};
use pointage::units::{Mass, Temperature};
use serde::{Deserialize, Serialize};

/// A stage and the time it shall take.
///
/// The temperature is either `at_c`, held, or `mixed_at_c` in a room (`room_c` or `room_course`) that
/// the dough drifts towards while its own fermentation warms it. With `from_dose_percent`,
/// `from_time_h` and `from_at_c` the end point is that of a recipe that works in the baker's own
/// kitchen; without, the published one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct DoseRequest {
    /// What it is.
    pub kind: Kind,
    /// Time from the mix until it shall be ripe.
    pub for_h: f64,
    /// Dough held at this temperature.
    pub at_c: Option<f64>,
    /// Dough at the end of its mix, then drifting; with a record, its first temperature when left out.
    pub mixed_at_c: Option<f64>,
    /// Room that stays at one temperature.
    pub room_c: Option<f64>,
    /// Room as pairs of hours since the mix and °C, straight lines between them.
    pub room_course: Option<Vec<[f64; 2]>>,
    /// Flour of the stage, for the grams of yeast and the size of a drifting dough.
    pub flour_mass_g: Option<f64>,
    /// Kind of yeast for every dose here; instant when left out.
    pub yeast: Option<YeastKind>,
    /// Water, % of the stage's own flour; the usual of its kind when left out.
    pub hydration_percent: Option<f64>,
    /// Salt, % of the stage's own flour; the usual of its kind when left out.
    pub salt_percent: Option<f64>,
    /// When it counts as done; a dough and old dough when doubled, else when ripe.
    pub until: Option<Until>,
    /// Dose of the working recipe, in the same kind of yeast.
    pub from_dose_percent: Option<f64>,
    /// Time that the working recipe takes.
    pub from_time_h: Option<f64>,
    /// Temperature at which the working recipe is held.
    pub from_at_c: Option<f64>,
    /// Smallest step of the scale; 1 g when left out.
    pub scale_step_g: Option<f64>,
    /// Own numbers: the text of a parameter file, such as `learn` writes; the shipped ones without it.
    pub params_toml: Option<String>,
}

impl DoseRequest {
    /// A stage of a kind that shall take so long; the temperature is still to be set.
    #[must_use]
    pub fn new(kind: Kind, for_h: f64) -> Self {
        Self {
            kind,
            for_h,
            at_c: None,
            mixed_at_c: None,
            room_c: None,
            room_course: None,
            flour_mass_g: None,
            yeast: None,
            hydration_percent: None,
            salt_percent: None,
            until: None,
            from_dose_percent: None,
            from_time_h: None,
            from_at_c: None,
            scale_step_g: None,
            params_toml: None,
        }
    }
}

/// The dose. Every percentage is of the stage's own flour.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct DoseAnswer {
    /// The dose, in the kind of yeast asked for.
    pub dose_percent: f64,
    /// Kind of that yeast.
    pub yeast: YeastKind,
    /// The same as fresh yeast.
    pub fresh_percent: f64,
    /// The yeast to weigh; null without a mass of flour.
    pub yeast_g: Option<f64>,
    /// How to weigh it when it is too little for the scale.
    pub weigh: Option<WeighAnswer>,
    /// Where the right dose lies four times out of five (10 to 90 %); null when it cannot be said.
    pub range_percent: Option<[f64; 2]>,
    /// What the trade's `dose x time = constant` gives: from the working recipe, or without one the
    /// dose if yeast did not multiply; null when no dose does it.
    pub proportional_percent: Option<f64>,
    /// How much more that is than the dose, % of the dose.
    pub proportional_difference_percent: Option<f64>,
    /// Why the two differ, in words.
    pub proportional_reason: Option<String>,
    /// What it is.
    pub kind: Kind,
    /// `ripe`, `doubled`, or `own-recipe` where the working recipe says when it is done.
    pub until: &'static str,
    /// Time from the mix until then.
    pub for_h: f64,
    /// Temperature of the dough then.
    pub dough_end_c: f64,
    /// What was assumed.
    pub notes: Vec<String>,
    /// Cautions in words.
    pub warnings: Vec<String>,
}

/// So much yeast in so much of the formula's own water; use so much of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct WeighAnswer {
    /// Yeast to weigh.
    pub yeast_g: f64,
    /// Water to stir it into.
    pub water_g: f64,
    /// How much of that to use.
    pub take_g: f64,
    /// Water in it, to be weighed less into the dough.
    pub water_taken_g: f64,
    /// What is thrown away.
    pub left_g: f64,
    /// The same in words.
    pub words: String,
}

/// A recipe that works: fixes the end point.
struct Recipe {
    stage: Stage,
    dose_percent: f64,
    hours: f64,
    at: Temperature,
}

impl Recipe {
    fn end(&self, p: &Parameters) -> Result<EndPoint> {
        end_point_from_recipe(
            p,
            &self.stage,
            &TemperatureProfile::held(self.at),
            self.hours,
        )
    }
}

/// The dose with which a stage is ripe in time.
///
/// # Errors
/// A value missing, contradictory or out of its range; [`Unreachable`](pointage::Error::Unreachable)
/// when no dose does it.
///
/// ```
/// use pointage::ferment::Kind;
/// use pointage_api::dose::{DoseRequest, dose};
/// let answer = dose(&DoseRequest {
///     at_c: Some(21.0),
///     flour_mass_g: Some(500.0),
///     ..DoseRequest::new(Kind::Poolish, 12.0)
/// })?;
/// assert!(answer.dose_percent < answer.fresh_percent); // instant yeast
/// assert!(answer.weigh.is_some()); // half a gram: too little for a kitchen scale
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn dose(request: &DoseRequest) -> Result<DoseAnswer> {
    dose_among(request, Perturbations::shipped()?)
}

/// The same as [`dose`] with other numbers than the shipped ones; those that the request brings along still
/// stand in their place.
///
/// # Errors
/// As [`dose`].
pub fn dose_with(request: &DoseRequest, p: &Parameters) -> Result<DoseAnswer> {
    dose_among(request, &Perturbations::new(p.clone()))
}

/// The same for whoever asks many questions and has the neighbours of the parameters at hand.
///
/// # Errors
/// As [`dose`].
pub fn dose_among(request: &DoseRequest, near: &Perturbations) -> Result<DoseAnswer> {
    let own = ParameterOverrides::of_request(request.params_toml.as_deref(), near.middle())?;
    let theirs = own.as_ref().map(ParameterOverrides::neighbourhood);
    let near = theirs.as_ref().unwrap_or(near);
    let p = near.middle();
    let mut notes = Vec::new();
    let mut warnings = Vec::new();
    let for_h = check("for_h (--for)", request.for_h, 0.05, LONGEST_H, "h")?;
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
    .setting(p, &mut notes)?;
    let yeast = yeast_kind(request.yeast, &mut notes);
    let factor = YeastFactors::shipped()?.factor(yeast);
    let recipe = recipe(request, &setting, factor)?;
    let course = setting.course()?;

    let stage_to = |end| Stage {
        end,
        ..setting.stage(0.0)
    };
    let end = match &recipe {
        Some(recipe) => recipe.end(p)?,
        None => setting.end,
    };
    let found = stage_to(end).dose_for(p, &course, for_h)?;
    let fresh_percent = found.fresh_percent;
    let range_fresh = match &recipe {
        Some(recipe) => near.range_on_own_recipe(|p, factor| {
            let end = EndPoint::Gas(p.gas_at(recipe.end(p)?) * factor);
            stage_to(end).fresh_dose_for(p, &course, for_h)
        }),
        None => near.range(end, |p| stage_to(end).fresh_dose_for(p, &course, for_h)),
    }?;
    if range_fresh.is_none() {
        warnings.push("No range: a little less gas than expected and no dose does it.".into());
    }

    let ferment = setting.stage(fresh_percent).fermentation(p)?;
    let at_end = ferment.after(&ferment.start(), &course, for_h)?;
    let dose_percent = fresh_percent * factor;
    let proportional_percent = match &recipe {
        Some(recipe) => Some(recipe.dose_percent * recipe.hours / for_h),
        None => Some(found.without_growth_percent * factor).filter(|dose| dose.is_finite()),
    };
    let proportional_difference_percent =
        proportional_percent.map(|plain| 100.0 * (plain / dose_percent - 1.0));
    let proportional_reason = proportional_percent.map(|plain| {
        let apart = 100.0 * (plain / dose_percent - 1.0);
        let apart = match apart {
            a if a.abs() < 0.5 => "the same".to_owned(),
            a if a > 0.0 => format!("{a:.0} % more"),
            a => format!("{:.0} % less", -a),
        };
        let grown = at_end.yeast() / fresh_percent;
        let grown_there = match &recipe {
            None => String::new(),
            Some(r) => r.growth(p).map_or(String::new(), |g| {
                format!(" ({g:.1}-fold in the working recipe)")
            }),
        };
        let plain = dose_text(plain);
        if apart == "the same" || grown < 1.05 {
            return format!(
                "The trade's rule, dose x time = constant, gives {plain}, {apart}: in so short a time the yeast hardly multiplies."
            );
        }
        format!(
            "The trade's rule, dose x time = constant, gives {plain}, {apart}: it leaves out that the yeast multiplies, {grown:.1}-fold here{grown_there}."
        )
    });
    if let Some(recipe) = &recipe {
        let elsewhere = setting.held_at() != Some(recipe.at);
        if elsewhere {
            notes.push(format!(
                "The trade's rule knows nothing of temperature: the working recipe is for {:.1} °C, this dough is not held there.",
                recipe.at.as_celsius()
            ));
        }
    }
    warnings.extend(setting.cautions(for_h, at_end.temperature_c(), fresh_percent)?);

    let flour_g = setting.flour.map(Mass::as_grams);
    let yeast_g = flour_g.map(|flour_g| flour_g * dose_percent / 100.0);
    let weigh = match (yeast_g, flour_g) {
        (Some(yeast_g), Some(flour_g)) => {
            weigh(request, &setting, yeast_g, flour_g, &mut warnings)?
        }
        _ => None,
    };
    notes.extend(own.as_ref().map(ParameterOverrides::note));
    Ok(DoseAnswer {
        dose_percent,
        yeast,
        fresh_percent,
        yeast_g,
        weigh,
        range_percent: range_fresh.map(|(low, high)| [low * factor, high * factor]),
        proportional_percent,
        proportional_difference_percent,
        proportional_reason,
        kind: request.kind,
        until: match recipe {
            Some(_) => "own-recipe",
            None => setting.until.name(),
        },
        for_h,
        dough_end_c: at_end.temperature_c(),
        notes,
        warnings,
    })
}

impl Recipe {
    /// How many times the yeast becomes in its time.
    fn growth(&self, p: &Parameters) -> Option<f64> {
        let ferment = self.stage.fermentation(p).ok()?;
        let course = TemperatureProfile::held(self.at);
        let end = ferment.after(&ferment.start(), &course, self.hours).ok()?;
        Some(end.yeast() / self.stage.yeast.added)
    }
}

fn recipe(request: &DoseRequest, setting: &Setting, factor: f64) -> Result<Option<Recipe>> {
    let (dose, time, at) = (
        request.from_dose_percent,
        request.from_time_h,
        request.from_at_c,
    );
    if dose.is_none() && time.is_none() && at.is_none() {
        return Ok(None);
    }
    if request.until.is_some() {
        return Err(Error::contradiction(
            "until (--until) and the working recipe (--from-dose) both say when it is done: leave one of them out",
        ));
    }
    let whole = "the working recipe, which is its dose, its time and its temperature";
    let dose_name = "from_dose_percent (--from-dose)";
    let dose_percent = required(dose, dose_name, whole)?;
    let fresh_percent = check(
        "from_dose_percent (--from-dose) as fresh yeast",
        dose_percent / factor,
        1e-4,
        20.0,
        "% of flour",
    )?;
    let time_name = "from_time_h (--from-time)";
    let hours = check(
        time_name,
        required(time, time_name, whole)?,
        0.05,
        LONGEST_H,
        "h",
    )?;
    let at_name = "from_at_c (--from-at)";
    let at = celsius(required(at, at_name, whole)?, at_name)?;
    Ok(Some(Recipe {
        stage: Stage {
            yeast: Inoculum {
                added: fresh_percent,
                carried: 0.0,
            },
            own_heat: None,
            ..setting.stage(0.0)
        },
        dose_percent,
        hours,
        at,
    }))
}

/// How to weigh a dose that is too small for the scale; a dose too small even for that is a warning.
fn weigh(
    request: &DoseRequest,
    setting: &Setting,
    yeast_g: f64,
    flour_g: f64,
    warnings: &mut Vec<String>,
) -> Result<Option<WeighAnswer>> {
    let step = super::grams(
        request.scale_step_g.unwrap_or(1.0),
        "scale_step_g (--scale-step)",
    )?;
    check(
        "scale_step_g (--scale-step)",
        step.as_grams(),
        0.001,
        1000.0,
        "g",
    )?;
    let water = Mass::grams(flour_g * setting.composition.hydration_percent / 100.0)?;
    let pinch = match weigh_in_water(Mass::grams(yeast_g)?, step, water) {
        Ok(pinch) => pinch,
        Err(error) if error.is_unreachable() => {
            warnings.push(error.to_string());
            None
        }
        Err(error) => return Err(error),
    };
    Ok(pinch.map(|pinch| WeighAnswer {
        yeast_g: pinch.yeast.as_grams(),
        water_g: pinch.water.as_grams(),
        take_g: pinch.take.as_grams(),
        water_taken_g: pinch.water_taken.as_grams(),
        left_g: pinch.left.as_grams(),
        words: pinch.to_string(),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ready::{ReadyRequest, ready};

    fn anchored_poolish(for_h: f64, at_c: f64) -> DoseRequest {
        DoseRequest {
            at_c: Some(at_c),
            yeast: Some(YeastKind::Fresh),
            from_dose_percent: Some(0.5),
            from_time_h: Some(8.0),
            from_at_c: Some(22.0),
            ..DoseRequest::new(Kind::Poolish, for_h)
        }
    }

    #[test]
    fn a_working_recipe_returns_itself() {
        for yeast in YeastKind::ALL {
            let answer = dose(&DoseRequest {
                yeast: Some(yeast),
                ..anchored_poolish(8.0, 22.0)
            })
            .unwrap();
            assert!((answer.dose_percent - 0.5).abs() < 1e-6, "{answer:?}");
            assert!(answer.proportional_difference_percent.unwrap().abs() < 1e-4);
            assert!(answer.notes.is_empty());
        }
    }

    #[test]
    fn a_longer_time_takes_less_than_the_plain_rule() {
        let answer = dose(&anchored_poolish(14.0, 22.0)).unwrap();
        let plain = answer.proportional_percent.unwrap();
        assert!((plain - 0.5 * 8.0 / 14.0).abs() < 1e-12);
        assert!(answer.dose_percent < plain);
        let [low, high] = answer.range_percent.unwrap();
        assert!(low < answer.dose_percent && answer.dose_percent < high);
        assert_eq!(answer.until, "own-recipe");
        let elsewhere = dose(&anchored_poolish(14.0, 20.0)).unwrap();
        assert!(elsewhere.notes[0].contains("knows nothing of temperature"));
    }

    #[test]
    fn dose_and_ready_undo_each_other_in_a_room() {
        let room = vec![[0.0, 21.0], [6.0, 16.0], [20.0, 18.0]];
        let answer = dose(&DoseRequest {
            mixed_at_c: Some(24.0),
            room_course: Some(room.clone()),
            flour_mass_g: Some(3000.0),
            ..DoseRequest::new(Kind::Biga, 15.0)
        })
        .unwrap();
        let back = ready(&ReadyRequest {
            mixed_at_c: Some(24.0),
            room_course: Some(room),
            flour_mass_g: Some(3000.0),
            ..ReadyRequest::new(Kind::Biga, answer.dose_percent)
        })
        .unwrap();
        assert!((back.ready_h - 15.0).abs() < 1e-6, "{}", back.ready_h);
        assert!((back.dough_end_c - answer.dough_end_c).abs() < 1e-6);
    }

    #[test]
    fn half_a_recipe_is_refused_by_name() {
        let whole = anchored_poolish(14.0, 20.0);
        let no_time = DoseRequest {
            from_time_h: None,
            ..whole.clone()
        };
        let no_dose = DoseRequest {
            from_dose_percent: None,
            ..whole.clone()
        };
        let no_place = DoseRequest {
            from_at_c: None,
            ..whole.clone()
        };
        for (request, flag) in [
            (no_time, "--from-time"),
            (no_dose, "--from-dose"),
            (no_place, "--from-at"),
        ] {
            let error = dose(&request).unwrap_err().to_string();
            assert!(error.contains(&format!("({flag}) is missing")), "{error}");
        }
        let both = DoseRequest {
            until: Some(Until::Doubled),
            ..whole
        };
        assert!(dose(&both).unwrap_err().to_string().contains("--until"));
    }

    #[test]
    fn a_dose_too_small_for_any_cup_of_its_water_is_a_warning() {
        let answer = dose(&DoseRequest {
            at_c: Some(24.0),
            flour_mass_g: Some(20.0),
            ..DoseRequest::new(Kind::Poolish, 16.0)
        })
        .unwrap();
        assert!(answer.weigh.is_none());
        assert!(answer.warnings.iter().any(|w| w.contains("finer scale")));
    }

    #[test]
    fn a_question_without_its_time_or_with_an_unknown_key_is_refused() {
        for json in [
            r#"{"kind": "poolish", "at_c": 20}"#,
            r#"{"kind": "poolish", "for_h": 12, "at": 20}"#,
            r#"{"kind": "polish", "for_h": 12, "at_c": 20}"#,
        ] {
            assert!(serde_json::from_str::<DoseRequest>(json).is_err());
        }
        let request: DoseRequest =
            serde_json::from_str(r#"{"kind": "poolish", "for_h": 12, "at_c": 20}"#).unwrap();
        assert_eq!(request.at_c, Some(20.0));
    }
}
