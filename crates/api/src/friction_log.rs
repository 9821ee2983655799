//! Heat of the mixer from a log of mixes.

use pointage::error::{Error, Result, check};
use pointage::heat::capacities::HeatCapacities;
use pointage::heat::mixing_heat::MixingHeat;
use pointage::learn::Refused;
use pointage::learn::fit::sentences;
use pointage::learn::friction::{FrictionReport, Method, MixLog, friction};
use pointage::units::Percent;
use serde::{Deserialize, Serialize};

/// A log of mixes and how to reckon.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FrictionLogRequest {
    /// The log as CSV text, see [`MixLog::from_csv`].
    pub log_csv: String,
    /// The trade's sum of temperatures instead of the heat balance.
    pub sum_scale: bool,
    /// Learn the wetting heat too, instead of taking it from the flour's moisture.
    pub learn_wetting: bool,
    /// Moisture of the flour, %; the usual one when left out.
    pub flour_moisture_percent: Option<f64>,
    /// Mass of a steel bowl that comes as warm as the room, kg; left out, it is not counted.
    pub bowl_kg: Option<f64>,
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
    pub warnings: Vec<String>,
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
    let method = if request.sum_scale {
        if request.learn_wetting
            || request.bowl_kg.is_some()
            || request.flour_moisture_percent.is_some()
        {
            return Err(Error::contradiction(
                "the sum scale (--sum) knows no wetting, moisture or bowl; leave them out, or use the heat balance",
            ));
        }
        Method::SumScale
    } else {
        let heat = MixingHeat::shipped()?;
        let capacities = HeatCapacities::shipped()?;
        let moisture = request
            .flour_moisture_percent
            .unwrap_or(heat.usual_moisture_percent);
        let wetting = heat.hydration_kj_per_kg(Percent::new(moisture)?)?;
        let bowl_kg = check(
            "mass of the bowl",
            request.bowl_kg.unwrap_or(0.0),
            0.0,
            1000.0,
            "kg",
        )?;
        Method::HeatBalance {
            capacities,
            wetting_kj_per_kg: (!request.learn_wetting).then_some(wetting),
            bowl_kj_per_k: bowl_kg * capacities.steel_kj_per_kg_k,
        }
    };
    let report = friction(&log.mixes, &log.speeds, method)?;
    Ok(FrictionLogAnswer {
        rows_used: log.mixes.len(),
        warnings: report.diagnostics.iter().map(sentences::friction).collect(),
        report,
        refused: log.refused,
    })
}
