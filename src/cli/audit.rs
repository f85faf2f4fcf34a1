//! `audit`: the frames in, the verdict out.

use super::exit::{Failure, Outcome, note, tell, tell_with};
use super::open::Opener;
use super::plan_flags::PlanFlags;
use super::{bar, confine, deliver, interrupt, pictures, plan_source};
use crate::audit::{self, Audit, AuditSet, Setting};
use crate::card::{self, Card};
use crate::checks::files::file_order::right_order;
use crate::finding::Answer;
use crate::frames::Pictures;
use crate::frames::{self, Asked};
use crate::outputs::place::Place;
use crate::outputs::{self, json, text};
use crate::store::{Disk, list::NAME as LIST};
use crate::units::{counted, counted_as, refusal, shown, shown_path};
use crate::verdict::Call;
use clap::ValueEnum;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    /// A folder of frames (searched below), a card, several of these, or files
    #[arg(required = true, value_name = "FRAMES")]
    paths: Vec<PathBuf>,
    /// The plan of the shoot; without it, a plan.toml in FRAMES or beside a folder called frames
    #[arg(short, long, value_name = "PLAN.toml")]
    plan: Option<PathBuf>,
    /// Folder for the report; without it, reports/NAME below the current folder
    #[arg(short, long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// How far the pictures themselves are read
    #[arg(long, value_enum, default_value_t = Read::Thumb)]
    pictures: Read,
    /// Follow how the picture moves from frame to frame: a carriage that stands or slips, knocks, a sinking
    /// head (takes its time)
    #[arg(long)]
    movement: bool,
    /// When the exit code is 1
    #[arg(long, value_enum, default_value_t = FailOn::Fault)]
    fail_on: FailOn,
    /// Frames read at a time; without it, as many as suit the machine
    #[arg(short, long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    jobs: Option<u16>,
    /// Write what the client keeps, too: a page, the frames to patch, and checksums of every file
    #[arg(long)]
    deliver: bool,
    /// Show the report in the browser
    #[arg(long)]
    open: bool,
    /// Print the call alone
    #[arg(short, long, conflicts_with = "verbose")]
    quiet: bool,
    /// Print everything: all findings, progress, and the order of capture where the names do not sort in it
    #[arg(short, long)]
    verbose: bool,
    #[command(flatten)]
    flags: PlanFlags,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For people
    Text,
    /// The whole record, for scripts
    Json,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Read {
    /// Timing and settings only
    None,
    /// The thumbnail or preview of each, else the picture at a reduced size
    Thumb,
    /// Every picture whole; those that do not decode are reported as damaged
    Full,
}

