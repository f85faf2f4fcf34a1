//! Rehearsed sequences with pictures, read through their thumbnails and audited: what a viewer would see is
//! found at its frame, and what he would not is left alone.

use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::card::walk;
use lapseproof::finding::{Answer, Finding, Severity};
use lapseproof::frames::Pictures;
use lapseproof::frames::{Damage, PictureSource, read_until};
use lapseproof::plan::{DeliveryPlan, ExposureMode, ExposurePlan, Plan, Planned};
use lapseproof::rehearse::{Fault, Options, jpeg, rehearse};
use std::sync::atomic::AtomicBool;

fn locked(frames: u64) -> Plan {
    Plan {
        interval_s: Some(5.0),
        frames: Some(frames),
        exposure: ExposurePlan {
            mode: Some(ExposureMode::Locked),
            shutter_s: Some(Planned::Fixed(1.0 / 60.0)),
            aperture: Some(Planned::Fixed(8.0)),
            iso: Some(Planned::Fixed(200.0)),
            ..ExposurePlan::default()
        },
        delivery: DeliveryPlan { fps: Some(25.0), length_s: None, ..DeliveryPlan::default() },
        ..Plan::default()
    }
}

/// Nine stops of failing light, followed by the shutter in thirds.
fn dusk(frames: u64) -> Plan {
    Plan {
        interval_s: Some(10.0),
        exposure: ExposurePlan {
            mode: Some(ExposureMode::Ramped),
            shutter_s: Some(Planned::Between(1.0 / 500.0, 1.0)),
            aperture: Some(Planned::Fixed(4.0)),
            iso: Some(Planned::Fixed(100.0)),
            ..ExposurePlan::default()
        },
        ..locked(frames)
    }
}

fn shot(plan: &Plan, faults: &[&str], pictures: Pictures) -> Audit {
    let dir = tempfile::tempdir().expect("a folder");
    let into = dir.path().join("run");
    let faults: Vec<Fault> = faults.iter().map(|f| Fault::parse(f).expect("a fault")).collect();
    let options = Options { picture: (96, 64), thumbnail: (96, 72), ..Options::default() };
    rehearse(plan, &faults, &options, &into).expect("rehearsed");
    let frames =
        read_until(walk(&[into.join("frames")]), Some(2), pictures, &|_| (), &AtomicBool::new(false));
    let setting = Setting { name: "run".into(), plan: plan.clone(), pictures, ..Setting::default() };
    carry_out(setting, frames)
}

/// A clean locked run of which each picture was drawn anew by `draw`, its Exif block kept; read whole.
fn redrawn(frames: u64, draw: impl Fn(usize, image::RgbImage) -> image::RgbImage) -> Audit {
    let dir = tempfile::tempdir().expect("a folder");
    let into = dir.path().join("run");
    let plan = locked(frames);
    let options = Options { picture: (240, 160), thumbnail: (96, 72), quality: 92, ..Options::default() };
    rehearse(&plan, &[], &options, &into).expect("rehearsed");
    let mut paths: Vec<_> = std::fs::read_dir(into.join("frames"))
        .expect("a folder")
        .flatten()
        .map(|e| e.path())
        .filter(|p| p.extension().is_some_and(|e| e == "JPG"))
        .collect();
    paths.sort();
    assert_eq!(paths.len() as u64, frames);
    for (k, path) in paths.iter().enumerate() {
        let bytes = std::fs::read(path).expect("read");
        let picture = image::load_from_memory(&bytes).expect("it decodes").to_rgb8();
        let encoded = jpeg::encode(&draw(k, picture), 92).expect("encoded");
        // The Exif segment is the first one; its block begins behind marker, length and name.
        let end = 4 + usize::from(u16::from_be_bytes([bytes[4], bytes[5]]));
        std::fs::write(path, jpeg::with_exif(&encoded, &bytes[12..end]).expect("joined")).expect("written");
    }
    let card = walk(&[into.join("frames")]);
    let frames = read_until(card, Some(2), Pictures::Full, &|_| (), &AtomicBool::new(false));
    let setting = Setting { name: "run".into(), plan, pictures: Pictures::Full, ..Setting::default() };
    carry_out(setting, frames)
}

