//! What lies outside of the run, neighbours with one reason together; and why files were passed over.

use crate::audit::Audit;
use crate::frames::PassedOver;
use crate::units::FrameSpan;

/// Neighbouring frames that are none of the run, for one reason.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Beside<'a> {
    /// From the first to the last of them.
    pub span: FrameSpan,
    /// How many they are; frames of the run may stand between them.
    pub frames: u64,
    /// Why.
    pub why: &'a str,
}

/// All of them, in capture order.
pub(crate) fn beside(audit: &Audit) -> Vec<Beside<'_>> {
    let evidence = &audit.evidence;
    let mut groups: Vec<Beside<'_>> = Vec::new();
    for outside in evidence.outside.iter().filter(|o| o.span.last < evidence.frames.len()) {
        let frames = outside.span.len() as u64;
        match groups.last_mut() {
            Some(group) if group.why == outside.why => {
                group.span.last = outside.span.last;
                group.frames += frames;
            }
            _ => groups.push(Beside { span: outside.span, frames, why: &outside.why }),
        }
    }
    groups
}

/// Why a file was passed over, in words that follow a number. With hyphens they are the codes of
/// `audit.json`.
pub const fn passed_over_words(why: PassedOver) -> &'static str {
    match why {
        PassedOver::ResourceFork => "resource fork",
        PassedOver::Hidden => "hidden",
        PassedOver::Sidecar => "sidecar",
        PassedOver::Video => "video",
        PassedOver::Thumbnail => "thumbnail",
        PassedOver::Housekeeping => "housekeeping",
        PassedOver::NotAFile => "not a file",
        PassedOver::NotAPicture => "not a picture",
    }
}
