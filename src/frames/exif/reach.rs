//! How much of an Exif block is enough: the directories and the values that a row is made from.

use crate::frames::tiff_bytes::TiffBytes;

/// The tags that a row is made from, in ascending order.
pub const WANTED: [u16; 32] = [
    0x000B, 0x010F, 0x0110, 0x0112, 0x0131, 0x0132, 0x829A, 0x829D, 0x8769, 0x8822, 0x8827, 0x8830, 0x8831,
    0x8832, 0x8833, 0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9201, 0x9202, 0x920A, 0x9290, 0x9291, 0x9292,
    0xA20E, 0xA210, 0xA402, 0xA403, 0xA431, 0xC62F,
];

/// True where the main and the Exif directory and every wanted value lie in `bytes`, the block or its beginning. What is
/// not found then is not in the block. A maker's notes, the thumbnail and other directories may lie beyond.
pub fn is_enough(bytes: &[u8]) -> bool {
    let tiff = TiffBytes::new(bytes);
    let inside = |at: usize| -> Option<Option<usize>> {
        let (entries, end) = tiff.directory(at)?;
        let mut exif = None;
        for entry in entries.filter(|e| WANTED.contains(&e.tag)) {
            if !tiff.reaches(entry) {
                return None;
            }
            if entry.tag == 0x8769 {
                exif = Some(*tiff.numbers(entry, 1)?.first()? as usize);
            }
        }
        (end <= bytes.len()).then_some(exif)
    };
    let main = tiff.long(4).and_then(|at| inside(at as usize));
    match main {
        None => false,
        Some(None) => true,
        Some(Some(at)) => inside(at).is_some(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A main directory with a date (132) at `date` and an Exif directory at `exif` that holds nothing but notes (927C) at
    /// `notes`, 1000 bytes long.
    fn block(date: u32, exif: u32, notes: u32) -> Vec<u8> {
        let entry = |tag: u16, kind: u16, count: u32, value: u32| {
            [&tag.to_le_bytes()[..], &kind.to_le_bytes(), &count.to_le_bytes(), &value.to_le_bytes()].concat()
        };
        let mut out = b"II*\0\x08\0\0\0\x02\0".to_vec();
        out.extend(entry(0x0132, 2, 20, date));
        out.extend(entry(0x8769, 4, 1, exif));
        out.extend([0; 4]);
        out.extend([1, 0]);
        out.extend(entry(0x927C, 7, 1000, notes));
        out.extend([0; 4]);
        out.extend([b'1'; 20]);
        out
    }

    #[test]
    fn what_is_wanted_must_be_there_and_nothing_else() {
        let at = |bytes: &[u8]| bytes.len() as u32 - 20;
        let date = at(&block(0, 0, 0));
        assert!(is_enough(&block(date, 38, 9999)));
        assert!(!is_enough(&block(date + 1, 38, 0)));
        assert!(!is_enough(&block(date, 90, 0)));
        assert!(!is_enough(&block(date, u32::MAX, 0)));
        assert!(!is_enough(&block(u32::MAX, 38, 0)));
        let whole = block(date, 38, 0);
        for len in 0..whole.len() {
            assert!(!is_enough(&whole[..len]), "{len}");
        }
    }
}
