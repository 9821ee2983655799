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

use super::engine::linear;
use super::sheet::{Refused, Row, Sheet, is_mass, is_temperature};
use crate::error::{Error, Result, check};
use crate::heat::capacities::HeatCapacities;
use crate::units::{Mass, Percent, Temperature};

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

const COLUMNS: [&str; 12] = [
    "date",
    "flour_g",
    "flour_c",
    "water_g",
    "water_c",
    "room_c",
    "preferment_g",
    "preferment_c",
    "preferment_hydration_percent",
    "dough_c",
    "slow_min",
    "note",
];

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
        let sheet = Sheet::read(text)?;
        sheet.only(&COLUMNS, |h| {
            COLUMNS.contains(&h)
                || h.strip_suffix("_min").is_some_and(|s| !s.is_empty())
                || ["flour", "water", "preferment"]
                    .iter()
                    .any(|n| is_mass(h, n) || is_temperature(h, n))
                || is_temperature(h, "room")
                || is_temperature(h, "dough")
        })?;
        let speeds: Vec<String> = sheet
            .header()
            .iter()
            .filter_map(|h| h.strip_suffix("_min").map(str::to_owned))
            .collect();
        let mut log = Self {
            speeds,
            mixes: Vec::new(),
            refused: Vec::new(),
        };
        for (name, found) in [
            ("flour_g", sheet.mass("flour")?.is_some()),
            ("flour_c", sheet.temperature("flour")?.is_some()),
            ("water_g", sheet.mass("water")?.is_some()),
            ("water_c", sheet.temperature("water")?.is_some()),
            ("room_c", sheet.temperature("room")?.is_some()),
            ("dough_c", sheet.temperature("dough")?.is_some()),
        ] {
            if !found {
                return Err(sheet.missing(name));
            }
        }
        for row in sheet.rows() {
            match log.mix(&sheet, &row)? {
                Ok(mix) => log.mixes.push(mix),
                Err(refused) => log.refused.push(refused),
            }
        }
        Ok(log)
    }

    fn mix(&self, sheet: &Sheet, row: &Row<'_>) -> Result<std::result::Result<Mix, Refused>> {
        let mass = |name: &str| sheet.mass(name);
        let temperature = |name: &str| sheet.temperature(name);
        let (flour, flour_c) = (mass("flour")?, temperature("flour")?);
        let (water, water_c) = (mass("water")?, temperature("water")?);
        let (room, dough) = (temperature("room")?, temperature("dough")?);
        let (preferment, preferment_c) = (mass("preferment")?, temperature("preferment")?);
        let hydration = sheet.plain("preferment_hydration_percent");
        let read = || {
            row.check_length()?;
            let mut minutes = Vec::with_capacity(self.speeds.len());
            for speed in &self.speeds {
                let column = sheet.plain(&format!("{speed}_min"));
                let value = row.number(column)?.unwrap_or(0.0);
                check("minutes of mixing", value, 0.0, 240.0, "min")
                    .map_err(|e| row.refuse(column, &e))?;
                minutes.push(value);
            }
            let mixed_in = match row.mass(preferment)?.filter(|m| m.as_grams() > 0.0) {
                None => None,
                Some(mass) => {
                    let percent = row.number(hydration)?.unwrap_or(USUAL_HYDRATION);
                    check(
                        "water of the preferment",
                        percent,
                        30.0,
                        300.0,
                        "% of its flour",
                    )
                    .map_err(|e| row.refuse(hydration, &e))?;
                    Some(MixedIn {
                        mass,
                        temperature: row.needed(preferment_c, row.temperature(preferment_c)?)?,
                        hydration: Percent::new(percent).map_err(|e| row.refuse(hydration, &e))?,
                    })
                }
            };
            let above_zero = |column, value: Option<Mass>| {
                let mass = row.needed(column, value)?;
                let why = || Error::malformed("is 0; give what went into the mix");
                (mass.as_grams() > 0.0)
                    .then_some(mass)
                    .ok_or_else(|| row.refuse(column, &why()))
            };
            Ok(Mix {
                line: row.line,
                flour: above_zero(flour, row.mass(flour)?)?,
                flour_temperature: row.needed(flour_c, row.temperature(flour_c)?)?,
                water: above_zero(water, row.mass(water)?)?,
                water_temperature: row.needed(water_c, row.temperature(water_c)?)?,
                room: row.needed(room, row.temperature(room)?)?,
                preferment: mixed_in,
                dough: row.needed(dough, row.temperature(dough)?)?,
                minutes,
            })
        };
        Ok(read())
    }
}

