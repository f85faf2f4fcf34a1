//! Drives, as Windows tells of them.

use std::path::{Path, PathBuf};

/// Where a path lies in its file system: a path with its links followed says that here by itself.
pub fn place(_path: &Path) -> Option<(String, PathBuf)> {
    None
}

/// The topmost folder of the removable drive that holds `folder`, whose path is canonical.
pub fn removable(folder: &Path) -> Option<PathBuf> {
    let drive = folder.ancestors().last()?;
    let told = winsafe::GetDriveType(drive.to_str().map(|d| d.trim_start_matches(r"\\?\")));
    (told == winsafe::co::DRIVE::REMOVABLE).then(|| drive.to_owned())
}
