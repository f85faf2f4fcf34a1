//! Each constraint of a shoot, and how a whole plan stands to it.

use super::dial::{shortest_of, tidy};
use super::dialled::wait_dial_s;
use super::figures::Figures;
use super::ruling::{Ruling, Rulings, State, Subject, stands};
use super::stores::{battery, card, file_system};
use crate::plan::budget::Budget;
use crate::plan::course::{Course, Leg};
use crate::plan::{ExposureMode, Plan, Planned, RigKind, arithmetic, lamps, levels};
use crate::units::stops::{Series, Step, exact_or_same, time_text};
use crate::units::{duration, length_text, speed_text};

/// Rules on a whole plan.
pub(super) fn rule(plan: &Plan, rail_m: Option<f64>, step_given: bool) -> Rulings {
    let figures = Figures::of(plan);
    let mut all = Vec::new();
    let legs = Course::of(plan).ok().flatten().map(|course| course.legs(plan.frames.unwrap_or(0)));
    match legs.filter(|legs| !legs.is_empty()) {
        Some(legs) => legs.iter().for_each(|leg| all.extend(in_leg(leg))),
        None => all.extend(slot_by_slot(plan, &figures)),
    }
    all.extend(rail(plan, rail_m.filter(|_| step_given)));
    all.extend(battery(plan, &figures));
    all.extend(card(plan, &figures));
    all.extend(file_system(plan));
    all.extend(clip(plan, most_frames(plan, rail_m.filter(|_| step_given))));
    Rulings(all)
}

/// What is to be held slot by slot.
fn slot_by_slot(plan: &Plan, figures: &Figures) -> Vec<Ruling> {
    let mut all = Vec::new();
    all.extend(camera(plan, figures));
    all.extend(rig(plan, figures));
    all.extend(ramp(plan));
    all.extend(lamps(plan, figures));
    all.extend(ranges(plan, figures));
    all
}

/// The same in one part of a plan, with its place.
fn in_leg(leg: &Leg) -> Vec<Ruling> {
    let mut all = slot_by_slot(&leg.plan, &Figures::of(&leg.plan));
    if leg.part > 0 {
        all.iter_mut().for_each(|r| r.words = format!("In [[part]] {}: {}", leg.part, r.words));
    }
    all
}

/// `an 8 s exposure`, `a 30 s exposure, which lasts 32 s`.
fn an_exposure(figures: &Figures) -> Option<String> {
    let (mark, exact) = figures.exposure_s?;
    let text = time_text(mark);
    let an = text.starts_with('8') || text.starts_with("11") || text.starts_with("18");
    let lasts = if (exact / mark - 1.0).abs() > 0.01 {
        format!(", which lasts {}", time_text(exact))
    } else {
        String::new()
    };
    Some(format!("{} {text} exposure{lasts}", if an { "an" } else { "a" }))
}

fn camera(plan: &Plan, figures: &Figures) -> Option<Ruling> {
    let (mark, exact) = figures.budget.longest(plan, &plan.exposure);
    let taken_s = mark.camera_s.max(exact.camera_s);
    let room_s = figures.budget.room_s(plan.interval_s?);
    let share = taken_s / room_s.max(1e-9);
    let busy_s = figures.budget.busy_s;
    let what = match an_exposure(figures) {
        Some(exposure) => {
            let mut after = Vec::new();
            if busy_s > 0.0 {
                after.push(format!("{} of busy time", duration(busy_s)));
            }
            if figures.budget.dark {
                after.push("a dark frame as long".to_owned());
            }
            let with =
                if after.is_empty() { String::new() } else { format!(", with {}", after.join(" and ")) };
            let members = plan.members();
            let times =
                if members > 1 { format!("{members} exposures a stop apart about ") } else { String::new() };
            format!("for {times}{exposure}{with}")
        }
        None if busy_s > 0.0 => "to be ready again; no exposure is said".to_owned(),
        None => return None,
    };
    let least = match figures.budget.wait_s {
        Some(wait_s) => shortest_wait(plan, wait_s, taken_s),
        None => from_on(plan, taken_s, "leaves it a tenth to spare"),
    };
    let words = format!("The camera needs {} {what}: {least}.", duration(taken_s));
    let state = stands(100.0 * share, levels::USE_TIGHT_PERCENT, levels::USE_MOST_PERCENT);
    Some(Ruling { subject: Subject::Camera, state, load: share, words })
}

