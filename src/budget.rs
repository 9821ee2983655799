//! How much work a question may take. It is counted where it is done, in steps of a dough that is followed, loads tried
//! and rows weighed, never by a clock: the same question costs the same on every machine.
//!
//! The count belongs to the call that is going on, and nothing of an answer depends on it but its refusal.

use crate::error::{Error, Result};
use std::cell::Cell;

/// What a question may take unless it says otherwise: a second or two of one core of the year 2020.
pub const USUAL: u64 = 2_000_000;

thread_local! {
    /// What is left; without a budget there is no end of it.
    static LEFT: Cell<u64> = const { Cell::new(u64::MAX) };
}

/// Does some work within a budget of so many steps.
///
/// ```
/// use pointage::budget::within;
/// use pointage::ferment::Parameters;
/// use pointage::plan::{Anchor, Detail, bake::{Bake, DEMO}, plan};
/// let bake = Bake::from_toml(DEMO)?;
/// let places = bake.places(|file| Err(pointage::Error::NotFinite { what: file.into() }))?;
/// let p = Parameters::shipped()?;
/// let answer = |steps| within(steps, || plan(&bake, &places, Anchor::FirstOut(7.5), &p, Detail::default()));
/// assert!(answer(1_000_000).is_ok());
/// assert!(answer(10).unwrap_err().to_string().starts_with("too much work"));
/// # Ok::<(), pointage::Error>(())
/// ```
///
/// # Errors
/// What the work refuses, and [`Error::TooMuchWork`] where it took more.
pub fn within<T, E: From<Error>>(
    steps: u64,
    work: impl FnOnce() -> std::result::Result<T, E>,
) -> std::result::Result<T, E> {
    let before = LEFT.replace(steps);
    let done = work();
    match LEFT.replace(before) {
        // Some work passes over what one of its parts refuses.
        0 => Err(Error::TooMuchWork.into()),
        _ => done,
    }
}

/// Counts work that is about to be done.
pub(crate) fn spend(steps: usize) -> Result<()> {
    let left = LEFT.get().saturating_sub(steps as u64);
    LEFT.set(left);
    match left {
        0 => Err(Error::TooMuchWork),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_budget_ends_with_its_work_and_not_before() {
        assert_eq!(within(11, || spend(10)), Ok(()));
        assert_eq!(within(10, || spend(10)), Err(Error::TooMuchWork));
        // Also where the refusal was passed over, and inside another one.
        let passed_over = within(100, || {
            let inner: Result<()> = within(10, || {
                let _ = spend(10);
                Ok(())
            });
            assert_eq!(inner, Err(Error::TooMuchWork));
            spend(99)
        });
        assert_eq!(passed_over, Ok(()));
        assert_eq!(spend(usize::MAX / 2), Ok(()));
    }
}
