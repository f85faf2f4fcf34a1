//! What is there: the files of a folder, a card or several, which of them are frames, and which belong to one
//! shot. Names and first bytes only; no stamps here.
//!
//! README.md beside this file tells how it works.

mod below;
mod exact;
mod file;
mod natural;
mod numbering;
mod open;
mod pairing;
pub(crate) mod pass_over;
mod room;
mod sniff;
mod walk;
mod weigh;

use std::ffi::OsStr;
use std::path::{Component, Path, PathBuf};

pub use below::{Below, NotBelow};
pub(crate) use exact::exact;
pub use file::{CardFile, FileKind};
pub(crate) use natural::names as natural_names;
pub use numbering::{advance, file_number, folder_number};
pub use open::{contents, open};
pub(crate) use pairing::{Part, part_of, stem_key};
pub use room::free_bytes;
pub use sniff::{SNIFF_BYTES, kind_by_extension, sniff};
pub use walk::{walk, walk_until};
use weigh::weigh;

/// The number in a camera's file name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FileNumber {
    /// The number itself.
    pub value: u32,
    /// How many digits it is written with; it wraps at that many nines.
    pub digits: u8,
}

/// One shot: a frame with its companions (raw + JPEG), in one folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shot {
    /// The file that is read for the stamp and the exposure (the raw where there is one).
    pub file: CardFile,
    /// The other files of the same shot, in order of name.
    pub companions: Vec<CardFile>,
    /// The number of a camera's file name; `None` where the name is not a camera's.
    pub number: Option<FileNumber>,
}

impl Shot {
    /// All its files, its own first.
    pub fn files(&self) -> impl Iterator<Item = &CardFile> {
        std::iter::once(&self.file).chain(&self.companions)
    }
}

/// A folder in which frames were found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Folder {
    /// Index into [`Card::roots`].
    pub root: u16,
    /// Path below that root; empty for the root itself.
    pub path: PathBuf,
    /// The DCF folder number (100 to 999) where the name has one (CIPA DC-009).
    pub number: Option<u16>,
}

/// Why a file was passed over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PassedOver {
    /// `._name`: a resource fork.
    ResourceFork,
    /// A hidden file, or one in a hidden folder.
    Hidden,
    /// A sidecar of settings (`.xmp` and its like).
    Sidecar,
    /// A video or its sound.
    Video,
    /// A thumbnail's file.
    Thumbnail,
    /// In `MISC` or another folder of the camera's own book-keeping.
    Housekeeping,
    /// A symbolic link, FIFO, socket or device.
    NotAFile,
    /// Neither by its name nor by its first bytes a picture.
    NotAPicture,
}

/// A place that could not be walked or read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// Path below FRAMES, made fit to show.
    pub path: String,
    /// What went wrong, in words.
    pub what: String,
}

/// All that was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Card {
    /// The folders that were walked, in the order in which they were named; a file that was named by itself
    /// stands under the folder that holds it.
    pub roots: Vec<PathBuf>,
    /// Every folder that holds a frame.
    pub folders: Vec<Folder>,
    /// The shots, in order of root, folder and natural order of name.
    pub shots: Vec<Shot>,
    /// How many files were passed over, and why; in order of reason, none twice. A `plan.toml` is not
    /// counted.
    pub passed_over: Vec<(PassedOver, u64)>,
    /// What could not be walked: the audit is then incomplete.
    pub trouble: Vec<Trouble>,
}

impl Card {
    /// Full path of a file, to open it.
    pub fn path_of(&self, file: &CardFile) -> PathBuf {
        let folder = &self.folders[file.folder as usize];
        let root = &self.roots[usize::from(folder.root)];
        root.join(&folder.path).join(Path::new(&*file.name))
    }

    /// Root and path below it of a folder, with `/` between its parts, as in [`Card::text_of`].
    pub fn folder_text(&self, folder: u32) -> (u16, String) {
        let Some(folder) = self.folders.get(folder as usize) else { return (0, String::new()) };
        let mut text = String::new();
        for part in &folder.path {
            if !text.is_empty() {
                text.push('/');
            }
            push_lossless(&mut text, part);
        }
        (folder.root, text)
    }

    /// Path below FRAMES with `/` between its parts, bytes that are not UTF-8 written `\xNN`, so that no two
    /// files share a text.
    pub fn text_of(&self, file: &CardFile) -> String {
        self.text_below(file, 0)
    }

    /// The same without its first `left_out` folders; see [`Card::shared_folders`].
    pub(crate) fn text_below(&self, file: &CardFile, left_out: usize) -> String {
        let folder = &self.folders[file.folder as usize];
        let mut text = String::new();
        for part in folder.path.iter().skip(left_out) {
            push_lossless(&mut text, part);
            text.push('/');
        }
        push_lossless(&mut text, &file.name);
        text
    }

    /// How many folders every frame lies below.
    pub(crate) fn shared_folders(&self) -> usize {
        let Some((first, others)) = self.folders.split_first() else { return 0 };
        let shared = |other: &Folder| first.path.iter().zip(&other.path).take_while(|(a, b)| a == b).count();
        let all = first.path.iter().count();
        others.iter().map(shared).fold(all, usize::min)
    }
}

/// A path with `/` between its parts, in the bytes that the file system has.
pub(crate) fn path_key(path: &Path) -> Vec<u8> {
    let mut bytes = Vec::new();
    for part in path.components() {
        if let Component::Normal(part) = part {
            if !bytes.is_empty() {
                bytes.push(b'/');
            }
            bytes.extend_from_slice(part.as_encoded_bytes());
        }
    }
    bytes
}

/// Adds `part` to `out`, bytes that are not UTF-8 as `\xNN`.
pub fn push_lossless(out: &mut String, part: &OsStr) {
    use std::fmt::Write as _;
    for chunk in part.as_encoded_bytes().utf8_chunks() {
        out.push_str(chunk.valid());
        for byte in chunk.invalid() {
            let _ = write!(out, "\\x{byte:02X}");
        }
    }
}
