//! The timer, the camera and the carriage: when the shutter opens, and with what settings.

use super::chance::Chance;
use super::dials::Settings;
use super::faults::{Fault, Surplus};
use super::light::{Light, usual_shutter_s};
use super::placed::Faults;
use super::shot::{Role, Shot, State};
use super::{Options, RehearseError};
use crate::plan::budget::Budget;
use crate::plan::hours::{opens_s, rest_s};
use crate::plan::{
    DailyHours, ExposurePlan, PartStart, Plan, Planned, Way, arithmetic, dials, frames_of_run, part_slots,
};
use crate::units::{CivilTime, Micros};

/// Frames past which a rehearsal is refused.
const MOST_SLOTS: u64 = 5_000_000;
/// Gap between the exposures of a bracket, s.
const BRACKET_GAP_S: f64 = 0.3;

/// One opening of the shutter.
#[derive(Clone, Copy, Debug)]
struct Firing {
    slot: Option<u64>,
    role: Role,
    open_s: f64,
    settings: Settings,
    scene_ev100: f64,
    flicker_ev: f64,
    carriage_m: f64,
    blur_px: f64,
    askew_px: f64,
    lorry: Option<f64>,
}

/// The plan with its gaps filled.
pub(crate) struct Meant {
    pub start: CivilTime,
    pub offset_min: Option<i16>,
    pub interval_s: f64,
    pub frames: u64,
    /// Slots that are gone through before the run stops.
    pub slots: u64,
    pub from_close: bool,
    bracket: u32,
    step_m: f64,
    /// Slots from which on the carriage travels the other way, and whether it begins towards the left.
    turns: Vec<u64>,
    leftwards: bool,
    active: Vec<DailyHours>,
    parts: Vec<Leg>,
}

/// What holds from one part of the plan on.
struct Leg {
    /// Its first slot.
    from: u64,
    interval_s: f64,
    light: Light,
    /// What the camera takes after each exposure.
    camera: Budget,
}

impl Firing {
    /// The shot, not yet numbered or stamped.
    fn shot(self) -> Shot {
        Shot {
            slot: self.slot,
            role: self.role,
            open_s: self.open_s,
            settings: self.settings,
            folder: 100,
            number: 0,
            stamp: CivilTime::from_micros(Micros::ZERO),
            offset_min: None,
            state: State::Written,
            copied: false,
            scene_ev100: self.scene_ev100,
            flicker_ev: self.flicker_ev,
            carriage_m: self.carriage_m,
            blur_px: self.blur_px,
            askew_px: self.askew_px,
            lorry: self.lorry,
        }
    }
}

/// What came of it.
pub(crate) struct Timeline {
    /// The shots in order, not yet numbered or stamped.
    pub shots: Vec<Shot>,
    /// Triggers that came while the camera was busy.
    pub busy_misses: u64,
    /// The first and the last of them.
    pub busy_span: Option<(u64, u64)>,
}

