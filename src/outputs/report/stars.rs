//! The stars of a night: how long their trails are, and what is dark between the pieces.

use crate::audit::Audit;
use crate::evidence::FrameView;
use crate::plan::arithmetic::exact_s;
use crate::plan::stars::{Sky, dark};
use crate::plan::{Light, Plan};
use crate::units::{duration, plain};

/// What is dark between two frames, in words: `4.6 s dark between frames, 15.3 % of the trail`.
pub(crate) fn dark_words(exposure_s: f64, period_s: f64) -> String {
    match dark(exposure_s, period_s) {
        Some((dark_s, share)) => {
            format!("{} dark between frames, {} % of the trail", duration(dark_s), plain(100.0 * share, 1))
        }
        None => "nothing dark between frames".to_owned(),
    }
}

/// As asked and as shot, where the plan names the night as its light: by the exact exposures, and by the
/// interval that was kept. `None` by another light.
pub(super) fn asked_and_shot(audit: &Audit) -> Option<(String, String)> {
    let plan = &audit.plan;
    if plan.light != Some(Light::Night) {
        return None;
    }
    let asked = plan.exposure.shutter_s.map(|p| exact_s(p.high())).zip(plan.interval_s);
    let asked = asked.map(|(t, every)| dark_words(t, every + if plan.from_close() { t } else { 0.0 }));
    let exposures = || audit.evidence.run().filter_map(FrameView::exposure_s);
    let longest_s = exposures().fold(0.0, f64::max);
    let cadence = audit.evidence.timing.cadence.as_ref().filter(|_| longest_s > 0.0);
    let shot = cadence.map(|c| {
        // The planned interval where the stamps allow it: a finer figure would tell more than is known.
        let every_s = audit.schedule.told_s().unwrap_or(c.interval_s);
        let period_s = every_s + f64::from(c.law.times_exposed()) * longest_s;
        let mut words = dark_words(longest_s, period_s);
        if let Some(sky) = Sky::of(&with_lens(audit)) {
            let px = plain(sky.axis_px_s() * longest_s, 1);
            words.push_str(&format!("; stars move by {px} px in {}", duration(longest_s)));
        }
        if audit.evidence.timing.missing().is_some_and(|n| n > 0) {
            words.push_str("; missing frames leave longer gaps");
        }
        words
    });
    let told = |text: Option<String>| text.unwrap_or_else(|| "-".into());
    Some((told(asked), told(shot)))
}

/// The plan with the lens and the pixels of the frames, where it names none.
fn with_lens(audit: &Audit) -> Plan {
    let mut plan = audit.plan.clone();
    let run = || audit.evidence.run();
    let focal = || run().find_map(FrameView::focal_mm).map(|mm| mm / 1000.0);
    let pitch = || run().find_map(FrameView::pitch_um).map(|um| um / 1e6);
    plan.rig.focal_length_m = plan.rig.focal_length_m.or_else(focal);
    plan.rig.pixel_pitch_m = plan.rig.pixel_pitch_m.or_else(pitch);
    plan
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    /// By hand: a marked 25 s lasts 25.398 s; every 30 s that leaves 4.602 s, 15.3 % of the trail.
    #[test]
    fn what_is_dark_is_told_in_seconds_and_per_cent() {
        assert_eq!(dark_words(exact_s(25.0), 30.0), "4.6 s dark between frames, 15.3 % of the trail");
        assert_eq!(dark_words(32.0, 30.0), "nothing dark between frames");
    }

    #[test]
    fn a_night_has_a_row_and_a_day_has_none() {
        let mut audit = sample::audit();
        assert_eq!(asked_and_shot(&audit), None);
        audit.plan.light = Some(Light::Night);
        let (_, shot) = asked_and_shot(&audit).expect("a row");
        assert!(shot.contains("dark between frames"), "{shot}");
    }
}
