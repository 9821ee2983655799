//! When is it ripe, and how long may it be used?

use super::request::{Answerable, Numbers, request};
use super::stage::{Setting, Until};
use super::working_recipe::WorkingRecipe;
use super::{Assumption, Model, Remark, check_field};
use pointage::error::{Error, Result, words_of};
use pointage::ferment::{
    Isothermal, Kind, LONGEST_H, Parameters, Stage, State, time_to_equivalent,
};
use pointage::formula::{MixStage, Role, YeastFactors, YeastKind};
use pointage::plan::bake::Bake;
use pointage::units::{Hours, Mass, Percent, Temperature};
use serde::{Deserialize as _, Serialize};
use serde_json::{Map, Value};

request! {
    /// When a stage is ripe: its yeast and its temperature.
    ///
    /// The temperature is either `at_c`, held, or `mixed_at_c` in a room (`room_c` or `room_course`) that
    /// the dough drifts towards while its own fermentation warms it. With `from_time_h` and `from_at_c` it is
    /// done when it is as far as a recipe that works in the baker's own kitchen. A kind and a dose then follow
    /// the model. Without one of them, or with a `q10`, dose x time x rate is constant.
    ReadyRequest = "ready" {
        /// What it is: poolish, biga, sponge, old-dough or dough
        kind: Option<Kind> = "kind",
        /// Yeast, percent of the stage's own flour
        dose_percent: Option<Percent> = "dose",
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
        /// When it counts as done: ripe, doubled, or a rise such as 1.7x [default: doubled for dough and old-dough]
        until: Option<Until> = "until",
        /// Dose of your working recipe, in the same kind of yeast [default: the dose]
        from_dose_percent: Option<Percent> = "from-dose",
        /// Time that your working recipe takes
        from_time_h: Option<Hours> = "from-time",
        /// Temperature of your working recipe
        from_at_c: Option<Temperature> = "from-at",
        /// Your own factor for 10 °C warmer, such as 2.2, in place of the model
        q10: Option<f64> = "q10",
        /// Hours from the mix at which the answer says how far the dough is
        #[serde(default)]
        #[cfg_attr(feature = "schema", schemars(with = "Option<Vec<f64>>"))]
        progress_at_h: Vec<f64> as skip,
        /// Where the dough stands now, a `state` of an earlier answer; temperature and room are those from now on
        #[cfg_attr(feature = "schema", schemars(with = "Option<State>"))]
        state: Option<Map<String, Value>> as skip,
        /// Fermentation parameters: the text of a file such as `learn` writes
        params_toml: Option<String> as skip,
    }
}

impl ReadyRequest {
    /// A stage of a kind with so much yeast; the temperature is still to be set.
    #[must_use]
    pub fn new(kind: Kind, dose_percent: Percent) -> Self {
        Self {
            kind: Some(kind),
            dose_percent: Some(dose_percent),
            ..Self::default()
        }
    }

