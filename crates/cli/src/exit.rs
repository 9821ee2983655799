//! What went wrong, as one line and an exit code.

use super::render::steers;
use clap::error::ContextValue;
use pointage_api::Request;
use std::error::Error as _;
use std::io::{self, Write};
use std::num::{ParseFloatError, ParseIntError};
use std::process::ExitCode;

/// One line for stderr; its kind is the exit code.
#[derive(Debug)]
pub enum Failure {
    /// The input is fine, the aim cannot be met.
    Aim(String),
    /// The input is at fault.
    Input(String),
    /// A file cannot be read or written.
    File(String),
    /// Nobody reads the answer any more (`pointage tables | head`), which is no fault.
    Unread(String),
}

impl Failure {
    /// An error about a request, with its flags in place of keys.
    pub fn of_request<R: Request>(error: pointage::Error) -> Self {
        error.with_names(&R::flag).into()
    }

    /// An error of standard output.
    pub fn of_stdout(error: io::Error) -> Self {
        let of = match error.kind() {
            io::ErrorKind::BrokenPipe => Self::Unread,
            _ => Self::File,
        };
        of(format!("standard output: cannot be written: {error}"))
    }

    /// The line itself.
    pub fn line(&self) -> &str {
        let (Self::Aim(line) | Self::Input(line) | Self::File(line) | Self::Unread(line)) = self;
        line
    }

    /// The same, of a command or a file.
    pub fn of(mut self, name: &str) -> Self {
        let (Self::Aim(line) | Self::Input(line) | Self::File(line) | Self::Unread(line)) =
            &mut self;
        *line = format!("{name}: {line}");
        self
    }

    /// Tells it on stderr.
    pub fn report(&self) -> ExitCode {
        let code = match self {
            Self::Unread(_) => return ExitCode::SUCCESS,
            Self::Aim(_) => 1,
            Self::Input(_) => 2,
            Self::File(_) => 3,
        };
        // Whatever came in from outside, it stays one line without control characters.
        let line = self.line().replace(steers, " ");
        // When even stderr is closed, the exit code still tells.
        let _ = writeln!(io::stderr().lock(), "pointage: {line}");
        ExitCode::from(code)
    }
}

impl From<pointage::Error> for Failure {
    fn from(error: pointage::Error) -> Self {
        let of = match error.is_unreachable() {
            true => Self::Aim,
            false => Self::Input,
        };
        of(error.to_string())
    }
}

/// What the argument parser has to say: help and version are answers, all else is one line.
pub fn of_arguments(error: &clap::Error, commands: &str) -> Result<String, Failure> {
    use clap::error::{ContextKind as Of, ErrorKind as Kind};
    let context = |kind| match error.get(kind) {
        Some(ContextValue::String(s)) => s.clone(),
        Some(ContextValue::Strings(s)) => s.join(", "),
        _ => String::new(),
    };
    let flag = context(Of::InvalidArg);
    let name = flag.split([' ', '=']).next().unwrap_or_default();
    let (value, prior) = (context(Of::InvalidValue), context(Of::PriorArg));
    Err(Failure::Input(match error.kind() {
        Kind::DisplayHelp | Kind::DisplayVersion => return Ok(error.to_string()),
        Kind::MissingSubcommand | Kind::DisplayHelpOnMissingArgumentOrSubcommand => {
            format!("no command given; say one of {commands} (pointage --help tells more)")
        }
        Kind::InvalidSubcommand => {
            let given = context(Of::InvalidSubcommand);
            // The likest comes last.
            let near = match context(Of::SuggestedSubcommand).rsplit(", ").next() {
                None | Some("") => String::new(),
                Some(near) => format!("did you mean {near:?}? "),
            };
            format!("unknown command {given:?}; {near}known: {commands}")
        }
        Kind::UnknownArgument if flag.starts_with('-') => match context(Of::SuggestedArg) {
            near if near.is_empty() => {
                format!("unknown flag {flag}; --help lists the flags of a command")
            }
            near => format!("unknown flag {flag}; did you mean {near}?"),
        },
        Kind::UnknownArgument => format!(
            "{flag:?} belongs to no flag; write the flag before its value, and quote a value with blanks"
        ),
        Kind::MissingRequiredArgument => format!("missing: {flag}; --help shows an example"),
        Kind::ArgumentConflict if prior.is_empty() || prior == flag => {
            format!("{name} is given twice; leave one of them out")
        }
        Kind::ArgumentConflict => {
            format!("{flag} and {prior} exclude each other; leave one of them out")
        }
        Kind::InvalidValue if value.is_empty() => {
            format!("{name}: the value is missing; write one after it")
        }
        Kind::ValueValidation => {
            let source = error.source();
            let unread = |what, example| pointage::Error::text(what, &value, example).to_string();
            let why = match source {
                Some(e) if e.is::<ParseFloatError>() => {
                    unread("number", "a plain number such as 2.2")
                }
                Some(e) if e.is::<ParseIntError>() => unread("number", "a whole number such as 24"),
                source => source.map(ToString::to_string).unwrap_or_default(),
            };
            format!("{name}: {why}")
        }
        Kind::InvalidUtf8 => "an argument is not UTF-8 text; write it anew".to_owned(),
        // Kinds that these commands do not cause: the parser's own first line.
        _ => error.to_string().lines().take(1).collect(),
    }))
}
