//! No file of a room imports, by whatever way round, a file that imports it: what is below can be read
//! without what is above. The rooms that keep to it are listed; a room joins the list when its last circle is
//! broken.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// Rooms without circles.
const ROOMS: [&str; 16] = [
    "units", "stats", "plan", "card", "frames", "evidence", "schedule", "finding", "checks", "verdict",
    "audit", "outputs", "store", "survey", "rehearse", "cli",
];

/// A module by its path below the room.
type Module = Vec<String>;

/// The sources of a room, their tests and comments left out.
fn sources(room: &str) -> BTreeMap<Module, String> {
    let home = Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(room);
    let mut all = BTreeMap::new();
    for entry in walkdir::WalkDir::new(&home) {
        let path = entry.expect("a readable source tree").into_path();
        if path.extension().is_none_or(|e| e != "rs") {
            continue;
        }
        let below = path.strip_prefix(&home).expect("a file of the room").with_extension("");
        let mut module: Module = below.iter().map(|part| part.to_string_lossy().into_owned()).collect();
        module.retain(|part| part != "mod");
        let text = fs::read_to_string(&path).expect("a readable source");
        let code = text.split("\nmod tests {").next().unwrap_or_default();
        let lines = code.lines().filter(|line| !line.trim_start().starts_with("//"));
        all.insert(module, lines.collect::<Vec<_>>().join("\n"));
    }
    // Files of tests alone.
    let mut tests: BTreeSet<Module> = BTreeSet::new();
    for (module, code) in &all {
        let names = code.split("#[cfg(test)]\nmod ").skip(1).filter_map(|rest| rest.split(';').next());
        tests.extend(names.map(|name| [&module[..], &[name.to_owned()]].concat()));
    }
    all.retain(|module, _| !tests.contains(module));
    all
}

/// The paths of a tree of imports: `a::{b, c::d}` names `a::b` and `a::c::d`.
fn paths(tree: &str) -> Vec<Vec<String>> {
    let tree = tree.trim();
    let Some((before, list)) = tree.split_once('{') else {
        let path = tree.split(" as ").next().unwrap_or_default();
        return vec![path.split("::").map(|part| part.trim().to_owned()).collect()];
    };
    let before: Vec<String> =
        before.split("::").map(str::trim).filter(|p| !p.is_empty()).map(Into::into).collect();
    let mut depth = 0;
    let items = list.trim_end().trim_end_matches('}').split(|c| {
        depth += i32::from(c == '{') - i32::from(c == '}');
        c == ',' && depth == 0
    });
    let items: Vec<&str> = items.filter(|item| !item.trim().is_empty()).collect();
    items.into_iter().flat_map(paths).map(|path| [&before[..], &path[..]].concat()).collect()
}

/// Each import of a source, and true for those that it hands on.
fn imports(code: &str) -> Vec<(bool, Vec<String>)> {
    let mut all = Vec::new();
    for (at, _) in code.match_indices("use ") {
        let line = code[..at].rsplit('\n').next().unwrap_or_default();
        let handed_on = line.trim().starts_with("pub");
        if line.trim().is_empty() || handed_on {
            let tree = code[at + 4..].split(';').next().unwrap_or_default();
            all.extend(paths(tree).into_iter().map(|path| (handed_on, path)));
        }
    }
    // Paths that are written out where they are used.
    let rest = code.split("use ").map(|part| part.split_once(';').map_or(part, |(_, rest)| rest));
    for part in rest {
        let words = part.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':'));
        let told = words.filter(|w| w.contains("::")).map(|w| w.split("::").map(Into::into).collect());
        all.extend(told.map(|path| (false, path)));
    }
    all
}

/// The modules that each module imports; what one hands on is of the module that it comes from.
fn graph(room: &str, sources: &BTreeMap<Module, String>) -> BTreeMap<Module, BTreeSet<Module>> {
    let imports: BTreeMap<&Module, _> = sources.iter().map(|(m, code)| (m, imports(code))).collect();
    let child = |of: &Module, name: &String| {
        let below = [&of[..], std::slice::from_ref(name)].concat();
        sources.contains_key(&below).then_some(below)
    };
    let owner = |mut at: Module, mut path: Vec<String>| {
        // Each step goes on to a module or to what it hands on; a name that neither knows is its own.
        for _ in 0..16 {
            let Some(name) = path.first().cloned() else { break };
            if name == "self" {
                path.remove(0);
            } else if let Some(below) = child(&at, &name) {
                (at, _) = (below, path.remove(0));
            } else {
                let handed =
                    imports[&at].iter().find(|(on, p)| *on && p.last() == Some(&name) && **p != path);
                let Some((_, from)) = handed else { break };
                path = from.clone();
            }
        }
        at
    };
    let base = |of: &Module, path: &[String]| -> Option<(Module, Vec<String>)> {
        let ups = path.iter().take_while(|part| *part == "super").count();
        match path.first()?.as_str() {
            "super" => Some((of[..of.len().checked_sub(ups)?].to_vec(), path[ups..].to_vec())),
            "crate" => (path.get(1)? == room).then(|| (Module::new(), path[2..].to_vec())),
            _ => child(of, path.first()?).map(|_| (of.clone(), path.to_vec())),
        }
    };
    let mut all = BTreeMap::new();
    for (module, own) in &imports {
        let own = own.iter().filter(|(handed_on, _)| !handed_on);
        let mut into: BTreeSet<Module> =
            own.filter_map(|(_, path)| base(module, path)).map(|(at, path)| owner(at, path)).collect();
        into.remove(*module);
        all.insert((*module).clone(), into);
    }
    all
}

#[test]
fn no_file_imports_one_that_imports_it() {
    let mut circles = Vec::new();
    for room in ROOMS {
        let mut graph = graph(room, &sources(room));
        assert!(graph.values().any(|into| !into.is_empty()), "{room}: imports are found");
        // What imports nothing that is left can be in no circle, nor what nothing that is left imports.
        loop {
            let imported: BTreeSet<Module> = graph.values().flatten().cloned().collect();
            let free = graph.iter().find(|(m, into)| into.is_empty() || !imported.contains(*m));
            let Some(free) = free.map(|(m, _)| m.clone()) else { break };
            graph.remove(&free);
            graph.values_mut().for_each(|into| _ = into.remove(&free));
        }
        let left = graph.iter().map(|(m, into)| format!("{room}: {} imports {into:?}", m.join("::")));
        circles.extend(left);
    }
    assert!(circles.is_empty(), "files in circles:\n{}", circles.join("\n"));
}

#[test]
fn a_circle_is_seen() {
    let code = |text: &str| text.to_owned();
    let of = |a: &str, b: &str, top: &str| {
        BTreeMap::from([
            (vec!["a".to_owned()], code(a)),
            (vec!["b".to_owned()], code(b)),
            (Vec::new(), code(top)),
        ])
    };
    let module = |name: &str| vec![name.to_owned()];
    let one = graph("r", &of("use super::b::{X, Y as Z};", "use crate::r::Thing;", "pub use a::Thing;"));
    assert_eq!(one[&module("a")], BTreeSet::from([module("b")]));
    assert_eq!(one[&module("b")], BTreeSet::from([module("a")]));
    assert_eq!(one[&Module::new()], BTreeSet::new());
    let two = graph("r", &of("use crate::other::X;", "fn f() { super::a::g() }", "fn h() { b::f() }"));
    assert_eq!(two[&module("a")], BTreeSet::new());
    assert_eq!(two[&module("b")], BTreeSet::from([module("a")]));
    assert_eq!(two[&Module::new()], BTreeSet::from([module("b")]));
}
