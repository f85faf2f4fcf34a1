//! The place of the outputs: never on the card that is audited, tried before the scan begins, and written so
//! that an earlier report stays whole until the new one is.

mod card_of;
#[cfg(windows)]
mod drives;
#[cfg(not(windows))]
mod mounts;

use crate::store::{self, Disk, Staged, Store};
use crate::units::shown_path;
use std::ffi::{OsStr, OsString};
use std::fmt;
use std::io::{self, Write};
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

/// A folder that takes the outputs.
#[derive(Debug)]
pub struct Place {
    store: Arc<Store>,
    disk: Arc<Disk>,
    told: PathBuf,
    /// The folder below the top one that files go to; empty for the top one itself.
    folder: String,
    made: Made,
}

/// Why a place does not serve.
#[derive(Debug)]
pub enum PlaceError {
    /// It lies on the card, or among the frames.
    OnTheCard {
        /// The place asked for.
        out: PathBuf,
        /// What it lies in.
        inside: PathBuf,
    },
    /// It cannot be written.
    NotWritable {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        what: io::Error,
    },
    /// Another run writes there.
    Busy {
        /// The folder.
        path: PathBuf,
    },
}

impl PlaceError {
    fn of(top: &Path, failed: store::Failed) -> Self {
        Self::NotWritable { path: top.join(failed.name), what: failed.what }
    }
}

impl fmt::Display for PlaceError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OnTheCard { out, inside } => write!(
                f,
                "the outputs would lie on the card that is audited: {} is inside {}. Nothing is written \
                 there. Name another place with --out DIR",
                shown_path(out),
                shown_path(inside)
            ),
            Self::NotWritable { path, what } => {
                let why = crate::units::refusal(what);
                write!(
                    f,
                    "{} cannot be written: {why}. Name a place that can with --out DIR",
                    shown_path(path)
                )
            }
            Self::Busy { path } => write!(
                f,
                "another run of this program writes to {} just now. Wait for it, or name another place with \
                 --out DIR",
                shown_path(path)
            ),
        }
    }
}

impl std::error::Error for PlaceError {}

impl Place {
    /// Looks whether `out` serves for an audit of `roots`, makes the folder, and tries to write in it. What
    /// an earlier run was ended over is put back first.
    ///
    /// Symbolic links are followed before anything is compared.
    ///
    /// # Errors
    /// Where `out` lies inside a root, or on the card that holds one (the folder above a `DCIM`, a removable
    /// file system); where another run writes there; where it cannot be written.
    pub fn open(out: &Path, roots: &[PathBuf]) -> Result<Self, PlaceError> {
        let bad = |what| PlaceError::NotWritable { path: out.to_owned(), what };
        let dir = resolved(out).map_err(bad)?;
        let guarded = Guarded::of(roots)?;
        guarded.allow(&dir)?;
        // The deepest folder that is there. From its handle on no path is followed any more.
        let there =
            dir.ancestors().find(|p| p.is_dir()).ok_or(io::ErrorKind::NotFound).map_err(|e| bad(e.into()))?;
        // Before the handles, so that it outlives them: not every system takes away a folder that is held.
        let mut made = Made::default();
        let mut disk = Disk::open(there).map_err(bad)?;
        guarded.allow_handle(&disk, &dir)?;
        for name in dir.strip_prefix(there).unwrap_or(Path::new("")) {
            let below = disk.below(name).map_err(bad)?;
            made.0.push((disk, name.to_owned()));
            disk = below;
        }
        guarded.allow_handle(&disk, &dir)?;
        if !disk.keep() {
            return Err(PlaceError::Busy { path: out.to_owned() });
        }
        let top = Box::new(disk.again().map_err(bad)?);
        let store = Store::open(top).map_err(|e| PlaceError::of(out, e))?;
        made.1 = true;
        let (told, folder) = (out.to_owned(), String::new());
        Ok(Self { store: Arc::new(store), disk: Arc::new(disk), told, folder, made })
    }

    /// A folder inside this one, which is made with the first file that is written there.
    #[must_use]
    pub fn inside(&self, name: &str) -> Self {
        Self {
            store: Arc::clone(&self.store),
            disk: Arc::clone(&self.disk),
            told: self.told.join(name),
            folder: name.to_owned(),
            made: Made::default(),
        }
    }

    /// Takes away the folders that were made for it, where nothing was written: a run that could not start
    /// leaves nothing.
    pub fn abandon(self) {
        let Self { store, disk, mut made, .. } = self;
        // A folder that is held is not taken away everywhere.
        drop((store, disk));
        made.1 = false;
    }

    /// The top folder's handle: what a permission to write is given for.
    pub fn handle(&self) -> &Disk {
        &self.disk
    }

    /// The folder, as it was named.
    pub fn told(&self) -> &Path {
        &self.told
    }

    /// Looks whether files of these names can be written: what stands there may only be of an earlier run.
    ///
    /// # Errors
    /// Where something else stands there.
    pub fn is_free_for(&self, names: &[&str]) -> Result<(), PlaceError> {
        names.iter().try_for_each(|name| self.store.is_free(&self.folder, name)).map_err(|e| self.bad(e))
    }

