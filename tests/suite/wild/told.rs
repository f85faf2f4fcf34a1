//! What an audit told of a card: each event at its place, and the account of frames and gaps. All that the
//! board reads of an audit is read here.

use super::card::{Card, Event, Role};
use lapseproof::audit::Audit;
use lapseproof::evidence::FrameState;
use lapseproof::evidence::timing::JoinKind;
use lapseproof::finding::{Answer, Finding, Severity};
use lapseproof::units::Figure;
use lapseproof::verdict::Call;

/// An audit beside the card that it is of.
pub struct Told<'a> {
    card: &'a Card,
    audit: &'a Audit,
    /// The card's shot at each position of the audit.
    shot_at: Vec<usize>,
    /// And back.
    position: Vec<Option<usize>>,
}

impl<'a> Told<'a> {
    /// Lays the audit beside the card.
    pub fn new(card: &'a Card, audit: &'a Audit) -> Self {
        let frames = &audit.evidence.frames;
        let paths: std::collections::HashMap<String, usize> =
            card.shots.iter().enumerate().map(|(at, s)| (super::card::path_of(s), at)).collect();
        let shot_at: Vec<usize> = (0..frames.len()).map(|at| paths[&frames.path_text(at)]).collect();
        let mut position = vec![None; card.shots.len()];
        for (at, shot) in shot_at.iter().enumerate() {
            position[*shot] = Some(at);
        }
        Self { card, audit, shot_at, position }
    }

    /// The call.
    pub fn call(&self) -> Call {
        self.audit.verdict.call
    }

    /// Reasons of the call, a line each.
    pub fn reasons(&self) -> Vec<String> {
        self.audit.verdict.reasons.iter().map(|r| format!("{}: {}", r.check, r.words)).collect()
    }

    fn findings(&self) -> impl Iterator<Item = &Finding> {
        self.audit.judgements.iter().flat_map(|j| j.findings())
    }

