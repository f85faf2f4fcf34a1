//! One check, one file. Each is a question put to the evidence; `CHECKS` is the list of them, kept equal to
//! the files by a test.
//!
//! The questions stand in `files/`, `timing/`, `exposure/`, `picture/` and `rig/`; the files beside this one
//! are what they share.
//!
//! README.md beside this file tells how it works.

mod accepted;
mod ask;
mod check;
mod common;
mod daylight;
pub mod exposure;
pub mod files;
mod followed;
mod holes;
mod in_doubt;
mod lens;
mod misfit;
mod needs;
mod patterns;
pub mod picture;
pub mod rig;
mod shows;
mod slots;
mod steps;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod testing_moves;
pub mod timing;
mod tolerated;
mod whole;

use crate::evidence::Sequence;
use crate::finding::{Answer, InForce, Judgement, Tolerated};
use crate::plan::Plan;
use crate::schedule::Schedule;

use ask::{opinion_of, weighed};
pub use check::{Case, Check};
pub use needs::Need;
use needs::lacking;
use tolerated::{left_out, tolerated};

/// Every check, in the order in which they are told.
pub const CHECKS: &[&Check] = &[
    &timing::missing_slot::CHECK,
    &timing::surplus_frame::CHECK,
    &timing::interval_drift::CHECK,
    &timing::uneven_interval::CHECK,
    &timing::grid_slip::CHECK,
    &timing::clock_step::CHECK,
    &files::stamp_missing::CHECK,
    &files::number_gap::CHECK,
    &files::file_order::CHECK,
    &files::duplicate_frame::CHECK,
    &files::damaged_frame::CHECK,
    &timing::short_run::CHECK,
    &rig::shutter_overrun::CHECK,
    &rig::move_clash::CHECK,
    &exposure::exposure_jump::CHECK,
    &exposure::exposure_hunting::CHECK,
    &exposure::off_plan_exposure::CHECK,
    &exposure::settings_change::CHECK,
    &rig::stalled_move::CHECK,
    &rig::uneven_move::CHECK,
    &picture::luminance_flicker::CHECK,
    &picture::mains_banding::CHECK,
    &picture::flash_risk::CHECK,
    &picture::blank_picture::CHECK,
    &picture::obstructed_view::CHECK,
    &picture::soft_frame::CHECK,
    &rig::short_clip::CHECK,
    &rig::power_margin::CHECK,
    &rig::card_space::CHECK,
];

/// Puts every check to the evidence; the answers are in the order of the list. A check that panics is
/// answered *broke*; the others go on.
pub fn judge_all(plan: &Plan, evidence: &Sequence, schedule: &Schedule) -> Vec<Judgement> {
    judge_each(CHECKS, (plan, evidence, schedule))
}

/// Those that ask for the others' answers are put last, wherever they stand.
fn judge_each(checks: &[&Check], asked: (&Plan, &Sequence, &Schedule)) -> Vec<Judgement> {
    let (last, first): (Vec<usize>, Vec<usize>) =
        (0..checks.len()).partition(|at| checks[*at].needs.contains(&Need::Answers));
    let answers: Vec<Judgement> = first.iter().map(|at| judge_with(checks[*at], asked, &[])).collect();
    let on_them: Vec<Judgement> = last.iter().map(|at| judge_with(checks[*at], asked, &answers)).collect();
    let mut all: Vec<(usize, Judgement)> =
        first.into_iter().zip(answers).chain(last.into_iter().zip(on_them)).collect();
    all.sort_by_key(|(at, _)| *at);
    all.into_iter().map(|(_, judgement)| judgement).collect()
}

/// Puts one check to the evidence, with no other's answer.
pub fn judge_one(check: &Check, plan: &Plan, evidence: &Sequence) -> Judgement {
    judge_with(check, (plan, evidence, &Schedule::of(plan, evidence)), &[])
}

/// Why no frame was left to look at.
fn nothing_left(set_aside: &[(u64, String)]) -> String {
    let reasons: Vec<&str> = set_aside.iter().filter(|a| a.0 > 0).map(|a| a.1.as_str()).collect();
    match reasons.is_empty() {
        true => "there was nothing to check".into(),
        false => format!("no frame is left to check ({})", reasons.join("; ")),
    }
}

