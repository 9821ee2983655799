//! The dough from its first wetting to the end of its bulk.

use super::{DoughProcess, Part, Ripening};
use crate::ambient::{Ambient, TemperatureProfile};
use crate::error::{Error, Result};
use crate::ferment::dose::{MOST, Search, search};
use crate::ferment::{Composition, Fermentation, Inoculum, State};
use crate::formula::{Batch, Formula, Role, Stage};
use crate::plan::bake::{Bulk, ColdStage, Joins};
use crate::plan::water::{self, Around, MixWater};
use crate::units::{Mass, Percent, Temperature, as_hours};

/// The dough up to the end of its bulk.
#[derive(Debug, Clone)]
pub(in crate::plan) struct BulkResult {
    pub preferment: Option<Ripening>,
    pub water: MixWater,
    pub autolyse: Option<[f64; 2]>,
    /// Temperatures at start and end of the autolyse.
    pub autolyse_c: Option<[f64; 2]>,
    pub mix: [f64; 2],
    /// Temperatures at start and end of the mix.
    pub mix_c: [f64; 2],
    /// The dough off the mixer.
    pub mixed: State,
    /// The bulk, in the cold and out of it.
    pub parts: Vec<Part>,
    pub state: State,
    pub batch: Batch,
    /// Yeast added at the mix, as fresh, % of all flour.
    pub added: f64,
    pub(super) composition: Composition,
    pub(super) inoculum: Inoculum,
}

impl BulkResult {
    pub fn bulk_start(&self) -> f64 {
        self.mix[1]
    }

    pub fn bulk_end(&self) -> f64 {
        self.parts.last().map_or(self.mix[1], |p| p.end)
    }

    pub fn bulk_h(&self) -> f64 {
        self.bulk_end() - self.bulk_start()
    }
}

/// A mix before its dose is known.
struct Mixing {
    /// First wetting.
    start: f64,
    mix: [f64; 2],
    autolyse_c: Option<[f64; 2]>,
    mix_c: [f64; 2],
    /// Temperatures of an autolyse in which the preferment already works.
    resting: Option<[f64; 2]>,
    /// Living yeast brought in, g fresh per 100 g of all flour.
    carried: f64,
    /// Share of the water that comes saturated from the preferment, and its temperature.
    saturated: Option<(f64, f64)>,
    composition: Composition,
    formula: Formula,
    water: MixWater,
}

/// What is already known of a dough, and not to be found out again.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::plan) struct Known {
    /// Yeast added at the mix, as fresh, % of all flour.
    pub added: Option<f64>,
    /// The dough off the mixer, when it was measured.
    pub mixed: Option<Temperature>,
    /// The bulk ends by the clock, so long after the mix.
    pub bulk_h: Option<f64>,
    /// The dough decides when its bulk ends, where the baker has not fixed its minutes.
    pub by_dough: bool,
    /// Mixed already: a dough that is done in the cold comes out of it then.
    pub out_when_done: bool,
}

