//! Every key of the bake file: its meaning, unit, range, default and an example, each stated once.

use super::read::room;
use super::value::{KeyValue, Section};
use super::{ColdStage, HoldLaterLoads, Joins, ProofKind, Room};
use crate::error::{Error, Result, check, shown};
use crate::ferment::Kind;
use crate::formula::{Extra, Flour, Formula, OldDough, YeastKind};
use crate::heat::dough_body::Place;
use crate::plan::levers::Lever;
use crate::table;
use crate::units::{ClockTime, Mass, Percent, Temperature, TemperatureDifference};
use serde::Serialize;
use std::time::Duration;

/// A key of the bake file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Key {
    /// Its name, which ends in the unit.
    pub name: &'static str,
    /// What it means, in one line.
    pub meaning: &'static str,
    /// Unit of a plain number; empty for text.
    pub unit: &'static str,
    /// Smallest number allowed.
    pub low: f64,
    /// Largest number allowed.
    pub high: f64,
    /// What holds where the key is left out.
    pub absent: Absent,
    /// A value as written in the file.
    pub example: &'static str,
    /// The names that it can be, if it is one of a few.
    pub choices: fn(&Key) -> Vec<String>,
    #[cfg(feature = "schema")]
    pub schema: fn() -> schemars::Schema,
}

impl Key {
    /// A number in the range of the key.
    pub fn check(&self, what: &str, number: f64) -> Result<f64> {
        check(what, number, self.low, self.high, self.unit)
    }
}

