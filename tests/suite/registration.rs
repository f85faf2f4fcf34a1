//! Registration against published check values and against scikit-image's phase_cross_correlation on textured
//! pairs.

use lapseproof::frames::shift::{Grid, Shift, Tiler, register};
use std::path::PathBuf;

fn close(found: Shift, x: f32, y: f32, within: f32) -> bool {
    (found.x - x).abs() <= within && (found.y - y).abs() <= within
}

/// x ← 1664525 x + 1013904223 mod 2³², seed 12345, the highest byte: 64 × 64 pixels, the image of the check
/// values (a linear congruential generator with the constants of Numerical Recipes).
fn noise() -> Vec<f32> {
    let mut x = 12345_u32;
    (0..64 * 64)
        .map(|_| {
            x = x.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (x >> 24) as f32
        })
        .collect()
}

fn grid(values: Vec<f32>) -> Grid {
    let side = (values.len() as f64).sqrt() as usize;
    Grid::new(side, side, values).expect("a square picture")
}

/// `values` with its content moved right by `dx` and down by `dy`, wrapped at the edges.
fn rolled(values: &[f32], dx: i32, dy: i32) -> Vec<f32> {
    let at = |x: i32, y: i32| values[(y.rem_euclid(64) * 64 + x.rem_euclid(64)) as usize];
    (0..64 * 64).map(|i| at(i % 64 - dx, i / 64 - dy)).collect()
}

#[test]
fn the_image_is_that_of_the_check_values() {
    let noise = noise();
    assert_eq!(noise[..5], [5.0, 4.0, 139.0, 162.0, 232.0]);
    assert_eq!(noise.iter().map(|v| f64::from(*v)).sum::<f64>(), 520_374.0);
    if let Some(folder) = crate::support::checkvalues() {
        let text = std::fs::read_to_string(folder.join("data/lcg64.csv")).expect("the image");
        let kept: Vec<f32> = text.split([',', '\n']).filter_map(|v| v.trim().parse().ok()).collect();
        assert_eq!(kept, noise);
    }
}

/// Whole shifts: scikit-image names the shift that brings the second picture back, (−5, 3) for a roll of (5,
/// −3) and so on; ours is the roll itself, across first.
#[test]
fn whole_shifts_of_the_check_values() {
    let noise = noise();
    for (dy, dx) in [(5, -3), (0, 7), (-11, 2), (31, -32)] {
        let found = register(&grid(noise.clone()), &grid(rolled(&noise, dx, dy))).expect("a shift");
        // At half the width the two directions are one.
        let same =
            close(found, dx as f32, dy as f32, 0.02) || close(found, 64.0 + dx as f32, dy as f32, 0.02);
        assert!(same, "({dx}, {dy}): {found:?}");
    }
}

#[test]
fn gain_and_offset_leave_the_peak_where_it_is() {
    let noise = noise();
    let other = rolled(&noise, -3, 5).iter().map(|v| v * 1.3 + 10.0).collect();
    let found = register(&grid(noise), &grid(other)).expect("a shift");
    assert!(close(found, -3.0, 5.0, 0.02), "{found:?}");
}

/// 48 × 48 crops of the image at (8, 8) and (4, 2): scikit-image names (−4, −6), down first.
#[test]
fn crops_that_do_not_wrap() {
    let noise = noise();
    let crop =
        |x: usize, y: usize| grid((0..48 * 48).map(|i| noise[(y + i / 48) * 64 + x + i % 48]).collect());
    let found = register(&crop(8, 8), &crop(2, 4)).expect("a shift");
    assert!(close(found, 6.0, 4.0, 0.1), "{found:?}");
}

#[test]
fn nothing_in_common_is_no_shift() {
    let flat = Grid::new(64, 48, vec![7.0; 64 * 48]).expect("a picture");
    assert_eq!(register(&flat, &flat), None);
    assert_eq!(register(&flat, &grid(noise())), None);
}

/// One row of `pairs.csv`: file, true shift, scikit-image's.
struct Pair {
    file: String,
    first: Grid,
    second: Grid,
    is: Shift,
    scikit: Shift,
}

fn pairs() -> Vec<Pair> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/shift_pairs");
    let text = std::fs::read_to_string(folder.join("pairs.csv")).expect("pairs.csv");
    let rows = text.lines().filter(|l| l.starts_with("pair"));
    let pairs: Vec<_> = rows
        .map(|row| {
            let cells: Vec<&str> = row.split(',').collect();
            let number = |i: usize| cells[i].parse::<f32>().expect("a number");
            let both = image::open(folder.join(cells[0])).expect("a picture").into_luma8();
            let (w, h) = (both.width() / 2, both.height());
            let half = |from: u32| {
                let one = image::imageops::crop_imm(&both, from, 0, w, h).to_image();
                Grid::new(w as usize, h as usize, one.pixels().map(|p| f32::from(p.0[0])).collect())
                    .expect("a picture")
            };
            Pair {
                file: cells[0].to_owned(),
                first: half(0),
                second: half(w),
                is: Shift { x: number(1), y: number(2) },
                scikit: Shift { x: number(3), y: number(4) },
            }
        })
        .collect();
    assert_eq!(pairs.len(), 10);
    pairs
}

#[test]
fn agrees_with_scikit_image_on_textured_pairs() {
    for pair in pairs() {
        let found = register(&pair.first, &pair.second).expect("a shift");
        println!("{}: {found:?}, scikit-image {:?}, true {:?}", pair.file, pair.scikit, pair.is);
        assert!(close(found, pair.scikit.x, pair.scikit.y, 0.1), "{}: {found:?}", pair.file);
    }
}

/// The tiles by themselves come closer to the truth than the whole picture's peak does.
#[test]
fn tiles_find_the_true_shift() {
    for pair in pairs() {
        let (w, h) = pair.first.size();
        let tiler = Tiler::new(w, h).expect("large enough");
        let draw = |g: &Grid| tiler.draw(g).expect("drawn");
        let tiles = tiler.shifts(&draw(&pair.first), &draw(&pair.second));
        let mut off: Vec<f32> = tiles
            .iter()
            .filter(|t| t.is_known() && t.unlike < 0.3)
            .map(|t| (t.by.x - pair.is.x).hypot(t.by.y - pair.is.y))
            .collect();
        off.sort_by(f32::total_cmp);
        println!(
            "{}: {} tiles, median {:.3} px off, worst {:.3}",
            pair.file,
            off.len(),
            off[off.len() / 2],
            off[off.len() - 1]
        );
        assert!(off.len() >= 8, "{}: only {} tiles", pair.file, off.len());
        assert!(off[off.len() / 2] < 0.06, "{}: {off:?}", pair.file);
    }
}
