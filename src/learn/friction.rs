//! Heat of the mixer, learned from a log of mixes.
//!
//! On the heat balance, with the ingredients mixed at `T0 = sum(m c T)/C`, `C = sum(m c)`:
//!
//! ```text
//! T_dough - T0 = m_dough/C sum_s(w_s minutes_s) + m_flour/C q        [K]
//! ```
//!
//! `w_s` is the heat of a minute at speed `s` in kJ per kg of dough, `q` the wetting heat in kJ per kg of
//! dry flour. On the sum scale of the trade (see [`crate::heat::ddt_formula`]), with `n` terms:
//!
//! ```text
//! (n T_dough - sum of temperatures)/n = sum_s(r_s minutes_s)          [K]
//! ```
//!
//! Both are linear; least squares in K, because a thermometer errs in K. Where minutes always move
//! together, nothing but their sum can be learned, and the report says so.

use super::csv_log::{CsvLog, CsvRow, Read, Refused};
use super::engine::{Covariance, linear};
use crate::error::{Error, Result, check};
use crate::heat::properties::ThermalProperties;
use crate::units::{Mass, Percent, Temperature};
use nalgebra::{DMatrix, DVector};

/// A preferment that goes into a mix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MixedIn {
    /// Its mass.
    pub mass: Mass,
    /// Its temperature.
    pub temperature: Temperature,
    /// Its water, % of its flour.
    pub hydration: Percent,
}

/// One mix as it was.
#[derive(Debug, Clone, PartialEq)]
pub struct Mix {
    /// Line of the log, for the report.
    pub line: u64,
    /// Dry flour.
    pub flour: Mass,
    /// Its temperature.
    pub flour_temperature: Temperature,
    /// Water.
    pub water: Mass,
    /// Its temperature.
    pub water_temperature: Temperature,
    /// The room, and with it the bowl.
    pub room: Temperature,
    /// The preferment, if there was one.
    pub preferment: Option<MixedIn>,
    /// The dough off the mixer.
    pub dough: Temperature,
    /// Minutes at each speed, in the order of [`MixLog::speeds`].
    pub minutes: Vec<f64>,
}

/// Mixes read from a log.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct MixLog {
    /// Names of the speeds: the columns that end in `_min`, without that ending.
    pub speeds: Vec<String>,
    /// The mixes.
    pub mixes: Vec<Mix>,
    /// Rows that could not be used.
    pub refused: Vec<Refused>,
}

const NEEDED: [&str; 6] = [
    "flour_g", "flour_c", "water_g", "water_c", "room_c", "dough_c",
];
const MORE: [&str; 6] = [
    "preferment_g",
    "preferment_c",
    HYDRATION,
    "date",
    "note",
    "slow_min",
];
const HYDRATION: &str = "preferment_hydration_percent";

/// Water of a preferment when the log does not say, % of its flour.
const USUAL_HYDRATION: f64 = 100.0;

impl MixLog {
    /// Reads a log: CSV with `flour_g`, `flour_c`, `water_g`, `water_c`, `room_c`, `dough_c`, any number
    /// of columns ending in `_min` for the minutes at a speed, and if need be `preferment_g`,
    /// `preferment_c`, `preferment_hydration_percent`, `date`, `note`. Masses may be `_g`, `_kg`, `_lb`
    /// or `_oz`, temperatures `_c` or `_f`.
    ///
    /// # Errors
    /// A column that is missing, unknown or double. Bad rows are no error: they are in `refused`.
    ///
    /// ```
    /// use pointage::learn::friction::MixLog;
    /// let log = MixLog::from_csv("\
    /// flour_kg,flour_c,water_kg,water_c,room_c,dough_c,slow_min,fast_min
    /// 10,21,6.5,12,22,24.5,4,5
    /// 10,21,6.5,warm,22,24.5,4,5
    /// ")?;
    /// assert_eq!(log.speeds, ["slow", "fast"]);
    /// assert_eq!(log.refused[0].to_string(),
    ///     "line 3, column water_c: cannot read a number from \"warm\"; write a plain number such as 19.5");
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn from_csv(text: &str) -> Result<Self> {
        let is_speed = |h: &str| h.strip_suffix("_min").is_some_and(|s| !s.is_empty());
        let log = CsvLog::read(text, &NEEDED, &MORE, is_speed)?;
        let columns: Vec<&String> = log.header().iter().filter(|h| is_speed(h)).collect();
        let (mixes, refused) = log.each(|row| mix(row, &columns));
        let speed = |column: &&String| column.strip_suffix("_min").map(str::to_owned);
        Ok(Self {
            speeds: columns.iter().filter_map(speed).collect(),
            mixes,
            refused,
        })
    }
}