impl Meant {
    pub(crate) fn new(plan: &Plan, faults: &[Fault], options: &Options) -> Result<Self, RehearseError> {
        let refused = |message: &str| Err(RehearseError::Plan(message.into()));
        // A controller with a wait fires again when it has waited, moved and settled.
        let Some(interval_s) = dials::interval_s(plan).or(plan.interval_s) else {
            return refused("the plan has no interval, and a rehearsal needs one; write interval = \"12 s\"");
        };
        let intervals = std::iter::once(interval_s).chain(plan.parts.iter().filter_map(|p| p.interval_s));
        if intervals.into_iter().any(|s| !(0.01..=1e6).contains(&s)) {
            return refused("an interval of the plan cannot be rehearsed; it must be 10 ms to 1,000,000 s");
        }
        let exposures = std::iter::once(&plan.exposure).chain(plan.parts.iter().map(|p| &p.exposure));
        if let Some(message) = exposures.filter_map(unfit).next() {
            return refused(message);
        }
        // Where a plan cannot tell how long its slots are, it counts its bare intervals.
        let bare = || arithmetic::frames_from_run(plan.run_s?, interval_s);
        let run = frames_of_run(plan).or_else(bare);
        let frames = plan.frames.or(run).or(plan.delivery.clip_frames()).unwrap_or(options.frames).max(1);
        let bracket = plan.members();
        if bracket > 15 {
            return refused("a bracket of more than 15 exposures cannot be rehearsed; ask for fewer");
        }
        if frames > MOST_SLOTS / u64::from(bracket) {
            return refused(
                "the plan asks for more than 5,000,000 frames, which is past what a rehearsal makes",
            );
        }
        let share = faults.iter().fold(1.0, |share: f64, f| match f {
            Fault::Stop { share: s } => share.min(*s),
            _ => share,
        });
        let slots = ((frames as f64 * share).round() as u64).clamp(1, frames);
        // 2026-05-09T06:00:00.
        let default_start = CivilTime::from_seconds(1_778_306_400);
        let opening =
            || opens_s(&plan.active).map(|s| default_start.floored(Micros::DAY).plus(Micros::truncated(s)));
        let start = plan.start.map(|m| m.civil).or_else(opening).unwrap_or(default_start);
        let steps = frames.saturating_sub(1).max(1) as f64;
        let mut meant = Self {
            start,
            offset_min: plan.start.and_then(|m| m.offset_min).filter(|_| options.write_offset),
            interval_s,
            frames,
            slots,
            from_close: plan.from_close() || faults.contains(&Fault::FromClose),
            bracket,
            step_m: plan.rig.step_m.or(plan.rig.travel_m.map(|t| t / steps)).unwrap_or(0.0),
            turns: Vec::new(),
            leftwards: plan.rig.direction == Some(Way::Left),
            active: plan.active.clone(),
            parts: Vec::new(),
        };
        let mut plan = plan.clone();
        plan.exposure.busy_s.get_or_insert_with(|| (0.1 * interval_s).min(0.2));
        meant.lay_parts(&plan, options);
        if faults.contains(&Fault::DarkFrame) {
            meant.parts.iter_mut().for_each(|leg| leg.camera.dark = true);
        }
        Ok(meant)
    }

    /// Finds the first slot of each part and lays its light.
    fn lay_parts(&mut self, plan: &Plan, options: &Options) {
        let mut asked = plan.asked();
        let mut found = vec![(0, self.interval_s, asked.exposure.clone())];
        let (mut slot, mut at_s, mut interval_s) = (0_u64, 0.0, self.interval_s);
        for (part, begins) in plan.parts.iter().zip(part_slots(plan)) {
            let from = match (&part.from, begins) {
                (PartStart::Frame(frame), _) => *frame,
                // No file has a name before the sequence is written.
                (PartStart::File(_), _) => continue,
                (PartStart::Moment(_), Some(slot)) => slot,
                // A plan that does not tell when its slots are due: by its bare intervals.
                (PartStart::Moment(moment), None) => {
                    let wait = (moment.civil.seconds_since(self.start) - at_s) / interval_s;
                    slot.saturating_add((wait - 1e-9).ceil().max(0.0) as u64)
                }
            };
            if from < slot || from >= self.frames {
                continue;
            }
            at_s += (from - slot) as f64 * interval_s;
            slot = from;
            let before = asked.direction;
            asked = asked.then(part);
            interval_s = asked.interval_s.unwrap_or(interval_s);
            if part.direction.is_some_and(|new| before.is_none_or(|way| way == new.back())) {
                self.turns.push(from);
            }
            found.push((from, interval_s, asked.exposure.clone()));
        }
        // One camera, one setting: it suits the shortest interval of all.
        let shortest_s = found.iter().map(|f| f.1).fold(f64::INFINITY, f64::min);
        let usual = Planned::Fixed(usual_shutter_s(shortest_s, self.bracket));
        found.iter_mut().for_each(|f| {
            f.2.shutter_s.get_or_insert(usual);
        });
        let ends: Vec<u64> = found.iter().skip(1).map(|f| f.0).chain([self.frames]).collect();
        self.parts = found
            .iter()
            .zip(ends)
            .map(|((from, interval_s, exposure), end)| Leg {
                from: *from,
                interval_s: *interval_s,
                light: Light::new(exposure, *from, end.saturating_sub(*from), options.seed),
                camera: Budget::of_camera(exposure).within(dials::wait_of_s(plan, *interval_s)),
            })
            .collect();
    }

    /// Moves towards the right, less those towards the left, that the plan has made by that slot.
    fn planned_moves(&self, slot: u64) -> f64 {
        let (mut moves, mut from, mut sign) = (0.0, 0, if self.leftwards { -1.0 } else { 1.0 });
        for turn in self.turns.iter().copied().filter(|turn| *turn <= slot) {
            // The move to the turn's own frame is the first one back.
            moves += sign * turn.saturating_sub(1).saturating_sub(from) as f64;
            (from, sign) = (turn.saturating_sub(1), -sign);
        }
        moves + sign * slot.saturating_sub(from) as f64
    }

