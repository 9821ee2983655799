//! The command line: one file a command, each turning flags into a question of [`pointage_api`] and
//! its answer into words. Files and calendars live here and nowhere else.

mod adjust;
mod batch;
mod call;
mod clock;
mod compare;
mod dose;
mod exit;
mod files;
mod fit_published;
mod fit_rate;
mod friction;
mod inputs;
mod keys;
mod learn;
mod log;
mod manual;
mod outputs;
mod plan;
mod plan_args;
mod progress;
mod ready;
mod render;
mod room_record;
mod scale;
mod tables;
mod water;
mod write;

use clap::{CommandFactory, Parser, Subcommand};
use exit::Failure;
use pointage::budget::{USUAL, within};
use pointage_api::ice::{IceRequest, ice};
use pointage_api::keys::{KeysRequest, keys as list_keys};
use pointage_api::new::{NewRequest, new};
use pointage_api::tables::{TablesRequest, tables};
use render::answered;
use std::ffi::OsString;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Times dough fermentation by temperature: what water, how much yeast, when ripe, when to bake.
///
/// Values may carry a unit: 24, 24C, 75F; 500g, 1.2kg, 3lb, 8oz; 12h, 90min, 1h30; 0.5%.
/// Without one they are °C, g and %; a length of time needs its unit.
#[derive(Parser)]
#[command(
    name = "pointage",
    version,
    disable_help_subcommand = true,
    max_term_width = 80,
    after_help = EXIT_CODES
)]
struct Cli {
    /// Print the answer as one JSON object
    #[arg(long, global = true, display_order = 1000)]
    json: bool,
    /// Use these fermentation parameters (TOML, e.g. from learn --out)
    #[arg(long, global = true, value_name = "FILE", display_order = 999)]
    params: Option<PathBuf>,
    /// Give up an answer that takes more steps of work than this (batch has no end)
    #[arg(long, global = true, value_name = "STEPS", default_value_t = 100 * USUAL, hide_default_value = true, display_order = 1001)]
    budget: u64,
    #[command(subcommand)]
    command: Command,
}

const EXIT_CODES: &str = "Exit codes:
  0  fine
  1  the aim cannot be met; for plan, a load outside its window
  2  bad input: a flag, a value or the content of a file
  3  a file cannot be read or written

pointage completions SHELL prints completions of bash, elvish, fish, powershell or zsh;
pointage man prints this as a manual page, pointage man COMMAND that of a command.";

#[derive(Subcommand)]
enum Command {
    /// Write a bake file to begin with
    ///
    /// It plans as it is; write your own grams and minutes over it.
    #[command(after_help = "Example: eight pieces on a poolish, four to a load
  pointage new --kind poolish --pieces 8 --piece 210g --per-load 4 > my.toml")]
    New(NewRequest),
    /// List the keys of a bake file, or explain one
    #[command(after_help = keys::EXAMPLES)]
    Keys(KeysRequest),
    /// How much of everything, for so many pieces
    Scale(scale::ScaleCommand),
    /// What water temperature, and whether it takes ice
    Water(Box<water::WaterCommand>),
    /// How much of a pour is ice
    ///
    /// The ice replaces as much tap water, so that the pour keeps its mass.
    #[command(after_help = water::ICE_EXAMPLES)]
    Ice(IceRequest),
    /// How warm mixing makes the dough, from one mix or a log of them
    Friction(friction::FrictionCommand),
    /// How much yeast, so that it is ripe in time
    Dose(Box<dose::DoseCommand>),
    /// When it is ripe, and how long it may be used
    Ready(Box<ready::ReadyCommand>),
    /// When to do what, from the evening before to the last load
    Plan(plan::Args),
    /// What a measurement on the way means for the rest
    Adjust(adjust::AdjustCommand),
    /// How water, dose and clock move with one condition
    Compare(compare::CompareCommand),
    /// Learn the parameters of your kitchen from your own bakes
    Learn(Box<learn::LearnCommand>),
    /// Keep a log of your bakes
    #[command(subcommand)]
    Log(log::LogCommand),
    /// Fit a temperature law to measured speeds
    FitRate(fit_rate::FitRateCommand),
    /// Where the numbers come from
    ///
    /// Without an ID the list of all tables; with one its values, each with source and standing.
    #[command(after_help = tables::EXAMPLES)]
    Tables(TablesRequest),
    /// Answer many questions of ready, dose, water, ice or scale, from a CSV to a CSV
    Batch(batch::BatchCommand),
    /// Answer requests in JSON, one a line, for other programs
    Call(call::CallCommand),
    /// Fit the published log anew: the table of fermentation to be shipped
    #[command(hide = true)]
    FitPublished,
    #[command(hide = true)]
    Completions(manual::Completions),
    #[command(hide = true)]
    Man(manual::Man),
}

