//! A shoot as a plan file, with a comment beside each value that tells how it was come by.

use super::care;
use crate::audit::{
    CountedFrom, DailyHours, ExposureMode, FileSystem, Key, Light, Moment, PartStart, Planned, RigKind,
    Shoot, State, Subject,
};
use crate::outputs::cells::utc_offset;
use crate::outputs::findings_csv::fraction;
use crate::outputs::json::mode_word;
use crate::outputs::text::wrapped;
use crate::units::{duration, size_text};
use std::fmt::Write as _;

/// Column in which comments begin, where the value leaves room.
const COMMENT: usize = 34;

/// Columns of a comment on lines of its own.
const WIDTH: usize = 96;

/// The plan file, with a line end after its last line.
pub fn file(shoot: &Shoot) -> String {
    let mut out = File::default();
    out.remark(
        "Written by lapseproof plan. Every line can be changed; lapseproof plan FILE works it out again.",
    );
    if let Some(binding) = shoot.rulings.binding() {
        let state = match binding.state {
            State::Works => "",
            State::Tight => "Tight: ",
            State::Fails => "Does not work: ",
        };
        out.remark(&format!("What binds: {state}{}", binding.words));
    }
    for note in &shoot.notes {
        out.remark(note);
    }
    out.blank();
    run(&mut out, shoot);
    exposure(&mut out, shoot);
    rig(&mut out, shoot);
    card(&mut out, shoot);
    delivery(&mut out, shoot);
    parts(&mut out, shoot);
    agreed(&mut out, shoot);
    out.blank();
    out.remark("Take care.");
    for words in care(shoot) {
        out.remark(&words);
    }
    out.0
}

/// The file as it grows.
#[derive(Default)]
struct File(String);

impl File {
    fn blank(&mut self) {
        self.0.push('\n');
    }

    fn remark(&mut self, words: &str) {
        for line in wrapped(words, WIDTH) {
            let _ = writeln!(self.0, "# {line}");
        }
    }

    fn table(&mut self, heading: &str) {
        let _ = writeln!(self.0, "\n{heading}");
    }

    fn line(&mut self, key: &str, value: &str, comment: &str) {
        let said = format!("{key} = {value}");
        let _ = match comment.is_empty() {
            true => writeln!(self.0, "{said}"),
            false => writeln!(self.0, "{said:<COMMENT$}# {comment}"),
        };
    }

    /// A line where the value is known.
    fn some(&mut self, key: &str, value: Option<String>, comment: &str) {
        if let Some(value) = value {
            self.line(key, &value, comment);
        }
    }
}

/// Text in quotes, by TOML's own rules.
fn text(words: &str) -> String {
    toml::Value::String(words.to_owned()).to_string()
}

/// At most `digits` decimals, and none that are zero.
fn decimals(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

fn seconds(s: f64) -> String {
    format!("\"{} s\"", decimals(s, 9))
}

/// A length in mm, short ones in µm.
fn length(m: f64) -> String {
    if m < 0.000_1 {
        format!("\"{} µm\"", decimals(m * 1e6, 6))
    } else {
        format!("\"{} mm\"", decimals(m * 1e3, 9))
    }
}

fn speed(m_s: f64) -> String {
    format!("\"{} mm/s\"", decimals(m_s * 1e3, 9))
}

/// An exposure as it is marked: `1/60` where it is one over a whole number.
fn shutter(s: f64) -> String {
    let under = (1.0 / s).round();
    if s < 0.3 && under >= 1.0 && 1.0 / under == s {
        format!("\"1/{under}\"")
    } else {
        format!("\"{} s\"", decimals(s, 9))
    }
}

fn size(bytes: f64) -> String {
    let said = size_text(bytes);
    // Where the two decimals of a spoken size would lose something, the bytes are written out.
    let (number, unit) = said.split_once(' ').unwrap_or((&said, "B"));
    let factor = match unit {
        "TB" => 1e12,
        "GB" => 1e9,
        "MB" => 1e6,
        _ => 1e3,
    };
    let same = number.parse::<f64>().is_ok_and(|n| (n * factor - bytes).abs() < 0.5);
    if same { format!("\"{said}\"") } else { format!("\"{} B\"", decimals(bytes, 0)) }
}

/// One value, or the two ends in a list.
fn ends(planned: Option<Planned>, one: impl Fn(f64) -> String) -> Option<String> {
    planned.map(|p| match p {
        Planned::Fixed(v) => one(v),
        Planned::Between(a, b) => format!("[{}, {}]", one(a), one(b)),
    })
}

fn moment(m: Moment) -> String {
    format!("{}{}", m.civil.iso(fraction(m.civil)), utc_offset(m.offset_min))
}

fn by(shoot: &Shoot, key: Key) -> &'static str {
    shoot.origin(key).map_or("", |o| o.word())
}

