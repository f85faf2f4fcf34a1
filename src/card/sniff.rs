//! Which container a file is, by its first bytes: the one place that maps magic to [`FileKind`].

use super::FileKind;

/// How many first bytes are enough to tell every container apart.
pub const SNIFF_BYTES: usize = 32;

/// Brands of an ISO base media file that hold HEIF pictures (ISO/IEC 23008-12; AVIF: AOM).
const HEIF_BRANDS: [&[u8; 4]; 13] = [
    b"mif1", b"mif2", b"msf1", b"miaf", b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"avif",
    b"avis", b"heif",
];

/// What the first bytes of a file say: [`FileKind::Unknown`] where they are no picture's that we know. `head`
/// may be shorter than [`SNIFF_BYTES`] where the file is.
pub fn sniff(head: &[u8]) -> FileKind {
    match head {
        // ISO/IEC 10918-1: SOI and the first byte of the next marker.
        [0xFF, 0xD8, 0xFF, ..] => FileKind::Jpeg,
        // TIFF 6.0; 43 in place of 42 stands for 64-bit offsets.
        [b'I', b'I', 0x2A | 0x2B, 0, ..] | [b'M', b'M', 0, 0x2A | 0x2B, ..] => FileKind::Tiff,
        [b'I', b'I', b'R', b'O' | b'S', ..] | [b'M', b'M', b'O', b'R', ..] => FileKind::Tiff,
        [b'I', b'I', b'U', 0, ..] => FileKind::Rw2,
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1A, b'\n', ..] => FileKind::Png,
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => FileKind::Webp,
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => iso(head),
        [0xFF, 0x0A, ..] => FileKind::Jxl,
        _ if head.starts_with(b"\0\0\0\x0CJXL \r\n\x87\n") => FileKind::Jxl,
        _ if head.starts_with(b"\0\0\0\x0CjP  \r\n\x87\n") => FileKind::Jp2,
        _ if head.starts_with(b"II\x1A\0\0\0HEAPCCDR") => FileKind::Crw,
        _ if head.starts_with(b"FUJIFILMCCD-RAW") => FileKind::Raf,
        _ if head.starts_with(b"\0MRM") => FileKind::Mrw,
        // Known by its first bytes, and not read here.
        _ if head.starts_with(b"FOVb") => FileKind::Other,
        _ => FileKind::Unknown,
    }
}

/// A file type box: the major brand first, then the compatible ones that lie in the first bytes.
fn iso(head: &[u8]) -> FileKind {
    let size = head.first_chunk::<4>().map_or(0, |b| u32::from_be_bytes(*b) as usize);
    let end = size.clamp(12, head.len().max(12));
    let brands = || head.get(8..12).into_iter().chain(head.get(16..end).unwrap_or_default().chunks_exact(4));
    if brands().any(|b| b == b"crx ") {
        FileKind::Cr3
    } else if brands().any(|b| HEIF_BRANDS.iter().any(|known| b == *known)) {
        FileKind::Heif
    } else {
        FileKind::Unknown
    }
}

/// What a picture's extension promises, for a file that has not been opened yet; `None` where the extension
/// is no picture's. Lower or upper case.
pub fn kind_by_extension(extension: &str) -> Option<FileKind> {
    let lower = extension.to_ascii_lowercase();
    Some(match lower.as_str() {
        "jpg" | "jpeg" | "jpe" | "jif" | "jfif" | "mpo" => FileKind::Jpeg,
        "tif" | "tiff" | "dng" | "cr2" | "nef" | "nrw" | "arw" | "sr2" | "srf" | "pef" | "srw" | "gpr"
        | "3fr" | "fff" | "iiq" | "erf" | "kdc" | "dcr" | "mef" | "mos" | "rwl" => FileKind::Tiff,
        "png" => FileKind::Png,
        "webp" => FileKind::Webp,
        "heif" | "heic" | "heics" | "heifs" | "hif" | "avif" | "avifs" => FileKind::Heif,
        "orf" | "ori" => FileKind::Tiff,
        "cr3" => FileKind::Cr3,
        "crw" => FileKind::Crw,
        "raf" => FileKind::Raf,
        "rw2" | "raw" => FileKind::Rw2,
        "mrw" => FileKind::Mrw,
        "jxl" => FileKind::Jxl,
        "jp2" => FileKind::Jp2,
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
        assert_eq!(sniff(b"\0\0\0\x18ftypcrx \0\0\0\x01crx isom"), FileKind::Cr3);
        assert_eq!(sniff(b"FUJIFILMCCD-RAW 0201"), FileKind::Raf);
        assert_eq!(sniff(b"IIU\0\x18\0\0\0"), FileKind::Rw2);
        for tiff in [&b"IIRO\x08\0\0\0"[..], b"IIRS\x08\0\0\0", b"MMOR\0\0\0\x08", b"II+\0\x08\0\0\0"] {
            assert_eq!(sniff(tiff), FileKind::Tiff);
        }
        assert_eq!(sniff(b"FOVb"), FileKind::Other);
    }

    #[test]
    fn what_is_no_picture() {
        for head in [
            &b""[..],
            b"hello",
            b"\xFF\xFF\xFF\xFF",
            b"\0\0\0\x18ftypisom\0\0\0\0isommp42",
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
        assert_eq!(kind_by_extension("CR3"), Some(FileKind::Cr3));
        assert_eq!(kind_by_extension("x3f"), Some(FileKind::Other));
        assert_eq!(kind_by_extension("mov"), None);
        assert_eq!(kind_by_extension(""), None);
    }
}
