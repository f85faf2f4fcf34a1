//! What every decoder, and what stands before it, may answer in place of a picture.

/// Why a picture gave no codes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Refused {
    /// Its bytes are wrong, in words.
    Damaged(String),
    /// It is of a kind that is not decoded here.
    NotOurs,
    /// To decode it would take more than is given to one picture; the words name the picture and the bound.
    TooMuch(String),
    /// The reading was stopped before its turn came.
    Stopped,
}
