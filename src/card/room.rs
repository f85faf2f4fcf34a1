//! How much can still be written where a folder lies.

use std::path::Path;

/// Bytes that can still be written to the file system of `folder` by whoever asks; `None` where the system
/// does not tell.
#[cfg(unix)]
pub fn free_bytes(folder: &Path) -> Option<f64> {
    let told = rustix::fs::statvfs(folder).ok()?;
    Some(told.f_bavail as f64 * told.f_frsize as f64)
}

/// Bytes that can still be written to the drive of `folder` by whoever asks; `None` where the system does not
/// tell.
#[cfg(windows)]
pub fn free_bytes(folder: &Path) -> Option<f64> {
    let mut free = 0;
    winsafe::GetDiskFreeSpaceEx(folder.to_str(), Some(&mut free), None, None).ok()?;
    Some(free as f64)
}

/// Bytes that can still be written: this system is not asked.
#[cfg(not(any(unix, windows)))]
pub fn free_bytes(_folder: &Path) -> Option<f64> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_has_room_and_what_is_not_there_has_none() {
        let dir = tempfile::tempdir().expect("a folder");
        if cfg!(any(unix, windows)) {
            assert!(free_bytes(dir.path()).is_some_and(|bytes| bytes > 0.0));
        }
        assert_eq!(free_bytes(&dir.path().join("gone")), None);
    }
}
