//! How large the sheet's type may be, so that it stays one printed page.
use crate::cli::out::Told;
pub struct Size {
    pub points: f64,
}
impl Size {
    pub fn for_sheet(_: Told<'_>, _: &[(&'static str, String); 3], _: &[String]) -> Self {
        Self { points: 10.0 }
    }
}
