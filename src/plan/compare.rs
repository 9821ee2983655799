//! How water, dose and clock move with one condition.

use super::assemble::plan;
use super::bake::Bake;
use super::environment::Environment;
use super::model::{Anchor, Detail, Plan};
use crate::error::{Error, Result, named, shown};
use crate::ferment::Parameters;
use crate::units::{Hours, Percent, Temperature, hours};
use serde::{Deserialize, Serialize};

/// A condition that can be varied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Condition {
    /// The kitchen's room, °C; flour, bulk and proof go with it where the bake says nothing else.
    Room,
    /// The dough off the mixer, °C.
    Dough,
    /// The flour, °C.
    Flour,
    /// The tap, °C.
    Tap,
    /// Yeast at the mix, % of all flour.
    Yeast,
}

named! { "condition" Condition {
    Room = "room", Dough = "dough", Flour = "flour", Tap = "tap", Yeast = "yeast",
} }

impl Condition {
    /// The bake and its rooms under this condition.
    fn set(self, bake: &Bake, places: &Environment, value: f64) -> Result<(Bake, Environment)> {
        let (mut bake, mut places) = (bake.clone(), places.clone());
        match self {
            Self::Room => places = places.with_kitchen(Temperature::celsius(value)?)?,
            Self::Dough => bake.process.dough = Temperature::celsius(value)?,
            Self::Flour => bake.kitchen.flour = Some(Temperature::celsius(value)?),
            Self::Tap => bake.kitchen.tap = Temperature::celsius(value)?,
            Self::Yeast => bake.formula.yeast = Some(Percent::new(value)?),
        }
        Ok((bake, places))
    }
}

/// A condition and the values that it takes, written as `room=18..26` (eight steps) or `room=18..26..2`.
///
/// ```
/// use pointage::plan::{Condition, Vary};
/// let vary: Vary = "room=18..26..2".parse()?;
/// assert_eq!(vary.condition, Condition::Room);
/// assert_eq!(vary.values, [18.0, 20.0, 22.0, 24.0, 26.0]);
/// # Ok::<(), pointage::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Vary {
    /// The condition.
    pub condition: Condition,
    /// Its values, rising, in its unit.
    pub values: Vec<f64>,
}

/// Most steps that are compared at once.
const MOST: f64 = 60.0;

impl std::str::FromStr for Vary {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        let refuse = || {
            Error::text(
                "what varies",
                text,
                "a condition and its span, the lower end first, such as room=18..26 or room=18..26..2",
            )
        };
        let (name, span) = text.split_once('=').ok_or_else(refuse)?;
        let condition = name.trim().parse()?;
        let number = |n: &str| n.trim().parse().ok().filter(|v: &f64| v.is_finite());
        let numbers: Option<Vec<f64>> = span.split("..").map(number).collect();
        let (from, to, step) = match numbers.ok_or_else(refuse)?[..] {
            [from, to] => (from, to, (to - from) / 8.0),
            [from, to, step] => (from, to, step),
            _ => return Err(refuse()),
        };
        let count = (to - from) / step;
        if !(step > 0.0 && (0.0..=MOST).contains(&count)) {
            return Err(refuse());
        }
        // At most sixty steps.
        let last = (count + 1e-9) as u32;
        let values = (0..=last).map(|i| from + f64::from(i) * step).collect();
        Ok(Self { condition, values })
    }
}

/// A bake planned under one value of a condition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Compared {
    /// The value.
    pub value: f64,
    /// The plan, or the message of the [`Error::Unreachable`] that stands in its way.
    pub plan: std::result::Result<Plan, String>,
}

impl Bake {
    /// The same bake with a preferment that is ripe after a time, for which its dose is found.
    ///
    /// # Errors
    /// A time that the bake file does not take, or a bake without a preferment.
    pub fn with_ripe_after(&self, time: Hours) -> Result<Self> {
        let what = "time of the preferment";
        Self::check_key("preferment", "ripe_after_h", what, time.as_hours())?;
        if self.preferment.is_none() {
            let why = "this bake has no preferment; leave its time out";
            return Err(Error::contradiction(why));
        }
        self.with_ripening(time.as_hours())
    }

    /// The same bake with a bulk that takes a time, for which the yeast at the mix is found.
    ///
    /// # Errors
    /// A time that the bake file does not take.
    pub fn with_bulk_for(&self, time: Hours) -> Result<Self> {
        Self::check_key("process", "bulk_h", "time of the bulk", time.as_hours())?;
        let mut bake = self.clone();
        bake.process.bulk_dose_for = Some(hours(time.as_hours())?);
        (bake.process.bulk_time, bake.formula.yeast) = (None, None);
        Ok(bake)
    }
}

/// Plans a bake under each value of a condition.
///
/// # Errors
/// A value that the condition cannot take; yeast that is to be found. Where only the plan cannot be, that value's
/// [`Compared::plan`] says why.
///
/// ```
/// # use pointage::ferment::Parameters;
/// use pointage::plan::{Anchor, Condition, bake::Bake, compare};
/// # let bake = Bake::from_toml("format = 1\nname = \"x\"\n[formula]\npieces = 4\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.5\n[kitchen]\nroom_c = 22\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n")?;
/// # let places = bake.places(|f| Err(pointage::Error::NotFinite { what: f.into() }))?;
/// let p = Parameters::shipped()?;
/// let rooms = compare(&bake, &places, Anchor::MixAt(8.0), &p, Condition::Room, &[18.0, 26.0])?;
/// let out = |i: usize| rooms[i].plan.as_ref().map(|p| p.loads[0].oven_out_h);
/// assert!(out(1).unwrap() < out(0).unwrap()); // warmer is sooner
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn compare(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
    condition: Condition,
    values: &[f64],
) -> Result<Vec<Compared>> {
    if condition == Condition::Yeast && bake.process.bulk_dose_for.is_some() {
        return Err(Error::contradiction(
            "the yeast is found for the time of the bulk; vary another condition, or give the yeast",
        ));
    }
    let compared = values.iter().map(|&value| {
        let set = condition.set(bake, places, value);
        let (bake, places) =
            set.map_err(|e| e.at(format!("{} = {}", condition.name(), shown(value))))?;
        match plan(&bake, &places, anchor, p, Detail::default()) {
            Err(e) if !e.is_unreachable() => Err(e),
            plan => Ok(Compared {
                value,
                plan: plan.map_err(|e| e.to_string()),
            }),
        }
    });
    compared.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_has_its_steps() {
        let values = |text: &str| text.parse::<Vary>().unwrap().values;
        assert_eq!(values("room=18..26..2"), [18.0, 20.0, 22.0, 24.0, 26.0]);
        // Without a step, eighths.
        assert_eq!(
            values("room=18..26"),
            [18.0, 19.0, 20.0, 21.0, 22.0, 23.0, 24.0, 25.0, 26.0]
        );
        // A step that does not come out even ends below; one that does, in decimals too, at the end.
        assert_eq!(values("room=18..20..1.5"), [18.0, 19.5]);
        assert_eq!(values("room=18..18.3..0.1").len(), 4);
        assert_eq!(values("room=0..60..1").len(), 61);
        for bad in [
            "room",
            "room=18",
            "room=26..18",
            "room=18..26..0",
            "room=18..26..-1",
            "room=0..61..1",
            "room=1..2..3..4",
            "room=1..inf",
        ] {
            assert!(bad.parse::<Vary>().is_err(), "{bad}");
        }
    }
}
