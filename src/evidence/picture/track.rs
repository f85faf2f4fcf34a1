//! From looks to the track.

use super::alone::AREA_LIGHT;
use super::blank::blank;
use super::nature::{nature, odd_frames};
use super::obstruction::obstructions;
use super::sharpness::sharpness;
use super::steps::{self, LightStep};
use super::{
    BlankSpell, ColourShift, Course, Flicker, Look, Nature, PictureTrack, Pictured, Sight, Visibility, Watch,
    flash_seen, floor_ev, most_visible,
};
use crate::frames::picture::AREAS;
use crate::plan::Plan;
use crate::stats::local::{rms, robust_line};
use crate::stats::median;

/// Share of the light that must come from pixels between the ends, for the mean to tell of all of it.
const LIVE: f32 = 0.5;
/// Share of pixels at either end up to which the middle half of them lies between the ends.
const ENDS: f32 = 0.25;
/// Share of a course's frames whose mean is of clipped lamps, from which the centre is taken for all of them.
const LAMPS: f64 = 0.1;
/// A change of the settings that tells how the picture answers, EV.
const TELLING_EV: f64 = 0.15;
/// Fewest such changes, and how far they may disagree.
const FEWEST_ANSWERS: usize = 4;
const ANSWERS_AGREE: f64 = 0.15;
/// How far from 1 an answer is believed.
const RESPONSE: std::ops::RangeInclusive<f64> = 0.6..=1.6;
/// Worst frames that are named.
const WORST: usize = 5;

/// What the pictures say together; empty where none was read. `members` are the courses that are compared:
/// the frames of the run, or those of each member of a bracket.
pub fn track(plan: &Plan, told: Pictured<'_>, members: Vec<Vec<usize>>) -> PictureTrack {
    let mut track = PictureTrack {
        fps: plan.delivery.played_fps(),
        fps_assumed: plan.delivery.pace().is_none(),
        ..PictureTrack::default()
    };
    let n = told.frames.len();
    if told.frames.looks.is_empty() || n == 0 {
        return track;
    }
    track.brightness_ev = vec![f32::NAN; n];
    track.unexplained_ev = vec![f32::NAN; n];
    track.sight = vec![Sight::Unseen; n];
    track.likeness = median(
        members
            .iter()
            .flat_map(|frames| frames.windows(2))
            .filter_map(|pair| told.frames.between(pair[0], pair[1]).map(|b| f64::from(b.likeness))),
    );
    track.sharpness = sharpness(told, &members, track.fps);
    for frames in &members {
        shown(&mut track, told, frames);
    }
    track.blank.sort_by_key(|s| s.frames.first().copied());
    track.obstructions.sort_by_key(|o| (o.first, o.last));
    for frames in members {
        if let Some(course) = course(&mut track, told, frames) {
            track.courses.push(course);
        }
    }
    track
}

/// What the pictures of one course show at all: nothing, or something that stands before the lens.
fn shown(track: &mut PictureTrack, told: Pictured<'_>, frames: &[usize]) {
    let spells = blank(told, frames);
    let mut none: Vec<usize> = spells.iter().flat_map(|s: &BlankSpell| s.frames.iter().copied()).collect();
    none.sort_unstable();
    let (found, watch) = obstructions(told, frames, |at| none.binary_search(&at).is_ok());
    track.blank.extend(spells);
    track.obstructions.extend(found);
    if track.watch == Watch::TooFew || watch == Watch::Busy {
        track.watch = watch;
    }
}

/// How well a picture tells its brightness, by its mean (or by the middle half of its pixels).
fn sight(look: &Look, by_centre: bool) -> Sight {
    let tells = if by_centre { look.blocked < ENDS && look.clipped < ENDS } else { look.live >= LIVE };
    match (tells, look.clipped > look.blocked) {
        (true, _) => Sight::Clear,
        (false, true) => Sight::TooBright,
        (false, false) => Sight::TooDark,
    }
}

