//! Frames with a picture that was not decoded because it would have taken too much.

use crate::checks::common::{beside, groups};
use crate::evidence::{NotSeen, Sequence};
use crate::finding::{Finding, InForce, LimitKey, Severity};
use crate::units::{Figure, FrameSpan, shown};

/// Key of a limit of the check that calls this.
pub(crate) const FRAMES: LimitKey = LimitKey::new("frames");

/// A finding for each group of frames in a row, weighed as damaged ones are: nobody has seen whether they are
/// good. Where another picture of the frame was looked at in its place, or the frame lies outside of the run,
/// it is a note.
pub(crate) fn not_seen(check: &'static str, limits: &InForce, evidence: &Sequence) -> Vec<Finding> {
    let of = |at: usize| evidence.frame(at).row().not_seen();
    let outside = |at: usize| evidence.frame(at).is_outside();
    let replaced = |at: usize| evidence.frame(at).look().is_some();
    let alike = |a: usize, b: usize| (outside(a), replaced(a)) == (outside(b), replaced(b));
    let all = groups((0..evidence.len()).filter(|at| of(*at).is_some()));
    let mut spans: Vec<FrameSpan> = Vec::new();
    for group in all {
        for at in group.first..=group.last {
            match spans.last_mut() {
                Some(span) if span.last + 1 == at && alike(span.last, at) => span.last = at,
                _ => spans.push(FrameSpan::one(at)),
            }
        }
    }
    let told = |span: FrameSpan| {
        let NotSeen { companion, why } = of(span.first)?;
        let shot = &evidence.frames.card.shots[span.first];
        let file = companion.and_then(|at| shot.companions.get(at)).unwrap_or(&shot.file);
        let (name, why) = (shown(&evidence.frames.file_text(file)), shown(why));
        let n = span.len() as u64;
        let mut message = match n {
            1 => format!("{name} was not checked: {why}."),
            _ => format!(
                "{n} frames in a row were not checked, {} to {}; the first is {name}: {why}.",
                evidence.frame(span.first).name(),
                evidence.frame(span.last).name()
            ),
        };
        let weighed = limits.weigh(FRAMES, n as f64).map_or(Severity::Note, |w| w.0);
        let severity = if replaced(span.first) {
            message.push_str(" Another picture in its place was.");
            Severity::Note
        } else if outside(span.first) {
            Severity::Note
        } else {
            weighed
        };
        let finding = Finding::new(check, severity, message).count(n).on(span);
        Some(
            finding
                .at(evidence.frame(span.first).moment())
                .figure("not_seen", beside(n as f64, limits.get(FRAMES).caution))
                .figure("what", Figure::Text(why)),
        )
    };
    spans.into_iter().filter_map(told).collect()
}

#[cfg(test)]
mod tests {
    use super::super::CHECK;
    use crate::checks::testing::{Sketch, every, found};
    use crate::evidence::{FrameState, NotSeen, Row};
    use crate::finding::Severity::{Caution, Note};

    fn refused(row: &mut Row) {
        let why = "its picture declares 16383 × 16383 pixels".into();
        row.rare_mut().not_seen = Some(NotSeen { companion: None, why });
    }

    #[test]
    fn the_file_and_the_reason_are_named() {
        let sketch = Sketch::steady(100, 10.0).change(7..8, refused).change(20..22, refused);
        let findings = found(&CHECK, &every(10.0), &sketch.evidence());
        let told: Vec<_> = findings.iter().map(|f| (f.severity, f.first, f.count)).collect();
        assert_eq!(told, [(Caution, Some(7), 1), (Caution, Some(20), 2)]);
        let message = &findings[0].message;
        assert!(message.contains("TIDE0008.JPG was not checked: its picture declares 16383"), "{message}");
        assert!(findings[1].message.contains("2 frames in a row"), "{}", findings[1].message);
    }

    #[test]
    fn outside_of_the_run_it_is_a_note() {
        let sketch = Sketch::steady(100, 10.0).change(0..4, refused).state(0..2, FrameState::Outside);
        let findings = found(&CHECK, &every(10.0), &sketch.evidence());
        let told: Vec<_> = findings.iter().map(|f| (f.severity, f.count)).collect();
        assert_eq!(told, [(Note, 2), (Caution, 2)]);
    }
}
