//! What a check says: its text, its limits, its answer. The words here are the same in every output.

mod limits;
mod traits;

pub use limits::{Direction, InForce, Limit, LimitKey};
pub use traits::{About, ByCause, ClipEffect, Needed, Quality, Traits};

use crate::units::{CivilTime, Figure, FrameSpan, Measured};

/// What findings say of the clip: where it cannot run on, and what was agreed to and so is taken as good.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct InTheClip {
    /// Positions at which a clip cannot run on, in any order.
    pub breaks: Vec<usize>,
    /// Spans of the holes that were agreed to.
    pub holes: Vec<FrameSpan>,
    /// Spans of the damaged frames that were agreed to.
    pub damaged: Vec<FrameSpan>,
    /// Spans of the pauses that were agreed to.
    pub pauses: Vec<FrameSpan>,
    /// Spans of the rates that were agreed to.
    pub rates: Vec<FrameSpan>,
}

impl InTheClip {
    /// What the findings of these judgements say together.
    pub fn of<'a>(judgements: impl IntoIterator<Item = &'a Judgement>) -> Self {
        let mut all = Self::default();
        for judgement in judgements {
            let effect = judgement.text.traits.in_the_clip;
            for finding in judgement.findings() {
                if finding.accepted.is_none() {
                    all.breaks.extend(finding.breaks(effect));
                    continue;
                }
                let spans = match effect {
                    ClipEffect::Holes => &mut all.holes,
                    ClipEffect::Damage => &mut all.damaged,
                    ClipEffect::Pauses => &mut all.pauses,
                    ClipEffect::Rates => &mut all.rates,
                    _ => continue,
                };
                spans.extend(finding.first.zip(finding.last).map(|(first, last)| FrameSpan { first, last }));
            }
        }
        all
    }
}

/// The code of a cause in `audit.json` (`trigger-missed`, `file-lost`, `unknown`, …). Each stands once, as a
/// constant beside what names it: another one does not compile.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CauseCode(&'static str);

impl CauseCode {
    /// A code by its name.
    pub const fn new(name: &'static str) -> Self {
        Self(name)
    }

    /// Its name.
    pub const fn name(self) -> &'static str {
        self.0
    }
}

/// The cause of a finding which says that the plan may be wrong, and not the card: it puts all others in
/// another light.
pub const PLAN_DOUBTED: CauseCode = CauseCode::new("plan-doubted");

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Good to know.
    Note,
    /// Look before you strike the rig.
    Caution,
    /// The sequence breaks what was asked.
    Fault,
}

impl Severity {
    /// The word used everywhere.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Caution => "caution",
            Self::Fault => "fault",
        }
    }
}

/// All that there is to say about a check, written once. `explain`, the report and the README's table are
/// made from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Text {
    /// The id, as in `missing-slot`.
    pub id: &'static str,
    /// What it finds, as it is named within a sentence.
    pub finds: &'static str,
    /// The question it puts to the evidence, one sentence.
    pub asks: &'static str,
    /// Why it matters to the person who shot it.
    pub why: &'static str,
    /// How the answer is worked out.
    pub how: &'static str,
    /// What it cannot see.
    pub blind: &'static str,
    /// What to do about a finding.
    pub remedy: &'static str,
    /// Where its method and figures come from.
    pub source: &'static str,
    /// What its findings mean to all that follows.
    pub traits: Traits,
}

impl Text {
    /// What to do about findings of any cause: first what each cause asks for, then the rest.
    pub fn remedies(&self) -> String {
        let each = self.traits.by_cause.iter().map(|by| format!("{}: {} ", by.name, by.remedy));
        each.collect::<String>() + self.remedy
    }

    /// What to do about findings that all have this cause.
    pub fn remedy_for(&self, cause: CauseCode) -> String {
        let Some(own) = self.traits.by_cause.iter().find(|by| by.cause == cause) else {
            return self.remedies();
        };
        let mut letters = own.remedy.chars();
        let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
        format!("{first}{} {}", letters.as_str(), self.remedy)
    }
}

/// Why the thing is so, where the evidence tells.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cause {
    /// Its code.
    pub code: CauseCode,
    /// The same in words, with the figures that carry it.
    pub words: String,
}

