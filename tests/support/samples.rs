//! The table from which `sample-sequences/` is made: plan, faults, options and seed of each.

use lapseproof::plan::{CardPlan, DeliveryPlan, ExposureMode, ExposurePlan, Moment, Plan, Planned, RigPlan};
use lapseproof::rehearse::{Fault, Options};
use lapseproof::units::CivilTime;
use std::path::{Path, PathBuf};

/// One sample: its folder holds `plan.toml` and `why.txt`, written by hand, and what the rehearsal makes of
/// them.
pub struct Sample {
    /// Name of its folder.
    pub name: &'static str,
    /// What `plan.toml` says.
    pub plan: Plan,
    /// What is put wrong on purpose, in the text form of `--with`.
    pub faults: &'static [&'static str],
    /// How it is made.
    pub options: Options,
}

impl Sample {
    /// The faults, read.
    pub fn faults(&self) -> Vec<Fault> {
        self.faults.iter().map(|text| Fault::parse(text).expect(text)).collect()
    }

    /// Its folder.
    pub fn folder(&self) -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sequences").join(self.name)
    }
}

fn small(seed: u64, prefix: &str) -> Options {
    Options {
        seed,
        prefix: prefix.into(),
        picture: (240, 160),
        thumbnail: (96, 64),
        quality: 70,
        ..Options::default()
    }
}

fn start(date: (i16, i8, i8), time: (i8, i8, i8), offset_min: i16) -> Option<Moment> {
    let civil = CivilTime::from_calendar(date, time, 0).expect("a real moment");
    Some(Moment { civil, offset_min: Some(offset_min) })
}

fn locked(shutter_s: f64, aperture: f64, iso: f64, busy_s: f64) -> ExposurePlan {
    ExposurePlan {
        mode: Some(ExposureMode::Locked),
        shutter_s: Some(Planned::Fixed(shutter_s)),
        aperture: Some(Planned::Fixed(aperture)),
        iso: Some(Planned::Fixed(iso)),
        busy_s: Some(busy_s),
        ..ExposurePlan::default()
    }
}

fn delivery(fps: f64, length_s: f64) -> DeliveryPlan {
    DeliveryPlan { fps: Some(fps), length_s: Some(length_s), ..DeliveryPlan::default() }
}

/// Every sample.
pub fn samples() -> Vec<Sample> {
    vec![
        Sample {
            name: "harbour-falling-tide",
            plan: Plan {
                name: Some("Harbour basin, falling tide".into()),
                interval_s: Some(12.0),
                frames: Some(180),
                start: start((2026, 5, 9), (9, 20, 0), 120),
                exposure: locked(1.0 / 60.0, 8.0, 200.0, 0.4),
                rig: RigPlan {
                    travel_m: Some(0.2685),
                    step_m: Some(0.0015),
                    speed_m_s: Some(0.02),
                    settle_s: Some(0.5),
                    ..RigPlan::default()
                },
                delivery: delivery(25.0, 7.0),
                ..Plan::default()
            },
            faults: &[],
            options: Options { first_number: 12, ..small(11, "TIDE") },
        },
        Sample {
            name: "glasshouse-night",
            plan: Plan {
                name: Some("Glasshouse, night of the flowering".into()),
                interval_s: Some(30.0),
                frames: Some(960),
                start: start((2026, 11, 14), (1, 25, 0), 60),
                exposure: ExposurePlan {
                    mode: Some(ExposureMode::Ramped),
                    shutter_s: Some(Planned::Between(20.0, 25.0)),
                    max_step_ev: Some(0.34),
                    ..locked(20.0, 2.8, 800.0, 0.6)
                },
                delivery: delivery(25.0, 30.0),
                ..Plan::default()
            },
            faults: &["overrun@60", "stop=22.2%", "jitter=20ms"],
            options: Options { write_offset: false, little_endian: true, ..small(22, "NIGH") },
        },
        Sample {
            name: "valley-day-to-night",
            plan: Plan {
                name: Some("Valley, day to night".into()),
                interval_s: Some(40.0),
                frames: Some(200),
                start: start((2026, 3, 20), (17, 40, 0), 60),
                exposure: ExposurePlan {
                    mode: Some(ExposureMode::Ramped),
                    shutter_s: Some(Planned::Between(1.0 / 250.0, 4.0)),
                    iso: Some(Planned::Between(100.0, 800.0)),
                    max_step_ev: Some(0.34),
                    ..locked(1.0 / 250.0, 5.6, 100.0, 0.5)
                },
                delivery: delivery(25.0, 8.0),
                ..Plan::default()
            },
            faults: &["hunting=14@62", "jump=+1EV@133", "jitter=8ms"],
            options: Options { stamp_digits: 2, first_number: 301, ..small(33, "VALE") },
        },
        Sample {
            name: "building-site-copy",
            plan: Plan {
                name: Some("Building site, raising the frame".into()),
                interval_s: Some(60.0),
                frames: Some(150),
                start: start((2026, 6, 16), (10, 5, 0), 120),
                exposure: locked(1.0 / 250.0, 8.0, 100.0, 0.3),
                delivery: delivery(25.0, 5.0),
                ..Plan::default()
            },
            faults: &["lost=2@41", "lost=3@97", "damaged=cut@123", "jitter=10ms"],
            options: Options { write_offset: false, first_number: 412, ..small(44, "SITE") },
        },
        Sample {
            name: "bridge-road",
            plan: Plan {
                name: Some("Bridge road, late morning".into()),
                interval_s: Some(5.0),
                frames: Some(120),
                start: start((2026, 9, 4), (10, 42, 0), 120),
                exposure: locked(0.5, 16.0, 50.0, 0.4),
                delivery: delivery(24.0, 5.0),
                ..Plan::default()
            },
            faults: &["tests=4:3", "pause=73s@70", "jitter=10ms"],
            options: Options { little_endian: true, first_number: 96, ..small(55, "ROAD") },
        },
        Sample {
            name: "canal-lock-dusk",
            plan: Plan {
                name: Some("Canal lock, dusk on the slider".into()),
                interval_s: Some(20.0),
                frames: Some(165),
                start: start((2026, 10, 2), (18, 30, 0), 120),
                exposure: ExposurePlan {
                    mode: Some(ExposureMode::Ramped),
                    shutter_s: Some(Planned::Between(1.0 / 8.0, 8.0)),
                    max_step_ev: Some(0.34),
                    ..locked(1.0 / 8.0, 8.0, 100.0, 0.4)
                },
                rig: RigPlan {
                    travel_m: Some(0.328),
                    step_m: Some(0.002),
                    speed_m_s: Some(0.0004),
                    settle_s: Some(1.0),
                    battery_hours: Some(4.0),
                    temperature_c: Some(6.0),
                    distance_m: Some(1.5),
                    focal_length_m: Some(0.05),
                    pixel_pitch_m: Some(5.97e-6),
                    ..RigPlan::default()
                },
                card: CardPlan { size_bytes: Some(32e9), frame_bytes: Some(24e6), file_system: None },
                delivery: delivery(25.0, 6.0),
                ..Plan::default()
            },
            faults: &["jump=+1EV@120", "jitter=8ms"],
            options: Options { stamp_digits: 2, first_number: 201, ..small(66, "LOCK") },
        },
    ]
}
