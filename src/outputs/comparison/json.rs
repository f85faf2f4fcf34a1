//! What `compare --format json` prints. A value that is not known is null and never left out; paths are below
//! their root, exact, with bytes that are not UTF-8 as `\xNN`.

use super::{file, percent, text_of};
use crate::compare::{Answer, Comparison, Decodes, Difference, Found, InCopy, Tree, TreeFile};
use crate::frames::push_lossless;
use schemars::JsonSchema;
use serde::Serialize;
use std::io::{self, Write};

/// The number of the schema that is written. Keys may be added under it; none is renamed, removed or given
/// another meaning.
const SCHEMA: u32 = 1;

/// The record of one comparison.
#[derive(Debug, Serialize, JsonSchema)]
struct Record {
    /// Number of this schema: 1.
    schema: u32,
    /// What wrote the record: its name and version.
    tool: String,
    /// `every-file`, `not-proven`, `stopped`, `unread`, `no-file` or `not-in-each`, the worst that applies.
    /// Only after the first may the card be wiped.
    answer: &'static str,
    /// False where the reading was stopped, or where a file or folder could not be read.
    complete: bool,
    /// True where the reading was stopped.
    stopped: bool,
    /// Files, on either side, that an earlier run had read back already.
    read_earlier: u64,
    /// The card.
    card: Side,
    /// The copies, in the order in which they were named.
    copies: Vec<Copy>,
    /// Roots that lie on one disk, a list a disk.
    one_disk: Vec<Vec<String>>,
    /// Copies that share files by hard links.
    shared: Vec<Shared>,
}

/// A folder that was compared.
#[derive(Debug, Serialize, JsonSchema)]
struct Side {
    /// The folder, as it was named.
    root: String,
    /// Its files, the system's own left out.
    files: u64,
    /// Their length, bytes.
    bytes: u64,
    /// Entries of the system's own that were left out.
    left_out: u64,
    /// Links, pipes and devices: they were not followed.
    not_files: Vec<String>,
    /// What could not be listed.
    unlisted: Vec<Unlisted>,
}

/// A place that could not be listed.
#[derive(Debug, Serialize, JsonSchema)]
struct Unlisted {
    /// Path below the root; empty for the root itself.
    path: String,
    /// Why.
    why: String,
}

/// One copy.
#[derive(Debug, Serialize, JsonSchema)]
struct Copy {
    /// The folder.
    side: Side,
    /// Files of the card that are there under their own paths.
    same: u64,
    /// Files of the card that are there under another path.
    renamed: u64,
    /// Files of the card that it is known not to hold.
    lost: u64,
    /// Files of the card that are there, but came out of memory, or may have.
    not_proven: u64,
    /// Files of the card that are not simply there under their own paths, in the card's order.
    files: Vec<File>,
    /// Files that no file of the card stands for.
    only_here: Vec<String>,
    /// Files that go by the name of a copy in the making.
    unfinished: Vec<String>,
}

/// A file of the card in a copy.
#[derive(Debug, Serialize, JsonSchema)]
struct File {
    /// Path on the card.
    path: String,
    /// `renamed`, `differs`, `absent`, `once-only` (its bytes stand for another file alone), `linked` (the
    /// copy leads to the card's own file), `unread` or `not-reached`.
    state: &'static str,
    /// The file of the copy that stands for it; null where there is none.
    in_copy: Option<String>,
    /// `content` (as long), `cut-short` or `length`; null where it does not differ.
    difference: Option<&'static str>,
    /// How much of it was copied, whole percent; null where it was not cut short.
    copied_percent: Option<u64>,
    /// Which of the two decodes: `card`, `copy`, `both` or `neither`; null where that cannot be told.
    decodes: Option<&'static str>,
    /// Why it could not be read; null where it could.
    why: Option<String>,
}

/// Two copies that share files.
#[derive(Debug, Serialize, JsonSchema)]
struct Shared {
    /// Their folders.
    roots: [String; 2],
    /// How many files are one and the same.
    files: u64,
}

/// Writes the record, with a line end after it.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(told: &Comparison, replugged: bool, out: &mut dyn Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, &record(told, replugged)).map_err(io::Error::from)?;
    out.write_all(b"\n")
}

/// The JSON Schema (draft 2020-12) of the record, with a line end after it.
pub fn schema() -> String {
    let settings = schemars::generate::SchemaSettings::draft2020_12().for_serialize();
    let schema = settings.into_generator().into_root_schema_for::<Record>();
    // A schema is a plain tree of maps and strings: writing it cannot fail.
    serde_json::to_string_pretty(schema.as_value()).map(|s| s + "\n").unwrap_or_default()
}

