//! Reading a fault from its text: `NAME[=AMOUNT[:SHAPE]][@SLOT]`.

use super::{Damage, FAULTS, Fault, FaultForm, Flicker, Spread, Surplus};
use crate::units::shown;

impl Fault {
    /// Reads a fault as people write it; [`FAULTS`] lists the forms. The error says what was expected.
    pub fn parse(text: &str) -> Result<Self, String> {
        fault(text)
    }
}

/// The parts of a fault's text.
struct Parts<'a> {
    form: &'static FaultForm,
    amount: Option<&'a str>,
    shape: Option<&'a str>,
    at: Option<u64>,
}

impl Parts<'_> {
    /// The complaint that `what` is not what stands here.
    fn wrong(&self, what: &str, expected: &str) -> String {
        let FaultForm { name, form, example, .. } = self.form;
        format!("{name}: `{}` is not {expected}; the form is {form}, for one {example}", shown(what))
    }

    /// Reads `text` where something is written, and is `default` where nothing is.
    fn read<T>(
        &self,
        text: Option<&str>,
        default: T,
        expected: &str,
        read: impl Fn(&str) -> Option<T>,
    ) -> Result<T, String> {
        text.map_or(Ok(default), |text| read(text).ok_or_else(|| self.wrong(text, expected)))
    }

    fn number<T>(&self, default: T, expected: &str, read: impl Fn(&str) -> Option<T>) -> Result<T, String> {
        self.read(self.amount, default, expected, read)
    }

    fn count(&self, default: u64, expected: &str) -> Result<u64, String> {
        self.number(default, expected, from_one)
    }

    /// A time; without one the fault has its own.
    fn time(&self) -> Result<Option<f64>, String> {
        self.number(None, TIME, |t| positive_seconds(t).map(Some))
    }

    fn ev(&self, default: f64) -> Result<f64, String> {
        self.number(default, EV, stops)
    }

    fn pixels(&self, default: f64) -> Result<f64, String> {
        self.number(default, "a number of pixels over 0, up to 50", |t| {
            finite(t.strip_suffix("px").unwrap_or(t)).filter(|v| *v > 0.0 && *v <= 50.0)
        })
    }

    fn choice<T: Copy>(&self, text: Option<&str>, choices: &[(&str, T)], default: T) -> Result<T, String> {
        let Some(text) = text else { return Ok(default) };
        choices.iter().find(|c| c.0 == text).map(|c| c.1).ok_or_else(|| {
            let names: Vec<_> = choices.iter().map(|c| c.0).collect();
            self.wrong(text, &format!("one of {}", names.join(", ")))
        })
    }

    /// Slots that are missing, in one place or every so many.
    fn missing(&self) -> Result<Fault, String> {
        if self.amount != Some("every") {
            self.has_no_shape()?;
            let count = self.count(3, "a number of slots from 1 on, or every:K")?;
            return Ok(Fault::Missing { count, at: self.at });
        }
        if self.at.is_some() {
            return Err("missing=every:K takes no place: it concerns the whole run".into());
        }
        let every = self.shape.unwrap_or("");
        let read = every.parse().ok().filter(|n| *n >= 2);
        Ok(Fault::MissingEvery {
            every: read.ok_or_else(|| self.wrong(every, "a number of slots from 2 on"))?,
        })
    }

    fn lost(&self) -> Result<Fault, String> {
        self.has_no_shape()?;
        Ok(Fault::Lost { count: self.count(2, "a number of files from 1 on")?, at: self.at })
    }

    fn has_no_shape(&self) -> Result<(), String> {
        let expected = "a number of slots; only `every` has a `:K` after it";
        self.shape.map_or(Ok(()), |_| Err(self.wrong(self.amount.unwrap_or(""), expected)))
    }

    /// A step of the clock, which the written offset follows or not.
    fn clock(&self, offset_follows: bool) -> Result<Fault, String> {
        let expected = "a time other than 0 (+1h, -30min, +2.5s)";
        let step_s = self.number(3600.0, expected, |t| seconds(t).filter(|s| *s != 0.0))?;
        Ok(Fault::Clock { step_s, offset_follows, at: self.at })
    }

    fn damaged(&self) -> Result<Fault, String> {
        Ok(Fault::Damaged {
            damage: self.choice(self.amount, DAMAGES, Damage::Cut)?,
            count: self.read(self.shape, 1, "a number of files from 1 on", from_one)?,
            at: self.at,
        })
    }

    fn tests(&self) -> Result<Fault, String> {
        let shots = |text, default| {
            self.read(text, default, "a number of test shots up to 1000", |t| {
                t.parse().ok().filter(|n| *n <= 1000)
            })
        };
        Ok(Fault::Tests { head: shots(self.amount, 3)?, tail: shots(self.shape, 2)? })
    }

    fn flicker(&self) -> Result<Fault, String> {
        let expected = "a number of EV over 0, up to 10";
        Ok(Fault::Flicker {
            rms_ev: self.number(0.1, expected, |t| stops(t).filter(|v| *v > 0.0))?,
            shape: self.choice(self.shape, FLICKERS, Flicker::Random)?,
        })
    }

    fn slip(&self) -> Result<Fault, String> {
        let of_step = |t: &str| share_of(t).filter(|v| *v > 0.0 && *v <= 20.0);
        let share = self.number(0.5, "a share of the step over 0, up to 20", of_step)?;
        Ok(Fault::Slip { share, at: self.at })
    }
}

