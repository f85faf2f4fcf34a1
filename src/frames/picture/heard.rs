//! Bytes in memory that end where the reading is stopped.

use std::cell::Cell;
use std::io::{self, BufRead, Cursor, Read, Seek, SeekFrom};
use std::rc::Rc;
use std::sync::atomic::{AtomicBool, Ordering};

/// So many bytes are given at a time: a decoder makes at most 64 MB of them.
const PIECE: usize = 64 * 1024;

/// A reader of bytes that tells how far it has been read, and fails once the reading is stopped.
pub(crate) struct Heard<'a> {
    inner: Cursor<&'a [u8]>,
    at: Rc<Cell<u64>>,
    stop: &'a AtomicBool,
}

impl<'a> Heard<'a> {
    /// From the first byte on.
    pub(crate) fn new(bytes: &'a [u8], stop: &'a AtomicBool) -> Self {
        Self { inner: Cursor::new(bytes), at: Rc::default(), stop }
    }

    /// How far it has been read, now and later.
    pub(crate) fn place(&self) -> Rc<Cell<u64>> {
        Rc::clone(&self.at)
    }

    fn listen(&self) -> io::Result<()> {
        match self.stop.load(Ordering::Relaxed) {
            true => Err(io::Error::other("the reading was stopped")),
            false => Ok(()),
        }
    }

    fn told<T>(&self, of: T) -> T {
        self.at.set(self.inner.position());
        of
    }
}

impl Read for Heard<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.listen()?;
        let most = into.len().min(PIECE);
        let count = self.inner.read(&mut into[..most]);
        self.told(count)
    }
}

impl BufRead for Heard<'_> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        self.listen()?;
        let rest = self.inner.fill_buf()?;
        Ok(&rest[..rest.len().min(PIECE)])
    }

    fn consume(&mut self, count: usize) {
        self.inner.consume(count);
        self.told(());
    }
}

impl Seek for Heard<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let place = self.inner.seek(to);
        self.told(place)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_tells_its_place_and_hears_a_stop() {
        let (bytes, stop) = (vec![7; 200_000], AtomicBool::new(false));
        let mut heard = Heard::new(&bytes, &stop);
        let place = heard.place();
        let mut some = vec![0; 150_000];
        assert_eq!(heard.read(&mut some).expect("memory"), PIECE);
        heard.seek(SeekFrom::Start(100_000)).expect("memory");
        assert_eq!((heard.fill_buf().expect("memory").len(), place.get()), (PIECE, 100_000));
        heard.consume(5);
        assert_eq!(place.get(), 100_005);
        stop.store(true, Ordering::Relaxed);
        assert!(heard.read(&mut some).is_err() && heard.fill_buf().is_err());
    }
}
