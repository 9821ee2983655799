//! Heat of the mixer from a log of mixes.

use super::request::request;
use super::sentences::remarks;
use super::{Remark, check_field};
use pointage::error::{Error, Result};
use pointage::heat::properties::ThermalProperties;
use pointage::learn::Refused;
use pointage::learn::friction::{FrictionReport, Method, MixLog, friction};
use pointage::units::{Mass, Percent};
use serde::Serialize;

request! {
    /// A log of mixes and how to evaluate it.
    FrictionLogRequest = "friction" {
        /// The log as CSV text, see [`MixLog::from_csv`]
        log_csv: String as skip,
        /// With a log: friction factors of the DDT formula, not the heat balance
        #[cfg_attr(feature = "flags", arg(long = "sum"))]
        sum_scale: bool,
        /// With a log: learn the heat of wetting too
        #[cfg_attr(feature = "flags", arg(long))]
        learn_wetting: bool,
        /// Moisture of the flour, for its heat of hydration [default: 14%]
        flour_moisture_percent: Option<Percent> = "flour-moisture",
        /// Bowl, of steel; in a log as warm as the room
        bowl_mass_g: Option<Mass> = "bowl-mass",
    }
}

/// What the log says of the mixer.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct FrictionLogAnswer {
    /// Mixes used.
    pub rows_used: usize,
    /// The heats, their scatter and residuals.
    #[serde(flatten)]
    pub report: FrictionReport,
    /// What the log cannot tell.
    pub warnings: Vec<Remark>,
    /// Rows that could not be used.
    pub refused: Vec<Refused>,
}

/// Learns the heat of a mixer from a log.
///
/// # Errors
/// A log that cannot be read or has no usable mix; a sum scale together with what only the heat balance
/// knows; numbers out of range.
///
/// ```
/// use pointage_api::friction_log::{FrictionLogRequest, friction_log};
/// let answer = friction_log(&FrictionLogRequest {
///     log_csv: "flour_kg,flour_c,water_kg,water_c,room_c,dough_c,slow_min\n\
///               10,21,6.5,12,22,20.5,4\n10,20,6.5,14,21,22.4,8\n".into(),
///     ..FrictionLogRequest::default()
/// })?;
/// assert_eq!((answer.rows_used, answer.report.heats[0].unit), (2, "kJ/(kg min)"));
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn friction_log(request: &FrictionLogRequest) -> Result<FrictionLogAnswer> {
    let log = MixLog::from_csv(&request.log_csv)?;
    let of_balance = request.bowl_mass_g.is_some() || request.flour_moisture_percent.is_some();
    let method = if request.sum_scale {
        if request.learn_wetting || of_balance {
            return Err(Error::contradiction(
                "the DDT formula has no wetting, moisture or bowl; leave them out, or use the heat balance",
            ));
        }
        Method::SumScale
    } else {
        let capacities = ThermalProperties::shipped()?;
        let moisture = match request.flour_moisture_percent {
            Some(given) => given,
            None => Percent::new(capacities.flour_moisture_percent)?,
        };
        let wetting = capacities.hydration_kj_per_kg(moisture)?;
        let bowl_kg = request.bowl_mass_g.map_or(0.0, Mass::as_kilograms);
        check_field("bowl_mass_g", "bowl", bowl_kg, (0.0, 1000.0), "kg")?;
        Method::HeatBalance {
            capacities,
            wetting_kj_per_kg: (!request.learn_wetting).then_some(wetting),
            bowl_kj_per_k: bowl_kg * capacities.c_steel_kj_per_kg_k,
        }
    };
    let report = friction(&log.mixes, &log.speeds, method)?;
    Ok(FrictionLogAnswer {
        rows_used: log.mixes.len(),
        warnings: remarks(report.diagnostics.clone()),
        report,
        refused: log.refused,
    })
}
