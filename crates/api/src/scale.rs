//! How much of everything?

use super::{Assumption, Remark};
use pointage::error::Result;
use pointage::formula::{Batch, Ingredient, MixStage, Role, loss, yeast_slurry};
use pointage::plan::bake::Bake;
use pointage::units::Mass;
use serde::Serialize;

/// What to weigh for a number of pieces.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct ScaleAnswer {
    /// Name of the bake.
    pub name: String,
    /// Number of pieces.
    pub pieces: u32,
    /// Dough of one piece, g.
    pub piece_g: f64,
    /// What to weigh, in the order of work; adds up to `dough_g`.
    pub ingredients: Vec<IngredientAnswer>,
    /// All dough made, g.
    pub dough_g: f64,
    /// The part of it left in the tub and on the hands, g.
    pub scrap_g: f64,
    /// All flour, that of preferment and old dough included, g.
    pub flour_g: f64,
    /// All water, that of preferment and old dough included, g.
    pub water_g: f64,
    /// All pieces out of the oven, g, if the bake gives its loss.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub baked_g: Option<f64>,
    /// One piece out of the oven, g, if the bake gives its loss.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub baked_piece_g: Option<f64>,
    /// The formula on all flour.
    pub percentages: Percentages,
    /// What to keep in mind.
    pub warnings: Vec<Remark>,
}

/// One line of the list to weigh.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct IngredientAnswer {
    /// What the baker calls it.
    pub name: String,
    /// `preferment`, `mix` or `bassinage`.
    pub stage: &'static str,
    /// How much, g; 0 for yeast whose dose is still to be found.
    pub mass_g: f64,
}

/// The formula, percent of all flour.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
#[allow(missing_docs)] // the names say all
pub struct Percentages {
    pub hydration_percent: f64,
    pub salt_percent: f64,
    pub sugar_percent: f64,
    pub fat_percent: f64,
    /// All yeast that is weighed, in the preferment and at the mix.
    pub yeast_percent: f64,
    pub bassinage_percent: f64,
    pub preferment_flour_percent: f64,
    pub old_dough_percent: f64,
    /// All dough.
    pub dough_percent: f64,
}

/// What to weigh for this bake, with another number of pieces or another piece if given.
///
/// Yeast whose dose is still to be found (`ripe_after_h`, `bulk_h`) counts as nothing and is said in
/// `warnings`; to have it counted, set the dose found in [`Bake::formula`] first. A dose too small for
/// the scale comes with a way to weigh it in water.
///
/// # Errors
/// As [`Bake::with_pieces`] and [`Bake::batch`].
pub fn scale(bake: &Bake, pieces: Option<u32>, piece: Option<Mass>) -> Result<ScaleAnswer> {
    let bake = bake.with_pieces(pieces, piece)?;
    let batch = bake.batch()?;
    let baked = |loss| loss::baked_mass(bake.piece, loss);
    let baked_piece = bake.bake_loss.map(baked).transpose()?.map(Mass::as_grams);
    let percent = |mass| batch.percent_of_flour(mass);
    let everywhere = |role| -> f64 {
        let of_stage = |stage| percent(batch.mass_of(role, stage));
        MixStage::ALL.map(of_stage).iter().sum()
    };

    let mut warnings = Vec::new();
    for yeast in batch.ingredients.iter().filter(|i| i.role == Role::Yeast) {
        let (name, stage) = (yeast.name.clone(), yeast.stage.name());
        if yeast.mass.as_grams() == 0.0 {
            warnings.push(Assumption::DoseFromPlan { name, stage }.into());
            continue;
        }
        let water = batch.mass_of(Role::Water, yeast.stage);
        match yeast_slurry::weigh_in_water(yeast.mass, bake.kitchen.scale_step, water) {
            Ok(None) => {}
            Ok(Some(slurry)) => {
                let caution = Assumption::TooLittleForScale {
                    name,
                    stage,
                    yeast_g: yeast.mass.as_grams(),
                    step_g: bake.kitchen.scale_step.as_grams(),
                    slurry: Box::new(slurry),
                };
                warnings.push(caution.into());
            }
            Err(error) => warnings.push(error.at(format!("{name} ({stage})")).into()),
        }
    }

    Ok(ScaleAnswer {
        name: bake.name.clone(),
        pieces: bake.pieces,
        piece_g: bake.piece.as_grams(),
        ingredients: ingredients(&batch),
        dough_g: batch.dough.as_grams(),
        scrap_g: batch.scrap.as_grams(),
        flour_g: batch.flour.as_grams(),
        water_g: batch.water.as_grams(),
        baked_g: baked_piece.map(|piece_g| piece_g * f64::from(bake.pieces)),
        baked_piece_g: baked_piece,
        percentages: Percentages {
            hydration_percent: percent(batch.water),
            salt_percent: percent(batch.salt),
            sugar_percent: everywhere(Role::Sugar),
            fat_percent: everywhere(Role::Fat),
            yeast_percent: everywhere(Role::Yeast),
            bassinage_percent: percent(batch.stage_mass(MixStage::Bassinage)),
            preferment_flour_percent: percent(batch.mass_of(Role::Flour, MixStage::Preferment)),
            old_dough_percent: everywhere(Role::OldDough),
            dough_percent: percent(batch.dough),
        },
        warnings,
    })
}

