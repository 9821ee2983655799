//! `pointage scale`

use super::exit::Failure;
use super::files;
use super::render::{NONE, Page, mass, output};
use pointage::plan::bake::Bake;
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

fn pieces(text: &str) -> pointage::Result<u32> {
    text.trim()
        .parse()
        .map_err(|_| pointage::Error::text("number of pieces", text, "a whole number such as 24"))
}

impl ScaleCommand {
    pub fn run(&self, json: bool) -> Result<String, Failure> {
        let (text, name) = match &self.file {
            Some(path) => (
                files::read(path, files::BAKE_BYTES)?,
                path.display().to_string(),
            ),
            None => (super::demo::MARKET.to_owned(), "demo".to_owned()),
        };
        let bake = Bake::from_toml(&text).map_err(|e| e.at(name))?;
        let answer = scale(&bake, self.pieces, self.piece)?;
        Ok(output(json, &answer, words)?)
    }
}

fn words(a: &ScaleAnswer) -> String {
    let mut page = Page::default();
    page.say(format!(
        "{}: {} pieces of {}, {} of dough ({} of it scrap)",
        a.name,
        a.pieces,
        mass(a.piece_g),
        mass(a.dough_g),
        mass(a.scrap_g)
    ));
    let mut stage = "";
    for i in &a.ingredients {
        if i.stage != stage {
            stage = i.stage;
            page.gap();
            page.line(format!("{}{}", stage[..1].to_uppercase(), &stage[1..]));
        }
        let mass = match i.mass_g {
            0.0 => "?".to_owned(), // the warnings say why
            g => mass(g),
        };
        page.line(format!("{mass:>12}  {}", i.name));
    }
    let p = &a.percentages;
    page.gap();
    page.say(format!(
        "On all flour ({}): {:.1} % water, {:.2} % salt, {:.3} % yeast weighed, {:.1} % of the flour in the preferment.",
        mass(a.flour_g),
        p.hydration_percent,
        p.salt_percent,
        p.yeast_percent,
        p.preferment_flour_percent
    ));
    if let (Some(all), Some(piece)) = (a.baked_g, a.baked_piece_g) {
        page.say(format!(
            "Out of the oven: {} a piece, {} in all.",
            mass(piece),
            mass(all)
        ));
    }
    page.cautions(&a.warnings, NONE);
    page.finish()
}
