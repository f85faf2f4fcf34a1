//! The answer for people: its first line says whether the card may be wiped, the next ones the worst. It fits
//! a screen of 24 lines at 80 columns; all of it stands behind `--verbose`.

use super::{file, percent, text_of};
use crate::compare::{Answer, Comparison, Decodes, Difference, Found, InCopy, Tree, TreeFile};
use crate::outputs::text::{Page, Tone};
use crate::units::{counted, counted_as, shown, shown_path, size_text};

/// Lines of a screen.
const SCREEN: usize = 24;
/// Column at which the names begin.
const NAMES_AT: usize = 14;
/// Files that are named at least, of each copy that lacks some.
const AT_LEAST: usize = 2;

/// The answer in one line, with its line end.
pub fn first_line(told: &Comparison, replugged: bool) -> String {
    headline(told, replugged) + "\n"
}

/// The whole answer: a screen of it, or everything where `verbose`. Colours only where `colour` asks for
/// them.
pub fn told(told: &Comparison, replugged: bool, verbose: bool, colour: bool) -> String {
    let answer = told.answer(replugged);
    let all: Vec<Told> = copies_in_order(told).into_iter().map(|n| Told::of(told, n, verbose)).collect();
    // What is always said is laid out first; the names get the lines that are left.
    let frame = |page: &mut Page, most: usize| {
        page.wrap(0, tone(answer), &headline(told, replugged));
        if let Some(now) = what_now(told, answer) {
            page.wrap(0, Tone::Plain, &format!("Now: {now}"));
        }
        for place in &unlisted(told)[..] {
            page.hang(2, (Tone::Bad, "not read"), NAMES_AT, place);
        }
        for copy in all.iter().filter(|_| answer != Answer::NoFile) {
            copy.lay_out(page, most);
        }
        for note in notes(told, &all) {
            page.wrap(0, Tone::Faint, &note);
        }
    };
    let laid_out = |most: usize| {
        let mut page = Page::new(colour);
        frame(&mut page, most);
        page
    };
    if verbose {
        return laid_out(usize::MAX).finish();
    }
    let longest = all.iter().map(|c| c.items.len()).max().unwrap_or_default().min(SCREEN);
    let fits = (AT_LEAST..=longest).rev().map(laid_out).find(|page| page.lines() <= SCREEN);
    fits.unwrap_or_else(|| laid_out(AT_LEAST)).finish()
}

fn tone(answer: Answer) -> Tone {
    match answer {
        Answer::EveryFile => Tone::Good,
        Answer::NotProven | Answer::Stopped => Tone::Warn,
        Answer::Unread | Answer::NoFile | Answer::NotInEach => Tone::Bad,
    }
}

/// `12,345`: whole numbers with their thousands set apart.
fn number(n: usize) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

fn files(n: usize) -> String {
    format!("{} {}", number(n), if n == 1 { "file" } else { "files" })
}

fn name(tree: &Tree) -> String {
    shown_path(&tree.root)
}

fn headline(told: &Comparison, replugged: bool) -> String {
    let all = told.card().len();
    let size = told.trees.first().map_or(0, Tree::bytes);
    let whole = format!("{}, {}", files(all), size_text(size as f64));
    match told.answer(replugged) {
        Answer::EveryFile => {
            let asked = told.copies.iter().any(|c| !c.from_unknown.is_empty());
            let how =
                if asked { "read after the disks were plugged in again" } else { "read back from disk" };
            format!("EVERY FILE IS IN EACH COPY: {whole}, {how}.")
        }
        Answer::NotProven => {
            let mut doubted: Vec<usize> = told
                .copies
                .iter()
                .flat_map(|c| c.from_memory.iter().chain(&c.from_unknown))
                .copied()
                .collect();
            doubted.sort_unstable();
            doubted.dedup();
            let some = if doubted.len() == all { "they".into() } else { files(doubted.len()) };
            format!(
                "NOT PROVEN: every file is equal ({whole}), but {some} may have come out of this computer's \
                 memory instead of the disk."
            )
        }
        Answer::Stopped => {
            let done = |i: usize| told.copies.iter().all(|c| c.found.get(i).is_some_and(Found::is_there));
            let done = (0..all).filter(|i| done(*i)).count();
            format!(
                "STOPPED: {} of {} are in each copy, the others were not compared.",
                number(done),
                files(all)
            )
        }
        Answer::Unread => format!(
            "NOT COMPLETE: {} could not be read. Keep the card.",
            counted_as(told.unread() as u64, "file or folder", "files or folders")
        ),
        Answer::NoFile => {
            let card = told.trees.first().map(name).unwrap_or_default();
            format!("NO FILE ON THE CARD: there is nothing to compare in {card}.")
        }
        Answer::NotInEach => not_in_each(told),
    }
}