    fn part(&self, slot: u64) -> Option<&Leg> {
        self.parts.iter().rev().find(|leg| leg.from <= slot)
    }

    /// What the interval leaves for the exposure at that slot, s.
    fn room_s(&self, slot: u64) -> f64 {
        self.part(slot).and_then(|leg| leg.camera.longest_exposure_s(leg.interval_s, 0.0)).unwrap_or(0.0)
    }

    /// Seconds to wait from `at_s` until frames are due again; 0 where they are.
    fn asleep_s(&self, at_s: f64) -> f64 {
        let midnight = self.start.floored(Micros::DAY);
        rest_s(&self.active, self.start.seconds_since(midnight) + at_s)
    }

    fn settings(&self, slot: u64, extra: i32) -> Option<(Settings, f64)> {
        self.part(slot).map(|leg| (leg.light.settings(slot, extra), leg.light.scene_ev100(slot)))
    }

    /// Shoots the run.
    pub(crate) fn shoot(&self, faults: &mut Faults, options: &Options) -> Timeline {
        if let Some((at, light)) = faults.overrun().and_then(|at| Some((at, &self.part(at)?.light))) {
            faults.grow(self.room_s(at), |slot, extra| light.settings(slot, extra));
        }
        let faults = &*faults;
        let mut camera = Camera {
            out: Timeline {
                shots: Vec::with_capacity(self.slots as usize * self.bracket as usize),
                busy_misses: 0,
                busy_span: None,
            },
            ready_s: f64::NEG_INFINITY,
            closed_s: 0.0,
        };
        let mut tests = Chance::stream(options.seed, 0x5445_5354);
        let (head, tail) = faults.all().iter().fold((0, 0), |sum, p| match p.fault {
            Fault::Tests { head, tail } => (sum.0 + head, sum.1 + tail),
            _ => sum,
        });
        self.test_shots(head, 0, None, &mut tests, &mut camera);
        let (mut anchor_s, mut anchor, mut rate) = (0.0, 0_u64, 0.0);
        for slot in 0..self.slots {
            let interval_s = self.part(slot).map_or(self.interval_s, |leg| leg.interval_s);
            let due_before = anchor_s + (slot - anchor) as f64 * rate;
            let mut due_s = due_before + faults.pause(slot, interval_s);
            due_s += self.asleep_s(due_s);
            let new_rate = interval_s * faults.rate(slot);
            if due_s != due_before || new_rate != rate || self.from_close {
                (anchor_s, anchor, rate) = (due_s, slot, new_rate);
            }
            let fired = self.slot(slot, due_s, interval_s, faults, &mut camera);
            if self.from_close {
                // Without a frame there is no close to count from: the timer waits for the exposure all the
                // same.
                let closed_s = if fired {
                    camera.closed_s
                } else {
                    due_s + self.settings(slot, 0).map_or(0.0, |s| s.0.exposure_s)
                };
                (anchor_s, anchor) = (closed_s + rate, slot + 1);
            }
        }
        self.test_shots(tail, self.slots - 1, Some(camera.ready_s), &mut tests, &mut camera);
        camera.out
    }

