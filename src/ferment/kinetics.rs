//! The two temperature curves and the rates: what the yeast can do, before salt and sugar.

use super::Inoculum;
use super::simulate::Direction;
use crate::error::{Error, Result, check};
use crate::numeric::exp;
use crate::rate::{RateCurve, RateLaw};
use crate::units::Temperature;
use std::sync::Arc;

/// Fastest specific gas rate that is believed, mL/(g h).
pub(crate) const MOST_GAS_RATE: f64 = 1e3;
/// Temperature at which the specific gas rate is given, °C.
const GAS_REFERENCE_C: f64 = 30.0;
/// Temperature at which the lag is given, °C.
const LAG_REFERENCE_C: f64 = 27.0;

/// Rates of gas making and growth.
///
/// ```text
/// dX/dt = mu f_growth(T) X (1 - (X - X0)/D)    once the integral of f_gas(T)/f_gas(27 °C) has reached L27
/// dG/dt = q30 f_gas(T)/f_gas(30 °C) X
/// ```
/// `X` in g fresh yeast, `G` in mL CO2 (at 25 °C, 1 atm), both per 100 g flour; `t` in h. Salt and
/// sugar come in with [`Medium`](super::Medium). A baker's own log may tilt the gas curve, which is then
/// multiplied by `exp(tilt (T - pivot) / 10 K)`, and bend the time itself ([`Bend`]). Yeast that is added makes gas only
/// after a dead time, counted by the clock from mixing ([`with_dead_time`](Self::with_dead_time)).
#[derive(Debug, Clone, PartialEq)]
pub struct Kinetics {
    curves: Arc<Curves>,
    rates: Rates,
    tilt: f64,
    pivot_c: f64,
    pub(crate) dead_time_h: f64,
    bend: Bend,
    /// What the bend adds to the log time of this dose.
    log_time_of_dose: f64,
    /// Gas rate per g of yeast where the curve is 1.
    pub(crate) gas_scale: f64,
    /// Turns the curve into hours at 27 °C.
    pub(crate) lag_scale: f64,
}

/// How the times of a kitchen bend away from the model: gas, growth and lag all run slower by `exp(D)`, so that a
/// dough at one temperature takes `exp(D)` times as long.
///
/// ```text
/// D = dose_slope x + dose_curve x² + temperature_curve y²/(1 + y²)      x = ln(dose/0.6 %), y = (T - pivot)/10 K
/// ```
/// `x` goes no further than a tenfold dose to either side, and the last term is bounded: a bend is nothing to
/// extrapolate with. Where times follow the temperature more or less steeply, the tilt of the gas curve says so.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Bend {
    /// Slope of the log time against the log dose.
    pub dose_slope: f64,
    /// Its curve.
    pub dose_curve: f64,
    /// How much longer it takes on either side of the pivot.
    pub temperature_curve: f64,
}

/// Dose at which no bend shows, g fresh per 100 g flour: between a poolish and a straight dough.
const BEND_DOSE: f64 = 0.6;
/// Beyond so many times more or less yeast a bend does not go on.
const BEND_REACH: f64 = 10.0;

impl Bend {
    fn of_dose(&self, dose: f64) -> f64 {
        let x = Self::log_dose(dose);
        self.dose_slope * x + self.dose_curve * x * x
    }

    fn log_dose(dose: f64) -> f64 {
        (dose / BEND_DOSE).clamp(1.0 / BEND_REACH, BEND_REACH).ln()
    }

    fn is_beyond(dose: f64) -> bool {
        !(1.0 / BEND_REACH..=BEND_REACH).contains(&(dose / BEND_DOSE))
    }
}

/// The two curves against temperature, shared by all kinetics that differ in their rates only.
#[derive(Debug, PartialEq)]
struct Curves {
    gas: RateLaw,
    growth: RateLaw,
    kinks: Vec<f64>,
}

/// The numbers of [`Kinetics`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rates {
    /// CO2 per g of fresh yeast and hour at 30 °C, q30, mL/(g h); 0.001 to 1000.
    pub specific_gas_rate: f64,
    /// Growth rate of yeast where the growth law is 1, mu, 1/h; 0 to 2.
    pub growth_rate: f64,
    /// What the yeast can grow by, D, g fresh yeast per 100 g flour; 0.01 or more, may be endless.
    pub growth_cap: f64,
    /// Lag before growth, in hours at 27 °C, L27; 0 to 48.
    pub lag27_h: f64,
}

