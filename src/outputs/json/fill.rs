//! The audit, put into the structs of schema 1.

use super::number::number;
use super::{plan, v1};
use crate::audit::Audit;
use crate::evidence::movement::{MovementTrack, ShownBy};
use crate::evidence::timing::{Cadence, Hole, Join, JoinKind, Stretch, TimerLaw, Timing};
use crate::evidence::{FrameView, Outside, Trouble};
use crate::finding::{Answer, Direction, Finding, Judgement};
use crate::frames::{Card, PassedOver, PictureSource, Pictures};
use crate::outputs::findings_csv::fraction;
use crate::outputs::report::Report;
use crate::outputs::report::outside::passed_over_words;
use crate::units::{CivilTime, Figure, Micros};
use crate::verdict::{Incident, LikelyCause, Reason, Usable};
use std::collections::BTreeMap;

/// The whole record.
pub(crate) fn record<'a>(report: &Report<'a>) -> v1::Record<'a> {
    let audit = report.audit;
    let frames = &audit.evidence.frames;
    let card = &frames.card;
    let timing = &audit.evidence.timing;
    v1::Record {
        schema: v1::SCHEMA,
        tool: tool(),
        name: audit.name.clone(),
        complete: audit.complete(),
        pictures: pictures(audit.pictures).to_owned(),
        roots: roots(card),
        plan: plan::told(&audit.plan),
        plan_source: audit.plan_source.clone(),
        verdict: verdict(report),
        counts: counts(report),
        cadence: cadence(timing),
        stretches: timing.stretches.iter().map(|s| stretch(audit, s)).collect(),
        joins: timing.joins.iter().map(|j| join(audit, j)).collect(),
        movement: audit.evidence.movement.as_ref().map(|track| movement(audit, track)),
        holes: v1::Each::of(timing.holes.iter().map(|h| hole(audit, h))),
        outside: v1::Each::of(audit.evidence.outside.iter().map(|o| outside(audit, o))),
        findings: v1::Each::of(audit.findings().into_iter().map(|f| finding(audit, f))),
        judgements: audit.judgements.iter().map(judgement).collect(),
        passed_over: passed_over(&card.passed_over),
        trouble: trouble(&frames.trouble),
        cameras: None,
        together: None,
    }
}

pub(super) fn tool() -> v1::Tool {
    v1::Tool { name: env!("CARGO_PKG_NAME").to_owned(), version: env!("CARGO_PKG_VERSION").to_owned() }
}

pub(super) fn pictures(read: Pictures) -> &'static str {
    match read {
        Pictures::None => "none",
        Pictures::Thumb => "thumb",
        Pictures::Full => "full",
    }
}

pub(super) fn roots(card: &Card) -> Vec<Option<String>> {
    card.roots.iter().map(|r| r.file_name().map(|n| n.to_string_lossy().into_owned())).collect()
}

pub(super) fn passed_over(all: &[(PassedOver, u64)]) -> Vec<v1::PassedOver> {
    let one = |(why, files): &(PassedOver, u64)| v1::PassedOver {
        why: passed_over_words(*why).replace(' ', "-"),
        files: *files,
    };
    all.iter().map(one).collect()
}

pub(super) fn trouble(all: &[Trouble]) -> Vec<v1::Trouble> {
    all.iter().map(|t| v1::Trouble { path: t.path.clone(), what: t.what.clone() }).collect()
}