fn course(track: &mut PictureTrack, told: Pictured<'_>, frames: Vec<usize>) -> Option<Course> {
    let look = |at: usize| told.frames.look(at);
    let seen = frames.iter().filter(|at| look(**at).is_some()).count();
    let first = frames.iter().find_map(|at| look(*at))?;
    let lamps = frames
        .iter()
        .filter(|at| look(**at).is_some_and(|l| l.live < LIVE && sight(l, true) == Sight::Clear));
    let by_centre = lamps.count() as f64 > LAMPS * seen as f64;
    for at in &frames {
        let Some(look) = look(*at) else { continue };
        let sight = sight(look, by_centre);
        track.sight[*at] = sight;
        let ev = if by_centre { look.centre_ev() } else { look.mean_ev() };
        if let (Sight::Clear, Some(ev)) = (sight, ev) {
            track.brightness_ev[*at] = ev as f32;
        }
    }
    let shown: Vec<f64> = frames.iter().map(|at| f64::from(track.brightness_ev[*at])).collect();
    let let_in: Vec<f64> =
        frames.iter().map(|at| told.exposure.ev100(*at).map_or(f64::NAN, |ev| -ev)).collect();
    let settings_known = !shown.iter().zip(&let_in).any(|(b, e)| !b.is_nan() && e.is_nan());
    let response = if settings_known { response(&shown, &let_in) } else { 1.0 };
    let left: Vec<f64> = match settings_known {
        true => shown.iter().zip(&let_in).map(|(b, e)| b - response * e).collect(),
        false => shown.clone(),
    };
    let floor = floor_ev(first.source);
    let parts = parts(told, &frames);
    let half = ((track.fps / 2.0).round() as usize).clamp(4, 60);
    let found = light_steps(&left, &parts);
    let deviation = deviations(&left, &parts, &found, half);
    let steps = found.iter().filter_map(|(i, ev)| {
        let before = (0..*i).rev().find(|b| !left[*b].is_nan())?;
        let shown_ev = shown[*i] - shown[before];
        Some(LightStep { before: frames[before], after: frames[*i], ev: *ev, shown_ev })
    });
    let steps: Vec<_> = steps.collect();
    let unexplained = flicker(&deviation, &left, &parts, &frames, track.fps, floor);
    let as_shot = if settings_known { deviations(&shown, &parts, &found, half) } else { deviation.clone() };
    let shown_flicker = flicker(&as_shot, &shown, &parts, &frames, track.fps, floor);
    for (at, d) in frames.iter().zip(&deviation) {
        track.unexplained_ev[*at] = *d as f32;
    }
    Some(Course {
        response,
        settings_known,
        by_centre,
        steps,
        shown: shown_flicker,
        unexplained,
        alike: alike(told, &frames, &let_in, response),
        colour: colour(told, &frames, &parts, half),
        floor_ev: floor,
        frames,
    })
}

/// Index ranges within which pictures are comparable: of one source and size.
fn parts(told: Pictured<'_>, frames: &[usize]) -> Vec<std::ops::Range<usize>> {
    let mut parts = Vec::new();
    let mut start = 0;
    let mut last = None;
    for (i, at) in frames.iter().enumerate() {
        let Some(look) = told.frames.look(*at) else { continue };
        let now = (look.source, look.size);
        if last.is_some_and(|l| l != now) {
            parts.push(start..i);
            start = i;
        }
        last = Some(now);
    }
    parts.push(start..frames.len());
    parts
}

/// EV of the picture for each EV of the settings, from the changes of the settings by themselves; 1 where
/// they do not tell.
fn response(shown: &[f64], let_in: &[f64]) -> f64 {
    let change = |of: &[f64], i: usize| of.get(i + 1).zip(of.get(i)).map_or(f64::NAN, |(b, a)| b - a);
    let answers: Vec<f64> = (0..shown.len().saturating_sub(1))
        .filter_map(|i| {
            let (b, e) = (change(shown, i), change(let_in, i));
            // What the light does by itself is seen where the settings stand, just before and after.
            let beside = [i.checked_sub(1), Some(i + 1)].into_iter().flatten();
            let light: Vec<f64> =
                beside.filter(|j| change(let_in, *j).abs() < 0.01).map(|j| change(shown, j)).collect();
            let light = median(light)?;
            (e.abs() >= TELLING_EV && !b.is_nan()).then(|| (b - light) / e)
        })
        .collect();
    let Some(middle) = median(answers.iter().copied()).filter(|_| answers.len() >= FEWEST_ANSWERS) else {
        return 1.0;
    };
    let apart = median(answers.iter().map(|a| (a - middle).abs())).unwrap_or(f64::INFINITY);
    if apart <= ANSWERS_AGREE && RESPONSE.contains(&middle) { middle } else { 1.0 }
}

/// Steps of a course within its parts: (index of the first value after it, size).
fn light_steps(values: &[f64], parts: &[std::ops::Range<usize>]) -> Vec<(usize, f64)> {
    let of_part = |part: &std::ops::Range<usize>| {
        let start = part.start;
        steps::find(&values[part.clone()]).into_iter().map(move |(i, ev)| (start + i, ev))
    };
    parts.iter().flat_map(of_part).collect()
}

/// Deviations from the local trend, which breaks where the source changes and at those steps.
fn deviations(
    values: &[f64],
    parts: &[std::ops::Range<usize>],
    steps: &[(usize, f64)],
    half: usize,
) -> Vec<f64> {
    let mut out = vec![f64::NAN; values.len()];
    for part in parts {
        let mut start = part.start;
        let inside = steps.iter().map(|s| s.0).filter(|cut| part.contains(cut) && *cut > part.start);
        for cut in inside.chain([part.end]) {
            let piece = &values[start..cut];
            for (place, (v, line)) in
                out[start..cut].iter_mut().zip(piece.iter().zip(robust_line(piece, half)))
            {
                *place = v - line;
            }
            start = cut;
        }
    }
    out
}

