use super::*;
use crate::plan::{ExposurePlan, Moment, Planned};
use crate::rehearse::{jpeg, script};
use crate::units::CivilTime;

fn shot_and_plan(options: &Options) -> (Shot, Plan) {
    let civil = CivilTime::from_calendar((2026, 5, 9), (4, 10, 0), 0).expect("a moment");
    let exposure = ExposurePlan {
        shutter_s: Some(Planned::Fixed(30.0)),
        aperture: Some(Planned::Fixed(5.6)),
        iso: Some(Planned::Fixed(1250.0)),
        ..ExposurePlan::default()
    };
    let start = Some(Moment { civil, offset_min: Some(-210) });
    let plan = Plan { interval_s: Some(40.0), frames: Some(2), start, exposure, ..Plan::default() };
    (script(&plan, &[], options).expect("a script").shots[0], plan)
}

/// What an Exif reader of its own finds in the block. `kamadak-exif` reads and writes by separate code; the
/// layout of the bytes is checked by hand below.
fn read_back(options: &Options) -> (::exif::Exif, Shot) {
    let (shot, plan) = shot_and_plan(options);
    let picture = image::RgbImage::from_pixel(32, 32, image::Rgb([90; 3]));
    let small = jpeg::encode(&picture, 70).expect("encoded");
    let tiff = block(&shot, &plan, options, &small).expect("a block");
    let file = jpeg::with_exif(&jpeg::encode(&picture, 80).expect("encoded"), &tiff).expect("joined");
    let exif = ::exif::Reader::new().read_from_container(&mut Cursor::new(&file)).expect("read");
    (exif, shot)
}

fn text(exif: &::exif::Exif, tag: Tag) -> String {
    match exif.get_field(tag, In::PRIMARY).map(|f| &f.value) {
        Some(Value::Ascii(parts)) => String::from_utf8_lossy(parts.first().map_or(&[], |p| p)).into_owned(),
        other => panic!("{tag}: {other:?}"),
    }
}

#[test]
fn the_block_reads_back_in_both_byte_orders() {
    for little_endian in [false, true] {
        let options = Options { little_endian, stamp_digits: 2, ..Options::default() };
        let (exif, shot) = read_back(&options);
        assert_eq!(exif.little_endian(), little_endian);
        let ratio = |tag| match &exif.get_field(tag, In::PRIMARY).expect("a field").value {
            Value::Rational(v) => (v[0].num, v[0].denom),
            other => panic!("{tag}: {other:?}"),
        };
        assert_eq!(text(&exif, Tag::Make), MAKE);
        assert_eq!(text(&exif, Tag::Model), MODEL);
        assert_eq!(text(&exif, Tag::BodySerialNumber), SERIAL);
        let stamp = shot.stamp.iso(2);
        assert_eq!(text(&exif, Tag::DateTimeOriginal), "2026:05:09 04:10:00");
        assert_eq!(Some(text(&exif, Tag::SubSecTimeOriginal).as_str()), stamp.get(20..));
        assert_eq!(text(&exif, Tag::SubSecTimeOriginal).len(), 2);
        assert_eq!(text(&exif, Tag::OffsetTimeOriginal), "-03:30");
        assert_eq!(ratio(Tag::ExposureTime), (30, 1));
        assert_eq!(ratio(Tag::FNumber), (56, 10));
        assert_eq!(ratio(Tag::FocalLength), (24, 1));
        let uint = |tag| exif.get_field(tag, In::PRIMARY).and_then(|f| f.value.get_uint(0));
        assert_eq!(uint(Tag::PhotographicSensitivity), Some(1250));
        assert_eq!(uint(Tag::Orientation), Some(1));
        assert_eq!(uint(Tag::PixelXDimension), Some(300));
        assert_eq!(uint(Tag::PixelYDimension), Some(200));
        assert_eq!(uint(Tag::ExposureMode), Some(1));
        // A marked "30" is 32 s, Tv -5; f/5.6 is Av 5 (Exif Annex C).
        let Some(Value::SRational(tv)) =
            exif.get_field(Tag::ShutterSpeedValue, In::PRIMARY).map(|f| &f.value)
        else {
            panic!("Tv");
        };
        assert_eq!((tv[0].num, tv[0].denom), (-5_000_000, 1_000_000));
        assert_eq!(ratio(Tag::ApertureValue), (5_000_000, 1_000_000));
    }
}

#[test]
fn the_thumbnail_is_a_picture() {
    let (exif, _) = read_back(&Options::default());
    let uint =
        |tag| exif.get_field(tag, In::THUMBNAIL).and_then(|f| f.value.get_uint(0)).expect("a field") as usize;
    let from = uint(Tag::JPEGInterchangeFormat);
    let small =
        exif.buf().get(from..from + uint(Tag::JPEGInterchangeFormatLength)).expect("within the block");
    assert!(image::load_from_memory(small).is_ok());
}

#[test]
fn whole_seconds_have_no_fraction_and_the_offset_can_be_left_out() {
    let (exif, _) = read_back(&Options { write_offset: false, ..Options::default() });
    assert!(exif.get_field(Tag::SubSecTimeOriginal, In::PRIMARY).is_none());
    assert!(exif.get_field(Tag::OffsetTimeOriginal, In::PRIMARY).is_none());
}

/// Byte order mark, 42, first directory at 8, tags in rising order (TIFF 6.0, section 2).
#[test]
fn the_layout_is_tiff() {
    let options = Options { little_endian: true, ..Options::default() };
    let (shot, plan) = shot_and_plan(&options);
    let tiff = block(&shot, &plan, &options, &[0xFF, 0xD8, 0xFF, 0xD9]).expect("a block");
    assert_eq!(tiff.get(..8), Some(&b"II\x2A\0\x08\0\0\0"[..]));
    let short = |at: usize| u16::from_le_bytes([tiff[at], tiff[at + 1]]);
    let tags: Vec<u16> = (0..usize::from(short(8))).map(|i| short(10 + 12 * i)).collect();
    assert!(tags.contains(&0x8769) && tags.windows(2).all(|w| w[0] < w[1]), "{tags:x?}");
}

/// As cameras write them (common practice, no source).
#[test]
fn times_are_written_as_marked() {
    assert_eq!(time_rational(1.0 / 60.0), (1, 60));
    assert_eq!(time_rational(1.0 / 8000.0), (1, 8000));
    assert_eq!(time_rational(0.8), (8, 10));
    assert_eq!(time_rational(0.3), (3, 10));
    assert_eq!(time_rational(1.3), (13, 10));
    assert_eq!(time_rational(30.0), (30, 1));
    assert_eq!(time_rational(0.123), (123_000, 1_000_000));
}
