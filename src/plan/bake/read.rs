//! From a bake file to a [`Bake`].

use super::keys::{ColdKeys, FormulaKeys, KitchenKeys, PrefermentKeys, ProcessKeys, RoomKeys};
use super::value::{Misread, Read, Section, at_most_one, each, optional, required};
use super::{
    Bake, BakeFile, Bulk, Cold, ColdStage, DdtFormula, HoldLaterLoads, Joins, Kitchen, MAX_BYTES,
    Oven, People, PrefermentStep, Process, Room,
};
use crate::error::{Error, Result, shown, words_of};
use crate::formula::{Extra, Flour, Formula, OldDough, Preferment};
use crate::units::{Percent, Temperature, hours};
use serde::Deserialize;
use std::time::Duration;
use toml::de::{DeTable, DeValue, Deserializer};

/// Reads the text of a bake file.
pub(super) fn from_toml(text: &str) -> Result<Bake> {
    let refuse = |why: String| Err(Error::malformed(why));
    // Before the parser: it would read a wrong file to its end.
    if text.len() > MAX_BYTES {
        return refuse(format!(
            "the bake file holds {} bytes, at most {MAX_BYTES} are read; is it the right file?",
            text.len()
        ));
    }
    if text.contains('\0') {
        return refuse(
            "the bake file holds zero bytes and is no text; is it the right file?".into(),
        );
    }
    if text.trim().is_empty() {
        return refuse(
            "the bake file is empty; it begins with format = 1 and name = \"...\", then come the \
             sections [formula], [kitchen], [process] and [oven]"
                .into(),
        );
    }
    let not_toml = |error: toml::de::Error| {
        let line = error.span().map_or(1, |span| line_of(text, span.start));
        let message = words_of(error.message());
        Error::malformed(format!(
            "cannot be read ({message}); write key = value, text in double quotes, decimals with a \
             point, each key once"
        ))
        .at(format!("line {line}"))
    };
    let mut table = DeTable::parse(text).map_err(not_toml)?;
    for (_, value) in table.get_mut().iter_mut() {
        decimal_only(value.get_mut());
    }
    let file = BakeFile::deserialize(Deserializer::from(table)).map_err(not_toml)?;
    bake(&file).map_err(|misread| {
        let line = misread.line_in(text);
        misread.into_error(Some(line))
    })
}

/// Turns integers with another base, such as 0x24, into text, for which they are refused: a baker counts
/// in tens.
fn decimal_only(value: &mut DeValue<'_>) {
    match value {
        DeValue::Integer(number) if number.radix() != 10 => {
            *value = DeValue::String(number.to_string().into());
        }
        DeValue::Array(items) => items
            .iter_mut()
            .for_each(|item| decimal_only(item.get_mut())),
        DeValue::Table(keys) => keys
            .iter_mut()
            .for_each(|(_, value)| decimal_only(value.get_mut())),
        _ => {}
    }
}

/// The line of a byte, counted from 1.
fn line_of(text: &str, byte: usize) -> usize {
    1 + text
        .bytes()
        .take(byte)
        .filter(|byte| *byte == b'\n')
        .count()
}

impl Misread {
    /// The line of the key, or of its section where the key is not there.
    fn line_in(&self, text: &str) -> usize {
        let Ok(root) = DeTable::parse(text) else {
            return 1;
        };
        let (mut table, mut byte) = (root.get_ref(), 0);
        let sections = self.section.unwrap_or_default().split('.');
        for name in sections.chain([self.key.as_str()]) {
            let Some((key, value)) = table.get_key_value(name) else {
                continue;
            };
            byte = key.span().start;
            match value.get_ref() {
                DeValue::Table(keys) => table = keys,
                DeValue::Array(items) => {
                    if let Some(item) = items.get(self.item)
                        && let DeValue::Table(keys) = item.get_ref()
                    {
                        (table, byte) = (keys, item.span().start);
                    }
                }
                _ => {}
            }
        }
        line_of(text, byte)
    }

    pub(super) fn into_error(self, line: Option<usize>) -> Error {
        Error::Key {
            line,
            section: self.section.unwrap_or_default(),
            key: self.key,
            source: Box::new(self.error),
        }
    }
}