fn run(out: &mut File, shoot: &Shoot) {
    let plan = &shoot.plan;
    out.some("name", plan.name.as_deref().map(text), "");
    out.some("interval", plan.interval_s.map(seconds), by(shoot, Key::Interval));
    let lasts = format!("{}; the run lasts {}", by(shoot, Key::Frames), duration(shoot.figures.run_s));
    out.some("frames", plan.frames.map(|n| n.to_string()), &lasts);
    out.some("start", plan.start.map(moment), "");
    let close = plan.counted_from.map(|c| match c {
        CountedFrom::Open => text("open"),
        CountedFrom::Close => text("close"),
    });
    out.some("counted_from", close, "what the timer counts the interval from");
    out.some("bracket", plan.bracket.map(|n| n.to_string()), "exposures in each slot");
    out.some("first", plan.first.as_deref().map(text), "");
    out.some("last", plan.last.as_deref().map(text), "");
    let hours: Vec<String> = plan.active.iter().map(|h| text(&hours(h))).collect();
    out.some(
        "active",
        (!hours.is_empty()).then(|| format!("[{}]", hours.join(", "))),
        "each day starts a grid of its own",
    );
    let light = plan.light.map(|l| match l {
        Light::Daylight => text("daylight"),
        Light::Mains => text("mains"),
    });
    out.some("light", light, "");
    out.some("mains_hz", plan.mains_hz.map(|hz| decimals(hz, 6)), "");
}

fn exposure(out: &mut File, shoot: &Shoot) {
    let e = &shoot.plan.exposure;
    let figures = &shoot.figures;
    if *e == crate::audit::ExposurePlan::default() {
        if let Some(mark) = figures.longest_mark_s {
            out.table("[exposure]");
            out.remark(&format!(
                "shutter = {}   the longest that leaves a tenth of the interval to spare; half the interval would be {}",
                shutter(mark),
                duration(figures.half_s)
            ));
        }
        return;
    }
    out.table("[exposure]");
    let mode = e.mode.map(|mode| match mode {
        ExposureMode::Locked => text("locked"),
        ExposureMode::Ramped => text("ramped"),
        ExposureMode::Automatic => text("automatic"),
    });
    out.some("mode", mode, "");
    let open = figures.exposure_s.zip(figures.angle).map_or_else(String::new, |((mark, exact), angle)| {
        let lasts = if (exact / mark - 1.0).abs() > 0.01 {
            format!("{} in fact; ", duration(exact))
        } else {
            String::new()
        };
        format!("{lasts}open for {} % of the interval, {}°", decimals(angle / 3.6, 1), decimals(angle, 1))
    });
    out.some("shutter", ends(e.shutter_s, shutter), &open);
    out.some("aperture", ends(e.aperture, |v| decimals(v, 6)), "");
    out.some("iso", ends(e.iso, |v| decimals(v, 6)), "");
    out.some("max_step", e.max_step_ev.map(|v| decimals(v, 9)), "EV between neighbouring frames");
    out.some("busy", e.busy_s.map(seconds), "after the shutter closes, until the camera can fire again");
    out.some("dark_frame", e.dark_frame.map(|v| v.to_string()), "");
}

fn rig(out: &mut File, shoot: &Shoot) {
    let rig = &shoot.plan.rig;
    if *rig == crate::audit::RigPlan::default() {
        return;
    }
    let figures = &shoot.figures;
    out.table("[rig]");
    let kind = rig.kind.map(|kind| match kind {
        RigKind::Stepped => text("stepped"),
        RigKind::Continuous => text("continuous"),
    });
    out.some("kind", kind, "");
    let way = rig.direction.map(|way| text(way.word()));
    out.some("direction", way, "seen from behind the camera; it is held against the pictures");
    let (travel_m, of) = match shoot.rail_m {
        // The rail itself: a file of the travel alone would read back as a shoot that fits.
        Some(rail) if shoot.rulings.fails(Subject::Rail) => (
            Some(rail),
            format!("the rail; the moves need {} mm", decimals(rig.travel_m.unwrap_or(0.0) * 1e3, 1)),
        ),
        Some(rail) => (rig.travel_m, format!("of {} mm of rail", decimals(rail * 1e3, 1))),
        None => (rig.travel_m, by(shoot, Key::Travel).to_owned()),
    };
    out.some("travel", travel_m.map(length), &of);
    let moves = shoot.plan.frames.unwrap_or(1).saturating_sub(1);
    let stepped = format!("{}; {moves} moves", by(shoot, Key::Step));
    out.some("step", rig.step_m.map(length), &stepped);
    let lasts = figures.budget.move_s.map_or_else(String::new, |s| format!("a move takes {}", duration(s)));
    out.some("speed", rig.speed_m_s.map(speed), &lasts);
    if let Some(v) = figures.slowest_m_s {
        out.remark(&format!("speed = {}   or faster, to leave a tenth of the interval to spare", speed(v)));
    }
    let acceleration = |a: f64| format!("\"{} mm/s2\"", decimals(a * 1e3, 6));
    out.some("acceleration", rig.acceleration_m_s2.map(acceleration), "the move is a trapezoid");
    out.some("settle", rig.settle_s.map(seconds), "");
    out.some("trigger_lag", rig.trigger_lag_s.map(seconds), "");
    out.some("waits", rig.waits.map(|v| v.to_string()), "the carriage waits for the camera");
    out.some("battery_hours", rig.battery_hours.map(|h| decimals(h, 6)), "as rated, in the warm");
    out.some("hours_range", ends(rig.hours_range, |h| decimals(h, 6)), "on a set of cells, in the warm");
    let counted = figures.hours.map_or_else(String::new, |h| {
        format!("{:.0} % of the hours are left: {}", 100.0 * h.share, duration(h.counted_h() * 3600.0))
    });
    out.some("temperature", rig.temperature_c.map(|c| decimals(c, 3)), &counted);
    out.some("interval_range", ends(rig.interval_range_s, seconds), "what the timer has");
    out.some("interval_step", rig.interval_step_s.map(seconds), "the step of its dial");
    out.some("step_range", ends(rig.step_range_m, length), "");
    out.some("speed_range", ends(rig.speed_range_m_s, speed), "");
    let shift =
        figures.shift_px.map_or_else(String::new, |px| format!("the picture moves by {px:.1} px a frame"));
    out.some("distance", rig.distance_m.map(length), &shift);
    out.some("focal_length", rig.focal_length_m.map(length), "");
    out.some("pixel_pitch", rig.pixel_pitch_m.map(length), "");
}

