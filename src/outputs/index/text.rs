//! `index.txt`, and what `survey` prints: some lines a sequence, within 80 columns.

use crate::outputs::report::outside::passed_over_words;
use crate::outputs::text::{Page, Tone};
use crate::survey::{Ends, Loose, SequenceLine, Sets, Survey};
use crate::units::{CivilTime, counted, plain, shown, stops};
use crate::verdict::Call;
use textwrap::core::display_width;

/// Places that are listed one by one; the rest is counted.
const LISTED: usize = 8;

/// The longest name of a place in a line; of a longer one the end is told.
const WIDEST: usize = 34;

/// The whole index, with a line end after its last line. Colours only where `colour` asks for them.
pub fn told(survey: &Survey, colour: bool) -> String {
    let mut page = Page::new(colour);
    let (inside, loose) = survey.frames();
    let others: u64 = survey.sequences.iter().map(|s| s.others).sum();
    let n = survey.sequences.len();
    let mut head = format!(
        "{}, {} in {}",
        counted(n as u64, "sequence"),
        counted(inside, "frame"),
        survey.roots.iter().map(|r| shown(r)).collect::<Vec<_>>().join(", ")
    );
    if others + loose > 0 {
        head.push_str(&format!("; {} more in none", others + loose));
    }
    let limits = survey.sequences.iter().find_map(|s| s.limited_to);
    let limits = limits.map(|words| format!(" ({words})")).unwrap_or_default();
    let accepting = survey.sequences.iter().filter(|s| s.accepted.is_some()).count();
    let limits = match accepting {
        0 => limits,
        n => format!(
            "{limits} ({} with findings that a plan accepts or tolerates)",
            counted(n as u64, "sequence")
        ),
    };
    let incomplete = if survey.complete() { "" } else { " INCOMPLETE" };
    page.line(Tone::Strong, &format!("{head}.{limits}{incomplete}"));
    if n > 0 {
        page.line(Tone::Plain, "");
    }
    table(&mut page, survey);
    for l in survey.loose.iter().take(LISTED) {
        if l == &survey.loose[0] {
            page.heading("In no sequence");
        }
        let folder = place(survey, l.root, &l.folder);
        page.wrap(2, Tone::Plain, &format!("{folder}: {}.", loose_words(l)));
    }
    if survey.loose.len() > LISTED {
        page.wrap(
            2,
            Tone::Plain,
            &format!("{} more folders; each in index.json.", survey.loose.len() - LISTED),
        );
    }
    trouble(&mut page, survey);
    let passed: Vec<_> =
        survey.passed_over.iter().map(|(why, n)| format!("{n} {}", passed_over_words(*why))).collect();
    if !passed.is_empty() {
        page.heading("Not pictures");
        page.wrap(2, Tone::Plain, &format!("{}.", passed.join(", ")));
    }
    page.finish()
}

/// How many frames there are in no sequence, and which.
pub(crate) fn loose_words(l: &Loose) -> String {
    let first = shown(&l.first);
    let which = if l.first == l.last { first } else { format!("{first} to {}", shown(&l.last)) };
    format!("{}, {which}", counted(l.frames, "frame"))
}

/// Columns beside the call.
const COLUMNS: usize = 4;

/// Where each sequence lies and how it counts, in columns as wide as their longest cell; below that when it
/// was shot and how, and what happened. With a call of 7 and a place of [`WIDEST`] it fits 80 columns.
fn table(page: &mut Page, survey: &Survey) {
    let head = ["where", "frames", "missing", "interval"].map(str::to_owned);
    let rows: Vec<[String; COLUMNS]> = survey.sequences.iter().map(|s| cells(survey, s)).collect();
    let wide: Vec<usize> = (0..head.len())
        .map(|c| rows.iter().chain([&head]).map(|r| display_width(&r[c])).max().unwrap_or(0))
        .collect();
    let line = |cells: &[String; COLUMNS]| {
        let padded = cells.iter().zip(&wide).enumerate().map(|(c, (cell, wide))| {
            let gap = " ".repeat(wide.saturating_sub(display_width(cell)));
            // Counts stand under one another by their last digit.
            if c == 1 || c == 2 { format!("{gap}{cell}") } else { format!("{cell}{gap}") }
        });
        padded.collect::<Vec<_>>().join("  ").trim_end().to_owned()
    };
    if !rows.is_empty() {
        page.line(Tone::Faint, &format!("{:<7}{}", "call", line(&head)));
    }
    for (s, row) in survey.sequences.iter().zip(&rows) {
        let tone = match s.call {
            Call::Clear => Tone::Good,
            Call::Look => Tone::Warn,
            Call::Hold => Tone::Bad,
        };
        let call = s.call.word().to_uppercase();
        page.labelled((tone, &format!("{call:<7}")), &line(row));
        let incomplete = if s.complete { "" } else { "INCOMPLETE. " };
        page.wrap(7, Tone::Faint, &format!("{incomplete}{}, {}", when(s.start, s.end), exposure(s)));
        for words in [&s.story, &s.accepted].into_iter().flatten() {
            page.wrap(7, Tone::Plain, &shown(words));
        }
    }
}

