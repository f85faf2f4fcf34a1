//! The walk: folders in, candidates and what was passed over out. Nothing is opened but files whose names say nothing, and
//! those only for their first bytes.

use std::collections::{BTreeMap, HashMap};
use std::ffi::OsStr;
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

use walkdir::{DirEntry, WalkDir};

use super::{
    Card, CardFile, FileKind, Folder, PassedOver, SNIFF_BYTES, Trouble, folder_number, kind_by_extension,
    natural, open, pairing, pass_over, push_lossless, sniff,
};
use crate::units::{refusal as words, shown};

/// Finds the frames under `roots`: folders, searched below without following links, or files. What lies under two roots is
/// found once. Files are told by name here; [`FileKind`] is settled when the frames are read.
///
/// Never fails: what cannot be walked is in [`Card::trouble`].
pub fn walk(roots: &[PathBuf]) -> Card {
    walk_until(roots, &AtomicBool::new(false))
}

/// The same, until `stop` is raised: what had not been looked at by then is trouble.
pub fn walk_until(roots: &[PathBuf], stop: &AtomicBool) -> Card {
    let mut walk = Walk {
        stop,
        roots: Vec::new(),
        found: HashMap::new(),
        passed_over: BTreeMap::new(),
        trouble: Vec::new(),
    };
    for place in places(roots, &mut walk.trouble) {
        let Ok(root) = u16::try_from(walk.roots.len()) else {
            walk.trouble.push(Trouble {
                path: shown_path(&place.folder),
                what: "more than 65,536 places named".into(),
            });
            break;
        };
        match &place.only {
            None => walk.folder(root, &place.folder),
            Some(names) => {
                for name in names {
                    walk.named_file(root, &place.folder, name);
                }
            }
        }
        walk.roots.push(named(place.folder));
    }
    walk.finish()
}

/// The folder by a path that ends in its name, which `.` and `..` do not: what is told must not hang on where it is told from.
fn named(folder: PathBuf) -> PathBuf {
    match folder.file_name() {
        Some(_) => folder,
        None => fs::canonicalize(&folder).unwrap_or(folder),
    }
}

/// A folder to walk, or some files of a folder.
struct Place {
    folder: PathBuf,
    /// The files to take; all that lies below where `None`.
    only: Option<Vec<Box<OsStr>>>,
}

/// The roots in their order, files gathered under their folders, and no place twice.
fn places(roots: &[PathBuf], trouble: &mut Vec<Trouble>) -> Vec<Place> {
    let mut folders: Vec<(PathBuf, PathBuf)> = Vec::new();
    let mut files: Vec<(PathBuf, PathBuf)> = Vec::new();
    let mut order: Vec<(bool, usize)> = Vec::new();
    for root in roots {
        match fs::metadata(root) {
            Ok(meta) if meta.is_dir() => {
                let real = fs::canonicalize(root).unwrap_or_else(|_| root.clone());
                order.push((true, folders.len()));
                folders.push((root.clone(), real));
            }
            Ok(_) => {
                order.push((false, files.len()));
                files.push((root.clone(), parent_of(root)));
            }
            Err(e) => trouble.push(Trouble { path: shown_path(root), what: words(&e) }),
        }
    }
    let inside = |real: &Path, but: Option<usize>| {
        folders.iter().enumerate().any(|(i, (_, other))| {
            // Of two equal roots the first one stays.
            but != Some(i) && real.starts_with(other) && (but.is_none_or(|at| i < at) || real != other)
        })
    };
    let mut out: Vec<Place> = Vec::new();
    let mut by_folder: HashMap<PathBuf, (usize, PathBuf)> = HashMap::new();
    for (is_folder, at) in order {
        if is_folder {
            let (folder, real) = &folders[at];
            if !inside(real, Some(at)) {
                out.push(Place { folder: folder.clone(), only: None });
            }
            continue;
        }
        let (path, parent) = &files[at];
        let (slot, real) = by_folder.entry(parent.clone()).or_insert_with(|| {
            let real = fs::canonicalize(parent).unwrap_or_else(|_| parent.clone());
            (usize::MAX, real)
        });
        let Some(name) = path.file_name() else { continue };
        if inside(real, None) {
            continue;
        }
        if *slot == usize::MAX {
            *slot = out.len();
            out.push(Place { folder: parent.clone(), only: Some(Vec::new()) });
        }
        if let Some(Place { only: Some(names), .. }) = out.get_mut(*slot) {
            names.push(name.into());
        }
    }
    for place in &mut out {
        if let Some(names) = &mut place.only {
            names.sort();
            names.dedup();
        }
    }
    out
}

fn parent_of(file: &Path) -> PathBuf {
    match file.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

/// What has been found so far.
struct Walk<'a> {
    stop: &'a AtomicBool,
    roots: Vec<PathBuf>,
    /// Files by root and folder below it.
    found: HashMap<(u16, PathBuf), Vec<CardFile>>,
    passed_over: BTreeMap<PassedOver, u64>,
    trouble: Vec<Trouble>,
}

