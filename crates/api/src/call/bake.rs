//! A bake that travels with the request, as text or as an object.

use crate::scale::{self as json_scale, ScaleAnswer};
use pointage::error::{Error, Result};
use pointage::plan::bake::Bake;
use pointage::units::Mass;
use serde_json::{Map, Value};

crate::request::request! {
    /// A bake and another number of pieces, or other pieces, of it.
    ScaleRequest = "scale" {
        /// The bake: the text of its file (TOML)
        #[cfg_attr(feature = "flags", arg(skip))]
        bake_toml: Option<String>,
        /// The bake as an object with the keys of its file, in place of the text
        #[cfg_attr(feature = "flags", arg(skip))]
        bake: Option<Map<String, Value>>,
        /// Number of pieces, in place of the bake's
        pieces: Option<u32> = "pieces",
        /// Dough of one piece, in place of the bake's
        piece_g: Option<Mass> = "piece",
    }
}

pub(super) fn scale(request: &ScaleRequest) -> Result<ScaleAnswer> {
    let bake = bake(request.bake_toml.as_deref(), request.bake.as_ref())?;
    json_scale::scale(&bake, request.pieces, request.piece_g)
}

/// The bake of a request.
pub(super) fn bake(text: Option<&str>, object: Option<&Map<String, Value>>) -> Result<Bake> {
    match (text, object) {
        (Some(text), None) => Bake::from_toml(text).map_err(|error| {
            let field = within("bake_toml", &error);
            error.of_field(field)
        }),
        (None, Some(object)) => from_object(object).map_err(|error| {
            let field = within("bake", &error);
            without_line(error).root().clone().of_field(field)
        }),
        (None, None) => Err(Error::contradiction(
            "no bake; give the text of its file as bake_toml, or an object with the same keys as bake",
        )),
        (Some(_), Some(_)) => Err(Error::excludes(
            &["bake_toml", "bake"],
            "both give the bake",
        )),
    }
}

/// The reader of bake files knows every key and its range, so that an object goes through it too.
fn from_object(object: &Map<String, Value>) -> Result<Bake> {
    let mut text = String::new();
    for (key, value) in object {
        // As in every request, null is the same as left out.
        if !value.is_null() {
            quoted(key, &mut text);
            text.push_str(" = ");
            inline(value, &mut text)?;
            text.push('\n');
        }
    }
    Bake::from_toml(&text)
}

/// Writes a value as TOML on one line.
fn inline(value: &Value, to: &mut String) -> Result<()> {
    match value {
        Value::Null => {
            return Err(Error::malformed(
                "a list of a bake cannot hold null; leave it out",
            ));
        }
        Value::Bool(_) => to.push_str(&value.to_string()),
        Value::String(text) => quoted(text, to),
        Value::Number(number) => match (number.as_i64(), number.as_f64()) {
            (Some(whole), _) => to.push_str(&whole.to_string()),
            // 24.0 is whole too, and the file's reader takes whole numbers for decimal ones.
            #[allow(clippy::cast_possible_truncation)]
            (None, Some(decimal)) if decimal.fract() == 0.0 && decimal.abs() < 1e15 => {
                to.push_str(&(decimal as i64).to_string());
            }
            (None, Some(decimal)) => to.push_str(&format!("{decimal:?}")),
            (None, None) => {
                return Err(Error::NotFinite {
                    what: number.to_string(),
                });
            }
        },
        Value::Array(items) => {
            to.push('[');
            for item in items {
                inline(item, to)?;
                to.push(',');
            }
            to.push(']');
        }
        Value::Object(fields) => {
            to.push('{');
            let mut comma = "";
            for (key, value) in fields.iter().filter(|(_, value)| !value.is_null()) {
                to.push_str(comma);
                comma = ",";
                quoted(key, to);
                to.push('=');
                inline(value, to)?;
            }
            to.push('}');
        }
    }
    Ok(())
}

