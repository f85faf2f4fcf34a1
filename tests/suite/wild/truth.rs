//! The events of a card, read off what was truly shot: never off what an audit says.

use super::base::{Mode, Said, lasting};
use super::card::{Card, Event, Role};
use super::take::Take;

/// The true exposure of a shot, EV (more is brighter).
fn ev(card: &Card, at: usize) -> f64 {
    let shot = &card.shots[at];
    shot.exposure_s.log2() + (f64::from(shot.iso) / 100.0).log2() - 2.0 * f64::from(shot.f_number).log2()
}

/// Everything that happened within the run, in order.
pub fn events(card: &Card, take: &Take, said: Said) -> Vec<Event> {
    let mut out = Vec::new();
    let run: Vec<usize> =
        (0..card.shots.len()).filter(|at| matches!(card.shots[*at].role, Role::Run { .. })).collect();
    for pair in run.windows(2) {
        between(card, take, pair[0], pair[1], &mut out);
    }
    for (at, shot) in card.shots.iter().enumerate() {
        if shot.role == Role::Extra {
            out.push(Event::Surplus { at });
        }
        if shot.damage.is_some() && !matches!(shot.role, Role::Beside) {
            out.push(Event::Damaged { at });
        }
        if let Role::Run { timer, slot } = shot.role {
            let due = take.due.iter().find(|d| (d.timer, d.slot) == (timer, slot));
            let late_s = due.map_or(0.0, |d| d.late_s);
            if late_s > 0.0 {
                out.push(Event::Late { at, by_s: late_s });
            }
        }
    }
    // A length is met by the rest as well where the timer ran slower than meant.
    let by_time = (said == Said::Length).then(|| card.plan.run_s.unwrap_or(0.0));
    if !said.counts() || by_time.is_some() {
        out = with_two_shoots(with_open_ends(card, out, &run, by_time));
    }
    if said.counts() {
        let here = |d: &&super::take::Due| d.fired && d.kept;
        let head = take.due.iter().position(|d| here(&d)).unwrap_or(take.due.len());
        let tail = take.due.iter().rev().position(|d| here(&d)).unwrap_or(0);
        if head + tail > 1 {
            out.push(Event::Short { lacking: (head + tail) as u64 });
        }
    }
    out
}

fn between(card: &Card, take: &Take, before: usize, after: usize, out: &mut Vec<Event>) {
    let (a, b) = (&card.shots[before], &card.shots[after]);
    let (Role::Run { timer: from, slot: left }, Role::Run { timer: to, slot: right }) = (a.role, b.role)
    else {
        return;
    };
    if from == to {
        if right - left > 1 {
            out.push(Event::Hole { before, after, slots: (right - left - 1) as u64 });
        }
    } else {
        let (from_s, to_s) = (card.timers[from], card.timers[to]);
        let gap_s = b.open_s - a.open_s;
        let own_s = if take.base.from_close { lasting(a.exposure_s) } else { 0.0 };
        if gap_s - own_s > from_s.max(to_s) + card.clock.doubt_s() {
            out.push(Event::Stop { before, after, gap_s, from_s, to_s });
        } else if (from_s - to_s).abs() > 1e-9 {
            out.push(Event::Rate { before, after, from_s, to_s });
        }
    }
    if a.clock_s != b.clock_s && a.offset_min == b.offset_min {
        out.push(Event::Clock { before, after, step_s: b.clock_s - a.clock_s });
    }
    let step = ev(card, after) - ev(card, before);
    if take.base.mode == Mode::Locked && step.abs() > 0.1 {
        out.push(Event::Jump { before, after, ev: step });
    }
}

/// Frames beyond a border at an end that may be shots by hand as well, at most.
const HANDFUL: usize = 5;
/// Holes and stops so near an end are rarer than shots beside a run by so much, nats: one run in some two
/// hundred has one.
pub const RARER: f64 = 5.3;
/// What a reading must lie behind the other to be passed over, nats.
pub const PASSED_OVER: f64 = 5.0;
/// So near, as a share, an interval is one that was changed a little.
const NEAR_PACE: f64 = 0.05;
/// Another exposure beyond the border speaks for test shots by so much, nats.
const SET_OTHERWISE: f64 = 4.0;

