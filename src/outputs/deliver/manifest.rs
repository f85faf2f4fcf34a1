//! `manifest-sha256.txt`: a line a file, the digest, two blanks and the path below one folder, with `/`
//! between its parts. The form is that of GNU `sha256sum`, which BagIt (RFC 8493, section 2.1.3) uses too.
//!
//! A name that holds a backslash, a line feed or a carriage return is written with `\\`, `\n` and `\r`, and
//! its line begins with a backslash, as GNU coreutils has it. RFC 8493 writes `%0A`, `%0D` and `%25` instead:
//! both are read.

use std::io::{self, Write};
use std::path::{Component, PathBuf};

/// The file's name.
pub const NAME: &str = "manifest-sha256.txt";

/// A file of the manifest.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Entry {
    /// Path below the manifest's folder, `/` between its parts; the bytes that the file system has.
    pub path: Vec<u8>,
    /// Its SHA-256.
    pub sha256: [u8; 32],
}

/// The checksums of the files audited.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sums {
    /// One a file, in order of path.
    pub entries: Vec<Entry>,
    /// Bytes of all of them.
    pub bytes: u64,
    /// Files that could not be read to their end: they are not in the manifest.
    pub unread: u64,
}

/// A digest in hexadecimal.
pub fn hex(digest: &[u8; 32]) -> String {
    digest.iter().map(|b| format!("{b:02x}")).collect()
}

/// Writes the lines, in the order given.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(entries: &[Entry], mut out: impl Write) -> io::Result<()> {
    for entry in entries {
        let mut name = Vec::with_capacity(entry.path.len());
        for byte in &entry.path {
            match byte {
                b'\\' => name.extend(b"\\\\"),
                b'\n' => name.extend(b"\\n"),
                b'\r' => name.extend(b"\\r"),
                other => name.push(*other),
            }
        }
        if name.len() != entry.path.len() {
            out.write_all(b"\\")?;
        }
        out.write_all(hex(&entry.sha256).as_bytes())?;
        out.write_all(b"  ")?;
        out.write_all(&name)?;
        out.write_all(b"\n")?;
    }
    Ok(())
}

/// How many names a bag (RFC 8493, section 2.1.3) would write otherwise, or which readers of bags commonly do
/// not keep: line ends and percent signs, which it writes as `%0A`, `%0D` and `%25`; backslashes, which mark
/// a line of coreutils; blanks at an end.
pub fn unlike_a_bag(entries: &[Entry]) -> usize {
    let signs = |path: &[u8]| path.iter().any(|b| matches!(b, b'\n' | b'\r' | b'%' | b'\\'));
    let ends = |path: &[u8]| path.trim_ascii().len() != path.len() || path.starts_with(b"*");
    entries.iter().filter(|e| signs(&e.path) || ends(&e.path)).count()
}

/// Reads a manifest; the numbers of the lines that are none, from 1, come second. Empty lines and lines that
/// begin with `#` are passed over; a carriage return before the line's end is taken as part of the end.
pub fn read(bytes: &[u8]) -> (Vec<Entry>, Vec<usize>) {
    let bytes = bytes.strip_prefix("\u{FEFF}".as_bytes()).unwrap_or(bytes);
    let (mut entries, mut bad) = (Vec::new(), Vec::new());
    for (n, line) in bytes.split(|b| *b == b'\n').enumerate() {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        if line.is_empty() || line.starts_with(b"#") {
            continue;
        }
        match entry(line) {
            Some(entry) => entries.push(entry),
            None => bad.push(n + 1),
        }
    }
    (entries, bad)
}

fn entry(line: &[u8]) -> Option<Entry> {
    let (escaped, line) = match line.strip_prefix(b"\\") {
        Some(rest) => (true, rest),
        None => (false, line),
    };
    let (digits, rest) = line.split_at_checked(64)?;
    let mut sha256 = [0; 32];
    for (byte, pair) in sha256.iter_mut().zip(digits.chunks(2)) {
        let pair = std::str::from_utf8(pair).ok().filter(|p| p.bytes().all(|b| b.is_ascii_hexdigit()))?;
        *byte = u8::from_str_radix(pair, 16).ok()?;
    }
    // Two blanks, or a blank and the star that marks a binary file; BagIt allows any blanks.
    let name =
        rest.strip_prefix(b"  ").or(rest.strip_prefix(b" *")).unwrap_or_else(|| rest.trim_ascii_start());
    let blank = rest.first().is_some_and(|b| matches!(b, b' ' | b'\t'));
    if !blank || name.is_empty() {
        return None;
    }
    let path = if escaped { unescaped(name)? } else { name.to_vec() };
    Some(Entry { path, sha256 })
}

fn unescaped(name: &[u8]) -> Option<Vec<u8>> {
    let mut path = Vec::with_capacity(name.len());
    let mut bytes = name.iter();
    while let Some(byte) = bytes.next() {
        path.push(match byte {
            b'\\' => match bytes.next()? {
                b'\\' => b'\\',
                b'n' => b'\n',
                b'r' => b'\r',
                _ => return None,
            },
            other => *other,
        });
    }
    Some(path)
}

