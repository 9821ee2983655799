//! All numbers of the model in one place, as shipped, and how sure they are.

use super::{Effects, EndPoint, GasCurve, GasSpace, Kind, Kinetics, Rates};
use crate::error::{Error, Result};
use crate::rate::{Cardinal, RateLaw, SquareRoot, Tabulated};
use crate::table::{self, Table};
use crate::units::Temperature;
use std::sync::OnceLock;

/// The numbers of the model.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Parameters {
    /// Temperature curves and rates.
    pub kinetics: Kinetics,
    /// Salt and sugar.
    pub effects: Effects,
    /// Gas and volume.
    pub space: GasSpace,
    /// Heat of fermentation, kJ per mol CO2.
    pub heat_kj_per_mol: f64,
    /// The window of use.
    pub window: Window,
    /// Gas made at the end of each kind.
    pub levels: Levels,
    /// Dividing, shaping and the final proof.
    pub proof: Proof,
    /// How sure the rest is.
    pub spread: Spread,
}

/// The window of use, as shares of the end point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// From here on it may be used.
    pub open: f64,
    /// Up to here; then it begins to fall.
    pub close: f64,
}

/// CO2 made at the end point, mL per 100 g of the stage's flour, and the scatter of its logarithm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// The gas made.
    pub gas: f64,
    /// Standard deviation of its logarithm.
    pub log_sd: f64,
}

/// The level of each kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Levels {
    /// Ripe poolish.
    pub poolish: Level,
    /// Ripe biga.
    pub biga: Level,
    /// Sponge at its first drop.
    pub sponge: Level,
    /// Doubled dough; old dough is taken there too.
    pub doubled: Level,
}

/// From bulk to oven.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Proof {
    /// Share of the free gas that a dough keeps at each handling, dividing or shaping.
    pub kept: f64,
    /// V/V0 at which a hearth loaf is ready for the oven.
    pub hearth_ratio: f64,
    /// V/V0 at which a tin loaf is.
    pub tin_ratio: f64,
    /// Standard deviation of the logarithm of the proof time that the two leave.
    pub log_sd: f64,
}

/// Standard deviations of what the levels do not cover.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Of the tilt of the gas curve, per 10 K.
    pub tilt: f64,
    /// Temperature about which it tilts, where most doughs are.
    pub tilt_about: Temperature,
    /// Of the logarithm of the growth rate.
    pub growth_rate: f64,
    /// Of the logarithm of the growth cap.
    pub growth_cap: f64,
    /// Of the logarithm of the lag.
    pub lag: f64,
    /// Of the logarithm of the end point when it comes from a baker's own recipe.
    pub own_recipe: f64,
}

impl Parameters {
    /// The numbers as shipped, from the tables in `data/`.
    ///
    /// # Errors
    /// Only if an embedded table were damaged.
    pub fn shipped() -> Result<Self> {
        // Put together at the first use: whoever asks many questions asks for them every time.
        static SHIPPED: OnceLock<Result<Parameters>> = OnceLock::new();
        SHIPPED.get_or_init(Self::from_tables).clone()
    }

    fn from_tables() -> Result<Self> {
        let gas = table::get("slator1906_square_root")?;
        let growth = table::get("zakhartsev2015")?;
        let ferment = table::get("defaults")?;
        let levels = table::get("levels")?;
        let proof = table::get("proof")?;
        let co2 = table::get("co2")?;
        let law = SquareRoot::new(
            gas.number("t_min_c")?,
            gas.number("t_max_c")?,
            gas.number("c_per_k")?,
            gas.number("reference_c")?,
        )?;
        let cold = Tabulated::new(
            table::get("slator1906")?
                .knots
                .iter()
                .map(|k| [k.temperature_c, k.relative_rate])
                .collect(),
        )?;
        let best = growth.number("t_opt_c")?;
        let growth_law = Cardinal::new(
            growth.number("t_min_c")?,
            best,
            growth.number("t_max_c")?,
            best,
        )?;
        let rates = Rates {
            specific_gas_rate: ferment.number("q30_ml_per_g_h")?,
            growth_rate: ferment.number("growth_rate_per_h")?,
            growth_cap: ferment.number("growth_cap_g_per_100g")?,
            lag27_h: ferment.number("lag27_h")?,
        };
        let curve = GasCurve::joined(
            RateLaw::SquareRoot(law),
            cold,
            Temperature::celsius(gas.number("join_c")?)?,
        )?;
        Ok(Self {
            kinetics: Kinetics::new(curve, RateLaw::Cardinal(growth_law), rates)?,
            effects: effects(ferment, co2)?,
            space: space(ferment, co2)?,
            heat_kj_per_mol: ferment.number("heat_kj_per_mol")?,
            window: Window {
                open: ferment.number("window_open")?,
                close: ferment.number("window_close")?,
            },
            levels: Levels {
                poolish: level(levels, "poolish_ml_per_100g")?,
                biga: level(levels, "biga_ml_per_100g")?,
                sponge: level(levels, "sponge_ml_per_100g")?,
                doubled: level(levels, "dough_ml_per_100g")?,
            },
            proof: Proof {
                kept: proof.number("kept")?,
                hearth_ratio: proof.number("hearth_ratio")?,
                tin_ratio: proof.number("tin_ratio")?,
                log_sd: proof.number("proof_time_log_sd")?,
            },
            spread: Spread {
                tilt: gas.number("tilt_log_sd")?,
                tilt_about: Temperature::celsius(gas.number("tilt_about_c")?)?,
                growth_rate: log_sd(ferment, "growth_rate_per_h")?,
                growth_cap: log_sd(ferment, "growth_cap_g_per_100g")?,
                lag: log_sd(ferment, "lag27_h")?,
                own_recipe: ferment.number("own_recipe_log_sd")?,
            },
        })
    }

