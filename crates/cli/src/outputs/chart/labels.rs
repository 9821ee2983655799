//! Where texts stand in a drawing: no two on top of each other, and off the curves where there is room.

/// A box, in units of the drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rect {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Rect {
    /// The box of a text whose baseline begins at a point.
    pub fn of_text(text: &str, size: f64, x: f64, baseline: f64) -> Self {
        Self {
            left: x,
            top: baseline - 0.80 * size,
            right: x + width(text, size),
            bottom: baseline + 0.24 * size,
        }
    }

    pub fn overlaps(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    fn within(&self, outer: &Self) -> bool {
        self.left >= outer.left
            && self.right <= outer.right
            && self.top >= outer.top
            && self.bottom <= outer.bottom
    }

    fn holds(&self, (x, y): (f64, f64)) -> bool {
        // A little more than the text itself, so that a curve does not touch it.
        (self.left - 4.0..=self.right + 4.0).contains(&x)
            && (self.top - 3.0..=self.bottom + 3.0).contains(&y)
    }
}

/// About the width of a text in a sans-serif face; on the wide side, since the face is the reader's.
pub fn width(text: &str, size: f64) -> f64 {
    let em = |c: char| match c {
        'i' | 'j' | 'l' | 't' | 'f' | 'r' | 'I' | ' ' | '.' | ',' | ':' | ';' | '\'' | '|'
        | '!' | '(' | ')' | '-' => 0.42,
        'm' | 'w' | 'M' | 'W' | '%' | '@' => 1.0,
        'A'..='Z' => 0.77,
        ' '..='~' => 0.65,
        '°' | '·' | '–' => 0.5,
        // Other scripts may be as wide as high.
        c if c.is_alphabetic() && u32::from(c) < 0x250 => 0.68,
        _ => 1.0,
    };
    size * text.chars().map(em).sum::<f64>()
}

/// A text in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    pub text: String,
    pub size: f64,
    pub x: f64,
    pub baseline: f64,
}

/// The texts placed so far, and the curves to keep clear of.
#[derive(Default)]
pub struct Labels {
    pub placed: Vec<Label>,
    boxes: Vec<Rect>,
    curves: Vec<(f64, f64)>,
}

impl Labels {
    /// Adds a curve, as points close enough that none slips through a text.
    pub fn keep_clear(&mut self, points: &[(f64, f64)]) {
        const STEP: f64 = 5.0;
        for pair in points.windows(2) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            // Drawings are some hundred units wide.
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let steps = (((x1 - x0).hypot(y1 - y0) / STEP).ceil() as u32).max(1);
            self.curves.extend((0..=steps).map(|i| {
                let share = f64::from(i) / f64::from(steps);
                (x0 + share * (x1 - x0), y0 + share * (y1 - y0))
            }));
        }
    }

    /// Environment a text at its given point.
    pub fn fix(&mut self, text: &str, size: f64, x: f64, baseline: f64) {
        self.boxes.push(Rect::of_text(text, size, x, baseline));
        self.placed.push(Label {
            text: text.to_owned(),
            size,
            x,
            baseline,
        });
    }

    /// True when a text would stand free of the others.
    pub fn free(&self, text: &str, size: f64, x: f64, baseline: f64) -> bool {
        let here = Rect::of_text(text, size, x, baseline);
        !self.boxes.iter().any(|b| b.overlaps(&here))
    }

    /// Environment a text at that of some points (of the start of its baseline) where it hides least of the
    /// curves, the first of equals. False when none of them is free of other texts.
    pub fn place(&mut self, text: &str, size: f64, area: &Rect, points: &[(f64, f64)]) -> bool {
        let hidden = |&(x, y): &(f64, f64)| {
            let here = Rect::of_text(text, size, x, y);
            (here.within(area) && self.free(text, size, x, y))
                .then(|| self.curves.iter().filter(|&&p| here.holds(p)).count())
        };
        let candidates = points.iter().filter_map(|p| hidden(p).map(|n| (n, *p)));
        match candidates.min_by_key(|(n, _)| *n) {
            Some((_, (x, y))) => {
                self.fix(text, size, x, y);
                true
            }
            None => false,
        }
    }
}

/// Rows for flags that hang from an axis: each text begins at its mark's line, which runs down past the rows
/// above it. From the right to the left, each flag takes the highest row in which it meets neither a text
/// nor the line of another.
pub fn rows(flags: &[(f64, f64)]) -> Vec<usize> {
    let mut rows = vec![0; flags.len()];
    for i in (0..flags.len()).rev() {
        let (x, width) = flags[i];
        let mut row = 0;
        for (j, &(other, _)) in flags.iter().enumerate().skip(i + 1) {
            // A flag whose line or text comes before this text's end: this one must hang below it.
            if other < x + width {
                row = row.max(rows[j] + 1);
            }
        }
        rows[i] = row;
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flags_hang_free_of_each_other() {
        // x and width: the first two collide, the third stands alone
        assert_eq!(rows(&[(0.0, 50.0), (30.0, 50.0), (100.0, 20.0)]), [1, 0, 0]);
        // three close together make stairs
        assert_eq!(rows(&[(0.0, 50.0), (10.0, 50.0), (20.0, 50.0)]), [2, 1, 0]);
        assert!(rows(&[]).is_empty());
    }

    #[test]
    fn a_text_avoids_texts_first_and_curves_then() {
        let area = Rect {
            left: 0.0,
            top: 0.0,
            right: 300.0,
            bottom: 200.0,
        };
        let mut labels = Labels::default();
        labels.fix("here already", 20.0, 10.0, 50.0);
        labels.keep_clear(&[(0.0, 100.0), (300.0, 100.0)]);
        let points = [(10.0, 55.0), (10.0, 105.0), (10.0, 150.0)];
        assert!(labels.place("new", 20.0, &area, &points));
        assert_eq!(labels.placed[1].baseline, 150.0);
        assert!(!labels.place("new", 20.0, &area, &points[..1]));
    }
}
