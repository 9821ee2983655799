//! Why a time is what it is: how far it moves with each of the things that a baker can change or that
//! change by themselves.

use super::model::{StageName, stage_name};
use super::process::{DoughProcess, Known};
use super::search::Timeline;
use crate::error::Result;
use crate::units::Temperature;
use serde::{Deserialize, Serialize};

/// A time and what moves it most.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Reason {
    /// `preferment`, `bulk` or `proof`: the end of that stage.
    #[serde(deserialize_with = "stage_name")]
    pub stage: StageName,
    /// The three causes that matter most, the strongest first.
    pub causes: Vec<Cause>,
}

/// A change and what it does to a time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Cause {
    /// The change.
    pub change: Change,
    /// Minutes by which the stage becomes longer; negative is shorter.
    pub minutes: f64,
}

/// A small change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Change {
    /// The dough off the mixer 1 °C warmer.
    WarmerDough,
    /// The rooms 1 °C warmer, all but the cold ones.
    WarmerRoom,
    /// A tenth more yeast at the mix.
    MoreYeastAtMix,
    /// A tenth more yeast in the preferment.
    MoreYeastInPreferment,
}

/// Hours of the preferment, of the bulk and of the proof with a change.
fn lengths(
    process: &DoughProcess<'_>,
    timeline: &Timeline,
    change: Option<Change>,
) -> Result<[Option<f64>; 3]> {
    let by = |this: Change, amount: f64| if change == Some(this) { amount } else { 0.0 };
    let warmer = process.rooms.warmer(by(Change::WarmerRoom, 1.0))?;
    let process = DoughProcess::new(process.bake, process.p, &warmer)?;
    let bulk = &timeline.bulk;
    let mut ripe_h = None;
    let mut ripening = None;
    if let Some(mut one) = bulk.preferment {
        one.fresh_percent *= 1.0 + by(Change::MoreYeastInPreferment, 0.1);
        ripe_h = Some(process.ripe_hours(&one)?);
        ripening = Some(process.preferment_used_at(one, one.used)?);
    }
    let mixed_c = bulk.off_mixer.as_celsius() + by(Change::WarmerDough, 1.0);
    let known = Known {
        added: Some(bulk.added * (1.0 + by(Change::MoreYeastAtMix, 0.1))),
        mixed: Some(Temperature::celsius(mixed_c)?),
        by_dough: true,
        ..Known::default()
    };
    let new = process.bulk(bulk.mix.start_h, ripening, known)?;
    let first = super::loads::first(&process, &new, timeline.first_share)?;
    let proof_h = first.oven_in - first.shaped.proof_from;
    Ok([ripe_h, Some(new.bulk_h()), Some(proof_h)])
}

/// The reasons of a plan's times.
pub(super) fn reasons(process: &DoughProcess<'_>, timeline: &Timeline) -> Result<Vec<Reason>> {
    let plain = lengths(process, timeline, None)?;
    let mut reasons = ["preferment", "bulk", "proof"].map(|stage| Reason {
        stage,
        causes: Vec::new(),
    });
    for change in [
        Change::WarmerDough,
        Change::WarmerRoom,
        Change::MoreYeastAtMix,
        Change::MoreYeastInPreferment,
    ] {
        // A change that this plan cannot have, such as a dough done in the cold, is no cause of its times.
        let changed = match lengths(process, timeline, Some(change)) {
            Err(e) if e.is_unreachable() => continue,
            changed => changed?,
        };
        for ((reason, a), b) in reasons.iter_mut().zip(plain).zip(changed) {
            let minutes = a.zip(b).map_or(0.0, |(a, b)| 60.0 * (b - a));
            if minutes.abs() >= 0.05 {
                reason.causes.push(Cause { change, minutes });
            }
        }
    }
    for reason in &mut reasons {
        let size = |c: &Cause| c.minutes.abs();
        reason.causes.sort_by(|a, b| size(b).total_cmp(&size(a)));
        reason.causes.truncate(3);
    }
    let reasons = reasons.into_iter().filter(|r| !r.causes.is_empty());
    Ok(reasons.collect())
}