    /// One slot. True where the camera fired.
    fn slot(&self, slot: u64, due_s: f64, interval_s: f64, faults: &Faults, camera: &mut Camera) -> bool {
        let Some((_, scene_ev100)) = self.settings(slot, 0) else { return false };
        let grown = f64::from(faults.grown_thirds(slot)) / 3.0;
        let firing = |open_s, role, settings| Firing {
            slot: Some(slot),
            role,
            open_s,
            settings,
            // As the exposure grows the light fails.
            scene_ev100: scene_ev100 - grown,
            flicker_ev: faults.flicker_ev(slot),
            carriage_m: self.step_m * (self.planned_moves(slot) - faults.lost_steps(slot)),
            blur_px: faults.blur_px(slot),
            askew_px: faults.askew_px(slot),
            lorry: faults.lorry(slot),
        };
        let open_s = due_s + faults.lateness(slot, interval_s);
        if faults.missing(slot) {
            return false;
        }
        // A billionth of a second of rounding is no overrun.
        if open_s < camera.ready_s - 1e-9 {
            camera.out.busy_misses += 1;
            let first = camera.out.busy_span.map_or(slot, |s| s.0);
            camera.out.busy_span = Some((first, slot));
            return false;
        }
        let mut at_s = open_s;
        let half = i32::try_from(self.bracket / 2).unwrap_or(0);
        for member in 0..i32::try_from(self.bracket).unwrap_or(1) {
            let extra = faults.extra_thirds(slot) + 3 * (member - half);
            let Some((settings, _)) = self.settings(faults.set_in(slot), extra) else { return false };
            self.fire(slot, firing(at_s, Role::Run, settings), camera);
            at_s = camera.closed_s + BRACKET_GAP_S.min(0.1 * interval_s);
        }
        let surplus = faults.all().iter().filter(|p| p.at == slot).filter_map(|p| match p.fault {
            Fault::Surplus { surplus, .. } => Some(surplus),
            _ => None,
        });
        for kind in surplus {
            let soonest = camera.ready_s + 0.05;
            let at_s = match kind {
                Surplus::Double => soonest,
                Surplus::Hand => soonest.max(due_s + 0.45 * interval_s),
            };
            if let Some((settings, _)) = self.settings(slot, faults.extra_thirds(slot)) {
                self.fire(slot, firing(at_s, Role::Surplus, settings), camera);
            }
        }
        true
    }

    /// Fires in a slot, or beside it.
    fn fire(&self, slot: u64, firing: Firing, camera: &mut Camera) {
        let exposure_s = firing.settings.exposure_s;
        camera.closed_s = firing.open_s + exposure_s;
        let taken_s = self.part(slot).map_or(exposure_s, |leg| leg.camera.slot([exposure_s]).camera_s);
        camera.ready_s = firing.open_s + taken_s;
        camera.out.shots.push(firing.shot());
    }

    /// Test shots before the run (`after_s` is `None`) or after it: other settings, at odd times.
    fn test_shots(&self, n: u64, slot: u64, after_s: Option<f64>, chance: &mut Chance, camera: &mut Camera) {
        let mut shots = Vec::new();
        let busy_s = self.part(slot).map_or(0.0, |leg| leg.camera.busy_s);
        let mut at_s = after_s.unwrap_or(0.0);
        for _ in 0..n {
            let thirds = (chance.bits() % 13) as i32 - 8;
            let Some((settings, scene_ev100)) = self.settings(slot, thirds) else { continue };
            let gap = settings.exposure_s + busy_s + chance.between(2.2, 47.0);
            at_s = if after_s.is_some() { at_s + gap } else { at_s - gap };
            shots.push(Firing {
                slot: None,
                role: Role::Outside,
                open_s: at_s,
                settings,
                scene_ev100,
                flicker_ev: 0.0,
                carriage_m: self.step_m * self.planned_moves(slot),
                blur_px: 0.0,
                askew_px: 0.0,
                lorry: None,
            });
            if after_s.is_some() {
                at_s += settings.exposure_s + busy_s;
            }
        }
        if after_s.is_none() {
            shots.reverse();
        }
        for shot in shots {
            self.fire(slot, shot, camera);
        }
    }
}

/// Why an exposure cannot be rehearsed.
fn unfit(exposure: &ExposurePlan) -> Option<&'static str> {
    let within = |planned: Option<Planned>, low: f64, high: f64| {
        planned.is_none_or(|p| p.low() >= low && p.high() <= high)
    };
    if !within(exposure.shutter_s, 1e-6, 86_400.0) {
        return Some("the shutter cannot be rehearsed; it must be a millionth of a second to a day");
    }
    if !within(exposure.aperture, 0.5, 256.0) {
        return Some("the aperture cannot be rehearsed; it must be f/0.5 to f/256");
    }
    if !within(exposure.iso, 1.0, 10_000_000.0) {
        return Some("the sensitivity cannot be rehearsed; it must be ISO 1 to 10,000,000");
    }
    let busy_fits = exposure.busy_s.is_none_or(|s| (0.0..=86_400.0).contains(&s));
    (!busy_fits).then_some("the busy time cannot be rehearsed; it must be 0 s to a day")
}

/// The camera while it shoots.
struct Camera {
    out: Timeline,
    /// From when on it can fire again, s.
    ready_s: f64,
    /// When the shutter last closed, s.
    closed_s: f64,
}
