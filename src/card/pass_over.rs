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
    fn folders() {
        let why = |name: &str, dcim| folder(OsStr::new(name), dcim);
        assert_eq!(why("MISC", false), Some(PassedOver::Housekeeping));
        assert_eq!(why(".Trashes", false), Some(PassedOver::Hidden));
        assert_eq!(why("PRIVATE", true), Some(PassedOver::Housekeeping));
        assert_eq!(why("PRIVATE", false), None);
        assert_eq!(why("100ABCDE", true), None);
    }
}
