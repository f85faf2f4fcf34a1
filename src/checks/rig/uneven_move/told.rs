//! What happened between two frames, told with its cause.

use crate::checks::Case;
use crate::finding::{CauseCode, Finding, Severity};

pub const SLIPPED: CauseCode = CauseCode::new("slip");
pub const BACKLASH: CauseCode = CauseCode::new("backlash");
pub const NOT_TURNED: CauseCode = CauseCode::new("not-turned");
pub const REVERSAL: CauseCode = CauseCode::new("reversal");
pub const SAGS: CauseCode = CauseCode::new("sag");
pub const KNOCKED: CauseCode = CauseCode::new("knock");

/// What happened between two frames.
pub fn at_step(
    check: &'static str,
    case: &Case<'_>,
    (before, after): (usize, usize),
    weighed: (Severity, f64),
    message: String,
    (code, words): (CauseCode, &'static str),
) -> Finding {
    let at = case.evidence.frame(after).moment();
    Finding::new(check, weighed.0, message).between(before, after).at(at).because(code, words)
}
