//! Reading a file from its disk rather than from the system's memory, and telling whether that worked.
//!
//! A file that was just copied lies in memory: reading it again says nothing of the disk. On Linux its pages
//! are given up before it is read (posix_fadvise(2), POSIX_FADV_DONTNEED). What is not on the disk yet cannot
//! be given up, so the system is asked to write what it holds for the copy first (syncfs(2)). Neither needs
//! the right to write. Then the bytes that this thread had fetched from a disk are counted
//! (`/proc/thread-self/io`, proc_pid_io(5)): as many as the file has there, and it was read from there.

use super::tree::Version;
use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;

/// Where the bytes of a file came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReadFrom {
    /// From the disk: so many bytes were fetched from it.
    Disk,
    /// Wholly or partly from the system's memory.
    Memory,
    /// The system does not tell: another system than Linux, a network, a file system in a program.
    Unknown,
}

/// A file that is read back.
pub trait ReadBack {
    /// Bytes in order; 0 at the end.
    ///
    /// # Errors
    /// What the system says.
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize>;

    /// What the file is now.
    ///
    /// # Errors
    /// What the system says.
    fn version(&self) -> io::Result<Version>;

    /// Where the bytes that were read came from. Asked once, at the end and by the thread that opened it.
    fn came_from(&mut self) -> ReadFrom;
}

/// A file of the disk.
pub(crate) struct OnDisk {
    file: File,
    #[cfg(target_os = "linux")]
    fetched_before: Option<u64>,
}

impl OnDisk {
    /// Gives up what the system has of the file in memory, and is ready to read it from its start.
    pub(crate) fn new(file: File) -> Self {
        #[cfg(target_os = "linux")]
        {
            use rustix::fs::{Advice, fadvise};
            // Advice that is not taken shows in the count.
            let _ = fadvise(&file, 0, None, Advice::DontNeed);
            let _ = fadvise(&file, 0, None, Advice::Sequential);
            Self { file, fetched_before: linux::fetched() }
        }
        #[cfg(not(target_os = "linux"))]
        Self { file }
    }
}

impl ReadBack for OnDisk {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.file.read(into)
    }

    fn version(&self) -> io::Result<Version> {
        Ok(Version::of(&self.file.metadata()?))
    }

    #[cfg(target_os = "linux")]
    fn came_from(&mut self) -> ReadFrom {
        let from = linux::came_from(&self.file, self.fetched_before, linux::fetched());
        // What else lies in memory is not to be driven out by a card.
        let _ = rustix::fs::fadvise(&self.file, 0, None, rustix::fs::Advice::DontNeed);
        from
    }

    #[cfg(not(target_os = "linux"))]
    fn came_from(&mut self) -> ReadFrom {
        ReadFrom::Unknown
    }
}

/// Has the system write what it still holds in memory for the file system of `folder`. It may take minutes.
/// Nothing is done where the system has no such call.
///
/// # Errors
/// What the system says: a disk that refuses what was copied to it.
pub fn settle(folder: &Path) -> io::Result<()> {
    #[cfg(target_os = "linux")]
    rustix::fs::syncfs(File::open(folder)?)?;
    #[cfg(not(target_os = "linux"))]
    let _ = folder;
    Ok(())
}

#[cfg(target_os = "linux")]
mod linux {
    use super::{File, ReadFrom};
    use rustix::fs::fstatfs;
    use std::os::unix::fs::MetadataExt as _;

    /// Numbers of file systems whose bytes come from a network or from another program: what was fetched from
    /// there may come out of its memory. Source: statfs(2) and linux/magic.h; NFS, SMB, CIFS, SMB2, 9P, AFS,
    /// Ceph, FUSE.
    const FROM_ELSEWHERE: [u32; 8] =
        [0x6969, 0x517B, 0xFF53_4D42, 0xFE53_4D42, 0x0102_1997, 0x5346_414F, 0x00C3_6400, 0x6573_5546];

    /// Bytes that this thread has fetched from disks so far; `None` where the kernel does not count them.
    pub(super) fn fetched() -> Option<u64> {
        let told = std::fs::read_to_string("/proc/thread-self/io").ok()?;
        told.lines().find_map(|l| l.strip_prefix("read_bytes: "))?.parse().ok()
    }

    pub(super) fn came_from(file: &File, before: Option<u64>, after: Option<u64>) -> ReadFrom {
        let (Some(before), Some(after), Ok(meta)) = (before, after, file.metadata()) else {
            return ReadFrom::Unknown;
        };
        // The numbers have 32 bits, in a type that differs from machine to machine.
        let elsewhere = fstatfs(file).map_or(true, |s| FROM_ELSEWHERE.contains(&(s.f_type as u32)));
        // A hole takes no room on the disk, and nothing is fetched for it.
        let on_disk = meta.len().min(meta.blocks().saturating_mul(512));
        judged(meta.len(), on_disk, after.saturating_sub(before), elsewhere, is_block_device(meta.dev()))
    }

    /// A file system without a device of its own (in memory, of several disks) may fetch in other ways.
    fn is_block_device(device: u64) -> bool {
        rustix::fs::major(device) != 0
    }

    pub(super) fn judged(length: u64, on_disk: u64, fetched: u64, elsewhere: bool, device: bool) -> ReadFrom {
        match () {
            () if length == 0 => ReadFrom::Disk,
            () if elsewhere => ReadFrom::Unknown,
            () if on_disk > 0 && fetched >= on_disk => ReadFrom::Disk,
            () if on_disk > 0 && device => ReadFrom::Memory,
            () => ReadFrom::Unknown,
        }
    }
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::linux::judged;
    use super::*;

    #[test]
    fn only_what_was_fetched_is_called_read_from_the_disk() {
        assert_eq!(judged(0, 0, 0, false, true), ReadFrom::Disk);
        assert_eq!(judged(10_000, 10_000, 12_288, false, true), ReadFrom::Disk);
        assert_eq!(judged(10_000, 10_000, 8_192, false, true), ReadFrom::Memory);
        assert_eq!(judged(10_000, 4_096, 4_096, false, true), ReadFrom::Disk, "a hole");
        assert_eq!(judged(10_000, 0, 0, false, true), ReadFrom::Unknown, "in the file's record");
        assert_eq!(judged(10_000, 10_000, 12_288, true, true), ReadFrom::Unknown, "a network");
        assert_eq!(judged(10_000, 10_000, 0, false, false), ReadFrom::Unknown, "in memory");
    }

    /// A file that was just written lies in memory. Without the care taken here it is read from there.
    #[test]
    fn a_file_is_read_from_its_disk() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a");
        std::fs::write(&path, vec![7; 3_000_000]).unwrap();
        settle(dir.path()).unwrap();
        let mut plain = File::open(&path).unwrap();
        let before = linux::fetched();
        let mut bytes = Vec::new();
        plain.read_to_end(&mut bytes).unwrap();
        let cached = linux::came_from(&plain, before, linux::fetched());
        let mut back = OnDisk::new(File::open(&path).unwrap());
        let mut piece = vec![0; 1 << 16];
        let mut sum = 0;
        while let Ok(n @ 1..) = back.read(&mut piece) {
            sum += n;
        }
        assert_eq!(sum, bytes.len());
        match back.came_from() {
            // A test's folder may lie in memory.
            ReadFrom::Unknown => assert_eq!(cached, ReadFrom::Unknown),
            from => assert_eq!((cached, from), (ReadFrom::Memory, ReadFrom::Disk)),
        }
    }
}
