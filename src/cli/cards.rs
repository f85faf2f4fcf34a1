//! The program without a command: what is on the cards that are mounted, and a folder that was dropped on it.

use super::exit::{Outcome, note};
use crate::units::shown_path;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// The cards that are mounted, in the order of their paths: what holds a `DCIM` among the usual places of
/// cards on this system.
pub(crate) fn mounted() -> Vec<PathBuf> {
    with_pictures(places())
}

/// Those of the places that hold a `DCIM`, each once.
fn with_pictures(places: Vec<PathBuf>) -> Vec<PathBuf> {
    let mut cards: Vec<PathBuf> = places.into_iter().filter(|place| dcim(place).is_some()).collect();
    cards.sort();
    cards.dedup_by_key(|card| card.canonicalize().unwrap_or_else(|_| card.clone()));
    cards
}

/// The folder of pictures on a card, in any case of letters.
fn dcim(card: &Path) -> Option<PathBuf> {
    let is_it = |entry: &std::fs::DirEntry| entry.file_name().eq_ignore_ascii_case("DCIM");
    let found = std::fs::read_dir(card).ok()?.flatten().find(is_it)?;
    found.path().is_dir().then(|| found.path())
}

/// Folders in which the systems of this family mount cards: below the first by user, below the others right
/// away (Filesystem Hierarchy Standard 3.0, udisks(8); on a Mac, from memory).
#[cfg(not(windows))]
fn places() -> Vec<PathBuf> {
    let below = |folder: &Path| -> Vec<PathBuf> {
        let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
        entries.map(|entry| entry.path()).filter(|path| path.is_dir()).collect()
    };
    let by_user = ["/run/media", "/media"].iter().flat_map(|place| below(Path::new(place)));
    let by_user: Vec<PathBuf> = by_user.flat_map(|user| below(&user)).collect();
    let plain = ["/media", "/mnt", "/Volumes"].iter().flat_map(|place| below(Path::new(place)));
    by_user.into_iter().chain(plain).collect()
}

/// The drives.
#[cfg(windows)]
fn places() -> Vec<PathBuf> {
    let drives = winsafe::GetLogicalDrives();
    let letters = ('A'..='Z').enumerate().filter(|(at, _)| drives & (1 << at) != 0);
    letters.map(|(_, letter)| PathBuf::from(format!("{letter}:\\"))).collect()
}

/// What is on each card, by the command line that tells it, and what to type for more.
pub(crate) fn tell_each(cards: &[PathBuf], survey: impl Fn(&[OsString]) -> Outcome) -> Outcome {
    let mut worst = Outcome::Quiet;
    for card in cards {
        note(&format!("On {}:", shown_path(card)));
        let told = survey(&["survey".into(), card.clone().into(), "--fail-on".into(), "never".into()]);
        worst = worst.or(told);
        let pictures = shown_path(&dcim(card).unwrap_or_else(|| card.clone()));
        note(&format!("To audit one: lapseproof audit \"{pictures}\" --interval 12s --frames 601"));
    }
    worst
}

/// The command line of an audit of what was dropped on the program: every argument is there, and none is a
/// command. The report goes to the user's documents, because the program may have been started anywhere.
pub(crate) fn dropped(args: &[OsString], is_command: impl Fn(&str) -> bool) -> Option<Vec<OsString>> {
    let first = args.get(1)?;
    if first.to_str().is_some_and(is_command) || !Path::new(first).exists() {
        return None;
    }
    let mut line: Vec<OsString> = vec![args[0].clone(), "audit".into()];
    line.extend(args[1..].iter().cloned());
    let alone = args[1..].iter().all(|arg| Path::new(arg).exists());
    if let Some(documents) = documents().filter(|_| alone) {
        let paths: Vec<PathBuf> = args[1..].iter().map(PathBuf::from).collect();
        let name = super::audit::safe(&super::audit::folder_name(&paths));
        line.extend(["--out".into(), documents.join("lapseproof").join(name).into()]);
    }
    Some(line)
}

/// The folder of the user's documents; `None` where there is none.
fn documents() -> Option<PathBuf> {
    let named = std::env::var_os("XDG_DOCUMENTS_DIR").map(PathBuf::from);
    let usual = std::env::home_dir().map(|home| home.join("Documents"));
    named.into_iter().chain(usual).find(|folder| folder.is_absolute() && folder.is_dir())
}

/// Keeps the window open that the system made for a program something was dropped on. A prompt of the command
/// line sets `PROMPT`.
pub(crate) fn keep_window() {
    use std::io::IsTerminal as _;
    if cfg!(windows) && std::env::var_os("PROMPT").is_none() && std::io::stdin().is_terminal() {
        note("Press Enter to close this window.");
        let _ = std::io::stdin().read_line(&mut String::new());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_card_is_what_holds_a_dcim() {
        let dir = tempfile::tempdir().expect("a folder");
        for folder in ["b/dcim/100WEIR", "a/DCIM", "disk/pictures", "file"] {
            std::fs::create_dir_all(dir.path().join(folder)).expect("a folder");
        }
        std::fs::write(dir.path().join("file/DCIM"), b"no folder").expect("written");
        let places = ["b", "a", "disk", "file", "gone", "a"].map(|name| dir.path().join(name));
        assert_eq!(with_pictures(places.to_vec()), ["a", "b"].map(|name| dir.path().join(name)));
    }

    #[test]
    fn what_is_dropped_is_audited() {
        let dir = tempfile::tempdir().expect("a folder");
        let folder = OsString::from(dir.path());
        let is_command = |word: &str| word == "survey";
        let of = |words: &[&OsString]| {
            let line: Vec<OsString> =
                std::iter::once("lapseproof".into()).chain(words.iter().map(|w| (*w).clone())).collect();
            dropped(&line, is_command)
        };
        let line = of(&[&folder]).expect("an audit");
        assert_eq!(&line[1..3], ["audit".into(), folder.clone()]);
        let more = of(&[&folder, &"--quiet".into()]).expect("an audit");
        assert_eq!(
            &more[1..],
            ["audit".into(), folder, "--quiet".into()],
            "who types flags types the folder"
        );
        assert_eq!(of(&[&"survey".into()]), None);
        assert_eq!(of(&[&"nothing here".into()]), None);
    }
}
