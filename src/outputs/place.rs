//! The place of the outputs: never on the card that is audited, tried before the scan begins, and written so that an earlier
//! report stays whole until the new one is.

mod card_of;

use std::fmt;
use std::io::{self, BufWriter, Write};
use std::path::{Component, Path, PathBuf};
use tempfile::NamedTempFile;

/// A folder that takes the outputs.
#[derive(Debug)]
pub struct Place {
    dir: PathBuf,
    told: PathBuf,
    /// Folders that were made for it, the innermost first.
    made: Vec<PathBuf>,
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
}

impl fmt::Display for PlaceError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OnTheCard { out, inside } => write!(
                f,
                "the outputs would lie on the card that is audited: {} is inside {}. Nothing is written there. \
                 Name another place with --out DIR",
                shown(out),
                shown(inside)
            ),
            Self::NotWritable { path, what } => {
                let why = crate::units::refusal(what);
                write!(f, "{} cannot be written: {why}. Name a place that can with --out DIR", shown(path))
            }
        }
    }
}

impl std::error::Error for PlaceError {}

fn shown(path: &Path) -> String {
    crate::units::shown(&path.display().to_string())
}

/// A file that is written and not yet under its final name.
#[derive(Debug)]
pub struct Staged {
    file: NamedTempFile,
    name: &'static str,
}

impl Place {
    /// Looks whether `out` serves for an audit of `roots`, makes the folder and tries to write in it.
    ///
    /// Symbolic links are followed before anything is compared.
    ///
    /// # Errors
    /// Where `out` lies inside a root, on the card that holds one (the folder above a `DCIM`, a removable file system), or
    /// cannot be written.
    pub fn open(out: &Path, roots: &[PathBuf]) -> Result<Self, PlaceError> {
        let bad = |what| PlaceError::NotWritable { path: out.to_owned(), what };
        let dir = resolved(out).map_err(bad)?;
        for root in roots {
            let root =
                root.canonicalize().map_err(|what| PlaceError::NotWritable { path: root.clone(), what })?;
            for inside in card_of::guarded(&root) {
                if dir.starts_with(&inside) {
                    return Err(PlaceError::OnTheCard { out: dir, inside });
                }
            }
        }
        let made = dir.ancestors().take_while(|p| !p.exists()).map(Path::to_owned).collect();
        std::fs::create_dir_all(&dir).map_err(bad)?;
        let place = Self { dir, told: out.to_owned(), made };
        let tried = place.beside("trial").and_then(|mut f| f.write_all(b"trial").and_then(|()| f.flush()));
        match tried {
            Ok(()) => Ok(place),
            Err(what) => {
                place.abandon();
                Err(bad(what))
            }
        }
    }

    /// A folder inside this one, which is made where it is not there.
    ///
    /// # Errors
    /// Where it cannot be made.
    pub fn inside(&self, name: &str) -> Result<Self, PlaceError> {
        let dir = self.dir.join(name);
        let bad = |what| PlaceError::NotWritable { path: self.told.join(name), what };
        match std::fs::create_dir(&dir) {
            Err(e) if e.kind() != io::ErrorKind::AlreadyExists => return Err(bad(e)),
            // What stands there in its place, a link perhaps, would lead elsewhere.
            _ if !dir.symlink_metadata().map_err(bad)?.is_dir() => {
                return Err(bad(io::Error::other("a file of that name is there")));
            }
            _ => {}
        }
        Ok(Self { dir, told: self.told.join(name), made: Vec::new() })
    }

    /// Takes away the folders that were made for it, where nothing was written: a run that could not start leaves nothing.
    pub fn abandon(self) {
        for dir in &self.made {
            // A folder that is no longer empty stays.
            if std::fs::remove_dir(dir).is_err() {
                break;
            }
        }
    }

    /// The folder itself, links followed.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The folder, as it was named.
    pub fn told(&self) -> &Path {
        &self.told
    }

    fn beside(&self, name: &str) -> io::Result<NamedTempFile> {
        let prefix = format!(".{name}.");
        let mut builder = tempfile::Builder::new();
        builder.prefix(&prefix).suffix(".partial");
        // A report is there to be read by others; the process's own mask still applies.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        builder.tempfile_in(&self.dir)
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
        let bad = |what| PlaceError::NotWritable { path: self.told.join(name), what };
        let mut out = BufWriter::with_capacity(64 * 1024, self.beside(name).map_err(bad)?);
        write(&mut out).map_err(bad)?;
        let file = out.into_inner().map_err(|e| bad(e.into_error()))?;
        file.as_file().sync_all().map_err(bad)?;
        Ok(Staged { file, name })
    }

    /// Renames what was staged, in order, and returns the paths.
    ///
    /// # Errors
    /// Where a file cannot be renamed.
    pub fn commit(&self, staged: Vec<Staged>) -> Result<Vec<PathBuf>, PlaceError> {
        let mut paths = Vec::with_capacity(staged.len());
        for Staged { file, name } in staged {
            let path = self.told.join(name);
            file.persist(self.dir.join(name))
                .map_err(|e| PlaceError::NotWritable { path: path.clone(), what: e.error })?;
            paths.push(path);
        }
        Ok(paths)
    }
}

/// The path with links followed as far as it exists, and the rest behind it.
fn resolved(path: &Path) -> io::Result<PathBuf> {
    let absolute = std::path::absolute(path)?;
    let mut there = PathBuf::new();
    let mut exists = true;
    for part in absolute.components() {
        match part {
            // Behind a part that is not there, "up" can only mean the text before it.
            Component::ParentDir => {
                there.pop();
                exists = there.exists();
                continue;
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
        assert!(dir.path().exists());
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
        assert_eq!(fs::read(dir.path().join("summary.txt")).unwrap(), b"first");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1, "nothing half written is left");
    }
}
