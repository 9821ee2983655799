//! A row of the published log, and what the fermentation of this library says of it.

use super::NAMES;
use crate::ambient::{Ambient, TemperatureProfile};
use crate::error::{Error, Result};
use crate::ferment::{
    Composition, EndPoint, Fermentation, Inoculum, OwnHeat, Parameters, Stage, State, Volume,
};
use crate::heat::properties::ThermalProperties;
use crate::numeric::{self, NORMAL_90};
use crate::units::{Percent, Temperature};
use serde::Deserialize;

/// Low and high as printed, `2-2.5`; the same where one number stands.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(try_from = "String")]
pub(super) struct PrintedRange {
    low: f64,
    high: f64,
}

impl TryFrom<String> for PrintedRange {
    type Error = std::num::ParseFloatError;

    fn try_from(text: String) -> std::result::Result<Self, Self::Error> {
        let (low, high) = text.split_once('-').unwrap_or((&text, &text));
        Ok(Self {
            low: low.parse()?,
            high: high.parse()?,
        })
    }
}

impl PrintedRange {
    fn middle(self) -> f64 {
        0.5 * (self.low + self.high)
    }

    pub fn log_middle(self) -> f64 {
        (self.low * self.high).sqrt()
    }

    /// Its ends are 10 and 90 % of a normal in the logarithm.
    pub fn log_sd(self) -> f64 {
        (self.high / self.low).ln() / (2.0 * NORMAL_90)
    }
}

/// Minutes one after the other, `10+20+10`.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(try_from = "String")]
pub(super) struct Minutes(Vec<f64>);

impl TryFrom<String> for Minutes {
    type Error = std::num::ParseFloatError;

    fn try_from(text: String) -> std::result::Result<Self, Self::Error> {
        let parts = text.split('+').filter(|part| !part.is_empty());
        parts
            .map(str::parse)
            .collect::<std::result::Result<_, _>>()
            .map(Self)
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Quantity {
    Time,
    Volume,
    VolumeAtEnd,
    Warming,
    Gas,
    Proof,
}

#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Surroundings {
    /// At one temperature throughout.
    Held,
    /// Warms by its own heat and loses none.
    Kept,
    /// Warms by its own heat and follows the room.
    Room,
}

/// A row that is fitted. What a quantity does not have is empty.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct PublishedRow {
    pub id: String,
    pub source: String,
    pub role: String,
    pub quantity: Quantity,
    pub stage: String,
    pub end: String,
    pub fresh_percent: Option<PrintedRange>,
    pub temperature_c: PrintedRange,
    pub room_c: Option<PrintedRange>,
    pub heat: Surroundings,
    pub tau_h: Option<f64>,
    pub water_percent: PrintedRange,
    pub salt_percent: PrintedRange,
    pub bulk_h: Option<PrintedRange>,
    pub bulk_c: Option<PrintedRange>,
    pub handling_min: Minutes,
    pub punched_min: Minutes,
    pub hours: Option<PrintedRange>,
    pub value: Option<PrintedRange>,
    pub assumed: String,
    pub extra_log_sd: Option<f64>,
    pub log_sd: Option<f64>,
}

impl PublishedRow {
    /// True for the times that the errors are counted of.
    pub fn is_counted(&self) -> bool {
        self.role == "fit" && self.quantity == Quantity::Time
    }

    pub fn assumes(&self, column: &str) -> bool {
        self.assumed.split(' ').any(|a| a == column)
    }

    fn missing(&self, column: &str) -> Error {
        let id = &self.id;
        Error::malformed(format!("row {id} of the published log has no {column}"))
    }

    fn hours(&self) -> Result<f64> {
        self.log_middle("hours", self.hours)
    }

    fn log_middle(&self, column: &str, cell: Option<PrintedRange>) -> Result<f64> {
        let middle = cell.map(PrintedRange::log_middle);
        middle.ok_or_else(|| self.missing(column))
    }

