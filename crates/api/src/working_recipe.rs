//! A recipe that works in the baker's own kitchen, taken to another temperature, dose or time.
//!
//! Where kind and dose are known the model is run on it, and what gas it has made by then is the end point.
//! Else, or with a Q10 of the baker's own, `dose x time x rate = constant`.

use super::ready::{ReadyRequest, fresh_dose};
use super::stage::{Setting, within_life};
use super::{Assumption, Remark, check_field};
use pointage::ambient::TemperatureProfile;
use pointage::error::{Error, Result};
use pointage::ferment::{
    EndPoint, Inoculum, LONGEST_H, Parameters, Stage, TimeUncertainty, Uncertain,
    end_point_from_recipe, equivalent_hours,
};
use pointage::formula::YeastKind;
use pointage::rate::{RateCurve, RateLaw};
use pointage::units::{Hours, Temperature};

/// A recipe that works: fixes the end point.
pub(super) struct WorkingRecipe {
    /// Its fresh yeast, % of flour, where that was said.
    pub dose: Option<f64>,
    pub hours: f64,
    pub at: Temperature,
    own_q10: Option<RateLaw>,
}

/// Where a Q10 is taken to hold, °C: no dough is colder, and above yeast slows down, whatever its Q10 is below.
const Q10_HOLDS_C: [f64; 2] = [0.0, 40.0];

/// Refuses a time that no dough takes.
pub(super) fn check_time(field: &str, time: Hours) -> Result<f64> {
    check_field(field, "time", time.as_hours(), (0.05, LONGEST_H), "h")
}

impl WorkingRecipe {
    /// Reads it from a question, if there is one; its dose is that of the dough where it has none of its own.
    pub fn read(asked: &ReadyRequest, yeast: YeastKind) -> Result<Option<Self>> {
        let (time, at) = (asked.from_time_h, asked.from_at_c);
        let is_alone = asked.from_dose_percent.is_none() && asked.q10.is_none();
        if is_alone && time.is_none() && at.is_none() {
            return Ok(None);
        }
        if asked.until.is_some() {
            let fields = ["until", "from_time_h"];
            return Err(Error::excludes(&fields, "both say when it is done"));
        }
        let missing =
            |field| Error::missing(field, "for a working recipe: its time and its temperature");
        let time = time.ok_or_else(|| missing("from_time_h"))?;
        let at = at.ok_or_else(|| missing("from_at_c"))?;
        let own_q10 = asked.q10.map(|q10| {
            check_field("q10", "Q10", q10, (1.0, 10.0), "")?;
            RateLaw::q10(q10, 20.0, Q10_HOLDS_C)
        });
        let dose = asked.from_dose_percent.or(asked.dose_percent);
        let dose = dose.map(|dose| fresh_dose(dose, yeast, "from_dose_percent"));
        Ok(Some(Self {
            dose: dose.transpose()?,
            hours: check_time("from_time_h", time)?,
            at: within_life("from_at_c", at)?,
            own_q10: own_q10.transpose()?,
        }))
    }

    pub fn has_q10(&self) -> bool {
        self.own_q10.is_some()
    }

    /// The factor for 10 °C warmer with which a dough is so many times as fast, if it is held at another temperature.
    pub fn equivalent_q10(&self, setting: &Setting, faster: f64) -> Option<f64> {
        let warmer_k = (setting.held_at()? - self.at).as_kelvin();
        (warmer_k != 0.0).then(|| faster.powf(10.0 / warmer_k))
    }

    /// How the rate follows temperature: by the baker's own Q10, or as yeast makes gas.
    pub fn curve<'a>(&'a self, p: &'a Parameters) -> &'a dyn RateCurve {
        match &self.own_q10 {
            Some(law) => law,
            None => &p.kinetics,
        }
    }

    /// Its time in hours where the curve is 1.
    pub fn equivalent_hours(&self, p: &Parameters) -> Result<f64> {
        let course = TemperatureProfile::held(self.at);
        let hours = equivalent_hours(self.curve(p), &course, self.hours)
            .map_err(|e| e.of_field("from_at_c"))?;
        if hours > 0.0 {
            return Ok(hours);
        }
        Err(Error::unreachable(
            "a dough as far as your recipe",
            "at the recipe's temperature yeast makes no gas",
            "check that temperature",
        ))
    }

    /// The range of an answer with `dose x time x rate = constant`; none for a Q10, of which nothing says how sure it is.
    pub fn range(
        &self,
        p: &Parameters,
        notes: &mut Vec<Remark>,
        answer: impl Fn(&Parameters, f64) -> Result<f64>,
    ) -> Result<Option<(f64, f64)>> {
        if self.has_q10() {
            return Ok(None);
        }
        notes.push(Assumption::GasCurveAlone.into());
        let half = |up: f64, down: f64| 0.5 * (up / down).ln();
        let own = p.spread.own_recipe;
        let mut log_sd = half(answer(p, own.exp())?, answer(p, (-own).exp())?);
        for which in [Uncertain::Tilt, Uncertain::TemperatureCurve] {
            let [up, down] = [1.0, -1.0].map(|z| answer(&p.moved(which, z)?, 1.0));
            log_sd = log_sd.hypot(half(up?, down?));
        }
        let sure = TimeUncertainty {
            log_sd,
            per_log_dose: -1.0,
        };
        Ok(sure.of_hours(answer(p, 1.0)?))
    }

    /// The recipe itself, with the composition of the dough.
    pub fn stage(&self, setting: &Setting) -> Stage {
        Stage {
            yeast: Inoculum {
                added: self.dose.unwrap_or_default(),
                carried: 0.0,
            },
            own_heat: None,
            ..setting.stage(0.0)
        }
    }

    /// The gas that the recipe makes, by the model.
    pub fn end(&self, setting: &Setting, p: &Parameters) -> Result<EndPoint> {
        let course = TemperatureProfile::held(self.at);
        end_point_from_recipe(p, &self.stage(setting), &course, self.hours)
    }

    /// How many times the yeast becomes in its time, by the model.
    pub fn growth(&self, setting: &Setting, p: &Parameters) -> Option<f64> {
        let ferment = self.stage(setting).fermentation(p).ok()?;
        let course = TemperatureProfile::held(self.at);
        let end = ferment.after(&ferment.start(), &course, self.hours).ok()?;
        Some(end.yeast() / self.dose?)
    }
}