pub(super) fn movement(audit: &Audit, track: &MovementTrack) -> v1::Movement {
    let percent = |px: f64| number(100.0 * px / f64::from(track.width));
    let usual = track.usual();
    let of = |source| {
        audit.evidence.all().filter_map(FrameView::look).filter(|look| look.source == source).count()
    };
    let counted = PictureSource::ALL.map(|source| (of(source), source));
    let source = counted.into_iter().rev().max_by_key(|c| c.0).filter(|c| c.0 > 0);
    v1::Movement {
        source: source.map(|c| c.1.word().to_owned()),
        picture_width_px: track.width,
        shown_by: track.shown_by().map(|by| match by {
            ShownBy::Layer(_) => "passing".to_owned(),
            ShownBy::Still(_) => "standing".to_owned(),
        }),
        moves: track.steps.len() as u64,
        measured: track.measured as u64,
        shift_x_percent: usual.and_then(|u| percent(u.0)),
        shift_y_percent: usual.and_then(|u| percent(u.1)),
        expected_percent: track.expected_px.and_then(percent),
        measured_over_expected: track.over_expected().and_then(number),
        finest_slip_percent: track.jumps().and_then(|j| number(100.0 * j.finest)),
        finest_knock_percent: track.still.as_ref().and_then(|_| percent(track.knocks.finest)),
        locked_off: track.locked_off(),
    }
}

fn place(audit: &Audit, at: Option<usize>) -> (Option<String>, Option<u16>) {
    let frames = &audit.evidence.frames;
    let Some((at, shot)) = at.and_then(|at| Some((at, frames.card.shots.get(at)?))) else {
        return (None, None);
    };
    let root = frames.card.folders.get(shot.file.folder as usize).map(|f| f.root);
    (Some(frames.path_text(at)), root)
}

pub(super) fn moment(at: CivilTime) -> String {
    at.iso(fraction(at))
}

pub(super) fn counts(report: &Report<'_>) -> v1::Counts {
    let counts = &report.counts;
    v1::Counts {
        frames: counts.frames,
        slots: counts.slots,
        missing: counts.missing,
        missing_low: counts.missing_doubt.map(|d| d.0),
        missing_high: counts.missing_doubt.map(|d| d.1),
        surplus: counts.surplus,
        damaged: counts.damaged,
        outside: counts.outside,
    }
}

pub(super) fn verdict(report: &Report<'_>) -> v1::Verdict {
    let audit = report.audit;
    let v = &audit.verdict;
    v1::Verdict {
        call: v.call.word().to_owned(),
        limited_to: report.limited_to.map(str::to_owned),
        end_known: report.end_known,
        reasons: v.reasons.iter().map(reason).collect(),
        usable: v.usable.as_ref().map(|u| usable(audit, u)),
        story: report.story.sentence.clone(),
        to_do: report.story.to_do.clone(),
        incidents: v.incidents.iter().map(incident).collect(),
        causes: v.causes.iter().map(cause).collect(),
        would_change: v.would_change.clone(),
        timeline: v.timeline.clone(),
    }
}

pub(super) fn reason(r: &Reason) -> v1::Reason {
    v1::Reason { check: r.check.to_owned(), severity: r.severity.word().to_owned(), words: r.words.clone() }
}

fn incident(of: &Incident) -> v1::Incident {
    v1::Incident {
        cause: of.code.to_owned(),
        strength: of.strength().map(|s| s.word().to_owned()),
        severity: of.severity.word().to_owned(),
        sentence: of.sentence.clone(),
        to_do: of.to_do.clone(),
        findings: of
            .findings
            .iter()
            .map(|w| v1::FindingOf { check: w.check.to_owned(), nth: w.nth as u64 })
            .collect(),
        rivals: of.rivals.iter().map(|rival| rival.code.name().to_owned()).collect(),
    }
}

pub(super) fn cause(c: &LikelyCause) -> v1::Cause {
    v1::Cause {
        code: c.code.name().to_owned(),
        strength: c.strength.word().to_owned(),
        words: c.words.clone(),
        remedy: c.remedy.to_string(),
        apart: c.apart.map(str::to_owned),
    }
}

fn usable(audit: &Audit, u: &Usable) -> v1::Usable {
    let (first_file, first_root) = place(audit, Some(u.span.first));
    let (last_file, last_root) = place(audit, Some(u.span.last));
    let clip_s = u.clip_s.and_then(number);
    let patches = u.patches.len() as u64;
    let patched_slots = u.patches.iter().map(|p| p.slots).sum();
    v1::Usable {
        first_file,
        first_root,
        last_file,
        last_root,
        frames: u.frames,
        clip_s,
        patches,
        patched_slots,
        agreed_slots: u.agreed,
    }
}

