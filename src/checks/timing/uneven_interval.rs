//! Frames that come early or late, and a pace that was not held.

use crate::checks::common::{
    PRACTICE, STRETCH_LEAST, beside, clock_of, clocks_of, count, not_of_the_run, number, off_the_grid,
    opinion, over, told_apart,
};
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::evidence::timing::{Join, JoinKind};
use crate::finding::{
    CauseCode, ClipEffect, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use crate::units::{FrameSpan, counted, duration};

const TEXT: Text = Text {
    id: "uneven-interval",
    finds: "frames off time",
    asks: "Do the frames come at an even pace?",
    why: "Uneven spacing shows as a tremble in everything that moves steadily: clouds, shadows, the \
          carriage. It cannot be levelled in post without inventing pictures.",
    how: "Each frame's stamp is a window as wide as the stamps' resolution. Of all steady timers that fit \
          the windows, the middle one says when each frame was due. Where none fits a frame, the nearest one \
          counts. How far the frame's window misses it is given as a share of the interval. Where the frames \
          keep no grid at all, the differences of neighbouring stamps are compared with their median, less \
          the resolution.",
    blind: "Unevenness smaller than the stamps' resolution: whole-second stamps hide up to a second.",
    remedy: "Set manual focus, turn off the review picture, and use a faster card. An external timer may \
             keep a steadier pace than the camera's own. A controller that waits for the camera follows the \
             camera's pace.",
    source: "Stamps as windows: Exif (CIPA DC-008) SubSecTime. Levels: common practice, no source.",
    traits: Traits {
        in_the_clip: ClipEffect::Jolts,
        in_the_course: true,
        quality: Some(Quality::Interval),
        ..Traits::PLAIN
    },
};

const EXCESS: LimitKey = LimitKey::new("excess");
const CHANGE: LimitKey = LimitKey::new("change");

const TIMER_DRIFTS: CauseCode = CauseCode::new("timer-drifts");

const LIMITS: &[Limit] = &[
    Limit {
        key: EXCESS,
        unit: "% of the interval off the pace of the others",
        direction: Direction::Above,
        caution: Some(10.0),
        fault: Some(50.0),
        source: PRACTICE,
    },
    Limit {
        key: CHANGE,
        unit: "% by which the interval changes within the run",
        direction: Direction::AtLeast,
        caution: Some(5.0),
        fault: Some(50.0),
        source: PRACTICE,
    },
];

/// Fewer differences than this have no middle to be compared with.
const LEAST: usize = 3;

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Stamps], judge };

fn judge(case: &Case<'_>) -> Opinion {
    match &case.evidence.timing.cadence {
        Some(cadence) => on_the_grid(case, cadence.interval_s),
        None => without_a_grid(case),
    }
}

fn on_the_grid(case: &Case<'_>, interval_s: f64) -> Opinion {
    let evidence = case.evidence;
    let way = |join: &Join| match join.kind {
        JoinKind::Rate { from_s, to_s, .. } => Some(to_s > from_s),
        _ => None,
    };
    let groups = evidence.timing.joins.chunk_by(|a, b| way(a).is_some() && way(a) == way(b));
    let mut findings: Vec<_> = groups.flat_map(|joins| rates(case, joins)).collect();
    let known = || {
        let on_grid = evidence.run().filter(|frame| frame.slot().is_some());
        on_grid.filter_map(|frame| Some((frame.at(), frame.offset_s()?)))
    };
    let percent = |offset: f64| 100.0 * offset.abs() / interval_s;
    let worst = known().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()).then(b.0.cmp(&a.0)));
    if let Some((at, offset)) = worst
        && let Some((severity, level)) = case.limits.weigh(EXCESS, percent(offset))
    {
        let uneven: Vec<_> = known()
            .filter(|(_, o)| case.limits.weigh(EXCESS, percent(*o)).is_some())
            .map(|(at, _)| at)
            .collect();
        let (frames, squares) = known().fold((0_u64, 0.0), |(n, sum), (_, o)| (n + 1, sum + o * o));
        let rms_s = (squares / frames as f64).sqrt();
        let later = if offset > 0.0 { "later" } else { "earlier" };
        let (were, worst) = if uneven.len() == 1 { ("was", "") } else { ("were", "worst ") };
        // The most likely line puts it there. One in a corner of the windows may yet come nearer.
        let message = format!(
            "{} {were} fired off time: {worst}{}{}, {} {later} than due, {:.0} % of the {} interval \
             (rms of the run {}).",
            counted(uneven.len() as u64, "frame"),
            evidence.frame(at).name(),
            clock_of(evidence, at),
            duration(offset.abs()),
            percent(offset),
            duration(interval_s),
            duration(rms_s),
        );
        let ends = uneven.first().zip(uneven.last());
        let (first, last) = ends.map_or((at, at), |(a, b)| (*a, *b));
        let mut finding = over(Finding::new(TEXT.id, severity, message), first, last)
            .count(uneven.len() as u64)
            .at(evidence.frame(at).moment())
            .figure("worst_offset_s", number(offset))
            .figure("worst_percent", beside(percent(offset), Some(level)))
            .figure("rms_s", number(rms_s))
            .figure("interval_s", number(interval_s));
        finding.marks = crate::checks::common::groups(uneven);
        findings.push(finding);
    }
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| off_the_grid(evidence, at))
}

