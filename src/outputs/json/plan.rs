//! The plan as asked, in `audit.json`.

use super::number;
use crate::audit::{
    Accepted, CardPlan, CountedFrom, DailyHours, DeliveryPlan, ExposureMode, ExposurePlan, FileSystem, Light,
    Moment, Part, PartStart, Plan, Planned, RigKind, RigPlan,
};
use crate::outputs::cells::utc_offset;
use crate::outputs::findings_csv::fraction;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// The plan as asked. What was not said is null.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Plan")]
pub struct PlanV1 {
    /// Title of the shoot.
    pub name: Option<String>,
    /// Interval between neighbouring slots, s.
    pub interval_s: Option<f64>,
    /// Frames asked for.
    pub frames: Option<u64>,
    /// Length of the run, s.
    pub run_s: Option<f64>,
    /// When the first slot is due, with its offset from UTC where one was written.
    pub start: Option<String>,
    /// What the timer counts from: `open` or `close`.
    pub counted_from: Option<String>,
    /// Exposures in each slot.
    pub bracket: Option<u32>,
    /// File with which the run begins.
    pub first: Option<String>,
    /// File with which the run ends.
    pub last: Option<String>,
    /// Hours of the day in which frames are due.
    pub active: Vec<HoursV1>,
    /// `daylight` or `mains`.
    pub light: Option<String>,
    /// Mains frequency, Hz.
    pub mains_hz: Option<f64>,
    /// The exposure.
    pub exposure: ExposureV1,
    /// The rig.
    pub rig: RigV1,
    /// The card.
    pub card: CardV1,
    /// The delivery.
    pub delivery: DeliveryV1,
    /// What changes on purpose.
    pub parts: Vec<PartV1>,
    /// Findings seen and agreed to.
    pub accepted: Vec<AcceptedV1>,
    /// Overrides of the checks' limits, by check and key.
    pub tolerances: BTreeMap<String, BTreeMap<String, Option<f64>>>,
}

/// Hours of the day, `hh:mm:ss`.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Hours")]
pub struct HoursV1 {
    /// When they begin.
    pub from: String,
    /// When they end; not after `from` where they pass midnight.
    pub to: String,
}

/// One value, or the two ends of a ramp.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Range")]
pub struct RangeV1 {
    /// At the beginning.
    pub from: Option<f64>,
    /// At the end; the same as `from` for one value.
    pub to: Option<f64>,
}

/// The exposure as planned.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Exposure")]
pub struct ExposureV1 {
    /// `locked`, `ramped` or `automatic`.
    pub mode: Option<String>,
    /// Exposure time, s.
    pub shutter_s: Option<RangeV1>,
    /// f-number.
    pub aperture: Option<RangeV1>,
    /// ISO sensitivity.
    pub iso: Option<RangeV1>,
    /// Largest step between neighbouring frames, EV.
    pub max_step_ev: Option<f64>,
    /// From the shutter's close until the camera can fire again, s.
    pub busy_s: Option<f64>,
    /// In-camera dark-frame subtraction.
    pub dark_frame: Option<bool>,
}

/// The rig as planned.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Rig")]
pub struct RigV1 {
    /// `stepped` or `continuous`.
    pub kind: Option<String>,
    /// Which way the carriage travels, seen from behind the camera: `left`, `right`, `up` or `down`.
    pub direction: Option<String>,
    /// Whole travel, m.
    pub travel_m: Option<f64>,
    /// One move, m.
    pub step_m: Option<f64>,
    /// Carriage speed, m/s.
    pub speed_m_s: Option<f64>,
    /// Carriage acceleration, m/s².
    pub acceleration_m_s2: Option<f64>,
    /// Wait after a move, s.
    pub settle_s: Option<f64>,
    /// From the shutter's close to the start of the move, s.
    pub trigger_lag_s: Option<f64>,
    /// True where the carriage waits for the camera to finish writing.
    pub waits: Option<bool>,
    /// Hours that the battery lasts.
    pub battery_hours: Option<f64>,
    /// Shortest and longest hours on a set of cells.
    pub hours_range: Option<RangeV1>,
    /// Temperature at which the rig works, °C.
    pub temperature_c: Option<f64>,
    /// Shortest and longest interval of the timer, s.
    pub interval_range_s: Option<RangeV1>,
    /// Step of the timer's dial, s.
    pub interval_step_s: Option<f64>,
    /// Shortest and longest single move, m.
    pub step_range_m: Option<RangeV1>,
    /// Slowest and fastest speed of the carriage, m/s.
    pub speed_range_m_s: Option<RangeV1>,
    /// Distance to the subject, m.
    pub distance_m: Option<f64>,
    /// Focal length, m.
    pub focal_length_m: Option<f64>,
    /// Pixel pitch, m.
    pub pixel_pitch_m: Option<f64>,
}

