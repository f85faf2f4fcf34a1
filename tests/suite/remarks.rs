//! What `plan` says of one shoot: no two of its remarks contradict each other, and no absurd figure is
//! planned.

use crate::shoots::known;
use crate::support::cases::tried;
use lapseproof::outputs::shoot::{refused, text};
use lapseproof::plan::forms;
use lapseproof::plan::shoot::{
    Known, Neighbour, Ruling, Shoot, Side, State, Subject, Unsolved, beside, solve,
};
use lapseproof::plan::{CardPlan, DeliveryPlan, ExposurePlan, Light, Plan, Planned, RigKind, RigPlan};
use proptest::prelude::*;

/// Times are told in four figures, and from a minute on in whole seconds.
const TOLD: f64 = 0.01;

/// The words between two others; `None` where they do not stand there.
fn between<'a>(words: &'a str, before: &str, after: &str) -> Option<&'a str> {
    let (_, rest) = words.split_once(before)?;
    Some(rest.split_once(after)?.0)
}

/// From which interval or wait on a remark says that it works, s.
fn claimed_s(ruling: &Ruling) -> Option<f64> {
    let said = between(&ruling.words, "every interval from ", " on ")
        .or_else(|| between(&ruling.words, "every wait from ", " on "))?;
    Some(forms::duration(said).expect("a time as it is told"))
}

/// What a remark says is planned instead, s.
fn planned_s(ruling: &Ruling) -> Option<f64> {
    let said = between(&ruling.words, ", and ", " are planned")?;
    Some(forms::duration(said).expect("a time as it is told"))
}

/// Every remark on a shoot against every other that speaks of the same.
fn agrees(shoot: &Shoot, others: &[Neighbour]) -> Result<(), TestCaseError> {
    let (plan, rulings) = (&shoot.plan, &shoot.rulings.0);
    let paced_s = plan.rig.wait_s.or(plan.interval_s).expect("an interval");
    let of = |subject: Subject| rulings.iter().find(|r| r.subject == subject);
    let timed = || rulings.iter().filter(|r| matches!(r.subject, Subject::Camera | Subject::Rig));
    for ruling in timed() {
        let Some(claim_s) = claimed_s(ruling) else { continue };
        // What works stands at or past what is said to work; what is tight or fails stands before it.
        match ruling.state {
            State::Works => prop_assert!(claim_s <= paced_s * (1.0 + TOLD), "{} {paced_s}", ruling.words),
            _ => prop_assert!(claim_s >= paced_s * (1.0 - TOLD), "{} {paced_s}", ruling.words),
        }
        let short = planned_s(ruling);
        prop_assert!(short.is_none_or(|s| s < claim_s), "{}", ruling.words);
        prop_assert!(short.is_none() || ruling.state > State::Works, "{}", ruling.words);
        // The camera needs as much beside: what works there is not shorter than what is said to be needed.
        for other in others.iter().filter(|o| matches!(o.side, Side::Shorter | Side::Longer)) {
            let Some(other) = other.shoot.as_ref().filter(|_| ruling.subject == Subject::Camera) else {
                continue;
            };
            if other.plan.exposure.shutter_s == plan.exposure.shutter_s {
                let s = other.plan.rig.wait_s.or(other.plan.interval_s).expect("an interval");
                prop_assert!(s >= claim_s * (1.0 - TOLD), "{} {s}", ruling.words);
            }
        }
    }
    // The room for an exposure against what is said of the exposure that is planned.
    let told = text::page(shoot, others, false);
    if let (Some(Planned::Fixed(mark)), false) = (plan.exposure.shutter_s, told.contains("no speed is said"))
    {
        let short = timed().any(|r| r.state > State::Works);
        if !told.contains("room       any exposure") {
            let fits = shoot.figures.longest_mark_s.is_some_and(|most| mark <= most * (1.0 + 1e-9));
            prop_assert_eq!(fits, !short, "{}", told);
        }
    }
    // A mark that the lamps leave alone and that has no room is not recommended as it stands.
    if let Some(words) = of(Subject::Lamps).map(|r| &r.words).filter(|w| w.contains("leaves alone is ")) {
        let mark =
            between(words, "leaves alone is ", ".").or_else(|| between(words, "leaves alone is ", ","));
        let mark = mark.and_then(|m| m.split(',').next()).expect("a mark");
        let mark = forms::shutter(mark).expect("a mark");
        let fits = shoot.figures.longest_mark_s.is_some_and(|most| mark <= most * (1.0 + 1e-9));
        prop_assert_eq!(fits, !words.contains("takes a longer interval"), "{}", words);
    }
    // Frames to spare are advised where rail and card hold them.
    if let Some(more) = of(Subject::Clip).and_then(|r| between(&r.words, "frames; ", " would leave")) {
        let more: u64 = more.parse().expect("a number");
        let card = plan.card.frames_held().map(|n| n / u64::from(plan.bracket.unwrap_or(1)));
        prop_assert!(card.is_none_or(|most| more <= most), "{}", told);
        let rail = of(Subject::Rail).and_then(|r| between(&r.words, ": ", " frames are the most"));
        prop_assert!(rail.is_none_or(|most| more <= most.parse().expect("a number")), "{}", told);
    }
    // Where no longer interval works although time is short, something else has to be named.
    let longer = others.iter().find(|o| o.side == Side::Longer && o.shoot.is_none());
    if let (Some(longer), true) = (longer, timed().any(|r| r.state > State::Works)) {
        prop_assert!(longer.words != "No longer interval works.", "{}", told);
    }
    Ok(())
}