/// How the heat is reckoned.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Method {
    /// The heat balance, with these heat capacities.
    HeatBalance {
        /// Heat capacities.
        capacities: HeatCapacities,
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
    /// Temperatures in the sum of most rows, 3 or 4: a rise times this is the friction of the sum rule.
    pub terms: u8,
    /// What this log cannot tell, and what to do about it.
    pub warnings: Vec<String>,
}

/// Share of a column's square that may be left when the others explain it: below, they move together.
const TOGETHER: f64 = 1e-3;

/// Learns the heat of the mixer.
///
/// ```
/// use pointage::heat::capacities::HeatCapacities;
/// use pointage::learn::friction::{Method, MixLog, friction};
/// let log = MixLog::from_csv("\
/// flour_kg,flour_c,water_kg,water_c,room_c,dough_c,slow_min,fast_min
/// 10,21,6.5,12,22,21.6,4,5
/// 10,20,6.5,14,21,19.9,4,2
/// 10,22,6.5,10,23,20.4,8,2
/// ")?;
/// let method = Method::HeatBalance {
///     capacities: HeatCapacities::shipped()?,
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
    let columns = columns(mixes, speeds, method)?;
    let mut names: Vec<String> = speeds.to_vec();
    if speeds.is_empty() {
        names.push("mix".into());
    }
    if columns.learns_wetting {
        names.push("wetting".into());
    }
    let fit = linear(&columns.design, &columns.rise_k)?;
    let residuals_k = mixes
        .iter()
        .zip(columns.design.iter().zip(&columns.rise_k))
        .map(|(mix, (row, rise))| {
            let fitted: f64 = row.iter().zip(&fit.values).map(|(x, b)| x * b).sum();
            (mix.line, rise - fitted)
        })
        .collect();
    let count = mixes.len() as f64;
    let mean = |j: usize| columns.per_unit.iter().map(|row| row[j]).sum::<f64>() / count;
    let heats: Vec<Heat> = names
        .iter()
        .enumerate()
        .map(|(j, name)| Heat {
            name: name.clone(),
            value: fit.values[j],
            standard_error: fit.standard_errors[j],
            unit: columns.units[j],
            rise_k: fit.values[j] * mean(j),
        })
        .collect();
    let mut warnings = together(
        &names,
        &columns.design,
        &fit.undetermined,
        &fit.unscaled_covariance,
    );
    if fit.residual_sd.is_none() {
        warnings.push(format!(
            "{} mix{} for {} heat{} leave nothing to judge the errors by; log more mixes with other minutes",
            mixes.len(),
            if mixes.len() == 1 { "" } else { "es" },
            names.len(),
            if names.len() == 1 { "" } else { "s" }
        ));
    }
    for heat in heats.iter().filter(|h| h.value < 0.0) {
        warnings.push(format!(
            "the heat of {} is negative; check the readings, and that the bowl is counted if it is cold",
            heat.name
        ));
    }
    let with_preferment = mixes.iter().filter(|m| m.preferment.is_some()).count();
    Ok(FrictionReport {
        heats,
        residual_sd_k: fit.residual_sd,
        residuals_k,
        terms: if 2 * with_preferment > mixes.len() {
            4
        } else {
            3
        },
        warnings,
    })
}

/// The linear problem.
struct Columns {
    design: Vec<Vec<f64>>,
    rise_k: Vec<f64>,
    /// Rise for one minute, or for the whole wetting, of a heat of one.
    per_unit: Vec<Vec<f64>>,
    units: Vec<&'static str>,
    learns_wetting: bool,
}