/// What holds where a key is left out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Absent {
    /// The bake is refused.
    Required,
    /// This number.
    Number(f64),
    /// This name.
    Name(&'static str),
    /// A number of a table: the table's name and the number's.
    Table(&'static str, &'static str),
    /// Something that is no value of the key, in words.
    Means(&'static str),
}
use Absent::{Means, Name, Number, Required, Table};

/// A struct with a field for each key.
pub(super) trait Part: Sized {
    const KEYS: &'static [Key];

    fn read(section: &Section<'_>) -> Result<Self>;
}

macro_rules! keys {
    ($($(#[doc = $meaning:literal])+ $key:ident: $kind:ty $([$unit:literal $low:literal..=$high:literal])?
        = $absent:expr, $example:literal;)*) => {
        &[$(Key {
            name: stringify!($key),
            meaning: concat!($($meaning),+),
            unit: concat!($($unit)?),
            low: [$($low,)? f64::NEG_INFINITY][0],
            high: [$($high,)? f64::INFINITY][0],
            absent: $absent,
            example: $example,
            choices: <$kind as KeyValue>::choices,
            #[cfg(feature = "schema")]
            schema: <$kind as KeyValue>::schema,
        }),*]
    };
}

/// A struct with a field for each key, and what is `made` of several keys; `pub struct` defines it here.
macro_rules! section {
    ($(#[$about:meta])+ pub struct $name:ident {
        $($(#[doc = $meaning:literal])+ $key:ident as $vis:vis $field:ident: $kind:ty
            $([$unit:literal $low:literal..=$high:literal])? = $absent:expr, $example:literal;)*
    } $(made { $($(#[doc = $said:literal])+ $made:ident: $of:ty = $make:expr;)* })?) => {
        $(#[$about])+
        #[derive(Debug, Clone, PartialEq)]
        #[non_exhaustive]
        pub struct $name {
            $($(#[doc = $meaning])+ #[doc = concat!("\n\nKey `", stringify!($key), "`.")] $vis $field: $kind,)*
            $($($(#[doc = $said])+ pub $made: $of,)*)?
        }
        section! { $name {
            $($(#[doc = $meaning])+ $key as $field: $kind $([$unit $low..=$high])? = $absent, $example;)*
        } made { $($($made = $make;)*)? } }
    };
    ($name:ident {
        $($(#[doc = $meaning:literal])+ $key:ident as $vis:vis $field:ident: $kind:ty
            $([$unit:literal $low:literal..=$high:literal])? = $absent:expr, $example:literal;)*
    } $(made { $($made:ident = $make:expr;)* })?) => {
        impl Part for $name {
            const KEYS: &'static [Key] = keys! {
                $($(#[doc = $meaning])+ $key: $kind $([$unit $low..=$high])? = $absent, $example;)*
            };

            fn read(section: &Section<'_>) -> Result<Self> {
                Ok(Self {
                    $($field: section.get(stringify!($key))?,)*
                    $($($made: $make(section)?,)*)?
                })
            }
        }
    };
}

/// A bake: one bread, the kitchen it is made in, the work and the oven.
const TOP: &[Key] = keys! {
    /// Version of the form of the file.
    format: f64 = Required, "1";
    /// What the bread is called, in one line.
    name: String = Required, "\"Harvest round\"";
};

/// Pieces and what is lost of them; what the dough is made of stands in [`Formula`].
const PIECES: &[Key] = keys! {
    /// Number of pieces.
    pieces: u32 ["pieces" 1.0..=100_000.0] = Required, "24";
    /// Dough of one piece.
    piece_g: Mass ["g" 1.0..=50_000.0] = Required, "640";
    /// Dough left in the tub and on the hands, of the dough made.
    scrap_percent: Percent ["%" 0.0..=30.0] = Table("bake-file", "scrap_percent"), "1.5";
    /// What a piece loses in the oven, of its dough.
    bake_loss_percent: Option<Percent> ["%" 0.0..=50.0] = Means("not said"), "14";
};

/// The recipe in grams, each in place of the percentage that [`WEIGHED`] names; pieces scale it.
const FORMULA_GRAMS: &[Key] = keys! {
    /// All flour of the recipe, that of the preferment included.
    flour_g: Option<Mass> ["g" 1.0..=1e7] = Means("the recipe is in percent"), "1000";
    /// All water, that of the preferment and of old dough included.
    water_g: Mass ["g" 0.0..=1e7] = Means("by hydration_percent"), "700";
    /// All salt, that of the preferment and of old dough included.
    salt_g: Mass ["g" 0.0..=1e6] = Means("by salt_percent"), "20";
    /// Sugar added at the mix.
    sugar_g: Mass ["g" 0.0..=1e6] = Means("by sugar_percent"), "50";
    /// Fat added at the mix.
    fat_g: Mass ["g" 0.0..=1e7] = Means("by fat_percent"), "40";
    /// Yeast weighed at the mix.
    yeast_g: Mass ["g" 0.0..=1e6] = Means("by yeast_percent"), "4";
    /// Bassinage: the part of the water that is held back and worked in at the end of the mix.
    bassinage_g: Mass ["g" 0.0..=1e7] = Means("by bassinage_percent"), "40";
};

/// A flour of a recipe in grams.
const FLOUR_GRAMS: &[Key] = keys! {
    /// Its mass.
    flour_g: Option<Mass> ["g" 0.0..=1e7] = Means("by share_percent"), "150";
};

/// An extra or old dough of a recipe in grams.
const EXTRA_GRAMS: &[Key] = keys! {
    /// Its mass.
    mass_g: Mass ["g" 0.0..=1e7] = Means("by percent"), "120";
};

/// A preferment of a recipe in grams.
const PREFERMENT_GRAMS: &[Key] = keys! {
    /// Its flour, part of all flour.
    flour_g: Mass ["g" 0.1..=1e7] = Means("by flour_percent"), "300";
    /// Its water.
    water_g: Mass ["g" 0.0..=1e7] = Means("by hydration_percent"), "300";
    /// Its salt.
    salt_g: Mass ["g" 0.0..=1e6] = Means("by salt_percent"), "0";
    /// Its yeast; in place of `ripe_after_h`.
    yeast_g: Mass ["g" 0.0..=1e6] = Means("by dose_percent"), "0.6";
};

/// The yeast of a reference in grams, as the recipe has it.
const REFERENCE_GRAMS: &[Key] = keys! {
    /// The yeast of its preferment, for the recipe's flour.
    preferment_yeast_g: Mass ["g" 0.0..=1e6] = Means("by preferment_dose_percent"), "0.6";
    /// Its yeast weighed at the mix, for the recipe's flour.
    yeast_g: Mass ["g" 0.0..=1e6] = Means("by yeast_percent"), "4";
};

/// Percentages that may be weighed: section, percentage, grams. The percentage is of the section's flour.
pub(super) const WEIGHED: [(&str, &str, &str); 15] = [
    ("formula", "hydration_percent", "water_g"),
    ("formula", "salt_percent", "salt_g"),
    ("formula", "sugar_percent", "sugar_g"),
    ("formula", "fat_percent", "fat_g"),
    ("formula", "yeast_percent", "yeast_g"),
    ("formula", "bassinage_percent", "bassinage_g"),
    ("formula.flour", "share_percent", "flour_g"),
    ("formula.extra", "percent", "mass_g"),
    ("formula.old_dough", "percent", "mass_g"),
    ("preferment", "flour_percent", "flour_g"),
    ("preferment", "hydration_percent", "water_g"),
    ("preferment", "salt_percent", "salt_g"),
    ("preferment", "dose_percent", "yeast_g"),
    ("reference", "preferment_dose_percent", "preferment_yeast_g"),
    ("reference", "yeast_percent", "yeast_g"),
];

/// What is meant by other names of a preferment's dose and time, and of a proof's time.
const OWN_DOSE: &str = "dose_percent, its yeast of its own flour";
const RIPE_AFTER: &str = "ripe_after_h, or [reference] preferment_h for what works";
const CHILLED: &str = "[preferment.cold] with hours and room_c";
const PROOFED: &str = "[reference] proof_min, with proof_c";

/// The key of the grams that a percentage of a section may be weighed in.
pub(super) fn grams_of(section: &str, percent: &str) -> Option<&'static str> {
    let mut weighed = WEIGHED.iter();
    let row = weighed.find(|row| (row.0, row.1) == (section, percent))?;
    Some(row.2)
}

/// Names that stand for something else here: section, name, and what is meant.
pub(super) const MEANT: [(&str, &str, &str); 17] = [
    ("formula", "water_percent", "hydration_percent"),
    ("formula", "loaves", "pieces"),
    ("preferment", "yeast_percent", OWN_DOSE),
    ("preferment", "share_percent", "flour_percent"),
    ("preferment", "hours", RIPE_AFTER),
    ("preferment", "ripe_h", RIPE_AFTER),
    ("preferment", "cold_c", CHILLED),
    ("preferment", "fridge_h", CHILLED),
    ("process", "proof_min", PROOFED),
    ("process", "proof_h", PROOFED),
    ("process", "friction", "friction_factor_c"),
    ("process", "mixing_min", "mix_min"),
    ("process", "slow_min", "mix_min, the minutes of all speeds"),
    ("process", "fast_min", "mix_min, the minutes of all speeds"),
    ("kitchen", "mixer_capacity_g", "mixer_kg"),
    ("oven", "pieces", "pieces_per_load"),
    ("oven", "capacity", "pieces_per_load"),
];

section! {
    Formula {
        /// All water, that of the preferment and of old dough included.
        hydration_percent as hydration: Percent ["%" 30.0..=200.0] = Required, "70";
        /// All salt, that of the preferment and of old dough included.
        salt_percent as salt: Percent ["%" 0.0..=8.0] = Table("compositions", "dough_salt_percent"), "2.1";
        /// Sugar added at the mix.
        sugar_percent as sugar: Percent ["%" 0.0..=40.0] = Number(0.0), "5";
        /// Fat added at the mix.
        fat_percent as fat: Percent ["%" 0.0..=150.0] = Number(0.0), "4";
        /// Yeast weighed at the mix.
        yeast_percent as yeast: Option<Percent> ["%" 0.0..=20.0] = Number(0.0), "0.3";
        /// Bassinage: the part of the water that is held back and worked in at the end of the mix.
        bassinage_percent as bassinage: Percent ["%" 0.0..=50.0] = Number(0.0), "4";
    } made {
        flours = |keys: &Section<'_>| keys.list("formula.flour");
        extras = |keys: &Section<'_>| keys.list("formula.extra");
        old_dough = |keys: &Section<'_>| keys.below("formula.old_dough")?.optional(OldDough::read);
        // Read from other sections.
        yeast_kind = |_: &_| Ok(YeastKind::Instant);
        preferment = |_: &_| Ok(None);
    }
}

section! {
    Flour {
        /// What the baker calls it.
        name as name: String = Required, "\"rye\"";
        /// Share of all flour.
        share_percent as share: Percent ["%" 0.0..=100.0] = Required, "15";
    }
}

section! {
    Extra {
        /// What the baker calls it.
        name as name: String = Required, "\"seeds\"";
        /// Its mass, of all flour.
        percent as percent: Percent ["%" 0.0..=300.0] = Required, "12";
        /// Water in it, of its own mass; it does not count toward the hydration.
        water_percent as water: Option<Percent> ["%" 0.0..=100.0] = Means("not said"), "8";
    }
}

section! {
    OldDough {
        /// Its mass, of all flour of the new dough.
        percent as percent: Percent ["%" 0.0..=100.0] = Required, "15";
        /// Its water.
        hydration_percent as hydration: Percent ["%" 20.0..=200.0] = Table("compositions", "old_dough_hydration_percent"), "65";
        /// Its salt.
        salt_percent as salt: Percent ["%" 0.0..=10.0] = Table("compositions", "old_dough_salt_percent"), "2";
        /// Its yeast, as fresh.
        yeast_percent as yeast: Percent ["%" 0.0..=20.0] = Table("compositions", "old_dough_yeast_percent"), "1.5";
    }
}

section! {
    /// The part of the dough that ripens ahead; percentages are of its own flour.
    pub struct PrefermentStep {
        /// The time in which it is to ripen, for which the dose is found; in place of `dose_percent`.
        ripe_after_h as pub ripe_after: Option<Duration> ["h" 0.5..=96.0] = Means("found from dose_percent"), "12";
        /// Its desired temperature after its mix.
        dough_c as pub dough: Temperature ["°C" 5.0..=40.0] = Table("bake-file", "preferment_dough_c"), "22";
        /// As much more of it, for another dough.
        extra_preferment_g as pub also: Mass ["g" 0.0..=1e7] = Number(0.0), "500";
        /// What is around it where it stands.
        stands_in as pub stands_in: Place = Name("still-room"), "\"fridge\"";
        /// When it meets the rest of the dough.
        joins as pub joins: Joins = Name("mix"), "\"autolyse\"";
        /// Heat that its mix puts into each kg.
        mixing_heat_kj_per_kg as pub mixing_heat_kj_per_kg: f64 ["kJ/kg" 0.0..=60.0] = Table("properties", "mixing_hand_kj_per_kg"), "2";
    } made {
        /// Where it stands: `room_c` or its likes; `None` is the kitchen's room.
        room: Option<Room> = |keys: &_| room(keys);
        /// `[preferment.cold]`: its stay in the cold, if it has one.
        cold: Option<ColdStay> = |keys: &Section<'_>| keys.below("preferment.cold")?.optional(ColdStay::read);
    }
}

/// What a preferment is made of.
const PREFERMENT: &[Key] = keys! {
    /// What it is.
    kind: Kind = Required, "\"poolish\"";
    /// Its flour, of all flour.
    flour_percent: Percent ["%" 0.1..=100.0] = Required, "30";
    /// The one flour it is made of.
    flour: Option<String> = Means("the blend of the formula"), "\"rye\"";
    /// Its water.
    hydration_percent: Option<Percent> ["%" 30.0..=200.0] = Means("as usual for its kind"), "100";
    /// Its salt.
    salt_percent: Option<Percent> ["%" 0.0..=8.0] = Means("as usual for its kind"), "0";
    /// Its yeast; in place of `ripe_after_h`.
    dose_percent: Option<Percent> ["%" 0.0001..=20.0] = Means("found from ripe_after_h"), "0.2";
};

/// How warm a place is, in one of three ways: always the same, a record, or a daily wave.
const ROOM: &[Key] = keys! {
    /// How warm it is there, always the same.
    room_c: Option<Temperature> ["°C" -20.0..=50.0] = Means("the kitchen's room"), "20";
    /// A CSV file of its temperatures.
    room_record: Option<String> = Means("no record"), "\"room.csv\"";
    /// Time of day of hour 0 of the record.
    room_record_from: Option<ClockTime> = Means("the record's own dates"), "\"18:00\"";
    /// How many days before the day of the bake hour 0 lies.
    room_record_days_before: u32 ["days" 0.0..=14.0] = Number(1.0), "1";
    /// Mean of the day.
    room_mean_c: Option<Temperature> ["°C" -20.0..=50.0] = Means("no daily wave"), "20";
    /// How far above and below the mean it goes.
    room_amplitude_c: TemperatureDifference ["°C" 0.0..=25.0] = Required, "3";
    /// Time of day when it is warmest.
    room_warmest: ClockTime = Required, "\"16:00\"";
};

section! {
    /// Where the dough is made.
    pub struct Kitchen {
        /// Temperature of the flour.
        flour_c as pub flour: Option<Temperature> ["°C" -20.0..=50.0] = Means("as warm as the room"), "18";
        /// The coldest water from the tap.
        tap_c as pub tap: Temperature ["°C" 0.0..=60.0] = Table("bake-file", "tap_c"), "12";
        /// Temperature of the yeast.
        yeast_c as pub yeast: Option<Temperature> ["°C" -25.0..=50.0] = Means("as warm as the room"), "5";
        /// Temperature of the ice.
        ice_c as pub ice: Temperature ["°C" -40.0..=0.0] = Number(0.0), "-6";
        /// The smallest step the scale shows.
        scale_step_g as pub scale_step: Mass ["g" 0.001..=100.0] = Table("bake-file", "scale_step_g"), "0.1";
        /// Height above the sea.
        altitude_m as pub altitude_m: f64 ["m" -500.0..=6000.0] = Number(0.0), "640";
        /// Water in the flour as bought, of its mass.
        flour_moisture_percent as pub flour_moisture: Percent ["%" 0.0..=20.0] = Table("properties", "flour_moisture_percent"), "13.5";
        /// The most dough that the mixer takes at once; more is mixed in batches, each with its own loads.
        mixer_kg as pub mixer: Option<Mass> ["kg" 0.05..=5000.0] = Means("enough"), "30";
        /// How many shaped pieces the boards hold.
        board_capacity as pub board_capacity: Option<u32> ["pieces" 1.0..=100_000.0] = Means("enough"), "40";
        /// How many pieces the retarder holds.
        retarder_capacity as pub retarder_capacity: Option<u32> ["pieces" 1.0..=100_000.0] = Means("enough"), "40";
        /// Room for the bulk.
        tub_l as pub tub_l: Option<f64> ["L" 0.1..=10_000.0] = Means("enough"), "60";
    } made {
        /// The room, in one of three ways.
        room: Room = |keys: &_| room(keys)?.ok_or_else(|| Error::malformed(
            "missing the room; add room_c = 20, or room_record = \"room.csv\", or room_mean_c, \
             room_amplitude_c and room_warmest"));
    }
}

/// The yeast of the formula.
const KITCHEN: &[Key] = keys! {
    /// The yeast that is weighed.
    yeast: YeastKind = Name("instant"), "\"fresh\"";
};

section! {
    /// The work on the dough.
    pub struct Process {
        /// Desired dough temperature, at the end of the mix.
        dough_c as pub dough: Temperature ["°C" 5.0..=45.0] = Required, "25";
        /// Heat that the mixer puts into each kg of dough.
        mixing_heat_kj_per_kg as pub mixing_heat_kj_per_kg: Option<f64> ["kJ/kg" 0.0..=60.0] = Means("that of the friction, else of a gentle mixer"), "7";
        /// Friction factor of the desired-dough-temperature formula.
        friction_factor_c as pub friction_factor: Option<TemperatureDifference> ["°C" -10.0..=60.0] = Means("no answer by the formula"), "12";
        /// Base temperature: the sum of flour, room and water, in place of `friction_factor_c`.
        base_c as pub base_c: Option<f64> ["°C" 10.0..=130.0] = Means("no answer by the formula"), "56";
        /// Rest of flour and water before the mix.
        autolyse_min as pub autolyse: Duration ["min" 0.0..=1440.0] = Number(0.0), "30";
        /// Length of the mix, at all speeds together.
        mix_min as pub mix: Duration ["min" 0.0..=60.0] = Table("bake-file", "mix_min"), "12";
        /// Temperature of the bassinage.
        bassinage_c as pub bassinage: Option<Temperature> ["°C" 0.0..=60.0] = Means("as cold as the tap"), "6";
        /// How warm it is where the bulk stands.
        bulk_c as pub bulk_place: Option<Temperature> ["°C" -10.0..=50.0] = Means("as warm as the room"), "26";
        /// What is around the bulk.
        bulk_in as pub bulk_in: Place = Name("still-room"), "\"dry-proofer\"";
        /// Time constant with which the dough in bulk follows the air around it, as two readings tell.
        tub_time_constant_h as pub tub_time_constant: Option<Duration> ["h" 0.05..=100.0] = Means("by its mass and bulk_in"), "2.5";
        /// Length of the bulk fermentation by the clock.
        bulk_min as pub bulk_time: Option<Duration> ["min" 0.0..=5760.0] = Means("ends by bulk_rise"), "60";
        /// How far the bulk rises: V/V0 at which the bulk fermentation ends, 2 when doubled.
        bulk_rise as pub bulk_rise: f64 ["as a ratio" 1.05..=4.0] = Number(2.0), "1.8";
        /// Length of the bulk fermentation to its end point, for which the dose at the mix is found.
        bulk_h as pub bulk_dose_for: Option<Duration> ["h" 0.25..=96.0] = Means("the dose is given"), "2.5";
        /// Folds, from the start of the bulk, in order.
        folds_min as pub folds: Vec<Duration> ["min" 0.0..=5760.0] = Means("none"), "[30, 60]";
        /// Dividing and pre-shaping all pieces.
        divide_min as pub divide: Duration ["min" 0.0..=1440.0] = Table("bake-file", "divide_min"), "15";
        /// Bench rest: from dividing to shaping.
        bench_rest_min as pub rest: Duration ["min" 0.0..=1440.0] = Table("bake-file", "bench_rest_min"), "25";
        /// Longest bench rest; at least `bench_rest_min`.
        bench_rest_max_min as pub rest_max: Duration ["min" 0.0..=1440.0] = Table("bake-file", "bench_rest_max_min"), "70";
        /// Shaping a load.
        shape_min as pub shape: Duration ["min" 0.0..=1440.0] = Table("bake-file", "shape_min"), "15";
        /// How a piece stands in its final proof.
        proof as pub(crate) proof: ProofKind = Name("hearth"), "\"tin\"";
        /// How warm it is where the pieces proof.
        proof_c as pub proof_place: Option<Temperature> ["°C" -10.0..=50.0] = Means("as warm as the room"), "24";
        /// What is around the pieces there.
        proof_in as pub proof_in: Place = Name("still-room"), "\"humid-proofer\"";
        /// Shape of a piece: a ball is 1, a long loaf 6 and more.
        loaf_length_to_diameter as pub loaf_length_to_diameter: f64 ["as a ratio" 0.2..=20.0] = Table("bake-file", "loaf_length_to_diameter"), "1.2";
        /// What may be done with pieces that wait for the oven, in order of preference.
        hold_later_loads as pub(crate) hold_later_loads: Vec<HoldLaterLoads> = Name("shape-later"), "[\"shape-later\"]";
        /// Temperature of the retarder; given exactly when `hold_later_loads` lists it.
        retarder_c as pub retarder: Option<Temperature> ["°C" -5.0..=25.0] = Means("no retarder"), "6";
        /// What may be changed to meet two hours at once, in this order.
        may_change as pub may_change: Option<Vec<Lever>> = Means("yeast, dough_c, warm_place, retarder"), "[\"yeast\", \"dough_c\"]";
        /// Shortest stay in the retarder that is worth the move.
        shortest_retard_min as pub shortest_retard: Duration ["min" 0.0..=240.0] = Table("bake-file", "shortest_retard_min"), "45";
        /// Cooling after the oven.
        cool_min as pub cool: Duration ["min" 0.0..=1440.0] = Table("bake-file", "cool_min"), "90";
    }
}

/// What [`Process`] has in another form.
const PROCESS: &[Key] = keys! {
    /// Dividing and pre-shaping one piece; in place of `divide_min`.
    divide_s_per_piece: Option<f64> ["s" 0.0..=3600.0] = Means("by divide_min"), "20";
    /// Shaping one piece; in place of `shape_min`.
    shape_s_per_piece: Option<f64> ["s" 0.0..=3600.0] = Means("by shape_min"), "15";
};

/// A bake of this recipe that worked: what is left out stands as in this file.
const REFERENCE: &[Key] = keys! {
    /// How long its preferment ripened.
    preferment_h: Option<Duration> ["h" 0.5..=96.0] = Means("ripe as in published recipes"), "8";
    /// The preferment's mean temperature meanwhile.
    preferment_c: Option<Temperature> ["°C" 0.0..=45.0] = Means("given with preferment_h"), "22";
    /// The yeast of its preferment, of the preferment's flour.
    preferment_dose_percent: Option<Percent> ["%" 0.0001..=20.0] = Means("the recipe's dose_percent"), "0.5";
    /// Its yeast weighed at the mix.
    yeast_percent: Option<Percent> ["%" 0.0..=20.0] = Means("the recipe's yeast_percent"), "0.4";
    /// How long its bulk fermentation took.
    bulk_min: Option<Duration> ["min" 5.0..=5760.0] = Means("ends by bulk_rise"), "60";
    /// The dough's mean temperature meanwhile.
    bulk_c: Option<Temperature> ["°C" 0.0..=45.0] = Means("given with bulk_min"), "24";
    /// How far the dough rose, as a jar shows: V/V0 at the end of the bulk.
    bulk_rise: Option<f64> ["as a ratio" 1.05..=4.0] = Means("as the model follows bulk_min"), "1.7";
    /// How long its final proof took.
    proof_min: Option<Duration> ["min" 5.0..=5760.0] = Means("as in published recipes"), "45";
    /// The mean temperature of the pieces meanwhile.
    proof_c: Option<Temperature> ["°C" 0.0..=45.0] = Means("given with proof_min"), "24";
};

/// What [`ColdStay`] is of.
const COLD: &[Key] = keys! {
    /// What stays in the cold; of a preferment it stands in `[preferment.cold]`.
    stage: ColdStage = Required, "\"proof\"";
};

section! {
    /// A stay in the cold, of a preferment, the bulk or the shaped pieces.
    pub struct ColdStay {
        /// How long.
        hours as pub time: Duration ["h" 0.5..=96.0] = Required, "10";
        /// How long it stands in its place before the cold.
        after_min as pub after: Duration ["min" 0.0..=1440.0] = Number(0.0), "30";
        /// How long it stands out of the cold before it is mixed, divided or baked: 0 is straight from the cold.
        out_min as pub out: Option<Duration> ["min" 0.0..=1440.0] = Means("until it is ready"), "20";
        /// What is around the dough there.
        stands_in as pub stands_in: Place = Name("fridge"), "\"fan-fridge\"";
    } made {
        /// How cold. A fridge that a large load warms is a record.
        room: Room = |keys: &_| room(keys)?.ok_or_else(|| Error::malformed(
            "missing how cold it is; add room_c = 4, or room_record = \"fridge.csv\""));
    }
}

section! {
    /// When someone is there for the work; always without it.
    #[derive(Copy)]
    pub struct People {
        /// The first hour of work.
        from as pub from: ClockTime = Required, "\"05:00\"";
        /// The last.
        until as pub until: ClockTime = Required, "\"22:00\"";
    }
}

section! {
    /// The oven.
    pub struct Oven {
        /// Pieces that it takes at once.
        pieces_per_load as pub pieces_per_load: Option<u32> ["pieces" 1.0..=100_000.0] = Means("all of them"), "12";
        /// Time in the oven.
        bake_min as pub bake: Duration ["min" 1.0..=600.0] = Required, "40";
        /// Time to come back to heat between two loads.
        oven_recovery_min as pub recover: Duration ["min" 0.0..=1440.0] = Number(0.0), "10";
        /// Time to heat oven and stone before the first load.
        preheat_min as pub preheat: Duration ["min" 0.0..=1440.0] = Number(0.0), "45";
    }
}

/// A section: its path, what it tells, and its keys. The first is the top of the file.
type Heading = (&'static str, &'static str, &'static [&'static [Key]]);

/// Every section.
#[rustfmt::skip]
pub(super) const SECTIONS: [Heading; 13] = [
    ("", "One bread, the kitchen it is made in, the work and the oven.", &[TOP]),
    ("formula", "What the dough is made of, in grams or percent of all flour, as you like; pieces scale it.", &[PIECES, FORMULA_GRAMS, Formula::KEYS]),
    ("formula.flour", "A flour and its share.", &[Flour::KEYS, FLOUR_GRAMS]),
    ("formula.extra", "Anything else that goes in at the mix.", &[Extra::KEYS, EXTRA_GRAMS]),
    ("formula.old_dough", "A piece of an earlier dough; percentages are of its own flour.", &[OldDough::KEYS, EXTRA_GRAMS]),
    ("preferment", "The part of the dough that ripens ahead; percentages are of its own flour.",
        &[PREFERMENT, PREFERMENT_GRAMS, PrefermentStep::KEYS, ROOM]),
    ("preferment.cold", "A preferment begun warm and finished in the cold.", &[ColdStay::KEYS, ROOM]),
    ("reference", "A bake of this recipe that worked: its times, and how warm the dough was on average. Plans move away from it. \
        Leave its yeast alone when you change the recipe's.",
        &[REFERENCE, REFERENCE_GRAMS]),
    ("kitchen", "Where the dough is made.", &[Kitchen::KEYS, KITCHEN, ROOM]),
    ("process", "The work on the dough.", &[Process::KEYS, PROCESS]),
    ("cold", "A stay of the bulk or of the shaped pieces in the cold.", &[COLD, ColdStay::KEYS, ROOM]),
    ("working_hours", "When someone is there for the work; always without it.", &[People::KEYS]),
    ("oven", "The oven.", &[Oven::KEYS]),
];

/// Every name of the bake file with the section it stands in: keys, and sections below it.
pub(super) fn names() -> impl Iterator<Item = (&'static str, &'static str)> {
    let sections = SECTIONS.iter().skip(1);
    let sections = sections.map(|(path, ..)| path.rsplit_once('.').unwrap_or(("", path)));
    let keys = keys().map(|(section, key)| (section, key.name));
    keys.chain(sections)
}

/// Every key of the bake file with its section, in the order in which a bake is written.
pub(super) fn keys() -> impl Iterator<Item = (&'static str, &'static Key)> {
    let sections = SECTIONS.iter();
    sections
        .flat_map(|(section, _, keys)| keys.iter().copied().flatten().map(|key| (*section, key)))
}

/// A section of the bake file with its keys, as whoever writes one wants to know them.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BakeSection {
    /// Its heading without brackets; empty for the top of the file.
    pub section: &'static str,
    /// What stands in it.
    pub about: &'static str,
    /// Its keys, in the order in which a bake is written.
    pub keys: Vec<BakeKey>,
}

/// A key of the bake file, as whoever writes one wants to know it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BakeKey {
    /// Its name, which ends in the unit.
    pub key: &'static str,
    /// What it means.
    pub meaning: &'static str,
    /// Unit of a plain number; empty for text.
    pub unit: &'static str,
    /// Smallest and largest number allowed; none for text.
    pub range: Option<[f64; 2]>,
    /// The names that it can be; none where it is no choice of a few.
    pub choices: Vec<String>,
    /// What holds where the key is left out: a number, a name, `required`, or what that means.
    pub default: String,
    /// A value as written in the file.
    pub example: &'static str,
}

/// Every section of the bake file.
///
/// # Errors
/// Only if an embedded table were damaged.
pub fn bake_sections() -> Result<Vec<BakeSection>> {
    let listed = |path: &str, key: &Key| -> Result<BakeKey> {
        let default = match key.absent {
            Required => match grams_of(path, key.name) {
                Some(grams) => format!("required, or {grams}"),
                None => "required".to_owned(),
            },
            Number(number) => shown(number),
            Table(id, name) => shown(table::get(id)?.number(name)?),
            Name(words) | Means(words) => words.to_owned(),
        };
        Ok(BakeKey {
            key: key.name,
            meaning: key.meaning.trim(),
            unit: key.unit,
            range: key.low.is_finite().then_some([key.low, key.high]),
            choices: (key.choices)(key),
            default,
            example: key.example,
        })
    };
    let section = |&(section, about, keys): &Heading| {
        let keys = keys.concat();
        let keys = keys.iter().map(|key| listed(section, key));
        let keys = keys.collect::<Result<_>>()?;
        Ok(BakeSection {
            section,
            about,
            keys,
        })
    };
    SECTIONS.iter().map(section).collect()
}
