//! Several cameras in one audit: each is audited, the worst call counts, and what they share is told.

use lapseproof::audit::{AuditSet, Setting, StopAcross, Whose, carry_out_each};
use lapseproof::card::{Card, CardFile, FileKind, FileNumber, Folder, Shot};
use lapseproof::frames::{Camera, Cell, Frames, Row, Stamp, StampSource};
use lapseproof::plan::{ExposurePlan, Part, PartStart, Plan};
use lapseproof::units::{CivilTime, Micros};
use lapseproof::verdict::{Call, Strength};
use std::ffi::OsString;

/// Interval of the shoots, s.
const EVERY: f64 = 5.0;

/// One camera's frames: where they lie, how they are named and when it fired.
struct Shooting {
    folder: &'static str,
    letters: &'static str,
    number: u32,
    model: &'static str,
    serial: &'static str,
    /// What its clock is ahead of the true time, s.
    ahead_s: f64,
    /// Slots in which it fired, at the interval.
    slots: Vec<f64>,
    every_s: f64,
}

impl Default for Shooting {
    fn default() -> Self {
        Self {
            folder: "a",
            letters: "WEIR",
            number: 1,
            model: "ONE",
            serial: "",
            ahead_s: 0.0,
            slots: slots(120, &[]),
            every_s: EVERY,
        }
    }
}

fn slots(count: u32, missing: &[u32]) -> Vec<f64> {
    (0..count).filter(|k| !missing.contains(k)).map(f64::from).collect()
}

fn second() -> Shooting {
    Shooting { folder: "b", letters: "BANK", number: 501, model: "TWO", ..Shooting::default() }
}

/// The card of these cameras, in the order of folder and name, stamped in whole seconds from 04:10:00 on.
fn card(shootings: &[Shooting]) -> Frames {
    let mut folders: Vec<&str> = shootings.iter().map(|s| s.folder).collect();
    folders.sort_unstable();
    folders.dedup();
    let mut frames = Frames {
        card: Card {
            roots: vec!["card".into()],
            folders: folders.iter().map(|f| Folder { root: 0, path: (*f).into(), number: None }).collect(),
            ..Card::default()
        },
        ..Frames::default()
    };
    let start = CivilTime::from_calendar((2026, 5, 9), (4, 10, 0), 0).expect("a moment").micros();
    let mut all: Vec<(u32, String, Shot, Row)> = Vec::new();
    for shooting in shootings {
        let camera =
            Camera { maker: "ACME".into(), model: shooting.model.into(), serial: shooting.serial.into() };
        let index = frames.cameras.iter().position(|c| *c == camera).unwrap_or_else(|| {
            frames.cameras.push(camera);
            frames.cameras.len() - 1
        });
        let folder = folders.iter().position(|f| *f == shooting.folder).expect("one of them") as u32;
        for (n, slot) in shooting.slots.iter().enumerate() {
            let value = shooting.number + n as u32;
            let name = format!("{}{value:04}.JPG", shooting.letters);
            let seconds = (0.3 + slot * shooting.every_s + shooting.ahead_s).floor() as i64;
            let stamp = Stamp {
                at: CivilTime::from_micros(start + Micros::from_seconds(seconds)),
                resolution: Micros::SECOND,
                digits: 0,
                offset_min: None,
                source: StampSource::Original,
            };
            let shot = Shot {
                file: CardFile {
                    folder,
                    name: OsString::from(&name).into_boxed_os_str(),
                    bytes: 1_000_000 + u64::from(value),
                    kind: FileKind::Jpeg,
                },
                companions: Vec::new(),
                number: Some(FileNumber { value, digits: 4 }),
            };
            let row = Row {
                stamp: Cell::Known(stamp),
                exposure_s: Cell::Known(1.0 / 60.0),
                f_number: Cell::Known(8.0),
                iso: Cell::Known(200),
                size: Cell::Known((6000, 4000)),
                camera: Cell::Known(index as u16),
                print: u64::from(value) * 1000 + index as u64 * 100 + u64::from(folder) + 1,
                ..Row::default()
            };
            all.push((folder, name, shot, row));
        }
    }
    all.sort_by(|a, b| (a.0, &a.1).cmp(&(b.0, &b.1)));
    for (_, _, shot, row) in all {
        frames.card.shots.push(shot);
        frames.rows.push(row);
    }
    frames
}

fn audited(shootings: &[Shooting]) -> AuditSet {
    audited_under(Plan::default(), shootings)
}

fn audited_under(plan: Plan, shootings: &[Shooting]) -> AuditSet {
    carry_out_each(Setting { name: "cameras".into(), plan, ..Setting::default() }, card(shootings))
}

