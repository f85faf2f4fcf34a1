//! What the plan asks of the exposure along the run, and what a setting is worth in stops.

use super::axis::Axis;
use crate::audit::Audit;
use crate::plan::{ExposurePlan, Planned};
use crate::units::stops::{Series, exact_or_same};

/// Every setting that makes an exposure.
pub(crate) const SETTINGS: [Series; 3] = [Series::Time, Series::Aperture, Series::Sensitivity];

/// What is asked over a part of the axis, EV at ISO 100.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Asked {
    /// First and last column that it holds for.
    pub columns: (usize, usize),
    /// At its beginning, and at its end.
    pub course: (f64, f64),
    /// The lowest and the highest that the plan allows.
    pub limits: (f64, f64),
}

impl Asked {
    /// True where the plan leaves room: a ramp.
    pub(crate) fn moves(&self) -> bool {
        self.limits.1 - self.limits.0 > 1e-6
    }
}

/// What a setting adds to the exposure value at ISO 100, EV. The three add up to it.
pub(crate) fn ev_of(series: Series, value: f64) -> f64 {
    match series {
        Series::Time => -value.log2(),
        Series::Aperture => 2.0 * value.log2(),
        Series::Sensitivity => -(value / 100.0).log2(),
    }
}

fn planned(plan: &ExposurePlan, series: Series) -> Option<Planned> {
    match series {
        Series::Time => plan.shutter_s,
        Series::Aperture => plan.aperture,
        Series::Sensitivity => plan.iso,
    }
}

/// The parts of the plan on the axis, in order. What was planned and not shot belongs to them.
fn parts<'a>(audit: &'a Audit, axis: &Axis) -> Vec<((usize, usize), &'a ExposurePlan)> {
    let (mut begins, mut before) = (Vec::new(), None);
    for at in audit.evidence.in_run() {
        if before.is_none_or(|before| audit.schedule.begins_between(before, at)) {
            begins.push(at);
        }
        before = Some(at);
    }
    let Some(last) = before else { return Vec::new() };
    let open = || axis.not_shot.iter();
    let first = open().map(|span| span.0).chain(begins.first().map(|at| axis.covered(*at).0)).min();
    let last = open().map(|span| span.1).chain([axis.covered(last).1]).max().unwrap_or(0);
    let from = |n: usize| if n == 0 { first.unwrap_or(0) } else { axis.covered(begins[n]).0 };
    let to = |n: usize| if n + 1 < begins.len() { from(n + 1).saturating_sub(1) } else { last };
    let all = begins.iter().enumerate();
    all.map(|(n, at)| ((from(n), to(n).max(from(n))), &audit.schedule.at(*at).exposure)).collect()
}

/// What is asked of these settings together, part by part; parts that leave one of them open are left out.
pub(crate) fn asked(audit: &Audit, axis: &Axis, settings: &[Series]) -> Vec<Asked> {
    let step = audit.evidence.exposure.step;
    let of = |plan: &ExposurePlan, series| {
        let exact = |mark| ev_of(series, exact_or_same(series, mark, step));
        let (first, last) = match planned(plan, series)? {
            Planned::Fixed(mark) => (exact(mark), exact(mark)),
            Planned::Between(first, last) => (exact(first), exact(last)),
        };
        (first.is_finite() && last.is_finite()).then_some((first, last))
    };
    let all = parts(audit, axis).into_iter().filter_map(|(columns, plan)| {
        let each: Vec<(f64, f64)> = settings.iter().map(|s| of(plan, *s)).collect::<Option<_>>()?;
        let sum = |pick: fn(&(f64, f64)) -> f64| each.iter().map(pick).sum::<f64>();
        let course = (sum(|e| e.0), sum(|e| e.1));
        Some(Asked { columns, course, limits: (sum(|e| e.0.min(e.1)), sum(|e| e.0.max(e.1))) })
    });
    all.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;
    use crate::plan::{Part, PartStart};
    use crate::schedule::Schedule;
    use crate::units::stops::ev100;

    fn audit(exposure: ExposurePlan, frames: u64) -> (Audit, Axis) {
        let mut audit = sample::audit();
        audit.plan.exposure = exposure;
        audit.plan.frames = Some(frames);
        audit.schedule = Schedule::of(&audit.plan, &audit.evidence);
        let axis = Axis::new(&audit, 1600);
        (audit, axis)
    }

    fn near(a: (f64, f64), b: (f64, f64)) {
        assert!((a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9, "{a:?} against {b:?}");
    }

    /// 1/4 s to 4 s and ISO 100 to 800 at f/4: 4 + 3 stops, by the definition of the exposure value.
    #[test]
    fn a_ramp_runs_to_the_planned_end() {
        let exposure = ExposurePlan {
            shutter_s: Some(Planned::Between(0.25, 4.0)),
            aperture: Some(Planned::Fixed(4.0)),
            iso: Some(Planned::Between(100.0, 800.0)),
            ..ExposurePlan::default()
        };
        let (audit, axis) = audit(exposure, 28);
        let all = asked(&audit, &axis, &SETTINGS);
        assert_eq!((all.len(), all[0].columns, all[0].moves()), (1, (0, 27), true));
        near(all[0].course, (ev100(4.0, 0.25, 100.0), ev100(4.0, 4.0, 800.0)));
        near(all[0].course, (6.0, -1.0));
        near(all[0].limits, (-1.0, 6.0));
        let iso = asked(&audit, &axis, &[Series::Sensitivity]);
        near(iso[0].course, (0.0, -3.0));
    }

    #[test]
    fn parts_stand_one_behind_the_other_and_gaps_stay_open() {
        let shutter = |s: f64| ExposurePlan { shutter_s: Some(Planned::Fixed(s)), ..ExposurePlan::default() };
        let (mut audit, axis) = audit(shutter(1.0), 7);
        let part = Part { exposure: shutter(2.0), ..Part::from(PartStart::Frame(2)) };
        audit.plan.parts = vec![part];
        audit.schedule = Schedule::of(&audit.plan, &audit.evidence);
        let all = asked(&audit, &axis, &[Series::Time]);
        assert_eq!(all.iter().map(|a| a.columns).collect::<Vec<_>>(), [(0, 1), (2, 6)]);
        near(all[1].course, (-1.0, -1.0));
        assert!(!all[1].moves() && asked(&audit, &axis, &SETTINGS).is_empty());
    }
}
