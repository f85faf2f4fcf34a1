//! `verify`: the files compared with a manifest: what changed, what vanished, what was added.

use super::audit::confine_to;
use super::exit::{Failure, Outcome, tell};
use super::{bar, interrupt};
use crate::card::{self, Below, NotBelow};
use crate::frames;
use crate::outputs::deliver;
use crate::outputs::deliver::manifest::{self, Entry, bagit_path};
use crate::store::{
    self,
    list::{self, NAME as LIST},
};
use crate::units::{refusal, shown, shown_path};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    /// The manifest: lines of SHA-256 and path, as lapseproof, sha256sum and BagIt write them
    #[arg(value_name = "MANIFEST")]
    manifest: PathBuf,
    /// The folder that its paths are below; without it, the manifest's own
    #[arg(value_name = "FRAMES")]
    frames: Option<PathBuf>,
    /// Files hashed at a time; without it, one a processor
    #[arg(short, long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    jobs: Option<u16>,
    /// Print the result alone
    #[arg(short, long)]
    quiet: bool,
}

/// What became of the files of a manifest. Paths as the manifest writes them.
#[derive(Debug, Default)]
struct Held {
    same: u64,
    changed: Vec<Vec<u8>>,
    vanished: Vec<Vec<u8>>,
    /// Files that were not followed to where they lead, and the part of the path that is a link.
    linked: Vec<(Vec<u8>, PathBuf)>,
    added: Vec<Vec<u8>>,
    /// Files that are there under another path, and that path.
    renamed: Vec<(Vec<u8>, Vec<u8>)>,
    unread: Vec<(Vec<u8>, String)>,
    /// What lies beside the manifest under the names of its own delivery, and is of another run.
    others: Vec<String>,
}

/// Largest manifest that is read, bytes: some millions of files.
const LARGEST: u64 = 1 << 28;

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let path = &arguments.manifest;
    let told = shown_path(path);
    let unreadable =
        |what: &dyn std::fmt::Display| Failure::new(format!("{told}: {what}. Name the manifest file"));
    if path.is_dir() {
        return Err(a_folder(path, arguments.frames.as_deref()));
    }
    let bytes = card::contents(path, LARGEST, true).map_err(|e| unreadable(&refusal(&e)))?;
    let (entries, bad) = manifest::read(&bytes);
    if entries.is_empty() {
        return Err(unreadable(&"no line of it holds a SHA-256 and a path"));
    }
    let own = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let folder = arguments.frames.as_deref().unwrap_or(own);
    let below = Below::open(folder).map_err(|e| {
        let folder = shown_path(folder);
        let why = match e.kind() {
            io::ErrorKind::NotADirectory => "it is no folder".to_owned(),
            _ => refusal(&e),
        };
        Failure::new(format!("{folder}: {why}. Name the folder that the frames lie in"))
    })?;
    if store::is_changing(own) {
        return Err(Failure::new(format!(
            "a run puts its files in place beside {told}, or was ended over it. Run the audit again: it puts \
             back the earlier files before it begins"
        )));
    }
    let others = delivered_with(path, own, &bytes);
    let bag = own.join("bagit.txt").is_file();
    confine_to(None, arguments.quiet, false);
    let mut held = hold(arguments, &below, folder, &entries, bag);
    held.others = others;
    if held.vanished.len() == entries.len() {
        let folder = shown_path(folder);
        return Err(Failure::new(format!(
            "none of the {} files of {told} lies below {folder}. Name the folder that holds them: lapseproof \
             verify MANIFEST FRAMES",
            entries.len()
        )));
    }
    tell(&report(&held, entries.len(), &bad, arguments.quiet))?;
    Ok(if !held.unread.is_empty() || !bad.is_empty() {
        Outcome::Failed
    } else if held.same == entries.len() as u64 && held.added.is_empty() && held.others.is_empty() {
        Outcome::Quiet
    } else {
        Outcome::Found
    })
}

/// What to type where a folder stands in the manifest's place.
fn a_folder(folder: &Path, other: Option<&Path>) -> Failure {
    let own = folder.join(manifest::NAME);
    let by_manifest = match own.is_file() {
        true => format!("lapseproof verify {}", shown_path(&own)),
        false => format!("lapseproof verify MANIFEST {}", shown_path(folder)),
    };
    Failure::new(format!(
        "{} is a folder, and no manifest. To check its files by a manifest: {by_manifest}. To compare it \
         with another folder: lapseproof compare {} {}",
        shown_path(folder),
        shown_path(folder),
        other.map_or_else(|| "COPY".to_owned(), shown_path)
    ))
}