fn card(out: &mut File, shoot: &Shoot) {
    let card = &shoot.plan.card;
    if *card == crate::audit::CardPlan::default() {
        return;
    }
    out.table("[card]");
    let held = card.frames_held().map_or_else(String::new, |n| format!("{n} frames"));
    out.some("size", card.size_bytes.map(size), &held);
    let all = shoot.figures.bytes.map_or_else(String::new, |b| format!("{} in all", size_text(b)));
    out.some("frame_size", card.frame_bytes.map(size), &all);
    let system = card.file_system.map(|s| match s {
        FileSystem::Fat16 => text("fat16"),
        FileSystem::Fat32 => text("fat32"),
        FileSystem::Exfat => text("exfat"),
    });
    out.some("file_system", system, "");
}

fn delivery(out: &mut File, shoot: &Shoot) {
    let delivery = &shoot.plan.delivery;
    if delivery.fps.is_none() && delivery.length_s.is_none() && delivery.patch_up_to.is_none() {
        return;
    }
    out.table("[delivery]");
    let makes = shoot.figures.clip_s.map_or_else(String::new, |s| format!("all frames make {}", duration(s)));
    out.some("fps", delivery.fps.map(fps), &makes);
    out.some("length", delivery.length_s.map(seconds), "");
    out.some(
        "patch_up_to",
        delivery.patch_up_to.map(|n| n.to_string()),
        "slots of a hole that post can fill",
    );
}

/// Hours of the day as they are written; the end of the day is 24:00.
fn hours(h: &DailyHours) -> String {
    let clock = |s: u32| {
        let (h, m, s) = (s / 3600, s / 60 % 60, s % 60);
        if s == 0 { format!("{h:02}:{m:02}") } else { format!("{h:02}:{m:02}:{s:02}") }
    };
    format!("{}-{}", clock(h.from_s), clock(h.to_s))
}

fn parts(out: &mut File, shoot: &Shoot) {
    for part in &shoot.plan.parts {
        out.table("[[part]]");
        let from = match &part.from {
            PartStart::Frame(frame) => frame.to_string(),
            PartStart::Moment(at) => moment(*at),
            PartStart::File(name) => text(name),
        };
        out.line("from", &from, "");
        out.some("interval", part.interval_s.map(seconds), "");
        let e = &part.exposure;
        out.some("mode", e.mode.map(|mode| text(mode_word(mode))), "");
        out.some("shutter", ends(e.shutter_s, shutter), "");
        out.some("aperture", ends(e.aperture, |v| decimals(v, 6)), "");
        out.some("iso", ends(e.iso, |v| decimals(v, 6)), "");
        out.some("max_step", e.max_step_ev.map(|v| decimals(v, 9)), "EV between neighbouring frames");
        out.some("direction", part.direction.map(|way| text(way.word())), "");
        out.some("note", part.note.as_deref().map(text), "");
    }
}

/// Frames a second; the rates of 1000/1001 as the ratios that they are.
fn fps(fps: f64) -> String {
    let thousands = (fps * 1.001).round();
    if (thousands * 1000.0 / 1001.0 - fps).abs() < 1e-9 {
        format!("\"{}/1001\"", thousands * 1000.0)
    } else {
        decimals(fps, 9)
    }
}

fn agreed(out: &mut File, shoot: &Shoot) {
    for accepted in &shoot.plan.accepted {
        out.table("[[accepted]]");
        out.line("check", &text(&accepted.check), "");
        out.some("at", accepted.at.map(moment), "");
        out.some("file", accepted.file.as_deref().map(text), "");
        out.some("count", accepted.count.map(|n| n.to_string()), "");
        out.line("reason", &text(&accepted.reason), "");
    }
    for (check, keys) in &shoot.plan.tolerances {
        out.table(&format!("[tolerance.{check}]"));
        for (key, level) in keys {
            out.line(key, &decimals(*level, 9), "");
        }
    }
}
