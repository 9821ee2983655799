//! The stages of a day as a log keeps them: what was in the dough, how warm it was, how long it took.

use super::bake::{Bake, ColdStage};
use super::environment::Environment;
use super::measurement::{Checkpoint, Dent, Measured};
use super::model::Anchor;
use super::process::{DoughProcess, Known, PieceCache, Waits};
use super::search::timeline;
use crate::error::{Error, Result};
use crate::ferment::{Kind, Parameters};
use crate::formula::{MixStage, Role};
use crate::units::as_hours;
use serde::Serialize;

/// A stage of a day, up to what was seen of it; its fields are columns of a log, and what is 0 may go without one.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct LoggedStage {
    /// The preferment's kind, or [`Kind::Bulk`] or [`Kind::Proof`].
    pub kind: Kind,
    /// Its flour, g.
    pub flour_g: f64,
    /// Its water, g.
    pub water_g: f64,
    /// Its salt, g.
    #[serde(skip_serializing_if = "is_none")]
    pub salt_g: f64,
    /// Yeast of its mix, in the bake's kind, g.
    pub yeast_g: f64,
    /// How much of the flour a preferment or old dough has brought, g.
    #[serde(skip_serializing_if = "is_none")]
    pub preferment_flour_g: f64,
    /// Living yeast that they have brought, as fresh, g.
    #[serde(skip_serializing_if = "is_none")]
    pub living_yeast_g: f64,
    /// Mean of the dough over the stage, °C.
    pub temperature_c: f64,
    /// Hours from the mixing to the start of the stage.
    #[serde(skip_serializing_if = "is_none")]
    pub before_hours: f64,
    /// Hours from its start to what was seen.
    pub hours: f64,
    /// `ready`, `not-yet` or `past`; nothing where only a rise was seen.
    pub seen: Option<&'static str>,
    /// V/V0 that the jar showed then.
    pub rise: Option<f64>,
}

fn is_none(amount: &f64) -> bool {
    *amount == 0.0
}

/// The stages of a day that were seen, in the order of the measurements; those of one stage at one hour are one. The dough
/// off the mixer must be among them: from there on hours count, and the dough is followed in the places of the bake. A
/// preferment counts as mixed when the plan has it mixed, a proof as begun when the bulk, as it was seen ready, has been
/// divided and shaped in the time of the bake.
///
/// # Errors
/// No measurement of the mix; a stage that the bake does not have, that had not begun, or that went through the cold.
pub fn logged_stages(
    bake: &Bake,
    places: &Environment,
    p: &Parameters,
    measured: &[Measured],
) -> Result<Vec<LoggedStage>> {
    let off_mixer = measured.iter().find_map(|m| match m.what {
        Checkpoint::Mixed(dough) => Some((dough, m.at)),
        _ => None,
    });
    let why = "the stages of a day count from its mix; give that too, such as \"mix 25C 05:10\"";
    let (dough, mixed) = off_mixer.ok_or_else(|| Error::contradiction(why))?;
    let mix = mixed - as_hours(bake.process.mix);
    let ready = (measured.iter()).find(|m| m.what == Checkpoint::BulkReady);
    let rooms = places.rooms(bake, 0.0)?;
    let process = DoughProcess::new(bake, p, &rooms)?;
    let known = Known {
        mixed: Some(dough),
        bulk_h: ready.map(|m| (m.at - mixed).max(0.0)),
        by_dough: true,
        ..Known::default()
    };
    let ripening = process.preferment_for(process.preferment_used(mix))?;
    let bulk = process.bulk(mix, ripening, known)?;
    let batch = &bulk.batch;
    let flour_g = batch.flour.as_grams();
    let of = |role, stage| batch.mass_of(role, stage).as_grams();
    let of_bulk = LoggedStage {
        kind: Kind::Bulk,
        flour_g,
        water_g: batch.water.as_grams(),
        salt_g: batch.salt.as_grams(),
        yeast_g: of(Role::Yeast, MixStage::Mix),
        preferment_flour_g: flour_g * DoughProcess::fermented_flour(batch).iter().sum::<f64>(),
        living_yeast_g: flour_g * process.carried(batch, ripening.as_ref()) / 100.0,
        temperature_c: process.bulk_mean_c(&bulk)?,
        before_hours: mixed - mix,
        hours: mixed,
        seen: None,
        rise: None,
    };
    let mut pieces = PieceCache::new(&process, &bulk);
    let mut stages: Vec<LoggedStage> = Vec::new();
    for &Measured { what, at } in measured {
        if let Checkpoint::Mixed(_) = what {
            continue;
        }
        let (seen, rise) = in_words_of_a_log(what);
        // As yet `hours` is when the stage begins.
        let mut stage = match (what.step().0, ripening) {
            (0..=2, None) => {
                let why = "this bake has no preferment; leave the measurement of one out";
                return Err(Error::contradiction(why));
            }
            (0..=2, Some(ripening)) => LoggedStage {
                kind: process.preferment()?.kind,
                flour_g: of(Role::Flour, MixStage::Preferment),
                water_g: of(Role::Water, MixStage::Preferment),
                salt_g: of(Role::Salt, MixStage::Preferment),
                yeast_g: of(Role::Yeast, MixStage::Preferment),
                preferment_flour_g: 0.0,
                living_yeast_g: 0.0,
                temperature_c: process.preferment_mean_c(&ripening)?,
                before_hours: 0.0,
                hours: ripening.mixed,
                ..of_bulk
            },
            (5, _) => {
                let shaped = pieces.shaped(Waits::default())?;
                LoggedStage {
                    kind: Kind::Proof,
                    temperature_c: pieces.proof_mean_c(&shaped, at.max(shaped.proof_from))?,
                    before_hours: shaped.proof_from - mix,
                    hours: shaped.proof_from,
                    ..of_bulk
                }
            }
            _ => of_bulk.clone(),
        };
        (stage.hours, stage.seen, stage.rise) = (at - stage.hours, seen, rise);
        let kind = stage.kind;
        if stage.hours <= 0.0 {
            return Err(Error::contradiction(format!(
                "the {kind} had not begun when it was seen; check the hours, and give \"bulk ready\" before a proof"
            )));
        }
        let cold = match kind {
            Kind::Bulk => bake.cold_of(ColdStage::Bulk),
            Kind::Proof => bake.cold.as_ref(),
            _ => bake.preferment_cold(),
        };
        if cold.is_some() {
            return Err(Error::contradiction(format!(
                "a {kind} that went through the cold has no one temperature; log a day without its stay there"
            )));
        }
        let same = |other: &&mut LoggedStage| (other.kind, other.hours) == (kind, stage.hours);
        match stages.iter_mut().find(same) {
            Some(same) => (same.seen, same.rise) = (seen.or(same.seen), rise.or(same.rise)),
            None => stages.push(stage),
        }
    }
    Ok(stages)
}

