//! What went wrong, as one line and an exit code.

use clap::error::{ContextKind, ContextValue};
use pointage_api::Request;
use std::error::Error as _;
use std::ffi::OsString;
use std::io::Write;
use std::process::ExitCode;

/// The input is fine, the aim cannot be met.
const UNREACHABLE: u8 = 1;
/// The input is at fault.
const BAD_INPUT: u8 = 2;
/// A file cannot be read or written.
const NO_FILE: u8 = 3;

/// One line for stderr, and the exit code.
#[derive(Debug)]
pub struct Failure {
    code: u8,
    line: String,
}

impl Failure {
    /// Input that cannot be accepted.
    pub fn of_input(line: impl Into<String>) -> Self {
        Self {
            code: BAD_INPUT,
            line: line.into(),
        }
    }

    /// A file that cannot be read or written.
    pub fn of_file(line: impl Into<String>) -> Self {
        Self {
            code: NO_FILE,
            line: line.into(),
        }
    }

    /// An aim that cannot be met.
    pub fn of_aim(line: impl Into<String>) -> Self {
        Self {
            code: UNREACHABLE,
            line: line.into(),
        }
    }

    /// An error about a request, with its flags in place of keys.
    pub fn of<R: Request>(error: pointage::Error) -> Self {
        error.with_names(&R::flag).into()
    }

    /// The line itself.
    pub fn line(&self) -> &str {
        &self.line
    }

    /// The same, of a command.
    pub fn of_command(self, name: &str) -> Self {
        Self {
            line: format!("{name}: {}", self.line),
            ..self
        }
    }

    /// Tells it on stderr.
    pub fn report(&self) -> ExitCode {
        // Whatever came in from outside, it stays one line without control characters.
        let line: String = self
            .line
            .chars()
            .map(|c| if c.is_control() { ' ' } else { c })
            .collect();
        // When even stderr is closed, the exit code still tells.
        let _ = writeln!(std::io::stderr().lock(), "pointage: {line}");
        ExitCode::from(self.code)
    }
}

impl From<pointage::Error> for Failure {
    fn from(error: pointage::Error) -> Self {
        Self {
            code: if error.is_unreachable() {
                UNREACHABLE
            } else {
                BAD_INPUT
            },
            line: error.to_string(),
        }
    }
}

/// What the argument parser has to say: help and version are answers, all else is one line.
pub fn of_arguments(
    error: &clap::Error,
    program: &clap::Command,
    args: &[OsString],
) -> Result<String, Failure> {
    use clap::error::ErrorKind as Kind;
    let commands: Vec<&str> = program
        .get_subcommands()
        .map(clap::Command::get_name)
        .collect();
    let context = |kind| match error.get(kind) {
        Some(ContextValue::String(s)) => Some(s.clone()),
        Some(ContextValue::Strings(s)) => Some(s.join(", ")),
        _ => None,
    };
    let flag = context(ContextKind::InvalidArg).unwrap_or_default();
    let name = flag.split([' ', '=']).next().unwrap_or_default();
    let value = context(ContextKind::InvalidValue).unwrap_or_default();
    let line = match error.kind() {
        Kind::DisplayHelp | Kind::DisplayVersion => return Ok(error.to_string()),
        Kind::MissingSubcommand | Kind::DisplayHelpOnMissingArgumentOrSubcommand => format!(
            "no command given; say one of {} (pointage --help tells more)",
            commands.join(", ")
        ),
        Kind::InvalidSubcommand => {
            let given = context(ContextKind::InvalidSubcommand).unwrap_or_default();
            // The likest comes last.
            let near = context(ContextKind::SuggestedSubcommand)
                .and_then(|near| near.rsplit(", ").next().map(str::to_owned))
                .map_or(String::new(), |near| format!("did you mean {near:?}? "));
            format!(
                "unknown command {given:?}; {near}known: {}",
                commands.join(", ")
            )
        }
        Kind::UnknownArgument if flag.starts_with('-') => {
            let remedy = context(ContextKind::SuggestedArg)
                .map_or("--help lists the flags of a command".to_owned(), |near| {
                    format!("did you mean {near}?")
                });
            format!("unknown flag {flag}; {remedy}")
        }
        Kind::UnknownArgument => format!(
            "{flag:?} belongs to no flag; write the flag before its value, and quote a value with blanks"
        ),
        Kind::MissingRequiredArgument => {
            format!("missing: {flag}; --help shows an example")
        }
        Kind::ArgumentConflict => match context(ContextKind::PriorArg) {
            Some(prior) if prior != flag => {
                format!("{flag} and {prior} exclude each other; leave one of them out")
            }
            _ => format!("{name} is given twice; leave one of them out"),
        },
        Kind::InvalidValue if value.is_empty() => {
            format!("{name}: the value is missing; write one after it")
        }
        Kind::ValueValidation => match error.source() {
            Some(source) => format!("{name}: {source}"),
            None => format!("{name}: cannot read {value:?}"),
        },
        Kind::InvalidUtf8 => "an argument is not UTF-8 text; write it anew".to_owned(),
        // Kinds that these commands do not cause: the parser's own first line.
        _ => {
            let all = error.to_string();
            let first = all.lines().next().unwrap_or_default();
            first.strip_prefix("error: ").unwrap_or(first).to_owned()
        }
    };
    let failure = Failure::of_input(line);
    let command = args
        .iter()
        .find_map(|arg| commands.iter().find(|c| arg == *c));
    Err(match command {
        Some(command) => failure.of_command(command),
        None => failure,
    })
}