/// Writes a basic string of TOML.
fn quoted(text: &str, to: &mut String) {
    to.push('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => to.extend(['\\', c]),
            c if c.is_control() => to.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => to.push(c),
        }
    }
    to.push('"');
}

/// The path of the key at fault: `line 7: [kitchen] room_c` is `bake.kitchen.room_c`.
fn within(bake: &str, error: &Error) -> String {
    let mut path = vec![bake];
    if let Error::At { place, .. } = error {
        // "line 7", "[kitchen] room_c", or only one of them
        let words = place.split(' ').skip_while(|word| *word == "line");
        let words = words.map(|word| word.trim_matches(['[', ']', ':']));
        path.extend(words.filter(|word| !word.starts_with(|c: char| c.is_ascii_digit())));
    }
    path.join(".")
}

/// The same error without the line, which an object does not have.
fn without_line(error: Error) -> Error {
    match error {
        Error::At { place, source } if place.starts_with("line ") => match place.split_once(": ") {
            Some((_, key)) => source.at(key),
            None => *source,
        },
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn an_object_is_the_bake_of_its_file() {
        // The bake file with every kind of value: text, whole and decimal numbers, lists, lists of sections.
        let text = pointage::plan::bake::DEMO;
        let object: toml::Table = toml::from_str(text).unwrap();
        let object = serde_json::to_value(object).unwrap();
        let by_object = from_object(object.as_object().unwrap()).unwrap();
        assert_eq!(by_object, Bake::from_toml(text).unwrap());
    }

    #[test]
    fn any_text_and_any_number_survives_the_way_through_toml() {
        for text in [
            "",
            "\"",
            "\\",
            "a\nb\t\u{0}\u{7f}\u{85}é\u{2028}",
            "# no comment",
            "\"\"\"",
        ] {
            let mut line = "x = ".to_owned();
            quoted(text, &mut line);
            let back: toml::Table = toml::from_str(&line).unwrap();
            assert_eq!(back["x"].as_str(), Some(text), "{line}");
        }
        for number in [
            "0",
            "-0.0",
            "1e300",
            "5e-324",
            "0.1",
            "-12",
            "9223372036854775807",
            "1e22",
        ] {
            let value: Value = number.parse().unwrap();
            let mut line = "x = ".to_owned();
            inline(&value, &mut line).unwrap();
            let back: toml::Table = toml::from_str(&line).unwrap();
            let back = back["x"]
                .as_float()
                .or(back["x"].as_integer().map(|i| i as f64));
            assert_eq!(back, value.as_f64(), "{line}");
        }
    }

    #[test]
    fn a_mistake_is_named_by_its_path_and_without_a_line() {
        let bake_of = |room_c: f64| {
            json!({
                "format": 1, "name": "Quay rolls",
                "formula": {"pieces": 40, "piece_g": 90, "hydration_percent": 66, "yeast_percent": 0.4,
                    "flour": [{"name": "white", "share_percent": 100}], "fat_percent": null},
                "kitchen": {"room_c": room_c}, "process": {"dough_c": 25}, "oven": {"bake_min": 18},
            })
        };
        let read = |value: Value| bake(None, value.as_object());
        assert!(read(bake_of(20.0)).is_ok());
        let fault = read(bake_of(200.0)).unwrap_err();
        assert_eq!(fault.field().as_deref(), Some("bake.kitchen.room_c"));
        assert!(
            fault
                .to_string()
                .starts_with("bake.kitchen.room_c: the value is 200 °C")
        );
        let mut typo = bake_of(20.0);
        typo["formula"]["flour"][0]["share"] = json!(1);
        let fault = read(typo).unwrap_err();
        assert_eq!(fault.field().as_deref(), Some("bake.formula.flour.share"));
        let fault = bake(Some("format = 1\nname = 3"), None).unwrap_err();
        assert_eq!(fault.field().as_deref(), Some("bake_toml.name"));
        assert!(fault.to_string().contains("line 2: name"));
    }
}
