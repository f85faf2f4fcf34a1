//! What several tests share.

pub mod bombs;
pub mod cases;
pub mod containers;
pub mod drawn;
pub mod moves;
pub mod rehearsed;
pub mod run;
pub mod samples;
pub mod schema;
pub mod series;
pub mod shoot;
pub mod side_by_side;
pub mod skip;
pub mod table;
pub mod writer;

use skip::{Why, skipped};
use std::path::{Path, PathBuf};

/// The folder of real camera files, where there is one: `LAPSEPROOF_REAL`, else `../shared/real` beside the
/// project.
pub fn real() -> Option<PathBuf> {
    place("LAPSEPROOF_REAL", "../shared/real")
}

/// The folder of check-value data: `LAPSEPROOF_CHECKVALUES`, else `../shared/checkvalues` beside the project.
pub fn checkvalues() -> Option<PathBuf> {
    place("LAPSEPROOF_CHECKVALUES", "../shared/checkvalues")
}

/// The folder of hostile pictures: `LAPSEPROOF_ATTACK`, else `../shared/attack` beside the project.
pub fn attack() -> Option<PathBuf> {
    place("LAPSEPROOF_ATTACK", "../shared/attack")
}

/// The path, where it is there; its absence is told.
pub fn there(path: &Path) -> Option<&Path> {
    let found = path.exists();
    if !found {
        skipped(Why::Absent, format!("{} is not there", path.display()));
    }
    found.then_some(path)
}

fn place(variable: &str, beside: &str) -> Option<PathBuf> {
    let named = std::env::var_os(variable).map(PathBuf::from);
    let path = named.unwrap_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(beside));
    let found = path.is_dir();
    if !found {
        let told = format!("{} is not there ({variable} names another place)", path.display());
        skipped(Why::Absent, told);
    }
    found.then_some(path)
}
