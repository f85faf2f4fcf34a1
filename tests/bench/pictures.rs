//! The audit with pictures compared with decoding those pictures and nothing else, on the same threads.
//!
//! Makes files with a thumbnail of 160 by 120 in a 31 KB Exif segment, as cameras write them, and a few
//! pictures of 24 megapixels without one. Rounds of all loops follow each other, so that noise is shared;
//! medians and ratios are told. Where the real sequences lie beside the project, their thumbnails are looked
//! at too; where a Python with Pillow is installed, its libjpeg-turbo decodes the large pictures at an eighth
//! for comparison. `cargo bench --bench pictures`, or with the number of files behind `--`.

#[allow(dead_code)] // a part of it is enough here
#[path = "../support/mod.rs"]
mod support;

use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};
use lapseproof::audit::{Setting, carry_out};
use lapseproof::frames::Pictures;
use lapseproof::units::light::decoded;
use lapseproof::{card, frames, outputs};
use rayon::prelude::*;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::AtomicBool;
use std::time::Instant;
use support::writer::{Put, block_with_thumbnail, picture_data};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

const THREADS: usize = 8;
const ROUNDS: usize = 9;
/// Large pictures, and their sides.
const LARGE: usize = 20;
const SIDES: (u32, u32) = (6000, 4000);

/// A number that looks drawn by lot from three others, 0 to 1.
fn lot(x: u32, y: u32, k: u32) -> f32 {
    let mut v = x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77) ^ k.wrapping_mul(0xC2B2_AE3D);
    v ^= v >> 15;
    v = v.wrapping_mul(0x2C1B_3C6D);
    v ^= v >> 12;
    (v & 0xFFFF) as f32 / 65_536.0
}

/// Sky, hills with trees on them and water, `scale` times as wide as a thumbnail.
fn scene(size: (u32, u32), scale: f32, k: u32) -> RgbImage {
    RgbImage::from_fn(size.0, size.1, |px, py| {
        let (x, y) = (px as f32 / scale, py as f32 / scale);
        let ridge = 45.0 + 9.0 * (x / 17.0).sin() + 4.0 * (x / 5.3).cos() + 2.0 * (x * 1.7).sin();
        let noise = 10.0 * (lot(px, py, k) - 0.5);
        let glow = 6.0 * (k as f32 / 40.0).sin();
        let [r, g, b] = if y < ridge {
            let cloud = 24.0 * ((x / 21.0 + k as f32 / 90.0).sin() * (y / 9.0).cos());
            [150.0 + cloud, 175.0 + cloud, 215.0 + 0.4 * cloud]
        } else if y < 80.0 {
            let tree = 55.0 * lot((x * 1.1) as u32, (y * 1.3) as u32, 7);
            [40.0 + tree, 62.0 + tree, 30.0 + 0.5 * tree]
        } else {
            let wave = 16.0 * ((y * 1.9).sin() + (x / 3.0 + k as f32 / 4.0).sin());
            [70.0 + wave, 95.0 + wave, 120.0 + wave]
        };
        Rgb([r, g, b].map(|v| (v + noise + glow).clamp(0.0, 255.0) as u8))
    })
}

fn encoded(picture: &RgbImage, quality: u8) -> Vec<u8> {
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, quality).encode_image(picture).expect("it is a picture");
    out
}

/// A thumbnail of a picture of 3:2: 160 by 107 between bars.
fn thumbnail(k: u32) -> Vec<u8> {
    let inner = scene((160, 107), 1.0, k);
    let mut all = RgbImage::new(160, 120);
    image::imageops::replace(&mut all, &inner, 0, 6);
    encoded(&all, 85)
}

fn exif(i: usize, thumbnail: &[u8], notes: &[u8]) -> Vec<u8> {
    let s = 4 * 3600 + 5 * i;
    let stamp =
        format!("2026:05:{:02} {:02}:{:02}:{:02}", 9 + s / 86_400, s / 3600 % 24, s / 60 % 60, s % 60);
    let main = [(0x010F, Put::Ascii("Bench")), (0x0110, Put::Ascii("B-1")), (0x0112, Put::Short(&[1]))];
    let own = [
        (0x829A, Put::Ratio(1, 60)),
        (0x829D, Put::Ratio(8, 1)),
        (0x8827, Put::Short(&[200])),
        (0x9003, Put::Ascii(&stamp)),
        (0x9201, Put::Signed(6, 1)),
        (0x9202, Put::Ratio(6, 1)),
        (0x920A, Put::Ratio(24, 1)),
        (0x927C, Put::Bytes(notes)),
        (0xA002, Put::Long(6000)),
        (0xA003, Put::Long(4000)),
    ];
    block_with_thumbnail(&main, &own, thumbnail)
}

