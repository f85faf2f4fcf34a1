//! The pictures of a page. The audit itself holds none: they are fetched after it and handed in beside it.

use crate::audit::Audit;
use crate::outputs::report::reel::{self, Reel, Tick};
use crate::outputs::report::shown::around;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use std::collections::BTreeMap;

/// JPEG bytes of a page at most: with their base64 they leave it below 3 MB.
const MOST_BYTES: usize = 1_900_000;

/// Small pictures below the time axis.
pub(crate) const THUMBS: usize = 10;

/// A picture, as JPEG without metadata.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Width, px.
    pub width: u32,
    /// Height, px.
    pub height: u32,
    /// JPEG bytes.
    pub jpeg: Vec<u8>,
}

impl Picture {
    /// As an address that holds the picture itself (RFC 2397).
    pub fn data(&self) -> String {
        format!("data:image/jpeg;base64,{}", STANDARD.encode(&self.jpeg))
    }
}

/// The pictures found, by position.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Gallery {
    /// Small ones.
    pub small: BTreeMap<usize, Picture>,
    /// Larger ones.
    pub large: BTreeMap<usize, Picture>,
}

/// No pictures.
pub(crate) static NO_PICTURES: Gallery = Gallery { small: BTreeMap::new(), large: BTreeMap::new() };

impl Gallery {
    /// True where there is none.
    pub fn is_empty(&self) -> bool {
        self.small.is_empty() && self.large.is_empty()
    }

    /// The run-through, thinned so that all fits on a page that `share` cameras share.
    pub fn reel(&self, audit: &Audit, share: usize) -> Reel {
        let bytes = |p: &Picture| p.jpeg.len();
        let around = around(audit);
        // Those below the axis, and the first and the last, stand there a second time.
        let largest = |all: &BTreeMap<usize, Picture>| all.values().map(bytes).max().unwrap_or(0);
        let again = THUMBS.min(self.small.len()) * largest(&self.small) + 2 * largest(&self.large);
        let kept: usize = again
            + self.large.values().map(bytes).sum::<usize>()
            + around.iter().filter_map(|at| self.small.get(at)).map(bytes).sum::<usize>();
        let room = (MOST_BYTES / share.max(1)).saturating_sub(kept);
        let own = |tick: &Tick| {
            let at = tick.at.filter(|at| !around.contains(at));
            at.and_then(|at| self.small.get(&at)).map_or(0, bytes)
        };
        reel::reel(audit).thinned(|ticks| ticks.iter().map(own).sum::<usize>() <= room)
    }
}

/// Shapes of frames, width to height, upright ones too.
const SHAPES: [(&str, f64); 9] = [
    ("shape s3x2", 1.5),
    ("shape s4x3", 4.0 / 3.0),
    ("shape s16x9", 16.0 / 9.0),
    ("shape s5x4", 1.25),
    ("shape s1x1", 1.0),
    ("shape s2x3", 2.0 / 3.0),
    ("shape s3x4", 0.75),
    ("shape s9x16", 9.0 / 16.0),
    ("shape s4x5", 0.8),
];

/// The class of pictures that are shown in the shape of the run's frames, after their sizes; a small picture
/// of another shape has black bars, which are then cut off. Empty where the shape is not one of the usual.
pub(crate) fn shape(audit: &Audit) -> &'static str {
    let mut sizes: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    for row in audit.evidence.run().map(|frame| frame.row()) {
        if let Some((width, height)) = row.size.known() {
            let upright = row.orientation.known().is_some_and(|turned| (5..=8).contains(&turned));
            *sizes.entry(if upright { (height, width) } else { (width, height) }).or_default() += 1;
        }
    }
    let Some(((width, height), _)) = sizes.into_iter().max_by_key(|(size, count)| (*count, *size)) else {
        return "";
    };
    let own = f64::from(width) / f64::from(height.max(1));
    let near = SHAPES.iter().find(|(_, shape)| (own / shape - 1.0).abs() < 0.015);
    near.map_or("", |(class, _)| class)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn too_much_is_thinned() {
        let audit = sample::audit();
        let picture = |n: usize| Picture { width: 2, height: 1, jpeg: vec![0; n] };
        let mut gallery = Gallery::default();
        let shown = |gallery: &Gallery| gallery.reel(&audit, 1).ticks.len();
        gallery.small.insert(1, picture(10));
        assert_eq!(shown(&gallery), 7);
        gallery.small.insert(1, picture(3_000_000));
        assert!(shown(&gallery) < 7);
    }

    #[test]
    fn pictures_have_the_shape_of_the_frames() {
        let mut audit = sample::audit();
        let mut told = |size, turned| {
            for row in &mut audit.evidence.frames.rows {
                row.size = size;
                row.orientation = crate::evidence::Cell::Known(turned);
            }
            shape(&audit)
        };
        let known = |width, height| crate::evidence::Cell::Known((width, height));
        assert_eq!(told(known(6000, 4000), 1), "shape s3x2");
        assert_eq!(told(known(6048, 4024), 6), "shape s2x3");
        assert_eq!(told(known(4000, 2250), 3), "shape s16x9");
        assert_eq!(told(known(4256, 1424), 1), "");
        assert_eq!(told(crate::evidence::Cell::Absent, 1), "");
    }
}
