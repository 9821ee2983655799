//! How large the sheet's type may be, so that it stays one printed page.
//!
//! A page of HTML cannot say "as large as fits". So the lines are counted from the texts, on the wide side,
//! and the largest type is taken with which they fill the shorter of the two papers.

use super::{FEW_LOADS, MOST_LOADS, ingredients, recipes};
use crate::outputs::Told;
use pointage_api::Sentence;

/// Height of US Letter and width of A4 without the margins of the style sheet, mm.
const HEIGHT_MM: f64 = 279.4 - 2.0 * 10.0;
const WIDTH_MM: f64 = 210.0 - 2.0 * 12.0;
const MM_PER_POINT: f64 = 25.4 / 72.0;
/// Types to choose from, points.
const LARGEST: f64 = 11.5;
const SMALLEST: f64 = 5.0;
const STEP: f64 = 0.25;
/// Share of the page that is filled at most, by this estimate, which counts a tenth too much.
const FILLED: f64 = 1.02;

/// Heights in units of the type (rem), as in the style sheet.
const LINE: f64 = 1.3;
const TITLE: f64 = 1.9;
const HEADING: f64 = 2.3;
const ROW: f64 = 1.62;
const BLANK_ROW: f64 = 2.3;
/// Characters in the width of one rem of running text.
const PER_REM: f64 = 1.95;

/// What stands on the sheet, as far as its height goes.
pub struct Content<'a> {
    pub told: Told<'a>,
    pub paragraphs: &'a [(&'static str, String); 3],
    pub cautions: &'a [String],
}

impl Content<'_> {
    /// The type, points.
    pub fn points(&self) -> f64 {
        let fits = |points: &f64| {
            let rem_mm = points * MM_PER_POINT;
            self.height(WIDTH_MM / rem_mm) * rem_mm <= FILLED * HEIGHT_MM
        };
        let types = std::iter::successors(Some(LARGEST), |p| Some(p - STEP));
        let mut types = types.take_while(|p| *p >= SMALLEST);
        types.find(fits).unwrap_or(SMALLEST)
    }

    /// Height of everything on a page so many rem wide, in rem.
    fn height(&self, width: f64) -> f64 {
        let plan = self.told.plan;
        let lines = |text: &str, size: f64| {
            let room = width * PER_REM / size;
            (text.chars().count() as f64 / room).ceil().max(1.0) * LINE * size
        };
        let bold = 1.15;
        let mut height = TITLE * (lines(&self.told.bake.name, 1.6 * bold) / (1.6 * bold * LINE));
        height += LINE + 0.3;
        if let Some(problem) = &plan.problem {
            let text = format!("Does not fit: {}", problem.sentence());
            height += lines(&text, 1.05) + 1.2;
        }
        for (_, text) in self.paragraphs {
            height += HEADING + lines(text, 1.0) + 0.3;
        }
        // Columns of eight and fifteen parts; the weights take up to three times four rem of the left one.
        let left = width * 8.0 / 23.0 - 0.8;
        let chars = ((left - 12.0) * PER_REM).max(4.0);
        let names = ingredients(self.told).into_iter();
        let names = names.map(|n| (n.chars().count() as f64 / chars).ceil());
        let recipes = recipes(self.told).into_iter();
        let recipes = recipes.map(|r| lines(&r, 0.9 * width / left) * left / width + LINE);
        let left = HEADING + ROW + LINE + names.map(|n| ROW + (n - 1.0) * LINE).sum::<f64>()
            + recipes.sum::<f64>()
            // A heading of two lines, and two mixes.
            + HEADING + ROW + LINE + 2.0 * ROW
            + HEADING + 3.0 * BLANK_ROW;
        let shown = plan
            .stages
            .iter()
            .filter(|s| !matches!(s.name, "bake" | "cool"));
        // Folds go on below the name of their stage, in the worst case each on its line.
        let fold_lines = plan.folds_h.len() as f64 * 1.1;
        let clock = HEADING + ROW + shown.count() as f64 * BLANK_ROW + fold_lines;
        let count = plan.loads.len();
        let oven = |rows: usize| HEADING + ROW + rows as f64 * ROW + 2.0 * LINE;
        if count <= FEW_LOADS {
            height += left.max(clock + oven(count));
        } else {
            height += left.max(clock) + oven(count.min(MOST_LOADS).div_ceil(2));
        }
        let cautions = self.cautions.iter().map(|text| lines(text, 0.95));
        // The line on how to read the times closes the sheet.
        height + HEADING + cautions.sum::<f64>() + 2.0 * LINE
    }
}
