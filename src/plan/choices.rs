//! The choices that a plan makes by a word. Each word stands here and nowhere else.

use super::{CountedFrom, ExposureMode, FileSystem, Light, RigKind, Way};

/// A choice among few, made by a word in a plan, by a flag and in `audit.json`.
pub trait Choice: Copy + PartialEq + 'static {
    /// Every choice with its word, in the order in which they are listed.
    const ALL: &'static [(&'static str, Self)];

    /// The word in a plan.
    fn written(self) -> &'static str {
        Self::ALL.iter().find(|(_, choice)| *choice == self).map_or("", |(word, _)| word)
    }

    /// The choice that a word makes.
    fn of(word: &str) -> Option<Self> {
        Self::ALL.iter().find(|(known, _)| *known == word).map(|(_, choice)| *choice)
    }
}

impl Choice for CountedFrom {
    const ALL: &'static [(&'static str, Self)] = &[("open", Self::Open), ("close", Self::Close)];
}

impl Choice for Light {
    const ALL: &'static [(&'static str, Self)] =
        &[("daylight", Self::Daylight), ("mains", Self::Mains), ("night", Self::Night)];
}

impl Choice for ExposureMode {
    const ALL: &'static [(&'static str, Self)] =
        &[("locked", Self::Locked), ("ramped", Self::Ramped), ("automatic", Self::Automatic)];
}

impl Choice for RigKind {
    const ALL: &'static [(&'static str, Self)] =
        &[("stepped", Self::Stepped), ("continuous", Self::Continuous)];
}

impl Choice for Way {
    const ALL: &'static [(&'static str, Self)] =
        &[("left", Self::Left), ("right", Self::Right), ("up", Self::Up), ("down", Self::Down)];
}

impl Choice for FileSystem {
    const ALL: &'static [(&'static str, Self)] =
        &[("fat16", Self::Fat16), ("fat32", Self::Fat32), ("exfat", Self::Exfat)];
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words<T: Choice + std::fmt::Debug>() {
        assert!(T::ALL.len() > 1);
        for (word, choice) in T::ALL {
            assert_eq!((choice.written(), T::of(word)), (*word, Some(*choice)));
        }
        assert_eq!(T::of(""), None);
    }

    #[test]
    fn each_word_makes_its_choice_and_is_told_of_it() {
        words::<CountedFrom>();
        words::<Light>();
        words::<ExposureMode>();
        words::<RigKind>();
        words::<Way>();
        words::<FileSystem>();
    }
}
