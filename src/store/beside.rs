//! One file by itself, written beside its name and renamed: what stood there stays whole until the new one
//! is.

use super::{Disk, Folder, Kind, partial};
use std::io;
use std::path::Path;

/// Writes `bytes` to `path`; its folder has to be there. Where `overwrite` is not set, a file that is there
/// stays.
///
/// # Errors
/// What the system says; of kind *already exists* where something stands there that is to stay.
pub fn write_beside(path: &Path, bytes: &[u8], overwrite: bool) -> io::Result<()> {
    let (folder, name) = place(path)?;
    write(&folder, name, bytes, overwrite)
}

/// Takes away what a run that was ended left of a file that it wrote beside `path`.
///
/// # Errors
/// What the system says.
pub fn clear(path: &Path) -> io::Result<()> {
    let (folder, name) = place(path)?;
    cleared(&folder, &partial(name))
}

fn place(path: &Path) -> io::Result<(Disk, &str)> {
    let parent = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let name = path.file_name().and_then(|n| n.to_str());
    let name = name.ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "its name is no text"))?;
    Ok((Disk::open(parent)?, name))
}

fn cleared(folder: &dyn Folder, name: &str) -> io::Result<()> {
    if folder.kind(name)? == Kind::File { folder.remove(name) } else { Ok(()) }
}

fn write(folder: &dyn Folder, name: &str, bytes: &[u8], overwrite: bool) -> io::Result<()> {
    if !overwrite && folder.kind(name)? != Kind::Nothing {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    let beside = partial(name);
    cleared(folder, &beside)?;
    let mut file = folder.create(&beside)?;
    let written = file.write_all(bytes).and_then(|()| file.flush()).and_then(|()| file.sync());
    drop(file);
    let named = written.and_then(|()| match overwrite {
        true => folder.rename(&beside, name),
        false => folder.rename_new(&beside, name),
    });
    if named.is_err() {
        let _ = folder.remove(&beside);
        return named;
    }
    folder.sync()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn what_is_there_stays_unless_it_is_to_go() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("plan.toml");
        // What a run that was ended left behind.
        fs::write(dir.path().join(partial("plan.toml")), b"ha").unwrap();
        write_beside(&path, b"one", false).unwrap();
        let told = write_beside(&path, b"two", false).unwrap_err();
        assert_eq!(told.kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(fs::read(&path).unwrap(), b"one");
        write_beside(&path, b"two", true).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"two");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
        assert!(write_beside(&dir.path().join("gone/plan.toml"), b"x", true).is_err());
    }
}
