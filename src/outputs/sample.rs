//! A small audit made by hand, for the tests of the outputs: a weir shot every 12 s, one test shot before the
//! run, two slots missing, one surplus frame and a damaged one at the end.

use crate::audit::Audit;
use crate::evidence::exposure::{ExposureTrack, Settings};
use crate::evidence::testing::NO_SLOT;
use crate::evidence::timing::{Cadence, Hole, HoleCause, Standing, Stretch, TimerLaw, Timing};
use crate::evidence::{
    Camera, CardFile, Cell, Damage, FileKind, FileNumber, FrameState, Frames, Outside, Row, Sequence, Shot,
    Stamp, StampSource,
};
use crate::finding::{
    Answer, CauseCode, ClipEffect, Direction, Doubt, Finding, InForce, Judgement, Limit, LimitKey, Needed,
    Quality, Severity, Text, Tolerated, Traits,
};
use crate::frames::{Card, Folder, PassedOver, Pictures};
use crate::plan::Plan;
use crate::schedule::Schedule;
use crate::units::{CivilTime, Figure, FrameSpan, Measured, Micros};
use crate::verdict::{Call, Incident, Reason, Usable, Verdict, Which};
use std::path::PathBuf;

const MISSING: Text = Text {
    id: "missing-slot",
    finds: "missing frames",
    asks: "Is there a frame in every slot?",
    why: "A hole is a jump in the clip.",
    how: "Slots are counted on the sequence's own grid.",
    blind: "Holes at the very end.",
    remedy: "Shoot again, or patch.",
    source: "common practice, no source",
    traits: Traits {
        in_the_clip: ClipEffect::Holes,
        needed: Needed::Yes { to_answer: "", of_stamped: false },
        own_lane: true,
        in_the_course: true,
        quality: Some(Quality::Frames),
        ..Traits::PLAIN
    },
};
const SETTINGS: Text = Text {
    id: "settings-change",
    finds: "changed settings",
    asks: "Did a setting change?",
    traits: Traits { in_the_clip: ClipEffect::Jolts, ..Traits::PLAIN },
    ..MISSING
};
const NUMBERS: Text = Text {
    id: "number-gap",
    finds: "a gap in the file numbers",
    asks: "Do the file numbers run on?",
    traits: Traits::PLAIN,
    ..MISSING
};
const LIMITS: [Limit; 1] = [Limit {
    key: LimitKey::new("slots"),
    unit: "missing slots",
    direction: Direction::AtLeast,
    caution: Some(1.0),
    fault: Some(2.0),
    source: "common practice, no source",
}];

fn start() -> CivilTime {
    CivilTime::from_calendar((2026, 5, 9), (4, 10, 0), 0).unwrap()
}

fn file(name: &str) -> CardFile {
    CardFile { folder: 0, name: std::ffi::OsString::from(name).into(), bytes: 1000, kind: FileKind::Jpeg }
}

fn frame(number: u32, seconds: Option<i64>) -> (Shot, Row) {
    let shot = Shot {
        file: file(&format!("WEIR{number:04}.JPG")),
        companions: Vec::new(),
        number: Some(FileNumber { value: number, digits: 4 }),
    };
    let row = Row {
        stamp: seconds.map_or(Cell::Absent, |s| {
            Cell::Known(Stamp {
                at: start().plus(Micros::from_seconds(s)),
                resolution: Micros::step_of(2),
                digits: 2,
                offset_min: Some(120),
                source: StampSource::Original,
            })
        }),
        exposure_s: Cell::Known(1.0 / 60.0),
        f_number: Cell::Known(8.0),
        iso: Cell::Known(200),
        camera: Cell::Known(0),
        ..Row::default()
    };
    (shot, row)
}

fn frames() -> Frames {
    let seconds = [Some(-300), Some(0), Some(12), Some(24), Some(60), Some(61), None];
    let (shots, mut rows): (Vec<_>, Vec<_>) = (11..).zip(seconds).map(|(n, s)| frame(n, s)).unzip();
    rows[6].damage = Damage::CutShort("no end of image".into());
    let mut shots = shots;
    shots[1].companions.push(file("WEIR0012.WAV"));
    Frames {
        looks: Vec::new(),
        card: Card {
            roots: vec![PathBuf::from("weir")],
            folders: vec![Folder { root: 0, path: PathBuf::from("100WEIR"), number: Some(100) }],
            shots,
            passed_over: vec![(PassedOver::Sidecar, 2)],
            trouble: Vec::new(),
        },
        rows,
        cameras: vec![Camera { maker: "=Maker".into(), model: "One".into(), serial: "7".into() }],
        cost: Default::default(),
        trouble: Vec::new(),
        moves: Vec::new(),
    }
}