/// Checks a bake as written.
pub(super) fn bake(file: &BakeFile) -> Read<Bake> {
    // Before anything else: the keys of another format would all be unknown.
    if let Some(other) = file.format().get()?.filter(|format| *format != 1.0) {
        return Err(file.format().refuse(Error::malformed(format!(
            "this is a bake file of format {}, and only format 1 is known; use a newer version \
             of the program, or write the bake in format 1",
            shown(other)
        ))));
    }
    let name = file.read(|file| file.format().value().and(file.name().value()))?;
    let formula_keys = required(file.formula.as_ref())?;
    let kitchen_keys = required(file.kitchen.as_ref())?;
    let process_keys = required(file.process.as_ref())?;
    let oven = required(file.oven.as_ref())?.read(|oven| {
        Ok(Oven {
            pieces_per_load: oven.pieces_per_load().get()?,
            bake: oven.bake_min().value()?,
            recover: oven.oven_recovery_min().value()?,
            preheat: oven.preheat_min().value()?,
        })
    })?;
    let mut formula = formula_keys.read(formula)?;
    formula.yeast_kind = kitchen_keys.read(|kitchen| kitchen.yeast().value())?;
    let kitchen = kitchen_keys.read(kitchen)?;
    let pieces = formula_keys.read(|formula| formula.pieces().value())?;
    let load = oven.pieces_per_load.map_or(pieces, |most| most.min(pieces));
    let process = process_keys.read(|keys| process(keys, pieces, load))?;
    let preferment = optional(file.preferment.as_ref(), |keys| preferment(keys, &process))?;
    let (made_of, preferment) = preferment.unzip();
    formula.preferment = made_of;
    let cold = optional(file.cold.as_ref(), cold)?;
    let people = optional(file.working_hours.as_ref(), |hours| {
        let (from, until) = (hours.from().value()?, hours.until().value()?);
        if from == until {
            return hours.until().contradicts(
                "until is the same hour as from; leave [working_hours] out when someone is always \
                 there",
            );
        }
        Ok(People { from, until })
    })?;
    formula_keys.read(|keys| {
        settle_yeast(&mut formula, keys, &process)?;
        let bake = Bake {
            name,
            pieces,
            piece: keys.piece_g().value()?,
            scrap: keys.scrap_percent().value()?,
            bake_loss: keys.bake_loss_percent().get()?,
            formula,
            preferment,
            kitchen,
            process,
            cold,
            people,
            oven,
        };
        bake.batch()?;
        Ok(bake)
    })
}

/// Settles the yeast at the mix: given, to be found for the bulk, or none besides that of the
/// preferment and old dough.
fn settle_yeast(formula: &mut Formula, keys: &FormulaKeys, process: &Process) -> Read<()> {
    if matches!(process.bulk, Bulk::DoseFor(_)) {
        if keys.yeast_percent().name().is_some() {
            return keys.yeast_percent().contradicts(
                "yeast_percent gives the dose that bulk_h in [process] asks to find; keep one of them",
            );
        }
        formula.yeast = None;
        return Ok(());
    }
    let some = |percent: Percent| percent.as_percent() > 0.0;
    let old_dough = formula.old_dough.as_ref();
    if formula.yeast.is_some_and(some)
        || old_dough.is_some_and(|old| some(old.percent) && some(old.yeast))
        || formula.preferment.is_some()
    {
        return Ok(());
    }
    Err(Error::contradiction(
        "there is no yeast in this dough; give yeast_percent, a [preferment], [formula.old_dough], or \
         bulk_h in [process] to have the dose found",
    )
    .into())
}

fn formula(keys: &FormulaKeys) -> Read<Formula> {
    let mut formula = Formula::new(keys.hydration_percent().value()?)?;
    formula.salt = keys.salt_percent().value()?;
    formula.sugar = keys.sugar_percent().value()?;
    formula.fat = keys.fat_percent().value()?;
    formula.bassinage = keys.bassinage_percent().value()?;
    formula.yeast = Some(keys.yeast_percent().value()?);
    let flours = each(keys.flour.as_ref(), |flour| {
        Ok(Flour {
            name: flour.name().value()?,
            share: flour.share_percent().value()?,
        })
    })?;
    if !flours.is_empty() {
        formula.flours = flours;
    }
    formula.extras = each(keys.extra.as_ref(), |extra| {
        Ok(Extra {
            name: extra.name().value()?,
            percent: extra.percent().value()?,
            water: extra.water_percent().get()?,
        })
    })?;
    formula.old_dough = optional(keys.old_dough.as_ref(), |old| {
        Ok(OldDough {
            percent: old.percent().value()?,
            hydration: old.hydration_percent().value()?,
            salt: old.salt_percent().value()?,
            yeast: old.yeast_percent().value()?,
        })
    })?;
    Ok(formula)
}

