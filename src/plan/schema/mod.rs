//! What a key of a plan is. The keys stand in `rows`, one row each, and all that is done with every key goes
//! by its row: reading it from a file and from a flag, near misses, laying plans over one another, writing it
//! in TOML and in `audit.json`, and the reference in the README.

mod rows;

use super::{DailyHours, ExposurePlan, Moment, Planned};

/// A form that turns text into a value, or says what was expected.
pub type Form<T> = fn(&str) -> Result<T, String>;

/// A table of a plan whose keys stand in rows.
pub trait Keyed: Sized + 'static {
    /// The rows, in the order in which keys are listed.
    const KEYS: &'static [PlanKey<Self>];
    /// What the table is called in the schema of `audit.json`, and what is said of it there.
    const SCHEMA: (&'static str, &'static str);
}

/// A place in a table: how to look at it, and how to change it.
pub struct Place<S, T> {
    /// Looks at it.
    pub get: fn(&S) -> &T,
    /// Changes it.
    pub get_mut: fn(&mut S) -> &mut T,
}

/// A place whose value is one of few words.
pub struct WordPlace<S> {
    /// The words that may be said.
    pub words: fn() -> Vec<&'static str>,
    /// The word that is said.
    pub get: fn(&S) -> Option<&'static str>,
    /// Says a word; one that is not known says nothing.
    pub set: fn(&mut S, &str),
}

/// What a key holds, how its text is read, and where its value lies in the table `S`.
pub enum Kind<S> {
    /// Words of the photographer's own.
    Text(Place<S, Option<String>>),
    /// Lines of such words.
    Lines(Place<S, Vec<String>>),
    /// Hours of the day.
    Hours(Place<S, Vec<DailyHours>>),
    /// A moment.
    Moment(Place<S, Option<Moment>>),
    /// A quantity.
    Number(Form<f64>, Unit, Place<S, Option<f64>>),
    /// A whole number.
    Count(Form<u64>, Place<S, Option<u64>>),
    /// A small whole number.
    Few(Form<u32>, Place<S, Option<u32>>),
    /// A quantity, or the two ends of a ramp or a range.
    Planned(Form<f64>, Unit, Place<S, Option<Planned>>),
    /// Yes or no.
    YesNo(Place<S, Option<bool>>),
    /// One of few words.
    Word(WordPlace<S>),
}

/// The unit in which a quantity is held, and with it how it is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Seconds.
    Seconds,
    /// Seconds, as marked on a dial.
    Shutter,
    /// Metres.
    Metres,
    /// Metres a second.
    Speed,
    /// Metres a second, each second.
    Acceleration,
    /// Hours.
    Hours,
    /// Degrees Celsius.
    Celsius,
    /// Degrees of an angle.
    Degrees,
    /// Degrees of an angle a second.
    Turning,
    /// Pixels.
    Pixels,
    /// Hertz.
    Hertz,
    /// Exposure values.
    Ev,
    /// None: an f-number or a sensitivity.
    Plain,
    /// Bytes.
    Bytes,
    /// Frames a second.
    Rate,
}

/// A key as a flag.
#[derive(Clone, Copy, Debug)]
pub struct Flag {
    /// Its name after `--`, where that is not the key's.
    pub long: Option<&'static str>,
    /// What stands for its value in the help; empty for a word.
    pub value: &'static str,
    /// The help.
    pub help: &'static str,
    /// True where the help has it after the card's flags.
    pub late: bool,
}

/// A row: all there is to say of one key.
pub struct PlanKey<S> {
    /// Its name in a plan file.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind<S>,
    /// How it is said on the command line.
    pub flag: Option<Flag>,
    /// Its name in `audit.json`, which carries the unit.
    pub json: &'static str,
    /// What it is, in the schema of `audit.json`; the words of a choice are told behind it.
    pub doc: &'static str,
    /// What stands beside it in a plan that is written.
    pub comment: &'static str,
    /// True where a `[[part]]` may say it anew.
    pub in_part: bool,
    /// True where `audit.json` has it behind the other keys of its table: it came later.
    pub told_last: bool,
}

