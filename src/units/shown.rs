//! Text for people: file and Exif text is untrusted and is shown with its controls made visible.

use super::words::plain;
use std::fmt::Write as _;
use std::path::Path;

/// `text` with control, direction-changing and invisible characters written as visible escapes, so that no
/// name can move a cursor, turn a line round or hide a part of itself.
pub fn shown(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if is_hidden(c) {
            let _ = write!(out, "\\u{{{:X}}}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    out
}

/// A path as people type it, and fit to show.
pub fn shown_path(path: &Path) -> String {
    shown(&typed(path.display().to_string()))
}

/// The text of a path as people type it. Windows puts `\\?\` before a path that it has resolved, and takes
/// both separators; on other systems either is part of a name.
pub(crate) fn typed(path: String) -> String {
    if cfg!(windows) { unprefixed(&path) } else { path }
}

/// Source: "Naming Files, Paths, and Namespaces" in the documentation of Windows, from memory.
fn unprefixed(path: &str) -> String {
    let on_a_drive = |rest: &&str| rest.as_bytes().get(1) == Some(&b':');
    let path = match (path.strip_prefix(r"\\?\UNC\"), path.strip_prefix(r"\\?\").filter(on_a_drive)) {
        (Some(share), _) => format!(r"\\{share}"),
        (None, rest) => rest.unwrap_or(path).to_owned(),
    };
    // Somebody who typed `/` alone reads it again; a mixture is nobody's.
    if path.contains('\\') { path.replace('/', "\\") } else { path }
}

/// True for characters that show nothing and yet act: controls, marks of direction, and what is drawn as
/// nothing where it is not known.
///
/// Source: Unicode 16, DerivedCoreProperties.txt, Default_Ignorable_Code_Point; with it the controls, the
/// separators of lines and paragraphs, and the marks of interlinear annotation. Ranges from memory.
pub fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{AD}' | '\u{34F}' | '\u{61C}' | '\u{115F}'..='\u{1160}' | '\u{17B4}'..='\u{17B5}'
                | '\u{180B}'..='\u{180F}'
                | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{3164}'
                | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{FFA0}' | '\u{FFF0}'..='\u{FFFB}'
                | '\u{1BCA0}'..='\u{1BCA3}' | '\u{1D173}'..='\u{1D17A}' | '\u{E0000}'..='\u{E0FFF}')
}

/// A system's refusal in words, without the numbers that differ from system to system.
pub fn refusal(error: &std::io::Error) -> String {
    use std::io::ErrorKind;
    match error.kind() {
        ErrorKind::NotFound => "it is not there".into(),
        ErrorKind::PermissionDenied => "permission denied".into(),
        ErrorKind::IsADirectory => "it is a folder".into(),
        _ => {
            let words = error.to_string();
            // One system ends its words with a full stop, where others leave that to the sentence.
            let plain = words.split(" (os error ").next().unwrap_or(&words).trim_end_matches('.');
            let mut letters = plain.chars();
            let first = letters.next().map(char::to_lowercase);
            shown(&first.into_iter().flatten().chain(letters).collect::<String>())
        }
    }
}

/// Seconds as people say them: `0.40 s`, `12 s`, `2 min 05 s`, `3 h 20 min`. Negative spans keep their sign.
pub fn duration(seconds: f64) -> String {
    let sign = if seconds < 0.0 { "−" } else { "" };
    let s = seconds.abs();
    if s < 60.0 {
        return format!("{sign}{} s", plain(s, if s < 1.0 { 3 } else { 2 }));
    }
    let whole = s.round() as u64;
    let (h, m, sec) = (whole / 3600, whole / 60 % 60, whole % 60);
    if h >= 72 {
        let (days, h) = (h / 24, h % 24);
        return if h == 0 { format!("{sign}{days} days") } else { format!("{sign}{days} days {h} h") };
    }
    match (h, m, sec) {
        (0, m, 0) => format!("{sign}{m} min"),
        (0, m, sec) => format!("{sign}{m} min {sec:02} s"),
        (h, 0, _) if h > 0 && sec < 30 => format!("{sign}{h} h"),
        (h, m, _) => format!("{sign}{h} h {m:02} min"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn controls_become_visible() {
        assert_eq!(shown("a\u{1b}[2Jb"), "a\\u{1B}[2Jb");
        assert_eq!(shown("IMG\u{202E}gpj.exe"), "IMG\\u{202E}gpj.exe");
        assert_eq!(shown("Übersee 海.jpg"), "Übersee 海.jpg");
        for hidden in
            ['\u{AD}', '\u{34F}', '\u{115F}', '\u{3164}', '\u{180E}', '\u{FE0F}', '\u{E0041}', '\u{E01EF}']
        {
            assert_eq!(shown(&format!("A{hidden}.JPG")), format!("A\\u{{{:X}}}.JPG", u32::from(hidden)));
        }
    }

    #[test]
    fn resolved_paths_of_windows_are_shown_as_they_are_typed() {
        assert_eq!(unprefixed(r"\\?\E:\DCIM\100WEIR"), r"E:\DCIM\100WEIR");
        assert_eq!(unprefixed(r"\\?\UNC\shelf\cards\weir"), r"\\shelf\cards\weir");
        assert_eq!(unprefixed(r"\\?\Volume{4c1b02c1}\weir"), r"\\?\Volume{4c1b02c1}\weir");
        assert_eq!(unprefixed(r"shoots/weir\plan.toml"), r"shoots\weir\plan.toml");
        assert_eq!(unprefixed("shoots/weir"), "shoots/weir");
        if cfg!(unix) {
            assert_eq!(shown_path(Path::new(r"\\?\E:\a/b")), r"\\?\E:\a/b", "a name like any other");
        }
    }

    #[test]
    fn refusals_carry_no_numbers() {
        use std::io::{Error, ErrorKind};
        assert_eq!(refusal(&Error::from(ErrorKind::NotFound)), "it is not there");
        assert_eq!(refusal(&Error::from(ErrorKind::PermissionDenied)), "permission denied");
        assert_eq!(refusal(&Error::other("Cut\u{7} off")), "cut\\u{7} off");
        // EIO, errno(3), as this system words it.
        #[cfg(target_os = "linux")]
        assert_eq!(refusal(&Error::from_raw_os_error(5)), "input/output error");
    }

    #[test]
    fn spans_read_as_spoken() {
        assert_eq!(duration(0.4), "0.4 s");
        assert_eq!(duration(12.0), "12 s");
        assert_eq!(duration(7.013), "7.01 s");
        assert_eq!(duration(125.0), "2 min 05 s");
        assert_eq!(duration(12_000.0), "3 h 20 min");
        assert_eq!(duration(7200.0), "2 h");
        assert_eq!(duration(-3600.0), "−1 h");
        assert_eq!(duration(71.5 * 3600.0), "71 h 30 min");
        assert_eq!(duration(72.0 * 3600.0), "3 days");
        assert_eq!(duration(100.0 * 3600.0), "4 days 4 h");
    }
}
