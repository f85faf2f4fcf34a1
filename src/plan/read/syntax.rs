//! Mistakes in the TOML itself, said in the words of a plan, one for each line.

use super::error::{Lines, PlanError, quoted};
use std::borrow::Cow;
use std::collections::BTreeSet;
use std::ops::Range;
use toml::de::{DeTable, DeValue, Error};

/// How the parser says that a key has no value.
const NO_VALUE: &str = "key with no value";

/// The text with every line blanked at which the parser would give up on the rest of the file (a key without
/// a value), and the mistakes of those lines. All else keeps its place.
pub(super) fn without_stumbling_blocks<'t>(lines: &Lines<'t>) -> (Cow<'t, str>, Vec<Error>) {
    let (_, found) = DeTable::parse_recoverable(lines.text);
    let line = |error: &Error| lines.index(error.span().unwrap_or(0..0).start);
    let blocks: BTreeSet<usize> =
        found.iter().filter(|e| e.message().starts_with(NO_VALUE)).map(line).collect();
    if blocks.is_empty() {
        return (Cow::Borrowed(lines.text), Vec::new());
    }
    let mut whole = String::with_capacity(lines.text.len());
    for index in 0..lines.len() {
        match lines.line(index) {
            line if blocks.contains(&index) => whole.push_str(&" ".repeat(line.len())),
            line => whole.push_str(line),
        }
        // The end of the line, as it was.
        let next = lines.range(index + 1).start;
        whole.push_str(lines.text.get(lines.range(index).end..next).unwrap_or_default());
    }
    (Cow::Owned(whole), found.into_iter().filter(|e| blocks.contains(&line(e))).collect())
}

/// The mistakes, and the bytes in which nothing else is told: what a broken line says is not known.
pub(super) fn mistakes(
    lines: &Lines<'_>,
    table: &DeTable<'_>,
    found: &[Error],
) -> (Vec<PlanError>, Vec<Range<usize>>) {
    let mut open: Vec<Range<usize>> = Vec::new();
    for error in found.iter().filter(|e| e.message().starts_with("unclosed")) {
        let end = error.span().map_or(lines.text.len(), |s| s.end);
        if let Some(start) = opening(table, end) {
            open.push(start..end);
        }
    }
    let mut told: Vec<PlanError> = open.iter().map(|range| unclosed(lines, range)).collect();
    let mut quiet = open.clone();
    for error in found {
        let span = within(lines, error.span().unwrap_or(0..0));
        if open.iter().any(|o| (o.start..=o.end).contains(&span.start)) {
            continue;
        }
        let line = lines.index(span.start);
        match error.message() {
            // A table or key that is written twice is read all the same; its line is whole.
            "duplicate key" => {}
            // Only the value is broken; its key is looked at.
            message if unquoted(message) || message.starts_with("invalid date") => quiet.push(span.clone()),
            _ => quiet.push(silence(lines, line)),
        }
        if told.iter().all(|t| t.line != line + 1) {
            told.push(translated(lines, error.message(), span));
        }
    }
    (told, quiet)
}

