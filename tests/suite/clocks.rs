//! What tells the time beside the camera's clock: satellites, and the offset from UTC that the camera writes.
//!
//! Invented stamps; what an audit must say of them follows from how they were made.

use crate::support::series::{Tick, floored, frames};
use crate::support::writer::jpeg;
use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::finding::{Finding, Severity};
use lapseproof::frames::read_source;
use lapseproof::frames::source::Source;
use lapseproof::plan::Plan;
use lapseproof::units::Micros;
use lapseproof::verdict::Call;
use std::io::Cursor;
use std::num::NonZeroU32;

const SECOND: Micros = Micros::SECOND;
/// 2026-05-09T04:10:00 as seconds since 1970, an hour ahead of UTC: what the stamps begin with.
const UTC_S: i64 = 1_778_296_200;
const FIRST: usize = 80;

/// Every 10 s, in two parts: between them the camera stood for `stood_s`, and its clock was changed by
/// `step_s`.
struct Shoot {
    stood_s: f64,
    step_s: f64,
    /// Offsets from UTC that the parts write, min.
    offsets: Option<(i16, i16)>,
    satellites: bool,
    frames: Option<u64>,
}

impl Shoot {
    fn audit(&self) -> Audit {
        let truly = |k: usize| 10.0 * k as f64 + if k < FIRST { 0.0 } else { self.stood_s };
        let tick = |k: usize| Tick {
            stamp: Some(floored(0.3 + truly(k) + if k < FIRST { 0.0 } else { self.step_s }, SECOND)),
            number: k as u32 + 1,
            offset_min: self.offsets.map(|o| if k < FIRST { o.0 } else { o.1 }),
            ..Tick::default()
        };
        let ticks: Vec<Tick> = (0..2 * FIRST).map(tick).collect();
        let mut all = frames(&ticks, SECOND);
        for (k, row) in all.rows.iter_mut().enumerate().filter(|_| self.satellites) {
            let fix = u32::try_from(UTC_S + truly(k) as i64).expect("this century");
            row.utc_s = NonZeroU32::new(fix);
        }
        let plan = Plan { interval_s: Some(10.0), frames: self.frames, ..Plan::default() };
        carry_out(Setting { name: "clocks".into(), plan, ..Setting::default() }, all)
    }
}

const PLAIN: Shoot = Shoot { stood_s: 0.0, step_s: 0.0, offsets: None, satellites: false, frames: None };

/// The finding of a check at the border of the two parts, no mere note.
fn told<'a>(audit: &'a Audit, check: &str) -> Option<&'a Finding> {
    audit.findings().into_iter().find(|f| {
        let here = (f.first, f.last) == (Some(FIRST - 1), Some(FIRST));
        f.check == check && here && f.severity > Severity::Note
    })
}

#[test]
fn satellites_tell_a_clock_that_was_set() {
    for step_s in [-3540.0, -420.0, 60.0, 420.0, 1800.0, 3600.0, 90_000.0] {
        let audit = Shoot { step_s, satellites: true, ..PLAIN }.audit();
        assert_eq!(audit.verdict.call, Call::Clear, "{step_s}: {:?}", audit.verdict.reasons);
    }
}

#[test]
fn satellites_tell_a_stop_behind_a_clock_that_was_set() {
    for (stood_s, step_s) in [(600.0, -3600.0), (3600.0, -3600.0), (1800.0, 1800.0), (605.0, 3600.0)] {
        let audit = Shoot { stood_s, step_s, satellites: true, ..PLAIN }.audit();
        assert_eq!(audit.verdict.call, Call::Hold, "{stood_s} {step_s}");
        let stop = told(&audit, "grid-slip").or(told(&audit, "missing-slot"));
        assert!(stop.is_some(), "{stood_s} {step_s}: {:?}", audit.verdict.reasons);
    }
    // The clock ran on: without satellites, both would be told.
    let audit = Shoot { stood_s: 3600.0, satellites: true, ..PLAIN }.audit();
    let hole = told(&audit, "missing-slot").expect("a hole");
    assert_eq!((hole.count, hole.doubt.is_none()), (360, true));
}

/// A receiver that lost the sky repeats its last fix: it tells nothing.
#[test]
fn a_fix_that_stands_still_tells_nothing() {
    let shoot = Shoot { stood_s: 600.0, satellites: true, ..PLAIN };
    let hole = |audit: &Audit| told(audit, "missing-slot").map(|f| f.count);
    assert_eq!(hole(&shoot.audit()), Some(60));
    let ticks: Vec<Tick> = (0..2 * FIRST)
        .map(|k| Tick {
            stamp: Some(Micros::from_seconds(10 * k as i64 + if k < FIRST { 0 } else { 600 })),
            number: k as u32 + 1,
            ..Tick::default()
        })
        .collect();
    let mut all = frames(&ticks, SECOND);
    all.rows.iter_mut().for_each(|row| row.utc_s = NonZeroU32::new(UTC_S as u32));
    let plan = Plan { interval_s: Some(10.0), ..Plan::default() };
    let audit = carry_out(Setting { name: "clocks".into(), plan, ..Setting::default() }, all);
    assert_eq!(hole(&audit), Some(60));
}

