//! `pointage scale`

use super::exit::Failure;
use super::inputs;
use super::render::{NONE, Page, mass, output};
use pointage::Error;
use pointage::units::Mass;
use pointage_api::scale::{ScaleAnswer, scale};
use std::path::PathBuf;

/// How much of everything, for so many pieces
#[derive(clap::Args)]
#[command(after_help = "Example: 24 pieces of 250 g of the bake in rolls.toml
  pointage scale rolls.toml --pieces 24 --piece 250g")]
pub struct ScaleCommand {
    /// Bake file (TOML); a built-in demo without it
    file: Option<PathBuf>,
    /// Number of pieces, in place of the file's
    #[arg(long, value_name = "NUMBER", value_parser = pieces)]
    pieces: Option<u32>,
    /// Dough of one piece, in place of the file's
    #[arg(long, value_name = "MASS")]
    piece: Option<Mass>,
}

/// Reads a number of pieces.
pub fn pieces(text: &str) -> Result<u32, Error> {
    let refuse = |_| Error::text("number of pieces", text, "a whole number such as 24");
    text.trim().parse().map_err(refuse)
}

impl ScaleCommand {
    pub fn run(&self, json: bool) -> Result<String, Failure> {
        let (bake, _) = inputs::bake(&self.file)?;
        let answer = scale(&bake, self.pieces, self.piece)?;
        Ok(output(json, &answer, words)?)
    }
}

fn words(a: &ScaleAnswer) -> String {
    let mut page = Page::default();
    let [piece, dough, scrap, flour] = [a.piece_g, a.dough_g, a.scrap_g, a.flour_g].map(mass);
    let (name, pieces) = (&a.name, a.pieces);
    page.say(format!(
        "{name}: {pieces} pieces of {piece}, {dough} of dough ({scrap} of it scrap)"
    ));
    for part in a.ingredients.chunk_by(|a, b| a.stage == b.stage) {
        let (initial, rest) = part[0].stage.split_at(1);
        page.gap();
        page.line(initial.to_uppercase() + rest);
        for i in part {
            let mass = match i.mass_g {
                0.0 => "?".to_owned(), // the warnings say why
                g => mass(g),
            };
            page.line(format!("{mass:>12}  {}", i.name));
        }
    }
    let p = &a.percentages;
    page.gap();
    page.say(format!(
        "On all flour ({flour}): {:.1} % water, {:.2} % salt, {:.3} % yeast weighed, {:.1} % of the flour in the preferment.",
        p.hydration_percent, p.salt_percent, p.yeast_percent, p.preferment_flour_percent
    ));
    if let (Some(all), Some(piece)) = (a.baked_g.map(mass), a.baked_piece_g.map(mass)) {
        page.say(format!("Out of the oven: {piece} a piece, {all} in all."));
    }
    page.cautions(&a.warnings, NONE);
    page.finish()
}
