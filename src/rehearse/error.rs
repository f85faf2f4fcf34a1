//! Why a rehearsal could not be made. Each names the place and the remedy.

use crate::units::shown;
use std::fmt;
use std::path::{Path, PathBuf};

/// Why a rehearsal could not be made.
#[derive(Debug)]
pub enum RehearseError {
    /// The plan lacks something or asks for what cannot be rehearsed.
    Plan(String),
    /// An option is out of its range.
    Option(String),
    /// A fault cannot be placed in this run.
    Fault(String),
    /// The place to write to is not free.
    Place {
        /// The folder or file.
        path: PathBuf,
        /// What is wrong with it and what to do.
        message: String,
    },
    /// The disk refused.
    Disk {
        /// The file or folder.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// What the system said.
        source: std::io::Error,
    },
    /// A picture or its Exif block could not be encoded.
    Encode(String),
    /// It was interrupted, and what was written by then is gone again.
    Stopped,
}

impl RehearseError {
    pub(crate) fn disk(path: &Path, doing: &'static str, source: std::io::Error) -> Self {
        Self::Disk { path: path.to_owned(), doing, source }
    }
}

impl fmt::Display for RehearseError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Plan(message) | Self::Option(message) | Self::Fault(message) | Self::Encode(message) => {
                f.write_str(message)
            }
            Self::Stopped => f.write_str("stopped: nothing of the rehearsal was kept"),
            Self::Place { path, message } => {
                write!(f, "{}: {message}", shown(&path.to_string_lossy()))
            }
            Self::Disk { path, doing, source } => {
                let path = shown(&path.to_string_lossy());
                write!(f, "{path}: {doing} failed: {source}; check the space and the permissions there")
            }
        }
    }
}

impl std::error::Error for RehearseError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Disk { source, .. } => Some(source),
            _ => None,
        }
    }
}