/// Which files beside the manifest, itself included, are not those that its run delivered, as far as the
/// run's list lies with them.
fn delivered_with(path: &Path, own: &Path, bytes: &[u8]) -> Vec<String> {
    let Some(name) = path.file_name().and_then(|n| n.to_str()) else { return Vec::new() };
    let read = |path: &Path| card::contents(path, LARGEST, false).ok();
    // The list of several cameras' deliveries lies above their folders.
    let folder = own.canonicalize().ok().and_then(|p| Some(p.file_name()?.to_str()?.to_owned()));
    let places = [(own.to_owned(), String::new()), (own.join(".."), folder.unwrap_or_default() + "/")];
    for (place, prefix) in places {
        let Some(list) = read(&place.join(LIST)).map(|bytes| list::read(&bytes)) else { continue };
        let path = format!("{prefix}{name}");
        let known = if list.now.contains_key(&path) { &list.now } else { &list.earlier };
        if name == LIST || !known.contains_key(&path) {
            continue;
        }
        let of_list = |beside: &&&str| {
            let Some(sum) = known.get(&format!("{prefix}{beside}")) else { return false };
            let there = if **beside == name { Some(bytes.to_vec()) } else { read(&own.join(beside)) };
            there.is_some_and(|bytes| <[u8; 32]>::from(Sha256::digest(bytes)) != *sum)
        };
        return deliver::NAMES.iter().filter(of_list).map(|n| (*n).to_owned()).collect();
    }
    Vec::new()
}

fn hold(arguments: &Arguments, folder: &Below, place: &Path, entries: &[Entry], bag: bool) -> Held {
    let mut held = Held::default();
    let (mut named, mut listed, mut bytes) = (BTreeSet::new(), Vec::new(), 0_u64);
    for entry in entries {
        let (path, found) = found(folder, &entry.path, bag);
        named.insert(card::path_key(&path));
        match found {
            Ok(length) => {
                bytes = bytes.saturating_add(length);
                listed.push((entry, path));
            }
            Err(why) => held.not_read(entry, why),
        }
    }
    let stop = interrupt::stop_flag();
    let bar = bar::bytes("hashing", bytes, arguments.quiet);
    let jobs = arguments.jobs.map(usize::from);
    // Why a file was not opened: the hashing knows errors of the system alone.
    let links = Mutex::new(BTreeMap::new());
    let open = |(_, path): &(&Entry, PathBuf)| match folder.file(path) {
        Ok((file, _)) => Ok(file),
        Err(NotBelow::System(e)) => Err(e),
        Err(NotBelow::Outside) => Err(io::ErrorKind::NotFound.into()),
        Err(NotBelow::Link(link)) => {
            links.lock().unwrap_or_else(PoisonError::into_inner).insert(path.clone(), link);
            Err(io::Error::other("it became a link"))
        }
    };
    let digests = frames::digests(&listed, &open, jobs, &|more| bar.inc(more), &stop);
    bar.finish_and_clear();
    let mut links = links.into_inner().unwrap_or_else(PoisonError::into_inner);
    for ((entry, path), digest) in listed.into_iter().zip(digests) {
        match digest {
            Ok(digest) if digest.sha256 == entry.sha256 => held.same += 1,
            Ok(_) => held.changed.push(entry.path.clone()),
            Err(e) => {
                held.not_read(entry, links.remove(&path).map_or(NotBelow::System(e), NotBelow::Link));
            }
        }
    }
    held.added = present(place, bag, &stop).into_iter().filter(|path| !named.contains(path)).collect();
    if !held.vanished.is_empty() && !held.added.is_empty() {
        held.find_renamed(folder, entries, jobs, &stop);
    }
    held
}

impl Held {
    /// Takes a file that vanished and one that was added and holds its bytes for one file with another name.
    fn find_renamed(&mut self, folder: &Below, entries: &[Entry], jobs: Option<usize>, stop: &AtomicBool) {
        let open = |path: &Vec<u8>| {
            let below = manifest::below(path).ok_or(io::ErrorKind::NotFound)?;
            folder.file(&below).map(|(file, _)| file).map_err(|_| io::ErrorKind::NotFound.into())
        };
        let digests = frames::digests(&self.added, &open, jobs, &|_| {}, stop);
        let mut by_digest: BTreeMap<[u8; 32], Vec<Vec<u8>>> = BTreeMap::new();
        for (path, digest) in self.added.iter().zip(digests).rev() {
            if let Ok(digest) = digest {
                by_digest.entry(digest.sha256).or_default().push(path.clone());
            }
        }
        let sums: BTreeMap<&[u8], [u8; 32]> = entries.iter().map(|e| (e.path.as_slice(), e.sha256)).collect();
        let renamed = &mut self.renamed;
        self.vanished.retain(|path| {
            let sum = sums.get(path.as_slice());
            let now = sum.and_then(|sum| by_digest.get_mut(sum)).and_then(Vec::pop);
            now.map(|now| renamed.push((path.clone(), now))).is_none()
        });
        let names: BTreeSet<&Vec<u8>> = renamed.iter().map(|(_, now)| now).collect();
        self.added.retain(|path| !names.contains(path));
    }