fn thumbs(plan: &Plan, faults: &[&str]) -> Audit {
    shot(plan, faults, Pictures::Thumb)
}

fn told<'a>(audit: &'a Audit, check: &str) -> Vec<&'a Finding> {
    let judgement = audit.judgements.iter().find(|j| j.text.id == check).expect("a check");
    // Lamps are no question by daylight, and that is said.
    let daylight = |why: &str| check == "mains-banding" && why.contains("as bright as daylight");
    match &judgement.answer {
        Answer::CannotJudge(why) if daylight(why) => {}
        answer => assert!(!matches!(answer, Answer::Broke(_) | Answer::CannotJudge(_)), "{answer:?}"),
    }
    judgement.findings().iter().collect()
}

fn weighty<'a>(audit: &'a Audit, check: &str) -> Vec<&'a Finding> {
    told(audit, check).into_iter().filter(|f| f.severity > Severity::Note).collect()
}

const OF_PICTURES: [&str; 6] =
    ["luminance-flicker", "mains-banding", "flash-risk", "blank-picture", "obstructed-view", "soft-frame"];

#[test]
fn a_clean_run_and_a_clean_dusk_give_no_alarm() {
    for plan in [locked(120), dusk(200)] {
        let audit = thumbs(&plan, &[]);
        for check in OF_PICTURES.iter().chain(&["exposure-jump", "exposure-hunting"]) {
            assert!(weighty(&audit, check).is_empty(), "{check}: {:?}", weighty(&audit, check));
        }
        assert!(audit.evidence.frames.looks.iter().flatten().all(|l| l.source == PictureSource::Thumbnail));
    }
}

/// Nine stops in thirds: what is left when the settings are taken out lies under the noise of the thumbnails,
/// 0.015 EV from step to step at most.
#[test]
fn a_sunset_by_thirds_shows_no_flicker_once_levelled() {
    let audit = thumbs(&dusk(240), &[]);
    let course = &audit.evidence.pictures.courses[0];
    assert!(course.unexplained.rms_ev < 0.012, "{:?}", course.unexplained);
    assert!(course.shown.rms_ev > 3.0 * course.unexplained.rms_ev, "{:?}", course.shown);
    let ramp = told(&audit, "exposure-jump");
    assert!(ramp.iter().any(|f| f.message.contains("9.00 EV towards more light")), "{ramp:?}");
    let notes = told(&audit, "luminance-flicker");
    assert!(notes.iter().any(|f| f.message.contains("levelled from the settings alone")), "{notes:?}");
}

#[test]
fn a_hundredth_and_a_half_to_each_side_is_seen_and_a_quarter_of_a_hundredth_is_not() {
    // 0.03 EV and 0.005 EV between neighbours.
    let audit = thumbs(&locked(120), &["flicker=0.015EV:alternating"]);
    let found = weighty(&audit, "luminance-flicker");
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].message.contains("alternates"), "{}", found[0].message);
    let index = audit.evidence.pictures.courses[0].unexplained.visibility.index;
    // 0.03 EV alternating at 25 frames a second by the published function: 149.1 × (2^0.03 − 1) / (2^0.03 +
    // 1) = 1.55.
    assert!((index / 1.55 - 1.0).abs() < 0.25, "{index}");
    let audit = thumbs(&locked(120), &["flicker=0.0025EV:alternating"]);
    assert!(weighty(&audit, "luminance-flicker").is_empty());
}