    /// What is not said, as the preferment of a bake is: its make, its yeast, the places of one that is chilled, and the
    /// recipe that works, which is that of its `[reference]`.
    ///
    /// # Errors
    /// A bake without a preferment.
    pub fn or_of_bake(self, bake: &Bake) -> Result<Self> {
        let own = bake.formula.preferment.as_ref().ok_or_else(|| {
            Error::contradiction("this bake has no preferment; say its kind and its yeast instead")
        })?;
        let flour = bake.batch()?.mass_of(Role::Flour, MixStage::Preferment);
        let works = bake.reference_preferment();
        let works = works.filter(|_| self.until.is_none() && self.from_time_h.is_none());
        let (from_dose, from_time, from_at) = match works {
            Some((dose, time, at)) => {
                let time = Hours::new(time.as_secs_f64() / 3600.0)?;
                (Some(dose), Some(time), Some(at))
            }
            None => (self.from_dose_percent, self.from_time_h, self.from_at_c),
        };
        // Where no temperature is said, a preferment that is chilled stands as in the bake.
        let said = self.at_c.or(self.mixed_at_c).or(self.room_c).is_some();
        let chilled = bake.chilled_preferment();
        let chilled = chilled.filter(|_| !said && self.room_course.is_none());
        let (mixed_at_c, room_course) = match chilled {
            Some((mixed, course)) => (Some(mixed), Some(course)),
            None => (self.mixed_at_c, self.room_course),
        };
        Ok(Self {
            mixed_at_c,
            room_course,
            kind: self.kind.or(Some(own.kind)),
            dose_percent: self.dose_percent.or(own.dose),
            yeast: self.yeast.or(Some(bake.formula.yeast_kind)),
            flour_mass_g: self.flour_mass_g.or(Some(flour)),
            hydration_percent: self.hydration_percent.or(Some(own.hydration)),
            salt_percent: self.salt_percent.or(Some(own.salt)),
            from_dose_percent: from_dose,
            from_time_h: from_time,
            from_at_c: from_at,
            ..self
        })
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
    /// From when it may be used, and when it begins to fall; the end is null when that never comes. Null without the
    /// model.
    pub window_h: Option<(f64, Option<f64>)>,
    /// Temperature of the dough at the end point.
    pub dough_end_c: f64,
    /// How far it has risen by then: its volume over that off the mix, V/V0; null without the model.
    pub rise: Option<f64>,
    /// The factor for 10 °C warmer from the working recipe to this dough; null when the dough is not held, or as
    /// warm as the recipe.
    pub equivalent_q10: Option<f64>,
    /// What it is, where that was said.
    pub kind: Option<Kind>,
    /// `ripe`, `doubled`, a rise such as `1.7x`, or `own-recipe` where the working recipe says when it is done.
    pub until: String,
    /// How far it is at the hours asked for; nothing without the model.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub progress: Vec<DoughProgress>,
    /// What was assumed.
    pub notes: Vec<Remark>,
    /// Cautions.
    pub warnings: Vec<Remark>,
}

/// How far a dough is at an hour.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct DoughProgress {
    /// Hours from the mix.
    pub at_h: f64,
    /// Temperature of the dough.
    pub dough_c: f64,
    /// How far it has risen: its volume over that off the mix, V/V0.
    pub rise: f64,
    /// Gas made, as a share of that at the end point.
    pub gas_share: f64,
    /// Where it stands, to go on from in a later request.
    pub state: State,
}

