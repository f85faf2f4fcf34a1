//! A camera's Exif block: a TIFF stream with the settings, the stamps and a thumbnail.
//!
//! Tags, types and encodings: CIPA DC-008 (Exif 2.32); APEX values after its Annex C.

use super::{Options, RehearseError, Shot};
use crate::plan::{ExposureMode, Plan};
use exif::experimental::Writer;
use exif::{Field, In, Rational, SRational, Tag, Value};
use std::io::Cursor;

/// The invented maker of the rehearsal's camera.
pub const MAKE: &str = "Lapse Works";
/// The invented camera.
pub const MODEL: &str = "Rehearsal One";
/// Its serial number.
pub const SERIAL: &str = "R1000317";

/// An exposure time as cameras write it: 1/60, 8/10, 30/1; anything else in millionths.
pub fn time_rational(seconds: f64) -> (u32, u32) {
    let denominator = 1.0 / seconds;
    if seconds < 0.3 && (denominator - denominator.round()).abs() < 1e-6 * denominator {
        return (1, denominator.round() as u32);
    }
    plain_rational(seconds)
}

/// A number with at most one decimal over 1 or 10, anything else in millionths (saturating).
fn plain_rational(value: f64) -> (u32, u32) {
    let tenths = value * 10.0;
    if (value - value.round()).abs() < 1e-9 {
        (value.round() as u32, 1)
    } else if (tenths - tenths.round()).abs() < 1e-9 {
        (tenths.round() as u32, 10)
    } else {
        ((value * 1e6).round() as u32, 1_000_000)
    }
}

/// `YYYY:MM:DD hh:mm:ss`.
fn date_time(shot: &Shot) -> String {
    let iso = shot.stamp.iso(0);
    iso.replace('-', ":").replace('T', " ")
}

/// `±hh:mm`.
fn offset(minutes: i16) -> String {
    let sign = if minutes < 0 { '-' } else { '+' };
    let m = minutes.unsigned_abs();
    format!("{sign}{:02}:{:02}", m / 60, m % 60)
}

fn ascii(text: impl Into<Vec<u8>>) -> Value {
    Value::Ascii(vec![text.into()])
}

fn rational((num, denom): (u32, u32)) -> Value {
    Value::Rational(vec![Rational { num, denom }])
}

fn short(value: u16) -> Value {
    Value::Short(vec![value])
}

/// The fields of the main picture.
fn fields(shot: &Shot, plan: &Plan, options: &Options) -> Vec<(Tag, Value)> {
    let s = &shot.settings;
    let automatic = plan.exposure.mode == Some(ExposureMode::Automatic);
    let tv = SRational { num: (-s.exposure_s.log2() * 1e6).round() as i32, denom: 1_000_000 };
    let av = ((2.0 * s.f_exact.log2()).max(0.0) * 1e6).round() as u32;
    let date = date_time(shot);
    let focal_mm = plan.rig.focal_length_m.map_or(24.0, |m| m * 1000.0);
    let mut all = vec![
        (Tag::Make, ascii(MAKE)),
        (Tag::Model, ascii(MODEL)),
        (Tag::Orientation, short(1)),
        (Tag::XResolution, rational((72, 1))),
        (Tag::YResolution, rational((72, 1))),
        (Tag::ResolutionUnit, short(2)),
        (Tag::DateTime, ascii(date.clone())),
        (Tag::YCbCrPositioning, short(1)),
        (Tag::ExposureTime, rational(time_rational(s.marked_s))),
        (Tag::FNumber, rational(plain_rational(s.f_number))),
        (Tag::ExposureProgram, short(if automatic { 3 } else { 1 })),
        // 65535 stands for that much or more.
        (Tag::PhotographicSensitivity, short(s.iso.round().clamp(0.0, 65535.0) as u16)),
        (Tag::SensitivityType, short(2)),
        (Tag::RecommendedExposureIndex, Value::Long(vec![s.iso.round() as u32])),
        (Tag::ExifVersion, Value::Undefined(b"0232".to_vec(), 0)),
        (Tag::DateTimeOriginal, ascii(date.clone())),
        (Tag::DateTimeDigitized, ascii(date)),
        (Tag::ComponentsConfiguration, Value::Undefined(vec![1, 2, 3, 0], 0)),
        (Tag::ShutterSpeedValue, Value::SRational(vec![tv])),
        (Tag::ApertureValue, rational((av, 1_000_000))),
        (Tag::ExposureBiasValue, Value::SRational(vec![SRational { num: 0, denom: 1 }])),
        (Tag::MeteringMode, short(5)),
        (Tag::Flash, short(16)),
        (Tag::FocalLength, rational(plain_rational(focal_mm))),
        (Tag::FlashpixVersion, Value::Undefined(b"0100".to_vec(), 0)),
        (Tag::ColorSpace, short(1)),
        (Tag::PixelXDimension, Value::Long(vec![options.picture.0])),
        (Tag::PixelYDimension, Value::Long(vec![options.picture.1])),
        (Tag::ExposureMode, short(u16::from(!automatic))),
        (Tag::WhiteBalance, short(1)),
        (Tag::BodySerialNumber, ascii(SERIAL)),
    ];
    if options.stamp_digits > 0 {
        let iso = shot.stamp.iso(options.stamp_digits);
        let fraction = iso.rsplit('.').next().unwrap_or_default().to_owned();
        for tag in [Tag::SubSecTime, Tag::SubSecTimeOriginal, Tag::SubSecTimeDigitized] {
            all.push((tag, ascii(fraction.clone())));
        }
    }
    if let Some(minutes) = shot.offset_min {
        for tag in [Tag::OffsetTime, Tag::OffsetTimeOriginal, Tag::OffsetTimeDigitized] {
            all.push((tag, ascii(offset(minutes))));
        }
    }
    all
}

/// The TIFF stream of a shot's Exif block, `thumbnail` (a whole JPEG) in its second directory.
///
/// # Errors
/// Where the block cannot be laid out (in practice: never, for a thumbnail that fits an APP1 segment).
pub fn block(
    shot: &Shot,
    plan: &Plan,
    options: &Options,
    thumbnail: &[u8],
) -> Result<Vec<u8>, RehearseError> {
    let field = |ifd_num| move |(tag, value)| Field { tag, ifd_num, value };
    let main: Vec<Field> = fields(shot, plan, options).into_iter().map(field(In::PRIMARY)).collect();
    let small: Vec<Field> = [
        (Tag::Compression, short(6)),
        (Tag::XResolution, rational((72, 1))),
        (Tag::YResolution, rational((72, 1))),
        (Tag::ResolutionUnit, short(2)),
    ]
    .into_iter()
    .map(field(In::THUMBNAIL))
    .collect();
    let mut writer = Writer::new();
    for one in main.iter().chain(&small) {
        writer.push_field(one);
    }
    writer.set_jpeg(thumbnail, In::THUMBNAIL);
    let mut out = Cursor::new(Vec::new());
    writer
        .write(&mut out, options.little_endian)
        .map_err(|e| RehearseError::Encode(format!("the Exif block could not be laid out: {e}")))?;
    Ok(out.into_inner())
}

#[cfg(test)]
#[path = "exif_tests.rs"]
mod tests;