fn columns(mixes: &[Mix], speeds: &[String], method: Method) -> Result<Columns> {
    let timed = !speeds.is_empty();
    let minutes = |mix: &Mix| {
        if timed {
            mix.minutes.clone()
        } else {
            vec![1.0]
        }
    };
    let count = speeds.len().max(1);
    let mut out = Columns {
        design: Vec::new(),
        rise_k: Vec::new(),
        per_unit: Vec::new(),
        units: Vec::new(),
        learns_wetting: false,
    };
    match method {
        Method::SumScale => {
            out.units = vec![if timed { "K/min" } else { "K" }; count];
            for mix in mixes {
                let known = [mix.flour_temperature, mix.room, mix.water_temperature]
                    .into_iter()
                    .chain(mix.preferment.map(|p| p.temperature));
                let terms = known.clone().count() as f64;
                let mean: f64 = known.map(Temperature::as_celsius).sum::<f64>() / terms;
                out.rise_k.push(mix.dough.as_celsius() - mean);
                out.design.push(minutes(mix));
                out.per_unit.push(vec![1.0; count]);
            }
        }
        Method::HeatBalance {
            capacities,
            wetting_kj_per_kg,
            bowl_kj_per_k,
        } => {
            capacities.checked()?;
            check(
                "heat capacity of the bowl",
                bowl_kj_per_k,
                0.0,
                1000.0,
                "kJ/K",
            )?;
            if let Some(wetting) = wetting_kj_per_kg {
                check("wetting heat", wetting, 0.0, 150.0, "kJ/kg")?;
            }
            out.learns_wetting = wetting_kj_per_kg.is_none();
            out.units = vec![if timed { "kJ/(kg min)" } else { "kJ/kg" }; count];
            if out.learns_wetting {
                out.units.push("kJ/kg");
            }
            for mix in mixes {
                let (flour_kg, water_kg) = (mix.flour.as_kilograms(), mix.water.as_kilograms());
                let none = Percent::new(0.0)?;
                let preferment_kg = mix.preferment.map_or(0.0, |p| p.mass.as_kilograms());
                let parts = [
                    (
                        flour_kg * capacities.flour_kj_per_kg_k,
                        mix.flour_temperature,
                    ),
                    (
                        water_kg * capacities.water_kj_per_kg_k,
                        mix.water_temperature,
                    ),
                    (bowl_kj_per_k, mix.room),
                ]
                .into_iter()
                .chain(mix.preferment.map(|p| {
                    (
                        p.mass.as_kilograms() * capacities.dough(p.hydration, none),
                        p.temperature,
                    )
                }));
                let all_kj_per_k: f64 = parts.clone().map(|(c, _)| c).sum();
                // In differences from the dough, so that the zero of the scale does not matter.
                let lacking_kj: f64 = parts.map(|(c, t)| c * (mix.dough - t).as_kelvin()).sum();
                let of_mixer = (flour_kg + water_kg + preferment_kg) / all_kj_per_k;
                let of_wetting = flour_kg / all_kj_per_k;
                let known = wetting_kj_per_kg.unwrap_or(0.0) * of_wetting;
                out.rise_k.push(lacking_kj / all_kj_per_k - known);
                let mut row: Vec<f64> = minutes(mix).iter().map(|m| m * of_mixer).collect();
                let mut unit = vec![of_mixer; count];
                if out.learns_wetting {
                    row.push(of_wetting);
                    unit.push(of_wetting);
                }
                out.design.push(row);
                out.per_unit.push(unit);
            }
        }
    }
    Ok(out)
}

