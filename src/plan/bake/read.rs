//! From the text of a bake file to a [`Bake`].

use super::section::{Section, line_of};
use super::{
    Bake, Bulk, Cold, ColdStage, DdtFormula, HoldLaterLoads, Joins, Kitchen, MAX_BYTES, Oven,
    PIECE_G, PIECES, People, PrefermentStep, Process, Proof, Room,
};
use crate::error::{Error, Result, shown, words_of};
use crate::ferment::Kind;
use crate::formula::{Extra, Flour, Formula, OldDough, Preferment, YeastKind};
use crate::heat::dough_body::Place;
use crate::heat::mixing_heat::MixingHeat;
use crate::table::{self, Table};
use crate::units::{Mass, Percent, Temperature, hours};
use std::time::Duration;
use toml::de::DeTable;

pub(super) fn bake(text: &str) -> Result<Bake> {
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
    let table = DeTable::parse(text).map_err(|error| not_toml(text, &error))?;
    let top = Section::top(text, table.get_ref());
    let usual = table::get("bake-file")?;
    known_format(&top)?;
    let name = top.required("name", "\"Harvest round\"", top.text("name")?)?;
    let section = |name| top.required(name, "", top.section(name)?);
    let formula_section = section("formula")?;
    let kitchen_section = section("kitchen")?;
    let process_section = section("process")?;
    let oven = oven(&section("oven")?)?;
    let preferment_section = top.section("preferment")?;

    let mut formula = formula(&formula_section)?;
    formula.yeast_kind = kitchen_section
        .choice("yeast", &YeastKind::ALL.map(|kind| (kind.name(), kind)))?
        .unwrap_or(YeastKind::Instant);
    let kitchen = kitchen(&kitchen_section, usual)?;
    let mut process = process(&process_section, usual)?;
    let mut preferment = None;
    if let Some(section) = &preferment_section {
        let (made_of, held) = read_preferment(section, usual)?;
        if held.joins == Joins::Autolyse && process.autolyse.is_zero() {
            return Err(section.at(
                "joins",
                Error::contradiction(
                    "joins = \"autolyse\" needs an autolyse; set autolyse_min in [process], or \
                     joins = \"mix\"",
                ),
            ));
        }
        formula.preferment = Some(made_of);
        preferment = Some(held);
    }
    yeast_somewhere(&mut formula, &formula_section, &process)?;

    let s = &formula_section;
    let pieces = s.whole("pieces", PIECES.0, PIECES.1, "pieces")?;
    let each = oven.pieces_per_load.or(pieces).min(pieces);
    // Seconds a piece: the whole batch is divided, and a load is shaped.
    let per_piece = |key, min_key, pieces: Option<u32>, time: &mut Duration| {
        if process_section.one_of(&[key, min_key])? == Some(key)
            && let (Some(seconds), Some(pieces)) =
                (process_section.number(key, 0.0, 3600.0, "s")?, pieces)
        {
            *time = hours((seconds * f64::from(pieces) / 3600.0).min(48.0))?;
        }
        Ok::<(), Error>(())
    };
    per_piece(
        "divide_s_per_piece",
        "divide_min",
        pieces,
        &mut process.divide,
    )?;
    per_piece("shape_s_per_piece", "shape_min", each, &mut process.shape)?;
    let piece = s.grams("piece_g", PIECE_G.0, PIECE_G.1)?;
    let bake = Bake {
        name: name.into(),
        pieces: s.required("pieces", "24", pieces)?,
        piece: s.required("piece_g", "640", piece)?,
        scrap: s
            .percent("scrap_percent", 0.0, 30.0)?
            .map_or_else(|| Percent::new(usual.number("scrap_percent")?), Ok)?,
        bake_loss: s.percent("bake_loss_percent", 0.0, 50.0)?,
        formula,
        preferment,
        kitchen,
        process,
        cold: top.section("cold")?.as_ref().map(cold).transpose()?,
        people: top
            .section("working_hours")?
            .as_ref()
            .map(people)
            .transpose()?,
        oven,
    };
    bake.batch()
        .map_err(|error| formula_section.at_section(error))?;
    Ok(bake)
}

