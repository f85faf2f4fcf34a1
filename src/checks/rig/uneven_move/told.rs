//! What happened between two frames, told with its cause.

use crate::checks::Case;
use crate::finding::{CauseCode, Finding, Severity};

pub(crate) const SLIPPED: CauseCode = CauseCode::new("slip");
pub(crate) const BACKLASH: CauseCode = CauseCode::new("backlash");
pub(crate) const NOT_TURNED: CauseCode = CauseCode::new("not-turned");
pub(crate) const REVERSAL: CauseCode = CauseCode::new("reversal");
pub(crate) const SAGS: CauseCode = CauseCode::new("sag");
pub(crate) const KNOCKED: CauseCode = CauseCode::new("knock");

/// What happened between two frames.
pub(crate) fn at_step(
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