    /// Writes an output beside its final name.
    ///
    /// # Errors
    /// Where it cannot be written; nothing then stands under the final name that did not before.
    pub fn stage(
        &self,
        name: &'static str,
        write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<Staged, PlaceError> {
        self.store.stage(&self.folder, name, write).map_err(|e| self.bad(e))
    }

    /// Puts what was staged in place, all of it or nothing, and returns the paths below the place.
    ///
    /// # Errors
    /// Where a file cannot be put there; what stood there before then stands there still.
    pub fn commit(&self, staged: Vec<Staged>) -> Result<Vec<String>, PlaceError> {
        self.store.commit(staged).map_err(|e| self.bad(e))
    }

    /// What earlier runs wrote and this one did not: it is still there, and no part of what this one says.
    pub fn earlier(&self) -> Vec<String> {
        self.store.earlier()
    }

    fn bad(&self, failed: store::Failed) -> PlaceError {
        let top = if self.folder.is_empty() { Some(self.told.as_path()) } else { self.told.parent() };
        PlaceError::of(top.unwrap_or(Path::new("")), failed)
    }
}

/// Looks whether files may be written in `dir`, of which the last parts need not be there.
///
/// # Errors
/// As for [`Place::open`], where `dir` lies inside a root or on the card that holds one.
pub(crate) fn off_the_card(dir: &Path, roots: &[PathBuf]) -> Result<(), PlaceError> {
    let bad = |what| PlaceError::NotWritable { path: dir.to_owned(), what };
    let dir = resolved(dir).map_err(bad)?;
    let guarded = Guarded::of(roots)?;
    guarded.allow(&dir)?;
    let there = dir.ancestors().find(|p| p.is_dir()).unwrap_or(&dir);
    guarded.allow_handle(&Disk::open(there).map_err(bad)?, &dir)
}

/// Folders that were made on the way, each with the one that it lies in, the outermost first; and whether
/// they are to stay. Those that are not are taken away, as far as nothing lies in them.
#[derive(Debug, Default)]
struct Made(Vec<(Disk, OsString)>, bool);

impl Drop for Made {
    fn drop(&mut self) {
        while let Some((parent, name)) = self.0.pop().filter(|_| !self.1) {
            if parent.remove_below(&name).is_err() {
                break;
            }
        }
    }
}

/// True where `root` is a camera's card: a `DCIM` lies in it or above it, or its file system is removable.
pub fn on_a_card(root: &Path) -> bool {
    root.join("DCIM").is_dir() || root.canonicalize().is_ok_and(|root| card_of::guarded(&root).len() > 1)
}

/// The places on cards that are audited, by their paths and by what they are.
struct Guarded(Vec<card_of::Guard>);

impl Guarded {
    fn of(roots: &[PathBuf]) -> Result<Self, PlaceError> {
        let mut all = Vec::new();
        for root in roots {
            let bad = |what| PlaceError::NotWritable { path: root.clone(), what };
            all.extend(card_of::guarded(&root.canonicalize().map_err(bad)?));
        }
        Ok(Self(all))
    }

    fn allow(&self, dir: &Path) -> Result<(), PlaceError> {
        match self.0.iter().find(|guard| guard.holds(dir)) {
            Some(guard) => Err(PlaceError::OnTheCard { out: dir.to_owned(), inside: guard.path.clone() }),
            None => Ok(()),
        }
    }

