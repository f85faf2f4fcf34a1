//! Movement: how the picture moves from frame to frame, what of it is the carriage's, and where that stops,
//! slips or turns.
//!
//! Tiles of the small pictures that move alike make a layer: near things, far things, but clouds and water as
//! well, which move without the carriage. What tells them apart is that things at rest stop, slip and turn
//! together and are otherwise even.
//!
//! README.md beside this file tells how it works.

mod events;
mod knocks;
mod layers;
mod steps;

pub use events::{Jump, Jumps, Path, layer_jumps};
pub use knocks::JumpKind;
pub use layers::{Layer, Still};
pub use steps::Step;

use super::timing::Timing;
use crate::frames::Frames;
use crate::frames::shift::Moved;
use crate::plan::budget::step_m;
use crate::plan::optics::View;
use crate::plan::{Plan, RigKind};
use crate::stats::median;
use crate::units::FrameSpan;
use std::ops::Range;

/// Fewest steps from which anything is told.
const FEWEST: usize = 16;
/// Lag from which the pace is taken where it was measured.
const LONG: usize = 16;
/// Steps smaller than this, px of the small picture, are not followed surely: rehearsed halts, slips and ends
/// of rail were missed there.
const FOLLOWED: f64 = 0.2;
/// Width of the narrowest sensor to reckon with, m: those of telephones are 4 to 5 mm wide (from memory).
const NARROWEST_SENSOR_M: f64 = 3e-3;
/// Layers whose jumps are smaller than these stand out are fit to tell a slip, steps.
const FINE: f64 = 0.75;

/// What the pictures say about the carriage and the camera's stand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MovementTrack {
    /// The frames before and after each step.
    pub steps: Vec<(usize, usize)>,
    /// Steps that were measured.
    pub measured: usize,
    /// Tiles with something to see, of all.
    pub tiles: usize,
    /// What moves, with its path; those of most tiles first.
    pub layers: Vec<(Layer, Path)>,
    /// What stands still.
    pub still: Option<Still>,
    /// Its jumps, px of the small picture.
    pub knocks: Jumps,
    /// Width of the small pictures, px.
    pub width: u32,
    /// True where the plan's camera travels.
    pub travels: bool,
    /// Step that the plan's lens, step and distance let expect, px of the small picture.
    pub expected_px: Option<f64>,
}