impl Answerable<ReadyAnswer> for ReadyRequest {
    const NUMBERS: Numbers<ReadyAnswer> = &[
        ("ready_h", |a| Some(a.ready_h)),
        ("range_low_h", |a| a.range_h.map(|[low, _]| low)),
        ("range_high_h", |a| a.range_h.map(|[_, high]| high)),
        ("window_open_h", |a| a.window_h.map(|window| window.0)),
        ("window_close_h", |a| a.window_h.and_then(|window| window.1)),
        ("dough_end_c", |a| Some(a.dough_end_c)),
        ("rise", |a| a.rise),
        ("equivalent_q10", |a| a.equivalent_q10),
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
    let p = model.parameters();
    let dose = request.dose_percent.or(request.from_dose_percent);
    let yeast = match dose {
        Some(_) => super::yeast_kind(request.yeast, &mut notes),
        None => YeastKind::Instant,
    };
    let dose = dose.map(|dose| fresh_dose(dose, yeast, "dose_percent"));
    let dose = dose.transpose()?;
    let recipe = WorkingRecipe::read(request, yeast)?;
    let times = match (&recipe, request.kind, dose) {
        (Some(recipe), Some(_), Some(dose)) if !recipe.has_q10() => {
            as_far_as_recipe(&setting, recipe, dose, p)?
        }
        (Some(recipe), ..) => by_rate(&setting, recipe, dose, p, &mut notes)?,
        (None, Some(_), Some(dose)) => times(&setting, dose, p)?,
        (None, kind, _) => {
            let (field, with) = match kind {
                None => ("kind", "with its dose"),
                Some(_) => ("dose_percent", "with the kind"),
            };
            let or = "or the time and the temperature of a recipe that works";
            return Err(Error::missing(field, &format!("{with}, {or}")));
        }
    };
    if times.range_h.is_none() && times.window_h.is_some() {
        warnings.push(Assumption::NoRange.into());
    }
    let (ready_h, end_c) = (times.ready_h, times.dough_end_c);
    let by_model = recipe.is_none().then_some(dose).flatten();
    let progress = progress(request, &setting, by_model, model.parameters())?;
    setting.caution(ready_h, end_c, dose, model.parameters(), &mut warnings)?;
    notes.extend(model.note());
    let sooner = |recipe: &WorkingRecipe| recipe.equivalent_q10(&setting, recipe.hours / ready_h);
    Ok(ReadyAnswer {
        ready_h,
        range_h: times.range_h,
        window_h: times.window_h,
        dough_end_c: end_c,
        rise: times.rise,
        equivalent_q10: recipe.as_ref().and_then(sooner),
        kind: request.kind,
        until: match recipe {
            Some(_) => "own-recipe".into(),
            None => setting.until.to_string(),
        },
        progress,
        notes,
        warnings,
    })
}

/// Most yeast that a dough is given, % of flour.
pub(super) const MOST_FRESH_PERCENT: f64 = 20.0;

/// A dose as fresh yeast, % of flour.
pub(super) fn fresh_dose(dose: Percent, yeast: YeastKind, field: &str) -> Result<f64> {
    let fresh = dose.as_percent() / YeastFactors::shipped()?.factor(yeast);
    check_field(
        field,
        "dose as fresh yeast",
        fresh,
        (1e-4, MOST_FRESH_PERCENT),
        "% of flour",
    )
}

/// How far a dough of the model is at the hours asked for.
fn progress(
    request: &ReadyRequest,
    setting: &Setting,
    dose: Option<f64>,
    p: &Parameters,
) -> Result<Vec<DoughProgress>> {
    let is_asked = setting.state.is_some() || !request.progress_at_h.is_empty();
    let (true, Some(dose)) = (is_asked, dose) else {
        let asked = ["progress_at_h", "state"];
        let why = "they need kind and dose, and no working recipe";
        return match is_asked {
            true => Err(Error::excludes(&asked, why)),
            false => Ok(Vec::new()),
        };
    };
    let stage = setting.stage(dose);
    let (ferment, course) = (stage.fermentation(p)?, setting.course()?);
    let from = setting.state.unwrap_or_else(|| ferment.start());
    let hours = request.progress_at_h.iter().map(|&at_h| {
        let range = (from.hours(), LONGEST_H);
        check_field("progress_at_h", "hour", at_h, range, "h from the mix")?;
        let state = ferment.after(&from, &course, at_h - from.hours())?;
        Ok(DoughProgress {
            at_h,
            dough_c: state.temperature_c(),
            rise: ferment.volume_ratio(&state),
            gas_share: state.gas() / stage.end_gas(p, state.temperature_c()),
            state,
        })
    });
    hours.collect()
}

/// Reads where a dough stands.
pub(super) fn state(request: &ReadyRequest) -> Result<Option<State>> {
    let read = |fields: &Map<String, Value>| State::deserialize(&Value::Object(fields.clone()));
    let state = request.state.as_ref().map(read).transpose();
    state.map_err(|e| Error::malformed(words_of(e)).of_field("state"))
}

struct Times {
    ready_h: f64,
    range_h: Option<[f64; 2]>,
    window_h: Option<(f64, Option<f64>)>,
    rise: Option<f64>,
    dough_end_c: f64,
}

/// With dose x time x rate = constant.
fn by_rate(
    setting: &Setting,
    recipe: &WorkingRecipe,
    dose: Option<f64>,
    p: &Parameters,
    notes: &mut Vec<Remark>,
) -> Result<Times> {
    let course = setting.course()?;
    let slower = match (recipe.dose, dose) {
        (Some(recipe), Some(dose)) => recipe / dose,
        _ => 1.0,
    };
    let ready = |p: &Parameters, factor: f64| {
        let wanted = slower * factor * recipe.equivalent_hours(p)?;
        time_to_equivalent(recipe.curve(p), &course, wanted)?.ok_or_else(|| {
            let why = "it works too slowly there, and three weeks are not enough";
            Error::unreachable("a dough as far as your recipe", why, "use a warmer place")
        })
    };
    let ready_h = ready(p, 1.0)?;
    Ok(Times {
        ready_h,
        range_h: recipe.range(p, notes, ready)?.map(Into::into),
        window_h: None,
        rise: None,
        dough_end_c: course.at(ready_h),
    })
}

/// By the model, when it has made as much gas as the working recipe.
fn as_far_as_recipe(
    setting: &Setting,
    recipe: &WorkingRecipe,
    dose: f64,
    p: &Parameters,
) -> Result<Times> {
    let own = Stage {
        end: recipe.end(setting, p)?,
        ..setting.stage(dose)
    };
    let (ready, range_h) = setting.ready(p, &own, Some(recipe))?;
    Ok(Times {
        ready_h: ready.hours,
        range_h,
        window_h: Some(ready.window_h),
        rise: Some(own.end_rise(p, ready.at_end.temperature_c())),
        dough_end_c: ready.at_end.temperature_c(),
    })
}

fn times(setting: &Setting, fresh_percent: f64, p: &Parameters) -> Result<Times> {
    let stage = setting.stage(fresh_percent);
    let course = setting.course()?;
    if setting.state.is_none()
        && let Some(held) = Isothermal::new(&stage, p, &course)?
        && let Some(t) = course.held_at()
        && let gas = stage.end_gas(p, t)
        && let Some(ready_h) = held.hours_until_gas(&p.kinetics, gas)
    {
        let sure = match setting.kind {
            Some(kind) => held.uncertainty(&stage, p, kind, ready_h)?,
            None => None,
        };
        return Ok(Times {
            ready_h,
            range_h: (sure.and_then(|sure| sure.of_hours(ready_h))).map(Into::into),
            window_h: Some((
                p.window.open * ready_h,
                Some(p.window.close * ready_h).filter(|h| *h <= LONGEST_H),
            )),
            rise: Some(stage.end_rise(p, t)),
            dough_end_c: setting.held_at().map_or(f64::NAN, Temperature::as_celsius),
        });
    }
    // What a reading has corrected is as sure as the reading, which is not known.
    let (ready, range_h) = match &setting.state {
        Some(state) => (stage.ready_from(p, state, &course)?, None),
        None => setting.ready(p, &stage, None)?,
    };
    Ok(Times {
        ready_h: ready.hours,
        range_h,
        window_h: Some(ready.window_h),
        rise: Some(stage.end_rise(p, ready.at_end.temperature_c())),
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

    /// A recipe that takes 12 h at 21 °C.
    fn elsewhere(mut request: Value) -> Result<ReadyAnswer> {
        request["from_time_h"] = 12.into();
        request["from_at_c"] = 21.into();
        let request = serde_json::from_value(request).unwrap();
        ready(&request, &Model::shipped().unwrap())
    }

    #[test]
    fn a_q10_of_ones_own_takes_the_time_to_another_temperature() {
        let answer = elsewhere(json!({"at_c": 24, "q10": 2.2})).unwrap();
        assert!((answer.ready_h - 12.0 / 2.2_f64.powf(0.3)).abs() < 1e-9);
        assert!((answer.equivalent_q10.unwrap() - 2.2).abs() < 1e-9);
        assert_eq!((answer.range_h, answer.window_h), (None, None));
        assert!(answer.notes.is_empty() && answer.warnings.is_empty());
        // Twice the yeast, half the time.
        let twice = json!({"at_c": 24, "q10": 2.2, "from_dose_percent": 0.2, "dose_percent": 0.4});
        let twice = elsewhere(twice).unwrap();
        assert!((2.0 * twice.ready_h - answer.ready_h).abs() < 1e-9);
        // Doubling in 17 °F, as the bakers' rule has it: 12 h at 21 °C are 6 h at 70 + 17 °F.
        let q10 = 2_f64.powf(18.0 / 17.0);
        let doubled = elsewhere(json!({"at_c": 21.0 + 17.0 / 1.8, "q10": q10})).unwrap();
        assert!((doubled.ready_h - 6.0).abs() < 1e-9);
        // In a room as warm as the recipe nothing changes; in one that warms it is sooner done.
        let level = json!({"mixed_at_c": 21, "room_c": 21, "q10": 2});
        assert!((elsewhere(level).unwrap().ready_h - 12.0).abs() < 1e-9);
        let warming = json!({"mixed_at_c": 21, "room_course": [[0, 21], [12, 31]], "q10": 2});
        assert!((7.0..11.0).contains(&elsewhere(warming).unwrap().ready_h));
    }

    #[test]
    fn the_gas_curve_takes_the_time_to_another_temperature() {
        let table = pointage::table::get("slator1906").unwrap();
        // The points themselves where the curve is joined to them; within 3 % of them from 20 to 40 °C.
        for (from, to, off) in [
            (5, 10, 1e-9),
            (20, 25, 0.03),
            (25, 30, 0.03),
            (30, 35, 0.03),
        ] {
            let request = json!({"from_time_h": 9, "from_at_c": from, "at_c": to});
            let request = serde_json::from_value(request).unwrap();
            let answer = ready(&request, &Model::shipped().unwrap()).unwrap();
            let ratio = table.number(&format!("ratio_{from}_to_{to}")).unwrap();
            let faster = 9.0 / answer.ready_h;
            assert!(
                (faster / ratio - 1.0).abs() < off,
                "{from} {to}: {faster} {ratio}"
            );
            assert!((answer.equivalent_q10.unwrap() - faster * faster).abs() < 1e-9);
            assert_eq!(codes(&answer.notes), ["gas-curve-alone"]);
            let [low, high] = answer.range_h.unwrap();
            assert!(low < answer.ready_h && answer.ready_h < high);
        }
    }

    #[test]
    fn a_recipe_at_its_own_temperature_takes_its_own_time() {
        for more in [
            json!({"q10": 2.2}),
            json!({}),
            json!({"kind": "biga"}),
            json!({"kind": "poolish", "dose_percent": 0.1}),
            json!({"kind": "dough", "from_dose_percent": 0.3, "yeast": "fresh"}),
        ] {
            let mut request = more;
            request["at_c"] = 21.into();
            let answer = elsewhere(request).unwrap();
            assert!((answer.ready_h - 12.0).abs() < 1e-6, "{answer:?}");
            assert_eq!(
                (answer.until.as_str(), answer.equivalent_q10),
                ("own-recipe", None)
            );
        }
    }

    #[test]
    fn with_kind_and_dose_the_model_is_run_on_the_recipe() {
        let poolish = json!({"kind": "poolish", "from_dose_percent": 0.3, "yeast": "fresh",
            "dose_percent": 0.6, "at_c": 24});
        let answer = elsewhere(poolish).unwrap();
        let (open, close) = answer.window_h.unwrap();
        let [low, high] = answer.range_h.unwrap();
        assert!(open < answer.ready_h && answer.ready_h < close.unwrap());
        assert!(low < answer.ready_h && answer.ready_h < high);
        // Back with the dose of the recipe: the dose that is as far after so long.
        let back = json!({"kind": "poolish", "yeast": "fresh", "from_dose_percent": 0.3,
            "from_time_h": 12, "from_at_c": 21, "at_c": 24, "for_h": answer.ready_h});
        let back = serde_json::from_value(back).unwrap();
        let back = crate::dose::dose(&back, &Model::shipped().unwrap()).unwrap();
        assert!((back.dose_percent - 0.6).abs() < 1e-6, "{back:?}");
    }

    #[test]
    fn half_a_recipe_and_a_temperature_without_a_rate_are_refused() {
        for (request, field, says) in [
            (
                json!({"from_at_c": null, "at_c": 24}),
                "from_at_c",
                "is missing",
            ),
            (
                json!({"from_time_h": null, "at_c": 24}),
                "from_time_h",
                "is missing",
            ),
            (
                json!({"until": "ripe", "at_c": 24}),
                "until",
                "both say when",
            ),
            (json!({"q10": 22, "at_c": 24}), "q10", "between 1 and 10"),
            (
                json!({"from_at_c": 42, "q10": 2, "at_c": 24}),
                "from_at_c",
                "0 to 40",
            ),
            (
                json!({"from_at_c": 60, "at_c": 24}),
                "from_at_c",
                "between -20 and 50",
            ),
        ] {
            let mut whole = json!({"from_time_h": 12, "from_at_c": 21});
            for (key, value) in request.as_object().unwrap() {
                whole[key] = value.clone();
            }
            let request = serde_json::from_value(whole).unwrap();
            let error = ready(&request, &Model::shipped().unwrap()).unwrap_err();
            assert_eq!(error.field().as_deref(), Some(field), "{error}");
            assert!(error.to_string().contains(says), "{error}");
        }
        // Yeast makes no gas at 48 °C, and hardly any at -5.
        for (from, at) in [(48, 20), (21, -5), (21, 48)] {
            let request = json!({"from_time_h": 12, "from_at_c": from, "at_c": at});
            let request = serde_json::from_value(request).unwrap();
            let error = ready(&request, &Model::shipped().unwrap()).unwrap_err();
            assert!(error.is_unreachable(), "{error}");
        }
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
        let (open, close) = answer.window_h.unwrap();
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
