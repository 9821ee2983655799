//! How much yeast, so that it is ripe in time?

use super::ready::{MOST_FRESH_PERCENT, ReadyRequest};
use super::request::{Answerable, Numbers, numbers, request};
use super::stage::{Setting, Until};
use super::working_recipe::{WorkingRecipe, check_time};
use super::{Assumption, Message, Model, Remark, Sentence, check_field, yeast_kind};
use pointage::error::{Error, Result};
use pointage::ferment::{Isothermal, Kind, Parameters, Rates, Stage, Support, equivalent_hours};
use pointage::formula::yeast_slurry::weigh_in_water;
use pointage::formula::{YeastFactors, YeastKind};
use pointage::plan::bake::Bake;
use pointage::units::{Hours, Mass, Percent, Temperature};
use serde::Serialize;

request! {
    /// The dose with which a stage is ripe in time.
    ///
    /// The temperature is either `at_c`, held, or `mixed_at_c` in a room (`room_c` or `room_course`) that
    /// the dough drifts towards while its own fermentation warms it. With `from_dose_percent`,
    /// `from_time_h` and `from_at_c` the end point is that of a recipe that works in the baker's own
    /// kitchen; without, the published one. Without a kind, or with a `q10`, dose x time x rate is constant.
    DoseRequest = "dose" {
        /// What it is: poolish, biga, sponge, old-dough or dough
        kind: Option<Kind> = "kind",
        /// Time from the mix until it is ripe, such as 12h [default: that of your working recipe]
        for_h: Option<Hours> = "for",
        /// Hold the dough at this temperature
        at_c: Option<Temperature> = "at",
        /// Dough at the end of its mix; it then drifts toward the room
        mixed_at_c: Option<Temperature> = "mixed-at",
        /// Room that stays at one temperature
        room_c: Option<Temperature> = "room",
        /// Room as pairs of hours since the mix and °C, straight lines between them
        room_course: Option<Vec<[f64; 2]>> as skip,
        /// Flour of the stage, for the grams of yeast and the size of a drifting dough
        flour_mass_g: Option<Mass> = "flour-mass",
        /// Kind of yeast for every dose here: fresh, instant or active-dry [default: instant]
        yeast: Option<YeastKind> = "yeast",
        /// Water, percent of the stage's own flour [default: usual for its kind]
        hydration_percent: Option<Percent> = "hydration",
        /// Salt, percent of the stage's own flour [default: usual for its kind]
        salt_percent: Option<Percent> = "salt",
        /// When it counts as done: ripe, doubled, or a rise such as 1.7x [default: doubled for dough and old-dough]
        until: Option<Until> = "until",
        /// Dose of your working recipe, in the same kind of yeast
        from_dose_percent: Option<Percent> = "from-dose",
        /// Time that your working recipe takes
        from_time_h: Option<Hours> = "from-time",
        /// Temperature of your working recipe
        from_at_c: Option<Temperature> = "from-at",
        /// Your own factor for 10 °C warmer, such as 2.2, in place of the model
        q10: Option<f64> = "q10",
        /// Smallest step that the scale shows [default: 1g]
        scale_step_g: Option<Mass> = "scale-step",
        /// Fermentation parameters: the text of a file such as `learn` writes
        params_toml: Option<String> as skip,
    }
}

impl DoseRequest {
    /// A stage of a kind that shall take so long; the temperature is still to be set.
    #[must_use]
    pub fn new(kind: Kind, time: Hours) -> Self {
        Self {
            kind: Some(kind),
            for_h: Some(time),
            ..Self::default()
        }
    }

    /// What is not said, as the preferment of a bake is; see [`ReadyRequest::or_of_bake`].
    ///
    /// # Errors
    /// A bake without a preferment.
    pub fn or_of_bake(self, bake: &Bake) -> Result<Self> {
        let of = self.stage().or_of_bake(bake)?;
        Ok(Self {
            kind: of.kind,
            mixed_at_c: of.mixed_at_c,
            room_course: of.room_course,
            yeast: of.yeast,
            flour_mass_g: of.flour_mass_g,
            hydration_percent: of.hydration_percent,
            salt_percent: of.salt_percent,
            from_dose_percent: of.from_dose_percent,
            from_time_h: of.from_time_h,
            from_at_c: of.from_at_c,
            scale_step_g: self.scale_step_g.or(Some(bake.kitchen.scale_step)),
            ..self
        })
    }

