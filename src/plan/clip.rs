//! The clip that a delivery asks for: its pace, the frames that it takes, and how long frames play.

use super::{DeliveryPlan, arithmetic};

/// The pace of play where the plan names none, frames a second.
pub const ASSUMED_FPS: f64 = 25.0;

impl DeliveryPlan {
    /// Frames a second of the clip, over 0; `None` where no pace is said.
    pub fn pace(&self) -> Option<f64> {
        self.fps.filter(|fps| fps.is_finite() && *fps > 0.0)
    }

    /// The pace at which the frames are taken to play: the plan's, else [`ASSUMED_FPS`].
    pub fn played_fps(&self) -> f64 {
        self.pace().unwrap_or(ASSUMED_FPS)
    }

    /// The frames that the clip takes: the fewest that are no shorter than it, at least 1. `None` where the
    /// plan does not say pace and length.
    pub fn clip_frames(&self) -> Option<u64> {
        arithmetic::frames_from_clip(self.length_s?, self.fps?).filter(|frames| *frames > 0)
    }

    /// How long so many frames play, s; `None` where no pace is said.
    pub fn clip_s(&self, frames: u64) -> Option<f64> {
        arithmetic::clip_length_s(frames, self.fps?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 25 · 20 = 500; 25 · 1.01 = 25.25 takes 26; 29.97 · 20.02 = 599.9994 takes 600; thirty tenths
    /// of a second are 3 frames of 10, whatever the binary fraction says.
    #[test]
    fn a_clip_in_frames() {
        let delivery = |fps, length_s| DeliveryPlan { fps, length_s, patch_up_to: None };
        for (fps, length_s, frames) in [
            (25.0, 20.0, Some(500)),
            (25.0, 1.01, Some(26)),
            (29.97, 20.02, Some(600)),
            (30.0, 0.1, Some(3)),
            (25.0, 0.0, None),
        ] {
            assert_eq!(delivery(Some(fps), Some(length_s)).clip_frames(), frames, "{fps} {length_s}");
        }
        assert_eq!(DeliveryPlan::default().clip_frames(), None);
        assert_eq!(delivery(Some(25.0), None).clip_s(50), Some(2.0));
        assert_eq!(DeliveryPlan::default().clip_s(50), None);
        for none in [None, Some(0.0), Some(f64::NAN)] {
            assert_eq!((delivery(none, None).pace(), delivery(none, None).played_fps()), (None, ASSUMED_FPS));
        }
    }
}
