use super::super::schema::{Keyed, lay};
use super::super::{
    Accepted, CardPlan, CountedFrom, DailyHours, DeliveryPlan, ExposureMode, ExposurePlan, FileSystem, Light,
    Moment, Part, PartStart, Planned, RigKind, RigPlan, Way, contradictions, forms,
};
use super::written::{EVERY_KEY, EXAMPLE};
use super::*;
use std::collections::BTreeMap;

pub(super) fn known() -> Vec<KnownCheck> {
    let keys = |names: &[&str]| names.iter().map(|k| (*k).to_owned()).collect();
    vec![
        KnownCheck { id: "missing-slot", keys: keys(&["caution", "fault", "share_fault"]) },
        KnownCheck { id: "short-run", keys: keys(&["caution", "fault", "share_fault"]) },
    ]
}

fn good(text: &str) -> Plan {
    read(text, "plan.toml", &known()).unwrap_or_else(|e| panic!("{e}"))
}

fn bad(text: &str) -> PlanErrors {
    read(text, "plan.toml", &known()).expect_err(text)
}

/// Place, offending text and what was meant, for each mistake.
fn told(text: &str) -> Vec<(usize, usize, String, Option<String>)> {
    bad(text).errors.into_iter().map(|e| (e.line, e.column, e.text, e.meant)).collect()
}

fn at(text: &str) -> Moment {
    forms::moment(text).expect("a moment")
}

#[test]
fn the_example_is_read_to_the_letter() {
    let want = Plan {
        name: Some("Harbour basin, falling tide".into()),
        interval_s: Some(12.0),
        frames: Some(601),
        start: Some(at("2026-05-09T04:10:00+02:00")),
        counted_from: Some(CountedFrom::Open),
        bracket: Some(1),
        exposure: ExposurePlan {
            mode: Some(ExposureMode::Locked),
            shutter_s: Some(Planned::Fixed(1.0 / 60.0)),
            aperture: Some(Planned::Fixed(8.0)),
            iso: Some(Planned::Fixed(200.0)),
            max_step_ev: Some(0.34),
            busy_s: Some(0.4),
            dark_frame: Some(false),
        },
        rig: RigPlan {
            travel_m: Some(0.9),
            step_m: Some(0.0015),
            speed_m_s: Some(0.02),
            settle_s: Some(0.5),
            ..RigPlan::default()
        },
        delivery: DeliveryPlan { fps: Some(25.0), length_s: Some(20.0), ..DeliveryPlan::default() },
        parts: vec![Part {
            from: PartStart::Moment(at("2026-05-09T05:00:00+02:00")),
            interval_s: Some(6.0),
            exposure: ExposurePlan::default(),
            direction: None,
            note: None,
        }],
        accepted: vec![Accepted {
            check: "missing-slot".into(),
            at: Some(at("2026-05-09T04:31:12")),
            file: None,
            count: None,
            reason: "lorry; agreed with the client".into(),
        }],
        tolerances: BTreeMap::from([("missing-slot".into(), BTreeMap::from([("caution".into(), 1.0)]))]),
        ..Plan::default()
    };
    assert_eq!(good(EXAMPLE), want);
    assert_eq!(good(&EXAMPLE.replace('\n', "\r\n")), want);
    assert_eq!(good(&format!("\u{FEFF}{EXAMPLE}")), want);
    assert_eq!(good(""), Plan::default());
    assert_eq!(contradictions(&want), []);
}

