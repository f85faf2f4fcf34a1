//! What a JPEG stream declares, read without decoding any of it.
//!
//! Source: ISO/IEC 10918-1 (ITU-T T.81), annex B.

use super::caps::Work;

/// Markers: baseline, extended, progressive and lossless frames with Huffman coding; tables of codes and of
/// steps; start of a scan; end of the image.
const FRAMES: std::ops::RangeInclusive<u8> = 0xC0..=0xC3;
const PROGRESSIVE: u8 = 0xC2;
const LOSSLESS: u8 = 0xC3;
const CODES: u8 = 0xC4;
const STEPS: u8 = 0xDB;
const SCAN: u8 = 0xDA;
const END: u8 = 0xD9;
/// Samples of a block.
const BLOCK: u64 = 64;

/// One component: its name in the stream, and how often it is sampled each way within a unit of the picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Component {
    name: u8,
    across: u64,
    down: u64,
}

/// What the frame header and the scan headers say.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Declared {
    /// Width and height, px.
    pub size: (u64, u64),
    components: Vec<Component>,
    kind: u8,
    /// Scans in all.
    scans: u32,
    /// Blocks that they go over together.
    blocks: u64,
    /// Segments, and bytes of tables in them.
    segments: u32,
    tables: u64,
    /// True where the first scan does not hold every component.
    parted: bool,
}

impl Declared {
    /// Follows the stream's segments to its end; `None` where there is no frame header before the first scan,
    /// or where segments do not follow each other so that every decoder finds the same ones.
    pub(crate) fn of(bytes: &[u8]) -> Option<Self> {
        let mut out = Self::default();
        let mut at = bytes.starts_with(&[0xFF, 0xD8]).then_some(2)?;
        while let Some((marker, body)) = next_marker(bytes, at, out.scans > 0)? {
            if marker == END {
                break;
            }
            let length = bytes.get(body..body + 2).map(|l| usize::from(u16::from_be_bytes([l[0], l[1]])));
            // What ends within a segment is no more than it has told.
            let Some(segment) = length.and_then(|l| bytes.get(body + 2..body + l.max(2))) else { break };
            at = body + 2 + segment.len();
            out.segments = out.segments.saturating_add(1);
            match marker {
                _ if FRAMES.contains(&marker) && out.components.is_empty() => out.frame(marker, segment)?,
                SCAN => {
                    out.scan(segment)?;
                    at = after_scan(bytes, at);
                }
                CODES | STEPS => out.tables += segment.len() as u64,
                _ => {}
            }
        }
        (!out.components.is_empty()).then_some(out)
    }

    fn frame(&mut self, kind: u8, segment: &[u8]) -> Option<()> {
        let [_, h1, h2, w1, w2, count, components @ ..] = segment else { return None };
        let number = |a: &u8, b: &u8| u64::from(u16::from_be_bytes([*a, *b]));
        self.size = (number(w1, w2), number(h1, h2));
        self.kind = kind;
        let components = components.as_chunks::<3>().0;
        let fits = (1..=4).contains(count) && components.len() == usize::from(*count);
        self.components = components.iter().take(4).map(component).collect();
        let sampled =
            self.components.iter().all(|c| (1..=4).contains(&c.across) && (1..=4).contains(&c.down));
        (fits && sampled).then_some(())
    }

    fn scan(&mut self, segment: &[u8]) -> Option<()> {
        let (count, named) = segment.split_first()?;
        let named = named.as_chunks::<2>().0.iter().take(usize::from(*count)).map(|c| c[0]);
        let held: Vec<&Component> =
            named.filter_map(|name| self.components.iter().find(|c| c.name == name)).collect();
        if self.components.is_empty() {
            return None;
        }
        if self.scans == 0 {
            self.parted = held.len() != self.components.len();
        }
        // A component that is named twice is gone over twice.
        let blocks: u64 = held.iter().map(|c| c.across * c.down).sum();
        self.scans = self.scans.saturating_add(1);
        self.blocks = self.blocks.saturating_add(blocks * self.units());
        Some(())
    }

    /// Units of the picture: what holds each component as often as it is sampled.
    fn units(&self) -> u64 {
        let most = |of: fn(&Component) -> u64| self.components.iter().map(of).max().unwrap_or(1);
        self.size.0.div_ceil(8 * most(|c| c.across)) * self.size.1.div_ceil(8 * most(|c| c.down))
    }

    /// Samples of all components, filled up to whole units.
    fn samples(&self) -> u64 {
        BLOCK * self.units() * self.components.iter().map(|c| c.across * c.down).sum::<u64>()
    }

    fn work(&self, bytes: u64) -> Work {
        let pixels = self.size.0 * self.size.1;
        // A lossless stream is gone over sample by sample, and is decoded at its whole size whatever is
        // asked.
        let lossless = if self.kind == LOSSLESS { 8 * pixels * self.components.len() as u64 } else { 0 };
        Work {
            size: self.size,
            bytes: bytes + lossless,
            scans: self.scans,
            blocks: self.blocks + lossless / BLOCK,
            segments: self.segments,
            tables: self.tables,
        }
    }

    /// Decoding all of it: three codes a pixel and, where its parts come in turn, a coefficient of two bytes
    /// a sample; afterwards the codes and their luma. Some rows of samples are held in any case.
    pub(crate) fn whole(&self) -> Work {
        let pixels = self.size.0 * self.size.1;
        let kept = if self.kind == PROGRESSIVE || self.parted { 2 * self.samples() } else { 0 };
        self.work(3 * pixels + kept.max(pixels) + 512 * self.size.0)
    }

