//! Faults at their places, and what they do to a slot.

use super::chance::{Chance, mix};
use super::dials::Settings;
use super::faults::{Fault, Flicker, Spread};
use super::{Options, RehearseError};

/// A fault at its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// What was asked for.
    pub fault: Fault,
    /// The slot at which it stands or begins; 0 where it concerns the whole run.
    pub at: u64,
}

/// All the faults of a rehearsal.
#[derive(Clone, Debug)]
pub struct Faults {
    placed: Vec<Placed>,
    seed: u64,
    /// Thirds by which an overrun grows, and the slots that one third takes.
    growth: (i32, u64),
}

impl Faults {
    /// Gives each fault its place in a run of `slots` slots. Those without one of their own are spread over
    /// the run, so that they do not lie on one another.
    pub fn place(faults: &[Fault], slots: u64, options: &Options) -> Result<Self, RehearseError> {
        let free = faults.iter().filter(|f| f.has_place() && f.asked_at().is_none()).count() as u64;
        let mut chance = Chance::stream(options.seed, 0x504c_4143);
        let turn = if free == 0 { 0 } else { chance.bits() % free };
        let mut seen = 0;
        let mut placed = Vec::with_capacity(faults.len());
        for fault in faults {
            if !sound(fault) {
                let name = fault.name();
                return Err(RehearseError::Fault(format!(
                    "{name}: the amount is out of range; see its form"
                )));
            }
            let at = match fault.asked_at() {
                Some(at) => at,
                None if fault.has_place() => {
                    let band = (seen + turn) % free;
                    seen += 1;
                    let share = 0.08 + 0.84 * (band as f64 + chance.between(0.15, 0.75)) / free as f64;
                    ((slots as f64 * share) as u64).min(slots.saturating_sub(fault.reach() + 1))
                }
                None => 0,
            };
            let reach = if fault.has_place() { fault.reach() } else { 1 };
            if at.checked_add(reach).is_none_or(|end| end > slots) {
                return Err(RehearseError::Fault(format!(
                    "{}: slots {at} to {} are wanted, but only slots 0 to {} are shot; choose an earlier \
                     slot or fewer",
                    fault.name(),
                    at.saturating_add(reach) - 1,
                    slots.saturating_sub(1)
                )));
            }
            placed.push(Placed { fault: *fault, at });
        }
        Ok(Self { placed, seed: options.seed, growth: (0, 1) })
    }

    /// The faults in the order in which they were asked for.
    pub fn all(&self) -> &[Placed] {
        &self.placed
    }

    fn any(&self, test: impl Fn(&Placed) -> bool) -> bool {
        self.placed.iter().any(test)
    }

    /// True where such a fault was asked for.
    pub fn asks(&self, test: impl Fn(&Fault) -> bool) -> bool {
        self.any(|p| test(&p.fault))
    }

    /// Works out how far an overrun has to grow: `settings` are those where it begins, `room_s` is what the
    /// interval leaves for the exposure.
    pub fn grow(&mut self, room_s: f64, settings: impl Fn(u64, i32) -> Settings) {
        let Some(at) = self.overrun() else { return };
        let thirds = (1..=90).find(|t| settings(at, *t).exposure_s > room_s).unwrap_or(90);
        // Within some thirty slots, so that a short run shows the overrun too.
        self.growth = (thirds, (30 / u64::from(thirds.unsigned_abs())).clamp(1, 6));
    }

    /// Where the exposure begins to grow, if it does.
    pub fn overrun(&self) -> Option<u64> {
        self.placed.iter().find(|p| matches!(p.fault, Fault::Overrun { .. })).map(|p| p.at)
    }

    /// True where the camera does not fire in that slot.
    pub fn missing(&self, slot: u64) -> bool {
        self.any(|p| match p.fault {
            Fault::Missing { count, .. } => (p.at..p.at + count).contains(&slot),
            Fault::MissingEvery { every } => slot > 0 && slot.is_multiple_of(every),
            _ => false,
        })
    }

    /// Factor on the interval that follows that slot.
    pub fn rate(&self, slot: u64) -> f64 {
        let factor = |p: &Placed| match p.fault {
            Fault::Rate { factor } => factor,
            // The interval before the first slot of the new rate is still the old one.
            Fault::RateChange { factor, .. } if slot >= p.at => factor,
            _ => 1.0,
        };
        self.placed.iter().map(factor).product()
    }

    /// The wait before that slot, s.
    pub fn pause(&self, slot: u64, interval_s: f64) -> f64 {
        let wait = |p: &Placed| match p.fault {
            Fault::Pause { seconds, .. } if p.at == slot => self.pause_length(p, seconds, interval_s),
            _ => 0.0,
        };
        self.placed.iter().map(wait).sum()
    }

