//! What the code writes into the README: the tables of checks, of columns and of a plan's keys, what a
//! terminal shows of a real night, and a shoot worked out. `LAPSEPROOF_BLESS=1` writes them anew.

use lapseproof::checks::CHECKS;
use lapseproof::outputs::explain::{Explained, checks_table};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

/// Blessing rewrites the file: one test at a time.
static README: Mutex<()> = Mutex::new(());

fn home() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_owned()
}

/// Holds what stands between `<!-- NAME -->` and `<!-- /NAME -->` against `told`, or writes it there.
fn hold(name: &str, told: &str) {
    let _one = README.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let path = home().join("README.md");
    let (begin, end) = (format!("<!-- {name} -->\n"), format!("<!-- /{name} -->"));
    let parts = |readme: &str| {
        let (before, rest) = readme.split_once(&begin).expect("the line that begins the block");
        let (block, after) = rest.split_once(&end).expect("the line that ends the block");
        assert!(!after.contains(&begin) && !after.contains(&end), "the markers stand once");
        (before.to_owned(), block.to_owned(), after.to_owned())
    };
    let (before, block, after) = parts(&fs::read_to_string(&path).expect("README.md"));
    if std::env::var_os("LAPSEPROOF_BLESS").is_some_and(|v| v == "1") {
        fs::write(&path, format!("{before}{begin}{told}{end}{after}")).expect("README.md can be written");
    } else {
        assert_eq!(block, told, "LAPSEPROOF_BLESS=1 cargo test --test suite readme:: writes it anew");
    }
}

#[test]
fn the_table_of_checks_is_the_codes() {
    let checks: Vec<Explained> = CHECKS.iter().map(|c| (c.text, c.limits)).collect();
    let told = checks_table(&checks);
    assert_eq!(told.lines().count(), CHECKS.len() + 2);
    hold("checks", &told);
}

#[test]
fn the_table_of_columns_is_the_codes() {
    let told = lapseproof::outputs::columns::table();
    assert!(told.lines().count() > 40);
    hold("columns", &told);
}

#[test]
fn the_keys_of_a_plan_are_the_codes() {
    let told = lapseproof::outputs::plan_keys::table();
    assert!(told.lines().count() > 50);
    hold("keys", &told);
}

#[test]
fn the_screen_is_a_real_one() {
    let out = tempfile::tempdir().expect("a folder");
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_lapseproof"))
        .args(["audit", "sample-sequences/glasshouse-night", "--out"])
        .arg(out.path().join("report"))
        .current_dir(home())
        .env_remove("CLICOLOR_FORCE")
        .output()
        .expect("the binary runs");
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    hold("screen", &format!("```text\n{screen}```\n"));
}

#[test]
fn the_survey_is_a_real_one() {
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_lapseproof"))
        .args(["survey", "sample-sequences", "--quiet"])
        .current_dir(home())
        .env_remove("CLICOLOR_FORCE")
        .output()
        .expect("the binary runs");
    let page = String::from_utf8(output.stdout).expect("UTF-8");
    let rows = page.lines().filter(|line| line.starts_with("HOLD") || line.starts_with("CLEAR")).count();
    assert_eq!(rows, 6, "{page}");
    let (table, _) = page.split_once("\nNot pictures\n").expect("what is no picture");
    hold("survey", &format!("```text\n{table}```\n"));
}

/// The shoot that the README works out.
const SHOOT: &str = "plan --event 2h --length 20s --fps 25 --shutter 8s --busy 0.4s --travel 900mm --speed \
                     1mm/s --settle 0.5s --battery-hours 5 --temperature=-5";

#[test]
fn the_shoot_is_worked_out_by_the_code() {
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_lapseproof"))
        .args(SHOOT.split_whitespace())
        .env_remove("CLICOLOR_FORCE")
        .output()
        .expect("the binary runs");
    assert!(output.status.success());
    let page = String::from_utf8(output.stdout).expect("UTF-8");
    let (first, rest) = SHOOT.split_once(" --shutter").expect("two lines");
    hold("plan", &format!("```text\n$ lapseproof {first} \\\n    --shutter{rest}\n\n{page}```\n"));
}
