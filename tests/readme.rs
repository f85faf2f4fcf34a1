//! The README's table of checks is what the code writes. `LAPSEPROOF_BLESS=1` writes it anew.

use lapseproof::checks::CHECKS;
use lapseproof::outputs::explain::{Explained, checks_table};
use std::fs;
use std::path::Path;

const BEGIN: &str = "<!-- checks -->\n";
const END: &str = "<!-- /checks -->";

/// The text before, between and after the markers.
fn parts(readme: &str) -> (&str, &str, &str) {
    let (before, rest) = readme.split_once(BEGIN).expect("README.md has a line <!-- checks -->");
    let (table, after) = rest.split_once(END).expect("README.md has a line <!-- /checks --> behind it");
    assert!(!after.contains(BEGIN) && !after.contains(END), "the markers stand once");
    (before, table, after)
}

#[test]
fn the_table_of_checks_is_the_codes() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let checks: Vec<Explained> = CHECKS.iter().map(|c| (c.text, c.limits)).collect();
    let told = checks_table(&checks);
    let readme = fs::read_to_string(&path).expect("README.md");
    let (before, _, after) = parts(&readme);
    if std::env::var_os("LAPSEPROOF_BLESS").is_some_and(|v| v == "1") {
        fs::write(&path, format!("{before}{BEGIN}{told}{END}{after}")).expect("README.md can be written");
    }
    let readme = fs::read_to_string(&path).expect("README.md");
    assert_eq!(parts(&readme).1, told, "LAPSEPROOF_BLESS=1 cargo test --test readme writes it anew");
    assert_eq!(told.lines().count(), CHECKS.len() + 2);
}
