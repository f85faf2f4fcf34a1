//! Where the card of a root begins: no output may lie in these places.

use std::path::{Path, PathBuf};

/// The places that are guarded for a root, which must be canonical: the root (the folder of a file), the folder above a
/// `DCIM` that it lies in, and the removable file system that holds it.
pub fn guarded(root: &Path) -> Vec<PathBuf> {
    let folder = if root.is_dir() { root } else { root.parent().unwrap_or(root) };
    let mut places = vec![folder.to_owned()];
    let dcim = |p: &&Path| p.file_name().is_some_and(|n| n.eq_ignore_ascii_case("DCIM"));
    places.extend(folder.ancestors().filter(dcim).filter_map(Path::parent).map(Path::to_owned));
    places.extend(removable(folder));
    places
}

/// The mount point of the removable file system that holds `folder`. Only where the system tells; a best effort.
fn removable(folder: &Path) -> Option<PathBuf> {
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

/// True where the kernel calls the disk of that device removable (`/sys/block/DISK/removable` is 1), or where it is an SD card in a
/// reader of its own, which it does not (`/sys/block/DISK/device/type` is SD).
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

    #[test]
    fn the_folder_above_a_dcim_is_guarded_in_any_case() {
        let dir = tempfile::tempdir().unwrap();
        let frames = dir.path().join("dcim/100WEIR");
        std::fs::create_dir_all(&frames).unwrap();
        assert!(guarded(&frames).contains(&dir.path().to_path_buf()));
    }
}
