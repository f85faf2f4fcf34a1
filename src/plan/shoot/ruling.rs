//! How a plan stands to what constrains it: the words of the rulings.

/// How a plan stands to a constraint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// It works, with margin.
    Works,
    /// It works, with a thin margin.
    Tight,
    /// It does not work.
    Fails,
}

impl State {
    /// The word on the page and in `--json`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Works => "works",
            Self::Tight => "tight",
            Self::Fails => "fails",
        }
    }
}

/// What constrains.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// Exposure, busy time and dark frame in the interval.
    Camera,
    /// Exposure, move and settling in the interval.
    Rig,
    /// The rail's length.
    Rail,
    /// The battery's hours.
    Battery,
    /// The card's size.
    Card,
    /// The names that a card's folders hold, and the largest file.
    FileSystem,
    /// The clip's length.
    Clip,
    /// The ramp's steps.
    Ramp,
    /// Lamps on the mains, and the exposures.
    Lamps,
    /// The intervals that the timer has.
    TimerRange,
    /// The moves that the carriage can make.
    StepRange,
    /// The speeds that the carriage has.
    SpeedRange,
}

impl Subject {
    /// The word in `--json`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Camera => "camera",
            Self::Rig => "rig",
            Self::Rail => "rail",
            Self::Battery => "battery",
            Self::Card => "card",
            Self::FileSystem => "file-system",
            Self::Clip => "clip",
            Self::Ramp => "ramp",
            Self::Lamps => "lamps",
            Self::TimerRange => "timer-range",
            Self::StepRange => "step-range",
            Self::SpeedRange => "speed-range",
        }
    }
}

impl Subject {
    /// In a sentence.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Camera => "the camera's time",
            Self::Rig => "the rig's time",
            Self::Rail => "the rail's length",
            Self::Battery => "the battery",
            Self::Card => "the card",
            Self::FileSystem => "what a card can hold",
            Self::Clip => "the clip's length",
            Self::Ramp => "the ramp",
            Self::Lamps => "the lamps",
            Self::TimerRange => "the timer's intervals",
            Self::StepRange => "the carriage's steps",
            Self::SpeedRange => "the carriage's speeds",
        }
    }
}

/// One constraint.
#[derive(Clone, Debug, PartialEq)]
pub struct Ruling {
    /// What constrains.
    pub subject: Subject,
    /// How the plan stands to it.
    pub state: State,
    /// How much of it the plan takes: 1 is all; 0 where it does not compare.
    pub load: f64,
    /// One sentence with its figures.
    pub words: String,
}

/// All constraints that can be known of a plan.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rulings(pub Vec<Ruling>);

impl Rulings {
    /// The worst state.
    pub fn state(&self) -> State {
        self.0.iter().map(|r| r.state).max().unwrap_or(State::Works)
    }

    /// True where that constraint is not kept.
    pub fn fails(&self, subject: Subject) -> bool {
        self.0.iter().any(|r| r.subject == subject && r.state == State::Fails)
    }

    /// The one that binds: of those that fare worst, the one that the plan takes most of.
    pub fn binding(&self) -> Option<&Ruling> {
        self.0
            .iter()
            .filter(|r| r.load > 0.0 || r.state > State::Works)
            .reduce(|a, b| if (b.state, b.load) > (a.state, a.load) { b } else { a })
    }
}

/// Over, at, or within a margin under a limit; a microsecond is how decimals become binary fractions.
pub(super) fn stands(value: f64, tight: f64, most: f64) -> State {
    match value {
        v if v > most + 1e-6 => State::Fails,
        v if v > tight + 1e-6 => State::Tight,
        _ => State::Works,
    }
}
