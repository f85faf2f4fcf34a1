//! File systems and where they are mounted, as Linux tells it. Other systems of that family tell nothing
//! here, and every answer is then `None`.

use std::path::{Path, PathBuf};

/// The file system that holds a path, and the path within it.
pub(crate) fn place(path: &Path) -> Option<(String, PathBuf)> {
    placed(&mount_table(), path)
}

fn mount_table() -> String {
    std::fs::read_to_string("/proc/self/mountinfo").unwrap_or_default()
}

/// The file system that holds a path, and the path within it, from the text of `/proc/self/mountinfo`
/// (proc_pid_mountinfo(5)).
fn placed(mounts: &str, path: &Path) -> Option<(String, PathBuf)> {
    let mut best: Option<(usize, String, PathBuf)> = None;
    for line in mounts.lines() {
        let mut fields = line.split(' ').skip(2);
        let (Some(device), Some(root), Some(point)) = (fields.next(), fields.next(), fields.next()) else {
            continue;
        };
        let point = PathBuf::from(unescaped(point));
        let depth = point.components().count();
        // Of two mounts on one point the later one is seen.
        let deeper = best.as_ref().is_none_or(|b| depth >= b.0);
        if let (Ok(below), true) = (path.strip_prefix(&point), deeper) {
            best = Some((depth, device.to_owned(), Path::new(&unescaped(root)).join(below)));
        }
    }
    best.map(|(_, device, path)| (device, path))
}

/// The mount point of the removable file system that holds `folder`. Only where the system tells; a best
/// effort.
pub(crate) fn removable(folder: &Path) -> Option<PathBuf> {
    let mounts = std::fs::read_to_string("/proc/self/mounts").ok()?;
    let (device, point) = holding(&mounts, folder)?;
    (point != Path::new("/") && is_removable(&device)).then_some(point)
}

/// Device and mount point of the file system that holds `folder`, from the text of `/proc/self/mounts`.
fn holding(mounts: &str, folder: &Path) -> Option<(PathBuf, PathBuf)> {
    let mut best: Option<(PathBuf, PathBuf)> = None;
    for line in mounts.lines() {
        let mut fields = line.split(' ').map(unescaped);
        let (Some(device), Some(point)) = (fields.next(), fields.next()) else { continue };
        let point = PathBuf::from(point);
        // Of two mounts on one point the later one is seen.
        let deeper = best.as_ref().is_none_or(|b| point.components().count() >= b.1.components().count());
        if folder.starts_with(&point) && deeper {
            best = Some((PathBuf::from(device), point));
        }
    }
    best
}

/// Blanks, tabs, line ends and backslashes are written as three octal digits there (getmntent(3)).
fn unescaped(field: &str) -> String {
    field.replace("\\040", " ").replace("\\011", "\t").replace("\\012", "\n").replace("\\134", "\\")
}

/// True where the kernel calls the disk of that device removable (`/sys/block/DISK/removable` is 1), or where
/// it is an SD card in a reader of its own, which it does not (`/sys/block/DISK/device/type` is SD).
fn is_removable(device: &Path) -> bool {
    let Ok(device) = device.canonicalize() else { return false };
    let Some(name) = device.file_name() else { return false };
    // A partition's folder in /sys lies inside that of its disk.
    let Ok(block) = Path::new("/sys/class/block").join(name).canonicalize() else { return false };
    [Some(block.as_path()), block.parent()].into_iter().flatten().any(|disk| {
        let says =
            |file: &str, word| std::fs::read_to_string(disk.join(file)).is_ok_and(|told| told.trim() == word);
        says("removable", "1") || says("device/type", "SD")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_deepest_mount_holds_a_folder() {
        let mounts =
            "/dev/a1 / ext4 rw 0 0\n/dev/b1 /media/my\\040card exfat rw 0 0\n/dev/c1 /media ext4 rw 0 0\n";
        let of = |folder| holding(mounts, Path::new(folder)).unwrap();
        assert_eq!(of("/media/my card/DCIM"), (PathBuf::from("/dev/b1"), PathBuf::from("/media/my card")));
        assert_eq!(of("/home/x"), (PathBuf::from("/dev/a1"), PathBuf::from("/")));
        assert_eq!(of("/media/my cards"), (PathBuf::from("/dev/c1"), PathBuf::from("/media")));
    }

    /// A folder that is mounted a second time has one place in its file system.
    #[test]
    fn a_place_is_the_file_systems_own() {
        let mounts = "22 1 8:1 / / rw - ext4 /dev/a1 rw\n31 22 8:17 / /media/card rw - exfat /dev/b1 rw\n40 \
                      22 8:17 /DCIM/100\\040A /mnt/b rw - exfat /dev/b1 rw\n41 22 8:17 /MISC /mnt/c rw - \
                      exfat /dev/b1 rw\n";
        let of = |path| placed(mounts, Path::new(path)).unwrap();
        assert_eq!(of("/mnt/b/out"), ("8:17".into(), "/DCIM/100 A/out".into()));
        assert_eq!(of("/media/card/DCIM/100 A/out"), of("/mnt/b/out"));
        assert_eq!(of("/home/x"), ("8:1".into(), "/home/x".into()));
        assert_eq!(placed("", Path::new("/home/x")), None);
    }
}
