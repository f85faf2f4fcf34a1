//! By how much a camera's clock is ahead of the first camera's, if one controller fired both.

use super::stops::apart_s;
use super::ticks::{Stop, Ticks};
use crate::units::duration;
use crate::verdict::Strength;

/// The clock of one camera against that of the first.
#[derive(Clone, Debug, PartialEq)]
pub struct ClockDifference {
    /// Index of the camera.
    pub camera: usize,
    /// By how much its clock is ahead of the first camera's, s (negative: behind), if one controller fired
    /// both: the median over matched frames. `None` where the two cannot be compared.
    pub ahead_s: Option<f64>,
    /// How far that may be wrong, s, if the frames are matched rightly.
    pub within_s: Option<f64>,
    /// Frames of this camera that have a frame of the first one beside them.
    pub matched: u64,
    /// Its frames in the time that both ran.
    pub of: u64,
    /// How sure the matching is; `None` where there is none.
    pub strength: Option<Strength>,
    /// All of that in a sentence.
    pub words: String,
}

/// Two firings of one trigger lie within this share of the interval from one another, once the clocks are
/// compared.
const BESIDE: f64 = 0.5;
/// Half of the frames lie within this share of the interval from the median offset, or the timers are two.
const SPREAD: f64 = 0.1;
/// Frames of the time that both ran which must have a partner, as a share.
const MATCHED: f64 = 0.7;
/// Cameras' clocks drift apart by no more than this share (some 17 s a day). From memory: crystals keep 20 to
/// 100 parts in a million.
const DRIFT: f64 = 2e-4;
/// Longest holes of each camera, and longest stops, that are tried for a match.
const TRIED: usize = 12;
/// Agreements (start, end, clocks set alike, holes, stops) that make a matching sure.
const SURE: usize = 3;

/// One way to lay a camera's frames over those of the first.
struct Fit {
    ahead_s: f64,
    matched: usize,
    of: usize,
    agreements: usize,
}

/// Compares camera `at` with the first.
pub(crate) fn compare(ticks: &[Ticks], letters: &[&str], at: usize) -> ClockDifference {
    let (a, b) = (&ticks[0], &ticks[at]);
    let (first, own) = (letters[0], letters[at]);
    let none = |why: String| ClockDifference {
        camera: at,
        ahead_s: None,
        within_s: None,
        matched: 0,
        of: 0,
        strength: None,
        words: why,
    };
    let (Some(interval), Some(other)) = (a.interval_s, b.interval_s) else {
        let who = if a.interval_s.is_none() { first } else { own };
        return none(format!("Camera {who} has no steady interval: its clock cannot be compared."));
    };
    if a.bounds_s.0 > b.bounds_s.1 * (1.0 + DRIFT) || b.bounds_s.0 > a.bounds_s.1 * (1.0 + DRIFT) {
        return none(format!(
            "Camera {own} fired every {} and camera {first} every {}. At two intervals their clocks cannot \
             be compared.",
            duration(other),
            duration(interval)
        ));
    }
    let mut fits: Vec<Fit> =
        candidates(a, b).into_iter().filter_map(|ahead| fit(a, b, ahead, interval)).collect();
    fits.sort_by(|x, y| y.agreements.cmp(&x.agreements).then(x.ahead_s.abs().total_cmp(&y.ahead_s.abs())));
    let Some(best) = fits.first() else {
        return none(format!(
            "No frames of cameras {first} and {own} fit together: their clocks cannot be compared."
        ));
    };
    let rival = fits
        .iter()
        .find(|f| f.agreements == best.agreements && (f.ahead_s - best.ahead_s).abs() > BESIDE * interval);
    let strength = match best.agreements {
        _ if rival.is_some() => Strength::Possible,
        n if n >= SURE => Strength::Sure,
        2 => Strength::Likely,
        _ => Strength::Possible,
    };
    let within = a.resolution_s.max(b.resolution_s);
    let mut words = difference(first, own, best.ahead_s, within);
    words.push_str(&format!(
        " This is {}: {} of {} frames fit, if one controller fired both.",
        strength.word(),
        best.matched,
        best.of
    ));
    if let Some(rival) = rival {
        words.push_str(&format!(" {} would fit as well.", signed(rival.ahead_s)));
    }
    ClockDifference {
        camera: at,
        ahead_s: Some(best.ahead_s),
        within_s: Some(within),
        matched: best.matched as u64,
        of: best.of as u64,
        strength: Some(strength),
        words,
    }
}

fn signed(seconds: f64) -> String {
    let way = if seconds < 0.0 { "behind" } else { "ahead" };
    format!("{} {way}", exact(seconds.abs()))
}

/// A length of time; past a minute the seconds stand beside it.
fn exact(seconds: f64) -> String {
    let rounded = (seconds * 100.0).round() / 100.0;
    if rounded < 60.0 { duration(rounded) } else { format!("{} ({rounded} s)", duration(rounded)) }
}

