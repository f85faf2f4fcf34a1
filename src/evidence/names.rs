//! Whether a frame bears the name that a plan gives.

use crate::frames::Frames;

/// True where the frame at that position bears the name: its path below FRAMES, or the file's own name. Large
/// and small letters are one, as they are to the file systems of cards.
pub(crate) fn bears(frames: &Frames, at: usize, name: &str) -> bool {
    let path = frames.path_text(at);
    let file = path.rsplit('/').next().unwrap_or(&path);
    path.eq_ignore_ascii_case(name) || file.eq_ignore_ascii_case(name)
}