    /// Length of a pause, s: as asked, else two to four intervals and a part, to a tenth of a second.
    pub fn pause_length(&self, placed: &Placed, seconds: Option<f64>, interval_s: f64) -> f64 {
        seconds.unwrap_or_else(|| {
            let mut chance = Chance::stream(self.seed, placed.at ^ 0x5041_5553);
            let whole = (chance.bits() % 3 + 2) as f64;
            ((whole + chance.between(0.3, 0.7)) * interval_s * 10.0).round() / 10.0
        })
    }

    /// How much later than due the shutter opens in that slot, s; may be negative.
    pub fn lateness(&self, slot: u64, interval_s: f64) -> f64 {
        let late = |p: &Placed| match p.fault {
            Fault::Late { seconds, .. } if p.at == slot => seconds.unwrap_or(interval_s / 5.0),
            Fault::Jitter { amount_s, spread } => {
                let mut chance = Chance::stream(self.seed ^ mix(slot), 0x4a49_5454);
                match spread {
                    Spread::Gaussian => amount_s * chance.gaussian(),
                    Spread::Uniform => amount_s * chance.between(-1.0, 1.0),
                }
            }
            _ => 0.0,
        };
        self.placed.iter().map(late).sum()
    }

    /// Thirds of a stop by which the shutter is longer than the plan's walk in that slot.
    pub fn extra_thirds(&self, slot: u64) -> i32 {
        let thirds = |p: &Placed| match p.fault {
            Fault::Jump { ev, .. } if slot >= p.at => whole_thirds(ev),
            Fault::Odd { ev, .. } if slot == p.at => whole_thirds(ev),
            Fault::Hunting { count, .. } if (p.at..p.at + count).contains(&slot) => {
                i32::from((slot - p.at).is_multiple_of(2))
            }
            _ => 0,
        };
        self.placed.iter().map(thirds).sum::<i32>() + self.grown_thirds(slot)
    }

    /// Thirds by which the light has failed and the exposure has grown in that slot.
    pub fn grown_thirds(&self, slot: u64) -> i32 {
        match self.overrun() {
            Some(at) if slot >= at => {
                let (thirds, each) = self.growth;
                i32::try_from((slot - at) / each + 1).unwrap_or(i32::MAX).min(thirds)
            }
            _ => 0,
        }
    }

    /// Brightness in that slot that no setting explains, EV.
    pub fn flicker_ev(&self, slot: u64) -> f64 {
        let flicker = |p: &Placed| match p.fault {
            Fault::Flicker { rms_ev, shape: Flicker::Alternating } => {
                if slot.is_multiple_of(2) {
                    rms_ev
                } else {
                    -rms_ev
                }
            }
            Fault::Flicker { rms_ev, shape: Flicker::Random } => {
                rms_ev * Chance::stream(self.seed ^ mix(slot), 0x464c_494b).gaussian()
            }
            Fault::Stray { ev, .. } if slot == p.at => ev,
            _ => 0.0,
        };
        self.placed.iter().map(flicker).sum()
    }

    /// The slot whose settings stand in that one: an earlier one where the settings are stuck.
    pub fn set_in(&self, slot: u64) -> u64 {
        let stuck = self.placed.iter().filter(|p| matches!(p.fault, Fault::Stuck { .. })).map(|p| p.at);
        stuck.min().map_or(slot, |at| slot.min(at))
    }

    /// Steps that the carriage lags behind the plan by that slot.
    pub fn lost_steps(&self, slot: u64) -> f64 {
        let lost = |p: &Placed| match p.fault {
            Fault::Stalled { count, .. } if slot >= p.at => count.min(slot - p.at + 1) as f64,
            Fault::Slip { share, .. } if slot >= p.at => share,
            Fault::Reversal { .. } if slot >= p.at => 2.0 * (slot - p.at + 1) as f64,
            Fault::RailEnd { .. } if slot >= p.at => (slot - p.at + 1) as f64,
            _ => 0.0,
        };
        self.placed.iter().map(lost).sum()
    }

    /// By how much the picture lies askew in that slot, pixels, down and across alike.
    pub fn askew_px(&self, slot: u64) -> f64 {
        let knocked = |p: &Placed| match p.fault {
            Fault::Knock { pixels, .. } if slot >= p.at => pixels,
            _ => 0.0,
        };
        self.placed.iter().map(knocked).sum()
    }

    /// How far a lorry has come on its way past, 0 to 1, where one is seen in that slot.
    pub fn lorry(&self, slot: u64) -> Option<f64> {
        self.placed.iter().find_map(|p| match p.fault {
            Fault::Lorry { count, .. } if (p.at..p.at + count).contains(&slot) => {
                Some(((slot - p.at) as f64 + 0.5) / count as f64)
            }
            _ => None,
        })
    }

    /// Radius of the blur in that slot, pixels.
    pub fn blur_px(&self, slot: u64) -> f64 {
        let blur = |p: &Placed| match p.fault {
            Fault::Soft { pixels, .. } if p.at == slot => pixels,
            _ => 0.0,
        };
        self.placed.iter().map(blur).fold(0.0, f64::max)
    }