/// A camera's call, its frames, and the first slot and length of its holes.
type Told = (Call, usize, Vec<(i64, u64)>);

/// What each camera is told of.
fn told(set: &AuditSet) -> Vec<Told> {
    set.cameras
        .iter()
        .map(|c| {
            let evidence = &c.audit.evidence;
            let holes = evidence.timing.holes.iter().map(|h| (h.slot, h.slots)).collect();
            (c.audit.verdict.call, evidence.in_run().count(), holes)
        })
        .collect()
}

#[test]
fn two_good_cameras_are_clear() {
    let set = audited(&[Shooting::default(), second()]);
    assert_eq!(told(&set), [(Call::Clear, 120, vec![]), (Call::Clear, 120, vec![])]);
    assert_eq!(set.call(), Call::Clear);
    assert!(set.together.causes.is_empty() && set.together.reasons.is_empty());
    let clock = &set.together.clocks[0];
    assert!(clock.ahead_s.is_some_and(|s| s.abs() < 1.0), "{clock:?}");
    assert_eq!(clock.strength, Some(Strength::Sure), "start, end and clocks agree");
}

#[test]
fn one_camera_is_one_audit() {
    let set = audited(&[Shooting::default()]);
    assert!(set.single().is_some());
    assert_eq!(set.together, lapseproof::audit::Together::default());
}

#[test]
fn what_the_second_camera_lost_is_at_its_place() {
    for swapped in [false, true] {
        let lost = Shooting { slots: slots(120, &[50, 51, 52, 53]), ..second() };
        let cameras = [Shooting::default(), lost];
        let set = if swapped {
            let [mut a, mut b] = cameras;
            (a.folder, b.folder) = ("b", "a");
            audited(&[b, a])
        } else {
            audited(&cameras)
        };
        let (bad, good) = if swapped { (0, 1) } else { (1, 0) };
        let told = told(&set);
        assert_eq!(told[bad], (Call::Hold, 116, vec![(50, 4)]), "{told:?}");
        assert_eq!(told[good], (Call::Clear, 120, vec![]));
        assert_eq!(set.call(), Call::Hold);
        let [hole] = set.together.holes.as_slice() else { panic!("{:?}", set.together.holes) };
        assert_eq!((hole.slots, hole.whose), (4, Whose::Camera));
        assert_eq!(
            (hole.lacking.as_slice(), hole.fired.as_slice()),
            ([(bad, 50)].as_slice(), [good].as_slice())
        );
        assert_eq!(set.together.causes[0].code.name(), "camera-missed");
    }
}

/// Clocks 37 s and one hour apart, ahead and behind, and what the controller left out: the holes are matched
/// all the same.
#[test]
fn shared_holes_are_the_controllers_whatever_the_clocks_say() {
    for ahead_s in [0.0, 37.0, -37.0, 3600.0, -3600.0] {
        let a = Shooting { slots: slots(120, &[30, 31, 80]), ..Shooting::default() };
        let b = Shooting { slots: slots(120, &[30, 31, 80, 95]), ahead_s, ..second() };
        let set = audited(&[a, b]);
        let clock = &set.together.clocks[0];
        assert!(clock.ahead_s.is_some_and(|s| (s - ahead_s).abs() <= 1.0), "{ahead_s}: {clock:?}");
        assert_eq!(clock.strength, Some(Strength::Sure), "{ahead_s}: {clock:?}");
        let whose: Vec<_> = set.together.holes.iter().map(|h| (h.lacking[0].1, h.slots, h.whose)).collect();
        let (shared, own) = (Whose::Controller, Whose::Camera);
        assert_eq!(whose, [(30, 2, shared), (80, 1, shared), (95, 1, own)], "{ahead_s}");
        let causes: Vec<_> = set.together.causes.iter().map(|c| (c.code.name(), c.strength)).collect();
        assert_eq!(causes, [("controller-missed", Strength::Sure), ("camera-missed", Strength::Sure)]);
        assert!(set.together.causes[0].words.starts_with("Cameras A and B both lack 3 frames"));
        assert!(set.together.causes[1].words.starts_with("Camera B alone lacks 1 frame,"));
        assert_ne!(set.call(), Call::Clear);
    }
}

