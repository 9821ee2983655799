//! A sign of life on a terminal, when something takes more than half a second.

use std::io::{IsTerminal, Write};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::{Duration, Instant};

/// How long nothing is said, and how often it is said anew.
const PATIENCE: Duration = Duration::from_millis(500);

/// Does some work. Meanwhile a line on stderr counts its seconds; it goes away at the end, and is never
/// written where nobody looks (a pipe, a file).
pub fn during<T>(what: &str, work: impl FnOnce() -> T) -> T {
    if std::io::stderr().is_terminal() {
        told(what, std::io::stderr(), work)
    } else {
        work()
    }
}

fn told<T>(what: &str, mut out: impl Write + Send, work: impl FnOnce() -> T) -> T {
    let (done, waiting) = mpsc::channel::<()>();
    thread::scope(|scope| {
        scope.spawn(move || {
            let start = Instant::now();
            let mut width = 0;
            while waiting.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
                let line = format!("{what} ... {} s", start.elapsed().as_secs());
                width = line.chars().count();
                // A terminal that has gone is no reason to stop working.
                let _ = write!(out, "\r{line}").and_then(|()| out.flush());
            }
            if width > 0 {
                let _ = write!(out, "\r{:width$}\r", "").and_then(|()| out.flush());
            }
        });
        // Dropped at the end of the work, however that comes about.
        let _done = done;
        work()
    })
}

/// Counts what has been done, on stderr and only where somebody looks.
pub struct Counter {
    things: &'static str,
    done: usize,
    told: Option<Instant>,
    width: usize,
}

impl Counter {
    /// Begins at none.
    pub fn new(things: &'static str) -> Self {
        Self {
            things,
            done: 0,
            told: std::io::stderr().is_terminal().then(Instant::now),
            width: 0,
        }
    }

    /// So many more; says so twice a second.
    pub fn add(&mut self, more: usize) {
        self.done += more;
        if self.told.is_some_and(|told| told.elapsed() >= PATIENCE) {
            let line = format!("{} {}", self.done, self.things);
            self.width = line.chars().count();
            self.told = Some(Instant::now());
            let _ = write!(std::io::stderr(), "\r{line}");
        }
    }

    /// Takes its line away, before others are written there.
    pub fn clear(&mut self) {
        if self.width > 0 {
            let _ = write!(std::io::stderr(), "\r{:1$}\r", "", self.width);
            self.width = 0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_long_work_is_told_and_the_line_goes_away() {
        let mut out = Vec::new();
        assert_eq!(told("planning", &mut out, || 1), 1);
        assert!(out.is_empty());
        told("planning", &mut out, || thread::sleep(PATIENCE * 3 / 2));
        assert_eq!(
            String::from_utf8_lossy(&out),
            "\rplanning ... 0 s\r                \r"
        );
    }
}