fn difference(first: &str, own: &str, ahead_s: f64, within_s: f64) -> String {
    if ahead_s.abs() < within_s.max(1e-3) {
        return format!("The clocks of cameras {first} and {own} agree within {}.", duration(within_s));
    }
    let way = if ahead_s < 0.0 { "behind" } else { "ahead of" };
    let mut words =
        format!("The clock of camera {own} is {} {way} that of camera {first}", exact(ahead_s.abs()));
    let hours = (ahead_s / 3600.0).round();
    if hours != 0.0 && (ahead_s - hours * 3600.0).abs() <= within_s.max(1.0) {
        words.push_str(", whole hours: time zone or summer time");
    }
    words + "."
}

/// Offsets worth a try: both began together, both ended together, the clocks are right, or a hole or a stop
/// of one is one of the other.
fn candidates(a: &Ticks, b: &Ticks) -> Vec<f64> {
    let (Some((a0, a1)), Some((b0, b1))) = (a.ends(), b.ends()) else { return Vec::new() };
    let mut all = vec![b0 - a0, b1 - a1, 0.0];
    let longest = |t: &Ticks| {
        let mut holes = t.holes.clone();
        holes.sort_by(|x, y| y.2.cmp(&x.2).then(x.0.total_cmp(&y.0)));
        holes.truncate(TRIED);
        holes
    };
    let (ours, theirs) = (longest(a), longest(b));
    for hole in &ours {
        all.extend(theirs.iter().filter(|other| other.2 == hole.2).map(|other| other.0 - hole.0));
    }
    let longest = |t: &Ticks| {
        let mut stops = t.stops.clone();
        stops.sort_by(|x, y| y.pause_s.total_cmp(&x.pause_s).then(x.before_s.total_cmp(&y.before_s)));
        stops.truncate(TRIED);
        stops
    };
    let (ours, theirs, apart) = (longest(a), longest(b), apart_s(a, b));
    for stop in &ours {
        let alike = theirs.iter().filter(|other| (other.lasts_s() - stop.lasts_s()).abs() <= 2.0 * apart);
        all.extend(alike.map(|other| other.before_s - stop.before_s));
    }
    all.sort_by(f64::total_cmp);
    all.dedup_by(|x, y| (*x - *y).abs() < 1e-6);
    all
}

/// Lays the frames of `b`, taken back by about `ahead`, over those of `a`.
fn fit(a: &Ticks, b: &Ticks, ahead: f64, interval: f64) -> Option<Fit> {
    let ((a0, a1), (b0, b1)) = (a.ends()?, b.ends()?);
    let beside = BESIDE * interval;
    let offsets = |ahead: f64, within: f64| -> Vec<f64> {
        let mut all: Vec<f64> =
            b.fired_s.iter().filter_map(|t| a.nearest(t - ahead)).filter(|d| d.abs() < within).collect();
        all.sort_by(f64::total_cmp);
        all
    };
    let middle = |all: &[f64]| all.get(all.len() / 2).copied();
    // The frame of `a` lies that much later, so the clock of `b` is that much less ahead.
    let ahead = ahead - middle(&offsets(ahead, beside))?;
    let all = offsets(ahead, beside);
    let centre = middle(&all)?;
    let ahead = ahead - centre;
    let mut away: Vec<f64> = all.iter().map(|d| (d - centre).abs()).collect();
    away.sort_by(f64::total_cmp);
    let resolution = a.resolution_s.max(b.resolution_s);
    if middle(&away)? > resolution.max(SPREAD * interval) {
        return None;
    }
    let shared = |t: &&f64| **t - ahead >= a0 - beside && **t - ahead <= a1 + beside;
    let of = b.fired_s.iter().filter(shared).count();
    if (all.len() as f64) < MATCHED * of as f64 || all.len() < 2 {
        return None;
    }
    let near = |x: f64, y: f64| (x - ahead - y).abs() < beside;
    let hole_shared = |(before, after, slots): &&(f64, f64, u64)| {
        a.holes.iter().any(|h| h.2 == *slots && near(*before, h.0) && near(*after, h.1))
    };
    let apart = apart_s(a, b);
    let meets = |x: f64, y: f64| (x - ahead - y).abs() <= apart;
    let stop_shared = |stop: &&Stop| {
        a.stops.iter().any(|s| meets(stop.before_s, s.before_s) && meets(stop.after_s, s.after_s))
    };
    let agreements = usize::from(near(b0, a0))
        + usize::from(near(b1, a1))
        + usize::from(ahead.abs() < beside)
        + b.holes.iter().filter(hole_shared).count()
        + b.stops.iter().filter(stop_shared).count();
    Some(Fit { ahead_s: ahead, matched: all.len(), of, agreements })
}
