//! The plan of a run that is not over, and which frames are those of it.

use super::*;
use crate::evidence::{Cell, Frames, Row};
use crate::frames::{CardFile, FileKind, Folder, Shot, Stamp, StampSource};
use crate::units::Micros;
use std::ffi::OsString;

/// By hand: of 600 frames 2 % may be missing, which are 12; of the 60 that are there 12 are 20 %.
#[test]
fn a_share_of_the_run_is_one_of_the_whole_run() {
    let plan = Plan { frames: Some(600), ..Plan::default() };
    let share = |frames: usize| so_far(&plan, frames).tolerances["missing-slot"]["share_fault"];
    assert!((share(60) - 20.0).abs() < 1e-9 && (share(600) - 2.0).abs() < 1e-9);
    assert!((share(700) - 2.0).abs() < 1e-9, "frames beyond the plan make it no stricter");
    assert_eq!(so_far(&plan, 60).frames, None);
}

fn stamped(seconds: &[i64]) -> Frames {
    let mut frames = Frames::default();
    frames.card.folders.push(Folder { root: 0, path: "".into(), number: None });
    for s in seconds {
        let at = CivilTime::from_seconds(*s);
        let stamp = Stamp {
            at,
            resolution: Micros::SECOND,
            digits: 0,
            offset_min: None,
            source: StampSource::Original,
        };
        frames.rows.push(Row { stamp: Cell::Known(stamp), ..Row::default() });
        let name = OsString::from(format!("{s}.JPG")).into_boxed_os_str();
        let file = CardFile { folder: 0, name, bytes: 1, kind: FileKind::Jpeg };
        frames.card.shots.push(Shot { file, companions: Vec::new(), number: None });
    }
    frames
}

/// An hour of summer time is no rest; an hour and a half is.
#[test]
fn a_long_rest_parts_two_runs() {
    let plan = Plan { interval_s: Some(10.0), ..Plan::default() };
    let left = |seconds: &[i64]| {
        let (run, earlier) = current_run(&plan, stamped(seconds));
        (run.len(), earlier)
    };
    assert_eq!(left(&[0, 10, 20, 3630, 3640]), (5, 0));
    assert_eq!(left(&[0, 10, 20, 5430, 5440]), (2, 3));
}