/// Refuses another format before anything else: its keys would all be unknown.
fn known_format(top: &Section<'_>) -> Result<()> {
    let format = top.number("format", f64::MIN, f64::MAX, "")?;
    if let Some(other) = format.filter(|format| *format != 1.0) {
        let error = Error::malformed(format!(
            "this is a bake file of format {}, and only format 1 is known; use a newer version \
             of the program, or write the bake in format 1",
            shown(other)
        ));
        return Err(top.at("format", error));
    }
    top.refuse_unknown_keys()?;
    top.required("format", "1", format).map(|_| ())
}

fn not_toml(text: &str, error: &toml::de::Error) -> Error {
    let line = error.span().map_or(1, |span| line_of(text, span.start));
    let message = words_of(error.message());
    Error::malformed(format!(
        "cannot be read ({message}); write key = value, text in double quotes, decimals with a point, \
         each key once"
    ))
    .at(format!("line {line}"))
}

/// Settles the yeast at the mix: given, to be found for the bulk, or none besides that of the
/// preferment and old dough.
fn yeast_somewhere(formula: &mut Formula, section: &Section<'_>, process: &Process) -> Result<()> {
    let given = section.has("yeast_percent");
    if matches!(process.bulk, Bulk::DoseFor(_)) {
        if given {
            return Err(section.at(
                "yeast_percent",
                Error::contradiction(
                    "yeast_percent gives the dose that bulk_h in [process] asks to find; keep one \
                     of them",
                ),
            ));
        }
        formula.yeast = None;
        return Ok(());
    }
    let old_dough = formula.old_dough.as_ref();
    let weighed = formula.yeast.is_some_and(|dose| dose.as_percent() > 0.0);
    let brought =
        old_dough.is_some_and(|old| old.percent.as_percent() > 0.0 && old.yeast.as_percent() > 0.0);
    if weighed || brought || formula.preferment.is_some() {
        return Ok(());
    }
    Err(section.at_section(Error::contradiction(
        "there is no yeast in this dough; give yeast_percent, a [preferment], [formula.old_dough], or \
         bulk_h in [process] to have the dose found",
    )))
}

fn formula(s: &Section<'_>) -> Result<Formula> {
    let hydration = s.percent("hydration_percent", 30.0, 200.0)?;
    let mut formula = Formula::new(s.required("hydration_percent", "70", hydration)?)?;
    let set = |field: &mut Percent, key, high| {
        if let Some(value) = s.percent(key, 0.0, high)? {
            *field = value;
        }
        Ok::<(), Error>(())
    };
    set(&mut formula.salt, "salt_percent", 8.0)?;
    set(&mut formula.sugar, "sugar_percent", 40.0)?;
    set(&mut formula.fat, "fat_percent", 150.0)?;
    set(&mut formula.bassinage, "bassinage_percent", 50.0)?;
    if let Some(dose) = s.percent("yeast_percent", 0.0, 20.0)? {
        formula.yeast = Some(dose);
    }
    let flours = s.sections("formula.flour")?;
    if !flours.is_empty() {
        formula.flours = flours.iter().map(flour).collect::<Result<_>>()?;
    }
    let extras = s.sections("formula.extra")?;
    formula.extras = extras.iter().map(extra).collect::<Result<_>>()?;
    formula.old_dough = s
        .section("formula.old_dough")?
        .as_ref()
        .map(old_dough)
        .transpose()?;
    Ok(formula)
}

fn flour(s: &Section<'_>) -> Result<Flour> {
    let share = s.percent("share_percent", 0.0, 100.0)?;
    Ok(Flour {
        name: s.required("name", "\"rye\"", s.text("name")?)?.into(),
        share: s.required("share_percent", "15", share)?,
    })
}

fn extra(s: &Section<'_>) -> Result<Extra> {
    let percent = s.percent("percent", 0.0, 300.0)?;
    Ok(Extra {
        name: s.required("name", "\"seeds\"", s.text("name")?)?.into(),
        percent: s.required("percent", "12", percent)?,
        water: s.percent("water_percent", 0.0, 100.0)?,
    })
}

fn old_dough(s: &Section<'_>) -> Result<OldDough> {
    let percent = s.percent("percent", 0.0, 100.0)?;
    let mut old = OldDough::new(s.required("percent", "15", percent)?)?;
    old.hydration = s
        .percent("hydration_percent", 20.0, 200.0)?
        .unwrap_or(old.hydration);
    old.salt = s.percent("salt_percent", 0.0, 10.0)?.unwrap_or(old.salt);
    old.yeast = s.percent("yeast_percent", 0.0, 20.0)?.unwrap_or(old.yeast);
    Ok(old)
}

