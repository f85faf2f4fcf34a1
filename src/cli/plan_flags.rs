//! Every key of a plan as a flag. The forms are those of a plan file, and a flag wins over the file.

use crate::checks::CHECKS;
use crate::finding::InForce;
use crate::plan::forms;
use crate::plan::{
    CardPlan, CountedFrom, DailyHours, DeliveryPlan, ExposureMode, ExposurePlan, FileSystem, Light, Moment,
    Plan, Planned, RigKind, RigPlan, Way,
};
use clap::builder::{PossibleValuesParser, TypedValueParser};
use std::collections::BTreeMap;

/// The flags.
#[derive(Debug, Default, clap::Args)]
#[command(next_help_heading = "The plan, where no file says it or it is to be overridden")]
pub struct PlanFlags {
    /// Title of the shoot
    #[arg(long, value_name = "TEXT")]
    name: Option<String>,
    /// Interval between neighbouring frames: 12s, "500 ms", "1 min 30 s"
    #[arg(long, value_name = "TIME", value_parser = forms::interval)]
    interval: Option<f64>,
    /// Frames asked for
    #[arg(long, value_name = "N", value_parser = forms::count)]
    frames: Option<u64>,
    /// Length of the run: "2 h"
    #[arg(long, value_name = "TIME", value_parser = forms::duration)]
    run: Option<f64>,
    /// When the first frame is due: 2026-05-09T04:10:00+02:00
    #[arg(long, value_name = "MOMENT", value_parser = forms::moment)]
    start: Option<Moment>,
    /// What the timer counts from: the shutter's opening or closing
    #[arg(long, value_parser = counted_from())]
    counted_from: Option<CountedFrom>,
    /// Exposures in each slot
    #[arg(long, value_name = "N", value_parser = small_count)]
    bracket: Option<u32>,
    /// File with which the run begins
    #[arg(long, value_name = "FILE")]
    first: Option<String>,
    /// File with which the run ends
    #[arg(long, value_name = "FILE")]
    last: Option<String>,
    /// Hours of the day in which frames are due: 07:00-19:00 (may be repeated)
    #[arg(long, value_name = "HOURS", value_parser = forms::daily_hours)]
    active: Vec<DailyHours>,
    /// The light of the scene
    #[arg(long, value_parser = light())]
    light: Option<Light>,
    /// Mains frequency
    #[arg(long, value_name = "HZ", value_parser = forms::frequency)]
    mains_hz: Option<f64>,
    /// How the exposure is meant to behave
    #[arg(long, value_parser = mode())]
    mode: Option<ExposureMode>,
    /// Exposure time: 1/60, "2 s"; a ramp as 1/500..4s
    #[arg(long, value_name = "TIME", value_parser = shutter)]
    shutter: Option<Planned>,
    /// f-number: 8, f/5.6; a ramp as 8..2.8
    #[arg(long, value_name = "F", value_parser = aperture)]
    aperture: Option<Planned>,
    /// Sensitivity: 200; a ramp as 100..1600
    #[arg(long, value_name = "ISO", value_parser = iso)]
    iso: Option<Planned>,
    /// Largest step between neighbouring frames, EV
    #[arg(long, value_name = "EV", value_parser = forms::ev)]
    max_step: Option<f64>,
    /// From the shutter's close until the camera can fire again
    #[arg(long, value_name = "TIME", value_parser = forms::duration)]
    busy: Option<f64>,
    /// In-camera dark-frame subtraction
    #[arg(long, value_name = "BOOL", num_args = 0..=1, require_equals = true, default_missing_value = "true")]
    dark_frame: Option<bool>,
    /// How the carriage travels
    #[arg(long, value_parser = kind())]
    kind: Option<RigKind>,
    /// Which way the carriage travels, seen from behind the camera
    #[arg(long, value_parser = direction())]
    direction: Option<Way>,
    /// Whole travel of the carriage: "900 mm"
    #[arg(long, value_name = "LENGTH", value_parser = forms::length)]
    travel: Option<f64>,
    /// One move of the carriage: "1.5 mm"
    #[arg(long, value_name = "LENGTH", value_parser = forms::length)]
    step: Option<f64>,
    /// Speed of the carriage: "20 mm/s"
    #[arg(long, value_name = "SPEED", value_parser = forms::speed)]
    speed: Option<f64>,
    /// Acceleration of the carriage: "200 mm/s2"
    #[arg(long, value_name = "ACCELERATION", value_parser = forms::acceleration)]
    acceleration: Option<f64>,
    /// Wait after a move
    #[arg(long, value_name = "TIME", value_parser = forms::duration)]
    settle: Option<f64>,
    /// From the shutter's close to the start of the move
    #[arg(long, value_name = "TIME", value_parser = forms::duration)]
    trigger_lag: Option<f64>,
    /// The carriage waits for the camera to finish writing
    #[arg(long, value_name = "BOOL", num_args = 0..=1, require_equals = true, default_missing_value = "true")]
    waits: Option<bool>,
    /// How long the rig's battery lasts: 6, "6 h"
    #[arg(long, value_name = "HOURS", value_parser = forms::hours)]
    battery_hours: Option<f64>,
    /// Shortest and longest hours on a set of cells: 4..10
    #[arg(long, value_name = "HOURS", value_parser = hours_range)]
    hours_range: Option<Planned>,
    /// Temperature at which the rig works: "-5 °C"
    #[arg(long, value_name = "DEGREES", value_parser = forms::temperature, allow_hyphen_values = true)]
    temperature: Option<f64>,
    /// Shortest and longest interval of the timer: 1s..1h
    #[arg(long, value_name = "TIME..TIME", value_parser = interval_range)]
    interval_range: Option<Planned>,
    /// Step of the timer's dial: 1s
    #[arg(long, value_name = "TIME", value_parser = forms::interval)]
    interval_step: Option<f64>,
    /// Shortest and longest single move: 0.1mm..50mm
    #[arg(long, value_name = "LENGTH..LENGTH", value_parser = step_range)]
    step_range: Option<Planned>,
    /// Slowest and fastest speed of the carriage: 1mm/s..40mm/s
    #[arg(long, value_name = "SPEED..SPEED", value_parser = speed_range)]
    speed_range: Option<Planned>,
    /// Size of the card: "64 GB"
    #[arg(long, value_name = "SIZE", value_parser = forms::bytes)]
    card: Option<f64>,
    /// Size of one frame with all its files: "25 MB"
    #[arg(long, value_name = "SIZE", value_parser = forms::bytes)]
    frame_size: Option<f64>,
    /// How the card is formatted
    #[arg(long, value_parser = file_system())]
    file_system: Option<FileSystem>,
    /// Distance to the subject
    #[arg(long, value_name = "LENGTH", value_parser = forms::length)]
    distance: Option<f64>,
    /// Focal length
    #[arg(long, value_name = "LENGTH", value_parser = forms::length)]
    focal_length: Option<f64>,
    /// Pixel pitch of the sensor
    #[arg(long, value_name = "LENGTH", value_parser = forms::length)]
    pixel_pitch: Option<f64>,
    /// Frames a second of the finished clip
    #[arg(long, value_name = "FPS", value_parser = forms::fps)]
    fps: Option<f64>,
    /// Length of the finished clip
    #[arg(long, value_name = "TIME", value_parser = forms::duration)]
    length: Option<f64>,
    /// Largest hole that is patched in post, slots: 0 for none, 1 where nothing is said
    #[arg(long, value_name = "SLOTS", value_parser = forms::slots)]
    patch_up_to: Option<u64>,
    /// A limit of a check: missing-slot.caution=1 (may be repeated)
    #[arg(long, value_name = "CHECK.KEY=NUMBER", value_parser = tolerance)]
    tolerance: Vec<(String, String, f64)>,
}

