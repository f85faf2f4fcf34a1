//! Light on the mains at exposures that do not fit it.

use crate::checks::common::{PRACTICE, beside, clocks_of, named, not_of_the_run, number, opinion};
use crate::checks::{Case, Check, Need, daylight};
use crate::evidence::Sequence;
use crate::evidence::picture::{Course, Nature};
use crate::finding::{About, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits};
use crate::plan::{Light, lamps, levels};
use crate::units::mains::{TUBE, WORST, safe_mark_s, worst_step_ev};
use crate::units::stops::time_text;
use crate::units::{Figure, FrameSpan, counted};

const TEXT: Text = Text {
    id: "mains-banding",
    finds: "bands from lamps",
    asks: "Could mains lamps make frames of different brightness at these exposures?",
    why: "A lamp on the mains swells a hundred or a hundred and twenty times a second. An exposure that does \
          not hold whole swells catches more of them in one frame than in the next. The clip flickers, or \
          bands wander through it.",
    how: "The mean of a swelling light over an exposure t varies by a = m·|sinc(2·f·t)| with its phase; two \
          frames then differ by log2((1+a)/(1−a)) EV at worst. That is worked out for each frame's exact \
          exposure (a marked 1/60 s is 1/64 s) with m = 1. The frequency is the plan's mains_hz, else 50 and \
          60 Hz. Frames as bright as daylight are left out unless the plan names the light. It is a caution \
          where the plan says light = \"mains\", or where the pictures flicker that way; else a note.",
    blind: "How strongly the lamps really swell (modulation m), daylight beside them, and bands within a \
            frame from a rolling shutter.",
    remedy: "Set the shutter to whole half cycles of the mains: at 50 Hz 1/100, 1/50 or 1/25 s, at 60 Hz \
             1/120 or 1/60 s where the camera holds them exactly. Best is 1/5 s and longer. Level what is \
             there in post.",
    source: "Integration of L(t) = L0·(1 + m·cos 2πFt), F twice the mains frequency; light levels by EV: \
             ANSI PH2.7-1986 tables. Level: common practice, no source.",
    traits: Traits { about: About::Light, quality: Some(Quality::Brightness), ..Traits::PLAIN },
};

const STEP: LimitKey = LimitKey::new("step");

const LIMITS: &[Limit] = &[Limit {
    key: STEP,
    unit: "EV between two frames at worst, under lamps that go out at each half cycle",
    direction: Direction::Above,
    caution: Some(levels::MAINS_STEP_EV),
    fault: None,
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::ExposureTimes], judge };

/// What comes back after more frames than this is a slow change: passing light does so too.
const QUICK_FRAMES: f64 = 8.0;
/// Where the areas of the picture agree less than this, things move in it; the light is not what flickers.
const SHARED: f64 = 0.35;

/// Frames, and the worst step of any of them.
#[derive(Clone, Copy)]
struct Group {
    span: FrameSpan,
    frames: u64,
    time_s: f64,
    marked_s: f64,
    hz: f64,
    worst: f64,
}

fn judge(case: &Case<'_>) -> Opinion {
    let (plan, evidence) = (case.plan, case.evidence);
    let aside = |at: usize| {
        not_of_the_run(evidence, at).or_else(|| time_of(evidence, at).is_none().then_some("no exposure time"))
    };
    if plan.light == Some(Light::Daylight) {
        return opinion(Vec::new(), evidence, |at| aside(at).or(Some("the plan says daylight")));
    }
    let named_light = plan.light == Some(Light::Mains);
    let by_day = |at: usize| !named_light && daylight::by_day(evidence, at) == Some(true);
    let groups: Vec<Group> =
        lamps::frequencies(case.plan).iter().filter_map(|hz| group(case, *hz, &by_day)).collect();
    let flickers =
        evidence.pictures.courses.iter().find(|c| !evidence.pictures.other_scenes() && speaks_for_mains(c));
    let findings = groups.iter().map(|group| told(case, group, named_light, flickers)).collect();
    opinion(findings, evidence, |at| aside(at).or_else(|| by_day(at).then_some("as bright as daylight")))
}

fn time_of(evidence: &Sequence, at: usize) -> Option<f64> {
    evidence.frame(at).exposure_s()
}