fn read_preferment(s: &Section<'_>, usual: &Table) -> Result<(Preferment, PrefermentStep)> {
    // Old dough is no kind here: it is made with an earlier dough, in [formula.old_dough].
    let kinds = [Kind::Poolish, Kind::Biga, Kind::Sponge];
    let kind = s.choice("kind", &kinds.map(|kind| (kind.name(), kind)))?;
    let share = s.percent("flour_percent", 0.1, 100.0)?;
    let mut made_of = Preferment::new(
        s.required("kind", "\"poolish\"", kind)?,
        s.required("flour_percent", "30", share)?,
    )?;
    let hydration = s.percent("hydration_percent", 30.0, 200.0)?;
    made_of.hydration = hydration.unwrap_or(made_of.hydration);
    made_of.salt = s.percent("salt_percent", 0.0, 8.0)?.unwrap_or(made_of.salt);
    made_of.flour = s.text("flour")?.map(str::to_owned);
    if s.one_of(&["dose_percent", "ripe_after_h"])?.is_none() {
        return Err(s.at_section(Error::contradiction(
            "give dose_percent (its yeast, of its own flour) or ripe_after_h (to have the dose found), \
             one of the two",
        )));
    }
    made_of.dose = s.percent("dose_percent", 0.0001, 20.0)?;
    let held = PrefermentStep {
        ripe_after: s.hours("ripe_after_h", 0.5, 96.0)?,
        dough: or_celsius(
            s.celsius("dough_c", 5.0, 40.0)?,
            usual,
            "preferment_dough_c",
        )?,
        joins: s
            .choice(
                "joins",
                &[("autolyse", Joins::Autolyse), ("mix", Joins::Mix)],
            )?
            .unwrap_or(Joins::Mix),
        also: s
            .grams("extra_preferment_g", 0.0, 1e7)?
            .unwrap_or(Mass::literal(0.0)),
        room: room(s)?,
        stands_in: around(s, "stands_in")?.unwrap_or(Place::StillRoom),
        mixing_heat_kj_per_kg: mixing_heat(s, MixingHeat::shipped()?.by_hand_kj_per_kg)?,
    };
    Ok((made_of, held))
}

fn mixing_heat(s: &Section<'_>, default: f64) -> Result<f64> {
    let given = s.number("mixing_heat_kj_per_kg", 0.0, 60.0, "kJ/kg")?;
    Ok(given.unwrap_or(default))
}

/// What is around a dough where it stands.
fn around(s: &Section<'_>, key: &str) -> Result<Option<Place>> {
    s.choice(key, &Place::ALL.map(|place| (place.name(), place)))
}

fn or_celsius(given: Option<Temperature>, usual: &Table, name: &str) -> Result<Temperature> {
    given.map_or_else(|| Temperature::celsius(usual.number(name)?), Ok)
}

/// The room, if the section gives one in any of its three ways.
fn room(s: &Section<'_>) -> Result<Option<Room>> {
    let belongs = |part: &str, whole: &str| {
        if s.has(part) && !s.has(whole) {
            return Err(s.at(
                part,
                Error::contradiction(format!(
                    "{part} needs {whole}; add {whole}, or leave it out"
                )),
            ));
        }
        Ok(())
    };
    belongs("room_record_from", "room_record")?;
    belongs("room_record_days_before", "room_record_from")?;
    belongs("room_amplitude_c", "room_mean_c")?;
    belongs("room_warmest", "room_mean_c")?;
    let (low, high) = (-20.0, 50.0);
    Ok(match s.one_of(&["room_c", "room_record", "room_mean_c"])? {
        Some("room_c") => s.celsius("room_c", low, high)?.map(Room::Constant),
        Some("room_record") => s
            .text("room_record")?
            .map(|file| {
                Ok::<_, Error>(Room::Record {
                    file: file.into(),
                    from: s.clock("room_record_from")?,
                    days_before: s
                        .whole("room_record_days_before", 0, 14, "days")?
                        .map_or(1, |days| days as u8),
                })
            })
            .transpose()?,
        Some(_) => s
            .celsius("room_mean_c", low, high)?
            .map(|mean| {
                let amplitude = s.kelvin("room_amplitude_c", 0.0, 25.0)?;
                Ok::<_, Error>(Room::Daily {
                    mean,
                    amplitude: s.required("room_amplitude_c", "3", amplitude)?,
                    warmest: s.required("room_warmest", "\"16:00\"", s.clock("room_warmest")?)?,
                })
            })
            .transpose()?,
        None => None,
    })
}

