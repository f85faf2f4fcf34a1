//! What an earlier run left: a change that it was ended over, partial files, a set without a list.

use super::list;
use super::set::{At, CHANGE, Change, Failed, LARGEST, State, Store, foreign, recorded};
use super::{Folder, Kind, is_left_over};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeSet;
use std::io;

impl Store {
    /// What a run that was ended had half put in place is undone.
    pub(super) fn recover(&self) -> Result<(), Failed> {
        let failed = |what| Failed { name: CHANGE.into(), what };
        match self.top.kind(CHANGE).map_err(failed)? {
            Kind::Nothing => return Ok(()),
            Kind::File => {}
            Kind::Folder | Kind::Other => return Err(foreign(&At::top(CHANGE))),
        }
        let text = self.top.read(CHANGE, LARGEST).map_err(failed)?;
        let text = String::from_utf8_lossy(&text);
        let changes: Option<Vec<Change>> = text.lines().map(recorded).collect();
        let whole = changes.filter(|c| c.last().is_some_and(|c| c.at == At::top(list::NAME)));
        let Some(changes) = whole else { return Err(foreign(&At::top(CHANGE))) };
        self.put_back(&changes)
    }

    /// Takes away partial and kept files that a run left which was ended.
    pub(super) fn clear_left_overs(&self, state: &State) {
        let clear = |folder: &dyn Folder| {
            for name in folder.names().unwrap_or_default() {
                if is_left_over(&name) && folder.kind(&name).is_ok_and(|k| k == Kind::File) {
                    // One that stays is told where its name is wanted.
                    let _ = folder.remove(&name);
                }
            }
        };
        clear(&*self.top);
        let listed: BTreeSet<String> =
            state.listed.keys().filter_map(|p| At::read(p)).map(|at| at.folder).collect();
        for name in self.top.names().unwrap_or_default() {
            let ours = listed.contains(&name) || is_of_a_set(&name);
            let there = ours && self.top.kind(&name).is_ok_and(|k| k == Kind::Folder);
            if let Some(folder) = there.then(|| self.top.inside(&name)).and_then(Result::ok) {
                clear(&*folder);
            }
        }
    }

    /// A folder without a list whose record says that a run wrote it: what bears an output's name there is an
    /// output.
    pub(super) fn take_over(&self) -> Result<(), Failed> {
        let failed = |what| Failed { name: list::NAME.to_owned(), what };
        let sum = |folder: &dyn Folder, name: &str| -> io::Result<Option<[u8; 32]>> {
            let there = folder.kind(name)? == Kind::File;
            there.then(|| Ok(Sha256::digest(folder.read(name, u64::MAX - 1)?).into())).transpose()
        };
        let ours = |name: &&str| {
            let there = self.top.kind(name).is_ok_and(|kind| kind == Kind::File);
            let head = there.then(|| self.top.read(name, u64::MAX - 1).unwrap_or_default());
            let head = head.unwrap_or_default();
            let head = String::from_utf8_lossy(head.get(..HEAD).unwrap_or(&head)).into_owned();
            head.contains(concat!("\"", env!("CARGO_PKG_NAME")))
        };
        if !RECORDS.iter().any(ours) {
            return Ok(());
        }
        let names = self.top.names().map_err(failed)?;
        let folders = names.into_iter().filter(|name| is_of_a_set(name));
        for folder in std::iter::once(String::new()).chain(folders) {
            let Ok(open) = self.folder(&folder) else { continue };
            for name in UNLISTED {
                let at = At { folder: folder.clone(), name: name.to_owned() };
                if let Some(sum) = sum(&*open, name).map_err(failed)? {
                    self.state().listed.insert(at.to_string(), sum);
                }
            }
        }
        Ok(())
    }
}

/// The records of an audit and of a survey: they name the program that wrote them.
const RECORDS: [&str; 2] = ["audit.json", "index.json"];

/// How far into a record the program's name stands, bytes.
const HEAD: usize = 300;

/// What runs wrote before they kept lists.
const UNLISTED: [&str; 17] = [
    "audit.json",
    "delivery.html",
    "findings.csv",
    "findings.csv-metadata.json",
    "frames.csv",
    "frames.csv-metadata.json",
    "index.csv",
    "index.html",
    "index.json",
    "index.txt",
    "levels.csv",
    "levels.csv-metadata.json",
    "manifest-sha256.txt",
    "patch.csv",
    "patch.csv-metadata.json",
    "report.html",
    "summary.txt",
];

/// True for the names of folders that hold a camera's delivery or a sequence's report.
fn is_of_a_set(name: &str) -> bool {
    let number = name.split_once('-').map(|(number, _)| number);
    let sequence = number.is_some_and(|n| n.len() >= 2 && n.bytes().all(|b| b.is_ascii_digit()));
    sequence || name.starts_with("camera-")
}