#[test]
fn every_key_is_read() {
    let plan = good(EVERY_KEY);
    assert_eq!((plan.interval_s, plan.frames, plan.run_s), (Some(12.0), Some(601), Some(7200.0)));
    assert_eq!(plan.start, Some(at("2026-05-09T04:10:00")));
    assert_eq!((plan.counted_from, plan.bracket), (Some(CountedFrom::Close), Some(3)));
    assert_eq!((plan.first.as_deref(), plan.last.as_deref()), (Some("TIDE0012.JPG"), Some("TIDE0612.JPG")));
    let hours = |from_s, to_s| DailyHours { from_s, to_s };
    assert_eq!(plan.active, [hours(25_200, 68_400), hours(79_200, 7200)]);
    assert_eq!((plan.light, plan.mains_hz), (Some(Light::Mains), Some(50.0)));
    let exposure = ExposurePlan {
        mode: Some(ExposureMode::Ramped),
        shutter_s: Some(Planned::Between(0.002, 4.0)),
        aperture: Some(Planned::Between(8.0, 2.8)),
        iso: Some(Planned::Fixed(200.0)),
        max_step_ev: Some(1.0 / 3.0),
        busy_s: Some(0.1),
        dark_frame: Some(true),
    };
    assert_eq!(plan.exposure, exposure);
    let rig = RigPlan {
        kind: Some(RigKind::Continuous),
        direction: Some(Way::Right),
        travel_m: Some(0.9),
        step_m: Some(0.0015),
        speed_m_s: Some(0.02),
        acceleration_m_s2: Some(0.2),
        settle_s: Some(0.0),
        trigger_lag_s: Some(0.05),
        waits: Some(true),
        battery_hours: Some(9.5),
        distance_m: Some(2.0),
        focal_length_m: Some(0.024),
        pixel_pitch_m: plan.rig.pixel_pitch_m,
        hours_range: Some(Planned::Between(4.0, 10.0)),
        temperature_c: Some(-5.0),
        interval_range_s: Some(Planned::Between(1.0, 3600.0)),
        interval_step_s: Some(1.0),
        step_range_m: Some(Planned::Between(0.0001, 0.05)),
        speed_range_m_s: Some(Planned::Between(0.001, 0.04)),
        wait_s: Some(11.5),
        wait_increment_s: Some(0.5),
        step_increment_m: Some(0.0001),
        sensor_diagonal_m: plan.rig.sensor_diagonal_m,
        declination_deg: Some(-16.7),
        star_trail_px: Some(2.0),
        pan_deg_s: Some(0.01),
    };
    assert_eq!(plan.rig, rig);
    let card =
        CardPlan { size_bytes: Some(64e9), frame_bytes: Some(25e6), file_system: Some(FileSystem::Fat32) };
    assert_eq!(plan.card, card);
    assert!((plan.rig.sensor_diagonal_m.expect("a diagonal") - 0.0433).abs() < 1e-12);
    assert!((plan.rig.pixel_pitch_m.expect("a pitch") - 5.97e-6).abs() < 1e-15);
    assert_eq!(
        plan.delivery,
        DeliveryPlan { fps: Some(24_000.0 / 1001.0), length_s: Some(20.0), patch_up_to: Some(2) }
    );
    assert_eq!(plan.document.title.as_deref(), Some("Falling tide"));
    assert_eq!(plan.document.scenario.as_deref(), Some("One tide.\nFrom the quay."));
    assert_eq!(plan.document.contact, ["Studio Example", "desk@studio.example"]);
    let changed = ExposurePlan {
        mode: Some(ExposureMode::Automatic),
        shutter_s: Some(Planned::Fixed(0.5)),
        aperture: Some(Planned::Fixed(11.0)),
        iso: Some(Planned::Between(200.0, 1600.0)),
        max_step_ev: Some(0.0),
        ..ExposurePlan::default()
    };
    let part = |from, interval_s, exposure, direction, note: &str| Part {
        from,
        interval_s,
        exposure,
        direction,
        note: Some(note.into()),
    };
    let zoom = PartStart::Moment(at("2026-05-09T05:40:00"));
    let parts = [
        part(PartStart::Frame(300), Some(6.0), changed, Some(Way::Left), "ND filter"),
        part(zoom, None, ExposurePlan::default(), None, "zoom"),
    ];
    assert_eq!(plan.parts, parts);
    assert_eq!(plan.accepted.first().and_then(|a| a.file.as_deref()), Some("TIDE0100.JPG"));
    let levels = plan.tolerances.get("short-run").expect("a table");
    assert_eq!((levels.get("caution"), levels.get("share_fault")), (Some(&2.5), Some(&-1.0)));
}

