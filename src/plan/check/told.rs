//! What is told of a plan that contradicts itself.

/// How much a contradiction weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// The plan cannot mean anything as it stands.
    Refuse,
    /// The plan can be compared with the frames; the photographer is told.
    Warn,
}

/// Two things in a plan that do not go together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contradiction {
    /// How much it weighs.
    pub weight: Weight,
    /// One plain sentence, or two, with both figures and the keys that they come from.
    pub words: String,
}

/// Notes what leaves no meaning.
pub(super) fn refuse(told: &mut Vec<Contradiction>, words: String) {
    told.push(Contradiction { weight: Weight::Refuse, words });
}

/// Notes what the photographer is to know.
pub(super) fn warn(told: &mut Vec<Contradiction>, words: String) {
    told.push(Contradiction { weight: Weight::Warn, words });
}
