//! Which stops of the timer several cameras share, and which are one camera's own.

use super::names::{letter, list, list_first};
use super::ticks::{Stop, Ticks};
use super::whose::Whose;
use crate::finding::CauseCode;
use crate::stats::median;
use crate::units::{CivilTime, duration};
use crate::verdict::{LikelyCause, Strength};

/// A stop of the timer, with the cameras that stood throughout it.
#[derive(Clone, Debug, PartialEq)]
pub struct StopAcross {
    /// Stamp of the last frame before it, by the first camera that stood.
    pub at: CivilTime,
    /// How long it lasted beyond one interval, s: the time that all of them stood.
    pub pause_s: f64,
    /// The cameras that stood, each with its own pause beyond one interval, s.
    pub stood: Vec<(usize, f64)>,
    /// The cameras that fired meanwhile.
    pub fired: Vec<usize>,
    /// What that comes from.
    pub whose: Whose,
    /// True where another reading of the stamps is about as good and needs no stop.
    pub doubted: bool,
}

/// Cameras answer one trigger within this time of one another, beyond what their stamps leave open, s (from
/// memory: a release takes some hundredths of a second, and at most a tenth).
const LAG_S: f64 = 0.1;
/// Frames before a stop by which two clocks are compared there: clocks drift apart over a long run, and a
/// stop of one camera's own shifts every frame behind it.
const BEFORE: usize = 15;
/// Fewer than this tell less than the whole run does.
const LEAST: usize = 5;

/// How far the stamps of one trigger by two cameras may lie apart once their clocks are compared, s: each
/// stamp stands for a window, and the wider one decides.
pub(crate) fn apart_s(a: &Ticks, b: &Ticks) -> f64 {
    a.resolution_s.max(b.resolution_s) + LAG_S
}

/// What another camera did during a stop.
enum Meanwhile {
    /// Its last frame before, s, and its own pause beyond one interval, s.
    Stood(f64, f64),
    Fired,
    /// It did not run, or its frames may stand on either side of the stop.
    Unknown,
}

/// Every stop of every camera, one that several share told once. `ahead` holds what each clock is ahead of
/// the first one's, s.
pub(crate) fn across(ticks: &[Ticks], ahead: &[Option<f64>]) -> Vec<StopAcross> {
    let mut all: Vec<(f64, StopAcross)> = Vec::new();
    let ahead_of = |camera: usize| ahead.get(camera).copied().flatten();
    for (own, camera) in ticks.iter().enumerate() {
        for stop in &camera.stops {
            let mut stood = vec![(own, stop.before_s, stop.pause_s)];
            let (mut fired, mut told_already) = (Vec::new(), false);
            for (at, other) in ticks.iter().enumerate().filter(|o| o.0 != own) {
                let Some((own_ahead, ahead)) = ahead_of(own).zip(ahead_of(at)) else { continue };
                let later = later_s(camera, other, stop, ahead - own_ahead);
                told_already |= at < own && twin(camera, other, stop, later).is_some();
                match meanwhile(camera, other, stop, later) {
                    Meanwhile::Stood(before_s, pause_s) => stood.push((at, before_s, pause_s)),
                    Meanwhile::Fired => fired.push(at),
                    Meanwhile::Unknown => {}
                }
            }
            if told_already {
                continue;
            }
            stood.sort_by_key(|s| s.0);
            let whose = match (stood.len(), fired.is_empty()) {
                (1, true) => Whose::Unknown,
                (1, false) => Whose::Camera,
                (_, true) => Whose::Controller,
                (_, false) => Whose::Several,
            };
            let across = StopAcross {
                at: CivilTime::nearest(stood[0].1),
                pause_s: stop.pause_s,
                stood: stood.into_iter().map(|(at, _, pause_s)| (at, pause_s)).collect(),
                fired,
                whose,
                doubted: stop.doubted,
            };
            all.push((stop.before_s - ahead_of(own).unwrap_or(0.0), across));
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.stood[0].0.cmp(&b.1.stood[0].0)));
    all.into_iter().map(|s| s.1).collect()
}

/// By how much the clock of `other` is later than that of `own` just before a stop, s. `roughly` is the same
/// over the whole run.
fn later_s(own: &Ticks, other: &Ticks, stop: &Stop, roughly: f64) -> f64 {
    let to = own.fired_s.partition_point(|t| *t <= stop.before_s);
    let interval = other.interval_s.unwrap_or(0.0);
    let before = own.fired_s[to.saturating_sub(BEFORE)..to].iter();
    let beside: Vec<f64> = before
        .filter_map(|t| other.nearest(t + roughly))
        .filter(|away| away.abs() < 0.5 * interval)
        .collect();
    if beside.len() < LEAST {
        return roughly;
    }
    roughly + median(beside).unwrap_or(0.0)
}