    /// Its dose, fresh % of flour; not a number where none is known.
    pub fn dose(&self) -> f64 {
        let dose = self.fresh_percent.map(PrintedRange::log_middle);
        dose.unwrap_or(f64::NAN)
    }

    /// Logarithm of what was observed.
    pub fn log_observed(&self) -> Result<f64> {
        let observed = match self.quantity {
            Quantity::Time | Quantity::Proof => self.hours(),
            _ => self.log_middle("value", self.value),
        };
        observed.map(f64::ln)
    }

    /// Which of the parameters it can depend on.
    pub fn depends_on(&self, parameter: usize) -> bool {
        match NAMES[parameter] {
            "kept" => self.quantity == Quantity::Proof || !self.punched_min.0.is_empty(),
            "q30_ml_per_g_h" | "dead_time_h" => self.quantity != Quantity::VolumeAtEnd,
            of_stage => of_stage.starts_with(&self.stage),
        }
    }

    fn composition(&self) -> Composition {
        Composition::lean(self.water_percent.middle(), self.salt_percent.middle())
    }

    fn stage(&self, p: &Parameters, dose: f64) -> Result<Stage> {
        let composition = self.composition();
        let (water, salt) = (composition.hydration_percent, composition.salt_percent);
        let capacity =
            ThermalProperties::shipped()?.dough(Percent::new(water)?, Percent::new(salt)?);
        let kg = (100.0 + water + salt) / 1000.0;
        let heat = OwnHeat::new(p.heat_kj_per_mol, p.space.molar_volume, kg, capacity)?;
        Ok(Stage {
            composition,
            yeast: Inoculum {
                added: dose,
                carried: 0.0,
            },
            end: EndPoint::Doubled,
            own_heat: (self.heat != Surroundings::Held).then_some(heat),
        })
    }

    /// Where the dough stands.
    fn room(&self) -> Result<Ambient> {
        Ambient::constant(Temperature::celsius(self.end_c())?)
    }