impl DoughProcess<'_> {
    /// Mixes at `mix`, with a preferment ripe for it, and follows the dough to the end of its bulk.
    pub fn bulk_from_mix(&self, mix: f64) -> Result<BulkResult> {
        let start = mix - as_hours(self.bake.process.autolyse);
        let used = if self.joins_autolyse() { start } else { mix };
        self.bulk(mix, self.preferment_for(used)?, Known::default())
    }

    /// Begins at `start` with the preferment (or, without one, with the dough itself).
    pub fn bulk_from_start(&self, start: f64) -> Result<BulkResult> {
        let ripe = self.preferment_from(start)?;
        let mix = self.mix_after(ripe.map_or(start, |r| r.used), ripe.is_some());
        self.bulk(mix, ripe, Known::default())
    }

    /// When the dough is mixed, if its first wetting, or the use of its preferment, is at an hour.
    pub fn mix_after(&self, used: f64, has_preferment: bool) -> f64 {
        let rest_first = !has_preferment || self.joins_autolyse();
        if rest_first {
            used + as_hours(self.bake.process.autolyse)
        } else {
            used
        }
    }

    pub fn joins_autolyse(&self) -> bool {
        self.bake
            .preferment
            .as_ref()
            .is_some_and(|s| s.joins == Joins::Autolyse)
    }

    /// Mixes at `mix` with this preferment, and follows the dough to the end of its bulk.
    pub fn bulk(&self, mix: f64, preferment: Option<Ripening>, known: Known) -> Result<BulkResult> {
        let m = self.mixing(mix, preferment, known.mixed)?;
        let off_mixer = Temperature::celsius(m.mix_c[1])?;
        let doubled = self.p.levels.doubled.gas;
        let end = self.bulk_end(known, doubled)?;
        let work = |added: f64| -> Result<(State, Vec<Part>, State)> {
            let yeast = Inoculum {
                added,
                carried: m.carried,
            };
            let f = self.ferment(&m.composition, yeast)?;
            let mixed = self.off_the_mixer(&f, &m)?;
            let (parts, state) = self.stand(&f, mixed, m.mix[1], off_mixer, end)?;
            Ok((mixed, parts, state))
        };
        let at_mix = self.bake.formula.yeast.map_or(0.0, Percent::as_percent);
        let added = match (known.added, self.bake.process.bulk) {
            (Some(added), _) => added,
            (None, Bulk::DoseFor(_)) => dose_at_mix(|dose| Ok((work(dose)?.2.gas / doubled).ln()))?,
            (None, _) => at_mix / self.factors.factor(self.bake.formula.yeast_kind),
        };
        let (mixed, parts, state) = work(added)?;
        // The weights again, now that the dose at the mix is known too.
        let mut formula = m.formula;
        formula.yeast = Some(self.dose(added)?);
        let batch = formula.for_pieces(self.bake.pieces, self.bake.piece, self.bake.scrap)?;
        Ok(BulkResult {
            preferment,
            water: m.water,
            autolyse: (m.start < mix).then_some([m.start, mix]),
            autolyse_c: m.autolyse_c,
            mix: m.mix,
            mix_c: m.mix_c,
            mixed,
            parts,
            state,
            batch,
            added,
            composition: m.composition,
            inoculum: Inoculum {
                added,
                carried: m.carried,
            },
        })
    }

    /// Weights, water and temperatures of the mix; a dose that is still to be found weighs nothing yet.
    fn mixing(
        &self,
        mix: f64,
        preferment: Option<Ripening>,
        off_mixer: Option<Temperature>,
    ) -> Result<Mixing> {
        let bake = self.bake;
        let process = &bake.process;
        let start = mix - as_hours(process.autolyse);
        let mut formula = bake.formula.clone();
        if let (Some(own), Some(ripe)) = (&mut formula.preferment, &preferment) {
            own.dose = Some(self.dose(ripe.fresh_percent)?);
        }
        let batch = formula.for_pieces(bake.pieces, bake.piece, bake.scrap)?;
        let around = Around {
            room: self.rooms.kitchen.at(start),
            preferment: preferment
                .map(|r| Temperature::celsius(r.state.temperature_c))
                .transpose()?,
        };
        let water = water::of_dough(bake, &batch, around)?.answered()?;
        let autolyse_c = water
            .balance
            .and_then(|b| b.rest)
            .map(|[a, b]| [a.as_celsius(), b.as_celsius()]);
        let off_mixer = off_mixer.unwrap_or(process.dough).as_celsius();
        // Without a rest the dough warms from what flour and water make to what the mixer makes of it.
        let from_c = match (autolyse_c, water.balance) {
            (Some([_, end]), _) => end,
            (None, Some(b)) => off_mixer - b.mixing_rise.as_kelvin(),
            (None, None) => off_mixer,
        };
        let composition = self.composition(&batch, preferment.as_ref());
        let ahead = batch.mass_of(Role::Water, Stage::Preferment).as_grams();
        Ok(Mixing {
            start,
            mix: [mix, mix + as_hours(process.mix)],
            autolyse_c,
            mix_c: [from_c, off_mixer],
            resting: autolyse_c.filter(|_| preferment.is_some() && self.joins_autolyse()),
            carried: self.carried(&batch, preferment.as_ref()),
            saturated: preferment.map(|r| {
                (
                    ahead / batch.water.as_grams().max(1e-9),
                    r.state.temperature_c,
                )
            }),
            composition,
            formula,
            water,
        })
    }

    /// The dough at the end of its mix. Mixing drives out the free gas of a preferment; what its water
    /// holds dissolved stays.
    fn off_the_mixer(&self, f: &Fermentation, m: &Mixing) -> Result<State> {
        let held = m
            .saturated
            .map_or(0.0, |(share, t)| share * f.volume().dissolved(t));
        let mut state = f.start();
        state.held = held;
        let stretches = [
            (m.mix[0] - m.start, m.resting),
            (m.mix[1] - m.mix[0], Some(m.mix_c)),
        ];
        for (hours, temperatures) in stretches {
            if let Some([from, to]) = temperatures.filter(|_| hours > 0.0) {
                let course = Ambient::ramps(&[(0.0, from), (hours, to)])?;
                state = f.after(&state, &TemperatureProfile::of_room(&course, 0.0), hours)?;
            }
        }
        Ok(state)
    }

    fn bulk_end(&self, known: Known, doubled: f64) -> Result<BulkEnd> {
        let cold: f64 = self
            .retarding()
            .filter(|r| r.0 == "cold")
            .map(|r| r.2)
            .sum();
        Ok(match (known.bulk_h, self.bake.process.bulk) {
            (Some(hours), _) => BulkEnd::After(hours),
            // Minutes fixed by the baker are those outside the cold.
            (None, Bulk::Fixed(time)) => BulkEnd::After(as_hours(time) + cold),
            (None, Bulk::DoseFor(_)) if known.by_dough => BulkEnd::AtGas {
                gas: doubled,
                out_when_done: known.out_when_done,
            },
            (None, Bulk::DoseFor(time)) => {
                let all: f64 = self.retarding().map(|r| r.2).sum();
                if as_hours(time) < all {
                    return Err(Error::contradiction(format!(
                        "[process] bulk_h: {} h is shorter than the {all} h of the bulk in [cold]; lengthen it",
                        as_hours(time)
                    )));
                }
                BulkEnd::After(as_hours(time))
            }
            (None, Bulk::Until(share)) => BulkEnd::AtGas {
                gas: share.as_fraction() * doubled,
                out_when_done: known.out_when_done,
            },
        })
    }

    /// The bulk itself: in its place, or first there, then in the cold, then there again.
    fn stand(
        &self,
        f: &Fermentation,
        mixed: State,
        start: f64,
        off_mixer: Temperature,
        end: BulkEnd,
    ) -> Result<(Vec<Part>, State)> {
        let mut state = mixed;
        let mut parts = Vec::new();
        let (mut hour, mut from) = (start, off_mixer);
        let most = match end {
            BulkEnd::After(hours) => start + hours,
            BulkEnd::AtGas { .. } => f64::INFINITY,
        };
        for (name, place, hours) in self.retarding() {
            let hours = hours.min(most - hour);
            if hours <= 0.0 {
                continue;
            }
            let tau = match name {
                "cold" => self.tau_tub_in_cold,
                _ => self.tau_tub,
            };
            let course = TemperatureProfile::following(place, hour, from, tau)?;
            let before = state;
            state = f.after(&state, &course, hours)?;
            if let BulkEnd::AtGas { gas, out_when_done } = end
                && state.gas >= gas
            {
                let ready = f.until_gas(&before, &course, gas)?.unwrap_or(before);
                let done = ready.hours - before.hours;
                if !out_when_done {
                    return Err(Error::unreachable(
                        "a bulk in the cold of this length",
                        format!(
                            "the dough is done after {done:.1} of the {hours:.1} h of its {name}"
                        ),
                        "use less yeast, a colder place, or a shorter time in [cold]",
                    ));
                }
                let c = [from.as_celsius(), ready.temperature_c];
                parts.push(Part::new(name, [hour, hour + done], c));
                return Ok((parts, ready));
            }
            let c = [from.as_celsius(), state.temperature_c];
            parts.push(Part::new(name, [hour, hour + hours], c));
            hour += hours;
            from = Temperature::celsius(state.temperature_c)?;
        }
        let course = TemperatureProfile::following(&self.rooms.bulk, hour, from, self.tau_tub)?;
        let done = match end {
            BulkEnd::After(_) => f.after(&state, &course, most - hour)?,
            BulkEnd::AtGas { gas, .. } => f.until_gas(&state, &course, gas)?.ok_or_else(|| {
                let cold = self.rooms.bulk.at(hour).as_celsius();
                Error::unreachable(
                    "the end of the bulk",
                    format!("in three weeks at {cold:.1} °C the dough does not get there"),
                    "bulk in a warmer place (bulk_c; above 40 °C in a cooler one), use more yeast, or set bulk_min",
                )
            })?,
        };
        let last = hour + (done.hours - state.hours);
        if last > hour || parts.is_empty() {
            let name = if parts.is_empty() { "bulk" } else { "warm up" };
            let c = [from.as_celsius(), done.temperature_c];
            parts.push(Part::new(name, [hour, last], c));
        }
        Ok((parts, done))
    }

    /// The parts of a bulk before its last one: in its place and in the cold, with their hours.
    fn retarding(&self) -> impl Iterator<Item = (&'static str, &Ambient, f64)> {
        let cold = self
            .bake
            .cold
            .as_ref()
            .filter(|c| c.stage == ColdStage::Bulk);
        let both = cold.zip(self.rooms.cold.as_ref()).map(|(cold, room)| {
            [
                ("bulk", &self.rooms.bulk, as_hours(cold.after)),
                ("cold", room, as_hours(cold.time)),
            ]
        });
        both.into_iter().flatten()
    }

    /// When the cold is over that a bulk was given.
    pub fn cold_end(&self, bulked: &BulkResult) -> f64 {
        bulked.bulk_start() + self.retarding().map(|r| r.2).sum::<f64>()
    }

    /// When a bulk ends that is done before its cold is over.
    pub fn cut_short(&self, bulked: &BulkResult) -> Option<f64> {
        let end = bulked.bulk_end();
        (end < self.cold_end(bulked) - 1e-9).then_some(end)
    }

    /// Fresh yeast as a dose of the baker's kind.
    pub fn dose(&self, fresh_percent: f64) -> Result<Percent> {
        Percent::new(fresh_percent * self.factors.factor(self.bake.formula.yeast_kind))
    }

    fn composition(&self, batch: &Batch, preferment: Option<&Ripening>) -> Composition {
        let share = |m: Mass| m.as_grams() / batch.flour.as_grams();
        let ahead = share(batch.mass_of(Role::Flour, Stage::Preferment));
        let old = batch.old_dough.map_or(0.0, |o| share(o.flour));
        Composition {
            hydration_percent: batch.percent_of_flour(batch.water),
            salt_percent: batch.percent_of_flour(batch.salt),
            sugar_percent: batch.percent_of_flour(batch.mass_of(Role::Sugar, Stage::Mix)),
            fresh_flour: (1.0 - ahead - old).clamp(0.0, 1.0),
            // Old dough is taken to have come to doubled.
            gas_spent: preferment.map_or(0.0, |r| ahead * r.state.gas)
                + old * self.p.levels.doubled.gas,
        }
    }

    /// Living yeast that preferment and old dough bring, g fresh per 100 g of all flour.
    fn carried(&self, batch: &Batch, preferment: Option<&Ripening>) -> f64 {
        let flour = batch.flour.as_grams();
        let ahead = batch.mass_of(Role::Flour, Stage::Preferment).as_grams() / flour;
        let old = batch
            .old_dough
            .map_or(0.0, |o| 100.0 * o.yeast.as_grams() / flour);
        preferment.map_or(0.0, |r| ahead * r.state.yeast) + old
    }

    pub(super) fn ferment(&self, dough: &Composition, yeast: Inoculum) -> Result<Fermentation> {
        let medium = self.p.effects.medium(dough)?;
        let volume = self.p.space.of(dough, self.bake.kitchen.altitude_m);
        let f = Fermentation::new(&self.kinetics, medium, volume, yeast)?;
        Ok(f.with_own_heat(self.dough_heat))
    }

    /// The dough at an hour of its bulk.
    pub fn bulk_at(&self, bulked: &BulkResult, hour: f64) -> Result<State> {
        let f = self.dough(bulked)?;
        let off_mixer = Temperature::celsius(bulked.mix_c[1])?;
        let end = BulkEnd::After((hour - bulked.bulk_start()).max(0.0));
        Ok(self
            .stand(&f, bulked.mixed, bulked.bulk_start(), off_mixer, end)?
            .1)
    }

    /// How far the dough has risen at an hour of its bulk: its volume over that off the mixer.
    pub fn rise_at(&self, bulked: &BulkResult, hour: f64) -> Result<f64> {
        let f = self.dough(bulked)?;
        let now = self.bulk_at(bulked, hour)?;
        Ok(f.volume_ratio(&now) / f.volume_ratio(&bulked.mixed))
    }

    /// Volume of all the dough at the end of its bulk, L.
    pub fn litres(&self, bulked: &BulkResult) -> Result<f64> {
        let f = self.dough(bulked)?;
        let ml_per_100g = f.volume_ratio(&bulked.state) * f.volume().gas_free();
        Ok(bulked.batch.flour.as_grams() / 100.0 * ml_per_100g / 1000.0)
    }

    /// Where the bulk stands at an hour.
    pub fn bulk_place(&self, bulked: &BulkResult, hour: f64) -> &Ambient {
        // Out of the cold when it is done.
        if hour >= bulked.bulk_end() {
            return &self.rooms.bulk;
        }
        let mut from = bulked.bulk_start();
        for (_, place, hours) in self.retarding() {
            if hour < from + hours {
                return place;
            }
            from += hours;
        }
        &self.rooms.bulk
    }

    /// How warm that place is, °C.
    pub fn bulk_room_at(&self, bulked: &BulkResult, hour: f64) -> f64 {
        self.bulk_place(bulked, hour).at(hour).as_celsius()
    }
}

