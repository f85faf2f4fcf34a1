//! `rehearse`: a synthetic sequence with known faults.

use super::exit::{Failure, Outcome, tell};
use super::{bar, interrupt, plan_source};
use crate::card;
use crate::plan;
use crate::rehearse::{FAULTS, Fault, Options, RehearseError, script, write_until};
use crate::store::write_beside;
use crate::units::{counted, shown_path};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
#[command(after_help = faults())]
pub(crate) struct Arguments {
    /// The plan to shoot
    #[arg(value_name = "PLAN")]
    plan: PathBuf,
    /// Folder that takes the frames and truth.json
    #[arg(long, value_name = "DIR")]
    into: PathBuf,
    /// A fault to put in (may be repeated; the forms are listed below)
    #[arg(long, value_name = "FAULT", value_parser = Fault::parse)]
    with: Vec<Fault>,
    /// Where chance begins: the same seed gives the same sequence
    #[arg(long, value_name = "N", default_value_t = Options::default().seed)]
    seed: u64,
    /// Decimals of the second in the stamps
    #[arg(long, value_name = "0..3", default_value_t = Options::default().stamp_digits)]
    digits: u8,
    /// The four characters before the file number
    #[arg(long, value_name = "NAME", default_value_t = Options::default().prefix)]
    prefix: String,
}

/// The forms of faults, for the help.
fn faults() -> String {
    let wide = FAULTS.iter().map(|f| f.form.len()).max().unwrap_or(0);
    let lines: Vec<_> = FAULTS.iter().map(|f| format!("  {:<wide$}  {}", f.form, f.meaning)).collect();
    format!("Faults:\n{}", lines.join("\n"))
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let mut plan = plan_source::read(&arguments.plan)?;
    plan_source::refuse_or_warn(&plan)?;
    plan::derive(&mut plan);
    let options = Options {
        seed: arguments.seed,
        stamp_digits: arguments.digits,
        prefix: arguments.prefix.clone(),
        ..Options::default()
    };
    let failed = |e: RehearseError| Failure::new(e.to_string());
    let script = script(&plan, &arguments.with, &options).map_err(failed)?;
    let on_card = script.shots.iter().filter(|shot| shot.on_card()).count();
    let (bar, stop) = (bar::drawn(on_card as u64), interrupt::stop_flag());
    let written = write_until(&script, &plan, &options, &arguments.into, &|more| bar.inc(more), &stop);
    bar.finish_and_clear();
    let truth = written.map_err(failed)?;
    keep_plan(arguments)?;
    let into = shown_path(&arguments.into);
    let (files, faults) = (counted(truth.files, "file"), counted(truth.faults.len() as u64, "fault"));
    tell(&format!("{files}, plan.toml and truth.json in {into}, with {faults}.\n"))?;
    Ok(Outcome::Quiet)
}

/// Lays the plan beside the frames, so that an audit finds it.
fn keep_plan(arguments: &Arguments) -> Result<(), Failure> {
    let kept = arguments.into.join("plan.toml");
    let same = |a: &std::path::Path, b: &std::path::Path| {
        a.canonicalize().ok().zip(b.canonicalize().ok()).is_some_and(|(a, b)| a == b)
    };
    if same(&arguments.plan, &kept) {
        return Ok(());
    }
    let bytes = card::contents(&arguments.plan, plan::LARGEST as u64, true);
    bytes.and_then(|bytes| write_beside(&kept, &bytes, true)).map_err(|e| {
        let kept = shown_path(&kept);
        Failure::new(format!(
            "{kept} cannot be written: {e}. The frames are there; lay the plan beside them by hand."
        ))
    })
}
