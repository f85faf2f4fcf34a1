//! Exif fields into cells: odd stamps, signs for "not known", sensitivities. Source of the rules: Exif (CIPA
//! DC-008).

use crate::support::writer::{Put, block, jpeg};
use lapseproof::frames::source::Source;
use lapseproof::frames::{Cell, Damage, FileRead, Row, StampSource, read_all, read_source};
use lapseproof::units::Micros;

fn read(main: &[(u16, Put)], exif: &[(u16, Put)]) -> FileRead {
    read_source(&mut Source::over(jpeg(&block(main, exif), 300)).expect("memory")).expect("memory")
}

fn row(exif: &[(u16, Put)]) -> Row {
    read(&[], exif).row
}

const ORIGINAL: u16 = 0x9003;
const DIGITIZED: u16 = 0x9004;
const PLAIN: u16 = 0x0132;
const DATE: Put<'static> = Put::Ascii("2025:03:30 00:59:59");

/// The stamp's moment with its fraction, offset in minutes and resolution.
fn stamp(row: &Row) -> Option<(String, Option<i16>, Micros)> {
    row.stamp.known().map(|s| (s.at.iso(s.digits), s.offset_min, s.resolution))
}

#[test]
fn the_twelve_fixtures() {
    // Written byte for byte and read back by exiftool 12.57 and Pillow 13.0.0.
    let Some(folder) = crate::support::checkvalues() else { return };
    let card = lapseproof::card::walk(&[folder.join("data/exif")]);
    let frames = read_all(card, Some(2), &|_| ());
    assert_eq!(frames.len(), 12);
    let row = |name: &str| {
        let at = (0..12).find(|at| frames.path_text(*at).starts_with(name)).expect(name);
        assert_eq!(frames.rows[at].damage, Damage::None, "{name}");
        assert_eq!(frames.rows[at].size, Cell::Known((8, 8)), "{name}");
        &frames.rows[at]
    };
    let moment = |fraction: &str| format!("2025-03-30T00:59:59{fraction}");
    let a = row("a_plain");
    assert_eq!(stamp(a), Some((moment(".130"), Some(60), Micros::step_of(3))));
    assert_eq!(a.exposure_s, Cell::Known(0.008));
    assert_eq!(a.f_number, Cell::Known(2.8));
    assert_eq!(a.iso, Cell::Known(400));
    assert_eq!(a.time_apex, Cell::Known(6.965_784));
    assert_eq!(a.aperture_apex, Cell::Known(2.970_854));
    assert_eq!(stamp(row("b_")), Some((moment(".07"), None, Micros::step_of(2))));
    assert_eq!(stamp(row("c_")), Some((moment(".130"), None, Micros::step_of(3))));
    assert_eq!(stamp(row("d_")), Some((moment(""), None, Micros::SECOND)));
    assert_eq!(row("e_").stamp, Cell::Blank);
    assert_eq!(row("f_").stamp, Cell::Blank);
    assert_eq!(stamp(row("g_")), Some((moment(""), None, Micros::SECOND)));
    let h = row("h_");
    assert_eq!(
        (h.exposure_s, h.time_apex, h.iso),
        (Cell::Known(30.0), Cell::Known(-5.0), Cell::Known(102_400))
    );
    let i = row("i_");
    assert_eq!((i.exposure_s, i.f_number), (Cell::Absent, Cell::Absent));
    assert_eq!((i.time_apex, i.aperture_apex), (Cell::Known(7.0), Cell::Known(6.0)));
    let j = row("j_");
    assert_eq!((j.exposure_s, j.f_number), (Cell::Blank, Cell::Blank));
    assert_eq!(row("k_").stamp, Cell::Blank);
    assert_eq!(stamp(row("l_")), Some((moment(".5"), None, Micros::step_of(1))));
}

#[test]
fn the_first_known_date_is_taken_with_its_own_fraction() {
    let source = |row: &Row| row.stamp.known().map(|s| (s.source, s.digits));
    let all = [(ORIGINAL, DATE), (0x9291, Put::Ascii("1")), (DIGITIZED, DATE), (0x9292, Put::Ascii("22"))];
    let plain = [(PLAIN, DATE)];
    assert_eq!(source(&read(&plain, &all).row), Some((StampSource::Original, 1)));
    assert_eq!(source(&read(&plain, &all[1..]).row), Some((StampSource::Digitized, 2)));
    assert_eq!(source(&read(&plain, &[(0x9290, Put::Ascii("333"))]).row), Some((StampSource::Plain, 3)));
    let blank = [(ORIGINAL, Put::Ascii("    :  :     :  :  "))];
    assert_eq!(source(&read(&plain, &blank).row), Some((StampSource::Plain, 0)));
    assert_eq!(read(&[], &blank).row.stamp, Cell::Blank);
    // A file without any date has no stamp, whatever its own time is.
    assert_eq!(row(&[]).stamp, Cell::Absent);
}