    /// How far the camera's clock and its written offset have been moved by that slot, s.
    pub fn clock_s(&self, slot: u64) -> (f64, f64) {
        self.placed.iter().fold((0.0, 0.0), |(clock, offset), p| match p.fault {
            Fault::Clock { step_s, offset_follows, .. } if slot >= p.at => {
                (clock + step_s, offset + if offset_follows { step_s } else { 0.0 })
            }
            _ => (clock, offset),
        })
    }

    /// Folders begun by that slot.
    pub fn rolls(&self, slot: u64) -> u64 {
        self.placed.iter().filter(|p| matches!(p.fault, Fault::Roll { .. }) && slot >= p.at).count() as u64
    }
}

/// True where the amounts are within the ranges that the text forms allow: a fault may also be built in code.
fn sound(fault: &Fault) -> bool {
    let time = |s: f64| s.is_finite() && s.abs() < 1e9;
    let count = (1..=1_000_000).contains(&fault.reach());
    count
        && match *fault {
            Fault::MissingEvery { every } => every >= 2,
            Fault::Rate { factor } | Fault::RateChange { factor, .. } => (0.1..=10.0).contains(&factor),
            Fault::Jitter { amount_s, .. } => time(amount_s) && amount_s > 0.0,
            Fault::Pause { seconds, .. } | Fault::Late { seconds, .. } => {
                seconds.is_none_or(|s| time(s) && s > 0.0)
            }
            Fault::Clock { step_s, .. } => time(step_s),
            Fault::Jump { ev, .. } | Fault::Odd { ev, .. } | Fault::Stray { ev, .. } => {
                ev.is_finite() && ev.abs() <= 10.0
            }
            Fault::Flicker { rms_ev, .. } => rms_ev > 0.0 && rms_ev <= 10.0,
            Fault::Tests { head, tail } => head <= 1000 && tail <= 1000,
            Fault::Stop { share } => share > 0.0 && share <= 1.0,
            Fault::Soft { pixels, .. } | Fault::Knock { pixels, .. } => pixels > 0.0 && pixels <= 50.0,
            Fault::Slip { share, .. } => share > 0.0 && share <= 20.0,
            _ => true,
        }
}

/// EV rounded to thirds of a stop, at least one.
pub fn whole_thirds(ev: f64) -> i32 {
    let thirds = (ev * 3.0).round() as i32;
    if thirds == 0 { if ev < 0.0 { -1 } else { 1 } } else { thirds }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn placed(texts: &[&str], slots: u64, seed: u64) -> Result<Faults, RehearseError> {
        let faults: Vec<_> = texts.iter().map(|t| Fault::parse(t).expect("a fault")).collect();
        Faults::place(&faults, slots, &Options { seed, ..Options::default() })
    }

    #[test]
    fn the_seed_chooses_places_apart() {
        for seed in 0..50 {
            let faults = placed(&["missing=3", "lost=2", "pause", "odd"], 200, seed).expect("placed");
            let mut at: Vec<_> = faults.all().iter().map(|p| p.at).collect();
            at.sort_unstable();
            assert!(at.windows(2).all(|w| w[1] - w[0] > 5), "{at:?}");
            assert!(at.iter().all(|a| (16..190).contains(a)));
        }
        let first = placed(&["odd"], 200, 1).expect("placed").all()[0].at;
        assert!((2..20).any(|seed| placed(&["odd"], 200, seed).expect("placed").all()[0].at != first));
    }

    #[test]
    fn a_place_past_the_end_is_refused() {
        let message = placed(&["missing=3@99"], 100, 1).expect_err("refused").to_string();
        assert!(message.contains("slots 99 to 101") && message.contains("slots 0 to 99"), "{message}");
        assert!(placed(&["missing=3@97"], 100, 1).is_ok());
        assert!(placed(&["odd@18446744073709551615"], 100, 1).is_err());
    }

    #[test]
    fn amounts_out_of_range_are_refused() {
        for fault in [
            Fault::Missing { count: 0, at: Some(3) },
            Fault::MissingEvery { every: 0 },
            Fault::Rate { factor: f64::NAN },
            Fault::Stop { share: 0.0 },
            Fault::Tests { head: u64::MAX, tail: 0 },
            Fault::Hunting { count: 0, at: None },
            Fault::Pause { seconds: Some(f64::INFINITY), at: None },
        ] {
            assert!(Faults::place(&[fault], 100, &Options::default()).is_err(), "{fault:?}");
        }
    }

    #[test]
    fn small_exposure_changes_are_a_third_at_least() {
        assert_eq!(whole_thirds(1.0), 3);
        assert_eq!(whole_thirds(-0.1), -1);
        assert_eq!(whole_thirds(0.05), 1);
    }
}
