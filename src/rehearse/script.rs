//! Every shot of a rehearsal, worked out without a picture or a disk: quick enough for a million frames.

use super::chance::Chance;
use super::faults::Fault;
use super::placed::Faults;
use super::shot::{Role, Shot, State, file};
use super::timeline::Meant;
use super::truth::{self, Truth};
use super::{Options, RehearseError};
use crate::plan::Plan;
use crate::units::CivilTime;

/// A whole rehearsal: every shot in the order in which it was taken, and what is wrong.
#[derive(Clone, Debug)]
pub struct Script {
    /// The shots, lost ones included.
    pub shots: Vec<Shot>,
    /// What is wrong, and where.
    pub truth: Truth,
    /// True where the files lie in numbered DCIM folders.
    pub dcim: bool,
    pub(crate) prefix: String,
    pub(crate) start: CivilTime,
    /// How far into its second the camera's clock stood at the start, s.
    pub(crate) phase_s: f64,
}

impl Script {
    /// The file of a shot, relative to the folder that holds `truth.json`, with `/` between its parts.
    pub fn file(&self, shot: &Shot) -> String {
        file(self.dcim, &self.prefix, shot)
    }

    /// The copy of a shot's file.
    pub fn copy(&self, shot: &Shot) -> String {
        let file = self.file(shot);
        format!("{} (1).JPG", file.strip_suffix(".JPG").unwrap_or(&file))
    }

    /// The moment of a shot on a clock that nobody touched.
    pub fn true_time(&self, shot: &Shot) -> CivilTime {
        self.start.plus_seconds(self.phase_s + shot.open_s)
    }
}

/// Works out a rehearsal of `plan` with `faults`.
///
/// # Errors
/// Where the plan has no interval, an option is out of range, or a fault's place lies past the run's end.
pub fn script(plan: &Plan, faults: &[Fault], options: &Options) -> Result<Script, RehearseError> {
    options.checked()?;
    let meant = Meant::new(plan, faults, options)?;
    let mut placed = Faults::place(faults, meant.slots, options)?;
    let mut timeline = meant.shoot(&mut placed, options);

    let phase_s = Chance::stream(options.seed, 0x5048_4153).unit();
    // In place: a million shots are held once.
    let mut shots = std::mem::take(&mut timeline.shots);
    shots.iter_mut().for_each(|shot| stamp(shot, &meant, &placed, phase_s, options));
    let dcim = shots.len() > 9999 || placed.asks(|f| matches!(f, Fault::Roll { .. }));
    number(&mut shots, &placed, dcim, options)?;
    spoil(&mut shots, &placed);

    let setting = truth::Setting { meant: &meant, faults: &placed, options, dcim, timeline: &timeline };
    let truth = truth::tell(&shots, &setting);
    Ok(Script { shots, truth, dcim, prefix: options.prefix.clone(), start: meant.start, phase_s })
}

/// Writes the shot's stamp and offset as the camera's clock has them.
fn stamp(shot: &mut Shot, meant: &Meant, faults: &Faults, phase_s: f64, options: &Options) {
    let slot = shot.slot.unwrap_or(if shot.open_s < 0.0 { 0 } else { meant.slots });
    let (clock_s, offset_s) = faults.clock_s(slot);
    let step = options.resolution();
    let clock = meant.start.plus_seconds(phase_s + shot.open_s).plus_seconds(clock_s);
    let moved = (offset_s / 60.0).round() as i16;
    shot.stamp = clock.floored(step);
    shot.offset_min = meant.offset_min.map(|m| m.saturating_add(moved));
}

/// The first shot of the run at or after a slot.
fn position(shots: &[Shot], at: u64) -> Option<usize> {
    // Run shots stand in slot order between the test shots.
    shots.iter().position(|s| s.role == Role::Run && s.slot.is_some_and(|slot| slot >= at))
}

/// Gives the files their numbers and folders: 9999 is followed by 0001, and in a DCIM by the next folder.
fn number(shots: &mut [Shot], faults: &Faults, dcim: bool, options: &Options) -> Result<(), RehearseError> {
    let mut first = u64::from(options.first_number) - 1;
    for placed in faults.all() {
        if let (Fault::Wrap { .. }, Some(at)) = (placed.fault, position(shots, placed.at)) {
            first = (9999 - at as u64 % 9999) % 9999;
        }
    }
    let mut slot = 0;
    for (i, shot) in shots.iter_mut().enumerate() {
        let count = first + i as u64;
        slot = shot.slot.unwrap_or(slot);
        shot.number = (count % 9999 + 1) as u16;
        let folder = 100 + if dcim { count / 9999 } else { 0 } + faults.rolls(slot);
        shot.folder = u16::try_from(folder).ok().filter(|f| *f <= 999).ok_or_else(|| {
            RehearseError::Plan("the card's folders would run past 999; ask for fewer frames".into())
        })?;
    }
    Ok(())
}

/// Loses, damages and copies files.
fn spoil(shots: &mut [Shot], faults: &Faults) {
    for placed in faults.all() {
        let Some(from) = position(shots, placed.at) else { continue };
        let Some(rest) = shots.get_mut(from..) else { continue };
        let whole = rest.iter_mut().filter(|s| s.role == Role::Run && s.state == State::Written);
        match placed.fault {
            Fault::Lost { count, .. } => whole.take(count as usize).for_each(|s| s.state = State::Lost),
            Fault::Damaged { damage, count, .. } => {
                whole.take(count as usize).for_each(|s| s.state = State::Damaged(damage));
            }
            Fault::Duplicate { .. } => whole.take(1).for_each(|s| s.copied = true),
            _ => {}
        }
    }
}

#[cfg(test)]
#[path = "script_tests.rs"]
mod tests;
