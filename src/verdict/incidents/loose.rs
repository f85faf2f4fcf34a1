//! Findings that no rule accounts for, gathered into accidents.

use crate::checks::exposure::exposure_hunting;
use crate::finding::{About, CauseCode, Finding, Judgement};
use crate::verdict::causes::Which;
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// What names an accident: a check, and a cause where the finding has one.
pub(super) type Name = (&'static str, Option<CauseCode>);

/// A finding that no rule accounts for.
#[derive(Clone, Copy)]
pub(super) struct Loose<'a> {
    pub which: Which,
    pub judgement: &'a Judgement,
    pub finding: &'a Finding,
}

impl Loose<'_> {
    pub(super) fn name(&self) -> Name {
        (self.which.check, self.finding.cause.as_ref().map(|c| c.code))
    }

    /// The first frame that shows it: of what stands between two frames, the one behind.
    fn moment(&self) -> Option<usize> {
        let (first, last) = self.finding.first.zip(self.finding.last)?;
        Some(if last == first + 1 { last } else { first })
    }

    fn hunts(&self) -> bool {
        self.which.check == exposure_hunting::CHECK.text.id
    }
}

/// The accidents: what begins at one frame and is about the same thing is one, as a setting that jumps is off
/// the plan from there on. So are the steps of an exposure that hunts. Those that the same check names are
/// told together. The findings that name an accident come first in it.
pub(super) fn gathered<'a>(loose: &[Loose<'a>]) -> Vec<Vec<Loose<'a>>> {
    let mut hunts: Vec<(usize, usize)> =
        loose.iter().filter(|l| l.hunts()).filter_map(|l| l.finding.first.zip(l.finding.last)).collect();
    hunts.sort_unstable();
    let mut moments: BTreeMap<(About, Place), Vec<usize>> = BTreeMap::new();
    for (nth, one) in loose.iter().enumerate() {
        let about = one.judgement.text.traits.about;
        let within = hunting(&hunts, one.finding).filter(|_| about == About::Light);
        let place = within.or_else(|| one.moment()).map_or(Place::Nowhere(nth), Place::At);
        moments.entry((about, place)).or_default().push(nth);
    }
    let mut names = vec![None; loose.len()];
    for of_moment in moments.values() {
        // Of those that weigh the same, hunting tells more than its steps, and then the first check speaks.
        let weight = |nth: &&usize| (loose[**nth].finding.severity, loose[**nth].hunts(), Reverse(**nth));
        let name = of_moment.iter().max_by_key(weight).map(|nth| loose[*nth].name());
        of_moment.iter().for_each(|nth| names[*nth] = name);
    }
    let mut accidents: Vec<(Option<Name>, Vec<Loose<'a>>)> = Vec::new();
    for (one, name) in loose.iter().zip(names) {
        match accidents.iter_mut().find(|a| a.0 == name) {
            Some(same) => same.1.push(*one),
            None => accidents.push((name, vec![*one])),
        }
    }
    for (name, of) in &mut accidents {
        of.sort_by_key(|l| Some(l.name()) != *name);
    }
    accidents.into_iter().map(|a| a.1).collect()
}

/// Where a finding begins.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Place {
    At(usize),
    /// It names no frame: each stands for itself.
    Nowhere(usize),
}

/// Where the exposure begins to hunt of which that finding is a part.
fn hunting(hunts: &[(usize, usize)], finding: &Finding) -> Option<usize> {
    let (first, last) = finding.first.zip(finding.last)?;
    let before = hunts.partition_point(|h| h.0 <= first + 1);
    let hunt = hunts.get(before.checked_sub(1)?)?;
    (last <= hunt.1 + 1).then_some(hunt.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::Check;
    use crate::checks::exposure::{exposure_jump, off_plan_exposure};
    use crate::checks::picture::luminance_flicker;
    use crate::checks::rig::uneven_move;
    use crate::finding::{Answer, InForce, Severity, Tolerated};

    /// The accidents of findings at those spans, each by the checks of its findings.
    fn told(all: &[(&Check, usize, usize)]) -> Vec<Vec<&'static str>> {
        let judged = |&(check, first, last): &(&Check, usize, usize)| Judgement {
            text: check.text,
            limits: InForce::new(&[], None),
            answer: Answer::Found(vec![
                Finding::new(check.text.id, Severity::Fault, "").between(first, last),
            ]),
            looked_at: 0,
            set_aside: Vec::new(),
            tolerated: Tolerated::default(),
        };
        let judgements: Vec<Judgement> = all.iter().map(judged).collect();
        let loose: Vec<Loose<'_>> = judgements
            .iter()
            .map(|judgement| {
                let which = Which { check: judgement.text.id, nth: 0 };
                Loose { which, judgement, finding: &judgement.findings()[0] }
            })
            .collect();
        gathered(&loose).iter().map(|of| of.iter().map(|l| l.which.check).collect()).collect()
    }

    #[test]
    fn a_setting_that_jumps_is_off_the_plan_from_there_on() {
        let all: [(&Check, usize, usize); 3] = [
            (&exposure_jump::CHECK, 29, 30),
            (&off_plan_exposure::CHECK, 30, 99),
            (&off_plan_exposure::CHECK, 120, 130),
        ];
        let joined = vec!["exposure-jump", "off-plan-exposure"];
        assert_eq!(told(&all), [joined, vec!["off-plan-exposure"]]);
    }

    #[test]
    fn what_is_true_of_a_whole_run_is_one_accident_only_where_it_is_about_one_thing() {
        let all = [(&off_plan_exposure::CHECK, 0, 99), (&luminance_flicker::CHECK, 0, 99)];
        assert_eq!(told(&all), [vec!["off-plan-exposure", "luminance-flicker"]]);
        let all = [(&off_plan_exposure::CHECK, 0, 99), (&uneven_move::CHECK, 0, 99)];
        assert_eq!(told(&all), [vec!["off-plan-exposure"], vec!["uneven-move"]]);
    }

    #[test]
    fn the_steps_of_an_exposure_that_hunts_are_its_own() {
        let all: [(&Check, usize, usize); 3] = [
            (&exposure_jump::CHECK, 44, 45),
            (&exposure_jump::CHECK, 70, 71),
            (&exposure_hunting::CHECK, 40, 50),
        ];
        let hunts = vec!["exposure-hunting", "exposure-jump"];
        assert_eq!(told(&all), [hunts, vec!["exposure-jump"]]);
    }
}