#[test]
fn aperture_flicker_is_found_and_not_laid_on_the_settings() {
    for plan in [locked(150), dusk(150)] {
        let audit = thumbs(&plan, &["flicker=0.1EV"]);
        let found = weighty(&audit, "luminance-flicker");
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].cause.as_ref().map(|c| c.code.name()), Some("aperture-or-light"), "{found:?}");
        assert!(found[0].message.contains("that the settings do not explain"), "{}", found[0].message);
        let rms = audit.evidence.pictures.courses[0].unexplained.rms_ev;
        assert!((0.07..0.12).contains(&rms), "{rms}");
    }
}

#[test]
fn each_exposure_event_is_found_at_its_frame() {
    let audit = thumbs(&locked(120), &["odd=-1EV@50"]);
    assert_eq!(weighty(&audit, "exposure-jump").iter().map(|f| f.first).collect::<Vec<_>>(), [Some(50)]);
    let audit = thumbs(&locked(120), &["jump=+1EV@70"]);
    let ends: Vec<_> = weighty(&audit, "exposure-jump").iter().map(|f| (f.first, f.last)).collect();
    assert_eq!(ends, [(Some(69), Some(70))]);
    let audit = thumbs(&locked(120), &["hunting=12@60"]);
    let found = weighty(&audit, "exposure-hunting");
    assert!(found.len() == 1 && found[0].first == Some(60), "{found:?}");
    // The settings explain the pictures, so none of these is flicker that has to be looked for.
    assert!(weighty(&audit, "luminance-flicker").is_empty());
    let audit = thumbs(&dusk(200), &["stuck@120"]);
    let found = weighty(&audit, "exposure-jump");
    let stuck = found.iter().find(|f| f.cause.as_ref().is_some_and(|c| c.code.name() == "ramp-stuck"));
    let stuck = stuck.unwrap_or_else(|| panic!("{found:?}"));
    // The last change of the settings comes within one step of the ramp (7 frames) of the slot.
    assert!((112..=121).contains(&stuck.first.expect("a place")) && stuck.last == Some(199), "{stuck:?}");
}

#[test]
fn a_frame_that_its_settings_do_not_explain_is_named() {
    for (fault, word) in [("stray=-0.3EV@63", "darker"), ("stray=+0.3EV@63", "brighter")] {
        let audit = thumbs(&locked(120), &[fault]);
        let found = weighty(&audit, "luminance-flicker");
        assert_eq!(found.iter().map(|f| f.first).collect::<Vec<_>>(), [Some(63)], "{found:?}");
        assert!(found[0].message.contains(word), "{}", found[0].message);
    }
}

#[test]
fn a_soft_and_a_black_frame_are_named() {
    let audit = thumbs(&locked(120), &["soft=2px@44"]);
    assert_eq!(weighty(&audit, "soft-frame").iter().map(|f| f.first).collect::<Vec<_>>(), [Some(44)]);
    let audit = thumbs(&locked(120), &["stray=-9EV@44"]);
    let found = weighty(&audit, "blank-picture");
    assert_eq!(found.iter().map(|f| f.first).collect::<Vec<_>>(), [Some(44)]);
    assert_eq!(found[0].cause.as_ref().map(|c| c.code.name()), Some("black"), "{found:?}");
}

#[test]
fn pictures_on_their_head_are_named() {
    for head in [30..31, 30..36] {
        let audit = redrawn(60, |k, p| if head.contains(&k) { image::imageops::rotate180(&p) } else { p });
        let found = weighty(&audit, "soft-frame");
        assert_eq!(
            found.iter().map(|f| (f.first, f.last)).collect::<Vec<_>>(),
            [(Some(head.start), Some(head.end - 1))],
            "{found:?}"
        );
        assert_eq!(found[0].cause.as_ref().map(|c| c.code.name()), Some("turned"), "{found:?}");
    }
}

/// A picture stored upright among others that lie, its settings the same: its size tells.
#[test]
fn a_picture_turned_by_a_quarter_is_named() {
    let audit = redrawn(40, |k, p| if k == 20 { image::imageops::rotate90(&p) } else { p });
    let found = weighty(&audit, "settings-change");
    assert!(found.iter().any(|f| f.message.contains("turned by a quarter")), "{found:?}");
}

