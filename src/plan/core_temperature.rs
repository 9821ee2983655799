//! Core and surface of a dough that is too thick to be one temperature: a large tub, a cold retard.
//!
//! Fermentation follows the mean, with the lumped form corrected for conduction. Where the Biot number
//! says that core and surface differ, both are worked out by conduction, stage by stage, each beginning
//! even (mixing, dividing and shaping make it so; a tub carried from one place to another is taken so).

use super::model::{StageName, stage_name};
use super::process::{BulkResult, DoughProcess};
use crate::error::Result;
use crate::heat::conduction::{CORE_BIOT, Conduction};
use crate::units::Temperature;
use serde::{Deserialize, Serialize};

/// Core and surface at the end of a stage, °C.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Core {
    /// The stage.
    #[serde(deserialize_with = "stage_name")]
    pub stage: StageName,
    /// Its end, on the plan's clock.
    pub hour: f64,
    /// Mean of the dough.
    pub mean_c: f64,
    /// Middle of the dough, where a probe reads.
    pub core_c: f64,
    /// Its surface.
    pub surface_c: f64,
}

/// Core and surface of the dough in its tub at the end of each part of the bulk.
pub(super) fn cores(line: &DoughProcess<'_>, bulked: &BulkResult) -> Result<Vec<Core>> {
    let body = &line.tub;
    let mut cores = Vec::new();
    for part in &bulked.parts {
        let (start, end, hours) = (part.start_h, part.end_h, part.hours());
        let surface = line.surface(part.name);
        if hours <= 0.0 || body.biot(surface)? <= CORE_BIOT {
            continue;
        }
        // Own heat, evened out over the stage.
        let made = line.bulk_at(bulked, end)?.gas - line.bulk_at(bulked, start)?.gas;
        let watts = line.watts_per_m3(made / hours);
        let place = line.bulk_place(bulked, start);
        let from = part.dough_start_c.map(Temperature::celsius);
        let from = from.unwrap_or(Ok(bulked.off_mixer))?;
        let r = Conduction::of_body(body, surface)?.after(from, place, start, watts, hours);
        cores.push(Core {
            stage: part.name,
            hour: end,
            mean_c: r.mean_c,
            core_c: r.core_c,
            surface_c: r.surface_c,
        });
    }
    Ok(cores)
}
