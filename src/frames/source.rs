//! Bounded reading of one file: small windows at chosen places, counted.

use std::fs::File;
use std::io::{self, ErrorKind};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use super::print;
use crate::card;

/// The first window, read once and kept. A camera's directory mostly lies in it.
pub const HEAD_BYTES: usize = 8 * 1024;

/// A small read outside the head takes the whole pages it touches: the device would fetch no less, and the
/// next read mostly lies in them.
const PAGE_BYTES: u64 = 4 * 1024;

/// Windows outside the head that are kept.
const WINDOWS: usize = 4;

/// No single window is larger than this, whatever a file's own lengths claim.
pub const WINDOW_CAP: usize = 256 * 1024 * 1024;

/// Bytes of a picture that are read at a time: a slow card gives them within a second, so that an
/// interruption is heard.
const PICTURE_PIECE: usize = 4 << 20;

/// A call that is interrupted is made again, so often.
const TRIES: u32 = 100;

/// Bytes at a place: a file, or whatever stands for one.
pub trait ReadAt {
    /// Puts bytes from `offset` on into `into`, and says how many; 0 where there are none.
    ///
    /// # Errors
    /// What the system says.
    fn read_some(&self, into: &mut [u8], offset: u64) -> io::Result<usize>;
}

impl ReadAt for File {
    #[cfg(unix)]
    fn read_some(&self, into: &mut [u8], offset: u64) -> io::Result<usize> {
        std::os::unix::fs::FileExt::read_at(self, into, offset)
    }

    #[cfg(windows)]
    fn read_some(&self, into: &mut [u8], offset: u64) -> io::Result<usize> {
        std::os::windows::fs::FileExt::seek_read(self, into, offset)
    }
}

impl ReadAt for Vec<u8> {
    fn read_some(&self, into: &mut [u8], offset: u64) -> io::Result<usize> {
        let from = usize::try_from(offset).unwrap_or(usize::MAX).min(self.len());
        let rest = &self[from..];
        let count = rest.len().min(into.len());
        into[..count].copy_from_slice(&rest[..count]);
        Ok(count)
    }
}

impl ReadAt for Arc<Vec<u8>> {
    fn read_some(&self, into: &mut [u8], offset: u64) -> io::Result<usize> {
        self.as_ref().read_some(into, offset)
    }
}

/// One file, open for reading, and what its reading has cost so far.
pub struct Source {
    inner: Box<dyn ReadAt>,
    len: u64,
    head: Vec<u8>,
    /// The last windows outside the head, and where each begins.
    windows: [(u64, Vec<u8>); WINDOWS],
    /// The window that is given up next.
    oldest: usize,
    bytes_read: u64,
    reads: u32,
    /// Bytes and calls that may still be asked for.
    left: (u64, u32),
    spent: bool,
    fell_short: bool,
}

impl Source {
    /// Opens a file for reading and reads its head.
    ///
    /// # Errors
    /// What the system says on opening or reading.
    pub fn open(path: &Path) -> io::Result<Self> {
        let (file, len) = card::open(path)?;
        at_chosen_places(&file);
        Self::of(Box::new(file), len)
    }

    /// Bytes in memory, read as if they were a file.
    ///
    /// # Errors
    /// None in practice; the type is that of [`Source::open`].
    pub fn over(bytes: Vec<u8>) -> io::Result<Self> {
        let len = bytes.len() as u64;
        Self::of(Box::new(bytes), len)
    }

    /// Anything that is said to hold `len` bytes; reads its head.
    ///
    /// # Errors
    /// What it says on reading.
    pub fn of(inner: Box<dyn ReadAt>, len: u64) -> io::Result<Self> {
        let mut source = Self {
            inner,
            len,
            head: Vec::new(),
            windows: Default::default(),
            oldest: 0,
            bytes_read: 0,
            reads: 0,
            left: (u64::MAX, u32::MAX),
            spent: false,
            fell_short: false,
        };
        source.head = source.fetch(0, HEAD_BYTES)?;
        Ok(source)
    }

    /// Length of the file in bytes when it was opened.
    pub fn len(&self) -> u64 {
        self.len
    }

    /// True where there is no byte in the file.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// The first [`HEAD_BYTES`] of the file, or all of it where it is shorter.
    pub fn head(&self) -> &[u8] {
        &self.head
    }

    /// Bytes that the system was asked for and gave.
    pub fn bytes_read(&self) -> u64 {
        self.bytes_read
    }

    /// How often the system was asked.
    pub fn reads(&self) -> u32 {
        self.reads
    }

    /// From here on at most so many bytes and reads are asked of the system; what lies beyond reads as if the
    /// file ended.
    pub fn allow(&mut self, bytes: u64, reads: u32) {
        self.left = (bytes, reads);
        self.spent = false;
    }

    /// True where something was left unread because of [`Source::allow`].
    pub fn is_spent(&self) -> bool {
        self.spent
    }

    /// True where the file gave less than it held when it was opened: it was cut while it was read.
    pub fn fell_short(&self) -> bool {
        self.fell_short
    }