/// Changes of rate that follow one another the same way: a timer that drifts, told once, unless the plan asks
/// for any of them.
fn rates(case: &Case<'_>, joins: &[Join]) -> Vec<Finding> {
    let single: Vec<Finding> = joins.iter().filter_map(|join| rate(case, join)).collect();
    let (Some(start), Some(end)) = (joins.first(), joins.last()) else { return single };
    let (JoinKind::Rate { from_s, .. }, JoinKind::Rate { to_s, .. }) = (&start.kind, &end.kind) else {
        return single;
    };
    if joins.len() < 2 || single.len() < joins.len() {
        return single;
    }
    let timing = &case.evidence.timing;
    let (from_s, to_s) = (*from_s, *to_s);
    let first = timing.stretches.iter().find(|s| s.last == start.before).map_or(start.before, |s| s.first);
    let last = timing.stretches.iter().find(|s| s.first == end.after).map_or(end.after, |s| s.last);
    let percent = 100.0 * (to_s - from_s).abs() / from_s;
    let weighed = case.limits.weigh(CHANGE, percent);
    let way = if to_s > from_s { "longer" } else { "shorter" };
    let because = "the timer warms up or cools down, or its battery runs down".to_owned();
    let message = format!(
        "The interval grows ever {way} within the run, from {} to {} ({percent:.2} %) from {} to {}{}: \
         {because}.",
        told_apart(from_s, to_s),
        told_apart(to_s, from_s),
        case.evidence.frame(first).name(),
        case.evidence.frame(last).name(),
        clocks_of(case.evidence, FrameSpan { first, last }),
    );
    let finding = over(Finding::new(TEXT.id, weighed.map_or(Severity::Note, |w| w.0), message), first, last)
        .count(joins.len() as u64)
        .at(case.evidence.frame(first).moment())
        .because(TIMER_DRIFTS, because)
        .figure("interval_before_s", number(from_s))
        .figure("interval_after_s", number(to_s))
        .figure("changes", count(joins.len() as u64))
        .figure("change_ppm", number(1e6 * (to_s - from_s) / from_s))
        .figure("change_percent", beside(percent, weighed.map(|w| w.1)));
    vec![finding]
}

/// A change of rate inside the run that no part of the plan asks for.
fn rate(case: &Case<'_>, join: &Join) -> Option<Finding> {
    let JoinKind::Rate { from_s, to_s, earliest, latest, .. } = join.kind else { return None };
    if case.schedule.begins_between(earliest.min(join.before), latest.max(join.after)) {
        return None;
    }
    let percent = 100.0 * (to_s - from_s).abs() / from_s;
    // One gap or two are no interval that a timer was set to.
    let brief = case
        .evidence
        .timing
        .stretches
        .iter()
        .any(|s| (s.last == join.before || s.first == join.after) && s.frames < STRETCH_LEAST);
    let most = if brief { Severity::Caution } else { Severity::Fault };
    let weighed = case.limits.weigh(CHANGE, percent).map(|w| (w.0.min(most), w.1));
    let range = if latest > earliest + 1 {
        let (a, b) = (case.evidence.frame(earliest).name(), case.evidence.frame(latest).name());
        format!(", or anywhere from {a} to {b}")
    } else {
        String::new()
    };
    let message = format!(
        "The interval changes from {} to {} ({percent:.1} %) between {}{} and {}{range}.",
        told_apart(from_s, to_s),
        told_apart(to_s, from_s),
        case.evidence.frame(join.before).name(),
        clock_of(case.evidence, join.before),
        case.evidence.frame(join.after).name(),
    );
    Some(
        Finding::new(TEXT.id, weighed.map_or(Severity::Note, |w| w.0), message)
            .between(join.before, join.after)
            .at(case.evidence.frame(join.before).moment())
            .figure("interval_before_s", number(from_s))
            .figure("interval_after_s", number(to_s))
            .figure("change_percent", beside(percent, weighed.map(|w| w.1))),
    )
}

