//! What a plan may name that other rooms know.

/// A check that a plan may name, and the keys of its limits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownCheck {
    /// Id of the check.
    pub id: &'static str,
    /// Keys that `[tolerance.CHECK]` may hold.
    pub keys: Vec<String>,
}
