//! A cell of the frames table: what was asked of a file, and what it had to say.

/// Four answers a file can give. "Absent" and "blank" are the camera's doing, "unreadable" is damage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Cell<T> {
    /// The value.
    Known(T),
    /// The place is there and holds the standard's sign for "not known" (blanks, 0/0, FFFFFFFF).
    Blank,
    /// There is no such place in the file, or the container cannot have one.
    #[default]
    Absent,
    /// The place is there and cannot be understood, or could not be read.
    Unreadable,
}

impl<T> Cell<T> {
    /// The value, where it is known.
    pub fn known(self) -> Option<T> {
        match self {
            Self::Known(v) => Some(v),
            _ => None,
        }
    }

    /// The value by reference, where it is known.
    pub fn as_known(&self) -> Option<&T> {
        match self {
            Self::Known(v) => Some(v),
            _ => None,
        }
    }

    /// Why there is no value, in a word; `None` where there is one.
    pub fn why_not(&self) -> Option<&'static str> {
        match self {
            Self::Known(_) => None,
            Self::Blank => Some("blank"),
            Self::Absent => Some("absent"),
            Self::Unreadable => Some("unreadable"),
        }
    }

    /// This cell, or where it holds no value the other one.
    pub fn or(self, other: Self) -> Self {
        match self {
            Self::Known(_) => self,
            _ if matches!(other, Self::Known(_)) => other,
            _ => self,
        }
    }

    /// The cell with its value changed by `f`.
    pub fn map<U>(self, f: impl FnOnce(T) -> U) -> Cell<U> {
        match self {
            Self::Known(v) => Cell::Known(f(v)),
            Self::Blank => Cell::Blank,
            Self::Absent => Cell::Absent,
            Self::Unreadable => Cell::Unreadable,
        }
    }
}