proptest! {
    #![proptest_config(tried(1500))]

    /// Whatever is known of a shoot, its remarks do not contradict each other.
    #[test]
    fn no_two_remarks_contradict_each_other(known in known()) {
        let Ok(shoot) = solve(&known) else { return Ok(()) };
        if !shoot.plan.parts.is_empty() {
            return Ok(());
        }
        agrees(&shoot, &beside(&known, &shoot))?;
    }
}

/// The words of a shoot whose figures are asked about.
fn asked(plan: Plan, event_s: Option<f64>) -> String {
    let why = solve(&Known { plan, event_s }).expect_err("it is asked about");
    assert!(matches!(why, Unsolved::Absurd(_)), "{why:?}");
    // As one line, however it is wrapped.
    refused(&why).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// An event of 2 s, an interval of 4 ms, a clip as long as its event: a slip of a unit, or two swapped.
#[test]
fn absurd_figures_are_asked_about() {
    let every = |s| Plan { interval_s: Some(s), ..Plan::default() };
    assert!(asked(every(0.004), Some(7200.0)).contains("250 frames a second"));
    assert!(asked(Plan { frames: Some(10), ..Plan::default() }, Some(2.0)).contains("\"2 min\" or \"2 h\""));
    let delivery = DeliveryPlan { fps: Some(25.0), length_s: Some(7200.0), ..DeliveryPlan::default() };
    assert!(asked(Plan { delivery, ..Plan::default() }, Some(20.0)).contains("swapped"));
}

/// A set of three about 8 s takes 4 + 8 + 16 s and more: 14 s have no room for 8 s, and do not say so.
/// Under lamps the mark that they leave alone may be longer than there is room for. A card of 520 frames
/// holds no 550.
#[test]
fn remarks_that_used_to_contradict() {
    let fixed =
        |s| ExposurePlan { shutter_s: Some(Planned::Fixed(s)), busy_s: Some(0.0), ..ExposurePlan::default() };
    let clip = DeliveryPlan { fps: Some(25.0), length_s: Some(20.0), ..DeliveryPlan::default() };
    let card = CardPlan { size_bytes: Some(520.0 * 25e6 / 0.97), frame_bytes: Some(25e6), file_system: None };
    let gliding = RigPlan { kind: Some(RigKind::Continuous), ..RigPlan::default() };
    for plan in [
        Plan {
            interval_s: Some(14.0),
            frames: Some(500),
            bracket: Some(3),
            exposure: fixed(8.0),
            ..Plan::default()
        },
        Plan {
            interval_s: Some(0.1),
            frames: Some(500),
            exposure: fixed(1.0 / 13.0),
            light: Some(Light::Mains),
            mains_hz: Some(50.0),
            ..Plan::default()
        },
        Plan { interval_s: Some(11.3), frames: Some(500), exposure: fixed(10.0), ..Plan::default() },
        Plan { interval_s: Some(10.0), frames: Some(500), delivery: clip, card, ..Plan::default() },
        Plan {
            interval_s: Some(10.0),
            frames: Some(500),
            exposure: fixed(9.0),
            rig: gliding,
            ..Plan::default()
        },
    ] {
        let known = Known { plan, event_s: None };
        let shoot = solve(&known).expect("a shoot");
        agrees(&shoot, &beside(&known, &shoot)).expect("its remarks agree");
    }
}
