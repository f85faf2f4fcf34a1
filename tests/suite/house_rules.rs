//! The rules of the house, kept by a test: who may import whom, one file a check, small files, and documents
//! that can be read at a glance.

use lapseproof::checks::CHECKS;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

fn home() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Every source file below `folder`, in order of path.
fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = walkdir::WalkDir::new(folder)
        .into_iter()
        .map(|entry| entry.expect("a readable source tree").into_path())
        .filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .collect();
    files.sort();
    assert!(!files.is_empty(), "no sources below {}", folder.display());
    files
}

/// The room a source file belongs to: the first part of its path below `src`.
fn room(path: &Path) -> String {
    let below = path.strip_prefix(home().join("src")).expect("a file below src");
    let first = below.components().next().expect("a name").as_os_str().to_string_lossy().into_owned();
    first.trim_end_matches(".rs").to_owned()
}

/// The import table of DEVELOPERS.md: room → what it may import.
fn table() -> BTreeMap<String, Vec<String>> {
    let text = fs::read_to_string(home().join("DEVELOPERS.md")).expect("DEVELOPERS.md");
    let table = text.split("| room | may import |").nth(1).expect("the import table");
    let mut out = BTreeMap::new();
    for line in table.lines().skip(2).take_while(|l| l.starts_with('|')) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let may =
            cells[1].split(',').map(|r| r.trim().to_owned()).filter(|r| r != "nothing").collect::<Vec<_>>();
        for name in cells[0].split(',') {
            out.insert(name.trim().to_owned(), may.clone());
        }
    }
    assert!(out.len() >= 12, "the table names {} rooms", out.len());
    out
}

/// Rooms named after `crate::` in a source, comments left out.
fn imports(source: &str) -> Vec<String> {
    let code: String =
        source.lines().filter(|l| !l.trim_start().starts_with("//")).flat_map(|l| [l, "\n"]).collect();
    let mut out = Vec::new();
    for tail in code.split("crate::").skip(1) {
        if let Some(list) = tail.strip_prefix('{') {
            let list = list.split(';').next().unwrap_or("");
            let mut depth = 0;
            let mut name = String::new();
            for c in list.chars() {
                match c {
                    '{' => depth += 1,
                    '}' => depth -= 1,
                    ',' if depth == 0 => out.push(std::mem::take(&mut name)),
                    c if depth == 0 => name.push(c),
                    _ => {}
                }
            }
            out.push(name);
        } else {
            out.push(tail.to_owned());
        }
    }
    out.iter()
        .map(|o| o.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>())
        .filter(|o| !o.is_empty())
        .collect()
}

#[test]
fn each_room_imports_only_what_the_table_allows() {
    let table = table();
    for path in sources(&home().join("src")) {
        let room = room(&path);
        if room == "lib" || room == "main" {
            continue;
        }
        let allowed =
            table.get(&room).unwrap_or_else(|| panic!("{room} is not in the table of DEVELOPERS.md"));
        for import in imports(&fs::read_to_string(&path).expect("a readable source")) {
            let own = import == room || !table.contains_key(&import);
            assert!(
                own || allowed.contains(&import),
                "{} imports {import}, which {room} may not",
                path.display()
            );
        }
    }
}

/// A grant that nobody uses is a door left open.
#[test]
fn each_room_uses_what_the_table_grants_it() {
    let mut used: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for path in sources(&home().join("src")) {
        let seen = imports(&fs::read_to_string(&path).expect("a readable source"));
        used.entry(room(&path)).or_default().extend(seen);
    }
    for (name, grants) in table() {
        let used = used.get(&name).map(Vec::as_slice).unwrap_or_default();
        let unused: Vec<_> = grants.iter().filter(|g| !used.contains(g)).collect();
        assert!(unused.is_empty(), "{name} may import {unused:?} and does not: take it out of the table");
    }
}

#[test]
fn the_import_reader_sees_what_it_should() {
    assert_eq!(
        imports("use crate::units::{A, B};\n// crate::cli\nlet x = crate::plan::Plan;"),
        ["units", "plan"]
    );
    assert_eq!(imports("use crate::{units::A, plan::{B, C}};"), ["units", "plan"]);
}