/// "every interval from 12 s on …", and by how much the plan's is too short. An interval that is not on the
/// dial and long enough all the same is compared with what is needed, not with the dial's next step.
fn from_on(plan: &Plan, taken_s: f64, that: &str) -> String {
    let needs_s = taken_s * 100.0 / levels::USE_TIGHT_PERCENT;
    let least_s = shortest_of(plan, taken_s);
    let interval_s = plan.interval_s.unwrap_or(least_s);
    let least_s = if interval_s + 1e-6 >= needs_s { least_s.min(interval_s) } else { least_s };
    format!("every interval from {} on {that}{}", duration(least_s), but_planned(interval_s, least_s))
}

/// ", and 9 s are planned" where that is too short. Both are told alike where they differ by less than is
/// told.
fn but_planned(planned_s: f64, least_s: f64) -> String {
    if planned_s + 1e-6 >= least_s {
        return String::new();
    }
    match (duration(planned_s), duration(least_s)) {
        (planned, least) if planned == least => ", and a little less is planned".to_owned(),
        (planned, _) => format!(", and {planned} are planned"),
    }
}

/// The same of a rig that is set by its wait: within that the camera is done.
fn shortest_wait(plan: &Plan, wait_s: f64, taken_s: f64) -> String {
    let needs_s = taken_s * 100.0 / levels::USE_TIGHT_PERCENT;
    let dial_s = wait_dial_s(plan, needs_s);
    let dialled_s = tidy((needs_s / dial_s - 1e-6).ceil().max(1.0) * dial_s);
    let least_s = if wait_s + 1e-6 >= needs_s { dialled_s.min(wait_s) } else { dialled_s };
    format!(
        "every wait from {} on leaves it a tenth to spare{}",
        duration(least_s),
        but_planned(wait_s, least_s)
    )
}

/// What a rig that is set by its wait makes of it. Nothing of it can be short of time.
fn cycle(budget: &Budget, wait_s: f64, interval_s: f64) -> Option<Ruling> {
    let words = format!(
        "The carriage sets off after a wait of {}. The move takes {} and settling {}, so it is {} from frame \
         to frame.",
        duration(wait_s),
        duration(budget.move_s?),
        duration(budget.settle_s),
        duration(interval_s)
    );
    Some(Ruling { subject: Subject::Rig, state: State::Works, load: 0.0, words })
}

fn rig(plan: &Plan, figures: &Figures) -> Option<Ruling> {
    let budget = &figures.budget;
    if let Some(wait_s) = budget.wait_s {
        return cycle(budget, wait_s, plan.interval_s?);
    }
    let taken_s = figures.slot.rig_s;
    let interval_s = plan.interval_s?;
    let wait_s = if budget.waits { figures.slot.camera_s - figures.slot.closed_s } else { 0.0 };
    let parts = [
        ("The move", budget.move_s.unwrap_or(0.0)),
        ("Settling", budget.settle_s),
        ("The lag before the move", budget.lag_s),
        ("The wait for the camera", wait_s),
    ];
    if parts[..3].iter().all(|(_, s)| *s <= 0.0) {
        return None;
    }
    // The verb and the capital stand once: "The move takes 1.8 s and settling 0.5 s".
    let mut of: Vec<String> = Vec::new();
    for (what, s) in parts.into_iter().filter(|(_, s)| *s > 0.0) {
        let first = of.is_empty();
        let name = if first { what.to_owned() } else { what.to_lowercase() };
        of.push(format!("{name} {}{}", if first { "takes " } else { "" }, duration(s)));
    }
    let last = of.pop()?;
    let parts = if of.is_empty() { last } else { format!("{} and {last}", of.join(", ")) };
    let room = an_exposure(figures).map_or_else(
        || "leaves room for it; no exposure is said".to_owned(),
        |exposure| format!("leaves room for {exposure}"),
    );
    let words = format!("{parts}: {}.", from_on(plan, taken_s, &room));
    let slack_percent = 100.0 * (interval_s - taken_s) / interval_s;
    let state = stands(100.0 - slack_percent, 100.0 - levels::SLACK_TIGHT_PERCENT, 100.0);
    Some(Ruling { subject: Subject::Rig, state, load: taken_s / interval_s, words })
}