impl Walk<'_> {
    fn folder(&mut self, root: u16, folder: &Path) {
        let mut entries = WalkDir::new(folder).follow_links(false).sort_by_file_name().into_iter();
        while let Some(entry) = entries.next() {
            if self.stop.load(Ordering::Relaxed) {
                let path = entry.as_ref().map_or(folder, |e| e.path());
                let what = "the search was stopped here".into();
                return self.trouble.push(Trouble { path: shown_path(below(folder, path)), what });
            }
            match entry {
                Err(e) => {
                    let path = e.path().unwrap_or(folder);
                    let what = e.io_error().map_or_else(|| "a loop of links".to_owned(), words);
                    self.trouble.push(Trouble { path: shown_path(below(folder, path)), what });
                }
                Ok(entry) if entry.depth() == 0 => {}
                Ok(entry) if entry.file_type().is_dir() => {
                    let beside_dcim = entry.depth() == 1 && folder.join("DCIM").is_dir();
                    if let Some(why) = pass_over::folder(entry.file_name(), beside_dcim) {
                        self.pass_over(why, files_in(entry.path()));
                        entries.skip_current_dir();
                    }
                }
                Ok(entry) => self.entry(root, folder, &entry),
            }
        }
    }

    fn entry(&mut self, root: u16, folder: &Path, entry: &DirEntry) {
        if !entry.file_type().is_file() {
            return self.pass_over(PassedOver::NotAFile, 1);
        }
        let parent = entry.path().parent().map_or(Path::new(""), |p| below(folder, p));
        self.file(root, parent, entry.path(), || entry.metadata().map_or(0, |m| m.len()));
    }

    /// A file that was named by itself: a link is followed here, because somebody pointed at it.
    fn named_file(&mut self, root: u16, folder: &Path, name: &OsStr) {
        let path = folder.join(name);
        match fs::metadata(&path) {
            Ok(meta) if meta.is_file() => self.file(root, Path::new(""), &path, || meta.len()),
            Ok(_) => self.pass_over(PassedOver::NotAFile, 1),
            Err(e) => self.trouble.push(Trouble { path: shown_path(Path::new(name)), what: words(&e) }),
        }
    }

    fn file(&mut self, root: u16, parent: &Path, path: &Path, bytes: impl FnOnce() -> u64) {
        let Some(name) = path.file_name() else { return };
        if name == OsStr::new("plan.toml") {
            return;
        }
        if let Some(why) = pass_over::file(name) {
            return self.pass_over(why, 1);
        }
        let promised = Path::new(name).extension().and_then(OsStr::to_str).and_then(kind_by_extension);
        let kind = match promised {
            Some(kind) => kind,
            None => match first_bytes(path) {
                Ok(head) => sniff(&head),
                Err(e) => {
                    let path = shown_path(&parent.join(name));
                    return self.trouble.push(Trouble { path, what: words(&e) });
                }
            },
        };
        if promised.is_none() && kind == FileKind::Unknown {
            return self.pass_over(PassedOver::NotAPicture, 1);
        }
        let file = CardFile { folder: 0, name: name.into(), bytes: bytes(), kind };
        match self.found.get_mut(&(root, parent.to_path_buf())) {
            Some(files) => files.push(file),
            None => {
                self.found.insert((root, parent.to_path_buf()), vec![file]);
            }
        }
    }

    fn pass_over(&mut self, why: PassedOver, count: u64) {
        *self.passed_over.entry(why).or_default() += count;
    }

    fn finish(self) -> Card {
        let mut found: Vec<_> = self.found.into_iter().collect();
        found.sort_by(|((a_root, a), _), ((b_root, b), _)| {
            a_root.cmp(b_root).then_with(|| natural::folders(a, b))
        });
        let mut folders = Vec::with_capacity(found.len());
        let mut shots = Vec::new();
        for (at, ((root, path), mut files)) in found.into_iter().enumerate() {
            for file in &mut files {
                file.folder = u32::try_from(at).unwrap_or(u32::MAX);
            }
            // A folder of a card that was named by itself keeps its number.
            let name = path.file_name().or_else(|| self.roots.get(usize::from(root))?.file_name());
            let number = name.and_then(folder_number);
            folders.push(Folder { root, path, number });
            shots.append(&mut pairing::pair(files));
        }
        let passed_over = self.passed_over.into_iter().filter(|(_, count)| *count > 0).collect();
        Card { roots: self.roots, folders, shots, passed_over, trouble: self.trouble }
    }
}

/// How many files a folder holds that is passed over whole. What cannot be walked in it is no trouble.
fn files_in(folder: &Path) -> u64 {
    WalkDir::new(folder).into_iter().flatten().filter(|e| !e.file_type().is_dir()).count() as u64
}

fn first_bytes(path: &Path) -> io::Result<Vec<u8>> {
    let mut head = Vec::with_capacity(SNIFF_BYTES);
    open(path)?.0.take(SNIFF_BYTES as u64).read_to_end(&mut head)?;
    Ok(head)
}

fn below<'a>(root: &Path, path: &'a Path) -> &'a Path {
    path.strip_prefix(root).unwrap_or(path)
}

fn shown_path(path: &Path) -> String {
    let mut text = String::new();
    push_lossless(&mut text, path.as_os_str());
    shown(if text.is_empty() { "." } else { &text })
}