/// One hour of clock is said to be a time zone.
#[test]
fn whole_hours_are_named() {
    let set = audited(&[Shooting::default(), Shooting { ahead_s: 3600.0, ..second() }]);
    let words = &set.together.clocks[0].words;
    assert!(words.contains("1 h (3600 s) ahead of that of camera A, whole hours"), "{words}");
    let set = audited(&[Shooting::default(), Shooting { ahead_s: -37.0, ..second() }]);
    let words = &set.together.clocks[0].words;
    assert!(words.contains("37 s behind that of camera A."), "{words}");
    assert_eq!(set.together.clocks[0].strength, Some(Strength::Likely), "start and end alone");
}

/// Part of a hole is shared and part is not: each slot is told once.
#[test]
fn a_hole_that_is_shared_in_part() {
    let a = Shooting { slots: slots(120, &[40, 41]), ..Shooting::default() };
    let b = Shooting { slots: slots(120, &[40, 41, 42, 43]), ..second() };
    let set = audited(&[a, b]);
    let told: Vec<_> = set.together.holes.iter().map(|h| (h.slots, h.lacking.len(), h.whose)).collect();
    assert_eq!(told, [(2, 2, Whose::Controller), (2, 1, Whose::Camera)]);
}

/// The numbers skip: the camera fired and the files are gone. That says nothing of the controller.
#[test]
fn files_that_are_gone_are_no_trigger_that_was_missed() {
    let whole = second();
    let b = |number, slots: Vec<f64>| Shooting { number, slots, ..second() };
    let first: Vec<f64> = whole.slots[..60].to_vec();
    let rest: Vec<f64> = whole.slots[64..].to_vec();
    let set = audited(&[Shooting::default(), b(501, first), b(565, rest)]);
    assert_eq!(set.cameras.len(), 2);
    let [hole] = set.together.holes.as_slice() else { panic!("{:?}", set.together.holes) };
    assert_eq!((hole.slots, hole.whose, hole.files_lost), (4, Whose::Camera, true));
    assert_eq!(set.together.causes[0].code.name(), "files-lost");
    assert_ne!(set.call(), Call::Clear);
}

/// As many slots as `slots`, those from `at` on later by so many intervals.
fn stood(count: u32, stops: &[(u32, f64)]) -> Vec<f64> {
    let later = |k: u32| stops.iter().filter(|s| s.0 <= k).map(|s| s.1).sum::<f64>();
    (0..count).map(|k| f64::from(k) + later(k)).collect()
}

/// What is told of a set's stops: the cameras that stood, those that fired, and whose it is.
fn stops(set: &AuditSet) -> Vec<(Vec<usize>, Vec<usize>, Whose)> {
    let cameras = |s: &StopAcross| s.stood.iter().map(|c| c.0).collect();
    set.together.stops.iter().map(|s| (cameras(s), s.fired.clone(), s.whose)).collect()
}

/// 12 s of pause at 5 s: the grid comes back on another phase, whatever the clocks say.
#[test]
fn shared_stops_are_the_controllers_whatever_the_clocks_say() {
    for ahead_s in [0.0, 37.0, -37.0, 3600.0, 0.5] {
        let a = Shooting { slots: stood(120, &[(60, 2.4)]), ..Shooting::default() };
        let b = Shooting { slots: stood(120, &[(60, 2.4)]), ahead_s, ..second() };
        let set = audited(&[a, b]);
        assert_eq!(stops(&set), [(vec![0, 1], vec![], Whose::Controller)], "{ahead_s}");
        let stop = &set.together.stops[0];
        assert!((stop.pause_s - 12.0).abs() <= 1.0 && !stop.doubted, "{stop:?}");
        // The 60th frame, 295 s after 04:10:00.
        assert_eq!(stop.at.clock(), "04:14:55", "{ahead_s}");
        let [cause] = set.together.causes.as_slice() else { panic!("{:?}", set.together.causes) };
        assert_eq!((cause.code.name(), cause.strength), ("controller-stood", Strength::Sure), "{ahead_s}");
        assert!(
            cause.words.starts_with("Cameras A and B both stood for 12 s after 04:14:55"),
            "{}",
            cause.words
        );
    }
}

/// A stop of one camera alone, early, in the middle and late: the other one fired on.
#[test]
fn a_stop_that_one_camera_has_alone_is_its_own() {
    for (at, pause) in [(20, 2.4), (60, 2.4), (100, 2.4), (60, 0.7), (60, 13.5)] {
        for bad in [0, 1] {
            let one = [(at, pause)];
            let slots_of = |camera| stood(120, if camera == bad { &one } else { &[] });
            let a = Shooting { slots: slots_of(0), ..Shooting::default() };
            let b = Shooting { slots: slots_of(1), ..second() };
            let set = audited(&[a, b]);
            assert_eq!(stops(&set), [(vec![bad], vec![1 - bad], Whose::Camera)], "{at} {pause} {bad}");
            let cause = &set.together.causes[0];
            assert_eq!(cause.code.name(), "camera-stood");
            let (own, other) = [("A", "B"), ("B", "A")][bad];
            let begins = format!("Camera {own} alone stood for ");
            let ends = format!("; camera {other} fired meanwhile.");
            assert!(cause.words.starts_with(&begins) && cause.words.ends_with(&ends), "{}", cause.words);
            assert_ne!(set.call(), Call::Clear);
        }
    }
}

