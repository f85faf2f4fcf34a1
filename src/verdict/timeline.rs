//! The run told in a few lines: when it began, what happened on the way, when it ended.

use crate::evidence::Sequence;
use crate::evidence::timing::{ClockRival, Hole, Join, JoinKind};
use crate::finding::{Judgement, Severity};
use crate::units::{counted, duration};

/// Holes told one by one; the largest are told where there are more.
const MOST_HOLES: usize = 6;
/// Alike holes at one distance are a pattern from this many on.
const REGULAR: usize = 4;
/// Faults of a check that are told one by one; more are told as one line.
const MOST_FAULTS: usize = 2;

/// The lines, in order of time. Empty without a stamped frame in the run.
pub(crate) fn told(evidence: &Sequence, judgements: &[Judgement]) -> Vec<String> {
    let clock = |i: usize| clock(evidence, i);
    let mut run = evidence.in_run().filter(|&i| evidence.frame(i).stamp().is_some());
    let Some(first) = run.next() else { return Vec::new() };
    let last = run.next_back().unwrap_or(first);
    let timing = &evidence.timing;
    let pace = match &timing.cadence {
        Some(c) => format!(
            ", one frame every {}",
            duration(timing.stretches.first().map_or(c.interval_s, |s| s.interval_s))
        ),
        None => ", at no steady pace".into(),
    };
    let mut lines =
        vec![(first, format!("{}  began with {}{pace}", clock(first), evidence.frame(first).name()))];
    for join in &timing.joins {
        let what = join_words(evidence, join);
        lines.push((join.after, format!("{}  {what}", clock(join.before))));
    }
    let mut groups = groups(&timing.holes);
    groups.sort_by_key(|g| (std::cmp::Reverse(slots_of(g)), g.first().map(|h| h.before)));
    for group in groups.iter().take(MOST_HOLES) {
        let (Some(one), Some(end)) = (group.first(), group.last()) else { continue };
        let what = holes_words(evidence, one, end, group);
        lines.push((one.after, format!("{}  {what}", clock(one.before))));
    }
    lines.extend(faults(evidence, judgements));
    let rest = groups.get(MOST_HOLES..).unwrap_or_default();
    let (untold, places) =
        (rest.iter().map(|g| slots_of(g)).sum::<u64>(), rest.iter().map(|g| g.len()).sum::<usize>());
    lines.sort_by_key(|l| l.0);
    let mut out: Vec<String> = lines.into_iter().map(|l| l.1).collect();
    if untold > 0 {
        let (slots, places) = (counted(untold, "slot"), counted(places as u64, "other place"));
        out.push(format!("          and {slots} empty in {places}"));
    }
    out.push(format!("{}  ended with {}", clock(last), evidence.frame(last).name()));
    out
}

/// The time of day on a frame's stamp.
fn clock(evidence: &Sequence, at: usize) -> String {
    evidence.frame(at).stamp().map_or_else(|| "--:--:--".to_owned(), |s| s.at.clock())
}

/// What happened at a join.
fn join_words(evidence: &Sequence, join: &Join) -> String {
    match &join.kind {
        JoinKind::Slip { pause_s, slots } => {
            let what = if *pause_s < 0.0 { "came early by" } else { "stood for" };
            format!(
                "{what} {} ({:.2} slots), then went on from {}",
                duration(pause_s.abs()),
                slots.abs(),
                evidence.frame(join.after).name()
            )
        }
        JoinKind::ClockStep { step_s, looks_like, stood_s, rival } => {
            let way = if *step_s < 0.0 { "back" } else { "forward" };
            let change =
                format!("the camera's clock jumped {way} by {} ({looks_like})", duration(step_s.abs()));
            let stood = stood_s.map_or_else(String::new, |s| format!("stood for {}; ", duration(s)));
            let missed = counted(join.or_missing.unwrap_or(0), "slot");
            match rival {
                Some(ClockRival::BeganAnew) => format!("{change}, or the timer began anew early"),
                Some(ClockRival::Stood) => format!("{change}, or the camera did not fire for {missed}"),
                Some(ClockRival::PutBackFurther { step_s, stood_s }) => format!(
                    "{change}, or by {}, and the camera stood for {}",
                    duration(step_s.abs()),
                    duration(*stood_s)
                ),
                Some(ClockRival::StoodBehindOffset { .. }) => {
                    format!("the offset from UTC was put back, or the camera did not fire for {missed}")
                }
                None => format!("{stood}{change}"),
            }
        }
        JoinKind::Rate { from_s, to_s, pause_s, .. } => {
            let stood = pause_s.map_or_else(String::new, |s| format!("stood for {}, then ", duration(s)));
            format!("{stood}the interval went from {} to {}", duration(*from_s), duration(*to_s))
        }
        JoinKind::Night => format!("rested until {}", clock(evidence, join.after)),
    }
}

/// One hole, or a row of them that come again alike.
fn holes_words(evidence: &Sequence, one: &Hole, end: &Hole, group: &[Hole]) -> String {
    let slots = counted(one.slots, "slot");
    match group.get(1) {
        Some(next) => format!(
            "{slots} in every {} empty, {} times, from {} to {}",
            next.slot.saturating_sub(one.slot),
            group.len(),
            evidence.frame(one.before).name(),
            evidence.frame(end.after).name(),
        ),
        None => format!(
            "{slots} empty between {} and {} ({}), {} apart",
            evidence.frame(one.before).name(),
            evidence.frame(one.after).name(),
            clock(evidence, one.after),
            duration(one.gap_s)
        ),
    }
}