/// All frames of which two could differ by more than the level.
fn group(case: &Case<'_>, hz: f64, by_day: &dyn Fn(usize) -> bool) -> Option<Group> {
    let evidence = case.evidence;
    let mut group: Option<Group> = None;
    for at in evidence.in_run().filter(|at| !by_day(*at)) {
        let Some(time_s) = time_of(evidence, at) else { continue };
        let worst = worst_step_ev(time_s, hz, WORST);
        if case.limits.weigh(STEP, worst).is_none() {
            continue;
        }
        let marked_s = evidence.frame(at).marked_s().unwrap_or(time_s);
        let new = Group { span: FrameSpan::one(at), frames: 1, time_s, marked_s, hz, worst };
        group = Some(match group {
            None => new,
            Some(old) => {
                let base = if worst > old.worst { new } else { old };
                Group { span: FrameSpan { first: old.span.first, last: at }, frames: old.frames + 1, ..base }
            }
        });
    }
    group
}

/// Quick flicker that the settings do not explain and the whole picture shares, as lamps make it.
fn speaks_for_mains(course: &Course) -> bool {
    let quick = match course.unexplained.nature {
        Nature::Random | Nature::Alternating => true,
        Nature::Periodic(frames) => frames <= QUICK_FRAMES,
        Nature::Still | Nature::Single | Nature::Slow => false,
    };
    quick && course.alike >= SHARED && course.unexplained.visibility.index >= 1.0
}

fn told(case: &Case<'_>, group: &Group, named_light: bool, flickers: Option<&Course>) -> Finding {
    let evidence = case.evidence;
    let weighed = case.limits.weigh(STEP, group.worst);
    let supported = named_light || flickers.is_some();
    let (severity, level) = match weighed {
        Some((severity, level)) if supported => (severity, Some(level)),
        other => (Severity::Note, other.map(|w| w.1)),
    };
    let exact = if (group.time_s / group.marked_s).log2().abs() > 0.02 {
        format!(" (exactly {})", exactly(group.time_s))
    } else {
        String::new()
    };
    let marked = worst_step_ev(group.marked_s, group.hz, WORST);
    let why = match (named_light, flickers) {
        (true, _) => "the plan names mains light".to_owned(),
        (false, Some(course)) => {
            format!(
                "the pictures flicker by {:.2} EV rms beside what the settings explain",
                course.unexplained.rms_ev
            )
        }
        (false, None) => "nothing here says that such lamps were lit".to_owned(),
    };
    let safe = safe_mark_s(group.time_s, &[group.hz], levels::MAINS_STEP_EV);
    let message = format!(
        "Under lamps on {} Hz mains {}, {}{}, could differ by up to {:.2} EV from one to the next at \
         {}{exact}, {:.2} EV under ordinary tubes; {why}. The nearest mark of thirds that such light leaves \
         alone is {}.",
        group.hz,
        counted(group.frames, "frame"),
        named(evidence, group.span),
        clocks_of(evidence, group.span),
        group.worst,
        time_text(group.marked_s),
        worst_step_ev(group.time_s, group.hz, TUBE),
        time_text(safe),
    );
    Finding::new(TEXT.id, severity, message)
        .count(group.frames)
        .on(group.span)
        .at(evidence.frame(group.span.first).moment())
        .figure("worst_step_ev", beside(group.worst, level))
        .figure("worst_step_by_mark_ev", number(marked))
        .figure("worst_step_under_tubes_ev", number(worst_step_ev(group.time_s, group.hz, TUBE)))
        .figure("mains_hz", number(group.hz))
        .figure("exposure_s", number(group.time_s))
        .figure("shot", Figure::Text(time_text(group.marked_s)))
}

