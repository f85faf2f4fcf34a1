//! A shoot as JSON, by structs of its own.

use super::care;
use crate::audit::{Neighbour, Plan, Shoot};
use crate::outputs::json::{PlanV1, number, plan_as_told};
use serde::Serialize;
use std::io::{self, Write};

/// Version of this form.
const SCHEMA: u32 = 1;

/// A shoot.
#[derive(Debug, Serialize)]
struct ShootV1 {
    schema: u32,
    tool: &'static str,
    /// `works`, `tight` or `fails`.
    state: &'static str,
    plan: PlanV1,
    event_s: Option<f64>,
    rail_m: Option<f64>,
    origins: Vec<OriginV1>,
    figures: FiguresV1,
    /// The constraint that binds, in a sentence.
    binding: Option<String>,
    constraints: Vec<ConstraintV1>,
    neighbours: Vec<NeighbourV1>,
    notes: Vec<String>,
    care: Vec<String>,
}

#[derive(Debug, Serialize)]
struct OriginV1 {
    key: &'static str,
    origin: &'static str,
}

#[derive(Debug, Serialize)]
struct FiguresV1 {
    run_s: Option<f64>,
    clip_s: Option<f64>,
    marked_exposure_s: Option<f64>,
    exact_exposure_s: Option<f64>,
    shutter_angle_deg: Option<f64>,
    half_interval_s: Option<f64>,
    move_s: Option<f64>,
    slot_camera_s: Option<f64>,
    slot_rig_s: Option<f64>,
    slot_s: Option<f64>,
    longest_marked_exposure_s: Option<f64>,
    slowest_speed_m_s: Option<f64>,
    shift_px: Option<f64>,
    smear_px: Option<f64>,
    battery_counted_h: Option<f64>,
    battery_share_left: Option<f64>,
    battery_needs_rated_h: Option<f64>,
    frames_bytes: Option<f64>,
    frames_card_holds: Option<u64>,
}

#[derive(Debug, Serialize)]
struct ConstraintV1 {
    subject: &'static str,
    state: &'static str,
    load: Option<f64>,
    words: String,
}

#[derive(Debug, Serialize)]
struct NeighbourV1 {
    side: &'static str,
    words: String,
    /// The plan; null where there is none on that side.
    plan: Option<PlanV1>,
}

fn figures(shoot: &Shoot) -> FiguresV1 {
    let f = &shoot.figures;
    let real = |v: Option<f64>| v.and_then(number);
    FiguresV1 {
        run_s: number(f.run_s),
        clip_s: real(f.clip_s),
        marked_exposure_s: real(f.exposure_s.map(|e| e.0)),
        exact_exposure_s: real(f.exposure_s.map(|e| e.1)),
        shutter_angle_deg: real(f.angle),
        half_interval_s: number(f.half_s),
        move_s: real(f.budget.move_s),
        slot_camera_s: number(f.slot.camera_s),
        slot_rig_s: f.budget.rig_s().and_then(|_| number(f.slot.rig_s)),
        slot_s: number(f.slot.whole_s()),
        longest_marked_exposure_s: real(f.longest_mark_s),
        slowest_speed_m_s: real(f.slowest_m_s),
        shift_px: real(f.shift_px),
        smear_px: real(f.smear_px),
        battery_counted_h: real(f.hours.map(|h| h.counted_h())),
        battery_share_left: real(f.hours.map(|h| h.share)),
        battery_needs_rated_h: number(f.needs_rated_h),
        frames_bytes: real(f.bytes),
        frames_card_holds: shoot.plan.card.frames_held(),
    }
}

/// Writes the shoot and its neighbours, with a line end.
///
/// # Errors
/// What the writer says.
pub fn write(shoot: &Shoot, beside: &[Neighbour], out: &mut dyn Write) -> io::Result<()> {
    let told = |plan: &Plan| plan_as_told(plan);
    let all = ShootV1 {
        schema: SCHEMA,
        tool: "lapseproof",
        state: shoot.state().word(),
        plan: told(&shoot.plan),
        event_s: shoot.event_s,
        rail_m: shoot.rail_m,
        origins: shoot.origins.iter().map(|(k, o)| OriginV1 { key: k.word(), origin: o.word() }).collect(),
        figures: figures(shoot),
        binding: shoot.rulings.binding().map(|r| r.words.clone()),
        constraints: shoot
            .rulings
            .0
            .iter()
            .map(|r| ConstraintV1 {
                subject: r.subject.word(),
                state: r.state.word(),
                load: number(r.load).filter(|load| *load > 0.0),
                words: r.words.clone(),
            })
            .collect(),
        neighbours: beside
            .iter()
            .map(|n| NeighbourV1 {
                side: n.side.word(),
                words: n.words.clone(),
                plan: n.shoot.as_ref().map(|s| told(&s.plan)),
            })
            .collect(),
        notes: shoot.notes.clone(),
        care: care(shoot),
    };
    serde_json::to_writer_pretty(&mut *out, &all)?;
    out.write_all(b"\n")
}
