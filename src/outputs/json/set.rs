//! Several cameras, put into the structs of schema 1: one record each, and above them what is of all.

use super::number::number;
use super::{fill, plan, v1};
use crate::audit::{AuditSet, CameraAudit, Together};
use crate::evidence::timing::Timing;
use crate::finding::{Answer, Judgement};
use crate::outputs::report::Report;
use crate::outputs::report::several::{between, limited_to, of_camera, ranked};

/// The whole record.
pub(crate) fn record<'a>(set: &'a AuditSet, reports: &'a [Report<'a>]) -> v1::Record<'a> {
    let audits = || set.cameras.iter().map(|c| &c.audit);
    v1::Record {
        schema: v1::SCHEMA,
        tool: fill::tool(),
        name: set.name().to_owned(),
        complete: set.complete(),
        pictures: fill::pictures(set.pictures()).to_owned(),
        roots: audits().next().map(|a| fill::roots(&a.evidence.frames.card)).unwrap_or_default(),
        plan: plan::told(&set.plan),
        plan_source: set.plan_source().to_owned(),
        verdict: verdict(set, reports),
        counts: counts(reports),
        cadence: cadence(set),
        stretches: audits()
            .flat_map(|a| a.evidence.timing.stretches.iter().map(|s| fill::stretch(a, s)))
            .collect(),
        joins: audits().flat_map(|a| a.evidence.timing.joins.iter().map(|j| fill::join(a, j))).collect(),
        movement: None,
        holes: v1::Each::of(audits().flat_map(|a| a.evidence.timing.holes.iter().map(|h| fill::hole(a, h)))),
        outside: v1::Each::of(audits().flat_map(|a| a.evidence.outside.iter().map(|o| fill::outside(a, o)))),
        findings: v1::Each::of(ranked(set).into_iter().map(|(n, f)| fill::finding(&set.cameras[n].audit, f))),
        judgements: judgements(set),
        passed_over: fill::passed_over(&set.passed_over),
        trouble: fill::trouble(&set.trouble),
        cameras: Some(v1::Each::of(set.cameras.iter().zip(reports).map(|(own, report)| camera(own, report)))),
        together: Some(together(&set.together)),
    }
}

fn camera<'a>(own: &'a CameraAudit, report: &Report<'_>) -> v1::Camera<'a> {
    let audit = &own.audit;
    let evidence = &audit.evidence;
    let timing = &evidence.timing;
    let named = |text: fn(&crate::evidence::Camera) -> &String| {
        own.camera.as_ref().map(text).filter(|t| !t.is_empty()).cloned()
    };
    v1::Camera {
        letter: own.letter.clone(),
        maker: named(|c| &c.maker),
        model: named(|c| &c.model),
        serial: named(|c| &c.serial),
        root: own.folder.0,
        folder: own.folder.1.clone(),
        complete: audit.complete(),
        verdict: fill::verdict(report),
        counts: fill::counts(report),
        cadence: fill::cadence(timing),
        stretches: timing.stretches.iter().map(|s| fill::stretch(audit, s)).collect(),
        joins: timing.joins.iter().map(|j| fill::join(audit, j)).collect(),
        movement: evidence.movement.as_ref().map(|track| fill::movement(audit, track)),
        holes: v1::Each::of(timing.holes.iter().map(|h| fill::hole(audit, h))),
        outside: v1::Each::of(evidence.outside.iter().map(|o| fill::outside(audit, o))),
        findings: v1::Each::of(audit.findings().into_iter().map(|f| fill::finding(audit, f))),
        judgements: audit.judgements.iter().map(fill::judgement).collect(),
    }
}