#[test]
fn a_part_begins_at_a_frame_a_moment_or_a_file() {
    for (written, from) in [
        ("40", Some(PartStart::Frame(40))),
        ("\"TIDE0041.JPG\"", Some(PartStart::File("TIDE0041.JPG".into()))),
        ("\"101TIDES/TIDE0041.CR2\"", Some(PartStart::File("101TIDES/TIDE0041.CR2".into()))),
        ("\"2026-05-09T05:40:00\"", Some(PartStart::Moment(at("2026-05-09T05:40:00")))),
        ("\"soon\"", None),
        ("\"2026-05-09T25:40:00.5\"", None),
    ] {
        let text = format!("interval = 6\n[[part]]\nfrom = {written}\n");
        match from {
            Some(from) => assert_eq!(good(&text).parts[0].from, from, "{written}"),
            None => assert_eq!(bad(&text).errors.len(), 1, "{written}"),
        }
    }
}

/// Each key of each table is known to the reader, stands in the test above, and refuses what is no value of
/// its kind.
#[test]
fn every_key_refuses_a_wrong_type() {
    for heading in ["", "[exposure]", "[rig]", "[card]", "[delivery]", "[[part]]", "[[accepted]]"] {
        let all = keys::of(heading);
        assert!(all.len() > 2, "{heading}");
        for key in all {
            let written = [format!("\n{key} = "), format!("[{key}]"), format!("[[{key}]]")];
            assert!(written.iter().any(|w| EVERY_KEY.contains(w.as_str())), "{key} is not in the test");
            // A list of a list is no value of any key.
            let errors = bad(&format!("{heading}\n{key} = [[]]\n")).errors;
            let mine =
                errors.iter().find(|e| e.line == 2).unwrap_or_else(|| panic!("{heading} {key}: {errors:?}"));
            assert!(mine.message.contains(key), "{}", mine.message);
            assert!(!mine.expected.is_empty());
        }
    }
}

/// Each row says its own key, lays its own key over another plan, and no other.
fn rows_are_their_own<S: Keyed + Clone + PartialEq + std::fmt::Debug>(full: &S, nothing: &S) {
    for key in S::KEYS {
        let said = key.said(full);
        assert!(said.is_some() && key.said(nothing).is_none(), "{}", key.name);
        let mut alone = nothing.clone();
        key.lay(full, &mut alone);
        for other in S::KEYS {
            let want = if other.name == key.name { said } else { None };
            assert_eq!(other.said(&alone), want, "{} by {}", other.name, key.name);
        }
        let mut same = full.clone();
        key.lay(nothing, &mut same);
        assert_eq!(&same, full, "{}", key.name);
    }
    let mut all = nothing.clone();
    lay(full, &mut all);
    let said = |of: &S| S::KEYS.iter().map(|key| format!("{:?}", key.said(of))).collect::<Vec<_>>();
    assert_eq!(said(&all), said(full));
    assert!(!S::SCHEMA.0.is_empty() && S::KEYS.iter().all(|key| !key.told().is_empty()));
}

#[test]
fn each_row_is_of_its_own_key() {
    let (full, nothing) = (good(EVERY_KEY), Plan::default());
    rows_are_their_own(&full, &nothing);
    rows_are_their_own(&full.exposure, &nothing.exposure);
    rows_are_their_own(&full.rig, &nothing.rig);
    rows_are_their_own(&full.card, &nothing.card);
    rows_are_their_own(&full.delivery, &nothing.delivery);
    rows_are_their_own(&full.document, &nothing.document);
    rows_are_their_own(&full.parts[0], &Part::from(full.parts[0].from.clone()));
}