fn preferment(keys: &PrefermentKeys, process: &Process) -> Read<(Preferment, PrefermentStep)> {
    let mut made_of = Preferment::new(keys.kind().value()?, keys.flour_percent().value()?)?;
    made_of.hydration = keys.hydration_percent().get()?.unwrap_or(made_of.hydration);
    made_of.salt = keys.salt_percent().get()?.unwrap_or(made_of.salt);
    made_of.flour = keys.flour().get()?;
    made_of.dose = keys.dose_percent().get()?;
    at_most_one([keys.dose_percent().name(), keys.ripe_after_h().name()])?;
    let step = PrefermentStep {
        ripe_after: keys.ripe_after_h().get()?,
        dough: keys.dough_c().value()?,
        joins: keys.joins().value()?,
        room: room(&keys.room)?,
        stands_in: keys.stands_in().value()?,
        also: keys.extra_preferment_g().value()?,
        mixing_heat_kj_per_kg: keys.mixing_heat_kj_per_kg().value()?,
    };
    if made_of.dose.is_none() && step.ripe_after.is_none() {
        return Err(Error::contradiction(
            "give dose_percent (its yeast, of its own flour) or ripe_after_h (to have the dose found), \
             one of the two",
        )
        .into());
    }
    if step.joins == Joins::Autolyse && process.autolyse.is_zero() {
        return keys.joins().contradicts(
            "joins = \"autolyse\" needs an autolyse; set autolyse_min in [process], or joins = \"mix\"",
        );
    }
    Ok((made_of, step))
}

/// The room, if the section gives one in any of its three ways.
fn room(keys: &RoomKeys) -> Read<Option<Room>> {
    let (record, wave) = (keys.room_record().name(), keys.room_mean_c().name());
    let from = keys.room_record_from().name();
    for (part, whole, name) in [
        (from, record, "room_record"),
        (
            keys.room_record_days_before().name(),
            from,
            "room_record_from",
        ),
        (keys.room_amplitude_c().name(), wave, "room_mean_c"),
        (keys.room_warmest().name(), wave, "room_mean_c"),
    ] {
        if let (Some(part), None) = (part, whole) {
            let why = format!("{part} needs {name}; add {name}, or leave it out");
            return Err(Misread::at(part, Error::contradiction(why)));
        }
    }
    at_most_one([keys.room_c().name(), record, wave])?;
    if let Some(file) = keys.room_record().get()? {
        return Ok(Some(Room::Record {
            file,
            from: keys.room_record_from().get()?,
            days_before: keys.room_record_days_before().value()? as u8,
        }));
    }
    if let Some(mean) = keys.room_mean_c().get()? {
        return Ok(Some(Room::Daily {
            mean,
            amplitude: keys.room_amplitude_c().value()?,
            warmest: keys.room_warmest().value()?,
        }));
    }
    Ok(keys.room_c().get()?.map(Room::Constant))
}

fn kitchen(keys: &KitchenKeys) -> Read<Kitchen> {
    let missing = || {
        Error::malformed(
            "missing the room; add room_c = 20, or room_record = \"room.csv\", or room_mean_c, \
             room_amplitude_c and room_warmest",
        )
    };
    Ok(Kitchen {
        room: room(&keys.room)?.ok_or_else(missing)?,
        flour: keys.flour_c().get()?,
        tap: keys.tap_c().value()?,
        yeast: keys.yeast_c().get()?,
        ice: keys.ice_c().value()?,
        scale_step: keys.scale_step_g().value()?,
        altitude_m: keys.altitude_m().value()?,
        mixer: keys.mixer_kg().get()?,
        tub_l: keys.tub_l().get()?,
        board_capacity: keys.board_capacity().get()?,
        retarder_capacity: keys.retarder_capacity().get()?,
        flour_moisture: keys.flour_moisture_percent().value()?,
    })
}