fn judge_with(
    check: &Check,
    (plan, evidence, schedule): (&Plan, &Sequence, &Schedule),
    answers: &[Judgement],
) -> Judgement {
    let limits = InForce::new(check.limits, plan.tolerances.get(check.text.id));
    let all = evidence.len() as u64;
    if let Some(reason) = check.needs.iter().find_map(|need| lacking(*need, plan, evidence)) {
        let set_aside = vec![(all, reason.clone())];
        return Judgement {
            text: check.text,
            limits,
            answer: Answer::CannotJudge(reason),
            looked_at: 0,
            set_aside,
            tolerated: Tolerated { left_out: left_out(check, plan, evidence), ..Tolerated::default() },
        };
    }
    match opinion_of(check, &Case { plan, evidence, schedule, limits: &limits, answers }) {
        Ok(opinion) => {
            let answer = match (opinion.findings.is_empty(), opinion.cannot_judge) {
                (_, Some(reason)) => Answer::CannotJudge(reason),
                // Where nothing could be looked at nothing is clear.
                (true, None) if opinion.looked_at == 0 && all > 0 => {
                    Answer::CannotJudge(nothing_left(&opinion.set_aside))
                }
                (true, None) => Answer::Clear,
                // Who asks for this answer takes what was agreed to as good.
                (false, None) => Answer::Found(weighed(plan, evidence, opinion.findings)),
            };
            let tolerated = tolerated(check, plan, evidence, answers, &answer);
            let set_aside = match &answer {
                Answer::CannotJudge(reason) if opinion.looked_at == 0 && opinion.set_aside.is_empty() => {
                    vec![(all, reason.clone())]
                }
                _ => opinion.set_aside,
            };
            Judgement { text: check.text, limits, answer, looked_at: opinion.looked_at, set_aside, tolerated }
        }
        Err(what) => {
            let set_aside = vec![(all, "the check failed".into())];
            let tolerated = Tolerated { left_out: left_out(check, plan, evidence), ..Tolerated::default() };
            let answer = Answer::Broke(what);
            Judgement { text: check.text, limits, answer, looked_at: 0, set_aside, tolerated }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::testing::{Sketch, every};
    use super::*;
    use crate::finding::{LimitKey, Opinion};
    use crate::plan::{Accepted, DeliveryPlan};

    /// Whatever the folder holds, the counts of every check add up to it and none breaks.
    #[test]
    fn counts_add_up_on_every_folder() {
        let plan = Plan { interval_s: Some(10.0), frames: Some(30), ..Plan::default() };
        for evidence in [
            Sketch::steady(0, 10.0).evidence(),
            Sketch::steady(1, 10.0).evidence(),
            Sketch::steady(30, 10.0).without(&[5, 6], false).evidence(),
            Sketch::steady(30, 10.0).loose("loose").evidence(),
            Sketch::steady(30, 10.0).state(0..30, crate::evidence::FrameState::Outside).evidence(),
        ] {
            for judgement in judge_all(&plan, &evidence, &Schedule::of(&plan, &evidence)) {
                let aside: u64 = judgement.set_aside.iter().map(|(n, _)| n).sum();
                let id = judgement.text.id;
                assert_eq!(judgement.looked_at + aside, evidence.len() as u64, "{id}");
                assert!(!matches!(judgement.answer, Answer::Broke(_)), "{id}: {:?}", judgement.answer);
            }
        }
    }

    #[test]
    fn no_answer_depends_on_the_place_in_the_list() {
        let accepted = Accepted {
            check: "missing-slot".into(),
            at: None,
            file: None,
            count: None,
            reason: "agreed".into(),
        };
        let delivery = DeliveryPlan { fps: Some(25.0), length_s: Some(2.0), patch_up_to: Some(0) };
        let plan = Plan { accepted: vec![accepted], delivery, ..every(10.0) };
        let evidence = Sketch::steady(60, 10.0).without(&[20, 40], false).evidence();
        let schedule = Schedule::of(&plan, &evidence);
        let told = |judgements: Vec<Judgement>| {
            let mut all: Vec<String> =
                judgements.iter().map(|j| format!("{}: {:?}", j.text.id, j.answer)).collect();
            all.sort();
            all
        };
        let usual = told(judge_all(&plan, &evidence, &schedule));
        let mut other: Vec<&Check> = CHECKS.to_vec();
        for _ in 0..CHECKS.len() {
            other.rotate_left(1);
            assert_eq!(told(judge_each(&other, (&plan, &evidence, &schedule))), usual);
        }
        other.reverse();
        assert_eq!(told(judge_each(&other, (&plan, &evidence, &schedule))), usual);
    }

    #[test]
    fn a_clean_run_is_clear_and_one_that_breaks_is_told() {
        let evidence = Sketch::steady(30, 10.0).evidence();
        let plan = Plan { interval_s: Some(10.0), frames: Some(30), ..Plan::default() };
        for judgement in judge_all(&plan, &evidence, &Schedule::of(&plan, &evidence)) {
            let silent = matches!(judgement.answer, Answer::Clear | Answer::CannotJudge(_));
            assert!(silent, "{}: {:?}", judgement.text.id, judgement.answer);
        }
        const BREAKS: Check = Check {
            judge: |case| Opinion::cannot(case.limits.get(LimitKey::new("nought")).key.name()),
            ..*CHECKS[0]
        };
        let judgement = judge_one(&BREAKS, &plan, &evidence);
        assert_eq!(judgement.answer, Answer::Broke("no limit named nought is declared".into()));
        assert_eq!(judgement.set_aside, [(30, "the check failed".to_owned())]);
    }
}