/// The general cautions, shown with every plan.
const CARE: &str = "keep raw dough and flour away from food. Mind steam, the hot oven, a running mixer and flour \
dust. Local food and safety rules come first.";

fn main() -> ExitCode {
    match answer(std::env::args_os()) {
        Ok((text, unmet)) => {
            let printed = print(&text);
            unmet.map_or(printed, |unmet| unmet.report())
        }
        Err(failure) => failure.report(),
    }
}

/// The answer, and what it leaves unmet; both failures name the command.
fn answer(args: impl IntoIterator<Item = OsString>) -> Result<(String, Option<Failure>), Failure> {
    let args = with_negative_values(args);
    let program = Cli::command();
    let named = |failure: Failure| match args.iter().find_map(|arg| program.find_subcommand(arg)) {
        Some(command) => failure.of(command.get_name()),
        None => failure,
    };
    let answer = match Cli::try_parse_from(&args) {
        Ok(cli) => within(cli.budget, || run(cli)),
        Err(error) => {
            // Those of `log` where it is `log` that lacks one.
            let mut named = args.iter().filter_map(|arg| program.find_subcommand(arg));
            let of = named.find(|command| command.has_subcommands());
            let all = of.unwrap_or(&program).get_subcommands();
            let shown = all.filter(|command| !command.is_hide_set());
            let commands: Vec<&str> = shown.map(clap::Command::get_name).collect();
            exit::of_arguments(&error, &commands.join(", ")).map(|text| (text, None))
        }
    };
    match answer {
        Ok((text, unmet)) => Ok((text, unmet.map(named))),
        Err(failure) => Err(named(failure)),
    }
}

/// The answer of a command, and what it leaves unmet.
fn run(cli: Cli) -> Result<(String, Option<Failure>), Failure> {
    let json = cli.json;
    let model = || inputs::model(cli.params.as_deref());
    let text = match cli.command {
        Command::New(r) => answered::<NewRequest, _>(json, new(&r), |a| a.bake_toml.clone())?,
        Command::Keys(r) => answered::<KeysRequest, _>(json, list_keys(&r), keys::words)?,
        Command::Scale(command) => command.run(json)?,
        Command::Water(command) => command.run(json)?,
        Command::Ice(r) => {
            answered::<IceRequest, _>(json, ice(&r), |a| water::words_of_ice(&r, a))?
        }
        Command::Friction(command) => command.run(json)?,
        Command::Dose(command) => command.run(json, &model()?)?,
        Command::Ready(command) => command.run(json, &model()?)?,
        Command::Tables(r) => answered::<TablesRequest, _>(json, tables(&r), tables::words)?,
        Command::Compare(command) => command.run(json, &model()?)?,
        Command::Learn(command) => command.run(json, &model()?)?,
        Command::FitRate(command) => command.run(json)?,
        Command::Log(command) => return command.run(json, &model()?),
        Command::Plan(command) => return command.run(json, &model()?),
        Command::Adjust(command) => return command.run(json, &model()?),
        Command::Batch(command) => command.run(json, &model()?)?,
        // Its answers would differ from those of the library for the same request.
        Command::Call(_) if cli.params.is_some() => {
            let why = "--params: call takes parameters in each request, as params_toml; leave the flag out";
            return Err(Failure::Input(why.into()));
        }
        Command::Call(_) => call::CallCommand::run()?,
        Command::FitPublished => fit_published::words()?,
        Command::Completions(command) => command.run(),
        Command::Man(command) => command.run()?,
    };
    Ok((text, None))
}

/// Binds a negative value to its flag (`--ice-temp -5F` becomes `--ice-temp=-5F`), which the parser
/// would take for a flag of its own.
fn with_negative_values(args: impl IntoIterator<Item = OsString>) -> Vec<OsString> {
    let mut bound: Vec<OsString> = Vec::new();
    for arg in args {
        let value = arg.to_str().and_then(|a| a.strip_prefix('-'));
        let begins = |c: char| c.is_ascii_digit() || c == '.';
        let is_flag = |f: &str| f.starts_with("--") && !f.contains('=');
        match bound.last_mut() {
            Some(flag)
                if value.is_some_and(|v| v.starts_with(begins))
                    && flag.to_str().is_some_and(is_flag) =>
            {
                flag.push("=");
                flag.push(arg);
            }
            _ => bound.push(arg),
        }
    }
    bound
}

/// Writes the answer.
fn print(text: &str) -> ExitCode {
    let mut out = std::io::stdout().lock();
    let end = if text.is_empty() { "" } else { "\n" };
    let written = write!(out, "{}{end}", text.trim_end()).and_then(|()| out.flush());
    let unread = |error| Failure::of_stdout(error).report();
    written.map_or_else(unread, |()| ExitCode::SUCCESS)
}
