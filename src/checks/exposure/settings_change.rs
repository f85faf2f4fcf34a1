//! Settings that change inside the run: picture, camera, lens, colour, mode.

use crate::checks::common::{PRACTICE, beside, clock_of, count, drawn_together, not_of_the_run, opinion};
use crate::checks::{Case, Check};
use crate::evidence::{Camera, CardFile, FileKind, FrameView, Row, Sequence};
use crate::finding::{
    About, ClipEffect, Direction, Finding, Limit, LimitKey, Opinion, Severity, Text, Traits,
};
use crate::schedule::Schedule;
use crate::units::{Figure, shown};
use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::path::Path;

/// The word for width and height.
const SIZE: &str = "picture size";

const TEXT: Text = Text {
    id: "settings-change",
    finds: "changed settings",
    asks: "Do the settings besides exposure stay the same through the run?",
    why: "Another size, orientation or camera breaks the clip at that frame. A changed white balance, zoom \
          or exposure mode shows as a jump of colour, frame or brightness.",
    how: "Each frame of the run is compared with the last frame that gave the setting. Compared are size, \
          orientation, camera, focal length, white balance, exposure mode and program. Size is compared with \
          the last file of the same kind, because a raw and a JPEG of one camera may differ. What a part of \
          the plan changes on purpose is exempt, but not size, orientation or camera.",
    blind: "Settings that the file does not give. A white balance that drifts while it stays on automatic.",
    remedy: "Cut the clip at the change, or level it in post. Before the next run, lock the settings and the \
             zoom, and turn off automatic rotation.",
    source: "Exif (CIPA DC-008): tags 0112, 0110, A431, 920A, A403, A402, 8822. Levels: common practice, no \
             source.",
    traits: Traits { about: About::Light, in_the_clip: ClipEffect::Jolts, ..Traits::PLAIN },
};

const CHANGES: LimitKey = LimitKey::new("changes");
const PICTURE: LimitKey = LimitKey::new("picture");

const LIMITS: &[Limit] = &[
    Limit {
        key: CHANGES,
        unit: "changes of a setting inside the run",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: PICTURE,
        unit: "changes of size, orientation or camera inside the run",
        direction: Direction::AtLeast,
        caution: None,
        fault: Some(1.0),
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[], judge };

/// A setting, and how a row tells it: its words where it is known.
struct Setting {
    word: &'static str,
    /// True where the clip breaks at a change.
    breaks: bool,
    same: fn(&Sequence, &Row, &Row) -> Option<bool>,
    known: fn(FrameView<'_>) -> bool,
    text: fn(&Sequence, &Row) -> String,
}

fn pair<T>(a: Option<T>, b: Option<T>, same: impl Fn(T, T) -> bool) -> Option<bool> {
    Some(same(a?, b?))
}

const SETTINGS: [Setting; 7] = [
    Setting {
        word: SIZE,
        breaks: true,
        same: |_, a, b| pair(a.size.known(), b.size.known(), |a, b| a == b),
        known: |frame| frame.row().size.as_known().is_some(),
        text: |_, row| row.size.known().map_or_else(String::new, |(w, h)| format!("{w} × {h} px")),
    },
    Setting {
        word: "orientation",
        breaks: true,
        same: |_, a, b| pair(a.orientation.known(), b.orientation.known(), |a, b| a == b),
        known: |frame| frame.row().orientation.as_known().is_some(),
        text: |_, row| row.orientation.known().map_or_else(String::new, orientation),
    },
    Setting {
        word: "camera",
        breaks: true,
        same: |e, a, b| pair(camera(e, a), camera(e, b), same_camera),
        known: |frame| frame.row().camera.as_known().is_some(),
        text: |e, row| camera(e, row).map_or_else(String::new, camera_text),
    },
    Setting {
        word: "focal length",
        breaks: false,
        same: |_, a, b| {
            pair(a.focal_mm.known(), b.focal_mm.known(), |a, b| (a - b).abs() <= 0.005 * a.abs().max(b.abs()))
        },
        known: |frame| frame.focal_mm().is_some(),
        text: |_, row| {
            row.focal_mm.known().map_or_else(String::new, |mm| format!("{mm:.1} mm").replace(".0 mm", " mm"))
        },
    },
    Setting {
        word: "white balance",
        breaks: false,
        same: |_, a, b| pair(a.white_balance.known(), b.white_balance.known(), |a, b| a == b),
        known: |frame| frame.row().white_balance.as_known().is_some(),
        text: |_, row| named(row.white_balance.known(), &["automatic", "manual"]),
    },
    Setting {
        word: "exposure mode",
        breaks: false,
        same: |_, a, b| pair(a.exposure_mode.known(), b.exposure_mode.known(), |a, b| a == b),
        known: |frame| frame.row().exposure_mode.as_known().is_some(),
        text: |_, row| named(row.exposure_mode.known(), &["automatic", "manual", "bracketed"]),
    },
    Setting {
        word: "exposure program",
        breaks: false,
        same: |_, a, b| pair(a.program.known(), b.program.known(), |a, b| a == b),
        known: |frame| frame.row().program.as_known().is_some(),
        text: |_, row| {
            let words = [
                "undefined",
                "manual",
                "normal",
                "aperture priority",
                "shutter priority",
                "creative",
                "action",
            ];
            named(row.program.known(), &words)
        },
    },
];

fn named(value: Option<u8>, words: &[&str]) -> String {
    match value {
        Some(v) => words.get(usize::from(v)).map_or_else(|| format!("{v}"), |w| (*w).to_owned()),
        None => String::new(),
    }
}

fn orientation(value: u8) -> String {
    match value {
        1 => "upright".into(),
        3 => "upside down".into(),
        6 => "turned 90° clockwise".into(),
        8 => "turned 90° anticlockwise".into(),
        other => format!("{other}"),
    }
}

fn camera<'a>(evidence: &'a Sequence, row: &Row) -> Option<&'a Camera> {
    evidence.frames.cameras.get(usize::from(row.camera.known()?))
}

