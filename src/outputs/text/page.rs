//! A page of plain text: tones, wrapping, hanging indents.

use anstyle::{AnsiColor, Style};
use std::fmt::Write as _;

/// Columns of the page.
pub const WIDTH: usize = 80;

/// How a piece of text is toned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// As the terminal has it.
    Plain,
    /// Headings.
    Strong,
    /// All is well.
    Good,
    /// A caution.
    Warn,
    /// A fault.
    Bad,
    /// Asides.
    Faint,
}

impl Tone {
    fn style(self) -> Style {
        match self {
            Self::Plain => Style::new(),
            Self::Strong => Style::new().bold(),
            Self::Good => AnsiColor::Green.on_default().bold(),
            Self::Warn => AnsiColor::Yellow.on_default().bold(),
            Self::Bad => AnsiColor::Red.on_default().bold(),
            Self::Faint => Style::new().dimmed(),
        }
    }
}

/// The page as it grows.
pub struct Page {
    out: String,
    colour: bool,
}

impl Page {
    /// An empty page.
    pub fn new(colour: bool) -> Self {
        Self { out: String::new(), colour }
    }

    fn toned(&mut self, tone: Tone, text: &str) {
        let style = tone.style();
        // Writing to a string cannot fail.
        let _ = if self.colour && style != Style::new() {
            write!(self.out, "{style}{text}{style:#}")
        } else {
            write!(self.out, "{text}")
        };
    }

    /// One line as it stands.
    pub fn line(&mut self, tone: Tone, text: &str) {
        self.toned(tone, text);
        self.out.push('\n');
    }

    /// One line that begins with a label of its own tone.
    pub fn labelled(&mut self, label: (Tone, &str), text: &str) {
        self.toned(label.0, label.1);
        self.line(Tone::Plain, text);
    }

    /// A heading, with an empty line before it.
    pub fn heading(&mut self, words: &str) {
        self.out.push('\n');
        self.line(Tone::Strong, words);
    }

    /// Text wrapped at the page's width, every line indented.
    pub fn wrap(&mut self, indent: usize, tone: Tone, text: &str) {
        for line in wrapped(text, WIDTH.saturating_sub(indent)) {
            self.out.extend(std::iter::repeat_n(' ', indent));
            self.line(tone, &line);
        }
    }

    /// A label, and beside it text that hangs from column `at`. A label too long for its place stands on a line of its own.
    pub fn hang(&mut self, indent: usize, label: (Tone, &str), at: usize, text: &str) {
        self.out.extend(std::iter::repeat_n(' ', indent));
        self.toned(label.0, label.1);
        let mut column = indent + label.1.chars().count();
        if column + 1 > at {
            self.out.push('\n');
            column = 0;
        }
        for (n, line) in wrapped(text, WIDTH.saturating_sub(at)).iter().enumerate() {
            let gap = if n == 0 { at.saturating_sub(column) } else { at };
            self.out.extend(std::iter::repeat_n(' ', gap));
            self.out.push_str(line);
            self.out.push('\n');
        }
    }

    /// The text.
    pub fn finish(self) -> String {
        self.out
    }
}

/// `text` broken at blanks into lines of at most `width` columns; a word longer than a line is cut. At least one line.
pub fn wrapped(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    let mut column = 0;
    for word in text.split_whitespace() {
        let letters: Vec<char> = word.chars().collect();
        if column > 0 && column + 1 + letters.len() > width {
            lines.push(String::new());
            column = 0;
        }
        for (n, piece) in letters.chunks(width).enumerate() {
            if n > 0 {
                lines.push(String::new());
                column = 0;
            }
            if let Some(line) = lines.last_mut() {
                if column > 0 {
                    line.push(' ');
                    column += 1;
                }
                line.extend(piece);
                column += piece.len();
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_broken_at_blanks() {
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("", 7), [""]);
        assert_eq!(wrapped("abcdefghij kl", 4), ["abcd", "efgh", "ij", "kl"]);
        assert_eq!(wrapped("ab cdefghij", 4), ["ab", "cdef", "ghij"]);
    }

    #[test]
    fn text_hangs_from_its_column() {
        let mut page = Page::new(false);
        page.hang(2, (Tone::Bad, "fault"), 10, "x");
        page.hang(2, (Tone::Bad, "a label too long"), 10, "y");
        assert_eq!(page.finish(), "  fault   x\n  a label too long\n          y\n");
    }
}