/// What a track goes by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ShownBy<'a> {
    /// What passes by as the carriage travels.
    Layer(&'a Layer),
    /// What stands still.
    Still(&'a Still),
}

impl MovementTrack {
    /// Layers that are even but for halts and ways back, and do not seem to drift by themselves: fit to speak
    /// for the carriage.
    pub fn steady(&self) -> impl Iterator<Item = &(Layer, Path)> {
        self.layers.iter().filter(|l| l.1.steady && !l.0.drifts)
    }

    /// True where something moves evenly and all that does seems to drift by itself.
    pub fn only_drifts(&self) -> bool {
        self.steady().next().is_none() && self.layers.iter().any(|l| l.1.steady)
    }

    /// The step that the plan lets expect, or the fastest of theirs where that is smaller, px of the small
    /// picture, where it is too small for its quiet to mean anything: what is seen may be clouds, and what is
    /// planned may not be in the picture.
    pub fn too_slow(&self) -> Option<f64> {
        let fastest = self.steady().map(|(layer, _)| layer.speed()).reduce(f64::max);
        self.expected_px.into_iter().chain(fastest).reduce(f64::min).filter(|px| *px < FOLLOWED)
    }

    /// What stands for the move of the camera: what travels past most sharply, or what stands still.
    pub fn shown_by(&self) -> Option<ShownBy<'_>> {
        let sharpest = || self.sharpest().first().map(|l| ShownBy::Layer(&l.0));
        let still = || self.still.as_ref().map(ShownBy::Still);
        if self.travels || !self.locked_off() { sharpest().or_else(still) } else { still() }
    }

    /// The last frame before a turn whose first step is `turn`, and the first after it: where steps before it
    /// were not seen, the carriage may have turned at any of them.
    pub fn turned_between(&self, turn: usize) -> Option<(usize, usize)> {
        // Where a layer is looked at over several steps, the heading of a single one says little.
        let unseen = self.turned(turn).next().map_or(0, |(layer, path)| {
            let hidden = |at: &usize| layer.hidden_way(*at).is_some_and(|way| way == 0 || path.window > 1);
            (0..turn).rev().take_while(hidden).count()
        });
        Some((self.steps.get(turn - unseen)?.0, self.steps.get(turn)?.1))
    }

    /// How the picture moved from the frame before to the one at that position, px of the small picture
    /// across and down, and in usual steps where something travels past; `None` where that was not seen.
    pub fn to(&self, after: usize) -> Option<((f64, f64), Option<f64>)> {
        let step = self.steps.binary_search_by_key(&after, |s| s.1).ok()?;
        let (by, steps) = match self.shown_by()? {
            ShownBy::Layer(layer) => {
                let moved = *layer.moved.get(step)?;
                ((layer.pace.0 * moved, layer.pace.1 * moved), Some(moved))
            }
            ShownBy::Still(still) => (*still.moved.get(step)?, None),
        };
        (by.0.is_finite() && by.1.is_finite()).then_some((by, steps))
    }

    /// The usual move from frame to frame, px of the small picture across and down.
    pub fn usual(&self) -> Option<(f64, f64)> {
        match self.shown_by()? {
            ShownBy::Layer(layer) => Some(layer.pace),
            ShownBy::Still(still) => {
                median(still.seen().map(|(_, by)| by.0)).zip(median(still.seen().map(|(_, by)| by.1)))
            }
        }
    }

    /// Steps lost at a turn whose first step is `turn`, and their standard error, by the sharpest layer that
    /// turned there.
    pub fn play(&self, turn: usize) -> Option<(f64, f64)> {
        // Places of a layer that is told over many steps are not sharp enough to say where it turned.
        self.turned(turn).filter(|l| l.1.window <= 2).find_map(|(layer, _)| events::play(layer, turn))
    }

    /// Steady layers that turned at that step, the sharpest first.
    fn turned(&self, turn: usize) -> impl Iterator<Item = &(Layer, Path)> {
        let turned = move |path: &Path| path.back.iter().any(|b| b.start == turn || b.end == turn);
        self.sharpest().into_iter().filter(move |l| turned(&l.1))
    }

    /// Steady layers, those that see most sharply first.
    fn sharpest(&self) -> Vec<&(Layer, Path)> {
        let mut layers: Vec<_> = self.steady().collect();
        layers.sort_by(|a, b| a.1.error.total_cmp(&b.1.error));
        layers
    }

    /// Jumps in the steps of the layer that shows the smallest, where one is fit to.
    pub fn jumps(&self) -> Option<Jumps> {
        self.jumping().map(|(_, jumps)| jumps)
    }

    /// What jumps of that layer were: slips of the carriage, or knocks.
    pub fn kinds(&self, layer: &Layer, jumps: &[Jump]) -> Vec<JumpKind> {
        knocks::kinds(layer, jumps, &self.layers, self.still.as_ref())
    }

    /// The layer that shows the smallest jumps, where one is fit to, and these.
    pub fn jumping(&self) -> Option<(&Layer, Jumps)> {
        let all = self.steady().filter_map(|(layer, path)| Some((layer, events::layer_jumps(layer, path)?)));
        all.reduce(|a, b| if b.1.finest < a.1.finest { b } else { a }).filter(|j| j.1.finest <= FINE)
    }

    /// Halts of any steady layer, those that overlap drawn together, as steps. What a sharper layer saw go
    /// back did not stand.
    pub fn halts(&self) -> Vec<Range<usize>> {
        self.together(|path, sharper| {
            let back = |h: &&Range<usize>| sharper.iter().flat_map(|l| &l.1.back).all(|b| !overlap(h, b));
            path.halts.iter().filter(back).collect()
        })
    }

    /// Ways back of any steady layer, as steps.
    pub fn back(&self) -> Vec<Range<usize>> {
        self.together(|path, _| path.back.iter().collect())
    }

    /// The place that the sharpest layer gives each of the spans that overlap. `of` gets a layer's path and
    /// the layers sharper than it.
    fn together<'a>(
        &'a self,
        of: impl Fn(&'a Path, &[&'a (Layer, Path)]) -> Vec<&'a Range<usize>>,
    ) -> Vec<Range<usize>> {
        let layers = self.sharpest();
        let mut all: Vec<Range<usize>> = Vec::new();
        for (at, layer) in layers.iter().enumerate() {
            for span in of(&layer.1, &layers[..at]) {
                if all.iter().all(|s| !overlap(s, span)) {
                    all.push(span.clone());
                }
            }
        }
        all.sort_by_key(|s| s.start);
        all
    }

    /// The frames at the ends of a span of steps: the first whose move is spoken of, and the last.
    pub fn frames_of(&self, span: &Range<usize>) -> Option<FrameSpan> {
        let first = self.steps.get(span.start)?.1;
        let last = self.steps.get(span.end.checked_sub(1)?)?.1;
        Some(FrameSpan { first, last })
    }

    /// True where at least a third of what is to be seen stands still: the camera stood on something that did
    /// not travel, or looked far away.
    pub fn locked_off(&self) -> bool {
        self.still.as_ref().is_some_and(|s| 3 * s.tiles.len() >= self.tiles)
    }

    /// The move of the layer that comes nearest to what the plan lets expect, over that; `None` where either
    /// is not known.
    pub fn over_expected(&self) -> Option<f64> {
        let expected = self.expected_px.filter(|e| *e > 0.0)?;
        let ratios = self.layers.iter().map(|(layer, _)| layer.speed() / expected);
        ratios.reduce(|a, b| if b.ln().abs() < a.ln().abs() { b } else { a })
    }
}

/// True where the spans share a step, or touch.
fn overlap(a: &Range<usize>, b: &Range<usize>) -> bool {
    a.end >= b.start && b.end >= a.start
}

