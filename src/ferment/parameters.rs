//! All numbers of the model in one place, as shipped, and how sure they are.

use super::Volume;
use super::correlations::LEARNT_NAMES;
use super::{Correlations, EndPoint, GasSpace, Kind, Kinetics, MediumEffects, Rates};
use crate::error::{Error, Result, check, echo};
use crate::rate::RateLaw;
use crate::table::{self, Table, Uncertainty};
use crate::units::Temperature;
use std::sync::OnceLock;

/// The numbers of the model.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Parameters {
    /// Temperature curves and rates.
    pub kinetics: Kinetics,
    /// Salt and sugar.
    pub effects: MediumEffects,
    /// Gas and volume.
    pub space: GasSpace,
    /// Heat of fermentation, kJ per mol CO2.
    pub heat_kj_per_mol: f64,
    /// When a stage may be used, as shares of the rate-weighted time to its end point.
    pub window: Window,
    /// When a dough may be divided at the latest and a proof be baked, as shares of its rise.
    pub rise_window: Window,
    /// Gas made at the end of a poolish, a biga, a sponge, a doubled dough, and in a bulk and a proof as a baker ends
    /// them; see [`level`](Self::level).
    pub levels: [Level; 6],
    /// Share of the free gas that a dough keeps at each handling, dividing or shaping.
    pub kept: f64,
    /// V/V0 at which a hearth loaf is ready for the oven.
    pub hearth_ratio: f64,
    /// V/V0 at which a tin loaf is.
    pub tin_ratio: f64,
    /// How sure the rest is.
    pub spread: Spread,
    /// How the errors of learnt numbers go together.
    pub correlations: Correlations,
    /// Gas that doubles the usual dough at 25 °C.
    doubled_ml_per_100g: f64,
}

/// A window of use, as shares of what leads to the end point.
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
    /// Of the numbers of the bend, in their order; none as shipped, where no time is bent.
    pub bend: [f64; 3],
    /// Of the logarithm of a single time.
    pub day: f64,
    /// Of the logarithm of the share kept at each handling.
    pub kept: f64,
    /// Of the logarithm of the rise, V/V0 - 1, at the end of the proof.
    pub proof_rise: f64,
    /// Of the logarithm of a single time at a baker who goes by a recipe of his own.
    pub own_recipe: f64,
    /// Of the logarithm of a time for each unit of the logarithm of the dose beyond what is published.
    pub per_log_dose: f64,
    /// Likewise, for each 10 K.
    pub per_10k: f64,
}

impl Parameters {
    /// The numbers as shipped, from the tables in `data/`.
    ///
    /// # Errors
    /// Only if an embedded table were damaged.
    pub fn shipped() -> Result<Self> {
        Self::shared().cloned()
    }

