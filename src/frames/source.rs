//! Bounded reading of one file: small windows at chosen places, counted.

use std::fs::File;
use std::io::{self, ErrorKind, Read, Seek, SeekFrom};
use std::path::Path;

use super::print;
use crate::card;

/// The first window, read once and kept. A camera's directory mostly lies in it.
pub const HEAD_BYTES: usize = 8 * 1024;

/// A small read outside the head takes this much: the next one mostly lies in it.
const SMALL_BYTES: usize = 2 * 1024;

/// No single window is larger than this, whatever a file's own lengths claim.
pub const WINDOW_CAP: usize = 256 * 1024 * 1024;

/// Bytes at a place: a file, or memory.
trait ReadAt {
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

/// One file, open for reading, and what its reading has cost so far.
pub struct Source {
    inner: Box<dyn ReadAt>,
    len: u64,
    head: Vec<u8>,
    /// The last small window outside the head, and where it begins.
    window: (u64, Vec<u8>),
    bytes_read: u64,
    reads: u32,
    fell_short: bool,
    position: u64,
}

impl Source {
    /// Opens a file for reading and reads its head.
    ///
    /// # Errors
    /// What the system says on opening or reading.
    pub fn open(path: &Path) -> io::Result<Self> {
        let (file, len) = card::open(path)?;
        at_chosen_places(&file);
        Self::new(Box::new(file), len)
    }

    /// Bytes in memory, read as if they were a file.
    ///
    /// # Errors
    /// None in practice; the type is that of [`Source::open`].
    pub fn over(bytes: Vec<u8>) -> io::Result<Self> {
        let len = bytes.len() as u64;
        Self::new(Box::new(bytes), len)
    }

    fn new(inner: Box<dyn ReadAt>, len: u64) -> io::Result<Self> {
        let mut source = Self {
            inner,
            len,
            head: Vec::new(),
            window: (0, Vec::new()),
            bytes_read: 0,
            reads: 0,
            fell_short: false,
            position: 0,
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

    /// True where the file gave less than it held when it was opened: it was cut while it was read.
    pub fn fell_short(&self) -> bool {
        self.fell_short
    }

    /// `len` bytes from `offset`, fewer where the file ends before; from the head or the last small window without a read
    /// where they lie in it.
    ///
    /// # Errors
    /// What the system says on reading.
    pub fn read_at(&mut self, offset: u64, len: usize) -> io::Result<Vec<u8>> {
        let left = usize::try_from(self.len.saturating_sub(offset)).unwrap_or(usize::MAX);
        let len = len.min(left);
        if len == 0 {
            return Ok(Vec::new());
        }
        if let Some(kept) = self.kept(offset, len) {
            return Ok(kept.to_vec());
        }
        if len > SMALL_BYTES {
            return self.fetch(offset, len);
        }
        self.window = (offset, self.fetch(offset, SMALL_BYTES)?);
        let got = self.window.1.len().min(len);
        Ok(self.window.1[..got].to_vec())
    }

    /// Exactly `N` bytes from `offset`; `None` where the file ends before.
    ///
    /// # Errors
    /// What the system says on reading.
    pub fn array_at<const N: usize>(&mut self, offset: u64) -> io::Result<Option<[u8; N]>> {
        if let Some(kept) = self.kept(offset, N).and_then(|b| b.first_chunk::<N>()) {
            return Ok(Some(*kept));
        }
        Ok(self.read_at(offset, N)?.first_chunk::<N>().copied())
    }

    /// Bytes that have been read and are still here.
    fn kept(&self, offset: u64, len: usize) -> Option<&[u8]> {
        let inside = |from: u64, bytes: &'_ [u8]| -> Option<std::ops::Range<usize>> {
            let from = usize::try_from(offset.checked_sub(from)?).ok()?;
            let to = from.checked_add(len)?;
            (to <= bytes.len()).then_some(from..to)
        };
        let (at, window) = &self.window;
        match inside(0, &self.head) {
            Some(range) => self.head.get(range),
            None => window.get(inside(*at, window)?),
        }
    }

    /// The last `len` bytes of the file, and where they begin.
    ///
    /// # Errors
    /// What the system says on reading.
    pub fn tail(&mut self, len: usize) -> io::Result<(u64, Vec<u8>)> {
        let from = self.len.saturating_sub(len as u64);
        Ok((from, self.read_at(from, len)?))
    }

    /// A hash over the head, `tail` and the length.
    pub(super) fn print(&self, tail: &[u8]) -> u64 {
        print::print(&[&self.head, tail], self.len)
    }

    fn fetch(&mut self, offset: u64, len: usize) -> io::Result<Vec<u8>> {
        let left = usize::try_from(self.len.saturating_sub(offset)).unwrap_or(usize::MAX);
        let mut out = vec![0; len.min(left).min(WINDOW_CAP)];
        let mut filled = 0;
        while filled < out.len() {
            match self.inner.read_some(&mut out[filled..], offset + filled as u64) {
                Ok(0) => {
                    self.fell_short = true;
                    break;
                }
                Ok(count) => {
                    filled += count;
                    self.reads += 1;
                    self.bytes_read += count as u64;
                }
                Err(e) if e.kind() == ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
        out.truncate(filled);
        Ok(out)
    }
}

/// Tells the system that the file is read at chosen places: it would otherwise fetch ten times as much from a card, ahead of
/// what is asked. Advice alone: where it is not taken, nothing changes.
#[cfg(target_os = "linux")]
fn at_chosen_places(file: &File) {
    let _ = rustix::fs::fadvise(file, 0, None, rustix::fs::Advice::Random);
}

#[cfg(not(target_os = "linux"))]
fn at_chosen_places(_: &File) {}

/// For libraries that want a stream: the same bytes, the same counting.
impl Read for Source {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let bytes = self.read_at(self.position, into.len())?;
        into[..bytes.len()].copy_from_slice(&bytes);
        self.position += bytes.len() as u64;
        Ok(bytes.len())
    }
}

impl Seek for Source {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let target = match to {
            SeekFrom::Start(at) => Some(at),
            SeekFrom::End(by) => self.len.checked_add_signed(by),
            SeekFrom::Current(by) => self.position.checked_add_signed(by),
        };
        self.position = target.ok_or_else(|| io::Error::from(ErrorKind::InvalidInput))?;
        Ok(self.position)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_are_cut_at_the_end_and_counted() {
        let bytes: Vec<u8> = (0..40_000_u32).map(|i| i as u8).collect();
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
        assert_eq!((source.bytes_read(), source.reads()), (HEAD_BYTES as u64 + 5000 + 1500, 3));
    }

    #[test]
    fn as_a_stream() {
        let bytes: Vec<u8> = (0..40_000_u32).map(|i| (i / 7) as u8).collect();
        let mut source = Source::over(bytes.clone()).expect("memory");
        let mut all = Vec::new();
        source.seek(SeekFrom::Start(5)).expect("in range");
        source.read_to_end(&mut all).expect("memory");
        assert_eq!(all, &bytes[5..]);
        assert!(source.seek(SeekFrom::End(-50_000)).is_err());
    }
}
