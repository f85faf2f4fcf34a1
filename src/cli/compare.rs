//! `compare`: is every file of a card in each of its copies? Asked before the card is wiped.

use super::audit::{Format, confine_in};
use super::exit::{Failure, Outcome, note, tell, tell_with};
use super::record::Record;
use super::{bar, interrupt};
use crate::compare::{self, Answer, Comparison, Known, Overlap, Reading, Tree, Work};
use crate::outputs::comparison;
use crate::units::{refusal, shown_path};
use std::io;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Files are compared by content, whatever their names and folders. They are read from their \
                  disks and not from memory; where the system does not show that, the answer says so. \
                  Nothing is written on the card or on a copy.\n\nExit codes: 0 every file is in each copy, \
                  read back from disk; 1 a file is absent or differs, or a copy is not finished; 2 something \
                  could not be read or proven, or the work was stopped."
)]
pub(crate) struct Arguments {
    /// The card, or the folder that was copied
    #[arg(value_name = "CARD")]
    card: PathBuf,
    /// A folder that holds a copy of it; or several, each with a copy of all of it
    #[arg(required = true, value_name = "COPY")]
    copies: Vec<PathBuf>,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Card and copies were unplugged and plugged in again since the copying, so memory holds nothing of them
    /// (where the system does not show whence it reads)
    #[arg(long)]
    replugged: bool,
    /// Keep the record of what was read there, so that a run that is stopped goes on; without it, in the
    /// user's state folder
    #[arg(long, value_name = "FILE")]
    state: Option<PathBuf>,
    /// Files read at a time on each disk; without it, two
    #[arg(short, long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    jobs: Option<u16>,
    /// Print the answer alone
    #[arg(short, long, conflicts_with = "verbose")]
    quiet: bool,
    /// Print every file that is not simply there, and those that only a copy has
    #[arg(short, long)]
    verbose: bool,
}

/// How long nobody is told that a disk is waited for.
const PATIENCE: Duration = Duration::from_secs(2);

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let stop = interrupt::stop_flag();
    let trees = listed(arguments, &stop)?;
    if stop.load(Ordering::Relaxed) {
        return Err(stopped_early());
    }
    if let Some(overlap) = compare::overlap(&trees) {
        return Err(refused(&trees, overlap));
    }
    settle(arguments, &stop)?;
    let record = Record::open(arguments.state.as_deref(), &trees, arguments.quiet)?;
    let (record, text) = record.map_or((None, String::new()), |(record, text)| (Some(record), text));
    let known = Known::from_text(&text, arguments.replugged);
    confine_in(record.as_ref().map(Record::place), arguments.quiet, arguments.verbose);
    let told = read(arguments, trees, &known, record.as_ref(), &stop);
    if let Some(record) = record {
        // Once all was read there is nothing to go on with, and the next run reads everything again.
        record.close(!told.stopped && told.unread() == 0, arguments.quiet);
    }
    report(arguments, &told)?;
    Ok(outcome(&told, arguments.replugged))
}

fn listed(arguments: &Arguments, stop: &AtomicBool) -> Result<Vec<Tree>, Failure> {
    let list = |root: &PathBuf| {
        compare::list(root, stop).map_err(|e| {
            let why = match e.kind() {
                io::ErrorKind::NotADirectory => "it is no folder".to_owned(),
                _ => refusal(&e),
            };
            Failure::new(format!(
                "{}: {why}. Name the card and the folders that hold its copies: lapseproof compare CARD COPY",
                shown_path(root)
            ))
        })
    };
    std::iter::once(&arguments.card).chain(&arguments.copies).map(list).collect()
}

/// Why two of the folders are no card and copy.
fn refused(trees: &[Tree], overlap: Overlap) -> Failure {
    let name = |at: usize| trees.get(at).map(|t| shown_path(&t.root)).unwrap_or_default();
    let why = match overlap {
        Overlap::Same(a, b) if name(a) == name(b) => format!("{} is named twice", name(a)),
        Overlap::Same(a, b) => format!("{} and {} are one folder", name(a), name(b)),
        Overlap::Inside(a, b) => format!("{} lies inside {}", name(a), name(b)),
        Overlap::Shared(a, b) => {
            format!("{} and {} show a folder that is the same in both", name(a), name(b))
        }
    };
    Failure::new(format!(
        "{why}: its files are no copy, they go when the others go. Name a folder that lies apart"
    ))
}

/// Has the system write what it still holds of the copies, so that it can be read back.
fn settle(arguments: &Arguments, stop: &AtomicBool) -> Result<(), Failure> {
    let copies = arguments.copies.clone();
    let (done, waiting) = mpsc::channel::<()>();
    let quiet = arguments.quiet;
    let told = thread::Builder::new().spawn(move || {
        if waiting.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) && !quiet {
            note("Waiting until the system has written what it still holds of the copies.");
        }
    });
    let settled = interrupt::unless_stopped(stop, move || {
        copies.into_iter().try_for_each(|c| compare::settle(&c).map_err(|e| (c, e)))
    });
    drop(done);
    if let Ok(told) = told {
        let _ = told.join();
    }
    match settled {
        Some(Ok(())) => Ok(()),
        Some(Err((copy, e))) => Err(Failure::new(format!(
            "{}: the system cannot write what was copied there ({}). Do not wipe the card. Copy to another \
             disk",
            shown_path(&copy),
            refusal(&e)
        ))),
        None => Err(stopped_early()),
    }
}

fn stopped_early() -> Failure {
    Failure::new("stopped before anything was compared. Keep the card")
}

fn read(
    arguments: &Arguments,
    trees: Vec<Tree>,
    known: &Known,
    record: Option<&Record>,
    stop: &AtomicBool,
) -> Comparison {
    let work = Work::of(trees);
    let bar = bar::bytes("reading back", work.bytes(), arguments.quiet);
    let keep = |line: &str| {
        if let Some(record) = record {
            record.keep(line);
        }
    };
    let how = Reading {
        jobs: arguments.jobs.map(usize::from),
        replugged: arguments.replugged,
        open: &compare::from_disk,
        keep: &keep,
        progress: &|more| bar.inc(more),
        stop,
    };
    let told = work.carry_out(known, &how);
    bar.finish_and_clear();
    if !arguments.quiet && stop.load(Ordering::Relaxed) {
        note("Stopped: what was compared by then is told.");
    }
    told
}

fn report(arguments: &Arguments, told: &Comparison) -> Result<(), Failure> {
    let replugged = arguments.replugged;
    match arguments.format {
        Format::Json => tell_with(|out| comparison::write(told, replugged, out)),
        Format::Text if arguments.quiet => tell(&comparison::first_line(told, replugged)),
        Format::Text => tell(&comparison::told(told, replugged, arguments.verbose, true)),
    }
}

fn outcome(told: &Comparison, replugged: bool) -> Outcome {
    match told.answer(replugged) {
        Answer::EveryFile => Outcome::Quiet,
        Answer::NotInEach if !told.stopped && told.unread() == 0 => Outcome::Found,
        _ => Outcome::Failed,
    }
}