    /// The same stage asked the other way round, without its dose.
    #[must_use]
    pub fn stage(&self) -> ReadyRequest {
        ReadyRequest {
            kind: self.kind,
            yeast: self.yeast,
            at_c: self.at_c,
            mixed_at_c: self.mixed_at_c,
            room_c: self.room_c,
            room_course: self.room_course.clone(),
            flour_mass_g: self.flour_mass_g,
            hydration_percent: self.hydration_percent,
            salt_percent: self.salt_percent,
            until: self.until,
            from_dose_percent: self.from_dose_percent,
            from_time_h: self.from_time_h,
            from_at_c: self.from_at_c,
            q10: self.q10,
            ..ReadyRequest::default()
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
    /// What the rule of thumb `dose x time = constant` gives: from the working recipe, or without one the
    /// dose if yeast did not multiply; null when no dose does it.
    pub proportional_percent: Option<f64>,
    /// How much more that is than the dose, % of the dose.
    pub proportional_difference_percent: Option<f64>,
    /// Why the two differ.
    pub proportional_reason: Option<Remark>,
    /// The factor for 10 °C warmer with which dose x time x rate is the working recipe's; null when the dough is not
    /// held, as warm as the recipe, or done after another time.
    pub equivalent_q10: Option<f64>,
    /// What it is, where that was said.
    pub kind: Option<Kind>,
    /// `ripe`, `doubled`, a rise such as `1.7x`, or `own-recipe` where the working recipe says when it is done.
    pub until: String,
    /// Time from the mix until then.
    pub for_h: f64,
    /// Temperature of the dough then.
    pub dough_end_c: f64,
    /// How far it has risen by then: its volume over that off the mix, V/V0.
    pub rise: Option<f64>,
    /// What was assumed.
    pub notes: Vec<Remark>,
    /// Cautions.
    pub warnings: Vec<Remark>,
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
    pub words: Message,
}

impl Answerable<DoseAnswer> for DoseRequest {
    const NUMBERS: Numbers<DoseAnswer> = numbers! {
        dose_percent fresh_percent yeast_g;
        [range_percent range_low_percent range_high_percent]
        proportional_percent proportional_difference_percent;
        weigh { yeast_g water_g take_g water_taken_g left_g };
        for_h dough_end_c rise equivalent_q10
    };
    fn answer(&self, model: &Model) -> Result<DoseAnswer> {
        dose(self, model)
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
/// use pointage_api::{Model, dose::{DoseRequest, dose}};
/// let tonight = DoseRequest {
///     at_c: Some("21C".parse()?),
///     flour_mass_g: Some("500g".parse()?),
///     ..DoseRequest::new(Kind::Poolish, "12h".parse()?)
/// };
/// let answer = dose(&tonight, &Model::shipped()?)?;
/// assert!(answer.dose_percent < answer.fresh_percent); // instant yeast
/// assert!(answer.weigh.is_some()); // half a gram: too little for a kitchen scale
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn dose(request: &DoseRequest, model: &Model) -> Result<DoseAnswer> {
    let model = model.of_request(request.params_toml.as_ref())?;
    let p = model.parameters();
    let (mut notes, mut warnings) = (Vec::new(), Vec::new());
    let for_h = request.for_h.or(request.from_time_h);
    let for_h = for_h.ok_or_else(|| Error::missing("for_h", "from the mix until it is ripe"))?;
    let for_h = check_time("for_h", for_h)?;
    let setting = Setting::new(&request.stage(), p, &mut notes)?;
    let yeast = yeast_kind(request.yeast, &mut notes);
    let factor = YeastFactors::shipped()?.factor(yeast);
    let recipe = WorkingRecipe::read(&request.stage(), yeast)?;
    let found = match &recipe {
        Some(recipe) if recipe.dose.is_none() => {
            let for_recipe = "for a working recipe: its dose, its time and its temperature";
            return Err(Error::missing("from_dose_percent", for_recipe));
        }
        Some(recipe) if recipe.has_q10() || request.kind.is_none() => {
            by_rate(&setting, recipe, for_h, p, &mut notes)?
        }
        None if request.kind.is_none() => {
            let or = "or the dose, the time and the temperature of a recipe that works";
            return Err(Error::missing("kind", &format!("with its time, {or}")));
        }
        recipe => by_model(&setting, recipe.as_ref(), for_h, p)?,
    };
    let fresh_percent = found.fresh_percent;
    let dose_percent = fresh_percent * factor;
    if found.range_fresh.is_none() && !recipe.as_ref().is_some_and(WorkingRecipe::has_q10) {
        warnings.push(Assumption::NoRange.into());
    }
    let rule = found.rule.map(|(fresh, growth)| {
        let percent = fresh * factor;
        let difference_percent = 100.0 * (percent / dose_percent - 1.0);
        let reason = Assumption::RuleOfThumb {
            percent,
            difference_percent,
            growth,
            recipe_growth: recipe.as_ref().and_then(|r| r.growth(&setting, p)),
        };
        (percent, difference_percent, reason)
    });
    let elsewhere = recipe.as_ref().filter(|r| setting.held_at() != Some(r.at));
    if let (Some(recipe), Some(_)) = (elsewhere, &rule) {
        let recipe_c = recipe.at.as_celsius();
        notes.push(Assumption::RecipeElsewhere { recipe_c }.into());
    }
    let end_c = found.dough_end_c;
    setting.caution(for_h, end_c, Some(fresh_percent), p, &mut warnings)?;

    let flour_g = setting.flour.map(Mass::as_grams);
    let yeast_g = flour_g.map(|flour_g| flour_g * dose_percent / 100.0);
    if let Some(yeast_g) = yeast_g {
        let little = Support::shipped()?.caution_of_yeast(yeast_g)?;
        warnings.extend(little.map(Remark::from));
    }
    let weigh = match (yeast_g, flour_g) {
        (Some(yeast_g), Some(flour_g)) => {
            weigh(request, &setting, yeast_g, flour_g, &mut warnings)?
        }
        _ => None,
    };
    notes.extend(model.note());
    let as_long = recipe.as_ref().filter(|recipe| recipe.hours == for_h);
    let equivalent_q10 = as_long.and_then(|r| r.equivalent_q10(&setting, r.dose? / fresh_percent));
    Ok(DoseAnswer {
        dose_percent,
        yeast,
        fresh_percent,
        yeast_g,
        weigh,
        range_percent: found
            .range_fresh
            .map(|(low, high)| [low * factor, high * factor]),
        proportional_percent: rule.as_ref().map(|rule| rule.0),
        proportional_difference_percent: rule.as_ref().map(|rule| rule.1),
        proportional_reason: rule.map(|rule| rule.2.into()),
        equivalent_q10,
        kind: request.kind,
        until: match recipe {
            Some(_) => "own-recipe".into(),
            None => setting.until.to_string(),
        },
        for_h,
        dough_end_c: end_c,
        rise: found.rise,
        notes,
        warnings,
    })
}

/// A dose, as fresh yeast, % of flour.
struct Found {
    fresh_percent: f64,
    range_fresh: Option<(f64, f64)>,
    dough_end_c: f64,
    /// V/V0 then; only by the model.
    rise: Option<f64>,
    /// What `dose x time = constant` gives, and how often the yeast multiplies meanwhile; only by the model.
    rule: Option<(f64, f64)>,
}

/// With `dose x time x rate` as in the working recipe.
fn by_rate(
    setting: &Setting,
    recipe: &WorkingRecipe,
    for_h: f64,
    p: &Parameters,
    notes: &mut Vec<Remark>,
) -> Result<Found> {
    let course = setting.course()?;
    let dose = |p: &Parameters, factor: f64| {
        let recipe_h = factor * recipe.equivalent_hours(p)?;
        let fresh = recipe.dose.unwrap_or_default() * recipe_h
            / equivalent_hours(recipe.curve(p), &course, for_h)?;
        if fresh <= MOST_FRESH_PERCENT {
            return Ok(fresh);
        }
        Err(Error::unreachable(
            format!("a dose for {for_h:.1} h"),
            format!("it would take more than {MOST_FRESH_PERCENT} % of fresh yeast"),
            "allow more time or use a warmer place",
        ))
    };
    Ok(Found {
        fresh_percent: dose(p, 1.0)?,
        range_fresh: recipe.range(p, notes, dose)?,
        dough_end_c: course.at(for_h),
        rise: None,
        rule: None,
    })
}

/// By the model, to the end point of its kind or to that of the working recipe.
fn by_model(
    setting: &Setting,
    recipe: Option<&WorkingRecipe>,
    for_h: f64,
    p: &Parameters,
) -> Result<Found> {
    let course = setting.course()?;
    let dose_to = |end, p: &Parameters| {
        let stage = Stage {
            end,
            ..setting.stage(0.0)
        };
        stage.dose_for(p, &course, for_h)
    };
    let end = match recipe {
        Some(recipe) => recipe.end(setting, p)?,
        None => setting.end,
    };
    let fresh_percent = dose_to(end, p)?;
    let stage = Stage {
        end,
        ..setting.stage(fresh_percent)
    };
    let range_fresh = setting
        .uncertainty(p, &stage, for_h, recipe)?
        .and_then(|sure| sure.of_dose(fresh_percent));
    let held = Isothermal::new(&stage, p, &course)?;
    let held = held.and_then(|held| Some((course.held_at()?, held.yeast_after(for_h)?)));
    let (end_c, yeast) = match held {
        Some(held) => held,
        None => {
            let ferment = stage.fermentation(p)?;
            let at_end = ferment.after(&ferment.start(), &course, for_h)?;
            (at_end.temperature_c(), at_end.yeast())
        }
    };
    let plain = match recipe {
        Some(recipe) => recipe.dose.map(|dose| dose * recipe.hours / for_h),
        None => {
            let still = p.with_rates(Rates {
                growth_rate: 0.0,
                ..p.kinetics.rates()
            })?;
            dose_to(end, &still).ok()
        }
    };
    Ok(Found {
        fresh_percent,
        range_fresh,
        dough_end_c: end_c,
        rise: Some(stage.end_rise(p, end_c)),
        rule: plain.map(|plain| (plain, yeast / fresh_percent)),
    })
}

/// How to weigh a dose that is too small for the scale; a dose too small even for that is a warning.
fn weigh(
    request: &DoseRequest,
    setting: &Setting,
    yeast_g: f64,
    flour_g: f64,
    warnings: &mut Vec<Remark>,
) -> Result<Option<WeighAnswer>> {
    let step_g = request.scale_step_g.map_or(1.0, Mass::as_grams);
    check_field("scale_step_g", "scale step", step_g, (0.001, 1000.0), "g")?;
    let water = Mass::grams(flour_g * setting.composition.hydration_percent / 100.0)?;
    let slurry = match weigh_in_water(Mass::grams(yeast_g)?, Mass::grams(step_g)?, water) {
        Err(error) if error.is_unreachable() => {
            warnings.push(error.into());
            None
        }
        slurry => slurry?,
    };
    Ok(slurry.map(|slurry| WeighAnswer {
        yeast_g: slurry.yeast.as_grams(),
        water_g: slurry.water.as_grams(),
        take_g: slurry.take.as_grams(),
        water_taken_g: slurry.water_taken.as_grams(),
        left_g: slurry.left.as_grams(),
        words: slurry.sentence(),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ready::ready;
    use crate::sentences::codes;
    use serde_json::{Value, json};

    fn ask(request: Value) -> Result<DoseAnswer> {
        let request = serde_json::from_value(request).unwrap();
        dose(&request, &Model::shipped().unwrap())
    }

    fn anchored_poolish(for_h: f64, at_c: f64) -> Value {
        json!({"kind": "poolish", "for_h": for_h, "at_c": at_c, "yeast": "fresh",
            "from_dose_percent": 0.5, "from_time_h": 8, "from_at_c": 22})
    }

    #[test]
    fn a_working_recipe_returns_itself() {
        for yeast in YeastKind::ALL {
            let mut request = anchored_poolish(8.0, 22.0);
            request["yeast"] = yeast.name().into();
            let answer = ask(request).unwrap();
            assert!((answer.dose_percent - 0.5).abs() < 1e-6, "{answer:?}");
            assert!(answer.proportional_difference_percent.unwrap().abs() < 1e-4);
            assert!(answer.notes.is_empty());
        }
    }

    #[test]
    fn a_recipe_keeps_its_time_at_another_temperature() {
        let mut request = json!({"from_dose_percent": 0.5, "from_time_h": 8, "from_at_c": 22, "at_c": 25,
            "q10": 2.2});
        let by_q10 = ask(request.clone()).unwrap();
        assert_eq!(by_q10.for_h, 8.0);
        assert!((by_q10.dose_percent - 0.5 / 2.2_f64.powf(0.3)).abs() < 1e-9);
        assert!((by_q10.equivalent_q10.unwrap() - 2.2).abs() < 1e-9);
        // In half the time twice the yeast.
        request["for_h"] = 4.into();
        let half = ask(request.clone()).unwrap();
        assert!((half.dose_percent - 2.0 * by_q10.dose_percent).abs() < 1e-9);
        assert_eq!(half.equivalent_q10, None);
        // By the gas curve the same steps, and a range; 50 % of instant yeast is no dose.
        request["q10"] = Value::Null;
        let by_curve = ask(request.clone()).unwrap();
        let [low, high] = by_curve.range_percent.unwrap();
        assert!(low < by_curve.dose_percent && by_curve.dose_percent < high);
        assert_eq!(codes(&by_curve.notes), ["instant-yeast", "gas-curve-alone"]);
        request["for_h"] = 0.1.into();
        assert!(ask(request).unwrap_err().is_unreachable());
    }

    #[test]
    fn a_longer_time_takes_less_than_the_plain_rule() {
        let answer = ask(anchored_poolish(14.0, 22.0)).unwrap();
        let plain = answer.proportional_percent.unwrap();
        assert!((plain - 0.5 * 8.0 / 14.0).abs() < 1e-12);
        assert!(answer.dose_percent < plain);
        let [low, high] = answer.range_percent.unwrap();
        assert!(low < answer.dose_percent && answer.dose_percent < high);
        assert_eq!(answer.until, "own-recipe");
        let elsewhere = ask(anchored_poolish(14.0, 20.0)).unwrap();
        assert_eq!(codes(&elsewhere.notes), ["recipe-elsewhere"]);
    }

    #[test]
    fn dose_and_ready_undo_each_other_in_a_room() {
        let mut place = json!({"kind": "biga", "mixed_at_c": 24, "flour_mass_g": "3kg",
            "room_course": [[0, 21], [6, 16], [20, 18]]});
        let mut there = place.clone();
        there["for_h"] = "15h".into();
        let answer = ask(there).unwrap();
        place["dose_percent"] = answer.dose_percent.into();
        let place = serde_json::from_value(place).unwrap();
        let back = ready(&place, &Model::shipped().unwrap()).unwrap();
        assert!((back.ready_h - 15.0).abs() < 1e-6, "{}", back.ready_h);
        assert!((back.dough_end_c - answer.dough_end_c).abs() < 1e-6);
    }

    #[test]
    fn half_a_recipe_is_refused_by_name() {
        for field in ["from_time_h", "from_dose_percent", "from_at_c"] {
            let mut request = anchored_poolish(14.0, 20.0);
            request[field] = Value::Null;
            let error = ask(request).unwrap_err();
            assert!(matches!(error, Error::Fields { .. }), "{error}");
            assert_eq!(error.field().as_deref(), Some(field));
        }
        let mut both = anchored_poolish(14.0, 20.0);
        both["until"] = "doubled".into();
        assert_eq!(ask(both).unwrap_err().field().as_deref(), Some("until"));
    }

    #[test]
    fn a_dose_too_small_for_any_cup_of_its_water_is_a_warning() {
        let request = json!({"kind": "poolish", "for_h": 16, "at_c": 24, "flour_mass_g": 20});
        let answer = ask(request).unwrap();
        assert!(answer.weigh.is_none());
        assert!(codes(&answer.warnings).contains(&"unreachable".to_owned()));
    }

    #[test]
    fn a_question_without_its_time_or_with_an_unknown_key_is_refused() {
        for json in [
            r#"{"kind": "poolish", "for_h": 12, "at": 20}"#,
            r#"{"kind": "polish", "for_h": 12, "at_c": 20}"#,
            r#"{"kind": "poolish", "for_h": "12", "at_c": 20}"#,
        ] {
            assert!(serde_json::from_str::<DoseRequest>(json).is_err());
        }
        for (request, field) in [
            (json!({"kind": "poolish", "at_c": 20}), "for_h"),
            (json!({"for_h": 12, "at_c": 20}), "kind"),
        ] {
            assert_eq!(ask(request).unwrap_err().field().as_deref(), Some(field));
        }
        let request: DoseRequest =
            serde_json::from_str(r#"{"kind": "poolish", "for_h": 12, "at_c": 20}"#).unwrap();
        assert_eq!(request.at_c, Some("20C".parse().unwrap()));
        assert_eq!(request.for_h, Some("12h".parse().unwrap()));
    }
}
