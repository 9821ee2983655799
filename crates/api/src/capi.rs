//! [`call`](crate::call()) for C, and through C for every language that can load a library.
//!
//! The header is `examples/c/pointage.h`. Built with
//! `cargo rustc -p pointage-api --release --lib --features capi --crate-type cdylib` (a shared
//! library) or `--crate-type staticlib` (one to link in).
//!
//! This is the only module with `unsafe`: it takes and gives pointers. No panic crosses it, and all
//! functions may be called from any thread at any time.
#![allow(unsafe_code)]

use crate::{call, refuse};
use pointage::error::Error;
use std::ffi::{CStr, CString, c_char};
use std::panic::{UnwindSafe, catch_unwind};

/// Answers one request; see [`call`](crate::call()).
///
/// The answer is text that ends with a zero byte and is to be given back with [`pointage_free`]. It is
/// never null. A null request, or one that is not UTF-8, is answered by an error like any other; so is a
/// fault of this library (kind `fault`).
///
/// # Safety
/// `request` is null or points to text that ends with a zero byte and does not change meanwhile.
// SAFETY (no_mangle): the prefix keeps the name from meeting another one in the linked program.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn pointage_call(request: *const c_char) -> *mut c_char {
    guarded(|| {
        if request.is_null() {
            return refuse(&Error::malformed("the request is a null pointer"));
        }
        // SAFETY: it is not null, and the caller promises text that ends with a zero byte and stays as it
        // is; the borrow ends before this function does.
        match unsafe { CStr::from_ptr(request) }.to_str() {
            Ok(text) => call(text),
            Err(_) => refuse(&Error::malformed("the request is not UTF-8 text")),
        }
    })
}

/// Memory for a request of so many bytes, for a caller that has none of its own (a page that loads WebAssembly).
///
/// It is filled with blanks, which JSON passes over, and ends with a zero byte behind them; no other zero may be
/// written into it. It is given back with [`pointage_free`]. Null when there is not as much memory.
// SAFETY (no_mangle): as above.
#[unsafe(no_mangle)]
pub extern "C" fn pointage_alloc(bytes: usize) -> *mut c_char {
    let mut blanks = Vec::new();
    if (blanks.try_reserve_exact(bytes.saturating_add(1))).is_err() {
        return std::ptr::null_mut();
    }
    blanks.resize(bytes, b' ');
    CString::new(blanks).unwrap_or_default().into_raw()
}

/// Frees an answer, or memory for a request. Null is allowed and does nothing.
///
/// # Safety
/// `answer` is null or comes from [`pointage_call`] or [`pointage_alloc`] and has not been freed.
// SAFETY (no_mangle): as above.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn pointage_free(answer: *mut c_char) {
    if !answer.is_null() {
        // SAFETY: the caller promises a pointer that `into_raw` gave out, once.
        drop(unsafe { CString::from_raw(answer) });
    }
}

/// The version of the library, such as `0.1.0`; text that ends with a zero byte and is never freed.
// SAFETY (no_mangle): as above.
#[unsafe(no_mangle)]
pub extern "C" fn pointage_version() -> *const c_char {
    concat!(env!("CARGO_PKG_VERSION"), "\0").as_ptr().cast()
}

/// In place of an answer, when the library itself is at fault.
const FAULT: &str = r#"{"version":1,"error":{"kind":"fault","message":"the library failed on this request; this is a fault of the library, please report it with the request","field":null}}"#;

fn guarded(answer: impl FnOnce() -> String + UnwindSafe) -> *mut c_char {
    let answer = catch_unwind(answer).unwrap_or_else(|_| FAULT.to_owned());
    // JSON writes a zero byte as \u0000, so that there is none in an answer.
    CString::new(answer).unwrap_or_default().into_raw()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Takes the text of an answer and gives the answer back.
    fn text(answer: *mut c_char) -> String {
        assert!(!answer.is_null());
        // SAFETY: it comes from `guarded` and is freed once, here.
        unsafe {
            let text = CStr::from_ptr(answer).to_str().unwrap().to_owned();
            pointage_free(answer);
            text
        }
    }

    #[test]
    fn the_answer_is_that_of_call() {
        for request in [
            r#"{"version": 1, "command": "ice", "total_g": 4000, "tap_c": 18, "want_c": 5}"#,
            r#"{"version": 1, "command": "tables", "id": "\u0000"}"#,
            "",
        ] {
            let c = CString::new(request).unwrap();
            // SAFETY: `c` lives longer than the call.
            assert_eq!(text(unsafe { pointage_call(c.as_ptr()) }), call(request));
        }
    }

    #[test]
    fn a_request_may_be_shorter_than_its_memory() {
        let request = r#"{"version": 1, "command": "tables"}"#;
        let memory = pointage_alloc(100);
        // SAFETY: 100 bytes are enough, and the text has no zero byte; both are freed once.
        let answer = unsafe {
            std::ptr::copy_nonoverlapping(request.as_ptr(), memory.cast(), request.len());
            assert_eq!(CStr::from_ptr(memory).count_bytes(), 100);
            text(pointage_call(memory))
        };
        assert_eq!(answer, call(request));
        // SAFETY: it comes from `pointage_alloc`.
        unsafe { pointage_free(memory) };
        assert!(pointage_alloc(usize::MAX).is_null());
    }

    #[test]
    fn what_is_no_text_is_answered() {
        // SAFETY: null is allowed; the literal ends with a zero byte.
        let (null, bytes) = unsafe {
            (
                pointage_call(std::ptr::null()),
                pointage_call(c"\xff".as_ptr()),
            )
        };
        assert!(text(null).contains("null pointer"));
        assert!(text(bytes).contains("UTF-8"));
        // SAFETY: null is allowed.
        unsafe { pointage_free(std::ptr::null_mut()) };
    }

    #[test]
    fn a_panic_becomes_an_answer() {
        assert_eq!(text(guarded(|| panic!("on purpose"))), FAULT);
        let fault: serde_json::Value = serde_json::from_str(FAULT).unwrap();
        assert_eq!(fault["error"]["kind"], "fault");
    }

    #[test]
    fn the_version_is_that_of_the_crate() {
        // SAFETY: a literal that ends with a zero byte.
        let version = unsafe { CStr::from_ptr(pointage_version()) };
        assert_eq!(version.to_str().unwrap(), env!("CARGO_PKG_VERSION"));
    }
}