    /// The same, put together once for all.
    ///
    /// # Errors
    /// Only if an embedded table were damaged.
    pub fn shared() -> Result<&'static Self> {
        static SHIPPED: OnceLock<Result<Parameters>> = OnceLock::new();
        SHIPPED
            .get_or_init(Self::from_tables)
            .as_ref()
            .map_err(Clone::clone)
    }

    fn from_tables() -> Result<Self> {
        let gas = table::get("slator1906_square_root")?;
        let growth = table::get("zakhartsev2015")?;
        let ferment = table::get("defaults")?;
        let fitted = table::get("fitted")?;
        let co2 = table::get("co2")?;
        let law = RateLaw::square_root(
            gas.number("t_min_c")?,
            gas.number("t_max_c")?,
            gas.number("c_per_k")?,
            gas.number("reference_c")?,
        )?;
        let knots = &table::get("slator1906")?.knots;
        let cold: Vec<_> = (knots.iter().map(|k| [k.temperature_c, k.relative_rate])).collect();
        let best = growth.number("t_opt_c")?;
        let growth_law = RateLaw::cardinal(
            growth.number("t_min_c")?,
            best,
            growth.number("t_max_c")?,
            best,
        )?;
        let rates = Rates {
            specific_gas_rate: fitted.number("q30_ml_per_g_h")?,
            growth_rate: ferment.number("growth_rate_per_h")?,
            growth_cap: ferment.number("growth_cap_g_per_100g")?,
            lag27_h: ferment.number("lag27_h")?,
        };
        let curve = law.below(Temperature::celsius(gas.number("join_c")?)?, &cold)?;
        let space = space(ferment, co2)?;
        let doubled = space
            .of(&Kind::Dough.usual()?, 0.0)
            .made_for_ratio(2.0, 25.0);
        let (kept, hearth_ratio) = (fitted.number("kept")?, fitted.number("hearth_ratio")?);
        // The published proof: a doubled dough, divided and shaped, until a hearth loaf is ready.
        let usual = space.of(&Kind::Dough.usual()?, 0.0);
        let divided = usual.handled(usual.hold(0.0, doubled, 25.0), kept, 25.0);
        let shaped = usual.handled(divided, kept, 25.0);
        let of_baker = |gas: f64| -> Result<Level> {
            let log_sd = ferment.number("stage_end_log_sd")?;
            Ok(Level { gas, log_sd })
        };
        let tilt_about = Temperature::celsius(gas.number("tilt_about_c")?)?;
        let kinetics = Kinetics::new(curve, growth_law, rates)?.with_tilt(0.0, tilt_about)?;
        Ok(Self {
            kinetics: kinetics.with_dead_time(fitted.number("dead_time_h")?)?,
            effects: MediumEffects::shipped()?,
            space,
            heat_kj_per_mol: ferment.number("heat_kj_per_mol")?,
            window: Window {
                open: ferment.number("window_open")?,
                close: ferment.number("window_close")?,
            },
            rise_window: Window {
                open: ferment.number("rise_open")?,
                close: ferment.number("rise_close")?,
            },
            levels: [
                fitted_level(fitted, "poolish_ml_per_100g")?,
                fitted_level(fitted, "biga_ml_per_100g")?,
                fitted_level(fitted, "sponge_ml_per_100g")?,
                Level {
                    gas: doubled,
                    log_sd: log_sd(fitted, Q30)?.hypot(fitted.number("source_log_sd")?),
                },
                of_baker(doubled)?,
                of_baker(usual.made_from(shaped, hearth_ratio, 25.0))?,
            ],
            kept,
            hearth_ratio,
            tin_ratio: fitted.number("tin_ratio")?,
            spread: Spread {
                tilt: gas.number("tilt_log_sd")?,
                tilt_about,
                growth_rate: log_sd(ferment, "growth_rate_per_h")?,
                growth_cap: log_sd(ferment, "growth_cap_g_per_100g")?,
                lag: log_sd(ferment, "lag27_h")?,
                bend: [0.0; 3],
                kept: log_sd(fitted, "kept")?,
                day: fitted.number("row_log_sd")?,
                proof_rise: rise_log_sd(fitted, "hearth_ratio")?,
                own_recipe: ferment.number("own_recipe_log_sd")?,
                per_log_dose: ferment.number("per_log_dose_log_sd")?,
                per_10k: ferment.number("log_sd_per_10k")?,
            },
            correlations: Correlations::default(),
            doubled_ml_per_100g: doubled,
        })
    }

    /// The same with the values of a table in place of these: what `--params` reads.
    ///
    /// It may give the levels (`poolish_ml_per_100g` and so on, `bulk_ml_per_100g`, `proof_ml_per_100g`), `gas_tilt_per_10k` about the
    /// temperature of [`Spread::tilt_about`], `q30_ml_per_g_h`, `growth_rate_per_h`,
    /// `growth_cap_g_per_100g`, `lag27_h`, `dead_time_h`, the [`Bend`](super::Bend) (`dose_slope_bend`, `dose_curve_bend`,
    /// `temperature_curve_bend`), `day_log_sd`, `kept`, `hearth_ratio`, `tin_ratio`, `window_open`, `window_close`,
    /// `rise_open` and `rise_close`, each with its uncertainty; and the correlations of what a log teaches: levels, tilt,
    /// growth, cap, lag and bend. What it leaves out stays as it is.
    ///
    /// ```
    /// use pointage::ferment::{Kind, Parameters};
    /// let own = pointage::table::parse(r#"
    /// format = 1
    /// id = "kitchen"
    /// title = "Our poolish"
    /// observed = "twelve nights"
    /// source = "our log"
    /// locus = "rows 2 to 13"
    /// standing = "derived"
    /// [values.poolish_ml_per_100g]
    /// value = 190.0
    /// log_sd = 0.08
    /// "#)?;
    /// let p = Parameters::shipped()?.with_table(&own)?;
    /// assert_eq!(p.level(Kind::Poolish).gas, 190.0);
    /// # Ok::<(), pointage::Error>(())
    /// ```
    ///
    /// # Errors
    /// A name that is not one of these, or a value out of its range; both name the value.
    pub fn with_table(&self, table: &Table) -> Result<Self> {
        let mut p = self.clone();
        for value in &table.values {
            p = p
                .with_value(table, &value.name)
                .map_err(|e| e.at(format!("[values.{}]", echo(&value.name))))?;
        }
        p.correlations = p.correlations.with_table(table)?;
        Ok(p)
    }

    fn with_value(mut self, t: &Table, name: &str) -> Result<Self> {
        /// What may be given beside what a log teaches.
        const MORE: [&str; 10] = [
            Q30,
            "dead_time_h",
            "day_log_sd",
            "kept",
            "hearth_ratio",
            "tin_ratio",
            "window_open",
            "window_close",
            "rise_open",
            "rise_close",
        ];
        let number = t.number(name)?;
        let mut rates = self.kinetics.rates();
        let end_points = LEARNT_NAMES.iter().zip(&mut self.levels);
        if let Some((_, own)) = end_points.into_iter().find(|(known, _)| **known == name) {
            check(name, number, 1.0, 5000.0, "mL per 100 g flour")?;
            *own = level(t, name)?;
            // A kitchen's own level holds the scatter of its times, unless that is given beside it.
            if t.value("day_log_sd").is_err() {
                self.spread.day = 0.0;
            }
            return Ok(self);
        }
        match name {
            "gas_tilt_per_10k" => {
                self.spread.tilt = standard_error(t, name)?;
                self.kinetics = self.kinetics.with_tilt(number, self.spread.tilt_about)?;
            }
            Q30 => rates.specific_gas_rate = number,
            "dead_time_h" => self.kinetics = self.kinetics.with_dead_time(number)?,
            "growth_rate_per_h" => {
                rates.growth_rate = number;
                self.spread.growth_rate = log_sd(t, name)?;
            }
            "growth_cap_g_per_100g" => {
                rates.growth_cap = number;
                self.spread.growth_cap = log_sd(t, name)?;
            }
            "lag27_h" => {
                rates.lag27_h = number;
                self.spread.lag = log_sd(t, name)?;
            }
            "dose_slope_bend" | "dose_curve_bend" | "temperature_curve_bend" => {
                let mut bend = self.kinetics.bend();
                let (i, of_bend) = match name {
                    "dose_slope_bend" => (0, &mut bend.dose_slope),
                    "dose_curve_bend" => (1, &mut bend.dose_curve),
                    _ => (2, &mut bend.temperature_curve),
                };
                *of_bend = number;
                self.spread.bend[i] = standard_error(t, name)?;
                self.kinetics = self.kinetics.with_bend(bend, self.spread.tilt_about)?;
            }
            "day_log_sd" => self.spread.day = check(name, number, 0.0, 2.0, "in log time")?,
            "kept" => {
                self.kept = check(name, number, 0.01, 1.0, "as a ratio")?;
                self.spread.kept = log_sd(t, name)?;
            }
            "hearth_ratio" => self.hearth_ratio = check(name, number, 1.0, 6.0, "as a ratio")?,
            "tin_ratio" => self.tin_ratio = check(name, number, 1.0, 6.0, "as a ratio")?,
            "window_open" => self.window.open = check(name, number, 0.1, 1.0, "as a ratio")?,
            "window_close" => self.window.close = check(name, number, 1.0, 3.0, "as a ratio")?,
            "rise_open" => self.rise_window.open = check(name, number, 0.1, 1.0, "as a ratio")?,
            "rise_close" => self.rise_window.close = check(name, number, 1.0, 3.0, "as a ratio")?,
            _ => {
                let known = LEARNT_NAMES.into_iter().chain(MORE);
                return Err(Error::unknown_name("parameter", name, known));
            }
        }
        if rates != self.kinetics.rates() {
            self.kinetics = self.kinetics.with_rates(rates)?;
        }
        Ok(self)
    }

    /// The gas made at an end point by a fresh dough of some °C, mL per 100 g flour.
    pub(crate) fn gas_at(&self, end: EndPoint, volume: &Volume, t: f64) -> f64 {
        match end {
            EndPoint::Gas(gas) => gas,
            EndPoint::Ripe(kind @ (Kind::Poolish | Kind::Biga | Kind::Sponge)) => {
                self.level(kind).gas
            }
            EndPoint::Doubled | EndPoint::Ripe(Kind::Dough | Kind::OldDough) => {
                self.own_doubled() * volume.made_for_ratio(2.0, t)
            }
            EndPoint::Rise(ratio) => self.own_doubled() * volume.made_for_ratio(ratio, t),
            EndPoint::Ripe(stage @ (Kind::Bulk | Kind::Proof)) => {
                self.own_doubled() * self.level(stage).gas
            }
        }
    }

    /// Where a baker's log has taught when he ends a bulk or a proof.
    pub(crate) fn learnt_end(&self, stage: Kind) -> Option<Level> {
        let own = self.level(stage);
        let published = Self::shared().ok()?.level(stage);
        (own != published).then_some(own)
    }

    /// How much longer a kitchen's dough takes to double than as shipped, as its log taught: so much more gas, or so
    /// much slower yeast.
    pub(crate) fn own_doubled(&self) -> f64 {
        self.level(Kind::Dough).gas / self.doubled_ml_per_100g
    }

    /// The level of a kind; that of a dough is that of the usual one at 25 °C, and old dough is taken there too.
    #[must_use]
    pub fn level(&self, kind: Kind) -> Level {
        self.levels[kind.level()]
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

/// The error of a value that may be 0 or below.
fn standard_error(t: &Table, name: &str) -> Result<f64> {
    match t.value(name)?.uncertainty {
        Uncertainty::StandardError { se } => Ok(se),
        Uncertainty::Exact => Ok(0.0),
        _ => Err(Error::malformed(
            "it may be 0 or below; give its uncertainty as se = … or exact = true",
        )),
    }
}

const Q30: &str = "q30_ml_per_g_h";

/// The level of a kind at an unknown baker's. Rate and level were fitted together, and times show the one over the
/// other: its deviation is that of their quotient, and the one between sources.
fn fitted_level(t: &Table, name: &str) -> Result<Level> {
    let (level, q30) = (log_sd(t, name)?, log_sd(t, Q30)?);
    let together = t
        .correlations
        .iter()
        .find(|c| c.between.iter().any(|n| n == name) && c.between.iter().any(|n| n == Q30));
    let covariance = together.map_or(0.0, |c| c.value) * level * q30;
    let quotient = level * level + q30 * q30 - 2.0 * covariance;
    Ok(Level {
        gas: t.number(name)?,
        log_sd: quotient.sqrt().hypot(t.number("source_log_sd")?),
    })
}

/// Standard deviation of the logarithm of `ratio - 1`.
fn rise_log_sd(t: &Table, name: &str) -> Result<f64> {
    let ratio = t.number(name)?;
    Ok(log_sd(t, name)? * ratio / (ratio - 1.0))
}

fn log_sd(t: &Table, name: &str) -> Result<f64> {
    let value = t.value(name)?;
    value.log_sd().ok_or_else(|| {
        Error::malformed(if value.uncertainty == Uncertainty::Judged {
            format!(
                "{name} in table {} needs its uncertainty as a number, for ranges rest on it; write one of se = …, log_sd = …, range = [low, high], exact = true",
                t.id
            )
        } else {
            format!("{name} in table {} must be above 0", t.id)
        })
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table;

    fn own(name: &str, value: f64, uncertainty: &str) -> Result<Parameters> {
        let head = "format = 1\nid = \"own\"\ntitle = \"Own\"\nobserved = \"a test\"\nsource = \"here\"\nlocus = \"here\"\nstanding = \"derived\"\n";
        let text = format!("{head}[values.{name}]\nvalue = {value}\n{uncertainty}\n");
        Parameters::shipped()?.with_table(&table::parse(&text)?)
    }

    /// Each name stands for one number, with its standard deviation where it has one, and for no other; beyond
    /// its range it is refused by its name.
    #[test]
    fn each_name_is_its_number() {
        type Get = fn(&Parameters) -> (f64, Option<f64>);
        let all: [(&str, f64, Get, [f64; 2]); 15] = [
            (
                "poolish_ml_per_100g",
                190.0,
                |p| of(p.level(Kind::Poolish)),
                [0.5, 5001.0],
            ),
            (
                "biga_ml_per_100g",
                191.0,
                |p| of(p.level(Kind::Biga)),
                [0.5, 5001.0],
            ),
            (
                "sponge_ml_per_100g",
                192.0,
                |p| of(p.level(Kind::Sponge)),
                [0.5, 5001.0],
            ),
            (
                "dough_ml_per_100g",
                193.0,
                |p| of(p.level(Kind::Dough)),
                [0.5, 5001.0],
            ),
            (
                "q30_ml_per_g_h",
                21.0,
                |p| (p.kinetics.rates().specific_gas_rate, None),
                [1e-4, 1001.0],
            ),
            (
                "growth_rate_per_h",
                0.31,
                |p| (p.kinetics.rates().growth_rate, Some(p.spread.growth_rate)),
                [-0.1, 2.1],
            ),
            (
                "growth_cap_g_per_100g",
                0.9,
                |p| (p.kinetics.rates().growth_cap, Some(p.spread.growth_cap)),
                [0.001, f64::NAN],
            ),
            (
                "lag27_h",
                0.8,
                |p| (p.kinetics.rates().lag27_h, Some(p.spread.lag)),
                [-0.1, 49.0],
            ),
            ("kept", 0.6, |p| (p.kept, Some(p.spread.kept)), [0.001, 1.1]),
            ("hearth_ratio", 1.7, |p| (p.hearth_ratio, None), [0.9, 6.1]),
            ("tin_ratio", 2.3, |p| (p.tin_ratio, None), [0.9, 6.1]),
            ("window_open", 0.85, |p| (p.window.open, None), [0.05, 1.1]),
            ("window_close", 1.2, |p| (p.window.close, None), [0.9, 3.1]),
            (
                "rise_open",
                0.8,
                |p| (p.rise_window.open, None),
                [0.05, 1.1],
            ),
            (
                "rise_close",
                1.3,
                |p| (p.rise_window.close, None),
                [0.9, 3.1],
            ),
        ];
        fn of(level: Level) -> (f64, Option<f64>) {
            (level.gas, Some(level.log_sd))
        }
        let shipped = Parameters::shipped().unwrap();
        for (name, value, get, beyond) in all {
            let p = own(name, value, "log_sd = 0.123").unwrap();
            let (got, sd) = get(&p);
            assert_eq!(got, value, "{name}");
            assert!(sd.is_none_or(|sd| sd == 0.123), "{name}");
            for (other, _, get, _) in all {
                assert!(
                    other == name || get(&p) == get(&shipped),
                    "{name} moves {other}"
                );
            }
            for value in beyond.into_iter().filter(|v| !v.is_nan()) {
                let why = own(name, value, "log_sd = 0.123").unwrap_err().to_string();
                assert!(why.contains(name), "{name}: {why}");
            }
        }
        let tilted = own("gas_tilt_per_10k", -0.04, "se = 0.02").unwrap();
        assert_eq!(tilted.kinetics.tilt(), -0.04);
        assert_eq!(tilted.spread.tilt, 0.02);
        assert_eq!(
            own("gas_tilt_per_10k", 0.0, "exact = true")
                .unwrap()
                .spread
                .tilt,
            0.0
        );
        assert!(own("gas_tilt_per_10k", -0.04, "log_sd = 0.1").is_err());
        assert!(own("no_such_name", 1.0, "log_sd = 0.1").is_err());
    }
}