    /// The gas made at an end point, mL per 100 g flour.
    #[must_use]
    pub fn gas_at(&self, end: EndPoint) -> f64 {
        match end {
            EndPoint::Gas(gas) => gas,
            EndPoint::Doubled => self.levels.doubled.gas,
            EndPoint::Ripe(kind) => self.level(kind).gas,
        }
    }

    /// The level of a kind.
    #[must_use]
    pub fn level(&self, kind: Kind) -> Level {
        match kind {
            Kind::Poolish => self.levels.poolish,
            Kind::Biga => self.levels.biga,
            Kind::Sponge => self.levels.sponge,
            Kind::OldDough | Kind::Dough => self.levels.doubled,
        }
    }

    /// The same with other rates.
    ///
    /// # Errors
    /// A rate out of its range.
    pub fn with_rates(&self, rates: Rates) -> Result<Self> {
        Ok(Self {
            kinetics: self.kinetics.with_rates(rates)?,
            ..self.clone()
        })
    }
}

fn level(levels: &Table, name: &str) -> Result<Level> {
    Ok(Level {
        gas: levels.number(name)?,
        log_sd: log_sd(levels, name)?,
    })
}

fn log_sd(t: &Table, name: &str) -> Result<f64> {
    let no_log = || Error::malformed(format!("{name} in table {} must be above 0", t.id));
    t.value(name)?.log_sd().ok_or_else(no_log)
}

fn effects(t: &Table, co2: &Table) -> Result<Effects> {
    Ok(Effects {
        salt_per_percent: t.number("salt_per_percent")?,
        reference_hydration_percent: t.number("reference_hydration_percent")?,
        sugar_stock: t.number("sugar_stock_ml_per_100g")?,
        sugar_half: t.number("sugar_half_rate_ml_per_100g")?,
        sugar_onset_percent: t.number("added_sugar_onset_percent")?,
        sugar_per_percent: t.number("added_sugar_slope_per_percent")?,
        gas_per_g_sugar: co2.number("sucrose_ml_per_g")?,
        native_osmol_per_kg: t.number("native_osmol_per_kg")?,
        salt_osmotic_coefficient: t.number("nacl_osmotic_coefficient")?,
        water_activity_slope: t.number("water_activity_factor")?,
        water_activity_offset: t.number("water_activity_root")?,
    })
}

fn space(t: &Table, co2: &Table) -> Result<GasSpace> {
    Ok(GasSpace {
        molar_volume: co2.number("molar_volume_ml_per_mol")?,
        solubility: co2.number("henry_mol_per_m3_pa")? * co2.number("standard_pressure_pa")?
            / 1000.0,
        solubility_slope_k: co2.number("henry_slope_k")?,
        flour_density: t.number("flour_density_g_per_ml")?,
        air_free: t.number("gas_free_fraction")?,
        flour_moisture_percent: table::get("properties")?.number("flour_moisture_percent")?,
        retention: t.number("retention")?,
        full_to_ratio: t.number("retention_full_to_ratio")?,
        none_from_ratio: t.number("retention_none_from_ratio")?,
    })
}
