//! `report.html`: one file, no network, readable without scripts, on a phone, a laptop and paper.
//!
//! Everything a file or a plan says passes the template engine, which escapes it, and is made visible before
//! (controls, direction changes). The page forbids itself all but its own style, its own script and the
//! pictures inside it. Its size does not grow with the frames: plots are binned to columns that keep their
//! smallest and largest value, long lists are counted.

mod call;
mod checks;
mod delivery;
mod gallery;
mod glimpse;
mod incidents;
mod page;
mod plan;
mod plots;
mod quantity;
mod reel;
mod set;
mod strip;
mod view;
mod weight;

pub use super::report::shown::{Wanted, wanted};
pub use gallery::{Gallery, Picture};
pub use glimpse::Glimpse;
pub(super) use page::document;

use super::deliver::manifest::Sums;
use super::report::Report;
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
pub fn write_with(audit: &Audit, gallery: &Gallery, out: impl Write) -> io::Result<()> {
    write_of(&Report::of(audit), gallery, out)
}

/// The same of a report that is worked out.
pub(super) fn write_of(report: &Report<'_>, gallery: &Gallery, mut out: impl Write) -> io::Result<()> {
    let view = View::new(report, gallery, Edition::Full);
    out.write_all(page::report(&view).into_string().as_bytes())?;
    out.write_all(b"\n")
}

/// Writes the report of several cameras, a part a camera; `galleries` holds the pictures of each. Where there
/// is one camera, it is the report of its audit.
///
/// # Errors
/// Where `out` does not take it.
pub fn write_set(set: &AuditSet, galleries: &[Gallery], out: impl Write) -> io::Result<()> {
    match set.single() {
        Some(audit) => write_with(audit, galleries.first().unwrap_or(&NO_PICTURES), out),
        None => write_set_of(set, &Report::of_each(set), galleries, out),
    }
}

/// The report of several cameras, of reports that are worked out.
pub(super) fn write_set_of(
    set: &AuditSet,
    reports: &[Report<'_>],
    galleries: &[Gallery],
    mut out: impl Write,
) -> io::Result<()> {
    out.write_all(set::report(set, reports, galleries).into_string().as_bytes())?;
    out.write_all(b"\n")
}

/// Writes the client's page; `beside` are the manifest and `patch.csv` as they are written.
///
/// # Errors
/// Where `out` does not take it.
pub(super) fn delivery(
    report: &Report<'_>,
    gallery: &Gallery,
    sums: &Sums,
    beside: &[&[u8]; 2],
    mut out: impl Write,
) -> io::Result<()> {
    let view = View::new(report, gallery, Edition::Client);
    out.write_all(delivery::page(&view, sums, beside).into_string().as_bytes())?;
    out.write_all(b"\n")
}

/// Lends the names of frames and the words of sentences as the client has them: without folders.
pub(super) fn with_client_names<T>(
    report: &Report<'_>,
    lend: impl FnOnce(&dyn Fn(usize) -> String, &dyn Fn(&str) -> String) -> T,
) -> T {
    let view = View::new(report, &NO_PICTURES, Edition::Client);
    lend(&|at| view.name(at), &|words| view.words(words))
}

#[cfg(test)]
mod tests;