/// Both stood, one of them for longer: so long both did, and the rest is that one's own.
#[test]
fn a_stop_that_is_shared_in_part() {
    let a = Shooting { slots: stood(120, &[(60, 2.4)]), ..Shooting::default() };
    let b = Shooting { slots: stood(120, &[(60, 6.4)]), ..second() };
    let set = audited(&[a, b]);
    let shared = (vec![0, 1], vec![], Whose::Controller);
    assert_eq!(stops(&set), [shared, (vec![1], vec![0], Whose::Camera)]);
    let pauses: Vec<f64> = set.together.stops[0].stood.iter().map(|s| s.1.round()).collect();
    assert_eq!(pauses, [12.0, 32.0]);
}

/// Shared stops before and after one camera's own, which shifts its frames beside the other's from then on.
#[test]
fn stops_of_both_and_of_one() {
    let a = Shooting { slots: stood(160, &[(30, 2.4), (130, 5.6)]), ..Shooting::default() };
    // 3.4 slots later from its 81st frame on, so that its frame 127 is due after frame 130 of the other one.
    let b = Shooting { slots: stood(160, &[(30, 2.4), (80, 3.4), (127, 5.6)]), ..second() };
    let set = audited(&[a, b]);
    let both = || (vec![0, 1], vec![], Whose::Controller);
    assert_eq!(stops(&set), [both(), (vec![1], vec![0], Whose::Camera), both()]);
    let words: Vec<_> = set.together.causes.iter().map(|c| c.words.as_str()).collect();
    assert!(words[0].starts_with("Cameras A and B both stood 2 times, first for 12 s after"), "{words:?}");
    assert!(words[1].starts_with("Camera B alone stood for 17 s after"), "{words:?}");
}

/// Of three cameras two stood: a branch of the cable.
#[test]
fn two_of_three_cameras_stood() {
    let third = Shooting {
        folder: "c",
        letters: "LOCK",
        model: "THREE",
        slots: stood(120, &[(60, 2.4)]),
        ..Shooting::default()
    };
    let set =
        audited(&[Shooting::default(), Shooting { slots: stood(120, &[(60, 2.4)]), ..second() }, third]);
    assert_eq!(stops(&set), [(vec![1, 2], vec![0], Whose::Several)]);
    assert_eq!(set.together.causes[0].code.name(), "some-cameras-stood");
}

/// Where the plan begins a new part the timer stands on purpose, and nobody is to blame.
#[test]
fn a_planned_stop_is_nobodys() {
    let part = Part {
        from: PartStart::Frame(60),
        interval_s: None,
        exposure: ExposurePlan::default(),
        direction: None,
        note: None,
    };
    let plan = Plan { parts: vec![part], ..Plan::default() };
    let slots = || stood(120, &[(60, 2.4)]);
    let set = audited_under(
        plan,
        &[Shooting { slots: slots(), ..Shooting::default() }, Shooting { slots: slots(), ..second() }],
    );
    assert!(set.together.stops.is_empty(), "{:?}", set.together.stops);
}

/// Two timers at two intervals: whether the other one stood is not known.
#[test]
fn stops_of_cameras_that_cannot_be_compared() {
    let a = Shooting { slots: stood(120, &[(60, 2.4)]), ..Shooting::default() };
    let set = audited(&[a, Shooting { every_s: 7.0, ..second() }]);
    assert_eq!(stops(&set), [(vec![0], vec![], Whose::Unknown)]);
    assert!(set.together.causes.is_empty());
}

#[test]
fn three_cameras() {
    let third = Shooting {
        folder: "c",
        letters: "LOCK",
        model: "THREE",
        slots: slots(120, &[70]),
        ..Shooting::default()
    };
    let b = Shooting { slots: slots(120, &[70, 20]), ..second() };
    let set = audited(&[Shooting::default(), b, third]);
    let holes: Vec<_> = told(&set).into_iter().map(|t| t.2).collect();
    assert_eq!(holes, [vec![], vec![(20, 1), (70, 1)], vec![(70, 1)]]);
    let whose: Vec<_> =
        set.together.holes.iter().map(|h| (h.lacking.len(), h.fired.clone(), h.whose)).collect();
    assert_eq!(whose, [(1, vec![0, 2], Whose::Camera), (2, vec![0], Whose::Several)]);
    assert_ne!(set.call(), Call::Clear);
}