fn timing() -> Timing {
    Timing {
        cadence: Some(Cadence {
            interval_s: 12.0,
            low_s: 11.99,
            high_s: 12.01,
            exact_s: Some((11.998, 12.002)),
            timing_error_s: 0.02,
            widening_s: 0.0,
            resolution_s: 0.01,
            law: TimerLaw::Open,
            stamped_at_close: false,
            per_exposure: None,
        }),
        standing: Standing::by_hand(
            vec![NO_SLOT, 0, 1, 2, 5, NO_SLOT, 6],
            vec![f32::NAN, 0.0, 0.0, -0.25, 0.0, f32::NAN, 0.0],
        ),
        stretches: vec![Stretch {
            first: 1,
            last: 6,
            frames: 5,
            first_slot: 0,
            last_slot: 6,
            interval_s: 12.0,
            low_s: 11.99,
            high_s: 12.01,
            phase: start(),
        }],
        holes: vec![Hole {
            before: 3,
            after: 4,
            slot: 3,
            slots: 2,
            gap_s: 36.0,
            numbers: Some(1),
            cause: HoleCause::TriggerMissed,
            doubt: Some((1, 2)),
            shots_beyond: None,
        }],
        slot_count: Some(7),
        number_advance: Some(1),
        written_resolution: Micros::step_of(2),
        unstamped: 1,
        ..Timing::default()
    }
}

/// The audit.
pub fn audit() -> Audit {
    let mut missing = Finding::new("missing-slot", Severity::Fault, "2 slots in a row hold no frame.")
        .count(2)
        .between(3, 4)
        .at(Some(start().plus(Micros::from_seconds(36))))
        .because(CauseCode::new("trigger-missed"), "The file numbers run on: the camera did not fire.")
        .figure("gap_s", Figure::Limited(Measured { value: 36.0, limit: Some(12.0) }))
        .figure("share", Figure::Number(f64::NAN));
    missing.marks.clear();
    missing.doubt = Some(Doubt { words: "One slot may be enough.".into(), count_low: 1, count_high: 2 });
    let setting = Finding::new("settings-change", Severity::Note, "=The white balance changed.")
        .on(FrameSpan { first: 2, last: 3 });
    let judge = |text, answer, looked_at, set_aside| Judgement {
        text,
        limits: InForce::new(&LIMITS, None),
        answer,
        looked_at,
        set_aside,
        tolerated: Tolerated::default(),
    };
    let exposure = Settings::by_hand(1.0 / 64.0, 8.0, 200.0);
    let brighter = Settings::by_hand(1.0 / 32.0, 8.0, 200.0);
    let plan = Plan { interval_s: Some(12.0), frames: Some(7), ..Plan::default() };
    let states = vec![
        FrameState::Outside,
        FrameState::Frame,
        FrameState::Frame,
        FrameState::Frame,
        FrameState::Frame,
        FrameState::Surplus,
        FrameState::Damaged,
    ];
    let settings = vec![exposure, exposure, exposure, brighter, brighter, brighter, brighter];
    let mut evidence = Sequence::by_hand(frames(), states, timing(), ExposureTrack::by_hand(settings));
    evidence.outside = vec![Outside { span: FrameSpan::one(0), why: "shot before the run".into() }];
    Audit {
        name: "Weir at dawn".into(),
        schedule: Schedule::of(&plan, &evidence),
        plan,
        plan_source: "compared with plan.toml, found with the frames".into(),
        evidence,
        judgements: vec![
            judge(&MISSING, Answer::Found(vec![missing]), 6, vec![(1, "not of the run".into())]),
            judge(&SETTINGS, Answer::Found(vec![setting]), 7, Vec::new()),
            judge(
                &NUMBERS,
                Answer::CannotJudge("the names are no camera's".into()),
                0,
                vec![(7, "the same".into())],
            ),
        ],
        verdict: Verdict {
            call: Call::Hold,
            reasons: vec![Reason {
                check: "missing-slot",
                severity: Severity::Fault,
                words: "2 of 7 slots hold no frame.".into(),
            }],
            usable: Some(Usable {
                span: FrameSpan { first: 1, last: 3 },
                frames: 3,
                clip_s: Some(0.12),
                patches: Vec::new(),
                agreed: 0,
            }),
            incidents: vec![Incident {
                code: "missing-slot",
                cause: None,
                severity: Severity::Fault,
                sentence: "2 of 7 slots hold no frame.".into(),
                to_do: "Look on the other card.".into(),
                findings: vec![Which { check: "missing-slot", nth: 0 }],
                rivals: Vec::new(),
            }],
            causes: Vec::new(),
            would_change: vec!["The two frames turning up on another card.".into()],
            timeline: vec!["04:10:00 the run begins.".into()],
        },
        pictures: Pictures::None,
    }
}

/// Takes away what can be unknown.
pub fn forget(audit: &mut Audit) {
    let timing = &mut audit.evidence.timing;
    timing.cadence = None;
    timing.slot_count = None;
    timing.no_grid = Some("no grid holds most of the frames".into());
    audit.verdict.usable = None;
    audit.plan = Plan::default();
    audit.schedule = Schedule::of(&audit.plan, &audit.evidence);
}