/// A time as a fraction where it is one.
fn exactly(seconds: f64) -> String {
    let d = 1.0 / seconds;
    if seconds < 0.3 && (d - d.round()).abs() > 0.02 {
        return format!("1/{d:.1} s");
    }
    time_text(seconds)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, judged, severities};
    use crate::evidence::Cell;
    use crate::evidence::picture::Areas;
    use crate::finding::Severity::{Caution, Note};
    use crate::plan::Plan;

    /// 60 frames indoors at that shutter time: f/4, ISO 800.
    fn indoors(time_s: f64) -> Sequence {
        Sketch::steady(60, 10.0)
            .change(0..60, |row| {
                row.exposure_s = Cell::Known(time_s);
                row.f_number = Cell::Known(4.0);
                row.iso = Cell::Known(800);
            })
            .evidence()
    }

    fn lit(light: Option<Light>, mains_hz: Option<f64>) -> Plan {
        Plan { light, mains_hz, ..every(10.0) }
    }

    #[test]
    fn a_marked_sixtieth_is_no_null_at_60_hz() {
        let plan = lit(Some(Light::Mains), Some(60.0));
        let findings = found(&CHECK, &plan, &indoors(1.0 / 60.0));
        assert_eq!(findings.len(), 1);
        assert_eq!(findings[0].severity, Caution);
        assert!(findings[0].message.contains("0.19 EV"), "{}", findings[0].message);
        assert!(findings[0].message.contains("1/64"), "{}", findings[0].message);
    }

    #[test]
    fn without_the_plan_it_is_a_note_for_both_mains() {
        assert_eq!(severities(&CHECK, &every(10.0), &indoors(1.0 / 125.0)), [Note, Note]);
        assert_eq!(
            severities(&CHECK, &lit(Some(Light::Mains), None), &indoors(1.0 / 125.0)),
            [Caution, Caution]
        );
    }

    #[test]
    fn daylight_and_long_exposures_are_quiet() {
        let cannot = |plan: &Plan, evidence: &Sequence, why: &str| {
            assert!(cannot(&CHECK, plan, evidence).contains(why), "{why}");
        };
        cannot(&lit(Some(Light::Daylight), None), &indoors(1.0 / 125.0), "the plan says daylight");
        // f/8, 1/60 s, ISO 200 is the light of an overcast day.
        cannot(&every(10.0), &Sketch::steady(60, 10.0).evidence(), "as bright as daylight");
        assert!(found(&CHECK, &lit(Some(Light::Mains), None), &indoors(0.2)).is_empty());
        assert_eq!(judged(&CHECK, &lit(Some(Light::Daylight), None), &indoors(0.2)).looked_at, 0);
    }

    /// Pictures that flicker from frame to frame speak for lamps; a light that comes and goes slowly, or
    /// things that move, do not.
    #[test]
    fn only_a_quick_flicker_of_the_whole_picture_speaks_for_lamps() {
        let shown = |of: &dyn Fn(usize) -> f64, in_part: bool| {
            let mut sketch = Sketch::steady(120, 10.0).change(0..120, |row| {
                (row.exposure_s, row.f_number, row.iso) =
                    (Cell::Known(1.0 / 125.0), Cell::Known(4.0), Cell::Known(800));
            });
            sketch = sketch.shows(of);
            for (k, look) in sketch.looks.iter_mut().flatten().enumerate().filter(|_| in_part) {
                // Each area goes its own way.
                let way = |i: usize| (k * k * 31 + i * k * 57 + i * i * 11) % 23;
                let light = |i: usize| (0.18 * (0.4 * (way(i) as f64 / 22.0 - 0.5)).exp2()) as f32;
                look.areas = Areas::pack(&std::array::from_fn(|i| [light(i); 3]));
            }
            sketch.evidence()
        };
        let quick = |k: usize| 0.1 * ((k * 7919 % 23) as f64 / 22.0 - 0.5);
        let slow = |k: usize| 0.1 * (k as f64 / 9.0).sin();
        assert_eq!(severities(&CHECK, &every(10.0), &shown(&quick, false)), [Caution, Caution]);
        assert_eq!(severities(&CHECK, &every(10.0), &shown(&quick, true)), [Note, Note]);
        let evidence = shown(&slow, false);
        let course = &evidence.pictures.courses[0].unexplained;
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Note, Note], "{course:?}");
    }

    /// A camera that writes no aperture: 1/2000 s at ISO 100 is EV 12 at f/1.4 and more at any smaller hole;
    /// 1/125 s is EV 8.
    #[test]
    fn a_camera_without_an_aperture_is_told_daylight_by_its_fastest_lens() {
        let without = |time_s: f64| {
            Sketch::steady(60, 10.0)
                .change(0..60, |row| {
                    (row.exposure_s, row.f_number, row.iso) =
                        (Cell::Known(time_s), Cell::Absent, Cell::Known(100));
                })
                .evidence()
        };
        assert!(cannot(&CHECK, &every(10.0), &without(1.0 / 2000.0)).contains("as bright as daylight"));
        assert_eq!(severities(&CHECK, &every(10.0), &without(1.0 / 125.0)), [Note, Note]);
    }

    /// Worst steps of exact exposures at 50 Hz: 1/50 s 0.0459 EV, 1/125 s 0.7631 EV.
    #[test]
    fn just_below_and_above_the_level() {
        let plan = lit(Some(Light::Mains), Some(50.0));
        assert!(found(&CHECK, &plan, &indoors(1.0 / 50.0)).is_empty());
        assert_eq!(severities(&CHECK, &plan, &indoors(1.0 / 125.0)), [Caution]);
    }

    #[test]
    fn cannot_judge_without_exposure_times() {
        let blind = Sketch::steady(9, 10.0).change(0..9, |row| row.exposure_s = Cell::Blank).evidence();
        assert!(cannot(&CHECK, &every(10.0), &blind).contains("exposure time"));
    }
}