/// `picture` with that block straight after its start.
fn file(block: &[u8], picture: &[u8]) -> Vec<u8> {
    let segment = support::writer::segment(0xE1, &[b"Exif\0\0", block].concat());
    [&[0xFF, 0xD8][..], &segment, &picture[2..]].concat()
}

/// The files with thumbnails, and the thumbnails.
fn make(root: &Path, n: usize) -> io::Result<(Vec<PathBuf>, Vec<Vec<u8>>)> {
    let notes = picture_data(20_000);
    // The picture itself is never looked at; its frame header says how large it is meant to be.
    let mut own = encoded(&RgbImage::new(64, 64), 80);
    let at = own.windows(2).position(|w| w == [0xFF, 0xC0]).expect("a frame header");
    own[at + 5..at + 9].copy_from_slice(&[0x0F, 0xA0, 0x17, 0x70]);
    own.truncate(own.len() - 2);
    own.extend(picture_data(100_000));
    own.extend([0xFF, 0xD9]);
    fs::create_dir_all(root)?;
    let made: io::Result<Vec<_>> = (0..n)
        .into_par_iter()
        .map(|i| {
            let small = thumbnail(i as u32);
            let path = root.join(format!("LOOK{:04}.JPG", i + 1));
            fs::write(&path, file(&exif(i, &small, &notes), &own))?;
            Ok((path, small))
        })
        .collect();
    Ok(made?.into_iter().unzip())
}

/// The mean light of a thumbnail as a short program would have it: decoded by `image`, codes to linear light,
/// added up.
fn mean_light(bytes: &[u8], light: &[f32; 256]) -> f32 {
    let picture = image::load_from_memory(bytes).expect("it decodes").into_rgb8();
    let of = |[r, g, b]: [u8; 3]| {
        0.2126 * light[usize::from(r)] + 0.7152 * light[usize::from(g)] + 0.0722 * light[usize::from(b)]
    };
    picture.pixels().map(|p| of(p.0)).sum::<f32>() / (picture.width() * picture.height()) as f32
}

/// The thumbnail in a real file, where it is a plain one.
fn of_real(path: &Path) -> Option<Vec<u8>> {
    let bytes = fs::read(path).ok()?;
    let mut source = frames::source::Source::open(path).ok()?;
    let read = frames::read_source_for(&mut source, frames::Want { embedded: true }).ok()?;
    let first = read.embedded.first()?;
    let at = usize::try_from(first.at).ok()?;
    Some(bytes.get(at..at + usize::try_from(first.len).ok()?)?.to_vec())
}

fn decode(bytes: &[u8]) -> usize {
    let options = DecoderOptions::new_safe().set_strict_mode(false).jpeg_set_out_colorspace(ColorSpace::RGB);
    JpegDecoder::new_with_options(ZCursor::new(bytes), options).decode().map_or(0, |codes| codes.len())
}

fn read(root: &Path, n: usize, pictures: Pictures) -> frames::Frames {
    let card = card::walk(&[root.to_path_buf()]);
    let read = frames::read_until(card, Some(THREADS), pictures, &|_| {}, &AtomicBool::new(false));
    assert_eq!((read.len(), read.trouble.len()), (n, 0));
    let seen = read.looks.iter().flatten().count();
    assert_eq!(seen, if pictures == Pictures::None { 0 } else { n }, "a picture has no look");
    read
}

/// Reads and follows how the pictures move.
fn follow(root: &Path, pictures: Pictures, threads: usize) {
    let card = card::walk(&[root.to_path_buf()]);
    let asked = frames::Asked { pictures, follow: true };
    let read = frames::read_until(card, Some(threads), asked, &|_| {}, &AtomicBool::new(false));
    assert!(!read.moves.is_empty(), "nothing was followed");
}

