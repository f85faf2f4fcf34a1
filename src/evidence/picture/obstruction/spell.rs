//! What is told of a spell of frames before which something stood.

/// The longest spell of which every frame is looked at; see [`long`](super::long) for the others.
pub(crate) const LONGEST: usize = 12;

/// Frames before which something stood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Obstruction {
    /// Position of the first frame, in capture order.
    pub first: usize,
    /// Position of the last frame.
    pub last: usize,
    /// How many frames.
    pub frames: usize,
    /// Position of the frame that is covered most.
    pub most_at: usize,
    /// Share of that picture that is unlike both sides (or the one side there is), 0 to 1.
    pub share_sure: f32,
    /// The same with what a sheet may hide of a sky as bright as itself: at most so much is covered.
    pub share: f32,
    /// True where it is unlike the frames on both sides, which are alike; false where the run begins or ends
    /// with it.
    pub both_sides: bool,
}

impl Obstruction {
    /// True where neither holds a frame of the other, nor one right beside it.
    pub fn is_apart(&self, other: &Self) -> bool {
        self.last + 1 < other.first || other.last + 1 < self.first
    }

    /// True where the other lies within, away from both ends.
    pub fn is_around(&self, other: &Self) -> bool {
        self.first < other.first && other.last < self.last
    }

    /// True where the frame at a position is one of it.
    pub fn holds(&self, at: usize) -> bool {
        (self.first..=self.last).contains(&at)
    }
}
