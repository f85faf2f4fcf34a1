//! Which missing slots several cameras share, and which are one camera's own.

use super::names::{letter, list, list_first};
use super::ticks::Ticks;
use super::whose::Whose;
use crate::finding::CauseCode;
use crate::units::{CivilTime, counted};
use crate::verdict::{LikelyCause, Strength};

/// Missing slots next to one another that the same cameras lack.
#[derive(Clone, Debug, PartialEq)]
pub struct HoleAcross {
    /// When the first slot was due, on the clock of the first camera that lacks it.
    pub at: CivilTime,
    /// How many.
    pub slots: u64,
    /// The cameras that lack them, each with the first slot of its own count.
    pub lacking: Vec<(usize, i64)>,
    /// The cameras that fired then.
    pub fired: Vec<usize>,
    /// What that comes from.
    pub whose: Whose,
    /// True where the file numbers of one that lacks them say that it fired: the files are gone.
    pub files_lost: bool,
}

/// A camera at a moment: it fired, it lacks a slot (index into its missing ones), or neither.
enum Then {
    Fired,
    Lacks(i64, bool),
    NotRunning,
}

/// Every missing slot of every camera whose clock is known, told once. `ahead` holds what each clock is ahead
/// of the first one's, s.
pub(crate) fn across(ticks: &[Ticks], ahead: &[Option<f64>]) -> Vec<HoleAcross> {
    let mut all: Vec<(f64, HoleAcross)> = Vec::new();
    for (own, camera) in ticks.iter().enumerate() {
        let mut open: Option<(usize, i64)> = None;
        for missing in &camera.missing {
            let mut lacking = vec![(own, missing.slot)];
            let (mut fired, mut lost) = (Vec::new(), missing.file_lost);
            let reference = ahead.get(own).copied().flatten().map(|a| missing.due_s - a);
            for (at, other) in ticks.iter().enumerate().filter(|o| o.0 != own) {
                let Some((moment, ahead)) = reference.zip(ahead.get(at).copied().flatten()) else { continue };
                match then(other, moment + ahead) {
                    Then::Fired => fired.push(at),
                    Then::Lacks(slot, file_lost) => {
                        lacking.push((at, slot));
                        lost |= file_lost;
                    }
                    Then::NotRunning => {}
                }
            }
            lacking.sort_unstable();
            // The first camera that lacks it tells it.
            if lacking[0].0 != own {
                open = None;
                continue;
            }
            let who: Vec<usize> = lacking.iter().map(|l| l.0).collect();
            let goes_on = open == Some((missing.hole, missing.slot))
                && all.last().is_some_and(|(_, last)| {
                    last.fired == fired
                        && last.files_lost == lost
                        && last.lacking.iter().map(|l| l.0).eq(who.iter().copied())
                });
            open = Some((missing.hole, missing.slot.saturating_add_unsigned(missing.slots)));
            if goes_on && let Some((_, last)) = all.last_mut() {
                last.slots += missing.slots;
                continue;
            }
            let whose = match (lacking.len(), fired.is_empty()) {
                // A file that is gone says nothing of the controller.
                (1, true) if !lost => Whose::Unknown,
                (1, _) => Whose::Camera,
                (_, true) if !lost => Whose::Controller,
                _ => Whose::Several,
            };
            let at = CivilTime::nearest(missing.due_s);
            let hole = HoleAcross { at, slots: missing.slots, lacking, fired, whose, files_lost: lost };
            all.push((reference.unwrap_or(missing.due_s), hole));
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.lacking.cmp(&b.1.lacking)));
    all.into_iter().map(|h| h.1).collect()
}

