//! The bake file: one bread, the kitchen it is made in, the work and the oven.
//!
//! A bake is written as TOML, with the unit in the name of each key:
//!
//! ```toml
//! format = 1
//! name = "Harvest round"
//!
//! [formula]
//! pieces = 24
//! piece_g = 640
//! hydration_percent = 70
//! yeast_percent = 0.3            # weighed at the mix, percent of all flour
//!
//! [preferment]
//! kind = "poolish"
//! flour_percent = 30             # of all flour
//! ripe_after_h = 12              # or dose_percent, of its own flour
//!
//! [reference]                    # a bake of it that works: times, and the dough's mean °C
//! bulk_min = 75
//! bulk_c = 24
//!
//! [kitchen]
//! room_c = 19
//!
//! [process]
//! dough_c = 25                   # wanted at the end of the mix
//!
//! [oven]
//! pieces_per_load = 8
//! bake_min = 42
//! ```
//!
//! The fields of [`Bake`] name the keys. A temperature, mass,
//! percentage or time may also be text with its own unit, such as `"75F"`, `"1.2kg"` or `"1h30"`. Percentages in
//! `[formula]` are of all flour; those of a preferment or old dough are of its own flour. With `flour_g` each of them may
//! be given in grams instead (`water_g`, `salt_g`): they are the recipe, which the pieces scale. [`bake_sections`] lists
//! every key.

mod keys;
mod read;
mod value;

pub use keys::{BakeKey, BakeSection, ColdStay, Kitchen, PrefermentStep, Process, bake_sections};
pub(crate) use keys::{Oven, People};

use crate::error::{Error, Result, words_of};
use crate::formula::{Batch, Formula};
use crate::plan::Finding;
use crate::toml_text;
use crate::units::{ClockTime, Mass, Percent, Temperature, TemperatureDifference, as_hours};
use keys::keys;
use serde::{Deserialize, Deserializer};
use std::time::Duration;
use value::Node;

/// A market baker's poolish loaves: a bake file to start from, and the demo of the program.
pub const DEMO: &str = include_str!("../../data/demo/market-poolish.toml");

/// A bake as read from its file: every number in range, every default filled in.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Bake {
    /// `name`, required.
    pub name: String,
    /// `[formula]`, and what `[preferment]` is made of: `hydration_percent` (required),
    /// `salt_percent` (2), `sugar_percent`, `fat_percent`, `yeast_percent`, `bassinage_percent`
    /// (0), `[[formula.flour]]`, `[[formula.extra]]`, `[formula.old_dough]`; the kind of yeast is
    /// `yeast` of `[kitchen]` (instant). Doses that are still to be found are `None` in it.
    pub formula: Formula,
    /// `flour_g` of `[formula]`: all flour of the recipe, where that is in grams.
    pub(crate) recipe_flour: Option<Mass>,
    /// `pieces` of `[formula]`, required.
    pub pieces: u32,
    /// `piece_g` of `[formula]`, required: the dough of one piece.
    pub piece: Mass,
    /// `scrap_percent` of `[formula]` (1): dough left in the tub and on the hands, of the dough made.
    pub scrap: Percent,
    /// `bake_loss_percent` of `[formula]`: what a piece loses in the oven, of its dough.
    pub bake_loss: Option<Percent>,
    /// `[preferment]`: how the preferment is held, if there is one.
    pub preferment: Option<PrefermentStep>,
    /// `[reference]`: a bake of this recipe that worked, which sets its end points.
    pub(crate) reference: Reference,
    /// `[kitchen]`.
    pub kitchen: Kitchen,
    /// `[process]`.
    pub process: Process,
    /// `[cold]`: a stay of the bulk or the shaped pieces in the cold, if there is one.
    pub cold: Option<ColdStay>,
    /// What stays there.
    pub(crate) cold_stage: ColdStage,
    /// `[working_hours]`: when someone is there; always without it.
    pub(crate) people: Option<People>,
    /// `[oven]`.
    pub(crate) oven: Oven,
}

/// A bake of this recipe that worked.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Reference {
    pub preferment: Option<StageReference>,
    /// Yeast of its preferment, in the bake's kind, of the preferment's flour.
    pub dose: Option<Percent>,
    pub bulk: Option<StageReference>,
    /// How far its bulk rose, where that is known beside its time.
    pub bulk_rise: Option<f64>,
    /// True where the file says how far a bulk rises, here or in `[process]`.
    pub rise_is_given: bool,
    pub proof: Option<StageReference>,
    /// Yeast at its mix, in the bake's kind, of all flour.
    pub yeast: Percent,
}

