//! `survey`: every sequence under a folder, a line each.

use super::audit::{
    FailOn, Format, Read, all_there, confine_to, no_frames, outcome, safe, tell_card, tell_earlier,
};
use super::exit::{Failure, Outcome, note, tell, tell_with};
use super::{bar, interrupt, pictures, plan_source};
use crate::audit::Audit;
use crate::card::{self, Card};
use crate::frames::{self, Frames, Trouble};
use crate::outputs::html::Glimpse;
use crate::outputs::place::{Place, PlaceError};
use crate::outputs::{self, index};
use crate::store::Staged;
use crate::survey::{self, FoundPlan, Part, SequenceLine, Survey};
use crate::units::{counted, shown, shown_path};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Sequences are told apart by camera, folder, gap, change of interval and picture size. A \
                  plan.toml that lies with frames is the plan of what lies below it. Without --out nothing \
                  is written."
)]
pub(crate) struct Arguments {
    /// A card, a disk or a folder of shoots, searched below; or several of these
    #[arg(required = true, value_name = "ROOT")]
    paths: Vec<PathBuf>,
    /// Write an audit of each sequence there, and an index of them
    #[arg(short, long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// How far the pictures themselves are read
    #[arg(long, value_enum, default_value_t = Read::None)]
    pictures: Read,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// When, in any sequence, the exit code is 1
    #[arg(long, value_enum, default_value_t = FailOn::Fault)]
    fail_on: FailOn,
    /// Frames read at a time; without it, as many as suit the machine
    #[arg(short, long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    jobs: Option<u16>,
    /// Print the result alone
    #[arg(short, long, conflicts_with = "verbose")]
    quiet: bool,
    /// Print progress
    #[arg(short, long)]
    verbose: bool,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Result<Outcome, Failure> {
    all_there(&arguments.paths, "Name a card, a disk or a folder of shoots")?;
    let place = place_of(&arguments)?;
    let stop = interrupt::stop_flag();
    let mut round = match surveyed(&arguments, place.as_ref(), &stop) {
        Ok(round) => round,
        Err(failure) => {
            if let Some(place) = place {
                place.abandon();
            }
            return Err(failure);
        }
    };
    let written = round.write();
    report(&arguments, &round.survey)?;
    written.map_err(|e| Failure::new(e.to_string()))?;
    tell_written(&arguments, &round.survey, place.as_ref());
    Ok(round.worst)
}

/// Where the reports go, free for the index; `None` where nothing is to be written.
fn place_of(arguments: &Arguments) -> Result<Option<Place>, Failure> {
    let Some(out) = &arguments.out else { return Ok(None) };
    let place = Place::open(out, &arguments.paths).map_err(|e| Failure::new(e.to_string()))?;
    place.is_free_for(&index::NAMES).map_err(|e| Failure::new(e.to_string()))?;
    Ok(Some(place))
}

/// Reads the frames, tells their sequences apart and audits each.
fn surveyed<'a>(
    arguments: &'a Arguments,
    place: Option<&'a Place>,
    stop: &'a AtomicBool,
) -> Result<Round<'a>, Failure> {
    let roots = &arguments.paths;
    let card = card::walk_until(roots, stop);
    if card.shots.is_empty() {
        return Err(no_frames(&card, roots));
    }
    if arguments.verbose {
        tell_card(&card);
    }
    let found = plans(&card, arguments.quiet);
    let frames = read(arguments, card, place, stop);
    let heard = stop.load(Ordering::Relaxed);
    if !arguments.quiet && heard {
        note("Stopped: what was read by then is surveyed.");
    }
    let mut survey = Survey {
        roots: frames.card.roots.iter().map(|r| own_name(r)).collect(),
        passed_over: frames.card.passed_over.clone(),
        trouble: [frames.trouble.as_slice(), &found.trouble].concat(),
        ..Survey::default()
    };
    let plans = Arc::new(found.plans);
    let under = (Arc::clone(&plans), found.of_folder);
    let apart = interrupt::unless_stopped(stop, move || survey::parts(frames, &under.0, &under.1));
    let Some((parts, loose)) = apart else {
        return Err(Failure::new(
            "stopped before the sequences were told apart: nothing was written, and an earlier survey is as \
             it was",
        ));
    };
    survey.loose = loose;
    let worst = if survey.complete() { Outcome::Quiet } else { Outcome::Failed };
    let (staged, glimpses, failed) = (Vec::new(), Vec::new(), None);
    let mut round = Round { arguments, place, stop, heard, plans, survey, staged, glimpses, failed, worst };
    round.audit_each(parts);
    Ok(round)
}