impl Rates {
    fn checked(self) -> Result<Self> {
        let unit = "mL/(g h)";
        check(
            "specific gas rate",
            self.specific_gas_rate,
            1e-3,
            MOST_GAS_RATE,
            unit,
        )?;
        check("growth rate", self.growth_rate, 0.0, 2.0, "1/h")?;
        if self.growth_cap != f64::INFINITY {
            let unit = "g per 100 g flour";
            check("growth cap", self.growth_cap, 0.01, 1e6, unit)?;
        }
        check("lag at 27 °C", self.lag27_h, 0.0, 48.0, "h")?;
        Ok(self)
    }

    /// What the yeast can grow by where only part of the flour is fresh: nothing without any, even if there were
    /// no cap.
    pub(crate) fn growth_cap_with(&self, fresh_flour: f64) -> f64 {
        if fresh_flour == 0.0 {
            0.0
        } else {
            self.growth_cap * fresh_flour
        }
    }
}

impl Kinetics {
    /// Puts the two curves and the rates together.
    ///
    /// # Errors
    /// A rate out of its range, or a gas curve without a rate at 27 and 30 °C.
    pub fn new(gas: RateLaw, growth: RateLaw, rates: Rates) -> Result<Self> {
        let kinks = [gas.kinks(), growth.kinks()].concat();
        // Rate and lag are those of the curve before it is tilted, or the tilt would turn about their
        // reference temperatures and not about its own.
        let gas_scale = rates.specific_gas_rate / gas.at(GAS_REFERENCE_C);
        let lag_scale = 1.0 / gas.at(LAG_REFERENCE_C);
        if !(gas_scale.is_finite() && lag_scale.is_finite()) {
            return Err(Error::contradiction(
                "the gas curve must have a rate at 27 °C and at 30 °C",
            ));
        }
        Ok(Self {
            curves: Arc::new(Curves { gas, growth, kinks }),
            rates: rates.checked()?,
            tilt: 0.0,
            pivot_c: 0.0,
            dead_time_h: 0.0,
            bend: Bend::default(),
            log_time_of_dose: 0.0,
            gas_scale,
            lag_scale,
        })
    }