fn record(told: &Comparison, replugged: bool) -> Record {
    let card = told.trees.first();
    let root = |t: &usize| told.trees.get(*t).map(root_text).unwrap_or_default();
    Record {
        schema: SCHEMA,
        tool: concat!(env!("CARGO_PKG_NAME"), " ", env!("CARGO_PKG_VERSION")).to_owned(),
        answer: match told.answer(replugged) {
            Answer::EveryFile => "every-file",
            Answer::NotProven => "not-proven",
            Answer::Stopped => "stopped",
            Answer::Unread => "unread",
            Answer::NoFile => "no-file",
            Answer::NotInEach => "not-in-each",
        },
        complete: !told.stopped && told.unread() == 0,
        stopped: told.stopped,
        read_earlier: told.earlier,
        card: card.map_or_else(|| side(&Tree::default()), side),
        copies: told.each().map(|(tree, in_copy)| copy(told.card(), tree, in_copy)).collect(),
        one_disk: told.one_disk.iter().map(|g| g.iter().map(root).collect()).collect(),
        shared: told
            .shared
            .iter()
            .map(|(a, b, files)| Shared { roots: [root(a), root(b)], files: *files })
            .collect(),
    }
}

/// A root as it was named, bytes that are not UTF-8 as `\xNN`.
fn root_text(tree: &Tree) -> String {
    let mut text = String::new();
    push_lossless(&mut text, tree.root.as_os_str());
    text
}

fn side(tree: &Tree) -> Side {
    Side {
        root: root_text(tree),
        files: tree.files.len() as u64,
        bytes: tree.bytes(),
        left_out: tree.left_out,
        not_files: tree.not_files.iter().map(|p| text_of(p)).collect(),
        unlisted: tree
            .unlisted
            .iter()
            .map(|u| Unlisted { path: text_of(&u.path), why: u.why.clone() })
            .collect(),
    }
}

fn copy(card: &[TreeFile], tree: &Tree, told: &InCopy) -> Copy {
    let count = |is: fn(&Found) -> bool| told.found.iter().filter(|f| is(f)).count() as u64;
    let names = |all: &[usize]| all.iter().filter_map(|o| Some(text_of(&file(tree, *o)?.path))).collect();
    Copy {
        side: side(tree),
        same: count(|f| matches!(f, Found::Same(_))),
        renamed: count(|f| matches!(f, Found::Renamed(_))),
        lost: told.lost() as u64,
        not_proven: (told.from_memory.len() + told.from_unknown.len()) as u64,
        files: card.iter().zip(&told.found).filter_map(|(f, found)| one(f, tree, found)).collect(),
        only_here: names(&told.extra),
        unfinished: names(&told.unfinished),
    }
}

fn one(card: &TreeFile, tree: &Tree, found: &Found) -> Option<File> {
    let mut told = File {
        path: text_of(&card.path),
        state: "absent",
        in_copy: None,
        difference: None,
        copied_percent: None,
        decodes: None,
        why: None,
    };
    let at = match found {
        Found::Same(_) => return None,
        Found::Absent => None,
        Found::NotReached => {
            told.state = "not-reached";
            None
        }
        Found::Renamed(at) => {
            told.state = "renamed";
            Some(*at)
        }
        Found::OnceOnly(at) => {
            told.state = "once-only";
            Some(*at)
        }
        Found::Linked(at) => {
            told.state = "linked";
            Some(*at)
        }
        Found::Unread { in_copy, why } => {
            told.state = "unread";
            told.why = Some(why.clone());
            *in_copy
        }
        Found::Differs { file: at, how, decodes } => {
            told.state = "differs";
            told.difference = Some(match how {
                Difference::Content => "content",
                Difference::CutShort => "cut-short",
                Difference::Length => "length",
            });
            let cut = *how == Difference::CutShort;
            told.copied_percent = file(tree, *at).filter(|_| cut).map(|copy| percent(card, copy));
            told.decodes = decodes.map(|d| match d {
                Decodes::CardOnly => "card",
                Decodes::CopyOnly => "copy",
                Decodes::Both => "both",
                Decodes::Neither => "neither",
            });
            Some(*at)
        }
    };
    told.in_copy = at.and_then(|at| Some(text_of(&file(tree, at)?.path)));
    Some(told)
}
