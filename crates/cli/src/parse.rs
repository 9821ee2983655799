//! Values that the library has no type for.

use pointage::heat::ddt_formula::BaseTemperature;
use pointage::{Error, Result};

/// A plain number, such as a heat capacity.
pub fn number(text: &str) -> Result<f64> {
    let value = text.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    value.ok_or_else(|| refusal("number", text, "a plain number such as 15.1"))
}

/// A base temperature as it is written: a sum of readings, in °C or °F.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Base {
    value: f64,
    fahrenheit: bool,
}

impl Base {
    /// The sum in °C; that of °F depends on the number of its `terms`.
    pub fn celsius(self, terms: u8) -> Result<f64> {
        let base = if self.fahrenheit {
            BaseTemperature::fahrenheit(self.value, terms)
        } else {
            BaseTemperature::celsius(self.value)
        };
        base.map(BaseTemperature::as_celsius)
            .map_err(|e| e.at("--base"))
    }
}

impl std::str::FromStr for Base {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        let number = text.trim_end_matches(['F', 'f', 'C', 'c']).trim_end();
        let unit = text[number.len()..].trim();
        let value = number.trim_end_matches('°').trim().parse::<f64>();
        match (value, unit) {
            (Ok(value), "" | "C" | "c") if value.is_finite() => Ok(Self {
                value,
                fahrenheit: false,
            }),
            (Ok(value), "F" | "f") if value.is_finite() => Ok(Self {
                value,
                fahrenheit: true,
            }),
            _ => Err(refusal(
                "base temperature",
                text,
                "a sum of temperatures such as 60 or 204F",
            )),
        }
    }
}

/// Text that is not what it should be.
pub fn refusal(what: &str, input: &str, expected: &str) -> Error {
    Error::Text {
        what: what.into(),
        input: input.chars().take(40).collect(),
        expected: expected.into(),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_base_of_three_terms_converts_with_three_times_the_offset() {
        let base = |text: &str, terms| text.parse::<Base>().unwrap().celsius(terms).unwrap();
        // 60 * 1.8 + 3 * 32 = 204; with four terms 96 + 128 (arithmetic)
        for (text, terms) in [
            ("60", 3),
            ("60 °C", 3),
            ("204F", 3),
            ("204 °F", 3),
            ("236f", 4),
        ] {
            assert!((base(text, terms) - 60.0).abs() < 1e-12, "{text}");
        }
        for bad in ["", "F", "nan", "60K", "inf F", "6CF"] {
            assert!(bad.parse::<Base>().is_err(), "{bad}");
        }
    }
}
