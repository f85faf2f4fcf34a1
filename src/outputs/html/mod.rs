//! `report.html`: one file, no network, readable without scripts, on a phone, a laptop and paper.
//!
//! Everything a file or a plan says passes the template engine, which escapes it, and is made visible before
//! (controls, direction changes). The page forbids itself all but its own style, its own script and the
//! pictures inside it. Its size does not grow with the frames: plots are binned to columns that keep their
//! smallest and largest value, long lists are counted.

mod axis;
mod call;
mod checks;
mod delivery;
mod findings;
mod gallery;
mod page;
mod plan;
mod plots;
mod quantity;
mod reel;
mod set;
mod strip;
mod view;

pub use gallery::{Gallery, Picture, Wanted, wanted};
pub(super) use page::document;
pub(super) use quantity::number;

use super::deliver::Sums;
use crate::audit::{Audit, AuditSet};
use gallery::NO_PICTURES;
use std::io::{self, Write};
pub use view::Edition;
use view::View;

/// Writes the report, without pictures.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(audit: &Audit, out: impl Write) -> io::Result<()> {
    write_with(audit, &Gallery::default(), out)
}

/// Writes the report with the pictures that were found of what [`wanted`] names.
///
/// # Errors
/// Where `out` does not take it.
pub fn write_with(audit: &Audit, gallery: &Gallery, mut out: impl Write) -> io::Result<()> {
    let view = View::new(audit, gallery, Edition::Full);
    out.write_all(page::report(&view).into_string().as_bytes())?;
    out.write_all(b"\n")
}

/// Writes the report of several cameras, a part a camera; `galleries` holds the pictures of each. Where there
/// is one camera, it is the report of its audit.
///
/// # Errors
/// Where `out` does not take it.
pub fn write_set(set: &AuditSet, galleries: &[Gallery], mut out: impl Write) -> io::Result<()> {
    if let Some(audit) = set.single() {
        return write_with(audit, galleries.first().unwrap_or(&NO_PICTURES), out);
    }
    out.write_all(set::report(set, galleries).into_string().as_bytes())?;
    out.write_all(b"\n")
}

/// Writes the client's page; `lines` is the manifest as it is written.
///
/// # Errors
/// Where `out` does not take it.
pub fn delivery(audit: &Audit, sums: &Sums, beside: &[&[u8]; 2], mut out: impl Write) -> io::Result<()> {
    let view = View::new(audit, &NO_PICTURES, Edition::Client);
    out.write_all(delivery::page(&view, sums, beside).into_string().as_bytes())?;
    out.write_all(b"\n")
}

/// Lends the names of frames and the words of sentences as the client has them: without folders.
pub fn with_client_names<T>(
    audit: &Audit,
    lend: impl FnOnce(&dyn Fn(usize) -> String, &dyn Fn(&str) -> String) -> T,
) -> T {
    let view = View::new(audit, &NO_PICTURES, Edition::Client);
    lend(&|at| view.name(at), &|words| view.words(words))
}

#[cfg(test)]
mod tests;
