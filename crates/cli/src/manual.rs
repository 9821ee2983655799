//! Completions and the manual page, both made from the definitions of the flags.

use super::Cli;
use super::exit::Failure;
use clap::CommandFactory;
use clap_complete::Shell;

/// Print the completions of a shell
///
/// Save what it prints where the shell looks for completions.
#[derive(clap::Args)]
#[command(after_help = "Example:
  pointage completions bash > ~/.pointage-completion.bash")]
pub struct Completions {
    /// bash, elvish, fish, powershell or zsh
    shell: Shell,
}

impl Completions {
    pub fn run(&self) -> String {
        let mut script = Vec::new();
        clap_complete::generate(self.shell, &mut Cli::command(), "pointage", &mut script);
        String::from_utf8_lossy(&script).into_owned()
    }
}

/// Print the manual page, of the program or of one of its commands
#[derive(clap::Args)]
#[command(after_help = "Example:
  pointage man > pointage.1")]
pub struct Man {
    /// A command, such as plan
    command: Option<String>,
}

impl Man {
    pub fn run(&self) -> Result<String, Failure> {
        let mut program = Cli::command();
        program.build();
        let page = match &self.command {
            None => program,
            Some(name) => {
                let command = program.find_subcommand(name).cloned();
                let why = format!("unknown command {name:?}; pointage --help lists them");
                command.ok_or(Failure::Input(why))?
            }
        };
        let mut text = Vec::new();
        let rendered = clap_mangen::Man::new(page).render(&mut text);
        rendered.map_err(|e| Failure::File(format!("the page cannot be written: {e}")))?;
        Ok(String::from_utf8_lossy(&text).into_owned())
    }
}