/// A value as it is said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Said<'a> {
    /// Words.
    Text(&'a str),
    /// Lines of words.
    Lines(&'a [String]),
    /// Hours of the day.
    Hours(&'a [DailyHours]),
    /// A moment.
    Moment(Moment),
    /// A quantity.
    Number(f64, Unit),
    /// A whole number.
    Count(u64),
    /// A quantity or its two ends.
    Planned(Planned, Unit),
    /// Yes or no.
    YesNo(bool),
    /// One of few words.
    Word(&'static str),
}

impl<S> PlanKey<S> {
    /// What a table says by this key; `None` where it says nothing.
    pub fn said<'a>(&self, of: &'a S) -> Option<Said<'a>> {
        match &self.kind {
            Kind::Text(place) => (place.get)(of).as_deref().map(Said::Text),
            Kind::Lines(place) => Some((place.get)(of)).filter(|l| !l.is_empty()).map(|l| Said::Lines(l)),
            Kind::Hours(place) => Some((place.get)(of)).filter(|h| !h.is_empty()).map(|h| Said::Hours(h)),
            Kind::Moment(place) => (place.get)(of).map(Said::Moment),
            Kind::Number(_, unit, place) => (place.get)(of).map(|v| Said::Number(v, *unit)),
            Kind::Count(_, place) => (place.get)(of).map(Said::Count),
            Kind::Few(_, place) => (place.get)(of).map(|n| Said::Count(n.into())),
            Kind::Planned(_, unit, place) => (place.get)(of).map(|p| Said::Planned(p, *unit)),
            Kind::YesNo(place) => (place.get)(of).map(Said::YesNo),
            Kind::Word(place) => (place.get)(of).map(Said::Word),
        }
    }

    /// What it is, in words that end with a point: those of its row, and the words of a choice.
    pub fn told(&self) -> String {
        let Kind::Word(place) = &self.kind else { return self.doc.to_owned() };
        let words: Vec<String> = (place.words)().iter().map(|word| format!("`{word}`")).collect();
        let words = match words.as_slice() {
            [before @ .., last] if !before.is_empty() => format!("{} or {last}", before.join(", ")),
            words => words.concat(),
        };
        if self.doc.is_empty() { format!("{words}.") } else { format!("{}: {words}.", self.doc) }
    }

    /// Lays what `over` says by this key over what `under` does.
    pub fn lay(&self, over: &S, under: &mut S) {
        fn some<S, T: Clone>(place: &Place<S, Option<T>>, over: &S, under: &mut S) {
            if let Some(value) = (place.get)(over) {
                *(place.get_mut)(under) = Some(value.clone());
            }
        }
        fn list<S, T: Clone>(place: &Place<S, Vec<T>>, over: &S, under: &mut S) {
            let values = (place.get)(over);
            if !values.is_empty() {
                (place.get_mut)(under).clone_from(values);
            }
        }
        match &self.kind {
            Kind::Text(place) => some(place, over, under),
            Kind::Lines(place) => list(place, over, under),
            Kind::Hours(place) => list(place, over, under),
            Kind::Moment(place) => some(place, over, under),
            Kind::Number(_, _, place) => some(place, over, under),
            Kind::Count(_, place) => some(place, over, under),
            Kind::Few(_, place) => some(place, over, under),
            Kind::Planned(_, _, place) => some(place, over, under),
            Kind::YesNo(place) => some(place, over, under),
            Kind::Word(place) => {
                if let Some(word) = (place.get)(over) {
                    (place.set)(under, word);
                }
            }
        }
    }

    /// Its name as a flag, without the dashes; `None` where it is none.
    pub fn long(&self) -> Option<String> {
        self.flag.map(|flag| flag.long.map_or_else(|| self.name.replace('_', "-"), str::to_owned))
    }

    const fn new(name: &'static str, kind: Kind<S>) -> Self {
        let (flag, in_part, told_last) = (None, false, false);
        Self { name, kind, flag, json: name, doc: "", comment: "", in_part, told_last }
    }

    const fn flag(self, value: &'static str, help: &'static str) -> Self {
        self.flag_named(None, value, help)
    }

    const fn flag_named(
        mut self,
        long: Option<&'static str>,
        value: &'static str,
        help: &'static str,
    ) -> Self {
        self.flag = Some(Flag { long, value, help, late: false });
        self
    }

    const fn late(mut self) -> Self {
        if let Some(flag) = &mut self.flag {
            flag.late = true;
        }
        self
    }

    const fn json(mut self, name: &'static str, doc: &'static str) -> Self {
        self.json = name;
        self.doc = doc;
        self
    }

    const fn comment(mut self, comment: &'static str) -> Self {
        self.comment = comment;
        self
    }

    const fn in_part(mut self) -> Self {
        self.in_part = true;
        self
    }

    const fn told_last(mut self) -> Self {
        self.told_last = true;
        self
    }
}

/// The rows of the exposure that a part may say anew.
pub fn exposure_of_part() -> impl Iterator<Item = &'static PlanKey<ExposurePlan>> {
    ExposurePlan::KEYS.iter().filter(|key| key.in_part)
}

/// Lays what `over` says over what `under` does, key by key.
pub fn lay<S: Keyed>(over: &S, under: &mut S) {
    for key in S::KEYS {
        key.lay(over, under);
    }
}
