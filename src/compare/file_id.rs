//! Which file is which whatever path leads to it, and which disk and file system hold it.

use std::fs::Metadata;

/// Which file or folder something is, whatever path leads to it: a hard link and a bind mount have those of
/// what they show.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId {
    /// Number of the device.
    pub device: u64,
    /// Number in its file system.
    pub inode: u64,
}

impl FileId {
    /// As the system tells; `None` on systems that do not without opening the file.
    pub fn of(meta: &Metadata) -> Option<Self> {
        #[cfg(unix)]
        {
            use std::os::unix::fs::MetadataExt as _;
            Some(Self { device: meta.dev(), inode: meta.ino() })
        }
        #[cfg(not(unix))]
        {
            let _ = meta;
            None
        }
    }
}

/// The disk that holds a device: partitions of one disk have one. Elsewhere than on Linux, the device.
pub(crate) fn disk_of(device: u64) -> String {
    #[cfg(target_os = "linux")]
    {
        let (major, minor) = (rustix::fs::major(device), rustix::fs::minor(device));
        let place = std::path::PathBuf::from(format!("/sys/dev/block/{major}:{minor}"));
        if let Ok(block) = place.canonicalize() {
            let disk = if block.join("partition").exists() { block.parent() } else { Some(block.as_path()) };
            return disk.map_or_else(String::new, |d| d.to_string_lossy().into_owned());
        }
    }
    device.to_string()
}

/// A name of the file system that holds a device and of no other one, where the system has one. A card of
/// the same names and times that is put into the same reader has another.
pub(crate) fn volume_of(device: u64) -> String {
    #[cfg(target_os = "linux")]
    {
        use std::os::unix::fs::MetadataExt as _;
        let names = std::fs::read_dir("/dev/disk/by-uuid").into_iter().flatten().flatten();
        let of_device = |e: &std::fs::DirEntry| e.path().metadata().is_ok_and(|m| m.rdev() == device);
        if let Some(name) = names.filter(of_device).map(|e| e.file_name()).min() {
            return name.to_string_lossy().into_owned();
        }
    }
    device.to_string()
}