fn process(keys: &ProcessKeys, pieces: u32, load: u32) -> Read<Process> {
    at_most_one([keys.friction_factor_c().name(), keys.base_c().name()])?;
    at_most_one([
        keys.bulk_min().name(),
        keys.bulk_percent().name(),
        keys.bulk_h().name(),
    ])?;
    at_most_one([keys.divide_s_per_piece().name(), keys.divide_min().name()])?;
    at_most_one([keys.shape_s_per_piece().name(), keys.shape_min().name()])?;
    let bulk = match (keys.bulk_min().get()?, keys.bulk_h().get()?) {
        (Some(time), _) => Bulk::Fixed(time),
        (_, Some(time)) => Bulk::DoseFor(time),
        _ => Bulk::Until(keys.bulk_percent().value()?),
    };
    // Seconds a piece: the whole batch is divided, and a load is shaped.
    let in_all =
        |seconds: f64, pieces: u32| hours((seconds * f64::from(pieces) / 3600.0).min(48.0));
    let divide = match keys.divide_s_per_piece().get()? {
        Some(seconds) => in_all(seconds, pieces)?,
        None => keys.divide_min().value()?,
    };
    let shape = match keys.shape_s_per_piece().get()? {
        Some(seconds) => in_all(seconds, load)?,
        None => keys.shape_min().value()?,
    };
    let rest = keys.bench_rest_min().value()?;
    let rest_max = match keys.bench_rest_max_min().get()? {
        Some(longest) if longest < rest => {
            return keys.bench_rest_max_min().contradicts(
                "bench_rest_max_min is less than bench_rest_min; it is the longest rest, so raise it",
            );
        }
        Some(longest) => longest,
        None => keys.bench_rest_max_min().value()?.max(rest),
    };
    let (hold_later_loads, retarder) = hold_later_loads(keys)?;
    Ok(Process {
        dough: keys.dough_c().value()?,
        ddt_formula: match keys.base_c().get()? {
            Some(base) => Some(DdtFormula::Base(base)),
            None => keys.friction_factor_c().get()?.map(DdtFormula::Friction),
        },
        mixing_heat_kj_per_kg: keys.mixing_heat_kj_per_kg().value()?,
        autolyse: keys.autolyse_min().value()?,
        mix: keys.mix_min().value()?,
        bassinage: keys.bassinage_c().get()?,
        bulk,
        bulk_place: keys.bulk_c().get()?,
        bulk_in: keys.bulk_in().value()?,
        folds: folds(keys, bulk)?,
        divide,
        rest,
        rest_max,
        shape,
        proof: keys.proof().value()?,
        proof_place: keys.proof_c().get()?,
        proof_in: keys.proof_in().value()?,
        loaf_length_to_diameter: keys.loaf_length_to_diameter().value()?,
        hold_later_loads,
        retarder,
        cool: keys.cool_min().value()?,
    })
}

/// What may be done with waiting pieces, and the retarder where it is among it.
fn hold_later_loads(keys: &ProcessKeys) -> Read<(Vec<HoldLaterLoads>, Option<Temperature>)> {
    let given = keys.hold_later_loads();
    let ways = given
        .get()?
        .unwrap_or_else(|| vec![HoldLaterLoads::ShapeLater]);
    if (1..ways.len()).any(|i| ways[..i].contains(&ways[i])) {
        return given.contradicts("a name is listed twice; list each once");
    }
    let retarder = keys.retarder_c().get()?;
    match (ways.contains(&HoldLaterLoads::Retarder), retarder) {
        (true, None) => given.contradicts(
            "\"retarder\" needs its temperature; add a line such as retarder_c = 6, or leave the \
             retarder out",
        ),
        (false, Some(_)) => keys.retarder_c().contradicts(
            "hold_later_loads does not allow the retarder; add \"retarder\" there, or leave \
             retarder_c out",
        ),
        _ => Ok((ways, retarder)),
    }
}

/// Folds in order, inside a bulk of known length.
fn folds(keys: &ProcessKeys, bulk: Bulk) -> Read<Vec<Duration>> {
    let given = keys.folds_min();
    let folds = given.get()?.unwrap_or_default();
    if folds.windows(2).any(|pair| pair[0] >= pair[1]) {
        return given
            .contradicts("the folds are not in order; count each from the start of the bulk");
    }
    match bulk {
        Bulk::Fixed(end) | Bulk::DoseFor(end) if folds.last().is_some_and(|last| *last > end) => {
            given.contradicts("the last fold comes after the end of the bulk; leave it out")
        }
        _ => Ok(folds),
    }
}

fn cold(keys: &ColdKeys) -> Read<Cold> {
    let stage = keys.stage().value()?;
    if stage == ColdStage::Proof && keys.after_min().name().is_some() {
        return keys.after_min().contradicts(
            "after_min is for a bulk in the cold; shaped pieces go there at once, so leave it out",
        );
    }
    let missing = || {
        Error::malformed("missing how cold it is; add room_c = 4, or room_record = \"fridge.csv\"")
    };
    Ok(Cold {
        stage,
        time: keys.hours().value()?,
        after: keys.after_min().value()?,
        room: room(&keys.room)?.ok_or_else(missing)?,
        stands_in: keys.stands_in().value()?,
    })
}