/// Heats that move together, each named once with the one that it follows most closely.
fn together(
    names: &[String],
    design: &[Vec<f64>],
    undetermined: &[bool],
    covariance: &[Vec<f64>],
) -> Vec<String> {
    let dot = |a: usize, b: usize| design.iter().map(|row| row[a] * row[b]).sum::<f64>();
    let mut warnings = Vec::new();
    let mut named = vec![false; names.len()];
    for j in 0..names.len() {
        let square = dot(j, j);
        if square == 0.0 {
            warnings.push(format!(
                "{} was never used in this log, so nothing is known of its heat",
                names[j]
            ));
            continue;
        }
        // What is left of a column once the others explain what they can, as a share of it.
        let left = 1.0 / (covariance[j][j] * square);
        if named[j] || !(undetermined[j] || left < TOGETHER) {
            continue;
        }
        let alike = |k: usize| dot(j, k).abs() / (square * dot(k, k)).sqrt();
        let partner = (0..names.len())
            .filter(|&k| k != j && dot(k, k) > 0.0)
            .max_by(|&a, &b| alike(a).total_cmp(&alike(b)));
        if let Some(k) = partner {
            named[k] = true;
            let (how, told) = if undetermined[j] {
                ("always", "so it tells what they add up to and not each")
            } else {
                ("nearly always", "so it hardly tells one from the other")
            };
            warnings.push(format!(
                "{} and {} {how} move together in this log, {told}; log a few mixes with more of one and \
                 less of the other",
                names[j], names[k]
            ));
        }
    }
    warnings
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
                "line 3: 6 cells where the header has 7; add or remove commas",
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
            capacities: HeatCapacities {
                flour_kj_per_kg_k: 2.0,
                water_kj_per_kg_k: 4.0,
                ..HeatCapacities::shipped().unwrap()
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

    /// Two columns at a small angle: `(2, 0)` and `(2, y)`. With the determinant `d = 4 y²` the inverse has
    /// `(4 + y²)/d` and `4/d`, so that `y²/(4 + y²)` is left of either.
    #[test]
    fn what_nearly_moves_together_is_told() {
        let names = ["slow", "fast"].map(str::to_owned);
        let said = |y: f64| {
            let design = vec![vec![2.0, 2.0], vec![0.0, y]];
            let d = 4.0 * y * y;
            let covariance = vec![vec![(4.0 + y * y) / d, -4.0 / d], vec![-4.0 / d, 4.0 / d]];
            together(&names, &design, &[false, false], &covariance)
        };
        // 0.06²/4.0036 = 0.0009, 0.065²/4.004 = 0.00106.
        let near = said(0.06);
        assert_eq!(near.len(), 1, "{near:?}");
        assert!(near[0].starts_with("slow and fast nearly always move together"));
        assert!(said(0.065).is_empty());
        assert!(said(2.0).is_empty());
    }

    /// Each is named with the one it follows most closely, however much of both there was, and a speed that
    /// was never used with none.
    #[test]
    fn the_closest_partner_is_named() {
        let names = ["a", "b", "c", "d"].map(str::to_owned);
        // `c` is a third of `a`; `b` is large and not like it; `d` was never used.
        let design = vec![
            vec![3.0, 50.0, 1.0, 0.0],
            vec![6.0, 0.0, 2.0, 0.0],
            vec![9.0, 60.0, 3.0, 0.0],
        ];
        let mut covariance = vec![vec![0.0; 4]; 4];
        covariance[1][1] = 1.0 / 3000.0;
        let said = together(&names, &design, &[true, false, true, true], &covariance);
        assert_eq!(said.len(), 2, "{said:?}");
        assert!(said[0].starts_with("a and c always move together"));
        assert!(said[1].starts_with("d was never used"));
        // Alone with one that was never used there is nothing to go with.
        let alone = together(
            &names[2..],
            &[vec![1.0, 0.0], vec![2.0, 0.0]],
            &[true, true],
            &vec![vec![0.0; 2]; 2],
        );
        assert_eq!(alone.len(), 1, "{alone:?}");
    }

    /// All at 20 °C and as cold off the mixer: no heat, which is not a negative one.
    #[test]
    fn no_heat_is_not_negative() {
        let negative = |dough: &str| {
            let row = format!("1000,20,600,20,20,{dough}\n");
            let report = read(&format!(
                "flour_g,flour_c,water_g,water_c,room_c,dough_c\n{row}{row}"
            ));
            report.warnings.iter().any(|w| w.contains("is negative"))
        };
        assert!(!negative("20") && !negative("20.5"));
        assert!(negative("19.5"));
    }
}