#[test]
fn dates_that_are_none() {
    for text in
        ["2005:0?:03 15:31:45", "2025:13:01 00:00:00", "2025:02:30 00:00:00", "2025:01:01 24:00:00", "soon"]
    {
        assert_eq!(row(&[(ORIGINAL, Put::Ascii(text))]).stamp, Cell::Unreadable, "{text}");
    }
    for text in ["", "                   ", "    :  :     :  :  ", "0000:00:00 00:00:00"] {
        assert_eq!(row(&[(ORIGINAL, Put::Ascii(text))]).stamp, Cell::Blank, "{text}");
    }
    // Fractions finer than a microsecond are cut; a fraction that is none leaves the whole second.
    let with = |fraction| stamp(&row(&[(ORIGINAL, DATE), (0x9291, Put::Ascii(fraction))]));
    assert_eq!(with("123456789"), Some(("2025-03-30T00:59:59.123456".into(), None, Micros::step_of(6))));
    assert_eq!(with("x"), Some(("2025-03-30T00:59:59".into(), None, Micros::SECOND)));
}

#[test]
fn exposures_that_are_none() {
    let exposure = |n, d| row(&[(0x829A, Put::Ratio(n, d)), (0x829D, Put::Ratio(n, d))]);
    for (n, d, what) in
        [(0, 0, Cell::Blank), (0, 1, Cell::Blank), (u32::MAX, 1, Cell::Blank), (7, 0, Cell::Unreadable)]
    {
        let row = exposure(n, d);
        assert_eq!(row.exposure_s, what, "{n}/{d}");
        assert_eq!(row.f_number.why_not(), what.why_not(), "{n}/{d}");
    }
    assert_eq!(exposure(1, 60).exposure_s, Cell::Known(1.0 / 60.0));
}

#[test]
fn sensitivities() {
    let iso = |fields: &[(u16, Put)]| row(fields).iso;
    assert_eq!(iso(&[(0x8827, Put::Short(&[200]))]), Cell::Known(200));
    assert_eq!(iso(&[(0x8827, Put::Short(&[0, 200]))]), Cell::Known(200));
    assert_eq!(iso(&[(0x8827, Put::Short(&[0]))]), Cell::Blank);
    assert_eq!(iso(&[(0x8827, Put::Long(3200))]), Cell::Known(3200));
    let wide = |kind, tag| {
        iso(&[(0x8827, Put::Short(&[65535])), (0x8830, Put::Short(&[kind])), (tag, Put::Long(102_400))])
    };
    assert_eq!(wide(1, 0x8831), Cell::Known(102_400));
    assert_eq!(wide(2, 0x8832), Cell::Known(102_400));
    assert_eq!(wide(3, 0x8833), Cell::Known(102_400));
    // "65535 or more", and the tag that would say is not the one that is there.
    assert_eq!(wide(1, 0x8832), Cell::Blank);
    assert_eq!(iso(&[(0x8827, Put::Short(&[65535]))]), Cell::Blank);
    assert_eq!(iso(&[(0x8832, Put::Long(400))]), Cell::Known(400));
    assert_eq!(iso(&[]), Cell::Absent);
}

#[test]
fn the_other_cells() {
    let main = [
        (0x010F, Put::Ascii("ACME  ")),
        (0x0110, Put::Ascii("Snap 7")),
        (0x0112, Put::Short(&[6])),
        (0x0131, Put::Ascii("Ver.1.02")),
    ];
    let exif = [
        (0x920A, Put::Ratio(350, 10)),
        (0xA402, Put::Short(&[1])),
        (0xA403, Put::Short(&[0])),
        (0x8822, Put::Short(&[1])),
        (0xA431, Put::Ascii("0042 ")),
    ];
    let read = read(&main, &exif);
    let row = &read.row;
    assert_eq!(
        (row.focal_mm, row.orientation, row.size),
        (Cell::Known(35.0), Cell::Known(6), Cell::Known((640, 480)))
    );
    assert_eq!(
        (row.exposure_mode, row.white_balance, row.program),
        (Cell::Known(1), Cell::Known(0), Cell::Known(1))
    );
    let camera = read.camera.known().expect("a camera");
    assert_eq!(
        (camera.maker.as_str(), camera.model.as_str(), camera.serial.as_str()),
        ("ACME", "Snap 7", "0042")
    );
    assert!(!row.edited);
}

#[test]
fn a_damaged_block_gives_what_can_be_read() {
    let whole = block(&[], &[(0x829A, Put::Ratio(1, 60)), (0x8827, Put::Short(&[100])), (ORIGINAL, DATE)]);
    // Cut inside the date's text, which stands last: the sensitivity is still there.
    let cut = &whole[..whole.len() - 10];
    let row = read_source(&mut Source::over(jpeg(cut, 300)).expect("memory")).expect("memory").row;
    assert_eq!(row.iso, Cell::Known(100));
    assert_eq!(row.stamp, Cell::Unreadable);
    assert_eq!(row.damage, Damage::None);
    // A block that is none.
    let row = read_source(&mut Source::over(jpeg(b"nonsense", 300)).expect("memory")).expect("memory").row;
    assert_eq!((row.stamp, row.iso), (Cell::Unreadable, Cell::Unreadable));
    // No block at all.
    let row = read_source(&mut Source::over(jpeg(b"", 300)).expect("memory")).expect("memory").row;
    assert_eq!((row.stamp, row.iso, row.damage), (Cell::Absent, Cell::Absent, Damage::None));
}
