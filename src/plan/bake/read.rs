//! From a bake file to a [`Bake`].

use super::keys::{FormulaKeys, PrefermentKeys, ProcessKeys, RoomKeys};
use super::value::{Misread, Read, Section, contradiction};
use super::{Bake, BakeFile, Bulk, ColdStage, DdtFormula, HoldLaterLoads, Joins, MAX_BYTES};
use super::{People, PrefermentStep, Process, Room};
use crate::error::{Error, Result, shown, words_of};
use crate::formula::{Extra, Flour, Formula, OldDough, Preferment};
use crate::units::{Percent, hours};
use serde::Deserialize;
use std::time::Duration;
use toml::de::{DeTable, DeValue, Deserializer};

/// Reads the text of a bake file.
pub(super) fn from_toml(text: &str) -> Result<Bake> {
    // Before the parser: it would read a wrong file to its end.
    let bytes = text.len();
    if bytes > MAX_BYTES {
        return Err(Error::malformed(format!(
            "the bake file holds {bytes} bytes, at most {MAX_BYTES} are read; is it the right file?"
        )));
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

/// Most sections of one kind.
const MOST_SECTIONS: usize = 100;

/// Checks a bake as written.
pub(super) fn bake(file: &BakeFile) -> Read<Bake> {
    // Before anything else: the keys of another format would all be unknown.
    if file.has("format") && file.format()? != 1.0 {
        let why = format!(
            "this is a bake file of format {}, and only format 1 is known; use a newer version \
             of the program, or write the bake in format 1",
            shown(file.format()?)
        );
        return Err(Misread::at("format", Error::malformed(why)));
    }
    let name = file.read(|file| file.format().and(file.name()))?;
    let oven = file.oven.read(|oven| oven.check())?;
    let mut formula = file.formula.read(formula)?;
    let (kitchen, yeast) = file
        .kitchen
        .read(|kitchen| Ok((kitchen.check()?, kitchen.yeast()?)))?;
    formula.yeast_kind = yeast;
    let pieces = file.formula.read(|formula| formula.pieces())?;
    let load = oven.pieces_per_load.map_or(pieces, |most| most.min(pieces));
    let process = file.process.read(|keys| process(keys, pieces, load))?;
    let preferment = file
        .preferment
        .as_ref()
        .map(|keys| keys.read(|keys| preferment(keys, &process)));
    let (made_of, preferment) = preferment.transpose()?.unzip();
    formula.preferment = made_of;
    let cold = file.cold.as_ref().map(|cold| cold.read(|cold| {
        let checked = cold.check()?;
        if checked.stage == ColdStage::Proof && cold.has("after_min") {
            return contradiction(
                "after_min",
                "after_min is for a bulk in the cold; shaped pieces go there at once, so leave it out",
            );
        }
        Ok(checked)
    })).transpose()?;
    let people = file.working_hours.as_ref().map(|hours| hours.read(|hours| {
        let (from, until) = (hours.from()?, hours.until()?);
        if from == until {
            return contradiction(
                "until",
                "until is the same hour as from; leave [working_hours] out when someone is always there",
            );
        }
        Ok(People { from, until })
    })).transpose()?;
    file.formula.read(|keys| {
        settle_yeast(&mut formula, keys, &process)?;
        let bake = Bake {
            name,
            pieces,
            piece: keys.piece_g()?,
            scrap: keys.scrap_percent()?,
            bake_loss: keys.bake_loss_percent()?,
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
        if keys.has("yeast_percent") {
            return contradiction(
                "yeast_percent",
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
    let mut formula = Formula::new(keys.hydration_percent()?)?;
    formula.salt = keys.salt_percent()?;
    formula.sugar = keys.sugar_percent()?;
    formula.fat = keys.fat_percent()?;
    formula.bassinage = keys.bassinage_percent()?;
    formula.yeast = Some(keys.yeast_percent()?);
    let flours = each(keys.flour.as_ref(), |flour| {
        Ok(Flour {
            name: flour.name()?,
            share: flour.share_percent()?,
        })
    })?;
    if !flours.is_empty() {
        formula.flours = flours;
    }
    formula.extras = each(keys.extra.as_ref(), |extra| {
        Ok(Extra {
            name: extra.name()?,
            percent: extra.percent()?,
            water: extra.water_percent()?,
        })
    })?;
    let old_dough = keys.old_dough.as_ref().map(|old| {
        old.read(|old| {
            Ok(OldDough {
                percent: old.percent()?,
                hydration: old.hydration_percent()?,
                salt: old.salt_percent()?,
                yeast: old.yeast_percent()?,
            })
        })
    });
    formula.old_dough = old_dough.transpose()?;
    Ok(formula)
}

/// Sections of one kind, each read with its number.
fn each<S: Section, T>(list: Option<&Vec<S>>, read: impl Fn(&S) -> Read<T>) -> Read<Vec<T>> {
    let count = list.map_or(0, Vec::len);
    if count > MOST_SECTIONS {
        return Err(Error::malformed(format!(
            "[[{}]] is listed {count} times, at most {MOST_SECTIONS} are read; join some of them",
            S::PATH
        ))
        .into());
    }
    let numbered = |(item, section): (usize, &S)| {
        section
            .read(&read)
            .map_err(|misread| Misread { item, ..misread })
    };
    list.into_iter()
        .flatten()
        .enumerate()
        .map(numbered)
        .collect()
}

fn preferment(keys: &PrefermentKeys, process: &Process) -> Read<(Preferment, PrefermentStep)> {
    keys.at_most_one(&["dose_percent", "ripe_after_h"])?;
    let mut made_of = Preferment::new(keys.kind()?, keys.flour_percent()?)?;
    made_of.hydration = keys.hydration_percent()?.unwrap_or(made_of.hydration);
    made_of.salt = keys.salt_percent()?.unwrap_or(made_of.salt);
    made_of.flour = keys.flour()?;
    made_of.dose = keys.dose_percent()?;
    let step = keys.check()?;
    if made_of.dose.is_none() && step.ripe_after.is_none() {
        return Err(Error::contradiction(
            "give dose_percent (its yeast, of its own flour) or ripe_after_h (to have the dose found), \
             one of the two",
        )
        .into());
    }
    if step.joins == Joins::Autolyse && process.autolyse.is_zero() {
        return contradiction(
            "joins",
            "joins = \"autolyse\" needs an autolyse; set autolyse_min in [process], or joins = \"mix\"",
        );
    }
    Ok((made_of, step))
}

/// The room, if the section gives one in any of its three ways.
pub(super) fn room(keys: &RoomKeys) -> Read<Option<Room>> {
    for (part, whole) in [
        ("room_record_from", "room_record"),
        ("room_record_days_before", "room_record_from"),
        ("room_amplitude_c", "room_mean_c"),
        ("room_warmest", "room_mean_c"),
    ] {
        if keys.has(part) && !keys.has(whole) {
            let why = format!("{part} needs {whole}; add {whole}, or leave it out");
            return contradiction(part, &why);
        }
    }
    keys.at_most_one(&["room_c", "room_record", "room_mean_c"])?;
    if let Some(file) = keys.room_record()? {
        return Ok(Some(Room::Record {
            file,
            from: keys.room_record_from()?,
            days_before: keys.room_record_days_before()? as u8,
        }));
    }
    if let Some(mean) = keys.room_mean_c()? {
        return Ok(Some(Room::Daily {
            mean,
            amplitude: keys.room_amplitude_c()?,
            warmest: keys.room_warmest()?,
        }));
    }
    Ok(keys.room_c()?.map(Room::Constant))
}

fn process(keys: &ProcessKeys, pieces: u32, load: u32) -> Read<Process> {
    keys.at_most_one(&["divide_s_per_piece", "divide_min"])?;
    keys.at_most_one(&["shape_s_per_piece", "shape_min"])?;
    let mut process = keys.check()?;
    // Seconds a piece: the whole batch is divided, and a load is shaped.
    let in_all =
        |seconds: f64, pieces: u32| hours((seconds * f64::from(pieces) / 3600.0).min(48.0));
    if let Some(seconds) = keys.divide_s_per_piece()? {
        process.divide = in_all(seconds, pieces)?;
    }
    if let Some(seconds) = keys.shape_s_per_piece()? {
        process.shape = in_all(seconds, load)?;
    }
    match (
        process.hold_later_loads.contains(&HoldLaterLoads::Retarder),
        process.retarder,
    ) {
        (true, None) => contradiction(
            "hold_later_loads",
            "\"retarder\" needs its temperature; add a line such as retarder_c = 6, or leave the \
             retarder out",
        ),
        (false, Some(_)) => contradiction(
            "retarder_c",
            "hold_later_loads does not allow the retarder; add \"retarder\" there, or leave \
             retarder_c out",
        ),
        _ => Ok(process),
    }
}

pub(super) fn ddt_formula(keys: &ProcessKeys) -> Read<Option<DdtFormula>> {
    keys.at_most_one(&["friction_factor_c", "base_c"])?;
    let friction = keys.friction_factor_c()?.map(DdtFormula::Friction);
    Ok(keys.base_c()?.map(DdtFormula::Base).or(friction))
}

pub(super) fn bulk(keys: &ProcessKeys) -> Read<Bulk> {
    keys.at_most_one(&["bulk_min", "bulk_percent", "bulk_h"])?;
    Ok(match (keys.bulk_min()?, keys.bulk_h()?) {
        (Some(time), _) => Bulk::Fixed(time),
        (_, Some(time)) => Bulk::DoseFor(time),
        _ => Bulk::Until(keys.bulk_percent()?),
    })
}

pub(super) fn rest_max(keys: &ProcessKeys) -> Read<Duration> {
    let (rest, longest) = (keys.bench_rest_min()?, keys.bench_rest_max_min()?);
    if keys.has("bench_rest_max_min") && longest < rest {
        return contradiction(
            "bench_rest_max_min",
            "bench_rest_max_min is less than bench_rest_min; it is the longest rest, so raise it",
        );
    }
    Ok(longest.max(rest))
}

pub(super) fn hold_later_loads(keys: &ProcessKeys) -> Read<Vec<HoldLaterLoads>> {
    let ways = keys
        .hold_later_loads()?
        .unwrap_or_else(|| vec![HoldLaterLoads::ShapeLater]);
    if (1..ways.len()).any(|i| ways[..i].contains(&ways[i])) {
        return contradiction("hold_later_loads", "a name is listed twice; list each once");
    }
    Ok(ways)
}

/// Folds in order, inside a bulk of known length.
pub(super) fn folds(keys: &ProcessKeys) -> Read<Vec<Duration>> {
    let folds = keys.folds_min()?.unwrap_or_default();
    if folds.windows(2).any(|pair| pair[0] >= pair[1]) {
        let why = "the folds are not in order; count each from the start of the bulk";
        return contradiction("folds_min", why);
    }
    match bulk(keys)? {
        Bulk::Fixed(end) | Bulk::DoseFor(end) if folds.last().is_some_and(|last| *last > end) => {
            let why = "the last fold comes after the end of the bulk; leave it out";
            contradiction("folds_min", why)
        }
        _ => Ok(folds),
    }
}