fn entries(folder: &Path) -> Vec<PathBuf> {
    let all = fs::read_dir(folder).expect("a readable folder");
    all.map(|entry| entry.expect("an entry").path()).collect()
}

#[test]
fn each_check_is_one_listed_file_named_by_its_id() {
    // A file of a group, or a folder of it where a check has much to do.
    let checks = home().join("src/checks");
    let group = |p: &PathBuf| p.is_dir();
    let mut files: Vec<String> = entries(&checks)
        .into_iter()
        .filter(group)
        .flat_map(|group| entries(&group))
        .map(|p| p.file_stem().expect("a name").to_string_lossy().replace('_', "-"))
        .filter(|stem| stem != "mod")
        .collect();
    files.sort();
    let mut ids: Vec<String> = CHECKS.iter().map(|c| c.text.id.to_owned()).collect();
    ids.sort();
    assert_eq!(files, ids);
    let mut once = ids.clone();
    once.dedup();
    assert_eq!(once, ids, "an id stands twice");
}

/// Files beside `src/checks` that may write a check's id: the plan's own example, an example of a table's
/// cell, and a kind of join that bears the same name.
const NAME_A_CHECK: [&str; 3] =
    ["src/plan/read/written.rs", "src/outputs/frames_csv.rs", "src/outputs/json/fill.rs"];

#[test]
fn no_check_is_named_by_its_id_outside_the_checks() {
    let mut named = Vec::new();
    for path in sources(&home().join("src")) {
        let below = path.strip_prefix(home()).expect("a file of ours").to_string_lossy().into_owned();
        let own = below.starts_with("src/checks/") || below.starts_with("src/rehearse/");
        // Examples that tests alone are built with.
        let example = below.ends_with("tests.rs") || below.ends_with("/sample.rs");
        if own || example || NAME_A_CHECK.contains(&below.as_str()) {
            continue;
        }
        let text = fs::read_to_string(&path).expect("a source file");
        let code = text.split("#[cfg(test)]").next().unwrap_or_default();
        let ids = CHECKS.iter().map(|c| format!("\"{}\"", c.text.id)).filter(|id| code.contains(id));
        named.extend(ids.map(|id| format!("{below} names {id}")));
    }
    assert!(named.is_empty(), "a check is named by its type, or by its traits: {named:#?}");
}

/// What is said once, by its mark in the code, and the only files that may hold it.
const SAID_ONCE: [(&str, &[&str]); 8] = [
    // The part of the plan in force, the budget under it, and the misfit of plan and card.
    (".interval_s.or(", &["src/plan/asked.rs", "src/schedule/laid.rs"]),
    ("Misfit::of(", &["src/schedule/laid.rs"]),
    ("budget.from_close =", &["src/schedule/laid.rs"]),
    // The frames of a clip and the pace that is taken where none is said.
    ("frames_from_clip(", &["src/plan/arithmetic.rs", "src/plan/clip.rs"]),
    ("ASSUMED_FPS)", &["src/plan/clip.rs"]),
    // When a slot was due, and what a rehearsal and a plan make of working hours.
    ("stretch.phase", &["src/schedule/due.rs"]),
    ("fn rest_s", &["src/plan/hours.rs"]),
    // Numbers without idle decimals.
    ("trim_end_matches('0')", &["src/units/words.rs"]),
];

#[test]
fn what_is_said_once_stands_in_one_place() {
    for (mark, places) in SAID_ONCE {
        let mut held = Vec::new();
        for path in sources(&home().join("src")) {
            let text = fs::read_to_string(&path).expect("a source file");
            let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
            if code.lines().any(|line| !line.trim_start().starts_with("//") && line.contains(mark)) {
                held.push(path.strip_prefix(home()).expect("a file of ours").to_string_lossy().into_owned());
            }
        }
        assert_eq!(held, places, "{mark} is said elsewhere too, or no longer where it was");
    }
}

/// What stands beside the frames, a value each, joined by position. `evidence` alone joins it, in
/// `FrameView`.
const JOINED: [&str; 9] = [
    ".frames.rows",
    ".states",
    ".standing",
    ".offsets_s",
    "exposure.settings",
    "pictures.brightness_ev",
    "pictures.sight",
    "pictures.unexplained_ev",
    "frames.look(",
];

