//! Files that are written: each beside its name first, sets of them put in place together or not at all, and
//! a list of what belongs to a set.
//!
//! README.md beside this file tells how it works.

mod beside;
mod disk;
mod folder;
pub mod list;
mod recover;
mod set;

pub use beside::{clear, write_beside};
pub use disk::{Disk, Identity};
pub use folder::{Folder, Kind, Output};
pub use set::{Failed, Staged, Store, is_changing};

/// What a file is called until it is whole.
fn partial(name: &str) -> String {
    format!(".lapseproof.{name}.partial")
}

/// What the file of an earlier run is called while a new one is put in its place.
fn kept(name: &str) -> String {
    format!(".lapseproof.{name}.earlier")
}

/// True for names that only a run gives, and only until it ends.
fn is_left_over(name: &str) -> bool {
    name.starts_with(".lapseproof.") && (name.ends_with(".partial") || name.ends_with(".earlier"))
}