/// What a camera did at a moment of its own clock.
fn then(camera: &Ticks, moment: f64) -> Then {
    let Some(interval) = camera.interval_s else { return Then::NotRunning };
    let near = |distance: Option<f64>| distance.map(f64::abs).filter(|d| *d < 0.5 * interval + 1e-6);
    let (fired, missing) = (near(camera.nearest(moment)), near(camera.nearest_missing(moment)));
    match (fired, missing) {
        (Some(fired), Some(missing)) if missing < fired => lacks(camera, moment),
        (None, Some(_)) => lacks(camera, moment),
        (Some(_), _) => Then::Fired,
        (None, None) => Then::NotRunning,
    }
}

fn lacks(camera: &Ticks, moment: f64) -> Then {
    let at = camera.missing.partition_point(|m| m.due_s < moment);
    let beside = [at.checked_sub(1), Some(at)].into_iter().flatten().filter_map(|n| camera.missing.get(n));
    let nearest = beside.min_by(|a, b| (a.due_s - moment).abs().total_cmp(&(b.due_s - moment).abs()));
    nearest.map_or(Then::NotRunning, |m| Then::Lacks(m.slot, m.file_lost))
}

/// What holes that are told together share: what they come from, whether files are gone, who lacks them, who
/// fired.
type Alike = (Whose, bool, Vec<usize>, Vec<usize>);

/// Who is likely to blame, in sentences with figures. `surest` tells how sure the matching of some cameras
/// is.
pub(crate) fn causes(
    holes: &[HoleAcross],
    letters: &[&str],
    surest: &dyn Fn(&[usize], &[usize]) -> Strength,
) -> Vec<LikelyCause> {
    let mut groups: Vec<(Alike, u64, &HoleAcross)> = Vec::new();
    for hole in holes.iter().filter(|h| h.whose != Whose::Unknown) {
        let lacking: Vec<usize> = hole.lacking.iter().map(|l| l.0).collect();
        let alike = (hole.whose, hole.files_lost, lacking, hole.fired.clone());
        match groups.iter_mut().find(|g| g.0 == alike) {
            Some(group) => group.1 += hole.slots,
            None => groups.push((alike, hole.slots, hole)),
        }
    }
    groups.sort_by(|a, b| a.0.cmp(&b.0));
    let one = |((whose, files_lost, lacking, fired), slots, first): (Alike, u64, &HoleAcross)| {
        let frames = counted(slots, "frame");
        let since = if slots == first.slots { "at" } else { "the first at" };
        let at = format!("{since} {} on camera {}'s clock", first.at.clock(), letter(letters, lacking[0]));
        let (who, others) = (list_first(letters, &lacking), list(letters, &fired));
        let lack = match lacking.len() {
            1 => "lacks",
            2 => "both lack",
            _ => "all lack",
        };
        let (code, words, remedy, apart) = match whose {
            Whose::Controller => (
                "controller-missed",
                format!("{who} {lack} {frames}, {at}: the controller did not fire."),
                "Check the controller: its power, its settings and the part of the cable that all cameras \
                 share.",
                "A test with one camera on the controller shows whether it fires.",
            ),
            Whose::Camera if files_lost => (
                "files-lost",
                format!(
                    "{who} alone {lack} {frames}, {at}; its file numbers skip, so it fired and the files are \
                     gone."
                ),
                "Look for the files on its other card and on every copy before a card is formatted.",
                "A search of the card for lost files tells whether they were written.",
            ),
            Whose::Camera => (
                "camera-missed",
                format!("{who} alone {lack} {frames}, {at}; {others} fired then."),
                "Check this camera: its trigger cable, its card and its power. The controller did its part.",
                "Swap the trigger cables: a fault that moves with the cable is the cable's.",
            ),
            Whose::Several | Whose::Unknown => (
                "some-cameras-missed",
                format!("{who} {lack} {frames}, {at}; not every camera does."),
                "Check what these cameras share: a branch of the trigger cable, a receiver, a power supply.",
                "Swap their places on the controller and shoot a test.",
            ),
        };
        let strength = surest(&lacking, &fired);
        LikelyCause { code: CauseCode::new(code), strength, words, remedy: remedy.into(), apart: Some(apart) }
    };
    groups.into_iter().map(one).collect()
}