/// A frame that tells no serial number may be any camera's of that model.
fn same_camera(a: &Camera, b: &Camera) -> bool {
    a.maker == b.maker
        && a.model == b.model
        && (a.serial == b.serial || a.serial.is_empty() || b.serial.is_empty())
}

fn camera_text(camera: &Camera) -> String {
    let serial = if camera.serial.is_empty() { String::new() } else { format!(" no. {}", camera.serial) };
    shown(&format!("{} {}{serial}", camera.maker, camera.model))
}

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let changes: Vec<_> = SETTINGS.iter().map(|setting| changes(evidence, case.schedule, setting)).collect();
    let of = |breaks: bool| {
        let counted = SETTINGS.iter().zip(&changes).filter(|(s, _)| !breaks || s.breaks);
        counted.map(|(_, c)| c.len()).sum::<usize>() as f64
    };
    let any = case.limits.weigh(CHANGES, of(false));
    let picture = case.limits.weigh(PICTURE, of(true));
    let mut findings = Vec::new();
    for (setting, changes) in SETTINGS.iter().zip(&changes) {
        let weight = any.into_iter().chain(picture.filter(|_| setting.breaks)).max_by_key(|w| w.0);
        let told = changes.iter().map(|pair| told(evidence, setting, *pair, weight));
        findings.extend(drawn_together(told, |many| {
            format!("The {} changes {many} times inside the run.", setting.word)
        }));
    }
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| {
        let tells = SETTINGS.iter().any(|s| (s.known)(evidence.frame(at)));
        not_of_the_run(evidence, at).or_else(|| (!tells).then_some("no settings in the file"))
    })
}

/// What pictures have to share before their sizes can be compared: the container, and whether it holds the
/// camera's raw.
fn kind(file: &CardFile) -> (FileKind, bool) {
    let extension = Path::new(&*file.name).extension().and_then(OsStr::to_str);
    (file.kind, extension.is_some_and(FileKind::is_raw_name))
}

/// Neighbours that tell a setting, where it changes. Neighbours in size are those of one kind of file.
fn changes(evidence: &Sequence, schedule: &Schedule, setting: &Setting) -> Vec<(usize, usize)> {
    let mut last: BTreeMap<Option<(FileKind, bool)>, FrameView<'_>> = BTreeMap::new();
    let mut found = Vec::new();
    for frame in evidence.run().filter(|frame| (setting.known)(*frame)) {
        // Of a raw that is damaged the JPEG beside it may have told the size.
        if setting.word == SIZE && frame.row().damage.is_some() {
            continue;
        }
        let of = (setting.word == SIZE).then(|| kind(&frame.shot().file));
        if let Some(before) = last.insert(of, frame) {
            let differs = (setting.same)(evidence, before.row(), frame.row()) == Some(false);
            let exempt = !setting.breaks && differs && schedule.begins_between(before.at(), frame.at());
            if differs && !exempt {
                found.push((before.at(), frame.at()));
            }
        }
    }
    found
}

