//! `verify`: the files held against a manifest: what changed, what vanished, what was added.

use super::audit::confine_to;
use super::deliver::path_bytes;
use super::exit::{Failure, Outcome, tell};
use super::{interrupt, progress};
use crate::card;
use crate::frames;
use crate::outputs::deliver::manifest::{self, Entry, bagit_path, stays_below};
use crate::units::shown;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::io;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The manifest: lines of SHA-256 and path, as lapseproof, sha256sum and BagIt write them
    #[arg(value_name = "MANIFEST")]
    manifest: PathBuf,
    /// The folder that its paths are below; the manifest's own where nothing is said
    #[arg(value_name = "FRAMES")]
    frames: Option<PathBuf>,
    /// Files hashed at a time; one a processor where nothing is said
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
    added: Vec<Vec<u8>>,
    unread: Vec<(Vec<u8>, String)>,
}

/// Largest manifest that is read, bytes: some millions of files.
const LARGEST: u64 = 1 << 30;

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let path = &arguments.manifest;
    let told = shown(&path.display().to_string());
    let unreadable =
        |what: &dyn std::fmt::Display| Failure::new(format!("{told}: {what}. Name the manifest file"));
    let size = std::fs::metadata(path).map_err(|e| unreadable(&e))?.len();
    if size > LARGEST {
        return Err(unreadable(&"it is too large for a manifest"));
    }
    let bytes = std::fs::read(path).map_err(|e| unreadable(&e))?;
    let (entries, bad) = manifest::read(&bytes);
    if entries.is_empty() {
        return Err(unreadable(&"no line of it holds a SHA-256 and a path"));
    }
    let own = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let folder = arguments.frames.as_deref().unwrap_or(own);
    if !folder.is_dir() {
        let folder = shown(&folder.display().to_string());
        return Err(Failure::new(format!("{folder} is no folder. Name the folder that the frames lie in")));
    }
    let bag = own.join("bagit.txt").is_file();
    confine_to(None, arguments.quiet, false);
    let held = hold(arguments, folder, &entries, bag);
    if held.vanished.len() == entries.len() {
        let folder = shown(&folder.display().to_string());
        return Err(Failure::new(format!(
            "none of the {} files of {told} lies below {folder}. Name the folder that holds them: lapseproof verify MANIFEST FRAMES",
            entries.len()
        )));
    }
    tell(&report(&held, entries.len(), &bad, arguments.quiet))?;
    Ok(if !held.unread.is_empty() || !bad.is_empty() {
        Outcome::Failed
    } else if held.changed.is_empty() && held.vanished.is_empty() && held.added.is_empty() {
        Outcome::Quiet
    } else {
        Outcome::Found
    })
}

fn hold(arguments: &Arguments, folder: &Path, entries: &[Entry], bag: bool) -> Held {
    let mut held = Held::default();
    let (mut named, mut listed, mut bytes) = (BTreeSet::new(), Vec::new(), 0_u64);
    for entry in entries {
        if !stays_below(&entry.path) {
            held.unread.push((entry.path.clone(), "it leads out of the folder and was not opened".into()));
            continue;
        }
        // A bag writes some signs otherwise; the plain reading goes first.
        let plain = full(folder, &entry.path);
        let other = bagit_path(&entry.path).filter(|_| bag || plain.as_ref().is_none_or(|p| !p.exists()));
        let (path, full) = match other.and_then(|p| Some((full(folder, &p)?, p))).filter(|(f, _)| f.exists())
        {
            Some((full, path)) => (path, Some(full)),
            None => (entry.path.clone(), plain),
        };
        named.insert(path);
        match full.map(|f| (f.symlink_metadata(), f)) {
            Some((Ok(meta), full)) => {
                bytes = bytes.saturating_add(meta.len());
                listed.push((entry, full));
            }
            Some((Err(e), _)) if e.kind() != io::ErrorKind::NotFound => {
                held.unread.push((entry.path.clone(), e.to_string()))
            }
            _ => held.vanished.push(entry.path.clone()),
        }
    }
    let stop = interrupt::stop_flag();
    let bar = progress::bytes(bytes, arguments.quiet);
    let paths: Vec<PathBuf> = listed.iter().map(|l| l.1.clone()).collect();
    let jobs = arguments.jobs.map(usize::from);
    let digests = frames::digests(&paths, jobs, &|more| bar.inc(more), &stop);
    bar.finish_and_clear();
    for ((entry, _), digest) in listed.into_iter().zip(digests) {
        match digest {
            Ok(digest) if digest.sha256 == entry.sha256 => held.same += 1,
            Ok(_) => held.changed.push(entry.path.clone()),
            Err(e) if e.kind() == io::ErrorKind::NotFound => held.vanished.push(entry.path.clone()),
            Err(e) => held.unread.push((entry.path.clone(), e.to_string())),
        }
    }
    held.added = present(folder, bag).into_iter().filter(|path| !named.contains(path)).collect();
    held
}

/// The frames below a folder, companions included; in a bag every file of its payload, since a bag's manifest is complete.
fn present(folder: &Path, bag: bool) -> BTreeSet<Vec<u8>> {
    if bag && folder.join("data").is_dir() {
        let files = walkdir::WalkDir::new(folder.join("data")).sort_by_file_name().into_iter().flatten();
        let files = files.filter(|e| e.file_type().is_file());
        return files.filter_map(|e| Some(path_bytes(e.path().strip_prefix(folder).ok()?))).collect();
    }
    let card = card::walk(&[folder.to_path_buf()]);
    let files = card.shots.iter().flat_map(|s| [&s.file].into_iter().chain(&s.companions));
    let folders = &card.folders;
    files
        .filter_map(|f| Some(path_bytes(&folders.get(f.folder as usize)?.path.join(Path::new(&*f.name)))))
        .collect()
}

/// Where a path of the manifest lies; `None` where this system cannot have such a name.
fn full(folder: &Path, path: &[u8]) -> Option<PathBuf> {
    #[cfg(unix)]
    let below = {
        use std::os::unix::ffi::OsStrExt as _;
        Some(Path::new(std::ffi::OsStr::from_bytes(path)))
    };
    #[cfg(not(unix))]
    let below = std::str::from_utf8(path).ok().map(Path::new);
    below.map(|p| folder.join(p))
}

fn report(held: &Held, all: usize, bad: &[usize], quiet: bool) -> String {
    let mut out = String::new();
    let mut parts = Vec::new();
    let unread = held.unread.len() + bad.len();
    for (many, what) in [
        (held.changed.len(), "changed"),
        (held.vanished.len(), "vanished"),
        (held.added.len(), "added"),
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