/// The events with those at the ends that the files leave open put as such. No count is planned: a few frames
/// beyond a hole or a stop may be shots by hand, unless chance would hardly have laid them on the timer's own
/// times.
fn with_open_ends(card: &Card, events: Vec<Event>, run: &[usize], lasts_s: Option<f64>) -> Vec<Event> {
    let spans: Vec<(usize, usize)> = events
        .iter()
        .filter_map(|event| match *event {
            Event::Hole { before, after, .. }
            | Event::Stop { before, after, .. }
            | Event::Rate { before, after, .. } => Some((before, after)),
            _ => None,
        })
        .collect();
    let (Some(first), Some(last)) = (run.first(), run.last()) else { return events };
    let mut out = events;
    let tail: Vec<usize> = run.iter().rev().copied().collect();
    for (frames, other, inner) in [(tail.as_slice(), run, *first), (run, tail.as_slice(), *last)] {
        // What may be shots by hand at the other end draws no line for this one.
        let without = beyond_borders(&spans, other);
        let sure = &frames[..frames.len() - without];
        let other_open = open_border(card, &spans, &other[..other.len() - beyond_borders(&spans, frames)]);
        let frames = if other_open.is_some() && sure.len() > HANDFUL { sure } else { frames };
        let Some((near, beyond)) = open_border(card, &spans, frames) else { continue };
        // The whole run is no handful of frames beside itself.
        if near == inner {
            continue;
        }
        let rest_s = (card.shots[near].open_s - card.shots[inner].open_s).abs();
        // A length holds so many whole intervals, and one frame more.
        let next_s = match card.shots[near].role {
            Role::Run { timer, .. } => card.timers[timer],
            _ => 0.0,
        };
        if lasts_s.is_some_and(|asked_s| rest_s + next_s + card.clock.doubt_s() <= asked_s) {
            continue;
        }
        let (low, high) = (near.min(beyond), near.max(beyond));
        let zone = if frames[0] > near { low..=frames[0] } else { frames[0]..=high };
        let within = |before: usize, after: usize| zone.contains(&before) && zone.contains(&after);
        out.retain(|event| match *event {
            Event::Hole { before, after, .. }
            | Event::Stop { before, after, .. }
            | Event::Rate { before, after, .. }
            | Event::Jump { before, after, .. } => !within(before, after),
            Event::Damaged { at } => !zone.contains(&at) || at == near,
            _ => true,
        });
        out.push(Event::Beside { before: low, after: high });
    }
    out
}

/// A rest of this length, s, behind which interval and exposure are others is what a second shoot looks like…
const SECOND_SHOOT_S: f64 = 1800.0;
/// …with an interval longer or shorter by this factor, and an exposure this many EV away, at least:
/// `good::older_job` draws such shoots.
const OTHER_INTERVAL: f64 = 1.1;
const OTHER_EXPOSURE_EV: f64 = 1.0;

/// The events with those rests put apart that the files of a second shoot have as well: no count is planned,
/// and interval and exposure are both others behind the rest. `twins::two_shoots` draws the same files both
/// ways.
fn with_two_shoots(mut events: Vec<Event>) -> Vec<Event> {
    let jumps: Vec<(usize, usize)> = events
        .iter()
        .filter_map(|event| match *event {
            Event::Jump { before, after, ev } if ev.abs() >= OTHER_EXPOSURE_EV => Some((before, after)),
            _ => None,
        })
        .collect();
    let mut parted = Vec::new();
    for event in &mut events {
        if let Event::Stop { before, after, gap_s, from_s, to_s } = *event {
            let changed = (to_s / from_s).max(from_s / to_s) >= OTHER_INTERVAL;
            if gap_s >= SECOND_SHOOT_S && changed && jumps.contains(&(before, after)) {
                *event = Event::Beside { before, after };
                parted.push((before, after));
            }
        }
    }
    let of_the_second =
        |e: &Event| matches!(*e, Event::Jump { before, after, .. } if parted.contains(&(before, after)));
    events.retain(|e| !of_the_second(e));
    events
}

