//! The record of what was read: a line a file, added as it is read, so that a run that was interrupted in
//! any way goes on where it stopped. A line counts only while its file is what it was.

use super::past_cache::ReadFrom;
use super::seen::{Seen, Sha};
use super::tree::{Tree, TreeFile, Version};
use sha2::{Digest as _, Sha256};
use std::collections::HashMap;
use std::fmt::Write as _;

/// First words of each line; another number is another form.
const FORM: &str = "read-1";
/// Whence a file came: its disk; the system does not tell; it does not tell, and the disks were taken out and
/// put in again before.
const DISK: &str = "disk";
const UNKNOWN: &str = "unknown";
const REPLUGGED: &str = "replugged";

/// A tree, and the key of a file in it.
type Place = (String, Vec<u8>);

/// What a file was when it was read, its digest, and whence it came.
type Entry = (Version, Sha, ReadFrom);

/// What earlier runs read. Only looked up, so the order of the map shows nowhere.
#[derive(Debug, Default)]
pub struct Known(HashMap<Place, Entry>);

impl Known {
    /// From the text of a record. A line that is not whole is passed over: its file is read again. So is one
    /// of a file that may have come out of memory, where the disks were `replugged` by now.
    pub fn from_text(text: &str, replugged: bool) -> Self {
        let whole = text.split_inclusive('\n').filter_map(|l| l.strip_suffix('\n'));
        let counts = |line: &&str| !(replugged && line.split(' ').nth(2) == Some(UNKNOWN));
        Self(whole.filter(counts).filter_map(parsed).collect())
    }

    /// True for the text of a record, an empty one included.
    pub fn is_record(text: &str) -> bool {
        text.is_empty() || text.starts_with(FORM)
    }

    /// True where there is nothing.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// What was seen of a file that is still what it was; `None` where it has to be read.
    pub(crate) fn seen(&self, tree: &Tree, file: &TreeFile, marks: &[u64]) -> Option<Seen> {
        if self.0.is_empty() || !marks.is_empty() {
            return None;
        }
        let (version, digest, from) = self.0.get(&(place_of(tree), file.key.clone()))?;
        (*version == file.version && tells(version)).then(|| Seen {
            digest: *digest,
            marks: Vec::new(),
            from: *from,
            earlier: true,
        })
    }

    /// The line of a file; `None` where it may not be used later: it came out of memory, or the system tells
    /// no times by which a change would show.
    pub(crate) fn line(tree: &Tree, file: &TreeFile, seen: &Seen, replugged: bool) -> Option<String> {
        let from = match seen.from {
            ReadFrom::Disk => DISK,
            ReadFrom::Unknown if replugged => REPLUGGED,
            ReadFrom::Unknown => UNKNOWN,
            ReadFrom::Memory => return None,
        };
        if !tells(&file.version) {
            return None;
        }
        let mut line = format!("{FORM} ");
        push_hex(&mut line, &seen.digest);
        let time = |t: Option<i64>| t.map_or_else(|| "-".to_owned(), |t| t.to_string());
        let Version { bytes, modified, changed, created } = file.version;
        let (modified, changed, created) = (time(modified), time(changed), time(created));
        let _ = write!(line, " {from} {bytes} {modified} {changed} {created} {} ", place_of(tree));
        for byte in &file.key {
            match byte {
                b'!'..=b'$' | b'&'..=b'~' => line.push(char::from(*byte)),
                other => {
                    let _ = write!(line, "%{other:02X}");
                }
            }
        }
        line.push('\n');
        Some(line)
    }
}

/// The time of the content alone is not enough: a copy is given that of its original, and the disk of
/// another copy may be in the same place by now.
fn tells(version: &Version) -> bool {
    version.modified.is_some() && (version.changed.is_some() || version.created.is_some())
}

/// Which tree a line is of: its file system and its real path, as a digest, so that it is one word.
fn place_of(tree: &Tree) -> String {
    let mut hash = Sha256::new();
    hash.update(tree.volume.as_bytes());
    hash.update([0]);
    hash.update(tree.real.as_os_str().as_encoded_bytes());
    let mut text = String::new();
    push_hex(&mut text, hash.finalize().get(..8).unwrap_or_default());
    text
}

fn push_hex(out: &mut String, bytes: &[u8]) {
    for byte in bytes {
        let _ = write!(out, "{byte:02x}");
    }
}

