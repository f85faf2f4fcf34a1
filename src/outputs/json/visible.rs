//! JSON in which nothing hides: characters that a terminal or an editor would act upon stand as `\u` escapes.
//! To a reader of JSON it is the same text.

use crate::units::is_hidden;
use serde::Serialize;
use serde_json::ser::{Formatter, PrettyFormatter, Serializer};
use std::io::{self, Write};

/// Writes `value`, indented, without a line end after it.
///
/// # Errors
/// Where `out` does not take it.
pub(crate) fn write(out: &mut impl Write, value: &impl Serialize) -> io::Result<()> {
    let mut serializer = Serializer::with_formatter(out, Visible(PrettyFormatter::new()));
    value.serialize(&mut serializer).map_err(io::Error::from)
}

struct Visible(PrettyFormatter<'static>);

impl Formatter for Visible {
    fn write_string_fragment<W: ?Sized + Write>(&mut self, out: &mut W, fragment: &str) -> io::Result<()> {
        let mut rest = fragment;
        while let Some(at) = rest.find(is_hidden) {
            let (plain, hidden) = rest.split_at(at);
            out.write_all(plain.as_bytes())?;
            let Some(c) = hidden.chars().next() else { break };
            for unit in c.encode_utf16(&mut [0; 2]) {
                write!(out, "\\u{unit:04x}")?;
            }
            rest = &hidden[c.len_utf8()..];
        }
        out.write_all(rest.as_bytes())
    }

    fn begin_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.begin_array(out)
    }

    fn end_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.end_array(out)
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.0.begin_array_value(out, first)
    }

    fn end_array_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.end_array_value(out)
    }

    fn begin_object<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.begin_object(out)
    }

    fn end_object<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.end_object(out)
    }

    fn begin_object_key<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.0.begin_object_key(out, first)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.begin_object_value(out)
    }

    fn end_object_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.end_object_value(out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    /// RFC 8259, section 7: any character may be escaped, those beyond the basic plane as a pair.
    #[test]
    fn what_hides_is_escaped_and_means_the_same() {
        let value = json!({ "a\u{202E}b": ["x\u{9B}2J\u{7F}", "tag \u{E0041}", "é海", [], {}, null, 1.5] });
        let mut bytes = Vec::new();
        write(&mut bytes, &value).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        assert!(text.contains("a\\u202eb") && text.contains("\\u009b2J\\u007f"), "{text}");
        assert!(text.contains("tag \\udb40\\udc41") && text.contains("é海"), "{text}");
        assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), value);
        let plain = json!({ "a": [1, { "b": "c" }], "d": {} });
        let mut bytes = Vec::new();
        write(&mut bytes, &plain).unwrap();
        assert_eq!(String::from_utf8(bytes).unwrap(), serde_json::to_string_pretty(&plain).unwrap());
    }
}