/// Reads the frames of a card, from where on nothing is written but in `place`.
fn read(arguments: &Arguments, card: Card, place: Option<&Place>, stop: &AtomicBool) -> Frames {
    let bar = bar::frames(card.shots.len() as u64, arguments.quiet);
    confine_to(place, arguments.quiet, arguments.verbose);
    let (jobs, pictures) = (arguments.jobs.map(usize::from), arguments.pictures.asked());
    let frames = frames::read_until(card, jobs, pictures, &|more| bar.inc(more), stop);
    bar.finish_and_clear();
    if arguments.verbose {
        note(&frames.cost.words());
    }
    frames
}

/// The audits of a survey, one sequence after the other.
struct Round<'a> {
    arguments: &'a Arguments,
    place: Option<&'a Place>,
    stop: &'a AtomicBool,
    /// True where the frames were read no farther than an interruption. It stops none of the audits.
    heard: bool,
    plans: Arc<Vec<FoundPlan>>,
    survey: Survey,
    /// The reports that are laid beside their names.
    staged: Vec<Staged>,
    /// What the index shows of each sequence that has a report.
    glimpses: Vec<Glimpse>,
    /// The first report that could not be.
    failed: Option<PlaceError>,
    worst: Outcome,
}

impl Round<'_> {
    fn audit_each(&mut self, parts: Vec<Part>) {
        let all = parts.len();
        let digits = all.to_string().len().max(2);
        for (n, part) in parts.into_iter().enumerate() {
            let (root, folder) = part.place();
            let name = title(&self.survey.roots, root, &folder);
            let report = format!("{:0digits$}-{}", n + 1, safe(&name));
            let Some(audit) = self.audit(part, name) else {
                let what = format!("stopped: {} of {all} sequences were not audited", all - n);
                self.survey.trouble.push(Trouble { path: ".".into(), what });
                self.worst = Outcome::Failed;
                break;
            };
            let mut sequence = SequenceLine::of(&audit);
            if let Some(place) = self.place {
                self.stage(&audit, &place.inside(&report));
                sequence.report = Some(report);
            }
            self.worst = self.worst.or(outcome(&audit, self.arguments.fail_on));
            self.survey.sequences.push(sequence);
        }
    }

    /// Audits one sequence; `None` where that was interrupted.
    fn audit(&self, part: Part, name: String) -> Option<Audit> {
        // An interruption between two sequences is one of the round; one of the reading was heard before it.
        if !self.heard && self.stop.load(Ordering::Relaxed) {
            return None;
        }
        let (plans, pictures) = (Arc::clone(&self.plans), self.arguments.pictures.asked());
        interrupt::unless_stopped(self.stop, move || survey::audit_of(part, &plans, name, pictures))
    }

    /// Lays the report of a sequence beside its names. Of one that cannot be written the sequence is told all
    /// the same.
    fn stage(&mut self, audit: &Audit, own: &Place) {
        let gallery = pictures::gathered(audit, self.arguments.jobs.map(usize::from), self.stop);
        self.glimpses.push(Glimpse::of(audit, &gallery));
        if self.failed.is_none() {
            match outputs::stage_all(audit, &gallery, own) {
                Ok(more) => self.staged.extend(more),
                Err(e) => self.failed = Some(e),
            }
        }
    }

    /// Writes the reports and the index, all at once.
    fn write(&mut self) -> Result<(), PlaceError> {
        let staged = std::mem::take(&mut self.staged);
        match (self.place, self.failed.take()) {
            (_, Some(e)) => Err(e),
            (Some(place), None) => index::write_all(&self.survey, &self.glimpses, staged, place).map(drop),
            (None, None) => Ok(()),
        }
    }
}

