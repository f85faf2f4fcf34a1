//! Writing a rehearsal to a folder.

use super::chance::{Chance, mix};
use super::exif;
use super::faults::{Damage, Fault};
use super::jpeg;
use super::scene::{Scene, View};
use super::script::{Script, script};
use super::shot::{Shot, State};
use super::truth::{MADE_BY, Truth};
use super::{Options, RehearseError};
use crate::plan::Plan;
use crate::store::{clear, write_beside};
use crate::units::Micros;
use crate::units::shown;
use image::RgbImage;
use image::imageops::{FilterType, replace, resize};
use rayon::prelude::*;
use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

/// Files that may lie in a rehearsal's folder beside `frames/` and `truth.json`.
const BESIDE: [&str; 2] = ["plan.toml", "why.txt"];

/// Shoots `plan` with `faults` into the folder `into`: the frames below `frames/`, what is wrong in
/// `truth.json`.
///
/// The folder is made where it is not there. One that holds anything is refused, unless it was made by a
/// rehearsal: then its frames are replaced.
///
/// # Errors
/// Where the plan or an option cannot be rehearsed, the folder is not free, or the disk refuses.
pub fn rehearse(
    plan: &Plan,
    faults: &[Fault],
    options: &Options,
    into: &Path,
) -> Result<Truth, RehearseError> {
    let script = script(plan, faults, options)?;
    write_until(&script, plan, options, into, &|_| (), &AtomicBool::new(false))
}

/// As [`rehearse`], of a script. `progress` is called from any thread with the number of shots done since its
/// last call.
///
/// # Errors
/// As [`rehearse`]; [`RehearseError::Stopped`] where `stop` was raised before the last frame was written.
/// Nothing of the rehearsal is left then.
pub fn write_until(
    script: &Script,
    plan: &Plan,
    options: &Options,
    into: &Path,
    progress: &(dyn Fn(u64) + Sync),
    stop: &AtomicBool,
) -> Result<Truth, RehearseError> {
    let there = into.exists();
    make_room(into)?;
    // The truth comes first: a rehearsal that is interrupted can then be made again.
    let truth = serde_json::to_string_pretty(&script.truth)
        .map_err(|e| RehearseError::Encode(format!("truth.json could not be laid out: {e}")))?;
    replace_file(&into.join("truth.json"), format!("{truth}\n").as_bytes())?;
    let shots: Vec<(usize, &Shot)> = script.shots.iter().enumerate().filter(|(_, s)| s.on_card()).collect();
    make_folders(script, &shots, into)?;
    let camera = Camera::new(script, plan, options);
    // Frames know nothing of one another, so that any number of threads writes the same bytes.
    let written = shots.par_iter().try_for_each(|(index, shot)| {
        if stop.load(Ordering::Relaxed) {
            return Err(RehearseError::Stopped);
        }
        let bytes = camera.file(*index, shot)?;
        write_file(&into.join(script.file(shot)), &bytes)?;
        if shot.copied {
            write_file(&into.join(script.copy(shot)), &bytes)?;
        }
        progress(1);
        Ok(())
    });
    if matches!(written, Err(RehearseError::Stopped)) {
        make_room(into)?;
        let truth = into.join("truth.json");
        fs::remove_file(&truth).map_err(|e| RehearseError::disk(&truth, "clearing the folder", e))?;
        if !there {
            // Anything that somebody laid into it meanwhile keeps it.
            let _ = fs::remove_dir(into);
        }
    }
    written.map(|()| script.truth.clone())
}

/// Makes every folder that a frame goes to.
fn make_folders(script: &Script, shots: &[(usize, &Shot)], into: &Path) -> Result<(), RehearseError> {
    let mut folder = String::new();
    for (_, shot) in shots {
        let file = script.file(shot);
        let parent = file.rsplit_once('/').map_or("", |(parent, _)| parent);
        if parent != folder {
            let path = into.join(parent);
            fs::create_dir_all(&path).map_err(|e| RehearseError::disk(&path, "making the folder", e))?;
            folder = parent.to_owned();
        }
    }
    Ok(())
}

fn write_file(path: &Path, bytes: &[u8]) -> Result<(), RehearseError> {
    fs::write(path, bytes).map_err(|e| RehearseError::disk(path, "writing", e))
}

/// Writes beside the final name and renames.
fn replace_file(path: &Path, bytes: &[u8]) -> Result<(), RehearseError> {
    let failed = |e| RehearseError::disk(path, "writing", e);
    write_beside(path, bytes, true).map_err(failed)
}

/// Sees that the folder is there and free, and clears away an earlier rehearsal's frames.
fn make_room(into: &Path) -> Result<(), RehearseError> {
    fs::create_dir_all(into).map_err(|e| RehearseError::disk(into, "making the folder", e))?;
    clear(&into.join("truth.json")).map_err(|e| RehearseError::disk(into, "clearing the folder", e))?;
    let names = names(into)?;
    let truth = into.join("truth.json");
    let ours = fs::read_to_string(&truth)
        .ok()
        .and_then(|text| serde_json::from_str::<Truth>(&text).ok())
        .is_some_and(|truth| truth.made_by == MADE_BY);
    // A plan that lies ready does no harm; anything else is somebody's.
    let foreign = names
        .iter()
        .find(|n| !BESIDE.contains(&n.as_str()) && !(ours && (*n == "frames" || *n == "truth.json")));
    if let Some(name) = foreign {
        return Err(RehearseError::Place {
            path: into.to_owned(),
            message: format!(
                "the folder holds `{}`, which no rehearsal made; choose an empty folder or a new name",
                shown(name)
            ),
        });
    }
    let frames = into.join("frames");
    if frames.is_dir() {
        check_frames(&frames)?;
        fs::remove_dir_all(&frames).map_err(|e| RehearseError::disk(&frames, "clearing the folder", e))?;
    }
    Ok(())
}

