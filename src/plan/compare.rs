//! How water, dose and clock move with one condition.

use super::bake::Bake;
use super::places::Places;
use super::{Anchor, Plan, plan};
use crate::error::{Error, Result};
use crate::ferment::Parameters;
use crate::units::{Percent, Temperature};

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

impl Condition {
    /// All conditions.
    pub const ALL: [Self; 5] = [Self::Room, Self::Dough, Self::Flour, Self::Tap, Self::Yeast];

    /// The name on the command line.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Room => "room",
            Self::Dough => "dough",
            Self::Flour => "flour",
            Self::Tap => "tap",
            Self::Yeast => "yeast",
        }
    }

    /// Its unit.
    #[must_use]
    pub fn unit(self) -> &'static str {
        if self == Self::Yeast { "%" } else { "°C" }
    }

    /// The bake and its rooms under this condition.
    fn set(self, bake: &Bake, places: &Places, value: f64) -> Result<(Bake, Places)> {
        let (mut bake, mut places) = (bake.clone(), places.clone());
        match self {
            Self::Room => places = places.with_kitchen(&bake, Temperature::celsius(value)?)?,
            Self::Dough => bake.process.dough = Temperature::celsius(value)?,
            Self::Flour => bake.kitchen.flour = Some(Temperature::celsius(value)?),
            Self::Tap => bake.kitchen.tap = Temperature::celsius(value)?,
            Self::Yeast => bake.formula.yeast = Some(Percent::new(value)?),
        }
        Ok((bake, places))
    }
}

impl std::str::FromStr for Condition {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        let known = Self::ALL.map(Self::name);
        let found = Self::ALL.into_iter().find(|c| c.name() == text);
        found.ok_or_else(|| Error::unknown_name("condition", text, known))
    }
}

/// A bake planned under one value of a condition.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Compared {
    /// The value.
    pub value: f64,
    /// The plan, or why there is none.
    pub plan: Result<Plan>,
}

/// Plans a bake under each value of a condition.
///
/// # Errors
/// A value that the condition cannot take. Where only the plan cannot be, that value's
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
    places: &Places,
    anchor: Anchor,
    p: &Parameters,
    condition: Condition,
    values: &[f64],
) -> Result<Vec<Compared>> {
    let compared = values.iter().map(|&value| {
        let set = condition.set(bake, places, value);
        let (bake, places) = set.map_err(|e| e.at(format!("{} = {value}", condition.name())))?;
        match plan(&bake, &places, anchor, p) {
            Err(e) if !e.is_unreachable() => Err(e),
            plan => Ok(Compared { value, plan }),
        }
    });
    compared.collect()
}