/// When the bulk ends.
#[derive(Clone, Copy)]
enum BulkEnd {
    /// So many hours after the mix.
    After(f64),
    /// At so much gas; in the cold only where the dough may come out of it before its time.
    AtGas { gas: f64, out_when_done: bool },
}

/// The dose at the mix with which the bulk comes to its end in time.
fn dose_at_mix(log_share: impl FnMut(f64) -> Result<f64>) -> Result<f64> {
    let (why, remedy) = match search(1.0, log_share)? {
        Search::Dose(dose) => return Ok(dose),
        Search::LeastIsTooMuch => (
            "the yeast carried in by the preferment alone is faster".to_owned(),
            "shorten bulk_h, use less preferment, or a retarder",
        ),
        Search::MostIsTooLittle { .. } => (
            format!("even {MOST} % fresh yeast is slower"),
            "lengthen bulk_h or use a warmer place",
        ),
    };
    Err(Error::unreachable("the bulk in this time", why, remedy).at("[process] bulk_h"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ferment::Parameters;
    use crate::plan::bake::Bake;

    /// The gas that the flour of a preferment and of old dough has made is spent: by hand, old dough of 20 % of
    /// all flour with 60 % water, 2 % salt and no yeast is 20 / 1.62 = 12.35 % of flour, come to doubled.
    #[test]
    fn flour_that_has_worked_has_spent_its_gas() {
        let text = |old: &str, preferment: &str| {
            format!(
                "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.3\n{old}{preferment}[kitchen]\nroom_c = 21\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n"
            )
        };
        let old = "[formula.old_dough]\npercent = 20\nhydration_percent = 60\nsalt_percent = 2\nyeast_percent = 0\n";
        let poolish = "[preferment]\nkind = \"poolish\"\nflour_percent = 30\ndose_percent = 0.1\n";
        let p = Parameters::shipped().unwrap();
        let doubled = p.levels.doubled.gas;
        for (old, preferment, shares) in [
            ("", "", (0.0, 0.0)),
            (old, "", (0.2 / 1.62, 0.0)),
            ("", poolish, (0.0, 0.3)),
            (old, poolish, (0.2 / 1.62, 0.3)),
        ] {
            let bake = Bake::from_toml(&text(old, preferment)).unwrap();
            let places = bake
                .places(|_| Err(Error::malformed("no records")))
                .unwrap();
            let rooms = places.rooms(&bake, 0.0).unwrap();
            let line = DoughProcess::new(&bake, &p, &rooms).unwrap();
            let bulked = line.bulk_from_mix(8.0).unwrap();
            let ahead = bulked.preferment.map_or(0.0, |r| r.state.gas);
            let spent = shares.0 * doubled + shares.1 * ahead;
            let Composition {
                gas_spent,
                fresh_flour,
                ..
            } = bulked.composition;
            assert!(
                (gas_spent - spent).abs() < 1e-6 * doubled,
                "{gas_spent} {spent}"
            );
            assert!((fresh_flour - (1.0 - shares.0 - shares.1)).abs() < 1e-9);
        }
    }

    /// The yeast that is carried in: by hand, old dough of 20 % of all flour with 60 % water, 2 % salt and 1 % yeast
    /// holds 20 / 1.63 of flour and a hundredth of that of yeast; a poolish of 30 % of the flour brings 0.3 of what
    /// lives in 100 g of it.
    #[test]
    fn old_dough_and_preferment_bring_their_yeast() {
        let old = "[formula.old_dough]\npercent = 20\nhydration_percent = 60\nsalt_percent = 2\nyeast_percent = 1\n";
        let poolish = "[preferment]\nkind = \"poolish\"\nflour_percent = 30\ndose_percent = 0.1\n";
        let p = Parameters::shipped().unwrap();
        for (old, preferment, of_old) in [
            ("", poolish, 0.0),
            (old, "", 0.01 * 20.0 / 1.63),
            (old, poolish, 0.01 * 20.0 / 1.63),
        ] {
            let bake = Bake::from_toml(&format!(
                "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.3\n{old}{preferment}[kitchen]\nroom_c = 21\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n"
            ))
            .unwrap();
            let places = bake
                .places(|_| Err(Error::malformed("no records")))
                .unwrap();
            let rooms = places.rooms(&bake, 0.0).unwrap();
            let line = DoughProcess::new(&bake, &p, &rooms).unwrap();
            let bulked = line.bulk_from_mix(8.0).unwrap();
            let ahead = bulked.preferment.map_or(0.0, |r| 0.3 * r.state.yeast);
            let carried = bulked.inoculum.carried;
            assert!((carried - of_old - ahead).abs() < 1e-9, "{carried}");
        }
    }

    /// A rise counts from the dough off the mixer, which a preferment that worked in a warm autolyse has raised a
    /// little already.
    #[test]
    fn a_rise_begins_at_the_mixer() {
        let p = Parameters::shipped().unwrap();
        let bake = Bake::from_toml(
            "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.3\n[preferment]\nkind = \"poolish\"\nflour_percent = 40\ndose_percent = 2\njoins = \"autolyse\"\n[kitchen]\nroom_c = 28\n[process]\ndough_c = 30\nautolyse_min = 120\n[oven]\nbake_min = 40\n",
        )
        .unwrap();
        let places = bake
            .places(|_| Err(Error::malformed("no records")))
            .unwrap();
        let rooms = places.rooms(&bake, 0.0).unwrap();
        let line = DoughProcess::new(&bake, &p, &rooms).unwrap();
        let bulked = line.bulk_from_mix(8.0).unwrap();
        let f = line.ferment(&bulked.composition, bulked.inoculum).unwrap();
        assert!(f.volume_ratio(&bulked.mixed) > 1.01);
        let rise = line.rise_at(&bulked, bulked.bulk_start()).unwrap();
        // But for the tenth of a kelvin by which its own heat has warmed it in the mix.
        assert!((rise - 1.0).abs() < 2e-3, "{rise}");
    }
}