impl PlanFlags {
    /// True where a flag was given.
    pub fn any(&self) -> bool {
        self.plan() != Plan::default()
    }

    /// The flags as a plan that says only what they say.
    pub fn plan(&self) -> Plan {
        let mut tolerances: BTreeMap<String, BTreeMap<String, f64>> = BTreeMap::new();
        for (check, key, value) in &self.tolerance {
            tolerances.entry(check.clone()).or_default().insert(key.clone(), *value);
        }
        Plan {
            name: self.name.clone(),
            interval_s: self.interval,
            frames: self.frames,
            run_s: self.run,
            start: self.start,
            counted_from: self.counted_from,
            bracket: self.bracket,
            first: self.first.clone(),
            last: self.last.clone(),
            active: self.active.clone(),
            light: self.light,
            mains_hz: self.mains_hz,
            exposure: ExposurePlan {
                mode: self.mode,
                shutter_s: self.shutter,
                aperture: self.aperture,
                iso: self.iso,
                max_step_ev: self.max_step,
                busy_s: self.busy,
                dark_frame: self.dark_frame,
            },
            rig: RigPlan {
                kind: self.kind,
                direction: self.direction,
                travel_m: self.travel,
                step_m: self.step,
                speed_m_s: self.speed,
                acceleration_m_s2: self.acceleration,
                settle_s: self.settle,
                trigger_lag_s: self.trigger_lag,
                waits: self.waits,
                battery_hours: self.battery_hours,
                hours_range: self.hours_range,
                temperature_c: self.temperature,
                interval_range_s: self.interval_range,
                interval_step_s: self.interval_step,
                step_range_m: self.step_range,
                speed_range_m_s: self.speed_range,
                distance_m: self.distance,
                focal_length_m: self.focal_length,
                pixel_pitch_m: self.pixel_pitch,
            },
            card: CardPlan {
                size_bytes: self.card,
                frame_bytes: self.frame_size,
                file_system: self.file_system,
            },
            delivery: DeliveryPlan { fps: self.fps, length_s: self.length, patch_up_to: self.patch_up_to },
            tolerances,
            ..Plan::default()
        }
    }
}

