//! Who is to blame for what cameras share, or do not.

/// What a hole or a stop comes from, by the cameras that have it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Whose {
    /// Every camera that ran has it: the controller did not fire.
    Controller,
    /// One camera alone has it: another one fired, or its files are gone.
    Camera,
    /// Several have it, but not all: a branch of the cable, or chance.
    Several,
    /// No other camera ran at that time, or none could be compared.
    Unknown,
}

impl Whose {
    /// The code in `audit.json`.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Controller => "controller",
            Self::Camera => "camera",
            Self::Several => "several",
            Self::Unknown => "unknown",
        }
    }
}
