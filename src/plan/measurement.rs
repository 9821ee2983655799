//! What was measured or seen on the way, as it is written (`mix 27.4C 04:52`) and on the clock of a plan.

use super::model::Plan;
use crate::error::{Error, Result};
use crate::ferment::parse_rise;
use crate::units::{ClockTime, Temperature};
use serde::{Deserialize, Serialize};

/// What was measured or seen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Checkpoint {
    /// The preferment is not ripe yet at the hour when it should be used.
    PrefermentUnripe,
    /// The preferment is ripe.
    PrefermentRipe,
    /// The preferment is past its best.
    PrefermentPast,
    /// The dough comes off the mixer at this temperature.
    Mixed(Temperature),
    /// The dough in bulk has risen, in a straight-sided jar, to so many times its volume off the mixer, 1 to 5.
    BulkRise(f64),
}
use Checkpoint::{BulkRise, Mixed, PrefermentPast, PrefermentRipe, PrefermentUnripe};

/// An observation with its hour on the clock of a plan; with its time of day as it is written.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured<T = f64> {
    /// What was seen.
    pub what: Checkpoint,
    /// When.
    pub at: T,
}

impl Checkpoint {
    /// How far the dough is on its way, and that in words.
    pub(super) fn step(self) -> (u8, &'static str) {
        match self {
            PrefermentUnripe => (0, "the preferment unripe"),
            PrefermentRipe => (1, "the preferment ripe"),
            PrefermentPast => (2, "the preferment past its best"),
            Mixed(_) => (3, "the dough off the mixer"),
            BulkRise(_) => (4, "the rise of the bulk"),
        }
    }
}

impl std::str::FromStr for Measured<ClockTime> {
    type Err = Error;
    /// Reads `mix 27.4C 04:52`, `bulk 1.6x 06:00` and `preferment ripe 04:10` (`unripe`, `past`), also
    /// as a sentence: `the preferment was ripe at 04:10`.
    fn from_str(text: &str) -> Result<Self> {
        let refuse = || {
            Error::text(
                "measurement",
                text,
                "\"mix 27.4C 04:52\", \"bulk 1.6x 06:00\", or \"preferment ripe 04:10\" (unripe, past)",
            )
        };
        let words = text.split_whitespace();
        let words = words.filter(|word| !["the", "was", "is", "at", "rise"].contains(word));
        let (what, at) = match *words.collect::<Vec<_>>() {
            ["preferment", "ripe", at] => (PrefermentRipe, at),
            ["preferment", "unripe", at] => (PrefermentUnripe, at),
            ["preferment", "past", at] => (PrefermentPast, at),
            ["mix", dough, at] => (Mixed(dough.parse()?), at),
            ["bulk", rise, at] => (BulkRise(parse_rise(rise).ok_or_else(refuse)?), at),
            _ => return Err(refuse()),
        };
        Ok(Self {
            what,
            at: at.parse()?,
        })
    }
}

impl Measured<ClockTime> {
    /// The measurement on the plan's clock. `near` gives, of the days around, the hour of the plan at which
    /// a time of day comes nearest to an expected hour; expected is the hour at which the plan has the event.
    ///
    /// # Errors
    /// Those of `near`.
    ///
    /// ```
    /// # use pointage::ferment::Parameters;
    /// use pointage::plan::{Anchor, Detail, Measured, bake::Bake, plan};
    /// use pointage::units::ClockTime;
    /// # let bake = Bake::from_toml("format = 1\nname = \"x\"\n[formula]\npieces = 4\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.5\n[kitchen]\nroom_c = 22\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n")?;
    /// # let places = bake.places(|f| Err(pointage::Error::NotFinite { what: f.into() }))?;
    /// let plan = plan(&bake, &places, Anchor::MixAt(8.0), &Parameters::shipped()?, Detail::default())?;
    /// let written: Measured<ClockTime> = "mix 27.4C 08:10".parse()?;
    /// let measured = written.on(&plan, |clock, _| Ok::<_, pointage::Error>(clock.as_hours()))?;
    /// assert!((measured.at - 8.1667).abs() < 1e-3);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn on<E>(
        self,
        plan: &Plan,
        near: impl Fn(ClockTime, f64) -> std::result::Result<f64, E>,
    ) -> std::result::Result<Measured, E> {
        let mixed = plan.stage("mix").map(|s| s.end_h);
        let expected = match self.what {
            Mixed(_) => mixed,
            BulkRise(_) => mixed
                .zip(plan.stage("divide"))
                .map(|(mixed, divide)| 0.5 * (mixed + divide.start_h)),
            _ => plan.preferment.as_ref().map(|p| p.used_h),
        };
        let begins = plan.stages.first().map(|s| s.start_h);
        Ok(Measured {
            what: self.what,
            at: near(self.at, expected.or(begins).unwrap_or(0.0))?,
        })
    }
}