#[test]
fn six_mistakes_at_once() {
    let text = r#"intervall = "12 s"
frames = 6.5
shutter = "1/60"

[exposure]
mode = "ramp"
aperture = f/8

[rig]
travel = 900
"#;
    let want = r#"tide/plan.toml:1:1: `intervall` is not a key of a plan
  |
1 | intervall = "12 s"
  | ^^^^^^^^^
  |
  = expected: one of name, interval, frames, run, start, counted_from, bracket, first, last, active, light, mains_hz, exposure, rig, card, delivery, part, accepted or tolerance
  = meant: interval

tide/plan.toml:2:10: `frames` cannot be 6.5
  |
2 | frames = 6.5
  |          ^^^
  |
  = expected: a whole number from 1 to 100000000, such as 600

tide/plan.toml:3:1: `shutter` is not a key of a plan
  |
3 | shutter = "1/60"
  | ^^^^^^^
  |
  = expected: one of name, interval, frames, run, start, counted_from, bracket, first, last, active, light, mains_hz, exposure, rig, card, delivery, part, accepted or tolerance
  = meant: [exposure] shutter

tide/plan.toml:6:8: `[exposure] mode` cannot be "ramp"
  |
6 | mode = "ramp"
  |        ^^^^^^
  |
  = expected: "locked", "ramped" or "automatic"
  = meant: "ramped"

tide/plan.toml:7:12: text needs quotes around it
  |
7 | aperture = f/8
  |            ^^^
  |
  = expected: "f/8"

tide/plan.toml:10:10: `[rig] travel` cannot be 900
   |
10 | travel = 900
   |          ^^^
   |
   = expected: a length with its unit: write "900 mm" (or cm, m, in, ft)

tide/plan.toml: 6 mistakes"#;
    let errors = read(text, "tide/plan.toml", &known()).expect_err("six");
    assert_eq!(errors.to_string(), want);
    let coloured = errors.coloured();
    assert!(coloured.contains('\u{1b}') && !want.contains('\u{1b}'));
    let mistake = errors.errors.first().expect("a mistake");
    assert_eq!((mistake.span.clone(), mistake.text.as_str()), (0..9, "intervall"));
}

#[test]
fn what_was_meant_is_told() {
    for (text, line, column, offending, meant) in [
        ("framse = 3", 1, 1, "framse", Some("frames")),
        ("fps = 25", 1, 1, "fps", Some("[delivery] fps")),
        ("[exposur]", 1, 2, "exposur", Some("[exposure]")),
        ("[part]\nfrom = 3", 1, 1, "[part]", Some("[[part]]")),
        ("[[rig]]", 1, 1, "[[rig]]", Some("[rig]")),
        ("[rig]\nframes = 600", 2, 1, "frames", Some("frames, above the first [table]")),
        ("[tolerance.missing-slots]", 1, 12, "missing-slots", Some("missing-slot")),
        ("[tolerance.missing-slot]\ncuation = 1", 2, 1, "cuation", Some("caution")),
        ("[tolerance]\nmissing-slot = 3", 2, 16, "3", Some("[tolerance.missing-slot]")),
        ("[[accepted]]\ncheck = \"short_run\"\nreason = \"r\"", 2, 9, "\"short_run\"", Some("short-run")),
        ("counted_from = \"closed\"", 1, 16, "\"closed\"", Some("\"close\"")),
        ("[exposure]\nmode = \"manual\"", 2, 8, "\"manual\"", Some("\"locked\"")),
        ("[exposure]\nmode = 3", 2, 8, "3", None),
        ("[exposure]\ndark_frame = True", 2, 14, "True", Some("true")),
        ("colour = 3", 1, 1, "colour", None),
    ] {
        let want = (line, column, offending.to_owned(), meant.map(str::to_owned));
        assert_eq!(told(text), [want], "{text}");
    }
}

#[test]
fn impossible_values() {
    for text in [
        "interval = 0",
        "interval = -12",
        "interval = nan",
        "interval = inf",
        "interval = 1e300",
        "interval = 07:00:00",
        "interval = \"0 s\"",
        "frames = 0",
        "frames = 99999999999999999999",
        "bracket = 100",
        "name = \" \"",
        "start = 2026-05-09",
        "start = \"soon\"",
        "active = [\"07:00-07:00\"]",
        "active = [7]",
        "mains_hz = 5",
        "exposure.shutter = [\"1/500\"]",
        "exposure.shutter = [1, 2, 3]",
        "exposure.shutter = []",
        "exposure.aperture = \"8.0 mm\"",
        "rig.speed = 20",
        "delivery.fps = 0",
        "tolerance.missing-slot.caution = inf",
        "tolerance.missing-slot.caution = \"1\"",
        "tolerance.missing-slot.caution = true",
        "part = [{ from = -1 }]",
        "part = [{ from = 3.5 }]",
        "accepted = [{ check = \"missing-slot\", reason = \"\" }]",
    ] {
        assert_eq!(told(text).len(), 1, "{text}: {:?}", told(text));
    }
    let both = told("exposure.shutter = [\"soon\", \"later\"]");
    assert_eq!(both.iter().map(|t| t.2.as_str()).collect::<Vec<_>>(), ["\"soon\"", "\"later\""]);
}