/// Another reading of the same stamps that would change the finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// What the other reading says, one sentence.
    pub words: String,
    /// The smallest count that the stamps allow.
    pub count_low: u64,
    /// The largest count that the stamps allow.
    pub count_high: u64,
}

/// One answer worth telling.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Id of the check.
    pub check: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// One plain sentence with its figures, fit to show (names already made visible).
    pub message: String,
    /// How many slots or frames it speaks of.
    pub count: u64,
    /// Where it begins: a position in capture order. A finding between two frames names the frame before.
    pub first: Option<usize>,
    /// Where it ends: for a finding between two frames, the frame after.
    pub last: Option<usize>,
    /// When, on the camera's clock.
    pub at: Option<CivilTime>,
    /// Why, where the evidence tells.
    pub cause: Option<Cause>,
    /// The figures behind the sentence; keys carry units (`gap_s`). In the order in which they are told.
    pub evidence: Vec<(&'static str, Figure)>,
    /// Another reading that would change it.
    pub doubt: Option<Doubt>,
    /// True where the sentence already tells both readings of frames at an end: the run's, or shots beside
    /// it.
    pub both_ways: bool,
    /// The frames it marks in the frames table; missing slots are marked by their hole.
    pub marks: Vec<FrameSpan>,
    /// The reason given in the plan's `[[accepted]]`, where one applies: it stays in the report, out of the
    /// call.
    pub accepted: Option<String>,
    /// True where that acceptance names neither a place nor a count.
    pub unbounded: bool,
}

impl Finding {
    /// A finding with its sentence and nothing else yet.
    pub fn new(check: &'static str, severity: Severity, message: impl Into<String>) -> Self {
        Self {
            check,
            severity,
            message: message.into(),
            count: 1,
            first: None,
            last: None,
            at: None,
            cause: None,
            evidence: Vec::new(),
            doubt: None,
            both_ways: false,
            marks: Vec::new(),
            accepted: None,
            unbounded: false,
        }
    }

    /// True where the call rests on it: it is more than a note, and not accepted.
    pub fn weighs(&self) -> bool {
        self.severity > Severity::Note && self.accepted.is_none()
    }

    /// True where it would weigh, had the plan not accepted it.
    pub fn is_silenced(&self) -> bool {
        self.severity > Severity::Note && self.accepted.is_some()
    }

    /// Tells as well that the frames beyond it may be none of the run, with what is then untrue.
    #[must_use]
    pub fn or_beside(mut self, words: String, most: u64) -> Self {
        self.message = format!("{} {words}", self.message);
        self.doubt = Some(Doubt { words, count_low: 0, count_high: most });
        self.both_ways = true;
        self
    }

    /// Speaks of `count` slots or frames.
    #[must_use]
    pub fn count(mut self, count: u64) -> Self {
        self.count = count;
        self
    }

    /// Stands at one frame, or at a span of them, and marks them.
    #[must_use]
    pub fn on(mut self, span: FrameSpan) -> Self {
        self.first = Some(span.first);
        self.last = Some(span.last);
        self.marks.push(span);
        self
    }

    /// Stands between two frames; marks the later one.
    #[must_use]
    pub fn between(mut self, before: usize, after: usize) -> Self {
        self.first = Some(before);
        self.last = Some(after);
        self.marks.push(FrameSpan::one(after));
        self
    }

    /// How large it is: the largest of its figures as a multiple of its limit; 0 where none stands beside a
    /// limit.
    pub fn size(&self) -> f64 {
        let over = |figure: &Figure| match figure {
            Figure::Limited(Measured { value, limit: Some(limit) }) if *limit != 0.0 => {
                Some((value / limit).abs())
            }
            _ => None,
        };
        self.evidence.iter().filter_map(|(_, figure)| over(figure)).fold(0.0, f64::max)
    }

    /// Positions of the frames that show it in the clip, where its check's faults have that effect. A note, a
    /// caution and a fault that no frame shows have none.
    pub fn shown_at(&self, effect: ClipEffect) -> impl Iterator<Item = usize> {
        let parts = effect == ClipEffect::Parts;
        self.clip_marks(effect)
            .iter()
            .flat_map(move |span| span.first..=if parts { span.first } else { span.last })
    }

