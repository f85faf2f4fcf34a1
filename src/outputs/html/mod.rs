//! `report.html`: one file, no network, readable without scripts, on a phone, a laptop and paper.
//!
//! Everything a file or a plan says passes the template engine, which escapes it, and is made visible before (controls,
//! direction changes). The page forbids itself all but its own style, its own script and the pictures inside it. Its size does
//! not grow with the frames: plots are binned to columns that keep their smallest and largest value, long lists are counted.

mod axis;
mod call;
mod checks;
mod findings;
mod page;
mod plan;
mod plots;
mod quantity;
mod strip;
mod view;

use crate::audit::Audit;
use std::io::{self, Write};
use view::View;

/// Who reads it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edition {
    /// Who shot it: everything.
    Full,
    /// The client: no folders, no serial numbers.
    Client,
}

/// Writes the report.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(audit: &Audit, mut out: impl Write) -> io::Result<()> {
    let view = View::new(audit, Edition::Full);
    out.write_all(page::report(&view).into_string().as_bytes())?;
    out.write_all(b"\n")
}

#[cfg(test)]
mod tests;
