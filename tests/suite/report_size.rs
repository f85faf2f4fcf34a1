//! The report's size does not grow with the frames: a page of 100,000 is below 3 MB, pictures included.

use crate::support::series::{Tick, floored, frames};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::outputs::html::{self, Gallery, Picture};
use lapseproof::plan::Plan;
use lapseproof::units::Micros;

fn audit(n: u32) -> Audit {
    let ticks: Vec<Tick> = (0..n)
        .filter(|k| k % 997 != 500)
        .enumerate()
        .map(|(number, k)| Tick {
            stamp: Some(floored(f64::from(k) * 5.013, Micros::SECOND)),
            number: number as u32 + 1,
            exposure_s: (-f64::from(18 + (k / 7) % 5) / 3.0).exp2(),
            ..Tick::default()
        })
        .collect();
    let plan = Plan { interval_s: Some(5.013), frames: Some(n.into()), ..Plan::default() };
    carry_out(Setting { name: "long".into(), plan, ..Setting::default() }, frames(&ticks, Micros::SECOND))
}

/// A picture of noise: the hardest to pack.
fn noise(width: u32, height: u32, quality: u8) -> Picture {
    let mut dice = 0x2545_F491_u32;
    let picture = image::RgbImage::from_fn(width, height, |_, _| {
        // xorshift (Marsaglia 2003).
        dice ^= dice << 13;
        dice ^= dice >> 17;
        dice ^= dice << 5;
        image::Rgb([(dice >> 24) as u8; 3])
    });
    let mut jpeg = Vec::new();
    let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, quality);
    picture.write_with_encoder(encoder).expect("memory takes it");
    Picture { width, height, jpeg }
}

/// Every picture that the page wants, larger than those of any camera's are.
fn pictures(audit: &Audit) -> Gallery {
    let wanted = html::wanted(audit);
    let (small, large) = (noise(160, 107, 45), noise(520, 347, 30));
    println!("{} and {} bytes a picture", small.jpeg.len(), large.jpeg.len());
    Gallery {
        small: wanted.small.into_iter().map(|at| (at, small.clone())).collect(),
        large: wanted.large.into_iter().map(|at| (at, large.clone())).collect(),
    }
}

#[test]
fn a_page_of_a_hundred_thousand_frames_is_no_larger() {
    let page = |n: u32, with: bool| {
        let audit = audit(n);
        let gallery = if with { pictures(&audit) } else { Gallery::default() };
        let mut bytes = Vec::new();
        html::write_with(&audit, &gallery, &mut bytes).expect("memory takes it");
        bytes
    };
    let (small, long) = (page(4_000, false), page(100_000, false));
    assert!(
        long.len() < small.len() * 3 / 2,
        "{} bytes for 4,000 frames, {} for 100,000",
        small.len(),
        long.len()
    );
    let whole = page(100_000, true);
    assert!(whole.len() < 3_000_000, "{} bytes", whole.len());
    println!("{} bytes without pictures, {} with", long.len(), whole.len());
    // A page to look at in a browser.
    if let Some(folder) = std::env::var_os("LAPSEPROOF_PAGES") {
        std::fs::write(std::path::Path::new(&folder).join("report.html"), whole).expect("written");
    }
}
