//! The words of a plan that may be the odd one: what the card holds, what the plan says, and how to mend it.

use crate::finding::Cause;
use crate::schedule::{Misfit, TIMER_OFF};
use crate::units::{duration, plain};

/// The flag that would mend the plan.
pub(crate) fn flag(misfit: &Misfit) -> String {
    match misfit {
        Misfit::Interval { set_s, .. } => format!("--interval {}s", plain(*set_s, 3)),
        Misfit::Exposures { shot, .. } => format!("--bracket {shot}"),
    }
}

/// Why a check of exposures cannot judge: the frames of a slot cannot be told from those of the next.
pub(crate) fn untold_members(misfit: Option<&Misfit>) -> Option<String> {
    match misfit? {
        Misfit::Exposures { shot, planned } if *shot > 1 => Some(format!(
            "the card holds sets of {shot} exposures and the plan says {planned} a slot (--bracket {shot}, \
             if that was meant)"
        )),
        _ => None,
    }
}

/// The sentence of a misfit, with its flag: what the card holds, what the plan says, and what else it may be.
///
/// `cause` is what the excess over the planned interval fits, where it fits anything.
pub(crate) fn sentence(misfit: &Misfit, cause: Option<&Cause>) -> String {
    let flag = flag(misfit);
    match misfit {
        Misfit::Interval { set_s, kept_s, planned_s } => {
            let (set, planned) = (duration(*set_s), duration(*planned_s));
            let times = (kept_s / planned_s).round();
            let whole = times >= 2.0 && (kept_s / planned_s / times - 1.0).abs() < TIMER_OFF;
            let other = match cause {
                Some(cause) => format!(" Or {planned} was meant. {}.", cause.words.trim_end_matches('.')),
                None if whole => {
                    let which = ordinal(times as u64);
                    format!(" If {planned} was meant, only every {which} trigger reached the camera.")
                }
                None => format!(" If {planned} was meant, the timer was set wrongly."),
            };
            format!(
                "The plan may be wrong: the card holds {set} throughout, and the plan says {planned}. If \
                 {set} was meant: {flag}.{other}"
            )
        }
        Misfit::Exposures { shot: 1, planned } => format!(
            "The plan may be wrong: the card holds one exposure a slot, and the plan says {planned}. If one \
             was meant: {flag}."
        ),
        Misfit::Exposures { shot, planned } => {
            let says = if *planned == 1 { "one".to_owned() } else { planned.to_string() };
            format!(
                "The plan may be wrong: the card holds sets of {shot} exposures, and the plan says {says} a \
                 slot. If sets of {shot} were meant: {flag}."
            )
        }
    }
}

/// `2nd`, `3rd`, `4th`.
fn ordinal(n: u64) -> String {
    let ending = match (n % 10, n % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{n}{ending}")
}