/// The span, cut to the text and to whole characters.
fn within(lines: &Lines<'_>, span: Range<usize>) -> Range<usize> {
    let floor = |mut at: usize| {
        at = at.min(lines.text.len());
        while !lines.text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = floor(span.start);
    start..floor(span.end).max(start)
}

/// The line; of a broken heading, everything up to the next one.
fn silence(lines: &Lines<'_>, line: usize) -> Range<usize> {
    let range = lines.range(line);
    let heading = |line: usize| lines.line(line).trim_start().starts_with('[');
    if !heading(line) {
        return range;
    }
    let next = (line + 1..lines.len()).find(|l| heading(*l));
    range.start..next.map_or(lines.text.len(), |l| lines.range(l).start.saturating_sub(1))
}

/// Where the list or inline table begins that is still open at `end`; the outermost one.
fn opening(table: &DeTable<'_>, end: usize) -> Option<usize> {
    table
        .iter()
        .filter_map(|(_, value)| {
            let span = value.span();
            let open = span.end == end
                && span.start < end
                && matches!(value.get_ref(), DeValue::Array(_) | DeValue::Table(_));
            match value.get_ref() {
                _ if open => Some(span.start),
                DeValue::Table(inner) => opening(inner, end),
                DeValue::Array(items) => items
                    .iter()
                    .filter_map(|item| item.get_ref().as_table().and_then(|inner| opening(inner, end)))
                    .min(),
                _ => None,
            }
        })
        .min()
}

fn unclosed(lines: &Lines<'_>, range: &Range<usize>) -> PlanError {
    let end = lines.range(lines.index(range.start)).end.clamp(range.start, range.end.max(range.start));
    let brace = lines.text.get(range.start..).is_some_and(|t| t.starts_with('{'));
    let (what, close) = if brace { ("table", "}") } else { ("list", "]") };
    let message = format!("this {what} is not closed");
    PlanError::new(lines, range.start..end, message, format!("`{close}` after its last value"))
}

/// Whether a value is neither quoted nor anything that needs no quotes; the parser guesses what it was to be.
fn unquoted(message: &str) -> bool {
    ["string values must be quoted", "invalid float", "invalid boolean"]
        .iter()
        .any(|m| message.starts_with(m))
}

fn translated(lines: &Lines<'_>, message: &str, span: Range<usize>) -> PlanError {
    let text = lines.text.get(span.clone()).unwrap_or_default();
    let (what, expected) = message.split_once(", expected ").unwrap_or((message, "valid TOML"));
    let new = |span, message: &str, expected: String| PlanError::new(lines, span, message.into(), expected);
    let unquoted = unquoted(what);
    let curly = |c: char| matches!(c, '“' | '”' | '„' | '‘' | '’' | '«' | '»');
    match what {
        _ if unquoted && text.is_empty() => {
            let line = key_part(lines, span.start);
            new(line, "there is no value after the `=`", "a value".into())
        }
        _ if unquoted && matches!(text.to_lowercase().as_str(), "true" | "false") => {
            let mut error = new(span, "yes and no are written in small letters", "true or false".into());
            error.meant = Some(text.to_lowercase());
            error
        }
        _ if unquoted && text.contains(curly) => {
            let straight = quoted(text.trim_matches(|c| curly(c) || c == ' '));
            new(span, "these quotes are not plain ones", format!("\"{straight}\""))
        }
        _ if unquoted => {
            new(span, "text needs quotes around it", format!("\"{}\"", quoted(text.trim_matches('"'))))
        }
        "unexpected leading zero" => {
            let number = value_part(lines, span.start);
            let digits = lines.text.get(number.clone()).unwrap_or_default().trim_start_matches('0');
            let expected = format!("a number without a zero before it, such as {}", quoted(digits));
            new(number, "a number cannot begin with 0", expected)
        }
        "duplicate key" => {
            let message = format!("`{}` is written twice", quoted(text));
            new(span, &message, "each key and each table once".into())
        }
        NO_VALUE => {
            let line = key_part(lines, span.start);
            new(line, "this key has no value", "`=` and a value, such as interval = \"12 s\"".into())
        }
        "invalid basic string" | "invalid literal string" if expected.contains(['"', '\'']) => {
            let line = value_part(lines, span.start);
            new(line, "this text is not closed", format!("{expected} at its end"))
        }
        _ if text.chars().any(char::is_control) => {
            let written = "it written as an escape, such as \\n or \\u001B".into();
            new(span, "this text contains a control character", written)
        }
        "unclosed table" | "unclosed array table" => {
            let line = key_part(lines, span.start);
            new(line, "this heading is not closed", format!("{expected} at its end"))
        }
        _ => new(span, what, expected.to_owned()),
    }
}

/// What stands on the line of `at`, without the blanks at its ends.
fn key_part(lines: &Lines<'_>, at: usize) -> Range<usize> {
    let range = lines.range(lines.index(at));
    let line = lines.text.get(range.clone()).unwrap_or_default();
    let start = range.start + (line.len() - line.trim_start().len());
    start..(start + line.trim().len()).max(start)
}

/// What stands behind the `=` on the line of `at`.
fn value_part(lines: &Lines<'_>, at: usize) -> Range<usize> {
    let range = key_part(lines, at);
    let line = lines.text.get(range.clone()).unwrap_or_default();
    let Some(equals) = line.find('=') else { return range };
    let value = line.get(equals + 1..).unwrap_or_default();
    let start = range.end - value.trim_start().len();
    start..range.end
}