fn told(
    evidence: &Sequence,
    setting: &Setting,
    (before, after): (usize, usize),
    weight: Option<(Severity, f64)>,
) -> Finding {
    let (a, b) = (evidence.frame(before).row(), evidence.frame(after).row());
    let (was, now) = ((setting.text)(evidence, a), (setting.text)(evidence, b));
    let (a, b) = (a.size.known(), b.size.known());
    let swapped = setting.word == SIZE && a.zip(b).is_some_and(|(a, b)| a == (b.1, b.0));
    let message = format!(
        "The {} changes from {was} to {now}{} between {} and {}{}.",
        setting.word,
        if swapped { ", turned by a quarter," } else { "" },
        evidence.frame(before).name(),
        evidence.frame(after).name(),
        clock_of(evidence, after),
    );
    Finding::new(TEXT.id, weight.map_or(Severity::Note, |w| w.0), message)
        .between(before, after)
        .at(evidence.frame(after).moment())
        .figure("setting", Figure::Text(setting.word.to_owned()))
        .figure("before", Figure::Text(was))
        .figure("after", Figure::Text(now))
        .figure("changes", weight.map_or_else(|| count(1), |w| beside(1.0, Some(w.1))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, every, found, judged, severities, tolerating};
    use crate::evidence::{Cell, FrameState};
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::{ExposurePlan, Part, PartStart, Plan};

    fn changed(change: impl Fn(&mut Row)) -> Sequence {
        Sketch::steady(40, 10.0).change(20..40, change).evidence()
    }

    #[test]
    fn stays_quiet_where_nothing_changes_or_is_not_told() {
        assert!(found(&CHECK, &every(10.0), &Sketch::steady(40, 10.0).evidence()).is_empty());
        assert!(found(&CHECK, &every(10.0), &changed(|row| row.size = Cell::Unreadable)).is_empty());
        // Before the run another size is nobody's concern.
        let evidence = Sketch::steady(40, 10.0)
            .change(0..3, |row| row.size = Cell::Known((600, 400)))
            .state(0..3, FrameState::Outside)
            .evidence();
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
    }

    #[test]
    fn colour_lens_and_mode_are_cautions() {
        let evidence = changed(|row| {
            row.white_balance = Cell::Known(0);
            row.focal_mm = Cell::Known(35.0);
            row.exposure_mode = Cell::Known(0);
            row.program = Cell::Known(3);
        });
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!(findings.iter().map(|f| f.severity).collect::<Vec<_>>(), [Caution; 4]);
        assert_eq!((findings[0].first, findings[0].last), (Some(19), Some(20)));
        assert!(
            findings[0].message.contains("focal length changes from 24 mm to 35 mm"),
            "{}",
            findings[0].message
        );
    }

    #[test]
    fn width_and_height_that_change_places_are_told_as_a_turn() {
        let turned = Sketch::steady(40, 10.0)
            .change(0..40, |row| row.size = Cell::Known((6000, 4000)))
            .change(20..21, |row| row.size = Cell::Known((4000, 6000)));
        let findings = found(&CHECK, &every(10.0), &turned.evidence());
        assert!(findings[0].message.contains("turned by a quarter"), "{findings:?}");
        let smaller = changed(|row| row.size = Cell::Known((3000, 2000)));
        let findings = found(&CHECK, &every(10.0), &smaller);
        assert!(!findings[0].message.contains("turned"), "{findings:?}");
    }

    /// A card of raw beside JPEG of which some frames are raw alone and some JPEG alone: their sizes differ
    /// by their kind. DCF (CIPA DC-009) names the files of one shot alike whatever their size.
    #[test]
    fn raw_beside_a_smaller_jpeg_is_no_change_of_size() {
        let mixed = || {
            let mut evidence = Sketch::steady(40, 10.0).evidence();
            for at in (0..40).filter(|at| at % 3 != 0) {
                evidence.frames.rows[at].size = Cell::Known((6720, 4480));
                let file = &mut evidence.frames.card.shots[at].file;
                file.name = std::ffi::OsString::from(format!("TIDE{:04}.CR3", at + 1)).into_boxed_os_str();
                file.kind = FileKind::Cr3;
            }
            evidence
        };
        assert!(found(&CHECK, &every(10.0), &mixed()).is_empty());
        // A raw in a TIFF's structure and a rendered TIFF are of two kinds.
        let mut evidence = Sketch::steady(40, 10.0).evidence();
        for (at, shot) in evidence.frames.card.shots.iter_mut().enumerate() {
            shot.file.kind = FileKind::Tiff;
            let (extension, size) = if at == 7 { ("TIF", (3000, 2000)) } else { ("NEF", (6000, 4000)) };
            shot.file.name = std::ffi::OsString::from(format!("TIDE{at:04}.{extension}")).into_boxed_os_str();
            evidence.frames.rows[at].size = Cell::Known(size);
        }
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
        // Of a damaged raw the JPEG beside it told the size.
        let mut evidence = mixed();
        evidence.frames.rows[10].size = Cell::Known((3000, 2000));
        evidence.frames.rows[10].damage = crate::evidence::Damage::Broken("no directory".into());
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
        // The JPEG among them that turn small are a change all the same, at their own neighbours.
        let mut evidence = mixed();
        for at in (21..40).step_by(3) {
            evidence.frames.rows[at].size = Cell::Known((3000, 2000));
        }
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!(findings.iter().map(|f| f.severity).collect::<Vec<_>>(), [Fault]);
        assert_eq!((findings[0].first, findings[0].last), (Some(18), Some(21)));
    }

    #[test]
    fn size_orientation_and_camera_are_faults() {
        assert_eq!(
            severities(&CHECK, &every(10.0), &changed(|row| row.size = Cell::Known((3000, 2000)))),
            [Fault]
        );
        assert_eq!(
            severities(&CHECK, &every(10.0), &changed(|row| row.orientation = Cell::Known(6))),
            [Fault]
        );
        let mut evidence = changed(|row| row.camera = Cell::Known(1));
        let camera =
            |serial: &str| Camera { maker: "Maker".into(), model: "Model".into(), serial: serial.into() };
        evidence.frames.cameras = vec![camera("1"), camera("2")];
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Fault]);
        evidence.frames.cameras = vec![camera("1"), camera("")];
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
    }

    #[test]
    fn a_part_exempts_the_zoom_but_not_the_size() {
        let part = Part {
            from: PartStart::Frame(20),
            interval_s: None,
            exposure: ExposurePlan::default(),
            direction: None,
            note: None,
        };
        let plan = Plan { parts: vec![part], ..every(10.0) };
        assert!(found(&CHECK, &plan, &changed(|row| row.focal_mm = Cell::Known(35.0))).is_empty());
        assert_eq!(severities(&CHECK, &plan, &changed(|row| row.size = Cell::Known((3000, 2000)))), [Fault]);
    }

    #[test]
    fn below_at_and_above_a_level() {
        for (changes, severity) in [(1, Note), (2, Caution), (3, Caution)] {
            let mut sketch = Sketch::steady(40, 10.0);
            for k in 0..changes {
                sketch =
                    sketch.change(5 * (k + 1)..40, |row| row.focal_mm = Cell::Known(30.0 + 5.0 * k as f32));
            }
            let plan = tolerating(every(10.0), TEXT.id, "caution", 2.0);
            assert_eq!(severities(&CHECK, &plan, &sketch.evidence()), vec![severity; changes]);
        }
    }

    #[test]
    fn many_changes_are_drawn_together() {
        let mut sketch = Sketch::steady(40, 10.0);
        for (k, row) in sketch.rows.iter_mut().enumerate() {
            row.white_balance = Cell::Known((k % 2) as u8);
        }
        let findings = found(&CHECK, &every(10.0), &sketch.evidence());
        assert_eq!((findings.len(), findings[0].count), (1, 39));
    }

    #[test]
    fn frames_that_tell_nothing_are_set_aside() {
        let evidence = changed(|row| *row = Row::default());
        assert_eq!(judged(&CHECK, &every(10.0), &evidence).looked_at, 20);
    }
}