    /// Findings of these checks that stand between those frames, or on them, give or take `slack` frames.
    fn at<'b>(
        &'b self,
        checks: &'b [&'b str],
        before: usize,
        after: usize,
        slack: usize,
    ) -> impl Iterator<Item = &'b Finding> {
        let (before, after) = (self.position[before], self.position[after]);
        self.findings().filter(move |f| {
            let (Some(before), Some(after)) = (before, after) else { return false };
            let touches = |a: usize, b: usize| a <= after + slack && b + slack >= before;
            // A finding about the whole run names no place.
            let narrow = |a: usize, b: usize| b.abs_diff(a) <= before.abs_diff(after) + 2 * slack + 2;
            let own = matches!((f.first, f.last), (Some(a), Some(b)) if touches(a, b) && narrow(a, b));
            checks.contains(&f.check) && (own || f.marks.iter().any(|m| touches(m.first, m.last)))
        })
    }

    /// Is this event told at its place?
    pub fn tells(&self, event: &Event) -> bool {
        match *event {
            Event::Hole { before, after, slots } | Event::Absent { before, after, slots } => {
                self.tells_hole(before, after, slots)
            }
            Event::Stop { before, after, gap_s, from_s, to_s } => {
                self.tells_stop(before, after, gap_s, from_s, to_s)
            }
            Event::Rate { before, after, from_s, to_s } => self.tells_rate(before, after, from_s, to_s),
            Event::Clock { before, after, step_s } => {
                let stated =
                    |f: &Finding| figures(f).any(|v| (v.abs() - step_s.abs()).abs() < self.slack_s());
                // Set back by the very interval, a clock leaves the files of a frame too many: two truths,
                // the same files, and neither harms the clip.
                let by_one = self.card.timers.iter().any(|t| (t + step_s).abs() <= self.slack_s());
                let twin = by_one && self.tells(&Event::Surplus { at: after });
                twin || self.at(&["clock-step"], before, after, 0).any(stated)
            }
            Event::Late { at, .. } => {
                self.at(&["uneven-interval", "grid-slip", "missing-slot"], at, at, 1).next().is_some()
            }
            Event::Surplus { at } => {
                let own = self.position[at]
                    .is_some_and(|p| self.audit.evidence.frame(p).state() == FrameState::Surplus);
                own || self.at(&["surplus-frame", "duplicate-frame"], at, at, 2).next().is_some()
            }
            Event::Jump { before, after, .. } => {
                let checks = ["exposure-jump", "settings-change", "off-plan-exposure", "exposure-hunting"];
                self.at(&checks, before, after, 0).next().is_some()
            }
            Event::Short { .. } => self.weighty(&["short-run", "short-clip"]),
            Event::Damaged { at } => self.at(&["damaged-frame"], at, at, 0).next().is_some(),
            Event::Order => self.weighty(&["file-order"]),
            Event::Hidden { first, last } => {
                let weighs = |f: &Finding| f.severity > Severity::Note;
                self.at(&["obstructed-view", "blank-picture"], first, last, 1).any(weighs)
            }
            Event::Undecided { before, after } => {
                let checks = [
                    "clock-step",
                    "missing-slot",
                    "grid-slip",
                    "uneven-interval",
                    "interval-drift",
                    "short-run",
                ];
                self.at(&checks, before, after, 0).any(|f| f.severity > Severity::Note)
            }
            Event::Beside { before, after } => {
                let (Some(a), Some(b)) = (self.position[before], self.position[after]) else { return false };
                let outside = |at: usize| self.audit.evidence.frame(at).is_outside();
                let parted = outside(a) != outside(b);
                let weighs = |f: &Finding| f.severity > Severity::Note;
                let checks = ["grid-slip", "missing-slot", "clock-step", "uneven-interval", "interval-drift"];
                parted || self.at(&checks, before, after, 1).any(weighs)
            }
            Event::Thin { at } => self.at(&["missing-slot"], at, at, 5).next().is_some(),
        }
    }

    fn weighty(&self, checks: &[&str]) -> bool {
        self.findings().any(|f| checks.contains(&f.check) && f.severity > Severity::Note)
    }

    /// How far a stated time may lie from the true one, s.
    fn slack_s(&self) -> f64 {
        self.card.clock.doubt_s() + 0.05
    }

    /// The slot count that the audit gives the gap between two frames that it takes for neighbours in the
    /// run, with its doubt.
    fn tells_hole(&self, before: usize, after: usize, slots: u64) -> bool {
        let (Some(a), Some(b)) = (self.position[before], self.position[after]) else { return false };
        let timing = &self.audit.evidence.timing;
        let spoken = self.findings().any(|f| f.check == "missing-slot" && f.severity > Severity::Note);
        let holds =
            |range: Option<(u64, u64)>| range.is_some_and(|(low, high)| low <= slots && slots <= high);
        let as_hole = timing
            .holes
            .iter()
            // Bracket sets: anywhere from the first exposure of a set to the first of the next.
            .any(|h| a <= h.before && h.after <= b && (h.slots == slots || holds(h.doubt)));
        let gap_s = self.card.shots[after].open_s - self.card.shots[before].open_s;
        let Role::Run { timer, .. } = self.card.shots[before].role else { return false };
        let interval_s = self.card.timers[timer];
        // In time the length may be told as well, if it leaves no other count.
        let slack_s = self.slack_s().min(0.45 * interval_s);
        as_hole && spoken || self.doubts(a, b, slots) || self.states(a, b, &[gap_s - interval_s], slack_s)
    }

    /// A clock that was changed, told at that place with the hole as its rival: both are told, and it weighs.
    fn doubts(&self, a: usize, b: usize, slots: u64) -> bool {
        self.findings().any(|f| {
            let range = f.doubt.as_ref().is_some_and(|d| (d.count_low..=d.count_high).contains(&slots));
            (f.first, f.last) == (Some(a), Some(b)) && f.severity > Severity::Note && range
        })
    }

    /// A finding between these two frames, no mere note, that states one of these times.
    fn states(&self, a: usize, b: usize, beyond_s: &[f64], slack_s: f64) -> bool {
        let checks = ["grid-slip", "missing-slot", "clock-step", "uneven-interval", "interval-drift"];
        let near = |v: f64| beyond_s.iter().any(|true_s| (v - true_s).abs() <= slack_s);
        self.findings()
            .filter(|f| (f.first, f.last) == (Some(a), Some(b)) && checks.contains(&f.check))
            .any(|f| f.severity > Severity::Note && figures(f).any(near))
    }

    /// A finding between these two frames, no mere note, that states the stop's length: as a time, or as
    /// slots.
    fn tells_stop(&self, before: usize, after: usize, gap_s: f64, from_s: f64, to_s: f64) -> bool {
        let (Some(a), Some(b)) = (self.position[before], self.position[after]) else { return false };
        let slack_s = self.slack_s() + 0.01 * from_s.max(to_s);
        let stated = self.states(a, b, &[gap_s - from_s, gap_s - to_s], slack_s);
        let as_hole = self.audit.evidence.timing.holes.iter().any(|h| {
            // In slots of either timer a stop is told to the nearest one.
            // The interval itself is known to a crystal's hundred parts in a million.
            let near =
                |n: u64, t: f64| ((n + 1) as f64 * t - gap_s).abs() <= 0.5 * t + slack_s + 1e-4 * gap_s;
            let whole = |n: u64| near(n, from_s) || near(n, to_s);
            let within = h.doubt.is_some_and(|(low, high)| (low..=high.min(low + 30_000)).any(whole));
            // Over an hour the interval's own doubt makes slots of it; the time itself is told.
            let in_time = (h.gap_s - gap_s).abs() <= slack_s
                && [from_s, to_s].iter().any(|t| (h.slots as f64 * t / gap_s - 1.0).abs() < 0.01);
            (h.before, h.after) == (a, b) && (whole(h.slots) || within || h.slots > 100 && in_time)
        });
        // A long rest before quite another interval may as well part two jobs: then the other one lies
        // outside, and the call says so.
        let change = (to_s / from_s).max(from_s / to_s);
        let outside = |at: usize| self.audit.evidence.frame(at).is_outside();
        let parted = outside(a) != outside(b);
        let two_jobs = gap_s > 1800.0 && change > 1.3 && parted && self.call() != Call::Clear;
        // Many stops are drawn together in one finding; each is a join, with its length, in the JSON and the
        // timeline.
        let drawn = |f: &Finding| {
            let over = matches!((f.first, f.last), (Some(first), Some(last)) if first <= a && b <= last);
            f.check == "grid-slip" && f.severity > Severity::Note && over
        };
        let joined = self.audit.evidence.timing.joins.iter().any(|j| {
            let near = |s: f64| [from_s, to_s].iter().any(|t| (gap_s - t - s).abs() <= slack_s);
            (j.before, j.after) == (a, b) && j.stood_s().is_some_and(near)
        });
        stated || as_hole || two_jobs || joined && self.findings().any(drawn)
    }

    /// A new interval at that place: as a join whose range holds it, or as a finding there.
    fn tells_rate(&self, before: usize, after: usize, from_s: f64, to_s: f64) -> bool {
        let (Some(a), Some(b)) = (self.position[before], self.position[after]) else { return false };
        // Frames until both lines lie apart by more than the stamps' doubt.
        let blur = (self.card.clock.doubt_s() / (from_s - to_s).abs()).ceil() as usize + 2;
        let join = self.audit.evidence.timing.joins.iter().any(|j| match j.kind {
            JoinKind::Rate { earliest, latest, .. } => earliest <= b + blur && latest + blur >= a,
            _ => j.before <= b + blur && j.after + blur >= a,
        });
        join || self.at(&["uneven-interval", "grid-slip"], before, after, blur).next().is_some()
            || self.as_every_kth(a, b, from_s, to_s)
    }

    /// A timer set to so many times its interval, on its own grid, leaves the files of one that fired in
    /// every so manieth slot alone: told as a hole before each of the next frames, it is told as well as it
    /// can be.
    fn as_every_kth(&self, before: usize, after: usize, from_s: f64, to_s: f64) -> bool {
        let times = (to_s / from_s).round();
        let holes = &self.audit.evidence.timing.holes;
        let here = |a: usize, b: usize| {
            holes.iter().any(|h| (h.before, h.after) == (a, b) && (h.slots + 1) as f64 % times == 0.0)
        };
        times >= 2.0
            && (to_s / from_s - times).abs() < 1e-3 * times
            && (before + 1 == after)
            && (after..after + 3).all(|at| here(at, at + 1))
    }

    /// Whatever is wrong with the account: each frame in one state, each long gap in one finding. Empty where
    /// it adds up.
    pub fn account(&self) -> Vec<String> {
        let mut out = Vec::new();
        let evidence = &self.audit.evidence;
        if evidence.len() != evidence.frames.len() {
            out.push(format!("{} states of {} frames", evidence.len(), evidence.frames.len()));
            return out;
        }
        for frame in evidence.all() {
            let (at, state) = (frame.at(), frame.state());
            let spans = evidence.outside.iter().filter(|o| o.span.first <= at && at <= o.span.last).count();
            if spans != usize::from(frame.is_outside()) {
                out.push(format!("frame {at} is {state:?} and in {spans} spans outside"));
            }
        }
        let no_pace = evidence.timing.cadence.is_none();
        if !no_pace {
            self.gaps(&mut out);
        }
        out
    }

    /// Gaps longer than 1.5 times what is usual around them.
    fn gaps(&self, out: &mut Vec<String>) {
        let evidence = &self.audit.evidence;
        let timing = &evidence.timing;
        // The first exposure of each slot.
        let slotted = |shot: &super::card::Shot| !shot.headless && shot.role != Role::Extra;
        let own: Vec<usize> = (0..self.shot_at.len())
            .filter(|p| !evidence.frame(*p).is_outside() && slotted(&self.card.shots[self.shot_at[*p]]))
            .collect();
        let stamps: Vec<f64> = own.iter().map(|p| self.card.stamp(self.shot_at[*p]).seconds()).collect();
        let steps: Vec<f64> = stamps.windows(2).map(|w| w[1] - w[0]).collect();
        for (n, step) in steps.iter().enumerate() {
            let near = |range: std::ops::Range<usize>| median(&steps[range]);
            let beside =
                near(n.saturating_sub(5)..n).max(near((n + 1).min(steps.len())..(n + 6).min(steps.len())));
            if beside <= 0.0 || *step <= 1.5 * beside + self.card.clock.doubt_s() {
                continue;
            }
            // Twice the same step in a row is an interval, however short the stretch is.
            if n > 0 && (*step - steps[n - 1]).abs() <= self.card.clock.doubt_s() {
                continue;
            }
            let (a, b) = (own[n], own[n + 1]);
            // A frame of the run without a stamp fills the slot.
            if (a + 1..b).any(|p| self.card.shots[self.shot_at[p]].headless) {
                continue;
            }
            let holes = timing.holes.iter().filter(|h| h.before < b && h.after > a).count();
            // A night may have a missing morning beside it.
            let here = |j: &&lapseproof::evidence::timing::Join| {
                j.before <= b.saturating_sub(1).max(a) && j.after > a
            };
            let night = timing.joins.iter().filter(here).any(|j| matches!(j.kind, JoinKind::Night));
            // A new interval alone is no account of a gap.
            let nothing = |j: &lapseproof::evidence::timing::Join| {
                matches!(j.kind, JoinKind::Night | JoinKind::Rate { pause_s: None, .. })
            };
            let other = |j: &&lapseproof::evidence::timing::Join| here(j) && !nothing(j);
            let joins = timing.joins.iter().filter(other).count();
            let late = self
                .findings()
                .any(|f| f.check == "uneven-interval" && f.marks.iter().any(|m| m.first <= b && m.last >= a));
            if holes + joins > 1 || holes + joins == 0 && !late && !night {
                out.push(format!("the gap of {step:.2} s after frame {a}: {holes} holes, {joins} joins"));
            }
        }
    }

    /// What was invented where no timer fired: holes told as certain, an interval shorter than the exposures,
    /// an offset longer than its gap.
    pub fn invented(&self) -> Vec<String> {
        let mut out = Vec::new();
        let evidence = &self.audit.evidence;
        let timing = &evidence.timing;
        let certain: u64 = timing.holes.iter().filter(|h| h.doubt.is_none()).map(|h| h.slots).sum();
        if certain > 0 {
            out.push(format!("{certain} slots missing for certain"));
        }
        if let Some(cadence) = &timing.cadence {
            let longest = self.card.shots.iter().map(|s| s.exposure_s).fold(0.0, f64::max);
            if cadence.interval_s < longest {
                out.push(format!("an interval of {:.3} s, exposures of {longest:.3} s", cadence.interval_s));
            }
            if cadence.low_s < 0.0 {
                out.push(format!("a lower bound of {:.3} s", cadence.low_s));
            }
        }
        for frame in evidence.all() {
            let (p, Some(offset)) = (frame.at(), frame.offset_s()) else { continue };
            let at = |p: usize| self.card.stamp(self.shot_at[p]).seconds();
            let left = if p > 0 { at(p) - at(p - 1) } else { f64::INFINITY };
            let right = if p + 1 < self.shot_at.len() { at(p + 1) - at(p) } else { f64::INFINITY };
            let gap = left.max(right);
            if offset.abs() > gap + self.card.clock.doubt_s() {
                out.push(format!("frame {p} is {:.2} s off in a gap of {gap:.2} s", offset.abs()));
                break;
            }
        }
        let outside = evidence.count(FrameState::Outside);
        if 10 * outside > self.shot_at.len() as u64 {
            out.push(format!("{outside} of {} frames outside", self.shot_at.len()));
        }
        out
    }

    /// Everything that the audit says, for whoever looks at one card.
    pub fn print(&self) {
        let timing = &self.audit.evidence.timing;
        for judgement in &self.audit.judgements {
            match &judgement.answer {
                Answer::CannotJudge(why) => println!("  {} cannot judge: {why}", judgement.text.id),
                Answer::Broke(why) => println!("  {} BROKE: {why}", judgement.text.id),
                Answer::Found(all) => {
                    for f in all {
                        println!(
                            "  {} {} x{} [{:?}..{:?}] {}",
                            f.severity.word(),
                            f.check,
                            f.count,
                            f.first,
                            f.last,
                            f.message
                        );
                        if let Some(doubt) = &f.doubt {
                            println!("     doubt {}..{}: {}", doubt.count_low, doubt.count_high, doubt.words);
                        }
                    }
                }
                Answer::Clear => {}
            }
        }
        println!("  cadence {:?} no grid {:?}", timing.cadence, timing.no_grid);
        for h in &timing.holes {
            println!("  hole {}..{}: {} {:?} {:?}", h.before, h.after, h.slots, h.cause, h.doubt);
        }
        for j in &timing.joins {
            println!(
                "  join {}..{}: {:.3} s {:?} or missing {:?}",
                j.before, j.after, j.gap_s, j.kind, j.or_missing
            );
        }
        for o in &self.audit.evidence.outside {
            println!("  outside {}..={}: {}", o.span.first, o.span.last, o.why);
        }
        for line in &self.audit.verdict.timeline {
            println!("  | {line}");
        }
    }

    /// Where the card's shot stands in the audit.
    pub fn place(&self, shot: usize) -> Option<usize> {
        self.position[shot]
    }
}

/// Every number of a finding.
fn figures(finding: &Finding) -> impl Iterator<Item = f64> {
    finding.evidence.iter().filter(|(key, _)| key.ends_with("_s")).filter_map(|(_, figure)| match figure {
        Figure::Number(v) => Some(*v),
        Figure::Limited(m) => Some(m.value),
        Figure::Count(n) => Some(*n as f64),
        _ => None,
    })
}

fn median(of: &[f64]) -> f64 {
    let mut all = of.to_vec();
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(0.0)
}
