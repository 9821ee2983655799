//! A measurement as it is written: `mix 27.4C 04:52`.

use super::adjust::Measured;
use super::model::Plan;
use crate::error::{Error, Result};
use crate::units::{ClockTime, Temperature};

/// A measurement with its time of day; [`Reading::on`] puts it on the clock of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    what: What,
    clock: ClockTime,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum What {
    Ripe,
    Unripe,
    Past,
    Mixed(Temperature),
    Rise(f64),
}

impl std::str::FromStr for Reading {
    type Err = Error;
    /// Reads `mix 27.4C 04:52`, `bulk rise 1.6 06:00` and `preferment ripe 04:10` (`unripe`, `past`), also
    /// as a sentence: `the preferment was ripe at 04:10`.
    fn from_str(text: &str) -> Result<Self> {
        let refuse = || {
            Error::text(
                "measurement",
                text,
                "\"mix 27.4C 04:52\", \"bulk rise 1.6 06:00\", or \"preferment ripe 04:10\" (unripe, past)",
            )
        };
        let words: Vec<&str> = text
            .split_whitespace()
            .filter(|word| !["the", "was", "is", "at"].contains(word))
            .collect();
        let (what, clock) = match words.as_slice() {
            ["preferment", "ripe", clock] => (What::Ripe, clock),
            ["preferment", "unripe", clock] => (What::Unripe, clock),
            ["preferment", "past", clock] => (What::Past, clock),
            ["mix", dough, clock] => (What::Mixed(dough.parse()?), clock),
            ["bulk", "rise", ratio, clock] => {
                let ratio = ratio.parse().ok().filter(|r: &f64| (1.0..=5.0).contains(r));
                (What::Rise(ratio.ok_or_else(refuse)?), clock)
            }
            _ => return Err(refuse()),
        };
        Ok(Self {
            what,
            clock: clock.parse()?,
        })
    }
}

impl Reading {
    /// The measurement on the plan's clock. `near` gives, of the days around, the hour of the plan at which
    /// a time of day comes nearest to an expected hour; expected is the hour at which the plan has the event.
    ///
    /// # Errors
    /// Those of `near`.
    ///
    /// ```
    /// # use pointage::ferment::Parameters;
    /// use pointage::plan::{Anchor, Measured, Reading, bake::Bake, plan};
    /// # let bake = Bake::from_toml("format = 1\nname = \"x\"\n[formula]\npieces = 4\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.5\n[kitchen]\nroom_c = 22\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n")?;
    /// # let places = bake.places(|f| Err(pointage::Error::NotFinite { what: f.into() }))?;
    /// let plan = plan(&bake, &places, Anchor::MixAt(8.0), &Parameters::shipped()?)?;
    /// let reading: Reading = "mix 27.4C 08:10".parse()?;
    /// let measured = reading.on(&plan, |clock, _| Ok::<_, pointage::Error>(clock.as_hours()))?;
    /// assert!(matches!(measured, Measured::Mixed { hour, .. } if (hour - 8.1667).abs() < 1e-3));
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn on<E>(
        self,
        plan: &Plan,
        near: impl Fn(ClockTime, f64) -> std::result::Result<f64, E>,
    ) -> std::result::Result<Measured, E> {
        let expected = match self.what {
            What::Ripe | What::Unripe | What::Past => plan.preferment.as_ref().map(|p| p.used_h),
            What::Mixed(_) => plan.stage("mix").map(|s| s.end_h),
            What::Rise(_) => plan
                .stage("mix")
                .zip(plan.stage("divide"))
                .map(|(a, b)| 0.5 * (a.end_h + b.start_h)),
        };
        let begins = plan.stages.first().map(|s| s.start_h);
        let hour = near(self.clock, expected.or(begins).unwrap_or(0.0))?;
        Ok(match self.what {
            What::Ripe => Measured::PrefermentRipe { hour },
            What::Unripe => Measured::PrefermentUnripe { hour },
            What::Past => Measured::PrefermentPast { hour },
            What::Mixed(dough) => Measured::Mixed { dough, hour },
            What::Rise(ratio) => Measured::BulkRise { ratio, hour },
        })
    }
}
