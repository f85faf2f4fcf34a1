//! Files and folders that are passed over by their names. Which endings a camera or a desk writes: common
//! practice, no source.

use std::ffi::OsStr;
use std::path::Path;

use super::PassedOver;

/// Endings of settings, logs, notes and documents beside the frames.
const SIDECARS: [&str; 30] = [
    "xmp", "txt", "log", "csv", "tsv", "json", "xml", "toml", "yaml", "yml", "md", "pdf", "html", "htm",
    "dop", "pp3", "cos", "cop", "aae", "ini", "nksc", "on1", "arp", "gpx", "kml", "nmea", "md5", "sha256",
    "mhl", "srt",
];

/// Endings of moving pictures and sound.
const VIDEOS: [&str; 23] = [
    "mov", "mp4", "m4v", "avi", "mts", "m2ts", "mxf", "3gp", "mpg", "mpeg", "mkv", "wmv", "lrv", "360",
    "insv", "braw", "r3d", "crm", "wav", "mp3", "m4a", "aac", "flac",
];

/// Endings of the camera's own book-keeping on a card.
const HOUSEKEEPING: [&str; 8] = ["ctg", "mrk", "bdm", "cpi", "mpl", "bnp", "dsc", "ind"];

/// Folders of the camera's or the system's own book-keeping.
const HOUSEKEEPING_FOLDERS: [&str; 8] = [
    "MISC",
    "CANONMSC",
    "EOSMISC",
    "AVF_INFO",
    "LOST.DIR",
    "FOUND.000",
    "System Volume Information",
    "$RECYCLE.BIN",
];

/// Folders of video that stand beside `DCIM` at the top of a card; the names alone are too ordinary to go by.
const BESIDE_DCIM: [&str; 3] = ["PRIVATE", "AVCHD", "MP_ROOT"];

/// Why a file of this name is not looked into; `None` where its bytes decide.
pub(crate) fn file(name: &OsStr) -> Option<PassedOver> {
    let bytes = name.as_encoded_bytes();
    if bytes.starts_with(b"._") {
        return Some(PassedOver::ResourceFork);
    }
    if bytes.starts_with(b".") {
        return Some(PassedOver::Hidden);
    }
    let lower = name.to_string_lossy().to_ascii_lowercase();
    if matches!(lower.as_str(), "thumbs.db" | "ehthumbs.db") {
        return Some(PassedOver::Thumbnail);
    }
    if lower == "desktop.ini" {
        return Some(PassedOver::Housekeeping);
    }
    let extension = Path::new(&lower).extension()?.to_str()?;
    let one_of = |list: &[&str]| list.contains(&extension);
    if extension == "thm" {
        Some(PassedOver::Thumbnail)
    } else if one_of(&SIDECARS) {
        Some(PassedOver::Sidecar)
    } else if one_of(&VIDEOS) {
        Some(PassedOver::Video)
    } else if one_of(&HOUSEKEEPING) {
        Some(PassedOver::Housekeeping)
    } else {
        None
    }
}

/// Why a folder is not entered; `None` where it is walked. `beside_dcim` is true where a `DCIM` stands next
/// to it.
pub(crate) fn folder(name: &OsStr, beside_dcim: bool) -> Option<PassedOver> {
    if name.as_encoded_bytes().starts_with(b".") {
        return Some(PassedOver::Hidden);
    }
    let is = |known: &&str| name == OsStr::new(known);
    let housekeeping = HOUSEKEEPING_FOLDERS.iter().any(is) || (beside_dcim && BESIDE_DCIM.iter().any(is));
    housekeeping.then_some(PassedOver::Housekeeping)
}

/// Folders that a computer makes on every disk for itself: indexes, bins, its own records.
const FOLDERS_OF_SYSTEMS: [&str; 9] = [
    "System Volume Information",
    "$RECYCLE.BIN",
    ".Trashes",
    ".Trash",
    ".Spotlight-V100",
    ".fseventsd",
    ".TemporaryItems",
    ".DocumentRevisions-V100",
    "lost+found",
];

/// Files that a computer makes for itself beside those of the user.
const FILES_OF_SYSTEMS: [&str; 6] =
    [".DS_Store", ".apdisk", ".metadata_never_index", "Thumbs.db", "ehthumbs.db", "desktop.ini"];

/// True for what a computer leaves on a disk for itself: nobody misses it when a card is wiped. What a
/// camera keeps for itself is not among it, nor what was recovered from a damaged card (`FOUND.000`,
/// `LOST.DIR`): pictures may lie there.
pub(crate) fn is_the_systems(name: &OsStr, folder: bool) -> bool {
    let bytes = name.as_encoded_bytes();
    let is = |known: &&str| bytes.eq_ignore_ascii_case(known.as_bytes());
    match folder {
        true => FOLDERS_OF_SYSTEMS.iter().any(is) || bytes.starts_with(b".Trash-"),
        false => FILES_OF_SYSTEMS.iter().any(is) || bytes.starts_with(b"._"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_reason() {
        let why = |name: &str| file(OsStr::new(name));
        assert_eq!(why("._IMG_0001.JPG"), Some(PassedOver::ResourceFork));
        assert_eq!(why(".hidden.jpg"), Some(PassedOver::Hidden));
        assert_eq!(why("IMG_0001.XMP"), Some(PassedOver::Sidecar));
        assert_eq!(why("IMG_0001.JPG.xmp"), Some(PassedOver::Sidecar));
        assert_eq!(why("MVI_0001.MOV"), Some(PassedOver::Video));
        assert_eq!(why("MVI_0001.THM"), Some(PassedOver::Thumbnail));
        assert_eq!(why("Thumbs.db"), Some(PassedOver::Thumbnail));
        assert_eq!(why("M0100.CTG"), Some(PassedOver::Housekeeping));
        assert_eq!(why("IMG_0001.JPG"), None);
        assert_eq!(why("IMG_0001"), None);
    }

    #[test]
    fn what_is_the_systems() {
        let is = |name: &str, folder| is_the_systems(OsStr::new(name), folder);
        for folder in [".Trash-1000", "system volume information", "lost+found", ".fseventsd"] {
            assert!(is(folder, true) && !is(folder, false), "{folder}");
        }
        for file in ["._WEIR0001.JPG", ".DS_Store", "thumbs.db"] {
            assert!(is(file, false) && !is(file, true), "{file}");
        }
        for other in ["MISC", "LOST.DIR", "FOUND.000", "WEIR0001.THM", "M0100.CTG", ".hidden"] {
            assert!(!is(other, false) && !is(other, true), "{other}");
        }
    }

    #[test]
    fn folders() {
        let why = |name: &str, dcim| folder(OsStr::new(name), dcim);
        assert_eq!(why("MISC", false), Some(PassedOver::Housekeeping));
        assert_eq!(why(".Trashes", false), Some(PassedOver::Hidden));
        assert_eq!(why("PRIVATE", true), Some(PassedOver::Housekeeping));
        assert_eq!(why("PRIVATE", false), None);
        assert_eq!(why("100ABCDE", true), None);
    }
}
