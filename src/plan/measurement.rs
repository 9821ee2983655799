//! What was measured or seen on the way, as it is written (`mix 27.4C 04:52`) and on the clock of a plan.

use super::model::Plan;
use crate::error::{Error, Result, named};
use crate::ferment::parse_rise;
use crate::table;
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
    /// The dough in bulk is not ready to be divided yet; for a log.
    BulkUnready,
    /// It is ready just then, and divided.
    BulkReady,
    /// It has been in bulk too long.
    BulkPast,
    /// A shaped piece of the first load has risen, in a straight-sided jar, to so many times its volume when it was
    /// shaped, 1 to 5.
    ProofRise(f64),
    /// A finger pressed into a piece of the first load.
    ProofDent(Dent),
}
use Checkpoint::{BulkPast, BulkReady, BulkUnready, ProofDent, ProofRise};
use Checkpoint::{BulkRise, Mixed, PrefermentPast, PrefermentRipe, PrefermentUnripe};

/// What a dent does that a floured finger pressed into a piece, half a centimetre deep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Dent {
    /// It is gone at once: the proof needs much longer.
    GoneAtOnce,
    /// It springs back within a second or two: not yet.
    GoneQuickly,
    /// It springs back slowly, and not quite to the top: ready.
    GoneSlowly,
    /// It stays: over-proofed.
    Stays,
}

named! { "dent" Dent {
    GoneAtOnce = "dent_gone_at_once", GoneQuickly = "dent_gone_quickly", GoneSlowly = "dent_gone_slowly",
    Stays = "dent_stays",
} }

impl Dent {
    /// The share of a proof's end point that it stands for, by judgement: the numbers of the table `day`.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn share(self) -> Result<f64> {
        table::get("day")?.number(self.name())
    }

    /// The dent that a proof at a share of its end point shows.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn of(share: f64) -> Result<Self> {
        let mut nearest = (f64::INFINITY, Self::GoneSlowly);
        for dent in Self::ALL {
            let off = (dent.share()? - share).abs();
            if off < nearest.0 {
                nearest = (off, dent);
            }
        }
        Ok(nearest.1)
    }
}

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
            BulkRise(_) | BulkUnready | BulkReady | BulkPast => (4, "the bulk"),
            ProofRise(_) | ProofDent(_) => (5, "the proof"),
        }
    }
}

impl std::str::FromStr for Measured<ClockTime> {
    type Err = Error;
    /// Reads `mix 27.4C 04:52`, `bulk 1.6x 06:00`, `bulk ready 06:20` (`unready`, `past`), `preferment ripe 04:10`
    /// (`unripe`, `past`), `proof 1.5x 07:10` and `proof springs back slowly 07:10` (`at once`, `quickly`; `proof dent
    /// stays`; `proof ready`, `unready`, `past` mean slowly, quickly, stays), also as a sentence: `the
    /// preferment was ripe at 04:10`.
    fn from_str(text: &str) -> Result<Self> {
        let refuse = || {
            Error::text(
                "measurement",
                text,
                "what was seen and its hour, such as \"mix 27.4C 04:52\", \"bulk 1.6x 06:00\", \"bulk ready 06:20\" (unready, past), \"preferment ripe 04:10\" (unripe, past), \"proof 1.5x 07:10\" or \"proof springs back slowly 07:10\" (at once, quickly, or: dent stays)",
            )
        };
        let words = text.split_whitespace();
        let filler = ["the", "was", "is", "at", "rise", "back", "a"];
        let words: Vec<&str> = words.filter(|word| !filler.contains(word)).collect();
        let (at, what) = words.split_last().ok_or_else(refuse)?;
        let what = match *what {
            ["preferment", "ripe"] => PrefermentRipe,
            ["preferment", "unripe"] => PrefermentUnripe,
            ["preferment", "past"] => PrefermentPast,
            ["mix", dough] => Mixed(dough.parse()?),
            ["bulk", "unready"] => BulkUnready,
            ["bulk", "ready"] => BulkReady,
            ["bulk", "past"] => BulkPast,
            ["bulk", rise] => BulkRise(parse_rise(rise).ok_or_else(refuse)?),
            ["proof", "springs", "once"] => ProofDent(Dent::GoneAtOnce),
            ["proof", "springs", "quickly"] | ["proof", "unready"] => ProofDent(Dent::GoneQuickly),
            ["proof", "springs", "slowly"] | ["proof", "ready"] => ProofDent(Dent::GoneSlowly),
            ["proof", "dent", "stays"] | ["proof", "past"] => ProofDent(Dent::Stays),
            ["proof", rise] => ProofRise(parse_rise(rise).ok_or_else(refuse)?),
            _ => return Err(refuse()),
        };
        let at = at.parse()?;
        Ok(Self { what, at })
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
            BulkRise(_) | BulkUnready | BulkReady | BulkPast => mixed
                .zip(plan.stage("divide"))
                .map(|(mixed, divide)| 0.5 * (mixed + divide.start_h)),
            ProofRise(_) | ProofDent(_) => {
                (plan.stage("proof")).map(|proof| 0.5 * (proof.start_h + proof.end_h))
            }
            _ => plan.preferment.as_ref().map(|p| p.used_h),
        };
        let begins = plan.stages.first().map(|s| s.start_h);
        Ok(Measured {
            what: self.what,
            at: near(self.at, expected.or(begins).unwrap_or(0.0))?,
        })
    }
}