impl Reference {
    /// True where minutes end a stage, and no jar has told how far its dough rises by then.
    pub fn hides_rise(&self, stage: Option<StageReference>) -> bool {
        stage.is_some() && self.bulk_rise.is_none()
    }
}

/// How long a stage took, and its dough's mean temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct StageReference {
    pub time: Duration,
    pub dough: Temperature,
}

/// What stays in the cold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub(crate) enum ColdStage {
    /// `"bulk"`: the dough in its tub; afterwards it warms up in the place of the bulk.
    Bulk,
    /// `"proof"`: the shaped pieces; afterwards they come to the proof place until they are ready, or into the oven.
    Proof,
}

/// When the preferment meets the rest of the dough.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Joins {
    /// `"autolyse"`: it rests with flour and water before the mix.
    Autolyse,
    /// `"mix"`.
    Mix,
}

/// The temperature of a room against time.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Room {
    /// `room_c`: always the same.
    Constant(Temperature),
    /// `room_record`: a CSV file. This crate reads no file, the caller does.
    Record {
        /// Name of the file, as written.
        file: String,
        /// `room_record_from`: the time of day of the record's hour 0; `None` when the record carries
        /// dates of its own.
        from: Option<ClockTime>,
        /// `room_record_days_before` (1): how many days before the day of the bake hour 0 lies.
        days_before: u8,
    },
    /// `room_mean_c`, `room_amplitude_c` and `room_warmest`: a daily wave.
    Daily {
        /// Mean of the day.
        mean: Temperature,
        /// How far above and below the mean it goes.
        amplitude: TemperatureDifference,
        /// Time of day when it is warmest.
        warmest: ClockTime,
    },
}

/// How a piece stands in its proof.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub(crate) enum ProofKind {
    /// `"hearth"`: free.
    Hearth,
    /// `"tin"`.
    Tin,
}

/// What may be done with pieces that wait for the oven.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub(crate) enum HoldLaterLoads {
    /// `"shape-later"`: a longer rest, up to [`Process::rest_max`].
    ShapeLater,
    /// `"retarder"`: held at [`Process::retarder`] after shaping.
    Retarder,
    /// `"divide-later"`: a longer bulk.
    DivideLater,
}

impl Bake {
    /// A share of all flour in the grams of the recipe, where that is in grams.
    #[must_use]
    pub fn recipe_g(&self, percent: f64) -> Option<f64> {
        let flour = self.recipe_flour?;
        Some(flour.as_grams() * percent / 100.0)
    }

    /// Another dose at the mix, in the recipe's grams too.
    pub(super) fn change_yeast(&self, yeast_percent: f64, given_percent: f64) -> Finding {
        Finding::ChangeYeast {
            yeast_percent,
            given_percent,
            yeast_g: self.recipe_g(yeast_percent),
            given_g: self.recipe_g(given_percent),
        }
    }

    /// The stay in the cold, if it is this that stays there.
    pub(super) fn cold_of(&self, stage: ColdStage) -> Option<&ColdStay> {
        self.cold.as_ref().filter(|_| self.cold_stage == stage)
    }

    /// The stay of the preferment in the cold.
    pub(super) fn preferment_cold(&self) -> Option<&ColdStay> {
        self.preferment.as_ref()?.cold.as_ref()
    }

    /// How warm a preferment comes from its mix that is chilled, and hours and °C of its places from then on; `None` where
    /// there is no such one, or where its places change.
    #[must_use]
    pub fn chilled_preferment(&self) -> Option<(Temperature, Vec<[f64; 2]>)> {
        /// The walk from one place to the other, h.
        const WALK_H: f64 = 0.01;
        let (step, cold) = (self.preferment.as_ref()?, self.preferment_cold()?);
        let place_c = |room: &Room| match room {
            Room::Constant(t) => Some(t.as_celsius()),
            _ => None,
        };
        let room_c = place_c(step.room.as_ref().unwrap_or(&self.kitchen.room))?;
        let cold_c = place_c(&cold.room)?;
        let into = as_hours(cold.after);
        let out = into + as_hours(cold.time);
        let places = [
            (into, room_c),
            (into + WALK_H, cold_c),
            (out, cold_c),
            (out + WALK_H, room_c),
            (out + 1000.0, room_c),
        ];
        // Straight into the cold it is never in the room; out of it, it stays there as long as anyone asks.
        let places = places.into_iter().filter(|(hour, _)| *hour > 0.0);
        Some((step.dough, places.map(|(hour, c)| [hour, c]).collect()))
    }

