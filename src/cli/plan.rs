//! `plan`: from what is known before a shoot to a whole plan.

use super::exit::{Failure, Outcome, note, tell, tell_with};
use super::plan_flags::PlanFlags;
use super::plan_source;
use crate::outputs::shoot::{json, refused, text, toml};
use crate::plan::shoot::Neighbour;
use crate::plan::shoot::{Known, Shoot, State, beside, solve};
use crate::plan::{self, Plan, Weight, forms};
use crate::store::write_beside;
use crate::units::{shown, shown_path};
use clap::ValueEnum;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Say two of these three: frames (or clip, or travel and step), time, interval. The rest is \
                  worked out.\nExample: lapseproof plan --event 2h --length \
                  20s --fps 25 --shutter 8s --travel 900mm --speed 20mm/s --settle 0.5s\nExit codes: 0 the \
                  plan works; 1 it does not (with --fail-on caution: or is tight); 2 it cannot be worked out."
)]
pub(crate) struct Arguments {
    /// A plan file to begin with; flags win over it
    #[arg(value_name = "PLAN.toml")]
    from: Option<PathBuf>,
    /// Length of the event that the run has to cover: "2 h"
    #[arg(long, value_name = "TIME", value_parser = forms::span)]
    event: Option<f64>,
    /// Write the plan to this file
    #[arg(long, value_name = "FILE")]
    write: Option<PathBuf>,
    /// Replace a file that is there
    #[arg(long, requires = "write")]
    overwrite: bool,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// The same as --format json
    #[arg(long, conflicts_with = "format")]
    json: bool,
    /// When the exit code is 1
    #[arg(long, value_enum, default_value_t = FailOn::Fault)]
    fail_on: FailOn,
    #[command(flatten)]
    flags: PlanFlags,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// The page
    Text,
    /// The plan, what limits it and the nearest plans
    Json,
    /// The plan file
    Toml,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum FailOn {
    /// Where the plan does not work
    Fault,
    /// Where it does not work or is tight
    Caution,
    /// Never
    Never,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let known = known(arguments)?;
    let shoot = solve(&known).map_err(|why| Failure::new(refused(&why)))?;
    agree_with_itself(&shoot.plan)?;
    let others = beside(&known, &shoot);
    let format = if arguments.json { Format::Json } else { arguments.format };
    match format {
        Format::Text => tell(&text::page(&shoot, &others, true))?,
        Format::Json => tell_with(|out| json::write(&shoot, &others, out))?,
        Format::Toml => tell(&toml::file(&shoot))?,
    }
    if let Some(path) = &arguments.write {
        write(&shoot, &others, path, arguments.overwrite)?;
    }
    Ok(match (arguments.fail_on, shoot.state()) {
        (FailOn::Never, _) | (_, State::Works) | (FailOn::Fault, State::Tight) => Outcome::Quiet,
        _ => Outcome::Found,
    })
}

/// What is known: the file, with the flags over it.
fn known(arguments: &Arguments) -> Result<Known, Failure> {
    let flags = arguments.flags.plan();
    let plan = match &arguments.from {
        Some(path) => plan_source::read(path)?.overlaid(flags),
        None => flags,
    };
    Ok(Known { plan, event_s: arguments.event })
}

/// What cannot mean anything ends the run; what is odd is told.
fn agree_with_itself(plan: &Plan) -> Result<(), Failure> {
    let told = plan::contradictions(plan);
    let refused: Vec<_> =
        told.iter().filter(|c| c.weight == Weight::Refuse).map(|c| shown(&c.words)).collect();
    if refused.is_empty() { Ok(()) } else { Err(Failure::new(refused.join("\n"))) }
}

/// Writes the plan file beside its final name first; what is there stays unless it is to be overwritten.
fn write(shoot: &Shoot, others: &[Neighbour], path: &Path, overwrite: bool) -> Result<(), Failure> {
    let named = shown_path(path);
    if shoot.state() == State::Fails {
        let near = others.iter().find(|n| n.shoot.is_some());
        let hint = near.map_or_else(String::new, |n| format!(" Near it: {}", n.words));
        return Err(Failure::new(format!("{named} is not written: the plan does not work.{hint}")));
    }
    let failed = |e: &dyn std::fmt::Display| {
        Failure::new(format!("{named} cannot be written ({e}). Name another place with --write FILE"))
    };
    match write_beside(path, toml::file(shoot).as_bytes(), overwrite) {
        Ok(()) => {
            note(&format!("Written to {named}."));
            Ok(())
        }
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => Err(Failure::new(format!(
            "{named} is there already and is left as it is. Name another file, or say --overwrite"
        ))),
        Err(e) => Err(failed(&e)),
    }
}
