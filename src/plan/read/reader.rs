//! Values of a table in the types of the plan. Whatever cannot be read is noted with its place and reading
//! goes on.

use super::super::schema::{Form, Keyed, Kind, PlanKey};
use super::super::{Planned, forms, near};
use super::error::{Lines, PlanError, quoted};
use super::keys;
use super::known::KnownCheck;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Most mistakes that are kept; a file with more is no plan.
pub(super) const MOST_ERRORS: usize = 100;

/// Other words of the trade for a choice.
const OTHER_WORDS: &[(&str, &str)] = &[
    ("manual", "locked"),
    ("fixed", "locked"),
    ("priority", "automatic"),
    ("sun", "daylight"),
    ("lamps", "mains"),
    ("steps", "stepped"),
    ("smooth", "continuous"),
];

/// A table of the file, and how it is written there (empty above the first one).
#[derive(Clone, Copy)]
pub(super) struct Section<'a> {
    pub heading: &'static str,
    pub entries: &'a DeTable<'a>,
}

impl<'a> Section<'a> {
    /// The value of `key`, where it is written.
    pub(crate) fn get(&self, key: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.entries.get(key)
    }

    /// The key as it is told: `interval`, `[rig] travel`.
    pub(crate) fn label(&self, key: &str) -> String {
        if self.heading.is_empty() { format!("`{key}`") } else { format!("`{} {key}`", self.heading) }
    }
}

/// Reads values and collects what is wrong with them.
pub(super) struct Reader<'t> {
    pub lines: Lines<'t>,
    pub known: &'t [KnownCheck],
    /// Bytes in which nothing is told, since the TOML itself is broken there.
    pub quiet: Vec<Range<usize>>,
    pub errors: Vec<PlanError>,
    /// Mistakes past the number that is kept.
    pub more: usize,
}

