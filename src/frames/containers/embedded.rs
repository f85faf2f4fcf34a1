//! Smaller pictures that a file carries beside its own: thumbnails and previews, as JPEG streams with their
//! places. Nothing of them is read here but where they lie.

/// A JPEG stream inside a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Embedded {
    /// Where it begins, bytes from the file's first.
    pub at: u64,
    /// Its length in bytes, as the file tells it; it lies within the file.
    pub len: u64,
    /// Width and height, px, where the file tells them beside the place. The stream's own header has the last
    /// word.
    pub size: Option<(u32, u32)>,
}

/// No JPEG stream is shorter than its two ends.
const LEAST_BYTES: u64 = 4;

/// Adds a stream, where it lies within a file of `file` bytes and stands there for the first time.
pub(crate) fn add(list: &mut Vec<Embedded>, file: u64, new: Embedded) {
    let inside = new.at.checked_add(new.len).is_some_and(|end| end <= file);
    if inside && new.len >= LEAST_BYTES && !list.iter().any(|e| e.at == new.at) {
        list.push(new);
    }
}
