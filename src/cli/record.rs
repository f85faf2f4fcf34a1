//! The record of a comparison on the disk: a line a file that was read back, so that a run that was stopped
//! goes on. It lies beside none of what is compared, and goes when the work is done.

use super::exit::{Failure, note};
use crate::card;
use crate::compare::{Known, Tree};
use crate::outputs::place::{PlaceError, off_the_card};
use crate::store::{Disk, Folder as _};
use crate::units::{refusal, shown_path};
use sha2::{Digest as _, Sha256};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Largest record that is read, bytes: some millions of files.
const LARGEST: u64 = 1 << 30;

/// A record that grows.
pub(crate) struct Record {
    path: PathBuf,
    name: String,
    folder: Disk,
    file: Mutex<io::Result<File>>,
}

impl Record {
    /// Opens the record at `asked`, or at its own place in the user's state folder, and tells what it holds.
    /// `None` where there is no such place: the run then begins anew each time.
    ///
    /// # Errors
    /// Where `asked` lies on what is compared, is something else, or cannot be written.
    pub(crate) fn open(
        asked: Option<&Path>,
        trees: &[Tree],
        quiet: bool,
    ) -> Result<Option<(Self, String)>, Failure> {
        let Some(path) = asked.map(Path::to_owned).or_else(|| own_place(trees)) else { return Ok(None) };
        match opened(&path, trees) {
            Ok(done) => Ok(Some(done)),
            Err(why) if asked.is_some() => Err(Failure::new(format!(
                "{}: {why}. Name another file with --state FILE",
                shown_path(&path)
            ))),
            Err(why) => {
                if !quiet {
                    note(&format!(
                        "A run that is stopped begins anew: the record of it cannot lie at {} ({why}). \
                         --state FILE names another place.",
                        shown_path(&path)
                    ));
                }
                Ok(None)
            }
        }
    }

    /// Adds a line. What cannot be written is told by [`Record::close`]: the comparison goes on.
    pub(crate) fn keep(&self, line: &str) {
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        let written = file.as_mut().map_or(Ok(()), |open| open.write_all(line.as_bytes()));
        if let Err(e) = written {
            *file = Err(e);
        }
    }

    /// The folder that it lies in: what a permission to write is given for.
    pub(crate) fn place(&self) -> (&Disk, &Path) {
        (&self.folder, self.path.parent().unwrap_or(Path::new("")))
    }

    /// Takes it away where the work is done, and where nothing is in it.
    pub(crate) fn close(self, done: bool, quiet: bool) {
        let file = self.file.into_inner().unwrap_or_else(PoisonError::into_inner);
        let empty = file.as_ref().is_ok_and(|f| f.metadata().is_ok_and(|m| m.len() == 0));
        let done = done || empty;
        let failed = file.err();
        let gone = if done { self.folder.remove(&self.name).err() } else { None };
        if let Some(e) = failed.or(gone).filter(|_| !quiet) {
            note(&format!("warning: {} could not be kept: {}.", shown_path(&self.path), refusal(&e)));
        }
    }
}

/// Its own place: one file for each card with its copies, in the folder that the system has for such things.
fn own_place(trees: &[Tree]) -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|p| p.is_absolute());
    let folder = if cfg!(windows) {
        set("LOCALAPPDATA")
    } else if cfg!(target_os = "macos") {
        set("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        // XDG Base Directory Specification 0.8.
        set("XDG_STATE_HOME").or_else(|| set("HOME").map(|home| home.join(".local/state")))
    }?;
    let mut hash = Sha256::new();
    for tree in trees {
        hash.update(tree.real_path().as_os_str().as_encoded_bytes());
        hash.update([0]);
    }
    let word: String = hash.finalize().iter().take(8).map(|b| format!("{b:02x}")).collect();
    Some(folder.join("lapseproof").join(format!("compare-{word}.txt")))
}

/// Opens a record for lines to be added, and reads what it holds; an error is told in words.
fn opened(path: &Path, trees: &[Tree]) -> Result<(Record, String), String> {
    let told = |e: io::Error| refusal(&e);
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let name = path.file_name().and_then(|n| n.to_str()).ok_or("its name is no text")?.to_owned();
    let roots: Vec<PathBuf> = trees.iter().map(|t| t.root.clone()).collect();
    off_the_card(folder, &roots).map_err(|e| match e {
        PlaceError::OnTheCard { inside, .. } => {
            format!("it would lie in {}, where nothing is written", shown_path(&inside))
        }
        other => other.to_string(),
    })?;
    fs::create_dir_all(folder).map_err(told)?;
    let text = match card::contents(path, LARGEST, false) {
        Ok(bytes) => String::from_utf8_lossy(&bytes).into_owned(),
        Err(e) if e.kind() == io::ErrorKind::NotFound => String::new(),
        Err(e) => return Err(told(e)),
    };
    if !Known::is_record(&text) {
        return Err("it is there and is no record of a comparison".to_owned());
    }
    let mut file = OpenOptions::new().append(true).create(true).open(path).map_err(told)?;
    if !text.is_empty() && !text.ends_with('\n') {
        // The last line was torn; it is passed over.
        file.write_all(b"\n").map_err(told)?;
    }
    let folder = Disk::open(folder).map_err(told)?;
    Ok((Record { path: path.to_owned(), name, folder, file: Mutex::new(Ok(file)) }, text))
}