impl Reader<'_> {
    /// Notes a mistake at `span`.
    pub(crate) fn wrong(
        &mut self,
        span: Range<usize>,
        message: String,
        expected: &str,
        meant: Option<String>,
    ) {
        if self.quiet.iter().any(|q| (q.start..=q.end).contains(&span.start)) {
            return;
        }
        if self.errors.len() >= MOST_ERRORS {
            self.more += 1;
            return;
        }
        let expected = expected.strip_prefix("expected ").unwrap_or(expected).to_owned();
        let mut error = PlanError::new(&self.lines, span, message, expected);
        error.meant = meant;
        self.errors.push(error);
    }

    /// Notes every key of the table that it may not hold.
    pub(crate) fn unknown_keys(&mut self, section: &Section<'_>) {
        let keys = keys::of(section.heading);
        for (key, _) in section.entries.iter().filter(|(key, _)| !keys.contains(&key.get_ref().as_ref())) {
            let word = key.get_ref().as_ref();
            let place = if section.heading.is_empty() { "a plan" } else { section.heading };
            let expected = format!("one of {}", listed_or(&keys));
            let message = format!("`{}` is not a key of {place}", quoted(word));
            self.wrong(key.span(), message, &expected, keys::meant(section.heading, word));
        }
    }

    /// Reads all that a table says by these rows.
    pub(crate) fn fill<S: Keyed>(
        &mut self,
        section: &Section<'_>,
        keys: impl IntoIterator<Item = &'static PlanKey<S>>,
        into: &mut S,
    ) {
        for PlanKey { name, kind, .. } in keys {
            match kind {
                Kind::Text(place) => *(place.get_mut)(into) = self.text(section, name),
                Kind::Lines(place) => *(place.get_mut)(into) = self.list(section, name, line),
                Kind::Hours(place) => *(place.get_mut)(into) = self.list(section, name, forms::daily_hours),
                Kind::Moment(place) => *(place.get_mut)(into) = self.moment(section, name, forms::moment),
                Kind::Number(form, _, place) => *(place.get_mut)(into) = self.quantity(section, name, *form),
                Kind::Count(form, place) => *(place.get_mut)(into) = self.quantity(section, name, *form),
                Kind::Few(form, place) => *(place.get_mut)(into) = self.quantity(section, name, *form),
                Kind::Planned(form, _, place) => *(place.get_mut)(into) = self.planned(section, name, *form),
                Kind::YesNo(place) => *(place.get_mut)(into) = self.yes_no(section, name),
                Kind::Word(place) => {
                    if let Some(word) = self.choice(section, name, &(place.words)()) {
                        (place.set)(into, word);
                    }
                }
            }
        }
    }

    /// A quantity, written as a number or as text.
    pub(crate) fn quantity<T>(&mut self, section: &Section<'_>, key: &str, form: Form<T>) -> Option<T> {
        self.one_quantity(&section.label(key), section.get(key)?, form)
    }

    fn one_quantity<T>(&mut self, label: &str, value: &Spanned<DeValue<'_>>, form: Form<T>) -> Option<T> {
        match literal(value.get_ref()) {
            Some(text) => self.formed(label, value, &text, form),
            None => self.wrong_type(label, value, form),
        }
    }

    /// One quantity, or a list of the two ends of a ramp.
    pub(crate) fn planned(&mut self, section: &Section<'_>, key: &str, form: Form<f64>) -> Option<Planned> {
        let (label, value) = (section.label(key), section.get(key)?);
        let DeValue::Array(ends) = value.get_ref() else {
            return self.one_quantity(&label, value, form).map(Planned::Fixed);
        };
        let [from, to] = &ends[..] else {
            let message = format!("{label} holds a list of {}", ends.len());
            self.wrong(value.span(), message, "one value, or a list of two: the ends of a ramp", None);
            return None;
        };
        // Both are read before either is given up, so that both are told.
        let (from, to) = (self.one_quantity(&label, from, form), self.one_quantity(&label, to, form));
        Some(Planned::Between(from?, to?))
    }

    /// Something written as text, or as a date of TOML's own, which is read from the letters that stand
    /// there.
    pub(crate) fn moment<T>(&mut self, section: &Section<'_>, key: &str, form: Form<T>) -> Option<T> {
        let (label, value) = (section.label(key), section.get(key)?);
        match value.get_ref() {
            DeValue::String(text) => self.formed(&label, value, text, form),
            DeValue::Datetime(_) => {
                let text = self.lines.text.get(value.span()).unwrap_or_default();
                self.formed(&label, value, text, form)
            }
            _ => self.wrong_type(&label, value, form),
        }
    }

    /// A list of texts, or one of them alone.
    pub(crate) fn list<T>(&mut self, section: &Section<'_>, key: &str, form: Form<T>) -> Vec<T> {
        let label = section.label(key);
        let Some(value) = section.get(key) else { return Vec::new() };
        let items = match value.get_ref() {
            DeValue::Array(items) => &items[..],
            _ => std::slice::from_ref(value),
        };
        let mut all = Vec::new();
        for item in items {
            all.extend(match item.get_ref() {
                DeValue::String(text) => self.formed(&label, item, text, form),
                _ => self.wrong_type(&label, item, form),
            });
        }
        all
    }

    /// Text in the photographer's own words; blank text is refused.
    pub(crate) fn text(&mut self, section: &Section<'_>, key: &str) -> Option<String> {
        let value = section.get(key)?;
        match value.get_ref() {
            DeValue::String(text) if !text.trim().is_empty() => Some(text.to_string()),
            other => {
                let message = match other {
                    DeValue::String(_) => format!("{} is empty", section.label(key)),
                    _ => format!("{} is {}", section.label(key), kind(other)),
                };
                self.wrong(value.span(), message, "text in quotes", None);
                None
            }
        }
    }

    /// True or false.
    pub(crate) fn yes_no(&mut self, section: &Section<'_>, key: &str) -> Option<bool> {
        let value = section.get(key)?;
        if let DeValue::Boolean(yes) = value.get_ref() {
            return Some(*yes);
        }
        let message = format!("{} is {}", section.label(key), kind(value.get_ref()));
        self.wrong(value.span(), message, "true or false, without quotes", None);
        None
    }

    /// One of a few words.
    fn choice<'w>(&mut self, section: &Section<'_>, key: &str, words: &[&'w str]) -> Option<&'w str> {
        let value = section.get(key)?;
        let text = value.get_ref().as_str();
        if let Some(word) = words.iter().find(|word| Some(**word) == text) {
            return Some(word);
        }
        let label = section.label(key);
        let (message, meant) = match text {
            Some(text) => {
                let other = OTHER_WORDS
                    .iter()
                    .filter(|o| o.0 == text)
                    .find_map(|o| words.iter().find(|word| **word == o.1));
                let near = near::meant(text, words.iter().copied()).or(other.copied());
                (format!("{label} cannot be \"{}\"", quoted(text)), near.map(|n| format!("\"{n}\"")))
            }
            None => (format!("{label} is {}", kind(value.get_ref())), None),
        };
        let names: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        self.wrong(value.span(), message, &listed_or(&names), meant);
        None
    }

    /// The table under `key`, where it is written as one.
    pub(crate) fn table<'a>(&mut self, top: &Section<'a>, key: &str) -> Option<Section<'a>> {
        let value = top.get(key)?;
        let heading = keys::heading(key).unwrap_or_default();
        if let DeValue::Table(entries) = value.get_ref() {
            return Some(Section { heading, entries });
        }
        let message = format!("`{key}` is {}", kind(value.get_ref()));
        let expected = format!("a table, headed by {heading}");
        self.wrong(value.span(), message, &expected, Some(heading.to_owned()));
        None
    }

    /// The tables under `key`, each with the place of its heading.
    pub(crate) fn tables<'a>(&mut self, top: &Section<'a>, key: &str) -> Vec<(Range<usize>, Section<'a>)> {
        let Some(value) = top.get(key) else { return Vec::new() };
        let heading = keys::heading(key).unwrap_or_default();
        let expected = format!("a table for each, headed by {heading}");
        let items = match value.get_ref() {
            DeValue::Array(items) => &items[..],
            _ => std::slice::from_ref(value),
        };
        let listed = value.get_ref().is_array();
        let mut all = Vec::new();
        for item in items {
            match item.get_ref() {
                DeValue::Table(entries) if listed => all.push((item.span(), Section { heading, entries })),
                other => {
                    let message = format!("`{key}` is {}", kind(other));
                    self.wrong(item.span(), message, &expected, Some(heading.to_owned()));
                }
            }
        }
        all
    }

    /// Notes that a table lacks a key, unless a line of that table is broken and may have held it.
    pub(crate) fn lacks(&mut self, heading: Range<usize>, label: &str, expected: &str) {
        let line = self.lines.index(heading.start);
        let starts = |line: usize| self.lines.line(line).trim_start().starts_with('[');
        let next = (line + 1..self.lines.len()).find(|l| starts(*l)).unwrap_or(self.lines.len());
        let end = self.lines.range(next).start;
        if !self.quiet.iter().any(|q| (heading.start..end).contains(&q.start)) {
            self.wrong(heading, format!("{label} is missing"), expected, None);
        }
    }

    fn formed<T>(
        &mut self,
        label: &str,
        value: &Spanned<DeValue<'_>>,
        text: &str,
        form: Form<T>,
    ) -> Option<T> {
        match form(text) {
            Ok(value) => Some(value),
            Err(expected) => {
                let said = match value.get_ref() {
                    DeValue::String(text) => format!("\"{}\"", quoted(text)),
                    _ => quoted(self.lines.text.get(value.span()).unwrap_or(text)),
                };
                self.wrong(value.span(), format!("{label} cannot be {said}"), &expected, None);
                None
            }
        }
    }

    fn wrong_type<T>(&mut self, label: &str, value: &Spanned<DeValue<'_>>, form: Form<T>) -> Option<T> {
        // What a form expects, it says of text that is empty.
        let expected = form("").err().unwrap_or_default();
        self.wrong(value.span(), format!("{label} is {}", kind(value.get_ref())), &expected, None);
        None
    }
}

/// A line in the photographer's own words.
fn line(text: &str) -> Result<String, String> {
    if text.trim().is_empty() { Err("a line of text in quotes".into()) } else { Ok(text.to_owned()) }
}

/// A number or text as the letters of a form; `None` for what is neither.
fn literal(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::String(text) => Some(text.to_string()),
        DeValue::Integer(n) => {
            let small = i64::from_str_radix(n.as_str(), n.radix()).ok();
            Some(small.map_or_else(|| n.to_string(), |n| n.to_string()))
        }
        // Written out in full: the forms know no exponents.
        DeValue::Float(x) => {
            Some(x.as_str().parse::<f64>().map_or_else(|_| x.to_string(), |x| x.to_string()))
        }
        _ => None,
    }
}

/// The kind of a value, in words.
pub(super) fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "a yes or no",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// `a, b or c`.
pub(super) fn listed_or(words: &[&str]) -> String {
    match words {
        [] => "nothing".into(),
        [one] => (*one).to_owned(),
        [before @ .., last] => format!("{} or {last}", before.join(", ")),
    }
}