/// A phone in between: few frames, or many at no pace, are no camera. They lie outside, and their audit says
/// why.
#[test]
fn snaps_by_a_phone_are_no_camera() {
    let random = [2.2, 7.9, 9.0, 31.4, 33.1, 60.7, 61.0, 99.8];
    for (folder, count) in [("a", 1), ("a", 3), ("a", 8), ("p", 8)] {
        let phone = || Shooting {
            folder,
            letters: "IMG_",
            number: 4411,
            model: "PHONE",
            slots: random[..count].to_vec(),
            ..Shooting::default()
        };
        let set = audited(&[Shooting::default(), phone()]);
        let audit = set.single().unwrap_or_else(|| panic!("{folder} {count}: {} cameras", set.cameras.len()));
        assert_eq!(audit.evidence.in_run().count(), 120, "{folder} {count}");
        let outside: usize = audit.evidence.outside.iter().map(|o| o.span.len()).sum();
        assert_eq!(outside, count);
        assert!(audit.evidence.outside.iter().all(|o| o.why == "by another camera"));
        assert_eq!(set.call(), Call::Clear, "{folder} {count}");
        // Beside two cameras they lie with the one whose folder they are in.
        let set = audited(&[Shooting::default(), phone(), second()]);
        assert_eq!(told(&set), [(Call::Clear, 120, vec![]), (Call::Clear, 120, vec![])]);
        let outside: Vec<_> = set.cameras.iter().map(|c| !c.audit.evidence.outside.is_empty()).collect();
        assert_eq!(outside, [true, false]);
    }
}

/// Six frames at a pace could be a run.
#[test]
fn a_short_run_of_another_camera_is_a_camera() {
    for (count, cameras) in [(5, 1), (6, 2), (7, 2)] {
        let short = Shooting { slots: slots(count, &[]), every_s: 20.0, ..second() };
        assert_eq!(audited(&[Shooting::default(), short]).cameras.len(), cameras, "{count}");
    }
}

/// Two bodies of one model, without serial numbers: their own numbers run side by side.
#[test]
fn two_bodies_of_one_model_in_two_folders() {
    for (number, letters, ahead_s) in
        [(1, "WEIR", 0.0), (1, "WEIR", 37.0), (3000, "WEIR", 1.0), (9, "BANK", 0.0)]
    {
        let b = Shooting {
            folder: "b",
            number,
            letters,
            ahead_s,
            slots: slots(120, &[60, 61, 62]),
            ..Shooting::default()
        };
        let set = audited(&[Shooting::default(), b]);
        assert_eq!(
            told(&set),
            [(Call::Clear, 120, vec![]), (Call::Hold, 117, vec![(60, 3)])],
            "{letters}{number} {ahead_s}"
        );
    }
}

/// One body that goes on in a second folder, or shoots another job there later, is one camera.
#[test]
fn one_body_in_two_folders() {
    let half = |folder, number, from: u32| Shooting {
        folder,
        number,
        slots: (from..from + 60).map(f64::from).collect(),
        ..Shooting::default()
    };
    let set = audited(&[half("a", 1, 0), half("b", 61, 60)]);
    assert_eq!(told(&set), [(Call::Clear, 120, vec![])]);
    // The clock was set back when the folder was full: stamps overlap, numbers carry on.
    let set = audited(&[half("a", 1, 0), Shooting { ahead_s: -200.0, ..half("b", 61, 60) }]);
    assert!(set.single().is_some());
    assert_eq!(set.single().map(|a| a.evidence.frames.len()), Some(120));
    // In turn on two cards: the numbers always rise.
    let turn = |folder, of: u32| Shooting {
        folder,
        slots: (0..60).map(|k| f64::from(2 * k + of)).collect(),
        ..Shooting::default()
    };
    let mut frames = card(&[turn("a", 0), turn("b", 1)]);
    for (n, shot) in frames.card.shots.iter_mut().enumerate() {
        let value = 1 + 2 * (n as u32 % 60) + n as u32 / 60;
        shot.number = Some(FileNumber { value, digits: 4 });
        shot.file.name = OsString::from(format!("WEIR{value:04}.JPG")).into_boxed_os_str();
    }
    let set = carry_out_each(Setting::default(), frames);
    assert_eq!(told(&set), [(Call::Clear, 120, vec![])]);
}