fn mix(row: &CsvRow<'_>, speeds: &[&String]) -> Read<Mix> {
    let minutes = |column: &&String| {
        let value = row.number(column)?.unwrap_or(0.0);
        row.check(column, ("minutes of mixing", "min"), value, (0.0, 240.0))
    };
    let minutes = speeds.iter().map(minutes).collect::<Read<_>>()?;
    let temperature = |name| row.needed(name, row.temperature(name)?);
    let preferment = match row.mass("preferment_g")? {
        Some(mass) if mass.as_grams() > 0.0 => {
            let percent = row.number(HYDRATION)?.unwrap_or(USUAL_HYDRATION);
            let what = ("its water", "% of flour");
            row.check(HYDRATION, what, percent, (30.0, 300.0))?;
            Some(MixedIn {
                mass,
                temperature: temperature("preferment_c")?,
                hydration: Percent::new(percent).map_err(row.refuse(HYDRATION))?,
            })
        }
        _ => None,
    };
    Ok(Mix {
        line: row.line,
        flour: row.ingredient("flour_g", "mix")?,
        flour_temperature: temperature("flour_c")?,
        water: row.ingredient("water_g", "mix")?,
        water_temperature: temperature("water_c")?,
        room: temperature("room_c")?,
        preferment,
        dough: temperature("dough_c")?,
        minutes,
    })
}

/// How the heat is computed.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Method {
    /// The heat balance, with these heat capacities.
    HeatBalance {
        /// Heat capacities.
        capacities: ThermalProperties,
        /// Wetting heat, kJ per kg dry flour, when it is taken as known; `None` to learn it too.
        wetting_kj_per_kg: Option<f64>,
        /// Heat capacity of the bowl, which comes as warm as the room, kJ/K; 0 leaves it out.
        bowl_kj_per_k: f64,
    },
    /// The trade's sum of temperatures.
    SumScale,
}

/// A heat that was learned.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[non_exhaustive]
pub struct Heat {
    /// Name of the speed, `wetting`, or `mix` where the log has no minutes.
    pub name: String,
    /// The heat, in `unit`.
    pub value: f64,
    /// Its standard error; `None` where the log does not tell it.
    pub standard_error: Option<f64>,
    /// `kJ/(kg min)`, `kJ/kg`, `K/min` or `K`.
    pub unit: &'static str,
    /// How much a minute warms the usual dough of this log, K; for wetting the rise in all.
    pub rise_k: f64,
}

/// What a log of mixes says.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[non_exhaustive]
pub struct FrictionReport {
    /// The heats, speeds first.
    pub heats: Vec<Heat>,
    /// Scatter of the dough temperatures about the fit, K; `None` without a row to spare.
    pub residual_sd_k: Option<f64>,
    /// Line, and by how much its dough was warmer than the fit, K.
    pub residuals_k: Vec<(u64, f64)>,
    /// Temperatures in the sum of most rows, 3 or 4: a rise times this is the friction factor.
    pub terms: u8,
    /// What this log cannot tell.
    #[serde(skip)]
    pub diagnostics: Vec<FrictionDiagnostic>,
}

/// What a log of mixes cannot tell. A `heat` is a speed's name, `wetting` or `mix`.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
#[allow(missing_docs)]
pub enum FrictionDiagnostic {
    /// A speed was never used: nothing is known of its heat.
    NeverUsed { heat: String },
    /// Two heats always move together, or nearly always: only their sum is known.
    MoveTogether { heats: [String; 2], always: bool },
    /// No mix is left to judge the errors by.
    NoFreedom { mixes: usize, heats: usize },
    /// A heat came out negative: readings, or a cold bowl that is not counted.
    NegativeHeat { heat: String },
}

/// Share of a column's square that may be left when the others explain it: below, they move together.
const TOGETHER: f64 = 1e-3;

