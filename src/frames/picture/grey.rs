//! A small grey picture in linear light, for holding neighbours against each other.

/// Widest that a picture is compared with its neighbour's, px.
pub(crate) const WIDEST: usize = 320;
/// Widest that a picture is followed, px: an eighth of one of 24 million pixels. A carriage that moves a
/// thumbnail by a twentieth of a pixel a step moves that by a quarter of one.
pub(crate) const WIDEST_FOLLOWED: usize = 800;

/// A grey picture of linear luminance, 0 to 1, row by row, at most 320 pixels wide, or 800 where it is to be
/// followed: the size that its source gives, or that size divided by a whole number (each pixel then the mean
/// light of its block; what is left over at the right and at the bottom is left out). Thumbnail bars are off.
/// It is as the file stores it: the orientation tag is not applied.
///
/// Pictures of neighbours may differ in size where their sources do; compare only equal sizes. Two pixels'
/// worth of border are best left out of a comparison: thumbnails ring there.
#[derive(Clone, Debug, PartialEq)]
pub struct Grey {
    /// Pixels in a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// `width * height` luminances.
    pub light: Vec<f32>,
    /// How many pixels of the source one pixel here spans, each way.
    pub reduced: usize,
}
