//! What a column may be called, for each command, and how its cells are read; and what the answers are.

use super::super::parse::number;
use pointage::ferment::{Kind, Perturbations};
use pointage::formula::YeastKind;
use pointage::units::{
    Mass, Percent, Temperature, TemperatureDifference, as_hours, parse_duration,
};
use pointage::{Error, Result};
use pointage_api::dose::{DoseRequest, dose_among};
use pointage_api::ready::{ReadyRequest, ready_among, ready_hours};
use pointage_api::water::{WaterRequest, water};
use pointage_api::{Until, to_line};

/// A command that takes rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Command {
    Ready,
    Dose,
    Water,
}

impl Command {
    pub const ALL: [Self; 3] = [Self::Ready, Self::Dose, Self::Water];

    pub fn name(self) -> &'static str {
        match self {
            Self::Ready => ReadyRequest::NAME,
            Self::Dose => DoseRequest::NAME,
            Self::Water => WaterRequest::NAME,
        }
    }
}

impl std::str::FromStr for Command {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        let known = Self::ALL.map(Self::name);
        let found = Self::ALL.into_iter().find(|c| c.name() == text);
        found.ok_or_else(|| super::super::parse::refusal("command", text, &known.join(", ")))
    }
}

/// The unit of a number; tells how the value of a flag is written.
#[derive(Clone, Copy)]
pub enum Unit {
    Celsius,
    Kelvin,
    Grams,
    Percent,
    Hours,
    Plain,
}

impl Unit {
    /// Reads a value as it is written after a flag, into the unit of the key.
    pub fn read(self, text: &str) -> Result<f64> {
        Ok(match self {
            Self::Celsius => text.parse::<Temperature>()?.as_celsius(),
            Self::Kelvin => text.parse::<TemperatureDifference>()?.as_kelvin(),
            Self::Grams => text.parse::<Mass>()?.as_grams(),
            Self::Percent => text.parse::<Percent>()?.as_percent(),
            Self::Hours => as_hours(parse_duration(text)?),
            Self::Plain => number(text)?,
        })
    }
}

/// A column of a question.
pub struct Column<Q> {
    pub key: &'static str,
    pub flag: &'static str,
    pub needed: bool,
    pub cell: Cell<Q>,
}

/// What its cells hold.
pub enum Cell<Q> {
    Number(Unit, fn(&mut Q, f64)),
    Name(fn(&mut Q, &str) -> Result<()>),
}

/// A question that can stand in a row.
pub trait Question: Sized + 'static {
    const NAME: &'static str;
    const COLUMNS: &'static [Column<Self>];
    /// Names of the numbers of an answer.
    const NUMBERS: &'static [&'static str];
    /// A question without its values; those that are needed are no numbers.
    fn blank() -> Self;
    /// Hands over the numbers of its answer in the order of [`NUMBERS`](Self::NUMBERS).
    fn numbers(&self, near: &Perturbations, to: impl FnMut(Option<f64>)) -> Result<()>;
    /// The answer as --json prints it, with whose numbers it is reckoned.
    fn line(&self, near: &Perturbations, own_numbers: Option<&String>) -> Result<String>;
}

/// `number!(at_c, "at", Celsius)`: the key, its flag, its unit.
macro_rules! number {
    ($key:ident, $flag:literal, $unit:ident) => {
        Column {
            key: stringify!($key),
            flag: $flag,
            needed: false,
            cell: Cell::Number(Unit::$unit, |q, value| q.$key = Some(value)),
        }
    };
    ($key:ident, $flag:literal, $unit:ident, needed) => {
        Column {
            key: stringify!($key),
            flag: $flag,
            needed: true,
            cell: Cell::Number(Unit::$unit, |q, value| q.$key = value),
        }
    };
}