/// The stop of `other` that begins and ends with that of `own`.
fn twin<'a>(own: &Ticks, other: &'a Ticks, stop: &Stop, later: f64) -> Option<&'a Stop> {
    let apart = apart_s(own, other);
    let meets = |x: f64, y: f64| (x - later - y).abs() <= apart;
    other.stops.iter().find(|s| meets(s.before_s, stop.before_s) && meets(s.after_s, stop.after_s))
}

fn meanwhile(own: &Ticks, other: &Ticks, stop: &Stop, later: f64) -> Meanwhile {
    if let Some(twin) = twin(own, other, stop, later) {
        return Meanwhile::Stood(twin.before_s, twin.pause_s);
    }
    let apart = apart_s(own, other);
    let (from, to) = (stop.before_s + later, stop.after_s + later);
    // The first frame that is surely behind the beginning of the stop, and the one before it.
    let next = other.fired_s.partition_point(|t| *t <= from + apart);
    let Some((before, after)) =
        next.checked_sub(1).and_then(|n| Some((other.fired_s[n], *other.fired_s.get(next)?)))
    else {
        return Meanwhile::Unknown;
    };
    if after < to - apart {
        return Meanwhile::Fired;
    }
    // No frame lies in between: it stood as well, or the stop is too short to tell.
    match other.interval_s.map(|interval| after - before - interval) {
        Some(pause_s) if pause_s > apart => Meanwhile::Stood(before, pause_s),
        _ => Meanwhile::Unknown,
    }
}

/// What stops that are told together share: what they come from, who stood, who fired.
type Alike = (Whose, Vec<usize>, Vec<usize>);

/// Who is likely to blame, in sentences with figures. `surest` tells how sure the matching of some cameras
/// is.
pub(crate) fn causes(
    stops: &[StopAcross],
    letters: &[&str],
    surest: &dyn Fn(&[usize], &[usize]) -> Strength,
) -> Vec<LikelyCause> {
    let mut groups: Vec<(Alike, Vec<&StopAcross>)> = Vec::new();
    for stop in stops.iter().filter(|s| s.whose != Whose::Unknown) {
        let alike = (stop.whose, stop.stood.iter().map(|s| s.0).collect(), stop.fired.clone());
        match groups.iter_mut().find(|g| g.0 == alike) {
            Some(group) => group.1.push(stop),
            None => groups.push((alike, vec![stop])),
        }
    }
    groups.sort_by(|a, b| a.0.cmp(&b.0));
    groups
        .iter()
        .map(|((whose, stood, fired), all)| cause(*whose, (stood, fired), all, letters, surest))
        .collect()
}

fn cause(
    whose: Whose,
    (stood, fired): (&[usize], &[usize]),
    stops: &[&StopAcross],
    letters: &[&str],
    surest: &dyn Fn(&[usize], &[usize]) -> Strength,
) -> LikelyCause {
    let first = stops[0];
    let together = match stood.len() {
        1 => "alone",
        2 => "both",
        _ => "all",
    };
    let who = format!("{} {together}", list_first(letters, stood));
    let clock = format!("{} on camera {}'s clock", first.at.clock(), letter(letters, stood[0]));
    let long = duration(first.pause_s);
    let told = match stops.len() {
        1 => format!("{who} stood for {long} after {clock}"),
        times => format!("{who} stood {times} times, first for {long} after {clock}"),
    };
    let (code, words, remedy, apart) = match whose {
        Whose::Controller => (
            "controller-stood",
            format!("{told}: what triggers them stood."),
            "Ask what stopped the controller then: its power, its programme or a hand on it.",
            "A test with one camera on the controller shows whether it stands again.",
        ),
        Whose::Camera => (
            "camera-stood",
            format!("{told}; {} fired meanwhile.", list(letters, fired)),
            "Ask what stopped this camera then: a battery or card change, a full buffer or its trigger \
             cable.",
            "Swap the trigger cables: a fault that moves with the cable is the cable's.",
        ),
        Whose::Several | Whose::Unknown => (
            "some-cameras-stood",
            format!("{told}; {} fired meanwhile.", list(letters, fired)),
            "Check what these cameras share: a branch of the trigger cable, a receiver, a power supply.",
            "Swap their places on the controller and shoot a test.",
        ),
    };
    // One stop that is certain is enough for the sentence.
    let doubted = stops.iter().all(|s| s.doubted);
    let strength = surest(stood, fired).min(if doubted { Strength::Possible } else { Strength::Sure });
    LikelyCause { code: CauseCode::new(code), strength, words, remedy: remedy.into(), apart: Some(apart) }
}
