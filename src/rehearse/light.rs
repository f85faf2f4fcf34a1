//! The light of the scene and the settings that follow it, slot by slot.

use super::chance::Chance;
use super::dials::{Dial, Settings};
use crate::plan::{ExposureMode, ExposurePlan, Planned};
use crate::units::stops::{Series, third_mark};

/// What a camera is set to where the plan says nothing.
const DEFAULT: (f64, f64, f64) = (1.0 / 60.0, 8.0, 100.0);
/// Largest share of the interval for which the shutter is open where the plan does not say how long: a
/// carriage may need the rest.
const SHARE: f64 = 0.05;

/// What the shutter is set to where the plan says nothing, s: 1/60 s, or the longest mark with which the
/// exposures of a slot, a stop apart where there are several, take a twentieth of the interval.
pub fn usual_shutter_s(interval_s: f64, members: u32) -> f64 {
    let marks = |range: std::ops::Range<i32>| range.rev().filter_map(|k| third_mark(Series::Time, k));
    let stops = (0..members.max(1)).map(|member| (f64::from(member) - f64::from(members / 2)).exp2());
    let most_s = DEFAULT.0.min(SHARE * interval_s / stops.sum::<f64>());
    marks(-42..0).find(|mark| *mark <= most_s).or(marks(-42..-41).next()).unwrap_or(DEFAULT.0)
}

/// One dial and the thirds that it turns in the course of the part.
#[derive(Clone, Copy, Debug)]
struct Walk {
    dial: Dial,
    thirds: i32,
}

impl Walk {
    fn new(series: Series, planned: Option<Planned>, default: f64) -> Self {
        let (first, last) = match planned.unwrap_or(Planned::Fixed(default)) {
            Planned::Fixed(v) => (v, v),
            Planned::Between(a, b) => (a, b),
        };
        let dial = Dial::new(series, first);
        Self { dial, thirds: dial.thirds_to(last) }
    }

    /// The dial's numbers after its share of `step` thirds; what is left over goes to the next dial.
    fn turned(self, step: &mut i32, extra: i32) -> (f64, f64) {
        let mine = (*step).min(self.thirds.abs());
        *step -= mine;
        self.dial.turned(mine * self.thirds.signum() + extra)
    }
}

/// The light and the settings of one part of the run.
#[derive(Clone, Debug)]
pub struct Light {
    from: u64,
    slots: u64,
    shutter: Walk,
    aperture: Walk,
    iso: Walk,
    ends_ev: (f64, f64),
    automatic: bool,
    /// Slow waves of the daylight: height in EV, cycles in the part, phase in turns.
    waves: [(f64, f64, f64); 3],
}

impl Light {
    /// The part that begins at slot `from` and lasts for `slots`. Shutter, then aperture, then sensitivity
    /// walk by thirds from the first to the last value; the light goes evenly from the exposure value of the
    /// first settings to that of the last, so that the brightness of the pictures stays within a sixth of a
    /// stop.
    pub fn new(exposure: &ExposurePlan, from: u64, slots: u64, seed: u64) -> Self {
        let shutter = Walk::new(Series::Time, exposure.shutter_s, DEFAULT.0);
        let aperture = Walk::new(Series::Aperture, exposure.aperture, DEFAULT.1);
        let iso = Walk::new(Series::Sensitivity, exposure.iso, DEFAULT.2);
        // How far daylight swells and falls: a clear sky for a locked run, passing cloud for a camera that
        // meters.
        let height = match exposure.mode {
            Some(ExposureMode::Automatic) => 0.7,
            Some(ExposureMode::Ramped) => 0.05,
            _ => 0.1,
        };
        let mut chance = Chance::stream(seed, 0x4c49_4748);
        let mut wave = |share: f64, cycles: f64| (height * share, cycles, chance.unit());
        let waves = [wave(0.7, 0.8), wave(0.2, 2.3), wave(0.1, 5.1)];
        let automatic = exposure.mode == Some(ExposureMode::Automatic);
        let mut light =
            Self { from, slots: slots.max(1), shutter, aperture, iso, ends_ev: (0.0, 0.0), automatic, waves };
        light.ends_ev = (light.walked(0, 0).ev100(), light.walked(light.steps(), 0).ev100());
        light
    }

    fn steps(&self) -> i32 {
        self.shutter.thirds.abs() + self.aperture.thirds.abs() + self.iso.thirds.abs()
    }

