//! A sign of life on a terminal, when something takes more than half a second.

use indicatif::{ProgressBar, ProgressFinish, ProgressState, ProgressStyle};
use std::fmt::Write;
use std::time::Duration;

/// How long nothing is said, and how often it is said anew.
const PATIENCE: Duration = Duration::from_millis(500);

/// A line on stderr that goes away with what is given back, and is never written where nobody looks (a
/// pipe, a file).
fn line(words: impl Fn(&ProgressState) -> String + Clone + Send + Sync + 'static) -> ProgressBar {
    let words = move |state: &ProgressState, out: &mut dyn Write| {
        if state.elapsed() >= PATIENCE {
            let _ = out.write_str(&words(state));
        }
    };
    let style = ProgressStyle::default_spinner().template("{words}");
    let bar = ProgressBar::new_spinner().with_finish(ProgressFinish::AndClear);
    if let Ok(style) = style {
        bar.set_style(style.with_key("words", words));
    }
    bar.enable_steady_tick(PATIENCE);
    bar
}

/// Does some work, and counts its seconds meanwhile.
pub fn during<T>(what: &'static str, work: impl FnOnce() -> T) -> T {
    let _line = line(move |state| format!("{what} ... {} s", state.elapsed().as_secs()));
    work()
}

/// Counts rows.
pub fn rows() -> ProgressBar {
    line(|state| format!("{} rows", state.pos()))
}
