//! What a developer copies: the header of the C functions, the snippets of the guide, the traits of the types.

use std::collections::BTreeSet;

const GUIDE: &str = include_str!("../../../../src/guide/embedding.md");
const HEADER: &str = include_str!("../../../../examples/c/pointage.h");
const FUNCTIONS: &str = include_str!("../../../../crates/api/src/capi.rs");

/// A type of a C function in C.
fn in_c(rust: &str) -> &str {
    match rust.trim().trim_end_matches(',') {
        "*const c_char" => "const char *",
        "*mut c_char" => "char *",
        "usize" => "size_t ",
        other => panic!("no C type is known for {other}"),
    }
}

#[test]
fn the_header_declares_the_functions_as_they_are() {
    let mut expected = BTreeSet::new();
    for function in FUNCTIONS.split("#[unsafe(no_mangle)]").skip(1) {
        let signature = function.split_once("extern \"C\" fn ").unwrap().1;
        let (signature, _) = signature.split_once(" {").unwrap();
        let (name, rest) = signature.split_once('(').unwrap();
        let (arguments, result) = rest.split_once(')').unwrap();
        let arguments: Vec<String> = arguments
            .split(',')
            .filter(|a| !a.trim().is_empty())
            .map(|a| a.split_once(": ").unwrap())
            .map(|(name, of)| format!("{}{}", in_c(of), name.trim()))
            .collect();
        let arguments = if arguments.is_empty() {
            "void".into()
        } else {
            arguments.join(", ")
        };
        let result = result.strip_prefix(" -> ").map_or("void ", in_c);
        expected.insert(format!("{result}{name}({arguments});"));
    }
    let declared: BTreeSet<String> = HEADER
        .lines()
        .filter(|l| l.ends_with(");"))
        .map(str::to_owned)
        .collect();
    assert_eq!(declared, expected);
    assert_eq!(declared.len(), 4);
}

/// The blocks of the guide in a language.
fn blocks(language: &str) -> Vec<&'static str> {
    let fence = format!("```{language}\n");
    let blocks = GUIDE.split(&fence).skip(1);
    blocks.map(|b| b.split("```").next().unwrap()).collect()
}

#[test]
fn the_snippets_of_the_guide_are_the_programs_that_run() {
    let c = include_str!("../../../../examples/c/water.c");
    let python = include_str!("../../../../examples/python/tonight.py");
    assert_eq!(blocks("c"), [c]);
    assert_eq!(blocks("python"), [python]);
    // The Rust ones run as doc tests.
    for snippet in blocks("rust").into_iter().chain([c, python]) {
        assert!(
            snippet.lines().filter(|l| !l.starts_with("# ")).count() < 20,
            "{snippet}"
        );
    }
    assert!(!blocks("rust").is_empty());
}

#[test]
fn public_types_go_between_threads() {
    use pointage::{Error, ambient, ferment, formula, heat, plan, rate, table, units};
    fn shared<T: Send + Sync>() {}
    shared::<Error>();
    shared::<ambient::Ambient>();
    shared::<ambient::TemperatureProfile<'static>>();
    shared::<ferment::Parameters>();
    shared::<ferment::Kinetics>();
    shared::<ferment::Fermentation>();
    shared::<ferment::State>();
    shared::<ferment::Stage>();
    shared::<ferment::Ready>();
    shared::<ferment::Volume>();
    shared::<ferment::MediumEffects>();
    shared::<ferment::Composition>();
    shared::<formula::Formula>();
    shared::<formula::Batch>();
    shared::<formula::YeastFactors>();
    shared::<formula::yeast_slurry::Pinch>();
    shared::<heat::balance::Mixing>();
    shared::<heat::balance::Balanced>();
    shared::<heat::dough_body::Body>();
    shared::<heat::properties::ThermalProperties>();
    shared::<heat::ice::Pour>();
    shared::<heat::cautions::Limits>();
    shared::<heat::ddt_formula::DdtFormula>();
    shared::<heat::ddt_formula::Friction>();
    shared::<plan::Plan>();
    shared::<plan::Environment>();
    shared::<plan::Problem>();
    shared::<plan::Measured>();
    shared::<plan::Adjusted>();
    shared::<plan::Vary>();
    shared::<plan::Compared>();
    shared::<plan::Trace>();
    shared::<plan::bake::Bake>();
    shared::<rate::RateLaw>();
    shared::<table::Table>();
    shared::<table::Source>();
    shared::<units::Temperature>();
    shared::<units::TemperatureDifference>();
    shared::<units::Mass>();
    shared::<units::Percent>();
    shared::<units::ClockTime>();
    #[cfg(feature = "learn")]
    {
        use pointage::learn;
        shared::<learn::fit::Learned>();
        shared::<learn::log::Log>();
        shared::<learn::Report>();
        shared::<learn::rate_fit::Speed>();
        shared::<learn::Refused>();
    }
    #[cfg(feature = "learn")]
    {
        shared::<pointage_api::fit_rate::FitRateRequest>();
        shared::<pointage_api::fit_rate::FitRateAnswer>();
        shared::<pointage_api::learn::LearnRequest>();
        shared::<pointage_api::learn::LearnAnswer>();
    }
    {
        shared::<pointage_api::ParameterOverrides>();
        shared::<pointage_api::adjust::AdjustAnswer>();
        shared::<pointage_api::compare::CompareAnswer>();
        shared::<pointage_api::dose::DoseRequest>();
        shared::<pointage_api::dose::DoseAnswer>();
        shared::<pointage_api::friction::FrictionRequest>();
        shared::<pointage_api::friction::FrictionAnswer>();
        shared::<pointage_api::ice::IceRequest>();
        shared::<pointage_api::ice::IceAnswer>();
        shared::<pointage_api::plan::PlanAnswer>();
        shared::<pointage_api::ready::ReadyRequest>();
        shared::<pointage_api::ready::ReadyAnswer>();
        shared::<pointage_api::scale::ScaleAnswer>();
        shared::<pointage_api::tables::TablesAnswer>();
        shared::<pointage_api::water::WaterRequest>();
        shared::<pointage_api::water::WaterAnswer>();
    }
}