/// The card as planned.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Card")]
pub struct CardV1 {
    /// Its size, bytes.
    pub size_bytes: Option<f64>,
    /// Size of one frame with all its files, bytes.
    pub frame_bytes: Option<f64>,
    /// `fat16`, `fat32` or `exfat`.
    pub file_system: Option<String>,
}

/// The delivery as planned.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Delivery")]
pub struct DeliveryV1 {
    /// Frames a second of the clip.
    pub fps: Option<f64>,
    /// Length of the clip, s.
    pub length_s: Option<f64>,
    /// Title of the client's page.
    pub title: Option<String>,
    /// What was shot, and for what.
    pub scenario: Option<String>,
    /// Whom to ask, line by line.
    pub contact: Vec<String>,
    /// Largest hole that is patched in post, slots.
    pub patch_up_to: Option<u64>,
}

/// What changes on purpose.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Part")]
pub struct PartV1 {
    /// The frame of the run from which on, from 0.
    pub from_frame: Option<u64>,
    /// Or the moment.
    pub from: Option<String>,
    /// Or the file.
    pub from_file: Option<String>,
    /// The new interval, s.
    pub interval_s: Option<f64>,
    /// The new exposure; what is null stays as it was.
    pub exposure: ExposureV1,
    /// The new way of the carriage; null where it stays.
    pub direction: Option<String>,
    /// What was changed, in the photographer's words.
    pub note: Option<String>,
}

/// A finding seen and agreed to.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "Accepted")]
pub struct AcceptedV1 {
    /// Id of the check.
    pub check: String,
    /// Where it stands.
    pub at: Option<String>,
    /// Or the file that it names.
    pub file: Option<String>,
    /// As many slots or frames as were agreed to.
    pub count: Option<u64>,
    /// Why it is accepted.
    pub reason: String,
}

fn real(value: Option<f64>) -> Option<f64> {
    value.and_then(number)
}

fn moment(m: Moment) -> String {
    format!("{}{}", m.civil.iso(fraction(m.civil)), utc_offset(m.offset_min))
}

fn range(p: Option<Planned>) -> Option<RangeV1> {
    p.map(|p| match p {
        Planned::Fixed(v) => RangeV1 { from: number(v), to: number(v) },
        Planned::Between(a, b) => RangeV1 { from: number(a), to: number(b) },
    })
}

fn hours(h: &DailyHours) -> HoursV1 {
    let clock = |s: u32| format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60);
    HoursV1 { from: clock(h.from_s), to: clock(h.to_s) }
}

fn exposure(e: &ExposurePlan) -> ExposureV1 {
    ExposureV1 {
        mode: e.mode.map(|m| mode_word(m).to_owned()),
        shutter_s: range(e.shutter_s),
        aperture: range(e.aperture),
        iso: range(e.iso),
        max_step_ev: real(e.max_step_ev),
        busy_s: real(e.busy_s),
        dark_frame: e.dark_frame,
    }
}

/// The mode's word in a plan.
pub(in crate::outputs) const fn mode_word(mode: ExposureMode) -> &'static str {
    match mode {
        ExposureMode::Locked => "locked",
        ExposureMode::Ramped => "ramped",
        ExposureMode::Automatic => "automatic",
    }
}