    /// True when the curves of both are the same ones, so that their rates at a temperature are too.
    pub(crate) fn shares_curves_with(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.curves, &other.curves)
    }

    /// Temperatures at which one of the curves has a kink, °C.
    pub(crate) fn kinks(&self) -> &[f64] {
        &self.curves.kinks
    }

    /// Relative rates of gas and growth at a temperature.
    #[inline(always)]
    pub(crate) fn rates_at(&self, t: f64) -> Result<(f64, f64)> {
        let (gas, growth) = self.untilted_rates_at(t)?;
        let slower = self.slower_at(t);
        Ok((self.tilted(gas, t) / slower, growth / slower))
    }

    /// How many times slower everything runs at a temperature, for the dose of these kinetics.
    fn slower_at(&self, t: f64) -> f64 {
        self.slower(self.log_time_of_dose, t)
    }

    fn slower(&self, log_time_of_dose: f64, t: f64) -> f64 {
        if self.bend == Bend::default() {
            return 1.0;
        }
        exp(log_time_of_dose + self.bend.temperature_curve * self.beside_pivot(t))
    }

    /// How many times longer a dose takes at one temperature than without the bend.
    pub(crate) fn longer(&self, dose: f64, t: f64) -> f64 {
        self.slower(self.bend.of_dose(dose), t)
    }

    /// The kinetics of a dough with so much yeast, g fresh per 100 g flour.
    pub(crate) fn for_dose(&self, dose: f64) -> Self {
        Self {
            log_time_of_dose: self.bend.of_dose(dose),
            ..self.clone()
        }
    }

    /// The same before any tilt.
    pub(crate) fn untilted_rates_at(&self, t: f64) -> Result<(f64, f64)> {
        let Curves { gas, growth, .. } = &*self.curves;
        let rates = (gas.at(t), growth.at(t));
        if rates.0.is_nan() {
            return Err(gas.refusal(t));
        }
        if rates.1.is_nan() {
            return Err(growth.refusal(t));
        }
        Ok(rates)
    }

    /// A rate of the gas curve at a temperature, tilted.
    pub(crate) fn tilted(&self, rate: f64, t: f64) -> f64 {
        if self.tilt == 0.0 {
            rate
        } else {
            rate * exp(self.tilt * (t - self.pivot_c) / 10.0)
        }
    }

    /// `y²/(1 + y²)` of the bend.
    fn beside_pivot(&self, t: f64) -> f64 {
        let y = (t - self.pivot_c) / 10.0;
        y * y / (1.0 + y * y)
    }

    /// How the logarithms of the relative rates of gas and growth move, of a dough with this yeast at a temperature.
    pub(super) fn log_rates_moved(&self, by: Direction, yeast: Inoculum, t: f64) -> (f64, f64) {
        let dose = yeast.added + yeast.carried;
        let x = || Bend::log_dose(dose);
        let longer = match by {
            Direction::Tilt => return ((t - self.pivot_c) / 10.0, 0.0),
            Direction::GrowthRate => return (0.0, 1.0),
            Direction::GrowthCap | Direction::Lag => 0.0,
            // Beyond the reach of the bend it stays as it is.
            Direction::Dose if Bend::is_beyond(dose) => 0.0,
            Direction::Dose => {
                (self.bend.dose_slope + 2.0 * self.bend.dose_curve * x()) * yeast.added / dose
            }
            Direction::DoseSlope => x(),
            Direction::DoseCurve => x().powi(2),
            Direction::TemperatureCurve => self.beside_pivot(t),
        };
        (-longer, -longer)
    }

    /// The relative rate of gas making, tilted; not a number where the law refuses the temperature.
    pub(crate) fn gas_rate(&self, t: f64) -> f64 {
        self.tilted(self.gas().at(t), t) / self.slower_at(t)
    }

    /// The gas curve, before any tilt.
    #[must_use]
    pub fn gas(&self) -> &RateLaw {
        &self.curves.gas
    }

    /// The growth law.
    #[must_use]
    pub fn growth(&self) -> &RateLaw {
        &self.curves.growth
    }

    /// The rates.
    #[must_use]
    pub fn rates(&self) -> Rates {
        self.rates
    }

    /// The tilt of the gas curve, per 10 K; see [`with_tilt`](Self::with_tilt).
    #[must_use]
    pub fn tilt(&self) -> f64 {
        self.tilt
    }

    /// How times bend away from the model.
    #[must_use]
    pub fn bend(&self) -> Bend {
        self.bend
    }

    /// The same with times bent, about a temperature; each number within ±2.
    ///
    /// # Errors
    /// A number outside that range.
    pub(crate) fn with_bend(&self, bend: Bend, about: Temperature) -> Result<Self> {
        for number in [bend.dose_slope, bend.dose_curve, bend.temperature_curve] {
            check("bend", number, -2.0, 2.0, "in log time")?;
        }
        Ok(Self {
            bend,
            pivot_c: about.as_celsius(),
            ..self.clone()
        })
    }

    /// The same with other rates.
    ///
    /// # Errors
    /// As for [`new`](Self::new).
    pub fn with_rates(&self, rates: Rates) -> Result<Self> {
        let rates = rates.checked()?;
        let faster = rates.specific_gas_rate / self.rates.specific_gas_rate;
        Ok(Self {
            rates,
            gas_scale: self.gas_scale * faster,
            ..self.clone()
        })
    }

    /// The same with the gas curve tilted about a temperature: `tilt` per 10 K, within ±1 (0.1 makes each
    /// 10 K count 10.5 % more). The rates hold for the curve before the tilt: at the temperature about which
    /// it turns, nothing changes.
    ///
    /// # Errors
    /// A tilt outside that range.
    pub fn with_tilt(&self, tilt: f64, about: Temperature) -> Result<Self> {
        Ok(Self {
            tilt: check("tilt of the gas curve", tilt, -1.0, 1.0, "per 10 K")?,
            pivot_c: about.as_celsius(),
            ..self.clone()
        })
    }

    /// The same where added yeast makes gas only from so many hours after mixing on, 0 to 3.
    ///
    /// # Errors
    /// A time outside that range.
    pub fn with_dead_time(&self, hours: f64) -> Result<Self> {
        Ok(Self {
            dead_time_h: check("dead time after mixing", hours, 0.0, 3.0, "h")?,
            ..self.clone()
        })
    }
}