/// `name!(yeast, YeastKind)`: a key and flag alike whose value is a name.
macro_rules! name {
    ($key:ident, $kind:ident) => {
        Column {
            key: stringify!($key),
            flag: stringify!($key),
            needed: false,
            cell: Cell::Name(|q, text| {
                q.$key = Some(text.parse::<$kind>()?);
                Ok(())
            }),
        }
    };
    ($key:ident, $kind:ident, needed) => {
        Column {
            key: stringify!($key),
            flag: stringify!($key),
            needed: true,
            cell: Cell::Name(|q, text| {
                q.$key = text.parse::<$kind>()?;
                Ok(())
            }),
        }
    };
}

fn pair(of: Option<[f64; 2]>) -> [Option<f64>; 2] {
    [of.map(|of| of[0]), of.map(|of| of[1])]
}

impl Question for ReadyRequest {
    const NAME: &'static str = "ready";
    const COLUMNS: &'static [Column<Self>] = &[
        name!(kind, Kind, needed),
        number!(dose_percent, "dose", Percent, needed),
        name!(yeast, YeastKind),
        number!(at_c, "at", Celsius),
        number!(mixed_at_c, "mixed-at", Celsius),
        number!(room_c, "room", Celsius),
        number!(flour_mass_g, "flour-mass", Grams),
        number!(hydration_percent, "hydration", Percent),
        number!(salt_percent, "salt", Percent),
        name!(until, Until),
    ];
    const NUMBERS: &'static [&'static str] = &[
        "ready_h",
        "range_low_h",
        "range_high_h",
        "window_open_h",
        "window_close_h",
        "dough_end_c",
    ];
    fn blank() -> Self {
        Self::new(Kind::Poolish, f64::NAN)
    }

    fn numbers(&self, near: &Perturbations, to: impl FnMut(Option<f64>)) -> Result<()> {
        let a = ready_hours(self, near)?;
        let [low, high] = pair(a.range_h);
        let (open, close) = a.window_h;
        [
            Some(a.ready_h),
            low,
            high,
            Some(open),
            close,
            Some(a.dough_end_c),
        ]
        .into_iter()
        .for_each(to);
        Ok(())
    }

    fn line(&self, near: &Perturbations, own_numbers: Option<&String>) -> Result<String> {
        let mut answer = ready_among(self, near)?;
        answer.notes.extend(own_numbers.cloned());
        to_line(&answer)
    }
}

impl Question for DoseRequest {
    const NAME: &'static str = "dose";
    const COLUMNS: &'static [Column<Self>] = &[
        name!(kind, Kind, needed),
        number!(for_h, "for", Hours, needed),
        number!(at_c, "at", Celsius),
        number!(mixed_at_c, "mixed-at", Celsius),
        number!(room_c, "room", Celsius),
        number!(flour_mass_g, "flour-mass", Grams),
        name!(yeast, YeastKind),
        number!(hydration_percent, "hydration", Percent),
        number!(salt_percent, "salt", Percent),
        name!(until, Until),
        number!(from_dose_percent, "from-dose", Percent),
        number!(from_time_h, "from-time", Hours),
        number!(from_at_c, "from-at", Celsius),
        number!(scale_step_g, "scale-step", Grams),
    ];
    const NUMBERS: &'static [&'static str] = &[
        "dose_percent",
        "fresh_percent",
        "yeast_g",
        "range_low_percent",
        "range_high_percent",
        "proportional_percent",
        "proportional_difference_percent",
        "weigh_yeast_g",
        "weigh_water_g",
        "weigh_take_g",
        "weigh_water_taken_g",
        "weigh_left_g",
        "for_h",
        "dough_end_c",
    ];
    fn blank() -> Self {
        Self::new(Kind::Poolish, f64::NAN)
    }

    fn numbers(&self, near: &Perturbations, to: impl FnMut(Option<f64>)) -> Result<()> {
        let a = dose_among(self, near)?;
        let [low, high] = pair(a.range_percent);
        let weigh = a.weigh.as_ref();
        [
            Some(a.dose_percent),
            Some(a.fresh_percent),
            a.yeast_g,
            low,
            high,
            a.proportional_percent,
            a.proportional_difference_percent,
            weigh.map(|w| w.yeast_g),
            weigh.map(|w| w.water_g),
            weigh.map(|w| w.take_g),
            weigh.map(|w| w.water_taken_g),
            weigh.map(|w| w.left_g),
            Some(a.for_h),
            Some(a.dough_end_c),
        ]
        .into_iter()
        .for_each(to);
        Ok(())
    }

    fn line(&self, near: &Perturbations, own_numbers: Option<&String>) -> Result<String> {
        let mut answer = dose_among(self, near)?;
        answer.notes.extend(own_numbers.cloned());
        to_line(&answer)
    }
}