fn split(text: &str) -> Result<Parts<'_>, String> {
    let (rest, place) = match text.split_once('@') {
        Some((rest, place)) => (rest, Some(place.trim())),
        None => (text, None),
    };
    let (name, amount) = match rest.split_once('=') {
        Some((name, amount)) => (name.trim(), Some(amount.trim())),
        None => (rest.trim(), None),
    };
    let Some(form) = FAULTS.iter().find(|f| f.name == name) else {
        let names: Vec<_> = FAULTS.iter().map(|f| f.name).collect();
        return Err(format!("`{}` is no fault; the faults are {}", shown(name), names.join(", ")));
    };
    let (amount, shape) = match amount.and_then(|a| a.split_once(':')) {
        Some((amount, shape)) => (Some(amount.trim()), Some(shape.trim())),
        None => (amount, None),
    };
    let mut parts = Parts { form, amount, shape, at: None };
    if let Some(place) = place {
        if !form.form.contains("@SLOT") {
            return Err(format!(
                "{name}: takes no place, `@{}` is one too many; the form is {}",
                shown(place),
                form.form
            ));
        }
        let at = place.parse().map_err(|_| parts.wrong(place, "a slot number (0, 1, 2, ...)"))?;
        parts.at = Some(at);
    }
    if let Some(amount) = parts.amount.filter(|_| !form.form.contains('=')) {
        return Err(format!(
            "{name}: takes no amount, `={}` is one too many; the form is {}",
            shown(amount),
            form.form
        ));
    }
    if let Some(shape) = parts.shape.filter(|_| !form.form.contains(':')) {
        return Err(parts.wrong(shape, "expected here"));
    }
    Ok(parts)
}

fn from_one(text: &str) -> Option<u64> {
    text.parse().ok().filter(|n| (1..=1_000_000).contains(n))
}

fn finite(text: &str) -> Option<f64> {
    text.trim().parse::<f64>().ok().filter(|v| v.is_finite() && v.abs() < 1e9)
}

/// Seconds from `15ms`, `37s`, `-2min`, `+1h`; a plain number is seconds.
fn seconds(text: &str) -> Option<f64> {
    let at = text.find(|c: char| c.is_ascii_alphabetic()).unwrap_or(text.len());
    let (number, unit) = text.split_at(at);
    let scale = match unit.trim() {
        "" | "s" => 1.0,
        "ms" => 0.001,
        "min" => 60.0,
        "h" => 3600.0,
        _ => return None,
    };
    finite(number).map(|v| v * scale)
}

fn positive_seconds(text: &str) -> Option<f64> {
    seconds(text).filter(|s| *s > 0.0)
}