/// How many frames at this end lie beyond the innermost border within a handful of them.
fn beyond_borders(spans: &[(usize, usize)], frames: &[usize]) -> usize {
    let border = |at: &usize| {
        let (a, b) = (frames[*at - 1], frames[*at]);
        spans.contains(&(a.min(b), a.max(b)))
    };
    (1..frames.len().min(HANDFUL + 1)).rev().find(border).unwrap_or(0)
}

/// The innermost border, as the frames on its inner and outer side, up to which the frames at one end (from
/// the outermost inwards) may be shots by hand.
fn open_border(card: &Card, spans: &[(usize, usize)], frames: &[usize]) -> Option<(usize, usize)> {
    let border = |a: usize, b: usize| spans.contains(&(a.min(b), a.max(b)));
    let differ = |a: usize, b: usize| (ev(card, a) - ev(card, b)).abs() > 0.1;
    let (mut surprise, mut from, mut borders, mut open) = (0.0, 0, 0.0, None);
    for at in 1..frames.len().min(HANDFUL + 1) {
        let (beyond, near) = (frames[at - 1], frames[at]);
        if !border(beyond, near) {
            continue;
        }
        surprise += unlikely(card, &frames[from..at], &frames[at..]);
        borders += 1.0;
        let otherwise = frames[..at].iter().any(|f| differ(near, *f));
        let otherwise = if otherwise { SET_OTHERWISE } else { 0.0 };
        if surprise < RARER * borders - PASSED_OVER + otherwise {
            open = Some((near, beyond));
        }
        from = at;
    }
    open
}

/// How unlikely it is, nats, that shots by hand lie as these frames do beside the rest.
fn unlikely(card: &Card, group: &[usize], rest: &[usize]) -> f64 {
    let slot = |at: usize| match card.shots[at].role {
        Role::Run { timer, slot } => (timer, slot),
        _ => (usize::MAX, 0),
    };
    let (own, other) = (slot(group[0]), slot(rest[0]));
    let (own_s, other_s) = (card.timers[own.0], card.timers[other.0]);
    let doubt_s = card.clock.doubt_s();
    if own.0 == other.0 {
        let held = rest.iter().take_while(|at| slot(**at).0 == other.0);
        let slots: Vec<i64> = held.map(|at| slot(*at).1).collect();
        // Through one frame goes every line: what lies behind it keeps no interval that the files would show.
        if slots.len() < 2 {
            return 0.0;
        }
        // A line drawn through the rest is the less certain the farther it is drawn on.
        let length = slots.iter().max().zip(slots.iter().min()).map_or(1, |(a, b)| (a - b).max(1));
        let across = (slot(group[group.len() - 1]).1 - other.1).abs();
        let window_s = doubt_s * (1.0 + 2.0 * across as f64 / length as f64);
        return group.len() as f64 * (own_s / window_s).max(1.0).ln();
    }
    let single = group.windows(2).filter(|w| (slot(w[0]).1 - slot(w[1]).1).abs() == 1).count();
    if 2 * single < group.len() - 1 {
        return 0.0;
    }
    // An interval of one frame is on no file.
    let shown = rest.get(1).is_some_and(|at| slot(*at).0 == other.0);
    let near = shown && (own_s / other_s - 1.0).abs() < NEAR_PACE;
    // A pace near the rest's places a frame no better than to that share of it; only then is it known.
    let placed = if near && group.len() > 1 { -(2.0 * NEAR_PACE).ln() } else { 0.0 };
    placed + group.len().saturating_sub(2) as f64 * (own_s / doubt_s).max(1.0).ln()
}