/// The lines of a source that name what only `FrameView` joins, its tests and comments left out.
fn joins_by_hand(source: &str) -> Vec<&str> {
    let code = source.split("#[cfg(test)]\nmod ").next().unwrap_or_default();
    let lines = code.lines().filter(|line| !line.trim_start().starts_with("//"));
    let whole = |rest: &str| !rest.starts_with(|c: char| c.is_alphanumeric() || c == '_');
    let named = |line: &str, mark: &str| {
        line.match_indices(mark).any(|(at, _)| mark.ends_with('(') || whole(&line[at + mark.len()..]))
    };
    lines.filter(|line| JOINED.iter().any(|mark| named(line, mark))).collect()
}

#[test]
fn a_frame_is_seen_whole_outside_the_evidence() {
    let mut by_hand = Vec::new();
    for path in sources(&home().join("src")) {
        let of_tests = path.ends_with("checks/testing.rs")
            || path.ends_with("outputs/sample.rs")
            || path.file_name().is_some_and(|name| name == "tests.rs");
        if of_tests || ["evidence", "frames", "card", "rehearse"].contains(&room(&path).as_str()) {
            continue;
        }
        let text = fs::read_to_string(&path).expect("a source file");
        by_hand.extend(joins_by_hand(&text).iter().map(|line| format!("{}: {line}", path.display())));
    }
    assert!(by_hand.is_empty(), "ask `Sequence::frame` for it: {by_hand:#?}");
}

#[test]
fn what_is_joined_by_hand_is_seen() {
    for line in [
        "let row = &evidence.frames.rows[at];",
        "if audit.evidence.states[at] == FrameState::Frame {",
        "let off = timing.standing.offsets_s.get(at);",
        "let time_s = evidence.exposure.settings.get(at);",
        "let look = evidence.frames.look(at);",
    ] {
        assert_eq!(joins_by_hand(line), [line]);
    }
    for line in [
        "let rows = frames.rows.iter();",
        "// evidence.states[at]",
        "let mark = budget.standing_s;",
        "let told = evidence.frame(at).look();",
        "#[cfg(test)]\nmod tests {\n    evidence.frames.rows[0].stamp = first;",
    ] {
        assert!(joins_by_hand(line).is_empty(), "{line}");
    }
}

#[test]
fn each_check_says_all_there_is_to_say() {
    for check in CHECKS {
        let t = check.text;
        for (what, words) in [
            ("asks", t.asks),
            ("why", t.why),
            ("how", t.how),
            ("blind", t.blind),
            ("remedy", t.remedy),
            ("source", t.source),
        ] {
            assert!(words.len() > 8 && words.ends_with(['.', '?']), "{}: {what}: {words:?}", t.id);
        }
        for limit in check.limits {
            assert!(!limit.source.is_empty() && !limit.unit.is_empty(), "{}: {}", t.id, limit.key.name());
        }
    }
}

/// A test that is left out says why in one place, where the gate can forbid it.
#[test]
fn every_skip_goes_through_the_one_place() {
    let all = ["tests/suite", "tests/support"].into_iter().flat_map(|folder| sources(&home().join(folder)));
    for path in all {
        let text = fs::read_to_string(&path).expect("a readable source");
        let own = path.ends_with("skip.rs") || path.ends_with("house_rules.rs");
        assert!(own || !text.contains("\"skipped"), "{} tells of a skip by itself", path.display());
    }
}

/// Rust files below `tests/suite/` are modules of the one binary: one that is forgotten is never tried.
#[test]
fn every_file_of_tests_is_a_module_of_the_suite() {
    let suite = home().join("tests/suite");
    let main = fs::read_to_string(suite.join("main.rs")).expect("a readable source");
    for entry in fs::read_dir(&suite).expect("the suite") {
        let path = entry.expect("an entry").path();
        let name = path.file_stem().expect("a name").to_string_lossy().into_owned();
        assert!(name == "main" || main.contains(&format!("\nmod {name};\n")), "{name} is not in main.rs");
    }
    assert!(
        !fs::read_dir(home().join("tests"))
            .expect("a folder")
            .any(|e| { e.expect("an entry").path().extension().is_some_and(|x| x == "rs") })
    );
}