fn names(folder: &Path) -> Result<Vec<String>, RehearseError> {
    let failed = |e| RehearseError::disk(folder, "listing the folder", e);
    let mut names = Vec::new();
    for entry in fs::read_dir(folder).map_err(failed)? {
        names.push(entry.map_err(failed)?.file_name().to_string_lossy().into_owned());
    }
    names.sort();
    Ok(names)
}

/// Refuses to clear a folder in which anything lies that a rehearsal does not write.
fn check_frames(frames: &Path) -> Result<(), RehearseError> {
    for entry in walkdir::WalkDir::new(frames).min_depth(1).sort_by_file_name() {
        let entry =
            entry.map_err(|e| RehearseError::disk(frames, "listing the folder", std::io::Error::from(e)))?;
        let name = entry.file_name().to_string_lossy();
        let made = if entry.file_type().is_dir() {
            name == "DCIM" || (name.len() == 8 && name.ends_with("LAPSE"))
        } else {
            let stem = name.strip_suffix(".JPG").unwrap_or("");
            let stem = stem.strip_suffix(" (1)").unwrap_or(stem);
            stem.len() == 8 && stem.chars().skip(4).all(|c| c.is_ascii_digit())
        };
        if !made {
            return Err(RehearseError::Place {
                path: entry.path().to_owned(),
                message: "no rehearsal made this, and the frames around it would be replaced; move it \
                          elsewhere or choose another folder"
                    .into(),
            });
        }
    }
    Ok(())
}

/// Makes the bytes of each file.
pub struct Camera<'a> {
    script: &'a Script,
    plan: &'a Plan,
    options: &'a Options,
    scene: Scene,
}

impl<'a> Camera<'a> {
    /// The camera that shoots this script.
    pub fn new(script: &'a Script, plan: &'a Plan, options: &'a Options) -> Self {
        Self { script, plan, options, scene: Scene::new(options.seed, options.picture) }
    }

    /// The picture of a shot, before it is encoded.
    pub fn picture(&self, index: usize, shot: &Shot) -> RgbImage {
        if !self.options.draw {
            return self.scene.flat(shot.brightness_ev());
        }
        let time = self.script.true_time(shot).micros().rem_euclid(Micros::DAY);
        self.scene.draw(&View {
            hour: time.ratio(Micros::from_seconds(3600)),
            elapsed_s: shot.open_s,
            carriage_mm: shot.carriage_m * 1000.0,
            brightness_ev: shot.brightness_ev(),
            iso: shot.settings.iso,
            blur_px: shot.blur_px,
            askew_px: shot.askew_px,
            lorry: shot.lorry,
            shot: index as u64,
        })
    }

    /// The bytes of a shot's file, damaged where it is.
    ///
    /// # Errors
    /// Where the picture or its Exif block cannot be encoded.
    pub fn file(&self, index: usize, shot: &Shot) -> Result<Vec<u8>, RehearseError> {
        if shot.state == State::Damaged(Damage::Empty) {
            return Ok(Vec::new());
        }
        let picture = self.picture(index, shot);
        let thumbnail = jpeg::encode(&fitted(&picture, self.options.thumbnail), 75)?;
        let tiff = exif::block(shot, self.plan, self.options, &thumbnail)?;
        let bytes = jpeg::with_exif(&jpeg::encode(&picture, self.options.quality)?, &tiff)?;
        Ok(match shot.state {
            State::Damaged(damage) => damaged(bytes, damage, self.options.seed ^ mix(index as u64)),
            State::Written | State::Lost => bytes,
        })
    }
}

/// The picture scaled to fit, between black bars where the shapes differ.
fn fitted(picture: &RgbImage, (w, h): (u32, u32)) -> RgbImage {
    let (pw, ph) = picture.dimensions();
    let scale = (f64::from(w) / f64::from(pw)).min(f64::from(h) / f64::from(ph));
    let fit = |side: u32, most: u32| ((f64::from(side) * scale).round() as u32).clamp(1, most);
    let (fw, fh) = (fit(pw, w), fit(ph, h));
    let small = resize(picture, fw, fh, FilterType::Triangle);
    if (fw, fh) == (w, h) {
        return small;
    }
    let mut thumbnail = RgbImage::new(w, h);
    replace(&mut thumbnail, &small, i64::from((w - fw) / 2), i64::from((h - fh) / 2));
    thumbnail
}

/// The file as it lies on the card after the damage.
fn damaged(mut bytes: Vec<u8>, damage: Damage, seed: u64) -> Vec<u8> {
    let mut chance = Chance::new(seed);
    // Past the Exif block, which stands in the first third of so small a file: the stamp can still be read.
    let keep = (bytes.len() as f64 * chance.between(0.6, 0.9)) as usize;
    match damage {
        Damage::Empty => bytes.clear(),
        Damage::Cut => bytes.truncate(keep),
        Damage::Zeros => bytes.iter_mut().skip(keep).for_each(|b| *b = 0),
        Damage::Garbage => bytes.iter_mut().for_each(|b| *b = (chance.bits() >> 56) as u8),
    }
    bytes
}

#[cfg(test)]
#[path = "write_tests.rs"]
mod tests;