fn rail(plan: &Plan, rail_m: Option<f64>) -> Option<Ruling> {
    let (rail_m, step_m) = (rail_m?, plan.rig.step_m?);
    if plan.rig.kind == Some(RigKind::Continuous) {
        return None;
    }
    let used_m = plan.rig.travel_m?;
    let moves = (rail_m / step_m + 1e-6).floor();
    let words = format!(
        "The rail of {} ends after {moves:.0} moves of {}: {:.0} frames are the most that it holds.",
        length_text(rail_m),
        length_text(step_m),
        moves + 1.0,
    );
    let state = stands(used_m, rail_m + step_m / 2.0, rail_m + step_m / 2.0);
    Some(Ruling { subject: Subject::Rail, state, load: (used_m / rail_m).min(1.0), words })
}

/// The frames that rail and card hold; `None` where neither is said.
fn most_frames(plan: &Plan, rail_m: Option<f64>) -> Option<u64> {
    let rail = rail_m.and_then(|m| arithmetic::frames_from_run(m, plan.rig.step_m?));
    let card = plan.card.frames_held().map(|n| n / u64::from(plan.members()));
    rail.into_iter().chain(card).min()
}

fn clip(plan: &Plan, most: Option<u64>) -> Option<Ruling> {
    let (asked, frames) = (plan.delivery.clip_frames()?, plan.frames?);
    let spare = 100.0 * (frames as f64 - asked as f64) / asked as f64;
    // Each frame can be spared or not before anything is lost: a thin margin is told, and is no fault of the
    // plan.
    let state = if frames < asked { State::Fails } else { State::Works };
    let more = (asked as f64 * (1.0 + levels::CLIP_SPARE_PERCENT / 100.0)).ceil();
    // What rail and card do not hold is no advice.
    let holds = most.is_none_or(|most| more <= most as f64);
    let tail = if spare < levels::CLIP_SPARE_PERCENT && holds {
        format!("{more:.0} would leave a tenth to spare for what goes wrong")
    } else {
        match frames.saturating_sub(asked) {
            0 => "none is spare".to_owned(),
            1 => "one is spare".to_owned(),
            n => format!("{n} are spare"),
        }
    };
    let words = format!(
        "The clip of {} takes {asked} of the {frames} frames; {tail}.",
        duration(plan.delivery.length_s?)
    );
    Some(Ruling { subject: Subject::Clip, state, load: 0.0, words })
}

/// The ends of a ramp in thirds of a stop, against the steps that there are frames for.
fn ramp(plan: &Plan) -> Option<Ruling> {
    let e = &plan.exposure;
    if e.mode != Some(ExposureMode::Ramped) {
        return None;
    }
    let ends = |p: Option<Planned>, series: Series, doubling: f64| {
        let exact = |mark| exact_or_same(series, mark, Step::Third);
        p.map_or(0.0, |p| (exact(p.high()) / exact(p.low())).log2() * doubling)
    };
    let stops = ends(e.shutter_s, Series::Time, 1.0)
        + ends(e.iso, Series::Sensitivity, 1.0)
        + ends(e.aperture, Series::Aperture, 2.0);
    if stops <= 0.0 {
        return None;
    }
    // Dials move by thirds of a stop; a hair is given for 0.33.
    let a_step = (e.max_step_ev.unwrap_or(RAMP_STEP_EV) * 3.0 + 0.03).floor() / 3.0;
    let moves = plan.frames?.saturating_sub(1) as f64;
    if a_step <= 0.0 {
        let words = format!(
            "The ramp of {stops:.1} EV may not step by more than {:.2} EV, and dials move by thirds of a \
             stop.",
            e.max_step_ev.unwrap_or(0.0)
        );
        return Some(Ruling { subject: Subject::Ramp, state: State::Tight, load: 0.0, words });
    }
    let needs = (stops / a_step - 1e-6).ceil();
    // What a frame has to take at once, in thirds: past a whole stop no clip can be levelled.
    let at_once = (stops * 3.0 / moves.max(1.0) - 1e-6).ceil() / 3.0;
    let state = match needs > moves {
        true if at_once > JUMP_EV => State::Fails,
        true => State::Tight,
        false => State::Works,
    };
    let words = format!(
        "The ramp of {stops:.1} EV takes {needs:.0} steps of {a_step:.2} EV; there are {moves:.0} from frame \
         to frame, {:.1} EV an hour.",
        stops / (moves * plan.interval_s? / 3600.0).max(1e-9),
    );
    Some(Ruling { subject: Subject::Ramp, state, load: needs / moves.max(1.0), words })
}