fn report(arguments: &Arguments, survey: &Survey) -> Result<(), Failure> {
    match arguments.format {
        Format::Json => tell_with(|out| index::write(survey, out))?,
        Format::Text => tell(&index::told(survey, true))?,
    }
    if !survey.complete() {
        let places = counted(survey.trouble.len() as u64, "place");
        note(&format!("warning: the survey is incomplete: {places} could not be read."));
    }
    Ok(())
}

fn tell_written(arguments: &Arguments, survey: &Survey, place: Option<&Place>) {
    if let Some(place) = place {
        tell_earlier(place);
    }
    match place {
        _ if arguments.quiet => {}
        Some(place) => note(&format!(
            "Written to {}: index.html, index.txt, index.csv, index.json, and a folder for each sequence.",
            shown_path(place.told())
        )),
        None if arguments.format == Format::Text && !survey.sequences.is_empty() => {
            note("--out DIR writes the audit of each, with the reasons for its call.");
        }
        None => {}
    }
}

/// The plans that lie with the frames.
#[derive(Default)]
struct Found {
    plans: Vec<FoundPlan>,
    /// For each folder of the card, the plan it lies under.
    of_folder: Vec<Option<usize>>,
    /// Plan files that were met, by their real path.
    files: BTreeMap<PathBuf, Option<usize>>,
    /// Plans that do not read: their frames are compared with their own cadence, and the survey is
    /// incomplete.
    trouble: Vec<Trouble>,
}

/// Looks for a plan in each folder and in those above it, up to its root; the nearest one counts.
fn plans(card: &Card, quiet: bool) -> Found {
    let mut found = Found::default();
    let mut known: BTreeMap<PathBuf, Option<usize>> = BTreeMap::new();
    for folder in &card.folders {
        let root = &card.roots[usize::from(folder.root)];
        let mut nearest = None;
        for below in folder.path.ancestors() {
            nearest = *known.entry(root.join(below)).or_insert_with_key(|dir| found.read_in(dir, quiet));
            if nearest.is_some() {
                break;
            }
        }
        found.of_folder.push(nearest);
    }
    found
}

impl Found {
    /// The plan of one folder, read; two folders may share one (a folder called `frames` and the one that
    /// holds it).
    fn read_in(&mut self, dir: &Path, quiet: bool) -> Option<usize> {
        let path = plan_source::found_with(&[dir.to_owned()]).ok().flatten()?;
        let real = path.canonicalize().unwrap_or_else(|_| path.clone());
        if let Some(met) = self.files.get(&real) {
            return *met;
        }
        let read = self.read_file(&path, quiet);
        self.files.insert(real, read);
        read
    }

    fn read_file(&mut self, path: &Path, quiet: bool) -> Option<usize> {
        let name = shown(&path.file_name().unwrap_or_default().to_string_lossy());
        match plan_source::read_found(path).and_then(plan_source::sound) {
            Ok(plan) => {
                let words = format!("compared with {name}, found with the frames");
                self.plans.push(FoundPlan { plan, words });
                Some(self.plans.len() - 1)
            }
            Err(failure) => {
                if !quiet {
                    note(&format!("warning: {failure}"));
                }
                let what = "the plan has mistakes; its frames are compared with their own interval".into();
                self.trouble.push(Trouble { path: shown_path(path), what });
                None
            }
        }
    }
}

/// The name of a folder that was asked for.
fn own_name(root: &Path) -> String {
    let real = root.canonicalize().unwrap_or_else(|_| root.to_owned());
    real.file_name().map_or_else(|| "/".into(), |n| n.to_string_lossy().into_owned())
}

/// What a sequence in that folder goes by: the nearest name that not every shoot has.
fn title(roots: &[String], root: u16, folder: &str) -> String {
    let shared = |name: &&str| !(*name == "frames" || name.eq_ignore_ascii_case("DCIM") || name.is_empty());
    let root = roots.get(usize::from(root)).map_or("sequence", String::as_str);
    folder.split('/').rev().find(shared).unwrap_or(root).to_owned()
}