    /// By which folders it lies in, whatever they are called: a folder may be mounted in a second place.
    fn allow_handle(&self, disk: &Disk, dir: &Path) -> Result<(), PlaceError> {
        let bad = |what| PlaceError::NotWritable { path: dir.to_owned(), what };
        let above = disk.lineage().map_err(bad)?;
        let inside = self.0.iter().find(|g| g.identity.as_ref().is_some_and(|own| above.contains(own)));
        match inside {
            Some(guard) => Err(PlaceError::OnTheCard { out: dir.to_owned(), inside: guard.path.clone() }),
            None => Ok(()),
        }
    }
}

/// The path with links followed as far as it exists, and the rest behind it.
fn resolved(path: &Path) -> io::Result<PathBuf> {
    let absolute = std::path::absolute(path)?;
    let mut there = PathBuf::new();
    let mut exists = true;
    for part in absolute.components() {
        match part {
            // A drive is no folder yet: its topmost one is, which comes next.
            Component::Prefix(_) => {
                there.push(part);
                continue;
            }
            // Behind a part that is not there, "up" can only mean the text before it.
            Component::ParentDir => {
                there.pop();
                exists = there.exists();
                continue;
            }
            Component::Normal(name) if cfg!(windows) && !is_a_folders(name) => {
                return Err(io::Error::new(io::ErrorKind::InvalidInput, "no folder can have that name"));
            }
            part => there.push(part),
        }
        if exists {
            match there.canonicalize() {
                Ok(real) => there = real,
                // A link to nowhere is refused: what would be made there is not known.
                Err(e) if there.is_symlink() => return Err(e),
                Err(e) if e.kind() == io::ErrorKind::NotFound => exists = false,
                Err(e) => return Err(e),
            }
        }
    }
    Ok(there)
}

/// False for names that Windows keeps for devices, whatever folder they stand in, and for those with a colon,
/// which parts a file from a stream of it there.
///
/// Source: "Naming Files, Paths, and Namespaces" in the documentation of Windows, from memory.
fn is_a_folders(name: &OsStr) -> bool {
    let name = name.to_string_lossy();
    let stem = name.split('.').next().unwrap_or_default().trim_end().to_ascii_uppercase();
    let numbered =
        |port| stem.strip_prefix(port).is_some_and(|n| n.len() == 1 && n.as_bytes()[0].is_ascii_digit());
    let device = matches!(&*stem, "CON" | "PRN" | "AUX" | "NUL") || numbered("COM") || numbered("LPT");
    !device && !name.contains(':')
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn on_the_card(result: Result<Place, PlaceError>) -> bool {
        matches!(result, Err(PlaceError::OnTheCard { .. }))
    }

    #[test]
    fn a_place_among_the_frames_is_refused() {
        let dir = tempfile::tempdir().unwrap();
        let frames = dir.path().join("weir");
        fs::create_dir(&frames).unwrap();
        let roots = [frames.clone()];
        assert!(on_the_card(Place::open(&frames, &roots)));
        assert!(on_the_card(Place::open(&frames.join("a/b"), &roots)));
        assert!(on_the_card(Place::open(&dir.path().join("other/../weir/a"), &roots)));
        assert_eq!(fs::read_dir(&frames).unwrap().count(), 0, "nothing was written");
        assert!(Place::open(&dir.path().join("weir-report"), &roots).is_ok());
    }

    #[test]
    fn a_place_above_a_dcim_is_refused() {
        let dir = tempfile::tempdir().unwrap();
        let frames = dir.path().join("card/DCIM/100WEIR");
        fs::create_dir_all(&frames).unwrap();
        assert!(on_the_card(Place::open(&dir.path().join("card/reports"), &[frames])));
        assert!(!dir.path().join("card/reports").exists());
    }

    #[test]
    fn the_folder_of_a_single_file_is_guarded() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("weir/WEIR0001.JPG");
        fs::create_dir(dir.path().join("weir")).unwrap();
        fs::write(&file, b"x").unwrap();
        assert!(on_the_card(Place::open(&dir.path().join("weir/out"), &[file])));
    }

    #[cfg(unix)]
    #[test]
    fn links_are_followed_before_comparing() {
        let dir = tempfile::tempdir().unwrap();
        let frames = dir.path().join("weir");
        fs::create_dir(&frames).unwrap();
        std::os::unix::fs::symlink(&frames, dir.path().join("elsewhere")).unwrap();
        let roots = [frames.clone()];
        assert!(on_the_card(Place::open(&dir.path().join("elsewhere/out"), &roots)));
        assert!(on_the_card(Place::open(&frames.join("out"), &[dir.path().join("elsewhere")])));
    }

    #[test]
    fn a_place_that_was_not_used_leaves_nothing() {
        let dir = tempfile::tempdir().unwrap();
        Place::open(&dir.path().join("reports/weir"), &[]).unwrap().abandon();
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0);
        Place::open(dir.path(), &[]).unwrap().abandon();
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0, "and no partial file");
    }

    #[test]
    fn devices_and_streams_are_no_folders_of_windows() {
        for name in ["NUL", "aux.txt", "Com1", "LPT9.x", "CON ", "weir:x", "weir::$INDEX_ALLOCATION"] {
            assert!(!is_a_folders(OsStr::new(name)), "{name}");
        }
        for name in ["weir", "CONWY", "COM", "COM10", "nul-report", "a.nul"] {
            assert!(is_a_folders(OsStr::new(name)), "{name}");
        }
    }

    #[test]
    fn a_file_in_the_way_is_told() {
        let dir = tempfile::tempdir().unwrap();
        fs::write(dir.path().join("taken"), b"x").unwrap();
        let error = Place::open(&dir.path().join("taken"), &[]).unwrap_err();
        assert!(error.to_string().contains("--out"), "{error}");
    }

    #[test]
    fn an_earlier_report_stays_whole_where_a_write_fails() {
        let dir = tempfile::tempdir().unwrap();
        let place = Place::open(dir.path(), &[]).unwrap();
        let first = place.stage("summary.txt", |out| out.write_all(b"first")).unwrap();
        place.commit(vec![first]).unwrap();
        let failed = place.stage("summary.txt", |out| {
            out.write_all(b"half")?;
            Err(io::Error::other("full"))
        });
        assert!(failed.is_err());
        drop(place);
        assert_eq!(fs::read(dir.path().join("summary.txt")).unwrap(), b"first");
        assert_eq!(
            fs::read_dir(dir.path()).unwrap().count(),
            2,
            "the file and the list, nothing half written"
        );
    }
}
