//! Names as a folder has them. Windows reads more into a path than its parts: `AUX.JPG` is a device whatever
//! folder it stands in, and a dot or a blank at the end of a name is not seen. A card that another system
//! wrote may hold such names.

use std::borrow::Cow;
use std::path::Path;

/// A path whose every part is taken as it is written. Paths that leave that to the system (`..`, a drive
/// without a folder) stay as they are, and so does every path of other systems.
#[cfg(not(windows))]
pub(crate) fn exact(path: &Path) -> Cow<'_, Path> {
    Cow::Borrowed(path)
}

/// A path whose every part is taken as it is written. Paths that leave that to the system (`..`, a drive
/// without a folder) stay as they are, and so does every path of other systems.
///
/// Source: "Naming Files, Paths, and Namespaces" in the documentation of Windows, from memory.
#[cfg(windows)]
pub fn exact(path: &Path) -> Cow<'_, Path> {
    verbatim(path).map_or(Cow::Borrowed(path), Cow::Owned)
}

#[cfg(windows)]
fn verbatim(path: &Path) -> Option<std::path::PathBuf> {
    use std::ffi::OsString;
    use std::path::{Component, Prefix};
    let full = std::env::current_dir().ok()?.join(path);
    let mut parts = full.components();
    let Some(Component::Prefix(prefix)) = parts.next() else { return None };
    let mut out = match prefix.kind() {
        Prefix::Disk(_) => OsString::from(r"\\?\"),
        Prefix::UNC(..) => OsString::from(r"\\?\UNC"),
        _ => return None,
    };
    match prefix.kind() {
        Prefix::UNC(server, share) => {
            for part in [server, share] {
                out.push(r"\");
                out.push(part);
            }
        }
        _ => out.push(prefix.as_os_str()),
    }
    let Some(Component::RootDir) = parts.next() else { return None };
    out.push(r"\");
    let mut out = std::path::PathBuf::from(out);
    for part in parts {
        match part {
            Component::Normal(name) => out.push(name),
            Component::CurDir => {}
            _ => return None,
        }
    }
    Some(out)
}

#[cfg(all(test, windows))]
mod tests {
    use super::*;

    #[test]
    fn names_stay_as_they_are_written() {
        let of = |path| exact(Path::new(path)).display().to_string();
        assert_eq!(of(r"E:\DCIM/100WEIR\.\AUX.JPG"), r"\\?\E:\DCIM\100WEIR\AUX.JPG");
        assert_eq!(of(r"\\shelf\cards\weir."), r"\\?\UNC\shelf\cards\weir.");
        for kept in [r"E:\weir\..\x", r"\\?\E:\weir", r"\\.\NUL"] {
            assert_eq!(of(kept), kept);
        }
        assert!(of("weir").starts_with(r"\\?\") && of("weir").ends_with(r"\weir"));
    }
}
