//! Which bake to log next: the one that makes the predictions surest.

use super::Learned;
use super::log_model::Vector;
use crate::budget;
use crate::error::Result;
use crate::ferment::{Composition, Kind};
use crate::learn::log::{History, LoggedDough, LoggedPlace};
use crate::units::Temperature;

/// Bakes that could be made.
#[derive(Debug, Clone, PartialEq)]
pub struct Offers {
    /// Kinds.
    pub kinds: Vec<Kind>,
    /// Doses as fresh, % of the dough's flour.
    pub fresh_percent: Vec<f64>,
    /// Temperatures to hold it at.
    pub temperatures: Vec<Temperature>,
    /// Longest that one would wait, h.
    pub longest_h: f64,
}

/// Usual doses and temperatures for all kinds, ready within 24 h, preferments not before 3 h.
impl Default for Offers {
    fn default() -> Self {
        let celsius = [16.0, 18.0, 20.0, 22.0, 24.0, 26.0, 28.0];
        Self {
            kinds: Kind::ALL.to_vec(),
            fresh_percent: vec![0.1, 0.2, 0.4, 0.8, 1.5, 2.5],
            temperatures: celsius.into_iter().flat_map(Temperature::celsius).collect(),
            longest_h: 24.0,
        }
    }
}

/// The bake to log next.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct NextBake {
    /// What.
    pub kind: Kind,
    /// With how much yeast as fresh, % of its flour.
    pub fresh_percent: f64,
    /// Held at, °C.
    pub temperature_c: f64,
    /// When it should be ready, h.
    pub expected_h: f64,
    /// Mean error of a prediction over all offers as it is, in log time, scatter not counted.
    pub log_sd_now: f64,
    /// And after this bake.
    pub log_sd_then: f64,
}

/// Shortest time of a dough that can be read off to a tenth, h.
const SHORTEST_H: f64 = 0.75;

/// Shortest time that anybody gives a preferment, h (common practice, no source).
const SHORTEST_PREFERMENT_H: f64 = 3.0;

impl Learned {
    /// The offer whose observation shrinks the mean variance of the predicted log time over all offers
    /// most: with `C` the covariance and `g` the slopes of an offer, `C` becomes
    /// `C - C g g' C/(s² + g' C g)`. `None` when no offer is ready in time.
    ///
    /// # Errors
    /// A dose or a temperature out of range.
    pub fn next_bake(&self, offers: &Offers) -> Result<Option<NextBake>> {
        let mut bakes = Vec::new();
        // A stage of a dough is no bake by itself.
        let whole = |kind: &&Kind| !matches!(kind, Kind::Bulk | Kind::Proof);
        for &kind in offers.kinds.iter().filter(whole) {
            let composition = self.usual_of(kind)?;
            let shortest = match kind {
                Kind::Poolish | Kind::Biga | Kind::Sponge => SHORTEST_PREFERMENT_H,
                Kind::OldDough | Kind::Dough | Kind::Bulk | Kind::Proof => SHORTEST_H,
            };
            for &fresh_percent in &offers.fresh_percent {
                for &temperature in &offers.temperatures {
                    let bake = LoggedDough {
                        kind,
                        composition,
                        fresh_percent,
                        history: History::default(),
                        rise: None,
                        place: LoggedPlace::Held(temperature),
                    };
                    budget::spend(1)?;
                    match bake.ready(&self.parameters) {
                        Ok(hours) if (shortest..=offers.longest_h).contains(&hours) => {
                            bakes.push((bake, temperature, hours));
                        }
                        Err(e) if !e.is_unreachable() => return Err(e),
                        _ => {}
                    }
                }
            }
        }
        let slopes = self.slopes(&bakes.iter().map(|(bake, ..)| bake).collect::<Vec<_>>())?;
        let designs: Vec<_> = bakes.iter().zip(slopes).collect();
        let mean = |f: &dyn Fn(&Vector) -> f64| {
            designs.iter().map(|(_, g)| f(g)).sum::<f64>() / designs.len() as f64
        };
        let covariance = &self.found.covariance;
        let now = mean(&|g| g.dot(&(covariance * g)).max(0.0));
        let mut best: Option<(f64, NextBake)> = None;
        for ((bake, temperature, expected_h), g) in &designs {
            budget::spend(1 + designs.len() / 32)?;
            let c_g = covariance * g;
            let noise = self.scatter * self.scatter + g.dot(&c_g);
            let saved = mean(&|h| c_g.dot(h).powi(2) / noise);
            // Of offers that teach the same, the first.
            if best
                .as_ref()
                .is_none_or(|(most, _)| saved > most * (1.0 + 1e-6))
            {
                let next = NextBake {
                    kind: bake.kind,
                    fresh_percent: bake.fresh_percent,
                    temperature_c: temperature.as_celsius(),
                    expected_h: *expected_h,
                    log_sd_now: now.sqrt(),
                    log_sd_then: (now - saved).max(0.0).sqrt(),
                };
                best = Some((saved, next));
            }
        }
        Ok(best.map(|(_, next)| next))
    }

    /// Mean water and salt of such doughs of the log, else the usual ones.
    fn usual_of(&self, kind: Kind) -> Result<Composition> {
        let rows = self.observations.iter().filter(|o| o.bake.kind == kind);
        let logged: Vec<Composition> = rows.map(|o| o.bake.composition).collect();
        let mean =
            |of: fn(&Composition) -> f64| logged.iter().map(of).sum::<f64>() / logged.len() as f64;
        match logged.first() {
            None => kind.usual(),
            Some(&first) => Ok(Composition {
                hydration_percent: mean(|c| c.hydration_percent),
                salt_percent: mean(|c| c.salt_percent),
                ..first
            }),
        }
    }
}
