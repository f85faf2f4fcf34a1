//! Sets of files, put in place together. All are written and on the disk before the first one is renamed; a
//! file that says what is to change is written before that, too. Whatever fails, what stood there is put
//! back: by the run itself, or, where that was ended, by the next one. The list of what belongs together is
//! taken away first and comes last, so a list that is there never speaks of a mixture.

use super::list::{self, List};
use super::{Folder, Kind, Output, kept, partial};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeSet;
use std::fmt;
use std::io::{self, BufWriter, Write};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What is to change, while it changes.
pub(super) const CHANGE: &str = ".lapseproof.change";

/// Lists and records of changes are no larger, bytes: some hundred thousand files.
pub(super) const LARGEST: u64 = 64 << 20;

/// Which file failed, and what the system says.
#[derive(Debug)]
pub struct Failed {
    /// Its path below the folder.
    pub name: String,
    /// What went wrong.
    pub what: io::Error,
}

impl Failed {
    fn of(name: impl fmt::Display) -> impl FnOnce(io::Error) -> Self {
        let name = name.to_string();
        |what| Self { name, what }
    }
}

/// A file's place: a folder in the top one, or none, and its name.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct At {
    pub(super) folder: String,
    pub(super) name: String,
}

impl At {
    pub(super) fn top(name: &str) -> Self {
        Self { folder: String::new(), name: name.to_owned() }
    }

    /// From the path of a list; `None` where no run writes such a path.
    pub(super) fn read(path: &str) -> Option<Self> {
        let (folder, name) = path.rsplit_once('/').unwrap_or(("", path));
        let odd = |part: &str| part.contains(['/', '\\', '\0']) || part == "." || part == "..";
        (!name.is_empty() && !odd(folder) && !odd(name))
            .then(|| Self { folder: folder.to_owned(), name: name.to_owned() })
    }
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.folder.is_empty() {
            true => f.write_str(&self.name),
            false => write!(f, "{}/{}", self.folder, self.name),
        }
    }
}

/// One file of a change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Change {
    pub(super) at: At,
    /// True where nothing stood there before.
    new: bool,
    sum: [u8; 32],
}

/// A folder that sets of files are put in.
#[derive(Debug)]
pub struct Store {
    pub(super) top: Arc<dyn Folder>,
    state: Mutex<State>,
}

#[derive(Debug, Default)]
pub(super) struct State {
    /// Folders that were made by this run.
    made: Vec<String>,
    /// What runs before this one wrote.
    pub(super) listed: list::Sums,
    /// What this one wrote.
    own: list::Sums,
}

/// A file that is whole and not yet under its name. Dropped, it is taken away again.
#[derive(Debug)]
pub struct Staged {
    top: Arc<dyn Folder>,
    at: At,
    sum: [u8; 32],
    placed: bool,
}

impl Drop for Staged {
    fn drop(&mut self) {
        if !self.placed {
            self.remove(&partial(&self.at.name));
        }
    }
}

impl Staged {
    /// Takes a file beside its own name away; one that stays is taken away by the next run.
    fn remove(&self, name: &str) {
        let folder = self.at.folder.as_str();
        let _ = match folder {
            "" => self.top.remove(name),
            folder if self.top.kind(folder).is_ok_and(|kind| kind == Kind::Folder) => {
                self.top.inside(folder).and_then(|folder| folder.remove(name))
            }
            _ => Ok(()),
        };
    }
}

/// True where a run was ended in the folder at `path` while it put its files in place, or does so just now.
pub fn is_changing(path: &Path) -> bool {
    path.join(CHANGE).symlink_metadata().is_ok()
}

impl Store {
    /// Opens a folder: puts back what a run that was ended had half replaced, takes away what it left behind,
    /// and tries to write.
    ///
    /// # Errors
    /// Where the earlier files cannot be put back, or nothing can be written.
    pub fn open(top: Box<dyn Folder>) -> Result<Self, Failed> {
        let store = Self { top: Arc::from(top), state: Mutex::default() };
        store.recover()?;
        let list = match store.top.kind(list::NAME).map_err(Failed::of(list::NAME))? {
            Kind::File => list::read(&store.top.read(list::NAME, LARGEST).map_err(Failed::of(list::NAME))?),
            _ => List::default(),
        };
        let mut state = store.state();
        state.listed = list.earlier.into_iter().chain(list.now).collect();
        store.clear_left_overs(&state);
        let listed = !state.listed.is_empty();
        drop(state);
        // The trial is of no set, and stands in no list.
        drop(store.stage("", "trial", |out| out.write_all(b"trial"))?);
        if !listed {
            store.take_over()?;
        }
        Ok(store)
    }

    pub(super) fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A folder in the top one, made where it is not there; the top one itself has no name. It is opened each
    /// time: a survey of a disk has more folders than a process may hold open.
    pub(super) fn folder(&self, name: &str) -> io::Result<Arc<dyn Folder>> {
        if name.is_empty() {
            return Ok(Arc::clone(&self.top));
        }
        let new = self.top.kind(name)? == Kind::Nothing;
        let folder = self.top.inside(name)?;
        if new {
            self.state().made.push(name.to_owned());
        }
        Ok(Arc::from(folder))
    }

