//! One camera of several, and its audit.

use super::Audit;
use crate::evidence::Camera;

/// One camera of a set, and its audit.
#[derive(Clone, Debug)]
pub struct CameraAudit {
    /// `A` for the first camera, `B` for the second, as cameras are called on a set.
    pub letter: String,
    /// Make, model and serial number as most of its files have them; `None` where no file names a camera.
    pub camera: Option<Camera>,
    /// The folder that holds all of its files, below the root named by the index; exact.
    pub folder: (u16, String),
    /// Its audit. Folders that could not be walked and files passed over are told of the set, not here.
    pub audit: Audit,
}
