//! A quick hash by which equal files are suspected. Not cryptographic: nothing is to be proved with it.

/// Multiplier of the 64-bit FNV hash (public domain, Fowler, Noll and Vo), applied here to words of eight
/// bytes.
const PRIME: u64 = 0x0000_0100_0000_01B3;
const START: u64 = 0xCBF2_9CE4_8422_2325;

/// Hash of the parts, each with its own length, and of `len`, the length of the whole file. The same on every
/// machine.
///
/// Words go to eight hashes in turn, which do not wait for each other.
pub(crate) fn print(parts: &[&[u8]], len: u64) -> u64 {
    let mut hash = mix(START, len);
    for part in parts {
        let mut lanes = [0_u64; 8];
        for (turn, lane) in lanes.iter_mut().enumerate() {
            *lane = hash.rotate_left(8 * turn as u32) ^ turn as u64;
        }
        let (blocks, rest) = part.as_chunks::<64>();
        for block in blocks {
            let (words, _) = block.as_chunks::<8>();
            for (lane, word) in lanes.iter_mut().zip(words) {
                *lane = mix(*lane, u64::from_le_bytes(*word));
            }
        }
        let mut last = [0; 64];
        last[..rest.len()].copy_from_slice(rest);
        for (lane, word) in lanes.iter_mut().zip(last.as_chunks::<8>().0) {
            *lane = mix(*lane, u64::from_le_bytes(*word));
        }
        hash = mix(lanes.into_iter().fold(START, mix), part.len() as u64);
    }
    hash ^ (hash >> 32)
}

/// The shift carries high bits down: a multiplication alone only carries up.
fn mix(hash: u64, word: u64) -> u64 {
    let mixed = (hash ^ word).wrapping_mul(PRIME);
    mixed ^ (mixed >> 29)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_bit_counts() {
        let base = vec![7_u8; 100];
        let first = print(&[&base, b"tail"], 1000);
        assert_eq!(first, print(&[&base, b"tail"], 1000));
        for bit in 0..base.len() * 8 {
            let mut other = base.clone();
            other[bit / 8] ^= 1 << (bit % 8);
            assert_ne!(first, print(&[&other, b"tail"], 1000), "bit {bit}");
        }
        assert_ne!(first, print(&[&base, b"tail"], 1001));
        assert_ne!(print(&[b"a", b""], 1), print(&[b"", b"a"], 1));
    }
}