/// The stages of a bake as a log would keep a day that went by its plan. What went through the cold, and a rise that no
/// jar has told, is left out.
///
/// # Errors
/// As [`plan`](super::plan()).
pub fn planned_stages(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
) -> Result<Vec<LoggedStage>> {
    let batches = bake.mix_batches()?;
    let bake = batches.first().unwrap_or(bake);
    let (rooms, day) = timeline(bake, places, anchor, p, true)?;
    let process = DoughProcess::new(bake, p, &rooms)?;
    let (bulk, own) = (&day.bulk, &bake.reference);
    let mut measured = vec![(Checkpoint::Mixed(bulk.off_mixer), bulk.bulk_start())];
    let ripe = bulk.preferment.filter(|_| bake.preferment_cold().is_none());
    measured.extend(ripe.map(|ripe| (Checkpoint::PrefermentRipe, ripe.used)));
    if bake.cold_of(ColdStage::Bulk).is_none() {
        measured.push((Checkpoint::BulkReady, bulk.bulk_end()));
        let rise = (!own.hides_rise(own.bulk)).then(|| bulk.rise(&bulk.state));
        measured.extend(rise.map(|rise| (Checkpoint::BulkRise(rise), bulk.bulk_end())));
    }
    if let Some(first) = day.loads.first().filter(|_| bake.cold.is_none()) {
        measured.push((Checkpoint::ProofDent(Dent::GoneSlowly), first.oven_in));
        let pieces = PieceCache::new(&process, bulk);
        let rise = pieces.rise(first.ripeness, first.dough_c) / bulk.rise(&first.shaped.fresh);
        let rise = (!own.hides_rise(own.proof)).then_some(rise);
        measured.extend(rise.map(|rise| (Checkpoint::ProofRise(rise), first.oven_in)));
    }
    let measured: Vec<_> = (measured.into_iter().map(|(what, at)| Measured { what, at })).collect();
    logged_stages(bake, places, p, &measured)
}

/// What a measurement says of a stage, and its rise.
fn in_words_of_a_log(what: Checkpoint) -> (Option<&'static str>, Option<f64>) {
    use Checkpoint as C;
    match what {
        C::BulkRise(rise) | C::ProofRise(rise) => (None, Some(rise)),
        C::PrefermentRipe | C::BulkReady | C::ProofDent(Dent::GoneSlowly) => (Some("ready"), None),
        C::PrefermentPast | C::BulkPast | C::ProofDent(Dent::Stays) => (Some("past"), None),
        _ => (Some("not-yet"), None),
    }
}