    /// How far through the part, 0 to 1.
    fn way(&self, slot: u64) -> f64 {
        if self.slots < 2 {
            return 0.0;
        }
        (slot.saturating_sub(self.from) as f64 / (self.slots - 1) as f64).min(1.0)
    }

    fn walked(&self, step: i32, extra: i32) -> Settings {
        let mut left = step;
        let (marked_s, exposure_s) = self.shutter.turned(&mut left, extra);
        let (f_number, f_exact) = self.aperture.turned(&mut left, 0);
        let (iso, iso_exact) = self.iso.turned(&mut left, 0);
        Settings { marked_s, exposure_s, f_number, f_exact, iso, iso_exact }
    }

    /// Exposure value at ISO 100 that the scene calls for in that slot, EV.
    pub fn scene_ev100(&self, slot: u64) -> f64 {
        let way = self.way(slot);
        let wave = |w: &(f64, f64, f64)| w.0 * (std::f64::consts::TAU * (w.1 * way + w.2)).sin();
        self.ends_ev.0 + (self.ends_ev.1 - self.ends_ev.0) * way + self.waves.iter().map(wave).sum::<f64>()
    }

    /// The settings in that slot, with the shutter turned `extra` thirds of a stop towards longer.
    pub fn settings(&self, slot: u64, extra: i32) -> Settings {
        let step = (self.way(slot) * f64::from(self.steps())).round() as i32;
        if !self.automatic {
            return self.walked(step, extra);
        }
        let metered = ((self.walked(step, 0).ev100() - self.scene_ev100(slot)) * 3.0).round() as i32;
        self.walked(step, extra + metered)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp() -> ExposurePlan {
        ExposurePlan {
            mode: Some(ExposureMode::Ramped),
            shutter_s: Some(Planned::Between(1.0 / 500.0, 4.0)),
            aperture: Some(Planned::Fixed(4.0)),
            iso: Some(Planned::Between(100.0, 1600.0)),
            ..ExposurePlan::default()
        }
    }

    /// Within a twentieth of 0.05 s lies 1/400 s, and 1/60 s in that of 0.34 s; of three a stop apart, 3.5
    /// times the middle one: 1/1600 s.
    #[test]
    fn what_is_not_said_leaves_the_carriage_its_time() {
        let marks = [5.0, 0.34, 0.3, 0.05, 1e-6].map(|s| usual_shutter_s(s, 1));
        assert_eq!(marks, [60.0, 60.0, 80.0, 400.0, 16_000.0].map(|n: f64| n.recip()));
        assert_eq!(usual_shutter_s(0.05, 3), 1.0 / 1600.0);
    }

    #[test]
    fn a_ramp_walks_by_single_thirds_and_the_light_follows() {
        let light = Light::new(&ramp(), 0, 200, 3);
        assert_eq!(light.steps(), 45);
        assert_eq!(light.settings(0, 0).marked_s, 1.0 / 500.0);
        let last = light.settings(199, 0);
        assert_eq!((last.marked_s, last.iso), (4.0, 1600.0));
        for slot in 1..200 {
            let step = light.settings(slot - 1, 0).ev100() - light.settings(slot, 0).ev100();
            assert!(step.abs() < 1e-9 || (step - 1.0 / 3.0).abs() < 1e-9, "{slot}: {step}");
            let off = light.scene_ev100(slot) - light.settings(slot, 0).ev100();
            assert!(off.abs() < 1.0 / 6.0 + 0.06, "{slot}: {off}");
        }
    }

    #[test]
    fn a_locked_run_stays_and_a_metering_camera_follows() {
        let fixed = ExposurePlan { mode: Some(ExposureMode::Locked), ..ExposurePlan::default() };
        let light = Light::new(&fixed, 0, 100, 3);
        assert!((0..100).all(|k| light.settings(k, 0) == light.settings(0, 0)));
        let metered = ExposurePlan { mode: Some(ExposureMode::Automatic), ..fixed };
        let light = Light::new(&metered, 0, 300, 3);
        assert!((0..300).any(|k| light.settings(k, 0) != light.settings(0, 0)));
        for k in 0..300 {
            assert!((light.scene_ev100(k) - light.settings(k, 0).ev100()).abs() < 0.17 + 1e-9);
        }
    }

    #[test]
    fn the_extra_thirds_are_thirds() {
        let light = Light::new(&ExposurePlan::default(), 0, 10, 3);
        let step = light.settings(4, 0).ev100() - light.settings(4, 3).ev100();
        assert!((step - 1.0).abs() < 1e-9);
    }
}
