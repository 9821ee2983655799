//! The preferment: when it is mixed, how much yeast it gets, how it stands when it is used.

use super::{DoughProcess, mean_c};
use crate::ambient::{Ambient, TemperatureProfile};
use crate::error::{Error, Result};
use crate::ferment::{Composition, EndPoint, Fermentation, Inoculum, Parameters, Ready};
use crate::ferment::{Stage, State, Trajectory};
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
    /// The baker's reference of it, or, without one, as it is when ripe.
    pub ripe: State,
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

    pub(super) fn preferment_stage(&self, fresh_percent: f64) -> Result<Stage> {
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

    /// A preferment of this plan as a fermentation.
    fn preferment_ferment(&self, ripening: &Ripening) -> Result<Fermentation> {
        let stage = self.preferment_stage(ripening.fresh_percent)?;
        stage.fermentation(self.p)
    }

    /// The same with its end point, and the baker's reference of it.
    fn preferment_to_end(
        &self,
        p: &Parameters,
        mixed: f64,
        fresh_percent: f64,
    ) -> Result<(Stage, Option<State>)> {
        let reference = self.reference_preferment(p, mixed)?;
        let stage = self.preferment_stage(fresh_percent)?;
        let end = reference.map_or(stage.end, |state| EndPoint::Gas(state.gas));
        Ok((Stage { end, ..stage }, reference))
    }

    /// Mean of the preferment from its mix to its use, °C.
    pub fn preferment_mean_c(&self, ripening: &Ripening) -> Result<f64> {
        let f = self.preferment_ferment(ripening)?;
        let course = self.preferment_course(ripening.mixed)?;
        let mut way = Trajectory::new(&f, &f.start(), &course);
        mean_c(&mut way, ripening.used - ripening.mixed)
    }

    fn preferment_course(&self, mixed: f64) -> Result<TemperatureProfile<'_>> {
        self.preferment_course_from(mixed, mixed, self.preferment_dough())
    }

    /// The temperature of a preferment that was mixed at an hour, from another hour on, when it is so warm.
    fn preferment_course_from(
        &self,
        mixed: f64,
        hour: f64,
        from: Temperature,
    ) -> Result<TemperatureProfile<'_>> {
        let (place, tau) = (&self.rooms.preferment, self.tau_preferment);
        let course = TemperatureProfile::following(place, hour, from, tau)?;
        match (self.preferment_in_cold(mixed), &self.rooms.preferment_cold) {
            (Some([into, out]), Some(cold)) => {
                course.moved([(into, cold, self.tau_preferment_in_cold), (out, place, tau)])
            }
            _ => Ok(course),
        }
    }

    /// From when until when a preferment is in the cold that is mixed at an hour.
    pub fn preferment_in_cold(&self, mixed: f64) -> Option<[f64; 2]> {
        let cold = self.bake.preferment_cold()?;
        let into = mixed + as_hours(cold.after);
        Some([into, into + as_hours(cold.time)])
    }

    /// Where a preferment stands at an hour that was mixed at another.
    pub fn preferment_place(&self, mixed: f64, hour: f64) -> &Ambient {
        let stay = self.preferment_in_cold(mixed);
        let chilled = stay.is_some_and(|[into, out]| (into..out).contains(&hour));
        let cold = self.rooms.preferment_cold.as_ref().filter(|_| chilled);
        cold.unwrap_or(&self.rooms.preferment)
    }

    /// How warm it comes from its mix.
    pub(super) fn preferment_dough(&self) -> Temperature {
        let step = self.bake.preferment.as_ref();
        step.map_or(Temperature::ZERO, |s| s.dough)
    }

    /// The preferment mixed at an hour; used when it is ripe, or after the hours the baker wants. Out of the cold it is used
    /// when the clock says so, ripe or not, and no sooner than it leaves it.
    pub fn preferment_from(&self, mixed: f64) -> Result<Option<Ripening>> {
        let (Some(own), Some(step)) = (&self.bake.formula.preferment, &self.bake.preferment) else {
            return Ok(None);
        };
        let course = self.preferment_course(mixed)?;
        let (stage, reference) = self.preferment_to_end(self.p, mixed, 0.1)?;
        let fresh_percent = match (own.dose, step.ripe_after) {
            (Some(dose), _) => self.as_fresh(dose),
            (None, Some(after)) => stage
                .dose_for(self.p, &course, as_hours(after))
                .map_err(|e| e.at("[preferment] ripe_after_h"))?,
            (None, None) => {
                return Err(Error::contradiction(
                    "the preferment has neither a dose nor a time",
                ));
            }
        };
        let yeast = self.preferment_stage(fresh_percent)?.yeast;
        let ripe = Stage { yeast, ..stage }.ripe(self.p, &course);
        let state = ripe.map_err(|e| e.at("[preferment]"))?;
        let ripening = Ripening {
            mixed,
            used: mixed + state.hours,
            state,
            ripe: reference.unwrap_or(state),
            fresh_percent,
        };
        let stay = self
            .preferment_in_cold(mixed)
            .filter(|_| own.dose.is_some());
        let used = stay
            .zip(step.cold.as_ref())
            .map(|([_, leaves], cold)| match cold.out {
                Some(out) => leaves + as_hours(out),
                None => ripening.used.max(leaves),
            });
        used.map_or(Ok(ripening), |used| self.preferment_used_at(ripening, used))
            .map(Some)
    }

    /// The preferment for use at an hour: mixed so that it is ripe just then.
    pub(in crate::plan) fn preferment_for(&self, used: f64) -> Result<Option<Ripening>> {
        let Some(step) = &self.bake.preferment else {
            return Ok(None);
        };
        if let Some(shared) = self.shared {
            return self.preferment_used_at(shared, used).map(Some);
        }
        if let Some(after) = step.ripe_after {
            return self.preferment_from(used - as_hours(after));
        }
        let mut ripening = None;
        numeric::meet(used - self.preferment_h.get(), |mixed| {
            ripening = self.preferment_from(mixed)?;
            Ok::<_, Error>(ripening.map_or(0.0, |r| r.used - used))
        })?
        .ok_or(Error::not_settled(
            "the hour to mix the preferment",
            numeric::MEET_STEPS,
        ))?;
        if let Some(found) = ripening {
            self.preferment_h.set(used - found.mixed);
        }
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
        let f = self.preferment_ferment(ripening)?;
        f.after(&f.start(), &course, (hour - ripening.mixed).max(0.0))
    }

    /// How far a preferment has risen when it is used: its volume over that off its mix.
    pub fn preferment_rise(&self, ripening: &Ripening) -> Result<f64> {
        Ok((self.preferment_ferment(ripening)?).volume_ratio(&ripening.state))
    }

    /// When a preferment of this plan is ripe, and its window.
    pub fn preferment_ready(&self, ripening: &Ripening) -> Result<Ready> {
        let end = EndPoint::Gas(ripening.ripe.gas);
        let stage = self.preferment_stage(ripening.fresh_percent)?;
        Stage { end, ..stage }.ready(self.p, &self.preferment_course(ripening.mixed)?)
    }

    /// The same preferment with the parameters of this process, used at its hour.
    pub fn preferment_anew(&self, ripening: Ripening) -> Result<Ripening> {
        let (mixed, course) = (ripening.mixed, self.preferment_course(ripening.mixed)?);
        let (stage, reference) = self.preferment_to_end(self.p, mixed, ripening.fresh_percent)?;
        let ripe = match reference {
            Some(state) => state,
            None => stage.ripe(self.p, &course)?,
        };
        self.preferment_used_at(Ripening { ripe, ..ripening }, ripening.used)
    }

    /// Hours until a preferment of this plan is ripe.
    pub fn ripe_hours(&self, ripening: &Ripening) -> Result<f64> {
        let (stage, _) = self.preferment_to_end(self.p, ripening.mixed, ripening.fresh_percent)?;
        let ripe = stage.ripe(self.p, &self.preferment_course(ripening.mixed)?);
        ripe.map(|state| state.hours)
    }

    /// The 10-90 % range of these hours.
    pub fn ripe_range(&self, ripening: &Ripening) -> Result<Option<(f64, f64)>> {
        let (stage, _) = self.preferment_to_end(self.p, ripening.mixed, ripening.fresh_percent)?;
        let course = self.preferment_course(ripening.mixed)?;
        let hours = self.ripe_hours(ripening)?;
        let kind = self.preferment()?.kind;
        let reference = &self.bake.reference;
        let dose = reference.dose.map(|dose| self.as_fresh(dose));
        let of_reference = dose.map(|dose| self.preferment_stage(dose)).transpose()?;
        let own = of_reference.as_ref().zip(reference.preferment);
        let own = own.map(|(stage, own)| (stage, own.dough, as_hours(own.time)));
        let sure = stage.uncertainty(self.p, kind, &course, hours, own)?;
        Ok(sure.of_hours(hours))
    }

    /// How much livelier than weighed a preferment is that is at a share of its end point at an hour: it
    /// behaves as if it had so many times its yeast, 0.1 to 10.
    pub fn preferment_vigour(&self, ripening: &Ripening, hour: f64, share: f64) -> Result<f64> {
        let wanted = share * ripening.ripe.gas;
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

    /// How long a ripe preferment stays below a share of its time to ripeness, h, where it stands or in the cold; for ever
    /// where it never gets there.
    pub fn preferment_lasts(
        &self,
        ripe: &Ripening,
        cold_c: Option<Temperature>,
        share: f64,
    ) -> Result<f64> {
        let f = self.preferment_ferment(ripe)?;
        let close = share * ripe.state.lag_hours;
        let held = self.held_preferment(ripe, cold_c, |course| {
            f.until(&ripe.state, course, &|s| s.lag_hours - close)
        })?;
        Ok(held.map_or(f64::INFINITY, |s| s.hours - ripe.state.hours))
    }

    /// A ripe preferment that waits until an hour, where it stands or in the cold.
    pub fn preferment_held_until(
        &self,
        ripe: &Ripening,
        hour: f64,
        cold_c: Option<Temperature>,
    ) -> Result<Ripening> {
        let f = self.preferment_ferment(ripe)?;
        let state = self.held_preferment(ripe, cold_c, |course| {
            f.after(&ripe.state, course, hour - ripe.used)
        })?;
        Ok(Ripening {
            used: hour,
            state,
            ..*ripe
        })
    }

    /// Does something with the temperature of a preferment from its use on.
    fn held_preferment<T>(
        &self,
        ripe: &Ripening,
        cold_c: Option<Temperature>,
        then: impl FnOnce(&TemperatureProfile<'_>) -> Result<T>,
    ) -> Result<T> {
        let cold = cold_c.map(Ambient::constant).transpose()?;
        let from = Temperature::celsius(ripe.state.temperature_c)?;
        let course = match &cold {
            Some(cold) => TemperatureProfile::following(cold, ripe.used, from, self.tau_preferment),
            None => self.preferment_course_from(ripe.mixed, ripe.used, from),
        };
        then(&course?)
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