/// An interval factor from `+200ppm`, `-2%` or `1.04x`, 0.1 to 10.
fn factor(text: &str) -> Option<f64> {
    let with = |unit: &str, scale: f64| text.strip_suffix(unit).and_then(finite).map(|v| 1.0 + v * scale);
    with("ppm", 1e-6)
        .or_else(|| with("%", 0.01))
        .or_else(|| text.strip_suffix('x').and_then(finite))
        .filter(|f| (0.1..=10.0).contains(f))
}

fn stops(text: &str) -> Option<f64> {
    finite(text.strip_suffix("EV").unwrap_or(text)).filter(|v| *v != 0.0 && v.abs() <= 10.0)
}

/// A share from `60%` or `0.6`.
fn share_of(text: &str) -> Option<f64> {
    match text.strip_suffix('%') {
        Some(percent) => finite(percent).map(|v| v / 100.0),
        None => finite(text),
    }
}

/// A share over 0 to 1.
fn share(text: &str) -> Option<f64> {
    share_of(text).filter(|v| *v > 0.0 && *v <= 1.0)
}

const RATE: &str = "a rate (+200ppm, -2% or 1.04x; 0.1x to 10x)";
const TIME: &str = "a time over 0 (15ms, 37s, 2min, 1h)";
const EV: &str = "a number of EV other than 0 and up to 10 either way";

const SPREADS: &[(&str, Spread)] = &[("gaussian", Spread::Gaussian), ("uniform", Spread::Uniform)];
const FLICKERS: &[(&str, Flicker)] = &[("random", Flicker::Random), ("alternating", Flicker::Alternating)];
const DAMAGES: &[(&str, Damage)] =
    &[("empty", Damage::Empty), ("cut", Damage::Cut), ("zeros", Damage::Zeros), ("garbage", Damage::Garbage)];
const SURPLUSES: &[(&str, Surplus)] = &[("double", Surplus::Double), ("hand", Surplus::Hand)];