    /// Positions at which a clip cannot run on because of it, likewise.
    fn breaks(&self, effect: ClipEffect) -> impl Iterator<Item = usize> {
        // Behind the last spoilt frame a new part begins, and behind a way back; what stands between two
        // frames parts them once.
        let parts = effect == ClipEffect::Parts;
        let beyond = usize::from(effect == ClipEffect::Spoils);
        let ends = move |span: &FrameSpan| (parts && span.last > span.first).then_some(span.last + 1);
        let last = move |span: &FrameSpan| if parts { span.first } else { span.last + beyond };
        self.clip_marks(effect).iter().flat_map(move |span| (span.first..=last(span)).chain(ends(span)))
    }

    fn clip_marks(&self, effect: ClipEffect) -> &[FrameSpan] {
        let shows = matches!(effect, ClipEffect::Jolts | ClipEffect::Spoils | ClipEffect::Parts);
        if self.severity == Severity::Fault && shows { &self.marks } else { &[] }
    }

    /// Stands at a moment on the camera's clock.
    #[must_use]
    pub fn at(mut self, at: Option<CivilTime>) -> Self {
        self.at = at;
        self
    }

    /// With its cause.
    #[must_use]
    pub fn because(mut self, code: CauseCode, words: impl Into<String>) -> Self {
        self.cause = Some(Cause { code, words: words.into() });
        self
    }

    /// With one more figure.
    #[must_use]
    pub fn figure(mut self, key: &'static str, figure: Figure) -> Self {
        self.evidence.push((key, figure));
        self
    }
}

/// What a check answers. Only `Clear` counts as clear.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// It looked, and found nothing worth telling.
    Clear,
    /// It found something (notes included), in capture order.
    Found(Vec<Finding>),
    /// It could not look, and why.
    CannotJudge(String),
    /// The check itself failed; the audit went on without it.
    Broke(String),
}

/// What a check returns when it could look.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Opinion {
    /// What it found; empty means clear.
    pub findings: Vec<Finding>,
    /// Set where it turned out that it cannot judge after all, and why.
    pub cannot_judge: Option<String>,
    /// How many frames it looked at.
    pub looked_at: u64,
    /// How many it set aside, and why. With `looked_at` they add up to the folder.
    pub set_aside: Vec<(u64, String)>,
}

impl Opinion {
    /// It cannot judge, for this reason.
    pub fn cannot(reason: impl Into<String>) -> Self {
        Self { cannot_judge: Some(reason.into()), ..Self::default() }
    }
}

/// What a plan that lay with the frames keeps out of the call: findings that the limits without its own would
/// make of the same evidence, and that are not told, or told of less weight; and frames that it leaves out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tolerated {
    /// Faults that are less, or nothing.
    pub faults: usize,
    /// Cautions that are a note, or nothing.
    pub cautions: usize,
    /// True for those of its limits that alone let any of these pass, in the order of the plan's
    /// `Widened::ALL`; for all that it has where only several together do.
    pub by: [bool; 3],
    /// Frames before its `first` and after its `last`.
    pub left_out: usize,
}

impl Tolerated {
    /// True where there is anything.
    pub fn is_some(&self) -> bool {
        self.is_widened() || self.left_out > 0
    }

    /// True where a limit lets anything pass.
    pub fn is_widened(&self) -> bool {
        self.faults + self.cautions > 0
    }
}

/// A check's answer with what it is about.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// The check's text.
    pub text: &'static Text,
    /// Its limits as they were in force.
    pub limits: InForce,
    /// What it answered.
    pub answer: Answer,
    /// How many frames it looked at.
    pub looked_at: u64,
    /// How many it set aside, and why.
    pub set_aside: Vec<(u64, String)>,
    /// What a found plan's tolerances took from it.
    pub tolerated: Tolerated,
}

impl Judgement {
    /// The findings, none where it was clear or could not judge.
    pub fn findings(&self) -> &[Finding] {
        match &self.answer {
            Answer::Found(findings) => findings,
            _ => &[],
        }
    }
}
