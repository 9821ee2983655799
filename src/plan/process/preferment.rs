//! The preferment: when it is mixed, how much yeast it gets, how it stands when it is used.

use super::DoughProcess;
use crate::ambient::TemperatureProfile;
use crate::error::{Error, Result};
use crate::ferment::{Composition, EndPoint, Inoculum, Ready, Stage, State};
use crate::formula::Preferment;
use crate::numeric;
use crate::units::{Temperature, as_hours};

/// The preferment of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::plan) struct Ripening {
    pub mixed: f64,
    pub used: f64,
    /// The preferment when it is used.
    pub state: State,
    /// Dose as fresh yeast, % of its flour.
    pub fresh_percent: f64,
}

impl Ripening {
    /// The same preferment, as if it had so many times the yeast that was weighed.
    pub fn livelier(mut self, times: f64) -> Self {
        self.fresh_percent *= times;
        self
    }
}

impl DoughProcess<'_> {
    pub fn preferment(&self) -> Result<&Preferment> {
        let own = self.bake.formula.preferment.as_ref();
        own.ok_or_else(|| Error::contradiction("this bake has no preferment"))
    }

    fn preferment_stage(&self, fresh_percent: f64) -> Result<Stage> {
        let own = self.preferment()?;
        Ok(Stage {
            composition: Composition::lean(own.hydration.as_percent(), own.salt.as_percent()),
            yeast: Inoculum {
                added: fresh_percent,
                carried: 0.0,
            },
            end: EndPoint::Ripe(own.kind),
            own_heat: Some(self.preferment_heat),
        })
    }

    fn preferment_course(&self, mixed: f64) -> Result<TemperatureProfile<'_>> {
        let step = self.bake.preferment.as_ref();
        let from = step.map_or(Temperature::ZERO, |s| s.dough);
        TemperatureProfile::following(&self.rooms.preferment, mixed, from, self.tau_preferment)
    }

    /// The preferment mixed at an hour; used when it is ripe, or after the hours the baker wants.
    pub fn preferment_from(&self, mixed: f64) -> Result<Option<Ripening>> {
        let (Some(own), Some(step)) = (&self.bake.formula.preferment, &self.bake.preferment) else {
            return Ok(None);
        };
        let course = self.preferment_course(mixed)?;
        let fresh_percent = match (own.dose, step.ripe_after) {
            (Some(dose), _) => {
                dose.as_percent() / self.factors.factor(self.bake.formula.yeast_kind)
            }
            (None, Some(after)) => self
                .preferment_stage(0.1)?
                .dose_for(self.p, &course, as_hours(after))
                .map_err(|e| e.at("[preferment] ripe_after_h"))?,
            (None, None) => {
                return Err(Error::contradiction(
                    "the preferment has neither a dose nor a time",
                ));
            }
        };
        let ripe = self.preferment_stage(fresh_percent)?.ripe(self.p, &course);
        let state = ripe.map_err(|e| e.at("[preferment]"))?;
        Ok(Some(Ripening {
            mixed,
            used: mixed + state.hours,
            state,
            fresh_percent,
        }))
    }

    /// The preferment for use at an hour: mixed so that it is ripe just then.
    pub(super) fn preferment_for(&self, used: f64) -> Result<Option<Ripening>> {
        let Some(step) = &self.bake.preferment else {
            return Ok(None);
        };
        if let Some(after) = step.ripe_after {
            return self.preferment_from(used - as_hours(after));
        }
        let mut ripening = None;
        numeric::meet(used - 12.0, |mixed| {
            ripening = self.preferment_from(mixed)?;
            Ok::<_, Error>(ripening.map_or(0.0, |r| r.used - used))
        })?
        .ok_or(Error::NotSettled {
            what: "the hour to mix the preferment",
            steps: numeric::MEET_STEPS,
        })?;
        Ok(ripening)
    }

    /// The same preferment, used at another hour, ripe or not.
    pub fn preferment_used_at(&self, mut ripening: Ripening, used: f64) -> Result<Ripening> {
        ripening.state = self.preferment_at(&ripening, used)?;
        ripening.used = used;
        Ok(ripening)
    }

    /// The preferment as it stands at an hour.
    pub fn preferment_at(&self, ripening: &Ripening, hour: f64) -> Result<State> {
        let course = self.preferment_course(ripening.mixed)?;
        let f = self
            .preferment_stage(ripening.fresh_percent)?
            .fermentation(self.p)?;
        f.after(&f.start(), &course, (hour - ripening.mixed).max(0.0))
    }

    /// How far a preferment has risen when it is used: its volume over that off its mix.
    pub fn preferment_rise(&self, ripening: &Ripening) -> Result<f64> {
        let f = self.preferment_stage(ripening.fresh_percent)?;
        Ok(f.fermentation(self.p)?.volume_ratio(&ripening.state))
    }

    /// Gas of a ripe preferment, mL per 100 g of its flour.
    pub fn preferment_end(&self) -> Result<f64> {
        Ok(self.p.level(self.preferment()?.kind).gas)
    }

    /// When a preferment of this plan is ripe, and its window.
    pub fn preferment_ready(&self, ripening: &Ripening) -> Result<Ready> {
        let stage = self.preferment_stage(ripening.fresh_percent)?;
        stage.ready(self.p, &self.preferment_course(ripening.mixed)?)
    }

    /// Hours until a preferment of this plan is ripe.
    pub fn ripe_hours(&self, ripening: &Ripening) -> Result<f64> {
        let stage = self.preferment_stage(ripening.fresh_percent)?;
        let ripe = stage.ripe(self.p, &self.preferment_course(ripening.mixed)?);
        ripe.map(|state| state.hours)
    }

    /// The 10-90 % range of these hours.
    pub fn ripe_range(&self, ripening: &Ripening) -> Result<Option<(f64, f64)>> {
        let stage = self.preferment_stage(ripening.fresh_percent)?;
        let course = self.preferment_course(ripening.mixed)?;
        let hours = self.ripe_hours(ripening)?;
        let kind = self.preferment()?.kind;
        let sure = stage.uncertainty(self.p, kind, &course, hours, None)?;
        Ok(sure.of_hours(hours))
    }

    /// How much livelier than weighed a preferment is that is at a share of its end point at an hour: it
    /// behaves as if it had so many times its yeast, 0.1 to 10.
    pub fn preferment_vigour(&self, ripening: &Ripening, hour: f64, share: f64) -> Result<f64> {
        let wanted = share * self.preferment_end()?;
        let miss = |log_times: f64| -> Result<f64> {
            let other = ripening.livelier(log_times.clamp(-3.0, 3.0).exp());
            Ok((self.preferment_at(&other, hour)?.gas / wanted).ln())
        };
        // As forecast means as forecast, to the last digit.
        if miss(0.0)?.abs() < 1e-9 {
            return Ok(1.0);
        }
        let times = numeric::meet(0.0, miss)?.map_or(f64::NAN, f64::exp);
        if (0.1..=10.0).contains(&times) {
            return Ok(times);
        }
        Err(Error::contradiction(format!(
            "a preferment so far {:.1} h after its mix does not go with this plan, which says ripe after {:.1} h; check the hour and the weights",
            hour - ripening.mixed,
            ripening.used - ripening.mixed
        )))
    }

    /// A preferment that has been seen at a share of its end point at an hour, and is used then. Its
    /// weights stay those that were weighed.
    pub fn preferment_seen(&self, ripening: &Ripening, hour: f64, share: f64) -> Result<Ripening> {
        let vigour = self.preferment_vigour(ripening, hour, share)?;
        let mut seen = self.preferment_used_at(ripening.livelier(vigour), hour)?;
        seen.fresh_percent = ripening.fresh_percent;
        Ok(seen)
    }
}
