//! Arguments in, exit code out: one file a command.
//!
//! Results go to stdout, progress and warnings to stderr. Nothing here decides what a frame means.
//!
//! README.md beside this file tells how it works.

mod audit;
mod bar;
mod cards;
mod compare;
pub mod confine;
mod deliver;
mod exit;
mod explain;
mod interrupt;
mod open;
mod pictures;
mod plan;
mod plan_flags;
mod plan_source;
mod progress;
mod record;
#[cfg(feature = "rehearse")]
mod rehearse;
mod survey;
mod verify;

use clap::{CommandFactory as _, Parser, Subcommand};
use exit::{Failure, Outcome, note};
use std::ffi::OsString;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;

/// Compares a card of time-lapse frames with the plan, and says what is missing, what wandered and what is
/// good.
#[derive(Debug, Parser)]
#[command(name = "lapseproof", version, about, max_term_width = 100, arg_required_else_help = true)]
#[command(after_help = "On set:   lapseproof audit /media/card/DCIM --interval 12s --frames 601\nA card of \
                        several shoots:   lapseproof survey /media/card\nBefore a card is wiped:   \
                        lapseproof compare /media/card /media/backup\n\nFrames are only ever opened for \
                        reading. Ctrl-C stops the reading, and what was read is reported; later it ends the \
                        run.\n\nExit codes: 0 nothing at or above --fail-on; 1 something is; 2 the work \
                        could not be done, or not completely.")]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Audit a folder, a card or a list of frames
    Audit(Box<audit::Arguments>),
    /// Find every sequence under a folder, one line each
    Survey(survey::Arguments),
    /// Look at a run that still goes on: is it on course, when does it end, what runs out first?
    Progress(Box<progress::Arguments>),
    /// Work out a shoot from what is known, and write its plan
    Plan(Box<plan::Arguments>),
    /// Write a synthetic sequence with known faults
    #[cfg(feature = "rehearse")]
    Rehearse(rehearse::Arguments),
    /// Explain the checks, or one of them
    Explain(explain::Arguments),
    /// Compare files with a manifest: what changed, vanished or was added
    Verify(verify::Arguments),
    /// Say whether every file of a card is in each of its copies, before it is wiped
    Compare(compare::Arguments),
}

/// Runs the command line of this process and returns the exit code.
pub fn run() -> ExitCode {
    run_with(std::env::args_os()).code()
}

/// Runs a command line; the first argument is the program's name. No panic leaves this function.
fn run_with(args: impl IntoIterator<Item = OsString>) -> Outcome {
    exit::quiet_panics();
    match catch_unwind(AssertUnwindSafe(|| dispatch(args))) {
        Ok(Ok(outcome)) => outcome,
        Ok(Err(failure)) => {
            note(&format!("error: {failure}"));
            Outcome::Failed
        }
        Err(_) => {
            let what = exit::last_panic();
            note(&format!(
                "error: the program failed inside ({what}). The frames were only read. Please report it."
            ));
            Outcome::Failed
        }
    }
}

fn dispatch(args: impl IntoIterator<Item = OsString>) -> Result<Outcome, Failure> {
    let args: Vec<OsString> = args.into_iter().collect();
    let cards = if args.len() == 1 { cards::mounted() } else { Vec::new() };
    if !cards.is_empty() {
        let again = |line: &[OsString]| run_with(args.iter().chain(line).cloned());
        let told = cards::tell_each(&cards, again);
        cards::keep_window();
        return Ok(told);
    }
    let is_command = |word: &str| Arguments::command().find_subcommand(word).is_some() || word == "help";
    if let Some(line) = cards::dropped(&args, is_command) {
        let told = run_with(line);
        cards::keep_window();
        return Ok(told);
    }
    let arguments = match Arguments::try_parse_from(&args) {
        Ok(arguments) => arguments,
        Err(told) => {
            // A reader that has gone away does not change what was asked.
            let _ = told.print();
            return Ok(if told.use_stderr() { Outcome::Failed } else { Outcome::Quiet });
        }
    };
    match arguments.command {
        Command::Audit(arguments) => audit::run(*arguments),
        Command::Survey(arguments) => survey::run(arguments),
        Command::Progress(arguments) => progress::run(*arguments),
        Command::Plan(arguments) => plan::run(&arguments),
        #[cfg(feature = "rehearse")]
        Command::Rehearse(arguments) => rehearse::run(&arguments),
        Command::Explain(arguments) => explain::run(&arguments),
        Command::Verify(arguments) => verify::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_arguments_are_well_formed() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn a_panic_becomes_a_failure() {
        let hook = std::panic::take_hook();
        exit::quiet_panics();
        let outcome = catch_unwind(|| panic!("on purpose"));
        std::panic::set_hook(hook);
        assert!(outcome.is_err());
        assert!(exit::last_panic().contains("on purpose"));
    }
}