fn not_in_each(told: &Comparison) -> String {
    let bad: Vec<_> = told.each().filter(|(_, c)| c.lost() > 0).collect();
    let why = match bad.as_slice() {
        [] => {
            let unfinished = told.each().filter(|(_, c)| !c.unfinished.is_empty());
            let names: Vec<_> = unfinished.map(|(tree, _)| name(tree)).collect();
            format!("a file in {} has the name of an unfinished copy", names.join(" and in "))
        }
        [(tree, _)] if tree.files.is_empty() => format!("{} holds no file", name(tree)),
        [(tree, copy)] => {
            let is = if copy.lost() == 1 { "is" } else { "are" };
            format!("{} {is} not in {}", files(copy.lost()), name(tree))
        }
        several => {
            let lost = |i: usize| several.iter().any(|(_, c)| c.found.get(i).is_some_and(Found::is_lost));
            let lost = (0..told.card().len()).filter(|i| lost(*i)).count();
            let is = if lost == 1 { "is" } else { "are" };
            format!("{} {is} not in each copy", files(lost))
        }
    };
    format!("DO NOT WIPE THE CARD: {why}.")
}

fn what_now(told: &Comparison, answer: Answer) -> Option<String> {
    let goes_on = "Run the same command again: it goes on from here.";
    Some(match answer {
        Answer::EveryFile => return None,
        Answer::NotProven if told.copies.iter().any(|c| !c.from_memory.is_empty()) => {
            "Close the programs that have the files open, and run this again.".into()
        }
        Answer::NotProven => {
            "Unplug the card and the copies, and disconnect what lies on a network. Connect them again, and \
             run this with --replugged."
                .into()
        }
        Answer::Stopped => format!("{goes_on} Keep the card."),
        Answer::Unread => "Make these readable, or plug the disk in again, and run this again.".into(),
        Answer::NoFile => "Look whether this is the card. Another reader may see its files.".into(),
        Answer::NotInEach if told.copies.iter().all(|c| c.lost() == 0) => {
            "Wait until the copying has ended, or take the unfinished file away. Then run this again.".into()
        }
        Answer::NotInEach => {
            let sound = |c: &InCopy| {
                c.found.iter().any(|f| matches!(f, Found::Differs { decodes: Some(Decodes::CopyOnly), .. }))
            };
            match told.copies.iter().any(sound) {
                true => "Keep both. Where only the copy decodes, the card is at fault: do not copy over it."
                    .into(),
                false => "Copy these files again, and run this again.".into(),
            }
        }
    })
}

/// The copies, those that lack most first.
fn copies_in_order(told: &Comparison) -> Vec<usize> {
    let mut order: Vec<usize> = (0..told.copies.len()).collect();
    order.sort_by_key(|n| {
        let copy = told.copies.get(*n);
        std::cmp::Reverse(copy.map_or((0, 0), |c| (c.lost(), c.found.len() - c.there() + c.unfinished.len())))
    });
    order
}