    /// Decoding one pixel of `by` each way.
    pub(crate) fn reduced(&self, by: u64) -> Work {
        let (pixels, by) = (self.size.0 * self.size.1, by * by);
        let kept = if self.kind == PROGRESSIVE { 2 * self.samples() } else { 0 };
        let planes = self.samples().div_ceil(by) + 7 * pixels.div_ceil(by);
        self.work(kept + planes + 512 * self.size.0)
    }
}

fn component([name, sampling, _]: &[u8; 3]) -> Component {
    Component { name: *name, across: u64::from(sampling >> 4), down: u64::from(sampling & 15) }
}

/// The next marker from `at` on, and where its segment begins. The outer `None` is a stream in which decoders
/// part: between the segments before the first scan, some take a zero behind 0xFF for a filler and some for
/// no marker.
#[allow(clippy::option_option)]
fn next_marker(bytes: &[u8], mut at: usize, scanned: bool) -> Option<Option<(u8, usize)>> {
    loop {
        let Some(found) = bytes.get(at..).and_then(|rest| memchr::memchr(0xFF, rest)) else {
            return Some(None);
        };
        at += found + 1;
        while bytes.get(at) == Some(&0xFF) {
            at += 1;
        }
        match bytes.get(at) {
            None => return Some(None),
            Some(0) if !scanned => return None,
            Some(0) => at += 1,
            Some(marker) => return Some(Some((*marker, at + 1))),
        }
    }
}

/// Where the coded data that begins at `at` ends: at the next marker that is no restart.
fn after_scan(bytes: &[u8], mut at: usize) -> usize {
    while let Some(found) = bytes.get(at..).and_then(|rest| memchr::memchr(0xFF, rest)) {
        at += found;
        match bytes.get(at + 1) {
            Some(0 | 0xD0..=0xD7) => at += 2,
            Some(0xFF) => at += 1,
            _ => return at,
        }
    }
    bytes.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A stream of headers: `frame` is its marker, `sampling` that of each component, `scans` which of them
    /// each scan holds.
    fn headers(frame: u8, (width, height): (u16, u16), sampling: &[u8], scans: &[&[u8]]) -> Vec<u8> {
        let mut out = vec![0xFF, 0xD8, 0xFF, 0xE0, 0, 4, 0xFF, SCAN];
        out.extend([0xFF, 0xFF, frame, 0, 8 + 3 * sampling.len() as u8, 8]);
        out.extend(height.to_be_bytes().into_iter().chain(width.to_be_bytes()));
        out.push(sampling.len() as u8);
        sampling.iter().zip(1..).for_each(|(s, name)| out.extend([name, *s, 0]));
        for scan in scans {
            out.extend([0xFF, SCAN, 0, 6 + 2 * scan.len() as u8, scan.len() as u8]);
            scan.iter().for_each(|name| out.extend([*name, 0]));
            out.extend([0, 63, 0, 0x12, 0xFF, 0, 0x34, 0xFF, 0xD3, 0x56]);
        }
        out.extend([0xFF, END]);
        out
    }

    /// A unit of a picture whose colours are sampled at half its width and height is 16 × 16 px: four blocks
    /// and one of each colour (annex A.2).
    #[test]
    fn scans_and_blocks_are_counted() {
        let bytes = headers(0xC2, (1000, 600), &[0x22, 0x11, 0x11], &[&[1, 2, 3], &[1], &[3], &[2]]);
        let told = Declared::of(&bytes).expect("it can be followed");
        let units = 63 * 38;
        assert_eq!((told.size, told.scans, told.blocks), ((1000, 600), 4, units * (6 + 4 + 1 + 1)));
        assert_eq!(told.whole().bytes, 3 * 600_000 + 2 * 64 * 6 * units + 512_000);
        let plain =
            Declared::of(&headers(0xC0, (1000, 600), &[0x22, 0x11, 0x11], &[&[1, 2, 3]])).expect("so");
        assert_eq!(plain.whole().bytes, 4 * 600_000 + 512_000);
        assert_eq!(plain.reduced(8).bytes, (units * 64 * 6).div_ceil(64) + 7 * 9375 + 512_000);
        let parted = Declared::of(&headers(0xC0, (1000, 600), &[0x11, 0x11, 0x11], &[&[1], &[2], &[3]]));
        assert_eq!(parted.expect("so").whole().bytes, 3 * 600_000 + 2 * 64 * 3 * 125 * 75 + 512_000);
    }

    #[test]
    fn what_cannot_be_followed_is_not() {
        let good = headers(0xC0, (64, 64), &[0x11], &[&[1]]);
        assert!(Declared::of(&good).is_some());
        for len in 0..good.len() {
            let told = Declared::of(&good[..len]);
            assert!(told.is_none_or(|t| t.size == (64, 64)), "{len}");
        }
        let zero = [&good[..2], &[0xFF, 0], &good[2..]].concat();
        assert_eq!(Declared::of(&zero), None, "decoders part here");
        assert_eq!(Declared::of(&headers(0xC0, (64, 64), &[0x15], &[&[1]])), None, "sampled five times");
        assert_eq!(Declared::of(b"nothing"), None);
    }
}
