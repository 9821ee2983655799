//! What README and guide say of trust is what the tests find.

use super::{ferment, learn_kitchens, published};
use pointage::ferment::{EndPoint, Inoculum, Kind, Parameters, Stage};

const README: &str = include_str!("../../README.md");
const TRUST: &str = include_str!("../../src/guide/trust.md");
const OWN_LOG: &str = include_str!("../../src/guide/own_log.md");

/// The figures are those that the fit of `published`, the windows of `ferment` and the simulated
/// kitchens of `learn_kitchens` come to; counts of cases are held by `golden::table`.
#[test]
fn the_figures_of_trust_are_those_of_the_tests() {
    let left_out = published::FIT.left_out(|row| !published::is_biga(row));
    let biga = published::FIT.left_out(published::is_biga);
    let (short, long) = ferment::window_widths();
    let ten = learn_kitchens::median_error_of_ten_rows();
    let p = Parameters::shipped().unwrap();
    let dough = Stage {
        composition: Kind::Dough.usual().unwrap(),
        yeast: Inoculum::default(),
        end: EndPoint::Doubled,
        own_heat: None,
    };
    let percent_of = |log: f64| 100.0 * (((100.0 * log).round() / 100.0).exp() - 1.0);
    let (percent, ceiling) = (percent_of(left_out.rms), percent_of(left_out.expected));
    let (inside, rows) = (left_out.inside, left_out.rows);
    let trust = [
        format!(
            "is off by {:.2} in log time, or {percent:.0} %. That is the root mean square of {rows} times; {inside} of them \
             lie inside their 80 % range. Biga has one source only, and is off by {:.2}.",
            left_out.rms, biga.rms
        ),
        format!("would still be off by {:.2}", left_out.expected),
        format!(
            "about {:.0} mL of gas for 100 g of flour, where it was 169 mL. A ripe poolish makes \
             {:.0} mL, not 211. A piece keeps {:.2} of its free gas at each handling, not 0.71.",
            dough.end_gas(&p, 24.0),
            p.level(Kind::Poolish).gas,
            p.kept
        ),
        format!("a window of 20 to 30 minutes, and the model says {short:.0}."),
        format!("2 to 2.5 h, and the model says {long:.1}."),
    ];
    for words in &trust {
        assert!(TRUST.contains(words.as_str()), "trust.md: {words}");
    }
    let words = format!(
        "off by {percent:.0} % (root mean square of {rows} times). Of these, {inside} lie inside their 80 % range. A \
         model that is right would still be off by {ceiling:.0} %"
    );
    assert!(README.contains(&words), "README: {words}");
    let words = format!(
        "median error of a forecast falls to {:.1} %, {:.0} minutes of twelve hours",
        100.0 * ten,
        720.0 * (1000.0 * ten).round() / 1000.0
    );
    assert!(OWN_LOG.contains(&words), "own_log.md: {words}");
    let developers = include_str!("../../DEVELOPERS.md").replace('\n', " ");
    for words in [
        format!(
            "each source without itself with {:.2} rms in log time",
            left_out.rms
        ),
        format!("{:.1} % after 10", 100.0 * ten),
    ] {
        assert!(developers.contains(&words), "DEVELOPERS.md: {words}");
    }
    let data = include_str!("../../data/README.md").replace('\n', " ");
    for words in [
        format!("the model says {short:.0})"),
        format!("the model says {long:.1})."),
    ] {
        assert!(
            data.split_whitespace()
                .collect::<Vec<_>>()
                .join(" ")
                .contains(&words),
            "data/README.md: {words}"
        );
    }
}
