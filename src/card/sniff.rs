//! Which container a file is, by its first bytes: the one place that maps magic to [`FileKind`].

use super::FileKind;

/// How many first bytes are enough to tell every container apart.
pub const SNIFF_BYTES: usize = 32;

/// Brands of an ISO base media file that hold HEIF pictures (ISO/IEC 23008-12; AVIF: AOM).
const HEIF_BRANDS: [&[u8; 4]; 13] = [
    b"mif1", b"mif2", b"msf1", b"miaf", b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"avif",
    b"avis", b"heif",
];

/// What the first bytes of a file say: [`FileKind::Unknown`] where they are no picture's that we know. `head` may be shorter
/// than [`SNIFF_BYTES`] where the file is.
pub fn sniff(head: &[u8]) -> FileKind {
    match head {
        // ISO/IEC 10918-1: SOI and the first byte of the next marker.
        [0xFF, 0xD8, 0xFF, ..] => FileKind::Jpeg,
        // TIFF 6.0; a file with 64-bit offsets (43 in place of 42) is not read.
        [b'I', b'I', 0x2A, 0, ..] | [b'M', b'M', 0, 0x2A, ..] => FileKind::Tiff,
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1A, b'\n', ..] => FileKind::Png,
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => FileKind::Webp,
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => iso(head),
        _ if OTHERS.iter().any(|(magic, at)| head.get(*at..).is_some_and(|b| b.starts_with(magic))) => {
            FileKind::Other
        }
        _ => FileKind::Unknown,
    }
}

/// First bytes, and where they stand, of containers that hold pictures and are not read here.
const OTHERS: [(&[u8], usize); 11] = [
    (b"FUJIFILMCCD-RAW", 0),
    (b"IIU\0", 0),
    (b"IIRO", 0),
    (b"IIRS", 0),
    (b"MMOR", 0),
    (b"\0MRM", 0),
    (b"FOVb", 0),
    (b"II\x1A\0\0\0HEAPCCDR", 0),
    (b"\0\0\0\x0CJXL \r\n\x87\n", 0),
    (b"\xFF\x0A", 0),
    (b"\0\0\0\x0CjP  \r\n\x87\n", 0),
];

/// A file type box: the major brand first, then the compatible ones that lie in the first bytes.
fn iso(head: &[u8]) -> FileKind {
    let size = head.first_chunk::<4>().map_or(0, |b| u32::from_be_bytes(*b) as usize);
    let end = size.clamp(12, head.len().max(12));
    let brands = || head.get(8..12).into_iter().chain(head.get(16..end).unwrap_or_default().chunks_exact(4));
    if brands().any(|b| b == b"crx ") {
        FileKind::Other
    } else if brands().any(|b| HEIF_BRANDS.iter().any(|known| b == *known)) {
        FileKind::Heif
    } else {
        FileKind::Unknown
    }
}

/// What a picture's extension promises, for a file that has not been opened yet; `None` where the extension is no
/// picture's. Lower or upper case.
pub fn kind_by_extension(extension: &str) -> Option<FileKind> {
    let lower = extension.to_ascii_lowercase();
    Some(match lower.as_str() {
        "jpg" | "jpeg" | "jpe" | "jif" | "jfif" | "mpo" => FileKind::Jpeg,
        "tif" | "tiff" | "dng" | "cr2" | "nef" | "nrw" | "arw" | "sr2" | "srf" | "pef" | "srw" | "gpr"
        | "3fr" | "fff" | "iiq" | "erf" | "kdc" | "dcr" | "mef" | "mos" | "rwl" => FileKind::Tiff,
        "png" => FileKind::Png,
        "webp" => FileKind::Webp,
        "heif" | "heic" | "heics" | "heifs" | "hif" | "avif" | "avifs" => FileKind::Heif,
        "jxl" | "jp2" => FileKind::Other,
        _ if FileKind::is_raw_name(&lower) => FileKind::Other,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_containers_by_their_first_bytes() {
        assert_eq!(sniff(b"\xFF\xD8\xFF\xE1"), FileKind::Jpeg);
        assert_eq!(sniff(b"II*\0\x08\0\0\0"), FileKind::Tiff);
        assert_eq!(sniff(b"MM\0*\0\0\0\x08"), FileKind::Tiff);
        assert_eq!(sniff(b"\x89PNG\r\n\x1A\n\0\0\0\rIHDR"), FileKind::Png);
        assert_eq!(sniff(b"RIFF\x10\0\0\0WEBPVP8X"), FileKind::Webp);
        assert_eq!(sniff(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic"), FileKind::Heif);
        assert_eq!(sniff(b"\0\0\0\x1Cftypmif1\0\0\0\0mif1avifmiaf"), FileKind::Heif);
        assert_eq!(sniff(b"\0\0\0\x18ftypcrx \0\0\0\x01crx isom"), FileKind::Other);
        assert_eq!(sniff(b"FUJIFILMCCD-RAW 0201"), FileKind::Other);
    }

    #[test]
    fn what_is_no_picture() {
        for head in [
            &b""[..],
            b"hello",
            b"\xFF\xFF\xFF\xFF",
            b"\0\0\0\x18ftypisom\0\0\0\0isommp42",
            b"II+\0\x08\0",
            b"ftyp",
            b"\0\0\0\0ftyp",
        ] {
            assert_eq!(sniff(head), FileKind::Unknown, "{head:?}");
        }
    }

    #[test]
    fn extensions_in_any_case() {
        assert_eq!(kind_by_extension("JPG"), Some(FileKind::Jpeg));
        assert_eq!(kind_by_extension("Nef"), Some(FileKind::Tiff));
        assert_eq!(kind_by_extension("hif"), Some(FileKind::Heif));
        assert_eq!(kind_by_extension("CR3"), Some(FileKind::Other));
        assert_eq!(kind_by_extension("mov"), None);
        assert_eq!(kind_by_extension(""), None);
    }
}
