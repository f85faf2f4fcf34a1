//! Whether a frame was exposed for daylight, as the checks ask for it.

use crate::evidence::Sequence;

/// An exposure for a scene of this value at ISO 100, or a brighter one, is one for daylight: bright streets
/// by night stand at 8, neon signs at 9 to 10 (ANSI PH2.7-1986). Full sun is 15 (the rule of sunny 16, common
/// practice), an overcast day 12.
pub(crate) const DAYLIGHT_EV100: f64 = 10.5;

/// True where the frame's exposure is one for daylight, false where it is one for less; `None` where the
/// settings do not tell.
///
/// A camera that writes no aperture is reckoned at f/1.4, which no fixed lens of a small camera is faster
/// than (common practice): what is daylight by that is daylight, and the rest is not known.
pub(crate) fn by_day(evidence: &Sequence, at: usize) -> Option<bool> {
    let ev = evidence.frame(at).ev100()?;
    // Its settings stand at f/1: one stop more.
    let assumed = evidence.exposure.aperture_assumed;
    let day = ev + if assumed { 1.0 } else { 0.0 } > DAYLIGHT_EV100;
    (day || !assumed).then_some(day)
}