fn kitchen(s: &Section<'_>, usual: &Table) -> Result<Kitchen> {
    let Some(room) = room(s)? else {
        return Err(s.at_section(Error::malformed(
            "missing the room; add room_c = 20, or room_record = \"room.csv\", or room_mean_c, \
             room_amplitude_c and room_warmest",
        )));
    };
    Ok(Kitchen {
        room,
        flour: s.celsius("flour_c", -20.0, 50.0)?,
        tap: or_celsius(s.celsius("tap_c", 0.0, 60.0)?, usual, "tap_c")?,
        yeast: s.celsius("yeast_c", -25.0, 50.0)?,
        ice: s.celsius("ice_c", -40.0, 0.0)?.unwrap_or(Temperature::ZERO),
        scale_step: match s.grams("scale_step_g", 0.001, 100.0)? {
            Some(step) => step,
            None => Mass::grams(usual.number("scale_step_g")?)?,
        },
        altitude_m: s.number("altitude_m", -500.0, 6000.0, "m")?.unwrap_or(0.0),
        mixer: s
            .number("mixer_kg", 0.05, 5000.0, "kg")?
            .map(Mass::kilograms)
            .transpose()?,
        tub_l: s.number("tub_l", 0.1, 10_000.0, "L")?,
        board_capacity: s.whole("board_capacity", 1, PIECES.1, "pieces")?,
        retarder_capacity: s.whole("retarder_capacity", 1, PIECES.1, "pieces")?,
        flour_moisture: match s.percent("flour_moisture_percent", 0.0, 20.0)? {
            Some(moisture) => moisture,
            None => Percent::new(MixingHeat::shipped()?.usual_moisture_percent)?,
        },
    })
}

fn process(s: &Section<'_>, usual: &Table) -> Result<Process> {
    let place = |key| s.celsius(key, -10.0, 50.0);
    let dough = s.celsius("dough_c", 5.0, 45.0)?;
    let ddt_formula = match s.one_of(&["friction_factor_c", "base_c"])? {
        Some("base_c") => s.number("base_c", 10.0, 130.0, "°C")?.map(DdtFormula::Base),
        _ => s
            .kelvin("friction_factor_c", -10.0, 80.0)?
            .map(DdtFormula::Friction),
    };
    let bulk = match s.one_of(&["bulk_min", "bulk_percent", "bulk_h"])? {
        Some("bulk_min") => s.minutes("bulk_min", 0.0, 5760.0)?.map(Bulk::Fixed),
        Some("bulk_h") => s.hours("bulk_h", 0.25, 96.0)?.map(Bulk::DoseFor),
        _ => s.percent("bulk_percent", 5.0, 200.0)?.map(Bulk::Until),
    };
    let known = [
        ("shape-later", HoldLaterLoads::ShapeLater),
        ("retarder", HoldLaterLoads::Retarder),
        ("divide-later", HoldLaterLoads::DivideLater),
    ];
    let hold_later_loads = s
        .choices("hold_later_loads", &known)?
        .unwrap_or_else(|| vec![HoldLaterLoads::ShapeLater]);
    let retarder = s.celsius("retarder_c", -5.0, 25.0)?;
    let uses_retarder = hold_later_loads.contains(&HoldLaterLoads::Retarder);
    if uses_retarder && retarder.is_none() {
        return Err(s.at(
            "hold_later_loads",
            Error::contradiction(
                "\"retarder\" needs its temperature; add a line such as retarder_c = 6, or leave the \
                 retarder out",
            ),
        ));
    }
    if !uses_retarder && retarder.is_some() {
        return Err(s.at(
            "retarder_c",
            Error::contradiction(
                "the retarder is not allowed by hold_later_loads; add \"retarder\" there, or leave retarder_c out",
            ),
        ));
    }
    let rest = s.minutes_or("bench_rest_min", usual)?;
    let mut rest_max = s.minutes_or("bench_rest_max_min", usual)?;
    if !s.has("bench_rest_max_min") {
        rest_max = rest_max.max(rest);
    }
    if rest_max < rest {
        return Err(s.at(
            "bench_rest_max_min",
            Error::contradiction(
                "bench_rest_max_min is less than bench_rest_min; it is the longest rest, so raise it",
            ),
        ));
    }
    let bulk = bulk.unwrap_or(Bulk::Until(Percent::literal(100.0)));
    Ok(Process {
        dough: s.required("dough_c", "25", dough)?,
        ddt_formula,
        mixing_heat_kj_per_kg: mixing_heat(s, MixingHeat::shipped()?.usual_mixing_kj_per_kg)?,
        autolyse: s.minutes_or_none("autolyse_min")?,
        mix: s.minutes_or("mix_min", usual)?,
        bassinage: s.celsius("bassinage_c", 0.0, 60.0)?,
        bulk,
        bulk_place: place("bulk_c")?,
        bulk_in: around(s, "bulk_in")?.unwrap_or(Place::StillRoom),
        folds: folds(s, bulk)?,
        divide: s.minutes_or("divide_min", usual)?,
        rest,
        rest_max,
        shape: s.minutes_or("shape_min", usual)?,
        proof: s
            .choice("proof", &[("hearth", Proof::Hearth), ("tin", Proof::Tin)])?
            .unwrap_or(Proof::Hearth),
        proof_place: place("proof_c")?,
        proof_in: around(s, "proof_in")?.unwrap_or(Place::StillRoom),
        loaf_length_to_diameter: match s.number(
            "loaf_length_to_diameter",
            0.2,
            20.0,
            "as a ratio",
        )? {
            Some(ratio) => ratio,
            None => usual.number("loaf_length_to_diameter")?,
        },
        hold_later_loads,
        retarder,
        cool: s.minutes_or("cool_min", usual)?,
    })
}