/// Differences of neighbouring stamps, s, with the later frame; a clock that runs backwards is another
/// check's.
fn differences(evidence: &Sequence) -> Vec<(f64, FrameSpan)> {
    let stamped: Vec<_> =
        evidence.in_run().filter_map(|at| evidence.frame(at).stamp().map(|s| (at, s.at))).collect();
    let pairs =
        stamped.windows(2).map(|p| (p[1].1.seconds_since(p[0].1), FrameSpan { first: p[0].0, last: p[1].0 }));
    pairs.filter(|(s, _)| *s >= 0.0).collect()
}

fn without_a_grid(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let pairs = differences(evidence);
    if pairs.len() < LEAST {
        return Opinion::cannot("too few stamped frames to show a pace");
    }
    let mut sorted: Vec<f64> = pairs.iter().map(|p| p.0).collect();
    sorted.sort_by(f64::total_cmp);
    let quantile = |share: f64| sorted[((sorted.len() - 1) as f64 * share).round() as usize];
    let (least, median, most) = (quantile(0.0), quantile(0.5), quantile(1.0));
    let resolution_s = evidence.timing.written_resolution.seconds();
    if median <= resolution_s {
        return Opinion::cannot(format!(
            "the stamps step by {} and the frames come {} apart: they show no pace",
            duration(resolution_s),
            duration(median),
        ));
    }
    let excess = |s: f64| 100.0 * ((s - median).abs() - resolution_s).max(0.0) / median;
    let worst =
        pairs.iter().map(|(s, span)| (excess(*s), *s, *span)).reduce(|a, b| if b.0 > a.0 { b } else { a });
    let mut findings = Vec::new();
    if let Some((percent, gap_s, span)) = worst
        && let Some((severity, level)) = case.limits.weigh(EXCESS, percent)
    {
        let beyond = pairs.iter().filter(|(s, _)| case.limits.weigh(EXCESS, excess(*s)).is_some());
        let marks: Vec<FrameSpan> = beyond.map(|(_, span)| FrameSpan::one(span.last)).collect();
        let uneven = marks.len();
        let (first, last) = (pairs.first().map_or(0, |p| p.1.first), pairs.last().map_or(0, |p| p.1.last));
        let message = format!(
            "The pace was not steady: from {} to {} between neighbouring frames (median {}, half of them \
             between {} and {}); {} of {} intervals are uneven, the worst {} between {}{} and {}.",
            duration(least),
            duration(most),
            duration(median),
            duration(quantile(0.25)),
            duration(quantile(0.75)),
            uneven,
            pairs.len(),
            duration(gap_s),
            evidence.frame(span.first).name(),
            clock_of(evidence, span.first),
            evidence.frame(span.last).name(),
        );
        let finding = Finding { marks, ..over(Finding::new(TEXT.id, severity, message), first, last) };
        findings.push(
            finding
                .count(uneven as u64)
                .at(evidence.frame(span.first).moment())
                .figure("shortest_s", number(least))
                .figure("median_s", number(median))
                .figure("longest_s", number(most))
                .figure("quarter_s", number(quantile(0.25)))
                .figure("three_quarters_s", number(quantile(0.75)))
                .figure("worst_percent", beside(percent, Some(level)))
                .figure("intervals", count(pairs.len() as u64))
                .figure("stamp_resolution_s", number(resolution_s)),
        );
    }
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at).or_else(|| evidence.frame(at).stamp().is_none().then_some("no stamp"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, tolerating};
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::Plan;

    #[test]
    fn stays_quiet_on_an_even_run() {
        assert!(found(&CHECK, &every(8.0), &Sketch::steady(100, 8.0).evidence()).is_empty());
    }

    #[test]
    fn ten_and_fifty_per_cent_beyond_the_windows() {
        // Of an interval of 8 s, 0.8 s and 4 s; both are exact in binary.
        for (offset, severity) in
            [(0.79, vec![]), (0.8, vec![]), (-0.81, vec![Caution]), (4.0, vec![Caution]), (4.01, vec![Fault])]
        {
            let mut sketch = Sketch::steady(100, 8.0);
            sketch.offsets_s[40] = offset;
            let mut evidence = sketch.evidence();
            if offset == 0.8 {
                evidence.offsets_mut()[40] = 0.799_999_95;
            }
            assert_eq!(severities(&CHECK, &Plan::default(), &evidence), severity, "{offset}");
        }
    }

    #[test]
    fn exactly_at_a_level_does_not_count() {
        for (offset, severity) in [(0.999, vec![]), (1.0, vec![]), (1.001, vec![Caution])] {
            let plan = tolerating(every(8.0), TEXT.id, "caution", 12.5);
            let mut sketch = Sketch::steady(100, 8.0);
            sketch.offsets_s[40] = offset;
            assert_eq!(severities(&CHECK, &plan, &sketch.evidence()), severity, "{offset}");
        }
    }

    #[test]
    fn counts_the_uneven_and_names_the_worst() {
        let mut sketch = Sketch::steady(100, 8.0);
        (sketch.offsets_s[10], sketch.offsets_s[40], sketch.offsets_s[41]) = (1.0, -2.0, 0.1);
        let findings = found(&CHECK, &every(8.0), &sketch.evidence());
        assert_eq!((findings[0].count, findings[0].first, findings[0].last), (2, Some(10), Some(40)));
        assert!(
            findings[0].message.contains("worst TIDE0041.JPG (04:15:20), 2 s earlier than due, 25 %"),
            "{}",
            findings[0].message
        );
    }

    #[test]
    fn whole_second_steps_around_a_steady_pace_are_quiet() {
        // 5, 5, 6, 5, 4 s in whole seconds: a second is what the stamps cannot tell.
        let seconds = [0.0, 5.0, 10.0, 16.0, 21.0, 25.0, 30.0];
        assert!(
            found(&CHECK, &Plan::default(), &Sketch::steady(7, 5.0).stamped(&seconds).evidence()).is_empty()
        );
    }

    #[test]
    fn a_pace_that_was_not_held_is_a_fault_with_its_spread() {
        let seconds = [0.0, 4.0, 7.0, 11.0, 84.0, 88.0, 93.0, 97.0];
        let findings = found(&CHECK, &Plan::default(), &Sketch::steady(8, 4.0).stamped(&seconds).evidence());
        assert_eq!((findings.len(), findings[0].severity), (1, Fault));
        assert!(findings[0].message.contains("from 3 s to 1 min 13 s"), "{}", findings[0].message);
    }

    #[test]
    fn cannot_judge_too_few_or_too_coarse() {
        let few = Sketch::steady(3, 5.0).stamped(&[0.0, 5.0, 10.0]).evidence();
        assert!(cannot(&CHECK, &Plan::default(), &few).contains("too few"));
        let coarse = Sketch::steady(6, 0.5).stamped(&[0.0, 0.5, 1.0, 1.5, 2.0, 2.5]).evidence();
        assert!(cannot(&CHECK, &Plan::default(), &coarse).contains("they show no pace"));
    }

    #[test]
    fn a_change_of_rate_is_told_unless_planned() {
        use crate::plan::{ExposurePlan, Part, PartStart};
        let mut sketch = Sketch::steady(100, 8.0);
        let kind = JoinKind::Rate { from_s: 8.0, to_s: 8.5, earliest: 49, latest: 50, pause_s: None };
        sketch.joins =
            vec![Join { before: 49, after: 50, gap_s: 8.5, kind, or_missing: None, shots_beyond: None }];
        let evidence = sketch.evidence();
        assert_eq!(severities(&CHECK, &Plan::default(), &evidence), [Caution]);
        let findings = found(&CHECK, &Plan::default(), &evidence);
        assert!(findings[0].message.contains("from 8.00 s to 8.50 s"), "{}", findings[0].message);
        assert!(!findings[0].message.contains("anywhere"), "{}", findings[0].message);
        let from = PartStart::Frame(50);
        let part = Part {
            from,
            interval_s: Some(8.5),
            exposure: ExposurePlan::default(),
            direction: None,
            note: None,
        };
        assert!(found(&CHECK, &Plan { parts: vec![part], ..every(8.0) }, &evidence).is_empty());
    }

    #[test]
    fn changes_one_way_are_a_timer_that_drifts_and_to_and_fro_are_not() {
        let with = |rates: [f64; 3]| {
            let mut sketch = Sketch::steady(100, 8.0);
            let join = |before: usize, from_s, to_s| {
                let kind =
                    JoinKind::Rate { from_s, to_s, earliest: before - 9, latest: before + 9, pause_s: None };
                Join { before, after: before + 1, gap_s: to_s, kind, or_missing: None, shots_beyond: None }
            };
            sketch.joins = vec![join(29, rates[0], rates[1]), join(69, rates[1], rates[2])];
            found(&CHECK, &Plan::default(), &sketch.evidence())
        };
        let drifts = with([8.0, 8.01, 8.03]);
        assert_eq!((drifts.len(), drifts[0].count, drifts[0].severity), (1, 2, Note));
        assert_eq!(drifts[0].cause.as_ref().map(|c| c.code.name()), Some("timer-drifts"));
        let wanders = with([8.0, 8.01, 8.0]);
        assert_eq!(wanders.len(), 2);
        assert!(wanders[0].message.contains("anywhere from"), "{}", wanders[0].message);
    }
}