#[test]
fn keys_that_are_missing() {
    let messages = |text: &str| bad(text).errors.into_iter().map(|e| e.message).collect::<Vec<_>>();
    assert_eq!(messages("[[part]]\nnote = \"zoom\""), ["`[[part]] from` is missing"]);
    assert_eq!(
        messages("[[accepted]]\nat = 2026-05-09T04:31:12\n"),
        ["`[[accepted]] check` is missing", "`[[accepted]] reason` is missing"]
    );
    // A broken line may have been the one that is missed.
    assert_eq!(messages("[[part]]\nfrom 3\n"), ["this key has no value"]);
}

#[test]
fn mistakes_of_the_toml_itself() {
    let messages = |text: &str| bad(text).errors.into_iter().map(|e| (e.line, e.message)).collect::<Vec<_>>();
    let line = |n: usize, text: &str| (n, text.to_owned());
    // A key without a value does not hide what follows.
    assert_eq!(
        messages("frames: 3\r\nname = \"a\r\nstart = 2026-02-30T04:10:00\nfoo = 3\n"),
        [
            line(1, "this key has no value"),
            line(2, "this text is not closed"),
            line(3, "invalid date"),
            line(4, "`foo` is not a key of a plan")
        ]
    );
    // An open list is one mistake, however many lines it swallows.
    assert_eq!(
        messages("[exposure]\nshutter = [\"1/500\", \"4 s\"\naperture = 8.0\niso = 200\n"),
        [line(2, "this list is not closed")]
    );
    assert_eq!(messages("[exposure\nshutter = 3\n[rig]\nfoo = 1\n").len(), 2);
    assert_eq!(
        messages("shuter = 1/60"),
        [line(1, "`shuter` is not a key of a plan"), line(1, "text needs quotes around it")]
    );
    assert_eq!(messages("interval = 5\ninterval = 6"), [line(2, "`interval` is written twice")]);
    assert_eq!(messages("[rig]\nwaits = true\n[rig]\nfoo = 1").len(), 2);
    assert_eq!(messages("[exposure]\niso = 0200"), [line(2, "a number cannot begin with 0")]);
    assert_eq!(messages("interval = "), [line(1, "there is no value after the `=`")]);
    assert_eq!(messages("interval = “12 s”"), [line(1, "these quotes are not plain ones")]);
}

#[test]
fn untrusted_text_is_made_safe() {
    let text = "\"a\u{202E}b\" = 3\nname = \"\u{1b}[2J\"\nlight = \"\\u001B[31m\"\n";
    let errors = read(text, "pl\u{1b}an.toml", &known()).expect_err("mistakes");
    let shown = errors.to_string();
    assert_eq!(errors.errors.len(), 3);
    assert!(shown.chars().all(|c| c == '\n' || !(c.is_control() || c == '\u{202E}')), "{shown}");
    assert!(shown.contains("pl\\u{1B}an.toml:1:1: `a\\u{202E}b` is not a key"), "{shown}");
    // Columns are those of the file, whatever is shown.
    let late = read("rig = { \"\u{202E}\" = 1, foo = 2 }", "p", &known()).expect_err("mistakes");
    assert_eq!(late.errors.iter().map(|e| e.column).collect::<Vec<_>>(), [9, 18]);
}

#[test]
fn long_lines_and_many_mistakes_stay_short() {
    let long = format!("name = \"{}\"\nrig = {{ bar = 1 }}", "x".repeat(5000));
    assert!(bad(&long).to_string().len() < 1000);
    let wide = format!("rig = {{ {}zzz = 1 }}", (0..3000).map(|n| format!("k{n} = 1, ")).collect::<String>());
    let errors = bad(&wide);
    assert_eq!((errors.errors.len(), errors.more), (100, 2901));
    assert!(errors.to_string().len() < 100_000);
    assert!(errors.to_string().ends_with("plan.toml: 3001 mistakes, the first 100 are shown"));
    let rubbish = bad(&"x x\n".repeat(50_000));
    assert_eq!(rubbish.errors.len() + rubbish.more, 50_000);
    let large = bad(&"#".repeat(LARGEST + 1));
    assert_eq!(large.errors.first().map(|e| e.message.as_str()), Some("this file is 1048577 bytes long"));
}