pub(super) fn cadence(timing: &Timing) -> v1::Cadence {
    let c = timing.cadence.as_ref();
    let real = |f: fn(&Cadence) -> f64| c.map(f).and_then(number);
    let law = |law| match law {
        TimerLaw::Open => Some("open".to_owned()),
        TimerLaw::Close | TimerLaw::CloseDarkFrame => Some("close".to_owned()),
        TimerLaw::Unknown => None,
    };
    v1::Cadence {
        interval_s: real(|c| c.interval_s),
        interval_low_s: real(|c| c.low_s),
        interval_high_s: real(|c| c.high_s),
        stamp_resolution_s: real(|c| c.resolution_s),
        counted_from: c.and_then(|c| law(c.law)),
        stamped_at_close: c.map(|c| c.stamped_at_close),
        exposures_per_slot: timing.bracket.as_ref().map_or(1, |b| b.size as u64),
        incomplete_brackets: timing.bracket.as_ref().map(|b| b.incomplete.len() as u64),
        per_exposure: c.and_then(|c| c.per_exposure).and_then(number),
        timing_error_s: real(|c| c.timing_error_s),
        widening_s: real(|c| c.widening_s),
        exact_low_s: c.and_then(|c| c.exact_s).and_then(|e| number(e.0)),
        exact_high_s: c.and_then(|c| c.exact_s).and_then(|e| number(e.1)),
        written_resolution_s: (timing.written_resolution > Micros::ZERO)
            .then_some(timing.written_resolution.seconds()),
        number_advance: timing.number_advance,
        order_from: timing.basis.words().to_owned(),
        unstamped: timing.unstamped,
        no_grid: timing.no_grid.clone(),
    }
}

pub(super) fn stretch(audit: &Audit, s: &Stretch) -> v1::Stretch {
    let (first_file, first_root) = place(audit, Some(s.first));
    let (last_file, last_root) = place(audit, Some(s.last));
    v1::Stretch {
        first_file,
        first_root,
        last_file,
        last_root,
        frames: s.frames,
        first_slot: s.first_slot,
        last_slot: s.last_slot,
        interval_s: number(s.interval_s),
        interval_low_s: number(s.low_s),
        interval_high_s: number(s.high_s),
        starts_at: moment(s.phase),
    }
}

pub(super) fn join(audit: &Audit, j: &Join) -> v1::Join {
    let (before_file, before_root) = place(audit, Some(j.before));
    let (after_file, after_root) = place(audit, Some(j.after));
    let (kind, figures, looks_like) = match &j.kind {
        JoinKind::Slip { pause_s, slots } => ("slip", vec![("pause_s", *pause_s), ("slots", *slots)], None),
        JoinKind::ClockStep { step_s, looks_like, stood_s, .. } => {
            let stood = stood_s.map(|s| ("pause_s", s));
            ("clock-step", [("step_s", *step_s)].into_iter().chain(stood).collect(), Some(looks_like.clone()))
        }
        JoinKind::Rate { from_s, to_s, pause_s, .. } => {
            let stood = pause_s.map(|s| ("pause_s", s));
            ("rate", [("from_s", *from_s), ("to_s", *to_s)].into_iter().chain(stood).collect(), None)
        }
        JoinKind::Night => ("night", Vec::new(), None),
    };
    let (earliest, latest) = match &j.kind {
        JoinKind::Rate { earliest, latest, .. } => (Some(*earliest), Some(*latest)),
        _ => (None, None),
    };
    v1::Join {
        earliest_file: place(audit, earliest).0,
        latest_file: place(audit, latest).0,
        before_file,
        before_root,
        after_file,
        after_root,
        gap_s: number(j.gap_s),
        kind: kind.to_owned(),
        figures: figures.into_iter().map(|(key, v)| (key.to_owned(), number(v))).collect(),
        looks_like,
    }
}

