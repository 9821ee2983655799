//! Where a fermentation stands, to be saved and restored, and put right by what was measured.

use super::Fermentation;
use crate::error::{Error, Result, check};
use crate::units::Temperature;
use serde::{Deserialize, Deserializer, Serialize};

/// Where a fermentation stands. Amounts are per 100 g flour.
///
/// It can be saved and restored; what is restored is checked.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "FermentationState"))]
#[serde(deny_unknown_fields)]
pub struct State {
    /// Hours since the start.
    #[serde(deserialize_with = "amount")]
    pub(crate) hours: f64,
    /// Temperature of the dough.
    #[serde(deserialize_with = "celsius")]
    pub(crate) temperature_c: f64,
    /// Living yeast, as fresh, g.
    #[serde(deserialize_with = "amount")]
    pub(crate) yeast: f64,
    /// CO2 made, mL.
    #[serde(deserialize_with = "amount")]
    pub(crate) gas: f64,
    /// CO2 still in the dough, mL.
    #[serde(deserialize_with = "amount")]
    pub(crate) held: f64,
    /// Hours at 27 °C that would have had the same effect on the lag.
    #[serde(deserialize_with = "amount")]
    pub(crate) lag_hours: f64,
    /// Yeast that already grows; the rest waits for the end of the lag.
    #[serde(deserialize_with = "amount")]
    pub(super) growing: f64,
    /// True once the lag is over.
    pub(super) awake: bool,
    /// Gas that would have been made with sugar without end, mL.
    #[serde(deserialize_with = "amount")]
    pub(super) potential: f64,
    /// Own heat still in the dough, K above the profile.
    #[serde(deserialize_with = "celsius")]
    pub(super) excess_k: f64,
}

fn amount<'d, D: Deserializer<'d>>(from: D) -> std::result::Result<f64, D::Error> {
    let value = f64::deserialize(from)?;
    check("amount of a state", value, 0.0, 1e6, "").map_err(serde::de::Error::custom)
}

fn celsius<'d, D: Deserializer<'d>>(from: D) -> std::result::Result<f64, D::Error> {
    let value = f64::deserialize(from)?;
    check("temperature of a state", value, -100.0, 150.0, "°C").map_err(serde::de::Error::custom)
}

impl State {
    /// Hours since the start.
    #[must_use]
    pub fn hours(&self) -> f64 {
        self.hours
    }

    /// Temperature of the dough, °C.
    #[must_use]
    pub fn temperature_c(&self) -> f64 {
        self.temperature_c
    }

    /// Living yeast, as fresh, g.
    #[must_use]
    pub fn yeast(&self) -> f64 {
        self.yeast
    }

    /// CO2 made, mL.
    #[must_use]
    pub fn gas(&self) -> f64 {
        self.gas
    }

    /// CO2 still in the dough, mL.
    #[must_use]
    pub fn held(&self) -> f64 {
        self.held
    }

    /// Hours at 27 °C that would have had the same effect on the lag.
    #[must_use]
    pub fn lag_hours(&self) -> f64 {
        self.lag_hours
    }
}

/// What was measured on a dough.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measurement {
    /// CO2 made since the start, mL per 100 g flour.
    Gas(f64),
    /// Volume over that without gas, V/V0, as a jar shows it.
    VolumeRatio(f64),
    /// A probe in the dough.
    Temperature(Temperature),
}

impl Fermentation {
    /// The state put right by a measurement. Gas made and gas held move together: what a jar shows more was
    /// made, what it shows less was not. The yeast stays what it was.
    ///
    /// # Errors
    /// Gas below 0 or beyond the sugar, or V/V0 outside 1 to 10.
    pub fn corrected(&self, state: &State, by: Measurement) -> Result<State> {
        let (gas, held) = match by {
            Measurement::Temperature(t) => {
                return Ok(State {
                    temperature_c: t.as_celsius(),
                    ..*state
                });
            }
            Measurement::Gas(gas) => (gas, (state.held + gas - state.gas).max(0.0)),
            Measurement::VolumeRatio(ratio) => {
                let ratio = check("V/V0", ratio, 1.0, 10.0, "")?;
                let held = self.volume.held_at_ratio(ratio, state.temperature_c);
                ((state.gas + held - state.held).max(0.0), held)
            }
        };
        check("gas made", gas, 0.0, 1e5, "mL per 100 g flour")?;
        let potential = self.medium.potential_of(gas).ok_or_else(|| {
            Error::contradiction("the sugar of this dough does not give so much gas")
        })?;
        Ok(State {
            gas,
            held,
            potential,
            ..*state
        })
    }
}
