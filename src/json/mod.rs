//! Questions and answers as serialisable objects, the same that `--json` prints.

pub mod scale;
