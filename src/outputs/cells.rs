//! Cells of the CSV files: text that no spreadsheet runs, and numbers with the decimals of their column.

use crate::evidence::Stamp;
use crate::units::{Figure, fixed, plain, shown};
use std::borrow::Cow;

/// A text cell. Where a spreadsheet would run it as a formula, an apostrophe goes before it. Source of the
/// list of leading characters: OWASP, "CSV Injection". What would move a terminal's cursor or turn a line
/// round is written as a visible escape; tabs and line ends stay, as RFC 4180 has them in quotes.
///
/// Where a spreadsheet takes semicolons or tabs for separators, a cell of its begins behind each of them:
/// there stands an apostrophe, too.
pub(crate) fn text(cell: &str) -> Cow<'_, str> {
    let cell = visible(cell);
    let starts = |c: char| matches!(c, '=' | '+' | '-' | '@');
    let parts = |c: char| matches!(c, ';' | '\t' | '\r' | '\n');
    if !cell.starts_with(|c| starts(c) || matches!(c, '\t' | '\r' | '\n')) && !cell.contains(parts) {
        return cell;
    }
    let mut out = String::with_capacity(cell.len() + 2);
    // Whether a cell may begin here; blanks before a formula do not hold it up.
    let mut begins = true;
    for (at, c) in cell.char_indices() {
        if begins && starts(c) || at == 0 && matches!(c, '\t' | '\r' | '\n') {
            out.push('\'');
        }
        begins = parts(c) || (begins && matches!(c, ' ' | '"'));
        out.push(c);
    }
    Cow::Owned(out)
}

fn visible(cell: &str) -> Cow<'_, str> {
    let kept = |c: char| matches!(c, '\t' | '\r' | '\n');
    if cell.bytes().all(|b| matches!(b, b' '..=b'~') || kept(b.into())) {
        return Cow::Borrowed(cell);
    }
    let parts = cell.split_inclusive(kept).map(|part| {
        let end = part.len() - part.chars().next_back().filter(|c| kept(*c)).map_or(0, char::len_utf8);
        let (words, end) = part.split_at(end);
        shown(words) + end
    });
    Cow::Owned(parts.collect())
}

/// A number with `decimals` decimals; empty where it is not known or not finite. A value that rounds to
/// nothing has no sign.
pub(crate) fn number(value: Option<f64>, decimals: usize) -> String {
    value.map(|value| fixed(value, decimals)).unwrap_or_default()
}

/// A whole number; empty where it is not known.
pub(crate) fn count<T: ToString>(value: Option<T>) -> String {
    value.map(|v| v.to_string()).unwrap_or_default()
}

/// A stamp with the fraction that the camera wrote and no offset.
pub(crate) fn stamp(stamp: Option<Stamp>) -> String {
    stamp.map(|s| s.at.iso(s.digits)).unwrap_or_default()
}

/// An offset from UTC as `+02:00`; empty where it is not known.
pub(crate) fn utc_offset(minutes: Option<i16>) -> String {
    minutes.map_or_else(String::new, |m| {
        let sign = if m < 0 { '-' } else { '+' };
        format!("{sign}{:02}:{:02}", m.unsigned_abs() / 60, m.unsigned_abs() % 60)
    })
}

/// Most decimals of a figure of a finding, and of a limit.
pub(crate) const DECIMALS: usize = 9;

/// The figures of a finding as `key=value; key=value`. A figure compared with a limit adds `(limit value)`.
pub(crate) fn figures(evidence: &[(&'static str, Figure)]) -> String {
    let one = |figure: &Figure| match figure {
        Figure::Count(n) => n.to_string(),
        Figure::Number(v) => plain(*v, DECIMALS),
        Figure::Limited(m) => match m.limit {
            Some(limit) => format!("{} (limit {})", plain(m.value, DECIMALS), plain(limit, DECIMALS)),
            None => plain(m.value, DECIMALS),
        },
        Figure::Text(words) => words.clone(),
        Figure::Flag(yes) => yes.to_string(),
        Figure::Unknown => String::new(),
    };
    evidence.iter().map(|(key, figure)| format!("{key}={}", one(figure))).collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Measured;

    #[test]
    fn formulas_are_neutralised() {
        for (cell, told) in [
            ("=HYPERLINK(\"x\")", "'=HYPERLINK(\"x\")"),
            ("+1", "'+1"),
            ("-1", "'-1"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("\tx", "'\tx"),
            ("\rx", "'\rx"),
            ("\nx", "'\nx"),
            ("IMG_0001.JPG", "IMG_0001.JPG"),
            ("a;=1+1.JPG", "a;'=1+1.JPG"),
            ("a; @x;b", "a; '@x;b"),
            ("a\t-1\n+2", "a\t'-1\n'+2"),
            ("gap_s=36; what=-1", "gap_s=36; what=-1"),
            ("a=b", "a=b"),
            ("a\u{1b}[2J\tb\nc\u{202E}", "a\\u{1B}[2J\tb\nc\\u{202E}"),
            ("\u{e9}t\u{e9}.JPG", "\u{e9}t\u{e9}.JPG"),
            ("", ""),
        ] {
            assert_eq!(text(cell), told);
        }
    }

    #[test]
    fn numbers_keep_their_decimals() {
        assert_eq!(number(Some(-0.5), 3), "-0.500");
        assert_eq!(number(Some(-0.0001), 3), "0.000");
        assert_eq!(number(Some(f64::NAN), 3), "");
        assert_eq!(number(Some(f64::INFINITY), 3), "");
        assert_eq!(number(None, 3), "");
        assert_eq!(number(Some(1.0 / 8000.0), 9), "0.000125000");
    }

    #[test]
    fn offsets() {
        assert_eq!(utc_offset(Some(120)), "+02:00");
        assert_eq!(utc_offset(Some(-210)), "-03:30");
        assert_eq!(utc_offset(Some(0)), "+00:00");
        assert_eq!(utc_offset(None), "");
    }

    #[test]
    fn figures_read_as_pairs() {
        let evidence = [
            ("gap_s", Figure::Limited(Measured { value: 36.0, limit: Some(12.0) })),
            ("numbers", Figure::Count(3)),
            ("law", Figure::Unknown),
        ];
        assert_eq!(figures(&evidence), "gap_s=36 (limit 12); numbers=3; law=");
    }
}
