//! `audit --deliver`: hashes every file that was audited, and writes what the client keeps.

use super::bar;
use super::exit::{Failure, note};
use crate::audit::{Audit, AuditSet};
use crate::card::{self, Below, Card, NotBelow};
use crate::frames::{self, Digest};
use crate::outputs::deliver::manifest::{self, Entry};
use crate::outputs::deliver::{self, Sums};
use crate::outputs::html::Gallery;
use crate::outputs::place::{Place, PlaceError};
use crate::units::{refusal, shown_path};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

/// The folder of each camera's delivery below the place of the outputs; `None` for the place itself, where
/// there is one camera.
pub(crate) fn folders(set: &AuditSet) -> Vec<Option<String>> {
    match set.single() {
        Some(_) => vec![None],
        None => set.cameras.iter().map(|c| Some(format!("camera-{}", c.letter.to_lowercase()))).collect(),
    }
}

/// Hashes and writes what the client keeps of every camera: in the place itself for one, in a folder a camera
/// for several. `galleries` holds the pictures of each. All of it is put in place at once. True where every
/// file could be read.
///
/// # Errors
/// Where the files have no folder in common, an output cannot be written, or the hashing was stopped: what an
/// earlier run delivered then stays as it is.
pub(crate) fn run_each(
    set: &AuditSet,
    galleries: &[Gallery],
    place: &Place,
    jobs: Option<usize>,
    quiet: bool,
    stop: &AtomicBool,
) -> Result<bool, Failure> {
    let failed = |e: PlaceError| Failure::new(e.to_string());
    let (mut staged, mut whole) = (Vec::new(), true);
    for ((own, gallery), folder) in set.cameras.iter().zip(galleries).zip(folders(set)) {
        if let (Some(folder), false) = (&folder, quiet) {
            note(&format!("Camera {}, in {folder}:", own.letter));
        }
        let sums = summed(&own.audit, jobs, quiet, stop)?;
        whole &= sums.unread == 0;
        let inside = folder.map(|folder| place.inside(&folder));
        let inside = inside.as_ref().unwrap_or(place);
        staged.extend(deliver::stage_all(&own.audit, gallery, &sums, inside).map_err(failed)?);
    }
    let written = place.commit(staged).map_err(failed)?;
    if !quiet {
        note(&format!("For the client: {}.", written.join(", ")));
    }
    Ok(whole)
}

/// The checksums of every file of an audit.
fn summed(audit: &Audit, jobs: Option<usize>, quiet: bool, stop: &AtomicBool) -> Result<Sums, Failure> {
    let card = &audit.evidence.frames.card;
    let base = base(card)?;
    let files = files(card, &base);
    let bytes = card.shots.iter().flat_map(|s| s.companions.iter().chain([&s.file])).map(|f| f.bytes).sum();
    let bar = bar::bytes("hashing", bytes, quiet);
    let below = Below::open(&base).map_err(|e| {
        let base = shown_path(&base);
        Failure::new(format!("{base}: {}. Put the card back, and run the audit again", refusal(&e)))
    })?;
    // A link would stand for a file elsewhere: verify would not follow it.
    let open = |(_, path): &(Vec<u8>, PathBuf)| match below.file(path.strip_prefix(&base).unwrap_or(path)) {
        Ok((file, _)) => Ok(file),
        Err(NotBelow::System(e)) => Err(e),
        Err(NotBelow::Link(_)) => Err(io::Error::other("it is a link; name the file that it leads to")),
        Err(NotBelow::Outside) => Err(io::ErrorKind::NotFound.into()),
    };
    let digests = frames::digests(&files, &open, jobs, &|more| bar.inc(more), stop);
    bar.finish_and_clear();
    let stopped = |d: &io::Result<Digest>| d.as_ref().is_err_and(|e| e.kind() == io::ErrorKind::Interrupted);
    if digests.iter().any(stopped) {
        return Err(Failure::new(
            "stopped before every file was hashed: nothing was written for the client, and what an earlier \
             run delivered is as it was. Run the audit again with --deliver",
        ));
    }
    if digests.iter().all(Result::is_err) {
        return Err(Failure::new(
            "no file could be read for the manifest: nothing was written for the client. Look at the card, \
             and run the audit again",
        ));
    }
    let sums = gathered(files, digests, quiet);
    let odd = manifest::unlike_a_bag(&sums.entries);
    if odd > 0 && !quiet {
        note(&format!(
            "warning: the manifest cannot serve as that of a BagIt bag as it is: names with a line end, a \
             backslash, a percent sign or a blank at an end would be written otherwise there ({odd})."
        ));
    }
    if !quiet {
        let (base, list) = (shown_path(&base), "manifest-sha256.txt");
        note(&format!(
            "The paths in {list} are below {base}: put it there, or name that folder to lapseproof verify."
        ));
    }
    Ok(sums)
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
            "the folders share no folder above them, so one manifest cannot name their files. Audit them one \
             by one",
        ));
    }
    Ok(base)
}

/// Every file of the card: its path as the manifest writes it, and where it lies; in order of path, none
/// twice.
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
        all.push((card::path_key(below), path));
    }
    all.sort();
    all.dedup();
    all
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
                    let full = shown_path(&full);
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