/// The same model with two serial numbers in one folder, and two models whose names differ by their letters
/// alone.
#[test]
fn cameras_interleaved_in_one_folder() {
    for (model, serial) in [("ONE", "2202"), ("TWO", "")] {
        let a = Shooting { serial: "1101", ..Shooting::default() };
        let b = Shooting { folder: "a", model, serial, slots: slots(120, &[33, 34, 35]), ..second() };
        let set = audited(&[a, b]);
        assert_eq!(
            told(&set),
            [(Call::Hold, 117, vec![(33, 3)]), (Call::Clear, 120, vec![])],
            "BANK stands before WEIR"
        );
    }
}

/// Another body takes over inside a run, with the numbers going on: one run, and a change that is told.
#[test]
fn a_body_that_takes_over_is_the_same_camera() {
    let first = Shooting { serial: "1101", slots: slots(60, &[]), ..Shooting::default() };
    let rest = Shooting {
        serial: "2202",
        number: 61,
        slots: (60..120).map(f64::from).collect(),
        ..Shooting::default()
    };
    let set = audited(&[first, rest]);
    let audit = set.single().expect("one camera");
    assert_eq!(audit.evidence.in_run().count(), 120);
    let changed = audit.findings().into_iter().any(|f| f.check == "settings-change");
    assert!(changed && set.call() == Call::Hold);
}

/// Files without a serial number beside files of the same model that have one are of that body.
#[test]
fn a_serial_number_that_some_files_lack() {
    let mut frames = card(&[Shooting { serial: "1101", ..Shooting::default() }]);
    frames.cameras.push(Camera { maker: "ACME".into(), model: "ONE".into(), serial: String::new() });
    for row in frames.rows.iter_mut().skip(40).step_by(7) {
        row.camera = Cell::Known(1);
    }
    let set = carry_out_each(Setting::default(), frames);
    assert_eq!(told(&set)[0].1, 120, "no frame is left out");
    assert!(set.single().is_some_and(|a| a.evidence.outside.is_empty()));
}

/// One camera stopped before the other: its own frames do not show it.
#[test]
fn a_camera_that_stopped_before_the_other_is_a_reason_to_look() {
    let set = audited(&[Shooting::default(), Shooting { slots: slots(100, &[]), ..second() }]);
    assert_eq!(set.call(), Call::Look);
    assert_eq!(set.together.reasons.len(), 1);
    let words = &set.together.reasons[0].words;
    assert!(words.starts_with("Camera B stopped 20 frames before camera A"), "{words}");
    // A frame more or less is how two cameras are stopped by hand.
    let set = audited(&[Shooting::default(), Shooting { slots: slots(119, &[]), ..second() }]);
    assert_eq!(set.call(), Call::Clear);
    // Where the plan gives the count, the camera's own audit says so.
    let plan = Plan { interval_s: Some(EVERY), frames: Some(120), ..Plan::default() };
    let set = audited_under(plan, &[Shooting::default(), Shooting { slots: slots(100, &[]), ..second() }]);
    assert!(set.together.reasons.is_empty());
    assert_eq!(told(&set).iter().map(|t| t.0).collect::<Vec<_>>(), [Call::Clear, Call::Hold]);
}

/// Each camera was started and stopped by hand: two good runs, and no more than a guess at their clocks.
#[test]
fn cameras_that_were_started_by_hand_are_clear() {
    for (late, count) in [(7.46, 100), (30.2, 120), (13.9, 60)] {
        let b = Shooting { slots: (0..count).map(|k| late + f64::from(k)).collect(), ..second() };
        let set = audited(&[Shooting::default(), b]);
        assert_eq!(set.call(), Call::Clear, "{late}: {:?}", set.together);
        let b = Shooting {
            slots: (0..count)
                .map(|k| late + f64::from(k))
                .filter(|s| (*s - late - 20.0).abs() > 0.1)
                .collect(),
            ..second()
        };
        let set = audited(&[Shooting::default(), b]);
        assert_eq!(told(&set)[1].2, [(20, 1)]);
        assert_ne!(set.call(), Call::Clear);
        let sure = set.together.causes.iter().filter(|c| c.strength > Strength::Possible).count();
        assert!(sure == 0 || count == 120, "{:?}", set.together.causes);
    }
}

