//! A bake file to begin with.

use super::Remark;
use super::request::request;
use pointage::error::{Error, Result};
use pointage::ferment::Kind;
use pointage::formula::{YeastFactors, YeastKind};
use pointage::plan::bake::{Bake, bake_sections};
use pointage::units::{Hours, Mass, Temperature};
use serde::Serialize;
use std::fmt::Write as _;

request! {
    /// What the bake is to begin with; what is left out is a guess to be written over.
    NewRequest = "new" {
        /// What ripens ahead: `poolish`, `biga`, `sponge`, `old-dough`, or `dough` for a straight dough
        kind: Option<Kind> = "kind",
        /// Number of pieces
        pieces: Option<u32> = "pieces",
        /// Dough of one piece
        piece_g: Option<Mass> = "piece",
        /// Pieces that the oven takes at once
        pieces_per_load: Option<u32> = "per-load",
        /// What the bread is called
        name: Option<String> = "name",
        /// Kind of yeast
        yeast: Option<YeastKind> = "yeast",
        /// Hours of the preferment in the cold, after one in the kitchen
        preferment_cold_h: Option<Hours> = "preferment-cold",
        /// Temperature of the kitchen
        room_c: Option<Temperature> = "room",
    }
}

/// The answer to `new`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct NewAnswer {
    /// The text of the bake file, each key with its meaning.
    pub bake_toml: String,
    /// Always empty.
    pub warnings: Vec<Remark>,
}

/// A recipe of a kind for a kilogram of flour, invented, with fresh yeast: water of the dough, yeast at its mix; flour,
/// water and yeast of the preferment; its hours.
fn recipe(kind: Kind) -> [f64; 6] {
    match kind {
        Kind::Poolish => [700.0, 5.0, 330.0, 330.0, 0.7, 12.0],
        Kind::Biga => [680.0, 4.0, 400.0, 200.0, 2.0, 16.0],
        Kind::Sponge => [650.0, 5.0, 400.0, 250.0, 4.0, 5.0],
        _ => [670.0, 12.0, 0.0, 0.0, 0.0, 0.0],
    }
}

