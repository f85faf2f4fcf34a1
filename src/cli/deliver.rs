//! `audit --deliver`: hashes every file that was audited, and writes what the client keeps.

use super::exit::{Failure, note};
use super::progress;
use crate::audit::{Audit, AuditSet};
use crate::card::{self, Card};
use crate::frames::{self, Digest};
use crate::outputs::deliver::manifest::Entry;
use crate::outputs::deliver::{self, Sums};
use crate::outputs::place::Place;
use crate::units::shown;
use std::io;
use std::path::{Component, Path, PathBuf};
use std::sync::atomic::AtomicBool;

/// Hashes and writes what the client keeps of every camera: in the place itself for one, in a folder a camera for several. True where
/// every file could be read.
///
/// # Errors
/// As for [`run`].
pub fn run_each(
    set: &AuditSet,
    place: &Place,
    jobs: Option<usize>,
    quiet: bool,
    stop: &AtomicBool,
) -> Result<bool, Failure> {
    if let Some(audit) = set.single() {
        return run(audit, place, jobs, quiet, stop);
    }
    let mut whole = true;
    for own in &set.cameras {
        let inside = format!("camera-{}", own.letter.to_lowercase());
        let place = place.inside(&inside).map_err(|e| Failure::new(e.to_string()))?;
        if !quiet {
            note(&format!("Camera {}, in {inside}:", own.letter));
        }
        whole &= run(&own.audit, &place, jobs, quiet, stop)?;
    }
    Ok(whole)
}

/// Hashes and writes. True where every file could be read.
///
/// # Errors
/// Where the files have no folder in common, or an output cannot be written.
pub fn run(
    audit: &Audit,
    place: &Place,
    jobs: Option<usize>,
    quiet: bool,
    stop: &AtomicBool,
) -> Result<bool, Failure> {
    let card = &audit.evidence.frames.card;
    let base = base(card)?;
    let files = files(card, &base);
    let bytes = card.shots.iter().flat_map(|s| s.companions.iter().chain([&s.file])).map(|f| f.bytes).sum();
    let bar = progress::bytes(bytes, quiet);
    let paths: Vec<PathBuf> = files.iter().map(|f| f.1.clone()).collect();
    let open = |path: &PathBuf| Ok(card::open(path)?.0);
    let digests = frames::digests(&paths, &open, jobs, &|more| bar.inc(more), stop);
    bar.finish_and_clear();
    let sums = gathered(files, digests, quiet);
    let written = deliver::write_all(audit, &sums, place).map_err(|e| Failure::new(e.to_string()))?;
    if !quiet {
        let names: Vec<_> =
            written.iter().filter_map(|p| p.file_name()).map(|n| n.to_string_lossy().into_owned()).collect();
        note(&format!("For the client: {}.", names.join(", ")));
        let (base, list) = (shown(&base.display().to_string()), "manifest-sha256.txt");
        note(&format!(
            "The paths in {list} are below {base}: put it there, or name that folder to lapseproof verify."
        ));
    }
    Ok(sums.unread == 0)
}

/// The folder that all paths of the manifest are below: FRAMES itself, or what several of them share.
fn base(card: &Card) -> Result<PathBuf, Failure> {
    let mut roots = card.roots.iter().map(|r| r.canonicalize().unwrap_or_else(|_| r.clone()));
    let first = roots.next().unwrap_or_default();
    let base = roots.fold(first, |base, root| {
        let shared = base.components().zip(root.components()).take_while(|(a, b)| a == b);
        shared.map(|(a, _)| a).collect()
    });
    if base.as_os_str().is_empty() {
        return Err(Failure::new(
            "the folders share no folder above them, so one manifest cannot name their files. Audit them one by one",
        ));
    }
    Ok(base)
}

/// Every file of the card: its path as the manifest writes it, and where it lies; in order of path, none twice.
fn files(card: &Card, base: &Path) -> Vec<(Vec<u8>, PathBuf)> {
    let roots: Vec<PathBuf> =
        card.roots.iter().map(|r| r.canonicalize().unwrap_or_else(|_| r.clone())).collect();
    let mut all = Vec::new();
    for file in card.shots.iter().flat_map(|s| [&s.file].into_iter().chain(&s.companions)) {
        let folder = card.folders.get(file.folder as usize);
        let Some((folder, root)) = folder.and_then(|f| Some((f, roots.get(usize::from(f.root))?))) else {
            continue;
        };
        let path = root.join(&folder.path).join(Path::new(&*file.name));
        let below = path.strip_prefix(base).unwrap_or(&path);
        all.push((path_bytes(below), path));
    }
    all.sort();
    all.dedup();
    all
}

/// A path with `/` between its parts, in the bytes that the file system has.
pub fn path_bytes(path: &Path) -> Vec<u8> {
    let mut bytes = Vec::new();
    for part in path.components() {
        if let Component::Normal(part) = part {
            if !bytes.is_empty() {
                bytes.push(b'/');
            }
            bytes.extend_from_slice(part.as_encoded_bytes());
        }
    }
    bytes
}

fn gathered(files: Vec<(Vec<u8>, PathBuf)>, digests: Vec<io::Result<Digest>>, quiet: bool) -> Sums {
    let mut sums = Sums::default();
    for ((path, full), digest) in files.into_iter().zip(digests) {
        match digest {
            Ok(digest) => {
                sums.bytes = sums.bytes.saturating_add(digest.bytes);
                sums.entries.push(Entry { path, sha256: digest.sha256 });
            }
            Err(what) => {
                if !quiet && sums.unread < 10 {
                    let full = shown(&full.display().to_string());
                    note(&format!("warning: {full} could not be read for the manifest: {what}."));
                }
                sums.unread += 1;
            }
        }
    }
    if sums.unread > 0 {
        note(&format!("warning: the manifest lacks {} files that could not be read.", sums.unread));
    }
    sums
}
