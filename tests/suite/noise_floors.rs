//! How much each source of brightness wanders by itself: its steps from frame to frame compared with those of
//! whole decodes of the same pictures, drawn ones and, where they lie beside the project, real ones. What the
//! product states must cover what is measured here. `cargo test --test suite noise_floors:: -- --nocapture`
//! tells the figures.

use crate::support::writer::{Put, block_with_thumbnail, segment};
use image::codecs::jpeg::JpegEncoder;
use lapseproof::card::walk;
use lapseproof::evidence::picture::{floor_ev, largest_step_ev};
use lapseproof::frames::{PictureSource, Pictures, read_until};
use lapseproof::plan::{ExposureMode, ExposurePlan, Plan, Planned};
use lapseproof::rehearse::{Fault, Options, rehearse};
use std::fs;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// Brightness of each picture in a folder, EV, of whole files or of the cheapest source, which must be
/// `source`.
fn brightness(folder: &Path, pictures: Pictures, source: PictureSource) -> Vec<f64> {
    let card = walk(&[folder.to_path_buf()]);
    let frames = read_until(card, Some(2), pictures, &|_| (), &AtomicBool::new(false));
    let ev = |look: &Option<lapseproof::frames::Look>| {
        let look = look.as_ref().expect("every picture is seen");
        assert_eq!(look.source, source);
        look.mean_ev().expect("it has light")
    };
    frames.looks.iter().map(ev).collect()
}

/// What a source makes by itself.
struct Noise {
    largest: f64,
    rms: f64,
    mean: f64,
}

fn noise(of: &[f64], whole: &[f64]) -> Noise {
    let off: Vec<f64> = of.iter().zip(whole).map(|(a, b)| a - b).collect();
    let steps: Vec<f64> = off.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
    Noise {
        largest: steps.iter().copied().fold(0.0, f64::max),
        rms: (steps.iter().map(|s| s * s).sum::<f64>() / steps.len() as f64).sqrt(),
        mean: off.iter().sum::<f64>() / off.len() as f64,
    }
}

fn tell(title: &str, source: PictureSource, n: usize, noise: &Noise) {
    println!(
        "{title}, {}: {n} pictures, {:+.4} EV off in the mean, steps {:.5} EV rms, {:.5} at most (stated: \
         {})",
        source.word(),
        noise.mean,
        noise.rms,
        noise.largest,
        largest_step_ev(source)
    );
}

/// Copies of the files without what stands between the start and the first table: no thumbnail, no Exif.
fn stripped(from: &Path, into: &Path) {
    for entry in fs::read_dir(from).expect("a folder").flatten() {
        let bytes = fs::read(entry.path()).expect("a file");
        if !bytes.starts_with(&[0xFF, 0xD8]) {
            continue;
        }
        let mut at = 2;
        while let Some([0xFF, 0xE0..=0xEF | 0xFE, high, low]) = bytes.get(at..at + 4) {
            at += 2 + usize::from(u16::from_be_bytes([*high, *low]));
        }
        fs::write(into.join(entry.file_name()), [&[0xFF, 0xD8][..], &bytes[at..]].concat()).expect("written");
    }
}

/// Copies of bare JPEG files with a smaller picture of themselves in their Exif segment, `wide` pixels wide.
fn with_preview(from: &Path, into: &Path, wide: u32) {
    for entry in fs::read_dir(from).expect("a folder").flatten() {
        let bytes = fs::read(entry.path()).expect("a file");
        let picture = image::load_from_memory(&bytes).expect("it decodes").to_rgb8();
        let high = wide * picture.height() / picture.width();
        let small = image::imageops::resize(&picture, wide, high, image::imageops::FilterType::CatmullRom);
        let mut preview = Vec::new();
        JpegEncoder::new_with_quality(&mut preview, 75).encode_image(&small).expect("encoded");
        let block = block_with_thumbnail(&[(0x010F, Put::Ascii("Bench"))], &[], &preview);
        let app = segment(0xE1, &[b"Exif\0\0", &block[..]].concat());
        let file = [&[0xFF, 0xD8][..], &app, &bytes[2..]].concat();
        fs::write(into.join(entry.file_name()), file).expect("written");
    }
}