fn rig(r: &RigPlan) -> RigV1 {
    let kind = |k| match k {
        RigKind::Stepped => "stepped".to_owned(),
        RigKind::Continuous => "continuous".to_owned(),
    };
    RigV1 {
        kind: r.kind.map(kind),
        direction: r.direction.map(|way| way.word().to_owned()),
        travel_m: real(r.travel_m),
        step_m: real(r.step_m),
        speed_m_s: real(r.speed_m_s),
        acceleration_m_s2: real(r.acceleration_m_s2),
        settle_s: real(r.settle_s),
        trigger_lag_s: real(r.trigger_lag_s),
        waits: r.waits,
        battery_hours: real(r.battery_hours),
        hours_range: range(r.hours_range),
        temperature_c: real(r.temperature_c),
        interval_range_s: range(r.interval_range_s),
        interval_step_s: real(r.interval_step_s),
        step_range_m: range(r.step_range_m),
        speed_range_m_s: range(r.speed_range_m_s),
        distance_m: real(r.distance_m),
        focal_length_m: real(r.focal_length_m),
        pixel_pitch_m: real(r.pixel_pitch_m),
    }
}

fn card(c: &CardPlan) -> CardV1 {
    let system = |s| match s {
        FileSystem::Fat16 => "fat16".to_owned(),
        FileSystem::Fat32 => "fat32".to_owned(),
        FileSystem::Exfat => "exfat".to_owned(),
    };
    CardV1 {
        size_bytes: real(c.size_bytes),
        frame_bytes: real(c.frame_bytes),
        file_system: c.file_system.map(system),
    }
}

fn part(p: &Part) -> PartV1 {
    let (from_frame, from, from_file) = match &p.from {
        PartStart::Frame(frame) => (Some(*frame), None, None),
        PartStart::Moment(m) => (None, Some(moment(*m)), None),
        PartStart::File(name) => (None, None, Some(name.clone())),
    };
    let (interval_s, note) = (real(p.interval_s), p.note.clone());
    let direction = p.direction.map(|way| way.word().to_owned());
    PartV1 { from_frame, from, from_file, interval_s, exposure: exposure(&p.exposure), direction, note }
}

fn accepted(a: &Accepted) -> AcceptedV1 {
    AcceptedV1 {
        check: a.check.clone(),
        at: a.at.map(moment),
        file: a.file.clone(),
        count: a.count,
        reason: a.reason.clone(),
    }
}

/// The plan as it is told.
pub fn told(p: &Plan) -> PlanV1 {
    let counted = |c| match c {
        CountedFrom::Open => "open".to_owned(),
        CountedFrom::Close => "close".to_owned(),
    };
    let light = |l| match l {
        Light::Daylight => "daylight".to_owned(),
        Light::Mains => "mains".to_owned(),
    };
    let DeliveryPlan { fps, length_s, patch_up_to } = p.delivery;
    PlanV1 {
        name: p.name.clone(),
        interval_s: real(p.interval_s),
        frames: p.frames,
        run_s: real(p.run_s),
        start: p.start.map(moment),
        counted_from: p.counted_from.map(counted),
        bracket: p.bracket,
        first: p.first.clone(),
        last: p.last.clone(),
        active: p.active.iter().map(hours).collect(),
        light: p.light.map(light),
        mains_hz: real(p.mains_hz),
        exposure: exposure(&p.exposure),
        rig: rig(&p.rig),
        card: card(&p.card),
        delivery: DeliveryV1 {
            fps: real(fps),
            length_s: real(length_s),
            title: p.document.title.clone(),
            scenario: p.document.scenario.clone(),
            contact: p.document.contact.clone(),
            patch_up_to,
        },
        parts: p.parts.iter().map(part).collect(),
        accepted: p.accepted.iter().map(accepted).collect(),
        tolerances: p
            .tolerances
            .iter()
            .map(|(check, keys)| (check.clone(), keys.iter().map(|(k, v)| (k.clone(), number(*v))).collect()))
            .collect(),
    }
}
