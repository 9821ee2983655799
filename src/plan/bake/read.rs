//! From a bake file to a [`Bake`].

use super::keys::Part;
use super::value::{Node, Section};
use super::{Bake, ColdStage, ColdStay, HoldLaterLoads, Joins, Kitchen, Oven, People};
use super::{PrefermentStep, Process, Reference, Room, StageReference};
use crate::error::{Error, Result, shown};
use crate::formula::{Formula, Preferment};
use crate::units::{Mass, Percent, hours};
use std::time::Duration;

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
    let flour = of_formula.read(flour_of_recipe)?;
    let of_formula = of_formula.of_flour(flour);
    let mut formula = of_formula.read(Formula::read)?;
    if formula.flours.is_empty() {
        formula.flours = Formula::new(formula.hydration)?.flours;
    }
    let of_kitchen = file.below("kitchen")?;
    let kitchen = of_kitchen.read(Kitchen::read)?;
    formula.yeast_kind = of_kitchen.read(|keys| keys.get("yeast"))?;
    let pieces = of_formula.read(|keys| keys.get("pieces"))?;
    let load = oven.pieces_per_load.map_or(pieces, |most| most.min(pieces));
    let of_process = file.below("process")?;
    let mut process = of_process.read(|keys| process(keys, pieces, load))?;
    let preferment_of = file.below("preferment")?.of_flour(flour);
    let preferment = preferment_of.optional(|keys| preferment(keys, &process, flour))?;
    let (made_of, preferment) = preferment.unzip();
    formula.preferment = made_of;
    let cold = file.below("cold")?;
    let cold = cold.optional(|keys| Ok((keys.get("stage")?, ColdStay::read(keys)?)))?;
    let (cold_stage, cold) = cold.unzip();
    let people = file.below("working_hours")?.optional(people)?;
    of_formula.read(|keys| {
        settle_yeast(&mut formula, keys, &process)?;
        let of_reference = file.below("reference")?;
        let reference = of_reference.read(|keys| reference(keys, &formula, flour, &of_process))?;
        process.bulk_rise = reference.bulk_rise.unwrap_or(process.bulk_rise);
        let bake = Bake {
            name,
            pieces,
            piece: keys.get("piece_g")?,
            scrap: keys.get("scrap_percent")?,
            bake_loss: keys.get("bake_loss_percent")?,
            formula,
            recipe_flour: flour,
            preferment,
            reference,
            kitchen,
            process,
            cold,
            cold_stage: cold_stage.unwrap_or(ColdStage::Proof),
            people,
            oven,
        };
        bake.batch()?;
        Ok(bake)
    })
}

/// All flour of a recipe in grams, as such or flour by flour.
fn flour_of_recipe(keys: &Section<'_>) -> Result<Option<Mass>> {
    let flours: Vec<Option<Mass>> = keys.each("formula.flour", |flour| flour.get("flour_g"))?;
    let all = flours.iter().map(|mass| mass.map(Mass::as_grams));
    let listed: Option<f64> = all.sum();
    match (keys.get("flour_g")?, listed) {
        (None, Some(grams)) if grams > 0.0 => Mass::grams(grams).map(Some),
        (given, _) => Ok(given),
    }
}

