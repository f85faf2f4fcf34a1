//! Which part can be used, and what clip it makes against the one asked, in one sentence.

use crate::audit::Audit;
use crate::finding::{Answer, ClipEffect, Judgement, Quality};
use crate::units::{FrameSpan, counted, counted_as, duration};
use crate::verdict::patch_words;

/// The sentence; `span` names the frames from one position to another.
pub(crate) fn words(audit: &Audit, span: impl Fn(usize, usize) -> String) -> String {
    let frames = audit.evidence.frames.len();
    let Some(u) = audit.verdict.usable.as_ref().filter(|u| u.span.last < frames) else {
        return "No frame.".into();
    };
    let mut words = format!("{}: {}", span(u.span.first, u.span.last), counted(u.frames, "frame"));
    if !u.patches.is_empty() {
        words.push_str(&format!(" and {}", patch_words(&u.patches)));
    }
    if u.agreed > 0 {
        words.push_str(&format!(", across {} agreed to", counted(u.agreed, "slot")));
    }
    match (u.clip_s, asked_clip_s(audit)) {
        (Some(clip), Some(asked)) => {
            words.push_str(&format!(", {} of clip; {} ordered", duration(clip), duration(asked)));
        }
        (Some(clip), None) => words.push_str(&format!(", {} of clip", duration(clip))),
        (None, Some(asked)) => {
            words.push_str(&format!("; a clip of {} is ordered, at no stated fps", duration(asked)));
        }
        (None, None) => {}
    }
    words.push('.');
    let blind = |j: &Judgement| {
        j.text.traits.in_the_clip == ClipEffect::Holes && matches!(j.answer, Answer::CannotJudge(_))
    };
    if audit.judgements.iter().any(blind) {
        words.push_str(" Whether frames are missing in it could not be judged.");
    }
    let uneven = uneven_within(audit, u.span);
    if uneven > 0 {
        let intervals = counted_as(uneven as u64, "interval in it is", "intervals in it are");
        words.push_str(&format!(" {intervals} uneven: retime it by the stamps, or use what lies between."));
    }
    words
}

/// The clip that is asked, s. Where no length is, the frames that are asked make one.
pub(crate) fn asked_clip_s(audit: &Audit) -> Option<f64> {
    let delivery = &audit.plan.delivery;
    delivery.length_s.or_else(|| delivery.clip_s(audit.plan.frames?))
}

/// Frames of the span, behind its first, that come after an uneven interval or off the beat.
fn uneven_within(audit: &Audit, span: FrameSpan) -> usize {
    let jolts = |j: &&Judgement| {
        (j.text.traits.in_the_clip, j.text.traits.quality) == (ClipEffect::Jolts, Some(Quality::Interval))
    };
    let judged = audit.judgements.iter().filter(jolts);
    let weighing = judged.flat_map(Judgement::findings).filter(|f| f.weighs());
    let marks = weighing.flat_map(|f| f.marks.iter().flat_map(|m| m.first..=m.last));
    marks.filter(|at| span.first < *at && *at <= span.last).count()
}