fn flicker(
    deviation: &[f64],
    values: &[f64],
    parts: &[std::ops::Range<usize>],
    frames: &[usize],
    fps: f64,
    floor: f64,
) -> Flicker {
    let of_line = rms(deviation.iter().copied()).unwrap_or(0.0);
    // What changes from each frame to the next, free of any trend: white noise of s gives s.
    let quick = parts.iter().flat_map(|part| {
        values[part.clone()].windows(3).map(|w| (w[1] - f64::midpoint(w[0], w[2])) * (2.0_f64 / 3.0).sqrt())
    });
    let quick = rms(quick).unwrap_or(0.0);
    let kind = nature(deviation, floor);
    let rms_ev = if kind == Nature::Slow { of_line.min(quick) } else { of_line };
    let (mut visibility, start) =
        if kind == Nature::Still { (Visibility::default(), 0) } else { most_visible(deviation, fps) };
    let end = (start + fps.round() as usize).min(frames.len()).saturating_sub(1);
    let mut order: Vec<usize> = match kind {
        Nature::Single => odd_frames(deviation, 4.0 * floor),
        _ => (0..deviation.len()).filter(|i| deviation[*i].abs() > 2.0 * floor).collect(),
    };
    order.sort_by(|a, b| deviation[*b].abs().total_cmp(&deviation[*a].abs()));
    if kind == Nature::Single {
        let largest = order.first().map_or(0.0, |i| flash_seen(deviation[*i], fps));
        visibility.index = visibility.index.max(largest);
    }
    let worst: Vec<_> = order.iter().take(WORST).map(|i| (frames[*i], deviation[*i])).collect();
    Flicker {
        rms_ev,
        largest_ev: deviation.iter().filter(|d| !d.is_nan()).fold(0.0, |m: f64, d| m.max(d.abs())),
        visibility,
        second: (frames.get(start).copied().unwrap_or(0), frames.get(end).copied().unwrap_or(0)),
        nature: kind,
        worst,
    }
}

/// How much of the change from frame to frame all areas share, settings taken out.
fn alike(told: Pictured<'_>, frames: &[usize], let_in: &[f64], response: f64) -> f64 {
    let (mut common, mut apart) = (0.0, 0.0);
    let mut ratios = Vec::with_capacity(AREAS);
    for (pair, e) in frames.windows(2).zip(let_in.windows(2)) {
        let (Some(a), Some(b)) = (told.frames.look(pair[0]), told.frames.look(pair[1])) else {
            continue;
        };
        let by_settings = if (e[1] - e[0]).is_nan() { 0.0 } else { response * (e[1] - e[0]) };
        ratios.clear();
        ratios.extend((0..AREAS).filter_map(|area| {
            let (a, b) = (a.areas.luminance(area), b.areas.luminance(area));
            let tells = AREA_LIGHT.contains(&a) && AREA_LIGHT.contains(&b);
            tells.then(|| f64::from(b / a).log2() - by_settings)
        }));
        if ratios.len() < AREAS / 4 {
            continue;
        }
        let Some(middle) = median(ratios.iter().copied()) else { continue };
        common += middle.abs();
        apart += median(ratios.iter().map(|r| (r - middle).abs())).unwrap_or(0.0);
    }
    if common + apart > 0.0 { common / (common + apart) } else { 1.0 }
}

fn colour(
    told: Pictured<'_>,
    frames: &[usize],
    parts: &[std::ops::Range<usize>],
    half: usize,
) -> ColourShift {
    let against_green = |channel: usize| -> Vec<f64> {
        frames
            .iter()
            .map(|at| match told.frames.look(*at) {
                Some(look)
                    if sight(look, false) == Sight::Clear && look.channels.iter().all(|c| *c > 0.0) =>
                {
                    f64::from(look.channels[channel] / look.channels[1]).log2()
                }
                _ => f64::NAN,
            })
            .collect()
    };
    let [red, blue] = [0, 2].map(|channel| {
        let values = against_green(channel);
        deviations(&values, parts, &light_steps(&values, parts), half)
    });
    let worst = |d: &[f64]| {
        d.iter().map(|v| v.abs()).enumerate().filter(|(_, v)| !v.is_nan()).max_by(|a, b| a.1.total_cmp(&b.1))
    };
    let most =
        worst(&red).into_iter().chain(worst(&blue)).max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0, 0.0));
    ColourShift {
        red_ev: rms(red).unwrap_or(0.0),
        blue_ev: rms(blue).unwrap_or(0.0),
        largest_ev: most.1,
        at: frames.get(most.0).copied().unwrap_or(0),
    }
}
