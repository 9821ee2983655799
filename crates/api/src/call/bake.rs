//! A bake that travels with the request, as text or as an object.

use crate::Model;
use crate::request::{Answerable, Numbers, numbers};
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
        #[cfg_attr(feature = "schema", schemars(with = "Option<Bake>"))]
        #[cfg_attr(feature = "flags", arg(skip))]
        bake: Option<Map<String, Value>>,
        /// Number of pieces, in place of the bake's
        pieces: Option<u32> = "pieces",
        /// Dough of one piece, in place of the bake's
        piece_g: Option<Mass> = "piece",
    }
}

impl Answerable<ScaleAnswer> for ScaleRequest {
    const NUMBERS: Numbers<ScaleAnswer> = numbers! {
        piece_g dough_g scrap_g flour_g water_g baked_g baked_piece_g;;;
    };
    fn answer(&self, _: &Model) -> Result<ScaleAnswer> {
        scale(self)
    }
}

pub(super) fn scale(request: &ScaleRequest) -> Result<ScaleAnswer> {
    let bake = bake(request.bake_toml.as_deref(), request.bake.as_ref())?;
    json_scale::scale(&bake, request.pieces, request.piece_g)
}

/// The bake of a request.
pub(super) fn bake(text: Option<&str>, object: Option<&Map<String, Value>>) -> Result<Bake> {
    match (text, object) {
        (Some(text), None) => Bake::from_toml(text).map_err(|e| e.of_field("bake_toml")),
        (None, Some(object)) => Bake::from_serde(object).map_err(|e| e.of_field("bake")),
        (None, None) => Err(Error::contradiction(
            "no bake; give the text of its file as bake_toml, or an object with the same keys as bake",
        )),
        (Some(_), Some(_)) => Err(Error::excludes(
            &["bake_toml", "bake"],
            "both give the bake",
        )),
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
        let by_object = Bake::from_serde(object.as_object().unwrap()).unwrap();
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