/// Files that a program wrote anew under names like a camera's, with the stamps of the others: no second
/// body.
#[test]
fn stamps_alike_to_the_hundredth_are_written_by_a_program() {
    let copy = Shooting { folder: "b", letters: "WORK", ..Shooting::default() };
    let mut frames = card(&[Shooting::default(), copy]);
    for (n, row) in frames.rows.iter_mut().enumerate() {
        let Cell::Known(stamp) = &mut row.stamp else { continue };
        (stamp.resolution, stamp.digits) = (Micros::step_of(2), 2);
        stamp.at = stamp.at.plus(Micros::new((n as i64 % 120) * 70_000 % 1_000_000));
    }
    assert_eq!(carry_out_each(Setting::default(), frames).cameras.len(), 1);
}

/// Two timers: nothing is compared, and nothing is claimed of who missed what.
#[test]
fn two_timers_are_not_compared() {
    let b = Shooting { every_s: 7.0, slots: slots(90, &[40, 41, 42]), ..second() };
    let set = audited(&[Shooting::default(), b]);
    assert_eq!(told(&set), [(Call::Clear, 120, vec![]), (Call::Hold, 87, vec![(40, 3)])]);
    let clock = &set.together.clocks[0];
    assert!(clock.ahead_s.is_none() && clock.words.contains("every 7 s and camera A every 5 s"), "{clock:?}");
    assert_eq!(set.together.holes[0].whose, Whose::Unknown);
    assert!(set.together.causes.is_empty());
}

/// Frames of the cameras add up to the card.
#[test]
fn every_frame_is_in_one_audit() {
    let cards = [
        vec![Shooting::default(), second()],
        vec![Shooting::default(), Shooting { slots: vec![3.3, 50.1], ..second() }],
    ];
    for shootings in cards {
        let all: usize = shootings.iter().map(|s| s.slots.len()).sum();
        assert_eq!(audited(&shootings).frames(), all);
    }
}

/// Numbers that only look like chance: the same on every machine (the generator of Lehmer, with the figures
/// of Park and Miller 1988).
struct Chance(u64);

impl Chance {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0 % n
    }
}

/// What a drawn card holds: for each camera its missing slots, and what its clock is ahead of the first
/// one's, s.
struct Drawn {
    shootings: Vec<Shooting>,
    missing: Vec<Vec<u32>>,
    ahead_s: Vec<f64>,
}

/// Two or three cameras on one controller, which missed some slots, each with some more of its own; clocks as
/// they come. Intervals are well above the clock's step, and holes lie apart from the ends, so that each
/// camera's own audit places them.
fn drawn(seed: u64) -> Drawn {
    let mut chance = Chance(seed * 7919 + 1);
    let count = 80 + chance.below(120) as u32;
    let every_s = [3.0, 5.0, 8.0, 12.0, 20.0, 30.0][chance.below(6) as usize];
    let cameras = 2 + chance.below(2) as usize;
    let holes = |chance: &mut Chance, most: u64| -> Vec<u32> {
        let mut all = Vec::new();
        for _ in 0..chance.below(most + 1) {
            let (at, long) = (10 + chance.below(u64::from(count) - 30) as u32, 1 + chance.below(6) as u32);
            all.extend(at..at + long);
        }
        all
    };
    let shared = holes(&mut chance, 3);
    // Serial numbers; names in a folder each; names in one folder; nothing but numbers that run side by side.
    let bodies = chance.below(4);
    let one_model = matches!(bodies, 0 | 3);
    let mut card = Drawn { shootings: Vec::new(), missing: Vec::new(), ahead_s: Vec::new() };
    for n in 0..cameras {
        let mut missing = [shared.clone(), holes(&mut chance, 2)].concat();
        missing.sort_unstable();
        missing.dedup();
        let ahead_s = match chance.below(4) {
            _ if n == 0 => 0.0,
            0 => 0.0,
            // Bodies that nothing else tells apart have to run side by side on their clocks, too.
            n if n == 1 || bodies == 3 => 37.0,
            2 => 3600.0,
            _ => chance.below(400) as f64 - 200.0,
        };
        card.shootings.push(Shooting {
            folder: if bodies == 2 { "a" } else { ["a", "b", "c"][n] },
            letters: if one_model { "WEIR" } else { ["BANK", "LOCK", "WEIR"][n] },
            number: 1 + chance.below(4000) as u32,
            model: if one_model { "ONE" } else { ["ONE", "TWO", "THREE"][n] },
            serial: if bodies == 0 { ["1", "2", "3"][n] } else { "" },
            ahead_s,
            slots: slots(count, &missing),
            every_s,
        });
        card.ahead_s.push(ahead_s);
        card.missing.push(missing);
    }
    card
}