    /// `len` bytes from `offset`, fewer where the file ends before; without a read where they lie in what is
    /// kept.
    ///
    /// # Errors
    /// What the system says on reading.
    pub fn view(&mut self, offset: u64, len: usize) -> io::Result<&[u8]> {
        let left = usize::try_from(self.len.saturating_sub(offset)).unwrap_or(usize::MAX);
        let len = len.min(left);
        if len == 0 {
            return Ok(&[]);
        }
        let place = match self.kept(offset, len) {
            Some(place) => place,
            None => self.window(offset, len)?,
        };
        let (from, bytes) = match place {
            None => (0, &self.head),
            Some(at) => (self.windows[at].0, &self.windows[at].1),
        };
        // A file that has shrunk since it was opened gives less than it promised.
        let from = usize::try_from(offset - from).unwrap_or(usize::MAX).min(bytes.len());
        Ok(&bytes[from..from.saturating_add(len).min(bytes.len())])
    }

    /// As [`Source::view`], in a list of its own.
    ///
    /// # Errors
    /// What the system says on reading.
    pub fn read_at(&mut self, offset: u64, len: usize) -> io::Result<Vec<u8>> {
        Ok(self.view(offset, len)?.to_vec())
    }

    /// `len` bytes of a picture from `offset`, fewer where the file ends before: from here on nothing counts
    /// against [`Source::allow`], which is for headers, and what is read is not kept, for pictures are large.
    /// `None` where `stop` is raised before all is read.
    ///
    /// # Errors
    /// What the system says on reading.
    pub fn picture_at(&mut self, offset: u64, len: usize, stop: &AtomicBool) -> io::Result<Option<Vec<u8>>> {
        let left = usize::try_from(self.len.saturating_sub(offset)).unwrap_or(usize::MAX);
        let len = len.min(left).min(WINDOW_CAP);
        if len == 0 || self.kept(offset, len).is_some() {
            return self.read_at(offset, len).map(Some);
        }
        self.left = (u64::MAX, u32::MAX);
        let mut bytes = self.fetch(offset, len.min(PICTURE_PIECE))?;
        bytes.reserve_exact(len - bytes.len());
        while bytes.len() < len {
            if stop.load(Ordering::Relaxed) {
                return Ok(None);
            }
            let more = self.fetch(offset + bytes.len() as u64, (len - bytes.len()).min(PICTURE_PIECE))?;
            if more.is_empty() {
                break;
            }
            bytes.extend(more);
        }
        Ok(Some(bytes))
    }

    /// Exactly `N` bytes from `offset`; `None` where the file ends before.
    ///
    /// # Errors
    /// What the system says on reading.
    pub fn array_at<const N: usize>(&mut self, offset: u64) -> io::Result<Option<[u8; N]>> {
        Ok(self.view(offset, N)?.first_chunk::<N>().copied())
    }

    /// The last `len` bytes of the file, and where they begin.
    ///
    /// # Errors
    /// What the system says on reading.
    pub fn tail(&mut self, len: usize) -> io::Result<(u64, &[u8])> {
        let from = self.len.saturating_sub(len as u64);
        Ok((from, self.view(from, len)?))
    }

    /// A hash over the head, the last `tail` bytes and the length.
    pub(super) fn print(&mut self, tail: usize) -> io::Result<u64> {
        let from = self.len.saturating_sub(tail as u64);
        let head = print::print(&[&self.head], self.len);
        Ok(print::print(&[self.view(from, tail)?], head))
    }

    /// Where bytes lie that have been read and are still here: in the head (`None`) or in a window.
    fn kept(&self, offset: u64, len: usize) -> Option<Option<usize>> {
        let end = offset.checked_add(len as u64)?;
        let holds = |from: u64, bytes: &[u8]| offset >= from && end - from <= bytes.len() as u64;
        if holds(0, &self.head) {
            return Some(None);
        }
        self.windows.iter().position(|(from, bytes)| holds(*from, bytes)).map(Some)
    }

    /// Reads a window that holds the bytes, in the place of the oldest one.
    fn window(&mut self, offset: u64, len: usize) -> io::Result<Option<usize>> {
        let mut from = offset;
        let mut bytes = Vec::new();
        let mut end = offset.saturating_add(len as u64);
        if (len as u64) < PAGE_BYTES {
            from -= offset % PAGE_BYTES;
            end = end.next_multiple_of(PAGE_BYTES);
        }
        // What the head holds is not read again.
        let head = self.head.len() as u64;
        if from < head {
            bytes.extend_from_slice(
                usize::try_from(from).ok().and_then(|f| self.head.get(f..)).unwrap_or(&[]),
            );
        }
        let rest = from.max(head.min(end));
        bytes.append(&mut self.fetch(rest, usize::try_from(end - rest).unwrap_or(usize::MAX))?);
        let at = self.oldest;
        self.oldest = (at + 1) % WINDOWS;
        self.windows[at] = (from, bytes);
        Ok(Some(at))
    }