impl Question for WaterRequest {
    const NAME: &'static str = "water";
    const COLUMNS: &'static [Column<Self>] = &[
        number!(dough_c, "dough", Celsius),
        number!(flour_c, "flour", Celsius),
        number!(room_c, "room", Celsius),
        number!(preferment_c, "preferment", Celsius),
        number!(friction_factor_c, "friction", Kelvin),
        // A sum in °F depends on the number of its terms: in a row it is in °C.
        number!(base_c, "base", Plain),
        number!(flour_mass_g, "flour-mass", Grams),
        number!(water_mass_g, "water-mass", Grams),
        number!(salt_mass_g, "salt-mass", Grams),
        number!(salt_c, "salt", Celsius),
        number!(preferment_mass_g, "preferment-mass", Grams),
        number!(
            preferment_heat_capacity_kj_per_kg_k,
            "preferment-heat-capacity",
            Plain
        ),
        number!(preferment_hydration_percent, "", Percent),
        number!(yeast_mass_g, "yeast-mass", Grams),
        number!(yeast_c, "yeast-temp", Celsius),
        number!(flour_moisture_percent, "flour-moisture", Percent),
        number!(hydration_heat_kj_per_kg, "hydration-heat", Plain),
        number!(mixing_heat_kj_per_kg, "mixing-heat", Plain),
        number!(bowl_mass_g, "bowl-mass", Grams),
        number!(bowl_c, "bowl", Celsius),
        number!(rest_h, "rest", Hours),
        number!(rest_room_c, "rest-room", Celsius),
        number!(rest_time_constant_h, "", Hours),
        number!(bassinage_g, "bassinage", Grams),
        number!(bassinage_c, "bassinage-temp", Celsius),
        number!(tap_c, "tap", Celsius),
        number!(ice_c, "ice-temp", Celsius),
    ];
    const NUMBERS: &'static [&'static str] = &[
        "ddt_formula_water_c",
        "ddt_formula_base_c",
        "ddt_formula_friction_factor_c",
        "ddt_formula_real_rise_c",
        "ddt_formula_ice_g",
        "ddt_formula_tap_g",
        "heat_balance_water_c",
        "heat_balance_dough_per_water",
        "heat_balance_hydration_rise_c",
        "heat_balance_mixing_rise_c",
        "heat_balance_rest_start_c",
        "heat_balance_rest_end_c",
        "heat_balance_ice_g",
        "heat_balance_tap_g",
        "difference_c",
    ];
    fn blank() -> Self {
        Self::default()
    }

    fn numbers(&self, _: &Perturbations, to: impl FnMut(Option<f64>)) -> Result<()> {
        let a = water(self)?;
        let rule = a.ddt_formula.as_ref();
        let balance = a.heat_balance.as_ref();
        [
            rule.map(|r| r.water_c),
            rule.map(|r| r.base_c),
            rule.and_then(|r| r.friction_factor_c),
            rule.and_then(|r| r.real_rise_c),
            rule.and_then(|r| r.ice_g),
            rule.and_then(|r| r.tap_g),
            balance.map(|b| b.water_c),
            balance.map(|b| b.dough_per_water),
            balance.map(|b| b.hydration_rise_c),
            balance.map(|b| b.mixing_rise_c),
            balance.and_then(|b| b.rest_start_c),
            balance.and_then(|b| b.rest_end_c),
            balance.and_then(|b| b.ice_g),
            balance.and_then(|b| b.tap_g),
            a.difference_c,
        ]
        .into_iter()
        .for_each(to);
        Ok(())
    }

    fn line(&self, _: &Perturbations, _: Option<&String>) -> Result<String> {
        to_line(&water(self)?)
    }
}
