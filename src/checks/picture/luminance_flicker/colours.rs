//! Colour that shifts from frame to frame.

use crate::checks::common::{number, over};
use crate::evidence::picture::Course;
use crate::evidence::{Cell, Sequence};
use crate::finding::{CauseCode, Finding, Severity};

const WHITE_BALANCE: CauseCode = CauseCode::new("white-balance");
const COLOUR: CauseCode = CauseCode::new("colour");

/// Shift of one colour against green, EV rms, that is told.
const COLOUR_EV: f64 = 0.03;

/// What there is to say of a course whose scene does not change.
pub(crate) fn coloured(check: &'static str, evidence: &Sequence, course: &Course) -> Option<Finding> {
    let shift = &course.colour;
    let rms = shift.red_ev.max(shift.blue_ev);
    if rms <= COLOUR_EV.max(4.0 * course.floor_ev) {
        return None;
    }
    let automatic = course.frames.iter().any(|at| evidence.frame(*at).row().white_balance == Cell::Known(0));
    let (code, why) = if automatic {
        (WHITE_BALANCE, "the white balance was on automatic")
    } else {
        (
            COLOUR,
            "the white balance was not on automatic, or is not known: lamps of another colour, or the \
             camera's own rendering",
        )
    };
    let (&first, &last) = (course.frames.first()?, course.frames.last()?);
    let message = format!(
        "The colour shifts from frame to frame: red against green by {:.3} EV rms, blue by {:.3}, {:.2} EV \
         at most at {}; {why}.",
        shift.red_ev,
        shift.blue_ev,
        shift.largest_ev,
        evidence.frame(shift.at).name(),
    );
    Some(
        over(Finding::new(check, Severity::Note, message), first, last)
            .count(course.frames.len() as u64)
            .at(evidence.frame(shift.at).moment())
            .figure("red_ev_rms", number(shift.red_ev))
            .figure("blue_ev_rms", number(shift.blue_ev))
            .because(code, why),
    )
}
