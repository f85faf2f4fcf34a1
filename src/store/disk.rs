//! The folder on the disk. It is held open: what is done by names below it stays in it, whatever becomes of
//! the path that led there.

#[cfg(unix)]
mod unix;
#[cfg(windows)]
mod windows;

use super::folder::Output;
use std::fs::File;
use std::io::{self, Read as _, Write};
#[cfg(unix)]
pub use unix::{Disk, Identity};
#[cfg(windows)]
pub use windows::{Disk, Identity};

/// A file with the system's own buffers alone.
struct Written(File);

impl Write for Written {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl Output for Written {
    fn sync(&mut self) -> io::Result<()> {
        self.0.sync_all()
    }
}

fn at_most(file: File, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    file.take(most.saturating_add(1)).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        return Err(io::Error::other(format!("it is larger than {most} bytes")));
    }
    Ok(bytes)
}
