//! The README's figures of trust are what the tests find.

use super::{endpoints, ferment, learn_kitchens};

const README: &str = include_str!("../../README.md");

/// Its figures of trust are those that the fits of `endpoints`, the windows of `ferment` and the simulated
/// kitchens of `learn_kitchens` come to; counts of cases are held by `golden::table`.
#[test]
fn its_figures_of_trust_are_those_of_the_tests() {
    const NUMBERS: [&str; 11] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    ];
    let fit = endpoints::poolish_fit();
    let [biga, sponge, proof] = endpoints::recipes_behind().map(|n| NUMBERS[n]);
    let (short, long) = ferment::window_widths();
    let ten = learn_kitchens::median_error_of_ten_rows();
    let readme = [
        format!(
            "{} poolish rows of {} sources one end point leaves a root-mean-square error of {:.2} in log time, \
             that is {:.0} %; each source predicted from the others, {:.2}.",
            NUMBERS[fit.rows],
            NUMBERS[fit.sources],
            fit.all,
            100.0 * (((100.0 * fit.all).round() / 100.0).exp() - 1.0),
            fit.left_out
        ),
        format!(
            "recipes stand behind the biga, {sponge} behind the sponge, {proof} behind the final proof."
        ),
        format!("a window of 20 to 30 minutes, and the model says {short:.0}."),
        format!(
            "median error of a forecast falls to {:.1} %, {:.0} minutes of twelve hours",
            100.0 * ten,
            720.0 * (1000.0 * ten).round() / 1000.0
        ),
    ];
    for words in &readme {
        assert!(README.contains(words.as_str()), "README: {words}");
    }
    assert!(
        README
            .to_lowercase()
            .contains(&format!("{biga} recipes stand behind the biga"))
    );
    let developers = include_str!("../../DEVELOPERS.md").replace('\n', " ");
    for words in [
        format!(
            "recipes with {:.2} rms in log time, each source from the others with {:.2}",
            fit.all, fit.left_out
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
