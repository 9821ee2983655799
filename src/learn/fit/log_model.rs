//! The log time of every row, and its slopes, as a function of the parameters in prior deviations.

use crate::budget;
use crate::error::{Error, Result};
use crate::ferment::{Isothermal, Kind, LEARNABLE, LEARNT, Parameters};
use crate::learn::log::LoggedDough;
use nalgebra::{SMatrix, SVector};

/// The parameters, in the order of [`LEARNABLE`], in prior deviations.
pub(super) type Vector = SVector<f64, LEARNT>;
pub(super) type Square = SMatrix<f64, LEARNT, LEARNT>;

/// Standard deviations of the bend before any log: slope and curve against the log dose, curve against the
/// temperature. By simulation: kitchens of the model's own family lose little by them, others are followed.
const BEND: [f64; 3] = [0.08, 0.03, 0.12];
/// A dough, prepared to be asked with many parameters.
struct PreparedDough<'o> {
    bake: &'o LoggedDough,
    /// Where it has a closed form.
    held: Option<Isothermal<'o>>,
}

impl PreparedDough<'_> {
    fn log_hours(&self, p: &Parameters) -> Option<f64> {
        let hours = match &self.held {
            Some(held) => {
                let before_h = self.bake.history.hours;
                let made = match before_h > 0.0 {
                    true => held.gas_after(&p.kinetics, before_h)?,
                    false => 0.0,
                };
                let gas = made + self.bake.stage().end_gas(p, held.t);
                held.hours_until_gas(&p.kinetics, gas)? - before_h
            }
            None => self.bake.ready(p).ok()?,
        };
        Some(hours.ln())
    }
}

pub(super) struct LogModel<'o> {
    /// With the deviations of the bend.
    pub prior: Parameters,
    /// `L` with `L L'` the inverse of the prior's correlations: `|L' z|²` is what the prior costs.
    pub triangle: Square,
    rows: Vec<PreparedDough<'o>>,
}

impl<'o> LogModel<'o> {
    pub fn new(
        given: &'o Parameters,
        bakes: impl Iterator<Item = &'o LoggedDough>,
    ) -> Result<Self> {
        let mut prior = given.clone();
        if prior.spread.bend == [0.0; 3] {
            prior.spread.bend = BEND;
        }
        // Correlations that were read make sense; those that a caller put together may not.
        let senseless =
            || Error::contradiction("the correlations of the parameters contradict each other");
        let correlations = Square::from(prior.correlations.matrix);
        let precision = correlations.cholesky().ok_or_else(senseless)?.inverse();
        let triangle = precision.cholesky().ok_or_else(senseless)?.l();
        let row = |bake: &'o LoggedDough| {
            let held = Isothermal::new(&bake.stage(), given, &bake.place.course()?)?;
            Ok(PreparedDough { bake, held })
        };
        let rows = bakes.map(row).collect::<Result<_>>()?;
        Ok(Self {
            prior,
            triangle,
            rows,
        })
    }

    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// The parameters at `z`; `None` where they leave their ranges.
    pub fn parameters(&self, z: &Vector) -> Option<Parameters> {
        let mut moved = LEARNABLE.iter().zip(z.iter()).filter(|(_, z)| **z != 0.0);
        moved.try_fold(self.prior.clone(), |p, (&which, &z)| p.moved(which, z).ok())
    }

    /// The predicted log time of every row; `None` where a row has none.
    pub fn log_hours(&self, z: &Vector) -> Option<Vec<f64>> {
        budget::spend(1 + self.rows.len() / 8).ok()?;
        let p = self.parameters(z)?;
        self.rows.iter().map(|row| row.log_hours(&p)).collect()
    }

    /// `d ln t / dz` of every row.
    pub fn slopes(&self, z: &Vector) -> Option<Vec<Vector>> {
        let p = self.parameters(z)?;
        let slopes = |row: &PreparedDough<'_>| {
            let (stage, hours) = (row.bake.stage(), row.log_hours(&p)?.exp());
            let (course, before_h) = (row.bake.place.course().ok()?, row.bake.history.hours);
            let mut moved = stage.gas_moved(&p, &course, before_h + hours).ok()?;
            if before_h > 0.0 {
                moved = moved.since(&stage.gas_moved(&p, &course, before_h).ok()?);
            }
            Some(Vector::from(moved.slopes(&p, stage.end)))
        };
        self.rows.iter().map(slopes).collect()
    }
}