/// Light that really changes, so that the sources have something to follow.
fn drawn(into: &Path) {
    let plan = Plan {
        interval_s: Some(5.0),
        frames: Some(4),
        exposure: ExposurePlan {
            mode: Some(ExposureMode::Locked),
            shutter_s: Some(Planned::Fixed(1.0 / 60.0)),
            ..ExposurePlan::default()
        },
        ..Plan::default()
    };
    let options = Options { picture: (1440, 960), thumbnail: (160, 120), quality: 92, ..Options::default() };
    let fault = Fault::parse("flicker=0.1EV").expect("a fault");
    rehearse(&plan, &[fault], &options, into).expect("rehearsed");
}

#[test]
fn drawn_pictures() {
    let dir = tempfile::tempdir().expect("a folder");
    drawn(&dir.path().join("run"));
    let frames = dir.path().join("run/frames");
    let whole = brightness(&frames, Pictures::Full, PictureSource::Whole);
    let [bare, preview, clean] = ["bare", "preview", "clean"].map(|name| dir.path().join(name));
    for folder in [&bare, &preview, &clean] {
        fs::create_dir(folder).expect("made");
    }
    stripped(&frames, &bare);
    with_preview(&bare, &preview, 640);
    for (folder, source) in [
        (&frames, PictureSource::Thumbnail),
        (&preview, PictureSource::Preview),
        (&bare, PictureSource::Reduced),
    ] {
        let of = brightness(folder, Pictures::Thumb, source);
        let noise = noise(&of, &whole);
        tell("drawn", source, of.len(), &noise);
        assert!(noise.largest <= largest_step_ev(source), "{source:?}: {}", noise.largest);
    }
    // A whole decode against the pixels before they were coded: the coding itself, at the quality of a
    // camera's smaller setting.
    let decoded: Vec<image::RgbImage> = {
        let mut paths: Vec<_> = fs::read_dir(&bare).expect("a folder").flatten().map(|e| e.path()).collect();
        paths.sort();
        paths.iter().map(|p| image::open(p).expect("it decodes").to_rgb8()).collect()
    };
    for (i, picture) in decoded.iter().enumerate() {
        let mut again = Vec::new();
        JpegEncoder::new_with_quality(&mut again, 80).encode_image(picture).expect("encoded");
        fs::write(clean.join(format!("TIDE{:04}.JPG", i + 1)), again).expect("written");
    }
    let of = brightness(&clean, Pictures::Full, PictureSource::Whole);
    let noise = noise(&of, &whole);
    tell("drawn, coded anew", PictureSource::Whole, of.len(), &noise);
    assert!(noise.largest <= largest_step_ev(PictureSource::Whole), "{}", noise.largest);
}

#[test]
fn real_pictures() {
    for name in ["aerial-2s", "aerial-4s", "aerial-10s"] {
        let Some(folder) = crate::support::real().map(|r| r.join("sequences").join(name)) else { return };
        if crate::support::there(&folder).is_none() {
            continue;
        }
        let dir = tempfile::tempdir().expect("a folder");
        stripped(&folder, dir.path());
        let whole = brightness(dir.path(), Pictures::Full, PictureSource::Whole);
        for (folder, source) in [(&*folder, PictureSource::Thumbnail), (dir.path(), PictureSource::Reduced)] {
            let of = brightness(folder, Pictures::Thumb, source);
            let noise = noise(&of, &whole);
            tell(name, source, of.len(), &noise);
            assert!(noise.largest <= largest_step_ev(source), "{name} {source:?}: {}", noise.largest);
            assert!(
                noise.rms <= std::f64::consts::SQRT_2 * floor_ev(source),
                "{name} {source:?}: {}",
                noise.rms
            );
        }
    }
}