/// What stands in the columns beside the call.
fn cells(survey: &Survey, s: &SequenceLine) -> [String; COLUMNS] {
    let missing = s.missing.map_or_else(|| "-".into(), |n| n.to_string());
    [end_of(whereabouts(survey, s)), s.frames.to_string(), missing, interval(s)]
}

/// The same in words, with when and how it was shot.
pub(crate) fn facts(s: &SequenceLine) -> Vec<String> {
    let mut facts = vec![when(s.start, s.end), counted(s.frames, "frame")];
    facts.extend(s.missing.filter(|n| *n > 0).map(|n| format!("{n} missing")));
    facts.push(match s.interval_s {
        Some(_) => format!("every {}", interval(s)),
        None => "no steady interval".into(),
    });
    facts.push(exposure(s));
    facts.retain(|words| words != "-");
    facts
}

fn interval(s: &SequenceLine) -> String {
    let interval = match (s.interval_s, s.start) {
        (Some(interval), _) => format!("{} s", plain(interval, 2)),
        (None, Some(_)) => "uneven".into(),
        (None, None) => "-".into(),
    };
    s.sets.map_or(interval.clone(), |sets| format!("{interval}, {}", sets_words(sets)))
}

/// "300 sets of 3".
fn sets_words(sets: Sets) -> String {
    format!("{} of {}", counted(sets.count, "set"), sets.size)
}

/// The folder, and the first and last name where the sequence is not the only one there.
pub(crate) fn whereabouts(survey: &Survey, s: &SequenceLine) -> String {
    let name = |path: &str| shown(path.rsplit('/').next().unwrap_or(path));
    let alone = survey.sequences.iter().filter(|o| (o.root, &o.folder) == (s.root, &s.folder)).count() == 1;
    let folder = place(survey, s.root, &s.folder);
    match alone {
        true => folder,
        false => format!("{folder} {} to {}", name(&s.first_file), name(&s.last_file)),
    }
}

/// As much of its end as a line takes.
fn end_of(words: String) -> String {
    let long = words.chars().count();
    if long <= WIDEST {
        words
    } else {
        format!("…{}", words.chars().skip(long - WIDEST + 1).collect::<String>())
    }
}

/// A folder below its root, with the root's name where there are several.
pub(crate) fn place(survey: &Survey, root: u16, folder: &str) -> String {
    let name = survey.roots.get(usize::from(root)).map_or("", String::as_str);
    match (survey.roots.len() > 1, folder.is_empty()) {
        (_, true) => shown(name),
        (true, false) => format!("{}/{}", shown(name), shown(folder)),
        (false, false) => shown(folder),
    }
}

/// `2026-05-09 04:10 to 06:10`, with the second date where it is another one.
fn when(start: Option<CivilTime>, end: Option<CivilTime>) -> String {
    let Some((start, end)) = start.zip(end) else { return "no stamp".into() };
    let minutes = |at: CivilTime| at.spoken().chars().take(16).collect::<String>();
    let (from, to) = (minutes(start), minutes(end));
    match (from.split_once(' '), to.split_once(' ')) {
        (Some((one, _)), Some((two, clock))) if one == two => format!("{from} to {clock}"),
        _ => format!("{from} to {to}"),
    }
}

fn exposure(s: &SequenceLine) -> String {
    let f_number = |n: f64| format!("f/{}", plain(n, 1));
    let iso = |v: f64| format!("ISO {v:.0}");
    let parts: Vec<String> =
        [range(s.exposure_s, stops::time_text), range(s.f_number, f_number), range(s.iso, iso)]
            .into_iter()
            .flatten()
            .collect();
    if parts.is_empty() { "-".into() } else { parts.join(", ") }
}

/// One value, or "a to b".
fn range(ends: Ends, words: fn(f64) -> String) -> Option<String> {
    let (low, high) = ends?;
    let (low, high) = (words(low), words(high));
    // "ISO 100 to 800": the sign once is enough.
    Some(if low == high {
        low
    } else {
        format!("{low} to {}", high.trim_start_matches("ISO ").trim_start_matches("f/"))
    })
}

fn trouble(page: &mut Page, survey: &Survey) {
    if survey.trouble.is_empty() {
        return;
    }
    crate::outputs::text::unread(page, &survey.trouble);
}