/// The movement track; `None` where no pictures were compared.
pub fn track(
    plan: &Plan,
    frames: &Frames,
    timing: &Timing,
    run: &[usize],
    moves: &[Moved],
) -> Option<MovementTrack> {
    let width = moves.first()?.width;
    let steps = steps::steps(timing, run, moves);
    let measured = steps.iter().filter(|s| s.tiles.iter().any(|t| t.0.is_finite())).count();
    let places = steps.iter().map(|s| (s.before, s.after)).collect();
    let expected_px = expected(plan, frames, run, width);
    let travels = travels(plan);
    let track =
        MovementTrack { steps: places, measured, width, travels, expected_px, ..MovementTrack::default() };
    if measured < FEWEST {
        return Some(track);
    }
    let (layers, still, tiles) = layers::layers(&steps);
    let layers: Vec<_> = layers
        .into_iter()
        .map(|layer| {
            let path = events::path(&layer);
            (over_long(layer, moves), path)
        })
        .collect();
    let knocks = still.as_ref().map(|s| knocks::knocks(s, &layers)).unwrap_or_default();
    Some(MovementTrack { tiles, layers, still, knocks, ..track })
}

/// A layer with its pace taken over the longest lag, where that bears out the short one.
fn over_long(layer: Layer, moves: &[Moved]) -> Layer {
    let along = |of: &dyn Fn(&crate::frames::shift::TileShift) -> f64| {
        let tiles = moves.iter().filter(|m| m.lag == LONG).flat_map(|m| {
            layer.tiles.iter().filter_map(|t| m.tiles.get(*t)).filter(|t| t.is_known() && t.unlike < 0.3)
        });
        median(tiles.map(of)).map(|sum| sum / LONG as f64)
    };
    let long = along(&|t| f64::from(t.by.x)).zip(along(&|t| f64::from(t.by.y)));
    let near = |p: &(f64, f64)| {
        let apart = (p.0 - layer.pace.0).hypot(p.1 - layer.pace.1);
        apart <= 0.3 * layer.speed()
    };
    Layer { pace: long.filter(near).unwrap_or(layer.pace), ..layer }
}

/// The step on the small picture after the plan: focal length times step over distance and pixel pitch (the
/// thin lens far from its focus), brought to the small picture's width.
fn expected(plan: &Plan, frames: &Frames, run: &[usize], width: u32) -> Option<f64> {
    let row = run.first().and_then(|at| frames.rows.get(*at))?;
    let positive = |v: Option<f32>, unit: f64| v.map(|v| f64::from(v) * unit).filter(|v| *v > 0.0);
    let view = View {
        focal_length_m: plan.rig.focal_length_m.or(positive(row.focal_mm.known(), 1e-3))?,
        distance_m: plan.rig.distance_m?,
        pixel_pitch_m: plan.rig.pixel_pitch_m.or(positive(row.pitch_um.known(), 1e-6))?,
    };
    let across = f64::from(row.size.known()?.0);
    // A pitch that makes a sensor narrower than any camera's is not that of this picture, which was written
    // smaller.
    if across * view.pixel_pitch_m < NARROWEST_SENSOR_M {
        return None;
    }
    let px = view.shift_px(step_m(plan)?) * f64::from(width) / across;
    (px.is_finite() && px > 0.0).then_some(px)
}

/// True where the plan's camera travels.
pub fn travels(plan: &Plan) -> bool {
    let rig = &plan.rig;
    rig.step_m.or(rig.travel_m).is_some_and(|m| m > 0.0) || rig.kind == Some(RigKind::Continuous)
}

/// A track of one layer that moves so, for tests of what is made of it.
#[cfg(test)]
pub fn of_layer(moved: Vec<f64>) -> MovementTrack {
    let steps = (0..moved.len()).map(|s| (s, s + 1)).collect();
    let (heading, aside) = (vec![0; moved.len()], vec![0.0; moved.len()]);
    let layer = Layer {
        tiles: vec![18, 19, 20],
        pace: (-0.5, 0.0),
        drifts: false,
        moved,
        heading,
        aside,
        open: Vec::new(),
    };
    let path = events::path(&layer);
    let measured = layer.moved.len();
    MovementTrack {
        steps,
        measured,
        tiles: 20,
        layers: vec![(layer, path)],
        travels: true,
        width: 160,
        ..MovementTrack::default()
    }
}

/// A track of what stands still, moved so in px.
#[cfg(test)]
pub fn of_still(moved: Vec<(f64, f64)>) -> MovementTrack {
    let steps = (0..moved.len()).map(|s| (s, s + 1)).collect();
    let measured = moved.len();
    let still = Still { tiles: (0..12).collect(), moved, apart: 0.0 };
    let knocks = knocks::knocks(&still, &[]);
    MovementTrack {
        steps,
        measured,
        tiles: 20,
        still: Some(still),
        knocks,
        width: 160,
        ..MovementTrack::default()
    }
}

#[cfg(test)]
mod tests;