fn audit(root: &Path, n: usize) {
    let setting = Setting { name: "bench".into(), pictures: Pictures::Thumb, ..Setting::default() };
    let audit = carry_out(setting, read(root, n, Pictures::Thumb));
    outputs::frames_csv::write(&audit, io::sink()).expect("nothing is written");
    outputs::findings_csv::write(&audit, io::sink()).expect("nothing is written");
    outputs::json::write(&audit, io::sink()).expect("nothing is written");
    outputs::html::write(&audit, io::sink()).expect("nothing is written");
    outputs::text::summary(&audit, false);
}

fn median(mut of: Vec<f64>) -> f64 {
    of.sort_by(f64::total_cmp);
    of[of.len() / 2]
}

/// A loop's name, and the loop.
type Loop<'a> = (&'static str, Box<dyn Fn() + Sync + 'a>);

/// Tells what each loop takes for a picture, and against the first of them.
fn compare(title: &str, files: usize, rounds: usize, loops: &[Loop<'_>]) {
    let mut took: Vec<Vec<f64>> = vec![Vec::new(); loops.len()];
    for round in 0..rounds {
        for i in 0..loops.len() {
            let at = (i + round) % loops.len();
            let start = Instant::now();
            loops[at].1();
            took[at].push(start.elapsed().as_secs_f64());
        }
    }
    let took: Vec<f64> = took.into_iter().map(median).collect();
    println!("\n{title}: {files} pictures, median of {rounds} rounds");
    println!("{:>48}  {:>11}  {:>12}", "loop", "ms/picture", "to the first");
    for ((name, _), seconds) in loops.iter().zip(&took) {
        println!("{name:>48}  {:>11.4}  {:>12.2}", 1e3 * seconds / files as f64, seconds / took[0]);
    }
}

/// Thumbnails: decoding alone is the floor.
fn thumbnails(title: &str, pool: &rayon::ThreadPool, root: &Path, paths: &[PathBuf], small: &[Vec<u8>]) {
    let n = paths.len();
    let light: [f32; 256] = std::array::from_fn(|code| decoded(code as f64 / 255.0) as f32);
    let loops: [Loop<'_>; 7] = [
        (
            "decode the thumbnails, from memory",
            Box::new(|| {
                let done: usize = pool.install(|| small.par_iter().map(|b| decode(b).min(1)).sum());
                assert_eq!(done, n, "each of them decodes");
            }),
        ),
        (
            "the same by `image`, and the mean of their light",
            Box::new(|| {
                let sum: f32 = pool.install(|| small.par_iter().map(|b| mean_light(b, &light)).sum());
                assert!(sum > 0.0, "they are not black");
            }),
        ),
        (
            "open, read 64 KiB, decode",
            Box::new(|| {
                pool.install(|| {
                    paths.par_iter().zip(small).for_each(|(path, small)| {
                        let mut head = Vec::with_capacity(64 * 1024);
                        let file = File::open(path).expect("it is there");
                        file.take(64 * 1024).read_to_end(&mut head).expect("it can be read");
                        assert!(!head.is_empty() && decode(small) > 0);
                    });
                });
            }),
        ),
        ("walk and read headers", Box::new(|| drop(read(root, n, Pictures::None)))),
        ("walk, read and look", Box::new(|| drop(read(root, n, Pictures::Thumb)))),
        ("walk, read, look and follow", Box::new(|| follow(root, Pictures::Thumb, THREADS))),
        ("the whole audit", Box::new(|| audit(root, n))),
    ];
    compare(title, n, ROUNDS, &loops);
}

/// What Pillow's libjpeg-turbo takes for a picture at an eighth, ms on one thread, by its own clock; `None`
/// where there is none.
fn turbo(paths: &[PathBuf]) -> Option<f64> {
    const SCRIPT: &str = "
import sys, time
from PIL import Image, features
if not features.check('libjpeg_turbo'): sys.exit(1)
took = []
for path in sys.argv[1:]:
    start = time.perf_counter()
    with Image.open(path) as picture:
        picture.draft('RGB', (picture.width // 8, picture.height // 8))
        picture.load()
    took.append(time.perf_counter() - start)
took.sort()
print(1e3 * took[len(took) // 2])
";
    let told = Command::new("python3").args(["-c", SCRIPT]).args(paths).output().ok()?;
    String::from_utf8(told.stdout).ok()?.trim().parse().ok()
}

fn large(root: &Path) -> io::Result<()> {
    fs::create_dir_all(root)?;
    let paths: Vec<PathBuf> = (0..LARGE).map(|i| root.join(format!("WIDE{:04}.JPG", i + 1))).collect();
    for (i, path) in paths.iter().enumerate() {
        let picture = encoded(&scene(SIDES, SIDES.0 as f32 / 160.0, i as u32), 90);
        fs::write(path, file(&exif(i, &[], &picture_data(20_000)), &picture))?;
    }
    let one = |pictures| {
        let card = card::walk(&[root.to_path_buf()]);
        let read = frames::read_until(card, Some(1), pictures, &|_| {}, &AtomicBool::new(false));
        assert_eq!(read.looks.iter().flatten().count(), LARGE, "a picture has no look");
    };
    let mut rival = Vec::new();
    let loops: [Loop<'_>; 5] = [
        ("image, whole", Box::new(|| paths.iter().for_each(|p| drop(image::open(p).expect("it decodes"))))),
        ("ours at an eighth, read and measured", Box::new(|| one(Pictures::Thumb))),
        ("the same, and followed", Box::new(|| follow(root, Pictures::Thumb, 1))),
        ("ours whole, read and measured", Box::new(|| one(Pictures::Full))),
        ("the same, and followed", Box::new(|| follow(root, Pictures::Full, 1))),
    ];
    let mut took = vec![Vec::new(); loops.len()];
    for _ in 0..3 {
        for (took, (_, run)) in took.iter_mut().zip(&loops) {
            let start = Instant::now();
            run();
            took.push(1e3 * start.elapsed().as_secs_f64() / LARGE as f64);
        }
        rival.extend(turbo(&paths));
    }
    let bytes = fs::metadata(&paths[0])?.len() as f64 / 1e6;
    println!(
        "\n24 megapixels, {bytes:.1} MB each, no thumbnail, one thread: {LARGE} pictures, median of 3 rounds"
    );
    let floor = (!rival.is_empty()).then(|| median(rival));
    match floor {
        Some(ms) => println!("{:>44}  {ms:>11.1} ms/picture", "libjpeg-turbo at an eighth (Pillow)"),
        None => println!("no Python with Pillow and libjpeg-turbo here: only our own loops"),
    }
    for ((name, _), took) in loops.iter().zip(took) {
        let ms = median(took);
        let against = floor.map_or(String::new(), |f| format!("  {:>6.2} times libjpeg-turbo", ms / f));
        println!("{name:>44}  {ms:>11.1} ms/picture{against}");
    }
    Ok(())
}

fn main() -> io::Result<()> {
    let n: usize = std::env::args().skip(1).find_map(|a| a.parse().ok()).unwrap_or(2000).clamp(10, 9999);
    let place = tempfile::tempdir()?;
    let pool = rayon::ThreadPoolBuilder::new().num_threads(THREADS).build().map_err(io::Error::other)?;
    let root = place.path().join("small");
    let (paths, small) = make(&root, n)?;
    if std::env::var_os("LAPSEPROOF_PROFILE").is_some() {
        // For a profiler: nothing but what is to be looked at.
        let started = Instant::now();
        (0..10).for_each(|_| audit(&root, n));
        println!("{:.4} ms/picture", 1e2 * started.elapsed().as_secs_f64() / n as f64);
        return Ok(());
    }
    println!("{THREADS} threads");
    let mean = small.iter().map(Vec::len).sum::<usize>() / n;
    thumbnails(&format!("thumbnails of {mean} bytes, drawn"), &pool, &root, &paths, &small);
    for name in ["aerial-2s", "aerial-4s", "aerial-10s"] {
        let Some(root) = support::real().map(|r| r.join("sequences").join(name)).filter(|r| r.is_dir())
        else {
            println!("\n{name}: not beside the project, skipped");
            continue;
        };
        let card = card::walk(std::slice::from_ref(&root));
        let paths: Vec<PathBuf> = card.shots.iter().map(|shot| card.path_of(&shot.file)).collect();
        let small: Option<Vec<Vec<u8>>> = paths.iter().map(|p| of_real(p)).collect();
        match small {
            Some(small) => {
                let mean = small.iter().map(Vec::len).sum::<usize>() / small.len().max(1);
                thumbnails(&format!("{name}, thumbnails of {mean} bytes"), &pool, &root, &paths, &small);
            }
            None => println!("\n{name}: a file without a thumbnail, skipped"),
        }
    }
    large(&place.path().join("large"))
}