/// The kind by whose end point another one's is told.
pub(super) fn level_of(kind: Kind) -> Kind {
    match kind {
        Kind::OldDough => Kind::Dough,
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ferment::{LEARNT_NAMES, Uncertain};

    /// Each parameter moves by its own deviations, and stands in a file by its own name.
    #[test]
    fn parameters_move_by_their_deviations_and_have_their_names() {
        let shipped = Parameters::shipped().unwrap();
        let model = LogModel::new(&shipped, [].into_iter()).unwrap();
        for (j, (which, name)) in LEARNABLE.into_iter().zip(LEARNT_NAMES).enumerate() {
            let mut z = Vector::zeros();
            z[j] = 0.5;
            let moved = model.parameters(&z).unwrap();
            let (before, sd) = (shipped.learnt_value(which), model.prior.spread_of(which));
            let expected = match which {
                Uncertain::Tilt
                | Uncertain::DoseSlope
                | Uncertain::DoseCurve
                | Uncertain::TemperatureCurve => before + 0.5 * sd,
                _ => before * (0.5 * sd).exp(),
            };
            assert!(
                sd > 0.0 && (moved.learnt_value(which) - expected).abs() < 1e-9,
                "{name}"
            );
            let text = format!(
                "format = 1\nid = \"k\"\ntitle = \"t\"\nobserved = \"o\"\nsource = \"s\"\nlocus = \"l\"\nstanding = \"derived\"\n[values.{name}]\nvalue = {expected:?}\nse = 0.01\n"
            );
            let table = crate::table::parse(&text).unwrap();
            assert_eq!(
                shipped.with_table(&table).unwrap().learnt_value(which),
                expected,
                "{name}"
            );
        }
    }

    /// `ln t = ... + a ln(dose/0.6)`: what the bend's slope adds by its definition, held and along a record alike.
    #[test]
    fn a_bend_lengthens_by_its_definition() {
        use crate::ambient::Ambient;
        use crate::learn::log::LoggedPlace;
        use crate::units::Temperature;
        let at = |celsius: f64| Temperature::celsius(celsius).unwrap();
        // The dead time goes by the clock: it is not bent.
        let mut shipped = Parameters::shipped().unwrap();
        shipped.kinetics = shipped.kinetics.with_dead_time(0.0).unwrap();
        for celsius in [18.0, 24.0, 27.0] {
            let held = LoggedDough {
                kind: Kind::Poolish,
                composition: Kind::Poolish.usual().unwrap(),
                fresh_percent: 0.3,
                history: crate::learn::log::History::default(),
                rise: None,
                place: LoggedPlace::Held(at(celsius)),
            };
            let record = LoggedPlace::Room {
                room: Ambient::ramps(&[(0.0, celsius), (30.0, celsius)]).unwrap(),
                start: None,
                time_constant_h: 2.0,
            };
            let room = LoggedDough {
                place: record,
                ..held.clone()
            };
            let model = LogModel::new(&shipped, [&held, &room].into_iter()).unwrap();
            let x = f64::ln(0.3 / 0.6);
            let y = (celsius - 24.0) / 10.0;
            let definition = [x, x * x, y * y / (1.0 + y * y)];
            for slopes in model.slopes(&Vector::zeros()).unwrap() {
                for ((j, sd), by) in (10..).zip(BEND).zip(definition) {
                    assert!(
                        (slopes[j] - sd * by).abs() < 1e-6,
                        "{celsius} {j}: {}",
                        slopes[j]
                    );
                }
            }
        }
    }
}