    /// Writes a file beside its name, in the top folder (`""`) or in one of its folders.
    ///
    /// # Errors
    /// Where it cannot be written; nothing then stands under the name that did not before.
    pub fn stage(
        &self,
        folder: &str,
        name: &str,
        write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<Staged, Failed> {
        let at = At { folder: folder.to_owned(), name: name.to_owned() };
        let failed = |what| Failed { name: at.to_string(), what };
        let folder = self.folder(folder).map_err(failed)?;
        let file = folder.create(&partial(name)).map_err(failed)?;
        let top = Arc::clone(&self.top);
        let mut staged = Staged { top, at: at.clone(), sum: [0; 32], placed: false };
        let summed = Summed { file, sum: Sha256::new() };
        let mut out = BufWriter::with_capacity(64 * 1024, summed);
        write(&mut out).map_err(failed)?;
        let mut summed = out.into_inner().map_err(|e| failed(e.into_error()))?;
        summed.file.sync().map_err(failed)?;
        staged.sum = summed.sum.finalize().into();
        Ok(staged)
    }

    /// Puts the files in place, with the list, and returns their paths below the folder.
    ///
    /// # Errors
    /// Where one cannot be put there; what stood there before then stands there again.
    pub fn commit(&self, staged: Vec<Staged>) -> Result<Vec<String>, Failed> {
        let mut own = self.state().own.clone();
        own.extend(staged.iter().map(|s| (s.at.to_string(), s.sum)));
        let list = self.list(&own);
        let list = self.stage("", list::NAME, |out| out.write_all(&list::write(&list)))?;
        let mut all: Vec<Staged> = staged;
        all.push(list);
        let changes = all.iter().map(|s| self.change(s)).collect::<Result<Vec<_>, _>>()?;
        self.sync(&changes)?;
        let put = self.announce(&changes).and_then(|()| self.put(&changes));
        if let Err(failed) = put {
            // A mixture that cannot be undone is undone by the next run, which finds what was to change.
            return match self.put_back(&changes) {
                Ok(()) => Err(failed),
                Err(_) => Err(Failed {
                    what: io::Error::other(format!(
                        "{}; the files of the earlier run could not be put back, the next run will",
                        failed.what
                    )),
                    ..failed
                }),
            };
        }
        for (staged, change) in all.iter_mut().zip(&changes) {
            staged.placed = true;
            if !change.new {
                staged.remove(&kept(&change.at.name));
            }
        }
        self.state().own = own;
        all.pop();
        Ok(all.iter().map(|s| s.at.to_string()).collect())
    }

    /// What runs before this one wrote, is still there, and is no part of what this one wrote.
    pub fn earlier(&self) -> Vec<String> {
        let own = self.state().own.clone();
        self.list(&own).earlier.into_keys().collect()
    }

    /// A file that is there was written by an earlier run: something else under that name is an error.
    ///
    /// # Errors
    /// Where it is somebody else's.
    pub fn is_free(&self, folder: &str, name: &str) -> Result<(), Failed> {
        let at = At { folder: folder.to_owned(), name: name.to_owned() };
        let parent = match folder {
            "" => Kind::Folder,
            folder => self.top.kind(folder).map_err(Failed::of(&at))?,
        };
        match parent {
            Kind::Nothing => Ok(()),
            Kind::Folder => self.is_new(&at).map(drop),
            _ => Err(foreign(&at)),
        }
    }

    /// True where nothing stands there; an error where what stands there was not written by a run.
    fn is_new(&self, at: &At) -> Result<bool, Failed> {
        let kind = self.folder(&at.folder).and_then(|f| f.kind(&at.name)).map_err(Failed::of(at))?;
        let state = self.state();
        let path = at.to_string();
        let ours = state.listed.contains_key(&path) || state.own.contains_key(&path);
        match kind {
            Kind::Nothing => Ok(true),
            Kind::File if ours || *at == At::top(list::NAME) => Ok(false),
            _ => Err(foreign(at)),
        }
    }

    fn change(&self, staged: &Staged) -> Result<Change, Failed> {
        Ok(Change { at: staged.at.clone(), new: self.is_new(&staged.at)?, sum: staged.sum })
    }

    fn list(&self, own: &list::Sums) -> List {
        let listed = self.state().listed.clone();
        let there = |path: &str| {
            let at = At::read(path)?;
            let folder = match at.folder.as_str() {
                "" => Kind::Folder,
                folder => self.top.kind(folder).ok()?,
            };
            let kind = match folder {
                Kind::Folder => self.folder(&at.folder).ok()?.kind(&at.name).ok()?,
                other => other,
            };
            (kind == Kind::File).then_some(())
        };
        let earlier = listed.into_iter().filter(|(path, _)| !own.contains_key(path) && there(path).is_some());
        List { now: own.clone(), earlier: earlier.collect() }
    }

    fn sync(&self, changes: &[Change]) -> Result<(), Failed> {
        let folders: BTreeSet<&str> = changes.iter().map(|c| c.at.folder.as_str()).collect();
        for name in folders {
            self.folder(name).and_then(|f| f.sync()).map_err(Failed::of(name))?;
        }
        self.top.sync().map_err(Failed::of("."))
    }

    /// Writes down what is to change. From here on a run that is ended leaves the next one what it needs to
    /// put things back.
    fn announce(&self, changes: &[Change]) -> Result<(), Failed> {
        let text: String = changes.iter().map(record).collect();
        let failed = |what| Failed { name: CHANGE.into(), what };
        // It may not be a `Staged`: what is dropped would be taken away.
        let beside = partial("change");
        let written = (|| {
            let mut file = self.top.create(&beside)?;
            file.write_all(text.as_bytes())?;
            file.sync()?;
            drop(file);
            self.top.rename(&beside, CHANGE)?;
            self.top.sync()
        })();
        if written.is_err() {
            let _ = self.top.remove(&beside);
        }
        written.map_err(failed)
    }

    fn put(&self, changes: &[Change]) -> Result<(), Failed> {
        let Some((list, others)) = changes.split_last() else { return Ok(()) };
        let away = |change: &Change| {
            let folder = self.folder(&change.at.folder)?;
            if change.new { Ok(()) } else { folder.rename(&change.at.name, &kept(&change.at.name)) }
        };
        let there = |change: &Change| {
            let folder = self.folder(&change.at.folder)?;
            folder.rename_new(&partial(&change.at.name), &change.at.name)
        };
        away(list).map_err(Failed::of(&list.at))?;
        for change in others {
            away(change).and_then(|()| there(change)).map_err(Failed::of(&change.at))?;
        }
        there(list).map_err(Failed::of(&list.at))?;
        self.sync(changes)?;
        self.top.remove(CHANGE).and_then(|()| self.top.sync()).map_err(Failed::of(CHANGE))
    }

    /// Puts back what stood there before a change, from whatever state it was left in.
    pub(super) fn put_back(&self, changes: &[Change]) -> Result<(), Failed> {
        let Some((list, others)) = changes.split_last() else { return Ok(()) };
        self.take_away(list)?;
        for change in others.iter().rev() {
            self.take_away(change)?;
            self.back(change)?;
        }
        self.back(list)?;
        self.sync(changes)?;
        let announced = self.top.kind(CHANGE).map_err(Failed::of(CHANGE))? != Kind::Nothing;
        if announced {
            self.top.remove(CHANGE).and_then(|()| self.top.sync()).map_err(Failed::of(CHANGE))?;
        }
        Ok(())
    }

    /// Takes away a new file, where it got as far as its name: there nothing stood before, or what stood
    /// there was kept.
    fn take_away(&self, change: &Change) -> Result<(), Failed> {
        let failed = |what| Failed { name: change.at.to_string(), what };
        let folder = self.folder(&change.at.folder).map_err(failed)?;
        let name = change.at.name.as_str();
        let replaced = change.new || folder.kind(&kept(name)).map_err(failed)? == Kind::File;
        if replaced && folder.kind(name).map_err(failed)? == Kind::File {
            let sum: [u8; 32] = Sha256::digest(folder.read(name, u64::MAX - 1).map_err(failed)?).into();
            if sum == change.sum {
                folder.remove(name).map_err(failed)?;
            }
        }
        Ok(())
    }

    fn back(&self, change: &Change) -> Result<(), Failed> {
        let failed = |what| Failed { name: change.at.to_string(), what };
        let folder = self.folder(&change.at.folder).map_err(failed)?;
        let (name, kept) = (change.at.name.as_str(), kept(&change.at.name));
        match change.new || folder.kind(&kept).map_err(failed)? != Kind::File {
            true => Ok(()),
            false => folder.rename(&kept, name).map_err(failed),
        }
    }
}

impl Drop for Store {
    fn drop(&mut self) {
        let made = std::mem::take(&mut self.state().made);
        for name in made {
            // A folder that is no longer empty stays.
            let _ = self.top.remove_folder(&name);
        }
    }
}

pub(super) fn foreign(at: &At) -> Failed {
    let what = "something of that name is there that no audit wrote, and it is left alone";
    Failed { name: at.to_string(), what: io::Error::new(io::ErrorKind::AlreadyExists, what) }
}

fn record(change: &Change) -> String {
    let digits: String = change.sum.iter().map(|b| format!("{b:02x}")).collect();
    format!("{}{digits}  {}\n", if change.new { '+' } else { '=' }, change.at)
}

pub(super) fn recorded(line: &str) -> Option<Change> {
    let new = match line.chars().next()? {
        '+' => true,
        '=' => false,
        _ => return None,
    };
    let (path, sum) = list::entry(line.get(1..)?)?;
    Some(Change { at: At::read(&path)?, new, sum })
}

/// Counts what is written into a checksum.
struct Summed {
    file: Box<dyn Output>,
    sum: Sha256,
}

impl Write for Summed {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let count = self.file.write(bytes)?;
        self.sum.update(bytes.get(..count).unwrap_or(bytes));
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}
