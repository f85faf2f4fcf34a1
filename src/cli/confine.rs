//! Read-only by proof: the process gives up the right to write anywhere but in the places of its outputs,
//! before it reads the first frame. Nothing that the program does afterwards, a mistake included, can then
//! change a card.
//!
//! Source: landlock(7). Every thread that is started later inherits it; it cannot be taken back.

use crate::store::Disk;

/// What the kernel made of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Confined {
    /// This process can write nowhere else any more.
    Wholly,
    /// Nothing new can be made, changed or removed elsewhere, but an older kernel does not know every way to
    /// write.
    Partly,
    /// The system has no such thing, or has it switched off: frames are only ever opened for reading all the
    /// same.
    Not,
}

/// Gives up the right to write for this thread and all that it starts, but below `places`: the very folders
/// that are open, whatever their paths lead to by now.
#[cfg(target_os = "linux")]
pub fn to_writing_in(places: &[&Disk]) -> Confined {
    use landlock::{
        ABI, AccessFs, PathBeneath, Ruleset, RulesetAttr, RulesetCreatedAttr, RulesetError, RulesetStatus,
    };
    // The third one is the first that knows truncation; later ones add nothing that could change a file.
    let writing = AccessFs::from_write(ABI::V3);
    let confined = || -> Result<RulesetStatus, RulesetError> {
        let rules = places.iter().map(|place| Ok::<_, RulesetError>(PathBeneath::new(place, writing)));
        let rules = Ruleset::default().handle_access(writing)?.create()?.add_rules(rules)?;
        Ok(rules.restrict_self()?.ruleset)
    };
    match confined() {
        Ok(RulesetStatus::FullyEnforced) => Confined::Wholly,
        Ok(RulesetStatus::PartiallyEnforced) => Confined::Partly,
        Ok(RulesetStatus::NotEnforced) | Err(_) => Confined::Not,
    }
}

/// Gives up the right to write but below `places`: not on this system.
#[cfg(not(target_os = "linux"))]
pub fn to_writing_in(_places: &[&Disk]) -> Confined {
    Confined::Not
}

impl Confined {
    /// What is worth a word without being asked: on Linux, that the kernel could not.
    pub fn warning(self) -> Option<&'static str> {
        match self {
            _ if !cfg!(target_os = "linux") => None,
            Self::Wholly => None,
            Self::Partly => Some(
                "this kernel is too old to forbid every way to write (Landlock before Linux 6.2): the frames \
                 are only opened for reading all the same.",
            ),
            Self::Not => Some(
                "this kernel cannot take away the right to write (no Landlock): the frames are only opened \
                 for reading all the same.",
            ),
        }
    }
}