    fn not_read(&mut self, entry: &Entry, why: NotBelow) {
        let path = entry.path.clone();
        match why {
            missing if missing.is_missing() => self.vanished.push(path),
            NotBelow::Link(link) => self.linked.push((path, link)),
            NotBelow::Outside => {
                self.unread.push((path, "it leads out of the folder and was not opened".into()));
            }
            NotBelow::System(e) => self.unread.push((path, refusal(&e))),
        }
    }
}

/// A file of the manifest, as it is written or as a bag would write it: its path below the folder, and its
/// length in bytes.
fn found(folder: &Below, path: &[u8], bag: bool) -> (PathBuf, Result<u64, NotBelow>) {
    let look = |path: &[u8]| match manifest::below(path) {
        Some(path) => {
            let length = folder.file(&path).map(|(_, length)| length);
            (path, length)
        }
        None => (PathBuf::new(), Err(NotBelow::Outside)),
    };
    let missing = |found: &Result<u64, NotBelow>| found.as_ref().is_err_and(NotBelow::is_missing);
    let plain = look(path);
    // A bag writes some signs otherwise; the plain reading goes first.
    let other = bagit_path(path).filter(|_| bag || missing(&plain.1)).map(|path| look(&path));
    other.filter(|other| !missing(&other.1)).unwrap_or(plain)
}

/// The frames below a folder, companions included; in a bag every file of its payload, since a bag's manifest
/// is complete.
fn present(folder: &Path, bag: bool, stop: &AtomicBool) -> BTreeSet<Vec<u8>> {
    if bag && folder.join("data").is_dir() {
        let files = walkdir::WalkDir::new(folder.join("data")).sort_by_file_name().into_iter().flatten();
        let files = files.take_while(|_| !stop.load(Ordering::Relaxed)).filter(|e| e.file_type().is_file());
        return files.filter_map(|e| Some(card::path_key(e.path().strip_prefix(folder).ok()?))).collect();
    }
    let card = card::walk_until(&[folder.to_path_buf()], stop);
    let files = card.shots.iter().flat_map(|s| [&s.file].into_iter().chain(&s.companions));
    let folders = &card.folders;
    files
        .filter_map(|f| Some(card::path_key(&folders.get(f.folder as usize)?.path.join(Path::new(&*f.name)))))
        .collect()
}

fn report(held: &Held, all: usize, bad: &[usize], quiet: bool) -> String {
    let mut out = String::new();
    let mut parts = Vec::new();
    let unread = held.unread.len() + bad.len();
    for (many, what) in [
        (held.changed.len(), "changed"),
        (held.vanished.len(), "vanished"),
        (held.renamed.len(), "renamed"),
        (held.linked.len(), "replaced by a link"),
        (held.added.len(), "added"),
        (held.others.len(), "beside the manifest of another run"),
        (unread, "not verified"),
    ] {
        if many > 0 {
            parts.push(format!("{many} {what}"));
        }
    }
    // Writing to a string cannot fail.
    let _ = if parts.is_empty() {
        writeln!(out, "SAME: all {all} files are as the manifest says, and no frame was added.")
    } else {
        writeln!(out, "DIFFERENT: {}; {} of {all} are as the manifest says.", parts.join(", "), held.same)
    };
    if quiet {
        return out;
    }
    let path = |p: &[u8]| shown(&String::from_utf8_lossy(p));
    for (word, paths) in [("changed", &held.changed), ("vanished", &held.vanished), ("added", &held.added)] {
        for p in paths {
            let _ = writeln!(out, "  {word:<13} {}", path(p));
        }
    }
    for (was, now) in &held.renamed {
        let _ = writeln!(out, "  {:<13} {}, now {}", "renamed", path(was), path(now));
    }
    for name in &held.others {
        let _ = writeln!(
            out,
            "  {:<13} {}: it is not the one that was delivered with it",
            "another run",
            shown(name)
        );
    }
    for (p, link) in &held.linked {
        let link = shown_path(link);
        let _ = writeln!(out, "  {:<13} {}: {link} is a link and was not followed", "a link", path(p));
    }
    for (p, why) in &held.unread {
        let _ = writeln!(out, "  {:<13} {}: {}", "not verified", path(p), shown(why));
    }
    for line in bad {
        let _ =
            writeln!(out, "  {:<13} line {line} of the manifest holds no SHA-256 and path", "not verified");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_move_no_cursor() {
        let held = Held { changed: vec![b"a\x1b[2J.JPG".to_vec()], ..Held::default() };
        let told = report(&held, 1, &[], false);
        assert!(
            told.starts_with("DIFFERENT: 1 changed; 0 of 1") && told.contains("a\\u{1B}[2J.JPG"),
            "{told}"
        );
        assert_eq!(report(&held, 1, &[], true).lines().count(), 1);
    }
}