/// A lens that fogs over: every picture a little softer than the one before, up to a blur of 2.4 px.
#[test]
fn dew_is_told_as_a_slow_fall() {
    let audit = redrawn(120, |k, p| match k {
        0..20 => p,
        _ => image::imageops::blur(&p, (0.2 + 0.022 * (k - 20) as f32).max(0.3)),
    });
    let found = weighty(&audit, "soft-frame");
    assert!(found.len() == 1 && found[0].message.contains("dew"), "{found:?}");
    assert_eq!(found[0].last, Some(119));
}

#[test]
fn a_white_frame_is_named() {
    let audit = thumbs(&locked(120), &["stray=+9EV@44"]);
    let found = weighty(&audit, "blank-picture");
    assert_eq!(found.iter().map(|f| f.first).collect::<Vec<_>>(), [Some(44)]);
    assert_eq!(found[0].cause.as_ref().map(|c| c.code.name()), Some("white"), "{found:?}");
}

/// One frame in a clip is seen from a hundredth of a stop on; what the source can tell of it ends above that.
#[test]
fn a_single_frame_a_little_off_is_weighed_as_the_flash_that_it_is() {
    let audit = thumbs(&locked(120), &["stray=-0.05EV@63"]);
    let found = weighty(&audit, "luminance-flicker");
    assert_eq!(found.iter().map(|f| f.first).collect::<Vec<_>>(), [Some(63)], "{found:?}");
    let audit = thumbs(&locked(120), &["stray=-0.008EV@63"]);
    assert!(weighty(&audit, "luminance-flicker").is_empty());
}

/// A thing that passes in one frame darkens its mean, but only where it is: it is told, and not as flicker.
#[test]
fn something_that_passes_is_no_flicker() {
    let audit = redrawn(60, |k, mut p| {
        if k == 33 {
            image::imageops::replace(&mut p, &image::RgbImage::new(80, 90), 60, 50);
        }
        p
    });
    let found = told(&audit, "luminance-flicker");
    let passer: Vec<_> = found.iter().filter(|f| f.first == Some(33)).collect();
    assert!(passer.len() == 1 && passer[0].message.contains("something that passes"), "{found:?}");
    assert_eq!(passer[0].severity, Severity::Note);
}

/// A third of a stop to and fro in each frame is 12 flashes a second where the light is bright enough for
/// steps of 0.1.
#[test]
fn strong_flicker_is_over_the_flash_limit_and_weak_flicker_is_not() {
    let audit = thumbs(&locked(60), &["flicker=0.5EV:alternating"]);
    let found = weighty(&audit, "flash-risk");
    assert!(!found.is_empty());
    assert!(found[0].message.contains("no certificate"), "{}", found[0].message);
    let audit = thumbs(&locked(60), &["flicker=0.1EV:alternating"]);
    assert!(weighty(&audit, "flash-risk").is_empty());
}

/// What levels the frames by the settings leaves what no setting explains; what levels them by brightness
/// leaves neither.
#[test]
fn levels_level() {
    let audit = thumbs(&dusk(240), &["flicker=0.05EV"]);
    let evidence = &audit.evidence;
    let levels = lapseproof::evidence::picture::levels(&audit.plan, evidence);
    let shown: Vec<f64> = evidence.all().map(|frame| frame.brightness_ev().expect("seen")).collect();
    let quick = |add: &dyn Fn(usize) -> f64| {
        let level: Vec<f64> = shown.iter().enumerate().map(|(at, b)| b + add(at)).collect();
        let inner = &level[30..210];
        (inner.windows(2).map(|w| (w[1] - w[0]).powi(2)).sum::<f64>() / inner.len() as f64).sqrt()
    };
    let as_shot = quick(&|_| 0.0);
    let by_settings = quick(&|at| f64::from(levels.settings_ev[at]));
    let by_brightness = quick(&|at| f64::from(levels.brightness_ev[at]));
    assert!(by_settings < 0.9 * as_shot && by_settings > 0.05, "{as_shot} {by_settings}");
    assert!(by_brightness < 0.01, "{by_brightness}");
}

