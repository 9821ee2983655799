//! The `pointage` program: words to questions, answers to words.

mod cli;

fn main() -> std::process::ExitCode {
    cli::run(std::env::args_os())
}