/// The path as BagIt writes it, read: `%0A`, `%0D` and `%25` for line feed, carriage return and `%`; `None`
/// where it holds none.
pub fn bagit_path(path: &[u8]) -> Option<Vec<u8>> {
    let mut out = Vec::with_capacity(path.len());
    let mut rest = path;
    while let [first, tail @ ..] = rest {
        let code = rest.get(..3).map(<[u8]>::to_ascii_uppercase);
        let (byte, tail) = match code.as_deref() {
            Some(b"%0A") => (b'\n', rest.get(3..)?),
            Some(b"%0D") => (b'\r', rest.get(3..)?),
            Some(b"%25") => (b'%', rest.get(3..)?),
            _ => (*first, tail),
        };
        out.push(byte);
        rest = tail;
    }
    (out != path).then_some(out)
}

/// The path as a manifest writes it, fit to be joined to a folder; `None` where it leads out of that folder,
/// or where this system cannot have such a name.
///
/// Signs that lead out on one system are part of a name on another: a backslash, a colon, a tilde.
pub fn below(path: &[u8]) -> Option<PathBuf> {
    #[cfg(unix)]
    let path = {
        use std::os::unix::ffi::OsStrExt as _;
        PathBuf::from(std::ffi::OsStr::from_bytes(path))
    };
    #[cfg(not(unix))]
    let path = PathBuf::from(std::str::from_utf8(path).ok()?);
    let inside = |part| matches!(part, Component::Normal(_) | Component::CurDir);
    (path.components().all(inside) && path.file_name().is_some()).then_some(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entries(paths: &[&str]) -> Vec<Entry> {
        paths.iter().map(|p| Entry { path: p.as_bytes().to_vec(), sha256: [0xAB; 32] }).collect()
    }

    /// The lines that GNU coreutils 9.1 writes for these names, by running it.
    #[test]
    fn odd_names_are_written_as_coreutils_does() {
        let mut out = Vec::new();
        write(&entries(&["a\\b", "c\rr", "n\nl", "p%25.txt", "with space", " lead", "*star"]), &mut out)
            .unwrap();
        let hash = "ab".repeat(32);
        let want = format!(
            "\\{hash}  a\\\\b\n\\{hash}  c\\rr\n\\{hash}  n\\nl\n{hash}  p%25.txt\n{hash}  with \
             space\n{hash}   lead\n{hash}  *star\n"
        );
        assert_eq!(String::from_utf8(out).unwrap(), want);
    }

    #[test]
    fn what_is_written_is_read() {
        let all =
            entries(&["a\\b", "c\rr", "n\nl", "p%25.txt", "100WEIR/WEIR0001.JPG", "*star", "\u{202E}x"]);
        let mut out = Vec::new();
        write(&all, &mut out).unwrap();
        assert_eq!(read(&out), (all, Vec::new()));
    }

    #[test]
    fn other_writers_are_read() {
        let hash = "AB".repeat(32);
        let text = format!(
            "# made elsewhere\r\n{hash} *a.jpg\r\n\r\n{hash}\tb.jpg\n{hash} c.jpg\nabc  d\n{hash}e.jpg\n"
        );
        let (read, bad) = read(text.as_bytes());
        assert_eq!(read, entries(&["a.jpg", "b.jpg", "c.jpg"]));
        assert_eq!(bad, [6, 7]);
    }

    #[test]
    fn names_that_a_bag_writes_otherwise_are_counted() {
        let odd = entries(&["a\\b", "n\nl", "c\rr", "100%.jpg", "end ", " lead", "*star"]);
        assert_eq!(unlike_a_bag(&odd), odd.len());
        assert_eq!(unlike_a_bag(&entries(&["100WEIR/a b.JPG", "~x", "a*b"])), 0);
    }

    /// RFC 8493, section 2.1.3.
    #[test]
    fn bagit_writes_percent_signs() {
        assert_eq!(bagit_path(b"data/a%0Ab%25c%0d").as_deref(), Some(&b"data/a\nb%c\r"[..]));
        assert_eq!(bagit_path(b"data/100%.jpg"), None);
    }

    #[test]
    fn paths_that_lead_out_are_seen() {
        for path in ["/etc/passwd", "../x", "a/../../x", "a/..", "..", ".", ""] {
            assert_eq!(below(path.as_bytes()), None, "{path}");
        }
        for path in ["100WEIR/..weir..JPG", "~root.JPG", "~/x", "./a"] {
            assert_eq!(below(path.as_bytes()), Some(path.into()), "{path}");
        }
        // Parts of a name on Unix; on Windows a drive, and a way up.
        for path in ["C:\\x.JPG", "DCIM\\../x.JPG", "a\\..\\x"] {
            assert_eq!(below(path.as_bytes()).is_some(), cfg!(unix), "{path}");
        }
    }
}
