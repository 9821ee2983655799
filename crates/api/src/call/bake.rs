//! A bake that travels with the request, as text or as an object.

use super::{Answered, Fault};
use crate::scale::{self as json_scale, ScaleAnswer};
use pointage::error::{Error, Result, words_of};
use pointage::plan::bake::{Bake, BakeFile};
use pointage::units::Mass;
use serde::Deserialize;
use serde_json::{Map, Value};

/// A bake and another number of pieces, or other pieces, of it.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub(crate) struct ScaleRequest {
    /// The bake: the text of its file (TOML).
    bake_toml: Option<String>,
    /// The bake as an object with the keys of its file, in place of the text.
    #[cfg_attr(
        feature = "schema",
        schemars(with = "Option<pointage::plan::bake::BakeFile>")
    )]
    bake: Option<Map<String, Value>>,
    /// Number of pieces, in place of the bake's.
    #[serde(deserialize_with = "crate::whole")]
    pieces: Option<u32>,
    /// Dough of one piece, in place of the bake's.
    piece_g: Option<f64>,
}

pub(super) fn scale(request: &ScaleRequest) -> Answered<ScaleAnswer> {
    let bake = bake(request.bake_toml.as_deref(), request.bake.as_ref())?;
    let piece = request.piece_g.map(Mass::grams).transpose();
    let piece = piece.map_err(|e| e.at("piece_g"))?;
    Ok(json_scale::scale(&bake, request.pieces, piece)?)
}

/// The bake of a request.
pub(super) fn bake(text: Option<&str>, object: Option<&Map<String, Value>>) -> Answered<Bake> {
    let (read, name) = match (text, object) {
        (Some(text), None) => (Bake::from_toml(text), "bake_toml"),
        (None, Some(object)) => (from_object(object), "bake"),
        (None, None) => return Err(Error::contradiction(
            "no bake; give the text of its file as bake_toml, or an object with the same keys as bake",
        )
        .into()),
        (Some(_), Some(_)) => return Err(Error::contradiction(
            "bake_toml and bake both give the bake; leave one of them out",
        )
        .at("bake_toml")
        .into()),
    };
    read.map_err(|error| {
        let key = error.bake_key().filter(|key| !key.is_empty());
        let field = key.map_or(name.to_owned(), |key| format!("{name}.{key}"));
        Fault {
            error,
            field: Some(field),
        }
    })
}

fn from_object(object: &Map<String, Value>) -> Result<Bake> {
    let file = BakeFile::deserialize(object).map_err(|e| Error::malformed(words_of(e)))?;
    Bake::from_file(&file)
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
        assert_eq!(fault.field.as_deref(), Some("bake.kitchen.room_c"));
        assert!(
            fault
                .error
                .to_string()
                .starts_with("[kitchen] room_c: the value is 200 °C")
        );
        let mut typo = bake_of(20.0);
        typo["formula"]["flour"][0]["share"] = json!(1);
        let fault = read(typo).unwrap_err();
        assert_eq!(fault.field.as_deref(), Some("bake.formula.flour.share"));
        let fault = bake(Some("format = 1\nname = 3"), None).unwrap_err();
        assert_eq!(fault.field.as_deref(), Some("bake_toml.name"));
        assert!(fault.error.to_string().starts_with("line 2: name"));
    }
}