/// Folds in order, inside a bulk of known length.
fn folds(s: &Section<'_>, bulk: Bulk) -> Result<Vec<Duration>> {
    let minutes = s.numbers("folds_min", 0.0, 5760.0, "min")?;
    let refuse = |why: &str| Err(s.at("folds_min", Error::contradiction(why)));
    if minutes.windows(2).any(|pair| pair[0] >= pair[1]) {
        return refuse("the folds are not in order; count each from the start of the bulk");
    }
    let folds: Vec<Duration> = minutes
        .iter()
        .map(|m| hours(m / 60.0))
        .collect::<Result<_>>()?;
    match bulk {
        Bulk::Fixed(end) | Bulk::DoseFor(end) if folds.last().is_some_and(|last| *last > end) => {
            refuse("the last fold comes after the end of the bulk; leave it out")
        }
        _ => Ok(folds),
    }
}

fn cold(s: &Section<'_>) -> Result<Cold> {
    let stages = [("bulk", ColdStage::Bulk), ("proof", ColdStage::Proof)];
    let stage = s.required("stage", "\"proof\"", s.choice("stage", &stages)?)?;
    if stage == ColdStage::Proof && s.has("after_min") {
        return Err(s.at(
            "after_min",
            Error::contradiction(
                "after_min is for a bulk in the cold; shaped pieces go there at once, so leave it out",
            ),
        ));
    }
    let Some(room) = room(s)? else {
        return Err(s.at_section(Error::malformed(
            "missing how cold it is; add room_c = 4, or room_record = \"fridge.csv\"",
        )));
    };
    Ok(Cold {
        stage,
        time: s.required("hours", "10", s.hours("hours", 0.5, 96.0)?)?,
        after: s.minutes_or_none("after_min")?,
        room,
        stands_in: around(s, "stands_in")?.unwrap_or(Place::Fridge),
    })
}

fn people(s: &Section<'_>) -> Result<People> {
    let people = People {
        from: s.required("from", "\"05:00\"", s.clock("from")?)?,
        until: s.required("until", "\"22:00\"", s.clock("until")?)?,
    };
    if people.from == people.until {
        return Err(s.at(
            "until",
            Error::contradiction(
                "until is the same hour as from; leave [working_hours] out when someone is always there",
            ),
        ));
    }
    Ok(people)
}

fn oven(s: &Section<'_>) -> Result<Oven> {
    Ok(Oven {
        pieces_per_load: s.whole("pieces_per_load", 1, PIECES.1, "pieces")?,
        bake: s.required("bake_min", "40", s.minutes("bake_min", 1.0, 600.0)?)?,
        recover: s.minutes_or_none("oven_recovery_min")?,
        preheat: s.minutes_or_none("preheat_min")?,
    })
}