    /// Every place that the bake gives: the kitchen, where the preferment stands and is chilled, where bulk or proof is.
    pub fn rooms(&self) -> impl Iterator<Item = &Room> {
        let own = self.preferment.as_ref().and_then(|own| own.room.as_ref());
        let cold = self.preferment_cold().into_iter().chain(&self.cold);
        [&self.kitchen.room]
            .into_iter()
            .chain(own)
            .chain(cold.map(|cold| &cold.room))
    }

    /// How long a bulk stands out of the cold before it is divided, where the clock says so.
    pub(super) fn out_of_cold(&self) -> Option<Duration> {
        self.cold_of(ColdStage::Bulk).and_then(|cold| cold.out)
    }

    /// The preferment of the baker's reference: its yeast, how long it ripened, and how warm it was on average.
    #[must_use]
    pub fn reference_preferment(&self) -> Option<(Percent, Duration, Temperature)> {
        let (own, dose) = self.reference.preferment.zip(self.reference.dose)?;
        Some((dose, own.time, own.dough))
    }

    /// So many percent of the preferment's flour, as in the recipe's grams, g; `None` without a preferment, or where the
    /// recipe is in percent.
    #[must_use]
    pub fn preferment_g(&self, percent: f64) -> Option<f64> {
        let own = self.formula.preferment.as_ref()?;
        self.recipe_g(percent * own.share.as_fraction())
    }

    /// Reads a bake file.
    ///
    /// # Errors
    /// Anything that is not a bake: more than 1 MiB, not TOML, another `format`, a key that is unknown,
    /// missing, of the wrong type, out of range or contradicts another, a formula that cannot be made.
    /// The message begins with the line and names the key.
    ///
    /// ```
    /// use pointage::plan::bake::Bake;
    /// let text = "
    /// format = 1
    /// name = \"Harvest round\"
    /// [formula]
    /// pieces = 24
    /// piece_g = 640
    /// hydration_percent = 70
    /// yeast_percent = 0.8
    /// [kitchen]
    /// room_c = 19
    /// [process]
    /// dough_c = 25
    /// [oven]
    /// bake_min = 42
    /// ";
    /// let bake = Bake::from_toml(text)?;
    /// assert_eq!(bake.pieces, 24);
    ///
    /// let error = Bake::from_toml(&text.replace("room_c = 19", "room_c = 190")).unwrap_err();
    /// assert_eq!(error.to_string(), "line 10: [kitchen] room_c: the value is 190 °C, but must lie \
    ///     between -20 and 50 °C");
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn from_toml(text: &str) -> Result<Self> {
        let (file, lines) = toml_text::parse(text)?;
        read::bake(&Node::file(file, &lines))
    }

    /// Reads a bake from JSON or another format of serde, with the keys of the file.
    ///
    /// # Errors
    /// As [`Bake::from_toml`], without a line.
    pub fn from_serde<'de, D: Deserializer<'de>>(from: D) -> Result<Self> {
        let file = Node::deserialize(from).map_err(|e| Error::malformed(words_of(e)))?;
        read::bake(&file)
    }

    /// The same bake with another number of pieces, another piece, or both.
    ///
    /// # Errors
    /// No pieces or more than 100 000; a piece outside 1 g to 50 kg.
    pub fn with_pieces(&self, pieces: Option<u32>, piece: Option<Mass>) -> Result<Self> {
        let mut bake = self.clone();
        if let Some(pieces) = pieces {
            Self::check_key("formula", "pieces", "number of pieces", pieces.into())?;
            bake.pieces = pieces;
        }
        if let Some(piece) = piece {
            Self::check_key("formula", "piece_g", "piece", piece.as_grams())?;
            bake.piece = piece;
        }
        Ok(bake)
    }

    /// Refuses a number that a key does not take.
    pub(super) fn check_key(section: &str, name: &str, what: &str, value: f64) -> Result<f64> {
        let mut keys = keys().filter(|(path, _)| *path == section);
        let key = keys.find(|(_, key)| key.name == name);
        key.map_or(Ok(value), |(_, key)| key.check(what, value))
    }

    /// What to weigh for all pieces and the scrap.
    ///
    /// # Errors
    /// As [`Formula::for_pieces`]; a bake as read from its file has none.
    pub fn batch(&self) -> Result<Batch> {
        self.formula.for_pieces(self.pieces, self.piece, self.scrap)
    }

    /// Pieces that go into the oven at once: what it takes, at most all of them.
    pub(crate) fn pieces_per_load(&self) -> u32 {
        let all = self.pieces;
        self.oven.pieces_per_load.map_or(all, |most| most.min(all))
    }
}

#[cfg(feature = "schema")]
impl schemars::JsonSchema for Bake {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Bake".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        value::schema("")
    }
}

#[cfg(test)]
mod tests;