    fn profile<'a>(&self, room: &'a Ambient) -> Result<TemperatureProfile<'a>> {
        let start = Temperature::celsius(self.temperature_c.middle())?;
        match self.tau_h {
            Some(tau_h) => TemperatureProfile::following(room, 0.0, start, tau_h),
            None => Ok(TemperatureProfile::held(start)),
        }
    }

    /// Temperature at its end but for its own heat, °C.
    fn end_c(&self) -> f64 {
        self.room_c.unwrap_or(self.temperature_c).middle()
    }

    /// Gas made up to the end point, by a source whose effect is `e`.
    fn end_gas(&self, p: &Parameters, volume: &Volume, e: f64) -> Result<f64> {
        let made = |ratio| volume.made_for_ratio(ratio, self.end_c());
        let gas = match (self.stage.as_str(), self.end.strip_prefix("rise ")) {
            (_, Some(ratio)) => made(ratio.parse().map_err(|_| self.missing("end"))?),
            _ if self.end == "doubled" || self.stage == "dough" => made(2.0),
            ("poolish", _) => p.levels[0].gas,
            ("biga", _) => p.levels[1].gas,
            ("sponge", _) => p.levels[2].gas,
            _ => return Err(self.missing("end")),
        };
        Ok(gas * e.exp())
    }

    /// Logarithm of what is to be observed, by a dose and a source whose effect is `e`.
    pub fn predict(&self, p: &Parameters, e: f64, dose: f64) -> Result<f64> {
        let room = self.room()?;
        let profile = self.profile(&room)?;
        let mut faster = p.kinetics.rates();
        faster.specific_gas_rate *= (-e).exp();
        let at_hour = || -> Result<(State, Volume)> {
            let f = self.stage(p, dose)?.fermentation(&p.with_rates(faster)?)?;
            Ok((f.after(&f.start(), &profile, self.hours()?)?, *f.volume()))
        };
        Ok(match self.quantity {
            Quantity::Time => self.hours_until_end(p, &profile, e, dose)?,
            Quantity::Proof => self.hours_of_proof(p)?,
            Quantity::VolumeAtEnd => {
                let volume = p.space.of(&self.composition(), 0.0);
                let held = volume.hold(0.0, self.end_gas(p, &volume, e)?, self.end_c());
                volume.ratio(held, self.end_c())
            }
            Quantity::Gas => at_hour()?.0.gas,
            Quantity::Warming => {
                let state = at_hour()?.0;
                state.temperature_c - self.temperature_c.middle()
            }
            Quantity::Volume => {
                let (state, volume) = at_hour()?;
                volume.ratio(state.held, state.temperature_c)
            }
        }
        .ln())
    }

    /// Hours until the end point; a dough that is punched on its way loses gas and comes back to it.
    fn hours_until_end(
        &self,
        p: &Parameters,
        profile: &TemperatureProfile<'_>,
        e: f64,
        dose: f64,
    ) -> Result<f64> {
        let f = self.stage(p, dose)?.fermentation(p)?;
        let gas = self.end_gas(p, f.volume(), e)?;
        let state = self.punched(p, &f, profile)?;
        let ended = if self.punched_min.0.is_empty() {
            f.until_gas(&state, profile, gas)?
        } else {
            let held = f.volume().hold(0.0, gas, self.end_c());
            f.until(&state, profile, &|s| s.held - held)?
        };
        let beyond = || Error::contradiction("an end point beyond the sugar");
        ended.map(|s| s.hours).ok_or_else(beyond)
    }

    /// The dough after its last punch, or at its start where nobody punches it.
    fn punched(
        &self,
        p: &Parameters,
        f: &Fermentation,
        profile: &TemperatureProfile<'_>,
    ) -> Result<State> {
        self.punched_min.0.iter().try_fold(f.start(), |state, at| {
            let risen = f.after(&state, profile, at / 60.0 - state.hours)?;
            Ok(f.handled(&risen, p.kept))
        })
    }

    /// Hours of proof after a bulk whose dose is the one that doubles the dough in its time: only the proof in
    /// proportion to its bulk counts.
    fn hours_of_proof(&self, p: &Parameters) -> Result<f64> {
        let bulk_h = self.log_middle("bulk_h", self.bulk_h)?;
        let bulk = Self {
            temperature_c: self.bulk_c.ok_or_else(|| self.missing("bulk_c"))?,
            stage: "dough".to_owned(),
            ..self.clone()
        };
        let bulk_c = Temperature::celsius(bulk.end_c())?;
        let warm = TemperatureProfile::held(bulk_c);
        let late = |log_dose: f64| -> Result<f64> {
            Ok(bulk.hours_until_end(p, &warm, 0.0, log_dose.exp())? - bulk_h)
        };
        let log_dose = numeric::try_root(late, 0.02f64.ln(), 20f64.ln())?
            .ok_or_else(|| self.missing("dose that doubles it"))?;
        let f = bulk.stage(p, log_dose.exp())?.fermentation(p)?;
        let mut state = bulk.punched(p, &f, &warm)?;
        state = f.after(&state, &warm, bulk_h - state.hours)?;
        let [divide, rest, shape] = self.handling_min.0[..] else {
            return Err(self.missing("handling_min"));
        };
        for minutes in [divide, rest + shape] {
            state = f.after(&state, &warm, minutes / 60.0)?;
            state = f.handled(&state, p.kept);
        }
        let ratio = match self.stage.as_str() {
            "tin" => p.tin_ratio,
            _ => p.hearth_ratio,
        };
        let proof = TemperatureProfile::held(Temperature::celsius(self.end_c())?);
        let proofed = f.until(&state, &proof, &|s| f.volume_ratio(s) - ratio)?;
        let hours = proofed.ok_or_else(|| self.missing("end"))?.hours - state.hours;
        // A piece that is proofed when it is shaped still has a time to compare.
        Ok(hours.max(0.05))
    }
}