#[test]
fn offsets_tell_how_long_the_camera_stood() {
    for (stood_s, hours) in [(600.0, -1), (600.0, 1), (47.0, 2), (5400.0, -1)] {
        let offsets = Some((60, 60 + 60 * hours));
        let audit = Shoot { stood_s, step_s: 3600.0 * f64::from(hours), offsets, ..PLAIN }.audit();
        assert_ne!(audit.verdict.call, Call::Clear, "{stood_s} {hours}");
        let stop = told(&audit, "grid-slip").expect("the stop");
        assert_eq!(stop.count, (stood_s / 10.0_f64).round() as u64, "{stood_s} {hours}");
        let way = if hours < 0 { "was put back by" } else { "was put forward by" };
        assert!(stop.message.contains(way) && !stop.message.contains("  "), "{}", stop.message);
        let whole = Shoot { step_s: 3600.0 * f64::from(hours), offsets, ..PLAIN }.audit();
        assert_eq!(whole.verdict.call, Call::Clear, "{hours}: {:?}", whole.verdict.reasons);
    }
}

/// Stamps that run on while the offset goes back an hour: it was corrected alone, or the camera stood.
#[test]
fn an_offset_that_goes_back_alone_is_told_both_ways() {
    let audit = Shoot { offsets: Some((60, 0)), ..PLAIN }.audit();
    assert_eq!(audit.verdict.call, Call::Look);
    let told = told(&audit, "clock-step").expect("both readings");
    assert_eq!(told.doubt.as_ref().map(|d| d.count_high), Some(360));
    // Forward, the camera would have shot before it was there.
    let audit = Shoot { offsets: Some((0, 60)), ..PLAIN }.audit();
    assert_eq!(audit.verdict.call, Call::Clear, "{:?}", audit.verdict.reasons);
}

/// Nobody sets a clock back by 59 minutes: by an hour, and the camera stood for one, as well.
#[test]
fn an_odd_step_back_near_a_zone_is_told_both_ways() {
    for (stood_s, step_s) in [(61.0, -3600.0), (300.0, -7200.0), (1446.8, -3600.0)] {
        let audit = Shoot { stood_s, step_s, ..PLAIN }.audit();
        assert_eq!(audit.verdict.call, Call::Look, "{:?}", audit.verdict.reasons);
        assert!(told(&audit, "clock-step").is_some_and(|f| f.doubt.is_some()), "{stood_s}");
    }
    // A clock that was wrong by minutes and set right.
    let audit = Shoot { step_s: -180.0, ..PLAIN }.audit();
    assert_eq!(audit.verdict.call, Call::Clear, "{:?}", audit.verdict.reasons);
}

/// A jump of more than a day with the count met: the date was set, or the timer stood and went on.
#[test]
fn a_jump_of_days_that_meets_the_count_is_told_both_ways() {
    for step_s in [87_434.0, 200_000.0] {
        let audit = Shoot { step_s, frames: Some(2 * FIRST as u64), ..PLAIN }.audit();
        assert_eq!(audit.verdict.call, Call::Look, "{:?}", audit.verdict.reasons);
        assert!(told(&audit, "clock-step").is_some_and(|f| f.doubt.is_some()), "{step_s}");
    }
}

/// Written by the library that the owner chose for Exif; 2026-05-09T03:10:07 UTC is 1 778 296 207 s after
/// 1970.
#[test]
fn the_time_of_a_fix_is_read() {
    let ratio = |num, denom| Rational { num, denom };
    let read = |date: &str, time: Vec<Rational>| {
        let text = |tag, value: &str| Field {
            tag,
            ifd_num: In::PRIMARY,
            value: Value::Ascii(vec![value.as_bytes().to_vec()]),
        };
        let fields = [
            text(Tag::DateTimeOriginal, "2026:05:09 04:10:07"),
            text(Tag::GPSDateStamp, date),
            Field { tag: Tag::GPSTimeStamp, ifd_num: In::PRIMARY, value: Value::Rational(time) },
        ];
        let mut writer = Writer::new();
        fields.iter().for_each(|f| writer.push_field(f));
        let mut block = Cursor::new(Vec::new());
        writer.write(&mut block, false).expect("memory");
        let mut source = Source::over(jpeg(&block.into_inner(), 300)).expect("memory");
        let row = read_source(&mut source).expect("memory").row;
        assert!(row.stamp.known().is_some());
        row.utc_s.map(NonZeroU32::get)
    };
    let time = |s| vec![ratio(3, 1), ratio(10, 1), s];
    assert_eq!(read("2026:05:09", time(ratio(7, 1))), Some(1_778_296_207));
    assert_eq!(read("2026:05:09", time(ratio(7900, 1000))), Some(1_778_296_207));
    for (date, seconds) in [("2026:13:09", ratio(7, 1)), ("", ratio(7, 1)), ("2026:05:09", ratio(7, 0))] {
        assert_eq!(read(date, time(seconds)), None, "{date}");
    }
    assert_eq!(read("2026:05:09", vec![ratio(3, 1)]), None);
}

/// Half a day and more between two parts that make up the planned count: one run, and the rest is told.
#[test]
fn parts_far_apart_that_make_up_the_count_are_one_run() {
    for stood_s in [50_000.0, 80_000.0] {
        let audit = Shoot { stood_s, frames: Some(2 * FIRST as u64), ..PLAIN }.audit();
        assert_eq!(audit.verdict.call, Call::Hold);
        assert!(audit.evidence.outside.is_empty(), "{:?}", audit.evidence.outside);
        let stop = told(&audit, "missing-slot").or(told(&audit, "grid-slip"));
        assert!(stop.is_some(), "{stood_s}: {:?}", audit.verdict.reasons);
    }
}