/// A bake file that plans as it is, each key with its meaning, and says its recipe in grams and minutes.
///
/// # Errors
/// Pieces that no bake can have.
///
/// ```
/// use pointage::plan::bake::Bake;
/// use pointage_api::new::{NewRequest, new};
/// let request = NewRequest { pieces: Some(12), ..NewRequest::default() };
/// assert_eq!(Bake::from_toml(&new(&request)?.bake_toml)?.pieces, 12);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn new(request: &NewRequest) -> Result<NewAnswer> {
    let kind = request.kind.unwrap_or(Kind::Poolish);
    let yeast = request.yeast.unwrap_or(YeastKind::Fresh);
    let factor = YeastFactors::shipped()?.factor(yeast);
    let [
        water_g,
        yeast_g,
        own_flour_g,
        own_water_g,
        own_yeast_g,
        own_h,
    ] = recipe(kind);
    let number = |value: f64| {
        let hundredths = format!("{value:.2}");
        let shortest = hundredths.trim_end_matches('0').trim_end_matches('.');
        shortest.to_owned()
    };
    let text = |value: &str| format!("{value:?}");
    let pieces = request.pieces.unwrap_or(8);
    let name = request.name.as_deref().unwrap_or("My bread");
    let per_load = request.pieces_per_load.unwrap_or(pieces.max(1));
    let piece_g = request.piece_g.map_or(500.0, Mass::as_grams);
    let room_c = request.room_c.map_or(22.0, Temperature::as_celsius);
    let own_yeast = number(own_yeast_g * factor);
    let ahead = own_flour_g > 0.0;
    let old = kind == Kind::OldDough;
    let several = per_load < pieces;
    let chilled = request.preferment_cold_h;
    if chilled.is_some() && !ahead {
        let none =
            Error::contradiction("this kind has no preferment; leave its hours in the cold out");
        return Err(none.of_field("preferment_cold_h"));
    }
    let (chilled, cold_h) = (chilled.is_some(), chilled.map_or(0.0, Hours::as_hours));
    let rows = [
        (true, "", "format", "1".to_owned()),
        (true, "", "name", text(name)),
        (true, "formula", "pieces", pieces.to_string()),
        (true, "formula", "piece_g", number(piece_g)),
        (true, "formula", "flour_g", "1000".to_owned()),
        (true, "formula", "water_g", number(water_g)),
        (true, "formula", "bassinage_g", "0".to_owned()),
        (true, "formula", "salt_g", "20".to_owned()),
        (true, "formula", "yeast_g", number(yeast_g * factor)),
        (old, "formula.old_dough", "mass_g", "200".to_owned()),
        (ahead, "preferment", "kind", text(kind.name())),
        (ahead, "preferment", "flour_g", number(own_flour_g)),
        (ahead, "preferment", "water_g", number(own_water_g)),
        (ahead, "preferment", "yeast_g", own_yeast.clone()),
        (chilled, "preferment.cold", "after_min", "60".to_owned()),
        (chilled, "preferment.cold", "hours", number(cold_h)),
        (chilled, "preferment.cold", "room_c", "4".to_owned()),
        (ahead, "reference", "preferment_h", number(own_h)),
        (ahead, "reference", "preferment_c", "21".to_owned()),
        (ahead, "reference", "preferment_yeast_g", own_yeast.clone()),
        (true, "reference", "yeast_g", number(yeast_g * factor)),
        (true, "reference", "bulk_min", "90".to_owned()),
        (true, "reference", "bulk_c", "24".to_owned()),
        (true, "reference", "proof_min", "60".to_owned()),
        (true, "reference", "proof_c", "24".to_owned()),
        (true, "kitchen", "yeast", text(yeast.name())),
        (true, "kitchen", "room_c", number(room_c)),
        (true, "kitchen", "tap_c", "15".to_owned()),
        (true, "kitchen", "scale_step_g", "1".to_owned()),
        (true, "process", "dough_c", "24".to_owned()),
        (true, "process", "mix_min", "10".to_owned()),
        (true, "process", "folds_min", "[30, 60]".to_owned()),
        (true, "process", "divide_min", "10".to_owned()),
        (true, "process", "bench_rest_min", "20".to_owned()),
        (several, "process", "bench_rest_max_min", "40".to_owned()),
        (true, "process", "shape_min", "10".to_owned()),
        (
            several,
            "process",
            "hold_later_loads",
            "[\"shape-later\", \"retarder\"]".to_owned(),
        ),
        (several, "process", "retarder_c", "4".to_owned()),
        (true, "oven", "pieces_per_load", per_load.to_string()),
        (true, "oven", "bake_min", "30".to_owned()),
        (true, "oven", "oven_recovery_min", "5".to_owned()),
        (true, "oven", "preheat_min", "45".to_owned()),
    ];
    let sections = bake_sections()?;
    let (mut bake_toml, mut current) = (String::new(), None);
    for (_, path, key, value) in rows.iter().filter(|(wanted, ..)| *wanted) {
        let section = sections.iter().find(|s| s.section == *path);
        let row = section.and_then(|s| s.keys.iter().find(|row| row.key == *key));
        let Some((section, row)) = section.zip(row) else {
            continue;
        };
        if current != Some(path) {
            let head = match *path {
                "" => String::new(),
                path => format!("\n[{path}]\n"),
            };
            let _ = writeln!(bake_toml, "{head}# {}", section.about);
            current = Some(path);
        }
        let line = format!("{key} = {value}");
        let _ = writeln!(bake_toml, "{line:<28} # {}", row.meaning);
    }
    // Pieces out of their range are refused in the words of their keys.
    Bake::from_toml(&bake_toml).map_err(|error| match error {
        Error::At {
            field: Some(key),
            source,
            ..
        } => source.of_field(key.rsplit('.').next().unwrap_or_default()),
        error => error,
    })?;
    Ok(NewAnswer {
        bake_toml,
        warnings: Vec::new(),
    })
}
