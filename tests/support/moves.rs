//! Rehearsed runs drawn, made small as a camera's thumbnail is (a JPEG of quality 75) or as a scaled decode,
//! and followed.

use super::rehearsed::frames;
use image::DynamicImage;
use image::imageops::FilterType;
use lapseproof::frames::Frames;
use lapseproof::frames::shift::{Follower, Grid};
use lapseproof::plan::Plan;
use lapseproof::rehearse::write::Camera;
use lapseproof::rehearse::{Fault, Options, Script, jpeg, script};

/// Size of a thumbnail, px.
pub const THUMBNAIL: (u32, u32) = (160, 107);

/// The small grey picture of a shot.
fn small(camera: &Camera<'_>, script: &Script, index: usize, size: (u32, u32)) -> Grid {
    let picture = camera.picture(index, &script.shots[index]);
    // The library's own instance is optimised, an instance of this crate is not.
    let small = DynamicImage::ImageRgb8(picture).resize_exact(size.0, size.1, FilterType::Triangle);
    let bytes = jpeg::encode(&small.into_rgb8(), 75).expect("a JPEG");
    let grey = image::load_from_memory(&bytes).expect("a picture").into_luma8();
    let values = grey.pixels().map(|p| f32::from(p.0[0])).collect();
    Grid::new(size.0 as usize, size.1 as usize, values).expect("a picture")
}

/// The frames of a rehearsal of `plan` with `faults`, drawn in the first size and followed in the second.
pub fn followed(
    plan: &Plan,
    faults: &[String],
    seed: u64,
    (picture, size): ((u32, u32), (u32, u32)),
) -> (Script, Frames) {
    let faults: Vec<Fault> = faults.iter().map(|text| Fault::parse(text).expect(text)).collect();
    let options = Options { seed, picture, stamp_digits: 2, ..Options::default() };
    let script = script(plan, &faults, &options).expect("a rehearsal");
    let camera = Camera::new(&script, plan, &options);
    let mut follower = Follower::default();
    let on_card: Vec<_> = (0..script.shots.len()).filter(|i| script.shots[*i].on_card()).collect();
    for (batch, indices) in on_card.chunks(32).enumerate() {
        let at = |k: usize| (batch * 32 + k) as u32;
        follower.take(
            indices.iter().enumerate().map(|(k, i)| (at(k), small(&camera, &script, *i, size))).collect(),
        );
    }
    let mut frames = frames(&script, 2);
    frames.moves = follower.finish();
    (script, frames)
}
