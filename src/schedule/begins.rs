//! Where on the frames a part of the plan begins.

use crate::evidence::Sequence;
use crate::plan::{Moment, PartStart};
use crate::units::Micros;

/// The position at which a part begins; `None` where it begins after the run.
pub(super) fn begins(from: &PartStart, evidence: &Sequence) -> Option<usize> {
    match from {
        PartStart::Frame(number) => {
            // The exposures of a bracket are one frame.
            let (mut begun, mut last) = (0_u64, None);
            evidence.in_run().find(|&at| {
                let slot = evidence.frame(at).slot();
                let new = slot.is_none() || slot != last;
                last = slot;
                begun += u64::from(new);
                new && begun == number.saturating_add(1)
            })
        }
        PartStart::File(name) => evidence.in_run().find(|&at| evidence.frame(at).bears(name)),
        PartStart::Moment(moment) => evidence
            .in_run()
            .find(|&at| evidence.frame(at).stamp().is_some_and(|s| s.at >= on_clock(*moment, s.offset_min))),
    }
}

/// A planned moment on the camera's clock: moved by the difference of the two offsets where both are known.
pub fn on_clock(moment: Moment, camera_offset_min: Option<i16>) -> crate::units::CivilTime {
    match (moment.offset_min, camera_offset_min) {
        (Some(planned), Some(camera)) => {
            moment.civil.plus(Micros::from_seconds((i64::from(camera) - i64::from(planned)) * 60))
        }
        _ => moment.civil,
    }
}