    fn fetch(&mut self, offset: u64, len: usize) -> io::Result<Vec<u8>> {
        let there = usize::try_from(self.len.saturating_sub(offset)).unwrap_or(usize::MAX);
        let wanted = len.min(there).min(WINDOW_CAP);
        let allowed = wanted.min(usize::try_from(self.left.0).unwrap_or(usize::MAX));
        self.spent |= allowed < wanted;
        let mut out = vec![0; allowed];
        let mut filled = 0;
        let mut tries = 0;
        while filled < out.len() {
            if self.left.1 == 0 {
                self.spent = true;
                break;
            }
            match self.inner.read_some(&mut out[filled..], offset + filled as u64) {
                Ok(0) => {
                    self.fell_short = true;
                    break;
                }
                Ok(count) => {
                    filled += count;
                    self.reads += 1;
                    self.bytes_read += count as u64;
                    self.left = (self.left.0 - count as u64, self.left.1 - 1);
                }
                Err(e) if e.kind() == ErrorKind::Interrupted && tries < TRIES => tries += 1,
                Err(e) => return Err(e),
            }
        }
        out.truncate(filled);
        Ok(out)
    }
}

/// Tells the system that the file is read at chosen places: it would otherwise fetch ten times as much from a
/// card, ahead of what is asked. Advice alone: where it is not taken, nothing changes.
#[cfg(target_os = "linux")]
fn at_chosen_places(file: &File) {
    let _ = rustix::fs::fadvise(file, 0, None, rustix::fs::Advice::Random);
}

#[cfg(not(target_os = "linux"))]
fn at_chosen_places(_: &File) {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_are_cut_at_the_end_and_counted() {
        let bytes: Vec<u8> = (0..40_000_u32).map(|i| (i / 3) as u8).collect();
        let mut source = Source::over(bytes.clone()).expect("memory");
        assert_eq!((source.bytes_read(), source.reads()), (HEAD_BYTES as u64, 1));
        assert_eq!(source.read_at(100, 50).expect("memory"), &bytes[100..150]);
        assert_eq!(source.reads(), 1);
        assert_eq!(source.read_at(20_000, 5000).expect("memory"), &bytes[20_000..25_000]);
        assert_eq!(source.reads(), 2);
        assert_eq!(source.read_at(38_500, 50).expect("memory"), &bytes[38_500..38_550]);
        assert_eq!(source.read_at(39_990, 50).expect("memory"), &bytes[39_990..]);
        assert_eq!(source.read_at(u64::MAX, 50).expect("memory"), &[] as &[u8]);
        assert_eq!(source.array_at::<4>(39_998).expect("memory"), None);
        // The page from 36,864 on.
        assert_eq!((source.bytes_read(), source.reads()), (HEAD_BYTES as u64 + 5000 + 3136, 3));
        assert_eq!(source.read_at(22_000, 50).expect("memory"), &bytes[22_000..22_050]);
        assert_eq!(source.reads(), 3, "the large window is still there");
    }

    #[test]
    fn what_begins_in_the_head_is_not_read_twice() {
        let bytes: Vec<u8> = (0..40_000_u32).map(|i| (i / 3) as u8).collect();
        let mut source = Source::over(bytes.clone()).expect("memory");
        assert_eq!(source.read_at(8000, 500).expect("memory"), &bytes[8000..8500]);
        assert_eq!((source.bytes_read(), source.reads()), (HEAD_BYTES as u64 + 4096, 2));
        assert_eq!(source.read_at(0, 30_000).expect("memory"), &bytes[..30_000]);
        assert_eq!((source.bytes_read(), source.reads()), (30_000 + 4096, 3));
    }

    #[test]
    fn no_more_than_is_allowed() {
        let mut source = Source::over(vec![7; 100_000]).expect("memory");
        source.allow(6000, 10);
        assert_eq!(source.read_at(50_000, 10).expect("memory").len(), 10);
        assert!(!source.is_spent());
        assert_eq!(source.read_at(80_000, 5000).expect("memory").len(), 6000 - 4096);
        assert!(source.is_spent());
        source.allow(u64::MAX, 1);
        assert_eq!(source.read_at(10_000, 5000).expect("memory").len(), 5000);
        assert_eq!(source.read_at(30_000, 5000).expect("memory").len(), 0);
        assert!(source.is_spent());
    }

    #[test]
    fn offsets_beyond_four_gigabytes() {
        /// A file of 5 GiB: each byte is its place, divided by a page's length.
        struct Large;
        impl ReadAt for Large {
            fn read_some(&self, into: &mut [u8], offset: u64) -> io::Result<usize> {
                for (i, byte) in into.iter_mut().enumerate() {
                    *byte = ((offset + i as u64) / PAGE_BYTES) as u8;
                }
                Ok(into.len())
            }
        }
        let len = 5 << 30;
        let mut source = Source::of(Box::new(Large), len).expect("memory");
        let at = (4 << 30) + 3 * PAGE_BYTES;
        assert_eq!(source.array_at::<2>(at - 1).expect("memory"), Some([2, 3]));
        assert_eq!(source.tail(4).expect("memory"), (len - 4, &[0xFF; 4][..]));
    }
}
