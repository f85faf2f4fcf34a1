//! A shoot as JSON, by structs of its own.

use super::care;
use super::dials::to_set;
use super::stars::stars;
use crate::outputs::json::{PlanV1, number, plan_as_told};
use crate::plan::Plan;
use crate::plan::shoot::{Neighbour, Shoot};
use schemars::JsonSchema;
use serde::Serialize;
use std::io::{self, Write};

/// Version of this form.
const SCHEMA: u32 = 1;

/// A shoot, worked out. A value that is not known is null.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Shoot")]
struct ShootV1 {
    /// Number of this schema: 1.
    schema: u32,
    /// What wrote it.
    tool: &'static str,
    /// `works`, `tight` or `fails`.
    state: &'static str,
    /// The whole plan.
    plan: PlanV1,
    /// Length of the event that the run covers, s.
    event_s: Option<f64>,
    /// The travel that there is, m; the plan may use less of it.
    rail_m: Option<f64>,
    /// What to set on a rig with two dials, in two sentences; null where the rig is not set by a wait.
    dials: Option<String>,
    /// What is told of the stars, where the light is the night.
    stars: Vec<String>,
    /// How each quantity was come by.
    origins: Vec<OriginV1>,
    /// What else follows.
    figures: FiguresV1,
    /// The constraint that binds, in a sentence.
    binding: Option<String>,
    /// Each constraint, and how the plan stands to it.
    constraints: Vec<ConstraintV1>,
    /// The nearest plans that work, on each side.
    neighbours: Vec<NeighbourV1>,
    /// Choices that were made, and what is more than was asked.
    notes: Vec<String>,
    /// What to take care of.
    care: Vec<String>,
}

/// How a quantity was come by.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Origin")]
struct OriginV1 {
    /// `interval`, `wait`, `frames`, `run`, `event`, `clip`, `step`, `travel` or `speed`.
    key: &'static str,
    /// `given`, `worked out` or `chosen`.
    origin: &'static str,
}

/// Figures that follow from the plan.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Figures")]
struct FiguresV1 {
    /// From the first shutter to the last, s.
    run_s: Option<f64>,
    /// Length of the clip from all frames, s.
    clip_s: Option<f64>,
    /// Longest exposure by its mark, s.
    marked_exposure_s: Option<f64>,
    /// The same as it lasts, s.
    exact_exposure_s: Option<f64>,
    /// 360° times the share of the interval that the shutter is open.
    shutter_angle_deg: Option<f64>,
    /// Half the interval, s.
    half_interval_s: Option<f64>,
    /// One move, s.
    move_s: Option<f64>,
    /// What the camera takes of a slot, s.
    slot_camera_s: Option<f64>,
    /// What the rig takes of a slot, s.
    slot_rig_s: Option<f64>,
    /// The whole slot, s.
    slot_s: Option<f64>,
    /// The longest mark that leaves a tenth of the interval, s.
    longest_marked_exposure_s: Option<f64>,
    /// The slowest carriage that leaves a tenth of the interval, m/s.
    slowest_speed_m_s: Option<f64>,
    /// How far the picture moves from frame to frame, px of the camera.
    shift_px: Option<f64>,
    /// How far it moves while the shutter is open, px of the camera.
    smear_px: Option<f64>,
    /// Hours that the battery is counted for, h.
    battery_counted_h: Option<f64>,
    /// Share of its hours that the cold leaves.
    battery_share_left: Option<f64>,
    /// Rated hours that the run takes, h.
    battery_needs_rated_h: Option<f64>,
    /// All frames, bytes.
    frames_bytes: Option<f64>,
    /// Frames that the card holds.
    frames_card_holds: Option<u64>,
}

/// A constraint.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Constraint")]
struct ConstraintV1 {
    /// What it is about.
    subject: &'static str,
    /// `works`, `tight` or `fails`.
    state: &'static str,
    /// How much of the room is used, 1 for all of it; null where that is not counted.
    load: Option<f64>,
    /// The same in a sentence.
    words: String,
}

/// A plan beside this one.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Neighbour")]
struct NeighbourV1 {
    /// Which way it lies.
    side: &'static str,
    /// What it takes, in a sentence.
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
        dials: to_set(shoot),
        stars: stars(shoot),
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
    crate::outputs::json::visible::write(&mut &mut *out, &all)?;
    out.write_all(b"\n")
}

/// The JSON Schema (draft 2020-12) of what [`write()`] tells, with a line end after it.
pub fn schema() -> String {
    let settings = schemars::generate::SchemaSettings::draft2020_12().for_serialize();
    let schema = settings.into_generator().into_root_schema_for::<ShootV1>();
    // A schema is a plain tree of maps and strings: writing it cannot fail, and an empty answer would be seen
    // at once.
    serde_json::to_string_pretty(schema.as_value()).map(|s| s + "\n").unwrap_or_default()
}
