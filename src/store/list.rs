//! `files-sha256.txt`: what belongs together, with the SHA-256 of each file, in the lines of GNU `sha256sum`.
//! What an earlier run left stands below it behind a `#`, so that it is known for what it is.

use std::collections::BTreeMap;

/// The list's own name.
pub const NAME: &str = "files-sha256.txt";

/// Files by their path below the folder of the list, and the SHA-256 of each.
pub type Sums = BTreeMap<String, [u8; 32]>;

/// What a list says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct List {
    /// The files of the last run.
    pub now: Sums,
    /// Files that an earlier run wrote and the last one did not.
    pub earlier: Sums,
}

const EARLIER: &str = "# Of an earlier run, and no part of this one:";

/// The bytes of a list.
pub fn write(list: &List) -> Vec<u8> {
    let line = |(path, sum): (&String, &[u8; 32])| {
        let digits: String = sum.iter().map(|b| format!("{b:02x}")).collect();
        format!("{digits}  {path}\n")
    };
    let mut text: String = list.now.iter().map(line).collect();
    if !list.earlier.is_empty() {
        text.push_str(EARLIER);
        text.push('\n');
        text.extend(list.earlier.iter().map(|entry| format!("# {}", line(entry))));
    }
    text.into_bytes()
}

/// What the bytes of a list say; lines that are none are passed over.
pub fn read(bytes: &[u8]) -> List {
    let mut list = List::default();
    for line in String::from_utf8_lossy(bytes).lines() {
        let (sums, line) = match line.strip_prefix("# ") {
            Some(rest) => (&mut list.earlier, rest),
            None => (&mut list.now, line),
        };
        sums.extend(entry(line));
    }
    list
}

/// A line of 64 hexadecimal digits, two blanks and a path.
pub(super) fn entry(line: &str) -> Option<(String, [u8; 32])> {
    let (digits, path) = line.split_once("  ")?;
    let mut sum = [0; 32];
    if digits.len() != 64 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) || path.is_empty() {
        return None;
    }
    for (byte, at) in sum.iter_mut().zip((0..64).step_by(2)) {
        *byte = u8::from_str_radix(digits.get(at..at + 2)?, 16).ok()?;
    }
    Some((path.to_owned(), sum))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read() {
        let sums = |names: &[&str]| names.iter().map(|n| ((*n).to_owned(), [0xAB; 32])).collect::<Sums>();
        let list = List { now: sums(&["audit.json", "01-weir/a b.html"]), earlier: sums(&["patch.csv"]) };
        let text = write(&list);
        assert_eq!(read(&text), list);
        let digits = "ab".repeat(32);
        let want =
            format!("{digits}  01-weir/a b.html\n{digits}  audit.json\n{EARLIER}\n# {digits}  patch.csv\n");
        assert_eq!(String::from_utf8(text).unwrap(), want);
        assert_eq!(read(b"abc  d\n\xFF\n#\n"), List::default());
    }
}