pub(super) fn hole(audit: &Audit, h: &Hole) -> v1::Hole {
    let (before_file, before_root) = place(audit, Some(h.before));
    let (after_file, after_root) = place(audit, Some(h.after));
    v1::Hole {
        before_file,
        before_root,
        after_file,
        after_root,
        slot: h.slot,
        slots: h.slots,
        gap_s: number(h.gap_s),
        numbers: h.numbers,
        cause: h.cause.code().to_owned(),
        count_low: h.doubt.map(|d| d.0),
        count_high: h.doubt.map(|d| d.1),
    }
}

pub(super) fn outside(audit: &Audit, o: &Outside) -> v1::Outside {
    let (first_file, first_root) = place(audit, Some(o.span.first));
    let (last_file, last_root) = place(audit, Some(o.span.last));
    let frames = o.span.len() as u64;
    v1::Outside { first_file, first_root, last_file, last_root, frames, why: o.why.clone() }
}

pub(super) fn finding(audit: &Audit, f: &Finding) -> v1::Finding {
    let (first_file, first_root) = place(audit, f.first);
    let (last_file, last_root) = place(audit, f.last);
    let mut evidence = BTreeMap::new();
    for (key, figure) in &f.evidence {
        let told = match figure {
            Figure::Count(n) => v1::Figure::Count(*n),
            Figure::Number(v) => v1::Figure::Number(number(*v)),
            Figure::Limited(m) => {
                let limit = v1::Figure::Number(m.limit.and_then(number));
                evidence.insert(format!("{key}_limit"), limit);
                v1::Figure::Number(number(m.value))
            }
            Figure::Text(words) => v1::Figure::Text(words.clone()),
            Figure::Flag(yes) => v1::Figure::Flag(*yes),
            Figure::Unknown => v1::Figure::Number(None),
        };
        evidence.insert((*key).to_owned(), told);
    }
    v1::Finding {
        check: f.check.to_owned(),
        severity: f.severity.word().to_owned(),
        message: f.message.clone(),
        count: f.count,
        first_file,
        first_root,
        last_file,
        last_root,
        at: f.at.map(moment),
        cause: f.cause.as_ref().map(|c| c.code.name().to_owned()),
        cause_words: f.cause.as_ref().map(|c| c.words.clone()),
        evidence,
        doubt: f.doubt.as_ref().map(|d| d.words.clone()),
        count_low: f.doubt.as_ref().map(|d| d.count_low),
        count_high: f.doubt.as_ref().map(|d| d.count_high),
        accepted: f.accepted.clone(),
    }
}

pub(super) fn judgement(j: &Judgement) -> v1::Judgement {
    let (answer, reason) = match &j.answer {
        Answer::Clear => ("clear", None),
        Answer::Found(_) => ("found", None),
        Answer::CannotJudge(why) => ("cannot-judge", Some(why.clone())),
        Answer::Broke(what) => ("broke", Some(what.clone())),
    };
    v1::Judgement {
        check: j.text.id.to_owned(),
        answer: answer.to_owned(),
        reason,
        findings: j.findings().len() as u64,
        looked_at: j.looked_at,
        set_aside: j
            .set_aside
            .iter()
            .map(|(frames, why)| v1::SetAside { frames: *frames, why: why.clone() })
            .collect(),
        limits: j
            .limits
            .all()
            .map(|(limit, from_plan)| v1::Limit {
                key: limit.key.name().to_owned(),
                unit: limit.unit.to_owned(),
                direction: match limit.direction {
                    Direction::AtLeast => "at-least",
                    Direction::Above => "above",
                    Direction::Below => "below",
                }
                .to_owned(),
                caution: limit.caution.and_then(number),
                fault: limit.fault.and_then(number),
                from_plan,
                source: limit.source.to_owned(),
            })
            .collect(),
    }
}