fn parsed(line: &str) -> Option<(Place, Entry)> {
    let mut words = line.split(' ');
    let mut next = || words.next();
    if next()? != FORM {
        return None;
    }
    let digest = Sha::try_from(unhex(next()?)?).ok()?;
    let from = match next()? {
        DISK => ReadFrom::Disk,
        REPLUGGED | UNKNOWN => ReadFrom::Unknown,
        _ => return None,
    };
    let bytes = next()?.parse().ok()?;
    let mut time = || match next()? {
        "-" => Some(None),
        told => told.parse().ok().map(Some),
    };
    let version = Version { bytes, modified: time()?, changed: time()?, created: time()? };
    let place = next()?.to_owned();
    let key = unescaped(next()?)?;
    next().is_none().then_some(((place, key), (version, digest, from)))
}

fn unhex(text: &str) -> Option<Vec<u8>> {
    let digit = |b: &u8| char::from(*b).to_digit(16).and_then(|d| u8::try_from(d).ok());
    text.as_bytes().chunks(2).map(|pair| Some(digit(pair.first()?)? << 4 | digit(pair.get(1)?)?)).collect()
}

fn unescaped(text: &str) -> Option<Vec<u8>> {
    let mut parts = text.split('%');
    let mut out = parts.next()?.as_bytes().to_vec();
    for part in parts {
        let (code, rest) = part.split_at_checked(2)?;
        out.extend(unhex(code)?);
        out.extend_from_slice(rest.as_bytes());
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(key: &[u8]) -> TreeFile {
        let version = Version { bytes: 7, modified: Some(-5), changed: Some(9), created: None };
        TreeFile { path: "unused".into(), key: key.to_vec(), version, id: None }
    }

    fn seen(from: ReadFrom) -> Seen {
        Seen { digest: [0xAB; 32], marks: Vec::new(), from, earlier: false }
    }

    #[test]
    fn a_line_is_read_as_it_was_written() {
        let tree = Tree { real: "/media/card".into(), volume: "4C1B-02C1".into(), ..Tree::default() };
        for key in [&b"DCIM/100WEIR/A.JPG"[..], b"a b%20\n\xFF.JPG", b""] {
            let line = Known::line(&tree, &file(key), &seen(ReadFrom::Disk), false).unwrap();
            assert_eq!(line.lines().count(), 1, "{line}");
            let known = Known::from_text(&line, false);
            let back = known.seen(&tree, &file(key), &[]).unwrap();
            assert_eq!(back, Seen { earlier: true, ..seen(ReadFrom::Disk) });
            assert_eq!(known.seen(&tree, &file(key), &[3]), None, "its beginning was not noted");
            let mut other = file(key);
            other.version.changed = Some(10);
            assert_eq!(known.seen(&tree, &other, &[]), None);
            let volume = Tree { volume: "77AA-0001".into(), ..tree.clone() };
            assert_eq!(known.seen(&volume, &file(key), &[]), None, "another disk in its place");
        }
    }

    /// What was read before the disks were plugged in again may have come out of memory.
    #[test]
    fn only_what_was_read_after_the_replugging_counts_with_it() {
        let tree = Tree::default();
        let line = |replugged| Known::line(&tree, &file(b"A"), &seen(ReadFrom::Unknown), replugged).unwrap();
        for (before, now, counts) in
            [(false, false, true), (false, true, false), (true, true, true), (true, false, true)]
        {
            let known = Known::from_text(&line(before), now);
            assert_eq!(known.seen(&tree, &file(b"A"), &[]).is_some(), counts, "{before} {now}");
        }
    }

    #[test]
    fn what_proves_nothing_is_not_kept() {
        let tree = Tree::default();
        assert_eq!(Known::line(&tree, &file(b"A"), &seen(ReadFrom::Memory), false), None);
        let mut timeless = file(b"A");
        timeless.version.changed = None;
        assert_eq!(Known::line(&tree, &timeless, &seen(ReadFrom::Disk), false), None);
    }

    #[test]
    fn a_line_that_is_torn_is_passed_over() {
        let tree = Tree::default();
        let line = Known::line(&tree, &file(b"A.JPG"), &seen(ReadFrom::Disk), false).unwrap();
        for end in 0..line.len() {
            assert!(Known::from_text(&line[..end], false).is_empty(), "{end}");
        }
        let text = format!("\0\0\0\n{line}read-1 zz\n");
        assert_eq!(Known::from_text(&text, false).0.len(), 1);
        assert!(Known::from_text(&line.replace(FORM, "read-2"), false).is_empty());
    }
}
