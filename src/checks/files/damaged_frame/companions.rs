//! The files beside a frame's own: one that the others have and it lacks (raw without its JPEG, JPEG without
//! its raw), one that is damaged.

use crate::checks::common::{beside, count, groups, over};
use crate::evidence::{Damage, FileKind, Sequence, Shot};
use crate::finding::{Finding, InForce, LimitKey, Severity};
use crate::units::{Figure, FrameSpan, counted, shown};
use std::ffi::OsStr;
use std::path::Path;

/// Key of a limit of the check that calls this.
pub(crate) const BESIDE: LimitKey = LimitKey::new("beside");
/// Key of a limit of the check that calls this.
pub(crate) const RAWS: LimitKey = LimitKey::new("raws");
/// Key of a limit of the check that calls this.
pub(crate) const COMPANIONS: LimitKey = LimitKey::new("companions");

/// A kind of file is usual where more than this share of the run's frames has it.
const USUAL: f64 = 0.5;

/// One finding for each kind of file that most frames of the run have beside another one and some lack.
pub(crate) fn lacking(check: &'static str, limits: &InForce, evidence: &Sequence) -> Vec<Finding> {
    // Nothing was learnt of a frame that was not read.
    let told =
        |at: &usize| !matches!(evidence.frame(*at).row().damage, Damage::NotRead(_) | Damage::NotTried);
    let shots = &evidence.frames.card.shots;
    let run: Vec<usize> = evidence.in_run().filter(told).collect();
    let mut kinds: Vec<(String, usize)> = Vec::new();
    for &at in &run {
        for kind in kinds_of(&shots[at]) {
            match kinds.iter_mut().find(|(known, _)| known.eq_ignore_ascii_case(kind)) {
                Some((_, frames)) => *frames += 1,
                None => kinds.push((kind.to_ascii_uppercase(), 1)),
            }
        }
    }
    kinds.retain(|(_, frames)| *frames as f64 > USUAL * run.len() as f64);
    if kinds.len() < 2 {
        return Vec::new();
    }
    let lacks = |at: usize, kind: &str| !kinds_of(&shots[at]).any(|own| own.eq_ignore_ascii_case(kind));
    let mut findings = Vec::new();
    for (kind, have) in &kinds {
        let without: Vec<usize> = run.iter().copied().filter(|at| lacks(*at, kind)).collect();
        let (Some(&first), Some(&last)) = (without.first(), without.last()) else { continue };
        let n = without.len() as u64;
        let key = if FileKind::is_raw_name(kind) { RAWS } else { COMPANIONS };
        let severity = limits.weigh(key, n as f64).map_or(Severity::Note, |w| w.0);
        let which = match groups(without.iter().copied()).as_slice() {
            [FrameSpan { first, last }] if first == last => evidence.frame(*first).name(),
            [_] => format!("{} to {}", evidence.frame(first).name(), evidence.frame(last).name()),
            _ => format!(
                "the first {}, the last {}",
                evidence.frame(first).name(),
                evidence.frame(last).name()
            ),
        };
        let verb = if n == 1 { "lacks" } else { "lack" };
        let message =
            format!("{} of the run {verb} the {kind} that {have} others have: {which}.", counted(n, "frame"));
        let mut finding = over(Finding::new(check, severity, message), first, last)
            .count(n)
            .at(evidence.frame(first).moment())
            .figure("lacking", Figure::Text(kind.clone()))
            .figure("frames_that_have_it", count(*have as u64));
        finding.marks = groups(without);
        findings.push(finding);
    }
    findings
}

/// A finding for each group of frames in a row beside which a damaged file lies, though their own is whole.
pub(crate) fn damaged_beside(check: &'static str, limits: &InForce, evidence: &Sequence) -> Vec<Finding> {
    let of = |at: usize| {
        let (place, damage) = evidence.frame(at).row().companion_damage()?;
        Some((evidence.frames.card.shots[at].companions.get(*place)?, damage))
    };
    let unread = |at: usize| matches!(of(at), Some((_, Damage::NotRead(_) | Damage::NotTried)));
    let all = (0..evidence.len()).filter(|at| of(*at).is_some() && !unread(*at));
    let told = |span: FrameSpan| {
        let (file, damage) = of(span.first)?;
        let name = shown(&evidence.frames.card.text_of(file));
        let n = span.len() as u64;
        let message = match n {
            1 => format!(
                "{name}, beside {}, is damaged: {}.",
                evidence.frame(span.first).name(),
                shown(&damage.words())
            ),
            _ => format!(
                "{n} frames in a row have a damaged file beside them, {} to {}; the first is {name}: {}.",
                evidence.frame(span.first).name(),
                evidence.frame(span.last).name(),
                shown(&damage.words())
            ),
        };
        let of_run = !evidence.frame(span.first).is_outside();
        let severity = limits.weigh(BESIDE, n as f64).filter(|_| of_run).map_or(Severity::Note, |w| w.0);
        let finding = Finding::new(check, severity, message).count(n).on(span);
        Some(
            finding
                .at(evidence.frame(span.first).moment())
                .figure("damaged_beside", beside(n as f64, limits.get(BESIDE).caution)),
        )
    };
    groups(all).into_iter().filter_map(told).collect()
}

/// Extensions of a shot's files; of two spellings of one kind the shorter.
fn kinds_of(shot: &Shot) -> impl Iterator<Item = &str> + '_ {
    shot.files().filter_map(|file| {
        let extension = Path::new(&*file.name).extension().and_then(OsStr::to_str)?;
        Some(match extension {
            long if long.eq_ignore_ascii_case("jpeg") => "JPG",
            long if long.eq_ignore_ascii_case("tiff") => "TIF",
            own => own,
        })
    })
}