#[test]
fn no_file_has_outgrown_its_concern() {
    for path in sources(&home().join("src")) {
        let lines = fs::read_to_string(&path).expect("a readable source").lines().count();
        assert!(lines <= 500, "{} has {lines} lines", path.display());
    }
}

/// Every page of the project, in order of path: what is built, fetched or hidden is left out.
fn documents() -> Vec<PathBuf> {
    let ours = |entry: &walkdir::DirEntry| {
        let name = entry.file_name().to_string_lossy();
        entry.depth() == 0 || !(name.starts_with('.') || name == "target" || name == "node_modules")
    };
    let all = walkdir::WalkDir::new(home()).into_iter().filter_entry(ours);
    let mut pages: Vec<PathBuf> = all
        .map(|entry| entry.expect("a readable project").into_path())
        .filter(|path| path.extension().is_some_and(|e| e == "md"))
        .collect();
    pages.sort();
    assert!(pages.len() > 20, "{pages:?}");
    pages
}

/// Lines of a page that are too long to be read beside another page. Tables and code are as wide as they are.
fn wide_lines(page: &str) -> Vec<usize> {
    let mut code = false;
    let mut wide = Vec::new();
    for (n, line) in page.lines().enumerate() {
        if line.trim_start().starts_with("```") {
            code = !code;
        } else if !code && !line.starts_with('|') && line.chars().count() > 110 {
            wide.push(n + 1);
        }
    }
    wide
}

#[test]
fn no_document_has_a_wide_line() {
    for path in documents() {
        let wide = wide_lines(&fs::read_to_string(&path).expect("a readable page"));
        assert!(wide.is_empty(), "{}: more than 110 columns in the lines {wide:?}", path.display());
    }
    let (long, short) = ("x".repeat(111), "é".repeat(110));
    let page = format!("{long}\n| {long} |\n```\n{long}\n```\n{short}\n{long}\n");
    assert_eq!(wide_lines(&page), [1, 7]);
}

/// Plans and messages as a user sees them, in raw text.
const AS_SEEN: [&str; 2] = ["src/plan/read/tests.rs", "src/plan/read/written.rs"];

#[test]
fn no_line_of_code_is_wide() {
    for path in ["src", "tests"].iter().flat_map(|folder| sources(&home().join(folder))) {
        let text = fs::read_to_string(&path).expect("a readable source");
        let wide: Vec<usize> =
            (1..).zip(text.lines()).filter(|(_, l)| l.chars().count() > 110).map(|(n, _)| n).collect();
        let as_seen = AS_SEEN.iter().any(|seen| path.ends_with(seen));
        assert!(wide.is_empty() || as_seen, "{}: more than 110 columns in {wide:?}", path.display());
    }
}

/// The map fits on two pages; how things work stands in the rooms.
#[test]
fn the_map_is_two_pages() {
    let lines = fs::read_to_string(home().join("DEVELOPERS.md")).expect("DEVELOPERS.md").lines().count();
    assert!(lines <= 150, "DEVELOPERS.md has {lines} lines");
}

/// A room whose head tells of a README has one, and a README is told of in the head of its room.
#[test]
fn each_readme_of_a_room_is_told_of_in_its_head() {
    for path in sources(&home().join("src")).into_iter().filter(|p| p.ends_with("mod.rs")) {
        let head = fs::read_to_string(&path).expect("a readable source");
        let told = head.lines().any(|line| line.starts_with("//! README.md beside this file"));
        assert_eq!(told, path.with_file_name("README.md").exists(), "{}", path.display());
    }
}

#[test]
fn the_top_level_is_the_owners() {
    const OWNED: [&str; 9] = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "src",
        "tests",
        "sample-sequences",
        "reports",
    ];
    for entry in fs::read_dir(home()).expect("the project folder") {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        let built = name == "target";
        assert!(
            name.starts_with('.') || built || OWNED.contains(&name.as_str()),
            "{name} does not belong here"
        );
    }
}
