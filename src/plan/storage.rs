//! What a card holds: bytes, and the limits of its file system.
//!
//! Sources: FAT: the directory entry of 32 bytes and the file size of 32 bits (Microsoft, FAT32 File System
//! Specification); exFAT: a directory of 256 MiB at most, and three entries for a short name (Microsoft,
//! exFAT file system specification). Which card is formatted how: SD Association, SD, SDHC, SDXC.

use super::{CardPlan, FileSystem, levels};

/// Largest file on FAT16 and FAT32, bytes: 2³² − 1.
pub const FAT_FILE_BYTES: f64 = 4_294_967_295.0;

/// Entries of a FAT directory that are left for files: 2²¹ bytes of 32 each, without `.` and `..`.
pub const FAT_FOLDER_ENTRIES: u64 = (1 << 21) / 32 - 2;

/// Entries of an exFAT directory: 256 MiB of 32 bytes each.
pub const EXFAT_FOLDER_ENTRIES: u64 = (256 << 20) / 32;

/// Entries of an exFAT file whose name has at most 15 characters.
const EXFAT_ENTRIES_A_FILE: u64 = 3;

/// Frames that fill all folders of a card by the camera's rule of names: folders 100 to 999 of 9999 frames
/// (DCF, CIPA DC-009).
pub const DCF_FRAMES: u64 = 900 * 9999;

impl CardPlan {
    /// How the card is formatted: as planned, else as a card of its size usually is.
    pub fn formatted(&self) -> Option<FileSystem> {
        self.file_system.or_else(|| {
            Some(match self.size_bytes? {
                size if size <= 2e9 => FileSystem::Fat16,
                size if size <= 32e9 => FileSystem::Fat32,
                _ => FileSystem::Exfat,
            })
        })
    }

    /// Frames that the card holds, up to the share of its size that can be filled; `None` where a size is not
    /// said.
    pub fn frames_held(&self) -> Option<u64> {
        let frames = self.size_bytes? * levels::CARD_MOST_PERCENT / 100.0 / self.frame_bytes?;
        // A hair is added: the share of a round size is a round number of bytes.
        frames.is_finite().then_some((frames + 1e-6).floor().max(0.0) as u64)
    }
}

impl FileSystem {
    /// Its name in a plan and in words.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Fat16 => "FAT16",
            Self::Fat32 => "FAT32",
            Self::Exfat => "exFAT",
        }
    }

    /// Largest file, bytes; `None` where no card is large enough to reach it.
    pub const fn file_bytes(self) -> Option<f64> {
        match self {
            Self::Fat16 | Self::Fat32 => Some(FAT_FILE_BYTES),
            Self::Exfat => None,
        }
    }

    /// Entries that one folder holds.
    pub const fn folder_entries(self) -> u64 {
        match self {
            Self::Fat16 | Self::Fat32 => FAT_FOLDER_ENTRIES,
            Self::Exfat => EXFAT_FOLDER_ENTRIES,
        }
    }

    /// Entries that a file of that name takes in its folder.
    pub fn entries_of(self, name: &str) -> u64 {
        match self {
            // Thirteen characters an entry, and the short name's own; a camera's name of 8 + 3 capitals needs
            // no more than that.
            Self::Fat16 | Self::Fat32 if is_short(name) => 1,
            Self::Fat16 | Self::Fat32 => 1 + (name.encode_utf16().count() as u64).div_ceil(13),
            // Fifteen characters an entry, and two for the file itself.
            Self::Exfat => 2 + (name.encode_utf16().count() as u64).div_ceil(15).max(1),
        }
    }

    /// Files with a camera's names (`TIDE0012.JPG`) that one folder holds.
    pub const fn camera_files(self) -> u64 {
        match self {
            Self::Fat16 | Self::Fat32 => FAT_FOLDER_ENTRIES,
            Self::Exfat => EXFAT_FOLDER_ENTRIES / EXFAT_ENTRIES_A_FILE,
        }
    }
}

/// True for a name of 8 + 3 capitals, figures and `_`.
fn is_short(name: &str) -> bool {
    let plain = |part: &str| {
        part.bytes().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit() || matches!(c, b'_' | b'-' | b'~'))
    };
    let (stem, ending) = name.split_once('.').unwrap_or((name, ""));
    (1..=8).contains(&stem.len()) && ending.len() <= 3 && plain(stem) && plain(ending)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked values, computed outside the project: 64 GB of 25 MB are 2560 frames, 2483 of them on the 97 %
    /// that can be filled; 128 GB of 45 MB 2844, or 2759.
    #[test]
    fn frames_on_a_card() {
        let held = |size, frame| {
            CardPlan { size_bytes: Some(size), frame_bytes: Some(frame), file_system: None }.frames_held()
        };
        assert_eq!((64e9_f64 / 25e6).floor(), 2560.0);
        assert_eq!(held(64e9, 25e6), Some(2483));
        assert_eq!((128e9_f64 / 45e6).floor(), 2844.0);
        assert_eq!(held(128e9, 45e6), Some(2759));
        assert_eq!(CardPlan::default().frames_held(), None);
        // A card of 32 GB is 29.802 GiB.
        assert!((32e9_f64 / 1_073_741_824.0 - 29.802).abs() < 5e-4);
    }

    /// Published limits: 4,294,967,295 bytes and 65,534 files on FAT32; 8,388,608 entries and 2,796,202 files
    /// on exFAT; 8,999,100 frames by the camera's rule of names.
    #[test]
    fn limits_of_file_systems() {
        assert_eq!(FAT_FILE_BYTES, (1_u64 << 32) as f64 - 1.0);
        assert_eq!((FAT_FOLDER_ENTRIES, FileSystem::Fat32.camera_files()), (65_534, 65_534));
        assert_eq!((EXFAT_FOLDER_ENTRIES, FileSystem::Exfat.camera_files()), (8_388_608, 2_796_202));
        assert_eq!(DCF_FRAMES, 8_999_100);
        // A long name costs two entries at least, so half the files fit.
        assert_eq!(FileSystem::Fat32.entries_of("TIDE0012.JPG"), 1);
        assert_eq!(FileSystem::Fat32.entries_of("tide0012.jpg"), 2);
        assert_eq!(FAT_FOLDER_ENTRIES / FileSystem::Fat32.entries_of("frame-000012.JPG"), 21_844);
        assert_eq!(FAT_FOLDER_ENTRIES / FileSystem::Fat32.entries_of("frame_012.JPG"), 32_767);
        assert_eq!(FileSystem::Exfat.entries_of("TIDE0012.JPG"), 3);
    }

    #[test]
    fn a_card_is_formatted_as_its_size_asks() {
        let of = |size, said| CardPlan { size_bytes: size, frame_bytes: None, file_system: said }.formatted();
        assert_eq!(of(Some(2e9), None), Some(FileSystem::Fat16));
        assert_eq!(of(Some(32e9), None), Some(FileSystem::Fat32));
        assert_eq!(of(Some(64e9), None), Some(FileSystem::Exfat));
        assert_eq!(of(Some(64e9), Some(FileSystem::Fat32)), Some(FileSystem::Fat32));
        assert_eq!(of(None, None), None);
    }
}
