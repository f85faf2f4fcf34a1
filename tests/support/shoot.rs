//! Small shoots on disk: JPEG with an Exif block and no picture to speak of, or a rehearsal drawn as plainly
//! as can be.

use super::run::put;
use super::writer::{Put, block, jpeg};
use lapseproof::plan::{self, Plan};
use lapseproof::rehearse::{Fault, Options, Truth, rehearse};
use std::path::Path;

/// The plan that the shoots keep to, as a file.
pub const PLAN: &str = r#"name = "Weir"
interval = "5 s"
frames = 40
start = 2026-05-09T04:10:00+02:00
[exposure]
mode = "locked"
shutter = "1/60"
aperture = 8
iso = 200
[delivery]
fps = 10
length = "4 s"
"#;

/// The same plan, read.
pub fn plan() -> Plan {
    plan::read(PLAN, "plan.toml", &[]).expect("it reads")
}

/// A frame shot so many seconds after 04:10:00, whole seconds on the stamp, at 1/60 s, f/8, ISO 200.
pub fn frame(seconds: f64) -> Vec<u8> {
    let s = 4 * 3600 + 600 + seconds.floor() as i64;
    let stamp = format!("2026:05:09 {:02}:{:02}:{:02}", s / 3600 % 24, s / 60 % 60, s % 60);
    let exif = [
        (0x829A, Put::Ratio(1, 60)),
        (0x829D, Put::Ratio(8, 1)),
        (0x8827, Put::Short(&[200])),
        (0x9003, Put::Ascii(&stamp)),
        // A different picture each time: no two frames are copies of one another.
        (0x9286, Put::Long((seconds * 1000.0) as u32)),
    ];
    jpeg(&block(&[(0x010F, Put::Ascii("ACME")), (0x0110, Put::Ascii("ACME ONE"))], &exif), 600)
}

/// `count` frames, one every `interval` seconds from slot `slot` on, numbered from `number`.
pub fn shoot(folder: &Path, prefix: &str, number: u32, (slot, count): (u32, u32), interval: f64) {
    for i in 0..count {
        let name = format!("{prefix}{:04}.JPG", (number + i - 1) % 9999 + 1);
        put(folder, name, frame(0.3 + f64::from(slot + i) * interval));
    }
}

/// A rehearsal of the plan with these faults, in `into`.
pub fn rehearsed(into: &Path, faults: &[&str], seed: u64) -> Truth {
    let faults: Vec<Fault> = faults.iter().map(|text| Fault::parse(text).expect(text)).collect();
    let options = Options {
        seed,
        picture: (32, 32),
        thumbnail: (16, 16),
        draw: false,
        prefix: "WEIR".into(),
        ..Options::default()
    };
    rehearse(&plan(), &faults, &options, into).expect("a rehearsal")
}
