//! Reading a plan from TOML. Every mistake of the file is told at once, each with its place.

mod error;
mod keys;
mod known;
mod reader;
mod syntax;
mod tables;

pub use error::{PlanError, PlanErrors};
pub use known::KnownCheck;

use super::Plan;
use error::Lines;
use reader::{MOST_ERRORS, Reader};
use toml::de::DeTable;

/// Most mistakes of the TOML itself that are looked at.
const MOST_SYNTAX_ERRORS: usize = 1000;

/// Largest plan that is read, bytes.
pub const LARGEST: usize = 1 << 20;

/// Reads the plan in `text`. `origin` names the file in the messages; `known` are the checks that the plan
/// may name.
///
/// A bare number of a duration is seconds; a length or a speed must carry its unit. Whether the values agree
/// with one another is asked by [`contradictions`](super::contradictions), not here.
///
/// # Errors
/// Every mistake of the file: TOML that does not parse, unknown keys, wrong types, impossible values, keys
/// that are missing from `[[part]]` and `[[accepted]]`.
pub fn read(text: &str, origin: &str, known: &[KnownCheck]) -> Result<Plan, PlanErrors> {
    let failed = |errors, more| PlanErrors { origin: origin.to_owned(), errors, more };
    if text.len() > LARGEST {
        let lines = Lines::new("");
        let message = format!("this file is {} bytes long", text.len());
        let expected = format!("a plan of at most {LARGEST} bytes");
        return Err(failed(vec![PlanError::new(&lines, 0..0, message, expected)], 0));
    }
    let lines = Lines::new(text);
    let (whole, mut found) = syntax::without_stumbling_blocks(&lines);
    let (table, others) = DeTable::parse_recoverable(&whole);
    found.extend(others);
    let looked_at = found.get(..MOST_SYNTAX_ERRORS).unwrap_or(&found);
    let (mut errors, quiet) = syntax::mistakes(&lines, table.get_ref(), looked_at);
    let mut more = found.len() - looked_at.len();
    more += errors.len().saturating_sub(MOST_ERRORS);
    errors.truncate(MOST_ERRORS);
    let mut reader = Reader { lines, known, quiet, errors, more };
    let mut plan = Plan::default();
    if looked_at.len() == found.len() {
        plan = tables::plan(&mut reader, table.get_ref());
    }
    let (mut errors, more) = (reader.errors, reader.more);
    if errors.is_empty() && more == 0 {
        return Ok(plan);
    }
    errors.sort_by_key(|e| (e.span.start, e.span.end));
    Err(failed(errors, more))
}

#[cfg(test)]
mod fuzz;
#[cfg(test)]
mod tests;

#[cfg(test)]
mod written;