/// The speed of gas making, tilted.
impl RateCurve for Kinetics {
    fn at_celsius(&self, t: f64) -> f64 {
        self.gas_rate(t)
    }
    fn kinks_c(&self) -> Vec<f64> {
        self.gas().kinks()
    }
    fn law(&self) -> &RateLaw {
        self.gas()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn c(t: f64) -> Temperature {
        Temperature::celsius(t).unwrap()
    }

    fn joined() -> RateLaw {
        let law = RateLaw::square_root(-0.9, 47.0, 0.48, 27.0).unwrap();
        let points = [[3.0, 0.04], [8.0, 0.09], [15.0, 0.2], [20.0, 0.4]];
        law.below(c(10.0), &points).unwrap()
    }

    /// A tilt of 0.2 makes 10 K more count exp(0.2) times as much, and nothing at its pivot.
    #[test]
    fn a_tilt_turns_the_curve_about_its_pivot() {
        let growth = RateLaw::q10(2.0, 24.0, [-10.0, 50.0]).unwrap();
        let rates = Rates {
            specific_gas_rate: 70.0,
            growth_rate: 0.3,
            growth_cap: 1.0,
            lag27_h: 2.0,
        };
        let plain = Kinetics::new(joined(), growth, rates).unwrap();
        let tilted = plain.with_tilt(0.2, c(24.0)).unwrap();
        for t in [4.0, 14.0, 24.0, 30.0, 44.0] {
            let ratio = tilted.gas_rate(t) / plain.gas_rate(t);
            assert!((ratio - (0.02 * (t - 24.0)).exp()).abs() < 1e-12, "{t}");
        }
    }

    /// Each side has its own corners, and the join is one.
    #[test]
    fn a_joined_curve_has_the_kinks_of_both() {
        let kinks = joined().kinks();
        assert_eq!(kinks[1..], [3.0, 8.0, 10.0, 47.0]);
        // The first is where nothing is made any more.
        assert!(
            kinks[0] < 3.0 && joined().at(kinks[0]) < 1e-12 && joined().at(kinks[0] + 0.1) > 0.0
        );
        // Through its points, and on to the law with its slope.
        let rate = |t: f64| joined().relative_rate(c(t)).unwrap();
        assert!((rate(3.0) - 0.04).abs() < 1e-12 && (rate(8.0) - 0.09).abs() < 1e-12);
        assert!((rate(9.999_999) / rate(10.0) - 1.0).abs() < 1e-6);
    }

    /// Gas making follows Slator's points to 15 °C and the law from 20 °C on, and has no kink between 0 and 30 °C: its
    /// slope does not jump. A step of 10 K counts for less than 10 times from 5 °C on (he printed 2.65 for the 5 K from 5 to
    /// 10 °C, which is 7.0), less than 20 times from 3 °C and 150 times from 0 °C on.
    #[test]
    fn the_cold_has_no_kink() {
        let gas = crate::ferment::Parameters::shipped().unwrap().kinetics;
        let rate = |t: f64| gas.gas().at(t);
        for (from, ratio) in [(5.0, 2.65), (10.0, 2.11)] {
            assert!(
                (rate(from + 5.0) / rate(from) / ratio - 1.0).abs() < 1e-9,
                "{from}"
            );
        }
        let log_slope = |t: f64| (rate(t + 0.01) / rate(t - 0.01)).ln() / 0.02;
        for step in 0..600 {
            let t = 0.05 * f64::from(step) + 0.003;
            let q10 = (10.0 * log_slope(t)).exp();
            let most = [(5.0, 10.0), (3.0, 20.0), (0.0, 150.0)];
            let most = most.iter().find(|m| t >= m.0).unwrap().1;
            assert!(q10 > 1.5 && q10 < most, "{t}: {q10}");
            let jump = log_slope(t + 0.05) - log_slope(t);
            assert!(jump.abs() < 0.007, "{t}: {jump}");
        }
    }

    #[test]
    fn no_join_where_one_has_no_rate() {
        let law = RateLaw::q10(2.0, 24.0, [12.0, 40.0]).unwrap();
        let points = [[0.0, 0.02], [5.0, 0.03], [10.0, 0.05], [15.0, 0.1]];
        assert!(law.clone().below(c(13.0), &points).is_ok());
        // The law ends above it, the points are too few, or do not rise to it.
        assert!(law.clone().below(c(11.0), &points).is_err());
        assert!(law.clone().below(c(13.0), &points[..1]).is_err());
        let falls = [[0.0, 0.02], [5.0, 30.0], [10.0, 40.0], [15.0, 50.0]];
        assert!(law.below(c(13.0), &falls).is_err());
    }

    /// Rate and lag are told at 30 and 27 °C: a curve that has no rate at one of them will not do.
    #[test]
    fn the_gas_curve_must_have_a_rate_where_it_is_told() {
        let with = |from_c: f64, to_c: f64| {
            let law = || RateLaw::q10(2.0, 24.0, [from_c, to_c]).unwrap();
            let rates = Rates {
                specific_gas_rate: 70.0,
                growth_rate: 0.3,
                growth_cap: 1.0,
                lag27_h: 2.0,
            };
            Kinetics::new(law(), law(), rates)
        };
        assert!(with(27.0, 30.0).is_ok());
        for (from_c, to_c) in [(28.0, 40.0), (10.0, 28.0), (31.0, 40.0)] {
            let error = with(from_c, to_c).unwrap_err();
            assert!(
                error.to_string().contains("at 27 °C and at 30 °C"),
                "{error}"
            );
        }
    }
}
