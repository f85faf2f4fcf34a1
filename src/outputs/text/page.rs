//! A page of plain text: tones, wrapping, hanging indents.

use anstyle::{AnsiColor, Style};
use std::borrow::Cow;
use std::fmt::Write as _;
use textwrap::core::display_width;
use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm, wrap};

/// Columns of a page that is no narrower terminal's.
pub const WIDTH: usize = 80;
/// Columns of the narrowest page.
pub(crate) const NARROWEST: usize = 44;

/// How a piece of text is toned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Tone {
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
pub(crate) struct Page {
    out: String,
    colour: bool,
    width: usize,
}

impl Page {
    /// An empty page.
    pub(crate) fn new(colour: bool) -> Self {
        Self::of_width(colour, WIDTH)
    }

    /// An empty page of so many columns, [`NARROWEST`] at least and [`WIDTH`] at most.
    pub(crate) fn of_width(colour: bool, width: usize) -> Self {
        Self { out: String::new(), colour, width: width.clamp(NARROWEST, WIDTH) }
    }

    /// Its columns.
    pub(crate) fn width(&self) -> usize {
        self.width
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
    pub(crate) fn line(&mut self, tone: Tone, text: &str) {
        self.toned(tone, text);
        self.out.push('\n');
    }

    /// One line that begins with a label of its own tone.
    pub(crate) fn labelled(&mut self, label: (Tone, &str), text: &str) {
        self.toned(label.0, label.1);
        self.line(Tone::Plain, text);
    }

    /// A heading, with an empty line before it.
    pub(crate) fn heading(&mut self, words: &str) {
        self.out.push('\n');
        self.line(Tone::Strong, words);
    }

    /// Text wrapped at the page's width, every line indented.
    pub(crate) fn wrap(&mut self, indent: usize, tone: Tone, text: &str) {
        for line in wrapped(text, self.width.saturating_sub(indent)) {
            self.out.extend(std::iter::repeat_n(' ', indent));
            self.line(tone, &line);
        }
    }

    /// A label, and beside it text that hangs from column `at`. A label too long for its place stands on a
    /// line of its own.
    pub(crate) fn hang(&mut self, indent: usize, label: (Tone, &str), at: usize, text: &str) {
        self.out.extend(std::iter::repeat_n(' ', indent));
        self.toned(label.0, label.1);
        let mut column = indent + display_width(label.1);
        if column + 1 > at {
            self.out.push('\n');
            column = 0;
        }
        for (n, line) in wrapped(text, self.width.saturating_sub(at)).iter().enumerate() {
            let gap = if n == 0 { at.saturating_sub(column) } else { at };
            self.out.extend(std::iter::repeat_n(' ', gap));
            self.out.push_str(line);
            self.out.push('\n');
        }
    }

    /// Lines so far.
    pub(crate) fn lines(&self) -> usize {
        self.out.lines().count()
    }

    /// The text.
    pub(crate) fn finish(self) -> String {
        self.out
    }
}

/// `text` broken at blanks into lines of at most `width` columns; a word longer than a line is cut. At least
/// one line. A letter that a terminal shows two columns wide counts as two.
pub(crate) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let options = Options::new(width.max(1))
        .word_separator(WordSeparator::AsciiSpace)
        .word_splitter(WordSplitter::NoHyphenation)
        .wrap_algorithm(WrapAlgorithm::FirstFit);
    let words: Vec<&str> = text.split_whitespace().collect();
    wrap(&words.join(" "), options).into_iter().map(Cow::into_owned).collect()
}

/// `text` with blanks behind it to `width` columns.
pub(crate) fn padded(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(display_width(text))))
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
        assert_eq!(wrapped("one  two\tthree", 9), ["one two", "three"]);
        // Two columns each (Unicode Standard Annex 11, East Asian Width).
        assert_eq!(wrapped("海の 潮汐", 6), ["海の", "潮汐"]);
        assert_eq!(wrapped("海の潮汐", 4), ["海の", "潮汐"]);
        assert_eq!(padded("海", 4), "海  ");
    }

    #[test]
    fn text_hangs_from_its_column() {
        let mut page = Page::new(false);
        page.hang(2, (Tone::Bad, "fault"), 10, "x");
        page.hang(2, (Tone::Bad, "a label too long"), 10, "y");
        assert_eq!(page.finish(), "  fault   x\n  a label too long\n          y\n");
    }
}
