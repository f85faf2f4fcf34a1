//! What the picture did where the settings stepped.

use super::steps::{Odd, Step};
use crate::evidence::Sequence;

/// A picture that changes by less than this, EV, stays as it was.
const SAME_EV: f64 = 0.05;

/// What a step of the settings looks like in the clip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Shown {
    /// By how much the picture grows brighter, EV; negative for darker.
    pub ev: f64,
    /// True where the settings took up a change of the light: levelling by them would make a larger step than
    /// the clip shows.
    pub followed: bool,
}

impl Shown {
    /// `changed` is what the picture did, `less` how much less light the settings let in, EV.
    pub(crate) fn of(changed: f64, less: f64) -> Self {
        Self { ev: changed, followed: (changed + less).abs() > changed.abs() }
    }

    /// In words that follow a sentence about the step.
    pub(crate) fn words(self) -> String {
        let way = if self.ev < 0.0 { "darker" } else { "brighter" };
        let picture = match self.ev.abs() < SAME_EV {
            true => "the picture stays as bright as it was".to_owned(),
            false => format!("the picture grows {:.2} EV {way}", self.ev.abs()),
        };
        match self.followed {
            true => format!(
                "{picture}: the exposure followed the light, and levelling by the settings would bring the \
                 step back"
            ),
            false => picture,
        }
    }
}

/// What the picture does at a step; `None` where it does not tell its brightness on both sides.
pub(crate) fn at_step(evidence: &Sequence, step: &Step) -> Option<Shown> {
    let (before, after) = (seen(evidence, step.before)?, seen(evidence, step.after)?);
    Some(Shown::of(after - before, step.ev))
}

/// What the picture does at a single odd frame, against the frames on both sides.
pub(crate) fn at_odd(evidence: &Sequence, odd: &Odd) -> Option<Shown> {
    let sides = f64::midpoint(seen(evidence, odd.there.before)?, seen(evidence, odd.back.after)?);
    Some(Shown::of(seen(evidence, odd.there.after)? - sides, odd.there.ev))
}

fn seen(evidence: &Sequence, at: usize) -> Option<f64> {
    evidence.frame(at).brightness_ev()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A stop less light by the settings: the picture that darkens by it was not asked for, the one that
    /// stands has followed the light.
    #[test]
    fn the_light_was_followed_where_levelling_would_make_it_worse() {
        for (changed, followed) in [(-1.0, false), (-0.6, false), (-0.4, true), (0.0, true), (0.3, true)] {
            assert_eq!(Shown::of(changed, 1.0).followed, followed, "{changed}");
            assert_eq!(Shown::of(-changed, -1.0).followed, followed, "{changed}");
        }
        assert!(
            Shown::of(0.31, 1.13)
                .words()
                .starts_with("the picture grows 0.31 EV brighter: the exposure followed")
        );
        assert_eq!(Shown::of(-1.0, 1.0).words(), "the picture grows 1.00 EV darker");
    }
}