/// Each camera of a drawn card is audited as it is by itself; every hole stands at its place; and where the
/// comparison says that it is sure, clocks and holes are what they were.
#[test]
fn drawn_cards_are_told_as_they_were_drawn() {
    let rounds = std::env::var("LAPSEPROOF_ROUNDS").ok().and_then(|n| n.parse().ok()).unwrap_or(60_u64);
    let (mut compared, mut sure, mut likely, mut wrong) = (0, 0, 0, Vec::new());
    for seed in 1..=rounds {
        let drawn = drawn(seed);
        let set = audited(&drawn.shootings);
        assert_eq!(set.cameras.len(), drawn.shootings.len(), "seed {seed}");
        for (n, own) in set.cameras.iter().enumerate() {
            let mut alone = card(std::slice::from_ref(&drawn.shootings[n]));
            alone.cameras = own.audit.evidence.frames.cameras.clone();
            let camera = own.audit.evidence.frames.rows[0].camera;
            alone.rows.iter_mut().for_each(|row| row.camera = camera);
            let alone = lapseproof::audit::carry_out(Setting::default(), alone);
            assert_eq!(own.audit.verdict.call, alone.verdict.call, "seed {seed}, camera {n}");
            let holes = &own.audit.evidence.timing.holes;
            assert_eq!(holes, &alone.evidence.timing.holes, "seed {seed}, camera {n}");
            let slots: Vec<i64> = holes.iter().flat_map(|h| h.slot..h.slot + h.slots as i64).collect();
            let drawn: Vec<i64> = drawn.missing[n].iter().map(|k| i64::from(*k)).collect();
            assert_eq!(slots, drawn, "seed {seed}, camera {n}");
            assert!(drawn.is_empty() || set.call() != Call::Clear, "seed {seed}");
        }
        let mut all_right = true;
        for clock in &set.together.clocks {
            compared += 1;
            let right = clock.ahead_s.is_some_and(|s| (s - drawn.ahead_s[clock.camera]).abs() <= 1.0);
            all_right &= right;
            sure += usize::from(clock.strength == Some(Strength::Sure));
            likely += usize::from(clock.strength == Some(Strength::Likely));
            if !right {
                wrong.push((seed, clock.strength));
            }
        }
        for hole in set.together.holes.iter().filter(|_| all_right) {
            let slot = hole.lacking[0].1 as u32;
            let lacking: Vec<usize> =
                (0..drawn.missing.len()).filter(|n| drawn.missing[*n].contains(&slot)).collect();
            assert_eq!(
                hole.lacking.iter().map(|l| l.0).collect::<Vec<_>>(),
                lacking,
                "seed {seed}, slot {slot}"
            );
        }
        let told: u64 = set.together.holes.iter().map(|h| h.slots).sum();
        let mut each: Vec<u32> = drawn.missing.concat();
        each.sort_unstable();
        each.dedup();
        assert!(!all_right || told == each.len() as u64, "seed {seed}: each slot is told once");
    }
    println!("{compared} clocks compared: {sure} sure, {likely} likely, {} wrong: {wrong:?}", wrong.len());
    assert!(wrong.iter().all(|w| w.1 < Some(Strength::Likely)), "sure and likely are right: {wrong:?}");
    assert!(wrong.len() * 50 <= compared, "{wrong:?}");
}

/// Snaps by a phone at random moments, few or many, in a handful of bursts or not: hardly ever a camera.
#[test]
fn random_snaps_are_hardly_ever_a_camera() {
    let rounds = std::env::var("LAPSEPROOF_ROUNDS").ok().and_then(|n| n.parse().ok()).unwrap_or(200_u64);
    let mut cameras = Vec::new();
    for seed in 1..=rounds {
        let mut chance = Chance(seed * 104_729 + 3);
        let count = 1 + chance.below(40);
        let mut at = chance.below(60) as f64;
        let mut moments = Vec::new();
        for _ in 0..count {
            // From a second to a quarter of an hour, each tenfold as likely as the next.
            let u = chance.below(10_000) as f64 / 10_000.0;
            at += 10_f64.powf(3.0 * u);
            moments.push((at / EVERY * 10.0).round() / 10.0);
        }
        let phone = Shooting {
            folder: "p",
            letters: "IMG_",
            number: 4411,
            model: "PHONE",
            slots: moments,
            ..Shooting::default()
        };
        let run = Shooting { slots: slots(400, &[]), ..Shooting::default() };
        if audited(&[run, phone]).cameras.len() > 1 {
            cameras.push((seed, count));
        }
    }
    println!("{} of {rounds} phones were taken for a camera: {cameras:?}", cameras.len());
    assert!(cameras.len() as u64 * 50 <= rounds, "{cameras:?}");
}
