//! The walk: folders in, candidates and what was passed over out. Nothing is opened but files whose names say
//! nothing, and those only for their first bytes.

use std::collections::{BTreeMap, HashMap};
use std::ffi::OsStr;
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

use walkdir::{DirEntry, WalkDir};

use super::{
    Card, CardFile, FileKind, Folder, PassedOver, SNIFF_BYTES, Trouble, exact, folder_number,
    kind_by_extension, natural, open, pairing, pass_over, push_lossless, sniff, weigh,
};
use crate::units::{refusal as words, shown, typed};

/// Finds the frames under `roots`: folders, searched below without following links, or files. What lies under
/// two roots is found once. Files are told by name here; [`FileKind`] is settled when the frames are read.
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
        found: Vec::new(),
        known: HashMap::new(),
        last: 0,
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

/// The folder by a path that ends in its name, which `.` and `..` do not: what is told must not hang on where
/// it is told from.
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
    let mut by_folder: HashMap<PathBuf, usize> = HashMap::new();
    for (is_folder, at) in order {
        if is_folder {
            let (folder, real) = &folders[at];
            if !inside(real, Some(at)) {
                out.push(Place { folder: folder.clone(), only: None });
            }
            continue;
        }
        let (path, parent) = &files[at];
        let Some(name) = own_name(path) else { continue };
        let real = fs::canonicalize(parent).unwrap_or_else(|_| parent.clone());
        if inside(&real, None) {
            continue;
        }
        let slot = *by_folder.entry(real).or_insert_with(|| {
            out.push(Place { folder: parent.clone(), only: Some(Vec::new()) });
            out.len() - 1
        });
        if let Some(Place { only: Some(names), .. }) = out.get_mut(slot) {
            names.push(name);
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

/// The name of a file that was named by itself, as its folder has it: where case makes no name, or a long
/// name has a short one beside it, a file may be named in several ways. A link keeps its own.
fn own_name(file: &Path) -> Option<Box<OsStr>> {
    let plain = fs::symlink_metadata(file).is_ok_and(|m| m.is_file());
    let real = plain.then(|| fs::canonicalize(file).ok()).flatten();
    real.as_deref().unwrap_or(file).file_name().map(Box::from)
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
    /// The folders with a frame, in the order in which they were met.
    found: Vec<Found>,
    /// Where in that list a folder stands, by its root and its full path with the separator at its end.
    known: HashMap<(u16, Vec<u8>), usize>,
    /// The folder of the file before: mostly that of the next one too.
    last: usize,
    passed_over: BTreeMap<PassedOver, u64>,
    trouble: Vec<Trouble>,
}

/// A folder in the making.
struct Found {
    root: u16,
    /// Below the root.
    path: PathBuf,
    /// The full path's bytes, with the separator at their end.
    full: Vec<u8>,
    /// Files that were met on the walk, their lengths still to be asked for.
    met: Vec<CardFile>,
    /// Files that were named by themselves.
    named: Vec<CardFile>,
}

impl Walk<'_> {
    fn folder(&mut self, root: u16, folder: &Path) {
        // In no order: what is found, and what is told, is put in order at the end.
        let top = exact(folder);
        let folder = &*top;
        let mut entries = WalkDir::new(folder).follow_links(false).into_iter();
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
        if let Some((file, at)) = self.file(root, folder, entry.path(), entry.file_name()) {
            self.found[at].met.push(file);
        }
    }

    /// A file that was named by itself: a link is followed here, because somebody pointed at it.
    fn named_file(&mut self, root: u16, folder: &Path, name: &OsStr) {
        let path = folder.join(name);
        match fs::metadata(&path) {
            Ok(meta) if meta.is_file() => {
                if let Some((mut file, at)) = self.file(root, folder, &path, name) {
                    file.bytes = meta.len();
                    self.found[at].named.push(file);
                }
            }
            Ok(_) => self.pass_over(PassedOver::NotAFile, 1),
            Err(e) => self.trouble.push(Trouble { path: shown_path(Path::new(name)), what: words(&e) }),
        }
    }

    /// The file, where it may be a frame, and its folder's place; its length is left to the caller.
    fn file(&mut self, root: u16, top: &Path, path: &Path, name: &OsStr) -> Option<(CardFile, usize)> {
        if name == OsStr::new("plan.toml") {
            return None;
        }
        if let Some(why) = pass_over::file(name) {
            self.pass_over(why, 1);
            return None;
        }
        let promised = Path::new(name).extension().and_then(OsStr::to_str).and_then(kind_by_extension);
        let kind = match promised {
            Some(kind) => kind,
            None => match first_bytes(path) {
                Ok(head) => sniff(&head),
                Err(e) => {
                    self.trouble.push(Trouble { path: shown_path(below(top, path)), what: words(&e) });
                    return None;
                }
            },
        };
        if promised.is_none() && kind == FileKind::Unknown {
            self.pass_over(PassedOver::NotAPicture, 1);
            return None;
        }
        let at = self.place(root, top, path, name);
        Some((CardFile { folder: 0, name: name.into(), bytes: 0, kind }, at))
    }

    /// Where the folder of a file stands in the list of those that were met.
    fn place(&mut self, root: u16, top: &Path, path: &Path, name: &OsStr) -> usize {
        let full = path.as_os_str().as_encoded_bytes();
        let full = &full[..full.len() - name.len()];
        if self.found.get(self.last).is_some_and(|last| last.root == root && last.full == full) {
            return self.last;
        }
        let key = (root, full.to_vec());
        self.last = match self.known.get(&key) {
            Some(at) => *at,
            None => {
                let parent = path.parent().map_or(Path::new(""), |p| below(top, p)).to_path_buf();
                let at = self.found.len();
                let full = key.1.clone();
                self.found.push(Found { root, path: parent, full, met: Vec::new(), named: Vec::new() });
                self.known.insert(key, at);
                at
            }
        };
        self.last
    }

    fn pass_over(&mut self, why: PassedOver, count: u64) {
        *self.passed_over.entry(why).or_default() += count;
    }

    fn finish(mut self) -> Card {
        self.trouble.sort_by(|a, b| (&a.path, &a.what).cmp(&(&b.path, &b.what)));
        self.found.sort_by(|a, b| a.root.cmp(&b.root).then_with(|| natural::folders(&a.path, &b.path)));
        let mut folders = Vec::with_capacity(self.found.len());
        let mut shots = Vec::new();
        for (at, found) in self.found.into_iter().enumerate() {
            let Found { root, path, full: _, met: mut files, mut named } = found;
            // A folder of a card that was named by itself keeps its number.
            let top = self.roots.get(usize::from(root)).map_or(Path::new(""), PathBuf::as_path);
            weigh(&top.join(&path), &mut files);
            files.append(&mut named);
            for file in &mut files {
                file.folder = u32::try_from(at).unwrap_or(u32::MAX);
            }
            let number = path.file_name().or_else(|| top.file_name()).and_then(folder_number);
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
    if text.is_empty() { ".".to_owned() } else { shown(&typed(text)) }
}
