//! What is wrong in a plan file, and where: the line marked, what was expected, and what was meant.

use crate::units::{counted, shown};
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::fmt;
use std::ops::Range;

/// Letters of a marked line that are shown before the mark, and from its beginning on.
const WINDOW: (usize, usize) = (60, 120);

/// Letters of an offending text that are quoted in a sentence.
const QUOTED: usize = 48;

/// One mistake in a plan file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlanError {
    /// Line, from 1.
    pub line: usize,
    /// Column, in characters, from 1.
    pub column: usize,
    /// The offending bytes of the file.
    pub span: Range<usize>,
    /// The offending text, made safe to show, and cut where it is long.
    pub text: String,
    /// What is wrong, in words.
    pub message: String,
    /// What was expected.
    pub expected: String,
    /// The key, word or check that was meant, for a near miss.
    pub meant: Option<String>,
    /// The marked line, made safe to show.
    line_text: String,
    /// The mark in `line_text`, bytes.
    mark: Range<usize>,
}

impl PlanError {
    pub(super) fn new(lines: &Lines<'_>, span: Range<usize>, message: String, expected: String) -> Self {
        let place = lines.place(&span);
        let text = lines.text.get(span.clone()).unwrap_or_default();
        Self {
            line: place.line,
            column: place.column,
            span,
            text: quoted(text),
            message,
            expected,
            meant: None,
            line_text: place.line_text,
            mark: place.mark,
        }
    }

    /// The mistake with its line marked, for a file of the name `origin`; with colours where `coloured`.
    pub fn render(&self, origin: &str, coloured: bool) -> String {
        // The place heads the message, since the marked line may be cut and its letters escaped: columns are
        // the file's own.
        let place = format!("{}:{}:{}", shown(origin), self.line, self.column);
        let snippet = Snippet::source(self.line_text.as_str())
            .line_start(self.line)
            .annotation(AnnotationKind::Primary.span(self.mark.clone()));
        let mut group: Group<'_> =
            Level::ERROR.with_name(place).primary_title(self.message.as_str()).element(snippet);
        group = group.element(Level::NOTE.with_name("expected").message(self.expected.as_str()));
        if let Some(meant) = &self.meant {
            group = group.element(Level::HELP.with_name("meant").message(meant.as_str()));
        }
        let renderer = if coloured { Renderer::styled() } else { Renderer::plain() };
        renderer.render(&[group])
    }
}

/// Every mistake of a plan file, in the order of the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlanErrors {
    /// Name of the file, as it was given.
    pub origin: String,
    /// The mistakes; at least one.
    pub errors: Vec<PlanError>,
    /// How many more there are than are kept.
    pub more: usize,
}

impl PlanErrors {
    /// All mistakes, with colours for a terminal.
    pub fn coloured(&self) -> String {
        self.render(true)
    }

    fn render(&self, coloured: bool) -> String {
        let mut out = String::new();
        for error in &self.errors {
            out.push_str(error.render(&self.origin, coloured).trim_end());
            out.push_str("\n\n");
        }
        let count = self.errors.len() + self.more;
        out.push_str(&format!("{}: {}", shown(&self.origin), counted(count as u64, "mistake")));
        if self.more > 0 {
            out.push_str(&format!(", the first {} are shown", self.errors.len()));
        }
        out
    }
}

impl fmt::Display for PlanErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for PlanErrors {}

/// `text` made safe to show, and cut where it is long.
pub(super) fn quoted(text: &str) -> String {
    let mut chars = text.chars();
    let mut out = shown(&chars.by_ref().take(QUOTED).collect::<String>());
    if chars.next().is_some() {
        out.push('…');
    }
    out
}

/// The lines of a text.
pub(super) struct Lines<'t> {
    pub text: &'t str,
    starts: Vec<usize>,
}

struct Place {
    line: usize,
    column: usize,
    line_text: String,
    mark: Range<usize>,
}

impl<'t> Lines<'t> {
    pub(crate) fn new(text: &'t str) -> Self {
        let after = text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(at, _)| at + 1);
        Self { text, starts: std::iter::once(0).chain(after).collect() }
    }

    /// The line that holds the byte `at`, from 0.
    pub(crate) fn index(&self, at: usize) -> usize {
        self.starts.partition_point(|s| *s <= at).saturating_sub(1)
    }

    /// The bytes of line `index` (from 0), without its end of line; empty past the last.
    pub(crate) fn range(&self, index: usize) -> Range<usize> {
        let start = self.starts.get(index).copied().unwrap_or(self.text.len());
        let rest = self.text.get(start..).unwrap_or_default();
        let line = rest.split('\n').next().unwrap_or_default();
        start..start + line.strip_suffix('\r').unwrap_or(line).len()
    }

    /// The text of line `index` (from 0).
    pub(crate) fn line(&self, index: usize) -> &'t str {
        self.text.get(self.range(index)).unwrap_or_default()
    }

    /// How many lines there are.
    pub(crate) fn len(&self) -> usize {
        self.starts.len()
    }

    fn place(&self, span: &Range<usize>) -> Place {
        let index = self.index(span.start);
        let range = self.range(index);
        let line = self.line(index);
        let (from, to) = (span.start.saturating_sub(range.start), span.end.saturating_sub(range.start));
        // A mark of the byte order does not count as a column.
        let visible = |c: char| c != '\u{FEFF}';
        let before = line.char_indices().filter(|(at, c)| *at < from && visible(*c)).count();
        let first = before.saturating_sub(WINDOW.0);
        let mut text = if first > 0 { "…".to_owned() } else { String::new() };
        let (mut start, mut end) = (None, None);
        for (nth, (at, c)) in line.char_indices().filter(|(_, c)| visible(*c)).enumerate() {
            if nth < first {
                continue;
            }
            if at >= from {
                start.get_or_insert(text.len());
            }
            if at >= to && start.is_some() {
                end.get_or_insert(text.len());
            }
            if nth > before + WINDOW.1 {
                text.push('…');
                break;
            }
            // A tab is as wide as a blank here, so that the mark stands under its text.
            text.push_str(&if c == '\t' { " ".to_owned() } else { shown(c.encode_utf8(&mut [0; 4])) });
        }
        let start = start.unwrap_or(text.len());
        let end = end.unwrap_or(text.len()).max(start);
        Place { line: index + 1, column: before + 1, line_text: text, mark: start..end }
    }
}
