//! A card and its copy, compared by the library and by the command.

use super::run::{code, copy, err, lapseproof_with, out, put, temp};
use lapseproof::compare::{self, Answer, Comparison, Known, Reading, Work};
use std::fs;
use std::path::Path;
use std::sync::OnceLock;
use std::sync::atomic::AtomicBool;

/// True where the system shows whence a file in the tests' folder is read: Linux with a disk below it.
pub fn shows() -> bool {
    static SHOWS: OnceLock<bool> = OnceLock::new();
    *SHOWS.get_or_init(|| {
        let dir = temp();
        put(dir.path(), "card/a", "a");
        put(dir.path(), "copy/a", "a");
        library(dir.path(), &Known::default(), &compare::from_disk).answer(false) == Answer::EveryFile
    })
}

/// The card and one copy below `dir`, compared by the library.
pub fn library(dir: &Path, known: &Known, open: &compare::Open<'_>) -> Comparison {
    compared(dir, known, open, &|_| {}, &|_| {}, &AtomicBool::new(false))
}

/// The same, with what it calls on the way.
pub fn compared(
    dir: &Path,
    known: &Known,
    open: &compare::Open<'_>,
    keep: &(dyn Fn(&str) + Sync),
    progress: &(dyn Fn(u64) + Sync),
    stop: &AtomicBool,
) -> Comparison {
    let list = |name: &str| compare::list(&dir.join(name), &AtomicBool::new(false)).expect("a folder");
    compare::settle(&dir.join("copy")).expect("it is written");
    let how = Reading { jobs: Some(1), replugged: false, open, keep, progress, stop };
    Work::of(vec![list("card"), list("copy")]).carry_out(known, &how)
}

/// `compare` in `dir`, whose record lies there. Where the system does not show whence it reads, the disks are
/// said to have been plugged in again.
pub fn run_compare(dir: &Path, args: &[&str]) -> (Option<i32>, String, String) {
    let state = dir.join("state");
    let state = state.to_str().expect("a plain path");
    let replugged: &[&str] = if shows() { &[] } else { &["--replugged"] };
    let told = lapseproof_with(
        dir,
        &[&["compare"], args, replugged].concat(),
        &[("XDG_STATE_HOME", state), ("HOME", state), ("LOCALAPPDATA", state)],
    );
    (code(&told), out(&told), err(&told))
}

/// A card of two frames with their companions, a clip, its sound and the camera's own files.
pub fn card(dir: &Path) {
    for (name, bytes) in [
        ("DCIM/100WEIR/WEIR0001.JPG", &[1_u8; 3000][..]),
        ("DCIM/100WEIR/WEIR0001.NEF", &[2; 9000]),
        ("DCIM/100WEIR/WEIR0001.xmp", b"<x/>"),
        ("DCIM/100WEIR/WEIR0002.JPG", &[3; 1000]),
        ("DCIM/100WEIR/WEIR0003.MOV", &[4; 70_000]),
        ("DCIM/100WEIR/WEIR0003.WAV", &[5; 500]),
        ("MISC/TRACK.GPX", b"<gpx/>"),
        ("DCIM/100WEIR/EMPTY.TXT", b""),
    ] {
        put(&dir.join("card"), name, bytes);
    }
    put(&dir.join("card"), ".Trashes/501/WEIR0009.JPG", [9; 10]);
    copy(&dir.join("card"), &dir.join("copy"));
    fs::remove_dir_all(dir.join("copy/.Trashes")).expect("removed");
}
