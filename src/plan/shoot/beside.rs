//! The nearest plans that work, on each side of one.

use super::dial::{dial_s, tidy};
use super::dialled::{at_wait, is_set_by_wait, next_wait_s};
use super::model::{Known, Shoot, Unsolved};
use super::ruling::{State, Subject};
use super::solve::solve;
use crate::plan::{Planned, RigKind, lamps};
use crate::units::stops::time_text;
use crate::units::{duration, length_text};

/// How many steps of the dial are tried on each side.
const MOST_STEPS: u32 = 3000;

const NO_SHORTER: &str = "No shorter interval works.";
const NO_LONGER: &str = "No longer interval works.";

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
    /// By an exposure that lamps on the mains leave alone, at the same interval.
    Lamps,
}

impl Side {
    /// The word on the page and in `--json`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Shorter => "shorter",
            Self::Longer => "longer",
            Self::Exposure => "exposure",
            Self::Faster => "faster",
            Self::Lamps => "lamps",
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

/// The nearest plans that work beside `shoot`, which `known` was worked out to: the next shorter and the next
/// longer interval; and, where the plan itself does not work with margin, a shorter exposure and a faster
/// carriage at the same interval.
pub fn beside(known: &Known, shoot: &Shoot) -> Vec<Neighbour> {
    let (shorter, longer) = (interval(known, shoot, Side::Shorter), interval(known, shoot, Side::Longer));
    let why = |n: &Neighbour, none: &str| n.words.strip_prefix(none).map(str::to_owned);
    let mut all = vec![shorter, longer];
    if let [shorter, longer] = &mut *all
        && shorter.shoot.is_none()
        && why(shorter, NO_SHORTER) == why(longer, NO_LONGER)
    {
        longer.words = "No longer interval works either, for the same reason.".into();
    }
    if shoot.state() > State::Works {
        all.extend(steady(known, shoot));
        all.extend(exposure(known, shoot));
        all.extend(faster(known, shoot));
    }
    all
}

/// What the timer of a shoot is set to, s: its interval, or the wait.
fn paced_by_s(shoot: &Shoot) -> f64 {
    shoot.plan.rig.wait_s.or(shoot.plan.interval_s).unwrap_or(0.0)
}

/// What is known, at another interval or wait: the time to fill stays, and the frames follow.
fn at_interval(known: &Known, interval_s: f64) -> Known {
    let mut other = if is_set_by_wait(&known.plan) {
        at_wait(known, interval_s)
    } else {
        let mut other = known.clone();
        other.plan.interval_s = Some(interval_s);
        other
    };
    // A run of a given length is then one to be covered: a whole number of other intervals rarely fits it.
    if let Some(run_s) = other.plan.run_s.take() {
        other.event_s = Some(other.event_s.map_or(run_s, |event_s| event_s.max(run_s)));
    }
    if other.event_s.is_some() {
        other.plan.frames = None;
    }
    // No interval makes such lamps steady: the plans beside this one take the mark that they leave alone.
    if let Some(mark_s) = lamps::safe_instead_s(&other.plan) {
        other.plan.exposure.shutter_s = Some(Planned::Fixed(mark_s));
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
        Err(Unsolved::Under(words) | Unsolved::Absurd(words)) => {
            Err((None, words.into_iter().next().unwrap_or_default()))
        }
    }
}

fn interval(known: &Known, shoot: &Shoot, side: Side) -> Neighbour {
    let here_s = paced_by_s(shoot);
    let by_wait = shoot.plan.rig.wait_s.is_some();
    let mut first_reason = None;
    let mut at_s = here_s;
    for _ in 0..MOST_STEPS {
        at_s = match side {
            _ if by_wait => next_wait_s(&shoot.plan, at_s, side == Side::Longer),
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
                let words = differs(&other, known.plan.exposure.shutter_s);
                return Neighbour { side, shoot: Some(Box::new(other)), words };
            }
            Err(reason) => first_reason = first_reason.or(Some(reason)),
        }
    }
    // What the plan itself says of the same constraint reads better than what is said of one that does not
    // work; and what stands against the plan has been said of it.
    let reason = first_reason.map(|(subject, words)| {
        match shoot.rulings.0.iter().filter(|r| Some(r.subject) == subject).max_by_key(|r| r.state) {
            Some(own) if own.state == State::Works => own.words.clone(),
            Some(own) => {
                format!("The same limit rules them out too: {}.", own.subject.name())
            }
            None => words,
        }
    });
    let reason = reason.filter(|r| !r.is_empty());
    let none = match side {
        Side::Longer => NO_LONGER,
        _ => NO_SHORTER,
    };
    let words = reason.map_or_else(|| none.to_owned(), |reason| format!("{none} {reason}"));
    Neighbour { side, shoot: None, words }
}

/// A plan in one line, and its exposure where that was another.
fn differs(shoot: &Shoot, was: Option<Planned>) -> String {
    let plan = &shoot.plan;
    let interval = duration(plan.interval_s.unwrap_or(0.0));
    let set = match (plan.rig.wait_s, plan.rig.step_m) {
        (Some(wait_s), Some(step_m)) => {
            format!("Wait {}, step {}, {interval} from frame to frame", duration(wait_s), length_text(step_m))
        }
        _ => interval,
    };
    let mut words =
        format!("{set}: {} frames in {}", plan.frames.unwrap_or(0), duration(shoot.figures.run_s));
    if let Some(clip_s) = shoot.figures.clip_s {
        words.push_str(&format!(", {} of clip", duration(clip_s)));
    }
    if let (Some(Planned::Fixed(was)), Some(Planned::Fixed(mark))) = (was, plan.exposure.shutter_s)
        && mark != was
    {
        words.push_str(&format!(", at {} for the lamps' sake", time_text(mark)));
    }
    let taken_s = shoot.figures.slot.whole_s();
    if taken_s > 0.0 && plan.rig.wait_s.is_none() {
        words.push_str(&format!("; each slot takes {}", duration(taken_s)));
    }
    words.push('.');
    words
}

/// The same interval with the exposure that the lamps leave alone.
fn steady(known: &Known, shoot: &Shoot) -> Option<Neighbour> {
    let mark_s = lamps::safe_instead_s(&known.plan)?;
    let shoot = works(&at_interval(known, paced_by_s(shoot))).ok()?;
    let words =
        format!("The same interval with {} as the exposure, which the lamps leave alone.", time_text(mark_s));
    Some(Neighbour { side: Side::Lamps, shoot: Some(Box::new(shoot)), words })
}

/// The longest exposure that leaves a tenth of the same interval.
fn exposure(known: &Known, shoot: &Shoot) -> Option<Neighbour> {
    let mark = shoot.figures.longest_mark_s?;
    let was = known.plan.exposure.shutter_s.filter(|p| p.high() > mark)?;
    let mut other = at_interval(known, paced_by_s(shoot));
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
    // Where the rig waits before its move, no speed gives the shutter more time.
    let timed = shoot.plan.rig.wait_s.is_none() && known.plan.rig.kind != Some(RigKind::Continuous);
    let was = known.plan.rig.speed_m_s.filter(|_| timed)?;
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