/// The lines of the faults that stand at a frame.
fn faults(evidence: &Sequence, judgements: &[Judgement]) -> Vec<(usize, String)> {
    let clock = |at: usize| evidence.frame(at).stamp().map(|s| s.at.clock());
    let line = |fault: Fault| {
        let Fault { check, first, last, places } = fault;
        let span = match first == last {
            true => evidence.frame(first).name(),
            false => format!("{} to {}", evidence.frame(first).name(), evidence.frame(last).name()),
        };
        let until = clock(last).filter(|_| first != last).map_or_else(String::new, |t| format!(" ({t})"));
        let times = if places > 1 { format!(" in {places} places") } else { String::new() };
        let began = clock(first).unwrap_or_else(|| "--:--:--".to_owned());
        (first, format!("{began}  {check}{times}: {span}{until}"))
    };
    standing(judgements).into_iter().map(line).collect()
}

/// A fault at a frame, or those of one check together.
#[derive(Debug, PartialEq)]
struct Fault {
    check: &'static str,
    first: usize,
    last: usize,
    places: usize,
}

/// Faults that stand at a frame, by the check that found them; many of one together.
fn standing(judgements: &[Judgement]) -> Vec<Fault> {
    let mut out = Vec::new();
    for judgement in judgements.iter().filter(|j| !j.text.traits.in_the_course) {
        let check = judgement.text.id;
        let all = judgement.findings().iter();
        let faults = all.filter(|f| f.severity == Severity::Fault && f.accepted.is_none());
        let spans: Vec<(usize, usize)> =
            faults.filter_map(|f| Some((f.first.or(f.last)?, f.last.or(f.first)?))).collect();
        let ends = spans.iter().map(|s| s.0).min().zip(spans.iter().map(|s| s.1).max());
        match ends {
            Some((first, last)) if spans.len() > MOST_FAULTS => {
                out.push(Fault { check, first, last, places: spans.len() });
            }
            _ => out.extend(spans.iter().map(|&(first, last)| Fault { check, first, last, places: 1 })),
        }
    }
    out
}

fn slots_of(group: &[Hole]) -> u64 {
    group.iter().map(|h| h.slots).sum()
}

/// Holes one by one, but alike ones that come regularly together.
fn groups(holes: &[Hole]) -> Vec<&[Hole]> {
    let mut out = Vec::new();
    let mut rest = holes;
    while let [first, later @ ..] = rest {
        let every = later.first().map(|h| h.slot.saturating_sub(first.slot));
        let alike = |pair: &&[Hole]| match pair {
            [a, b] => a.slots == b.slots && Some(b.slot.saturating_sub(a.slot)) == every,
            _ => false,
        };
        let length = 1 + rest.windows(2).take_while(alike).count();
        let (group, others) = rest.split_at(if length >= REGULAR { length } else { 1 });
        out.push(group);
        rest = others;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::timing::HoleCause;

    fn hole(slot: i64, slots: u64) -> Hole {
        Hole {
            before: slot as usize - 1,
            after: slot as usize,
            slot,
            slots,
            gap_s: 10.0,
            numbers: Some(1),
            cause: HoleCause::TriggerMissed,
            doubt: None,
            shots_beyond: None,
        }
    }

    #[test]
    fn faults_are_told_where_they_stand_and_what_the_holes_say_is_not_told_again() {
        use crate::finding::{Answer, Finding, InForce, Text, Tolerated, Traits};
        const CLASH: Text = Text {
            id: "move-clash",
            finds: "a shutter open while the rig moved",
            asks: "",
            why: "",
            how: "",
            blind: "",
            remedy: "",
            source: "",
            traits: Traits::PLAIN,
        };
        const HOLE: Text = Text { traits: Traits { in_the_course: true, ..Traits::PLAIN }, ..CLASH };
        let lines = |text: &'static Text, severity, count: usize| {
            let of = |k| Finding::new(text.id, severity, "").between(2 * k, 2 * k + 1);
            let judgement = Judgement {
                text,
                limits: InForce::new(&[], None),
                answer: Answer::Found((0..count).map(of).collect()),
                looked_at: 0,
                set_aside: Vec::new(),
                tolerated: Tolerated::default(),
            };
            standing(&[judgement])
        };
        let told: Vec<_> = lines(&CLASH, Severity::Fault, 2).iter().map(|f| (f.first, f.last)).collect();
        assert_eq!(told, [(0, 1), (2, 3)]);
        let many = Fault { check: "move-clash", first: 0, last: 7, places: 4 };
        assert_eq!(lines(&CLASH, Severity::Fault, 4), [many]);
        assert!(lines(&CLASH, Severity::Caution, 2).is_empty());
        assert!(lines(&HOLE, Severity::Fault, 2).is_empty());
    }

    #[test]
    fn regular_holes_are_told_as_one() {
        let sizes = |holes: &[Hole]| groups(holes).iter().map(|g| g.len()).collect::<Vec<_>>();
        let every_third: Vec<_> = (0..9).map(|k| hole(10 + 3 * k, 1)).collect();
        assert_eq!(sizes(&every_third), [9]);
        assert_eq!(sizes(&every_third[..REGULAR - 1]), vec![1; REGULAR - 1]);
        let mut mixed = vec![hole(2, 4)];
        mixed.extend(every_third);
        mixed.push(hole(60, 2));
        assert_eq!(sizes(&mixed), [1, 9, 1]);
        assert_eq!(sizes(&[]), Vec::<usize>::new());
    }
}