#[test]
fn pictures_read_whole_agree_with_thumbnails_and_damage_is_named() {
    let (thumb, whole) = (thumbs(&locked(40), &[]), shot(&locked(40), &[], Pictures::Full));
    let ev = |audit: &Audit| -> Vec<f64> {
        audit.evidence.all().map(|frame| frame.brightness_ev().expect("seen")).collect()
    };
    let (a, b) = (ev(&thumb), ev(&whole));
    let step = |v: &[f64]| v.windows(2).map(|w| w[1] - w[0]).collect::<Vec<_>>();
    // The stated largest step of a thumbnail against the whole picture.
    let apart = step(&a).iter().zip(step(&b)).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    assert!(apart < 0.012, "{apart}");
    let audit = shot(&locked(40), &["damaged=zeros@20"], Pictures::Full);
    let found = told(&audit, "damaged-frame");
    assert_eq!(found.iter().map(|f| f.first).collect::<Vec<_>>(), [Some(20)], "{found:?}");
}

/// What is allowed for a header is no measure for a picture: a file of several megabytes is read to its end.
#[test]
fn a_large_picture_is_seen_whole_and_is_not_damaged() {
    let dir = tempfile::tempdir().expect("a folder");
    let noise = |x: u32, y: u32| {
        let v = ((x * 0x9E37) ^ (y * 0x85EB)).wrapping_mul(0x2C1B_3C6D);
        (v >> 24) as u8
    };
    let picture = image::RgbImage::from_fn(2400, 1600, |x, y| image::Rgb([noise(x, y), noise(y, x), 90]));
    for name in ["WIDE0001.JPG", "WIDE0002.JPG"] {
        let mut bytes = Vec::new();
        let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 92);
        encoder.encode_image(&picture).expect("encoded");
        assert!(bytes.len() > 5 << 20, "{}", bytes.len());
        std::fs::write(dir.path().join(name), bytes).expect("written");
    }
    for (pictures, source) in
        [(Pictures::Thumb, PictureSource::Reduced), (Pictures::Full, PictureSource::Whole)]
    {
        let card = walk(&[dir.path().to_path_buf()]);
        let frames = read_until(card, Some(2), pictures, &|_| (), &AtomicBool::new(false));
        for (row, look) in frames.rows.iter().zip(&frames.looks) {
            assert_eq!(row.damage, Damage::None);
            assert_eq!(look.as_ref().map(|l| l.source), Some(source));
        }
        let means: Vec<f32> = frames.looks.iter().flatten().map(|l| l.mean).collect();
        // Half of full light in the mean of an even noise is 1/3.1 in linear light; what is cut off would
        // read as grey.
        assert!(means.iter().all(|m| (0.2..0.45).contains(m)), "{means:?}");
        assert!(frames.between(0, 1).expect("neighbours").likeness > 0.999);
    }
}

/// The same bytes whatever the threads: looks and what lies between neighbours included.
#[test]
fn looks_do_not_depend_on_the_threads() {
    let dir = tempfile::tempdir().expect("a folder");
    let options = Options { picture: (96, 64), thumbnail: (96, 72), ..Options::default() };
    rehearse(&locked(37), &[], &options, &dir.path().join("run")).expect("rehearsed");
    let read = |jobs: usize, pictures: Pictures| {
        let card = walk(&[dir.path().join("run/frames")]);
        let frames = read_until(card, Some(jobs), pictures, &|_| (), &AtomicBool::new(false));
        format!("{:?}", frames.looks)
    };
    for pictures in [Pictures::Thumb, Pictures::Full] {
        let one = read(1, pictures);
        assert!(
            one.contains("likeness") && !one.contains("None, None"),
            "every neighbour is compared with the last"
        );
        assert_eq!(one, read(7, pictures));
    }
    assert_eq!(read(3, Pictures::None), "[]");
}