fn small_count(text: &str) -> Result<u32, String> {
    u32::try_from(forms::count(text)?).map_err(|_| "expected a count of a few exposures".into())
}

/// One value, or two with `..` or ` to ` between: the ends of a ramp.
fn planned(text: &str, one: fn(&str) -> Result<f64, String>) -> Result<Planned, String> {
    match text.split_once("..").or_else(|| text.split_once(" to ")) {
        Some((from, to)) => Ok(Planned::Between(one(from)?, one(to)?)),
        None => Ok(Planned::Fixed(one(text)?)),
    }
}

fn shutter(text: &str) -> Result<Planned, String> {
    planned(text, forms::shutter)
}

fn aperture(text: &str) -> Result<Planned, String> {
    planned(text, forms::f_number)
}

fn iso(text: &str) -> Result<Planned, String> {
    planned(text, forms::iso)
}

fn hours_range(text: &str) -> Result<Planned, String> {
    planned(text, forms::hours)
}

fn interval_range(text: &str) -> Result<Planned, String> {
    planned(text, forms::interval)
}

fn step_range(text: &str) -> Result<Planned, String> {
    planned(text, forms::length)
}

fn speed_range(text: &str) -> Result<Planned, String> {
    planned(text, forms::speed)
}

fn file_system() -> impl TypedValueParser<Value = FileSystem> {
    PossibleValuesParser::new(["fat16", "fat32", "exfat"]).map(|word| match word.as_str() {
        "fat16" => FileSystem::Fat16,
        "fat32" => FileSystem::Fat32,
        _ => FileSystem::Exfat,
    })
}

fn counted_from() -> impl TypedValueParser<Value = CountedFrom> {
    PossibleValuesParser::new(["open", "close"])
        .map(|word| if word == "close" { CountedFrom::Close } else { CountedFrom::Open })
}

fn light() -> impl TypedValueParser<Value = Light> {
    PossibleValuesParser::new(["daylight", "mains"])
        .map(|word| if word == "mains" { Light::Mains } else { Light::Daylight })
}

fn mode() -> impl TypedValueParser<Value = ExposureMode> {
    PossibleValuesParser::new(["locked", "ramped", "automatic"]).map(|word| match word.as_str() {
        "locked" => ExposureMode::Locked,
        "ramped" => ExposureMode::Ramped,
        _ => ExposureMode::Automatic,
    })
}

fn direction() -> impl TypedValueParser<Value = Way> {
    PossibleValuesParser::new(Way::ALL.map(|w| w.0))
        .map(|word| Way::ALL.iter().find(|w| w.0 == word).map_or(Way::Right, |w| w.1))
}

fn kind() -> impl TypedValueParser<Value = RigKind> {
    PossibleValuesParser::new(["stepped", "continuous"])
        .map(|word| if word == "continuous" { RigKind::Continuous } else { RigKind::Stepped })
}