/// Learns the heat of the mixer.
///
/// ```
/// use pointage::heat::properties::ThermalProperties;
/// use pointage::learn::friction::{Method, MixLog, friction};
/// let log = MixLog::from_csv("\
/// flour_kg,flour_c,water_kg,water_c,room_c,dough_c,slow_min,fast_min
/// 10,21,6.5,12,22,21.6,4,5
/// 10,20,6.5,14,21,19.9,4,2
/// 10,22,6.5,10,23,20.4,8,2
/// ")?;
/// let method = Method::HeatBalance {
///     capacities: ThermalProperties::shipped()?,
///     wetting_kj_per_kg: Some(9.9),
///     bowl_kj_per_k: 0.0,
/// };
/// let report = friction(&log.mixes, &log.speeds, method)?;
/// assert!(report.heats[1].value > report.heats[0].value); // fast warms more than slow
/// # Ok::<(), pointage::Error>(())
/// ```
///
/// # Errors
/// No mix, a mix with another number of speeds, a wetting heat outside 0 to 150 kJ/kg or a bowl outside
/// 0 to 1000 kJ/K.
pub fn friction(mixes: &[Mix], speeds: &[String], method: Method) -> Result<FrictionReport> {
    if mixes.is_empty() {
        return Err(Error::contradiction(
            "the log has no usable mix; log flour, water, room and dough temperatures and the minutes",
        ));
    }
    if mixes.iter().any(|m| m.minutes.len() != speeds.len()) {
        return Err(Error::contradiction(
            "every mix needs minutes for every speed; write 0 where a speed was not used",
        ));
    }
    if let Method::HeatBalance {
        capacities,
        wetting_kj_per_kg,
        bowl_kj_per_k,
    } = method
    {
        capacities.checked()?;
        let wetting = wetting_kj_per_kg.unwrap_or(0.0);
        check("bowl", bowl_kj_per_k, 0.0, 1000.0, "kJ/K")?;
        check("wetting heat", wetting, 0.0, 150.0, "kJ/kg")?;
    }
    let equations = mixes.iter().map(|mix| method.equation(mix));
    let equations = equations.collect::<Result<Vec<_>>>()?;
    let [per_minute, per_mix, of_wetting] = match method {
        Method::SumScale => ["K/min", "K", ""],
        Method::HeatBalance { .. } => ["kJ/(kg min)", "kJ/kg", "kJ/kg"],
    };
    let mut columns: Vec<(String, &'static str)> =
        speeds.iter().map(|s| (s.clone(), per_minute)).collect();
    if speeds.is_empty() {
        columns.push(("mix".into(), per_mix));
    }
    let timed = columns.len();
    if equations.iter().all(|e| e.wetting.is_some()) {
        columns.push(("wetting".into(), of_wetting));
    }
    // The rise for a heat of one: in a minute, or in all.
    let per_unit = |i: usize, j: usize| match equations[i].wetting {
        Some(wetting) if j == timed => wetting,
        _ => equations[i].mixer,
    };
    let design = DMatrix::from_fn(mixes.len(), columns.len(), |i, j| {
        mixes[i].minutes.get(j).copied().unwrap_or(1.0) * per_unit(i, j)
    });
    let rise_k = DVector::from_iterator(mixes.len(), equations.iter().map(|e| e.rise_k));
    let fit = linear(&design, &rise_k)?;
    let left_k = &rise_k - &design * &fit.values;
    let mut heats = Vec::new();
    for (j, (name, unit)) in columns.into_iter().enumerate() {
        let sum = (0..mixes.len()).map(|i| per_unit(i, j)).sum::<f64>();
        heats.push(Heat {
            name,
            value: fit.values[j],
            standard_error: fit.standard_errors[j],
            unit,
            rise_k: fit.values[j] * (sum / mixes.len() as f64),
        });
    }
    let names: Vec<String> = heats.iter().map(|h| h.name.clone()).collect();
    let mut diagnostics = together(&names, &design, &fit.covariance);
    if fit.residual_sd.is_none() {
        let (mixes, heats) = (mixes.len(), names.len());
        diagnostics.push(FrictionDiagnostic::NoFreedom { mixes, heats });
    }
    for Heat { name, .. } in heats.iter().filter(|h| h.value < 0.0) {
        let heat = name.clone();
        diagnostics.push(FrictionDiagnostic::NegativeHeat { heat });
    }
    let with_preferment = mixes.iter().filter(|m| m.preferment.is_some()).count();
    Ok(FrictionReport {
        heats,
        residual_sd_k: fit.residual_sd,
        residuals_k: mixes
            .iter()
            .map(|m| m.line)
            .zip(left_k.iter().copied())
            .collect(),
        terms: if 2 * with_preferment > mixes.len() {
            4
        } else {
            3
        },
        diagnostics,
    })
}

/// A mix as a linear equation: `rise = mixer sum(w minutes) + wetting q`.
struct MixEquation {
    rise_k: f64,
    mixer: f64,
    /// `None` where the wetting heat is known.
    wetting: Option<f64>,
}

impl Method {
    fn equation(&self, mix: &Mix) -> Result<MixEquation> {
        match *self {
            Self::SumScale => {
                let mut known = vec![mix.flour_temperature, mix.room, mix.water_temperature];
                known.extend(mix.preferment.map(|p| p.temperature));
                let sum: f64 = known.iter().map(|t| t.as_celsius()).sum();
                Ok(MixEquation {
                    rise_k: mix.dough.as_celsius() - sum / known.len() as f64,
                    mixer: 1.0,
                    wetting: None,
                })
            }
            Self::HeatBalance {
                capacities,
                wetting_kj_per_kg,
                bowl_kj_per_k,
            } => {
                let (flour_kg, water_kg) = (mix.flour.as_kilograms(), mix.water.as_kilograms());
                let flour_kj_per_k = flour_kg * capacities.c_flour_kj_per_kg_k;
                let water_kj_per_k = water_kg * capacities.c_water_kj_per_kg_k;
                let mut dough_kg = flour_kg + water_kg;
                let mut parts = vec![
                    (flour_kj_per_k, mix.flour_temperature),
                    (water_kj_per_k, mix.water_temperature),
                    (bowl_kj_per_k, mix.room),
                ];
                if let Some(p) = mix.preferment {
                    let kj_per_kg_k = capacities.dough(p.hydration, Percent::new(0.0)?);
                    dough_kg += p.mass.as_kilograms();
                    parts.push((p.mass.as_kilograms() * kj_per_kg_k, p.temperature));
                }
                let all_kj_per_k: f64 = parts.iter().map(|(c, _)| c).sum();
                // In differences from the dough, so that the zero of the scale does not matter.
                let lacking_kj = |(c, t): &(f64, Temperature)| c * (mix.dough - *t).as_kelvin();
                let lacking_kj: f64 = parts.iter().map(lacking_kj).sum();
                let of_wetting = flour_kg / all_kj_per_k;
                let known_k = wetting_kj_per_kg.unwrap_or(0.0) * of_wetting;
                Ok(MixEquation {
                    rise_k: lacking_kj / all_kj_per_k - known_k,
                    mixer: dough_kg / all_kj_per_k,
                    wetting: wetting_kj_per_kg.is_none().then_some(of_wetting),
                })
            }
        }
    }
}

/// Heats that move together, each named once with the one that it follows most closely.
fn together(
    names: &[String],
    design: &DMatrix<f64>,
    covariance: &Covariance,
) -> Vec<FrictionDiagnostic> {
    let dot = |a: usize, b: usize| design.column(a).dot(&design.column(b));
    let mut found = Vec::new();
    let mut named = vec![false; names.len()];
    for j in 0..names.len() {
        let square = dot(j, j);
        if square == 0.0 {
            let heat = names[j].clone();
            found.push(FrictionDiagnostic::NeverUsed { heat });
            continue;
        }
        // What is left of a column once the others explain what they can, as a share of it.
        let left = 1.0 / (covariance.matrix[(j, j)] * square);
        let always = covariance.undetermined[j];
        if named[j] || !(always || left < TOGETHER) {
            continue;
        }
        let alike = |k: usize| dot(j, k).abs() / (square * dot(k, k)).sqrt();
        let partner = (0..names.len())
            .filter(|&k| k != j && dot(k, k) > 0.0)
            .max_by(|&a, &b| alike(a).total_cmp(&alike(b)));
        if let Some(k) = partner {
            named[k] = true;
            let heats = [names[j].clone(), names[k].clone()];
            found.push(FrictionDiagnostic::MoveTogether { heats, always });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sum_scale_is_that_of_the_ddt_formula() {
        // T. Lehmann, Pizza Today, June 2018, p. 29: 240 - (65 + 75 + 65) = 35 °F for one mix.
        let log = MixLog::from_csv(
            "flour_lb,flour_f,water_lb,water_f,room_f,dough_f\n50,65,30,65,75,80\n",
        )
        .unwrap();
        let report = friction(&log.mixes, &log.speeds, Method::SumScale).unwrap();
        let sum_scale_f = report.heats[0].value * f64::from(report.terms) * 1.8;
        assert!((sum_scale_f - 35.0).abs() < 1e-9, "{sum_scale_f}");
        assert_eq!(
            (report.heats[0].name.as_str(), report.heats[0].unit),
            ("mix", "K")
        );
        assert_eq!(report.heats[0].standard_error, None);
    }

    #[test]
    fn bad_rows_are_named_and_good_ones_kept() {
        let log = MixLog::from_csv(
            "flour_g,flour_c,water_g,water_c,room_c,dough_c,slow_min\n\
             1000,20,600,10,20,24,5\n1000,20,600,10,20,24\n0,20,600,10,20,24,5\n\
             1000,20,600,10,,24,5\n1000,20,600,10,20,24,500\n",
        )
        .unwrap();
        assert_eq!(log.mixes.len(), 1);
        let said: Vec<String> = log.refused.iter().map(ToString::to_string).collect();
        assert_eq!(
            said,
            [
                "line 3: 6 cells where the header has 7; add or remove separators (a decimal comma needs quotes, or semicolons between the cells)",
                "line 4, column flour_g: is 0; give what went into the mix",
                "line 5, column room_c: the cell is empty; fill it in",
                "line 6, column slow_min: minutes of mixing is 500 min, but must lie between 0 and 240 min",
            ]
        );
        let error = MixLog::from_csv("flour_g,watr_g\n").unwrap_err();
        assert!(
            error.to_string().contains("did you mean \"water_g\""),
            "{error}"
        );
    }

    fn read(text: &str) -> FrictionReport {
        let log = MixLog::from_csv(text).unwrap();
        friction(&log.mixes, &log.speeds, Method::SumScale).unwrap()
    }

    /// Three mixes of all at 20 °C that came off at 22, 24 and 27: a rise of 13/3, and what is left of each.
    #[test]
    fn what_is_left_of_a_mix_is_its_rise_less_the_fit() {
        let report = read(
            "flour_g,flour_c,water_g,water_c,room_c,dough_c\n\
             1000,20,600,20,20,22\n1000,20,600,20,20,24\n1000,20,600,20,20,27\n",
        );
        for ((line, left), expected) in
            report
                .residuals_k
                .iter()
                .zip([(2, 22.0), (3, 24.0), (4, 27.0)])
        {
            assert_eq!(*line, expected.0);
            assert!(
                (left - (expected.1 - 20.0 - 13.0 / 3.0)).abs() < 1e-12,
                "{left}"
            );
        }
        let heat = &report.heats[0];
        assert!((heat.value - 13.0 / 3.0).abs() < 1e-12);
        // On the sum scale a unit is a kelvin.
        assert!((heat.rise_k - heat.value).abs() < 1e-12);
        // Squares 49/9 + 1/9 + 64/9 = 38/3 over two degrees of freedom.
        assert!((report.residual_sd_k.unwrap() - (19.0 / 3.0_f64).sqrt()).abs() < 1e-12);
        assert_eq!(report.residuals_k.len(), 3);
    }

    /// Flour of 2 kJ/(kg K) and water of 4: a kg of each makes 2 kg of dough for 6 kJ/K, with two of flour 3 kg
    /// for 8 kJ/K. A minute of 6 kJ/kg warms the one by 2 K and the other by 2.25 K.
    #[test]
    fn the_rise_of_a_minute_is_that_of_the_mean_mix() {
        let log = MixLog::from_csv(
            "flour_g,flour_c,water_g,water_c,room_c,dough_c,slow_min\n\
             1000,20,1000,20,20,22,1\n2000,20,1000,20,20,22.25,1\n",
        )
        .unwrap();
        let method = Method::HeatBalance {
            capacities: ThermalProperties {
                c_flour_kj_per_kg_k: 2.0,
                c_water_kj_per_kg_k: 4.0,
                ..ThermalProperties::shipped().unwrap()
            },
            wetting_kj_per_kg: Some(0.0),
            bowl_kj_per_k: 0.0,
        };
        let report = friction(&log.mixes, &log.speeds, method).unwrap();
        assert!((report.heats[0].value - 6.0).abs() < 1e-9);
        assert!((report.heats[0].rise_k - 2.125).abs() < 1e-9);
        assert!(report.residuals_k.iter().all(|(_, left)| left.abs() < 1e-9));
    }

    /// The sum of most rows: of four terms only where more than half had a preferment.
    #[test]
    fn terms_are_those_of_most_mixes() {
        let terms = |with: usize, without: usize| {
            let mut text = String::from(
                "flour_g,flour_c,water_g,water_c,room_c,dough_c,preferment_g,preferment_c\n",
            );
            text += &"1000,20,600,20,20,22,500,20\n".repeat(with);
            text += &"1000,20,600,20,20,22,,\n".repeat(without);
            read(&text).terms
        };
        for (with, without, expected) in [
            (1, 0, 4),
            (3, 0, 4),
            (2, 1, 4),
            (1, 1, 3),
            (1, 2, 3),
            (0, 2, 3),
        ] {
            assert_eq!(terms(with, without), expected, "{with} {without}");
        }
    }

    fn said(names: &[&str], design: DMatrix<f64>) -> Vec<FrictionDiagnostic> {
        let names: Vec<String> = names.iter().map(|&n| n.to_owned()).collect();
        let y = DVector::zeros(design.nrows());
        let fit = linear(&design, &y).unwrap();
        together(&names, &design, &fit.covariance)
    }

    fn pair(a: &str, b: &str, always: bool) -> FrictionDiagnostic {
        FrictionDiagnostic::MoveTogether {
            heats: [a.into(), b.into()],
            always,
        }
    }

    /// Two columns at a small angle: `(2, 0)` and `(2, y)`. With the determinant `d = 4 y²` the inverse has
    /// `(4 + y²)/d` and `4/d`, so that `y²/(4 + y²)` is left of either.
    #[test]
    fn what_nearly_moves_together_is_told() {
        let of = |y: f64| {
            let design = DMatrix::from_row_slice(2, 2, &[2.0, 2.0, 0.0, y]);
            said(&["slow", "fast"], design)
        };
        // 0.06²/4.0036 = 0.0009, 0.065²/4.004 = 0.00106.
        assert_eq!(of(0.06), [pair("slow", "fast", false)]);
        assert_eq!(of(0.065), []);
        assert_eq!(of(2.0), []);
    }

    /// Each is named with the one it follows most closely, however much of both there was, and a speed that
    /// was never used with none.
    #[test]
    fn the_closest_partner_is_named() {
        // `c` is a third of `a`; `b` is large and not like it; `d` was never used.
        let rows = [
            [3.0, 50.0, 1.0, 0.0],
            [6.0, 0.0, 2.0, 0.0],
            [9.0, 60.0, 3.0, 0.0],
        ];
        let never = FrictionDiagnostic::NeverUsed { heat: "d".into() };
        let design = DMatrix::from_fn(3, 4, |i, j| rows[i][j]);
        assert_eq!(
            said(&["a", "b", "c", "d"], design),
            [pair("a", "c", true), never.clone()]
        );
        // Alone with one that was never used there is nothing to go with.
        let design = DMatrix::from_row_slice(2, 2, &[1.0, 0.0, 2.0, 0.0]);
        assert_eq!(said(&["c", "d"], design), [never]);
    }

    /// All at 20 °C and as cold off the mixer: no heat, which is not a negative one.
    #[test]
    fn no_heat_is_not_negative() {
        let negative = |dough: &str| {
            let row = format!("1000,20,600,20,20,{dough}\n");
            let report = read(&format!(
                "flour_g,flour_c,water_g,water_c,room_c,dough_c\n{row}{row}"
            ));
            report
                .diagnostics
                .iter()
                .any(|d| matches!(d, FrictionDiagnostic::NegativeHeat { .. }))
        };
        assert!(!negative("20") && !negative("20.5"));
        assert!(negative("19.5"));
    }
}