/// What is said of one copy.
struct Told {
    line: String,
    /// What stands under its line, the worst first: rank, label, words.
    items: Vec<(u8, &'static str, String)>,
    extra: usize,
}

impl Told {
    fn of(told: &Comparison, n: usize, verbose: bool) -> Self {
        let (Some(card), Some(tree), Some(copy)) =
            (told.trees.first(), told.trees.get(n + 1), told.copies.get(n))
        else {
            return Self { line: String::new(), items: Vec::new(), extra: 0 };
        };
        let mut items: Vec<_> = card
            .files
            .iter()
            .zip(&copy.found)
            .filter_map(|(file, found)| item(file, tree, found, verbose))
            .chain(
                copy.unfinished
                    .iter()
                    .filter_map(|o| Some((5, "unfinished", shown(&text_of(&file(tree, *o)?.path))))),
            )
            .chain(
                copy.extra
                    .iter()
                    .filter(|_| verbose)
                    .filter_map(|o| Some((8, "only here", shown(&text_of(&file(tree, *o)?.path))))),
            )
            .collect();
        items.sort_by_key(|i| i.0);
        Self { line: line(tree, copy), items, extra: copy.extra.len() }
    }

    fn lay_out(&self, page: &mut Page, most: usize) {
        page.wrap(0, Tone::Plain, &self.line);
        let named = self.items.iter().take(most);
        for (rank, label, words) in named {
            page.hang(2, (if *rank < 6 { Tone::Bad } else { Tone::Faint }, label), NAMES_AT, words);
        }
        let rest = self.items.len().saturating_sub(most);
        if rest > 0 {
            page.wrap(2, Tone::Faint, &format!("and {} more: --verbose names them.", number(rest)));
        }
    }
}

/// How a copy stands, in one line.
fn line(tree: &Tree, copy: &InCopy) -> String {
    let count = |is: fn(&Found) -> bool| copy.found.iter().filter(|f| is(f)).count();
    let (there, all) = (copy.there(), copy.found.len());
    let renamed = count(|f| matches!(f, Found::Renamed(_)));
    let mut parts = Vec::new();
    for (many, one, several) in [
        (count(|f| *f == Found::Absent), "is absent", "are absent"),
        (count(|f| matches!(f, Found::Differs { .. })), "differs", "differ"),
        (count(|f| matches!(f, Found::Linked(_))), "is the card's own", "are the card's own"),
        (count(|f| matches!(f, Found::OnceOnly(_))), "has no file of its own", "have no file of their own"),
        (count(|f| matches!(f, Found::Unread { .. })), "was not read", "were not read"),
        (count(|f| *f == Found::NotReached), "was not compared", "were not compared"),
    ] {
        if many > 0 {
            parts.push(format!("{} {}", number(many), if many == 1 { one } else { several }));
        }
    }
    let place = name(tree);
    let elsewhere = match renamed {
        0 => String::new(),
        n if n == there => ", under another name or in another folder".into(),
        n => format!(", {} of them under another name or in another folder", number(n)),
    };
    match (parts.is_empty(), all) {
        (true, 1) => format!("{place}: the file is there{elsewhere}."),
        (true, _) => format!("{place}: all {} are there{elsewhere}.", files(all)),
        (false, _) => {
            let is = if there == 1 { "is" } else { "are" };
            format!(
                "{place}: {} of {} files {is} there{elsewhere}; {}.",
                number(there),
                number(all),
                parts.join(", ")
            )
        }
    }
}

/// A line about a file that is not simply there; renamed ones only where everything is told.
fn item(card: &TreeFile, tree: &Tree, found: &Found, verbose: bool) -> Option<(u8, &'static str, String)> {
    let own = shown(&text_of(&card.path));
    let other = |at: usize| file(tree, at).map(|f| shown(&text_of(&f.path))).unwrap_or_default();
    // The place is named where it is another one.
    let there = |at: usize| match file(tree, at).is_some_and(|f| f.key == card.key) {
        true => String::new(),
        false => format!(" (there: {})", other(at)),
    };
    Some(match found {
        Found::Absent => (0, "absent", own),
        Found::Differs { file: at, how, decodes } => {
            let length = file(tree, *at).map_or(0, |f| f.version.bytes);
            let how = match how {
                Difference::Content => "as long, with other bytes".to_owned(),
                Difference::CutShort => {
                    let share = file(tree, *at).map_or(0, |f| percent(card, f));
                    format!("copied only to {share} %")
                }
                Difference::Length => {
                    let card = card.version.bytes;
                    let word = if length > card { "longer" } else { "shorter" };
                    format!("{} {word}", counted(length.abs_diff(card), "byte"))
                }
            };
            let decodes = match decodes {
                Some(Decodes::CardOnly) => "; the copy does not decode, the card's does",
                Some(Decodes::CopyOnly) => "; the card's does not decode, the copy does",
                Some(Decodes::Both) => "; both decode",
                Some(Decodes::Neither) => "; neither decodes",
                None => "",
            };
            (1, "differs", format!("{own}: {how}{decodes}{}", there(*at)))
        }
        Found::Linked(at) => (2, "no copy", format!("{own}: {} leads to the card's own file", other(*at))),
        Found::OnceOnly(at) => {
            (3, "once only", format!("{own}: its bytes are there as {} alone", other(*at)))
        }
        Found::Unread { in_copy: None, why } => (4, "not read", format!("{own}, on the card: {why}")),
        Found::Unread { in_copy: Some(at), why } => (4, "not read", format!("{}: {why}", other(*at))),
        Found::NotReached if verbose => (6, "not reached", own),
        Found::Renamed(at) if verbose => (7, "renamed", format!("{own}, there: {}", other(*at))),
        Found::NotReached | Found::Renamed(_) | Found::Same(_) => return None,
    })
}

/// Most places that could not be listed and are named; the rest is counted.
const PLACES: usize = 4;

fn unlisted(told: &Comparison) -> Vec<String> {
    let of_trees = told.trees.iter().flat_map(|tree| {
        tree.unlisted.iter().map(|u| format!("{}: {}", shown_path(&tree.root.join(&u.path)), shown(&u.why)))
    });
    let links = told.trees.first().into_iter().flat_map(|card| {
        card.not_files.iter().map(|path| {
            format!(
                "{}: no file but a link or a device; it is not followed",
                shown_path(&card.root.join(path))
            )
        })
    });
    let mut all: Vec<String> = of_trees.chain(links).collect();
    let rest = all.len().saturating_sub(PLACES);
    if rest > 0 {
        all.truncate(PLACES);
        all.push(format!("and {} more", number(rest)));
    }
    all
}

/// What changes nothing in the answer and is good to know.
fn notes(told: &Comparison, all: &[Told]) -> Vec<String> {
    let mut notes = Vec::new();
    for group in &told.one_disk {
        let card = group.first() == Some(&0);
        notes.push(match (card, group.len()) {
            (true, 2) if told.copies.len() == 1 => {
                "Card and copy lie on one disk: if it fails, both are gone.".to_owned()
            }
            _ => {
                let names: Vec<_> = group.iter().filter_map(|t| told.trees.get(*t)).map(name).collect();
                format!("These lie on one disk, and if it fails all are gone: {}.", names.join(", "))
            }
        });
    }
    for (a, b, many) in &told.shared {
        let of = |t: &usize| told.trees.get(*t).map(name).unwrap_or_default();
        let are = counted_as(*many, "file is", "files are");
        notes.push(format!("{are} one and the same in {} and {}: there they are one copy.", of(a), of(b)));
    }
    if told.earlier > 0 {
        let were = counted_as(told.earlier, "file was", "files were");
        notes.push(format!("{were} read back by an earlier run that was stopped, and not again."));
    }
    let extra: usize = all.iter().map(|c| c.extra).sum();
    if extra > 0 {
        let are = if extra == 1 { "is" } else { "are" };
        notes.push(format!("{} {are} in a copy alone.", files(extra)));
    }
    let left_out = told.trees.first().map_or(0, |t| t.left_out);
    if left_out > 0 {
        let are = counted_as(left_out, "entry of the computer's own is", "entries of the computer's own are");
        notes.push(format!("{are} left out on the card (indexes, bins)."));
    }
    notes
}
