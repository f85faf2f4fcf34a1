//! What a test says that cannot be tried here. Every skip goes through here: `tests/suite/house_rules.rs`
//! sees to it.

use std::fmt::Display;

/// Why a test, or a part of one, cannot be tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// Data that is read from beside the project is not there.
    Absent,
    /// The machine, or the user who runs the tests, cannot do it: no data would change that.
    Unable,
}

/// Says so. With the environment variable `CI` set, absent data fails the test: a gate that tries less than
/// it should is not passed.
pub fn skipped(why: Why, what: impl Display) {
    let gate = std::env::var_os("CI").is_some();
    assert!(!gate || why != Why::Absent, "{what}: with CI set, nothing is skipped for want of data");
    println!("skipped: {what}");
}