/// `CHECK.KEY=NUMBER`, held against the checks there are.
fn tolerance(text: &str) -> Result<(String, String, f64), String> {
    let expected = "expected CHECK.KEY=NUMBER, such as missing-slot.caution=1";
    let (place, number) = text.split_once('=').ok_or(expected)?;
    let (id, key) = place.trim().split_once('.').ok_or(expected)?;
    let check = CHECKS
        .iter()
        .find(|c| c.text.id == id)
        .ok_or("no check has that id; lapseproof explain lists them")?;
    let keys = InForce::keys(check.limits);
    if !keys.iter().any(|k| k == key) {
        return Err(format!("{id} has no limit of that key; its keys are {}", keys.join(", ")));
    }
    let value: f64 = number.trim().parse().map_err(|_| expected)?;
    if !value.is_finite() {
        return Err(expected.into());
    }
    Ok((id.to_owned(), key.to_owned(), value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    #[derive(Parser)]
    struct Alone {
        #[command(flatten)]
        flags: PlanFlags,
    }

    fn plan(args: &[&str]) -> Result<Plan, String> {
        let all = std::iter::once("x").chain(args.iter().copied());
        Alone::try_parse_from(all).map(|a| a.flags.plan()).map_err(|e| e.to_string())
    }

    #[test]
    fn flags_say_what_a_plan_says() {
        let got = plan(&[
            "--interval",
            "12s",
            "--frames",
            "601",
            "--shutter",
            "1/500..4s",
            "--aperture",
            "f/8",
            "--iso=200",
            "--mode",
            "ramped",
            "--dark-frame",
            "--travel",
            "900 mm",
            "--active",
            "07:00-19:00",
            "--fps",
            "25",
            "--patch-up-to",
            "0",
        ])
        .unwrap();
        assert_eq!(got.interval_s, Some(12.0));
        assert_eq!(got.frames, Some(601));
        assert_eq!(got.exposure.shutter_s, Some(Planned::Between(0.002, 4.0)));
        assert_eq!(got.exposure.aperture, Some(Planned::Fixed(8.0)));
        assert_eq!(got.exposure.mode, Some(ExposureMode::Ramped));
        assert_eq!(got.exposure.dark_frame, Some(true));
        assert_eq!(got.rig.travel_m, Some(0.9));
        assert_eq!(got.active.len(), 1);
        assert_eq!((got.delivery.fps, got.delivery.patch_up_to), (Some(25.0), Some(0)));
    }

    #[test]
    fn no_flag_says_nothing() {
        assert_eq!(plan(&[]).unwrap(), Plan::default());
    }

    #[test]
    fn a_bad_flag_names_itself_and_what_was_expected() {
        let told = plan(&["--interval", "soon"]).unwrap_err();
        assert!(told.contains("--interval") && told.contains("expected"), "{told}");
        assert!(plan(&["--frames", "0"]).unwrap_err().contains("expected"));
        assert!(plan(&["--patch-up-to", "few"]).unwrap_err().contains("a whole number of slots"));
        assert!(plan(&["--mode", "wild"]).unwrap_err().contains("locked"));
        assert!(plan(&["--tolerance", "no-such-check.caution=1"]).unwrap_err().contains("no check"));
    }

    #[test]
    fn the_gear_and_the_card() {
        let got = plan(&[
            "--temperature",
            "-5 °C",
            "--interval-range",
            "1s..1h",
            "--step-range",
            "0.1mm..50mm",
            "--speed-range",
            "1mm/s..40mm/s",
            "--hours-range",
            "4..10",
            "--card",
            "64 GB",
            "--frame-size",
            "25MB",
            "--file-system",
            "fat32",
        ])
        .unwrap();
        assert_eq!(got.rig.temperature_c, Some(-5.0));
        assert_eq!(got.rig.interval_range_s, Some(Planned::Between(1.0, 3600.0)));
        assert_eq!(got.rig.hours_range, Some(Planned::Between(4.0, 10.0)));
        assert_eq!((got.card.size_bytes, got.card.frame_bytes), (Some(64e9), Some(25e6)));
        assert_eq!(got.card.file_system, Some(FileSystem::Fat32));
    }
}