/// Reads one fault.
fn fault(text: &str) -> Result<Fault, String> {
    let p = split(text)?;
    let at = p.at;
    Ok(match p.form.name {
        "missing" => p.missing()?,
        "lost" => p.lost()?,
        "rate" => Fault::Rate { factor: p.number(1.0002, RATE, factor)? },
        "rate-change" => Fault::RateChange { factor: p.number(1.02, RATE, factor)?, at },
        "jitter" => Fault::Jitter {
            amount_s: p.number(0.015, TIME, positive_seconds)?,
            spread: p.choice(p.shape, SPREADS, Spread::Gaussian)?,
        },
        "pause" => Fault::Pause { seconds: p.time()?, at },
        "clock" => p.clock(false)?,
        "daylight-saving" => p.clock(true)?,
        "overrun" => Fault::Overrun { at },
        "jump" => Fault::Jump { ev: p.ev(1.0)?, at },
        "stray" => Fault::Stray { ev: p.ev(-0.5)?, at },
        "stuck" => Fault::Stuck { at },
        "odd" => Fault::Odd { ev: p.ev(-1.0)?, at },
        "hunting" => Fault::Hunting { count: p.count(12, "a number of frames from 1 on")?, at },
        "flicker" => p.flicker()?,
        "damaged" => p.damaged()?,
        "surplus" => Fault::Surplus { surplus: p.choice(p.amount, SURPLUSES, Surplus::Double)?, at },
        "duplicate" => Fault::Duplicate { at },
        "tests" => p.tests()?,
        "stop" => Fault::Stop { share: p.number(0.6, "a share over 0, up to 100%", share)? },
        "counted-from-close" => Fault::FromClose,
        "dark-frame" => Fault::DarkFrame,
        "stalled" => Fault::Stalled { count: p.count(6, "a number of moves from 1 on")?, at },
        "slip" => p.slip()?,
        "reversal" => Fault::Reversal { at },
        "rail-end" => Fault::RailEnd { at },
        "knock" => Fault::Knock { pixels: p.pixels(3.0)?, at },
        "lorry" => Fault::Lorry { count: p.count(3, "a number of frames from 1 on")?, at },
        "wrap" => Fault::Wrap { at },
        "roll" => Fault::Roll { at },
        "late" => Fault::Late { seconds: p.time()?, at },
        "soft" => Fault::Soft { pixels: p.pixels(2.0)?, at },
        // A name that FAULTS lists and this match forgets; a test walks every one.
        other => return Err(format!("{other}: this fault cannot be read")),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_listed_fault_parses_and_keeps_its_name() {
        for form in FAULTS {
            let with_amount = Fault::parse(form.example).expect(form.example);
            assert_eq!(with_amount.name(), form.name);
            let plain = Fault::parse(form.name).expect(form.name);
            assert_eq!(plain.name(), form.name);
            assert_eq!(plain.has_place(), form.form.contains("@SLOT"), "{}", form.name);
            assert_eq!(plain.asked_at(), None);
        }
        let mut names: Vec<_> = FAULTS.iter().map(|f| f.name).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), FAULTS.len());
    }

    #[test]
    fn amounts_and_places() {
        for (text, fault) in [
            ("missing=3@120", Fault::Missing { count: 3, at: Some(120) }),
            ("missing=every:7", Fault::MissingEvery { every: 7 }),
            ("lost=2", Fault::Lost { count: 2, at: None }),
            ("rate=-2%", Fault::Rate { factor: 0.98 }),
            ("rate=1.04x", Fault::Rate { factor: 1.04 }),
            ("jitter=15ms", Fault::Jitter { amount_s: 0.015, spread: Spread::Gaussian }),
            ("jitter=1s:uniform", Fault::Jitter { amount_s: 1.0, spread: Spread::Uniform }),
            ("pause=37s@200", Fault::Pause { seconds: Some(37.0), at: Some(200) }),
            ("clock=-1h@0", Fault::Clock { step_s: -3600.0, offset_follows: false, at: Some(0) }),
            ("jump=+1EV@90", Fault::Jump { ev: 1.0, at: Some(90) }),
            ("flicker=0.1EV:alternating", Fault::Flicker { rms_ev: 0.1, shape: Flicker::Alternating }),
            ("damaged=zeros:4@9", Fault::Damaged { damage: Damage::Zeros, count: 4, at: Some(9) }),
            ("tests=4:3", Fault::Tests { head: 4, tail: 3 }),
            ("stop=60%", Fault::Stop { share: 0.6 }),
            ("slip=50%@9", Fault::Slip { share: 0.5, at: Some(9) }),
            ("knock=3px@9", Fault::Knock { pixels: 3.0, at: Some(9) }),
            ("lorry=4@9", Fault::Lorry { count: 4, at: Some(9) }),
            (" late = 2.4s @ 80 ", Fault::Late { seconds: Some(2.4), at: Some(80) }),
        ] {
            assert_eq!(Fault::parse(text), Ok(fault), "{text}");
        }
        let Ok(Fault::Rate { factor }) = Fault::parse("rate=+200ppm") else { panic!("a rate") };
        assert!((factor - 1.0002).abs() < 1e-12);
    }

    #[test]
    fn errors_name_what_was_expected() {
        for (text, words) in [
            ("mising=3", "the faults are missing, lost"),
            ("missing=three", "a number of slots from 1 on"),
            ("missing=0", "from 1 on"),
            ("missing=3:4", "only `every`"),
            ("missing=every:1", "from 2 on"),
            ("missing=every:3@4", "takes no place"),
            ("lost=2@x", "a slot number"),
            ("rate=200", "+200ppm"),
            ("rate=nanppm", "a rate"),
            ("jitter=-5ms", "over 0"),
            ("jitter=5ms:square", "gaussian, uniform"),
            ("dark-frame=3", "takes no amount"),
            ("stop@3", "takes no place"),
            ("stop=140%", "up to 100%"),
            ("jump=0EV", "other than 0"),
            ("damaged=bent", "empty, cut, zeros, garbage"),
            ("", "is no fault"),
            ("\u{1b}[2J", "\\u{1B}"),
        ] {
            let message = Fault::parse(text).expect_err(text);
            assert!(message.contains(words), "{text}: {message}");
        }
    }
}