/// The list to weigh.
pub(super) fn ingredients(batch: &Batch) -> Vec<IngredientAnswer> {
    let answer = |i: &Ingredient| IngredientAnswer {
        name: i.name.clone(),
        stage: i.stage.name(),
        mass_g: i.mass.as_grams(),
    };
    batch.ingredients.iter().map(answer).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sentences::codes;
    use pointage::units::Percent;

    const LOAF: &str = r#"
format = 1
name = "Ferry loaf"
[formula]
pieces = 10
piece_g = 990
scrap_percent = 1
bake_loss_percent = 10
hydration_percent = 70
yeast_percent = 0.5
[preferment]
kind = "poolish"
flour_percent = 20
ripe_after_h = 10
[kitchen]
room_c = 20
[process]
dough_c = 24
[oven]
bake_min = 40
"#;

    #[test]
    fn the_answer_adds_up() {
        let bake = Bake::from_toml(LOAF).unwrap();
        let answer = scale(&bake, None, None).unwrap();
        // By hand: 10 x 990 g at 1 % scrap is 10 kg of dough; 1725 g of it from 1000 g of flour.
        assert!((answer.dough_g - 10_000.0).abs() < 1e-9);
        assert!((answer.scrap_g - 100.0).abs() < 1e-9);
        assert!((answer.flour_g - 10_000.0 / 1.725).abs() < 1e-9);
        assert!((answer.water_g - 7_000.0 / 1.725).abs() < 1e-9);
        assert!((answer.baked_piece_g.unwrap() - 891.0).abs() < 1e-9);
        assert!((answer.baked_g.unwrap() - 8_910.0).abs() < 1e-9);
        let sum: f64 = answer.ingredients.iter().map(|i| i.mass_g).sum();
        assert!((sum - answer.dough_g).abs() < 1e-9);
        assert_eq!(codes(&answer.warnings), ["dose-from-plan"]);
    }

    #[test]
    fn the_keys_are_fixed() {
        let bake = Bake::from_toml(LOAF).unwrap();
        let piece = Mass::grams(250.0).unwrap();
        let answer = scale(&bake, Some(24), Some(piece)).unwrap();
        let json = serde_json::to_value(&answer).unwrap();
        for key in ["dough_g", "scrap_g", "flour_g", "water_g", "baked_g"] {
            assert!(json[key].is_number(), "{key}");
        }
        assert_eq!(json["ingredients"][0]["name"], "flour");
        assert_eq!(json["ingredients"][0]["stage"], "preferment");
        assert!(json["ingredients"][0]["mass_g"].is_number());
        assert!(json["warnings"].is_array());
        let kept = json["dough_g"].as_f64().unwrap() - json["scrap_g"].as_f64().unwrap();
        assert!((kept - 6000.0).abs() < 1e-9);
    }

    #[test]
    fn a_small_dose_once_found_comes_with_a_way_to_weigh_it() {
        let mut bake = Bake::from_toml(LOAF).unwrap();
        let dose = Percent::new(0.1).unwrap();
        bake.formula.preferment.as_mut().unwrap().dose = Some(dose);
        let answer = scale(&bake, None, None).unwrap();
        // 0.1 % of about 1159 g
        assert_eq!(answer.warnings.len(), 1);
        assert_eq!(codes(&answer.warnings), ["too-little-for-scale"]);
        let words = answer.warnings[0].to_string();
        assert!(
            words.contains("1.16 g") && words.contains("stir 5 g"),
            "{words}"
        );
    }
}
