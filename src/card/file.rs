//! A file of a card, and what kind it is.

use std::ffi::OsStr;

/// What a file is, told by its first bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FileKind {
    /// JPEG (ISO/IEC 10918-1), multi-picture files included.
    Jpeg,
    /// TIFF and the raws built on it (DNG, CR2, NEF, ARW, PEF, ORF and their like).
    Tiff,
    /// PNG.
    Png,
    /// WebP.
    Webp,
    /// HEIF, HIF and AVIF.
    Heif,
    /// CR3.
    Cr3,
    /// CRW.
    Crw,
    /// RAF.
    Raf,
    /// RW2.
    Rw2,
    /// MRW.
    Mrw,
    /// JPEG XL.
    Jxl,
    /// JPEG 2000 (JP2).
    Jp2,
    /// A picture's container that is known by its first bytes and cannot be read yet: a frame without a
    /// stamp, no damage.
    Other,
    /// A file with a picture's name whose first bytes are nothing we know: it is listed as a damaged frame.
    Unknown,
}

impl FileKind {
    /// True where the file is the camera's raw rather than a finished picture.
    pub fn is_raw_name(extension: &str) -> bool {
        matches!(
            extension.to_ascii_lowercase().as_str(),
            "cr2"
                | "cr3"
                | "crw"
                | "nef"
                | "nrw"
                | "arw"
                | "srw"
                | "pef"
                | "dng"
                | "gpr"
                | "3fr"
                | "iiq"
                | "rw2"
                | "orf"
                | "raf"
                | "mrw"
                | "x3f"
                | "sr2"
                | "srf"
                | "rwl"
                | "fff"
                | "erf"
                | "kdc"
                | "dcr"
                | "mef"
                | "mos"
        )
    }
}

/// One file of a shot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CardFile {
    /// Index into [`Card::folders`](super::Card::folders).
    pub folder: u32,
    /// The file's own name, as the file system has it.
    pub name: Box<OsStr>,
    /// Size in bytes at the time of the walk.
    pub bytes: u64,
    /// What its name promises, until the frames' reading has put in what its first bytes say. A companion's
    /// stays a promise unless it was read in its raw's place.
    pub kind: FileKind,
}