/// Exposures under lamps on the mains, where the plan names them.
fn lamps(plan: &Plan, figures: &Figures) -> Option<Ruling> {
    let worst = lamps::banding(plan)?;
    let at = if (worst.exact_s / worst.mark_s - 1.0).abs() > 0.01 {
        format!("{} (exactly {})", time_text(worst.mark_s), time_text(worst.exact_s))
    } else {
        time_text(worst.mark_s)
    };
    let words = format!(
        "Under lamps on {} Hz mains two frames at {at} could differ by up to {:.2} EV{}",
        worst.hz,
        worst.step_ev,
        match (worst.shows(), lamps::safe_instead_s(plan)) {
            (false, _) => ", which does not show.".to_owned(),
            (true, Some(mark)) => {
                let fits = figures.longest_mark_s.is_some_and(|most| mark <= most);
                format!(
                    ": the nearest mark of thirds that such light leaves alone is {}{}.",
                    time_text(mark),
                    if fits { "" } else { ", and it takes a longer interval" }
                )
            }
            (true, None) => ": level them in post, or keep to exposures of 1/5 s and longer.".to_owned(),
        }
    );
    let state = if worst.shows() { State::Tight } else { State::Works };
    Some(Ruling { subject: Subject::Lamps, state, load: 0.0, words })
}

/// The step that an automatic or ramped exposure is granted where the plan says none, EV (common practice, no
/// source).
const RAMP_STEP_EV: f64 = 0.34;

/// A step between neighbouring frames that cannot be levelled, EV (common practice, no source).
const JUMP_EV: f64 = 1.0;

/// What the gear can do, by the plan's ranges.
fn ranges(plan: &Plan, figures: &Figures) -> Vec<Ruling> {
    let rig = &plan.rig;
    let mut all = Vec::new();
    let mut hold = |subject,
                    value: Option<f64>,
                    range: Option<Planned>,
                    what: &str,
                    text: &dyn Fn(f64) -> String| {
        let (Some(value), Some(range)) = (value, range) else { return };
        let (low, high) = (range.low(), range.high());
        let outside = value < low * (1.0 - 1e-9) || value > high * (1.0 + 1e-9);
        let words = if outside {
            format!(
                "{what} of {} is outside the gear's range of {} to {}.",
                text(value),
                text(low),
                text(high)
            )
        } else {
            format!("{what} of {} lies in the gear's range of {} to {}.", text(value), text(low), text(high))
        };
        let state = if outside { State::Fails } else { State::Works };
        let load = if subject == Subject::TimerRange { low / value } else { 0.0 };
        all.push(Ruling { subject, state, load, words });
    };
    hold(Subject::TimerRange, plan.interval_s, rig.interval_range_s, "The interval", &duration);
    let stepped = rig.kind != Some(RigKind::Continuous);
    hold(Subject::StepRange, rig.step_m.filter(|_| stepped), rig.step_range_m, "The step", &length_text);
    hold(Subject::SpeedRange, rig.speed_m_s, rig.speed_range_m_s, "The speed", &speed_text);
    let timed = rig.interval_step_s.filter(|_| rig.wait_s.is_none());
    if let (Some(interval_s), Some(dial_s)) = (plan.interval_s, timed) {
        let steps = interval_s / dial_s;
        if (steps - steps.round()).abs() > 1e-3 {
            let words = format!(
                "The interval of {} is not on the timer's dial, which goes by steps of {}.",
                duration(interval_s),
                duration(dial_s)
            );
            all.push(Ruling { subject: Subject::TimerRange, state: State::Fails, load: 0.0, words });
        }
    }
    if let (None, Some(needs), Some(range)) = (rig.speed_m_s, figures.slowest_m_s, rig.speed_range_m_s)
        && needs > range.high()
    {
        let words = format!(
            "The move must be made at {} or faster, and the carriage's fastest is {}.",
            speed_text(needs),
            speed_text(range.high())
        );
        all.push(Ruling {
            subject: Subject::SpeedRange,
            state: State::Fails,
            load: needs / range.high(),
            words,
        });
    }
    all
}
