//! From a bake file to a [`Bake`].

use super::keys::Part;
use super::value::{Node, Section};
use super::{Bake, ColdStage, ColdStay, HoldLaterLoads, Joins, Kitchen, Oven, People};
use super::{PrefermentStep, Process, Room};
use crate::error::{Error, Result, shown};
use crate::formula::{Formula, Preferment};
use crate::units::{Percent, hours};

/// Checks a bake as written.
pub(super) fn bake(file: &Node) -> Result<Bake> {
    let top = Section::at("", file)?;
    // Before anything else: the keys of another format would all be unknown.
    if top.has("format") && top.get::<f64>("format")? != 1.0 {
        let why = format!(
            "this is a bake file of format {}, and only format 1 is known; use a newer version \
             of the program, or write the bake in format 1",
            shown(top.get("format")?)
        );
        return Err(top.placed("format", Error::malformed(why)));
    }
    top.read(sections)
}

fn sections(file: &Section<'_>) -> Result<Bake> {
    file.get::<f64>("format")?;
    let name = file.get("name")?;
    let oven = file.below("oven")?.read(Oven::read)?;
    let of_formula = file.below("formula")?;
    let mut formula = of_formula.read(Formula::read)?;
    if formula.flours.is_empty() {
        formula.flours = Formula::new(formula.hydration)?.flours;
    }
    let (kitchen, yeast_kind) = file
        .below("kitchen")?
        .read(|keys| Ok((Kitchen::read(keys)?, keys.get("yeast")?)))?;
    formula.yeast_kind = yeast_kind;
    let pieces = of_formula.read(|keys| keys.get("pieces"))?;
    let load = oven.pieces_per_load.map_or(pieces, |most| most.min(pieces));
    let process = file
        .below("process")?
        .read(|keys| process(keys, pieces, load))?;
    let preferment = file
        .below("preferment")?
        .optional(|keys| preferment(keys, &process))?;
    let (made_of, preferment) = preferment.unzip();
    formula.preferment = made_of;
    let cold = file.below("cold")?.optional(cold)?;
    let people = file.below("working_hours")?.optional(people)?;
    of_formula.read(|keys| {
        settle_yeast(&mut formula, keys, &process)?;
        let bake = Bake {
            name,
            pieces,
            piece: keys.get("piece_g")?,
            scrap: keys.get("scrap_percent")?,
            bake_loss: keys.get("bake_loss_percent")?,
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
fn settle_yeast(formula: &mut Formula, keys: &Section<'_>, process: &Process) -> Result<()> {
    if process.bulk_dose_for.is_some() {
        if keys.has("yeast_percent") {
            return keys.refuse(
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
    ))
}

fn preferment(keys: &Section<'_>, process: &Process) -> Result<(Preferment, PrefermentStep)> {
    keys.at_most_one(&["dose_percent", "ripe_after_h"])?;
    let mut made_of = Preferment::new(keys.get("kind")?, keys.get("flour_percent")?)?;
    let given = |key| keys.get::<Option<Percent>>(key);
    made_of.hydration = given("hydration_percent")?.unwrap_or(made_of.hydration);
    made_of.salt = given("salt_percent")?.unwrap_or(made_of.salt);
    made_of.flour = keys.get("flour")?;
    made_of.dose = keys.get("dose_percent")?;
    let step = PrefermentStep::read(keys)?;
    if made_of.dose.is_none() && step.ripe_after.is_none() {
        return Err(Error::contradiction(
            "give dose_percent (its yeast, of its own flour) or ripe_after_h (to have the dose found), \
             one of the two",
        ));
    }
    if step.joins == Joins::Autolyse && process.autolyse.is_zero() {
        return keys.refuse(
            "joins",
            "joins = \"autolyse\" needs an autolyse; set autolyse_min in [process], or joins = \"mix\"",
        );
    }
    Ok((made_of, step))
}

/// The room, if the section gives one in any of its three ways.
pub(super) fn room(keys: &Section<'_>) -> Result<Option<Room>> {
    for (part, whole) in [
        ("room_record_from", "room_record"),
        ("room_record_days_before", "room_record_from"),
        ("room_amplitude_c", "room_mean_c"),
        ("room_warmest", "room_mean_c"),
    ] {
        if keys.has(part) && !keys.has(whole) {
            let why = format!("{part} needs {whole}; add {whole}, or leave it out");
            return keys.refuse(part, &why);
        }
    }
    keys.at_most_one(&["room_c", "room_record", "room_mean_c"])?;
    Ok(match (keys.get("room_record")?, keys.get("room_mean_c")?) {
        (Some(file), _) => Some(Room::Record {
            file,
            from: keys.get("room_record_from")?,
            days_before: keys.get::<u32>("room_record_days_before")? as u8,
        }),
        (_, Some(mean)) => Some(Room::Daily {
            mean,
            amplitude: keys.get("room_amplitude_c")?,
            warmest: keys.get("room_warmest")?,
        }),
        _ => keys.get::<Option<_>>("room_c")?.map(Room::Constant),
    })
}

fn cold(keys: &Section<'_>) -> Result<ColdStay> {
    let cold = ColdStay::read(keys)?;
    if cold.stage == ColdStage::Proof && keys.has("after_min") {
        return keys.refuse(
            "after_min",
            "after_min is for a bulk in the cold; shaped pieces go there at once, so leave it out",
        );
    }
    Ok(cold)
}

fn people(keys: &Section<'_>) -> Result<People> {
    let people = People::read(keys)?;
    if people.from == people.until {
        return keys.refuse(
            "until",
            "until is the same hour as from; leave [working_hours] out when someone is always there",
        );
    }
    Ok(people)
}

fn process(keys: &Section<'_>, pieces: u32, load: u32) -> Result<Process> {
    for one_of in [
        &["friction_factor_c", "base_c"][..],
        &["bulk_min", "bulk_rise", "bulk_h"],
        &["divide_s_per_piece", "divide_min"],
        &["shape_s_per_piece", "shape_min"],
    ] {
        keys.at_most_one(one_of)?;
    }
    let mut process = Process::read(keys)?;
    // The whole batch is divided, and a load is shaped.
    for (key, time, pieces) in [
        ("divide_s_per_piece", &mut process.divide, pieces),
        ("shape_s_per_piece", &mut process.shape, load),
    ] {
        if let Some(seconds) = keys.get::<Option<f64>>(key)? {
            *time = hours((seconds * f64::from(pieces) / 3600.0).min(48.0))?;
        }
    }
    if keys.has("bench_rest_max_min") && process.rest_max < process.rest {
        return keys.refuse(
            "bench_rest_max_min",
            "bench_rest_max_min is less than bench_rest_min; it is the longest rest, so raise it",
        );
    }
    process.rest_max = process.rest_max.max(process.rest);
    let folds = &process.folds;
    if folds.windows(2).any(|pair| pair[0] >= pair[1]) {
        let why = "the folds are not in order; count each from the start of the bulk";
        return keys.refuse("folds_min", why);
    }
    let bulk = process.bulk_time.or(process.bulk_dose_for);
    if bulk.is_some() && folds.last() > bulk.as_ref() {
        let why = "the last fold comes after the end of the bulk; leave it out";
        return keys.refuse("folds_min", why);
    }
    let ways = &process.hold_later_loads;
    if (1..ways.len()).any(|i| ways[..i].contains(&ways[i])) {
        return keys.refuse("hold_later_loads", "a name is listed twice; list each once");
    }
    match (ways.contains(&HoldLaterLoads::Retarder), process.retarder) {
        (true, None) => keys.refuse(
            "hold_later_loads",
            "\"retarder\" needs its temperature; add a line such as retarder_c = 6, or leave the \
             retarder out",
        ),
        (false, Some(_)) => keys.refuse(
            "retarder_c",
            "hold_later_loads does not allow the retarder; add \"retarder\" there, or leave \
             retarder_c out",
        ),
        _ => Ok(process),
    }
}