/// What all cameras come to. Sentences of one camera say whose they are.
fn verdict(set: &AuditSet, reports: &[Report<'_>]) -> v1::Verdict {
    let mut all = v1::Verdict {
        call: set.call().word().to_owned(),
        limited_to: limited_to(set).map(str::to_owned),
        end_known: reports.iter().all(|report| report.end_known),
        reasons: Vec::new(),
        usable: None,
        story: between(set).unwrap_or_default(),
        to_do: None,
        incidents: Vec::new(),
        causes: set.together.causes.iter().map(fill::cause).collect(),
        would_change: Vec::new(),
        timeline: Vec::new(),
    };
    for (n, own) in set.worst_first() {
        let Some(told) = reports.get(n).map(fill::verdict) else { continue };
        all.reasons
            .extend(told.reasons.into_iter().map(|r| v1::Reason { words: of_camera(own, &r.words), ..r }));
        if all.story.is_empty() {
            (all.story, all.to_do) = (of_camera(own, &told.story), told.to_do);
        }
        let own_incidents = told.incidents.into_iter();
        all.incidents
            .extend(own_incidents.map(|i| v1::Incident { sentence: of_camera(own, &i.sentence), ..i }));
        all.causes
            .extend(told.causes.into_iter().map(|c| v1::Cause { words: of_camera(own, &c.words), ..c }));
        all.would_change.extend(told.would_change.iter().map(|words| of_camera(own, words)));
        all.timeline.extend(told.timeline.iter().map(|line| match line.split_once("  ") {
            Some((clock, words)) => format!("{clock}  {}", of_camera(own, words.trim_start())),
            None => of_camera(own, line),
        }));
    }
    all.reasons.extend(set.together.reasons.iter().map(fill::reason));
    all
}

/// Counts added up; a sum with an unknown part is not known.
fn counts(reports: &[Report<'_>]) -> v1::Counts {
    let all: Vec<v1::Counts> = reports.iter().map(fill::counts).collect();
    let sum = |of: fn(&v1::Counts) -> u64| all.iter().map(of).fold(0, u64::saturating_add);
    let known = |of: fn(&v1::Counts) -> Option<u64>| {
        all.iter().map(of).try_fold(0_u64, |sum, n| Some(sum.saturating_add(n?)))
    };
    let doubted = all.iter().any(|c| c.missing_low.is_some() || c.missing_high.is_some());
    v1::Counts {
        frames: sum(|c| c.frames),
        slots: known(|c| c.slots),
        missing: known(|c| c.missing),
        missing_low: known(|c| c.missing_low.or(c.missing)).filter(|_| doubted),
        missing_high: known(|c| c.missing_high.or(c.missing)).filter(|_| doubted),
        surplus: sum(|c| c.surplus),
        damaged: sum(|c| c.damaged),
        outside: sum(|c| c.outside),
    }
}

/// What can be said of all cameras: each has a grid of its own.
fn cadence(set: &AuditSet) -> v1::Cadence {
    let all: Vec<v1::Cadence> = set.cameras.iter().map(|c| fill::cadence(&c.audit.evidence.timing)).collect();
    let mut words: Vec<&str> = all.iter().map(|c| c.order_from.as_str()).collect();
    words.dedup();
    v1::Cadence {
        exposures_per_slot: all.iter().map(|c| c.exposures_per_slot).max().unwrap_or(1),
        order_from: words.join(", "),
        unstamped: all.iter().map(|c| c.unstamped).sum(),
        no_grid: Some("several cameras, each with a grid of its own: see cameras".into()),
        ..fill::cadence(&Timing::default())
    }
}

/// How an answer weighs where cameras differ: clear counts only where it is every camera's.
fn weight(answer: &Answer) -> u8 {
    match answer {
        Answer::Clear => 0,
        Answer::CannotJudge(_) => 1,
        Answer::Found(_) => 2,
        Answer::Broke(_) => 3,
    }
}

/// One answer a check, as at its worst camera, with the frames of all.
fn judgements(set: &AuditSet) -> Vec<v1::Judgement> {
    let Some(first) = set.cameras.first() else { return Vec::new() };
    let one = |n: usize| {
        let all: Vec<(&CameraAudit, &Judgement)> =
            set.cameras.iter().filter_map(|c| Some((c, c.audit.judgements.get(n)?))).collect();
        // The earlier of two that weigh the same.
        let (own, worst) = all.iter().rev().max_by_key(|j| weight(&j.1.answer))?;
        let told = fill::judgement(worst);
        let each = || all.iter().map(|j| fill::judgement(j.1));
        Some(v1::Judgement {
            reason: told.reason.as_deref().map(|why| of_camera(own, why)),
            findings: each().map(|j| j.findings).sum(),
            looked_at: each().map(|j| j.looked_at).sum(),
            set_aside: each().flat_map(|j| j.set_aside).collect(),
            ..told
        })
    };
    (0..first.audit.judgements.len()).filter_map(one).collect()
}

fn together(all: &Together) -> v1::Together {
    let clock = |c: &crate::audit::ClockDifference| v1::Clock {
        camera: c.camera as u64,
        against: 0,
        ahead_s: c.ahead_s.and_then(number),
        within_s: c.within_s.and_then(number),
        matched: c.matched,
        of: c.of,
        strength: c.strength.map(|s| s.word().to_owned()),
        words: c.words.clone(),
    };
    let hole = |h: &crate::audit::HoleAcross| v1::HoleAcross {
        at: fill::moment(h.at),
        slots: h.slots,
        lacking: h
            .lacking
            .iter()
            .map(|(camera, slot)| v1::Lacking { camera: *camera as u64, slot: *slot })
            .collect(),
        fired: h.fired.iter().map(|camera| *camera as u64).collect(),
        whose: h.whose.code().to_owned(),
        files_lost: h.files_lost,
    };
    let stop = |s: &crate::audit::StopAcross| v1::StopAcross {
        at: fill::moment(s.at),
        pause_s: number(s.pause_s),
        stood: s
            .stood
            .iter()
            .map(|(camera, pause_s)| v1::Stood { camera: *camera as u64, pause_s: number(*pause_s) })
            .collect(),
        fired: s.fired.iter().map(|camera| *camera as u64).collect(),
        whose: s.whose.code().to_owned(),
        doubted: s.doubted,
    };
    v1::Together {
        clocks: all.clocks.iter().map(clock).collect(),
        holes: all.holes.iter().map(hole).collect(),
        stops: all.stops.iter().map(stop).collect(),
    }
}