impl Read {
    pub(crate) fn asked(self) -> Pictures {
        match self {
            Self::None => Pictures::None,
            Self::Thumb => Pictures::Thumb,
            Self::Full => Pictures::Full,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum FailOn {
    /// On a hold
    Fault,
    /// On a hold or a look
    Caution,
    /// Never
    Never,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Result<Outcome, Failure> {
    let roots = &arguments.paths;
    all_there(roots, "Name the folder that holds the frames, or the files")?;
    let source = plan_source::plan_for(arguments.plan.as_deref(), roots, &arguments.flags, arguments.quiet)?;
    let folder = folder_name(roots);
    let out = arguments.out.clone().unwrap_or_else(|| Path::new("reports").join(safe(&folder)));
    let place = Place::open(&out, roots).map_err(|e| Failure::new(e.to_string()))?;
    let names =
        [&outputs::NAMES[..], if arguments.deliver { &outputs::deliver::NAMES } else { &[] }].concat();
    if let Err(e) = place.is_free_for(&names) {
        place.abandon();
        return Err(Failure::new(e.to_string()));
    }

    let stop = interrupt::stop_flag();
    let card = card::walk_until(roots, &stop);
    if card.shots.is_empty() {
        place.abandon();
        return Err(no_frames(&card, roots));
    }
    if arguments.verbose {
        tell_card(&card);
    }
    let bar = bar::frames(card.shots.len() as u64, arguments.quiet);
    let pictures = arguments.pictures.asked();
    let jobs = arguments.jobs.map(usize::from);
    let opener = Opener::ready(arguments.open);
    confine_to(Some(&place), arguments.quiet, arguments.verbose);
    let asked = Asked { pictures, follow: arguments.movement };
    let frames = frames::read_until(card, jobs, asked, &|more| bar.inc(more), &stop);
    bar.finish_and_clear();
    if arguments.verbose {
        note(&frames.cost.words());
    }
    if !arguments.quiet && stop.load(Ordering::Relaxed) {
        note("Stopped: what was read by then is audited.");
    }

    let setting = Setting { name: folder, plan: source.plan, plan_source: source.words, pictures };
    let Some(set) = interrupt::unless_stopped(&stop, move || audit::carry_out_each(setting, frames)) else {
        place.abandon();
        return Err(Failure::new(
            "stopped before the call was reached: nothing was written, and an earlier report is as it was",
        ));
    };
    let galleries: Vec<_> = set.cameras.iter().map(|c| pictures::gathered(&c.audit, jobs, &stop)).collect();
    let written = outputs::write_set(&set, &galleries, &place);
    // Whatever became of the files, what was found is told.
    report(&arguments, &set)?;
    let written = written.map_err(|e| Failure::new(e.to_string()))?;
    if arguments.verbose {
        set.cameras.iter().for_each(|camera| tell_order(&camera.audit));
    }
    if !arguments.quiet {
        note(&format!("Written to {}: {}.", shown_path(place.told()), written.join(", ")));
    }
    let delivered = match arguments.deliver {
        true => deliver::run_each(&set, &galleries, &place, jobs, arguments.quiet, &stop),
        false => Ok(true),
    };
    tell_earlier(&place);
    if let Some(opener) = opener {
        opener.open(place.told().join(outputs::PAGE));
    }
    Ok(if delivered? { outcome_of_set(&set, arguments.fail_on) } else { Outcome::Failed })
}

/// Most names that are told in one line.
const TOLD: usize = 8;

/// What stands beside the outputs and is no part of them, so that nobody hands it on with them.
pub(crate) fn tell_earlier(place: &Place) {
    let earlier = place.earlier();
    let Some(names) = earlier.get(..TOLD.min(earlier.len())).filter(|names| !names.is_empty()) else {
        return;
    };
    let more = match earlier.len() - names.len() {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    note(&format!(
        "warning: of an earlier run, and no part of this one: {}{more}. {LIST} says which files belong \
         together.",
        shown(&names.join(", "))
    ));
}

/// Whatever was named has to be there before anything begins.
pub(crate) fn all_there(roots: &[PathBuf], remedy: &str) -> Result<(), Failure> {
    for root in roots {
        if let Err(e) = std::fs::metadata(root) {
            let root = shown_path(root);
            return Err(Failure::new(format!("{root}: {}. {remedy}", refusal(&e))));
        }
    }
    Ok(())
}

/// Gives up the right to write anywhere but in the place of the outputs, before the first frame is read.
pub(crate) fn confine_to(place: Option<&Place>, quiet: bool, verbose: bool) {
    confine_in(place.map(|p| (p.handle(), p.told())), quiet, verbose);
}

/// The same for an open folder, and the path by which it is told of.
pub(crate) fn confine_in(place: Option<(&Disk, &Path)>, quiet: bool, verbose: bool) {
    let places: Vec<&Disk> = place.map(|p| p.0).into_iter().collect();
    let confined = confine::to_writing_in(&places);
    match confined.warning() {
        Some(words) if !quiet => note(&format!("warning: {words}")),
        None if verbose && confined == confine::Confined::Wholly => {
            let dir = place.map(|p| shown_path(p.1));
            let dir = dir.map_or_else(|| "nowhere".to_owned(), |dir| format!("in {dir} alone"));
            note(&format!("From here on this process can write {dir}; the kernel holds it to that."));
        }
        _ => {}
    }
}

/// Prints what was asked for.
fn report(arguments: &Arguments, set: &AuditSet) -> Result<(), Failure> {
    match arguments.format {
        Format::Json => tell_with(|out| json::write_set(set, out))?,
        Format::Text if arguments.quiet => tell(&format!("{}\n", text::call_line_of_set(set)))?,
        Format::Text if arguments.verbose => tell(&text::in_full_of_set(set, true))?,
        Format::Text => tell(&text::brief_of_set(set, true, text::columns()))?,
    }
    if !set.complete() {
        let places = counted(set.trouble.len() as u64, "place");
        note(&format!("warning: the audit is incomplete: {places} could not be read."));
        if arguments.quiet || arguments.format == Format::Json {
            for t in &set.trouble {
                note(&format!("  {}: {}", shown(&t.path), shown(&t.what)));
            }
        }
    }
    Ok(())
}

/// The order of capture, where the names do not sort in it.
fn tell_order(audit: &Audit) {
    let order = right_order(&audit.evidence);
    if !order.is_empty() {
        note("Order of capture, by pieces in which the names are continuous:");
    }
    for piece in order {
        note(&format!("  {piece}"));
    }
}

/// The exit code's meaning: what was left undone goes before what was found.
pub(crate) fn outcome(audit: &Audit, fail_on: FailOn) -> Outcome {
    let broke = audit.judgements.iter().any(|j| matches!(j.answer, Answer::Broke(_)));
    if broke || !audit.complete() { Outcome::Failed } else { of_call(audit.verdict.call, fail_on) }
}

/// The same for all cameras: the worst of theirs, and of what they say together.
fn outcome_of_set(set: &AuditSet, fail_on: FailOn) -> Outcome {
    let all = set.cameras.iter().map(|c| outcome(&c.audit, fail_on));
    let above = if set.complete() { of_call(set.call(), fail_on) } else { Outcome::Failed };
    all.fold(above, Outcome::or)
}

fn of_call(call: Call, fail_on: FailOn) -> Outcome {
    match (fail_on, call) {
        (FailOn::Never, _) | (_, Call::Clear) | (FailOn::Fault, Call::Look) => Outcome::Quiet,
        (FailOn::Fault | FailOn::Caution, Call::Hold) | (FailOn::Caution, Call::Look) => Outcome::Found,
    }
}

/// The name that a folder of frames goes by: its own, but for those that every shoot shares.
pub(crate) fn folder_name(roots: &[PathBuf]) -> String {
    let Some(root) = roots.first() else { return "sequence".into() };
    let real = root.canonicalize().unwrap_or_else(|_| root.clone());
    let folder = if real.is_dir() { real.as_path() } else { real.parent().unwrap_or(&real) };
    let names: Vec<_> = folder
        .ancestors()
        .filter_map(Path::file_name)
        .map(|n| n.to_string_lossy().into_owned())
        .take(2)
        .collect();
    let shared = |name: &String| name == "frames" || name.eq_ignore_ascii_case("DCIM");
    let own = names.iter().find(|n| !shared(n)).or(names.first());
    own.cloned().unwrap_or_else(|| "sequence".into())
}

/// `name` as a folder can be called on any file system.
pub(crate) fn safe(name: &str) -> String {
    let plain = |c: char| if c.is_alphanumeric() || matches!(c, '-' | '_' | '.' | ' ') { c } else { '-' };
    let name: String = name.chars().take(80).map(plain).collect();
    let name = name.trim_matches(['.', ' ']);
    if name.is_empty() { "sequence".into() } else { name.to_owned() }
}

pub(crate) fn no_frames(card: &Card, roots: &[PathBuf]) -> Failure {
    let plan = |path: &&PathBuf| path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"));
    if let Some(path) = roots.iter().find(plan) {
        let path = shown_path(path);
        return Failure::new(format!(
            "{path} is no frame. A plan is named with --plan, beside the folder of the frames"
        ));
    }
    let roots: Vec<_> = card.roots.iter().map(|r| shown_path(r)).collect();
    let passed: u64 = card.passed_over.iter().map(|p| p.1).fold(0, u64::saturating_add);
    let mut words = format!("no frame was found under {}", roots.join(", "));
    if passed > 0 {
        let files = counted_as(passed, "file is there that is", "files are there that are");
        words.push_str(&format!(" ({files} no picture)"));
    }
    for t in card.trouble.iter().take(10) {
        words.push_str(&format!("\n  {}: {}", shown(&t.path), shown(&t.what)));
    }
    words.push_str(". Name the folder that holds the frames, or the card's DCIM");
    Failure::new(words)
}

pub(crate) fn tell_card(card: &Card) {
    let (frames, folders) = (card.shots.len() as u64, card.folders.len() as u64);
    note(&format!("{} in {}.", counted(frames, "frame"), counted(folders, "folder")));
    for (why, files) in &card.passed_over {
        note(&format!("Skipped: {files} {}.", text::passed_over_words(*why)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_made_safe() {
        assert_eq!(safe("Harbour basin: tide/2"), "Harbour basin- tide-2");
        assert_eq!(safe(".."), "sequence");
        assert_eq!(safe(""), "sequence");
        assert_eq!(safe("..hidden"), "hidden");
        assert_eq!(safe("Übersee"), "Übersee");
        assert_eq!(safe(&"x".repeat(500)).len(), 80);
    }

    #[test]
    fn exit_codes_are_those_of_the_contract() {
        let mut audit = outputs::sample::audit();
        let all =
            |audit: &Audit| [FailOn::Fault, FailOn::Caution, FailOn::Never].map(|on| outcome(audit, on));
        assert_eq!(all(&audit), [Outcome::Found, Outcome::Found, Outcome::Quiet]);
        audit.verdict.call = Call::Look;
        assert_eq!(all(&audit), [Outcome::Quiet, Outcome::Found, Outcome::Quiet]);
        audit.verdict.call = Call::Clear;
        assert_eq!(all(&audit), [Outcome::Quiet; 3]);
        let trouble = crate::frames::Trouble { path: "A.JPG".into(), what: "permission denied".into() };
        audit.evidence.frames.trouble.push(trouble);
        assert_eq!(all(&audit), [Outcome::Failed; 3], "a file left unread, whatever was found");
        audit.evidence.frames.trouble.clear();
        audit.judgements[0].answer = Answer::Broke("on purpose".into());
        assert_eq!(all(&audit), [Outcome::Failed; 3], "a check that broke left its work undone");
    }

    #[test]
    fn a_folder_that_every_shoot_has_gives_no_name() {
        let dir = tempfile::tempdir().unwrap();
        let frames = dir.path().join("weir").join("frames");
        std::fs::create_dir_all(&frames).unwrap();
        std::fs::write(frames.join("A.JPG"), b"x").unwrap();
        assert_eq!(folder_name(std::slice::from_ref(&frames)), "weir");
        assert_eq!(folder_name(&[frames.join("A.JPG")]), "weir");
        assert_eq!(folder_name(&[dir.path().join("weir")]), "weir");
    }
}
