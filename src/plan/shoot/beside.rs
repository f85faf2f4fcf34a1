//! The nearest plans that work, on each side of one.

use super::{Known, Shoot, State, Subject, Unsolved, dial_s, solve, tidy};
use crate::plan::{Planned, RigKind};
use crate::units::duration;
use crate::units::stops::time_text;

/// How many steps of the dial are tried on each side.
const MOST_STEPS: u32 = 3000;

/// In which way a plan differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// By a shorter interval.
    Shorter,
    /// By a longer interval.
    Longer,
    /// By a shorter exposure at the same interval.
    Exposure,
    /// By a faster carriage at the same interval.
    Faster,
}

impl Side {
    /// The word on the page and in `--json`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Shorter => "shorter",
            Self::Longer => "longer",
            Self::Exposure => "exposure",
            Self::Faster => "faster",
        }
    }
}

/// A plan beside another, or why there is none on that side.
#[derive(Clone, Debug, PartialEq)]
pub struct Neighbour {
    /// In which way it differs.
    pub side: Side,
    /// The plan; it works. `None` where there is none on that side.
    pub shoot: Option<Box<Shoot>>,
    /// What it changes, or why there is none, one sentence.
    pub words: String,
}

/// The nearest plans that work beside `shoot`, which `known` was worked out to: the next shorter and the next longer interval; and, where
/// the plan itself does not work with margin, a shorter exposure and a faster carriage at the same interval.
pub fn beside(known: &Known, shoot: &Shoot) -> Vec<Neighbour> {
    let mut all = vec![interval(known, shoot, Side::Shorter), interval(known, shoot, Side::Longer)];
    if shoot.state() > State::Works {
        all.extend(exposure(known, shoot));
        all.extend(faster(known, shoot));
    }
    all
}

/// What is known, at another interval: the time to fill stays, and the frames follow.
fn at_interval(known: &Known, interval_s: f64) -> Known {
    let mut other = known.clone();
    other.plan.interval_s = Some(interval_s);
    // A run of a given length is then one to be covered: a whole number of other intervals rarely fits it.
    if let Some(run_s) = other.plan.run_s.take() {
        other.event_s = Some(other.event_s.map_or(run_s, |event_s| event_s.max(run_s)));
    }
    if other.event_s.is_some() {
        other.plan.frames = None;
    }
    other
}

/// The shoot where it works; else what stands against it, in words.
fn works(known: &Known) -> Result<Shoot, (Option<Subject>, String)> {
    match solve(known) {
        Ok(shoot) if shoot.state() == State::Works => Ok(shoot),
        Ok(shoot) => Err(shoot
            .rulings
            .binding()
            .map_or_else(|| (None, String::new()), |r| (Some(r.subject), r.words.clone()))),
        Err(Unsolved::Over(clashes)) => {
            Err((None, clashes.into_iter().next().map(|c| c.words).unwrap_or_default()))
        }
        Err(Unsolved::Under(words)) => Err((None, words.into_iter().next().unwrap_or_default())),
    }
}

fn interval(known: &Known, shoot: &Shoot, side: Side) -> Neighbour {
    let here_s = shoot.plan.interval_s.unwrap_or(0.0);
    let mut first_reason = None;
    let mut at_s = here_s;
    for _ in 0..MOST_STEPS {
        at_s = match side {
            Side::Longer => {
                let dial = dial_s(&shoot.plan, at_s);
                tidy(((at_s / dial + 1e-6).floor() + 1.0) * dial)
            }
            _ => {
                let dial = dial_s(&shoot.plan, at_s - 1e-6);
                tidy(((at_s / dial - 1e-6).ceil() - 1.0) * dial)
            }
        };
        if at_s <= 0.0 {
            break;
        }
        match works(&at_interval(known, at_s)) {
            Ok(other) => {
                let words = differs(&other);
                return Neighbour { side, shoot: Some(Box::new(other)), words };
            }
            Err(reason) => first_reason = first_reason.or(Some(reason)),
        }
    }
    // What the plan itself says of the same constraint reads better than what is said of one that does not work.
    let reason = first_reason.map(|(subject, words)| {
        let own = shoot.rulings.0.iter().find(|r| Some(r.subject) == subject && r.state == State::Works);
        own.map_or(words, |own| own.words.clone())
    });
    let reason = reason.filter(|r| !r.is_empty());
    let none = match side {
        Side::Longer => "No longer interval works.",
        _ => "No shorter interval works.",
    };
    let words = reason.map_or_else(|| none.to_owned(), |reason| format!("{none} {reason}"));
    Neighbour { side, shoot: None, words }
}

/// A plan in one line.
fn differs(shoot: &Shoot) -> String {
    let plan = &shoot.plan;
    let mut words = format!(
        "{}: {} frames in {}",
        duration(plan.interval_s.unwrap_or(0.0)),
        plan.frames.unwrap_or(0),
        duration(shoot.figures.run_s)
    );
    if let Some(clip_s) = shoot.figures.clip_s {
        words.push_str(&format!(", {} of clip", duration(clip_s)));
    }
    let taken_s = shoot.figures.slot.whole_s();
    if taken_s > 0.0 {
        words.push_str(&format!("; each slot takes {}", duration(taken_s)));
    }
    words.push('.');
    words
}

/// The longest exposure that leaves a tenth of the same interval.
fn exposure(known: &Known, shoot: &Shoot) -> Option<Neighbour> {
    let mark = shoot.figures.longest_mark_s?;
    let was = known.plan.exposure.shutter_s.filter(|p| p.high() > mark)?;
    let mut other = at_interval(known, shoot.plan.interval_s?);
    let capped = match was {
        Planned::Fixed(_) => Planned::Fixed(mark),
        Planned::Between(a, b) => Planned::Between(a.min(mark), b.min(mark)),
    };
    other.plan.exposure.shutter_s = Some(capped);
    let shoot = works(&other).ok()?;
    let words = format!(
        "The same interval with {} as the longest exposure, and the light made up elsewhere.",
        time_text(mark)
    );
    Some(Neighbour { side: Side::Exposure, shoot: Some(Box::new(shoot)), words })
}

/// The slowest speed of the carriage that leaves a tenth of the same interval.
fn faster(known: &Known, shoot: &Shoot) -> Option<Neighbour> {
    let was = known.plan.rig.speed_m_s.filter(|_| known.plan.rig.kind != Some(RigKind::Continuous))?;
    let mut other = at_interval(known, shoot.plan.interval_s?);
    other.plan.rig.speed_m_s = None;
    // A hair faster, so that the figure as it is told is fast enough.
    let needs = (solve(&other).ok()?.figures.slowest_m_s? * 1e4).ceil() / 1e4;
    if needs <= was {
        return None;
    }
    other.plan.rig.speed_m_s = Some(needs);
    let shoot = works(&other).ok()?;
    let words =
        format!("The same interval with the carriage at {} or faster.", crate::units::speed_text(needs));
    Some(Neighbour { side: Side::Faster, shoot: Some(Box::new(shoot)), words })
}
