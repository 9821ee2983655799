//! The figures of the guide are those that the shipped data give.

use super::published;

#[path = "../../examples/figures.rs"]
#[allow(dead_code)]
mod drawing;

/// Texts are the same, and numbers within a pixel or a tenth of an hour: another machine finds the minimum of the fit
/// to some 1e-4.
#[test]
fn the_figures_are_drawn_from_the_shipped_data() {
    let is_apart = |c: char| !(c.is_alphanumeric() || c == '.' || c == '-');
    let path = |name: &str| {
        let guide = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/guide");
        std::fs::read_to_string(guide.join(name))
            .unwrap_or_default()
            .replace('\r', "")
    };
    let pictures = drawing::drawn(&published::FIT)
        .unwrap()
        .map(|(name, now)| (name, now, 1.0));
    let chapter = drawing::with_table(&path("trust.md"), &published::FIT).unwrap();
    for (name, now, within) in pictures.into_iter().chain([("trust.md", chapter, 0.11)]) {
        let kept = path(name);
        let mut pairs = kept.split(is_apart).zip(now.split(is_apart));
        let number = |text: &str| text.trim_start_matches(['M', 'L']).parse::<f64>();
        let near = |(a, b): (&str, &str)| {
            a == b || matches!((number(a), number(b)), (Ok(a), Ok(b)) if (a - b).abs() <= within)
        };
        assert!(
            kept.matches('\n').count() == now.matches('\n').count() && pairs.all(near),
            "src/guide/{name} is stale; draw it anew with cargo run --example figures"
        );
    }
}