/// Settles the yeast at the mix: given, to be found for the bulk, or none besides that of the
/// preferment and old dough.
fn settle_yeast(formula: &mut Formula, keys: &Section<'_>, process: &Process) -> Result<()> {
    if process.bulk_dose_for.is_some() {
        let mut doses = ["yeast_percent", "yeast_g"].into_iter();
        if let Some(given) = doses.find(|key| keys.has(key)) {
            let why = format!(
                "{given} gives the dose that bulk_h in [process] asks to find; keep one of them"
            );
            return keys.refuse(given, &why);
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

fn preferment(
    keys: &Section<'_>,
    process: &Process,
    flour: Option<Mass>,
) -> Result<(Preferment, PrefermentStep)> {
    keys.at_most_one(&["dose_percent", "yeast_g", "ripe_after_h"])?;
    let share: Percent = keys.get("flour_percent")?;
    let mut made_of = Preferment::new(keys.get("kind")?, share)?;
    // What else it is made of is of its own flour.
    let own = flour.map(|all| Mass::grams(all.as_grams() * share.as_fraction()));
    let keys = &keys.of_flour(own.transpose()?);
    let given = |key| keys.get::<Option<Percent>>(key);
    made_of.hydration = given("hydration_percent")?.unwrap_or(made_of.hydration);
    made_of.salt = given("salt_percent")?.unwrap_or(made_of.salt);
    made_of.flour = keys.get("flour")?;
    made_of.dose = keys.get("dose_percent")?;
    let mut step = PrefermentStep::read(keys)?;
    if let Some(cold) = &step.cold {
        let least = cold.after + cold.time;
        if cold.out.is_some() && step.ripe_after.is_some() {
            let why = "ripe_after_h and out_min of [preferment.cold] both say how long it is out of the cold; keep one of them";
            return keys.refuse("ripe_after_h", why);
        }
        if step.ripe_after.is_some_and(|after| after < least) {
            let why = "ripe_after_h is shorter than after_min and hours of [preferment.cold] together; lengthen it";
            return keys.refuse("ripe_after_h", why);
        }
        // By the clock from its mix to its use: without a dose, that is found for it.
        let by_clock = cold.out.map(|out| least + out);
        step.ripe_after = step
            .ripe_after
            .or(by_clock.filter(|_| made_of.dose.is_none()));
    }
    if made_of.dose.is_none() && step.ripe_after.is_none() {
        return Err(Error::contradiction(
            "give dose_percent or yeast_g (its yeast, of its own flour) or ripe_after_h (to have the dose found), \
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

/// A bake that worked. It keeps the doses of the recipe, so that tonight's may be others.
fn reference(
    keys: &Section<'_>,
    formula: &Formula,
    flour: Option<Mass>,
    process: &Section<'_>,
) -> Result<Reference> {
    let stage = |time: &str, warm: &str| -> Result<Option<StageReference>> {
        match (keys.get::<Option<Duration>>(time)?, keys.get(warm)?) {
            (Some(time), Some(dough)) => Ok(Some(StageReference { time, dough })),
            (None, None) => Ok(None),
            (Some(_), None) => keys.refuse(
                time,
                &format!("{time} needs {warm}, how warm the dough was"),
            ),
            (None, Some(_)) => keys.refuse(warm, &format!("{warm} needs {time}, how long it took")),
        }
    };
    let preferment = stage("preferment_h", "preferment_c")?;
    let [bulk, proof] = [stage("bulk_min", "bulk_c")?, stage("proof_min", "proof_c")?];
    let bulk_rise: Option<f64> = keys.get("bulk_rise")?;
    if (bulk.is_some() || bulk_rise.is_some()) && process.has("bulk_rise") {
        let why =
            "bulk_rise of [process] ends the bulk otherwise than [reference]; keep one of them";
        return process.refuse("bulk_rise", why);
    }
    let own = formula.preferment.as_ref().zip(flour);
    let own = own.map(|(own, all)| Mass::grams(all.as_grams() * own.share.as_fraction()));
    let of_own = keys.of_flour(own.transpose()?);
    let given: Option<Percent> = of_own.get("preferment_dose_percent")?;
    let dose = given.or(formula.preferment.as_ref().and_then(|own| own.dose));
    if preferment.is_some() && (formula.preferment.is_none() || dose.is_none()) {
        let why = "it needs a [preferment], and its dose: add preferment_dose_percent";
        return keys.refuse("preferment_h", why);
    }
    let given: Option<Percent> = keys.of_flour(flour).get("yeast_percent")?;
    let timed = bulk.or(proof).is_some();
    let yeast = match given.or(formula.yeast) {
        None if timed => {
            let why =
                "bulk_h of [process] asks for the dose; add the yeast_percent of this reference";
            return keys.refuse("", why);
        }
        yeast => yeast.unwrap_or_default(),
    };
    Ok(Reference {
        preferment,
        dose,
        bulk,
        bulk_rise,
        rise_is_given: bulk_rise.is_some() || process.has("bulk_rise"),
        proof,
        yeast,
    })
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
